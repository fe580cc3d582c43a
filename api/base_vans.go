package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/openapi"
)

func (s *Server) listBaseVans(c *gin.Context) error {
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.BaseVans{
		Release:  releaseOf(o.number, o.release),
		BaseVans: mapped(o.release.Catalogue().BaseVans, contractBaseVan),
	})
}
