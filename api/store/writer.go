package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// writer runs the writes. They wait in lanes, first come, first served; those
// of one lane run one after another, and lanes run side by side, each in the
// hands of one goroutine. The writes that wait in a lane when a hand comes to
// it run each in a savepoint of one transaction and are committed together:
// one flush to disk for all of them. Each is answered only when that commit is
// done. SQLite has one lane and one hand; PostgreSQL a lane a workshop.
type writer struct {
	engine engine
	group  int // most writes to one commit
	limit  int // most writes that wait

	mu      sync.Mutex
	comes   *sync.Cond // a lane is ready, or the writer closes
	closed  bool
	lanes   map[uuid.UUID]*lane // with writes waiting, or a hand at them
	ready   []*lane             // with writes waiting, and no hand at them
	waiting int

	hands    []*hand
	gone     sync.WaitGroup
	closeErr error // of the hands' lines; read when they are gone
	counts   counts
}

// lane holds the writes that must come one after another.
type lane struct {
	key   uuid.UUID // the workshop, where each has its own
	queue []*waiting
}

// waiting is one write in its lane.
type waiting struct {
	run func(*line, *group) error
	// taken is set once: by a hand when it starts, or by the caller when
	// it gives up first. Whoever sets it owns the write.
	taken  atomic.Bool
	err    error
	answer chan error
}

// group is what the writes of one transaction know of each other.
type group struct {
	// heads of the workshops' journals as the transaction has them: it has
	// the lock, so nobody else adds a line. A write that is rolled back leaves
	// its workshop's as it was.
	heads map[uuid.UUID]JournalHead
	// stand are those whose sign-in was found to hold in this transaction, as
	// it is now: a write that changes a sign-in or a person forgets them all.
	stand map[auth.Principal]bool
}

type counts struct{ writes, failed, groups, unknown, largest, again atomic.Int64 }

// startWriter opens a line for each of so many hands.
func startWriter(ctx context.Context, e engine, hands, queue, most int) (*writer, error) {
	w := &writer{engine: e, group: most, limit: queue, lanes: map[uuid.UUID]*lane{}}
	w.comes = sync.NewCond(&w.mu)
	for range hands {
		l, err := e.connect(ctx, true)
		if err != nil {
			for _, h := range w.hands {
				err = errors.Join(err, h.line.close())
			}
			return nil, err
		}
		w.hands = append(w.hands, &hand{w: w, line: l})
	}
	for _, h := range w.hands {
		w.gone.Go(h.work)
	}
	return w, nil
}

// do lets run wait its turn, and gives its answer. Once run has begun its
// outcome is waited for whatever becomes of ctx: an interrupted statement
// would end the transaction of everybody else in the group.
func (w *writer) do(ctx context.Context, workshop uuid.UUID, run func(*line, *group) error) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%w: %w", ErrNotStarted, err)
	}
	p := &waiting{run: run, answer: make(chan error, 1)}
	if err := w.enqueue(w.engine.lane(workshop), p); err != nil {
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

func (w *writer) enqueue(key uuid.UUID, p *waiting) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case w.closed:
		return ErrClosed
	case w.waiting >= w.limit:
		return ErrBusy
	}
	l, known := w.lanes[key]
	if !known {
		l = &lane{key: key}
		w.lanes[key] = l
		w.ready = append(w.ready, l)
		w.comes.Signal()
	}
	l.queue = append(l.queue, p)
	w.waiting++
	return nil
}

// take is the lane that has waited longest, or nil when the writer is closed
// and nothing waits.
func (w *writer) take() *lane {
	w.mu.Lock()
	defer w.mu.Unlock()
	for len(w.ready) == 0 && !w.closed {
		w.comes.Wait()
	}
	if len(w.ready) == 0 {
		return nil
	}
	l := w.ready[0]
	w.ready = slices.Delete(w.ready, 0, 1)
	return l
}

// leave puts a lane at the end if more has come meanwhile.
func (w *writer) leave(l *lane) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(l.queue) == 0 {
		delete(w.lanes, l.key)
		return
	}
	w.ready = append(w.ready, l)
	w.comes.Signal()
}

// next is another write of the lane that waits now and whose caller has not
// given up, or nil.
func (w *writer) next(l *lane, have int) *waiting {
	if have >= w.group {
		return nil
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	for len(l.queue) > 0 {
		p := l.queue[0]
		l.queue[0] = nil
		l.queue = l.queue[1:]
		w.waiting--
		if p.taken.CompareAndSwap(false, true) {
			return p
		}
	}
	return nil
}

// queued is how many writes wait.
func (w *writer) queued() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.waiting
}

// close lets what is waiting finish, then ends the goroutines.
func (w *writer) close() error {
	w.mu.Lock()
	w.closed = true
	w.comes.Broadcast()
	w.mu.Unlock()
	w.gone.Wait()
	return w.closeErr
}

// hand is a goroutine that writes, on a line of its own.
type hand struct {
	w    *writer
	line *line // nil after it was given up, until reopened
	// unsettled: the line was given up over a commit of unknown outcome.
	unsettled bool
}

func (h *hand) work() {
	for l := h.w.take(); l != nil; l = h.w.take() {
		h.commitTogether(l)
		h.w.leave(l)
	}
	if h.line != nil {
		err := h.line.close()
		h.w.mu.Lock()
		h.w.closeErr = errors.Join(h.w.closeErr, err)
		h.w.mu.Unlock()
	}
}

// mostAgain is how often a group is run again when the database gave it up for
// the sake of another transaction.
const mostAgain = 3

// commitTogether runs what waits in a lane, commits once, and answers each.
func (h *hand) commitTogether(l *lane) {
	// Not the callers' contexts: none of them may end the others' transaction.
	ctx := context.Background()
	var ran []*waiting
	for again := 0; ; again++ {
		if err := h.begin(ctx, l.key); err != nil {
			h.turnAway(l, ran, fmt.Errorf("%w: %w", ErrNotStored, err))
			return
		}
		var err error
		if ran, err = h.runAll(ctx, l, ran); err != nil {
			// Without the cause: it is another caller's business.
			err = fmt.Errorf("%w: the transaction ended before its commit", ErrNotStored)
		}
		switch {
		case err == nil:
			h.commit(ctx, ran)
			return
		case h.line == nil, again == mostAgain:
			h.abandon()
			answer(ran, err)
			return
		}
		h.w.counts.again.Add(1)
		if err := h.line.rollback(ctx); err != nil {
			h.abandon()
		}
	}
}

// runAll runs those that were in the group already, then what waits behind
// them. An error is of the whole transaction; the line is given up with it,
// unless the database let another go first.
func (h *hand) runAll(ctx context.Context, l *lane, ran []*waiting) ([]*waiting, error) {
	g := &group{heads: map[uuid.UUID]JournalHead{}, stand: map[auth.Principal]bool{}}
	for i := 0; ; i++ {
		if i == len(ran) {
			p := h.w.next(l, len(ran))
			if p == nil {
				return ran, nil
			}
			ran = append(ran, p)
		}
		lost := h.runInSavepoint(ctx, ran[i], g)
		switch {
		case passing(ran[i].err):
			return ran, ran[i].err
		case lost != nil:
			ran[i].err = lost
			h.abandon()
			return ran, lost
		}
	}
}

// runInSavepoint runs one closure and keeps or undoes what it did; its own
// error goes to p.err. What it returns is not the closure's fault: the whole
// transaction is lost.
func (h *hand) runInSavepoint(ctx context.Context, p *waiting, g *group) (lost error) {
	if err := h.line.exec(ctx, "SAVEPOINT write"); err != nil {
		return err
	}
	p.err = contained(func() error { return p.run(h.line, g) })
	if p.err != nil {
		// Where the transaction has ended by itself (a full disk does that)
		// there is no savepoint either, and this says so.
		if err := h.line.exec(ctx, "ROLLBACK TO write"); err != nil {
			return errors.Join(p.err, err)
		}
	}
	return h.line.exec(ctx, "RELEASE write")
}

// commit commits what ran, if anything of it is to stay, and answers.
func (h *hand) commit(ctx context.Context, ran []*waiting) {
	good := 0
	for _, p := range ran {
		if p.err == nil {
			good++
		}
	}
	if good == 0 {
		h.w.count(len(ran), 0)
		if err := h.line.rollback(ctx); err != nil {
			h.abandon()
		}
		answer(ran, nil)
		return
	}
	err := h.w.engine.commit(ctx, h.line)
	switch {
	case err == nil:
		h.w.count(len(ran), good)
		answer(ran, nil)
	case errors.Is(err, errRolledBack):
		h.abandon()
		answer(ran, fmt.Errorf("%w: %w", ErrNotStored, err))
	default:
		// Neither stored nor not: the disk may hold it or not. The line is
		// given up, and a new one settled, so that what half failed cannot
		// come back to life later. It is tried before answering: whoever
		// looks then sees what will stay.
		h.w.counts.unknown.Add(1)
		h.abandon()
		h.unsettled = true
		if failed := h.reopen(ctx); failed != nil {
			err = errors.Join(err, failed)
		}
		answer(ran, fmt.Errorf("%w: %w", ErrUnknown, err))
	}
}

// begin begins a transaction, on a new connection if the old one is gone.
func (h *hand) begin(ctx context.Context, lane uuid.UUID) error {
	fresh := h.line == nil
	for {
		if h.line == nil {
			if err := h.reopen(ctx); err != nil {
				return fmt.Errorf("reopening the database: %w", err)
			}
		}
		err := h.w.engine.begin(ctx, h.line, sight{workshop: lane})
		if err == nil || busy(err) {
			return err
		}
		wentAway := h.w.engine.standing(h.line) == dead
		h.abandon()
		if fresh || !wentAway {
			return err
		}
		fresh = true // it had gone while nobody wrote
	}
}

// reopen connects anew, and settles what a failed commit has left.
func (h *hand) reopen(ctx context.Context) error {
	l, err := h.w.engine.connect(ctx, true)
	if err != nil {
		return err
	}
	if h.unsettled {
		if err := h.w.engine.settle(ctx, l); err != nil {
			return errors.Join(err, l.close())
		}
	}
	h.line, h.unsettled = l, false
	return nil
}

// abandon gives the connection up; what its transaction did is rolled back
// with it. That it cannot be closed in order is no news: it is given up
// because something failed.
func (h *hand) abandon() {
	if h.line != nil {
		_ = h.line.close()
		h.line = nil
	}
}

// turnAway answers what waits now when no transaction can be begun, so that
// each does not wait out the lock in its turn.
func (h *hand) turnAway(l *lane, ran []*waiting, err error) {
	for p := h.w.next(l, len(ran)); p != nil; p = h.w.next(l, len(ran)) {
		ran = append(ran, p)
	}
	for _, p := range ran {
		p.answer <- err
	}
}

// answer tells each its own error, or, when instead is not nil, that: also
// those that had failed for a reason, because the reason may have been a row
// that is now gone again.
func answer(ran []*waiting, instead error) {
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
	for n := int64(ran); ; {
		largest := w.counts.largest.Load()
		if n <= largest || w.counts.largest.CompareAndSwap(largest, n) {
			return
		}
	}
}
