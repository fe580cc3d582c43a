package pricing

import (
	"wainscot/bom"
	"wainscot/pricing/pricebook"
)

// PriceReckoned is Price without its lines, VAT rows and warnings, and without
// the costs of single lines: what a specification that was only reckoned comes
// to. Errors as of Price.
func PriceReckoned(x *bom.Reckoned, book *pricebook.Compiled, terms Terms) (Priced, error) {
	if err := terms.Validate(book).Err(); err != nil {
		return Priced{}, err
	}
	w := newWork(&x.Sheet, &x.Specification, book, &terms)
	defer w.end()
	if err := w.findAdditions().Err(); err != nil {
		return Priced{}, err
	}
	w.findPrices()
	w.out.Inside = &Inside{}
	split := splitter{work: w}
	places := x.Places()
	for i := range x.Tally.Places {
		n := &x.Tally.Places[i]
		p := &places[n.Place]
		r := w.rate(p.Kind, p.Code, p.Finish, p.Name)
		if r.gap.Code != "" {
			w.missing = true
			w.gap(r.gap)
		}
		split.tallied(n, &r)
	}
	w.writeLines()
	w.discount()
	w.promise()
	w.sumRows()
	w.schedule()
	w.finish()
	if w.tooLarge {
		return Priced{}, tooLarge()
	}
	return w.out, nil
}
