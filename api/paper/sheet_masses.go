package paper

import (
	"github.com/shopspring/decimal"

	"wainscot/bom"
)

// masses writes what rests on the axles case by case, then each mass and where
// it sits.
func (k *workbook) masses(g *grid) error {
	err := g.start([]float64{16, 44, 12, 12, 12, 16, 16, 16},
		[]string{"What", "Name", "Mass, kg", "Front, kg", "Rear, kg", "Behind the front axle, mm", "Right of the middle, mm", "Above ground, mm"})
	if err != nil {
		return err
	}
	m := &k.sheet.Sheet.Mass
	if !m.Plated.FrontKG.IsPositive() {
		return nil // from before axle loads were worked out
	}
	together := func(a bom.Axles) any { return g.number(k.quantity, a.TotalKG()) }
	for _, c := range []struct {
		name  string
		axles bom.Axles
		whole any
	}{
		{"Plated", m.Plated, g.number(k.quantity, m.PlatedKG)},
		{"Before the work", m.Before, together(m.Before)},
		{"After the work, empty", m.After, together(m.After)},
		{"In running order", m.InRunningOrder, together(m.InRunningOrder)},
		{"Laden", m.Laden, together(m.Laden)},
		{"The most there may be", m.Most, nil}, // never on both axles at once
	} {
		if err := g.add(g.text("On the axles"), g.wrap(c.name), c.whole, g.number(k.quantity, c.axles.FrontKG), g.number(k.quantity, c.axles.RearKG)); err != nil {
			return err
		}
	}
	for i := range m.Positions {
		p := &m.Positions[i]
		if err := k.mass(g, "Put in", p.Name, p.AddedKG, &p.Where); err != nil {
			return err
		}
		if err := k.mass(g, "Taken out", p.Name, p.RemovedKG, &p.Where); err != nil {
			return err
		}
	}
	if err := k.mass(g, "Put in", "without a position", m.UnplacedKG, nil); err != nil {
		return err
	}
	for i := range m.Loads {
		if err := k.mass(g, "Carried", m.Loads[i].Name, m.Loads[i].MassKG, &m.Loads[i].Where); err != nil {
			return err
		}
	}
	return nil
}

// mass writes one mass that is any.
func (k *workbook) mass(g *grid, what, name string, kg decimal.Decimal, at *bom.Where) error {
	if kg.IsZero() {
		return nil
	}
	cells := []any{g.text(what), g.wrap(clean(name)), g.number(k.quantity, kg)}
	if at != nil {
		cells = append(cells, nil, nil, g.number(k.quantity, at.FromFrontAxleMM), g.number(k.quantity, at.RightOfCentreMM))
		if at.AboveGroundMM != nil {
			cells = append(cells, g.number(k.quantity, *at.AboveGroundMM))
		}
	}
	return g.add(cells...)
}
