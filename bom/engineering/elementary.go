package engineering

import "github.com/shopspring/decimal"

// Powers and angles, worked in decimals so that they come out the same on every
// processor, to elementaryPlaces: well past what is given of anything worked out
// with them.

const elementaryPlaces = 12

var pi = decimal.RequireFromString("3.141592653590")

func elementary(x decimal.Decimal) decimal.Decimal { return x.Round(elementaryPlaces) }

// power is base to the exponent; the base is not below nothing, and nothing to
// any power is nothing.
func power(base, exponent decimal.Decimal) decimal.Decimal {
	if base.Sign() <= 0 {
		return decimal.Zero
	}
	ln, err := base.Ln(2 * elementaryPlaces)
	if err != nil { // the base is above nothing
		return decimal.Zero
	}
	x, err := ln.Mul(exponent).Round(2 * elementaryPlaces).ExpTaylor(2 * elementaryPlaces)
	if err != nil { // the exponent of e is below a hundred
		return decimal.Zero
	}
	return elementary(x)
}

// sine, cosine and arccosine take and give radians.
func sine(x decimal.Decimal) decimal.Decimal { return elementary(x.Sin()) }

func cosine(x decimal.Decimal) decimal.Decimal { return elementary(x.Cos()) }

// arccosine is of something between −1 and 1, both left out.
func arccosine(x decimal.Decimal) decimal.Decimal {
	half := power(one.Sub(x).DivRound(one.Add(x), 2*elementaryPlaces), decimal.New(5, -1))
	return elementary(two.Mul(half.Atan()))
}
