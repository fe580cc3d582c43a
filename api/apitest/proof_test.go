package apitest

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// publication is a body that publishes a catalogue with acknowledgements.
func publication(catalogue object, acknowledged ...any) object {
	return object{"format": "wainscot-publication/1", "catalogue": catalogue, "acknowledged": acknowledged}
}

func acknowledging(warning, reason string) object {
	return object{"warning": warning, "reason": reason}
}

// swearing is the demo's catalogue with a safety rule more.
func swearing(t testing.TB, ifs, holds string) object {
	t.Helper()
	catalogue := documentExample(t, "/v1/releases")
	rules := catalogue["safety_rules"].([]any)
	catalogue["safety_rules"] = append(rules, object{"code": "sworn", "if": ifs, "holds": holds, "says": "It is so."})
	return catalogue
}

// fieldOf is the error of a field.
func fieldOf(p openapi.Problem, field string) *openapi.FieldError {
	for i := range p.Errors {
		if p.Errors[i].Field == field {
			return &p.Errors[i]
		}
	}
	return nil
}

// TestPublishingIsProving: what the proof finds stops publishing, with choices
// that show it; asked for beforehand it is an answer, and nothing is kept.
func TestPublishingIsProving(t *testing.T) {
	w := newWorld(t)
	broken := swearing(t, "roof_elevating", "co_alarm")
	last := len(broken["safety_rules"].([]any)) - 1
	at := "/safety_rules/" + strconv.Itoa(last)
	for under, body := range map[string]object{"": broken, "/catalogue": publication(broken)} {
		for _, path := range []string{"/v1/releases", "/v1/releases?try=true"} {
			p := w.post(t, path, body).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
			e := fieldOf(p, under+at)
			if len(p.Errors) != 1 || e == nil || e.Code != "safety_broken" || e.Warning != "" || e.Reason == "" || e.Remedy == "" {
				t.Fatalf("%s: %+v", path, p.Errors)
			}
			shown := object{"van": e.Example.Van, "choices": e.Example.Choices, "include": []any{}}
			var r openapi.Resolution
			w.post(t, "/v1/resolve", shown).into(t, http.StatusOK, &r)
			there := func(code string) bool {
				return slices.ContainsFunc(r.Options, func(o openapi.Option) bool {
					return o.Feature == code && (o.Standing == "chosen" || o.Standing == "comes with it" || o.Standing == "already there")
				})
			}
			if !r.Allowed || !there("roof_elevating") || there("co_alarm") {
				t.Errorf("the example %+v does not show it", e.Example)
			}
		}
		var proof openapi.Proof
		w.post(t, "/v1/releases/proof", body).into(t, http.StatusOK, &proof)
		if proof.Publishable || proof.Kept || proof.Release != 0 || len(proof.BaseVans) != 3 || proof.Findings[0].Grade != "fault" || proof.Findings[0].At != "safety_rules/sworn" {
			t.Errorf("proved: %+v", proof.Findings)
		}
		if v := proof.BaseVans[0]; v.AtLeast || len(v.Specifications) < 20 || v.Specimens == 0 || v.Pairs == 0 {
			t.Errorf("%+v", v)
		}
		if s := proof.SafetyRules[last]; s.Code != "sworn" || len(s.BrokenOn) != 3 || len(s.HoldsOn) != 0 {
			t.Errorf("%+v", s)
		}
		if len(proof.Editions) != 1 || proof.Editions[0] != (openapi.ProofEdition{Edition: "2026-10", Day: "2026-11-25"}) {
			t.Errorf("prices of %+v", proof.Editions)
		}
	}
	if list := seen[openapi.Releases](t, w, w.Ours, "/v1/releases"); len(list.Releases) != 1 {
		t.Errorf("there are %+v", list.Releases)
	}
	w.verify(t, w.Ours)
}

// TestAcknowledgements: a warning stops publishing until somebody takes it upon
// themselves with a reason; that is kept with the release, told by the journal,
// and carried over while the warning is the same.
func TestAcknowledgements(t *testing.T) {
	w := newWorld(t)
	const key = "idle_safety_rule:safety_rules/sworn/if"
	const why = "The hob on bottled gas comes in spring."
	catalogue := swearing(t, "hob_one && !hob_one", "co_alarm")
	p := w.post(t, "/v1/releases", catalogue).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
	if len(p.Errors) != 1 || p.Errors[0].Warning != key || !strings.HasSuffix(p.Errors[0].Field, "/if") {
		t.Fatalf("%+v", p.Errors)
	}
	for name, c := range map[string]struct {
		body  object
		field string
		code  string
	}{
		"another":    {publication(catalogue, acknowledging(key+"f", why)), "/acknowledged/0/warning", "unknown_code"},
		"no reason":  {publication(catalogue, acknowledging(key, " ")), "/acknowledged/0/reason", "missing_value"},
		"twice":      {publication(catalogue, acknowledging(key, why), acknowledging(key, why)), "/acknowledged/1/warning", "given_twice"},
		"a colour":   {object{"format": "wainscot-publication/1", "catalogue": catalogue, "colour": "red"}, "/", "wrong_form"},
		"no list":    {object{"format": "wainscot-publication/1", "catalogue": catalogue, "acknowledged": "all"}, "/", "wrong_form"},
		"no content": {object{"format": "wainscot-publication/1"}, "/catalogue", "missing_value"},
		"a list":     {object{"format": "wainscot-publication/1", "catalogue": []any{}}, "/catalogue/", ""},
	} {
		for _, path := range []string{"/v1/releases", "/v1/releases/proof"} {
			p := w.exchange(t, call{method: http.MethodPost, path: path, of: w.Ours, role: auth.Owner, body: c.body, broken: true}).
				want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
			e := fieldOf(p, c.field)
			if e == nil || c.code != "" && e.Code != c.code {
				t.Errorf("%s, %s: %+v", name, path, p.Errors)
			}
		}
	}
	var draft openapi.Proof
	w.post(t, "/v1/releases/proof", publication(catalogue, acknowledging(key, why))).into(t, http.StatusOK, &draft)
	if a := draft.Acknowledged; !draft.Publishable || len(a) != 1 || a[0].Reason != why || a[0].CarriedOver || a[0].By != "" {
		t.Errorf("the draft's: %+v", draft)
	}
	before := len(w.journal(t))
	w.post(t, "/v1/releases", publication(catalogue, acknowledging(key, why))).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	var said []string
	for _, l := range w.journal(t)[before:] {
		said = append(said, l.Verb+" "+l.Noun+" "+l.Id)
	}
	if !slices.Equal(said, []string{"published release 2", "proved proof 2", "acknowledged acknowledgement 2/1"}) {
		t.Errorf("the journal says %q", said)
	}
	second := seen[openapi.Proof](t, w, w.Ours, "/v1/releases/2/proof")
	if a := second.Acknowledged; !second.Kept || second.Release != 2 || !second.Publishable || len(a) != 1 || a[0].Warning != key || a[0].Reason != why ||
		a[0].Says == "" || a[0].CarriedOver || a[0].By != w.Ours.Principal[auth.Owner].Person.String() || !a[0].At.Equal(second.ProvedAt) {
		t.Errorf("kept: %+v", second)
	}
	if f := second.Findings[0]; f.Key != key || !f.Acknowledged || f.Grade != "warning" {
		t.Errorf("%+v", f)
	}
	// The next release needs no word about it; a new word is taken.
	catalogue["title"] = "Autumn"
	w.post(t, "/v1/releases", catalogue).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	third := seen[openapi.Proof](t, w, w.Ours, "/v1/releases/3/proof")
	want := second.Acknowledged[0]
	want.CarriedOver = true
	if !slices.Equal(third.Acknowledged, []openapi.Acknowledgement{want}) {
		t.Errorf("carried over: %+v", third.Acknowledged)
	}
	w.post(t, "/v1/releases", publication(catalogue, acknowledging(key, "It came."))).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	if a := seen[openapi.Proof](t, w, w.Ours, "/v1/releases/4/proof").Acknowledged; len(a) != 1 || a[0].Reason != "It came." || a[0].CarriedOver || !a[0].At.After(want.At) {
		t.Errorf("a new word: %+v", a)
	}
	// Gone with its warning.
	w.post(t, "/v1/releases", documentExample(t, "/v1/releases")).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	if a := seen[openapi.Proof](t, w, w.Ours, "/v1/releases/5/proof").Acknowledged; len(a) != 0 {
		t.Errorf("after it was mended: %+v", a)
	}
	// Release 1 was published without a proof, and is proved when it is asked for.
	if first := seen[openapi.Proof](t, w, w.Ours, "/v1/releases/1/proof"); first.Kept || first.Release != 1 || !first.Publishable || first.ProvedBy != "" {
		t.Errorf("the first: %+v", first)
	}
	w.exchange(t, call{method: http.MethodGet, path: "/v1/releases/6/proof", of: w.Ours, role: auth.Owner}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	w.exchange(t, call{method: http.MethodGet, path: "/v1/releases/2/proof", of: w.Theirs, role: auth.Owner}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	w.verify(t, w.Ours)
}

// TestEditionIsProved: an edition with which something could not be sold is
// refused, and told by choices that show it.
func TestEditionIsProved(t *testing.T) {
	w := newWorld(t)
	edition := documentExample(t, "/v1/editions")
	costless := clone(t, edition)
	costless["in_force_from"] = "2026-11-10"
	for _, one := range costless["costs"].([]any) {
		if one.(object)["part"] == "panel_clip" {
			one.(object)["until"] = "2026-11-20"
		}
	}
	for _, path := range []string{"/v1/editions", "/v1/editions?try=true"} {
		p := w.post(t, path, costless).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
		if len(p.Errors) != 1 || p.Errors[0].Field != "catalogue/parts/panel_clip" || p.Errors[0].Code != "no_cost" || len(p.Errors[0].Example.Choices.Features) == 0 {
			t.Errorf("%s: %+v", path, p.Errors)
		}
	}
	// One that is overtaken already is asked for past days alone.
	costless["in_force_from"] = "2026-08-01"
	costless["edition"] = "2026-08"
	w.post(t, "/v1/editions", costless).into(t, http.StatusCreated, new(openapi.EditionEntry))
	w.post(t, "/v1/editions", edition).into(t, http.StatusCreated, new(openapi.EditionEntry))
	w.verify(t, w.Ours)
}

// journal is all of it.
func (w *world) journal(t testing.TB) []openapi.JournalLine {
	t.Helper()
	return seen[openapi.Journal](t, w, w.Ours, "/v1/journal?limit=100").Lines
}
