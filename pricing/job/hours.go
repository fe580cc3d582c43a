package job

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
)

// Worked are hours that one of the crew worked, or the counter-entry that takes
// them back.
type Worked struct {
	Number int    `json:"number"`
	Crew   string `json:"crew"`
	Stage  string `json:"stage"`
	Trade  string `json:"trade"`
	On     string `json:"on"`
	By     string `json:"by"`
	// Hours to two places; below nothing in a counter-entry.
	Hours decimal.Decimal `json:"hours"`
	// Corrects is the number of the entry that this one takes back.
	Corrects int  `json:"corrects,omitempty"`
	Because  Note `json:"because,omitempty"`
}

// NewHours are hours to be recorded, all of one day.
type NewHours struct {
	Crew, Stage, Trade string
	Hours              decimal.Decimal
}

const (
	hourPlaces = 2
	hoursOfDay = 24
)

// Work records hours of a day, of several people at once where they worked
// together. Who may not work alone at a trade needs somebody beside them who
// may, with hours at the same stage and trade on the same day: recorded before
// or in the same list.
func (j *Job) Work(p *Plan, crew []schedule.Member, a Act, list []NewHours) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Hours)+len(list), "hours")
	if len(list) == 0 {
		w.fault("missing", "hours", "There are no hours.", "Give those of one person at least.")
	}
	for i := range list {
		w.hours(p, crew, document.Join("hours", i+1), &list[i])
	}
	if len(w.faults) == 0 {
		w.together(crew, a.On, func(i int) string {
			if k := i - len(j.Hours); k >= 0 {
				return document.Join("hours", k+1) + "/crew"
			}
			return "hours"
		})
	}
	return w.done()
}

func (w *writing) hours(p *Plan, crew []schedule.Member, at string, n *NewHours) {
	if s := w.stage(p, at+"/stage", n.Stage); s != nil && !slices.Contains([]StageState{UnderWay, Done}, w.StageState(s.Code)) {
		w.fault(NotInThisState, at+"/stage", fmt.Sprintf("%s is %s.", s.Name, w.StageState(s.Code)), "Begin the stage first.")
	}
	w.trade(p, crew, at, n)
	switch {
	case !n.Hours.IsPositive():
		w.fault("out_of_range", at+"/hours", fmt.Sprintf("%s h is no time worked.", n.Hours), "Give hours above nothing; what was too much is taken back by a correction.")
	case !n.Hours.Equal(n.Hours.Truncate(hourPlaces)):
		w.fault("out_of_range", at+"/hours", fmt.Sprintf("%s h is written too finely.", n.Hours), "Give hundredths of an hour at most.")
	default:
		day := n.Hours
		for i := range w.Hours {
			if e := &w.Hours[i]; e.Crew == n.Crew && e.On == w.act.On {
				day = day.Add(e.Hours)
			}
		}
		if day.GreaterThan(decimal.NewFromInt(hoursOfDay)) {
			w.fault("out_of_range", at+"/hours", fmt.Sprintf("That makes %s h on one day.", day), "A day has 24: take back what was recorded twice.")
		}
	}
	w.Hours = append(w.Hours, Worked{Number: w.number(), Crew: n.Crew, Stage: n.Stage, Trade: n.Trade, On: w.act.On, By: w.act.By, Hours: n.Hours})
}

// trade checks who works at which.
func (w *writing) trade(p *Plan, crew []schedule.Member, at string, n *NewHours) {
	m, known := find(crew, func(m *schedule.Member) bool { return m.ID == n.Crew })
	if !known {
		w.fault("unknown_crew", at+"/crew", "There is nobody of the crew by that id.", "Name one of the crew.")
	}
	if known && m.LeftOn != "" && m.LeftOn <= w.act.On {
		w.fault("has_left", at+"/crew", "They were not of the crew any more on that day.", "Give a day before they left, or name who worked.")
	}
	t, ok := find(p.Trades, func(t *catalogue.Trade) bool { return t.Code == n.Trade })
	switch {
	case !ok:
		w.fault("unknown_trade", at+"/trade", fmt.Sprintf("There is no trade %q.", n.Trade), "Name one of the catalogue's.")
	case known && !works(&m, n.Trade):
		w.fault("not_their_trade", at+"/trade", fmt.Sprintf("They do not work as %s.", lower(t.Name)), "Name a trade of theirs, or give them this one.")
	}
}

func works(m *schedule.Member, trade string) bool {
	return slices.ContainsFunc(m.Trades, func(t schedule.MemberTrade) bool { return t.Trade == trade })
}

func alone(m *schedule.Member, trade string) bool {
	return slices.ContainsFunc(m.Trades, func(t schedule.MemberTrade) bool { return t.Trade == trade && t.Alone })
}

// together looks through the hours of a day for somebody who was alone at a
// trade and may not be; at names the field of an entry.
func (w *writing) together(crew []schedule.Member, day string, at func(i int) string) {
	for i := range w.Hours {
		e := &w.Hours[i]
		if e.On != day || e.Corrects != 0 || w.corrected(e.Number) {
			continue
		}
		m, known := find(crew, func(m *schedule.Member) bool { return m.ID == e.Crew })
		if !known || alone(&m, e.Trade) {
			continue
		}
		beside := slices.ContainsFunc(w.Hours, func(o Worked) bool {
			if o.On != day || o.Stage != e.Stage || o.Trade != e.Trade || o.Corrects != 0 || w.corrected(o.Number) {
				return false
			}
			other, ok := find(crew, func(m *schedule.Member) bool { return m.ID == o.Crew })
			return ok && alone(&other, e.Trade)
		})
		if !beside {
			w.fault("alone", at(i), "They may not work alone at this trade, and nobody who may was at it that day.",
				"Record the hours of whoever was beside them as well, or have the work done by somebody who may do it alone.")
		}
	}
}

// HoursAt are the hours worked at a stage by a trade, less what was taken back.
func (j *Job) HoursAt(stage, trade string) decimal.Decimal {
	var sum decimal.Decimal
	for i := range j.Hours {
		if h := &j.Hours[i]; h.Stage == stage && h.Trade == trade {
			sum = sum.Add(h.Hours)
		}
	}
	return sum
}

// HoursAt are the hours planned at a stage of a trade.
func (p *Plan) HoursAt(stage, trade string) decimal.Decimal {
	var sum decimal.Decimal
	if s := p.Stage(stage); s != nil {
		for _, h := range s.Hours {
			if h.Trade == trade {
				sum = sum.Add(h.Hours)
			}
		}
	}
	return sum
}

// corrected says whether hours were taken back.
func (w *writing) corrected(number int) bool {
	return slices.ContainsFunc(w.Hours, func(e Worked) bool { return e.Corrects == number })
}

// TakeBack records the counter-entry to hours that were recorded wrongly. What
// they should have been is recorded anew.
func (j *Job) TakeBack(crew []schedule.Member, a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Hours), "entry")
	e, ok := find(j.Hours, func(e *Worked) bool { return e.Number == number })
	switch {
	case !ok:
		w.fault("unknown_entry", "entry", fmt.Sprintf("The job has no hours %d.", number), "Name one of its entries.")
		return w.done()
	case e.Corrects != 0:
		w.fault("is_correction", "entry", "That is a counter-entry itself.", "Record the hours anew.")
	case w.corrected(number):
		w.fault(NotInThisState, "entry", "The hours are taken back already.", "Read them again.")
	}
	back := Worked{Number: w.number(), Crew: e.Crew, Stage: e.Stage, Trade: e.Trade, On: e.On, By: a.By, Hours: e.Hours.Neg(), Corrects: number}
	back.Because = w.note("because", because, true)
	w.Hours = append(w.Hours, back)
	if len(w.faults) == 0 {
		w.together(crew, e.On, func(int) string { return "entry" })
	}
	return w.done()
}

// PartUsed is so much of a part issued to the job, or, below nothing, returned.
type PartUsed struct {
	Number   int             `json:"number"`
	Part     string          `json:"part"`
	Stage    string          `json:"stage"`
	On       string          `json:"on"`
	By       string          `json:"by"`
	Quantity decimal.Decimal `json:"quantity"`
	Because  Note            `json:"because,omitempty"`
}

// NewPart is a quantity to be recorded; below nothing it comes back.
type NewPart struct {
	Part, Stage string
	Quantity    decimal.Decimal
	// Because is wanted where it is more than the sheet has at the stage, or
	// comes back, and nobody Counted it.
	Because string
	// Counted: it was recorded where stock is moved, and what moves there moves
	// whatever the sheet says.
	Counted bool
}

// mostOfAPart is more of a part than any van takes.
const mostOfAPart = 1_000_000

// Use records a part issued or returned. known says whether the catalogue has
// it.
func (j *Job) Use(p *Plan, a Act, n NewPart, known func(part string) bool) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Parts), "part")
	w.stage(p, "stage", n.Stage)
	if !known(n.Part) {
		w.fault("unknown_part", "part", fmt.Sprintf("There is no part %q.", n.Part), "Name one of the catalogue's.")
	}
	so, wanted := n.Quantity.Add(j.Used(n.Stage, n.Part)), p.Wanted(n.Stage, n.Part)
	switch {
	case n.Quantity.IsZero() || n.Quantity.Abs().GreaterThan(decimal.NewFromInt(mostOfAPart)) || !n.Quantity.Equal(n.Quantity.Truncate(catalogue.MaxPartDecimals)):
		w.fault("out_of_range", "quantity", fmt.Sprintf("%s is no quantity of a part.", n.Quantity), "Give how much was issued; below nothing, how much came back.")
	case so.IsNegative():
		w.fault("more_than_issued", "quantity", "More comes back than was issued to this stage.", fmt.Sprintf("At most %s can.", j.Used(n.Stage, n.Part)))
	}
	why := w.note("because", n.Because, !n.Counted && (n.Quantity.IsNegative() || so.GreaterThan(wanted)))
	w.Parts = append(w.Parts, PartUsed{Number: w.number(), Part: n.Part, Stage: n.Stage, On: a.On, By: a.By, Quantity: n.Quantity, Because: why})
	return w.done()
}

// Used is how much of a part was issued to a stage, less what came back.
func (j *Job) Used(stage, part string) decimal.Decimal {
	var sum decimal.Decimal
	for i := range j.Parts {
		if u := &j.Parts[i]; u.Stage == stage && u.Part == part && j.counts(u.Number) {
			sum = sum.Add(u.Quantity)
		}
	}
	return sum
}

// Wanted is how much of a part the sheet has at a stage.
func (p *Plan) Wanted(stage, part string) decimal.Decimal {
	var sum decimal.Decimal
	for i := range p.Parts {
		if w := &p.Parts[i]; w.Stage == stage && w.Part == part {
			sum = sum.Add(w.Quantity)
		}
	}
	return sum
}

// Serial is the serial number of a part that was fitted, or the batch of an
// adhesive or a paint.
type Serial struct {
	Number int        `json:"number"`
	Part   string     `json:"part"`
	Stage  string     `json:"stage"`
	Kind   SerialKind `json:"kind"`
	Value  string     `json:"value"`
	On     string     `json:"on"`
	By     string     `json:"by"`
	Crew   string     `json:"crew,omitempty"` // who fitted it
	// Replaced is the number of the entry that took its place: the part was
	// changed for another.
	ReplacedBy int `json:"replaced_by,omitempty"`
}

// SerialKind says whether a number is of one thing or of all made together.
type SerialKind string

// The kinds; zero is invalid.
const (
	OfOne   SerialKind = "serial"
	OfBatch SerialKind = "batch"
)

// Words are the kinds there are.
func (SerialKind) Words() []string { return []string{string(OfOne), string(OfBatch)} }

// NewSerial is a serial or batch number to be recorded.
type NewSerial struct {
	Part, Stage string
	Kind        SerialKind
	Value, Crew string
	// InPlaceOf is the number of an entry whose part was taken out again; 0 for
	// none.
	InPlaceOf int
}

const maxSerial = 60 // characters

// Fit records the serial number or batch of a part.
func (j *Job) Fit(p *Plan, a Act, n NewSerial, known func(part string) bool) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Serials), "part")
	w.stage(p, "stage", n.Stage)
	if !known(n.Part) {
		w.fault("unknown_part", "part", fmt.Sprintf("There is no part %q.", n.Part), "Name one of the catalogue's.")
	}
	if !slices.Contains(n.Kind.Words(), string(n.Kind)) {
		w.fault("unknown_word", "kind", fmt.Sprintf("%q is no kind of number.", n.Kind), "Use serial or batch.")
	}
	if reason := document.TextFault(n.Value); reason != "" || n.Value == "" || len(n.Value) > maxSerial {
		w.fault("bad_text", "value", "That is no serial or batch number.", "Write it as it stands on the part, in 60 characters at most.")
	}
	one := Serial{Number: w.number(), Part: n.Part, Stage: n.Stage, Kind: n.Kind, Value: n.Value, On: a.On, By: a.By, Crew: n.Crew}
	same := func(s Serial) bool {
		return sameOne(&s, n.Part, n.Kind, n.Value) && j.Fitted(&s) && s.Number != n.InPlaceOf
	}
	if slices.ContainsFunc(j.Serials, same) {
		w.fault("given_twice", "value", fmt.Sprintf("The serial number %s is recorded already.", n.Value), "Give each one its own.")
	}
	w.Serials = append(w.Serials, one)
	if n.InPlaceOf != 0 {
		w.Serials = slices.Clone(w.Serials)
		i := slices.IndexFunc(j.Serials, func(s Serial) bool { return s.Number == n.InPlaceOf && s.Part == n.Part && j.Fitted(&s) })
		if i < 0 {
			w.fault("unknown_entry", "in_place_of", fmt.Sprintf("There is no such part with number %d in the van.", n.InPlaceOf), "Name an entry of the same part that is still fitted.")
		} else {
			w.Serials[i].ReplacedBy = one.Number
		}
	}
	return w.done()
}
