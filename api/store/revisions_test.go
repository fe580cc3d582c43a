package store

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"
)

func frozenText(text string) Frozen {
	return Frozen{Worked: content("x").Worked, Document: Pack([]byte(text)), Asked: Pack([]byte("asked for " + text)), IssuedOn: "2026-04-01", ValidUntil: "2026-05-01"}
}

func yesTo(offered int64) Acceptance {
	return Acceptance{
		Offered: offered, How: "paper", On: "2026-04-02", Place: "at a distance", TermsSHA256: strings.Repeat("cd", 32), By: "Ada", Request: "soon",
		Evidence: []Evidence{EvidenceOf("The page Ada signed.", "text/plain", []byte("signed"))},
	}
}

// What is frozen is never changed nor removed, whoever asks: also by REPLACE.
func TestFrozenRevisionsNeverChange(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	q := addQuote(t, s, p, "long")
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.IssueQuote(q.ID, 1, frozenText("as issued")); err != nil {
			return err
		}
		_, _, err := tx.AcceptQuote(q.ID, 2, yesTo(1), nil)
		return err
	})
	l := otherLine(t, path)
	for _, statement := range []string{
		`UPDATE revisions SET document = asked`,
		`UPDATE revisions SET document_sha256 = asked_sha256`,
		`UPDATE revisions SET asked = document`,
		`UPDATE revisions SET total_minor = total_minor + 1`,
		`UPDATE revisions SET valid_until = '2027-01-01'`,
		`UPDATE revisions SET edition = edition, held_edition = edition`,
		`UPDATE revisions SET state = 'draft', document = NULL, document_sha256 = '', issued_on = ''`,
		`DELETE FROM revisions`,
		`UPDATE acceptances SET revision = 1, place = 'elsewhere'`,
		`UPDATE acceptances SET terms_sha256 = evidence || terms_sha256`,
		`DELETE FROM acceptances`,
		`UPDATE acceptance_evidence SET sha256 = ''`,
		`UPDATE acceptance_evidence SET content = says`,
		`DELETE FROM acceptance_evidence`,
	} {
		if err := l.exec(t.Context(), statement); err == nil {
			t.Errorf("accepted: %s", statement)
		}
	}
	sound(t, s, p)
}

// Each step is open from its own states only, and the version decides.
func TestQuoteStates(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	q := addQuote(t, s, p, "long")
	id := q.ID
	try := func(name string, want error, do func(WriteTx) error) {
		t.Helper()
		if err := s.As(p).Write(t.Context(), do); !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", name, err, want)
		}
	}
	issue := func(version int64) func(WriteTx) error {
		return func(tx WriteTx) error { _, err := tx.IssueQuote(id, version, frozenText("v")); return err }
	}
	revise := func(version int64) func(WriteTx) error {
		return func(tx WriteTx) error { _, err := tx.ReviseQuote(id, version, content("again")); return err }
	}
	accept := func(version, offered int64, f *Frozen) func(WriteTx) error {
		return func(tx WriteTx) error { _, _, err := tx.AcceptQuote(id, version, yesTo(offered), f); return err }
	}
	decline := func(version int64) func(WriteTx) error {
		return func(tx WriteTx) error { _, err := tx.DeclineQuote(id, version, "too dear"); return err }
	}
	try("revising a draft", ErrState, revise(1))
	try("declining a draft", ErrState, decline(1))
	try("accepting a draft", ErrState, accept(1, 1, nil))
	try("issuing from an older version", ErrStale, issue(0))
	try("issuing", nil, issue(1))
	try("issuing again", ErrState, issue(2))
	try("changing what is issued", ErrState, func(tx WriteTx) error { _, err := tx.ChangeQuote(id, 2, content("x")); return err })
	try("declining", nil, decline(2))
	try("accepting what was declined", ErrState, accept(3, 1, nil))
	try("revising what was declined", nil, revise(3))
	try("issuing the second", nil, issue(4))
	try("revising what is issued", nil, revise(5))
	try("accepting the first", ErrState, accept(6, 1, nil))
	extra := frozenText("with an extra")
	try("accepting the second with an extra while a third is open", nil, accept(6, 2, &extra))
	try("accepting twice", ErrState, accept(7, 3, nil))
	try("revising what is accepted", ErrState, revise(7))
	read(t, s, p, func(tx ReadTx) error {
		list, err := tx.Revisions(id)
		var states []QuoteState
		for _, r := range list {
			states = append(states, r.State)
		}
		now, err2 := tx.Quote(id)
		if len(states) != 3 || states[0] != Declined || states[1] != Superseded || states[2] != Accepted || now.Revision != 3 || now.State != Accepted {
			t.Errorf("%v, now %s at revision %d", states, now.State, now.Revision)
		}
		return errors.Join(err, err2)
	})
	sound(t, s, p)
}

// Emptied of what is personal, everything still verifies, and the hash of the
// evidence stays.
func TestEmptiedQuotesVerify(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	c := content("long")
	c.Note = "Ada rings at noon"
	c.Vans[0].VIN = "WVW00000000000017"
	write(t, s, p, func(tx WriteTx) error {
		customer, err := tx.AddCustomer(CustomerContent{Kind: "private", Name: "Ada", KeepUntil: "2026-04-02"})
		if err != nil {
			return err
		}
		c.Customer = customer.ID
		q, err := tx.CreateQuote(c)
		if err != nil {
			return err
		}
		if _, err := tx.IssueQuote(q.ID, 1, frozenText("as issued")); err != nil {
			return err
		}
		if _, _, err = tx.AcceptQuote(q.ID, 2, yesTo(1), nil); err != nil {
			return err
		}
		behind := c // a dealer whom nobody names
		behind.Customer, behind.EndCustomer = uuid.Nil, customer.ID
		_, err = tx.CreateQuote(behind)
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		ids, err := tx.EmptyQuotesOf(c.Customer)
		if len(ids) != 2 {
			t.Errorf("emptied %v", ids)
		}
		return err
	})
	read(t, s, p, func(tx ReadTx) error {
		list, _, err := tx.Quotes(QuoteFilter{Customer: c.Customer})
		if len(list) != 2 {
			t.Fatalf("%d quotes are theirs", len(list))
		}
		for _, q := range list {
			if q.Note != "" || q.Vans[0].Plate != "" || q.Vans[0].VIN != "" {
				t.Errorf("left: %+v", q)
			}
		}
		a, err2 := tx.Acceptance(list[1].ID) // the older
		if a.By != "" || a.Request != "" || a.Evidence[0].Says != "Erased." ||
			a.Evidence[0].Content != nil || len(a.Evidence[0].SHA256) != 64 {
			t.Errorf("left: %+v", a)
		}
		return errors.Join(err, err2)
	})
	sound(t, s, p)
}

// Behind the store's back nothing of a quote's life can be changed unseen, even
// without the triggers.
func TestTamperingWithRevisionsIsFound(t *testing.T) {
	t.Parallel()
	const drop = `DROP TRIGGER frozen_revision_is_not_changed; DROP TRIGGER frozen_revision_is_not_removed;
		DROP TRIGGER acceptance_is_not_changed; DROP TRIGGER evidence_is_not_changed; DROP TRIGGER evidence_is_not_removed; PRAGMA foreign_keys = off;`
	for name, statement := range map[string]string{
		"document":       `UPDATE revisions SET document = asked, document_sha256 = asked_sha256 WHERE number = 1`,
		"state":          `UPDATE revisions SET state = 'declined' WHERE number = 2`,
		"gone":           `DELETE FROM revisions WHERE number = 1`,
		"place of sale":  `UPDATE acceptances SET place = 'on the premises'`,
		"evidence":       `UPDATE acceptance_evidence SET content = x'00'`,
		"evidence, hash": `UPDATE acceptance_evidence SET sha256 = ''`,
		"no evidence":    `DELETE FROM acceptance_evidence`,
		"link":           `UPDATE quote_links SET withdrawn_us = NULL`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			path := freshFile(t)
			s := open(t, path, steady())
			p := workshop(t, s, "fenland")
			q := addQuote(t, s, p, "long")
			extra := frozenText("with an extra")
			write(t, s, p, func(tx WriteTx) error {
				if _, err := tx.IssueQuote(q.ID, 1, frozenText("as issued")); err != nil {
					return err
				}
				if _, err := tx.MakeLink(q.ID, 2, strings.Repeat("ab", 32)); err != nil {
					return err
				}
				if err := tx.WithdrawLinks(q.ID); err != nil {
					return err
				}
				_, _, err := tx.AcceptQuote(q.ID, 2, yesTo(1), &extra)
				return err
			})
			sound(t, s, p)
			if err := otherLine(t, path).exec(t.Context(), drop+statement); err != nil {
				t.Fatal(err)
			}
			err := s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
			if !errors.Is(err, ErrJournal) {
				t.Errorf("verifying: %v", err)
			}
		})
	}
}

// Whatever breaks in the middle of an acceptance, nothing of it stays: at each
// table it writes, a trigger of the test's refuses.
func TestNothingHalfAccepted(t *testing.T) {
	t.Parallel()
	for _, table := range []string{"revisions", "quote_vans", "acceptances", "acceptance_evidence", "quotes", "journal"} {
		for _, action := range []string{"INSERT", "UPDATE"} {
			t.Run(table+" "+action, func(t *testing.T) {
				t.Parallel()
				path := freshFile(t)
				s := open(t, path, steady())
				p := workshop(t, s, "fenland")
				q := addQuote(t, s, p, "long")
				write(t, s, p, func(tx WriteTx) error { _, err := tx.IssueQuote(q.ID, 1, frozenText("as issued")); return err })
				before := everything(t, s)
				l := otherLine(t, path)
				if err := l.exec(t.Context(), `CREATE TRIGGER fault BEFORE `+action+` ON `+table+` BEGIN SELECT RAISE(ABORT, 'fault'); END`); err != nil {
					t.Fatal(err)
				}
				extra := frozenText("with an extra")
				accept := func(tx WriteTx) error { _, _, err := tx.AcceptQuote(q.ID, 2, yesTo(1), &extra); return err }
				err := s.As(p).Write(t.Context(), accept)
				if err == nil && action == "INSERT" && table != "quotes" || err == nil && action == "UPDATE" && (table == "quotes" || table == "revisions") {
					t.Fatal("the fault was not met")
				}
				if err == nil {
					return // nothing of that kind is done to the table
				}
				if now := everything(t, s); now != before {
					t.Errorf("half of it stays:\n%s\nwas\n%s", now, before)
				}
				if err := l.exec(t.Context(), `DROP TRIGGER fault`); err != nil {
					t.Fatal(err)
				}
				write(t, s, p, accept)
				sound(t, s, p)
			})
		}
	}
}
