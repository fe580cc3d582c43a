package pricing

import (
	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// PricedFormat names the shape of a Priced.
const PricedFormat = "wainscot-priced/1"

// Priced is a build sheet with its price. It holds no maps and no floats, and
// the same inputs give the same bytes.
type Priced struct {
	Format   string         `json:"format"`  // PricedFormat
	Edition  string         `json:"edition"` // of the price-book
	Currency money.Currency `json:"currency"`
	Basis    Basis          `json:"basis"`
	Day      string         `json:"day"`
	// PriceList of the trade it is at; "" is what everybody pays.
	PriceList string `json:"price_list,omitempty"`
	// Holding says which prices hold from an earlier revision; nil when none
	// was to.
	Holding *Holding `json:"holding,omitempty"`
	// Lines in the customer's words, in the order they are printed.
	Lines []Line `json:"lines"`
	// VAT has one row for every treatment and rate that occurs.
	VAT    []VATRow `json:"vat"`
	Totals Totals   `json:"totals"`
	// Payments add up to Totals.Gross exactly.
	Payments []Payment `json:"payments"`
	// Refusal is why the discount asked for was not given; it is then not in
	// the lines.
	Refusal *Refusal `json:"refusal,omitempty"`
	// Gaps are the things that stop this from being a whole price. A document
	// with gaps is not ready to issue.
	Gaps []Gap `json:"gaps,omitempty"`
	// SettledSoFar: the specification is not finished, so the price is of
	// what stands until now.
	SettledSoFar bool `json:"settled_so_far,omitempty"`
	// Inside is for the workshop only; see ForCustomer.
	Inside *Inside `json:"inside,omitempty"`
}

// ForCustomer is the priced sheet without anything a customer may not see:
// cost, margin, suppliers, and how far a discount could have gone.
func (p Priced) ForCustomer() Priced {
	p.Inside, p.Refusal = nil, nil
	return p
}

// LineKind says what a line is about.
type LineKind string

// The kinds, in the order in which lines stand.
const (
	PackageLine   LineKind = "package"
	InPackageLine LineKind = "in the package" // at nothing: the package's price has it
	LeftOutLine   LineKind = "left out"       // allowance for a package item not taken
	SwapLine      LineKind = "swap"           // difference between two items of a group
	FeatureLine   LineKind = "feature"
	IncludedLine  LineKind = "included" // at nothing: comes with something else
	FinishLine    LineKind = "finish"
	RemovalLine   LineKind = "removal"
	OneOffLine    LineKind = "one-off"        // an addition of the choices
	OwnPartLine   LineKind = "customer's own" // fitting what the customer brings
	DiscountLine  LineKind = "discount"       // one for each treatment and rate
	PromiseLine   LineKind = "extras"         // likewise; see Promise
)

// Line is one thing the customer is told about.
type Line struct {
	Kind LineKind `json:"kind"`
	// Code of the package, feature, addition, or finish and choice
	// ("fabric/oatmeal").
	Code string `json:"code,omitempty"`
	// InsteadOf is, on a swap, the package item that was given up for Code.
	InsteadOf string `json:"instead_of,omitempty"`
	Words     string `json:"words"`
	Quantity  int    `json:"quantity"`
	// UnitPrice × Quantity is Amount, both with VAT on the gross basis and
	// without on the net one.
	UnitPrice money.UnitPrice `json:"unit_price"`
	Amount    money.Amount    `json:"amount"`
	// Edition the unit price holds from, where it is not Priced.Edition; Today
	// is what one would be at without that, where it would be anything else.
	Edition   string              `json:"edition,omitempty"`
	Today     *money.UnitPrice    `json:"today,omitempty"`
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	// Net + VAT are what the line comes to with VAT; over all lines they add
	// up to the totals.
	Net money.Amount `json:"net"`
	VAT money.Amount `json:"vat"`
	// Unpriced: there is no price, so the amount means nothing; the gap says why.
	Unpriced bool `json:"unpriced,omitempty"`
}

// VATRow is the VAT of one treatment at one rate.
type VATRow struct {
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	Net       money.Amount        `json:"net"` // the taxable amount
	VAT       money.Amount        `json:"vat"`
	Gross     money.Amount        `json:"gross"`
	// Says is the sentence that goes with the treatment; "" for plain rates.
	Says string `json:"says,omitempty"`
	// Evidence kept for it, in the order of the lines.
	Evidence []string `json:"evidence,omitempty"`
}

// Totals of a priced sheet.
type Totals struct {
	// BeforeDiscount is the sum of the printed amounts above the discount;
	// Discount what is taken off, by a discount or to keep a promise, not
	// negative. Both in the basis's terms.
	BeforeDiscount money.Amount `json:"before_discount"`
	Discount       money.Amount `json:"discount"`
	// Net + VAT = Gross, always.
	Net   money.Amount `json:"net"`
	VAT   money.Amount `json:"vat"`
	Gross money.Amount `json:"gross"`
}

// Payment is one step of the payment schedule.
type Payment struct {
	Code   string                `json:"code"`
	Name   string                `json:"name"`
	Amount money.Amount          `json:"amount"`
	When   pricebook.PaymentWhen `json:"when"`
	Days   int                   `json:"days,omitempty"`
	// Cut says that the step is less than the price-book asks for, because no
	// more was left of the total.
	Cut bool `json:"cut,omitempty"`
}

// RefusalCode says why a discount was not given.
type RefusalCode string

// The codes.
const (
	RoleMayNot    RefusalCode = "role_may_not"    // the role may give none
	OverPercent   RefusalCode = "over_percent"    // more than the role may give
	UnderFloor    RefusalCode = "under_floor"     // the margin would fall below the floor
	CostNotKnown  RefusalCode = "cost_not_known"  // so the floor cannot be shown to hold
	OverTotal     RefusalCode = "over_total"      // more than there is to take it off
	NothingToTake RefusalCode = "nothing_to_take" // the total is nothing or less
)

// Refusal of a discount.
type Refusal struct {
	Code RefusalCode `json:"code"`
	Says string      `json:"says"`
	// Most that would be given, as an amount; asking for it succeeds.
	Most money.Amount `json:"most"`
	// MostPercent is the same as a percentage with two decimals, cut off.
	MostPercent decimal.Decimal `json:"most_percent"`
}

// GapCode says what is missing from a price.
type GapCode string

// The codes.
const (
	NoPrice     GapCode = "no_price"     // a feature without a price for this van
	NoPackage   GapCode = "no_package"   // a package without a price for this van
	NoAllowance GapCode = "no_allowance" // a package item that has none
	NoCost      GapCode = "no_cost"      // a part no supplier holds a cost for on the day
	NoRate      GapCode = "no_rate"      // a trade without an hourly rate
	NoOutside   GapCode = "no_outside"   // outside work without a cost
	NoVATRate   GapCode = "no_vat_rate"  // a treatment without a rate on the day
	NoEvidence  GapCode = "no_evidence"  // zero without evidence: charged at standard
	FinishOpen  GapCode = "finish_open"  // a finish still to be chosen
	BrokenSheet GapCode = "broken_sheet" // the sheet has formulas that gave no number
)

// gapOrder is the order in which gaps are told.
var gapOrder = []GapCode{NoPrice, NoPackage, NoAllowance, FinishOpen, NoEvidence, NoVATRate, NoCost, NoRate, NoOutside, BrokenSheet}

// Gap is one thing missing from a price. It is never made up for by a silent
// nothing: the document is not whole until it is mended.
type Gap struct {
	Code GapCode `json:"code"`
	// At is the code of the thing in question.
	At     string `json:"at"`
	Says   string `json:"says"`
	Remedy string `json:"remedy"`
	// Inside: the gap is in a cost, which the customer does not see.
	Inside bool `json:"inside,omitempty"`
}

// Inside is what only the workshop sees.
type Inside struct {
	// Lines has one entry for each line of Priced, in the same order.
	Lines []LineCost `json:"lines"`
	// Costed has one entry for each line of the build sheet that costs
	// anything, in sheet order.
	Costed []Costed `json:"costed"`
	// Cost is the sum of Costed; Overhead is the part of it that no feature
	// asked for (a stage's own work, consumables by rate).
	Cost     money.Amount `json:"cost"`
	Overhead money.Amount `json:"overhead"`
	// Margin = net − cost; MarginPercent is of net, absent when net is not
	// above nothing.
	Margin        money.Amount     `json:"margin"`
	MarginPercent *decimal.Decimal `json:"margin_percent,omitempty"`
	// Warnings of costs that do not last, in sheet order.
	Warnings []Warning `json:"warnings,omitempty"`
}

// LineCost is what one line costs the workshop.
type LineCost struct {
	Cost     money.Amount `json:"cost"`     // asked for by the line itself
	Overhead money.Amount `json:"overhead"` // its share
	Margin   money.Amount `json:"margin"`   // net − cost − overhead
}

// Costed is the cost of one line of the build sheet.
type Costed struct {
	// Line is its index in the sheet, which has its stage, code and quantity.
	Line     int             `json:"line"`
	Supplier string          `json:"supplier,omitempty"` // "" for the workshop's own hours
	UnitCost money.UnitPrice `json:"unit_cost"`
	Cost     money.Amount    `json:"cost"`
	// Overhead: no feature asked for it.
	Overhead bool `json:"overhead,omitempty"`
}
