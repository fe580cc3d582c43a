package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// What people wrote about a job, and what its attachments show, stand beside
// its document: they may name somebody, and are emptied with the customer.

// WholeJob is a job with its document read and its words put in.
type WholeJob struct {
	JobEntry
	Content *job.Job
}

// WholeJob gives one job with the words that belong to it.
func (t ReadTx) WholeJob(id uuid.UUID) (WholeJob, error) {
	found, err := t.Job(id)
	if err != nil {
		return WholeJob{}, err
	}
	content, err := found.Content()
	if err != nil {
		return WholeJob{}, err
	}
	notes, err := of[jobNoteRow](t).where("job = ?", id).order("note").all()
	if err != nil {
		return WholeJob{}, fmt.Errorf("notes of job %d: %w", found.Number, err)
	}
	for i, n := range notes {
		if n.Note != int64(i+1) {
			return WholeJob{}, fmt.Errorf("notes of job %d: number %d is missing", found.Number, i+1)
		}
		content.Words = append(content.Words, n.Says)
	}
	return WholeJob{found.JobEntry, content}, nil
}

// ChangeWholeJob is ChangeJob of a job that was read as was, with the words that
// were added to it. The document is what was packed of now.
func (t WriteTx) ChangeWholeJob(was WholeJob, now *job.Job, document Packed) (JobEntry, error) {
	entry, err := t.ChangeJob(was.ID, was.Version, now, document)
	if err != nil {
		return JobEntry{}, err
	}
	for i := len(was.Content.Words); i < len(now.Words); i++ {
		if err := jot(t, &jobNoteRow{Job: was.ID, Note: int64(i + 1), Says: now.Words[i]}); err != nil {
			return JobEntry{}, fmt.Errorf("note %d of job %d: %w", i+1, was.Number, err)
		}
	}
	return entry, nil
}

// JobAttachment is the content of an attachment.
type JobAttachment struct {
	MediaType string
	Content   []byte // nil where it is filed elsewhere, or was emptied
}

// KeepAttachment keeps the content of an attachment that the job has under that
// number.
func (t WriteTx) KeepAttachment(id uuid.UUID, number int64, a JobAttachment) error {
	if err := jot(t, &jobAttachmentRow{Job: id, Number: number, MediaType: a.MediaType, Content: a.Content}); err != nil {
		return fmt.Errorf("attachment %d of job %s: %w", number, id, err)
	}
	return nil
}

// Attachment gives the content of an attachment.
func (t ReadTx) Attachment(id uuid.UUID, number int64) (JobAttachment, error) {
	row, err := of[jobAttachmentRow](t).where("job = ? AND number = ?", id, number).one()
	if err != nil {
		return JobAttachment{}, fmt.Errorf("attachment %d of job %s: %w", number, id, err)
	}
	return JobAttachment{MediaType: row.MediaType, Content: row.Content}, nil
}

// JobPlates gives the registrations of the vans of jobs, as they are now; "" for
// a van that has none.
func (t ReadTx) JobPlates(list []JobEntry) (map[uuid.UUID]string, error) {
	plates := make(map[uuid.UUID]string, len(list))
	var quotes, kept []uuid.UUID
	for _, j := range list {
		quotes = append(quotes, j.Quote)
		kept = append(kept, j.Van)
	}
	if len(list) == 0 {
		return plates, nil
	}
	rows, err := of[quoteVanRow](t).where("quote IN ?", quotes).all()
	if err != nil {
		return nil, fmt.Errorf("vans of jobs: %w", err)
	}
	vans, err := t.VansByID(kept)
	if err != nil {
		return nil, err
	}
	for _, j := range list {
		if v, ok := vans[j.Van]; ok {
			plates[j.ID] = v.Facts.Registration
			continue
		}
		k := slices.IndexFunc(rows, func(v quoteVanRow) bool {
			return v.Quote == j.Quote && v.Revision == j.Revision && v.Place == j.Place
		})
		if k >= 0 {
			plates[j.ID] = rows[k].Plate
		}
	}
	return plates, nil
}

// JobsInState gives all jobs that are in one of some states, with their
// documents, the oldest first.
func (t ReadTx) JobsInState(states ...job.State) ([]Job, error) {
	words := make([]string, len(states))
	for i, s := range states {
		words[i] = string(s)
	}
	found, err := of[jobRow](t).where("state IN ?", words).order("created_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("jobs: %w", err)
	}
	list := make([]Job, len(found))
	for i := range found {
		list[i] = found[i].job()
	}
	return list, nil
}

// JobsOfCustomer gives the jobs of a customer, and those of some quotes: of an
// end customer the job names the dealer.
func (t ReadTx) JobsOfCustomer(customer uuid.UUID, quotes []uuid.UUID) ([]JobEntry, error) {
	query := of[jobEntryRow](t).where("customer = ?", customer)
	if len(quotes) > 0 {
		query = of[jobEntryRow](t).where("customer = ? OR quote IN ?", customer, quotes)
	}
	found, err := query.order("number").all()
	if err != nil {
		return nil, fmt.Errorf("jobs of customer %s: %w", customer, err)
	}
	list := make([]JobEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, nil
}

// emptyJobsOf takes out what people wrote and what attachments show in all jobs
// of a customer, and gives their ids. Hashes of attachments stay in the jobs.
func (t WriteTx) emptyJobsOf(customer uuid.UUID, quotes []uuid.UUID) ([]uuid.UUID, error) {
	var ids []uuid.UUID
	found, err := t.JobsOfCustomer(customer, quotes)
	if err != nil {
		return nil, err
	}
	for i := range found {
		ids = append(ids, found[i].ID)
		for _, err := range []error{
			of[jobNoteRow](t.ReadTx).where("job = ?", found[i].ID).set(map[string]any{"says": ""}, ErrNotFound),
			of[jobAttachmentRow](t.ReadTx).where("job = ?", found[i].ID).set(map[string]any{"content": nil}, ErrNotFound),
			of[depositTakenOnRow](t.ReadTx).where("job = ?", found[i].ID).set(map[string]any{"words": ""}, ErrNotFound),
			of[settlementRow](t.ReadTx).where("job = ?", found[i].ID).set(map[string]any{"words": ""}, ErrNotFound),
		} {
			if err != nil && !errors.Is(err, ErrNotFound) { // none is nothing to empty
				return nil, fmt.Errorf("emptying job %d: %w", found[i].Number, err)
			}
		}
	}
	return ids, nil
}

// verifyAttachments holds what attachments show against what the jobs say of
// them.
func (t ReadTx) verifyAttachments(map[[2]string][]byte) error {
	var after uuid.UUID
	for {
		found, err := of[jobRow](t).where("id > ?", after).order("id").first(maxPage)
		if err != nil {
			return err
		}
		for i := range found {
			if err := t.verifyAttachmentsOf(found[i].job()); err != nil {
				return err
			}
			after = found[i].Entry.ID
		}
		if len(found) < maxPage {
			return nil
		}
	}
}

func (t ReadTx) verifyAttachmentsOf(j Job) error {
	content, err := j.Content()
	if err != nil {
		return err
	}
	for _, a := range content.Attachments {
		kept, err := t.Attachment(j.ID, int64(a.Number))
		if err != nil {
			return fmt.Errorf("%w: %w", ErrJournal, err)
		}
		if sum := sha256.Sum256(kept.Content); kept.Content != nil && hex.EncodeToString(sum[:]) != a.SHA256 {
			return fmt.Errorf("%w: job %s: attachment %d is not what was attached", ErrJournal, j.ID, a.Number)
		}
	}
	return nil
}

type jobNoteRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Job        uuid.UUID `gorm:"primaryKey"`
	Note       int64     `gorm:"primaryKey;autoIncrement:false"`
	Says       string
}

// TableName for gorm.
func (*jobNoteRow) TableName() string { return "job_notes" }

func (r *jobNoteRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

type jobAttachmentRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Job        uuid.UUID `gorm:"primaryKey"`
	Number     int64     `gorm:"primaryKey;autoIncrement:false"`
	MediaType  string
	Content    []byte
}

// TableName for gorm.
func (*jobAttachmentRow) TableName() string { return "job_attachments" }

func (r *jobAttachmentRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }
