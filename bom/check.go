package bom

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// checks compares figures and totals with their limits. In them, sheet.mass_kg
// is what the work adds to the van less what it takes off, sheet.hours all
// hands-on hours, sheet.left_kg what is left of the plated mass; the others are
// of the van as it leaves: see totalNames.
func (e *expansion) checks(m *masses) []CheckResult {
	if len(e.p.checks) == 0 {
		return nil
	}
	e.giveTotals(m, e.hours)
	list := make([]CheckResult, 0, len(e.p.checks))
	for i := range e.p.checks {
		if result, ok := e.check(&e.p.checks[i]); ok {
			list = append(list, result)
		}
	}
	return list
}

// check works one check out; false where it is not made, or cannot be.
func (e *expansion) check(k *check) (CheckResult, bool) {
	exactFigure, exactLimit, met, made := e.compare(k)
	if !made {
		return CheckResult{}, false
	}
	c := &e.r.catalogue.Checks[k.index]
	figure, limit := exactFigure.Decimal(), exactLimit.Decimal()
	result := CheckResult{Code: c.Code, Name: c.Name, Grade: c.Grade, Figure: shownFigure(figure), Sense: c.Sense,
		Limit: shownFigure(limit), Unit: c.Unit, Cites: c.Cites, Met: met}
	if !met {
		result.Says, result.Remedy = c.Says, c.Remedy
		result.Answer, result.Answered = e.spec.answered(c, figure)
	} else if !c.NearPercent.IsZero() {
		near := limit.Mul(c.NearPercent).Shift(-2).Abs()
		result.Near = figure.Sub(limit).Abs().LessThanOrEqual(near)
	}
	return result, true
}

// compare works out the two sides of a check and whether it is met.
func (e *expansion) compare(k *check) (figure, limit formula.Exact, met, made bool) {
	if k.when != nil {
		there, err := k.when.Truth(e.values)
		if err != nil {
			e.breaksBy(k.at+"/when", err)
		}
		if !there {
			return figure, limit, false, false
		}
	}
	figure, err := k.figure.Exact(e.values)
	if err != nil {
		e.breaksBy(k.at+"/figure", err)
		return figure, limit, false, false
	}
	if limit, err = k.limit.Exact(e.values); err != nil {
		e.breaksBy(k.at+"/limit", err)
		return figure, limit, false, false
	}
	return figure, limit, holds(e.r.catalogue.Checks[k.index].Sense, figure.Compare(limit)), true
}

// holds says whether a figure stands to a limit as it must: -1, 0, 1 for below,
// at, above it.
func holds(sense catalogue.Sense, figureToLimit int) bool {
	if sense == catalogue.AtMost {
		return figureToLimit <= 0
	}
	return figureToLimit >= 0
}

// NotReady is one thing that stands between a specification and issuing it.
type NotReady struct {
	// Code is stable and meant for programs.
	Code NotReadyCode `json:"code"`
	// About is the code of the check or the addition, or the path of the
	// formula.
	About string `json:"about,omitempty"`
	// Says is the whole sentence.
	Says string `json:"says"`
}

// NotReadyCode says what kind of thing it is.
type NotReadyCode string

// The codes.
const (
	NotAllowed  NotReadyCode = "not_allowed"   // choices contradict each other or a rule
	NotSettled  NotReadyCode = "not_settled"   // something is still to choose
	NoVan       NotReadyCode = "no_van"        // work is fitted, and to no van
	CheckNotMet NotReadyCode = "check_not_met" // a must
	// CheckWaits: a should that is not met waits for the owner.
	CheckWaits    NotReadyCode = "check_waits_for_owner"
	FormulaBroken NotReadyCode = "formula_broken" // the catalogue gives no usable number here
	// WaitsForForeman: an addition touches what can hurt people.
	WaitsForForeman NotReadyCode = "waits_for_foreman"
	// NothingToReplace: the sheet has less of a part than the customer brings
	// in its place.
	NothingToReplace NotReadyCode = "nothing_to_replace"
)

// Ready says what stands between a specification with its sheet and issuing
// it; nothing when it is ready. A check that must be met stops it until it is,
// or evidence answers it; one that should be met until the owner goes on. A
// finish still to choose does not count.
func Ready(r *Release, s Specification, sheet Sheet) []NotReady {
	var list []NotReady
	add := func(code NotReadyCode, about, format string, args ...any) {
		list = append(list, NotReady{Code: code, About: about, Says: fmt.Sprintf(format, args...)})
	}
	if !s.Allowed {
		add(NotAllowed, "", "Some choices do not fit with the others and were put aside.")
	}
	if !s.Settled {
		add(NotSettled, "", "Something is still to choose before every rule is kept.")
	}
	if s.Van.None && !r.suppliesOnly(s) {
		add(NoVan, "", "There is work to fit, but no van is named.")
	}
	for _, c := range sheet.Checks {
		if c.Met || c.Answered {
			continue
		}
		code, waits := CheckNotMet, ""
		if c.Grade == catalogue.Should {
			code, waits = CheckWaits, " Or the owner goes on, with a reason."
		}
		add(code, c.Code, "%s: %s is not %s %s. %s%s", c.Name, inUnit(c.Figure, c.Unit), c.Sense, inUnit(c.Limit, c.Unit), c.Remedy, waits)
	}
	for i := range s.Additions {
		if a := &s.Additions[i]; a.NeedsForeman() {
			add(WaitsForForeman, a.Code, "“%s” touches %s and waits for the foreman's yes.", a.Words, a.touches())
		}
	}
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		if l.InPlaceOf != nil && l.InPlaceOf.Fewer.LessThan(l.Quantity) {
			add(NothingToReplace, l.Code, "“%s” stands in for %s × %s, but the sheet has only %s of it.",
				l.Name, l.Quantity, l.InPlaceOf.Name, l.InPlaceOf.Fewer)
		}
	}
	for _, b := range sheet.Broken {
		add(FormulaBroken, b.At, "The catalogue's formula at %s gives no usable number here: %s", b.At, b.Reason)
	}
	return list
}

// inUnit writes a figure with its unit as people do.
func inUnit(figure decimal.Decimal, unit string) string {
	return strings.TrimSpace(figure.String() + " " + formula.UnitWords(unit))
}

// suppliesOnly says whether the kind of work is one without fitting.
func (r *Release) suppliesOnly(s Specification) bool {
	for _, f := range s.Features {
		if k, ok := r.features[f.Code]; ok && f.Count > 0 && r.catalogue.Features[k].SupplyOnly {
			return true
		}
	}
	return false
}
