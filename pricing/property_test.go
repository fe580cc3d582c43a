package pricing_test

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
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

// drawn is an example drawn at random, with everything there is in it.
func drawn(t *rapid.T) example {
	pence := func(most int64, label string) decimal.Decimal {
		return decimal.New(rapid.Int64Range(0, most).Draw(t, label), -2)
	}
	e := example{
		Name:            "drawn",
		ListIncludesVAT: rapid.Bool().Draw(t, "list includes VAT"),
		Standard:        new(decimal.New(rapid.Int64Range(0, 300).Draw(t, "standard"), -1)),
		Reduced:         new(decimal.New(rapid.Int64Range(0, 120).Draw(t, "reduced"), -1)),
		Markup:          decimal.New(rapid.Int64Range(0, 60).Draw(t, "markup"), 0),
	}
	e.Terms.Basis = rapid.SampledFrom([]pricing.Basis{pricing.Gross, pricing.Net}).Draw(t, "basis")
	treatments := []pricebook.Treatment{"", pricebook.Standard, pricebook.Reduced, pricebook.Zero, pricebook.Margin, pricebook.Exempt, pricebook.Outside}
	n := rapid.IntRange(1, 12).Draw(t, "features")
	codes := make([]string, n)
	for i := range n {
		codes[i] = "f" + string(rune('a'+i))
		f := exampleFeature{
			Code: codes[i], Fit: rapid.IntRange(1, 4).Draw(t, "fit"),
			How:       rapid.SampledFrom([]pricebook.How{pricebook.List, pricebook.List, pricebook.BuiltUp, pricebook.Included}).Draw(t, "how"),
			Treatment: rapid.SampledFrom(treatments).Draw(t, "treatment"),
			NotChosen: rapid.IntRange(0, 5).Draw(t, "not chosen") == 0,
		}
		if f.How == pricebook.List {
			f.List = new(pence(500_000, "list"))
		}
		e.Features = append(e.Features, f)
	}
	for i := range rapid.IntRange(0, 12).Draw(t, "lines") {
		l := exampleLine{
			Part: "p" + string(rune('a'+i)), Cost: decimal.New(rapid.Int64Range(0, 900_000).Draw(t, "cost"), -4),
			Quantity: decimal.New(rapid.Int64Range(1, 9_000).Draw(t, "quantity"), -2),
		}
		if i%4 == 3 {
			l.Trade, l.Part, l.Charge = l.Part, "", pence(9_000, "charge")
		}
		for range rapid.IntRange(0, 4).Draw(t, "reasons") {
			r := exampleReason{Quantity: decimal.New(rapid.Int64Range(0, 5_000).Draw(t, "asked"), -3)}
			if rapid.IntRange(0, 4).Draw(t, "the stage's own") > 0 {
				r.Feature = rapid.SampledFrom(codes).Draw(t, "asker")
				r.Removal = rapid.IntRange(0, 4).Draw(t, "removal") == 0
			}
			l.For = append(l.For, r)
		}
		e.Lines = append(e.Lines, l)
	}
	if rapid.Bool().Draw(t, "has a package") {
		e.Package = &examplePackage{Code: "pack", Amount: pence(2_000_000, "package")}
		left := e.Package.Amount
		for _, item := range codes[:rapid.IntRange(0, n).Draw(t, "items")] {
			count := rapid.IntRange(1, 3).Draw(t, "count")
			allowance := left.Div(decimal.NewFromInt(int64(count * 4))).Truncate(2)
			left = left.Sub(allowance.Mul(decimal.NewFromInt(int64(count))))
			e.Package.Items = append(e.Package.Items, exampleItem{Feature: item, Count: count, Allowance: allowance})
		}
		for range rapid.IntRange(0, 3).Draw(t, "swaps") {
			e.SwapFor = append(e.SwapFor, exampleSwap{rapid.SampledFrom(codes).Draw(t, "item"), rapid.SampledFrom(codes).Draw(t, "other")})
		}
	}
	if rapid.Bool().Draw(t, "has a finish") {
		e.Finishes = []exampleFinish{{Finish: "fabric", Choice: "grey", Surcharge: new(pence(50_000, "surcharge"))}}
	}
	for _, code := range codes[:rapid.IntRange(0, min(n, 3)).Draw(t, "removals")] {
		e.Removed = append(e.Removed, exampleRemoved{code, rapid.IntRange(1, 3).Draw(t, "how many")})
	}
	if rapid.Bool().Draw(t, "changes treatment") {
		e.Terms.Treatments = []pricing.TreatmentChange{{
			Code:      rapid.SampledFrom(append([]string{""}, codes...)).Draw(t, "whose"),
			Treatment: rapid.SampledFrom(treatments[1:]).Draw(t, "to"),
			Evidence:  rapid.SampledFrom([]string{"", "kept with the job"}).Draw(t, "evidence"),
		}}
	}
	e.Payments = drawnPayments(t)
	return e
}

func drawnPayments(t *rapid.T) []pricebook.Payment {
	var list []pricebook.Payment
	percents := int64(0)
	for i := range rapid.IntRange(0, 4).Draw(t, "payments") {
		p := pricebook.Payment{Code: "pay" + string(rune('a'+i)), Name: "Step", When: pricebook.BeforeSlot}
		if percent := rapid.Int64Range(1, 400).Draw(t, "percent"); i%2 == 0 && percents+percent < 1000 {
			percents += percent
			p.Percent = new(decimal.New(percent, -1))
		} else {
			p.Amount = new(decimal.New(rapid.Int64Range(0, 600_000).Draw(t, "amount"), -2))
		}
		list = append(list, p)
	}
	return append(list, pricebook.Payment{Code: "rest", Name: "Rest", Rest: true, When: pricebook.OnHandover})
}

// limited gives an example a limit and a discount to ask for.
func limited(t *rapid.T, e *example) {
	e.Limit = &exampleLimit{
		MostPercent:        decimal.New(rapid.Int64Range(0, 1000).Draw(t, "most"), -1),
		FloorMarginPercent: decimal.New(rapid.Int64Range(0, 999).Draw(t, "floor"), -1),
	}
	if rapid.Bool().Draw(t, "by percent") {
		e.Terms.DiscountPercent = new(decimal.New(rapid.Int64Range(0, 1000).Draw(t, "discount"), -1))
		return
	}
	a, _ := money.FromMinor(rapid.Int64Range(0, 3_000_000).Draw(t, "discount"), "GBP")
	e.Terms.DiscountAmount = &a
}

// However it is put together: totals are the sums of what is printed, net and
// VAT make gross, payments add up, margin is net less cost. consistent looks.
func TestEveryPriceAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		if rapid.Bool().Draw(t, "asks for a discount") {
			limited(t, &e)
		}
		p := e.price(t)
		for _, l := range p.Lines {
			if l.Treatment != pricebook.Standard && l.Treatment != pricebook.Reduced && !l.VAT.IsZero() {
				t.Fatalf("%s has VAT %s", l.Treatment, l.VAT)
			}
		}
	})
}

// What goes without VAT and on the net basis comes out as decimal arithmetic
// by hand would have it: an independent sum over list prices.
func TestNetListPricesAgainstPlainDecimals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := example{Name: "plain", Standard: new(decimal.New(rapid.Int64Range(0, 300).Draw(t, "rate"), -1))}
		e.Terms.Basis = pricing.Net
		sum := decimal.Zero
		for i := range rapid.IntRange(1, 20).Draw(t, "features") {
			list, fit := decimal.New(rapid.Int64Range(0, 9_999_999).Draw(t, "list"), -2), rapid.IntRange(1, 50).Draw(t, "fit")
			e.Features = append(e.Features, exampleFeature{Code: "f" + string(rune('a'+i)), List: &list, Fit: fit})
			sum = sum.Add(list.Mul(decimal.NewFromInt(int64(fit))))
		}
		vat := sum.Mul(*e.Standard).Shift(-2).Round(2)
		p := e.price(t)
		if !p.Totals.Net.Decimal().Equal(sum) || !p.Totals.VAT.Decimal().Equal(vat) || !p.Totals.Gross.Decimal().Equal(sum.Add(vat)) {
			t.Fatalf("%+v, want %s and %s", p.Totals, sum, vat)
		}
	})
}

// At the trade's prices too, for those the list does not price itself: the
// percentage comes off before the one rounding, to a hundredth of a penny.
func TestTradePricesAgainstPlainDecimals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		percent := decimal.New(rapid.Int64Range(0, 9999).Draw(t, "percent off"), -2)
		e := example{Name: "trade", Standard: new(dec("20")), ListIncludesVAT: rapid.Bool().Draw(t, "includes VAT"), Lists: []examplePriceList{{Code: "trade", PercentOff: percent}}}
		e.Terms.Basis, e.Terms.PriceList = pricing.Net, "trade"
		sum := decimal.Zero
		for i := range rapid.IntRange(1, 20).Draw(t, "features") {
			list, fit := decimal.New(rapid.Int64Range(0, 9_999_999).Draw(t, "list"), -2), rapid.IntRange(1, 50).Draw(t, "fit")
			code := "f" + string(rune('a'+i))
			e.Features = append(e.Features, exampleFeature{Code: code, List: &list, Fit: fit})
			each := list.Mul(dec("100").Sub(percent)).DivRound(dec("100"), 12)
			if rapid.IntRange(0, 3).Draw(t, "own price") == 0 {
				own := list.Div(dec("2")).Round(2)
				e.Lists[0].Prices = append(e.Lists[0].Prices, pricebook.Price{Feature: code, How: pricebook.List, Amount: &own})
				each = own
			}
			if e.ListIncludesVAT {
				each = each.DivRound(dec("1.2"), 12)
			}
			sum = sum.Add(each.Round(4).Mul(decimal.NewFromInt(int64(fit))).Round(2))
		}
		if p := e.price(t); !p.Totals.Net.Decimal().Equal(sum) || p.PriceList != "trade" {
			t.Fatalf("%+v, want %s", p.Totals, sum)
		}
	})
}

// On the net basis the totals keep the arithmetic of an electronic invoice,
// discounts and what keeps a promise being its allowances: BR-CO-10, 11, 13,
// 14, 15 and 17, and for each category the taxable amount (BR-S-8) and its VAT
// (BR-S-9), of EN 16931-1 (the rules from memory).
func TestTotalsKeepTheRulesOfAnInvoice(t *testing.T) {
	allowed := 0
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		withMore(t, &e)
		e.Terms.Basis = pricing.Net
		if rapid.Bool().Draw(t, "asks for a discount") {
			limited(t, &e)
		}
		if most := e.price(t).Totals.Gross.Decimal(); most.Sign() > 0 && rapid.Bool().Draw(t, "promises") {
			e.Promise = new(most.Mul(dec("0.97")).Round(2))
		}
		p := e.price(t)
		lines, allowances := decimal.Zero, decimal.Zero
		taxable := map[pricebook.Treatment]decimal.Decimal{}
		for _, l := range p.Lines {
			amount := l.Amount.Decimal()
			taxable[l.Treatment] = taxable[l.Treatment].Add(amount)
			if l.Kind == pricing.DiscountLine || l.Kind == pricing.PromiseLine {
				allowances = allowances.Sub(amount)
				allowed++
			} else {
				lines = lines.Add(amount)
			}
		}
		vat := decimal.Zero
		for _, r := range p.VAT {
			if !r.Net.Decimal().Equal(taxable[r.Treatment]) || !r.VAT.Decimal().Equal(taxable[r.Treatment].Mul(r.Percent).Shift(-2).Round(2)) {
				t.Fatalf("row %+v, the lines have %s", r, taxable[r.Treatment])
			}
			vat = vat.Add(r.VAT.Decimal())
		}
		total := p.Totals
		if !total.BeforeDiscount.Decimal().Equal(lines) || !total.Discount.Decimal().Equal(allowances) || !total.Net.Decimal().Equal(lines.Sub(allowances)) ||
			!total.VAT.Decimal().Equal(vat) || !total.Gross.Decimal().Equal(total.Net.Decimal().Add(vat)) {
			t.Fatalf("%+v: lines %s, allowances %s, VAT %s", total, lines, allowances, vat)
		}
	})
	if allowed == 0 {
		t.Error("nothing was taken off")
	}
}

// A discount given keeps role and floor; one refused says the most that would
// be given, and that is given when asked for, as an amount and as a percentage.
func TestDiscountNeverGoesBelowTheFloor(t *testing.T) {
	given, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		limited(t, &e)
		floor := e.Limit.FloorMarginPercent
		keeps := func(p pricing.Priced) {
			t.Helper()
			off := p.Totals.Discount
			if off.IsZero() {
				return
			}
			net, margin := p.Totals.Net.Decimal(), p.Inside.Margin.Decimal()
			if margin.Shift(2).LessThan(floor.Mul(net)) {
				t.Fatalf("a margin of %s on %s is below %s %%", margin, net, floor)
			}
			most := p.Totals.BeforeDiscount.Decimal().Mul(e.Limit.MostPercent).Shift(-2).Round(2)
			if off.Decimal().GreaterThan(most) {
				t.Fatalf("%s off is more than %s", off, most)
			}
		}
		p := e.price(t)
		keeps(p)
		if p.Refusal == nil {
			given++
			return
		}
		refused++
		if !p.Totals.Discount.IsZero() || slices.ContainsFunc(p.Lines, func(l pricing.Line) bool { return l.Kind == pricing.DiscountLine }) {
			t.Fatal("refused, and given all the same")
		}
		r := *p.Refusal
		e.Terms.DiscountPercent, e.Terms.DiscountAmount = nil, &r.Most
		if p = e.price(t); p.Refusal != nil && !r.Most.IsZero() || p.Totals.Discount != r.Most {
			t.Fatalf("most is %s, but asking for it: %+v", r.Most, p.Refusal)
		}
		keeps(p)
		if r.MostPercent.Sign() > 0 {
			e.Terms.DiscountPercent, e.Terms.DiscountAmount = &r.MostPercent, nil
			if p = e.price(t); p.Refusal != nil {
				t.Fatalf("most is %s %%, but asking for it: %+v", r.MostPercent, p.Refusal)
			}
			keeps(p)
		}
	})
	if given == 0 || refused == 0 {
		t.Errorf("%d were given and %d refused: nothing was tried", given, refused)
	}
}

// A smaller discount can leave less net: with these amounts 29.48 off keeps a
// margin of 20 % and 29.47 does not, and 19.24 % is 29.47. (Found by search.)
func TestMostPercentIsGivenWhereLessWouldNotBe(t *testing.T) {
	e := example{
		Name: "odd penny", ListIncludesVAT: true,
		Features: []exampleFeature{
			{Code: "a", List: new(dec("77.45"))},
			{Code: "b", List: new(dec("64.62")), Treatment: pricebook.Reduced},
			{Code: "c", List: new(dec("11.10")), Treatment: pricebook.Exempt},
		},
		Lines: []exampleLine{{Part: "p", Cost: dec("88.63"), Quantity: dec("1"), For: []exampleReason{{Feature: "a", Quantity: dec("1")}}}},
		Limit: &exampleLimit{MostPercent: dec("100"), FloorMarginPercent: dec("20")},
	}
	e.Terms.Basis = pricing.Gross
	ask := func(percent, amount string) *pricing.Refusal {
		e.Terms.DiscountPercent, e.Terms.DiscountAmount = nil, nil
		if percent != "" {
			e.Terms.DiscountPercent = new(dec(percent))
		} else {
			e.Terms.DiscountAmount = new(must(money.Parse(amount, "GBP")))
		}
		return e.price(t).Refusal
	}
	if ask("", "29.48") != nil || ask("", "29.47") == nil || ask("19.24", "") == nil {
		t.Fatal("the case is not one any more")
	}
	r := ask("100", "")
	if r == nil || r.Most.Fixed() != "29.48" || !r.MostPercent.Equal(dec("19.23")) {
		t.Errorf("most is %+v", r)
	} else if again := ask(r.MostPercent.String(), ""); again != nil {
		t.Errorf("asked for %s %%: %+v", r.MostPercent, again)
	}
}

// Supplied only, by having no van or by the kind of work, has its own price.
func TestSupplyOnlyPrices(t *testing.T) {
	e := example{Name: "supply", ListIncludesVAT: true, Features: []exampleFeature{{Code: "supply", How: pricebook.BuiltUp}, {Code: "roof", List: new(dec("4200"))}}}
	e.Terms.Basis = pricing.Gross
	for _, c := range []struct {
		noVan, byWork, allowed bool
		want                   string
	}{{false, false, true, "4200.00"}, {true, false, true, "2900.00"}, {false, true, false, "2900.00"}} {
		cat, b, spec, sheet := e.build()
		b.Prices = append(b.Prices, pricebook.Price{Feature: "roof", How: pricebook.List, Amount: new(dec("2900")), SupplyOnly: true})
		cat.Features[0].SupplyOnly, spec.Van.None, spec.Allowed = c.byWork, c.noVan, c.allowed
		book, faults := pricebook.Compile(cat, b)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		p, err := pricing.Price(sheet, spec, book, e.Terms)
		if err != nil || p.Totals.Gross.Fixed() != c.want {
			t.Errorf("%+v comes to %s, %v", c, p.Totals.Gross, err)
		}
		if p.SettledSoFar == c.allowed {
			t.Errorf("%+v: settled so far: %v", c, p.SettledSoFar)
		}
	}
}

// The order of the specification's features, removals and finishes is no part
// of the price: same bytes.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		c, b, spec, sheet := e.build()
		book, faults := pricebook.Compile(c, b)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		first, err := pricing.Price(sheet, spec, book, e.Terms)
		if err != nil {
			t.Fatal(err)
		}
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		spec.Features = slices.Clone(spec.Features)
		r.Shuffle(len(spec.Features), func(i, j int) { spec.Features[i], spec.Features[j] = spec.Features[j], spec.Features[i] })
		r.Shuffle(len(spec.Removed), func(i, j int) { spec.Removed[i], spec.Removed[j] = spec.Removed[j], spec.Removed[i] })
		again, err := pricing.Price(sheet, spec, book, e.Terms)
		if err != nil {
			t.Fatal(err)
		}
		if a, b := written(t, first), written(t, again); a != b {
			t.Fatalf("in another order\n%s\nis\n%s", a, b)
		}
	})
}

func written(t interface{ Fatal(...any) }, v any) string {
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// What is frozen is read back as it was, and has no maps and no floats.
func TestPricedIsFitToBeFrozen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawn(t)
		p := e.price(t)
		text := written(t, p)
		var back pricing.Priced
		if err := json.Unmarshal([]byte(text), &back); err != nil {
			t.Fatal(err)
		}
		if again := written(t, back); again != text {
			t.Fatalf("read back\n%s\nis\n%s", text, again)
		}
	})
	seen := map[reflect.Type]bool{}
	var look func(reflect.Type)
	look = func(k reflect.Type) {
		if seen[k] || k == reflect.TypeFor[decimal.Decimal]() {
			return
		}
		seen[k] = true
		switch k.Kind() {
		case reflect.Map, reflect.Float32, reflect.Float64, reflect.Interface:
			t.Errorf("there is a %s", k)
		case reflect.Struct:
			for f := range k.Fields() {
				look(f.Type)
			}
		case reflect.Slice, reflect.Pointer, reflect.Array:
			look(k.Elem())
		}
	}
	look(reflect.TypeFor[pricing.Priced]())
	look(reflect.TypeFor[pricebook.Edition]())
}

// The customer's copy says nothing of cost, margin, supplier or limits.
func TestForCustomerTellsNothingInside(t *testing.T) {
	e := example{
		Name: "inside", Features: []exampleFeature{{Code: "roof", List: new(dec("1000"))}},
		Lines: []exampleLine{{Part: "roof_unit", Cost: dec("723.45"), Quantity: dec("1"), For: []exampleReason{{Feature: "roof", Quantity: dec("1")}}}},
		Limit: &exampleLimit{MostPercent: dec("15"), FloorMarginPercent: dec("25")},
		Terms: pricing.Terms{Basis: pricing.Gross, DiscountPercent: new(dec("14"))},
	}
	p := e.price(t)
	if p.Refusal == nil || p.Inside == nil {
		t.Fatal("nothing was inside to begin with")
	}
	text := written(t, p.ForCustomer())
	for _, secret := range []string{"723.45", "chandler", "margin", "cost", "refusal", "35.40"} {
		if strings.Contains(text, secret) {
			t.Errorf("%q is in the customer's copy:\n%s", secret, text)
		}
	}
}

// bom.Sheet's lines that nobody asked for, or that are broken, do no harm.
func TestOddSheets(t *testing.T) {
	e := example{Name: "odd", Features: []exampleFeature{{Code: "roof", List: new(dec("1000"))}}}
	e.Terms.Basis = pricing.Gross
	c, b, spec, _ := e.build()
	book, faults := pricebook.Compile(c, b)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	sheet := bom.Sheet{
		Lines: []bom.Line{
			{Kind: bom.PartLine, Code: "nowhere", Name: "Unknown part", Quantity: dec("1"), Unit: "each"},
			{Kind: bom.PartLine, Finish: "fabric", Name: "Fabric", Quantity: dec("1"), Unit: "m2"},
			{Kind: bom.HoursLine, Code: "nobody", Name: "Unknown trade", Quantity: dec("1"), Unit: "h"},
			{Kind: bom.OutsideLine, Code: "nobody", Name: "Unknown work", Quantity: dec("1"), Unit: "visit"},
			{Kind: bom.KitLine, Code: "kit", Name: "A kit", Quantity: dec("1"), Unit: "each"},
			{Kind: bom.StandingLine, Name: "Glue cures", Quantity: dec("4"), Unit: "h"},
		},
		Broken: []bom.BrokenFormula{{At: "figures/lining_area_m2", Reason: "division by zero"}},
	}
	spec.Package = "nowhere"
	spec.Features = append(spec.Features, bom.SpecifiedFeature{Code: "ghost", Name: "Ghost", Count: 1, Fit: 1})
	spec.Finishes = []bom.SpecifiedFinish{{Finish: "worktop", Choice: "oak"}}
	spec.PackageChanges = []bom.PackageChange{{Item: "ghost", Count: 3, SwapFor: "roof"}}
	spec.Settled = false
	p, err := pricing.Price(sheet, spec, book, e.Terms)
	if err != nil {
		t.Fatal(err)
	}
	consistent(t, p)
	var got []string
	for _, g := range p.Gaps {
		got = append(got, string(g.Code)+" "+g.At)
	}
	want := []string{
		"no_price ghost", "no_price worktop/oak", "no_package nowhere", "finish_open fabric",
		"no_cost nowhere", "no_rate nobody", "no_outside nobody", "broken_sheet figures/lining_area_m2",
	}
	if !slices.Equal(got, want) {
		t.Errorf("the gaps are %q, want %q", got, want)
	}
	if !p.SettledSoFar {
		t.Error("an unsettled price does not say so")
	}
	if p.Lines[0].Kind != pricing.PackageLine || !p.Lines[0].Unpriced {
		t.Errorf("the package without a price is %+v", p.Lines[0])
	}
}

func TestTermsAreRefused(t *testing.T) {
	e := example{Name: "terms", Features: []exampleFeature{{Code: "roof", List: new(dec("1000"))}}, Additions: []bom.Addition{
		{Code: "rack", Kind: bom.OneOff, Words: "Rack"}, {Code: "heater", Kind: bom.CustomersOwn, Words: "Heater"},
	}}
	c, b, spec, sheet := e.build()
	book, faults := pricebook.Compile(c, b)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	euro, minus := money.Zero("EUR"), must(money.Parse("-1", "GBP"))
	for _, bad := range []struct {
		at    string
		terms pricing.Terms
	}{
		{"basis", pricing.Terms{Basis: "cash", Day: "2026-06-01"}},
		{"day", pricing.Terms{Basis: pricing.Net, Day: "2026-02-29"}},
		{"day", pricing.Terms{Basis: pricing.Net, Day: "1 June"}},
		{"discount_percent", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", DiscountPercent: new(dec("100.1"))}},
		{"discount_percent", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", DiscountPercent: new(dec("-1"))}},
		{"discount_percent", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", DiscountPercent: new(decimal.New(1, 2_000_000_000))}},
		{"discount_amount/currency", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", DiscountAmount: &euro}},
		{"discount_amount/amount", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", DiscountAmount: &minus}},
		{"discount_amount", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", DiscountAmount: new(money.Zero("GBP")), DiscountPercent: new(dec("1"))}},
		{"treatments/1/code", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Treatments: []pricing.TreatmentChange{{Code: "ghost", Treatment: pricebook.Exempt}}}},
		{"treatments/1/treatment", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Treatments: []pricing.TreatmentChange{{Code: "roof", Treatment: "free"}}}},
		{"treatments/2/code", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Treatments: []pricing.TreatmentChange{{Treatment: pricebook.Exempt}, {Treatment: pricebook.Outside}}}},
		{"price_list", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", PriceList: "trade"}},
		{"credit_days", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", CreditDays: new(-1)}},
		{"credit_days", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", CreditDays: new(pricing.MaxCreditDays + 1)}},
		{"valid_until", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", ValidUntil: "2026-06-31"}},
		{"slot_wanted", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", SlotWanted: "soon"}},
		{"additions", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: make([]pricing.AdditionPrice, bom.MaxAdditions+1)}},
		{"additions/1/code", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "ghost"}}}},
		{"additions/2/code", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "rack"}, {Code: "rack"}}}},
		{"additions/1/price", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "rack", Price: dec("0.005")}}}},
		{"additions/1/price", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "rack", Price: decimal.New(1, 2_000_000_000)}}}},
		{"additions/1/cost", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "rack", Cost: new(dec("-0.01"))}}}},
		{"additions/1/cost", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "heater", Cost: new(dec("0.01"))}}}},
		{"additions/1/treatment", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Additions: []pricing.AdditionPrice{{Code: "rack", Treatment: "free"}}}},
		{"treatments/1/code", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Treatments: []pricing.TreatmentChange{{Code: "rack", Treatment: pricebook.Exempt}}}},
		{"promise/gross_at_most/currency", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Promise: &pricing.Promise{GrossAtMost: euro}}},
		{"promise/gross_at_most/amount", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Promise: &pricing.Promise{GrossAtMost: minus}}},
		{"treatments", pricing.Terms{Basis: pricing.Net, Day: "2026-06-01", Treatments: make([]pricing.TreatmentChange, pricing.MaxTreatments+1)}},
	} {
		_, err := pricing.Price(sheet, spec, book, bad.terms)
		if err == nil {
			t.Errorf("%s: taken", bad.at)
			continue
		}
		if f := faultsOf(err); len(f) != 1 || f[0].At != bad.at || f[0].Remedy == "" {
			t.Errorf("%s: %v", bad.at, err)
		}
	}
}

// Amounts at the edge of what money is: just below it is priced, past it is
// refused, and neither wraps round.
func TestTooLargeIsRefused(t *testing.T) {
	for _, c := range []struct {
		list string
		fit  int
		ok   bool
	}{
		{"9999999999999.99", 1, true}, {"4999999999999.99", 2, true},
		{"5000000000000.00", 2, false}, {"9999999999999.99", 50, false},
	} {
		e := example{Name: "large", Standard: new(decimal.Zero), Features: []exampleFeature{{Code: "roof", List: new(dec(c.list)), Fit: c.fit}}}
		e.Terms.Basis = pricing.Net
		cat, b, spec, sheet := e.build()
		book, faults := pricebook.Compile(cat, b)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		p, err := pricing.Price(sheet, spec, book, e.Terms)
		if (err == nil) != c.ok {
			t.Errorf("%d × %s: %v, %v", c.fit, c.list, p.Totals.Gross, err)
		}
	}
}
