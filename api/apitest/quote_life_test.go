package apitest

import (
	"html"
	"net/http"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// seller is a quote's life as one salesperson's calls.
type seller struct {
	*world
	t    *testing.T
	shop *Workshop
}

func (s seller) do(role auth.Role, method, path, version string, body any) got {
	s.t.Helper()
	c := call{of: s.shop, role: role, method: method, path: path, body: body, header: http.Header{}}
	if version != "" {
		c.header.Set("If-Match", version)
	}
	return s.exchange(s.t, c)
}

// create makes a quote of the contract's example, changed.
func (s seller) create(change func(map[string]any)) (openapi.QuoteKept, string) {
	s.t.Helper()
	body := s.example(s.t, http.MethodPost, "/v1/quotes")
	if change != nil {
		change(body)
	}
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", body)
	var q openapi.QuoteKept
	g.into(s.t, http.StatusCreated, &q)
	return q, g.header.Get("Etag")
}

func (s seller) issue(id, version string) (openapi.QuoteKept, string) {
	s.t.Helper()
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+id+"/issue", version, map[string]any{})
	var q openapi.QuoteKept
	g.into(s.t, http.StatusOK, &q)
	return q, g.header.Get("Etag")
}

func (s seller) quote(id string) openapi.Quote {
	s.t.Helper()
	var q openapi.Quote
	s.do(auth.Sales, http.MethodGet, "/v1/quotes/"+id, "", nil).into(s.t, http.StatusOK, &q)
	return q
}

// TestQuoteFromDraftToAcceptance: what is issued stays as it was issued, a
// revision takes its place only when it is issued, and what is accepted with an
// extra is a further revision at no more than was offered.
func TestQuoteFromDraftToAcceptance(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	path := "/v1/quotes/" + q.Id
	issued, version := s.issue(q.Id, version)
	if issued.State != openapi.QuoteStateIssued || issued.Sha256 == "" || issued.IssuedOn != "2026-11-25" || issued.ValidUntil != "2026-12-25" {
		t.Errorf("issued: %+v", issued)
	}
	first := s.quote(q.Id)
	if first.QuoteTerms == "" && first.TermsSha256 == "" || first.Reference == "" || first.Vans[0].Van.Registration != "WT24 DMO" {
		t.Errorf("the issued quote is not whole: %q %q %+v", first.TermsSha256, first.Reference, first.Vans[0].Van)
	}
	s.do(auth.Sales, http.MethodPut, path, version, w.example(t, http.MethodPost, "/v1/quotes")).
		want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var again openapi.Recomputed
	s.do(auth.Books, http.MethodGet, path+"/revisions/1/recomputed", "", nil).into(t, http.StatusOK, &again)
	if !again.Same || again.Sha256 != issued.Sha256 || len(again.Differences) != 0 {
		t.Errorf("worked out again: %+v", again)
	}

	g := s.do(auth.Sales, http.MethodPost, path+"/revise", version, nil)
	var draft openapi.QuoteKept
	g.into(t, http.StatusCreated, &draft)
	version = g.header.Get("Etag")
	if draft.Revision != 2 || draft.State != openapi.QuoteStateDraft || draft.HeldEdition != issued.Edition || draft.Totals.Gross != issued.Totals.Gross {
		t.Errorf("revised: %+v", draft)
	}
	body := w.example(t, http.MethodPost, "/v1/quotes")
	van := body["vans"].([]any)[0].(map[string]any)
	choices := van["choices"].(map[string]any)
	choices["features"] = append(choices["features"].([]any), map[string]any{"want": "tow_bar"})
	g = s.do(auth.Sales, http.MethodPut, path, version, body)
	g.into(t, http.StatusOK, &draft)
	issued2, version := s.issue(q.Id, g.header.Get("Etag"))
	var list openapi.Revisions
	s.do(auth.Workshop, http.MethodGet, path+"/revisions", "", nil).into(t, http.StatusOK, &list)
	if len(list.Revisions) != 2 || list.Revisions[0].State != openapi.QuoteStateSuperseded || list.Revisions[1].Sha256 != issued2.Sha256 {
		t.Errorf("revisions: %+v", list)
	}
	var told openapi.Comparison
	s.do(auth.Sales, http.MethodGet, path+"/comparison?from=1&to=2", "", nil).into(t, http.StatusOK, &told)
	if len(told.Sentences) < 2 || told.From != 1 || told.To != 2 {
		t.Errorf("compared: %+v", told)
	}
	var old openapi.Quote
	s.do(auth.Sales, http.MethodGet, path+"/revisions/1", "", nil).into(t, http.StatusOK, &old)
	if old.Sha256 != issued.Sha256 || old.Totals != first.Totals {
		t.Error("the first revision reads otherwise than it was issued")
	}

	yes := map[string]any{
		"by": "Wren Aldous", "how": "paper", "place": "away from the premises", "terms_sha256": first.TermsSha256,
		"extras":          []any{map[string]any{"van": 1, "feature": "awning_rail"}},
		"express_request": "Please begin next week.",
		"evidence":        []any{map[string]any{"says": "The signed page.", "media_type": "text/plain", "content": "c2lnbmVk"}},
	}
	var accepted openapi.Acceptance
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).into(t, http.StatusCreated, &accepted)
	if accepted.Revision != 3 || accepted.OfferedRevision != 2 || !accepted.Cancellation.Applies || accepted.Cancellation.LastDay != "2026-12-09" ||
		!accepted.Cancellation.WorkBeforeLastDay || len(accepted.JobReferences) != 1 || accepted.Reference != first.Reference {
		t.Errorf("accepted: %+v", accepted)
	}
	var kept openapi.Acceptance
	s.do(auth.Books, http.MethodGet, path+"/acceptance", "", nil).into(t, http.StatusOK, &kept)
	if kept.By != "Wren Aldous" || len(kept.Evidence) != 1 || kept.Evidence[0].Content != "c2lnbmVk" || kept.Evidence[0].Sha256 == "" {
		t.Errorf("kept: %+v", kept)
	}
	if now := s.quote(q.Id); now.State != openapi.QuoteStateAccepted || now.Revision != 3 || now.Totals.Gross != accepted.Totals.Gross {
		t.Errorf("the accepted quote: %+v", now.Totals)
	}
	s.do(auth.Sales, http.MethodPost, path+"/revise", `"9"`, nil).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	w.verify(t, w.Ours)
}

// TestQuoteOnPaper: each paper has its type, a name without anybody in it, and
// the page a policy.
func TestQuoteOnPaper(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	for _, state := range []string{"draft", "issued"} {
		if state == "issued" {
			s.issue(q.Id, version)
		}
		for path, c := range map[string]struct{ kind, begins string }{
			"/quote.pdf":         {"application/pdf", "%PDF-"},
			"/quote.html":        {"text/html", "<!DOCTYPE html>"},
			"/vans/1/sheet.xlsx": {"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "PK"},
			"/vans/1/sheet.csv":  {"text/csv", ""},
		} {
			g := s.do(auth.Books, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions/1"+path, "", nil)
			if g.status != http.StatusOK || !strings.HasPrefix(g.header.Get("Content-Type"), c.kind) ||
				!strings.HasPrefix(strings.ToUpper(string(g.body[:min(15, len(g.body))])), strings.ToUpper(c.begins)) {
				t.Errorf("%s %s: %d %q %.40q", state, path, g.status, g.header.Get("Content-Type"), g.body)
			}
			if name := g.header.Get("Content-Disposition"); !strings.Contains(name, "revision-1") || strings.Contains(name, "DMO") {
				t.Errorf("%s: %q", path, name)
			}
			if path == "/quote.html" && !strings.Contains(g.header.Get("Content-Security-Policy"), "default-src 'none'") {
				t.Error("the page has no policy")
			}
			if state == "draft" && path == "/quote.html" && !strings.Contains(string(g.body), "not an offer") {
				t.Error("the draft's page does not say that it is one")
			}
		}
		s.do(auth.Books, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions/1/vans/2/sheet.csv", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
		s.do(auth.Books, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions/2/quote.pdf", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	}
}

// TestLinks: a customer reads and accepts by the secret, and nothing tells a
// wrong one from one that was withdrawn.
func TestLinks(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	path := "/v1/quotes/" + q.Id
	s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	_, version = s.issue(q.Id, version)
	link := func() openapi.Link {
		t.Helper()
		var l openapi.Link
		s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).into(t, http.StatusCreated, &l)
		return l
	}
	one := link()
	public := func(method, rest string, body any) got {
		t.Helper()
		return w.exchange(t, call{of: w.Ours, method: method, path: "/v1/offered/" + rest, body: body})
	}
	var seen openapi.Offered
	public(http.MethodGet, one.Link, nil).into(t, http.StatusOK, &seen)
	if seen.Gross != q.Totals.Gross || len(seen.Vans) != 1 || seen.Vans[0].Registration != "WT24 DMO" || len(seen.Vans[0].Extras) != 1 {
		t.Errorf("offered: %+v", seen)
	}
	if v, page := seen.Vans[0], string(public(http.MethodGet, one.Link+"/quote.html", nil).body); len(v.Certificates) == 0 || len(v.ClassFeatures) == 0 {
		t.Errorf("the page tells papers and class, the answer %d and %d", len(v.Certificates), len(v.ClassFeatures))
	} else {
		for _, words := range []string{v.Certificates[0], v.ClassFeatures[0].Name} {
			if !strings.Contains(page, html.EscapeString(words)) {
				t.Errorf("%q is not on the page", words)
			}
		}
	}
	for _, rest := range []string{"/quote.html", "/quote.pdf"} {
		if g := public(http.MethodGet, one.Link+rest, nil); g.status != http.StatusOK {
			t.Errorf("%s: %d %s", rest, g.status, g.body)
		}
	}
	// Wrong in the last sign, of another workshop, made up, withdrawn: alike.
	wrong := one.Link[:len(one.Link)-4] + "AAAA"
	s.do(auth.Sales, http.MethodPost, path+"/links/withdraw", "", nil)
	alike := map[string]bool{}
	for _, word := range []string{wrong, one.Link, strings.Repeat("A", 64), strings.Repeat("x", 40)} {
		p := public(http.MethodGet, word, nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
		alike[p.Detail+p.Remedy] = true
	}
	if len(alike) != 1 {
		t.Errorf("they can be told apart: %v", alike)
	}
	yes := map[string]any{"by": "Wren Aldous", "agree": true, "terms_sha256": seen.TermsSha256}
	two := link()
	yes["terms_sha256"] = strings.Repeat("0", 64)
	public(http.MethodPost, two.Link+"/acceptance", yes).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	yes["terms_sha256"] = seen.TermsSha256
	// A draft that is open to follow does not take the offer away.
	s.do(auth.Sales, http.MethodPost, path+"/revise", version, nil)
	var accepted openapi.OfferedAcceptance
	public(http.MethodPost, two.Link+"/acceptance", yes).into(t, http.StatusCreated, &accepted)
	if accepted.Revision != 1 || accepted.Gross != seen.Gross || !accepted.Cancellation.Applies {
		t.Errorf("accepted: %+v", accepted)
	}
	public(http.MethodPost, two.Link+"/acceptance", yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var kept openapi.Acceptance
	s.do(auth.Books, http.MethodGet, path+"/acceptance", "", nil).into(t, http.StatusOK, &kept)
	if kept.How != "link" || kept.By != "Wren Aldous" {
		t.Errorf("kept: %+v", kept)
	}
	if now := s.quote(q.Id); now.State != openapi.QuoteStateAccepted || now.Revision != 1 {
		t.Errorf("now %s, revision %d", now.State, now.Revision)
	}
	w.verify(t, w.Ours)
}

// verify works the journal out again.
func (w *world) verify(t *testing.T, shop *Workshop) {
	t.Helper()
	err := w.Store.As(shop.Principal[auth.Owner]).Read(t.Context(), func(tx store.ReadTx) error {
		_, err := tx.VerifyJournal()
		return err
	})
	if err != nil {
		t.Error(err)
	}
}
