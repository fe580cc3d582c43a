-- What people wrote about a job, its photographs and documents, and who may
-- sign certificates: what is personal of it stands here, beside the job's
-- document, where it can be emptied.

-- +goose Up

CREATE TABLE job_notes (
	workshop_id TEXT    NOT NULL,
	job         TEXT    NOT NULL,
	note        INTEGER NOT NULL CHECK (note >= 1),
	says        TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, job, note),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT;

-- content is null where the paper is filed elsewhere, and when it was emptied;
-- its hash stays in the job.
CREATE TABLE job_attachments (
	workshop_id TEXT    NOT NULL,
	job         TEXT    NOT NULL,
	number      INTEGER NOT NULL CHECK (number >= 1),
	media_type  TEXT    NOT NULL,
	content     BLOB,
	PRIMARY KEY (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT;

-- name and register_number are personal. signs is JSON: codes of outside work.
CREATE TABLE signatories (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	changed_us      INTEGER NOT NULL,
	name            TEXT    NOT NULL,
	firm            TEXT    NOT NULL,
	register        TEXT    NOT NULL,
	register_number TEXT    NOT NULL,
	expires_on      TEXT    NOT NULL CHECK (length(expires_on) IN (0, 10)),
	signs           TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, id)
) STRICT;
