package quote_test

import (
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// The demo workshop's catalogue and editions, ready.
var demo = sync.OnceValues(func() (map[string]quote.Offer, error) {
	read := func(pattern string) []document.File {
		names, _ := filepath.Glob(pattern)
		list := make([]document.File, len(names))
		for i, name := range names {
			data, _ := os.ReadFile(name)
			list[i] = document.File{Name: filepath.Base(name), Data: data}
		}
		return list
	}
	c, _, faults := catalogue.Decode(read("../../testdata/demo/catalogue/*.yaml"))
	if len(faults) > 0 {
		return nil, faults
	}
	release, faults := bom.Compile(c)
	if len(faults) > 0 {
		return nil, faults
	}
	offers := map[string]quote.Offer{}
	for _, code := range []string{"2026-07", "2026-10"} {
		e, _, faults := pricebook.Decode(read("../../testdata/demo/pricebook/" + code + ".yaml"))
		if len(faults) > 0 {
			return nil, faults
		}
		book, faults := pricebook.Compile(c, e)
		if len(faults) > 0 {
			return nil, faults
		}
		offers[code] = quote.Offer{Number: 1, Release: release, Book: book}
	}
	return offers, nil
})

func offer(tb testing.TB, edition string) quote.Offer {
	tb.Helper()
	offers, err := demo()
	if err != nil {
		tb.Fatal(err)
	}
	return offers[edition]
}

// van reads one of the demo's files of choices.
func van(tb testing.TB, name string) quote.AskedVan {
	tb.Helper()
	data, err := os.ReadFile("../../testdata/demo/choices/" + name + ".yaml")
	if err != nil {
		tb.Fatal(err)
	}
	var file struct {
		Format  string         `yaml:"format" json:"format"`
		Van     bom.Van        `yaml:"van" json:"van"`
		Choices bom.Choices    `yaml:"choices" json:"choices"`
		Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
	}
	if _, faults := document.Decode(document.File{Name: name, Data: data}, &file, ""); len(faults) > 0 {
		tb.Fatal(faults)
	}
	file.Van.Registration, file.Van.VIN = "", ""
	v := quote.AskedVan{Van: "van-" + name, Facts: file.Van, Choices: file.Choices, Settle: bom.SettleByDefaults}
	if file.Terms != nil {
		v.Additions = file.Terms.Additions
	}
	return v
}

// asked is a quote for such vans.
func asked(tb testing.TB, names ...string) quote.Asked {
	tb.Helper()
	a := quote.Asked{Terms: pricing.Terms{Basis: pricing.Gross, Day: "2026-11-25", Role: "owner", ValidUntil: "2026-12-23"}}
	for _, name := range names {
		a.Vans = append(a.Vans, van(tb, name))
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
