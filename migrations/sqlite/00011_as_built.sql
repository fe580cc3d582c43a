-- Serial numbers and batches as they are looked for, made of the documents of
-- jobs; and the checks of finished vans that fall due.

-- +goose Up

CREATE TABLE job_serials (
	workshop_id TEXT    NOT NULL,
	job         TEXT    NOT NULL,
	number      INTEGER NOT NULL CHECK (number >= 1),
	part        TEXT    NOT NULL,
	kind        TEXT    NOT NULL CHECK (kind IN ('serial', 'batch')),
	value       TEXT    NOT NULL,
	value_key   TEXT    NOT NULL,
	replaced_by INTEGER NOT NULL CHECK (replaced_by >= 0),
	PRIMARY KEY (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT;
CREATE INDEX job_serials_by_value ON job_serials (workshop_id, value_key, job, number);

CREATE TABLE checks_due (
	workshop_id  TEXT    NOT NULL,
	id           TEXT    NOT NULL,
	job          TEXT    NOT NULL,
	name         TEXT    NOT NULL,
	every_months INTEGER NOT NULL CHECK (every_months >= 1),
	due_on       TEXT    NOT NULL CHECK (length(due_on) = 10),
	made_on      TEXT    NOT NULL CHECK (length(made_on) IN (0, 10)),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, job, name),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT;
CREATE INDEX checks_due_by_day ON checks_due (workshop_id, due_on, id);
