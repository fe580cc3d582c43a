package formula

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// hostile are formulas meant to hurt: to hang, to overflow a stack, to fill
// memory, to reach something.
var hostile = []string{
	strings.Repeat("(", 10_000) + "1" + strings.Repeat(")", 10_000),
	strings.Repeat("(", 250), strings.Repeat(")", 250),
	strings.Repeat("(", 240) + "1" + strings.Repeat(")", 240),
	strings.Repeat("-", 499) + "1", strings.Repeat("!", 496) + "hob",
	"1" + strings.Repeat("+1", 249), "hob" + strings.Repeat("&&hob", 99), strings.Repeat("hob?1:", 83) + "1",
	strings.Repeat("hob?", 100) + "1" + strings.Repeat(":1", 50),
	strings.Repeat("9", 499), "0." + strings.Repeat("0", 490) + "1", strings.Repeat("1,", 249), "1e999999999", "0x" + strings.Repeat("f", 400),
	"999999999999999" + strings.Repeat("*999999999999999", 30), "1" + strings.Repeat("/3", 249),
	"min(" + strings.Repeat("min(", 38) + "1" + strings.Repeat(",1)", 39),
	strings.Repeat("van.", 124) + "body", "van" + strings.Repeat(".body", 99), "a" + strings.Repeat("[0]", 160),
	"[1,2,3].map(x, [1,2,3].map(y, [1,2,3].map(z, x * y * z)))", "[0,0,0,0].all(a, [0,0,0,0].all(b, true))",
	`van.body.matches("(a+)+$")`, `matches(van.body, '(x*)*y')`, "{'a': {'a': {'a': 1}}}", "dyn(1) + 'a'", "type(1)", "has(van.body)",
	`"\u0000"`, "\x00", "hob\x00", "'" + "\x00" + "'", "\ufeffhob", "hob\u202e", "ｈｏｂ", "1\u00a0+\u00a01", "١ + ١", "hob\r\n&&\toven",
	"\xff\xfe", "hob \xc3\x28", "'\xed\xa0\x80'", "'''", `"""`, `r"\d+"`, "b'\\377'", "`", "``", "`van.body`", "//", "1 // 2", "/* 1 */", "1 /* 2 */",
	"true ? true ? true : false : false", ".hob", ".van.body", "van..body", "van.", ".", "..", "?", ":", ",", "()", "min()", "(1)(2)", "1.2.3", "1..2",
	"- - 1", "--9223372036854775808", "-999999999999999", "!-1", "!!-1", "-hob", "-'a'", "hob.?x", "hob[?0]", "Msg{a: 1}", "van{a: 1}", "van.body{}",
	"google.protobuf.Duration{seconds: 1}", "timestamp('2000-01-01T00:00:00Z')", "@x", "$x", "#x", "a\\b", "__import__", "null == null", "one(one(hob))",
}

// TestHostile tries each as everything a formula can be. That it ends is the
// test: the limits are on length, brackets and names, not on time.
func TestHostile(t *testing.T) {
	s := testScope(t)
	v := testValues(t, s)
	for _, source := range hostile {
		tryEverything(t, s, v, source)
	}
}

func tryEverything(t *testing.T, s *Scope, v *Values, source string) (kept []*Formula) {
	t.Helper()
	check := func(err error) bool {
		if err == nil {
			return true
		}
		var e *Error
		switch {
		case !errors.As(err, &e):
			t.Errorf("%.60q: %T", source, err)
		case e.Column < 1 || e.Column > utf8.RuneCountInString(source)+1:
			t.Errorf("%.60q: column %d", source, e.Column)
		case !sentence(e.Reason) || !sentence(e.Remedy) || !utf8.ValidString(e.Error()) || strings.ContainsRune(e.Error(), 0):
			t.Errorf("%.60q: %q", source, e.Error())
		}
		return false
	}
	for _, want := range []Kind{Number, Truth} {
		for _, compile := range []func(string, Kind) (*Formula, error){s.Compile, s.CompileCheck} {
			f, err := compile(source, want)
			if !check(err) {
				continue
			}
			if want == Number {
				d, err := f.Number(v)
				if check(err) && d.Abs().Cmp(decimal.NewFromInt(Largest)) >= 0 {
					t.Errorf("%.60q gives %s", source, d)
				}
			} else {
				_, err = f.Truth(v)
				check(err)
			}
			kept = append(kept, f)
		}
	}
	if c, err := s.Condition(source); check(err) {
		c.Fold(Decide(testVan().Facts)).Holds(func(Atom) bool { return true })
	}
	return kept
}

// sentence says whether s reads as one: it ends, and is not without end.
func sentence(s string) bool {
	return s != "" && len(s) < 2*catalogue.MaxFormula && (strings.HasSuffix(s, ".") || strings.HasSuffix(s, "?"))
}

// TestLimits tries each limit and one past it.
func TestLimits(t *testing.T) {
	s := testScope(t)
	pad := func(n int) string { return strings.Repeat(" ", n-1) + "1" }
	nested := func(n int) string { return strings.Repeat("(", n) + "1" + strings.Repeat(")", n) }
	for _, c := range []struct {
		name, at, past, reason string
	}{
		{"length", pad(catalogue.MaxFormula), pad(catalogue.MaxFormula + 1), "bytes long"},
		{"nesting", nested(maxNesting), nested(maxNesting + 1), "deep"},
		{"digits", "123456789012345", "1234567890123456", "15 digits"},
		{"digits with a point", "123456.789012345", "1234567.890123456", "15 digits"},
		{"places", "0.123456789012", "0.1234567890123", "after the point"},
		{"leading zeros", "000000000000000000001", "0000000000000000000012345678901234567", "15 digits"},
		{"largest", "999999999999999 + 0.9", "999999999999999 + 1", "the limit of formulas"},
		{"most negative", "-999999999999999 - 0.9", "-999999999999999 - 1", "the limit of formulas"},
	} {
		if _, err := s.Compile(c.at, Number); err != nil {
			t.Errorf("%s at its limit: %v", c.name, err)
		}
		if _, err := s.Compile(c.past, Number); err == nil || !strings.Contains(err.Error(), c.reason) {
			t.Errorf("%s past its limit: %v", c.name, err)
		}
	}
}

// TestErrorsOfValues are those found only when a formula is worked out.
func TestErrorsOfValues(t *testing.T) {
	s := testScope(t)
	v := testValues(t, s)
	for source, want := range map[string]string{
		"1 / one(oven)":                         "column 3: This divides by zero. Guard it, as in x > 0 ? y / x : 0.",
		"steps(1, sockets - 3)":                 "column 1: The step is not above zero. Guard it, as in x > 0 ? y / x : 0.",
		"steps(1, sockets - 4)":                 "column 1: The step is not above zero. Guard it, as in x > 0 ? y / x : 0.",
		"water_l":                               "column 1: water_l could not be worked out. Mend what it comes from first.",
		"2 + water_l":                           "column 5: water_l could not be worked out. Mend what it comes from first.",
		"hob ? water_l : 1":                     "column 7: water_l could not be worked out. Mend what it comes from first.",
		"sockets * 999999999999999":             "column 9: The result reaches 1,000,000,000,000,000, the limit of formulas. Look for a wrong unit or a divisor close to zero.",
		"ceil(999999999999999 + 0.1 * sockets)": "column 1: The result reaches 1,000,000,000,000,000, the limit of formulas. Look for a wrong unit or a divisor close to zero.",
		"m2_to_mm2(1000000000 * one(hob))":      "column 1: The result reaches 1,000,000,000,000,000, the limit of formulas. Look for a wrong unit or a divisor close to zero.",
		"sockets / 0.000000000001 / 0.001":      "column 26: The result reaches 1,000,000,000,000,000, the limit of formulas. Look for a wrong unit or a divisor close to zero.",
		"one(water_l > 1 || oven)":              "column 5: water_l could not be worked out. Mend what it comes from first.",
		"oven && 1 / one(oven) > 1 ? 1 : 1 / (1 - sockets / 3)": "column 35: This divides by zero. Guard it, as in x > 0 ? y / x : 0.",
	} {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Errorf("%s: %v", source, err)
			continue
		}
		if got, err := f.Number(v); err == nil || err.Error() != want {
			t.Errorf("%s:\n gives %v, %v\n want     %s", source, got, err, want)
		}
	}
	// One decisive side is enough, on either hand.
	for source, want := range map[string]bool{
		"water_l > 0 || hob": true, "hob || water_l > 0": true, "oven && water_l > 0": false, "water_l > 0 && oven": false,
	} {
		f, err := s.Compile(source, Truth)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := f.Truth(v); got != want || err != nil {
			t.Errorf("%s: %t, %v", source, got, err)
		}
	}
}

// TestColumnAcrossLines counts from the start of the formula, line ends too.
func TestColumnAcrossLines(t *testing.T) {
	s := testScope(t)
	for source, column := range map[string]string{
		"hob &&\n  && oven": "column 10:", "hob &&\n\n  ovn": "column 11:", "hob\n&& oven\nheater": "column 13:",
	} {
		if _, err := s.Compile(source, Truth); err == nil || !strings.HasPrefix(err.Error(), column) {
			t.Errorf("%q: %v, want %s", source, err, column)
		}
	}
}

// TestFormulasAtOnce works one formula out from many sides at once, while others
// are compiled; the race detector has the say.
func TestFormulasAtOnce(t *testing.T) {
	s := testScope(t)
	base := testValues(t, s)
	var wait sync.WaitGroup
	for i := range 8 {
		wait.Go(func() {
			v := s.NewValues()
			copy(v.numbers, base.numbers)
			copy(v.texts, base.texts)
			sockets, _ := s.Slot("sockets")
			for n := range 100 {
				f, err := s.Compile(fmt.Sprintf("%s + %d", ordinary, n), Number)
				if err != nil {
					t.Error(err)
					return
				}
				v.SetCount(sockets, n)
				want := decimal.New(245, -2).Add(decimal.New(35, -1).Mul(decimal.NewFromInt(int64(n))))
				if got, err := f.Number(v); err != nil || !got.Equal(want) {
					t.Errorf("%d: %v, want %v, %v", i, got, want, err)
				}
			}
		})
	}
	wait.Wait()
}

// FuzzCompile tries any text as a formula of every kind; whatever is accepted
// CEL's own checker and interpreter must accept and work out to the same.
func FuzzCompile(f *testing.F) {
	for _, source := range hostile {
		f.Add(source)
	}
	for _, source := range []string{
		ordinary, ordinaryTruth, "0.1 * 3 / 0.1", "round(2.675, 2)", "van.body != 'minibus' && !van.bulkhead", "finish.fabric == ''",
		"sheet.left_kg >= 0", "hob ? mm_to_m(van.load_length_mm) : -1.5", "windows != 3", "water_l > 0 || hob", "steps(7, 2) - abs(-3)",
		cableRun, "fused_cable_mm2(1 * sockets, 1.25, mm_to_m(van.load_length_mm), 0.36, 70, 3)", "peak_sun_h(54, 6, 42)", "fuse_a(10, 2, 3)",
		"cable_a(2.5, 70, sockets / 2)", "next_mm2()", "grouping_percent(hob)", "solar_wh(100, van.load_length_mm, 1.3)",
	} {
		f.Add(source)
	}
	s, _ := NewScope(testCatalogue())
	w := newWitness(f, s)
	values := testValues(f, s)
	vars := w.activation(values)
	f.Fuzz(func(t *testing.T, source string) {
		for _, formula := range tryEverything(t, s, values, source) {
			if _, err := w.agree(formula, values, vars); err != nil && source != "" {
				t.Errorf("%q: %v", source, err)
			}
		}
		clear(s.compiled) // do not fill memory with what is tried once
	})
}
