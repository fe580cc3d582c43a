package api

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// maxVansOfCustomer is how many of a customer's vans an answer names.
const maxVansOfCustomer = 1000

// listCustomers gives a page of customers, all or those who are found.
func (s *Server) listCustomers(c *gin.Context) error {
	filter := store.CustomerFilter{Find: c.Query("find")}
	var err error
	if filter.Limit, err = pageSize(c); err != nil {
		return err
	}
	question := "customers " + filter.Find
	if cursor := c.Query("cursor"); cursor != "" {
		position, ok := s.readCursor(principal(c), question, cursor)
		if filter.After, err = uuid.Parse(position); err != nil || !ok {
			return strayCursor()
		}
	}
	var list []store.CustomerEntry
	var more bool
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		list, more, err = tx.Customers(filter)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return strayCursor() // the last one seen has been erased meanwhile
	}
	if err != nil {
		return err
	}
	page := openapi.Customers{Customers: mapped(list, contractCustomerEntry)}
	if page.Customers == nil {
		page.Customers = []openapi.CustomerSummary{}
	}
	if more {
		page.Next = s.writeCursor(principal(c), question, list[len(list)-1].ID.String())
	}
	return answer(c, http.StatusOK, page)
}

// getCustomer gives one customer. Their vans and keep-until day are not in the
// version.
func (s *Server) getCustomer(c *gin.Context) error {
	id, err := pathID(c, "customer")
	if err != nil {
		return err
	}
	var found store.Customer
	var vans []uuid.UUID
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if found, err = tx.Customer(id); err != nil {
			return err
		}
		vans, err = tx.VanIDs(id, maxVansOfCustomer)
		return err
	})
	if err != nil {
		return customerProblem(err)
	}
	return answerOfTheDay(c, http.StatusOK, found.Version, contractCustomer(found, vans))
}

// addCustomer keeps a new customer.
func (s *Server) addCustomer(c *gin.Context) error {
	content, err := s.customerAsked(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if content.KeepUntil == "" {
			if content.KeepUntil, err = keptUntil(tx.ReadTx); err != nil {
				return reply{}, err
			}
		}
		added, err := tx.AddCustomer(content)
		return reply{status: http.StatusCreated, location: "/v1/customers/" + added.ID.String(), version: added.Version, body: contractCustomer(added, nil)}, err
	})
}

// changeCustomer says all of a customer anew.
func (s *Server) changeCustomer(c *gin.Context) error {
	content, err := s.customerAsked(c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "customer")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		now, err := tx.ChangeCustomer(id, version, content)
		if err != nil {
			return reply{}, err
		}
		vans, err := tx.VanIDs(id, maxVansOfCustomer)
		return reply{status: http.StatusOK, version: now.Version, body: contractCustomer(now, vans)}, err
	})
	return customerProblem(err)
}

// customerAsked reads what is said of a customer, and holds it against what
// its kind may have.
func (s *Server) customerAsked(c *gin.Context) (store.CustomerContent, error) {
	asked, err := decode[openapi.CustomerContent](c)
	if err != nil {
		return store.CustomerContent{}, err
	}
	content := domainCustomer(asked)
	if content.Kind != quote.Private {
		return content, s.priceListThere(c, content.PriceList)
	}
	p := &problem{
		code: openapi.ProblemCodeTermsRefused, detail: "A private customer has neither a price list nor credit.",
		remedy: "Leave them out, or make it a trade customer.",
	}
	only := func(field string, given bool) {
		if given {
			p.errors = append(p.errors, openapi.FieldError{
				Field: field, Code: "trade_only", Reason: "It is for trade customers.", Remedy: "Leave it out, or make it a trade customer.",
			})
		}
	}
	only("/price_list", content.PriceList != "")
	only("/credit_days", content.CreditDays != nil)
	if len(p.errors) > 0 {
		return content, p
	}
	return content, nil
}

// priceListThere looks whether the edition in force has the price list that a
// customer is given; "" is none. Found out here, it is mended here; found out
// at their next quote, somebody else would have to.
func (s *Server) priceListThere(c *gin.Context, list string) error {
	if list == "" {
		return nil
	}
	var entry store.EditionEntry
	err := s.readTx(c, func(tx store.ReadTx) error {
		day, err := dayOf(tx)
		if err == nil {
			entry, err = editionInForce(tx, day)
		}
		return err
	})
	if err != nil {
		return err
	}
	edition, err := s.editionText(c, entry)
	if err != nil {
		return err
	}
	var known []string
	for _, l := range edition.PriceLists {
		if l.Code == list {
			return nil
		}
		known = append(known, l.Code)
	}
	p := unknownReference("/price_list", "price list")
	p.remedy = "Leave it out; the price-book in force, " + entry.Code + ", has no price lists."
	if len(known) > 0 {
		p.remedy = "The price-book in force, " + entry.Code + ", has: " + strings.Join(known[:min(len(known), 20)], ", ") + "."
	}
	p.errors[0].Remedy = p.remedy
	return p
}

// customerProblem is what an error about a customer means; others pass.
func customerProblem(err error) error {
	switch {
	case errors.Is(err, store.ErrErased):
		return erasedAlready()
	case errors.Is(err, store.ErrNotFound):
		return notFound("customer")
	}
	return err
}

func erasedAlready() *problem {
	return &problem{
		code:   openapi.ProblemCodeStateConflict,
		detail: "The customer has been erased.",
		remedy: "Add a new customer.",
	}
}

// keptUntil is the day until which what happens today is kept: as many years
// as the workshop has set.
func keptUntil(tx store.ReadTx) (string, error) {
	settings, err := tx.Settings()
	if err != nil {
		return "", err
	}
	day, err := dayOf(tx)
	return yearsAfter(day, settings.KeepYears), err
}

// happened keeps customers for as long as what happens with them today must be
// kept; the nil id is nobody.
func happened(tx store.WriteTx, customers ...uuid.UUID) error {
	until := ""
	for _, id := range customers {
		if id == uuid.Nil {
			continue
		}
		if until == "" {
			var err error
			if until, err = keptUntil(tx.ReadTx); err != nil {
				return err
			}
		}
		if err := tx.KeepCustomer(id, until); err != nil {
			return err
		}
	}
	return nil
}

// namedCustomer looks whether something new may be tied to the customer that
// the field names.
func namedCustomer(tx store.ReadTx, id uuid.UUID) error {
	const field = "/customer"
	if id == uuid.Nil {
		return nil
	}
	_, err := tx.StandingCustomer(id)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return unknownReference(field, "customer")
	case errors.Is(err, store.ErrErased):
		p := erasedAlready()
		p.errors = []openapi.FieldError{{Field: field, Code: "erased", Reason: p.detail, Remedy: p.remedy}}
		return p
	}
	return err
}

// namedVan looks whether there is the van that the field names.
func namedVan(tx store.ReadTx, id uuid.UUID) error {
	if id == uuid.Nil {
		return nil
	}
	_, err := tx.Van(id)
	if errors.Is(err, store.ErrNotFound) {
		return unknownReference("/van", "van")
	}
	return err
}

// namedQuote looks whether there is the quote that a field names.
func namedQuote(tx store.ReadTx, field string, id uuid.UUID) error {
	if id == uuid.Nil {
		return nil
	}
	_, err := tx.Quote(id)
	if errors.Is(err, store.ErrNotFound) {
		return unknownReference(field, "quote")
	}
	return err
}

// moneyOf is an amount as it is stored, as the contract has it.
func moneyOf(minor int64, currency string) (openapi.Money, error) {
	amount, err := money.FromMinor(minor, money.Currency(currency))
	if err != nil {
		return openapi.Money{}, fmt.Errorf("%d minor units of %s: %w", minor, currency, err)
	}
	return contractAmount(amount), nil
}
