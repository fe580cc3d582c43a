package options

import (
	"slices"

	"wainscot/bom/options/internal/sat"
)

// Trial asks about lists of choices that differ little from one another: what
// the next has in common with the one before is not asked again, and what was
// learned is kept. It says what a specification is made of, how many of each
// feature are there and which choices were put aside, and nothing of what else
// could be picked or why; what it says is what Resolve says.
//
// A Trial is one goroutine's, until End.
type Trial struct {
	q      *question
	begun  bool
	taken  []Choice // in order, put aside or not
	before []int    // by choice taken: the depth before it
	aside  []int
	room   []Choice // for settling
}

// Try begins a trial. All its lists together have twice the work budget of one
// Resolve.
func (r *Rules) Try() *Trial {
	t := &Trial{q: r.room(nil)}
	t.q.s.SetBudget(2 * resolveBudget)
	return t
}

// End gives the trial's room back; it is asked nothing more.
func (t *Trial) End() {
	t.q.end()
	t.q = nil
}

// Take takes a list of choices in place of the one before. Errors as of
// Resolve; after one the trial can only be ended.
func (t *Trial) Take(choices []Choice) error {
	same := 0
	for same < len(t.taken) && same < len(choices) && t.taken[same] == choices[same] {
		same++
	}
	fitted := func(c Choice) bool { return c.Source == FromFitted }
	if !t.begun || slices.ContainsFunc(t.taken[same:], fitted) || slices.ContainsFunc(choices[same:], fitted) {
		// What the van has is assumed before all choices.
		t.q.s.Back(0)
		t.q.assumed = t.q.assumed[:0]
		t.q.choices = choices
		if err := t.q.lack(); err != nil {
			return err
		}
		t.taken, t.before, t.aside, same = t.taken[:0], t.before[:0], t.aside[:0], 0
		t.begun = true
	}
	if same < len(t.taken) {
		t.q.s.Back(t.before[same])
		t.taken, t.before = t.taken[:same], t.before[:same]
		for len(t.aside) > 0 && t.aside[len(t.aside)-1] >= same {
			t.aside = t.aside[:len(t.aside)-1]
		}
	}
	for i := same; i < len(choices); i++ {
		if err := t.take(i, choices[i]); err != nil {
			return err
		}
	}
	return nil
}

func (t *Trial) take(i int, c Choice) error {
	if err := t.q.literals(c); err != nil {
		return choiceError(i, err)
	}
	depth := t.q.s.Depth()
	t.taken, t.before = append(t.taken, c), append(t.before, depth)
	for _, l := range t.q.lits {
		switch t.q.s.Assume(l) {
		case sat.No:
			t.q.s.Back(depth)
			t.aside = append(t.aside, i)
			return nil
		case sat.Spent:
			return ErrBudget
		}
	}
	return nil
}

// PutAside are the places of the choices that do not fit with those before
// them, good until the next Take.
func (t *Trial) PutAside() []int { return t.aside }

// Counts puts into counts, by feature, how many of it are there at least with
// the choices taken: 0 for what is open or ruled out. Counts has one member a
// feature. Error: ErrBudget.
func (t *Trial) Counts(counts []int) error {
	q := t.q
	q.s.ForgetAll()
	for i := range counts {
		f := &q.r.model.Features[i]
		counts[i] = 0
		first := sat.Pos(q.r.first[i])
		for k := f.Least; k <= f.Most; k++ {
			// It is there in every specification just where none is without.
			switch q.s.Probe(first.Not()) {
			case sat.Spent:
				return ErrBudget
			case sat.No:
				counts[i] = k
				first += 2
				continue
			}
			break
		}
	}
	for _, vars := range q.r.value { // for Settled
		for _, v := range vars {
			if q.s.Probe(sat.Pos(v).Not()) == sat.Spent {
				return ErrBudget
			}
		}
	}
	return nil
}

// Settled says whether leaving everything open off keeps every rule, once
// Counts has been asked.
func (t *Trial) Settled() bool {
	q := t.q
	q.leaveOff()
	c := &q.r.clauses
	for i := range c.Len() {
		if !slices.ContainsFunc(c.Clause(i), func(l sat.Lit) bool { return q.holds[l] }) {
			return false
		}
	}
	return true
}

// Settle gives the choices taken with those appended that Rules.Settle adds, but
// for refusals of what the trial knows to be out already. They are good until it
// is asked to settle again. Error: ErrBudget.
func (t *Trial) Settle() ([]Choice, error) {
	depth := t.q.s.Depth()
	s := settling{q: t.q, out: append(t.room[:0], t.taken...)}
	err := s.all()
	t.room = s.out
	t.q.s.Back(depth)
	t.q.assumed = t.q.assumed[:0]
	return s.out, err
}
