package apitest

import (
	"net/http"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestSettledChoicesAreSettled sends completed choices as they stand to
// /v1/resolve and into a quote: nothing is left to settle, and they come to
// what was said; cheaply to no more than by defaults, lightly to no more mass.
func TestSettledChoicesAreSettled(t *testing.T) {
	w := newWorld(t)
	features := func(codes ...string) (c openapi.Choices) {
		for _, code := range codes {
			c.Features = append(c.Features, openapi.Choice{Want: code})
		}
		return c
	}
	for _, test := range []struct {
		name    string
		choices openapi.Choices
		terms   openapi.Terms
		proved  bool
	}{
		{"a roof", features("roof_only"), openapi.Terms{}, true},
		{"windows at the trade's prices", features("windows_only"), openapi.Terms{Basis: openapi.BasisNet, PriceList: "trade", DiscountPercent: "1"}, true},
		{"much is open", features("whole_conversion", "roof_high"), openapi.Terms{}, false},
		{"a package", openapi.Choices{Package: "touring", Features: []openapi.Choice{}}, openapi.Terms{}, false},
		{"choices that clash", clashing(), openapi.Terms{}, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			after := map[openapi.SettleHow]openapi.Totals{}
			for _, how := range []openapi.SettleHow{openapi.SettleHowByDefaults, openapi.SettleHowCheaply, openapi.SettleHowLightly} {
				asked := openapi.SettleRequest{Van: shortVan, Choices: test.choices, Terms: test.terms, How: how}
				out := post[openapi.SettledChoices](t, w, auth.Owner, "/v1/settle", asked)
				w.holdSettled(t, asked, &out)
				after[how] = out.After
				if (out.Verdict == "") != (how == openapi.SettleHowByDefaults) || (out.Steps == 0) != (out.Verdict == "") {
					t.Errorf("%s: %q after %d steps", how, out.Verdict, out.Steps)
				}
				if test.proved && how != openapi.SettleHowByDefaults && out.Verdict != openapi.SettledChoicesVerdictProved {
					t.Errorf("%s: %s", how, out.Verdict)
				}
				unpriced := post[openapi.SettledChoices](t, w, auth.Workshop, "/v1/settle", asked)
				if unpriced.After.Gross != (openapi.Money{}) || unpriced.Before.Net != (openapi.Money{}) || unpriced.After.Mass != out.After.Mass {
					t.Errorf("to the workshop: %+v", unpriced.After)
				}
			}
			byDefaults := after[openapi.SettleHowByDefaults]
			if got, most := after[openapi.SettleHowCheaply].Gross.Amount, byDefaults.Gross.Amount; number(got).GreaterThan(number(most)) {
				t.Errorf("cheaply %s, by defaults %s", got, most)
			}
			if got, most := after[openapi.SettleHowLightly].Mass.AddedKg, byDefaults.Mass.AddedKg; number(got).GreaterThan(number(most)) {
				t.Errorf("lightly %s kg, by defaults %s kg", got, most)
			}
		})
	}
}

func number(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func (w *world) holdSettled(t *testing.T, asked openapi.SettleRequest, out *openapi.SettledChoices) {
	t.Helper()
	resolve := func(c openapi.Choices) openapi.Resolution {
		return post[openapi.Resolution](t, w, auth.Owner, "/v1/resolve",
			openapi.ResolveRequest{Van: asked.Van, Choices: c, Terms: asked.Terms, Settle: openapi.SettleNothing})
	}
	before, after := resolve(asked.Choices), resolve(out.Choices)
	if !after.Settled || !out.Settled || after.Allowed != out.Allowed || after.Allowed != before.Allowed || after.ReadyToIssue != out.ReadyToIssue {
		t.Errorf("%s: settled %v, allowed %v, before %v", asked.How, after.Settled, after.Allowed, before.Allowed)
	}
	if before.Totals != out.Before || after.Totals != out.After {
		t.Errorf("%s: %+v and %+v,\nresolved %+v and %+v", asked.How, out.Before, out.After, before.Totals, after.Totals)
	}
	there := map[string]int32{}
	for _, o := range after.Options {
		if o.Standing != openapi.StandingOpen && o.Standing != openapi.StandingRuledOut {
			there[o.Feature] = o.Least
		}
	}
	for _, o := range before.Options {
		if o.Standing != openapi.StandingOpen && o.Standing != openapi.StandingRuledOut {
			there[o.Feature] -= o.Least
		}
	}
	for _, a := range out.Added {
		if a.Feature != "" && there[a.Feature] != a.Count || a.Why == "" || a.Name == "" {
			t.Errorf("%s: %+v is told, and there are %d more", asked.How, a, there[a.Feature])
		}
		delete(there, a.Feature)
	}
	for feature, n := range there {
		if n != 0 {
			t.Errorf("%s: %s is there and is not told", asked.How, feature)
		}
	}
	if !out.Allowed {
		return // a quote takes no choices that are put aside
	}
	content := openapi.QuoteContent{Vans: []openapi.QuoteVanContent{{Van: asked.Van, Choices: out.Choices, Settle: openapi.SettleNothing}}}
	if g := w.exchange(t, call{method: http.MethodPost, path: "/v1/quotes", of: w.Ours, role: auth.Sales, body: content}); g.status != http.StatusCreated {
		t.Errorf("%s: no quote comes of it: %d %s", asked.How, g.status, g.body)
	}
}

// TestSettleIsStrict: what is asked is read as strictly as by /v1/resolve.
func TestSettleIsStrict(t *testing.T) {
	w := newWorld(t)
	ask := func(asked openapi.SettleRequest) got {
		return w.exchange(t, call{method: http.MethodPost, path: "/v1/settle", of: w.Ours, role: auth.Sales, body: asked})
	}
	for _, how := range []openapi.SettleHow{openapi.SettleHowByDefaults, openapi.SettleHowCheaply, openapi.SettleHowLightly} {
		unknown := openapi.Choices{Features: []openapi.Choice{{Want: "hob_tow"}}}
		p := ask(openapi.SettleRequest{Van: shortVan, Choices: unknown, How: how}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
		if len(p.Errors) != 1 || p.Errors[0].Field != "/choices/features/0/want" {
			t.Errorf("%s: %+v", how, p.Errors)
		}
		p = ask(openapi.SettleRequest{Van: shortVan, Choices: clashing(), How: how, Terms: openapi.Terms{PriceList: "tarde"}}).
			want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
		if len(p.Errors) != 1 || p.Errors[0].Field != "/terms/price_list" {
			t.Errorf("%s: %+v", how, p.Errors)
		}
	}
}
