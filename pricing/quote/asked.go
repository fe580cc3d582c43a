package quote

import (
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// AskedFormat names the shape of an Asked.
const AskedFormat = "wainscot-asked/1"

// Asked is what a quote is made from; a draft keeps this and nothing more.
type Asked struct {
	Format string `json:"format"` // AskedFormat
	// Terms hold for all vans. Their Day decides prices and VAT rates; a
	// discount in money is of the whole quote and divided over the vans.
	Terms pricing.Terms `json:"terms"`
	// SlotWanted is the day (YYYY-MM-DD) the customer would like work to
	// begin; "" when not said.
	SlotWanted string     `json:"slot_wanted,omitempty"`
	Vans       []AskedVan `json:"vans"`
}

// AskedVan is what is asked for one van.
type AskedVan struct {
	// Van is the id of a van the workshop knows; "" for one it does not.
	Van string `json:"van,omitempty"`
	// Facts of the van, without registration and vehicle identification
	// number.
	Facts   bom.Van     `json:"facts"`
	Choices bom.Choices `json:"choices"`
	Settle  bom.Settle  `json:"settle,omitempty"`
	// Additions price the choices' additions; they are put into the van's
	// terms.
	Additions []pricing.AdditionPrice `json:"additions,omitempty"`
	// Extras are features offered beside the total.
	Extras []AskedExtra `json:"extras,omitempty"`
	// Ticked are extras taken when the quote was accepted, each at the price
	// it was offered at; they are among Choices. AtMost is then what the van
	// may come to with VAT, and DiscountShare its part of a discount in money
	// on the whole quote, both as they were offered.
	Ticked        []TickedExtra `json:"ticked,omitempty"`
	AtMost        *money.Amount `json:"at_most,omitempty"`
	DiscountShare *money.Amount `json:"discount_share,omitempty"`
}

// AskedExtra is a feature to be offered beside the total.
type AskedExtra struct {
	Feature string `json:"feature"`
	Count   int    `json:"count,omitempty"` // of a counted one
}

// TickedExtra is an extra that was taken, with VAT at most at Gross.
type TickedExtra struct {
	Feature string       `json:"feature"`
	Count   int          `json:"count,omitempty"`
	Gross   money.Amount `json:"gross"`
}
