package formula

import (
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

func TestUnits(t *testing.T) {
	c := testCatalogue()
	for _, code := range []string{
		"run_m", "side_m", "draw_w_per_m2", "load_w", "load_kw", "day_h", "day_wh", "charge_ah", "volts_v", "current_a",
		"share_percent", "pitch_mm", "dose_ml", "guess", "rate_x_per_m", "clips_count_per_m", "tank_l",
	} {
		c.Figures = append(c.Figures, catalogue.Figure{Code: code})
	}
	s, faults := NewScope(c)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	for source, want := range map[string]string{
		"2":                               "",
		"guess":                           "",
		"rate_x_per_m":                    "",
		"sockets":                         Count,
		"fit.hob":                         Count,
		"one(hob)":                        Count,
		"-pitch_mm":                       "mm",
		"pitch_mm + 5":                    "mm",
		"5 - pitch_mm":                    "mm",
		"guess + pitch_mm":                "mm",
		"pitch_mm * 5":                    "",
		"pitch_mm * guess":                "",
		"pitch_mm / 5":                    "",
		"5 / pitch_mm":                    "",
		"pitch_mm * sockets":              "mm",
		"sockets * pitch_mm":              "mm",
		"pitch_mm / sockets":              "mm",
		"sockets / run_m":                 "count_per_m",
		"sockets / run_m * side_m":        Count,
		"clips_count_per_m * run_m":       Count,
		"pitch_mm / van.load_width_mm":    Count,
		"run_m * side_m":                  "m2",
		"van.wall_area_m2 / side_m":       "m",
		"pitch_mm * van.load_width_mm":    "mm2",
		"load_w * day_h":                  "wh",
		"day_h * load_w":                  "wh",
		"day_wh / day_h":                  "w",
		"day_wh / load_w":                 "h",
		"day_wh / volts_v":                "ah",
		"load_w / volts_v":                "a",
		"current_a * volts_v":             "w",
		"current_a * day_h":               "ah",
		"load_kw * day_h":                 "kwh",
		"draw_w_per_m2 * lining_m2":       "w",
		"lining_m2 * draw_w_per_m2":       "w",
		"load_w / lining_m2":              "w_per_m2",
		"load_w / lining_m2 * lining_m2":  "w",
		"draw_w_per_m2 * run_m":           "",
		"share_percent + 1":               "percent",
		"share_percent * tank_l":          "",
		"min(pitch_mm, 600)":              "mm",
		"max(600, pitch_mm)":              "mm",
		"steps(pitch_mm, 600)":            Count,
		"round(pitch_mm, 0)":              "mm",
		"ceil(abs(floor(pitch_mm)))":      "mm",
		"mm_to_m(pitch_mm)":               "m",
		"m_to_mm(1.5)":                    "mm",
		"hob ? pitch_mm : 0":              "mm",
		"hob ? 0 : pitch_mm":              "mm",
		"hob ? 0 : 1":                     "",
		"(pitch_mm * 2 + tank_l) * 1":     "",
		"hob ? sockets : fit.sockets + 1": Count,
	} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Errorf("%s: %v", source, err)
		} else if f.Unit() != want {
			t.Errorf("%s is in %q, want %q", source, f.Unit(), want)
		}
	}
	for source, said := range map[string]string{
		"load_w + load_kw":             "multiply or divide one of them by 1000",
		"tank_l / dose_ml":             "This divides l by ml.",
		"run_m * pitch_mm":             "mm_to_m(x)",
		"day_wh + current_a * volts_v": "This adds wh and w.",
		"draw_w_per_m2 < load_w":       "This compares w per m2 and w.",
		"m_to_mm(pitch_mm)":            "m_to_mm takes m and is given mm.",
	} {
		_, err := s.Compile(source, Number)
		if err == nil || !strings.Contains(err.Error(), said) {
			t.Errorf("%s: %v", source, err)
		}
	}
}

func TestFits(t *testing.T) {
	s := testScope(t)
	for _, c := range []struct{ source, unit, want string }{
		{"2", "m", ""},
		{"lining_m2 * 1.1", "l", ""},
		{"lining_m2", "m2", ""},
		{"sockets", "m", ""}, // one metre a socket
		{"sockets", "each", ""},
		{"sockets", "h", ""},
		{"", "h", ""},
		{"van.load_length_mm", "w_per_m2", "column 1: This gives mm where w per m2 is wanted. Put like with like; where a plain factor lies between them (a litre of water is a kilogram), multiply by it."},
		{"van.load_length_mm", Count, "column 1: This gives mm where a plain number is wanted. Put like with like; where a plain factor lies between them (a litre of water is a kilogram), multiply by it."},
		{"van.load_length_mm", "m", "column 1: This gives mm where m is wanted. Bring both to one unit with mm_to_m(x)."},
		{"lining_m2", "each", "column 1: This gives m2 where a number of things is wanted. Divide it by what one of them covers, as in steps(x, 600)."},
		{"1 + water_l", "kg", "column 3: This gives l where kg is wanted. Put like with like; where a plain factor lies between them (a litre of water is a kilogram), multiply by it."},
	} {
		f, err := s.Compile(c.source, Number)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if err := f.Fits(c.unit); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%q in %s:\n gives %s\n want  %s", c.source, c.unit, got, c.want)
		}
	}
}

func TestUses(t *testing.T) {
	s := testScope(t)
	for source, want := range map[string]string{
		"": "", "2": "",
		"sockets * sockets": "sockets",
		"hob ? van.load_length_mm : min(fit.hob * 600, 2 * lining_m2)":               "fit.hob hob lining_m2 van.load_length_mm",
		"finish.fabric == 'wool' && van.body != 'minibus' ? 1 : round(lining_m2, 2)": "finish.fabric lining_m2 van.body",
		"true ? 1 : one(oven)": "oven",
	} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(f.Uses(), " "); got != want {
			t.Errorf("%q uses %q, want %q", source, got, want)
		}
		if f.Source() != source {
			t.Errorf("source %q", f.Source())
		}
	}
}

func TestConstants(t *testing.T) {
	s := testScope(t)
	for source, want := range map[string]string{"": "1", "2.50": "2.5", "ceil(7 / 2) * 3": "12", "true && 1 < 2 ? 3 : 4": "3"} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := f.ConstantNumber()
		value, err := f.Number(nil)
		if !ok || got.String() != want || err != nil || !value.Equal(got) {
			t.Errorf("%q: %v, %t; worked out %v, %v", source, got, ok, value, err)
		}
	}
	for source, want := range map[string]bool{"": true, "1 > 2": false, "!(1 > 2)": true} {
		f, err := s.Compile(source, Truth)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := f.ConstantTruth(); !ok || got != want {
			t.Errorf("%q: %t, %t", source, got, ok)
		}
		if _, ok := f.ConstantNumber(); ok {
			t.Errorf("%q is a number", source)
		}
	}
	for _, source := range []string{"sockets", "0 * sockets"} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := f.ConstantNumber(); ok {
			t.Errorf("%q is said to be constant", source)
		}
	}
}

// TestFreshValues: no feature is there, no finish is chosen, nothing else has
// a value; Reset brings that back, Clear takes one value away.
func TestFreshValues(t *testing.T) {
	s := testScope(t)
	used := testValues(t, s)
	used.Reset()
	for name, v := range map[string]*Values{"new": s.NewValues(), "reset": used} {
		for source, want := range map[string]string{
			"one(hob) + sockets + fit.hob + fit.sockets": "0",
			"one(finish.fabric == '')":                   "1",
			"lining_m2":                                  "column 1: lining_m2 could not be worked out. Mend what it comes from first.",
			"van.rib_count":                              "column 1: van.rib_count has no value here. Mend what it comes from first.",
			"one(van.bulkhead)":                          "column 5: van.bulkhead has no value here. Mend what it comes from first.",
			"one(van.body == 'minibus')":                 "column 14: van.body has no value here. Mend what it comes from first.",
			"one(van.steering != 'left')":                "column 18: van.steering has no value here. Mend what it comes from first.",
		} {
			if got := s.shown(v, source); strings.TrimPrefix(got, "fails:") != want {
				t.Errorf("%s: %s gives %s", name, source, got)
			}
		}
	}
	full := testValues(t, s)
	for _, name := range []string{"sockets", "hob", "van.body", "finish.fabric"} {
		slot, ok := s.Slot(name)
		if !ok {
			t.Fatal(name)
		}
		full.Clear(slot)
	}
	for _, source := range []string{"sockets", "hob", "van.body == 'minibus'", "finish.fabric == ''"} {
		if got := s.shown(full, source); !strings.HasPrefix(got, "fails:") {
			t.Errorf("cleared %s gives %s", source, got)
		}
	}
}

// TestSettingTooMuch: a number past the limit is refused, and the name has no
// value.
func TestSettingTooMuch(t *testing.T) {
	s := testScope(t)
	v := testValues(t, s)
	slot, _ := s.Slot("lining_m2")
	if err := v.SetNumber(slot, decimal.New(1, 15)); err == nil {
		t.Error("accepted")
	}
	if got := s.shown(v, "lining_m2"); !strings.HasPrefix(got, "fails:") {
		t.Errorf("it reads as %s", got)
	}
	if _, ok := s.Slot("nothing"); ok {
		t.Error("there is a slot for nothing")
	}
	defer func() {
		if recover() == nil {
			t.Error("a text is set where a number belongs")
		}
	}()
	v.SetText(slot, "x")
}

// TestNamesThatCannotBe: codes the language keeps, and two things of one name.
func TestNamesThatCannotBe(t *testing.T) {
	c := testCatalogue()
	c.Features = append(c.Features, catalogue.Feature{Code: "in"}, catalogue.Feature{Code: "and"}, catalogue.Feature{Code: "van"},
		catalogue.Feature{Code: "hob-2"}, catalogue.Feature{Code: "2nd_hob"}, catalogue.Feature{Code: ""}, catalogue.Feature{Code: "steps"})
	c.Figures = append(c.Figures, catalogue.Figure{Code: "hob"}, catalogue.Figure{Code: "loop"})
	c.BaseVans[0].Particulars = append(c.BaseVans[0].Particulars, catalogue.Particular{Name: "body", Values: []string{"a"}})
	s, faults := NewScope(c)
	var got []string
	for _, f := range faults {
		got = append(got, f.At+" "+f.Code)
		if !sentence(f.Reason) || !sentence(f.Remedy) {
			t.Errorf("%+v", f)
		}
	}
	want := []string{
		"features/in unwritable_name", "features/and unwritable_name", "features/van unwritable_name", "features/hob-2 unwritable_name",
		"features/2nd_hob unwritable_name", "features/ unwritable_name", "figures/hob name_taken", "figures/loop unwritable_name",
		"base_vans/long/particulars/body name_taken",
	}
	if !slices.Equal(got, want) {
		t.Errorf("faults\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	// A feature may be called as a function is.
	if _, err := s.Compile("one(steps) + steps(7, 2)", Number); err != nil {
		t.Error(err)
	}
}

// TestValuesOfAllVans: a text of the base van may be any that one of them has.
func TestValuesOfAllVans(t *testing.T) {
	c := testCatalogue()
	c.BaseVans[1].Particulars = []catalogue.Particular{{Name: "steering", Values: []string{"left", "centre"}}}
	// Room behind the list, into which a careless append would write.
	c.BaseVans[0].Particulars[0].Values = append(make([]string, 0, 9), "right", "left")
	s, faults := NewScope(c)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	_, err := s.Condition("van.steering == 'top'")
	if want := `column 17: van.steering is never "top". Its values are "right", "left", "centre".`; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	if got := c.BaseVans[0].Particulars[0].Values[:3]; got[2] != "" {
		t.Errorf("the catalogue itself now has %q", got)
	}
	n := name{}
	for range 25 {
		n.values = append(n.values, "x")
	}
	if got := quotedList(n.values); strings.Count(got, `"x"`) != 20 || !strings.HasSuffix(got, "and 5 more") {
		t.Error(got)
	}
}
