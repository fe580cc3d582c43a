-- A variation is put before the customer by a link, as a quote is, and their yes
-- takes several pieces of evidence. What one row held of evidence before moves
-- into a table of its own; evidence_sha256 stays where the journal covers it: of
-- one piece it is that piece's hash, of several one over all of theirs.

-- +goose Up

-- content is NULL where there never was any, or where it has been erased; its
-- SHA-256 stays.
CREATE TABLE variation_evidence (
	workshop_id TEXT    NOT NULL,
	variation   TEXT    NOT NULL,
	place       INTEGER NOT NULL CHECK (place >= 1),
	says        TEXT    NOT NULL,
	media_type  TEXT    NOT NULL,
	sha256      TEXT    NOT NULL CHECK (length(sha256) IN (0, 64)),
	content     BLOB,
	PRIMARY KEY (workshop_id, variation, place),
	FOREIGN KEY (workshop_id, variation) REFERENCES variations (workshop_id, id)
) STRICT;

INSERT INTO variation_evidence
SELECT workshop_id, id, 1, CASE evidence_says WHEN '' THEN 'Erased.' ELSE evidence_says END, evidence_media_type, evidence_sha256, evidence
FROM variations WHERE evidence_says <> '' OR evidence_sha256 <> '';

ALTER TABLE variations DROP COLUMN evidence_says;
ALTER TABLE variations DROP COLUMN evidence;

-- +goose StatementBegin
CREATE TRIGGER variation_evidence_is_not_changed BEFORE UPDATE ON variation_evidence
WHEN NEW.workshop_id <> OLD.workshop_id OR NEW.variation <> OLD.variation OR NEW.place <> OLD.place
	OR NEW.media_type <> OLD.media_type OR NEW.sha256 <> OLD.sha256
	OR (NEW.content IS NOT NULL AND NEW.content IS NOT OLD.content)
BEGIN
	SELECT RAISE(ABORT, 'evidence may be erased, not changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER variation_evidence_is_not_removed BEFORE DELETE ON variation_evidence
BEGIN
	SELECT RAISE(ABORT, 'evidence may be erased, not changed');
END;
-- +goose StatementEnd

-- Of a link's secret only the hash is kept.
CREATE TABLE variation_links (
	workshop_id   TEXT    NOT NULL,
	id            TEXT    NOT NULL,
	job           TEXT    NOT NULL,
	number        INTEGER NOT NULL,
	secret_sha256 TEXT    NOT NULL CHECK (length(secret_sha256) = 64),
	made_us       INTEGER NOT NULL,
	made_by       TEXT    NOT NULL,
	withdrawn_us  INTEGER,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, secret_sha256),
	FOREIGN KEY (workshop_id, job, number) REFERENCES variations (workshop_id, job, number),
	FOREIGN KEY (workshop_id, made_by) REFERENCES people (workshop_id, id)
) STRICT;

CREATE INDEX variation_links_of_a_variation ON variation_links (workshop_id, job, number);
