-- What a job without a quote is to be paid, each time it was agreed; the last
-- number holds. The document has lines, VAT and payments, and names nobody.

-- +goose Up

CREATE TABLE agreed_prices (
	workshop_id     TEXT    NOT NULL,
	id              TEXT    NOT NULL,
	job             TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	created_us      INTEGER NOT NULL,
	agreed_by       TEXT    NOT NULL,
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	gross_minor     INTEGER NOT NULL CHECK (gross_minor >= 0),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, job, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, agreed_by) REFERENCES people (workshop_id, id)
) STRICT;
