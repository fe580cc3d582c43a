package options

import (
	"errors"
	"slices"

	"wainscot/bom/formula"
	"wainscot/bom/options/internal/sat"
)

// Claim is something sworn by: whenever If holds, Holds does.
type Claim struct{ If, Holds formula.Condition }

// Proving says what is to be proved of the vans of a kind, and with how much
// work.
type Proving struct {
	// Kept is how many of each feature a van of the kind may come with. What
	// is not sold may be there however it came; of it Kept is not asked.
	Kept []int
	// Claims are proved over every van of the kind whatever it comes with.
	Claims []Claim
	// Rules are those of which it is asked whether the others imply them.
	Rules []int
	// Work is the most there is to spend, in the units of the search, some
	// nanoseconds each.
	Work int64
	// Progress is told after each question how many are done of how many;
	// false ends the proof with ErrStopped. It may be nil.
	Progress func(done, of int) bool
}

// ErrStopped says that whoever watched a proof ended it.
var ErrStopped = errors.New("options: the proof was stopped")

// Proved is what a proof of one kind of van came to. Verdicts that the work
// did not suffice for are Undecided.
type Proved struct {
	// CanBeOn says of each feature whether some van of the kind can have it:
	// as it comes, or, of what is not sold, whatever it comes with.
	CanBeOn []Verdict
	// Most is, of each counted feature that can be on, how many there can be;
	// 0 where that was not decided.
	Most []int
	// Offered says of each group whether it is ever offered, Pickable whether
	// any of its features can then be on.
	Offered, Pickable []Verdict
	// Unsettleable says of each group that what it requires keeps its own
	// condition from ever holding: one must be picked and none can.
	Unsettleable []Verdict
	// Possible says of each value of each setting whether it can be.
	Possible [][]Verdict
	// Bites says of each rule whether its condition can hold, the rule itself
	// left out.
	Bites []Verdict
	// Implied are those of Proving.Rules that the other rules make true
	// without them.
	Implied []int
	// Claims has one entry for each of Proving.Claims.
	Claims []ClaimProof
	// Left is the work not spent.
	Left int64
}

// Verdict of a question; zero is invalid.
type Verdict uint8

// The verdicts.
const (
	Yes Verdict = iota + 1
	No
	Undecided // the work ended first
)

// ClaimProof is what the proof of one claim came to.
type ClaimProof struct {
	// Holds over all allowed specifications.
	Holds Verdict
	// Bites says whether its condition can hold at all.
	Bites Verdict
	// Against is, where it does not hold, a set of choices that resolves clean
	// and shows it, none of which can be left out.
	Against []Choice
	// AsItComes: the choices are on a van as it comes.
	AsItComes bool
}

// prover works on one Prove.
type prover struct {
	r    *Rules
	p    *Proving
	out  Proved
	done int
	of   int
}

// Prove answers what Proving asks, by the same complete search as Resolve:
// what it says can be has a specification behind it, what it says cannot be a
// derivation. The same question gives the same answer.
//
// Errors: ErrNothingAllowed where no van of the kind as it comes has an
// allowed specification, ErrBudget where the work did not suffice to find one,
// ErrStopped.
func (r *Rules) Prove(p Proving) (Proved, error) {
	v := &prover{r: r, p: &p, out: Proved{Left: p.Work}}
	m := &r.model
	v.of = 2*len(m.Features) + 2*len(m.Groups) + len(m.Rules) + len(p.Rules) + 2*len(p.Claims)
	for _, step := range []func() error{v.features, v.claims, v.rules, v.implied} {
		if err := step(); err != nil {
			return Proved{}, err
		}
	}
	return v.out, nil
}

// step counts a question answered.
func (v *prover) step() error {
	v.done++
	if v.p.Progress != nil && !v.p.Progress(v.done, max(v.of, v.done)) {
		return ErrStopped
	}
	return nil
}

// asItComes are vans as they come, anything vans whatever they come with.
func (r *Rules) asItComes(kept []int) []int {
	out := make([]int, len(r.model.Features))
	for i, f := range r.model.Features {
		if i < len(kept) {
			out[i] = min(kept[i], f.Most)
		}
		if f.NotSold {
			out[i] = f.Most
		}
	}
	return out
}

func (r *Rules) anything() []int {
	out := make([]int, len(r.model.Features))
	for i, f := range r.model.Features {
		out[i] = f.Most
	}
	return out
}

// scope begins a scope with all the rules and the conditions named.
func (v *prover) scope(m *Model, kept []int, conditions ...formula.Condition) (*scope, []sat.Lit, error) {
	sc := m.newScope(kept, &v.out.Left)
	for i := range m.Rules {
		sc.rule(i)
	}
	lits := make([]sat.Lit, len(conditions))
	for i, c := range conditions {
		lits[i] = sc.literal(c)
	}
	return sc, lits, sc.begin()
}

func verdictOf(v verdict) Verdict {
	switch v {
	case can:
		return Yes
	case cannot:
		return No
	case undecided:
	}
	return Undecided
}

// features asks what features, groups and settings can be on vans as they
// come.
func (v *prover) features() error {
	m := &v.r.model
	var conditions []formula.Condition
	for g := range m.Groups {
		some := make([]formula.Condition, 0, len(v.r.members[g]))
		for _, f := range v.r.members[g] {
			some = append(some, formula.On(m.Features[f].Code, 1))
		}
		when, required := m.Groups[g].bounds()
		conditions = append(conditions, when, formula.And(when, formula.Or(some...)), required)
	}
	sc, lits, err := v.scope(m, v.r.asItComes(v.p.Kept), conditions...)
	if err != nil {
		return err
	}
	v.out.Most = make([]int, len(m.Features))
	for i, f := range m.Features {
		on := sc.can(sc.rules.on(i, f.Least))
		v.out.CanBeOn = append(v.out.CanBeOn, verdictOf(on))
		for k := f.Most; on == can && k >= f.Least && f.Most > 1; k-- {
			if w := sc.can(sc.rules.on(i, k)); w != cannot {
				if w == can {
					v.out.Most[i] = k
				}
				break
			}
		}
		if err := v.step(); err != nil {
			return err
		}
	}
	for g := range m.Groups {
		if err := v.group(sc, g, lits[3*g:3*g+3]); err != nil {
			return err
		}
	}
	for s := range m.Settings {
		var row []Verdict
		for _, value := range sc.rules.value[s] {
			row = append(row, verdictOf(sc.can(sat.Pos(value))))
		}
		v.out.Possible = append(v.out.Possible, row)
	}
	return nil
}

// bounds of a group, those left out filled in.
func (g *Group) bounds() (when, required formula.Condition) {
	when, required = g.When, g.Required
	if when.Op == 0 {
		when = formula.True
	}
	if required.Op == 0 {
		required = formula.False
	}
	return when, required
}

// group asks about one group, by what its bounds are called in the scope.
func (v *prover) group(sc *scope, g int, lits []sat.Lit) error {
	v.out.Offered = append(v.out.Offered, verdictOf(sc.can(lits[0])))
	v.out.Pickable = append(v.out.Pickable, verdictOf(sc.can(lits[1])))
	hard := No
	_, required := v.r.model.Groups[g].bounds()
	if required.Op != formula.IsFalse {
		switch sc.can(lits[2]) {
		case cannot:
			// Is it that nothing can be picked, or does it never come to that?
			m := v.r.model
			m.Groups = slices.Clone(m.Groups)
			m.Groups[g].Required = formula.False
			free, lits, err := v.scope(&m, v.r.asItComes(v.p.Kept), required)
			switch {
			case err == nil:
				hard = verdictOf(free.can(lits[0]))
			case errors.Is(err, ErrBudget):
				hard = Undecided
			default:
				return err
			}
		case undecided:
			hard = Undecided
		case can:
		}
	}
	v.out.Unsettleable = append(v.out.Unsettleable, hard)
	return v.step()
}

// rules asks of each rule whether its condition can hold, on whatever van.
func (v *prover) rules() error {
	m := &v.r.model
	conditions := make([]formula.Condition, len(m.Rules))
	for i, rule := range m.Rules {
		conditions[i] = rule.If
	}
	sc, lits, err := v.scope(m, v.r.anything(), conditions...)
	if err != nil {
		return err
	}
	// A condition that cannot hold where there are no rules at all is idle by
	// itself; the others that never hold are asked without their own rule.
	bare := m.newScope(v.r.anything(), &v.out.Left)
	alone := make([]sat.Lit, len(conditions))
	for i, c := range conditions {
		alone[i] = bare.literal(c)
	}
	if err := bare.begin(); err != nil {
		return err
	}
	var itself []int
	for i := range m.Rules {
		bites := sc.can(lits[i])
		if bites == cannot && bare.can(alone[i]) != cannot {
			itself = append(itself, i)
			v.done--
		}
		v.out.Bites = append(v.out.Bites, verdictOf(bites))
		if err := v.step(); err != nil {
			return err
		}
	}
	return v.eachWithout(itself, func(sc *scope, i int, _ [][]sat.Lit) {
		depth := sc.s.Depth()
		v.out.Bites[i] = verdictOf(sc.assume(sc.literals[i]))
		sc.s.Back(depth)
	})
}

// implied asks which rules the others make true without them. A rule that
// brings a follower lets it be there, so it is never only implied.
func (v *prover) implied() error {
	m := &v.r.model
	var asked []int
	for _, i := range v.p.Rules {
		if !slices.ContainsFunc(m.Rules[i].Brings, func(b Count) bool { return m.Features[b.Feature].Follower }) {
			asked = append(asked, i)
		}
	}
	v.done += len(v.p.Rules) - len(asked)
	return v.eachWithout(asked, func(sc *scope, i int, clauses [][]sat.Lit) {
		if sc.follow(clauses) {
			v.out.Implied = append(v.out.Implied, i)
		}
	})
}

// follow says whether every clause follows from what is taken: the opposite of
// it cannot be.
func (sc *scope) follow(clauses [][]sat.Lit) bool {
	for _, clause := range clauses {
		depth := sc.s.Depth()
		answer := can
		for _, l := range clause {
			if answer = sc.assume(l.Not()); answer != can {
				break
			}
		}
		sc.s.Back(depth)
		if answer != cannot {
			return false
		}
	}
	return true
}

// eachWithout asks about rules, each left out while all others are taken, on
// whatever van. Where the work ends first none of them is asked about.
func (v *prover) eachWithout(rules []int, ask func(sc *scope, i int, clauses [][]sat.Lit)) error {
	if len(rules) == 0 {
		return nil
	}
	m := &v.r.model
	w := &leavingOut{v: v, sc: m.newScope(v.r.anything(), &v.out.Left), ask: ask,
		dropped: make([]sat.Lit, len(m.Rules)), clauses: make([][][]sat.Lit, len(m.Rules))}
	w.sc.literals = make([]sat.Lit, len(m.Rules))
	asked := make([]bool, len(m.Rules))
	for _, i := range rules {
		asked[i] = true
	}
	for i := range m.Rules {
		if !asked[i] {
			w.sc.rule(i)
			continue
		}
		// False in the first model, so that all rules hold in it.
		w.dropped[i] = sat.Pos(w.sc.rules.clauses.NewVar())
		w.clauses[i] = w.sc.clausesOf(i)
		for _, clause := range w.clauses[i] {
			w.sc.enc.add(0, append([]sat.Lit{w.dropped[i]}, clause...)...)
		}
		w.sc.literals[i] = w.sc.literal(m.Rules[i].If)
	}
	switch err := w.sc.begin(); {
	case errors.Is(err, ErrBudget):
		return nil
	case err != nil:
		return err
	}
	return w.among(rules)
}

// leavingOut asks about several rules, each left out in turn.
type leavingOut struct {
	v       *prover
	sc      *scope
	ask     func(sc *scope, i int, clauses [][]sat.Lit)
	dropped []sat.Lit // by rule
	clauses [][][]sat.Lit
}

// among halves the rules asked about, so that each is asked with all others
// taken although none is taken more often than the logarithm of their number.
func (w *leavingOut) among(rules []int) error {
	if len(rules) == 1 {
		w.ask(w.sc, rules[0], w.clauses[rules[0]])
		return w.v.step()
	}
	half := len(rules) / 2
	for _, part := range [][2][]int{{rules[:half], rules[half:]}, {rules[half:], rules[:half]}} {
		depth := w.sc.s.Depth()
		for _, i := range part[1] {
			w.sc.assume(w.dropped[i].Not())
		}
		if err := w.among(part[0]); err != nil {
			return err
		}
		w.sc.s.Back(depth)
	}
	return nil
}
