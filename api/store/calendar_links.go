package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// CalendarLink is a secret address under which a calendar program reads the
// slots. It is good while whoever made it is of the workshop.
type CalendarLink struct {
	ID     uuid.UUID
	MadeAt time.Time
}

// MakeCalendarLink makes a link of whoever asks. Of its secret only the SHA-256
// is given, and kept.
func (t WriteTx) MakeCalendarLink(secretSHA256 string) (CalendarLink, error) {
	row := calendarLinkRow{ID: t.NewID(), SecretSHA256: secretSHA256, MadeUS: t.Now().UnixMicro(), MadeBy: t.s.as.Person}
	if err := insert(t, linked, &row); err != nil {
		return CalendarLink{}, fmt.Errorf("calendar link: %w", err)
	}
	return row.link(), nil
}

// CalendarLinks are those of whoever asks that are good, the oldest first.
func (t ReadTx) CalendarLinks() ([]CalendarLink, error) {
	found, err := t.calendarLinks()
	if err != nil {
		return nil, err
	}
	list := make([]CalendarLink, len(found))
	for i := range found {
		list[i] = found[i].link()
	}
	return list, nil
}

func (t ReadTx) calendarLinks() ([]calendarLinkRow, error) {
	found, err := of[calendarLinkRow](t).where("made_by = ? AND withdrawn_us IS NULL", t.s.as.Person).order("made_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("calendar links: %w", err)
	}
	return found, nil
}

// WithdrawCalendarLinks ends all links of whoever asks; none is no error.
func (t WriteTx) WithdrawCalendarLinks() error {
	found, err := t.calendarLinks()
	if err != nil {
		return err
	}
	now := t.Now().UnixMicro()
	for i := range found {
		row := &found[i]
		row.WithdrawnUS = &now
		which := of[calendarLinkRow](t.ReadTx).where("id = ?", row.ID)
		if err := change(t, withdrawn, which, map[string]any{"withdrawn_us": now}, ErrNotFound, row); err != nil {
			return fmt.Errorf("calendar link %s: %w", row.ID, err)
		}
	}
	return nil
}

// FindCalendarLink says whom to act for when a link is followed: whoever made
// it, in the role they have now. A link that never was or has been withdrawn,
// and one of somebody who has left, is ErrNotFound.
//
// Reason: a calendar program has no sign-in. Only the workshop that the link
// names is looked at, and nothing is told unless the secret is right.
func (s *Store) FindCalendarLink(ctx context.Context, workshop uuid.UUID, secretSHA256 string) (auth.Principal, error) {
	p := auth.Principal{Workshop: workshop}
	err := s.read(ctx, sight{workshop: workshop}, func(l *line) error {
		tx := s.session(ctx, l, p)
		defer tx.end()
		row, err := of[calendarLinkRow](ReadTx{tx}).where("secret_sha256 = ? AND withdrawn_us IS NULL", secretSHA256).one()
		if err != nil {
			return fmt.Errorf("calendar link: %w", err)
		}
		whose, err := of[personRow](ReadTx{tx}).where("id = ? AND left_us IS NULL", row.MadeBy).one()
		if err != nil {
			return fmt.Errorf("whose calendar link: %w", err)
		}
		p.Person = row.MadeBy
		p.Role, err = auth.ParseRole(whose.Role)
		return err
	})
	if err != nil {
		return auth.Principal{}, err
	}
	return p, nil
}

type calendarLinkRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	SecretSHA256 string    `gorm:"column:secret_sha256"`
	MadeUS       int64
	MadeBy       uuid.UUID
	WithdrawnUS  *int64
}

// TableName for gorm.
func (*calendarLinkRow) TableName() string { return "calendar_links" }

func (r *calendarLinkRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *calendarLinkRow) journalled() (noun, id string, content []byte) {
	ended := int64(0)
	if r.WithdrawnUS != nil {
		ended = *r.WithdrawnUS
	}
	sum := digest("wainscot-calendar-link/1", r.SecretSHA256, r.MadeUS, r.MadeBy[:], ended)
	return "calendar link", r.ID.String(), sum[:]
}

func (*calendarLinkRow) sealed() error { return nil }

func (r *calendarLinkRow) key() any { return r.ID }

func (r *calendarLinkRow) link() CalendarLink {
	return CalendarLink{ID: r.ID, MadeAt: moment(r.MadeUS)}
}
