package store

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// keepProof keeps a proof of the workshop's first release, with one warning
// acknowledged now and one carried over.
func keepProof(t *testing.T, s *Store, p auth.Principal) []Acknowledgement {
	t.Helper()
	list := []Acknowledgement{
		{Warning: "check_never_met:checks/payload", Says: "It is never met.", Reason: "The long van is weighed in spring."},
		{Warning: "idle_safety_rule:safety_rules/gas_alarm", Says: "It says nothing.", Reason: "No gas is sold yet.",
			By: p.Person, At: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)},
	}
	write(t, s, p, func(tx WriteTx) error {
		return tx.KeepProof(1, Pack([]byte("proof of the first")), list)
	})
	return list
}

// A proof comes back as it was kept; what is acknowledged now is the person's,
// what is carried over keeps who and when, and the journal tells the two apart.
func TestProofComesBackAsKept(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	want := keepProof(t, s, p)
	read(t, s, p, func(tx ReadTx) error {
		got, err := tx.ReleaseProof(1)
		if err != nil {
			return err
		}
		if got.Release != 1 || got.ProvedBy != p.Person || got.ProvedAt.IsZero() || unpacked(t, got.Document) != "proof of the first" {
			t.Errorf("kept %+v", got)
		}
		want[0].By, want[0].At = p.Person, got.ProvedAt
		if !slices.Equal(got.Acknowledged, want) {
			t.Errorf("acknowledged %+v\nwant %+v", got.Acknowledged, want)
		}
		lines, err := tx.Journal(0, maxPage)
		var said []string
		for _, l := range lines {
			if l.Noun == "proof" || l.Noun == "acknowledgement" {
				said = append(said, l.Verb+" "+l.Noun+" "+l.ID)
			}
		}
		if !slices.Equal(said, []string{"proved proof 1", "acknowledged acknowledgement 1/1", "carried over acknowledgement 1/2"}) {
			t.Errorf("the journal says %q", said)
		}
		return err
	})
	read(t, s, other, func(tx ReadTx) error {
		if _, err := tx.ReleaseProof(1); !errors.Is(err, ErrNotFound) {
			t.Errorf("another workshop's proof: %v", err)
		}
		list, err := tx.Acknowledgements(1)
		if len(list) != 0 {
			t.Errorf("another workshop's acknowledgements: %+v", list)
		}
		return err
	})
	sound(t, s, p)
}

// What cannot be is refused, and leaves nothing behind.
func TestProofIsRefused(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	twice := []Acknowledgement{{Warning: "a", Says: "A.", Reason: "So."}, {Warning: "a", Says: "A.", Reason: "So."}}
	stranger := []Acknowledgement{{Warning: "a", Says: "A.", Reason: "So.", By: uuid.Max, At: time.Now()}}
	for what, c := range map[string]struct {
		release int64
		list    []Acknowledgement
		want    error
	}{
		"of no release":      {2, nil, ErrMissing},
		"a warning twice":    {1, twice, ErrTaken},
		"by somebody else's": {1, stranger, ErrMissing},
	} {
		err := s.As(p).Write(t.Context(), func(tx WriteTx) error { return tx.KeepProof(c.release, Pack([]byte("x")), c.list) })
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v", what, err)
		}
	}
	keepProof(t, s, p)
	if err := s.As(p).Write(t.Context(), func(tx WriteTx) error { return tx.KeepProof(1, Pack([]byte("x")), nil) }); !errors.Is(err, ErrTaken) {
		t.Errorf("a second proof: %v", err)
	}
	sound(t, s, p)
}

// Behind the store's back nothing is changed unseen.
func TestChangedAcknowledgementIsSeen(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	keepProof(t, s, p)
	l := otherLine(t, path)
	drop := `DROP TRIGGER acknowledgement_is_not_changed`
	if isPostgres(path) {
		drop += ` ON acknowledgements`
	}
	for _, statement := range []string{drop, `UPDATE acknowledgements SET reason = 'Nobody looked.' WHERE place = 2`} {
		if err := l.exec(t.Context(), statement); err != nil {
			t.Fatal(err)
		}
	}
	err := s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
	if !errors.Is(err, ErrJournal) {
		t.Errorf("verified: %v", err)
	}
}
