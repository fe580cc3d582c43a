package apitest

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// tooHeavy is a van that is over its plate before anybody is aboard, with fewer
// berths than seats: a must and a should that are not met.
func tooHeavy(body map[string]any) {
	van := body["vans"].([]any)[0].(map[string]any)
	van["van"] = object{"base_van": "short_panel_van", "registration": "WT24 DMO", "weighed_front_kg": "1400", "weighed_rear_kg": "1400",
		"plated_front_kg": "2000", "plated_rear_kg": "2400"}
	van["choices"] = object{"features": []any{object{"want": "whole_conversion"}, object{"want": "bed_folding_bench"}}}
	van["settle"] = "by defaults"
	delete(van, "extras")
	delete(van, "additions")
}

// stands says which checks stop a quote.
func stands(list []openapi.NotReady) (codes []string) {
	for _, n := range list {
		codes = append(codes, string(n.Code)+" "+n.About)
	}
	slices.Sort(codes)
	return codes
}

const why = "A quillwort rides along by day and never sleeps on board."

// TestAnswersToChecks: a must is answered by evidence alone, a should by the
// owner alone, each up to a limit; then the quote is issued.
func TestAnswersToChecks(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(tooHeavy)
	path := "/v1/quotes/" + q.Id
	if got := strings.Join(stands(q.NotReady), ", "); got != "check_not_met payload_for_people, check_waits_for_owner berths_for_seats, check_waits_for_owner payload_for_luggage" {
		t.Fatalf("in the way: %s", got)
	}
	p := s.do(auth.Sales, http.MethodPost, path+"/issue", version, object{}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeNotReady)
	for _, e := range p.Errors {
		if e.Remedy == "" {
			t.Errorf("%s has no remedy", e.Code)
		}
	}

	goOn := func(limit string) object {
		return object{"van": 1, "check": "berths_for_seats", "kind": "going on", "limit": limit, "says": why}
	}
	evidence := func(check, limit string) object {
		return object{"van": 1, "check": check, "kind": "evidence", "limit": limit, "says": "Plate of 3 November, filed.", "day": "2026-11-03"}
	}
	for _, c := range []struct {
		name   string
		role   auth.Role
		body   object
		status int
		code   openapi.ProblemCode
		field  string
	}{
		{"sales goes on", auth.Sales, goOn("2"), http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed, ""},
		{"books goes on", auth.Books, goOn("2"), http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed, ""},
		{"the workshop goes on", auth.Workshop, goOn("2"), http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed, ""},
		{"sales has evidence", auth.Sales, evidence("payload_for_people", "-500"), http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed, ""},
		{"further than it was said", auth.Owner, goOn("3"), http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused, "/limit"},
		{"a must", auth.Owner, object{"van": 1, "check": "payload_for_people", "kind": "going on", "limit": "-500", "says": why}, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused, "/kind"},
		{"a day to come", auth.Owner, object{"van": 1, "check": "payload_for_people", "kind": "evidence", "limit": "-500", "says": why, "day": "2027-11-03"}, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused, "/day"},
		{"no such day", auth.Owner, object{"van": 1, "check": "payload_for_people", "kind": "evidence", "limit": "-500", "says": why, "day": "2026-02-30"}, http.StatusBadRequest, openapi.ProblemCodeContractBroken, "/day"},
		{"no such check", auth.Owner, evidence("wings", "1"), http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference, "/check"},
		{"no such van", auth.Owner, object{"van": 2, "check": "payload_for_people", "kind": "evidence", "limit": "1", "says": why}, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference, "/van"},
		{"met, or not asked", auth.Owner, evidence("low_ventilation", "1"), http.StatusConflict, openapi.ProblemCodeStateConflict, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := s.do(c.role, http.MethodPost, path+"/answers", version, c.body).want(t, c.status, c.code)
			if c.field != "" && (len(p.Errors) != 1 || p.Errors[0].Field != c.field || p.Errors[0].Remedy == "") {
				t.Errorf("%+v", p.Errors)
			}
		})
	}

	g := s.do(auth.Workshop, http.MethodPost, path+"/answers", version, evidence("payload_for_people", "-500"))
	g.into(t, http.StatusOK, &q)
	s.do(auth.Owner, http.MethodPost, path+"/answers", version, goOn("2")).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	version = g.header.Get("Etag")
	g = s.do(auth.Owner, http.MethodPost, path+"/answers", version, goOn("2"))
	g.into(t, http.StatusOK, &q)
	if got := strings.Join(stands(q.NotReady), ", "); got != "check_waits_for_owner payload_for_luggage" {
		t.Fatalf("in the way: %s", got)
	}
	version = g.header.Get("Etag")
	g = s.do(auth.Owner, http.MethodPost, path+"/answers", version, evidence("payload_for_luggage", "-800"))
	g.into(t, http.StatusOK, &q)
	if !q.ReadyToIssue {
		t.Fatalf("in the way: %+v", q.NotReady)
	}
	if issued, _ := s.issue(q.Id, g.header.Get("Etag")); issued.State != openapi.QuoteStateIssued {
		t.Errorf("%+v", issued)
	}
	s.whyStaysInside(path)
	var journal openapi.Journal
	w.exchange(t, call{of: w.Ours, role: auth.Owner, method: http.MethodGet, path: "/v1/journal?limit=100"}).into(t, http.StatusOK, &journal)
	answered := 0
	for _, l := range journal.Lines {
		if l.Verb == "answered" {
			answered++
		}
	}
	if answered != 3 {
		t.Errorf("the journal has %d answers", answered)
	}
	w.verify(t, w.Ours)
}

// whyStaysInside: why the owner goes on is read by owner and books, and by
// nobody else anywhere.
func (s seller) whyStaysInside(path string) {
	s.t.Helper()
	made := s.do(auth.Sales, http.MethodPost, path+"/links", s.do(auth.Sales, http.MethodGet, path, "", nil).header.Get("Etag"), nil)
	var link openapi.Link
	made.into(s.t, http.StatusCreated, &link)
	for _, where := range []string{
		path, path + "?include=sheet,specification,price", path + "/content", path + "/revisions", path + "/revisions/1", path + "/revisions/1/recomputed",
		path + "/comparison?from=1&to=1", path + "/revisions/1/quote.html", path + "/revisions/1/vans/1/sheet.csv", "/v1/quotes",
		strings.TrimSuffix(link.Path, "/quote.html"), link.Path,
	} {
		for _, role := range []auth.Role{auth.Owner, auth.Books, auth.Sales, auth.Workshop} {
			g := s.do(role, http.MethodGet, where, "", nil)
			if g.status == http.StatusForbidden {
				continue
			}
			if g.status != http.StatusOK {
				s.t.Fatalf("%s for %s: %d %s", where, role, g.status, g.body)
			}
			may := role.SeesCost() && (where == path || strings.HasPrefix(where, path+"?") || where == path+"/revisions/1")
			if has := strings.Contains(string(g.body), "quillwort"); has != may {
				s.t.Errorf("%s: %s is shown why the owner goes on: %v", where, role, has)
			}
		}
	}
	q := s.quote(strings.TrimPrefix(path, "/v1/quotes/"))
	for _, c := range q.Vans[0].Checks {
		if c.Code == "berths_for_seats" && (!c.Answered || c.Met || c.Standing != openapi.CheckStandingNotMet || c.Answer.Kind != "going on" || c.Answer.By != "") {
			s.t.Errorf("sales is shown %+v", c)
		}
		if c.Code == "payload_for_people" && (c.Answer.Says != "Plate of 3 November, filed." || c.Answer.Day != "2026-11-03" || c.Answer.By == "") {
			s.t.Errorf("sales is shown %+v", c)
		}
	}
}

// TestAnswersStay while a draft is changed and revised, up to their limit, and
// go when they are taken back or the van is another.
func TestAnswersStay(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	light := func(features ...any) func(map[string]any) {
		return func(body map[string]any) {
			tooHeavy(body)
			van := body["vans"].([]any)[0].(map[string]any)
			van["van"] = object{"base_van": "short_panel_van", "registration": "WT24 DMO"}
			van["choices"] = object{"features": append([]any{object{"want": "whole_conversion"}, object{"want": "bed_folding_bench"}}, features...)}
		}
	}
	q, version := s.create(light())
	path := "/v1/quotes/" + q.Id
	answer := object{"van": 1, "check": "berths_for_seats", "kind": "going on", "limit": "2", "says": why}
	key := http.Header{"If-Match": {version}, "Idempotency-Key": {"answer-once-0001"}}
	again := func() got {
		return w.exchange(t, call{of: w.Ours, role: auth.Owner, method: http.MethodPost, path: path + "/answers", body: answer, header: key.Clone()})
	}
	again().into(t, http.StatusOK, &q)
	if g := again(); g.status != http.StatusOK || g.header.Get("Answered-Before") != "?1" {
		t.Errorf("sent again: %d %s", g.status, g.body)
	}
	if !q.ReadyToIssue {
		t.Fatalf("in the way: %+v", q.NotReady)
	}
	put := func(change func(map[string]any)) {
		t.Helper()
		body := w.example(t, http.MethodPost, "/v1/quotes")
		change(body)
		version = s.do(auth.Sales, http.MethodGet, path, "", nil).header.Get("Etag")
		g := s.do(auth.Sales, http.MethodPut, path, version, body)
		g.into(t, http.StatusOK, &q)
		version = g.header.Get("Etag")
	}
	put(light(object{"want": "awning_rail"}))
	if !q.ReadyToIssue {
		t.Errorf("changed, and the answer is gone: %+v", q.NotReady)
	}
	_, version = s.issue(q.Id, version)
	if q, version = s.revise(q.Id, version); !q.ReadyToIssue {
		t.Errorf("revised, and the answer is gone: %+v", q.NotReady)
	}
	back := object{"van": 1, "check": "berths_for_seats"}
	for _, role := range []auth.Role{auth.Sales, auth.Workshop, auth.Books} {
		s.do(role, http.MethodPost, path+"/answers/withdraw", version, back).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	}
	g := s.do(auth.Owner, http.MethodPost, path+"/answers/withdraw", version, back)
	g.into(t, http.StatusOK, &q)
	version = g.header.Get("Etag")
	if got := strings.Join(stands(q.NotReady), ", "); got != "check_waits_for_owner berths_for_seats" {
		t.Errorf("taken back, and in the way is: %s", got)
	}
	s.do(auth.Owner, http.MethodPost, path+"/answers/withdraw", version, back).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
	s.do(auth.Owner, http.MethodPost, path+"/answers", version, answer).into(t, http.StatusOK, &q)
	put(func(body map[string]any) {
		light()(body)
		body["vans"].([]any)[0].(map[string]any)["van"] = object{"base_van": "long_panel_van"}
	})
	if q.ReadyToIssue {
		t.Error("another van, and the answer stays")
	}
}

// TestAnswersGoWithTheirCheck: when the catalogue asks a check no more, its
// answer does not keep a draft from being changed.
func TestAnswersGoWithTheirCheck(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(func(body map[string]any) {
		tooHeavy(body)
		body["vans"].([]any)[0].(map[string]any)["van"] = object{"base_van": "short_panel_van"}
	})
	path := "/v1/quotes/" + q.Id
	g := s.do(auth.Owner, http.MethodPost, path+"/answers", version, object{"van": 1, "check": "berths_for_seats", "kind": "going on", "limit": "2", "says": why})
	g.into(t, http.StatusOK, &q)
	catalogue := documentExample(t, "/v1/releases")
	catalogue["checks"] = slices.DeleteFunc(catalogue["checks"].([]any), func(c any) bool { return c.(map[string]any)["code"] == "berths_for_seats" })
	s.post(t, "/v1/releases", catalogue).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	p := s.do(auth.Sales, http.MethodPost, path+"/issue", g.header.Get("Etag"), object{}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/vans/0/choices/answers/0/check" {
		t.Errorf("%+v", p.Errors)
	}
	var content object
	s.do(auth.Sales, http.MethodGet, path+"/content", "", nil).into(t, http.StatusOK, &content)
	s.do(auth.Sales, http.MethodPut, path, g.header.Get("Etag"), content).into(t, http.StatusOK, &q)
	if !q.ReadyToIssue {
		t.Errorf("in the way: %+v", q.NotReady)
	}
}
