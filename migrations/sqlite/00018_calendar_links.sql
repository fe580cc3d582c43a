-- A secret address under which a calendar program reads the slots. Of its
-- secret only the hash is kept.

-- +goose Up

CREATE TABLE calendar_links (
	workshop_id   TEXT    NOT NULL,
	id            TEXT    NOT NULL,
	secret_sha256 TEXT    NOT NULL CHECK (length(secret_sha256) = 64),
	made_us       INTEGER NOT NULL,
	made_by       TEXT    NOT NULL,
	withdrawn_us  INTEGER,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, secret_sha256),
	FOREIGN KEY (workshop_id, made_by) REFERENCES people (workshop_id, id)
) STRICT;

CREATE INDEX calendar_links_of_a_person ON calendar_links (workshop_id, made_by);
