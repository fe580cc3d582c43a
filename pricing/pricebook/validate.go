package pricebook

import (
	"fmt"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Limits of an edition: more is refused.
const (
	MaxCosts        = 200_000
	MaxPrices       = 100_000
	MaxPayments     = 20
	MaxLeadTimeDays = 730
	MaxPercent      = 1000
	MaxBreaks       = 20
	// MostOrdered is less than this of one part in one order.
	MostOrdered = 1_000_000
)

// Validate finds everything that would stop an edition from pricing what a
// catalogue offers: codes that do not exist or are doubled, parts without a
// cost, features, packages and trades without a price, wrong units, limits and
// payments that make no sense. No faults means that every allowed sheet of the
// catalogue can be priced, as long as the costs are still held.
func (e Edition) Validate(c *catalogue.Catalogue) document.Faults {
	v := validation{edition: &e, catalogue: c}
	v.index()
	v.head()
	v.vat()
	v.labour()
	v.costs()
	v.outside()
	v.prices()
	v.packages()
	v.priceLists()
	v.surcharges()
	v.discounts()
	v.payments()
	return v.faults.Faults()
}

type validation struct {
	edition   *Edition
	catalogue *catalogue.Catalogue
	faults    document.Collector
	currency  money.Currency
	digits    int32

	parts     map[string]*catalogue.Part
	features  map[string]*catalogue.Feature
	vans      map[string]bool
	brought   map[string]bool
	suppliers map[string]bool
}

func (v *validation) index() {
	v.currency = money.Currency(v.edition.Currency)
	v.digits = 2
	if digits, ok := v.currency.MinorDigits(); ok {
		v.digits = int32(digits)
	}
	v.parts = make(map[string]*catalogue.Part, len(v.catalogue.Parts))
	for i := range v.catalogue.Parts {
		v.parts[v.catalogue.Parts[i].Code] = &v.catalogue.Parts[i]
	}
	v.features = make(map[string]*catalogue.Feature, len(v.catalogue.Features))
	v.brought = make(map[string]bool)
	for i := range v.catalogue.Features {
		f := &v.catalogue.Features[i]
		v.features[f.Code] = f
		if f.Follower {
			v.brought[f.Code] = true
		}
	}
	for _, r := range v.catalogue.Rules {
		for _, b := range r.Brings {
			v.brought[b.Feature] = true
		}
	}
	v.vans = make(map[string]bool)
	for _, b := range v.catalogue.BaseVans {
		v.vans[b.Code] = true
	}
	v.suppliers = make(map[string]bool)
}

func (v *validation) fault(code, at, reason, remedy string) {
	v.faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

// member is the path of a list's member that has no code, from 1.
func member(list string, i int, field string) string {
	return fmt.Sprintf("%s/%d/%s", list, i+1, field)
}

func (v *validation) day(at, day string) bool {
	if ValidDay(day) {
		return true
	}
	v.fault("day", at, fmt.Sprintf("%q is not a day.", day), "Write it as year, month and day: 2026-04-01.")
	return false
}

// ValidDay says whether a text is a day of the calendar as YYYY-MM-DD, years
// 1900 to 2199.
func ValidDay(day string) bool { return document.ValidDay(day) }

// within checks a decimal's bounds and decimals: most is exclusive.
func (v *validation) within(at string, d decimal.Decimal, most int64, places int32) bool {
	switch {
	case d.Exponent() < -1000 || d.Exponent() > 30:
		v.fault("number", at, "The number is written with an exponent out of all bounds.", "Write plain digits.")
	case d.Sign() < 0:
		v.fault("negative", at, fmt.Sprintf("%s is negative.", d), "Write nothing less than 0.")
	case d.GreaterThanOrEqual(decimal.New(most, 0)):
		v.fault("too_large", at, fmt.Sprintf("%s is too large.", d), fmt.Sprintf("Keep it below %d.", most))
	case !d.Equal(d.Truncate(places)):
		v.fault("too_fine", at, fmt.Sprintf("%s has more than %d decimals.", d, places),
			fmt.Sprintf("Round it to %d decimals.", places))
	default:
		return true
	}
	return false
}

// price checks an amount that is charged, unit one that only costs.
func (v *validation) price(at string, d decimal.Decimal) bool {
	return v.within(at, d, money.Largest, v.digits)
}

func (v *validation) unit(at string, d decimal.Decimal) {
	v.within(at, d, money.Largest, money.UnitDecimals)
}

func (v *validation) percent(at string, d decimal.Decimal, most int64) bool {
	return v.within(at, d, most, 4)
}

func (v *validation) unknown(at, what, code string) {
	v.fault("unknown_code", at, fmt.Sprintf("There is no %s %q.", what, code),
		"Name one that there is, or take this out.")
}

func (v *validation) twice(at, what string) {
	v.fault("duplicate", at, fmt.Sprintf("%s is given twice.", what), "Keep one of the two.")
}

func (v *validation) head() {
	e := v.edition
	if !document.Nameable("e" + e.Code) { // an edition may begin with its year
		v.fault("bad_code", "edition", fmt.Sprintf("%q cannot name an edition.", e.Code),
			"Use letters, digits, - and _, at most 60 of them.")
	}
	v.day("in_force_from", e.InForceFrom)
	if _, ok := v.currency.MinorDigits(); !ok {
		v.fault("currency_code", "currency", fmt.Sprintf("The currency %q is not known here.", e.Currency),
			"Write its ISO 4217 code in capitals: GBP.")
	}
	for i, s := range e.Suppliers {
		at := "suppliers/" + s.Code
		if !document.Nameable(s.Code) {
			at = member("suppliers", i, "code")
			v.fault("bad_code", at, fmt.Sprintf("%q cannot be a code.", s.Code), "Begin with a letter; use letters, digits, - and _.")
		}
		if v.suppliers[s.Code] {
			v.twice(member("suppliers", i, "code"), fmt.Sprintf("The supplier %q", s.Code))
		}
		v.suppliers[s.Code] = true
		if s.LeadTimeDays < 0 || s.LeadTimeDays > MaxLeadTimeDays {
			v.fault("lead_time", at+"/lead_time_days", fmt.Sprintf("A lead time of %d working days makes no sense.", s.LeadTimeDays),
				fmt.Sprintf("Write 0 to %d.", MaxLeadTimeDays))
		}
		v.supplierTerms(at, &s)
		v.address(at+"/address", s.Address)
	}
	v.percent("markup/materials_percent", e.Markup.MaterialsPercent, MaxPercent)
	v.percent("markup/outside_work_percent", e.Markup.OutsideWorkPercent, MaxPercent)
}

func (v *validation) vat() {
	seen := make(map[string]bool)
	standard := false
	for i, r := range v.edition.VAT {
		switch r.Treatment {
		case Standard, Reduced:
		default:
			v.fault("no_rate_here", member("vat", i, "treatment"), fmt.Sprintf("The treatment %q has no rate.", r.Treatment),
				"Give rates for standard and reduced only; the others are without VAT by what they are.")
			continue
		}
		v.percent(member("vat", i, "percent"), r.Percent, 100)
		if !v.day(member("vat", i, "from"), r.From) {
			continue
		}
		if key := string(r.Treatment) + r.From; seen[key] {
			v.twice(member("vat", i, "from"), fmt.Sprintf("The %s rate from %s", r.Treatment, r.From))
		} else {
			seen[key] = true
		}
		standard = standard || r.Treatment == Standard && r.From <= v.edition.InForceFrom
	}
	if !standard {
		v.fault("no_vat_rate", "vat", "There is no standard rate on the day the edition comes into force.",
			"Add a rate with treatment standard from that day or earlier.")
	}
	reduced := func(t Treatment, at string) {
		if t == Reduced && !v.hasReduced() {
			v.fault("no_vat_rate", at, "The treatment is reduced, but there is no reduced rate on the first day.",
				"Add the reduced rate to vat, or use another treatment.")
		}
	}
	for i, p := range v.edition.Prices {
		reduced(p.Treatment, member("prices", i, "treatment"))
	}
	for i, p := range v.edition.Packages {
		reduced(p.Treatment, member("packages", i, "treatment"))
	}
	for i, l := range v.edition.PriceLists {
		for j, p := range l.Prices {
			reduced(p.Treatment, member(v.listAt(i)+"/prices", j, "treatment"))
		}
		for j, p := range l.Packages {
			reduced(p.Treatment, member(v.listAt(i)+"/packages", j, "treatment"))
		}
	}
}

func (v *validation) hasReduced() bool {
	for _, r := range v.edition.VAT {
		if r.Treatment == Reduced && r.From <= v.edition.InForceFrom {
			return true
		}
	}
	return false
}

func (v *validation) labour() {
	trades := make(map[string]bool)
	for _, t := range v.catalogue.Trades {
		trades[t.Code] = true
	}
	rated := make(map[string]bool)
	for i, l := range v.edition.Labour {
		at := member("labour", i, "trade")
		switch {
		case !trades[l.Trade]:
			v.unknown(at, "trade", l.Trade)
		case rated[l.Trade]:
			v.twice(at, fmt.Sprintf("The trade %q", l.Trade))
		}
		rated[l.Trade] = true
		v.unit(member("labour", i, "cost_per_hour"), l.CostPerHour)
		v.unit(member("labour", i, "charge_per_hour"), l.ChargePerHour)
	}
	for _, t := range v.catalogue.Trades {
		if !rated[t.Code] {
			v.fault("no_rate", "labour", fmt.Sprintf("The trade %q has no hourly rate.", t.Code), "Add one.")
		}
	}
}

func (v *validation) costs() {
	costs := v.edition.Costs
	if len(costs) > MaxCosts {
		v.fault("too_many", "costs", fmt.Sprintf("There are %d costs.", len(costs)), fmt.Sprintf("At most %d.", MaxCosts))
		return
	}
	type key struct{ part, supplier, until string }
	seen := make(map[key]bool, len(costs))
	costed := make(map[string]bool, len(costs))
	for i, c := range costs {
		costed[c.Part] = true
		part, ok := v.parts[c.Part]
		if !ok {
			v.unknown(member("costs", i, "part"), "part", c.Part)
		} else if part.Unit != c.Unit {
			v.fault("unit", member("costs", i, "unit"),
				fmt.Sprintf("The cost of %q is for one %q, but the part is counted in %q.", c.Part, c.Unit, part.Unit),
				fmt.Sprintf("Give the cost of one %q.", part.Unit))
		}
		if !v.suppliers[c.Supplier] {
			v.unknown(member("costs", i, "supplier"), "supplier", c.Supplier)
		}
		v.unit(member("costs", i, "cost"), c.Cost)
		v.within(member("costs", i, "pack"), c.Pack, 1_000_000_000, 6)
		if c.LeadTimeDays < 0 || c.LeadTimeDays > MaxLeadTimeDays {
			v.fault("lead_time", member("costs", i, "lead_time_days"), fmt.Sprintf("A lead time of %d working days makes no sense.", c.LeadTimeDays),
				fmt.Sprintf("Write 0 to %d.", MaxLeadTimeDays))
		}
		v.quantities(i, &c)
		if c.Until != "" && v.day(member("costs", i, "until"), c.Until) && c.Until < v.edition.InForceFrom {
			v.fault("over_already", member("costs", i, "until"),
				fmt.Sprintf("The cost is held until %s, before the edition comes into force.", c.Until), "Take it out, or ask the supplier again.")
		}
		k := key{c.Part, c.Supplier, c.Until}
		if seen[k] {
			v.twice(member("costs", i, "part"), fmt.Sprintf("The cost of %q from %q", c.Part, c.Supplier))
		}
		seen[k] = true
	}
	for i := range v.catalogue.Parts {
		if code := v.catalogue.Parts[i].Code; !costed[code] {
			v.fault("no_cost", "costs", fmt.Sprintf("The part %q has no cost.", code), "Add what one unit of it costs, and from whom.")
		}
	}
}

// Limits of a supplier's address; more is no address.
const (
	MaxAddressLines = 8
	MaxAddressLine  = 100 // characters
)

func (v *validation) address(at string, lines []string) {
	if len(lines) > MaxAddressLines {
		v.fault("too_many", at, fmt.Sprintf("An address of %d lines makes no sense.", len(lines)), fmt.Sprintf("Write at most %d.", MaxAddressLines))
	}
	for i, l := range lines {
		if n := utf8.RuneCountInString(l); n == 0 || n > MaxAddressLine {
			v.fault("no_line", document.Join(at, i+1), fmt.Sprintf("A line of %d characters is none of an address.", n), fmt.Sprintf("Write 1 to %d.", MaxAddressLine))
		}
	}
}

// supplierTerms checks what a supplier asks of an order.
func (v *validation) supplierTerms(at string, s *Supplier) {
	for _, f := range []struct {
		name   string
		amount *decimal.Decimal
	}{{"least_order", s.LeastOrder}, {"carriage", s.Carriage}, {"carriage_free_from", s.CarriageFreeFrom}} {
		if f.amount != nil {
			v.price(at+"/"+f.name, *f.amount)
		}
	}
	if s.CarriageFreeFrom != nil && s.Carriage == nil {
		v.fault("no_carriage", at+"/carriage_free_from", "Carriage is free from an amount on, and nothing says what it costs below.", "Add carriage.")
	}
}

// quantities checks how much of a part is had at once, and for what.
func (v *validation) quantities(i int, c *Cost) {
	if c.LeastQuantity != nil {
		v.within(member("costs", i, "least_quantity"), *c.LeastQuantity, MostOrdered, 6)
	}
	if len(c.Breaks) > MaxBreaks {
		v.fault("too_many", member("costs", i, "breaks"), fmt.Sprintf("There are %d breaks.", len(c.Breaks)), fmt.Sprintf("At most %d.", MaxBreaks))
		return
	}
	from, cost := decimal.Zero, c.Cost
	for k, b := range c.Breaks {
		at := fmt.Sprintf("%s/%d", member("costs", i, "breaks"), k+1)
		if !v.within(at+"/from", b.From, MostOrdered, 6) || !v.within(at+"/cost", b.Cost, money.Largest, money.UnitDecimals) {
			return
		}
		if b.From.LessThanOrEqual(from) || b.Cost.GreaterThanOrEqual(cost) {
			v.fault("breaks", at, fmt.Sprintf("From %s on one costs %s, and before that %s.", b.From, b.Cost, cost), "Write breaks from the smallest quantity on, each cheaper than the one before.")
		}
		from, cost = b.From, b.Cost
	}
}

func (v *validation) outside() {
	works := make(map[string]bool)
	for _, o := range v.catalogue.OutsideWork {
		works[o.Code] = true
	}
	costed := make(map[string]bool)
	for i, o := range v.edition.Outside {
		at := member("outside_work", i, "outside")
		switch {
		case !works[o.Outside]:
			v.unknown(at, "outside work", o.Outside)
		case costed[o.Outside]:
			v.twice(at, fmt.Sprintf("The outside work %q", o.Outside))
		}
		costed[o.Outside] = true
		if !v.suppliers[o.Supplier] {
			v.unknown(member("outside_work", i, "supplier"), "supplier", o.Supplier)
		}
		v.unit(member("outside_work", i, "cost"), o.Cost)
	}
	for _, o := range v.catalogue.OutsideWork {
		if !costed[o.Code] {
			v.fault("no_cost", "outside_work", fmt.Sprintf("The outside work %q has no cost.", o.Code), "Add what one visit costs, and from whom.")
		}
	}
}
