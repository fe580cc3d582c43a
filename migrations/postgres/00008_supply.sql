-- What the workshop gets hold of: stock with every movement, bins, orders,
-- substitutes: what the file of this number for SQLite says, for PostgreSQL.

-- +goose Up

CREATE TABLE orders (
	workshop_id     TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id              TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	version         BIGINT NOT NULL CHECK (version >= 1),
	created_us      BIGINT NOT NULL,
	created_by      TEXT COLLATE "C" NOT NULL,
	changed_us      BIGINT NOT NULL,
	state           TEXT COLLATE "C" NOT NULL CHECK (state IN ('draft', 'placed', 'part delivered', 'closed', 'cancelled')),
	supplier        TEXT COLLATE "C" NOT NULL,
	name            TEXT COLLATE "C" NOT NULL,
	placed_on       TEXT COLLATE "C" NOT NULL CHECK (length(placed_on) IN (0, 10)),
	due_on          TEXT COLLATE "C" NOT NULL CHECK (length(due_on) IN (0, 10)),
	edition         TEXT COLLATE "C",
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code)
);

CREATE TABLE stock (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	part        TEXT COLLATE "C" NOT NULL,
	version     BIGINT NOT NULL CHECK (version >= 1),
	changed_us  BIGINT NOT NULL,
	moved       BIGINT NOT NULL CHECK (moved >= 0),
	on_hand     TEXT COLLATE "C" NOT NULL,
	kept        TEXT COLLATE "C" NOT NULL,
	sum         TEXT COLLATE "C" NOT NULL CHECK (length(sum) = 64),
	PRIMARY KEY (workshop_id, part)
);

CREATE TABLE stock_movements (
	workshop_id TEXT COLLATE "C" NOT NULL,
	part        TEXT COLLATE "C" NOT NULL,
	number      BIGINT NOT NULL CHECK (number >= 1),
	at_us       BIGINT NOT NULL,
	moved_by    TEXT COLLATE "C" NOT NULL,
	kind        TEXT COLLATE "C" NOT NULL CHECK (kind IN ('delivered', 'built', 'put back', 'issued', 'built in', 'returned', 'scrapped', 'counted', 'adjusted')),
	change      TEXT COLLATE "C" NOT NULL,
	on_hand     TEXT COLLATE "C" NOT NULL,
	knowing     BIGINT NOT NULL CHECK (knowing IN (0, 1)),
	job         TEXT COLLATE "C",
	stage       TEXT COLLATE "C" NOT NULL,
	kit         TEXT COLLATE "C" NOT NULL,
	parts_order TEXT COLLATE "C",
	delivery    BIGINT NOT NULL CHECK (delivery >= 0),
	PRIMARY KEY (workshop_id, part, number),
	FOREIGN KEY (workshop_id, part) REFERENCES stock (workshop_id, part),
	FOREIGN KEY (workshop_id, moved_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id),
	FOREIGN KEY (workshop_id, parts_order) REFERENCES orders (workshop_id, id)
);

CREATE TABLE bins (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	part        TEXT COLLATE "C" NOT NULL,
	version     BIGINT NOT NULL CHECK (version >= 1),
	changed_us  BIGINT NOT NULL,
	least       TEXT COLLATE "C" NOT NULL,
	top_up      TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, part)
);

CREATE TABLE substitutes (
	workshop_id TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id          TEXT COLLATE "C" NOT NULL,
	version     BIGINT NOT NULL CHECK (version >= 1),
	created_us  BIGINT NOT NULL,
	created_by  TEXT COLLATE "C" NOT NULL,
	changed_us  BIGINT NOT NULL,
	changed_by  TEXT COLLATE "C" NOT NULL,
	state       TEXT COLLATE "C" NOT NULL CHECK (state IN ('waiting', 'agreed', 'refused', 'ended')),
	part        TEXT COLLATE "C" NOT NULL,
	with_part   TEXT COLLATE "C" NOT NULL,
	job         TEXT COLLATE "C",
	from_day    TEXT COLLATE "C" NOT NULL CHECK (length(from_day) IN (0, 10)),
	until_day   TEXT COLLATE "C" NOT NULL CHECK (length(until_day) IN (0, 10)),
	shows       BIGINT NOT NULL CHECK (shows IN (0, 1)),
	agreed_on   TEXT COLLATE "C" NOT NULL CHECK (length(agreed_on) IN (0, 10)),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, job) REFERENCES jobs (workshop_id, id)
);

CREATE INDEX stock_movements_of_a_job ON stock_movements (workshop_id, job) WHERE job IS NOT NULL;
CREATE INDEX stock_movements_of_an_order ON stock_movements (workshop_id, parts_order) WHERE parts_order IS NOT NULL;
CREATE INDEX orders_newest ON orders (workshop_id, created_us DESC, id DESC);
CREATE INDEX orders_by_state ON orders (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX substitutes_newest ON substitutes (workshop_id, created_us DESC, id DESC);

CREATE TRIGGER movement_is_not_changed BEFORE UPDATE ON stock_movements
FOR EACH ROW EXECUTE FUNCTION refuse('what has moved is not changed: move it back');

CREATE TRIGGER movement_is_not_removed BEFORE DELETE ON stock_movements
FOR EACH ROW EXECUTE FUNCTION refuse('what has moved is not changed: move it back');

CREATE TRIGGER movements_are_not_emptied BEFORE TRUNCATE ON stock_movements
EXECUTE FUNCTION refuse('what has moved is not changed: move it back');

CREATE POLICY of_the_workshop ON orders USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON stock USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON stock_movements USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON bins USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON substitutes USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE orders ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE stock ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE stock_movements ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE bins ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE substitutes ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON orders, stock, bins, substitutes TO wainscot_app;
GRANT SELECT, INSERT ON stock_movements TO wainscot_app;
