package money

import (
	"github.com/shopspring/decimal"
)

// FractionOfGross is the VAT inside a price that includes it:
// gross × r/(100 + r), the VAT fraction of VAT Notice 700.
//
// Errors: ErrNotAmount, ErrTooLarge, ErrNoRounding.
func FractionOfGross(gross Amount, percent decimal.Decimal, how Rounding) (Amount, error) {
	num, den, err := VATFraction(percent)
	if err != nil {
		return Amount{}, err
	}
	minor, err := PartMinor(gross.minor, num, den, how)
	if err != nil {
		return Amount{}, err
	}
	return gross.WithMinor(minor)
}

// OnNet is the VAT on a price without it: net × r/100.
//
// Errors: ErrTooLarge, ErrNoRounding.
func OnNet(net Amount, percent decimal.Decimal, how Rounding) (Amount, error) {
	num, den, err := PercentFraction(percent)
	if err != nil {
		return Amount{}, err
	}
	minor, err := PartMinor(net.minor, num, den, how)
	if err != nil {
		return Amount{}, err
	}
	return net.WithMinor(minor)
}

// VATFraction is r/(100 + r) in whole numbers: 20 % is 20/120, 17.5 % is
// 175/1175. Percentages from 0 up to 1000 with at most six decimals.
//
// Error: ErrNotAmount.
func VATFraction(percent decimal.Decimal) (num, den int64, err error) {
	num, den, err = PercentFraction(percent)
	return num, den + num, err
}

// PercentFraction is r/100 in whole numbers: 20 % is 20/100, 17.5 % is
// 175/1000. Percentages from 0 up to 1000 with at most six decimals.
//
// Error: ErrNotAmount.
func PercentFraction(percent decimal.Decimal) (num, den int64, err error) {
	if percent.Exponent() < -100 || percent.Exponent() > 100 ||
		percent.Sign() < 0 || percent.GreaterThan(decimal.New(1000, 0)) {
		return 0, 1, ErrNotAmount
	}
	places := max(0, -percent.Exponent())
	if places > 6 {
		if !percent.Equal(percent.Truncate(6)) {
			return 0, 1, ErrNotAmount
		}
		places = 6
	}
	return percent.Shift(places).IntPart(), 100 * pow10[places], nil
}

// PartMinor is minor × num/den rounded: num not negative, den positive.
//
// Errors: ErrTooLarge, ErrNoRounding.
func PartMinor(minor, num, den int64, how Rounding) (int64, error) {
	if how < HalfUp || how > Floor {
		return 0, ErrNoRounding
	}
	if num < 0 || den <= 0 {
		return 0, ErrNotAmount
	}
	hi, lo := mul64(minor, num)
	part, ok := divide64(hi, lo, uint64(den), minor < 0, how)
	if !ok {
		return 0, ErrTooLarge
	}
	return part, nil
}
