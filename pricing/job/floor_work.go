package job

import (
	"fmt"
	"slices"

	"wainscot/bom"
	"wainscot/bom/calendar"
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

// OrderedToday says from which day on each stage of a build sheet can begin if
// the parts for the job are ordered today and come after their supplier's lead
// days, in days worked. Stages that nothing has to come for are left out.
//
// Errors: those of the calendar.
func OrderedToday(sheet *bom.Sheet, days calendar.Calendar, today string, leadDays func(part string) int) ([]schedule.StageReady, error) {
	var list []schedule.StageReady
	longest := map[string]int{}
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		if l.Kind != bom.PartLine || l.Code == "" || l.Provision != catalogue.ForTheJob {
			continue
		}
		lead := leadDays(l.Code)
		if lead <= longest[l.Stage] {
			continue
		}
		day, err := days.Forward(today, lead)
		if err != nil {
			return nil, err
		}
		r := schedule.StageReady{Stage: l.Stage, Day: day,
			Because: fmt.Sprintf("Ordered today, %s takes %d working days.", l.Name, lead)}
		if longest[l.Stage] == 0 {
			list = append(list, r)
		} else {
			list[slices.IndexFunc(list, func(o schedule.StageReady) bool { return o.Stage == l.Stage })] = r
		}
		longest[l.Stage] = lead
	}
	return list, nil
}
