package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/quote"
)

// Reservation is a deposit that holds a place before the specification is
// agreed.
type Reservation struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each
	// workshop.
	Number    int64
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	Customer  uuid.UUID
	// DepositMinor is what is paid, in minor units of Currency.
	DepositMinor int64
	Currency     string
	// Reference to pay it under: ISO 11649, without spaces.
	Reference string
	ReservationContent
}

// NewReservation is what is needed to reserve a place.
type NewReservation struct {
	Customer     uuid.UUID
	DepositMinor int64
	Currency     string
	ReservationContent
}

// ReservationContent is what may change of a reservation.
type ReservationContent struct {
	Van   uuid.UUID // the nil id: not known yet
	Quote uuid.UUID // the nil id: none yet
	// SlotWantedOn and AgreeBy are days, YYYY-MM-DD; SlotWantedOn "" is not
	// said.
	SlotWantedOn string
	AgreeBy      string
	State        quote.ReservationState
	Notes        string
}

// AddReservation keeps a new reservation under the next number, with a
// reference of its own. What it refers to and the workshop has not is
// ErrMissing; a customer who has been erased is ErrErased.
func (t WriteTx) AddReservation(n NewReservation) (Reservation, error) {
	number, err := nextNumber(t, "reservation")
	if err != nil {
		return Reservation{}, fmt.Errorf("numbering the reservation: %w", err)
	}
	reference, err := quote.ReservationReference(number)
	if err != nil {
		return Reservation{}, fmt.Errorf("reservation %d: %w", number, err)
	}
	if err := t.standingIfAny(n.Customer); err != nil {
		return Reservation{}, fmt.Errorf("reservation: %w", err)
	}
	row := reservationRow{
		ID: t.NewID(), Number: number, Version: 1, CreatedUS: t.Now().UnixMicro(), Customer: n.Customer,
		DepositMinor: n.DepositMinor, Currency: n.Currency, Reference: reference,
	}
	if err := row.say(t, n.ReservationContent); err != nil {
		return Reservation{}, fmt.Errorf("reservation %d: %w", number, err)
	}
	if err := insert(t, added, &row); err != nil {
		return Reservation{}, fmt.Errorf("reservation %d: %w", number, err)
	}
	return row.reservation(), nil
}

// ChangeReservation puts new content in the place of a reservation's. version
// is the one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeReservation(id uuid.UUID, version int64, c ReservationContent) (Reservation, error) {
	row, err := of[reservationRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return Reservation{}, fmt.Errorf("reservation %s: %w", id, err)
	}
	if err := row.say(t, c); err != nil {
		return Reservation{}, fmt.Errorf("reservation %s: %w", id, err)
	}
	row.Version = version
	return t.writeReservation(changed, row)
}

func (t WriteTx) writeReservation(verb string, row reservationRow) (Reservation, error) {
	stale := fmt.Errorf("reservation %s at version %d: %w", row.ID, row.Version, ErrStale)
	which := of[reservationRow](t.ReadTx).where("id = ? AND version = ?", row.ID, row.Version)
	row.Version++
	err := change(t, verb, which, map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "van": row.Van, "quote": row.Quote,
		"slot_wanted_on": row.SlotWantedOn, "agree_by": row.AgreeBy, "state": row.State, "notes": row.Notes,
	}, stale, &row)
	if err != nil {
		return Reservation{}, err
	}
	return row.reservation(), nil
}

// Reservation gives one reservation.
func (t ReadTx) Reservation(id uuid.UUID) (Reservation, error) {
	row, err := of[reservationRow](t).where("id = ?", id).one()
	if err != nil {
		return Reservation{}, fmt.Errorf("reservation %s: %w", id, err)
	}
	return row.reservation(), nil
}

// ReservationFilter says which reservations to list.
type ReservationFilter struct {
	State    quote.ReservationState // "" means any
	Customer uuid.UUID              // the nil id means anybody
	After    *Place                 // nil begins at the newest
	Limit    int                    // 0 means 50; at most 200
}

// Reservations lists reservations, the newest first. next is where to go on,
// nil at the end.
func (t ReadTx) Reservations(f ReservationFilter) (list []Reservation, next *Place, err error) {
	query := of[reservationRow](t)
	if f.State != "" {
		query = query.where("state = ?", string(f.State))
	}
	if f.Customer != uuid.Nil {
		query = query.where("customer = ?", f.Customer)
	}
	found, next, err := page(query, f.After, f.Limit, func(r reservationRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("reservations: %w", err)
	}
	list = make([]Reservation, len(found))
	for i, r := range found {
		list[i] = r.reservation()
	}
	return list, next, nil
}

type reservationRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Number       int64
	Version      int64
	CreatedUS    int64
	ChangedUS    int64
	Customer     uuid.UUID
	Van          uuid.NullUUID
	Quote        uuid.NullUUID
	DepositMinor int64
	Currency     string
	Reference    string
	SlotWantedOn string
	AgreeBy      string
	State        string
	Notes        string
}

// TableName for gorm.
func (*reservationRow) TableName() string { return "reservations" }

func (r *reservationRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the notes out; the rest is money and days.
func (r *reservationRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-reservation/1", r.Number, r.Version, r.CreatedUS, r.ChangedUS, r.Customer[:],
		r.Van.UUID[:], r.Quote.UUID[:], r.DepositMinor, r.Currency, r.Reference, r.SlotWantedOn, r.AgreeBy, r.State)
	return "reservation", r.ID.String(), sum[:]
}

func (*reservationRow) sealed() error { return nil }

func (r *reservationRow) key() any { return r.ID }

func (r *reservationRow) say(t WriteTx, c ReservationContent) error {
	if err := t.thereIfAny(c.Van); err != nil {
		return err
	}
	if err := t.quotedIfAny(c.Quote); err != nil {
		return err
	}
	if err := checkDay(c.AgreeBy); err != nil {
		return err
	}
	if c.SlotWantedOn != "" {
		if err := checkDay(c.SlotWantedOn); err != nil {
			return err
		}
	}
	r.ChangedUS = t.Now().UnixMicro()
	r.Van, r.Quote = orNull(c.Van), orNull(c.Quote)
	r.SlotWantedOn, r.AgreeBy, r.State, r.Notes = c.SlotWantedOn, c.AgreeBy, string(c.State), c.Notes
	return nil
}

func (r *reservationRow) reservation() Reservation {
	return Reservation{
		ID: r.ID, Number: r.Number, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS),
		Customer: r.Customer, DepositMinor: r.DepositMinor, Currency: r.Currency, Reference: r.Reference,
		ReservationContent: ReservationContent{
			Van: r.Van.UUID, Quote: r.Quote.UUID, SlotWantedOn: r.SlotWantedOn, AgreeBy: r.AgreeBy,
			State: quote.ReservationState(r.State), Notes: r.Notes,
		},
	}
}

// quotedIfAny: a quote that is not there is ErrMissing.
func (t ReadTx) quotedIfAny(id uuid.UUID) error {
	if id == uuid.Nil {
		return nil
	}
	found, err := of[quoteIDRow](t).where("id = ?", id).first(1)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("quote %s: %w", id, ErrMissing)
	}
	return err
}

// quoteIDRow says that there is a quote.
type quoteIDRow struct{ ID uuid.UUID }

// TableName for gorm.
func (quoteIDRow) TableName() string { return "quotes" }
