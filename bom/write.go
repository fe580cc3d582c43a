package bom

import "wainscot/bom/catalogue"

// write makes lines, stages, trades and certificates of what the cells came to.
func (e *expansion) write(sheet *Sheet) {
	lines := 0
	at := int32(0)
	for i := range e.totals {
		t := &e.totals[i]
		t.at = at
		at += t.given
		if t.given > 0 {
			lines++
		}
	}
	because := e.reasons(int(at))
	stages, trades := e.emptyTotals()
	sheet.Lines = taken(&e.room.lines, lines)[:0]
	tradeOf := e.tradeNumbers()
	for i := range e.totals {
		t := &e.totals[i]
		if t.given == 0 {
			continue
		}
		c := &e.p.cells[i]
		quantity := c.rounded(t.issued)
		mass, ok := c.kg(t.needed)
		var ok2 bool
		if e.addedKG, ok2 = e.addedKG.plus(mass); !ok || !ok2 {
			e.breaks(c.at()+"/mass_kg", "The mass is too large.")
		}
		e.addRear(c, t.rear)
		stage := &e.r.catalogue.Stages[e.r.stages[c.stage]]
		end := t.at // reasons moved it on to the end of its own
		shown := because[end-1].Quantity
		if quantity != t.issued || t.given != 1 {
			shown = quantity.decimal()
		}
		sheet.Lines = append(sheet.Lines, Line{Stage: stage.Code, Kind: lineKinds[c.kind], Code: c.code, Finish: c.finish,
			Name: c.name, Quantity: shown, Unit: c.unit, MassKG: mass.decimal(), Provision: c.provision,
			Because: because[end-t.given : end : end]})
		s := &stages[c.stage]
		s.lines++
		switch c.kind {
		case hoursKind:
			s.hours, _ = s.hours.plus(quantity)
			trade := &trades[tradeOf[c.code]]
			*trade, _ = trade.plus(quantity)
			if e.hours, ok = e.hours.plus(quantity); !ok {
				e.breaks(c.at(), tooLarge)
			}
		case standingKind:
			s.standing = quantity
		case outsideKind:
			sheet.Certificates = withCertificate(sheet.Certificates, c)
		}
	}
	for n, i := range e.r.stages {
		s := &e.r.catalogue.Stages[i]
		sheet.Stages = append(sheet.Stages, StageTotal{Stage: s.Code, Name: s.Name, Hours: stages[n].hours.decimal(),
			StandingHours: stages[n].standing.decimal(), Lines: stages[n].lines})
	}
	for i, t := range e.r.catalogue.Trades {
		sheet.Trades = append(sheet.Trades, TradeTotal{Trade: t.Code, Name: t.Name, Hours: trades[i].decimal()})
	}
	sheet.Hours = e.hours.decimal()
}

// taken takes n empty members out of memory, which is made anew where it does
// not go as far: what was taken before keeps the old.
func taken[T any](memory *[]T, n int) []T {
	at := len(*memory)
	if *memory == nil || cap(*memory)-at < n {
		*memory, at = make([]T, 0, max(2*cap(*memory), n)), 0
	}
	*memory = (*memory)[:at+n]
	return (*memory)[at : at+n : at+n]
}

// kg is what so much of a cell's thing weighs; false when that is too large.
func (c *cell) kg(needed amount) (amount, bool) {
	mass, ok := needed.times(c.mass)
	return mass.round(massPlaces), ok
}

// addRear adds to the rear axle what of a cell's mass rests there, of so much of
// its thing as does.
func (e *expansion) addRear(c *cell, rear amount) {
	kg, ok := c.rearKG(rear)
	var ok2 bool
	if e.rearKG, ok2 = e.rearKG.plus(kg); !ok || !ok2 {
		e.breaks(c.at()+"/mass_kg", "The mass is too large.")
	}
}

func (c *cell) rearKG(rear amount) (amount, bool) {
	kg, ok := rear.times(c.mass)
	return kg.round(massPlaces), ok
}

// rounded is what a cell's line shows: parts rounded up to their own decimals, hours half up; kits and visits as they come.
func (c *cell) rounded(a amount) amount {
	switch c.kind {
	case partKind:
		return a.roundUp(c.decimals)
	case hoursKind, standingKind:
		return a.round(hoursPlaces)
	}
	return a.round(noisePlaces)
}

// reasons writes all reasons, those of one cell next to each other in the
// order they were found.
func (e *expansion) reasons(n int) []Because {
	list := taken(&e.room.because, n)
	for i := range e.given {
		g := &e.given[i]
		t := &e.totals[g.cell]
		b := &list[t.at]
		t.at++
		if g.feature >= 0 {
			b.Feature = e.r.featureCodes[g.feature]
		}
		if g.rate != nil {
			b.Quantity, b.Says = g.issued.decimal(), g.rate.says
			continue
		}
		if g.addition != 0 {
			e.becauseOf(b, g)
			continue
		}
		b.Removal, b.Via, b.Says = g.removal, g.ask.via, g.ask.says
		if g.known {
			b.Quantity = g.ask.known.issued
		} else {
			b.Quantity = g.issued.decimal()
		}
	}
	return list
}

// at is the path of what a cell is for.
func (c *cell) at() string {
	return [...]string{"kits/", "parts/", "trades/", "outside_work/", "stages/"}[c.kind] + c.code
}

type stageTotal struct {
	hours, standing amount
	lines           int
}

func (e *expansion) emptyTotals() ([]stageTotal, []amount) {
	return make([]stageTotal, len(e.r.stages)), make([]amount, len(e.r.catalogue.Trades))
}

func (e *expansion) tradeNumbers() map[string]int {
	return index(e.r.catalogue.Trades, func(t *catalogue.Trade) string { return t.Code })
}

func withCertificate(list []Certificate, c *cell) []Certificate {
	paper := Certificate{Name: c.certificate, Outside: c.code}
	if paper.Name == "" || find(list, func(p Certificate) bool { return p == paper }) >= 0 {
		return list
	}
	return append(list, paper)
}

// leavesOut gathers what the chosen kind of work does not include.
func (e *expansion) leavesOut() []string {
	var list []string
	for i, k := range e.feature {
		if k < 0 || e.spec.Features[i].Count == 0 {
			continue
		}
		for _, says := range e.r.catalogue.Features[k].LeavesOut {
			if find(list, func(s string) bool { return s == says }) < 0 {
				list = append(list, says)
			}
		}
	}
	return list
}
