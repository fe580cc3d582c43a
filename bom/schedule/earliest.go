package schedule

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
)

// Earliest is the first slot there is, and why there is none before it.
type Earliest struct {
	// Found is false where there is none with a first day up to MaxSearchDays
	// later; WhyNot says why.
	Found bool `json:"found"`
	Slot  Slot `json:"slot"`
	// WhyNot earlier: the reasons why no slot begins between the day asked for
	// and the first of the slot, the one that lasts longest first; at most
	// MaxReasons.
	WhyNot []Reason `json:"why_not_earlier"`
}

// MaxReasons are told.
const MaxReasons = 10

// Reason is why a van cannot come on some first days.
type Reason struct {
	Kind ReasonKind `json:"kind"`
	// From and Until are the first and the last of these first days.
	From  string `json:"from"`
	Until string `json:"until"`
	// Day on which it would fail if the van came on Until.
	Day string `json:"day"`
	// Stage that cannot be worked, "" for none in particular.
	Stage string `json:"stage,omitempty"`
	// Trade with LeftHours of OfHours not booked on Day.
	Trade     string          `json:"trade,omitempty"`
	LeftHours decimal.Decimal `json:"left_hours,omitzero"`
	OfHours   decimal.Decimal `json:"of_hours,omitzero"`
	// Places that would do and are taken, until TakenUntil the soonest.
	Places     []string `json:"places,omitempty"`
	TakenUntil string   `json:"taken_until,omitempty"`
	// ReadyOn is the day from which the stage can begin, its parts being here.
	ReadyOn string `json:"ready_on,omitempty"`
	// Says is all of it as whole sentences.
	Says string `json:"says"`
}

// ReasonKind is what is in the way.
type ReasonKind string

// The kinds of reason.
const (
	NoBay     ReasonKind = "place"      // no place for the stage is free
	NoHours   ReasonKind = "hours"      // the people of a trade are booked
	NoParts   ReasonKind = "parts"      // the stage cannot begin yet
	NotWorked ReasonKind = "not worked" // nobody works on the day
	NoPlace   ReasonKind = "standing"   // the van could stand nowhere
	TooLong   ReasonKind = "too long"   // the work would not end
	InOrder   ReasonKind = "order"      // what comes before is not done
)

// Earliest is the first slot for the work that begins on a day or later. Stages
// that are ready wait for their days; of stages the work does not have nothing
// is asked.
//
// Errors: calendar.ErrNotDay, ErrNothingToDo, document.Faults of the work.
func (p *Plan) Earliest(w Work, from string, ready []StageReady) (Earliest, error) {
	tasks, first, err := p.asked(w, from, ready)
	if err != nil {
		return Earliest{}, err
	}
	var missed misses
	for n := first; n <= first+MaxSearchDays; n++ {
		l, miss := p.lay(tasks, n)
		if miss == nil {
			return Earliest{Found: true, Slot: l.slot(), WhyNot: missed.reasons(p, tasks)}, nil
		}
		missed.add(*miss)
	}
	return Earliest{Slot: Slot{Stays: []Stay{}, Stages: []StageDays{}, Hours: []DayHours{}}, WhyNot: missed.reasons(p, tasks)}, nil
}

// On is the slot for the work that begins on a day and no other; Found is
// false where there is none.
//
// Errors: as Earliest.
func (p *Plan) On(w Work, day string, ready []StageReady) (Earliest, error) {
	tasks, first, err := p.asked(w, day, ready)
	if err != nil {
		return Earliest{}, err
	}
	l, miss := p.lay(tasks, first)
	if miss == nil {
		return Earliest{Found: true, Slot: l.slot(), WhyNot: []Reason{}}, nil
	}
	var missed misses
	missed.add(*miss)
	return Earliest{Slot: Slot{Stays: []Stay{}, Stages: []StageDays{}, Hours: []DayHours{}}, WhyNot: missed.reasons(p, tasks)}, nil
}

func (p *Plan) asked(w Work, from string, ready []StageReady) ([]task, int, error) {
	if err := w.Check().Err(); err != nil {
		return nil, 0, err
	}
	first, err := calendar.Number(from)
	if err != nil {
		return nil, 0, err
	}
	if _, err := calendar.Numbered(first + MaxSearchDays + 2*MaxSlotDays); err != nil {
		return nil, 0, calendar.ErrNotDay
	}
	tasks := p.tasks(w)
	if !slices.ContainsFunc(tasks, func(t task) bool { return len(t.needs) > 0 }) {
		return nil, 0, ErrNothingToDo
	}
	for _, r := range ready {
		n, err := calendar.Number(r.Day)
		if err != nil {
			return nil, 0, err
		}
		for i := range tasks {
			if t := &tasks[i]; t.code == r.Stage && n > t.ready {
				t.ready, t.because = n, r.Because
			}
		}
	}
	return tasks, first, nil
}

// misses are the first days that were none, those alike together.
type misses []missedFor

type missedFor struct {
	miss    // the last of them
	from, n int
}

func (m *misses) add(one miss) {
	for i := range *m {
		if o := &(*m)[i]; o.kind == one.kind && o.task == one.task && o.trade == one.trade {
			o.miss = one
			o.n++
			return
		}
	}
	*m = append(*m, missedFor{one, one.first, 1})
}

func (m *misses) reasons(p *Plan, tasks []task) []Reason {
	list := slices.Clone(*m)
	if len(list) > 1 { // that a day is not worked is worth telling only where nothing else is
		list = slices.DeleteFunc(list, func(o missedFor) bool { return o.kind == NotWorked })
	}
	slices.SortStableFunc(list, func(a, b missedFor) int { return b.first - a.first })
	out := make([]Reason, 0, len(list))
	for _, o := range list[:min(len(list), MaxReasons)] {
		out = append(out, p.reason(o, tasks))
	}
	return out
}

// reason puts a miss into words.
func (p *Plan) reason(o missedFor, tasks []task) Reason {
	r := Reason{Kind: o.kind, From: written(o.from), Until: written(o.first), Day: written(o.day)}
	var t *task
	if o.task >= 0 {
		t = &tasks[o.task]
		r.Stage = t.code
	}
	if o.day > o.first {
		r.Says = "A van that comes on " + calendar.Said(r.Until) + " would have to wait too long. "
	}
	switch o.kind {
	case NoBay:
		p.sayPlaces(&r, t, o.day)
	case NoHours:
		p.sayHours(&r, t, o.trade, o.day)
	case NoParts:
		r.ReadyOn = written(o.until)
		r.Says += t.name + " cannot begin before " + calendar.Said(r.ReadyOn) + "."
		if t.because != "" {
			r.Says += " " + t.because
		}
	case NotWorked:
		r.Says += "Nobody works on " + calendar.Said(r.Day)
		if closed, shut := p.floor.Calendar.WhyNot(r.Day); shut {
			r.Says += ": " + closed.Name
		}
		r.Says += "."
	case NoPlace:
		r.Says += "On " + calendar.Said(r.Day) + " no place is free for it to stand in."
	case TooLong:
		r.Says = fmt.Sprintf("It would not be done within %d days.", MaxSlotDays)
	default:
		r.Kind = InOrder
		r.Says += "On " + calendar.Said(r.Day) + " what comes before is not done."
	}
	return r
}

func (p *Plan) sayPlaces(r *Reason, t *task, n int) {
	r.Places = []string{}
	soonest := -1
	for place := range p.places {
		if !t.takes[place] {
			continue
		}
		r.Places = append(r.Places, p.places[place].Code)
		for d := n; d <= n+MaxSlotDays; d++ {
			if p.room(place, d) {
				if soonest < 0 || d < soonest {
					soonest = d
				}
				break
			}
		}
	}
	switch {
	case len(r.Places) == 0:
		r.Says += t.name + " can be done in no place that takes a van of this size."
	case soonest <= n:
		r.Says += "For " + t.name + " every place is taken on " + calendar.Said(r.Day) + "."
	default:
		r.TakenUntil = written(soonest - 1)
		r.Says += "For " + t.name + " every place is taken until " + calendar.Said(r.TakenUntil) + ": " + listed(p.names(r.Places)) + "."
	}
}

func (p *Plan) names(codes []string) []string {
	names := make([]string, len(codes))
	for i, code := range codes {
		names[i] = p.places[slices.IndexFunc(p.places, func(o Place) bool { return o.Code == code })].Name
	}
	return names
}

func (p *Plan) sayHours(r *Reason, t *task, trade, n int) {
	of := p.trades[trade]
	d := p.day(n)
	r.Trade = of.name
	most := d.most[of.pool][1<<of.bit]
	r.OfHours, r.LeftHours = hours(most), hours(p.spare(d.left, trade))
	switch {
	case len(p.pools[of.pool].members) == 0:
		r.Says += t.name + " wants the trade " + of.name + ", at which nobody of the crew may work alone."
	case most == 0:
		r.Says += "Nobody of the trade " + of.name + ", which " + t.name + " wants, works on " + calendar.Said(r.Day) + "."
	default:
		r.Says += fmt.Sprintf("%s wants the trade %s, which has %s h left of %s h on %s.", t.name, of.name,
			r.LeftHours.StringFixed(2), r.OfHours.StringFixed(2), calendar.Said(r.Day))
	}
}
