package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// jobRoutes are those of the work on the vans that were agreed.
func jobRoutes() []route {
	everyone := auth.Roles()
	return []route{
		{http.MethodGet, "/v1/jobs", everyone, (*Server).listJobs},
		{http.MethodGet, "/v1/jobs/:id", everyone, (*Server).getJob},
	}
}

// jobsOf are the jobs that begin when a quote is accepted on a day, one a van.
func (s *Server) jobsOf(c *gin.Context, d *quote.Document, on string) ([]store.NewJob, error) {
	release, err := s.releaseByNumber(c, d.Release.Number)
	if err != nil {
		return nil, err
	}
	list := make([]store.NewJob, len(d.Vans))
	for i := range d.Vans {
		content := job.New(&d.Vans[i].Sheet, release.Catalogue().Stages, on)
		document, err := store.PackJob(&content)
		if err != nil {
			return nil, err
		}
		list[i] = store.NewJob{Place: int64(i + 1), Content: content, Document: document}
	}
	return list, nil
}

// listJobs gives a page of jobs, the newest first.
func (s *Server) listJobs(c *gin.Context) error {
	filter := store.JobFilter{State: job.State(c.Query("state")), Quote: askedID(c.Query("quote")), Van: askedID(c.Query("van")),
		Registration: c.Query("registration"), Day: c.Query("day")}
	question := "jobs " + string(filter.State) + " of " + contractID(filter.Quote) + " on " + contractID(filter.Van) + " " +
		store.PlainRegistration(filter.Registration) + " " + filter.Day
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.JobEntry, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Jobs(filter)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Jobs{Jobs: mapped(list, contractJobEntry), Next: next})
}

// getJob gives one job.
func (s *Server) getJob(c *gin.Context) error {
	var slot store.Slot
	found, err := theOne(s, c, "job", func(tx store.ReadTx, id uuid.UUID) (found store.Job, err error) {
		if found, err = tx.Job(id); err == nil {
			slot, err = tx.SlotIfAny(id)
		}
		return found, err
	})
	if err != nil {
		return err
	}
	content, err := found.Content()
	if err != nil {
		return err
	}
	body := contractJob(found.JobEntry, content)
	if live(&slot) {
		body.PlanAgain = contractSlotAgain(slot.Again)
	}
	return answerOfTheDay(c, http.StatusOK, found.Version, body) // a slot has versions of its own
}

func contractJobEntry(e store.JobEntry) openapi.JobEntry {
	return openapi.JobEntry{
		Id: e.ID.String(), Number: whole(int(e.Number)), Version: e.Version, CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt,
		State: openapi.JobState(e.State), Quote: contractID(e.Quote), Revision: whole(int(e.Revision)), Place: whole(int(e.Place)),
		Customer: contractID(e.Customer), Van: contractID(e.Van), BaseVan: e.BaseVan, AgreedOn: e.AgreedOn,
	}
}

func contractJob(e store.JobEntry, j *job.Job) openapi.Job {
	entry := contractJobEntry(e)
	return openapi.Job{
		Id: entry.Id, Number: entry.Number, Version: entry.Version, CreatedAt: entry.CreatedAt, ChangedAt: entry.ChangedAt,
		State: entry.State, Quote: entry.Quote, Revision: entry.Revision, Place: entry.Place,
		Customer: entry.Customer, Van: entry.Van, BaseVan: entry.BaseVan, AgreedOn: entry.AgreedOn,
		Stages: mapped(j.Stages, func(s job.Stage) openapi.JobStage {
			return openapi.JobStage{
				Code: s.Code, Name: s.Name, After: append([]string{}, s.After...), State: openapi.JobStageState(s.State),
				Hours: s.Hours.String(), StandingHours: s.StandingHours.String(),
			}
		}),
	}
}
