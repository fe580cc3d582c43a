package options

import (
	"cmp"
	"errors"
	"slices"

	"wainscot/bom/options/internal/sat"
)

// MostConflicts is how many conflicts are looked for where nothing else is
// said: more than anybody reads.
const MostConflicts = 20

// mostWritten bounds, in literals written down, the search for sets of choices
// that are not decided yet: half a second. Ten contradictions that have nothing
// to do with each other make some thousand largest sets that fit, and to know
// that there is no eleventh is to have looked at them all.
const mostWritten = 4_000_000

// undoBudget is the work that looking for conflicts or ways out may take, in
// the solver's units, and once more their minimal reasons.
const undoBudget = resolveBudget

// Conflicts are all that is wrong with a list of choices.
type Conflicts struct {
	// List has the conflicts, those of the fewest choices first, then in the
	// order of the choices.
	List []Conflict
	// More: there may be others, because as many as were asked for were found
	// or the work allowed for it ended. Otherwise List is all of them.
	More bool
}

// Conflict is a set of the customer's choices that cannot be had together,
// while without any one of them the rest of the set could.
type Conflict struct {
	// Choices are places in the list of choices, in order. None where what the
	// van is and has fitted contradicts itself.
	Choices []int
	// Why is a minimal reason (unless it is loose): these choices, what the van is and has as far
	// as it matters, and the causes that together leave nothing allowed.
	Why *Reason
}

// Conflicts gives every minimal conflict among the customer's own choices, at
// most so many (0 for MostConflicts). What the van is and has fitted is taken
// as it is; what a package holds or settling added gives way to what the
// customer says and is left out of it.
//
// Source: M. Liffiton, A. Previti, A. Malik and J. Marques-Silva, "Fast,
// flexible MUS enumeration", Constraints 21, 2016: sets of choices not yet
// decided by what is known are drawn one by one; one that fits is widened until
// nothing more does, one that does not is narrowed until all of it is needed,
// and either settles all sets below or above it. From memory.
//
// Errors as of Resolve; ErrBudget only where not a single conflict was found.
func (r *Rules) Conflicts(choices []Choice, most int) (Conflicts, error) {
	if most <= 0 {
		most = MostConflicts
	}
	u, err := r.undo(choices, nil)
	defer u.end()
	if err != nil {
		return Conflicts{}, err
	}
	out := Conflicts{List: u.facts}
	s := sets{u: u, n: len(u.own), out: &out, most: most}
	err = s.all()
	if errors.Is(err, ErrBudget) && len(out.List) > 0 {
		out.More, err = true, nil
	}
	slices.SortFunc(out.List, func(a, b Conflict) int {
		return cmp.Or(cmp.Compare(len(a.Choices), len(b.Choices)), slices.Compare(a.Choices, b.Choices))
	})
	return out, err
}

// undoing asks which of the customer's choices can be kept together, with what
// the van is and has taken as it is.
type undoing struct {
	q    *question
	own  []int // the choices that may be undone, in order
	base mark
	// work is left for minimal reasons.
	work int64
	// facts are the conflicts of what the van is and has within itself.
	facts []Conflict
}

// mark is a state of the question to come back to.
type mark struct{ depth, assumed int }

func (q *question) mark() mark { return mark{q.s.Depth(), len(q.assumed)} }

func (q *question) back(m mark) {
	q.s.Back(m.depth)
	q.assumed = q.assumed[:m.assumed]
}

// undo begins with what the van is and has. Choices that fixed says are not to
// be undone count as such, too.
func (r *Rules) undo(choices []Choice, fixed func(i int) bool) (*undoing, error) {
	u := &undoing{q: r.room(choices), work: undoBudget}
	u.q.s.SetBudget(undoBudget)
	for i, c := range choices {
		if err := u.q.literals(c); err != nil {
			return u, choiceError(i, err)
		}
	}
	if err := u.q.lack(); err != nil {
		return u, err
	}
	for i, c := range choices {
		switch {
		case c.Source == FromVan, c.Source == FromFitted, fixed != nil && fixed(i):
			if err := u.fact(i); err != nil {
				return u, err
			}
		case c.Source == FromCustomer:
			u.own = append(u.own, i)
		}
	}
	u.base = u.q.mark()
	return u, nil
}

func (u *undoing) end() { u.q.end() }

// fact takes a choice that is not to be undone, unless it does not fit.
func (u *undoing) fact(i int) error {
	before := u.q.mark()
	clash, err := u.q.clash(i)
	if err != nil || clash == nil {
		return err
	}
	why, err := u.why(append(clash, member{choice: int32(i), notSold: -1, cause: -1}), nil)
	if err != nil {
		return err
	}
	u.facts = append(u.facts, Conflict{Why: why})
	u.q.back(before)
	return nil
}

// why makes members that contradict hard, literals that are taken as true, a
// minimal reason, and where the work for that ends a loose one.
func (u *undoing) why(members []member, hard []sat.Lit) (*Reason, error) {
	reason, err := u.q.r.shrink(u.q.choices, members, hard, &u.work)
	if !errors.Is(err, ErrBudget) {
		return reason, err
	}
	reason = &Reason{Loose: true}
	for _, m := range members {
		if m.choice >= 0 {
			reason.Choices = append(reason.Choices, int(m.choice))
		} else {
			reason.Causes = append(reason.Causes, u.q.r.causeOf(m))
		}
	}
	slices.Sort(reason.Choices)
	return reason, nil
}

// together takes choices one after another from the base on. It gives the
// place of the first that does not fit and what it clashes with, -1 when all
// do.
func (u *undoing) together(choices []int) (int, []member, error) {
	u.q.back(u.base)
	for at, i := range choices {
		clash, err := u.q.clash(i)
		if err != nil || clash != nil {
			return at, clash, err
		}
	}
	return -1, nil, nil
}

// narrow gives of choices that do not fit together some that do not, of which
// none can be left out, in order, with all that these contradict by.
func (u *undoing) narrow(choices []int) ([]int, []member, error) {
	var members []member
	kept, err := needed(choices, func(list []int) (int, func(int) bool, error) {
		last, clash, err := u.together(list)
		if err != nil || last < 0 {
			return last, nil, err
		}
		members = append(clash, member{choice: int32(list[last]), notSold: -1, cause: -1})
		return last, func(i int) bool {
			return slices.ContainsFunc(clash, func(m member) bool { return int(m.choice) == i })
		}, nil
	})
	slices.Sort(kept)
	return kept, members, err
}

// widen adds to choices that fit together, just taken, all others that still
// fit, and gives those that do not.
func (u *undoing) widen(rest []int) ([]int, error) {
	var left []int
	for _, i := range rest {
		before := u.q.mark()
		clash, err := u.q.clash(i)
		if err != nil {
			return nil, err
		}
		if clash != nil {
			u.q.back(before)
			left = append(left, i)
		}
	}
	return left, nil
}

// sets walks the sets of the customer's choices.
type sets struct {
	u    *undoing
	n    int
	out  *Conflicts
	most int
	// settled are clauses over "choice k is left out" that sets not yet
	// decided keep.
	settled [][]sat.Lit
	found   int
	written int // literals, so far
}

// all finds the conflicts until no set is undecided.
func (s *sets) all() error {
	for s.written < mostWritten {
		in, without, err := s.next()
		if in == nil || err != nil {
			return err
		}
		last, _, err := s.u.together(in)
		if err != nil {
			return err
		}
		if last >= 0 {
			if s.found == s.most {
				s.out.More = true
				return nil
			}
			if err := s.conflict(in[:last+1]); err != nil {
				return err
			}
			continue
		}
		left, err := s.u.widen(without)
		if err != nil {
			return err
		}
		if len(left) == 0 {
			return nil // everything fits
		}
		s.settle(left, false)
	}
	s.out.More = true
	return nil
}

// conflict adds the conflict among choices.
func (s *sets) conflict(choices []int) error {
	kept, members, err := s.u.narrow(choices)
	if err != nil {
		return err
	}
	why, err := s.u.why(members, nil)
	if err != nil {
		return err
	}
	s.out.List = append(s.out.List, Conflict{Choices: kept, Why: why})
	s.found++
	s.settle(kept, true)
	return nil
}

// settle notes that of some choices at least one is left out, or at least one
// is not.
func (s *sets) settle(choices []int, out bool) {
	var clause []sat.Lit
	for _, i := range choices {
		k, _ := slices.BinarySearch(s.u.own, i)
		l := sat.Pos(k)
		if !out {
			l = l.Not()
		}
		clause = append(clause, l)
	}
	s.settled = append(s.settled, clause)
}

// next gives a set that is not decided, and the choices not in it; nil when
// there is none. The search for it begins with all choices in.
func (s *sets) next() (in, without []int, err error) {
	var c sat.Clauses
	for range s.n {
		c.NewVar()
	}
	for _, clause := range s.settled {
		c.Add(0, clause...)
		s.written += len(clause)
	}
	c.Freeze()
	solver, outcome := sat.NewSolver(&c, minimalBudget)
	switch outcome {
	case sat.No:
		return nil, nil, nil
	case sat.Spent:
		return nil, nil, ErrBudget
	}
	in = make([]int, 0, s.n)
	for k, i := range s.u.own {
		if solver.Has(sat.Pos(k)) {
			without = append(without, i)
		} else {
			in = append(in, i)
		}
	}
	return in, without, nil
}
