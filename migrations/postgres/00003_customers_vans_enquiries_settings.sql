-- Customers, the vans they keep, what they asked for, places reserved for
-- them, and what the workshop has set: what sqlite/00003 says, for PostgreSQL.

-- +goose Up

CREATE TABLE customers (
	workshop_id           TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id                    TEXT COLLATE "C" NOT NULL,
	version               BIGINT NOT NULL CHECK (version >= 1),
	created_us            BIGINT NOT NULL,
	changed_us            BIGINT NOT NULL,
	erased_us             BIGINT,
	kind                  TEXT COLLATE "C" NOT NULL CHECK (kind IN ('private', 'trade')),
	name                  TEXT COLLATE "C" NOT NULL CHECK (length(name) <= 400),
	given_names           TEXT COLLATE "C" NOT NULL CHECK (length(given_names) <= 400),
	contact               TEXT COLLATE "C" NOT NULL CHECK (length(contact) <= 400),
	telephone             TEXT COLLATE "C" NOT NULL CHECK (length(telephone) <= 100),
	other_telephone       TEXT COLLATE "C" NOT NULL CHECK (length(other_telephone) <= 100),
	email                 TEXT COLLATE "C" NOT NULL CHECK (length(email) <= 254),
	address               TEXT COLLATE "C" NOT NULL CHECK (length(address) <= 2000),
	postcode              TEXT COLLATE "C" NOT NULL CHECK (length(postcode) <= 20),
	country               TEXT COLLATE "C" NOT NULL CHECK (length(country) IN (0, 2)),
	price_list            TEXT COLLATE "C" NOT NULL CHECK (length(price_list) <= 80),
	credit_days           BIGINT CHECK (credit_days BETWEEN 0 AND 365),
	vat_number            TEXT COLLATE "C" NOT NULL CHECK (length(vat_number) <= 400),
	notes                 TEXT COLLATE "C" NOT NULL CHECK (length(notes) <= 10000),
	keep_until            TEXT COLLATE "C" NOT NULL CHECK (length(keep_until) = 10),
	found_name            TEXT COLLATE "C" NOT NULL,
	found_given           TEXT COLLATE "C" NOT NULL,
	found_telephone       TEXT COLLATE "C" NOT NULL,
	found_other_telephone TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, id),
	CHECK (name <> '' OR erased_us IS NOT NULL)
);

CREATE INDEX customers_by_name ON customers (workshop_id, found_name, id);

CREATE TABLE vans (
	workshop_id  TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id           TEXT COLLATE "C" NOT NULL,
	version      BIGINT NOT NULL CHECK (version >= 1),
	created_us   BIGINT NOT NULL,
	changed_us   BIGINT NOT NULL,
	customer     TEXT COLLATE "C",
	registration TEXT COLLATE "C" NOT NULL CHECK (length(registration) <= 16),
	plate        TEXT COLLATE "C" NOT NULL CHECK (length(plate) <= 16),
	vin          TEXT COLLATE "C" NOT NULL CHECK (length(vin) IN (0, 17)),
	facts        TEXT COLLATE "C" NOT NULL,
	words        TEXT COLLATE "C" NOT NULL CHECK (length(words) <= 400),
	notes        TEXT COLLATE "C" NOT NULL CHECK (length(notes) <= 10000),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id)
);

CREATE INDEX vans_newest ON vans (workshop_id, created_us DESC, id DESC);
CREATE INDEX vans_by_registration ON vans (workshop_id, registration, created_us DESC, id DESC);
CREATE INDEX vans_of_a_customer ON vans (workshop_id, customer, created_us DESC, id DESC);

CREATE TABLE enquiries (
	workshop_id    TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id             TEXT COLLATE "C" NOT NULL,
	version        BIGINT NOT NULL CHECK (version >= 1),
	created_us     BIGINT NOT NULL,
	changed_us     BIGINT NOT NULL,
	customer       TEXT COLLATE "C",
	van            TEXT COLLATE "C",
	source         TEXT COLLATE "C" NOT NULL CHECK (length(source) <= 400),
	received_on    TEXT COLLATE "C" NOT NULL CHECK (length(received_on) = 10),
	follow_up_on   TEXT COLLATE "C" NOT NULL CHECK (length(follow_up_on) IN (0, 10)),
	wants          TEXT COLLATE "C" NOT NULL CHECK (length(wants) <= 10000),
	notes          TEXT COLLATE "C" NOT NULL CHECK (length(notes) <= 10000),
	state          TEXT COLLATE "C" NOT NULL CHECK (state IN ('open', 'quoted', 'closed')),
	closed_because TEXT COLLATE "C" NOT NULL CHECK (length(closed_because) <= 400),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id)
);

CREATE INDEX enquiries_newest ON enquiries (workshop_id, created_us DESC, id DESC);
CREATE INDEX enquiries_by_state ON enquiries (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX enquiries_of_a_customer ON enquiries (workshop_id, customer, created_us DESC, id DESC);
CREATE INDEX enquiries_to_chase ON enquiries (workshop_id, state, follow_up_on, id);

CREATE TABLE reservations (
	workshop_id    TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id             TEXT COLLATE "C" NOT NULL,
	number         BIGINT NOT NULL CHECK (number >= 1),
	version        BIGINT NOT NULL CHECK (version >= 1),
	created_us     BIGINT NOT NULL,
	changed_us     BIGINT NOT NULL,
	customer       TEXT COLLATE "C" NOT NULL,
	van            TEXT COLLATE "C",
	quote          TEXT COLLATE "C",
	deposit_minor  BIGINT NOT NULL CHECK (deposit_minor > 0),
	currency       TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	reference      TEXT COLLATE "C" NOT NULL CHECK (length(reference) BETWEEN 5 AND 25),
	slot_wanted_on TEXT COLLATE "C" NOT NULL CHECK (length(slot_wanted_on) IN (0, 10)),
	agree_by       TEXT COLLATE "C" NOT NULL CHECK (length(agree_by) = 10),
	state          TEXT COLLATE "C" NOT NULL CHECK (state IN ('held', 'taken up', 'released')),
	notes          TEXT COLLATE "C" NOT NULL CHECK (length(notes) <= 10000),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id),
	FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id)
);

CREATE INDEX reservations_newest ON reservations (workshop_id, created_us DESC, id DESC);
CREATE INDEX reservations_by_state ON reservations (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX reservations_of_a_customer ON reservations (workshop_id, customer, created_us DESC, id DESC);

CREATE TABLE settings (
	workshop_id     TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version         BIGINT NOT NULL CHECK (version >= 1),
	changed_us      BIGINT NOT NULL,
	document        BYTEA NOT NULL,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64)
);

CREATE POLICY of_the_workshop ON customers USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON vans USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON enquiries USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON reservations USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON settings USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE customers ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE vans ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE enquiries ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE reservations ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE settings ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON customers, vans, enquiries, reservations, settings TO wainscot_app;
