package bom

import (
	"errors"
	"fmt"
	"sync"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// Places kept on a sheet. Parts are rounded up to their own decimals.
const (
	hoursPlaces  = 2 // of hours lines, half up: about half a minute
	massPlaces   = 3 // of masses, half up: a gram
	figurePlaces = 6 // of figures and checks as shown; they are compared unrounded
)

// Expand works out the build sheet of a specification: figures in order, the
// lines of every feature that is fitted, of every one that is taken out and of
// every stage where anything is done, kits taken apart to any depth.
//
// For parts, issued = needed / (1 − scrap), and Quantity is what all reasons
// ask for together, rounded up once, after merging. Mass counts what is
// needed: scrap does not stay in the van. Hours are rounded half up to 0.01.
// Quantities are worked to twelve decimal places.
//
// A formula that gives no usable number, and a specification that names what
// the release does not have, are in Sheet.Broken; the rest is worked out all
// the same. Expand may be called by several goroutines at once.
func Expand(r *Release, s Specification) Sheet { return ExpandIn(nil, r, s) }

// Room is memory that sheets are made in, one after another. What was made in
// it is good until Clear. The zero Room is good; it is one goroutine's.
type Room struct {
	lines   []Line
	because []Because
}

// keptLines and keptReasons are how much of its memory a cleared room keeps:
// enough for a few sheets, not for a hire fleet's.
const keptLines, keptReasons = 4_000, 8_000

// Clear gives the memory of all sheets made in the room to the next ones. Those
// sheets are emptied, so that whoever still looks at one sees that.
func (m *Room) Clear() {
	clear(m.lines)
	clear(m.because)
	m.lines, m.because = m.lines[:0], m.because[:0]
	if cap(m.lines) > keptLines || cap(m.because) > keptReasons {
		*m = Room{}
	}
}

// ExpandIn is Expand in a room's memory: a sheet has some hundred kilobytes of
// lines and reasons, most of which nobody looks at after the answer is sent. A
// nil room is new memory.
func ExpandIn(room *Room, r *Release, s Specification) Sheet {
	if room == nil {
		room = &Room{}
	}
	e := r.sheet.begin(r, &s)
	e.room = room
	defer e.end()
	sheet := Sheet{Format: SheetFormat, BaseVan: s.Van.BaseVan}
	if e.count(); e.van < 0 {
		sheet.Broken = e.broken
		return sheet
	}
	sheet.Figures = e.figureValues()
	e.write(&sheet)
	e.writeAdditions(&sheet)
	m := e.weigh(axles{e.addedKG, e.rearKG})
	sheet.Mass = e.ledger(&m)
	sheet.Checks = e.checks(&m)
	if !e.supplyOnly {
		sheet.Evidence, sheet.ClassFeatures = e.evidence(), e.classFeatures()
	}
	sheet.Cautions = r.notes(e.cautions, e.cautionOf, s.Additions)
	sheet.LeavesOut = e.leavesOut()
	sheet.Broken = e.broken
	return sheet
}

// count works out what every cell comes to, and by what.
func (e *expansion) count() {
	if e.van < 0 {
		e.breaks("specification/van/base_van", fmt.Sprintf("The release has no base van %s.", quoted(e.spec.Van.BaseVan)))
		return
	}
	e.setVan()
	e.setFeatures()
	e.setFinishes()
	e.figures()
	e.features()
	e.source = sourceOfAdditions
	e.additions()
	if !e.supplyOnly {
		e.stages()
		e.consumables()
	}
	e.ownParts()
}

// expansion is the working state of one Expand. Its memory is used again.
type expansion struct {
	r          *Release
	p          *program
	spec       *Specification
	van        int // -1 where the release has none of that name
	supplyOnly bool
	values     *formula.Values
	room       *Room

	feature []int // by entry of spec.Features, -1 for unknown
	removed []int // by entry of spec.Removed
	pick    []int // by finish: 0 open, else 1 + the choice

	totals    []total   // by cell
	given     []given   // in the order they were worked out
	source    int32     // of what is worked out now
	figured   []figured // by figure of the catalogue
	worked    []bool    // by stage: something is done there
	amounts   []share   // of the asks of one want
	cautions  cautions
	cautionOf []cautions // by feature
	addedKG   amount     // by lines of the catalogue
	rearKG    amount     // of which rests on the rear axle
	hours     amount
	broken    []BrokenFormula

	// Room for a tally.
	at      cellIndex
	tallied []Tallied
	shares  []Asked

	// Of a van that was weighed, with nobody aboard and the tank at 90 %, in kg.
	emptyFront, emptyRear decimal.Decimal

	loads              []loaded // by load
	addedAt, removedAt []amount // by position; room for a ledger

	// Of the additions, by place in the specification; empty where there are
	// none.
	stageOf []int    // in the order of work, -1 for unknown
	fewer   []amount // of the part a customer's own stands in for
}

// total is what a cell has come to so far.
type total struct {
	issued amount // for standing time, the longest
	needed amount // without scrap
	rear   amount // of what is needed, so much rests on the rear axle
	given  int32  // how many reasons
	at     int32  // where the next of them is written
}

// share is how much one ask comes to.
type share struct{ issued, needed amount }

// of gives what a component comes to: so many for each, and scrap on top.
func (s share) of(each, scrap amount) (share, bool) {
	var ok, ok2 bool
	if s.issued, ok = s.issued.times(each); ok && scrap != 0 {
		s.issued, ok = s.issued.withScrap(scrap)
	}
	s.needed, ok2 = s.needed.times(each)
	return s, ok && ok2
}

// Sources of reasons, in the order they are worked out in: a feature's lines by
// the feature, then these.
const (
	sourceOfRemovals  = 1 << 20 // and the place in spec.Removed
	sourceOfAdditions = 2 << 20
	sourceOfStages    = 3 << 20 // and the place in the order of work
	sourceOfRates     = 4 << 20
)

// figured is what a figure came to.
type figured struct {
	value formula.Exact
	ok    bool
}

// given is one reason.
type given struct {
	source  int32
	cell    int32
	feature int32 // -1 for none
	// addition is its place in the specification, from 1; 0 for none. Its
	// issued is below nothing where the customer's own stands in.
	addition int32
	removal  bool
	position int32 // where it sits
	issued   amount
	needed   amount // without scrap
	rear     amount // so much of it rests on the rear axle
	ask      *ask   // with the words, and the number where it was known beforehand
	known    bool
	rate     *rate // instead of ask, for consumables
}

// spare are expansions not in use, of all releases: what they hold is sized
// by the release that takes one.
var spare sync.Pool

func (p *program) begin(r *Release, s *Specification) *expansion {
	e, ok := spare.Get().(*expansion)
	if !ok || e.r != r {
		e = &expansion{r: r, p: p, values: r.scope.NewValues(), totals: make([]total, len(p.cells)),
			worked: make([]bool, len(r.stages)), cautionOf: make([]cautions, len(r.catalogue.Features)),
			pick: make([]int, len(r.catalogue.Finishes)), figured: make([]figured, len(r.catalogue.Figures))}
	}
	e.again(s)
	return e
}

// again makes it ready for a specification.
func (e *expansion) again(s *Specification) {
	e.values.Reset()
	clear(e.totals)
	clear(e.worked)
	clear(e.cautionOf)
	clear(e.pick)
	e.spec, e.van, e.supplyOnly = s, -1, false
	e.feature, e.removed, e.given, e.broken = e.feature[:0], e.removed[:0], e.given[:0], nil
	e.cautions, e.addedKG, e.rearKG, e.hours = 0, 0, 0, 0
	e.stageOf, e.fewer = e.stageOf[:0], e.fewer[:0]
	if v, ok := e.r.baseVans[s.Van.BaseVan]; ok {
		e.van = v
	}
}

func (e *expansion) end() {
	e.spec, e.room = nil, nil
	spare.Put(e)
}

// breaks records what could not be worked out, each place once.
func (e *expansion) breaks(at, reason string) {
	for i := range e.broken {
		if e.broken[i].At == at {
			return
		}
	}
	e.broken = append(e.broken, BrokenFormula{At: at, Reason: reason})
}

func (e *expansion) breaksBy(at string, err error) {
	if bad, ok := errors.AsType[*formula.Error](err); ok {
		e.breaks(at, bad.Reason)
		return
	}
	e.breaks(at, err.Error())
}

const tooLarge = "The quantity is too large: a million is the most."

// setVan gives formulas the facts of the base van, the masses on the
// weighbridge ticket and the particulars of this van.
func (e *expansion) setVan() {
	v, base, values := &e.p.vans[e.van], &e.r.catalogue.BaseVans[e.van], e.values
	for i := range v.facts {
		f := &v.facts[i]
		switch f.kind {
		case catalogue.NumberFact:
			if err := values.SetNumber(f.slot, f.number); err != nil {
				e.breaks("base_vans/"+base.Code+"/facts/"+base.Facts[i].Name, "The number is too large.")
			}
		case catalogue.TextFact:
			values.SetText(f.slot, f.text)
		case catalogue.YesNoFact:
			values.SetTruth(f.slot, f.yes)
		}
	}
	var front, rear *decimal.Decimal
	if e.spec.Van.weighed() {
		if err := e.empty(); err != nil {
			e.breaks("specification/van/weighed_front_kg", err.Error())
		}
		front, rear = &e.emptyFront, &e.emptyRear
	}
	for _, axle := range []struct {
		slot   formula.Slot
		weight *decimal.Decimal
		at     string
	}{
		{v.front, front, "weighed_front"}, {v.rear, rear, "weighed_rear"},
		{v.plated, e.spec.Van.PlatedKG, "plated"}, {v.platedFront, e.spec.Van.PlatedFrontKG, "plated_front"},
		{v.platedRear, e.spec.Van.PlatedRearKG, "plated_rear"},
	} {
		if axle.weight == nil {
			continue
		}
		if err := values.SetNumber(axle.slot, *axle.weight); err != nil {
			e.breaks("specification/van/"+axle.at+"_kg", "The number is too large.")
		}
	}
	values.SetTruth(e.p.names.newVan, e.spec.Van.New)
	for i := range base.Particulars {
		p := &base.Particulars[i]
		value := p.Values[0]
		for _, said := range e.spec.Van.Particulars {
			if said.Name == p.Name {
				value = said.Value
			}
		}
		values.SetText(v.particulars[i], value)
	}
}

// setFeatures finds the features of the specification and gives formulas
// their numbers.
func (e *expansion) setFeatures() {
	n := &e.p.names
	for i := range e.spec.Features {
		f := &e.spec.Features[i]
		k, ok := e.r.features[f.Code]
		if !ok || f.Count < 0 || f.Fit < 0 || f.Fit > f.Count {
			e.breaks("specification/features/"+f.Code, "The release has no such feature, or not so many of it.")
			e.feature = append(e.feature, -1)
			continue
		}
		e.feature = append(e.feature, k)
		e.values.SetCount(n.fit[k], f.Fit)
		if n.counted[k] {
			e.values.SetCount(n.feature[k], f.Count)
		} else {
			e.values.SetTruth(n.feature[k], f.Count > 0)
		}
		if f.Count > 0 && e.r.catalogue.Features[k].SupplyOnly {
			e.supplyOnly = true
		}
	}
	for i := range e.spec.Removed {
		f := &e.spec.Removed[i]
		k, ok := e.r.features[f.Code]
		if !ok || f.Count < 0 || e.r.catalogue.Features[k].Removal == nil {
			e.breaks("specification/removed/"+f.Code, "The release has no such feature, or does not say what taking it out takes.")
			k = -1
		}
		e.removed = append(e.removed, k)
	}
}

func (e *expansion) setFinishes() {
	for i := range e.spec.Finishes {
		f := &e.spec.Finishes[i]
		k, ok := e.r.finishes[f.Finish]
		if !ok {
			e.breaks("specification/finishes/"+f.Finish, "The release has no such finish.")
			continue
		}
		if f.Choice == "" {
			continue
		}
		choices := e.r.catalogue.Finishes[k].Choices
		c := find(choices, func(c catalogue.FinishChoice) bool { return c.Code == f.Choice })
		if c < 0 {
			e.breaks("specification/finishes/"+f.Finish, fmt.Sprintf("The release has no choice %s.", quoted(f.Choice)))
			continue
		}
		e.pick[k] = 1 + c
		e.values.SetText(e.p.names.finish[k], f.Choice)
	}
}

func (e *expansion) figures() {
	for i := range e.p.figures {
		e.figure(&e.p.figures[i])
	}
}

// figure works one figure out and gives it to formulas.
func (e *expansion) figure(f *figure) {
	slot := e.p.names.figure[f.index]
	value, err := f.formula.Exact(e.values)
	if err != nil {
		e.values.Clear(slot)
		e.breaksBy(f.at, err)
	} else {
		e.values.SetExact(slot, value)
	}
	e.figured[f.index] = figured{value, err == nil}
}

// figureValues are the figures as shown, in the order of the catalogue and not
// as they were worked out.
func (e *expansion) figureValues() []FigureValue {
	list := make([]FigureValue, len(e.figured))
	for i := range e.p.figures {
		f := &e.p.figures[i]
		n := &e.r.catalogue.Figures[f.index]
		list[f.index] = FigureValue{Code: n.Code, Name: n.Name, Value: shownFigure(e.figured[f.index].value.Decimal()), Unit: f.unit}
	}
	kept := list[:0]
	for i, f := range e.figured {
		if f.ok {
			kept = append(kept, list[i])
		}
	}
	return kept
}

// shownFigure cuts a figure to what people read. Most need no cutting.
func shownFigure(d decimal.Decimal) decimal.Decimal {
	if d.Exponent() >= -figurePlaces {
		return d
	}
	return d.Round(figurePlaces)
}

// features works out the lines of what is fitted and what is taken out.
func (e *expansion) features() {
	for i, k := range e.feature {
		if n := e.spec.Features[i].Fit; k >= 0 && n > 0 {
			e.caution(k)
			e.source = int32(k)
			e.wants(e.p.fit[k], k, false, n)
		}
	}
	for i, k := range e.removed {
		if n := e.spec.Removed[i].Count; k >= 0 && n > 0 {
			e.caution(k)
			e.source = int32(sourceOfRemovals + i)
			e.wants(e.p.removal[k], k, true, n)
		}
	}
}

func (e *expansion) caution(feature int) {
	if list := e.r.catalogue.Features[feature].Caution; len(list) > 0 {
		set := cautionsOf(list)
		e.cautions |= set
		e.cautionOf[feature] |= set
	}
}

func (e *expansion) stages() {
	for at, list := range e.p.stage {
		if e.worked[at] {
			e.source = int32(sourceOfStages + at)
			e.wants(list, -1, false, 1)
		}
	}
}

// wants works out lines, for n of their feature.
func (e *expansion) wants(list []want, feature int, removal bool, n int) {
	for i := range list {
		w := &list[i]
		if e.supplyOnly && w.asks[0].work {
			continue
		}
		if w.when != nil {
			there, err := w.when.Truth(e.values)
			if err != nil {
				e.breaksBy(w.at+"/when", err)
			}
			if !there {
				continue
			}
		}
		q, ok := e.quantity(&w.quantity)
		if !ok || q == 0 {
			continue
		}
		if n != 1 && !w.once && !w.standing {
			if q, ok = q.count(n); !ok {
				e.breaks(w.at, tooLarge)
				continue
			}
		}
		e.asks(w, q, int32(feature), removal)
	}
}

// quantity works out a quantity; false when it cannot be, which is recorded.
func (e *expansion) quantity(q *quantity) (amount, bool) {
	if q.formula == nil {
		return q.fixed, true
	}
	x, err := q.formula.Exact(e.values)
	if err != nil {
		e.breaksBy(q.at, err)
		return 0, false
	}
	if x.Compare(formula.Exact{}) < 0 {
		e.breaks(q.at, fmt.Sprintf("The quantity comes to %s, and there is no less than none.", shownFigure(x.Decimal())))
		return 0, false
	}
	a, ok := amountOfExact(x)
	if !ok {
		e.breaks(q.at, tooLarge)
	}
	return a, ok
}

// asks takes a line apart: q of what it names, and of every component what
// the ask above it comes to, times how many each of that takes.
func (e *expansion) asks(w *want, q amount, feature int32, removal bool) {
	if cap(e.amounts) < len(w.asks) {
		e.amounts = make([]share, len(w.asks))
	}
	shares := e.amounts[:len(w.asks)]
	for i := range w.asks {
		a := &w.asks[i]
		shares[i] = share{}
		above := share{q, q}
		if a.of >= 0 {
			above = shares[a.of]
		}
		if above.issued == 0 || e.supplyOnly && a.work {
			continue
		}
		known := a.known != nil && w.quantity.formula == nil && q == w.quantity.fixed
		cell := a.cell
		if known {
			shares[i] = a.known.share
		} else {
			each, ok := e.quantity(&a.each)
			if !ok {
				continue
			}
			scrap := a.scrap
			if a.finish >= 0 {
				p := &a.byPick[e.pick[a.finish]]
				cell, scrap = p.cell, p.scrap
			}
			if shares[i], ok = above.of(each, scrap); !ok {
				shares[i] = share{}
				e.breaks(w.at, tooLarge)
			}
		}
		if shares[i].issued > 0 {
			e.give(given{cell: cell, feature: feature, removal: removal, position: w.position, issued: shares[i].issued, ask: a, known: known}, shares[i].needed)
		}
	}
}

// give adds one reason to its cell.
func (e *expansion) give(g given, needed amount) {
	t := &e.totals[g.cell]
	c := &e.p.cells[g.cell]
	if c.kind == standingKind {
		t.issued = max(t.issued, g.issued)
	} else {
		var ok, ok2 bool
		t.issued, ok = t.issued.plus(g.issued)
		t.needed, ok2 = t.needed.plus(needed)
		if !ok || !ok2 {
			e.breaks(c.at(), tooLarge)
		}
	}
	g.rear = e.rearOf(g.cell, needed, g.position)
	t.rear += g.rear
	t.given++
	e.worked[c.stage] = true
	g.source, g.needed = e.source, needed
	e.given = append(e.given, g)
	if c.cautions != 0 {
		e.cautions |= c.cautions
		if g.feature >= 0 {
			e.cautionOf[g.feature] |= c.cautions
		}
	}
}

// rearOf is how much of what is needed of a cell's thing rests on the rear axle,
// where it sits at a position; nothing of what weighs nothing.
func (e *expansion) rearOf(cell int32, needed amount, place int32) amount {
	if e.p.cells[cell].mass == 0 {
		return 0
	}
	rear, ok := needed.times(e.p.vans[e.van].positions[place].rear)
	if !ok {
		e.breaks(e.p.cells[cell].at()+"/mass_kg", "The mass is too large for the place where it sits.")
	}
	return rear
}

// consumables adds what goes by the hours worked.
func (e *expansion) consumables() {
	e.source = sourceOfRates
	for _, list := range e.p.rates {
		for i := range list {
			rate := &list[i]
			issued, needed := e.consumed(rate, e.totals[rate.hours].issued)
			if issued > 0 {
				e.give(given{cell: rate.cell, feature: -1, issued: issued, rate: rate}, needed)
			}
		}
	}
}

// consumed is what of a consumable goes by so many hours.
func (e *expansion) consumed(rate *rate, hours amount) (issued, needed amount) {
	if hours == 0 {
		return 0, 0
	}
	needed, ok := hours.times(rate.perHour)
	issued = needed
	if ok {
		issued, ok = needed.withScrap(rate.scrap)
	}
	if !ok {
		e.breaks(e.p.cells[rate.cell].at(), tooLarge)
		return 0, 0
	}
	return issued, needed
}
