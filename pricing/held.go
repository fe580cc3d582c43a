package pricing

import (
	"math/big"

	"wainscot/bom"
	"wainscot/pricing/money"
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

// lot is so many of one thing at the unit price they were offered at.
type lot struct {
	kind      LineKind
	code      string
	insteadOf string
	unit      int64 // hundredths of a minor unit
	left      int64
	edition   string
	treatment int
	num, den  int64 // of the VAT in it, as a fraction of the net
	silent    bool  // it stood on no line, because it came to nothing
}

// hold lays out what an earlier revision's prices hold for.
func (w *work) hold(held *Held) {
	if held == nil || held.Priced == nil || held.Specification == nil {
		return
	}
	p := held.Priced
	h := &Holding{Edition: p.Edition}
	w.out.Holding = h
	if h.Not, h.Says = w.notHeld(held); h.Not != "" {
		return
	}
	w.held = held
	samePackage := held.Specification.Package == w.spec.Package
	for i := range p.Lines {
		l := &p.Lines[i]
		switch l.Kind {
		case PackageLine, LeftOutLine, SwapLine, FinishLine:
			if samePackage { // a finish is charged by what the package has
				w.addLot(l)
			}
		case FeatureLine, IncludedLine, RemovalLine:
			w.addLot(l)
		}
	}
	w.addSilent(held)
	if samePackage && w.spec.Package != "" {
		w.heldPackage()
	}
}

func (w *work) notHeld(held *Held) (NotHeldCode, string) {
	p, s := held.Priced, held.Specification
	switch {
	case p.Currency != w.currency:
		return OtherCurrency, "Nothing keeps its price: it was offered in another currency."
	case p.Basis != w.terms.Basis:
		return OtherBasis, "Nothing keeps its price: one was offered with VAT, the other without."
	case p.PriceList != w.terms.PriceList:
		return OtherPriceList, "Nothing keeps its price: it was offered at another price list."
	case s.Van.BaseVan != w.spec.Van.BaseVan:
		return OtherVan, "Nothing keeps its price: it was offered for another kind of van."
	case w.supplies(s) != w.supplyOnly:
		return OtherFitting, "Nothing keeps its price: one was offered fitted, the other only supplied."
	}
	return "", ""
}

// supplies says whether a specification is of parts that nobody fits.
func (w *work) supplies(s *bom.Specification) bool {
	if s.Van.None {
		return true
	}
	for i := range s.Features {
		if f, ok := w.book.Feature(s.Features[i].Code); ok && f.Feature.SupplyOnly {
			return true
		}
	}
	return false
}

func (w *work) addLot(l *Line) {
	unit, ok := l.UnitPrice.InFine()
	num, den, err := money.PercentFraction(l.Percent)
	if l.Unpriced || !ok || err != nil || l.Quantity <= 0 {
		return
	}
	edition := l.Edition
	if edition == "" {
		edition = w.held.Priced.Edition
	}
	w.lots = append(w.lots, lot{kind: l.Kind, code: l.Code, insteadOf: l.InsteadOf, unit: unit, left: int64(l.Quantity),
		edition: edition, treatment: treatmentAt(l.Treatment), num: num, den: den})
}

// addSilent adds what was fitted and stood on no line: a kind of work that
// asked for nothing. It goes on costing nothing.
func (w *work) addSilent(held *Held) {
	for i := range held.Specification.Features {
		s := &held.Specification.Features[i]
		left := int64(s.Fit)
		for j := range held.Priced.Lines {
			if l := &held.Priced.Lines[j]; l.Code == s.Code {
				switch l.Kind {
				case FeatureLine, IncludedLine, InPackageLine, SwapLine:
					left -= int64(l.Quantity)
				}
			}
		}
		if left > 0 {
			w.lots = append(w.lots, lot{kind: FeatureLine, code: s.Code, left: left, edition: held.Priced.Edition, den: 1, silent: true})
		}
	}
}

// heldPackage finds the package as its own edition has it: what it leaves out
// is taken off at that edition's allowances, which are part of its price.
func (w *work) heldPackage() {
	for i := range w.lots {
		if w.lots[i].kind != PackageLine {
			continue
		}
		if listing := w.listingOf(w.lots[i].edition); listing != nil {
			if pack, ok := listing.Package(w.spec.Package, w.spec.Van.BaseVan); ok {
				w.packHeld, w.packFrom = pack, listing
			}
		}
	}
}

// listingOf is the prices of an edition at the terms' price list; nil where
// nobody handed it in.
func (w *work) listingOf(edition string) *pricebook.Listing {
	for _, k := range w.held.Editions {
		if k.Edition().Code == edition {
			if listing, ok := k.Listing(w.terms.PriceList); ok {
				return listing
			}
		}
	}
	return nil
}

// same says whether a lot is of a line: what is included now and was charged
// then, or the other way, is one thing.
func (l *lot) same(kind LineKind, code, insteadOf string) bool {
	charged := func(k LineKind) LineKind {
		if k == IncludedLine {
			return FeatureLine
		}
		return k
	}
	return l.code == code && l.insteadOf == insteadOf && charged(l.kind) == charged(kind)
}

// heldCount is how many of a line prices are held for.
func (w *work) heldCount(kind LineKind, code, insteadOf string) int64 {
	n := int64(0)
	for i := range w.lots {
		if w.lots[i].same(kind, code, insteadOf) {
			n += w.lots[i].left
		}
	}
	return n
}

// ownTreatment is how VAT applied by itself to what a lot is of.
func (w *work) ownTreatment(l *lot, today pricebook.Treatment) pricebook.Treatment {
	listing := w.listingOf(l.edition)
	if listing == nil {
		return today
	}
	switch l.kind {
	case PackageLine:
		if p, ok := listing.Package(l.code, w.spec.Van.BaseVan); ok {
			return p.Price.Treatment
		}
	case FeatureLine, IncludedLine:
		if f, ok := listing.Feature(l.code); ok {
			if p, ok := listing.Price(f, w.spec.Van.BaseVan, w.supplyOnly); ok {
				return p.Treatment
			}
		}
	}
	return today
}

// sale is a line to be written: so many of something at today's unit price,
// as far as no earlier one holds.
type sale struct {
	line
	// taxed is the code whose VAT treatment the terms may change, own what it
	// is without; taxed "" is settled already.
	taxed string
	own   pricebook.Treatment
	price price
	cost  costOf
	// silent: today it stands on no line.
	silent bool
}

// price is how today's unit price is come by, once the treatment is known: an
// amount of the edition, a charge built up for so many, or what is settled
// already. The zero price is none.
type price struct {
	how   priceKind
	minor int64 // hundredths of a minor unit where it is settled
	n     int64 // that a charge is for
	own   pricebook.Treatment
	whole bool // no price list's percentage comes off
}

type priceKind uint8

const (
	atNoPrice priceKind = iota
	atList
	atCharge
	atUnit // settled
)

func (w *work) today(p price, treatment int) int64 {
	switch p.how {
	case atList:
		return w.listed(p.minor, p.own, treatment, p.whole)
	case atCharge:
		return w.builtUp(p.minor, p.n, p.own, treatment, p.whole)
	case atUnit, atNoPrice:
	}
	return p.minor
}

// costOf is what all of something cost, of which so many stand on earlier
// lines. Cutting the whole at both ends makes the parts sum to it.
type costOf struct{ all, before, of int64 }

func (w *work) share(c *costOf, n int64) int64 {
	if c.of == 0 {
		return 0
	}
	from := w.part(c.all, c.before, c.of)
	c.before += n
	return w.part(c.all, c.before, c.of) - from
}

// sell writes a sale: what is held by lines of its own, then the rest. What is
// held at just today's price is no different from the rest. It says how many
// had neither a held price nor one today.
func (w *work) sell(s sale) (unpriced int64) {
	today := s.treatment
	if s.taxed != "" {
		today, _, _ = w.settle(s.taxed, s.own)
	}
	s.unit = w.today(s.price, today)
	rest := s.quantity
	for i := range w.lots {
		l := &w.lots[i]
		n := min(rest, l.left)
		if n <= 0 || !l.same(s.kind, s.code, s.insteadOf) {
			continue
		}
		l.left, rest = l.left-n, rest-n
		if !w.sellHeld(&s, l, n, today) {
			rest += n
		}
	}
	if rest == 0 || s.silent {
		return 0
	}
	if s.taxed != "" {
		today = w.treatment(s.taxed, s.own)
	}
	l := s.line
	l.treatment, l.quantity, l.cost, l.unpriced = today, rest, w.share(&s.cost, rest), s.price.how == atNoPrice
	w.write(l)
	if l.unpriced {
		return rest
	}
	return 0
}

// sellHeld writes n at a lot's price; false when that is today's.
func (w *work) sellHeld(s *sale, l *lot, n int64, today int) bool {
	final, own := s.treatment, s.own
	if s.taxed != "" {
		own = w.ownTreatment(l, s.own)
		final, _, _ = w.settle(s.taxed, own)
	}
	held := s.line
	held.unit = w.heldUnit(l, own, final)
	priced := s.price.how != atNoPrice
	if priced && l.silent == s.silent && held.unit == s.unit && final == today && l.kind == s.kind {
		return false
	}
	if held.quantity, held.cost = n, w.share(&s.cost, n); l.silent && held.cost == 0 {
		return true
	}
	if s.taxed != "" {
		final = w.treatment(s.taxed, own)
	}
	held.kind, held.treatment = l.kind, final
	held.edition = l.edition
	if priced && s.unit != held.unit {
		held.today, held.differs = s.unit, true
	}
	w.out.Holding.Lines++
	w.write(held)
	return true
}

// heldUnit is a lot's unit price. What is printed holds, whatever the rate is
// now; only where another treatment applies, the VAT that was in it is taken
// out and the new put on.
func (w *work) heldUnit(l *lot, own pricebook.Treatment, final int) int64 {
	if final == l.treatment || l.unit == 0 {
		return l.unit
	}
	num, den := int64(1), int64(1)
	inside := w.rates[treatmentAt(own)] // what a margin scheme's price has in it
	if w.terms.Basis == Gross || l.treatment == atMargin {
		from := rate{num: l.num, den: l.den}
		if l.treatment == atMargin {
			from = inside
		}
		num, den = w.times2(num, den, from.den, from.den+from.num)
	}
	if w.terms.Basis == Gross || final == atMargin {
		to := w.rates[final]
		if final == atMargin {
			to = inside
		}
		num, den = w.times2(num, den, to.den+to.num, to.den)
		num, den = w.times2(num, den, 1, fine)
		return w.part(l.unit, num, den) * fine
	}
	return w.part(l.unit, num, den)
}

// discountHeld says whether a discount is no more of the price than the
// earlier revision gave: that was allowed, and is not judged again by what
// things cost today. Less than half a minor unit either way is rounding.
func (w *work) discountHeld(asked, total int64) bool {
	if w.held == nil || asked > total || total <= 0 {
		return false
	}
	given := int64(0)
	for i := range w.held.Priced.Lines {
		if l := &w.held.Priced.Lines[i]; l.Kind == DiscountLine {
			given -= l.Amount.Minor()
		}
	}
	before := w.held.Priced.Totals.BeforeDiscount.Minor()
	if given <= 0 || before <= 0 {
		return false
	}
	times := func(a, b int64) *big.Int { return new(big.Int).Mul(big.NewInt(a), big.NewInt(b)) }
	over := times(asked, before)
	over.Sub(over, times(given, total)).Lsh(over, 1)
	return over.Cmp(new(big.Int).Add(big.NewInt(before), big.NewInt(total))) < 0
}
