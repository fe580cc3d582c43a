package engineering

import "github.com/shopspring/decimal"

// Limits of what this file is asked: what can be found in a van.
const (
	mostPlanM2    = 50
	mostInputKW   = 30
	mostPeople    = 20
	mostLockerM2  = 5
	mostCylinders = 10
	mostGasKg     = 500
)

// fixedVents are the free areas of ventilation that cannot be closed in a living
// space where something burns that takes its air from it, by plan area. EN 721;
// the first two rows as an inspectorate's leaflet on motor caravans gives them,
// those above 10 m2 from memory.
var fixedVents = []struct{ toM2, highMM2, lowMM2 decimal.Decimal }{
	{decimal.New(5, 0), decimal.New(7_500, 0), decimal.New(1_000, 0)},
	{decimal.New(10, 0), decimal.New(10_000, 0), decimal.New(1_500, 0)},
	{decimal.New(15, 0), decimal.New(12_500, 0), decimal.New(2_000, 0)},
	{decimal.New(20, 0), decimal.New(15_000, 0), decimal.New(3_000, 0)},
	{decimal.New(mostPlanM2, 0), decimal.New(20_000, 0), decimal.New(5_000, 0)},
}

// Where nothing burns, or only what is room-sealed, up to 10 m2 (EN 721, the
// same leaflet).
const (
	sealedPlanM2  = 10
	sealedHighMM2 = 3_000 // in a wall
	sealedRoofMM2 = 1_500 // in the roof
	sealedLowMM2  = 500
)

// What a kilowatt or a person asks of the vents, in mm2: Boat Safety Scheme
// part 8, after PD 5482-3.
var (
	ventPerUnfluedKW = decimal.New(2_200, 0)
	ventPerPerson    = decimal.New(650, 0)
	ventPerFluedKW   = decimal.New(440, 0)
)

func askedPlan(areaM2, unfluedKW decimal.Decimal) error {
	plan := quantity{"The plan area", areaM2, "m2"}
	if unfluedKW.Sign() <= 0 {
		return inOrder(askedUnflued(unfluedKW), plan.above(sealedPlanM2, "For a larger living space in which nothing burns openly look the figure up in EN 721."))
	}
	return inOrder(askedUnflued(unfluedKW), plan.above(mostPlanM2, "Give the floor of the living space in square metres."))
}

func askedUnflued(kW decimal.Decimal) error {
	return quantity{"The heat input without a flue", kW, "kW"}.within(0, mostInputKW, "Give the heat input on the data plates of cookers and the like, in kilowatts.")
}

func askedFlued(kW decimal.Decimal) error {
	return quantity{"The heat input with a flue", kW, "kW"}.within(0, mostInputKW, "Give the heat input on the data plates, in kilowatts.")
}

func askedPeople(count decimal.Decimal) error {
	return quantity{"The number of people", count, ""}.within(0, mostPeople, "Count the people the van is for.")
}

// HighFixedMM2 is the free area that high-level ventilation must have whatever
// burns, in mm2, for a living space of areaM2 square metres (above 0, to 50)
// with unfluedKW kilowatts (0 to 30) of appliances that take their air from it;
// with 0 nothing burns or only what is room-sealed, which is known to 10 m2 and
// is for openings in a wall (RoofFixedMM2 in the roof). Outside of these it is a
// *LimitError. Such openings cannot be closed and lie at least 300 mm above the
// top mattress. Source: EN 721, as an inspectorate's leaflet gives it; above
// 10 m2 from memory.
func HighFixedMM2(areaM2, unfluedKW decimal.Decimal) (decimal.Decimal, error) {
	return fixedHigh(areaM2, unfluedKW, sealedHighMM2)
}

// RoofFixedMM2 is HighFixedMM2 for openings in the roof, where air rises best:
// with nothing burning openly half will do. Range, errors and source as there.
func RoofFixedMM2(areaM2, unfluedKW decimal.Decimal) (decimal.Decimal, error) {
	return fixedHigh(areaM2, unfluedKW, sealedRoofMM2)
}

func fixedHigh(areaM2, unfluedKW decimal.Decimal, sealed int64) (decimal.Decimal, error) {
	if err := askedPlan(areaM2, unfluedKW); err != nil {
		return decimal.Decimal{}, err
	}
	if unfluedKW.Sign() == 0 {
		return decimal.New(sealed, 0), nil
	}
	return fixedVents[ventRow(areaM2)].highMM2, nil
}

// LowFixedMM2 is the free area that low-level ventilation must have whatever
// burns, in mm2; openings that cannot be closed, at most 100 mm above the floor.
// Range, errors and source as HighFixedMM2.
func LowFixedMM2(areaM2, unfluedKW decimal.Decimal) (decimal.Decimal, error) {
	if err := askedPlan(areaM2, unfluedKW); err != nil {
		return decimal.Decimal{}, err
	}
	if unfluedKW.Sign() == 0 {
		return decimal.New(sealedLowMM2, 0), nil
	}
	return fixedVents[ventRow(areaM2)].lowMM2, nil
}

// ventRow finds the row of a plan area; the last takes all that are allowed.
func ventRow(areaM2 decimal.Decimal) int {
	for i := range fixedVents {
		if areaM2.LessThanOrEqual(fixedVents[i].toM2) {
			return i
		}
	}
	return len(fixedVents) - 1
}

// InputVentMM2 is the free area of ventilation that heat input and people ask
// for, high and low together, in mm2; half of it is wanted high and half low.
//
//	area = 2200 · unflued + 650 · people + 440 · flued
//
// Unflued and flued are kilowatts of heat input (0 to 30 each); what is
// room-sealed takes no air from the living space and need not be counted, and
// counting it among the flued is on the safe side. People is a whole number (0
// to 20). Where nothing burns it is 0. Outside of these it is a *LimitError.
// Source: Boat Safety Scheme part 8, after PD 5482-3.
func InputVentMM2(unfluedKW, peopleCount, fluedKW decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedUnflued(unfluedKW), askedPeople(peopleCount), askedFlued(fluedKW)); err != nil {
		return decimal.Decimal{}, err
	}
	if unfluedKW.Sign() == 0 && fluedKW.Sign() == 0 {
		return decimal.Decimal{}, nil
	}
	return ventPerUnfluedKW.Mul(unfluedKW).Add(ventPerPerson.Mul(peopleCount)).Add(ventPerFluedKW.Mul(fluedKW)), nil
}

// HighVentMM2 is the free area that high-level ventilation needs, in mm2: the
// larger of HighFixedMM2 and half of InputVentMM2, with their ranges, errors and
// sources. That the larger counts is on the safe side of either.
func HighVentMM2(areaM2, unfluedKW, peopleCount, fluedKW decimal.Decimal) (decimal.Decimal, error) {
	fixed, err := HighFixedMM2(areaM2, unfluedKW)
	return orHalfOfInput(fixed, err, unfluedKW, peopleCount, fluedKW)
}

// LowVentMM2 is the free area that low-level ventilation needs, in mm2: the
// larger of LowFixedMM2 and half of InputVentMM2, with their ranges, errors and
// sources.
func LowVentMM2(areaM2, unfluedKW, peopleCount, fluedKW decimal.Decimal) (decimal.Decimal, error) {
	fixed, err := LowFixedMM2(areaM2, unfluedKW)
	return orHalfOfInput(fixed, err, unfluedKW, peopleCount, fluedKW)
}

func orHalfOfInput(fixed decimal.Decimal, err error, unfluedKW, peopleCount, fluedKW decimal.Decimal) (decimal.Decimal, error) {
	if err != nil {
		return decimal.Decimal{}, err
	}
	input, err := InputVentMM2(unfluedKW, peopleCount, fluedKW)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.Max(fixed, input.Div(two)), nil
}

func askedLocker(floorM2 decimal.Decimal) error {
	return quantity{"The floor of the locker", floorM2, "m2"}.above(mostLockerM2, "Give it in square metres, as in mm2_to_m2(600 * 400).")
}

// DropVentMM2 is the free area of the opening at the lowest point of a gas
// locker, which cannot be closed, in mm2, for a floor of floorM2 square metres
// (above 0, to 5; outside of that a *LimitError): 2 % of the floor, at least
// 10,000. Source: the least of 10,000 from DVGW G 607 guidance, the 2 % of EN
// 1949 from memory.
func DropVentMM2(floorM2 decimal.Decimal) (decimal.Decimal, error) {
	if err := askedLocker(floorM2); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.Max(decimal.New(10_000, 0), decimal.New(20_000, 0).Mul(floorM2)), nil
}

// SplitDropVentMM2 is the free area of each of two openings of a gas locker, one
// at its lowest point and one high, in place of the one of DropVentMM2, in mm2:
// 1 % of the floor, at least 5,000. Range and errors as DropVentMM2. Source: EN
// 1949, from memory.
func SplitDropVentMM2(floorM2 decimal.Decimal) (decimal.Decimal, error) {
	if err := askedLocker(floorM2); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.Max(decimal.New(5_000, 0), decimal.New(10_000, 0).Mul(floorM2)), nil
}

// LockerWidthMM is the least inside width of a locker in which cylinders stand
// side by side, in mm, for cylinders of cylinderMM millimetres across (100 to
// 600), count of them (1 to 10) and room of gapMM millimetres (0 to 200) beside
// each and at either end for straps and hands. Outside of these it is a
// *LimitError. Source: common practice, no source.
func LockerWidthMM(cylinderMM, cylinderCount, gapMM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The cylinder's diameter", cylinderMM, "mm"}.within(100, 600, "Give the diameter of the cylinder in millimetres."),
		quantity{"The number of cylinders", cylinderCount, ""}.within(1, mostCylinders, "A locker holds at least one."),
		quantity{"The gap beside a cylinder", gapMM, "mm"}.within(0, 200, "Give it in millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return cylinderMM.Mul(cylinderCount).Add(gapMM.Mul(cylinderCount.Add(one))), nil
}

// LockerFloorM2 is the least floor of such a locker, in m2: LockerWidthMM by one
// cylinder and a gap before and behind it. Range, errors and source as there.
func LockerFloorM2(cylinderMM, cylinderCount, gapMM decimal.Decimal) (decimal.Decimal, error) {
	width, err := LockerWidthMM(cylinderMM, cylinderCount, gapMM)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return width.Mul(cylinderMM.Add(two.Mul(gapMM))).Shift(-6), nil
}

// What a tightness test is worked at: EN 1949:2011+A1:2013, 4.3.2.
const (
	tightnessMbar    = 150
	tightnessMinutes = 5
	tightnessFall    = 10
)

// TightnessFallMbar is by how much the pressure may fall in a tightness test of
// the gas system with air, in mbar, appliances' taps closed and shut-off valves
// open: 10. A test below 150 mbar, after less than 5 minutes of settling or over
// less than 5 minutes shows nothing and is a *LimitError (up to 200 mbar and 60
// minutes each are taken). Source: EN 1949:2011+A1:2013, 4.3.2 (summary; the
// clause and the engineer who signs decide).
func TightnessFallMbar(pressureMbar, settleMinutes, testMinutes decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The test pressure", pressureMbar, "mbar"}.within(tightnessMbar, 200, "Pressurise to 150 mbar and test again."),
		quantity{"The time to settle", settleMinutes, "minutes"}.within(tightnessMinutes, 60, "Let the temperature settle for 5 minutes and test again."),
		quantity{"The time of the test", testMinutes, "minutes"}.within(tightnessMinutes, 60, "Watch the pressure for 5 minutes and test again."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.New(tightnessFall, 0), nil
}

func askedAge(name string, years decimal.Decimal) error {
	return quantity{name, years, "years"}.within(0, 50, "Read the date of manufacture and give the age on the day in question.")
}

// HoseLeftYears is for how long a gas hose that is ageYears old (0 to 50, since
// it was made; outside of that a *LimitError) may stay, in years: 5 in all;
// below zero it is overdue. Source: what gas suppliers and engineers in the United
// Kingdom go by.
func HoseLeftYears(ageYears decimal.Decimal) (decimal.Decimal, error) {
	if err := askedAge("The age of the hose", ageYears); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.New(5, 0).Sub(ageYears), nil
}

// RegulatorLeftYears is for how long a gas regulator may stay, in years: 10 in
// all. Range, errors and source as HoseLeftYears.
func RegulatorLeftYears(ageYears decimal.Decimal) (decimal.Decimal, error) {
	if err := askedAge("The age of the regulator", ageYears); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.New(10, 0).Sub(ageYears), nil
}

func askedHeating(kWhPerKg decimal.Decimal) error {
	return quantity{"The heating value", kWhPerKg, "kWh per kg"}.within(10, 15, "Propane has 12.87 net and 13.98 gross.")
}

// GasHours is how long gas lasts, in hours, with gasKg kilograms of it (0 to
// 500), burnt at inputKW kilowatts (above 0, to 30), each kilogram of
// heatingKWhPerKg kilowatt-hours (10 to 15). Propane has 12.87 net and 13.98
// gross; which of the two an input is given in stands on the data plate. Outside
// of these it is a *LimitError. Rounded to 6 places. Source: heating values as
// traders of liquefied gas and ISO 6976 give them.
func GasHours(gasKg, inputKW, heatingKWhPerKg decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The gas", gasKg, "kg"}.within(0, mostGasKg, "Give the filling in kilograms, without the cylinder."),
		quantity{"The heat input", inputKW, "kW"}.above(mostInputKW, "Give what burns at the same time, in kilowatts."),
		askedHeating(heatingKWhPerKg),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return gasKg.Mul(heatingKWhPerKg).DivRound(inputKW, 6), nil
}

// GasInputKW is the heat input of an appliance that uses usedGPerH grams of gas
// an hour (0 to 2,500), in kW, each kilogram of heatingKWhPerKg kilowatt-hours.
// Range of that, errors and source as GasHours.
func GasInputKW(usedGPerH, heatingKWhPerKg decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The gas used", usedGPerH, "g per h"}.within(0, 2500, "Give it in grams an hour, as on the data plate."),
		askedHeating(heatingKWhPerKg),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return usedGPerH.Mul(heatingKWhPerKg).Shift(-3), nil
}
