package store

import (
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// hands is a store whose clock is set by hand.
func hands(t *testing.T) (*Store, *atomic.Int64, auth.Principal) {
	t.Helper()
	var us atomic.Int64
	us.Store(noon.UnixMicro())
	o := steady()
	o.Now = func() time.Time { return time.UnixMicro(us.Load()) }
	s := open(t, fresh(t), o)
	return s, &us, workshop(t, s, "fenland")
}

// signIn begins a sign-in of p, whose password hash workshop has made up.
func signIn(t *testing.T, s *Store, p auth.Principal) (auth.Principal, auth.Renewal) {
	t.Helper()
	first, err := auth.NewRenewal(p.Workshop, uuid.Must(uuid.NewV7()))
	if err != nil {
		t.Fatal(err)
	}
	var hash string
	read(t, s, p, func(tx ReadTx) (err error) {
		hash, err = tx.PasswordHash(p.Person)
		return err
	})
	p.SignIn = uuid.Nil
	write(t, s, p, func(tx WriteTx) error { return tx.SignIn(first, hash) })
	p.SignIn = first.SignIn
	return p, first
}

func renewed(t *testing.T, s *Store, old auth.Renewal, want error) auth.Renewal {
	t.Helper()
	next, err := old.Next()
	if err != nil {
		t.Fatal(err)
	}
	p, begun, err := s.RenewSignIn(t.Context(), old, next)
	if !errors.Is(err, want) {
		t.Fatalf("renewing: %v, want %v", err, want)
	}
	if err == nil && (p.SignIn != old.SignIn || p.Workshop != old.Workshop || !p.Valid() || begun.IsZero()) {
		t.Errorf("renewed for %+v, begun %v", p, begun)
	}
	return next
}

// stands says whether the principal may still read and write.
func stands(t *testing.T, s *Store, p auth.Principal, want error) {
	t.Helper()
	if err := s.As(p).Read(t.Context(), ReadTx.Standing); !errors.Is(err, want) {
		t.Errorf("Standing: %v, want %v", err, want)
	}
	ran := false
	err := s.As(p).Write(t.Context(), func(WriteTx) error { ran = true; return nil })
	if !errors.Is(err, want) || ran != (want == nil) {
		t.Errorf("a write: %v (it ran: %v), want %v", err, ran, want)
	}
}

func TestRenewing(t *testing.T) {
	t.Parallel()
	s, us, p := hands(t)
	p, r := signIn(t, s, p)
	for range 5 {
		us.Add(time.Hour.Microseconds())
		r = renewed(t, s, r, nil)
	}
	stands(t, s, p, nil)
}

// An old renewal used again ends the sign-in for both who hold it, wherever in
// the chain it stands.
func TestOldRenewalEndsTheSignIn(t *testing.T) {
	t.Parallel()
	for _, back := range []int{1, 2, 4} {
		s, us, p := hands(t)
		p, first := signIn(t, s, p)
		chain := []auth.Renewal{first}
		for range 4 {
			us.Add(time.Hour.Microseconds())
			chain = append(chain, renewed(t, s, chain[len(chain)-1], nil))
		}
		us.Add(time.Hour.Microseconds())
		renewed(t, s, chain[len(chain)-1-back], ErrUsedAgain)
		renewed(t, s, chain[len(chain)-1], ErrShutOut)
		stands(t, s, p, ErrShutOut)
		read(t, s, auth.Principal{Workshop: p.Workshop, Person: p.Person, Role: p.Role}, func(tx ReadTx) error {
			row, err := of[signInRow](tx).where("id = ?", p.SignIn).one()
			if row.EndedWhy != whyUsedAgain {
				t.Errorf("it ended because it was %q", row.EndedWhy)
			}
			return err
		})
		sound(t, s, auth.Principal{Workshop: p.Workshop, Person: p.Person, Role: p.Role})
	}
}

// Within the grace the token before the newest renews once more, and its first
// answer is then worth nothing; a fork is found out in the next round.
func TestRenewalGrace(t *testing.T) {
	t.Parallel()
	s, us, p := hands(t)
	p, first := signIn(t, s, p)
	us.Add(time.Hour.Microseconds())
	lost := renewed(t, s, first, nil) // the answer did not arrive
	us.Add(auth.RenewalGrace.Microseconds())
	second := renewed(t, s, first, nil)
	us.Add(time.Hour.Microseconds())
	third := renewed(t, s, second, nil)
	renewed(t, s, lost, ErrUsedAgain)
	renewed(t, s, third, ErrShutOut)
	stands(t, s, p, ErrShutOut)

	p, first = signIn(t, s, p)
	renewed(t, s, first, nil)
	us.Add(auth.RenewalGrace.Microseconds() + 1)
	renewed(t, s, first, ErrUsedAgain) // a moment too late
	stands(t, s, p, ErrShutOut)
}

func TestSignInsRunOut(t *testing.T) {
	t.Parallel()
	s, us, p := hands(t)
	p, r := signIn(t, s, p)
	us.Add(auth.SignInIdle.Microseconds())
	r = renewed(t, s, r, nil) // on the last moment
	us.Add(auth.SignInIdle.Microseconds() + 1)
	renewed(t, s, r, ErrShutOut)
	stands(t, s, p, ErrShutOut)

	_, r = signIn(t, s, p)
	for left := auth.SignInLongest; left > 0; left -= 10 * 24 * time.Hour {
		us.Add((10 * 24 * time.Hour).Microseconds())
		r = renewed(t, s, r, nil)
	}
	us.Add(1)
	renewed(t, s, r, ErrShutOut)
}

// What was made up is refused and ends nothing: only who holds an old renewal
// can end the sign-in with it.
func TestMadeUpRenewalEndsNothing(t *testing.T) {
	t.Parallel()
	s, _, p := hands(t)
	other := workshop(t, s, "moorside")
	p, r := signIn(t, s, p)
	madeUp, err := auth.NewRenewal(p.Workshop, p.SignIn)
	if err != nil {
		t.Fatal(err)
	}
	elsewhere := r
	elsewhere.Workshop = other.Workshop
	unknown := r
	unknown.SignIn = uuid.Must(uuid.NewV7())
	for _, bad := range []auth.Renewal{madeUp, elsewhere, unknown} {
		renewed(t, s, bad, ErrShutOut)
	}
	renewed(t, s, r, nil)
	stands(t, s, p, nil)
}

func TestEverythingThatShutsOut(t *testing.T) {
	t.Parallel()
	for name, do := range map[string]func(WriteTx, auth.Principal) error{
		"signing out": func(tx WriteTx, p auth.Principal) error { return tx.SignOutEverywhere(p.Person) },
		"leaving":     func(tx WriteTx, p auth.Principal) error { _, err := tx.PersonLeaves(p.Person, 1); return err },
		"a new role": func(tx WriteTx, p auth.Principal) error {
			_, err := tx.ChangePerson(p.Person, 1, PersonChange{"Sal", auth.Workshop})
			return err
		},
		"a new password": func(tx WriteTx, p auth.Principal) error { return tx.SetPassword(p.Person, "another") },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, _, owner := hands(t)
			var seller auth.Principal
			write(t, s, owner, func(tx WriteTx) error {
				added, err := tx.AddPerson(NewPerson{Name: "Sal", Email: "sal@fenland.example", Role: auth.Sales, PasswordHash: "hash"})
				seller = auth.Principal{Workshop: owner.Workshop, Person: added.ID, Role: auth.Sales}
				return err
			})
			one, r := signIn(t, s, seller)
			two, _ := signIn(t, s, seller)
			stands(t, s, one, nil)
			write(t, s, owner, func(tx WriteTx) error { return do(tx, seller) })
			stands(t, s, one, ErrShutOut)
			stands(t, s, two, ErrShutOut)
			next, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			p, _, err := s.RenewSignIn(t.Context(), r, next)
			if name == "a new role" { // the sign-in holds, for the role there is now
				if err != nil || p.Role != auth.Workshop {
					t.Errorf("renewed as %s, %v", p.Role, err)
				}
				stands(t, s, p, nil)
			} else if !errors.Is(err, ErrShutOut) {
				t.Errorf("renewed: %v", err)
			}
			sound(t, s, owner)
		})
	}
}

// Between checking a password and beginning the sign-in everything may change.
func TestSigningInChecksAgain(t *testing.T) {
	t.Parallel()
	s, _, owner := hands(t)
	begin := func(p auth.Principal, hash string) error {
		first, err := auth.NewRenewal(p.Workshop, uuid.Must(uuid.NewV7()))
		if err != nil {
			t.Fatal(err)
		}
		return s.As(p).Write(t.Context(), func(tx WriteTx) error { return tx.SignIn(first, hash) })
	}
	write(t, s, owner, func(tx WriteTx) error { return tx.SetPassword(owner.Person, "new") })
	for name, err := range map[string]error{
		"old password": begin(owner, "$argon2id$of-fenland"),
		"old role":     begin(auth.Principal{Workshop: owner.Workshop, Person: owner.Person, Role: auth.Sales}, "new"),
		"nobody":       begin(auth.Principal{Workshop: owner.Workshop, Person: uuid.Must(uuid.NewV7()), Role: auth.Owner}, "new"),
	} {
		if !errors.Is(err, ErrShutOut) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := begin(owner, "new"); err != nil {
		t.Error(err)
	}
}

// A person's sign-ins are few: one more ends the one longest not renewed.
func TestSignInsAreFew(t *testing.T) {
	t.Parallel()
	s, us, owner := hands(t)
	first, r := signIn(t, s, owner)
	second, _ := signIn(t, s, owner)
	us.Add(time.Hour.Microseconds())
	renewed(t, s, r, nil)
	for range maxSignIns - 1 {
		signIn(t, s, owner)
	}
	stands(t, s, second, ErrShutOut)
	stands(t, s, first, nil)
	read(t, s, owner, func(tx ReadTx) error {
		n, err := tx.SignIns(owner.Person)
		if n != maxSignIns {
			t.Errorf("%d sign-ins hold", n)
		}
		return err
	})
}

func TestLastOwnerStays(t *testing.T) {
	t.Parallel()
	s, _, owner := hands(t)
	leave := func(tx WriteTx) error { _, err := tx.PersonLeaves(owner.Person, 1); return err }
	for name, do := range map[string]func(WriteTx) error{
		"leaves": leave,
		"other role": func(tx WriteTx) error {
			_, err := tx.ChangePerson(owner.Person, 1, PersonChange{"O", auth.Books})
			return err
		},
	} {
		if err := s.As(owner).Write(t.Context(), do); !errors.Is(err, ErrLastOwner) {
			t.Errorf("%s: %v", name, err)
		}
	}
	write(t, s, owner, func(tx WriteTx) error {
		_, err := tx.ChangePerson(owner.Person, 1, PersonChange{"Renamed", auth.Owner})
		return err
	})
	write(t, s, owner, func(tx WriteTx) error {
		_, err := tx.AddPerson(NewPerson{Name: "Two", Email: "two@fenland.example", Role: auth.Owner, PasswordHash: "hash"})
		return err
	})
	if err := s.As(owner).Write(t.Context(), leave); !errors.Is(err, ErrStale) {
		t.Errorf("leaving from version 1 of 2: %v", err)
	}
	write(t, s, owner, func(tx WriteTx) error { _, err := tx.PersonLeaves(owner.Person, 2); return err })
}

// TestNoLostUpdate: 64 writers on one person, each adding their letter to what
// they read: every letter that was acknowledged is there.
func TestNoLostUpdate(t *testing.T) {
	t.Parallel()
	s, _, owner := hands(t)
	const writers = 64
	var all sync.WaitGroup
	var stale atomic.Int64
	for i := range writers {
		all.Go(func() {
			mark := string(rune(0x3400 + i)) // one sign that no name has
			for {
				var seen Person
				if err := s.As(owner).Read(t.Context(), func(tx ReadTx) (err error) {
					seen, err = tx.Person(owner.Person)
					return err
				}); err != nil {
					t.Error(err)
					return
				}
				err := s.As(owner).Write(t.Context(), func(tx WriteTx) error {
					_, err := tx.ChangePerson(owner.Person, seen.Version, PersonChange{seen.Name + mark, auth.Owner})
					return err
				})
				if err == nil {
					return
				}
				if !errors.Is(err, ErrStale) {
					t.Error(err)
					return
				}
				stale.Add(1)
			}
		})
	}
	all.Wait()
	read(t, s, owner, func(tx ReadTx) error {
		now, err := tx.Person(owner.Person)
		if now.Version != 1+writers {
			t.Errorf("version %d after %d changes", now.Version, writers)
		}
		for i := range writers {
			if mark := string(rune(0x3400 + i)); strings.Count(now.Name, mark) != 1 {
				t.Errorf("%q is there %d times", mark, strings.Count(now.Name, mark))
			}
		}
		return err
	})
	if stale.Load() == 0 {
		t.Log("no writer met another: nothing was shown")
	}
}

// Writes that are committed together look once whether a sign-in holds, and
// again after one of them has changed what was found.
func TestShutOutInTheSameCommit(t *testing.T) {
	t.Parallel()
	odd := errors.New("not to stay")
	signOut := func(tx WriteTx, who auth.Principal) error { return tx.SignOutEverywhere(who.Person) }
	role := func(version int64, r auth.Role) func(WriteTx, auth.Principal) error {
		return func(tx WriteTx, who auth.Principal) error {
			_, err := tx.ChangePerson(who.Person, version, PersonChange{"Sal", r})
			return err
		}
	}
	undone := func(do func(WriteTx, auth.Principal) error) func(WriteTx, auth.Principal) error {
		return func(tx WriteTx, who auth.Principal) error {
			err := do(tx, who)
			tx.s.as = who // as if the seller asked in the middle of it
			return errors.Join(odd, err, tx.Standing())
		}
	}
	for name, test := range map[string]struct {
		between  []func(WriteTx, auth.Principal) error
		refused  []bool // whether each of between comes to an error
		shutOut  error
		standing error // in the last of between, where it asks
	}{
		"nothing happens":            {},
		"signed out":                 {between: []func(WriteTx, auth.Principal) error{signOut}, refused: []bool{false}, shutOut: ErrShutOut},
		"signed out and that undone": {between: []func(WriteTx, auth.Principal) error{undone(signOut)}, refused: []bool{true}, standing: ErrShutOut},
		"another role":               {between: []func(WriteTx, auth.Principal) error{role(1, auth.Workshop)}, refused: []bool{false}, shutOut: ErrShutOut},
		"another role and back":      {between: []func(WriteTx, auth.Principal) error{role(1, auth.Workshop), role(2, auth.Sales)}, refused: []bool{false, false}},
		"and back, and that undone": {
			between: []func(WriteTx, auth.Principal) error{role(1, auth.Workshop), undone(role(2, auth.Sales))},
			refused: []bool{false, true}, shutOut: ErrShutOut,
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, _, owner := hands(t)
			var seller auth.Principal
			write(t, s, owner, func(tx WriteTx) error {
				added, err := tx.AddPerson(NewPerson{Name: "Sal", Email: "sal@fenland.example", Role: auth.Sales, PasswordHash: "hash"})
				seller = auth.Principal{Workshop: owner.Workshop, Person: added.ID, Role: auth.Sales}
				return err
			})
			seller, _ = signIn(t, s, seller)
			groups := s.Stats().Groups
			release := held(t, s, owner, nil)
			errs := make([]error, len(test.between)+3)
			var all sync.WaitGroup
			send := func(n int, as auth.Principal, do func(WriteTx) error) {
				all.Go(func() { errs[n] = s.As(as).Write(t.Context(), do) })
				queued(s, n+1)
			}
			nothing := func(WriteTx) error { return nil }
			send(0, seller, nothing)
			send(1, seller, nothing) // by what the first found
			for i, do := range test.between {
				send(i+2, owner, func(tx WriteTx) error { return do(tx, seller) })
			}
			last := len(errs) - 1
			send(last, seller, nothing)
			release()
			all.Wait()
			if got := s.Stats().Groups - groups; got != 1 {
				t.Fatalf("%d commits, want 1", got)
			}
			if errs[0] != nil || errs[1] != nil || !errors.Is(errs[last], test.shutOut) {
				t.Errorf("the seller's writes: %v, %v and at last %v, want %v", errs[0], errs[1], errs[last], test.shutOut)
			}
			for i, refused := range test.refused {
				if (errs[i+2] != nil) != refused || errors.Is(errs[i+2], ErrShutOut) != (i == len(test.refused)-1 && test.standing != nil) {
					t.Errorf("write %d between: %v", i+1, errs[i+2])
				}
			}
			stands(t, s, seller, test.shutOut)
		})
	}
}
