package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/job"
	"wainscot/pricing/quote"
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
	// How the customer answered: counter, paper, link; "" before, and of a no
	// that was only told.
	How string
	// By is who answered. It is personal and may have been emptied.
	By string
}

// Variation of a job with its document: a draft's is what is proposed, any
// other's what was sent.
type Variation struct {
	VariationEntry
	Document Packed
	// Evidence of the yes: what it says and shows is personal and may have been
	// emptied.
	Evidence []Evidence
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

// AcceptVariation keeps the customer's yes to what was sent, and what shows it.
func (t WriteTx) AcceptVariation(of uuid.UUID, number int64, consent job.Consent, by string, evidence []Evidence) (VariationEntry, error) {
	entry, err := t.moveVariation(accepted, of, number, job.VariationAccepted, func(r *variationRow) {
		r.DecidedOn, r.How, r.ByName = consent.On, string(consent.How), by
		r.EvidenceMediaType, r.EvidenceSHA256 = evidenceSum(evidence)
	})
	if err != nil {
		return entry, err
	}
	for i, e := range evidence {
		row := variationEvidenceRow{Variation: entry.ID, Place: int64(i + 1), Says: e.Says, MediaType: e.MediaType, SHA256: e.SHA256, Content: e.Content}
		if err := jot(t, &row); err != nil {
			return entry, fmt.Errorf("evidence of variation %d of job %s: %w", number, of, err)
		}
	}
	return entry, nil
}

// EndVariation says that what was sent is declined, or that it or a draft is
// withdrawn. by is who said no, and how, where that is known; it is personal.
func (t WriteTx) EndVariation(of uuid.UUID, number int64, on string, to job.VariationState, by string, how quote.How) (VariationEntry, error) {
	verb := declined
	if to == job.VariationWithdrawn {
		verb = withdrawn
	}
	return t.moveVariation(verb, of, number, to, func(r *variationRow) { r.DecidedOn, r.ByName, r.How = on, by, string(how) })
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
	row, err := t.variationEntry(ofJob, number)
	if err != nil {
		return Variation{}, err
	}
	v := Variation{VariationEntry: row.entry(), Document: row.packed()}
	evidence, err := t.variationEvidence(row.ID)
	for _, e := range evidence {
		v.Evidence = append(v.Evidence, Evidence{Says: e.Says, MediaType: e.MediaType, SHA256: e.SHA256, Content: e.Content})
	}
	return v, err
}

func (t ReadTx) variationEntry(ofJob uuid.UUID, number int64) (variationRow, error) {
	row, err := of[variationRow](t).where("job = ? AND number = ?", ofJob, number).one()
	if err != nil {
		err = fmt.Errorf("variation %d of job %s: %w", number, ofJob, err)
	}
	return row, err
}

func (t ReadTx) variationEvidence(variation uuid.UUID) ([]variationEvidenceRow, error) {
	list, err := of[variationEvidenceRow](t).where("variation = ?", variation).order("place").all()
	if err != nil {
		err = fmt.Errorf("evidence of variation %s: %w", variation, err)
	}
	return list, err
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

// emptyVariationsOf empties what is personal in the variations of jobs: who
// answered, and what shows it. Of the evidence its hash stays.
func (t WriteTx) emptyVariationsOf(jobs []uuid.UUID) error {
	for _, id := range jobs {
		found, err := of[variationRow](t.ReadTx).where("job = ?", id).all()
		if err != nil {
			return fmt.Errorf("variations of job %s: %w", id, err)
		}
		for i := range found {
			row := &found[i]
			err := of[variationEvidenceRow](t.ReadTx).where("variation = ?", row.ID).set(map[string]any{"says": "Erased.", "content": nil}, ErrNotFound)
			if err != nil && !errors.Is(err, ErrNotFound) { // none is nothing to empty
				return fmt.Errorf("evidence of variation %d of job %s: %w", row.Number, id, err)
			}
			if row.ByName == "" {
				continue
			}
			row.ByName = ""
			if err := change(t, emptied, of[variationRow](t.ReadTx).where("id = ?", row.ID), row.columns(), ErrStale, row); err != nil {
				return fmt.Errorf("variation %d of job %s: %w", row.Number, id, err)
			}
		}
	}
	return nil
}

// verifyVariations holds variations against the journal, and their evidence
// against them.
func (t ReadTx) verifyVariations(last map[[2]string][]byte) error {
	if err := verifyTable[variationRow](t, "id", last); err != nil {
		return err
	}
	return everyRow(t, "id", func(r variationRow) any { return r.ID }, func(page []variationRow) error {
		for i := range page {
			evidence, err := t.variationEvidence(page[i].ID)
			if err == nil {
				err = page[i].holds(evidence)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// evidenceSum is what the journal has of evidence: of one piece its kind and
// hash, of several a hash over all of theirs; "" for none.
func evidenceSum(list []Evidence) (mediaType, sum string) {
	switch {
	case len(list) == 0:
		return "", ""
	case len(list) == 1 && list[0].SHA256 != "":
		return list[0].MediaType, list[0].SHA256
	}
	h := sha256.New()
	for _, e := range list {
		fmt.Fprintf(h, "%s\n%s\n", e.MediaType, e.SHA256)
	}
	return "", hex.EncodeToString(h.Sum(nil))
}

// holds says whether the evidence is what the variation was accepted on.
func (r *variationRow) holds(evidence []variationEvidenceRow) error {
	list := make([]Evidence, len(evidence))
	for i, e := range evidence {
		list[i] = Evidence{MediaType: e.MediaType, SHA256: e.SHA256}
		if e.Content != nil && !bytes.Equal(hashOf(e.Content), []byte(e.SHA256)) {
			return fmt.Errorf("%w: variation %s: evidence %d is not what was shown", ErrJournal, r.ID, i+1)
		}
	}
	kind, sum := evidenceSum(list)
	wordsAlone := r.EvidenceSHA256 == "" && len(list) == 1 && list[0].SHA256 == "" // as one row had it
	if !wordsAlone && (kind != r.EvidenceMediaType || sum != r.EvidenceSHA256) {
		return fmt.Errorf("%w: variation %s: its evidence is not what was shown", ErrJournal, r.ID)
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
	EvidenceMediaType string // see evidenceSum
	EvidenceSHA256    string `gorm:"column:evidence_sha256"`
	DocumentSHA256    string `gorm:"column:document_sha256"`
	Document          []byte
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
		"by_name": r.ByName, "evidence_media_type": r.EvidenceMediaType, "evidence_sha256": r.EvidenceSHA256,
		"document": r.Document, "document_sha256": r.DocumentSHA256,
	}
}

func (r *variationRow) entry() VariationEntry {
	return VariationEntry{
		ID: r.ID, Job: r.Job, Number: r.Number, State: job.VariationState(r.State),
		CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy, ChangedAt: moment(r.ChangedUS), ChangedBy: r.ChangedBy,
		SentOn: r.SentOn, ValidUntil: r.ValidUntil, DecidedOn: r.DecidedOn, How: r.How,
		ChangeMinor: r.ChangeMinor, TotalMinor: r.TotalMinor, Currency: r.Currency, SHA256: r.DocumentSHA256, By: r.ByName,
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

// sealed: the document is what its hash says.
func (r *variationRow) sealed() error {
	_, err := r.packed().Unpack()
	return err
}

func (r *variationRow) key() any { return r.ID }

type variationEvidenceRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Variation  uuid.UUID `gorm:"primaryKey"`
	Place      int64     `gorm:"primaryKey;autoIncrement:false"`
	Says       string
	MediaType  string
	SHA256     string `gorm:"column:sha256"`
	Content    []byte
}

// TableName for gorm.
func (*variationEvidenceRow) TableName() string { return "variation_evidence" }

func (r *variationEvidenceRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }
