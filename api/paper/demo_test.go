package paper_test

import (
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"io/fs"
	"path"
	"sync"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/testdata"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// workshop is the demo workshop's offer.
type workshop struct {
	release *bom.Release
	book    *pricebook.Compiled
}

// theDemo reads it once for all tests.
var theDemo = sync.OnceValues(func() (*workshop, error) {
	files, err := documents("demo/catalogue")
	if err != nil {
		return nil, err
	}
	c, _, faults := catalogue.Decode(files)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	release, faults := bom.Compile(c)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	files, err = documents("demo/pricebook")
	if err != nil {
		return nil, err
	}
	edition, _, faults := pricebook.Decode(files[len(files)-1:])
	if err := faults.Err(); err != nil {
		return nil, err
	}
	book, faults := pricebook.Compile(c, edition)
	return &workshop{release, book}, faults.Err()
})

func documents(folder string) ([]document.File, error) {
	entries, err := fs.ReadDir(testdata.Demo, folder)
	if err != nil {
		return nil, err
	}
	var files []document.File
	for _, e := range entries {
		text, err := fs.ReadFile(testdata.Demo, path.Join(folder, e.Name()))
		if err != nil {
			return nil, err
		}
		files = append(files, document.File{Name: e.Name(), Data: text})
	}
	return files, nil
}

// choices is a file of choices of the demo.
type choices struct {
	Van     bom.Van        `yaml:"van" json:"van"`
	Choices bom.Choices    `yaml:"choices" json:"choices"`
	Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
}

func readChoices(tb testing.TB, name string) choices {
	tb.Helper()
	text, err := fs.ReadFile(testdata.Demo, "demo/choices/"+name+".yaml")
	if err != nil {
		tb.Fatal(err)
	}
	var c choices
	_, faults := document.Decode(document.File{Name: name, Data: text}, &c, "wainscot-choices/1")
	if err := faults.Err(); err != nil {
		tb.Fatal(err)
	}
	return c
}

// quoted works choices out as the one van of a quote.
func quoted(tb testing.TB, c choices) paper.Quote {
	tb.Helper()
	w, err := theDemo()
	if err != nil {
		tb.Fatal(err)
	}
	resolution, faults, err := bom.Resolve(w.release, c.Van, c.Choices, bom.SettleByDefaults)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	sheet := bom.Expand(w.release, resolution.Specification)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-25"}
	if c.Terms != nil {
		terms = *c.Terms
	}
	terms.Day = "2026-11-25"
	priced, err := pricing.Price(sheet, resolution.Specification, w.book, terms)
	if err != nil {
		tb.Fatal(err)
	}
	d := &quote.Document{
		Format: quote.Format, Quote: "0199", Number: 1042, Revision: 2, IssuedOn: "2026-11-25", ValidUntil: "2026-12-23",
		Release: quote.Release{Number: 3, Hash: w.release.Hash(), Title: w.release.Catalogue().Title},
		Edition: quote.Edition{Code: w.book.Edition().Code},
		Asked:   quote.Asked{Terms: terms, Vans: []quote.AskedVan{{Facts: c.Van, Choices: c.Choices}}},
		Vans:    []quote.Van{{Specification: resolution.Specification, Sheet: sheet, Priced: priced.ForCustomer()}},
		Totals:  priced.Totals, Payments: priced.Payments,
	}
	d.Paper = demoPaper()
	return paper.Quote{
		Document: d, Catalogue: w.release.Catalogue(),
		Customer: paper.Person{Name: "Rosalind Quayle", Lines: []string{"3 Ferry Steps", "Aldmoor", "AM4 7QT"}},
		Vans:     []paper.VanWords{{Registration: "WT24 DMO", VIN: "XXX00000000000042"}},
	}
}

// demoPaper is what the demo workshop prints with a quote.
func demoPaper() quote.Paper {
	terms := `1. The price holds until the day named above. It covers what is listed and nothing else.
2. The deposit is due on acceptance and holds the slot. It is part of the price, not on top of it.
3. A change after acceptance is a variation: it is priced and agreed in writing before it is done.
4. The van must arrive empty, clean and with its papers. What strip-out shows (rust, old repairs) is reported with a price before anything is done about it.
5. Our work is under warranty for three years from handover, parts for as long as their makers say. Parts you bring have no parts warranty from us.`
	sum := sha256.Sum256([]byte(terms))
	return quote.Paper{
		Letterhead: quote.Letterhead{
			Name: "Withermere Camper Works", Lines: []string{"Unit 4, Tannery Yard", "Withermere", "WM1 4ZZ"},
			Telephone: "01632 960 417", Email: "office@withermere.example", Web: "withermere.example",
			CompanyNumber: "00000000", VATNumber: "GB 000 0000 00",
			Bank: []string{"Withermere Camper Works, account 00000000, sort code 00-00-00"},
		},
		Terms: terms, TermsSHA256: hex.EncodeToString(sum[:]),
		NotIncluded: []string{"Registration fees, insurance and fuel are not included.", "Collecting and returning the van is not included unless it is listed."},
		Reference:   "RF18539007547034",
	}
}

// fleet is a quote of n vans alike and a few that are not.
func fleet(tb testing.TB, n int) paper.Quote {
	tb.Helper()
	q := quoted(tb, readChoices(tb, "full-conversion-short-van"))
	other := quoted(tb, readChoices(tb, "package-touring"))
	d := q.Document
	d.Vans[0].Specification.Van.Registration = ""
	for i := 1; i < n; i++ {
		d.Vans = append(d.Vans, d.Vans[0])
		d.Asked.Vans = append(d.Asked.Vans, d.Asked.Vans[0])
		q.Vans = append(q.Vans, paper.VanWords{Registration: "WT24 DM" + string(rune('A'+i))})
	}
	d.Vans = append(d.Vans, other.Document.Vans[0])
	d.Asked.Vans = append(d.Asked.Vans, other.Document.Asked.Vans[0])
	sumUp(tb, d)
	return q
}

// sumUp puts the sums of the vans into a document.
func sumUp(tb testing.TB, d *quote.Document) {
	tb.Helper()
	d.Totals, d.Payments = d.Vans[0].Priced.Totals, append([]pricing.Payment{}, d.Vans[0].Priced.Payments...)
	for _, v := range d.Vans[1:] {
		t := v.Priced.Totals
		var err error
		for _, s := range []struct{ to, add *money.Amount }{
			{&d.Totals.BeforeDiscount, &t.BeforeDiscount}, {&d.Totals.Discount, &t.Discount},
			{&d.Totals.Net, &t.Net}, {&d.Totals.VAT, &t.VAT}, {&d.Totals.Gross, &t.Gross},
		} {
			if *s.to, err = s.to.Add(*s.add); err != nil {
				tb.Fatal(err)
			}
		}
		for i := range d.Payments {
			if d.Payments[i].Amount, err = d.Payments[i].Amount.Add(v.Priced.Payments[i].Amount); err != nil {
				tb.Fatal(err)
			}
		}
	}
}

func kg(text string) decimal.Decimal { return decimal.RequireFromString(text) }
