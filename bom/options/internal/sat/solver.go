package sat

// ref says why a literal was set: by a clause, by a group, or by nothing (it
// was assumed or tried).
type ref struct {
	// at is the clause's number, learned ones counted on after the given ones;
	// groupRef(g) for a group; none for an assumed or tried literal.
	at int32
	// other is the false literal beside the one set, for two-literal clauses
	// and groups, where looking it up would cost more than carrying it.
	other Lit
}

const none = -1

func groupRef(g int32) int32 { return -2 - g }

// watch is a clause that watches a literal, with one other of its literals:
// while that one is true the clause need not be looked at.
type watch struct {
	clause  int32
	blocker Lit
}

// Solver answers questions over one set of clauses. It is not safe for
// concurrent use; a pool of them shares the clauses.
type Solver struct {
	c *Clauses

	val    []int8 // by literal: 1 true, -1 false, 0 not set
	level  []int32
	reason []ref
	trail  []Lit
	head   int     // trail up to here has been propagated
	levels []int32 // length of the trail where each level begins

	lits    []Lit // all clauses, a long one's watched literals moved to the front
	watches [][]watch
	learned []learnedClause
	// Rooms for what is learned next.
	litRoom  []Lit
	fromRoom []ref

	// start is the state every round of questions begins in; nil in the
	// solver that is such a state itself.
	start *Solver

	// model is a whole assignment that keeps every clause and the assumptions.
	model []int8 // by literal: 1 or -1
	// shown has, by literal, whether some model of the assumptions has it.
	shown []bool

	// support has, by long clause in the order of c.long, two of its literals
	// that are true in the model (twice the same where there is only one), so
	// that most clauses need one look. It is for the model as Forget found it.
	support   [][2]Lit
	supported bool

	// scan is how far the trail has been looked over for clauses that lost
	// their last true literal; scans keeps it by level.
	scan  int
	scans []int32

	budget  int64 // work left: literals propagated, clauses visited, literals analysed
	scratch analysis
}

// learnedClause was derived from others.
type learnedClause struct {
	lits []Lit
	from []ref // what it was derived from
}

// NewSolver makes a solver over frozen clauses, with a model found, or says
// that the clauses cannot all hold or that the budget was spent looking.
func NewSolver(c *Clauses, budget int64) (*Solver, Outcome) {
	s := &Solver{
		c:       c,
		val:     make([]int8, 2*c.vars),
		level:   make([]int32, c.vars),
		reason:  make([]ref, c.vars),
		lits:    append([]Lit(nil), c.lits...),
		watches: make([][]watch, 2*c.vars),
		model:   make([]int8, 2*c.vars),
		shown:   make([]bool, 2*c.vars),
		trail:   make([]Lit, 0, c.vars),
		budget:  budget,
	}
	s.scratch.seen = make([]bool, c.vars)
	for i := range s.watches {
		// Room for the watches a literal starts with and some to move in.
		s.watches[i] = make([]watch, 0, len(c.occurs.of(i))+2)
	}
	for _, i := range c.long {
		lits := c.Clause(int(i))
		s.watch(i, lits[0], lits[1])
	}
	if c.empty {
		return nil, No
	}
	for _, i := range c.units {
		l := c.Clause(int(i))[0]
		if s.val[l] < 0 {
			return nil, No
		}
		if s.val[l] == 0 {
			s.set(l, ref{at: i})
		}
	}
	if s.propagate() {
		return nil, No
	}
	return s.first()
}

// Begin gives a solver that starts from this one's state at level 0. Neither
// may be changed by questions to the other: s must be asked nothing more.
func (s *Solver) Begin() *Solver {
	n := &Solver{
		c:       s.c,
		start:   s,
		val:     make([]int8, len(s.val)),
		level:   make([]int32, len(s.level)),
		reason:  make([]ref, len(s.reason)),
		trail:   make([]Lit, 0, s.c.vars),
		levels:  make([]int32, 0, 64),
		scans:   make([]int32, 0, 64),
		lits:    make([]Lit, len(s.lits)),
		watches: make([][]watch, len(s.watches)),
		model:   make([]int8, len(s.model)),
		shown:   make([]bool, len(s.shown)),
	}
	n.support = make([][2]Lit, len(s.c.long))
	n.scratch.seen = make([]bool, s.c.vars)
	for i, ws := range s.watches {
		n.watches[i] = make([]watch, 0, len(ws)+2)
	}
	n.Reset()
	return n
}

// Reset goes back to the state Begin was called on. What was learned is
// dropped with the rest, watches go back to their places: the same questions
// then give the same derivations, not only the same answers.
func (s *Solver) Reset() {
	o := s.start
	copy(s.val, o.val)
	copy(s.level, o.level)
	copy(s.reason, o.reason)
	s.trail = append(s.trail[:0], o.trail...)
	s.levels, s.scans, s.scan = s.levels[:0], s.scans[:0], 0
	s.head = len(s.trail)
	copy(s.lits, o.lits)
	for i, ws := range o.watches {
		s.watches[i] = append(s.watches[i][:0], ws...)
	}
	s.learned = nil // not truncated: a Trace may still hold it
	for _, k := range o.learned {
		s.learned = append(s.learned, s.keep(k.lits, nil))
		s.learned[len(s.learned)-1].from = k.from
	}
	copy(s.model, o.model)
	clear(s.shown)
	s.supported = false
}

func (s *Solver) watch(clause int32, a, b Lit) {
	s.watches[a] = append(s.watches[a], watch{clause, b})
	s.watches[b] = append(s.watches[b], watch{clause, a})
}

// clause gives the literals of a given or learned clause as they stand now.
func (s *Solver) clause(at int32) []Lit {
	if n := int32(s.c.Len()); at >= n {
		return s.learned[at-n].lits
	}
	return s.lits[s.c.start[at]:s.c.start[at+1]]
}

// Value says whether a literal is set: 1 true, -1 false, 0 open.
func (s *Solver) Value(l Lit) int { return int(s.val[l]) }

// Depth is the number of levels: assumptions taken.
func (s *Solver) Depth() int { return len(s.levels) }

func (s *Solver) set(l Lit, why ref) {
	v := l.Var()
	s.val[l], s.val[l^1] = 1, -1
	s.level[v] = int32(len(s.levels))
	s.reason[v] = why
	s.trail = append(s.trail, l)
}

func (s *Solver) open() {
	s.levels = append(s.levels, int32(len(s.trail)))
	s.scans = append(s.scans, int32(s.scan))
}

// Back undoes everything above level n.
func (s *Solver) Back(n int) {
	if n >= len(s.levels) {
		return
	}
	to := s.levels[n]
	for _, l := range s.trail[to:] {
		s.val[l], s.val[l^1] = 0, 0
	}
	s.trail = s.trail[:to]
	s.scan = int(s.scans[n])
	s.levels = s.levels[:n]
	s.scans = s.scans[:n]
	s.head = len(s.trail)
}

// propagate sets all that follows from what is set. It reports a conflict,
// leaving its clause in the scratch.
func (s *Solver) propagate() bool {
	begin := s.head
	for s.head < len(s.trail) {
		l := s.trail[s.head]
		s.head++
		for _, im := range s.c.bin.of(int(l)) {
			switch s.val[im.lit] {
			case 0:
				s.set(im.lit, ref{im.clause, l.Not()})
			case -1:
				s.conflict(ref{im.clause, im.lit}, l.Not(), im.lit)
				return true
			}
		}
		if l.Positive() {
			for _, g := range s.c.inGroup.of(l.Var()) {
				for _, m := range s.c.groups[g] {
					if m == l {
						continue
					}
					switch s.val[m] {
					case 0:
						s.set(m.Not(), ref{groupRef(g), l.Not()})
					case 1:
						s.conflict(ref{groupRef(g), l.Not()}, l.Not(), m.Not())
						return true
					}
				}
			}
		}
		if s.visit(l.Not()) {
			return true
		}
	}
	s.budget -= int64(len(s.trail) - begin)
	return false
}

// visit looks at the long clauses that watch a literal which became false.
func (s *Solver) visit(lost Lit) bool {
	ws := s.watches[lost]
	s.budget -= int64(len(ws))
	keep := 0
	for i, w := range ws {
		if s.val[w.blocker] > 0 {
			ws[keep] = w
			keep++
			continue
		}
		lits := s.clause(w.clause)
		if lits[0] == lost {
			lits[0], lits[1] = lits[1], lost
		}
		first := lits[0]
		if s.val[first] > 0 {
			ws[keep] = watch{w.clause, first}
			keep++
			continue
		}
		moved := false
		for k := 2; k < len(lits); k++ {
			if s.val[lits[k]] >= 0 {
				lits[1], lits[k] = lits[k], lost
				s.watches[lits[1]] = append(s.watches[lits[1]], watch{w.clause, first})
				moved = true
				break
			}
		}
		if moved {
			continue
		}
		ws[keep] = watch{w.clause, first}
		keep++
		if s.val[first] < 0 {
			keep += copy(ws[keep:], ws[i+1:])
			s.watches[lost] = ws[:keep]
			s.conflict(ref{w.clause, none}, lits...)
			return true
		}
		s.set(first, ref{w.clause, none})
	}
	s.watches[lost] = ws[:keep]
	return false
}

func (s *Solver) conflict(why ref, lits ...Lit) {
	s.scratch.clash = append(s.scratch.clash[:0], lits...)
	s.scratch.clashRef = why
	s.head = len(s.trail)
}

// falseBeside calls yield for every false literal that, by why, made l true.
func (s *Solver) falseBeside(l Lit, why ref, yield func(Lit)) {
	switch {
	case why.at == none:
	case why.at < none, s.isPair(why.at):
		yield(why.other)
	default:
		for _, x := range s.clause(why.at) {
			if x != l {
				yield(x)
			}
		}
	}
}

// isPair says whether a given clause has two literals (its other one is in the ref).
func (s *Solver) isPair(at int32) bool {
	return at < int32(s.c.Len()) && s.c.start[at+1]-s.c.start[at] == 2
}
