package api

import (
	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// Quotes as the contract has them.

func contractQuote(e store.QuoteEntry, d *quote.Document, r auth.Role) openapi.Quote {
	v := d.Vans[0]
	q := openapi.Quote{
		Id: e.ID.String(), Number: whole(int(e.Number)), Revision: 1, Version: e.Version,
		State: openapi.QuoteState(e.State), CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(), ChangedAt: e.ChangedAt,
		Release:      openapi.Release{Number: whole(int(d.Release.Number)), Hash: d.Release.Hash, Title: d.Release.Title},
		Edition:      d.Edition.Code,
		Engine:       d.Engine,
		ReadyToIssue: len(v.NotReady) == 0 && len(v.Priced.Gaps) == 0,
		NotReady:     contractNotReady(v.NotReady, v.Priced, r),
		Totals:       contractQuoteTotals(v, r),
		Vans: []openapi.QuoteVan{{
			Van: contractVan(v.Specification.Van), Choices: contractChoices(d.Asked.Vans[0].Choices),
			Extras: []openapi.Extra{}, OpenFinishes: []openapi.OpenFinish{},
			Checks: contractChecks(v.Sheet.Checks), Totals: contractTotals(v.Sheet, v.Priced, r),
			Specification: contractSpecification(v.Specification), Sheet: contractSheet(v.Sheet),
			Price: contractPrice(v.Priced, r), Costing: contractCosting(v.Priced, r),
		}},
	}
	if seesPrices(r) {
		q.Terms = contractTerms(d.Asked.Terms)
	}
	return q
}

func contractQuoteTotals(v quote.Van, r auth.Role) openapi.QuoteTotals {
	t := openapi.QuoteTotals{Vans: 1, Hours: plain(v.Sheet.Hours), AddedKg: plain(v.Sheet.Mass.AddedKG)}
	if seesPrices(r) {
		p := v.Priced.Totals
		t.Net, t.Vat, t.Gross = contractAmount(p.Net), contractAmount(p.VAT), contractAmount(p.Gross)
	}
	return t
}

func contractQuoteKept(e store.QuoteEntry, d *quote.Document, r auth.Role) openapi.QuoteKept {
	q := contractQuote(e, d, r)
	return openapi.QuoteKept{
		Id: q.Id, Number: q.Number, Revision: q.Revision, Version: q.Version, State: q.State, CreatedAt: q.CreatedAt, ChangedAt: q.ChangedAt,
		ReadyToIssue: q.ReadyToIssue, NotReady: q.NotReady, Totals: q.Totals, Release: q.Release, Edition: q.Edition,
	}
}

func contractQuoteSummary(e store.QuoteEntry, r auth.Role) openapi.QuoteSummary {
	summary := openapi.QuoteSummary{
		Id: e.ID.String(), Number: whole(int(e.Number)), Revision: 1, Version: e.Version,
		State: openapi.QuoteState(e.State), CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt,
		Vans: []openapi.QuoteVanSummary{{BaseVan: e.BaseVan, Registration: e.Registration}}, Hours: plain(e.Hours),
	}
	if total, err := money.FromMinor(e.TotalMinor, money.Currency(e.Currency)); err == nil && seesPrices(r) {
		summary.Gross = contractAmount(total)
	}
	return summary
}

// What finds a member of a list of the request by its name.

func named(feature string) func(bom.FittedItem) bool {
	return func(f bom.FittedItem) bool { return f.Feature == feature }
}

func particularNamed(name string) func(bom.ParticularValue) bool {
	return func(p bom.ParticularValue) bool { return p.Name == name }
}

func finishNamed(finish string) func(bom.FinishChoice) bool {
	return func(f bom.FinishChoice) bool { return f.Finish == finish }
}

func choiceOf(feature string) func(bom.Choice) bool {
	return func(c bom.Choice) bool { return c.Want == feature || c.Refuse == feature }
}
