package pricebook

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Compiled is an edition made ready to price from, for one catalogue. It is
// read only and may be shared.
type Compiled struct {
	edition   *Edition
	catalogue *catalogue.Catalogue
	currency  money.Currency
	hash      string

	costs     map[string][]PartCost
	costsOf   map[string][]*Cost
	suppliers map[string]*Supplier
	labour    map[string]*Labour
	outside   map[string]*PartCost
	features  map[string]*Feature
	packages  map[atVan]*Package
	finishes  map[ofFinish]*Finish
	vat       []VATRate // latest first
	limits    map[string]DiscountLimit
	listings  []Listing // everybody's first
}

type (
	atVan    struct{ code, van string }
	ofFinish struct{ finish, choice string }
)

// PartCost is what one unit of a part, or one visit of outside work, costs and
// is charged at where the price is built up; both without VAT.
type PartCost struct {
	Supplier string
	Cost     money.Factor
	Charge   money.Factor // cost × (1 + markup)
	Unit     money.UnitPrice
	Until    string // the last day the supplier holds it; "" is open
	LeadDays int    // until it is here, in working days; 0 where nobody says
}

// Labour is what an hour of a trade costs and is charged at, without VAT.
type Labour struct {
	Cost, Charge money.Factor
	Unit         money.UnitPrice
}

// Feature is a feature of the catalogue with its prices.
type Feature struct {
	// Index is its place in the catalogue.
	Index   int
	Feature *catalogue.Feature
	prices  []FeaturePrice // the most particular first
}

// FeaturePrice is a price with its treatment filled in and its amount, 0
// unless it is listed, in minor units.
type FeaturePrice struct {
	Price
	Minor int64
	// Own: of a price list itself, so that its percentage does not come off.
	Own bool
}

// Package is a package of the catalogue on one base van with its price.
type Package struct {
	Package    *catalogue.Package
	Price      *PackagePrice
	Minor      int64 // the price in minor units
	Own        bool  // likewise, for the allowances too
	allowances map[string]int64
	items      map[string]int
	finishes   map[string]string
}

// Finish is a choice of a finish with its surcharge, nothing where the edition
// has none.
type Finish struct {
	// Index orders finishes as the catalogue does.
	Index  int
	Finish *catalogue.Finish
	Choice *catalogue.FinishChoice
	Minor  int64 // the surcharge in minor units
}

// Compile checks an edition against a catalogue and makes it ready. With any
// fault there is nothing to price from.
func Compile(c *catalogue.Catalogue, e *Edition) (*Compiled, document.Faults) {
	if faults := e.Validate(c); len(faults) > 0 {
		return nil, faults
	}
	k := &Compiled{
		edition: e, catalogue: c, currency: money.Currency(e.Currency), hash: Hash(e),
		costs:    make(map[string][]PartCost, len(c.Parts)),
		labour:   make(map[string]*Labour, len(e.Labour)),
		outside:  make(map[string]*PartCost, len(e.Outside)),
		features: make(map[string]*Feature, len(c.Features)),
		packages: make(map[atVan]*Package, len(e.Packages)),
		finishes: make(map[ofFinish]*Finish),
		limits:   make(map[string]DiscountLimit, len(e.Discounts)),
	}
	ofSupplier := make(map[string]int, len(e.Suppliers))
	for _, s := range e.Suppliers {
		ofSupplier[s.Code] = s.LeadTimeDays
	}
	var err error
	for _, cost := range e.Costs {
		var p PartCost
		if p, err = k.cost(cost.Supplier, cost.Cost, e.Markup.MaterialsPercent); err != nil {
			break
		}
		p.Until = cost.Until
		if p.LeadDays = cost.LeadTimeDays; p.LeadDays == 0 {
			p.LeadDays = ofSupplier[cost.Supplier]
		}
		k.costs[cost.Part] = append(k.costs[cost.Part], p)
	}
	for _, o := range e.Outside {
		var p PartCost
		if p, err = k.cost(o.Supplier, o.Cost, e.Markup.OutsideWorkPercent); err != nil {
			break
		}
		k.outside[o.Outside] = &p
	}
	for _, l := range e.Labour {
		unit, wrong := money.NewUnitPrice(l.CostPerHour, k.currency)
		if wrong != nil {
			err = wrong
			break
		}
		k.labour[l.Trade] = &Labour{Cost: money.NewFactor(l.CostPerHour), Charge: money.NewFactor(l.ChargePerHour), Unit: unit}
	}
	if err != nil { // Validate lets no such number through
		return nil, document.Faults{{Code: "number", At: "costs", Reason: err.Error() + ".", Remedy: "Write a plain decimal."}}
	}
	k.indexSuppliers()
	k.indexFeatures()
	k.indexPackages()
	k.indexFinishes()
	k.vat = slices.Clone(e.VAT)
	slices.SortStableFunc(k.vat, func(a, b VATRate) int { return strings.Compare(b.From, a.From) })
	for _, d := range e.Discounts {
		k.limits[d.Role] = d
	}
	return k, nil
}

// LeadDays is how many working days the usual supplier of a part, whose cost
// stands first, takes; 0 where nobody says.
func (k *Compiled) LeadDays(part string) int {
	if costs := k.costs[part]; len(costs) > 0 {
		return costs[0].LeadDays
	}
	return 0
}

func (k *Compiled) cost(supplier string, cost, markup decimal.Decimal) (PartCost, error) {
	unit, err := money.NewUnitPrice(cost, k.currency)
	if err != nil {
		return PartCost{}, err
	}
	charge := cost.Mul(decimal.New(100, 0).Add(markup)).Shift(-2)
	return PartCost{Supplier: supplier, Cost: money.NewFactor(cost), Charge: money.NewFactor(charge), Unit: unit}, nil
}

// minor is an amount, which Validate has found to be one, in minor units.
func (k *Compiled) minor(amount decimal.Decimal) int64 {
	a, err := money.New(amount, k.currency)
	if err != nil {
		panic("pricebook: not checked: " + err.Error())
	}
	return a.Minor()
}

func (k *Compiled) indexFeatures() {
	for i := range k.catalogue.Features {
		f := &k.catalogue.Features[i]
		k.features[f.Code] = &Feature{Index: i, Feature: f}
	}
	for _, p := range k.edition.Prices {
		f := k.features[p.Feature]
		f.prices = append(f.prices, k.featurePrice(p))
	}
	for _, f := range k.features {
		slices.SortStableFunc(f.prices, func(a, b FeaturePrice) int { return a.rank() - b.rank() })
	}
}

func (k *Compiled) featurePrice(p Price) FeaturePrice {
	if p.Treatment == "" {
		p.Treatment = Standard
	}
	compiled := FeaturePrice{Price: p}
	if p.Amount != nil {
		compiled.Minor = k.minor(*p.Amount)
	}
	return compiled
}

func (k *Compiled) indexPackages() {
	packages := make(map[string]*catalogue.Package, len(k.catalogue.Packages))
	for i := range k.catalogue.Packages {
		packages[k.catalogue.Packages[i].Code] = &k.catalogue.Packages[i]
	}
	for i := range k.edition.Packages {
		p := k.pack(k.edition.Packages[i], packages)
		k.packages[atVan{p.Price.Package, p.Price.Van}] = p
	}
	k.indexListings(packages)
}

func (k *Compiled) pack(price PackagePrice, packages map[string]*catalogue.Package) *Package {
	if price.Treatment == "" {
		price.Treatment = Standard
	}
	p := &Package{
		Package: packages[price.Package], Price: &price, Minor: k.minor(price.Amount),
		allowances: make(map[string]int64, len(price.Allowances)),
		items:      make(map[string]int),
		finishes:   make(map[string]string),
	}
	for _, a := range price.Allowances {
		p.allowances[a.Feature] = k.minor(a.Amount)
	}
	for _, item := range p.Package.Items {
		p.items[item.Feature] = max(1, item.Count)
	}
	for _, f := range p.Package.Finishes {
		p.finishes[f.Finish] = f.Choice
	}
	return p
}

func (k *Compiled) indexFinishes() {
	for i := range k.catalogue.Finishes {
		f := &k.catalogue.Finishes[i]
		k.finishes[ofFinish{f.Code, ""}] = &Finish{Index: i, Finish: f}
		for j := range f.Choices {
			k.finishes[ofFinish{f.Code, f.Choices[j].Code}] = &Finish{Index: i, Finish: f, Choice: &f.Choices[j]}
		}
	}
	for _, s := range k.edition.Finishes {
		k.finishes[ofFinish{s.Finish, s.Choice}].Minor = k.minor(s.Amount)
	}
}

// Edition is what was compiled; not to be changed.
func (k *Compiled) Edition() *Edition { return k.edition }

// Catalogue is what it was compiled for; not to be changed.
func (k *Compiled) Catalogue() *catalogue.Catalogue { return k.catalogue }

// Currency of every amount.
func (k *Compiled) Currency() money.Currency { return k.currency }

// Hash of the edition.
func (k *Compiled) Hash() string { return k.hash }

// Cost of a part on a day: the first one written that is still held.
func (k *Compiled) Cost(part, day string) (*PartCost, bool) {
	costs := k.costs[part]
	for i := range costs {
		if costs[i].Until == "" || costs[i].Until >= day {
			return &costs[i], true
		}
	}
	return nil, false
}

// Labour of a trade.
func (k *Compiled) Labour(trade string) (*Labour, bool) {
	l, ok := k.labour[trade]
	return l, ok
}

// Outside work's cost of a visit.
func (k *Compiled) Outside(code string) (*PartCost, bool) {
	o, ok := k.outside[code]
	return o, ok
}

// Feature by its code.
func (k *Compiled) Feature(code string) (*Feature, bool) {
	f, ok := k.features[code]
	return f, ok
}

// Known says whether a code is of a feature, a package or a finish.
func (k *Compiled) Known(code string) bool {
	if _, ok := k.features[code]; ok {
		return true
	}
	if _, ok := k.finishes[ofFinish{code, ""}]; ok {
		return true
	}
	for i := range k.catalogue.Packages {
		if k.catalogue.Packages[i].Code == code {
			return true
		}
	}
	return false
}

// PackageName is the package's name wherever it is priced, else its code.
func (k *Compiled) PackageName(code string) string {
	for i := range k.catalogue.Packages {
		if k.catalogue.Packages[i].Code == code {
			return k.catalogue.Packages[i].Name
		}
	}
	return code
}

// Allowance for leaving one of an item out, in minor units.
func (p *Package) Allowance(feature string) (int64, bool) {
	a, ok := p.allowances[feature]
	return a, ok
}

// Count of an item in the package; 0 for a feature that is none.
func (p *Package) Count(feature string) int { return p.items[feature] }

// Finish choice the package includes; "" where it includes none.
func (p *Package) Finish(finish string) string { return p.finishes[finish] }

// Finish choice by its codes; choice "" is the finish itself.
func (k *Compiled) Finish(finish, choice string) (*Finish, bool) {
	f, ok := k.finishes[ofFinish{finish, choice}]
	return f, ok
}

// Percent of a treatment on a day. Zero, margin, exempt and outside have no
// rate and are 0; standard and reduced are false on a day before their first.
func (k *Compiled) Percent(t Treatment, day string) (decimal.Decimal, bool) {
	if t != Standard && t != Reduced {
		return decimal.Zero, true
	}
	for _, r := range k.vat {
		if r.Treatment == t && r.From <= day {
			return r.Percent, true
		}
	}
	return decimal.Zero, false
}

// Limit of a role's discounts.
func (k *Compiled) Limit(role string) (DiscountLimit, bool) {
	l, ok := k.limits[role]
	return l, ok
}

// Book is the editions of a workshop, by the day from which each is in force.
type Book struct{ editions []*Compiled }

// NewBook puts editions in order. Two of the same code, from the same day or
// in different currencies are faults.
func NewBook(editions ...*Compiled) (*Book, document.Faults) {
	b := &Book{editions: slices.Clone(editions)}
	slices.SortStableFunc(b.editions, func(a, c *Compiled) int {
		return strings.Compare(a.edition.InForceFrom, c.edition.InForceFrom)
	})
	var faults document.Faults
	codes := make(map[string]bool)
	for i, k := range b.editions {
		e := k.edition
		if codes[e.Code] {
			faults = append(faults, document.Fault{Code: "duplicate_code", At: "edition",
				Reason: fmt.Sprintf("There are two editions %q.", e.Code), Remedy: "Give each edition its own code."})
		}
		codes[e.Code] = true
		if i == 0 {
			continue
		}
		before := b.editions[i-1].edition
		if before.InForceFrom == e.InForceFrom {
			faults = append(faults, document.Fault{Code: "same_day", At: "in_force_from",
				Reason: fmt.Sprintf("Editions %q and %q are both in force from %s.", before.Code, e.Code, e.InForceFrom),
				Remedy: "Let one of them start on another day."})
		}
		if before.Currency != e.Currency {
			faults = append(faults, document.Fault{Code: "currency", At: "currency",
				Reason: fmt.Sprintf("Edition %q is in %s, %q before it in %s.", e.Code, e.Currency, before.Code, before.Currency),
				Remedy: "Keep one currency through all editions."})
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return b, nil
}

// InForce is the edition in force on a day (YYYY-MM-DD); false before the
// first one.
func (b *Book) InForce(day string) (*Compiled, bool) {
	i, _ := slices.BinarySearchFunc(b.editions, day, func(k *Compiled, day string) int {
		if k.edition.InForceFrom <= day {
			return -1
		}
		return 1
	})
	if i == 0 {
		return nil, false
	}
	return b.editions[i-1], true
}

// Editions in the order they come into force.
func (b *Book) Editions() []*Compiled { return slices.Clone(b.editions) }
