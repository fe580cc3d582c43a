package store

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

func variationContent(text string, change int64) VariationContent {
	return VariationContent{ValidUntil: "2026-05-01", ChangeMinor: change, TotalMinor: 298_500 + change, Currency: "GBP", Document: Pack([]byte(text))}
}

// varied takes a variation of a job to its yes.
func varied(tx WriteTx, of uuid.UUID) error {
	v, err := tx.AddVariation(of, variationContent("proposed", 1_000))
	if err != nil {
		return err
	}
	if _, err := tx.SendVariation(of, v.Number, "2026-04-03", variationContent("sent", 1_200)); err != nil {
		return err
	}
	_, err = tx.AcceptVariation(of, v.Number, job.Consent{On: "2026-04-04", How: quote.OnPaper}, "Ada", []Evidence{EvidenceOf("The page.", "text/plain", []byte("signed")), {Says: "By word."}})
	return err
}

func TestVariations(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	other := workshop(t, s, "moorside")
	q := addQuote(t, s, p, "agreed")
	var of uuid.UUID
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.IssueQuote(q.ID, 1, frozenText("agreed")); err != nil {
			return err
		}
		head, kept, err := tx.AcceptQuote(q.ID, 2, yesTo(1), nil)
		if err != nil {
			return err
		}
		if err := addJob(tx, head, kept.Revision); err != nil {
			return err
		}
		list, _, err := tx.Jobs(JobFilter{})
		of = list[0].ID
		return err
	})
	write(t, s, p, func(tx WriteTx) error { return varied(tx, of) })
	write(t, s, p, func(tx WriteTx) error {
		two, err := tx.AddVariation(of, variationContent("another", -500))
		if err != nil || two.Number != 2 || two.State != job.VariationDraft {
			t.Errorf("the second is %+v, %v", two, err)
		}
		if two, err = tx.ChangeVariation(of, 2, variationContent("another, changed", -600)); err != nil || two.ChangeMinor != -600 {
			t.Errorf("changed it is %+v, %v", two, err)
		}
		two, err = tx.EndVariation(of, 2, "2026-04-05", job.VariationWithdrawn, "", "")
		if err != nil || two.State != job.VariationWithdrawn || two.DecidedOn != "2026-04-05" {
			t.Errorf("withdrawn it is %+v, %v", two, err)
		}
		return nil
	})
	for name, try := range map[string]func(WriteTx) error{
		"a yes to what is withdrawn": func(tx WriteTx) error {
			_, err := tx.AcceptVariation(of, 2, job.Consent{On: "2026-04-06", How: quote.AtCounter}, "Ada", nil)
			return err
		},
		"a change of what was accepted": func(tx WriteTx) error { _, err := tx.ChangeVariation(of, 1, variationContent("x", 0)); return err },
		"sent again": func(tx WriteTx) error {
			_, err := tx.SendVariation(of, 1, "2026-04-06", variationContent("x", 0))
			return err
		},
		"declined afterwards": func(tx WriteTx) error {
			_, err := tx.EndVariation(of, 1, "2026-04-06", job.VariationDeclined, "", "")
			return err
		},
	} {
		if err := s.As(p).Write(t.Context(), try); !errors.Is(err, ErrState) {
			t.Errorf("%s: %v", name, err)
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		v, err := tx.Variation(of, 1)
		if err != nil {
			return err
		}
		text, err := v.Document.Unpack()
		if err != nil || string(text) != "sent" || v.State != job.VariationAccepted || v.By != "Ada" || len(v.Evidence) != 2 || string(v.Evidence[0].Content) != "signed" || v.SentOn != "2026-04-03" || v.How != "paper" {
			t.Errorf("kept is %q %+v %v", text, v.VariationEntry, err)
		}
		if list, err := tx.Variations(of); err != nil || len(list) != 2 || list[1].Number != 2 {
			t.Errorf("%d are listed, %v", len(list), err)
		}
		_, err = tx.Variation(of, 3)
		if !errors.Is(err, ErrNotFound) {
			t.Errorf("a third: %v", err)
		}
		return nil
	})
	read(t, s, other, func(tx ReadTx) error {
		if _, err := tx.Variation(of, 1); !errors.Is(err, ErrNotFound) {
			t.Errorf("the other workshop's: %v", err)
		}
		return nil
	})
	err := s.As(other).Write(t.Context(), func(tx WriteTx) error { _, err := tx.AddVariation(of, variationContent("theirs", 0)); return err })
	if err == nil {
		t.Error("the other workshop varies our job")
	}
	sound(t, s, p)
}

// Who said yes, and what shows it, goes with its customer; what was agreed
// still verifies. What was changed behind the store's back does not.
func TestVariationsAreEmptied(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	c := content("agreed")
	write(t, s, p, func(tx WriteTx) error {
		customer, err := tx.AddCustomer(CustomerContent{Kind: quote.Private, Name: "Ada", KeepUntil: "2026-04-01"})
		if err != nil {
			return err
		}
		c.Customer = customer.ID
		q, err := tx.CreateQuote(c)
		if err != nil {
			return err
		}
		if _, err := tx.IssueQuote(q.ID, 1, frozenText("agreed")); err != nil {
			return err
		}
		head, kept, err := tx.AcceptQuote(q.ID, 2, yesTo(1), nil)
		if err != nil {
			return err
		}
		if err := addJob(tx, head, kept.Revision); err != nil {
			return err
		}
		list, _, err := tx.Jobs(JobFilter{})
		if err != nil {
			return err
		}
		if err := varied(tx, list[0].ID); err != nil {
			return err
		}
		if _, err := tx.EraseCustomer(customer.ID, customer.Version, nil); err != nil {
			return err
		}
		v, err := tx.Variation(list[0].ID, 1)
		if v.By != "" || v.Evidence[0].Says != "Erased." || v.Evidence[0].Content != nil || v.Evidence[0].SHA256 == "" || v.Evidence[1].Says != "Erased." || v.State != job.VariationAccepted {
			t.Errorf("emptied it is %+v %+v", v.VariationEntry, v.Evidence)
		}
		return err
	})
	sound(t, s, p)
	l := otherLine(t, path)
	if err := l.gorm.Exec(`UPDATE variations SET total_minor = 1`).Error; err != nil {
		t.Fatal(err)
	}
	broken(t, s, p, "a total was changed")
}

// Behind the store's back no evidence can be changed unseen, even without the
// triggers.
func TestTamperingWithEvidenceOfVariationsIsFound(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	of := agreedJob(t, s, p)
	write(t, s, p, func(tx WriteTx) error { return varied(tx, of) })
	sound(t, s, p)
	l := otherLine(t, path)
	if err := l.exec(t.Context(), `DROP TRIGGER variation_evidence_is_not_changed; DROP TRIGGER variation_evidence_is_not_removed`); err != nil {
		t.Fatal(err)
	}
	for _, tampered := range []struct{ do, undo string }{
		{`UPDATE variation_evidence SET sha256 = '' WHERE place = 1`, `UPDATE variation_evidence SET sha256 = '` + hashHex("signed") + `' WHERE place = 1`},
		{`UPDATE variation_evidence SET content = x'00' WHERE place = 1`, `UPDATE variation_evidence SET content = x'7369676e6564' WHERE place = 1`},
		{`DELETE FROM variation_evidence WHERE place = 2`, ``},
	} {
		if err := l.gorm.Exec(tampered.do).Error; err != nil {
			t.Fatal(err)
		}
		broken(t, s, p, tampered.do)
		if tampered.undo != "" {
			if err := l.gorm.Exec(tampered.undo).Error; err != nil {
				t.Fatal(err)
			}
			sound(t, s, p)
		}
	}
}

func hashHex(text string) string { return string(hashOf([]byte(text))) }

// broken holds that the journal finds what was done to a variation.
func broken(t *testing.T, s *Store, p auth.Principal, what string) {
	t.Helper()
	read(t, s, p, func(tx ReadTx) error {
		if _, err := tx.VerifyJournal(); err == nil || !strings.Contains(err.Error(), "variation") {
			t.Errorf("%s, and the journal says %v", what, err)
		}
		return nil
	})
}

// TestVariationLinks: a link is to what waits for an answer, is found by its
// secret in its own workshop alone, and ends when it is withdrawn.
func TestVariationLinks(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	other := workshop(t, s, "moorside")
	of := agreedJob(t, s, p)
	secret := strings.Repeat("a", 64)
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error {
		if _, err := tx.AddVariation(of, variationContent("proposed", 1_000)); err != nil {
			return err
		}
		_, err := tx.MakeVariationLink(of, 1, secret)
		return err
	})
	if !errors.Is(err, ErrState) {
		t.Errorf("a link to a draft: %v", err)
	}
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.AddVariation(of, variationContent("proposed", 1_000)); err != nil {
			return err
		}
		if _, err := tx.SendVariation(of, 1, "2026-04-03", variationContent("sent", 1_200)); err != nil {
			return err
		}
		_, err := tx.MakeVariationLink(of, 1, secret)
		return err
	})
	l, as, err := s.FindVariationLink(t.Context(), p.Workshop, secret)
	if err != nil || l.Job != of || l.Number != 1 || as.Person != p.Person || as.Role != auth.Sales || as.Workshop != p.Workshop {
		t.Errorf("found %+v for %+v, %v", l, as, err)
	}
	for name, find := range map[string]func() error{
		"in the other workshop": func() error { _, _, err := s.FindVariationLink(t.Context(), other.Workshop, secret); return err },
		"by another secret": func() error {
			_, _, err := s.FindVariationLink(t.Context(), p.Workshop, strings.Repeat("b", 64))
			return err
		},
		"as a quote's": func() error { _, _, err := s.FindLink(t.Context(), p.Workshop, secret); return err },
	} {
		if err := find(); !errors.Is(err, ErrNotFound) {
			t.Errorf("%s: %v", name, err)
		}
	}
	write(t, s, p, func(tx WriteTx) error { return tx.WithdrawVariationLinks(of, 1) })
	if _, _, err := s.FindVariationLink(t.Context(), p.Workshop, secret); !errors.Is(err, ErrNotFound) {
		t.Errorf("withdrawn: %v", err)
	}
	sound(t, s, p)
}
