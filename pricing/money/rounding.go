package money

import (
	"fmt"
	"math/big"
	"math/bits"

	"github.com/shopspring/decimal"
)

// Rounding is a way of bringing a number to fewer decimals. The names and
// meanings are those of the General Decimal Arithmetic specification.
type Rounding uint8

// The ways of rounding; zero is invalid, so that nobody rounds without having
// said how.
const (
	HalfUp   Rounding = iota + 1 // to the nearest, ties away from zero: 0.5 → 1, −0.5 → −1
	HalfEven                     // to the nearest, ties to the even neighbour
	HalfDown                     // to the nearest, ties towards zero
	Up                           // away from zero
	Down                         // towards zero
	Ceiling                      // towards +∞
	Floor                        // towards −∞
)

// String is the name as the specification writes it.
func (r Rounding) String() string {
	names := [...]string{"invalid", "half_up", "half_even", "half_down", "up", "down", "ceiling", "floor"}
	if int(r) >= len(names) {
		r = 0
	}
	return names[r]
}

// away says whether a magnitude cut off to q must go one up, away from zero.
// half compares what was cut off with half a unit: -1, 0 or 1; some says that
// anything was cut off at all.
func (r Rounding) away(half int, some, odd, negative bool) bool {
	switch r {
	case HalfUp:
		return half >= 0
	case HalfEven:
		return half > 0 || half == 0 && odd
	case HalfDown:
		return half > 0
	case Up:
		return some
	case Ceiling:
		return some && !negative
	case Floor:
		return some && negative
	}
	return false // Down
}

// RoundDecimal brings a decimal to so many places (negative: tens, hundreds).
//
// Error: ErrNoRounding; ErrTooLarge beyond 1,000 digits, which no money needs.
func RoundDecimal(value decimal.Decimal, places int32, how Rounding) (decimal.Decimal, error) {
	if how < HalfUp || how > Floor {
		return decimal.Decimal{}, ErrNoRounding
	}
	cut := -int64(value.Exponent()) - int64(places) // how many digits go
	if cut <= 0 {
		return value, nil
	}
	if cut > 1000 { // every digit goes, whichever way
		if value.NumDigits() > 1000 {
			return decimal.Decimal{}, ErrTooLarge
		}
		if value.IsZero() {
			return decimal.New(0, -places), nil
		}
		unit := int64(0)
		if how.away(-1, true, false, value.Sign() < 0) {
			unit = int64(value.Sign())
		}
		return decimal.New(unit, -places), nil
	}
	den := new(big.Int).Exp(big.NewInt(10), big.NewInt(cut), nil)
	return decimal.NewFromBigInt(divideBig(value.Coefficient(), den, how), -places), nil
}

// divideBig is num/den rounded to a whole number; den is positive.
func divideBig(num, den *big.Int, how Rounding) *big.Int {
	negative := num.Sign() < 0
	q, rest := new(big.Int).QuoRem(new(big.Int).Abs(num), den, new(big.Int))
	half := new(big.Int).Lsh(rest, 1).Cmp(den)
	if how.away(half, rest.Sign() != 0, q.Bit(0) == 1, negative) {
		q.Add(q, big.NewInt(1))
	}
	if negative {
		q.Neg(q)
	}
	return q
}

// pow10[n] is 10^n.
var pow10 = [...]int64{
	1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9,
	1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
}

// small gives coefficient and exponent of a decimal whose coefficient fits in
// 18 digits, as nearly all do.
func small(d decimal.Decimal) (coef int64, exp int32, ok bool) {
	if d.NumDigits() > 18 {
		return 0, 0, false
	}
	return d.CoefficientInt64(), d.Exponent(), true
}

// divide64 is hi:lo / den rounded to a whole number, negated if so wanted; ok
// is false when it does not fit.
func divide64(hi, lo uint64, den uint64, negative bool, how Rounding) (int64, bool) {
	if hi >= den {
		return 0, false
	}
	q, rest := bits.Div64(hi, lo, den)
	half := 1
	if left := den - rest; rest < left { // rest < den/2 without overflow
		half = -1
	} else if rest == left {
		half = 0
	}
	if how.away(half, rest != 0, q&1 == 1, negative) {
		q++
	}
	if q > 1<<62 {
		return 0, false
	}
	if negative {
		return -int64(q), true
	}
	return int64(q), true
}

func magnitude(v int64) uint64 {
	if v < 0 {
		return uint64(-v)
	}
	return uint64(v)
}

func mul64(a, b int64) (hi, lo uint64) { return bits.Mul64(magnitude(a), magnitude(b)) }

// roundToMinor is value × 10^digits rounded to a whole number.
func roundToMinor(value decimal.Decimal, digits int, how Rounding) (int64, error) {
	return times(value, decimal.New(1, 0), digits, how)
}

// Times is quantity × unit price, rounded once to the currency's minor unit:
// the amount of a line. It works in 128-bit integers wherever both numbers
// have at most 18 digits and in decimals beyond, with the same answer.
//
// Errors: ErrCurrency, ErrTooLarge, ErrNoRounding.
func Times(quantity, unit decimal.Decimal, c Currency, how Rounding) (Amount, error) {
	digits, ok := c.MinorDigits()
	if !ok {
		return Amount{}, fmt.Errorf("%w %q", ErrCurrency, string(c))
	}
	minor, err := times(quantity, unit, digits, how)
	if err != nil {
		return Amount{}, err
	}
	return FromMinor(minor, c)
}

// Factor is a decimal made ready to be multiplied with many quantities: a
// price-book makes one of every cost once.
type Factor struct {
	value decimal.Decimal
	coef  int64
	exp   int32
	fits  bool
}

// NewFactor makes a decimal ready.
func NewFactor(value decimal.Decimal) Factor {
	f := Factor{value: value}
	f.coef, f.exp, f.fits = small(value)
	return f
}

// Decimal is the number itself.
func (f Factor) Decimal() decimal.Decimal { return f.value }

// Minor is quantity × the factor in minor units of the currency, rounded once.
//
// Errors: ErrTooLarge, ErrNoRounding.
func (f Factor) Minor(quantity decimal.Decimal, c Currency, how Rounding) (int64, error) {
	if coef, exp, ok := small(quantity); ok {
		return f.MinorOf(coef, exp, c, how)
	}
	return times(quantity, f.value, c.unit().digits(), how)
}

// MinorOf is Minor of the quantity coef × 10^exp.
func (f Factor) MinorOf(coef int64, exp int32, c Currency, how Rounding) (int64, error) {
	digits := c.unit().digits()
	if f.fits {
		if minor, ok := timesSmall(coef, f.coef, exp+f.exp+int32(digits), how); ok {
			return minor, nil
		}
	}
	return times(decimal.New(coef, exp), f.value, digits, how)
}

// timesSmall is a × b × 10^shift rounded, where that can be done in 128 bits.
func timesSmall(a, b int64, shift int32, how Rounding) (int64, bool) {
	if how < HalfUp || how > Floor {
		return 0, false
	}
	hi, lo := mul64(a, b)
	negative := (a < 0) != (b < 0)
	if shift > 0 {
		if hi != 0 || shift > 18 {
			return 0, false
		}
		if hi, lo = bits.Mul64(lo, uint64(pow10[shift])); hi != 0 {
			return 0, false
		}
		shift = 0
	}
	if shift < -18 {
		return 0, false
	}
	return divide64(hi, lo, uint64(pow10[-shift]), negative, how)
}

// times is the way without shortcuts.
func times(a, b decimal.Decimal, digits int, how Rounding) (int64, error) {
	if how < HalfUp || how > Floor {
		return 0, ErrNoRounding
	}
	// A short text can stand for a number of a thousand million digits;
	// nothing that could be money is outside these bounds.
	if a.Exponent() > 30 || b.Exponent() > 30 || a.NumDigits() > 1000 || b.NumDigits() > 1000 {
		if a.IsZero() || b.IsZero() {
			return 0, nil
		}
		return 0, ErrTooLarge
	}
	if ac, ae, ok := small(a); ok {
		if bc, be, ok := small(b); ok && ae > -1000 && be > -1000 {
			if minor, ok := timesSmall(ac, bc, ae+be+int32(digits), how); ok {
				return minor, nil
			}
		}
	}
	if int64(a.Exponent())+int64(b.Exponent()) < -1<<30 {
		return 0, ErrTooLarge // an exponent no writer of prices can have meant
	}
	product, err := RoundDecimal(a.Mul(b), int32(digits), how)
	if err != nil {
		return 0, err
	}
	product = product.Shift(int32(digits))
	if product.Exponent() > 60 || product.NumDigits()+int(product.Exponent()) > 18 {
		return 0, ErrTooLarge
	}
	return product.IntPart(), nil
}
