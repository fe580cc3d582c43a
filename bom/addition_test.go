package bom

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

func randomAdditions(t *rapid.T, c *catalogue.Catalogue) []Addition {
	var list []Addition
	for i := range rapid.IntRange(0, 4).Draw(t, "additions") {
		a := Addition{
			Code: fmt.Sprintf("x%d", i), Kind: OneOff, Words: "Extra", Stage: anyOf(t, "its stage", c.Stages).Code,
			Quantity: rapid.IntRange(0, 4).Draw(t, "how many"), MassKG: dec(anyOf(t, "its mass", []string{"0", "2.5", "-1.25", "0.0004"})),
		}
		for _, trade := range c.Trades {
			if rapid.Bool().Draw(t, "works on it") {
				a.Hours = append(a.Hours, AdditionHours{trade.Code, dec(anyOf(t, "its hours", []string{"0", "0.5", "1.333"}))})
			}
		}
		if rapid.Bool().Draw(t, "own") {
			a.Kind, a.DueBy = CustomersOwn, "2026-12-01"
			if a.MassKG = a.MassKG.Abs(); rapid.IntRange(0, 3).Draw(t, "stands in") > 0 {
				a.InPlaceOf = anyOf(t, "for", c.Parts).Code
			}
		}
		list = append(list, a)
	}
	return list
}

// ledger holds what must be true of every sheet: masses, hours and numbers of
// lines are the sums of its lines.
func ledger(t interface {
	Helper()
	Fatalf(string, ...any)
}, s Sheet,
) {
	t.Helper()
	kg, hours := decimal.Zero, decimal.Zero
	lines := map[string]int{}
	for _, l := range s.Lines {
		kg = kg.Add(l.MassKG)
		if lines[l.Stage]++; l.Kind == HoursLine {
			hours = hours.Add(l.Quantity)
		}
		if own := l.Kind == OneOffLine || l.Kind == OwnPartLine; own != l.Unproved {
			t.Fatalf("%s %s: unproved %v", l.Kind, l.Code, l.Unproved)
		}
	}
	if !kg.Equal(s.Mass.AddedKG) || !hours.Equal(s.Hours) {
		t.Fatalf("the lines weigh %s kg and take %s h, the sheet says %s and %s", kg, hours, s.Mass.AddedKG, s.Hours)
	}
	left := s.Mass.PlatedKG.Sub(s.Mass.UnladenKG).Sub(s.Mass.AddedKG).Add(s.Mass.RemovedKG)
	if !left.Equal(s.Mass.LeftKG) {
		t.Fatalf("left are %s kg, not %s", left, s.Mass.LeftKG)
	}
	for _, stage := range s.Stages {
		if lines[stage.Stage] != stage.Lines {
			t.Fatalf("%s has %d lines, and says %d", stage.Stage, lines[stage.Stage], stage.Lines)
		}
	}
}

// Every fault of an addition is told at its place with a remedy.
func TestFaultsOfAdditions(t *testing.T) {
	r := sample(t)
	good := Addition{Code: "rack", Kind: OneOff, Words: "Rack", Stage: "furniture", MassKG: dec("3"), Hours: []AdditionHours{{"joiner", dec("2")}}}
	own := Addition{Code: "fan", Kind: CustomersOwn, Words: "Fan", Stage: "wiring", MassKG: dec("1"), DueBy: "2026-12-01"}
	for _, test := range []struct {
		name     string
		from     Addition
		change   func(*Addition)
		at, says string
	}{
		{"no code", good, func(a *Addition) { a.Code = "" }, "1/code", "cannot be a code"},
		{"a code with a space", good, func(a *Addition) { a.Code = "a rack" }, "1/code", "cannot be a code"},
		{"a feature's code", good, func(a *Addition) { a.Code = "gas_hob" }, "1/code", "has a feature"},
		{"a package's code", good, func(a *Addition) { a.Code = "weekender" }, "1/code", "has a package"},
		{"a finish's code", good, func(a *Addition) { a.Code = "fabric" }, "1/code", "has a finish"},
		{"no kind", good, func(a *Addition) { a.Kind = "" }, "1/kind", "one-off"},
		{"a misspelt kind", good, func(a *Addition) { a.Kind = "oneoff" }, "1/kind", `Did you mean "one-off"`},
		{"no words", good, func(a *Addition) { a.Words = " " }, "1/words", "Nothing says"},
		{"many words", good, func(a *Addition) { a.Words = strings.Repeat("ä", MaxAdditionWords+1) }, "1/words", "at most 400"},
		{"words that are no text", good, func(a *Addition) { a.Words = "a\x00b" }, "1/words", "plain text"},
		{"fewer than none", good, func(a *Addition) { a.Quantity = -1 }, "1/quantity", "cannot be -1"},
		{"more than anybody wants", good, func(a *Addition) { a.Quantity = MaxAdditionQuantity + 1 }, "1/quantity", "1 to 50"},
		{"a misspelt stage", good, func(a *Addition) { a.Stage = "furnitur" }, "1/stage", `Did you mean "furniture"`},
		{"no stage", good, func(a *Addition) { a.Stage = "" }, "1/stage", "No stage is named"},
		{"a misspelt trade", good, func(a *Addition) { a.Hours[0].Trade = "joyner" }, "1/hours/1/trade", `Did you mean "joiner"`},
		{"hours below nothing", good, func(a *Addition) { a.Hours[0].Hours = dec("-0.01") }, "1/hours/1/hours", "0 to 1000"},
		{"hours without end", good, func(a *Addition) { a.Hours[0].Hours = dec("1000.01") }, "1/hours/1/hours", "0 to 1000"},
		{"one trade twice", good, func(a *Addition) { a.Hours = append(a.Hours, a.Hours[0]) }, "1/hours/2/trade", "Add them up"},
		{"more trades than there are", good, func(a *Addition) { a.Hours = make([]AdditionHours, 4) }, "1/hours", "at most 3"},
		{"a mass without end", good, func(a *Addition) { a.MassKG = dec("-5000.001") }, "1/mass_kg", "at most 5000"},
		{"a mass that is no number", good, func(a *Addition) { a.MassKG = decimal.New(1, 2_000_000_000) }, "1/mass_kg", "at most 5000"},
		{"an own part lighter than nothing", own, func(a *Addition) { a.MassKG = dec("-1") }, "1/mass_kg", "no less than nothing"},
		{"a misspelt caution", good, func(a *Addition) { a.Touches = []catalogue.Caution{"seat"} }, "1/touches/1", `Did you mean "seats"`},
		{"one caution twice", good, func(a *Addition) { a.Touches = []catalogue.Caution{"gas", "gas"} }, "1/touches/2", "twice"},
		{"an own part due some day", own, func(a *Addition) { a.DueBy = "" }, "1/due_by", "must be here"},
		{"an own part due on no day", own, func(a *Addition) { a.DueBy = "2026-02-30" }, "1/due_by", "is not a day"},
		{"in place of a misspelt part", own, func(a *Addition) { a.InPlaceOf = "roofvent" }, "1/in_place_of", `Did you mean "roof_vent"`},
		{"a one-off in place of a part", good, func(a *Addition) { a.InPlaceOf = "roof_vent" }, "1/in_place_of", "Only a customer's own part"},
		{"a one-off that is due", good, func(a *Addition) { a.DueBy = "2026-12-01" }, "1/due_by", "Leave it out"},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := test.from
			a.Hours = slices.Clone(a.Hours)
			test.change(&a)
			_, faults, err := Resolve(r, Van{BaseVan: "short"}, Choices{Features: wants("windows_only"), Additions: []Addition{a}}, SettleNothing)
			if err != nil || len(faults) != 1 {
				t.Fatalf("%v, %v", faults, err)
			}
			f := faults[0]
			if f.At != "choices/additions/"+test.at || f.Remedy == "" || f.Code == "" || !strings.Contains(f.Reason+" "+f.Remedy, test.says) {
				t.Errorf("told is %+v, want it at %s with %q", f, test.at, test.says)
			}
		})
	}
	twice := Choices{Features: wants("windows_only"), Additions: []Addition{good, good}}
	if _, faults, _ := Resolve(r, Van{BaseVan: "short"}, twice, SettleNothing); len(faults) != 1 || faults[0].At != "choices/additions/2/code" {
		t.Errorf("one code twice: %v", faults)
	}
	many := func(n int) Choices {
		c := Choices{Features: wants("windows_only")}
		for i := range n {
			a := good
			a.Code, a.MassKG, a.Hours = fmt.Sprintf("rack_%d", i), dec("5000"), []AdditionHours{{"joiner", dec("1000")}}
			c.Additions = append(c.Additions, a)
		}
		return c
	}
	res, faults, _ := Resolve(r, Van{BaseVan: "short"}, many(MaxAdditions), SettleNothing)
	if sheet := Expand(r, res.Specification); len(faults) > 0 || len(sheet.Broken) > 0 {
		t.Errorf("as many and as much as allowed: %v, %v", faults, sheet.Broken)
	}
	if _, faults, _ := Resolve(r, Van{BaseVan: "short"}, many(MaxAdditions+1), SettleNothing); len(faults) != 1 || faults[0].At != "choices/additions" {
		t.Errorf("one more than allowed: %v", faults)
	}
}

// What touches what can hurt people waits for the foreman; masses alone do
// not, and what is approved does not.
func TestAdditionsWaitForTheForeman(t *testing.T) {
	r := sample(t)
	for _, test := range []struct {
		touches  []catalogue.Caution
		approved bool
		waits    string
	}{
		{nil, false, ""},
		{[]catalogue.Caution{catalogue.CautionWeight}, false, ""},
		{[]catalogue.Caution{catalogue.CautionGas}, false, "touches gas and"},
		{[]catalogue.Caution{catalogue.CautionGas}, true, ""},
		{[]catalogue.Caution{catalogue.CautionWeight, catalogue.CautionSeats, catalogue.CautionStructure}, false, "touches seats and structure and"},
		{[]catalogue.Caution{catalogue.CautionMains}, false, "touches mains and"},
	} {
		a := Addition{Code: "thing", Kind: OneOff, Words: "Thing", Stage: "wiring", Touches: test.touches, Approved: test.approved}
		spec := resolved(t, r, Van{BaseVan: "short"}, Choices{Features: wants("windows_only", "side_window"), Additions: []Addition{a}}, SettleByDefaults).Specification
		sheet := Expand(r, spec)
		got := ""
		for _, n := range Ready(r, spec, sheet) {
			if n.Code == WaitsForForeman && n.About == "thing" {
				got = n.Says
			}
		}
		if (got == "") != (test.waits == "") || !strings.Contains(got, test.waits) {
			t.Errorf("%v, approved %v: told is %q", test.touches, test.approved, got)
		}
		for _, c := range test.touches {
			if !slices.ContainsFunc(sheet.Cautions, func(n CautionNote) bool { return n.Caution == c && slices.Contains(n.Additions, "thing") }) {
				t.Errorf("%s: the caution does not stand on the sheet: %+v", c, sheet.Cautions)
			}
		}
	}
}

// A specification that names what the release does not have is told, not
// worked out in silence.
func TestAdditionsTheReleaseDoesNotHave(t *testing.T) {
	r, s := sample(t), specified("short")
	s.Additions = []Addition{
		{Code: "one", Kind: OneOff, Words: "One", Stage: "nowhere"},
		{Code: "two", Kind: OneOff, Words: "Two", Stage: "gas", Hours: []AdditionHours{{"nobody", dec("1")}}},
		{Code: "three", Kind: OneOff, Words: "Three", Stage: "gas", Hours: []AdditionHours{{"fitter", dec("-1")}}},
		{Code: "four", Kind: OneOff, Words: "Four", Stage: "gas", MassKG: dec("1e9")},
	}
	sheet := Expand(r, s)
	var at []string
	for _, b := range sheet.Broken {
		at = append(at, b.At)
	}
	want := []string{"specification/additions/one/stage", "specification/additions/two/hours", "specification/additions/three/hours", "specification/additions/four/mass_kg"}
	if !slices.Equal(at, want) {
		t.Errorf("broken are %q, want %q", at, want)
	}
	ledger(t, sheet)
}

// Three times two thirds of a sheet are the two that the customer brings,
// whatever the last place of a decimal says.
func TestOwnPartsInPlaceOfThirds(t *testing.T) {
	for _, test := range []struct {
		each    string
		brought int
		left    string // "" for no line
		fewer   string
	}{
		{"2 / 3", 2, "", "2"},
		{"1 / 3", 1, "", "1"},
		{"2 / 3", 1, "1", "1"},
		{"2 / 3", 3, "", "2"},
	} {
		c := blank()
		c.Parts = append(c.Parts, part("sheet", "each"))
		c.Features = append(c.Features, catalogue.Feature{Code: "shelf", Name: "Shelf", Group: "all", Count: &catalogue.Count{Least: 1, Most: 5},
			Lines: []catalogue.Line{{Stage: "work", Part: "sheet", Quantity: test.each}}})
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		s := specified("van")
		s.Features = []SpecifiedFeature{{Code: "shelf", Count: 3, Fit: 3}}
		s.Additions = []Addition{{Code: "own", Kind: CustomersOwn, Words: "Sheets", Stage: "work", Quantity: test.brought, DueBy: "2026-12-01", InPlaceOf: "sheet"}}
		left, fewer := "", ""
		for _, l := range Expand(r, s).Lines {
			switch {
			case l.Kind == PartLine:
				left = l.Quantity.String()
			case l.InPlaceOf != nil:
				fewer = l.InPlaceOf.Fewer.String()
			}
		}
		if left != test.left || fewer != test.fewer {
			t.Errorf("3 × %s, %d brought: left %q and %s fewer, want %q and %s", test.each, test.brought, left, fewer, test.left, test.fewer)
		}
	}
}
