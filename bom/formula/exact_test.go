package formula_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// TestExact: what is worked on without decimals is what decimals say.
func TestExact(t *testing.T) {
	scope, faults := formula.NewScope(&catalogue.Catalogue{Figures: []catalogue.Figure{{Code: "x_m", Name: "X", Formula: "1"}, {Code: "y_m", Name: "Y", Formula: "1"}}})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	values := scope.NewValues()
	x, _ := scope.Slot("x_m")
	y, _ := scope.Slot("y_m")
	sum, err := scope.Compile("x_m + y_m", formula.Number)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		drawn := func(label string) int64 {
			return rapid.OneOf(rapid.Int64Range(-9e18, 9e18), rapid.Int64Range(-3, 3)).Draw(t, label)
		}
		a, b := drawn("a"), drawn("b")
		values.SetExact(x, formula.ExactOf(a))
		if err := values.SetNumber(y, decimal.New(b, -formula.Places)); err != nil {
			t.Fatal(err)
		}
		got, err := sum.Exact(values)
		want, err2 := sum.Number(values)
		if err != nil || err2 != nil || !got.Decimal().Equal(want) || !want.Equal(decimal.New(a, -formula.Places).Add(decimal.New(b, -formula.Places))) {
			t.Fatalf("%d + %d: %s, %s (%v %v)", a, b, got.Decimal(), want, err, err2)
		}
		if formula.ExactOf(a).Compare(formula.ExactOf(b)) != decimal.New(a, 0).Cmp(decimal.New(b, 0)) {
			t.Fatalf("%d to %d: %d", a, b, formula.ExactOf(a).Compare(formula.ExactOf(b)))
		}
		scaled, ok := got.Scaled()
		fits := want.Shift(formula.Places)
		if ok != fits.BigInt().IsInt64() || ok && scaled != fits.IntPart() {
			t.Fatalf("%s: %d, %v", want, scaled, ok)
		}
	})
}
