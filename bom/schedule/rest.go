package schedule

import (
	"slices"

	"wainscot/bom/calendar"
)

// Before is what of a slot lies before a day.
func (s Slot) Before(day string) Slot {
	var cut Slot
	eve, err := calendar.Add(day, -1)
	if err != nil {
		return cut
	}
	for _, o := range s.Stays {
		if o.From < day {
			cut.Stays = append(cut.Stays, Stay{o.Place, o.From, min(o.Until, eve)})
		}
	}
	for _, h := range s.Hours {
		if h.Day < day {
			cut.Hours = append(cut.Hours, h)
		}
	}
	for _, d := range s.Stages {
		if d.From < day {
			cut.Stages = append(cut.Stages, StageDays{d.Stage, d.From, min(d.Until, eve)})
		}
	}
	return cut
}

// Joined is one slot after another, as of one van. Days between the two are
// spent where the floor has room for it, in the place it was in if that has,
// else in the yard; where there is no room at all, it is away.
func (p *Plan) Joined(w Work, kept, rest Slot) Slot {
	return p.joined(w, kept, rest, false)
}

// Parted is one slot after another of a van that waits for something in
// between: it leaves its bay, and stands in the yard where there is room for it;
// where there is none, it is away.
func (p *Plan) Parted(w Work, kept, rest Slot) Slot {
	return p.joined(w, kept, rest, true)
}

func (p *Plan) joined(w Work, kept, rest Slot, inTheYard bool) Slot {
	if len(kept.Stays) == 0 {
		return rest
	}
	out := Slot{Stays: slices.Clone(kept.Stays), Stages: slices.Clone(kept.Stages), Hours: append(slices.Clone(kept.Hours), rest.Hours...)}
	l := laying{p: p, place: slices.IndexFunc(p.places, func(o Place) bool { return o.Code == kept.Stays[len(kept.Stays)-1].Place })}
	l.tasks = []task{{holds: make([]bool, len(p.places))}}
	for i := range p.places {
		l.tasks[0].holds[i] = p.places[i].holds(w) && (!inTheYard || p.places[i].Kind == Yard)
	}
	if inTheYard && l.place >= 0 && p.places[l.place].Kind != Yard {
		l.place = -1
	}
	for n := number(kept.Until()) + 1; n < number(rest.From()); n++ {
		l.keep(n)
	}
	between := l.slotOfStays()
	for _, s := range append(between, rest.Stays...) {
		last := &out.Stays[len(out.Stays)-1]
		if s.Place == last.Place && number(s.From) == number(last.Until)+1 {
			last.Until = s.Until
		} else {
			out.Stays = append(out.Stays, s)
		}
	}
	for _, d := range rest.Stages {
		if i := slices.IndexFunc(out.Stages, func(o StageDays) bool { return o.Stage == d.Stage }); i >= 0 {
			out.Stages[i].Until = d.Until
		} else {
			out.Stages = append(out.Stages, d)
		}
	}
	return out
}

// StagesOf are the days of stages as the hours of a slot have them, in the
// order of the work; of a stage without hours, nothing.
func (w Work) StagesOf(hours []DayHours) []StageDays {
	list := []StageDays{}
	for i := range w.Stages {
		d := StageDays{Stage: w.Stages[i].Code}
		for _, h := range hours {
			if h.Stage != d.Stage {
				continue
			}
			if d.From == "" || h.Day < d.From {
				d.From = h.Day
			}
			d.Until = max(d.Until, h.Day)
		}
		if d.From != "" {
			list = append(list, d)
		}
	}
	return list
}
