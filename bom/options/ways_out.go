package options

import (
	"cmp"
	"errors"
	"slices"
)

// What a search for ways out gives where nothing else is said.
const (
	MostWays       = 3  // ways given
	MostCandidates = 60 // sets of changes compared (and priced)
)

// WayOutAsk is what ways out are asked for.
type WayOutAsk struct {
	// Wanted is what the customer would like and cannot have: a want, a number,
	// a value, or to be without. Nil asks how the choices can be made to fit
	// together.
	Wanted *Choice
	// Fixed says of a customer's choice that it is not to be undone, because it
	// is a part of what the van is.
	Fixed func(choice int) bool
	// MostWays and MostCandidates bound the answer and the search; 0 for the
	// package's own.
	MostWays, MostCandidates int
	// Price gives by how much the choices of a way cost more (less, below 0)
	// than what the customer has now, in any one unit. It is asked at most
	// MostCandidates times. Nil ranks by the number of choices undone alone.
	Price func(way *Way) (int64, error)
}

// WaysOut are the cheapest ways out.
type WaysOut struct {
	// Ways in order: those that undo the fewest of the customer's choices
	// first, of equal ones that with the smallest change of price, up or down.
	// None where the choices fit together and nothing is wanted, or where nothing
	// helps (Blocked). A way without changes says that what is wanted is had.
	Ways []Way
	// Exact: no way would rank before those given. Otherwise there were more
	// than MostCandidates sets of changes to compare, or the work budget ended.
	Exact bool
	// Blocked says that no undoing of choices helps; Why is a minimal reason,
	// unless it is loose.
	Blocked Blocked
	Why     *Reason
}

// Blocked says why there is no way out.
type Blocked uint8

// The reasons why there is none; zero is that there may be one.
const (
	ByWhatVanIs Blocked = iota + 1 // only if the van were otherwise or had other things fitted
	ByTheRules                     // never, on this base van
)

// Way is one way out: changes to the customer's choices after which nothing is
// put aside and what was wanted is chosen.
type Way struct {
	Changes []Change
	// Undone are the customer's choices that no longer hold, places in the
	// list. What the wish itself says anew is not among them.
	Undone []int
	// LeftOut are the package's choices that do not fit with the rest.
	LeftOut []int
	// Choices are the list with the changes made, without what settling added.
	Choices []Choice
	// Price is the change of price; 0 where no price was asked.
	Price int64
}

// Change is one thing done to the customer's choices.
type Change struct {
	Kind   ChangeKind
	Choice int    // dropped or swapped; -1 when added
	With   Choice // added, or taken in its place
}

// ChangeKind says what a change does.
type ChangeKind uint8

// The kinds of change; zero is invalid.
const (
	DropChoice ChangeKind = iota + 1
	AddChoice
	SwapChoice
)

// WaysOut finds the cheapest ways to what is wanted, or out of a contradiction.
// What the van is and has fitted is never undone. A pick that must go is
// swapped for another of its group, a number for the nearest there can be, a
// value for another, each a way of its own; it is only dropped where its group
// may be left without a pick.
//
// Errors as of Resolve, and those of Price; ErrBudget only where not a single
// way was found.
func (r *Rules) WaysOut(choices []Choice, ask WayOutAsk) (WaysOut, error) {
	w := ways{ask: ask, choices: choices}
	w.mostWays = cmp.Or(max(ask.MostWays, 0), MostWays)
	w.mostCandidates = max(cmp.Or(max(ask.MostCandidates, 0), MostCandidates), w.mostWays)
	var err error
	w.undoing, err = r.undo(choices, ask.Fixed)
	defer w.end()
	if err != nil {
		return WaysOut{}, err
	}
	if ask.Wanted != nil {
		blocked, err := w.wish(*ask.Wanted)
		if err != nil || blocked {
			return w.out, err
		}
	}
	err = w.search()
	if errors.Is(err, ErrBudget) && len(w.found) > 0 {
		w.out.Exact, err = false, nil
	}
	if err != nil {
		return WaysOut{}, err
	}
	return w.out, w.rank()
}

// ways is one search for ways out.
type ways struct {
	*undoing
	ask                      WayOutAsk
	choices                  []Choice
	mostWays, mostCandidates int

	wanted     *Choice
	superseded []int // choices on the very thing that is wanted
	found      []Way
	out        WaysOut
}

// errEnough ends a search that has found as much as it may.
var errEnough = errors.New("options: enough")

// wish takes what is wanted and says whether nothing helps.
func (w *ways) wish(wanted Choice) (blocked bool, err error) {
	wanted.Source = FromCustomer
	w.wanted = &wanted
	w.own = slices.DeleteFunc(w.own, func(i int) bool {
		same := w.choices[i].Feature == wanted.Feature
		if same {
			w.superseded = append(w.superseded, i)
		}
		return same
	})
	q := w.q
	if had, err := w.had(wanted); err != nil {
		return false, err
	} else if had >= 0 {
		wanted = w.choices[had]
	}
	// It is taken as if it stood at the end of the list.
	q.choices = append(w.choices[:len(w.choices):len(w.choices)], wanted)
	clash, err := q.clash(len(w.choices))
	if err != nil {
		return false, err
	}
	if clash == nil {
		w.base = q.mark()
		return false, nil
	}
	if err := q.literals(wanted); err != nil {
		return false, err
	}
	lits := slices.Clone(q.lits)
	w.out.Blocked, w.out.Exact = ByWhatVanIs, true
	q.back(mark{})
	q.s.ForgetAll()
	never, err := q.clash(len(w.choices))
	if err != nil {
		return false, err
	}
	if never != nil {
		w.out.Blocked, clash = ByTheRules, never
	}
	w.out.Why, err = w.why(clash, lits)
	return true, err
}

// had is a choice that asks for the very feature already, in its own number;
// -1 where there is none, or it cannot be.
func (w *ways) had(wanted Choice) (int, error) {
	if wanted.Verb != Want {
		return -1, nil
	}
	for _, i := range w.superseded {
		if c := w.choices[i]; c.Verb != Refuse && count(c) > 0 {
			can, err := w.can(c)
			if err != nil || can {
				return i, err
			}
		}
	}
	return -1, nil
}

// search collects sets of changes until none that is still to come could rank
// before those found.
func (w *ways) search() error {
	sets := w.corrections()
	for {
		set, more, err := sets.next()
		if err != nil {
			return err
		}
		if !more || len(set) == 0 && w.wanted == nil {
			w.out.Exact = true
			return nil
		}
		if n := w.mostWays; len(w.found) >= n && (w.ask.Price == nil || len(set) > len(w.found[n-1].Undone)) {
			w.out.Exact = true
			return nil
		}
		err = w.instead(set, nil)
		if errors.Is(err, errEnough) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// instead finds what can be had in place of the choices undone, one after
// another, and keeps each combination as a way.
func (w *ways) instead(undone []int, with []Choice) error {
	if len(with) == len(undone) {
		return w.keep(undone, with)
	}
	others, err := w.alternatives(undone, w.choices[undone[len(with)]])
	if err != nil {
		return err
	}
	for _, c := range others {
		before := w.q.mark()
		if c.Verb != 0 {
			fits, err := w.fits(c)
			if err != nil {
				return err
			}
			if !fits {
				continue
			}
		}
		if err := w.instead(undone, append(with[:len(with):len(with)], c)); err != nil {
			return err
		}
		w.q.back(before)
	}
	return nil
}

// fits takes a choice that is not in the list on top of what is taken, if it
// can be.
func (w *ways) fits(c Choice) (bool, error) {
	before := w.q.mark()
	if err := w.q.literals(c); err != nil {
		return false, err
	}
	for _, l := range w.q.lits {
		err := w.q.assume(l, -1, -1)
		if errors.Is(err, errNo) {
			w.q.back(before)
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	return true, nil
}

// can is fits, without taking it.
func (w *ways) can(c Choice) (bool, error) {
	before := w.q.mark()
	fits, err := w.fits(c)
	w.q.back(before)
	return fits, err
}

// alternatives gives what can be had in place of a choice that is undone; a
// choice without a verb is that it is only dropped.
func (w *ways) alternatives(undone []int, c Choice) ([]Choice, error) {
	drop := []Choice{{}}
	switch {
	case c.Verb == Pick:
		values, err := w.values(c)
		if len(values) == 0 {
			values = drop
		}
		return values, err
	case c.Verb == Refuse, c.Verb == Number && c.N == 0:
		return drop, nil
	}
	f := w.q.r.byCode[c.Feature]
	if c.Verb == Number || c.Verb == AtLeast {
		near, err := w.nearest(c, &w.q.r.model.Features[f])
		if err != nil || len(near) > 0 {
			return near, err
		}
	}
	g := w.q.r.model.Features[f].Group
	if g < 0 || !w.q.r.model.Groups[g].AtMostOne {
		return drop, nil
	}
	picks, err := w.picks(undone, f, w.q.r.members[g])
	if len(picks) == 0 {
		picks = drop
	}
	return picks, err
}

// values are the others that a setting could have.
func (w *ways) values(c Choice) ([]Choice, error) {
	var out []Choice
	for _, v := range w.q.r.model.Settings[w.q.r.byName[c.Feature]].Values {
		other := Choice{Verb: Pick, Feature: c.Feature, Value: v, Source: FromCustomer}
		can, err := w.can(other)
		if err != nil {
			return nil, err
		}
		if can {
			out = append(out, other)
		}
	}
	return out, nil
}

// nearest are the numbers next to the one that cannot be: fewer, and more.
func (w *ways) nearest(c Choice, f *Feature) ([]Choice, error) {
	var out []Choice
	for _, step := range []int{-1, 1} {
		for n := c.N + step; n >= f.Least && n <= f.Most; n += step {
			other := Choice{Verb: c.Verb, Feature: c.Feature, N: n, Source: FromCustomer}
			can, err := w.can(other)
			if err != nil {
				return nil, err
			}
			if can {
				out = append(out, other)
				break
			}
		}
	}
	return out, nil
}

// picks are the others of a group of which one is to be had, and none where
// the group may be left without.
func (w *ways) picks(undone []int, f int, members []int) ([]Choice, error) {
	r := w.q.r
	var out []Choice
	without, err := w.without(members)
	if err != nil {
		return nil, err
	}
	if without {
		out = append(out, Choice{})
	}
	for _, m := range members {
		feature := &r.model.Features[m]
		if m == f || feature.Follower || feature.NotSold {
			continue
		}
		if w.said(undone, m) {
			return []Choice{{}}, nil
		}
		other := Choice{Verb: Want, Feature: feature.Code, Source: FromCustomer}
		can, err := w.can(other)
		if err != nil {
			return nil, err
		}
		if can {
			out = append(out, other)
		}
	}
	return out, nil
}

// said says whether a feature is on and somebody asks for it: it then takes
// the place of the pick by itself.
func (w *ways) said(undone []int, f int) bool {
	code := w.q.r.model.Features[f].Code
	return w.q.s.Value(w.q.r.on(f, 1)) > 0 && (w.wanted != nil && w.wanted.Feature == code ||
		slices.ContainsFunc(w.own, func(i int) bool { return w.choices[i].Feature == code && !slices.Contains(undone, i) }))
}

// without says whether a group can be left without any of its features.
func (w *ways) without(members []int) (bool, error) {
	before := w.q.mark()
	defer w.q.back(before)
	for _, m := range members {
		err := w.q.assume(w.q.r.on(m, 1).Not(), -1, -1)
		if errors.Is(err, errNo) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	return true, nil
}

// keep makes a way of choices undone and what is had in their place, and ends
// the search when there are as many as may be compared.
func (w *ways) keep(undone []int, with []Choice) error {
	if len(w.found) == w.mostCandidates {
		return errEnough
	}
	before := w.q.mark()
	way := Way{Undone: slices.Clone(undone)}
	for i, c := range w.choices {
		if c.Source != FromPackage {
			continue
		}
		fits, err := w.fits(c)
		if err != nil {
			return err
		}
		if !fits {
			way.LeftOut = append(way.LeftOut, i)
		}
	}
	w.q.back(before)
	w.write(&way, with)
	w.found = append(w.found, way)
	return nil
}

// write fills in the changes of a way and the list with them made.
func (w *ways) write(way *Way, with []Choice) {
	put := make(map[int]Choice, len(with)+1) // by choice changed: what stands there
	for k, i := range way.Undone {
		put[i] = with[k]
	}
	at := -1 // where what is wanted goes
	if w.wanted != nil {
		at = w.place(way.Undone, put)
	}
	if at >= 0 && w.choices[at] != *w.wanted {
		put[at] = *w.wanted
	}
	for _, i := range w.superseded {
		if i != at {
			put[i] = Choice{}
		}
	}
	last := 0 // what is added goes after what the customer said, at least after what the van is
	for i, c := range w.choices {
		if c.Source <= FromCustomer {
			last = i + 1
		}
	}
	for i := range len(w.choices) + 1 {
		if i == last && w.wanted != nil && at < 0 {
			way.Choices = append(way.Choices, *w.wanted)
			way.Changes = append(way.Changes, Change{Kind: AddChoice, Choice: -1, With: *w.wanted})
		}
		if i == len(w.choices) {
			return
		}
		c := w.choices[i]
		other, changed := put[i]
		switch {
		case changed && other.Verb != 0:
			way.Choices = append(way.Choices, other)
			way.Changes = append(way.Changes, Change{Kind: SwapChoice, Choice: i, With: other})
		case changed:
			way.Changes = append(way.Changes, Change{Kind: DropChoice, Choice: i})
		case c.Source != FromSettling && !slices.Contains(way.LeftOut, i):
			way.Choices = append(way.Choices, c)
		}
	}
}

// place is the choice in whose place the wanted one goes: one on the same
// thing, else a pick of the same group that is undone for it; -1 for none.
func (w *ways) place(undone []int, put map[int]Choice) int {
	if at := slices.IndexFunc(w.superseded, func(i int) bool { return w.choices[i] == *w.wanted }); at >= 0 {
		return w.superseded[at]
	}
	if len(w.superseded) > 0 {
		return w.superseded[0]
	}
	r := w.q.r
	f, ok := r.byCode[w.wanted.Feature]
	if !ok || w.wanted.Verb == Refuse || r.model.Features[f].Group < 0 ||
		!r.model.Groups[r.model.Features[f].Group].AtMostOne {
		return -1
	}
	for _, i := range undone {
		c := w.choices[i]
		other, ok := r.byCode[c.Feature]
		if ok && c.Verb != Refuse && c.Verb != Pick && put[i].Verb == 0 && r.model.Features[other].Group == r.model.Features[f].Group {
			return i
		}
	}
	return -1
}

// rank prices what was found and keeps the best.
func (w *ways) rank() error {
	if w.ask.Price != nil {
		for i := range w.found {
			var err error
			if w.found[i].Price, err = w.ask.Price(&w.found[i]); err != nil {
				return err
			}
		}
	}
	abs := func(p int64) int64 { return max(p, -p) }
	slices.SortStableFunc(w.found, func(a, b Way) int {
		return cmp.Or(cmp.Compare(len(a.Undone), len(b.Undone)), cmp.Compare(abs(a.Price), abs(b.Price)), cmp.Compare(a.Price, b.Price))
	})
	w.out.Ways = w.found[:min(len(w.found), w.mostWays)]
	return nil
}
