package money

import (
	"testing"

	"pgregory.net/rapid"
)

// VAT inside a price that includes it.
func TestFractionOfGross(t *testing.T) {
	for _, c := range []struct {
		gross, percent, vat string
		how                 Rounding
		source              string
	}{
		{"120.00", "20", "20.00", HalfUp, "VAT fraction r/(100+r), VAT Notice 700"},
		{"80.00", "5", "3.81", HalfUp, "VAT fraction r/(100+r), VAT Notice 700"},
		{"117.50", "17.5", "17.50", HalfUp, "VAT fraction r/(100+r), VAT Notice 700"},
		{"9.53", "20", "1.59", HalfUp, "HMRC retail figures: gross 9.53, VAT 1.59, net 7.94"},
		{"24.00", "20", "4.00", HalfUp, "HMRC: a refund of 24.00 takes 4.00 of VAT back"},
		{"10.00", "0", "0.00", HalfUp, "arithmetic"},
		{"-120.00", "20", "-20.00", HalfUp, "arithmetic: a credit mirrors its charge"},
	} {
		vat, err := FractionOfGross(amount(t, c.gross), dec(c.percent), c.how)
		if err != nil || vat.Fixed() != c.vat {
			t.Errorf("%s at %s %% holds %s, %v, want %s (%s)", c.gross, c.percent, vat.Fixed(), err, c.vat, c.source)
		}
	}
}

// VAT on a price without it.
func TestOnNet(t *testing.T) {
	for _, c := range []struct {
		net, percent, vat string
		how               Rounding
		source            string
	}{
		{"704.88", "20", "140.97", Down, "rounded down, as invoices between businesses may be: VATREC12010"},
		{"704.88", "20", "140.98", HalfUp, "arithmetic on the same"},
		{"1460.50", "25", "365.13", HalfUp, "EN 16931 UBL example 2 (CEN's public validation artefacts)"},
		{"183.23", "6", "10.99", HalfUp, "EN 16931 UBL example 1"},
		{"46.37", "21", "9.74", HalfUp, "EN 16931 UBL example 1"},
		{"197750.00", "25", "49437.50", HalfUp, "UBL 2.1 quotation example (OASIS)"},
	} {
		vat, err := OnNet(amount(t, c.net), dec(c.percent), c.how)
		if err != nil || vat.Fixed() != c.vat {
			t.Errorf("%s at %s %% takes %s %s, %v, want %s (%s)", c.net, c.percent, vat.Fixed(), c.how, err, c.vat, c.source)
		}
	}
	// Example 2 tells half up from half even: 365.125.
	if vat, _ := OnNet(amount(t, "1460.50"), dec("25"), HalfEven); vat.Fixed() != "365.12" {
		t.Errorf("half even gives %s", vat.Fixed())
	}
}

func TestPercentages(t *testing.T) {
	for _, bad := range []string{"-1", "1000.1", "0.0000001", "1e200", "1e-200"} {
		if _, err := OnNet(amount(t, "1"), dec(bad), HalfUp); err == nil {
			t.Errorf("%s %% is taken", bad)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		net, _ := FromMinor(rapid.Int64Range(-1e12, 1e12).Draw(t, "net"), "GBP")
		percent := dec("0.25").Mul(dec("1").Mul(decOf(rapid.Int64Range(0, 400).Draw(t, "quarters"))))
		on, err := OnNet(net, percent, HalfUp)
		if err != nil {
			t.Fatal(err)
		}
		want, _ := Round(net.Decimal().Mul(percent).Shift(-2), "GBP", HalfUp)
		if on != want {
			t.Fatalf("%v at %s %% takes %v, want %v", net, percent, on, want)
		}
		gross, err := net.Add(on)
		if err != nil {
			t.Fatal(err)
		}
		in, err := FractionOfGross(gross, percent, HalfUp)
		if err != nil {
			t.Fatal(err)
		}
		// Putting VAT on and taking it out again is off by a minor unit at most.
		if off := in.Minor() - on.Minor(); off < -1 || off > 1 {
			t.Fatalf("%v: %v on, %v out", net, on, in)
		}
	})
}
