-- Who is signed in and until when, people's versions, and the answers kept
-- for requests that are sent again: what sqlite/00002 says, for PostgreSQL.

-- +goose Up

ALTER TABLE people ADD COLUMN version BIGINT NOT NULL DEFAULT 1 CHECK (version >= 1);

CREATE TABLE sign_ins (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	person          TEXT COLLATE "C" NOT NULL,
	begun_us        BIGINT NOT NULL,
	renewed_us      BIGINT NOT NULL,
	ended_us        BIGINT,
	ended_why       TEXT COLLATE "C" NOT NULL CHECK (ended_why IN ('', 'signed out', 'used again', 'run out', 'too many', 'password set', 'left')),
	family_sha256   TEXT COLLATE "C" NOT NULL CHECK (length(family_sha256) = 64),
	current_sha256  TEXT COLLATE "C" NOT NULL CHECK (length(current_sha256) = 64),
	previous_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(previous_sha256) IN (0, 64)),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, person) REFERENCES people (workshop_id, id),
	CHECK ((ended_us IS NULL) = (ended_why = ''))
);

CREATE INDEX sign_ins_of_a_person ON sign_ins (workshop_id, person, ended_us);

CREATE TABLE kept_answers (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	person      TEXT COLLATE "C" NOT NULL,
	request_key TEXT COLLATE "C" NOT NULL CHECK (length(request_key) BETWEEN 1 AND 255),
	fingerprint TEXT COLLATE "C" NOT NULL CHECK (length(fingerprint) = 64),
	kept_us     BIGINT NOT NULL,
	status      BIGINT NOT NULL CHECK (status BETWEEN 200 AND 299),
	location    TEXT COLLATE "C" NOT NULL,
	about       TEXT COLLATE "C" NOT NULL,
	version     BIGINT NOT NULL CHECK (version >= 0),
	packed      BIGINT NOT NULL CHECK (packed IN (0, 1)),
	body        BYTEA NOT NULL,
	PRIMARY KEY (workshop_id, person, request_key),
	FOREIGN KEY (workshop_id, person) REFERENCES people (workshop_id, id)
);

CREATE INDEX kept_answers_by_age ON kept_answers (workshop_id, kept_us);

CREATE POLICY of_the_workshop ON sign_ins USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON kept_answers USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE sign_ins ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE kept_answers ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON sign_ins TO wainscot_app;
GRANT SELECT, INSERT, UPDATE, DELETE ON kept_answers TO wainscot_app;
