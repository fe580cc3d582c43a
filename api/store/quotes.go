package store

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// QuoteState is where a quote, or one of its revisions, is in its life.
type QuoteState string

// The states. Lapsed is never stored: it follows from the last day and today.
// Superseded is only a revision.
const (
	Draft      QuoteState = "draft"      // not offered to anybody yet; may be changed
	Issued     QuoteState = "issued"     // offered; never changes
	Accepted   QuoteState = "accepted"   // the customer's yes
	Declined   QuoteState = "declined"   // the customer's no
	Superseded QuoteState = "superseded" // another revision has taken its place
	Lapsed     QuoteState = "lapsed"     // issued, and its last day is over
)

// On is the state as it is on a day (YYYY-MM-DD where the workshop is), for an
// offer whose last day is validUntil.
func (s QuoteState) On(day, validUntil string) QuoteState {
	if s == Issued && validUntil < day {
		return Lapsed
	}
	return s
}

// QuoteEntry is the head of a quote: what it is found and listed by. State,
// release, edition, days and sums are those of its latest revision.
type QuoteEntry struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number int64
	// Version goes up by one with every change of anything about it.
	Version   int64
	State     QuoteState // never Lapsed or Superseded
	Revision  int64      // the latest
	CreatedAt time.Time
	CreatedBy uuid.UUID
	ChangedAt time.Time
	ChangedBy uuid.UUID
	// Customer, EndCustomer and Enquiry are uuid.Nil where there is none.
	Customer, EndCustomer, Enquiry uuid.UUID
	// Days are YYYY-MM-DD where the workshop is, "" for none.
	IssuedOn, ValidUntil, SlotWanted, FollowUpOn string
	Note, DeclinedBecause                        string
	// Release and Edition it was worked out with.
	Release int64
	Edition string
	// TotalMinor is what the customer pays, in minor units of Currency.
	TotalMinor int64
	Currency   string
	// Hours of hands-on work, all trades.
	Hours decimal.Decimal
	// Vans of the latest revision, in its order.
	Vans []QuoteVan
}

// QuoteVan is a van a quote is for.
type QuoteVan struct {
	// Van is the id of one the workshop keeps; its registration is there. Of
	// another (uuid.Nil) it is kept with the quote.
	Van     uuid.UUID
	BaseVan string
	Plate   string // the registration as it was typed; "" for a new van or none
	VIN     string // vehicle identification number
}

// QuoteContent is what a draft says: the columns it is found and listed by,
// and what is asked for, which the store does not read.
type QuoteContent struct {
	Customer, EndCustomer, Enquiry uuid.UUID
	SlotWanted, FollowUpOn, Note   string
	Vans                           []QuoteVan
	Worked                         Worked
	Asked                          Packed
}

// Worked is what a revision was worked out with, and what it came to.
type Worked struct {
	Release     int64
	Edition     string
	HeldEdition string // whose prices still hold; "" for none
	TotalMinor  int64
	Currency    string
	Hours       decimal.Decimal
}

// CreateQuote keeps a new quote under the next number, its first revision a
// draft. A customer, enquiry, van, release or edition the workshop has not is
// ErrMissing.
func (t WriteTx) CreateQuote(c QuoteContent) (QuoteEntry, error) {
	if err := c.Asked.checked(); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote: %w", err)
	}
	if err := t.mayBeQuoted(c); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote: %w", err)
	}
	number, err := nextNumber(t, "quote")
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("numbering the quote: %w", err)
	}
	row := quoteRow{
		ID: t.NewID(), Number: number, Version: 1, State: string(Draft), Revision: 1,
		CreatedUS: t.Now().UnixMicro(), CreatedBy: t.s.as.Person, Journalled: journalledNow,
	}
	row.say(t, c)
	if err := insert(t, created, &row); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %d: %w", number, err)
	}
	vans, err := t.draft(&row, c)
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %d: %w", number, err)
	}
	return row.entry(vans), nil
}

// ChangeQuote puts new content in the place of a draft's. version is the one
// the change was made from: if the quote has been changed since, it is
// ErrStale and nothing is written. ErrState when it is no draft.
func (t WriteTx) ChangeQuote(id uuid.UUID, version int64, c QuoteContent) (QuoteEntry, error) {
	return t.putDraft(changed, id, version, c)
}

// ApproveAddition is ChangeQuote where all that is changed is that the foreman
// has said yes to something in it.
func (t WriteTx) ApproveAddition(id uuid.UUID, version int64, c QuoteContent) (QuoteEntry, error) {
	return t.putDraft(approved, id, version, c)
}

// AnswerCheck is ChangeQuote where all that is changed is what the workshop
// answers to a check.
func (t WriteTx) AnswerCheck(id uuid.UUID, version int64, c QuoteContent) (QuoteEntry, error) {
	return t.putDraft(answered, id, version, c)
}

func (t WriteTx) putDraft(verb string, id uuid.UUID, version int64, c QuoteContent) (QuoteEntry, error) {
	if err := c.Asked.checked(); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %s: %w", id, err)
	}
	row, err := t.quoteAt(id, version, Draft)
	if err != nil {
		return QuoteEntry{}, err
	}
	if err := t.mayBeQuoted(c); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %s: %w", id, err)
	}
	row.say(t, c)
	if err := t.putHead(verb, row); err != nil {
		return QuoteEntry{}, err
	}
	draft, vans := newDraft(row, c)
	if err := of[revisionRow](t.ReadTx).where("quote = ? AND number = ?", id, row.Revision).set(draft.said(), ErrNotFound); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %s: %w", id, err)
	}
	if err := of[quoteVanRow](t.ReadTx).where("quote = ? AND revision = ?", id, row.Revision).remove(); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %s: %w", id, err)
	}
	if err := t.keepVans(vans); err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %s: %w", id, err)
	}
	return row.entry(vans), nil
}

// mayBeQuoted: whom a quote is for is there and has not been erased. The
// enquiry it came from is quoted by it.
func (t WriteTx) mayBeQuoted(c QuoteContent) error {
	if err := errors.Join(t.standingIfAny(c.Customer), t.standingIfAny(c.EndCustomer)); err != nil {
		return err
	}
	if c.Enquiry == uuid.Nil {
		return nil
	}
	return t.QuoteEnquiry(c.Enquiry)
}

// FollowUpQuote sets when to ask again ("" for never) and the note, in any
// state.
func (t WriteTx) FollowUpQuote(id uuid.UUID, version int64, on, note string) (QuoteEntry, error) {
	row, err := t.quoteAt(id, version)
	if err != nil {
		return QuoteEntry{}, err
	}
	row.FollowUpOn, row.Note = on, note
	return t.putHeadEntry(followedUp, row)
}

// Quote gives the head of one quote.
func (t ReadTx) Quote(id uuid.UUID) (QuoteEntry, error) {
	row, err := of[quoteRow](t).where("id = ?", id).one()
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("quote %s: %w", id, err)
	}
	vans, err := of[quoteVanRow](t).where("quote = ? AND revision = ?", id, row.Revision).order("place").all()
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("vans of quote %s: %w", id, err)
	}
	return row.entry(vans), nil
}

// QuoteFilter says which quotes to list; zero is all of them.
type QuoteFilter struct {
	Registration string     // as typed, or its beginning
	Customer     uuid.UUID  // who bought, or the one behind a dealer
	State        QuoteState // of the latest revision, on Today
	Open         bool       // drafts, and what is issued and stands on Today
	Today        string     // YYYY-MM-DD; needed with Issued, Lapsed and Open
	Number       int64      // of the one quote
	After        *Place     // nil begins at the newest
	Limit        int        // 0 means 50; at most 200
}

// Quotes lists the newest quotes first. next is where to go on, nil at the
// end; a quote created meanwhile is neither shown twice nor moves another.
func (t ReadTx) Quotes(f QuoteFilter) (list []QuoteEntry, next *Place, err error) {
	limit := bounded(f.Limit)
	found, err := t.filtered(f).order("created_us DESC, id DESC").first(limit + 1)
	if err != nil {
		return nil, nil, fmt.Errorf("quotes: %w", err)
	}
	if len(found) > limit {
		found = found[:limit]
		last := found[limit-1]
		next = &Place{CreatedAt: moment(last.CreatedUS), ID: last.ID}
	}
	list, err = t.entries(found)
	return list, next, err
}

// CountQuotes says how many there are, wherever a list of them would begin.
func (t ReadTx) CountQuotes(f QuoteFilter) (int, error) {
	f.After = nil
	n, err := t.filtered(f).count()
	if err != nil {
		return 0, fmt.Errorf("counting quotes: %w", err)
	}
	return n, nil
}

func (t ReadTx) filtered(f QuoteFilter) rows[quoteRow] {
	query := of[quoteRow](t)
	if begin := PlainRegistration(f.Registration); f.Registration != "" {
		// Both halves name the workshop themselves: a condition's own query is
		// not narrowed down for it.
		shop, end := t.s.as.Workshop, past(begin)
		query = query.where(`(id, revision) IN (
			SELECT v.quote, v.revision FROM quote_vans v WHERE v.workshop_id = ? AND v.registration >= ? AND v.registration < ?
			UNION SELECT v.quote, v.revision FROM vans k JOIN quote_vans v ON v.workshop_id = k.workshop_id AND v.van = k.id
			WHERE k.workshop_id = ? AND k.registration >= ? AND k.registration < ?)`, shop, begin, end, shop, begin, end)
	}
	if f.Customer != uuid.Nil {
		query = query.where("customer = ? OR end_customer = ?", f.Customer, f.Customer)
	}
	switch f.State {
	case "":
	case Lapsed:
		query = query.where("state = ? AND valid_until < ?", string(Issued), f.Today)
	case Issued:
		query = query.where("state = ? AND valid_until >= ?", string(Issued), f.Today)
	default:
		query = query.where("state = ?", string(f.State))
	}
	if f.Open {
		query = query.where("state = ? OR (state = ? AND valid_until >= ?)", string(Draft), string(Issued), f.Today)
	}
	if f.Number > 0 {
		query = query.where("number = ?", f.Number)
	}
	if f.After != nil {
		query = query.where("(created_us, id) < (?, ?)", f.After.CreatedAt.UnixMicro(), f.After.ID)
	}
	return query
}

// entries are the rows with their vans; of those the workshop keeps, with the
// registration they have now.
func (t ReadTx) entries(found []quoteRow) ([]QuoteEntry, error) {
	if len(found) == 0 {
		return nil, nil
	}
	ids := make([]uuid.UUID, len(found))
	at := make(map[uuid.UUID]int, len(found))
	for i := range found {
		ids[i] = found[i].ID
		at[ids[i]] = i
	}
	vans, err := of[quoteVanRow](t).where("quote IN ?", ids).order("quote, revision, place").all()
	if err != nil {
		return nil, fmt.Errorf("vans of quotes: %w", err)
	}
	if err := t.platesNow(vans); err != nil {
		return nil, err
	}
	of := make([][]quoteVanRow, len(found))
	for _, v := range vans {
		if i := at[v.Quote]; v.Revision == found[i].Revision {
			of[i] = append(of[i], v)
		}
	}
	list := make([]QuoteEntry, len(found))
	for i := range found {
		list[i] = found[i].entry(of[i])
	}
	return list, nil
}

// platesNow fills in the registrations of vans the workshop keeps.
func (t ReadTx) platesNow(vans []quoteVanRow) error {
	var kept []uuid.UUID
	for _, v := range vans {
		if v.Van.Valid {
			kept = append(kept, v.Van.UUID)
		}
	}
	found, err := t.VansByID(kept)
	if err != nil {
		return err
	}
	for i := range vans {
		if v, ok := found[vans[i].Van.UUID]; ok {
			vans[i].Plate, vans[i].VIN = v.Facts.Registration, v.Facts.VIN
		}
	}
	return nil
}

// EmptyQuotesOf takes out what is personal in all quotes of a customer, and
// gives their ids: notes, registrations, who accepted, and the evidence, of
// which the hashes stay.
func (t WriteTx) EmptyQuotesOf(customer uuid.UUID) ([]uuid.UUID, error) {
	found, err := of[quoteRow](t.ReadTx).where("customer = ? OR end_customer = ?", customer, customer).all()
	if err != nil {
		return nil, fmt.Errorf("quotes of customer %s: %w", customer, err)
	}
	ids := make([]uuid.UUID, len(found))
	for i := range found {
		row := &found[i]
		ids[i] = row.ID
		row.Note, row.DeclinedBecause = "", ""
		row.touch(t)
		err := t.putHead(emptied, row)
		if err == nil {
			err = t.emptyQuote(row.ID)
		}
		if err != nil {
			return nil, fmt.Errorf("emptying quote %s: %w", row.ID, err)
		}
	}
	return ids, nil
}

func (t WriteTx) emptyQuote(id uuid.UUID) error {
	ofQuote := func(err error) error {
		if errors.Is(err, ErrNotFound) {
			return nil // there is none, and nothing to empty
		}
		return err
	}
	return errors.Join(
		ofQuote(of[quoteVanRow](t.ReadTx).where("quote = ?", id).set(map[string]any{"registration": "", "plate": "", "vin": ""}, ErrNotFound)),
		ofQuote(of[acceptanceRow](t.ReadTx).where("quote = ?", id).set(map[string]any{"by_name": "", "express_request": ""}, ErrNotFound)),
		ofQuote(of[evidenceRow](t.ReadTx).where("quote = ?", id).set(map[string]any{"says": "Erased.", "content": nil}, ErrNotFound)),
	)
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

// quoteAt is a quote at a version, to be changed: in one of the states, if any
// are given.
func (t WriteTx) quoteAt(id uuid.UUID, version int64, states ...QuoteState) (*quoteRow, error) {
	row, err := of[quoteRow](t.ReadTx).where("id = ?", id).one()
	switch {
	case err != nil:
		return nil, fmt.Errorf("quote %s: %w", id, err)
	case version != anyVersion && row.Version != version:
		return nil, fmt.Errorf("quote %s at version %d: %w", id, version, ErrStale)
	case len(states) > 0 && !slices.Contains(states, QuoteState(row.State)):
		return nil, fmt.Errorf("quote %s is %s: %w", id, row.State, ErrState)
	}
	row.touch(t)
	return &row, nil
}

// anyVersion is whichever version a quote has: for a customer, who knows of
// none.
const anyVersion = -1

// putHead writes a head that was read at the version before its own.
func (t WriteTx) putHead(verb string, row *quoteRow) error {
	which := of[quoteRow](t.ReadTx).where("id = ? AND version = ?", row.ID, row.Version-1)
	if err := change(t, verb, which, row.columns(), ErrStale, row); err != nil {
		return fmt.Errorf("quote %s: %w", row.ID, err)
	}
	return nil
}

func (t WriteTx) putHeadEntry(verb string, row *quoteRow) (QuoteEntry, error) {
	if err := t.putHead(verb, row); err != nil {
		return QuoteEntry{}, err
	}
	vans, err := of[quoteVanRow](t.ReadTx).where("quote = ? AND revision = ?", row.ID, row.Revision).order("place").all()
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("vans of quote %s: %w", row.ID, err)
	}
	return row.entry(vans), nil
}

// journalledNow is the form of the digest that is written now.
const journalledNow = 2

type quoteRow struct {
	WorkshopID      uuid.UUID `gorm:"primaryKey"`
	ID              uuid.UUID `gorm:"primaryKey"`
	Number          int64
	Version         int64
	State           string
	Revision        int64
	CreatedUS       int64
	CreatedBy       uuid.UUID
	ChangedUS       int64
	ChangedBy       uuid.UUID
	Customer        uuid.NullUUID
	EndCustomer     uuid.NullUUID
	Enquiry         uuid.NullUUID
	IssuedOn        string
	ValidUntil      string
	SlotWanted      string
	FollowUpOn      string
	Note            string
	DeclinedBecause string
	Release         int64
	Edition         string
	TotalMinor      int64
	Currency        string
	Hours           decimal.Decimal
	DocumentSHA256  string `gorm:"column:document_sha256"`
	Journalled      int64
}

// TableName for gorm.
func (*quoteRow) TableName() string { return "quotes" }

// touch makes the next version of it, by whoever acts.
func (r *quoteRow) touch(t WriteTx) {
	r.Version++
	r.ChangedUS, r.ChangedBy = t.Now().UnixMicro(), t.s.as.Person
	r.Journalled = journalledNow
}

// say puts a draft's content into the head.
func (r *quoteRow) say(t WriteTx, c QuoteContent) {
	r.ChangedUS, r.ChangedBy = t.Now().UnixMicro(), t.s.as.Person
	r.Customer, r.EndCustomer, r.Enquiry = orNull(c.Customer), orNull(c.EndCustomer), orNull(c.Enquiry)
	r.SlotWanted, r.FollowUpOn, r.Note = c.SlotWanted, c.FollowUpOn, c.Note
	r.worked(c.Worked)
	r.DocumentSHA256 = c.Asked.sum
}

func (r *quoteRow) worked(w Worked) {
	r.Release, r.Edition = w.Release, w.Edition
	r.TotalMinor, r.Currency, r.Hours = w.TotalMinor, w.Currency, w.Hours
}

// columns are all that may change of a head.
func (r *quoteRow) columns() map[string]any {
	return map[string]any{
		"version": r.Version, "state": r.State, "revision": r.Revision, "changed_us": r.ChangedUS, "changed_by": r.ChangedBy,
		"customer": r.Customer, "end_customer": r.EndCustomer, "enquiry": r.Enquiry,
		"issued_on": r.IssuedOn, "valid_until": r.ValidUntil, "slot_wanted": r.SlotWanted, "follow_up_on": r.FollowUpOn,
		"note": r.Note, "declined_because": r.DeclinedBecause, "release": r.Release, "edition": r.Edition,
		"total_minor": r.TotalMinor, "currency": r.Currency, "hours": r.Hours,
		"document_sha256": r.DocumentSHA256, "journalled": r.Journalled,
	}
}

func (r *quoteRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled: all but what is personal, which may be emptied.
func (r *quoteRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-quote/2", r.Number, r.Version, r.State, r.Revision, r.CreatedUS, r.CreatedBy[:],
		r.ChangedUS, r.ChangedBy[:], referred(r.Customer), referred(r.EndCustomer), referred(r.Enquiry),
		r.IssuedOn, r.ValidUntil, r.SlotWanted, r.FollowUpOn, r.Release, r.Edition,
		r.TotalMinor, r.Currency, r.Hours.String(), r.DocumentSHA256)
	return quoteNoun, r.ID.String(), sum[:]
}

// journalledBefore is the digest of a draft that has not been touched since
// there were no revisions.
func (r *quoteRow) journalledBefore(van quoteVanRow) []byte {
	sum := digest("wainscot-quote/1", r.Number, r.Version, r.State, r.CreatedUS, r.CreatedBy[:],
		r.ChangedUS, r.ChangedBy[:], van.BaseVan, van.Registration, r.Release, r.Edition,
		r.TotalMinor, r.Currency, r.Hours.String(), r.DocumentSHA256)
	return sum[:]
}

const quoteNoun = "quote"

func (r *quoteRow) entry(vans []quoteVanRow) QuoteEntry {
	e := QuoteEntry{
		ID: r.ID, Number: r.Number, Version: r.Version, State: QuoteState(r.State), Revision: r.Revision,
		CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy,
		ChangedAt: moment(r.ChangedUS), ChangedBy: r.ChangedBy,
		Customer: r.Customer.UUID, EndCustomer: r.EndCustomer.UUID, Enquiry: r.Enquiry.UUID,
		IssuedOn: r.IssuedOn, ValidUntil: r.ValidUntil, SlotWanted: r.SlotWanted, FollowUpOn: r.FollowUpOn,
		Note: r.Note, DeclinedBecause: r.DeclinedBecause,
		Release: r.Release, Edition: r.Edition, TotalMinor: r.TotalMinor, Currency: r.Currency, Hours: r.Hours,
	}
	e.Vans = vansOf(vans)
	return e
}

type quoteVanRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	Quote        uuid.UUID `gorm:"primaryKey"`
	Revision     int64     `gorm:"primaryKey;autoIncrement:false"`
	Place        int64     `gorm:"primaryKey;autoIncrement:false"`
	Van          uuid.NullUUID
	BaseVan      string
	Registration string
	Plate        string
	VIN          string `gorm:"column:vin"`
}

// TableName for gorm.
func (*quoteVanRow) TableName() string { return "quote_vans" }

func (r *quoteVanRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func vansOf(rows []quoteVanRow) []QuoteVan {
	vans := make([]QuoteVan, len(rows))
	for i, r := range rows {
		vans[i] = QuoteVan{Van: r.Van.UUID, BaseVan: r.BaseVan, Plate: r.Plate, VIN: r.VIN}
	}
	return vans
}

func vanRows(quote uuid.UUID, revision int64, vans []QuoteVan) []quoteVanRow {
	rows := make([]quoteVanRow, len(vans))
	for i, v := range vans {
		rows[i] = quoteVanRow{Quote: quote, Revision: revision, Place: int64(i + 1), Van: orNull(v.Van), BaseVan: v.BaseVan}
		if v.Van == uuid.Nil {
			rows[i].Plate, rows[i].Registration, rows[i].VIN = v.Plate, PlainRegistration(v.Plate), v.VIN
		}
	}
	return rows
}

// referred is an id that may be absent, in a digest.
func referred(id uuid.NullUUID) string {
	if !id.Valid {
		return ""
	}
	return id.UUID.String()
}

// revisionID is how the journal names a revision.
func revisionID(quote uuid.UUID, number int64) string {
	return quote.String() + "/" + strconv.FormatInt(number, 10)
}
