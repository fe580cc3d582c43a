package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom/schedule"
)

// Floor is a workshop's calendar and places, at a version. Its crew stand in
// rows of their own.
type Floor struct {
	// Version goes up by one with every change; a workshop that has said
	// nothing of its floor yet is at 1.
	Version   int64
	ChangedAt time.Time // zero when nothing was said yet
	Content   schedule.Floor
}

// DefaultIdleDays in a row a van may stand where a workshop has said nothing.
const DefaultIdleDays = 2

// Floor gives the workshop's floor, without its crew.
func (t ReadTx) Floor() (Floor, error) {
	found, err := of[floorRow](t).first(1)
	if err != nil {
		return Floor{}, fmt.Errorf("floor: %w", err)
	}
	if len(found) > 0 {
		return found[0].floor()
	}
	return Floor{Version: 1, Content: schedule.Floor{Places: []schedule.Place{}, MostIdleDays: DefaultIdleDays}}, nil
}

// ChangeFloor sets the floor. version is the one the change was made from, else
// it is ErrStale. Crew in it are left out.
func (t WriteTx) ChangeFloor(version int64, content schedule.Floor) (Floor, error) {
	content.Crew = nil
	t.s.ground = true // days are counted by its calendar
	text, err := json.Marshal(content)
	if err != nil {
		return Floor{}, fmt.Errorf("floor: %w", err)
	}
	plan, err := t.nextPlan()
	if err != nil {
		return Floor{}, err
	}
	document := Pack(text)
	row := floorRow{Version: version + 1, ChangedUS: t.Now().UnixMicro(), Plan: plan, Document: document.zipped, DocumentSHA256: document.sum}
	row.bind(t.s.as.Workshop)
	stale := fmt.Errorf("floor at version %d: %w", version, ErrStale)
	there, err := of[floorRow](t.ReadTx).first(1)
	switch {
	case err != nil:
	case len(there) == 0 && version != 1:
		err = stale
	case len(there) == 0:
		err = insert(t, changed, &row)
	default:
		err = change(t, changed, of[floorRow](t.ReadTx).where("version = ?", version), map[string]any{
			"version": row.Version, "changed_us": row.ChangedUS, "plan": row.Plan,
			"document": row.Document, "document_sha256": row.DocumentSHA256,
		}, stale, &row)
	}
	if err != nil {
		return Floor{}, fmt.Errorf("floor: %w", err)
	}
	return row.floor()
}

// planSeries counts the changes of a workshop's plan.
const planSeries = "plan"

func (t WriteTx) nextPlan() (int64, error) {
	n, err := nextNumber(t, planSeries)
	if err != nil {
		return 0, fmt.Errorf("numbering the plan's change: %w", err)
	}
	return n, nil
}

// PlanNumbers count the changes of a workshop's plan: the last of all, and the
// last of its floor or crew. What was read at the same numbers is as good as
// read anew; where only the first is another, SlotsSince has what is new.
type PlanNumbers struct{ Plan, Floor int64 }

// PlanNumbers gives them as they are.
func (t ReadTx) PlanNumbers() (PlanNumbers, error) {
	var n PlanNumbers
	counters, err := of[counterRow](t).where("series = ?", planSeries).all()
	if err == nil {
		for _, c := range counters {
			n.Plan = c.Last
		}
		n.Floor, err = latest[floorPlanRow](t, n.Floor)
	}
	if err == nil {
		n.Floor, err = latest[crewPlanRow](t, n.Floor)
	}
	if err != nil {
		return n, fmt.Errorf("numbers of the plan: %w", err)
	}
	return n, nil
}

func latest[R interface{ plan() int64 }](t ReadTx, least int64) (int64, error) {
	found, err := of[R](t).order("plan DESC").first(1)
	for _, r := range found {
		least = max(least, r.plan())
	}
	return least, err
}

type counterRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Series     string    `gorm:"primaryKey"`
	Last       int64
}

// TableName for gorm.
func (counterRow) TableName() string { return "counters" }

// floorPlanRow and crewPlanRow say when something of a table last changed.
type floorPlanRow struct{ Plan int64 }

// TableName for gorm.
func (floorPlanRow) TableName() string { return "floors" }

func (r floorPlanRow) plan() int64 { return r.Plan }

type crewPlanRow struct{ Plan int64 }

// TableName for gorm.
func (crewPlanRow) TableName() string { return "crew" }

func (r crewPlanRow) plan() int64 { return r.Plan }

type floorRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Version        int64
	ChangedUS      int64
	Plan           int64
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*floorRow) TableName() string { return "floors" }

func (r *floorRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *floorRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-floor/1", r.Version, r.ChangedUS, r.Plan, r.DocumentSHA256)
	return "floor", r.WorkshopID.String(), sum[:]
}

func (r *floorRow) sealed() error {
	_, err := r.floor()
	return err
}

func (r *floorRow) key() any { return r.WorkshopID }

func (r *floorRow) floor() (Floor, error) {
	f := Floor{Version: r.Version, ChangedAt: moment(r.ChangedUS)}
	err := unpackInto(Packed{zipped: r.Document, sum: r.DocumentSHA256}, &f.Content, "floor")
	return f, err
}

// unpackInto reads a document that was written as JSON.
func unpackInto(p Packed, into any, what string) error {
	text, err := p.Unpack()
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrDocument, what, err)
	}
	return nil
}
