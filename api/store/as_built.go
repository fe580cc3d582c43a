package store

import (
	"fmt"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// SerialFound is a serial number or batch that was fitted, and the job it was
// fitted by.
type SerialFound struct {
	JobEntry
	Number     int64 // of the entry in the job
	Part       string
	Kind       job.SerialKind
	Value      string
	ReplacedBy int64 // the entry that took its place; 0 while it is in the van
}

// SerialsBetween finds serial numbers and batches from one to another, both
// included, as job.SerialKey orders them; part "" is of any. What was taken
// back was never in the van. At most limit.
func (t ReadTx) SerialsBetween(part, from, until string, limit int) ([]SerialFound, error) {
	query := of[jobSerialRow](t).where("value_key >= ? AND value_key <= ? AND replaced_by <> number", job.SerialKey(from), job.SerialKey(until)).order("value_key, job, number")
	if part != "" {
		query = query.where("part = ?", part)
	}
	found, err := query.first(limit)
	if err != nil {
		return nil, fmt.Errorf("serial numbers: %w", err)
	}
	jobs := map[uuid.UUID]JobEntry{}
	list := make([]SerialFound, len(found))
	for i, r := range found {
		entry, ok := jobs[r.Job]
		if !ok {
			if entry, err = t.JobEntry(r.Job); err != nil {
				return nil, err
			}
			jobs[r.Job] = entry
		}
		list[i] = SerialFound{JobEntry: entry, Number: r.Number, Part: r.Part, Kind: job.SerialKind(r.Kind), Value: r.Value, ReplacedBy: r.ReplacedBy}
	}
	return list, nil
}

// indexSerials writes the serial numbers of a job where they are looked for.
// They follow from the job's document, so the journal has no lines of them.
func (t WriteTx) indexSerials(id uuid.UUID, content *job.Job) error {
	if len(content.Serials) == 0 {
		return nil
	}
	replaced := func(s *job.Serial) int64 {
		if _, back := content.TookBack(s.Number); back {
			return int64(s.Number) // itself: it was never in the van
		} else if content.Fitted(s) {
			return 0
		}
		return int64(s.ReplacedBy)
	}
	found, err := of[jobSerialRow](t.ReadTx).where("job = ?", id).all()
	if err != nil {
		return fmt.Errorf("serial numbers of job %s: %w", id, err)
	}
	there := make(map[int64]int64, len(found))
	for _, r := range found {
		there[r.Number] = r.ReplacedBy
	}
	for i := range content.Serials {
		s := &content.Serials[i]
		was, known := there[int64(s.Number)]
		switch {
		case !known:
			err = jot(t, &jobSerialRow{Job: id, Number: int64(s.Number), Part: s.Part, Kind: string(s.Kind), Value: s.Value, ValueKey: job.SerialKey(s.Value), ReplacedBy: replaced(s)})
		case was != replaced(s):
			err = of[jobSerialRow](t.ReadTx).where("job = ? AND number = ?", id, s.Number).set(map[string]any{"replaced_by": replaced(s)}, ErrNotFound)
		}
		if err != nil {
			return fmt.Errorf("serial number %d of job %s: %w", s.Number, id, err)
		}
	}
	return nil
}

type jobSerialRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Job        uuid.UUID `gorm:"primaryKey"`
	Number     int64     `gorm:"primaryKey;autoIncrement:false"`
	Part       string
	Kind       string
	Value      string
	ValueKey   string
	ReplacedBy int64
}

// TableName for gorm.
func (*jobSerialRow) TableName() string { return "job_serials" }

func (r *jobSerialRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// CheckDue is a check of a finished van that falls due.
type CheckDue struct {
	Job         uuid.UUID
	Name        string
	EveryMonths int64
	DueOn       string // YYYY-MM-DD
	MadeOn      string // the last time; "" for never
}

// KeepChecksDue keeps the checks that fall due on a van that is handed over.
func (t WriteTx) KeepChecksDue(of uuid.UUID, list []job.CheckDue) error {
	for _, c := range list {
		row := checkDueRow{ID: t.NewID(), Job: of, Name: c.Name, EveryMonths: int64(c.EveryMonths), DueOn: c.DueOn}
		if err := insert(t, added, &row); err != nil {
			return fmt.Errorf("check %q of job %s: %w", c.Name, of, err)
		}
	}
	return nil
}

// CheckMade records that a check was made, and when it falls due next.
func (t WriteTx) CheckMade(ofJob uuid.UUID, name, on, next string) (CheckDue, error) {
	row, err := of[checkDueRow](t.ReadTx).where("job = ? AND name = ?", ofJob, name).one()
	if err != nil {
		return CheckDue{}, fmt.Errorf("check %q of job %s: %w", name, ofJob, err)
	}
	row.MadeOn, row.DueOn = on, next
	err = change(t, changed, of[checkDueRow](t.ReadTx).where("id = ?", row.ID), map[string]any{"made_on": row.MadeOn, "due_on": row.DueOn}, ErrNotFound, &row)
	if err != nil {
		return CheckDue{}, fmt.Errorf("check %q of job %s: %w", name, ofJob, err)
	}
	return row.check(), nil
}

// ChecksDueUntil lists the checks due on a day or before, the longest due first,
// at most limit.
func (t ReadTx) ChecksDueUntil(day string, limit int) ([]CheckDue, error) {
	return t.checks(of[checkDueRow](t).where("due_on <= ?", day).order("due_on, id"), limit)
}

// ChecksOf lists the checks of one job.
func (t ReadTx) ChecksOf(ofJob uuid.UUID) ([]CheckDue, error) {
	return t.checks(of[checkDueRow](t).where("job = ?", ofJob).order("name"), -1)
}

func (t ReadTx) checks(query rows[checkDueRow], limit int) ([]CheckDue, error) {
	found, err := query.first(limit)
	if err != nil {
		return nil, fmt.Errorf("checks that fall due: %w", err)
	}
	list := make([]CheckDue, len(found))
	for i := range found {
		list[i] = found[i].check()
	}
	return list, nil
}

type checkDueRow struct {
	WorkshopID  uuid.UUID `gorm:"primaryKey"`
	ID          uuid.UUID `gorm:"primaryKey"`
	Job         uuid.UUID
	Name        string
	EveryMonths int64
	DueOn       string
	MadeOn      string
}

// TableName for gorm.
func (*checkDueRow) TableName() string { return "checks_due" }

func (r *checkDueRow) check() CheckDue {
	return CheckDue{Job: r.Job, Name: r.Name, EveryMonths: r.EveryMonths, DueOn: r.DueOn, MadeOn: r.MadeOn}
}

func (r *checkDueRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *checkDueRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-check-due/1", r.Job[:], r.Name, r.EveryMonths, r.DueOn, r.MadeOn)
	return "check due", r.ID.String(), sum[:]
}

func (*checkDueRow) sealed() error { return nil }

func (r *checkDueRow) key() any { return r.ID }

// AddUnquotedJob keeps a job without a quote, with the words that belong to it: a
// return visit, or one that is taken on.
// The nil ids: no customer, no van the workshop keeps.
func (t WriteTx) AddUnquotedJob(customer, van uuid.UUID, n NewJob) (JobEntry, error) {
	entry, err := t.addJob(JobEntry{Customer: customer, Van: van}, n)
	if err != nil {
		return JobEntry{}, err
	}
	for i, says := range n.Content.Words {
		if err := jot(t, &jobNoteRow{Job: entry.ID, Note: int64(i + 1), Says: says}); err != nil {
			return JobEntry{}, fmt.Errorf("note %d of job %d: %w", i+1, entry.Number, err)
		}
	}
	return entry, nil
}
