package bom

import (
	"fmt"
	"math/rand"
	"slices"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/options"
)

// bare is a specification without words, standings and what goes by reasons.
func bare(s Specification) string {
	s.Features = slices.Clone(s.Features)
	for i, f := range s.Features {
		s.Features[i] = SpecifiedFeature{Code: f.Code, Name: f.Name, Count: f.Count, Fit: f.Fit}
	}
	s.Finishes = slices.Clone(s.Finishes)
	return fmt.Sprintf("%+v", s)
}

// TestTrialIsResolve: what a trial says of a change is what Resolve and Expand
// say of the changed choices; and nothing that can be had is left out.
func TestTrialIsResolve(t *testing.T) {
	r := sample(t)
	random := rand.New(rand.NewSource(5))
	had, not, kinds := 0, 0, map[ChangeKind]int{}
	for range 400 {
		van, choices := randomChoices(random, r)
		settle := []Settle{SettleNothing, SettleByDefaults}[random.Intn(2)]
		trial, faults, err := Try(r, van, choices, settle)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		first := trial.First.Tally.told(r, nil)
		for _, c := range trial.Changes() {
			want, faults, err := Resolve(r, van, trial.Choices(c), settle)
			if err != nil || len(faults) > 0 {
				t.Fatal(err, faults, c)
			}
			aside := slices.ContainsFunc(want.Answer.PutAside, func(p options.PutAside) bool {
				return want.Said[p.Choice].Source == options.FromCustomer && c.says(&want.Said[p.Choice])
			})
			out, ok, err := trial.With(c)
			if err != nil || ok == aside {
				t.Fatalf("%+v: %v %v", c, ok, err)
			}
			if !ok {
				if c.Kind == Add || c.Kind == Swap || c.Kind == Drop {
					t.Fatalf("%+v cannot be had", c)
				}
				not++
				continue
			}
			had++
			kinds[c.Kind]++
			if got, want := len(out.Aside), asideAnew(&trial.Resolution, &want); got != want {
				t.Fatalf("%+v: %d put aside, Resolve says %d", c, got, want)
			}
			for _, refusal := range choices.Features {
				if refusal.Refuse != "" && refusal.Refuse != c.Feature && !slices.Contains(trial.Choices(c).Features, refusal) {
					t.Fatalf("%+v: no %s is not refused any more", c, refusal.Refuse)
				}
			}
			if got, want := bare(*out.Specification), bare(want.Specification); got != want {
				t.Fatalf("%+v:\n%s\nResolve:\n%s", c, got, want)
			}
			alone := r.counting(&want.Specification)
			if got, want := fmt.Sprint(out.Tally.told(r, first)), fmt.Sprint(alone.first.told(r, nil)); got != want || out.Tally.totals() != alone.first.totals() {
				t.Fatalf("%+v:\n%s\n%s\nalone:\n%s\n%s", c, got, out.Tally.totals(), want, alone.first.totals())
			}
			alone.end()
		}
		complete(t, r, trial)
		trial.End()
	}
	t.Logf("%d had, %d not: %v", had, not, kinds)
	if len(kinds) < 6 || not == 0 {
		t.Error("not every kind of change came up")
	}
}

// asideAnew counts the customer's choices that one answer puts aside and
// another did not.
func asideAnew(before, now *Resolution) int {
	n := 0
	for _, p := range now.Answer.PutAside {
		said := now.Said[p.Choice]
		was := slices.ContainsFunc(before.Answer.PutAside, func(p options.PutAside) bool { return before.Said[p.Choice] == said })
		if said.Source == options.FromCustomer && !was {
			n++
		}
	}
	return n
}

// TestTrialKeepsWhatARuleCannotDoWithout: a finish without a default stays to
// be chosen, unless a rule needs one.
func TestTrialKeepsWhatARuleCannotDoWithout(t *testing.T) {
	c := blank()
	c.Parts = []catalogue.Part{part("p0", "each"), part("p1", "each"), part("p2", "each")}
	c.Features = []catalogue.Feature{{Code: "f0", Name: "F0", Group: "all"}, {Code: "f1", Name: "F1", Group: "all"}}
	c.Finishes = []catalogue.Finish{{Code: "cloth", Name: "Cloth", Choices: []catalogue.FinishChoice{
		{Code: "plain", Name: "Plain", Part: "p0"}, {Code: "hide", Name: "Hide", Part: "p1"}, {Code: "wool", Name: "Wool", Part: "p2"}}}}
	c.Rules = []catalogue.Rule{{Code: "r", Says: "F1 needs hide or wool.", If: "f1", Needs: `finish.cloth == "hide" || finish.cloth == "wool"`}}
	r := compiled(t, c)
	trial, faults, err := Try(r, Van{BaseVan: "van"}, Choices{Features: wants("f0")}, SettleByDefaults)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	defer trial.End()
	if f := trial.First.Specification.Finishes; f[0].Choice != "" {
		t.Errorf("settled without need: %+v", f)
	}
	out, ok, err := trial.With(Change{Kind: Add, Feature: "f1"})
	if err != nil || !ok || out.Specification.Finishes[0].Choice != "hide" || !out.Specification.Settled {
		want := resolved(t, r, Van{BaseVan: "van"}, trial.Choices(Change{Kind: Add, Feature: "f1"}), SettleByDefaults)
		t.Errorf("%v %v %+v settled %v, Resolve says %+v", err, ok, out.Specification.Finishes, out.Specification.Settled, want.Specification.Finishes)
	}
}

// complete holds the changes against the standings: what is open can be added,
// also where settling leaves it out, and what can be swapped is swapped.
func complete(t *testing.T, r *Release, trial *Trial) {
	t.Helper()
	has := map[Change]bool{}
	for _, c := range trial.Changes() {
		has[Change{Kind: c.Kind, Feature: c.Feature, Finish: c.Finish}] = true
	}
	open, _, err := Resolve(r, trial.asked.van, *trial.choices, SettleNothing)
	if err != nil {
		t.Fatal(err)
	}
	for i, o := range trial.Resolution.Answer.Options {
		f, before := &r.catalogue.Features[i], &open.Answer.Options[i]
		sold := !f.Follower && !f.NotSold
		added, swapped := has[Change{Kind: Add, Feature: f.Code}], has[Change{Kind: Swap, Feature: f.Code}]
		if want := sold && !on(&o) && (before.Standing == options.Open || before.Swap); (added || swapped) != want || added && swapped {
			t.Fatalf("%s: added %v, swapped %v", f.Code, added, swapped)
		}
		picked := false
		if g := r.groupOf[i]; g >= 0 && r.catalogue.Groups[g].Pick != catalogue.AnyNumber {
			picked = slices.ContainsFunc(r.members[g], func(m int) bool { return on(&trial.Resolution.Answer.Options[m]) })
		}
		if (added || swapped) && swapped != picked {
			t.Fatalf("%s: swapped %v, and the group has a pick: %v", f.Code, swapped, picked)
		}
		if more := has[Change{Kind: OneMore, Feature: f.Code}]; more != (sold && on(&o) && f.Count != nil && max(o.Least, f.Count.Least) < f.Count.Most) {
			t.Fatalf("%s: one more %v", f.Code, more)
		}
	}
}

// randomChoices draws a van of the release and choices for it, of which some
// contradict each other.
func randomChoices(r *rand.Rand, release *Release) (Van, Choices) {
	c := release.catalogue
	base := c.BaseVans[r.Intn(len(c.BaseVans))]
	van := Van{BaseVan: base.Code}
	for _, p := range base.Particulars {
		if r.Intn(3) == 0 {
			van.Particulars = append(van.Particulars, ParticularValue{p.Name, p.Values[r.Intn(len(p.Values))]})
		}
	}
	for _, f := range c.Features {
		if r.Intn(12) == 0 {
			action := Keep
			if f.Removal != nil {
				action = []Action{Keep, Remove, Replace}[r.Intn(3)]
			}
			if f.NotSold && action == Replace {
				action = Keep
			}
			van.Fitted = append(van.Fitted, FittedItem{Feature: f.Code, Count: leastOf(&f), Action: action})
		}
	}
	var choices Choices
	if len(c.Packages) > 0 && r.Intn(2) == 0 {
		p := c.Packages[r.Intn(len(c.Packages))]
		if offered(p.Vans, van.BaseVan) {
			choices.Package = p.Code
		}
	}
	for _, k := range r.Perm(len(c.Features))[:r.Intn(min(12, len(c.Features)))] {
		f := &c.Features[k]
		replaced := slices.ContainsFunc(van.Fitted, func(i FittedItem) bool { return i.Feature == f.Code && i.Action == Replace })
		if !replaced && r.Intn(6) == 0 {
			choices.Features = append(choices.Features, Choice{Refuse: f.Code})
			continue
		}
		n := Choice{Want: f.Code}
		if f.Count != nil && r.Intn(2) == 0 && !f.NotSold {
			n.Count = f.Count.Least + r.Intn(f.Count.Most-f.Count.Least+1)
		}
		choices.Features = append(choices.Features, n)
	}
	for _, f := range c.Finishes {
		if r.Intn(2) == 0 {
			choices.Finishes = append(choices.Finishes, FinishChoice{f.Code, f.Choices[r.Intn(len(f.Choices))].Code})
		}
	}
	return van, choices
}
