package bom

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/options"
)

// provedWith proves the sample catalogue with something changed.
func provedWith(t *testing.T, change func(c *catalogue.Catalogue), p Proving) (*Release, Proof) {
	t.Helper()
	c := toProve(t)
	if change != nil {
		change(c)
	}
	r, faults := Compile(c)
	if len(faults) > 0 {
		t.Fatalf("%v", faults)
	}
	proof, err := Prove(r, p)
	if err != nil {
		t.Fatal(err)
	}
	return r, proof
}

// toProve is the sample catalogue with hours where it has none.
func toProve(t *testing.T) *catalogue.Catalogue {
	t.Helper()
	c := sampleCatalogue(t)
	editFeature(c, "gas_alarm", func(f *catalogue.Feature) {
		f.Lines = append(f.Lines, catalogue.Line{Stage: "gas", Trade: "fitter", Quantity: "0.25"})
	})
	editFeature(c, "spirit_stove", func(f *catalogue.Feature) {
		f.Lines = append(f.Lines, catalogue.Line{Stage: "furniture", Trade: "joiner", Quantity: "0.25"})
	})
	return c
}

func keys(list []Finding) []string {
	var out []string
	for _, f := range list {
		out = append(out, f.Key)
	}
	return out
}

func edit[T any](list []T, code string, of func(*T) string, change func(*T)) {
	for i := range list {
		if of(&list[i]) == code {
			change(&list[i])
			return
		}
	}
	panic("no " + code)
}

func editFeature(c *catalogue.Catalogue, code string, change func(*catalogue.Feature)) {
	edit(c.Features, code, func(f *catalogue.Feature) string { return f.Code }, change)
}

func editGroup(c *catalogue.Catalogue, code string, change func(*catalogue.Group)) {
	edit(c.Groups, code, func(g *catalogue.Group) string { return g.Code }, change)
}

func addRule(c *catalogue.Catalogue, rule catalogue.Rule) {
	rule.Says = "A rule of the test."
	c.Rules = append(c.Rules, rule)
}

func addSafety(c *catalogue.Catalogue, code, ifs, holds string) {
	c.SafetyRules = append(c.SafetyRules, catalogue.SafetyRule{Code: code, If: ifs, Holds: holds, Says: "It is so."})
}

// What each kind of fault comes to: by one change of the sample that causes it
// and as good as nothing else.
func TestProveFinds(t *testing.T) {
	_, was := provedWith(t, nil, Proving{})
	if len(was.Faults()) > 0 {
		t.Fatalf("the sample has faults: %+v", was.Faults())
	}
	for _, c := range []struct {
		name   string
		change func(c *catalogue.Catalogue)
		want   []string // beside what the sample has anyway
	}{
		{"a feature that its rules keep out", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "never", If: "roof_vent", Needs: "lifting_roof"})
		}, []string{"dead_feature:features/roof_vent", "package_contradicts:packages/weekender"}},
		{"a feature that one base van keeps out", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "one", If: "roof_vent && van.wheelbase_mm > 3200", Needs: "windows_only"})
		}, []string{"dead_feature:features/roof_vent:minibus", "package_contradicts:packages/weekender:minibus"}},
		{"a group whose condition never holds", func(c *catalogue.Catalogue) {
			editGroup(c, "furniture", func(g *catalogue.Group) { g.When = "whole_conversion && windows_only" })
		}, []string{"dead_feature:features/bed", "dead_feature:features/galley", "dead_feature:features/gas_hob",
			"group_never_offered:groups/furniture/when", "idle_rule:rules/nothing/if"}[:4]},
		{"a group of which one must be picked and none can", func(c *catalogue.Catalogue) {
			editGroup(c, "roof", func(g *catalogue.Group) { g.Required = "bed" })
			addRule(c, catalogue.Rule{Code: "no_roof_on_beds", If: "bed", Clashes: "roof_vent || lifting_roof"})
		}, []string{"dead_feature:features/bed", "group_unsettleable:groups/roof/required"}},
		{"a rule whose condition never holds", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "idle", If: "gas_hob && spirit_stove", Needs: "bed"})
		}, []string{"idle_rule:rules/idle/if"}},
		{"a rule that others imply", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "again", If: "gas_hob && bed", Needs: "galley"})
		}, []string{"implied_rule:rules/again"}},
		{"a rule that forbids its own condition is no idle one", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "forbids", If: "bed && galley", Clashes: "bed"})
		}, nil},
		{"a safety rule that does not hold", func(c *catalogue.Catalogue) {
			addSafety(c, "beds_have_batteries", "bed", "leisure_battery")
		}, []string{"safety_broken:safety_rules/beds_have_batteries"}},
		{"safety rules that hold", func(c *catalogue.Catalogue) {
			addSafety(c, "gas_has_an_alarm", "gas_hob", "gas_alarm && galley")
			addSafety(c, "always", "", "whole_conversion || windows_only || parts_only")
			addSafety(c, "by_the_van", "lifting_roof", "van.wheelbase_mm < 3200")
		}, nil},
		{"a safety rule that never says anything", func(c *catalogue.Catalogue) {
			addSafety(c, "idle", "gas_hob && spirit_stove", "gas_alarm")
		}, []string{"idle_safety_rule:safety_rules/idle/if"}},
		{"a particular for which there is nothing", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "left", Clashes: `van.steering == "left" && van.wheelbase_mm > 3200`})
		}, []string{"dead_value:base_vans/minibus/particulars/steering:minibus"}},
		{"a choice of a finish that can never be", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "no_oak", Clashes: `finish.worktop == "oak"`})
		}, []string{"dead_choice:finishes/worktop/choices/oak", "implied_rule:rules/oak_hob"}},
		{"more of a feature than there can ever be", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "five", Clashes: "socket >= 6"})
		}, []string{"count_never_reached:features/socket/count/most"}},
		{"a formula that gives no number for some choices", func(c *catalogue.Catalogue) {
			editFeature(c, "socket", func(f *catalogue.Feature) { f.Lines[1].Quantity = "4.5 / (5 - socket)" })
		}, []string{"formula_broken:features/socket/lines/2/quantity"}},
		{"a quantity that no van takes", func(c *catalogue.Catalogue) {
			editFeature(c, "bed", func(f *catalogue.Feature) { f.Lines[2].Quantity = "van.load_length_mm * 0.6" })
		}, []string{"bad_quantity:parts/ply_9"}},
		{"something fitted where nobody works", func(c *catalogue.Catalogue) {
			editFeature(c, "spirit_stove", func(f *catalogue.Feature) { f.Lines = f.Lines[:1] })
		}, []string{"stage_without_hours:stages/furniture"}},
		{"a must that is never met", func(c *catalogue.Catalogue) {
			c.Checks = append(c.Checks, catalogue.Check{Code: "impossible", Name: "Impossible", Grade: catalogue.Must,
				Figure: "sheet.hours", Sense: catalogue.AtMost, Limit: "0 - 1", Unit: "h", Says: "No.", Remedy: "No."})
		}, []string{"check_never_met:checks/impossible"}},
		{"rules that allow nothing on one base van", func(c *catalogue.Catalogue) {
			addRule(c, catalogue.Rule{Code: "no", Clashes: "van.wheelbase_mm > 3200"})
		}, []string{"nothing_allowed:base_vans/minibus:minibus"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, proof := provedWith(t, c.change, Proving{})
			got := slices.DeleteFunc(keys(proof.Findings), func(k string) bool { return slices.Contains(keys(was.Findings), k) })
			want := slices.Clone(c.want)
			slices.Sort(got)
			slices.Sort(want)
			if !slices.Equal(got, want) {
				t.Errorf("found %q, want %q", got, want)
			}
			for _, f := range proof.Findings {
				if f.Says == "" || f.Remedy == "" || strings.Contains(f.Says, "{") || strings.Contains(f.Says, "%!") {
					t.Errorf("%s: %q %q", f.Key, f.Says, f.Remedy)
				}
				shownAgain(t, r, &f)
			}
		})
	}
}

// shownAgain runs the example of a finding again: it resolves clean and shows
// what it is an example of, and no choice can be left out of it.
func shownAgain(t *testing.T, r *Release, f *Finding) {
	t.Helper()
	if f.Example == nil {
		if f.Code == SafetyBroken || f.Times > 0 {
			t.Errorf("%s has no example", f.Key)
		}
		return
	}
	shows := func(e Example) bool {
		res, faults, err := Resolve(r, e.Van, e.Choices, e.Settle)
		if err != nil || len(faults) > 0 || !res.Specification.Allowed || !res.Specification.Settled {
			return false
		}
		sheet := Expand(r, res.Specification)
		switch f.Code {
		case SafetyBroken:
			has := func(code string) bool {
				return slices.ContainsFunc(res.Specification.Features, func(s SpecifiedFeature) bool { return s.Code == code })
			}
			return has("bed") && !has("leisure_battery")
		case BrokenInProof:
			return slices.ContainsFunc(sheet.Broken, func(b BrokenFormula) bool { return b.At == f.At })
		case BadQuantity:
			return slices.ContainsFunc(sheet.Lines, func(l Line) bool { return "parts/"+l.Code == f.At && l.Quantity.IntPart() > 500 })
		case StageWithoutHours:
			return slices.ContainsFunc(sheet.Stages, func(s StageTotal) bool {
				return "stages/"+s.Stage == f.At && s.Lines > 0 && s.Hours.IsZero()
			})
		case CheckNeverMet:
			return slices.ContainsFunc(sheet.Checks, func(c CheckResult) bool { return "checks/"+c.Code == f.At && !c.Met })
		}
		return true
	}
	if f.Code == PackageContradicts {
		return
	}
	if !shows(*f.Example) {
		t.Errorf("%s: %+v does not show it", f.Key, *f.Example)
		return
	}
	if f.Code == CheckNeverMet {
		return
	}
	for i := range f.Example.Choices.Features {
		less := *f.Example
		less.Choices.Features = slices.Delete(slices.Clone(less.Choices.Features), i, i+1)
		if shows(less) {
			t.Errorf("%s: %+v can be left out of %+v", f.Key, f.Example.Choices.Features[i], f.Example.Choices.Features)
		}
	}
}

// A safety rule holds over vans whatever is fitted to them, not only over what
// is sold.
func TestSafetyHoldsOnVansThatHadIt(t *testing.T) {
	_, proof := provedWith(t, func(c *catalogue.Catalogue) {
		addSafety(c, "galleys_go_with_conversions", "galley", "whole_conversion")
	}, Proving{})
	f := proof.Findings[0]
	if f.Code != SafetyBroken || f.Example == nil || len(f.Example.Van.Fitted) != 1 ||
		f.Example.Van.Fitted[0] != (FittedItem{Feature: "galley", Count: 1, Action: Keep}) || !strings.Contains(f.Says, "had some of it before") {
		t.Errorf("%+v, %+v", f, f.Example)
	}
}

// A Look sees every specimen; what it finds is told with an example cut down to
// what shows it.
func TestProveLooks(t *testing.T) {
	specimens := 0
	_, proof := provedWith(t, nil, Proving{Look: func(s Specification, sheet Sheet) []Seen {
		specimens++
		if !s.Allowed || !s.Settled || len(sheet.Broken) > 0 {
			t.Errorf("not a specification to price: %+v", s)
		}
		if slices.ContainsFunc(s.Features, func(f SpecifiedFeature) bool { return f.Code == "socket" && f.Count == 6 }) {
			return []Seen{{Code: "six", At: "features/socket", Says: "Six.", Remedy: "Fewer."}}
		}
		return nil
	}})
	expanded := 0
	for _, v := range proof.Vans {
		expanded += v.Specimens
	}
	if specimens < expanded || expanded < 20 {
		t.Errorf("%d specimens were looked at, %d expanded", specimens, expanded)
	}
	f := proof.Faults()[0]
	if f.Key != "six:features/socket" || f.Times < 2 || !slices.Contains(f.Example.Choices.Features, Choice{Want: "socket", Count: 6}) {
		t.Fatalf("%+v", f)
	}
	for _, c := range f.Example.Choices.Features {
		if !slices.Contains([]string{"socket", "leisure_battery", "windows_only", "whole_conversion", "parts_only"}, c.Want) {
			t.Errorf("%v is not needed to have six sockets", c)
		}
	}
}

// The same release gives the same proof, and it comes back from JSON.
func TestProofIsTheSameAgain(t *testing.T) {
	change := func(c *catalogue.Catalogue) {
		addSafety(c, "beds_have_batteries", "bed", "leisure_battery")
		addRule(c, catalogue.Rule{Code: "five", Clashes: "socket >= 6"})
	}
	_, a := provedWith(t, change, Proving{})
	_, b := provedWith(t, change, Proving{})
	one, err := json.MarshalIndent(a, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	if two, _ := json.MarshalIndent(b, "", "  "); string(one) != string(two) {
		t.Errorf("two proofs differ:\n%s\n%s", one, two)
	}
	var again Proof
	if err := json.Unmarshal(one, &again); err != nil {
		t.Fatal(err)
	}
	if three, _ := json.MarshalIndent(again, "", "  "); string(three) != string(one) {
		t.Errorf("read again it is\n%s\nand not\n%s", three, one)
	}
}

// How many specifications there are, told by hand for one that is small: two
// features in a group of which at most one is picked, one counted to three.
func TestProofCounts(t *testing.T) {
	_, proof := provedWith(t, func(c *catalogue.Catalogue) {
		c.Groups = []catalogue.Group{{Code: "one", Name: "One", Stage: "wiring", Pick: catalogue.AtMostOne}, {Code: "any", Name: "Any", Stage: "wiring", Pick: catalogue.AnyNumber}}
		c.Features = []catalogue.Feature{{Code: "a", Name: "A", Group: "one"}, {Code: "b", Name: "B", Group: "one"},
			{Code: "c", Name: "C", Group: "any", Count: &catalogue.Count{Least: 1, Most: 3}}}
		c.Rules, c.Packages, c.Finishes, c.Checks, c.Figures = nil, nil, nil, nil, nil
		for i := range c.BaseVans {
			c.BaseVans[i].Fitted = nil
		}
		for i := range c.Stages {
			c.Stages[i].Lines = nil
		}
		c.Kits, c.Parts = nil, c.Parts[:1]
	}, Proving{})
	// 3 of the group, 4 of the counted one, 2 x 2 x 2 particulars.
	for _, v := range proof.Vans {
		if v.Specifications != "96" || v.AtLeast {
			t.Errorf("%s: %s specifications (at least %v), by hand 96", v.BaseVan, v.Specifications, v.AtLeast)
		}
	}
}

func TestProveStopsWhereItIsTold(t *testing.T) {
	r := sample(t)
	var parts []ProofPart
	if _, err := Prove(r, Proving{Progress: func(s ProofStep) bool {
		if s.BaseVan == "short" && (len(parts) == 0 || parts[len(parts)-1] != s.Doing) {
			parts = append(parts, s.Doing)
		}
		if s.Done < 0 || s.Done > s.Of {
			t.Errorf("%+v", s)
		}
		return true
	}}); err != nil {
		t.Fatal(err)
	}
	if want := []ProofPart{ProvingRules, CountingThem, CoveringPairs, ExpandingThem}; !slices.Equal(parts, want) {
		t.Errorf("parts %v, want %v", parts, want)
	}
	for _, part := range parts {
		_, err := Prove(r, Proving{Progress: func(s ProofStep) bool { return s.Doing != part }})
		if !errors.Is(err, options.ErrStopped) {
			t.Errorf("stopped at %s: %v", part, err)
		}
	}
}

// A proof that runs out of work says so, and finds no fault that is none.
func TestProveRunsOutOfWork(t *testing.T) {
	c := toProve(t)
	addSafety(c, "gas_has_an_alarm", "gas_hob", "gas_alarm")
	r, faults := Compile(c)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	for _, work := range []int64{1, 200, 400, 800, 1_600, 3_200} {
		proof, err := Prove(r, Proving{Work: work, CountWork: 1})
		if err != nil {
			t.Fatal(err)
		}
		if work < 800 && proof.Publishable() {
			t.Errorf("work %d: it may be published", work)
		}
		for _, f := range proof.Findings {
			if f.Grade != FindingNote && f.Code != NotProved {
				t.Errorf("work %d: %+v", work, f)
			}
		}
		for _, v := range proof.Vans {
			if v.Specifications != "0" && !v.AtLeast {
				t.Errorf("work %d: %s specifications, counted with no work", work, v.Specifications)
			}
		}
	}
}

func TestAcknowledge(t *testing.T) {
	_, proof := provedWith(t, func(c *catalogue.Catalogue) {
		addRule(c, catalogue.Rule{Code: "five", Clashes: "socket >= 6"})
		addSafety(c, "beds_have_batteries", "bed", "leisure_battery")
	}, Proving{})
	const warning = "count_never_reached:features/socket/count/most"
	if got := keys(proof.Unacknowledged()); !slices.Equal(got, []string{warning}) {
		t.Fatalf("warnings %q", got)
	}
	was := proof
	for name, list := range map[string][]Acknowledgement{
		"unknown_code":  {{"count_never_reached:features/sockets/count/most", "A reason."}},
		"not_a_warning": {{"safety_broken:safety_rules/beds_have_batteries", "A reason."}},
		"missing_value": {{warning, "  "}},
		"given_twice":   {{warning, "A reason."}, {warning, "Another."}},
		"too_long":      {{warning, strings.Repeat("x", MaxReason+1)}},
		"bad_text":      {{warning, "A\x00reason."}},
		"too_many":      make([]Acknowledgement, MaxAcknowledgements+1),
	} {
		faults := proof.Acknowledge(list)
		if len(faults) == 0 || faults[0].Code != name || !reflect.DeepEqual(proof, was) {
			t.Errorf("%s: %v", name, faults)
		}
	}
	if faults := proof.Acknowledge([]Acknowledgement{{warning, "The sixth socket comes in May."}}); len(faults) > 0 {
		t.Fatal(faults)
	}
	if len(proof.Unacknowledged()) != 0 || len(proof.Acknowledged) != 1 {
		t.Errorf("%+v", proof.Acknowledged)
	}
	if proof.Publishable() {
		t.Error("with a safety rule broken it may be published")
	}
	if faults := proof.Acknowledge([]Acknowledgement{{warning, "Again."}}); len(faults) != 1 || faults[0].Code != "given_twice" {
		t.Errorf("a second time: %v", faults)
	}
}

// What was acknowledged for an earlier release is taken over where the warning
// is the same; what this proof has a word on keeps that, and what is mended or
// a fault by now is let go.
func TestCarryOver(t *testing.T) {
	_, proof := provedWith(t, func(c *catalogue.Catalogue) {
		addRule(c, catalogue.Rule{Code: "five", Clashes: "socket >= 6"})
		addSafety(c, "idle", "bed && !bed", "leisure_battery")
		addSafety(c, "beds_have_batteries", "bed", "leisure_battery")
	}, Proving{})
	const count, idle, broken = "count_never_reached:features/socket/count/most", "idle_safety_rule:safety_rules/idle/if", "safety_broken:safety_rules/beds_have_batteries"
	if got := keys(proof.Unacknowledged()); len(got) != 2 {
		t.Fatalf("warnings %q", got)
	}
	if faults := proof.Acknowledge([]Acknowledgement{{count, "Now."}}); len(faults) > 0 {
		t.Fatal(faults)
	}
	shared := proof
	proof.CarryOver([]Acknowledgement{{count, "Then."}, {idle, "Then."}, {broken, "Then."}, {"check_never_met:checks/gone", "Then."}})
	if want := []Acknowledgement{{count, "Now."}, {idle, "Then."}}; !slices.Equal(proof.Acknowledged, want) {
		t.Errorf("acknowledged %+v", proof.Acknowledged)
	}
	if len(shared.Acknowledged) != 1 || len(proof.Unacknowledged()) != 0 {
		t.Errorf("the proof it was made from has %+v", shared.Acknowledged)
	}
}

// Keys and sentences stay short however many base vans a catalogue has, and
// other base vans are another warning.
func TestManyBaseVansInAKey(t *testing.T) {
	proofOn := func(vans, of int) Finding {
		p := Proof{Findings: []Finding{{Grade: FindingWarning, Code: CheckNeverMet, At: "checks/payload", Says: "Not on " + thoseVans + "."}}}
		for i := range of {
			code := fmt.Sprintf("base_van_number_%05d", i)
			p.Vans = append(p.Vans, VanProof{BaseVan: code, Name: "Van " + code})
			if i < vans {
				p.Findings[0].BaseVans = append(p.Findings[0].BaseVans, code)
			}
		}
		p.finish()
		return p.Findings[0]
	}
	short, long, other := proofOn(2, 1_000), proofOn(998, 1_000), proofOn(999, 1_000)
	if short.Key != "check_never_met:checks/payload:base_van_number_00000,base_van_number_00001" {
		t.Errorf("of two: %s", short.Key)
	}
	if len(long.Key) > 200 || long.Key == other.Key || len(long.Says) > 2_000 || !strings.HasSuffix(long.Says, " or any of 978 others.") {
		t.Errorf("of many: %s, %s", long.Key, long.Says)
	}
	if proofOn(20, 1_000).Says == proofOn(21, 1_000).Says || strings.Contains(proofOn(20, 1_000).Says, "others") {
		t.Error("twenty are named one by one")
	}
}
