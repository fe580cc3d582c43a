-- Serial numbers and batches as they are looked for, and the checks of finished
-- vans that fall due: what sqlite's of the same number says, for PostgreSQL.

-- +goose Up

CREATE TABLE job_serials (
	workshop_id TEXT COLLATE "C" NOT NULL,
	job         TEXT COLLATE "C" NOT NULL,
	number      BIGINT NOT NULL CHECK (number >= 1),
	part        TEXT COLLATE "C" NOT NULL,
	kind        TEXT COLLATE "C" NOT NULL CHECK (kind IN ('serial', 'batch')),
	value       TEXT COLLATE "C" NOT NULL,
	value_key   TEXT COLLATE "C" NOT NULL,
	replaced_by BIGINT NOT NULL CHECK (replaced_by >= 0),
	PRIMARY KEY (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);
CREATE INDEX job_serials_by_value ON job_serials (workshop_id, value_key, job, number);

CREATE TABLE checks_due (
	workshop_id  TEXT COLLATE "C" NOT NULL,
	id           TEXT COLLATE "C" NOT NULL,
	job          TEXT COLLATE "C" NOT NULL,
	name         TEXT COLLATE "C" NOT NULL,
	every_months BIGINT NOT NULL CHECK (every_months >= 1),
	due_on       TEXT COLLATE "C" NOT NULL CHECK (length(due_on) = 10),
	made_on      TEXT COLLATE "C" NOT NULL CHECK (length(made_on) IN (0, 10)),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, job, name),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);
CREATE INDEX checks_due_by_day ON checks_due (workshop_id, due_on, id);

CREATE POLICY of_the_workshop ON job_serials USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON checks_due USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE job_serials ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE checks_due ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON job_serials, checks_due TO wainscot_app;
