package store

import (
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// QuoteLink is a secret address under which a customer reads what is offered
// and may accept it.
type QuoteLink struct {
	ID       uuid.UUID
	Quote    uuid.UUID
	Revision int64 // the one it was made for
	MadeAt   time.Time
	MadeBy   uuid.UUID
}

// MakeLink makes a link to what is offered of a quote. Of its secret only the
// SHA-256 is given, and kept. ErrState when nothing is offered.
func (t WriteTx) MakeLink(quote uuid.UUID, version int64, secretSHA256 string) (QuoteLink, error) {
	if _, err := t.quoteAt(quote, version); err != nil {
		return QuoteLink{}, err
	}
	offered, err := of[revisionEntryRow](t.ReadTx).where("quote = ? AND state = ?", quote, string(Issued)).one()
	if errors.Is(err, ErrNotFound) {
		return QuoteLink{}, fmt.Errorf("nothing is offered of quote %s: %w", quote, ErrState)
	}
	if err != nil {
		return QuoteLink{}, fmt.Errorf("what is offered of quote %s: %w", quote, err)
	}
	row := linkRow{
		ID: t.NewID(), Quote: quote, Revision: offered.Number, SecretSHA256: secretSHA256,
		MadeUS: t.Now().UnixMicro(), MadeBy: t.s.as.Person,
	}
	if err := insert(t, linked, &row); err != nil {
		return QuoteLink{}, fmt.Errorf("link to quote %s: %w", quote, err)
	}
	return row.link(), nil
}

// WithdrawLinks ends all links to a quote; none is no error.
func (t WriteTx) WithdrawLinks(quote uuid.UUID) error {
	if _, err := t.Quote(quote); err != nil {
		return err
	}
	found, err := of[linkRow](t.ReadTx).where("quote = ? AND withdrawn_us IS NULL", quote).all()
	if err != nil {
		return fmt.Errorf("links to quote %s: %w", quote, err)
	}
	now := t.Now().UnixMicro()
	for i := range found {
		row := &found[i]
		row.WithdrawnUS = &now
		which := of[linkRow](t.ReadTx).where("id = ?", row.ID)
		if err := change(t, withdrawn, which, map[string]any{"withdrawn_us": now}, ErrNotFound, row); err != nil {
			return fmt.Errorf("link %s: %w", row.ID, err)
		}
	}
	return nil
}

// LinkOf is the link that has a secret, by its SHA-256; ErrNotFound for one
// that never was or has been withdrawn. What is compared is a hash, found by an
// index: how long it takes tells nothing about the secret.
func (t ReadTx) LinkOf(secretSHA256 string) (QuoteLink, error) {
	row, err := of[linkRow](t).where("secret_sha256 = ? AND withdrawn_us IS NULL", secretSHA256).one()
	if err != nil {
		return QuoteLink{}, fmt.Errorf("link: %w", err)
	}
	return row.link(), nil
}

type linkRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Quote        uuid.UUID
	Revision     int64
	SecretSHA256 string `gorm:"column:secret_sha256"`
	MadeUS       int64
	MadeBy       uuid.UUID
	WithdrawnUS  *int64
}

// TableName for gorm.
func (*linkRow) TableName() string { return "quote_links" }

func (r *linkRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *linkRow) journalled() (noun, id string, content []byte) {
	ended := int64(0)
	if r.WithdrawnUS != nil {
		ended = *r.WithdrawnUS
	}
	sum := digest("wainscot-link/1", r.Quote[:], r.Revision, r.SecretSHA256, r.MadeUS, r.MadeBy[:], ended)
	return "link", r.ID.String(), sum[:]
}

func (*linkRow) sealed() error { return nil }

func (r *linkRow) key() any { return r.ID }

func (r *linkRow) link() QuoteLink {
	return QuoteLink{ID: r.ID, Quote: r.Quote, Revision: r.Revision, MadeAt: moment(r.MadeUS), MadeBy: r.MadeBy}
}
