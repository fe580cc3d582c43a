package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Signatory is who may sign certificates, of the workshop or from outside.
type Signatory struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	// RegisterNumber in Register; it never changes, so that what was signed
	// stays signed under it. Another number is another signatory.
	Register, RegisterNumber string
	SignatoryContent
}

// SignatoryContent is what may change of a signatory.
type SignatoryContent struct {
	Name string
	Firm string // "" for the workshop itself
	// ExpiresOn is the last day (YYYY-MM-DD) the register entry is good; "" for
	// one without an end.
	ExpiresOn string
	// Signs are codes of outside work whose certificates they may sign.
	Signs []string
}

// AddSignatory keeps a new signatory.
func (t WriteTx) AddSignatory(register, number string, c SignatoryContent) (Signatory, error) {
	row := signatoryRow{ID: t.NewID(), Version: 1, CreatedUS: t.Now().UnixMicro(), Register: register, RegisterNumber: number}
	if err := row.say(t, c); err != nil {
		return Signatory{}, fmt.Errorf("signatory: %w", err)
	}
	if err := insert(t, added, &row); err != nil {
		return Signatory{}, fmt.Errorf("signatory: %w", err)
	}
	return row.signatory()
}

// ChangeSignatory puts new content in the place of a signatory's. version is the
// one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeSignatory(id uuid.UUID, version int64, c SignatoryContent) (Signatory, error) {
	row, err := of[signatoryRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return Signatory{}, fmt.Errorf("signatory %s: %w", id, err)
	}
	if err := row.say(t, c); err != nil {
		return Signatory{}, fmt.Errorf("signatory %s: %w", id, err)
	}
	row.Version = version + 1
	err = change(t, changed, of[signatoryRow](t.ReadTx).where("id = ? AND version = ?", id, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "name": row.Name, "firm": row.Firm, "expires_on": row.ExpiresOn, "signs": row.Signs,
	}, fmt.Errorf("signatory %s at version %d: %w", id, version, ErrStale), &row)
	if err != nil {
		return Signatory{}, err
	}
	return row.signatory()
}

// Signatory gives one signatory.
func (t ReadTx) Signatory(id uuid.UUID) (Signatory, error) {
	row, err := of[signatoryRow](t).where("id = ?", id).one()
	if err != nil {
		return Signatory{}, fmt.Errorf("signatory %s: %w", id, err)
	}
	return row.signatory()
}

// Signatories gives all there are, in the order in which they were added.
func (t ReadTx) Signatories() ([]Signatory, error) {
	found, err := of[signatoryRow](t).order("created_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("signatories: %w", err)
	}
	return each(found, (*signatoryRow).signatory)
}

type signatoryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Version        int64
	CreatedUS      int64
	ChangedUS      int64
	Name           string
	Firm           string
	Register       string
	RegisterNumber string
	ExpiresOn      string
	Signs          string
}

// TableName for gorm.
func (*signatoryRow) TableName() string { return "signatories" }

func (r *signatoryRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled: all but who it is.
func (r *signatoryRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-signatory/1", r.Version, r.CreatedUS, r.ChangedUS, r.Register, r.ExpiresOn, r.Signs)
	return "signatory", r.ID.String(), sum[:]
}

func (r *signatoryRow) sealed() error {
	_, err := r.signatory()
	return err
}

func (r *signatoryRow) key() any { return r.ID }

func (r *signatoryRow) say(t WriteTx, c SignatoryContent) error {
	signs, err := json.Marshal(append([]string{}, c.Signs...))
	if err != nil {
		return err
	}
	r.ChangedUS = t.Now().UnixMicro()
	r.Name, r.Firm, r.ExpiresOn, r.Signs = c.Name, c.Firm, c.ExpiresOn, string(signs)
	return nil
}

func (r *signatoryRow) signatory() (Signatory, error) {
	s := Signatory{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Register: r.Register, RegisterNumber: r.RegisterNumber,
		SignatoryContent: SignatoryContent{Name: r.Name, Firm: r.Firm, ExpiresOn: r.ExpiresOn},
	}
	if err := json.Unmarshal([]byte(r.Signs), &s.Signs); err != nil {
		return s, fmt.Errorf("signatory %s: %w", r.ID, err)
	}
	return s, nil
}
