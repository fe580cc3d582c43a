package api

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// getQuoteContent gives what a quote's latest revision asks for, as it would be
// asked again. Nothing is worked out, so it can be had, and mended, when it is
// not of what the workshop offers any more.
func (s *Server) getQuoteContent(c *gin.Context) error {
	id, err := pathID(c, "quote")
	if err != nil {
		return err
	}
	var head store.QuoteEntry
	var asked *quote.Asked
	var currency money.Currency
	err = s.readTx(c, func(tx store.ReadTx) error {
		if head, err = tx.Quote(id); err != nil {
			return err
		}
		revision, err := tx.Revision(id, head.Revision)
		if err != nil {
			return err
		}
		currency = money.Currency(revision.Currency)
		asked, err = askedBefore(&revision)
		return err
	})
	if err != nil {
		return notFoundIs(err, "quote")
	}
	return answerVersion(c, http.StatusOK, head.Version, contractContent(&head, asked, currency, principal(c).Role))
}

func contractContent(e *store.QuoteEntry, asked *quote.Asked, currency money.Currency, r auth.Role) openapi.QuoteContent {
	content := openapi.QuoteContent{
		Customer: idText(e.Customer), EndCustomer: idText(e.EndCustomer), Enquiry: idText(e.Enquiry),
		Terms: contractTerms(asked.Terms), SlotWantedOn: e.SlotWanted, FollowUpOn: e.FollowUpOn, Note: e.Note,
		Vans: make([]openapi.QuoteVanContent, len(asked.Vans)),
	}
	for i := range asked.Vans {
		v := &asked.Vans[i]
		van := openapi.QuoteVanContent{
			VanId: v.Van, Choices: contractChoices(v.Choices), Settle: contractSettle(v.Settle), Additions: contractAdditions(v, currency, r),
			Extras: mapped(v.Extras, func(x quote.AskedExtra) openapi.AskedExtra {
				return openapi.AskedExtra{Feature: x.Feature, Count: whole(x.Count)}
			}),
		}
		if v.Van == "" {
			van.Van = contractVan(v.Facts)
			if i < len(e.Vans) { // registration and VIN stand beside what was asked
				van.Van.Registration, van.Van.Vin = e.Vans[i].Plate, e.Vans[i].VIN
			}
		}
		content.Vans[i] = van
	}
	return content
}

// additionBefore is an addition that the draft had until now, if it is the same
// work on the same kind of van at the same place.
func additionBefore(before *quote.Asked, place int, now *quote.AskedVan, a bom.Addition) (approved bool, price pricing.AdditionPrice) {
	if before == nil || place >= len(before.Vans) {
		return false, price
	}
	was := &before.Vans[place]
	if was.Van != now.Van || was.Facts.BaseVan != now.Facts.BaseVan {
		return false, price
	}
	k := slices.IndexFunc(was.Choices.Additions, func(b bom.Addition) bool { return b.Code == a.Code })
	if k < 0 {
		return false, price
	}
	b := was.Choices.Additions[k]
	approved, b.Approved = b.Approved, false
	if !sameText(b, a) {
		return false, price
	}
	if k = slices.IndexFunc(was.Additions, func(p pricing.AdditionPrice) bool { return p.Code == a.Code }); k >= 0 {
		price = was.Additions[k]
	}
	return approved, price
}

// beginRevision opens a draft that asks for something else than the latest
// revision did; what is issued stands meanwhile, as with reviseQuote.
func (s *Server) beginRevision(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	before, err := s.contentBefore(c, id, version, mayBeRevised)
	if err != nil {
		return err
	}
	w, content, err := s.draft(c, id, before)
	if err != nil {
		return err
	}
	return s.keepRevision(c, id, version, w, content)
}

// mayBeRevised: a quote has one open revision, and none once it is accepted.
func mayBeRevised(state store.QuoteState) error {
	switch state {
	case store.Draft:
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "A draft is open already.", remedy: "Change that one."}
	case store.Accepted:
		return notDraft(state)
	}
	return nil
}

func (s *Server) keepRevision(c *gin.Context, id uuid.UUID, version int64, w *workedQuote, content store.QuoteContent) error {
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, err := tx.ReviseQuote(id, version, content)
		if err != nil {
			return reply{}, err
		}
		return keptReply(c, http.StatusCreated, w.shown(head)), nil
	})
}
