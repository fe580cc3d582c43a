package store

import (
	"bytes"
	"fmt"
	"strconv"
	"time"

	"github.com/google/uuid"
)

// ReleaseProof is what a release was proved to be before it was published. It
// never changes.
type ReleaseProof struct {
	Release  int64
	ProvedAt time.Time
	ProvedBy uuid.UUID
	Document Packed
	// Acknowledged in the order in which they were kept.
	Acknowledged []Acknowledgement
}

// Acknowledgement is a warning that somebody has taken upon themselves.
type Acknowledgement struct {
	// Warning is what the finding is told from others by, Says its sentence.
	Warning string
	Says    string
	Reason  string
	// By whom and when it was acknowledged: for this release or, carried over,
	// for an earlier one.
	By uuid.UUID
	At time.Time
}

// KeepProof keeps the proof of a release with what was acknowledged for it. An
// acknowledgement of nobody is the transaction's person's, at its moment; any
// other is carried over.
func (t WriteTx) KeepProof(release int64, document Packed, acknowledged []Acknowledgement) error {
	if err := document.checked(); err != nil {
		return fmt.Errorf("proof of release %d: %w", release, err)
	}
	proof := proofRow{
		Entry: proofEntryRow{
			Release: release, ProvedUS: t.Now().UnixMicro(), ProvedBy: t.s.as.Person, DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}
	if err := insert(t, proved, &proof); err != nil {
		return fmt.Errorf("proof of release %d: %w", release, err)
	}
	for i, a := range acknowledged {
		verb := carriedOver
		if a.By == uuid.Nil {
			verb, a.By, a.At = acknowledgedVerb, t.s.as.Person, t.Now()
		}
		row := acknowledgementRow{
			Release: release, Place: int64(i + 1), Warning: a.Warning, Says: a.Says, Reason: a.Reason,
			AcknowledgedUS: a.At.UnixMicro(), AcknowledgedBy: a.By,
		}
		if err := insert(t, verb, &row); err != nil {
			return fmt.Errorf("acknowledging %q for release %d: %w", a.Warning, release, err)
		}
	}
	return nil
}

// ReleaseProof gives the proof of a release; ErrNotFound where it was published
// without one.
func (t ReadTx) ReleaseProof(release int64) (ReleaseProof, error) {
	row, err := of[proofRow](t).where("release = ?", release).one()
	if err != nil {
		return ReleaseProof{}, fmt.Errorf("proof of release %d: %w", release, err)
	}
	p := ReleaseProof{
		Release: release, ProvedAt: moment(row.Entry.ProvedUS), ProvedBy: row.Entry.ProvedBy,
		Document: Packed{zipped: row.Document, sum: row.Entry.DocumentSHA256},
	}
	p.Acknowledged, err = t.Acknowledgements(release)
	return p, err
}

// Acknowledgements are those kept with a release; of one without a proof there
// are none.
func (t ReadTx) Acknowledgements(release int64) ([]Acknowledgement, error) {
	found, err := of[acknowledgementRow](t).where("release = ?", release).order("place").all()
	if err != nil {
		return nil, fmt.Errorf("acknowledgements of release %d: %w", release, err)
	}
	list := make([]Acknowledgement, len(found))
	for i, r := range found {
		list[i] = Acknowledgement{Warning: r.Warning, Says: r.Says, Reason: r.Reason, By: r.AcknowledgedBy, At: moment(r.AcknowledgedUS)}
	}
	return list, nil
}

type proofEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Release        int64     `gorm:"primaryKey;autoIncrement:false"`
	ProvedUS       int64
	ProvedBy       uuid.UUID
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (proofEntryRow) TableName() string { return "release_proofs" }

type proofRow struct {
	Entry    proofEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*proofRow) TableName() string { return "release_proofs" }

func (r *proofRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *proofRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-release-proof/1", e.Release, e.ProvedUS, e.ProvedBy[:], e.DocumentSHA256)
	return "proof", strconv.FormatInt(e.Release, 10), sum[:]
}

func (r *proofRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	return err
}

func (r *proofRow) key() any { return r.Entry.Release }

type acknowledgementRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Release        int64     `gorm:"primaryKey;autoIncrement:false"`
	Place          int64     `gorm:"primaryKey;autoIncrement:false"`
	Warning        string
	Says           string
	Reason         string
	AcknowledgedUS int64
	AcknowledgedBy uuid.UUID
}

// TableName for gorm.
func (*acknowledgementRow) TableName() string { return "acknowledgements" }

func (r *acknowledgementRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled: the id is the release, and the place in its list.
func (r *acknowledgementRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-acknowledgement/1", r.Release, r.Place, r.Warning, r.Says, r.Reason, r.AcknowledgedUS, r.AcknowledgedBy[:])
	return "acknowledgement", strconv.FormatInt(r.Release, 10) + "/" + strconv.FormatInt(r.Place, 10), sum[:]
}

// verifyAcknowledgements holds them against the journal.
func (t ReadTx) verifyAcknowledgements(last map[[2]string][]byte) error {
	return everyRow(t, "release, place", func(r acknowledgementRow) any { return []any{r.Release, r.Place} }, func(page []acknowledgementRow) error {
		for i := range page {
			noun, id, content := page[i].journalled()
			if !bytes.Equal(content, last[[2]string{noun, id}]) {
				return fmt.Errorf("%w: %s %s is not what was written", ErrJournal, noun, id)
			}
			delete(last, [2]string{noun, id})
		}
		return nil
	})
}
