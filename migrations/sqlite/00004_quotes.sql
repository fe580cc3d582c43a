-- Quotes with their revisions, the vans they are for, acceptances and links.
--
-- Personal are, and stand in no digest: quotes.note and declined_because,
-- quote_vans.registration, plate and vin, acceptances.by_name and
-- express_request, and what acceptance_evidence holds. They can be emptied and
-- everything still verifies.

-- +goose Up
PRAGMA defer_foreign_keys = ON;

CREATE TABLE quotes_before AS SELECT * FROM quotes;
DROP TABLE quotes;

-- The head of a quote. state, release, edition, days, sums and
-- document_sha256 are those of its latest revision, so that a list needs no
-- other table. journalled is the form of the digest that the journal has of
-- the row: 1 is of the time before revisions.
CREATE TABLE quotes (
	workshop_id      TEXT    NOT NULL REFERENCES workshops (workshop_id),
	id               TEXT    NOT NULL,
	number           INTEGER NOT NULL CHECK (number >= 1),
	version          INTEGER NOT NULL CHECK (version >= 1),
	state            TEXT    NOT NULL CHECK (state IN ('draft', 'issued', 'accepted', 'declined')),
	revision         INTEGER NOT NULL CHECK (revision >= 1),
	created_us       INTEGER NOT NULL,
	created_by       TEXT    NOT NULL,
	changed_us       INTEGER NOT NULL,
	changed_by       TEXT    NOT NULL,
	customer         TEXT,
	end_customer     TEXT,
	enquiry          TEXT,
	issued_on        TEXT    NOT NULL CHECK (length(issued_on) IN (0, 10)),
	valid_until      TEXT    NOT NULL CHECK (length(valid_until) IN (0, 10)),
	slot_wanted      TEXT    NOT NULL CHECK (length(slot_wanted) IN (0, 10)),
	follow_up_on     TEXT    NOT NULL CHECK (length(follow_up_on) IN (0, 10)),
	note             TEXT    NOT NULL,
	declined_because TEXT    NOT NULL,
	release          INTEGER NOT NULL,
	edition          TEXT    NOT NULL,
	total_minor      INTEGER NOT NULL,
	currency         TEXT    NOT NULL CHECK (length(currency) = 3),
	hours            TEXT    NOT NULL,
	document_sha256  TEXT    NOT NULL CHECK (length(document_sha256) = 64),
	journalled       INTEGER NOT NULL CHECK (journalled IN (1, 2)),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, end_customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, enquiry) REFERENCES enquiries (workshop_id, id),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code)
) STRICT, WITHOUT ROWID;

CREATE INDEX quotes_newest ON quotes (workshop_id, created_us DESC, id DESC);
CREATE INDEX quotes_by_state ON quotes (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX quotes_of_a_customer ON quotes (workshop_id, customer, created_us DESC, id DESC)
	WHERE customer IS NOT NULL;
CREATE INDEX quotes_of_an_end_customer ON quotes (workshop_id, end_customer) WHERE end_customer IS NOT NULL;
CREATE INDEX quotes_of_an_enquiry ON quotes (workshop_id, enquiry) WHERE enquiry IS NOT NULL;
CREATE INDEX quotes_to_follow_up ON quotes (workshop_id, follow_up_on) WHERE follow_up_on <> '';

-- One row a revision. What was asked is what a draft is worked out from;
-- document is what was frozen when it was issued. Both are zstd. Lapsed is no
-- state: it follows from valid_until and the day.
CREATE TABLE revisions (
	workshop_id     TEXT    NOT NULL,
	quote           TEXT    NOT NULL,
	number          INTEGER NOT NULL CHECK (number >= 1),
	state           TEXT    NOT NULL CHECK (state IN ('draft', 'issued', 'accepted', 'declined', 'superseded')),
	created_us      INTEGER NOT NULL,
	created_by      TEXT    NOT NULL,
	release         INTEGER NOT NULL,
	edition         TEXT    NOT NULL,
	held_edition    TEXT,
	issued_on       TEXT    NOT NULL CHECK (length(issued_on) IN (0, 10)),
	valid_until     TEXT    NOT NULL CHECK (length(valid_until) IN (0, 10)),
	total_minor     INTEGER NOT NULL,
	currency        TEXT    NOT NULL CHECK (length(currency) = 3),
	hours           TEXT    NOT NULL,
	asked           BLOB    NOT NULL,
	asked_sha256    TEXT    NOT NULL CHECK (length(asked_sha256) = 64),
	document        BLOB,
	document_sha256 TEXT    NOT NULL CHECK (length(document_sha256) IN (0, 64)),
	PRIMARY KEY (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code),
	FOREIGN KEY (workshop_id, held_edition) REFERENCES editions (workshop_id, code),
	CHECK ((state = 'draft') = (document IS NULL)),
	CHECK ((state = 'draft') = (document_sha256 = '')),
	CHECK ((state = 'draft') = (issued_on = ''))
) STRICT;

-- The vans a revision is for, in its order. A van the workshop keeps is named
-- by its id; of another only what tells it from others is kept, here:
-- registration in plain form, plate as it was typed.
CREATE TABLE quote_vans (
	workshop_id  TEXT    NOT NULL,
	quote        TEXT    NOT NULL,
	revision     INTEGER NOT NULL,
	place        INTEGER NOT NULL CHECK (place >= 1),
	van          TEXT,
	base_van     TEXT    NOT NULL,
	registration TEXT    NOT NULL,
	plate        TEXT    NOT NULL,
	vin          TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, quote, revision, place),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX quote_vans_by_registration ON quote_vans (workshop_id, registration);
CREATE INDEX quote_vans_of_a_van ON quote_vans (workshop_id, van) WHERE van IS NOT NULL;

-- The customer's yes: one a quote. revision is what was accepted, offered what
-- was offered; with extras ticked they are two. extras and evidence are JSON:
-- which were ticked, and the SHA-256 of each piece of evidence.
CREATE TABLE acceptances (
	workshop_id     TEXT    NOT NULL,
	quote           TEXT    NOT NULL,
	offered         INTEGER NOT NULL,
	revision        INTEGER NOT NULL,
	how             TEXT    NOT NULL CHECK (how IN ('counter', 'paper', 'link')),
	accepted_on     TEXT    NOT NULL CHECK (length(accepted_on) = 10),
	at_us           INTEGER NOT NULL,
	recorded_by     TEXT    NOT NULL,
	place           TEXT    NOT NULL,
	terms_sha256    TEXT    NOT NULL CHECK (length(terms_sha256) = 64),
	extras          TEXT    NOT NULL,
	evidence        TEXT    NOT NULL,
	cancel_applies  INTEGER NOT NULL CHECK (cancel_applies IN (0, 1)),
	cancel_last_day TEXT    NOT NULL CHECK (length(cancel_last_day) IN (0, 10)),
	cancel_cites    TEXT    NOT NULL,
	cancel_says     TEXT    NOT NULL,
	early_work      INTEGER NOT NULL CHECK (early_work IN (0, 1)),
	by_name         TEXT    NOT NULL,
	express_request TEXT    NOT NULL,
	PRIMARY KEY (workshop_id, quote),
	FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id),
	FOREIGN KEY (workshop_id, quote, offered) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, recorded_by) REFERENCES people (workshop_id, id)
) STRICT;

-- content is NULL where there never was any, or where it has been erased; its
-- SHA-256 stays.
CREATE TABLE acceptance_evidence (
	workshop_id TEXT    NOT NULL,
	quote       TEXT    NOT NULL,
	place       INTEGER NOT NULL CHECK (place >= 1),
	says        TEXT    NOT NULL,
	media_type  TEXT    NOT NULL,
	sha256      TEXT    NOT NULL CHECK (length(sha256) IN (0, 64)),
	content     BLOB,
	PRIMARY KEY (workshop_id, quote, place),
	FOREIGN KEY (workshop_id, quote) REFERENCES acceptances (workshop_id, quote)
) STRICT;

-- Of a link's secret only the hash is kept.
CREATE TABLE quote_links (
	workshop_id   TEXT    NOT NULL,
	id            TEXT    NOT NULL,
	quote         TEXT    NOT NULL,
	revision      INTEGER NOT NULL,
	secret_sha256 TEXT    NOT NULL CHECK (length(secret_sha256) = 64),
	made_us       INTEGER NOT NULL,
	made_by       TEXT    NOT NULL,
	withdrawn_us  INTEGER,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, secret_sha256),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, made_by) REFERENCES people (workshop_id, id)
) STRICT;

CREATE INDEX quote_links_of_a_quote ON quote_links (workshop_id, quote);

-- What there was of quotes: drafts, each the first revision of its quote. The
-- document a draft had stands where what was asked for stands now.
INSERT INTO quotes SELECT workshop_id, id, number, version, 'draft', 1, created_us, created_by, changed_us, changed_by,
	NULL, NULL, NULL, '', '', '', '', '', '', release, edition, total_minor, currency, hours, document_sha256, 1
FROM quotes_before;

INSERT INTO revisions SELECT workshop_id, id, 1, 'draft', created_us, created_by, release, edition, NULL,
	'', '', total_minor, currency, hours, document, document_sha256, NULL, ''
FROM quotes_before;

INSERT INTO quote_vans SELECT workshop_id, id, 1, 1, NULL, base_van, registration, registration, '' FROM quotes_before;

DROP TABLE quotes_before;

-- +goose StatementBegin
CREATE TRIGGER frozen_revision_is_not_changed BEFORE UPDATE ON revisions
WHEN OLD.state <> 'draft' AND (
	NEW.state = 'draft' OR NEW.workshop_id <> OLD.workshop_id OR NEW.quote <> OLD.quote OR NEW.number <> OLD.number
	OR NEW.created_us <> OLD.created_us OR NEW.created_by <> OLD.created_by
	OR NEW.release <> OLD.release OR NEW.edition <> OLD.edition OR NEW.held_edition IS NOT OLD.held_edition
	OR NEW.issued_on <> OLD.issued_on OR NEW.valid_until <> OLD.valid_until
	OR NEW.total_minor <> OLD.total_minor OR NEW.currency <> OLD.currency OR NEW.hours <> OLD.hours
	OR NEW.asked <> OLD.asked OR NEW.asked_sha256 <> OLD.asked_sha256
	OR NEW.document IS NOT OLD.document OR NEW.document_sha256 <> OLD.document_sha256)
BEGIN
	SELECT RAISE(ABORT, 'an issued revision never changes');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER frozen_revision_is_not_removed BEFORE DELETE ON revisions
WHEN OLD.state <> 'draft'
BEGIN
	SELECT RAISE(ABORT, 'an issued revision never changes');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER acceptance_is_not_changed BEFORE UPDATE ON acceptances
WHEN NEW.workshop_id <> OLD.workshop_id OR NEW.quote <> OLD.quote OR NEW.offered <> OLD.offered OR NEW.revision <> OLD.revision
	OR NEW.how <> OLD.how OR NEW.accepted_on <> OLD.accepted_on OR NEW.at_us <> OLD.at_us OR NEW.recorded_by <> OLD.recorded_by
	OR NEW.place <> OLD.place OR NEW.terms_sha256 <> OLD.terms_sha256 OR NEW.extras <> OLD.extras OR NEW.evidence <> OLD.evidence
	OR NEW.cancel_applies <> OLD.cancel_applies OR NEW.cancel_last_day <> OLD.cancel_last_day
	OR NEW.cancel_cites <> OLD.cancel_cites OR NEW.cancel_says <> OLD.cancel_says OR NEW.early_work <> OLD.early_work
BEGIN
	SELECT RAISE(ABORT, 'of an acceptance only what is personal may be emptied');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER acceptance_is_not_removed BEFORE DELETE ON acceptances
BEGIN
	SELECT RAISE(ABORT, 'an acceptance is not removed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER evidence_is_not_changed BEFORE UPDATE ON acceptance_evidence
WHEN NEW.workshop_id <> OLD.workshop_id OR NEW.quote <> OLD.quote OR NEW.place <> OLD.place
	OR NEW.media_type <> OLD.media_type OR NEW.sha256 <> OLD.sha256
	OR (NEW.content IS NOT NULL AND NEW.content IS NOT OLD.content)
BEGIN
	SELECT RAISE(ABORT, 'evidence may be erased, not changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER evidence_is_not_removed BEFORE DELETE ON acceptance_evidence
BEGIN
	SELECT RAISE(ABORT, 'evidence may be erased, not changed');
END;
-- +goose StatementEnd
