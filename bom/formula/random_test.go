package formula

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

// expressions draws formulas over the names of testCatalogue that have no
// unit or are plain numbers, so that units refuse none of them.
type expressions struct{ *rapid.T }

func (e expressions) number(depth int) string {
	if depth == 0 {
		return e.leaf()
	}
	n := func() string { return e.number(depth - 1) }
	switch rapid.IntRange(0, 13).Draw(e.T, "number") {
	case 0, 1:
		return e.leaf()
	case 2, 3:
		return fmt.Sprintf("%s + %s", n(), n())
	case 4:
		return fmt.Sprintf("%s - (%s)", n(), n())
	case 5, 6:
		return fmt.Sprintf("(%s) * (%s)", n(), n())
	case 7:
		return fmt.Sprintf("(%s) / (%s)", n(), n())
	case 8:
		return fmt.Sprintf("-(%s)", n())
	case 9:
		f := rapid.SampledFrom([]string{"ceil", "floor", "abs", "mm_to_m", "m_to_mm"}).Draw(e.T, "function")
		if strings.Contains(f, "_") {
			return fmt.Sprintf("1 * %s(1 * (%s))", f, n()) // times a constant: unit unknown
		}
		return fmt.Sprintf("%s(%s)", f, n())
	case 10:
		f := rapid.SampledFrom([]string{"min", "max", "steps"}).Draw(e.T, "function")
		return fmt.Sprintf("%s(%s, %s)", f, n(), n())
	case 11:
		return fmt.Sprintf("round(%s, %d)", n(), rapid.IntRange(0, Places).Draw(e.T, "places"))
	case 12:
		return e.calculation(depth - 1)
	}
	return fmt.Sprintf("(%s ? %s : %s)", e.truth(depth-1), n(), n())
}

// calculation calls one of engineering with numbers of no certain unit.
func (e expressions) calculation(depth int) string {
	c := rapid.SampledFrom(engineered).Draw(e.T, "calculation")
	args := make([]string, len(c.parameters))
	for i, p := range c.parameters {
		args[i] = fmt.Sprintf("1 * (%s)", e.number(max(0, min(depth, 1))))
		if p.whole {
			args[i] = fmt.Sprintf("ceil(%s)", args[i])
		}
		if rapid.Bool().Draw(e.T, "plain") {
			args[i] = plausible(e.T, p.name).String()
		}
	}
	return fmt.Sprintf("1 * %s(%s)", c.name, strings.Join(args, ", "))
}

func (e expressions) leaf() string {
	switch rapid.IntRange(0, 3).Draw(e.T, "leaf") {
	case 0:
		return rapid.StringMatching(`[0-9]{1,3}(\.[0-9]{1,12})?`).Draw(e.T, "short")
	case 1:
		return rapid.StringMatching(`-?[1-9][0-9]{0,8}(\.[0-9]{1,6})?`).Draw(e.T, "long")
	case 2:
		return fmt.Sprintf("one(%s)", e.truth(0))
	}
	return rapid.SampledFrom([]string{"sockets", "fit.sockets", "fit.hob", "van.rib_count", "van.seat_count", "windows", "guess"}).Draw(e.T, "name")
}

func (e expressions) truth(depth int) string {
	if depth == 0 {
		return rapid.SampledFrom([]string{
			"hob", "oven", "true", "false", "van.bulkhead", "(finish.fabric == 'wool')", `("cord" != finish.fabric)`,
			"(van.steering == 'left')", "(finish.fabric == '')", "(guess > 1)",
		}).Draw(e.T, "truth")
	}
	b := func() string { return e.truth(depth - 1) }
	switch rapid.IntRange(0, 5).Draw(e.T, "truth kind") {
	case 0:
		return fmt.Sprintf("(%s && %s)", b(), b())
	case 1:
		return fmt.Sprintf("(%s || %s)", b(), b())
	case 2:
		return "!(" + b() + ")"
	case 3:
		return fmt.Sprintf("(%s == %s)", b(), b())
	case 4:
		return fmt.Sprintf("(%s ? %s : %s)", b(), b(), b())
	}
	op := rapid.SampledFrom([]string{"==", "!=", "<", "<=", ">", ">="}).Draw(e.T, "compare")
	return fmt.Sprintf("(%s %s %s)", e.number(depth-1), op, e.number(depth-1))
}

// guessScope adds a figure without a value in half the draws.
func guessScope(tb testing.TB) *Scope {
	tb.Helper()
	c := testCatalogue()
	c.Figures = append(c.Figures, catalogue.Figure{Code: "guess"})
	s, faults := NewScope(c)
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	return s
}

// TestRandomFormulasAgreeWithCEL holds random formulas against CEL's own
// grammar, checker and interpreter on fractions of any length.
func TestRandomFormulasAgreeWithCEL(t *testing.T) {
	s := guessScope(t)
	w := newWitness(t, s)
	base := testValues(t, s)
	guess, _ := s.Slot("guess")
	hob, _ := s.Slot("hob")
	outcomes := map[string]int{}
	rapid.Check(t, func(r *rapid.T) {
		v := &Values{scope: s, numbers: append([]number(nil), base.numbers...), texts: append([]string(nil), base.texts...)}
		v.SetTruth(hob, rapid.Bool().Draw(r, "hob"))
		if rapid.Bool().Draw(r, "guessed") {
			d := decimal.New(rapid.Int64Range(-1e15, 1e15).Draw(r, "coefficient"), int32(rapid.IntRange(-12, -1).Draw(r, "exponent")))
			if err := v.SetNumber(guess, d); err != nil {
				r.Fatal(err)
			}
		}
		source := expressions{r}.number(rapid.IntRange(0, 3).Draw(r, "depth"))
		want := Number
		if rapid.IntRange(0, 3).Draw(r, "want") == 0 {
			source, want = expressions{r}.truth(rapid.IntRange(0, 3).Draw(r, "depth")), Truth
		}
		if len(source) > catalogue.MaxFormula {
			outcomes["long"]++
			return
		}
		f, err := s.Compile(source, want)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) {
				r.Fatalf("%s: %T", source, err)
			}
			// Units stay out of it, so what is refused is a constant part
			// that can never be worked out.
			if !strings.Contains(e.Reason, "zero") && !strings.Contains(e.Reason, "limit of formulas") &&
				!strings.HasSuffix(e.Reason, " is wanted.") && !strings.Contains(e.Reason, "whole number") {
				r.Fatalf("%s: %v", source, err)
			}
			outcomes["refused"]++
			return
		}
		outcome, err := w.agree(f, v, w.activation(v))
		if err != nil {
			r.Fatalf("%s: %v", source, err)
		}
		outcomes[outcome]++
	})
	t.Log(outcomes)
	if outcomes["value"] == 0 {
		t.Error("no formula came to a value")
	}
}
