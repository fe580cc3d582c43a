package paper

import (
	"fmt"
	"io"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
)

// NotDrawable says why a van cannot be drawn: something about it is not known,
// or cannot be.
type NotDrawable struct {
	Reason string // a whole sentence
	Remedy string
}

func (e *NotDrawable) Error() string { return e.Reason + " " + e.Remedy }

func notDrawable(remedy, reason string, args ...any) error {
	return &NotDrawable{Reason: fmt.Sprintf(reason, args...), Remedy: remedy}
}

// SheetSVG draws the van of a build sheet with its masses and axle loads. The
// only errors are of what it writes to and *NotDrawable.
func SheetSVG(w io.Writer, b BuildSheet) error {
	v, err := b.drawing()
	if err != nil {
		return err
	}
	return VanSVG(w, v)
}

// drawing makes the drawing's measures of the sheet's masses and the facts of
// its base van.
func (b BuildSheet) drawing() (VanDrawing, error) {
	c := newIndex(b.Catalogue)
	k := slices.IndexFunc(c.BaseVans, func(v catalogue.BaseVan) bool { return v.Code == b.Sheet.BaseVan })
	if k < 0 {
		return VanDrawing{}, notDrawable("Send the catalogue that the sheet was made with.", "The catalogue has no base van %q.", b.Sheet.BaseVan)
	}
	facts, m := c.BaseVans[k].Facts, &b.Sheet.Mass
	if !m.Plated.FrontKG.IsPositive() {
		return VanDrawing{}, notDrawable("Revise the quote to have them.", "The sheet is from before axle loads were worked out.")
	}
	overhang, ok := facts.Get(catalogue.FrontOverhangMM)
	if !ok || overhang.Kind != catalogue.NumberFact {
		return VanDrawing{}, notDrawable("Have it measured and stated in the catalogue.",
			"The catalogue does not state %s of this base van, so it cannot be drawn.", catalogue.FrontOverhangMM)
	}
	v := VanDrawing{
		Title: b.Title, Van: c.baseVan(b.Sheet.BaseVan), LeftHandDrive: b.LeftHandDrive, FrontOverhangMM: millimetres(overhang.Number),
		LengthMM: millimetres(facts.Number("length_mm")), WidthMM: millimetres(facts.Number("width_mm")),
		HeightMM: millimetres(facts.Number("height_mm")), WheelbaseMM: millimetres(facts.Number("wheelbase_mm")),
	}
	if b.Van.Registration != "" {
		v.Van += ", " + b.Van.Registration
	}
	front := func(a bom.Axles) decimal.Decimal { return a.FrontKG }
	rear := func(a bom.Axles) decimal.Decimal { return a.RearKG }
	v.Whole = b.axle(m.PlatedKG, bom.Axles.TotalKG, false)
	v.Front, v.Rear = b.axle(m.Plated.FrontKG, front, true), b.axle(m.Plated.RearKG, rear, true)
	b.masses(&v, facts)
	return v, nil
}

// axle is what the whole van or an axle bears, case by case. The most that may
// ever rest on an axle is no case of the whole van: both axles' are never there
// at once.
func (b BuildSheet) axle(plated decimal.Decimal, of func(bom.Axles) decimal.Decimal, worst bool) AxleDrawing {
	m := &b.Sheet.Mass
	a := AxleDrawing{PlatedKG: plated}
	add := func(name string, kg decimal.Decimal) {
		near := slices.ContainsFunc(b.Sheet.Checks, func(c bom.CheckResult) bool {
			return c.Near && c.Sense == catalogue.AtMost && c.Limit.Equal(plated) && c.Figure.Equal(kg)
		})
		a.Loads = append(a.Loads, LoadDrawing{Name: name, KG: kg, Near: near})
	}
	add("Unladen, after the work", of(m.After))
	add("In running order", of(m.InRunningOrder))
	add("With all it carries", of(m.Laden))
	if worst {
		add("The most it may ever bear", of(m.Most))
	}
	return a
}

// masses are what is put in and taken out by position, and what is carried.
func (b BuildSheet) masses(v *VanDrawing, facts catalogue.Facts) {
	m := &b.Sheet.Mass
	add := func(kind MassKind, name string, kg decimal.Decimal, at bom.Where) {
		switch {
		case kg.IsZero():
			return
		case kg.IsNegative(): // an addition that takes something off
			kind, kg = TakenOut, kg.Neg()
		}
		one := MassDrawing{Kind: kind, Name: name, KG: kg, XMM: millimetres(at.FromFrontAxleMM), YMM: millimetres(at.RightOfCentreMM)}
		if at.AboveGroundMM != nil {
			one.ZMM, one.HeightKnown = millimetres(*at.AboveGroundMM), true
		}
		v.Masses = append(v.Masses, one)
	}
	for i := range m.Positions {
		p := &m.Positions[i]
		add(Fitted, p.Name, p.AddedKG, p.Where)
		add(TakenOut, p.Name, p.RemovedKG, p.Where)
	}
	for i := range m.Loads {
		add(Carried, m.Loads[i].Name, m.Loads[i].MassKG, m.Loads[i].Where)
	}
	add(Fitted, "without a position", m.UnplacedKG, bom.Where{FromFrontAxleMM: facts.UnplacedMM()})
}

// millimetres are whole.
func millimetres(d decimal.Decimal) int { return int(d.Round(0).IntPart()) }
