package order

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Place sends a draft to its supplier on a day (YYYY-MM-DD): prices are fixed
// from the edition in force, with the breaks that the quantities reach, lines
// with an agreed price aside. Each line is due on the day it is wanted, or when
// the supplier's lead time is over, if that is later. knowing lets it through
// although it is less than the supplier takes.
func (o Order) Place(k *pricebook.Compiled, working calendar.Calendar, on string, knowing bool) (Order, document.Faults, error) {
	if o.State != Draft {
		return o, o.not("placed", "Place a draft."), nil
	}
	supplier, ok := k.Supplier(o.Supplier)
	if !ok {
		return o, document.Faults{{Code: "unknown_supplier", At: "supplier", Reason: fmt.Sprintf("Edition %s has no supplier %q.", k.Edition().Code, o.Supplier),
			Remedy: "Order from a supplier of the edition in force."}}, nil
	}
	p := placing{k: k, working: working, on: on, knowing: knowing, goods: money.Zero(k.Currency())}
	o.Lines = slices.Clone(o.Lines)
	for i := range o.Lines {
		if err := p.line(document.Join("lines", i+1), supplier, &o.Lines[i]); err != nil {
			return o, nil, err
		}
	}
	if faults := p.faults.Faults(); len(faults) > 0 {
		return o, faults, nil
	}
	if faults := p.leastOrder(supplier); len(faults) > 0 {
		return o, faults, nil
	}
	carriage, err := carriageOf(supplier, p.goods)
	if err != nil {
		return o, nil, err
	}
	o.State, o.PlacedOn, o.Edition, o.Name, o.Goods, o.Carriage = Placed, on, k.Edition().Code, supplier.Name, &p.goods, &carriage
	return o, nil, nil
}

type placing struct {
	k       *pricebook.Compiled
	working calendar.Calendar
	on      string
	knowing bool
	goods   money.Amount
	faults  document.Collector
}

func (p *placing) fault(code, at, reason, remedy string) {
	p.faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func (p *placing) line(at string, supplier *pricebook.Supplier, l *Line) error {
	offer, offered := offerOf(p.k, supplier.Code, l.Kind, l.Code, p.on)
	switch {
	case !offered && !l.Agreed:
		p.fault("no_cost", at+"/code", fmt.Sprintf("%s has no price for %q on %s.", supplier.Name, l.Code, p.on),
			"Order it from who has, or agree a price and write it on the line.")
		return nil
	case offered && !l.Agreed:
		unit := offer.UnitFor(l.Quantity)
		l.UnitPrice, l.SupplierPart = &unit, offer.SupplierPart
	}
	if offered && !p.knowing {
		p.packs(at, &offer, l)
	}
	if l.UnitPrice.Currency() != p.k.Currency() {
		p.fault("currency", at+"/unit_price", fmt.Sprintf("The price is in %s, the workshop's money is %s.", l.UnitPrice.Currency(), p.k.Currency()),
			"Write what it costs in the workshop's money.")
		return nil
	}
	amount, err := money.Times(l.Quantity, l.UnitPrice.Decimal(), p.k.Currency(), money.HalfUp)
	if err != nil {
		return fmt.Errorf("%s: %w", l.Code, err)
	}
	if p.goods, err = p.goods.Add(amount); err != nil {
		return fmt.Errorf("goods: %w", err)
	}
	l.Amount = &amount
	lead := supplier.LeadTimeDays
	if offered {
		lead = offer.LeadDays
	}
	there, err := p.working.Forward(p.on, lead)
	if err != nil {
		return err
	}
	l.DueOn = max(l.WantedOn, there)
	return nil
}

// packs holds a quantity against what is sold at once.
func (p *placing) packs(at string, o *pricebook.Offer, l *Line) {
	whole := lot(l.Quantity, o)
	if !whole.Equal(l.Quantity) {
		p.fault("pack", at+"/quantity", fmt.Sprintf("%s sells %s in packs of %s, at least %s.", o.Supplier.Name, l.Name, o.Pack, decimal.Max(o.Least, o.Pack)),
			fmt.Sprintf("Order %s, or say that it is known.", whole))
	}
}

// leastOrder says whether the order is large enough.
func (p *placing) leastOrder(s *pricebook.Supplier) document.Faults {
	if s.LeastOrder == nil || p.knowing || p.goods.Decimal().GreaterThanOrEqual(*s.LeastOrder) {
		return nil
	}
	return document.Faults{{Code: "least_order", At: "lines",
		Reason: fmt.Sprintf("The goods come to %s, and %s takes orders from %s on.", p.goods.Fixed(), s.Name, s.LeastOrder.StringFixed(2)),
		Remedy: "Order more, or say that it is known."}}
}

// carriageOf goods that come to so much.
func carriageOf(s *pricebook.Supplier, goods money.Amount) (money.Amount, error) {
	if s.Carriage == nil || goods.IsZero() || s.CarriageFreeFrom != nil && goods.Decimal().GreaterThanOrEqual(*s.CarriageFreeFrom) {
		return money.Zero(goods.Currency()), nil
	}
	return money.New(*s.Carriage, goods.Currency())
}

// lot is the least that can be had at once and is not less than q.
func lot(q decimal.Decimal, o *pricebook.Offer) decimal.Decimal {
	q = decimal.Max(q, o.Least)
	if o.Pack.Sign() <= 0 {
		return q
	}
	packs := q.Div(o.Pack).Floor()
	if packs.Mul(o.Pack).LessThan(q) {
		packs = packs.Add(decimal.New(1, 0))
	}
	return packs.Mul(o.Pack)
}

// offerOf is how one supplier has something on a day.
func offerOf(k *pricebook.Compiled, supplier string, kind supply.Kind, code, day string) (pricebook.Offer, bool) {
	for _, o := range offersOf(k, kind, code, day) {
		if o.Supplier.Code == supplier {
			return o, true
		}
	}
	return pricebook.Offer{}, false
}

func offersOf(k *pricebook.Compiled, kind supply.Kind, code, day string) []pricebook.Offer {
	if kind == supply.Outside {
		if o, ok := k.OutsideOffer(code); ok {
			return []pricebook.Offer{o}
		}
		return nil
	}
	return k.Offers(code, day)
}

// Items are how everything of an edition's catalogue is had on a day: parts and
// outside work from whoever usually has them, kits from the bench.
func Items(k *pricebook.Compiled, day string) []supply.Item {
	items := supply.Items(k.Catalogue())
	for i := range items {
		it := &items[i]
		if it.Kind == supply.Kit {
			continue
		}
		if offers := offersOf(k, it.Kind, it.Code, day); len(offers) > 0 {
			it.Unsourced, it.LeadDays, it.Least, it.Multiple = false, offers[0].LeadDays, offers[0].Least, offers[0].Pack
		}
	}
	return items
}
