-- Changes of what a job is to be: what sqlite's of the same number says, for
-- PostgreSQL.

-- +goose Up

CREATE TABLE variations (
	workshop_id         TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id                  TEXT COLLATE "C" NOT NULL,
	job                 TEXT COLLATE "C" NOT NULL,
	number              BIGINT NOT NULL CHECK (number >= 1),
	state               TEXT COLLATE "C" NOT NULL CHECK (state IN ('draft', 'sent', 'accepted', 'declined', 'withdrawn')),
	created_us          BIGINT NOT NULL,
	created_by          TEXT COLLATE "C" NOT NULL,
	changed_us          BIGINT NOT NULL,
	changed_by          TEXT COLLATE "C" NOT NULL,
	sent_on             TEXT COLLATE "C" NOT NULL CHECK (length(sent_on) IN (0, 10)),
	valid_until         TEXT COLLATE "C" NOT NULL CHECK (length(valid_until) IN (0, 10)),
	decided_on          TEXT COLLATE "C" NOT NULL CHECK (length(decided_on) IN (0, 10)),
	how                 TEXT COLLATE "C" NOT NULL CHECK (how IN ('', 'counter', 'paper', 'link')),
	change_minor        BIGINT NOT NULL,
	total_minor         BIGINT NOT NULL,
	currency            TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	by_name             TEXT COLLATE "C" NOT NULL,
	evidence_says       TEXT COLLATE "C" NOT NULL,
	evidence_media_type TEXT COLLATE "C" NOT NULL,
	evidence_sha256     TEXT COLLATE "C" NOT NULL CHECK (length(evidence_sha256) IN (0, 64)),
	document_sha256     TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	document            BYTEA NOT NULL,
	evidence            BYTEA,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id)
);

CREATE POLICY of_the_workshop ON variations USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE variations ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON variations TO wainscot_app;
