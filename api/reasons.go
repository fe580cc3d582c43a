package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/openapi"
)

// explain answers why single things stand as they do, and keeps nothing.
func (s *Server) explain(c *gin.Context) error {
	asked, err := decode[openapi.ReasonsRequest](c)
	if err != nil {
		return err
	}
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	van, err := domainVan(asked.Van)
	if err != nil {
		return err
	}
	resolution, faults, err := bom.Specify(o.release, van, domainChoices(asked.Choices), domainSettle(asked.Settle))
	if err != nil {
		return engineProblem(err)
	}
	if len(faults) > 0 {
		return choicesRefused(faults)
	}
	reasons, err := answeredReasons(c, o.release, &resolution, asked.About)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Reasons{
		Release: releaseOf(o.number, o.release), Engine: options.Engine, Said: mapped(resolution.Said, contractSaid), Reasons: reasons,
	})
}

// faultyAbouts is how many things that are not there may be asked about before
// nobody reads on: for each of them the catalogue is searched for what may have
// been meant.
const faultyAbouts = 20

// answeredReasons gives a reason for each thing, all of them out of one budget,
// and stops when nobody waits for them any more.
func answeredReasons(c *gin.Context, r *bom.Release, res *bom.Resolution, about []openapi.ReasonAbout) ([]openapi.AnsweredReason, error) {
	work := int64(bom.ReasonWork)
	var faults document.Faults
	list := make([]openapi.AnsweredReason, 0, len(about))
	for i, a := range about {
		if err := c.Request.Context().Err(); err != nil {
			return nil, err
		}
		explained, wrong, err := bom.Explain(r, res, domainAbout(a), &work)
		if err != nil {
			return nil, err
		}
		for _, f := range wrong {
			f.At = strings.TrimSuffix(document.Join("about", i+1)+"/"+f.At, "/")
			faults = append(faults, f)
		}
		if len(faults) == faultyAbouts {
			break
		}
		list = append(list, openapi.AnsweredReason{
			About: a, Standing: openapi.Standing(explained.Standing), Why: contractTold(explained.Told),
		})
	}
	if len(faults) > 0 {
		return nil, refused(openapi.ProblemCodeChoicesRefused, "What is asked about is not there.", faults, "")
	}
	return list, nil
}

func domainAbout(a openapi.ReasonAbout) bom.About {
	about := bom.About{Feature: a.Feature, MostOf: a.MostOf, Setting: a.Setting, Value: a.Value}
	if a.PutAside != nil {
		place := int(*a.PutAside)
		about.PutAside = &place
	}
	return about
}

// contractTold is the zero reason, which is left out, where there is nothing to
// explain.
func contractTold(told *bom.Told) openapi.ToldReason {
	if told == nil {
		return openapi.ToldReason{}
	}
	return openapi.ToldReason{
		Sentences: mapped(told.Sentences, func(s string) string { return s }),
		Choices:   mapped(told.Said, whole),
		Causes: mapped(told.Causes, func(c bom.ToldCause) openapi.Cause {
			return openapi.Cause{Kind: openapi.CauseKind(c.Kind), Code: c.Code, Says: c.Says}
		}),
		Minimal: told.Minimal,
	}
}
