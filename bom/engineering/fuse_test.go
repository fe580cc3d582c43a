package engineering

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// Worked by hand from the rule of IEC 60364-4-43, 433.1: the rating lies between
// the current of the circuit and what the cable carries. The ratings are those of
// ISO 8820 (a current of 17 A with a quarter more is 21.25 A).
func TestFuse(t *testing.T) {
	for _, c := range []struct{ current, factor, cable, want string }{
		{"17", "1.25", "25", "25"}, {"5", "1.25", "14", "7.5"}, {"0", "1", "1", "1"}, {"40", "1", "45", "40"}, {"41", "1", "54", "50"}, {"400", "1.25", "520", "500"},
	} {
		got, err := FuseA(dec(c.current), dec(c.factor), dec(c.cable))
		near(t, c.current+" A", got, err, c.want, "0")
	}
	_, err := FuseA(dec("17"), dec("1.25"), dec("24.9"))
	refused(t, "the cable is too thin", err, "The least rating for the load")
	if want := "The least rating for the load is 25 A where at most 24.9 A, what the cable carries, is wanted."; err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	_, err = FuseA(dec("401"), dec("1.25"), dec("1000"))
	refused(t, "no such fuse", err, "The load with its factor")
	_, err = FuseA(dec("10"), dec("0.9"), dec("1000"))
	refused(t, "a factor below one", err, "The load factor")
}

func TestFuseProtects(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		current, cable := number(r, "current", 0, 120), number(r, "cable", 0, 150)
		fuse, err := FuseA(current, dec("1.25"), cable)
		if err != nil {
			refusedRapid(r, err)
			return
		}
		if fuse.GreaterThan(cable) || fuse.LessThan(current.Mul(dec("1.25"))) {
			r.Errorf("%s A for %s A on a cable of %s A", fuse, current, cable)
		}
	})
}

// What mains circuits of a leisure vehicle have as a rule: 6 A on 1.5 mm2 for
// lights, 10 A or 16 A on 1.5 or 2.5 mm2 for sockets (IET On-Site Guide; from
// memory). 1.5 mm2 carries 15 A and 1 mm2 10 A by a table of flexes of a general
// electrical guide, 1.5 mm2 16 A and 2.5 mm2 25 A by BS 7671, table 4F3A.
func TestMains(t *testing.T) {
	for area, want := range map[string]string{"1.5": "16", "2.5": "25", "4": "32", "3": "25"} {
		got, err := MainsCableA(dec(area), 1)
		near(t, area+" mm2", got, err, want, "0")
	}
	got, err := MainsCableA(dec("1.5"), 2)
	near(t, "two together", got, err, "12.8", "0")
	for _, c := range []struct{ current, cable, want string }{{"3", "16", "6"}, {"8.7", "16", "10"}, {"13", "16", "13"}, {"14", "16", "16"}, {"0", "16", "6"}, {"16", "16", "16"}} {
		got, err := BreakerA(dec(c.current), dec(c.cable))
		near(t, c.current+" A", got, err, c.want, "0")
	}
	_, err = BreakerA(dec("14"), dec("15"))
	refused(t, "the cable is too thin", err, "The least rating for the load")
	_, err = BreakerA(dec("64"), dec("100"))
	refused(t, "too much", err, "The current")
	for _, c := range []struct {
		current, length, want string
		circuits              int
	}{{"10", "6", "1.5", 1}, {"16", "6", "1.5", 1}, {"16", "6", "2.5", 2}, {"16", "15", "2.5", 1}, {"16", "25", "4", 1}, {"0", "0", "1.5", 1}} {
		got, err := MainsCableMM2(dec(c.current), dec(c.length), dec("6.9"), c.circuits)
		near(t, c.current+" A along "+c.length+" m", got, err, c.want, "0")
	}
	_, err = MainsCableMM2(dec("26"), dec("6"), dec("6.9"), 2)
	refused(t, "too much for 4 mm2", err, "The current")
	_, err = MainsCableA(dec("1"), 1)
	refused(t, "below 1.5 mm2", err, "The area of the mains cable")
}

// BS 7671, table 41.5: 1,667 ohm for 30 mA, 500 for 100, 167 for 300, 100 for 500.
func TestEarthLimit(t *testing.T) {
	for trip, want := range map[string]string{"30": "1667", "100": "500", "300": "167", "500": "100"} {
		got, err := EarthLimitOhm(dec(trip))
		near(t, trip+" mA", got, err, want, "1")
	}
	_, err := EarthLimitOhm(decimal.Zero)
	refused(t, "no device", err, "The residual current")
}

// ISO 10133, 7.3: at least every 450 mm; 7.4: battery leads every 300 mm.
func TestSupports(t *testing.T) {
	for _, c := range []struct{ length, spacing, want string }{{"4.5", "450", "10"}, {"4.51", "450", "11"}, {"0.6", "300", "2"}, {"0", "450", "0"}, {"0.1", "300", "1"}} {
		got, err := SupportCount(dec(c.length), dec(c.spacing))
		near(t, c.length+" m", got, err, c.want, "0")
	}
	_, err := SupportCount(one, dec("451"))
	refused(t, "too far apart", err, "The distance between supports")
}

func TestCircuits(t *testing.T) {
	for _, c := range []struct{ total, most, want string }{{"24", "10", "3"}, {"20", "10", "2"}, {"0", "10", "0"}} {
		got, err := CircuitCount(dec(c.total), dec(c.most))
		near(t, c.total+" A", got, err, c.want, "0")
	}
	_, err := CircuitCount(one, decimal.Zero)
	refused(t, "nothing each", err, "The most one circuit carries")
}
