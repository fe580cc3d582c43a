package pricebook

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

const lists = `price_lists:
  - code: trade
    name: Trade
    percent_off: 12.5
    prices:
      - {feature: roof, how: list, amount: 3500}
      - {feature: roof, how: list, amount: 2500, supply_only: true}
      - {feature: rail, how: list, amount: 31, van: long}
    packages:
      - package: weekender
        van: short
        amount: 8000
        allowances: [{feature: roof, amount: 2500}, {feature: rail, amount: 30}]
  - {code: fleet, name: Hire fleets, percent_off: 5}
`

// Each change to good price lists brings exactly the fault named, in its line.
func TestFaultsOfPriceLists(t *testing.T) {
	whole := head + rest + lists
	if _, got, _ := read(whole); got != nil {
		t.Fatalf("good lists have faults: %q", got)
	}
	for _, c := range []struct{ from, to, want string }{
		{"code: trade", "code: the trade", "bad_code price_lists/1/code"},
		{"code: fleet", "code: trade", "duplicate price_lists/2/code"},
		{"name: Trade\n", "name: \" \"\n", "name price_lists/trade/name"},
		{"name: Hire fleets", "name: " + strings.Repeat("n", 101), "name price_lists/fleet/name"},
		{"percent_off: 12.5", "percent_off: 100", "too_large price_lists/trade/percent_off"},
		{"percent_off: 12.5", "percent_off: -1", "negative price_lists/trade/percent_off"},
		{"percent_off: 12.5", "percent_off: 12.50001", "too_fine price_lists/trade/percent_off"},
		{"amount: 3500}", "amount: 3500, colour: red}", "unknown_key price_lists/trade/prices/1/colour"},
		{"amount: 3500}", "amount: 3500.005}", "too_fine price_lists/trade/prices/1/amount"},
		{"feature: roof, how: list, amount: 3500", "feature: rood, how: list, amount: 3500", "unknown_code price_lists/trade/prices/1/feature"},
		{"amount: 2500, supply_only: true", "amount: 2500", "duplicate price_lists/trade/prices/2/feature"},
		{"amount: 31, van: long", "amount: 31, van: wide", "unknown_code price_lists/trade/prices/3/van"},
		{"feature: rail, how: list, amount: 31, van: long", "feature: seats, how: list, amount: 31", "not_sold price_lists/trade/prices/3/feature"},
		{"amount: 8000", "amount: 2559.99", "allowances price_lists/trade/packages/1/allowances"},
		{", {feature: rail, amount: 30}", "", "no_allowance price_lists/trade/packages/1/allowances"},
		{"amount: 8000", "amount: 8000\n        treatment: free", "unknown_word price_lists/trade/packages/1/treatment"},
	} {
		if strings.Count(whole, c.from) != 1 {
			t.Fatalf("%q is there %d times", c.from, strings.Count(whole, c.from))
		}
		_, got, faults := read(strings.Replace(whole, c.from, c.to, 1))
		if !slices.Equal(got, []string{c.want}) {
			t.Errorf("%q for %q gives %q, want %q", c.to, c.from, got, c.want)
		}
		for _, f := range faults {
			if f.Line == 0 || f.Reason == "" || f.Remedy == "" {
				t.Errorf("%q for %q: a fault without place, reason or remedy: %+v", c.to, c.from, f)
			}
		}
	}
	// A reduced rate is needed by a list as by anything else.
	text := strings.Replace(whole, "  - {treatment: reduced, percent: 5, from: 1997-09-01}\n", "", 1)
	text = strings.Replace(text, "van: long, treatment: reduced}", "van: long}", 1)
	text = strings.Replace(text, "amount: 3500}", "amount: 3500, treatment: reduced}", 1)
	if _, got, _ := read(text); !slices.Equal(got, []string{"no_vat_rate price_lists/trade/prices/1/treatment"}) {
		t.Errorf("without a reduced rate: %q", got)
	}
}

// What a list prices itself goes before the edition's, save that a supply-only
// price goes before any that is not where nothing is fitted.
func TestListings(t *testing.T) {
	e, _, _ := read(head + rest + lists)
	k, faults := Compile(small(), e)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if got := k.PriceLists(); !slices.Equal(got, []string{"trade", "fleet"}) {
		t.Errorf("the lists are %q", got)
	}
	if _, ok := k.Listing("trad"); ok {
		t.Error("a list that is not there is found")
	}
	for _, c := range []struct {
		list, feature, van string
		supplyOnly         bool
		minor              int64
		own                bool
	}{
		{"", "roof", "short", false, 420000, false},
		{"trade", "roof", "short", false, 350000, true},
		{"trade", "roof", "long", false, 350000, true}, // before the edition's for that van
		{"trade", "roof", "short", true, 250000, true},
		{"trade", "rail", "long", false, 3100, true},
		{"trade", "rail", "short", false, 0, false}, // built up
		{"fleet", "roof", "long", false, 460000, false},
		{"fleet", "roof", "long", true, 290000, false},
	} {
		l, _ := k.Listing(c.list)
		f, _ := l.Feature(c.feature)
		if p, ok := l.Price(f, c.van, c.supplyOnly); !ok || p.Minor != c.minor || p.Own != c.own {
			t.Errorf("%+v: %+v", c, p)
		}
	}
	e.PriceLists[0].Prices = e.PriceLists[0].Prices[:1] // nothing of its own for what is only supplied
	k, faults = Compile(small(), e)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	l, _ := k.Listing("trade")
	roof, _ := l.Feature("roof")
	if p, _ := l.Price(roof, "short", true); p.Minor != 290000 || p.Own {
		t.Errorf("only supplied it is %+v", p)
	}
	if num, den := l.Left(); num*8 != den*7 {
		t.Errorf("left are %d/%d", num, den)
	}
	pack, _ := l.Package("weekender", "short")
	if a, _ := pack.Allowance("rail"); pack.Minor != 800000 || a != 3000 || !pack.Own {
		t.Errorf("the package is %+v", pack)
	}
	everybody, _ := k.Listing("")
	if pack, _ := everybody.Package("weekender", "short"); pack.Minor != 950000 || pack.Own {
		t.Errorf("everybody's package is %+v", pack)
	}
}

// Every value of a price list tells in the hash.
func TestPriceListsAreHashed(t *testing.T) {
	e, _, _ := read(head + rest + lists)
	base, leaves := Hash(e), 0
	each(reflect.ValueOf(&e.PriceLists).Elem(), "price_lists", func(at string) {
		if leaves++; Hash(e) == base {
			t.Errorf("%s is no part of the hash", at)
		}
	})
	if leaves < 20 || Hash(e) != base {
		t.Errorf("%d values were changed and put back", leaves)
	}
}
