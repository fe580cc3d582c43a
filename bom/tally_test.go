package bom

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

// told writes a tally down, place by place, as it changes the one before.
func (t *Tally) told(r *Release, before map[string]string) map[string]string {
	all := map[string]string{}
	maps.Copy(all, before)
	for _, n := range t.Places {
		at := fmt.Sprintf("%v", r.Places()[n.Place])
		if delete(all, at); len(n.Asked) > 0 {
			all[at] = fmt.Sprintf("%s %v", n.Quantity.Decimal(), n.Asked)
		}
	}
	return all
}

// totals are the numbers beside the places.
func (t *Tally) totals() string {
	return fmt.Sprintf("%s h, net %s kg, left %s kg, masses %v, broken %v, checks %v", t.Hours(), t.NetKG(), t.LeftKG(), t.masses, t.Broken, t.Checks)
}

// sameAsSheet holds a whole tally against the sheet.
func sameAsSheet(t interface{ Fatalf(string, ...any) }, r *Release, tally *Tally, s Specification) {
	sheet := Expand(r, s)
	lines := slices.DeleteFunc(slices.Clone(sheet.Lines), func(l Line) bool { return l.Unproved })
	if len(lines) != len(tally.Places) {
		t.Fatalf("%d places, the sheet has %d lines", len(tally.Places), len(lines))
	}
	for i, n := range tally.Places {
		l, p := &lines[i], r.Places()[n.Place]
		if p != (Place{l.Stage, l.Kind, l.Code, l.Finish, l.Name, l.Unit}) || !n.Quantity.Decimal().Equal(l.Quantity) || len(n.Asked) != len(l.Because) {
			t.Fatalf("%v %s, the sheet has %+v", p, n.Quantity.Decimal(), l)
		}
		for k, a := range n.Asked {
			b, feature, addition := l.Because[k], "", ""
			if a.Feature >= 0 {
				feature = r.featureCodes[a.Feature]
			}
			if a.Addition > 0 {
				addition = s.Additions[a.Addition-1].Code
			}
			if b.Feature != feature || b.Addition != addition || b.Removal != a.Removal || !b.Quantity.Equal(a.Quantity.Decimal()) {
				t.Fatalf("%v: %+v, the sheet has %+v", p, a, b)
			}
		}
	}
	var checks []TalliedCheck
	for _, c := range r.sheet.checks {
		code := r.catalogue.Checks[c.index].Code
		k := find(sheet.Checks, func(c CheckResult) bool { return c.Code == code })
		checks = append(checks, TalliedCheck{k >= 0, k >= 0 && sheet.Checks[k].Met})
	}
	if m := tally.masses; !m.after.rear.decimal().Equal(sheet.Mass.After.RearKG) || !m.frontMost.decimal().Equal(sheet.Mass.Most.FrontKG) ||
		!m.laden.front().decimal().Equal(sheet.Mass.Laden.FrontKG) || !m.running.total.decimal().Equal(sheet.Mass.InRunningOrder.TotalKG()) {
		t.Fatalf("%+v; the sheet has %+v", m, sheet.Mass)
	}
	if !tally.Hours().Equal(sheet.Hours) || !tally.NetKG().Equal(sheet.Mass.AddedKG.Sub(sheet.Mass.RemovedKG)) || !tally.LeftKG().Equal(sheet.Mass.LeftKG) ||
		tally.Broken != (len(sheet.Broken) > 0) || !slices.Equal(tally.Checks, checks) {
		t.Fatalf("%s; the sheet has %s h, %+v, broken %v, %+v", tally.totals(), sheet.Hours, sheet.Mass, sheet.Broken, sheet.Checks)
	}
}

// widened adds to a random catalogue what reads numbers and picks in other ways:
// finishes, conditions, standing time, outside work, removals, checks.
func widened(t *rapid.T, c *catalogue.Catalogue) *catalogue.Catalogue {
	glue := &c.Parts[5] // by the hours of either trade
	glue.Rates = append(glue.Rates, catalogue.Rate{Trade: "fitter", PerHour: dec("7")})
	c.Parts[2].Unit, c.Parts[2].Decimals = c.Parts[1].Unit, c.Parts[1].Decimals
	c.Finishes = []catalogue.Finish{{Code: "cloth", Name: "Cloth", Choices: []catalogue.FinishChoice{
		{Code: "plain", Name: "Plain", Part: "p1"}, {Code: "hide", Name: "Hide", Part: "p2"}}}}
	c.OutsideWork = []catalogue.OutsideWork{{Code: "test", Name: "Test", Certificate: "Paper"}}
	formulas := []string{"1", "fit.f2 + 1", "twice_count", "fit.f0", "f3 == 2 ? 3 : 0"}
	if c.Features[3].Count == nil {
		formulas[4] = "f3 ? 3 : 0"
	}
	draw := func() string { return anyOf(t, "wide quantity", formulas) }
	for _, list := range []*[]catalogue.Line{&c.Features[0].Lines, &c.Features[4].Lines, &c.Stages[1].Lines} {
		stage := anyOf(t, "stage", []string{"work", "later"})
		if list == &c.Stages[1].Lines {
			stage = "later"
		}
		for _, l := range []catalogue.Line{{Finish: "cloth"}, {Standing: true}, {Outside: "test"}, {Trade: "fitter"},
			{Part: "p4", When: anyOf(t, "when", []string{"twice_count > 3", `finish.cloth == "hide"`, "fit.f2 > 0"})}} {
			if rapid.Bool().Draw(t, "has it") {
				l.Stage, l.Quantity = stage, draw()
				*list = append(*list, l)
			}
		}
	}
	c.Features[5].Removal = &catalogue.Removal{MassKG: dec("2.5"), Lines: []catalogue.Line{
		{Stage: "work", Trade: "joiner", Quantity: draw()}, {Stage: "later", Part: "p3", Quantity: draw(), Once: true}}}
	c.Checks = []catalogue.Check{
		{Code: "mass", Name: "Mass", Grade: catalogue.Must, Figure: "sheet.mass_kg", Sense: catalogue.AtMost, Limit: "twice_count + 5", Unit: "kg", Says: "Heavy.", Remedy: "Less."},
		{Code: "rear", Name: "Rear", Grade: catalogue.Must, Figure: "sheet.rear_most_kg - sheet.unladen_front_kg", Sense: catalogue.AtMost, Limit: "sheet.laden_kg - van.plated_rear_kg", Unit: "kg", NearPercent: dec("5"), Says: "Heavy.", Remedy: "Less."},
		{Code: "hours", Name: "Hours", Grade: catalogue.Should, When: "fit.f1 > 1", Figure: "sheet.hours", Sense: catalogue.AtLeast, Limit: "3", Unit: "h", Says: "Few.", Remedy: "More."},
	}
	seated(t, c)
	if anyOf(t, "supplied", []int{0, 0, 0, 1}) == 1 {
		c.Features[2].SupplyOnly = true
	}
	return c
}

// TestTallyIsSheet: what a specification comes to in numbers is what its sheet
// says, and what is worked out of a change is what it comes to from the
// beginning.
func TestTallyIsSheet(t *testing.T) {
	inPart, anew := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := widened(t, randomCatalogue(t))
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatalf("does not compile: %v", faults)
		}
		specify := func() Specification {
			s := randomSpecification(t, c)
			s.Finishes = []SpecifiedFinish{{Finish: "cloth", Choice: anyOf(t, "cloth", []string{"", "plain", "hide"})}}
			return s
		}
		first := specify()
		if rapid.Bool().Draw(t, "weighed") {
			front, rear := dec("1101.5"), dec("903")
			first.Van.WeighedFrontKG, first.Van.WeighedRearKG = &front, &rear
			if rapid.Bool().Draw(t, "with people") {
				first.Van.WeighedPeopleCount = 2
			}
		}
		if rapid.Bool().Draw(t, "taken out") {
			first.Removed = []RemovedFeature{{Code: "f5", Count: rapid.IntRange(1, 3).Draw(t, "how many")}}
		}
		if rapid.Bool().Draw(t, "added to") {
			first.Additions = []Addition{{Code: "extra", Kind: OneOff, Words: "Extra", Quantity: 2, Stage: "later",
				MassKG: dec("-3.1")}}
			first.Additions[0].Position = anyOf(t, "sitting at", []string{"", "nose", "tail"})
			if rapid.Bool().Draw(t, "worked on") {
				first.Additions[0].Hours = []AdditionHours{{Trade: "joiner", Hours: dec("1.25")}}
			}
			if rapid.Bool().Draw(t, "own") {
				first.Additions[0].Kind, first.Additions[0].InPlaceOf, first.Additions[0].MassKG = CustomersOwn, "p0", dec("1")
			}
		}
		counting := r.counting(&first)
		defer counting.end()
		sameAsSheet(t, r, &counting.first, first)
		before := counting.first.told(r, nil)
		for range 6 {
			other := specify()
			other.Van, other.Removed, other.Additions = first.Van, first.Removed, first.Additions
			changed := counting.change(&other)
			if p := counting.tally.Places; len(changed.Places) > 0 && len(p) > 0 && &changed.Places[0] == &p[0] {
				inPart++
			} else {
				anew++
			}
			if !slices.IsSortedFunc(changed.Places, func(a, b Tallied) int { return a.Place - b.Place }) {
				t.Fatalf("out of order: %v", changed.Places)
			}
			alone := r.counting(&other)
			now, want := changed.told(r, before), alone.first.told(r, nil)
			if fmt.Sprint(now) != fmt.Sprint(want) || changed.totals() != alone.first.totals() {
				t.Fatalf("%v\n%s\nfrom the beginning:\n%v\n%s", now, changed.totals(), want, alone.first.totals())
			}
			alone.end()
		}
		sameAsSheet(t, r, &counting.first, first)
	})
	t.Logf("%d in part, %d from the beginning", inPart, anew)
	if inPart*3 < anew {
		t.Error("too few were worked out in part to say anything")
	}
}
