package api

import (
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// approveAddition keeps the foreman's yes to an addition of the draft as it
// stands. It is part of what is asked for, so changing the addition takes it
// away.
func (s *Server) approveAddition(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.Approval](c)
	if err != nil {
		return err
	}
	head, asked, from, err := s.draftToIssue(c, id, version, "", false)
	if err != nil {
		return err
	}
	if err := approve(asked, int(sent.Van), sent.Addition); err != nil {
		return err
	}
	w, err := s.workDraft(c, from, asked)
	if err != nil {
		return err
	}
	content, err := w.keepable(contentOf(&head))
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, err := tx.ApproveAddition(id, version, content)
		if err != nil {
			return reply{}, err
		}
		return keptReply(c, http.StatusOK, w.shown(head)), nil
	})
}

func approve(asked *quote.Asked, van int, code string) error {
	if van > len(asked.Vans) {
		return notOfTheDraft("/van", fmt.Sprintf("The quote has no van %d.", van), fmt.Sprintf("Count them from 1 to %d.", len(asked.Vans)))
	}
	list := asked.Vans[van-1].Choices.Additions
	k := slices.IndexFunc(list, func(a bom.Addition) bool { return a.Code == code })
	if k < 0 {
		return notOfTheDraft("/addition", fmt.Sprintf("Van %d has no addition %q.", van, code), "Name one of the draft's additions by its code.")
	}
	list[k].Approved = true
	return nil
}
