-- The books: what the file of this number for SQLite says, for PostgreSQL.

-- +goose Up

-- One row a workshop: how many entries there are, the hash of the last, through
-- which day they are closed, and what the workshop has set for its money
-- (JSON). A journal line for each change vouches for the chain.
CREATE TABLE books (
	workshop_id    TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version        BIGINT NOT NULL CHECK (version >= 1),
	changed_us     BIGINT NOT NULL,
	entries        BIGINT NOT NULL CHECK (entries >= 0),
	head           TEXT COLLATE "C" NOT NULL CHECK (length(head) IN (0, 64)),
	closed_through TEXT COLLATE "C" NOT NULL CHECK (length(closed_through) IN (0, 10)),
	settings       TEXT COLLATE "C" NOT NULL
);

-- lines is JSON: account, amount, job, party and VAT of each. Whom it is of are
-- ids.
CREATE TABLE ledger_entries (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES books (workshop_id),
	number      BIGINT NOT NULL CHECK (number >= 1),
	day         TEXT COLLATE "C" NOT NULL CHECK (length(day) = 10),
	at_us       BIGINT NOT NULL,
	entered_by  TEXT COLLATE "C" NOT NULL,
	kind        TEXT COLLATE "C" NOT NULL,
	noun        TEXT COLLATE "C" NOT NULL,
	document    TEXT COLLATE "C" NOT NULL,
	reverses    BIGINT NOT NULL CHECK (reverses >= 0 AND reverses < number),
	lines       TEXT COLLATE "C" NOT NULL,
	previous    TEXT COLLATE "C" NOT NULL CHECK (length(previous) IN (0, 64)),
	hash        TEXT COLLATE "C" NOT NULL CHECK (length(hash) = 64),
	PRIMARY KEY (workshop_id, number),
	FOREIGN KEY (workshop_id, entered_by) REFERENCES people (workshop_id, id)
);

CREATE UNIQUE INDEX entry_is_reversed_once ON ledger_entries (workshop_id, reverses) WHERE reverses > 0;

-- What stands on each account, of a job and of a VAT where it goes by them, in
-- minor units: the sums of all lines.
CREATE TABLE ledger_sums (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES books (workshop_id),
	account     TEXT COLLATE "C" NOT NULL,
	job         TEXT COLLATE "C" NOT NULL,
	treatment   TEXT COLLATE "C" NOT NULL,
	percent     TEXT COLLATE "C" NOT NULL,
	currency    TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	minor       BIGINT NOT NULL,
	net         BIGINT NOT NULL,
	PRIMARY KEY (workshop_id, account, job, treatment, percent, currency)
);

CREATE INDEX ledger_sums_of_a_job ON ledger_sums (workshop_id, job);

-- Money that came in. left_minor is what of it is neither placed nor given back.
-- line is the line of a bank's statement that shows it, by its identity. words
-- are what was written about it, and may name somebody.
CREATE TABLE receipts (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	changed_us      BIGINT NOT NULL,
	day             TEXT COLLATE "C" NOT NULL CHECK (length(day) = 10),
	account         TEXT COLLATE "C" NOT NULL,
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	minor           BIGINT NOT NULL CHECK (minor > 0),
	left_minor      BIGINT NOT NULL CHECK (left_minor BETWEEN 0 AND minor),
	payer           TEXT COLLATE "C",
	line            TEXT COLLATE "C" NOT NULL,
	words           TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, payer) REFERENCES customers (workshop_id, id)
);

CREATE INDEX receipts_by_day ON receipts (workshop_id, day);
CREATE INDEX receipts_not_placed ON receipts (workshop_id, number) WHERE left_minor > 0;
CREATE INDEX receipts_of_a_line ON receipts (workshop_id, line) WHERE line <> '';
CREATE INDEX receipts_of_a_payer ON receipts (workshop_id, payer) WHERE payer IS NOT NULL;

-- Which jobs a receipt is placed on, or was.
CREATE TABLE placements (
	workshop_id TEXT COLLATE "C" NOT NULL,
	receipt     TEXT COLLATE "C" NOT NULL,
	number      BIGINT NOT NULL CHECK (number >= 1),
	job         TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, receipt, number),
	FOREIGN KEY (workshop_id, receipt) REFERENCES receipts (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);

CREATE INDEX placements_on_a_job ON placements (workshop_id, job);

-- Deposit invoices and invoices share a series, credit notes have their own:
-- both without gaps. A paper is not changed once it is numbered.
CREATE TABLE invoices (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	created_us      BIGINT NOT NULL,
	series          TEXT COLLATE "C" NOT NULL CHECK (series IN ('invoice', 'credit note')),
	number          BIGINT NOT NULL CHECK (number >= 1),
	kind            TEXT COLLATE "C" NOT NULL CHECK (kind IN ('deposit invoice', 'invoice', 'credit note')),
	job             TEXT COLLATE "C" NOT NULL,
	customer        TEXT COLLATE "C",
	issued_on       TEXT COLLATE "C" NOT NULL CHECK (length(issued_on) = 10),
	tax_point       TEXT COLLATE "C" NOT NULL CHECK (length(tax_point) = 10),
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	gross_minor     BIGINT NOT NULL,
	vat_minor       BIGINT NOT NULL,
	due_minor       BIGINT NOT NULL,
	entry           BIGINT NOT NULL CHECK (entry >= 1),
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, series, number),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
);

CREATE INDEX invoices_of_a_job ON invoices (workshop_id, job);
CREATE INDEX invoices_of_a_customer ON invoices (workshop_id, customer) WHERE customer IS NOT NULL;
CREATE INDEX invoices_by_age ON invoices (workshop_id, created_us, id);
CREATE INDEX receipts_by_age ON receipts (workshop_id, created_us, id);

CREATE TRIGGER entry_is_not_changed BEFORE UPDATE ON ledger_entries
FOR EACH ROW EXECUTE FUNCTION refuse('an entry is not changed: reverse it');

CREATE TRIGGER entry_is_not_removed BEFORE DELETE ON ledger_entries
FOR EACH ROW EXECUTE FUNCTION refuse('an entry is not changed: reverse it');

CREATE TRIGGER ledger_entries_are_not_emptied BEFORE TRUNCATE ON ledger_entries
EXECUTE FUNCTION refuse('an entry is not changed: reverse it');

CREATE TRIGGER invoice_is_not_changed BEFORE UPDATE ON invoices
FOR EACH ROW EXECUTE FUNCTION refuse('an invoice is not changed: credit it');

CREATE TRIGGER invoice_is_not_removed BEFORE DELETE ON invoices
FOR EACH ROW EXECUTE FUNCTION refuse('an invoice is not changed: credit it');

CREATE TRIGGER invoices_are_not_emptied BEFORE TRUNCATE ON invoices
EXECUTE FUNCTION refuse('an invoice is not changed: credit it');

CREATE POLICY of_the_workshop ON books USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON ledger_entries USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON ledger_sums USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON receipts USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON placements USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON invoices USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE books ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE ledger_entries ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE ledger_sums ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE receipts ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE placements ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE invoices ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON books, ledger_sums, receipts TO wainscot_app;
GRANT SELECT, INSERT ON ledger_entries, placements, invoices TO wainscot_app;
