package pricing

import (
	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// findPrices looks up how every feature of the specification is priced on this
// van, so that costing knows which of them are built up.
func (w *work) findPrices() {
	for i, s := range w.known {
		if s == nil || s.Fit <= 0 {
			continue
		}
		f, _ := w.book.Feature(s.Code)
		p, ok := w.listing.Price(f, w.spec.Van.BaseVan, w.supplyOnly)
		if !ok {
			if w.heldCount(FeatureLine, s.Code, "") < int64(s.Fit) {
				w.gap(Gap{Code: NoPrice, At: s.Code, Says: "“" + s.Name + "” has no price on this van.",
					Remedy: "Add a price for it to the price-book."})
			}
			continue
		}
		w.prices[i] = p
	}
}

// costSheet costs every line of the sheet and divides the cost, and where a
// price is built up the charge, among those that asked for the line.
func (w *work) costSheet() {
	inside := &Inside{Costed: make([]Costed, 0, len(w.sheet.Lines))}
	w.out.Inside = inside
	split := splitter{work: w}
	for i := range w.sheet.Lines {
		l := &w.sheet.Lines[i]
		if l.Kind == bom.OneOffLine {
			if c, ok := w.costAddition(i, l); ok {
				inside.Costed = append(inside.Costed, c)
			}
			continue
		}
		r := w.rate(l.Kind, l.Code, l.Finish, l.Name)
		if r.gap.Code != "" {
			w.missing = true
			w.gap(r.gap)
		}
		if r.cost == nil {
			continue
		}
		if r.part != nil && l.Kind == bom.PartLine {
			w.warn(l, r.part)
		}
		cost := w.times(r.cost, l.Quantity)
		w.cost = w.add(w.cost, cost)
		inside.Costed = append(inside.Costed, Costed{
			Line: i, Supplier: r.supplier(), UnitCost: r.unit, Cost: w.amount(cost), Overhead: split.line(l, cost, r.charge),
		})
	}
}

// rated is what one unit of a line costs and is charged at. Cost is nil for
// what costs nothing itself, and where it is not known, which the gap says.
type rated struct {
	cost, charge *money.Factor
	unit         money.UnitPrice
	part         *pricebook.PartCost // of what a supplier holds a cost for
	gap          Gap
}

func (r *rated) supplier() string {
	if r.part == nil {
		return ""
	}
	return r.part.Supplier
}

// rate looks up what a line costs. A kit costs what its components cost,
// standing time and a customer's own part nothing.
func (w *work) rate(kind bom.LineKind, code, finish, name string) rated {
	unknown := func(gap GapCode, says, remedy string) rated {
		return rated{gap: Gap{Code: gap, At: code, Says: says, Remedy: remedy, Inside: true}}
	}
	held := func(p *pricebook.PartCost) rated {
		return rated{cost: &p.Cost, charge: &p.Charge, unit: p.Unit, part: p}
	}
	switch kind {
	case bom.PartLine:
		if code == "" { // its finish is open
			return rated{gap: finishOpen(finish, name)}
		}
		if p, ok := w.book.Cost(code, w.terms.Day); ok {
			return held(p)
		}
		return unknown(NoCost, "No supplier holds a cost for “"+name+"” on "+w.terms.Day+".", "Ask for a cost and add it to the price-book.")
	case bom.HoursLine:
		if p, ok := w.book.Labour(code); ok {
			return rated{cost: &p.Cost, charge: &p.Charge, unit: p.Unit}
		}
		return unknown(NoRate, "The trade “"+name+"” has no hourly rate.", "Add one to the price-book.")
	case bom.OutsideLine:
		if p, ok := w.book.Outside(code); ok {
			return held(p)
		}
		return unknown(NoOutside, "“"+name+"” has no cost.", "Add what one visit costs to the price-book.")
	}
	return rated{}
}

func (w *work) times(unit *money.Factor, quantity decimal.Decimal) int64 {
	minor, err := unit.Minor(quantity, w.currency, money.HalfUp)
	if err != nil {
		w.tooLarge = true
		return 0
	}
	return w.add(minor, 0)
}

func finishOpen(finish, name string) Gap {
	return Gap{Code: FinishOpen, At: finish, Says: "“" + name + "” is still to be chosen.", Remedy: "Choose one."}
}

// splitter divides lines among those that asked; its slices are used again for
// every line.
type splitter struct {
	work          *work
	asking        []*bom.Because // those that ask for some, not those that bring it
	asks          []*ask
	builtUp       []bool
	anyBuiltUp    bool
	weights       []int64
	costs, charge []int64
	// kept, where it is wanted, is what was given to whom.
	kept *[]gave
}

// gave is a part of a line's cost and charge, and who it went to: nil is
// overhead.
type gave struct {
	to           *ask
	cost, charge int64
}

func (s *splitter) begin() {
	s.asking, s.asks, s.builtUp, s.weights, s.anyBuiltUp = s.asking[:0], s.asks[:0], s.builtUp[:0], s.weights[:0], false
}

func (s *splitter) asker(a *ask, builtUp bool) {
	s.asks, s.builtUp = append(s.asks, a), append(s.builtUp, builtUp)
	s.anyBuiltUp = s.anyBuiltUp || builtUp
}

// line gives cost and charge of a sheet line to what asked for it and says
// whether any of it is overhead.
func (s *splitter) line(l *bom.Line, cost int64, charge *money.Factor) (overhead bool) {
	w := s.work
	s.begin()
	for i := range l.Because {
		b := &l.Because[i]
		if b.Addition != "" && b.Quantity.Sign() < 0 {
			continue // the customer brings it
		}
		s.asking = append(s.asking, b)
		a, builtUp := w.asker(b)
		s.asker(a, builtUp)
		overhead = overhead || a == nil
	}
	var charged int64
	if s.anyBuiltUp {
		charged = w.times(charge, l.Quantity)
	}
	if len(s.asks) > 1 && !s.weigh() {
		return overhead
	}
	s.divide(cost, charged)
	return overhead || len(s.asks) == 0
}

// divide gives cost and charge to those that asked, by their weights.
func (s *splitter) divide(cost, charged int64) {
	switch len(s.asks) {
	case 0:
		s.give(nil, false, cost, charged)
		return
	case 1:
		s.give(s.asks[0], s.builtUp[0], cost, charged)
		return
	}
	s.costs, _ = money.AllocateMinor(s.costs[:0], cost, s.weights)
	if s.anyBuiltUp {
		s.charge, _ = money.AllocateMinor(s.charge[:0], charged, s.weights)
	}
	for i := range s.asks {
		if s.anyBuiltUp {
			charged = s.charge[i]
		}
		s.give(s.asks[i], s.builtUp[i], s.costs[i], charged)
	}
}

func (s *splitter) give(a *ask, builtUp bool, cost, charged int64) {
	if !builtUp {
		charged = 0
	}
	s.work.give(a, cost, charged)
	if s.kept != nil {
		*s.kept = append(*s.kept, gave{a, cost, charged})
	}
}

func (w *work) give(a *ask, cost, charge int64) {
	if a == nil {
		w.overhead = w.add(w.overhead, cost)
		return
	}
	a.cost = w.add(a.cost, cost)
	a.charge = w.add(a.charge, charge)
}

// weigh brings the quantities of the reasons to whole numbers of one size.
func (s *splitter) weigh() bool {
	s.weights = s.weights[:0]
	least := int32(0)
	for _, b := range s.asking {
		least = min(least, b.Quantity.Exponent())
	}
	for _, b := range s.asking {
		q := b.Quantity
		if q.Sign() < 0 || q.NumDigits()+int(q.Exponent()-least) > 18 {
			return s.weighSlowly()
		}
		weight := q.CoefficientInt64()
		for range q.Exponent() - least {
			weight *= 10
		}
		s.weights = append(s.weights, weight)
	}
	return true
}

// weighSlowly is weigh for quantities of more than 18 digits: they are cut to
// twelve decimals, more than a formula gives.
func (s *splitter) weighSlowly() bool {
	s.weights = s.weights[:0]
	for _, b := range s.asking {
		q := b.Quantity
		if q.Sign() < 0 || q.Exponent() > 15 || q.NumDigits()+int(q.Exponent()) > 15 {
			s.work.tooLarge = true
			return false
		}
		s.weights = append(s.weights, q.Shift(3).IntPart())
	}
	return true
}

// asker finds who a reason's cost goes to: nil is overhead, which is what a
// stage takes by itself and anything asked for by a feature without a line.
func (w *work) asker(b *bom.Because) (a *ask, builtUp bool) {
	if b.Addition != "" {
		if a := w.addition(b.Addition); a != nil {
			return &a.ask, false
		}
		return nil, false
	}
	if b.Feature == "" {
		return nil, false
	}
	f, ok := w.book.Feature(b.Feature)
	switch {
	case !ok:
		return nil, false
	case b.Removal:
		return &w.removed[f.Index], true
	case w.known[f.Index] == nil || w.known[f.Index].Fit <= 0:
		return nil, false
	}
	return &w.asks[f.Index], w.isBuiltUp(f.Index)
}

// isBuiltUp says whether a feature's price is built up from what it asks for.
func (w *work) isBuiltUp(feature int) bool {
	p := w.prices[feature]
	return p != nil && p.How == pricebook.BuiltUp
}
