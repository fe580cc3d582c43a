package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
)

// carelessSettings are the writer's, but as the driver has them by default:
// synchronous=NORMAL, which does not flush a commit.
func carelessSettings() []setting {
	careless := slices.Clone(writerSettings)
	for i, s := range careless {
		if s.pragma == "synchronous" {
			careless[i] = setting{s.asked, "NORMAL", s.pragma, "1"}
		}
	}
	return careless
}

const childGroups = 40

func childWritesQuotes(settings []setting) func(string) error {
	return func(path string) (err error) {
		s, err := Open(context.Background(), path, Options{unsafeWriter: settings})
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.Close()) }()
		p, err := openWorkshop(s, "fenland")
		if err != nil {
			return err
		}
		before, err := flushed()
		if err != nil {
			return err
		}
		groups := s.Stats().Groups
		for range childGroups {
			if err := writeQuote(s, p, "van"); err != nil {
				return err
			}
		}
		after, err := flushed()
		if err != nil {
			return err
		}
		say(after-before, s.Stats().Groups-groups)
		return nil
	}
}

func writeQuote(s *Store, p auth.Principal, baseVan string) error {
	return s.As(p).Write(context.Background(), func(tx WriteTx) error {
		_, err := tx.CreateQuote(content(baseVan))
		return err
	})
}

// TestEveryAcknowledgedGroupIsFlushed counts what the store asks of the disk:
// killing the process can never show whether a power cut would lose a write,
// because what is written survives in the kernel. The same count with the
// driver's default shows that the test would see it.
func TestEveryAcknowledgedGroupIsFlushed(t *testing.T) {
	t.Parallel()
	storetest.NeedsSQLite(t)
	count := func(name string) (flushes, groups int64) {
		said := saidBy(t, child(t, name, freshFile(t), countFlushes(t)...))
		if _, err := fmt.Sscan(said[0], &flushes, &groups); err != nil {
			t.Fatal(said, err)
		}
		t.Logf("%s: %d flushes for %d commits", name, flushes, groups)
		if groups != childGroups {
			t.Errorf("%s: %d commits, want %d", name, groups, childGroups)
		}
		return flushes, groups
	}
	if flushes, groups := count("quotes, kept"); flushes < groups {
		t.Errorf("%d flushes for %d acknowledged commits", flushes, groups)
	}
	if flushes, groups := count("quotes, hardly kept"); flushes >= groups {
		t.Errorf("with synchronous=NORMAL %d flushes for %d commits: the count does not tell the two apart", flushes, groups)
	}
}

// childWithFailingDisk writes before, while and after the disk fails, and says
// what it was answered.
func childWithFailingDisk(path string) (err error) {
	s, err := Open(context.Background(), path, Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	p, err := openWorkshop(s, "fenland")
	if err != nil {
		return err
	}
	say("principal", p.Workshop, p.Person)
	for _, step := range []struct {
		fail int64
		vans []string
	}{
		{0, []string{"a", "b"}},
		{1, []string{"c", "d"}}, // one flush fails: the commit
		{1000, []string{"e", "f", "g"}},
		{0, []string{"h", "i"}},
	} {
		if err := failFlushes(step.fail); err != nil {
			return err
		}
		for _, van := range step.vans {
			say("quote", van, kind(writeQuote(s, p, van)))
		}
	}
	return nil
}

func kind(err error) string {
	switch {
	case err == nil:
		return "stored"
	case errors.Is(err, ErrUnknown):
		return "unknown"
	case errors.Is(err, ErrNotStored):
		return "not-stored"
	}
	return err.Error()
}

// TestFailedCommitIsUnknown lets the flush of a commit fail, as a failing disk
// does. Whoever waited must not be told "stored" nor "not stored"; the store
// must go on by itself as soon as the disk does; and nothing that was
// acknowledged may be lost or doubled.
func TestFailedCommitIsUnknown(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	said := saidBy(t, child(t, "disk fails", path, countFlushes(t)...))
	p := auth.Principal{Role: auth.Owner}
	answers := map[string]string{}
	for _, line := range said {
		f := strings.Fields(line)
		if f[0] == "principal" {
			if err := errors.Join(p.Workshop.UnmarshalText([]byte(f[1])), p.Person.UnmarshalText([]byte(f[2]))); err != nil {
				t.Fatal(err)
			}
			continue
		}
		answers[f[1]] = strings.Join(f[2:], " ")
	}
	for van, want := range map[string]string{
		"a": "stored", "b": "stored",
		"c": "unknown", "d": "stored",
		"e": "unknown", "f": "not-stored", "g": "not-stored",
		"h": "stored", "i": "stored",
	} {
		if answers[van] != want {
			t.Errorf("quote %s was answered %q, want %q", van, answers[van], want)
		}
	}
	seen := sound(t, open(t, path, Options{}), p)
	for van, answer := range answers {
		switch n := seen[van]; {
		case n > 1, answer == "stored" && n != 1, answer == "not-stored" && n != 0:
			t.Errorf("quote %s was answered %q and is there %d times", van, answer, n)
		}
	}
}

// childThatLooksAndDies looks after a commit of unknown outcome whether it is
// there, and ends without closing anything.
func childThatLooksAndDies(path string) error {
	s, err := Open(context.Background(), path, Options{})
	if err != nil {
		return err
	}
	p, err := principalOf(s)
	if err != nil {
		return err
	}
	if err := errors.Join(writeQuote(s, p, "a"), failFlushes(1)); err != nil {
		return err
	}
	if err := writeQuote(s, p, "b"); !errors.Is(err, ErrUnknown) {
		return fmt.Errorf("answered %w", err)
	}
	seen, err := soundness(s, p)
	say(seen["a"], seen["b"])
	return err
}

// TestLookingSettlesAnUnknownCommit: what a caller sees who looks after a
// failed commit is what stays, also when the process dies right then. The
// frames of the failed commit are whole in the write-ahead log, and opening
// the file would bring them back if they were left there.
func TestLookingSettlesAnUnknownCommit(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	s := open(t, path, Options{})
	p := workshop(t, s, "fenland")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	said := saidBy(t, child(t, "disk fails, dies", path, countFlushes(t)...))
	seen := checkAfterKill(t, path, p)
	if now := fmt.Sprint(seen["a"], seen["b"]); now != said[0] || seen["a"] != 1 {
		t.Errorf("there were %s of the two quotes, and are %s after the process died", said[0], now)
	}
}

func checkAfterKill(t *testing.T, path string, p auth.Principal) map[string]int {
	t.Helper()
	s, err := Open(context.Background(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	seen := sound(t, s, p)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return seen
}
