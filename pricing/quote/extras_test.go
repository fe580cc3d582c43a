package quote_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// What an extra says is what asking for it in the choices would come to.
func TestExtraIsWhatItAdds(t *testing.T) {
	o := quotetest.Offer("2026-10")
	base := asked(t, "full-conversion-short-van")
	percent := number("3")
	base.Terms.DiscountPercent = &percent
	for _, c := range []struct {
		extra    quote.AskedExtra
		instead  []string // choices it stands in place of
		brings   []string
		takesOff []string
	}{
		{extra: quote.AskedExtra{Feature: "tow_electrics"}, brings: []string{"Tow bar"}},
		{extra: quote.AskedExtra{Feature: "alarm"}},
		{extra: quote.AskedExtra{Feature: "lights_ceiling", Count: 8}, instead: []string{"lights_ceiling"}},
		{extra: quote.AskedExtra{Feature: "step_sliding"}, instead: []string{"step_insert"}, takesOff: []string{"Step insert"}},
	} {
		a := copied(base)
		a.Vans[0].Extras = []quote.AskedExtra{c.extra}
		w := work(t, o, a)
		x := w.Vans[0].Extras[0]

		b := copied(base)
		drop(&b.Vans[0], c.instead...)
		b.Vans[0].Choices.Features = append(b.Vans[0].Choices.Features, bom.Choice{Want: c.extra.Feature, Count: c.extra.Count})
		with, without := work(t, o, b), work(t, o, base)
		gross, err := with.Totals.Gross.Sub(without.Totals.Gross)
		if err != nil || x.Gross != gross {
			t.Errorf("%s adds %s, not %s", c.extra.Feature, x.Gross, gross)
		}
		if x.Net.Minor()+x.VAT.Minor() != x.Gross.Minor() || w.Totals != without.Totals {
			t.Errorf("%s: %s and %s are not %s, or it is in the total", c.extra.Feature, x.Net, x.VAT, x.Gross)
		}
		hours := with.Vans[0].Sheet.Hours.Sub(without.Vans[0].Sheet.Hours)
		mass := without.Vans[0].Sheet.Mass.LeftKG.Sub(with.Vans[0].Sheet.Mass.LeftKG)
		if !number(x.Hours).Equal(hours) || !number(x.Mass).Equal(mass) || x.Count != c.extra.Count || x.Words == "" {
			t.Errorf("%s: %+v; hours %s, mass %s", c.extra.Feature, x, hours, mass)
		}
		if !slices.Equal(x.Brings, c.brings) || !slices.Equal(x.TakesOff, c.takesOff) {
			t.Errorf("%s brings %q and takes off %q", c.extra.Feature, x.Brings, x.TakesOff)
		}
	}
}

func TestExtraThatDoesNotFit(t *testing.T) {
	a := asked(t, "full-conversion-short-van")
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "alarm"}, {Feature: "rear_ladder"}}
	_, faults, err := quote.Work(quotetest.Offer("2026-10"), a)
	if err != nil || len(faults) != 1 || faults[0].Code != "does_not_fit" || faults[0].At != "vans/1/extras/2" {
		t.Fatal(err, faults)
	}
	if !strings.Contains(faults[0].Reason, "“Rear ladder” does not fit. ") || strings.HasSuffix(faults[0].Reason, "fit. ") {
		t.Errorf("no reason: %s", faults[0].Reason)
	}
	for name, e := range map[string]quote.AskedExtra{
		"counted too high": {Feature: "lights_ceiling", Count: 1000},
		"below nothing":    {Feature: "lights_ceiling", Count: -1},
		"counted wrongly":  {Feature: "alarm", Count: 2},
		"follower alone":   {Feature: "oven_housing"},
	} {
		a.Vans[0].Extras = []quote.AskedExtra{e}
		if _, faults, err := quote.Work(quotetest.Offer("2026-10"), a); err != nil || len(faults) != 1 || !strings.HasPrefix(faults[0].At, "vans/1/extras/1") {
			t.Errorf("%s: %v %v", name, err, faults)
		}
	}
}

// An extra that would make the van too heavy stops the quote as long as it is
// offered, and says so.
func TestExtraThatWouldStopTheVan(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	// A van that weighs so much that it can just take its conversion.
	front, rear := number("1200"), number("900")
	a.Vans[0].Facts.WeighedFrontKG, a.Vans[0].Facts.WeighedRearKG = &front, &rear
	a.Vans[0].Choices.Answers = []bom.CheckAnswer{{Check: "payload_for_luggage", Kind: bom.GoingOn, Says: "They travel light."},
		{Check: "rear_axle_with_luggage", Kind: bom.GoingOn, Limit: number("1900"), Says: "They travel light."}}
	w := work(t, o, a)
	var limit bom.CheckResult
	for _, c := range w.Vans[0].Sheet.Checks {
		if c.Code == "payload_for_people" {
			limit = c
		}
	}
	if limit.Code == "" {
		t.Skip("the demo has no must on masses")
	}
	spare := limit.Figure.Sub(limit.Limit)
	front = front.Add(spare.Sub(number("5")))
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "tow_electrics"}}
	if w = work(t, o, a); w.Ready() {
		t.Fatalf("%+v", w.Vans[0].Sheet.Checks)
	}
	if n := w.Vans[0].NotReady; n[0].Code != quote.ExtraNotReady || n[0].About != "tow_electrics" || !strings.Contains(n[0].Says, "With the extra “Towing electrics”: ") {
		t.Errorf("%+v", n)
	}
	var unready *quote.Unready
	if _, err := quote.Issue(w, head(1)); !errors.As(err, &unready) {
		t.Errorf("it is issued: %v", err)
	}
	a.Vans[0].Extras = nil
	if w = work(t, o, a); !w.Ready() {
		t.Errorf("without the extra: %+v", w.Vans[0].NotReady)
	}
}

// A finish may stay open; it has its day, and it does not stop issuing.
func TestOpenFinishes(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	a.Vans[0].Settle = bom.SettleNothing
	a.Vans[0].Choices.Finishes = slices.DeleteFunc(a.Vans[0].Choices.Finishes, func(f bom.FinishChoice) bool { return f.Finish == "fabric" || f.Finish == "worktop" })
	d := issue(t, o, a, 1)
	if open := d.Vans[0].OpenFinishes; len(open) != 2 || open[0].ChooseBy != "" || open[0].Says != "" {
		t.Fatalf("without a slot: %+v", open)
	}
	a.SlotWanted = "2027-01-18" // a Monday
	d = issue(t, o, a, 1)
	longest := map[string]int{}
	for _, f := range o.Release.Catalogue().Finishes {
		for _, c := range f.Choices {
			for _, cost := range o.Book.Edition().Costs {
				if cost.Part != c.Part {
					continue
				}
				lead := cost.LeadTimeDays
				for _, s := range o.Book.Edition().Suppliers {
					if lead == 0 && s.Code == cost.Supplier {
						lead = s.LeadTimeDays
					}
				}
				longest[f.Code] = max(longest[f.Code], lead)
			}
		}
	}
	for _, f := range d.Vans[0].OpenFinishes {
		if f.LeadDays == 0 || f.LeadDays != longest[f.Finish] || f.Name == f.Finish {
			t.Errorf("%+v, longest lead time %d", f, longest[f.Finish])
		}
		by, err := o.Days.Back("2027-01-18", f.LeadDays)
		if err != nil || f.ChooseBy != by || !strings.Contains(f.Says, "estimate") {
			t.Errorf("%+v, not %s: %v", f, by, err)
		}
	}

	// By the days the workshop works it is no estimate, and a closure is not
	// worked through.
	o.Days = calendar.Calendar{HolidaysUntil: "2027-12-31", Closed: []calendar.Closed{{From: "2027-01-11", Until: "2027-01-15", Name: "Stocktaking", Why: calendar.Closure}}}
	for _, f := range work(t, o, a).Vans[0].OpenFinishes {
		by, err := calendar.Calendar{}.Back("2027-01-18", f.LeadDays+5)
		if err != nil || f.ChooseBy != by || strings.Contains(f.Says, "estimate") {
			t.Errorf("%+v, not %s: %v", f, by, err)
		}
	}
}

// The usual supplier of a part is the first; its own lead time goes before the
// supplier's.
func TestLeadTimeIsTheUsualSuppliers(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	a.Vans[0].Settle = bom.SettleNothing
	a.Vans[0].Choices.Finishes = slices.DeleteFunc(a.Vans[0].Choices.Finishes, func(f bom.FinishChoice) bool { return f.Finish == "fabric" })
	before := work(t, o, a).Vans[0].OpenFinishes[0]
	parts := map[string]bool{}
	for _, f := range o.Release.Catalogue().Finishes {
		for _, c := range f.Choices {
			parts[c.Part] = parts[c.Part] || f.Code == "fabric"
		}
	}
	edition := *o.Book.Edition()
	edition.Costs = slices.Clone(edition.Costs)
	last := -1
	for i, c := range edition.Costs {
		if parts[c.Part] {
			last = i
		}
	}
	second := edition.Costs[last]
	second.LeadTimeDays = 200
	for _, s := range edition.Suppliers {
		if s.Code != second.Supplier {
			second.Supplier = s.Code
			break
		}
	}
	compiled := func() int {
		t.Helper()
		book, faults := pricebook.Compile(o.Release.Catalogue(), &edition)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		with := o
		with.Book = book
		return work(t, with, a).Vans[0].OpenFinishes[0].LeadDays
	}
	edition.Costs = append(edition.Costs, second)
	if got := compiled(); got != before.LeadDays {
		t.Errorf("with a second supplier it takes %d days, not %d", got, before.LeadDays)
	}
	edition.Costs[last].LeadTimeDays = 33
	if got := compiled(); got != 33 {
		t.Errorf("with a lead time of its own it takes %d days, not 33", got)
	}
}
