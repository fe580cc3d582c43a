-- What people wrote about a job, its photographs and documents, and who may
-- sign certificates: what sqlite/00010 says, for PostgreSQL.

-- +goose Up

CREATE TABLE job_notes (
	workshop_id TEXT COLLATE "C" NOT NULL,
	job         TEXT COLLATE "C" NOT NULL,
	note        BIGINT NOT NULL CHECK (note >= 1),
	says        TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, job, note),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);

CREATE TABLE job_attachments (
	workshop_id TEXT COLLATE "C" NOT NULL,
	job         TEXT COLLATE "C" NOT NULL,
	number      BIGINT NOT NULL CHECK (number >= 1),
	media_type  TEXT COLLATE "C" NOT NULL,
	content     BYTEA,
	PRIMARY KEY (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);

CREATE TABLE signatories (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	changed_us      BIGINT NOT NULL,
	name            TEXT COLLATE "C" NOT NULL,
	firm            TEXT COLLATE "C" NOT NULL,
	register        TEXT COLLATE "C" NOT NULL,
	register_number TEXT COLLATE "C" NOT NULL,
	expires_on      TEXT COLLATE "C" NOT NULL CHECK (length(expires_on) IN (0, 10)),
	signs           TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id)
);

CREATE POLICY of_the_workshop ON job_notes USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON job_attachments USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON signatories USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE job_notes ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE job_attachments ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE signatories ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON job_notes, job_attachments, signatories TO wainscot_app;
