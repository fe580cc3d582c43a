package pricebook

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// offered says whether something limited to vans is offered for one.
func offered(vans []string, van string) bool { return len(vans) == 0 || slices.Contains(vans, van) }

type priceKey struct {
	feature, van string
	supplyOnly   bool
}

func (v *validation) prices() {
	seen := v.listedPrices("prices", v.edition.Prices)
	if seen == nil {
		return
	}
	for i := range v.catalogue.Features {
		f := &v.catalogue.Features[i]
		if f.NotSold || seen[priceKey{feature: f.Code}] {
			continue
		}
		var missing []string
		for _, b := range v.catalogue.BaseVans {
			if offered(f.Vans, b.Code) && !seen[priceKey{feature: f.Code, van: b.Code}] {
				missing = append(missing, b.Code)
			}
		}
		if len(missing) > 0 {
			v.fault("no_price", "prices", fmt.Sprintf("The feature %q has no price on %s.", f.Code, strings.Join(missing, ", ")),
				"Say how it is priced: list with an amount, built up, or included.")
		}
	}
}

// listedPrices checks the edition's prices or a price list's own, and gives
// those it saw; nil when there were too many to look at.
func (v *validation) listedPrices(list string, prices []Price) map[priceKey]bool {
	if len(prices) > MaxPrices {
		v.fault("too_many", list, fmt.Sprintf("There are %d prices.", len(prices)), fmt.Sprintf("At most %d.", MaxPrices))
		return nil
	}
	seen := make(map[priceKey]bool, len(prices))
	for i, p := range prices {
		key := priceKey{p.Feature, p.Van, p.SupplyOnly}
		if seen[key] {
			v.twice(member(list, i, "feature"), fmt.Sprintf("The price of %q", p.Feature))
		}
		seen[key] = true
		f, ok := v.features[p.Feature]
		if !ok {
			v.unknown(member(list, i, "feature"), "feature", p.Feature)
			continue
		}
		v.onePrice(list, i, p, f)
	}
	return seen
}

func (v *validation) onePrice(list string, i int, p Price, f *catalogue.Feature) {
	if f.NotSold {
		v.fault("not_sold", member(list, i, "feature"), fmt.Sprintf("The feature %q is not sold.", p.Feature), "Take its price out.")
	}
	if p.Van != "" {
		switch {
		case !v.vans[p.Van]:
			v.unknown(member(list, i, "van"), "base van", p.Van)
		case !offered(f.Vans, p.Van):
			v.fault("not_offered", member(list, i, "van"), fmt.Sprintf("%q is not offered on %q.", p.Feature, p.Van), "Take the price out.")
		}
	}
	switch p.How {
	case List:
		if p.Amount == nil {
			v.fault("no_amount", member(list, i, "amount"), "A list price needs its amount.", "Add amount.")
		} else {
			v.price(member(list, i, "amount"), *p.Amount)
		}
	case BuiltUp, Included:
		if p.Amount != nil {
			v.fault("needless_amount", member(list, i, "amount"), fmt.Sprintf("A price that is %q has no amount of its own.", p.How),
				"Take the amount out, or make it a list price.")
		}
		if p.How == Included && !v.brought[p.Feature] {
			v.fault("never_brought", member(list, i, "how"), fmt.Sprintf("Nothing brings %q, so that there is no price it could be included in.", p.Feature),
				"Give it a list price, build it up, or add the rule that brings it.")
		}
	default:
		v.fault("how", member(list, i, "how"), fmt.Sprintf("%q is no way to price a feature.", p.How), "Use list, built up or included.")
	}
	v.treatment(member(list, i, "treatment"), p.Treatment)
}

func (v *validation) treatment(at string, t Treatment) {
	if t != "" && !slices.Contains(treatments, string(t)) {
		v.fault("treatment", at, fmt.Sprintf("%q is no VAT treatment.", t), "Use one of "+strings.Join(treatments, ", ")+".")
	}
}

func (v *validation) packages() {
	priced := v.packagePrices("packages", v.edition.Packages)
	for i := range v.catalogue.Packages {
		c := &v.catalogue.Packages[i]
		code := c.Code
		for _, b := range v.catalogue.BaseVans {
			if offered(c.Vans, b.Code) && !priced[atVan{code, b.Code}] {
				v.fault("no_price", "packages", fmt.Sprintf("The package %q has no price on %q.", code, b.Code), "Add one, or limit the package's vans.")
			}
		}
	}
}

// packagePrices checks the edition's packages or a price list's own, and gives
// those that have a price.
func (v *validation) packagePrices(list string, prices []PackagePrice) map[atVan]bool {
	packages := make(map[string]*catalogue.Package)
	for i := range v.catalogue.Packages {
		packages[v.catalogue.Packages[i].Code] = &v.catalogue.Packages[i]
	}
	priced := make(map[atVan]bool)
	for i, p := range prices {
		c, ok := packages[p.Package]
		switch {
		case !ok:
			v.unknown(member(list, i, "package"), "package", p.Package)
		case !v.vans[p.Van]:
			v.unknown(member(list, i, "van"), "base van", p.Van)
		case !offered(c.Vans, p.Van):
			v.fault("not_offered", member(list, i, "van"), fmt.Sprintf("%q is not offered on %q.", p.Package, p.Van), "Take the price out.")
		case priced[atVan{p.Package, p.Van}]:
			v.twice(member(list, i, "package"), fmt.Sprintf("The price of %q on %q", p.Package, p.Van))
		}
		priced[atVan{p.Package, p.Van}] = true
		v.price(member(list, i, "amount"), p.Amount)
		v.treatment(member(list, i, "treatment"), p.Treatment)
		if c != nil {
			v.allowances(fmt.Sprintf("%s/%d/allowances", list, i+1), p, c)
		}
	}
	return priced
}

// allowances: each item that can be left out has one, and all of them together
// do not take off more than the package costs.
func (v *validation) allowances(list string, p PackagePrice, c *catalogue.Package) {
	items := make(map[string]int)
	for _, item := range c.Items {
		items[item.Feature] = max(1, item.Count)
	}
	var sum decimal.Decimal
	allowed := make(map[string]bool)
	for j, a := range p.Allowances {
		at := fmt.Sprintf("%s/%d/", list, j+1)
		switch {
		case items[a.Feature] == 0:
			v.fault("no_item", at+"feature", fmt.Sprintf("%q is not an item of %q.", a.Feature, p.Package), "Take the allowance out.")
		case allowed[a.Feature]:
			v.twice(at+"feature", fmt.Sprintf("The allowance for %q", a.Feature))
		}
		if v.price(at+"amount", a.Amount) && !allowed[a.Feature] {
			sum = sum.Add(a.Amount.Mul(decimal.New(int64(items[a.Feature]), 0)))
		}
		allowed[a.Feature] = true
	}
	for _, item := range c.Items {
		f := v.features[item.Feature]
		if !allowed[item.Feature] && (f == nil || !f.Follower) {
			v.fault("no_allowance", list,
				fmt.Sprintf("Leaving %q out of %q has no allowance.", item.Feature, p.Package), "Say what it takes off the price; 0 is allowed.")
		}
	}
	if sum.GreaterThan(p.Amount) {
		v.fault("allowances", list,
			fmt.Sprintf("The allowances of %q come to %s, more than its price.", p.Package, sum.StringFixed(v.digits)),
			"Lower them, so that leaving everything out does not pay the customer.")
	}
}

func (v *validation) surcharges() {
	choices := make(map[ofFinish]bool)
	for _, f := range v.catalogue.Finishes {
		for _, c := range f.Choices {
			choices[ofFinish{f.Code, c.Code}] = true
		}
	}
	seen := make(map[ofFinish]bool)
	for i, s := range v.edition.Finishes {
		key := ofFinish{s.Finish, s.Choice}
		switch {
		case !choices[key]:
			v.unknown(member("finishes", i, "choice"), "choice of a finish", s.Finish+"/"+s.Choice)
		case seen[key]:
			v.twice(member("finishes", i, "choice"), fmt.Sprintf("The surcharge of %s/%s", s.Finish, s.Choice))
		}
		seen[key] = true
		v.price(member("finishes", i, "amount"), s.Amount)
	}
}

func (v *validation) discounts() {
	seen := make(map[string]bool)
	for i, d := range v.edition.Discounts {
		at := member("discounts", i, "role")
		if strings.TrimSpace(d.Role) == "" {
			v.fault("no_role", at, "The limit is for no role.", "Name one.")
		} else if seen[d.Role] {
			v.twice(at, fmt.Sprintf("The limit of %q", d.Role))
		}
		seen[d.Role] = true
		v.percent(member("discounts", i, "most_percent"), d.MostPercent, 101)
		if d.MostPercent.GreaterThan(decimal.New(100, 0)) {
			v.fault("too_large", member("discounts", i, "most_percent"), "Nobody can give more than everything.", "Write at most 100.")
		}
		v.percent(member("discounts", i, "floor_margin_percent"), d.FloorMarginPercent, 100)
	}
}

func (v *validation) payments() {
	payments := v.edition.Deposits
	if len(payments) == 0 || len(payments) > MaxPayments {
		v.fault("payments", "payments", fmt.Sprintf("There are %d payments.", len(payments)),
			fmt.Sprintf("Give 1 to %d, the last of them the rest.", MaxPayments))
		return
	}
	seen := make(map[string]bool)
	var percents decimal.Decimal
	for i, p := range payments {
		at := "payments/" + p.Code
		if !document.Nameable(p.Code) || seen[p.Code] {
			at = fmt.Sprintf("payments/%d", i+1)
		}
		switch {
		case !document.Nameable(p.Code):
			v.fault("bad_code", at+"/code", fmt.Sprintf("%q cannot be a code.", p.Code), "Begin with a letter; use letters, digits, - and _.")
		case seen[p.Code]:
			v.twice(at+"/code", fmt.Sprintf("The payment %q", p.Code))
		}
		seen[p.Code] = true
		kinds := 0
		if p.Percent != nil {
			kinds++
			if v.percent(at+"/percent", *p.Percent, 100) {
				percents = percents.Add(*p.Percent)
			}
		}
		if p.Amount != nil {
			kinds++
			v.price(at+"/amount", *p.Amount)
		}
		if p.Rest {
			kinds++
		}
		if kinds != 1 {
			v.fault("payment", at, "A payment is either a percentage, an amount or the rest.", "Give exactly one of percent, amount and rest.")
		}
		if p.Rest != (i == len(payments)-1) {
			v.fault("rest", at+"/rest", "The last payment, and no other, is the rest.", "Put rest: true on the last payment only.")
		}
		if !slices.Contains(p.When.Words(), string(p.When)) {
			v.fault("when", at+"/when", fmt.Sprintf("%q is no occasion.", p.When), "Use one of "+strings.Join(p.When.Words(), ", ")+".")
		}
		if p.Days < 0 || p.Days > 365 {
			v.fault("days", at+"/days", fmt.Sprintf("%d days make no sense.", p.Days), "Write 0 to 365.")
		}
	}
	if percents.GreaterThanOrEqual(decimal.New(100, 0)) {
		v.fault("percents", "payments", fmt.Sprintf("The percentages come to %s, so that nothing is left for the rest.", percents), "Keep their sum below 100.")
	}
}
