package store

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// QuoteState is where a quote is in its life.
type QuoteState string

// Draft is a quote not offered to anybody yet; it may still be changed.
const Draft QuoteState = "draft"

// QuoteEntry is a quote without its text, as lists have it.
type QuoteEntry struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number int64
	// Version goes up by one with every change.
	Version   int64
	State     QuoteState
	CreatedAt time.Time
	CreatedBy uuid.UUID
	ChangedAt time.Time
	ChangedBy uuid.UUID
	BaseVan   string
	// Registration of the van in plain form; "" for a new van or none.
	Registration string
	// Release and Edition it was worked out with.
	Release int64
	Edition string
	// TotalMinor is what the customer pays, in minor units of Currency.
	TotalMinor int64
	Currency   string
	// Hours of hands-on work, all trades.
	Hours decimal.Decimal
}

// Quote is a priced build sheet offered to a customer, or being made.
type Quote struct {
	QuoteEntry
	Document Packed
}

// QuoteContent is what a quote says: the columns it is found and listed by,
// and its whole text, which the store does not read.
type QuoteContent struct {
	BaseVan      string
	Registration string // as typed; kept in plain form
	Release      int64
	Edition      string
	TotalMinor   int64
	Currency     string
	Hours        decimal.Decimal
	Document     Packed
}

// QuoteCursor is a place in the list of quotes: the last one already seen.
type QuoteCursor struct {
	CreatedAt time.Time
	ID        uuid.UUID
}

// QuoteFilter says which quotes to list.
type QuoteFilter struct {
	Registration string       // as typed; "" means any
	After        *QuoteCursor // nil begins at the newest
	Limit        int          // 0 means 50; at most 200
}

// CreateQuote keeps a new draft under the next number. A release or edition
// the workshop has not is ErrMissing.
func (t WriteTx) CreateQuote(c QuoteContent) (Quote, error) {
	if err := c.Document.checked(); err != nil {
		return Quote{}, fmt.Errorf("quote: %w", err)
	}
	number, err := nextNumber(t, "quote")
	if err != nil {
		return Quote{}, fmt.Errorf("numbering the quote: %w", err)
	}
	row := quoteRow{Entry: quoteEntryRow{
		ID: t.NewID(), Number: number, Version: 1, State: string(Draft),
		CreatedUS: t.Now().UnixMicro(), CreatedBy: t.s.as.Person,
	}}
	row.say(t, c)
	if err := insert(t, created, &row); err != nil {
		return Quote{}, fmt.Errorf("quote %d: %w", number, err)
	}
	return row.quote(), nil
}

// ChangeQuote puts new content in the place of a draft's. version is the one
// the change was made from: if the quote has been changed since, it is
// ErrStale and nothing is written.
func (t WriteTx) ChangeQuote(id uuid.UUID, version int64, c QuoteContent) (Quote, error) {
	if err := c.Document.checked(); err != nil {
		return Quote{}, fmt.Errorf("quote %s: %w", id, err)
	}
	entry, err := of[quoteEntryRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return Quote{}, fmt.Errorf("quote %s: %w", id, err)
	}
	row := quoteRow{Entry: entry}
	row.Entry.Version = version + 1
	row.say(t, c)
	e := row.Entry
	stale := fmt.Errorf("quote %s at version %d: %w", id, version, ErrStale)
	which := of[quoteRow](t.ReadTx).where("id = ? AND version = ? AND state = ?", id, version, string(Draft))
	err = change(t, changed, which, map[string]any{
		"version": e.Version, "changed_us": e.ChangedUS, "changed_by": e.ChangedBy,
		"base_van": e.BaseVan, "registration": e.Registration, "release": e.Release, "edition": e.Edition,
		"total_minor": e.TotalMinor, "currency": e.Currency, "hours": e.Hours,
		"document": row.Document, "document_sha256": e.DocumentSHA256,
	}, stale, &row)
	if err != nil {
		return Quote{}, fmt.Errorf("quote %s: %w", id, err)
	}
	return row.quote(), nil
}

// Quote gives one quote.
func (t ReadTx) Quote(id uuid.UUID) (Quote, error) {
	row, err := of[quoteRow](t).where("id = ?", id).one()
	if err != nil {
		return Quote{}, fmt.Errorf("quote %s: %w", id, err)
	}
	return row.quote(), nil
}

// Quotes lists the newest quotes first. next is where to go on, nil at the
// end; a quote created meanwhile is neither shown twice nor moves another.
func (t ReadTx) Quotes(f QuoteFilter) (list []QuoteEntry, next *QuoteCursor, err error) {
	query := of[quoteEntryRow](t).order("created_us DESC, id DESC")
	if f.Registration != "" {
		query = query.where("registration = ?", PlainRegistration(f.Registration))
	}
	if f.After != nil {
		query = query.where("(created_us, id) < (?, ?)", f.After.CreatedAt.UnixMicro(), f.After.ID)
	}
	limit := bounded(f.Limit)
	found, err := query.first(limit + 1)
	if err != nil {
		return nil, nil, fmt.Errorf("quotes: %w", err)
	}
	if len(found) > limit {
		found = found[:limit]
		last := found[limit-1]
		next = &QuoteCursor{CreatedAt: moment(last.CreatedUS), ID: last.ID}
	}
	list = make([]QuoteEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, next, nil
}

// PlainRegistration is a registration as it is kept and looked up: capital
// letters and digits only, so that "ab12 cde" and "AB12CDE" are one van's.
func PlainRegistration(typed string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToUpper(r)
		}
		return -1
	}, typed)
}

type quoteEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Number         int64
	Version        int64
	State          string
	CreatedUS      int64
	CreatedBy      uuid.UUID
	ChangedUS      int64
	ChangedBy      uuid.UUID
	BaseVan        string
	Registration   string
	Release        int64
	Edition        string
	TotalMinor     int64
	Currency       string
	Hours          decimal.Decimal
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (quoteEntryRow) TableName() string { return "quotes" }

func (r quoteEntryRow) entry() QuoteEntry {
	return QuoteEntry{
		ID: r.ID, Number: r.Number, Version: r.Version, State: QuoteState(r.State),
		CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy,
		ChangedAt: moment(r.ChangedUS), ChangedBy: r.ChangedBy,
		BaseVan: r.BaseVan, Registration: r.Registration, Release: r.Release, Edition: r.Edition,
		TotalMinor: r.TotalMinor, Currency: r.Currency, Hours: r.Hours,
	}
}

type quoteRow struct {
	Entry    quoteEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*quoteRow) TableName() string { return "quotes" }

// say puts content into the row, and who is saying it.
func (r *quoteRow) say(t WriteTx, c QuoteContent) {
	e := &r.Entry
	e.ChangedUS, e.ChangedBy = t.Now().UnixMicro(), t.s.as.Person
	e.BaseVan, e.Registration = c.BaseVan, PlainRegistration(c.Registration)
	e.Release, e.Edition = c.Release, c.Edition
	e.TotalMinor, e.Currency, e.Hours = c.TotalMinor, c.Currency, c.Hours
	e.DocumentSHA256, r.Document = c.Document.sum, c.Document.zipped
}

func (r *quoteRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *quoteRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-quote/1", e.Number, e.Version, e.State, e.CreatedUS, e.CreatedBy[:],
		e.ChangedUS, e.ChangedBy[:], e.BaseVan, e.Registration, e.Release, e.Edition,
		e.TotalMinor, e.Currency, e.Hours.String(), e.DocumentSHA256)
	return "quote", e.ID.String(), sum[:]
}

func (r *quoteRow) sealed() error {
	_, err := r.quote().Document.Unpack()
	return err
}

func (r *quoteRow) key() any { return r.Entry.ID }

func (r *quoteRow) quote() Quote {
	return Quote{QuoteEntry: r.Entry.entry(), Document: Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}}
}
