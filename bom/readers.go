package bom

import (
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// readers say what has to be worked out again when a name changes.
type readers struct {
	feature []readBy  // by feature: how many there are, or are fitted
	finish  []readBy  // by finish: what was picked
	figure  []readBy  // by figure of the catalogue
	rates   [][]*rate // by cell of hours
}

// readBy is what reads one name.
type readBy struct {
	figures []int // of the catalogue
	// Lists of wants with one among them that reads it.
	fit, removal []int // by feature
	stages       []int // in the order of work
}

// readers finds what reads what, once all formulas are ready.
func (b *compiler) readers() {
	p := &b.r.sheet
	r := &p.readers
	r.feature = make([]readBy, len(b.c.Features))
	r.finish = make([]readBy, len(b.c.Finishes))
	r.figure = make([]readBy, len(b.c.Figures))
	r.rates = make([][]*rate, len(p.cells))
	figures := index(b.c.Figures, func(f *catalogue.Figure) string { return f.Code })
	read := func(f *formula.Formula, note func(*readBy)) {
		if f == nil {
			return
		}
		for _, name := range f.Uses() {
			if k, ok := figures[name]; ok {
				note(&r.figure[k])
			} else if k, ok := b.r.features[strings.TrimPrefix(name, "fit.")]; ok {
				note(&r.feature[k])
			} else if code, ok := strings.CutPrefix(name, "finish."); ok {
				if k, ok := b.r.finishes[code]; ok {
					note(&r.finish[k])
				}
			}
		}
	}
	for i := range p.figures {
		f := &p.figures[i]
		read(f.formula, func(by *readBy) { by.figures = once(by.figures, f.index) })
	}
	wants := func(lists [][]want, of func(*readBy) *[]int) {
		for k, list := range lists {
			note := func(by *readBy) { *of(by) = once(*of(by), k) }
			for i := range list {
				w := &list[i]
				read(w.when, note)
				read(w.quantity.formula, note)
				for j := range w.asks {
					read(w.asks[j].each.formula, note)
					if f := w.asks[j].finish; f >= 0 {
						note(&r.finish[f])
					}
				}
			}
		}
	}
	wants(p.fit, func(by *readBy) *[]int { return &by.fit })
	wants(p.removal, func(by *readBy) *[]int { return &by.removal })
	wants(p.stage, func(by *readBy) *[]int { return &by.stages })
	for _, list := range p.rates {
		for i := range list {
			r.rates[list[i].hours] = append(r.rates[list[i].hours], &list[i])
		}
	}
}

func once(list []int, n int) []int {
	if slices.Contains(list, n) {
		return list
	}
	return append(list, n)
}
