package apitest

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
)

// pigeonholes are features and rules made to take for ever: so many pigeons,
// each in one of too few holes, no two together, once the gate is open. Search
// time for it grows beyond any bound (Haken, "The intractability of
// resolution", 1985).
func pigeonholes(pigeons, holes int) document.File {
	var groups, features, rules strings.Builder
	fmt.Fprintln(&groups, "format: wainscot-catalogue/1\ngroups:\n  - {code: pigeonry, name: Pigeonry, stage: wiring, pick: any}")
	fmt.Fprintln(&features, "features:\n  - {code: gate, name: Gate, group: pigeonry}")
	fmt.Fprintln(&rules, "rules:")
	for p := range pigeons {
		fmt.Fprintf(&groups, "  - {code: pigeon_%d, name: Pigeon %d, stage: wiring, pick: at most one}\n", p, p)
		var holesOf []string
		for h := range holes {
			fmt.Fprintf(&features, "  - {code: p%d_h%d, name: Pigeon %d in hole %d, group: pigeon_%d}\n", p, h, p, h, p)
			holesOf = append(holesOf, fmt.Sprintf("p%d_h%d", p, h))
		}
		fmt.Fprintf(&rules, "  - {code: pigeon_%d_somewhere, if: gate, needs: '%s', says: Each pigeon has a hole.}\n", p, strings.Join(holesOf, " || "))
	}
	for h := range holes {
		for p := range pigeons {
			for o := range p {
				fmt.Fprintf(&rules, "  - {code: hole_%d_%d_%d, if: p%d_h%d, clashes: p%d_h%d, says: One pigeon a hole.}\n", h, o, p, o, h, p, h)
			}
		}
	}
	return document.File{Name: "pigeonholes.yaml", Data: []byte(groups.String() + features.String() + rules.String())}
}

// publishPigeonholes publishes a catalogue with pigeonholes in it, past what
// publishing over the API would have proved, and an edition that prices it.
func (w *world) publishPigeonholes(t *testing.T, pigeons int) {
	t.Helper()
	files, err := demoFiles("demo/catalogue")
	if err != nil {
		t.Fatal(err)
	}
	read, _, faults := catalogue.Decode(append(files, pigeonholes(pigeons, pigeons-1)))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	release, faults := bom.Compile(read)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if files, err = demoFiles("demo/pricebook"); err != nil {
		t.Fatal(err)
	}
	book, _, faults := pricebook.Decode(files[len(files)-1:])
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	book.Code, book.InForceFrom = "pigeons", "2026-11-01"
	for _, f := range read.Features {
		if strings.HasPrefix(f.Group, "pigeon") {
			book.Prices = append(book.Prices, pricebook.Price{Feature: f.Code, How: pricebook.BuiltUp})
		}
	}
	edition, faults := pricebook.Compile(read, book)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	as := w.Store.As(w.Ours.Principal[auth.Owner])
	if _, err := api.PublishRelease(t.Context(), as, release); err != nil {
		t.Fatal(err)
	}
	if _, err := api.AddEdition(t.Context(), as, edition); err != nil {
		t.Fatal(err)
	}
}

// TestHostileRulesEnd asks a catalogue that nobody can decide: whatever is
// asked of it is answered, and what is asked beside it is answered well.
func TestHostileRulesEnd(t *testing.T) {
	w := newWorld(t)
	w.publishPigeonholes(t, 14)
	van := map[string]any{"base_van": "short_panel_van"}
	with := func(field string, value any, features ...map[string]any) map[string]any {
		body := map[string]any{"van": van, "choices": map[string]any{"features": features}}
		if field != "" {
			body[field] = value
		}
		return body
	}
	want := func(code string) map[string]any { return map[string]any{"want": code} }
	ask := func(path string, body any) got {
		return w.exchange(t, call{method: http.MethodPost, path: path, of: w.Ours, role: auth.Sales, body: body})
	}
	kind, gate := want("whole_conversion"), want("gate")
	for _, hard := range []struct {
		path string
		body map[string]any
	}{
		{"/v1/resolve", with("", nil, kind, gate)},
		{"/v1/resolve", with("settle", "by defaults", kind, gate)},
		{"/v1/reasons", with("about", []any{map[string]any{"feature": "gate"}}, kind, gate)},
		{"/v1/conflicts", with("", nil, kind, gate)},
		{"/v1/ways-out", with("", nil, kind, gate)},
		{"/v1/ways-out", with("wish", gate, kind)},
		{"/v1/changes", with("", nil, kind, gate)},
		{"/v1/settle", with("how", "cheaply", kind, gate)},
		{"/v1/settle", with("how", "by defaults", kind, gate)},
	} {
		t.Run(strings.TrimPrefix(hard.path, "/v1/"), func(t *testing.T) {
			ask(hard.path, hard.body).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTooHard)
		})
	}
	// What one question spent is not missing from the next.
	shut := map[string]any{"refuse": "gate"}
	for _, easy := range []struct {
		path string
		body map[string]any
	}{
		{"/v1/resolve", with("settle", "by defaults", kind, shut)},
		{"/v1/reasons", with("about", []any{map[string]any{"feature": "gate"}}, kind, shut)},
		{"/v1/conflicts", with("", nil, kind, shut, want("hob_sink"), want("sink_round"))},
		{"/v1/ways-out", with("wish", want("sink_round"), kind, shut, want("hob_sink"))},
		{"/v1/changes", with("", nil, kind, shut)},
		{"/v1/settle", with("how", "lightly", kind, shut)},
		{"/v1/settle", with("how", "cheaply", kind, shut)},
	} {
		if g := ask(easy.path, easy.body); g.status != http.StatusOK {
			t.Errorf("%s with the gate shut: %d %s", easy.path, g.status, g.body)
		}
	}
}

// TestHardReasonsAreTold: of nine pigeons it can be decided that they find no
// holes, and not which of all those rules could be left out. So the reason is
// told whole, however often it is asked for.
func TestHardReasonsAreTold(t *testing.T) {
	w := newWorld(t)
	w.publishPigeonholes(t, 9)
	kind := openapi.Choice{Want: "whole_conversion"}
	choices := openapi.Choices{Features: []openapi.Choice{kind}}
	about := slices.Repeat([]openapi.ReasonAbout{{Feature: "gate"}}, 60)
	told := post[openapi.Reasons](t, w, auth.Sales, "/v1/reasons", openapi.ReasonsRequest{Van: shortVan, Choices: choices, About: about})
	for _, reason := range told.Reasons {
		if reason.Standing != openapi.StandingRuledOut || reason.Why.Minimal || len(reason.Why.Causes) < 9 {
			t.Fatalf("%+v", reason)
		}
	}
	out := post[openapi.WaysOut](t, w, auth.Sales, "/v1/ways-out", openapi.WaysOutRequest{Van: shortVan, Choices: choices, Wish: openapi.OneChoice{Want: "gate"}})
	if out.Blocked != openapi.WaysOutBlockedRules || out.Why.Minimal || len(out.Why.Causes) < 9 {
		t.Errorf("%+v", out)
	}
	choices.Features = append(choices.Features, openapi.Choice{Want: "gate"})
	found := post[openapi.Conflicts](t, w, auth.Sales, "/v1/conflicts", openapi.ConflictsRequest{Van: shortVan, Choices: choices})
	if len(found.Conflicts) != 1 || !slices.Equal(found.Conflicts[0].Choices, []string{"/choices/features/1"}) || found.Conflicts[0].Why.Minimal {
		t.Errorf("%+v", found)
	}
}
