package money

import (
	"bufio"
	"errors"
	"os"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// The General Decimal Arithmetic cases about rounding; the file says where
// they come from and what is left out.
func TestRoundingAgainstGeneralDecimalArithmetic(t *testing.T) {
	file, err := os.Open("../../testdata/published/decimal_rounding.decTest")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var how Rounding
	precision, cases := 0, map[Rounding]int{}
	for lines := bufio.NewScanner(file); lines.Scan(); {
		words := strings.Fields(strings.ReplaceAll(lines.Text(), "'", ""))
		switch {
		case len(words) == 0 || strings.HasPrefix(words[0], "#"):
			continue
		case words[0] == "rounding:":
			how = 0
			for r := HalfUp; r <= Floor; r++ {
				if r.String() == words[1] {
					how = r
				}
			}
			continue
		case words[0] == "precision:":
			precision = int(dec(words[1]).IntPart())
			continue
		}
		name, want := words[0], dec(after(words, "->"))
		var got decimal.Decimal
		switch words[1] {
		case "add":
			sum := dec(words[2]).Add(dec(words[3]))
			got = toDigits(t, sum, precision, how)
		case "quantize":
			got, err = RoundDecimal(dec(words[2]), -dec(words[3]).Exponent(), how)
		case "tointegral":
			got, err = RoundDecimal(dec(words[2]), 0, how)
		default:
			t.Fatalf("%s: %q is not known", name, words[1])
		}
		if err != nil || !got.Equal(want) {
			t.Errorf("%s, %s: %s gives %s, %v", name, how, strings.Join(words[1:], " "), got, err)
		}
		cases[how]++
	}
	for r := HalfUp; r <= Floor; r++ {
		if cases[r] < 45 {
			t.Errorf("only %d cases of %s were tried", cases[r], r)
		}
	}
	if cases[0] > 0 {
		t.Errorf("%d cases of no known rounding", cases[0])
	}
}

func after(words []string, mark string) string {
	for i, w := range words {
		if w == mark {
			return words[i+1]
		}
	}
	return ""
}

// toDigits rounds to so many significant digits, as an addition under that
// precision does.
func toDigits(t *testing.T, d decimal.Decimal, digits int, how Rounding) decimal.Decimal {
	t.Helper()
	for {
		places := int32(digits-d.NumDigits()) - d.Exponent()
		rounded, err := RoundDecimal(d, places, how)
		if err != nil {
			t.Fatal(err)
		}
		if rounded.NumDigits() <= digits {
			return rounded
		}
		d = rounded // 99999.5 became 100000
	}
}

// From the same standard, by hand: the figures people ask about.
func TestHalfUpMeansAwayFromZero(t *testing.T) {
	for _, c := range []struct {
		value, halfUp, halfEven string
	}{
		{"2.675", "2.68", "2.68"},
		{"-2.665", "-2.67", "-2.66"},
		{"0.005", "0.01", "0.00"},
		{"-0.005", "-0.01", "0.00"},
		{"0.0049999", "0.00", "0.00"},
		// US sales tax, up when the third decimal is over 4. Source:
		// Streamlined Sales and Use Tax Agreement, section 324.
		{"1.234", "1.23", "1.23"},
		{"1.235", "1.24", "1.24"},
	} {
		for how, want := range map[Rounding]string{HalfUp: c.halfUp, HalfEven: c.halfEven} {
			if got, err := Round(dec(c.value), "GBP", how); err != nil || got.Fixed() != want {
				t.Errorf("%s %s is %s, %v, want %s", c.value, how, got.Fixed(), err, want)
			}
		}
	}
	if _, err := Round(dec("1"), "GBP", 0); !errors.Is(err, ErrNoRounding) {
		t.Errorf("rounding without a name: %v", err)
	}
	if _, err := Times(dec("1"), dec("1"), "GBP", Floor+1); !errors.Is(err, ErrNoRounding) {
		t.Errorf("rounding past the last: %v", err)
	}
}

// The quick way through 128-bit integers and the decimal library give the
// same amount for any quantity and unit price.
func TestTimesIsDecimalMultiplication(t *testing.T) {
	number := func(t *rapid.T, label string) decimal.Decimal {
		coef := rapid.Int64().Draw(t, label)
		if rapid.Bool().Draw(t, label+" short") {
			coef %= 1_000_000
		}
		d := decimal.New(coef, -rapid.Int32Range(-3, 14).Draw(t, label+" places"))
		if rapid.IntRange(0, 9).Draw(t, label+" long") == 0 {
			d = d.Mul(dec("1.000000000000000001"))
		}
		return d
	}
	rapid.Check(t, func(t *rapid.T) {
		quantity, unit := number(t, "quantity"), number(t, "unit")
		want := quantity.Mul(unit).Round(2) // shopspring's Round is half away from zero
		got, err := Times(quantity, unit, "GBP", HalfUp)
		if want.Abs().GreaterThanOrEqual(decimal.New(Largest, 0)) {
			if err == nil {
				t.Fatalf("%s × %s is %s", quantity, unit, got)
			}
			return
		}
		if err != nil || !got.Decimal().Equal(want) {
			t.Fatalf("%s × %s is %v, %v, want %s", quantity, unit, got, err, want)
		}
		minor, err := NewFactor(unit).Minor(quantity, "GBP", HalfUp)
		if err != nil || minor != got.Minor() {
			t.Fatalf("by a factor it is %d, %v, want %d", minor, err, got.Minor())
		}
	})
}

func TestTimesAtTheEnds(t *testing.T) {
	const tooLarge = 1<<63 - 1
	for _, c := range []struct {
		quantity, unit string
		minor          int64
	}{
		{"999999999999999999", "999999999999999999", tooLarge},
		{"99999999999999999.9", "99999999999999999.9", tooLarge},
		{"9999999999999.99", "1", 999_999_999_999_999},
		{"10000000000000", "1", tooLarge},
		{"0.000000000000000001", "9999999999999", 0},
		{"0.000000000001", "9999999999999", 1000},
		{"-0.5", "0.01", -1},
		{"123456789012345678901234567890", "0.00000000000000000001", 123456789012},
	} {
		got, err := Times(dec(c.quantity), dec(c.unit), "GBP", HalfUp)
		if c.minor == tooLarge && !errors.Is(err, ErrTooLarge) || c.minor != tooLarge && (err != nil || got.Minor() != c.minor) {
			t.Errorf("%s × %s is %v, %v, want %d", c.quantity, c.unit, got, err, c.minor)
		}
	}
}

func TestRoundDecimalAgainstTheDecimalLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := decimal.New(rapid.Int64().Draw(t, "coefficient"), -rapid.Int32Range(-5, 25).Draw(t, "places"))
		to := rapid.Int32Range(-4, 8).Draw(t, "to")
		for how, want := range map[Rounding]decimal.Decimal{
			HalfUp: d.Round(to), HalfEven: d.RoundBank(to), Ceiling: d.RoundCeil(to), Floor: d.RoundFloor(to),
			Up: d.RoundUp(to), Down: d.RoundDown(to),
		} {
			if got, err := RoundDecimal(d, to, how); err != nil || !got.Equal(want) {
				t.Fatalf("%s to %d %s is %s, %v, want %s", d, to, how, got, err, want)
			}
		}
	})
}
