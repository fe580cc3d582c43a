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
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"wainscot/api/auth"
)

// Store is an open database.
type Store struct {
	options Options
	writer  *writer
	readers chan *line
	closing sync.Once
	closed  error
}

// Options of a store; the zero value is good.
type Options struct {
	// Readers is how many reads run at once; 0 means 4.
	Readers int
	// Queue is how many writes may wait before ErrBusy; 0 means 1024.
	Queue int
	// Group is the most writes to one commit; 0 means 64.
	Group int
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
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.NewID == nil {
		o.NewID = func() uuid.UUID { return uuid.Must(uuid.NewV7()) }
	}
	return o
}

// Open opens the database file at path, which Migrate must have brought up to
// this program's schema (else ErrSchema). It refuses with ErrUnsafe to run on
// a database that does not keep what it acknowledges.
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	s := &Store{options: o.filled()}
	if err := checkSchema(ctx, path); err != nil {
		return nil, err
	}
	settings := writerSettings
	if o.unsafeWriter != nil {
		settings = o.unsafeWriter
	}
	var err error
	s.writer, err = startWriter(ctx, func(ctx context.Context) (*line, error) {
		return openLine(ctx, path, "rw", settings)
	}, s.options.Queue, s.options.Group)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	s.readers = make(chan *line, s.options.Readers)
	for range s.options.Readers {
		l, err := openLine(ctx, path, "ro", readerSettings)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("opening %s to read: %w", path, err), s.closeOpened())
		}
		s.readers <- l
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
	Largest int64 // most writes in one group
	Waiting int   // in the queue now
}

// Stats of the writer.
func (s *Store) Stats() Stats {
	c := &s.writer.counts
	return Stats{
		Writes: c.writes.Load(), Failed: c.failed.Load(), Groups: c.groups.Load(),
		Unknown: c.unknown.Load(), Largest: c.largest.Load(), Waiting: len(s.writer.queue),
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
	return h.store.read(ctx, func(db *gorm.DB) error {
		s := h.store.session(ctx, db, h.as)
		defer s.end()
		return s.result(fn(ReadTx{s}))
	})
}

// Write runs fn in a transaction that is on the disk when Write returns nil,
// and leaves no trace when it returns anything else but ErrUnknown. fn must be
// short and do nothing but read and write through tx: all other writes wait
// for it, and calling Write or Read inside it waits for ever. It may run after
// other writes of the same group whose fate it shares, but never sees anything
// that will not be committed with it.
func (h Handle) Write(ctx context.Context, fn func(tx WriteTx) error) error {
	if !h.as.Valid() {
		return ErrNobody
	}
	return h.store.writer.do(ctx, func(db *gorm.DB) error {
		s := h.store.session(context.Background(), db, h.as)
		defer s.end()
		tx := WriteTx{ReadTx{s}}
		if err := tx.Standing(); err != nil {
			return err
		}
		return s.result(fn(tx))
	})
}

// read lends a reader to fn, inside a transaction that only reads.
func (s *Store) read(ctx context.Context, fn func(*gorm.DB) error) (err error) {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%w: %w", ErrNotStarted, err)
	}
	var l *line
	select {
	case got, ok := <-s.readers:
		if !ok {
			return ErrClosed
		}
		l = got
	case <-ctx.Done():
		return fmt.Errorf("%w: %w", ErrNotStarted, ctx.Err())
	}
	defer func() { s.readers <- l }()
	background := context.WithoutCancel(ctx)
	if err := l.exec(background, "BEGIN"); err != nil {
		return err
	}
	defer func() {
		// A query that was cut short may have ended the transaction already.
		if l.inTransaction() {
			err = errors.Join(err, l.exec(background, "ROLLBACK"))
		}
	}()
	return contained(func() error { return fn(l.gorm) })
}
