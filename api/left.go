package api

import (
	"slices"

	"wainscot/bom/schedule"
	"wainscot/pricing/job"
)

// left is what is left of a van's work by its board, and what it has behind it
// of its slot.
type left struct {
	whole schedule.Work
	rest  schedule.Work
	// kept are the days that are over, with the hours that were worked on them.
	kept  schedule.Slot
	ready []schedule.StageReady
}

// left is what is left on a day of a van that has a slot, an empty one for none.
// ready says when its parts are here. Only a van that is in the workshop has
// anything behind it, whatever was planned.
func (p *planned) left(slot schedule.Slot, today string, ready []schedule.StageReady) (*left, error) {
	l := &left{whole: p.work, rest: p.work, ready: slices.Clone(ready)}
	if p.content == nil {
		return l, nil
	}
	if p.job.State == job.InTheWorkshop {
		l.kept = slot.Before(today)
	}
	var cures []schedule.StageReady
	var err error
	l.rest, l.kept, cures, err = p.content.RestOf(p.work, l.kept)
	l.ready = append(l.ready, cures...)
	return l, err
}

// earliest lays it on the first days there are from a day on. The van's own slot
// is off the plan.
func (l *left) earliest(plan *schedule.Plan, from string) (schedule.Earliest, error) {
	found, err := plan.Earliest(l.rest, from, l.ready)
	return l.after(plan.Joined, found), err
}

// on lays it from a day on and no other.
func (l *left) on(plan *schedule.Plan, day string) (schedule.Earliest, error) {
	found, err := plan.On(l.rest, day, l.ready)
	return l.after(plan.Joined, found), err
}

// parted is earliest of a van that leaves its bay until then.
func (l *left) parted(plan *schedule.Plan, from string) (schedule.Earliest, error) {
	found, err := plan.Earliest(l.rest, from, l.ready)
	return l.after(plan.Parted, found), err
}

// after puts what was found behind what is over.
func (l *left) after(join func(w schedule.Work, kept, rest schedule.Slot) schedule.Slot, found schedule.Earliest) schedule.Earliest {
	if found.Found {
		found.Slot = join(l.whole, l.kept, found.Slot)
	}
	return found
}
