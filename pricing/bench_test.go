package pricing_test

import (
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/pricing"
)

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
			total = total.Add(sheet.Lines[costed[i].Line].Quantity.Mul(costed[i].UnitCost.Decimal()).Round(2))
		}
		total = total.Add(total.Mul(rate).Div(hundred).Round(2))
	}
	b.ReportMetric(float64(len(costed)), "lines")
	if want := p.Inside.Cost.Decimal(); !total.Div(decimal.New(12, -1)).Round(2).Equal(want) {
		b.Fatalf("the floor comes to %s, the costs to %s", total, want)
	}
}
