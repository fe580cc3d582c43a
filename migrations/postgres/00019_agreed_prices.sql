-- Agreed prices: what sqlite's of the same number says, for PostgreSQL.

-- +goose Up

CREATE TABLE agreed_prices (
	workshop_id     TEXT COLLATE "C" NOT NULL,
	id              TEXT COLLATE "C" NOT NULL,
	job             TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	created_us      BIGINT NOT NULL,
	agreed_by       TEXT COLLATE "C" NOT NULL,
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	gross_minor     BIGINT NOT NULL CHECK (gross_minor >= 0),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, agreed_by) REFERENCES people (workshop_id, id)
);

CREATE POLICY of_the_workshop ON agreed_prices USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE agreed_prices ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT ON agreed_prices TO wainscot_app;
