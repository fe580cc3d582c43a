package api

import (
	"net/http"
	"slices"
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
	return map[string]func(*Server, *gin.Context) (auth.Principal, error){
		"/v1/offered/":            (*Server).byLink,
		"/v1/calendar/":           (*Server).byCalendarLink,
		"/v1/offered-variations/": (*Server).byVariationLink,
	}
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
//
//nolint:funlen // a table
func routes() []route {
	var (
		anybody  []auth.Role
		everyone = auth.Roles()
		owners   = []auth.Role{auth.Owner}
		sellers  = []auth.Role{auth.Owner, auth.Sales}
		keepers  = []auth.Role{auth.Owner, auth.Books}
		advisers = []auth.Role{auth.Owner, auth.Sales, auth.Books}
	)
	return slices.Concat([]route{
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

		{http.MethodGet, "/v1/workshop", everyone, (*Server).getWorkshop},
		{http.MethodPut, "/v1/workshop", owners, (*Server).changeWorkshop},

		{http.MethodGet, "/v1/base-vans", everyone, (*Server).listBaseVans},
		{http.MethodGet, "/v1/features", everyone, (*Server).listFeatures},

		{http.MethodGet, "/v1/releases", everyone, (*Server).listReleases},
		{http.MethodPost, "/v1/releases", owners, (*Server).publishRelease},
		{http.MethodPost, "/v1/releases/proof", owners, (*Server).proveDraft},
		{http.MethodPost, "/v1/releases/comparison", owners, (*Server).compareDraft},
		{http.MethodGet, "/v1/releases/:number/comparison", advisers, (*Server).compareReleases},
		{http.MethodGet, "/v1/releases/:number/catalogue", everyone, (*Server).getCatalogue},
		{http.MethodGet, "/v1/releases/:number/proof", []auth.Role{auth.Owner, auth.Workshop, auth.Books}, (*Server).getProof},
		{http.MethodGet, "/v1/editions", keepers, (*Server).listEditions},
		{http.MethodPost, "/v1/editions", owners, (*Server).addEdition},
		{http.MethodGet, "/v1/editions/:code/pricebook", keepers, (*Server).getPricebook},

		{http.MethodGet, "/v1/customers", advisers, (*Server).listCustomers},
		{http.MethodPost, "/v1/customers", sellers, (*Server).addCustomer},
		{http.MethodGet, "/v1/customers/:id", advisers, (*Server).getCustomer},
		{http.MethodPut, "/v1/customers/:id", sellers, (*Server).changeCustomer},
		{http.MethodGet, "/v1/customers/:id/export", owners, (*Server).exportCustomer},
		{http.MethodPost, "/v1/customers/:id/erasure", owners, (*Server).eraseCustomer},
		{http.MethodGet, "/v1/vans", everyone, (*Server).listVans},
		{http.MethodPost, "/v1/vans", sellers, (*Server).addVan},
		{http.MethodGet, "/v1/vans/:id", everyone, (*Server).getVan},
		{http.MethodPut, "/v1/vans/:id", sellers, (*Server).changeVan},
		{http.MethodGet, "/v1/enquiries", advisers, (*Server).listEnquiries},
		{http.MethodPost, "/v1/enquiries", sellers, (*Server).addEnquiry},
		{http.MethodGet, "/v1/enquiries/:id", advisers, (*Server).getEnquiry},
		{http.MethodPut, "/v1/enquiries/:id", sellers, (*Server).changeEnquiry},
		{http.MethodGet, "/v1/to-chase", sellers, (*Server).listToChase},
		{http.MethodGet, "/v1/reservations", advisers, (*Server).listReservations},
		{http.MethodPost, "/v1/reservations", sellers, (*Server).addReservation},
		{http.MethodGet, "/v1/reservations/:id", advisers, (*Server).getReservation},
		{http.MethodPut, "/v1/reservations/:id", sellers, (*Server).changeReservation},

		{http.MethodPost, "/v1/resolve", everyone, (*Server).resolve},
		{http.MethodPost, "/v1/reasons", everyone, (*Server).explain},
		{http.MethodPost, "/v1/conflicts", everyone, (*Server).findConflicts},
		{http.MethodPost, "/v1/ways-out", everyone, (*Server).findWaysOut},
		{http.MethodPost, "/v1/changes", everyone, (*Server).listChanges},
		{http.MethodPost, "/v1/settle", everyone, (*Server).settleChoices},
		{http.MethodPost, "/v1/quotes", sellers, (*Server).createQuote},
		{http.MethodGet, "/v1/quotes", everyone, (*Server).listQuotes},
		{http.MethodGet, "/v1/quotes/:id", everyone, (*Server).getQuote},
		{http.MethodPut, "/v1/quotes/:id", sellers, (*Server).changeQuote},
		{http.MethodGet, "/v1/quotes/:id/content", sellers, (*Server).getQuoteContent},
		{http.MethodPut, "/v1/quotes/:id/follow-up", sellers, (*Server).followUpQuote},
		{http.MethodPost, "/v1/quotes/:id/approvals", []auth.Role{auth.Owner, auth.Workshop}, (*Server).approveAddition},
		{http.MethodPost, "/v1/quotes/:id/answers", []auth.Role{auth.Owner, auth.Workshop}, (*Server).answerCheck},
		{http.MethodPost, "/v1/quotes/:id/answers/withdraw", []auth.Role{auth.Owner, auth.Workshop}, (*Server).withdrawAnswer},
		{http.MethodPost, "/v1/quotes/:id/issue", sellers, (*Server).issueQuote},
		{http.MethodPost, "/v1/quotes/:id/revise", sellers, (*Server).reviseQuote},
		{http.MethodPost, "/v1/quotes/:id/decline", sellers, (*Server).declineQuote},
		{http.MethodGet, "/v1/quotes/:id/acceptance", []auth.Role{auth.Owner, auth.Sales, auth.Books}, (*Server).getAcceptance},
		{http.MethodPost, "/v1/quotes/:id/acceptance", sellers, (*Server).acceptQuote},
		{http.MethodPost, "/v1/quotes/:id/links", sellers, (*Server).createLink},
		{http.MethodPost, "/v1/quotes/:id/links/withdraw", sellers, (*Server).withdrawLinks},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/quote.pdf", []auth.Role{auth.Owner, auth.Sales, auth.Books}, (*Server).getQuotePDF},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/quote.html", []auth.Role{auth.Owner, auth.Sales, auth.Books}, (*Server).getQuoteHTML},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/vans/:place/sheet.xlsx", []auth.Role{auth.Owner, auth.Workshop, auth.Books}, (*Server).getSheetXLSX},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/vans/:place/sheet.csv", []auth.Role{auth.Owner, auth.Workshop, auth.Books}, (*Server).getSheetCSV},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/vans/:place/masses.svg", everyone, (*Server).getVanSVG},
		{http.MethodGet, "/v1/offered/:link", anybody, (*Server).getOffered},
		{http.MethodGet, "/v1/offered/:link/quote.html", anybody, (*Server).getOfferedHTML},
		{http.MethodGet, "/v1/offered/:link/quote.pdf", anybody, (*Server).getOfferedPDF},
		{http.MethodPost, "/v1/offered/:link/acceptance", anybody, (*Server).acceptOffered},
		{http.MethodGet, "/v1/quotes/:id/comparison", []auth.Role{auth.Owner, auth.Sales, auth.Books}, (*Server).compareRevisions},
		{http.MethodGet, "/v1/quotes/:id/revisions", everyone, (*Server).listRevisions},
		{http.MethodPost, "/v1/quotes/:id/revisions", sellers, (*Server).beginRevision},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision", everyone, (*Server).getRevision},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/recomputed", []auth.Role{auth.Owner, auth.Sales, auth.Books}, (*Server).recomputeRevision},

		{http.MethodGet, "/v1/openapi.yaml", anybody, (*Server).getContract},
		{http.MethodGet, "/v1/catalogue.schema.json", anybody, (*Server).getCatalogueSchema},
		{http.MethodGet, "/v1/pricebook.schema.json", anybody, (*Server).getPricebookSchema},
		{http.MethodGet, "/livez", anybody, (*Server).isAlive},
		{http.MethodGet, "/readyz", anybody, (*Server).isReady},
	}, jobRoutes(), floorRoutes(), variationRoutes(), variationLinkRoutes(), asBuiltRoutes(), buildRoutes(), supplyRoutes(), surplusRoutes(), calendarRoutes(), moneyRoutes(), statementRoutes(), moneyReportRoutes(), marginRoutes(), purchaseRoutes(), agreedPriceRoutes(), takeOnRoutes())
}
