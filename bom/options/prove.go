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

// scope begins a scope with all the rules but one (-1 for none left out) and
// the conditions named.
func (v *prover) scope(m Model, kept []int, but int, conditions ...formula.Condition) (*scope, []sat.Lit, error) {
	sc := m.newScope(kept, &v.out.Left)
	for i := range m.Rules {
		if i != but {
			sc.rule(i)
		}
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
	sc, lits, err := v.scope(*m, v.r.asItComes(v.p.Kept), -1, conditions...)
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
			free, lits, err := v.scope(m, v.r.asItComes(v.p.Kept), -1, required)
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
	m := v.r.model
	conditions := make([]formula.Condition, len(m.Rules))
	for i, rule := range m.Rules {
		conditions[i] = rule.If
	}
	sc, lits, err := v.scope(m, v.r.anything(), -1, conditions...)
	if err != nil {
		return err
	}
	// A condition that cannot hold where there are no rules at all is idle by
	// itself; of the others that never hold, each is asked without its own rule.
	bare := m.newScope(v.r.anything(), &v.out.Left)
	alone := make([]sat.Lit, len(conditions))
	for i, c := range conditions {
		alone[i] = bare.literal(c)
	}
	if err := bare.begin(); err != nil {
		return err
	}
	for i := range m.Rules {
		bites := sc.can(lits[i])
		if bites == cannot && bare.can(alone[i]) != cannot {
			without, lits, err := v.scope(m, v.r.anything(), i, conditions[i])
			switch {
			case err == nil:
				bites = without.can(lits[0])
			case errors.Is(err, ErrBudget):
				bites = undecided
			default:
				return err
			}
		}
		v.out.Bites = append(v.out.Bites, verdictOf(bites))
		if err := v.step(); err != nil {
			return err
		}
	}
	return nil
}

// implied asks which rules the others make true without them. A rule that
// brings a follower lets it be there, so it is never only implied.
func (v *prover) implied() error {
	m := &v.r.model
	sc := m.newScope(v.r.anything(), &v.out.Left)
	e := &implication{v: v, sc: sc, dropped: make([]sat.Lit, len(m.Rules)), clauses: make([][][]sat.Lit, len(m.Rules))}
	var asked []int
	for i := range m.Rules {
		supports := slices.ContainsFunc(m.Rules[i].Brings, func(b Count) bool { return m.Features[b.Feature].Follower })
		if supports || !slices.Contains(v.p.Rules, i) {
			sc.rule(i)
			continue
		}
		// False in the first model, so that all rules hold in it.
		e.dropped[i] = sat.Pos(sc.rules.clauses.NewVar())
		e.clauses[i] = sc.clausesOf(i)
		for _, clause := range e.clauses[i] {
			sc.enc.add(0, append([]sat.Lit{e.dropped[i]}, clause...)...)
		}
		asked = append(asked, i)
	}
	v.done += len(v.p.Rules) - len(asked)
	if len(asked) == 0 {
		return nil
	}
	switch err := sc.begin(); {
	case errors.Is(err, ErrBudget):
		return nil
	case err != nil:
		return err
	}
	return e.among(asked)
}

// implication looks which of several rules the others imply.
type implication struct {
	v       *prover
	sc      *scope
	dropped []sat.Lit // by rule
	clauses [][][]sat.Lit
}

// among halves the rules asked about, so that each is asked with all others
// taken although none is taken more often than the logarithm of their number.
func (e *implication) among(rules []int) error {
	if len(rules) == 1 {
		if e.holds(rules[0]) {
			e.v.out.Implied = append(e.v.out.Implied, rules[0])
		}
		return e.v.step()
	}
	half := len(rules) / 2
	for _, part := range [][2][]int{{rules[:half], rules[half:]}, {rules[half:], rules[:half]}} {
		depth := e.sc.s.Depth()
		for _, i := range part[1] {
			e.sc.assume(e.dropped[i].Not())
		}
		if err := e.among(part[0]); err != nil {
			return err
		}
		e.sc.s.Back(depth)
	}
	return nil
}

// holds says whether every clause of the rule follows from what is taken: the
// opposite of it cannot be.
func (e *implication) holds(i int) bool {
	for _, clause := range e.clauses[i] {
		depth := e.sc.s.Depth()
		answer := can
		for _, l := range clause {
			if answer = e.sc.assume(l.Not()); answer != can {
				break
			}
		}
		e.sc.s.Back(depth)
		if answer != cannot {
			return false
		}
	}
	return true
}
