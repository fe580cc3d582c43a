package pricebook

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// small is a catalogue with one of everything a price-book speaks of.
func small() *catalogue.Catalogue {
	return &catalogue.Catalogue{
		Trades:   []catalogue.Trade{{Code: "fitter"}, {Code: "joiner"}},
		BaseVans: []catalogue.BaseVan{{Code: "short"}, {Code: "long"}},
		Features: []catalogue.Feature{
			{Code: "roof", Name: "Roof"},
			{Code: "frame", Name: "Frame", Follower: true},
			{Code: "rail", Name: "Rail"},
			{Code: "long_bed", Name: "Long bed", Vans: []string{"long"}},
			{Code: "seats", Name: "Minibus seats", NotSold: true},
		},
		Rules:       []catalogue.Rule{{Code: "r1", Brings: []catalogue.Fitted{{Feature: "rail"}}}},
		Finishes:    []catalogue.Finish{{Code: "fabric", Choices: []catalogue.FinishChoice{{Code: "grey"}, {Code: "blue"}}}},
		Packages:    []catalogue.Package{{Code: "weekender", Vans: []string{"short"}, Items: []catalogue.Fitted{{Feature: "roof"}, {Feature: "rail", Count: 2}, {Feature: "frame"}}}},
		Parts:       []catalogue.Part{{Code: "roof_unit", Unit: catalogue.Each}, {Code: "cable", Unit: catalogue.Metre}},
		OutsideWork: []catalogue.OutsideWork{{Code: "gas_test"}},
	}
}

const head = `format: wainscot-pricebook/1
edition: 2026-spring
in_force_from: 2026-03-01
currency: GBP
list_includes_vat: true
vat:
  - {treatment: standard, percent: 20, from: 2011-01-04}
  - {treatment: reduced, percent: 5, from: 1997-09-01}
suppliers:
  - {code: chandler, name: Tarn Chandlery, lead_time_days: 5}
  - {code: tester, name: Fell Gas, lead_time_days: 3}
labour:
  - {trade: fitter, cost_per_hour: 22.50, charge_per_hour: 54}
  - {trade: joiner, cost_per_hour: 24, charge_per_hour: 56}
markup: {materials_percent: 30, outside_work_percent: 15}
`

const rest = `costs:
  - {part: roof_unit, supplier: chandler, unit: each, cost: 1450}
  - {part: roof_unit, supplier: tester, unit: each, cost: 1500.125, pack: 2, lead_time_days: 20}
  - {part: cable, supplier: chandler, unit: m, cost: 0.8125, until: 2026-06-30}
outside_work:
  - {outside: gas_test, supplier: tester, cost: 95}
prices:
  - {feature: roof, how: list, amount: 4200}
  - {feature: roof, how: list, amount: 4600, van: long}
  - {feature: roof, how: list, amount: 2900, supply_only: true}
  - {feature: frame, how: included}
  - {feature: rail, how: built up}
  - {feature: long_bed, how: list, amount: 850, van: long, treatment: reduced}
packages:
  - package: weekender
    van: short
    amount: 9500
    allowances:
      - {feature: roof, amount: 3000}
      - {feature: rail, amount: 40}
finishes:
  - {finish: fabric, choice: blue, amount: 60}
discounts:
  - {role: sales, most_percent: 5, floor_margin_percent: 25}
payments:
  - {code: deposit, name: Deposit, percent: 20, when: on acceptance}
  - {code: booking, name: Slot, amount: 500, when: before the slot, days: 28}
  - {code: balance, name: Balance, rest: true, when: on handover}
`

// read decodes and checks what is written, and gives every fault as CODE AT.
func read(texts ...string) (*Edition, []string, document.Faults) {
	var list []document.File
	for i, text := range texts {
		list = append(list, document.File{Name: fmt.Sprintf("%d.yaml", i), Data: []byte(text)})
	}
	e, positions, faults := Decode(list)
	if len(faults) == 0 {
		faults = positions.Locate(e.Validate(small()))
	}
	var short []string
	for _, f := range faults {
		short = append(short, f.Code+" "+f.At)
	}
	return e, short, faults
}

func TestAPriceBookIsReadFromSeveralFiles(t *testing.T) {
	one, faults, _ := read(head + rest)
	if faults != nil {
		t.Fatalf("the whole has faults: %q", faults)
	}
	two, faults, _ := read(head, "format: wainscot-pricebook/1\n"+rest)
	if faults != nil {
		t.Fatalf("the parts have faults: %q", faults)
	}
	if Hash(one) != Hash(two) {
		t.Error("the same in two files has another hash")
	}
	if got := one.Costs[2].Cost; !got.Equal(dec("0.8125")) {
		t.Errorf("a cost of 0.8125 is read as %s", got)
	}
}

// Each change to a good price-book brings exactly the fault named, in its line.
func TestFaults(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		// What the format refuses.
		{"currency: GBP", "currency: GBP\ncolour: red", "unknown_key colour"},
		{"currency: GBP", "currency: GBP\ncurrency: EUR", "duplicate_key currency"},
		{"markup: {", "markups: {", "unknown_key markups"},
		{"how: built up", "how: guessed", "unknown_word prices/5/how"},
		{"when: on handover", "when: someday", "unknown_word payments/balance/when"},
		{"cost: 95", "cost: a lot", "wrong_kind outside_work/1/cost"},
		{"cost: 95", "cost: 9.5e1", "bad_number outside_work/1/cost"},
		// The head.
		{"edition: 2026-spring", "edition: 2026 spring", "bad_code edition"},
		{"in_force_from: 2026-03-01", "in_force_from: 2026-02-30", "day in_force_from"},
		{"currency: GBP", "currency: Pounds", "currency_code currency"},
		{"code: chandler,", "code: 1chandler,", "bad_code suppliers/1/code,unknown_code costs/1/supplier,unknown_code costs/3/supplier"},
		{"code: tester,", "code: chandler,", "duplicate suppliers/2/code,unknown_code costs/2/supplier,unknown_code outside_work/1/supplier"},
		{"lead_time_days: 3}", "lead_time_days: 731}", "lead_time suppliers/tester/lead_time_days"},
		{"materials_percent: 30", "materials_percent: -1", "negative markup/materials_percent"},
		{"materials_percent: 30", "materials_percent: 1000", "too_large markup/materials_percent"},
		// VAT.
		{"percent: 20, from: 2011-01-04", "percent: 20, from: 2026-03-02", "no_vat_rate vat"},
		{"percent: 20, from: 2011-01-04", "percent: 100, from: 2011-01-04", "too_large vat/1/percent"},
		{"treatment: reduced, percent: 5, from: 1997-09-01", "treatment: zero, percent: 5, from: 1997-09-01", "no_rate_here vat/2/treatment,no_vat_rate prices/6/treatment"},
		{"treatment: reduced, percent: 5, from: 1997-09-01", "treatment: standard, percent: 5, from: 2011-01-04", "duplicate vat/2/from,no_vat_rate prices/6/treatment"},
		{"treatment: reduced, percent: 5, from: 1997-09-01", "treatment: reduced, percent: 5, from: 1 September 1997", "day vat/2/from"},
		// Labour.
		{"trade: joiner", "trade: smith", "unknown_code labour/2/trade,no_rate labour"},
		{"trade: joiner", "trade: fitter", "duplicate labour/2/trade,no_rate labour"},
		{"cost_per_hour: 24", "cost_per_hour: 24.1234567", "too_fine labour/2/cost_per_hour"},
		// Costs.
		{"part: cable, supplier", "part: wire, supplier", "unknown_code costs/3/part,no_cost costs"},
		{"unit: m,", "unit: each,", "unit costs/3/unit"},
		{"unit: m,", "unit: yard,", "unknown_word costs/3/unit"},
		{"supplier: tester, unit: each", "supplier: chandler, unit: each", "duplicate costs/2/part"},
		{"pack: 2", "pack: -2", "negative costs/2/pack"},
		{"lead_time_days: 20", "lead_time_days: -1", "lead_time costs/2/lead_time_days"},
		{"until: 2026-06-30", "until: 2026-02-28", "over_already costs/3/until"},
		{"until: 2026-06-30", "until: 30/06/2026", "day costs/3/until"},
		{"pack: 2", "pack: 2, least_quantity: -4", "negative costs/2/least_quantity"},
		{"pack: 2", "pack: 2, breaks: [{from: 10, cost: 1500.125}]", "breaks costs/2/breaks/1"},
		{"pack: 2", "pack: 2, breaks: [{from: 10, cost: 1400}, {from: 10, cost: 1300}]", "breaks costs/2/breaks/2"},
		{"pack: 2", "pack: 2, breaks: [{from: 0, cost: 1400}]", "breaks costs/2/breaks/1"},
		{"pack: 2", "pack: 2, breaks: [{from: 10, cost: 1400.1234567}]", "too_fine costs/2/breaks/1/cost"},
		{"lead_time_days: 3}", "lead_time_days: 3, carriage: 4.999}", "too_fine suppliers/tester/carriage"},
		{"lead_time_days: 3}", "lead_time_days: 3, least_order: -1}", "negative suppliers/tester/least_order"},
		{"lead_time_days: 3}", "lead_time_days: 3, carriage_free_from: 100}", "no_carriage suppliers/tester/carriage_free_from"},
		{"lead_time_days: 3}", "lead_time_days: 3, address: [a, b, c, d, e, f, g, h, i]}", "too_many suppliers/tester/address"},
		{"lead_time_days: 3}", "lead_time_days: 3, address: [a, \"\"]}", "no_line suppliers/tester/address/2"},
		{"outside: gas_test", "outside: paint", "unknown_code outside_work/1/outside,no_cost outside_work"},
		// Prices.
		{"feature: rail, how: built up", "feature: rails, how: built up", "unknown_code prices/5/feature,no_price prices"},
		{"feature: rail, how: built up", "feature: seats, how: built up", "not_sold prices/5/feature,no_price prices"},
		{"feature: rail, how: built up", "feature: frame, how: built up", "duplicate prices/5/feature,no_price prices"},
		{"how: list, amount: 4200", "how: list", "no_amount prices/1/amount"},
		{"how: list, amount: 4200", "how: list, amount: 4200.005", "too_fine prices/1/amount"},
		{"how: list, amount: 4200", "how: list, amount: -1", "negative prices/1/amount"},
		{"how: list, amount: 4200", "how: list, amount: 10000000000000", "too_large prices/1/amount"},
		{"how: list, amount: 4200", "how: included", "never_brought prices/1/how"},
		{"feature: frame, how: included", "feature: frame, how: included, amount: 1", "needless_amount prices/4/amount"},
		{"amount: 4600, van: long", "amount: 4600, van: wide", "unknown_code prices/2/van"},
		{"amount: 850, van: long", "amount: 850, van: short", "not_offered prices/6/van,no_price prices"},
		{"  - {feature: roof, how: list, amount: 4200}\n", "", "no_price prices"}, // long still has one
		{"treatment: reduced}", "treatment: free}", "unknown_word prices/6/treatment"},
		// Packages.
		{"package: weekender", "package: tourer", "unknown_code packages/1/package,no_price packages"},
		{"van: short\n", "van: wide\n", "unknown_code packages/1/van,no_price packages"},
		{"van: short\n", "van: long\n", "not_offered packages/1/van,no_price packages"},
		{"feature: rail, amount: 40", "feature: rail, amount: 3250.01", "allowances packages/1/allowances"},
		{"      - {feature: rail, amount: 40}\n", "", "no_allowance packages/1/allowances"},
		{"feature: rail, amount: 40", "feature: seats, amount: 40", "no_allowance packages/1/allowances,no_item packages/1/allowances/2/feature"},
		{"feature: rail, amount: 40", "feature: roof, amount: 40", "no_allowance packages/1/allowances,duplicate packages/1/allowances/2/feature"},
		// Finishes, discounts, payments.
		{"choice: blue", "choice: green", "unknown_code finishes/1/choice"},
		{"role: sales", "role: \" \"", "no_role discounts/1/role"},
		{"most_percent: 5", "most_percent: 100.5", "too_large discounts/1/most_percent"},
		{"floor_margin_percent: 25", "floor_margin_percent: 100", "too_large discounts/1/floor_margin_percent"},
		{"percent: 20, when", "percent: 100, when", "too_large payments/deposit/percent"},
		{"amount: 500", "percent: 80", "percents payments"},
		{"amount: 500", "amount: 500, percent: 5", "payment payments/booking"},
		{"amount: 500", "rest: true", "rest payments/booking/rest"},
		{"rest: true", "percent: 10", "rest payments/balance/rest"},
		{"code: booking", "code: deposit", "duplicate payments/2/code"},
		{"days: 28", "days: 366", "days payments/booking/days"},
	} {
		text := head + rest
		if strings.Count(text, c.from) != 1 {
			t.Fatalf("%q is there %d times", c.from, strings.Count(text, c.from))
		}
		_, got, faults := read(strings.Replace(text, c.from, c.to, 1))
		want := strings.Split(c.want, ",")
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%q for %q gives %q, want %q", c.to, c.from, got, want)
		}
		for _, f := range faults {
			if f.Line == 0 || f.Reason == "" || f.Remedy == "" {
				t.Errorf("%q for %q: a fault without place, reason or remedy: %+v", c.to, c.from, f)
			}
		}
	}
}

func TestFaultsAreToldTogetherAndCapped(t *testing.T) {
	c := small()
	for i := range 500 {
		c.Parts = append(c.Parts, catalogue.Part{Code: fmt.Sprintf("p%d", i), Unit: catalogue.Each})
	}
	e, _, _ := read(head + rest)
	faults := e.Validate(c)
	if len(faults) != document.MaxFaults+1 || !strings.Contains(faults[document.MaxFaults].Reason, "300") {
		t.Errorf("500 faults are told as %d, the last %+v", len(faults), faults[len(faults)-1])
	}
}

func compiled(t *testing.T, change func(*Edition)) *Compiled {
	t.Helper()
	e, short, _ := read(head + rest)
	if short != nil {
		t.Fatal(short)
	}
	if change != nil {
		change(e)
	}
	k, faults := Compile(small(), e)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return k
}

func TestLookups(t *testing.T) {
	k := compiled(t, nil)
	everybody, _ := k.Listing("")
	for _, c := range []struct {
		van        string
		supplyOnly bool
		minor      int64
	}{{"short", false, 420000}, {"long", false, 460000}, {"short", true, 290000}, {"long", true, 290000}} {
		roof, _ := k.Feature("roof")
		if p, ok := everybody.Price(roof, c.van, c.supplyOnly); !ok || p.Minor != c.minor || p.Treatment != Standard {
			t.Errorf("on %s, supply only %v: %+v", c.van, c.supplyOnly, p)
		}
	}
	bed, _ := k.Feature("long_bed")
	if p, ok := everybody.Price(bed, "short", false); ok {
		t.Errorf("a bed for the long van has a price on the short: %+v", p)
	}
	if p, ok := k.Cost("cable", "2026-06-30"); !ok || !p.Cost.Decimal().Equal(dec("0.8125")) || !p.Charge.Decimal().Equal(dec("1.05625")) {
		t.Errorf("cable on its last day: %+v", p)
	}
	if _, ok := k.Cost("cable", "2026-07-01"); ok {
		t.Error("cable has a cost after its last day")
	}
	if p, _ := k.Cost("roof_unit", "2030-01-01"); p.Supplier != "chandler" {
		t.Errorf("the usual supplier is %s", p.Supplier)
	}
	if o, ok := k.Outside("gas_test"); !ok || !o.Charge.Decimal().Equal(dec("109.25")) {
		t.Errorf("the gas test is charged at %s", o.Charge.Decimal())
	}
	for day, want := range map[string]bool{"2011-01-03": false, "2011-01-04": true} {
		if _, ok := k.Percent(Standard, day); ok != want {
			t.Errorf("a standard rate on %s: %v", day, ok)
		}
	}
	if p, ok := k.Percent(Zero, "1900-01-01"); !ok || !p.IsZero() {
		t.Error("zero has a rate")
	}
	for code, want := range map[string]bool{"roof": true, "weekender": true, "fabric": true, "grey": false, "": false} {
		if k.Known(code) != want {
			t.Errorf("%q is known: %v", code, !want)
		}
	}
}

func TestTheEditionInForce(t *testing.T) {
	edition := func(code, from, currency string) *Compiled {
		return compiled(t, func(e *Edition) {
			e.Code, e.InForceFrom, e.Currency = code, from, currency
			e.Costs[2].Until = ""
		})
	}
	spring, summer := edition("spring", "2026-03-01", "GBP"), edition("summer", "2026-07-01", "GBP")
	book, faults := NewBook(summer, spring)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	for day, want := range map[string]*Compiled{
		"2026-02-28": nil, "2026-03-01": spring, "2026-06-30": spring, "2026-07-01": summer, "2040-01-01": summer,
	} {
		if got, ok := book.InForce(day); got != want || ok != (want != nil) {
			t.Errorf("on %s it is %v", day, got)
		}
	}
	for _, wrong := range []*Compiled{
		edition("spring", "2026-09-01", "GBP"), edition("other", "2026-07-01", "GBP"), edition("euro", "2026-09-01", "EUR"),
	} {
		if _, faults := NewBook(spring, summer, wrong); len(faults) != 1 {
			t.Errorf("%s: %v", wrong.Edition().Code, faults)
		}
	}
	if _, ok := (&Book{}).InForce("2026-01-01"); ok {
		t.Error("no editions, and one is in force")
	}
}

func TestDays(t *testing.T) {
	for day, want := range map[string]bool{
		"2026-02-28": true, "2026-02-29": false, "2028-02-29": true, "2100-02-29": false, "2000-02-29": true,
		"2026-04-31": false, "2026-00-10": false, "2026-13-01": false, "2026-1-01": false, "1899-12-31": false,
		"2199-12-31": true, "2200-01-01": false, "": false, "2026-01-01T00:00": false, "20२६-01-01": false, "+026-01-01": false,
	} {
		if ValidDay(day) != want {
			t.Errorf("%q is a day: %v", day, !want)
		}
	}
}

// Every field tells in the hash; how it is written does not.
func TestHash(t *testing.T) {
	whole := head + rest
	e, _, _ := read(whole)
	base := Hash(e)
	if again, _, _ := read(strings.ReplaceAll(whole, "cost: 95}", "cost: 95.00} # a comment")); Hash(again) != base {
		t.Error("a trailing zero changes the hash")
	}
	back, _, faults := DecodeJSON([]byte(asJSON(t, e)))
	if len(faults) > 0 || Hash(back) != base {
		t.Errorf("by way of JSON it is another: %v", faults)
	}
	leaves := 0
	each(reflect.ValueOf(e).Elem(), "edition", func(at string) {
		leaves++
		if Hash(e) == base {
			t.Errorf("%s is no part of the hash", at)
		}
	})
	if leaves < 80 || Hash(e) != base {
		t.Errorf("%d values were changed and put back", leaves)
	}
	const pinned = "9f21f5ec79680b38f5d2e47e3d151215900122866f1a5e6354364d60e545f8a8"
	if base != pinned {
		t.Errorf("the hash is %s now: the canonical form has changed, and with it every stored hash", base)
	}
}

// each changes every single value inside v, calls told with where it is, and
// puts it back.
func each(v reflect.Value, at string, told func(at string)) {
	change := func(to reflect.Value) {
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		v.Set(to.Convert(v.Type()))
		told(at)
		v.Set(was)
	}
	if d, ok := reflect.TypeAssert[decimal.Decimal](v); ok {
		change(reflect.ValueOf(d.Add(decimal.New(1, -6))))
		return
	}
	switch v.Kind() {
	case reflect.String:
		change(reflect.ValueOf(v.String() + "x"))
	case reflect.Int:
		change(reflect.ValueOf(v.Int() + 1))
	case reflect.Bool:
		change(reflect.ValueOf(!v.Bool()))
	case reflect.Pointer:
		if v.IsNil() {
			change(reflect.New(v.Type().Elem()))
			return
		}
		each(v.Elem(), at, told)
	case reflect.Slice:
		for i := range v.Len() {
			each(v.Index(i), fmt.Sprintf("%s/%d", at, i), told)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			each(v.Field(i), at+"/"+v.Type().Field(i).Name, told)
		}
	}
}

// No text can pass for structure.
func TestCanonicalFormIsUnambiguous(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		texts := rapid.SliceOfN(rapid.StringMatching(`[ab;:={}\[\]0-9]{0,6}`), 4, 4)
		edition := func(s []string) *Edition {
			return &Edition{Code: s[0], Suppliers: []Supplier{{Code: s[1], Name: s[2]}}, Discounts: []DiscountLimit{{Role: s[3]}}}
		}
		a, b := texts.Draw(t, "one"), texts.Draw(t, "other")
		if (Hash(edition(a)) == Hash(edition(b))) != slices.Equal(a, b) {
			t.Fatalf("%q and %q", a, b)
		}
	})
}

func asJSON(t *testing.T, e *Edition) string {
	t.Helper()
	data, err := e.MarshalJSON()
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// Whatever is read, checking it does not fall over, and what has no faults
// compiles.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(head + rest))
	f.Add([]byte(head))
	f.Add([]byte("format: wainscot-pricebook/1\npayments: [{code: a}]\n"))
	if names, _ := filepath.Glob("../../testdata/demo/pricebook/*.yaml"); len(names) > 0 {
		if data, err := os.ReadFile(names[0]); err == nil && len(data) < 100_000 {
			f.Add(data)
		}
	}
	c := small()
	f.Fuzz(func(t *testing.T, data []byte) {
		e, positions, faults := Decode([]document.File{{Name: "fuzz.yaml", Data: data}})
		if len(faults) > 0 {
			return
		}
		if faults := positions.Locate(e.Validate(c)); len(faults) > 0 {
			return
		}
		if _, faults := Compile(c, e); len(faults) > 0 {
			t.Fatalf("no faults, and yet it does not compile: %v", faults)
		}
	})
}
