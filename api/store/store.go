// Package store keeps what the workshops write down: it is the one place that
// knows SQL.
//
// A workshop's rows are reached only through As, which binds a handle to one
// person of one workshop; every query has the workshop in it by construction
// and every write its line in the journal. Reads see one moment of the
// database. Writes are short closures that one goroutine runs and commits
// together, so that many of them cost one flush to disk; a Write that has
// returned nil is on the disk.
//
// The few ways round the workshop's scope (signing in, migrating, opening a
// workshop) are in unscoped.go, each with its reason.
package store

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// Store is an open database.
type Store struct {
	options Options
	engine  engine
	writer  *writer
	readers chan *reader
	closing sync.Once
	closed  error
	// grounds counts writes for ReadTx.GroundWrites, each before its Write
	// returns.
	grounds atomic.Int64
}

// reader reads, on a line of its own; nil after that was given up, until the
// next read.
type reader struct{ line *line }

// Options of a store; the zero value is good.
type Options struct {
	// Readers is how many reads run at once; 0 means 4.
	Readers int
	// Queue is how many writes may wait before ErrBusy; 0 means 1024.
	Queue int
	// Group is the most writes to one commit; 0 means 64.
	Group int
	// Writers is how many workshops are written to at once where the database
	// can do that, as PostgreSQL can and SQLite cannot; 0 means 4.
	Writers int
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// NewID makes ids; nil means UUIDs of version 7. Ids must be unlike in
	// one workshop, not between workshops.
	NewID func() uuid.UUID

	// unsafeWriter are settings of the writer's line other than the right
	// ones: for tests that show what would happen.
	unsafeWriter []setting
}

func (o Options) filled() Options {
	if o.Readers <= 0 {
		o.Readers = 4
	}
	if o.Queue <= 0 {
		o.Queue = 1024
	}
	if o.Group <= 0 {
		o.Group = 64
	}
	if o.Writers <= 0 {
		o.Writers = 4
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.NewID == nil {
		o.NewID = func() uuid.UUID { return uuid.Must(uuid.NewV7()) }
	}
	return o
}

// Open opens the database at an address: the path of an SQLite file (file: may
// stand before it), or the postgres://role@host/database of a PostgreSQL
// server, where the role is a member of wainscot_app. Migrate must have brought
// it up to this program's schema (else ErrSchema). It refuses with ErrUnsafe to
// run on a database that does not keep what it acknowledges, or does not keep
// workshops apart.
func Open(ctx context.Context, address string, o Options) (*Store, error) {
	s := &Store{options: o.filled()}
	var err error
	if s.engine, err = engineOf(address, s.options); err != nil {
		return nil, err
	}
	if err := s.engine.check(ctx); err != nil {
		return nil, err
	}
	hands := s.options.Writers
	if s.engine.lane(uuid.Nil) == s.engine.lane(uuid.Max) {
		hands = 1
	}
	s.writer, err = startWriter(ctx, s.engine, hands, s.options.Queue, s.options.Group)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", s.engine.name(), err)
	}
	s.readers = make(chan *reader, s.options.Readers)
	for range s.options.Readers {
		l, err := s.engine.connect(ctx, false)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("opening %s to read: %w", s.engine.name(), err), s.closeOpened())
		}
		s.readers <- &reader{l}
	}
	return s, nil
}

// Close lets the writes that are waiting and the reads that are running
// finish, and closes the database. Later reads and writes get ErrClosed.
func (s *Store) Close() error {
	s.closing.Do(func() {
		// The writer last: only a connection that may write clears the
		// write-ahead log away, and only when it is the last.
		for range cap(s.readers) {
			s.closed = errors.Join(s.closed, (<-s.readers).close())
		}
		close(s.readers)
		s.closed = errors.Join(s.closed, s.writer.close())
	})
	return s.closed
}

// closeOpened closes the lines there are when opening broke off.
func (s *Store) closeOpened() error {
	var err error
	for len(s.readers) > 0 {
		err = errors.Join(err, (<-s.readers).close())
	}
	return errors.Join(err, s.writer.close())
}

// Stats counts what the writer has done since Open.
type Stats struct {
	Writes  int64 // committed
	Failed  int64 // rolled back to their savepoint
	Groups  int64 // commits that had anything to commit
	Unknown int64 // commits that failed
	Again   int64 // groups run again for the sake of another transaction
	Largest int64 // most writes in one group
	Waiting int   // in the queue now
}

// Stats of the writer.
func (s *Store) Stats() Stats {
	c := &s.writer.counts
	return Stats{
		Writes: c.writes.Load(), Failed: c.failed.Load(), Groups: c.groups.Load(),
		Unknown: c.unknown.Load(), Again: c.again.Load(), Largest: c.largest.Load(), Waiting: s.writer.queued(),
	}
}

// Handle reads and writes as one person of one workshop.
type Handle struct {
	store *Store
	as    auth.Principal
}

// As binds a handle to a principal. A principal that names nobody gives a
// handle on which everything is ErrNobody.
func (s *Store) As(p auth.Principal) Handle { return Handle{store: s, as: p} }

// Read runs fn on one moment of the database. It waits for a free reader
// until ctx ends; ctx also ends its queries.
func (h Handle) Read(ctx context.Context, fn func(tx ReadTx) error) error {
	if !h.as.Valid() {
		return ErrNobody
	}
	groundWrites := h.store.grounds.Load()
	return h.store.lend(ctx, sight{workshop: h.as.Workshop}, func(begin func() (*line, error)) error {
		s := h.store.session(ctx, nil, h.as)
		defer s.end()
		s.begin, s.groundWrites = begin, groundWrites
		return s.result(fn(ReadTx{s}))
	})
}

// Write runs fn in a transaction that is on the disk when Write returns nil,
// and leaves no trace when it returns anything else but ErrUnknown. fn must be
// short and do nothing but read and write through tx: all other writes of the
// workshop wait for it, and calling Write or Read inside it waits for ever. It
// may run after other writes of the same group whose fate it shares, but never
// sees anything that will not be committed with it. It may run more than once:
// when the database gives its transaction up for the sake of another. So what
// it leaves outside itself, it sets and does not add to.
func (h Handle) Write(ctx context.Context, fn func(tx WriteTx) error) error {
	if !h.as.Valid() {
		return ErrNobody
	}
	return h.store.write(ctx, h.as, func(tx WriteTx) error {
		if err := tx.Standing(); err != nil {
			return err
		}
		return fn(tx)
	})
}

// write runs fn as a write of the principal's workshop.
func (s *Store) write(ctx context.Context, as auth.Principal, fn func(tx WriteTx) error) error {
	var ground atomic.Bool
	defer func() {
		if ground.Load() {
			s.grounds.Add(1)
		}
	}()
	return s.writer.do(ctx, as.Workshop, func(l *line, g *group) error {
		t := s.session(context.Background(), l, as)
		defer t.end()
		t.groundWrites = s.grounds.Load()
		t.stand = g.stand
		if head, known := g.heads[as.Workshop]; known {
			t.head = &head
		}
		err := t.result(fn(WriteTx{ReadTx{t}}))
		if err == nil && t.head != nil {
			g.heads[as.Workshop] = *t.head
		}
		if t.ground {
			ground.Store(true)
		}
		return err
	})
}

// read lends a reader to fn, inside a transaction that only reads.
func (s *Store) read(ctx context.Context, see sight, fn func(*line) error) error {
	return s.lend(ctx, see, func(begin func() (*line, error)) error {
		l, err := begin()
		if err != nil {
			return err
		}
		return fn(l)
	})
}

// lend lends a reader to fn. Its transaction begins when fn asks for the line:
// what is known already needs none.
func (s *Store) lend(ctx context.Context, see sight, fn func(begin func() (*line, error)) error) (err error) {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%w: %w", ErrNotStarted, err)
	}
	var r *reader
	select {
	case got, ok := <-s.readers:
		if !ok {
			return ErrClosed
		}
		r = got
	case <-ctx.Done():
		return fmt.Errorf("%w: %w", ErrNotStarted, ctx.Err())
	}
	defer func() { s.readers <- r }()
	background := context.WithoutCancel(ctx)
	begun := false
	defer func() {
		if !begun {
			return
		}
		// A query that was cut short may have ended the transaction already.
		ended := r.line.rollback(background)
		if ended != nil || s.engine.standing(r.line) != outside {
			r.giveUp()
			if err != nil && ctx.Err() == nil {
				err = fmt.Errorf("%w: the database went away: %w", ErrNotStarted, err)
			}
		}
	}()
	err = contained(func() error {
		return fn(func() (*line, error) {
			if err := r.begin(background, s.engine, see); err != nil {
				return nil, fmt.Errorf("%w: %w", ErrNotStarted, err)
			}
			begun = true
			return r.line, nil
		})
	})
	if gone := ctx.Err(); err != nil && gone != nil && !errors.Is(err, gone) {
		err = fmt.Errorf("%w: %w", gone, err) // a database has its own words for being interrupted
	}
	return err
}

// begin begins to read, on a new connection if the old one is gone.
func (r *reader) begin(ctx context.Context, e engine, see sight) error {
	for fresh := false; ; fresh = true {
		if r.line == nil {
			fresh = true
			l, err := e.connect(ctx, false)
			if err != nil {
				return err
			}
			r.line = l
		}
		err := e.begin(ctx, r.line, see)
		if err == nil {
			return nil
		}
		wentAway := e.standing(r.line) == dead
		r.giveUp()
		if fresh || !wentAway {
			return err
		}
	}
}

// giveUp closes a line that is not good any more; that it cannot be closed in
// order is no news.
func (r *reader) giveUp() {
	_ = r.line.close()
	r.line = nil
}

func (r *reader) close() error {
	if r.line == nil {
		return nil
	}
	return r.line.close()
}
