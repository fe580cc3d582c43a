package engineering

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// Geometry: a square with corners of half its side is a circle (2 π r around, π
// r² in it); without corners it is a rectangle.
func TestOpening(t *testing.T) {
	got, err := OpeningMM(dec("100"), dec("100"), dec("50"))
	near(t, "circle", got, err, "314.159265", "0.000001")
	got, err = OpeningM2(dec("1000"), dec("1000"), dec("500"))
	near(t, "circle", got, err, "0.785398163", "0.000000001")
	got, err = OpeningMM(dec("1050"), dec("520"), dec("0"))
	equal(t, "rectangle", got, err, "3140")
	got, err = OpeningM2(dec("1050"), dec("520"), dec("0"))
	equal(t, "rectangle", got, err, "0.546")
	// A running track of two straights of 84.39 m and bends of 36.5 m is 398.116 m
	// along its inner edge (the standard oval of athletics, from memory).
	got, err = OpeningMM(dec("157.39"), dec("73"), dec("36.5"))
	near(t, "a running track", got, err, "398.116", "0.001")
	_, err = OpeningMM(dec("100"), dec("80"), dec("40.1"))
	refused(t, "too round", err, "The corner radius")
	_, err = OpeningM2(dec("100"), dec("80"), dec("-1"))
	refused(t, "a star", err, "The corner radius")
	_, err = OpeningMM(dec("0"), dec("80"), dec("0"))
	refused(t, "a slit", err, "The width of the opening")
	_, err = OpeningMM(one, dec("10001"), dec("0"))
	refused(t, "a gate", err, "The height of the opening")
}

// A table of sealant volumes: a joint of 10 by 5 mm takes 500 ml over 10 m, one
// of 15 by 5 75 ml a metre. Another guide: a triangular fillet of 10 by 5 mm has
// 25 ml a metre, half a round of 10 mm 39.3. A supplier's rule: a cartridge of 18
// cubic inches yields 18 feet over 12 times its area in square inches, 16 feet at
// 1/4 by 3/8 inch.
func TestBeads(t *testing.T) {
	got, err := BeadMl(dec("10000"), dec("50"))
	equal(t, "10 m of 10 by 5", got, err, "500")
	got, err = BeadMl(dec("1000"), dec("75"))
	equal(t, "1 m of 15 by 5", got, err, "75")
	fillet, err := TriangleMM2(dec("10"), dec("5"))
	equal(t, "fillet", fillet, err, "25")
	round, err := RoundMM2(dec("10"))
	near(t, "round", round.Div(two), err, "39.27", "0.03")
	got, err = BeadMl(dec("4876.8"), dec("6.35").Mul(dec("9.525")))
	near(t, "a cartridge over 16 feet", got, err, dec("16.387064").Mul(dec("18")).String(), "0.001")
	_, err = BeadMl(dec("100001"), one)
	refused(t, "a street", err, "The length of the bead")
	_, err = BeadMl(one, dec("2501"))
	refused(t, "a hose", err, "The cross-section of the bead")
	_, err = TriangleMM2(dec("0"), one)
	refused(t, "no base", err, "The base of the bead")
	_, err = TriangleMM2(one, dec("51"))
	refused(t, "a wall", err, "The height of the bead")
	_, err = RoundMM2(dec("51"))
	refused(t, "a pipe", err, "The diameter of the bead")
}

// A cartridge is opened whole; waste is a share of what is opened (common
// practice, no source). Guides divide the volume by what one holds: 30 times 310
// ml are 30 cartridges.
func TestCartridges(t *testing.T) {
	for _, c := range []struct{ needed, waste, each, want string }{
		{"0", "8", "400", "0"}, {"0.001", "0", "400", "1"}, {"400", "0", "400", "1"}, {"400.001", "0", "400", "2"},
		{"360", "10", "400", "1"}, {"360.01", "10", "400", "2"}, {"9300", "0", "310", "30"},
		{"0.3", "0", "1", "1"}, {"3", "0", "1", "3"},
	} {
		got, err := CartridgeCount(dec(c.needed), dec(c.waste), dec(c.each))
		equal(t, c.needed, got, err, c.want)
	}
	_, err := CartridgeCount(dec("-1"), one, one)
	refused(t, "glue back", err, "What is needed")
	_, err = CartridgeCount(one, dec("91"), one)
	refused(t, "all lost", err, "The waste")
	_, err = CartridgeCount(one, one, dec("0"))
	refused(t, "empty", err, "What one holds")
}

// Area over coverage, for each coat: common practice, no source.
func TestSpread(t *testing.T) {
	got, err := SpreadMl(dec("12"), dec("6"), dec("2"))
	equal(t, "both sides", got, err, "4000")
	got, err = SpreadMl(dec("30"), dec("12"), dec("1"))
	equal(t, "one coat", got, err, "2500")
	got, err = SpreadMl(dec("1"), dec("3"), dec("1"))
	equal(t, "rounded up", got, err, "334")
	_, err = SpreadMl(one, dec("0.09"), one)
	refused(t, "putty", err, "The coverage")
	_, err = SpreadMl(one, dec("50.1"), one)
	refused(t, "a scent", err, "The coverage")
	_, err = SpreadMl(one, one, dec("0"))
	refused(t, "dry", err, "The number of coats")
	_, err = SpreadMl(dec("1001"), one, one)
	refused(t, "a field", err, "The area")
}

// A room of 5 m takes two widths of a 4 m roll (a carpet guide); four strips of
// wallpaper of 530 mm cover 2,120 mm and not a millimetre more (geometry).
func TestStrips(t *testing.T) {
	for _, c := range []struct{ run, roll, overlap, want string }{
		{"5000", "4000", "0", "2"}, {"2120", "530", "0", "4"}, {"2121", "530", "0", "5"}, {"0", "530", "0", "0"},
		{"530", "530", "50", "1"}, {"531", "530", "50", "2"}, {"1010", "530", "50", "2"}, {"1011", "530", "50", "3"},
	} {
		got, err := StripCount(dec(c.run), dec(c.roll), dec(c.overlap))
		equal(t, c.run+" of "+c.roll, got, err, c.want)
	}
	got, err := RollM(dec("5000"), dec("1500"), dec("4000"), dec("0"), dec("0"))
	equal(t, "5 by 1.5 m", got, err, "3")
	got, err = RollM(dec("2540"), dec("1400"), dec("2000"), dec("0"), dec("100"))
	equal(t, "trimmed", got, err, "3")
	_, err = StripCount(dec("100001"), dec("500"), dec("0"))
	refused(t, "a street", err, "The run")
	_, err = StripCount(one, dec("49"), dec("0"))
	refused(t, "tape", err, "The width of the roll")
	_, err = StripCount(one, dec("100"), dec("50.1"))
	refused(t, "all overlap", err, "The overlap")
	_, err = RollM(one, dec("20001"), dec("500"), dec("0"), dec("0"))
	refused(t, "a hall", err, "The length of a strip")
	_, err = RollM(one, one, dec("500"), dec("0"), dec("1001"))
	refused(t, "all trimmed", err, "What is trimmed off")
}

// What is opened is enough with its waste, and one less would not be; strips
// cover the run, and one less would not.
func TestJustEnough(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		needed, waste, each := number(r, "needed", 0, 5000), number(r, "waste", 0, 90), number(r, "each", 1, 900)
		n := must(r)(CartridgeCount(needed, waste, each))
		usable := func(n decimal.Decimal) decimal.Decimal { return n.Mul(each).Mul(hundred.Sub(waste)).Shift(-2) }
		if usable(n).LessThan(needed) || n.Sign() > 0 && usable(n.Sub(one)).GreaterThanOrEqual(needed) {
			r.Fatalf("%v of %v ml for %v ml", n, each, needed)
		}
		run, roll, overlap := number(r, "run", 0, 9000), number(r, "roll", 50, 4000), number(r, "overlap", 0, 25)
		strips := must(r)(StripCount(run, roll, overlap))
		covers := func(n decimal.Decimal) decimal.Decimal { return n.Mul(roll).Sub(n.Sub(one).Mul(overlap)) }
		if strips.Sign() > 0 && covers(strips).LessThan(run) || strips.GreaterThan(one) && covers(strips.Sub(one)).GreaterThanOrEqual(run) {
			r.Fatalf("%v strips of %v for %v", strips, roll, run)
		}
		if (run.Sign() == 0) != (strips.Sign() == 0) {
			r.Fatalf("%v strips for %v", strips, run)
		}
	})
}
