package formula

import "github.com/shopspring/decimal"

// Exact is a number as formulas work it, to Places places and below Largest:
// what is worked again a thousand times a second stays one, since a decimal has
// to be made. The zero Exact is nothing.
type Exact struct{ number number }

// Exact is Number for those who work on with it.
func (f *Formula) Exact(v *Values) (Exact, error) {
	if f.root.kind != Number {
		panic("formula: Exact of a formula that gives a truth")
	}
	x, err := f.root.value(v)
	if err != nil {
		return Exact{}, err
	}
	return Exact{x}, nil
}

// ExactOf is a number of 10^-Places.
func ExactOf(scaled int64) Exact {
	if scaled < 0 {
		return Exact{number{-1, uint64(scaled)}}
	}
	return Exact{number{0, uint64(scaled)}}
}

// Scaled is the number in units of 10^-Places; false when that does not fit.
func (x Exact) Scaled() (int64, bool) {
	n := int64(x.number.lo)
	return n, x.number.hi == n>>63
}

// Compare is -1, 0 or 1 as x is below, equal to or above y.
func (x Exact) Compare(y Exact) int { return x.number.compare(y.number) }

// Decimal is the number without trailing zeros.
func (x Exact) Decimal() decimal.Decimal { return x.number.decimal() }

// SetExact gives a number to a name.
func (v *Values) SetExact(slot Slot, x Exact) { v.numbers[slot.number(Number)] = x.number }
