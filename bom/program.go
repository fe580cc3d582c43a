package bom

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// program is what Expand runs: the catalogue's figures, lines and checks laid
// out so that nothing is searched for. Every place a want can end up in, a
// cell, is known beforehand: a stage, and a part, kit, trade or outside work
// there. Cells stand in the order of the sheet's lines, so adding up is all
// there is to do.
type program struct {
	names   names
	figures []figure // in the order they are worked out
	cells   []cell
	fit     [][]want // by feature
	removal [][]want // by feature
	stage   [][]want // by stage, in the order of work
	rates   [][]rate // by stage, in the order of work
	checks  []check
	vans    []vanProgram
	sits    []int32 // by feature: its position
	loads   []load
	totals  [len(totalNames)]totalSlot

	classFeatures, evidence []conditional

	places  []Place // by cell
	readers readers
}

// names are where formulas read their values.
type names struct {
	feature, fit []formula.Slot // by feature
	counted      []bool         // by feature
	finish       []formula.Slot // by finish
	figure       []formula.Slot // by figure of the catalogue
	newVan       formula.Slot
}

// vanProgram is what a base van says, where formulas read it.
type vanProgram struct {
	facts       []fact
	particulars []formula.Slot
	front, rear formula.Slot // the unladen masses

	plated, platedFront, platedRear       formula.Slot
	unladenKG, unladenRearKG              amount
	platedKG, platedFrontKG, platedRearKG amount
	standard                              []standing // what it comes with
	positions                             []position // unplaced, then the catalogue's
}

type fact struct {
	slot   formula.Slot
	number decimal.Decimal
	text   string
	yes    bool
	kind   catalogue.FactKind
}

type standing struct{ feature, count int }

// cell is a place on the sheet: what it would be as a line.
type cell struct {
	key
	name      string
	unit      string
	decimals  int
	mass      amount // of one unit, in kg
	provision catalogue.Provision
	cautions  cautions
	// certificate of outside work.
	certificate string
}

// key says where a cell stands among the others.
type key struct {
	stage  int // in the order of work
	kind   kind
	code   string
	finish string // of a part still to choose
}

// kind is a LineKind in the order of the sheet.
type kind uint8

const (
	kitKind kind = iota
	partKind
	hoursKind
	outsideKind
	standingKind
)

var lineKinds = [...]LineKind{KitLine, PartLine, HoursLine, OutsideLine, StandingLine}

// want is one line of the catalogue: what it asks for, and what that comes to
// when kits are taken apart.
type want struct {
	at       string // path in the catalogue
	when     *formula.Formula
	quantity quantity
	once     bool
	standing bool // glue under four windows cures as fast as under one
	stage    int
	position int32 // where the mass sits
	asks     []ask // the first is what the line itself names
}

// quantity is a number known beforehand, or a formula.
type quantity struct {
	fixed   amount
	formula *formula.Formula
	at      string
}

// ask is one thing a line comes to: its own target, or a component of the ask
// at of, so many for each one of that.
type ask struct {
	of    int32 // -1 for the line's own target
	cell  int32
	work  bool // hours, outside work, standing time: none of it where nothing is fitted
	each  quantity
	scrap amount
	// finish is where the part depends on a choice: by choice, the cell and
	// scrap, the one for "still to choose" first. Else -1.
	finish int32
	byPick []pick
	via    []string
	says   string
	// known is what the ask comes to for one of its feature where nothing
	// but constants say so; most do.
	known *known
}

// known is an ask worked out beforehand.
type known struct {
	share
	issued decimal.Decimal // as it stands on the sheet
}

type pick struct {
	cell  int32
	scrap amount
}

// rate is the use of a consumable by the hours of a trade at a stage.
type rate struct {
	hours   int32 // cell
	cell    int32
	perHour amount
	scrap   amount
	says    string
	order   int // among those of its stage
}

type figure struct {
	index   int // in the catalogue
	at      string
	formula *formula.Formula
	unit    string
}

type check struct {
	index               int
	at                  string
	when, figure, limit *formula.Formula
}

// lines lays out the lines of features and stages.
func (b *compiler) lines() {
	b.names()
	if len(b.faults) > 0 {
		return // codes that do not hold would only repeat themselves
	}
	l := &layout{b: b, cells: map[key]int32{}}
	p := &b.r.sheet
	p.fit = make([][]want, len(b.c.Features))
	p.removal = make([][]want, len(b.c.Features))
	for i := range b.c.Features {
		f := &b.c.Features[i]
		at := "features/" + f.Code
		p.fit[i] = l.wants(at+"/lines", f.Lines, f.Name, b.sits(i))
		if f.Removal != nil {
			p.removal[i] = l.wants(at+"/removal/lines", f.Removal.Lines, "Taking out "+the(f.Name), b.sits(i))
		}
	}
	p.stage = make([][]want, len(b.r.stages))
	for at, i := range b.r.stages {
		s := &b.c.Stages[i]
		p.stage[at] = l.wants("stages/"+s.Code+"/lines", s.Lines, "Any work at this stage", "")
	}
	for at := range b.r.stages { // additions may ask for any trade anywhere
		for i := range b.c.Trades {
			l.hours(at, b.c.Trades[i].Code)
		}
	}
	p.rates = make([][]rate, len(b.r.stages))
	l.rates()
	l.sort()
}

// names finds where formulas read what Expand gives them.
func (b *compiler) names() {
	p := &b.r.sheet
	n := &p.names
	slot := func(name string) formula.Slot {
		s, _ := b.r.scope.Slot(name) // NewScope has told of names that cannot be
		return s
	}
	for _, f := range b.c.Features {
		n.feature = append(n.feature, slot(f.Code))
		n.fit = append(n.fit, slot("fit."+f.Code))
		n.counted = append(n.counted, f.Count != nil)
	}
	for _, f := range b.c.Finishes {
		n.finish = append(n.finish, slot("finish."+f.Code))
	}
	n.newVan = slot(formula.VanNew)
	for _, base := range b.c.BaseVans {
		v := vanProgram{front: slot("van.unladen_front_kg"), rear: slot("van.unladen_rear_kg"),
			plated: slot("van.plated_kg"), platedFront: slot("van.plated_front_kg"), platedRear: slot("van.plated_rear_kg")}
		for _, f := range base.Facts {
			v.facts = append(v.facts, fact{slot: slot("van." + f.Name), number: f.Number, text: f.Text, yes: f.Yes, kind: f.Kind})
		}
		for _, m := range base.Particulars {
			v.particulars = append(v.particulars, slot("van."+m.Name))
		}
		for _, f := range base.Fitted {
			if k, ok := b.r.features[f.Feature]; ok {
				v.standard = append(v.standard, standing{k, max(f.Count, 1)})
			}
		}
		at := "base_vans/" + base.Code + "/facts/"
		kg := func(fact string) amount { return b.amount(at+fact, base.Facts.Number(fact)) }
		v.unladenRearKG = kg("unladen_rear_kg")
		v.unladenKG = kg("unladen_front_kg") + v.unladenRearKG
		v.platedKG, v.platedFrontKG, v.platedRearKG = kg("plated_kg"), kg("plated_front_kg"), kg("plated_rear_kg")
		p.vans = append(p.vans, v)
	}
}

func (b *compiler) amount(at string, d decimal.Decimal) amount {
	a, ok := amountOf(d)
	if !ok {
		b.fault("out_of_range", at, "The number is too large.", fmt.Sprintf("Give less than %d.", largestAmount/oneUnit))
	}
	return a
}

// layout collects wants and the cells they end in.
type layout struct {
	b     *compiler
	cells map[key]int32
}

func (l *layout) wants(at string, lines []catalogue.Line, says, sits string) []want {
	list := make([]want, len(lines))
	for i := range lines {
		line := &lines[i]
		here := fmt.Sprintf("%s/%d", at, i+1)
		because := says
		if line.Says != "" {
			because = says + ": " + strings.TrimSuffix(line.Says, ".")
		}
		list[i] = want{at: here, once: line.Once, standing: line.Standing, stage: l.b.stageOf[line.Stage],
			position: l.b.r.positionOf(cmp.Or(line.Position, sits))}
		if line.When != "" {
			list[i].when = l.b.truth(here+"/when", line.When)
		}
		list[i].quantity = l.b.quantity(here+"/quantity", line.Quantity, l.b.unitOf(line))
		list[i].asks = l.target(line, list[i].stage, because)
		list[i].know()
	}
	return list
}

// know works out beforehand what the asks come to that only constants go into.
func (w *want) know() {
	if w.quantity.formula != nil {
		return
	}
	for i := range w.asks {
		a := &w.asks[i]
		above := share{w.quantity.fixed, w.quantity.fixed}
		if a.of >= 0 {
			if w.asks[a.of].known == nil {
				continue
			}
			above = w.asks[a.of].known.share
		}
		if a.each.formula != nil || a.finish >= 0 {
			continue
		}
		if s, ok := above.of(a.each.fixed, a.scrap); ok {
			a.known = &known{s, s.issued.decimal()}
		}
	}
}

// unitOf gives the unit a line's quantity is in, as names end in it; "" where
// it may be anything.
func (b *compiler) unitOf(line *catalogue.Line) string {
	switch {
	case line.Part != "":
		if k, ok := b.parts[line.Part]; ok {
			return string(b.c.Parts[k].Unit)
		}
	case line.Kit != "":
		return "" // a kit may be made for one of anything: a metre of bead, a square metre of lining
	case line.Outside != "":
		return "visit"
	case line.Trade != "", line.Standing:
		return "h"
	case line.Finish != "":
		return b.finishUnit(line.Finish)
	}
	return ""
}

// finishUnit is the unit of all the parts a finish can pick, "" when they differ.
func (b *compiler) finishUnit(code string) string {
	unit := ""
	if f, ok := b.r.finishes[code]; ok {
		for _, choice := range b.c.Finishes[f].Choices {
			k, ok := b.parts[choice.Part]
			if !ok {
				continue
			}
			if u := string(b.c.Parts[k].Unit); unit == "" {
				unit = u
			} else if u != unit {
				return ""
			}
		}
	}
	return unit
}

// target gives what a line names and, for a kit, all that is in it.
func (l *layout) target(line *catalogue.Line, stage int, says string) []ask {
	top := ask{of: -1, finish: -1, each: quantity{fixed: oneUnit}, says: says}
	switch {
	case line.Part != "":
		part := &l.b.c.Parts[l.b.parts[line.Part]]
		top.cell, top.scrap = l.part(stage, part), l.scrap(part, nil)
	case line.Finish != "":
		l.finish(&top, stage, line.Finish, nil)
	case line.Trade != "":
		top.cell, top.work = l.hours(stage, line.Trade), true
	case line.Outside != "":
		work := &l.b.c.OutsideWork[l.b.outside[line.Outside]]
		top.work = true
		top.cell = l.cell(key{stage: stage, kind: outsideKind, code: work.Code},
			cell{name: work.Name, unit: "visit", certificate: work.Certificate, cautions: cautionsOf(work.Caution)})
	case line.Standing:
		top.work = true
		top.cell = l.cell(key{stage: stage, kind: standingKind}, cell{name: "Standing time", unit: "h"})
	case line.Kit != "":
		kit := &l.b.c.Kits[l.b.kits[line.Kit]]
		top.cell = l.kit(stage, kit)
		return l.explode([]ask{top}, 0, stage, kit, nil, says)
	}
	return []ask{top}
}

// explode adds the components of the kit that asks[of] asks for. Validate has
// seen to it that kits do not contain themselves and that all of them taken
// apart stay within bounds.
func (l *layout) explode(asks []ask, of int32, stage int, kit *catalogue.Kit, via []string, says string) []ask {
	via = append(slices.Clip(via), kit.Code)
	in := says + ", in: " + kit.Name
	at := "kits/" + kit.Code
	for i := range kit.Items {
		item := &kit.Items[i]
		here := fmt.Sprintf("%s/items/%d", at, i+1)
		a := ask{of: of, finish: -1, via: via, says: in,
			each: l.b.quantity(here+"/quantity", item.Quantity, l.b.unitOf(&catalogue.Line{Part: item.Part, Kit: item.Kit, Finish: item.Finish}))}
		switch {
		case item.Part != "":
			part := &l.b.c.Parts[l.b.parts[item.Part]]
			a.cell, a.scrap = l.part(stage, part), l.scrap(part, item.ScrapPercent)
			asks = append(asks, a)
		case item.Finish != "":
			l.finish(&a, stage, item.Finish, item.ScrapPercent)
			asks = append(asks, a)
		case item.Kit != "":
			inner := &l.b.c.Kits[l.b.kits[item.Kit]]
			a.cell, a.scrap = l.kit(stage, inner), l.scrap(nil, item.ScrapPercent)
			asks = append(asks, a)
			asks = l.explode(asks, int32(len(asks)-1), stage, inner, via, in)
		}
	}
	for i, h := range kit.Hours {
		asks = append(asks, ask{of: of, finish: -1, via: via, says: in, work: true, cell: l.hours(stage, h.Trade),
			each: l.b.quantity(fmt.Sprintf("%s/hours/%d/hours", at, i+1), h.Hours, "h")})
	}
	return asks
}

// finish fills in an ask whose part depends on a choice. While it is open the
// ask is counted and weighed like its default, or its first choice.
func (l *layout) finish(a *ask, stage int, code string, scrap *decimal.Decimal) {
	f := l.b.r.finishes[code]
	finish := &l.b.c.Finishes[f]
	a.finish = int32(f)
	a.byPick = make([]pick, 1+len(finish.Choices))
	like := 0
	for i, choice := range finish.Choices {
		part := &l.b.c.Parts[l.b.parts[choice.Part]]
		a.byPick[1+i] = pick{l.part(stage, part), l.scrap(part, scrap)}
		if choice.Code == finish.Default {
			like = i
		}
	}
	part := &l.b.c.Parts[l.b.parts[finish.Choices[like].Part]]
	open := l.partCell(part)
	open.name = finish.Name + ", still to choose"
	a.byPick[0] = pick{l.cell(key{stage: stage, kind: partKind, finish: finish.Code}, open), l.scrap(part, scrap)}
}

func (l *layout) part(stage int, part *catalogue.Part) int32 {
	return l.cell(key{stage: stage, kind: partKind, code: part.Code}, l.partCell(part))
}

func (l *layout) partCell(part *catalogue.Part) cell {
	return cell{name: part.Name, unit: string(part.Unit), decimals: part.Decimals, provision: part.Provision,
		mass: l.b.amount("parts/"+part.Code+"/mass_kg", part.MassKG)}
}

func (l *layout) kit(stage int, kit *catalogue.Kit) int32 {
	return l.cell(key{stage: stage, kind: kitKind, code: kit.Code}, cell{name: kit.Name, unit: string(catalogue.Each)})
}

func (l *layout) hours(stage int, trade string) int32 {
	return l.cell(key{stage: stage, kind: hoursKind, code: trade}, cell{name: l.b.c.Trades[l.b.trades[trade]].Name, unit: "h"})
}

func (l *layout) cell(k key, c cell) int32 {
	if n, ok := l.cells[k]; ok {
		return n
	}
	c.key = k
	cells := &l.b.r.sheet.cells
	*cells = append(*cells, c)
	l.cells[k] = int32(len(*cells) - 1)
	return int32(len(*cells) - 1)
}

// scrap is what of a part's issue is lost: what the kit says, else the part.
func (l *layout) scrap(part *catalogue.Part, instead *decimal.Decimal) amount {
	switch {
	case instead != nil:
		a, _ := amountOf(*instead) // its range is the catalogue's to check
		return a
	case part != nil:
		a, _ := amountOf(part.ScrapPercent)
		return a
	}
	return 0
}

// rates finds, for every trade that can work at a stage, the consumables that
// go by its hours.
func (l *layout) rates() {
	p := &l.b.r.sheet
	for n := 0; n < len(p.cells); n++ {
		if p.cells[n].kind != hoursKind {
			continue
		}
		hours := p.cells[n] // a copy: cells grow below
		for i := range l.b.c.Parts {
			part := &l.b.c.Parts[i]
			for j, r := range part.Rates {
				if r.Trade != hours.code {
					continue
				}
				p.rates[hours.stage] = append(p.rates[hours.stage], rate{
					hours: int32(n), cell: l.part(hours.stage, part), scrap: l.scrap(part, nil),
					perHour: l.b.amount(fmt.Sprintf("parts/%s/rates/%d/per_hour", part.Code, j+1), r.PerHour),
					says:    fmt.Sprintf("%s %s for every hour of work by %s", r.PerHour, part.Unit, the(hours.name)),
				})
			}
		}
	}
}

// sort puts the cells in the order of the sheet's lines.
func (l *layout) sort() {
	p := &l.b.r.sheet
	order := make([]int32, len(p.cells))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int {
		x, y := &p.cells[a].key, &p.cells[b].key
		return cmp.Or(cmp.Compare(x.stage, y.stage), cmp.Compare(x.kind, y.kind),
			strings.Compare(x.code, y.code), strings.Compare(x.finish, y.finish))
	})
	cells := make([]cell, len(order))
	to := make([]int32, len(order))
	for n, old := range order {
		cells[n], to[old] = p.cells[old], int32(n)
	}
	p.cells = cells
	for _, lists := range [][][]want{p.fit, p.removal, p.stage} {
		for _, list := range lists {
			for i := range list {
				for k := range list[i].asks {
					a := &list[i].asks[k]
					a.cell = to[a.cell]
					for j := range a.byPick {
						a.byPick[j].cell = to[a.byPick[j].cell]
					}
				}
			}
		}
	}
	for _, list := range p.rates {
		for i := range list {
			list[i].hours, list[i].cell, list[i].order = to[list[i].hours], to[list[i].cell], i
		}
	}
}
