package apitest

import (
	"encoding/json"
	"net/http"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// job is the first of what comes of a quote that is accepted.
func (s seller) job(change func(object)) openapi.Job {
	s.t.Helper()
	path, version, yes := s.offered(change)
	if g := s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes); g.status != http.StatusCreated {
		s.t.Fatalf("accepting %s: %d %s", path, g.status, g.body)
	}
	list := s.jobs("?quote=" + path[len("/v1/quotes/"):])
	if len(list) == 0 {
		s.t.Fatal("a quote was accepted, and there is no job")
	}
	return s.jobAt(list[0].Id)
}

func (s seller) jobs(query string) []openapi.JobEntry {
	s.t.Helper()
	g := s.do(auth.Workshop, http.MethodGet, "/v1/jobs"+query, "", nil)
	var page openapi.Jobs
	if err := json.Unmarshal(g.body, &page); err != nil || g.status != http.StatusOK {
		s.t.Fatalf("jobs: %d %v", g.status, err)
	}
	return page.Jobs
}

func (s seller) jobAt(id string) openapi.Job {
	s.t.Helper()
	g := s.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+id, "", nil)
	var j openapi.Job
	if err := json.Unmarshal(g.body, &j); err != nil || g.status != http.StatusOK {
		s.t.Fatalf("job %s: %d %v", id, g.status, err)
	}
	return j
}

// TestJobsBeginWithTheYes: one for each van of what was accepted, none before.
func TestJobsBeginWithTheYes(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	two := func(body object) {
		vans := body["vans"].([]any)
		body["vans"] = append(vans, clone(t, vans[0].(object)))
	}
	path, version, yes := s.offered(two)
	if list := s.jobs(""); len(list) != 0 {
		t.Fatalf("%d jobs before anybody said yes", len(list))
	}
	if g := s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes); g.status != http.StatusCreated {
		t.Fatalf("accepting: %d %s", g.status, g.body)
	}
	list := s.jobs("?state=agreed")
	if len(list) != 2 || list[0].Number != 2 || list[1].Number != 1 || list[0].Place != 2 || list[1].Place != 1 {
		t.Fatalf("the jobs are %+v", list)
	}
	if len(s.jobs("?state=cancelled")) != 0 {
		t.Error("one is cancelled")
	}
	j := s.jobAt(list[1].Id)
	if len(j.Stages) == 0 || j.AgreedOn != "2026-11-25" || "/v1/quotes/"+j.Quote != path || j.Revision != 1 {
		t.Errorf("the job is %+v", j)
	}
	seen := map[string]bool{}
	for _, stage := range j.Stages {
		if stage.State != "to do" {
			t.Errorf("stage %s is %s", stage.Code, stage.State)
		}
		for _, before := range stage.After {
			if !seen[before] {
				t.Errorf("stage %s stands before %s, which comes before it", stage.Code, before)
			}
		}
		seen[stage.Code] = true
	}
	theirs := w.exchange(t, call{method: http.MethodGet, path: "/v1/jobs/" + j.Id, of: w.Theirs, role: auth.Owner})
	if theirs.status != http.StatusNotFound {
		t.Errorf("the other workshop sees it: %d", theirs.status)
	}
	w.verify(t, w.Ours)
}
