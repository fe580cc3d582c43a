package pricebook

import (
	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
)

// Offer is how a part, or a visit of outside work, can be had from one
// supplier, without VAT.
type Offer struct {
	Supplier     *Supplier
	SupplierPart string
	Unit         money.UnitPrice
	LeadDays     int // working days
	// Pack and Least are what is ordered at once; 1 and 0 where nobody says.
	Pack, Least decimal.Decimal
	Breaks      []UnitBreak
	Until       string // the last day the supplier holds it; "" is open
}

// UnitBreak is what one unit costs from a quantity on.
type UnitBreak struct {
	From decimal.Decimal
	Unit money.UnitPrice
}

// UnitFor is what one unit costs of so many in one order.
func (o *Offer) UnitFor(quantity decimal.Decimal) money.UnitPrice {
	unit := o.Unit
	for _, b := range o.Breaks {
		if quantity.GreaterThanOrEqual(b.From) {
			unit = b.Unit
		}
	}
	return unit
}

// Offers are how a part can be had on a day, the usual way first: what
// suppliers no longer hold is left out. Of one supplier there is one.
func (k *Compiled) Offers(part, day string) []Offer {
	var list []Offer
	seen := map[string]bool{}
	for _, c := range k.costsOf[part] {
		if c.Until != "" && c.Until < day || seen[c.Supplier] {
			continue
		}
		seen[c.Supplier] = true
		o := Offer{Supplier: k.suppliers[c.Supplier], SupplierPart: c.SupplierPart, Unit: k.unit(c.Cost), LeadDays: c.LeadTimeDays,
			Pack: c.Pack, Until: c.Until}
		if o.LeadDays == 0 {
			o.LeadDays = o.Supplier.LeadTimeDays
		}
		if o.Pack.IsZero() {
			o.Pack = decimal.New(1, 0)
		}
		if c.LeastQuantity != nil {
			o.Least = *c.LeastQuantity
		}
		for _, b := range c.Breaks {
			o.Breaks = append(o.Breaks, UnitBreak{b.From, k.unit(b.Cost)})
		}
		list = append(list, o)
	}
	return list
}

// OutsideOffer is how a visit of outside work is had.
func (k *Compiled) OutsideOffer(code string) (Offer, bool) {
	for i := range k.edition.Outside {
		if o := &k.edition.Outside[i]; o.Outside == code {
			s := k.suppliers[o.Supplier]
			return Offer{Supplier: s, Unit: k.unit(o.Cost), LeadDays: s.LeadTimeDays, Pack: decimal.New(1, 0)}, true
		}
	}
	return Offer{}, false
}

// Supplier by its code.
func (k *Compiled) Supplier(code string) (*Supplier, bool) {
	s, ok := k.suppliers[code]
	return s, ok
}

// unit is a cost, which Validate has found to be one.
func (k *Compiled) unit(cost decimal.Decimal) money.UnitPrice {
	u, err := money.NewUnitPrice(cost, k.currency)
	if err != nil {
		panic("pricebook: not checked: " + err.Error())
	}
	return u
}

func (k *Compiled) indexSuppliers() {
	k.suppliers = make(map[string]*Supplier, len(k.edition.Suppliers))
	for i := range k.edition.Suppliers {
		k.suppliers[k.edition.Suppliers[i].Code] = &k.edition.Suppliers[i]
	}
	k.costsOf = make(map[string][]*Cost, len(k.costs))
	for i := range k.edition.Costs {
		c := &k.edition.Costs[i]
		k.costsOf[c.Part] = append(k.costsOf[c.Part], c)
	}
}
