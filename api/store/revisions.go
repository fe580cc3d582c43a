package store

import (
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// RevisionEntry is a revision of a quote without its documents.
type RevisionEntry struct {
	Quote  uuid.UUID
	Number int64      // from 1
	State  QuoteState // never Lapsed
	// CreatedAt is when the draft was begun, and for one that never was a
	// draft when it was frozen.
	CreatedAt time.Time
	CreatedBy uuid.UUID
	Worked
	// IssuedOn and ValidUntil are "" for a draft.
	IssuedOn, ValidUntil string
	AskedSHA256          string
	// SHA256 of the frozen document; "" for a draft.
	SHA256 string
}

// Revision of a quote.
type Revision struct {
	RevisionEntry
	Vans []QuoteVan
	// Asked is what was asked for; Document what was frozen, zero for a draft.
	Asked, Document Packed
}

// Frozen is a revision as it is issued. Its bytes never change.
type Frozen struct {
	Worked
	// Asked is needed only where extras were ticked: it is what was asked for
	// with them.
	Asked, Document      Packed
	IssuedOn, ValidUntil string
}

// Revisions lists the revisions of a quote, the oldest first.
func (t ReadTx) Revisions(quote uuid.UUID) ([]RevisionEntry, error) {
	if _, err := of[quoteRow](t).where("id = ?", quote).one(); err != nil {
		return nil, fmt.Errorf("quote %s: %w", quote, err)
	}
	found, err := of[revisionEntryRow](t).where("quote = ?", quote).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("revisions of quote %s: %w", quote, err)
	}
	list := make([]RevisionEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, nil
}

// Revision gives one revision of a quote.
func (t ReadTx) Revision(quote uuid.UUID, number int64) (Revision, error) {
	row, err := of[revisionRow](t).where("quote = ? AND number = ?", quote, number).one()
	if err != nil {
		return Revision{}, fmt.Errorf("revision %d of quote %s: %w", number, quote, err)
	}
	return t.revision(row)
}

// Latest gives the head of a quote and its latest revision.
func (t ReadTx) Latest(quote uuid.UUID) (QuoteEntry, Revision, error) {
	head, err := of[quoteRow](t).where("id = ?", quote).one()
	if err != nil {
		return QuoteEntry{}, Revision{}, fmt.Errorf("quote %s: %w", quote, err)
	}
	revision, err := t.Revision(quote, head.Revision)
	if err != nil {
		return QuoteEntry{}, Revision{}, err
	}
	entry := head.entry(nil)
	entry.Vans = revision.Vans
	return entry, revision, nil
}

// Offered gives the revision of a quote that is offered to the customer: the
// one that is issued, also while a draft to follow it is open. ErrNotFound
// when there is none.
func (t ReadTx) Offered(quote uuid.UUID) (Revision, error) {
	row, err := of[revisionRow](t).where("quote = ? AND state = ?", quote, string(Issued)).one()
	if err != nil {
		return Revision{}, fmt.Errorf("what is offered of quote %s: %w", quote, err)
	}
	return t.revision(row)
}

func (t ReadTx) revision(row revisionRow) (Revision, error) {
	vans, err := of[quoteVanRow](t).where("quote = ? AND revision = ?", row.Entry.Quote, row.Entry.Number).order("place").all()
	if err == nil {
		err = t.platesNow(vans)
	}
	if err != nil {
		return Revision{}, fmt.Errorf("vans of revision %d of quote %s: %w", row.Entry.Number, row.Entry.Quote, err)
	}
	return Revision{
		RevisionEntry: row.Entry.entry(), Vans: vansOf(vans),
		Asked:    Packed{zipped: row.Asked, sum: row.Entry.AskedSHA256},
		Document: Packed{zipped: row.Document, sum: row.Entry.DocumentSHA256},
	}, nil
}

// IssueQuote freezes the draft of a quote. What was issued before of it is
// superseded. ErrState when the latest revision is no draft.
func (t WriteTx) IssueQuote(id uuid.UUID, version int64, f Frozen) (QuoteEntry, error) {
	if err := f.Document.checked(); err != nil {
		return QuoteEntry{}, fmt.Errorf("issuing quote %s: %w", id, err)
	}
	head, err := t.quoteAt(id, version, Draft)
	if err != nil {
		return QuoteEntry{}, err
	}
	entry, err := t.supersede(id, head.Revision)
	if err != nil {
		return QuoteEntry{}, err
	}
	row := revisionRow{Entry: entry}
	row.freeze(Issued, f)
	which := of[revisionRow](t.ReadTx).where("quote = ? AND number = ? AND state = ?", id, head.Revision, string(Draft))
	if err := change(t, issued, which, row.frozen(), ErrState, &row); err != nil {
		return QuoteEntry{}, fmt.Errorf("issuing quote %s: %w", id, err)
	}
	head.froze(Issued, head.Revision, f)
	return t.putHeadEntry(issued, head)
}

// supersede says of what was issued that another revision takes its place, and
// gives that one: the draft of that number.
func (t WriteTx) supersede(quote uuid.UUID, number int64) (draft revisionEntryRow, err error) {
	found, err := of[revisionEntryRow](t.ReadTx).where("quote = ? AND (number = ? OR state = ?)", quote, number, string(Issued)).all()
	if err != nil {
		return draft, fmt.Errorf("what is offered of quote %s: %w", quote, err)
	}
	there := false
	for _, r := range found {
		if r.Number == number {
			draft, there = r, true
		}
		if r.State == string(Issued) {
			if err := t.moveRevision(superseded, r, Superseded); err != nil {
				return draft, err
			}
		}
	}
	if !there {
		return draft, fmt.Errorf("draft of quote %s: %w", quote, ErrNotFound)
	}
	return draft, nil
}

// moveRevision puts a frozen revision into another state.
func (t WriteTx) moveRevision(verb string, entry revisionEntryRow, to QuoteState) error {
	from := entry.State
	entry.State = string(to)
	which := of[revisionRow](t.ReadTx).where("quote = ? AND number = ? AND state = ?", entry.Quote, entry.Number, from)
	if err := change(t, verb, which, map[string]any{"state": entry.State}, ErrState, &revisionRow{Entry: entry}); err != nil {
		return fmt.Errorf("revision %d of quote %s: %w", entry.Number, entry.Quote, err)
	}
	return nil
}

// ReviseQuote begins a new draft revision after one that was issued or
// declined. What is issued stays so, and may still be accepted, until the
// draft is issued in its turn. ErrState when a draft is open already, or the
// quote is accepted.
func (t WriteTx) ReviseQuote(id uuid.UUID, version int64, c QuoteContent) (QuoteEntry, error) {
	if err := c.Asked.checked(); err != nil {
		return QuoteEntry{}, fmt.Errorf("revising quote %s: %w", id, err)
	}
	head, err := t.quoteAt(id, version, Issued, Declined)
	if err != nil {
		return QuoteEntry{}, err
	}
	if err := t.mayBeQuoted(c); err != nil {
		return QuoteEntry{}, fmt.Errorf("revising quote %s: %w", id, err)
	}
	head.State, head.Revision, head.IssuedOn, head.ValidUntil = string(Draft), head.Revision+1, "", ""
	head.say(t, c)
	if err := t.putHead(revised, head); err != nil {
		return QuoteEntry{}, err
	}
	vans, err := t.draft(head, c)
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("revising quote %s: %w", id, err)
	}
	return head.entry(vans), nil
}

// DeclineQuote says that the customer does not want what is offered. A draft
// that is open to follow it stays open. ErrState when nothing is offered.
func (t WriteTx) DeclineQuote(id uuid.UUID, version int64, because string) (QuoteEntry, error) {
	head, err := t.quoteAt(id, version)
	if err != nil {
		return QuoteEntry{}, err
	}
	entry, err := of[revisionEntryRow](t.ReadTx).where("quote = ? AND state = ?", id, string(Issued)).one()
	if errors.Is(err, ErrNotFound) {
		return QuoteEntry{}, fmt.Errorf("nothing is offered of quote %s: %w", id, ErrState)
	}
	if err != nil {
		return QuoteEntry{}, fmt.Errorf("what is offered of quote %s: %w", id, err)
	}
	if err := t.moveRevision(declined, entry, Declined); err != nil {
		return QuoteEntry{}, err
	}
	head.DeclinedBecause = because
	if head.State == string(Issued) {
		head.State = string(Declined)
	}
	return t.putHeadEntry(declined, head)
}

// draft writes the draft revision that a head speaks of.
func (t WriteTx) draft(head *quoteRow, c QuoteContent) ([]quoteVanRow, error) {
	row, vans := newDraft(head, c)
	row.Entry.CreatedUS, row.Entry.CreatedBy = t.Now().UnixMicro(), t.s.as.Person
	// It has no line of its own in the journal: the quote's speaks for it.
	if err := jot(t, &row); err != nil {
		return nil, err
	}
	return vans, t.keepVans(vans)
}

func (t WriteTx) keepVans(vans []quoteVanRow) error {
	for i := range vans {
		if err := jot(t, &vans[i]); err != nil {
			return err
		}
	}
	return nil
}

func newDraft(head *quoteRow, c QuoteContent) (revisionRow, []quoteVanRow) {
	row := revisionRow{
		Entry: revisionEntryRow{Quote: head.ID, Number: head.Revision, State: string(Draft), AskedSHA256: c.Asked.sum},
		Asked: c.Asked.zipped,
	}
	row.Entry.work(c.Worked)
	return row, vanRows(head.ID, head.Revision, c.Vans)
}

// froze takes into the head what was frozen.
func (r *quoteRow) froze(state QuoteState, revision int64, f Frozen) {
	r.State, r.Revision = string(state), revision
	r.worked(f.Worked)
	r.IssuedOn, r.ValidUntil = f.IssuedOn, f.ValidUntil
	r.DocumentSHA256 = f.Document.sum
}

type revisionEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Quote          uuid.UUID `gorm:"primaryKey"`
	Number         int64     `gorm:"primaryKey;autoIncrement:false"`
	State          string
	CreatedUS      int64
	CreatedBy      uuid.UUID
	Release        int64
	Edition        string
	HeldEdition    *string
	IssuedOn       string
	ValidUntil     string
	TotalMinor     int64
	Currency       string
	Hours          decimal.Decimal
	AskedSHA256    string `gorm:"column:asked_sha256"`
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*revisionEntryRow) TableName() string { return "revisions" }

func (r *revisionEntryRow) work(w Worked) {
	r.Release, r.Edition, r.HeldEdition = w.Release, w.Edition, nil
	if w.HeldEdition != "" {
		r.HeldEdition = &w.HeldEdition
	}
	r.TotalMinor, r.Currency, r.Hours = w.TotalMinor, w.Currency, w.Hours
}

func (r *revisionEntryRow) held() string {
	if r.HeldEdition == nil {
		return ""
	}
	return *r.HeldEdition
}

func (r *revisionEntryRow) entry() RevisionEntry {
	return RevisionEntry{
		Quote: r.Quote, Number: r.Number, State: QuoteState(r.State), CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy,
		Worked: Worked{Release: r.Release, Edition: r.Edition, HeldEdition: r.held(),
			TotalMinor: r.TotalMinor, Currency: r.Currency, Hours: r.Hours},
		IssuedOn: r.IssuedOn, ValidUntil: r.ValidUntil, AskedSHA256: r.AskedSHA256, SHA256: r.DocumentSHA256,
	}
}

type revisionRow struct {
	Entry    revisionEntryRow `gorm:"embedded"`
	Asked    []byte
	Document []byte
}

// TableName for gorm.
func (*revisionRow) TableName() string { return "revisions" }

// freeze puts in what is frozen.
func (r *revisionRow) freeze(state QuoteState, f Frozen) {
	r.Entry.State = string(state)
	r.Entry.work(f.Worked)
	r.Entry.IssuedOn, r.Entry.ValidUntil = f.IssuedOn, f.ValidUntil
	r.Entry.DocumentSHA256, r.Document = f.Document.sum, f.Document.zipped
}

// frozen are the columns that freezing writes.
func (r *revisionRow) frozen() map[string]any {
	e := &r.Entry
	return map[string]any{
		"state": e.State, "release": e.Release, "edition": e.Edition, "held_edition": e.HeldEdition,
		"issued_on": e.IssuedOn, "valid_until": e.ValidUntil, "total_minor": e.TotalMinor, "currency": e.Currency, "hours": e.Hours,
		"document": r.Document, "document_sha256": e.DocumentSHA256,
	}
}

// said are the columns that changing a draft writes.
func (r *revisionRow) said() map[string]any {
	e := &r.Entry
	return map[string]any{
		"release": e.Release, "edition": e.Edition, "held_edition": e.HeldEdition,
		"total_minor": e.TotalMinor, "currency": e.Currency, "hours": e.Hours,
		"asked": r.Asked, "asked_sha256": e.AskedSHA256,
	}
}

func (r *revisionRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

// journalled: of a draft nothing, as the quote's own line speaks for it.
func (r *revisionRow) journalled() (noun, id string, content []byte) {
	e := &r.Entry
	if e.State != string(Draft) {
		sum := digest("wainscot-revision/1", e.Quote[:], e.Number, e.State, e.CreatedUS, e.CreatedBy[:], e.Release, e.Edition, e.held(),
			e.IssuedOn, e.ValidUntil, e.TotalMinor, e.Currency, e.Hours.String(), e.AskedSHA256, e.DocumentSHA256)
		content = sum[:]
	}
	return "revision", revisionID(e.Quote, e.Number), content
}

// sealed: both documents are what their hashes say.
func (r *revisionRow) sealed() error {
	_, err := Packed{zipped: r.Asked, sum: r.Entry.AskedSHA256}.Unpack()
	if err == nil && r.Entry.State != string(Draft) {
		_, err = Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	}
	return err
}
