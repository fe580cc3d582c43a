package formula

import (
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// van is the base van of the tests.
func testVan() catalogue.BaseVan {
	number := func(name, value string) catalogue.Fact {
		return catalogue.Fact{Name: name, Kind: catalogue.NumberFact, Number: decimal.RequireFromString(value)}
	}
	return catalogue.BaseVan{
		Code: "long",
		Facts: catalogue.Facts{
			{Name: "body", Kind: catalogue.TextFact, Text: "panel van"},
			number("load_length_mm", "3705"), number("load_width_mm", "1870"),
			number("wall_area_m2", "12.4"), number("floor_area_m2", "6.1"),
			number("rib_count", "9"), number("seat_count", "3"),
			number("unladen_front_kg", "1100"),
			{Name: "bulkhead", Kind: catalogue.YesNoFact, Yes: true},
		},
		Particulars: []catalogue.Particular{
			{Name: "steering", Values: []string{"right", "left"}},
			{Name: "sliding_doors", Values: []string{"nearside", "both"}},
		},
	}
}

func testCatalogue() *catalogue.Catalogue {
	minibus := testVan()
	minibus.Code = "minibus"
	minibus.Facts = append(catalogue.Facts{{Name: "body", Kind: catalogue.TextFact, Text: "minibus"}}, minibus.Facts[1:]...)
	return &catalogue.Catalogue{
		BaseVans: []catalogue.BaseVan{testVan(), minibus},
		Features: []catalogue.Feature{
			{Code: "hob"}, {Code: "oven"}, {Code: "heater"},
			{Code: "sockets", Count: &catalogue.Count{Least: 1, Most: 6}},
			{Code: "windows", Count: &catalogue.Count{Least: 2, Most: 4}},
		},
		Figures: []catalogue.Figure{
			{Code: "gas_input_kw"}, {Code: "lining_m2"}, {Code: "water_l"}, {Code: "vent_area_mm2"},
		},
		Finishes: []catalogue.Finish{{Code: "fabric", Choices: []catalogue.FinishChoice{{Code: "wool"}, {Code: "cord"}}}},
	}
}

func testScope(tb testing.TB) *Scope {
	tb.Helper()
	s, faults := NewScope(testCatalogue())
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	return s
}

// testValues has hob, three sockets of which two are fitted, wool, and figures.
func testValues(tb testing.TB, s *Scope) *Values {
	tb.Helper()
	v := s.NewValues()
	slot := func(name string) Slot {
		at, ok := s.Slot(name)
		if !ok {
			tb.Fatalf("no name %q", name)
		}
		return at
	}
	for _, f := range testVan().Facts {
		at := slot("van." + f.Name)
		switch f.Kind {
		case catalogue.NumberFact:
			if err := v.SetNumber(at, f.Number); err != nil {
				tb.Fatal(err)
			}
		case catalogue.TextFact:
			v.SetText(at, f.Text)
		case catalogue.YesNoFact:
			v.SetTruth(at, f.Yes)
		}
	}
	v.SetText(slot("van.steering"), "right")
	v.SetText(slot("van.sliding_doors"), "nearside")
	v.SetText(slot("finish.fabric"), "wool")
	v.SetTruth(slot("hob"), true)
	v.SetCount(slot("fit.hob"), 1)
	v.SetCount(slot("sockets"), 3)
	v.SetCount(slot("fit.sockets"), 2)
	for name, value := range map[string]string{
		"gas_input_kw": "4.5", "lining_m2": "18.35", "vent_area_mm2": "10000",
		SheetMassKG: "412.7", SheetHours: "56", SheetLeftKG: "330.5",
	} {
		if err := v.SetNumber(slot(name), decimal.RequireFromString(value)); err != nil {
			tb.Fatal(err)
		}
	}
	return v // water_l has no value
}

func TestNumbers(t *testing.T) {
	s := testScope(t)
	v := testValues(t, s)
	for source, want := range map[string]string{
		"":                                  "1",
		"2":                                 "2",
		"-0.1":                              "-0.1",
		"0.1 * 3 / 0.1":                     "3", // ordinary arithmetic; floats give 3.0000000000000004
		"0.1 + 0.2":                         "0.3",
		"1 / 3":                             "0.333333333333",
		"2 / 3":                             "0.666666666667",
		"-2 / 3":                            "-0.666666666667",
		"van.load_length_mm":                "3705",
		"sockets * 1.5 + 2":                 "6.5",
		"fit.sockets":                       "2",
		"one(hob) + one(oven)":              "1",
		"hob ? 1.75 : 0":                    "1.75",
		"oven ? 1 / one(oven) : 7":          "7",
		"ceil(2.1)":                         "3",
		"ceil(-2.1)":                        "-2",
		"floor(2.9)":                        "2",
		"floor(-2.1)":                       "-3",
		"round(2.675, 2)":                   "2.68",
		"round(-2.665, 2)":                  "-2.67",
		"round(12.5, 0)":                    "13",
		"abs(2 - 5)":                        "3",
		"min(2, -3)":                        "-3",
		"max(2, -3)":                        "2",
		"steps(van.load_length_mm, 600)":    "7",
		"steps(3600, 600)":                  "6",
		"mm_to_m(van.load_length_mm)":       "3.705",
		"mm2_to_m2(vent_area_mm2)":          "0.01",
		"m2_to_mm2(van.wall_area_m2)":       "12400000",
		"lining_m2 * 1.1":                   "20.185",
		"finish.fabric == \"wool\" ? 2 : 3": "2",
		"van.body == 'minibus' ? 1 : 0":     "0",
		"--2":                               "2",
		"2 - -2":                            "4",
	} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Errorf("%q: %v", source, err)
			continue
		}
		got, err := f.Number(v)
		if err != nil {
			t.Errorf("%q: %v", source, err)
			continue
		}
		if got.String() != want {
			t.Errorf("%q = %s, want %s", source, got, want)
		}
	}
}
