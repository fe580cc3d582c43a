package bom

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// quantity readies a quantity formula and holds its unit against the wanted one.
func (b *compiler) quantity(at, source, unit string) quantity {
	if source == "" {
		return quantity{fixed: oneUnit}
	}
	f := b.number(at, source, unit)
	if f == nil {
		return quantity{}
	}
	d, ok := f.ConstantNumber()
	if !ok {
		return quantity{formula: f, at: at}
	}
	a, ok := amountOf(d)
	if !ok || a < 0 {
		b.fault("out_of_range", at, fmt.Sprintf("%s is not a quantity.", d),
			fmt.Sprintf("Give one from 0 to %d.", largestAmount/oneUnit))
	}
	return quantity{fixed: a}
}

func (b *compiler) number(at, source, unit string) *formula.Formula {
	f, err := b.r.scope.Compile(source, formula.Number)
	if err != nil {
		b.formulaFault(at, source, err)
		return nil
	}
	b.sameUnit(at, f, unit)
	return f
}

// sameUnit faults a formula whose unit is known and is not the wanted one.
func (b *compiler) sameUnit(at string, f *formula.Formula, unit string) {
	if unit == "" {
		return
	}
	if err := f.Fits(unit); err != nil {
		b.formulaFault(at, f.Source(), err)
		b.faults[len(b.faults)-1].Code = "unit_mismatch"
	}
}

func (b *compiler) truth(at, source string) *formula.Formula {
	f, err := b.r.scope.Compile(source, formula.Truth)
	if err != nil {
		b.formulaFault(at, source, err)
		return nil
	}
	return f
}

// figures readies the figures and puts them in order.
func (b *compiler) figures() {
	byCode := index(b.c.Figures, func(f *catalogue.Figure) string { return f.Code })
	needs := make([][]int, len(b.c.Figures))
	made := make([]figure, len(b.c.Figures))
	for i, f := range b.c.Figures {
		at := "figures/" + f.Code + "/formula"
		unit := formula.UnitOf(f.Code)
		made[i] = figure{index: i, at: at, unit: unit, formula: b.number(at, f.Formula, unit)}
		slot, _ := b.r.scope.Slot(f.Code)
		b.r.sheet.names.figure = append(b.r.sheet.names.figure, slot)
		if made[i].formula == nil {
			continue
		}
		for _, name := range made[i].formula.Uses() {
			if k, ok := byCode[name]; ok {
				needs[i] = append(needs[i], k)
			}
		}
	}
	order, ring := inOrder(needs)
	if ring != nil {
		b.fault("cycle", "figures/"+b.c.Figures[ring[0]].Code+"/formula", "The figures need each other: "+
			arrows(ring, func(i int) string { return b.c.Figures[i].Code })+".", "Let one of them do without the next.")
		return
	}
	for _, i := range order {
		b.r.sheet.figures = append(b.r.sheet.figures, made[i])
	}
}

// checks readies the checks.
func (b *compiler) checks() {
	for i, k := range b.c.Checks {
		at := "checks/" + k.Code
		unit := formula.UnitOf("x_" + strings.ToLower(k.Unit))
		made := check{index: i, at: at}
		for _, part := range []struct {
			field, source string
			into          **formula.Formula
		}{{"/figure", k.Figure, &made.figure}, {"/limit", k.Limit, &made.limit}} {
			f, err := b.r.scope.CompileCheck(part.source, formula.Number)
			if err != nil {
				b.formulaFault(at+part.field, part.source, err)
				continue
			}
			b.sameUnit(at+part.field, f, unit)
			*part.into = f
		}
		if k.When != "" {
			f, err := b.r.scope.CompileCheck(k.When, formula.Truth)
			if err != nil {
				b.formulaFault(at+"/when", k.When, err)
			}
			made.when = f
		}
		for _, f := range []*formula.Formula{made.when, made.figure, made.limit} {
			if f != nil {
				b.readTotals(f)
			}
		}
		b.r.sheet.checks = append(b.r.sheet.checks, made)
	}
}

// readTotals notes which totals a formula of a check reads: only those are
// given to it.
func (b *compiler) readTotals(f *formula.Formula) {
	for _, name := range f.Uses() {
		if k := slices.Index(totalNames[:], name); k >= 0 {
			slot, _ := b.r.scope.Slot(name)
			b.r.sheet.totals[k] = totalSlot{slot: slot, read: true}
		}
	}
}
