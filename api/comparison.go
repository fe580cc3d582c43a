package api

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// compareRevisions tells what changed between two revisions.
func (s *Server) compareRevisions(c *gin.Context) error {
	id, err := pathID(c, "quote")
	if err != nil {
		return err
	}
	var two [2]*shownQuote
	for i, name := range []string{"from", "to"} {
		number, err := strconv.ParseInt(c.Query(name), 10, 32)
		if err != nil || number < 1 {
			return brokenField("query/"+name, "not_allowed", "It is not the number of a revision.", "Count them from 1.")
		}
		if two[i], err = s.show(c, id, number); err != nil {
			return err
		}
		two[i].document.Revision = int(number) // a draft's document has none
	}
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	told := quote.Compare(two[0].document, two[1].document, o.release.Catalogue())
	out := openapi.Comparison{
		From: whole(told.From), To: whole(told.To),
		Sentences: mapped(told.Sentences, contractSentence),
	}
	out.Sentences = out.Sentences[:min(len(out.Sentences), maxSentences)]
	return answer(c, http.StatusOK, out)
}

func contractSentence(t quote.Sentence) openapi.ComparisonSentence {
	return openapi.ComparisonSentence{
		Van: whole(t.Van), About: openapi.ComparisonSentenceAbout(t.About), Code: t.Code, Says: t.Says,
		Before: amountIfAny(t.Before), After: amountIfAny(t.After), Difference: amountIfAny(t.Difference),
	}
}

// maxSentences is the contract's bound.
const maxSentences = 5000

func amountIfAny(a *money.Amount) openapi.Money {
	if a == nil {
		return openapi.Money{}
	}
	return contractAmount(*a)
}
