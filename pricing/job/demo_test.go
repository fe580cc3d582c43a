package job_test

import (
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/pricing"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// issued is a quote for such vans, issued with an edition.
func issued(tb testing.TB, edition string, terms pricing.Terms, names ...string) *quote.Document {
	tb.Helper()
	a := quote.Asked{Terms: terms}
	for _, name := range names {
		a.Vans = append(a.Vans, quotetest.Van(name))
	}
	w, faults, err := quote.Work(quotetest.Offer(edition), a)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	d, err := quote.Issue(w, quote.Head{Quote: "quote-1", Number: 1042, Revision: 1, IssuedOn: terms.Day, Customer: "customer-1",
		Paper: quote.Paper{Letterhead: quote.Letterhead{Name: "Withermere Camper Works"}, Terms: "We do what we say."}})
	if err != nil {
		tb.Fatal(err)
	}
	return d
}

func gross() pricing.Terms {
	return pricing.Terms{Basis: pricing.Gross, Day: "2026-09-01", Role: "owner", ValidUntil: "2026-09-30"}
}

func number(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func addition(code, price string) pricing.AdditionPrice {
	return pricing.AdditionPrice{Code: code, Price: number(price)}
}
