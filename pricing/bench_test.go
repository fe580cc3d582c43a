package pricing_test

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
)

// demo is the demo workshop, ready, with the specification of one of its
// choices.
type demo struct {
	release *bom.Release
	book    *pricebook.Compiled
	spec    bom.Specification
}

func files(t testing.TB, pattern string) []document.File {
	t.Helper()
	names, err := filepath.Glob(pattern)
	if err != nil || len(names) == 0 {
		t.Skipf("there is no %s", pattern)
	}
	list := make([]document.File, len(names))
	for i, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		list[i] = document.File{Name: filepath.Base(name), Data: data}
	}
	return list
}

var demoRelease = sync.OnceValues(func() (*bom.Release, document.Faults) {
	names, _ := filepath.Glob("../testdata/demo/catalogue/*.yaml")
	var list []document.File
	for _, name := range names {
		data, _ := os.ReadFile(name)
		list = append(list, document.File{Name: filepath.Base(name), Data: data})
	}
	c, _, faults := catalogue.Decode(list)
	if len(faults) > 0 {
		return nil, faults
	}
	return bom.Compile(c)
})

func loadDemo(t testing.TB, edition, choices string) demo {
	t.Helper()
	release, faults := demoRelease()
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	e, _, faults := pricebook.Decode(files(t, "../testdata/demo/pricebook/"+edition+".yaml"))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	book, faults := pricebook.Compile(release.Catalogue(), e)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	var asked struct {
		Format  string         `yaml:"format" json:"format"`
		Van     bom.Van        `yaml:"van" json:"van"`
		Choices bom.Choices    `yaml:"choices" json:"choices"`
		Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
	}
	if _, faults := document.Decode(files(t, "../testdata/demo/choices/"+choices+".yaml")[0], &asked, ""); len(faults) > 0 {
		t.Fatal(faults)
	}
	resolution, faults, err := bom.Resolve(release, asked.Van, asked.Choices, bom.SettleByDefaults)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	return demo{release, book, resolution.Specification}
}

// The benchmark's sheet: a full conversion of the demo workshop.
const benchmarkChoices = "full-conversion-short-van"

// BenchmarkExpandPrice is from the specification to the priced sheet, hashing
// and JSON left out.
func BenchmarkExpandPrice(b *testing.B) {
	d := loadDemo(b, "2026-10", benchmarkChoices)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02", Role: "sales"}
	lines := len(bom.Expand(d.release, d.spec).Lines)
	b.ReportAllocs()
	for b.Loop() {
		sheet := bom.Expand(d.release, d.spec)
		p, err := pricing.Price(sheet, d.spec, d.book, terms)
		if err != nil || len(p.Gaps) > 0 {
			b.Fatal(err, p.Gaps)
		}
	}
	b.ReportMetric(float64(lines), "lines")
}

// BenchmarkPrice is the pricing alone.
func BenchmarkPrice(b *testing.B) {
	d := loadDemo(b, "2026-10", benchmarkChoices)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02", Role: "sales"}
	sheet := bom.Expand(d.release, d.spec)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := pricing.Price(sheet, d.spec, d.book, terms); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(sheet.Lines)), "lines")
}

// BenchmarkFloorDecimal is the least that any pricing of that sheet has to do,
// in plain decimals: on every line of it that costs anything multiply quantity
// and unit price, round to the penny and add; then VAT on the sum.
func BenchmarkFloorDecimal(b *testing.B) {
	d := loadDemo(b, "2026-10", benchmarkChoices)
	sheet := bom.Expand(d.release, d.spec)
	p, err := pricing.Price(sheet, d.spec, d.book, pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02"})
	if err != nil {
		b.Fatal(err)
	}
	costed := p.Inside.Costed
	hundred, rate := decimal.NewFromInt(100), decimal.NewFromInt(20)
	var total decimal.Decimal
	b.ReportAllocs()
	for b.Loop() {
		total = decimal.Zero
		for i := range costed {
			total = total.Add(costed[i].Quantity.Mul(costed[i].UnitCost.Decimal()).Round(2))
		}
		total = total.Add(total.Mul(rate).Div(hundred).Round(2))
	}
	b.ReportMetric(float64(len(costed)), "lines")
	if want := p.Inside.Cost.Decimal(); !total.Div(decimal.New(12, -1)).Round(2).Equal(want) {
		b.Fatalf("the floor comes to %s, the costs to %s", total, want)
	}
}
