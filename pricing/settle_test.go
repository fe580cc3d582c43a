package pricing_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// The lowest price and the least mass there is, against every settled
// specification of small catalogues written down, resolved, expanded and
// priced one by one.

func drawnFrom[T any](t *rapid.T, label string, list ...T) T {
	return rapid.SampledFrom(list).Draw(t, label)
}

// settleCatalogue has a group of which one is picked, one of which one may be,
// one of any, a counted feature, a follower, finishes with and without a rule
// that names them, and lines that read all of that.
func settleCatalogue(t *rapid.T) *catalogue.Catalogue {
	van := catalogue.BaseVan{Code: "van", Name: "Van"}
	for _, name := range catalogue.RequiredFacts {
		f := catalogue.Fact{Name: name, Kind: catalogue.NumberFact, Number: decimal.NewFromInt(10)}
		switch name {
		case "body":
			f = catalogue.Fact{Name: name, Kind: catalogue.TextFact, Text: "panel"}
		case "plated_kg":
			f.Number = decimal.NewFromInt(3500)
		case "plated_front_kg", "plated_rear_kg":
			f.Number = decimal.NewFromInt(1800)
		case "unladen_front_kg", "unladen_rear_kg":
			f.Number = decimal.NewFromInt(1000)
		}
		van.Facts = append(van.Facts, f)
	}
	for _, name := range catalogue.RequiredParticulars {
		van.Particulars = append(van.Particulars, catalogue.Particular{Name: name, Values: []string{"one", "other"}})
	}
	c := &catalogue.Catalogue{
		Title:    "Settling",
		Trades:   []catalogue.Trade{{Code: "joiner", Name: "Joiner"}},
		Stages:   []catalogue.Stage{{Code: "early", Name: "Early"}, {Code: "late", Name: "Late", Lines: []catalogue.Line{{Part: "p2", Quantity: "0.5"}}}},
		BaseVans: []catalogue.BaseVan{van},
		Groups: []catalogue.Group{
			{Code: "one", Name: "One", Stage: "late", Pick: catalogue.ExactlyOne, Default: []catalogue.Fitted{{Feature: "a1"}}},
			{Code: "maybe", Name: "Maybe", Stage: "early", Pick: catalogue.AtMostOne, Default: []catalogue.Fitted{{Feature: "b0"}},
				Required: drawnFrom(t, "required", "", "a0", "!c1", "c0 >= 2 || a1")},
			{Code: "any", Name: "Any", Stage: "early", Pick: catalogue.AnyNumber, Default: []catalogue.Fitted{{Feature: "c1"}}},
		},
		Features: []catalogue.Feature{
			{Code: "a0", Name: "A0", Group: "one"}, {Code: "a1", Name: "A1", Group: "one"},
			{Code: "a2", Name: "A2", Group: "one", SupplyOnly: rapid.IntRange(0, 2).Draw(t, "supply only") == 0},
			{Code: "b0", Name: "B0", Group: "maybe"}, {Code: "b1", Name: "B1", Group: "maybe", Removal: &catalogue.Removal{
				MassKG: dec("2"), Lines: []catalogue.Line{{Stage: "early", Trade: "joiner", Quantity: drawnFrom(t, "removal", "0.75", "c1 ? 0.2 : 1.1")}}}},
			{Code: "c0", Name: "C0", Group: "any", Count: &catalogue.Count{Least: 1, Most: 2}},
			{Code: "c1", Name: "C1", Group: "any"},
			{Code: "d0", Name: "D0", Group: "any", Follower: true},
		},
		Finishes: []catalogue.Finish{
			{Code: "paint", Name: "Paint", When: drawnFrom(t, "paint when", "", "c1", "!a1 || b0"), Default: drawnFrom(t, "paint default", "", "blue"),
				Choices: []catalogue.FinishChoice{{Code: "red", Name: "Red", Part: "p0"}, {Code: "blue", Name: "Blue", Part: "p1"}}},
			{Code: "cloth", Name: "Cloth", When: drawnFrom(t, "cloth when", "", "a0 || c0 >= 1", `finish.paint == "red"`),
				Choices: []catalogue.FinishChoice{{Code: "plain", Name: "Plain", Part: "p2"}, {Code: "hide", Name: "Hide", Part: "p3"}}},
		},
		Figures: []catalogue.Figure{{Code: "area_m2", Name: "Area", Formula: "6 - 2 * one(c1) - 1.25 * one(b0) - 0.3 * c0"}},
	}
	for i := range 4 {
		p := catalogue.Part{Code: fmt.Sprintf("p%d", i), Name: fmt.Sprintf("P%d", i), Unit: catalogue.Each, Provision: catalogue.ForTheJob,
			ScrapPercent: dec(drawnFrom(t, "scrap", "0", "10")), MassKG: dec(drawnFrom(t, "mass", "0", "0.25", "1.3335"))}
		c.Parts = append(c.Parts, p)
	}
	c.Parts = append(c.Parts, catalogue.Part{Code: "glue", Name: "Glue", Unit: "ml", Provision: catalogue.Consumable, MassKG: dec("0.0012"),
		Rates: []catalogue.Rate{{Trade: "joiner", PerHour: dec("12.5")}}})
	c.Kits = []catalogue.Kit{{Code: "kit", Name: "Kit", Items: []catalogue.KitItem{{Part: "p0", Quantity: drawnFrom(t, "in kit", "2", "0.3", "one(b1) + 1")}, {Finish: "paint", Quantity: "0.4"}},
		Hours: []catalogue.KitHours{{Trade: "joiner", Hours: "0.25"}}}}
	for i := range c.Features {
		for range rapid.IntRange(0, 3).Draw(t, "lines") {
			l := catalogue.Line{Stage: drawnFrom(t, "stage", "early", "late"), Once: rapid.Bool().Draw(t, "once"),
				Quantity: drawnFrom(t, "quantity", "1", "2", "0.35", "1 / 3", "fit.c0 + 1", "c1 ? 0.4 : 3"),
				When:     drawnFrom(t, "when", "", "", "", "!b1", "d0", `finish.cloth == "hide"`)}
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				l.Trade = "joiner"
			case 1:
				l.Kit = "kit"
			case 2:
				l.Finish = drawnFrom(t, "finish", "paint", "cloth")
			default:
				l.Part = drawnFrom(t, "part", "p0", "p1", "p2", "p3")
			}
			if (l.Part != "" || l.Kit != "") && rapid.IntRange(0, 3).Draw(t, "by area") == 0 {
				l.Quantity = "area_m2 / 2.88"
			}
			c.Features[i].Lines = append(c.Features[i].Lines, l)
		}
	}
	condition := func() string {
		return drawnFrom(t, "condition", "a0", "a1", "a2", "b0", "b1", "c1", "c0 >= 1", "c0 >= 2", "!c1", "a0 && c1", "b0 || c0 >= 2", `finish.paint == "red"`)
	}
	c.Rules = []catalogue.Rule{{Code: "brings", If: drawnFrom(t, "bringer", "a0", "b1", "c0 >= 2"), Brings: []catalogue.Fitted{{Feature: "d0"}}, Says: "It brings D."}}
	for i := range rapid.IntRange(0, 3).Draw(t, "rules") {
		r := catalogue.Rule{Code: fmt.Sprintf("rule%d", i), If: condition(), Says: "So it is."}
		if rapid.Bool().Draw(t, "clashes") {
			r.Clashes = condition()
		} else {
			r.Needs = condition()
		}
		c.Rules = append(c.Rules, r)
	}
	if rapid.IntRange(0, 2).Draw(t, "package") > 0 {
		c.Packages = []catalogue.Package{{Code: "pack", Name: "Pack", Items: []catalogue.Fitted{
			{Feature: drawnFrom(t, "item", "a0", "b0")}, {Feature: drawnFrom(t, "another", "c1", "c0", "d0")}}}}
	}
	return c
}

// settleEdition prices it, now and then for nothing.
func settleEdition(t *rapid.T, c *catalogue.Catalogue) *pricebook.Edition {
	amount := func(most int64) decimal.Decimal { return decimal.New(rapid.Int64Range(0, most).Draw(t, "amount"), -2) }
	e := &pricebook.Edition{Code: "now", InForceFrom: "2026-01-01", Currency: "GBP", ListIncludesVAT: rapid.Bool().Draw(t, "with VAT"),
		VAT:        []pricebook.VATRate{{Treatment: pricebook.Standard, Percent: dec("20"), From: "2011-01-04"}, {Treatment: pricebook.Reduced, Percent: dec("5"), From: "2011-01-04"}},
		Suppliers:  []pricebook.Supplier{{Code: "all", Name: "All"}},
		Labour:     []pricebook.LabourRate{{Trade: "joiner", CostPerHour: dec("20"), ChargePerHour: dec("40")}},
		Markup:     pricebook.Markup{MaterialsPercent: dec("35")},
		Deposits:   []pricebook.Payment{{Code: "rest", Name: "Rest", Rest: true, When: pricebook.OnHandover}},
		PriceLists: []pricebook.PriceList{{Code: "trade", Name: "Trade", PercentOff: dec("12.5")}},
	}
	for _, p := range c.Parts {
		e.Costs = append(e.Costs, pricebook.Cost{Part: p.Code, Supplier: "all", Unit: p.Unit, Cost: amount(3_000),
			Until: drawnFrom(t, "held until", "", "", "", "", "", "2026-02-01")})
	}
	for _, f := range c.Features {
		p := pricebook.Price{Feature: f.Code, How: drawnFrom(t, "how", pricebook.List, pricebook.List, pricebook.BuiltUp, pricebook.Included),
			Treatment: drawnFrom(t, "treatment", pricebook.Standard, pricebook.Standard, pricebook.Reduced)}
		if p.How == pricebook.Included && !f.Follower {
			p.How = pricebook.List
		}
		if p.How == pricebook.List {
			p.Amount = new(amount(rapid.SampledFrom([]int64{200, 20_000}).Draw(t, "most")))
		}
		e.Prices = append(e.Prices, p)
		if rapid.IntRange(0, 3).Draw(t, "priced as supplied") == 0 {
			e.Prices = append(e.Prices, pricebook.Price{Feature: f.Code, How: pricebook.List, Amount: new(amount(2_000)), SupplyOnly: true})
		}
	}
	for _, f := range c.Finishes {
		for _, choice := range f.Choices {
			if rapid.Bool().Draw(t, "surcharge") {
				e.Finishes = append(e.Finishes, pricebook.Surcharge{Finish: f.Code, Choice: choice.Code, Amount: amount(3_000)})
			}
		}
	}
	for _, p := range c.Packages {
		price := pricebook.PackagePrice{Package: p.Code, Van: "van", Amount: amount(9_000).Add(dec("100"))}
		for _, i := range p.Items {
			if i.Feature != "d0" {
				price.Allowances = append(price.Allowances, pricebook.Allowance{Feature: i.Feature, Amount: amount(4_000)})
			}
		}
		e.Packages = append(e.Packages, price)
	}
	return e
}

// settleAsk is a van with choices that leave much open.
func settleAsk(t *rapid.T, c *catalogue.Catalogue) (van bom.Van, choices bom.Choices) {
	van.BaseVan = "van"
	for _, item := range []bom.FittedItem{{Feature: "b1", Action: bom.Remove}, {Feature: "b1", Action: bom.Keep}, {Feature: "c0", Count: 1, Action: bom.Keep}} {
		if rapid.IntRange(0, 4).Draw(t, "fitted") == 0 && (len(van.Fitted) == 0 || van.Fitted[0].Feature != item.Feature) {
			van.Fitted = append(van.Fitted, item)
		}
	}
	for _, choice := range []bom.Choice{{Want: "a2"}, {Want: "a0"}, {Refuse: "a1"}, {Want: "b1"}, {Want: "c1"}, {Want: "c0"}, {Refuse: "b0"}} {
		if rapid.IntRange(0, 4).Draw(t, "says") == 0 {
			choices.Features = append(choices.Features, choice)
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "finish") == 0 {
		choices.Finishes = []bom.FinishChoice{{Finish: "paint", Choice: "blue"}}
	}
	if len(c.Packages) > 0 && rapid.Bool().Draw(t, "takes the package") {
		choices.Package = "pack"
	}
	if rapid.IntRange(0, 5).Draw(t, "own part") == 0 {
		choices.Additions = []bom.Addition{{Code: "own", Kind: bom.CustomersOwn, Words: "Own", Stage: "late", MassKG: dec("1.5"),
			InPlaceOf: "p0", Quantity: rapid.IntRange(1, 3).Draw(t, "brings"), DueBy: "2026-05-01", Approved: true}}
	}
	return van, choices
}

// everySettled calls for every settled specification that keeps all choices.
func everySettled(t *rapid.T, r *bom.Release, van bom.Van, choices bom.Choices, yield func(bom.Specification)) {
	counts := map[string]int{}
	features := r.Catalogue().Features
	var paint, cloth string
	look := func() {
		full := choices
		full.Features = append([]bom.Choice(nil), choices.Features...)
		for _, f := range features {
			choice := bom.Choice{Want: f.Code, Count: counts[f.Code]}
			if counts[f.Code] == 0 {
				choice = bom.Choice{Refuse: f.Code}
			}
			if counts[f.Code] == 0 && choices.Package != "" && slices.ContainsFunc(r.Catalogue().Packages[0].Items, func(i catalogue.Fitted) bool { return i.Feature == f.Code }) {
				continue // refused, it would be left out, which a swap is not
			}
			full.Features = append(full.Features, choice)
		}
		full.Finishes = []bom.FinishChoice{{Finish: "paint", Choice: paint}, {Finish: "cloth", Choice: cloth}}
		res, faults, err := bom.Specify(r, van, full, bom.SettleNothing)
		if err != nil {
			t.Fatal(err)
		}
		if len(faults) > 0 || len(res.Answer.PutAside) > 0 {
			return // it contradicts what was said, or is not allowed
		}
		if !res.Specification.Settled {
			t.Fatalf("%+v is decided and not settled", full)
		}
		yield(res.Specification)
	}
	var walk func(i int)
	walk = func(i int) {
		if counts["a0"]+counts["a1"]+counts["a2"] > 1 || counts["b0"]+counts["b1"] > 1 {
			return
		}
		if i == len(features) {
			for _, paint = range []string{"red", "blue"} {
				if len(choices.Finishes) > 0 && paint != choices.Finishes[0].Choice {
					continue
				}
				for _, cloth = range []string{"plain", "hide"} {
					look()
				}
			}
			return
		}
		most := 1
		if features[i].Count != nil {
			most = features[i].Count.Most
		}
		for n := 0; n <= most; n++ {
			counts[features[i].Code] = n
			walk(i + 1)
		}
		counts[features[i].Code] = 0
	}
	walk(0)
}

type worth struct {
	unknown, count int
	cost           int64
}

func (w worth) less(o worth) bool {
	if w.unknown != o.unknown {
		return w.unknown < o.unknown
	}
	if w.cost != o.cost {
		return w.cost < o.cost
	}
	return w.count < o.count
}

func worthOf(t *rapid.T, r *bom.Release, aim bom.Aim, spec bom.Specification) worth {
	sheet := bom.Expand(r, spec)
	cost, unknown, err := aim.Cost(&spec, &sheet)
	if err != nil {
		t.Fatal(err)
	}
	w := worth{unknown: unknown, cost: cost}
	for _, f := range spec.Features {
		w.count += f.Count
	}
	return w
}

// watched holds an aim's floors against everything that can be reached from
// where they are asked for.
type watched struct {
	bom.Aim
	t     *rapid.T
	c     *catalogue.Catalogue
	specs []bom.Specification
	worth []worth
	asked int
}

func (w *watched) Floor(k *bom.Known) int64 {
	floor := w.Aim.Floor(k)
	if w.asked++; w.asked > 40 {
		return floor
	}
next:
	for i, s := range w.specs {
		for f := range w.c.Features {
			n := 0
			if at := slices.IndexFunc(s.Features, func(o bom.SpecifiedFeature) bool { return o.Code == w.c.Features[f].Code }); at >= 0 {
				n = s.Features[at].Count
			}
			if n < k.Counts[f] || n > k.Most[f] {
				continue next
			}
		}
		for _, f := range k.Finishes {
			finish := &w.c.Finishes[f.Finish]
			at := slices.IndexFunc(s.Finishes, func(o bom.SpecifiedFinish) bool { return o.Finish == finish.Code })
			if at < 0 {
				w.t.Fatalf("%s is said to apply, and does not in %+v", finish.Code, s)
			}
			if f.Choice >= 0 && finish.Choices[f.Choice].Code != s.Finishes[at].Choice {
				continue next
			}
		}
		if w.worth[i].unknown == 0 && w.worth[i].cost < floor {
			w.t.Fatalf("%T: nothing is to cost less than %d, and %+v does: %d", w.Aim, floor, s, w.worth[i].cost)
		}
	}
	return floor
}

func TestSettleIsBruteForce(t *testing.T) {
	proved, better, cut := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := settleCatalogue(t)
		r, faults := bom.Compile(c)
		if len(faults) > 0 {
			return // a rule that does nothing
		}
		book, faults := pricebook.Compile(c, settleEdition(t, c))
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		terms := pricing.Terms{Basis: drawnFrom(t, "basis", pricing.Gross, pricing.Net), Day: "2026-06-01", PriceList: drawnFrom(t, "list", "", "trade")}
		van, choices := settleAsk(t, c)
		before, faults, err := bom.Specify(r, van, choices, bom.SettleNothing)
		if err != nil || len(faults) > 0 || len(before.Answer.PutAside) > 0 {
			return
		}
		byDefaults, _, err := bom.SettleFor(r, van, choices, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		// A finish without a default stays open, and then it is no whole.
		whole := !slices.ContainsFunc(byDefaults.After.Resolution.Specification.Finishes, func(f bom.SpecifiedFinish) bool { return f.Choice == "" })
		var all []bom.Specification
		everySettled(t, r, van, choices, func(s bom.Specification) {
			for _, f := range before.Specification.Features {
				if !slices.ContainsFunc(s.Features, func(o bom.SpecifiedFeature) bool { return o.Code == f.Code && o.Count >= f.Count }) {
					return // refused what the package has
				}
			}
			all = append(all, s)
		})
		steps := drawnFrom(t, "steps", 3, 20, bom.SettleSteps, bom.SettleSteps)
		for _, aim := range []bom.Aim{pricing.Cheaply(book, terms), bom.Lightly()} {
			if err := aim.Begin(&byDefaults.Before); err != nil {
				t.Fatal(err)
			}
			look := watched{Aim: aim, t: t, c: c, specs: all}
			for _, s := range all {
				look.worth = append(look.worth, worthOf(t, r, aim, s))
			}
			got, faults, err := bom.SettleFor(r, van, choices, &look, steps)
			if err != nil || len(faults) > 0 {
				t.Fatal(err, faults)
			}
			spec := got.After.Resolution.Specification
			if !spec.Settled || !spec.Allowed {
				t.Fatalf("%T: not settled: %+v", aim, got.Choices)
			}
			if got.Steps > steps {
				t.Fatalf("%d steps of %d", got.Steps, steps)
			}
			w := worthOf(t, r, aim, spec)
			if d := worthOf(t, r, aim, byDefaults.After.Resolution.Specification); d.less(w) && whole {
				t.Fatalf("%T: %+v, and by defaults %+v", aim, w, d)
			} else if w.less(d) {
				better++
			}
			least, found, leastSpec := worth{}, false, bom.Specification{}
			for i, n := range look.worth {
				if !found || n.less(least) {
					least, found, leastSpec = n, true, all[i]
				}
			}
			switch {
			case !found:
				t.Fatalf("%T: nothing is settled, and settling gave %+v", aim, got.Choices)
			case w.less(least):
				t.Fatalf("%T: %+v is less than all there is, %+v", aim, w, least)
			case !got.Proved:
				cut++
			case w != least:
				t.Fatalf("%T: proved %+v, and there is %+v:\n%+v\n%+v", aim, w, least, spec, leastSpec)
			default:
				proved++
			}
		}
	})
	if proved == 0 || better == 0 {
		t.Errorf("proved %d, better than the defaults %d, not proved %d", proved, better, cut)
	}
	t.Logf("proved %d, better than the defaults %d, not proved %d", proved, better, cut)
}
