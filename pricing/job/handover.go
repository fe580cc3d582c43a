package job

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Who can clear what is in the way, by role.
var (
	floor         = []string{"owner", "workshop"}
	floorAndSales = []string{"owner", "workshop", "sales"}
	salesAndOwner = []string{"owner", "sales"}
	books         = []string{"owner", "books"}
)

// Shown is something the customer was shown.
type Shown struct {
	Number int    `json:"number"`
	Code   string `json:"code"` // of the plan's list
	On     string `json:"on"`
	By     string `json:"by"`
}

// Showed records what the customer was shown; what was shown before may be
// shown again.
func (j *Job) Showed(p *Plan, a Act, codes []string) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Shown)+len(codes), "shown")
	for i, code := range codes {
		if !slices.ContainsFunc(p.Show, func(s PlanShow) bool { return s.Code == code }) {
			w.fault("not_on_board", document.Join("shown", i+1), fmt.Sprintf("%q is nothing the customer of this van is shown.", code), "Name what is on the list.")
		}
		w.Shown = append(w.Shown, Shown{Number: w.number(), Code: code, On: a.On, By: a.By})
	}
	return w.done()
}

// Removed says where something went that was taken out of the van.
type Removed struct {
	Number  int       `json:"number"`
	Feature string    `json:"feature"`
	To      RemovedTo `json:"to"`
	// Price the workshop pays for it; absent unless it buys it.
	Price *money.Amount `json:"price,omitempty"`
	// Shelved is what of it the workshop keeps as parts of the catalogue.
	Shelved []Shelved `json:"shelved,omitempty"`
	On      string    `json:"on"`
	By      string    `json:"by"`
}

// Shelved is so much of a part that goes on the shelf, in its unit.
type Shelved struct {
	Part     string          `json:"part"`
	Quantity decimal.Decimal `json:"quantity"`
}

// NewRemoved says where something goes that is taken out.
type NewRemoved struct {
	Feature string
	To      RemovedTo
	Price   *money.Amount // of what the workshop buys
	// Shelved is what of it goes on the shelf; of what the workshop buys.
	Shelved []Shelved
}

const maxShelved = 50

// RemovedTo is where something taken out goes.
type RemovedTo string

// Where; zero is invalid.
const (
	CustomerKeeps RemovedTo = "customer keeps"
	WorkshopBuys  RemovedTo = "workshop buys"
	Waste         RemovedTo = "waste"
)

// Words are the ways there are.
func (RemovedTo) Words() []string {
	return []string{string(CustomerKeeps), string(WorkshopBuys), string(Waste)}
}

// TakeOut says where something goes that is taken out of the van; the last word
// holds.
// c is the catalogue of the job's release.
func (j *Job) TakeOut(p *Plan, a Act, n NewRemoved, currency money.Currency, c *catalogue.Catalogue) (Job, document.Faults) {
	w := j.write(a)
	to, price := n.To, n.Price
	w.room(len(j.Removed), "feature")
	if _, ok := p.removed(n.Feature); !ok {
		w.fault("not_removed", "feature", fmt.Sprintf("%q is not taken out of this van.", n.Feature), "Name what its sheet takes out.")
	}
	switch {
	case !slices.Contains(to.Words(), string(to)):
		w.fault("unknown_word", "to", fmt.Sprintf("%q is nowhere it can go.", to), "Use customer keeps, workshop buys or waste.")
	case to == WorkshopBuys && price == nil:
		w.fault("missing", "price", "Nothing says what the workshop pays for it.", "Give a price, or let the customer keep it.")
	case to != WorkshopBuys && price != nil:
		w.fault("contradiction", "price", "There is a price, and nobody buys it.", "Leave the price out.")
	case price != nil && (price.Sign() <= 0 || price.Currency() != currency):
		w.fault("amount", "price", "That is no price in the workshop's money.", fmt.Sprintf("Give more than nothing, in %s.", currency))
	}
	w.shelf(&n, c)
	w.Removed = append(w.Removed, Removed{Number: w.number(), Feature: n.Feature, To: to, Price: price, Shelved: n.Shelved, On: a.On, By: a.By})
	return w.done()
}

// shelf checks what goes on the shelf.
func (w *writing) shelf(n *NewRemoved, c *catalogue.Catalogue) {
	if len(n.Shelved) > 0 && n.To != WorkshopBuys {
		w.fault("contradiction", "shelved", "It goes on the shelf, and the workshop does not buy it.", "Leave the parts out.")
	}
	if len(n.Shelved) > maxShelved {
		w.fault("too_many", "shelved", fmt.Sprintf("There are %d parts.", len(n.Shelved)), fmt.Sprintf("At most %d.", maxShelved))
		return
	}
	for i, s := range n.Shelved {
		at := document.Join("shelved", i+1)
		part := partOf(c, s.Part)
		switch {
		case part == nil:
			w.fault("unknown_part", at+"/part", fmt.Sprintf("There is no part %q.", s.Part), "Name one of the catalogue's.")
		case part.Provision == catalogue.Consumable:
			w.fault("never_counted", at+"/part", fmt.Sprintf("%s is never counted.", part.Name), "Leave it out.")
		case slices.ContainsFunc(n.Shelved[:i], func(o Shelved) bool { return o.Part == s.Part }):
			w.fault("given_twice", at+"/part", fmt.Sprintf("The part %q is given twice.", s.Part), "Add them up.")
		case s.Quantity.Sign() <= 0 || s.Quantity.GreaterThan(decimal.NewFromInt(mostOfAPart)) || -s.Quantity.Exponent() > int32(part.Decimals):
			w.fault("out_of_range", at+"/quantity", fmt.Sprintf("%s is no quantity of it.", s.Quantity), fmt.Sprintf("Give more than 0, with at most %d decimals.", part.Decimals))
		}
	}
}

func (p *Plan) removed(feature string) (name string, ok bool) {
	for i := range p.Removed {
		if p.Removed[i].Code == feature {
			return p.Removed[i].Name, true
		}
	}
	return "", false
}

// WentTo is the last word on something taken out.
func (j *Job) WentTo(feature string) (Removed, bool) {
	for i := range slices.Backward(j.Removed) {
		if j.Removed[i].Feature == feature && j.counts(j.Removed[i].Number) {
			return j.Removed[i], true
		}
	}
	return Removed{}, false
}

// Clearance is the word that the van may leave as far as money goes.
type Clearance struct {
	Number int    `json:"number"`
	How    Clears `json:"how"`
	On     string `json:"on"`
	By     string `json:"by"`
	// Variation that was the last when it was given: a later one has to be
	// cleared again.
	Variation int64 `json:"variation,omitempty"`
	Because   Note  `json:"because,omitempty"`
}

// Clears is how the balance stands.
type Clears string

// The ways; zero is invalid.
const (
	Paid       Clears = "paid"         // nothing is owed
	OwnersWord Clears = "owner's word" // something is, and the owner lets the van go
)

// Words are the ways there are.
func (Clears) Words() []string { return []string{string(Paid), string(OwnersWord)} }

// Clear records that the balance is paid, or that the owner lets the van go
// all the same, and why. Whether by is the owner is for the caller to see to.
func (j *Job) Clear(a Act, how Clears, because string) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Balance), "how")
	if !slices.Contains(how.Words(), string(how)) {
		w.fault("unknown_word", "how", fmt.Sprintf("%q is no way to clear a balance.", how), "Use paid or owner's word.")
	}
	c := Clearance{Number: w.number(), How: how, On: a.On, By: a.By, Variation: j.Variation}
	c.Because = w.note("because", because, how == OwnersWord)
	w.Balance = append(w.Balance, c)
	return w.done()
}

// Cleared is the clearance that holds; false for none.
func (j *Job) Cleared() (Clearance, bool) {
	if n := len(j.Balance); n > 0 && j.Balance[n-1].Variation == j.Variation {
		return j.Balance[n-1], true
	}
	return Clearance{}, false
}

// Gate is everything that stands between a van and its handover on a day, at
// once, each with who can clear it; nothing where it may go. What the handover
// itself brings, the list that both sign, is not in it.
func (j *Job) Gate(p *Plan, today string) []Stops {
	var list []Stops
	stop := func(code, about string, who []string, remedy, format string, args ...any) {
		list = append(list, Stops{code, about, fmt.Sprintf(format, args...), who, remedy})
	}
	if !j.OnSite() {
		stop(NotHere, "", floorAndSales, "Take the van in.", "The van is not here.")
	}
	for i := range j.Stages {
		if s := &j.Stages[i]; s.State != Done && s.State != LeftOut {
			stop("stage", s.Code, floor, "Finish it, or leave it out.", "%s is %s.", s.Name, s.State)
		}
	}
	j.gateTests(p, stop)
	j.gatePapers(p, stop)
	for i := range j.Snags {
		s := &j.Snags[i]
		switch {
		case s.ClosedOn != "":
		case s.Caution != "":
			stop("snag", fmt.Sprint(s.Number), floor, "Put it right: a promise does not do.", "A snag about %s is open: %s", s.Caution, j.Said(s.Says))
		case s.PromisedBy == "":
			stop("snag", fmt.Sprint(s.Number), floor, "Put it right, or promise a day.", "A snag is open: %s", j.Said(s.Says))
		case s.PromisedBy < today:
			stop("snag", fmt.Sprint(s.Number), floor, "Put it right, or promise another day.", "A snag was promised by %s: %s", calendar.Said(s.PromisedBy), j.Said(s.Says))
		}
	}
	for i := range p.Removed {
		if _, said := j.WentTo(p.Removed[i].Code); !said {
			stop("removed", p.Removed[i].Code, salesAndOwner, "Say whether the customer keeps it, the workshop buys it, or it is waste.", "Nothing says where it goes: %s.", lower(p.Removed[i].Name))
		}
	}
	for _, s := range p.Show {
		if !slices.ContainsFunc(j.Shown, func(d Shown) bool { return d.Code == s.Code }) {
			stop("not_shown", s.Code, floorAndSales, "Show the customer, and record it.", "The customer was not shown: %s", s.Says)
		}
	}
	if _, ok := j.Cleared(); !ok {
		stop("balance", "", books, "Record that it is paid, or the owner's word.", "The balance is not cleared.")
	}
	return list
}

type stopper func(code, about string, who []string, remedy, format string, args ...any)

// gateTests are holds that stand and tests that do not count any more, of
// stages that have begun all the same.
func (j *Job) gateTests(p *Plan, stop stopper) {
	for i := range p.Stages {
		for k := range p.Stages[i].Holds {
			h := &p.Stages[i].Holds[k]
			if left := h.Stage != "" && j.StageState(h.Stage) == LeftOut; !left && !j.Lifted(p, h) {
				s := waiting(p, h)
				stop(s.Code, s.About, s.Clears, s.Remedy, "%s.", h.Says)
			}
		}
	}
	for i := range j.Stages {
		for _, s := range j.holding(j.Stages[i].Code) {
			stop(s.Code, s.About, s.Clears, s.Remedy, "%s", s.Says)
		}
	}
}

// gatePapers are certificates and papers that are missing, the ticket, and
// serial numbers.
func (j *Job) gatePapers(p *Plan, stop stopper) {
	for i := range p.Papers {
		paper := &p.Papers[i]
		if paper.Weighing || paper.Due == catalogue.BeforeRegistration || j.Has(paper) {
			continue
		}
		about := "It is not there"
		if _, ok := j.Paper(paper.Code); ok {
			about = "It is of work that was taken up again after it"
		}
		stop("paper", paper.Code, floor, "Have it signed, and record it.", "%s: %s.", paper.Name, about)
	}
	if p.Weigh {
		told, ok := j.Masses(p)
		switch {
		case !ok:
			stop("weighing", "", floor, "Have the van weighed, and record the ticket.", "There is no weighbridge ticket.")
		case !j.weighedAfter(p):
			stop("weighing", "", floor, "Have it weighed again.", "The van was weighed before the work was finished.")
		}
		for _, says := range told.Over {
			stop("overweight", "", []string{"owner"}, "Take something out, or have the van plated anew and its sheet worked out again.", "%s", says)
		}
	}
	for _, part := range p.serials() {
		fitted := 0
		for i := range j.Serials {
			if s := &j.Serials[i]; s.Part == part.Part && s.Kind == OfOne && j.Fitted(s) {
				fitted++
			}
		}
		if missing := int(part.Quantity.Ceil().IntPart()) - fitted; missing > 0 {
			stop("serial", part.Part, floor, "Record them.", "Serial numbers are missing: %d of %s.", missing, lower(part.Name))
		}
	}
	for i := range p.Parts {
		part := &p.Parts[i]
		if !part.Batch || j.StageState(part.Stage) == LeftOut || slices.ContainsFunc(j.Serials, func(s Serial) bool {
			return s.Part == part.Part && s.Stage == part.Stage && s.Kind == OfBatch && j.Fitted(&s)
		}) {
			continue
		}
		name := part.Stage
		if of := p.Stage(part.Stage); of != nil {
			name = of.Name
		}
		stop("batch", part.Part, floor, "Record it, as it stands on the tube or tin.", "The batch of %s used at the stage “%s” is missing.", lower(part.Name), name)
	}
}

// serials are the parts whose serial numbers are kept, of all stages together.
func (p *Plan) serials() []PlanPart {
	var list []PlanPart
	for i := range p.Parts {
		if !p.Parts[i].Serial {
			continue
		}
		k := slices.IndexFunc(list, func(q PlanPart) bool { return q.Part == p.Parts[i].Part })
		if k < 0 {
			list = append(list, p.Parts[i])
			continue
		}
		list[k].Quantity = list[k].Quantity.Add(p.Parts[i].Quantity)
	}
	return list
}

// HandOver gives the van to its customer: nothing of the gate stands in the way,
// and both sign how it leaves. warrantyMonths are the workshop's rule of the day,
// and stay the van's.
func (j *Job) HandOver(p *Plan, a Act, n NewCondition, warrantyMonths int) (Job, document.Faults) {
	w := j.write(a)
	for _, s := range j.Gate(p, a.Today) {
		w.fault(InTheWay, s.Code, s.Says, s.Remedy)
	}
	if n.KeyCount == 0 {
		w.fault("missing", "key_count", "Nothing says how many keys were given back.", "Count them.")
	}
	w.Left = w.condition("", &n)
	w.State, w.HandedOverOn, w.WarrantyMonths = HandedOver, a.On, warrantyMonths
	return w.done()
}

// LeaveUnfinished gives the van of a cancelled job back: both sign how it
// leaves, and nothing else is asked for.
func (j *Job) LeaveUnfinished(a Act, n NewCondition) (Job, document.Faults) {
	w := j.write(a)
	w.faults = slices.DeleteFunc(w.faults, func(f document.Fault) bool { return f.Code == NotInThisState })
	if j.State != Cancelled || !j.OnSite() {
		w.fault(NotInThisState, "", "Only the van of a cancelled job leaves unfinished, and only when it is here.", "Hand it over, or cancel the job first.")
	}
	w.Left = w.condition("", &n)
	return w.done()
}

// Cancel ends a job that is not handed over, and says why. A van that is here
// then leaves unfinished.
func (j *Job) Cancel(a Act, because string) (Job, document.Faults) {
	w := j.write(a)
	w.State, w.CancelledOn = Cancelled, a.On
	w.CancelledBecause = w.note("because", because, true)
	return w.done()
}
