-- What a workshop brought along on the day it began here, once. The document is
-- what it came to and names nobody.

-- +goose Up

CREATE TABLE take_ons (
	workshop_id     TEXT    NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	taken_on        TEXT    NOT NULL CHECK (length(taken_on) = 10),
	created_us      INTEGER NOT NULL,
	taken_by        TEXT    NOT NULL,
	files_sha256    TEXT    NOT NULL CHECK (length(files_sha256) = 64),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	FOREIGN KEY (workshop_id, taken_by) REFERENCES people (workshop_id, id)
) STRICT;

-- Deposits of the books before these, with the VAT that was declared on them.
-- words are how one came; they may name somebody.
CREATE TABLE deposits_taken_on (
	workshop_id     TEXT    NOT NULL,
	id              TEXT    NOT NULL,
	job             TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	day             TEXT    NOT NULL CHECK (length(day) = 10),
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	gross_minor     INTEGER NOT NULL CHECK (gross_minor > 0),
	vat_minor       INTEGER NOT NULL CHECK (vat_minor >= 0),
	entry           INTEGER NOT NULL CHECK (entry >= 1),
	words           TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
) STRICT;

CREATE INDEX deposits_taken_on_of_a_job ON deposits_taken_on (workshop_id, job);
