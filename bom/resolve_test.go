package bom

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/options"
)

func said(s Specification, code string) *SpecifiedFeature {
	if i := slices.IndexFunc(s.Features, func(f SpecifiedFeature) bool { return f.Code == code }); i >= 0 {
		return &s.Features[i]
	}
	return nil
}

// Everything wrong with a van and choices is said at once, each at its place
// with what would mend it.
func TestFaultsOfWhatIsAsked(t *testing.T) {
	r := sample(t)
	kg := func(s string) *decimal.Decimal { d := dec(s); return &d }
	for _, test := range []struct {
		name    string
		van     Van
		choices Choices
		settle  Settle
		want    []string // code at path: part of reason or remedy
	}{
		{name: "no base van", want: []string{"missing_code van/base_van: Give its code."}},
		{name: "unknown base van", van: Van{BaseVan: "shrt"}, want: []string{`unknown_code van/base_van: Did you mean "short"?`}},
		{name: "unknown feature", van: Van{BaseVan: "short"}, choices: Choices{Features: wants("whole_conversion", "gas_hop")},
			want: []string{`unknown_code choices/features/2/want: Did you mean "gas_hob"?`}},
		{name: "unknown refused", van: Van{BaseVan: "short"}, choices: Choices{Features: []Choice{{Refuse: "bad"}}},
			want: []string{`unknown_code choices/features/1/refuse: Did you mean "bed"?`}},
		{name: "nothing wanted", van: Van{BaseVan: "short"}, choices: Choices{Features: []Choice{{}, {Want: "bed", Refuse: "bed"}}},
			want: []string{"not_exactly_one choices/features/1: exactly one", "not_exactly_one choices/features/2: exactly one"}},
		{name: "count out of range", van: Van{BaseVan: "short"},
			choices: Choices{Features: []Choice{{Want: "socket", Count: 7}, {Want: "bed", Count: 2}, {Want: "side_window", Count: -1}, {Refuse: "galley", Count: 1}}},
			want: []string{"out_of_range choices/features/1/count: from 1 to 6", "out_of_range choices/features/2/count: there or not",
				"out_of_range choices/features/3/count: from 1 to 4", "contradiction choices/features/4/count: no count"}},
		{name: "said twice", van: Van{BaseVan: "short"},
			choices: Choices{Features: []Choice{{Want: "bed"}, {Refuse: "bed"}, {Want: "socket", Count: 2}, {Want: "socket", Count: 3}, {Want: "galley"}, {Want: "galley"}}},
			want:    []string{"contradiction choices/features/2: both wanted and refused", "contradiction choices/features/4: 2 times and 3 times"}},
		{name: "finishes", van: Van{BaseVan: "short"},
			choices: Choices{Finishes: []FinishChoice{{"fabrik", "wool"}, {"fabric", "silk"}, {"worktop", "oak"}, {"worktop", "white"}}},
			want: []string{`unknown_code choices/finishes/1/finish: Did you mean "fabric"?`, "unknown_code choices/finishes/2/choice: wool, cord",
				"contradiction choices/finishes/4: chosen twice"}},
		{name: "package", van: Van{BaseVan: "short"}, choices: Choices{Package: "weekend"},
			want: []string{`unknown_code choices/package: Did you mean "weekender"?`}},
		{name: "particulars", van: Van{BaseVan: "short", Particulars: []ParticularValue{{"stearing", "left"}, {"steering", "middle"}, {"rear_doors", "twin"}, {"rear_doors", "tailgate"}}},
			want: []string{`unknown_code van/particulars/1/name: Did you mean "steering"?`, "unknown_value van/particulars/2/value: right, left",
				"given_twice van/particulars/4: twice"}},
		{name: "the single van", van: Van{BaseVan: "short", New: true, Registration: "AB12 CDE", Year: 1066, MileageMiles: -1, VIN: strings.Repeat("X", 18), WeighedFrontKG: kg("0")},
			want: []string{"contradiction van: Only one axle", "out_of_range van/mileage_miles: ", "contradiction van/registration: not registered",
				"too_long van/vin: at most 17", "out_of_range van/weighed_front_kg: ", "out_of_range van/year: 1066"}},
		{name: "no van, described", van: Van{BaseVan: "short", None: true, Registration: "AB12 CDE"}, want: []string{"contradiction van/none: there is no van"}},
		{name: "fitted", van: Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "bench_seet", Action: Keep}, {Feature: "side_window", Action: "drop"},
			{Feature: "bed", Action: Remove}, {Feature: "bench_seat", Count: 3, Action: Absent}, {Feature: "galley", Count: 2, Action: Keep}}},
			want: []string{"contradiction van/fitted: comes with 2", `unknown_code van/fitted/1/feature: Did you mean "bench_seat"?`,
				"unknown_word van/fitted/2/action: keep, remove, replace, absent", "not_removable van/fitted/3/action: cannot be taken out",
				"out_of_range van/fitted/5/count: there or not"}},
		{name: "fitted twice", van: Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Action: Remove}, {Feature: "side_window", Action: Remove}}},
			want: []string{"given_twice van/fitted/2: said twice"}},
		{name: "replaced and refused", van: Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Action: Replace}}},
			choices: Choices{Features: []Choice{{Refuse: "side_window"}}}, want: []string{"contradiction van/fitted: replaced by a new one, and is refused"}},
		{name: "not sold", van: Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "bench_seat", Action: Replace}}},
			choices: Choices{Features: []Choice{{Want: "bench_seat", Count: 2}}},
			want:    []string{"not_sold choices/features/1/count: keeps 0", "not_sold van/fitted: no new one"}},
		{name: "settle", van: Van{BaseVan: "short"}, settle: "somehow", want: []string{`unknown_word settle: by defaults`}},
		{name: "one too many", van: Van{BaseVan: "short"}, choices: Choices{Features: make([]Choice, MaxChoices+1)},
			want: []string{"too_many choices/features: at most 2000"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, faults, err := Resolve(r, test.van, test.choices, test.settle)
			if err != nil {
				t.Fatal(err)
			}
			for i, f := range faults {
				if f.Reason == "" || f.Remedy == "" {
					t.Errorf("%s has no reason or no remedy: %+v", f.At, f)
				}
				if i >= len(test.want) {
					t.Errorf("too many: %v", f)
					continue
				}
				head, part, _ := strings.Cut(test.want[i], ": ")
				if f.Code+" "+f.At != head || !strings.Contains(f.Reason+" "+f.Remedy, part) {
					t.Errorf("fault %d: %s %s: %s %s\nwant %s", i+1, f.Code, f.At, f.Reason, f.Remedy, test.want[i])
				}
			}
			if len(faults) < len(test.want) {
				t.Errorf("only %d faults of %d", len(faults), len(test.want))
			}
		})
	}
}

// A flood of unknown codes is cut, and says how many more there are.
func TestFloodOfFaults(t *testing.T) {
	choices := Choices{Features: make([]Choice, MaxChoices)}
	for i := range choices.Features {
		choices.Features[i].Want = fmt.Sprintf("unknown%d", i)
	}
	_, faults, _ := Resolve(sample(t), Van{BaseVan: "short"}, choices, SettleNothing)
	if n := len(faults); n != document.MaxFaults+1 || faults[n-1].Code != "more_faults" || !strings.HasPrefix(faults[n-1].Reason, "1800 ") {
		t.Errorf("%d faults, the last %+v", n, faults[n-1])
	}
}

// The most choices there may be are answered.
func TestAsManyChoicesAsAllowed(t *testing.T) {
	choices := Choices{Features: make([]Choice, MaxChoices)}
	for i := range choices.Features {
		choices.Features[i].Want = "bed"
	}
	if s := resolved(t, sample(t), Van{BaseVan: "short"}, choices, SettleByDefaults).Specification; said(s, "bed") == nil {
		t.Errorf("bed was wanted %d times and is not there", MaxChoices)
	}
}

func TestWhatTheVanHas(t *testing.T) {
	r := sample(t)
	for _, test := range []struct {
		name    string
		van     Van
		choices []Choice
		want    []string // CODE count/fit standing, or gone:CODE count
	}{
		{"a minibus keeps what it has", Van{BaseVan: "minibus"}, wants("windows_only"),
			[]string{"windows_only 1/1 chosen", "bench_seat 2/0 already there", "side_window 2/0 already there"}},
		{"one window more", Van{BaseVan: "minibus"}, append(wants("windows_only"), Choice{Want: "side_window", Count: 3}),
			[]string{"windows_only 1/1 chosen", "bench_seat 2/0 already there", "side_window 3/1 chosen"}},
		{"wanting what is there fits nothing", Van{BaseVan: "minibus"}, wants("windows_only", "side_window"),
			[]string{"windows_only 1/1 chosen", "bench_seat 2/0 already there", "side_window 2/0 already there"}},
		{"seats taken out", Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "bench_seat", Action: Remove}}}, wants("windows_only"),
			[]string{"windows_only 1/1 chosen", "side_window 2/0 already there", "gone:bench_seat 2"}},
		{"one of two seats taken out", Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "bench_seat", Count: 1, Action: Remove}}}, wants("windows_only"),
			[]string{"windows_only 1/1 chosen", "bench_seat 1/0 already there", "side_window 2/0 already there", "gone:bench_seat 1"}},
		{"one window replaced", Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Count: 1, Action: Replace}}}, wants("windows_only"),
			[]string{"windows_only 1/1 chosen", "bench_seat 2/0 already there", "side_window 2/1 chosen", "gone:side_window 1 replaced"}},
		{"both windows replaced", Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Action: Replace}}}, wants("windows_only"),
			[]string{"windows_only 1/1 chosen", "bench_seat 2/0 already there", "side_window 2/2 chosen", "gone:side_window 2 replaced"}},
		{"both windows replaced and two more", Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Action: Replace}}},
			append(wants("windows_only"), Choice{Want: "side_window", Count: 4}),
			[]string{"windows_only 1/1 chosen", "bench_seat 2/0 already there", "side_window 4/4 chosen", "gone:side_window 2 replaced"}},
		{"this one has no seats and three windows", Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "bench_seat", Action: Absent}, {Feature: "side_window", Count: 3, Action: Keep}}},
			wants("windows_only"), []string{"windows_only 1/1 chosen", "side_window 3/0 already there"}},
		{"a second-hand panel van with a window", Van{BaseVan: "short", Fitted: []FittedItem{{Feature: "side_window", Action: Keep}}},
			append(wants("windows_only"), Choice{Want: "side_window", Count: 2}),
			[]string{"windows_only 1/1 chosen", "side_window 2/1 chosen"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := resolved(t, r, test.van, Choices{Features: test.choices}, SettleByDefaults).Specification
			if !s.Allowed || !s.Settled {
				t.Errorf("allowed %v, settled %v", s.Allowed, s.Settled)
			}
			var got []string
			for _, f := range s.Features {
				got = append(got, fmt.Sprintf("%s %d/%d %s", f.Code, f.Count, f.Fit, f.Standing))
			}
			for _, f := range s.Removed {
				got = append(got, strings.TrimSuffix(fmt.Sprintf("gone:%s %d %s", f.Code, f.Count, map[bool]string{true: "replaced"}[f.Replaced]), " "))
			}
			if !slices.Equal(got, test.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(test.want, "\n"))
			}
		})
	}
}

func TestPackages(t *testing.T) {
	r := sample(t)
	for _, test := range []struct {
		name    string
		van     string
		choices []Choice
		changes []PackageChange
		in      string // features in the package
	}{
		{"as it is", "short", nil, nil, "whole_conversion side_window roof_vent leisure_battery socket spirit_stove"},
		{"more of an item changes nothing in it", "short", []Choice{{Want: "socket", Count: 5}}, nil,
			"whole_conversion side_window roof_vent leisure_battery socket spirit_stove"},
		{"an item refused", "short", []Choice{{Refuse: "roof_vent"}}, []PackageChange{{Item: "roof_vent", Count: 1}},
			"whole_conversion side_window leisure_battery socket spirit_stove"},
		{"fewer of an item", "short", []Choice{{Want: "socket", Count: 1}}, []PackageChange{{Item: "socket", Count: 2}},
			"whole_conversion side_window roof_vent leisure_battery socket spirit_stove"},
		{"another of its group", "short", wants("lifting_roof"), []PackageChange{{Item: "roof_vent", Count: 1, SwapFor: "lifting_roof"}},
			"whole_conversion side_window leisure_battery socket spirit_stove"},
		{"what a refusal keeps out goes too", "short", []Choice{{Refuse: "leisure_battery"}},
			[]PackageChange{{Item: "leisure_battery", Count: 1}, {Item: "socket", Count: 3}}, "whole_conversion side_window roof_vent spirit_stove"},
		{"what the van has", "minibus", nil, []PackageChange{{Item: "side_window", Count: 2, AlreadyThere: true}},
			"whole_conversion roof_vent leisure_battery socket spirit_stove"},
	} {
		t.Run(test.name, func(t *testing.T) {
			res := resolved(t, r, Van{BaseVan: test.van}, Choices{Package: "weekender", Features: test.choices}, SettleByDefaults)
			s := res.Specification
			for _, p := range res.Answer.PutAside {
				// What was decided by the customer is no conflict to be told of.
				if c := res.Said[p.Choice]; c.Feature != "socket" {
					t.Errorf("put aside: %+v", c)
				}
			}
			if !slices.Equal(s.PackageChanges, test.changes) {
				t.Errorf("changes %+v, want %+v", s.PackageChanges, test.changes)
			}
			var in []string
			for _, f := range s.Features {
				if f.InPackage {
					in = append(in, f.Code)
				}
			}
			if got := strings.Join(in, " "); got != test.in {
				t.Errorf("in the package: %s\nwant: %s", got, test.in)
			}
			if !s.Allowed || !s.Settled {
				t.Errorf("allowed %v, settled %v: leaving items out is not a contradiction", s.Allowed, s.Settled)
			}
		})
	}
}

// A finish can be named by a rule or stay out of the logic, come with the
// package, be settled or stay open.
func TestFinishes(t *testing.T) {
	r := sample(t)
	for _, test := range []struct {
		name    string
		choices Choices
		settle  Settle
		want    string
		allowed bool
	}{
		{"open until chosen", Choices{Features: wants("whole_conversion", "bed")}, SettleNothing, "fabric=", true},
		{"settled by its default", Choices{Features: wants("whole_conversion", "bed")}, SettleByDefaults, "fabric=wool settled", true},
		{"no default: stays open", Choices{Features: wants("whole_conversion", "galley")}, SettleByDefaults, "worktop=", true},
		{"chosen", Choices{Features: wants("whole_conversion", "bed"), Finishes: []FinishChoice{{"fabric", "cord"}}}, SettleNothing, "fabric=cord", true},
		{"only where it applies", Choices{Features: wants("whole_conversion"), Finishes: []FinishChoice{{"fabric", "cord"}}}, SettleByDefaults, "", true},
		{"in the package", Choices{Package: "weekender", Features: wants("bed")}, SettleNothing, "fabric=cord in package", true},
		{"instead of the package's", Choices{Package: "weekender", Features: wants("bed"), Finishes: []FinishChoice{{"fabric", "wool"}}}, SettleNothing, "fabric=wool", true},
		{"a rule does not let it", Choices{Features: wants("whole_conversion", "gas_hob", "galley"), Finishes: []FinishChoice{{"worktop", "oak"}}}, SettleNothing, "worktop=", false},
		{"a rule lets it", Choices{Features: wants("whole_conversion", "gas_hob", "galley"), Finishes: []FinishChoice{{"worktop", "white"}}}, SettleNothing, "worktop=white", true},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := resolved(t, r, Van{BaseVan: "short"}, test.choices, test.settle).Specification
			var got []string
			for _, f := range s.Finishes {
				text := f.Finish + "=" + f.Choice
				if f.InPackage {
					text += " in package"
				}
				if f.Settled {
					text += " settled"
				}
				got = append(got, text)
			}
			if strings.Join(got, "; ") != test.want || s.Allowed != test.allowed {
				t.Errorf("%q allowed %v, want %q allowed %v", got, s.Allowed, test.want, test.allowed)
			}
		})
	}
}

// Reasons read as sentences.
func TestWhySentences(t *testing.T) {
	r := sample(t)
	s := resolved(t, r, Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Count: 1, Action: Replace}}},
		Choices{Features: append(wants("whole_conversion", "gas_hob"), Choice{Want: "socket", Count: 2})}, SettleByDefaults).Specification
	for code, want := range map[string]string{
		"gas_hob":         "Chosen.",
		"gas_alarm":       "Comes with the gas hob: every gas appliance needs a carbon monoxide alarm.",
		"galley":          "Comes with the gas hob: a hob is built into a galley.",
		"leisure_battery": "Comes with the USB socket: sockets need a leisure battery.",
		"bench_seat":      "The van has it already.",
		"side_window":     "The van has 1 of them already; 1 more is fitted.",
		"roof_vent":       "Settled so, because nothing else was chosen.",
	} {
		f := said(s, code)
		if f == nil {
			t.Errorf("%s is not there", code)
		} else if f.Why != want {
			t.Errorf("%s: %q, want %q", code, f.Why, want)
		}
	}
}

func TestReady(t *testing.T) {
	r := sample(t)
	heavy := dec("1500")
	for _, test := range []struct {
		name    string
		van     Van
		choices Choices
		settle  Settle
		want    string
	}{
		{"ready", Van{BaseVan: "short"}, Choices{Features: wants("windows_only")}, SettleNothing, ""},
		{"nothing said", Van{BaseVan: "short"}, Choices{}, SettleNothing, "not_settled"},
		{"a contradiction", Van{BaseVan: "short"}, Choices{Features: []Choice{{Want: "windows_only"}, {Want: "socket"}, {Refuse: "leisure_battery"}}}, SettleNothing, "not_allowed"},
		{"no van", Van{BaseVan: "short", None: true}, Choices{Features: wants("windows_only")}, SettleNothing, "no_van"},
		{"no van, and none needed", Van{BaseVan: "short", None: true}, Choices{Features: wants("parts_only", "side_window")}, SettleNothing, ""},
		{"too heavy", Van{BaseVan: "short", WeighedFrontKG: &heavy, WeighedRearKG: &heavy}, Choices{Features: wants("windows_only")}, SettleNothing, "check_not_met payload"},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := resolved(t, r, test.van, test.choices, test.settle).Specification
			var got []string
			for _, n := range Ready(r, s, Expand(r, s)) {
				got = append(got, strings.TrimSpace(string(n.Code)+" "+n.About))
				if n.Says == "" {
					t.Errorf("%s says nothing", n.Code)
				}
			}
			if strings.Join(got, ", ") != test.want {
				t.Errorf("not ready: %q, want %q", got, test.want)
			}
		})
	}
}

// A limit is met by what just reaches it.
func TestChecksAtTheLimit(t *testing.T) {
	for _, test := range []struct {
		figure string
		sense  catalogue.Sense
		limit  string
		met    bool
	}{
		{"3", catalogue.AtMost, "3", true}, {"3.000000000001", catalogue.AtMost, "3", false}, {"2.9", catalogue.AtMost, "3", true},
		{"3", catalogue.AtLeast, "3", true}, {"2.999999999999", catalogue.AtLeast, "3", false}, {"3.1", catalogue.AtLeast, "3", true},
	} {
		c := blank()
		c.Parts = []catalogue.Part{part("bolt", "each")}
		c.Features = []catalogue.Feature{{Code: "aa", Name: "A", Group: "all"}}
		c.Checks = []catalogue.Check{{Code: "kk", Name: "K", Grade: catalogue.Must, Figure: test.figure + " + fit.aa", Sense: test.sense,
			Limit: test.limit + " + fit.aa", Unit: "kg", Says: "It is not met.", Remedy: "Mend it."}}
		got := Expand(compiled(t, c), specified("van", fitted("aa", 1))).Checks[0]
		if got.Met != test.met || (got.Says == "") != test.met {
			t.Errorf("%s %s %s: met %v, says %q", test.figure, test.sense, test.limit, got.Met, got.Says)
		}
	}
}

// The order of choices that fit together does not alter the sheet.
func TestOrderOfChoicesDoesNotMatter(t *testing.T) {
	r := sample(t)
	rapid.Check(t, func(t *rapid.T) {
		van, choices := randomAsk(t, r)
		first, faults, err := Resolve(r, van, choices, SettleNothing)
		if err != nil || len(faults) > 0 || len(first.Answer.PutAside) > 0 {
			return
		}
		shuffled := choices
		shuffled.Features = rapid.Permutation(choices.Features).Draw(t, "order")
		again, faults, err := Resolve(r, van, shuffled, SettleNothing)
		if err != nil || len(faults) > 0 {
			t.Fatal(faults, err)
		}
		if a, b := CanonicalHash(Expand(r, first.Specification)), CanonicalHash(Expand(r, again.Specification)); a != b {
			t.Fatalf("another order, another sheet:\n%s\n%s", jsonText(first.Specification), jsonText(again.Specification))
		}
	})
}

// Specify tells all that Resolve tells but what could be swapped.
func TestSpecifyIsResolveWithoutSwaps(t *testing.T) {
	r := sample(t)
	swaps := 0
	rapid.Check(t, func(t *rapid.T) {
		van, choices := randomAsk(t, r)
		settle := anyOf(t, "settle", []Settle{SettleNothing, SettleByDefaults})
		whole, faults, err := Resolve(r, van, choices, settle)
		less, faults2, err2 := Specify(r, van, choices, settle)
		if (err == nil) != (err2 == nil) || !reflect.DeepEqual(faults, faults2) {
			t.Fatalf("%v %v, then %v %v", faults, err, faults2, err2)
		}
		for i := range whole.Answer.Options {
			if !reflect.DeepEqual(whole.Answer.Why(i), less.Answer.Why(i)) || !reflect.DeepEqual(whole.Answer.WhyMost(i), less.Answer.WhyMost(i)) {
				t.Fatalf("another reason for %s", r.featureCodes[i])
			}
			if less.Answer.Options[i].Swap {
				t.Fatalf("%s is marked", r.featureCodes[i])
			}
			if whole.Answer.Options[i].Swap {
				swaps++
			}
			whole.Answer.Options[i].Swap = false
		}
		if got, want := jsonText(less), jsonText(whole); got != want {
			t.Fatalf("Specify says\n%s\nand Resolve\n%s", got, want)
		}
	})
	if swaps == 0 {
		t.Error("nothing could be swapped, so nothing was tried")
	}
}

// randomAsk draws a van and choices that name only what there is.
func randomAsk(t *rapid.T, r *Release) (Van, Choices) {
	van := Van{BaseVan: anyOf(t, "base van", r.catalogue.BaseVans).Code}
	if rapid.Bool().Draw(t, "left") {
		van.Particulars = []ParticularValue{{"steering", "left"}}
	}
	if van.BaseVan == "minibus" && rapid.Bool().Draw(t, "seats out") {
		van.Fitted = []FittedItem{{Feature: "bench_seat", Action: Remove}}
	}
	var choices Choices
	if rapid.IntRange(0, 3).Draw(t, "package") == 0 {
		choices.Package = "weekender"
	}
	for _, f := range r.catalogue.Features {
		switch rapid.IntRange(0, 5).Draw(t, f.Code) {
		case 0, 1:
			c := Choice{Want: f.Code}
			if f.Count != nil && !f.NotSold {
				c.Count = rapid.IntRange(0, f.Count.Most).Draw(t, "count")
			}
			choices.Features = append(choices.Features, c)
		case 2:
			choices.Features = append(choices.Features, Choice{Refuse: f.Code})
		}
	}
	return van, choices
}

// Settling ends: what it gives is allowed as far as the choices were, needs
// nothing more, and every reason is a sentence.
func TestSettledSpecificationsAreSettled(t *testing.T) {
	r := sample(t)
	rapid.Check(t, func(t *rapid.T) {
		van, choices := randomAsk(t, r)
		open, faults, err := Resolve(r, van, choices, SettleNothing)
		if err != nil || len(faults) > 0 {
			t.Fatal(faults, err)
		}
		s, _, err := Resolve(r, van, choices, SettleByDefaults)
		if err != nil {
			t.Fatal(err)
		}
		if !s.Specification.Settled || s.Specification.Allowed != open.Specification.Allowed {
			t.Fatalf("settled %v, allowed %v and before %v", s.Specification.Settled, s.Specification.Allowed, open.Specification.Allowed)
		}
		for _, f := range s.Specification.Features {
			if f.Count < 1 || f.Fit < 0 || f.Fit > f.Count || !strings.HasSuffix(f.Why, ".") {
				t.Fatalf("%+v", f)
			}
		}
		for _, o := range s.Answer.Options {
			if o.Standing == options.Open {
				t.Fatalf("%s is still open", r.featureCodes[o.Feature])
			}
		}
		if sheet := Expand(r, s.Specification); len(sheet.Broken) > 0 {
			t.Fatalf("broken: %+v", sheet.Broken)
		}
	})
}

// Whatever is sent in, there is an answer.
func FuzzResolveAndExpand(f *testing.F) {
	r := sample(f)
	f.Fuzz(func(t *testing.T, text string) {
		var ask struct {
			Van     Van
			Choices Choices
			Settle  Settle
		}
		if json.Unmarshal([]byte(text), &ask) != nil {
			return
		}
		res, faults, err := Resolve(r, ask.Van, ask.Choices, ask.Settle)
		if err != nil {
			t.Fatal(err)
		}
		if len(faults) > 0 {
			return
		}
		sheet := Expand(r, res.Specification)
		Ready(r, res.Specification, sheet)
		if len(sheet.Broken) > 0 {
			t.Fatalf("broken: %+v", sheet.Broken)
		}
	})
}

// A fresh release answers many at once, and all the same.
func TestManyResolveAtOnce(t *testing.T) {
	r := sample(t)
	choices := Choices{Features: append(wants("whole_conversion", "gas_hob"), Choice{Want: "socket", Count: 2})}
	hashes := make([]string, 16)
	var wait sync.WaitGroup
	for i := range hashes {
		wait.Go(func() {
			res, faults, err := Resolve(r, Van{BaseVan: []string{"short", "minibus"}[i%2]}, choices, SettleByDefaults)
			if err == nil && len(faults) == 0 {
				hashes[i] = SpecificationHash(res.Specification) + CanonicalHash(Expand(r, res.Specification))
			}
		})
	}
	wait.Wait()
	for i := range hashes {
		if hashes[i] == "" || hashes[i] != hashes[i%2] {
			t.Errorf("answer %d differs: %q and %q", i, hashes[i], hashes[i%2])
		}
	}
}
