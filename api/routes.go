package api

import (
	"net/http"
	"strings"

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

// doors let in who has no token but may not ask as nobody: by the beginning of
// the path, what finds out for whom a request acts. Until then it is counted
// against the address it comes from.
func doors() map[string]func(*Server, *gin.Context) (auth.Principal, error) {
	return map[string]func(*Server, *gin.Context) (auth.Principal, error){}
}

// doorOf is the door a path leads through; nil for none.
func doorOf(path string) func(*Server, *gin.Context) (auth.Principal, error) {
	for beginning, door := range doors() {
		if strings.HasPrefix(path, beginning) {
			return door
		}
	}
	return nil
}

// routes is the whole surface. The roles are those of the contract; a test
// holds the two against each other.
func routes() []route {
	var (
		anybody  []auth.Role
		everyone = auth.Roles()
		owners   = []auth.Role{auth.Owner}
		sellers  = []auth.Role{auth.Owner, auth.Sales}
		keepers  = []auth.Role{auth.Owner, auth.Books}
	)
	return []route{
		{http.MethodPost, "/v1/sign-in", anybody, (*Server).signIn},
		{http.MethodPost, "/v1/sign-in/renew", anybody, (*Server).renewSignIn},
		{http.MethodPost, "/v1/sign-out", everyone, (*Server).signOut},
		{http.MethodGet, "/v1/people", owners, (*Server).listPeople},
		{http.MethodPost, "/v1/people", owners, (*Server).addPerson},
		{http.MethodGet, "/v1/people/:id", owners, (*Server).getPerson},
		{http.MethodPut, "/v1/people/:id", owners, (*Server).changePerson},
		{http.MethodPost, "/v1/people/:id/leave", owners, (*Server).personLeaves},
		{http.MethodPut, "/v1/people/:id/password", everyone, (*Server).setPassword},
		{http.MethodPost, "/v1/people/:id/sign-out", owners, (*Server).signPersonOut},
		{http.MethodGet, "/v1/journal", keepers, (*Server).listJournal},

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
