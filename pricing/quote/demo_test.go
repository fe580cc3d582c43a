package quote_test

import (
	"slices"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// asked is a quote for such vans.
func asked(tb testing.TB, names ...string) quote.Asked {
	tb.Helper()
	a := quote.Asked{Terms: pricing.Terms{Basis: pricing.Gross, Day: "2026-11-25", Role: "owner", ValidUntil: "2026-12-23"}}
	for _, name := range names {
		a.Vans = append(a.Vans, quotetest.Van(name))
	}
	return a
}

func head(revision int) quote.Head {
	return quote.Head{Quote: "quote-1", Number: 1042, Revision: revision, IssuedOn: "2026-11-25", Customer: "customer-1",
		Paper: quote.Paper{Letterhead: quote.Letterhead{Name: "Withermere Camper Works"}, Terms: "We do what we say."}}
}

func work(tb testing.TB, o quote.Offer, a quote.Asked) quote.Worked {
	tb.Helper()
	w, faults, err := quote.Work(o, a)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	return w
}

func issue(tb testing.TB, o quote.Offer, a quote.Asked, revision int) *quote.Document {
	tb.Helper()
	d, err := quote.Issue(work(tb, o, a), head(revision))
	if err != nil {
		tb.Fatal(err)
	}
	return d
}

func encoded(tb testing.TB, d *quote.Document) string {
	tb.Helper()
	text, err := d.Encode()
	if err != nil {
		tb.Fatal(err)
	}
	return string(text)
}

func pounds(tb testing.TB, text string) money.Amount {
	tb.Helper()
	a, err := money.Parse(text, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func number(text string) decimal.Decimal { return decimal.RequireFromString(text) }

// copied is what was asked with lists of its own, to change.
func copied(a quote.Asked) quote.Asked {
	a.Vans = slices.Clone(a.Vans)
	for i := range a.Vans {
		v := &a.Vans[i]
		v.Choices.Features = slices.Clone(v.Choices.Features)
		v.Choices.Finishes = slices.Clone(v.Choices.Finishes)
		v.Choices.Additions = slices.Clone(v.Choices.Additions)
		v.Additions = slices.Clone(v.Additions)
		v.Extras = slices.Clone(v.Extras)
	}
	return a
}
