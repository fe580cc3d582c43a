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

// BenchmarkWhatWouldItChange prices every change of the demo's full conversion:
// each option not chosen, each next count, each chosen one dropped, each other
// finish; with the features and parts that come and go.
func BenchmarkWhatWouldItChange(b *testing.B) {
	d := loadDemo(b, "2026-10", benchmarkChoices)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02", Role: "sales"}
	for _, settle := range []bom.Settle{bom.SettleNothing, bom.SettleByDefaults} {
		name := "settle nothing"
		if settle != bom.SettleNothing {
			name = "settle " + string(settle)
		}
		b.Run(name, func(b *testing.B) {
			changes, parts := 0, 0
			b.ReportAllocs()
			for b.Loop() {
				changes, parts = 0, 0
				trial, faults, err := bom.Try(d.release, d.asked.Van, d.asked.Choices, settle)
				if err != nil || len(faults) > 0 {
					b.Fatal(err, faults)
				}
				priced, err := pricing.Try(trial, d.book, terms, nil)
				if err != nil {
					b.Fatal(err)
				}
				for _, c := range trial.Changes() {
					out, ok, err := trial.With(c)
					if err != nil {
						b.Fatal(err)
					}
					if !ok {
						continue
					}
					if _, err = priced.With(&out); err != nil {
						b.Fatal(err)
					}
					changes++
					trial.FeatureChanges(c, &out)
					parts += len(trial.PartChanges(&out))
				}
				priced.End()
				trial.End()
			}
			b.ReportMetric(float64(changes), "changes")
			b.ReportMetric(float64(parts), "part-changes")
		})
	}
}

// BenchmarkOneChoice is one changed choice to the new standing of every option,
// the new sheet and the new price, everything from the beginning.
func BenchmarkOneChoice(b *testing.B) {
	d := loadDemo(b, "2026-10", benchmarkChoices)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02", Role: "sales"}
	trial, _, err := bom.Try(d.release, d.asked.Van, d.asked.Choices, bom.SettleNothing)
	if err != nil {
		b.Fatal(err)
	}
	var sets []bom.Choices
	for _, c := range trial.Changes() {
		if _, ok, err := trial.With(c); err == nil && ok {
			sets = append(sets, trial.Choices(c))
		}
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		res, _, err := bom.Resolve(d.release, d.asked.Van, sets[n%len(sets)], bom.SettleNothing)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := pricing.Price(bom.Expand(d.release, res.Specification), res.Specification, d.book, terms); err != nil {
			b.Fatal(err)
		}
		n++
	}
}

// BenchmarkSettle is from choices that leave much open to the choices completed:
// of a whole conversion nothing but the roof is said, of windows nothing at all.
func BenchmarkSettle(b *testing.B) {
	d := loadDemo(b, "2026-10", benchmarkChoices)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02", Role: "sales"}
	for _, asked := range []struct {
		name  string
		wants []string
	}{{"whole conversion", []string{"whole_conversion", "roof_high"}}, {"windows", []string{"windows_only"}}} {
		var choices bom.Choices
		for _, code := range asked.wants {
			choices.Features = append(choices.Features, bom.Choice{Want: code})
		}
		for _, how := range []struct {
			name string
			aim  bom.Aim
		}{{"by defaults", nil}, {"cheaply", pricing.Cheaply(d.book, terms)}, {"lightly", bom.Lightly()}} {
			b.Run(asked.name+"/"+how.name, func(b *testing.B) {
				var found bom.Settled
				for b.Loop() {
					var err error
					if found, _, err = bom.SettleFor(d.release, d.asked.Van, choices, how.aim, bom.SettleSteps); err != nil {
						b.Fatal(err)
					}
				}
				proved := 0.0
				if found.Proved {
					proved = 1
				}
				b.ReportMetric(float64(found.Steps), "steps")
				b.ReportMetric(proved, "proved")
			})
		}
	}
}
