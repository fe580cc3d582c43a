package apitest

import (
	"fmt"
	"net/http"
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
