package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom/schedule"
)

// Slot is when the van of a job is on the floor.
type Slot struct {
	Job       uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	SlotContent
}

// SlotContent is what may change of a slot.
type SlotContent struct {
	// State is held, firm or SlotReleased.
	State schedule.State
	Days  schedule.Slot
	// ConfirmedOn is the day (YYYY-MM-DD) on which it became firm, "" for one
	// that is not.
	ConfirmedOn string
	// Again: the days are for other work than the job has now, and have to be
	// planned again; nil where they are right. Whatever is put in their place
	// ends it.
	Again *SlotAgain
}

// SlotAgain is why the days of a slot have to be planned again.
type SlotAgain struct {
	Since     string `json:"since"`     // YYYY-MM-DD
	Variation int64  `json:"variation"` // of the job, that changed its work
	Says      string `json:"says"`      // whole sentences; nobody's words
}

// slotDocument is a slot as it is kept.
type slotDocument struct {
	schedule.Slot
	Again *SlotAgain `json:"again,omitempty"`
}

// SlotReleased is the state of a slot that was given up: its days are kept to
// be looked up, and take nothing from the floor.
const SlotReleased schedule.State = "released"

// PutSlot gives a job a slot, or another in its place. version is the one the
// change was made from, 0 for a job that never had one, else it is ErrStale.
// Whether it fits is for the caller to ask in the same transaction.
func (t WriteTx) PutSlot(id uuid.UUID, version int64, c SlotContent) (Slot, error) {
	there, err := of[slotRow](t.ReadTx).where("job = ?", id).first(1)
	if err != nil {
		return Slot{}, fmt.Errorf("slot of job %s: %w", id, err)
	}
	stale := fmt.Errorf("slot of job %s at version %d: %w", id, version, ErrStale)
	row := slotRow{Job: id, Version: 1, CreatedUS: t.Now().UnixMicro()}
	if len(there) > 0 {
		row = there[0]
		row.Version = version + 1
	} else if version != 0 {
		return Slot{}, stale
	}
	if err := row.say(t, c); err != nil {
		return Slot{}, fmt.Errorf("slot of job %s: %w", id, err)
	}
	if len(there) == 0 {
		if _, err := t.JobEntry(id); err != nil {
			return Slot{}, err
		}
		err = insert(t, added, &row)
	} else {
		err = t.writeSlot(changed, &row, version, stale)
	}
	if err != nil {
		return Slot{}, err
	}
	return row.slot()
}

func (t WriteTx) writeSlot(verb string, row *slotRow, version int64, stale error) error {
	return change(t, verb, of[slotRow](t.ReadTx).where("job = ? AND version = ?", row.Job, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "state": row.State, "from_on": row.FromOn, "until_on": row.UntilOn,
		"confirmed_on": row.ConfirmedOn, "plan": row.Plan,
		"document": row.Document, "document_sha256": row.DocumentSHA256,
	}, stale, row)
}

// Slot gives the slot of a job, ErrNotFound for one that never had any.
func (t ReadTx) Slot(job uuid.UUID) (Slot, error) {
	row, err := of[slotRow](t).where("job = ?", job).one()
	if err != nil {
		return Slot{}, fmt.Errorf("slot of job %s: %w", job, err)
	}
	return row.slot()
}

// SlotIfAny gives the slot of a job; its version is 0 where it never had any.
func (t ReadTx) SlotIfAny(job uuid.UUID) (Slot, error) {
	s, err := t.Slot(job)
	if errors.Is(err, ErrNotFound) {
		return Slot{Job: job}, nil
	}
	return s, err
}

// SlotsOn lists the slots, held or firm, that have a day from one to another,
// by their first days.
func (t ReadTx) SlotsOn(from, until string) ([]Slot, error) {
	return t.slots(of[slotRow](t).where("until_on >= ? AND from_on <= ?", from, until).where("state <> ?", string(SlotReleased)).order("from_on, until_on, job"))
}

// SlotsSince lists the slots that were written after a change of the plan,
// those that were given up among them.
func (t ReadTx) SlotsSince(plan int64) ([]Slot, error) {
	return t.slots(of[slotRow](t).where("plan > ?", plan).order("plan"))
}

func (t ReadTx) slots(query rows[slotRow]) ([]Slot, error) {
	found, err := query.all()
	if err != nil {
		return nil, fmt.Errorf("slots: %w", err)
	}
	return each(found, (*slotRow).slot)
}

type slotRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Job            uuid.UUID `gorm:"primaryKey"`
	Version        int64
	CreatedUS      int64
	ChangedUS      int64
	State          string
	FromOn         string
	UntilOn        string
	ConfirmedOn    string
	Plan           int64
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*slotRow) TableName() string { return "slots" }

func (r *slotRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *slotRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-slot/1", r.Version, r.CreatedUS, r.ChangedUS, r.State, r.FromOn, r.UntilOn, r.ConfirmedOn, r.Plan, r.DocumentSHA256)
	return "slot", r.Job.String(), sum[:]
}

func (r *slotRow) sealed() error {
	_, err := r.slot()
	return err
}

func (r *slotRow) key() any { return r.Job }

func (r *slotRow) say(t WriteTx, c SlotContent) error {
	days := []string{c.Days.From(), c.Days.Until()}
	if c.ConfirmedOn != "" {
		days = append(days, c.ConfirmedOn)
	}
	for _, day := range days {
		if err := checkDay(day); err != nil {
			return err
		}
	}
	text, err := json.Marshal(slotDocument{c.Days, c.Again})
	if err != nil {
		return err
	}
	if r.Plan, err = t.nextPlan(); err != nil {
		return err
	}
	document := Pack(text)
	r.ChangedUS, r.State, r.FromOn, r.UntilOn = t.Now().UnixMicro(), string(c.State), c.Days.From(), c.Days.Until()
	r.ConfirmedOn = c.ConfirmedOn
	r.Document, r.DocumentSHA256 = document.zipped, document.sum
	return nil
}

func (r *slotRow) slot() (Slot, error) {
	s := Slot{Job: r.Job, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS)}
	s.State, s.ConfirmedOn = schedule.State(r.State), r.ConfirmedOn
	var d slotDocument
	err := unpackInto(Packed{zipped: r.Document, sum: r.DocumentSHA256}, &d, "slot")
	s.Days, s.Again = d.Slot, d.Again
	return s, err
}
