package engineering

import (
	"math"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// The standard library's binary fractions are the outside here.
func TestElementary(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		agree := func(what string, ours decimal.Decimal, theirs float64) {
			got, _ := ours.Float64()
			if math.Abs(got-theirs) > 1e-9*max(1, math.Abs(theirs)) {
				r.Errorf("%s: %v, want %v", what, got, theirs)
			}
		}
		angle := decimal.New(rapid.Int64Range(-7_000_000, 7_000_000).Draw(r, "angle"), -6)
		x, _ := angle.Float64()
		agree("sine of "+angle.String(), sine(angle), math.Sin(x))
		agree("cosine of "+angle.String(), cosine(angle), math.Cos(x))
		share := decimal.New(rapid.Int64Range(-980_000, 980_000).Draw(r, "share"), -6)
		x, _ = share.Float64()
		agree("arccosine of "+share.String(), arccosine(share), math.Acos(x))
		base, exponent := decimal.New(rapid.Int64Range(0, 1_000_000).Draw(r, "base"), -3), number(r, "exponent", 1, 2)
		x, _ = base.Float64()
		y, _ := exponent.Float64()
		agree(base.String()+" to the "+exponent.String(), power(base, exponent), math.Pow(x, y))
	})
}
