package apitest

import (
	"net/http"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// withStage publishes the demo's catalogue with one stage more, and gives what
// publishes it without again.
func (s seller) withStage(code string) (without func()) {
	s.t.Helper()
	catalogue := documentExample(s.t, "/v1/releases")
	more := clone(s.t, catalogue)
	stages := more["stages"].([]any)
	more["stages"] = append(stages, object{"code": code, "name": "Sail loft"})
	s.post(s.t, "/v1/releases", more).into(s.t, http.StatusCreated, new(openapi.ReleaseEntry))
	catalogue["title"] = "Without the sail loft"
	return func() {
		s.t.Helper()
		s.post(s.t, "/v1/releases", catalogue).into(s.t, http.StatusCreated, new(openapi.ReleaseEntry))
	}
}

// awning is work that is done in a stage, and touches what waits for the
// foreman.
func awning(stage string) object {
	return object{
		"code": "sail_rail", "kind": "one-off", "words": "A rail for a sail", "stage": stage, "mass_kg": "1.50", "touches": []any{"structure"},
		"price": object{"amount": "120.00", "currency": "GBP"}, "hours": []any{object{"trade": "fitter", "hours": "1.50"}},
	}
}

// TestWayOutOfAnUnfitQuote: a draft and an issued quote that are not of what
// the workshop offers any more say so, naming the field; what they ask for can
// be read, mended and sent.
func TestWayOutOfAnUnfitQuote(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	without := s.withStage("sail_loft")
	asked := func(body map[string]any) {
		van := body["vans"].([]any)[0].(map[string]any)
		van["additions"] = []any{awning("sail_loft")}
		body["note"], body["follow_up_on"] = "rings at noon", "2026-12-01"
	}
	draft, draftVersion := s.create(asked)
	offered, version := s.create(asked)
	g := s.do(auth.Workshop, http.MethodPost, "/v1/quotes/"+offered.Id+"/approvals", version, object{"van": 1, "addition": "sail_rail"})
	g.into(t, http.StatusOK, &offered)
	_, version = s.issue(offered.Id, g.header.Get("Etag"))
	without()

	for _, c := range []struct {
		role         auth.Role
		method, path string
		version      string
		body         any
	}{
		{auth.Sales, http.MethodGet, draft.Id, "", nil},
		{auth.Workshop, http.MethodPost, draft.Id + "/approvals", draftVersion, object{"van": 1, "addition": "sail_rail"}},
		{auth.Sales, http.MethodPost, draft.Id + "/issue", draftVersion, object{}},
		{auth.Sales, http.MethodPost, offered.Id + "/revise", version, nil},
	} {
		p := s.do(c.role, c.method, "/v1/quotes/"+c.path, c.version, c.body).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
		if len(p.Errors) != 1 || p.Errors[0].Field != "/vans/0/additions/0/stage" {
			t.Errorf("%s %s: %+v", c.method, c.path, p)
		}
	}
	// What is offered is as it was.
	if now := s.quote(offered.Id); now.State != openapi.QuoteStateIssued || now.Vans[0].Additions[0].Stage != "sail_loft" {
		t.Errorf("what is offered: %+v", now)
	}

	mended := func(id string) (object, string) {
		t.Helper()
		g := s.do(auth.Sales, http.MethodGet, "/v1/quotes/"+id+"/content", "", nil)
		var content object
		g.into(t, http.StatusOK, &content)
		addition := content["vans"].([]any)[0].(object)["additions"].([]any)[0].(object)
		if addition["stage"] != "sail_loft" {
			t.Errorf("the content is %v", content)
		}
		addition["stage"] = "frame"
		return content, g.header.Get("Etag")
	}
	content, seen := mended(draft.Id)
	s.do(auth.Sales, http.MethodPut, "/v1/quotes/"+draft.Id, seen, content).into(t, http.StatusOK, &draft)
	content, seen = mended(offered.Id)
	g = s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+offered.Id+"/revisions", seen, content)
	g.into(t, http.StatusCreated, &offered)
	if offered.Revision != 2 || offered.State != openapi.QuoteStateDraft || offered.HeldEdition != "2026-10" {
		t.Errorf("begun: %+v", offered)
	}
	for _, q := range []openapi.QuoteKept{draft, offered} {
		now := s.quote(q.Id)
		if a := now.Vans[0].Additions[0]; a.Stage != "frame" || a.Approved || now.Note != "rings at noon" || now.FollowUpOn != "2026-12-01" || now.Vans[0].Van.Registration != "WT24 DMO" {
			t.Errorf("mended: %+v", now)
		}
	}
	s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+offered.Id+"/revisions", g.header.Get("Etag"), content).
		want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	w.verify(t, w.Ours)
}

// TestContentGoesThereAndBack: what a quote asks for, sent back as it was read,
// changes nothing: not the foreman's yes, and not a cost that an owner gave and
// a salesperson is not shown.
func TestContentGoesThereAndBack(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	keeper := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	kept := made[openapi.KeptVan](t, w, w.Ours, "/v1/vans", object{"customer": keeper.Id, "van": object{"base_van": "long_panel_van", "registration": "WT23 VAN"}})
	body := w.example(t, http.MethodPost, "/v1/quotes")
	body["vans"] = append(body["vans"].([]any), object{
		"van_id": kept.Id, "choices": object{"features": []any{object{"want": "whole_conversion"}}}, "settle": "by defaults",
	})
	addition := awning("frame")
	addition["cost"] = object{"amount": "33.00", "currency": "GBP"}
	body["vans"].([]any)[0].(object)["additions"] = []any{addition}
	body["customer"], body["note"], body["slot_wanted_on"] = keeper.Id, "rings at noon", "2027-02-15"
	body["terms"] = object{"day": "2026-11-26", "discount_percent": "1.5"}
	g := s.do(auth.Owner, http.MethodPost, "/v1/quotes", "", body)
	var q openapi.QuoteKept
	g.into(t, http.StatusCreated, &q)
	path := "/v1/quotes/" + q.Id
	g = s.do(auth.Workshop, http.MethodPost, path+"/approvals", g.header.Get("Etag"), object{"van": 1, "addition": "sail_rail"})
	g.into(t, http.StatusOK, &q)
	before := s.do(auth.Owner, http.MethodGet, path+"/content", "", nil)
	for _, role := range []auth.Role{auth.Sales, auth.Owner} {
		read := s.do(role, http.MethodGet, path+"/content", "", nil)
		var content object
		read.into(t, http.StatusOK, &content)
		s.do(role, http.MethodPut, path, read.header.Get("Etag"), content).into(t, http.StatusOK, &q)
		if !q.ReadyToIssue {
			t.Errorf("%s sent it back and it waits for %+v", role, q.NotReady)
		}
		after := s.do(auth.Owner, http.MethodGet, path+"/content", "", nil)
		if string(before.body) != string(after.body) {
			t.Errorf("%s sent back what was read, and it was\n%s\nand is\n%s", role, before.body, after.body)
		}
	}
	g = s.do(auth.Sales, http.MethodGet, path+"/content", "", nil)
	if text := string(g.body); strings.Contains(text, `"33.00"`) {
		t.Errorf("a salesperson is shown a cost: %s", text)
	}
	// Of what was issued too: a revision with it comes to the same.
	issued, _ := s.issue(q.Id, g.header.Get("Etag"))
	read := s.do(auth.Sales, http.MethodGet, path+"/content", "", nil)
	var content object
	read.into(t, http.StatusOK, &content)
	s.do(auth.Sales, http.MethodPost, path+"/revisions", read.header.Get("Etag"), content).into(t, http.StatusCreated, &q)
	if q.Totals != issued.Totals || !q.ReadyToIssue || q.Revision != 2 {
		t.Errorf("revised with the same: %+v\nissued: %+v", q, issued)
	}
	w.verify(t, w.Ours)
}
