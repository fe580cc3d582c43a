package bom

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
	"wainscot/bom/options"
)

// The rules as the engine gets them mean what the catalogue says. The witness
// knows neither folding nor clauses: it runs over all specifications of a small
// catalogue and asks the formulas themselves, as CEL, whether the rules hold.

// smallCatalogue has three plain features, one counted, one follower, rules
// between them and two base vans.
func smallCatalogue(t *rapid.T) *catalogue.Catalogue {
	c := blank()
	c.BaseVans = []catalogue.BaseVan{baseVan("long", 5), baseVan("short", 0)}
	c.Groups = []catalogue.Group{
		{Code: "first", Name: "First", Stage: "work", Pick: anyOf(t, "pick", []catalogue.Pick{catalogue.ExactlyOne, catalogue.AtMostOne, catalogue.AnyNumber})},
		{Code: "second", Name: "Second", Stage: "work", Pick: anyOf(t, "pick", []catalogue.Pick{catalogue.AtMostOne, catalogue.AnyNumber})},
	}
	if rapid.Bool().Draw(t, "offered when") {
		c.Groups[1].When, c.Groups[1].Says = condition(t), "It is not offered."
	}
	if rapid.Bool().Draw(t, "required when") {
		c.Groups[1].Required = condition(t)
	}
	c.Features = []catalogue.Feature{
		{Code: "aa", Name: "A", Group: "first"},
		{Code: "bb", Name: "B", Group: "first"},
		{Code: "cc", Name: "C", Group: "second"},
		{Code: "dd", Name: "D", Group: "second", Count: &catalogue.Count{Least: 2, Most: 4}},
		{Code: "ff", Name: "F", Group: "second", Follower: true},
	}
	if rapid.Bool().Draw(t, "not for the long one") {
		c.Features[1].Vans = []string{"short"}
	}
	c.Finishes = []catalogue.Finish{{Code: "paint", Name: "Paint", Choices: []catalogue.FinishChoice{
		{Code: "red", Name: "Red", Part: "red"}, {Code: "blue", Name: "Blue", Part: "blue"}}}}
	c.Parts = []catalogue.Part{part("red", "l"), part("blue", "l")}
	c.Rules = []catalogue.Rule{{Code: "brought", If: anyOf(t, "bringer", []string{"aa", "cc", "dd >= 3"}),
		Brings: []catalogue.Fitted{{Feature: "ff"}}, Says: "It brings F."}}
	for i := range rapid.IntRange(0, 3).Draw(t, "rules") {
		rule := catalogue.Rule{Code: fmt.Sprintf("rule%d", i), If: condition(t), Says: "So it is."}
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0:
			rule.Needs = condition(t)
		case 1:
			rule.Clashes = condition(t)
		default:
			rule.Brings = []catalogue.Fitted{{Feature: "dd", Count: rapid.IntRange(2, 4).Draw(t, "brings")}}
		}
		c.Rules = append(c.Rules, rule)
	}
	return c
}

func condition(t *rapid.T) string {
	atoms := []string{"aa", "bb", "cc", "dd >= 2", "dd >= 3", "dd == 4", "dd < 3", `van.steering == "left"`, `van.body == "long"`,
		"van.rib_count > 12", `finish.paint == "red"`, `finish.paint != "blue"`}
	a := anyOf(t, "atom", atoms)
	switch rapid.IntRange(0, 3).Draw(t, "shape") {
	case 0:
		return "!(" + a + ")"
	case 1:
		return a + " && " + anyOf(t, "atom", atoms)
	case 2:
		return a + " || !(" + anyOf(t, "atom", atoms) + ")"
	}
	return a
}

// whole is one specification: how many of each feature, the steering and the
// paint.
type whole struct {
	counts   []int
	steering string
	paint    string
}

// everyWhole runs over all specifications there could be.
func everyWhole(yield func(whole)) {
	for bits := range 16 { // aa bb cc ff
		for _, d := range []int{0, 2, 3, 4} {
			for _, steering := range []string{"right", "left"} {
				for _, paint := range []string{"", "red", "blue"} {
					yield(whole{[]int{bits & 1, bits >> 1 & 1, bits >> 2 & 1, d, bits >> 3 & 1}, steering, paint})
				}
			}
		}
	}
}

type wholeWitness struct {
	t      *rapid.T
	c      *catalogue.Catalogue
	scope  *formula.Scope
	values *formula.Values
	van    *catalogue.BaseVan
	fitted []FittedItem // and kept
}

// kept is how many of a feature the van came with.
func (w *wholeWitness) kept(code string) int {
	for _, f := range w.fitted {
		if f.Feature == code {
			return f.Count
		}
	}
	return 0
}

func (w *wholeWitness) set(s whole) {
	slot := func(name string) formula.Slot {
		at, ok := w.scope.Slot(name)
		if !ok {
			w.t.Fatal("no name", name)
		}
		return at
	}
	w.values.Reset()
	for i, f := range w.c.Features {
		if f.Count != nil {
			w.values.SetCount(slot(f.Code), s.counts[i])
		} else {
			w.values.SetTruth(slot(f.Code), s.counts[i] > 0)
		}
	}
	for _, f := range w.van.Facts {
		if f.Kind == catalogue.TextFact {
			w.values.SetText(slot("van."+f.Name), f.Text)
		} else if err := w.values.SetNumber(slot("van."+f.Name), f.Number); err != nil {
			w.t.Fatal(err)
		}
	}
	w.values.SetText(slot("van.steering"), s.steering)
	w.values.SetText(slot("finish.paint"), s.paint)
}

func (w *wholeWitness) holds(source string) bool {
	f, err := w.scope.Compile(source, formula.Truth)
	if err != nil {
		w.t.Fatal(err)
	}
	yes, err := f.Truth(w.values)
	if err != nil {
		w.t.Fatal(err)
	}
	return yes
}

// allowed says whether s keeps everything the catalogue says.
func (w *wholeWitness) allowed(s whole) bool {
	w.set(s)
	at := func(code string) int {
		return s.counts[slices.IndexFunc(w.c.Features, func(f catalogue.Feature) bool { return f.Code == code })]
	}
	for _, g := range w.c.Groups {
		there, added := 0, 0
		for i, f := range w.c.Features {
			if f.Group == g.Code && s.counts[i] > 0 {
				there++
			}
			if f.Group == g.Code && s.counts[i] > w.kept(f.Code) {
				added++
			}
		}
		offered := w.holds(g.When)
		required := offered && (g.Required != "" && w.holds(g.Required) || g.Required == "" && g.Pick == catalogue.ExactlyOne)
		if added > 0 && !offered || there == 0 && required || there > 1 && g.Pick != catalogue.AnyNumber {
			return false
		}
	}
	for i, f := range w.c.Features {
		if s.counts[i] > 0 && len(f.Vans) > 0 && !slices.Contains(f.Vans, w.van.Code) {
			return false
		}
	}
	brought := false
	for _, r := range w.c.Rules {
		if !w.holds(r.If) {
			continue
		}
		if r.Needs != "" && !w.holds(r.Needs) || r.Clashes != "" && w.holds(r.Clashes) {
			return false
		}
		for _, b := range r.Brings {
			if at(b.Feature) < max(b.Count, 1) {
				return false
			}
			brought = brought || b.Feature == "ff"
		}
	}
	return at("ff") == 0 || brought
}

// keeps says whether s is what a choice asks for.
func keeps(c *catalogue.Catalogue, s whole, choice options.Choice) bool {
	switch choice.Feature {
	case "van.steering":
		return s.steering == choice.Value
	case "finish.paint":
		return s.paint == choice.Value
	}
	i := slices.IndexFunc(c.Features, func(f catalogue.Feature) bool { return f.Code == choice.Feature })
	if i < 0 {
		return true // other particulars
	}
	switch n := s.counts[i]; choice.Verb {
	case options.Want:
		return n > 0
	case options.Refuse:
		return n == 0
	case options.AtLeast:
		return n >= choice.N
	default:
		return n == choice.N
	}
}

func TestTheEngineGetsWhatTheCatalogueSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := smallCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			for _, f := range faults {
				if !strings.HasPrefix(f.Code, "idle") && f.Code != "empty_group" && f.Code != "brings_cycle" && f.Code != "never_met" {
					t.Fatal(f)
				}
			}
			return // a rule that can do nothing is refused
		}
		van := &c.BaseVans[rapid.IntRange(0, 1).Draw(t, "van")]
		ask, choices := Van{BaseVan: van.Code}, Choices{}
		if rapid.Bool().Draw(t, "left") {
			ask.Particulars = []ParticularValue{{"steering", "left"}}
		}
		if rapid.Bool().Draw(t, "fitted") {
			ask.Fitted = []FittedItem{{Feature: "dd", Count: rapid.IntRange(2, 4).Draw(t, "fitted count"), Action: Keep}}
		}
		for _, f := range c.Features {
			switch rapid.IntRange(0, 4).Draw(t, f.Code) {
			case 0:
				choices.Features = append(choices.Features, Choice{Want: f.Code})
			case 1:
				choices.Features = append(choices.Features, Choice{Refuse: f.Code})
			}
		}
		if rapid.Bool().Draw(t, "painted") {
			choices.Finishes = []FinishChoice{{"paint", anyOf(t, "paint", []string{"red", "blue"})}}
		}
		got, faults, err := Resolve(r, ask, choices, SettleNothing)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		w := &wholeWitness{t: t, c: c, scope: r.scope, values: r.scope.NewValues(), van: van, fitted: ask.Fitted}
		var left []whole
		everyWhole(func(s whole) {
			if w.allowed(s) {
				left = append(left, s)
			}
		})
		if err != nil {
			if len(left) > 0 {
				t.Fatalf("%v, but %+v is allowed", err, left[0])
			}
			return
		}
		compare(t, c, got, left)
	})
}

// compare takes the choices in order over the specifications left, as the
// engine should, and holds every standing against them.
func compare(t *rapid.T, c *catalogue.Catalogue, got Resolution, left []whole) {
	var aside []int
	for i, choice := range got.Said {
		var next []whole
		for _, s := range left {
			if keeps(c, s, choice) {
				next = append(next, s)
			}
		}
		if len(next) == 0 {
			aside = append(aside, i)
			continue
		}
		left = next
	}
	var gotAside []int
	for _, p := range got.Answer.PutAside {
		gotAside = append(gotAside, p.Choice)
	}
	if !slices.Equal(gotAside, aside) {
		t.Fatalf("put aside %v, should be %v of %+v", gotAside, aside, got.Said)
	}
	for i, f := range c.Features {
		least, most := 99, 0
		for _, s := range left {
			least, most = min(least, s.counts[i]), max(most, s.counts[i])
		}
		o := got.Answer.Options[i]
		if o.Least != least || o.Most != most {
			t.Fatalf("%s: %d to %d, should be %d to %d", f.Code, o.Least, o.Most, least, most)
		}
	}
	if got.Specification.Settled {
		// Everything open off must be among them.
		off := slices.ContainsFunc(left, func(s whole) bool {
			for i := range c.Features {
				if s.counts[i] != got.Answer.Options[i].Least {
					return false
				}
			}
			return true
		})
		if !off {
			t.Fatalf("called settled, but leaving the rest off is not allowed: %+v", got.Specification.Features)
		}
	}
}

// What makes a catalogue unfit is found when it is compiled, each at its field.
func TestCompileFaults(t *testing.T) {
	base := func() *catalogue.Catalogue {
		c := blank()
		c.Parts = []catalogue.Part{part("sheet", "m2"), part("bolt", "each")}
		c.Features = []catalogue.Feature{{Code: "aa", Name: "A", Group: "all"}, {Code: "nn", Name: "N", Group: "all", Count: &catalogue.Count{Least: 1, Most: 3}}}
		return c
	}
	line := func(c *catalogue.Catalogue, l catalogue.Line) {
		l.Stage = "work"
		c.Features[0].Lines = append(c.Features[0].Lines, l)
	}
	for _, test := range []struct {
		name string
		make func(c *catalogue.Catalogue)
		want []string // code at path: part of reason or remedy
	}{
		{"sound", func(*catalogue.Catalogue) {}, nil},
		{"not a formula", func(c *catalogue.Catalogue) { line(c, catalogue.Line{Part: "bolt", Quantity: "2 +"}) },
			[]string{"bad_formula features/aa/lines/1/quantity: In \"2 +\", column"}},
		{"unknown name", func(c *catalogue.Catalogue) { line(c, catalogue.Line{Part: "bolt", Quantity: "fit.nnn"}) },
			[]string{"bad_formula features/aa/lines/1/quantity: fit.nn"}},
		{"totals in a line", func(c *catalogue.Catalogue) { line(c, catalogue.Line{Part: "bolt", Quantity: "sheet.hours"}) },
			[]string{"bad_formula features/aa/lines/1/quantity: "}},
		{"a number for a truth", func(c *catalogue.Catalogue) { line(c, catalogue.Line{Part: "bolt", When: "nn"}) },
			[]string{"bad_formula features/aa/lines/1/when: nn >= 1"}},
		{"unit of a line", func(c *catalogue.Catalogue) {
			line(c, catalogue.Line{Part: "sheet", Quantity: "van.load_length_mm"})
			line(c, catalogue.Line{Part: "sheet", Quantity: "van.wall_area_m2"})
			line(c, catalogue.Line{Trade: "fitter", Quantity: "van.wall_area_m2"})
			line(c, catalogue.Line{Part: "bolt", Quantity: "van.load_length_mm"})
		}, []string{"unit_mismatch features/aa/lines/1/quantity: m2 is wanted", "unit_mismatch features/aa/lines/3/quantity: h is wanted",
			"unit_mismatch features/aa/lines/4/quantity: number of things"}},
		{"unit of a kit's item", func(c *catalogue.Catalogue) {
			c.Kits = []catalogue.Kit{{Code: "kk", Name: "K", Items: []catalogue.KitItem{{Part: "sheet", Quantity: "van.load_length_mm"}},
				Hours: []catalogue.KitHours{{Trade: "fitter", Hours: "van.floor_area_m2"}}}}
			line(c, catalogue.Line{Kit: "kk"})
		}, []string{"unit_mismatch kits/kk/hours/1/hours: h is wanted", "unit_mismatch kits/kk/items/1/quantity: m2 is wanted"}},
		{"unit of a figure and a check", func(c *catalogue.Catalogue) {
			c.Figures = []catalogue.Figure{{Code: "length_m", Name: "Length", Formula: "van.load_length_mm"}}
			c.Checks = []catalogue.Check{{Code: "kk", Name: "K", Grade: catalogue.Must, Figure: "sheet.mass_kg", Sense: catalogue.AtMost,
				Limit: "length_m", Unit: "kg", Says: "Too much.", Remedy: "Less."}}
		}, []string{"unit_mismatch checks/kk/limit: kg is wanted", "unit_mismatch figures/length_m/formula: mm_to_m"}},
		{"figures in a ring", func(c *catalogue.Catalogue) {
			c.Figures = []catalogue.Figure{{Code: "one_m", Name: "1", Formula: "two_m"}, {Code: "two_m", Name: "2", Formula: "three_m + 1"},
				{Code: "three_m", Name: "3", Formula: "fit.aa * two_m"}}
		}, []string{"cycle figures/two_m/formula: two_m → three_m → two_m"}},
		{"weighed facts in a rule", func(c *catalogue.Catalogue) {
			c.Rules = []catalogue.Rule{{Code: "rr", If: "van.unladen_front_kg > 1000", Needs: "aa", Says: "S."}}
		}, []string{"bad_formula rules/rr/if: "}},
		{"a rule that can do nothing", func(c *catalogue.Catalogue) {
			c.Rules = []catalogue.Rule{{Code: "rr", If: `van.body == "van" && van.rib_count > 50`, Needs: "aa", Says: "S."}}
		}, []string{"idle_rule rules/rr/if: "}},
		{"a rule on what is offered nowhere", func(c *catalogue.Catalogue) {
			c.BaseVans = append(c.BaseVans, baseVan("long", 3))
			c.Features = append(c.Features, catalogue.Feature{Code: "bb", Name: "B", Group: "all", Vans: []string{"long"}})
			c.Rules = []catalogue.Rule{{Code: "rr", If: `bb && van.body == "van"`, Needs: "aa", Says: "S."},
				{Code: "ss", If: "aa", Clashes: `bb && van.body == "van"`, Says: "S."}}
		}, []string{"idle_rule rules/rr/if: ", "idle_rule rules/ss/clashes: "}},
		{"a rule that can never be met", func(c *catalogue.Catalogue) {
			c.BaseVans = append(c.BaseVans, baseVan("long", 3))
			c.Features = append(c.Features, catalogue.Feature{Code: "bb", Name: "B", Group: "all", Vans: []string{"long"}})
			c.Rules = []catalogue.Rule{{Code: "rr", If: `aa && van.body == "van"`, Needs: "bb", Says: "S."},
				{Code: "ss", If: "aa", Needs: "bb", Says: "S."}}
		}, []string{"never_met rules/rr/needs: "}},
		{"a group nobody can pick from", func(c *catalogue.Catalogue) {
			c.BaseVans = append(c.BaseVans, baseVan("long", 3))
			c.BaseVans[0].Name = "Panel van"
			c.Groups = append(c.Groups, catalogue.Group{Code: "gg", Name: "G", Stage: "work", Pick: catalogue.ExactlyOne})
			c.Features = append(c.Features, catalogue.Feature{Code: "bb", Name: "B", Group: "gg", Vans: []string{"long"}})
		}, []string{"empty_group groups/gg: Panel van is offered none"}},
		{"a constant that is no quantity", func(c *catalogue.Catalogue) {
			line(c, catalogue.Line{Part: "bolt", Quantity: "1 - 2"})
			line(c, catalogue.Line{Part: "bolt", Quantity: "1000 * 1001"})
		}, []string{"out_of_range features/aa/lines/1/quantity: -1", "out_of_range features/aa/lines/2/quantity: 1001000"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := base()
			test.make(c)
			r, faults := Compile(c)
			if (r == nil) == (len(test.want) == 0) {
				t.Errorf("release %v with %d faults", r != nil, len(faults))
			}
			for i, f := range faults {
				if i >= len(test.want) {
					t.Errorf("too many: %v", f)
					continue
				}
				head, part, _ := strings.Cut(test.want[i], ": ")
				if f.Code+" "+f.At != head || !strings.Contains(f.Reason+" "+f.Remedy, part) {
					t.Errorf("fault %d: %s %s: %s %s\nwant %s", i+1, f.Code, f.At, f.Reason, f.Remedy, test.want[i])
				}
				if f.Reason == "" || f.Remedy == "" {
					t.Errorf("%s has no reason or no remedy", f.At)
				}
			}
			if len(faults) < len(test.want) {
				t.Errorf("only %d faults of %d: %v", len(faults), len(test.want), faults)
			}
		})
	}
}

// Twenty levels deep is as deep as kits may go, and works.
func TestDeepKits(t *testing.T) {
	c := blank()
	c.Parts = []catalogue.Part{part("bolt", "each")}
	c.Kits = []catalogue.Kit{{Code: "k0", Name: "K", Items: []catalogue.KitItem{{Part: "bolt"}}}}
	for i := 1; i < catalogue.MaxKitLevels; i++ {
		c.Kits = append(c.Kits, catalogue.Kit{Code: fmt.Sprintf("k%d", i), Name: "K", Items: []catalogue.KitItem{{Kit: c.Kits[i-1].Code, Quantity: "1.5"}}})
	}
	c.Features = []catalogue.Feature{{Code: "aa", Name: "A", Group: "all", Lines: []catalogue.Line{{Stage: "work", Kit: c.Kits[len(c.Kits)-1].Code}}}}
	sheet := Expand(compiled(t, c), specified("van", fitted("aa", 1)))
	l := sheet.Lines[len(sheet.Lines)-1]
	if want := "2217"; l.Code != "bolt" || l.Quantity.String() != want { // 1.5^19 = 2216.8
		t.Errorf("%s %s, want %s bolts", l.Quantity, l.Code, want)
	}
	if via := l.Because[0].Via; len(via) != catalogue.MaxKitLevels || via[0] != "k19" || via[19] != "k0" {
		t.Errorf("via %v", via)
	}
}
