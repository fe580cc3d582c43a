package engineering

import (
	"github.com/shopspring/decimal"
)

// Limits of what this file is asked: what can be found in a van.
const (
	mostCurrentA = 1000
	mostLengthM  = 100
	mostAreaMM2  = 1000
	mostVoltageV = 400
)

// copperMetres is how many metres of annealed copper of 1 mm2 have one ohm at
// 20 °C: its resistivity is 1/58 ohm mm2/m (IEC 60028).
var copperMetres = decimal.New(58, 0)

// copperPerK is by what share the resistance of copper rises with each kelvin
// above 20 °C (IEC 60028: 0.00393 per kelvin).
var copperPerK = decimal.New(393, -5)

var (
	one = decimal.New(1, 0)
	two = decimal.New(2, 0)
)

// warmed is what resistance is multiplied by when the conductor is not at 20 °C.
func warmed(conductorC decimal.Decimal) decimal.Decimal {
	return one.Add(copperPerK.Mul(conductorC.Sub(decimal.New(20, 0))))
}

func askedCurrent(a decimal.Decimal) quantity { return quantity{"The current", a, "A"} }

func askedRun(currentA, lengthM, conductorC decimal.Decimal) error {
	return inOrder(
		askedCurrent(currentA).within(0, mostCurrentA, "Give the current of one circuit in amperes."),
		quantity{"The length of the run", lengthM, "m"}.within(0, mostLengthM, "Give the length one way in metres."),
		quantity{"The temperature of the conductor", conductorC, "°C"}.within(-40, 200, "Give what the copper gets to, at most what its insulation bears."),
	)
}

// DropV is the voltage lost along a run of two copper conductors, there and
// back, in volts.
//
//	drop = 2 · length · current · (1 + 0.00393 (conductor − 20 °C)) / (58 · area)
//
// The current is in amperes (0 to 1,000), the length one way in metres (0 to
// 100), the area of one conductor in mm2 (above 0, to 1,000), the temperature of
// the copper in °C (−40 to 200). Outside of these it is a *LimitError. Rounded
// to 6 places. Source: resistivity and temperature coefficient of annealed
// copper, IEC 60028.
func DropV(currentA, lengthM, areaMM2, conductorC decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedRun(currentA, lengthM, conductorC),
		quantity{"The area of the conductor", areaMM2, "mm2"}.above(mostAreaMM2, "Give the area of one conductor in square millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return two.Mul(lengthM).Mul(currentA).Mul(warmed(conductorC)).DivRound(copperMetres.Mul(areaMM2), 6), nil
}

// DropAreaMM2 is the least area of each of two copper conductors along which no
// more than the voltage allowed is lost, in mm2; DropV turned round, with its
// ranges. The voltage allowed is in volts (above 0, to 400). Rounded up at the
// sixth place. Errors and source as DropV.
func DropAreaMM2(currentA, lengthM, allowedV, conductorC decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(askedRun(currentA, lengthM, conductorC),
		quantity{"The voltage that may be lost", allowedV, "V"}.above(mostVoltageV, "Give it in volts, as in 12 * 0.03."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	area := two.Mul(lengthM).Mul(currentA).Mul(warmed(conductorC)).DivRound(copperMetres.Mul(allowedV), 12)
	return area.RoundUp(6), nil
}
