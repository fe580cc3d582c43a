package quote

import (
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/money"
)

// Effect is what another release of the catalogue makes of what one quote asks
// for, with everything else the same.
type Effect struct {
	// Same: it resolves to the same features, numbers and finishes, the build
	// sheets ask for the same, and it costs the same.
	Same bool
	// Gained and Lost are features, van by van; a counted one of which there
	// are more, or fewer, is among them.
	Gained, Lost []Moved
	// OtherSheet: the build sheet of a van asks for other things, or has checks
	// that stand otherwise.
	OtherSheet bool
	Was, Is    EffectSums
	// Sentences tell it, as of two revisions; none where it is the same.
	Sentences []Sentence
}

// Moved is a feature that a van gains or loses.
type Moved struct {
	Van  int // from 1
	Code string
	Name string
	// Was and Is are how many there were and are.
	Was, Is int
}

// EffectSums are what a quote comes to, all its vans together.
type EffectSums struct {
	Gross money.Amount
	Hours decimal.Decimal
	// MassKG is what the work adds, less what it takes off.
	MassKG decimal.Decimal
	// Ready: nothing stands in the way of issuing.
	Ready bool
}

// EffectOf tells two documents of one quote apart that were worked out from the
// same question with two releases. The catalogue is the later one's. What is
// frozen beside them (days, paper, terms) is not looked at.
func EffectOf(was, is *Document, c *catalogue.Catalogue) Effect {
	e := Effect{Was: was.effectSums(), Is: is.effectSums()}
	for i := range min(len(was.Vans), len(is.Vans)) {
		a, b := &was.Vans[i], &is.Vans[i]
		e.features(i+1, &a.Specification, &b.Specification)
		e.OtherSheet = e.OtherSheet || otherSheet(&a.Sheet, &b.Sheet)
	}
	t := &comparing{a: was, b: is, catalogue: c, sameBasis: true}
	t.vans()
	t.van = 0
	t.discount()
	e.Same = len(t.out.Sentences) == 0 && len(e.Gained)+len(e.Lost) == 0 && !e.OtherSheet && e.Was.same(&e.Is)
	if !e.Same {
		t.whole()
		e.Sentences = t.out.Sentences
	}
	return e
}

func (e *Effect) features(van int, was, is *bom.Specification) {
	for _, f := range is.Features {
		before := 0
		if k := slices.IndexFunc(was.Features, func(o bom.SpecifiedFeature) bool { return o.Code == f.Code }); k >= 0 {
			before = was.Features[k].Count
		}
		if f.Count > before {
			e.Gained = append(e.Gained, Moved{van, f.Code, f.Name, before, f.Count})
		}
	}
	for _, f := range was.Features {
		after := 0
		if k := slices.IndexFunc(is.Features, func(o bom.SpecifiedFeature) bool { return o.Code == f.Code }); k >= 0 {
			after = is.Features[k].Count
		}
		if f.Count > after {
			e.Lost = append(e.Lost, Moved{van, f.Code, f.Name, f.Count, after})
		}
	}
}

// otherSheet says whether two sheets ask for other things, or have checks that
// stand otherwise. What things are called does not matter.
func otherSheet(was, is *bom.Sheet) bool {
	return !slices.EqualFunc(was.Lines, is.Lines, func(a, b bom.Line) bool {
		return a.Stage == b.Stage && a.Kind == b.Kind && a.Code == b.Code && a.Finish == b.Finish && a.Unit == b.Unit && a.Quantity.Equal(b.Quantity)
	}) || !slices.EqualFunc(was.Checks, is.Checks, func(a, b bom.CheckResult) bool {
		return a.Code == b.Code && a.Grade == b.Grade && a.Met == b.Met
	})
}

func (d *Document) effectSums() EffectSums {
	s := EffectSums{Gross: d.Totals.Gross, Ready: true}
	for i := range d.Vans {
		v := &d.Vans[i]
		s.Hours = s.Hours.Add(v.Sheet.Hours)
		s.MassKG = s.MassKG.Add(v.Sheet.Mass.AddedKG).Sub(v.Sheet.Mass.RemovedKG)
		s.Ready = s.Ready && len(v.NotReady) == 0
	}
	return s
}

func (s *EffectSums) same(o *EffectSums) bool {
	return s.Gross == o.Gross && s.Hours.Equal(o.Hours) && s.MassKG.Equal(o.MassKG) && s.Ready == o.Ready
}

// Under is a document as it would be with what another working-out of the same
// question came to.
func (d *Document) Under(w *Worked) *Document {
	is := *d
	is.Release = Release{Number: w.Offer.Number, Hash: w.Offer.Release.Hash(), Title: w.Offer.Release.Catalogue().Title}
	is.Edition = Edition{Code: w.Offer.Book.Edition().Code, Hash: w.Offer.Book.Hash()}
	is.Asked, is.Totals, is.Payments = w.Asked, w.Totals, w.Payments
	is.Vans = make([]Van, len(w.Vans))
	for i := range w.Vans {
		is.Vans[i] = w.Vans[i].Van
	}
	return &is
}
