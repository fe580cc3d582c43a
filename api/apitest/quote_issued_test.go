package apitest

import (
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// frozen is a revision as it is kept.
func (s seller) frozen(id string, number int64) *quote.Document {
	s.t.Helper()
	var text []byte
	err := s.Store.As(s.shop.Principal[auth.Owner]).Read(s.t.Context(), func(tx store.ReadTx) error {
		r, err := tx.Revision(uuid.MustParse(id), number)
		if err == nil {
			text, err = r.Document.Unpack()
		}
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	d, err := quote.Decode(text)
	if err != nil {
		s.t.Fatal(err)
	}
	return d
}

// TestIssuedIsWhole: what is frozen names whose it is and by which number, and
// has what is printed with it as it was set then; a revision takes all of the
// quote over that nobody has changed.
func TestIssuedIsWhole(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	dealer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", object{"kind": "trade", "name": "Marrick Motors", "price_list": "trade"})
	buyer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	asked := made[openapi.Enquiry](t, w, w.Ours, "/v1/enquiries", object{"customer": dealer.Id, "source": "a friend", "wants": "A roof."})
	s.create(nil) // number 1 is another's
	q, version := s.create(func(body object) {
		body["customer"], body["end_customer"], body["enquiry"] = dealer.Id, buyer.Id, asked.Id
		body["slot_wanted_on"], body["follow_up_on"], body["note"] = "2027-02-15", "2026-12-09", "rings at noon"
	})
	_, version = s.issue(q.Id, version)
	first := s.quote(q.Id)

	settings := w.example(t, http.MethodPut, "/v1/workshop")
	w.put(t, w.Ours, "/v1/workshop", 1, settings).into(t, http.StatusOK, new(openapi.WorkshopSettings))
	s.on("2026-11-26")
	draft, version := s.revise(q.Id, version)
	revised := s.quote(q.Id)
	if draft.FollowUpOn != "2026-12-09" || revised.Customer != dealer.Id || revised.EndCustomer != buyer.Id || revised.Enquiry != asked.Id ||
		revised.SlotWantedOn != "2027-02-15" || revised.FollowUpOn != "2026-12-09" || revised.Note != "rings at noon" ||
		!reflect.DeepEqual(revised.Vans[0].Van, first.Vans[0].Van) || first.Vans[0].Van.Registration != "WT24 DMO" {
		t.Errorf("revised: %+v\non %+v, and was on %+v", draft, revised.Vans[0].Van, first.Vans[0].Van)
	}
	var list openapi.Quotes
	s.do(auth.Sales, http.MethodGet, "/v1/quotes?number=2", "", nil).into(t, http.StatusOK, &list)
	if len(list.Quotes) != 1 || list.Quotes[0].SlotWantedOn != "2027-02-15" || list.Quotes[0].FollowUpOn != "2026-12-09" || list.Quotes[0].State != openapi.QuoteStateDraft ||
		list.Quotes[0].IssuedOn != "" || list.Quotes[0].ValidUntil != "" {
		t.Errorf("revised, it is listed as %+v", list.Quotes)
	}
	s.issue(q.Id, version)
	second := s.quote(q.Id)
	for number, c := range []struct {
		day         string
		shown       openapi.Quote
		notIncluded []string
	}{
		{"2026-11-25", first, []string{"Registration fees, insurance, road tax and fuel are not included.", "Fetching and returning the van is not included unless it is listed."}},
		{"2026-11-26", second, []string{"Fuel is not included."}},
	} {
		d := s.frozen(q.Id, int64(number)+1)
		if d.Quote != q.Id || d.Number != 2 || d.Revision != number+1 || d.IssuedOn != c.day || d.Customer != dealer.Id || d.EndCustomer != buyer.Id {
			t.Errorf("quote %s, number %d, revision %d of %s, for %s behind %s", d.Quote, d.Number, d.Revision, d.IssuedOn, d.EndCustomer, d.Customer)
		}
		if !slices.Equal(d.Paper.NotIncluded, c.notIncluded) || !slices.Equal(c.shown.NotIncluded, c.notIncluded) || d.Paper.Terms != c.shown.QuoteTerms ||
			d.Paper.Letterhead.Name != "Withermere Camper Works" || d.Paper.Reference != first.Reference {
			t.Errorf("revision %d is printed with %+v\nand shown with %q", number+1, d.Paper, c.shown.NotIncluded)
		}
	}
	if first.QuoteTerms == second.QuoteTerms {
		t.Error("both have the same terms of sale")
	}
	w.verify(t, w.Ours)
}

// TestLastDayOfAnOffer: an offer may end on the day it is made and not before;
// on its last day it stands, with its prices, and on the next it does not.
func TestLastDayOfAnOffer(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.dearer() // from 1 December
	q, version := s.create(nil)
	path := "/v1/quotes/" + q.Id
	p := s.do(auth.Sales, http.MethodPost, path+"/issue", version, object{"valid_until": "2026-11-24"}).
		want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/valid_until" || p.Errors[0].Code != "too_early" {
		t.Errorf("until yesterday: %+v", p.Errors)
	}
	g := s.do(auth.Sales, http.MethodPost, path+"/issue", version, object{"valid_until": "2026-11-25"})
	g.into(t, http.StatusOK, &q)
	if q.State != openapi.QuoteStateIssued || q.ValidUntil != "2026-11-25" || s.quote(q.Id).State != openapi.QuoteStateIssued {
		t.Errorf("until today: %s until %s", q.State, q.ValidUntil)
	}
	s.do(auth.Sales, http.MethodPost, path+"/links", g.header.Get("Etag"), nil).into(t, http.StatusCreated, new(openapi.Link))

	until := object{"valid_until": "2026-12-02"}
	held := map[string]string{}
	for _, day := range []string{"2026-12-02", "2026-12-03"} {
		s.on("2026-11-25")
		q, version := s.create(nil)
		g := s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+q.Id+"/issue", version, until)
		g.into(t, http.StatusOK, new(openapi.QuoteKept))
		s.on(day)
		draft, _ := s.revise(q.Id, g.header.Get("Etag"))
		held[day] = draft.HeldEdition + " " + lineOf(t, s.quote(q.Id).Vans[0].Price, "roof_elevating").Amount.Amount
	}
	if held["2026-12-02"] != "2026-10 4070.00" || held["2026-12-03"] != " 4444.00" {
		t.Errorf("by day of the revision, held are %q", held)
	}
}

// TestNothingOffered: what is asked of an offer where there is none says so,
// and what a draft is asked that only a frozen revision can tell.
func TestNothingOffered(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	path := "/v1/quotes/" + q.Id
	yes := object{"by": "Wren", "how": "counter", "place": "on the premises", "terms_sha256": strings.Repeat("0", 64)}
	for rest, body := range map[string]object{"/decline": {}, "/links": nil, "/acceptance": yes} {
		c := call{of: w.Ours, role: auth.Sales, method: http.MethodPost, path: path + rest, header: http.Header{"If-Match": {version}}}
		if body != nil {
			c.body = body
		}
		if p := w.exchange(t, c).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict); p.Detail != "Nothing is offered to the customer now." {
			t.Errorf("%s: %s", rest, p.Detail)
		}
	}
	s.do(auth.Sales, http.MethodGet, path+"/revisions/1/recomputed", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	p := s.do(auth.Sales, http.MethodPost, path+"/revise", version, nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if p.Detail != "A draft is open already." {
		t.Errorf("revising a draft: %s", p.Detail)
	}
	_, version = s.issue(q.Id, version)
	s.do(auth.Sales, http.MethodPost, path+"/decline", `"1"`, object{}).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	// A no while a draft follows is of the offer; the draft stays open.
	_, version = s.revise(q.Id, version)
	var told openapi.QuoteKept
	s.do(auth.Sales, http.MethodPost, path+"/decline", version, object{"because": "Too dear."}).into(t, http.StatusOK, &told)
	var declined openapi.Quote
	s.do(auth.Sales, http.MethodGet, path+"/revisions/1", "", nil).into(t, http.StatusOK, &declined)
	if now := s.quote(q.Id); told.State != openapi.QuoteStateDraft || now.State != openapi.QuoteStateDraft || now.Revision != 2 || now.DeclinedBecause != "" ||
		declined.State != openapi.QuoteStateDeclined || declined.DeclinedBecause != "Too dear." {
		t.Errorf("told %s, and it is %s, revision %d; the first is %s, %q", told.State, now.State, now.Revision, declined.State, declined.DeclinedBecause)
	}
	w.verify(t, w.Ours)
}

// TestDayIsTakenOver by a revision until it is over; then it is left open.
func TestDayIsTakenOver(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.dearer() // from 1 December
	for day, c := range map[string]struct{ asks, edition string }{
		"2026-11-25": {"", "2026-10"},
		"2026-11-26": {"2026-11-26", "2026-10"},
		"2026-12-02": {"2026-12-02", "2026-12"},
	} {
		s.on("2026-11-25")
		q, version := s.create(func(body object) { body["terms"] = object{"day": day} })
		_, version = s.issue(q.Id, version)
		s.on("2026-11-26")
		draft, _ := s.revise(q.Id, version)
		var content openapi.QuoteContent
		s.do(auth.Sales, http.MethodGet, "/v1/quotes/"+q.Id+"/content", "", nil).into(t, http.StatusOK, &content)
		if content.Terms.Day != c.asks || draft.Edition != c.edition {
			t.Errorf("priced as of %s, a day later it asks for %q and edition %s", day, content.Terms.Day, draft.Edition)
		}
	}
}

// TestQuoteIsSentAgain while more than its version decides what it shows: the
// day, what is published, and the registration of a van that is kept.
func TestQuoteIsSentAgain(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	keeper := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	kept := made[openapi.KeptVan](t, w, w.Ours, "/v1/vans", object{"customer": keeper.Id, "van": object{"base_van": "short_panel_van", "registration": "WT23 VAN"}})
	for name, c := range map[string]struct {
		change   func(object)
		declined int
	}{
		"described": {nil, http.StatusNotModified},
		"kept": {func(body object) {
			van := body["vans"].([]any)[0].(object)
			delete(van, "van")
			van["van_id"] = kept.Id
		}, http.StatusOK},
	} {
		q, version := s.create(c.change)
		path := "/v1/quotes/" + q.Id
		look := func(state string, want int) {
			t.Helper()
			g := w.exchange(t, call{of: w.Ours, role: auth.Sales, method: http.MethodGet, path: path, header: http.Header{"If-None-Match": {version}}})
			if g.status != want || g.header.Get("Etag") != version {
				t.Errorf("%s, %s: %d at %s and not %d at %s", name, state, g.status, g.header.Get("Etag"), want, version)
			}
		}
		look("draft", http.StatusOK)
		_, version = s.issue(q.Id, version)
		look("issued", http.StatusOK)
		version = s.do(auth.Sales, http.MethodPost, path+"/decline", version, object{}).header.Get("Etag")
		look("declined", c.declined)
	}
}

// TestListedAsItIsNow: quotes are listed by who is behind the dealer too, by
// what stands through an offer's last day, with the vans of the latest revision
// alone; and the enquiry that a quote came from is quoted.
func TestListedAsItIsNow(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	dealer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", object{"kind": "trade", "name": "Marrick Motors"})
	buyer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	asked := made[openapi.Enquiry](t, w, w.Ours, "/v1/enquiries", object{"customer": buyer.Id, "source": "a friend", "wants": "A roof."})
	content := func(registrations ...string) object {
		body := w.example(t, http.MethodPost, "/v1/quotes")
		body["customer"], body["end_customer"], body["enquiry"] = dealer.Id, buyer.Id, asked.Id
		var vans []any
		for _, r := range registrations {
			van := clone(t, body["vans"].([]any)[0].(object))
			van["van"].(object)["registration"] = r
			vans = append(vans, van)
		}
		body["vans"] = vans
		return body
	}
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", content("AB12 ONE"))
	var q openapi.QuoteKept
	g.into(t, http.StatusCreated, &q)
	if now := seen[openapi.Enquiry](t, w, w.Ours, "/v1/enquiries/"+asked.Id); now.State != openapi.EnquiryStateQuoted {
		t.Errorf("quoted, the enquiry is %s", now.State)
	}
	path := "/v1/quotes/" + q.Id
	g = s.do(auth.Sales, http.MethodPut, path, g.header.Get("Etag"), content("AB12 ONE", "AB12 TWO"))
	g.into(t, http.StatusOK, &q)
	g = s.do(auth.Sales, http.MethodPost, path+"/issue", g.header.Get("Etag"), object{"valid_until": "2026-11-30"})
	g.into(t, http.StatusOK, &q)
	listed := func(query string) (found []string) {
		t.Helper()
		var page openapi.Quotes
		s.do(auth.Sales, http.MethodGet, "/v1/quotes?"+query, "", nil).into(t, http.StatusOK, &page)
		for _, q := range page.Quotes {
			for _, v := range q.Vans {
				found = append(found, string(q.State)+" "+v.Registration)
			}
		}
		return found
	}
	both := func(state string) []string { return []string{state + " AB12 ONE", state + " AB12 TWO"} }
	list := func(when string, want map[string][]string) {
		t.Helper()
		for query, vans := range want {
			if found := listed(query); !slices.Equal(found, vans) {
				t.Errorf("%s, ?%s gives %q and not %q", when, query, found, vans)
			}
		}
	}
	list("issued", map[string][]string{"customer=" + dealer.Id: both("issued"), "customer=" + buyer.Id: both("issued"), "registration=ab12tw": both("issued")})
	var followed openapi.QuoteKept
	g = s.do(auth.Sales, http.MethodPut, path+"/follow-up", g.header.Get("Etag"), object{"follow_up_on": "2026-11-29", "note": "rings at noon"})
	g.into(t, http.StatusOK, &followed)
	if now := s.quote(q.Id); followed.FollowUpOn != "2026-11-29" || now.FollowUpOn != "2026-11-29" || now.Note != "rings at noon" || now.State != openapi.QuoteStateIssued {
		t.Errorf("to be asked again: %+v, and is %s, %s, %q", followed, now.State, now.FollowUpOn, now.Note)
	}
	s.on("2026-11-30")
	list("on the last day", map[string][]string{"state=issued": both("issued"), "state=lapsed": nil})
	s.on("2026-12-01")
	list("a day later", map[string][]string{"state=issued": nil, "state=lapsed": both("lapsed")})
	revision := s.do(auth.Sales, http.MethodPost, path+"/revisions", g.header.Get("Etag"), content("AB12 NEW"))
	revision.into(t, http.StatusCreated, &q)
	list("revised for another van", map[string][]string{
		"": {"draft AB12 NEW"}, "registration=ab12new": {"draft AB12 NEW"}, "registration=ab12two": nil, "state=lapsed": nil, "state=draft": {"draft AB12 NEW"},
	})
}

// TestIssuedIsTheDraftAsItStands: a server that keeps a draft at hand issues no
// other than the one that stands, whoever changed it meanwhile.
func TestIssuedIsTheDraftAsItStands(t *testing.T) {
	w := newWorld(t)
	here, there := seller{w, t, w.Ours}, seller{w.another(t), t, w.Ours}
	q, first := here.create(nil)
	body := w.example(t, http.MethodPost, "/v1/quotes")
	van := body["vans"].([]any)[0].(object)
	van["choices"].(object)["features"] = append(van["choices"].(object)["features"].([]any), object{"want": "sill_boards"})
	var changed openapi.QuoteKept
	g := there.do(auth.Sales, http.MethodPut, "/v1/quotes/"+q.Id, first, body)
	g.into(t, http.StatusOK, &changed)
	here.do(auth.Sales, http.MethodPost, "/v1/quotes/"+q.Id+"/issue", first, object{}).
		want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	issued, _ := here.issue(q.Id, g.header.Get("Etag"))
	if changed.Totals.Gross == q.Totals.Gross || issued.Totals.Gross != changed.Totals.Gross {
		t.Errorf("issued at %v; the draft was %v and then %v", issued.Totals.Gross, q.Totals.Gross, changed.Totals.Gross)
	}
	if d := here.frozen(q.Id, 1); d.Totals.Gross.Fixed() != changed.Totals.Gross.Amount {
		t.Errorf("frozen at %s", d.Totals.Gross)
	}
}
