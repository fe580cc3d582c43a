package supply

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/schedule"
)

// MostNamed is how many of the things a stage waits for are named.
const MostNamed = 3

// ReadyBy says for every stage of a job when its parts can be there at the
// earliest, if they are ordered today: from what the plan of the jobs booked
// leaves in stock and due, else after their lead times. What is made at the
// bench takes its bench days from when its components are there. The days of
// the wants do not count. Stages come in the order in which the wants name
// them, and what is spare goes to the first. A stage all of whose parts are
// here is left out. What nobody has said the lead time of counts as here. The
// plan must be without the job's own wants.
//
// Errors: as Net.
func (p *Position) ReadyBy(booked *Plan, wants []Want) ([]schedule.StageReady, error) {
	// As if all were wanted today: then whatever is not there is late, and the
	// netting says by what it is met.
	dated := slices.Clone(wants)
	for i := range dated {
		dated[i].Day = p.Today
	}
	left := *p
	left.Held, left.Due = slices.Clone(booked.SpareStock), booked.Spare
	for _, h := range p.Held { // what is kept for the job is its own
		if h.Job != "" && slices.ContainsFunc(wants, func(w Want) bool { return w.Job == h.Job }) {
			left.Held = append(left.Held, h)
		}
	}
	plan, err := left.Net(dated)
	if err != nil {
		return nil, err
	}
	r := readiness{p: p, days: daysOf(p.Calendar), wants: dated, items: make(map[itemKey]*Item, len(p.Items)), at: map[string]int{}}
	for i := range p.Items {
		r.items[keyOf(p.Items[i].Kind, p.Items[i].Code)] = &p.Items[i]
	}
	return r.read(&plan)
}

type readiness struct {
	p     *Position
	days  *days
	wants []Want
	items map[itemKey]*Item
	ready []stageReady
	at    map[string]int
}

// stageReady is a stage with the codes of what comes on its day.
type stageReady struct {
	stage, day string
	waits      []string
	lead       int // working days of the first of them; 0: it is due
}

func (r *readiness) read(plan *Plan) ([]schedule.StageReady, error) {
	for i := range r.wants {
		if _, seen := r.at[r.wants[i].Stage]; !seen {
			r.at[r.wants[i].Stage] = len(r.ready)
			r.ready = append(r.ready, stageReady{stage: r.wants[i].Stage, day: r.p.Today})
		}
	}
	for _, l := range plan.Late {
		if err := r.there(l.Want, l.Code, l.There, 0); err != nil {
			return nil, err
		}
	}
	for k := range plan.Buy {
		b := &plan.Buy[k]
		item := r.items[keyOf(b.Kind, b.Code)]
		if item == nil || item.Unsourced {
			continue
		}
		day, err := r.days.on(r.p.Today, item.LeadDays)
		if err != nil {
			return nil, err
		}
		for _, f := range b.For {
			if err := r.there(f.Want, b.Code, day, item.LeadDays); err != nil {
				return nil, err
			}
		}
	}
	for k := range plan.Make { // takes its bench days though all components are there
		for _, f := range plan.Make[k].For {
			item := r.items[keyOf(plan.Make[k].Kind, plan.Make[k].Code)]
			if f.Want < 0 || item == nil {
				continue
			}
			day, err := r.days.on(r.p.Today, item.LeadDays)
			if err == nil {
				err = r.there(f.Want, plan.Make[k].Code, day, item.LeadDays)
			}
			if err != nil {
				return nil, err
			}
		}
	}
	return r.said(), nil
}

// said writes the stages that wait, each with a sentence.
func (r *readiness) said() []schedule.StageReady {
	names := make(map[string]string, len(r.wants))
	for i := range r.wants {
		names[r.wants[i].Code] = r.wants[i].Name
	}
	var list []schedule.StageReady
	for _, s := range r.ready {
		if s.day == r.p.Today {
			continue
		}
		slices.Sort(s.waits)
		s.waits = slices.Compact(s.waits)
		named := make([]string, min(len(s.waits), MostNamed))
		for i := range named {
			named[i] = cmp.Or(names[s.waits[i]], s.waits[i])
		}
		says := strings.Join(named, ", ")
		if more := len(s.waits) - len(named); more > 0 {
			says += fmt.Sprintf(" and %d more", more)
		}
		if s.lead == 0 {
			says = fmt.Sprintf("It waits for what is due: %s.", says)
		} else {
			says = fmt.Sprintf("Ordered or begun today, it takes %s: %s.", workingDays(s.lead), says)
		}
		list = append(list, schedule.StageReady{Stage: s.stage, Day: s.day, Because: says})
	}
	return list
}

func workingDays(n int) string {
	if n == 1 {
		return "1 working day"
	}
	return fmt.Sprintf("%d working days", n)
}

// there says that a want is met on a day; what it goes into takes its time
// from then on.
func (r *readiness) there(want int, code, day string, lead int) error {
	if want < 0 {
		return nil
	}
	w := &r.wants[want]
	for _, kit := range slices.Backward(w.Via) {
		if item := r.items[keyOf(Kit, kit)]; item != nil {
			var err error
			if day, err = r.days.on(day, item.LeadDays); err != nil {
				return err
			}
		}
	}
	s := &r.ready[r.at[w.Stage]]
	switch strings.Compare(day, s.day) {
	case 1:
		s.day, s.waits, s.lead = day, []string{code}, lead
	case 0:
		s.waits = append(s.waits, code)
	}
	return nil
}

// Hit is a want that was met in time and is not any more.
type Hit struct {
	Want     int
	Code     string // of what is late: the want's own, or a component's
	Quantity decimal.Decimal
	Wanted   string // the day
	// There is the day it comes now.
	There string
	// Order it comes with; "" where it has to be ordered anew, by StartBy at
	// the latest if it is to be there on that day.
	Order, StartBy string
}

// Hits are whom deliveries reach that come on other days than was thought:
// wants met in time with what is due as it was, and late, or only if something
// is ordered anew, with it as it is now.
//
// Errors: as Net.
func (p *Position) Hits(wants []Want, now []Due) ([]Hit, error) {
	before, err := p.Net(wants)
	if err != nil {
		return nil, err
	}
	moved := *p
	moved.Due = now
	after, err := moved.Net(wants)
	if err != nil {
		return nil, err
	}
	type of struct {
		want int
		code string
	}
	was := map[of]bool{}
	for _, l := range before.Late {
		was[of{l.Want, l.Code}] = true
	}
	for i := range before.Buy {
		for _, f := range before.Buy[i].For {
			was[of{f.Want, before.Buy[i].Code}] = true
		}
	}
	var hits []Hit
	for _, l := range after.Late {
		if l.Want >= 0 && !was[of{l.Want, l.Code}] {
			hits = append(hits, Hit{Want: l.Want, Code: l.Code, Quantity: l.Quantity, Wanted: l.Wanted, There: l.There, Order: l.Order})
		}
	}
	counted := daysOf(p.Calendar)
	for i := range after.Buy {
		b := &after.Buy[i]
		there := b.Day
		if b.TooLate {
			if there, err = counted.on(p.Today, p.lead(b)); err != nil {
				return nil, err
			}
		}
		for _, f := range b.For {
			if f.Want >= 0 && !was[of{f.Want, b.Code}] {
				hits = append(hits, Hit{Want: f.Want, Code: b.Code, Quantity: f.Quantity, Wanted: b.Day, There: there, StartBy: b.StartBy})
			}
		}
	}
	slices.SortStableFunc(hits, func(a, b Hit) int { return cmp.Or(strings.Compare(a.Wanted, b.Wanted), a.Want-b.Want) })
	return hits, nil
}

func (p *Position) lead(b *Planned) int {
	for i := range p.Items {
		if p.Items[i].Code == b.Code && keyOf(p.Items[i].Kind, "") == keyOf(b.Kind, "") {
			return p.Items[i].LeadDays
		}
	}
	return 0
}
