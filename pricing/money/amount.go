package money

import (
	"errors"
	"fmt"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/shopspring/decimal"
)

// Amount is a sum of money as it is charged, paid or owed: a whole number of
// the minor units of one currency. The zero Amount has no currency and is
// nothing that can be written; get one from Zero, New, Round or FromMinor.
//
// Amounts are comparable with ==. They are kept as minor units because that is
// exact, small, and the shape in which they are stored and summed; Decimal is
// the way out to arithmetic that needs fractions, Round the way back in.
type Amount struct {
	minor int64
	in    unit
}

// Largest is the absolute value, in whole units of the currency, that no
// amount may reach. It keeps sums of thousands of amounts within int64 even at
// four minor digits: 1e13 × 1e4 = 1e17 < 9.2e18.
const Largest = 10_000_000_000_000

// LargestEntered is the absolute value, in whole units of the currency, that no
// amount may reach which somebody enters or a bank tells: ten thousand of them
// are added up before one is too large to be written.
const LargestEntered = 1_000_000_000

// Errors of this package; test for them with errors.Is.
var (
	ErrCurrency   = errors.New("unknown currency")
	ErrTooLarge   = errors.New("amount too large")
	ErrTooFine    = errors.New("more decimals than the currency has")
	ErrMixed      = errors.New("amounts of different currencies")
	ErrNotAmount  = errors.New("not an amount")
	ErrWeights    = errors.New("weights that nothing can be divided by")
	ErrNoRounding = errors.New("no such rounding")
)

// Enterable says whether an amount is below LargestEntered.
func (a Amount) Enterable() bool {
	return a.Decimal().Abs().LessThan(decimal.New(LargestEntered, 0))
}

// Zero is nothing, in the currency given; without one if it is not known.
func Zero(c Currency) Amount { return Amount{in: c.unit()} }

// New takes a decimal that already is a whole number of minor units.
//
// Errors: ErrCurrency, ErrTooFine (round it by name first: Round), ErrTooLarge.
func New(value decimal.Decimal, c Currency) (Amount, error) {
	a, err := Round(value, c, HalfUp)
	if err != nil {
		return Amount{}, err
	}
	if !a.Decimal().Equal(value) {
		return Amount{}, fmt.Errorf("%w: %s %s has at most %d", ErrTooFine, value, c, c.unit().digits())
	}
	return a, nil
}

// Round brings a decimal to the currency's minor unit.
//
// Errors: ErrCurrency, ErrTooLarge, ErrNoRounding.
func Round(value decimal.Decimal, c Currency, how Rounding) (Amount, error) {
	digits, ok := c.MinorDigits()
	if !ok {
		return Amount{}, fmt.Errorf("%w %q", ErrCurrency, string(c))
	}
	minor, err := roundToMinor(value, digits, how)
	if err != nil {
		return Amount{}, err
	}
	return FromMinor(minor, c)
}

// FromMinor takes a count of minor units (pence).
//
// Errors: ErrCurrency, ErrTooLarge.
func FromMinor(minor int64, c Currency) (Amount, error) {
	u := c.unit()
	if u == 0 {
		return Amount{}, fmt.Errorf("%w %q", ErrCurrency, string(c))
	}
	return Amount{in: u}.WithMinor(minor)
}

// WithMinor is so many minor units in the same currency.
//
// Error: ErrTooLarge.
func (a Amount) WithMinor(minor int64) (Amount, error) {
	if limit := Largest * pow10[a.in.digits()]; minor >= limit || minor <= -limit {
		return Amount{}, fmt.Errorf("%w: %d minor units of %s", ErrTooLarge, minor, a.in.currency())
	}
	return Amount{minor, a.in}, nil
}

// Parse reads digits, at most one point and at most the currency's decimals,
// with "-" before a negative one: no exponent, no grouping, no spaces.
//
// Errors: ErrNotAmount, ErrCurrency, ErrTooFine, ErrTooLarge.
func Parse(text string, c Currency) (Amount, error) {
	if !plainNumber(text) {
		return Amount{}, fmt.Errorf("%w: %.40q; write digits with at most one point, like 1234.50", ErrNotAmount, text)
	}
	value, err := decimal.NewFromString(text)
	if err != nil {
		return Amount{}, fmt.Errorf("%w: %.40q", ErrNotAmount, text)
	}
	return New(value, c)
}

// plainNumber says whether text is -?digits[.digits], short enough to be cheap.
func plainNumber(text string) bool {
	text = strings.TrimPrefix(text, "-")
	whole, part, point := strings.Cut(text, ".")
	if len(text) > 40 || whole == "" || (point && part == "") {
		return false
	}
	for _, s := range [2]string{whole, part} {
		for i := range len(s) {
			if s[i] < '0' || s[i] > '9' {
				return false
			}
		}
	}
	return true
}

// Minor is the amount in minor units: 1234.50 GBP is 123450.
func (a Amount) Minor() int64 { return a.minor }

// Currency is the ISO 4217 code; "" for the zero Amount.
func (a Amount) Currency() Currency { return a.in.currency() }

// Decimal is the amount in whole units of the currency.
func (a Amount) Decimal() decimal.Decimal {
	return decimal.New(a.minor, -int32(a.in.digits()))
}

// Fixed is the amount with all its decimals and no currency: "1234.50".
func (a Amount) Fixed() string { return a.Decimal().StringFixed(int32(a.in.digits())) }

// String is the amount with its currency: "1234.50 GBP".
func (a Amount) String() string { return a.Fixed() + " " + string(a.in.currency()) }

// Sign is -1, 0 or 1.
func (a Amount) Sign() int {
	switch {
	case a.minor < 0:
		return -1
	case a.minor > 0:
		return 1
	}
	return 0
}

// IsZero says whether the amount is nothing, of whatever currency.
func (a Amount) IsZero() bool { return a.minor == 0 }

// Neg is the amount with the other sign.
func (a Amount) Neg() Amount { return Amount{-a.minor, a.in} }

// Add adds. Errors: ErrMixed, ErrTooLarge.
func (a Amount) Add(b Amount) (Amount, error) {
	if a.in != b.in {
		return Amount{}, fmt.Errorf("%w: %s and %s", ErrMixed, a.Currency(), b.Currency())
	}
	return a.WithMinor(a.minor + b.minor) // both are far from the end of int64
}

// Sub subtracts. Errors: ErrMixed, ErrTooLarge.
func (a Amount) Sub(b Amount) (Amount, error) { return a.Add(b.Neg()) }

// Sum adds amounts of one currency; of none it is Zero(c).
//
// Errors: ErrMixed, ErrTooLarge.
func Sum(c Currency, amounts ...Amount) (Amount, error) {
	total := Zero(c)
	var err error
	for _, a := range amounts {
		if total, err = total.Add(a); err != nil {
			return Amount{}, err
		}
	}
	return total, nil
}

// written is the JSON of an Amount and of a UnitPrice: closed, both required.
type written struct {
	Amount   *string   `json:"amount"`
	Currency *Currency `json:"currency"`
}

// MarshalJSON writes {"amount":"1234.50","currency":"GBP"}, always with the
// currency's decimals.
func (a Amount) MarshalJSON() ([]byte, error) {
	if a.in == 0 {
		return nil, fmt.Errorf("%w %q", ErrCurrency, string(a.in.currency()))
	}
	return []byte(`{"amount":"` + a.Fixed() + `","currency":"` + string(a.in.currency()) + `"}`), nil
}

// UnmarshalJSON reads what MarshalJSON writes, decimals at the end may be
// missing. Any other member, a missing one, or a number in place of the
// string is an error.
func (a *Amount) UnmarshalJSON(data []byte) error {
	text, c, err := readWritten(data)
	if err != nil {
		return err
	}
	*a, err = Parse(text, c)
	return err
}

func readWritten(data []byte) (string, Currency, error) {
	const want = `write {"amount":"1234.50","currency":"GBP"}`
	var w written
	if err := json.Unmarshal(data, &w, json.RejectUnknownMembers(true)); err != nil {
		return "", "", fmt.Errorf("%w: %s", ErrNotAmount, want)
	}
	if w.Amount == nil || w.Currency == nil {
		return "", "", fmt.Errorf("%w: amount and currency are both required; %s", ErrNotAmount, want)
	}
	return *w.Amount, *w.Currency, nil
}
