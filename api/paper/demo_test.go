package paper_test

import (
	"flag"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"
	"testing"

	"go.yaml.in/yaml/v3"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
	"wainscot/testdata"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// theDemo is the demo workshop: its offer by edition, and what it prints with
// a quote. Read once for all tests.
var theDemo = sync.OnceValues(func() (*workshop, error) {
	w := &workshop{offers: map[string]quote.Offer{}}
	for _, edition := range []string{"2026-07", "2026-10"} {
		w.offers[edition] = quotetest.Offer(edition)
	}
	text, err := fs.ReadFile(testdata.Demo, "demo/workshop.yaml")
	if err != nil {
		return nil, err
	}
	// Only what is printed; what else a workshop has is not this room's.
	var shop struct {
		Letterhead  quote.Letterhead `yaml:"letterhead"`
		QuoteTerms  string           `yaml:"quote_terms"`
		NotIncluded []string         `yaml:"not_included"`
	}
	if err := yaml.Unmarshal(text, &shop); err != nil {
		return nil, err
	}
	w.paper = quote.Paper{Letterhead: shop.Letterhead, Terms: strings.TrimSpace(shop.QuoteTerms), NotIncluded: shop.NotIncluded}
	return w, nil
})

type workshop struct {
	offers map[string]quote.Offer
	paper  quote.Paper
}

func demo(tb testing.TB) *workshop {
	tb.Helper()
	w, err := theDemo()
	if err != nil {
		tb.Fatal(err)
	}
	return w
}

// asked is a quote asked for on vans as the demo's files of choices have them,
// under the terms of the first.
func asked(tb testing.TB, names ...string) quote.Asked {
	tb.Helper()
	a := quote.Asked{Terms: pricing.Terms{Basis: pricing.Gross}}
	for i, name := range names {
		c := quotetest.Chosen(name)
		c.Van.Registration, c.Van.VIN = "", ""
		v := quote.AskedVan{Van: fmt.Sprintf("van-%d", i+1), Facts: c.Van, Choices: c.Choices, Settle: bom.SettleByDefaults}
		if c.Terms != nil {
			v.Additions = c.Terms.Additions
			if i == 0 {
				a.Terms = *c.Terms
				a.SlotWanted = c.Terms.SlotWanted
			}
		}
		a.Vans = append(a.Vans, v)
	}
	a.Terms.Additions, a.Terms.Day, a.Terms.ValidUntil, a.Terms.Role = nil, "2026-11-25", "2026-12-23", "owner"
	return a
}

func work(tb testing.TB, o quote.Offer, a quote.Asked) quote.Worked {
	tb.Helper()
	w, faults, err := quote.Work(o, a)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	return w
}

// issued is the quote as it is issued on the day it was asked for.
func issued(tb testing.TB, o quote.Offer, a quote.Asked, revision int) paper.Quote {
	tb.Helper()
	d, err := quote.Issue(work(tb, o, a), quote.Head{Quote: "quote-1", Number: 1042, Revision: revision,
		IssuedOn: a.Terms.Day, Customer: "customer-1", Paper: demo(tb).paper})
	if err != nil {
		tb.Fatal(err)
	}
	return paper.Quote{Document: d, Catalogue: o.Release.Catalogue(),
		Customer: paper.Person{Name: "Rosalind Quayle", Lines: []string{"3 Ferry Steps", "Aldmoor", "AM4 7QT"}},
		Vans:     []paper.VanWords{{Registration: "WT24 DMO", VIN: "XXX00000000000042"}}}
}

// quoted is one of the demo's files of choices, issued.
func quoted(tb testing.TB, names ...string) paper.Quote {
	tb.Helper()
	return issued(tb, demo(tb).offers["2026-10"], asked(tb, names...), 1)
}

// drafted is the same, not issued yet.
func drafted(tb testing.TB, names ...string) paper.Quote {
	tb.Helper()
	q := quoted(tb, names...)
	q.Draft = true
	return q
}

// theCouple is the quote that shows everything at once: a second revision in
// which prices of the first hold, with extras, a finish still open, a one-off
// line, a part of the customers' own, a discount, and the right to cancel.
func theCouple(tb testing.TB) paper.Quote {
	tb.Helper()
	w := demo(tb)
	first := asked(tb, "full-conversion-short-van")
	first.Terms.Day, first.Terms.ValidUntil = "2026-09-20", "2026-12-19"
	before := issued(tb, w.offers["2026-07"], first, 1)

	a := asked(tb, "full-conversion-short-van")
	a.Terms.ValidUntil, a.SlotWanted = "2026-12-19", "2027-02-15"
	a.Terms.SlotWanted = a.SlotWanted
	v := &a.Vans[0]
	v.Settle = bom.SettleNothing
	v.Choices.Features = append(v.Choices.Features, bom.Choice{Want: "awning_wind_out"})
	v.Choices.Finishes = slices.DeleteFunc(v.Choices.Finishes, func(f bom.FinishChoice) bool { return f.Finish == "fabric" })
	own := additions(tb)
	v.Choices.Additions, v.Additions = own.Choices.Additions[1:2], own.Additions[1:2]
	v.Extras = []quote.AskedExtra{{Feature: "solar_rigid"}, {Feature: "mattress_topper"}, {Feature: "cab_blind"}}
	o := w.offers["2026-10"]
	o.Held, o.HeldBooks = before.Document, []*pricebook.Compiled{w.offers["2026-07"].Book}
	q := issued(tb, o, a, 2)
	q.Cancellation = []string{"You may cancel without giving a reason until the end of 14 days after the day of acceptance."}
	return q
}

// additions are those of the dealer's van.
func additions(tb testing.TB) quote.AskedVan {
	tb.Helper()
	return asked(tb, "dealer-own-heater").Vans[0]
}

// fleet is a quote of n vans alike and one that is not.
func fleet(tb testing.TB, n int) paper.Quote {
	tb.Helper()
	names := append(slices.Repeat([]string{"full-conversion-short-van"}, n), "package-touring")
	q := quoted(tb, names...)
	q.Vans = nil
	for i := range n {
		q.Vans = append(q.Vans, paper.VanWords{Registration: fmt.Sprintf("WT24 DM%c", 'A'+i)})
	}
	return q
}
