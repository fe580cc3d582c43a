package bom

import (
	"slices"

	"github.com/shopspring/decimal"
)

// Place is where something can be wanted: a stage, and a part, kit, trade or
// outside work there. Every line of a sheet but those of additions is of one.
type Place struct {
	Stage string
	Kind  LineKind
	// Code is of the part, kit, trade or outside work; "" for standing time and
	// for a part whose finish is still to choose, which has the Finish instead.
	Code, Finish string
	Name, Unit   string
}

// Places of the release in the order of a sheet's lines. They must not be
// changed.
func (r *Release) Places() []Place { return r.sheet.places }

func (b *compiler) places() {
	p := &b.r.sheet
	p.places = make([]Place, len(p.cells))
	for i := range p.cells {
		c := &p.cells[i]
		p.places[i] = Place{Stage: b.c.Stages[b.r.stages[c.stage]].Code, Kind: lineKinds[c.kind], Code: c.code, Finish: c.finish,
			Name: c.name, Unit: c.unit}
	}
}

// Tally is what a specification comes to in numbers, without lines and words:
// what Expand would write, as far as price, hours, masses and checks go.
type Tally struct {
	// Places where anything is wanted, in order. In the tally of a change they
	// are those where it may be other than before, also where nothing is wanted
	// any more.
	Places []Tallied
	// Checks, one for each of the catalogue's.
	Checks []TalliedCheck
	// Broken: some formula gave no usable number; Expand says which.
	Broken bool

	hours, addedKG, removedKG, leftKG amount
	masses                            masses
}

// Hours are hands-on, of all trades.
func (t *Tally) Hours() decimal.Decimal { return t.hours.decimal() }

// NetKG is what the work adds to the van less what it takes off it.
func (t *Tally) NetKG() decimal.Decimal { return (t.addedKG - t.removedKG).decimal() }

// LeftKG is what is left of the plated mass.
func (t *Tally) LeftKG() decimal.Decimal { return t.leftKG.decimal() }

// Tallied is what is wanted at one place.
type Tallied struct {
	Place    int      // in Release.Places
	Quantity Quantity // as the line shows it
	Asked    []Asked  // in the order of the line's reasons
}

// Quantity of something, in million-millionths of its unit.
type Quantity int64

// QuantityPlaces is how many decimals a Quantity has.
const QuantityPlaces = amountPlaces

// Decimal gives the quantity in its unit.
func (q Quantity) Decimal() decimal.Decimal { return amount(q).decimal() }

// Asked is one reason of a line.
type Asked struct {
	Feature  int32 // in the catalogue; -1 for none
	Addition int32 // in the specification, from 1; 0 for none
	Removal  bool
	Quantity Quantity // unrounded; below nothing where the customer brings it
}

// TalliedCheck is how a check came out.
type TalliedCheck struct{ Made, Met bool }

// tally is what an expansion that was counted comes to. It is in the
// expansion's memory, all but the checks.
func (e *expansion) tally() Tally {
	var t Tally
	if e.van < 0 {
		t.Broken = true
		t.Checks = make([]TalliedCheck, len(e.p.checks))
		return t
	}
	e.at.index(len(e.p.cells), e.given)
	e.shares, e.tallied = slices.Grow(e.shares[:0], len(e.given)), e.tallied[:0]
	e.hours, e.addedKG, e.rearKG = 0, 0, 0
	for i := range e.totals {
		n := &e.totals[i]
		if n.given == 0 {
			continue
		}
		from := len(e.shares)
		for _, g := range e.at.of(int32(i)) {
			e.shares = append(e.shares, e.given[g].asked())
		}
		e.tallied = append(e.tallied, Tallied{Place: i, Quantity: Quantity(e.p.cells[i].rounded(n.issued)),
			Asked: e.shares[from:len(e.shares):len(e.shares)]})
		e.add(int32(i), n)
	}
	t.Places = e.tallied
	e.sum(&t)
	return t
}

// add adds what a cell comes to, to hours and masses.
func (e *expansion) add(i int32, n *total) {
	cell := &e.p.cells[i]
	if cell.kind == hoursKind {
		var ok bool
		if e.hours, ok = e.hours.plus(cell.rounded(n.issued)); !ok {
			e.breaks(cell.at(), tooLarge)
		}
	}
	kg, ok := cell.kg(n.needed)
	var ok2 bool
	if e.addedKG, ok2 = e.addedKG.plus(kg); !ok || !ok2 {
		e.breaks(cell.at()+"/mass_kg", "The mass is too large.")
	}
	e.addRear(cell, n.rear)
}

// sum fills in hours, masses and checks.
func (e *expansion) sum(t *Tally) {
	m := e.weigh(axles{e.addedKG, e.rearKG})
	t.masses = m
	t.hours, t.addedKG, t.removedKG, t.leftKG = e.hours, m.added.total, m.removed.total, m.left()
	e.giveTotals(&m, t.hours)
	if t.Checks == nil {
		t.Checks = make([]TalliedCheck, len(e.p.checks))
	}
	for i := range e.p.checks {
		_, _, met, made := e.compare(&e.p.checks[i])
		t.Checks[i] = TalliedCheck{made, met}
	}
	t.Broken = len(e.broken) > 0
}

func (g *given) asked() Asked {
	return Asked{Feature: g.feature, Addition: g.addition, Removal: g.removal, Quantity: Quantity(g.issued)}
}

// cellIndex finds the reasons of each cell, in order.
type cellIndex struct {
	start []int32
	list  []int32
}

func (x *cellIndex) index(cells int, given []given) {
	x.start = resized(x.start, cells+1)
	x.list = resized(x.list, len(given))
	for i := range given {
		x.start[given[i].cell+1]++
	}
	for i := range cells {
		x.start[i+1] += x.start[i]
	}
	for i := range given { // start[c] moves to the end of c, the next's beginning
		c := given[i].cell
		x.list[x.start[c]] = int32(i)
		x.start[c]++
	}
	copy(x.start[1:], x.start[:cells])
	x.start[0] = 0
}

func (x *cellIndex) of(cell int32) []int32 { return x.list[x.start[cell]:x.start[cell+1]] }

func resized[T any](list []T, n int) []T {
	if cap(list) < n {
		return make([]T, n)
	}
	list = list[:n]
	clear(list)
	return list
}
