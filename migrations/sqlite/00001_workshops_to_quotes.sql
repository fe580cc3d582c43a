-- Workshops, their people, what they offer, what it costs, and quotes.
--
-- workshop_id stands first in every primary, unique and foreign key, so that
-- no statement that names one workshop's key can reach another's row. The one
-- unique key without it is the workshop's own code.
--
-- Moments are whole microseconds since 1970-01-01T00:00Z (…_us), days are
-- text YYYY-MM-DD, money is whole minor units (…_minor) beside its currency,
-- other decimals are text and are worked in the program. Ids are UUIDs as
-- text. Documents are zstd, with the SHA-256 of what they unpack to.

-- +goose Up
CREATE TABLE workshops (
	workshop_id TEXT    NOT NULL PRIMARY KEY,
	code        TEXT    NOT NULL CHECK (length(code) BETWEEN 1 AND 64),
	name        TEXT    NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
	currency    TEXT    NOT NULL CHECK (length(currency) = 3),
	time_zone   TEXT    NOT NULL,
	created_us  INTEGER NOT NULL
) STRICT;

CREATE UNIQUE INDEX workshops_by_code ON workshops (code);

-- The last number given out of each series, so that numbers have no gaps: the
-- row is counted up in the transaction that uses the number.
CREATE TABLE counters (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	series      TEXT    NOT NULL,
	last        INTEGER NOT NULL CHECK (last >= 0),
	PRIMARY KEY (workshop_id, series)
) STRICT, WITHOUT ROWID;

-- Names and addresses of people stand here and nowhere else.
CREATE TABLE people (
	workshop_id   TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id            TEXT    NOT NULL,
	name          TEXT    NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
	email         TEXT    NOT NULL CHECK (length(email) BETWEEN 3 AND 254),
	role          TEXT    NOT NULL CHECK (role IN ('owner', 'sales', 'workshop', 'books')),
	password_hash TEXT    NOT NULL,
	created_us    INTEGER NOT NULL,
	left_us       INTEGER,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, email)
) STRICT;

CREATE TABLE releases (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	number          INTEGER NOT NULL CHECK (number >= 1),
	hash            TEXT    NOT NULL,
	published_us    INTEGER NOT NULL,
	published_by    TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, number),
	FOREIGN KEY (workshop_id, published_by) REFERENCES people (workshop_id, id)
) STRICT;

CREATE TABLE editions (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	code            TEXT    NOT NULL CHECK (length(code) BETWEEN 1 AND 64),
	in_force_from   TEXT    NOT NULL CHECK (length(in_force_from) = 10),
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	hash            TEXT    NOT NULL,
	added_us        INTEGER NOT NULL,
	added_by        TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, code),
	UNIQUE (workshop_id, in_force_from),
	FOREIGN KEY (workshop_id, added_by) REFERENCES people (workshop_id, id)
) STRICT;

CREATE TABLE quotes (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	version         INTEGER NOT NULL CHECK (version >= 1),
	state           TEXT    NOT NULL,
	created_us      INTEGER NOT NULL,
	created_by      TEXT    NOT NULL,
	changed_us      INTEGER NOT NULL,
	changed_by      TEXT    NOT NULL,
	base_van        TEXT    NOT NULL,
	registration    TEXT    NOT NULL,
	release         INTEGER NOT NULL,
	edition         TEXT    NOT NULL,
	total_minor     INTEGER NOT NULL,
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	hours           TEXT    NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code)
) STRICT;

CREATE INDEX quotes_newest ON quotes (workshop_id, created_us DESC, id DESC);
CREATE INDEX quotes_by_registration ON quotes (workshop_id, registration, created_us DESC, id DESC);

-- Who did what when. Each line's hash covers the line before it, so that a
-- line changed or taken out shows; the triggers keep honest mistakes out.
CREATE TABLE journal (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	seq         INTEGER NOT NULL CHECK (seq >= 1),
	at_us       INTEGER NOT NULL,
	person      TEXT    NOT NULL,
	verb        TEXT    NOT NULL,
	noun        TEXT    NOT NULL,
	id          TEXT    NOT NULL,
	content     BLOB    NOT NULL,
	hash        BLOB    NOT NULL CHECK (length(hash) = 32),
	previous    BLOB    NOT NULL CHECK (length(previous) = 32),
	PRIMARY KEY (workshop_id, seq),
	FOREIGN KEY (workshop_id, person) REFERENCES people (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX journal_by_thing ON journal (workshop_id, noun, id, seq);

-- +goose StatementBegin
CREATE TRIGGER journal_is_appended BEFORE INSERT ON journal
WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM journal WHERE workshop_id = NEW.workshop_id)
BEGIN
	SELECT RAISE(ABORT, 'the journal is written line after line');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER journal_is_not_changed BEFORE UPDATE ON journal
BEGIN
	SELECT RAISE(ABORT, 'the journal is not changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER journal_is_not_cut BEFORE DELETE ON journal
BEGIN
	SELECT RAISE(ABORT, 'the journal is not cut');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER release_is_not_changed BEFORE UPDATE ON releases
BEGIN
	SELECT RAISE(ABORT, 'a published release never changes');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER release_is_not_removed BEFORE DELETE ON releases
BEGIN
	SELECT RAISE(ABORT, 'a published release never changes');
END;
-- +goose StatementEnd
