package api

import (
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/purchase"
)

func contractSupplierInvoiceSummary(e store.SupplierInvoiceEntry) openapi.SupplierInvoiceSummary {
	return openapi.SupplierInvoiceSummary{
		Id: e.ID.String(), Number: whole(int(e.Number)), Version: e.Version, CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt, Kind: openapi.SupplierInvoiceKind(e.Kind),
		State: openapi.SupplierInvoiceState(e.State), SupplierCode: e.Supplier, SupplierName: e.Name, TaxPoint: e.TaxPoint, DueOn: e.DueOn, Order: contractID(e.Order),
		Credits: contractID(e.Credits), Gross: contractAmount(e.Gross), Owed: contractAmount(e.Owed), Disputed: contractAmount(e.Disputed), Paid: contractAmount(e.Paid),
		Left: contractAmount(e.Left()),
	}
}

func contractSupplierInvoice(i *store.SupplierInvoice, m *purchase.Match) openapi.SupplierInvoice {
	c, s := i.Content, contractSupplierInvoiceSummary(i.SupplierInvoiceEntry)
	out := openapi.SupplierInvoice{
		Id: s.Id, Number: s.Number, Version: s.Version, CreatedAt: s.CreatedAt, ChangedAt: s.ChangedAt, Kind: s.Kind, State: s.State, SupplierCode: s.SupplierCode,
		SupplierName: s.SupplierName, TaxPoint: s.TaxPoint, DueOn: s.DueOn, Order: s.Order, Credits: s.Credits, Gross: s.Gross, Owed: s.Owed, Disputed: s.Disputed,
		Paid: s.Paid, Left: s.Left, TheirNumber: c.Number, IssuedOn: c.IssuedOn, DecidedOn: c.DecidedOn, Entry: i.Entry, Reason: i.Words, OwnVat: openapi.OwnVAT(c.OwnVAT),
		Lines: make([]openapi.SupplierInvoiceLine, len(c.Lines)), Vat: mapped(c.VAT, contractVATSum), Match: make([]openapi.SupplierInvoiceMatch, len(m.Lines)),
		Differences: mapped(m.Differences, contractSupplierDifference), Credit: mapped(m.Credit, contractVATSum),
	}
	for n := range c.Lines {
		l := &c.Lines[n]
		out.Lines[n] = openapi.SupplierInvoiceLine{Kind: openapi.SupplierInvoiceLineKind(l.Kind), Line: whole(l.Line), Words: l.Words, Quantity: plain(l.Quantity),
			UnitPrice: contractUnitPrice(l.UnitPrice), Amount: contractAmount(l.Amount), Treatment: openapi.Treatment(l.Treatment), VatPercent: plain(l.Percent)}
	}
	for n := range m.Lines {
		l := &m.Lines[n]
		out.Match[n] = openapi.SupplierInvoiceMatch{Line: whole(l.Line), Ordered: plain(l.Ordered), Delivered: plain(l.Delivered), Before: plain(l.Before),
			Invoiced: plain(l.Invoiced), Owed: plain(l.Owed), Credit: contractAmount(l.Credit), Differences: mapped(l.Differences, contractSupplierDifference)}
	}
	return out
}

func contractSupplierDifference(d purchase.Difference) openapi.SupplierInvoiceDifference {
	return openapi.SupplierInvoiceDifference{What: openapi.SupplierInvoiceWhat(d.What), Expected: d.Expected, Charged: d.Charged, Credit: contractAmount(d.Credit), LetPass: d.LetPass, Reason: d.Reason}
}
