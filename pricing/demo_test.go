package pricing_test

import (
	"slices"
	"testing"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote/quotetest"
)

// demo is the demo workshop, ready, with the specification of one of its
// choices.
type demo struct {
	release *bom.Release
	book    *pricebook.Compiled
	asked   quotetest.Choices
	spec    bom.Specification
}

func resolve(tb testing.TB, release *bom.Release, a quotetest.Choices) bom.Specification {
	tb.Helper()
	resolution, faults, err := bom.Resolve(release, a.Van, a.Choices, bom.SettleByDefaults)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	return resolution.Specification
}

func loadDemo(tb testing.TB, edition, choices string) demo {
	tb.Helper()
	release, a := quotetest.Release(), quotetest.Chosen(choices)
	return demo{release: release, book: quotetest.Book(edition), asked: a, spec: resolve(tb, release, a)}
}

// Everything the demo's choices come to is priced: nothing is missing, every sum
// holds on both bases, and the order of the customer's choices is no part of it.
func TestDemoIsPricedWhole(t *testing.T) {
	for _, name := range quotetest.Names() {
		t.Run(name, func(t *testing.T) {
			for _, edition := range []string{"2026-07", "2026-10"} {
				d := loadDemo(t, edition, name)
				sheet := bom.Expand(d.release, d.spec)
				for _, basis := range []pricing.Basis{pricing.Gross, pricing.Net} {
					terms := pricing.Terms{Basis: basis, Day: d.book.Edition().InForceFrom}
					if d.asked.Terms != nil {
						terms.Additions = d.asked.Terms.Additions
					}
					p, err := pricing.Price(sheet, d.spec, d.book, terms)
					if err != nil || len(p.Gaps) > 0 {
						t.Fatal(err, p.Gaps)
					}
					consistent(t, p)
					if p.Totals.Gross.Sign() <= 0 || p.Inside.Cost.Sign() <= 0 {
						t.Errorf("it comes to %s and costs %s", p.Totals.Gross, p.Inside.Cost)
					}
					if !d.spec.Allowed {
						continue // what is put aside depends on the order
					}
					again := d.asked
					again.Choices.Features = slices.Clone(again.Choices.Features)
					if len(again.Choices.Features) > 1 {
						slices.Reverse(again.Choices.Features[1:])
					}
					spec := resolve(t, d.release, again)
					q, err := pricing.Price(bom.Expand(d.release, spec), spec, d.book, terms)
					if err != nil || written(t, q) != written(t, p) {
						t.Errorf("chosen in another order it comes to %s, not %s", q.Totals.Gross, p.Totals.Gross)
					}
				}
			}
		})
	}
}
