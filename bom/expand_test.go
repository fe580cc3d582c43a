package bom

import (
	"encoding/json"
	"maps"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// Explosion of a multi-level bill of materials, from an operations-management
// exercise: Z = 2A + 4B; A = 3C + 4D; D = 2E; 50 Z wanted.
func TestExplosionOfThePublishedExercise(t *testing.T) {
	c := blank()
	c.Parts = []catalogue.Part{part("bb", "each"), part("cc", "each"), part("ee", "each")}
	c.Kits = []catalogue.Kit{
		{Code: "zz", Name: "Z", Items: []catalogue.KitItem{{Kit: "aa", Quantity: "2"}, {Part: "bb", Quantity: "4"}}},
		{Code: "aa", Name: "A", Items: []catalogue.KitItem{{Part: "cc", Quantity: "3"}, {Kit: "dd", Quantity: "4"}}},
		{Code: "dd", Name: "D", Items: []catalogue.KitItem{{Part: "ee", Quantity: "2"}}},
	}
	c.Features = []catalogue.Feature{{Code: "order", Name: "Order", Group: "all", Count: &catalogue.Count{Least: 1, Most: 50},
		Lines: []catalogue.Line{{Stage: "work", Kit: "zz"}}}}
	sheet := Expand(compiled(t, c), specified("van", fitted("order", 50)))
	want := map[string]string{
		"work/kit/zz": "50", "work/kit/aa": "100", "work/part/bb": "200",
		"work/part/cc": "300", "work/kit/dd": "400", "work/part/ee": "800",
	}
	if got := quantities(sheet); !maps.Equal(got, want) {
		t.Errorf("50 Z explode to\n%v, the exercise has\n%v", got, want)
	}
}

func TestScrapIsOfTheIssue(t *testing.T) {
	for _, test := range []struct{ name, need, scrap, kitScrap, want string }{
		{"a tenth of the issue is lost", "9", "10", "", "10"},
		{"not a tenth of the need", "10", "10", "", "12"}, // 11.11
		{"none", "7", "0", "", "7"},
		{"the kit's in place of the part's", "9", "50", "10", "10"},
		{"none at all in place of the part's", "9", "50", "0", "9"},
		{"half", "1.5", "50", "", "3"},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := blank()
			p := part("pp", "each")
			p.ScrapPercent = dec(test.scrap)
			p.MassKG = dec("2")
			c.Parts = []catalogue.Part{p}
			item := catalogue.KitItem{Part: "pp", Quantity: test.need}
			if test.kitScrap != "" {
				s := dec(test.kitScrap)
				item.ScrapPercent = &s
			}
			c.Kits = []catalogue.Kit{{Code: "kk", Name: "K", Items: []catalogue.KitItem{item}}}
			c.Features = []catalogue.Feature{{Code: "ff", Name: "F", Group: "all", Lines: []catalogue.Line{{Stage: "work", Kit: "kk"}}}}
			sheet := Expand(compiled(t, c), specified("van", fitted("ff", 1)))
			if got := quantities(sheet)["work/part/pp"]; got != test.want {
				t.Errorf("%s needed with %s %% scrap (kit: %q): issued %s, want %s", test.need, test.scrap, test.kitScrap, got, test.want)
			}
			if want := dec(test.need).Mul(dec("2")); !sheet.Mass.AddedKG.Equal(want) {
				t.Errorf("the van gets heavier by %s kg, want %s: scrap does not stay in it", sheet.Mass.AddedKG, want)
			}
		})
	}
}

// Rounding up comes after merging, and must not buy a part because thirds end
// in the twelfth place.
func TestRoundingUpOnce(t *testing.T) {
	for _, test := range []struct {
		name     string
		each     []string
		decimals int
		want     string
	}{
		{"half and half is one", []string{"0.5", "0.5"}, 0, "1"},
		{"three thirds are one", []string{"1/3", "1/3", "1/3"}, 0, "1"},
		{"three times two thirds are two", []string{"2/3", "2/3", "2/3"}, 0, "2"},
		{"three thousand times two thirds", []string{"2/3*3000"}, 0, "2000"},
		{"a tenth three times over a tenth: three", []string{"0.1*3/0.1"}, 0, "3"},
		{"a little more is one more", []string{"0.5", "0.500001"}, 0, "2"},
		{"to a tenth", []string{"1.21"}, 1, "1.3"},
		{"nothing to round", []string{"1.2"}, 1, "1.2"},
		{"to a thousandth", []string{"0.0001"}, 3, "0.001"},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := blank()
			p := part("pp", "m")
			p.Decimals = test.decimals
			c.Parts = []catalogue.Part{p}
			var lines []catalogue.Line
			for _, q := range test.each {
				lines = append(lines, catalogue.Line{Stage: "work", Part: "pp", Quantity: q})
			}
			c.Features = []catalogue.Feature{{Code: "ff", Name: "F", Group: "all", Lines: lines}}
			sheet := Expand(compiled(t, c), specified("van", fitted("ff", 1)))
			if got := quantities(sheet)["work/part/pp"]; got != test.want {
				t.Errorf("%v at %d decimals: %s, want %s", test.each, test.decimals, got, test.want)
			}
		})
	}
}

// What cannot be worked out is said, at its place, and the rest is still there.
func TestBrokenFormulas(t *testing.T) {
	for _, test := range []struct{ name, quantity, at, reason string }{
		{"division by zero", "1 / fit.gg", "features/ff/lines/2/quantity", "divides by zero"},
		{"less than none", "fit.gg - 3", "features/ff/lines/2/quantity", "-3"},
		{"too many", "(fit.gg + 1) * 2000000", "features/ff/lines/2/quantity", "too large"},
		{"of a broken figure", "ratio_count * 1", "figures/ratio_count/formula", "divides by zero"},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := blank()
			c.Parts = []catalogue.Part{part("pp", "each"), part("qq", "each")}
			c.Figures = []catalogue.Figure{{Code: "ratio_count", Name: "Ratio", Formula: "fit.ff / fit.gg"}}
			if !strings.Contains(test.quantity, "ratio") {
				c.Figures = nil
			}
			c.Features = []catalogue.Feature{
				{Code: "ff", Name: "F", Group: "all", Lines: []catalogue.Line{
					{Stage: "work", Part: "pp", Quantity: "2"}, {Stage: "work", Part: "qq", Quantity: test.quantity}}},
				{Code: "gg", Name: "G", Group: "all"},
			}
			r := compiled(t, c)
			spec := specified("van", fitted("ff", 1))
			sheet := Expand(r, spec)
			if len(sheet.Broken) == 0 || sheet.Broken[0].At != test.at || !strings.Contains(sheet.Broken[0].Reason, test.reason) {
				t.Errorf("broken: %+v, want %q at %s", sheet.Broken, test.reason, test.at)
			}
			if got := quantities(sheet); !maps.Equal(got, map[string]string{"work/part/pp": "2"}) {
				t.Errorf("the rest of the sheet is %v", got)
			}
			if ready := Ready(r, spec, sheet); len(ready) == 0 || ready[0].Code != FormulaBroken {
				t.Errorf("a sheet with a broken formula is ready: %+v", ready)
			}
		})
	}
}

// A specification of another release, or made up, is answered and not a panic.
func TestExpandWhatTheReleaseDoesNotHave(t *testing.T) {
	r := sample(t)
	for name, spec := range map[string]Specification{
		"nothing":         {},
		"base van":        specified("lorry"),
		"feature":         specified("short", fitted("jacuzzi", 1)),
		"number":          specified("short", SpecifiedFeature{Code: "socket", Count: -2, Fit: -2}),
		"more than there": specified("short", SpecifiedFeature{Code: "socket", Count: 1, Fit: 2}),
		"finish":          {Van: Van{BaseVan: "short"}, Finishes: []SpecifiedFinish{{Finish: "carpet", Choice: "red"}}},
		"finish choice":   {Van: Van{BaseVan: "short"}, Finishes: []SpecifiedFinish{{Finish: "fabric", Choice: "silk"}}},
		"removal":         {Van: Van{BaseVan: "short"}, Removed: []RemovedFeature{{Code: "bed", Count: 1}}},
	} {
		if sheet := Expand(r, spec); len(sheet.Broken) == 0 || len(sheet.Lines) != 0 {
			t.Errorf("%s: broken %+v, %d lines", name, sheet.Broken, len(sheet.Lines))
		}
	}
}

func TestMassLedger(t *testing.T) {
	r := sample(t)
	front, rear := dec("1122.5"), dec("967.5")
	one := func(code string, count, fit int) SpecifiedFeature {
		return SpecifiedFeature{Code: code, Count: count, Fit: fit}
	}
	for _, test := range []struct {
		name                             string
		van                              Van
		features                         []SpecifiedFeature
		removed                          []RemovedFeature
		unladen, added, removedKG, left_ string
	}{
		{"as the base van says", Van{BaseVan: "short"}, nil, nil, "1850", "0", "0", "1050"},
		{"weighed", Van{BaseVan: "short", WeighedFrontKG: &front, WeighedRearKG: &rear}, nil, nil, "2090", "0", "0", "810"},
		{"seats taken out of a minibus", Van{BaseVan: "minibus"}, []SpecifiedFeature{one("side_window", 2, 0)},
			[]RemovedFeature{{Code: "bench_seat", Count: 2}}, "2050", "0.08", "77", "1026.92"},
		{"a minibus without its seats was lighter before", Van{BaseVan: "minibus"}, []SpecifiedFeature{one("side_window", 2, 0)},
			nil, "1973", "0", "0", "1027"},
		{"a window the van has besides", Van{BaseVan: "short"}, []SpecifiedFeature{one("side_window", 1, 0)}, nil, "1855.5", "0", "0", "1044.5"},
		{"the same, weighed: the ticket has it", Van{BaseVan: "short", WeighedFrontKG: &front, WeighedRearKG: &rear},
			[]SpecifiedFeature{one("side_window", 1, 0)}, nil, "2090", "0", "0", "810"},
		{"a window fitted: glass and bead", Van{BaseVan: "short"}, []SpecifiedFeature{one("side_window", 1, 1)}, nil,
			"1850", "6.33", "0", "1043.67"}, // 6 + 3.24 m × 85 ml × 0.0012 kg = 0.33048
	} {
		t.Run(test.name, func(t *testing.T) {
			m := Expand(r, Specification{Van: test.van, Features: test.features, Removed: test.removed}).Mass
			for _, pair := range []struct {
				what string
				got  decimal.Decimal
				want string
			}{{"unladen", m.UnladenKG, test.unladen}, {"added", m.AddedKG, test.added}, {"removed", m.RemovedKG, test.removedKG}, {"left", m.LeftKG, test.left_}} {
				if pair.got.String() != pair.want {
					t.Errorf("%s: %s kg, want %s", pair.what, pair.got, pair.want)
				}
			}
		})
	}
}

// Supplied only: the same parts, and nobody works.
func TestSupplyOnly(t *testing.T) {
	r := sample(t)
	fit := Expand(r, specified("short", fitted("gas_hob", 1), fitted("galley", 1), fitted("side_window", 2)))
	supplied := Expand(r, specified("short", fitted("parts_only", 1), fitted("gas_hob", 1), fitted("galley", 1), fitted("side_window", 2)))
	if !supplied.Hours.IsZero() || len(supplied.Certificates) != 0 {
		t.Errorf("supply only has %s hours and the certificates %v", supplied.Hours, supplied.Certificates)
	}
	have := quantities(supplied)
	for _, l := range fit.Lines {
		_, there := have[l.Stage+"/"+string(l.Kind)+"/"+l.Code+l.Finish]
		work := l.Kind == HoursLine || l.Kind == OutsideLine || l.Kind == StandingLine
		forWork := l.Because[0].Feature == ""
		if there == (work || forWork) {
			t.Errorf("%s %s %s: there %v", l.Stage, l.Kind, l.Code, there)
		}
	}
}

func TestCautionsCertificatesAndWhatIsLeftOut(t *testing.T) {
	r := sample(t)
	sheet := Expand(r, Specification{Van: Van{BaseVan: "minibus"},
		Features: []SpecifiedFeature{fitted("windows_only", 1), {Code: "side_window", Count: 3, Fit: 1}, fitted("gas_hob", 1)},
		Removed:  []RemovedFeature{{Code: "bench_seat", Count: 1}}})
	var got []string
	for _, n := range sheet.Cautions {
		if !strings.Contains(n.Says, "ocal codes apply") {
			t.Errorf("%s: the standing sentence does not say that local codes decide: %s", n.Caution, n.Says)
		}
		got = append(got, string(n.Caution)+":"+strings.Join(n.Features, ","))
	}
	if want := "gas:gas_hob structure:side_window seats:bench_seat"; strings.Join(got, " ") != want {
		t.Errorf("cautions %v, want %s", got, want)
	}
	if len(sheet.Certificates) != 1 || sheet.Certificates[0] != (Certificate{"Gas safety certificate", "gas_test"}) {
		t.Errorf("certificates %+v", sheet.Certificates)
	}
	if len(sheet.LeavesOut) != 2 {
		t.Errorf("leaves out %q", sheet.LeavesOut)
	}
	kept := Expand(r, Specification{Van: Van{BaseVan: "minibus"}, Features: []SpecifiedFeature{{Code: "side_window", Count: 2}}})
	if len(kept.Cautions) != 0 {
		t.Errorf("what stays as it is brings cautions: %+v", kept.Cautions)
	}
}

func TestOpenFinish(t *testing.T) {
	r := sample(t)
	spec := specified("short", fitted("bed", 1))
	spec.Finishes = []SpecifiedFinish{{Finish: "fabric"}}
	open := find(Expand(r, spec).Lines, func(l Line) bool { return l.Finish == "fabric" })
	if open < 0 {
		t.Fatal("no line for the fabric still to choose")
	}
	l := Expand(r, spec).Lines[open]
	if l.Code != "" || l.Name != "Fabric, still to choose" || l.Unit != "m" || l.Quantity.String() != "3.5" {
		t.Errorf("the open fabric is %+v", l)
	}
	spec.Finishes[0].Choice = "cord"
	chosen := quantities(Expand(r, spec))
	if chosen["furniture/part/fabric_cord"] != "3.5" || chosen["furniture/part/fabric"] != "" {
		t.Errorf("cord is chosen: %v", chosen)
	}
	spec.Finishes[0].Choice = ""
	if again := quantities(Expand(r, spec)); again["furniture/part/fabric"] != "3.5" {
		t.Errorf("open once more: %v", again)
	}
}

func TestTheSheetOfAnotherReleaseDoesNotLeakIn(t *testing.T) {
	a, b := sample(t), compiled(t, func() *catalogue.Catalogue {
		c := blank()
		c.Parts = []catalogue.Part{part("pp", "each")}
		c.Features = []catalogue.Feature{{Code: "ff", Name: "F", Group: "all", Lines: []catalogue.Line{{Stage: "work", Part: "pp"}}}}
		return c
	}())
	first := jsonText(Expand(a, specified("short", fitted("bed", 1))))
	for range 20 {
		Expand(b, specified("van", fitted("ff", 1)))
		if again := jsonText(Expand(a, specified("short", fitted("bed", 1)))); again != first {
			t.Fatalf("the sheet changed:\n%s\n%s", first, again)
		}
	}
}

// jsonText is a value as the JSON that goes out.
func jsonText(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}
