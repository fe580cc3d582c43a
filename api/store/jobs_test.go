package store

import (
	"errors"
	"testing"

	"github.com/google/uuid"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
)

// aJob is the work of a van with two stages.
func aJob() *job.Job {
	j := job.New(&bom.Sheet{BaseVan: "long", Stages: []bom.StageTotal{{Stage: "frame", Lines: 1}, {Stage: "floor", Lines: 2}}},
		[]catalogue.Stage{{Code: "frame", Name: "Frame"}, {Code: "floor", Name: "Floor", After: []string{"frame"}}}, "2026-04-02")
	return &j
}

func addJob(tx WriteTx, head QuoteEntry, revision int64) error {
	document, err := PackJob(aJob())
	if err != nil {
		return err
	}
	_, err = tx.AddJobs(head, revision, []NewJob{{Place: 1, Content: *aJob(), Document: document}})
	return err
}

func TestJobs(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	q := addQuote(t, s, p, "agreed")
	var made []JobEntry
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.IssueQuote(q.ID, 1, frozenText("agreed")); err != nil {
			return err
		}
		head, kept, err := tx.AcceptQuote(q.ID, 2, yesTo(1), nil)
		if err != nil {
			return err
		}
		document, err := PackJob(aJob())
		if err != nil {
			return err
		}
		if _, err := tx.AddJobs(head, kept.Revision, []NewJob{{Place: 9, Content: *aJob(), Document: document}}); !errors.Is(err, ErrMissing) {
			t.Errorf("a job of a van the quote has not: %v", err)
		}
		made, err = tx.AddJobs(head, kept.Revision, []NewJob{{Place: 1, Content: *aJob(), Document: document}})
		return err
	})
	j := made[0]
	if j.Number != 1 || j.State != job.Agreed || j.Quote != q.ID || j.Place != 1 || j.AgreedOn != "2026-04-02" {
		t.Errorf("the job is %+v", j)
	}
	moved := aJob()
	moved.State = job.InTheWorkshop
	document, err := PackJob(moved)
	if err != nil {
		t.Fatal(err)
	}
	write(t, s, p, func(tx WriteTx) error { _, err := tx.ChangeJob(j.ID, 1, moved, document); return err })
	err = s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.ChangeJob(j.ID, 1, moved, document); return err })
	if !errors.Is(err, ErrStale) {
		t.Errorf("a change from what it no longer is: %v", err)
	}
	read(t, s, p, func(tx ReadTx) error {
		found, err := tx.Job(j.ID)
		if err != nil {
			return err
		}
		content, err := found.Content()
		if err != nil || content.State != job.InTheWorkshop || len(content.Stages) != 2 || found.Version != 2 {
			t.Errorf("the job reads %+v, %+v, %v", found.JobEntry, content, err)
		}
		for _, f := range []JobFilter{{}, {State: job.InTheWorkshop}, {Quote: q.ID}} {
			if list, _, err := tx.Jobs(f); err != nil || len(list) != 1 {
				t.Errorf("%+v lists %d, %v", f, len(list), err)
			}
		}
		if list, _, err := tx.Jobs(JobFilter{State: job.Agreed}); err != nil || len(list) != 0 {
			t.Errorf("none is agreed any more: %d, %v", len(list), err)
		}
		if _, err := tx.Job(uuid.New()); !errors.Is(err, ErrNotFound) {
			t.Errorf("a job that is not there: %v", err)
		}
		return nil
	})
	sound(t, s, p)
}
