package engineering

import "github.com/shopspring/decimal"

// Surface resistances in m2·K/W by the direction heat flows, inside (across to a
// wall, up to a roof, down to a floor) and outside: ISO 6946 table 7.
var (
	insideWall  = decimal.New(13, -2)
	insideRoof  = decimal.New(10, -2)
	insideFloor = decimal.New(17, -2)
	outside     = decimal.New(4, -2)
)

const mostInsulance = 100 // m2·K/W

func askedConductivity(wPerMK decimal.Decimal) error {
	return quantity{"The conductivity", wPerMK, "W per m K"}.above(500, "Insulation has about 0.035, wood 0.13, steel 50.")
}

func askedThickness(mm decimal.Decimal) error {
	return quantity{"The thickness", mm, "mm"}.within(0, 1_000, "Give it in millimetres.")
}

func askedInsulance(name string, m2KPerW decimal.Decimal) error {
	return quantity{name, m2KPerW, "m2 K per W"}.within(0, mostInsulance, "Sum up the layers with layer_m2k_per_w.")
}

func askedTemperature(name string, c decimal.Decimal) error {
	return quantity{name, c, "°C"}.within(-60, 80, "Give it in degrees Celsius.")
}

// LayerM2KPerW is the thermal resistance of a layer of one material, in m2·K/W:
// its thickness in millimetres (0 to 1,000) by its conductivity in W/(m·K)
// (above 0, to 500). Outside of these it is a *LimitError. Rounded to 9 places.
// Source: ISO 6946, 6.7.1.1; conductivities in ISO 10456.
func LayerM2KPerW(thicknessMM, conductivityWPerMK decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedThickness(thicknessMM), askedConductivity(conductivityWPerMK)); err != nil {
		return decimal.Decimal{}, err
	}
	return thicknessMM.Shift(-3).DivRound(conductivityWPerMK, 9), nil
}

// DeclaredM2KPerW is the resistance a maker of insulation may declare, in
// m2·K/W: LayerM2KPerW rounded down to a multiple of 0.05. Range and errors as
// there. Source: EN 13164 and its sister standards.
func DeclaredM2KPerW(thicknessMM, conductivityWPerMK decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedThickness(thicknessMM), askedConductivity(conductivityWPerMK)); err != nil {
		return decimal.Decimal{}, err
	}
	// Thickness over 50 times the conductivity counts the steps of 0.05.
	steps, _ := thicknessMM.QuoRem(conductivityWPerMK.Mul(decimal.New(50, 0)), 0)
	return steps.Mul(decimal.New(5, -2)), nil
}

// WallWPerM2K is the thermal transmittance of a wall, in W/(m2·K).
//
//	U = 1 / (0.13 + R + 0.04)
//
// R sums up its layers, in m2·K/W (0 to 100; else a *LimitError). Layers that
// metal ribs bridge lose more: that is not in it. Rounded to 6 places. Source:
// ISO 6946, 6.5.2 and table 7.
func WallWPerM2K(layersM2KPerW decimal.Decimal) (decimal.Decimal, error) {
	return transmittance(insideWall, layersM2KPerW)
}

// RoofWPerM2K is the thermal transmittance of a roof, inside 0.10 m2·K/W since
// heat flows up. Range, errors and source as WallWPerM2K.
func RoofWPerM2K(layersM2KPerW decimal.Decimal) (decimal.Decimal, error) {
	return transmittance(insideRoof, layersM2KPerW)
}

// FloorWPerM2K is the thermal transmittance of a floor, inside 0.17 m2·K/W since
// heat flows down. Range, errors and source as WallWPerM2K.
func FloorWPerM2K(layersM2KPerW decimal.Decimal) (decimal.Decimal, error) {
	return transmittance(insideFloor, layersM2KPerW)
}

func transmittance(inside, layers decimal.Decimal) (decimal.Decimal, error) {
	if err := askedInsulance("The resistance of the layers", layers); err != nil {
		return decimal.Decimal{}, err
	}
	return one.DivRound(inside.Add(layers).Add(outside), 6), nil
}

func askedDifference(k decimal.Decimal) error {
	return quantity{"The difference of temperature", k, "K"}.within(0, 100, "Give by how many kelvin it is warmer inside.")
}

// HeatLossW is the heat lost through an area, in W: transmittance in W/(m2·K) (0
// to 20) by area in m2 (0 to 1,000) by difference of temperature in kelvin (0 to
// 100). Outside of these it is a *LimitError. Source: the meaning of U in ISO
// 6946.
func HeatLossW(uWPerM2K, areaM2, differenceK decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The transmittance", uWPerM2K, "W per m2 K"}.within(0, 20, "A bare sheet of steel has 5.9."),
		askedSheet(areaM2), askedDifference(differenceK),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return uWPerM2K.Mul(areaM2).Mul(differenceK), nil
}

// airWhPerM3K is the heat a cubic metre of air carries: EN 12831 takes 0.34
// Wh/(m3·K).
var airWhPerM3K = decimal.New(34, -2)

// AirLossW is the heat that goes with changing air, in W: 0.34 Wh/(m3·K) by the
// volume in m3 (0 to 100), how often it changes in an hour (0 to 30) and the
// difference of temperature in kelvin (0 to 100). Outside of these it is a
// *LimitError. Source: EN 12831.
func AirLossW(volumeM3, changesPerH, differenceK decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The volume", volumeM3, "m3"}.within(0, 100, "Give the room inside in cubic metres."),
		quantity{"The changes of air", changesPerH, "per h"}.within(0, 30, "Give how often the air changes in an hour."),
		askedDifference(differenceK),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return airWhPerM3K.Mul(volumeM3).Mul(changesPerH).Mul(differenceK), nil
}

// InterfaceC is the temperature between two layers, or of a surface, in °C.
//
//	t = inside − (inside − outside) · within / (within + beyond)
//
// Within sums up the resistances from the air inside to there, beyond those from
// there to the air outside, both in m2·K/W with the surface resistances (0 to
// 100, together above 0): for the inner surface within is 0.13 in a wall alone,
// 0.25 where something stands before it (ISO 13788). Temperatures are −60 to 80
// °C. Outside of these it is a *LimitError. Rounded to 6 places. Source: ISO
// 13788, 4.2 and 5.2; ISO 6946.
func InterfaceC(insideC, outsideC, withinM2KPerW, beyondM2KPerW decimal.Decimal) (decimal.Decimal, error) {
	whole := withinM2KPerW.Add(beyondM2KPerW)
	if err := inOrder(
		askedTemperature("The temperature inside", insideC), askedTemperature("The temperature outside", outsideC),
		askedInsulance("The resistance within", withinM2KPerW), askedInsulance("The resistance beyond", beyondM2KPerW),
		quantity{"The whole resistance", whole, "m2 K per W"}.above(2*mostInsulance, "Give the surface resistances too."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return insideC.Sub(insideC.Sub(outsideC).Mul(withinM2KPerW).DivRound(whole, 6)), nil
}

// Saturation pressure over water and over ice in the form of Magnus, as ISO
// 13788 annex E has it: 610.5 Pa · exp(a·t / (b + t)).
var (
	pressureAt0 = decimal.New(6105, -1)
	overWater   = magnus{decimal.New(17_269, -3), decimal.New(2373, -1)}
	overIce     = magnus{decimal.New(21_875, -3), decimal.New(2655, -1)}
)

type magnus struct{ a, b decimal.Decimal }

func saturation(c decimal.Decimal) decimal.Decimal {
	m := overWater
	if c.Sign() < 0 {
		m = overIce
	}
	e, err := m.a.Mul(c).DivRound(m.b.Add(c), 2*elementaryPlaces).ExpTaylor(elementaryPlaces)
	if err != nil { // the exponent is some ten at most
		return decimal.Decimal{}
	}
	return pressureAt0.Mul(e)
}

// dewOf gives the temperature at which a pressure in Pa is saturation.
func dewOf(pressure decimal.Decimal) decimal.Decimal {
	ln, err := pressure.DivRound(pressureAt0, 2*elementaryPlaces).Ln(elementaryPlaces)
	if err != nil { // the pressure is above zero
		return decimal.Decimal{}
	}
	m := overWater
	if ln.Sign() < 0 {
		m = overIce
	}
	return m.b.Mul(ln).DivRound(m.a.Sub(ln), 3)
}

func askedHumidity(name string, percent decimal.Decimal) error {
	if percent.LessThan(one) {
		return quantity{name, percent, "percent"}.limit("1 to 100 percent", "Give the relative humidity in percent.")
	}
	return quantity{name, percent, "percent"}.within(1, 100, "Give the relative humidity in percent.")
}

func askedAir(name string, c decimal.Decimal) error {
	return quantity{name, c, "°C"}.within(-20, 50, "Give the temperature of the air in degrees Celsius.")
}

// DewPointC is the temperature at which air begins to leave water on what it
// touches, in °C, for air of airC °C (−20 to 50) and humidityPercent relative
// humidity (1 to 100). Outside of these it is a *LimitError. Rounded to 3
// places. Source: saturation pressure in the form of Magnus, ISO 13788 annex E.
func DewPointC(airC, humidityPercent decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedAir("The temperature of the air", airC), askedHumidity("The relative humidity", humidityPercent)); err != nil {
		return decimal.Decimal{}, err
	}
	return dewOf(saturation(airC).Mul(humidityPercent).Shift(-2)), nil
}

// InterfaceDewC is the dew point between two layers, in °C: there water is left
// as soon as it is colder (InterfaceC).
//
//	p = inside − (inside − outside) · within / (within + beyond)
//
// with the vapour pressures of the air inside and outside, of −20 to 50 °C and 1
// to 100 percent. Within and beyond sum up what the layers on either side hold
// vapour back, as metres of still air (sd, 0 to 10,000 each, together above 0);
// a closed skin of metal beyond counts as 1,500 m or more, and then the vapour
// of the inside stands at it in full. Outside of these it is a *LimitError.
// Rounded to 3 places. Source: Glaser's method, ISO 13788 clause 6 and annex E.
func InterfaceDewC(insideC, insidePercent, outsideC, outsidePercent, withinSdM, beyondSdM decimal.Decimal) (decimal.Decimal, error) {
	const most = 10_000
	whole := withinSdM.Add(beyondSdM)
	if err := inOrder(
		askedAir("The temperature inside", insideC), askedHumidity("The humidity inside", insidePercent),
		askedAir("The temperature outside", outsideC), askedHumidity("The humidity outside", outsidePercent),
		quantity{"What holds vapour back within", withinSdM, "m"}.within(0, most, "Give it as metres of still air."),
		quantity{"What holds vapour back beyond", beyondSdM, "m"}.within(0, most, "Give it as metres of still air."),
		quantity{"What holds vapour back altogether", whole, "m"}.above(2*most, "Give at least one layer."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	within := saturation(insideC).Mul(insidePercent)
	without := saturation(outsideC).Mul(outsidePercent)
	at := within.Sub(within.Sub(without).Mul(withinSdM).DivRound(whole, elementaryPlaces))
	return dewOf(at.Shift(-2)), nil
}
