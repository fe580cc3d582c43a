package job

import (
	"slices"

	"github.com/shopspring/decimal"

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

// RestOf is what is left of the work by the board, whatever the plan says was
// worked: of stages under way the hours that were not, of those that are done or
// left out nothing. worked is what of kept, the slot so far, was really worked.
// ready says from when on what comes after something that still cures can begin.
func (j *Job) RestOf(w schedule.Work, kept schedule.Slot) (rest schedule.Work, worked schedule.Slot, ready []schedule.StageReady, err error) {
	rest = schedule.Work{LengthMM: w.LengthMM, HeightMM: w.HeightMM}
	worked = schedule.Slot{Stays: kept.Stays}
	over := func(stage string) bool { return slices.Contains([]StageState{Done, LeftOut}, j.StageState(stage)) }
	for i := range w.Stages {
		s := w.Stages[i]
		if over(s.Code) {
			continue
		}
		var hours []schedule.TradeHours
		for _, h := range s.Hours {
			if h.Hours = h.Hours.Sub(j.HoursAt(s.Code, h.Trade)); h.Hours.IsPositive() {
				hours = append(hours, h)
			}
		}
		s.Hours = hours
		for _, code := range s.After {
			if k := slices.IndexFunc(w.Stages, func(o schedule.Stage) bool { return o.Code == code }); k >= 0 && over(code) {
				cures, err := j.cures(&w.Stages[k], s.Code)
				if err != nil {
					return rest, worked, nil, err
				}
				ready = append(ready, cures...)
			}
		}
		s.After = slices.DeleteFunc(slices.Clone(s.After), over)
		rest.Stages = append(rest.Stages, s)
	}
	booked := map[[2]string]decimal.Decimal{}
	for _, h := range kept.Hours {
		if !over(h.Stage) {
			key := [2]string{h.Stage, h.Trade}
			h.Hours = decimal.Min(h.Hours, j.HoursAt(h.Stage, h.Trade).Sub(booked[key]))
			booked[key] = booked[key].Add(h.Hours)
		}
		if h.Hours.IsPositive() {
			worked.Hours = append(worked.Hours, h)
		}
	}
	worked.Stages = w.StagesOf(worked.Hours)
	return rest, worked, ready, nil
}

// cures says when a stage can begin after one that is done and stands: from the
// end of the day on, as nobody knows the hour.
func (j *Job) cures(before *schedule.Stage, stage string) ([]schedule.StageReady, error) {
	if before.StandingHours.Sign() <= 0 {
		return nil, nil
	}
	for i := range slices.Backward(j.Steps) {
		if s := &j.Steps[i]; s.Stage == before.Code && s.To == Done {
			day, err := calendar.Add(s.On, 1+int(before.StandingHours.Div(decimal.NewFromInt(hoursOfDay)).Ceil().IntPart()))
			return []schedule.StageReady{{Stage: stage, Day: day, Because: before.Name + " has to cure first."}}, err
		}
	}
	return nil, nil
}
