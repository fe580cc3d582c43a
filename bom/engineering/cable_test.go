package engineering

import (
	"errors"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
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

// number draws a decimal with two places from least to most.
func number(t *rapid.T, label string, least, most int64) decimal.Decimal {
	return decimal.New(rapid.Int64Range(100*least, 100*most).Draw(t, label), -2)
}

// The most resistance a flexible copper conductor of class 5 may have at 20 °C,
// in ohm/km (IEC 60228, table 3). None has more than is reckoned here, and ours
// is at most a seventh above.
func TestResistanceOfConductors(t *testing.T) {
	for area, want := range map[string]string{
		"0.75": "26.0", "1": "19.5", "1.5": "13.3", "2.5": "7.98", "4": "4.95", "6": "3.30", "10": "1.91", "16": "1.21",
		"25": "0.780", "35": "0.554", "50": "0.386", "70": "0.272", "95": "0.206", "120": "0.161", "150": "0.129",
	} {
		ours, err := DropV(dec("1000"), dec("0.5"), dec(area), dec("20")) // a metre there and back in all
		if most := dec(want); err != nil || ours.LessThan(most) || ours.GreaterThan(most.Mul(dec("1.07"))) {
			t.Errorf("%s mm2: %v mohm, %v; the standard allows %s", area, ours, err, want)
		}
	}
}

// Voltage lost in flexible cable, in mV for each ampere and metre, at 60 °C (BS
// 7671, table 4F3B) and at 90 °C (table 4F2B, direct current).
func TestDropOfFlexibleCable(t *testing.T) {
	for area, want := range map[string]string{"0.75": "62", "1": "46", "1.5": "32", "2.5": "19", "4": "12"} {
		got, err := DropV(dec("1000"), one, dec(area), dec("60"))
		near(t, area+" mm2 at 60 °C", got, err, want, "1.2")
	}
	for area, want := range map[string]string{"4": "13.2", "6": "8.5", "10": "5.1", "16": "3.2"} {
		got, err := DropV(dec("1000"), one, dec(area), dec("90"))
		near(t, area+" mm2 at 90 °C", got, err, want, "0.5")
	}
}

// The resistance of vehicle cable, in ohm/m, from the metric vehicle-cable table
// of a wiring handbook (thin-walled cable, not to a class of IEC 60228).
func TestDropOfVehicleCable(t *testing.T) {
	for area, want := range map[string]string{"1.0": "0.0189", "1.5": "0.0125", "2.0": "0.0094", "2.5": "0.0075", "3.0": "0.0060"} {
		got, err := DropV(one, dec("0.5"), dec(area), dec("20"))
		near(t, area+" mm2", got, err, want, "0.0012")
	}
}

// 10.75 ohm circular mil/ft is what ABYC E-11 takes: 10 A, 21 ft there and back
// at 12 V need 6,271 circular mil (of 0.000506707 mm2) for 3 %, 1,881 for 10 %;
// 0.0164 ohm mm2/m what ISO 10133 takes (annex B; from memory). Ours, for
// stranded cable to a metric standard, lies up to a quarter above either.
func TestDropArea(t *testing.T) {
	circularMil := dec("0.000506707")
	for allowed, mils := range map[string]string{"0.36": "6271", "1.2": "1881"} {
		got, err := DropAreaMM2(dec("10"), dec("3.2004"), dec(allowed), dec("20"))
		near(t, "over ABYC, "+mils+" circular mil", got.Div(dec(mils).Mul(circularMil)), err, "1.119", "0.002")
	}
	got, err := DropAreaMM2(dec("10"), dec("3.2004"), dec("0.36"), dec("20"))
	near(t, "over ISO 10133", got.Div(dec("0.0164").Mul(dec("64.008")).Div(dec("0.36"))), err, "1.2195", "0.001")
	// Of 1/58 ohm mm2/m (IEC 60028) 16 % less is left.
	near(t, "over IEC 60028", got.Div(dec("64.008").Div(dec("58").Mul(dec("0.36")))), err, "1.16", "0.0001")
	// 0.00393 for each kelvin: at 70 °C 1.1965 times as much (IEC 60028); by the
	// correction factors of IEC 60228, annex B, 1/0.833.
	warm, err := DropAreaMM2(dec("10"), dec("3.2004"), dec("0.36"), dec("70"))
	near(t, "warm copper", warm.Div(got), err, "1.1965", "0.00001")
	near(t, "warm copper, IEC 60228", warm.Div(got), err, dec("1").Div(dec("0.833")).String(), "0.005")
	same, err := DropV(dec("10"), dec("3.2004"), warm, dec("70"))
	near(t, "and back", same, err, "0.36", "0.000001")
}

// AWG n is 0.127 · 92^((36 − n)/39) mm thick (ASTM B 258): 10 and 18 have 5.261
// and 0.823 mm2. The metric size that is not thinner is 6 and 1.
func TestNextSize(t *testing.T) {
	for gauge, want := range map[int64]string{10: "5.261", 18: "0.823"} {
		thick := power(dec("92"), decimal.New(36-gauge, 0).DivRound(dec("39"), 12)).Mul(dec("0.127"))
		near(t, "AWG", thick.Mul(thick).Mul(pi).Div(dec("4")), nil, want, "0.0005")
	}
	for area, want := range map[string]string{"0": "0.75", "5.261": "6", "0.823": "1", "2.5": "2.5", "2.51": "4", "150": "150", "120.000001": "150"} {
		got, err := NextMM2(dec(area))
		near(t, area+" mm2", got, err, want, "0")
	}
	_, err := NextMM2(dec("150.01"))
	refused(t, "more than there is", err, "The area of the conductor")
}

// IEC 60364-5-52, table B.52.17, item 1 (the same as BS 7671, table 4C1).
func TestGrouping(t *testing.T) {
	for circuits, want := range map[int]string{1: "100", 2: "80", 3: "70", 4: "65", 6: "57", 9: "50", 11: "50", 12: "45", 15: "45", 16: "41", 19: "41", 20: "38", 100: "38"} {
		got, err := GroupingPercent(circuits)
		near(t, "grouping", got, err, want, "0")
	}
	for _, circuits := range []int{0, -1, 101} {
		_, err := GroupingPercent(circuits)
		refused(t, "grouping", err, "The number of circuits bunched together")
	}
}

// What ABYC E-11, table IV, gives conductors of 105 °C outside engine spaces:
// AWG 16 to 2, of 1.31 to 33.6 mm2. Ours, by the metric standard, is never more
// than a seventh above what the nearest size of the two not thicker has.
func TestCapacityAgainstABYC(t *testing.T) {
	for _, c := range []struct{ metric, amperes string }{
		{"1", "25"}, {"1.5", "35"}, {"2.5", "45"}, {"4", "60"}, {"6", "80"}, {"10", "120"}, {"16", "160"}, {"25", "210"},
	} {
		got, err := CableA(dec(c.metric), dec("105"), 1)
		if err != nil || got.GreaterThan(dec(c.amperes)) || got.LessThan(dec(c.amperes).Mul(dec("0.7"))) {
			t.Errorf("%s mm2: %v, %v; the next thicker of ABYC has %s", c.metric, got, err, c.amperes)
		}
	}
	// Metric vehicle cable for 70 °C (table of a wiring handbook) is rated more
	// carefully for its long looms: 8.75, 12.75 and 21.75 A.
	for area, amperes := range map[string]string{"1": "8.75", "1.5": "12.75", "2.5": "21.75"} {
		got, err := CableA(dec(area), dec("70"), 3)
		near(t, area+" mm2, three together", got, err, amperes, "4.3")
	}
	got, err := CableA(dec("2.5"), dec("90"), 6) // between two columns the lower: 30 A and 57 %
	near(t, "between columns", got, err, "17.1", "0")
	got, err = CableA(dec("3"), dec("70"), 1)
	near(t, "between sizes", got, err, "25", "0")
}

// Hand-worked by the formulas above: 24 V, 100 A, 10 ft there and back, 3 %: by
// drop some 9 mm2 (ABYC AWG 8, 8.37 mm2), but what it has to carry wants more
// (ABYC AWG 6, 13.3 mm2).
func TestCapacityGoverns(t *testing.T) {
	byDrop, err := DropAreaMM2(dec("100"), dec("1.524"), dec("0.72"), dec("20"))
	near(t, "by drop", byDrop, err, "8.47", "0.01")
	got, err := CableMM2(dec("100"), dec("1.524"), dec("0.72"), dec("105"), 1)
	near(t, "both", got, err, "16", "0")
	got, err = CableMM2(dec("10"), dec("5.8"), dec("0.36"), dec("70"), 1)
	near(t, "by drop alone", got, err, "10", "0") // 2 · 5.8 · 10 · 1.1965 / (50 · 0.36) = 7.71
	got, err = CableMM2(decimal.Zero, decimal.Zero, one, dec("70"), 1)
	near(t, "nothing at all", got, err, "1", "0") // ISO 10133, 7.7
	got, err = FusedCableMM2(dec("17"), dec("1.25"), decimal.Zero, one, dec("70"), 1)
	near(t, "for the fuse of 25 A", got, err, "2.5", "0")
	got, err = CableMM2(dec("17"), decimal.Zero, one, dec("70"), 1)
	near(t, "for the load", got, err, "1.5", "0")
}

func TestCableLimits(t *testing.T) {
	_, err := DropV(dec("-1"), one, one, one)
	refused(t, "negative current", err, "The current")
	_, err = DropV(dec("1001"), one, one, one)
	if want := "The current is 1001 A where 0 to 1000 A is wanted."; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	_, err = DropV(one, dec("100.1"), one, one)
	refused(t, "long run", err, "The length of the run")
	_, err = DropV(one, one, dec("0"), one)
	refused(t, "no area", err, "The area of the conductor")
	_, err = DropAreaMM2(one, one, dec("0"), one)
	refused(t, "no drop", err, "The voltage that may be lost")
	_, err = DropAreaMM2(one, one, one, dec("201"))
	refused(t, "hot", err, "The temperature of the conductor")
	_, err = CableA(dec("0.74"), dec("70"), 1)
	refused(t, "thin", err, "The area of the conductor")
	_, err = CableA(dec("2.5"), dec("59"), 1)
	refused(t, "poor insulation", err, "What the insulation bears")
	_, err = CableMM2(dec("500"), dec("20"), dec("0.36"), dec("70"), 1)
	refused(t, "too much for any", err, "The current")
}

func TestCableProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		current, length := number(r, "current", 0, 200), number(r, "length", 0, 12)
		allowed := number(r, "allowed", 1, 3)
		insulation := dec(rapid.SampledFrom([]string{"60", "70", "90", "105", "125"}).Draw(r, "insulation"))
		circuits := rapid.IntRange(1, 12).Draw(r, "circuits")
		area, err := CableMM2(current, length, allowed, insulation, circuits)
		if err != nil {
			refusedRapid(r, err)
			return
		}
		carries, err := CableA(area, insulation, circuits)
		if err != nil || carries.LessThan(current) {
			r.Errorf("%s mm2 carries %s, %v", area, carries, err)
		}
		lost, err := DropV(current, length, area, insulation)
		if err != nil || lost.GreaterThan(allowed.Add(dec("0.000001"))) {
			r.Errorf("%s mm2 loses %s, %v", area, lost, err)
		}
		fused, err := FusedCableMM2(current, dec("1.25"), length, allowed, insulation, circuits)
		if err != nil {
			refusedRapid(r, err)
			return
		}
		carries, err = CableA(fused, insulation, circuits)
		if err != nil {
			r.Error(err)
		}
		fuse, err := FuseA(current, dec("1.25"), carries)
		if err != nil || fused.LessThan(area) || fuse.GreaterThan(carries) || fuse.LessThan(current) {
			r.Errorf("%s mm2 with a fuse of %s A, %v", fused, fuse, err)
		}
		// A longer cable is never a thinner one, nor one for more current, and
		// nor one with more beside it.
		for _, more := range []struct {
			current, length decimal.Decimal
			circuits        int
		}{
			{current, length.Add(number(r, "longer", 0, 5)), circuits},
			{current.Add(number(r, "more", 0, 50)), length, circuits},
			{current, length, circuits + rapid.IntRange(0, 5).Draw(r, "beside")},
		} {
			if other, err := CableMM2(more.current, more.length, allowed, insulation, more.circuits); err == nil && other.LessThan(area) {
				r.Errorf("%v has %s mm2 and less has %s", more, other, area)
			}
		}
	})
}

func refusedRapid(r *rapid.T, err error) {
	if _, ok := errors.AsType[*LimitError](err); !ok {
		r.Errorf("%T %v", err, err)
	}
}

func BenchmarkFusedCableMM2(b *testing.B) {
	for b.Loop() {
		if _, err := FusedCableMM2(dec("5"), dec("1.25"), dec("4.2"), dec("0.36"), dec("70"), 3); err != nil {
			b.Fatal(err)
		}
	}
}
