package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/pricing/job"
)

// VariationLink is a secret address under which a customer reads a variation
// that was sent, and may say yes or no to it.
type VariationLink struct {
	ID     uuid.UUID
	Job    uuid.UUID
	Number int64 // of the variation in the job
	MadeAt time.Time
	MadeBy uuid.UUID
}

// MakeVariationLink makes a link to a variation that waits for an answer. Of its
// secret only the SHA-256 is given, and kept. ErrState when it does not wait.
func (t WriteTx) MakeVariationLink(ofJob uuid.UUID, number int64, secretSHA256 string) (VariationLink, error) {
	v, err := t.variationEntry(ofJob, number)
	if err != nil {
		return VariationLink{}, err
	}
	if v.State != string(job.VariationSent) {
		return VariationLink{}, fmt.Errorf("variation %d of job %s is %s: %w", number, ofJob, v.State, ErrState)
	}
	row := variationLinkRow{ID: t.NewID(), Job: ofJob, Number: number, SecretSHA256: secretSHA256, MadeUS: t.Now().UnixMicro(), MadeBy: t.s.as.Person}
	if err := insert(t, linked, &row); err != nil {
		return VariationLink{}, fmt.Errorf("link to variation %d of job %s: %w", number, ofJob, err)
	}
	return row.link(), nil
}

// WithdrawVariationLinks ends all links to a variation; none is no error.
func (t WriteTx) WithdrawVariationLinks(ofJob uuid.UUID, number int64) error {
	if _, err := t.variationEntry(ofJob, number); err != nil {
		return err
	}
	found, err := of[variationLinkRow](t.ReadTx).where("job = ? AND number = ? AND withdrawn_us IS NULL", ofJob, number).all()
	if err != nil {
		return fmt.Errorf("links to variation %d of job %s: %w", number, ofJob, err)
	}
	now := t.Now().UnixMicro()
	for i := range found {
		row := &found[i]
		row.WithdrawnUS = &now
		which := of[variationLinkRow](t.ReadTx).where("id = ?", row.ID)
		if err := change(t, withdrawn, which, map[string]any{"withdrawn_us": now}, ErrNotFound, row); err != nil {
			return fmt.Errorf("link %s: %w", row.ID, err)
		}
	}
	return nil
}

// FindVariationLink is FindLink for a variation.
//
// Reason: see FindLink.
func (s *Store) FindVariationLink(ctx context.Context, workshop uuid.UUID, secretSHA256 string) (VariationLink, auth.Principal, error) {
	var found VariationLink
	err := s.read(ctx, sight{workshop: workshop}, func(l *line) error {
		tx := s.session(ctx, l, auth.Principal{Workshop: workshop})
		defer tx.end()
		row, err := of[variationLinkRow](ReadTx{tx}).where("secret_sha256 = ? AND withdrawn_us IS NULL", secretSHA256).one()
		if err != nil {
			return fmt.Errorf("link: %w", err)
		}
		found = row.link()
		return nil
	})
	if err != nil {
		return VariationLink{}, auth.Principal{}, err
	}
	return found, auth.Principal{Workshop: workshop, Person: found.MadeBy, Role: auth.Sales}, nil
}

type variationLinkRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Job          uuid.UUID
	Number       int64
	SecretSHA256 string `gorm:"column:secret_sha256"`
	MadeUS       int64
	MadeBy       uuid.UUID
	WithdrawnUS  *int64
}

// TableName for gorm.
func (*variationLinkRow) TableName() string { return "variation_links" }

func (r *variationLinkRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *variationLinkRow) journalled() (noun, id string, content []byte) {
	ended := int64(0)
	if r.WithdrawnUS != nil {
		ended = *r.WithdrawnUS
	}
	sum := digest("wainscot-variation-link/1", r.Job[:], r.Number, r.SecretSHA256, r.MadeUS, r.MadeBy[:], ended)
	return "variation link", r.ID.String(), sum[:]
}

func (*variationLinkRow) sealed() error { return nil }

func (r *variationLinkRow) key() any { return r.ID }

func (r *variationLinkRow) link() VariationLink {
	return VariationLink{ID: r.ID, Job: r.Job, Number: r.Number, MadeAt: moment(r.MadeUS), MadeBy: r.MadeBy}
}
