package api

import (
	"slices"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// Variations as the contract has them.

// contractVariation shows a variation: sums and sentences to those who are
// shown prices, cost and margin to those who are shown costs. version is the
// job's.
func contractVariation(version int64, e *store.Variation, v *job.Varied, given *job.Consent, left []openapi.SurplusLine, r auth.Role) openapi.Variation {
	asked := &v.Asked.Vans[0]
	out := openapi.Variation{
		Job: e.Job.String(), Number: whole(int(e.Number)), Version: version, State: openapi.VariationState(e.State),
		CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(), ChangedAt: e.ChangedAt, ChangedBy: e.ChangedBy.String(),
		FromVariation: whole(int(v.From.Variation)), Day: v.Day, SentOn: e.SentOn, ValidUntil: v.ValidUntil, DecidedOn: e.DecidedOn,
		How: openapi.VariationHow(e.How), Edition: v.Edition.Code,
		Release:  openapi.Release{Number: whole(int(v.Release.Number)), Hash: v.Release.Hash, Title: v.Release.Title},
		Findings: mapped(v.Findings, whole), Choices: contractChoices(asked.Choices),
		Additions:  contractAdditionsOf(asked, v.Van.Priced, r, func(string) bool { return true }),
		Rule:       contractRework(v.Rule),
		Difference: contractSheetDifference(&v.Difference),
		Rework: mapped(v.Rework, func(l job.ReworkLine) openapi.ReworkLine {
			return openapi.ReworkLine{Stage: l.Stage, Trade: l.Trade, DroppedHours: plain(l.Dropped), AddedHours: plain(l.Added), Hours: plain(l.Hours)}
		}),
		Parts:    mapped(v.Progress.Parts, contractPartWhere),
		KeptBack: mapped(v.KeptBack, func(k job.KeptLine) openapi.KeptBack { return contractKept(&k, r) }),
		Says:     []openapi.VariationSentence{}, Vat: []openapi.VATChange{}, Payments: []openapi.Payment{}, Schedule: []openapi.Payment{},
		Slot: contractSlotChange(v.Slot), Surplus: left,
		NotReady: []openapi.VariationStop{}, Checks: contractChecks(v.Van.Sheet.Checks, r),
	}
	if e.State == job.VariationDraft {
		out.NotReady = contractVariationStops(v.NotReady, r)
		out.ReadyToSend = len(out.NotReady) == 0
	}
	if e.SentOn != "" {
		out.Sha256 = e.SHA256
	}
	if v.Cancellation != nil {
		out.Cancellation = contractCancellation(*v.Cancellation)
	}
	if given != nil {
		out.SalePlace, out.Cancellation = openapi.SalePlace(given.Place), contractCancellation(given.Cancellation)
	}
	if seesPrices(r) {
		out.By = e.By
		out.Evidence = mapped(e.Evidence, contractEvidence)
		if t := &v.Asked.Terms; t.DiscountPercent != nil {
			out.DiscountPercent = plain(*t.DiscountPercent)
		}
		if off := v.Asked.Vans[0].DiscountShare; off != nil && v.Asked.Terms.DiscountAmount != nil {
			out.DiscountAmount = contractAmount(*off)
		}
		out.Was, out.Is, out.Change = contractTotalsSum(v.Was), contractTotalsSum(v.Is), contractSum(v.Change)
		out.Says = mapped(v.Says, contractVariationTold)
		out.Vat = mapped(v.VAT, contractVATChange)
		out.Payments, out.Schedule = mapped(v.Payments, contractPayment), mapped(v.Schedule, contractPayment)
	}
	if r.SeesCost() {
		out.Cost, out.Margin = amountIfAny(v.Cost), amountIfAny(v.Margin)
	}
	return out
}

func contractVariationEntry(e *store.VariationEntry, r auth.Role) openapi.VariationEntry {
	out := openapi.VariationEntry{
		Number: whole(int(e.Number)), State: openapi.VariationState(e.State), CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(),
		ChangedAt: e.ChangedAt, ChangedBy: e.ChangedBy.String(), SentOn: e.SentOn, ValidUntil: e.ValidUntil, DecidedOn: e.DecidedOn,
		How: openapi.VariationEntryHow(e.How),
	}
	if seesPrices(r) {
		out.Change, out.Total = minorAmount(e.ChangeMinor, e.Currency), minorAmount(e.TotalMinor, e.Currency)
	}
	return out
}

// contractVariationStops is everything that stands in the way of sending. Who is
// shown no prices is told only that there is something about them.
func contractVariationStops(list []bom.NotReady, r auth.Role) []openapi.VariationStop {
	all := []openapi.VariationStop{}
	ofPrice := false
	for _, n := range list {
		told := openapi.VariationStop{Code: string(n.Code), About: n.About, Says: n.Says}
		if !seesPrices(r) && (n.Code == quote.PriceGap || n.Code == quote.DiscountRefused) {
			if ofPrice {
				continue
			}
			ofPrice = true
			told = openapi.VariationStop{Code: string(quote.PriceGap), Says: "The price is not whole yet."}
		}
		all = append(all, told)
	}
	return all[:min(len(all), maxNotReady)]
}

func contractVATChange(x job.VATChange) openapi.VATChange {
	return openapi.VATChange{Treatment: openapi.Treatment(x.Treatment), VatPercent: plain(x.Percent), Net: contractAmount(x.Net), Vat: contractAmount(x.VAT), Gross: contractAmount(x.Gross)}
}

func contractVariationTold(t job.Told) openapi.VariationSentence {
	return openapi.VariationSentence{
		About: openapi.VariationSentenceAbout(t.About), Code: t.Code, Says: t.Says,
		Before: amountIfAny(t.Before), After: amountIfAny(t.After), Difference: amountIfAny(t.Difference),
	}
}

func contractTotalsSum(t pricing.Totals) openapi.SumWithVAT {
	return openapi.SumWithVAT{Net: contractAmount(t.Net), Vat: contractAmount(t.VAT), Gross: contractAmount(t.Gross)}
}

func contractSum(t job.Sum) openapi.SumWithVAT {
	return openapi.SumWithVAT{Net: contractAmount(t.Net), Vat: contractAmount(t.VAT), Gross: contractAmount(t.Gross)}
}

func contractKept(k *job.KeptLine, r auth.Role) openapi.KeptBack {
	out := openapi.KeptBack{Code: k.Code, Name: k.Name, Removal: k.Removal, Hours: mapped(k.Hours, contractHours), Parts: mapped(k.Parts, contractFindingPart)}
	if seesPrices(r) {
		out.Worth, out.Credited, out.Kept = contractAmount(k.Worth), amountIfAny(k.Credited), contractAmount(k.Kept)
	}
	return out
}

func contractSheetDifference(d *bom.Difference) openapi.SheetDifference {
	return openapi.SheetDifference{
		Hours: plain(d.Hours), AddedKg: plain(d.AddedKG),
		Lines: mapped(d.Lines, func(l bom.LineDifference) openapi.SheetLineDifference {
			return openapi.SheetLineDifference{
				Change: openapi.SheetLineDifferenceChange(l.Change), Stage: l.Stage, Kind: openapi.SheetLineDifferenceKind(l.Kind),
				Code: l.Code, Finish: l.Finish, Name: l.Name, Unit: l.Unit, Before: plain(l.Before), After: plain(l.After),
				Because: mapped(l.Because, func(b bom.BecauseDifference) openapi.SheetReasonDifference {
					return openapi.SheetReasonDifference{Feature: b.Feature, Addition: b.Addition, Removal: b.Removal, Before: plain(b.Before), After: plain(b.After), Says: b.Says}
				}),
			}
		}),
		Stages: mapped(d.Stages, func(s bom.StageDifference) openapi.SheetStageDifference {
			return openapi.SheetStageDifference{
				Stage: s.Stage, Name: s.Name, HoursBefore: plain(s.HoursBefore), HoursAfter: plain(s.HoursAfter),
				StandingHoursBefore: plain(s.StandingBefore), StandingHoursAfter: plain(s.StandingAfter),
			}
		}),
	}
}

// contractAdditionsOf are the additions of a van that are wanted.
func contractAdditionsOf(asked *quote.AskedVan, p pricing.Priced, r auth.Role, wanted func(code string) bool) []openapi.Addition {
	list := contractAdditions(asked, p.Currency, r)
	return orNone(slices.DeleteFunc(list, func(a openapi.Addition) bool { return !wanted(a.Code) }))
}

func contractAgreement(a *job.Agreement, r auth.Role) openapi.Agreement {
	asked := &a.Asked.Vans[0]
	charged := func(code string) bool { return slices.Contains(a.Charges, code) }
	out := openapi.Agreement{
		Variation: whole(int(a.From.Variation)), Choices: contractChoices(asked.Choices),
		Additions: contractAdditionsOf(asked, a.Van.Priced, r, func(code string) bool { return !charged(code) }),
		Charges:   contractAdditionsOf(asked, a.Van.Priced, r, charged),
		Schedule:  []openapi.Payment{}, Hours: plain(a.Van.Sheet.Hours),
	}
	if seesPrices(r) {
		out.Total, out.Schedule = contractTotalsSum(a.Van.Priced.Totals), mapped(a.Schedule, contractPayment)
	}
	return out
}
