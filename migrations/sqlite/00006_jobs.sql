-- What was agreed, one job a van, on its way through the workshop. A job is a
-- document; beside it stands what is looked for. A job without a quote is a
-- return visit.

-- +goose Up

CREATE TABLE jobs (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	changed_us      INTEGER NOT NULL,
	state           TEXT    NOT NULL CHECK (state IN ('agreed', 'in the workshop', 'handed over', 'cancelled')),
	quote           TEXT,
	revision        INTEGER NOT NULL CHECK (revision >= 0),
	place           INTEGER NOT NULL CHECK (place >= 0),
	customer        TEXT,
	van             TEXT,
	base_van        TEXT    NOT NULL,
	agreed_on       TEXT    NOT NULL CHECK (length(agreed_on) = 10),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	UNIQUE (workshop_id, quote, place),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id)
) STRICT;

CREATE INDEX jobs_newest ON jobs (workshop_id, created_us DESC, id DESC);
CREATE INDEX jobs_by_state ON jobs (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX jobs_of_a_van ON jobs (workshop_id, van) WHERE van IS NOT NULL;
