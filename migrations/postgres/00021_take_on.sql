-- Take-on: what sqlite's of the same number says, for PostgreSQL.

-- +goose Up

CREATE TABLE take_ons (
	workshop_id     TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	taken_on        TEXT COLLATE "C" NOT NULL CHECK (length(taken_on) = 10),
	created_us      BIGINT NOT NULL,
	taken_by        TEXT COLLATE "C" NOT NULL,
	files_sha256    TEXT COLLATE "C" NOT NULL CHECK (length(files_sha256) = 64),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	FOREIGN KEY (workshop_id, taken_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE deposits_taken_on (
	workshop_id     TEXT COLLATE "C" NOT NULL,
	id              TEXT COLLATE "C" NOT NULL,
	job             TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	day             TEXT COLLATE "C" NOT NULL CHECK (length(day) = 10),
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	gross_minor     BIGINT NOT NULL CHECK (gross_minor > 0),
	vat_minor       BIGINT NOT NULL CHECK (vat_minor >= 0),
	entry           BIGINT NOT NULL CHECK (entry >= 1),
	words           TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
);

CREATE INDEX deposits_taken_on_of_a_job ON deposits_taken_on (workshop_id, job);

CREATE POLICY of_the_workshop ON take_ons USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON deposits_taken_on USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE take_ons ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE deposits_taken_on ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON take_ons, deposits_taken_on TO wainscot_app;
