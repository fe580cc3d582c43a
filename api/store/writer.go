package store

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"gorm.io/gorm"
)

// writer is the one goroutine that writes. Closures wait in a queue; those
// that are waiting when it comes round run one after another, each in a
// savepoint of one transaction, and are committed together: one flush to disk
// for all of them. Each is answered only when that commit is done.
type writer struct {
	open  func(context.Context) (*line, error)
	group int // most closures to one commit

	door   sync.RWMutex // held for writing while closing
	closed bool
	queue  chan *waiting
	gone   chan struct{} // closed when the goroutine has ended

	line     *line // nil after a failed commit, until reopened
	closeErr error
	counts   counts
}

// waiting is one write in the queue.
type waiting struct {
	run func(*gorm.DB) error
	// taken is set once: by the writer when it starts, or by the caller when
	// it gives up first. Whoever sets it owns the write.
	taken  atomic.Bool
	err    error
	answer chan error
}

type counts struct{ writes, failed, groups, unknown, largest atomic.Int64 }

func startWriter(ctx context.Context, open func(context.Context) (*line, error), queue, group int) (*writer, error) {
	w := &writer{open: open, group: group, queue: make(chan *waiting, queue), gone: make(chan struct{})}
	var err error
	if w.line, err = open(ctx); err != nil {
		return nil, err
	}
	go w.loop()
	return w, nil
}

// do queues run and waits for its answer. Once run has begun its outcome is
// waited for whatever becomes of ctx: an interrupted statement would end the
// transaction of everybody else in the group.
func (w *writer) do(ctx context.Context, run func(*gorm.DB) error) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%w: %w", ErrNotStarted, err)
	}
	p := &waiting{run: run, answer: make(chan error, 1)}
	if err := w.enqueue(p); err != nil {
		return err
	}
	select {
	case err := <-p.answer:
		return err
	case <-ctx.Done():
		if p.taken.CompareAndSwap(false, true) {
			return fmt.Errorf("%w: %w", ErrNotStarted, ctx.Err())
		}
		return <-p.answer
	}
}

func (w *writer) enqueue(p *waiting) error {
	w.door.RLock()
	defer w.door.RUnlock()
	if w.closed {
		return ErrClosed
	}
	select {
	case w.queue <- p:
		return nil
	default:
		return ErrBusy
	}
}

// close lets what is waiting finish, then ends the goroutine.
func (w *writer) close() error {
	w.door.Lock()
	if !w.closed {
		w.closed = true
		close(w.queue)
	}
	w.door.Unlock()
	<-w.gone
	return w.closeErr
}

func (w *writer) loop() {
	defer close(w.gone)
	for first := range w.queue {
		w.commitTogether(first)
	}
	if w.line != nil {
		w.closeErr = w.line.close()
	}
}

// commitTogether runs first and whatever waits behind it, commits once, and
// answers each.
func (w *writer) commitTogether(first *waiting) {
	// Not the callers' contexts: none of them may end the others' transaction.
	ctx := context.Background()
	if err := w.begin(ctx); err != nil {
		w.turnAway(first, fmt.Errorf("%w: %w", ErrNotStored, err))
		return
	}
	var ran []*waiting
	good := 0
	for p := first; p != nil; p = w.next(len(ran)) {
		if !p.taken.CompareAndSwap(false, true) {
			continue // its caller gave up
		}
		ran = append(ran, p)
		if lost := w.runInSavepoint(ctx, p); lost != nil {
			p.err = lost
			w.abandon()
			// Without the cause: it is another caller's business.
			w.answer(ran, fmt.Errorf("%w: the transaction ended before its commit", ErrNotStored))
			return
		}
		if p.err == nil {
			good++
		}
	}
	if good == 0 {
		w.count(len(ran), 0)
		if err := w.line.exec(ctx, "ROLLBACK"); err != nil {
			w.abandon()
		}
		w.answer(ran, nil)
		return
	}
	if err := w.line.exec(ctx, "COMMIT"); err != nil {
		// Neither stored nor not: the disk may hold it or not. The line is
		// given up, and the next one begins by emptying the write-ahead log,
		// so that what half failed cannot come back to life later. It is
		// tried before answering: whoever looks then sees what will stay.
		w.counts.unknown.Add(1)
		w.abandon()
		if failed := w.reopen(ctx); failed != nil {
			err = errors.Join(err, failed)
		}
		w.answer(ran, fmt.Errorf("%w: %w", ErrUnknown, err))
		return
	}
	w.count(len(ran), good)
	w.answer(ran, nil)
}

func (w *writer) begin(ctx context.Context) error {
	if w.line == nil {
		if err := w.reopen(ctx); err != nil {
			return fmt.Errorf("reopening the database: %w", err)
		}
	}
	err := w.line.exec(ctx, "BEGIN IMMEDIATE")
	if err != nil && !busy(err) {
		w.abandon()
	}
	return err
}

// reopen connects anew and empties the write-ahead log into the database:
// only what was committed is carried over, and frames of a commit that failed
// are gone for good.
func (w *writer) reopen(ctx context.Context) error {
	l, err := w.open(ctx)
	if err != nil {
		return err
	}
	var blocked, inLog, moved int
	err = l.conn.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&blocked, &inLog, &moved)
	if err == nil && blocked != 0 {
		err = errors.New("a reader is still at the write-ahead log")
	}
	if err != nil {
		return errors.Join(err, l.close())
	}
	w.line = l
	return nil
}

// abandon gives the connection up; what its transaction did is rolled back
// with it. That it cannot be closed in order is no news: it is given up
// because something failed.
func (w *writer) abandon() {
	_ = w.line.close()
	w.line = nil
}

// next is another write that is waiting now, or nil.
func (w *writer) next(have int) *waiting {
	if have >= w.group {
		return nil
	}
	select {
	case p := <-w.queue: // nil when closed and empty
		return p
	default:
		return nil
	}
}

// turnAway answers what waits now when no transaction can be begun, so that
// each does not wait out the lock in its turn.
func (w *writer) turnAway(first *waiting, err error) {
	n := 0
	for p := first; p != nil; p = w.next(n) {
		if p.taken.CompareAndSwap(false, true) {
			p.answer <- err
		}
		n++
	}
}

// runInSavepoint runs one closure and keeps or undoes what it did; its own
// error goes to p.err. What it returns is not the closure's fault: the whole
// transaction is lost.
func (w *writer) runInSavepoint(ctx context.Context, p *waiting) (lost error) {
	if err := w.line.exec(ctx, "SAVEPOINT write"); err != nil {
		return err
	}
	p.err = contained(func() error { return p.run(w.line.gorm) })
	if p.err != nil {
		// Where the transaction has ended by itself (a full disk does that)
		// there is no savepoint either, and this says so.
		if err := w.line.exec(ctx, "ROLLBACK TO write"); err != nil {
			return errors.Join(p.err, err)
		}
	}
	return w.line.exec(ctx, "RELEASE write")
}

// answer tells each its own error, or, when instead is not nil, that: also
// those that had failed for a reason, because the reason may have been a row
// that is now gone again.
func (w *writer) answer(ran []*waiting, instead error) {
	for _, p := range ran {
		err := p.err
		switch {
		case instead == nil:
		case err != nil:
			// Only in words: nobody is to act on the reason itself.
			err = fmt.Errorf("%w: %s", ErrNotStored, err.Error())
		default:
			err = instead
		}
		p.answer <- err
	}
}

func (w *writer) count(ran, good int) {
	w.counts.writes.Add(int64(good))
	w.counts.failed.Add(int64(ran - good))
	if good > 0 {
		w.counts.groups.Add(1)
	}
	if n := int64(ran); n > w.counts.largest.Load() {
		w.counts.largest.Store(n)
	}
}
