package formula

import (
	"math/big"
	"math/bits"

	"github.com/shopspring/decimal"
)

// number is a decimal with exactly Places places, kept as its value times
// 10^Places in 128 bits, two's complement. Every number of a formula has this
// one form: what the limits of arithmetic allow (below Largest, to Places
// places) fits with room to spare, so addition is exact and multiplication and
// division are the true result rounded half up, ties away from zero.
// numbers_test.go holds it against arithmetic with fractions of any length.
type number struct {
	hi int64
	lo uint64
}

const (
	scale     = 1_000_000_000_000 // 10^Places
	halfScale = scale / 2
)

var (
	zero = number{}
	one  = number{lo: scale}
	// tooLarge is Largest times 10^Places, 10^27: no number reaches it.
	tooLarge = func() number {
		hi, lo := bits.Mul64(Largest, scale)
		return number{int64(hi), lo}
	}()
	// unset marks a slot without a value. It lies far outside the limits.
	unset = number{hi: -1 << 63}
)

// whole gives n as a number; |n| stays far below Largest.
func whole(n int) number {
	hi, lo := bits.Mul64(uint64(max(n, -n)), scale)
	x := number{int64(hi), lo}
	if n < 0 {
		return x.negated()
	}
	return x
}

func (x number) negative() bool { return x.hi < 0 }

func (x number) negated() number {
	lo, borrow := bits.Sub64(0, x.lo, 0)
	hi, _ := bits.Sub64(0, uint64(x.hi), borrow)
	return number{int64(hi), lo}
}

func (x number) magnitude() number {
	if x.negative() {
		return x.negated()
	}
	return x
}

func (x number) compare(y number) int {
	switch {
	case x.hi < y.hi:
		return -1
	case x.hi > y.hi:
		return 1
	case x.lo < y.lo:
		return -1
	case x.lo > y.lo:
		return 1
	}
	return 0
}

// within says whether x keeps the limit of arithmetic.
func (x number) within() bool { return x.magnitude().compare(tooLarge) < 0 }

func (x number) plus(y number) number {
	lo, carry := bits.Add64(x.lo, y.lo, 0)
	hi, _ := bits.Add64(uint64(x.hi), uint64(y.hi), carry)
	return number{int64(hi), lo}
}

func (x number) minus(y number) number { return x.plus(y.negated()) }

// signed gives the number of magnitude hi, lo; false when it is too large.
func signed(hi, lo uint64, negative bool) (number, bool) {
	if hi > uint64(tooLarge.hi) {
		return zero, false
	}
	x := number{int64(hi), lo}
	if !x.within() {
		return zero, false
	}
	if negative {
		return x.negated(), true
	}
	return x, true
}

// times gives x·y rounded to Places; false when that is too large.
func (x number) times(y number) (number, bool) {
	negative := x.negative() != y.negative()
	a, b := x.magnitude(), y.magnitude()
	// The product in four words. Magnitudes are below 2^90, so the high words
	// are below 2^26 and their product fits one word.
	p1, p0 := bits.Mul64(a.lo, b.lo)
	m1, m0 := bits.Mul64(uint64(a.hi), b.lo)
	n1, n0 := bits.Mul64(a.lo, uint64(b.hi))
	p2 := uint64(a.hi) * uint64(b.hi)
	var c1, c2 uint64
	p1, c1 = bits.Add64(p1, m0, 0)
	p1, c2 = bits.Add64(p1, n0, 0)
	p2 += m1 + n1 + c1 + c2
	// Half a unit more, then cut: rounding half away from zero.
	p0, c1 = bits.Add64(p0, halfScale, 0)
	p1, c1 = bits.Add64(p1, 0, c1)
	p2 += c1
	q2, r := p2/scale, p2%scale
	q1, r := bits.Div64(r, p1, scale)
	q0, _ := bits.Div64(r, p0, scale)
	if q2 != 0 {
		return zero, false
	}
	return signed(q1, q0, negative)
}

// over gives x/y rounded to Places; false when that is too large. y is not 0.
func (x number) over(y number) (number, bool) {
	negative := x.negative() != y.negative()
	a, b := x.magnitude(), y.magnitude()
	if b.hi != 0 { // a divisor of 18 million and more: rare, so plain
		return x.overBig(y)
	}
	// a·10^Places in three words, divided by one.
	n1, n0 := bits.Mul64(a.lo, scale)
	m1, m0 := bits.Mul64(uint64(a.hi), scale)
	n1, carry := bits.Add64(n1, m0, 0)
	n2 := m1 + carry
	d := b.lo
	q2, r := n2/d, n2%d
	q1, r := bits.Div64(r, n1, d)
	q0, r := bits.Div64(r, n0, d)
	if r >= d-r { // twice the remainder is at least the divisor
		q0, carry = bits.Add64(q0, 1, 0)
		q1, carry = bits.Add64(q1, 0, carry)
		q2 += carry
	}
	if q2 != 0 {
		return zero, false
	}
	return signed(q1, q0, negative)
}

func (x number) overBig(y number) (number, bool) {
	n := x.magnitude().big()
	d := y.magnitude().big()
	n.Mul(n, big.NewInt(2*scale)).Add(n, d) // (2·a·10^Places + b) / 2b
	n.Quo(n, d.Lsh(d, 1))
	return fromBig(n, x.negative() != y.negative())
}

func (x number) big() *big.Int {
	n := big.NewInt(x.hi)
	return n.Lsh(n, 64).Add(n, new(big.Int).SetUint64(x.lo))
}

// fromBig takes a magnitude in units of 10^-Places.
func fromBig(n *big.Int, negative bool) (number, bool) {
	if n.BitLen() > 127 {
		return zero, false
	}
	lo := new(big.Int).And(n, new(big.Int).SetUint64(1<<64-1)).Uint64()
	return signed(new(big.Int).Rsh(n, 64).Uint64(), lo, negative)
}

// rounding is the direction of toMultiple.
type rounding uint8

const (
	halfUp rounding = iota + 1 // ties away from zero
	up                         // towards plus infinity
	down                       // towards minus infinity
)

// toMultiple rounds x to a multiple of step units of 10^-Places: a power of
// ten, at most 10^Places.
func (x number) toMultiple(step uint64, how rounding) number {
	a := x.magnitude()
	q1, r := uint64(a.hi)/step, uint64(a.hi)%step
	q0, r := bits.Div64(r, a.lo, step)
	if r == 0 {
		return x
	}
	away := false
	switch how {
	case halfUp:
		away = r >= step-r
	case up:
		away = !x.negative()
	case down:
		away = x.negative()
	}
	if away {
		var carry uint64
		q0, carry = bits.Add64(q0, 1, 0)
		q1 += carry
	}
	hi, lo := bits.Mul64(q0, step)
	y := number{int64(hi + q1*step), lo}
	if x.negative() {
		return y.negated()
	}
	return y
}

var powersOfTen = func() (p [Places + 1]uint64) {
	p[0] = 1
	for i := 1; i <= Places; i++ {
		p[i] = p[i-1] * 10
	}
	return p
}()

// fromDecimal rounds d to Places, half up; false when it is too large.
func fromDecimal(d decimal.Decimal) (number, bool) {
	exponent := int(d.Exponent())
	if exponent >= -Places && exponent <= 0 && d.NumDigits() <= 18 {
		c := d.CoefficientInt64()
		hi, lo := bits.Mul64(uint64(max(c, -c)), powersOfTen[Places+exponent])
		return signed(hi, lo, c < 0)
	}
	if exponent > 15 || exponent < -10_000 {
		// Anything but zero with such an exponent is beyond the limit or
		// rounds to nothing; do not build a number of that many digits.
		switch {
		case d.IsZero():
			return zero, true
		case exponent > 15:
			return zero, false
		case d.NumDigits() < -exponent-Places:
			return zero, true
		}
	}
	d = d.Round(Places)
	n := d.Coefficient()
	negative := n.Sign() < 0
	n.Abs(n)
	shift := int64(Places) + int64(d.Exponent())
	n.Mul(n, new(big.Int).Exp(big.NewInt(10), big.NewInt(shift), nil))
	return fromBig(n, negative)
}

// smallNumbers saves making the commonest numbers anew; decimals never change,
// so sharing them is safe.
var smallNumbers = func() (list [256]decimal.Decimal) {
	for i := range list {
		list[i] = decimal.New(int64(i), 0)
	}
	return list
}()

// decimal gives x without trailing zeros.
func (x number) decimal() decimal.Decimal {
	if x.hi == 0 && x.lo < uint64(len(smallNumbers))*scale && x.lo%scale == 0 {
		return smallNumbers[x.lo/scale]
	}
	a := x.magnitude()
	if a.hi != 0 {
		n := x.big()
		return decimal.NewFromBigInt(n, -Places)
	}
	lo, exponent := a.lo, int32(-Places)
	for _, zeros := range []int32{8, 4, 2, 1} {
		if power := powersOfTen[zeros]; exponent+zeros <= 0 && lo%power == 0 {
			lo, exponent = lo/power, exponent+zeros
		}
	}
	if lo > 1<<63-1 {
		d := decimal.NewFromBigInt(new(big.Int).SetUint64(lo), exponent)
		if x.negative() {
			return d.Neg()
		}
		return d
	}
	if x.negative() {
		return decimal.New(-int64(lo), exponent)
	}
	return decimal.New(int64(lo), exponent)
}

// String writes x as people write numbers.
func (x number) String() string { return x.decimal().String() }

// numberOf gives coefficient / 10^places, places at most Places.
func numberOf(coefficient uint64, places int) (number, bool) {
	hi, lo := bits.Mul64(coefficient, powersOfTen[Places-places])
	return signed(hi, lo, false)
}
