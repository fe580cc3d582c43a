package schedule

import (
	"errors"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// ErrNothingToDo is about work without hours: there is nothing to plan.
var ErrNothingToDo = errors.New("there are no hours of work in it")

// Limits of what is planned: more is refused.
const (
	MaxStages     = 200    // of one van
	MaxStageHours = 10_000 // of one trade at one stage, and of standing time
	maxTrades     = 50     // at one stage
	maxAfter      = 200
)

// Check holds work against what it must be: codes there are and given once, no
// circle, no hours below nothing.
func (w Work) Check() document.Faults {
	var c document.Collector
	add := func(code, at, reason, remedy string) {
		c.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if len(w.Stages) > MaxStages {
		add("too_many", "stages", fmt.Sprintf("There are %d stages.", len(w.Stages)), fmt.Sprintf("At most %d can be planned.", MaxStages))
		return c.Faults()
	}
	seen := map[string]bool{}
	for i := range w.Stages {
		seen[w.Stages[i].Code] = true
	}
	for i := range w.Stages {
		s := &w.Stages[i]
		at := document.Join("stages", i+1)
		if slices.IndexFunc(w.Stages, func(o Stage) bool { return o.Code == s.Code }) < i {
			add("duplicate_code", at+"/code", fmt.Sprintf("The stage %q is there twice.", s.Code), "Give each stage once.")
		}
		for j, code := range s.After {
			if !seen[code] {
				add("unknown_stage", document.Join(at, "after", j+1), fmt.Sprintf("There is no stage %q in the work.", code), "Name one that is.")
			}
		}
		if len(s.After) > maxAfter || len(s.Hours) > maxTrades {
			add("too_many", at, "It has more trades or comes after more stages than can be planned.", "Take some out.")
		}
		for j, h := range s.Hours {
			if h.Hours.IsNegative() || h.Hours.GreaterThan(decimal.New(MaxStageHours, 0)) {
				add("out_of_range", document.Join(at, "hours", j+1), fmt.Sprintf("%s hours cannot be planned.", h.Hours), fmt.Sprintf("Give 0 to %d.", MaxStageHours))
			}
		}
		if s.StandingHours.IsNegative() || s.StandingHours.GreaterThan(decimal.New(MaxStageHours, 0)) {
			add("out_of_range", at+"/standing_hours", fmt.Sprintf("%s hours cannot be planned.", s.StandingHours), fmt.Sprintf("Give 0 to %d.", MaxStageHours))
		}
	}
	if c.Faults() == nil {
		if _, circle := w.order(); circle != "" {
			add("stage_cycle", "stages", fmt.Sprintf("The stage %q comes after itself.", circle), "Take one out of an after list.")
		}
	}
	return c.Faults()
}

// Hours are all hands-on hours of the work.
func (w Work) Hours() decimal.Decimal {
	var sum decimal.Decimal
	for i := range w.Stages {
		for _, h := range w.Stages[i].Hours {
			sum = sum.Add(h.Hours)
		}
	}
	return sum
}

// order is the order in which stages are looked at: as listed, each after all
// that it comes after. A stage in a circle is told by its code.
func (w Work) order() (order []int, circle string) {
	place := make(map[string]int, len(w.Stages))
	for i := range w.Stages {
		place[w.Stages[i].Code] = i
	}
	order = make([]int, 0, len(w.Stages))
	done := make([]bool, len(w.Stages))
	for len(order) < len(w.Stages) {
		next := slices.IndexFunc(w.Stages, func(s Stage) bool {
			return !done[place[s.Code]] && !slices.ContainsFunc(s.After, func(code string) bool { return !done[place[code]] })
		})
		if next < 0 {
			return nil, w.Stages[slices.Index(done, false)].Code
		}
		done[next] = true
		order = append(order, next)
	}
	return order, ""
}

// hundredths of an hour, rounded up.
func hundredths(hours decimal.Decimal) int { return int(hours.Shift(2).Ceil().IntPart()) }

func hours(hundredths int) decimal.Decimal { return decimal.New(int64(hundredths), -2) }

// aDay is a day and a night by the clock, in hundredths of an hour.
const aDay = 2400

// task is a stage made ready for planning on a floor.
type task struct {
	code, name string
	after      []int // places in the order
	needs      []need
	standing   int
	people     int
	where      catalogue.Where
	// ready is the number of the first day it may begin, because of what.
	ready   int
	because string
	// takes says of each place of the floor whether it can be done there, holds
	// whether the van is small enough for it at all.
	takes, holds []bool
}

// need is hours of a trade, by its number on the floor.
type need struct{ trade, hours int }

// tasks makes checked work ready for the floor, in the order of planning.
func (p *Plan) tasks(w Work) []task {
	order, _ := w.order()
	place := make(map[string]int, len(order)) // in the order
	for i, of := range order {
		place[w.Stages[of].Code] = i
	}
	tasks := make([]task, len(order))
	for i, of := range order {
		s := &w.Stages[of]
		t := task{code: s.Code, name: s.Name, standing: hundredths(s.StandingHours), people: s.MostPeople, where: s.Where}
		if t.people == 0 {
			t.people = DefaultMostPeople
		}
		for _, code := range s.After {
			t.after = append(t.after, place[code])
		}
		for _, h := range s.Hours {
			n := hundredths(h.Hours)
			if n == 0 {
				continue
			}
			trade := p.trade(h.Trade)
			if j := slices.IndexFunc(t.needs, func(n need) bool { return n.trade == trade }); j >= 0 {
				t.needs[j].hours += n
			} else {
				t.needs = append(t.needs, need{trade, n})
			}
		}
		t.takes, t.holds = make([]bool, len(p.places)), make([]bool, len(p.places))
		for j := range p.places {
			t.holds[j] = p.places[j].holds(w)
			t.takes[j] = t.holds[j] && p.places[j].takes(s)
		}
		tasks[i] = t
	}
	return tasks
}

// takes says whether the stage can be done in the place.
func (p *Place) takes(s *Stage) bool {
	switch {
	case len(p.Stages) > 0 && !slices.Contains(p.Stages, s.Code):
		return false
	case s.Where == catalogue.Anywhere:
		return true
	case s.Where == catalogue.InYard:
		return p.Kind == Yard
	}
	return p.Kind == Bay
}

// holds says whether the van is small enough for the place.
func (p *Place) holds(w Work) bool {
	return (p.MostLengthMM == 0 || w.LengthMM <= p.MostLengthMM) && (p.MostHeightMM == 0 || w.HeightMM <= p.MostHeightMM)
}
