-- What lines of statements were found to be: what sqlite/00017 says, for
-- PostgreSQL.

-- +goose Up

CREATE TABLE reconciliations (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT COLLATE "C" NOT NULL,
	version     BIGINT NOT NULL CHECK (version >= 1),
	created_us  BIGINT NOT NULL,
	created_by  TEXT COLLATE "C" NOT NULL,
	line        TEXT COLLATE "C" NOT NULL,
	customer    TEXT COLLATE "C",
	certain     BIGINT NOT NULL CHECK (certain IN (0, 1)),
	undone_us   BIGINT,
	undone_by   TEXT COLLATE "C",
	made        TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, undone_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, line) REFERENCES statement_lines (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id)
);

CREATE UNIQUE INDEX line_is_reconciled_once ON reconciliations (workshop_id, line) WHERE undone_us IS NULL;
CREATE INDEX reconciliations_newest ON reconciliations (workshop_id, created_us DESC, id DESC);
CREATE INDEX reconciliations_of_a_customer ON reconciliations (workshop_id, customer) WHERE customer IS NOT NULL;

CREATE TABLE shown_entries (
	workshop_id    TEXT COLLATE "C" NOT NULL,
	entry          BIGINT NOT NULL,
	account        TEXT COLLATE "C" NOT NULL,
	reconciliation TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, entry, account),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number),
	FOREIGN KEY (workshop_id, reconciliation) REFERENCES reconciliations (workshop_id, id)
);

CREATE INDEX shown_entries_of_a_reconciliation ON shown_entries (workshop_id, reconciliation);

CREATE POLICY of_the_workshop ON reconciliations USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON shown_entries USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE reconciliations ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE shown_entries ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON reconciliations TO wainscot_app;
GRANT SELECT, INSERT, DELETE ON shown_entries TO wainscot_app;
