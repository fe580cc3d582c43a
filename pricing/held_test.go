package pricing_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// withMore gives a drawn example additions, price lists and credit.
func withMore(t *rapid.T, e *example) {
	for i := range rapid.IntRange(0, 3).Draw(t, "additions") {
		a := bom.Addition{Code: "extra_" + string(rune('a'+i)), Kind: bom.OneOff, Words: "Extra work", Stage: "fit",
			Quantity: rapid.IntRange(0, bom.MaxAdditionQuantity).Draw(t, "how many of it")}
		price := pricing.AdditionPrice{
			Code: a.Code, Price: decimal.New(rapid.Int64Range(-20_000, 200_000).Draw(t, "price"), -2),
			Treatment: rapid.SampledFrom([]pricebook.Treatment{"", pricebook.Reduced, pricebook.Zero, pricebook.Margin}).Draw(t, "taxed"),
		}
		if rapid.Bool().Draw(t, "own part") {
			a.Kind = bom.CustomersOwn
		} else if rapid.Bool().Draw(t, "has a cost") {
			price.Cost = new(decimal.New(rapid.Int64Range(0, 90_000).Draw(t, "its cost"), -2))
		}
		e.Additions = append(e.Additions, a)
		if rapid.IntRange(0, 5).Draw(t, "priced") > 0 {
			e.Terms.Additions = append(e.Terms.Additions, price)
		}
		for j := range e.Lines {
			if e.Lines[j].Trade != "" && rapid.Bool().Draw(t, "takes hours") {
				e.Lines[j].For = append(e.Lines[j].For, exampleReason{Addition: a.Code, Quantity: dec("1.25")})
			}
			if e.Lines[j].Part != "" && a.Kind == bom.CustomersOwn && len(e.Lines[j].For) > 0 && rapid.Bool().Draw(t, "stands in") {
				e.Lines[j].For = append(e.Lines[j].For, exampleReason{Addition: a.Code, Quantity: dec("-0.25")})
			}
		}
	}
	drawLists(t, e)
	if len(e.Lists) > 0 && rapid.Bool().Draw(t, "for the trade") {
		e.Terms.PriceList = e.Lists[0].Code
	}
	if rapid.IntRange(0, 3).Draw(t, "on account") == 0 {
		e.Terms.CreditDays = new(rapid.IntRange(0, 90).Draw(t, "credit days"))
	}
}

func drawLists(t *rapid.T, e *example) {
	e.Lists = []examplePriceList{{Code: "trade", PercentOff: decimal.New(rapid.Int64Range(0, 999_999).Draw(t, "percent off"), -4)}}
	for _, f := range e.Features {
		if rapid.IntRange(0, 4).Draw(t, "in the list") == 0 {
			e.Lists[0].Prices = append(e.Lists[0].Prices, pricebook.Price{Feature: f.Code, How: pricebook.List, Treatment: f.Treatment,
				Amount: new(decimal.New(rapid.Int64Range(0, 400_000).Draw(t, "trade price"), -2))})
		}
	}
	if e.Package != nil && rapid.IntRange(0, 2).Draw(t, "package in the list") == 0 {
		e.Lists[0].Package = new(decimal.New(rapid.Int64Range(0, 1_500_000).Draw(t, "trade package"), -2))
	}
}

// repriced is the same thing asked for, when everything costs and is priced
// and treated otherwise; rates of VAT are a matter of the day and stay.
func repriced(t *rapid.T, e example) example {
	pence := func(most int64, label string) decimal.Decimal {
		return decimal.New(rapid.Int64Range(0, most).Draw(t, label), -2)
	}
	e.ListIncludesVAT = rapid.Bool().Draw(t, "now includes VAT")
	e.Markup = decimal.New(rapid.Int64Range(0, 60).Draw(t, "markup now"), 0)
	treatments := []pricebook.Treatment{"", "", pricebook.Reduced, pricebook.Zero, pricebook.Margin, pricebook.Outside}
	e.Features = slices.Clone(e.Features)
	for i := range e.Features {
		f := &e.Features[i]
		f.How = rapid.SampledFrom([]pricebook.How{pricebook.List, pricebook.BuiltUp, pricebook.Included}).Draw(t, "how now")
		if f.List = nil; f.How == pricebook.List {
			f.List = new(pence(500_000, "list now"))
		}
		f.Treatment = rapid.SampledFrom(treatments).Draw(t, "treatment now")
	}
	e.Lines = slices.Clone(e.Lines)
	for i := range e.Lines {
		e.Lines[i].Cost = decimal.New(rapid.Int64Range(0, 900_000).Draw(t, "cost now"), -4)
		if e.Lines[i].Trade != "" {
			e.Lines[i].Charge = pence(9_000, "charge now")
		}
	}
	if e.Package != nil {
		p := *e.Package
		p.Amount, p.Items = pence(2_000_000, "package now"), slices.Clone(p.Items)
		for i := range p.Items {
			p.Items[i].Allowance = decimal.Zero
		}
		e.Package = &p
	}
	e.Finishes = slices.Clone(e.Finishes)
	for i := range e.Finishes {
		e.Finishes[i].Surcharge = new(pence(50_000, "surcharge now"))
	}
	if e.Limit != nil {
		e.Limit = &exampleLimit{MostPercent: dec("0"), FloorMarginPercent: dec("99")}
	}
	drawLists(t, &e)
	return e
}

// Whatever the edition of the day says, an unchanged specification comes to
// what it was offered at, line by line, and so it does once more when that
// revision is revised in turn.
func TestWhatIsUnchangedKeepsItsPrice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		withMore(t, &e)
		if rapid.Bool().Draw(t, "with a discount") {
			limited(t, &e)
		}
		first := e.pricedUnder(t, nil)
		if first.Price.Refusal != nil {
			return // it was never issued so
		}
		later := repriced(t, e)
		again := later.pricedUnder(t, first.held())
		unchanged(t, first.Price, again.Price)
		last := repriced(t, later)
		third := last.pricedUnder(t, again.held(first.Book))
		unchanged(t, first.Price, third.Price)
	})
}

func unchanged(t tester, before, after pricing.Priced) {
	t.Helper()
	if after.Holding == nil || after.Holding.Not != "" {
		t.Fatalf("nothing is held: %+v", after.Holding)
	}
	if before.Totals != after.Totals {
		t.Fatalf("it came to %+v and comes to %+v", before.Totals, after.Totals)
	}
	was, is := map[string]int64{}, map[string]int64{}
	for _, l := range before.Lines {
		was[untouched(l)] += l.Amount.Minor()
	}
	for _, l := range after.Lines {
		is[untouched(l)] += l.Amount.Minor()
	}
	for key, amount := range was {
		if is[key] != amount {
			t.Fatalf("%s came to %d and comes to %d", key, amount, is[key])
		}
	}
}

// untouched names a line by what it is of; an included one and one with a
// price are the same thing.
func untouched(l pricing.Line) string {
	kind := l.Kind
	if kind == pricing.IncludedLine {
		kind = pricing.FeatureLine
	}
	return strings.Join([]string{string(kind), l.Code, l.InsteadOf}, " ")
}

// After dropping a feature, adding one, or wanting more of one, whatever has
// nothing to do with it keeps its amount to the penny.
func TestWhatIsUntouchedKeepsItsAmount(t *testing.T) {
	changes := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		e.Terms.Treatments = nil
		withMore(t, &e)
		first := e.pricedUnder(t, nil)
		later := repriced(t, e)
		at := rapid.IntRange(0, len(e.Features)-1).Draw(t, "which")
		f := &later.Features[at]
		what := "more"
		switch {
		case f.NotChosen:
			f.NotChosen, what = false, "added"
		case rapid.Bool().Draw(t, "drop it"):
			f.NotChosen, what = true, "dropped"
		default:
			f.Fit = max(f.Fit, 1) + rapid.IntRange(1, 3).Draw(t, "more of it")
		}
		touched := map[string]bool{f.Code: true}
		for range later.SwapFor { // what is swapped with it, and so on
			for _, s := range later.SwapFor {
				if touched[s.Item] || touched[s.Other] {
					touched[s.Item], touched[s.Other] = true, true
				}
			}
		}
		after := later.pricedUnder(t, first.held()).Price
		have := map[string]int64{}
		for _, l := range after.Lines {
			have[untouched(l)] += l.Amount.Minor()
		}
		for _, l := range first.Price.Lines {
			if l.Kind == pricing.DiscountLine || touched[l.Code] {
				continue
			}
			have[untouched(l)] -= l.Amount.Minor()
			if have[untouched(l)] != 0 {
				t.Fatalf("%s of %s: %s came to %s, now it is %d more", what, f.Code, untouched(l), l.Amount, have[untouched(l)])
			}
		}
		// More of it: those there were keep their price, in a line of their own.
		if what == "more" {
			for _, l := range first.Price.Lines {
				if l.Code != f.Code || l.Kind != pricing.FeatureLine || len(later.SwapFor) > 0 || later.Package != nil {
					continue
				}
				if !slices.ContainsFunc(after.Lines, func(k pricing.Line) bool {
					return k.Code == l.Code && k.UnitPrice.Equal(l.UnitPrice) && k.Quantity >= l.Quantity
				}) {
					t.Fatalf("%d of %s at %s are not held", l.Quantity, l.Code, l.UnitPrice)
				}
			}
		}
		changes[what]++
	})
	for _, what := range []string{"added", "dropped", "more"} {
		if changes[what] == 0 {
			t.Errorf("nothing was %s: %v", what, changes)
		}
	}
}

// A line that holds says from where and what it would be today, and that is
// what it comes to without a hold.
func TestBothPricesAreShown(t *testing.T) {
	e := example{Name: "shown", ListIncludesVAT: true, Features: []exampleFeature{
		{Code: "window", List: new(dec("465")), Fit: 2}, {Code: "roof", List: new(dec("4200"))}, {Code: "hob", List: new(dec("420"))},
	}}
	e.Terms.Basis = pricing.Gross
	first := e.pricedUnder(t, nil)
	e.Features = slices.Clone(e.Features)
	e.Features[0].List, e.Features[0].Fit, e.Features[2].List = new(dec("495.5")), 3, new(dec("400"))
	second := e.pricedUnder(t, first.held())
	var got []string
	for _, l := range second.Price.Lines {
		today := "-"
		if l.Today != nil {
			today = l.Today.Fixed()
		}
		got = append(got, fmt.Sprint(l.Code, " ", l.Quantity, " at ", l.UnitPrice.Fixed(), " from ", l.Edition, " today ", today))
	}
	want := []string{
		"window 2 at 465.00 from 2026-spring today 495.50", "window 1 at 495.50 from  today -",
		"roof 1 at 4200.00 from  today -",               // is at the same price today
		"hob 1 at 420.00 from 2026-spring today 400.00", // and keeps it when that would be less
	}
	if !slices.Equal(got, want) {
		t.Errorf("the lines are\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if h := second.Price.Holding; h.Edition != "2026-spring" || h.Lines != 2 {
		t.Errorf("it says %+v", h)
	}
	// Three of them in a third edition: two from the first, one from the second.
	e.Features = slices.Clone(e.Features)
	e.Features[0].List, e.Features[0].Fit = new(dec("510")), 4
	third := e.pricedUnder(t, second.held(first.Book))
	got = nil
	for _, l := range third.Price.Lines[:3] {
		got = append(got, fmt.Sprint(l.Quantity, " at ", l.UnitPrice.Fixed(), " from ", l.Edition))
	}
	if want := []string{"2 at 465.00 from 2026-spring", "1 at 495.50 from later", "1 at 510.00 from "}; !slices.Equal(got, want) {
		t.Errorf("windows are %q, want %q", got, want)
	}
}

// What is left out of a held package takes off what its own edition says;
// without the edition at hand it is the day's.
func TestAHeldPackageHasItsOwnAllowances(t *testing.T) {
	e := example{
		Name: "package", ListIncludesVAT: true,
		Features: []exampleFeature{{Code: "bed", List: new(dec("1900"))}, {Code: "curtain", List: new(dec("300"))}},
		Package:  &examplePackage{Code: "weekender", Amount: dec("9500"), Items: []exampleItem{{Feature: "bed", Allowance: dec("1200")}, {Feature: "curtain", Allowance: dec("240")}}},
	}
	e.Terms.Basis = pricing.Gross
	first := e.pricedUnder(t, nil)
	e.Features = slices.Clone(e.Features)
	e.Features[1].NotChosen = true
	e.Package = &examplePackage{Code: "weekender", Amount: dec("12000"), Items: []exampleItem{{Feature: "bed", Allowance: dec("1200")}, {Feature: "curtain", Allowance: dec("900")}}}
	if got := e.pricedUnder(t, first.held()).Price.Totals.Gross.Fixed(); got != "9260.00" {
		t.Errorf("without curtains it comes to %s, want 9500 − 240", got)
	}
	if got := e.pricedUnder(t, &pricing.Held{Specification: &first.Spec, Priced: &first.Price, Editions: []*pricebook.Compiled{}}); got.Price.Totals.Gross.Fixed() != "8600.00" {
		t.Errorf("without the edition it comes to %s, want 9500 − 900", got.Price.Totals.Gross)
	}
}

// VAT is the day's: what is printed holds when a rate changes, and what gets
// another treatment keeps its price without VAT.
func TestVATUnderAHold(t *testing.T) {
	e := example{Name: "vat", ListIncludesVAT: true, Features: []exampleFeature{{Code: "lift", List: new(dec("1175"))}, {Code: "awning", List: new(dec("117.5"))}},
		VAT: []pricebook.VATRate{
			{Treatment: pricebook.Standard, Percent: dec("17.5"), From: "2008-01-01"}, {Treatment: pricebook.Standard, Percent: dec("20"), From: "2011-01-04"},
			{Treatment: pricebook.Reduced, Percent: dec("5"), From: "2008-01-01"},
		}}
	e.Terms = pricing.Terms{Basis: pricing.Gross, Day: "2011-01-03"}
	first := e.pricedUnder(t, nil)
	e.Terms.Day = "2011-01-04"
	second := e.pricedUnder(t, first.held()).Price
	// GBP 1292.50 × 20/120 = 215.416…
	if first.Price.Totals.VAT.Fixed() != "192.50" || second.Totals.Gross.Fixed() != "1292.50" || second.Totals.VAT.Fixed() != "215.42" {
		t.Errorf("%v, then %v", first.Price.Totals, second.Totals)
	}
	e.Terms.Treatments = []pricing.TreatmentChange{{Code: "lift", Treatment: pricebook.Zero, Evidence: "declaration"}}
	third := e.pricedUnder(t, first.held()).Price
	if third.Lines[0].Amount.Fixed() != "1000.00" || third.Lines[0].Treatment != pricebook.Zero || len(third.Gaps) > 0 {
		t.Errorf("zero rated it is %+v", third.Lines[0])
	}
	e.Terms.Basis, e.Terms.Treatments = pricing.Net, nil
	if h := e.pricedUnder(t, first.held()).Price.Holding; h.Not != pricing.OtherBasis || h.Says == "" {
		t.Errorf("on the other basis: %+v", h)
	}
}

// Nothing holds for another van, list, currency or way of supplying.
func TestNotHeld(t *testing.T) {
	base := func() example {
		e := example{Name: "not held", ListIncludesVAT: true, Features: []exampleFeature{{Code: "roof", List: new(dec("4200"))}}, Lists: []examplePriceList{{Code: "trade", PercentOff: dec("10")}}}
		e.Terms.Basis = pricing.Gross
		return e
	}
	e := base()
	first := e.pricedUnder(t, nil)
	for want, change := range map[pricing.NotHeldCode]func(*example, *pricing.Held){
		pricing.OtherPriceList: func(e *example, _ *pricing.Held) { e.Terms.PriceList = "trade" },
		pricing.OtherCurrency:  func(e *example, _ *pricing.Held) { e.Currency = "EUR" },
		pricing.OtherVan:       func(_ *example, h *pricing.Held) { h.Specification.Van.BaseVan = "long_van" },
		pricing.OtherFitting:   func(_ *example, h *pricing.Held) { h.Specification.Van.None = true },
		"":                     func(*example, *pricing.Held) {},
	} {
		e, spec := base(), first.Spec
		e.Features[0].List = new(dec("5000"))
		h := &pricing.Held{Specification: &spec, Priced: &first.Price, Editions: []*pricebook.Compiled{first.Book}}
		change(&e, h)
		p := e.pricedUnder(t, h).Price
		if p.Holding.Not != want || (want == "") != (p.Holding.Says == "") {
			t.Errorf("%+v, want %q", p.Holding, want)
		}
		if held := p.Totals.Gross.Fixed() == "4200.00"; held != (want == "") {
			t.Errorf("%q: it comes to %s", want, p.Totals.Gross)
		}
	}
}

// Ticked extras never come to more than they were printed at, on either basis
// and under any treatments; and where they come to less nothing is taken off.
func TestAPromiseIsKept(t *testing.T) {
	kept, idle := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		withMore(t, &e)
		if rapid.Bool().Draw(t, "asks for a discount") {
			limited(t, &e)
		}
		free := e.price(t)
		most := free.Totals.Gross.Decimal().Mul(decimal.New(rapid.Int64Range(50, 110).Draw(t, "promised"), -2)).Round(2)
		if most.Sign() < 0 {
			return
		}
		e.Promise = &most
		p := e.price(t)
		over := free.Totals.Gross.Decimal().Sub(most)
		lines := 0
		for _, l := range p.Lines {
			if l.Kind == pricing.PromiseLine {
				lines++
			}
		}
		switch left := most.Sub(p.Totals.Gross.Decimal()); {
		case over.Sign() <= 0:
			idle++
			if lines > 0 || p.Totals != free.Totals {
				t.Fatalf("%s is not over %s, yet %+v", free.Totals.Gross, most, p.Totals)
			}
		case left.Sign() < 0, p.Basis == pricing.Gross && !left.IsZero():
			t.Fatalf("promised %s, comes to %s", most, p.Totals.Gross)
		case left.GreaterThan(dec("0.10")): // VAT of at most six rows, each rounded
			t.Fatalf("promised %s, comes to only %s", most, p.Totals.Gross)
		default:
			kept++
		}
	})
	if kept == 0 || idle == 0 {
		t.Errorf("%d kept, %d idle: nothing was tried", kept, idle)
	}
}

// All of it at once still adds up: additions, a price list, credit, a hold, a
// discount and a promise. consistent looks.
func TestAllAtOnceAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		withMore(t, &e)
		first := e.pricedUnder(t, nil)
		later := repriced(t, e)
		limited(t, &later)
		for i := range later.Features {
			if rapid.IntRange(0, 3).Draw(t, "changed") == 0 {
				later.Features[i].NotChosen = !later.Features[i].NotChosen
			}
		}
		if most := first.Price.Totals.Gross; most.Sign() >= 0 && rapid.Bool().Draw(t, "promises") {
			later.Promise = new(most.Decimal())
		}
		p := later.pricedUnder(t, first.held()).Price
		if later.Promise != nil && p.Totals.Gross.Decimal().GreaterThan(*later.Promise) {
			t.Fatalf("%s is more than %s", p.Totals.Gross, later.Promise)
		}
		if p.Currency != money.Currency("GBP") {
			t.Fatal(p.Currency)
		}
	})
}

// The discount that was given is given again to the penny, and on less of a
// price no more than its share.
func TestADiscountIsHeldToThePenny(t *testing.T) {
	gbp := func(s string) *money.Amount { return new(must(money.Parse(s, "GBP"))) }
	e := example{Name: "discount", ListIncludesVAT: true, Features: []exampleFeature{{Code: "roof", List: new(dec("1200"))}, {Code: "rail", List: new(dec("1200"))}},
		Limit: &exampleLimit{MostPercent: dec("10"), FloorMarginPercent: dec("0")}}
	e.Terms.Basis, e.Terms.DiscountAmount = pricing.Gross, gbp("200")
	first := e.pricedUnder(t, nil)
	e.Limit = &exampleLimit{MostPercent: dec("0"), FloorMarginPercent: dec("0")}
	for _, c := range []struct {
		asked   string
		dropped bool
		given   bool
	}{{"200", false, true}, {"200.01", false, false}, {"199", false, true}, {"100", true, true}, {"100.01", true, false}, {"200", true, false}} {
		e.Terms.DiscountAmount = gbp(c.asked)
		e.Features = slices.Clone(e.Features)
		e.Features[1].NotChosen = c.dropped
		if p := e.pricedUnder(t, first.held()).Price; (p.Refusal == nil) != c.given {
			t.Errorf("%+v: %+v", c, p.Refusal)
		}
	}
}
