package quote

import (
	"fmt"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
)

// openFinishes lists the finishes still to choose, each with the last day to
// choose it. It costs nothing while all are chosen.
func (w *working) openFinishes() {
	for i := range w.out.Vans {
		v := &w.out.Vans[i]
		for _, f := range v.Specification.Finishes {
			if f.Choice == "" {
				v.OpenFinishes = append(v.OpenFinishes, w.openFinish(f.Finish))
			}
		}
	}
}

func (w *working) openFinish(code string) OpenFinish {
	open := OpenFinish{Finish: code, Name: code}
	var finish *catalogue.Finish
	list := w.offer.Release.Catalogue().Finishes
	for i := range list {
		if list[i].Code == code {
			finish = &list[i]
		}
	}
	if finish == nil {
		return open
	}
	open.Name = finish.Name
	for _, c := range finish.Choices {
		open.LeadDays = max(open.LeadDays, w.offer.Book.LeadDays(c.Part))
	}
	if w.asked.SlotWanted == "" {
		return open
	}
	if day, err := w.offer.Days.Back(w.asked.SlotWanted, open.LeadDays); err == nil {
		open.ChooseBy = day
		open.Says = fmt.Sprintf("To be chosen by %s.", calendar.Said(day))
		if w.offer.Days.Estimate(w.asked.SlotWanted) {
			open.Says = fmt.Sprintf("To be chosen by about %s: an estimate, as holidays are not counted.", calendar.Said(day))
		}
	}
	return open
}
