package api

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
)

// certainAtOnce is how many certain proposals are applied in one transaction.
const certainAtOnce = 25

// certainLine is an open line with what it certainly is.
type certainLine struct {
	line uuid.UUID
	is   *ledger.Proposal
}

// certainOf are the lines of a matching that may be applied without asking.
func (m *matching) certainOf() []certainLine {
	var list []certainLine
	for i := range m.lines {
		if found := m.found[m.lines[i].ID]; len(found) > 0 && found[0].Certain {
			list = append(list, certainLine{m.lines[i].ID, &found[0]})
		}
	}
	return list
}

// certainStep is a line ready to be applied.
type certainStep struct {
	line uuid.UUID
	x    meant
}

// certainSteps makes lines ready. The jobs they pay are read whole: a list of
// dues does not have what a deposit invoice takes.
func (s *Server) certainSteps(c *gin.Context, m *matching, lines []certainLine) ([]certainStep, error) {
	steps := make([]certainStep, len(lines))
	err := s.readTx(c, func(tx store.ReadTx) error {
		for i, l := range lines {
			steps[i].line = l.line
			for _, pt := range l.is.Parts {
				if number, ok := strings.CutPrefix(pt.Due, entryDue); ok {
					n, err := strconv.ParseInt(number, 10, 64)
					if err != nil {
						return err
					}
					steps[i].x.entries = append(steps[i].x.entries, n)
					continue
				}
				whole, err := s.moneyJob(tx, m.dues[pt.Due].job.ID)
				if err != nil {
					return err
				}
				steps[i].x.parts = append(steps[i].x.parts, part{whole, pt.Amount})
			}
		}
		return nil
	})
	return steps, err
}

// applyCertain applies what is certain, where the workshop allows it.
func (s *Server) applyCertain(c *gin.Context) error {
	account, err := pathID(c, "account")
	if err != nil {
		return err
	}
	var m *matching
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		m, err = s.matchAccount(tx, account, nil)
		return err
	})
	if err != nil {
		return notFoundIs(err, "account")
	}
	if !m.ground.books.ApplyCertain {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "The workshop asks before anything is applied.", remedy: "Confirm the proposals, or let the owner allow it in the books' settings."}
	}
	lines := m.certainOf()
	left := max(0, len(lines)-certainAtOnce)
	steps, err := s.certainSteps(c, m, lines[:len(lines)-left])
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		out := openapi.CertainApplied{Applied: []openapi.Reconciliation{}, Left: whole(left)}
		for _, st := range steps {
			r, err := reconcile(tx, &m.ground, st.line, st.x, true)
			if err != nil {
				return reply{}, moneyRefused(err)
			}
			out.Applied = append(out.Applied, contractReconciliation(r))
		}
		return reply{status: http.StatusOK, body: out}, nil
	})
}

// certainBehind applies what is certain of accounts right behind an import, a
// few lines in a transaction, so that nobody waits long. A line that somebody
// else has dealt with meanwhile is left; so is what there is no time for.
func (s *Server) certainBehind(c *gin.Context, accounts []uuid.UUID, told *progress) (openapi.CertainBehind, error) {
	var out openapi.CertainBehind
	for _, account := range accounts {
		var m *matching
		err := s.readTx(c, func(tx store.ReadTx) (err error) {
			m, err = s.matchAccount(tx, account, told)
			return err
		})
		if err != nil {
			return out, err
		}
		lines := m.certainOf()
		done := 0
		for few := range slices.Chunk(lines, certainAtOnce) {
			told.tell(openapi.ProgressStepCertainOnesApplied, done, len(lines))
			if !timeLeft(c) {
				break
			}
			n, err := s.applyFew(c, m, few)
			if err != nil {
				return out, err
			}
			done += n
		}
		told.tell(openapi.ProgressStepCertainOnesApplied, done, len(lines))
		out.Applied, out.Left = out.Applied+whole(done), out.Left+whole(len(lines)-done)
	}
	return out, nil
}

// timeLeft says whether a request may go on with what need not be done in it.
func timeLeft(c *gin.Context) bool {
	deadline, ok := c.Request.Context().Deadline()
	return c.Request.Context().Err() == nil && (!ok || time.Until(deadline) > handlerTimeout/2)
}

// applyFew applies lines in one transaction; where one of them cannot be any
// more, each in its own. It says how many were.
func (s *Server) applyFew(c *gin.Context, m *matching, lines []certainLine) (int, error) {
	steps, err := s.certainSteps(c, m, lines)
	if err != nil {
		return 0, err
	}
	apply := func(steps []certainStep) error {
		return s.store.As(principal(c)).Write(c.Request.Context(), func(tx store.WriteTx) error {
			for _, st := range steps {
				if _, err := reconcile(tx, &m.ground, st.line, st.x, true); err != nil {
					return err
				}
			}
			return nil
		})
	}
	switch err := apply(steps); {
	case err == nil:
		return len(steps), nil
	case !overtaken(err):
		return 0, err
	}
	n := 0
	for i := range steps {
		switch err := apply(steps[i : i+1]); {
		case err == nil:
			n++
		case !overtaken(err):
			return n, err
		}
	}
	return n, nil
}

// overtaken says whether something cannot be because of what has happened since
// it was worked out.
func overtaken(err error) bool {
	_, faults := errors.AsType[document.Faults](err)
	return faults || errors.Is(err, store.ErrStale) || errors.Is(err, store.ErrState) || errors.Is(err, store.ErrTaken) || errors.Is(err, store.ErrNotFound)
}
