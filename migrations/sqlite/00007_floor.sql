-- The workshop's floor, its crew, and the slots of its jobs. plan is the number
-- of the plan's change that wrote a row, so that who keeps a plan in memory
-- reads only what is newer.

-- +goose Up

CREATE TABLE floors (
	workshop_id     TEXT    NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version         INTEGER NOT NULL CHECK (version >= 1),
	changed_us      INTEGER NOT NULL,
	plan            INTEGER NOT NULL CHECK (plan >= 1),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64)
) STRICT;

-- name is personal; a document holds none.
CREATE TABLE crew (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	changed_us      INTEGER NOT NULL,
	name            TEXT    NOT NULL,
	left_on         TEXT    NOT NULL,
	plan            INTEGER NOT NULL CHECK (plan >= 1),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id)
) STRICT;

-- confirmed_from is personal: who said that the van comes.
CREATE TABLE slots (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	job             TEXT    NOT NULL,
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	changed_us      INTEGER NOT NULL,
	state           TEXT    NOT NULL CHECK (state IN ('held', 'firm', 'released')),
	from_on         TEXT    NOT NULL CHECK (length(from_on) = 10),
	until_on        TEXT    NOT NULL CHECK (length(until_on) = 10),
	confirmed_on    TEXT    NOT NULL,
	confirmed_from  TEXT    NOT NULL,
	plan            INTEGER NOT NULL CHECK (plan >= 1),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, job),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT;

CREATE INDEX slots_by_plan ON slots (workshop_id, plan);
CREATE INDEX slots_by_day ON slots (workshop_id, until_on);
