package supply

import (
	"math/bits"

	"github.com/shopspring/decimal"
)

// millionths of a unit: parts are counted no finer (catalogue.MaxPartDecimals),
// so that sums are exact and cheap.
type millionths int64

const (
	places            = 6
	one    millionths = 1_000_000
	// largest is what one want, holding or delivery may be. A million of them
	// may still be added.
	largest = 1_000_000 * one
)

var powers = [places + 1]int64{1, 10, 100, 1_000, 10_000, 100_000, 1_000_000}

// millionthsOf is d; false when it is below nothing, too large or finer.
func millionthsOf(d decimal.Decimal) (millionths, bool) {
	exponent := d.Exponent()
	if exponent >= -places && exponent <= 0 && d.NumDigits() <= 15 {
		m := millionths(d.CoefficientInt64() * powers[places+exponent])
		return m, m >= 0 && m <= largest
	}
	if d.IsZero() {
		return 0, true
	}
	if d.NumDigits()+int(exponent) > 8 || d.Sign() < 0 || exponent < -1_000 {
		return 0, false
	}
	d = d.Shift(places)
	if !d.IsInteger() || !d.BigInt().IsInt64() {
		return 0, false
	}
	m := millionths(d.BigInt().Int64())
	return m, m <= largest
}

// decimal gives m without trailing zeros.
func (m millionths) decimal() decimal.Decimal {
	exponent := int32(-places)
	for exponent < 0 && m%10 == 0 {
		m, exponent = m/10, exponent+1
	}
	return decimal.New(int64(m), exponent)
}

// share is part of whole of m, cut to millionths; whole is above nothing and
// part not above it, and none is below nothing.
func (m millionths) share(part, whole millionths) millionths {
	if part == whole {
		return m
	}
	hi, lo := bits.Mul64(uint64(m), uint64(part))
	q, _ := bits.Div64(hi, lo, uint64(whole))
	return millionths(q)
}

// times is so many of m, cut to millionths; false when that is too large.
func (m millionths) times(n millionths) (millionths, bool) {
	hi, lo := bits.Mul64(uint64(m), uint64(n))
	if hi >= uint64(one) {
		return 0, false
	}
	q, _ := bits.Div64(hi, lo, uint64(one))
	return millionths(q), q <= uint64(largest)*1_000
}

// lot is the least that is not below m, at least least, and a whole number of
// multiples, where there is one.
func (m millionths) lot(least, multiple millionths) millionths {
	m = max(m, least)
	if multiple > 0 {
		m = (m + multiple - 1) / multiple * multiple
	}
	return m
}
