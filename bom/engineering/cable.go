package engineering

import (
	"strconv"

	"github.com/shopspring/decimal"
)

// Limits of what this file is asked: what can be found in a van.
const (
	mostCurrentA = 1000
	mostLengthM  = 100
	mostAreaMM2  = 150
	mostVoltageV = 400
	mostGrouped  = 100
)

// conductorMetres is how many metres of stranded copper conductor of 1 mm2 have
// one ohm at 20 °C. Annealed copper itself has 58 (1/58 ohm mm2/m, IEC 60028);
// strands are longer than the cable and a nominal area is not all copper, which
// takes up to 16 %: with 50 no flexible conductor that keeps IEC 60228 (class 5)
// has more resistance than is reckoned here, and none a tenth less.
var conductorMetres = decimal.New(50, 0)

// copperPerK is by what share the resistance of copper rises with each kelvin
// above 20 °C (IEC 60028: 0.00393 per kelvin).
var copperPerK = decimal.New(393, -5)

var (
	one     = decimal.New(1, 0)
	two     = decimal.New(2, 0)
	hundred = decimal.New(100, 0)
)

// conductor is one standard size (IEC 60228) and what it carries alone in free
// air, in amperes, with insulation for each of insulations (ISO 10133:2012,
// table A.1; from memory).
type conductor struct {
	areaMM2 decimal.Decimal
	carries [len(insulations)]int64
}

// insulations are the temperatures insulation bears, in °C.
var insulations = [...]int64{60, 70, 85, 105, 125, 200}

var conductors = []conductor{
	{decimal.New(75, -2), [...]int64{6, 10, 12, 16, 20, 25}},
	{decimal.New(1, 0), [...]int64{8, 14, 18, 20, 25, 35}},
	{decimal.New(15, -1), [...]int64{12, 18, 21, 25, 30, 40}},
	{decimal.New(25, -1), [...]int64{17, 25, 30, 35, 40, 45}},
	{decimal.New(4, 0), [...]int64{22, 35, 40, 45, 50, 55}},
	{decimal.New(6, 0), [...]int64{29, 45, 50, 60, 70, 75}},
	{decimal.New(10, 0), [...]int64{40, 65, 70, 90, 100, 120}},
	{decimal.New(16, 0), [...]int64{54, 90, 100, 130, 150, 170}},
	{decimal.New(25, 0), [...]int64{71, 120, 140, 170, 185, 200}},
	{decimal.New(35, 0), [...]int64{87, 160, 185, 210, 225, 240}},
	{decimal.New(50, 0), [...]int64{105, 210, 230, 270, 300, 325}},
	{decimal.New(70, 0), [...]int64{135, 265, 285, 330, 360, 375}},
	{decimal.New(95, 0), [...]int64{165, 310, 330, 390, 410, 430}},
	{decimal.New(120, 0), [...]int64{190, 360, 400, 450, 480, 520}},
	{decimal.New(150, 0), [...]int64{220, 380, 430, 475, 520, 560}},
}

// leastAlone is the first of conductors that may run by itself: ISO 10133, 7.7
// wants 1 mm2 of a conductor longer than 200 mm; 0.75 is for the cores of a
// sheathed cable.
const leastAlone = 1

// grouped are the shares, in percent, of what a cable carries alone that are
// left when so many loaded circuits run bunched (IEC 60364-5-52, table B.52.17,
// item 1). Between two of them the one for fewer circuits holds.
var grouped = []struct{ circuits, percent int64 }{
	{1, 100}, {2, 80}, {3, 70}, {4, 65}, {5, 60}, {6, 57}, {7, 54}, {8, 52}, {9, 50}, {12, 45}, {16, 41}, {20, 38},
}

// fuseRatings are those of road-vehicle fuse-links in amperes: with tabs to 100
// (ISO 8820-3), strips and bolted ones above (ISO 8820-4 and -5); from memory.
var fuseRatings = ratings("1", "2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30", "40", "50", "60", "70", "80",
	"100", "125", "150", "175", "200", "225", "250", "300", "350", "400", "500")

// breakerRatings are those of circuit-breakers for household use (IEC 60898-1,
// preferred values of rated current; from memory).
var breakerRatings = ratings("6", "8", "10", "13", "16", "20", "25", "32", "40", "50", "63")

func ratings(list ...string) []decimal.Decimal {
	out := make([]decimal.Decimal, len(list))
	for i, s := range list {
		out[i] = decimal.RequireFromString(s)
	}
	return out
}

// warmed is what resistance is multiplied by when the conductor is not at 20 °C.
func warmed(conductorC decimal.Decimal) decimal.Decimal {
	return one.Add(copperPerK.Mul(conductorC.Sub(decimal.New(20, 0))))
}

func checkCurrent(a decimal.Decimal) error {
	return quantity{"The current", a, "A"}.within(0, mostCurrentA, "Give the current of one circuit in amperes.")
}

func checkAllowed(v decimal.Decimal) error {
	return quantity{"The voltage that may be lost", v, "V"}.above(mostVoltageV, "Give it in volts, as in 12 * 0.03.")
}

func checkRun(currentA, lengthM, conductorC decimal.Decimal) error {
	return inOrder(
		checkCurrent(currentA),
		quantity{"The length of the run", lengthM, "m"}.within(0, mostLengthM, "Give the length one way in metres."),
		quantity{"The temperature of the conductor", conductorC, "°C"}.within(-40, 200, "Give what the copper gets to, at most what its insulation bears."),
	)
}

// lostVMM2 is what is lost along a run there and back, times the area.
func lostVMM2(currentA, lengthM, conductorC decimal.Decimal) decimal.Decimal {
	return two.Mul(lengthM).Mul(currentA).Mul(warmed(conductorC))
}

// DropV is the voltage lost along a run of two stranded copper conductors, there
// and back, in volts.
//
//	drop = 2 · length · current · (1 + 0.00393 (conductor − 20 °C)) / (50 · area)
//
// The current is in amperes (0 to 1,000), the length one way in metres (0 to
// 100), the area of one conductor in mm2 (above 0, to 150), the temperature of
// the copper in °C (−40 to 200). Outside of these it is a *LimitError. Rounded
// to 6 places. Source: resistivity and temperature coefficient of annealed
// copper, IEC 60028; 50 m/(ohm mm2) for a stranded conductor, which none of
// IEC 60228 class 5 exceeds in resistance.
func DropV(currentA, lengthM, areaMM2, conductorC decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(checkRun(currentA, lengthM, conductorC),
		quantity{"The area of the conductor", areaMM2, "mm2"}.above(mostAreaMM2, "Give the area of one conductor in square millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return lostVMM2(currentA, lengthM, conductorC).DivRound(conductorMetres.Mul(areaMM2), 6), nil
}

// DropAreaMM2 is the least area of each of two conductors along which no more
// than the voltage allowed is lost, in mm2; DropV turned round, with its ranges.
// The voltage allowed is in volts (above 0, to 400). Rounded up at the sixth
// place. Errors and source as DropV.
func DropAreaMM2(currentA, lengthM, allowedV, conductorC decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(checkRun(currentA, lengthM, conductorC), checkAllowed(allowedV)); err != nil {
		return decimal.Decimal{}, err
	}
	return lostVMM2(currentA, lengthM, conductorC).DivRound(conductorMetres.Mul(allowedV), 12).RoundUp(6), nil
}

// NextMM2 is the next standard size of conductor that is not below an area, both
// in mm2: one of 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150.
// An area above 150 is a *LimitError. Source: nominal areas of IEC 60228.
func NextMM2(areaMM2 decimal.Decimal) (decimal.Decimal, error) {
	if err := (quantity{"The area of the conductor", areaMM2, "mm2"}).within(0, mostAreaMM2, "Run two cables side by side, or bring the source nearer."); err != nil {
		return decimal.Decimal{}, err
	}
	for i := range conductors {
		if !conductors[i].areaMM2.LessThan(areaMM2) {
			return conductors[i].areaMM2, nil
		}
	}
	return decimal.Decimal{}, nil // 150 is the last
}

// GroupingPercent is the share, in percent, of what a cable carries alone that
// is left when a number of loaded circuits (1 to 100) run bunched together: 100,
// 80, 70, 65, 60, 57, 54, 52, 50 for 1 to 9, 45 from 12, 41 from 16, 38 from 20.
// Another number is a *LimitError. Source: IEC 60364-5-52, table B.52.17, item 1.
func GroupingPercent(circuits int) (decimal.Decimal, error) {
	percent, err := groupingPercent(circuits)
	return decimal.New(percent, 0), err
}

func groupingPercent(circuits int) (int64, error) {
	if circuits < 1 || circuits > mostGrouped {
		return 0, &LimitError{"The number of circuits bunched together", strconv.Itoa(circuits), "1 to " + strconv.Itoa(mostGrouped),
			"Count the circuit itself and those that run along with it."}
	}
	percent := int64(0)
	for _, g := range grouped {
		if g.circuits <= int64(circuits) {
			percent = g.percent
		}
	}
	return percent, nil
}

// insulation is the column of conductors for insulation that bears so much.
func insulation(c decimal.Decimal) (int, error) {
	if err := (quantity{"What the insulation bears", c, "°C"}).within(insulations[0], insulations[len(insulations)-1],
		"Give the temperature the cable is rated for, as in 70."); err != nil {
		return 0, err
	}
	column := 0
	for i, bears := range insulations {
		if !c.LessThan(decimal.New(bears, 0)) {
			column = i
		}
	}
	return column, nil
}

// CableA is what a stranded copper conductor carries for good in free air, in
// amperes, with a number of circuits (itself among them, 1 to 100) bunched
// together. Its area is in mm2 (0.75 to 150); one between two standard sizes
// carries what the smaller does. What its insulation bears is in °C (60 to 200),
// the next of 60, 70, 85, 105, 125, 200 below it counting. Otherwise it is a
// *LimitError. In an engine space less is carried. Source: ISO 10133:2012, table
// A.1, from memory; grouping as GroupingPercent.
func CableA(areaMM2, insulationC decimal.Decimal, circuits int) (decimal.Decimal, error) {
	column, err := insulation(insulationC)
	percent, errGrouped := groupingPercent(circuits)
	if areaMM2.LessThan(conductors[0].areaMM2) || areaMM2.GreaterThan(decimal.New(mostAreaMM2, 0)) {
		err = inOrder(quantity{"The area of the conductor", areaMM2, "mm2"}.limit("0.75 to 150 mm2", "Give the size of one conductor, as in 2.5."), err)
	}
	if err = inOrder(err, errGrouped); err != nil {
		return decimal.Decimal{}, err
	}
	at := len(conductors) - 1
	for conductors[at].areaMM2.GreaterThan(areaMM2) {
		at--
	}
	return decimal.New(conductors[at].carries[column]*percent, -2), nil
}

// takes says whether a conductor with so much of its capacity left takes a
// current. Products are compared, so nothing is divided.
func (c *conductor) takes(currentA decimal.Decimal, column int, percent int64) bool {
	return !currentA.Mul(hundred).GreaterThan(decimal.New(c.carries[column]*percent, 0))
}

func noCable(currentA decimal.Decimal) error {
	return &LimitError{"The current", currentA.String() + " A", "what a cable of 150 mm2 can take along that run",
		"Split the circuit, shorten the run, or use a higher voltage."}
}

// CableMM2 is the least standard size of conductor, from 1 mm2, that both
// carries a current and loses no more than the voltage allowed, there and back,
// with its copper as warm as its insulation bears. The current is in amperes,
// the length one way in metres, the voltage in volts, what the insulation bears
// in °C, the number of circuits bunched together counts itself. Ranges, errors
// and sources as DropV, CableA and GroupingPercent; where 150 mm2 is too little
// it is a *LimitError. At least 1 mm2: ISO 10133, 7.7.
func CableMM2(currentA, lengthM, allowedV, insulationC decimal.Decimal, circuits int) (decimal.Decimal, error) {
	return cableMM2(currentA, currentA, lengthM, allowedV, insulationC, circuits)
}

// FusedCableMM2 is CableMM2 for a conductor that also carries the fuse that
// FuseA gives for the current times the load factor, so that there is always a
// fuse that protects it. The load factor is 1 to 2. Errors as CableMM2 and FuseA.
func FusedCableMM2(currentA, loadFactor, lengthM, allowedV, insulationC decimal.Decimal, circuits int) (decimal.Decimal, error) {
	fuse, err := leastFuse(currentA, loadFactor)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return cableMM2(currentA, fuse, lengthM, allowedV, insulationC, circuits)
}

func cableMM2(currentA, carriedA, lengthM, allowedV, insulationC decimal.Decimal, circuits int) (decimal.Decimal, error) {
	column, err := insulation(insulationC)
	percent, errGrouped := groupingPercent(circuits)
	if err := inOrder(checkRun(currentA, lengthM, insulationC), checkAllowed(allowedV), err, errGrouped); err != nil {
		return decimal.Decimal{}, err
	}
	lost := lostVMM2(currentA, lengthM, insulationC)
	allowed := conductorMetres.Mul(allowedV)
	for i := leastAlone; i < len(conductors); i++ {
		if c := &conductors[i]; c.takes(carriedA, column, percent) && !lost.GreaterThan(allowed.Mul(c.areaMM2)) {
			return c.areaMM2, nil
		}
	}
	return decimal.Decimal{}, noCable(currentA)
}
