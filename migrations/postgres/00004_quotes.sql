-- Quotes with their revisions, the vans they are for, acceptances and links:
-- what sqlite/00004 says, for PostgreSQL.

-- +goose Up

-- The rows of all workshops are to be carried over.
ALTER TABLE quotes NO FORCE ROW LEVEL SECURITY;
ALTER TABLE reservations DROP CONSTRAINT reservations_workshop_id_quote_fkey;
CREATE TABLE quotes_before AS SELECT * FROM quotes;
DROP TABLE quotes;

CREATE TABLE quotes (
	workshop_id      TEXT COLLATE "C" NOT NULL REFERENCES workshops (workshop_id),
	id               TEXT COLLATE "C" NOT NULL,
	number           BIGINT NOT NULL CHECK (number >= 1),
	version          BIGINT NOT NULL CHECK (version >= 1),
	state            TEXT COLLATE "C" NOT NULL CHECK (state IN ('draft', 'issued', 'accepted', 'declined')),
	revision         BIGINT NOT NULL CHECK (revision >= 1),
	created_us       BIGINT NOT NULL,
	created_by       TEXT COLLATE "C" NOT NULL,
	changed_us       BIGINT NOT NULL,
	changed_by       TEXT COLLATE "C" NOT NULL,
	customer         TEXT COLLATE "C",
	end_customer     TEXT COLLATE "C",
	enquiry          TEXT COLLATE "C",
	issued_on        TEXT COLLATE "C" NOT NULL CHECK (length(issued_on) IN (0, 10)),
	valid_until      TEXT COLLATE "C" NOT NULL CHECK (length(valid_until) IN (0, 10)),
	slot_wanted      TEXT COLLATE "C" NOT NULL CHECK (length(slot_wanted) IN (0, 10)),
	follow_up_on     TEXT COLLATE "C" NOT NULL CHECK (length(follow_up_on) IN (0, 10)),
	note             TEXT COLLATE "C" NOT NULL,
	declined_because TEXT COLLATE "C" NOT NULL,
	release          BIGINT NOT NULL,
	edition          TEXT COLLATE "C" NOT NULL,
	total_minor      BIGINT NOT NULL,
	currency         TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	hours            TEXT COLLATE "C" NOT NULL,
	document_sha256  TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) = 64),
	journalled       BIGINT NOT NULL CHECK (journalled IN (1, 2)),
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, number),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, changed_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, end_customer) REFERENCES customers (workshop_id, id),
	FOREIGN KEY (workshop_id, enquiry) REFERENCES enquiries (workshop_id, id),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code)
);

CREATE INDEX quotes_newest ON quotes (workshop_id, created_us DESC, id DESC);
CREATE INDEX quotes_by_state ON quotes (workshop_id, state, created_us DESC, id DESC);
CREATE INDEX quotes_of_a_customer ON quotes (workshop_id, customer, created_us DESC, id DESC)
	WHERE customer IS NOT NULL;
CREATE INDEX quotes_of_an_end_customer ON quotes (workshop_id, end_customer) WHERE end_customer IS NOT NULL;
CREATE INDEX quotes_of_an_enquiry ON quotes (workshop_id, enquiry) WHERE enquiry IS NOT NULL;
CREATE INDEX quotes_to_follow_up ON quotes (workshop_id, follow_up_on) WHERE follow_up_on <> '';

CREATE TABLE revisions (
	workshop_id     TEXT COLLATE "C" NOT NULL,
	quote           TEXT COLLATE "C" NOT NULL,
	number          BIGINT NOT NULL CHECK (number >= 1),
	state           TEXT COLLATE "C" NOT NULL CHECK (state IN ('draft', 'issued', 'accepted', 'declined', 'superseded')),
	created_us      BIGINT NOT NULL,
	created_by      TEXT COLLATE "C" NOT NULL,
	release         BIGINT NOT NULL,
	edition         TEXT COLLATE "C" NOT NULL,
	held_edition    TEXT COLLATE "C",
	issued_on       TEXT COLLATE "C" NOT NULL CHECK (length(issued_on) IN (0, 10)),
	valid_until     TEXT COLLATE "C" NOT NULL CHECK (length(valid_until) IN (0, 10)),
	total_minor     BIGINT NOT NULL,
	currency        TEXT COLLATE "C" NOT NULL CHECK (length(currency) = 3),
	hours           TEXT COLLATE "C" NOT NULL,
	asked           BYTEA NOT NULL,
	asked_sha256    TEXT COLLATE "C" NOT NULL CHECK (length(asked_sha256) = 64),
	document        BYTEA,
	document_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(document_sha256) IN (0, 64)),
	PRIMARY KEY (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id),
	FOREIGN KEY (workshop_id, created_by) REFERENCES people (workshop_id, id),
	FOREIGN KEY (workshop_id, release) REFERENCES releases (workshop_id, number),
	FOREIGN KEY (workshop_id, edition) REFERENCES editions (workshop_id, code),
	FOREIGN KEY (workshop_id, held_edition) REFERENCES editions (workshop_id, code),
	CHECK ((state = 'draft') = (document IS NULL)),
	CHECK ((state = 'draft') = (document_sha256 = '')),
	CHECK ((state = 'draft') = (issued_on = ''))
);

CREATE TABLE quote_vans (
	workshop_id  TEXT COLLATE "C" NOT NULL,
	quote        TEXT COLLATE "C" NOT NULL,
	revision     BIGINT NOT NULL,
	place        BIGINT NOT NULL CHECK (place >= 1),
	van          TEXT COLLATE "C",
	base_van     TEXT COLLATE "C" NOT NULL,
	registration TEXT COLLATE "C" NOT NULL,
	plate        TEXT COLLATE "C" NOT NULL,
	vin          TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, quote, revision, place),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, van) REFERENCES vans (workshop_id, id)
);

CREATE INDEX quote_vans_by_registration ON quote_vans (workshop_id, registration);
CREATE INDEX quote_vans_of_a_van ON quote_vans (workshop_id, van) WHERE van IS NOT NULL;

CREATE TABLE acceptances (
	workshop_id     TEXT COLLATE "C" NOT NULL,
	quote           TEXT COLLATE "C" NOT NULL,
	offered         BIGINT NOT NULL,
	revision        BIGINT NOT NULL,
	how             TEXT COLLATE "C" NOT NULL CHECK (how IN ('counter', 'paper', 'link')),
	accepted_on     TEXT COLLATE "C" NOT NULL CHECK (length(accepted_on) = 10),
	at_us           BIGINT NOT NULL,
	recorded_by     TEXT COLLATE "C" NOT NULL,
	place           TEXT COLLATE "C" NOT NULL,
	terms_sha256    TEXT COLLATE "C" NOT NULL CHECK (length(terms_sha256) = 64),
	extras          TEXT COLLATE "C" NOT NULL,
	evidence        TEXT COLLATE "C" NOT NULL,
	cancel_applies  BIGINT NOT NULL CHECK (cancel_applies IN (0, 1)),
	cancel_last_day TEXT COLLATE "C" NOT NULL CHECK (length(cancel_last_day) IN (0, 10)),
	cancel_cites    TEXT COLLATE "C" NOT NULL,
	cancel_says     TEXT COLLATE "C" NOT NULL,
	early_work      BIGINT NOT NULL CHECK (early_work IN (0, 1)),
	by_name         TEXT COLLATE "C" NOT NULL,
	express_request TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (workshop_id, quote),
	FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id),
	FOREIGN KEY (workshop_id, quote, offered) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, recorded_by) REFERENCES people (workshop_id, id)
);

CREATE TABLE acceptance_evidence (
	workshop_id TEXT COLLATE "C" NOT NULL,
	quote       TEXT COLLATE "C" NOT NULL,
	place       BIGINT NOT NULL CHECK (place >= 1),
	says        TEXT COLLATE "C" NOT NULL,
	media_type  TEXT COLLATE "C" NOT NULL,
	sha256      TEXT COLLATE "C" NOT NULL CHECK (length(sha256) IN (0, 64)),
	content     BYTEA,
	PRIMARY KEY (workshop_id, quote, place),
	FOREIGN KEY (workshop_id, quote) REFERENCES acceptances (workshop_id, quote)
);

CREATE TABLE quote_links (
	workshop_id   TEXT COLLATE "C" NOT NULL,
	id            TEXT COLLATE "C" NOT NULL,
	quote         TEXT COLLATE "C" NOT NULL,
	revision      BIGINT NOT NULL,
	secret_sha256 TEXT COLLATE "C" NOT NULL CHECK (length(secret_sha256) = 64),
	made_us       BIGINT NOT NULL,
	made_by       TEXT COLLATE "C" NOT NULL,
	withdrawn_us  BIGINT,
	PRIMARY KEY (workshop_id, id),
	UNIQUE (workshop_id, secret_sha256),
	FOREIGN KEY (workshop_id, quote, revision) REFERENCES revisions (workshop_id, quote, number),
	FOREIGN KEY (workshop_id, made_by) REFERENCES people (workshop_id, id)
);

CREATE INDEX quote_links_of_a_quote ON quote_links (workshop_id, quote);

INSERT INTO quotes SELECT workshop_id, id, number, version, 'draft', 1, created_us, created_by, changed_us, changed_by,
	NULL, NULL, NULL, '', '', '', '', '', '', release, edition, total_minor, currency, hours, document_sha256, 1
FROM quotes_before;

INSERT INTO revisions SELECT workshop_id, id, 1, 'draft', created_us, created_by, release, edition, NULL,
	'', '', total_minor, currency, hours, document, document_sha256, NULL, ''
FROM quotes_before;

INSERT INTO quote_vans SELECT workshop_id, id, 1, 1, NULL, base_van, registration, registration, '' FROM quotes_before;

DROP TABLE quotes_before;
ALTER TABLE reservations ADD FOREIGN KEY (workshop_id, quote) REFERENCES quotes (workshop_id, id);

CREATE TRIGGER frozen_revision_is_not_changed BEFORE UPDATE ON revisions
FOR EACH ROW WHEN (OLD.state <> 'draft' AND (
	NEW.state = 'draft' OR NEW.workshop_id <> OLD.workshop_id OR NEW.quote <> OLD.quote OR NEW.number <> OLD.number
	OR NEW.created_us <> OLD.created_us OR NEW.created_by <> OLD.created_by
	OR NEW.release <> OLD.release OR NEW.edition <> OLD.edition OR NEW.held_edition IS DISTINCT FROM OLD.held_edition
	OR NEW.issued_on <> OLD.issued_on OR NEW.valid_until <> OLD.valid_until
	OR NEW.total_minor <> OLD.total_minor OR NEW.currency <> OLD.currency OR NEW.hours <> OLD.hours
	OR NEW.asked <> OLD.asked OR NEW.asked_sha256 <> OLD.asked_sha256
	OR NEW.document IS DISTINCT FROM OLD.document OR NEW.document_sha256 <> OLD.document_sha256))
EXECUTE FUNCTION refuse('an issued revision never changes');

CREATE TRIGGER frozen_revision_is_not_removed BEFORE DELETE ON revisions
FOR EACH ROW WHEN (OLD.state <> 'draft')
EXECUTE FUNCTION refuse('an issued revision never changes');

CREATE TRIGGER acceptance_is_not_changed BEFORE UPDATE ON acceptances
FOR EACH ROW WHEN (NEW.workshop_id <> OLD.workshop_id OR NEW.quote <> OLD.quote OR NEW.offered <> OLD.offered OR NEW.revision <> OLD.revision
	OR NEW.how <> OLD.how OR NEW.accepted_on <> OLD.accepted_on OR NEW.at_us <> OLD.at_us OR NEW.recorded_by <> OLD.recorded_by
	OR NEW.place <> OLD.place OR NEW.terms_sha256 <> OLD.terms_sha256 OR NEW.extras <> OLD.extras OR NEW.evidence <> OLD.evidence
	OR NEW.cancel_applies <> OLD.cancel_applies OR NEW.cancel_last_day <> OLD.cancel_last_day
	OR NEW.cancel_cites <> OLD.cancel_cites OR NEW.cancel_says <> OLD.cancel_says OR NEW.early_work <> OLD.early_work)
EXECUTE FUNCTION refuse('of an acceptance only what is personal may be emptied');

CREATE TRIGGER acceptance_is_not_removed BEFORE DELETE ON acceptances
FOR EACH ROW
EXECUTE FUNCTION refuse('an acceptance is not removed');

CREATE TRIGGER evidence_is_not_changed BEFORE UPDATE ON acceptance_evidence
FOR EACH ROW WHEN (NEW.workshop_id <> OLD.workshop_id OR NEW.quote <> OLD.quote OR NEW.place <> OLD.place
	OR NEW.media_type <> OLD.media_type OR NEW.sha256 <> OLD.sha256
	OR (NEW.content IS NOT NULL AND NEW.content IS DISTINCT FROM OLD.content))
EXECUTE FUNCTION refuse('evidence may be erased, not changed');

CREATE TRIGGER evidence_is_not_removed BEFORE DELETE ON acceptance_evidence
FOR EACH ROW
EXECUTE FUNCTION refuse('evidence may be erased, not changed');

CREATE TRIGGER revisions_are_not_emptied BEFORE TRUNCATE ON revisions
EXECUTE FUNCTION refuse('an issued revision never changes');

CREATE TRIGGER acceptances_are_not_emptied BEFORE TRUNCATE ON acceptances
EXECUTE FUNCTION refuse('an acceptance is not removed');

CREATE TRIGGER evidence_is_not_emptied BEFORE TRUNCATE ON acceptance_evidence
EXECUTE FUNCTION refuse('evidence may be erased, not changed');

CREATE POLICY of_the_workshop ON quotes USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON revisions USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON quote_vans USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON acceptances USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON acceptance_evidence USING (workshop_id = current_setting('wainscot.workshop', true));
CREATE POLICY of_the_workshop ON quote_links USING (workshop_id = current_setting('wainscot.workshop', true));

ALTER TABLE quotes ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE revisions ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE quote_vans ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE acceptances ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE acceptance_evidence ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
ALTER TABLE quote_links ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;

GRANT SELECT, INSERT, UPDATE ON quotes, acceptances, acceptance_evidence, quote_links TO wainscot_app;
-- A draft that an acceptance gives up goes; what is frozen is behind a trigger.
GRANT SELECT, INSERT, UPDATE, DELETE ON revisions, quote_vans TO wainscot_app;
