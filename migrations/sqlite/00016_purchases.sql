-- What suppliers charge and are paid, vans bought to be sold, and what was
-- decided of cancelled jobs.

-- +goose Up

-- What a workshop has set for its purchases: through which day it has declared
-- them complete, and what a price may be dearer before a credit is asked for.
CREATE TABLE purchases (
	workshop_id       TEXT    NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version           INTEGER NOT NULL CHECK (version >= 1),
	changed_us        INTEGER NOT NULL,
	complete_through  TEXT    NOT NULL CHECK (length(complete_through) IN (0, 10)),
	tolerance_percent TEXT    NOT NULL,
	tolerance_minor   INTEGER          CHECK (tolerance_minor >= 0)
) STRICT;

-- number_key is the supplier's number without spaces, in capitals: entered
-- once. owed_minor is what was accepted, of a credit note below nothing;
-- disputed_minor what of it was not. entry is 0 where nothing was entered in the
-- books. words are why it was decided so; they may name somebody.
CREATE TABLE supplier_invoices (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	changed_us      INTEGER NOT NULL,
	supplier        TEXT    NOT NULL,
	name            TEXT    NOT NULL,
	kind            TEXT    NOT NULL CHECK (kind IN ('invoice', 'credit note')),
	number_key      TEXT    NOT NULL CHECK (number_key <> ''),
	state           TEXT    NOT NULL,
	tax_point       TEXT    NOT NULL CHECK (length(tax_point) = 10),
	due_on          TEXT    NOT NULL CHECK (length(due_on) = 10),
	purchase_order  TEXT,
	credits         TEXT,
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	gross_minor     INTEGER NOT NULL,
	owed_minor      INTEGER NOT NULL,
	disputed_minor  INTEGER NOT NULL,
	paid_minor      INTEGER NOT NULL,
	entry           INTEGER NOT NULL CHECK (entry >= 0),
	words           TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	UNIQUE (workshop_id, supplier, kind, number_key),
	FOREIGN KEY (workshop_id, purchase_order) REFERENCES orders (workshop_id, id)
) STRICT;

CREATE INDEX supplier_invoices_by_age ON supplier_invoices (workshop_id, created_us, id);
CREATE INDEX supplier_invoices_of_an_order ON supplier_invoices (workshop_id, purchase_order) WHERE purchase_order IS NOT NULL;
CREATE INDEX supplier_invoices_crediting ON supplier_invoices (workshop_id, credits) WHERE credits IS NOT NULL;
CREATE INDEX supplier_invoices_unpaid ON supplier_invoices (workshop_id, supplier, number) WHERE owed_minor <> paid_minor;

-- Money that went to a supplier; parts is JSON, what of it is for which invoice.
-- back_entry is the entry that took it back, 0 for none. line is the line of a
-- bank's statement that shows it, by its identity.
CREATE TABLE supplier_payments (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT    NOT NULL,
	number      INTEGER NOT NULL CHECK (number >= 1),
	version     INTEGER NOT NULL CHECK (version >= 1),
	created_us  INTEGER NOT NULL,
	changed_us  INTEGER NOT NULL,
	day         TEXT    NOT NULL CHECK (length(day) = 10),
	supplier    TEXT    NOT NULL,
	account     TEXT    NOT NULL,
	currency    TEXT    NOT NULL CHECK (length(currency) = 3),
	minor       INTEGER NOT NULL CHECK (minor <> 0),
	parts       TEXT    NOT NULL,
	entry       INTEGER NOT NULL CHECK (entry >= 1),
	back_entry  INTEGER NOT NULL CHECK (back_entry >= 0),
	line        TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
) STRICT;

CREATE INDEX supplier_payments_by_age ON supplier_payments (workshop_id, created_us, id);

-- The stock book of vans under the margin scheme. Who sold and who bought are
-- ids.
CREATE TABLE stock_vans (
	workshop_id   TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id            TEXT    NOT NULL,
	number        INTEGER NOT NULL CHECK (number >= 1),
	version       INTEGER NOT NULL CHECK (version >= 1),
	created_us    INTEGER NOT NULL,
	changed_us    INTEGER NOT NULL,
	van           TEXT    NOT NULL,
	how           TEXT    NOT NULL,
	seller        TEXT    NOT NULL,
	bought_on     TEXT    NOT NULL CHECK (length(bought_on) = 10),
	mileage_miles INTEGER NOT NULL CHECK (mileage_miles >= 0),
	currency      TEXT    NOT NULL CHECK (length(currency) = 3),
	paid_minor    INTEGER NOT NULL CHECK (paid_minor > 0),
	receipt       TEXT,
	entry         INTEGER NOT NULL CHECK (entry >= 1),
	buyer         TEXT,
	sold_on       TEXT    NOT NULL CHECK (length(sold_on) IN (0, 10)),
	price_minor   INTEGER NOT NULL,
	vat_percent   TEXT    NOT NULL,
	vat_minor     INTEGER NOT NULL,
	job           TEXT,
	sale_entry    INTEGER NOT NULL CHECK (sale_entry >= 0),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id),
	FOREIGN KEY (workshop_id, seller) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, buyer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, receipt) REFERENCES receipts (workshop_id, id),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
) STRICT;

CREATE INDEX stock_vans_by_age ON stock_vans (workshop_id, created_us, id);
CREATE UNIQUE INDEX van_stands_in_stock_once ON stock_vans (workshop_id, van) WHERE sold_on = '';

-- What was decided of the deposits of a cancelled job, once. document has it
-- whole, by ids; words are why, and may name somebody.
CREATE TABLE settlements (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	job             TEXT    NOT NULL,
	created_us      INTEGER NOT NULL,
	decided_on      TEXT    NOT NULL CHECK (length(decided_on) = 10),
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	held_minor      INTEGER NOT NULL,
	kept_minor      INTEGER NOT NULL,
	words           TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, job),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT, WITHOUT ROWID;
