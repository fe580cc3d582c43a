-- Changes of what a job is to be: a draft's document is what is proposed, any
-- other's what was sent. by_name and what the evidence says and holds are
-- personal and can be emptied.

-- +goose Up

CREATE TABLE variations (
	workshop_id         TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id                  TEXT    NOT NULL,
	job                 TEXT    NOT NULL,
	number              INTEGER NOT NULL CHECK (number >= 1),
	state               TEXT    NOT NULL CHECK (state IN ('draft', 'sent', 'accepted', 'declined', 'withdrawn')),
	created_us          INTEGER NOT NULL,
	created_by          TEXT    NOT NULL,
	changed_us          INTEGER NOT NULL,
	changed_by          TEXT    NOT NULL,
	sent_on             TEXT    NOT NULL CHECK (length(sent_on) IN (0, 10)),
	valid_until         TEXT    NOT NULL CHECK (length(valid_until) IN (0, 10)),
	decided_on          TEXT    NOT NULL CHECK (length(decided_on) IN (0, 10)),
	how                 TEXT    NOT NULL CHECK (how IN ('', 'counter', 'paper', 'link')),
	change_minor        INTEGER NOT NULL,
	total_minor         INTEGER NOT NULL,
	currency            TEXT    NOT NULL CHECK (length(currency) = 3),
	by_name             TEXT    NOT NULL,
	evidence_says       TEXT    NOT NULL,
	evidence_media_type TEXT    NOT NULL,
	evidence_sha256     TEXT    NOT NULL CHECK (length(evidence_sha256) IN (0, 64)),
	document_sha256     TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	document            BLOB    NOT NULL,
	evidence            BLOB,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id)
) STRICT;
