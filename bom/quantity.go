package bom

import (
	"math/bits"
	"sync/atomic"

	"github.com/shopspring/decimal"

	"wainscot/bom/formula"
)

// amount is a quantity of a build sheet in million-millionths of its unit, so
// that sums are exact and cheap. Products and quotients are the true result
// rounded half up to that twelfth place, as formulas are.
type amount int64

const (
	amountPlaces        = formula.Places
	oneUnit      amount = 1_000_000_000_000
	// largestAmount is a million units. No van takes so much of anything, in
	// whatever unit; a formula that asks for more is wrong. It leaves room to
	// add a few amounts without overflow.
	largestAmount = 1_000_000 * oneUnit
	// noisePlaces is where rounding up begins to look: what lies beyond the
	// sixth place comes from rounding thirds at the twelfth and must not buy a
	// part. Twenty made of three times 6.666666666667 is twenty. The error of
	// one rounding is half of 10^-12, and what follows multiplies it by less
	// than the largest amount, a million.
	noisePlaces = 6
)

var powersOfTen = func() (p [amountPlaces + 1]amount) {
	p[0] = 1
	for i := 1; i <= amountPlaces; i++ {
		p[i] = 10 * p[i-1]
	}
	return p
}()

// amountOf rounds d half up to the twelfth place; false when it is too large.
func amountOf(d decimal.Decimal) (amount, bool) {
	exponent := d.Exponent()
	if exponent >= -amountPlaces && exponent <= 0 && d.NumDigits() <= 18 {
		c := amount(d.CoefficientInt64())
		step := powersOfTen[amountPlaces+exponent]
		if max(c, -c) > largestAmount/step {
			return 0, false
		}
		return c * step, true
	}
	if d.NumDigits()+int(exponent) > 7 { // ten million and more, or a zero written long
		return 0, d.IsZero()
	}
	d = d.Round(amountPlaces).Shift(amountPlaces)
	if !d.IsInteger() || !d.BigInt().IsInt64() {
		return 0, false
	}
	a := amount(d.BigInt().Int64())
	return a, max(a, -a) <= largestAmount
}

// amountOfExact is what a formula came to; false when it is too large.
func amountOfExact(x formula.Exact) (amount, bool) {
	n, ok := x.Scaled()
	a := amount(n)
	if !ok || max(a, -a) > largestAmount {
		return 0, false
	}
	return a, true
}

func (a amount) exact() formula.Exact { return formula.ExactOf(int64(a)) }

// decimal gives a without trailing zeros.
func (a amount) decimal() decimal.Decimal {
	if n := a / oneUnit; a == n*oneUnit && n >= 0 && n < amount(len(smallNumbers)) {
		return smallNumbers[n]
	}
	const goldenRatio = 0x9E3779B97F4A7C15 // spreads neighbours over the slots
	slot := &lately[uint64(a)*goldenRatio>>(64-latelyBits)]
	if made := slot.Load(); made != nil && made.amount == a {
		return made.decimal
	}
	made := &madeDecimal{a, a.newDecimal()}
	slot.Store(made)
	return made.decimal
}

// lately are decimals made before, one for each slot an amount may fall into.
// Sheet after sheet has the same quantities and masses, and making a decimal
// takes two allocations: they were a third of the time of Expand. A slot may
// lose its decimal to another amount; that costs making it again.
var lately [1 << latelyBits]atomic.Pointer[madeDecimal]

const latelyBits = 12

type madeDecimal struct {
	amount  amount
	decimal decimal.Decimal
}

func (a amount) newDecimal() decimal.Decimal {
	if a%oneUnit == 0 {
		return decimal.New(int64(a/oneUnit), 0)
	}
	exponent := int32(-amountPlaces)
	for a%1000 == 0 {
		a, exponent = a/1000, exponent+3
	}
	for a%10 == 0 {
		a, exponent = a/10, exponent+1
	}
	return decimal.New(int64(a), exponent)
}

// smallNumbers saves making the commonest quantities anew; decimals never
// change, so sharing them is safe.
var smallNumbers = func() (list [101]decimal.Decimal) {
	for i := range list {
		list[i] = decimal.New(int64(i), 0)
	}
	return list
}()

// plus gives a+b; false when that is too large, or too far below nothing.
func (a amount) plus(b amount) (amount, bool) {
	a += b
	return max(-largestAmount, min(a, largestAmount)), max(a, -a) <= largestAmount
}

// count gives n of a; false when that is too large.
func (a amount) count(n int) (amount, bool) { return muldiv(a, amount(n), 1) }

// times gives a·b; false when that is too large.
func (a amount) times(b amount) (amount, bool) { return muldiv(a, b, oneUnit) }

// withScrap gives what must be issued so that a is left when percent of the
// issue is lost: a / (1 − percent/100). Percent is below 100.
func (a amount) withScrap(percent amount) (amount, bool) {
	if percent == 0 {
		return a, true
	}
	return muldiv(a, 100*oneUnit, 100*oneUnit-percent)
}

// muldiv gives a·b/c rounded half away from zero; c is above zero.
func muldiv(a, b, c amount) (amount, bool) {
	negative := (a < 0) != (b < 0)
	hi, lo := bits.Mul64(uint64(max(a, -a)), uint64(max(b, -b)))
	if hi >= uint64(c) {
		return 0, false
	}
	q, r := bits.Div64(hi, lo, uint64(c))
	if r >= uint64(c)-r {
		q++
	}
	if q > uint64(largestAmount) {
		return 0, false
	}
	if negative {
		return -amount(q), true
	}
	return amount(q), true
}

// roundUp gives the least multiple of 10^-places that is not below a, noise
// left out (see noisePlaces). a is not negative.
func (a amount) roundUp(places int) amount {
	a = a.round(noisePlaces)
	if places >= noisePlaces {
		return a
	}
	step := powersOfTen[amountPlaces-places]
	return (a + step - 1) / step * step
}

// round gives a at places, halves away from nothing.
func (a amount) round(places int) amount {
	step := powersOfTen[amountPlaces-places]
	if a < 0 {
		return (a - step/2) / step * step
	}
	return (a + step/2) / step * step
}
