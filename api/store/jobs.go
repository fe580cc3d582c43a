package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// JobEntry is a job without its document.
type JobEntry struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number    int64
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	State     job.State
	// Quote, its accepted Revision and the Place of the van in it, from 1; the
	// nil id and 0 for a return visit.
	Quote           uuid.UUID
	Revision, Place int64
	Customer        uuid.UUID // the nil id: nobody
	Van             uuid.UUID // the nil id: not known yet which
	BaseVan         string
	AgreedOn        string // YYYY-MM-DD
}

// Job is a van's work, with its document.
type Job struct {
	JobEntry
	Document Packed
}

// NewJob is a van's work that begins: its document and what stands in it.
type NewJob struct {
	Place    int64 // of the van in the quote, from 1
	Content  job.Job
	Document Packed // Content, encoded
}

// PackJob encodes a job, before a transaction.
func PackJob(j *job.Job) (Packed, error) {
	text, err := j.Encode()
	if err != nil {
		return Packed{}, err
	}
	return Pack(text), nil
}

// AddJobs keeps the jobs of a quote that was accepted, each under the next
// number, in the transaction of its acceptance.
func (t WriteTx) AddJobs(head QuoteEntry, revision int64, list []NewJob) ([]JobEntry, error) {
	agreed, err := t.Revision(head.ID, revision)
	if err != nil {
		return nil, fmt.Errorf("jobs: %w", err)
	}
	entries := make([]JobEntry, len(list))
	for i, n := range list {
		if n.Place < 1 || n.Place > int64(len(agreed.Vans)) {
			return nil, fmt.Errorf("jobs of quote %s: van %d: %w", head.ID, n.Place, ErrMissing)
		}
		entry := JobEntry{
			Quote: head.ID, Revision: revision, Place: n.Place, Customer: head.Customer, Van: agreed.Vans[n.Place-1].Van,
		}
		if entries[i], err = t.addJob(entry, n); err != nil {
			return nil, err
		}
	}
	return entries, nil
}

func (t WriteTx) addJob(e JobEntry, n NewJob) (JobEntry, error) {
	if err := n.Document.checked(); err != nil {
		return JobEntry{}, fmt.Errorf("job: %w", err)
	}
	number, err := nextNumber(t, "job")
	if err != nil {
		return JobEntry{}, fmt.Errorf("numbering the job: %w", err)
	}
	e.ID, e.Number, e.Version, e.CreatedAt, e.ChangedAt = t.NewID(), number, 1, t.Now(), t.Now()
	e.State, e.BaseVan, e.AgreedOn = n.Content.State, n.Content.BaseVan, n.Content.AgreedOn
	if err := insert(t, added, jobRowOf(e, n.Document)); err != nil {
		return JobEntry{}, fmt.Errorf("job %d: %w", number, err)
	}
	return e, nil
}

// ChangeJob puts what a job has become in the place of what it was. version is
// the one the change was made from, else it is ErrStale. The document is what
// was packed of the content.
func (t WriteTx) ChangeJob(id uuid.UUID, version int64, content *job.Job, document Packed) (JobEntry, error) {
	if err := document.checked(); err != nil {
		return JobEntry{}, fmt.Errorf("job %s: %w", id, err)
	}
	was, err := t.JobEntry(id)
	if err != nil {
		return JobEntry{}, err
	}
	was.Version, was.ChangedAt, was.State = version+1, t.Now(), content.State
	row := jobRowOf(was, document)
	err = change(t, changed, of[jobEntryRow](t.ReadTx).where("id = ? AND version = ?", id, version), map[string]any{
		"version": row.Entry.Version, "changed_us": row.Entry.ChangedUS, "state": row.Entry.State,
		"document": row.Document, "document_sha256": row.Entry.DocumentSHA256,
	}, fmt.Errorf("job %s at version %d: %w", id, version, ErrStale), row)
	if err != nil {
		return JobEntry{}, err
	}
	return was, t.indexSerials(id, content)
}

// Job gives one job.
func (t ReadTx) Job(id uuid.UUID) (Job, error) {
	row, err := of[jobRow](t).where("id = ?", id).one()
	if err != nil {
		return Job{}, fmt.Errorf("job %s: %w", id, err)
	}
	return row.job(), nil
}

// JobEntry gives one job without its document.
func (t ReadTx) JobEntry(id uuid.UUID) (JobEntry, error) {
	row, err := of[jobEntryRow](t).where("id = ?", id).one()
	if err != nil {
		return JobEntry{}, fmt.Errorf("job %s: %w", id, err)
	}
	return row.entry(), nil
}

// Content reads the document of a job.
func (j Job) Content() (*job.Job, error) {
	text, err := j.Document.Unpack()
	if err != nil {
		return nil, fmt.Errorf("job %d: %w", j.Number, err)
	}
	return job.Decode(text)
}

// JobFilter says which jobs to list.
type JobFilter struct {
	State job.State // "" means any
	Quote uuid.UUID // the nil id means of any, or of none
	Van   uuid.UUID // the nil id means any
	// Registration is the beginning of that of the van; "" means any.
	Registration string
	// Day (YYYY-MM-DD) in its slot; "" means any, or none.
	Day   string
	After *Place // nil begins at the newest
	Limit int    // 0 means 50; at most 200
}

// Jobs lists jobs, the newest first. next is where to go on, nil at the end.
func (t ReadTx) Jobs(f JobFilter) (list []JobEntry, next *Place, err error) {
	query := of[jobEntryRow](t)
	if f.State != "" {
		query = query.where("state = ?", string(f.State))
	}
	if f.Quote != uuid.Nil {
		query = query.where("quote = ?", f.Quote)
	}
	if f.Van != uuid.Nil {
		query = query.where("van = ?", f.Van)
	}
	shop := t.s.as.Workshop // a condition's own query is not narrowed down to it
	if begin := PlainRegistration(f.Registration); f.Registration != "" {
		query = query.where(`id IN (
			SELECT j.id FROM quote_vans v JOIN jobs j ON j.workshop_id = v.workshop_id AND j.quote = v.quote AND j.revision = v.revision AND j.place = v.place
			WHERE v.workshop_id = ? AND v.registration >= ? AND v.registration < ?
			UNION SELECT j.id FROM vans k JOIN jobs j ON j.workshop_id = k.workshop_id AND j.van = k.id
			WHERE k.workshop_id = ? AND k.registration >= ? AND k.registration < ?)`, shop, begin, past(begin), shop, begin, past(begin))
	}
	if f.Day != "" {
		query = query.where("id IN (SELECT s.job FROM slots s WHERE s.workshop_id = ? AND s.state <> 'released' AND s.from_on <= ? AND s.until_on >= ?)", shop, f.Day, f.Day)
	}
	found, next, err := page(query, f.After, f.Limit, func(r jobEntryRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("jobs: %w", err)
	}
	list = make([]JobEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, next, nil
}

// JobsOf are all jobs of a customer, in the order of their numbers.
func (t ReadTx) JobsOf(customer uuid.UUID) ([]JobEntry, error) {
	found, err := of[jobEntryRow](t).where("customer = ?", customer).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("jobs of customer %s: %w", customer, err)
	}
	list := make([]JobEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, nil
}

// UnpaidJobs are all jobs of which money may still be waited for, in the order of
// their numbers: those that go on, and of those handed over the ones that are
// not invoiced, or whose invoice leaves something owed.
func (t ReadTx) UnpaidJobs() ([]Job, error) {
	shop := t.s.as.Workshop // a condition's own query is not narrowed down to it
	found, err := of[jobRow](t).where(`state IN ? OR (state = ? AND (
		NOT EXISTS (SELECT 1 FROM invoices i WHERE i.workshop_id = ? AND i.job = jobs.id AND i.kind = 'invoice')
		OR EXISTS (SELECT 1 FROM ledger_sums l WHERE l.workshop_id = ? AND l.job = jobs.id AND l.account = 'debtors' AND l.minor <> 0)))`,
		[]string{string(job.Agreed), string(job.InTheWorkshop)}, string(job.HandedOver), shop, shop).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("jobs: %w", err)
	}
	list := make([]Job, len(found))
	for i := range found {
		list[i] = found[i].job()
	}
	return list, nil
}

type jobEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Number         int64
	Version        int64
	CreatedUS      int64
	ChangedUS      int64
	State          string
	Quote          uuid.NullUUID
	Revision       int64
	Place          int64
	Customer       uuid.NullUUID
	Van            uuid.NullUUID
	BaseVan        string
	AgreedOn       string
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (jobEntryRow) TableName() string { return "jobs" }

func (r jobEntryRow) entry() JobEntry {
	return JobEntry{
		ID: r.ID, Number: r.Number, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS),
		State: job.State(r.State), Quote: r.Quote.UUID, Revision: r.Revision, Place: r.Place,
		Customer: r.Customer.UUID, Van: r.Van.UUID, BaseVan: r.BaseVan, AgreedOn: r.AgreedOn,
	}
}

type jobRow struct {
	Entry    jobEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*jobRow) TableName() string { return "jobs" }

func jobRowOf(e JobEntry, document Packed) *jobRow {
	return &jobRow{
		Entry: jobEntryRow{
			ID: e.ID, Number: e.Number, Version: e.Version, CreatedUS: e.CreatedAt.UnixMicro(), ChangedUS: e.ChangedAt.UnixMicro(),
			State: string(e.State), Quote: orNull(e.Quote), Revision: e.Revision, Place: e.Place,
			Customer: orNull(e.Customer), Van: orNull(e.Van), BaseVan: e.BaseVan, AgreedOn: e.AgreedOn, DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}
}

func (r *jobRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *jobRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-job-row/1", e.Number, e.Version, e.CreatedUS, e.ChangedUS, e.State, e.Quote.UUID[:], e.Revision, e.Place,
		e.Customer.UUID[:], e.Van.UUID[:], e.BaseVan, e.AgreedOn, e.DocumentSHA256)
	return "job", e.ID.String(), sum[:]
}

func (r *jobRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	return err
}

func (r *jobRow) key() any { return r.Entry.ID }

func (r *jobRow) job() Job {
	return Job{JobEntry: r.Entry.entry(), Document: Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}}
}
