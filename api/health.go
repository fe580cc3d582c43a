package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/openapi"
)

func (s *Server) isAlive(c *gin.Context) error {
	return answer(c, http.StatusOK, openapi.Health{Status: openapi.HealthStatusOk})
}

// isReady asks the database: a server that cannot read is of no use to anybody.
func (s *Server) isReady(c *gin.Context) error {
	if s.stopping.Load() {
		return notNow("The server is stopping.")
	}
	if _, err := s.store.Workshops(c.Request.Context()); err != nil {
		return notNow("The database does not answer.")
	}
	return answer(c, http.StatusOK, openapi.Health{Status: openapi.HealthStatusOk})
}

func (s *Server) getContract(c *gin.Context) error {
	c.Data(http.StatusOK, "application/yaml", openapi.Contract)
	return nil
}
