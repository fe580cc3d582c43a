package store

import (
	"errors"
	"fmt"
	"runtime/debug"
)

// What a transaction can come to. Errors of Read and Write wrap one of these,
// or are whatever the closure returned.
var (
	// ErrNotFound: this workshop has no such thing.
	ErrNotFound = errors.New("not found")
	// ErrStale: the thing has been changed since the version given was read.
	ErrStale = errors.New("changed by somebody else since it was read")
	// ErrState: the thing is not in a state in which that can be done to it.
	ErrState = errors.New("not in a state for that")
	// ErrTaken: another thing of this workshop has that key already.
	ErrTaken = errors.New("already taken")
	// ErrMissing: what is written refers to something this workshop has not.
	ErrMissing = errors.New("refers to something that is not there")
	// ErrRefused: a value breaks a rule of the schema (too long, out of range).
	ErrRefused = errors.New("refused by the database's rules")

	// ErrBusy: too many writes are waiting. Nothing was stored; try again in
	// a moment.
	ErrBusy = errors.New("too many writes are waiting")
	// ErrNotStored: the disk or the database failed before the write was
	// committed. Nothing was stored; the same write may be tried again.
	ErrNotStored = errors.New("not stored")
	// ErrUnknown: the commit itself failed, so it cannot be said whether the
	// write is stored. Only asking again under the same idempotency key, or
	// looking, settles it; repeating it blindly may do it twice.
	ErrUnknown = errors.New("the commit failed: it is not known whether it is stored")
	// ErrNotStarted: the caller's context ended while the write or read was
	// waiting for its turn. Nothing was done.
	ErrNotStarted = errors.New("given up before its turn")
	// ErrClosed: the store has been closed.
	ErrClosed = errors.New("the store is closed")

	// ErrNobody: the principal names no workshop, person or role.
	ErrNobody = errors.New("no workshop and person to act for")
	// ErrOver: a transaction was used after its closure had returned.
	ErrOver = errors.New("the transaction is over")
	// ErrSchema: the database is not at the migration this program needs.
	ErrSchema = errors.New("the database is at another version")
	// ErrUnsafe: the database does not run with the settings that keep what
	// it acknowledges.
	ErrUnsafe = errors.New("the database does not run as it must")
	// ErrJournal: the journal or what it vouches for has been tampered with.
	ErrJournal = errors.New("the journal does not hold")
	// ErrDocument: a stored document does not unpack to what was packed.
	ErrDocument = errors.New("the stored document is damaged")
)

// Panic is what a closure panicked with. Its effects were rolled back; other
// writes of the same group are untouched.
type Panic struct {
	Value any
	Stack []byte // of the panicking goroutine, for the log only
}

// Error names the value, not the stack.
func (p *Panic) Error() string { return fmt.Sprintf("panic in a transaction: %v", p.Value) }

// errLeft is given for a closure that ended its goroutine (runtime.Goexit).
var errLeft = errors.New("the closure left without returning")

// contained runs fn on a goroutine of its own, so that neither a panic nor a
// Goexit in it can take the writer along.
func contained(fn func() error) error {
	answer := make(chan error, 1)
	go func() {
		returned := false
		defer func() {
			if v := recover(); v != nil {
				answer <- &Panic{Value: v, Stack: debug.Stack()}
			} else if !returned {
				answer <- errLeft
			}
		}()
		err := fn()
		returned = true
		answer <- err
	}()
	return <-answer
}
