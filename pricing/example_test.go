package pricing_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// example is a small priced sheet written by hand: what is in the catalogue
// and the price-book follows from it. docs/money.md, testdata/published and
// pricing/testdata hold them as YAML.
type example struct {
	Name            string              `yaml:"name" json:"name"`
	Source          string              `yaml:"source" json:"source,omitempty"`
	Currency        string              `yaml:"currency" json:"currency,omitempty"` // GBP
	ListIncludesVAT bool                `yaml:"list_includes_vat" json:"list_includes_vat"`
	Standard        *decimal.Decimal    `yaml:"standard_percent" json:"standard_percent,omitempty"` // 20
	Reduced         *decimal.Decimal    `yaml:"reduced_percent" json:"reduced_percent,omitempty"`   // 5
	VAT             []pricebook.VATRate `yaml:"vat" json:"vat,omitempty"`                           // in place of both
	Markup          decimal.Decimal     `yaml:"materials_markup_percent" json:"materials_markup_percent,omitzero"`
	Features        []exampleFeature    `yaml:"features" json:"features,omitempty"`
	Lines           []exampleLine       `yaml:"sheet" json:"sheet,omitempty"`
	Package         *examplePackage     `yaml:"package" json:"package,omitempty"`
	Swaps           []bom.PackageChange `yaml:"-" json:"-"`
	SwapFor         []exampleSwap       `yaml:"swaps" json:"swaps,omitempty"`
	Finishes        []exampleFinish     `yaml:"finishes" json:"finishes,omitempty"`
	Removed         []exampleRemoved    `yaml:"removed" json:"removed,omitempty"`
	Payments        []pricebook.Payment `yaml:"payments" json:"payments,omitempty"`
	Limit           *exampleLimit       `yaml:"limit" json:"limit,omitempty"`
	Lists           []examplePriceList  `yaml:"price_lists" json:"price_lists,omitempty"`
	Additions       []bom.Addition      `yaml:"additions" json:"additions,omitempty"`
	Terms           pricing.Terms       `yaml:"terms" json:"terms"`
	// Promise is the most it may come to with VAT.
	Promise *decimal.Decimal `yaml:"promise" json:"promise,omitempty"`
	// Offered is an earlier revision whose prices hold, with the price-book it
	// is from and the same catalogue.
	Offered *example     `yaml:"offered" json:"offered,omitempty"`
	Expect  *expectation `yaml:"expect" json:"expect,omitempty"`
}

type examplePriceList struct {
	Code       string            `yaml:"code" json:"code"`
	PercentOff decimal.Decimal   `yaml:"percent_off" json:"percent_off"`
	Prices     []pricebook.Price `yaml:"prices" json:"prices,omitempty"`
	Package    *decimal.Decimal  `yaml:"package" json:"package,omitempty"` // its allowances are nothing
}

type exampleFeature struct {
	Code         string              `yaml:"code" json:"code"`
	Name         string              `yaml:"name" json:"name,omitempty"` // the code
	How          pricebook.How       `yaml:"how" json:"how,omitempty"`   // list
	List         *decimal.Decimal    `yaml:"list" json:"list,omitempty"`
	Treatment    pricebook.Treatment `yaml:"treatment" json:"treatment,omitempty"`
	Fit          int                 `yaml:"fit" json:"fit,omitempty"`                     // 1
	AlreadyThere bool                `yaml:"already_there" json:"already_there,omitempty"` // not fitted
	NotChosen    bool                `yaml:"not_chosen" json:"not_chosen,omitempty"`
}

// exampleLine is a line of the sheet: a part with its cost, or hours with
// what one costs and is charged at.
type exampleLine struct {
	Part     string          `yaml:"part" json:"part,omitempty"`
	Trade    string          `yaml:"trade" json:"trade,omitempty"`
	Cost     decimal.Decimal `yaml:"cost" json:"cost"`
	Charge   decimal.Decimal `yaml:"charge" json:"charge,omitzero"`
	Quantity decimal.Decimal `yaml:"quantity" json:"quantity"`
	For      []exampleReason `yaml:"for" json:"for,omitempty"`
	Until    string          `yaml:"until" json:"until,omitempty"`
}

type exampleReason struct {
	Feature  string          `yaml:"feature" json:"feature,omitempty"` // "": the stage itself
	Removal  bool            `yaml:"removal" json:"removal,omitempty"`
	Addition string          `yaml:"addition" json:"addition,omitempty"`
	Quantity decimal.Decimal `yaml:"quantity" json:"quantity"`
}

type examplePackage struct {
	Code   string          `yaml:"code" json:"code"`
	Name   string          `yaml:"name" json:"name,omitempty"`
	Amount decimal.Decimal `yaml:"amount" json:"amount"`
	Items  []exampleItem   `yaml:"items" json:"items,omitempty"`
	// Finish is FINISH/CHOICE it includes.
	Finish string `yaml:"finish" json:"finish,omitempty"`
}

type exampleItem struct {
	Feature   string          `yaml:"feature" json:"feature"`
	Count     int             `yaml:"count" json:"count,omitempty"`
	Allowance decimal.Decimal `yaml:"allowance" json:"allowance"`
}

type exampleSwap struct {
	Item  string `yaml:"item" json:"item"`
	Other string `yaml:"other" json:"other"`
}

type exampleFinish struct {
	Finish    string           `yaml:"finish" json:"finish"`
	Choice    string           `yaml:"choice" json:"choice,omitempty"` // "": open
	Surcharge *decimal.Decimal `yaml:"surcharge" json:"surcharge,omitempty"`
	Other     bool             `yaml:"other" json:"other,omitempty"` // there is, but not chosen
}

type exampleRemoved struct {
	Feature string `yaml:"feature" json:"feature"`
	Count   int    `yaml:"count" json:"count"`
}

type exampleLimit struct {
	MostPercent        decimal.Decimal `yaml:"most_percent" json:"most_percent"`
	FloorMarginPercent decimal.Decimal `yaml:"floor_margin_percent" json:"floor_margin_percent"`
}

// expectation: what is not given is not looked at.
type expectation struct {
	Lines    []expectedLine   `yaml:"lines" json:"lines,omitempty"`
	VAT      []expectedVAT    `yaml:"vat_rows" json:"vat_rows,omitempty"`
	Net      *decimal.Decimal `yaml:"net" json:"net,omitempty"`
	Tax      *decimal.Decimal `yaml:"vat" json:"vat,omitempty"`
	Gross    *decimal.Decimal `yaml:"gross" json:"gross,omitempty"`
	Discount *decimal.Decimal `yaml:"discount" json:"discount,omitempty"`
	Cost     *decimal.Decimal `yaml:"cost" json:"cost,omitempty"`
	Overhead *decimal.Decimal `yaml:"overhead" json:"overhead,omitempty"`
	Margin   *decimal.Decimal `yaml:"margin" json:"margin,omitempty"`
	Percent  *decimal.Decimal `yaml:"margin_percent" json:"margin_percent,omitempty"`
	Payments []expectedPay    `yaml:"payments" json:"payments,omitempty"`
	Refusal  string           `yaml:"refusal" json:"refusal,omitempty"`
	Most     *decimal.Decimal `yaml:"most" json:"most,omitempty"`
	Gaps     []string         `yaml:"gaps" json:"gaps,omitempty"` // code and what it is about
	Warnings []string         `yaml:"warnings" json:"warnings,omitempty"`
	NotHeld  string           `yaml:"not_held" json:"not_held,omitempty"`
}

type expectedLine struct {
	Words  string           `yaml:"words" json:"words"`
	Amount decimal.Decimal  `yaml:"amount" json:"amount"`
	Cost   *decimal.Decimal `yaml:"cost" json:"cost,omitempty"`
	Today  *decimal.Decimal `yaml:"today" json:"today,omitempty"` // the unit price
}

type expectedVAT struct {
	Treatment pricebook.Treatment `yaml:"treatment" json:"treatment"`
	Percent   decimal.Decimal     `yaml:"percent" json:"percent"`
	Net       decimal.Decimal     `yaml:"net" json:"net"`
	VAT       decimal.Decimal     `yaml:"vat" json:"vat"`
}

type expectedPay struct {
	Code   string          `yaml:"code" json:"code"`
	Amount decimal.Decimal `yaml:"amount" json:"amount"`
	Cut    bool            `yaml:"cut" json:"cut,omitempty"`
}

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

const exampleVan = "short_van"

// build makes catalogue, price-book, specification and sheet of an example.
func (e *example) build() (*catalogue.Catalogue, *pricebook.Edition, bom.Specification, bom.Sheet) {
	if e.Currency == "" {
		e.Currency = "GBP"
	}
	if e.Standard == nil {
		e.Standard = new(dec("20"))
	}
	if e.Reduced == nil {
		e.Reduced = new(dec("5"))
	}
	if e.Terms.Day == "" {
		e.Terms.Day = "2026-06-01"
	}
	if e.Terms.Role == "" {
		e.Terms.Role = "sales"
	}
	c := &catalogue.Catalogue{
		Title:    e.Name,
		BaseVans: []catalogue.BaseVan{{Code: exampleVan, Name: "Short van"}},
		// Everything may come with something, so that anything can be included.
		Rules: []catalogue.Rule{{Code: "brings"}},
	}
	b := &pricebook.Edition{
		Code: "2026-spring", InForceFrom: "2008-01-01", Currency: e.Currency, ListIncludesVAT: e.ListIncludesVAT,
		VAT: []pricebook.VATRate{
			{Treatment: pricebook.Standard, Percent: *e.Standard, From: "2008-01-01"},
			{Treatment: pricebook.Reduced, Percent: *e.Reduced, From: "2008-01-01"},
		},
		Suppliers: []pricebook.Supplier{{Code: "chandler", Name: "Tarn Chandlery"}},
		Markup:    pricebook.Markup{MaterialsPercent: e.Markup},
		Deposits:  e.Payments,
	}
	if len(e.VAT) > 0 {
		b.VAT = e.VAT
	}
	if len(b.Deposits) == 0 {
		b.Deposits = []pricebook.Payment{
			{Code: "deposit", Name: "Deposit", Percent: new(dec("20")), When: pricebook.OnAcceptance},
			{Code: "balance", Name: "Balance", Rest: true, When: pricebook.OnHandover},
		}
	}
	if e.Limit != nil {
		b.Discounts = []pricebook.DiscountLimit{{Role: "sales", MostPercent: e.Limit.MostPercent, FloorMarginPercent: e.Limit.FloorMarginPercent}}
	}
	spec := bom.Specification{
		Format: bom.SpecificationFormat, Van: bom.Van{BaseVan: exampleVan}, Allowed: true, Settled: true,
		PackageChanges: e.Swaps,
	}
	for _, f := range e.Features {
		e.buildFeature(f, c, b, &spec)
	}
	e.buildPackage(c, b, &spec)
	e.buildFinishes(c, b, &spec)
	for _, r := range e.Removed {
		spec.Removed = append(spec.Removed, bom.RemovedFeature{Code: r.Feature, Name: name(c, r.Feature), Count: r.Count})
	}
	sheet := bom.Sheet{Format: bom.SheetFormat, BaseVan: exampleVan}
	for _, l := range e.Lines {
		sheet.Lines = append(sheet.Lines, e.buildLine(l, c, b))
	}
	e.buildLists(b)
	spec.Additions = e.Additions
	for _, a := range e.Additions {
		l := bom.Line{Stage: "fit", Kind: bom.OneOffLine, Code: a.Code, Name: a.Words, Quantity: decimal.NewFromInt(int64(max(a.Quantity, 1))), Unit: "each", Unproved: true}
		if a.Kind == bom.CustomersOwn {
			l.Kind = bom.OwnPartLine
		}
		sheet.Lines = append(sheet.Lines, l)
	}
	e.Terms.Promise = nil
	if e.Promise != nil {
		e.Terms.Promise = &pricing.Promise{GrossAtMost: must(money.New(*e.Promise, money.Currency(e.Currency)))}
	}
	return c, b, spec, sheet
}

func (e *example) buildLists(b *pricebook.Edition) {
	for _, l := range e.Lists {
		list := pricebook.PriceList{Code: l.Code, Name: l.Code, PercentOff: l.PercentOff, Prices: l.Prices}
		if l.Package != nil {
			price := b.Packages[0]
			price.Amount = *l.Package
			price.Allowances = slices.Clone(price.Allowances)
			for i := range price.Allowances {
				price.Allowances[i].Amount = decimal.Zero
			}
			list.Packages = append(list.Packages, price)
		}
		b.PriceLists = append(b.PriceLists, list)
	}
}

func name(c *catalogue.Catalogue, feature string) string {
	for _, f := range c.Features {
		if f.Code == feature {
			return f.Name
		}
	}
	return feature
}

func (e *example) buildFeature(f exampleFeature, c *catalogue.Catalogue, b *pricebook.Edition, spec *bom.Specification) {
	if f.Name == "" {
		f.Name = f.Code
	}
	if f.How == "" {
		f.How = pricebook.List
	}
	c.Features = append(c.Features, catalogue.Feature{Code: f.Code, Name: f.Name})
	c.Rules[0].Brings = append(c.Rules[0].Brings, catalogue.Fitted{Feature: f.Code})
	b.Prices = append(b.Prices, pricebook.Price{Feature: f.Code, How: f.How, Amount: f.List, Treatment: f.Treatment})
	if f.NotChosen {
		return
	}
	s := bom.SpecifiedFeature{Code: f.Code, Name: f.Name, Standing: "chosen", Count: max(f.Fit, 1), Fit: max(f.Fit, 1)}
	if f.AlreadyThere {
		s.Standing, s.Fit = "already there", 0
	}
	if e.Package != nil {
		s.InPackage = slices.ContainsFunc(e.Package.Items, func(i exampleItem) bool { return i.Feature == f.Code })
	}
	spec.Features = append(spec.Features, s)
}

func (e *example) buildPackage(c *catalogue.Catalogue, b *pricebook.Edition, spec *bom.Specification) {
	p := e.Package
	if p == nil {
		return
	}
	if p.Name == "" {
		p.Name = p.Code
	}
	spec.Package = p.Code
	pack := catalogue.Package{Code: p.Code, Name: p.Name}
	price := pricebook.PackagePrice{Package: p.Code, Van: exampleVan, Amount: p.Amount}
	for _, i := range p.Items {
		pack.Items = append(pack.Items, catalogue.Fitted{Feature: i.Feature, Count: i.Count})
		price.Allowances = append(price.Allowances, pricebook.Allowance{Feature: i.Feature, Amount: i.Allowance})
	}
	if finish, choice, ok := strings.Cut(p.Finish, "/"); ok {
		pack.Finishes = append(pack.Finishes, catalogue.PackageFinish{Finish: finish, Choice: choice})
	}
	c.Packages, b.Packages = append(c.Packages, pack), append(b.Packages, price)
	for _, s := range e.SwapFor {
		spec.PackageChanges = append(spec.PackageChanges, bom.PackageChange{Item: s.Item, Count: 1, SwapFor: s.Other})
	}
}

func (e *example) buildFinishes(c *catalogue.Catalogue, b *pricebook.Edition, spec *bom.Specification) {
	for _, f := range e.Finishes {
		at := slices.IndexFunc(c.Finishes, func(have catalogue.Finish) bool { return have.Code == f.Finish })
		if at < 0 {
			at = len(c.Finishes)
			c.Finishes = append(c.Finishes, catalogue.Finish{Code: f.Finish, Name: f.Finish})
		}
		if f.Choice != "" {
			c.Finishes[at].Choices = append(c.Finishes[at].Choices, catalogue.FinishChoice{Code: f.Choice, Name: f.Choice})
		}
		if f.Surcharge != nil {
			b.Finishes = append(b.Finishes, pricebook.Surcharge{Finish: f.Finish, Choice: f.Choice, Amount: *f.Surcharge})
		}
		if !f.Other {
			spec.Finishes = append(spec.Finishes, bom.SpecifiedFinish{Finish: f.Finish, Choice: f.Choice})
		}
	}
}

func (e *example) buildLine(l exampleLine, c *catalogue.Catalogue, b *pricebook.Edition) bom.Line {
	line := bom.Line{Stage: "fit", Kind: bom.PartLine, Code: l.Part, Name: l.Part, Quantity: l.Quantity, Unit: "each"}
	if l.Trade != "" {
		line.Kind, line.Code, line.Name, line.Unit = bom.HoursLine, l.Trade, l.Trade, "h"
		if !slices.ContainsFunc(c.Trades, func(t catalogue.Trade) bool { return t.Code == l.Trade }) {
			c.Trades = append(c.Trades, catalogue.Trade{Code: l.Trade, Name: l.Trade})
			b.Labour = append(b.Labour, pricebook.LabourRate{Trade: l.Trade, CostPerHour: l.Cost, ChargePerHour: l.Charge})
		}
	} else if !slices.ContainsFunc(c.Parts, func(p catalogue.Part) bool { return p.Code == l.Part }) {
		c.Parts = append(c.Parts, catalogue.Part{Code: l.Part, Name: l.Part, Unit: catalogue.Each})
		b.Costs = append(b.Costs, pricebook.Cost{Part: l.Part, Supplier: "chandler", Unit: catalogue.Each, Cost: l.Cost, Until: l.Until})
	}
	for _, r := range l.For {
		line.Because = append(line.Because, bom.Because{Feature: r.Feature, Removal: r.Removal, Addition: r.Addition, Quantity: r.Quantity})
	}
	return line
}

// tester is a *testing.T or a *rapid.T.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// price prices an example; the price-book must have no faults.
func (e *example) price(t tester) pricing.Priced {
	t.Helper()
	return e.priced(t).Price
}

// pricedExample is an example priced, with what it was priced from.
type pricedExample struct {
	Price pricing.Priced
	Spec  bom.Specification
	Book  *pricebook.Compiled
}

func (e *example) priced(t tester) pricedExample {
	t.Helper()
	if e.Offered == nil {
		return e.pricedUnder(t, nil)
	}
	before := e.Offered.priced(t)
	return e.pricedUnder(t, before.held())
}

// held is what an example that was offered holds.
func (p *pricedExample) held(editions ...*pricebook.Compiled) *pricing.Held {
	return &pricing.Held{Specification: &p.Spec, Priced: &p.Price, Editions: append(editions, p.Book)}
}

func (e *example) pricedUnder(t tester, held *pricing.Held) pricedExample {
	t.Helper()
	c, b, spec, sheet := e.build()
	if held != nil {
		b.Code = "later" + strings.Repeat("-still", max(0, len(held.Editions)-1))
	}
	book, faults := pricebook.Compile(c, b)
	if err := faults.Err(); err != nil {
		t.Fatalf("%s: the price-book has faults:\n%v", e.Name, err)
	}
	p, err := pricing.PriceHeld(sheet, spec, book, e.Terms, held)
	if err != nil {
		t.Fatalf("%s: %v", e.Name, err)
	}
	consistent(t, p)
	return pricedExample{p, spec, book}
}

// consistent holds a price against what must be true of every one.
func consistent(t tester, p pricing.Priced) {
	t.Helper()
	var printed, net, vat, cost, overhead, margin, discount int64
	for i, l := range p.Lines {
		printed += l.Amount.Minor()
		net, vat = net+l.Net.Minor(), vat+l.VAT.Minor()
		if want, _ := money.Times(decimal.NewFromInt(int64(l.Quantity)), l.UnitPrice.Decimal(), p.Currency, money.HalfUp); want != l.Amount {
			t.Errorf("line %d: %d × %s is not %s", i+1, l.Quantity, l.UnitPrice, l.Amount)
		}
		if whole := l.Net.Minor() + l.VAT.Minor(); p.Basis == pricing.Gross && whole != l.Amount.Minor() {
			t.Errorf("line %d: %s and %s VAT are not the printed %s", i+1, l.Net, l.VAT, l.Amount)
		}
		if p.Basis == pricing.Net && l.Net != l.Amount {
			t.Errorf("line %d: net %s is not the printed %s", i+1, l.Net, l.Amount)
		}
		if l.Kind == pricing.DiscountLine || l.Kind == pricing.PromiseLine {
			discount -= l.Amount.Minor()
		}
		if p.Inside != nil {
			c := p.Inside.Lines[i]
			cost, overhead, margin = cost+c.Cost.Minor(), overhead+c.Overhead.Minor(), margin+c.Margin.Minor()
		}
	}
	total := p.Totals
	for _, c := range []struct {
		what      string
		got, want int64
	}{
		{"net over the lines", net, total.Net.Minor()},
		{"VAT over the lines", vat, total.VAT.Minor()},
		{"net and VAT", total.Net.Minor() + total.VAT.Minor(), total.Gross.Minor()},
		{"the discount lines", discount, total.Discount.Minor()},
		{"before less discount", total.BeforeDiscount.Minor() - total.Discount.Minor(), printed},
	} {
		if c.got != c.want {
			t.Errorf("%s come to %d, not %d", c.what, c.got, c.want)
		}
	}
	whole := total.Net
	if p.Basis == pricing.Gross {
		whole = total.Gross
	}
	if printed != whole.Minor() {
		t.Errorf("the printed amounts come to %d, the total is %s", printed, whole)
	}
	var rowNet, rowVAT, paid int64
	for _, r := range p.VAT {
		rowNet, rowVAT = rowNet+r.Net.Minor(), rowVAT+r.VAT.Minor()
		if r.Net.Minor()+r.VAT.Minor() != r.Gross.Minor() {
			t.Errorf("row %s does not add up", r.Treatment)
		}
	}
	for _, s := range p.Payments {
		paid += s.Amount.Minor()
	}
	if rowNet != net || rowVAT != vat || paid != total.Gross.Minor() {
		t.Errorf("rows come to %d and %d, payments to %d, of %v", rowNet, rowVAT, paid, total)
	}
	if p.Inside == nil {
		return
	}
	in := p.Inside
	costed := int64(0)
	for _, c := range in.Costed {
		costed += c.Cost.Minor()
	}
	if costed != in.Cost.Minor() || in.Margin.Minor() != total.Net.Minor()-in.Cost.Minor() {
		t.Errorf("costed %d, cost %s, margin %s of net %s", costed, in.Cost, in.Margin, total.Net)
	}
	if len(p.Lines) > 0 && (cost+overhead != in.Cost.Minor() || overhead != in.Overhead.Minor() || margin != in.Margin.Minor()) {
		t.Errorf("over the lines: cost %d and %d, margin %d; in all %s, %s, %s", cost, overhead, margin, in.Cost, in.Overhead, in.Margin)
	}
}

// check holds a price against what an example expects.
func (e *example) check(t *testing.T) pricing.Priced {
	t.Helper()
	p := e.price(t)
	x := e.Expect
	if x == nil {
		return p
	}
	same := func(what string, got decimal.Decimal, want *decimal.Decimal) {
		t.Helper()
		if want != nil && !got.Equal(*want) {
			t.Errorf("%s is %s, want %s", what, got.StringFixed(2), want.StringFixed(2))
		}
	}
	same("net", p.Totals.Net.Decimal(), x.Net)
	same("VAT", p.Totals.VAT.Decimal(), x.Tax)
	same("gross", p.Totals.Gross.Decimal(), x.Gross)
	same("discount", p.Totals.Discount.Decimal(), x.Discount)
	same("cost", p.Inside.Cost.Decimal(), x.Cost)
	same("overhead", p.Inside.Overhead.Decimal(), x.Overhead)
	same("margin", p.Inside.Margin.Decimal(), x.Margin)
	if x.Percent != nil {
		same("margin percent", *p.Inside.MarginPercent, x.Percent)
	}
	e.checkLines(t, p)
	for i, want := range x.VAT {
		if i >= len(p.VAT) {
			t.Fatalf("there are only %d VAT rows", len(p.VAT))
		}
		r := p.VAT[i]
		if r.Treatment != want.Treatment || !r.Percent.Equal(want.Percent) || !r.Net.Decimal().Equal(want.Net) || !r.VAT.Decimal().Equal(want.VAT) {
			t.Errorf("VAT row %d is %s %s %%: %s and %s, want %+v", i+1, r.Treatment, r.Percent, r.Net, r.VAT, want)
		}
	}
	if x.VAT != nil && len(p.VAT) != len(x.VAT) {
		t.Errorf("there are %d VAT rows, want %d", len(p.VAT), len(x.VAT))
	}
	for i, want := range x.Payments {
		if got := p.Payments[i]; got.Code != want.Code || !got.Amount.Decimal().Equal(want.Amount) || got.Cut != want.Cut {
			t.Errorf("payment %d is %s %s, want %+v", i+1, got.Code, got.Amount, want)
		}
	}
	refusal := ""
	if p.Refusal != nil {
		refusal = string(p.Refusal.Code)
		same("most", p.Refusal.Most.Decimal(), x.Most)
	}
	if refusal != x.Refusal {
		t.Errorf("the refusal is %q, want %q", refusal, x.Refusal)
	}
	var gaps []string
	for _, g := range p.Gaps {
		gaps = append(gaps, string(g.Code)+" "+g.At)
	}
	if !slices.Equal(gaps, x.Gaps) {
		t.Errorf("the gaps are %q, want %q", gaps, x.Gaps)
	}
	var warnings []string
	for _, w := range p.Inside.Warnings {
		warnings = append(warnings, string(w.Code)+" "+w.Part)
	}
	if !slices.Equal(warnings, x.Warnings) {
		t.Errorf("the warnings are %q, want %q", warnings, x.Warnings)
	}
	if p.Holding != nil && string(p.Holding.Not) != x.NotHeld || p.Holding == nil && x.NotHeld != "" {
		t.Errorf("held: %+v, want not held for %q", p.Holding, x.NotHeld)
	}
	return p
}

func (e *example) checkLines(t *testing.T, p pricing.Priced) {
	t.Helper()
	if e.Expect.Lines == nil {
		return
	}
	var got, want []string
	for i, l := range p.Lines {
		s := l.Words + ": " + l.Amount.Fixed()
		if i < len(e.Expect.Lines) && e.Expect.Lines[i].Cost != nil {
			s += " cost " + p.Inside.Lines[i].Cost.Fixed()
		}
		if l.Today != nil {
			s += " today " + l.Today.Fixed()
		}
		got = append(got, s)
	}
	for _, l := range e.Expect.Lines {
		s := l.Words + ": " + l.Amount.StringFixed(2)
		if l.Cost != nil {
			s += " cost " + l.Cost.StringFixed(2)
		}
		if l.Today != nil {
			s += " today " + l.Today.StringFixed(2)
		}
		want = append(want, s)
	}
	if !slices.Equal(got, want) {
		t.Errorf("the lines are\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}

// examples reads the ones in a YAML file under the key "examples".
func examples(t *testing.T, path string) []example {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var list struct {
		Examples []example `yaml:"examples" json:"examples"`
	}
	if _, faults := document.Decode(document.File{Name: filepath.Base(path), Data: data}, &list, ""); len(faults) > 0 {
		t.Fatalf("%v", faults)
	}
	return list.Examples
}

// The worked examples of docs/money.md.
func TestExamplesOfTheDocumentation(t *testing.T) {
	text, err := os.ReadFile("../docs/money.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := strings.Split(string(text), "```yaml\n")
	if len(blocks) < 9 {
		t.Fatalf("there are only %d examples", len(blocks)-1)
	}
	for i, block := range blocks[1:] {
		source, _, _ := strings.Cut(block, "```")
		var e example
		if _, faults := document.Decode(document.File{Name: fmt.Sprintf("example %d", i+1), Data: []byte(source)}, &e, ""); len(faults) > 0 {
			t.Errorf("%v", faults)
			continue
		}
		t.Run(e.Name, func(t *testing.T) { e.check(t) })
	}
}

// Cases worked by hand.
func TestCases(t *testing.T) {
	for _, e := range examples(t, "testdata/cases.yaml") {
		t.Run(e.Name, func(t *testing.T) { e.check(t) })
	}
}

// Published invoices, quotations and tax figures; each says where it is from.
func TestPublishedFigures(t *testing.T) {
	for _, e := range examples(t, "../testdata/published/invoices.yaml") {
		t.Run(e.Name, func(t *testing.T) {
			if e.Source == "" {
				t.Error("there is no source")
			}
			e.check(t)
		})
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func faultsOf(err error) document.Faults {
	var f document.Faults
	errors.As(err, &f)
	return f
}
