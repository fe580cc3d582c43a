-- Workshops, their people, what they offer, what it costs, and quotes: what
-- sqlite/00001 says, for PostgreSQL.
--
-- INTEGER there is BIGINT here, TEXT has the collation "C" (it sorts by its
-- bytes, as SQLite's does, whatever the database's own), BLOB is BYTEA.
--
-- Whoever runs the migrations owns the tables. The server runs as another
-- role, a member of wainscot_app, which may do only what is granted at the
-- end and sees only the rows of the workshop that its transaction has set in
-- wainscot.workshop. The policies are FORCEd, so they hold for the owner too.
-- A later migration that changes rows must lift that in its transaction
-- (ALTER TABLE … NO FORCE ROW LEVEL SECURITY) and put it back.

-- +goose Up

-- +goose StatementBegin
DO $$
BEGIN
	IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'wainscot_app') THEN
		RAISE EXCEPTION 'there is no role wainscot_app: make it first (CREATE ROLE wainscot_app NOLOGIN) and let the role that serves be a member of it';
	END IF;
	IF current_schema() <> 'public' THEN
		EXECUTE format('GRANT USAGE ON SCHEMA %I TO wainscot_app', current_schema());
	END IF;
END
$$;
-- +goose StatementEnd

CREATE TABLE workshops (
	workshop_id TEXT COLLATE "C" NOT NULL PRIMARY KEY CHECK (workshop_id <> ''),
	code        TEXT COLLATE "C" NOT NULL CHECK (length(code) BETWEEN 1 AND 64),
	name        TEXT COLLATE "C" NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
	currency    TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	time_zone   TEXT COLLATE "C" NOT NULL,
	created_us  BIGINT NOT NULL
);

CREATE UNIQUE INDEX workshops_by_code ON workshops (code);

CREATE TABLE counters (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	series      TEXT COLLATE "C" NOT NULL,
	last        BIGINT NOT NULL CHECK (last >= 0),
	PRIMARY KEY (workshop_id, series)
);

CREATE TABLE people (
	workshop_id   TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id            TEXT COLLATE "C" NOT NULL,
	name          TEXT COLLATE "C" NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
	email         TEXT COLLATE "C" NOT NULL CHECK (length(email) BETWEEN 3 AND 254),
	role          TEXT COLLATE "C" NOT NULL CHECK (role IN ('owner', 'sales', 'workshop', 'books')),
	password_hash TEXT COLLATE "C" NOT NULL,
	created_us    BIGINT NOT NULL,
	left_us       BIGINT,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, email)
);

CREATE TABLE releases (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	number          BIGINT NOT NULL CHECK (number >= 1),
	hash            TEXT COLLATE "C" NOT NULL,
	published_us    BIGINT NOT NULL,
	published_by    TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, number),
	FOREIGN KEY (workshop_id, published_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE editions (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	code            TEXT COLLATE "C" NOT NULL CHECK (length(code) BETWEEN 1 AND 64),
	in_force_from   TEXT COLLATE "C" NOT NULL CHECK (length(in_force_from) = 10),
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	hash            TEXT COLLATE "C" NOT NULL,
	added_us        BIGINT NOT NULL,
	added_by        TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, code),
	UNIQUE (workshop_id, in_force_from),
	FOREIGN KEY (workshop_id, added_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE quotes (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	version         BIGINT NOT NULL CHECK (version >= 1),
	state           TEXT COLLATE "C" NOT NULL,
	created_us      BIGINT NOT NULL,
	created_by      TEXT COLLATE "C" NOT NULL,
	changed_us      BIGINT NOT NULL,
	changed_by      TEXT COLLATE "C" NOT NULL,
	base_van        TEXT COLLATE "C" NOT NULL,
	registration    TEXT COLLATE "C" NOT NULL,
	release         BIGINT NOT NULL,
	edition         TEXT COLLATE "C" NOT NULL,
	total_minor     BIGINT NOT NULL,
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	hours           TEXT COLLATE "C" NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code)
);

CREATE INDEX quotes_newest ON quotes (workshop_id, created_us DESC, id DESC);
CREATE INDEX quotes_by_registration ON quotes (workshop_id, registration, created_us DESC, id DESC);

CREATE TABLE journal (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	seq         BIGINT NOT NULL CHECK (seq >= 1),
	at_us       BIGINT NOT NULL,
	person      TEXT COLLATE "C" NOT NULL,
	verb        TEXT COLLATE "C" NOT NULL,
	noun        TEXT COLLATE "C" NOT NULL,
	id          TEXT COLLATE "C" NOT NULL,
	content     BYTEA NOT NULL,
	hash        BYTEA NOT NULL CHECK (length(hash) = 32),
	previous    BYTEA NOT NULL CHECK (length(previous) = 32),
	PRIMARY KEY (workshop_id, seq),
	FOREIGN KEY (workshop_id, person) REFERENCES people (workshop_id, id)
);

CREATE INDEX journal_by_thing ON journal (workshop_id, noun, id, seq);

-- +goose StatementBegin
CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
	RAISE EXCEPTION '%', TG_ARGV[0];
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION journal_is_appended() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
	IF NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM journal WHERE workshop_id = NEW.workshop_id) THEN
		RAISE EXCEPTION 'the journal is written line after line';
	END IF;
	RETURN NEW;
END
$$;
-- +goose StatementEnd

CREATE TRIGGER journal_is_appended BEFORE INSERT ON journal
FOR EACH ROW EXECUTE FUNCTION journal_is_appended();

CREATE TRIGGER journal_is_not_changed BEFORE UPDATE ON journal
FOR EACH ROW EXECUTE FUNCTION refuse('the journal is not changed');

CREATE TRIGGER journal_is_not_cut BEFORE DELETE ON journal
FOR EACH ROW EXECUTE FUNCTION refuse('the journal is not cut');

CREATE TRIGGER journal_is_not_emptied BEFORE TRUNCATE ON journal
EXECUTE FUNCTION refuse('the journal is not cut');

CREATE TRIGGER release_is_not_changed BEFORE UPDATE ON releases
FOR EACH ROW EXECUTE FUNCTION refuse('a published release never changes');

CREATE TRIGGER release_is_not_removed BEFORE DELETE ON releases
FOR EACH ROW EXECUTE FUNCTION refuse('a published release never changes');

CREATE TRIGGER releases_are_not_emptied BEFORE TRUNCATE ON releases
EXECUTE FUNCTION refuse('a published release never changes');

-- A setting that is absent is NULL, one that another transaction of the same
-- connection has had is ''; neither is any workshop's id.
CREATE POLICY of_the_workshop ON workshops USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON counters USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON people USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON releases USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON editions USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON quotes USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON journal USING (workshop_id = current_setting('wainscot.workshop', true));

-- Before anybody has signed in only a code is known: it shows the one workshop
-- that has it. Whoever runs the machine may list them all. Neither shows a row
-- of any other table.
CREATE POLICY by_its_code ON workshops FOR SELECT USING (code = current_setting('wainscot.code', true));
CREATE POLICY for_the_operator ON workshops FOR SELECT USING (current_setting('wainscot.list_workshops', true) = 'on');

ALTER TABLE workshops ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE counters ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE people ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE releases ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE editions ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE quotes ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE journal ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT ON goose_db_version TO wainscot_app;
GRANT SELECT, INSERT, UPDATE ON workshops, counters, people, quotes TO wainscot_app;
GRANT SELECT, INSERT ON releases, editions, journal TO wainscot_app;
