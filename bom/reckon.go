package bom

import (
	"fmt"

	"wainscot/bom/document"
)

// Reckoned is what a van and choices come to in numbers: all that a price, a
// list of quotes and the question whether it can be issued want to know.
type Reckoned struct {
	// Specification without the words, standings and what goes by reasons.
	Specification Specification
	// Sheet without its lines and what is summed by stage and trade.
	Sheet Sheet
	// Tally is good until End.
	Tally Tally

	e *expansion
}

// Places of the release; see Release.Places.
func (x *Reckoned) Places() []Place { return x.e.p.places }

// End gives back what it was reckoned in.
func (x *Reckoned) End() {
	if x.e != nil {
		x.e.end()
		x.e = nil
	}
}

// Reckon is Specify and Expand for those who want the numbers alone. It gives
// nil where some choice had to be put aside, since that takes words, and where
// there are additions, which a sheet has by its lines.
//
// Faults and errors as of Resolve.
func Reckon(r *Release, van Van, choices Choices, settle Settle) (*Reckoned, document.Faults, error) {
	if len(choices.Additions) > 0 {
		return nil, nil, nil
	}
	a, faults := r.read(van, choices, settle)
	if len(faults) > 0 {
		return nil, faults, nil
	}
	rules, err := r.rules(a.base)
	if err != nil {
		return nil, nil, err
	}
	t := Trial{r: r, settle: settle, engine: rules.Try(), counts: make([]int, len(r.featureCodes))}
	defer t.engine.End()
	saying := r.say(&a)
	s := specifying{r: r, asked: &a, saying: &saying, byDefaults: settle == SettleByDefaults, counts: t.counts}
	if s.said, err = t.take(saying.said); err != nil {
		return nil, nil, fmt.Errorf("reckoning: %w", err)
	}
	if len(t.engine.PutAside()) > 0 {
		return nil, nil, nil
	}
	s.settled = t.engine.Settled()
	x := &Reckoned{Specification: s.specification()}
	e := r.sheet.begin(r, &x.Specification)
	x.e = e
	e.count()
	x.Tally = e.tally()
	x.Sheet = Sheet{Format: SheetFormat, BaseVan: van.BaseVan, Hours: x.Tally.Hours()}
	x.Sheet.Mass = e.ledger(&x.Tally.masses)
	x.Sheet.Checks = e.checks(&x.Tally.masses)
	x.Sheet.Broken = e.broken
	return x, nil, nil
}
