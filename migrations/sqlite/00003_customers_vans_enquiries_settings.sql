-- Customers, the vans they keep, what they asked for, places reserved for
-- them, and what the workshop has set.
--
-- Names, addresses, telephone numbers, registrations and notes stand here and
-- in acceptances, and nowhere else: everything that is hashed or journalled
-- refers to these rows by id, so that they can be emptied.

-- +goose Up

-- found_… is what a search looks at, worked out by the program: names in small
-- letters without accents, spaces and signs (surname first, and given names
-- first), telephone numbers as digits without what a country dials first. An
-- emptied row keeps id, kind and days.
CREATE TABLE customers (
	workshop_id           TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id                    TEXT    NOT NULL,
	version               INTEGER NOT NULL CHECK (version >= 1),
	created_us            INTEGER NOT NULL,
	changed_us            INTEGER NOT NULL,
	erased_us             INTEGER,
	kind                  TEXT    NOT NULL CHECK (kind IN ('private', 'trade')),
	name                  TEXT    NOT NULL CHECK (length(name) <= 400),
	given_names           TEXT    NOT NULL CHECK (length(given_names) <= 400),
	contact               TEXT    NOT NULL CHECK (length(contact) <= 400),
	telephone             TEXT    NOT NULL CHECK (length(telephone) <= 100),
	other_telephone       TEXT    NOT NULL CHECK (length(other_telephone) <= 100),
	email                 TEXT    NOT NULL CHECK (length(email) <= 254),
	address               TEXT    NOT NULL CHECK (length(address) <= 2000),
	postcode              TEXT    NOT NULL CHECK (length(postcode) <= 20),
	country               TEXT    NOT NULL CHECK (length(country) IN (0, 2)),
	price_list            TEXT    NOT NULL CHECK (length(price_list) <= 80),
	credit_days           INTEGER CHECK (credit_days BETWEEN 0 AND 365),
	vat_number            TEXT    NOT NULL CHECK (length(vat_number) <= 400),
	notes                 TEXT    NOT NULL CHECK (length(notes) <= 10000),
	keep_until            TEXT    NOT NULL CHECK (length(keep_until) = 10),
	found_name            TEXT    NOT NULL,
	found_given           TEXT    NOT NULL,
	found_telephone       TEXT    NOT NULL,
	found_other_telephone TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, id),
	CHECK (name <> '' OR erased_us IS NOT NULL)
) STRICT;

CREATE INDEX customers_by_name ON customers (workshop_id, found_name, id);

-- facts is what is known of the van but for registration and vehicle
-- identification number, as JSON. registration is in plain form.
CREATE TABLE vans (
	workshop_id  TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id           TEXT    NOT NULL,
	version      INTEGER NOT NULL CHECK (version >= 1),
	created_us   INTEGER NOT NULL,
	changed_us   INTEGER NOT NULL,
	customer     TEXT,
	registration TEXT    NOT NULL CHECK (length(registration) <= 16),
	plate        TEXT    NOT NULL CHECK (length(plate) <= 16),
	vin          TEXT    NOT NULL CHECK (length(vin) IN (0, 17)),
	facts        TEXT    NOT NULL,
	words        TEXT    NOT NULL CHECK (length(words) <= 400),
	notes        TEXT    NOT NULL CHECK (length(notes) <= 10000),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id)
) STRICT;

CREATE INDEX vans_newest ON vans (workshop_id, created_us DESC, id DESC);
CREATE INDEX vans_by_registration ON vans (workshop_id, registration, created_us DESC, id DESC);
CREATE INDEX vans_of_a_customer ON vans (workshop_id, customer, created_us DESC, id DESC);

CREATE TABLE enquiries (
	workshop_id    TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id             TEXT    NOT NULL,
	version        INTEGER NOT NULL CHECK (version >= 1),
	created_us     INTEGER NOT NULL,
	changed_us     INTEGER NOT NULL,
	customer       TEXT,
	van            TEXT,
	source         TEXT    NOT NULL CHECK (length(source) <= 400),
	received_on    TEXT    NOT NULL CHECK (length(received_on) = 10),
	follow_up_on   TEXT    NOT NULL CHECK (length(follow_up_on) IN (0, 10)),
	wants          TEXT    NOT NULL CHECK (length(wants) <= 10000),
	notes          TEXT    NOT NULL CHECK (length(notes) <= 10000),
	state          TEXT    NOT NULL CHECK (state IN ('open', 'quoted', 'closed')),
	closed_because TEXT    NOT NULL CHECK (length(closed_because) <= 400),
	PRIMARY KEY (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id)
) STRICT;

CREATE INDEX enquiries_newest ON enquiries (workshop_id, created_us DESC, id DESC);
CREATE INDEX enquiries_by_state ON enquiries (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX enquiries_of_a_customer ON enquiries (workshop_id, customer, created_us DESC, id DESC);
CREATE INDEX enquiries_to_chase ON enquiries (workshop_id, state, follow_up_on, id);

-- A place held by a deposit before the specification is agreed.
CREATE TABLE reservations (
	workshop_id    TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id             TEXT    NOT NULL,
	number         INTEGER NOT NULL CHECK (number >= 1),
	version        INTEGER NOT NULL CHECK (version >= 1),
	created_us     INTEGER NOT NULL,
	changed_us     INTEGER NOT NULL,
	customer       TEXT    NOT NULL,
	van            TEXT,
	quote          TEXT,
	deposit_minor  INTEGER NOT NULL CHECK (deposit_minor > 0),
	currency       TEXT    NOT NULL CHECK (length(currency) = 3),
	reference      TEXT    NOT NULL CHECK (length(reference) BETWEEN 5 AND 25),
	slot_wanted_on TEXT    NOT NULL CHECK (length(slot_wanted_on) IN (0, 10)),
	agree_by       TEXT    NOT NULL CHECK (length(agree_by) = 10),
	state          TEXT    NOT NULL CHECK (state IN ('held', 'taken up', 'released')),
	notes          TEXT    NOT NULL CHECK (length(notes) <= 10000),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id),
	FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id)
) STRICT;

CREATE INDEX reservations_newest ON reservations (workshop_id, created_us DESC, id DESC);
CREATE INDEX reservations_by_state ON reservations (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX reservations_of_a_customer ON reservations (workshop_id, customer, created_us DESC, id DESC);

-- What the workshop has set, one row each: letterhead, terms and the like, in
-- one document. A workshop without a row has set nothing yet.
CREATE TABLE settings (
	workshop_id     TEXT    NOT NULL PRIMARY KEY REFERENCES workshops (workshop_id),
	version         INTEGER NOT NULL CHECK (version >= 1),
	changed_us      INTEGER NOT NULL,
	document        BLOB    NOT NULL,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) = 64)
) STRICT;
