package pricing_test

import (
	"slices"
	"strings"
	"testing"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

func demoEditions(tb testing.TB) []pricing.OnDay {
	tb.Helper()
	return []pricing.OnDay{{Book: loadDemo(tb, "2026-10", benchmarkChoices).book, Day: "2026-11-25"}}
}

// The demo workshop can be published: nothing stands against it, and what it
// swears by holds.
func TestDemoIsProved(t *testing.T) {
	release := loadDemo(t, "2026-10", benchmarkChoices).release
	proof, err := pricing.Prove(release, demoEditions(t), bom.Proving{})
	if err != nil {
		t.Fatal(err)
	}
	if !proof.Publishable() {
		for _, f := range append(proof.Faults(), proof.Unacknowledged()...) {
			t.Errorf("%s: %s %+v", f.Key, f.Says, f.Example)
		}
	}
	if len(proof.Safety) < 10 {
		t.Errorf("only %d safety rules", len(proof.Safety))
	}
	for _, s := range proof.Safety {
		if len(s.Holds) != len(proof.Vans) {
			t.Errorf("%s holds on %v only", s.Code, s.Holds)
		}
	}
	for _, v := range proof.Vans {
		if v.AtLeast || len(v.Specifications) < 20 || v.Features < 190 || v.Pairs < 50_000 || v.Specimens < 100 {
			t.Errorf("%+v", v)
		}
	}
	if len(proof.Editions) != 1 || proof.Editions[0] != (bom.ProofEdition{Edition: "2026-10", Day: "2026-11-25"}) {
		t.Errorf("editions %v", proof.Editions)
	}
}

// Costs that end before the day are found, each once, with choices that show
// it when they are priced.
func TestProveFindsWhatHasNoCost(t *testing.T) {
	d := loadDemo(t, "2026-07", benchmarkChoices)
	const day = "2026-11-15" // half a month after some suppliers' prices end
	proof, err := pricing.Prove(d.release, []pricing.OnDay{{Book: d.book, Day: day}}, bom.Proving{})
	if err != nil {
		t.Fatal(err)
	}
	want := 0
	edition := d.book.Edition()
	for _, p := range d.release.Catalogue().Parts {
		held := slices.ContainsFunc(edition.Costs, func(c pricebook.Cost) bool {
			return c.Part == p.Code && (c.Until == "" || c.Until >= day)
		})
		if !held {
			want++
		}
		found := slices.ContainsFunc(proof.Findings, func(f bom.Finding) bool { return f.Code == "no_cost" && f.At == "parts/"+p.Code })
		if found == held {
			t.Errorf("%s: held %v, found %v", p.Code, held, found)
		}
	}
	if want < 5 || len(proof.Faults()) != want {
		t.Errorf("%d faults, %d parts without a cost", len(proof.Faults()), want)
	}
	for _, f := range proof.Faults() {
		res, faults, err := bom.Resolve(d.release, f.Example.Van, f.Example.Choices, f.Example.Settle)
		if err != nil || len(faults) > 0 || !res.Specification.Allowed || !res.Specification.Settled {
			t.Fatalf("%s: %v %v", f.Key, faults, err)
		}
		priced, err := pricing.Price(bom.Expand(d.release, res.Specification), res.Specification, d.book, pricing.Terms{Basis: pricing.Gross, Day: day})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(priced.Gaps, func(g pricing.Gap) bool { return "parts/"+g.At == f.At && g.Code == pricing.NoCost }) {
			t.Errorf("%s: %+v does not show it", f.Key, f.Example)
		}
		if len(f.Example.Choices.Features) > 20 {
			t.Errorf("%s: the example was not cut down: %d choices", f.Key, len(f.Example.Choices.Features))
		}
		if !strings.Contains(f.Says, "2026-07") {
			t.Errorf("%s does not name the edition: %s", f.Key, f.Says)
		}
	}
}

func TestInForceFrom(t *testing.T) {
	july, october := loadDemo(t, "2026-07", benchmarkChoices).book, loadDemo(t, "2026-10", benchmarkChoices).book
	book, faults := pricebook.NewBook(july, october)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	for _, c := range []struct {
		day  string
		want []pricing.OnDay
	}{
		{"2026-06-30", []pricing.OnDay{{Book: july, Day: "2026-07-01"}, {Book: october, Day: "2026-10-01"}}},
		{"2026-09-30", []pricing.OnDay{{Book: july, Day: "2026-09-30"}, {Book: october, Day: "2026-10-01"}}},
		{"2026-10-01", []pricing.OnDay{{Book: october, Day: "2026-10-01"}}},
		{"2027-01-01", []pricing.OnDay{{Book: october, Day: "2027-01-01"}}},
	} {
		if got := pricing.InForceFrom(book, c.day); !slices.Equal(got, c.want) {
			t.Errorf("on %s: %v", c.day, got)
		}
	}
}

// BenchmarkProveDemo proves the demo workshop whole: three base vans, every
// pair of features expanded and priced.
func BenchmarkProveDemo(b *testing.B) {
	release := loadDemo(b, "2026-10", benchmarkChoices).release
	editions := demoEditions(b)
	specimens := 0
	for b.Loop() {
		proof, err := pricing.Prove(release, editions, bom.Proving{})
		if err != nil || len(proof.Faults()) > 0 {
			b.Fatal(err, proof.Faults())
		}
		specimens = 0
		for _, v := range proof.Vans {
			specimens += v.Specimens
		}
	}
	b.ReportMetric(float64(specimens), "specimens")
}
