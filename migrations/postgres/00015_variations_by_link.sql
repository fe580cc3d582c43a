-- Variations by link, and evidence of their acceptance: what sqlite's of the
-- same number says, for PostgreSQL.

-- +goose Up

CREATE TABLE variation_evidence (
	workshop_id TEXT COLLATE "C" NOT NULL,
	variation   TEXT COLLATE "C" NOT NULL,
	place       BIGINT NOT NULL CHECK (place >= 1),
	says        TEXT COLLATE "C" NOT NULL,
	media_type  TEXT COLLATE "C" NOT NULL,
	sha256      TEXT COLLATE "C" NOT NULL CHECK (length(sha256) IN (0, 64)),
	content     BYTEA,
	PRIMARY KEY (workshop_id, variation, place),
	FOREIGN KEY (workshop_id, variation) REFERENCES variations (workshop_id, id)
);

-- The rows of all workshops are to be carried over.
ALTER TABLE variations NO FORCE ROW LEVEL SECURITY;

INSERT INTO variation_evidence
SELECT workshop_id, id, 1, CASE evidence_says WHEN '' THEN 'Erased.' ELSE evidence_says END, evidence_media_type, evidence_sha256, evidence
FROM variations WHERE evidence_says <> '' OR evidence_sha256 <> '';

ALTER TABLE variations FORCE ROW LEVEL SECURITY;
ALTER TABLE variations DROP COLUMN evidence_says;
ALTER TABLE variations DROP COLUMN evidence;

CREATE TRIGGER variation_evidence_is_not_changed BEFORE UPDATE ON variation_evidence
FOR EACH ROW
WHEN (NEW.workshop_id <> OLD.workshop_id OR NEW.variation <> OLD.variation OR NEW.place <> OLD.place
	OR NEW.media_type <> OLD.media_type OR NEW.sha256 <> OLD.sha256
	OR (NEW.content IS NOT NULL AND NEW.content IS DISTINCT FROM OLD.content))
EXECUTE FUNCTION refuse('evidence may be erased, not changed');

CREATE TRIGGER variation_evidence_is_not_removed BEFORE DELETE ON variation_evidence
FOR EACH ROW EXECUTE FUNCTION refuse('evidence may be erased, not changed');

CREATE TRIGGER variation_evidence_is_not_emptied BEFORE TRUNCATE ON variation_evidence
EXECUTE FUNCTION refuse('evidence may be erased, not changed');

CREATE TABLE variation_links (
	workshop_id   TEXT COLLATE "C" NOT NULL,
	id            TEXT COLLATE "C" NOT NULL,
	job           TEXT COLLATE "C" NOT NULL,
	number        BIGINT NOT NULL,
	secret_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(secret_sha256) = 64),
	made_us       BIGINT NOT NULL,
	made_by       TEXT COLLATE "C" NOT NULL,
	withdrawn_us  BIGINT,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, secret_sha256),
	FOREIGN KEY (workshop_id, job, number) REFERENCES variations (workshop_id, job, number),
	FOREIGN KEY (workshop_id, made_by) REFERENCES people (workshop_id, id)
);

CREATE INDEX variation_links_of_a_variation ON variation_links (workshop_id, job, number);

CREATE POLICY of_the_workshop ON variation_evidence USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON variation_links USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE variation_evidence ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE variation_links ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON variation_evidence, variation_links TO wainscot_app;
