-- Which entries touch which account and job, so that what is asked of one of
-- them reads its entries and no others.

-- +goose Up

-- One row for each account and job that lines of an entry name; job is '' where
-- a line names none. It follows from the entries, and is checked against them.
CREATE TABLE entry_touches (
	workshop_id TEXT    NOT NULL,
	account     TEXT    NOT NULL,
	job         TEXT    NOT NULL,
	entry       INTEGER NOT NULL,
	PRIMARY KEY (workshop_id, account, job, entry),
	FOREIGN KEY (workshop_id, entry) REFERENCES ledger_entries (workshop_id, number)
) STRICT, WITHOUT ROWID;

CREATE INDEX entry_touches_by_job ON entry_touches (workshop_id, job, entry);
CREATE INDEX ledger_entries_by_day ON ledger_entries (workshop_id, day, number);

INSERT INTO entry_touches
SELECT DISTINCT e.workshop_id, json_extract(l.value, '$.account'), coalesce(json_extract(l.value, '$.job'), ''), e.number
FROM ledger_entries e, json_each(e.lines) l;
