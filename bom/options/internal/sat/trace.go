package sat

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

// Why gives what the literal on the trail rests on, assumptions and causes in
// the order in which they came to bear, each once. The literal must be set.
func (t *Trace) Why(l Lit) []Step {
	need := map[int32]bool{} // places on the trail
	causes := map[int32][]Cause{}
	todo := []int32{t.place[l.Var()]}
	need[todo[0]] = true
	want := func(x Lit) {
		if p := t.place[x.Var()]; p >= 0 && !need[p] {
			need[p] = true
			todo = append(todo, p)
		}
	}
	for len(todo) > 0 {
		p := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		t.rests(t.trail[p], t.reason[p], want, func(c Cause) {
			causes[p] = append(causes[p], c)
		})
	}
	var steps []Step
	said := map[Cause]bool{}
	for p := int32(0); int(p) < len(t.trail); p++ {
		if !need[p] {
			continue
		}
		if t.reason[p].at == none {
			steps = append(steps, Step{Assumed: t.trail[p], Cause: -1})
		}
		for _, c := range causes[p] {
			if !said[c] {
				said[c] = true
				steps = append(steps, Step{Assumed: -1, Cause: c})
			}
		}
	}
	return steps
}

// rests calls want for the literals and by for the causes that made l so.
func (t *Trace) rests(l Lit, why ref, want func(Lit), by func(Cause)) {
	n := int32(t.c.Len())
	switch {
	case why.at == none:
	case why.at < none:
		want(why.other)
		by(t.c.groupCause[groupRef(why.at)])
	case why.at < n:
		for _, x := range t.c.Clause(int(why.at)) {
			if x != l {
				want(x)
			}
		}
		by(t.c.cause[why.at])
	default:
		k := t.learned[why.at-n]
		for _, x := range k.lits {
			if x != l {
				want(x)
			}
		}
		done := map[int32]bool{}
		t.derivation(k, done, by)
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
