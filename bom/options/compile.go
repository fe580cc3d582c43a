package options

import (
	"errors"
	"fmt"
	"sync"

	"wainscot/bom/formula"
	"wainscot/bom/options/internal/sat"
)

// Work budgets, in the solver's units of some tens of nanoseconds at worst: a
// second or two. A question of an ordinary catalogue takes thousands; the
// budgets only stop what would never end.
const (
	compileBudget = 60_000_000
	resolveBudget = 30_000_000
)

// ErrBudget says that the work budget ended before the answer was known: the
// rules are of a kind that takes too long to decide.
var ErrBudget = errors.New("options: the rules took more work to decide than the budget allows")

// ErrNothingAllowed says that no set of features at all keeps the rules.
var ErrNothingAllowed = errors.New("options: no specification keeps all the rules")

// Rules are a model compiled to clauses. They never change and may be used by
// any number of callers at once.
type Rules struct {
	model   Model
	clauses sat.Clauses
	causes  []Cause // by sat.Cause

	// first is, by feature, the variable "there are at least Least of it"; the
	// ones for more follow it.
	first     []int
	featureOf []int   // by variable
	value     [][]int // by setting and value: the variable
	byCode    map[string]int
	byName    map[string]int // settings
	asked     int            // variables of features and settings; fitted ones follow
	helpers   int            // where helper variables begin
	aux       []definition   // helper variables, each after those it reads
	// members are the features of each group.
	members [][]int
	// fitted is, by variable of a feature in a group that is not always
	// offered, the variable "that many are fitted and kept"; -1 for others.
	fitted []int

	parts parts

	start   *sat.Solver
	solvers sync.Pool
}

// definition is a helper variable: true just when its condition holds.
type definition struct {
	variable int
	all      bool // all of lits, else any
	lits     []sat.Lit
}

// Compile turns a model into clauses. Errors: ErrNothingAllowed, ErrBudget, or
// a model that names a feature or value it does not have.
func Compile(m Model) (*Rules, error) {
	r := &Rules{model: m, byCode: map[string]int{}, byName: map[string]int{}}
	e := encoder{r: r}
	if err := e.encode(); err != nil {
		return nil, err
	}
	r.clauses.Freeze()
	r.findParts()
	start, out := sat.NewSolver(&r.clauses, compileBudget)
	switch out {
	case sat.No:
		return nil, ErrNothingAllowed
	case sat.Spent:
		return nil, ErrBudget
	}
	r.start = start
	r.solvers.New = func() any { return &question{r: r, s: start.Begin()} }
	return r, nil
}

// Model gives back what was compiled; it must not be changed.
func (r *Rules) Model() *Model { return &r.model }

// encoder writes a model as clauses.
type encoder struct {
	r   *Rules
	err error
}

func (e *encoder) encode() error {
	e.variables()
	e.frame()
	for i := range e.r.model.Rules {
		e.rule(i)
	}
	e.followers()
	return e.err
}

// frame is all but rules and followers: bounds, settings, groups.
func (e *encoder) frame() {
	m := &e.r.model
	for i, f := range m.Features {
		if f.Refused != "" {
			e.add(e.cause(ByVan, i, f.Refused), e.on(i, 1).Not())
		}
		for k := f.Least; k < f.Most; k++ {
			// More than k is at least k: true by meaning, no cause to tell.
			e.add(e.cause(ByCounting, i, ""), e.on(i, k+1).Not(), e.on(i, k))
		}
	}
	for i, s := range m.Settings {
		c := e.cause(BySetting, i, fmt.Sprintf("There can be only one choice of %s.", s.Label))
		e.r.clauses.AddAtMostOne(c, e.r.value[i]...)
		if s.Exact {
			lits := make([]sat.Lit, len(e.r.value[i]))
			for k, v := range e.r.value[i] {
				lits[k] = sat.Pos(v)
			}
			e.add(c, lits...)
		}
	}
	for i := range m.Groups {
		e.group(i)
	}
}

func (e *encoder) variables() {
	r, m := e.r, &e.r.model
	r.first = make([]int, len(m.Features))
	for i, f := range m.Features {
		if f.Least < 1 || f.Most < f.Least {
			e.fail("feature %s: bad bounds %d to %d", f.Code, f.Least, f.Most)
		}
		r.byCode[f.Code] = i
		r.first[i] = r.clauses.Vars()
		for k := f.Least; k <= f.Most; k++ {
			r.clauses.NewVar()
			r.featureOf = append(r.featureOf, i)
		}
	}
	r.members = make([][]int, len(m.Groups))
	for i, f := range m.Features {
		if f.Group >= 0 {
			r.members[f.Group] = append(r.members[f.Group], i)
		}
	}
	r.value = make([][]int, len(m.Settings))
	for i, s := range m.Settings {
		r.byName[s.Name] = i
		r.value[i] = make([]int, len(s.Values))
		for k := range s.Values {
			r.value[i][k] = r.clauses.NewVar()
		}
	}
	r.asked = r.clauses.Vars()
	r.fitted = make([]int, len(r.featureOf))
	for v, f := range r.featureOf {
		r.fitted[v] = -1
		if g := m.Features[f].Group; g >= 0 && offeredSometimes(m.Groups[g]) {
			r.fitted[v] = r.clauses.NewVar()
		}
	}
	r.helpers = r.clauses.Vars()
}

func offeredSometimes(g Group) bool { return g.When.Op != 0 && g.When.Op != formula.IsTrue }

func (e *encoder) fail(format string, args ...any) {
	if e.err == nil {
		e.err = fmt.Errorf("options: "+format, args...)
	}
}

func (e *encoder) cause(kind CauseKind, index int, says string) sat.Cause {
	e.r.causes = append(e.r.causes, Cause{Kind: kind, Index: index, Says: says})
	return sat.Cause(len(e.r.causes) - 1)
}

func (e *encoder) add(c sat.Cause, lits ...sat.Lit) { e.r.clauses.Add(c, lits...) }

// on is the literal "at least n of feature i"; n within the feature's bounds,
// one below them meaning "any".
func (r *Rules) on(i, n int) sat.Lit {
	return sat.Pos(r.first[i] + max(n, r.model.Features[i].Least) - r.model.Features[i].Least)
}

func (e *encoder) on(i, n int) sat.Lit { return e.r.on(i, n) }

func (e *encoder) group(i int) {
	g, members := &e.r.model.Groups[i], e.r.members[i]
	if g.AtMostOne {
		vars := make([]int, len(members))
		for k, f := range members {
			vars[k] = e.on(f, 1).Var()
		}
		e.r.clauses.AddAtMostOne(e.cause(ByGroup, i, fmt.Sprintf("Only one can be had of: %s.", g.Name)), vars...)
	}
	if offeredSometimes(*g) {
		says := g.WhenSays
		if says == "" {
			says = fmt.Sprintf("%s is not offered with this kind of work.", g.Name)
		}
		c := e.cause(ByGroup, i, says)
		when := e.literal(c, g.When)
		for _, f := range members {
			// What is fitted and kept was not offered, it is there.
			for k := e.r.model.Features[f].Least; k <= e.r.model.Features[f].Most; k++ {
				on := e.on(f, k)
				e.add(c, append([]sat.Lit{on.Not(), sat.Pos(e.r.fitted[on.Var()])}, when...)...)
			}
		}
	}
	if g.Required.Op != 0 && g.Required.Op != formula.IsFalse {
		c := e.cause(ByGroup, i, fmt.Sprintf("One is needed of: %s.", g.Name))
		some := make([]formula.Condition, 0, len(members)+1)
		some = append(some, formula.Not(g.Required))
		for _, f := range members {
			some = append(some, formula.On(e.r.model.Features[f].Code, 1))
		}
		e.clause(c, formula.Or(some...))
	}
}

func (e *encoder) rule(i int) {
	rule := &e.r.model.Rules[i]
	c := e.cause(ByRule, i, rule.Says)
	if rule.Then.Op != 0 {
		e.clause(c, formula.Or(formula.Not(rule.If), rule.Then))
	}
	for _, b := range rule.Brings {
		f := e.r.model.Features[b.Feature]
		e.clause(c, formula.Or(formula.Not(rule.If), formula.On(f.Code, b.N)))
	}
}

// followers says that a follower is there only while something brings it, and
// no more of it than something brings.
func (e *encoder) followers() {
	bringers := make(map[int][]formula.Condition) // by the follower's variable
	for _, rule := range e.r.model.Rules {
		for _, b := range rule.Brings {
			f := e.r.model.Features[b.Feature]
			for k := f.Least; k <= max(b.N, f.Least) && k <= f.Most; k++ {
				v := e.on(b.Feature, k).Var()
				bringers[v] = append(bringers[v], rule.If)
			}
		}
	}
	for i, f := range e.r.model.Features {
		if !f.Follower {
			continue
		}
		c := e.cause(ByFollower, i, fmt.Sprintf("%s is only there with what needs it.", f.Name))
		for k := f.Least; k <= f.Most; k++ {
			v := e.on(i, k).Var()
			e.clause(c, formula.Or(append([]formula.Condition{formula.Not(formula.On(f.Code, k))}, bringers[v]...)...))
		}
	}
}

// A condition that would come to more than this many clauses gets helper
// variables instead.
const mostDistributed = 16

// clause says that cond holds.
func (e *encoder) clause(c sat.Cause, cond formula.Condition) {
	for _, lits := range e.normal(c, negationsInward(cond, false), mostDistributed) {
		e.add(c, lits...)
	}
}

// literal gives cond as a clause part: literals of which one must hold. A
// conjunction becomes a helper variable.
func (e *encoder) literal(c sat.Cause, cond formula.Condition) []sat.Lit {
	n := negationsInward(cond, false)
	if cnf := e.normal(c, n, 1); len(cnf) == 1 {
		return cnf[0]
	}
	return []sat.Lit{e.define(c, n)}
}

// normal gives a condition, negations at its atoms only, as clauses, at most
// limit of them by distributing, helper variables for the rest.
func (e *encoder) normal(c sat.Cause, cond formula.Condition, limit int) [][]sat.Lit {
	switch cond.Op {
	case formula.IsTrue:
		return nil
	case formula.IsFalse:
		return [][]sat.Lit{{}}
	case formula.IsAtom, formula.IsNot:
		return [][]sat.Lit{{e.atom(cond)}}
	case formula.IsAnd:
		var all [][]sat.Lit
		for _, a := range cond.Args {
			all = append(all, e.normal(c, a, limit)...)
		}
		return all
	case formula.IsOr:
		product := [][]sat.Lit{{}}
		for _, a := range cond.Args {
			part := [][]sat.Lit{nil}
			if a.Op == formula.IsAnd && len(product)*len(a.Args) > limit {
				part[0] = []sat.Lit{e.define(c, a)}
			} else {
				part = e.normal(c, a, limit/len(product))
			}
			next := make([][]sat.Lit, 0, len(product)*len(part))
			for _, p := range product {
				for _, q := range part {
					next = append(next, append(append([]sat.Lit(nil), p...), q...))
				}
			}
			product = next
		}
		return product
	}
	e.fail("a condition was not folded")
	return nil
}

// define makes a helper variable that is true just when cond holds: both ways,
// so that models are counted once each.
func (e *encoder) define(c sat.Cause, cond formula.Condition) sat.Lit {
	switch cond.Op {
	case formula.IsAtom, formula.IsNot:
		return e.atom(cond)
	case formula.IsAnd, formula.IsOr:
	default:
		e.fail("a condition was not folded")
		return 0
	}
	lits := make([]sat.Lit, len(cond.Args))
	for i, a := range cond.Args {
		lits[i] = e.define(c, a)
	}
	all := cond.Op == formula.IsAnd
	v := e.r.clauses.NewVar()
	e.r.aux = append(e.r.aux, definition{v, all, lits})
	x := sat.Pos(v)
	if !all {
		x = x.Not() // any of lits: not all of their opposites
	}
	back := []sat.Lit{x}
	for _, l := range lits {
		if !all {
			l = l.Not()
		}
		e.add(c, x.Not(), l)
		back = append(back, l.Not())
	}
	e.add(c, back...)
	return sat.Pos(v)
}

// atom gives the literal of an atom or a negated one.
func (e *encoder) atom(cond formula.Condition) sat.Lit {
	if cond.Op == formula.IsNot {
		return e.atom(cond.Args[0]).Not()
	}
	a := cond.Atom
	if a.Value != "" {
		if s, ok := e.r.byName[a.Name]; ok {
			for k, v := range e.r.model.Settings[s].Values {
				if v == a.Value {
					return sat.Pos(e.r.value[s][k])
				}
			}
		}
		e.fail("no setting %s with the value %s", a.Name, a.Value)
		return 0
	}
	i, ok := e.r.byCode[a.Name]
	if !ok {
		e.fail("no feature %s", a.Name)
		return 0
	}
	if a.AtLeast > e.r.model.Features[i].Most {
		e.fail("feature %s: never as many as %d", a.Name, a.AtLeast)
		return 0
	}
	return e.on(i, a.AtLeast)
}

// negationsInward moves negations to the atoms.
func negationsInward(c formula.Condition, negate bool) formula.Condition {
	switch c.Op {
	case formula.IsNot:
		return negationsInward(c.Args[0], !negate)
	case formula.IsAnd, formula.IsOr:
		args := make([]formula.Condition, len(c.Args))
		for i, a := range c.Args {
			args[i] = negationsInward(a, negate)
		}
		if (c.Op == formula.IsAnd) != negate {
			return formula.And(args...)
		}
		return formula.Or(args...)
	}
	if negate {
		return formula.Not(c)
	}
	return c
}
