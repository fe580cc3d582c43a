-- What lines of statements were found to be.

-- +goose Up

-- One for each time a line was reconciled; undone, the line is open again.
-- customer is who paid, where that is known: by it their account is known again.
-- made is JSON: what the reconciliation made and which entries it names.
CREATE TABLE reconciliations (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT    NOT NULL,
	version     INTEGER NOT NULL CHECK (version >= 1),
	created_us  INTEGER NOT NULL,
	created_by  TEXT    NOT NULL,
	line        TEXT    NOT NULL,
	customer    TEXT,
	certain     INTEGER NOT NULL CHECK (certain IN (0, 1)),
	undone_us   INTEGER,
	undone_by   TEXT,
	made        TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, undone_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, line) REFERENCES statement_lines (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX line_is_reconciled_once ON reconciliations (workshop_id, line) WHERE undone_us IS NULL;
CREATE INDEX reconciliations_newest ON reconciliations (workshop_id, created_us DESC, id DESC);
CREATE INDEX reconciliations_of_a_customer ON reconciliations (workshop_id, customer) WHERE customer IS NOT NULL;

-- Which entries of the books a line shows; no entry is shown twice.
CREATE TABLE shown_entries (
	workshop_id    TEXT    NOT NULL,
	entry          INTEGER NOT NULL,
	account        TEXT    NOT NULL,
	reconciliation TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, entry, account),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number),
	FOREIGN KEY (workshop_id, reconciliation) REFERENCES reconciliations (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX shown_entries_of_a_reconciliation ON shown_entries (workshop_id, reconciliation);
