package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// Bounds of looking back: of how many jobs is learned at once, and how many are
// told one by one.
const (
	maxPast     = 2_000
	maxPastTold = 500
)

// lookBack tells what jobs that are over really took.
func (s *Server) lookBack(c *gin.Context) error {
	rule := job.DefaultPastRule
	if asked := c.Query("least_jobs"); asked != "" {
		n, err := strconv.Atoi(asked)
		if err != nil {
			return brokenField("query/least_jobs", "not_allowed", "It is not a number of jobs.", "Write 1 to 100.")
		}
		rule.LeastJobs = n
	}
	past, err := s.handedOver(c, c.Query("from"), c.Query("until"))
	if err != nil {
		return err
	}
	learned, err := job.LookBack(past, rule)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractLookingBack(&learned, principal(c).Role))
}

// pastJob is a job that is over, with what was agreed of it.
type pastJob struct {
	whole store.WholeJob
	text  *agreedText
	price *job.AgreedPrice // of a visit that was paid
}

// handedOver are all jobs of a quote, and paid visits, handed over between two days, "" for no
// bound. They are read one after the other, each for itself: what was agreed of
// a year's vans is too much to hold.
func (s *Server) handedOver(c *gin.Context, from, until string) ([]job.Past, error) {
	var list []job.Past
	for after := (*store.Place)(nil); ; {
		var entries []store.JobEntry
		var next *store.Place
		err := s.readTx(c, func(tx store.ReadTx) (err error) {
			entries, next, err = tx.Jobs(store.JobFilter{State: job.HandedOver, After: after, Limit: 200})
			return err
		})
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if until != "" && e.AgreedOn > until || from != "" && e.ChangedAt.AddDate(0, 0, 1).Format(time.DateOnly) < from {
				continue // a job that is over does not change: it ended by then
			}
			b, err := s.pastJob(c, e)
			if err != nil {
				return nil, err
			}
			if e.Revision == 0 && (b.price == nil || b.whole.Content.Return == nil) {
				continue // nothing was paid, or only a part of its work was done here
			}
			if on := b.whole.Content.HandedOverOn; from != "" && on < from || until != "" && on > until {
				continue
			}
			p, err := s.pastOf(c, b)
			if err != nil {
				return nil, err
			}
			if list = append(list, p); len(list) > maxPast {
				return nil, brokenField("query/from", "too_many", "More than "+strconv.Itoa(maxPast)+" jobs were handed over in that time.", "Ask for a shorter time.")
			}
		}
		if next == nil {
			return list, nil
		}
		after = next
	}
}

func (s *Server) pastJob(c *gin.Context, e store.JobEntry) (b pastJob, err error) {
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if b.whole, err = tx.WholeJob(e.ID); err != nil {
			return err
		}
		if b.text, err = readAgreed(tx, b.whole.JobEntry, b.whole.Content); err == nil {
			b.price, err = readAgreedPrice(tx, b.whole.JobEntry, b.whole.Content)
		}
		return err
	})
	return b, err
}

func (s *Server) pastOf(c *gin.Context, b pastJob) (p job.Past, err error) {
	if b.price != nil {
		p, err = s.pastVisit(c, b)
	} else {
		p, err = s.pastQuoted(c, b)
	}
	p.Job, p.Number, p.HandedOverOn = b.whole.ID.String(), b.whole.Number, b.whole.Content.HandedOverOn
	return p, err
}

// pastVisit is a visit that was paid.
func (s *Server) pastVisit(c *gin.Context, b pastJob) (job.Past, error) {
	number, _ := b.whole.Content.OwnRelease()
	release, err := s.releaseByNumber(c, number)
	if err != nil {
		return job.Past{}, err
	}
	book, err := s.editionByCode(c, release, b.price.Priced.Edition)
	if err != nil {
		return job.Past{}, err
	}
	return job.PastOfVisit(b.whole.Content.OwnSheet(release.Catalogue()), &b.price.Priced, b.whole.Content.Worked(), b.whole.Content.UsedParts(), book)
}

func (s *Server) pastQuoted(c *gin.Context, b pastJob) (job.Past, error) {
	now, err := b.text.now()
	if err != nil {
		return job.Past{}, err
	}
	release, err := s.releaseByNumber(c, now.Release.Number)
	if err != nil {
		return job.Past{}, err
	}
	book, err := s.editionByCode(c, release, now.Van.Priced.Edition)
	if err != nil {
		return job.Past{}, err
	}
	return job.PastOf(&now.Van, b.whole.Content.Worked(), b.whole.Content.UsedParts(), book), nil
}

func contractLookingBack(l *job.Retrospect, r auth.Role) openapi.LookingBack {
	return openapi.LookingBack{
		OfJobs: whole(len(l.Jobs)),
		Jobs: mapped(l.Jobs[:min(len(l.Jobs), maxPastTold)], func(j job.PastJob) openapi.JobLookedBack {
			out := openapi.JobLookedBack{Job: j.Job, Number: whole(int(j.Number)), QuotedHours: plain(j.Quoted), WorkedHours: plain(j.Worked)}
			if r.SeesCost() {
				out.Net, out.QuotedCost, out.RealCost = contractAmount(j.Net), contractAmount(j.QuotedCost), contractAmount(j.RealCost)
				out.QuotedMargin, out.RealMargin = contractAmount(j.QuotedMargin), contractAmount(j.RealMargin)
			}
			return out
		}),
		Stages: mapped(l.Stages, func(s job.PastStage) openapi.StageLookedBack {
			return openapi.StageLookedBack{Stage: s.Stage, Jobs: whole(s.Jobs), QuotedHours: plain(s.Quoted), WorkedHours: plain(s.Worked)}
		}),
		Features: mapped(l.Features, func(f job.PastFeature) openapi.FeatureLookedBack {
			out := openapi.FeatureLookedBack{Feature: f.Feature, Jobs: whole(f.Jobs), QuotedHours: plain(f.Quoted), WorkedHours: plain(f.Worked)}
			if r.SeesCost() && !f.Net.IsZero() {
				out.Net, out.QuotedMargin, out.RealMargin = contractAmount(f.Net), contractAmount(f.QuotedMargin), contractAmount(f.RealMargin)
			}
			return out
		}),
		Suggestions: mapped(l.Suggestions, func(h job.Suggestion) openapi.HoursSuggested {
			return openapi.HoursSuggested{
				Feature: h.Feature, Stage: h.Stage, Trade: h.Trade, Jobs: whole(h.Jobs), Factor: plain(h.Factor), Least: plain(h.Least), Most: plain(h.Most),
				QuotedHours: plain(h.Quoted), SuggestedHours: plain(h.Suggested), NearerHours: plain(h.Hours),
			}
		}),
	}
}
