package pricing

import (
	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Trial prices what a bom.Trial says: its choices once, and of each change only
// what it touches. The totals are those of Price.
//
// A Trial is one goroutine's, until End.
type Trial struct {
	// First is what the choices as they are come to.
	First Estimate

	trial *bom.Trial
	w     *work
	terms Terms
	held  *Held
	split splitter

	rates   []rated // by place, looked up when first needed
	looked  []bool
	quant   []bom.Quantity // by place, of the choices as they are
	kept    []gave         // what the places of the choices as they are gave
	keptAt  []span         // by place
	touched []bool         // by place

	// After costing the choices as they are. What of a cost goes to an addition
	// changes no total.
	asks, removed  []ask
	overhead, cost int64
	missing        []bool // by place: it costs nobody knows what
}

type span struct{ from, to int }

// Estimate is a price without its lines.
type Estimate struct {
	Totals Totals
	// Cost is what it costs the workshop, as far as that is known, and Margin
	// what of the net is left.
	Cost, Margin money.Amount
	// Gaps as of Price.
	Gaps []Gap
	// Refusal of the discount asked for; it is then not in the totals.
	Refusal *Refusal
	// SettledSoFar as of Price.
	SettledSoFar bool
}

// Try prices the choices of a trial. Errors as of Price.
func Try(trial *bom.Trial, book *pricebook.Compiled, terms Terms, held *Held) (*Trial, error) {
	if err := terms.Validate(book).Err(); err != nil {
		return nil, err
	}
	t := &Trial{trial: trial, terms: terms, held: held}
	t.w = newWork(nil, trial.First.Specification, book, &t.terms)
	t.split.work = t.w
	if err := t.w.findAdditions().Err(); err != nil {
		t.End()
		return nil, err
	}
	places := len(trial.Places())
	t.rates, t.looked, t.quant = make([]rated, places), make([]bool, places), make([]bom.Quantity, places)
	t.keptAt, t.touched, t.missing = make([]span, places), make([]bool, places), make([]bool, places)
	t.w.hold(held)
	t.w.findPrices()
	t.split.kept = &t.kept
	for i := range trial.First.Tally.Places {
		n := &trial.First.Tally.Places[i]
		from := len(t.kept)
		t.missing[n.Place] = t.costPlace(n)
		t.keptAt[n.Place] = span{from, len(t.kept)}
		t.quant[n.Place] = n.Quantity
	}
	t.split.kept = nil
	t.costAdditions()
	t.asks, t.removed = append(t.asks, t.w.asks...), append(t.removed, t.w.removed...)
	t.overhead, t.cost = t.w.overhead, t.w.cost
	t.gaps(&trial.First.Tally)
	var err error
	t.First, err = t.estimate(trial.First.Tally.Broken)
	if err != nil {
		t.End()
		return nil, err
	}
	return t, nil
}

// End gives back what the trial was made in. The bom.Trial is ended by itself.
func (t *Trial) End() { t.w.end() }

// costAdditions costs the material of one-off lines.
func (t *Trial) costAdditions() {
	for i := range t.w.additions {
		if a := &t.w.additions[i]; a.Kind == bom.OneOff {
			l := bom.Line{Code: a.Code, Quantity: decimal.New(int64(max(a.Quantity, 1)), 0)}
			t.w.costAddition(0, &l)
		}
	}
}

// rate of a place.
func (t *Trial) rate(place int) *rated {
	if !t.looked[place] {
		p := &t.trial.Places()[place]
		t.rates[place], t.looked[place] = t.w.rate(p.Kind, p.Code, p.Finish, p.Name), true
	}
	return &t.rates[place]
}

// costPlace costs what is wanted at a place and divides it among those that
// asked; it says whether the cost is missing.
func (t *Trial) costPlace(n *bom.Tallied) (missing bool) {
	r := t.rate(n.Place)
	if len(n.Asked) == 0 || r.cost == nil {
		return len(n.Asked) > 0 && r.gap.Code != ""
	}
	t.split.tallied(n, r)
	return false
}

// tallied costs what is wanted at a place and divides it among those that
// asked.
func (s *splitter) tallied(n *bom.Tallied, r *rated) {
	if r.cost == nil {
		return
	}
	w := s.work
	cost := w.timesOf(r.cost, n.Quantity)
	w.cost = w.add(w.cost, cost)
	s.begin()
	for i := range n.Asked {
		a := &n.Asked[i]
		if a.Addition > 0 && a.Quantity < 0 {
			continue // the customer brings it
		}
		s.asker(w.askerOf(a))
		s.weights = append(s.weights, int64(a.Quantity))
	}
	var charged int64
	if s.anyBuiltUp {
		charged = w.timesOf(r.charge, n.Quantity)
	}
	s.divide(cost, charged)
}

// timesOf is times for a quantity of a tally.
func (w *work) timesOf(unit *money.Factor, quantity bom.Quantity) int64 {
	minor, err := unit.MinorOf(int64(quantity), -bom.QuantityPlaces, w.currency, money.HalfUp)
	if err != nil {
		w.tooLarge = true
		return 0
	}
	return w.add(minor, 0)
}

// askerOf is asker for a reason of a tally.
func (w *work) askerOf(a *bom.Asked) (to *ask, builtUp bool) {
	switch f := a.Feature; {
	case a.Addition > 0:
		return &w.additions[a.Addition-1].ask, false
	case f < 0:
		return nil, false
	case a.Removal:
		return &w.removed[f], true
	case w.known[f] == nil || w.known[f].Fit <= 0:
		return nil, false
	default:
		return &w.asks[f], w.isBuiltUp(int(f))
	}
}

// With prices the outcome of a change. Errors as of Price.
func (t *Trial) With(o *bom.Outcome) (Estimate, error) {
	w := t.w
	t.again(o.Specification)
	for i := range o.Tally.Places {
		n := &o.Tally.Places[i]
		t.touched[n.Place] = true
		kept := t.keptAt[n.Place]
		for _, g := range t.kept[kept.from:kept.to] {
			w.give(g.to, -g.cost, -g.charge)
		}
		if r := t.rate(n.Place); r.cost != nil {
			w.cost = w.add(w.cost, -w.timesOf(r.cost, t.quant[n.Place]))
		}
		t.costPlace(n)
	}
	t.gaps(&o.Tally)
	for i := range o.Tally.Places {
		t.touched[o.Tally.Places[i].Place] = false
	}
	return t.estimate(o.Tally.Broken)
}

// again begins with another specification, costed like the choices as they
// are.
func (t *Trial) again(spec *bom.Specification) {
	w := t.w
	clear(w.known)
	clear(w.prices)
	copy(w.asks, t.asks)
	copy(w.removed, t.removed)
	w.overhead, w.cost, w.missing, w.tooLarge = t.overhead, t.cost, false, false
	w.lots, w.held, w.packHeld, w.packFrom = w.lots[:0], nil, nil, nil
	w.pack, w.swaps, w.lines = nil, w.swaps[:0], w.lines[:0]
	w.rows = [len(w.rows)]row{}
	w.specified(spec)
	w.hold(t.held)
	w.findPrices()
}

// gaps tells of costs that are missing: of a change those of the places it
// does not touch too.
func (t *Trial) gaps(tally *bom.Tally) {
	for place, missing := range t.missing {
		if missing && !t.touched[place] {
			t.w.missing = true
			t.w.gap(t.rates[place].gap)
		}
	}
	for i := range tally.Places {
		n := &tally.Places[i]
		if r := t.rate(n.Place); r.gap.Code != "" && len(n.Asked) > 0 {
			t.w.missing = true
			t.w.gap(r.gap)
		}
	}
}

// estimate makes the price of what was costed.
func (t *Trial) estimate(broken bool) (Estimate, error) {
	w := t.w
	w.writeLines()
	w.discount()
	w.promise()
	w.sumRows()
	if w.tooLarge {
		return Estimate{}, tooLarge()
	}
	if broken {
		w.gap(Gap{Code: BrokenSheet, Says: "A formula of the catalogue gave no number.", Remedy: "Mend the formula in the catalogue."})
	}
	w.sortGaps()
	return Estimate{
		Totals: w.out.Totals, Cost: w.amount(w.cost), Margin: w.amount(w.add(w.out.Totals.Net.Minor(), -w.cost)),
		Gaps: w.out.Gaps, Refusal: w.out.Refusal, SettledSoFar: w.out.SettledSoFar,
	}, nil
}
