// Package money is amounts of money and what is done with them: rounding by
// name, dividing so that the parts sum to the whole, and taking VAT out of or
// putting it on a price. Decimals go in and come out; inside, amounts are
// integer minor units, and nothing is ever a float.
package money

// Currency is an ISO 4217 code: "GBP".
type Currency string

// minorDigits are the currencies known here with the number of decimals of
// their minor unit. Source: ISO 4217, list one (currency codes in force), the
// column "minor unit"; only those a van workshop is likely to meet.
// A test holds them against golang.org/x/text/currency.
var minorDigits = [...]struct {
	code   Currency
	digits uint8
}{
	{"GBP", 2}, {"EUR", 2}, // first, since they are looked up most
	{"AUD", 2}, {"BGN", 2}, {"BHD", 3}, {"CAD", 2}, {"CHF", 2}, {"CZK", 2},
	{"DKK", 2}, {"HUF", 2}, {"ISK", 0}, {"JPY", 0}, {"KRW", 0}, {"KWD", 3},
	{"NOK", 2}, {"NZD", 2}, {"PLN", 2}, {"RON", 2}, {"SEK", 2}, {"TND", 3},
	{"TRY", 2}, {"USD", 2}, {"ZAR", 2},
}

// unit is a currency by its place in minorDigits, from 1; 0 is none. It keeps
// amounts to two words without pointers.
type unit uint8

func (c Currency) unit() unit {
	for i := range minorDigits {
		if minorDigits[i].code == c {
			return unit(i + 1)
		}
	}
	return 0
}

func (u unit) currency() Currency {
	if u == 0 {
		return ""
	}
	return minorDigits[u-1].code
}

func (u unit) digits() int {
	if u == 0 {
		return 0
	}
	return int(minorDigits[u-1].digits)
}

// MinorDigits is how many decimals the currency's minor unit has; false for a
// currency not known here.
func (c Currency) MinorDigits() (int, bool) {
	u := c.unit()
	return u.digits(), u != 0
}
