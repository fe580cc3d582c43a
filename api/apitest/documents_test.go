package apitest

import (
	"bytes"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// clone of a document, to be changed.
func clone(t testing.TB, document object) object {
	t.Helper()
	text, err := json.Marshal(document)
	if err != nil {
		t.Fatal(err)
	}
	var copied object
	if err := json.Unmarshal(text, &copied); err != nil {
		t.Fatal(err)
	}
	return copied
}

func (w *world) post(t testing.TB, path string, body any) got {
	t.Helper()
	return w.exchange(t, call{method: http.MethodPost, path: path, of: w.Ours, role: auth.Owner, body: body})
}

// TestReleases publishes catalogues: whole ones, with faults, and one that the
// prices do not fit.
func TestReleases(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	catalogue := documentExample(t, "/v1/releases")
	var tried, kept openapi.ReleaseEntry
	w.post(t, "/v1/releases?try=true", catalogue).into(t, http.StatusCreated, &tried)
	if list := seen[openapi.Releases](t, w, us, "/v1/releases"); len(list.Releases) != 1 || tried.Number != 0 || tried.Hash == "" {
		t.Errorf("tried %+v, and there are %+v", tried, list.Releases)
	}
	catalogue["title"] = "Autumn"
	g := w.post(t, "/v1/releases", catalogue)
	g.into(t, http.StatusCreated, &kept)
	if kept.Number != 2 || kept.Hash == tried.Hash || g.header.Get("Location") != "/v1/releases/2/catalogue" {
		t.Errorf("published %+v at %s", kept, g.header.Get("Location"))
	}
	if vans := seen[openapi.BaseVans](t, w, us, "/v1/base-vans"); vans.Release.Number != 2 || vans.Release.Title != "Autumn" {
		t.Errorf("offered is %+v", vans.Release)
	}
	if got := seen[object](t, w, us, "/v1/releases/2/catalogue"); got["title"] != "Autumn" || len(got["parts"].([]any)) != len(catalogue["parts"].([]any)) {
		t.Errorf("read back %v", got["title"])
	}
	if list := seen[openapi.Releases](t, w, us, "/v1/releases?before=2&limit=1"); len(list.Releases) != 1 || list.Releases[0].Number != 1 {
		t.Errorf("before 2: %+v", list)
	}
	// All faults at once, each with a pointer into the body.
	broken := clone(t, catalogue)
	features := broken["features"].([]any)
	features[3].(object)["group"] = "no_such_group"
	features[5].(object)["colour"] = "red"
	delete(broken, "title")
	p := w.post(t, "/v1/releases", broken).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
	var fields []string
	for _, e := range p.Errors {
		fields = append(fields, e.Field)
	}
	for _, want := range []string{"/features/3/group", "/features/5/colour", "/title"} {
		if !slices.Contains(fields, want) && !strings.Contains(strings.Join(fields, " "), want) {
			t.Errorf("%s is not among %q", want, fields)
		}
	}
	for what, text := range map[string]string{
		"no JSON": `{"format":`, "two": `{} {}`, "a list": `[]`, "a name twice": `{"format":"wainscot-catalogue/1","title":"a","title":"b"}`, "nothing": ``,
		"not UTF-8": "{\"format\":\"\xff\"}",
	} {
		p := w.exchange(t, call{method: http.MethodPost, path: "/v1/releases", of: us, role: auth.Owner, body: []byte(text), broken: true}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
		if len(p.Errors) == 0 {
			t.Errorf("%s: no fault is named", what)
		}
	}
	w.exchange(t, call{method: http.MethodPost, path: "/v1/releases", of: us, role: auth.Owner, body: bytes.Repeat([]byte(" "), 8<<20+1), broken: true}).want(t, http.StatusRequestEntityTooLarge, openapi.ProblemCodeBodyTooLarge)
	// A catalogue that the edition in force does not fit.
	short := clone(t, catalogue)
	trades := short["trades"].([]any)
	short["trades"] = append(trades, object{"code": "sailmaker", "name": "Sailmaker"})
	w.post(t, "/v1/releases?try=true", short).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
	if list := seen[openapi.Releases](t, w, us, "/v1/releases"); len(list.Releases) != 2 {
		t.Errorf("what was refused was published: %+v", list.Releases)
	}
}

// TestEditions adds editions; one that is there never changes.
func TestEditions(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	edition := documentExample(t, "/v1/editions")
	w.post(t, "/v1/editions?try=true", edition).into(t, http.StatusCreated, new(openapi.EditionEntry))
	if list := seen[openapi.Editions](t, w, us, "/v1/editions"); len(list.Editions) != 2 {
		t.Errorf("trying stored: %+v", list)
	}
	var kept openapi.EditionEntry
	g := w.post(t, "/v1/editions", edition)
	g.into(t, http.StatusCreated, &kept)
	if kept.Code != "2026-12" || kept.InForceFrom != "2026-12-01" || g.header.Get("Location") != "/v1/editions/2026-12/pricebook" {
		t.Errorf("added %+v", kept)
	}
	if got := seen[object](t, w, us, "/v1/editions/2026-12/pricebook"); got["edition"] != "2026-12" {
		t.Errorf("read back %v", got["edition"])
	}
	list := seen[openapi.Editions](t, w, us, "/v1/editions?before=2026-12-01&limit=1")
	if len(list.Editions) != 1 || list.Editions[0].Code != "2026-10" {
		t.Errorf("before it: %+v", list)
	}
	for field, change := range map[string]func(object){
		"/edition":       func(e object) { e["in_force_from"] = "2026-12-05" },
		"/in_force_from": func(e object) { e["edition"] = "2026-12b" },
	} {
		again := clone(t, edition)
		change(again)
		for _, path := range []string{"/v1/editions", "/v1/editions?try=true"} {
			p := w.post(t, path, again).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
			if len(p.Errors) != 1 || p.Errors[0].Field != field {
				t.Errorf("%s: %+v", field, p.Errors)
			}
		}
	}
	broken := clone(t, edition)
	broken["edition"], broken["in_force_from"], broken["currency"] = "2026-12c", "2026-12-20", "pounds"
	w.post(t, "/v1/editions", broken).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
	w.exchange(t, call{method: http.MethodGet, path: "/v1/editions/none/pricebook", of: us, role: auth.Owner}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	w.exchange(t, call{method: http.MethodGet, path: "/v1/editions/2026-12/pricebook", of: w.Theirs, role: auth.Owner}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
}
