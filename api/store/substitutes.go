package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom/supply"
)

// Substitute is a part taken in place of another.
type Substitute struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	State     SubstituteState
	Part      string
	With      string
	Job       uuid.UUID // the nil id: for all that is wanted from From on
	From      string    // YYYY-MM-DD; "" for a job
	Until     string    // "" is open
	// Shows: the customer chose what it stands in for.
	Shows    bool
	AgreedOn string // the day of the yes; "" where none was asked, or not yet
}

// SubstituteState is where a substitute is.
type SubstituteState string

// The states.
const (
	SubstituteWaiting SubstituteState = "waiting" // for the customer's yes
	SubstituteAgreed  SubstituteState = "agreed"
	SubstituteRefused SubstituteState = "refused"
	SubstituteEnded   SubstituteState = "ended"
)

// AddSubstitute keeps a new one. A job that is not there is ErrMissing.
func (t WriteTx) AddSubstitute(s Substitute) (Substitute, error) {
	s.ID, s.Version, s.CreatedAt, s.ChangedAt = t.NewID(), 1, t.Now(), t.Now()
	row := substituteRowOf(t, s)
	row.CreatedBy = t.Principal().Person
	if err := insert(t, added, row); err != nil {
		return Substitute{}, fmt.Errorf("substitute: %w", err)
	}
	return s, nil
}

// ChangeSubstitute puts its state and days to others. version is the one the
// change was made from, else it is ErrStale.
func (t WriteTx) ChangeSubstitute(s Substitute) (Substitute, error) {
	stale := fmt.Errorf("substitute %s at version %d: %w", s.ID, s.Version, ErrStale)
	was, err := of[substituteRow](t.ReadTx).where("id = ?", s.ID).one()
	if err != nil {
		return Substitute{}, fmt.Errorf("substitute %s: %w", s.ID, err)
	}
	which := of[substituteRow](t.ReadTx).where("id = ? AND version = ?", s.ID, s.Version)
	s.Version, s.ChangedAt = s.Version+1, t.Now()
	row := substituteRowOf(t, s)
	row.CreatedBy = was.CreatedBy
	err = change(t, changed, which, map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "changed_by": row.ChangedBy, "state": row.State,
		"until_day": row.UntilDay, "agreed_on": row.AgreedOn,
	}, stale, row)
	return s, err
}

// Substitute gives one.
func (t ReadTx) Substitute(id uuid.UUID) (Substitute, error) {
	row, err := of[substituteRow](t).where("id = ?", id).one()
	if err != nil {
		return Substitute{}, fmt.Errorf("substitute %s: %w", id, err)
	}
	return row.substitute(), nil
}

// Substitutes lists them, the newest first. next is where to go on, nil at the
// end.
func (t ReadTx) Substitutes(after *Place, limit int) (list []Substitute, next *Place, err error) {
	found, next, err := page(of[substituteRow](t), after, limit, func(r substituteRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("substitutes: %w", err)
	}
	list = make([]Substitute, len(found))
	for i, r := range found {
		list[i] = r.substitute()
	}
	return list, next, nil
}

// AgreedSubstitutes are those that stand in for parts now, the newest first.
func (t ReadTx) AgreedSubstitutes() ([]supply.Substitute, error) {
	found, err := of[substituteRow](t).where("state = ?", string(SubstituteAgreed)).order("created_us DESC, id DESC").all()
	if err != nil {
		return nil, fmt.Errorf("substitutes: %w", err)
	}
	list := make([]supply.Substitute, len(found))
	for i, r := range found {
		list[i] = supply.Substitute{Part: r.Part, With: r.WithPart, From: r.FromDay, Until: r.UntilDay}
		if r.Job.Valid {
			list[i].Job = r.Job.UUID.String()
		}
	}
	return list, nil
}

type substituteRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	Version    int64
	CreatedUS  int64
	CreatedBy  uuid.UUID
	ChangedUS  int64
	ChangedBy  uuid.UUID
	State      string
	Part       string
	WithPart   string
	Job        uuid.NullUUID
	FromDay    string
	UntilDay   string
	Shows      int64
	AgreedOn   string
}

// TableName for gorm.
func (*substituteRow) TableName() string { return "substitutes" }

func (r *substituteRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *substituteRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-substitute/1", r.Version, r.CreatedUS, r.CreatedBy[:], r.ChangedUS, r.ChangedBy[:], r.State, r.Part, r.WithPart,
		r.Job.UUID[:], r.FromDay, r.UntilDay, r.Shows, r.AgreedOn)
	return "substitute", r.ID.String(), sum[:]
}

func (*substituteRow) sealed() error { return nil }

func (r *substituteRow) key() any { return r.ID }

func substituteRowOf(t WriteTx, s Substitute) *substituteRow {
	return &substituteRow{
		ID: s.ID, Version: s.Version, CreatedUS: s.CreatedAt.UnixMicro(), ChangedUS: s.ChangedAt.UnixMicro(), ChangedBy: t.Principal().Person,
		State: string(s.State), Part: s.Part, WithPart: s.With, Job: orNull(s.Job), FromDay: s.From, UntilDay: s.Until,
		Shows: bit(s.Shows), AgreedOn: s.AgreedOn,
	}
}

func (r *substituteRow) substitute() Substitute {
	return Substitute{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), State: SubstituteState(r.State),
		Part: r.Part, With: r.WithPart, Job: r.Job.UUID, From: r.FromDay, Until: r.UntilDay, Shows: r.Shows == 1, AgreedOn: r.AgreedOn,
	}
}
