// Package pricing is what a van costs: a build sheet and a price-book edition
// become lines in the customer's words, VAT by treatment, a total that is the
// sum of what is printed, a payment schedule that adds up to it, and, for the
// workshop's eyes, cost and margin of every line. No I/O, no clock.
//
// Everything is worked in whole minor units; what is rounded is rounded half
// up (ties away from zero), once, where docs/money.md says.
package pricing

import (
	"math"
	"sync"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Price prices a build sheet of a specification.
//
// The error, document.Faults about the terms or the size of an amount, means
// that the inputs are broken. What a customer's choices or a price-book can
// cause is in the result: gaps, and the refusal of a discount.
func Price(sheet bom.Sheet, spec bom.Specification, book *pricebook.Compiled, terms Terms) (Priced, error) {
	return PriceHeld(sheet, spec, book, terms, nil)
}

// PriceHeld is Price where an earlier revision's prices still hold: a line it
// had (of the same kind and code) keeps its unit price for as many as it had;
// more are a line of their own at today's. Costs inside and rates of VAT are
// today's in any case. A nil held holds nothing.
func PriceHeld(sheet bom.Sheet, spec bom.Specification, book *pricebook.Compiled, terms Terms, held *Held) (Priced, error) {
	if err := terms.Validate(book).Err(); err != nil {
		return Priced{}, err
	}
	w := newWork(&sheet, &spec, book, &terms)
	defer w.end()
	if err := w.findAdditions().Err(); err != nil {
		return Priced{}, err
	}
	w.hold(held)
	w.findPrices()
	w.costSheet()
	w.writeLines()
	w.spreadOverhead()
	w.discount()
	w.promise()
	w.sumVAT()
	w.schedule()
	w.finish()
	if w.tooLarge {
		return Priced{}, tooLarge()
	}
	return w.out, nil
}

func tooLarge() document.Faults {
	return document.Faults{{Code: "too_large", At: "totals",
		Reason: "An amount of this price is too large to be money.",
		Remedy: "Look for a quantity, a cost or a price with digits too many."}}
}

// writeLines writes all lines but those that take something off.
func (w *work) writeLines() {
	w.writePackage()
	w.writeFeatures()
	w.writeFinishes()
	w.writeRemovals()
	w.writeAdditions()
}

// work is one Price in progress. Amounts are minor units in int64 throughout;
// add keeps them within bounds.
type work struct {
	sheet    *bom.Sheet
	spec     *bom.Specification
	book     *pricebook.Compiled
	terms    *Terms
	currency money.Currency
	nothing  money.Amount
	limit    int64 // no amount in minor units reaches it
	tooLarge bool

	rates      [len(treatmentOrder)]rate
	supplyOnly bool
	// By place in the catalogue.
	asks    []ask
	removed []ask
	known   []*bom.SpecifiedFeature
	prices  []*pricebook.FeaturePrice

	additions []addition

	listing *pricebook.Listing // of the terms' price list
	held    *Held              // nil where nothing holds
	lots    []lot
	// packHeld is the package as its own edition has it, from the prices it
	// was offered at; nil where that is today's.
	packHeld *pricebook.Package
	packFrom *pricebook.Listing

	pack *pricebook.Package
	// swapped counts how many of a feature stand on swap lines.
	swaps []swap

	lines    []line
	overhead int64 // asked for by nothing in the lines
	cost     int64
	missing  bool // a cost is not known

	rows [len(treatmentOrder)]row
	out  Priced
}

// ask is what one feature asks the workshop to spend, and what that comes to
// at the charged rates, both without VAT.
type ask struct{ cost, charge int64 }

// line is a Line before its VAT is known.
type line struct {
	kind      LineKind
	code      string
	insteadOf string
	words     string
	quantity  int64
	unit      int64 // hundredths of a minor unit
	amount    int64
	treatment int // place in treatmentOrder
	cost      int64
	overhead  int64
	unpriced  bool
	edition   string // held from, "" for none
	today     int64  // the unit price it would be at, where it differs
	differs   bool
}

// fine is how many parts of a minor unit a unit price is kept to: two decimals
// more than the currency's.
const fine = 100

// add adds within the bounds of money; past them the whole price is refused.
func (w *work) add(a, b int64) int64 {
	sum := a + b
	if sum >= w.limit || sum <= -w.limit {
		w.tooLarge = true
		return 0
	}
	return sum
}

// part is minor × num/den rounded half up.
func (w *work) part(minor, num, den int64) int64 {
	p, err := money.PartMinor(minor, num, den, money.HalfUp)
	if err != nil {
		w.tooLarge = true
		return 0
	}
	return w.add(p, 0)
}

func (w *work) amount(minor int64) money.Amount {
	a, err := w.nothing.WithMinor(minor)
	if err != nil {
		w.tooLarge = true
		return w.nothing
	}
	return a
}

func newWork(sheet *bom.Sheet, spec *bom.Specification, book *pricebook.Compiled, terms *Terms) *work {
	features := len(book.Catalogue().Features)
	digits, _ := book.Currency().MinorDigits()
	w, ok := spare.Get().(*work)
	if !ok {
		w = &work{}
	}
	*w = work{
		sheet: sheet, spec: spec, book: book, terms: terms,
		currency: book.Currency(), nothing: money.Zero(book.Currency()), limit: money.Largest,
		asks: sized(w.asks, features), removed: sized(w.removed, features),
		known: sized(w.known, features), prices: sized(w.prices, features), lines: w.lines[:0],
	}
	w.listing, _ = book.Listing(terms.PriceList) // Terms.Validate knows it
	for range digits {
		w.limit *= 10
	}
	w.findRates()
	w.specified(spec)
	return w
}

// specified begins with a specification: which features it has.
func (w *work) specified(spec *bom.Specification) {
	w.spec = spec
	w.out = Priced{
		Format: PricedFormat, Edition: w.book.Edition().Code, Currency: w.currency,
		Basis: w.terms.Basis, Day: w.terms.Day, PriceList: w.terms.PriceList, SettledSoFar: !spec.Settled || !spec.Allowed,
	}
	w.supplyOnly = spec.Van.None
	for i := range spec.Features {
		s := &spec.Features[i]
		f, ok := w.book.Feature(s.Code)
		if !ok {
			w.gap(Gap{Code: NoPrice, At: s.Code, Says: "“" + s.Name + "” is not in the catalogue this price-book is for.",
				Remedy: "Price it with the price-book of its own release."})
			continue
		}
		w.known[f.Index] = s
		w.supplyOnly = w.supplyOnly || f.Feature.SupplyOnly
	}
}

// spare are works not in use; what they hold by feature and by line is used
// again.
var spare sync.Pool

func (w *work) end() {
	clear(w.known)
	clear(w.prices)
	*w = work{asks: w.asks, removed: w.removed, known: w.known, prices: w.prices, lines: w.lines}
	spare.Put(w)
}

// sized is a list of n empty members, in the memory of another where it fits.
func sized[T any](list []T, n int) []T {
	if cap(list) < n {
		return make([]T, n)
	}
	list = list[:n]
	clear(list)
	return list
}

// times2 is num/den × a/b in small terms.
func (w *work) times2(num, den, a, b int64) (int64, int64) {
	shrink := func(x, y *int64) {
		g, r := *x, *y
		for r != 0 {
			g, r = r, g%r
		}
		if g > 1 {
			*x, *y = *x/g, *y/g
		}
	}
	shrink(&a, &b)
	shrink(&a, &den)
	shrink(&num, &b)
	if num != 0 && a > math.MaxInt64/num || den > math.MaxInt64/b {
		w.tooLarge = true
		return 0, 1
	}
	return num * a, den * b
}

// gap records something missing, once.
func (w *work) gap(g Gap) {
	for i := range w.out.Gaps {
		if w.out.Gaps[i].Code == g.Code && w.out.Gaps[i].At == g.At {
			return
		}
	}
	w.out.Gaps = append(w.out.Gaps, g)
}
