package apitest

import (
	"net/http"
	"slices"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestResolveTakesAdditions: what no feature stands for is in the price, hours
// and mass that choices come to, and on the way out of them.
func TestResolveTakesAdditions(t *testing.T) {
	w := newWorld(t)
	asked := openapi.ResolveRequest{Van: shortVan, Choices: openapi.Choices{Features: []openapi.Choice{{Want: "windows_only"}}}, Settle: openapi.SettleByDefaults}
	without := post[openapi.Resolution](t, w, auth.Sales, "/v1/resolve", asked)
	rack := openapi.Addition{
		Code: "board_rack", Kind: openapi.AdditionKindOneOff, Words: "Rack for two surfboards", Stage: "furniture", MassKg: "7.5",
		Hours: []openapi.AdditionHours{{Trade: "joiner", Hours: "5.5"}}, Price: openapi.Money{Amount: "640.00", Currency: "GBP"},
		Touches: []openapi.Caution{"structure"},
	}
	asked.Additions = []openapi.Addition{rack}
	with := post[openapi.Resolution](t, w, auth.Sales, "/v1/resolve", asked)
	more := func(of func(*openapi.Resolution) string) decimal.Decimal {
		return decimal.RequireFromString(of(&with)).Sub(decimal.RequireFromString(of(&without)))
	}
	if got := more(func(r *openapi.Resolution) string { return r.Totals.Gross.Amount }); !got.Equal(decimal.RequireFromString("640")) {
		t.Errorf("the price is %s more", got)
	}
	if got := more(func(r *openapi.Resolution) string { return r.Totals.Hours }); !got.Equal(decimal.RequireFromString("5.5")) {
		t.Errorf("the hours are %s more", got)
	}
	if got := more(func(r *openapi.Resolution) string { return r.Totals.Mass.AddedKg }); got.LessThan(decimal.RequireFromString("7.5")) { // what is used up at its stage comes on top
		t.Errorf("it weighs %s more", got)
	}
	if !slices.ContainsFunc(with.NotReady, func(n openapi.NotReady) bool { return n.Code == openapi.NotReadyCodeWaitsForForeman }) {
		t.Errorf("nobody waits for the foreman: %+v", with.NotReady)
	}
	ways := func(additions []openapi.Addition) openapi.WaysOut {
		return post[openapi.WaysOut](t, w, auth.Sales, "/v1/ways-out", openapi.WaysOutRequest{
			Van: shortVan, Choices: asked.Choices, Additions: additions, Wish: openapi.OneChoice{Want: "hob_two"}, Settle: asked.Settle,
		})
	}
	if got, want := ways(asked.Additions).Ways, ways(nil).Ways; len(got) != 1 || got[0].Says != want[0].Says || got[0].PriceChange != want[0].PriceChange {
		t.Errorf("with an addition that stays: %+v, without: %+v", got, want)
	}
	changes := post[openapi.Changes](t, w, auth.Sales, "/v1/changes", openapi.ChangesRequest{Van: shortVan, Choices: asked.Choices, Additions: asked.Additions, Settle: asked.Settle})
	if changes.Gross != with.Totals.Gross || changes.Hours != with.Totals.Hours {
		t.Errorf("changes begin at %v and %s h", changes.Gross, changes.Hours)
	}
	settled := post[openapi.SettledChoices](t, w, auth.Sales, "/v1/settle", openapi.SettleRequest{Van: shortVan, Choices: asked.Choices, Additions: asked.Additions, How: openapi.SettleHowByDefaults})
	if settled.After.Gross != with.Totals.Gross {
		t.Errorf("settled it is %v", settled.After.Gross)
	}

	wrong := rack
	wrong.Code, wrong.Stage = "rack", "furnitur"
	asked.Additions = []openapi.Addition{rack, wrong}
	p := w.exchange(t, call{method: http.MethodPost, path: "/v1/resolve", of: w.Ours, role: auth.Sales, body: asked}).
		want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/additions/1/stage" {
		t.Errorf("%+v", p.Errors)
	}
	wrong.Stage, wrong.Price.Currency = "furniture", "EUR"
	asked.Additions = []openapi.Addition{rack, wrong}
	p = w.exchange(t, call{method: http.MethodPost, path: "/v1/resolve", of: w.Ours, role: auth.Sales, body: asked}).
		want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/additions/1/price/currency" {
		t.Errorf("%+v", p.Errors)
	}
}
