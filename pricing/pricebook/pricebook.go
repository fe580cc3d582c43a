// Package pricebook is what things cost and sell for: part costs by supplier,
// labour rates, prices of features, packages and finishes, VAT, discount
// limits and deposit rules, in dated editions that never change once in force.
//
// An edition is written as one or more YAML files (Decode) or sent as JSON of
// the same shape, as strictly as a catalogue. Every amount is a decimal in
// Currency; unit costs and hourly rates may have more decimals than the
// currency, amounts charged may not.
package pricebook

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// Format is the first line of every price-book file.
const Format = "wainscot-pricebook/1"

// Edition of a price-book.
type Edition struct {
	// Code names the edition; InForceFrom is its first day (YYYY-MM-DD). An
	// edition is in force until the next one is.
	Code        string `yaml:"edition" json:"edition"`
	InForceFrom string `yaml:"in_force_from" json:"in_force_from"`
	Currency    string `yaml:"currency" json:"currency"`
	// ListIncludesVAT says whether list prices, surcharges, allowances and
	// package prices in this edition include VAT.
	ListIncludesVAT bool `yaml:"list_includes_vat" json:"list_includes_vat"`

	VAT       []VATRate       `yaml:"vat" json:"vat"`
	Suppliers []Supplier      `yaml:"suppliers" json:"suppliers"`
	Labour    []LabourRate    `yaml:"labour" json:"labour"`
	Markup    Markup          `yaml:"markup" json:"markup"`
	Costs     []Cost          `yaml:"costs" json:"costs"`
	Outside   []OutsideCost   `yaml:"outside_work" json:"outside_work,omitempty"`
	Prices    []Price         `yaml:"prices" json:"prices"`
	Packages  []PackagePrice  `yaml:"packages" json:"packages,omitempty"`
	Finishes  []Surcharge     `yaml:"finishes" json:"finishes,omitempty"`
	Discounts []DiscountLimit `yaml:"discounts" json:"discounts,omitempty"`
	Deposits  []Payment       `yaml:"payments" json:"payments"`
	// PriceLists are for the trade.
	PriceLists []PriceList `yaml:"price_lists" json:"price_lists,omitempty"`
}

// PriceList is a list of prices for the trade. What it does not name costs what
// everybody pays, less PercentOff.
type PriceList struct {
	Code       string          `yaml:"code" json:"code"`
	Name       string          `yaml:"name" json:"name"`
	PercentOff decimal.Decimal `yaml:"percent_off" json:"percent_off,omitzero"`
	// Prices and Packages go before the edition's own, at their full amount;
	// with VAT or without as the edition says of all its list prices.
	Prices   []Price        `yaml:"prices" json:"prices,omitempty"`
	Packages []PackagePrice `yaml:"packages" json:"packages,omitempty"`
}

// Treatment is how VAT applies to a line; a rate alone does not say it.
type Treatment string

// The treatments.
const (
	Standard Treatment = "standard"
	Reduced  Treatment = "reduced"
	Zero     Treatment = "zero"   // only with evidence
	Margin   Treatment = "margin" // margin scheme: no VAT shown
	Exempt   Treatment = "exempt"
	Outside  Treatment = "outside" // outside the scope of VAT
)

// Treatments in the order in which a VAT summary shows them.
var treatments = []string{string(Standard), string(Reduced), string(Zero), string(Margin), string(Exempt), string(Outside)}

// Words are the treatments there are.
func (Treatment) Words() []string { return treatments }

// VATRate gives a treatment its rate from a day on.
type VATRate struct {
	Treatment Treatment       `yaml:"treatment" json:"treatment"`
	Percent   decimal.Decimal `yaml:"percent" json:"percent"`
	From      string          `yaml:"from" json:"from"` // YYYY-MM-DD
}

// Supplier of parts or outside work.
type Supplier struct {
	Code         string `yaml:"code" json:"code"`
	Name         string `yaml:"name" json:"name"`
	LeadTimeDays int    `yaml:"lead_time_days" json:"lead_time_days"` // working days
	// Address are the lines of it that an order has at its head.
	Address []string `yaml:"address" json:"address,omitempty"`
	// LeastOrder is the least the goods of an order come to, without VAT.
	LeastOrder *decimal.Decimal `yaml:"least_order" json:"least_order,omitempty"`
	// Carriage of an order, without VAT, unless its goods come to
	// CarriageFreeFrom.
	Carriage         *decimal.Decimal `yaml:"carriage" json:"carriage,omitempty"`
	CarriageFreeFrom *decimal.Decimal `yaml:"carriage_free_from" json:"carriage_free_from,omitempty"`
}

// LabourRate of a trade: what an hour costs the workshop and is charged at,
// both without VAT.
type LabourRate struct {
	Trade         string          `yaml:"trade" json:"trade"`
	CostPerHour   decimal.Decimal `yaml:"cost_per_hour" json:"cost_per_hour"`
	ChargePerHour decimal.Decimal `yaml:"charge_per_hour" json:"charge_per_hour"`
}

// Markup is what is added to cost for a built-up price.
type Markup struct {
	MaterialsPercent   decimal.Decimal `yaml:"materials_percent" json:"materials_percent"`
	OutsideWorkPercent decimal.Decimal `yaml:"outside_work_percent" json:"outside_work_percent"`
}

// Cost of one unit of a part, without VAT, bought from one supplier. The
// first cost of a part is the usual one.
type Cost struct {
	Part     string          `yaml:"part" json:"part"`
	Supplier string          `yaml:"supplier" json:"supplier"`
	Unit     catalogue.Unit  `yaml:"unit" json:"unit"` // must be the part's
	Cost     decimal.Decimal `yaml:"cost" json:"cost"`
	// Pack is how many units come together; absent means 1.
	Pack decimal.Decimal `yaml:"pack" json:"pack,omitzero"`
	// SupplierPart is the supplier's own number for it.
	SupplierPart string `yaml:"supplier_part" json:"supplier_part,omitempty"`
	LeadTimeDays int    `yaml:"lead_time_days" json:"lead_time_days,omitempty"` // 0: the supplier's
	// Until is the last day the supplier holds this cost; "" is open.
	Until string `yaml:"until" json:"until,omitempty"`
	// LeastQuantity of units in one order; absent means one pack.
	LeastQuantity *decimal.Decimal `yaml:"least_quantity" json:"least_quantity,omitempty"`
	// Breaks are lower costs of one unit for more of it in one order, from the
	// smallest quantity on. Quotes are priced without them.
	Breaks []Break `yaml:"breaks" json:"breaks,omitempty"`
}

// Break is the cost of one unit from a quantity on.
type Break struct {
	From decimal.Decimal `yaml:"from" json:"from"`
	Cost decimal.Decimal `yaml:"cost" json:"cost"`
}

// OutsideCost of one visit of outside work, without VAT.
type OutsideCost struct {
	Outside  string          `yaml:"outside" json:"outside"`
	Supplier string          `yaml:"supplier" json:"supplier"`
	Cost     decimal.Decimal `yaml:"cost" json:"cost"`
}

// How a feature is priced.
type How string

// The ways; zero is invalid.
const (
	List     How = "list"     // at Amount
	BuiltUp  How = "built up" // materials × markup + hours × rate
	Included How = "included" // in the price of what brings it
)

// Words are the ways there are.
func (How) Words() []string { return []string{string(List), string(BuiltUp), string(Included)} }

// Price of a feature, for one of it.
type Price struct {
	Feature string `yaml:"feature" json:"feature"`
	How     How    `yaml:"how" json:"how"`
	// Amount of a list price, with VAT or without as the edition says.
	Amount *decimal.Decimal `yaml:"amount" json:"amount,omitempty"`
	// Van limits the price to one base van; such a price goes before a general one.
	Van string `yaml:"van" json:"van,omitempty"`
	// SupplyOnly prices apply when nothing is fitted, and go before others.
	SupplyOnly bool      `yaml:"supply_only" json:"supply_only,omitempty"`
	Treatment  Treatment `yaml:"treatment" json:"treatment,omitempty"` // "" is standard
}

// PackagePrice of a package on a base van.
type PackagePrice struct {
	Package    string          `yaml:"package" json:"package"`
	Van        string          `yaml:"van" json:"van"`
	Amount     decimal.Decimal `yaml:"amount" json:"amount"`
	Treatment  Treatment       `yaml:"treatment" json:"treatment,omitempty"`
	Allowances []Allowance     `yaml:"allowances" json:"allowances,omitempty"`
}

// Allowance is what leaving an item out of a package takes off, for one of it.
type Allowance struct {
	Feature string          `yaml:"feature" json:"feature"`
	Amount  decimal.Decimal `yaml:"amount" json:"amount"`
}

// Surcharge of a finish choice; a choice without one costs nothing more.
type Surcharge struct {
	Finish string          `yaml:"finish" json:"finish"`
	Choice string          `yaml:"choice" json:"choice"`
	Amount decimal.Decimal `yaml:"amount" json:"amount"`
}

// DiscountLimit is how far a role may go.
type DiscountLimit struct {
	Role string `yaml:"role" json:"role"`
	// MostPercent of the total before discount.
	MostPercent decimal.Decimal `yaml:"most_percent" json:"most_percent"`
	// FloorMarginPercent the quote must keep: (net − cost)/net.
	FloorMarginPercent decimal.Decimal `yaml:"floor_margin_percent" json:"floor_margin_percent"`
}

// Payment is one step of the payment schedule, in order; the last is the rest.
type Payment struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// Percent of the total, or a fixed Amount, or Rest: exactly one.
	Percent *decimal.Decimal `yaml:"percent" json:"percent,omitempty"`
	Amount  *decimal.Decimal `yaml:"amount" json:"amount,omitempty"`
	Rest    bool             `yaml:"rest" json:"rest,omitempty"`
	// When it falls due.
	When PaymentWhen `yaml:"when" json:"when"`
	// Days before the slot, or after handover, as When says.
	Days int `yaml:"days" json:"days,omitempty"`
}

// PaymentWhen says what makes a payment due.
type PaymentWhen string

// The occasions.
const (
	OnAcceptance PaymentWhen = "on acceptance"
	BeforeSlot   PaymentWhen = "before the slot"
	OnHandover   PaymentWhen = "on handover"
)

// Words are the occasions there are.
func (PaymentWhen) Words() []string {
	return []string{string(OnAcceptance), string(BeforeSlot), string(OnHandover)}
}
