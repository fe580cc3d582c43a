package engineering

import (
	"strconv"

	"github.com/shopspring/decimal"
)

// Limits of what this file is asked.
const (
	mostPowerW    = 20_000
	mostEnergyWh  = 1_000_000
	mostChargeAh  = 10_000
	mostBatteryV  = 100
	energyPlaces  = 6
	peukertPlaces = 4 // of powers
	sunPlaces     = 4
)

func checkPercent(name string, p decimal.Decimal) error {
	return quantity{name, p, "%"}.above(100, "Give it in percent, as in 80.")
}

func checkBattery(voltageV, usablePercent decimal.Decimal) error {
	return inOrder(
		quantity{"The voltage of the battery", voltageV, "V"}.above(mostBatteryV, "Give its nominal voltage, as in 12 or 12.8."),
		checkPercent("The share of the battery that may be used", usablePercent),
	)
}

func checkLoss(f decimal.Decimal) error {
	return quantity{"The loss factor", f, ""}.within(1, 5, "Give 1 for no losses, 1.3 for three tenths more than is used.")
}

func checkCapacity(ah decimal.Decimal) error {
	return quantity{"The capacity", ah, "Ah"}.above(mostChargeAh, "Give it in ampere hours, as on the battery.")
}

func checkEfficiency(p decimal.Decimal) error { return checkPercent("The efficiency", p) }

// DailyWh is the energy an appliance uses in a day, in watt hours: its power in
// watts (0 to 20,000) times the hours of the day it runs (0 to 24). Otherwise it
// is a *LimitError. Source: the definition of energy.
func DailyWh(powerW, usedH decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The power", powerW, "W"}.within(0, mostPowerW, "Give the power of the appliance in watts."),
		quantity{"The use in a day", usedH, "h"}.within(0, 24, "Give the hours it runs in a day."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return powerW.Mul(usedH), nil
}

// BatteryAh is the capacity a battery needs, in ampere hours, to give so much
// energy a day for so many days without being charged.
//
//	capacity = energy · days · losses / (voltage · usable / 100)
//
// The energy of a day is in watt hours (0 to 1,000,000), the days are 0 to 60,
// the voltage is in volts (above 0, to 100), the usable share in percent (above
// 0, to 100: 50 for lead, and for gel and absorbed glass mat where they are to
// last; 70 to 80 for gel and absorbed glass mat used hard; 80 for lithium iron
// phosphate; common practice), the losses a factor from 1 to 5 (1.3 for what
// wiring, charging and age take; common practice). Otherwise it is a *LimitError.
// Rounded to 6 places. Source: the simplified IEEE method of sizing a battery for
// days without sun, as handbooks work it.
func BatteryAh(dailyWh, days, voltageV, usablePercent, lossFactor decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The energy of a day", dailyWh, "Wh"}.within(0, mostEnergyWh, "Give it in watt hours."),
		quantity{"The number of days", days, ""}.within(0, 60, "Give the days the battery is to last without charging."),
		checkBattery(voltageV, usablePercent), checkLoss(lossFactor),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return dailyWh.Mul(days).Mul(lossFactor).Mul(hundred).DivRound(voltageV.Mul(usablePercent), energyPlaces), nil
}

// UsableWh is the energy a battery gives between two charges, in watt hours: its
// capacity in ampere hours (above 0, to 10,000) times its voltage in volts (above
// 0, to 100) times the usable share in percent (as BatteryAh). Otherwise it is a
// *LimitError. Rounded to 6 places. Source: the definition of capacity.
func UsableWh(capacityAh, voltageV, usablePercent decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The capacity", capacityAh, "Ah"}.within(0, mostChargeAh, "Give it in ampere hours, as on the battery."),
		checkBattery(voltageV, usablePercent),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return capacityAh.Mul(voltageV).Mul(usablePercent).Shift(-2).Round(energyPlaces), nil
}

func checkPeukert(capacityAh, currentA, exponent decimal.Decimal) error {
	return inOrder(
		checkCapacity(capacityAh),
		quantity{"The current", currentA, "A"}.above(mostCurrentA, "Give the current the battery is discharged with in amperes."),
		quantity{"Peukert's exponent", exponent, ""}.within(1, 2, "Give 1.2 to 1.3 for lead, 1.05 for lithium iron phosphate."),
	)
}

// PeukertOneAmpereH is for how many hours a battery gives a current, when its
// capacity is stated for a discharge of one ampere.
//
//	hours = capacity / current^exponent
//
// The capacity is in ampere hours (above 0, to 10,000), the current in amperes
// (above 0, to 1,000), the exponent 1 to 2. Otherwise it is a *LimitError. Most
// batteries are not stated so: see PeukertRatedH. Rounded to 4 places. Source:
// W. Peukert, Elektrotechnische Zeitschrift 20 (1897).
func PeukertOneAmpereH(capacityAh, currentA, exponent decimal.Decimal) (decimal.Decimal, error) {
	if err := checkPeukert(capacityAh, currentA, exponent); err != nil {
		return decimal.Decimal{}, err
	}
	return capacityAh.DivRound(power(currentA, exponent), peukertPlaces), nil
}

// PeukertRatedH is for how many hours a battery gives a current, when its
// capacity is stated for a discharge in a number of hours, twenty as a rule.
//
//	hours = rated · (capacity / (current · rated))^exponent
//
// The rated hours are above 0, to 100; the rest as PeukertOneAmpereH. Rounded to
// 4 places. Source: Peukert's law carried over to the rated discharge; from memory.
func PeukertRatedH(capacityAh, ratedH, currentA, exponent decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(checkPeukert(capacityAh, currentA, exponent),
		quantity{"The hours the capacity is stated for", ratedH, "h"}.above(100, "Give 20 unless the battery says otherwise."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	share := capacityAh.DivRound(currentA.Mul(ratedH), elementaryPlaces)
	return ratedH.Mul(power(share, exponent)).Round(peukertPlaces), nil
}

// ChargerA is the current of a charger, in amperes, that is a share of the
// battery's capacity: in ampere hours (0 to 10,000), the share in percent (above
// 0, to 100: 10 to 20 for lead and gel, up to 50 for lithium iron phosphate;
// common practice). Otherwise it is a *LimitError. Common practice, no source.
func ChargerA(capacityAh, sharePercent decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The capacity", capacityAh, "Ah"}.within(0, mostChargeAh, "Give it in ampere hours, as on the battery."),
		checkPercent("The share of the capacity", sharePercent),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return capacityAh.Mul(sharePercent).Shift(-2), nil
}

// ChargeH is how many hours a charger takes to put back what was used.
//
//	hours = used / (charger · efficiency / 100)
//
// What was used is in ampere hours (0 to 10,000), the charger in amperes (above
// 0, to 1,000), the efficiency in percent (above 0, to 100: 85 for lead, 95 or
// more for lithium iron phosphate; common practice). Otherwise it is a
// *LimitError. The last fifth of a lead battery takes longer. Rounded to 6
// places. Source: the definition of charge.
func ChargeH(usedAh, chargerA, efficiencyPercent decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"What was used", usedAh, "Ah"}.within(0, mostChargeAh, "Give it in ampere hours."),
		quantity{"The current of the charger", chargerA, "A"}.above(mostCurrentA, "Give it in amperes."),
		checkEfficiency(efficiencyPercent),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return usedAh.Mul(hundred).DivRound(chargerA.Mul(efficiencyPercent), energyPlaces), nil
}

// DrivingWh is the energy that driving puts into the battery, in watt hours: the
// current of the charger in amperes (0 to 1,000), its voltage in volts (above 0,
// to 100), its efficiency in percent (above 0, to 100), the hours driven (0 to
// 24). Otherwise it is a *LimitError. Rounded to 6 places. Source: the definition
// of energy.
func DrivingWh(currentA, voltageV, efficiencyPercent, drivenH decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(checkCurrent(currentA),
		quantity{"The charging voltage", voltageV, "V"}.above(mostBatteryV, "Give it in volts, as in 14.4."),
		checkEfficiency(efficiencyPercent),
		quantity{"The time driven", drivenH, "h"}.within(0, 24, "Give the hours driven in a day."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return currentA.Mul(voltageV).Mul(efficiencyPercent).Mul(drivenH).Shift(-2).Round(energyPlaces), nil
}

// middleDay is the fifteenth of each month, counted from the first of January.
var middleDay = [...]int{15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349}

// PeakSunH is for how many hours a day the sun would have to shine straight down
// at 1,000 W/m2 to bring what falls on a flat roof in the middle of a month: what
// falls on the top of the air, times the share that comes through it.
//
// The latitude is in degrees, north positive (−66 to 66), the month 1 to 12, the
// clearness in percent (above 0, to 100: a long-term mean is 30 in a grey winter
// to 55 in a clear summer; 40 for a year in the north of England; from memory).
// Otherwise it is a *LimitError. Rounded to 4 places. Source: extraterrestrial
// radiation by FAO Irrigation and Drainage Paper 56, equations 21 to 25.
func PeakSunH(latitudeDeg decimal.Decimal, month int, clearnessPercent decimal.Decimal) (decimal.Decimal, error) {
	err := inOrder(
		quantity{"The latitude", latitudeDeg, "°"}.within(-66, 66, "Beyond the polar circles the sun does not set or rise; give a latitude between them."),
		checkPercent("The clearness", clearnessPercent),
	)
	if month < 1 || month > len(middleDay) {
		err = inOrder(err, &LimitError{"The month", strconv.Itoa(month), "1 to 12", "Give 1 for January, 12 for December."})
	}
	if err != nil {
		return decimal.Decimal{}, err
	}
	const megajoules = 36 // in ten kilowatt hours
	return aboveAirMJ(latitudeDeg, middleDay[month-1]).Mul(clearnessPercent).Shift(-1).DivRound(decimal.New(megajoules, 0), sunPlaces), nil
}

// aboveAirMJ is what the sun brings to each square metre at the top of the air
// on a day of the year, in MJ (equation 21).
func aboveAirMJ(latitudeDeg decimal.Decimal, day int) decimal.Decimal {
	latitude := latitudeDeg.Mul(pi).DivRound(decimal.New(180, 0), elementaryPlaces) // equation 22
	year := two.Mul(pi).Mul(decimal.New(int64(day), 0)).DivRound(decimal.New(365, 0), elementaryPlaces)
	distance := one.Add(decimal.New(33, -3).Mul(cosine(year)))                    // equation 23
	declination := decimal.New(409, -3).Mul(sine(year.Sub(decimal.New(139, -2)))) // equation 24
	sinSin := sine(latitude).Mul(sine(declination))
	cosCos := cosine(latitude).Mul(cosine(declination))
	sunset := arccosine(sinSin.DivRound(cosCos, elementaryPlaces).Neg()) // equation 25
	solar := decimal.New(24*60*82, -3)                                   // 0.0820 MJ/m2 and minute, for a day
	return solar.Mul(distance).Mul(sunset.Mul(sinSin).Add(cosCos.Mul(sine(sunset)))).DivRound(pi, elementaryPlaces)
}

// SolarWh is what a solar panel brings in a day, in watt hours: its power in
// watts (0 to 20,000) times the peak sun hours (0 to 24) over the losses, a
// factor from 1 to 5 (1.3 for a flat warm panel with its controller and wiring;
// common practice). Otherwise it is a *LimitError. Rounded to 6 places. Source:
// the simplified method of handbooks.
func SolarWh(panelW, peakSunH, lossFactor decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The power of the panel", panelW, "W"}.within(0, mostPowerW, "Give it in watts, as on the panel."),
		quantity{"The peak sun hours", peakSunH, "h"}.within(0, 24, "Give what peak_sun_h gives."),
		checkLoss(lossFactor),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return panelW.Mul(peakSunH).DivRound(lossFactor, energyPlaces), nil
}
