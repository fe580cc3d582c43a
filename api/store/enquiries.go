package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// EnquiryState is where an enquiry is.
type EnquiryState string

// The states of an enquiry.
const (
	EnquiryOpen   EnquiryState = "open"   // nobody has answered it yet
	EnquiryQuoted EnquiryState = "quoted" // a quote was made from it
	EnquiryClosed EnquiryState = "closed" // nothing more comes of it
)

// Enquiry is somebody asking for something.
type Enquiry struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	EnquiryContent
}

// EnquiryContent is what is said of an enquiry.
type EnquiryContent struct {
	Customer uuid.UUID // the nil id: not known yet
	Van      uuid.UUID // the nil id: not known, or none
	// Source is how they came: the fair, the web page, a friend.
	Source string
	// ReceivedOn and FollowUpOn are days, YYYY-MM-DD; FollowUpOn "" is never.
	ReceivedOn    string
	FollowUpOn    string
	Wants         string // in their words
	Notes         string // in ours
	State         EnquiryState
	ClosedBecause string
}

// AddEnquiry keeps a new enquiry. A customer or van the workshop has not is
// ErrMissing, a customer who has been erased ErrErased.
func (t WriteTx) AddEnquiry(c EnquiryContent) (Enquiry, error) {
	row := enquiryRow{ID: t.NewID(), Version: 1, CreatedUS: t.Now().UnixMicro()}
	if err := row.say(t, c); err != nil {
		return Enquiry{}, fmt.Errorf("enquiry: %w", err)
	}
	if err := insert(t, added, &row); err != nil {
		return Enquiry{}, fmt.Errorf("enquiry: %w", err)
	}
	return row.enquiry(), nil
}

// ChangeEnquiry puts new content in the place of an enquiry's. version is the
// one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeEnquiry(id uuid.UUID, version int64, c EnquiryContent) (Enquiry, error) {
	row, err := of[enquiryRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return Enquiry{}, fmt.Errorf("enquiry %s: %w", id, err)
	}
	if err := row.say(t, c); err != nil {
		return Enquiry{}, fmt.Errorf("enquiry %s: %w", id, err)
	}
	row.Version = version
	return t.writeEnquiry(changed, row)
}

// QuoteEnquiry says of an enquiry that a quote was made from it. One that is
// quoted already stays as it is; one the workshop has not is ErrMissing.
func (t WriteTx) QuoteEnquiry(id uuid.UUID) error {
	found, err := of[enquiryRow](t.ReadTx).where("id = ?", id).first(1)
	switch {
	case err != nil:
		return fmt.Errorf("enquiry %s: %w", id, err)
	case len(found) == 0:
		return fmt.Errorf("enquiry %s: %w", id, ErrMissing)
	case found[0].State == string(EnquiryQuoted):
		return nil
	}
	row := found[0]
	row.State, row.ClosedBecause, row.ChangedUS = string(EnquiryQuoted), "", t.Now().UnixMicro()
	_, err = t.writeEnquiry(quoted, row)
	return err
}

func (t WriteTx) writeEnquiry(verb string, row enquiryRow) (Enquiry, error) {
	stale := fmt.Errorf("enquiry %s at version %d: %w", row.ID, row.Version, ErrStale)
	which := of[enquiryRow](t.ReadTx).where("id = ? AND version = ?", row.ID, row.Version)
	row.Version++
	err := change(t, verb, which, map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "customer": row.Customer, "van": row.Van,
		"source": row.Source, "received_on": row.ReceivedOn, "follow_up_on": row.FollowUpOn,
		"wants": row.Wants, "notes": row.Notes, "state": row.State, "closed_because": row.ClosedBecause,
	}, stale, &row)
	if err != nil {
		return Enquiry{}, err
	}
	return row.enquiry(), nil
}

// Enquiry gives one enquiry.
func (t ReadTx) Enquiry(id uuid.UUID) (Enquiry, error) {
	row, err := of[enquiryRow](t).where("id = ?", id).one()
	if err != nil {
		return Enquiry{}, fmt.Errorf("enquiry %s: %w", id, err)
	}
	return row.enquiry(), nil
}

// EnquiryFilter says which enquiries to list.
type EnquiryFilter struct {
	State EnquiryState // "" means any
	// FollowUpBy leaves open ones with a follow-up day not after this; ""
	// means any.
	FollowUpBy string
	Customer   uuid.UUID // the nil id means anybody
	After      *Place    // nil begins at the newest
	Limit      int       // 0 means 50; at most 200
}

// Enquiries lists enquiries, the newest first. next is where to go on, nil at
// the end.
func (t ReadTx) Enquiries(f EnquiryFilter) (list []Enquiry, next *Place, err error) {
	query := of[enquiryRow](t)
	if f.State != "" {
		query = query.where("state = ?", string(f.State))
	}
	if f.FollowUpBy != "" {
		query = query.where("state = ? AND follow_up_on <> '' AND follow_up_on <= ?", string(EnquiryOpen), f.FollowUpBy)
	}
	if f.Customer != uuid.Nil {
		query = query.where("customer = ?", f.Customer)
	}
	found, next, err := page(query, f.After, f.Limit, func(r enquiryRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("enquiries: %w", err)
	}
	return enquiriesOf(found), next, nil
}

// EnquiriesToChase gives at most limit open enquiries whose follow-up day has
// come on a day (YYYY-MM-DD), those longest due first, and how many there are.
func (t ReadTx) EnquiriesToChase(day string, limit int) (list []Enquiry, all int, err error) {
	due := func() rows[enquiryRow] {
		return of[enquiryRow](t).where("state = ? AND follow_up_on <> '' AND follow_up_on <= ?", string(EnquiryOpen), day)
	}
	found, err := due().order("follow_up_on, id").first(bounded(limit))
	if err == nil {
		all, err = due().count()
	}
	if err != nil {
		return nil, 0, fmt.Errorf("enquiries to chase: %w", err)
	}
	return enquiriesOf(found), all, nil
}

func enquiriesOf(found []enquiryRow) []Enquiry {
	list := make([]Enquiry, len(found))
	for i, r := range found {
		list[i] = r.enquiry()
	}
	return list
}

type enquiryRow struct {
	WorkshopID    uuid.UUID `gorm:"primaryKey"`
	ID            uuid.UUID `gorm:"primaryKey"`
	Version       int64
	CreatedUS     int64
	ChangedUS     int64
	Customer      uuid.NullUUID
	Van           uuid.NullUUID
	Source        string
	ReceivedOn    string
	FollowUpOn    string
	Wants         string
	Notes         string
	State         string
	ClosedBecause string
}

// TableName for gorm.
func (*enquiryRow) TableName() string { return "enquiries" }

func (r *enquiryRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the content out: people write names and numbers into what
// is wanted.
func (r *enquiryRow) journalled() (noun, id string, content []byte) {
	return "enquiry", r.ID.String(), nil
}

func (r *enquiryRow) say(t WriteTx, c EnquiryContent) error {
	if err := t.standingIfAny(c.Customer); err != nil {
		return err
	}
	if err := t.thereIfAny(c.Van); err != nil {
		return err
	}
	for _, day := range []string{c.ReceivedOn, c.FollowUpOn} {
		if day == "" && c.ReceivedOn != "" {
			continue
		}
		if err := checkDay(day); err != nil {
			return err
		}
	}
	r.ChangedUS = t.Now().UnixMicro()
	r.Customer, r.Van = orNull(c.Customer), orNull(c.Van)
	r.Source, r.ReceivedOn, r.FollowUpOn = c.Source, c.ReceivedOn, c.FollowUpOn
	r.Wants, r.Notes, r.State, r.ClosedBecause = c.Wants, c.Notes, string(c.State), c.ClosedBecause
	return nil
}

func (r *enquiryRow) enquiry() Enquiry {
	return Enquiry{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS),
		EnquiryContent: EnquiryContent{
			Customer: r.Customer.UUID, Van: r.Van.UUID, Source: r.Source,
			ReceivedOn: r.ReceivedOn, FollowUpOn: r.FollowUpOn, Wants: r.Wants, Notes: r.Notes,
			State: EnquiryState(r.State), ClosedBecause: r.ClosedBecause,
		},
	}
}

// thereIfAny: a van that is not there is ErrMissing, before the database says
// so less plainly.
func (t ReadTx) thereIfAny(van uuid.UUID) error {
	if van == uuid.Nil {
		return nil
	}
	found, err := of[vanKeeperRow](t).where("id = ?", van).first(1)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("van %s: %w", van, ErrMissing)
	}
	return err
}
