-- What banks say: what sqlite/00014 says, for PostgreSQL.

-- +goose Up

CREATE TABLE column_maps (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT COLLATE "C" NOT NULL,
	version     BIGINT NOT NULL CHECK (version >= 1),
	created_us  BIGINT NOT NULL,
	changed_us  BIGINT NOT NULL,
	name        TEXT COLLATE "C" NOT NULL,
	columns     TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, name)
);

CREATE TABLE bank_accounts (
	workshop_id      TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id               TEXT COLLATE "C" NOT NULL,
	version          BIGINT NOT NULL CHECK (version >= 1),
	created_us       BIGINT NOT NULL,
	changed_us       BIGINT NOT NULL,
	name             TEXT COLLATE "C" NOT NULL,
	number           TEXT COLLATE "C" NOT NULL,
	currency         TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	holds            TEXT COLLATE "C" NOT NULL CHECK (holds IN ('bank', 'customers'' money')),
	column_map       TEXT COLLATE "C",
	from_day         TEXT COLLATE "C" NOT NULL CHECK (length(from_day) IN (0, 10)),
	until_day        TEXT COLLATE "C" NOT NULL CHECK (length(until_day) IN (0, 10)),
	said_day         TEXT COLLATE "C" NOT NULL CHECK (length(said_day) IN (0, 10)),
	opening_minor    BIGINT,
	closing_minor    BIGINT,
	lines            BIGINT NOT NULL CHECK (lines >= 0),
	sum              TEXT COLLATE "C" NOT NULL CHECK (length(sum) = 64),
	open_lines       BIGINT NOT NULL CHECK (open_lines >= 0),
	open_minor       BIGINT NOT NULL,
	aside_lines      BIGINT NOT NULL CHECK (aside_lines >= 0),
	aside_minor      BIGINT NOT NULL,
	reconciled_lines BIGINT NOT NULL CHECK (reconciled_lines >= 0),
	reconciled_minor BIGINT NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number, currency),
	FOREIGN KEY (workshop_id, column_map) REFERENCES column_maps (workshop_id, id)
);

CREATE TABLE statements (
	workshop_id   TEXT COLLATE "C" NOT NULL,
	id            TEXT COLLATE "C" NOT NULL,
	created_us    BIGINT NOT NULL,
	created_by    TEXT COLLATE "C" NOT NULL,
	account       TEXT COLLATE "C" NOT NULL,
	source        TEXT COLLATE "C" NOT NULL CHECK (source IN ('camt.053', 'OFX', 'CSV')),
	bank_id       TEXT COLLATE "C" NOT NULL,
	from_day      TEXT COLLATE "C" NOT NULL CHECK (length(from_day) IN (0, 10)),
	until_day     TEXT COLLATE "C" NOT NULL CHECK (length(until_day) IN (0, 10)),
	opening_minor BIGINT,
	closing_minor BIGINT,
	lines         BIGINT NOT NULL CHECK (lines >= 0),
	new_lines     BIGINT NOT NULL CHECK (new_lines >= 0),
	not_booked    BIGINT NOT NULL CHECK (not_booked >= 0),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, account) REFERENCES bank_accounts (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE set_aside_rules (
	workshop_id   TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id            TEXT COLLATE "C" NOT NULL,
	version       BIGINT NOT NULL CHECK (version >= 1),
	created_us    BIGINT NOT NULL,
	created_by    TEXT COLLATE "C" NOT NULL,
	changed_us    BIGINT NOT NULL,
	ended         BIGINT NOT NULL CHECK (ended IN (0, 1)),
	name          TEXT COLLATE "C" NOT NULL,
	side          TEXT COLLATE "C" NOT NULL CHECK (side IN ('', 'in', 'out')),
	currency      TEXT COLLATE "C" NOT NULL CHECK (length(currency) IN (0, 3)),
	least_minor   BIGINT,
	most_minor    BIGINT,
	words         TEXT COLLATE "C" NOT NULL,
	party_account TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE statement_lines (
	workshop_id      TEXT COLLATE "C" NOT NULL,
	id               TEXT COLLATE "C" NOT NULL,
	account          TEXT COLLATE "C" NOT NULL,
	number           BIGINT NOT NULL CHECK (number >= 1),
	statement        TEXT COLLATE "C" NOT NULL,
	day              TEXT COLLATE "C" NOT NULL CHECK (length(day) = 10),
	value_day        TEXT COLLATE "C" NOT NULL CHECK (length(value_day) IN (0, 10)),
	amount_minor     BIGINT NOT NULL,
	reversal         BIGINT NOT NULL CHECK (reversal IN (0, 1)),
	state            TEXT COLLATE "C" NOT NULL CHECK (state IN ('open', 'set aside', 'reconciled')),
	rule             TEXT COLLATE "C",
	kept_open        BIGINT NOT NULL CHECK (kept_open IN (0, 1)),
	changed_us       BIGINT NOT NULL,
	identity         TEXT COLLATE "C" NOT NULL CHECK (length(identity) = 32),
	bank_id          TEXT COLLATE "C" NOT NULL,
	foreign_minor    BIGINT,
	foreign_currency TEXT COLLATE "C" NOT NULL,
	foreign_rate     TEXT COLLATE "C" NOT NULL,
	reference        TEXT COLLATE "C" NOT NULL,
	end_to_end       TEXT COLLATE "C" NOT NULL,
	party            TEXT COLLATE "C" NOT NULL,
	party_account    TEXT COLLATE "C" NOT NULL,
	words            TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, account, number),
	UNIQUE (workshop_id, account, identity),
	FOREIGN KEY (workshop_id, account) REFERENCES bank_accounts (workshop_id, id),
	FOREIGN KEY (workshop_id, statement) REFERENCES statements (workshop_id, id),
	FOREIGN KEY (workshop_id, rule) REFERENCES set_aside_rules (workshop_id, id)
);

CREATE INDEX statements_newest ON statements (workshop_id, created_us DESC, id DESC);
CREATE INDEX set_aside_rules_newest ON set_aside_rules (workshop_id, created_us DESC, id DESC);
CREATE INDEX statement_lines_by_state ON statement_lines (workshop_id, state, day, id);
CREATE INDEX statement_lines_of_a_rule ON statement_lines (workshop_id, rule) WHERE rule IS NOT NULL;
CREATE INDEX statement_lines_by_day ON statement_lines (workshop_id, account, day);

CREATE TRIGGER statement_is_not_changed BEFORE UPDATE ON statements
FOR EACH ROW EXECUTE FUNCTION refuse('a statement is not changed: import the right one');

CREATE TRIGGER statement_is_not_removed BEFORE DELETE ON statements
FOR EACH ROW EXECUTE FUNCTION refuse('a statement is not changed: import the right one');

CREATE TRIGGER statements_are_not_emptied BEFORE TRUNCATE ON statements
EXECUTE FUNCTION refuse('a statement is not changed: import the right one');

CREATE TRIGGER statement_line_is_not_removed BEFORE DELETE ON statement_lines
FOR EACH ROW EXECUTE FUNCTION refuse('a line of a statement is not removed: set it aside');

CREATE TRIGGER statement_lines_are_not_emptied BEFORE TRUNCATE ON statement_lines
EXECUTE FUNCTION refuse('a line of a statement is not removed: set it aside');

CREATE POLICY of_the_workshop ON column_maps USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON bank_accounts USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON statements USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON set_aside_rules USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON statement_lines USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE column_maps ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE bank_accounts ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE statements ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE set_aside_rules ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE statement_lines ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON column_maps, bank_accounts, set_aside_rules, statement_lines TO wainscot_app;
GRANT SELECT, INSERT ON statements TO wainscot_app;
