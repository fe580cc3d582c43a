package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/openapi"
)

// listEnquiries gives a page of enquiries, the newest first.
func (s *Server) listEnquiries(c *gin.Context) error {
	filter := store.EnquiryFilter{
		State: store.EnquiryState(c.Query("state")), FollowUpBy: c.Query("follow_up_by"), Customer: askedID(c.Query("customer")),
	}
	question := "enquiries " + string(filter.State) + " by " + filter.FollowUpBy + " of " + contractID(filter.Customer)
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.Enquiry, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Enquiries(filter)
	})
	if err != nil {
		return err
	}
	page := openapi.Enquiries{Enquiries: make([]openapi.Enquiry, len(list)), Next: next}
	for i, e := range list {
		page.Enquiries[i] = contractEnquiry(e)
	}
	return answer(c, http.StatusOK, page)
}

// getEnquiry gives one enquiry.
func (s *Server) getEnquiry(c *gin.Context) error {
	found, err := theOne(s, c, "enquiry", store.ReadTx.Enquiry)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractEnquiry(found))
}

// addEnquiry keeps a new enquiry, received today if nobody says otherwise.
func (s *Server) addEnquiry(c *gin.Context) error {
	content, err := enquiryAsked(c)
	if err != nil {
		return err
	}
	if content.State == "" {
		content.State = store.EnquiryOpen
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if content.ReceivedOn == "" {
			if content.ReceivedOn, err = dayOf(tx.ReadTx); err != nil {
				return reply{}, err
			}
		}
		if err := together(
			namedCustomer(tx.ReadTx, content.Customer),
			namedVan(tx.ReadTx, content.Van),
		); err != nil {
			return reply{}, err
		}
		if err := happened(tx, content.Customer); err != nil {
			return reply{}, err
		}
		added, err := tx.AddEnquiry(content)
		return reply{status: http.StatusCreated, location: "/v1/enquiries/" + added.ID.String(), version: added.Version, body: contractEnquiry(added)}, err
	})
}

// changeEnquiry says all of an enquiry anew; a state or day of receipt that is
// left out stays.
func (s *Server) changeEnquiry(c *gin.Context) error {
	content, err := enquiryAsked(c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "enquiry")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.Enquiry(id)
		if err != nil {
			return reply{}, err
		}
		if content.State == "" {
			content.State = was.State
		}
		if content.ReceivedOn == "" {
			content.ReceivedOn = was.ReceivedOn
		}
		if content.Customer != was.Customer {
			err = namedCustomer(tx.ReadTx, content.Customer)
		}
		if err = together(err, namedVan(tx.ReadTx, content.Van)); err != nil {
			return reply{}, err
		}
		if content.Customer != was.Customer {
			if err := happened(tx, content.Customer); err != nil {
				return reply{}, err
			}
		}
		now, err := tx.ChangeEnquiry(id, version, content)
		return reply{status: http.StatusOK, version: now.Version, body: contractEnquiry(now)}, err
	})
	return notFoundIs(err, "enquiry")
}

func enquiryAsked(c *gin.Context) (store.EnquiryContent, error) {
	e, err := decode[openapi.EnquiryContent](c)
	return store.EnquiryContent{
		Customer: askedID(e.Customer), Van: askedID(e.Van), Source: e.Source,
		ReceivedOn: e.ReceivedOn, FollowUpOn: e.FollowUpOn, Wants: e.Wants, Notes: e.Notes,
		State: store.EnquiryState(e.State), ClosedBecause: e.ClosedBecause,
	}, err
}
