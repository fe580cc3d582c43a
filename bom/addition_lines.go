package bom

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// additions lays out what the specification's additions ask for: their hours
// go to the stage's own lines, so that what a stage and a trade take by
// themselves comes along.
func (e *expansion) additions() {
	list := e.spec.Additions
	for k := range list {
		a := &list[k]
		at := "specification/additions/" + a.Code
		stage := find(e.r.stages, func(i int) bool { return e.r.catalogue.Stages[i].Code == a.Stage })
		e.stageOf, e.fewer = append(e.stageOf, stage), append(e.fewer, 0)
		if stage < 0 {
			e.breaks(at+"/stage", "The release has no such stage.")
			continue
		}
		e.worked[stage] = true
		e.cautions |= cautionsOf(a.Touches)
		for _, h := range a.Hours {
			hours, ok := amountOf(h.Hours)
			cell := e.cell(key{stage: stage, kind: hoursKind, code: h.Trade})
			if !ok || hours < 0 || cell < 0 {
				e.breaks(at+"/hours", "The release has no such trade, or nobody works so many hours.")
				continue
			}
			if hours > 0 {
				e.give(given{cell: cell, feature: -1, addition: int32(k + 1), issued: hours}, hours)
			}
		}
	}
}

// cell finds a cell by what it is, -1 for none.
func (e *expansion) cell(k key) int32 {
	return int32(find(e.p.cells, func(c cell) bool { return c.key == k }))
}

// ownParts takes off what customers bring in place of parts of the sheet: at
// the addition's own stage first, then in the order of work. A line that comes
// to nothing is dropped.
func (e *expansion) ownParts() {
	dropped := false
	for k := range e.spec.Additions {
		a := &e.spec.Additions[k]
		if a.InPlaceOf == "" || e.stageOf[k] < 0 {
			continue
		}
		brought, _ := oneUnit.count(max(a.Quantity, 1))
		if own := e.cell(key{stage: e.stageOf[k], kind: partKind, code: a.InPlaceOf}); own >= 0 {
			dropped = e.inPlaceOf(k, own, brought) || dropped
		}
		for cell := range e.p.cells {
			if c := &e.p.cells[cell]; c.kind == partKind && c.code == a.InPlaceOf && e.fewer[k] < brought {
				dropped = e.inPlaceOf(k, int32(cell), brought) || dropped
			}
		}
	}
	if dropped {
		e.given = slices.DeleteFunc(e.given, func(g given) bool { return e.totals[g.cell].given == 0 })
	}
}

// inPlaceOf takes from a cell as many as addition k still brings in place of,
// with the scrap that goes with them, and says whether nothing is left. Three
// times two thirds are two here too: see noisePlaces.
func (e *expansion) inPlaceOf(k int, cell int32, brought amount) (dropped bool) {
	t := &e.totals[cell]
	take := brought - e.fewer[k]
	if t.given == 0 || t.needed == 0 || take <= 0 {
		return false
	}
	rest := t.needed - take
	if max(rest, -rest).round(noisePlaces) == 0 {
		e.fewer[k] = brought
		*t = total{}
		return true
	}
	take = min(take, t.needed)
	e.fewer[k] += take
	left, ok := muldiv(t.issued, t.needed-take, t.needed)
	if t.needed == take || !ok {
		*t = total{}
		return true
	}
	rear, _ := muldiv(t.rear, t.needed-take, t.needed)
	e.given = append(e.given, given{cell: cell, feature: -1, addition: int32(k + 1), issued: left - t.issued, needed: -take,
		position: e.given[find(e.given, func(g given) bool { return g.cell == cell })].position})
	t.given++
	t.issued, t.needed, t.rear = left, t.needed-take, rear
	return false
}

// becauseOf says what an addition has to do with a line of the catalogue's.
func (e *expansion) becauseOf(b *Because, g *given) {
	a := &e.spec.Additions[g.addition-1]
	b.Addition, b.Quantity = a.Code, g.issued.decimal()
	switch {
	case g.issued < 0:
		b.Says = "The customer brings instead: " + a.Words
	case a.Kind == CustomersOwn:
		b.Says = "Fitting the customer's own: " + a.Words
	default:
		b.Says = "One-off: " + a.Words
	}
}

// writeAdditions gives each addition its line, after the others of its stage,
// and its mass to the ledger.
func (e *expansion) writeAdditions(sheet *Sheet) {
	if len(e.spec.Additions) == 0 {
		return
	}
	order := make([]int, 0, len(e.spec.Additions))
	for k, stage := range e.stageOf {
		if stage >= 0 {
			order = append(order, k)
			sheet.Stages[stage].Lines++
		}
	}
	list := e.spec.Additions
	slices.SortStableFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(e.stageOf[i], e.stageOf[j]), cmp.Compare(additionLine(&list[i]), additionLine(&list[j])),
			cmp.Compare(list[i].Code, list[j].Code))
	})
	lines := make([]Line, 0, len(sheet.Lines)+len(order))
	rest := sheet.Lines
	for at, i := range e.r.stages {
		for len(rest) > 0 && rest[0].Stage == e.r.catalogue.Stages[i].Code {
			lines, rest = append(lines, rest[0]), rest[1:]
		}
		for len(order) > 0 && e.stageOf[order[0]] == at {
			lines, order = append(lines, e.additionLine(order[0])), order[1:]
		}
	}
	sheet.Lines = lines
}

// additionLine is the kind of an addition's line, in the order they stand.
func additionLine(a *Addition) int {
	if a.Kind == CustomersOwn {
		return 1
	}
	return 0
}

// kg is its mass as the ledger takes it; false when it is too large.
func (a Addition) kg() (amount, bool) {
	kg, ok := amountOf(a.MassKG)
	return kg.round(massPlaces), ok
}

func (e *expansion) additionLine(k int) Line {
	a := &e.spec.Additions[k]
	kg, _ := a.kg()
	quantity := decimal.New(int64(max(a.Quantity, 1)), 0)
	l := Line{Stage: a.Stage, Kind: OneOffLine, Code: a.Code, Name: a.Words, Quantity: quantity, Unit: string(catalogue.Each),
		MassKG: kg.decimal(), Unproved: true,
		Because: []Because{{Addition: a.Code, Quantity: quantity, Says: "Asked for besides what the catalogue has; nothing there has proved it"}}}
	if a.Kind != CustomersOwn {
		return l
	}
	l.Kind = OwnPartLine
	l.Because[0].Says = fmt.Sprintf("The customer brings it, due by %s; nothing in the catalogue has proved it", a.DueBy)
	if p := find(e.r.catalogue.Parts, func(p catalogue.Part) bool { return p.Code == a.InPlaceOf }); a.InPlaceOf != "" && p >= 0 {
		part := &e.r.catalogue.Parts[p]
		l.InPlaceOf = &InPlaceOf{Part: part.Code, Name: part.Name, Fewer: e.fewer[k].round(noisePlaces).decimal()}
		l.Because[0].Says = fmt.Sprintf("The customer brings it in place of %s, due by %s; nothing in the catalogue has proved it", the(part.Name), a.DueBy)
	}
	return l
}
