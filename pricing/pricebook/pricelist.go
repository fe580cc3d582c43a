package pricebook

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Limits of price lists.
const (
	MaxPriceLists    = 100
	maxListNameBytes = 100
)

// Listing is the prices one kind of customer pays: everybody's, or those of a
// price list of the trade.
type Listing struct {
	book *Compiled
	list *PriceList // nil for everybody's
	// prices of the features that the list names, the list's own among the
	// edition's, in the order in which they go.
	prices   map[string][]FeaturePrice
	packages map[atVan]*Package // the list's own
	num, den int64
}

// Listing by the code of a price list; "" is what everybody pays.
func (k *Compiled) Listing(code string) (*Listing, bool) {
	for i := range k.listings {
		if k.listings[i].Code() == code {
			return &k.listings[i], true
		}
	}
	return nil, false
}

// PriceLists are the codes of the price lists there are.
func (k *Compiled) PriceLists() []string {
	var codes []string
	for _, l := range k.edition.PriceLists {
		codes = append(codes, l.Code)
	}
	return codes
}

// Code of the price list; "" is what everybody pays.
func (l *Listing) Code() string {
	if l.list == nil {
		return ""
	}
	return l.list.Code
}

// Left is the fraction num/den that is paid of what the list does not price
// itself: 100 less its percentage, of 100.
func (l *Listing) Left() (num, den int64) { return l.num, l.den }

// Feature by its code, to ask its Price of.
func (l *Listing) Feature(code string) (*Feature, bool) { return l.book.Feature(code) }

// IncludesVAT says whether its amounts include VAT.
func (l *Listing) IncludesVAT() bool { return l.book.edition.ListIncludesVAT }

// Price of a feature on a base van, with or without fitting; false when there
// is none. Where nothing is fitted a supply-only price goes before others; of
// equals the list's own goes before the edition's, and one for a single base
// van before a general one.
func (l *Listing) Price(f *Feature, van string, supplyOnly bool) (*FeaturePrice, bool) {
	prices, ok := l.prices[f.Feature.Code]
	if !ok {
		prices = f.prices
	}
	for i := range prices {
		p := &prices[i]
		if (p.Van == "" || p.Van == van) && (!p.SupplyOnly || supplyOnly) {
			return p, true
		}
	}
	return nil, false
}

// Package on a base van; false when it has no price there.
func (l *Listing) Package(code, van string) (*Package, bool) {
	if p, ok := l.packages[atVan{code, van}]; ok {
		return p, true
	}
	p, ok := l.book.packages[atVan{code, van}]
	return p, ok
}

// indexListings makes everybody's prices and those of the price lists ready.
func (k *Compiled) indexListings(packages map[string]*catalogue.Package) {
	k.listings = []Listing{{book: k, num: 1, den: 1}}
	for i := range k.edition.PriceLists {
		list := &k.edition.PriceLists[i]
		l := Listing{book: k, list: list, prices: make(map[string][]FeaturePrice), packages: make(map[atVan]*Package)}
		l.num, l.den, _ = money.PercentFraction(list.PercentOff) // Validate has seen it
		l.num = l.den - l.num
		for _, p := range list.Prices {
			have, ok := l.prices[p.Feature]
			if !ok {
				have = slices.Clone(k.features[p.Feature].prices)
			}
			own := k.featurePrice(p)
			own.Own = true
			l.prices[p.Feature] = append(have, own)
		}
		for _, prices := range l.prices {
			slices.SortStableFunc(prices, func(a, b FeaturePrice) int { return cmp.Compare(a.rank(), b.rank()) })
		}
		for j := range list.Packages {
			p := k.pack(list.Packages[j], packages)
			p.Own = true
			l.packages[atVan{p.Price.Package, p.Price.Van}] = p
		}
		k.listings = append(k.listings, l)
	}
}

// rank: supply only before fitted, a list's own before the edition's, one van
// before all.
func (p *FeaturePrice) rank() int {
	r := 0
	if !p.SupplyOnly {
		r += 4
	}
	if !p.Own {
		r += 2
	}
	if p.Van == "" {
		r++
	}
	return r
}

// listAt is the path of a price list: by its code if it is the first to have
// it, else by its number.
func (v *validation) listAt(i int) string {
	lists := v.edition.PriceLists
	code := lists[i].Code
	if !document.Nameable(code) || slices.ContainsFunc(lists[:i], func(l PriceList) bool { return l.Code == code }) {
		return fmt.Sprintf("price_lists/%d", i+1)
	}
	return "price_lists/" + code
}

// priceLists: each with a code of its own and a percentage that leaves
// something; its prices and packages as the edition's, but that none is
// missing.
func (v *validation) priceLists() {
	lists := v.edition.PriceLists
	if len(lists) > MaxPriceLists {
		v.fault("too_many", "price_lists", fmt.Sprintf("There are %d price lists.", len(lists)), fmt.Sprintf("At most %d.", MaxPriceLists))
		return
	}
	for i := range lists {
		l, at := &lists[i], v.listAt(i)
		switch {
		case !document.Nameable(l.Code):
			v.fault("bad_code", at+"/code", fmt.Sprintf("%q cannot be a code.", l.Code), "Begin with a letter; use letters, digits, - and _.")
		case at != "price_lists/"+l.Code:
			v.twice(at+"/code", fmt.Sprintf("The price list %q", l.Code))
		}
		if strings.TrimSpace(l.Name) == "" || len(l.Name) > maxListNameBytes {
			v.fault("name", at+"/name", "The price list has no name, or a very long one.", fmt.Sprintf("Give it one of at most %d bytes.", maxListNameBytes))
		}
		if v.percent(at+"/percent_off", l.PercentOff, 101) && l.PercentOff.GreaterThanOrEqual(decimal.New(100, 0)) {
			v.fault("too_large", at+"/percent_off", "Nothing is left of any price.", "Write less than 100.")
		}
		v.listedPrices(at+"/prices", l.Prices)
		v.packagePrices(at+"/packages", l.Packages)
	}
}
