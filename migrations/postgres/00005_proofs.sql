-- What a release was proved to be before it was published, and which warnings
-- were taken upon oneself for it: what sqlite/00005 says, for PostgreSQL.

-- +goose Up

CREATE TABLE release_proofs (
	workshop_id     TEXT COLLATE "C" NOT NULL,
	release         BIGINT NOT NULL,
	proved_us       BIGINT NOT NULL,
	proved_by       TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, release),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, proved_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE acknowledgements (
	workshop_id     TEXT COLLATE "C" NOT NULL,
	release         BIGINT NOT NULL,
	place           BIGINT NOT NULL CHECK (place >= 1),
	warning         TEXT COLLATE "C" NOT NULL,
	says            TEXT COLLATE "C" NOT NULL,
	reason          TEXT COLLATE "C" NOT NULL,
	acknowledged_us BIGINT NOT NULL,
	acknowledged_by TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, release, place),
	UNIQUE (workshop_id, release, warning),
	FOREIGN KEY (workshop_id, release) REFERENCES release_proofs (workshop_id, release),
	FOREIGN KEY (workshop_id, acknowledged_by) REFERENCES people (workshop_id, id)
);

CREATE TRIGGER proof_is_not_changed BEFORE UPDATE ON release_proofs
FOR EACH ROW EXECUTE FUNCTION refuse('a proof never changes');

CREATE TRIGGER proof_is_not_removed BEFORE DELETE ON release_proofs
FOR EACH ROW EXECUTE FUNCTION refuse('a proof never changes');

CREATE TRIGGER acknowledgement_is_not_changed BEFORE UPDATE ON acknowledgements
FOR EACH ROW EXECUTE FUNCTION refuse('an acknowledgement never changes');

CREATE TRIGGER acknowledgement_is_not_removed BEFORE DELETE ON acknowledgements
FOR EACH ROW EXECUTE FUNCTION refuse('an acknowledgement never changes');

CREATE TRIGGER proofs_are_not_emptied BEFORE TRUNCATE ON release_proofs
EXECUTE FUNCTION refuse('a proof never changes');

CREATE TRIGGER acknowledgements_are_not_emptied BEFORE TRUNCATE ON acknowledgements
EXECUTE FUNCTION refuse('an acknowledgement never changes');

CREATE POLICY of_the_workshop ON release_proofs USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON acknowledgements USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE release_proofs ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE acknowledgements ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT ON release_proofs, acknowledgements TO wainscot_app;
