package money

import (
	"encoding/json"
	"fmt"

	"github.com/shopspring/decimal"
)

// UnitPrice is what one unit costs. Unlike an Amount it may have more decimals
// than the currency (a screw at 0.0125), because only its product with a
// quantity is charged.
type UnitPrice struct {
	value decimal.Decimal
	in    unit
}

// UnitDecimals is the most decimals a unit price may have.
const UnitDecimals = 6

// NewUnitPrice takes a decimal as a unit price.
//
// Errors: ErrCurrency, ErrTooFine beyond UnitDecimals, ErrTooLarge.
func NewUnitPrice(value decimal.Decimal, c Currency) (UnitPrice, error) {
	if _, ok := c.MinorDigits(); !ok {
		return UnitPrice{}, fmt.Errorf("%w %q", ErrCurrency, string(c))
	}
	if value.Exponent() > 30 || value.Exponent() < -1000 {
		return UnitPrice{}, ErrTooLarge
	}
	if !value.Equal(value.Truncate(UnitDecimals)) {
		return UnitPrice{}, fmt.Errorf("%w: a unit price has at most %d", ErrTooFine, UnitDecimals)
	}
	if value.Abs().GreaterThanOrEqual(decimal.New(Largest, 0)) {
		return UnitPrice{}, ErrTooLarge
	}
	return UnitPrice{value, c.unit()}, nil
}

// Decimal is the price in whole units of the currency.
func (p UnitPrice) Decimal() decimal.Decimal { return p.value }

// Currency is the ISO 4217 code.
func (p UnitPrice) Currency() Currency { return p.in.currency() }

// Fixed is the price with the currency's decimals at least, and as many more
// as it has.
func (p UnitPrice) Fixed() string {
	places := int32(p.in.digits())
	for places < UnitDecimals && !p.value.Equal(p.value.Truncate(places)) {
		places++
	}
	return p.value.StringFixed(places)
}

// String is the price with its currency.
func (p UnitPrice) String() string { return p.Fixed() + " " + string(p.in.currency()) }

// Equal says whether two unit prices are the same money.
func (p UnitPrice) Equal(q UnitPrice) bool {
	return p.in == q.in && p.value.Equal(q.value)
}

// MarshalJSON writes the same shape as an Amount, with the decimals there are.
func (p UnitPrice) MarshalJSON() ([]byte, error) {
	if p.in == 0 {
		return nil, fmt.Errorf("%w %q", ErrCurrency, string(p.in.currency()))
	}
	return json.Marshal(struct {
		Amount   string   `json:"amount"`
		Currency Currency `json:"currency"`
	}{p.Fixed(), p.in.currency()})
}

// UnmarshalJSON reads what MarshalJSON writes, as strictly as an Amount.
func (p *UnitPrice) UnmarshalJSON(data []byte) error {
	text, c, err := readWritten(data)
	if err != nil {
		return err
	}
	if !plainNumber(text) {
		return fmt.Errorf("%w: %.40q", ErrNotAmount, text)
	}
	value, err := decimal.NewFromString(text)
	if err != nil {
		return fmt.Errorf("%w: %.40q", ErrNotAmount, text)
	}
	*p, err = NewUnitPrice(value, c)
	return err
}

// Fine is a unit price in hundredths of the minor unit, in the currency of a.
func (a Amount) Fine(fine int64) UnitPrice {
	places := a.in.digits()
	if fine%100 == 0 {
		fine /= 100
	} else {
		places += 2
	}
	return UnitPrice{decimal.New(fine, -int32(places)), a.in}
}

// InFine is the price in hundredths of the minor unit, as Fine takes it; false
// when it is finer than that, or too large to be counted.
func (p UnitPrice) InFine() (int64, bool) {
	d := p.value.Shift(int32(p.in.digits()) + 2)
	if !d.IsInteger() || !d.BigInt().IsInt64() {
		return 0, false
	}
	return d.IntPart(), true
}
