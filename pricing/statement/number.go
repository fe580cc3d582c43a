package statement

import (
	"errors"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
)

var errNumber = errors.New("not a number of money")

// roundNumber reads a number that may have fewer or more decimals than its
// currency; more only as noughts.
func roundNumber(s string, c money.Currency) (money.Amount, error) {
	s = strings.TrimPrefix(strings.TrimSpace(s), "+")
	if len(s) == 0 || len(s) > 30 || strings.ContainsAny(s, "eE") {
		return money.Amount{}, errNumber
	}
	value, err := decimal.NewFromString(s)
	if err != nil {
		return money.Amount{}, errNumber
	}
	return money.New(value, c)
}

// number reads an amount as people write it: "1,234.50", "1.234,50", "-12.00",
// "12.00-", "(12.00)", "£12.00", with the mark that stands before the decimals.
// Thousands are parted by the other mark, a space or an apostrophe, in groups
// of three.
func number(s, mark string, c money.Currency) (money.Amount, error) {
	s = strings.TrimSpace(strings.Map(func(r rune) rune {
		switch r {
		case '\u2212', '\u2013':
			return '-'
		case '\u00a0', '\u202f', '\u2009':
			return ' '
		case '\u2019':
			return '\''
		case '£', '€', '$':
			return -1
		}
		return r
	}, s))
	negative := false
	switch {
	case strings.HasPrefix(s, "(") && strings.HasSuffix(s, ")"):
		s, negative = s[1:len(s)-1], true
	case strings.HasSuffix(s, "-"):
		s, negative = s[:len(s)-1], true
	case strings.HasPrefix(s, "-"):
		s, negative = s[1:], true
	case strings.HasPrefix(s, "+"):
		s = s[1:]
	}
	whole, part, _ := strings.Cut(strings.TrimSpace(s), mark)
	whole, ok := withoutThousands(whole, mark)
	if !ok || !digits(part) || whole == "" {
		return money.Amount{}, errNumber
	}
	amount, err := roundNumber(whole+"."+part+"0", c)
	if err != nil {
		return money.Amount{}, err
	}
	if negative {
		amount = amount.Neg()
	}
	return amount, nil
}

// withoutThousands takes out what parts the thousands: one and the same mark,
// three digits after each.
func withoutThousands(s, decimalMark string) (string, bool) {
	between := ""
	for _, m := range []string{",", ".", " ", "'"} {
		if m != decimalMark && strings.Contains(s, m) {
			between = m // a second one stays in a group, which is then no number
		}
	}
	if between == "" {
		return s, digits(s)
	}
	groups := strings.Split(s, between)
	for i, g := range groups {
		if !digits(g) || i > 0 && len(g) != 3 || i == 0 && (len(g) == 0 || len(g) > 3) {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

func digits(s string) bool {
	return strings.Trim(s, "0123456789") == ""
}
