package sat

import "slices"

// Step is one thing a literal rests on: an assumption, or a clause or group by
// its cause.
type Step struct {
	// Assumed is the assumed literal, or -1 for a cause.
	Assumed Lit
	Cause   Cause
}

// Trace is a snapshot of why everything on the trail holds, to be asked later,
// when the solver has moved on.
type Trace struct {
	c       *Clauses
	trail   []Lit
	place   []int32 // by variable: its place on the trail, -1 unset
	reason  []ref
	learned []learnedClause
}

// Assumptions appends to out the assumed literals that l, which is set, rests
// on. It is a Trace's Why for one question, with nothing kept.
func (s *Solver) Assumptions(l Lit, out []Lit) []Lit {
	seen := s.scratch.seen
	seen[l.Var()] = true
	want := func(x Lit) { seen[x.Var()] = true }
	for _, x := range slices.Backward(s.trail) {
		v := x.Var()
		if !seen[v] {
			continue
		}
		seen[v] = false
		if why := s.reason[v]; why.at == none {
			out = append(out, x)
		} else {
			s.falseBeside(x, why, want)
		}
	}
	return out
}

// Trace keeps why everything now set is set.
func (s *Solver) Trace() *Trace {
	t := &Trace{
		c:       s.c,
		trail:   append([]Lit(nil), s.trail...),
		place:   make([]int32, s.c.vars),
		reason:  make([]ref, len(s.trail)),
		learned: s.learned,
	}
	for i := range t.place {
		t.place[i] = -1
	}
	for i, l := range s.trail {
		t.place[l.Var()] = int32(i)
		t.reason[i] = s.reason[l.Var()]
	}
	return t
}

// Holds says whether l was set true.
func (t *Trace) Holds(l Lit) bool {
	p := t.place[l.Var()]
	return p >= 0 && t.trail[p] == l
}

// Place is where on the trail the literal's variable was set, counting from 0;
// -1 for one that is not set.
func (t *Trace) Place(l Lit) int { return int(t.place[l.Var()]) }

// Why gives what the literal on the trail rests on, assumptions and causes in
// the order in which they came to bear, each once. The literal must be set.
func (t *Trace) Why(l Lit) []Step {
	// What a literal rests on came before it on the trail, so that one way
	// down the trail finds everything and one way up tells it in order.
	from := t.place[l.Var()]
	var room [1024]bool // most trails are shorter, and this is on the stack
	need := room[:]     // places on the trail
	if int(from) >= len(room) {
		need = make([]bool, from+1)
	}
	need = need[:from+1]
	need[from] = true
	want := func(x Lit) {
		if p := t.place[x.Var()]; p >= 0 {
			need[p] = true
		}
	}
	for p := from; p >= 0; p-- {
		if need[p] {
			t.rests(t.trail[p], t.reason[p], want)
		}
	}
	var steps []Step
	say := func(c Cause) {
		for i := range steps { // a reason is short: some ten steps
			if steps[i].Cause == c {
				return
			}
		}
		steps = append(steps, Step{Assumed: -1, Cause: c})
	}
	for p, needed := range need {
		switch {
		case !needed:
		case t.reason[p].at == none:
			steps = append(steps, Step{Assumed: t.trail[p], Cause: -1})
		default:
			t.causes(t.reason[p], say)
		}
	}
	return steps
}

// rests calls want for the literals that made l so.
func (t *Trace) rests(l Lit, why ref, want func(Lit)) {
	n := int32(t.c.Len())
	lits := []Lit(nil)
	switch {
	case why.at == none:
	case why.at < none:
		want(why.other)
	case why.at < n:
		lits = t.c.Clause(int(why.at))
	default:
		lits = t.learned[why.at-n].lits
	}
	for _, x := range lits {
		if x != l {
			want(x)
		}
	}
}

// causes calls by for what the clause or group that made a literal so comes
// from.
func (t *Trace) causes(why ref, by func(Cause)) {
	switch n := int32(t.c.Len()); {
	case why.at == none:
	case why.at < none:
		by(t.c.groupCause[groupRef(why.at)])
	case why.at < n:
		by(t.c.cause[why.at])
	default:
		t.derivation(t.learned[why.at-n], map[int32]bool{}, by)
	}
}

// derivation calls by for the causes of the given clauses a learned one was
// derived from.
func (t *Trace) derivation(k learnedClause, done map[int32]bool, by func(Cause)) {
	n := int32(t.c.Len())
	for _, f := range k.from {
		if done[f.at] {
			continue
		}
		done[f.at] = true
		switch {
		case f.at < none:
			by(t.c.groupCause[groupRef(f.at)])
		case f.at == none:
		case f.at < n:
			by(t.c.cause[f.at])
		default:
			t.derivation(t.learned[f.at-n], done, by)
		}
	}
}
