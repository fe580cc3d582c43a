package store

import (
	"context"
	"database/sql"
	"slices"
	"sync"
	"testing"

	"gorm.io/gorm/schema"
)

// withoutWorkshop are the unique keys that may do without the workshop.
var withoutWorkshop = map[string]string{
	"workshops_by_code": "it is what a workshop is told from all others by, before anybody has signed in",
}

// Trap: a statement that names a row by a key without the workshop in it can
// take another workshop's row. So every key of every table begins with it.
func TestEveryKeyBeginsWithTheWorkshop(t *testing.T) {
	t.Parallel()
	excepted := map[string]bool{}
	for name, table := range tablesOf(t, otherLine(t, fresh(t))) {
		if table.loose != "" {
			t.Errorf("%s: %s", name, table.loose)
		}
		if len(table.primary) == 0 || table.primary[0] != "workshop_id" {
			t.Errorf("%s: the primary key is %v and must begin with workshop_id", name, table.primary)
		}
		for _, c := range table.columns {
			if !c.notNull && slices.Contains(table.primary, c.name) {
				t.Errorf("%s: %s of the primary key may be NULL", name, c.name)
			}
			// Trap: decimal and numeric columns become floats and lose digits.
			if !slices.Contains([]string{"TEXT", "INTEGER", "BLOB"}, c.kind) {
				t.Errorf("%s.%s is %s: whole numbers, text and bytes are all that keep what they are given", name, c.name, c.kind)
			}
		}
		for index, over := range table.unique {
			if withoutWorkshop[index] != "" {
				excepted[index] = true
			} else if over[0] != "workshop_id" {
				t.Errorf("%s: the unique key %s is over %v and must begin with workshop_id", name, index, over)
			}
		}
		for _, key := range table.foreign {
			if key.from[0] != "workshop_id" || key.to[0] != "workshop_id" {
				t.Errorf("%s: a foreign key leads from %v to %v of %s and must begin with workshop_id on both sides", name, key.from, key.to, key.table)
			}
		}
		if name != "workshops" && len(table.foreign) == 0 {
			t.Errorf("%s belongs to no workshop", name)
		}
	}
	for index := range withoutWorkshop {
		if !excepted[index] {
			t.Errorf("%s is excepted and there is no such key", index)
		}
	}
}

// Every row type names a table and exactly its columns.
func TestRowsFitTheirTables(t *testing.T) {
	t.Parallel()
	tables := tablesOf(t, otherLine(t, fresh(t)))
	for _, row := range []interface{ TableName() string }{
		workshopRow{}, new(customerRow), new(vanRow), new(enquiryRow), new(reservationRow), new(settingsRow), new(personRow), new(signInRow), new(keptAnswerRow), new(releaseRow), new(proofRow), new(acknowledgementRow), new(editionRow), new(quoteRow), new(revisionRow), new(quoteVanRow), new(acceptanceRow), new(evidenceRow), new(linkRow), new(variationRow), new(variationEvidenceRow), new(variationLinkRow), new(calendarLinkRow), new(jobSerialRow), new(checkDueRow), new(jobRow), new(agreedPriceRow), new(takeOnRow), new(depositTakenOnRow), new(jobNoteRow), new(jobAttachmentRow), new(signatoryRow), new(columnMapRow), new(bankAccountRow), new(statementRow), new(setAsideRuleRow), new(lineRow), new(reconciliationRow), new(shownEntryRow), journalRow{},
	} {
		parsed, err := schema.Parse(row, new(sync.Map), schema.NamingStrategy{})
		if err != nil {
			t.Fatal(err)
		}
		has := slices.Sorted(slices.Values(parsed.DBNames))
		want := slices.Sorted(slices.Values(tables[row.TableName()].columnNames()))
		if !slices.Equal(has, want) {
			t.Errorf("%s:\nthe row has %v\nthe table   %v", row.TableName(), has, want)
		}
	}
}

// Trap: gorm's Save, finding no row of this workshop to update, inserts with
// "on conflict update": by a key without the workshop it would take another
// workshop's row. Done here behind the store's back, as nothing in it may.
func TestSaveCannotTakeAnotherWorkshopsRow(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	one, two := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	q := addQuote(t, s, one, "theirs")
	var theirs quoteRow
	l := otherLine(t, path)
	if err := l.gorm.Where("id = ?", q.ID).Take(&theirs).Error; err != nil {
		t.Fatal(err)
	}
	mine := theirs
	mine.WorkshopID, mine.CreatedBy, mine.ChangedBy = two.Workshop, two.Person, two.Person
	mine.Note = "mine now"
	scoped := l.gorm.Where(ofTheWorkshop, two.Workshop)
	if err := scoped.Save(&mine).Error; err != nil {
		t.Fatal(err)
	}
	read(t, s, one, func(tx ReadTx) error {
		now, err := tx.Quote(q.ID)
		if now.Note != "" {
			t.Errorf("Save of one workshop changed another's quote to %q", now.Note)
		}
		return err
	})
}

// What may not be changed is not, whoever asks: also by REPLACE, which
// deletes without saying so.
func TestAppendOnlyTables(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	keepProof(t, s, p)
	sound(t, s, p)
	l := s.writer.hands[0].line // nothing is being written now
	if isPostgres(path) {
		l = otherLine(t, path) // one that everything is granted to
	}
	for _, statement := range []string{
		`UPDATE journal SET verb = 'undone'`,
		`DELETE FROM journal`,
		`DELETE FROM journal WHERE seq = (SELECT max(seq) FROM journal)`,
		`REPLACE INTO journal SELECT workshop_id, seq, at_us, person, 'undone', noun, id, content, hash, previous FROM journal WHERE seq = 2`,
		`INSERT INTO journal SELECT workshop_id, 99, at_us, person, verb, noun, id, content, hash, previous FROM journal WHERE seq = 1`,
		`TRUNCATE journal`,
		`UPDATE releases SET hash = 'another'`,
		`DELETE FROM releases`,
		`REPLACE INTO releases SELECT workshop_id, number, 'another', published_us, published_by, document, document_sha256 FROM releases`,
		`TRUNCATE releases CASCADE`,
		`UPDATE release_proofs SET proved_us = 1`,
		`DELETE FROM release_proofs`,
		`REPLACE INTO release_proofs SELECT workshop_id, release, 1, proved_by, document, document_sha256 FROM release_proofs`,
		`TRUNCATE release_proofs CASCADE`,
		`UPDATE acknowledgements SET reason = 'another'`,
		`DELETE FROM acknowledgements`,
		`REPLACE INTO acknowledgements SELECT workshop_id, release, place, warning, says, 'another', acknowledged_us, acknowledged_by FROM acknowledgements`,
		`TRUNCATE acknowledgements`,
	} {
		// What the one database has no statement for is refused as well.
		if err := l.exec(t.Context(), statement); err == nil {
			t.Errorf("accepted: %s", statement)
		}
	}
	sound(t, s, p)
}

// ask gives the answer to a query as text.
func ask(t *testing.T, l *line, query string, args ...any) [][]string {
	t.Helper()
	rows, err := l.conn.QueryContext(context.Background(), query, args...)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	var all [][]string
	for rows.Next() {
		row := make([]sql.NullString, len(names))
		into := make([]any, len(names))
		for i := range row {
			into[i] = &row[i]
		}
		if err := rows.Scan(into...); err != nil {
			t.Fatal(err)
		}
		text := make([]string, len(row))
		for i, v := range row {
			text[i] = v.String
		}
		all = append(all, text)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

func column(rows [][]string) []string {
	var all []string
	for _, r := range rows {
		all = append(all, r[0])
	}
	return all
}
