package bom

import (
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/formula"
)

// Known is what every specification has that is reached from a place on the way
// to settling, and what is certainly asked for there. Whoever says what a
// specification costs says from it what none of them costs less than.
type Known struct {
	// Counts are, by feature of the catalogue, how many are there at least, Fit
	// how many of those this job fits, and Most how many there can be, as far as
	// that is plain.
	Counts, Fit, Most []int
	// SupplyOnly: nothing is fitted, whatever else is chosen. MaybeSupplyOnly: it
	// may come to that.
	SupplyOnly, MaybeSupplyOnly bool
	// Finishes that apply for certain, in catalogue order.
	Finishes []KnownFinish

	r     *Release
	given []knownGiven
}

// KnownFinish is a finish that applies, by its place in the catalogue; Choice is
// -1 while it is open.
type KnownFinish struct{ Finish, Choice int }

type knownGiven struct {
	cell    int32
	feature int32 // -1 for none
	removal bool
	issued  amount
	needed  amount // without scrap
	byPick  []pick // of an open finish: the first is not to be had
}

// KnownAsk is something that is certainly asked for, as one of the reasons of a
// line.
type KnownAsk struct {
	Kind LineKind // PartLine, HoursLine or OutsideLine
	// Codes of the part, trade or outside work: one, or of an open finish all
	// there are to choose from.
	Codes    []string
	Feature  int // in the catalogue
	Removal  bool
	Quantity decimal.Decimal // at least so much of the line is for this reason
}

// Asks gives what features and removals ask for that of says is of interest,
// for certain. What a customer's own part may stand in for is left out, and so
// is what stages and consumables take by themselves.
func (k *Known) Asks(of func(feature int, removal bool) bool, yield func(KnownAsk)) {
	for i := range k.given {
		g := &k.given[i]
		c := &k.r.sheet.cells[g.cell]
		if g.feature < 0 || c.kind != partKind && c.kind != hoursKind && c.kind != outsideKind || !of(int(g.feature), g.removal) {
			continue
		}
		ask := KnownAsk{Kind: lineKinds[c.kind], Codes: []string{c.code}, Feature: int(g.feature), Removal: g.removal, Quantity: g.issued.decimal()}
		if g.byPick != nil {
			ask.Codes, ask.Quantity = nil, g.needed.decimal()
			for _, p := range g.byPick[1:] {
				ask.Codes = append(ask.Codes, k.r.sheet.cells[p.cell].code)
			}
		}
		yield(ask)
	}
}

// addedKG is the mass that is certainly added, additions left out. A line's mass
// is rounded to the gram once, so what is merged with the rest, and not in it,
// counts for a gram less: of all that is known, what depends on an open finish.
func (k *Known) addedKG(merged bool) amount {
	const gram = oneUnit / 1000
	needed := map[int32]amount{}
	var sum amount
	for i := range k.given {
		g := &k.given[i]
		cell := g.cell
		if g.byPick != nil {
			lightest := largestAmount
			for _, p := range g.byPick[1:] {
				m, _ := g.needed.times(k.r.sheet.cells[p.cell].mass)
				lightest = min(lightest, m)
			}
			sum, _ = sum.plus(max(0, lightest.round(massPlaces)-gram))
			continue
		}
		if k.r.sheet.cells[cell].mass > 0 {
			needed[cell], _ = needed[cell].plus(g.needed)
		}
	}
	for cell, n := range needed {
		m, ok := n.times(k.r.sheet.cells[cell].mass)
		if m = m.round(massPlaces); merged {
			m = max(0, m-gram)
		}
		if ok {
			sum, _ = sum.plus(m)
		}
	}
	return sum
}

// reading is which features and finishes a want reads, itself and by figures.
type reading struct{ features, finishes []int }

// readings are the readings of the wants of features, removals and stages, and
// which figures, in the order they are worked out in, any of them comes from:
// what only checks and people read need not be known before the end.
type readings struct {
	fit, removal, stage [][]reading
	figures             []bool
}

// read is which features are read by wants that bear on something, or decide
// whether a finish applies or anything is fitted at all.
func (n *readings) read(r *Release, lines func(feature int, removal bool) bool) []bool {
	read := make([]bool, len(r.featureCodes))
	note := func(lists [][]reading, removal, stage bool) {
		for i, list := range lists {
			if stage {
				i = -1
			}
			if !lines(i, removal) {
				continue
			}
			for j := range list {
				for _, f := range list[j].features {
					read[f] = true
				}
			}
		}
	}
	note(n.fit, false, false)
	note(n.removal, true, false)
	note(n.stage, false, true)
	for _, when := range r.logic.finishWhen {
		when.Atoms(func(a formula.Atom) {
			if k, ok := r.features[a.Name]; ok && a.Value == "" {
				read[k] = true
			}
		})
	}
	for i := range r.catalogue.Features {
		read[i] = read[i] || r.catalogue.Features[i].SupplyOnly // it takes all work off the sheet
	}
	return read
}

func (r *Release) readings() *readings {
	p := &r.sheet
	figures, asked := map[string]reading{}, map[string]bool{}
	out := &readings{figures: make([]bool, len(p.figures))}
	note := func(to *reading, f *formula.Formula) {
		if f == nil {
			return
		}
		for _, name := range f.Uses() {
			if figure, ok := figures[name]; ok {
				to.features = append(to.features, figure.features...)
				to.finishes = append(to.finishes, figure.finishes...)
			} else if k, ok := r.features[strings.TrimPrefix(name, "fit.")]; ok {
				to.features = append(to.features, k)
			} else if code, ok := strings.CutPrefix(name, "finish."); ok {
				if k, ok := r.finishes[code]; ok {
					to.finishes = append(to.finishes, k)
				}
			}
		}
	}
	once := func(list []int) []int {
		slices.Sort(list)
		return slices.Compact(list)
	}
	for i := range p.figures {
		f := &p.figures[i] // each after those it reads
		var n reading
		note(&n, f.formula)
		figures[r.catalogue.Figures[f.index].Code] = reading{once(n.features), once(n.finishes)}
	}
	ask := func(to *reading, f *formula.Formula) {
		note(to, f)
		if f != nil {
			for _, name := range f.Uses() {
				asked[name] = true
			}
		}
	}
	wants := func(lists [][]want) [][]reading {
		all := make([][]reading, len(lists))
		for i, list := range lists {
			all[i] = make([]reading, len(list))
			for j := range list {
				n := &all[i][j]
				ask(n, list[j].when)
				ask(n, list[j].quantity.formula)
				for k := range list[j].asks {
					ask(n, list[j].asks[k].each.formula)
				}
				n.features, n.finishes = once(n.features), once(n.finishes)
			}
		}
		return all
	}
	out.fit, out.removal, out.stage = wants(p.fit), wants(p.removal), wants(p.stage)
	for i := len(p.figures) - 1; i >= 0; i-- {
		f := &p.figures[i]
		if out.figures[i] = asked[r.catalogue.Figures[f.index].Code]; out.figures[i] {
			for _, name := range f.formula.Uses() {
				asked[name] = true
			}
		}
	}
	return out
}

// knowing works out what is known; like an Expand that leaves out what is not
// certain.
type knowing struct {
	e        *expansion
	readings *readings
	k        *Known
	exact    func(feature int) bool
	finish   func(finish int) bool // its value is certain
	// What formulas read at least and at most.
	least, most *formula.Values
}

// between readies the values that formulas may read at least and at most, where
// a feature that is not exact may be there up to so many times.
func (k *knowing) between(upTo, fit func(feature int) int) {
	e, n := k.e, &k.e.p.names
	k.least, k.most = e.r.scope.NewValues(), e.r.scope.NewValues()
	k.least.CopyOf(e.values)
	for f := range e.r.finishes {
		if i := e.r.finishes[f]; !k.finish(i) {
			k.least.Clear(n.finish[i])
		}
	}
	k.most.CopyOf(k.least)
	for f := range n.feature {
		if k.exact(f) {
			continue
		}
		k.most.SetCount(n.fit[f], fit(f))
		if n.counted[f] {
			k.most.SetCount(n.feature[f], upTo(f))
		} else {
			k.most.SetTruth(n.feature[f], upTo(f) > 0)
		}
	}
	for i := range e.p.figures {
		f := &e.p.figures[i]
		if !k.readings.figures[i] {
			continue
		}
		slot := n.figure[f.index]
		from, to, ok := f.formula.Between(k.least, k.most)
		if !ok || k.least.SetNumber(slot, from) != nil || k.most.SetNumber(slot, to) != nil {
			k.least.Clear(slot)
			k.most.Clear(slot)
		}
	}
}

// wantLeast works out what a want comes to at least.
func (k *knowing) wantLeast(w *want, feature int, removal bool, n int) {
	e := k.e
	if w.standing || e.supplyOnly && w.asks[0].work {
		return
	}
	if w.when != nil {
		if always, _ := w.when.Holds(k.least, k.most); !always {
			return
		}
	}
	q := k.quantity(&w.quantity)
	if n != 1 && !w.once {
		q, _ = q.count(n)
	}
	shares := make([]share, len(w.asks))
	for i := range w.asks {
		a := &w.asks[i]
		above := share{q, q}
		if a.of >= 0 {
			above = shares[a.of]
		}
		if above.issued == 0 || e.supplyOnly && a.work {
			continue
		}
		cell, scrap := a.cell, a.scrap
		if a.finish >= 0 {
			p := &a.byPick[e.pick[a.finish]]
			cell, scrap = p.cell, p.scrap
		}
		var ok bool
		if shares[i], ok = above.of(k.quantity(&a.each), scrap); ok && shares[i].issued > 0 {
			e.give(given{cell: cell, feature: int32(feature), removal: removal, position: w.position, issued: shares[i].issued, ask: a}, shares[i].needed)
		}
	}
}

// quantity is what one comes to at least; nothing where there is no telling.
func (k *knowing) quantity(q *quantity) amount {
	if q.formula == nil {
		return q.fixed
	}
	from, _, ok := q.formula.Between(k.least, k.most)
	if !ok || from.Sign() <= 0 {
		return 0
	}
	a, _ := amountOf(from)
	return a
}

// wants works out the wants of a list: those that read only what is certain as
// they will be, the others as little as they can be.
func (k *knowing) wants(list []want, readings []reading, feature int, removal bool, n int) {
	for i := range list {
		if k.certain(&readings[i]) {
			k.e.wants(list[i:i+1], feature, removal, n)
		} else {
			k.wantLeast(&list[i], feature, removal, n)
		}
	}
}

func (k *knowing) certain(r *reading) bool {
	return !slices.ContainsFunc(r.features, func(f int) bool { return !k.exact(f) }) &&
		!slices.ContainsFunc(r.finishes, func(f int) bool { return !k.finish(f) })
}

// all works out everything certain of a specification that has at least what
// spec has.
func (k *knowing) all() {
	e, p := k.e, k.e.p
	for i, f := range e.feature {
		if n := e.spec.Features[i].Fit; f >= 0 && n > 0 {
			k.wants(p.fit[f], k.readings.fit[f], f, false, n)
		}
	}
	for i, f := range e.removed {
		if n := e.spec.Removed[i].Count; f >= 0 && n > 0 {
			k.wants(p.removal[f], k.readings.removal[f], f, true, n)
		}
	}
	e.additions()
	if !e.supplyOnly {
		for at, list := range p.stage {
			if e.worked[at] {
				k.wants(list, k.readings.stage[at], -1, false, 1)
			}
		}
		e.consumables()
	}
	k.keep()
}

// keep takes over what was worked out, but for what a customer's own part may
// stand in for.
func (k *knowing) keep() {
	e := k.e
	own := func(code string) bool {
		return code != "" && find(e.spec.Additions, func(a Addition) bool { return a.InPlaceOf == code }) >= 0
	}
	for i := range e.given {
		g := &e.given[i]
		c := &e.p.cells[g.cell]
		if c.kind == partKind && own(c.code) || g.addition != 0 {
			continue
		}
		n := knownGiven{cell: g.cell, feature: g.feature, removal: g.removal, issued: g.issued, needed: g.needed}
		if g.ask != nil && g.ask.finish >= 0 && e.pick[g.ask.finish] == 0 {
			if slices.ContainsFunc(g.ask.byPick, func(p pick) bool { return own(e.p.cells[p.cell].code) }) {
				continue
			}
			n.byPick = g.ask.byPick
		}
		k.k.given = append(k.k.given, n)
	}
}

// know works out what is known where a settling stands; or of one feature, where
// it would be there too, what it would ask for.
func (s *seeking) know(feature int) {
	n := len(s.r.featureCodes)
	k := &s.known
	k.r, k.given, k.Finishes = s.r, k.given[:0], k.Finishes[:0]
	k.Counts, k.Fit, k.Most = resized(k.Counts, n), resized(k.Fit, n), resized(k.Most, n)
	k.SupplyOnly, k.MaybeSupplyOnly = false, false
	before := &s.out.Before.Resolution.Specification
	s.spec = Specification{Van: before.Van, Removed: before.Removed, Additions: before.Additions, Features: s.spec.Features[:0], Finishes: s.spec.Finishes[:0]}
	for i := range n {
		least, most := s.walk.Bounds(i)
		k.Most[i] = most
		if f := &s.r.catalogue.Features[i]; f.SupplyOnly {
			k.SupplyOnly = k.SupplyOnly || least > 0
			k.MaybeSupplyOnly = k.MaybeSupplyOnly || most > 0
		}
		if i == feature {
			least = leastOf(&s.r.catalogue.Features[i])
		}
		if least == 0 {
			continue
		}
		fit := max(0, least-s.keptOf(i))
		s.spec.Features = append(s.spec.Features, SpecifiedFeature{Code: s.r.featureCodes[i], Count: least, Fit: fit})
		if feature < 0 || i == feature {
			k.Counts[i], k.Fit[i] = least, fit
		}
	}
	applies := s.appliesAll(true)
	for i, a := range applies {
		if a != yes {
			continue
		}
		if feature < 0 {
			k.Finishes = append(k.Finishes, KnownFinish{i, max(s.pick[i], -1)})
		}
		if f := &s.r.catalogue.Finishes[i]; s.pick[i] >= 0 {
			s.spec.Finishes = append(s.spec.Finishes, SpecifiedFinish{Finish: f.Code, Choice: f.Choices[s.pick[i]].Code})
		}
	}
	e := s.r.sheet.begin(s.r, &s.spec)
	defer e.end()
	e.setVan()
	e.setFeatures()
	e.setFinishes()
	e.supplyOnly = e.supplyOnly || k.MaybeSupplyOnly
	w := knowing{e: e, readings: s.readings, k: k,
		exact: func(f int) bool {
			least, most := s.walk.Bounds(f)
			if f == feature {
				least = leastOf(&s.r.catalogue.Features[f])
			}
			return least == most
		},
		finish: func(f int) bool { return applies[f] == no || applies[f] == yes && s.pick[f] != -1 },
	}
	for i := range e.p.figures {
		if s.readings.figures[i] {
			e.figure(&e.p.figures[i])
		}
	}
	upTo := func(f int) int {
		_, most := s.walk.Bounds(f)
		return most
	}
	w.between(upTo, func(f int) int { return max(0, upTo(f)-s.keptOf(f)) })
	if feature < 0 {
		w.all()
		return
	}
	w.wants(e.p.fit[feature], s.readings.fit[feature], feature, false, k.Fit[feature])
	w.keep()
}

// certainty is whether something holds in all that can be reached.
type certainty uint8

const (
	maybe certainty = iota
	yes
	no
)

// applies says whether a finish applies: to what is there and nothing else, or
// for certain.
func (s *seeking) applies(finish int, forCertain bool) certainty {
	return s.appliesAll(forCertain)[finish]
}

func (s *seeking) appliesAll(forCertain bool) []certainty {
	list := make([]certainty, len(s.pick))
	for k := range list {
		list[k] = s.holds(s.r.vans[s.asked.base].finishWhen[k], k, list, forCertain)
	}
	return list
}

// holds is as specifying.holds, where not everything is decided yet. Of the
// finishes only those before one bear on it.
func (s *seeking) holds(c formula.Condition, finish int, applies []certainty, forCertain bool) certainty {
	is := func(b bool) certainty {
		if b {
			return yes
		}
		return no
	}
	switch c.Op {
	case formula.IsTrue, 0:
		return yes
	case formula.IsNot:
		switch s.holds(c.Args[0], finish, applies, forCertain) {
		case yes:
			return no
		case no:
			return yes
		}
		return maybe
	case formula.IsAnd, formula.IsOr:
		decides, all := no, yes
		if c.Op == formula.IsOr {
			decides, all = yes, no
		}
		for i := range c.Args {
			switch s.holds(c.Args[i], finish, applies, forCertain) {
			case decides:
				return decides
			case maybe:
				all = maybe
			}
		}
		return all
	case formula.IsAtom:
	default:
		return no
	}
	a := c.Atom
	if k, ok := s.r.features[a.Name]; ok && a.Value == "" {
		least, most := s.walk.Bounds(k)
		if least < a.AtLeast && most >= a.AtLeast && forCertain {
			return maybe
		}
		return is(least >= a.AtLeast)
	}
	base := &s.r.catalogue.BaseVans[s.asked.base]
	for i := range base.Particulars {
		if "van."+base.Particulars[i].Name == a.Name {
			return is(s.asked.particulars[i] == a.Value)
		}
	}
	code, _ := strings.CutPrefix(a.Name, "finish.")
	k, ok := s.r.finishes[code]
	if !ok || k >= finish || applies[k] == no || s.pick[k] == stays {
		return no
	}
	if s.pick[k] < 0 {
		return maybe
	}
	if s.r.catalogue.Finishes[k].Choices[s.pick[k]].Code != a.Value {
		return no
	}
	return applies[k]
}

// keptOf is how many of a feature the van has and keeps.
func (s *seeking) keptOf(feature int) int {
	if k, ok := s.asked.fittingOf[feature]; ok {
		return s.asked.fittings[k].kept
	}
	return 0
}

// Lightly is the aim to add the least mass, in million-millionths of a kg.
func Lightly() Aim { return lightly{} }

type lightly struct{}

func (lightly) Begin(*Settling) error { return nil }

func (lightly) Cost(_ *Specification, sheet *Sheet) (int64, int, error) {
	kg, _ := amountOf(sheet.Mass.AddedKG)
	return int64(kg), len(sheet.Broken), nil
}

func (lightly) Floor(k *Known) int64 { return int64(k.addedKG(false)) }

func (lightly) Adds(_ int, with *Known) int64 { return int64(with.addedKG(true)) }

func (lightly) Lines(int, bool) bool { return true }

func (lightly) Divided(int, bool) bool { return false }
