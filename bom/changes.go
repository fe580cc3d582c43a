package bom

import (
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/options"
)

// ChangeKind says what a change does to the choices.
type ChangeKind string

// The kinds; zero is invalid.
const (
	Add        ChangeKind = "add"       // an open feature
	Swap       ChangeKind = "swap"      // another of a group in place of its pick
	OneMore    ChangeKind = "one more"  // of a counted feature
	OneFewer   ChangeKind = "one fewer" // likewise
	Drop       ChangeKind = "drop"      // a chosen feature
	PickFinish ChangeKind = "finish"    // another choice of a finish
)

// Change is one thing done to the choices.
type Change struct {
	Kind    ChangeKind
	Feature string // all but PickFinish
	// Count there shall be, of OneMore and OneFewer.
	Count int
	// InsteadOf is, of a Swap, the pick it takes the place of.
	InsteadOf string
	Finish    FinishChoice // of PickFinish
}

// says whether an engine's choice is what the change wants.
func (c *Change) says(said *options.Choice) bool {
	if c.Kind == PickFinish {
		code, ok := strings.CutPrefix(said.Feature, "finish.")
		return ok && said.Verb == options.Pick && code == c.Finish.Finish
	}
	return c.Kind != Drop && said.Feature == c.Feature && said.Verb != options.Refuse
}

// Changes are all that could be changed at one click, in the order of the
// catalogue: every open feature added, every other pick of a group, one more
// and one fewer of each counted feature, each chosen one dropped, and every
// other choice of each finish that applies. With says which of them cannot be
// had after all. Followers come and go by themselves and are not among them,
// nor is what is not sold; nor is dropping what is replaced by a new one.
func (t *Trial) Changes() []Change {
	var list []Change
	for i := range t.standing {
		list = t.changesOf(list, i)
	}
	for i := range t.Resolution.Specification.Finishes {
		f := &t.Resolution.Specification.Finishes[i]
		for _, c := range t.r.catalogue.Finishes[t.r.finishes[f.Finish]].Choices {
			if c.Code != f.Choice {
				list = append(list, Change{Kind: PickFinish, Finish: FinishChoice{Finish: f.Finish, Choice: c.Code}})
			}
		}
	}
	return list
}

// changesOf are the changes of one feature: what could be had goes by the
// choices before settling, what is there by what it settles to.
func (t *Trial) changesOf(list []Change, feature int) []Change {
	f, o := &t.r.catalogue.Features[feature], &t.standing[feature]
	if f.Follower || f.NotSold {
		return list
	}
	there := &t.Resolution.Answer.Options[feature]
	if !on(there) {
		pick := t.pickOf(feature)
		switch {
		case pick != "" && (o.Standing == options.Open || o.Swap):
			return append(list, Change{Kind: Swap, Feature: f.Code, InsteadOf: pick})
		case o.Standing == options.Open:
			return append(list, Change{Kind: Add, Feature: f.Code})
		}
		return list
	}
	least, most := leastOf(f), mostOf(f)
	n := max(there.Least, least)
	if f.Count != nil && n < most {
		list = append(list, Change{Kind: OneMore, Feature: f.Code, Count: n + 1})
	}
	if o.Standing != options.Chosen {
		return list
	}
	if f.Count != nil && n > least {
		list = append(list, Change{Kind: OneFewer, Feature: f.Code, Count: n - 1})
	}
	if k, ok := t.asked.fittingOf[feature]; ok && t.asked.fittings[k].replaced > 0 {
		return list // a new one goes in: that is said with the van
	}
	return append(list, Change{Kind: Drop, Feature: f.Code})
}

// pickOf gives the pick of a feature's group where there can be only one; ""
// where there is none.
func (t *Trial) pickOf(feature int) string {
	g := t.r.groupOf[feature]
	if g < 0 || t.r.catalogue.Groups[g].Pick == catalogue.AnyNumber {
		return ""
	}
	for _, m := range t.r.members[g] {
		if on(&t.Resolution.Answer.Options[m]) {
			return t.r.featureCodes[m]
		}
	}
	return ""
}

// FeatureChange is how many more of a feature are there with a change, below
// nothing for fewer.
type FeatureChange struct {
	Code, Name string
	More       int
}

// FeatureChanges are what else comes and falls away with a change, what it
// names itself left out, in the order of the catalogue.
func (t *Trial) FeatureChanges(c Change, with *Outcome) []FeatureChange {
	var list []FeatureChange
	add := func(f *SpecifiedFeature, n int) {
		if n != 0 && f.Code != c.Feature && (c.Kind != Swap || f.Code != c.InsteadOf) {
			list = append(list, FeatureChange{f.Code, f.Name, n})
		}
	}
	// Both in the order of the catalogue.
	before, now := t.First.Specification.Features, with.Specification.Features
	for len(before) > 0 || len(now) > 0 {
		switch {
		case len(now) == 0, len(before) > 0 && t.r.features[before[0].Code] < t.r.features[now[0].Code]:
			add(&before[0], -before[0].Count)
			before = before[1:]
		case len(before) == 0, t.r.features[now[0].Code] < t.r.features[before[0].Code]:
			add(&now[0], now[0].Count)
			now = now[1:]
		default:
			add(&now[0], now[0].Count-before[0].Count)
			before, now = before[1:], now[1:]
		}
	}
	return list
}

// PartChange is how much more of something is wanted with a change, at all
// stages together; below nothing for less.
type PartChange struct {
	Kind LineKind // PartLine or OutsideLine
	// Code of the part or outside work; "" for a part whose finish is still to
	// choose, which has the Finish.
	Code, Finish, Name, Unit string
	More                     Quantity
}

// PartChanges are what a change adds to and takes off what has to be bought, in
// the order of the first places they are wanted at.
func (t *Trial) PartChanges(with *Outcome) []PartChange {
	var list []PartChange
	for i := range with.Tally.Places {
		n := &with.Tally.Places[i]
		cell := &t.counting.p.cells[n.Place]
		if cell.kind != partKind && cell.kind != outsideKind {
			continue
		}
		var before amount
		if b := &t.counting.base.totals[n.Place]; b.given > 0 {
			before = cell.rounded(b.issued)
		}
		more := n.Quantity - Quantity(before)
		if more == 0 {
			continue
		}
		k := find(list, func(p PartChange) bool {
			return p.Code == cell.code && p.Finish == cell.finish && p.Kind == lineKinds[cell.kind]
		})
		if k < 0 {
			list = append(list, PartChange{Kind: lineKinds[cell.kind], Code: cell.code, Finish: cell.finish, Name: cell.name, Unit: cell.unit})
			k = len(list) - 1
		}
		list[k].More += more
	}
	kept := list[:0]
	for _, p := range list {
		if p.More != 0 {
			kept = append(kept, p)
		}
	}
	return kept
}

// ChecksNotMet are the codes of checks that are met now, or not made, and are
// not met with a change.
func (t *Trial) ChecksNotMet(with *Outcome) []*catalogue.Check {
	return t.checks(&t.First.Tally, &with.Tally)
}

// ChecksMet are the other way about.
func (t *Trial) ChecksMet(with *Outcome) []*catalogue.Check {
	return t.checks(&with.Tally, &t.First.Tally)
}

func (t *Trial) checks(before, now *Tally) []*catalogue.Check {
	var list []*catalogue.Check
	for i, c := range now.Checks {
		if b := before.Checks[i]; c.Made && !c.Met && (!b.Made || b.Met) {
			list = append(list, &t.r.catalogue.Checks[t.counting.p.checks[i].index])
		}
	}
	return list
}

// Name of what a change is about: the feature, or the finish with its choice.
func (t *Trial) Name(c Change) string {
	if c.Kind != PickFinish {
		return t.r.catalogue.Features[t.r.features[c.Feature]].Name
	}
	f := &t.r.catalogue.Finishes[t.r.finishes[c.Finish.Finish]]
	k := find(f.Choices, func(o catalogue.FinishChoice) bool { return o.Code == c.Finish.Choice })
	return f.Name + ": " + f.Choices[k].Name
}
