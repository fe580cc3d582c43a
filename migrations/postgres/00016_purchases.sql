-- What sqlite/00016 says, for PostgreSQL.

-- +goose Up

-- What a workshop has set for its purchases: through which day it has declared
-- them complete, and what a price may be dearer before a credit is asked for.
CREATE TABLE purchases (
	workshop_id       TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version           BIGINT NOT NULL CHECK (version >= 1),
	changed_us        BIGINT NOT NULL,
	complete_through  TEXT COLLATE "C" NOT NULL CHECK (length(complete_through) IN (0, 10)),
	tolerance_percent TEXT COLLATE "C" NOT NULL,
	tolerance_minor   BIGINT CHECK (tolerance_minor >= 0)
);

-- number_key is the supplier's number without spaces, in capitals: entered
-- once. owed_minor is what was accepted, of a credit note below nothing;
-- disputed_minor what of it was not. entry is 0 where nothing was entered in the
-- books. words are why it was decided so; they may name somebody.
CREATE TABLE supplier_invoices (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	changed_us      BIGINT NOT NULL,
	supplier        TEXT COLLATE "C" NOT NULL,
	name            TEXT COLLATE "C" NOT NULL,
	kind            TEXT COLLATE "C" NOT NULL CHECK (kind IN ('invoice', 'credit note')),
	number_key      TEXT COLLATE "C" NOT NULL CHECK (number_key <> ''),
	state           TEXT COLLATE "C" NOT NULL,
	tax_point       TEXT COLLATE "C" NOT NULL CHECK (length(tax_point) = 10),
	due_on          TEXT COLLATE "C" NOT NULL CHECK (length(due_on) = 10),
	purchase_order  TEXT COLLATE "C",
	credits         TEXT COLLATE "C",
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	gross_minor     BIGINT NOT NULL,
	owed_minor      BIGINT NOT NULL,
	disputed_minor  BIGINT NOT NULL,
	paid_minor      BIGINT NOT NULL,
	entry           BIGINT NOT NULL CHECK (entry >= 0),
	words           TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	UNIQUE (workshop_id, supplier, kind, number_key),
	FOREIGN KEY (workshop_id, purchase_order) REFERENCES orders (workshop_id, id)
);

CREATE INDEX supplier_invoices_by_age ON supplier_invoices (workshop_id, created_us, id);
CREATE INDEX supplier_invoices_of_an_order ON supplier_invoices (workshop_id, purchase_order) WHERE purchase_order IS NOT NULL;
CREATE INDEX supplier_invoices_crediting ON supplier_invoices (workshop_id, credits) WHERE credits IS NOT NULL;
CREATE INDEX supplier_invoices_unpaid ON supplier_invoices (workshop_id, supplier, number) WHERE owed_minor <> paid_minor;

-- Money that went to a supplier; parts is JSON, what of it is for which invoice.
-- back_entry is the entry that took it back, 0 for none. line is the line of a
-- bank's statement that shows it, by its identity.
CREATE TABLE supplier_payments (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT COLLATE "C" NOT NULL,
	number      BIGINT NOT NULL CHECK (number >= 1),
	version     BIGINT NOT NULL CHECK (version >= 1),
	created_us  BIGINT NOT NULL,
	changed_us  BIGINT NOT NULL,
	day         TEXT COLLATE "C" NOT NULL CHECK (length(day) = 10),
	supplier    TEXT COLLATE "C" NOT NULL,
	account     TEXT COLLATE "C" NOT NULL,
	currency    TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	minor       BIGINT NOT NULL CHECK (minor <> 0),
	parts       TEXT COLLATE "C" NOT NULL,
	entry       BIGINT NOT NULL CHECK (entry >= 1),
	back_entry  BIGINT NOT NULL CHECK (back_entry >= 0),
	line        TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
);

CREATE INDEX supplier_payments_by_age ON supplier_payments (workshop_id, created_us, id);

-- The stock book of vans under the margin scheme. Who sold and who bought are
-- ids.
CREATE TABLE stock_vans (
	workshop_id   TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id            TEXT COLLATE "C" NOT NULL,
	number        BIGINT NOT NULL CHECK (number >= 1),
	version       BIGINT NOT NULL CHECK (version >= 1),
	created_us    BIGINT NOT NULL,
	changed_us    BIGINT NOT NULL,
	van           TEXT COLLATE "C" NOT NULL,
	how           TEXT COLLATE "C" NOT NULL,
	seller        TEXT COLLATE "C" NOT NULL,
	bought_on     TEXT COLLATE "C" NOT NULL CHECK (length(bought_on) = 10),
	mileage_miles BIGINT NOT NULL CHECK (mileage_miles >= 0),
	currency      TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	paid_minor    BIGINT NOT NULL CHECK (paid_minor > 0),
	receipt       TEXT COLLATE "C",
	entry         BIGINT NOT NULL CHECK (entry >= 1),
	buyer         TEXT COLLATE "C",
	sold_on       TEXT COLLATE "C" NOT NULL CHECK (length(sold_on) IN (0, 10)),
	price_minor   BIGINT NOT NULL,
	vat_percent   TEXT COLLATE "C" NOT NULL,
	vat_minor     BIGINT NOT NULL,
	job           TEXT COLLATE "C",
	sale_entry    BIGINT NOT NULL CHECK (sale_entry >= 0),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id),
	FOREIGN KEY (workshop_id, seller) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, buyer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, receipt) REFERENCES receipts (workshop_id, id),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
);

CREATE INDEX stock_vans_by_age ON stock_vans (workshop_id, created_us, id);
CREATE UNIQUE INDEX van_stands_in_stock_once ON stock_vans (workshop_id, van) WHERE sold_on = '';

-- What was decided of the deposits of a cancelled job, once. document has it
-- whole, by ids; words are why, and may name somebody.
CREATE TABLE settlements (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	job             TEXT COLLATE "C" NOT NULL,
	created_us      BIGINT NOT NULL,
	decided_on      TEXT COLLATE "C" NOT NULL CHECK (length(decided_on) = 10),
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	held_minor      BIGINT NOT NULL,
	kept_minor      BIGINT NOT NULL,
	words           TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, job),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);

CREATE POLICY of_the_workshop ON purchases USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON supplier_invoices USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON supplier_payments USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON stock_vans USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON settlements USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE purchases ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE supplier_invoices ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE supplier_payments ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE stock_vans ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE settlements ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON purchases, supplier_invoices, supplier_payments, stock_vans, settlements TO wainscot_app;
