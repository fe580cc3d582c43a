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
		var unit money.UnitPrice
		var costOf, chargeOf *money.Factor
		supplier := ""
		switch l.Kind {
		case bom.PartLine:
			if l.Code == "" { // its finish is open
				w.missing = true
				w.gap(finishOpen(l.Finish, l.Name))
				continue
			}
			p, ok := w.book.Cost(l.Code, w.terms.Day)
			if !ok {
				w.noCost(NoCost, l, "No supplier holds a cost for “"+l.Name+"” on "+w.terms.Day+".", "Ask for a cost and add it to the price-book.")
				continue
			}
			unit, costOf, chargeOf, supplier = p.Unit, &p.Cost, &p.Charge, p.Supplier
			w.warn(l, p)
		case bom.HoursLine:
			p, ok := w.book.Labour(l.Code)
			if !ok {
				w.noCost(NoRate, l, "The trade “"+l.Name+"” has no hourly rate.", "Add one to the price-book.")
				continue
			}
			unit, costOf, chargeOf = p.Unit, &p.Cost, &p.Charge
		case bom.OutsideLine:
			p, ok := w.book.Outside(l.Code)
			if !ok {
				w.noCost(NoOutside, l, "“"+l.Name+"” has no cost.", "Add what one visit costs to the price-book.")
				continue
			}
			unit, costOf, chargeOf, supplier = p.Unit, &p.Cost, &p.Charge, p.Supplier
		case bom.OneOffLine:
			if c, ok := w.costAddition(i, l); ok {
				inside.Costed = append(inside.Costed, c)
			}
			continue
		default: // a kit costs what its components cost, standing time and a customer's own part nothing
			continue
		}
		cost := w.times(costOf, l.Quantity)
		w.cost = w.add(w.cost, cost)
		inside.Costed = append(inside.Costed, Costed{
			Line: i, Supplier: supplier, UnitCost: unit, Cost: w.amount(cost), Overhead: split.line(l, cost, chargeOf),
		})
	}
}

func (w *work) times(unit *money.Factor, quantity decimal.Decimal) int64 {
	minor, err := unit.Minor(quantity, w.currency, money.HalfUp)
	if err != nil {
		w.tooLarge = true
		return 0
	}
	return w.add(minor, 0)
}

func (w *work) noCost(code GapCode, l *bom.Line, says, remedy string) {
	w.missing = true
	w.gap(Gap{Code: code, At: l.Code, Says: says, Remedy: remedy, Inside: true})
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
	weights       []int64
	costs, charge []int64
}

// line gives cost and charge of a sheet line to what asked for it and says
// whether any of it is overhead.
func (s *splitter) line(l *bom.Line, cost int64, charge *money.Factor) (overhead bool) {
	w := s.work
	s.asking, s.asks, s.builtUp = s.asking[:0], s.asks[:0], s.builtUp[:0]
	anyBuiltUp := false
	for i := range l.Because {
		b := &l.Because[i]
		if b.Addition != "" && b.Quantity.Sign() < 0 {
			continue // the customer brings it
		}
		s.asking = append(s.asking, b)
		a, builtUp := w.asker(b)
		s.asks = append(s.asks, a)
		s.builtUp = append(s.builtUp, builtUp)
		anyBuiltUp = anyBuiltUp || builtUp
		overhead = overhead || a == nil
	}
	var charged int64
	if anyBuiltUp {
		charged = w.times(charge, l.Quantity)
	}
	switch len(s.asks) {
	case 0:
		w.overhead = w.add(w.overhead, cost)
		return true
	case 1:
		s.give(0, cost, charged)
		return overhead
	}
	if !s.weigh() {
		return overhead
	}
	s.costs, _ = money.AllocateMinor(s.costs[:0], cost, s.weights)
	if anyBuiltUp {
		s.charge, _ = money.AllocateMinor(s.charge[:0], charged, s.weights)
	}
	for i := range s.asks {
		if anyBuiltUp {
			charged = s.charge[i]
		}
		s.give(i, s.costs[i], charged)
	}
	return overhead
}

func (s *splitter) give(i int, cost, charged int64) {
	w := s.work
	a := s.asks[i]
	if a == nil {
		w.overhead = w.add(w.overhead, cost)
		return
	}
	a.cost = w.add(a.cost, cost)
	if s.builtUp[i] {
		a.charge = w.add(a.charge, charged)
	}
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
	p := w.prices[f.Index]
	return &w.asks[f.Index], p != nil && p.How == pricebook.BuiltUp
}
