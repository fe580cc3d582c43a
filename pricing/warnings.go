package pricing

import (
	"fmt"

	"wainscot/bom"
	"wainscot/pricing/pricebook"
)

// Warning is something about a cost that the workshop should know before it
// promises a price.
type Warning struct {
	Code     WarningCode `json:"code"`
	Part     string      `json:"part"`
	Supplier string      `json:"supplier"`
	// Until is the last day the supplier holds the cost, Before the day it
	// should have been held to.
	Until  string `json:"until"`
	Before string `json:"before"`
	Says   string `json:"says"`
}

// WarningCode says what a warning is about.
type WarningCode string

// The codes.
const (
	EndsBeforeValidity WarningCode = "before_validity" // the quote may be accepted later
	EndsBeforeSlot     WarningCode = "before_slot"     // the work begins later
)

// warn tells of a part's cost that ends before the offer does or the work
// begins, once for a part.
func (w *work) warn(l *bom.Line, p *pricebook.PartCost) {
	if p.Until == "" {
		return
	}
	for _, k := range [...]struct {
		code WarningCode
		day  string
		what string
	}{
		{EndsBeforeValidity, w.terms.ValidUntil, "the quote is valid until"},
		{EndsBeforeSlot, w.terms.SlotWanted, "the slot wanted begins on"},
	} {
		if k.day == "" || p.Until >= k.day {
			continue
		}
		found := Warning{Code: k.code, Part: l.Code, Supplier: p.Supplier, Until: p.Until, Before: k.day,
			Says: fmt.Sprintf("%s holds the cost of “%s” until %s, but %s %s.", w.supplierName(p.Supplier), l.Name, p.Until, k.what, k.day)}
		known := false
		for i := range w.out.Inside.Warnings {
			known = known || w.out.Inside.Warnings[i].Code == found.Code && w.out.Inside.Warnings[i].Part == found.Part
		}
		if !known {
			w.out.Inside.Warnings = append(w.out.Inside.Warnings, found)
		}
	}
}

func (w *work) supplierName(code string) string {
	suppliers := w.book.Edition().Suppliers
	for i := range suppliers {
		if suppliers[i].Code == code && suppliers[i].Name != "" {
			return suppliers[i].Name
		}
	}
	return code
}
