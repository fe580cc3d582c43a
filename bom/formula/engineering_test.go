package formula

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// calculationsOfWitness gives CEL the calculations, each worked on the fractions
// it comes by itself. It shares the Go functions with what it bears witness to,
// not the way to them.
func calculationsOfWitness() []cel.EnvOption {
	var options []cel.EnvOption
	for _, c := range engineered {
		takes := make([]*cel.Type, len(c.parameters))
		for i := range takes {
			takes[i] = fractionType
		}
		options = append(options, cel.Function(c.name, cel.Overload(c.name, takes, fractionType,
			cel.FunctionBinding(func(args ...ref.Val) ref.Val {
				var given [maxArguments]decimal.Decimal
				for i, a := range args {
					r := a.(fraction)
					given[i] = decimal.RequireFromString(r.FloatString(Places))
					if c.parameters[i].whole && (!r.IsInt() || r.Sign() < 0 || r.Num().Int64() > mostCounted) {
						return types.NewErr("not counted")
					}
				}
				d, err := c.work(&given)
				if err != nil {
					return types.WrapErr(err)
				}
				return kept(d.Rat())
			}))))
	}
	return options
}

// narrow are the ranges of parameters that plausible would seldom hit, in
// hundredths.
var narrow = map[string][2]int64{
	"wheelbase_mm":          {200_000, 400_000},
	"cylinder_mm":           {20_000, 40_000},
	"pressure_mbar":         {15_000, 16_000},
	"settle_minutes":        {500, 1_000},
	"test_minutes":          {500, 1_000},
	"heating_kwh_per_kg":    {1_200, 1_300},
	"fuel_kg_per_l":         {70, 90},
	"conductivity_w_per_mk": {2, 50},
	"roll_width_mm":         {10_000, 50_000},
	"humidity_percent":      {100, 5_000},
	"inside_percent":        {100, 5_000},
	"outside_percent":       {100, 5_000},
	"inside_c":              {-1_000, 2_000},
	"outside_c":             {-1_000, 2_000},
	"air_c":                 {-1_000, 2_000},
	"width_mm":              {10_000, 50_000},
	"height_mm":             {10_000, 50_000},
	"radius_mm":             {0, 2_000},
	"load_factor":           {100, 200},
	"loss_factor":           {100, 500},
	"exponent":              {100, 200},
	"insulation_c":          {6000, 13000},
	"latitude_deg":          {-6600, 6600},
	"mains_mm2":             {100, 450},
}

// plausible draws what a parameter may be given: a few figures near those at
// which tables and ranges turn.
func plausible(t *rapid.T, label string) decimal.Decimal {
	if r, ok := narrow[label]; ok {
		return decimal.New(rapid.Int64Range(r[0], r[1]).Draw(t, label), -2)
	}
	coefficient := rapid.Int64Range(0, 120).Draw(t, label)
	return decimal.New(coefficient, int32(rapid.IntRange(-2, 1).Draw(t, label+" places")))
}

// TestTrends holds each note of how a result moves with a parameter, for
// Between relies on it.
func TestTrends(t *testing.T) {
	for _, c := range engineered {
		t.Run(c.name, func(t *testing.T) {
			worked := 0
			rapid.Check(t, func(r *rapid.T) {
				var before [maxArguments]decimal.Decimal
				for i, p := range c.parameters {
					before[i] = plausible(r, p.name)
					if p.whole {
						before[i] = decimal.New(rapid.Int64Range(0, 20).Draw(r, p.name), 0)
					}
				}
				after := before
				at := rapid.IntRange(0, len(c.parameters)-1).Draw(r, "which")
				p := c.parameters[at]
				more := plausible(r, "more")
				if p.whole {
					more = more.Ceil()
				}
				after[at] = after[at].Add(more)
				x, err1 := c.work(&before)
				y, err2 := c.work(&after)
				if err1 != nil || err2 != nil {
					return
				}
				worked++
				if p.trend == rising && y.LessThan(x) || p.trend == falling && y.GreaterThan(x) {
					r.Errorf("%s: from %v to %v with %s", c.use(), x, y, p.name)
				}
			})
			if worked == 0 {
				t.Errorf("%s never came to anything", c.use())
			}
		})
	}
}

// TestCalculationsAreNamed holds names to their units and the page to the names.
func TestCalculationsAreNamed(t *testing.T) {
	page, err := os.ReadFile("../../docs/formulas.md")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, c := range engineered {
		if seen[c.name] || findFunction(c.name) != nil {
			t.Errorf("%s is there twice", c.name)
		}
		seen[c.name] = true
		if UnitOf(c.name) == "" {
			t.Errorf("%s ends in no unit", c.name)
		}
		if n := len(c.parameters); n < 1 || n > maxArguments {
			t.Errorf("%s takes %d", c.name, n)
		}
		for _, p := range c.parameters {
			if p.trend < rising || p.trend > bending {
				t.Errorf("%s: %s has no trend", c.name, p.name)
			}
		}
		if !strings.Contains(string(page), "`"+c.use()+"`") {
			t.Errorf("docs/formulas.md does not list %s", c.use())
		}
	}
}

// sample is a calculation of the tests: it takes a count and bends.
var sample = of3("sample_mm2", func(a, b, c decimal.Decimal) (decimal.Decimal, error) {
	return a.Mul(b).Sub(c), nil
}, rises("rib_count").counted(), rises("length_m"), bends("guess"))

// TestGivenInOrder holds that each argument comes where it belongs.
func TestGivenInOrder(t *testing.T) {
	type d = decimal.Decimal
	join := func(list ...d) (d, error) {
		sum := d{}
		for _, x := range list {
			sum = sum.Mul(decimal.New(10, 0)).Add(x)
		}
		return sum, nil
	}
	var given [maxArguments]decimal.Decimal
	for i := range given {
		given[i] = decimal.New(int64(i+1), 0)
	}
	for want, c := range map[int]*calculation{
		1:      of1("", func(a d) (d, error) { return join(a) }),
		12:     of2("", func(a, b d) (d, error) { return join(a, b) }),
		123:    of3("", func(a, b, c d) (d, error) { return join(a, b, c) }),
		1234:   of4("", func(a, b, c, d d) (decimal.Decimal, error) { return join(a, b, c, d) }),
		12345:  of5("", func(a, b, c, d, e d) (decimal.Decimal, error) { return join(a, b, c, d, e) }),
		123456: of6("", func(a, b, c, d, e, f d) (decimal.Decimal, error) { return join(a, b, c, d, e, f) }),
	} {
		if got, err := c.work(&given); err != nil || wholeOf(got) != want {
			t.Errorf("given %v, %v, want %d", got, err, want)
		}
	}
}

func TestCalls(t *testing.T) {
	engineered = append(engineered, sample)
	defer func() { engineered = engineered[:len(engineered)-1] }()
	s := testScope(t)
	v := testValues(t, s)
	for source, want := range map[string]string{
		"sample_mm2(van.rib_count, 2, 1)":              "17",
		"sample_mm2(2, 3, hob ? 1 : 2)":                "5",
		"sample_mm2(sockets, 3, 1) + vent_area_mm2":    "10008",
		"sample_mm2(2.5, 3, 1)":                        "column 12: sample_mm2 takes its rib_count as a whole number from 0 to 1000000 and is given 2.5. Round it, as in ceil(x).",
		"sample_mm2(1000001, 3, 1)":                    "column 12: sample_mm2 takes its rib_count as a whole number from 0 to 1000000 and is given 1000001. Round it, as in ceil(x).",
		"sample_mm2(0 - sockets, 3, 1)":                "column 14: sample_mm2 takes its rib_count as a whole number from 0 to 1000000 and is given -3. Round it, as in ceil(x).",
		"sample_mm2(2, 3)":                             "column 1: sample_mm2 takes 3 values and is given 2. Write sample_mm2(rib_count, length_m, guess).",
		"1 + sample_mm2()":                             "column 5: sample_mm2 takes 3 values and is given 0. Write sample_mm2(rib_count, length_m, guess).",
		"sample_mm2(hob, 3, 1)":                        "column 12: A number is wanted here, but hob is there or not. Write one(hob) for 1 when it is there and 0 when it is not.",
		"sample_mm2(2, van.load_length_mm, 1)":         "column 15: sample_mm2 takes its length_m in m and is given mm. Write sample_mm2(rib_count, length_m, guess). Bring both to one unit with mm_to_m(x).",
		"sample_mm2(2, 3, water_l)":                    "column 18: water_l could not be worked out. Mend what it comes from first.",
		"sample_mm2(2, 3, 1) + van.load_length_mm":     "column 21: This adds mm2 and mm. Put like with like; where a plain factor lies between them (a litre of water is a kilogram), multiply by it.",
		"sampl_mm2(2, 3, 1)":                           `column 1: There is no function "sampl_mm2". Did you mean sample_mm2(rib_count, length_m, guess)?`,
		"step(2, 3)":                                   `column 1: There is no function "step". Did you mean steps(x, step)?`,
		"sample_mm2(1000000, 999999999, 0) * 0 + hobs": `column 41: Nothing is called "hobs". Did you mean hob?`,
		"sample_mm2(1000000, 9999999999, 0)":           "column 1: The result reaches 1,000,000,000,000,000, the limit of formulas. Look for a wrong unit or a divisor close to zero.",
		"drop_v(sockets, 5, one(oven), 20)":            "column 8: drop_v takes its current_a in a and is given a plain number. Write drop_v(current_a, length_m, area_mm2, conductor_c). Put like with like; where a plain factor lies between them (a litre of water is a kilogram), multiply by it.",
		"drop_v(1 * sockets, 5, 1 * one(oven), 20)":    "column 1: drop_v: The area of the conductor is 0 mm2 where something above 0 and up to 150 mm2 is wanted. Give the area of one conductor in square millimetres.",
	} {
		got := ""
		f, err := s.Compile(source, Number)
		if err == nil {
			var d decimal.Decimal
			if d, err = f.Number(v); err == nil {
				got = d.String()
			}
		}
		if err != nil {
			got = err.Error()
		}
		if got != want {
			t.Errorf("%s:\n gives %s\n want  %s", source, got, want)
		}
	}
	f, err := s.Compile("sample_mm2(2, 3, 1)", Number)
	if err != nil {
		t.Fatal(err)
	}
	if d, ok := f.ConstantNumber(); !ok || !d.Equal(decimal.New(5, 0)) {
		t.Errorf("a call that reads nothing is not worked out beforehand: %v, %v", d, ok)
	}
	f, err = s.Compile("sample_mm2(sockets, mm_to_m(van.load_width_mm), fit.sockets)", Number)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(f.Uses(), " "); got != "fit.sockets sockets van.load_width_mm" || f.Unit() != "mm2" {
		t.Errorf("it reads %s and gives %s", got, f.Unit())
	}
	if _, err := s.Condition("sample_mm2(2, 3, 1) > 1"); err == nil || !strings.Contains(err.Error(), "rule") {
		t.Errorf("a rule calls a calculation: %v", err)
	}
}

// TestCallsBetween bounds a call by its corners.
func TestCallsBetween(t *testing.T) {
	engineered = append(engineered, sample)
	defer func() { engineered = engineered[:len(engineered)-1] }()
	s := testScope(t)
	least, most := testValues(t, s), testValues(t, s)
	slot, _ := s.Slot("sockets")
	least.SetCount(slot, 1)
	most.SetCount(slot, 4)
	for source, want := range map[string]string{
		"sample_mm2(sockets, 2, 1)":                   "1 to 7",
		"sample_mm2(2, 1 * sockets, 1)":               "1 to 7",
		"sample_mm2(2, 3, sockets)":                   "no telling",
		"sample_mm2(2, 3, sockets * 0 + 1)":           "5 to 5",
		"drop_v(1 * sockets, 5, 1 * sockets, 20) * 1": "0.05 to 0.8",
		"drop_v(10, 5, 1 * sockets - 1, 20)":          "no telling",
	} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Errorf("%s: %v", source, err)
			continue
		}
		got := "no telling"
		if from, to, ok := f.Between(least, most); ok {
			got = fmt.Sprintf("%s to %s", from, to)
		}
		if got != want {
			t.Errorf("%s: %s, want %s", source, got, want)
		}
	}
}

// TestLately: what is remembered of a call is what it comes to, also of one that
// could not be worked out.
func TestLately(t *testing.T) {
	s := testScope(t)
	f, err := s.Compile("drop_v(1 * sockets, 25, 1 * fit.sockets, 20)", Number)
	if err != nil {
		t.Fatal(err)
	}
	sockets, _ := s.Slot("sockets")
	fit, _ := s.Slot("fit.sockets")
	rapid.Check(t, func(r *rapid.T) {
		v := s.NewValues()
		current, area := rapid.IntRange(0, 6).Draw(r, "current"), rapid.IntRange(0, 6).Draw(r, "area")
		v.SetCount(sockets, current)
		v.SetCount(fit, area)
		got, err := f.Number(v)
		if (err != nil) != (area == 0) {
			r.Fatalf("%d A, %d mm2: %v, %v", current, area, got, err)
		}
		if want := decimal.NewFromInt(int64(current)); err == nil && got.Mul(decimal.NewFromInt(int64(area))).Sub(want).Abs().GreaterThan(decimal.New(1, -5)) {
			r.Fatalf("%d A, %d mm2: %v", current, area, got)
		}
	})
}

// BenchmarkCallAnew works a call out that was not lately.
func BenchmarkCallAnew(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	f, err := s.Compile(cableRun, Number)
	if err != nil {
		b.Fatal(err)
	}
	slot, _ := s.Slot("van.load_length_mm")
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		n = (n + 1) % 50_000
		v.SetCount(slot, n)
		if _, err := f.Number(v); err != nil {
			b.Fatal(err)
		}
	}
}

// TestCostOfACatalogue: its formulas may call so much of engineering together,
// and no more; the same formula is counted once.
func TestCostOfACatalogue(t *testing.T) {
	s := testScope(t)
	many := func(call string) error {
		for i := range MaxCost + 1 {
			if _, err := s.Compile(fmt.Sprintf(call, i), Number); err != nil {
				return fmt.Errorf("after %d: %w", i, err)
			}
		}
		return nil
	}
	for range 3 {
		if _, err := s.Compile("dew_point_c(20, 50)", Number); err != nil {
			t.Fatal(err)
		}
	}
	if s.cost != 50 {
		t.Errorf("one slow call costs %d", s.cost)
	}
	if err := many("max(people_kg(sockets), people_kg(sockets + %d))"); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("after %d: ", (MaxCost-50)/2)) {
		t.Errorf("%v", err)
	}
	if _, err := s.Compile("sockets + 1", Number); err != nil {
		t.Errorf("what calls nothing: %v", err)
	}
}
