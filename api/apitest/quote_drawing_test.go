package apitest

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// withOverhang publishes the demo's catalogue with or without the measure that
// a drawing needs and nothing else does.
func (s seller) withOverhang(mm int) {
	s.t.Helper()
	catalogue := documentExample(s.t, "/v1/releases")
	for _, v := range catalogue["base_vans"].([]any) {
		facts := v.(map[string]any)["facts"].(map[string]any)
		delete(facts, "front_overhang_mm")
		if mm != 0 {
			facts["front_overhang_mm"] = mm
		}
	}
	catalogue["title"] = fmt.Sprint("With an overhang of ", mm)
	s.post(s.t, "/v1/releases", catalogue).into(s.t, http.StatusCreated, new(openapi.ReleaseEntry))
}

// TestVanIsDrawn for everybody, draft and issued, without a word of money; and
// where it cannot be the answer says why.
func TestVanIsDrawn(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.withOverhang(900)
	q, version := s.create(nil)
	path := "/v1/quotes/" + q.Id + "/revisions/1/vans/1/masses.svg"
	for _, state := range []string{"draft", "issued"} {
		if state == "issued" {
			s.issue(q.Id, version)
		}
		for _, role := range []auth.Role{auth.Owner, auth.Sales, auth.Workshop, auth.Books} {
			g := s.do(role, http.MethodGet, path, "", nil)
			text := string(g.body)
			if g.status != http.StatusOK || g.header.Get("Content-Type") != "image/svg+xml" || !strings.HasPrefix(text, "<svg ") || strings.Contains(text, "GBP") ||
				!strings.Contains(text, "only a weighbridge tells") || !strings.HasPrefix(g.header.Get("Content-Security-Policy"), "default-src 'none'") {
				t.Errorf("%s for %s: %d %v %.200s", state, role, g.status, g.header, text)
			}
			if name := g.header.Get("Content-Disposition"); !strings.Contains(name, "masses-1-revision-1-van-1.svg") {
				t.Errorf("it is named %s", name)
			}
		}
	}
	s.do(auth.Workshop, http.MethodGet, strings.Replace(path, "vans/1", "vans/2", 1), "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	// A measure that no van has is the catalogue's fault, and no fault of ours.
	for mm, says := range map[int]string{0: "does not state front_overhang_mm", 3000: "cannot be drawn on a van"} {
		s.withOverhang(mm)
		q, _ := s.create(nil)
		p := s.do(auth.Sales, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions/1/vans/1/masses.svg", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
		if !strings.Contains(p.Detail, says) || p.Remedy == "" {
			t.Errorf("overhang %d: %+v", mm, p)
		}
	}
}

// TestAdditionSitsSomewhere: an addition's mass counts on the axles where it is
// said to sit, comes back as it was said, and a place that there is not is
// refused by its field.
func TestAdditionSitsSomewhere(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	at := func(position string) func(map[string]any) {
		return func(body map[string]any) {
			addition := object{
				"code": "bicycle_rack", "kind": "one-off", "words": "A rack for bicycles", "stage": "handover", "mass_kg": "40",
				"price": object{"amount": "120.00", "currency": "GBP"},
			}
			if position != "" {
				addition["position"] = position
			}
			body["vans"].([]any)[0].(map[string]any)["additions"] = []any{addition}
		}
	}
	rear := map[string]float64{}
	for _, position := range []string{"", "cab", "tail"} {
		q, _ := s.create(at(position))
		shown := s.quote(q.Id)
		if got := shown.Vans[0].Additions[0].Position; got != position {
			t.Errorf("at %q comes back at %q", position, got)
		}
		kg, err := strconv.ParseFloat(shown.Vans[0].Totals.Mass.After.RearKg, 64)
		if err != nil {
			t.Fatal(err)
		}
		rear[position] = kg
	}
	if rear["cab"] >= rear[""] || rear[""] >= rear["tail"] {
		t.Errorf("the rear axle bears %v", rear)
	}
	body := w.example(t, http.MethodPost, "/v1/quotes")
	at("mast")(body)
	p := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", body).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/vans/0/additions/0/position" || p.Errors[0].Remedy == "" {
		t.Errorf("%+v", p.Errors)
	}
}
