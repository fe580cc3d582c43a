-- Which entries touch which account and job: what sqlite/00020 says, for
-- PostgreSQL.

-- +goose Up

CREATE TABLE entry_touches (
	workshop_id TEXT COLLATE "C" NOT NULL,
	account     TEXT COLLATE "C" NOT NULL,
	job         TEXT COLLATE "C" NOT NULL,
	entry       BIGINT NOT NULL,
	PRIMARY KEY (workshop_id, account, job, entry),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
);

CREATE INDEX entry_touches_by_job ON entry_touches (workshop_id, job, entry);
CREATE INDEX ledger_entries_by_day ON ledger_entries (workshop_id, day, number);

-- The rows of all workshops are to be carried over.
ALTER TABLE ledger_entries NO FORCE ROW LEVEL SECURITY;

INSERT INTO entry_touches
SELECT DISTINCT e.workshop_id, l.value ->> 'account', coalesce(l.value ->> 'job', ''), e.number
FROM ledger_entries e CROSS JOIN LATERAL jsonb_array_elements(e.lines::jsonb) AS l (value);

ALTER TABLE ledger_entries FORCE ROW LEVEL SECURITY;

CREATE POLICY of_the_workshop ON entry_touches USING (workshop_id = current_setting('wainscot.workshop', true));
ALTER TABLE entry_touches ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
GRANT SELECT, INSERT ON entry_touches TO wainscot_app;
