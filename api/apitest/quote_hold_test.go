package apitest

import (
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// TestManyWritersOnOneQuote: 64 at once change one quote from the version they
// have seen; each version is made from the one before, and none is lost.
func TestManyWritersOnOneQuote(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, _ := s.create(nil)
	const writers = 64
	var all sync.WaitGroup
	tries := make([]int, writers)
	for i := range writers {
		all.Go(func() {
			for {
				tries[i]++
				get := w.send(call{of: w.Ours, role: auth.Sales, method: http.MethodGet, path: "/v1/quotes/" + q.Id + "?include=none"})
				put := w.send(call{of: w.Ours, role: auth.Sales, method: http.MethodPut, path: "/v1/quotes/" + q.Id + "/follow-up",
					header: http.Header{"If-Match": {get.Header().Get("Etag")}}, body: map[string]any{"note": "writer"}})
				switch put.Code {
				case http.StatusOK:
					return
				case http.StatusPreconditionFailed:
				default:
					t.Errorf("%d: %s", put.Code, put.Body)
					return
				}
			}
		})
	}
	all.Wait()
	if now := s.quote(q.Id); now.Version != 1+writers || now.Note != "writer" {
		t.Errorf("version %d after %d changes: updates were lost", now.Version, writers)
	}
	w.verify(t, w.Ours)
}

// send is a request of one of many at once; exchange would hold them up.
func (w *world) send(c call) *httptest.ResponseRecorder {
	text, _ := json.Marshal(c.body)
	body := strings.NewReader(string(text))
	if c.body == nil {
		body = strings.NewReader("")
	}
	r := httptest.NewRequest(c.method, c.path, body)
	if c.body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	r.Header.Set("Authorization", "Bearer "+c.of.Token[c.role])
	maps.Copy(r.Header, c.header)
	recorder := httptest.NewRecorder()
	w.Server.Handler().ServeHTTP(recorder, r)
	return recorder
}

// TestEqualCreatesAreOne: 20 equal requests under one key at once make one
// quote and get 20 equal answers.
func TestEqualCreatesAreOne(t *testing.T) {
	w := newWorld(t)
	body := w.example(t, http.MethodPost, "/v1/quotes")
	header := http.Header{"Idempotency-Key": {uuid.NewString()}}
	var all sync.WaitGroup
	answers := make([]string, 20)
	for i := range answers {
		all.Go(func() {
			g := w.send(call{of: w.Ours, role: auth.Sales, method: http.MethodPost, path: "/v1/quotes", header: header, body: body})
			if g.Code == http.StatusCreated {
				answers[i] = g.Body.String()
			}
		})
	}
	all.Wait()
	for _, a := range answers {
		if a == "" || a != answers[0] {
			t.Fatalf("%q and %q", a, answers[0])
		}
	}
	var page openapi.Quotes
	seller{w, t, w.Ours}.do(auth.Sales, http.MethodGet, "/v1/quotes", "", nil).into(t, http.StatusOK, &page)
	if len(page.Quotes) != 1 {
		t.Errorf("%d quotes", len(page.Quotes))
	}
}

// TestLinkAnswerIsSealed: the same request again shows the link again, and the
// database has nothing of its secret.
func TestLinkAnswerIsSealed(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	_, version = s.issue(q.Id, version)
	c := call{of: w.Ours, role: auth.Sales, method: http.MethodPost, path: "/v1/quotes/" + q.Id + "/links",
		header: http.Header{"Idempotency-Key": {"the-same-link"}, "If-Match": {version}}}
	var one, two openapi.Link
	w.exchange(t, c).into(t, http.StatusCreated, &one)
	w.exchange(t, c).into(t, http.StatusCreated, &two)
	if one != two || one.Link == "" {
		t.Errorf("%+v and %+v", one, two)
	}
	err := w.Store.As(w.Ours.Principal[auth.Sales]).Read(t.Context(), func(tx store.ReadTx) error {
		kept, err := tx.KeptAnswer("the-same-link")
		if strings.Contains(string(kept.Body), one.Link) {
			t.Error("the secret is kept as it is")
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// TestLapsedIsRefused: after its last day an offer can be neither accepted nor
// linked to; it can be revised, at the prices of the day.
func TestLapsedIsRefused(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	_, version = s.issue(q.Id, version)
	path := "/v1/quotes/" + q.Id
	var link openapi.Link
	s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).into(t, http.StatusCreated, &link)
	terms := s.quote(q.Id).TermsSha256
	w.Clock.Set(Noon.AddDate(0, 0, 31))
	w.renewTokens(t)
	if now := s.quote(q.Id); now.State != openapi.QuoteStateLapsed {
		t.Errorf("it is %s", now.State)
	}
	for state, want := range map[string]int{"lapsed": 1, "issued": 0, "draft": 0, "superseded": 0} {
		var page openapi.Quotes
		s.do(auth.Books, http.MethodGet, "/v1/quotes?state="+state, "", nil).into(t, http.StatusOK, &page)
		if len(page.Quotes) != want {
			t.Errorf("%d are %s", len(page.Quotes), state)
		}
	}
	yes := map[string]any{"by": "Wren", "how": "counter", "place": "on the premises", "terms_sha256": terms}
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	p := w.exchange(t, call{of: w.Ours, method: http.MethodGet, path: "/v1/offered/" + link.Link}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	if !strings.Contains(p.Detail, "come to its end") {
		t.Errorf("a customer reads %q", p.Detail)
	}
	w.exchange(t, call{of: w.Ours, method: http.MethodPost, path: "/v1/offered/" + link.Link + "/acceptance",
		body: map[string]any{"by": "Wren", "agree": true, "terms_sha256": terms}}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var draft openapi.QuoteKept
	s.do(auth.Sales, http.MethodPost, path+"/revise", version, nil).into(t, http.StatusCreated, &draft)
	if draft.HeldEdition != "" {
		t.Errorf("prices of %s are held", draft.HeldEdition)
	}
}

// renewTokens gives everybody of our workshop a token of now.
func (w *world) renewTokens(t *testing.T) {
	t.Helper()
	for role, p := range w.Ours.Principal {
		w.Ours.Token[role] = w.issue(t, p, SigningKey)
	}
}

// TestForemansYes: what touches gas and no feature stands for waits for the
// foreman, whose yes goes when the addition is changed and stays when anything
// else is.
func TestForemansYes(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	var sheet openapi.Quote
	first, _ := s.create(nil)
	s.do(auth.Owner, http.MethodGet, "/v1/quotes/"+first.Id, "", nil).into(t, http.StatusOK, &sheet)
	stage := sheet.Vans[0].Sheet.Stages[0].Stage
	addition := map[string]any{
		"code": "gas_point", "kind": "one-off", "words": "A gas point at the rear", "stage": stage, "mass_kg": "1.5",
		"price": map[string]any{"amount": "120.00", "currency": "GBP"}, "cost": map[string]any{"amount": "20.00", "currency": "GBP"},
		"touches": []any{"gas"},
	}
	content := func() map[string]any {
		body := w.example(t, http.MethodPost, "/v1/quotes")
		body["vans"].([]any)[0].(map[string]any)["additions"] = []any{addition}
		return body
	}
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", content())
	var q openapi.QuoteKept
	g.into(t, http.StatusCreated, &q)
	path := "/v1/quotes/" + q.Id
	if q.ReadyToIssue || len(q.NotReady) != 1 || q.NotReady[0].Code != openapi.NotReadyCodeWaitsForForeman {
		t.Fatalf("not ready: %+v", q.NotReady)
	}
	s.do(auth.Sales, http.MethodPost, path+"/issue", `"1"`, map[string]any{}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeNotReady)
	s.do(auth.Sales, http.MethodPost, path+"/approvals", `"1"`, map[string]any{"van": 1, "addition": "gas_point"}).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	for field, yes := range map[string]object{"/addition": {"van": 1, "addition": "other"}, "/van": {"van": 2, "addition": "gas_point"}} {
		p := s.do(auth.Workshop, http.MethodPost, path+"/approvals", `"1"`, yes).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
		if len(p.Errors) != 1 || p.Errors[0].Field != field {
			t.Errorf("%s is not there: %+v", field, p.Errors)
		}
	}
	g = s.do(auth.Workshop, http.MethodPost, path+"/approvals", `"1"`, map[string]any{"van": 1, "addition": "gas_point"})
	g.into(t, http.StatusOK, &q)
	if !q.ReadyToIssue || strings.Contains(string(g.body), "GBP") {
		t.Errorf("after the yes: %s", g.body)
	}
	body := content()
	body["note"] = "rings at noon"
	s.do(auth.Sales, http.MethodPut, path, `"2"`, body).into(t, http.StatusOK, &q)
	if !q.ReadyToIssue {
		t.Error("the yes is gone though the addition is the same")
	}
	addition["mass_kg"] = "2.5"
	s.do(auth.Sales, http.MethodPut, path, `"3"`, content()).into(t, http.StatusOK, &q)
	if q.ReadyToIssue {
		t.Error("the yes stays though the addition is another")
	}
	// Who sees no money sees none of it; who sees no cost sees the price.
	for role, seen := range map[auth.Role][2]bool{auth.Workshop: {false, false}, auth.Sales: {true, false}, auth.Owner: {true, true}} {
		g := s.do(role, http.MethodGet, path, "", nil)
		text := string(g.body)
		if strings.Contains(text, `"120.00"`) != seen[0] || strings.Contains(text, `"cost":{"amount":"20.00"`) != seen[1] {
			t.Errorf("%s is shown price %v, cost %v", role, strings.Contains(text, `"120.00"`), strings.Contains(text, `"cost":{"amount":"20.00"`))
		}
		if role == auth.Workshop && (strings.Contains(text, "GBP") || strings.Contains(text, "rings at noon")) {
			t.Errorf("the workshop is shown %s", text)
		}
	}
}

// TestAnothersQuote: with another workshop's id every operation answers as if
// the quote were not there, and with its link nobody else's words come.
func TestAnothersQuote(t *testing.T) {
	w := newWorld(t)
	ours, theirs := seller{w, t, w.Ours}, seller{w, t, w.Theirs}
	q, version := theirs.create(nil)
	theirs.issue(q.Id, version)
	path := "/v1/quotes/" + q.Id
	for _, c := range []struct {
		role         auth.Role
		method, path string
		body         any
	}{
		{auth.Owner, http.MethodGet, "", nil},
		{auth.Owner, http.MethodPut, "", w.example(t, http.MethodPost, "/v1/quotes")},
		{auth.Owner, http.MethodPut, "/follow-up", map[string]any{}},
		{auth.Owner, http.MethodPost, "/approvals", map[string]any{"van": 1, "addition": "gas_point"}},
		{auth.Owner, http.MethodPost, "/issue", map[string]any{}},
		{auth.Owner, http.MethodPost, "/revise", nil},
		{auth.Owner, http.MethodGet, "/content", nil},
		{auth.Owner, http.MethodPost, "/revisions", w.example(t, http.MethodPost, "/v1/quotes")},
		{auth.Owner, http.MethodPost, "/decline", map[string]any{}},
		{auth.Owner, http.MethodGet, "/acceptance", nil},
		{auth.Owner, http.MethodPost, "/acceptance", map[string]any{"by": "Wren", "how": "counter", "place": "on the premises", "terms_sha256": strings.Repeat("0", 64)}},
		{auth.Owner, http.MethodPost, "/links", nil},
		{auth.Owner, http.MethodPost, "/links/withdraw", nil},
		{auth.Owner, http.MethodGet, "/revisions", nil},
		{auth.Owner, http.MethodGet, "/revisions/1", nil},
		{auth.Owner, http.MethodGet, "/revisions/1/recomputed", nil},
		{auth.Owner, http.MethodGet, "/comparison?from=1&to=1", nil},
		{auth.Owner, http.MethodGet, "/revisions/1/quote.pdf", nil},
		{auth.Owner, http.MethodGet, "/revisions/1/quote.html", nil},
		{auth.Owner, http.MethodGet, "/revisions/1/vans/1/sheet.xlsx", nil},
		{auth.Owner, http.MethodGet, "/revisions/1/vans/1/sheet.csv", nil},
		{auth.Owner, http.MethodGet, "/revisions/1/vans/1/masses.svg", nil},
		{auth.Owner, http.MethodPost, "/answers", map[string]any{"van": 1, "check": "payload_for_people", "kind": "evidence", "limit": "1", "says": "A letter."}},
		{auth.Owner, http.MethodPost, "/answers/withdraw", map[string]any{"van": 1, "check": "payload_for_people"}},
	} {
		ours.do(c.role, c.method, path+c.path, `"2"`, c.body).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	}
	var page openapi.Quotes
	ours.do(auth.Owner, http.MethodGet, "/v1/quotes?registration=wt24dmo", "", nil).into(t, http.StatusOK, &page)
	if len(page.Quotes) != 0 {
		t.Errorf("listed: %+v", page)
	}
	w.verify(t, w.Theirs)
}
