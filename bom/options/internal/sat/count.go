package sat

import (
	"encoding/binary"
	"math/big"
	"slices"
)

// Counted is how many models clauses have.
type Counted struct {
	Models *big.Int
	// Exact: neither more nor fewer. Else the work ended, and there are at
	// least so many.
	Exact bool
}

// Count counts the models of the solver's clauses under its assumptions, each
// assignment of all variables once.
//
// It branches on a variable, looks which of the rest still hang together,
// counts each such component by itself and multiplies; a component met before
// is not counted again. Whether a branch has a model at all is asked of the
// solver, so none is walked in vain, and when the work ends every branch not
// yet walked that is known to have a model still counts for one. A group of
// which at most one may be true, and that nothing else ties, is counted as it
// stands.
//
// The work is in units of the solver's budget. The solver comes back with the
// assumptions it had, and what it learned.
func Count(s *Solver, work int64) Counted {
	k := newCounter(s, work)
	open := make([]int32, 0, s.c.vars)
	for v := range s.c.vars {
		if s.val[Pos(v)] == 0 {
			open = append(open, int32(v))
		}
	}
	n := k.rest(open)
	return Counted{Models: n, Exact: !k.cut}
}

// maxKept is how many bytes of names of components are kept; what is met after
// that is counted again when it comes again.
const maxKept = 64 << 20

// perBranch bounds the one question whether a branch has a model.
const perBranch = 2_000_000

type counter struct {
	s    *Solver
	c    *Clauses
	work int64
	cut  bool // something was left out: there may be more

	inClause index[int32] // by variable: the clauses of two literals or more
	kept     map[string]*big.Int
	size     int // of the names kept

	// What has been seen, by the number of the component being put together.
	stamp                          int32
	seenVar, seenClause, seenGroup []int32
	score                          []int32 // by variable: what ties it
	queue, clauses                 []int32
	name                           []byte
}

func newCounter(s *Solver, work int64) *counter {
	k := &counter{
		s: s, c: s.c, work: work, kept: map[string]*big.Int{},
		seenVar: make([]int32, s.c.vars), score: make([]int32, s.c.vars),
		seenClause: make([]int32, s.c.Len()), seenGroup: make([]int32, s.c.Groups()),
	}
	k.inClause = makeIndex(s.c.vars, func(yield func(int, int32)) {
		for i := range s.c.Len() {
			if lits := s.c.Clause(i); len(lits) > 1 {
				for _, l := range lits {
					yield(l.Var(), int32(i))
				}
			}
		}
	})
	return k
}

// component is a set of variables that hang together.
type component struct {
	vars   []int32 // in order
	name   string
	branch int32 // the variable that the most ties
	bare   bool  // one group and nothing else
}

// rest counts what is left of vars, as the assumptions stand.
func (k *counter) rest(vars []int32) *big.Int {
	n := big.NewInt(1)
	free := uint(0)
	var parts []component
	from := k.stamp
	for _, v := range vars {
		if k.s.val[Pos(int(v))] != 0 || k.seenVar[v] > from {
			continue
		}
		p := k.grow(v)
		switch {
		case len(p.vars) == 1:
			free++
		case p.bare: // one of them, or none
			n.Mul(n, big.NewInt(int64(len(p.vars))+1))
		default:
			parts = append(parts, p)
		}
	}
	n.Lsh(n, free)
	for i := range parts {
		n.Mul(n, k.count(&parts[i]))
	}
	return n
}

// count counts the models of one component.
func (k *counter) count(p *component) *big.Int {
	if n, ok := k.kept[p.name]; ok {
		return n
	}
	before := k.cut
	k.cut = false
	total := new(big.Int)
	l := Pos(int(p.branch))
	if k.s.model[l] < 0 {
		l = l.Not() // the branch that is known to have a model comes first
	}
	for turn := range 2 {
		if turn > 0 && k.work < 0 {
			k.cut = true
			break
		}
		depth := k.s.Depth()
		k.s.SetBudget(perBranch)
		out := k.s.Assume(l)
		k.work -= perBranch - k.s.budget
		switch out {
		case Yes:
			total.Add(total, k.rest(p.vars))
		case Spent:
			k.cut = true
		case No:
		}
		k.s.Back(depth)
		l = l.Not()
	}
	if !k.cut && k.size+len(p.name) < maxKept {
		k.kept[p.name] = total
		k.size += len(p.name)
	}
	k.cut = k.cut || before
	return total
}

// grow puts together the component of an open variable.
//
// Its name is its variables and those of its clauses of three literals or more
// that are not yet satisfied. That names it whole: of such a clause, what is
// not open is false; a pair or a group with an open variable that were decided
// would have decided the variable.
func (k *counter) grow(v int32) component {
	k.stamp++
	at := k.stamp
	k.seenVar[v], k.score[v] = at, 0
	k.queue, k.clauses = append(k.queue[:0], v), k.clauses[:0]
	groups, pairs := 0, 0
	for next := 0; next < len(k.queue); next++ {
		u := int(k.queue[next])
		for _, c := range k.inClause.of(u) {
			if k.seenClause[c] == at {
				continue
			}
			k.seenClause[c] = at
			if lits := k.c.Clause(int(c)); k.ties(lits) {
				if len(lits) == 2 {
					pairs++
				} else {
					k.clauses = append(k.clauses, c)
				}
			}
		}
		for _, g := range k.c.inGroup.of(u) {
			if k.seenGroup[g] == at {
				continue
			}
			k.seenGroup[g] = at
			if k.ties(k.c.groups[g]) {
				groups++
			}
		}
	}
	p := component{vars: slices.Clone(k.queue), bare: groups == 1 && pairs == 0 && len(k.clauses) == 0}
	slices.Sort(p.vars)
	slices.Sort(k.clauses)
	p.branch = p.vars[0]
	for _, u := range p.vars {
		if k.score[u] > k.score[p.branch] {
			p.branch = u
		}
	}
	if !p.bare && len(p.vars) > 1 {
		p.name = k.nameOf(p.vars)
	}
	return p
}

// ties takes the open variables of a clause or group into the component, if it
// still asks anything of them.
func (k *counter) ties(lits []Lit) bool {
	k.work -= int64(len(lits))
	open := 0
	for _, l := range lits {
		switch k.s.val[l] {
		case 0:
			open++
		case 1:
			return false
		}
	}
	if open < 2 {
		return false
	}
	for _, l := range lits {
		if k.s.val[l] != 0 {
			continue
		}
		v := int32(l.Var())
		if k.seenVar[v] != k.stamp {
			k.seenVar[v], k.score[v] = k.stamp, 0
			k.queue = append(k.queue, v)
		}
		k.score[v]++
	}
	return true
}

func (k *counter) nameOf(vars []int32) string {
	b := k.name[:0]
	last := int32(-1)
	for _, v := range vars {
		b = binary.AppendUvarint(b, uint64(v-last))
		last = v
	}
	b = append(b, 0)
	last = -1
	for _, c := range k.clauses {
		b = binary.AppendUvarint(b, uint64(c-last))
		last = c
	}
	k.name = b
	return string(b)
}
