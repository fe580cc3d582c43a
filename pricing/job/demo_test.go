package job_test

import (
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
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

// issued is a quote for such vans, issued with an edition.
func issued(tb testing.TB, edition string, terms pricing.Terms, names ...string) *quote.Document {
	tb.Helper()
	a := quote.Asked{Terms: terms}
	for _, name := range names {
		a.Vans = append(a.Vans, van(tb, name))
	}
	w, faults, err := quote.Work(offer(tb, edition), a)
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
