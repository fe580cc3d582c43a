package options

import (
	"math/big"
	"slices"

	"wainscot/bom/formula"
	"wainscot/bom/options/internal/sat"
)

// Resolve answers for one van: what it has and keeps is known. A proof is
// about all vans of a kind, so what one of them may have is a question of the
// same search. A scope is the model compiled with that left open.
//
// Two things depend on what a van has and keeps: what is not sold can be there
// only when the van has it, and where a group is not offered nothing of it may
// be there but what the van has. Whatever is there and could have been on the
// van as it came may be taken as kept: that forbids nothing. So in a scope
// "fitted and kept" is not a variable of its own, and each specification is one
// model.
type scope struct {
	rules *Rules // clauses and variables of the scope; not for Resolve
	// kept are, by feature, how many a van of the scope may have.
	kept []int
	s    *sat.Solver
	yes  sat.Lit // always true
	work *int64  // left, of all the scopes of a proof
	enc  encoder
	// literals name the conditions of rules that are asked about.
	literals []sat.Lit
}

// perQuestion bounds the work of one question, so that one that is hard does
// not take what all the others need.
const perQuestion = 20_000_000

// newScope begins a scope of vans that may have up to kept of each feature. It
// has all of the model but the rules, which are added by rule; conditions are
// named by literal; begin ends writing.
func (m *Model) newScope(kept []int, work *int64) *scope {
	inner := &Rules{model: *m, byCode: map[string]int{}, byName: map[string]int{}}
	sc := &scope{rules: inner, kept: kept, work: work, enc: encoder{r: inner}}
	e := &sc.enc
	e.variables()
	for v, f := range inner.featureOf {
		never := inner.fitted[v]
		if never < 0 {
			continue
		}
		e.add(0, sat.Pos(never).Not()) // so that it is no question
		if n := v - inner.first[f] + inner.model.Features[f].Least; n <= kept[f] {
			inner.fitted[v] = v // what is there may be kept
		}
	}
	inner.causes = append(inner.causes, Cause{}) // number 0 is for what is so by meaning
	sc.yes = sat.Pos(inner.clauses.NewVar())
	e.add(0, sc.yes)
	for f, n := range kept {
		if inner.model.Features[f].NotSold && n == 0 {
			e.add(0, e.on(f, 1).Not())
		}
	}
	e.frame()
	e.followers()
	return sc
}

// rule adds a rule.
func (sc *scope) rule(i int) {
	for _, clause := range sc.clausesOf(i) {
		sc.enc.add(0, clause...)
	}
}

// clausesOf are the clauses of a rule, in the variables of the scope. Helper
// variables they need are defined at each call.
func (sc *scope) clausesOf(i int) [][]sat.Lit {
	rule := &sc.rules.model.Rules[i]
	var out [][]sat.Lit
	must := func(c formula.Condition) {
		c = negationsInward(formula.Or(formula.Not(rule.If), c), false)
		out = append(out, sc.enc.normal(0, c, mostDistributed)...)
	}
	if rule.Then.Op != 0 {
		must(rule.Then)
	}
	for _, b := range rule.Brings {
		must(formula.On(sc.rules.model.Features[b.Feature].Code, b.N))
	}
	return out
}

// literal names a condition by a literal that is true just when it holds.
func (sc *scope) literal(c formula.Condition) sat.Lit {
	switch c.Op {
	case 0, formula.IsTrue:
		return sc.yes
	case formula.IsFalse:
		return sc.yes.Not()
	}
	return sc.enc.define(0, negationsInward(c, false))
}

// begin ends writing and finds a first specification. Errors as of Compile.
func (sc *scope) begin() error {
	if sc.enc.err != nil {
		return sc.enc.err
	}
	sc.rules.clauses.Freeze()
	*sc.work -= int64(len(sc.rules.causes) + sc.rules.clauses.Vars()) // writing takes time too
	budget := min(compileBudget, max(*sc.work, 0))
	start, out := sat.NewSolver(&sc.rules.clauses, budget)
	switch out {
	case sat.No:
		return ErrNothingAllowed
	case sat.Spent:
		return ErrBudget
	}
	*sc.work -= budget - start.Budget()
	sc.s = start.Begin()
	sc.s.Forget()
	return nil
}

// verdict of a question.
type verdict uint8

const (
	undecided verdict = iota // the work ended first
	can
	cannot
)

// ask puts a question to the search and pays for it.
func (sc *scope) ask(question func() sat.Outcome) verdict {
	if *sc.work <= 0 {
		return undecided
	}
	budget := min(perQuestion, *sc.work)
	sc.s.SetBudget(budget)
	out := question()
	*sc.work -= budget - sc.s.Budget() + 1
	switch out {
	case sat.Yes:
		return can
	case sat.No:
		return cannot
	}
	return undecided
}

// can says whether some specification, with what is assumed, has l.
func (sc *scope) can(l sat.Lit) verdict { return sc.ask(func() sat.Outcome { return sc.s.Probe(l) }) }

// assume takes l on a level of its own; where that can be, the kept model has
// it.
func (sc *scope) assume(l sat.Lit) verdict {
	return sc.ask(func() sat.Outcome { return sc.s.Assume(l) })
}

// Specimen is one specification, with what the van that has it came with.
type Specimen struct {
	Counts []int // of each feature
	Kept   []int // of each feature, how many of them the van has and keeps
	Values []int // of each setting, -1 for none
}

// specimen reads the kept model.
func (sc *scope) specimen() Specimen {
	r := sc.rules
	sp := Specimen{
		Counts: make([]int, len(r.model.Features)), Kept: make([]int, len(r.model.Features)),
		Values: make([]int, len(r.model.Settings)),
	}
	for i, f := range r.model.Features {
		for k := f.Least; k <= f.Most && sc.s.Has(r.on(i, k)); k++ {
			sp.Counts[i] = k
		}
		if n := min(sp.Counts[i], sc.kept[i]); n >= f.Least {
			sp.Kept[i] = n
		}
	}
	for i, vars := range r.value {
		sp.Values[i] = -1
		for k, v := range vars {
			if sc.s.Has(sat.Pos(v)) {
				sp.Values[i] = k
			}
		}
	}
	return sp
}

// Holds says whether a condition of the model holds on a specimen.
func (r *Rules) Holds(sp Specimen, c formula.Condition) bool {
	return c.Op == 0 || c.Holds(func(a formula.Atom) bool {
		if a.Value != "" {
			s, ok := r.byName[a.Name]
			return ok && sp.Values[s] >= 0 && r.model.Settings[s].Values[sp.Values[s]] == a.Value
		}
		i, ok := r.byCode[a.Name]
		return ok && sp.Counts[i] >= a.AtLeast
	})
}

// Choices are those with which Resolve comes to the specimen: what the van is,
// what is kept, and a want for everything else that is there. What is left
// open by them is off. Followers come along by themselves; only where
// something brings itself must they be wanted too.
func (r *Rules) Choices(sp Specimen) []Choice {
	choices := r.choices(sp, false)
	a, err := r.ResolveWithoutSwaps(choices)
	if err == nil && slices.Equal(r.sofar(&a).Counts, sp.Counts) {
		return choices
	}
	return r.choices(sp, true)
}

func (r *Rules) choices(sp Specimen, followers bool) []Choice {
	var out []Choice
	pick := func(exact bool, source Source) {
		for i, s := range r.model.Settings {
			if s.Exact == exact && sp.Values[i] >= 0 {
				out = append(out, Choice{Verb: Pick, Feature: s.Name, Value: s.Values[sp.Values[i]], Source: source})
			}
		}
	}
	pick(true, FromVan)
	for i, f := range r.model.Features {
		if n := sp.Kept[i]; n > 0 {
			out = append(out, keeping(f, n))
		}
	}
	for i, f := range r.model.Features {
		if sp.Counts[i] > sp.Kept[i] && (followers || !f.Follower) {
			out = append(out, wanting(f, sp.Counts[i]))
		}
	}
	pick(false, FromCustomer)
	return out
}

func keeping(f Feature, n int) Choice {
	if f.Most == 1 {
		return Choice{Verb: Want, Feature: f.Code, Source: FromFitted}
	}
	return Choice{Verb: AtLeast, Feature: f.Code, N: n, Source: FromFitted}
}

func wanting(f Feature, n int) Choice {
	if f.Most == 1 {
		return Choice{Verb: Want, Feature: f.Code, Source: FromCustomer}
	}
	return Choice{Verb: Number, Feature: f.Code, N: n, Source: FromCustomer}
}

// Tally is how many allowed specifications there are.
type Tally struct {
	Number *big.Int
	// Exact: neither more nor fewer. Else the work ended, and there are at
	// least so many.
	Exact bool
}

// Count counts the allowed specifications of the vans of a kind as they come:
// kept says how many of each feature a van may come with; what is not sold may
// be there in any case. A specification is
// what there is of each feature, with its number, and the value of each
// setting (none is a value too, where a finish may stay open). Two that differ
// only in what of it the van had already are one. The work is in the units of
// the search, some nanoseconds each.
func (r *Rules) Count(kept []int, work int64) (Tally, error) {
	left := int64(compileBudget)
	sc := r.model.newScope(r.asItComes(kept), &left)
	for i := range r.model.Rules {
		sc.rule(i)
	}
	if err := sc.begin(); err != nil {
		return Tally{}, err
	}
	n := sat.Count(sc.s, work)
	return Tally{n.Models, n.Exact}, nil
}
