package store

import (
	"context"
	"errors"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
)

func TestJournalSaysWhoDidWhat(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	q := addQuote(t, s, p, "long")
	write(t, s, p, func(tx WriteTx) error { _, err := tx.ChangeQuote(q.ID, 1, content("longer")); return err })
	write(t, s, p, func(tx WriteTx) error { return tx.SetPassword(p.Person, "new hash") })
	var said []string
	read(t, s, p, func(tx ReadTx) error {
		lines, err := tx.Journal(0, 100)
		for i, l := range lines {
			if l.Seq != int64(i+1) || l.Person != p.Person {
				t.Errorf("line %d: %+v", i+1, l)
			}
			said = append(said, l.Verb+" "+l.Noun+" "+l.ID)
		}
		return err
	})
	want := []string{
		"added person " + p.Person.String(), "opened workshop " + p.Workshop.String(),
		"published release 1", "added edition 2026-spring",
		"created quote " + q.ID.String(), "changed quote " + q.ID.String(), "changed person " + p.Person.String(),
	}
	if strings.Join(said, "\n") != strings.Join(want, "\n") {
		t.Errorf("the journal says\n%s\nwant\n%s", strings.Join(said, "\n"), strings.Join(want, "\n"))
	}
	// From a place on, and a piece at a time.
	read(t, s, p, func(tx ReadTx) error {
		lines, err := tx.Journal(2, 3)
		if len(lines) != 3 || lines[0].Seq != 3 {
			t.Errorf("three lines after the second: %v", lines)
		}
		return err
	})
}

// Whatever is changed behind the store's back is found, wherever it is.
func TestTamperingIsFound(t *testing.T) {
	t.Parallel()
	drop := map[bool]string{
		// Somebody who can open the file can drop the triggers too.
		false: `DROP TRIGGER journal_is_not_changed; DROP TRIGGER journal_is_not_cut; DROP TRIGGER journal_is_appended;
			DROP TRIGGER release_is_not_changed; DROP TRIGGER release_is_not_removed; PRAGMA foreign_keys = off;
			PRAGMA ignore_check_constraints = on;`,
		// And a superuser can pass them over, foreign keys among them.
		true: `SET session_replication_role = replica; ALTER TABLE journal DROP CONSTRAINT journal_hash_check;`,
	}
	one := map[bool]string{false: "x'01'", true: `'\x01'`}
	other := map[bool]string{false: "randomblob(32)", true: "sha256('other')"}
	on := storetest.OnPostgres()
	for name, c := range map[string]struct{ statement, says string }{
		"verb":        {`UPDATE journal SET verb = 'undone' WHERE seq = 3`, "line 3 has been changed"},
		"time":        {`UPDATE journal SET at_us = at_us + 1 WHERE seq = 2`, "line 2 has been changed"},
		"person":      {`UPDATE journal SET person = '01960000-0000-7000-8000-00000000ffff' WHERE seq = 1`, "line 1 has been changed"},
		"content":     {`UPDATE journal SET content = ` + one[on] + ` WHERE seq = 4`, "line 4 has been changed"},
		"cut out":     {`DELETE FROM journal WHERE seq = 2`, "line 2 is missing"},
		"all cut":     {`DELETE FROM journal`, "is not what was written"},
		"first hash":  {`UPDATE journal SET previous = ` + other[on] + ` WHERE seq = 1`, "line 1 does not follow"},
		"short hash":  {`UPDATE journal SET hash = ` + one[on] + ` WHERE seq = 5`, "line 5 has no whole hash"},
		"total":       {`UPDATE quotes SET total_minor = 1`, "quote 01960000-0000-7000-8000-000000000003 is not what was written"},
		"asked":       {`UPDATE revisions SET asked = (SELECT document FROM releases)`, "revision 01960000-0000-7000-8000-000000000003/1"},
		"other asked": {`UPDATE revisions SET asked = r.document, asked_sha256 = r.document_sha256 FROM releases r`, "revision 01960000-0000-7000-8000-000000000003/1 is not what was written"},
		"garbage":     {`UPDATE revisions SET asked = ` + one[on], "damaged"},
		"no revision": {`DELETE FROM revisions`, "have no latest revision"},
		"no quote":    {`DELETE FROM quotes; DELETE FROM revisions`, "quote 01960000-0000-7000-8000-000000000003 is gone"},
		"release":     {`UPDATE releases SET hash = 'another'`, "release 1 is not what was written"},
		"no edition":  {`DELETE FROM editions`, "edition 2026-spring is gone"},
		"added quote": {`INSERT INTO quotes SELECT workshop_id, 'x', 2, version, state, revision, created_us, created_by, changed_us, changed_by, customer, end_customer, enquiry, issued_on, valid_until, slot_wanted, follow_up_on, note, declined_because, release, edition, total_minor, currency, hours, document_sha256, journalled FROM quotes`, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			path := fresh(t)
			s := open(t, path, steady())
			p := workshop(t, s, "fenland")
			addQuote(t, s, p, "long")
			sound(t, s, p)
			l := otherLine(t, path)
			if err := l.exec(t.Context(), drop[on]+c.statement); err != nil {
				t.Fatal(err)
			}
			err := s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("verifying: %v, want %q", err, c.says)
			}
			if name != "added quote" && !errors.Is(err, ErrJournal) {
				t.Errorf("verifying: %v is no ErrJournal", err)
			}
		})
	}
}

// A cut at the end leaves a whole chain: the head kept elsewhere shows it.
func TestCutAtTheEndShowsByTheHead(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	write(t, s, p, func(tx WriteTx) error { return tx.SetPassword(p.Person, "one") })
	head := verified(t, s, p)
	l := otherLine(t, path)
	drop := "DROP TRIGGER journal_is_not_cut; "
	if isPostgres(path) {
		drop = "DROP TRIGGER journal_is_not_cut ON journal; "
	}
	if err := l.exec(t.Context(), drop+`DELETE FROM journal WHERE seq = 5`); err != nil {
		t.Fatal(err)
	}
	if now := verified(t, s, p); now == head || now.Seq != head.Seq-1 {
		t.Errorf("the head is %+v after the cut and was %+v", now, head)
	}
}

func verified(t *testing.T, s *Store, p auth.Principal) (head JournalHead) {
	t.Helper()
	read(t, s, p, func(tx ReadTx) (err error) { head, err = tx.VerifyJournal(); return err })
	return head
}

// More lines and quotes than a page.
func TestVerifyGoesOverPages(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	const many = 2*maxPage + 1
	err := s.As(p).Write(context.Background(), func(tx WriteTx) error {
		for range many {
			if _, err := tx.CreateQuote(content("van")); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if head := verified(t, s, p); head.Seq != 4+many {
		t.Errorf("%d lines verified, want %d", head.Seq, 4+many)
	}
	l := otherLine(t, path)
	if err := l.exec(t.Context(), `UPDATE quotes SET total_minor = 1 WHERE number = 401`); err != nil {
		t.Fatal(err)
	}
	err = s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
	if !errors.Is(err, ErrJournal) {
		t.Errorf("the last quote changed: %v", err)
	}
}

// Lists of parts that would look alike if they were only strung together.
func TestDigestsKeepPartsApart(t *testing.T) {
	t.Parallel()
	seen := map[[32]byte]int{}
	for i, parts := range [][]any{{"ab", "c"}, {"a", "bc"}, {"abc"}, {"abc", ""}, {"", "abc"}, {[]byte("ab"), int64(1)}, {"ab", int64(2)}} {
		sum := digest("test", parts...)
		if j, twice := seen[sum]; twice {
			t.Errorf("%v and %v have one digest", i, j)
		}
		seen[sum] = i
	}
	if digest("one", "x") == digest("two", "x") {
		t.Error("the domain does not count")
	}
}
