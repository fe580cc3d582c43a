-- What banks say: accounts, statements with every line, maps of columns, and
-- rules for lines that are set aside.

-- +goose Up

-- What stands where in the CSV of a bank; columns is JSON.
CREATE TABLE column_maps (
	workshop_id TEXT NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT NOT NULL,
	version     INTEGER NOT NULL CHECK (version >= 1),
	created_us  INTEGER NOT NULL,
	changed_us  INTEGER NOT NULL,
	name        TEXT NOT NULL,
	columns     TEXT NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, name)
) STRICT, WITHOUT ROWID;

-- The workshop's accounts at banks. What all statements of one come to stands
-- in its row, with the lines by state, and sum is the digest of the lines, each
-- with the one before it: one line in the journal holds them all.
CREATE TABLE bank_accounts (
	workshop_id      TEXT NOT NULL REFERENCES workshops (workshop_id),
	id               TEXT NOT NULL,
	version          INTEGER NOT NULL CHECK (version >= 1),
	created_us       INTEGER NOT NULL,
	changed_us       INTEGER NOT NULL,
	name             TEXT NOT NULL,
	number           TEXT NOT NULL,
	currency         TEXT NOT NULL CHECK (length(currency) = 3),
	holds            TEXT NOT NULL CHECK (holds IN ('bank', 'customers'' money')),
	column_map       TEXT,
	from_day         TEXT NOT NULL CHECK (length(from_day) IN (0, 10)),
	until_day        TEXT NOT NULL CHECK (length(until_day) IN (0, 10)),
	said_day         TEXT NOT NULL CHECK (length(said_day) IN (0, 10)),
	opening_minor    INTEGER,
	closing_minor    INTEGER,
	lines            INTEGER NOT NULL CHECK (lines >= 0),
	sum              TEXT NOT NULL CHECK (length(sum) = 64),
	open_lines       INTEGER NOT NULL CHECK (open_lines >= 0),
	open_minor       INTEGER NOT NULL,
	aside_lines      INTEGER NOT NULL CHECK (aside_lines >= 0),
	aside_minor      INTEGER NOT NULL,
	reconciled_lines INTEGER NOT NULL CHECK (reconciled_lines >= 0),
	reconciled_minor INTEGER NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number, currency),
	FOREIGN KEY (workshop_id, column_map) REFERENCES column_maps (workshop_id, id)
) STRICT, WITHOUT ROWID;

-- What came in from a bank, without its lines. place is which of the
-- statements in its file it was.
CREATE TABLE statements (
	workshop_id   TEXT NOT NULL,
	id            TEXT NOT NULL,
	created_us    INTEGER NOT NULL,
	created_by    TEXT NOT NULL,
	account       TEXT NOT NULL,
	source        TEXT NOT NULL CHECK (source IN ('camt.053', 'OFX', 'CSV')),
	bank_id       TEXT NOT NULL,
	from_day      TEXT NOT NULL CHECK (length(from_day) IN (0, 10)),
	until_day     TEXT NOT NULL CHECK (length(until_day) IN (0, 10)),
	opening_minor INTEGER,
	closing_minor INTEGER,
	lines         INTEGER NOT NULL CHECK (lines >= 0),
	new_lines     INTEGER NOT NULL CHECK (new_lines >= 0),
	not_booked    INTEGER NOT NULL CHECK (not_booked >= 0),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, account) REFERENCES bank_accounts (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id)
) STRICT, WITHOUT ROWID;

-- Which lines the books do not explain. words and party_account may name
-- somebody: they are in no digest.
CREATE TABLE set_aside_rules (
	workshop_id   TEXT NOT NULL REFERENCES workshops (workshop_id),
	id            TEXT NOT NULL,
	version       INTEGER NOT NULL CHECK (version >= 1),
	created_us    INTEGER NOT NULL,
	created_by    TEXT NOT NULL,
	changed_us    INTEGER NOT NULL,
	ended         INTEGER NOT NULL CHECK (ended IN (0, 1)),
	name          TEXT NOT NULL,
	side          TEXT NOT NULL CHECK (side IN ('', 'in', 'out')),
	currency      TEXT NOT NULL CHECK (length(currency) IN (0, 3)),
	least_minor   INTEGER,
	most_minor    INTEGER,
	words         TEXT NOT NULL,
	party_account TEXT NOT NULL,
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id)
) STRICT, WITHOUT ROWID;

-- The lines, each once however often a bank tells of it: identity is by what.
-- From reference on it is what people wrote and who they are; it is in no
-- digest of the journal, and is emptied with the customer it is of. kept_open:
-- somebody took it back from a rule, and no rule takes it again.
CREATE TABLE statement_lines (
	workshop_id      TEXT NOT NULL,
	id               TEXT NOT NULL,
	account          TEXT NOT NULL,
	number           INTEGER NOT NULL CHECK (number >= 1),
	statement        TEXT NOT NULL,
	day              TEXT NOT NULL CHECK (length(day) = 10),
	value_day        TEXT NOT NULL CHECK (length(value_day) IN (0, 10)),
	amount_minor     INTEGER NOT NULL,
	reversal         INTEGER NOT NULL CHECK (reversal IN (0, 1)),
	state            TEXT NOT NULL CHECK (state IN ('open', 'set aside', 'reconciled')),
	rule             TEXT,
	kept_open        INTEGER NOT NULL CHECK (kept_open IN (0, 1)),
	changed_us       INTEGER NOT NULL,
	identity         TEXT NOT NULL CHECK (length(identity) = 32),
	bank_id          TEXT NOT NULL,
	foreign_minor    INTEGER,
	foreign_currency TEXT NOT NULL,
	foreign_rate     TEXT NOT NULL,
	reference        TEXT NOT NULL,
	end_to_end       TEXT NOT NULL,
	party            TEXT NOT NULL,
	party_account    TEXT NOT NULL,
	words            TEXT NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, account, number),
	UNIQUE (workshop_id, account, identity),
	FOREIGN KEY (workshop_id, account) REFERENCES bank_accounts (workshop_id, id),
	FOREIGN KEY (workshop_id, statement) REFERENCES statements (workshop_id, id),
	FOREIGN KEY (workshop_id, rule) REFERENCES set_aside_rules (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX statements_newest ON statements (workshop_id, created_us DESC, id DESC);
CREATE INDEX set_aside_rules_newest ON set_aside_rules (workshop_id, created_us DESC, id DESC);
CREATE INDEX statement_lines_by_state ON statement_lines (workshop_id, state, day, id);
CREATE INDEX statement_lines_of_a_rule ON statement_lines (workshop_id, rule) WHERE rule IS NOT NULL;
CREATE INDEX statement_lines_by_day ON statement_lines (workshop_id, account, day);

-- +goose StatementBegin
CREATE TRIGGER statement_is_not_changed BEFORE UPDATE ON statements
BEGIN
	SELECT RAISE(ABORT, 'a statement is not changed: import the right one');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER statement_is_not_removed BEFORE DELETE ON statements
BEGIN
	SELECT RAISE(ABORT, 'a statement is not changed: import the right one');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER statement_line_is_not_removed BEFORE DELETE ON statement_lines
BEGIN
	SELECT RAISE(ABORT, 'a line of a statement is not removed: set it aside');
END;
-- +goose StatementEnd
