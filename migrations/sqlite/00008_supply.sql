-- What the workshop gets hold of: stock with every movement, bins, orders,
-- substitutes. Nothing here is personal: people and jobs are named by id.

-- +goose Up

-- What is on the shelf of a part or kit. version counts its movements; sum is
-- the digest of them all, each with the one before it, so that one line in the
-- journal holds them. kept is JSON: how much for which job.
CREATE TABLE stock (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	part        TEXT    NOT NULL,
	version     INTEGER NOT NULL CHECK (version >= 1),
	changed_us  INTEGER NOT NULL,
	moved       INTEGER NOT NULL CHECK (moved >= 0),
	on_hand     TEXT    NOT NULL,
	kept        TEXT    NOT NULL,
	sum         TEXT    NOT NULL CHECK (length(sum) = 64),
	PRIMARY KEY (workshop_id, part)
) STRICT, WITHOUT ROWID;

CREATE TABLE stock_movements (
	workshop_id TEXT    NOT NULL,
	part        TEXT    NOT NULL,
	number      INTEGER NOT NULL CHECK (number >= 1),
	at_us       INTEGER NOT NULL,
	moved_by    TEXT    NOT NULL,
	kind        TEXT    NOT NULL CHECK (kind IN ('delivered', 'built', 'put back', 'issued', 'built in', 'returned', 'scrapped', 'counted', 'adjusted')),
	change      TEXT    NOT NULL,
	on_hand     TEXT    NOT NULL,
	knowing     INTEGER NOT NULL CHECK (knowing IN (0, 1)),
	job         TEXT,
	stage       TEXT    NOT NULL,
	kit         TEXT    NOT NULL,
	parts_order TEXT,
	delivery    INTEGER NOT NULL CHECK (delivery >= 0),
	PRIMARY KEY (workshop_id, part, number),
	FOREIGN KEY (workshop_id, part) REFERENCES stock (workshop_id, part),
	FOREIGN KEY (workshop_id, moved_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, parts_order) REFERENCES orders (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX stock_movements_of_a_job ON stock_movements (workshop_id, job) WHERE job IS NOT NULL;
CREATE INDEX stock_movements_of_an_order ON stock_movements (workshop_id, parts_order) WHERE parts_order IS NOT NULL;

-- Parts that are topped up: with so little or less on the shelf, so much is
-- ordered.
CREATE TABLE bins (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	part        TEXT    NOT NULL,
	version     INTEGER NOT NULL CHECK (version >= 1),
	changed_us  INTEGER NOT NULL,
	least       TEXT    NOT NULL,
	top_up      TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, part)
) STRICT, WITHOUT ROWID;

-- Orders to suppliers, with their lines and deliveries in the document.
CREATE TABLE orders (
	workshop_id     TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	version         INTEGER NOT NULL CHECK (version >= 1),
	created_us      INTEGER NOT NULL,
	created_by      TEXT    NOT NULL,
	changed_us      INTEGER NOT NULL,
	state           TEXT    NOT NULL CHECK (state IN ('draft', 'placed', 'part delivered', 'closed', 'cancelled')),
	supplier        TEXT    NOT NULL,
	name            TEXT    NOT NULL,
	placed_on       TEXT    NOT NULL CHECK (length(placed_on) IN (0, 10)),
	due_on          TEXT    NOT NULL CHECK (length(due_on) IN (0, 10)),
	edition         TEXT,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code)
) STRICT;

CREATE INDEX orders_newest ON orders (workshop_id, created_us DESC, id DESC);
CREATE INDEX orders_by_state ON orders (workshop_id, state, created_us DESC, id DESC);

-- A part taken in place of another: for one job, or from a day on.
CREATE TABLE substitutes (
	workshop_id TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT    NOT NULL,
	version     INTEGER NOT NULL CHECK (version >= 1),
	created_us  INTEGER NOT NULL,
	created_by  TEXT    NOT NULL,
	changed_us  INTEGER NOT NULL,
	changed_by  TEXT    NOT NULL,
	state       TEXT    NOT NULL CHECK (state IN ('waiting', 'agreed', 'refused', 'ended')),
	part        TEXT    NOT NULL,
	with_part   TEXT    NOT NULL,
	job         TEXT,
	from_day    TEXT    NOT NULL CHECK (length(from_day) IN (0, 10)),
	until_day   TEXT    NOT NULL CHECK (length(until_day) IN (0, 10)),
	shows       INTEGER NOT NULL CHECK (shows IN (0, 1)),
	agreed_on   TEXT    NOT NULL CHECK (length(agreed_on) IN (0, 10)),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX substitutes_newest ON substitutes (workshop_id, created_us DESC, id DESC);

-- +goose StatementBegin
CREATE TRIGGER movement_is_not_changed BEFORE UPDATE ON stock_movements
BEGIN
	SELECT RAISE(ABORT, 'what has moved is not changed: move it back');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER movement_is_not_removed BEFORE DELETE ON stock_movements
BEGIN
	SELECT RAISE(ABORT, 'what has moved is not changed: move it back');
END;
-- +goose StatementEnd
