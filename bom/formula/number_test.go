package formula

import (
	"math/big"
	"strings"
	"testing"

	"github.com/cockroachdb/apd/v3"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// drawn draws a number of any size, short and long, near and far from ties.
func drawn(r *rapid.T, label string) number {
	digits := rapid.IntRange(1, 27).Draw(r, label+" digits")
	n := new(big.Int)
	text := rapid.StringMatching(`[0-9]{27}`).Draw(r, label)[:digits]
	if rapid.Bool().Draw(r, label+" short") { // so that ties are met
		few := min(digits, rapid.IntRange(1, 2).Draw(r, label+" few"))
		text = text[:few] + strings.Repeat("0", digits-few)
	}
	n.SetString(text, 10)
	x, ok := fromBig(n, rapid.Bool().Draw(r, label+" negative"))
	if !ok {
		r.Fatalf("%s is too large", text)
	}
	return x
}

func (x number) rat() *big.Rat { return new(big.Rat).SetFrac(x.big(), big.NewInt(scale)) }

// failing is what both rapid's checks and plain tests can do.
type failing struct{ rapid.TB }

// holds says whether a result is the true one rounded, and refused exactly when
// that reaches the limit.
func (r failing) holds(what string, got number, ok bool, exact *big.Rat) {
	want := roundedFraction(exact, Places)
	within := new(big.Rat).Abs(want).Cmp(largestFraction) < 0
	if ok != within || ok && got.rat().Cmp(want) != 0 {
		r.Fatalf("%s: %v (%t), exactly %s", what, got, ok, exact.FloatString(20))
	}
}

// TestArithmeticAgainstFractions is ordinary arithmetic; no source.
func TestArithmeticAgainstFractions(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		x, y := drawn(r, "x"), drawn(r, "y")
		a, b := x.rat(), y.rat()
		sum := x.plus(y)
		failing{r}.holds("sum", sum, sum.within(), new(big.Rat).Add(a, b))
		difference := x.minus(y)
		failing{r}.holds("difference", difference, difference.within(), new(big.Rat).Sub(a, b))
		product, ok := x.times(y)
		failing{r}.holds("product", product, ok, new(big.Rat).Mul(a, b))
		if y != zero {
			quotient, ok := x.over(y)
			failing{r}.holds("quotient", quotient, ok, new(big.Rat).Quo(a, b))
		}
		if got, want := x.compare(y), a.Cmp(b); got != want {
			r.Fatalf("compare %v %v = %d", x, y, got)
		}
		if got, want := x.magnitude().rat(), new(big.Rat).Abs(a); got.Cmp(want) != 0 {
			r.Fatalf("magnitude of %v", x)
		}
		up1, down1 := x.toMultiple(scale, up), x.toMultiple(scale, down)
		if up1.rat().Cmp(wholeFraction(a, 1)) != 0 || down1.rat().Cmp(wholeFraction(a, -1)) != 0 {
			r.Fatalf("%v goes up to %v and down to %v", x, up1, down1)
		}
		places := rapid.IntRange(0, Places).Draw(r, "places")
		if got := x.toMultiple(powersOfTen[Places-places], halfUp); got.rat().Cmp(roundedFraction(a, int64(places))) != 0 {
			r.Fatalf("%v to %d places is %v", x, places, got)
		}
	})
}

// TestArithmeticAtTheEdges has what random numbers hardly meet: exact ties, and
// carries from word to word.
func TestArithmeticAtTheEdges(t *testing.T) {
	top := number{tooLarge.hi, tooLarge.lo - 1}
	for _, c := range []struct{ x, y number }{
		{number{lo: 1}, number{lo: halfScale}}, {number{lo: 3}, number{lo: halfScale}}, {number{lo: 1}.negated(), number{lo: halfScale}},
		{number{lo: 1}, whole(2)}, {number{lo: 3}, whole(-2)}, {number{lo: 5}, whole(10)}, {number{lo: 5}, whole(100_000_000)},
		{number{18446744, 1<<64 - 1}, number{lo: 1<<63 + 12345}}, {number{18446744, 1<<64 - 1}, number{lo: 1<<64 - 1}},
		{number{1, 1<<64 - 1}, number{1, 1<<64 - 1}}, {number{0, 1<<64 - 1}, number{0, 1<<64 - 1}}, {number{1, 0}, number{0, 1<<64 - 1}},
		{top, one}, {top, number{lo: scale + 1}}, {top, number{lo: scale - 1}}, {top, top}, {top, top.negated()}, {top, number{lo: 1}},
		{number{1<<25 - 1, 1<<64 - 1}, number{0, 1<<64 - 1}},
		{number{1, 13506706010770133504}, number{1, 13506706010770133504}},     // two carries into one word
		{number{0, 1<<64 - 1}, number{1, 1}},                                   // 2^128 - 1: the half carries through
		{number{1 << 24, 0}, number{244140625 >> 12, 244140625 & 0xfff << 52}}, // 2^128 exactly, low words nought
		{number{18446744, 1359701234448236304}, number{lo: 1}},                 // the same as a quotient
	} {
		r := failing{t}
		product, ok := c.x.times(c.y)
		r.holds("product", product, ok, new(big.Rat).Mul(c.x.rat(), c.y.rat()))
		quotient, ok := c.x.over(c.y)
		r.holds("quotient", quotient, ok, new(big.Rat).Quo(c.x.rat(), c.y.rat()))
		sum := c.x.plus(c.y)
		r.holds("sum", sum, sum.within(), new(big.Rat).Add(c.x.rat(), c.y.rat()))
	}
	for _, hi := range []uint64{1<<64 - 1, 1 << 63, 1 << 62, uint64(tooLarge.hi) + 1} {
		if x, ok := signed(hi, 5, false); ok {
			t.Errorf("a magnitude of 2^64 times %d comes out as %v", hi, x)
		}
	}
}

// TestRoundingAgainstDecimalLibrary holds round(x, places) against apd, which
// is tested against the General Decimal Arithmetic cases.
func TestRoundingAgainstDecimalLibrary(t *testing.T) {
	half := apd.BaseContext.WithPrecision(60)
	half.Rounding = apd.RoundHalfUp
	rapid.Check(t, func(r *rapid.T) {
		x := drawn(r, "x")
		places := rapid.IntRange(0, Places).Draw(r, "places")
		d, _, err := apd.NewFromString(x.String())
		if err != nil {
			r.Fatal(err)
		}
		want := new(apd.Decimal)
		if _, err := half.Quantize(want, d, int32(-places)); err != nil {
			r.Fatal(err)
		}
		got, _, _ := apd.NewFromString(x.toMultiple(powersOfTen[Places-places], halfUp).String())
		if got.Cmp(want) != 0 {
			r.Fatalf("%v to %d places: %v, apd %v", x, places, got, want)
		}
	})
}

// TestRoundingCases are from the General Decimal Arithmetic cases shipped in
// github.com/cockroachdb/apd/v3 (half up).
func TestRoundingCases(t *testing.T) {
	for in, want := range map[string]string{"2.675": "2.68", "-2.665": "-2.67", "0.005": "0.01"} {
		x, _ := fromDecimal(decimal.RequireFromString(in))
		if got := x.toMultiple(powersOfTen[Places-2], halfUp).String(); got != want {
			t.Errorf("%s rounds to %s, want %s", in, got, want)
		}
	}
}

func TestDecimalsInAndOut(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"0", "0"}, {"-0.0", "0"}, {"12.40", "12.4"}, {"1e3", "1000"}, {"999999999999999.999999999999", "999999999999999.999999999999"},
		{"-999999999999999.999999999999", "-999999999999999.999999999999"},
		{"999999999999999.9999999999995", "too large"}, {"999999999999999.9999999999994", "999999999999999.999999999999"},
		{"1000000000000000", "too large"}, {"-1e15", "too large"}, {"1e15", "too large"}, {"1e9999", "too large"}, {"0e9999", "0"},
		{"0.0000000000005", "0.000000000001"}, {"-0.0000000000005", "-0.000000000001"}, {"0.00000000000049", "0"},
		{"1e-9999", "0"}, {"123456789012345678901234567890e-20", "1234567890.123456789012"},
		{"9223372.036854775807", "9223372.036854775807"}, {"18446744.073709551615", "18446744.073709551615"}, {"-9223372.036854775808", "-9223372.036854775808"},
		{"9223372.036854775808", "9223372.036854775808"}, {"9999999.999999999999", "9999999.999999999999"},
		{"-18446744.073709551615", "-18446744.073709551615"},
	} {
		x, ok := fromDecimal(decimal.RequireFromString(c.in))
		got := "too large"
		if ok {
			got = x.decimal().String()
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.in, got, c.want)
		}
	}
	for _, c := range []struct {
		in   decimal.Decimal
		want bool
	}{ // exponents that no text can have
		{decimal.New(1, 2_000_000_000), false}, {decimal.New(0, 2_000_000_000), true}, {decimal.New(1, -2_000_000_000), true},
	} {
		if x, ok := fromDecimal(c.in); ok != c.want || x != zero {
			t.Errorf("exponent %d: %v, %t", c.in.Exponent(), x, ok)
		}
	}
}

func TestDecimalsComeBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		x := drawn(r, "x")
		if y, ok := fromDecimal(x.decimal()); !ok || x != y {
			r.Fatalf("%v comes back as %v", x, y)
		}
		d := decimal.New(rapid.Int64().Draw(r, "coefficient"), int32(rapid.IntRange(-25, 0).Draw(r, "exponent")))
		y, ok := fromDecimal(d)
		failing{r}.holds(d.String(), y, ok, d.Rat())
	})
}
