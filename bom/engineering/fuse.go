package engineering

import "github.com/shopspring/decimal"

// leastFuse is the next fuse not below the load.
func leastFuse(currentA, loadFactor decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(checkCurrent(currentA),
		quantity{"The load factor", loadFactor, ""}.within(1, 2, "Give 1.25 for a load that runs for hours."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	load := currentA.Mul(loadFactor)
	for _, r := range fuseRatings {
		if !r.LessThan(load) {
			return r, nil
		}
	}
	return decimal.Decimal{}, quantity{"The load with its factor", load, "A"}.limit("at most "+fuseRatings[len(fuseRatings)-1].String()+" A", "Split the circuit.")
}

// FuseA is the fuse of a circuit: the next standard rating not below its current
// times the load factor, in amperes. It protects the cable, so it is never above
// what the cable carries. The current is in amperes (0 to 1,000), the load factor
// 1 to 2 (1.25 is usual for what runs on), what the cable carries in amperes, as
// CableA gives it. Where no rating lies between the two it is a *LimitError.
// Ratings: ISO 8820-3, -4 and -5, from memory. Rule: IEC 60364-4-43, 433.1 (the
// rating between the current of the circuit and what the cable carries).
func FuseA(currentA, loadFactor, cableA decimal.Decimal) (decimal.Decimal, error) {
	fuse, err := leastFuse(currentA, loadFactor)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return protects(fuse, cableA)
}

func protects(rating, cableA decimal.Decimal) (decimal.Decimal, error) {
	if rating.GreaterThan(cableA) {
		return decimal.Decimal{}, quantity{"The least rating for the load", rating, "A"}.limit("at most "+cableA.String()+" A, what the cable carries,",
			"Take a thicker cable, or put less on the circuit.")
	}
	return rating, nil
}

// BreakerA is the mains breaker of a circuit: the next standard rating not below
// its current and not above what its cable carries, all in amperes. The current
// is 0 to 63 A; where no rating fits it is a *LimitError. Ratings: IEC 60898-1,
// from memory. Rule: IEC 60364-4-43, 433.1.
func BreakerA(currentA, cableA decimal.Decimal) (decimal.Decimal, error) {
	if err := (quantity{"The current", currentA, "A"}).within(0, 63, "Split the circuit."); err != nil {
		return decimal.Decimal{}, err
	}
	for _, r := range breakerRatings {
		if !r.LessThan(currentA) {
			return protects(r, cableA)
		}
	}
	return decimal.Decimal{}, nil // 63 is the last
}

// mainsConductors are the flexible cables of fixed mains wiring in a leisure
// vehicle and what they carry alone, in amperes: at least 1.5 mm2 (BS 7671,
// 721.524.1), single-phase (BS 7671, table 4F3A); both from memory.
var mainsConductors = []struct {
	areaMM2 decimal.Decimal
	carries int64
}{{decimal.New(15, -1), 16}, {decimal.New(25, -1), 25}, {decimal.New(4, 0), 32}}

// mainsConductorC is what the copper of such a cable gets to (table 4F3A: 60 °C).
var mainsConductorC = decimal.New(60, 0)

// MainsCableA is what a mains cable of 1.5, 2.5 or 4 mm2 carries with a number of
// circuits bunched together (1 to 100), in amperes; an area between two sizes
// carries what the smaller does. Otherwise it is a *LimitError. Source: BS 7671,
// table 4F3A, from memory; grouping as GroupingPercent.
func MainsCableA(areaMM2 decimal.Decimal, circuits int) (decimal.Decimal, error) {
	percent, err := groupingPercent(circuits)
	last := len(mainsConductors) - 1
	if areaMM2.LessThan(mainsConductors[0].areaMM2) || areaMM2.GreaterThan(mainsConductors[last].areaMM2) {
		err = quantity{"The area of the mains cable", areaMM2, "mm2"}.limit("1.5 to 4 mm2", "Give the size of one conductor, as in 2.5.")
	}
	if err != nil {
		return decimal.Decimal{}, err
	}
	for mainsConductors[last].areaMM2.GreaterThan(areaMM2) {
		last--
	}
	return decimal.New(mainsConductors[last].carries*percent, -2), nil
}

// MainsCableMM2 is the least size of mains cable, from 1.5 mm2, that carries a
// current in amperes and loses no more than the voltage allowed along a length in
// metres, there and back, with a number of circuits bunched together. Where 4 mm2
// is too little it is a *LimitError. Ranges as DropV. Source: BS 7671, 721.524.1
// and table 4F3A, from memory.
func MainsCableMM2(currentA, lengthM, allowedV decimal.Decimal, circuits int) (decimal.Decimal, error) {
	percent, err := groupingPercent(circuits)
	if err := inOrder(checkRun(currentA, lengthM, mainsConductorC), checkAllowed(allowedV), err); err != nil {
		return decimal.Decimal{}, err
	}
	lost := lostVMM2(currentA, lengthM, mainsConductorC)
	allowed := conductorMetres.Mul(allowedV)
	for _, c := range mainsConductors {
		if !currentA.Mul(hundred).GreaterThan(decimal.New(c.carries*percent, 0)) && !lost.GreaterThan(allowed.Mul(c.areaMM2)) {
			return c.areaMM2, nil
		}
	}
	return decimal.Decimal{}, quantity{"The current", currentA, "A"}.limit("what a mains cable of 4 mm2 can take along that run", "Split the circuit or shorten the run.")
}

// EarthLimitOhm is the most the earth of an installation behind a
// residual-current device may have, in ohm, so that no more than 50 V stand on
// what can be touched: 50 V over the tripping current in milliamperes (above 0,
// to 500). Otherwise it is a *LimitError. Rounded down to whole ohms. Source: IEC
// 60364-4-41, 411.5.3 (earth resistance times rated residual current at most 50 V).
func EarthLimitOhm(tripMA decimal.Decimal) (decimal.Decimal, error) {
	if err := (quantity{"The residual current", tripMA, "mA"}).above(500, "Give what the device trips at, as in 30."); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.New(50_000, 0).DivRound(tripMA, 6).RoundDown(0), nil
}

// SupportCount is how many clips hold a run of cable: one for each spacing or
// part of it. The length is in metres (0 to 100), the spacing in millimetres
// (above 0, to 450; 300 for battery leads). Otherwise it is a *LimitError.
// Source: ISO 10133, 7.3 and 7.4.
func SupportCount(lengthM, spacingMM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The length of the run", lengthM, "m"}.within(0, mostLengthM, "Give the length one way in metres."),
		quantity{"The distance between supports", spacingMM, "mm"}.above(450, "Give 450, or 300 for a battery lead."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return lengthM.Mul(decimal.New(1000, 0)).DivRound(spacingMM, 12).Ceil(), nil
}

// CircuitCount is among how many circuits a load is shared so that none carries
// more than its part: the total current over the most of one, both in amperes
// (0 to 1,000; above 0), rounded up. Otherwise it is a *LimitError. Common
// practice, no source.
func CircuitCount(totalA, mostA decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(checkCurrent(totalA),
		quantity{"The most one circuit carries", mostA, "A"}.above(mostCurrentA, "Give it in amperes, as in 10."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return totalA.DivRound(mostA, 12).Ceil(), nil
}
