-- Calendar links: what sqlite's of the same number says, for PostgreSQL.

-- +goose Up

CREATE TABLE calendar_links (
	workshop_id   TEXT COLLATE "C" NOT NULL,
	id            TEXT COLLATE "C" NOT NULL,
	secret_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(secret_sha256) = 64),
	made_us       BIGINT NOT NULL,
	made_by       TEXT COLLATE "C" NOT NULL,
	withdrawn_us  BIGINT,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, secret_sha256),
	FOREIGN KEY (workshop_id, made_by) REFERENCES people (workshop_id, id)
);

CREATE INDEX calendar_links_of_a_person ON calendar_links (workshop_id, made_by);

CREATE POLICY of_the_workshop ON calendar_links USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE calendar_links ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON calendar_links TO wainscot_app;
