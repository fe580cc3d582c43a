package job

import (
	"slices"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
)

// FloorWork is what of a build sheet the floor has to plan: its stages that
// have anything to do, with hours by trade, and how long and high the van is.
// c is the catalogue of the release the sheet was made with.
func FloorWork(sheet *bom.Sheet, c *catalogue.Catalogue) schedule.Work {
	var w schedule.Work
	for _, s := range stagesOf(sheet, c.Stages) {
		of := &c.Stages[slices.IndexFunc(c.Stages, func(o catalogue.Stage) bool { return o.Code == s.Code })]
		w.Stages = append(w.Stages, schedule.Stage{
			Code: s.Code, Name: s.Name, After: s.After, StandingHours: s.StandingHours, MostPeople: of.MostPeople, Where: of.Where,
			Hours: hoursAt(sheet, s.Code),
		})
	}
	for i := range c.BaseVans {
		if c.BaseVans[i].Code == sheet.BaseVan {
			w.LengthMM, w.HeightMM = factMM(&c.BaseVans[i], "length_mm"), factMM(&c.BaseVans[i], "height_mm")
		}
	}
	return w
}

func hoursAt(sheet *bom.Sheet, stage string) []schedule.TradeHours {
	var list []schedule.TradeHours
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		if l.Stage != stage || l.Kind != bom.HoursLine || !l.Quantity.IsPositive() {
			continue
		}
		if j := slices.IndexFunc(list, func(h schedule.TradeHours) bool { return h.Trade == l.Code }); j >= 0 {
			list[j].Hours = list[j].Hours.Add(l.Quantity)
		} else {
			list = append(list, schedule.TradeHours{Trade: l.Code, Hours: l.Quantity})
		}
	}
	return list
}

func factMM(b *catalogue.BaseVan, name string) int {
	for _, f := range b.Facts {
		if f.Name == name && f.Kind == catalogue.NumberFact {
			return int(f.Number.Ceil().IntPart())
		}
	}
	return 0
}
