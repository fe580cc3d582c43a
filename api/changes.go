package api

import (
	"errors"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/auth"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing"
)

// listChanges answers what every change of the choices would do, and keeps
// nothing.
func (s *Server) listChanges(c *gin.Context) error {
	asked, err := decode[openapi.ChangesRequest](c)
	if err != nil {
		return err
	}
	q, err := s.inquire(c, question{asked.Van, asked.Choices, asked.Additions, asked.Terms, asked.Settle})
	if err != nil {
		return err
	}
	o, role := &q.offer, principal(c).Role
	trial, faults, err := bom.Try(o.release, q.van, q.choices, q.settle)
	if err != nil {
		return engineProblem(err)
	}
	if len(faults) > 0 {
		return choicesRefused(faults)
	}
	defer trial.End()
	priced, err := pricing.Try(trial, o.book, q.terms, nil)
	if err != nil {
		return pricingProblem(err)
	}
	defer priced.End()
	first := &trial.First
	out := openapi.Changes{
		Release: releaseOf(o.number, o.release), Edition: o.book.Edition().Code, Engine: options.Engine,
		Settled: first.Specification.Settled, Hours: plain(first.Tally.Hours()), LeftKg: plain(first.Tally.LeftKG()),
		Changes: []openapi.Change{},
	}
	if seesPrices(role) {
		out.Gross = contractAmount(priced.First.Totals.Gross)
	}
	tell := changeTeller{trial: trial, role: role, include: asked.Include}
	days := slotTeller{s: s, c: c, asked: &q, found: map[string]openapi.Period{}}
	if asked.Slots {
		if out.Slot, err = days.of(q.choices); err != nil {
			return err
		}
	}
	err = priced.Effects(func(e *pricing.Effect) error {
		change := tell.change(e)
		if asked.Slots {
			if change.Slot, err = days.of(trial.Choices(e.Change)); err != nil {
				return err
			}
		}
		out.Changes = append(out.Changes, change)
		return c.Request.Context().Err() // nobody may wait for the rest
	})
	if err != nil {
		return pricingProblem(err)
	}
	return answer(c, http.StatusOK, out)
}

// pricingProblem says what an error of pricing, or of the engine on the way,
// means to whoever asked.
func pricingProblem(err error) error {
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return termsRefused(faults)
	}
	return engineProblem(err)
}

// changeTeller writes effects as the contract has them, for a role.
type changeTeller struct {
	trial   *bom.Trial
	role    auth.Role
	include []openapi.ChangesRequestInclude
}

func (t *changeTeller) wants(part openapi.ChangesRequestInclude) bool {
	return t.include == nil || slices.Contains(t.include, part)
}

func (t *changeTeller) change(e *pricing.Effect) openapi.Change {
	c := &e.Change
	out := openapi.Change{
		Kind: openapi.ChangeKind(c.Kind), Feature: c.Feature, Count: whole(c.Count), InsteadOf: c.InsteadOf,
		Finish: c.Finish.Finish, Choice: c.Finish.Choice, Name: t.trial.Name(*c),
		Whole: e.Whole, Hours: plain(e.Hours), NetKg: plain(e.NetKG), Settled: e.Settled,
		NotMet: mapped(e.NotMet, func(k *catalogue.Check) openapi.CheckChange {
			return openapi.CheckChange{Code: k.Code, Name: k.Name, Grade: openapi.CheckChangeGrade(k.Grade), Says: k.Says, Remedy: k.Remedy}
		}),
		Met: mapped(e.Met, func(k *catalogue.Check) openapi.CheckChange {
			return openapi.CheckChange{Code: k.Code, Name: k.Name, Grade: openapi.CheckChangeGrade(k.Grade)}
		}),
		PutAside: orNone(e.Aside),
	}
	if seesPrices(t.role) {
		out.Gross = contractAmount(e.Gross)
		switch {
		case e.Refused:
			out.Discount = openapi.ChangeDiscountRefused
		case e.GivenAgain:
			out.Discount = openapi.ChangeDiscountGivenAgain
		}
		for _, g := range e.Gaps {
			out.Gaps = append(out.Gaps, g.Says)
		}
	}
	if t.role.SeesCost() {
		out.Cost, out.Margin = contractAmount(e.Cost), contractAmount(e.Margin)
	}
	if t.wants(openapi.ChangesRequestIncludeFeatures) {
		out.Features = mapped(e.Features, func(f bom.FeatureChange) openapi.FeatureChange {
			return openapi.FeatureChange{Feature: f.Code, Name: f.Name, More: whole(f.More)}
		})
	}
	if t.wants(openapi.ChangesRequestIncludeParts) {
		out.Parts = mapped(e.Parts, func(p bom.PartChange) openapi.PartChange {
			return openapi.PartChange{Kind: openapi.PartChangeKind(p.Kind), Code: p.Code, Finish: p.Finish, Name: p.Name, Unit: p.Unit,
				More: plain(p.More.Decimal())}
		})
	}
	if t.wants(openapi.ChangesRequestIncludeChoices) {
		out.Choices = contractChoices(t.trial.Choices(*c))
	}
	return out
}
