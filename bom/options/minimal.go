package options

import (
	"errors"
	"slices"

	"wainscot/bom/options/internal/sat"
)

// A reason read off the trail is valid but may say too much. This file makes it
// minimal: a small solver is built over nothing but what the valid reason
// names, each member behind a switch of its own, and members are switched on
// one after another until they contradict. The last one switched on then
// cannot be left out; what came after it can, and so can what the
// contradiction did not use. Then the same again with that member switched on
// first, until those kept contradict by themselves.
//
// Sources: U. Junker, "QUICKXPLAIN: Preferred explanations and relaxations for
// over-constrained problems", AAAI 2004, for what is asked and for preferring
// some members to others; J. W. Chinneck and E. W. Dravnieks, "Locating minimal
// infeasible constraint sets in linear programs", ORSA Journal on Computing 3,
// 1991, for adding members one by one. Both from memory.

// minimalBudget is the work one minimal reason may take, in the solver's units.
const minimalBudget = 5_000_000

// ReasonWork is the work that all minimal reasons of one answer may take
// together where nothing else is said, in the solver's units.
const ReasonWork = resolveBudget

// member is one thing a reason may name: a choice, that something is not sold,
// or a cause.
type member struct {
	choice  int32 // index of a choice, or -1
	notSold int32 // a feature that can only be there when the van came with it, or -1
	cause   sat.Cause
}

// parts finds what the model is made of by what it comes from.
type parts struct {
	clauses [][]int32 // by cause, places in the list of clauses
	groups  [][]int32 // by cause, places in the list of at-most-one groups
	fits    []int32   // by variable from the first fitted one on: the feature's variable it is about
}

func (r *Rules) findParts() {
	r.parts.clauses = make([][]int32, len(r.causes))
	r.parts.groups = make([][]int32, len(r.causes))
	for i := range r.clauses.Len() {
		c := r.clauses.CauseOf(i)
		r.parts.clauses[c] = append(r.parts.clauses[c], int32(i))
	}
	for g := range r.clauses.Groups() {
		c := r.clauses.CauseOfGroup(g)
		r.parts.groups[c] = append(r.parts.groups[c], int32(g))
	}
	r.parts.fits = make([]int32, r.helpers-r.asked)
	for v, fitted := range r.fitted {
		if fitted >= 0 {
			r.parts.fits[fitted-r.asked] = int32(v)
		}
	}
}

// WhyMinimal gives a minimal reason for the standing of a feature that is not
// open: a set of choices and causes of which no member can be left out. What
// the customer said first is preferred to what was said later, and causes to
// choices. Nil for an open feature. It takes work that Why does not, of the
// work given, in the solver's units; error: ErrBudget.
func (a *Answer) WhyMinimal(feature int, work *int64) (*Reason, error) {
	reason, l := a.direct(feature)
	if l < 0 {
		return reason, nil
	}
	return a.why.minimal(l, work)
}

// WhyMostMinimal gives a minimal reason for a Most below the feature's own; nil
// where there is nothing to explain. Work and error as of WhyMinimal.
func (a *Answer) WhyMostMinimal(feature int, work *int64) (*Reason, error) {
	if !a.bounded(feature) {
		return nil, nil //nolint:nilnil // nothing to explain is no error
	}
	return a.why.minimal(a.why.r.on(feature, a.Options[feature].Most+1).Not(), work)
}

// WhyValueMinimal gives a minimal reason why a value of a setting, Settings[i],
// is ruled out or must be; nil for an open one. Work and error as of
// WhyMinimal.
func (a *Answer) WhyValueMinimal(i int, work *int64) (*Reason, error) {
	l := a.decided(i)
	if l < 0 {
		return nil, nil //nolint:nilnil // nothing to explain is no error
	}
	return a.why.minimal(l, work)
}

// AsideMinimal gives a minimal reason why choice PutAside[i] does not fit with
// the choices before it. Work and error as of WhyMinimal.
func (a *Answer) AsideMinimal(i int, work *int64) (*Reason, error) {
	e, aside := a.why, a.PutAside[i].Choice
	q := e.r.room(e.choices)
	defer q.end()
	budget := min(resolveBudget, max(*work, 0))
	q.s.SetBudget(budget)
	clash, err := q.clashBefore(aside)
	*work -= budget - q.s.Budget()
	if err != nil || clash == nil {
		return nil, err
	}
	return e.r.shrink(e.choices, clash, q.lits, work)
}

// clashBefore takes the choices before choice i and gives what it clashes with.
func (q *question) clashBefore(i int) ([]member, error) {
	if err := q.lack(); err != nil {
		return nil, err
	}
	for c := range i {
		if err := q.takeOne(c); err != nil {
			return nil, err
		}
	}
	return q.clash(i)
}

// clash assumes choice i and gives what it clashes with, nil when it fits.
func (q *question) clash(i int) ([]member, error) {
	if err := q.literals(q.choices[i]); err != nil {
		return nil, err
	}
	for _, l := range q.lits {
		err := q.assume(l, i, -1)
		if errors.Is(err, errNo) {
			e := explanation{r: q.r, choices: q.choices, assumed: q.assumed, trace: q.s.Trace()}
			return e.list(l.Not(), i), nil
		}
		if err != nil {
			return nil, err
		}
	}
	return nil, nil
}

// list is members as a list, never nil.
func (e *explanation) list(l sat.Lit, except int) []member {
	out := make([]member, 0, 16)
	e.members(l, except, func(m member) { out = append(out, m) })
	return out
}

// minimal shrinks what a literal on the trail rests on.
func (e *explanation) minimal(l sat.Lit, work *int64) (*Reason, error) {
	return e.r.shrink(e.choices, e.list(l, -1), []sat.Lit{l.Not()}, work)
}

// shrink gives a minimal reason out of members that contradict hard, literals
// that are taken as true whatever is switched off. It pays from work.
func (r *Rules) shrink(choices []Choice, members []member, hard []sat.Lit, work *int64) (*Reason, error) {
	if *work <= 0 {
		return nil, ErrBudget
	}
	// Causes first, then choices as they were said: those early in the list
	// are kept before those late in it.
	slices.SortStableFunc(members, func(a, b member) int { return int(a.choice - b.choice) })
	f := few{r: r, choices: choices, members: members, hard: hard, local: make(map[int]int, 8*len(members))}
	kept, err := f.shrink(work)
	if err != nil {
		return nil, err
	}
	return f.tell(kept), nil
}

// few is a solver over only what some members say.
type few struct {
	r       *Rules
	choices []Choice
	members []member
	hard    []sat.Lit

	local   map[int]int // by variable of the rules: the one in here
	vars    []int       // the other way
	clauses sat.Clauses
	on      []sat.Lit // by member: its switch
}

// literal is a literal of the rules in here.
func (f *few) literal(l sat.Lit) sat.Lit {
	v, ok := f.local[l.Var()]
	if !ok {
		v = f.clauses.NewVar()
		f.local[l.Var()] = v
		f.vars = append(f.vars, l.Var())
	}
	if l.Positive() {
		return sat.Pos(v)
	}
	return sat.Pos(v).Not()
}

// build writes the members' clauses, each with the switch of its member.
func (f *few) build() {
	for range f.members {
		f.on = append(f.on, sat.Pos(f.clauses.NewVar()))
		f.vars = append(f.vars, -1)
	}
	var room [8]sat.Lit
	for k, m := range f.members {
		for _, lits := range f.says(m) {
			clause := append(room[:0], f.on[k].Not())
			for _, l := range lits {
				clause = append(clause, f.literal(l))
			}
			f.clauses.Add(0, clause...)
		}
	}
	for _, l := range f.hard {
		f.clauses.Add(0, f.literal(l))
	}
	for _, v := range f.vars {
		if v >= 0 && v < len(f.r.featureOf) { // groups name one of it only
			f.literal(sat.Pos(f.r.first[f.r.featureOf[v]]))
		}
	}
	f.groups()
	f.meaning()
}

// says gives the clauses of a member, but for its at-most-one groups.
func (f *few) says(m member) [][]sat.Lit {
	var out [][]sat.Lit
	switch {
	case m.choice >= 0:
		lits, _ := f.r.literals(f.choices[m.choice], nil) // it was taken before
		for _, l := range lits {
			out = append(out, []sat.Lit{l})
		}
	case m.notSold >= 0:
		out = append(out, []sat.Lit{f.r.on(int(m.notSold), 1).Not()})
	default:
		for _, i := range f.r.parts.clauses[m.cause] {
			out = append(out, f.r.clauses.Clause(int(i)))
		}
	}
	return out
}

// pairs gives the at-most-one groups of a member as two-literal clauses, as far
// as both of a pair are named by something else: what only the group names can
// be off without anything lost.
func (f *few) pairs(m member, yield func(a, b sat.Lit)) {
	if m.choice >= 0 || m.notSold >= 0 {
		return
	}
	for _, g := range f.r.parts.groups[m.cause] {
		var named []sat.Lit
		for _, l := range f.r.clauses.Group(int(g)) {
			if _, ok := f.local[l.Var()]; ok {
				named = append(named, l)
			}
		}
		for i, a := range named {
			for _, b := range named[:i] {
				yield(a.Not(), b.Not())
			}
		}
	}
}

func (f *few) groups() {
	for k, m := range f.members {
		f.pairs(m, func(a, b sat.Lit) {
			f.clauses.Add(0, f.on[k].Not(), f.literal(a), f.literal(b))
		})
	}
}

// meaning adds what holds without being told: two of a feature are at least
// one of it, and what is fitted is fitted.
func (f *few) meaning() {
	vars := slices.Clone(f.vars)
	slices.Sort(vars)
	for i, v := range vars {
		switch {
		case v < 0 || v >= f.r.helpers:
		case v >= f.r.asked:
			l := sat.Pos(v)
			if !f.r.keeps(f.choices, int(f.r.parts.fits[v-f.r.asked])) {
				l = l.Not()
			}
			f.clauses.Add(0, f.literal(l))
		case i > 0 && vars[i-1] >= 0 && v < len(f.r.featureOf) && f.r.featureOf[vars[i-1]] == f.r.featureOf[v]:
			f.clauses.Add(0, f.literal(sat.Pos(v).Not()), f.literal(sat.Pos(vars[i-1])))
		}
	}
}

// keeps says whether the van has and keeps as many of a feature as its
// variable v says.
func (r *Rules) keeps(choices []Choice, v int) bool {
	i := r.featureOf[v]
	n := v - r.first[i] + r.model.Features[i].Least
	return slices.ContainsFunc(choices, func(c Choice) bool {
		return c.Source == FromFitted && c.Feature == r.model.Features[i].Code && count(c) >= n
	})
}

// shrink gives the members kept, by place, in their order. It pays from work.
func (f *few) shrink(work *int64) ([]int, error) {
	f.build()
	f.clauses.Freeze()
	budget := min(minimalBudget, *work)
	s, out := sat.NewSolver(&f.clauses, budget)
	switch out {
	case sat.No:
		return nil, nil // it is so by meaning alone
	case sat.Spent:
		*work -= budget
		return nil, ErrBudget
	}
	defer func() { *work -= budget - s.Budget() }()
	all := make([]int, len(f.members))
	for i := range all {
		all[i] = i
	}
	var used []sat.Lit
	kept, err := needed(all, func(members []int) (int, func(int) bool, error) {
		s.Back(0)
		last, err := f.switchOn(s, members)
		if err != nil || last < 0 {
			return last, nil, err
		}
		used = s.Assumptions(f.on[members[last]].Not(), used[:0])
		return last, func(k int) bool { return slices.Contains(used, f.on[k]) }, nil
	})
	slices.Sort(kept)
	return kept, err
}

// needed gives of members that contradict together some that do, of which none
// can be left out; those early in the list are kept before later ones. Try
// takes members one after another: it gives the place of the first that
// contradicts those before it, and which of them it took for that, or -1.
func needed(members []int, try func([]int) (last int, used func(int) bool, err error)) ([]int, error) {
	kept, rest := 0, slices.Clone(members) // rest begins with those kept
	for {
		last, used, err := try(rest)
		if err != nil {
			return nil, err
		}
		if last < 0 {
			return nil, errNotAReason
		}
		if last < kept {
			return rest[:kept], nil
		}
		next := append(slices.Clone(rest[:kept]), rest[last])
		for _, m := range rest[kept:last] {
			if used(m) {
				next = append(next, m)
			}
		}
		kept, rest = kept+1, next
	}
}

// errNotAReason says that what should contradict does not: a fault in here.
var errNotAReason = errors.New("options: a reason does not make its standing follow")

// switchOn switches members on until one cannot be: its place in the list, -1
// if all can.
func (f *few) switchOn(s *sat.Solver, members []int) (int, error) {
	for i, k := range members {
		switch s.Assume(f.on[k]) {
		case sat.No:
			return i, nil
		case sat.Spent:
			return -1, ErrBudget
		}
	}
	return -1, nil
}

// tell puts the members kept in the order in which a person would reason: what
// was said, then cause by cause what follows from it; what bears only on the
// opposite of the standing comes after that.
func (f *few) tell(kept []int) *Reason {
	reason := &Reason{}
	set := make(map[sat.Lit]bool)
	var causes []int
	for _, k := range kept {
		switch m := f.members[k]; {
		case m.choice >= 0:
			reason.Choices = append(reason.Choices, int(m.choice))
			for _, lits := range f.says(m) {
				f.assign(set, lits[0])
			}
		default:
			causes = append(causes, k)
		}
	}
	var order []int
	follow := func() {
		for again := true; again; {
			again = false
			for _, k := range causes {
				if !f.follows(set, f.members[k]) {
					continue
				}
				if !slices.Contains(order, k) {
					order = append(order, k)
				}
				again = true
			}
		}
	}
	follow()
	for _, l := range f.hard {
		f.assign(set, l)
	}
	follow()
	for _, k := range causes {
		if !slices.Contains(order, k) {
			order = append(order, k)
		}
	}
	for _, k := range order {
		reason.Causes = append(reason.Causes, f.r.causeOf(f.members[k]))
	}
	return reason
}

// assign sets a literal, and the fewer of a counted feature with the more.
func (f *few) assign(set map[sat.Lit]bool, l sat.Lit) {
	set[l] = true
	v := l.Var()
	if v >= len(f.r.featureOf) {
		return
	}
	step := 1
	if l.Positive() {
		step = -1
	}
	for v += step; v >= 0 && v < len(f.r.featureOf) && f.r.featureOf[v] == f.r.featureOf[l.Var()]; v += step {
		more := sat.Pos(v)
		if !l.Positive() {
			more = more.Not()
		}
		set[more] = true
	}
}

// follows sets what a member forces that is not set yet, and says whether
// there was anything.
func (f *few) follows(set map[sat.Lit]bool, m member) bool {
	forced := false
	force := func(lits ...sat.Lit) {
		var open sat.Lit = -1
		for _, l := range lits {
			switch {
			case set[l], f.r.isFitted(l) && f.r.keeps(f.choices, int(f.r.parts.fits[l.Var()-f.r.asked])):
				return
			case set[l.Not()], f.r.isFitted(l):
			case open >= 0:
				return
			default:
				open = l
			}
		}
		if open >= 0 {
			f.assign(set, open)
			forced = true
		}
	}
	for _, lits := range f.says(m) {
		force(lits...)
	}
	f.pairs(m, func(a, b sat.Lit) { force(a, b) })
	return forced
}

// isFitted says whether a literal is that something is fitted and kept.
func (r *Rules) isFitted(l sat.Lit) bool {
	return l.Positive() && l.Var() >= r.asked && l.Var() < r.helpers
}

// causeOf tells a member that is not a choice.
func (r *Rules) causeOf(m member) Cause {
	if m.notSold < 0 {
		return r.causes[m.cause]
	}
	return Cause{
		Kind: ByVan, Index: int(m.notSold),
		Says: r.model.Features[m.notSold].Name + " can only be there when the van came with it.",
	}
}
