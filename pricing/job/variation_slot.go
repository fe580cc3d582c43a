package job

import (
	"fmt"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
	"wainscot/pricing/quote"
)

// AboutSlot tells of the days of the van in the workshop.
const AboutSlot quote.About = "slot"

// SlotChange is what a variation does to the days of the van, as the floor is
// booked on the day of the variation: what is left of the work laid out anew,
// with nobody else moved. Nothing is booked by it before the yes.
type SlotChange struct {
	// Was is the first and the last day as they are booked, Is as they would be;
	// nothing where there are no such days.
	Was   schedule.Period `json:"was"`
	Is    schedule.Period `json:"is,omitzero"`
	Stays []schedule.Stay `json:"stays,omitempty"`
	Moved *schedule.Move  `json:"moved,omitempty"`
	// WhyNot, where there are none: whole sentences.
	WhyNot []string `json:"why_not,omitempty"`
}

// SlotChangeOf is what becomes of a slot that would be laid out so.
func SlotChangeOf(was schedule.Slot, laid schedule.Earliest) SlotChange {
	c := SlotChange{Was: schedule.Period{From: was.From(), Until: was.Until()}}
	if !laid.Found {
		for _, r := range laid.WhyNot {
			c.WhyNot = append(c.WhyNot, r.Says)
		}
		return c
	}
	moved := schedule.Moved(was, laid.Slot)
	c.Is, c.Stays, c.Moved = schedule.Period{From: laid.Slot.From(), Until: laid.Slot.Until()}, laid.Slot.Stays, &moved
	return c
}

// Says it to the customer; day is that of the variation.
func (c *SlotChange) Says(day string) string {
	if c.Moved == nil {
		return "When the van is ready has to be planned anew: it was to be on " + calendar.Said(c.Was.Until) + "."
	}
	says := "The van is ready on " + calendar.Said(c.Is.Until)
	switch later := c.Moved.LeavesLater; {
	case later > 0:
		says += ", " + days(later) + " later than planned so far"
	case later < 0:
		says += ", " + days(-later) + " earlier than planned so far"
	default:
		says += ", as planned so far"
	}
	if c.Moved.ComesLater != 0 {
		says += ", and comes in on " + calendar.Said(c.Is.From) + " instead of " + calendar.Said(c.Was.From)
	}
	return says + ". These are days that are free on " + calendar.Said(day) + "; they are kept for the van once you have said yes. Should others have them by then, you are told which ones it gets."
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// OnFloor says what the variation does to the days of the van.
func (v *Variation) OnFloor(c SlotChange) {
	v.Slot = &c
	v.Says = append(v.Says, Told{About: AboutSlot, Says: c.Says(v.Day)})
}

// Keeps says whether days that are there for the van when the customer says yes
// are no worse than those that were told with the variation, or, where none
// were, than those it had.
func (v *Variation) Keeps(was schedule.Slot, laid schedule.Earliest) bool {
	until, from := was.Until(), was.From()
	if v.Slot != nil && v.Slot.Moved != nil {
		until = v.Slot.Is.Until
		if laid.Slot.From() == v.Slot.Is.From {
			from = v.Slot.Is.From
		}
	}
	return laid.Found && laid.Slot.Until() <= until && laid.Slot.From() == from
}

// Broken says why days that are there for the van are not those that were told.
func (v *Variation) Broken(was schedule.Slot, laid schedule.Earliest) string {
	told := was.Until()
	if v.Slot != nil && v.Slot.Moved != nil {
		told = v.Slot.Is.Until
	}
	switch {
	case !laid.Found && len(laid.WhyNot) > 0:
		return fmt.Sprintf("What variation %d leaves to do has no days. %s", v.Number, laid.WhyNot[0].Says)
	case !laid.Found:
		return fmt.Sprintf("What variation %d leaves to do has no days.", v.Number)
	case laid.Slot.Until() > told:
		return fmt.Sprintf("With variation %d the van would be ready on %s, and was to be on %s.", v.Number, calendar.Said(laid.Slot.Until()), calendar.Said(told))
	}
	return fmt.Sprintf("With variation %d the van would come in on %s, and was to on %s.", v.Number, calendar.Said(laid.Slot.From()), calendar.Said(was.From()))
}

// With is what the job is with a variation, as of a day, whoever says yes to it.
// A stage that is done and at which it gives anything to do is under way again;
// one that has nothing to do any more is gone, unless work on it has begun.
func (j *Job) With(v *Variation, on string, stages []catalogue.Stage) Job {
	out := *j
	out.Variation = v.Number
	out.Findings = answered(j.Findings, v.Findings, v.Number, FindingSettled)
	out.Stages = restaged(j.Stages, stagesOf(&v.Van.Sheet, stages), &v.Difference)
	out.reopened(j.Stages, on)
	return out
}
