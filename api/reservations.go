package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// listReservations gives a page of reservations, the newest first.
func (s *Server) listReservations(c *gin.Context) error {
	filter := store.ReservationFilter{State: quote.ReservationState(c.Query("state")), Customer: askedID(c.Query("customer"))}
	question := "reservations " + string(filter.State) + " of " + contractID(filter.Customer)
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.Reservation, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Reservations(filter)
	})
	if err != nil {
		return err
	}
	page := openapi.Reservations{Reservations: make([]openapi.Reservation, len(list)), Next: next}
	for i, r := range list {
		if page.Reservations[i], err = contractReservation(r); err != nil {
			return err
		}
	}
	return answer(c, http.StatusOK, page)
}

// getReservation gives one reservation.
func (s *Server) getReservation(c *gin.Context) error {
	found, err := theOne(s, c, "reservation", store.ReadTx.Reservation)
	if err != nil {
		return err
	}
	body, err := contractReservation(found)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, body)
}

// addReservation holds a place, for a deposit to be paid under the reference
// it is given.
func (s *Server) addReservation(c *gin.Context) error {
	asked, err := decode[openapi.ReservationContent](c)
	if err != nil {
		return err
	}
	deposit, err := money.Parse(asked.Deposit.Amount, money.Currency(asked.Deposit.Currency))
	if err != nil {
		return reservationRefused(document.Faults{{At: "deposit", Code: "not_money", Reason: notMoney(err), Remedy: "Write an amount of the workshop's money."}})
	}
	n := store.NewReservation{
		Customer: askedID(asked.Customer), DepositMinor: deposit.Minor(), Currency: string(deposit.Currency()),
		ReservationContent: store.ReservationContent{
			Van: askedID(asked.Van), Quote: askedID(asked.Quote), SlotWantedOn: asked.SlotWantedOn,
			AgreeBy: asked.AgreeBy, State: quote.Held, Notes: asked.Notes,
		},
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := together(
			namedCustomer(tx.ReadTx, n.Customer),
			namedVan(tx.ReadTx, n.Van),
			namedQuote(tx.ReadTx, "/quote", n.Quote),
		); err != nil {
			return reply{}, err
		}
		workshop, err := tx.Workshop()
		if err != nil {
			return reply{}, err
		}
		day, err := today(tx.Now(), workshop.TimeZone)
		if err != nil {
			return reply{}, err
		}
		if err := checkReservation(n.ReservationContent, deposit, day, workshop.Currency); err != nil {
			return reply{}, err
		}
		if err := happened(tx, n.Customer); err != nil {
			return reply{}, err
		}
		added, err := tx.AddReservation(n)
		if err != nil {
			return reply{}, err
		}
		body, err := contractReservation(added)
		return reply{status: http.StatusCreated, location: "/v1/reservations/" + added.ID.String(), version: added.Version, body: body}, err
	})
}

// changeReservation gives a reservation other days, or its end: taken up by a
// quote, or released.
func (s *Server) changeReservation(c *gin.Context) error {
	asked, err := decode[openapi.ReservationChange](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "reservation")
	if err != nil {
		return err
	}
	content := store.ReservationContent{
		Van: askedID(asked.Van), Quote: askedID(asked.Quote), SlotWantedOn: asked.SlotWantedOn,
		AgreeBy: asked.AgreeBy, State: quote.ReservationState(asked.State), Notes: asked.Notes,
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.Reservation(id)
		if err != nil {
			return reply{}, err
		}
		if was.Version != version {
			return reply{}, store.ErrStale
		}
		if err := s.reservationMay(tx, was, content); err != nil {
			return reply{}, err
		}
		now, err := tx.ChangeReservation(id, version, content)
		if err != nil {
			return reply{}, err
		}
		body, err := contractReservation(now)
		return reply{status: http.StatusOK, version: now.Version, body: body}, err
	})
	return notFoundIs(err, "reservation")
}

// reservationMay holds a change against what the reservation is.
func (s *Server) reservationMay(tx store.WriteTx, was store.Reservation, to store.ReservationContent) error {
	if err := together(namedVan(tx.ReadTx, to.Van), namedQuote(tx.ReadTx, "/quote", to.Quote)); err != nil {
		return err
	}
	ended := was.State != quote.Held
	switch {
	case was.State != to.State && !was.State.MayBecome(to.State):
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "The reservation is " + string(was.State) + ", which is its end.",
			remedy: "Make a new reservation.",
		}
	case ended && (to.AgreeBy != was.AgreeBy || to.SlotWantedOn != was.SlotWantedOn || to.Van != was.Van || to.Quote != was.Quote):
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "The reservation is " + string(was.State) + ": of it only the notes may change.",
			remedy: "Leave its days, van and quote as they are, or make a new reservation.",
		}
	case to.State == quote.TakenUp && contractID(to.Quote) == "":
		return reservationRefused(document.Faults{{At: "quote", Code: "missing", Reason: "Nothing says which quote takes the reservation up.", Remedy: "Name the quote."}})
	case ended || to.State != quote.Held:
		return nil
	}
	deposit, err := money.FromMinor(was.DepositMinor, money.Currency(was.Currency))
	if err != nil {
		return err
	}
	// Its own day may have passed; another must be still to come.
	madeOn := to.AgreeBy
	if to.AgreeBy != was.AgreeBy {
		if madeOn, err = dayOf(tx.ReadTx); err != nil {
			return err
		}
	}
	return checkReservation(to, deposit, madeOn, was.Currency)
}

// checkReservation holds a reservation against the trade's rules.
func checkReservation(c store.ReservationContent, deposit money.Amount, madeOn, currency string) error {
	reference, err := quote.ReservationReference(1) // it gets its own with its number; any will do here
	if err != nil {
		return err
	}
	faults := quote.Reservation{
		Deposit: deposit, AgreeBy: c.AgreeBy, SlotWanted: c.SlotWantedOn, State: c.State, Reference: reference,
	}.Check(madeOn, money.Currency(currency))
	if len(faults) > 0 {
		return reservationRefused(faults)
	}
	return nil
}

func reservationRefused(faults document.Faults) error {
	p := &problem{code: openapi.ProblemCodeTermsRefused, detail: "The reservation cannot be made so.", remedy: "Mend the fields named in errors."}
	for _, f := range faults {
		at := "/" + strings.Replace(f.At, "slot_wanted", "slot_wanted_on", 1)
		p.errors = append(p.errors, openapi.FieldError{Field: at, Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return p
}
