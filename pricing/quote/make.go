package quote

import (
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// Offer is what the workshop offers on the day of a quote.
type Offer struct {
	Number  int64 // of the release
	Release *bom.Release
	Book    *pricebook.Compiled
	// Held is the issued revision whose prices still hold, nil for none, and
	// HeldBooks the editions its lines are from, made ready against Release. It
	// holds until its last day; after that it is as if it were not there.
	Held      *Document
	HeldBooks []*pricebook.Compiled
	// Days are the days the workshop works. The zero Calendar knows no
	// holidays, so what is counted with it is an estimate and says so.
	Days calendar.Calendar
	// Room, if there is one, is the memory that sheets are made in. What was
	// worked out, and a document it was frozen into, are good until it is
	// cleared.
	Room *bom.Room
	// NumbersAlone: nobody will look at the lines of sheets and prices, nor at
	// words in specifications; a van of which they are not needed on the way
	// does without them.
	NumbersAlone bool
}

// Worked is a quote worked out: what it was worked from, per van its
// resolution beside what a Document keeps, and the sums.
type Worked struct {
	Offer    Offer
	Asked    Asked
	Vans     []WorkedVan
	Totals   pricing.Totals
	Payments []pricing.Payment
}

// WorkedVan is one van of it.
type WorkedVan struct {
	Resolution bom.Resolution
	Van
}

// Ready says whether nothing stands in the way of issuing.
func (w *Worked) Ready() bool {
	for i := range w.Vans {
		if len(w.Vans[i].NotReady) > 0 {
			return false
		}
	}
	return true
}
