package apitest

import (
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// vanAt is a van of a quote, named by its id.
func vanAt(id string) object {
	return object{"van_id": id, "choices": object{"features": []any{object{"want": "whole_conversion"}, object{"want": "roof_elevating"}}}, "settle": "by defaults"}
}

// keptVan keeps a van of somebody's.
func (s seller) keptVan(customer, registration string) openapi.KeptVan {
	s.t.Helper()
	return made[openapi.KeptVan](s.t, s.world, s.shop, "/v1/vans", object{
		"customer": customer, "van": object{"base_van": "short_panel_van", "registration": registration, "weighed_front_kg": "1100", "weighed_rear_kg": "900"},
	})
}

// plates are the registrations a quote shows, and where its page says them too.
func (s seller) plates(id string) (list []string) {
	s.t.Helper()
	for _, v := range s.quote(id).Vans {
		list = append(list, v.Van.Registration)
	}
	return list
}

func (s seller) found(registration string) (ids []string) {
	s.t.Helper()
	var page openapi.Quotes
	s.do(auth.Sales, http.MethodGet, "/v1/quotes?registration="+registration, "", nil).into(s.t, http.StatusOK, &page)
	for _, q := range page.Quotes {
		ids = append(ids, q.Id)
	}
	slices.Sort(ids)
	return ids
}

// TestVansThatAreNotThere: a van that nobody has and one that another workshop
// has are answered alike, each at its own place, and nothing is kept.
func TestVansThatAreNotThere(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	ours := s.keptVan(made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede")).Id, "WT23 VAN")
	theirs := made[openapi.KeptVan](t, w, w.Theirs, "/v1/vans", object{"van": object{"base_van": "short_panel_van"}})
	const nobodys = "01900000-0000-7000-8000-000000000000"
	q, version := s.create(nil)
	for _, c := range []struct{ method, path, version string }{
		{http.MethodPost, "/v1/quotes", ""}, {http.MethodPut, "/v1/quotes/" + q.Id, version},
	} {
		p := s.do(auth.Sales, c.method, c.path, c.version, object{"vans": []any{vanAt(nobodys), vanAt(ours.Id), vanAt(theirs.Id)}}).
			want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
		if len(p.Errors) != 2 || p.Errors[0].Field != "/vans/0/van_id" || p.Errors[1].Field != "/vans/2/van_id" {
			t.Fatalf("%s: %+v", c.method, p.Errors)
		}
		one, two := p.Errors[0], p.Errors[1]
		if one.Field, two.Field = "", ""; !reflect.DeepEqual(one, two) {
			t.Errorf("nobody's is %+v\nand theirs is %+v", one, two)
		}
	}
	if now := s.quote(q.Id); now.Version != 1 || len(now.Vans) != 1 {
		t.Errorf("what was refused changed the quote: %+v", now)
	}
	// Neither, and both, are faults of the place.
	both := vanAt(ours.Id)
	both["van"] = object{"base_van": "short_panel_van"}
	neither := vanAt(ours.Id)
	delete(neither, "van_id")
	p := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", object{"vans": []any{both, neither}}).
		want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	if len(p.Errors) != 2 || p.Errors[0].Field != "/vans/0" || p.Errors[1].Field != "/vans/1" {
		t.Errorf("%+v", p.Errors)
	}
}

// TestTwoQuotesOnOneVan: one van can be quoted for twice, though not in one
// quote; both are found by it, and with the registration it has now.
func TestTwoQuotesOnOneVan(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	customer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede")).Id
	v, another := s.keptVan(customer, "WT23 VAN"), s.keptVan(customer, "YC24 SAL")
	p := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", object{"vans": []any{vanAt(v.Id), vanAt(v.Id)}}).
		want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/vans/1/van_id" || p.Errors[0].Code != "given_twice" {
		t.Errorf("twice in one quote: %+v", p.Errors)
	}
	var ids []string
	var versions []string
	for _, vans := range [][]any{{vanAt(v.Id)}, {vanAt(v.Id), vanAt(another.Id)}} {
		q, version := s.create(func(body map[string]any) { body["vans"] = vans })
		_, version = s.issue(q.Id, version)
		ids, versions = append(ids, q.Id), append(versions, version)
	}
	both := slices.Sorted(slices.Values(ids))
	if found := s.found("wt23v"); !slices.Equal(found, both) {
		t.Errorf("the van finds %v, and should %v", found, both)
	}
	before := s.quote(ids[0])
	w.put(t, w.Ours, "/v1/vans/"+v.Id, 1, object{"customer": v.Customer, "van": object{"base_van": "short_panel_van", "registration": "B16 BED"}}).
		into(t, http.StatusOK, new(openapi.KeptVan))
	if old, now := s.found("wt23"), s.found("b16bed"); len(old) != 0 || !slices.Equal(now, both) {
		t.Errorf("with its new plates the old finds %v, the new %v", old, now)
	}
	if now := s.quote(ids[0]); now.Sha256 != before.Sha256 || now.Vans[0].Van.Registration != "B16 BED" || now.Version != before.Version {
		t.Errorf("the quote shows %+v", now.Vans[0].Van)
	}
	// A job each: a yes to one is none to the other.
	for i, id := range ids {
		var accepted openapi.Acceptance
		s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+id+"/acceptance", versions[i], object{
			"by": "Bede", "how": "counter", "place": "on the premises", "terms_sha256": before.TermsSha256,
		}).into(t, http.StatusCreated, &accepted)
		if len(accepted.JobReferences) != i+1 {
			t.Errorf("quote %d has jobs %v", i+1, accepted.JobReferences)
		}
		if i == 0 && s.quote(ids[1]).State != openapi.QuoteStateIssued {
			t.Error("a yes to one moved the other")
		}
	}
	w.verify(t, w.Ours)
}

// TestVanThatChanges: a draft is of the van as it is now; what is issued keeps
// its facts, and shows its plate of now, which is not in what is frozen.
func TestVanThatChanges(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	v := s.keptVan(made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede")).Id, "WT23 VAN")
	q, version := s.create(func(body map[string]any) { body["vans"] = []any{vanAt(v.Id)} })
	path := "/v1/quotes/" + q.Id
	weighs := func(n int64, front, plate string) {
		t.Helper()
		w.put(t, w.Ours, "/v1/vans/"+v.Id, n, object{"customer": v.Customer, "van": object{
			"base_van": "short_panel_van", "registration": plate, "weighed_front_kg": front, "weighed_rear_kg": "900",
		}}).into(t, http.StatusOK, new(openapi.KeptVan))
	}
	left := s.quote(q.Id).Vans[0].Totals.Mass.LeftKg
	weighs(1, "1200", "WT23 NEW")
	draft := s.quote(q.Id)
	if shown := draft.Vans[0].Van; shown.WeighedFrontKg != "1200" || shown.Registration != "WT23 NEW" {
		t.Errorf("the draft shows %+v", shown)
	}
	if less := money(t, openapi.Money{Amount: left}).Sub(money(t, openapi.Money{Amount: draft.Vans[0].Totals.Mass.LeftKg})); less.String() != "100" {
		t.Errorf("100 kg more on the front leave %s less", less)
	}
	issued, version := s.issue(q.Id, version)
	frozen := s.quote(q.Id)
	weighs(2, "1300", "WT23 ALT")
	now := s.quote(q.Id)
	if now.Sha256 != issued.Sha256 || now.Vans[0].Van.WeighedFrontKg != "1200" || now.Vans[0].Totals.Mass != frozen.Vans[0].Totals.Mass {
		t.Errorf("what was issued is %+v, and was %+v", now.Vans[0], frozen.Vans[0])
	}
	if plates := s.plates(q.Id); !slices.Equal(plates, []string{"WT23 ALT"}) {
		t.Errorf("its plate is %v", plates)
	}
	var again openapi.Recomputed
	s.do(auth.Books, http.MethodGet, path+"/revisions/1/recomputed", "", nil).into(t, http.StatusOK, &again)
	if !again.Same {
		t.Errorf("worked out again: %+v", again.Differences)
	}
	// The next revision is of the van as it is then.
	s.revise(q.Id, version)
	if shown := s.quote(q.Id).Vans[0].Van; shown.WeighedFrontKg != "1300" {
		t.Errorf("the revision shows %+v", shown)
	}
	var first openapi.Quote
	s.do(auth.Sales, http.MethodGet, path+"/revisions/1", "", nil).into(t, http.StatusOK, &first)
	if first.Vans[0].Van.WeighedFrontKg != "1200" {
		t.Errorf("the first revision shows %+v", first.Vans[0].Van)
	}
}

// TestVanOfAnErasedKeeper: a van outlives its keeper's name. It can be quoted
// for whoever has it now, and gets its plate from them.
func TestVanOfAnErasedKeeper(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	gone := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	v := s.keptVan(gone.Id, "WT23 VAN")
	buyer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Marram", "Ada"))
	of := func(body map[string]any) { body["vans"], body["customer"] = []any{vanAt(v.Id)}, buyer.Id }
	q, version := s.create(of)
	issued, version := s.issue(q.Id, version)
	s.on("2032-11-26")
	s.do(auth.Owner, http.MethodPost, "/v1/customers/"+gone.Id+"/erasure", `"1"`, nil).into(t, http.StatusOK, new(openapi.Customer))
	if now := s.quote(q.Id); now.Sha256 != issued.Sha256 || now.Vans[0].Van.Registration != "" || now.Vans[0].VanId != v.Id || now.Customer != buyer.Id {
		t.Errorf("the buyer's quote: %+v", now.Vans[0])
	}
	s.revise(q.Id, version)
	again, _ := s.create(of)
	kept := seen[openapi.KeptVan](t, w, w.Ours, "/v1/vans/"+v.Id)
	w.put(t, w.Ours, "/v1/vans/"+v.Id, kept.Version, object{"customer": buyer.Id, "van": object{"base_van": "short_panel_van", "registration": "WT23 VAN"}}).
		into(t, http.StatusOK, new(openapi.KeptVan))
	for _, id := range []string{q.Id, again.Id} {
		if plates := s.plates(id); strings.Join(plates, " ") != "WT23 VAN" {
			t.Errorf("its plate is %v", plates)
		}
	}
	w.verify(t, w.Ours)
}
