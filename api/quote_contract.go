package api

import (
	"slices"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// Quotes as the contract has them.

// shownQuote is a revision of a quote on its way out: frozen, or a draft as of
// now.
type shownQuote struct {
	head     store.QuoteEntry
	revision store.RevisionEntry
	vans     []store.QuoteVan // of the revision
	document *quote.Document
	today    string
}

// parts of a quote that may be left out.
type parts struct{ specification, sheet, price bool }

func (q *shownQuote) draft() bool { return q.revision.State == store.Draft }

// state of the revision as of today.
func (q *shownQuote) state() openapi.QuoteState {
	return openapi.QuoteState(q.revision.State.On(q.today, q.revision.ValidUntil))
}

// contract is the whole of it, as a role is shown it.
func (q *shownQuote) contract(r auth.Role, with parts) openapi.Quote {
	e, d := &q.head, q.document
	out := openapi.Quote{
		Id: e.ID.String(), Number: whole(int(e.Number)), Revision: whole(int(q.revision.Number)), Version: e.Version,
		State: q.state(), CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(), ChangedAt: e.ChangedAt, ChangedBy: e.ChangedBy.String(),
		Customer: idText(e.Customer), EndCustomer: idText(e.EndCustomer), Enquiry: idText(e.Enquiry),
		IssuedOn: q.revision.IssuedOn, ValidUntil: q.revision.ValidUntil, SlotWantedOn: d.Asked.SlotWanted, FollowUpOn: e.FollowUpOn,
		Release: openapi.Release{Number: whole(int(d.Release.Number)), Hash: d.Release.Hash, Title: d.Release.Title},
		Edition: d.Edition.Code, HeldRevision: whole(d.HeldRevision), Engine: d.Engine, Sha256: q.revision.SHA256,
		NotReady: []openapi.NotReady{}, Totals: contractQuoteTotals(d, r), Vans: make([]openapi.QuoteVan, len(d.Vans)),
	}
	if d.Held != nil {
		out.HeldEdition, out.HeldEditions = d.Held.Code, paper.HeldEditions(d)
	}
	if q.draft() {
		out.NotReady = contractQuoteNotReady(d.Vans, r)
		out.ReadyToIssue = len(out.NotReady) == 0
	}
	if seesPrices(r) {
		out.Terms = contractTerms(d.Asked.Terms)
		out.Payments = mapped(d.Payments, contractPayment)
		out.Reference, out.QuoteTerms, out.TermsSha256, out.NotIncluded = d.Paper.Reference, d.Paper.Terms, d.Paper.TermsSHA256, d.Paper.NotIncluded
		out.Note = e.Note
		if q.revision.State == store.Declined {
			out.DeclinedBecause = e.DeclinedBecause
		}
	}
	for i := range d.Vans {
		out.Vans[i] = q.van(i, r, with)
	}
	return out
}

func (q *shownQuote) van(i int, r auth.Role, with parts) openapi.QuoteVan {
	v, asked := &q.document.Vans[i], &q.document.Asked.Vans[i]
	out := openapi.QuoteVan{
		VanId: asked.Van, Van: contractVan(asked.Facts), Choices: contractChoices(asked.Choices), Settle: contractSettle(asked.Settle),
		Additions:    contractAdditions(asked, v.Priced.Currency, r),
		Extras:       mapped(v.Extras, func(e quote.Extra) openapi.Extra { return contractExtra(e, r) }),
		OpenFinishes: mapped(v.OpenFinishes, contractOpenFinish),
		Checks:       contractChecks(v.Sheet.Checks, r), Totals: contractTotals(v.Sheet, v.Priced, r),
	}
	if i < len(q.vans) { // registration and VIN stand beside the document
		out.Van.Registration, out.Van.Vin = q.vans[i].Plate, q.vans[i].VIN
	}
	if with.specification {
		out.Specification = contractSpecification(v.Specification)
	}
	if with.sheet {
		out.Sheet = contractSheet(v.Sheet)
	}
	if with.price {
		out.Price, out.Costing = contractPrice(v.Priced, r), contractCosting(v.Sheet, v.Priced, r)
	}
	return out
}

// kept is the short form, as an answer to what changed it.
func (q *shownQuote) kept(r auth.Role) openapi.QuoteKept {
	e, d := &q.head, q.document
	out := openapi.QuoteKept{
		Id: e.ID.String(), Number: whole(int(e.Number)), Revision: whole(int(q.revision.Number)), Version: e.Version,
		State: q.state(), CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt,
		IssuedOn: q.revision.IssuedOn, ValidUntil: q.revision.ValidUntil, FollowUpOn: e.FollowUpOn, Sha256: q.revision.SHA256,
		Release: openapi.Release{Number: whole(int(d.Release.Number)), Hash: d.Release.Hash, Title: d.Release.Title},
		Edition: d.Edition.Code, NotReady: []openapi.NotReady{}, Totals: contractQuoteTotals(d, r),
	}
	if d.Held != nil {
		out.HeldEdition, out.HeldEditions = d.Held.Code, paper.HeldEditions(d)
	}
	if q.draft() {
		out.NotReady = contractQuoteNotReady(d.Vans, r)
		out.ReadyToIssue = len(out.NotReady) == 0
	}
	return out
}

// contractQuoteNotReady is everything that stands in the way of issuing. Who is
// shown no prices is told only that there is something about them.
func contractQuoteNotReady(vans []quote.Van, r auth.Role) []openapi.NotReady {
	all := []openapi.NotReady{}
	for i := range vans {
		ofPrice := false
		for _, n := range vans[i].NotReady {
			told := openapi.NotReady{Code: openapi.NotReadyCode(n.Code), About: n.About, Says: n.Says, Van: whole(i + 1)}
			if !seesPrices(r) && (n.Code == quote.PriceGap || n.Code == quote.DiscountRefused) {
				if ofPrice {
					continue
				}
				ofPrice = true
				told = openapi.NotReady{Code: openapi.NotReadyCodePriceGap, Says: "The price is not whole yet.", Van: whole(i + 1)}
			}
			all = append(all, told)
		}
	}
	return all[:min(len(all), maxNotReady)]
}

func contractQuoteTotals(d *quote.Document, r auth.Role) openapi.QuoteTotals {
	added := decimal.Zero
	for i := range d.Vans {
		added = added.Add(d.Vans[i].Sheet.Mass.AddedKG)
	}
	t := openapi.QuoteTotals{Vans: whole(len(d.Vans)), Hours: plain(hoursOf(d.Vans)), AddedKg: plain(added)}
	if seesPrices(r) {
		t.Net, t.Vat, t.Gross = contractAmount(d.Totals.Net), contractAmount(d.Totals.VAT), contractAmount(d.Totals.Gross)
		k := slices.IndexFunc(d.Payments, func(p pricing.Payment) bool { return string(p.When) == string(openapi.PaymentWhenOnAcceptance) })
		if k >= 0 {
			t.DueOnAcceptance = contractAmount(d.Payments[k].Amount)
		}
	}
	return t
}

func hoursOf(vans []quote.Van) decimal.Decimal {
	hours := decimal.Zero
	for i := range vans {
		hours = hours.Add(vans[i].Sheet.Hours)
	}
	return hours
}

func contractQuoteSummary(e *store.QuoteEntry, today, customer string, r auth.Role) openapi.QuoteSummary {
	summary := openapi.QuoteSummary{
		Id: e.ID.String(), Number: whole(int(e.Number)), Revision: whole(int(e.Revision)), Version: e.Version,
		State: openapi.QuoteState(e.State.On(today, e.ValidUntil)), CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(),
		ChangedAt: e.ChangedAt, ChangedBy: e.ChangedBy.String(),
		Customer: idText(e.Customer), CustomerName: customer, EndCustomer: idText(e.EndCustomer), Enquiry: idText(e.Enquiry),
		Vans: mapped(e.Vans, func(v store.QuoteVan) openapi.QuoteVanSummary {
			return openapi.QuoteVanSummary{BaseVan: v.BaseVan, VanId: idText(v.Van), Registration: v.Plate}
		}),
		Hours: plain(e.Hours), IssuedOn: e.IssuedOn, ValidUntil: e.ValidUntil, SlotWantedOn: e.SlotWanted, FollowUpOn: e.FollowUpOn,
	}
	if seesPrices(r) {
		summary.Gross, summary.Note = minorAmount(e.TotalMinor, e.Currency), e.Note
	}
	return summary
}

func contractRevisionSummary(e *store.RevisionEntry, today string, r auth.Role) openapi.RevisionSummary {
	summary := openapi.RevisionSummary{
		Revision: whole(int(e.Number)), State: openapi.QuoteState(e.State.On(today, e.ValidUntil)), CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(),
		IssuedOn: e.IssuedOn, ValidUntil: e.ValidUntil, Release: whole(int(e.Release)), Edition: e.Edition, HeldEdition: e.HeldEdition,
		Hours: plain(e.Hours), Sha256: e.SHA256,
	}
	if seesPrices(r) {
		summary.Gross = minorAmount(e.TotalMinor, e.Currency)
	}
	return summary
}

func minorAmount(minor int64, currency string) openapi.Money {
	amount, err := money.FromMinor(minor, money.Currency(currency))
	if err != nil {
		return openapi.Money{} // the workshop's currency is one that is known
	}
	return contractAmount(amount)
}

func contractAdditions(v *quote.AskedVan, currency money.Currency, r auth.Role) []openapi.Addition {
	var list []openapi.Addition
	for _, a := range v.Choices.Additions {
		var price pricing.AdditionPrice
		if k := slices.IndexFunc(v.Additions, func(p pricing.AdditionPrice) bool { return p.Code == a.Code }); k >= 0 {
			price = v.Additions[k]
		}
		list = append(list, contractAddition(a, price, currency, r))
	}
	return list
}

func contractExtra(e quote.Extra, r auth.Role) openapi.Extra {
	extra := openapi.Extra{
		Feature: e.Code, Count: whole(e.Count), Words: e.Words, Hours: e.Hours, MassKg: e.Mass,
		Brings: append([]string{}, e.Brings...), TakesOff: append([]string{}, e.TakesOff...),
	}
	if seesPrices(r) {
		extra.Net, extra.Vat, extra.Gross = contractAmount(e.Net), contractAmount(e.VAT), contractAmount(e.Gross)
	}
	return extra
}

func contractOpenFinish(f quote.OpenFinish) openapi.OpenFinish {
	return openapi.OpenFinish{Finish: f.Finish, Name: f.Name, LeadDays: whole(f.LeadDays), ChooseBy: f.ChooseBy}
}

func contractSettle(s bom.Settle) openapi.Settle {
	if s == bom.SettleNothing {
		return openapi.SettleNothing
	}
	return openapi.Settle(s)
}

// idText is an id, "" for none.
func idText(id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return id.String()
}
