package pricing

import (
	"wainscot/bom"
	"wainscot/pricing/pricebook"
)

// Held is an earlier revision whose prices still hold: inside its validity
// what is unchanged keeps its price, and what is new takes today's.
type Held struct {
	// Specification and Priced of the same van, as they were offered.
	Specification *bom.Specification
	Priced        *Priced
	// Editions its lines are from, made ready against the release in use. They
	// say how VAT applies by itself to what was offered, and what leaving
	// something out of a package that is held takes off; of one that is not
	// here, today's edition is asked instead.
	Editions []*pricebook.Compiled
}

// Holding says which prices hold from an earlier revision.
type Holding struct {
	// Edition of that revision.
	Edition string `json:"edition"`
	// Lines that keep a price of it.
	Lines int `json:"lines"`
	// Not says why nothing is held; "" when prices are.
	Not  NotHeldCode `json:"not,omitempty"`
	Says string      `json:"says,omitempty"`
}

// NotHeldCode says why an earlier revision's prices do not hold.
type NotHeldCode string

// The codes.
const (
	OtherBasis     NotHeldCode = "other_basis"      // prices with VAT then, without now, or the other way
	OtherPriceList NotHeldCode = "other_price_list" // or none
	OtherVan       NotHeldCode = "other_van"        // another base van
	OtherFitting   NotHeldCode = "other_fitting"    // fitted then, only supplied now, or the other way
	OtherCurrency  NotHeldCode = "other_currency"
)

// hold lays out what an earlier revision's prices hold for.
func (w *work) hold(*Held) {}
