package bom

import (
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/engineering"
	"wainscot/bom/formula"
)

// A mass rests on the axles as a load on a beam: with its place x behind the
// front axle and the wheelbase w, x/w of it rests on the rear axle and the rest
// on the front one (moments about the front axle). What is behind the rear axle
// lifts the front.

// position is where something sits in one base van.
type position struct {
	rear  amount // of each kg there, so much rests on the rear axle
	where Where
}

// unplaced is the position of what has none in the catalogue.
const unplaced = 0

// load is one of the catalogue's, made ready.
type load struct {
	index    int
	at       string
	mass     *formula.Formula
	position int32
	running  amount // of each kg, so much in running order
}

// loaded is a load worked out for a van.
type loaded struct{ kg, rear, running, runningRear amount }

// axles are what rests on the two axles together, and on the rear one.
type axles struct{ total, rear amount }

func (a axles) front() amount { return a.total - a.rear }

func (a axles) plus(b axles) axles  { return axles{a.total + b.total, a.rear + b.rear} }
func (a axles) minus(b axles) axles { return axles{a.total - b.total, a.rear - b.rear} }

func (a axles) shown() Axles {
	return Axles{FrontKG: a.front().decimal(), RearKG: a.rear.decimal()}
}

// masses is the ledger in amounts.
type masses struct {
	added, removed, before, after, running, laden axles
	frontMost, rearMost                           amount
	plated, platedFront, platedRear               amount
	weighed                                       bool
}

// left is what is left of the plated mass with the van empty.
func (m *masses) left() amount { return m.plated - m.after.total }

// placed is a mass at a position.
func (e *expansion) placed(kg amount, place int32) axles {
	p := e.p.vans[e.van].positions
	if place < 0 || int(place) >= len(p) {
		place = unplaced
	}
	rear, _ := kg.times(p[place].rear)
	return axles{kg, rear.round(massPlaces)}
}

// weigh makes the ledger of what the lines add.
func (e *expansion) weigh(lines axles) masses {
	v := &e.p.vans[e.van]
	m := masses{added: lines, removed: e.takenOut()}
	for i := range e.spec.Additions {
		a := &e.spec.Additions[i]
		kg, ok := a.kg()
		if !ok {
			e.breaks("specification/additions/"+a.Code+"/mass_kg", "The mass is too large.")
		}
		m.added = m.added.plus(e.placed(kg, e.r.positionOf(a.Position)))
	}
	m.before, m.weighed = e.unladen(v)
	m.plated, m.platedFront, m.platedRear = e.plated(v)
	m.after = m.before.plus(m.added).minus(m.removed)
	m.running, m.laden = m.after, m.after
	front, rear := m.after.front(), m.after.rear
	e.loads = e.loads[:0]
	for i := range e.p.loads {
		l := e.load(&e.p.loads[i])
		e.loads = append(e.loads, l)
		m.running = m.running.plus(axles{l.running, l.runningRear})
		m.laden = m.laden.plus(axles{l.kg, l.rear})
		front += max(0, l.kg-l.rear)
		rear += max(0, l.rear)
	}
	m.frontMost, m.rearMost = front, rear
	return m
}

// load works one load out; nothing where it cannot be, which is recorded.
func (e *expansion) load(l *load) loaded {
	x, err := l.mass.Exact(e.values)
	if err != nil {
		e.breaksBy(l.at, err)
		return loaded{}
	}
	kg, ok := amountOfExact(x)
	if !ok || kg < 0 || kg > MaxMassKG*oneUnit {
		e.breaks(l.at, fmt.Sprintf("The mass comes to %s kg, which is none a van carries.", shownFigure(x.Decimal())))
		return loaded{}
	}
	kg = kg.round(massPlaces)
	running, _ := kg.times(l.running)
	running = running.round(massPlaces)
	return loaded{kg, e.placed(kg, l.position).rear, running, e.placed(running, l.position).rear}
}

// plated is what the plate of the van allows, or its base van's.
func (e *expansion) plated(v *vanProgram) (total, front, rear amount) {
	total, front, rear = v.platedKG, v.platedFrontKG, v.platedRearKG
	for _, p := range []struct {
		said *decimal.Decimal
		into *amount
	}{{e.spec.Van.PlatedKG, &total}, {e.spec.Van.PlatedFrontKG, &front}, {e.spec.Van.PlatedRearKG, &rear}} {
		if p.said != nil {
			*p.into, _ = amountOf(*p.said) // setVan has told of what is too large
		}
	}
	return total, front, rear
}

// takenOut is what the fittings weigh that are taken out.
func (e *expansion) takenOut() axles {
	var removed axles
	for i, k := range e.removed {
		if k >= 0 {
			removed = removed.plus(e.fittedMass(k, e.spec.Removed[i].Count))
		}
	}
	return removed
}

// unladen is what the van weighs before any work, with nobody aboard: by the
// ticket, else reckoned from its base van, with what it has besides and without
// what it lacks, as far as the catalogue says what those weigh.
func (e *expansion) unladen(v *vanProgram) (kg axles, weighed bool) {
	if !e.spec.Van.weighed() {
		return axles{v.unladenKG, v.unladenRearKG}.plus(e.differences(v)), false
	}
	f, ok1 := amountOf(e.emptyFront)
	r, ok2 := amountOf(e.emptyRear)
	if !ok1 || !ok2 {
		e.breaks("specification/van/weighed_front_kg", "The number is too large.")
	}
	return axles{f + r, r}, true
}

// weighed says whether there is a weighbridge ticket.
func (v *Van) weighed() bool { return v.WeighedFrontKG != nil && v.WeighedRearKG != nil }

// empty brings a weighbridge ticket to an empty cab and a tank at 90 %, in
// grams.
func (e *expansion) empty() error {
	axles, err := EmptyKG(&e.spec.Van, e.r.catalogue.BaseVans[e.van].Facts)
	e.emptyFront, e.emptyRear = axles.FrontKG, axles.RearKG
	return err
}

// EmptyKG is what a van that was weighed weighs with nobody aboard and the tank
// at 90 %, to the gram. facts are its base van's; where they do not say where
// the people sat or the tank is, the ticket must need neither.
//
// Error: what engineering.UnladenFrontKg says of a reading beyond its limits.
func EmptyKG(van *Van, facts catalogue.Facts) (Axles, error) {
	out := Axles{FrontKG: *van.WeighedFrontKG, RearKG: *van.WeighedRearKG}
	if van.WeighedPeopleCount == 0 && van.WeighedFuelPercent == nil {
		return out, nil
	}
	people, err := engineering.PeopleKg(decimal.NewFromInt(int64(van.WeighedPeopleCount)))
	if err != nil {
		return out, err
	}
	var fuel decimal.Decimal
	if p := van.WeighedFuelPercent; p != nil && *p != engineering.RunningOrderPercent {
		if fuel, err = engineering.FuelMissingKg(decimal.NewFromInt(int64(*p)), facts.Number(catalogue.FuelTankL), fuelKGPerL); err != nil {
			return out, err
		}
	}
	seats, tank := facts.Number(catalogue.CabSeatsFromFrontAxleMM), facts.Number(catalogue.FuelTankFromFrontAxleMM)
	wheelbase := facts.Number("wheelbase_mm")
	front, err := engineering.UnladenFrontKg(out.FrontKG, people, seats, fuel, tank, wheelbase)
	if err != nil {
		return out, err
	}
	rear, err := engineering.UnladenRearKg(out.RearKG, people, seats, fuel, tank, wheelbase)
	return Axles{FrontKG: front.Round(massPlaces), RearKG: rear.Round(massPlaces)}, err
}

// fuelKGPerL is the density of diesel fuel: EN 590 allows 0.820 to 0.845 kg/l
// at 15 °C (from memory).
var fuelKGPerL = decimal.New(84, -2)

// fittedMass is what count of a fitted feature weigh, as far as the catalogue
// says.
func (e *expansion) fittedMass(feature, count int) axles {
	f := &e.r.catalogue.Features[feature]
	if f.Removal == nil || count <= 0 {
		return axles{}
	}
	kg, ok := amountOf(f.Removal.MassKG)
	if ok {
		kg, ok = kg.count(count)
	}
	if !ok {
		e.breaks("features/"+f.Code+"/removal/mass_kg", "The mass is too large.")
	}
	return e.placed(kg, e.p.sits[feature])
}

// differences is what the van's fittings weigh more than its base van's.
func (e *expansion) differences(v *vanProgram) axles {
	var has, standard axles
	for i, k := range e.feature {
		if k >= 0 {
			has = has.plus(e.fittedMass(k, e.spec.Features[i].Count-e.spec.Features[i].Fit))
		}
	}
	for i, k := range e.removed {
		if k >= 0 {
			has = has.plus(e.fittedMass(k, e.spec.Removed[i].Count))
		}
	}
	for _, s := range v.standard {
		standard = standard.plus(e.fittedMass(s.feature, s.count))
	}
	return has.minus(standard)
}

// giveTotals gives formulas of checks what the ledger comes to.
func (e *expansion) giveTotals(m *masses, hours amount) {
	for i, a := range [...]amount{
		m.added.total - m.removed.total, hours, m.left(), m.after.total, m.after.front(), m.after.rear,
		m.running.total, m.plated - m.running.total, m.laden.total, m.frontMost, m.rearMost,
	} {
		if t := &e.p.totals[i]; t.read {
			e.values.SetExact(t.slot, a.exact())
		}
	}
}

// totalNames are in the order of giveTotals.
var totalNames = [...]string{
	formula.SheetMassKG, formula.SheetHours, formula.SheetLeftKG, formula.SheetUnladenKG, formula.SheetUnladenFrontKG, formula.SheetUnladenRearKG,
	formula.SheetRunningOrderKG, formula.SheetPayloadKG, formula.SheetLadenKG, formula.SheetFrontMostKG, formula.SheetRearMostKG,
}

// totalSlot is where formulas read a total, and whether any does.
type totalSlot struct {
	slot formula.Slot
	read bool
}

// ledger is the masses as shown.
func (e *expansion) ledger(m *masses) Mass {
	out := Mass{
		AddedKG: m.added.total.decimal(), RemovedKG: m.removed.total.decimal(), UnladenKG: m.before.total.decimal(), Weighed: m.weighed,
		PlatedKG: m.plated.decimal(), LeftKG: m.left().decimal(),
		Before: m.before.shown(), After: m.after.shown(), InRunningOrder: m.running.shown(), Laden: m.laden.shown(),
		Most:   Axles{FrontKG: m.frontMost.decimal(), RearKG: m.rearMost.decimal()},
		Plated: Axles{FrontKG: m.platedFront.decimal(), RearKG: m.platedRear.decimal()},
	}
	e.byPosition(&out, m.added.total)
	v := &e.p.vans[e.van]
	for i := range e.loads {
		l := &e.loads[i]
		if l.kg == 0 {
			continue
		}
		c := &e.r.catalogue.Loads[e.p.loads[i].index]
		out.Loads = append(out.Loads, LoadMass{Load: c.Code, Name: c.Name, Kind: c.Kind, MassKG: l.kg.decimal(),
			InRunningOrderKG: l.running.decimal(), Position: c.Position, Where: v.positions[e.p.loads[i].position].where})
	}
	return out
}

// byPosition fills in what is added and taken out where. Lines are rounded to
// the gram and so are positions; the heaviest has the few grams between them, so
// that positions add up to what is added.
func (e *expansion) byPosition(out *Mass, all amount) {
	v := &e.p.vans[e.van]
	e.addedAt, e.removedAt = resized(e.addedAt, len(v.positions)), resized(e.removedAt, len(v.positions))
	for i := range e.given {
		g := &e.given[i]
		kg, _ := g.needed.times(e.p.cells[g.cell].mass)
		e.addedAt[g.position] += kg
	}
	for i := range e.spec.Additions {
		a := &e.spec.Additions[i]
		kg, _ := a.kg()
		e.addedAt[e.r.positionOf(a.Position)] += kg
	}
	for i, k := range e.removed {
		if k >= 0 {
			e.removedAt[e.p.sits[k]] += e.fittedMass(k, e.spec.Removed[i].Count).total
		}
	}
	heaviest, rest := unplaced, all
	for i := range e.addedAt {
		e.addedAt[i] = e.addedAt[i].round(massPlaces)
		rest -= e.addedAt[i]
		if e.addedAt[i] > e.addedAt[heaviest] {
			heaviest = i
		}
	}
	e.addedAt[heaviest] += rest
	out.UnplacedKG = e.addedAt[unplaced].decimal()
	for i := range e.r.catalogue.Positions {
		c := &e.r.catalogue.Positions[i]
		added, removed := e.addedAt[i+1], e.removedAt[i+1].round(massPlaces)
		if added != 0 || removed != 0 {
			out.Positions = append(out.Positions, PositionMass{Position: c.Code, Name: c.Name, AddedKG: added.decimal(),
				RemovedKG: removed.decimal(), Where: v.positions[i+1].where})
		}
	}
}

// positionOf is the number of a position by its code; unplaced for none.
func (r *Release) positionOf(code string) int32 {
	if code == "" {
		return unplaced
	}
	return int32(1 + find(r.catalogue.Positions, func(p catalogue.Position) bool { return p.Code == code }))
}
