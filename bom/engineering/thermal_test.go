package engineering

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// ISO 6946 as worked in teaching: plaster 13 mm of 0.21,
// block 100 mm of 0.51, wool 100 mm of 0.035, brick 102 mm of 0.77: R 3.42 with
// the surfaces, U 0.29. And a
// guide to heat flows: layers of 1.39, U 0.64 with its own surfaces of 0.18; here
// they are 0.17.
func TestTransmittance(t *testing.T) {
	layers := decimal.Zero
	for _, c := range [][2]string{{"13", "0.21"}, {"100", "0.51"}, {"100", "0.035"}, {"102", "0.77"}} {
		r, err := LayerM2KPerW(dec(c[0]), dec(c[1]))
		if err != nil {
			t.Fatal(err)
		}
		layers = layers.Add(r)
	}
	near(t, "R", layers.Add(dec("0.17")), nil, "3.42", "0.005")
	got, err := WallWPerM2K(layers)
	near(t, "U of a cavity wall", got, err, "0.29", "0.005")
	got, err = WallWPerM2K(dec("1.39"))
	near(t, "U of the guide's slab", got, err, "0.64", "0.01")
	got, err = RoofWPerM2K(dec("0.86")) // 0.10 + 0.86 + 0.04 is 1
	equal(t, "roof", got, err, "1")
	got, err = FloorWPerM2K(dec("0.29")) // 0.17 + 0.29 + 0.04 is a half
	equal(t, "floor", got, err, "2")
	// A bare sheet: 1/0.17 is 5.88, which tables of single skins round to 5.9.
	got, err = WallWPerM2K(decimal.Zero)
	near(t, "bare", got, err, "5.88", "0.005")
	// The wall of a van: steel 0.8 mm, wool 25 mm, ply 3.6 mm of 0.13: U 1.10
	// (worked in the check values; steel and ply from memory of ISO 10456).
	van := decimal.Zero
	for _, c := range [][2]string{{"0.8", "50"}, {"25", "0.035"}, {"3.6", "0.13"}} {
		r, err := LayerM2KPerW(dec(c[0]), dec(c[1]))
		if err != nil {
			t.Fatal(err)
		}
		van = van.Add(r)
	}
	got, err = WallWPerM2K(van)
	near(t, "van wall", got, err, "1.10", "0.005")
	_, err = WallWPerM2K(dec("100.1"))
	refused(t, "a mountain", err, "The resistance of the layers")
	_, err = LayerM2KPerW(dec("1001"), one)
	refused(t, "a keep", err, "The thickness")
	_, err = LayerM2KPerW(one, dec("0"))
	refused(t, "nothing conducts nothing", err, "The conductivity")
}

// EN 13164, boards of 0.035: 25 mm 0.70, 30 mm 0.85, 40 mm 1.10, 50 mm 1.40.
func TestDeclared(t *testing.T) {
	for thickness, want := range map[string]string{"25": "0.70", "30": "0.85", "40": "1.10", "50": "1.40", "35": "1", "0": "0"} {
		got, err := DeclaredM2KPerW(dec(thickness), dec("0.035"))
		equal(t, thickness+" mm", got, err, want)
	}
	_, err := DeclaredM2KPerW(one, dec("501"))
	refused(t, "diamond", err, "The conductivity")
}

// More insulation never a higher U-value, in a wall, a roof or a floor.
func TestMoreInsulationNeverAHigherU(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		thickness, more, conductivity := number(r, "thickness", 0, 300), number(r, "more", 0, 300), decimal.New(rapid.Int64Range(10, 500).Draw(r, "conductivity"), -3)
		is := must(r)
		for _, u := range []func(decimal.Decimal) (decimal.Decimal, error){WallWPerM2K, RoofWPerM2K, FloorWPerM2K} {
			before := is(u(is(LayerM2KPerW(thickness, conductivity))))
			after := is(u(is(LayerM2KPerW(thickness.Add(more), conductivity))))
			if after.GreaterThan(before) {
				r.Fatalf("%v becomes %v", before, after)
			}
		}
	})
}

// U times area times difference (ISO 6946): 5.88 W/(m2 K) by 2 m2 by 20 K. The
// 0.34 Wh/(m3 K) of EN 12831 is 1.2 kg/m3 by 1.005 kJ/(kg K) by 1/3.6 = 0.335,
// rounded up.
func TestHeatLost(t *testing.T) {
	got, err := HeatLossW(dec("5.88"), dec("2"), dec("20"))
	equal(t, "a bare sheet", got, err, "235.2")
	got, err = AirLossW(dec("1"), dec("1"), dec("1"))
	near(t, "a cubic metre", got, err, dec("1.2").Mul(dec("1.005")).Div(dec("3.6")).String(), "0.006")
	_, err = HeatLossW(dec("20.1"), one, one)
	refused(t, "a wind", err, "The transmittance")
	_, err = HeatLossW(one, one, dec("101"))
	refused(t, "an oven", err, "The difference of temperature")
	_, err = HeatLossW(one, dec("-1"), one)
	refused(t, "no wall", err, "The area")
	_, err = AirLossW(dec("101"), one, one)
	refused(t, "a hall", err, "The volume")
	_, err = AirLossW(one, dec("31"), one)
	refused(t, "a gale", err, "The changes of air")
}

// Saturation in Pa: 103.5 at −20 °C, 4,492 at 31 °C (a vapour pressure table of a
// moisture research handbook), 611 at 0 and 2,340 at 20 °C (a building-biology
// page).
func TestSaturation(t *testing.T) {
	for c, want := range map[string]string{"-20": "103.5", "31": "4492", "0": "611", "20": "2340"} {
		got := saturation(dec(c))
		near(t, c+" °C", got, nil, want, dec(want).Mul(dec("0.008")).String())
	}
}

// Dew points in whole degrees, from a maker's climate table: air at 50, 40, 30,
// 20, 10 °C by relative humidity. And by the constants of another published form
// (6.116441, 7.591386, 240.7263 for −20 to 50 °C): 20 °C and 50 % is 9.27.
func TestDewPoint(t *testing.T) {
	for _, c := range []struct{ air, humidity, want string }{
		{"50", "70", "43"}, {"40", "50", "27"}, {"30", "30", "10"}, {"30", "80", "26"},
		{"25", "60", "16"}, {"20", "40", "5"}, {"20", "60", "12"}, {"20", "100", "20"},
		{"10", "50", "0"}, {"10", "70", "4"}, {"0", "60", "-6"}, {"-10", "50", "-17"},
	} {
		got, err := DewPointC(dec(c.air), dec(c.humidity))
		near(t, c.air+" °C, "+c.humidity+" %", got, err, c.want, "1.1")
	}
	got, err := DewPointC(dec("20"), dec("50"))
	near(t, "20 °C, 50 %", got, err, "9.27", "0.02")
	_, err = DewPointC(dec("20"), dec("0.9"))
	refused(t, "bone dry", err, "The relative humidity")
	_, err = DewPointC(dec("20"), dec("101"))
	refused(t, "fog", err, "The relative humidity")
	_, err = DewPointC(dec("-21"), dec("50"))
	refused(t, "the Arctic", err, "The temperature of the air")
}

// The inner surface of single glass, U 5.88, at 20 and 0 °C: 20 − 0.13 · 5.88 · 20
// = 4.7 °C. ISO 13788: the factor of a wall with U 1.10 behind furniture, Rsi
// 0.25, is 1 − 0.25/(1/1.10 + 0.12).
func TestInterface(t *testing.T) {
	got, err := InterfaceC(dec("20"), dec("0"), dec("0.13"), dec("0.04"))
	near(t, "glass", got, err, "4.71", "0.01")
	got, err = InterfaceC(dec("1"), dec("0"), dec("0.25"), dec("0.7791"))
	near(t, "behind furniture", got, err, "0.757", "0.001")
	_, err = InterfaceC(dec("20"), dec("0"), dec("0"), dec("0"))
	refused(t, "no wall", err, "The whole resistance")
	_, err = InterfaceC(dec("81"), dec("0"), one, one)
	refused(t, "an oven", err, "The temperature inside")
	_, err = InterfaceC(dec("20"), dec("-61"), one, one)
	refused(t, "the Antarctic", err, "The temperature outside")
	_, err = InterfaceC(dec("20"), dec("0"), dec("-1"), one)
	refused(t, "heated", err, "The resistance within")
	_, err = InterfaceC(dec("20"), dec("0"), one, dec("101"))
	refused(t, "a mountain", err, "The resistance beyond")
}

// Glaser: on the inner side of all layers the dew point is that of the room, on
// the outer that of the air outside, and pressure falls evenly between: halfway
// between 2,337 · 60 % and 611 · 80 % Pa it is 945 Pa, which tables give 6.2 °C
// (934.6 Pa at 6 °C, 1,001.3 at 7 °C: a vapour pressure table, from memory).
func TestInterfaceDew(t *testing.T) {
	dew := func(within, beyond string) (decimal.Decimal, error) {
		return InterfaceDewC(dec("20"), dec("60"), dec("0"), dec("80"), dec(within), dec(beyond))
	}
	room, _ := DewPointC(dec("20"), dec("60"))
	air, _ := DewPointC(dec("0"), dec("80"))
	got, err := dew("0", "5")
	equal(t, "in the room", got, err, room.String())
	got, err = dew("5", "0")
	equal(t, "outside", got, err, air.String())
	got, err = dew("3", "3")
	near(t, "halfway", got, err, "6.17", "0.05")
	got, err = dew("1", "1500")
	near(t, "at the skin of a van", got, err, room.String(), "0.02")
	_, err = dew("0", "0")
	refused(t, "nothing", err, "What holds vapour back altogether")
	_, err = dew("10001", "0")
	refused(t, "too tight", err, "What holds vapour back within")
	_, err = dew("1", "-1")
	refused(t, "less than open", err, "What holds vapour back beyond")
	_, err = InterfaceDewC(dec("20"), dec("60"), dec("0"), dec("0.5"), one, one)
	refused(t, "dry outside", err, "The humidity outside")
	_, err = InterfaceDewC(dec("20"), dec("0.5"), dec("0"), dec("80"), one, one)
	refused(t, "dry inside", err, "The humidity inside")
	_, err = InterfaceDewC(dec("51"), dec("60"), dec("0"), dec("80"), one, one)
	refused(t, "hot inside", err, "The temperature inside")
	_, err = InterfaceDewC(dec("20"), dec("60"), dec("-21"), dec("80"), one, one)
	refused(t, "cold outside", err, "The temperature outside")
}

// A dew point is never above the air, more moisture never lowers it, and what
// is tighter within never makes the skin wetter.
func TestDewPointsMove(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		air, humidity, moister := number(r, "air", -20, 50), number(r, "humidity", 1, 50), number(r, "moister", 0, 50)
		is := must(r)
		dew := is(DewPointC(air, humidity))
		if dew.GreaterThan(air) {
			r.Fatalf("air of %v leaves water at %v", air, dew)
		}
		if more := is(DewPointC(air, humidity.Add(moister))); more.LessThan(dew) {
			r.Fatalf("moister air leaves water at %v, not %v", more, dew)
		}
		within, tighter, beyond := number(r, "within", 0, 100), number(r, "tighter", 0, 100), number(r, "beyond", 1, 100)
		loose := is(InterfaceDewC(dec("20"), dec("60"), dec("0"), dec("80"), within, beyond))
		if tight := is(InterfaceDewC(dec("20"), dec("60"), dec("0"), dec("80"), within.Add(tighter), beyond)); tight.GreaterThan(loose) {
			r.Fatalf("tighter within makes it %v, not %v", tight, loose)
		}
	})
}

func BenchmarkDewPointC(b *testing.B) {
	air, humidity := dec("20"), dec("50")
	for b.Loop() {
		if _, err := DewPointC(air, humidity); err != nil {
			b.Fatal(err)
		}
	}
}
