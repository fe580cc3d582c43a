package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom/schedule"
)

// CrewMember is somebody who works on the floor. They need not be a person who
// signs in.
type CrewMember struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	CrewContent
}

// CrewContent is what may change of a crew member.
type CrewContent struct {
	Name string
	// LeftOn is the first day (YYYY-MM-DD) they are not of the crew any more,
	// "" for nobody who leaves.
	LeftOn string
	// Member is what the plan knows of them; its ID is theirs.
	Member schedule.Member
}

// AddCrewMember keeps somebody new.
func (t WriteTx) AddCrewMember(c CrewContent) (CrewMember, error) {
	row := crewRow{ID: t.NewID(), Version: 1, CreatedUS: t.Now().UnixMicro()}
	if err := row.say(t, c); err != nil {
		return CrewMember{}, fmt.Errorf("crew: %w", err)
	}
	if err := insert(t, added, &row); err != nil {
		return CrewMember{}, fmt.Errorf("crew: %w", err)
	}
	return row.member()
}

// ChangeCrewMember puts new content in the place of somebody's. version is the
// one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeCrewMember(id uuid.UUID, version int64, c CrewContent) (CrewMember, error) {
	row, err := of[crewRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return CrewMember{}, fmt.Errorf("crew member %s: %w", id, err)
	}
	if err := row.say(t, c); err != nil {
		return CrewMember{}, fmt.Errorf("crew member %s: %w", id, err)
	}
	row.Version = version + 1
	err = change(t, changed, of[crewRow](t.ReadTx).where("id = ? AND version = ?", id, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "name": row.Name, "left_on": row.LeftOn, "plan": row.Plan,
		"document": row.Document, "document_sha256": row.DocumentSHA256,
	}, fmt.Errorf("crew member %s at version %d: %w", id, version, ErrStale), &row)
	if err != nil {
		return CrewMember{}, err
	}
	return row.member()
}

// CrewMember gives one of the crew.
func (t ReadTx) CrewMember(id uuid.UUID) (CrewMember, error) {
	row, err := of[crewRow](t).where("id = ?", id).one()
	if err != nil {
		return CrewMember{}, fmt.Errorf("crew member %s: %w", id, err)
	}
	return row.member()
}

// Crew lists the crew in the order in which they came, those who have left
// among them.
func (t ReadTx) Crew() ([]CrewMember, error) {
	found, err := of[crewRow](t).order("created_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("crew: %w", err)
	}
	return each(found, (*crewRow).member)
}

// Leaving is what the plan knows of somebody, with leave from when they have
// left.
func (c CrewContent) Leaving() schedule.Member {
	m := c.Member
	if c.LeftOn != "" {
		m.Leave = append(append([]schedule.Period{}, m.Leave...), schedule.Period{From: c.LeftOn, Until: lastDay})
	}
	return m
}

// lastDay is the last there is.
const lastDay = "2199-12-31"

type crewRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Version        int64
	CreatedUS      int64
	ChangedUS      int64
	Name           string
	LeftOn         string
	Plan           int64
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*crewRow) TableName() string { return "crew" }

func (r *crewRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the name out.
func (r *crewRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-crew/1", r.Version, r.CreatedUS, r.ChangedUS, r.LeftOn, r.Plan, r.DocumentSHA256)
	return "crew", r.ID.String(), sum[:]
}

func (r *crewRow) sealed() error {
	_, err := r.member()
	return err
}

func (r *crewRow) key() any { return r.ID }

func (r *crewRow) say(t WriteTx, c CrewContent) error {
	if c.LeftOn != "" {
		if err := checkDay(c.LeftOn); err != nil {
			return err
		}
	}
	c.Member.ID = r.ID.String()
	text, err := json.Marshal(c.Member)
	if err != nil {
		return err
	}
	if r.Plan, err = t.nextPlan(); err != nil {
		return err
	}
	document := Pack(text)
	r.ChangedUS, r.Name, r.LeftOn, r.Document, r.DocumentSHA256 = t.Now().UnixMicro(), c.Name, c.LeftOn, document.zipped, document.sum
	return nil
}

func (r *crewRow) member() (CrewMember, error) {
	c := CrewMember{ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS)}
	c.Name, c.LeftOn = r.Name, r.LeftOn
	err := unpackInto(Packed{zipped: r.Document, sum: r.DocumentSHA256}, &c.Member, "crew member")
	return c, err
}
