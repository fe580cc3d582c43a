package quote_test

import (
	"slices"
	"testing"

	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// A revision's prices hold for its vans, by their ids wherever they stand,
// through its last day and no longer.
func TestOfferedPricesHold(t *testing.T) {
	old, now := quotetest.Offer("2026-07"), quotetest.Offer("2026-10")
	a := asked(t, "windows-only", "roof-only")
	a.Terms.Day, a.Terms.ValidUntil = "2026-09-01", "2026-11-25"
	earlier := issue(t, old, a, 1)
	now.Held, now.HeldBooks = earlier, append(now.HeldBooks, old.Book)

	b := copied(a)
	b.Terms.Day, b.Terms.ValidUntil = "2026-11-25", "2026-12-23"
	slices.Reverse(b.Vans)
	b.Vans = append(b.Vans, quotetest.Van("trim-only"))
	d := issue(t, now, b, 2)
	if d.HeldRevision != 1 || d.Held == nil || *d.Held != earlier.Edition {
		t.Errorf("holds %+v of revision %d", d.Held, d.HeldRevision)
	}
	if d.Vans[0].Priced.Totals.Gross != earlier.Vans[1].Priced.Totals.Gross || d.Vans[1].Priced.Totals.Gross != earlier.Vans[0].Priced.Totals.Gross {
		t.Errorf("the vans come to %s and %s, offered at %s and %s", d.Vans[1].Priced.Totals.Gross, d.Vans[0].Priced.Totals.Gross,
			earlier.Vans[0].Priced.Totals.Gross, earlier.Vans[1].Priced.Totals.Gross)
	}
	if d.Vans[2].Priced.Holding != nil {
		t.Errorf("the new van holds %+v", d.Vans[2].Priced.Holding)
	}
	if r, err := quote.Recompute(now, d); err != nil || !r.Same {
		t.Errorf("worked out again: %v %+v", err, r.Differences)
	}

	// A day later nothing holds any more.
	b.Terms.Day = "2026-11-26"
	late := issue(t, now, b, 2)
	if late.HeldRevision != 0 || late.Held != nil || late.Vans[0].Priced.Holding != nil {
		t.Errorf("holds after its last day: %+v", late.Held)
	}
	if late.Vans[0].Priced.Totals.Gross.Minor() <= d.Vans[0].Priced.Totals.Gross.Minor() {
		t.Error("today's prices are no dearer; the test shows nothing")
	}

	// A van without an id is the one at its place, if that had none either.
	b.Terms.Day = "2026-11-25"
	b.Vans = slices.Clone(b.Vans[:2])
	b.Vans[0].Van = ""
	nameless := issue(t, now, b, 2)
	if nameless.Vans[0].Priced.Holding != nil || nameless.Vans[1].Priced.Holding == nil {
		t.Error("a van without an id has taken another's prices")
	}
}

// Extras ticked never cost more than offered, even where working them out
// would: here the offer is made lower than it should be.
func TestOfferedExtrasAreCapped(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "alarm"}}
	d := issue(t, o, a, 1)
	d.Vans[0].Extras[0].Gross = pounds(t, "400.00")
	agreed, faults, err := quote.Accept(o, d, yes(d, quote.Tick{Van: 1, Feature: "alarm"}), quote.Private)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	most, err := d.Totals.Gross.Add(pounds(t, "400.00"))
	if err != nil || agreed.Totals.Gross != most {
		t.Errorf("it comes to %s, offered at %s", agreed.Totals.Gross, most)
	}
	c := quote.Compare(d, agreed, nil)
	golden(t, "compare-extra-capped.txt", written(c))
	addsUp(t, d, agreed, c)
}
