package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/openapi"
)

// listVans gives a page of vans, the newest first.
func (s *Server) listVans(c *gin.Context) error {
	filter := store.VanFilter{Registration: c.Query("registration"), Customer: askedID(c.Query("customer"))}
	question := "vans of " + store.PlainRegistration(filter.Registration) + " " + contractID(filter.Customer)
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.Van, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Vans(filter)
	})
	if err != nil {
		return err
	}
	page := openapi.Vans{Vans: make([]openapi.KeptVan, len(list)), Next: next}
	for i, v := range list {
		page.Vans[i] = contractKeptVan(v)
	}
	return answer(c, http.StatusOK, page)
}

// getVan gives one van.
func (s *Server) getVan(c *gin.Context) error {
	found, err := theOne(s, c, "van", store.ReadTx.Van)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractKeptVan(found))
}

// addVan keeps a new van.
func (s *Server) addVan(c *gin.Context) error {
	content, err := vanAsked(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := namedCustomer(tx.ReadTx, content.Customer); err != nil {
			return reply{}, err
		}
		added, err := tx.AddVan(content)
		return reply{status: http.StatusCreated, location: "/v1/vans/" + added.ID.String(), version: added.Version, body: contractKeptVan(added)}, err
	})
}

// changeVan says all of a van anew.
func (s *Server) changeVan(c *gin.Context) error {
	content, err := vanAsked(c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "van")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.Van(id)
		if err != nil {
			return reply{}, err
		}
		// Who keeps it may have been erased since; they may be left as they are.
		if content.Customer != was.Customer {
			err = namedCustomer(tx.ReadTx, content.Customer)
		}
		if err != nil {
			return reply{}, err
		}
		now, err := tx.ChangeVan(id, version, content)
		return reply{status: http.StatusOK, version: now.Version, body: contractKeptVan(now)}, err
	})
	return notFoundIs(err, "van")
}

// vanAsked reads what is said of a van. Whether the catalogue knows its kind is
// asked when a quote is made: a van may be known before it can be built on.
func vanAsked(c *gin.Context) (store.VanContent, error) {
	asked, err := decode[openapi.KeptVanContent](c)
	if err != nil {
		return store.VanContent{}, err
	}
	return domainKeptVan(asked)
}
