package api

import (
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// findWaysOut answers how to come to a wish, or out of a contradiction, and
// keeps nothing. The ways are ranked by price also for those who are not shown
// it: what is best does not depend on who asks.
func (s *Server) findWaysOut(c *gin.Context) error {
	asked, err := decode[openapi.WaysOutRequest](c)
	if err != nil {
		return err
	}
	w, err := s.workOut(c, question{asked.Van, asked.Choices, asked.Additions, asked.Terms, asked.Settle})
	if err != nil {
		return err
	}
	found, faults, err := bom.FindWaysOut(w.offer.release, w.van, w.choices, domainWish(asked.Wish), w.priceChange(c))
	if err != nil {
		return engineProblem(err)
	}
	if len(faults) > 0 {
		return choicesRefused(faults)
	}
	out := openapi.WaysOut{
		Release: releaseOf(w.offer.number, w.offer.release), Edition: w.offer.book.Edition().Code, Engine: options.Engine,
		Said: mapped(found.Said, contractSaid), Ways: make([]openapi.WayOut, len(found.Ways)),
		Exact: found.Exact, Blocked: openapi.WaysOutBlocked(found.Blocked), Why: contractTold(found.Why),
	}
	for i := range found.Ways {
		out.Ways[i] = contractWayOut(&found.Ways[i])
		if !seesPrices(principal(c).Role) {
			continue
		}
		change, err := w.priced.Totals.Gross.WithMinor(found.Ways[i].PriceChange)
		if err != nil {
			return err
		}
		out.Ways[i].PriceChange = contractAmount(change)
	}
	return answer(c, http.StatusOK, out)
}

// priceChange gives by how much a way costs more, with VAT and in minor units,
// until nobody waits for it any more.
func (w *worked) priceChange(c *gin.Context) func(*bom.Way) (int64, error) {
	now := w.priced.Totals.Gross
	return func(way *bom.Way) (int64, error) {
		if err := c.Request.Context().Err(); err != nil {
			return 0, err
		}
		then, err := w.grossOf(roomOf(c), way.Choices)
		return then.Minor() - now.Minor(), err
	}
}

// grossOf is what other choices come to with VAT, all else as it was asked: in
// numbers alone where that will do, as dozens of ways are compared. The sheets
// of the others take turns in the room; what was made in it before is gone.
func (w *worked) grossOf(room *bom.Room, choices bom.Choices) (money.Amount, error) {
	x, faults, err := bom.Reckon(w.offer.release, w.van, choices, w.settle)
	if err == nil {
		err = faults.Err() // there are none: the choices were made here
	}
	if err != nil {
		return money.Amount{}, err
	}
	var priced pricing.Priced
	if x != nil {
		defer x.End()
		priced, err = pricing.PriceReckoned(x, w.offer.book, w.terms)
	} else {
		priced, err = w.priceOf(room, choices)
	}
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return money.Amount{}, termsRefused(faults)
	}
	return priced.Totals.Gross, err
}

// priceOf is the price of choices with which there are additions, or of which a
// finish of the package is put aside.
func (w *worked) priceOf(room *bom.Room, choices bom.Choices) (pricing.Priced, error) {
	resolution, faults, err := bom.Specify(w.offer.release, w.van, choices, w.settle)
	if err == nil {
		err = faults.Err() // as above
	}
	if err != nil {
		return pricing.Priced{}, err
	}
	room.Clear()
	return pricing.Price(bom.ExpandIn(room, w.offer.release, resolution.Specification), resolution.Specification, w.offer.book, w.terms)
}

func domainWish(o openapi.OneChoice) bom.Wish {
	return bom.Wish{
		Feature: bom.Choice{Want: o.Want, Refuse: o.Refuse, Count: int(o.Count)},
		Finish:  bom.FinishChoice{Finish: o.Finish, Choice: o.Choice},
	}
}

func contractWayOut(w *bom.Way) openapi.WayOut {
	return openapi.WayOut{
		Says: w.Says, Undone: whole(w.Undone), LeftOut: orNone(w.LeftOut), Choices: contractChoices(w.Choices),
		Changes: mapped(w.Changes, func(k bom.WayChange) openapi.WayChange {
			change := openapi.WayChange{Kind: openapi.WayChangeKind(k.Kind), From: contractOneChoice(k.From), To: contractOneChoice(k.To), Says: k.Says}
			if k.At != "" {
				change.At = fieldOf(k.At)
			}
			return change
		}),
	}
}

// contractOneChoice is the zero choice, which is left out, for none.
func contractOneChoice(k bom.WayChoice) openapi.OneChoice {
	return openapi.OneChoice{
		Want: k.Feature.Want, Refuse: k.Feature.Refuse, Count: whole(k.Feature.Count), Finish: k.Finish.Finish, Choice: k.Finish.Choice,
	}
}
