package pricing

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Basis says whether the prices of a document include VAT.
type Basis string

// The bases; zero is invalid.
const (
	// Gross: printed prices include VAT, the total is their sum, VAT per rate
	// is its fraction r/(100+r) and net is the difference.
	Gross Basis = "gross"
	// Net: printed prices are without VAT, which is worked once per rate on
	// the net total.
	Net Basis = "net"
)

// Terms are what a price is worked under besides the price-book.
type Terms struct {
	Basis Basis `json:"basis" yaml:"basis"`
	// Day (YYYY-MM-DD) decides VAT rates and which costs are still held.
	Day string `json:"day,omitempty" yaml:"day"`
	// Role of the person quoting; it limits the discount.
	Role string `json:"role,omitempty" yaml:"role"`
	// DiscountPercent of the total before discount, or DiscountAmount off it
	// (with VAT on the gross basis, without on the net one): at most one.
	DiscountPercent *decimal.Decimal `json:"discount_percent,omitempty" yaml:"discount_percent"`
	DiscountAmount  *money.Amount    `json:"discount_amount,omitempty" yaml:"-"`
	// PriceList of the price-book, for the trade; "" is the prices everybody
	// pays.
	PriceList string `json:"price_list,omitempty" yaml:"price_list"`
	// CreditDays, when given, put the whole total on account, due so many
	// days after handover, in place of the price-book's payments.
	CreditDays *int `json:"credit_days,omitempty" yaml:"credit_days"`
	// Additions price the additions of the choices.
	Additions []AdditionPrice `json:"additions,omitempty" yaml:"additions"`
	// ValidUntil and SlotWanted (YYYY-MM-DD, "" when not known) are days that
	// a supplier's price should outlast; Inside says where one does not.
	ValidUntil string `json:"valid_until,omitempty" yaml:"valid_until"`
	SlotWanted string `json:"slot_wanted,omitempty" yaml:"slot_wanted"`
	// Treatments change the VAT treatment of single things.
	Treatments []TreatmentChange `json:"treatments,omitempty" yaml:"treatments"`
	// Promise is what the whole may come to at most; nil for none. It is
	// worked out from what was offered, so it is no part of the terms as kept.
	Promise *Promise `json:"-" yaml:"-"`
}

// AdditionPrice is what an addition of the choices sells for and costs.
type AdditionPrice struct {
	// Code of the bom.Addition.
	Code string `json:"code" yaml:"code"`
	// Price of all of it, with VAT on the gross basis and without on the net
	// one; below nothing it is a credit. A customer's own part has the price
	// of fitting it.
	Price decimal.Decimal `json:"price" yaml:"price"`
	// Cost of its material or outside work, without VAT; its hours cost what
	// their trades do. A customer's own part has none.
	Cost      *decimal.Decimal    `json:"cost,omitempty" yaml:"cost"`
	Treatment pricebook.Treatment `json:"treatment,omitempty" yaml:"treatment"` // "" is standard
	// Evidence kept for its treatment; zero is not applied without.
	Evidence string `json:"evidence,omitempty" yaml:"evidence"`
}

// TreatmentChange gives a feature, package or finish another VAT treatment
// than the price-book does.
type TreatmentChange struct {
	// Code of the feature, package or finish; "" is everything not named.
	Code      string              `json:"code,omitempty" yaml:"code"`
	Treatment pricebook.Treatment `json:"treatment" yaml:"treatment"`
	// Evidence that is kept for it ("declaration of eligibility of 3 May,
	// filed with the job"); zero is not applied without.
	Evidence string `json:"evidence,omitempty" yaml:"evidence"`
}

// Limits of terms.
const (
	MaxTreatments = 1000 // that may be changed
	MaxCreditDays = 365
)

// Validate finds what is wrong with the terms for a price-book. Zero without
// evidence is not: it is a gap of the price.
func (t *Terms) Validate(book *pricebook.Compiled) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if t.Basis != Gross && t.Basis != Net {
		fault("basis", "basis", fmt.Sprintf("%q is no basis.", t.Basis), "Write gross (prices include VAT) or net (they do not).")
	}
	if !pricebook.ValidDay(t.Day) {
		fault("day", "day", fmt.Sprintf("%q is not a day.", t.Day), "Write it as year, month and day: 2026-04-01.")
	}
	if _, ok := book.Listing(t.PriceList); !ok {
		fault("unknown_code", "price_list", fmt.Sprintf("The price-book has no price list %q.", t.PriceList),
			document.Suggest(t.PriceList, book.PriceLists(), "Leave it out for the prices everybody pays."))
	}
	if d := t.CreditDays; d != nil && (*d < 0 || *d > MaxCreditDays) {
		fault("out_of_range", "credit_days", fmt.Sprintf("%d days of credit make no sense.", *d), fmt.Sprintf("Write 0 to %d.", MaxCreditDays))
	}
	for _, d := range [...]struct{ at, day string }{{"valid_until", t.ValidUntil}, {"slot_wanted", t.SlotWanted}} {
		if d.day != "" && !pricebook.ValidDay(d.day) {
			fault("day", d.at, fmt.Sprintf("%q is not a day.", d.day), "Write it as year, month and day: 2026-04-01.")
		}
	}
	t.validateAdditions(book, fault)
	t.validateSums(book, fault)
	t.validateTreatments(book, fault)
	return faults
}

// validateSums checks the discount and what was promised.
func (t *Terms) validateSums(book *pricebook.Compiled, fault func(code, at, reason, remedy string)) {
	if t.DiscountPercent != nil && t.DiscountAmount != nil {
		fault("two_discounts", "discount_amount", "The discount is given both as a percentage and as an amount.", "Keep one of the two.")
	}
	if p := t.DiscountPercent; p != nil {
		if num, den, err := money.PercentFraction(*p); err != nil || num > den {
			fault("discount", "discount_percent", "The discount is not a percentage that can be taken off.", "Write 0 to 100, with at most six decimals.")
		}
	}
	if a := t.DiscountAmount; a != nil {
		switch {
		case a.Currency() != book.Currency():
			fault("currency", "discount_amount/currency", fmt.Sprintf("The discount is in %s, the price-book in %s.", a.Currency(), book.Currency()),
				fmt.Sprintf("Give it in %s.", book.Currency()))
		case a.Sign() < 0:
			fault("discount", "discount_amount/amount", "A discount below nothing would raise the price.", "Write nothing less than 0.")
		}
	}
	if p := t.Promise; p != nil {
		switch {
		case p.GrossAtMost.Currency() != book.Currency():
			fault("currency", "promise/gross_at_most/currency", fmt.Sprintf("What was promised is in %s, the price-book in %s.", p.GrossAtMost.Currency(), book.Currency()),
				fmt.Sprintf("Give it in %s.", book.Currency()))
		case p.GrossAtMost.Sign() < 0:
			fault("promise", "promise/gross_at_most/amount", "A whole below nothing cannot be promised.", "Write nothing less than 0.")
		}
	}
}

func (t *Terms) validateTreatments(book *pricebook.Compiled, fault func(code, at, reason, remedy string)) {
	if len(t.Treatments) > MaxTreatments {
		fault("too_many", "treatments", fmt.Sprintf("There are %d changes of treatment.", len(t.Treatments)), fmt.Sprintf("At most %d.", MaxTreatments))
		return
	}
	seen := make(map[string]bool, len(t.Treatments))
	for i, c := range t.Treatments {
		at := fmt.Sprintf("treatments/%d/", i+1)
		if !knownTreatment(c.Treatment) {
			fault("treatment", at+"treatment", fmt.Sprintf("%q is no VAT treatment.", c.Treatment), treatmentRemedy(c.Treatment))
		}
		if c.Code != "" && !book.Known(c.Code) {
			fault("unknown_code", at+"code", fmt.Sprintf("There is no feature, package or finish %q.", c.Code), "Name one that there is, or leave the code out for everything.")
		}
		if seen[c.Code] {
			fault("duplicate", at+"code", fmt.Sprintf("The treatment of %q is given twice.", c.Code), "Keep one of the two.")
		}
		seen[c.Code] = true
		if reason := document.TextFault(c.Evidence); reason != "" {
			fault("bad_text", at+"evidence", reason, "Write it as plain text.")
		}
	}
}

func knownTreatment(t pricebook.Treatment) bool { return slices.Contains(t.Words(), string(t)) }

func treatmentRemedy(t pricebook.Treatment) string {
	return document.Suggest(string(t), t.Words(), "Use one of "+strings.Join(t.Words(), ", ")+".")
}
