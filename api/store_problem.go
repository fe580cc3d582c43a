package api

import (
	"errors"
	"time"

	"wainscot/api/store"
	"wainscot/openapi"
)

// storeProblem says what an error of the store means to whoever asked; nil
// for one that is nobody's business but ours.
func storeProblem(err error) *problem {
	switch {
	case errors.Is(err, store.ErrNotFound):
		return notFound("thing")
	case errors.Is(err, store.ErrStale):
		return &problem{
			code:   openapi.ProblemCodeChangedMeanwhile,
			detail: "It has been changed since the version named in If-Match.",
			remedy: "Read it again, see what has changed, and repeat what you still want of it.",
		}
	case errors.Is(err, store.ErrState):
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "It is not in a state in which that can be done.",
			remedy: "Read it again and see what state it is in.",
		}
	case errors.Is(err, store.ErrErased):
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "It names a customer who has been erased.",
			remedy: "Name another.",
		}
	case errors.Is(err, store.ErrTaken):
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "There is one with this key already.",
			remedy: "Look at the one there is, or choose another.",
		}
	case errors.Is(err, store.ErrMissing):
		return unknownReference("/", "thing")
	case errors.Is(err, store.ErrShutOut):
		return notSignedIn("The sign-in has ended, or the person's role is another now.", `Bearer realm="wainscot", error="invalid_token"`)
	case errors.Is(err, store.ErrBusy):
		return notNow("Too many writes are waiting.")
	case errors.Is(err, store.ErrNotStarted):
		return notNow("The answer was not ready in time.")
	case errors.Is(err, store.ErrNotStored):
		return notNow("It could not be stored; nothing of it is.")
	case errors.Is(err, store.ErrUnknown):
		return &problem{
			code:   openapi.ProblemCodeNotNow,
			detail: "The database failed while storing: whether it is stored is not known.",
			remedy: "Send it again with the same Idempotency-Key: that settles it. Without one, look whether it is there first.",
			retry:  time.Second,
		}
	case errors.Is(err, store.ErrClosed):
		return notNow("The server is stopping.")
	case errors.Is(err, store.ErrNobody):
		return &problem{code: openapi.ProblemCodeNotSignedIn, detail: "The token names nobody.", remedy: "Sign in again."}
	}
	return nil
}
