package api

import (
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/order"
)

func contractOrderSummary(e store.OrderEntry) openapi.OrderSummary {
	return openapi.OrderSummary{
		Id: e.ID.String(), Number: whole(int(e.Number)), Version: e.Version, CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt,
		State: openapi.OrderState(e.State), SupplierCode: e.Supplier, SupplierName: e.Name, PlacedOn: e.PlacedOn, DueOn: e.DueOn, Edition: e.Edition,
	}
}

// contractOrder is an order as it is shown; what it costs is for those who are
// shown costs.
func contractOrder(e store.OrderEntry, o *order.Order, cost bool) openapi.Order {
	out := openapi.Order{
		Id: e.ID.String(), Number: whole(int(e.Number)), Version: e.Version, CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt,
		State: openapi.OrderState(e.State), SupplierCode: e.Supplier, SupplierName: e.Name, PlacedOn: e.PlacedOn, DueOn: e.DueOn, Edition: e.Edition,
		EndedOn: o.EndedOn, Lines: make([]openapi.OrderLine, len(o.Lines)), Deliveries: make([]openapi.Delivery, len(o.Deliveries)),
	}
	if cost {
		out.Goods, out.Carriage = amountIfAny(o.Goods), amountIfAny(o.Carriage)
	}
	for i := range o.Lines {
		out.Lines[i] = contractOrderLine(i+1, &o.Lines[i], o.State.Open(), cost)
	}
	for i := range o.Deliveries {
		out.Deliveries[i] = contractDelivery(&o.Deliveries[i], cost)
	}
	return out
}

func contractOrderLine(number int, l *order.Line, open, cost bool) openapi.OrderLine {
	out := openapi.OrderLine{
		Line: whole(number), Kind: openapi.SupplyKind(l.Kind), Code: l.Code, Name: l.Name, Unit: l.Unit, SupplierPart: l.SupplierPart,
		Quantity: plain(l.Quantity), Delivered: plain(l.Delivered), Left: plain(l.Left()), WantedOn: l.WantedOn, DueOn: l.DueOn,
		Late: open && l.DueOn > l.WantedOn && l.Left().Sign() > 0, Job: l.Job, InPlaceOf: l.InPlaceOf, Certificate: l.Certificate, Agreed: l.Agreed,
		For: mapped(l.For, func(f order.For) openapi.OrderFor {
			return openapi.OrderFor{Job: f.Job, Stage: f.Stage, WantedOn: f.WantedOn, Quantity: plain(f.Quantity)}
		}),
		Surplus: mapped(l.Surplus, func(o order.Surplus) openapi.OrderSurplus {
			return openapi.OrderSurplus{Job: o.Job, Variation: whole(int(o.Variation)), Since: o.Since, Quantity: plain(o.Quantity), Dealt: openapi.SurplusHow(o.Dealt), DealtOn: o.DealtOn}
		}),
	}
	if cost {
		if l.UnitPrice != nil {
			out.UnitPrice = contractUnitPrice(*l.UnitPrice)
		}
		out.Amount = amountIfAny(l.Amount)
	}
	return out
}

func contractDelivery(d *order.Delivery, cost bool) openapi.Delivery {
	out := openapi.Delivery{
		Number: whole(d.Number), On: d.On, Note: d.Note, By: d.By, Lines: make([]openapi.DeliveredLine, len(d.Lines)), Differences: contractDifferences(d.Differences, cost),
	}
	if cost {
		out.Carriage = amountIfAny(d.Carriage)
	}
	for i := range d.Lines {
		l := &d.Lines[i]
		out.Lines[i] = openapi.DeliveredLine{Line: whole(l.Line), Code: l.Code, Quantity: plain(l.Quantity), Differences: contractDifferences(l.Differences, cost)}
		if l.Noted != nil {
			out.Lines[i].Noted = plain(*l.Noted)
		}
		if cost && l.UnitPrice != nil {
			out.Lines[i].UnitPrice = contractUnitPrice(*l.UnitPrice)
		}
	}
	return out
}

// contractDifferences tells everybody what is different, and those who are
// shown costs also by how much where it is money.
func contractDifferences(list []order.Difference, cost bool) []openapi.DeliveryDifference {
	return mapped(list, func(d order.Difference) openapi.DeliveryDifference {
		out := openapi.DeliveryDifference{What: openapi.DeliveryDifferenceWhat(d.What)}
		if cost || !d.Money {
			out.Ordered, out.Came = d.Ordered, d.Came
		}
		return out
	})
}
