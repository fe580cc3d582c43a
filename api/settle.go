package api

import (
	"context"
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/bom"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// settleChoices answers with choices completed, and keeps nothing. What is
// cheapest does not depend on who asks, as with ways out.
func (s *Server) settleChoices(c *gin.Context) error {
	asked, err := decode[openapi.SettleRequest](c)
	if err != nil {
		return err
	}
	q, err := s.inquire(c, question{asked.Van, asked.Choices, asked.Additions, asked.Terms, ""})
	if err != nil {
		return err
	}
	o, terms, role := &q.offer, q.terms, principal(c).Role
	aim := settleAim(asked.How, o.book, terms)
	if aim != nil {
		aim = awaited{aim, c.Request.Context()}
	}
	found, faults, err := bom.SettleFor(o.release, q.van, q.choices, aim, bom.SettleSteps)
	if err == nil && len(faults) > 0 {
		return choicesRefused(faults)
	}
	var before, after pricing.Priced
	if err == nil {
		before, err = pricing.Price(found.Before.Sheet, found.Before.Resolution.Specification, o.book, terms)
	}
	if err == nil {
		after, err = pricing.Price(found.After.Sheet, found.After.Resolution.Specification, o.book, terms)
	}
	if errors.As(err, &faults) {
		return termsRefused(faults)
	}
	if err != nil {
		return engineProblem(err)
	}
	notReady := contractNotReady(bom.Ready(o.release, found.After.Resolution.Specification, found.After.Sheet), after, role)
	out := openapi.SettledChoices{
		Release: releaseOf(o.number, o.release), Edition: o.book.Edition().Code, Engine: options.Engine, How: asked.How,
		Choices: contractChoices(found.Choices), Settled: found.After.Resolution.Specification.Settled,
		Allowed: found.After.Resolution.Specification.Allowed, Steps: whole(found.Steps),
		Added:  mapped(found.Added, contractSettled),
		Before: contractTotals(found.Before.Sheet, before, role), After: contractTotals(found.After.Sheet, after, role),
		ReadyToIssue: len(notReady) == 0, NotReady: notReady,
	}
	switch {
	case found.Proved:
		out.Verdict = openapi.SettledChoicesVerdictProved
	case aim != nil:
		out.Verdict = openapi.SettledChoicesVerdictBestFound
	}
	return answer(c, http.StatusOK, out)
}

// settleAim is what a way of settling looks for; nil goes by the defaults.
func settleAim(how openapi.SettleHow, book *pricebook.Compiled, terms pricing.Terms) bom.Aim {
	switch how {
	case openapi.SettleHowCheaply:
		return pricing.Cheaply(book, terms)
	case openapi.SettleHowLightly:
		return bom.Lightly()
	case openapi.SettleHowByDefaults:
	}
	return nil
}

// awaited is an aim as long as somebody waits for the answer.
type awaited struct {
	bom.Aim
	request context.Context
}

func (a awaited) Cost(spec *bom.Specification, sheet *bom.Sheet) (cost int64, unknown int, err error) {
	if err := a.request.Err(); err != nil {
		return 0, 0, err
	}
	return a.Aim.Cost(spec, sheet)
}

func contractSettled(a bom.Added) openapi.SettledAddition {
	return openapi.SettledAddition{
		Feature: a.Feature, Count: whole(a.Count), Group: a.Group, Stage: a.Stage, Finish: a.Finish.Finish, Choice: a.Finish.Choice,
		Name: a.Name, ComesWith: a.ComesWith, Why: a.Why,
	}
}
