package pricing_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

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
	asked   asked
	spec    bom.Specification
}

// asked is a file of choices.
type asked struct {
	Format  string         `yaml:"format" json:"format"`
	Van     bom.Van        `yaml:"van" json:"van"`
	Choices bom.Choices    `yaml:"choices" json:"choices"`
	Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
}

func files(tb testing.TB, pattern string) []document.File {
	tb.Helper()
	names, err := filepath.Glob(pattern)
	if err != nil || len(names) == 0 {
		tb.Skipf("there is no %s", pattern)
	}
	list := make([]document.File, len(names))
	for i, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
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

func resolve(tb testing.TB, release *bom.Release, a asked) bom.Specification {
	tb.Helper()
	resolution, faults, err := bom.Resolve(release, a.Van, a.Choices, bom.SettleByDefaults)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	return resolution.Specification
}

func loadDemo(tb testing.TB, edition, choices string) demo {
	tb.Helper()
	release, faults := demoRelease()
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	e, _, faults := pricebook.Decode(files(tb, "../testdata/demo/pricebook/"+edition+".yaml"))
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	book, faults := pricebook.Compile(release.Catalogue(), e)
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	var a asked
	if _, faults := document.Decode(files(tb, "../testdata/demo/choices/"+choices+".yaml")[0], &a, ""); len(faults) > 0 {
		tb.Fatal(faults)
	}
	return demo{release: release, book: book, asked: a, spec: resolve(tb, release, a)}
}

// Everything the demo's choices come to is priced: nothing is missing, every sum
// holds on both bases, and the order of the customer's choices is no part of it.
func TestDemoIsPricedWhole(t *testing.T) {
	names, _ := filepath.Glob("../testdata/demo/choices/*.yaml")
	for _, path := range names {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		t.Run(name, func(t *testing.T) {
			for _, edition := range []string{"2026-07", "2026-10"} {
				d := loadDemo(t, edition, name)
				sheet := bom.Expand(d.release, d.spec)
				for _, basis := range []pricing.Basis{pricing.Gross, pricing.Net} {
					terms := pricing.Terms{Basis: basis, Day: d.book.Edition().InForceFrom}
					if d.asked.Terms != nil {
						terms.Additions = d.asked.Terms.Additions
					}
					p, err := pricing.Price(sheet, d.spec, d.book, terms)
					if err != nil || len(p.Gaps) > 0 {
						t.Fatal(err, p.Gaps)
					}
					consistent(t, p)
					if p.Totals.Gross.Sign() <= 0 || p.Inside.Cost.Sign() <= 0 {
						t.Errorf("it comes to %s and costs %s", p.Totals.Gross, p.Inside.Cost)
					}
					if !d.spec.Allowed {
						continue // what is put aside depends on the order
					}
					again := d.asked
					again.Choices.Features = slices.Clone(again.Choices.Features)
					if len(again.Choices.Features) > 1 {
						slices.Reverse(again.Choices.Features[1:])
					}
					spec := resolve(t, d.release, again)
					q, err := pricing.Price(bom.Expand(d.release, spec), spec, d.book, terms)
					if err != nil || written(t, q) != written(t, p) {
						t.Errorf("chosen in another order it comes to %s, not %s", q.Totals.Gross, p.Totals.Gross)
					}
				}
			}
		})
	}
}
