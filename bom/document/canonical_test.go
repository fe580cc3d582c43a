package document

import (
	"reflect"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// The short way of writing a decimal is the long one, wherever it is taken.
func TestDecimalsAreWrittenAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.OneOf(rapid.Int64(), rapid.Int64Range(-2_000, 2_000)).Draw(t, "coefficient")
		d := decimal.New(n, rapid.Int32Range(-25, 5).Draw(t, "exponent"))
		short, ok := appendShort(nil, d)
		if ok && string(short) != d.String() {
			t.Fatalf("%s written short is %s", d, short)
		}
		if ok && len(short) > maxShortDecimal {
			t.Fatalf("%s has %d bytes, and room for %d", short, len(short), maxShortDecimal)
		}
	})
	for _, text := range []string{"0", "0.000", "-0.5", "0.50", "-123.456", "100", "1e-18", "999999999999999999", "0.000000000000000001"} {
		d := decimal.RequireFromString(text)
		if short, ok := appendShort(nil, d); !ok || string(short) != d.String() {
			t.Errorf("%s written short is %s (%t)", d, short, ok)
		}
	}
	var none decimal.Decimal
	if short, ok := appendShort(nil, none); !ok || string(short) != "0" {
		t.Errorf("no decimal written short is %q", short)
	}
}

// leaf holds itself: its code is looked up again when it is used.
type leaf struct {
	Name string `yaml:"name"`
	On   []leaf `yaml:"on"`
}

func TestTypesThatHoldThemselves(t *testing.T) {
	a := leaf{Name: "a", On: []leaf{{Name: "b"}, {}}}
	c := codeOf(reflect.TypeFor[leaf]())
	const want = "o2:s4:names1:as2:onl2:o1:s4:names1:bo0:"
	if got := string(c.add(nil, reflect.ValueOf(a))); got != want {
		t.Errorf("%s, not %s", got, want)
	}
}
