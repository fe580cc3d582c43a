package pricing_test

import (
	"fmt"
	"math/rand"
	"slices"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote/quotetest"
)

// whole prices choices from the beginning.
func whole(t *testing.T, d demo, van bom.Van, choices bom.Choices, settle bom.Settle, terms pricing.Terms, held *pricing.Held) pricing.Priced {
	t.Helper()
	res, faults, err := bom.Specify(d.release, van, choices, settle)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	p, err := pricing.PriceHeld(bom.Expand(d.release, res.Specification), res.Specification, d.book, terms, held)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func sameEstimate(t *testing.T, what string, e pricing.Estimate, p pricing.Priced) {
	t.Helper()
	gaps := func(list []pricing.Gap) (out []string) {
		for _, g := range list {
			if g.Code == pricing.BrokenSheet {
				g = pricing.Gap{Code: g.Code}
			}
			out = append(out, fmt.Sprint(g))
		}
		return slices.Compact(out)
	}
	got := fmt.Sprint(e.Totals, e.Cost, e.Margin, e.SettledSoFar, gaps(e.Gaps), fmt.Sprintf("%+v", e.Refusal))
	want := fmt.Sprint(p.Totals, p.Inside.Cost, p.Inside.Margin, p.SettledSoFar, gaps(p.Gaps), fmt.Sprintf("%+v", p.Refusal))
	if got != want {
		t.Fatalf("%s:\n%s\nfrom the beginning:\n%s", what, got, want)
	}
}

// takingOutByNumber is a demo in which taking things out takes the longer the
// more sockets are fitted.
func takingOutByNumber(t *testing.T, d demo) demo {
	t.Helper()
	c := *d.release.Catalogue()
	c.Features = slices.Clone(c.Features)
	for i := range c.Features {
		if r := c.Features[i].Removal; r != nil {
			n := *r
			n.Lines = append(slices.Clone(n.Lines), catalogue.Line{Stage: c.Stages[0].Code, Trade: c.Trades[0].Code, Quantity: "1 + fit.sockets_usb / 3"})
			c.Features[i].Removal = &n
		}
	}
	var faults document.Faults
	if d.release, faults = bom.Compile(&c); len(faults) > 0 {
		t.Fatal(faults)
	}
	if d.book, faults = pricebook.Compile(&c, d.book.Edition()); len(faults) > 0 {
		t.Fatal(faults)
	}
	return d
}

// TestTrialIsPrice: the price of every change of the demo's choices is what
// Price makes of the changed choices.
func TestTrialIsPrice(t *testing.T) {
	r := rand.New(rand.NewSource(11))
	changes, gaps, refused, held := 0, 0, 0, 0
	for _, name := range quotetest.Names() {
		d := loadDemo(t, "2026-10", name)
		if name == "second-owner-refit" {
			d = takingOutByNumber(t, d)
		}
		for round := range 3 {
			choices := d.asked.Choices
			terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-02", Role: "sales"}
			settle := bom.SettleNothing
			var hold *pricing.Held
			switch round {
			case 1:
				settle, terms.Basis = bom.SettleByDefaults, pricing.Net
				five := decimal.New(4, 0)
				terms.DiscountPercent = &five
				old := loadDemo(t, "2026-07", name)
				before := whole(t, old, d.asked.Van, choices, settle, pricing.Terms{Basis: pricing.Net, Day: "2026-09-20", Role: "sales"}, nil)
				res, _, _ := bom.Specify(d.release, d.asked.Van, choices, settle)
				hold = &pricing.Held{Specification: &res.Specification, Priced: &before, Editions: []*pricebook.Compiled{old.book}}
			case 2:
				choices.Features = slices.Clone(choices.Features)
				for i := range choices.Features {
					if i > 0 && r.Intn(4) == 0 {
						choices.Features[i] = choices.Features[0]
					}
				}
				most := whole(t, d, d.asked.Van, choices, settle, terms, nil).Totals.Gross
				if most.Sign() > 0 {
					terms.Promise = &pricing.Promise{GrossAtMost: most}
				}
			}
			if d.asked.Terms != nil {
				terms.Additions = d.asked.Terms.Additions
			}
			trial, faults, err := bom.Try(d.release, d.asked.Van, choices, settle)
			if err != nil || len(faults) > 0 {
				t.Fatal(name, err, faults)
			}
			priced, err := pricing.Try(trial, d.book, terms, hold)
			if err != nil {
				t.Fatal(name, err)
			}
			sameEstimate(t, name, priced.First, whole(t, d, d.asked.Van, choices, settle, terms, hold))
			for _, c := range trial.Changes() {
				out, ok, err := trial.With(c)
				if err != nil {
					t.Fatal(err)
				}
				if !ok {
					continue
				}
				e, err := priced.With(&out)
				if err != nil {
					t.Fatal(err)
				}
				sameEstimate(t, fmt.Sprintf("%s %d %+v", name, round, c), e, whole(t, d, d.asked.Van, trial.Choices(c), settle, terms, hold))
				changes++
				gaps += len(e.Gaps)
				if e.Refusal != nil {
					refused++
				}
				if hold != nil {
					held++
				}
			}
			priced.End()
			trial.End()
		}
	}
	t.Logf("%d changes, %d gaps, %d refusals, %d with prices held", changes, gaps, refused, held)
	if changes < 3_000 || gaps < 1_000 || refused == 0 || held < 500 {
		t.Error("too few of some kind to say anything")
	}
}
