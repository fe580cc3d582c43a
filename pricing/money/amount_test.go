package money

import (
	"encoding/json"
	"errors"
	"testing"

	json2 "github.com/go-json-experiment/json"
	"github.com/shopspring/decimal"
	"golang.org/x/text/currency"
	"pgregory.net/rapid"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// amount is a test's way to write an amount.
func amount(tb testing.TB, s string) Amount {
	tb.Helper()
	a, err := Parse(s, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func TestAmountIsWrittenOneWay(t *testing.T) {
	for _, c := range []struct {
		value, currency, json string
	}{
		{"1234.5", "GBP", `{"amount":"1234.50","currency":"GBP"}`},
		{"0", "GBP", `{"amount":"0.00","currency":"GBP"}`},
		{"-0.01", "EUR", `{"amount":"-0.01","currency":"EUR"}`},
		{"1234", "JPY", `{"amount":"1234","currency":"JPY"}`},
		{"1.2", "KWD", `{"amount":"1.200","currency":"KWD"}`},
		{"9999999999999.99", "GBP", `{"amount":"9999999999999.99","currency":"GBP"}`},
	} {
		a, err := Parse(c.value, Currency(c.currency))
		if err != nil {
			t.Errorf("%s %s: %v", c.value, c.currency, err)
			continue
		}
		got, err := json.Marshal(a)
		if err != nil || string(got) != c.json {
			t.Errorf("%s %s is written %s (%v), want %s", c.value, c.currency, got, err, c.json)
		}
		var back Amount
		if err := json.Unmarshal(got, &back); err != nil || back != a {
			t.Errorf("%s read back is %v (%v)", got, back, err)
		}
	}
	if got, err := json.Marshal(Amount{}); err == nil {
		t.Errorf("an amount without a currency is written %s", got)
	}
}

func TestAmountRefuses(t *testing.T) {
	for _, c := range []struct {
		json string
		want error
	}{
		{`{"amount":"1.00"}`, ErrNotAmount},
		{`{"currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"1.00","currency":"GBP","vat":"20"}`, ErrNotAmount},
		{`{"amount":"1.00","amount":"2.00","currency":"GBP"}`, ErrNotAmount},
		{`{"Amount":"1.00","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":1.00,"currency":"GBP"}`, ErrNotAmount},
		{`{"amount":null,"currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"1e3","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"1e999999999","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"+1","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"1,000.00","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":" 1","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":".5","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"1.","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"-","currency":"GBP"}`, ErrNotAmount},
		{`{"amount":"NaN","currency":"GBP"}`, ErrNotAmount},
		{`"1.00"`, ErrNotAmount},
		{`{"amount":"1.005","currency":"GBP"}`, ErrTooFine},
		{`{"amount":"1.5","currency":"JPY"}`, ErrTooFine},
		{`{"amount":"1.00","currency":"gbp"}`, ErrCurrency},
		{`{"amount":"1.00","currency":"XXX"}`, ErrCurrency},
		{`{"amount":"10000000000000","currency":"GBP"}`, ErrTooLarge},
		{`{"amount":"-10000000000000.00","currency":"GBP"}`, ErrTooLarge},
		{`{"amount":"99999999999999999999999","currency":"GBP"}`, ErrTooLarge},
	} {
		var a Amount
		if err := json.Unmarshal([]byte(c.json), &a); !errors.Is(err, c.want) {
			t.Errorf("encoding/json: %s gives %v, %v, want %v", c.json, a, err, c.want)
		}
		if err := json2.Unmarshal([]byte(c.json), &a); err == nil {
			t.Errorf("json v2: %s is taken as %v", c.json, a)
		}
	}
}

func TestAmountsKeepTheirCurrencyAndBounds(t *testing.T) {
	pound, euro := amount(t, "1"), Zero("EUR")
	if _, err := pound.Add(euro); !errors.Is(err, ErrMixed) {
		t.Errorf("pounds and euros add: %v", err)
	}
	large := amount(t, "9999999999999.99")
	if _, err := large.Add(amount(t, "0.01")); !errors.Is(err, ErrTooLarge) {
		t.Errorf("at the limit: %v", err)
	}
	if sum, err := Sum("GBP", large, pound.Neg(), pound); err != nil || sum != large {
		t.Errorf("just below it: %v %v", sum, err)
	}
	for _, minor := range []int64{1 << 62, -1 << 63, 1e15, -1e15} {
		if a, err := FromMinor(minor, "GBP"); !errors.Is(err, ErrTooLarge) {
			t.Errorf("%d minor units are %v, %v", minor, a, err)
		}
	}
	if a, err := FromMinor(999_999_999_999_999, "GBP"); err != nil || a != large {
		t.Errorf("the largest in minor units is %v, %v", a, err)
	}
	for _, value := range []decimal.Decimal{decimal.New(1, 400_000_000), decimal.New(-1, 400_000_000), decimal.New(1, 31)} {
		if a, err := Round(value, "GBP", HalfUp); !errors.Is(err, ErrTooLarge) {
			t.Errorf("1e%d is %v, %v", value.Exponent(), a, err)
		}
	}
	if a, err := Round(decimal.New(1, -400_000_000), "GBP", HalfUp); err != nil || !a.IsZero() {
		t.Errorf("next to nothing is %v, %v", a, err)
	}
	if a, err := Round(decimal.New(1, -400_000_000), "GBP", Up); err != nil || a.Minor() != 1 {
		t.Errorf("next to nothing, up, is %v, %v", a, err)
	}
}

// ISO 4217's minor units, against the tables of golang.org/x/text, which are
// made from Unicode CLDR. CLDR gives some currencies fewer decimals in daily
// use than ISO does; "standard" is the use closest to ISO.
func TestMinorDigitsAgainstCLDR(t *testing.T) {
	for _, c := range minorDigits {
		unit, err := currency.ParseISO(string(c.code))
		if err != nil {
			t.Errorf("%s: %v", c.code, err)
			continue
		}
		if scale, _ := currency.Standard.Rounding(unit); scale != int(c.digits) {
			t.Errorf("%s has %d decimals here, %d there", c.code, c.digits, scale)
		}
	}
}

func TestUnitPriceKeepsItsDecimals(t *testing.T) {
	for value, want := range map[string]string{
		"0.0125": "0.0125", "995": "995.00", "1.5": "1.50", "0.000001": "0.000001", "829.1667": "829.1667",
	} {
		p, err := NewUnitPrice(dec(value), "GBP")
		if err != nil || p.Fixed() != want {
			t.Errorf("%s is %s, %v", value, p.Fixed(), err)
		}
		text, _ := json.Marshal(p)
		var back UnitPrice
		if err := json.Unmarshal(text, &back); err != nil || !back.Equal(p) {
			t.Errorf("%s reads back as %v, %v", text, back, err)
		}
	}
	for _, value := range []string{"0.0000001", "10000000000000"} {
		if _, err := NewUnitPrice(dec(value), "GBP"); err == nil {
			t.Errorf("%s is taken", value)
		}
	}
	if p := Zero("GBP").Fine(8291667); p.Fixed() != "829.1667" {
		t.Errorf("829.1667 is %s", p.Fixed())
	}
}

func TestReadingWhatIsWrittenGivesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := minorDigits[rapid.IntRange(0, len(minorDigits)-1).Draw(t, "currency")]
		limit := Largest * pow10[c.digits]
		a, err := FromMinor(rapid.Int64Range(-limit+1, limit-1).Draw(t, "minor"), c.code)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		var back Amount
		if err := json.Unmarshal(text, &back); err != nil || back != a {
			t.Fatalf("%v is written %s and read %v, %v", a, text, back, err)
		}
		if again, err := New(a.Decimal(), c.code); err != nil || again != a {
			t.Fatalf("%v by way of decimals is %v, %v", a, again, err)
		}
	})
}

func FuzzAmountJSON(f *testing.F) {
	for _, s := range []string{
		`{"amount":"1234.50","currency":"GBP"}`, `{"amount":"-0.01","currency":"EUR"}`,
		`{"amount":"1e9","currency":"GBP"}`, `{"amount":1,"currency":"JPY"}`, `null`, `{`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var a Amount
		if json.Unmarshal(data, &a) != nil || string(data) == "null" {
			return
		}
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatalf("%q is read as %v, which cannot be written: %v", data, a, err)
		}
		var back Amount
		if err := json.Unmarshal(text, &back); err != nil || back != a {
			t.Fatalf("%q → %s → %v, %v", data, text, back, err)
		}
	})
}

func decOf(n int64) decimal.Decimal { return decimal.New(n, 0) }
