package store

import (
	"fmt"
	"strconv"
	"time"

	"github.com/google/uuid"
)

// ReleaseEntry is a published catalogue without its text.
type ReleaseEntry struct {
	Number int64 // from 1, without gaps, in each workshop
	// Hash is the catalogue's own content hash.
	Hash        string
	PublishedAt time.Time
	PublishedBy uuid.UUID
}

// Release is a published catalogue. It never changes.
type Release struct {
	ReleaseEntry
	Document Packed
}

// PublishRelease keeps a catalogue as the workshop's next release. hash is the
// catalogue's content hash.
func (t WriteTx) PublishRelease(hash string, document Packed) (Release, error) {
	if err := document.checked(); err != nil {
		return Release{}, fmt.Errorf("release: %w", err)
	}
	t.s.ground = true
	number, err := nextNumber(t, "release")
	if err != nil {
		return Release{}, fmt.Errorf("numbering the release: %w", err)
	}
	row := releaseRow{
		Entry: releaseEntryRow{
			Number: number, Hash: hash, PublishedUS: t.Now().UnixMicro(), PublishedBy: t.s.as.Person,
			DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}
	if err := insert(t, published, &row); err != nil {
		return Release{}, fmt.Errorf("release %d: %w", number, err)
	}
	return row.release(), nil
}

// Release gives one release by its number.
func (t ReadTx) Release(number int64) (Release, error) {
	row, err := of[releaseRow](t).where("number = ?", number).one()
	if err != nil {
		return Release{}, fmt.Errorf("release %d: %w", number, err)
	}
	return row.release(), nil
}

// LatestRelease gives the release that new quotes are made from.
func (t ReadTx) LatestRelease() (Release, error) {
	found, err := of[releaseRow](t).order("number DESC").first(1)
	if err == nil && len(found) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		return Release{}, fmt.Errorf("latest release: %w", err)
	}
	return found[0].release(), nil
}

// Releases lists at most limit releases, newest first, from before the given
// number on; 0 begins at the newest.
func (t ReadTx) Releases(before int64, limit int) ([]ReleaseEntry, error) {
	query := of[releaseEntryRow](t).order("number DESC")
	if before > 0 {
		query = query.where("number < ?", before)
	}
	found, err := query.first(bounded(limit))
	if err != nil {
		return nil, fmt.Errorf("releases: %w", err)
	}
	list := make([]ReleaseEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, nil
}

type releaseEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Number         int64     `gorm:"primaryKey;autoIncrement:false"`
	Hash           string
	PublishedUS    int64
	PublishedBy    uuid.UUID
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (releaseEntryRow) TableName() string { return "releases" }

func (r releaseEntryRow) entry() ReleaseEntry {
	return ReleaseEntry{Number: r.Number, Hash: r.Hash, PublishedAt: moment(r.PublishedUS), PublishedBy: r.PublishedBy}
}

type releaseRow struct {
	Entry    releaseEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*releaseRow) TableName() string { return "releases" }

func (r *releaseRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *releaseRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-release/1", e.Number, e.Hash, e.PublishedUS, e.PublishedBy[:], e.DocumentSHA256)
	return "release", strconv.FormatInt(e.Number, 10), sum[:]
}

func (r *releaseRow) sealed() error {
	_, err := r.release().Document.Unpack()
	return err
}

func (r *releaseRow) key() any { return r.Entry.Number }

func (r *releaseRow) release() Release {
	return Release{ReleaseEntry: r.Entry.entry(), Document: Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}}
}

// maxPage is the most rows of a list, and the most of a page when everything
// is gone through.
const (
	maxPage     = 200
	defaultPage = 50
)

// bounded is how many rows a list of limit gives.
func bounded(limit int) int {
	if limit <= 0 {
		return defaultPage
	}
	return min(limit, maxPage)
}
