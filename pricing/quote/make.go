package quote

import (
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// Offer is what the workshop offers on the day of a quote.
type Offer struct {
	Number  int64 // of the release
	Release *bom.Release
	Book    *pricebook.Compiled
	// Held is the issued revision whose prices still hold, and the edition
	// they are from (made ready against Release); nil for none.
	Held     *Document
	HeldBook *pricebook.Compiled
}

// Worked is a quote worked out: per van its resolution beside what a Document
// keeps, and the sums.
type Worked struct {
	Vans     []WorkedVan
	Totals   pricing.Totals
	Payments []pricing.Payment
}

// WorkedVan is one van of it.
type WorkedVan struct {
	Resolution bom.Resolution
	Van
}
