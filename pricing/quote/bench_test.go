package quote_test

import (
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// BenchmarkWork is one van of the demo, a whole conversion, from what is asked
// to the totals.
func BenchmarkWork(b *testing.B) {
	o, a := quotetest.Offer("2026-10"), asked(b, "full-conversion-short-van")
	lines := 0
	b.ReportAllocs()
	for b.Loop() {
		w, faults, err := quote.Work(o, a)
		if err != nil || len(faults) > 0 {
			b.Fatal(err, faults)
		}
		lines = len(w.Vans[0].Sheet.Lines)
	}
	b.ReportMetric(float64(lines), "lines")
}

// BenchmarkIssue freezes that, encodes it and hashes it.
func BenchmarkIssue(b *testing.B) {
	w := work(b, quotetest.Offer("2026-10"), asked(b, "full-conversion-short-van"))
	size := 0
	b.ReportAllocs()
	for b.Loop() {
		d, err := quote.Issue(w, head(1))
		if err != nil {
			b.Fatal(err)
		}
		text, err := d.Encode()
		if err != nil {
			b.Fatal(err)
		}
		if quote.SHA256(text) == "" {
			b.Fatal("no hash")
		}
		size = len(text)
	}
	b.ReportMetric(float64(len(w.Vans[0].Sheet.Lines)), "lines")
	b.ReportMetric(float64(size), "bytes")
}

// BenchmarkWorkFleet is a hire fleet of 40 vans that are alike.
func BenchmarkWorkFleet(b *testing.B) {
	o, a := quotetest.Offer("2026-10"), asked(b, "full-conversion-short-van")
	many(&a, quote.MaxVans)
	b.ReportAllocs()
	for b.Loop() {
		if _, faults, err := quote.Work(o, a); err != nil || len(faults) > 0 {
			b.Fatal(err, faults)
		}
	}
}

// BenchmarkDecode reads that document again.
func BenchmarkDecode(b *testing.B) {
	text := []byte(encoded(b, issue(b, quotetest.Offer("2026-10"), asked(b, "full-conversion-short-van"), 1)))
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := quote.Decode(text); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkCompare compares two revisions of it.
func BenchmarkCompare(b *testing.B) {
	o, a := quotetest.Offer("2026-10"), asked(b, "full-conversion-short-van")
	earlier := issue(b, o, a, 1)
	want(&a.Vans[0], "tow_electrics", "alarm")
	later := issue(b, o, a, 2)
	for b.Loop() {
		if c := quote.Compare(earlier, later, o.Release.Catalogue()); len(c.Sentences) < 4 {
			b.Fatal(c.Text())
		}
	}
}

// BenchmarkEffect is what one open quote of the demo's full conversion takes in
// a comparison of releases: worked out with another release, and told apart.
func BenchmarkEffect(b *testing.B) {
	d := issue(b, quotetest.Offer("2026-10"), asked(b, "full-conversion-short-van"), 1)
	o := otherRelease(b, func(c *catalogue.Catalogue) {
		f := featureOf(b, c, "roof_elevating")
		f.Lines = append(f.Lines, catalogue.Line{Stage: f.Lines[0].Stage, Trade: "fitter", Quantity: "1.5"})
	})
	for b.Loop() {
		w := work(b, o, d.Asked)
		if e := quote.EffectOf(d, d.Under(&w), o.Release.Catalogue()); e.Same {
			b.Fatal("nothing has changed")
		}
	}
}
