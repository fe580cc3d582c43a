// Package sat decides yes-or-no questions over clauses: given literals that
// are taken as true, can the rest be filled in so that every clause holds?
//
// It is built for the counter: thousands of small questions over the same
// clauses and the same assumptions, asked one after another. So it keeps one
// whole model of the assumptions and, for each question, lays what the asked
// literal implies over that model; only where a clause loses its last true
// literal does it search (conflict-driven, learning), and only around that
// clause. A "yes" always has a model behind it and a "no" a derivation, so
// that both can be checked.
//
//	clauses.go  what is fixed: clauses, at-most-one groups, causes
//	solver.go   what moves: assignment, propagation, levels
//	search.go   Assume, Probe: conflict analysis, learning, the overlay
//	trace.go    why a literal holds: assumptions and causes
package sat

import "slices"

// Lit is a literal: variable v true is Pos(v), false is Pos(v).Not().
type Lit int32

// Pos is the literal "variable v is true".
func Pos(v int) Lit { return Lit(v << 1) }

// Not is the opposite literal.
func (l Lit) Not() Lit { return l ^ 1 }

// Var is the literal's variable.
func (l Lit) Var() int { return int(l >> 1) }

// Positive says whether the literal is that its variable is true.
func (l Lit) Positive() bool { return l&1 == 0 }

// Cause is the caller's number for what a clause or group comes from.
type Cause int32

// Clauses are a set of clauses and at-most-one groups, fixed once Freeze is
// called and then safe to share between solvers.
type Clauses struct {
	vars  int
	lits  []Lit   // all clauses, one after another
	start []int32 // clause i is lits[start[i]:start[i+1]]
	cause []Cause

	groups     [][]Lit // members of at-most-one groups, all positive
	groupCause []Cause

	// Worked out by Freeze.
	bin     index[implied] // by literal that becomes true: what a two-literal clause then forces
	inGroup index[int32]   // by variable: its groups
	long    []int32        // clauses of three literals or more
	occurs  index[int32]   // by literal: the long clauses it is in, by place in long
	units   []int32        // clauses of one literal
	empty   bool           // a clause without literals was added
	emptyBy Cause
}

// implied is what a two-literal clause forces.
type implied struct {
	lit    Lit
	clause int32
}

// index is a list of lists in one piece of memory.
type index[T any] struct {
	at   []int32
	data []T
}

func (x *index[T]) of(i int) []T { return x.data[x.at[i]:x.at[i+1]] }

func makeIndex[T any](n int, each func(yield func(i int, t T))) index[T] {
	x := index[T]{at: make([]int32, n+1)}
	each(func(i int, _ T) { x.at[i+1]++ })
	for i := range n {
		x.at[i+1] += x.at[i]
	}
	x.data = make([]T, x.at[n])
	fill := slices.Clone(x.at[:n])
	each(func(i int, t T) {
		x.data[fill[i]] = t
		fill[i]++
	})
	return x
}

// NewVar adds a variable and gives its number.
func (c *Clauses) NewVar() int {
	c.vars++
	return c.vars - 1
}

// Vars is the number of variables.
func (c *Clauses) Vars() int { return c.vars }

// Add adds a clause: at least one of lits holds. A clause that always holds
// (a literal beside its opposite) is left out, repeated literals count once.
func (c *Clauses) Add(cause Cause, lits ...Lit) {
	if len(c.start) == 0 {
		c.start = append(c.start, 0)
	}
	sorted := slices.Clone(lits)
	slices.Sort(sorted)
	sorted = slices.Compact(sorted)
	for i := 1; i < len(sorted); i++ {
		if sorted[i] == sorted[i-1].Not() {
			return
		}
	}
	if len(sorted) == 0 {
		c.empty, c.emptyBy = true, cause
		return
	}
	c.lits = append(c.lits, sorted...)
	c.start = append(c.start, int32(len(c.lits)))
	c.cause = append(c.cause, cause)
}

// AddAtMostOne says that no two of the variables are true together.
func (c *Clauses) AddAtMostOne(cause Cause, vars ...int) {
	if len(vars) < 2 {
		return
	}
	group := make([]Lit, len(vars))
	for i, v := range vars {
		group[i] = Pos(v)
	}
	c.groups = append(c.groups, group)
	c.groupCause = append(c.groupCause, cause)
}

// Freeze ends adding.
func (c *Clauses) Freeze() {
	if len(c.start) == 0 {
		c.start = append(c.start, 0)
	}
	for i := range c.Len() {
		switch lits := c.Clause(i); len(lits) {
		case 1:
			c.units = append(c.units, int32(i))
		case 2:
		default:
			c.long = append(c.long, int32(i))
		}
	}
	c.bin = makeIndex(2*c.vars, func(yield func(int, implied)) {
		for i := range c.Len() {
			if lits := c.Clause(i); len(lits) == 2 {
				yield(int(lits[0].Not()), implied{lits[1], int32(i)})
				yield(int(lits[1].Not()), implied{lits[0], int32(i)})
			}
		}
	})
	c.inGroup = makeIndex(c.vars, func(yield func(int, int32)) {
		for g, group := range c.groups {
			for _, l := range group {
				yield(l.Var(), int32(g))
			}
		}
	})
	c.occurs = makeIndex(2*c.vars, func(yield func(int, int32)) {
		for k, i := range c.long {
			for _, l := range c.Clause(int(i)) {
				yield(int(l), int32(k))
			}
		}
	})
}

// Len is the number of clauses.
func (c *Clauses) Len() int { return len(c.start) - 1 }

// Clause gives the literals of clause i; they must not be changed.
func (c *Clauses) Clause(i int) []Lit { return c.lits[c.start[i]:c.start[i+1]] }

// CauseOf gives what clause i comes from.
func (c *Clauses) CauseOf(i int) Cause { return c.cause[i] }

// Groups is the number of at-most-one groups.
func (c *Clauses) Groups() int { return len(c.groups) }

// Group gives the members of an at-most-one group; they must not be changed.
func (c *Clauses) Group(g int) []Lit { return c.groups[g] }

// CauseOfGroup gives what group g comes from.
func (c *Clauses) CauseOfGroup(g int) Cause { return c.groupCause[g] }
