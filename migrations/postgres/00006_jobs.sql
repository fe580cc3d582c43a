-- What was agreed, one job a van, on its way through the workshop: what
-- sqlite/00006 says, for PostgreSQL.

-- +goose Up

CREATE TABLE jobs (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	changed_us      BIGINT NOT NULL,
	state           TEXT COLLATE "C" NOT NULL CHECK (state IN ('agreed', 'in the workshop', 'handed over', 'cancelled')),
	quote           TEXT COLLATE "C",
	revision        BIGINT NOT NULL CHECK (revision >= 0),
	place           BIGINT NOT NULL CHECK (place >= 0),
	customer        TEXT COLLATE "C",
	van             TEXT COLLATE "C",
	base_van        TEXT COLLATE "C" NOT NULL,
	agreed_on       TEXT COLLATE "C" NOT NULL CHECK (length(agreed_on) = 10),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	UNIQUE (workshop_id, quote, place),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id)
);

CREATE INDEX jobs_newest ON jobs (workshop_id, created_us DESC, id DESC);
CREATE INDEX jobs_by_state ON jobs (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX jobs_of_a_van ON jobs (workshop_id, van) WHERE van IS NOT NULL;

CREATE POLICY of_the_workshop ON jobs USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE jobs ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON jobs TO wainscot_app;
