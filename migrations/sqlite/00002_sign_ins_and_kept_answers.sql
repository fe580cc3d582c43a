-- Who is signed in and until when, people's versions, and the answers kept
-- for requests that are sent again.

-- +goose Up

-- Up by one with every change of name, role or leaving.
ALTER TABLE people ADD COLUMN version INTEGER NOT NULL DEFAULT 1 CHECK (version >= 1);

-- One row a sign-in: a chain of renewals that began with a password. Only
-- hashes of its secrets are here. family_sha256 is of what all its renewal
-- tokens share, current_sha256 of what only the newest has; one with the
-- family's part and another newest part is an old one used again.
CREATE TABLE sign_ins (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	person          TEXT    NOT NULL,
	begun_us        INTEGER NOT NULL,
	renewed_us      INTEGER NOT NULL,
	ended_us        INTEGER,
	ended_why       TEXT    NOT NULL CHECK (ended_why IN ('', 'signed out', 'used again', 'run out', 'too many', 'password set', 'left')),
	family_sha256   TEXT    NOT NULL CHECK (length(family_sha256) = 64),
	current_sha256  TEXT    NOT NULL CHECK (length(current_sha256) = 64),
	previous_sha256 TEXT    NOT NULL CHECK (length(previous_sha256) IN (0, 64)),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, person) REFERENCES people (workshop_id, id),
	CHECK ((ended_us IS NULL) = (ended_why = ''))
) STRICT;

CREATE INDEX sign_ins_of_a_person ON sign_ins (workshop_id, person, ended_us);

-- The answer to a request that stored something, under the key its sender
-- gave it, written in the same transaction as what it stored. body is as it
-- was sent, or zstd where that is shorter (packed = 1). about is the address
-- of what the answer tells of, so that it can go when that is erased.
CREATE TABLE kept_answers (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	person      TEXT    NOT NULL,
	request_key TEXT    NOT NULL CHECK (length(request_key) BETWEEN 1 AND 255),
	fingerprint TEXT    NOT NULL CHECK (length(fingerprint) = 64),
	kept_us     INTEGER NOT NULL,
	status      INTEGER NOT NULL CHECK (status BETWEEN 200 AND 299),
	location    TEXT    NOT NULL,
	about       TEXT    NOT NULL,
	version     INTEGER NOT NULL CHECK (version >= 0),
	packed      INTEGER NOT NULL CHECK (packed IN (0, 1)),
	body        BLOB    NOT NULL,
	PRIMARY KEY (workshop_id, person, request_key),
	FOREIGN KEY (workshop_id, person) REFERENCES people (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX kept_answers_by_age ON kept_answers (workshop_id, kept_us);
