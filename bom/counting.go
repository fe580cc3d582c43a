package bom

import (
	"slices"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// counting works out what specifications of one van come to that differ little
// from a first one: only what reads something that changed is worked out again.
type counting struct {
	r *Release
	p *program
	// base is the first specification, worked out; next works out another.
	base, next *expansion
	ownValues  *formula.Values // of next
	// alone: another is worked out from the beginning, as this one cannot be
	// changed in part.
	alone bool

	first              Tally
	counts, fits       []int     // by feature, of the first
	baseAt, nextAt     cellIndex // where the reasons of each cell are
	fitAt, removalAt   []span    // by feature; by place in Removed
	stageAt            []span    // in the order of work
	workedBy           []int     // by stage: reasons that are not the stage's own
	addedTo            []bool    // by stage: an addition is done there
	dirty              dirty
	minus              []total // by cell: what of the base is gone
	touched            []bool  // by cell
	touchedList        []int32
	changed            []int // features
	changedFinishes    []int
	nextCounts, nextFs []int
	picks              []int
	shares             []Asked // room for Tallied.Asked
	tally              Tally
}

// span is a run of reasons in expansion.given.
type span struct{ from, to int32 }

// dirty is what has to be worked out again.
type dirty struct {
	figures, fit, removal, stages []bool
	fits                          []int // those in fit
}

// counting works the first specification out. What it gives holds on to spec.
func (r *Release) counting(spec *Specification) *counting {
	p := &r.sheet
	c := &counting{r: r, p: p, base: p.begin(r, spec), next: p.begin(r, spec)}
	c.ownValues = c.next.values
	c.base.count()
	c.alone = c.base.van < 0 || len(c.base.broken) > 0 ||
		slices.ContainsFunc(spec.Additions, func(a Addition) bool { return a.InPlaceOf != "" })
	cells, features, stages := len(p.cells), len(r.catalogue.Features), len(r.stages)
	c.minus, c.touched = make([]total, cells), make([]bool, cells)
	c.counts, c.fits = make([]int, features), make([]int, features)
	c.nextCounts, c.nextFs = make([]int, features), make([]int, features)
	c.picks = make([]int, len(c.base.pick))
	c.dirty = dirty{figures: make([]bool, len(r.catalogue.Figures)), fit: make([]bool, features),
		removal: make([]bool, features), stages: make([]bool, stages)}
	c.baseAt.index(cells, c.base.given)
	c.fitAt, c.removalAt = make([]span, features), make([]span, len(spec.Removed))
	c.stageAt, c.workedBy, c.addedTo = make([]span, stages), make([]int, stages), make([]bool, stages)
	c.locate()
	c.first = c.base.tally()
	for i, k := range c.base.feature {
		if k >= 0 {
			c.counts[k], c.fits[k] = spec.Features[i].Count, spec.Features[i].Fit
		}
	}
	return c
}

// end gives back what the counting was done in.
func (c *counting) end() {
	c.next.values = c.ownValues
	c.base.end()
	c.next.end()
}

// locate finds where the reasons of each source are.
func (c *counting) locate() {
	for i := range c.base.given {
		g := &c.base.given[i]
		var s *span
		switch {
		case g.source < sourceOfRemovals:
			s = &c.fitAt[g.source]
		case g.source < sourceOfAdditions:
			s = &c.removalAt[g.source-sourceOfRemovals]
		case g.source >= sourceOfRates:
			continue
		case g.source >= sourceOfStages:
			s = &c.stageAt[g.source-sourceOfStages]
		}
		if stage := c.p.cells[g.cell].stage; g.source < sourceOfStages {
			c.workedBy[stage]++
		}
		if s != nil {
			if s.to == 0 {
				s.from = int32(i)
			}
			s.to = int32(i + 1)
		}
	}
	for _, stage := range c.base.stageOf {
		if stage >= 0 {
			c.addedTo[stage] = true
		}
	}
}

// change is the tally of another specification of the same van, with the same
// fittings and additions. Its places are good until the next change.
func (c *counting) change(spec *Specification) Tally {
	c.next.spec = spec
	if c.alone || !c.compare(spec) {
		return c.anew(spec)
	}
	c.next.values = c.base.values
	ok := c.again()
	if ok {
		c.next.sum(&c.tally)
	}
	c.restore()
	if !ok {
		return c.anew(spec)
	}
	return c.tally
}

// anew works a specification out from the beginning.
func (c *counting) anew(spec *Specification) Tally {
	e := c.next
	e.values = c.ownValues
	e.again(spec)
	e.count()
	t := e.tally()
	clear(e.totals) // the next change begins with none
	e.given = e.given[:0]
	// What was wanted before and is not any more.
	have := make([]bool, len(c.p.cells))
	for _, n := range t.Places {
		have[n.Place] = true
	}
	for _, n := range c.first.Places {
		if !have[n.Place] {
			t.Places = append(t.Places, Tallied{Place: n.Place})
		}
	}
	slices.SortFunc(t.Places, func(a, b Tallied) int { return a.Place - b.Place })
	return t
}

// compare finds what a specification changes; false where it changes too much.
func (c *counting) compare(spec *Specification) bool {
	clear(c.nextCounts)
	clear(c.nextFs)
	e := c.next
	e.feature = e.feature[:0]
	supplyOnly := false
	for i := range spec.Features {
		f := &spec.Features[i]
		k, ok := c.r.features[f.Code]
		if !ok || f.Count < 0 || f.Fit < 0 || f.Fit > f.Count {
			return false
		}
		e.feature = append(e.feature, k)
		c.nextCounts[k], c.nextFs[k] = f.Count, f.Fit
		supplyOnly = supplyOnly || f.Count > 0 && c.r.catalogue.Features[k].SupplyOnly
	}
	clear(c.picks)
	for i := range spec.Finishes {
		f := &spec.Finishes[i]
		k, ok := c.r.finishes[f.Finish]
		if !ok {
			return false
		}
		if f.Choice == "" {
			continue
		}
		choice := find(c.r.catalogue.Finishes[k].Choices, func(c catalogue.FinishChoice) bool { return c.Code == f.Choice })
		if choice < 0 {
			return false
		}
		c.picks[k] = 1 + choice
	}
	if supplyOnly != c.base.supplyOnly || !slices.Equal(spec.Removed, c.base.spec.Removed) || len(spec.Additions) != len(c.base.spec.Additions) {
		return false
	}
	c.changed, c.changedFinishes = c.changed[:0], c.changedFinishes[:0]
	for k := range c.counts {
		if c.counts[k] != c.nextCounts[k] || c.fits[k] != c.nextFs[k] {
			c.changed = append(c.changed, k)
		}
	}
	for k := range c.picks {
		if c.picks[k] != c.base.pick[k] {
			c.changedFinishes = append(c.changedFinishes, k)
		}
	}
	return true
}

// set gives formulas the numbers of features and the picks of finishes that
// changed: the other's, or the first's again.
func (c *counting) set(counts, fits, picks []int) {
	n, values := &c.p.names, c.base.values
	for _, k := range c.changed {
		values.SetCount(n.fit[k], fits[k])
		if n.counted[k] {
			values.SetCount(n.feature[k], counts[k])
		} else {
			values.SetTruth(n.feature[k], counts[k] > 0)
		}
	}
	for _, k := range c.changedFinishes {
		choice := ""
		if picks[k] > 0 {
			choice = c.r.catalogue.Finishes[k].Choices[picks[k]-1].Code
		}
		values.SetText(n.finish[k], choice)
	}
}

// restore makes the base's values what they were.
func (c *counting) restore() {
	c.set(c.counts, c.fits, c.base.pick)
	for _, f := range c.p.figures {
		if c.dirty.figures[f.index] {
			c.base.values.SetExact(c.p.names.figure[f.index], c.base.figured[f.index].value)
		}
	}
	for _, i := range c.touchedList {
		c.touched[i], c.minus[i], c.next.totals[i] = false, total{}, total{}
	}
	c.touchedList = c.touchedList[:0]
	for _, g := range c.next.given { // those of a change that was given up
		c.next.totals[g.cell] = total{}
	}
	clear(c.next.worked)
}

// again works out again what reads what changed; false where that cannot be
// done in part.
func (c *counting) again() bool {
	d, e := &c.dirty, c.next
	clear(d.figures)
	clear(d.fit)
	clear(d.removal)
	clear(d.stages)
	d.fits = d.fits[:0]
	e.given, e.broken, e.source = e.given[:0], nil, 0
	e.removed, e.stageOf = append(e.removed[:0], c.base.removed...), e.stageOf[:0]
	copy(e.pick, c.picks)
	e.supplyOnly = c.base.supplyOnly
	e.emptyFront, e.emptyRear = c.base.emptyFront, c.base.emptyRear
	c.set(c.nextCounts, c.nextFs, c.picks)
	for _, k := range c.changed {
		if c.fits[k] != c.nextFs[k] {
			c.dirtyFit(k)
		}
		c.read(&c.p.readers.feature[k])
	}
	for _, k := range c.changedFinishes {
		c.read(&c.p.readers.finish[k])
	}
	if !c.figures() {
		return false
	}
	c.features()
	if !e.supplyOnly {
		c.stages()
		c.rates()
	}
	return len(e.broken) == 0 && c.gather()
}

func (c *counting) dirtyFit(k int) {
	if !c.dirty.fit[k] {
		c.dirty.fit[k] = true
		c.dirty.fits = append(c.dirty.fits, k)
	}
}

// read notes what reads a name that changed.
func (c *counting) read(by *readBy) {
	for _, f := range by.figures {
		c.dirty.figures[f] = true
	}
	for _, k := range by.fit {
		c.dirtyFit(k)
	}
	for _, k := range by.removal {
		c.dirty.removal[k] = true
	}
	for _, k := range by.stages {
		c.dirty.stages[k] = true
	}
}

// figures works out again the figures that may have changed.
func (c *counting) figures() bool {
	e := c.next
	for i := range c.p.figures {
		f := &c.p.figures[i]
		if !c.dirty.figures[f.index] {
			continue
		}
		before := c.base.figured[f.index]
		e.figure(f)
		now := e.figured[f.index]
		if !before.ok || !now.ok {
			return false
		}
		if now.value.Compare(before.value) != 0 {
			c.read(&c.p.readers.figure[f.index])
		}
	}
	return true
}

// features works out again the lines of features fitted and taken out.
func (c *counting) features() {
	e := c.next
	slices.Sort(c.dirty.fits)
	for _, k := range c.dirty.fits {
		c.remove(c.fitAt[k])
		if c.nextFs[k] > 0 {
			e.source = int32(k)
			e.wants(c.p.fit[k], k, false, c.nextFs[k])
		}
	}
	for i, k := range e.removed {
		if k < 0 || !c.dirty.removal[k] {
			continue
		}
		c.remove(c.removalAt[i])
		if n := e.spec.Removed[i].Count; n > 0 {
			e.source = int32(sourceOfRemovals + i)
			e.wants(c.p.removal[k], k, true, n)
		}
	}
}

// remove takes reasons of the base off.
func (c *counting) remove(s span) {
	for i := s.from; i < s.to; i++ {
		g := &c.base.given[i]
		c.take(g.cell, g.issued, g.needed, g.rear)
	}
}

func (c *counting) take(cell int32, issued, needed, rear amount) {
	c.touch(cell)
	m := &c.minus[cell]
	m.issued += issued
	m.needed += needed
	m.rear += rear
	m.given++
}

func (c *counting) touch(cell int32) {
	if !c.touched[cell] {
		c.touched[cell] = true
		c.touchedList = append(c.touchedList, cell)
	}
}

// stages works out again what stages take by themselves, where anything is
// done there now or was before.
func (c *counting) stages() {
	e := c.next
	var few [64]int
	now := append(few[:0], c.workedBy...)
	for _, i := range c.touchedList {
		now[c.p.cells[i].stage] -= int(c.minus[i].given)
	}
	for i := range e.given {
		now[c.p.cells[e.given[i].cell].stage]++
	}
	for at, list := range c.p.stage {
		added := c.addedTo[at]
		worked, before := added || now[at] > 0, added || c.workedBy[at] > 0
		if worked == before && !c.dirty.stages[at] {
			continue
		}
		c.dirty.stages[at] = true
		c.remove(c.stageAt[at])
		if worked {
			e.source = int32(sourceOfStages + at)
			e.wants(list, -1, false, 1)
		}
	}
}

// rates works out again what goes by the hours that changed.
func (c *counting) rates() {
	e := c.next
	for i := range e.given {
		c.touch(e.given[i].cell)
	}
	e.source = sourceOfRates
	for _, cell := range c.touchedList[:len(c.touchedList):len(c.touchedList)] {
		for _, rate := range c.p.readers.rates[cell] {
			before, now := &c.base.totals[cell], c.now(cell)
			if issued, needed := e.consumed(rate, before.issued); issued > 0 {
				c.take(rate.cell, issued, needed, e.rearOf(rate.cell, needed, unplaced))
			}
			if issued, needed := e.consumed(rate, now.issued); issued > 0 {
				e.give(given{cell: rate.cell, feature: -1, issued: issued, rate: rate}, needed)
			}
		}
	}
	// In the order in which they are found the first time.
	rates := e.given[slices.IndexFunc(append(e.given, given{source: sourceOfRates}), func(g given) bool { return g.source == sourceOfRates }):]
	slices.SortStableFunc(rates, func(a, b given) int { return a.rate.order - b.rate.order })
}

// now is what a cell comes to.
func (c *counting) now(cell int32) total {
	b, m, n := &c.base.totals[cell], &c.minus[cell], &c.next.totals[cell]
	t := total{issued: b.issued - m.issued + n.issued, needed: b.needed - m.needed + n.needed,
		rear: b.rear - m.rear + n.rear, given: b.given - m.given + n.given}
	if c.p.cells[cell].kind == standingKind {
		t.issued = n.issued
		for _, g := range c.baseAt.of(cell) {
			if !c.gone(&c.base.given[g]) {
				t.issued = max(t.issued, c.base.given[g].issued)
			}
		}
	}
	return t
}

// gone says whether a reason of the base was taken off.
func (c *counting) gone(g *given) bool {
	switch {
	case g.source < sourceOfRemovals:
		return c.dirty.fit[g.source]
	case g.source < sourceOfAdditions:
		return c.dirty.removal[c.base.removed[g.source-sourceOfRemovals]]
	case g.source < sourceOfStages:
		return false
	case g.source < sourceOfRates:
		return c.dirty.stages[g.source-sourceOfStages]
	}
	return c.touched[g.rate.hours]
}

// gather writes the tally of what was touched; false where it is too much.
func (c *counting) gather() bool {
	e, t := c.next, &c.tally
	for i := range e.given {
		c.touch(e.given[i].cell)
	}
	slices.Sort(c.touchedList)
	c.nextAt.index(len(c.p.cells), e.given)
	e.hours, e.addedKG, e.rearKG = c.base.hours, c.base.addedKG, c.base.rearKG
	t.Places, c.shares = t.Places[:0], c.shares[:0]
	for _, i := range c.touchedList {
		now, cell := c.now(i), &c.p.cells[i]
		if now.issued > largestAmount || now.needed > largestAmount {
			return false
		}
		before := &c.base.totals[i]
		kg, _ := cell.kg(before.needed)
		e.addedKG -= kg
		rear, _ := cell.rearKG(before.rear)
		e.rearKG -= rear
		if cell.kind == hoursKind {
			e.hours -= cell.rounded(before.issued)
		}
		e.add(i, &now)
		from := len(c.shares)
		c.merge(i)
		n := Tallied{Place: int(i), Asked: c.shares[from:len(c.shares):len(c.shares)]}
		if now.given > 0 {
			n.Quantity = Quantity(cell.rounded(now.issued))
		}
		t.Places = append(t.Places, n)
	}
	return len(e.broken) == 0
}

// merge gathers the reasons of a cell, those that stayed and the new ones, in
// the order in which Expand would find them.
func (c *counting) merge(cell int32) {
	fresh := c.nextAt.of(cell)
	for _, i := range c.baseAt.of(cell) {
		g := &c.base.given[i]
		if c.gone(g) {
			continue
		}
		for len(fresh) > 0 && c.next.given[fresh[0]].before(g) {
			c.shares, fresh = append(c.shares, c.next.given[fresh[0]].asked()), fresh[1:]
		}
		c.shares = append(c.shares, g.asked())
	}
	for _, i := range fresh {
		c.shares = append(c.shares, c.next.given[i].asked())
	}
}

// before says whether g is found before o, which is at the same place and from
// another source or by another rate.
func (g *given) before(o *given) bool {
	if g.rate != nil && o.rate != nil {
		return g.rate.order < o.rate.order
	}
	return g.source < o.source
}
