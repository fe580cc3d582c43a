package apitest

import (
	"encoding/base64"
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// offered issues a quote and gives its address, its version and a yes to it.
func (s seller) offered(change func(object)) (path, version string, yes object) {
	s.t.Helper()
	q, version := s.create(change)
	_, version = s.issue(q.Id, version)
	return "/v1/quotes/" + q.Id, version, object{
		"by": "Wren Aldous", "how": "paper", "place": "away from the premises", "terms_sha256": s.quote(q.Id).TermsSha256,
	}
}

// TestAcceptanceIsRefused where it does not go with what is offered, by the
// field that does not, and the offer stands as it did.
func TestAcceptanceIsRefused(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	path, version, yes := s.offered(func(body object) {
		body["vans"].([]any)[0].(object)["extras"] = []any{object{"feature": "awning_rail"}, object{"feature": "awning_wind_out"}}
	})
	shown := func(e object) []any { return []any{object{"says": "The signed page.", "media_type": "text/plain"}, e} }
	tick := func(features ...string) []any {
		var list []any
		for _, f := range features {
			list = append(list, object{"van": 1, "feature": f})
		}
		return list
	}
	const terms, broken = openapi.ProblemCodeTermsRefused, openapi.ProblemCodeContractBroken
	for name, c := range map[string]struct {
		field string
		value any
		want  openapi.ProblemCode
		fault string // field and code
	}{
		"tomorrow":             {"on", "2026-11-26", terms, "/on too_late"},
		"before it was issued": {"on", "2026-11-24", terms, "/on too_early"},
		"other terms":          {"terms_sha256", strings.Repeat("0", 64), terms, "/terms_sha256 other_terms"},
		"not offered":          {"extras", tick("awning_rail", "tow_bar"), terms, "/extras/1/feature not_offered"},
		"one or the other":     {"extras", tick("awning_rail", "awning_wind_out"), terms, "/extras/0 do_not_go_together"},
		"no base64":            {"evidence", shown(object{"says": "A page.", "media_type": "text/plain", "content": "c2ln="}), broken, "/evidence/1/content wrong_form"},
		"of no type":           {"evidence", shown(object{"says": "A page.", "content": "c2lnbmVk"}), broken, "/evidence/1/media_type missing"},
		"another's hash": {"evidence", shown(object{"says": "A page.", "media_type": "text/plain", "content": "c2lnbmVk", "sha256": strings.Repeat("0", 64)}),
			broken, "/evidence/1/sha256 contradiction"},
	} {
		body := clone(t, yes)
		body[c.field] = c.value
		status := http.StatusUnprocessableEntity
		if c.want == broken {
			status = http.StatusBadRequest
		}
		p := s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, body).want(t, status, c.want)
		if len(p.Errors) != 1 || p.Errors[0].Field+" "+p.Errors[0].Code != c.fault {
			t.Errorf("%s: %+v", name, p.Errors)
		}
	}
	s.do(auth.Sales, http.MethodGet, path+"/acceptance", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	yes["extras"] = tick("awning_wind_out")
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).into(t, http.StatusCreated, new(openapi.Acceptance))
	w.verify(t, w.Ours)
}

// TestAcceptedOnADayThatIsOver: a yes on paper is recorded when it comes, and
// what follows from it goes by its own day. What it rests on comes back as it
// was given.
func TestAcceptedOnADayThatIsOver(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	path, version, yes := s.offered(nil)
	s.on("2026-11-30")
	page := []byte("signed")
	filed := quote.SHA256([]byte("another page"))
	yes["on"] = "2026-11-26"
	yes["express_request"] = "Please begin next week."
	yes["evidence"] = []any{
		object{"says": "The signed page.", "media_type": "text/plain", "content": base64.StdEncoding.EncodeToString(page), "sha256": quote.SHA256(page)},
		object{"says": "The other page, in the folder.", "sha256": filed},
	}
	var told, kept openapi.Acceptance
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).into(t, http.StatusCreated, &told)
	if told.On != "2026-11-26" || told.Cancellation.LastDay != "2026-12-10" || !told.Cancellation.WorkBeforeLastDay ||
		told.ExpressRequest != yes["express_request"] || told.TermsSha256 != yes["terms_sha256"] || told.Revision != 1 {
		t.Errorf("told %+v", told)
	}
	for _, e := range told.Evidence {
		if e.Content != "" {
			t.Errorf("the evidence goes back with the answer: %+v", e)
		}
	}
	s.do(auth.Books, http.MethodGet, path+"/acceptance", "", nil).into(t, http.StatusOK, &kept)
	want := []openapi.Evidence{
		{Says: "The signed page.", MediaType: "text/plain", Content: base64.StdEncoding.EncodeToString(page), Sha256: quote.SHA256(page)},
		{Says: "The other page, in the folder.", Sha256: filed},
	}
	if !slices.Equal(kept.Evidence, want) {
		t.Errorf("kept %+v", kept.Evidence)
	}
	reference, err := quote.Reference(int64(kept.Number), 1)
	if err != nil || !slices.Equal(kept.JobReferences, []string{reference}) || kept.Reference == reference {
		t.Errorf("the whole is paid under %s, the van under %v, which should be %s: %v", kept.Reference, kept.JobReferences, reference, err)
	}
	w.verify(t, w.Ours)
}

// TestAcceptanceFollowsTheSettings: how long whoever has bought is kept, both
// the dealer and who is behind them, and who may cancel until when.
func TestAcceptanceFollowsTheSettings(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	settings := w.example(t, http.MethodPut, "/v1/workshop")
	settings["keep_years"] = 9
	settings["cancellation_rights"] = []any{object{"country": "IE", "from": "2014-06-14", "days": 21, "cites": "a rule of ours"}}
	settings["country"] = "IE"
	w.put(t, w.Ours, "/v1/workshop", 1, settings).into(t, http.StatusOK, new(openapi.WorkshopSettings))
	dealer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", object{"kind": "trade", "name": "Marrick Motors"})
	buyer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	keptUntil := func(customer openapi.Customer) string {
		t.Helper()
		return seen[openapi.Customer](t, w, w.Ours, "/v1/customers/"+customer.Id).KeepUntil
	}
	for _, c := range []struct {
		day, name, customer, endCustomer string
		byLink                           bool
		lastDay                          string // to cancel; "" for no such right
		dealerUntil, buyerUntil          string // they are kept afterwards
	}{
		{"2026-11-26", "a dealer", dealer.Id, buyer.Id, false, "", "2035-11-26", "2035-11-26"},
		{"2026-11-27", "a dealer by link", dealer.Id, "", true, "", "2035-11-27", "2035-11-26"},
		{"2026-11-28", "a private customer by link", buyer.Id, "", true, "2026-12-19", "2035-11-27", "2035-11-28"},
		{"2026-11-29", "a private customer", buyer.Id, "", false, "2026-12-20", "2035-11-27", "2035-11-29"},
		{"2026-11-30", "somebody unnamed", "", "", false, "2026-12-21", "2035-11-27", "2035-11-29"},
	} {
		path, version, yes := s.offered(func(body object) {
			for field, id := range map[string]string{"customer": c.customer, "end_customer": c.endCustomer} {
				if id != "" {
					body[field] = id
				}
			}
		})
		s.on(c.day) // the day after it was issued
		if c.byLink {
			var link openapi.Link
			s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).into(t, http.StatusCreated, &link)
			w.exchange(t, call{of: w.Ours, method: http.MethodPost, path: "/v1/offered/" + link.Link + "/acceptance",
				body: object{"by": yes["by"], "agree": true, "terms_sha256": yes["terms_sha256"]}}).into(t, http.StatusCreated, new(openapi.OfferedAcceptance))
		} else {
			s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).into(t, http.StatusCreated, new(openapi.Acceptance))
		}
		var kept openapi.Acceptance
		s.do(auth.Books, http.MethodGet, path+"/acceptance", "", nil).into(t, http.StatusOK, &kept)
		if kept.On != c.day || kept.Cancellation.Applies != (c.lastDay != "") || kept.Cancellation.LastDay != c.lastDay {
			t.Errorf("%s on %s may cancel: %+v", c.name, kept.On, kept.Cancellation)
		}
		if d, b := keptUntil(dealer), keptUntil(buyer); d != c.dealerUntil || b != c.buyerUntil {
			t.Errorf("after %s said yes, the dealer is kept until %s and the buyer until %s", c.name, d, b)
		}
	}
	w.verify(t, w.Ours)
}

// TestAcceptedByLink: what a customer ticks and asks for by the link is what is
// agreed, and the link shows that from then on.
func TestAcceptedByLink(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	path, version, yes := s.offered(nil)
	var link openapi.Link
	s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).into(t, http.StatusCreated, &link)
	public := func(method, rest string, body any) got {
		t.Helper()
		return w.exchange(t, call{of: w.Ours, method: method, path: "/v1/offered/" + link.Link + rest, body: body})
	}
	var offer, agreed openapi.Offered
	public(http.MethodGet, "", nil).into(t, http.StatusOK, &offer)
	if c := offer.Cancellation; !c.Applies || c.LastDay != "" {
		t.Errorf("while it is offered: %+v", c)
	}
	body := object{
		"by": "Wren Aldous", "agree": false, "terms_sha256": yes["terms_sha256"],
		"extras": []any{object{"van": 1, "feature": "awning_rail"}}, "express_request": "Please begin next week.",
	}
	p := public(http.MethodPost, "/acceptance", body).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/agree" {
		t.Errorf("without agreeing: %+v", p.Errors)
	}
	body["agree"] = true
	var accepted openapi.OfferedAcceptance
	public(http.MethodPost, "/acceptance", body).into(t, http.StatusCreated, &accepted)
	want := money(t, offer.Gross, offer.Vans[0].Extras[0].Gross)
	if accepted.Revision != 2 || !money(t, accepted.Gross).Equal(want) || !accepted.Cancellation.WorkBeforeLastDay || accepted.Cancellation.LastDay != "2026-12-09" {
		t.Errorf("offered at %v and an extra at %v, accepted: %+v", offer.Gross, offer.Vans[0].Extras[0].Gross, accepted)
	}
	public(http.MethodGet, "", nil).into(t, http.StatusOK, &agreed)
	if agreed.Revision != 2 || agreed.State != openapi.QuoteStateAccepted || agreed.Gross != accepted.Gross || len(agreed.Vans[0].Extras) != 0 {
		t.Errorf("the link shows revision %d, %s, of %v", agreed.Revision, agreed.State, agreed.Gross)
	}
	var kept openapi.Acceptance
	s.do(auth.Books, http.MethodGet, path+"/acceptance", "", nil).into(t, http.StatusOK, &kept)
	if kept.ExpressRequest != body["express_request"] || len(kept.Extras) != 1 || kept.Place != openapi.SalePlaceAtADistance || kept.OfferedRevision != 1 {
		t.Errorf("kept: %+v", kept)
	}
	// What was asked for with the extra is what the revision is made of.
	var content openapi.QuoteContent
	s.do(auth.Sales, http.MethodGet, path+"/content", "", nil).into(t, http.StatusOK, &content)
	if !slices.ContainsFunc(content.Vans[0].Choices.Features, func(c openapi.Choice) bool { return c.Want == "awning_rail" }) {
		t.Errorf("it asks for %+v", content.Vans[0].Choices.Features)
	}
	w.verify(t, w.Ours)
}
