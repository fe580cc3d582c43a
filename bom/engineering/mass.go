package engineering

import "github.com/shopspring/decimal"

// personKg is what one person counts for: Regulation (EU) 1230/2012, Annex I
// part A 2.6.2.1 for passengers; the driver counts as much.
var personKg = decimal.New(75, 0)

// RunningOrderPercent is how full the fuel tank counts in running order:
// Regulation (EU) 1230/2012, article 2(4).
const RunningOrderPercent = 90

func askedMass(name string, kg decimal.Decimal) error {
	return quantity{name, kg, "kg"}.within(-20_000, 20_000, "Give it in kilograms, below zero when it is taken off.")
}

func askedPlace(behindFrontMM, wheelbaseMM decimal.Decimal) error {
	return inOrder(
		quantity{"The distance behind the front axle", behindFrontMM, "mm"}.within(-10_000, 20_000, "Give it in millimetres, below zero before the axle."),
		quantity{"The wheelbase", wheelbaseMM, "mm"}.within(1_000, 10_000, "Give it in millimetres from axle to axle."),
	)
}

// RearChangeKg is by how much the rear axle gets heavier when a mass is put into
// the van, in kg; below zero when it gets lighter.
//
//	rear = mass · behind / wheelbase
//
// The mass is in kilograms (−20,000 to 20,000, below zero when it is taken out),
// its distance behind the front axle in millimetres (−10,000 to 20,000, below
// zero before the axle), the wheelbase in millimetres (1,000 to 10,000). Outside
// of these it is a *LimitError. Rounded to the milligram. Source: moments about
// the front axle, as an owner's manual of 2011 has them.
func RearChangeKg(massKg, behindFrontMM, wheelbaseMM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedMass("The mass", massKg), askedPlace(behindFrontMM, wheelbaseMM)); err != nil {
		return decimal.Decimal{}, err
	}
	return massKg.Mul(behindFrontMM).DivRound(wheelbaseMM, 6), nil
}

// FrontChangeKg is by how much the front axle gets heavier, in kg: the mass less
// RearChangeKg, so that the two are the mass exactly. Range, errors and source
// as there.
func FrontChangeKg(massKg, behindFrontMM, wheelbaseMM decimal.Decimal) (decimal.Decimal, error) {
	rear, err := RearChangeKg(massKg, behindFrontMM, wheelbaseMM)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return massKg.Sub(rear), nil
}

// PeopleKg is what people count for, in kg: 75 each (0 to 20 of them; else a
// *LimitError). Source: Regulation (EU) 1230/2012, Annex I part A 2.6.2.1.
func PeopleKg(peopleCount decimal.Decimal) (decimal.Decimal, error) {
	if err := askedPeople(peopleCount); err != nil {
		return decimal.Decimal{}, err
	}
	return personKg.Mul(peopleCount), nil
}

// PassengersKg is what the passengers of a van with so many seats count for, in
// kg: 75 for each seat but the driver's, who is in running order already. Seats
// are 1 to 20; else it is a *LimitError. Source as PeopleKg.
func PassengersKg(seatCount decimal.Decimal) (decimal.Decimal, error) {
	if err := (quantity{"The number of seats", seatCount, ""}).within(1, mostPeople, "Count the driver's seat too."); err != nil {
		return decimal.Decimal{}, err
	}
	return personKg.Mul(seatCount.Sub(one)), nil
}

// MinimumPayloadKg is the least a motor caravan must be able to carry of what
// its people bring, beside themselves, in kg.
//
//	payload = 10 · (people + length)
//
// People are counted with the driver (1 to 20), the overall length is in metres
// (1 to 20). Outside of these it is a *LimitError. Source: Regulation (EU)
// 1230/2012, Annex I part A 2.6.4.1.2, the formula as an owner's manual of 2015
// prints it.
func MinimumPayloadKg(peopleCount, lengthM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The number of people", peopleCount, ""}.within(1, mostPeople, "Count the driver too."),
		quantity{"The length of the vehicle", lengthM, "m"}.within(1, 20, "Give the overall length in metres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return peopleCount.Add(lengthM).Shift(1), nil
}

// FuelMissingKg is what fuel lacks to the nine tenths of a tank that count in
// running order, in kg; below zero when there is more in the tank.
//
//	missing = (90 − fuel) / 100 · tank · density
//
// The fuel is in percent of the tank (0 to 100), the tank in litres (0 to 500),
// the density in kilograms a litre (0.5 to 1; diesel has 0.82 to 0.845 by EN
// 590). Outside of these it is a *LimitError. Source: Regulation (EU)
// 1230/2012, article 2(4).
func FuelMissingKg(fuelPercent, tankL, fuelKgPerL decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The fuel", fuelPercent, "percent"}.within(0, 100, "Read the gauge as a share of the tank."),
		quantity{"The tank", tankL, "l"}.within(0, 500, "Give what the fuel tank holds in litres."),
		askedDensity(fuelKgPerL),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return decimal.NewFromInt(RunningOrderPercent).Sub(fuelPercent).Shift(-2).Mul(tankL).Mul(fuelKgPerL), nil
}

func askedDensity(fuelKgPerL decimal.Decimal) error {
	if fuelKgPerL.LessThan(decimal.New(5, -1)) || fuelKgPerL.GreaterThan(one) {
		return quantity{"The density of the fuel", fuelKgPerL, "kg per l"}.limit("0.5 to 1 kg per l", "Diesel has about 0.835, petrol 0.745.")
	}
	return nil
}

// UnladenRearKg is the rear axle of a van that nobody is in and whose tank is
// nine tenths full, in kg, from what a weighbridge showed: the reading, less the
// people aboard, with the fuel that is missing.
//
//	unladen = reading − people · peopleBehind / wheelbase + missing · tankBehind / wheelbase
//
// The reading is in kilograms, so are the people who were aboard (PeopleKg) and
// the fuel that was missing (FuelMissingKg); distances are behind the front axle
// as in RearChangeKg, with its ranges, errors and source.
func UnladenRearKg(readingKg, peopleKg, peopleBehindMM, fuelMissingKg, tankBehindMM, wheelbaseMM decimal.Decimal) (decimal.Decimal, error) {
	return unladen(RearChangeKg, readingKg, peopleKg, peopleBehindMM, fuelMissingKg, tankBehindMM, wheelbaseMM)
}

// UnladenFrontKg is UnladenRearKg for the front axle.
func UnladenFrontKg(readingKg, peopleKg, peopleBehindMM, fuelMissingKg, tankBehindMM, wheelbaseMM decimal.Decimal) (decimal.Decimal, error) {
	return unladen(FrontChangeKg, readingKg, peopleKg, peopleBehindMM, fuelMissingKg, tankBehindMM, wheelbaseMM)
}

func unladen(change func(_, _, _ decimal.Decimal) (decimal.Decimal, error), readingKg, peopleKg, peopleBehindMM, fuelMissingKg, tankBehindMM, wheelbaseMM decimal.Decimal) (decimal.Decimal, error) {
	if err := askedMass("The reading", readingKg); err != nil {
		return decimal.Decimal{}, err
	}
	people, err := change(peopleKg, peopleBehindMM, wheelbaseMM)
	if err != nil {
		return decimal.Decimal{}, err
	}
	fuel, err := change(fuelMissingKg, tankBehindMM, wheelbaseMM)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return readingKg.Sub(people).Add(fuel), nil
}

// RunningOrderKg is the mass in running order, in kg: the unladen mass with a
// tank nine tenths full (0 to 20,000), the driver, and what liquids travel with
// it (0 to 2,000: fresh water as full as the edition of the rule in force counts
// it, gas, boiler). Outside of these it is a *LimitError. Source: Regulation
// (EU) 1230/2012, article 2(4).
func RunningOrderKg(unladenKg, liquidsKg decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The unladen mass", unladenKg, "kg"}.within(0, 20_000, "Give it in kilograms."),
		quantity{"The liquids", liquidsKg, "kg"}.within(0, 2_000, "Give them in kilograms."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return unladenKg.Add(personKg).Add(liquidsKg), nil
}
