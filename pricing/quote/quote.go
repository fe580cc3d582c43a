// Package quote is a priced build sheet offered to a customer: what is asked
// for, what it comes to, what is frozen when it is issued, and what the
// customer's yes makes of it.
//
//	Asked ──Work──▶ Worked ──Issue──▶ Document ──Encode──▶ bytes that never change
//	                                     │
//	            Compare, Recompute ──────┤
//	            Acceptance ──Accept──────▶ Document that is agreed
//
// A draft is an Asked and nothing more: the customer's choices for one or
// several vans, additions, extras, terms. Work resolves, expands and prices it
// van by van; each van is a job of its own, and the quote's totals are the
// sums. What stands in the way of issuing is in the result, never an error.
//
// Issue freezes a Worked into a Document: release, edition, engine number, what
// was asked, every line of every sheet, every price, what is printed with it.
// The same inputs give the same bytes, so the SHA-256 of Encode names an issued
// revision; Recompute works the same questions out again, and under another
// release, edition or engine tells which lines come out otherwise. There are no
// maps and no floats in a Document, and nobody's name, registration or vehicle
// identification number: people and vans are ids, and can be erased.
//
// A price that was offered holds until its last day: Offer.Held is the revision
// whose prices still count, so that a later one charges what is unchanged as
// before and only what is new at the edition in force.
//
// Extras are priced beside the total. Ticked when the quote is accepted they
// make a further revision, worked out with the very release and edition of the
// offer, that costs no more than was offered and their prices together: each
// van keeps a most (AskedVan.AtMost), and pricing takes off what is over.
//
// Compare tells two revisions apart in sentences, in the order of a
// conversation; the differences in its sentences add up to the difference of
// the price.
//
// A deposit before the specification is in reservation.go, the right to cancel
// in cancellation.go, the reference to pay under in reference.go. No I/O, no
// clock, no randomness.
package quote

import (
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// Format names the shape of a Document.
const Format = "wainscot-quote/2"

// MaxVans is how many vans one quote may be for.
const MaxVans = 40

// Document is an issued revision as it is kept.
type Document struct {
	Format string `json:"format"` // Format
	// Quote's id and number, and the revision from 1.
	Quote    string `json:"quote"`
	Number   int64  `json:"number"`
	Revision int    `json:"revision"`
	// IssuedOn is the day of issue; the offer stands until the end of
	// ValidUntil. Days are YYYY-MM-DD in the workshop's time zone.
	IssuedOn   string `json:"issued_on"`
	ValidUntil string `json:"valid_until"`
	// Customer's id; EndCustomer's is of a dealer's own customer.
	Customer    string `json:"customer,omitempty"`
	EndCustomer string `json:"end_customer,omitempty"`
	// Release and Edition it was worked out with, and the number of the
	// engine's meaning (options.Engine). Held is the edition whose prices
	// still hold for what an earlier revision offered already.
	Release Release  `json:"release"`
	Edition Edition  `json:"edition"`
	Held    *Edition `json:"held,omitempty"`
	// HeldRevision is the revision whose prices hold.
	HeldRevision int `json:"held_revision,omitempty"`
	Engine       int `json:"engine"`
	// Asked is what was asked for.
	Asked Asked `json:"asked"`
	// Vans is what it came to, one for each of Asked.Vans.
	Vans []Van `json:"vans"`
	// Totals are the sums over the vans; Payments too, step by step.
	Totals   pricing.Totals    `json:"totals"`
	Payments []pricing.Payment `json:"payments"`
	// Paper is what is printed with it.
	Paper Paper `json:"paper"`
}

// Van is what one van's choices came to.
type Van struct {
	Specification bom.Specification `json:"specification"`
	Sheet         bom.Sheet         `json:"sheet"`
	Priced        pricing.Priced    `json:"priced"`
	// Extras are offered beside the total, to be ticked when accepting.
	Extras []Extra `json:"extras,omitempty"`
	// OpenFinishes may still be chosen after acceptance.
	OpenFinishes []OpenFinish `json:"open_finishes,omitempty"`
	// NotReady is what stands in the way of issuing; empty once issued.
	NotReady []bom.NotReady `json:"not_ready,omitempty"`
}

// Extra is something offered beside the total at its own price.
type Extra struct {
	Code  string `json:"code"` // the feature's
	Count int    `json:"count,omitempty"`
	Words string `json:"words"`
	// Gross, Net and VAT are what ticking it alone adds.
	Net   money.Amount `json:"net"`
	VAT   money.Amount `json:"vat"`
	Gross money.Amount `json:"gross"`
	Hours string       `json:"hours"`   // decimal
	Mass  string       `json:"mass_kg"` // decimal
	// Brings are the names of the features that come with it, TakesOff of
	// those that fall away.
	Brings   []string `json:"brings,omitempty"`
	TakesOff []string `json:"takes_off,omitempty"`
}

// OpenFinish is a finish to be chosen later.
type OpenFinish struct {
	Finish string `json:"finish"`
	Name   string `json:"name"`
	// LeadDays is the longest lead time of the parts it may pick, in working
	// days. ChooseBy is the last day to choose: so many working days before
	// the slot; "" while no slot is wanted.
	LeadDays int    `json:"lead_days"`
	ChooseBy string `json:"choose_by,omitempty"`
	// Says is the day as a sentence, and that it is an estimate where it is.
	Says string `json:"says,omitempty"`
}

// Release of the catalogue.
type Release struct {
	Number int64  `json:"number"`
	Hash   string `json:"hash"`
	Title  string `json:"title"`
}

// Edition of the price-book.
type Edition struct {
	Code string `json:"code"`
	Hash string `json:"hash"`
}

// Paper is what the workshop prints with a quote: its own letterhead and
// terms, frozen with it.
type Paper struct {
	Letterhead Letterhead `json:"letterhead"`
	// Terms of sale as the customer accepts them; TermsSHA256 of their bytes,
	// in hexadecimal.
	Terms       string `json:"terms"`
	TermsSHA256 string `json:"terms_sha256"`
	// NotIncluded are sentences on what no quote of the workshop includes.
	NotIncluded []string `json:"not_included,omitempty"`
	// Reference to pay under: ISO 11649, without spaces.
	Reference string `json:"reference"`
}

// Letterhead is the workshop as it signs: no customer's data.
type Letterhead struct {
	Name          string   `json:"name" yaml:"name"`
	Lines         []string `json:"lines,omitempty" yaml:"lines"` // of the address
	Telephone     string   `json:"telephone,omitempty" yaml:"telephone"`
	Email         string   `json:"email,omitempty" yaml:"email"`
	Web           string   `json:"web,omitempty" yaml:"web"`
	CompanyNumber string   `json:"company_number,omitempty" yaml:"company_number"`
	VATNumber     string   `json:"vat_number,omitempty" yaml:"vat_number"`
	// Bank says where to pay, as it is printed.
	Bank []string `json:"bank,omitempty" yaml:"bank"`
}
