-- What a release was proved to be before it was published, and which warnings
-- somebody took upon themselves for it. Neither ever changes.

-- +goose Up

-- document is the proof as JSON, zstd.
CREATE TABLE release_proofs (
	workshop_id     TEXT    NOT NULL,
	release         INTEGER NOT NULL,
	proved_us       INTEGER NOT NULL,
	proved_by       TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, release),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, proved_by) REFERENCES people (workshop_id, id)
) STRICT;

-- warning is what the finding is told from others by, says its sentence. One
-- that is carried over from the release before keeps who gave the reason, and
-- when.
CREATE TABLE acknowledgements (
	workshop_id     TEXT    NOT NULL,
	release         INTEGER NOT NULL,
	place           INTEGER NOT NULL CHECK (place >= 1),
	warning         TEXT    NOT NULL,
	says            TEXT    NOT NULL,
	reason          TEXT    NOT NULL,
	acknowledged_us INTEGER NOT NULL,
	acknowledged_by TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, release, place),
	UNIQUE (workshop_id, release, warning),
	FOREIGN KEY (workshop_id, release) REFERENCES release_proofs (workshop_id, release),
	FOREIGN KEY (workshop_id, acknowledged_by) REFERENCES people (workshop_id, id)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER proof_is_not_changed BEFORE UPDATE ON release_proofs
BEGIN
	SELECT RAISE(ABORT, 'a proof never changes');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER proof_is_not_removed BEFORE DELETE ON release_proofs
BEGIN
	SELECT RAISE(ABORT, 'a proof never changes');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER acknowledgement_is_not_changed BEFORE UPDATE ON acknowledgements
BEGIN
	SELECT RAISE(ABORT, 'an acknowledgement never changes');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER acknowledgement_is_not_removed BEFORE DELETE ON acknowledgements
BEGIN
	SELECT RAISE(ABORT, 'an acknowledgement never changes');
END;
-- +goose StatementEnd
