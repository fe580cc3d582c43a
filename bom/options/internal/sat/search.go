package sat

// Outcome of a question.
type Outcome uint8

// The outcomes; zero is invalid.
const (
	Yes   Outcome = iota + 1 // there is a model with it
	No                       // there is none, by derivation
	Spent                    // the work budget ended first
)

// analysis is room that conflict analysis uses again and again.
type analysis struct {
	clash    []Lit
	clashRef ref
	seen     []bool
	clear    []int
	lits     []Lit
	from     []ref
}

// SetBudget gives the work that questions may take from now on: literals
// propagated, clauses visited and literals analysed, some nanoseconds each.
func (s *Solver) SetBudget(n int64) { s.budget = n }

// Assume takes l as true on a level of its own, if that can be: Yes, and the
// level stays until Back; No leaves everything as it was, and l is then false
// on the trail, with a trace. A literal already set opens no level. What was
// shown before is not known to hold any more: call Forget.
func (s *Solver) Assume(l Lit) Outcome {
	switch s.val[l] {
	case 1:
		return Yes
	case -1:
		return No
	}
	if s.model[l] < 0 {
		if out := s.probe(l, true); out != Yes {
			return out
		}
		if s.val[l] > 0 { // learned on the way
			return Yes
		}
	}
	s.open()
	s.set(l, ref{at: none})
	s.propagate() // cannot fail: the model has l
	return Yes
}

// Take assumes l by propagation alone, without asking for a model; it is what
// the incomplete floor does. It reports a conflict, which leaves the level open.
func (s *Solver) Take(l Lit) bool {
	s.open()
	if s.val[l] < 0 {
		return false
	}
	if s.val[l] == 0 {
		s.set(l, ref{at: none})
	}
	return !s.propagate()
}

// Probe asks whether some model of the assumptions has l. It leaves the
// assumptions as they were; after No, l is false on the trail.
func (s *Solver) Probe(l Lit) Outcome {
	switch {
	case s.val[l] > 0 || s.shown[l] || s.model[l] > 0 && s.val[l] == 0:
		return Yes
	case s.val[l] < 0:
		return No
	}
	return s.probe(l, false)
}

// Shown says whether a model of the assumptions with l has been met since
// Forget.
func (s *Solver) Shown(l Lit) bool { return s.shown[l] }

// Forget starts collecting anew what models show; it is called when the
// assumptions change. The kept model must be one of the new assumptions.
func (s *Solver) Forget() {
	for i := range s.shown {
		s.shown[i] = s.model[i] > 0
	}
	if s.supported || s.support == nil {
		return
	}
	for k, i := range s.c.long {
		var pair [2]Lit
		found := 0
		for _, l := range s.c.Clause(int(i)) {
			if s.model[l] > 0 {
				if found == 0 {
					pair[1] = l
				}
				pair[found] = l
				if found++; found == 2 {
					break
				}
			}
		}
		s.support[k] = pair
	}
	s.supported = true
}

// ForgetAll is Forget for a few questions: it keeps nothing at hand, not even
// what the kept model shows, which Probe then looks up.
func (s *Solver) ForgetAll() {
	clear(s.shown)
	s.supported = false
}

// probe tries l above the assumptions. With keep the model found replaces the
// one kept.
func (s *Solver) probe(l Lit, keep bool) Outcome {
	base := len(s.levels)
	from := len(s.trail)
	for {
		if s.budget < 0 {
			return Spent
		}
		s.scan = from
		s.open()
		s.set(l, ref{at: none})
		for len(s.levels) > base {
			if s.propagate() {
				if s.budget < 0 {
					s.Back(base)
					return Spent
				}
				s.learn(base)
				continue
			}
			try := s.broken(false)
			if try == none {
				s.witness(from, keep)
				s.Back(base)
				return Yes
			}
			s.open()
			s.set(try, ref{at: none})
		}
		// A literal was learned under the assumptions themselves.
		if s.propagate() {
			panic("sat: assumptions with a model came to a conflict")
		}
		if s.val[l] != 0 {
			if s.val[l] > 0 {
				return Yes
			}
			return No
		}
		from = len(s.trail)
	}
}

// first looks for any model at all, from everything false.
func (s *Solver) first() (*Solver, Outcome) {
	for v := range s.c.vars {
		s.model[Pos(v)], s.model[Pos(v).Not()] = -1, 1
	}
	s.scan = 0
	for {
		if s.budget < 0 {
			return nil, Spent
		}
		if s.propagate() {
			if len(s.levels) == 0 {
				return nil, No
			}
			s.learn(0)
			continue
		}
		try := s.broken(true)
		if try == none {
			break
		}
		s.open()
		s.set(try, ref{at: none})
	}
	s.witness(0, true)
	s.Back(0)
	s.scan = 0
	s.Forget()
	return s, Yes
}

// broken looks for a clause that the assignment laid over the model leaves
// without a true literal, and gives a literal that would mend it; none if
// there is no such clause, so that the overlay is a model.
//
// Pairs and groups cannot be broken once propagated. With all, every clause is
// looked at, in order (the model is not one yet); else only those that had a
// literal which the trail turned from true in the model to false.
func (s *Solver) broken(all bool) Lit {
	if all {
		// A clause passed over may have been broken since, so that only a
		// whole round without finding one says there is none.
		for range s.c.Len() {
			if s.scan >= s.c.Len() {
				s.scan = 0
			}
			if l := s.mend(s.c.Clause(s.scan)); l != none {
				return l
			}
			s.scan++
		}
		return none
	}
	for ; s.scan < len(s.trail); s.scan++ {
		lost := s.trail[s.scan].Not()
		if s.model[lost] < 0 {
			continue
		}
		for _, k := range s.c.occurs.of(int(lost)) {
			if s.supported {
				pair := &s.support[k]
				if s.val[pair[0]] >= 0 || s.val[pair[1]] >= 0 {
					continue
				}
			}
			if l := s.mend(s.c.Clause(int(s.c.long[k]))); l != none {
				return l
			}
		}
	}
	return none
}

// mend gives none for a clause with a true literal, else one still unset.
func (s *Solver) mend(lits []Lit) Lit {
	var open Lit = none
	for _, l := range lits {
		switch v := s.val[l]; {
		case v > 0, v == 0 && s.model[l] > 0:
			return none
		case v == 0 && (open == none || s.lighter(l, open)):
			open = l
		}
	}
	return open
}

// lighter says whether turning a is likely to break less than turning b: fewer
// clauses lose a literal, and less so where it answers a question still open.
func (s *Solver) lighter(a, b Lit) bool {
	x, y := len(s.c.occurs.of(int(a.Not()))), len(s.c.occurs.of(int(b.Not())))
	if s.shown[a] {
		x += 3
	}
	if s.shown[b] {
		y += 3
	}
	return x < y
}

// witness notes what the model found shows: the trail beyond from, laid over
// the kept model.
func (s *Solver) witness(from int, keep bool) {
	for _, l := range s.trail[from:] {
		s.shown[l] = true
		if keep {
			s.model[l], s.model[l^1] = 1, -1
			s.supported = false
		}
	}
}

// keep copies what was learned into rooms that many share. A room is never
// used again: a Trace may still hold what is in it.
func (s *Solver) keep(lits []Lit, from []ref) learnedClause {
	if cap(s.litRoom)-len(s.litRoom) < len(lits) {
		s.litRoom = make([]Lit, 0, max(len(lits), min(2*cap(s.litRoom)+firstRoom, mostRoom)))
	}
	if cap(s.fromRoom)-len(s.fromRoom) < len(from) {
		s.fromRoom = make([]ref, 0, max(len(from), min(2*cap(s.fromRoom)+firstRoom, mostRoom)))
	}
	l, f := len(s.litRoom), len(s.fromRoom)
	s.litRoom, s.fromRoom = append(s.litRoom, lits...), append(s.fromRoom, from...)
	return learnedClause{s.litRoom[l:len(s.litRoom):len(s.litRoom)], s.fromRoom[f:len(s.fromRoom):len(s.fromRoom)]}
}

// How many literals share a room: few at first, for small solvers are many.
const (
	firstRoom = 30
	mostRoom  = 1_000
)

// learn derives a clause from the conflict in the scratch, goes back to where
// it forces a literal, but not below base, and sets that literal.
func (s *Solver) learn(base int) {
	a := &s.scratch
	a.lits = append(a.lits[:0], 0)
	a.from = append(a.from[:0], a.clashRef)
	top := int32(len(s.levels))
	open := 0
	note := func(l Lit) {
		v := l.Var()
		if a.seen[v] {
			return
		}
		a.seen[v] = true
		a.clear = append(a.clear, v)
		if s.level[v] == top {
			open++
		} else {
			a.lits = append(a.lits, l)
		}
	}
	for _, l := range a.clash {
		note(l)
	}
	at := len(s.trail) - 1
	for {
		for !a.seen[s.trail[at].Var()] {
			at--
		}
		l := s.trail[at]
		at--
		open--
		if open == 0 {
			a.lits[0] = l.Not()
			break
		}
		why := s.reason[l.Var()]
		s.budget -= 8
		a.from = append(a.from, why)
		s.falseBeside(l, why, note)
	}
	for _, v := range a.clear {
		a.seen[v] = false
	}
	a.clear = a.clear[:0]

	back := base
	for i := 1; i < len(a.lits); i++ {
		if lv := int(s.level[a.lits[i].Var()]); lv > back {
			back = lv
		}
	}
	s.Back(back)
	kept := s.keep(a.lits, a.from)
	// Watch the literal that is now forced and one that became false last.
	if n := len(kept.lits); n > 1 {
		late := 1
		for i := 2; i < n; i++ {
			if s.level[kept.lits[i].Var()] > s.level[kept.lits[late].Var()] {
				late = i
			}
		}
		kept.lits[1], kept.lits[late] = kept.lits[late], kept.lits[1]
	}
	id := int32(s.c.Len() + len(s.learned))
	s.learned = append(s.learned, kept)
	if len(kept.lits) > 1 {
		s.watch(id, kept.lits[0], kept.lits[1])
	}
	s.set(kept.lits[0], ref{at: id, other: none})
}
