package api

import (
	"wainscot/api/auth"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// Prices as the contract has them. What a customer pays and what it costs the
// workshop are two types, so that one cannot slip into the other.

// seesPrices says whether a role is shown prices at all.
func seesPrices(r auth.Role) bool { return r != auth.Workshop }

// contractPrice is what the customer pays, for those who are shown prices.
func contractPrice(p pricing.Priced, r auth.Role) openapi.Price {
	if !seesPrices(r) {
		return openapi.Price{}
	}
	return openapi.Price{
		Edition: p.Edition,
		Basis:   openapi.Basis(p.Basis),
		Day:     p.Day,
		Lines:   mapped(p.Lines, contractPriceLine),
		Vat:     mapped(p.VAT, contractVATRow),
		Totals: openapi.PriceTotals{
			BeforeDiscount: contractAmount(p.Totals.BeforeDiscount), Discount: contractAmount(p.Totals.Discount),
			Net: contractAmount(p.Totals.Net), Vat: contractAmount(p.Totals.VAT), Gross: contractAmount(p.Totals.Gross),
		},
		Payments: mapped(p.Payments, contractPayment),
		Refusal:  contractRefusal(p.Refusal, r),
		Gaps: mapped(p.Gaps, func(g pricing.Gap) openapi.PriceGap {
			return openapi.PriceGap{Code: openapi.PriceGapCode(g.Code), At: g.At, Says: g.Says, Remedy: g.Remedy}
		}),
		SettledSoFar: p.SettledSoFar,
	}
}

func contractVATRow(v pricing.VATRow) openapi.VATRow {
	return openapi.VATRow{
		Treatment: openapi.Treatment(v.Treatment), VatPercent: plain(v.Percent),
		Net: contractAmount(v.Net), Vat: contractAmount(v.VAT), Gross: contractAmount(v.Gross), Says: v.Says,
		Evidence: mapped(v.Evidence, func(e string) string { return e }),
	}
}

func contractPayment(s pricing.Payment) openapi.Payment {
	return openapi.Payment{
		Code: s.Code, Name: s.Name, Amount: contractAmount(s.Amount), When: openapi.PaymentWhen(s.When), Days: whole(s.Days), Cut: s.Cut,
	}
}

// seesPeople says whether a role is shown who the customers are.
func seesPeople(r auth.Role) bool { return r != auth.Workshop }

func contractPriceLine(l pricing.Line) openapi.PriceLine {
	line := openapi.PriceLine{
		Kind: openapi.PriceLineKind(l.Kind), Code: l.Code, InsteadOf: l.InsteadOf, Words: l.Words, Quantity: whole(l.Quantity),
		UnitPrice: contractUnitPrice(l.UnitPrice), Amount: contractAmount(l.Amount),
		Treatment: openapi.Treatment(l.Treatment), VatPercent: plain(l.Percent), Net: contractAmount(l.Net), Vat: contractAmount(l.VAT),
		Unpriced: l.Unpriced, Edition: l.Edition,
	}
	if l.Today != nil {
		line.Today = contractUnitPrice(*l.Today)
	}
	return line
}

// contractCosting is what a sheet costs the workshop, for those who are shown it.
func contractCosting(sheet bom.Sheet, p pricing.Priced, r auth.Role) openapi.Costing {
	if !r.SeesCost() || p.Inside == nil {
		return openapi.Costing{}
	}
	in := p.Inside
	costing := openapi.Costing{
		Lines: mapped(in.Lines, func(l pricing.LineCost) openapi.LineCost {
			return openapi.LineCost{Cost: contractAmount(l.Cost), Overhead: contractAmount(l.Overhead), Margin: contractAmount(l.Margin)}
		}),
		Costed: mapped(in.Costed, func(k pricing.Costed) openapi.Costed {
			l := &sheet.Lines[k.Line]
			return openapi.Costed{
				Line: whole(k.Line), Stage: l.Stage, Code: l.Code, Supplier: k.Supplier, Quantity: plain(l.Quantity), Unit: l.Unit,
				UnitCost: contractUnitPrice(k.UnitCost), Cost: contractAmount(k.Cost), Overhead: k.Overhead,
			}
		}),
		Cost: contractAmount(in.Cost), Overhead: contractAmount(in.Overhead), Margin: contractAmount(in.Margin),
		Warnings: mapped(in.Warnings, func(w pricing.Warning) openapi.CostWarning {
			return openapi.CostWarning{Code: openapi.CostWarningCode(w.Code), Part: w.Part, Supplier: w.Supplier, Until: w.Until, Before: w.Before, Says: w.Says}
		}),
	}
	if in.MarginPercent != nil {
		costing.MarginPercent = in.MarginPercent.StringFixed(2)
	}
	return costing
}

func contractAmount(a money.Amount) openapi.Money {
	return openapi.Money{Amount: a.Fixed(), Currency: string(a.Currency())}
}

func contractUnitPrice(u money.UnitPrice) openapi.Money {
	return openapi.Money{Amount: u.Fixed(), Currency: string(u.Currency())}
}

// contractRefusal says why a discount was not given. Those who are not shown
// margins get no figure with it: the most that would be given, next to a
// margin floor, is the margin.
func contractRefusal(f *pricing.Refusal, r auth.Role) openapi.DiscountRefusal {
	if f == nil {
		return openapi.DiscountRefusal{}
	}
	refusal := openapi.DiscountRefusal{Code: openapi.DiscountRefusalCode(f.Code), Says: f.Says}
	if !r.SeesCost() {
		refusal.Says = refusalInside[f.Code]
		return refusal
	}
	refusal.Most, refusal.MostPercent = contractAmount(f.Most), f.MostPercent.StringFixed(2)
	return refusal
}

// refusalInside are the sentences for those who are not shown margins.
var refusalInside = map[pricing.RefusalCode]string{
	pricing.RoleMayNot:    "Your role may give no discount.",
	pricing.OverPercent:   "That is more than your role may give.",
	pricing.UnderFloor:    "That is more than the workshop can give on this.",
	pricing.CostNotKnown:  "A discount can only be given when everything has a cost.",
	pricing.OverTotal:     "That is more than there is to take it off.",
	pricing.NothingToTake: "There is nothing to take a discount off.",
}
