package api

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/bom/catalogue"
	"wainscot/openapi"
)

func (s *Server) listFeatures(c *gin.Context) error {
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	k := o.release.Catalogue()
	van := c.Query("base_van")
	if van != "" && !slices.ContainsFunc(k.BaseVans, func(b catalogue.BaseVan) bool { return b.Code == van }) {
		return &problem{
			code:   openapi.ProblemCodeNotFound,
			detail: "The catalogue has no such base van.",
			remedy: "Take a code from /v1/base-vans.",
			errors: []openapi.FieldError{{
				Field: "query/base_van", Code: "unknown_code", Reason: "The catalogue has no base van " + van + ".", Remedy: "Take a code from /v1/base-vans.",
			}},
		}
	}
	features := contractFeatures(k, van)
	features.Release = releaseOf(o.number, o.release)
	return answer(c, http.StatusOK, features)
}
