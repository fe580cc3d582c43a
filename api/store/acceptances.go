package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Acceptance is the customer's yes to what was offered.
type Acceptance struct {
	Quote uuid.UUID
	// Offered is the revision that was offered, Revision the one that was
	// accepted: with extras ticked, another, frozen with them.
	Offered, Revision int64
	How               string // counter, paper or link
	On                string // YYYY-MM-DD where the workshop is
	At                time.Time
	RecordedBy        uuid.UUID
	Place             string
	TermsSHA256       string
	Extras            []TickedExtra
	Cancellation      Cancellation
	// By, Request and what the evidence says and shows are personal, and may
	// have been emptied.
	By       string
	Request  string // the customer's own that work begins early; "" for none
	Evidence []Evidence
}

// TickedExtra is an extra that was taken.
type TickedExtra struct {
	Van     int    `json:"van"` // from 1
	Feature string `json:"feature"`
}

// Cancellation is what the customer was told of the right to cancel.
type Cancellation struct {
	Applies   bool
	LastDay   string // YYYY-MM-DD; "" where it does not apply
	EarlyWork bool   // work may begin before that day, at the customer's request
	Cites     string
	Says      string
}

// Evidence that a quote was accepted.
type Evidence struct {
	Says      string
	MediaType string // "" without content
	SHA256    string // of Content, in hexadecimal; stays when that is erased
	Content   []byte
}

// EvidenceOf makes evidence of what was sent.
func EvidenceOf(says, mediaType string, content []byte) Evidence {
	e := Evidence{Says: says, MediaType: mediaType}
	if len(content) > 0 {
		sum := sha256.Sum256(content)
		e.SHA256, e.Content = hex.EncodeToString(sum[:]), content
	}
	return e
}

// AcceptQuote keeps the customer's yes to the revision that is offered, and
// with extras ticked the revision that was frozen with them, which takes its
// place. A draft that was open to follow what is accepted is given up: it was
// never offered. ErrState when a.Offered is not what is offered.
//
// Of a, Quote, Revision, At and RecordedBy are filled in.
func (t WriteTx) AcceptQuote(id uuid.UUID, version int64, a Acceptance, withExtras *Frozen) (QuoteEntry, Acceptance, error) {
	return t.accept(id, version, a, withExtras)
}

// AcceptByLink is AcceptQuote for a customer, who knows of no version: what
// they accept is what the link was made for.
func (t WriteTx) AcceptByLink(l QuoteLink, a Acceptance, withExtras *Frozen) (QuoteEntry, Acceptance, error) {
	a.Offered, a.How = l.Revision, "link"
	return t.accept(l.Quote, anyVersion, a, withExtras)
}

func (t WriteTx) accept(id uuid.UUID, version int64, a Acceptance, withExtras *Frozen) (QuoteEntry, Acceptance, error) {
	none := func(err error) (QuoteEntry, Acceptance, error) {
		return QuoteEntry{}, Acceptance{}, fmt.Errorf("accepting quote %s: %w", id, err)
	}
	head, err := t.quoteAt(id, version, Issued, Draft)
	if err != nil {
		return none(err)
	}
	entry, err := of[revisionEntryRow](t.ReadTx).where("quote = ? AND number = ? AND state = ?", id, a.Offered, string(Issued)).one()
	if errors.Is(err, ErrNotFound) {
		return none(fmt.Errorf("revision %d is not what is offered: %w", a.Offered, ErrState))
	}
	if err != nil {
		return none(err)
	}
	if head.State == string(Draft) {
		if err := t.giveUpDraft(head); err != nil {
			return none(err)
		}
	}
	a.Quote, a.Revision, a.At, a.RecordedBy = id, a.Offered, t.Now(), t.s.as.Person
	if withExtras == nil {
		err = t.moveRevision(accepted, entry, Accepted)
		head.State, head.Revision = string(Accepted), entry.Number
		head.worked(entry.entry().Worked)
		head.IssuedOn, head.ValidUntil, head.DocumentSHA256 = entry.IssuedOn, entry.ValidUntil, entry.DocumentSHA256
	} else {
		a.Revision = a.Offered + 1
		err = t.acceptOther(entry, *withExtras)
		head.froze(Accepted, a.Revision, *withExtras)
	}
	if err != nil {
		return none(err)
	}
	if err := t.keepAcceptance(a); err != nil {
		return none(err)
	}
	quote, err := t.putHeadEntry(accepted, head)
	if err != nil {
		return none(err)
	}
	return quote, a, nil
}

// giveUpDraft takes the draft away that a head speaks of.
func (t WriteTx) giveUpDraft(head *quoteRow) error {
	if err := of[quoteVanRow](t.ReadTx).where("quote = ? AND revision = ?", head.ID, head.Revision).remove(); err != nil {
		return err
	}
	return of[revisionRow](t.ReadTx).where("quote = ? AND number = ?", head.ID, head.Revision).remove()
}

// acceptOther keeps the revision that was accepted in the place of the one
// that was offered.
func (t WriteTx) acceptOther(offered revisionEntryRow, f Frozen) error {
	if err := errors.Join(f.Asked.checked(), f.Document.checked()); err != nil {
		return err
	}
	before, err := t.Revision(offered.Quote, offered.Number)
	if err != nil {
		return err
	}
	if err := t.moveRevision(superseded, offered, Superseded); err != nil {
		return err
	}
	row := revisionRow{
		Entry: revisionEntryRow{
			Quote: offered.Quote, Number: offered.Number + 1, AskedSHA256: f.Asked.sum,
			CreatedUS: t.Now().UnixMicro(), CreatedBy: t.s.as.Person,
		},
		Asked: f.Asked.zipped,
	}
	row.freeze(Accepted, f)
	if err := insert(t, accepted, &row); err != nil {
		return err
	}
	return t.keepVans(vanRows(offered.Quote, row.Entry.Number, before.Vans))
}

func (t WriteTx) keepAcceptance(a Acceptance) error {
	row, err := acceptanceRowOf(a)
	if err != nil {
		return err
	}
	if err := insert(t, accepted, row); err != nil {
		return err
	}
	for i, e := range a.Evidence {
		err := jot(t, &evidenceRow{Quote: a.Quote, Place: int64(i + 1), Says: e.Says, MediaType: e.MediaType, SHA256: e.SHA256, Content: e.Content})
		if err != nil {
			return err
		}
	}
	return nil
}

// Acceptance of a quote; ErrNotFound when it has not been accepted.
func (t ReadTx) Acceptance(quote uuid.UUID) (Acceptance, error) {
	row, err := of[acceptanceRow](t).where("quote = ?", quote).one()
	if err != nil {
		return Acceptance{}, fmt.Errorf("acceptance of quote %s: %w", quote, err)
	}
	evidence, err := of[evidenceRow](t).where("quote = ?", quote).order("place").all()
	if err != nil {
		return Acceptance{}, fmt.Errorf("evidence of quote %s: %w", quote, err)
	}
	return row.acceptance(evidence)
}

type acceptanceRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Quote          uuid.UUID `gorm:"primaryKey"`
	Offered        int64
	Revision       int64
	How            string
	AcceptedOn     string
	AtUS           int64
	RecordedBy     uuid.UUID
	Place          string
	TermsSHA256    string `gorm:"column:terms_sha256"`
	Extras         string
	Evidence       string
	CancelApplies  int64
	CancelLastDay  string
	CancelCites    string
	CancelSays     string
	EarlyWork      int64
	ByName         string
	ExpressRequest string
}

// TableName for gorm.
func (*acceptanceRow) TableName() string { return "acceptances" }

func acceptanceRowOf(a Acceptance) (*acceptanceRow, error) {
	sums := make([]string, len(a.Evidence))
	for i, e := range a.Evidence {
		sums[i] = e.SHA256
	}
	extras, err := json.Marshal(append([]TickedExtra{}, a.Extras...))
	if err != nil {
		return nil, fmt.Errorf("extras: %w", err)
	}
	evidence, err := json.Marshal(sums)
	if err != nil {
		return nil, fmt.Errorf("evidence: %w", err)
	}
	return &acceptanceRow{
		Quote: a.Quote, Offered: a.Offered, Revision: a.Revision, How: a.How, AcceptedOn: a.On, AtUS: a.At.UnixMicro(),
		RecordedBy: a.RecordedBy, Place: a.Place, TermsSHA256: a.TermsSHA256, Extras: string(extras), Evidence: string(evidence),
		CancelApplies: bit(a.Cancellation.Applies), CancelLastDay: a.Cancellation.LastDay, CancelCites: a.Cancellation.Cites,
		CancelSays: a.Cancellation.Says, EarlyWork: bit(a.Cancellation.EarlyWork), ByName: a.By, ExpressRequest: a.Request,
	}, nil
}

func (r *acceptanceRow) acceptance(evidence []evidenceRow) (Acceptance, error) {
	a := Acceptance{
		Quote: r.Quote, Offered: r.Offered, Revision: r.Revision, How: r.How, On: r.AcceptedOn, At: moment(r.AtUS),
		RecordedBy: r.RecordedBy, Place: r.Place, TermsSHA256: r.TermsSHA256,
		Cancellation: Cancellation{Applies: r.CancelApplies == 1, LastDay: r.CancelLastDay, EarlyWork: r.EarlyWork == 1,
			Cites: r.CancelCites, Says: r.CancelSays},
		By: r.ByName, Request: r.ExpressRequest,
	}
	if err := json.Unmarshal([]byte(r.Extras), &a.Extras); err != nil {
		return a, fmt.Errorf("extras of the acceptance of quote %s: %w", r.Quote, err)
	}
	for _, e := range evidence {
		a.Evidence = append(a.Evidence, Evidence{Says: e.Says, MediaType: e.MediaType, SHA256: e.SHA256, Content: e.Content})
	}
	return a, nil
}

func (r *acceptanceRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled: all but who it was and what they asked for themselves.
func (r *acceptanceRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-acceptance/1", r.Offered, r.Revision, r.How, r.AcceptedOn, r.AtUS, r.RecordedBy[:], r.Place, r.TermsSHA256,
		r.Extras, r.Evidence, r.CancelApplies, r.CancelLastDay, r.CancelCites, r.CancelSays, r.EarlyWork)
	return "acceptance", r.Quote.String(), sum[:]
}

func (*acceptanceRow) sealed() error { return nil }

func (r *acceptanceRow) key() any { return r.Quote }

// holds says whether the evidence is what the acceptance lists.
func (r *acceptanceRow) holds(evidence []evidenceRow) error {
	var sums []string
	if err := json.Unmarshal([]byte(r.Evidence), &sums); err != nil || len(sums) != len(evidence) {
		return fmt.Errorf("%w: acceptance %s: there are %d pieces of evidence", ErrJournal, r.Quote, len(evidence))
	}
	for i, e := range evidence {
		if e.SHA256 != sums[i] || e.Content != nil && !bytes.Equal(hashOf(e.Content), []byte(e.SHA256)) {
			return fmt.Errorf("%w: acceptance %s: evidence %d is not what was shown", ErrJournal, r.Quote, i+1)
		}
	}
	return nil
}

func hashOf(content []byte) []byte {
	sum := sha256.Sum256(content)
	return []byte(hex.EncodeToString(sum[:]))
}

type evidenceRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Quote      uuid.UUID `gorm:"primaryKey"`
	Place      int64     `gorm:"primaryKey;autoIncrement:false"`
	Says       string
	MediaType  string
	SHA256     string `gorm:"column:sha256"`
	Content    []byte
}

// TableName for gorm.
func (*evidenceRow) TableName() string { return "acceptance_evidence" }

func (r *evidenceRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func bit(b bool) int64 {
	if b {
		return 1
	}
	return 0
}
