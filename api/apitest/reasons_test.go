package apitest

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// clashing are the choices of the demo's file that clash, with a few others
// left out: what comes first holds when they are resolved.
func clashing() openapi.Choices {
	return openapi.Choices{
		Features: []openapi.Choice{
			{Want: "whole_conversion"}, {Want: "roof_elevating"}, {Want: "wardrobe"}, {Want: "win_rear_off_slide"}, {Want: "bed_slide"},
			{Refuse: "mains_hookup"}, {Want: "sockets_mains", Count: 2}, {Want: "hob_sink"}, {Want: "sink_round"}, {Want: "rear_ladder"},
		},
		Finishes: []openapi.FinishChoice{{Finish: "fabric", Choice: "hide"}},
	}
}

var shortVan = openapi.Van{BaseVan: "short_panel_van"}

// post asks and reads the answer.
func post[T any](t *testing.T, w *world, role auth.Role, path string, body any) T {
	t.Helper()
	var into T
	w.exchange(t, call{method: http.MethodPost, path: path, of: w.Ours, role: role, body: body}).into(t, http.StatusOK, &into)
	return into
}

// TestReasonsAreTold asks about everything that can be asked about.
func TestReasonsAreTold(t *testing.T) {
	w := newWorld(t)
	resolved := post[openapi.Resolution](t, w, auth.Sales, "/v1/resolve", openapi.ResolveRequest{Van: shortVan, Choices: clashing()})
	aside := resolved.PutAside[0].Choice
	asked := openapi.ReasonsRequest{Van: shortVan, Choices: clashing(), About: []openapi.ReasonAbout{
		{Feature: "sink_round"}, {Feature: "hob_two"}, {Feature: "strip_out_full"}, {Feature: "gas_alarm"}, {MostOf: "sockets_mains"},
		{PutAside: &aside}, {Setting: "van.steering", Value: "left"}, {Setting: "finish.fabric", Value: "hide"},
	}}
	told := post[openapi.Reasons](t, w, auth.Workshop, "/v1/reasons", asked)
	if !slices.Equal(told.Said, resolved.Said) {
		t.Errorf("said otherwise than in what choices come to: %v, %v", told.Said, resolved.Said)
	}
	for i, want := range []string{
		"ruled out: Chosen: the gas hob and sink in one. The hob with sink has its own sink. So the round steel sink cannot be had.",
		"ruled out: Chosen: the gas hob and sink in one. Only one can be had of: Hob. So the two-burner gas hob cannot be had.",
		"comes with it: Chosen: the whole conversion. A whole conversion starts with the strip-out and ends with the handover pack. So the strip-out of the load space comes with it.",
		"open: ",
		": ",
		": Chosen: the wardrobe. The wardrobe stands before the offside rear window; a sliding one could not be reached. So the sliding window, offside rear quarter cannot be had with it.",
		"ruled out: The van: steering right. There can be only one choice of steering. So steering left cannot be had.",
		"ruled out: Chosen: the slide bed. Hide creases where the slide bed's cushions fold. So fabric hide cannot be had.",
	} {
		reason := told.Reasons[i]
		if got := string(reason.Standing) + ": " + strings.Join(reason.Why.Sentences, " "); got != want {
			t.Errorf("%+v: %q, want %q", asked.About[i], got, want)
		}
		if reason.About.Feature != asked.About[i].Feature || len(reason.Why.Sentences) > 0 && !reason.Why.Minimal {
			t.Errorf("%+v: %+v", asked.About[i], reason)
		}
	}
	if why := told.Reasons[0].Why; len(why.Causes) != 1 || why.Causes[0].Code != "one_sink" || len(why.Choices) != 1 || told.Said[why.Choices[0]].Name != "hob_sink" {
		t.Errorf("%+v", why)
	}
	// What settling added is a reason like another.
	asked.Settle, asked.About = openapi.SettleByDefaults, nil
	settled := post[openapi.Resolution](t, w, auth.Sales, "/v1/resolve", openapi.ResolveRequest{Van: shortVan, Choices: clashing(), Settle: asked.Settle})
	for _, o := range settled.Options {
		asked.About = append(asked.About, openapi.ReasonAbout{Feature: o.Feature})
	}
	all := post[openapi.Reasons](t, w, auth.Sales, "/v1/reasons", asked)
	for i, reason := range all.Reasons {
		o := settled.Options[i]
		if reason.Standing != o.Standing || (len(reason.Why.Sentences) == 0) != (o.Standing == openapi.StandingOpen) {
			t.Errorf("%s stands as %s: %+v", o.Feature, o.Standing, reason)
		}
		if len(reason.Why.Causes)+len(reason.Why.Choices) > len(o.Why.Causes)+len(o.Why.Choices) {
			t.Errorf("%s: the minimal reason is longer than the valid one: %v, %v", o.Feature, reason.Why, o.Why)
		}
	}
}

// TestFaultsOfReasons: what is asked about is read as strictly as choices.
func TestFaultsOfReasons(t *testing.T) {
	w := newWorld(t)
	first := int32(0)
	ask := func(path string, body any) got {
		return w.exchange(t, call{method: http.MethodPost, path: path, of: w.Ours, role: auth.Sales, body: body})
	}
	var flood []openapi.ReasonAbout
	for range 500 {
		flood = append(flood, openapi.ReasonAbout{Feature: "hob_tow"})
	}
	for _, test := range []struct {
		name, path string
		body       any
		want       []string
	}{
		{"about", "/v1/reasons", openapi.ReasonsRequest{Van: shortVan, Choices: clashing(), About: []openapi.ReasonAbout{
			{Feature: "hob_two"}, {Feature: "hob_tow"}, {MostOf: "hob_tow"}, {Feature: "hob_two", MostOf: "hob_two"},
			{Setting: "van.staring", Value: "left"}, {Setting: "van.steering", Value: "lift"}, {PutAside: &first},
		}}, []string{
			"/about/1/feature unknown_code", "/about/2/most_of unknown_code", "/about/3 not_exactly_one",
			"/about/4/setting unknown_code", "/about/5/value unknown_value", "/about/6/put_aside not_put_aside",
		}},
		{"a flood", "/v1/reasons", openapi.ReasonsRequest{Van: shortVan, Choices: clashing(), About: flood}, nil},
		{"choices", "/v1/reasons", openapi.ReasonsRequest{Van: shortVan, Choices: openapi.Choices{Features: []openapi.Choice{{Want: "hob_tow"}}},
			About: []openapi.ReasonAbout{{Feature: "hob_two"}}}, []string{"/choices/features/0/want unknown_code"}},
		{"a van", "/v1/conflicts", openapi.ConflictsRequest{Van: openapi.Van{BaseVan: "short_van"}, Choices: clashing()}, []string{"/van/base_van unknown_code"}},
		{"a wish", "/v1/ways-out", openapi.WaysOutRequest{Van: shortVan, Choices: clashing(), Wish: openapi.OneChoice{Want: "hob_tow"}}, []string{"/wish/want unknown_code"}},
		{"a wish for a finish", "/v1/ways-out", openapi.WaysOutRequest{Van: shortVan, Choices: clashing(), Wish: openapi.OneChoice{Finish: "fabric"}}, []string{"/wish/choice missing_code"}},
		{"a count of nothing", "/v1/ways-out", openapi.WaysOutRequest{Van: shortVan, Choices: clashing(), Wish: openapi.OneChoice{Count: 2}}, []string{"/wish not_exactly_one"}},
		{"two wishes", "/v1/ways-out", openapi.WaysOutRequest{Van: shortVan, Choices: clashing(),
			Wish: openapi.OneChoice{Want: "hob_two", Finish: "fabric", Choice: "hide"}}, []string{"/wish not_exactly_one"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			var got []string
			p := ask(test.path, test.body).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
			for _, e := range p.Errors {
				got = append(got, e.Field+" "+e.Code)
			}
			if test.want != nil && !slices.Equal(got, test.want) {
				t.Errorf("got %q, want %q", got, test.want)
			}
			if len(got) == 0 || len(got) > 20 {
				t.Errorf("%d faults", len(got))
			}
		})
	}
	list := openapi.Terms{PriceList: "tarde"}
	ask("/v1/ways-out", openapi.WaysOutRequest{Van: shortVan, Choices: clashing(), Terms: list}).
		want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
}
