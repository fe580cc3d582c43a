package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/api/auth"
)

// route is one operation of the contract: where it is, who may ask for it,
// and what answers.
type route struct {
	method string
	path   string
	roles  []auth.Role // none: anybody, without a token
	handle func(*Server, *gin.Context) error
}

// routes is the whole surface. The roles are those of the contract; a test
// holds the two against each other.
func routes() []route {
	var (
		anybody  []auth.Role
		everyone = auth.Roles()
		sellers  = []auth.Role{auth.Owner, auth.Sales}
	)
	return []route{
		{http.MethodPost, "/v1/sign-in", anybody, (*Server).signIn},

		{http.MethodGet, "/v1/base-vans", everyone, (*Server).listBaseVans},
		{http.MethodGet, "/v1/features", everyone, (*Server).listFeatures},

		{http.MethodPost, "/v1/resolve", everyone, (*Server).resolve},
		{http.MethodPost, "/v1/quotes", sellers, (*Server).createQuote},
		{http.MethodGet, "/v1/quotes", everyone, (*Server).listQuotes},
		{http.MethodGet, "/v1/quotes/:id", everyone, (*Server).getQuote},

		{http.MethodGet, "/v1/openapi.yaml", anybody, (*Server).getContract},
		{http.MethodGet, "/livez", anybody, (*Server).isAlive},
		{http.MethodGet, "/readyz", anybody, (*Server).isReady},
	}
}
