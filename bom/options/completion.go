package options

import (
	"errors"
	"slices"

	"wainscot/bom/options/internal/sat"
)

// Completion walks among the allowed specifications that agree with choices:
// it takes one thing after another, goes back, and says at each place what is
// still missing. Whoever walks decides where to; nothing is ever taken that
// leaves nothing allowed.
//
// A Completion is one goroutine's, until End. All its questions together have
// the work budget of one Resolve.
type Completion struct {
	q     *question
	begun mark
}

// Place is where a Completion stands, to come back to.
type Place struct{ at mark }

// Complete takes the choices that fit, as Resolve does, and stands there.
// Errors as of Resolve.
func (r *Rules) Complete(choices []Choice) (*Completion, error) {
	q, err := r.begin(choices)
	if err != nil {
		q.end()
		return nil, err
	}
	return &Completion{q: q, begun: q.mark()}, nil
}

// End gives the room back; nothing is asked after it.
func (c *Completion) End() {
	c.q.end()
	c.q = nil
}

// Here is the place where it stands.
func (c *Completion) Here() Place { return Place{c.q.mark()} }

// Back goes back to a place it has been at on the way here.
func (c *Completion) Back(to Place) { c.q.back(to.at) }

// Start goes back to where only the choices are taken.
func (c *Completion) Start() { c.q.back(c.begun) }

// Take takes one more choice; false where that would leave nothing allowed, and
// then nothing is taken. Error: ErrBudget, after which it can only be ended; or
// a choice on what the model does not have.
func (c *Completion) Take(choice Choice) (bool, error) {
	if err := c.q.literals(choice); err != nil {
		return false, err
	}
	return c.assume(c.q.lits)
}

// Without takes the opposite of a Want, an AtLeast or a Pick.
func (c *Completion) Without(choice Choice) (bool, error) {
	if err := c.q.literals(choice); err != nil {
		return false, err
	}
	c.q.lits = c.q.lits[:1]
	c.q.lits[0] = c.q.lits[0].Not()
	return c.assume(c.q.lits)
}

func (c *Completion) assume(lits []sat.Lit) (bool, error) {
	here := c.q.mark()
	for _, l := range lits {
		err := c.q.assume(l, -1, -1)
		if errors.Is(err, errNo) {
			c.q.back(here)
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	return true, nil
}

// Bounds are how many of a feature there are at least and can be at most, as
// far as that is plain: there may be more at least and fewer at most.
func (c *Completion) Bounds(feature int) (least, most int) {
	f := &c.q.r.model.Features[feature]
	first := sat.Pos(c.q.r.first[feature])
	for k := f.Least; k <= f.Most; k++ {
		v := c.q.s.Value(first)
		if v > 0 {
			least = k
		}
		if v < 0 {
			break
		}
		most = k
		first += 2
	}
	return least, most
}

// Value is which value of a setting is taken, -1 while none is.
func (c *Completion) Value(setting int) int {
	return slices.IndexFunc(c.q.r.value[setting], func(v int) bool { return c.q.s.Value(sat.Pos(v)) > 0 })
}

// Missing is something that leaving everything open off would break.
type Missing struct {
	Cause Cause
	// Any of these has to be taken (a Want, an AtLeast or a Pick): every allowed
	// specification from here has at least one.
	Any []Choice
}

// Missing is all that leaving everything open off would break. With nothing
// missing, what is there by now is an allowed specification as it stands.
func (c *Completion) Missing() []Missing {
	q := c.q
	q.leaveOff()
	var lists []Missing
next:
	for i := range q.r.clauses.Len() {
		clause := q.r.clauses.Clause(i)
		for _, l := range clause {
			if q.holds[l] {
				continue next
			}
		}
		var some []sat.Lit
		for _, l := range clause {
			some = q.mends(some, l)
		}
		list := make([]Choice, len(some))
		for k, l := range some {
			list[k] = q.r.choice(l)
		}
		lists = append(lists, Missing{q.r.causes[q.r.clauses.CauseOf(i)], list})
	}
	return lists
}

// mends adds the open literals of features and settings of which one at least
// holds wherever l does. With everything open off l does not hold.
func (q *question) mends(some []sat.Lit, l sat.Lit) []sat.Lit {
	switch v := l.Var(); {
	case q.s.Value(l) < 0:
		return some
	case v < q.r.asked:
		// Off it holds already: only being on can mend.
		if l.Positive() && !slices.Contains(some, l) {
			some = append(some, l)
		}
		return some
	case v < q.r.helpers:
		return some // what is fitted is known
	}
	// Conditions are written with negations at their atoms, so a helper stands
	// for what it is defined as, never for the opposite.
	d := &q.r.aux[l.Var()-q.r.helpers]
	for _, m := range d.lits {
		if !d.all {
			some = q.mends(some, m)
		} else if !q.holds[m] {
			return q.mends(some, m) // all must hold: what mends one of them will do
		}
	}
	return some
}

// choice is what a literal of a feature or setting says.
func (r *Rules) choice(l sat.Lit) Choice {
	v := l.Var()
	if v < len(r.featureOf) {
		i := r.featureOf[v]
		f := &r.model.Features[i]
		if f.Most == f.Least && f.Least == 1 {
			return Choice{Verb: Want, Feature: f.Code, Source: FromSettling}
		}
		return Choice{Verb: AtLeast, Feature: f.Code, N: f.Least + v - r.first[i], Source: FromSettling}
	}
	for i, vars := range r.value {
		for k, value := range vars {
			if value == v {
				set := &r.model.Settings[i]
				return Choice{Verb: Pick, Feature: set.Name, Value: set.Values[k], Source: FromSettling}
			}
		}
	}
	return Choice{}
}
