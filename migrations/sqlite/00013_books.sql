-- The books: every entry of money, chained and never changed, what stands where
-- by them, receipts and where they were placed, and the papers by which VAT
-- becomes due.

-- +goose Up

-- One row a workshop: how many entries there are, the hash of the last, through
-- which day they are closed, and what the workshop has set for its money
-- (JSON). A journal line for each change vouches for the chain.
CREATE TABLE books (
	workshop_id    TEXT    NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version        INTEGER NOT NULL CHECK (version >= 1),
	changed_us     INTEGER NOT NULL,
	entries        INTEGER NOT NULL CHECK (entries >= 0),
	head           TEXT    NOT NULL CHECK (length(head) IN (0, 64)),
	closed_through TEXT    NOT NULL CHECK (length(closed_through) IN (0, 10)),
	settings       TEXT    NOT NULL
) STRICT;

-- lines is JSON: account, amount, job, party and VAT of each. Whom it is of are
-- ids.
CREATE TABLE ledger_entries (
	workshop_id TEXT    NOT NULL REFERENCES books (workshop_id),
	number      INTEGER NOT NULL CHECK (number >= 1),
	day         TEXT    NOT NULL CHECK (length(day) = 10),
	at_us       INTEGER NOT NULL,
	entered_by  TEXT    NOT NULL,
	kind        TEXT    NOT NULL,
	noun        TEXT    NOT NULL,
	document    TEXT    NOT NULL,
	reverses    INTEGER NOT NULL CHECK (reverses >= 0 AND reverses < number),
	lines       TEXT    NOT NULL,
	previous    TEXT    NOT NULL CHECK (length(previous) IN (0, 64)),
	hash        TEXT    NOT NULL CHECK (length(hash) = 64),
	PRIMARY KEY (workshop_id, number),
	FOREIGN KEY (workshop_id, entered_by) REFERENCES people (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX entry_is_reversed_once ON ledger_entries (workshop_id, reverses) WHERE reverses > 0;

-- +goose StatementBegin
CREATE TRIGGER entry_is_not_changed BEFORE UPDATE ON ledger_entries
BEGIN
	SELECT RAISE(ABORT, 'an entry is not changed: reverse it');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER entry_is_not_removed BEFORE DELETE ON ledger_entries
BEGIN
	SELECT RAISE(ABORT, 'an entry is not changed: reverse it');
END;
-- +goose StatementEnd

-- What stands on each account, of a job and of a VAT where it goes by them, in
-- minor units: the sums of all lines.
CREATE TABLE ledger_sums (
	workshop_id TEXT    NOT NULL REFERENCES books (workshop_id),
	account     TEXT    NOT NULL,
	job         TEXT    NOT NULL,
	treatment   TEXT    NOT NULL,
	percent     TEXT    NOT NULL,
	currency    TEXT    NOT NULL CHECK (length(currency) = 3),
	minor       INTEGER NOT NULL,
	net         INTEGER NOT NULL,
	PRIMARY KEY (workshop_id, account, job, treatment, percent, currency)
) STRICT, WITHOUT ROWID;

CREATE INDEX ledger_sums_of_a_job ON ledger_sums (workshop_id, job);

-- Money that came in. left_minor is what of it is neither placed nor given back.
-- line is the line of a bank's statement that shows it, by its identity. words
-- are what was written about it, and may name somebody.
CREATE TABLE receipts (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	changed_us      INTEGER NOT NULL,
	day             TEXT    NOT NULL CHECK (length(day) = 10),
	account         TEXT    NOT NULL,
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	minor           INTEGER NOT NULL CHECK (minor > 0),
	left_minor      INTEGER NOT NULL CHECK (left_minor BETWEEN 0 AND minor),
	payer           TEXT,
	line            TEXT    NOT NULL,
	words           TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, payer) REFERENCES customers (workshop_id, id)
) STRICT;

CREATE INDEX receipts_by_day ON receipts (workshop_id, day);
CREATE INDEX receipts_not_placed ON receipts (workshop_id, number) WHERE left_minor > 0;
CREATE INDEX receipts_of_a_line ON receipts (workshop_id, line) WHERE line <> '';
CREATE INDEX receipts_of_a_payer ON receipts (workshop_id, payer) WHERE payer IS NOT NULL;

-- Which jobs a receipt is placed on, or was.
CREATE TABLE placements (
	workshop_id TEXT    NOT NULL,
	receipt     TEXT    NOT NULL,
	number      INTEGER NOT NULL CHECK (number >= 1),
	job         TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, receipt, number),
	FOREIGN KEY (workshop_id, receipt) REFERENCES receipts (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX placements_on_a_job ON placements (workshop_id, job);

-- Deposit invoices and invoices share a series, credit notes have their own:
-- both without gaps. A paper is not changed once it is numbered.
CREATE TABLE invoices (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	created_us      INTEGER NOT NULL,
	series          TEXT    NOT NULL CHECK (series IN ('invoice', 'credit note')),
	number          INTEGER NOT NULL CHECK (number >= 1),
	kind            TEXT    NOT NULL CHECK (kind IN ('deposit invoice', 'invoice', 'credit note')),
	job             TEXT    NOT NULL,
	customer        TEXT,
	issued_on       TEXT    NOT NULL CHECK (length(issued_on) = 10),
	tax_point       TEXT    NOT NULL CHECK (length(tax_point) = 10),
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	gross_minor     INTEGER NOT NULL,
	vat_minor       INTEGER NOT NULL,
	due_minor       INTEGER NOT NULL,
	entry           INTEGER NOT NULL CHECK (entry >= 1),
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, series, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
) STRICT;

CREATE INDEX invoices_of_a_job ON invoices (workshop_id, job);
CREATE INDEX invoices_of_a_customer ON invoices (workshop_id, customer) WHERE customer IS NOT NULL;
CREATE INDEX invoices_by_age ON invoices (workshop_id, created_us, id);
CREATE INDEX receipts_by_age ON receipts (workshop_id, created_us, id);

-- +goose StatementBegin
CREATE TRIGGER invoice_is_not_changed BEFORE UPDATE ON invoices
BEGIN
	SELECT RAISE(ABORT, 'an invoice is not changed: credit it');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER invoice_is_not_removed BEFORE DELETE ON invoices
BEGIN
	SELECT RAISE(ABORT, 'an invoice is not changed: credit it');
END;
-- +goose StatementEnd
