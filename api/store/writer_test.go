package store

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"

	"wainscot/api/auth"
)

// held makes the writer wait inside a closure until release is called, so that
// what is written meanwhile waits in the queue. The held write must come to
// the error want.
func held(tb testing.TB, s *Store, p auth.Principal, want error) (release func()) {
	tb.Helper()
	begun, let := make(chan struct{}), make(chan struct{})
	ended := make(chan error, 1)
	var once sync.Once
	go func() {
		ended <- s.As(p).Write(context.Background(), func(WriteTx) error {
			once.Do(func() { close(begun) }) // it may be run again
			<-let
			return nil
		})
	}()
	<-begun
	return func() {
		close(let)
		if err := <-ended; !errors.Is(err, want) {
			tb.Errorf("the held write: %v, want %v", err, want)
		}
	}
}

// queued waits until n writes are in the queue.
func queued(s *Store, n int) {
	for s.Stats().Waiting < n {
		runtime.Gosched()
	}
}

func TestWaitingWritesAreCommittedTogether(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	before := s.Stats()
	release := held(t, s, p, nil)
	const many = 30
	odd := errors.New("odd ones fail")
	errs := make([]error, many)
	var all sync.WaitGroup
	for i := range many {
		all.Go(func() {
			errs[i] = s.As(p).Write(context.Background(), func(tx WriteTx) error {
				if _, err := tx.CreateQuote(content(fmt.Sprint("van ", i))); err != nil {
					return err
				}
				if i%2 == 1 {
					return odd // after having written
				}
				return nil
			})
		})
	}
	queued(s, many)
	release()
	all.Wait()
	after := s.Stats()
	if got := after.Groups - before.Groups; got != 1 {
		t.Errorf("%d commits, want 1", got)
	}
	if after.Largest != many+1 {
		t.Errorf("the largest group had %d, want %d", after.Largest, many+1)
	}
	seen := sound(t, s, p) // numbers and journal lines of the failed ones are gone
	for i, err := range errs {
		stored := seen[fmt.Sprint("van ", i)]
		if want := 1 - i%2; stored != want || (i%2 == 1) != errors.Is(err, odd) {
			t.Errorf("write %d: %v, stored %d times, want %d", i, err, stored, want)
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		head, err := tx.JournalHead()
		if want := int64(4 + many/2); head.Seq != want {
			t.Errorf("the journal has %d lines, want %d", head.Seq, want)
		}
		return err
	})
}

func TestGroupsAreBounded(t *testing.T) {
	t.Parallel()
	o := steady()
	o.Group = 4
	s := open(t, fresh(t), o)
	p := workshop(t, s, "fenland")
	release := held(t, s, p, nil)
	var all sync.WaitGroup
	for range 10 {
		all.Go(func() { addQuote(t, s, p, "van") })
	}
	queued(s, 10)
	release()
	all.Wait()
	if got := s.Stats().Largest; got != 4 {
		t.Errorf("the largest group had %d, want 4", got)
	}
}

func TestPanicsTouchNobodyElse(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	release := held(t, s, p, nil)
	var all sync.WaitGroup
	failing := func(check func(error) bool, end func()) {
		all.Go(func() {
			err := s.As(p).Write(context.Background(), func(tx WriteTx) error {
				if _, err := tx.CreateQuote(content("spoilt")); err != nil {
					return err
				}
				end()
				return nil
			})
			if !check(err) {
				t.Errorf("answered %v", err)
			}
		})
	}
	failing(func(err error) bool {
		panicked := new(Panic)
		return errors.As(err, &panicked) && panicked.Value == "in a write" && strings.Contains(string(panicked.Stack), "TestPanicsTouchNobodyElse")
	}, func() { panic("in a write") })
	failing(func(err error) bool { return errors.Is(err, errLeft) }, runtime.Goexit)
	all.Go(func() { addQuote(t, s, p, "good") })
	queued(s, 3)
	release()
	all.Wait()
	if seen := sound(t, s, p); seen["good"] != 1 || seen["spoilt"] != 0 {
		t.Errorf("stored: %v", seen)
	}
}

func TestFullQueueTurnsAway(t *testing.T) {
	t.Parallel()
	o := steady()
	o.Queue = 2
	s := open(t, fresh(t), o)
	p := workshop(t, s, "fenland")
	release := held(t, s, p, nil)
	var all sync.WaitGroup
	for range 2 {
		all.Go(func() { addQuote(t, s, p, "in time") })
	}
	queued(s, 2)
	err := s.As(p).Write(t.Context(), func(WriteTx) error { t.Error("ran"); return nil })
	if !errors.Is(err, ErrBusy) {
		t.Errorf("a third waiting: %v, want ErrBusy", err)
	}
	release()
	all.Wait()
}

func TestGivingUpWhileWaiting(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	release := held(t, s, p, nil)
	ctx, cancel := context.WithCancel(context.Background())
	answer := make(chan error)
	go func() {
		answer <- s.As(p).Write(ctx, func(WriteTx) error { t.Error("ran after its caller had gone"); return nil })
	}()
	queued(s, 1)
	cancel()
	if err := <-answer; !errors.Is(err, ErrNotStarted) || !errors.Is(err, context.Canceled) {
		t.Errorf("given up: %v, want ErrNotStarted", err)
	}
	release()
	addQuote(t, s, p, "next")
}

// A caller who gives up when the closure has begun is told the truth all the
// same, and the others in the group lose nothing.
func TestGivingUpTooLate(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	ctx, cancel := context.WithCancel(context.Background())
	err := s.As(p).Write(ctx, func(tx WriteTx) error {
		cancel()
		_, err := tx.CreateQuote(content("begun"))
		return err
	})
	if err != nil {
		t.Errorf("answered %v", err)
	}
	if seen := sound(t, s, p); seen["begun"] != 1 {
		t.Errorf("stored: %v", seen)
	}
}

func TestCloseLetsWaitingWritesFinish(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	release := held(t, s, p, nil)
	var all sync.WaitGroup
	for range 5 {
		all.Go(func() { addQuote(t, s, p, "in time") })
	}
	queued(s, 5)
	all.Go(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	release()
	all.Wait()
	if seen := sound(t, open(t, path, steady()), p); seen["in time"] != 5 {
		t.Errorf("stored: %v", seen)
	}
}

// An error of the database that a closure passes over must not be committed:
// another database would have ended the transaction at that point.
func TestDatabaseErrorsCannotBePassedOver(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error {
		if _, err := tx.CreateQuote(content("first")); err != nil {
			return err
		}
		_, err := tx.AddPerson(NewPerson{Name: "Twin", Email: "owner@fenland.example", Role: auth.Sales, PasswordHash: "x"})
		if !errors.Is(err, ErrTaken) {
			t.Errorf("the same e-mail address again: %v, want ErrTaken", err)
		}
		if _, err := tx.CreateQuote(content("second")); !errors.Is(err, ErrTaken) {
			t.Errorf("going on: %v", err)
		}
		return nil
	})
	if !errors.Is(err, ErrTaken) {
		t.Errorf("answered %v, want ErrTaken", err)
	}
	if seen := sound(t, s, p); len(seen) != 0 {
		t.Errorf("stored: %v", seen)
	}
}

// SQLite ends a transaction by itself on a full disk and the like. Nobody of
// the group may then be told that their write is stored.
func TestTransactionThatEndsByItself(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	release := held(t, s, p, ErrNotStored) // it is of the same group
	var all sync.WaitGroup
	expect := func(err error) {
		if !errors.Is(err, ErrNotStored) {
			t.Errorf("answered %v, want ErrNotStored", err)
		}
	}
	all.Go(func() {
		expect(s.As(p).Write(context.Background(), func(tx WriteTx) error {
			_, err := tx.CreateQuote(content("before"))
			return err
		}))
	})
	queued(s, 1)
	all.Go(func() {
		expect(s.writer.do(context.Background(), p.Workshop, func(l *line, _ *group) error {
			if err := l.exec(context.Background(), "ROLLBACK"); err != nil {
				t.Error(err)
			}
			return errors.New("the disk is full")
		}))
	})
	queued(s, 2)
	all.Go(func() { addQuote(t, s, p, "after") })
	queued(s, 3)
	release()
	all.Wait()
	if seen := sound(t, s, p); seen["before"] != 0 || seen["after"] != 1 {
		t.Errorf("stored: %v", seen)
	}
}

func TestSixtyFourWriters(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), Options{})
	one, two := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	const writers, each = 64, 10
	shared := addQuote(t, s, one, "shared")
	var all sync.WaitGroup
	for i := range writers {
		p := one
		if i%2 == 1 {
			p = two
		}
		all.Go(func() {
			for j := range each {
				addQuote(t, s, p, fmt.Sprintf("%d/%d", i, j))
			}
			if p == one {
				changeUntilDone(t, s, p, shared)
			}
		})
	}
	all.Wait()
	for who, p := range map[string]auth.Principal{"fenland": one, "moorside": two} {
		seen := sound(t, s, p)
		delete(seen, "shared")
		delete(seen, "shared, changed")
		if len(seen) != writers/2*each {
			t.Errorf("%s has %d quotes, want %d", who, len(seen), writers/2*each)
		}
		for van, n := range seen {
			if n != 1 {
				t.Errorf("%s: %s is stored %d times", who, van, n)
			}
		}
	}
	read(t, s, one, func(tx ReadTx) error {
		q, err := tx.Quote(shared.ID)
		if q.Version != 1+writers/2 {
			t.Errorf("version %d after %d changes: updates were lost", q.Version, writers/2)
		}
		return err
	})
	if st := s.Stats(); st.Groups >= st.Writes {
		t.Errorf("%d commits for %d writes: nothing was committed together", st.Groups, st.Writes)
	}
}

// changeUntilDone reads and changes a quote until nobody else was faster.
func changeUntilDone(tb testing.TB, s *Store, p auth.Principal, q QuoteEntry) {
	tb.Helper()
	for {
		var now QuoteEntry
		read(tb, s, p, func(tx ReadTx) (err error) { now, err = tx.Quote(q.ID); return err })
		err := s.As(p).Write(context.Background(), func(tx WriteTx) error {
			_, err := tx.ChangeQuote(q.ID, now.Version, content("shared, changed"))
			return err
		})
		if err == nil {
			return
		}
		if !errors.Is(err, ErrStale) {
			tb.Errorf("changing: %v", err)
			return
		}
	}
}
