package store

import (
	"bytes"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// VariationEntry is a variation of a job without its document.
type VariationEntry struct {
	ID  uuid.UUID
	Job uuid.UUID
	// Number of the job's, from 1 without gaps.
	Number    int64
	State     job.VariationState
	CreatedAt time.Time
	CreatedBy uuid.UUID
	ChangedAt time.Time
	ChangedBy uuid.UUID
	// SentOn, ValidUntil and DecidedOn are days, YYYY-MM-DD; "" before.
	SentOn, ValidUntil, DecidedOn string
	// ChangeMinor is what it changes the job's total by with VAT, TotalMinor
	// what that is then, in minor units of Currency; of a draft as it was when
	// it was kept.
	ChangeMinor, TotalMinor int64
	Currency                string
	SHA256                  string // of the document
	// How the customer said yes: counter, paper; "" before.
	How string
	// By, and what the evidence says and shows, are personal and may have been
	// emptied.
	By       string
	Evidence Evidence
}

// Variation of a job with its document: a draft's is what is proposed, any
// other's what was sent.
type Variation struct {
	VariationEntry
	Document Packed
}

// VariationContent is what a variation is kept with.
type VariationContent struct {
	ValidUntil              string
	ChangeMinor, TotalMinor int64
	Currency                string
	Document                Packed
}

// AddVariation keeps a draft as the next of a job's.
func (t WriteTx) AddVariation(of uuid.UUID, c VariationContent) (VariationEntry, error) {
	if err := c.Document.checked(); err != nil {
		return VariationEntry{}, fmt.Errorf("variation: %w", err)
	}
	before, err := t.Variations(of)
	if err != nil {
		return VariationEntry{}, err
	}
	now := t.Now()
	row := variationRow{ID: t.NewID(), Job: of, Number: int64(len(before)) + 1, State: string(job.VariationDraft),
		CreatedUS: now.UnixMicro(), CreatedBy: t.s.as.Person, ChangedUS: now.UnixMicro(), ChangedBy: t.s.as.Person}
	row.content(c)
	if err := insert(t, added, &row); err != nil {
		return VariationEntry{}, fmt.Errorf("variation %d of job %s: %w", row.Number, of, err)
	}
	return row.entry(), nil
}

// ChangeVariation puts what is proposed now in the place of what a draft
// proposed. ErrState when it is no draft any more.
func (t WriteTx) ChangeVariation(of uuid.UUID, number int64, c VariationContent) (VariationEntry, error) {
	return t.moveVariation(changed, of, number, job.VariationDraft, func(r *variationRow) { r.content(c) })
}

// SendVariation freezes a draft: c is what is sent.
func (t WriteTx) SendVariation(of uuid.UUID, number int64, on string, c VariationContent) (VariationEntry, error) {
	return t.moveVariation(issued, of, number, job.VariationSent, func(r *variationRow) {
		r.content(c)
		r.SentOn = on
	})
}

// AcceptVariation keeps the customer's yes to what was sent.
func (t WriteTx) AcceptVariation(of uuid.UUID, number int64, consent job.Consent, by string, e Evidence) (VariationEntry, error) {
	return t.moveVariation(accepted, of, number, job.VariationAccepted, func(r *variationRow) {
		r.DecidedOn, r.How, r.ByName = consent.On, string(consent.How), by
		r.EvidenceSays, r.EvidenceMediaType, r.EvidenceSHA256, r.Evidence = e.Says, e.MediaType, e.SHA256, e.Content
	})
}

// EndVariation says that what was sent is declined, or that it or a draft is
// withdrawn.
func (t WriteTx) EndVariation(of uuid.UUID, number int64, on string, to job.VariationState) (VariationEntry, error) {
	verb := declined
	if to == job.VariationWithdrawn {
		verb = withdrawn
	}
	return t.moveVariation(verb, of, number, to, func(r *variationRow) { r.DecidedOn = on })
}

// moveVariation changes a variation and takes it over into a state; a draft may
// stay one.
func (t WriteTx) moveVariation(verb string, ofJob uuid.UUID, number int64, to job.VariationState, put func(*variationRow)) (VariationEntry, error) {
	row, err := of[variationRow](t.ReadTx).where("job = ? AND number = ?", ofJob, number).one()
	if err != nil {
		return VariationEntry{}, fmt.Errorf("variation %d of job %s: %w", number, ofJob, err)
	}
	was := job.VariationState(row.State)
	if !was.Over(to) && (was != to || to != job.VariationDraft) {
		return VariationEntry{}, fmt.Errorf("variation %d of job %s is %s: %w", number, ofJob, was, ErrState)
	}
	put(&row)
	row.State, row.ChangedUS, row.ChangedBy = string(to), t.Now().UnixMicro(), t.s.as.Person
	err = change(t, verb, of[variationRow](t.ReadTx).where("id = ? AND state = ?", row.ID, string(was)), row.columns(), ErrStale, &row)
	if err != nil {
		return VariationEntry{}, fmt.Errorf("variation %d of job %s: %w", number, ofJob, err)
	}
	return row.entry(), nil
}

// Variation gives one variation of a job.
func (t ReadTx) Variation(ofJob uuid.UUID, number int64) (Variation, error) {
	row, err := of[variationRow](t).where("job = ? AND number = ?", ofJob, number).one()
	if err != nil {
		return Variation{}, fmt.Errorf("variation %d of job %s: %w", number, ofJob, err)
	}
	return Variation{VariationEntry: row.entry(), Document: row.packed()}, nil
}

// Variations lists the variations of a job, in the order they were made.
func (t ReadTx) Variations(ofJob uuid.UUID) ([]VariationEntry, error) {
	found, err := of[variationRow](t).where("job = ?", ofJob).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("variations of job %s: %w", ofJob, err)
	}
	list := make([]VariationEntry, len(found))
	for i := range found {
		list[i] = found[i].entry()
	}
	return list, nil
}

// emptyVariationsOf empties what is personal in the variations of a customer's
// jobs: who said yes, and what shows it.
func (t WriteTx) emptyVariationsOf(customer uuid.UUID) error {
	jobs, err := of[jobEntryRow](t.ReadTx).where("customer = ?", customer).all()
	if err != nil {
		return fmt.Errorf("jobs of customer %s: %w", customer, err)
	}
	for _, j := range jobs {
		found, err := of[variationRow](t.ReadTx).where("job = ?", j.ID).all()
		if err != nil {
			return fmt.Errorf("variations of job %d: %w", j.Number, err)
		}
		for i := range found {
			row := &found[i]
			if row.ByName == "" && row.EvidenceSays == "" && row.Evidence == nil {
				continue
			}
			row.ByName, row.EvidenceSays, row.Evidence = "", "", nil
			if err := change(t, emptied, of[variationRow](t.ReadTx).where("id = ?", row.ID), row.columns(), ErrStale, row); err != nil {
				return fmt.Errorf("variation %d of job %d: %w", row.Number, j.Number, err)
			}
		}
	}
	return nil
}

type variationRow struct {
	WorkshopID        uuid.UUID `gorm:"primaryKey"`
	ID                uuid.UUID `gorm:"primaryKey"`
	Job               uuid.UUID
	Number            int64
	State             string
	CreatedUS         int64
	CreatedBy         uuid.UUID
	ChangedUS         int64
	ChangedBy         uuid.UUID
	SentOn            string
	ValidUntil        string
	DecidedOn         string
	How               string
	ChangeMinor       int64
	TotalMinor        int64
	Currency          string
	ByName            string
	EvidenceSays      string
	EvidenceMediaType string
	EvidenceSHA256    string `gorm:"column:evidence_sha256"`
	DocumentSHA256    string `gorm:"column:document_sha256"`
	Document          []byte
	Evidence          []byte
}

// TableName for gorm.
func (*variationRow) TableName() string { return "variations" }

func (r *variationRow) content(c VariationContent) {
	r.ValidUntil, r.ChangeMinor, r.TotalMinor, r.Currency = c.ValidUntil, c.ChangeMinor, c.TotalMinor, c.Currency
	r.Document, r.DocumentSHA256 = c.Document.zipped, c.Document.sum
}

func (r *variationRow) columns() map[string]any {
	return map[string]any{
		"state": r.State, "changed_us": r.ChangedUS, "changed_by": r.ChangedBy, "sent_on": r.SentOn, "valid_until": r.ValidUntil,
		"decided_on": r.DecidedOn, "how": r.How, "change_minor": r.ChangeMinor, "total_minor": r.TotalMinor, "currency": r.Currency,
		"by_name": r.ByName, "evidence_says": r.EvidenceSays, "evidence_media_type": r.EvidenceMediaType, "evidence_sha256": r.EvidenceSHA256,
		"evidence": r.Evidence, "document": r.Document, "document_sha256": r.DocumentSHA256,
	}
}

func (r *variationRow) entry() VariationEntry {
	return VariationEntry{
		ID: r.ID, Job: r.Job, Number: r.Number, State: job.VariationState(r.State),
		CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy, ChangedAt: moment(r.ChangedUS), ChangedBy: r.ChangedBy,
		SentOn: r.SentOn, ValidUntil: r.ValidUntil, DecidedOn: r.DecidedOn, How: r.How,
		ChangeMinor: r.ChangeMinor, TotalMinor: r.TotalMinor, Currency: r.Currency, SHA256: r.DocumentSHA256, By: r.ByName,
		Evidence: Evidence{Says: r.EvidenceSays, MediaType: r.EvidenceMediaType, SHA256: r.EvidenceSHA256, Content: r.Evidence},
	}
}

func (r *variationRow) packed() Packed { return Packed{zipped: r.Document, sum: r.DocumentSHA256} }

func (r *variationRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled: all but who it was and what shows it.
func (r *variationRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-variation-row/1", r.Job[:], r.Number, r.State, r.CreatedUS, r.CreatedBy[:], r.ChangedUS, r.ChangedBy[:],
		r.SentOn, r.ValidUntil, r.DecidedOn, r.How, r.ChangeMinor, r.TotalMinor, r.Currency, r.EvidenceMediaType, r.EvidenceSHA256, r.DocumentSHA256)
	return "variation", r.ID.String(), sum[:]
}

// sealed: the document is what its hash says, and the evidence, unless it has
// been emptied.
func (r *variationRow) sealed() error {
	if r.Evidence != nil && !bytes.Equal(hashOf(r.Evidence), []byte(r.EvidenceSHA256)) {
		return fmt.Errorf("%w: the evidence is not what was shown", ErrJournal)
	}
	_, err := r.packed().Unpack()
	return err
}

func (r *variationRow) key() any { return r.ID }
