package options

import (
	"errors"
	"fmt"
	"slices"

	"wainscot/bom/options/internal/sat"
)

// question is the room one Resolve works in; it is used again and again.
type question struct {
	r       *Rules
	s       *sat.Solver
	choices []Choice
	lits    []sat.Lit // of one choice

	// assumed are the literals taken, in order, each on a level of its own.
	assumed []assumption
	asides  []PutAside
	taken   []taken // by choice

	// By feature: 1 + the choice that wants it, says it is fitted, refuses it.
	wanted, fitted, refused []int32
	kept                    []int32 // how many the van has and keeps
	holds                   []bool  // by literal: whether it holds in unsettled
}

// taken is what a choice that was taken says: one literal or two; none for a
// choice put aside.
type taken struct {
	lits [2]sat.Lit
	n    int
}

// assumption is a literal taken for a choice, or for what the van lacks.
type assumption struct {
	lit    sat.Lit
	choice int32 // -1: it is about what the van did not come with
	not    int32 // then the feature that is not sold otherwise, or -1
	level  int32 // the level it opened
}

// begin makes the room ready and takes choices.
func (r *Rules) begin(choices []Choice) (*question, error) {
	q := r.room(choices)
	return q, q.take()
}

// room makes a room ready for choices; none is taken yet.
func (r *Rules) room(choices []Choice) *question {
	q := r.solvers.Get().(*question) //nolint:errcheck,forcetypeassert // the pool holds nothing else
	q.s.Reset()
	q.s.SetBudget(resolveBudget)
	q.choices = choices
	q.assumed, q.asides = q.assumed[:0], nil
	n := len(r.model.Features)
	if q.wanted == nil {
		q.wanted, q.fitted, q.refused, q.kept = make([]int32, n), make([]int32, n), make([]int32, n), make([]int32, n)
		q.holds = make([]bool, 2*r.clauses.Vars())
	}
	clear(q.wanted)
	clear(q.fitted)
	clear(q.refused)
	q.taken = append(q.taken[:0], make([]taken, len(choices))...)
	return q
}

func (q *question) end() {
	q.choices = nil
	q.r.solvers.Put(q)
}

// Resolve says for every feature how it stands, given the choices in order.
//
// It is complete: an option shown as open can be finished into a specification
// that keeps every rule, one shown as ruled out cannot. Choices that do not
// fit with those before them are put aside, and the standing is of the rest.
// The same choices give the same answer and the same reasons every time.
//
// Errors: ErrBudget; ErrNothingAllowed where the van as it is leaves nothing
// allowed; a choice on something the model does not have, or a
// number out of bounds.
func (r *Rules) Resolve(choices []Choice) (Answer, error) { return r.resolve(choices, true) }

// ResolveWithoutSwaps is Resolve but for Option.Swap, which stays false: half
// the work, for those who want to know what a van has and not what else could
// be picked.
func (r *Rules) ResolveWithoutSwaps(choices []Choice) (Answer, error) {
	return r.resolve(choices, false)
}

func (r *Rules) resolve(choices []Choice, swaps bool) (Answer, error) {
	q, err := r.begin(choices)
	defer q.end()
	if err != nil {
		return Answer{}, err
	}
	if err := q.decide(); err != nil {
		return Answer{}, err
	}
	a := Answer{
		Options:   q.options(),
		Settings:  q.settings(),
		PutAside:  q.asides,
		Unsettled: q.unsettled(),
		why: &explanation{
			r:       r,
			choices: choices,
			assumed: slices.Clone(q.assumed),
			trace:   q.s.Trace(),
		},
	}
	if swaps {
		err = q.swaps(a.Options)
	}
	if err != nil {
		return Answer{}, err
	}
	return a, nil
}

// take assumes what the van has and has not, then the choices, one after
// another, putting aside those that do not fit.
func (q *question) take() error {
	if err := q.lack(); err != nil {
		return err
	}
	for i := range q.choices {
		if err := q.takeOne(i); err != nil {
			return err
		}
	}
	return nil
}

// lack assumes what the van has and what it has not. These are facts: where
// they leave nothing allowed there is no choice to put aside.
func (q *question) lack() error {
	clear(q.kept)
	for _, c := range q.choices {
		if c.Source != FromFitted {
			continue
		}
		if i, ok := q.r.byCode[c.Feature]; ok {
			q.kept[i] = max(q.kept[i], int32(count(c)))
		}
	}
	fact := func(l sat.Lit, feature int) error {
		err := q.assume(l, -1, feature)
		if errors.Is(err, errNo) {
			return ErrNothingAllowed
		}
		return err
	}
	for i, f := range q.r.model.Features {
		if f.NotSold && q.kept[i] == 0 {
			if err := fact(q.r.on(i, 1).Not(), i); err != nil {
				return err
			}
		}
		for k := f.Least; k <= f.Most; k++ {
			v := q.r.fitted[q.r.on(i, k).Var()]
			if v < 0 {
				break
			}
			l := sat.Pos(v)
			if int(q.kept[i]) < k {
				l = l.Not()
			}
			if err := fact(l, -1); err != nil {
				return err
			}
		}
	}
	return nil
}

// errNo says inside this package that a literal cannot be taken.
var errNo = errors.New("options: no")

func (q *question) assume(l sat.Lit, choice, not int) error {
	depth := q.s.Depth()
	switch q.s.Assume(l) {
	case sat.No:
		return errNo
	case sat.Spent:
		return ErrBudget
	}
	if q.s.Depth() > depth {
		q.assumed = append(q.assumed, assumption{l, int32(choice), int32(not), int32(depth)})
	}
	return nil
}

func (q *question) takeOne(i int) error {
	if err := q.literals(q.choices[i]); err != nil {
		return choiceError(i, err)
	}
	depth, kept := q.s.Depth(), len(q.assumed)
	for _, l := range q.lits {
		err := q.assume(l, i, -1)
		if err == nil {
			continue
		}
		if !errors.Is(err, errNo) {
			return err
		}
		e := explanation{r: q.r, choices: q.choices, assumed: q.assumed, trace: q.s.Trace()}
		q.asides = append(q.asides, PutAside{Choice: i, Why: e.why(l.Not(), i)})
		q.s.Back(depth)
		q.assumed = q.assumed[:kept]
		return nil
	}
	q.note(i)
	return nil
}

func choiceError(i int, err error) error { return fmt.Errorf("choice %d: %w", i+1, err) }

// note keeps that choice i was taken.
func (q *question) note(i int) {
	c := q.choices[i]
	q.taken[i].n = copy(q.taken[i].lits[:], q.lits)
	if c.Verb == Pick {
		return
	}
	f, at := q.r.byCode[c.Feature], int32(i+1)
	switch {
	case c.Verb == Refuse, c.Verb == Number && c.N == 0:
		q.refused[f] = at
	case c.Source == FromFitted:
		q.fitted[f] = at
	case q.fitted[f] != 0 && count(c) <= count(q.choices[q.fitted[f]-1]):
		// What is there already is no less there for being wanted.
	default:
		if q.wanted[f] == 0 {
			q.wanted[f] = at
		}
	}
}

// count is how many of its feature a choice asks for at least.
func count(c Choice) int {
	if c.Verb == Want {
		return 1
	}
	return c.N
}

// literals puts what a choice says into q.lits.
func (q *question) literals(c Choice) (err error) {
	q.lits, err = q.r.literals(c, q.lits[:0])
	return err
}

// literals appends what a choice says: one literal or two.
func (r *Rules) literals(c Choice, lits []sat.Lit) ([]sat.Lit, error) {
	if c.Verb == Pick {
		s, ok := r.byName[c.Feature]
		if !ok {
			return lits, fmt.Errorf("options: no setting %q", c.Feature)
		}
		k := slices.Index(r.model.Settings[s].Values, c.Value)
		if k < 0 {
			return lits, fmt.Errorf("options: setting %s has no value %q", c.Feature, c.Value)
		}
		return append(lits, sat.Pos(r.value[s][k])), nil
	}
	i, ok := r.byCode[c.Feature]
	if !ok {
		return lits, fmt.Errorf("options: no feature %q", c.Feature)
	}
	f := &r.model.Features[i]
	if (c.Verb == Number && c.N != 0 || c.Verb == AtLeast) && (c.N < f.Least || c.N > f.Most) {
		return lits, fmt.Errorf("options: feature %s: %d is not from %d to %d", c.Feature, c.N, f.Least, f.Most)
	}
	switch {
	case c.Verb == Want:
		lits = append(lits, r.on(i, 1))
	case c.Verb == Refuse, c.Verb == Number && c.N == 0:
		lits = append(lits, r.on(i, 1).Not())
	case c.Verb == AtLeast:
		lits = append(lits, r.on(i, c.N))
	case c.Verb == Number:
		lits = append(lits, r.on(i, c.N))
		if c.N < f.Most {
			lits = append(lits, r.on(i, c.N+1).Not())
		}
	default:
		return lits, fmt.Errorf("options: choice on %s without a verb", c.Feature)
	}
	return lits, nil
}

// decide asks for everything still open whether it can be, and can not be.
func (q *question) decide() error {
	q.s.Forget()
	for v := range q.r.asked {
		l := sat.Pos(v)
		if q.s.Value(l) != 0 {
			continue
		}
		if q.s.Probe(l) == sat.Spent || q.s.Probe(l.Not()) == sat.Spent {
			return ErrBudget
		}
	}
	return nil
}

// options reads the standing of every feature off the trail.
func (q *question) options() []Option {
	out := make([]Option, len(q.r.model.Features))
	for i := range out {
		f := &q.r.model.Features[i]
		o := Option{Feature: i, ByChoice: -1}
		first := sat.Pos(q.r.first[i])
		for k := f.Least; k <= f.Most; k++ {
			v := q.s.Value(first)
			if v > 0 {
				o.Least = k
			}
			if v < 0 {
				break
			}
			o.Most = k
			first += 2
		}
		switch {
		case o.Most == 0:
			o.Standing = RuledOut
			o.ByChoice = int(q.refused[i]) - 1
		case o.Least == 0:
			o.Standing = Open
		case q.wanted[i] != 0:
			o.Standing = Chosen
			o.ByChoice = int(q.wanted[i]) - 1
		case q.fitted[i] != 0:
			o.Standing = AlreadyThere
			o.ByChoice = int(q.fitted[i]) - 1
		default:
			o.Standing = ComesWith
		}
		out[i] = o
	}
	return out
}

// settings reads which values of settings are still possible.
func (q *question) settings() []SettingValue {
	var out []SettingValue
	for i, vars := range q.r.value {
		for k, v := range vars {
			st := Open
			switch q.s.Value(sat.Pos(v)) {
			case 1:
				st = Chosen
			case -1:
				st = RuledOut
			}
			out = append(out, SettingValue{Setting: i, Value: k, Standing: st})
		}
	}
	return out
}

// swaps marks the ruled-out features that only another pick of their group
// keeps out: without that pick they could be had. It undoes assumptions.
func (q *question) swaps(options []Option) error {
	assumed := slices.Clone(q.assumed)
	for _, pick := range slices.Backward(assumed) {
		if pick.choice < 0 || !pick.lit.Positive() {
			continue
		}
		c := q.choices[pick.choice]
		if c.Verb == Pick || c.Source < FromCustomer {
			continue
		}
		f := q.r.byCode[c.Feature]
		g := q.r.model.Features[f].Group
		if g < 0 || !q.r.model.Groups[g].AtMostOne {
			continue
		}
		if !slices.ContainsFunc(q.r.members[g], func(m int) bool { return swappable(options[m]) }) {
			continue
		}
		q.s.Back(int(pick.level))
		if err := q.retake(int(pick.choice)+1, c.Feature); err != nil {
			return err
		}
		q.s.ForgetAll()
		for _, m := range q.r.members[g] {
			if !swappable(options[m]) {
				continue
			}
			switch q.s.Probe(q.r.on(m, 1)) {
			case sat.Spent:
				return ErrBudget
			case sat.Yes:
				options[m].Swap = true
			}
		}
	}
	return nil
}

// retake assumes the choices taken from number from on, those on one feature
// left out. All of them are assumed, also those that followed from others the
// first time: what they followed from may have gone.
func (q *question) retake(from int, except string) error {
	for i := from; i < len(q.choices); i++ {
		t := &q.taken[i]
		if t.n == 0 || q.choices[i].Feature == except {
			continue
		}
		for _, l := range t.lits[:t.n] {
			if q.s.Assume(l) == sat.Spent {
				return ErrBudget
			}
		}
	}
	return nil
}

func swappable(o Option) bool { return o.Standing == RuledOut && o.ByChoice < 0 }

// unsettled finds what leaving everything open off would break.
func (q *question) unsettled() []Unsettled {
	q.leaveOff()
	var out []Unsettled
	var said map[causeKey]bool
	c, holds := &q.r.clauses, q.holds
next:
	for i := range c.Len() {
		lits := c.Clause(i)
		for _, l := range lits {
			if holds[l] {
				continue next
			}
		}
		cause := q.r.causes[c.CauseOf(i)]
		key := causeKey{cause.Kind, cause.Index}
		if said[key] {
			continue
		}
		if said == nil {
			said = map[causeKey]bool{}
		}
		said[key] = true
		out = append(out, q.unsettledBy(cause, lits))
	}
	return out
}

// leaveOff puts into q.holds which literals hold with everything open off.
func (q *question) leaveOff() {
	for v := range q.r.helpers {
		l := sat.Pos(v)
		on := q.s.Value(l) > 0
		q.holds[l], q.holds[l.Not()] = on, !on
	}
	for _, d := range q.r.aux {
		value := d.all
		for _, l := range d.lits {
			if q.holds[l] != d.all {
				value = !d.all
				break
			}
		}
		l := sat.Pos(d.variable)
		q.holds[l], q.holds[l.Not()] = value, !value
	}
}

// causeKey names a cause once.
type causeKey struct {
	Kind  CauseKind
	Index int
}

func (q *question) unsettledBy(cause Cause, clause []sat.Lit) Unsettled {
	u := Unsettled{Group: -1, Rule: -1, Says: cause.Says}
	switch cause.Kind {
	case ByGroup:
		u.Group = cause.Index
	case ByRule:
		u.Rule = cause.Index
	}
	q.couldSettle(clause, &u, 0)
	return u
}

// couldSettle adds the open features that would make a literal of the clause
// true, directly or inside a helper variable.
func (q *question) couldSettle(clause []sat.Lit, u *Unsettled, depth int) {
	for _, l := range clause {
		v := l.Var()
		switch {
		case !l.Positive() || depth > 50:
		case v >= q.r.helpers:
			q.couldSettle(q.r.aux[v-q.r.helpers].lits, u, depth+1)
		case q.s.Value(l) == 0 && v < len(q.r.featureOf):
			if f := q.r.featureOf[v]; !slices.Contains(u.Options, f) {
				u.Options = append(u.Options, f)
			}
		}
	}
}
