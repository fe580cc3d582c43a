-- The workshop's floor, its crew, and the slots of its jobs: what sqlite/00007
-- says, for PostgreSQL.

-- +goose Up

CREATE TABLE floors (
	workshop_id     TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version         BIGINT NOT NULL CHECK (version >= 1),
	changed_us      BIGINT NOT NULL,
	plan            BIGINT NOT NULL CHECK (plan >= 1),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64)
);

CREATE TABLE crew (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	changed_us      BIGINT NOT NULL,
	name            TEXT COLLATE "C" NOT NULL,
	left_on         TEXT COLLATE "C" NOT NULL,
	plan            BIGINT NOT NULL CHECK (plan >= 1),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id)
);

CREATE TABLE slots (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	job             TEXT COLLATE "C" NOT NULL,
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	changed_us      BIGINT NOT NULL,
	state           TEXT COLLATE "C" NOT NULL CHECK (state IN ('held', 'firm', 'released')),
	from_on         TEXT COLLATE "C" NOT NULL CHECK (length(from_on) = 10),
	until_on        TEXT COLLATE "C" NOT NULL CHECK (length(until_on) = 10),
	confirmed_on    TEXT COLLATE "C" NOT NULL,
	confirmed_from  TEXT COLLATE "C" NOT NULL,
	plan            BIGINT NOT NULL CHECK (plan >= 1),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, job),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);

CREATE INDEX slots_by_plan ON slots (workshop_id, plan);
CREATE INDEX slots_by_day ON slots (workshop_id, until_on);

CREATE POLICY of_the_workshop ON floors USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON crew USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON slots USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE floors ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE crew ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE slots ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON floors, crew, slots TO wainscot_app;
