package apitest

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// dearer adds an edition from 1 December in which the elevating roof of a short
// van costs 4,444.00 and not 4,070.00, and a sink lid 222.00 and not 210.00.
func (s seller) dearer() {
	s.t.Helper()
	body := documentExample(s.t, "/v1/editions")
	changed := 0
	for _, one := range body["prices"].([]any) {
		p := one.(map[string]any)
		switch {
		case p["feature"] == "roof_elevating" && p["van"] == "short_panel_van" && p["supply_only"] == nil:
			p["amount"] = "4444.00"
		case p["feature"] == "sink_lid":
			p["amount"] = "222.00"
		default:
			continue
		}
		changed++
	}
	if changed != 2 {
		s.t.Fatalf("%d prices of the demo's were found", changed)
	}
	s.do(auth.Owner, http.MethodPost, "/v1/editions", "", body).into(s.t, http.StatusCreated, new(openapi.EditionEntry))
}

// on moves the clock to noon of a day.
func (s seller) on(day string) {
	s.t.Helper()
	noon, err := time.Parse(time.DateOnly, day)
	if err != nil {
		s.t.Fatal(err)
	}
	s.Clock.Set(noon.Add(12 * time.Hour))
	s.renewTokens(s.t)
}

func (s seller) revise(id, version string) (openapi.QuoteKept, string) {
	s.t.Helper()
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+id+"/revise", version, nil)
	var q openapi.QuoteKept
	g.into(s.t, http.StatusCreated, &q)
	return q, g.header.Get("Etag")
}

// TestReissueUnderANewEdition: inside the validity what is unchanged keeps its
// price and what is new has the new edition's; after it nothing is held.
func TestReissueUnderANewEdition(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	issued, version := s.issue(q.Id, version)
	path := "/v1/quotes/" + q.Id
	first := s.quote(q.Id)
	s.dearer()
	s.on("2026-12-02")
	if now := s.quote(q.Id); now.State != openapi.QuoteStateIssued || now.Sha256 != issued.Sha256 || now.Totals.Gross != first.Totals.Gross {
		t.Errorf("with a new edition in force the offer is %s of %v", now.State, now.Totals.Gross)
	}
	draft, version := s.revise(q.Id, version)
	if draft.Edition != "2026-12" || draft.HeldEdition != "2026-10" || draft.Totals.Gross != issued.Totals.Gross {
		t.Errorf("revised: %+v", draft)
	}
	body := w.example(t, http.MethodPost, "/v1/quotes")
	choices := body["vans"].([]any)[0].(map[string]any)["choices"].(map[string]any)
	choices["features"] = append(choices["features"].([]any), object{"want": "sink_lid"})
	g := s.do(auth.Sales, http.MethodPut, path, version, body)
	g.into(t, http.StatusOK, &draft)
	g = s.do(auth.Sales, http.MethodPost, path+"/issue", g.header.Get("Etag"), object{"valid_until": "2026-12-10"})
	g.into(t, http.StatusOK, new(openapi.QuoteKept))
	version = g.header.Get("Etag")
	second := s.quote(q.Id)
	price := second.Vans[0].Price
	if l := lineOf(t, price, "roof_elevating"); l.Amount != gbp("4070.00") || l.Edition != "2026-10" || !money(t, l.Today).Equal(money(t, gbp("4444.00"))) {
		t.Errorf("the roof, unchanged: %+v", l)
	}
	if l := lineOf(t, price, "sink_lid"); l.Amount != gbp("222.00") || l.Edition != "" || l.Today != (openapi.Money{}) {
		t.Errorf("the lid, new: %+v", l)
	}
	for _, l := range first.Vans[0].Price.Lines {
		if now := lineOf(t, price, l.Code); now.Amount != l.Amount {
			t.Errorf("%s was %v and is %v", l.Code, l.Amount, now.Amount)
		}
	}
	if second.HeldEdition != "2026-10" || second.HeldRevision != 1 || price.Edition != "2026-12" || second.ValidUntil != "2026-12-10" {
		t.Errorf("held of %s, revision %d, on %s until %s", second.HeldEdition, second.HeldRevision, price.Edition, second.ValidUntil)
	}
	var again openapi.Recomputed
	s.do(auth.Books, http.MethodGet, path+"/revisions/2/recomputed", "", nil).into(t, http.StatusOK, &again)
	if !again.Same {
		t.Errorf("worked out again: %+v", again.Differences)
	}

	s.on("2026-12-11")
	if now := s.quote(q.Id); now.State != openapi.QuoteStateLapsed {
		t.Errorf("it is %s", now.State)
	}
	draft, version = s.revise(q.Id, version)
	if draft.HeldEdition != "" || draft.HeldEditions != nil {
		t.Errorf("after its last day prices of %s are held: %v", draft.HeldEdition, draft.HeldEditions)
	}
	third := s.quote(q.Id)
	if l := lineOf(t, third.Vans[0].Price, "roof_elevating"); l.Amount != gbp("4444.00") || l.Edition != "" || l.Today != (openapi.Money{}) {
		t.Errorf("the roof after the last day: %+v", l)
	}
	// Lapsed, revised and issued anew, it is an offer again.
	issued, version = s.issue(q.Id, version)
	if issued.ValidUntil != "2027-01-10" || issued.State != openapi.QuoteStateIssued {
		t.Errorf("issued anew: %+v", issued)
	}
	var list openapi.Revisions
	s.do(auth.Sales, http.MethodGet, path+"/revisions", "", nil).into(t, http.StatusOK, &list)
	var states []openapi.QuoteState
	for _, r := range list.Revisions {
		states = append(states, r.State)
	}
	if !slices.Equal(states, []openapi.QuoteState{"superseded", "superseded", "issued"}) {
		t.Errorf("revisions are %v", states)
	}
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, object{
		"by": "Wren", "how": "counter", "place": "on the premises", "terms_sha256": s.quote(q.Id).TermsSha256,
	}).into(t, http.StatusCreated, new(openapi.Acceptance))
	w.verify(t, w.Ours)
}

// TestHeldOfHeld: a revision of one that itself holds prices says of which
// editions they really are, in answers and on paper.
func TestHeldOfHeld(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	_, version = s.issue(q.Id, version)
	if draft := s.quote(q.Id); draft.HeldEditions != nil {
		t.Errorf("the first revision holds prices of %v", draft.HeldEditions)
	}
	s.dearer()
	s.on("2026-12-02")
	_, version = s.revise(q.Id, version)
	second, version := s.issue(q.Id, version)
	third, version := s.revise(q.Id, version)
	_, version = s.issue(q.Id, version)
	read := s.quote(q.Id)
	for number, held := range map[int][]string{2: second.HeldEditions, 3: third.HeldEditions, 30: read.HeldEditions} {
		if !slices.Equal(held, []string{"2026-10"}) {
			t.Errorf("revision %d holds prices of %v", number, held)
		}
	}
	if second.HeldEdition != "2026-10" || third.HeldEdition != "2026-12" || read.HeldRevision != 2 {
		t.Errorf("held are the revisions of %s and %s, and %d", second.HeldEdition, third.HeldEdition, read.HeldRevision)
	}
	var list openapi.Revisions
	s.do(auth.Books, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions", "", nil).into(t, http.StatusOK, &list)
	for i, held := range []string{"", "2026-10", "2026-12"} {
		if r := list.Revisions[i]; r.HeldEdition != held || r.Gross != read.Totals.Gross {
			t.Errorf("listed is revision %d of %v, holding prices of %s", r.Revision, r.Gross, r.HeldEdition)
		}
	}
	page := string(s.do(auth.Sales, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions/3/quote.html", "", nil).body)
	if !strings.Contains(page, "What revision 2 offered keeps its price, from price list 2026-10; what is new is at price list 2026-12.") {
		_, page, _ = strings.Cut(page, "offered keeps its price")
		t.Errorf("the page says …%.200s", page)
	}
	s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+q.Id+"/acceptance", version, object{
		"by": "Wren", "how": "counter", "place": "on the premises", "terms_sha256": read.TermsSha256,
		"extras": []any{object{"van": 1, "feature": "awning_rail"}},
	}).into(t, http.StatusCreated, new(openapi.Acceptance))
	s.do(auth.Books, http.MethodGet, "/v1/quotes/"+q.Id+"/revisions", "", nil).into(t, http.StatusOK, &list)
	if r := list.Revisions[3]; r.HeldEdition != "2026-12" || r.State != openapi.QuoteStateAccepted {
		t.Errorf("with an extra it is %s, holding prices of %q", r.State, r.HeldEdition)
	}
	w.verify(t, w.Ours)
}

// TestDeclinedAndRevised: a no ends what was offered, with its prices; a
// revision is a new offer, and the no stays on record.
func TestDeclinedAndRevised(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	path := "/v1/quotes/" + q.Id
	no := object{"because": "They keep the van they have."}
	s.do(auth.Sales, http.MethodPost, path+"/decline", version, no).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	_, version = s.issue(q.Id, version)
	terms := s.quote(q.Id).TermsSha256
	var link openapi.Link
	s.do(auth.Sales, http.MethodPost, path+"/links", version, nil).into(t, http.StatusCreated, &link)
	g := s.do(auth.Sales, http.MethodPost, path+"/decline", version, no)
	g.into(t, http.StatusOK, &q)
	version = g.header.Get("Etag")
	if now := s.quote(q.Id); q.State != openapi.QuoteStateDeclined || now.DeclinedBecause != no["because"] {
		t.Errorf("declined: %s, %q", q.State, now.DeclinedBecause)
	}
	yes := object{"by": "Wren", "how": "counter", "place": "on the premises", "terms_sha256": terms}
	s.do(auth.Sales, http.MethodPost, path+"/decline", version, no).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	w.exchange(t, call{of: w.Ours, method: http.MethodPost, path: "/v1/offered/" + link.Link + "/acceptance",
		body: object{"by": "Wren", "agree": true, "terms_sha256": terms}}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	p := w.exchange(t, call{of: w.Ours, method: http.MethodGet, path: "/v1/offered/" + link.Link}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	if p.Detail != "This offer was declined." {
		t.Errorf("by the link a customer reads %q", p.Detail)
	}

	s.dearer()
	s.on("2026-12-02")
	draft, version := s.revise(q.Id, version)
	if draft.Revision != 2 || draft.State != openapi.QuoteStateDraft || draft.HeldEdition != "" {
		t.Errorf("revised: %+v", draft)
	}
	if l := lineOf(t, s.quote(q.Id).Vans[0].Price, "roof_elevating"); l.Amount != gbp("4444.00") {
		t.Errorf("the roof: %+v", l)
	}
	_, version = s.issue(q.Id, version)
	var list openapi.Revisions
	s.do(auth.Sales, http.MethodGet, path+"/revisions", "", nil).into(t, http.StatusOK, &list)
	if len(list.Revisions) != 2 || list.Revisions[0].State != openapi.QuoteStateDeclined || list.Revisions[1].State != openapi.QuoteStateIssued {
		t.Errorf("revisions: %+v", list.Revisions)
	}
	if now := s.quote(q.Id); now.DeclinedBecause != "" {
		t.Errorf("what is offered now has been declined: %q", now.DeclinedBecause)
	}
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, yes).into(t, http.StatusCreated, new(openapi.Acceptance))
	w.verify(t, w.Ours)
}

// TestCostsThatEnd: where a supplier's price ends before the validity or the
// slot, who sees costs is warned, and nobody else is told anything of it. The
// demo's panel clip is held until the end of 2026.
func TestCostsThatEnd(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(func(body map[string]any) { body["slot_wanted_on"] = "2027-02-15" })
	warned := func(role auth.Role) map[openapi.CostWarningCode]openapi.CostWarning {
		t.Helper()
		var read openapi.Quote
		s.do(role, http.MethodGet, "/v1/quotes/"+q.Id, "", nil).into(t, http.StatusOK, &read)
		found := map[openapi.CostWarningCode]openapi.CostWarning{}
		for _, x := range read.Vans[0].Costing.Warnings {
			if x.Part == "panel_clip" {
				found[x.Code] = x
			}
		}
		return found
	}
	if list := warned(auth.Owner); len(list) != 1 || list["before_slot"].Until != "2026-12-31" || list["before_slot"].Before != "2027-02-15" || list["before_slot"].Supplier != "selnap" {
		t.Errorf("the draft, good until Christmas, warns of %+v", list)
	}
	s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+q.Id+"/issue", version, object{"valid_until": "2027-01-20"}).into(t, http.StatusOK, &q)
	for _, role := range []auth.Role{auth.Owner, auth.Books} {
		if list := warned(role); len(list) != 2 || list["before_validity"].Before != "2027-01-20" || !strings.Contains(list["before_validity"].Says, "2027-01-20") || !strings.Contains(list["before_slot"].Says, "2027-02-15") {
			t.Errorf("%s is warned of %+v", role, list)
		}
	}
	for _, role := range []auth.Role{auth.Sales, auth.Workshop} {
		text := string(s.do(role, http.MethodGet, "/v1/quotes/"+q.Id, "", nil).body)
		for _, word := range []string{"before_slot", "before_validity", "2026-12-31", "warnings", "holds the cost"} {
			if strings.Contains(text, word) {
				t.Errorf("%s is told of %q", role, word)
			}
		}
	}
}

// TestQuotesToChase: offers whose follow-up day has come and offers that end
// within a week, each once; drafts and what is settled are not chased.
func TestQuotesToChase(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	customer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	names := map[string]string{}
	version := map[string]string{}
	add := func(name, followUp, until string) {
		t.Helper()
		q, v := s.create(func(body map[string]any) {
			body["customer"] = customer.Id
			if followUp != "" {
				body["follow_up_on"] = followUp
			}
		})
		names[q.Id] = name
		if until != "draft" {
			issue := object{}
			if until != "" {
				issue["valid_until"] = until
			}
			g := s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+q.Id+"/issue", v, issue)
			g.into(t, http.StatusOK, &q)
			v = g.header.Get("Etag")
		}
		version[name] = "/v1/quotes/" + q.Id + " " + v
	}
	add("today", "2026-11-25", "")
	add("tomorrow", "2026-11-26", "")
	add("a draft", "2026-11-25", "draft")
	add("in a week", "", "2026-12-02")
	add("in eight days", "", "2026-12-03")
	add("both", "2026-11-20", "2026-11-28")
	add("a no", "2026-11-25", "")
	path, v, _ := strings.Cut(version["a no"], " ")
	s.do(auth.Sales, http.MethodPost, path+"/decline", v, object{}).into(t, http.StatusOK, new(openapi.QuoteKept))
	chased := func(query string) (list []string) {
		t.Helper()
		var due openapi.ToChase
		s.do(auth.Sales, http.MethodGet, "/v1/to-chase"+query, "", nil).into(t, http.StatusOK, &due)
		for _, item := range due.Items {
			list = append(list, item.DueOn+" "+names[item.Quote.Id]+": "+string(item.Because)+", "+string(item.Quote.State))
			if item.Customer.Name != "Sallow" || item.Quote.CustomerName != "Bede Sallow" {
				t.Errorf("whom to ask: %+v", item.Customer)
			}
		}
		return list
	}
	for query, want := range map[string][]string{
		"":                {"2026-11-20 both: follow up, issued", "2026-11-25 today: follow up, issued", "2026-12-02 in a week: lapses soon, issued"},
		"?day=2026-11-26": {"2026-11-20 both: follow up, issued", "2026-11-25 today: follow up, issued", "2026-11-26 tomorrow: follow up, issued", "2026-12-02 in a week: lapses soon, issued", "2026-12-03 in eight days: lapses soon, issued"},
	} {
		if list := chased(query); !slices.Equal(list, want) {
			t.Errorf("%q: %q\nand should be %q", query, list, want)
		}
	}
	s.on("2026-12-03")
	want := []string{"2026-11-20 both: follow up, lapsed", "2026-11-25 today: follow up, issued", "2026-11-26 tomorrow: follow up, issued", "2026-12-03 in eight days: lapses soon, issued"}
	if list := chased(""); !slices.Equal(list, want) {
		t.Errorf("a week later %q\nand should be %q", list, want)
	}
}
