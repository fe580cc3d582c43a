package ledger_test

import (
	"testing"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

func TestPayoutOf(t *testing.T) {
	for name, c := range map[string]struct {
		taken []string
		net   string
		n     int
		fee   string
	}{
		"one":                       {[]string{"100.00"}, "98.00", 1, "2.00"},
		"two of three":              {[]string{"100.00", "50.00", "80.00"}, "147.25", 2, "2.75"},
		"without a fee":             {[]string{"100.00", "50.00"}, "100.00", 1, "0.00"},
		"five per cent":             {[]string{"100.00"}, "95.00", 1, "5.00"},
		"more than five":            {[]string{"100.00"}, "94.99", 0, ""},
		"more than was taken":       {[]string{"100.00"}, "100.01", 0, ""},
		"nothing":                   {[]string{"100.00"}, "0.00", 0, ""},
		"going out":                 {[]string{"100.00"}, "-98.00", 0, ""},
		"too much with the next":    {[]string{"10.00", "90.00"}, "50.00", 0, ""},
		"charged back":              {[]string{"-100.00"}, "-102.00", 1, "2.00"},
		"charged back, and came":    {[]string{"-100.00"}, "98.00", 0, ""},
		"charged back, less went":   {[]string{"-100.00"}, "-99.00", 0, ""},
		"charged back, more fee":    {[]string{"-100.00"}, "-105.01", 0, ""},
		"none taken":                {nil, "50.00", 0, ""},
		"the fewest of two choices": {[]string{"100.00", "1.00"}, "99.00", 1, "1.00"},
	} {
		var taken []money.Amount
		for _, s := range c.taken {
			taken = append(taken, gbp(t, s))
		}
		n, sum, fee, ok := ledger.PayoutOf(taken, gbp(t, c.net))
		if n != c.n || ok != (c.n > 0) || ok && (fee != gbp(t, c.fee) || sum.Minor()-fee.Minor() != gbp(t, c.net).Minor()) {
			t.Errorf("%s: %d, %s less %s", name, n, sum, fee)
		}
	}
	if _, _, _, ok := ledger.PayoutOf([]money.Amount{usd(t, "10.00")}, gbp(t, "10.00")); ok {
		t.Error("in other money")
	}
}
