package engineering

import (
	"errors"
	"testing"

	"github.com/shopspring/decimal"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// near holds a result against one from outside, to within what that is given to.
func near(t *testing.T, what string, got decimal.Decimal, err error, want, within string) {
	t.Helper()
	if err != nil || got.Sub(dec(want)).Abs().GreaterThan(dec(within)) {
		t.Errorf("%s: %v, %v; want %s within %s", what, got, err, want, within)
	}
}

// refused holds that something lies outside a formula's range, and says so.
func refused(t *testing.T, what string, err error, quantity string) {
	t.Helper()
	limit, ok := errors.AsType[*LimitError](err)
	if !ok || limit.Quantity != quantity || limit.Given == "" || limit.Allowed == "" || limit.Remedy == "" {
		t.Errorf("%s: %v, want a limit on %q", what, err, quantity)
	}
}

// The resistance of vehicle cable in ohm/m, from the metric vehicle-cable table
// of a marine and vehicle wiring handbook: what is lost along half a metre there
// and back at one ampere.
func TestDropOfVehicleCable(t *testing.T) {
	for area, want := range map[string]string{"1.0": "0.0189", "1.5": "0.0125", "2.0": "0.0094", "2.5": "0.0075", "3.0": "0.0060"} {
		got, err := DropV(one, dec("0.5"), dec(area), dec("20"))
		near(t, area+" mm2", got, err, want, "0.0017") // stranded cable has up to a tenth more than its area of copper has
	}
}

// 0.0164 ohm mm2/m is what ISO 10133 takes for copper in its voltage drop (from
// memory), and 10.75 ohm circular mil/ft ABYC E-11: 10 A, 21 ft there and back,
// 3 % of 12 V is 6,271 circular mil of 0.000506707 mm2.
func TestDropArea(t *testing.T) {
	circularMil := dec("0.000506707")
	got, err := DropAreaMM2(dec("10"), dec("3.2004"), dec("0.36"), dec("20"))
	near(t, "ABYC, 6271 CM", got, err, dec("6271").Mul(circularMil).String(), "0.12")
	got, err = DropAreaMM2(dec("10"), dec("3.2004"), dec("1.2"), dec("20"))
	near(t, "ABYC, 1881 CM", got, err, dec("1881").Mul(circularMil).String(), "0.04")
	got, err = DropAreaMM2(dec("10"), dec("3.2004"), dec("0.36"), dec("20"))
	near(t, "ISO 10133", got, err, dec("0.0164").Mul(dec("64.008")).Div(dec("0.36")).String(), "0.16")
	// 0.00393 per kelvin: 70 °C has 1.1965 times the resistance of 20 °C (IEC 60028).
	cold, _ := DropAreaMM2(dec("10"), dec("5.8"), dec("0.4"), dec("20"))
	got, err = DropAreaMM2(dec("10"), dec("5.8"), dec("0.4"), dec("70"))
	near(t, "warm copper", got, err, cold.Mul(dec("1.1965")).String(), "0.00001")
}

func TestDropLimits(t *testing.T) {
	_, err := DropV(dec("-1"), one, one, one)
	refused(t, "negative current", err, "The current")
	_, err = DropV(one, dec("100.1"), one, one)
	refused(t, "long run", err, "The length of the run")
	_, err = DropV(one, one, dec("0"), one)
	refused(t, "no area", err, "The area of the conductor")
	_, err = DropAreaMM2(one, one, dec("0"), one)
	refused(t, "no drop", err, "The voltage that may be lost")
	_, err = DropAreaMM2(one, one, one, dec("201"))
	refused(t, "hot", err, "The temperature of the conductor")
	if want := "The current is 1001 A where 0 to 1000 A is wanted."; true {
		_, err := DropV(dec("1001"), one, one, one)
		if err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}
