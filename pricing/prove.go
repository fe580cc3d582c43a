package pricing

import (
	"errors"
	"fmt"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing/pricebook"
)

// OnDay is an edition of the price-book and a day (YYYY-MM-DD) to price for.
type OnDay struct {
	Book *pricebook.Compiled
	Day  string
}

// InForceFrom gives the editions of a book that a catalogue published on a day
// would be sold at: the one in force then, for that day, and those to come,
// each for its first day.
func InForceFrom(book *pricebook.Book, day string) []OnDay {
	var list []OnDay
	if now, ok := book.InForce(day); ok {
		list = append(list, OnDay{now, day})
	}
	for _, k := range book.Editions() {
		if from := k.Edition().InForceFrom; from > day {
			list = append(list, OnDay{k, from})
		}
	}
	return list
}

// Prove is bom.Prove with the price-book held against every specification that
// it expands: in each edition, at what everybody pays and at every price list
// of the trade, every line must have its price and every cost must be known.
// Nothing of it is an error; what is missing is a finding, with the code of
// the gap (GapCode) and the choices that show it.
func Prove(r *bom.Release, editions []OnDay, p bom.Proving) (bom.Proof, error) {
	look := p.Look
	p.Look = func(spec bom.Specification, sheet bom.Sheet) []bom.Seen {
		var seen []bom.Seen
		if look != nil {
			seen = look(spec, sheet)
		}
		for _, on := range editions {
			for _, list := range append([]string{""}, on.Book.PriceLists()...) {
				seen = append(seen, missing(spec, sheet, on, list)...)
			}
		}
		return seen
	}
	proof, err := bom.Prove(r, p)
	if err != nil {
		return proof, err
	}
	for _, on := range editions {
		proof.Editions = append(proof.Editions, bom.ProofEdition{Edition: on.Book.Edition().Code, Day: on.Day})
	}
	return proof, nil
}

// PriceTooLarge is a finding of Prove: an amount that is no money any more.
const PriceTooLarge bom.FindingCode = "price_too_large"

// OfPrices says whether a finding of Prove is about the price-book, and not
// about the catalogue by itself.
func OfPrices(code bom.FindingCode) bool {
	switch GapCode(code) {
	case NoPrice, NoAllowance, NoPackage, NoCost, NoRate, NoOutside, NoVATRate:
		return true
	case FinishOpen, NoEvidence, BrokenSheet:
		return false
	}
	return code == PriceTooLarge
}

// missing prices one sheet and says what stops it from being a whole price.
func missing(spec bom.Specification, sheet bom.Sheet, on OnDay, list string) []bom.Seen {
	terms := Terms{Basis: Gross, Day: on.Day, PriceList: list}
	if list != "" {
		terms.Basis = Net // as the trade buys
	}
	edition := on.Book.Edition().Code
	priced, err := Price(sheet, spec, on.Book, terms)
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return []bom.Seen{{Code: PriceTooLarge, At: "base_vans/" + sheet.BaseVan,
			Says: fmt.Sprintf("With edition %s: %s", edition, faults[0].Reason), Remedy: faults[0].Remedy}}
	}
	if err != nil {
		return []bom.Seen{{Code: PriceTooLarge, At: "base_vans/" + sheet.BaseVan, Says: err.Error(), Remedy: "Look at the price-book."}}
	}
	var seen []bom.Seen
	for _, g := range priced.Gaps {
		at := ""
		switch g.Code {
		case NoPrice, NoAllowance:
			at = "features/"
		case NoPackage:
			at = "packages/"
		case NoCost:
			at = "parts/"
		case NoRate:
			at = "trades/"
		case NoOutside:
			at = "outside_work/"
		case NoVATRate:
			at = "vat_rates/"
		case FinishOpen, NoEvidence, BrokenSheet: // the first two are the customer's, what is broken is told
			continue
		}
		seen = append(seen, bom.Seen{Code: bom.FindingCode(g.Code), At: at + g.At,
			Says: fmt.Sprintf("With edition %s: %s", edition, g.Says), Remedy: g.Remedy})
	}
	return seen
}
