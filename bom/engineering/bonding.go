package engineering

import "github.com/shopspring/decimal"

const (
	mostOpeningMM = 10_000
	mostRunMM     = 100_000
	mostBeadMM    = 50
	mostSheetM2   = 1_000
)

var (
	four  = decimal.New(4, 0)
	eight = decimal.New(8, 0)
)

func askedOpening(widthMM, heightMM, radiusMM decimal.Decimal) error {
	if err := inOrder(
		quantity{"The width of the opening", widthMM, "mm"}.above(mostOpeningMM, "Give the cut in the steel in millimetres."),
		quantity{"The height of the opening", heightMM, "mm"}.above(mostOpeningMM, "Give the cut in the steel in millimetres."),
	); err != nil {
		return err
	}
	if most := decimal.Min(widthMM, heightMM).Div(two); radiusMM.Sign() < 0 || radiusMM.GreaterThan(most) {
		return quantity{"The corner radius", radiusMM, "mm"}.limit("0 to "+most.String()+" mm", "Give the radius of the corners in millimetres, at most half of the shorter side.")
	}
	return nil
}

// OpeningMM is the way around an opening with rounded corners, in mm.
//
//	around = 2 (width + height) − (8 − 2 π) · radius
//
// Width and height are in millimetres (above 0, to 10,000), so is the radius of
// the corners (0 to half of the shorter side). Outside of these it is a
// *LimitError. Rounded to 6 places. Source: geometry.
func OpeningMM(widthMM, heightMM, radiusMM decimal.Decimal) (decimal.Decimal, error) {
	if err := askedOpening(widthMM, heightMM, radiusMM); err != nil {
		return decimal.Decimal{}, err
	}
	return two.Mul(widthMM.Add(heightMM)).Sub(eight.Sub(two.Mul(pi)).Mul(radiusMM)).Round(6), nil
}

// OpeningM2 is the area of an opening with rounded corners, in m2.
//
//	area = width · height − (4 − π) · radius²
//
// Range and errors as OpeningMM. Rounded to 9 places. Source: geometry.
func OpeningM2(widthMM, heightMM, radiusMM decimal.Decimal) (decimal.Decimal, error) {
	if err := askedOpening(widthMM, heightMM, radiusMM); err != nil {
		return decimal.Decimal{}, err
	}
	return widthMM.Mul(heightMM).Sub(four.Sub(pi).Mul(radiusMM).Mul(radiusMM)).Shift(-6).Round(9), nil
}

// TriangleMM2 is the cross-section of a bead laid with a notched nozzle, in mm2:
// half of its base by its height, both in millimetres (above 0, to 50; else a
// *LimitError). Source: geometry; a triangular bead, about half higher than the
// gap it is pressed into, is how glass is bonded to a body (trade journals of
// glass fitters).
func TriangleMM2(baseMM, heightMM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The base of the bead", baseMM, "mm"}.above(mostBeadMM, "Give it in millimetres."),
		quantity{"The height of the bead", heightMM, "mm"}.above(mostBeadMM, "Give it in millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return baseMM.Mul(heightMM).Div(two), nil
}

// RoundMM2 is the cross-section of a bead from a round nozzle of diameterMM
// millimetres (above 0, to 50; else a *LimitError), in mm2. Rounded to 6 places.
// Source: geometry.
func RoundMM2(diameterMM decimal.Decimal) (decimal.Decimal, error) {
	if err := (quantity{"The diameter of the bead", diameterMM, "mm"}).above(mostBeadMM, "Give it in millimetres."); err != nil {
		return decimal.Decimal{}, err
	}
	return pi.Mul(diameterMM).Mul(diameterMM).DivRound(four, 6), nil
}

// BeadMl is the volume of a bead, in ml: its length in millimetres (0 to
// 100,000) by its cross-section in mm2 (0 to 2,500). Outside of these it is a
// *LimitError. Source: geometry; a square millimetre is a millilitre a metre.
func BeadMl(lengthMM, beadMM2 decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The length of the bead", lengthMM, "mm"}.within(0, mostRunMM, "Give it in millimetres."),
		quantity{"The cross-section of the bead", beadMM2, "mm2"}.within(0, mostBeadMM*mostBeadMM, "Give it in square millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	return lengthMM.Mul(beadMM2).Shift(-3), nil
}

// CartridgeCount is how many cartridges or bags have to be opened for neededMl
// millilitres (0 to 1,000,000), wastePercent of what is opened staying in nozzle
// and bag (0 to 90), each of eachMl millilitres (1 to 25,000). Outside of these
// it is a *LimitError. Source: makers' tables of yield divide so; the share that
// is wasted is common practice, no source.
func CartridgeCount(neededMl, wastePercent, eachMl decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"What is needed", neededMl, "ml"}.within(0, 1_000_000, "Give it in millilitres."),
		askedWaste(wastePercent),
		quantity{"What one holds", eachMl, "ml"}.within(1, 25_000, "Give it in millilitres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	// Compared as products: a quotient would round.
	whole, rest := neededMl.Mul(hundred).QuoRem(hundred.Sub(wastePercent).Mul(eachMl), 0)
	if rest.Sign() > 0 {
		whole = whole.Add(one)
	}
	return whole, nil
}

func askedWaste(percent decimal.Decimal) error {
	return quantity{"The waste", percent, "percent"}.within(0, 90, "Give the share of what is issued that is lost, in percent.")
}

// SpreadMl is how much of a glue, paint or lacquer an area takes, in ml: areaM2
// square metres (0 to 1,000), one litre for coverageM2PerL square metres (0.1 to
// 50), so many coats (1 to 10; two where both sides are coated). Outside of
// these it is a *LimitError. Rounded up to the next millilitre. Source:
// coverage as makers state it.
func SpreadMl(areaM2, coverageM2PerL, coatCount decimal.Decimal) (decimal.Decimal, error) {
	coverage := quantity{"The coverage", coverageM2PerL, "m2 per l"}
	if err := inOrder(askedSheet(areaM2), coverage.above(50, "Give the square metres a litre covers."),
		quantity{"The number of coats", coatCount, ""}.within(1, 10, "Give one, or two where both sides are coated."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	if coverageM2PerL.LessThan(decimal.New(1, -1)) {
		return decimal.Decimal{}, coverage.limit("0.1 to 50 m2 per l", "Give the square metres a litre covers.")
	}
	return areaM2.Mul(coatCount).Shift(3).DivRound(coverageM2PerL, 6).RoundUp(0), nil
}

func askedSheet(areaM2 decimal.Decimal) error {
	return quantity{"The area", areaM2, "m2"}.within(0, mostSheetM2, "Give it in square metres.")
}

// StripCount is how many strips of a roll cover a run, side by side: runMM
// millimetres (0 to 100,000) by the roll's width in millimetres less the overlap
// of two strips. Roll 50 to 5,000, overlap 0 to half of the roll; outside of
// these it is a *LimitError. Source: geometry.
func StripCount(runMM, rollWidthMM, overlapMM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The run", runMM, "mm"}.within(0, mostRunMM, "Give it in millimetres."),
		quantity{"The width of the roll", rollWidthMM, "mm"}.within(50, 5_000, "Give it in millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	if most := rollWidthMM.Div(two); overlapMM.Sign() < 0 || overlapMM.GreaterThan(most) {
		return decimal.Decimal{}, quantity{"The overlap", overlapMM, "mm"}.limit("0 to "+most.String()+" mm", "Give by how much two strips overlap.")
	}
	if runMM.LessThanOrEqual(rollWidthMM) {
		if runMM.Sign() == 0 {
			return decimal.Decimal{}, nil
		}
		return one, nil
	}
	strips, rest := runMM.Sub(overlapMM).QuoRem(rollWidthMM.Sub(overlapMM), 0)
	if rest.Sign() > 0 {
		strips = strips.Add(one)
	}
	return strips, nil
}

// RollM is how many metres come off a roll to cover a run, in m: StripCount
// strips, each dropMM millimetres long (0 to 20,000) with trimMM to cut off (0
// to 1,000). Other ranges, errors and source as StripCount.
func RollM(runMM, dropMM, rollWidthMM, overlapMM, trimMM decimal.Decimal) (decimal.Decimal, error) {
	if err := inOrder(
		quantity{"The length of a strip", dropMM, "mm"}.within(0, 20_000, "Give it in millimetres."),
		quantity{"What is trimmed off", trimMM, "mm"}.within(0, 1_000, "Give it in millimetres."),
	); err != nil {
		return decimal.Decimal{}, err
	}
	strips, err := StripCount(runMM, rollWidthMM, overlapMM)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return strips.Mul(dropMM.Add(trimMM)).Shift(-3), nil
}
