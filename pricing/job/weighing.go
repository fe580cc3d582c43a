package job

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/engineering"
)

// Weighing is a weighbridge ticket after the work.
type Weighing struct {
	Number int    `json:"number"`
	On     string `json:"on"`
	By     string `json:"by"`
	Ticket
	// Empty is what it comes to with nobody aboard and the tank at 90 %.
	Empty      bom.Axles `json:"empty"`
	Attachment int       `json:"attachment"`
	SHA256     string    `json:"sha256"`
}

// Ticket is what a weighbridge showed.
type Ticket struct {
	FrontKG decimal.Decimal `json:"front_kg"`
	RearKG  decimal.Decimal `json:"rear_kg"`
	// FuelPercent the tank was full, PeopleCount in the cab.
	FuelPercent int `json:"fuel_percent"`
	PeopleCount int `json:"people_count,omitempty"`
}

// weighing is the latest.
func (j *Job) weighing() Weighing {
	if n := len(j.Weighed); n > 0 {
		return j.Weighed[n-1]
	}
	return Weighing{}
}

const (
	mostOnAnAxleKG = 10_000
	mostInTheCab   = 9
)

// Weigh records a weighbridge ticket.
func (j *Job) Weigh(p *Plan, a Act, t Ticket, attachment int) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Weighed), "front_kg")
	for _, axle := range []struct {
		at string
		kg decimal.Decimal
	}{{"front_kg", t.FrontKG}, {"rear_kg", t.RearKG}} {
		if !axle.kg.IsPositive() || axle.kg.GreaterThan(decimal.NewFromInt(mostOnAnAxleKG)) || !axle.kg.Equal(axle.kg.Truncate(3)) {
			w.fault("out_of_range", axle.at, fmt.Sprintf("%s kg is no axle load.", axle.kg), "Write down what is on the ticket.")
		}
	}
	w.within("fuel_percent", t.FuelPercent, 100)
	w.within("people_count", t.PeopleCount, mostInTheCab)
	w.attachment("attachment", attachment, true)
	one := Weighing{Number: w.number(), On: a.On, By: a.By, Ticket: t, Attachment: attachment}
	if kept, ok := w.Attached(attachment); ok {
		one.SHA256 = kept.SHA256
	}
	if len(w.faults) == 0 {
		one.Empty = w.empty(p, &t)
	}
	w.Weighed = append(w.Weighed, one)
	return w.done()
}

// empty brings a ticket to an empty van.
func (w *writing) empty(p *Plan, t *Ticket) bom.Axles {
	van := bom.Van{WeighedFrontKG: &t.FrontKG, WeighedRearKG: &t.RearKG, WeighedPeopleCount: t.PeopleCount}
	if t.FuelPercent != engineering.RunningOrderPercent {
		van.WeighedFuelPercent = &t.FuelPercent
	}
	need := func(needed bool, at, fact string) {
		if _, ok := find(p.Facts, func(f *catalogue.Fact) bool { return f.Name == fact }); needed && !ok {
			w.fault("not_known", at, fmt.Sprintf("The base van does not state %s, so the ticket cannot be corrected for it.", fact), "Have it weighed with nobody aboard and the tank at 90 %.")
		}
	}
	need(t.PeopleCount > 0, "people_count", catalogue.CabSeatsFromFrontAxleMM)
	need(van.WeighedFuelPercent != nil, "fuel_percent", catalogue.FuelTankFromFrontAxleMM)
	need(van.WeighedFuelPercent != nil, "fuel_percent", catalogue.FuelTankL)
	if len(w.faults) > 0 {
		return bom.Axles{}
	}
	axles, err := bom.EmptyKG(&van, p.Facts)
	if err != nil {
		w.fault("out_of_range", "front_kg", err.Error(), "Read the ticket again.")
	}
	return axles
}

// What the ticket may differ from the sheet by before it is told: the larger of
// the two, on each axle and together. Common practice, no source; a public
// weighbridge reads in steps of 10 or 20 kg (from memory).
var (
	toleratedKG      = decimal.NewFromInt(30)
	toleratedPercent = decimal.NewFromInt(2)
)

// MassTold is a ticket held against what the sheet reckoned and what the plate
// allows.
type MassTold struct {
	Weighed, Reckoned bom.Axles
	// Beyond says in sentences where the two differ by more than is tolerated.
	Beyond []string
	// Over says where the van is over its plate, as weighed or in running
	// order: then it is not handed over.
	Over []string
}

// Masses holds the latest ticket against the sheet and the plate; false without
// a ticket.
func (j *Job) Masses(p *Plan) (MassTold, bool) {
	if len(j.Weighed) == 0 {
		return MassTold{}, false
	}
	m := &p.Mass
	t := MassTold{Weighed: j.weighing().Empty, Reckoned: m.After}
	running := bom.Axles{
		FrontKG: t.Weighed.FrontKG.Add(m.InRunningOrder.FrontKG).Sub(m.After.FrontKG),
		RearKG:  t.Weighed.RearKG.Add(m.InRunningOrder.RearKG).Sub(m.After.RearKG),
	}
	for _, on := range []struct {
		what                                string
		weighed, reckoned, running, allowed decimal.Decimal
	}{
		{"the front axle", t.Weighed.FrontKG, m.After.FrontKG, running.FrontKG, m.Plated.FrontKG},
		{"the rear axle", t.Weighed.RearKG, m.After.RearKG, running.RearKG, m.Plated.RearKG},
		{"both axles", t.Weighed.TotalKG(), m.After.TotalKG(), running.TotalKG(), m.PlatedKG},
	} {
		difference := on.weighed.Sub(on.reckoned)
		tolerated := decimal.Max(toleratedKG, on.reckoned.Mul(toleratedPercent).Shift(-2))
		if difference.Abs().GreaterThan(tolerated) {
			way := "more"
			if difference.IsNegative() {
				way = "less"
			}
			t.Beyond = append(t.Beyond, fmt.Sprintf("On %s it weighs %s kg %s than the sheet reckoned (%s kg).", on.what, difference.Abs(), way, on.reckoned))
		}
		switch {
		case !on.allowed.IsPositive():
		case on.weighed.GreaterThan(on.allowed):
			t.Over = append(t.Over, fmt.Sprintf("On %s it weighs %s kg empty, and %s kg are plated.", on.what, on.weighed, on.allowed))
		case on.running.GreaterThan(on.allowed):
			t.Over = append(t.Over, fmt.Sprintf("On %s it comes to %s kg in running order, and %s kg are plated.", on.what, on.running, on.allowed))
		}
	}
	return t, true
}

// weighedAfter says whether the ticket is of the finished van: no stage but the
// one it is weighed at, or the last, changed after it.
func (j *Job) weighedAfter(p *Plan) bool {
	number := j.weighing().Number
	return !slices.ContainsFunc(j.Steps, func(s Step) bool {
		if s.Number < number || len(p.Stages) > 0 && s.Stage == p.Stages[len(p.Stages)-1].Code {
			return false
		}
		at := p.Stage(s.Stage)
		return at == nil || !slices.ContainsFunc(at.Outside, func(o string) bool { return p.touches(o, catalogue.CautionWeight) })
	})
}
