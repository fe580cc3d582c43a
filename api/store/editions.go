package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// EditionEntry is an edition of the price-book without its text.
type EditionEntry struct {
	Code string
	// InForceFrom is its first day, YYYY-MM-DD in the workshop's time zone;
	// it is in force until another one is.
	InForceFrom string
	Currency    string
	// Hash is the edition's own content hash.
	Hash    string
	AddedAt time.Time
	AddedBy uuid.UUID
}

// Edition of the price-book.
type Edition struct {
	EditionEntry
	Document Packed
}

// NewEdition is what is needed to add one.
type NewEdition struct {
	Code, InForceFrom, Currency, Hash string
	Document                          Packed
}

// AddEdition keeps an edition of the price-book. A code or a first day that
// another edition of the workshop has is ErrTaken.
func (t WriteTx) AddEdition(n NewEdition) (Edition, error) {
	if err := n.Document.checked(); err != nil {
		return Edition{}, fmt.Errorf("edition %q: %w", n.Code, err)
	}
	if err := checkDay(n.InForceFrom); err != nil {
		return Edition{}, fmt.Errorf("edition %q: in force from: %w", n.Code, err)
	}
	t.s.ground = true
	row := editionRow{
		Entry: editionEntryRow{
			Code: n.Code, InForceFrom: n.InForceFrom, Currency: n.Currency, Hash: n.Hash,
			AddedUS: t.Now().UnixMicro(), AddedBy: t.s.as.Person, DocumentSHA256: n.Document.sum,
		},
		Document: n.Document.zipped,
	}
	if err := insert(t, added, &row); err != nil {
		return Edition{}, fmt.Errorf("edition %q: %w", n.Code, err)
	}
	return row.edition(), nil
}

// Edition gives one edition by its code.
func (t ReadTx) Edition(code string) (Edition, error) {
	row, err := of[editionRow](t).where("code = ?", code).one()
	if err != nil {
		return Edition{}, fmt.Errorf("edition %q: %w", code, err)
	}
	return row.edition(), nil
}

// EditionInForce gives the edition in force on a day (YYYY-MM-DD).
func (t ReadTx) EditionInForce(day string) (Edition, error) {
	if err := checkDay(day); err != nil {
		return Edition{}, fmt.Errorf("edition in force: %w", err)
	}
	found, err := of[editionRow](t).where("in_force_from <= ?", day).order("in_force_from DESC").first(1)
	if err == nil && len(found) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		return Edition{}, fmt.Errorf("edition in force on %s: %w", day, err)
	}
	return found[0].edition(), nil
}

// Editions lists at most limit editions, latest first day first, from before
// the given first day on; "" begins at the latest.
func (t ReadTx) Editions(before string, limit int) ([]EditionEntry, error) {
	query := of[editionEntryRow](t).order("in_force_from DESC")
	if before != "" {
		query = query.where("in_force_from < ?", before)
	}
	found, err := query.first(bounded(limit))
	if err != nil {
		return nil, fmt.Errorf("editions: %w", err)
	}
	list := make([]EditionEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, nil
}

// checkDay: days are compared as text, so they must all look alike.
func checkDay(day string) error {
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return fmt.Errorf("%w: %q is not a day like 2026-04-01", ErrRefused, day)
	}
	return nil
}

type editionEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Code           string    `gorm:"primaryKey"`
	InForceFrom    string
	Currency       string
	Hash           string
	AddedUS        int64
	AddedBy        uuid.UUID
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (editionEntryRow) TableName() string { return "editions" }

func (r editionEntryRow) entry() EditionEntry {
	return EditionEntry{
		Code: r.Code, InForceFrom: r.InForceFrom, Currency: r.Currency, Hash: r.Hash,
		AddedAt: moment(r.AddedUS), AddedBy: r.AddedBy,
	}
}

type editionRow struct {
	Entry    editionEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*editionRow) TableName() string { return "editions" }

func (r *editionRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *editionRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-edition/1", e.Code, e.InForceFrom, e.Currency, e.Hash, e.AddedUS, e.AddedBy[:], e.DocumentSHA256)
	return "edition", e.Code, sum[:]
}

func (r *editionRow) sealed() error {
	_, err := r.edition().Document.Unpack()
	return err
}

func (r *editionRow) key() any { return r.Entry.Code }

func (r *editionRow) edition() Edition {
	return Edition{EditionEntry: r.Entry.entry(), Document: Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}}
}
