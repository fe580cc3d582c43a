package engineering

import "github.com/shopspring/decimal"

const mostWaterL = 1_000

// waterWhPerLK is what warms a litre of water by a kelvin: specific heat 4.1868
// kJ/(kg·K), the calorie of the International Table, by 3.6.
var waterWhPerLK = decimal.New(1163, -3)

// headMbarPerM is the pressure of a metre of water: 1,000 kg/m3 at the standard
// acceleration of 9.80665 m/s2 (ISO 80000-3).
var headMbarPerM = decimal.New(980665, -4)

func askedWater(name string, l decimal.Decimal) error {
	return quantity{name, l, "l"}.within(0, mostWaterL, "Give it in litres.")
}

// WaterKg is the mass of water, in kg: a kilogram a litre (0 to 1,000 litres;
// else a *LimitError). Source: owner's manuals of motor caravans count it so;
// at 20 °C it is 0.998.
func WaterKg(waterL decimal.Decimal) (decimal.Decimal, error) {
	if err := askedWater("The water", waterL); err != nil {
		return decimal.Decimal{}, err
	}
	return waterL, nil
}

// WaterNeededL is the water for some people and days, in litres, at eachL litres
// for a person and a day (0 to 200), people 0 to 20, days 0 to 60. Outside of
// these it is a *LimitError. Source: common practice, no source; 5 litres for
// drinking, cooking and washing up, 10 to 20 with a shower.
func WaterNeededL(peopleCount, daysCount, eachL decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedPeople(peopleCount),
		quantity{"The number of days", daysCount, ""}.within(0, 60, "Give the days between fillings."),
		quantity{"The water for a person and a day", eachL, "l"}.within(0, 200, "Give it in litres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return peopleCount.Mul(daysCount).Mul(eachL), nil
}

// WasteLeastL is how much a waste tank should hold, in litres: a share of the
// fresh water (0 to 1,000 litres, 0 to 150 percent; else a *LimitError). Source:
// common practice, no source; what is drunk, cooked and evaporated does not come
// back, so 60 to 80 percent will do.
func WasteLeastL(freshL, sharePercent decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedWater("The fresh water", freshL),
		quantity{"The share", sharePercent, "percent"}.within(0, 150, "Give it in percent of the fresh water."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return freshL.Mul(sharePercent).Shift(-2), nil
}

// HeadMbar is the pressure a pump needs only to lift water by heightM metres (0
// to 20; else a *LimitError), in mbar; what pipes and taps take comes on top.
// Source: 9.80665 m/s2 of ISO 80000-3 by 1,000 kg/m3.
func HeadMbar(heightM decimal.Decimal) (decimal.Decimal, error) {
	if err := (quantity{"The height", heightM, "m"}).within(0, 20, "Give the height from the water to the tap in metres."); err != nil {
		return decimal.Decimal{}, err
	}
	return headMbarPerM.Mul(heightM), nil
}

// WaterHeatWh is what warms waterL litres (0 to 1,000) by riseK kelvin (0 to
// 100), in Wh, without losses. Outside of these it is a *LimitError. Source:
// specific heat of water, 4.1868 kJ/(kg·K).
func WaterHeatWh(waterL, riseK decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedWater("The water", waterL),
		quantity{"The rise", riseK, "K"}.within(0, 100, "Give by how many kelvin it gets warmer."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return waterWhPerLK.Mul(waterL).Mul(riseK), nil
}
