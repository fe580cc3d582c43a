package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"

	"wainscot/api/auth"
)

// childWritesWithoutEnd writes from eight goroutines until it is killed, and
// says each quote's van once its write is acknowledged. Each write is several
// rows: a quote with its revision and van, their line in the journal, a number,
// and the answer kept for it.
func childWritesWithoutEnd(address string) error {
	s, err := Open(context.Background(), address, Options{})
	if err != nil {
		return err
	}
	p, err := principalOf(s)
	if err != nil {
		return err
	}
	var one sync.Mutex
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			for j := 0; ; j++ {
				van := fmt.Sprintf("%d-%d-%d", os.Getpid(), i, j)
				if err := writeAnswered(s, p, van); err != nil {
					fmt.Fprintln(os.Stderr, err)
					return
				}
				one.Lock()
				say(van)
				one.Unlock()
			}
		})
	}
	all.Wait()
	return errors.New("it was to be killed")
}

func writeAnswered(s *Store, p auth.Principal, van string) error {
	return s.As(p).Write(context.Background(), func(tx WriteTx) error {
		q, err := tx.CreateQuote(content(van))
		if err != nil {
			return err
		}
		return tx.KeepAnswer(KeptAnswer{Key: van, Fingerprint: strings.Repeat("f", 64), Status: 201, Version: q.Version, Body: []byte(q.ID.String())})
	})
}

// principalOf is the owner of the only workshop.
func principalOf(s *Store) (auth.Principal, error) {
	found, err := s.FindSignIn(context.Background(), "fenland", "owner@fenland.example")
	return found.Principal, err
}

// TestKilledAgainAndAgain kills a writing process without warning, twenty
// times on one database, and in CI on ten of them. After each kill everything
// that was acknowledged is there once; what was not is there whole or not at
// all; numbers have no gaps and the journal holds.
func TestKilledAgainAndAgain(t *testing.T) {
	t.Parallel()
	databases := 1
	if os.Getenv("WAINSCOT_CI") != "" {
		databases = 10
	}
	for d := range databases {
		t.Run(fmt.Sprint(d), func(t *testing.T) {
			t.Parallel()
			address := fresh(t)
			s := open(t, address, Options{})
			p := workshop(t, s, "fenland")
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			acknowledged := map[string]bool{}
			unacknowledged := 0
			for cycle := range 20 {
				// From at once to in the middle of a few groups.
				killAfter(t, address, cycle*(d+1)%41, acknowledged)
				unacknowledged = checkKilled(t, address, p, acknowledged)
			}
			t.Logf("%d quotes acknowledged over 20 kills, %d more stored before it could be said", len(acknowledged), unacknowledged)
		})
	}
}

// killAfter starts a child that writes, kills it once so many writes are
// acknowledged, and notes all that it acknowledged.
func killAfter(t *testing.T, address string, writes int, acknowledged map[string]bool) {
	t.Helper()
	c := child(t, "quotes without end", address)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(out)
	for n := 0; said.Scan(); n++ {
		acknowledged[said.Text()] = true
		if n == writes {
			if err := c.Process.Kill(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := c.Wait(); err == nil {
		t.Fatal("the child ended by itself")
	}
}

// checkKilled holds what is stored against what was acknowledged, and counts
// what is stored besides.
func checkKilled(t *testing.T, address string, p auth.Principal, acknowledged map[string]bool) (besides int) {
	t.Helper()
	s, err := Open(context.Background(), address, Options{})
	if err != nil {
		t.Fatal(err)
	}
	seen := sound(t, s, p)
	for van := range acknowledged {
		if seen[van] != 1 {
			t.Fatalf("%s was acknowledged and is there %d times", van, seen[van])
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		answers, err := of[keptAnswerRow](tx).all()
		if err != nil {
			return err
		}
		if len(answers) != len(seen) {
			t.Fatalf("%d quotes and %d answers: one was written without the other", len(seen), len(answers))
		}
		for _, a := range answers {
			if seen[a.RequestKey] != 1 {
				t.Fatalf("the answer to %s is there and the quote %d times", a.RequestKey, seen[a.RequestKey])
			}
		}
		return nil
	})
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return len(seen) - len(acknowledged)
}
