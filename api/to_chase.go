package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
)

// listToChase gives what to follow up on a day, today if none is named.
func (s *Server) listToChase(c *gin.Context) error {
	day := c.Query("day")
	if day != "" {
		if _, err := calendar.Add(day, store.LapsesSoonDays); err != nil {
			return brokenField("query/day", "not_a_day", "That is no day anything falls due on.", "Name one from 1900 to 2199.")
		}
	}
	now := day
	var due []store.Chase
	var all int
	var customers map[uuid.UUID]store.CustomerEntry
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if now, err = dayOf(tx); err != nil {
			return err
		}
		if day == "" {
			day = now
		}
		if due, all, err = tx.ToChase(day, maxPage); err != nil {
			return err
		}
		customers, err = tx.CustomerEntries(chasedCustomers(due))
		return err
	})
	if err != nil {
		return err
	}
	chase := openapi.ToChase{Day: day, Items: make([]openapi.ToChaseItem, len(due)), More: whole(all - len(due))}
	for i, d := range due {
		item := openapi.ToChaseItem{DueOn: d.DueOn, Because: openapi.ToChaseItemBecause(d.Why)}
		customer := chasedCustomer(d)
		entry, known := customers[customer]
		if known {
			item.Customer = contractCustomerEntry(entry)
		}
		if d.Enquiry != nil {
			item.Enquiry = contractEnquiry(*d.Enquiry)
		} else {
			item.Quote = contractQuoteSummary(d.Quote, now, fullName(entry), principal(c).Role)
		}
		chase.Items[i] = item
	}
	return answer(c, http.StatusOK, chase)
}

func chasedCustomer(d store.Chase) uuid.UUID {
	if d.Enquiry != nil {
		return d.Enquiry.Customer
	}
	return d.Quote.Customer
}

func chasedCustomers(due []store.Chase) []uuid.UUID {
	var ids []uuid.UUID
	for _, d := range due {
		if id := chasedCustomer(d); id != uuid.Nil {
			ids = append(ids, id)
		}
	}
	return ids
}
