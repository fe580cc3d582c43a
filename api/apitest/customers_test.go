package apitest

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// object is a body.
type object = map[string]any

// made sends a body that makes something, and gives the answer.
func made[T any](t testing.TB, w *world, of *Workshop, path string, body object) T {
	t.Helper()
	var into T
	w.exchange(t, call{method: http.MethodPost, path: path, of: of, role: auth.Sales, body: body}).into(t, http.StatusCreated, &into)
	return into
}

func seen[T any](t testing.TB, w *world, of *Workshop, path string) T {
	t.Helper()
	var into T
	w.exchange(t, call{method: http.MethodGet, path: path, of: of, role: auth.Owner}).into(t, http.StatusOK, &into)
	return into
}

// put changes a thing from a version.
func (w *world) put(t testing.TB, of *Workshop, path string, version int64, body object) got {
	t.Helper()
	return w.exchange(t, call{method: http.MethodPut, path: path, of: of, role: auth.Owner, body: body,
		header: http.Header{"If-Match": {fmt.Sprintf("%q", fmt.Sprint(version))}}})
}

func private(name, given string) object {
	c := object{"kind": "private", "name": name}
	if given != "" {
		c["given_names"] = given
	}
	return c
}

func TestCustomers(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	c := made[openapi.Customer](t, w, us, "/v1/customers", w.example(t, http.MethodPost, "/v1/customers"))
	if c.Version != 1 || c.KeepUntil != "2032-11-25" || c.Email != "ottoline@fairweather.example" || len(c.Vans) != 0 {
		t.Errorf("added %+v", c)
	}
	v := made[openapi.KeptVan](t, w, us, "/v1/vans", object{"customer": c.Id, "van": object{"base_van": "short_panel_van", "registration": "wt24 dmo", "vin": "WDB00000000000001", "weighed_front_kg": "1105.5", "weighed_day": "2026-11-02", "weighed_fuel_percent": 0, "weighed_people_count": 2, "plated_kg": "3100", "plated_front_kg": "1650", "plated_rear_kg": "1700.5"}, "words": "The grey one", "notes": "Dent."})
	got := seen[openapi.KeptVan](t, w, us, "/v1/vans/"+v.Id)
	if got.Van.Registration != "wt24 dmo" || got.Van.Vin != "WDB00000000000001" || got.Van.WeighedFrontKg != "1105.5" || got.Customer != c.Id || got.Notes != "Dent." {
		t.Errorf("the van is %+v", got)
	}
	if p := got.Van.WeighedFuelPercent; p == nil || *p != 0 || got.Van.WeighedDay != "2026-11-02" || got.Van.WeighedPeopleCount != 2 ||
		got.Van.PlatedKg != "3100" || got.Van.PlatedFrontKg != "1650" || got.Van.PlatedRearKg != "1700.5" {
		t.Errorf("its ticket and plate are %+v", got.Van)
	}
	now := seen[openapi.Customer](t, w, us, "/v1/customers/"+c.Id)
	if !slices.Equal(now.Vans, []string{v.Id}) {
		t.Errorf("their vans are %v", now.Vans)
	}
	// All of it, as it shall be; what is kept until stays.
	g := w.put(t, us, "/v1/customers/"+c.Id, 1, private("Fairweather-Moss", ""))
	now = openapi.Customer{}
	g.into(t, http.StatusOK, &now)
	if now.Version != 2 || now.Telephone != "" || now.KeepUntil != "2032-11-25" || g.header.Get("ETag") != `"2"` {
		t.Errorf("changed to %+v", now)
	}
	w.put(t, us, "/v1/customers/"+c.Id, 1, private("Late", "")).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	w.put(t, us, "/v1/customers/"+uuid.NewString(), 1, private("Nobody", "")).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	// A version that was read is not sent again, where it says everything.
	g = w.exchange(t, call{method: http.MethodGet, path: "/v1/vans/" + v.Id, of: us, role: auth.Workshop, header: http.Header{"If-None-Match": {`"1"`}}})
	if g.status != http.StatusNotModified {
		t.Errorf("the same van again: %d", g.status)
	}
	// Price list and credit are for the trade.
	body := private("Moss", "")
	body["price_list"], body["credit_days"] = "trade", 30
	p := w.exchange(t, call{method: http.MethodPost, path: "/v1/customers", of: us, role: auth.Sales, body: body}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(p.Errors) != 2 || p.Errors[0].Field != "/price_list" || p.Errors[1].Field != "/credit_days" {
		t.Errorf("%+v", p.Errors)
	}
	body["kind"] = "trade"
	if c := made[openapi.Customer](t, w, us, "/v1/customers", body); c.PriceList != "trade" || c.CreditDays == nil || *c.CreditDays != 30 {
		t.Errorf("a trade customer %+v", c)
	}
}

// TestFinding asks the one box for everything a customer is known by. What it
// finds in which order is the store's TestFindingCustomers.
func TestFinding(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	body := private("Fairweather", "Ottoline")
	body["telephone"], body["email"], body["address"] = "01632 960115", "ottoline@fairweather.example", object{"lines": []string{}, "postcode": "QX4 1ZZ"}
	ottoline := made[openapi.Customer](t, w, us, "/v1/customers", body)
	made[openapi.KeptVan](t, w, us, "/v1/vans", object{"customer": ottoline.Id, "van": object{"base_van": "short_panel_van", "registration": "WT24 DMO"}})
	for i := range 30 {
		made[openapi.Customer](t, w, us, "/v1/customers", private(fmt.Sprintf("Moss %02d", i), ""))
	}
	theirs := private("Fairweather", "Quillfeather")
	made[openapi.Customer](t, w, w.Theirs, "/v1/customers", theirs)
	w.Theirs.Words = append(w.Theirs.Words, "quillfeather")
	for _, find := range []string{"fairw", "Ottoline+Fairweather", "wt24dmo", "%2B44+1632+960115", "960115", "ottoline@"} {
		list := seen[openapi.Customers](t, w, us, "/v1/customers?find="+find)
		if len(list.Customers) != 1 || list.Customers[0].Id != ottoline.Id || !slices.Equal(list.Customers[0].Registrations, []string{"WT24 DMO"}) || list.Customers[0].Postcode != "QX4 1ZZ" {
			t.Errorf("%s finds %+v", find, list.Customers)
		}
	}
	// Page by page, by name; a cursor is good for its question and workshop.
	var names []string
	next := ""
	for {
		path := "/v1/customers?find=moss&limit=7"
		if next != "" {
			path += "&cursor=" + next
		}
		list := seen[openapi.Customers](t, w, us, path)
		for _, c := range list.Customers {
			names = append(names, c.Name)
		}
		if next = list.Next; next == "" {
			break
		}
	}
	if len(names) != 30 || !slices.IsSorted(names) {
		t.Errorf("page by page %v", names)
	}
	next = seen[openapi.Customers](t, w, us, "/v1/customers?find=moss&limit=7").Next
	ask := func(of *Workshop, path string) {
		t.Helper()
		w.exchange(t, call{method: http.MethodGet, path: path, of: of, role: auth.Owner, broken: true}).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	}
	ask(us, "/v1/customers?cursor="+next)
	ask(us, "/v1/vans?cursor="+next)
	ask(w.Theirs, "/v1/customers?find=moss&limit=7&cursor="+next)
	ask(us, "/v1/customers?find=moss&cursor="+next[:len(next)-2]+"AA")
	ask(us, "/v1/customers?find=a")
}

// TestReferencesStayInTheWorkshop names another workshop's things, and things
// nobody has, in every field that refers to one: both are told alike.
func TestReferencesStayInTheWorkshop(t *testing.T) {
	w := newWorld(t)
	us, them := w.Ours, w.Theirs
	ids := map[string][2]string{} // theirs, and nobody's
	for kind, makeOne := range map[string]func() string{
		"customer": func() string { return made[openapi.Customer](t, w, them, "/v1/customers", private("Theirs", "")).Id },
		"van": func() string {
			return made[openapi.KeptVan](t, w, them, "/v1/vans", object{"van": object{"base_van": "short_panel_van", "registration": "TH31 RSX"}}).Id
		},
	} {
		ids[kind] = [2]string{makeOne(), uuid.NewString()}
	}
	ids["quote"] = [2]string{w.createQuote(t, them).Id, uuid.NewString()}
	ours := made[openapi.Customer](t, w, us, "/v1/customers", private("Ours", "")).Id
	deposit := object{"amount": "100.00", "currency": "GBP"}
	bodies := map[string]func() object{
		"/v1/vans":         func() object { return object{"van": object{"base_van": "short_panel_van"}} },
		"/v1/enquiries":    func() object { return object{"source": "Fair", "wants": "A bed."} },
		"/v1/reservations": func() object { return object{"customer": ours, "deposit": deposit, "agree_by": "2027-01-15"} },
	}
	changes := map[string]object{}
	for path, body := range bodies {
		m := made[object](t, w, us, path, body())
		b := body()
		if path == "/v1/reservations" {
			b = object{"agree_by": "2027-01-15", "state": "held"}
		}
		changes[path+"/"+m["id"].(string)] = b
	}
	for _, c := range []struct {
		path, field, kind string
	}{
		{"/v1/vans", "customer", "customer"},
		{"/v1/enquiries", "customer", "customer"},
		{"/v1/enquiries", "van", "van"},
		{"/v1/reservations", "customer", "customer"},
		{"/v1/reservations", "van", "van"},
		{"/v1/reservations", "quote", "quote"},
	} {
		var told [2]openapi.Problem
		for i, id := range ids[c.kind] {
			body := bodies[c.path]()
			body[c.field] = id
			p := w.exchange(t, call{method: http.MethodPost, path: c.path, of: us, role: auth.Owner, body: body}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
			if len(p.Errors) != 1 || p.Errors[0].Field != "/"+c.field {
				t.Errorf("%s of %s: %+v", c.field, c.path, p.Errors)
			}
			p.RequestId = ""
			told[i] = p
			for path, body := range changes {
				if !strings.HasPrefix(path, c.path) || (c.path == "/v1/reservations" && c.field == "customer") {
					continue
				}
				changed := object{}
				maps.Copy(changed, body)
				changed[c.field] = id
				w.put(t, us, path, 1, changed).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
			}
		}
		if fmt.Sprint(told[0]) != fmt.Sprint(told[1]) {
			t.Errorf("%s of %s: another workshop's is told as %+v, nobody's as %+v", c.field, c.path, told[0], told[1])
		}
	}
	// In questions they are as if they were not.
	for _, path := range []string{"/v1/vans?customer=", "/v1/enquiries?customer=", "/v1/reservations?customer=", "/v1/quotes?customer="} {
		for _, id := range ids["customer"] {
			g := w.exchange(t, call{method: http.MethodGet, path: path + id, of: us, role: auth.Owner})
			if list := strings.Index(string(g.body), `[]`); g.status != http.StatusOK || list < 0 {
				t.Errorf("%s: %d %s", path, g.status, g.body)
			}
		}
	}
}

// TestEnquiriesAndWhatToChase: what is due today, the longest due first.
func TestEnquiriesAndWhatToChase(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	c := made[openapi.Customer](t, w, us, "/v1/customers", private("Fairweather", "Ottoline"))
	ask := func(wants, followUp string) openapi.Enquiry {
		return made[openapi.Enquiry](t, w, us, "/v1/enquiries", object{"customer": c.Id, "source": "Fair", "wants": wants, "follow_up_on": followUp})
	}
	late, due, later := ask("late", "2026-11-20"), ask("due", "2026-11-25"), ask("later", "2026-11-26")
	closed := ask("closed", "2026-11-01")
	if late.State != openapi.EnquiryStateOpen || late.ReceivedOn != "2026-11-25" {
		t.Errorf("added %+v", late)
	}
	w.put(t, us, "/v1/enquiries/"+closed.Id, 1, object{"customer": c.Id, "source": "Fair", "wants": "closed", "state": "closed", "closed_because": "Bought another."}).into(t, http.StatusOK, &closed)
	if closed.ReceivedOn != "2026-11-25" || closed.ClosedBecause != "Bought another." {
		t.Errorf("closed %+v", closed)
	}
	chased := func(path string) (wants []string) {
		list := seen[openapi.ToChase](t, w, us, path)
		for _, item := range list.Items {
			if item.Because != openapi.ToChaseItemBecauseEnquiry || item.DueOn != item.Enquiry.FollowUpOn || item.Customer.Name != "Fairweather" {
				t.Errorf("%+v", item)
			}
			wants = append(wants, item.Enquiry.Wants)
		}
		return wants
	}
	if got := chased("/v1/to-chase"); !slices.Equal(got, []string{"late", "due"}) {
		t.Errorf("to chase today: %v", got)
	}
	if got := chased("/v1/to-chase?day=2026-11-26"); !slices.Equal(got, []string{"late", "due", "later"}) {
		t.Errorf("to chase tomorrow: %v", got)
	}
	for query, want := range map[string]int{"": 4, "?state=open": 3, "?state=closed": 1, "?follow_up_by=2026-11-25": 2, "?customer=" + c.Id: 4, "?limit=2": 2, "?state=quoted": 0} {
		if list := seen[openapi.Enquiries](t, w, us, "/v1/enquiries"+query); len(list.Enquiries) != want || (query == "?limit=2") != (list.Next != "") {
			t.Errorf("%s: %d enquiries, next %q", query, len(list.Enquiries), list.Next)
		}
	}
	_, _ = due, later
}

func TestReservations(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	c := made[openapi.Customer](t, w, us, "/v1/customers", private("Fairweather", ""))
	ask := func(amount, currency, agreeBy, slot string) call {
		body := object{"customer": c.Id, "deposit": object{"amount": amount, "currency": currency}, "agree_by": agreeBy}
		if slot != "" {
			body["slot_wanted_on"] = slot
		}
		return call{method: http.MethodPost, path: "/v1/reservations", of: us, role: auth.Sales, body: body}
	}
	var r openapi.Reservation
	w.exchange(t, ask("1000.00", "GBP", "2027-01-15", "2027-02-01")).into(t, http.StatusCreated, &r)
	// RF, check digits and the number after a mark: by hand, 27 000001 2715 00
	// leaves 98 - remainder by 97 (ISO 7064, MOD 97-10).
	if check := 98 - 27_000001_2715_00%97; r.Number != 1 || r.Reference != fmt.Sprintf("RF%02dR000001", check) || r.State != openapi.ReservationStateHeld || r.Deposit.Amount != "1000.00" {
		t.Errorf("reserved %+v", r)
	}
	for _, bad := range []struct {
		ask   call
		field string
	}{
		{ask("0.00", "GBP", "2027-01-15", ""), "/deposit/amount"},
		{ask("-1.00", "GBP", "2027-01-15", ""), "/deposit/amount"},
		{ask("1.001", "GBP", "2027-01-15", ""), "/deposit"},
		{ask("1.00", "EUR", "2027-01-15", ""), "/deposit/currency"},
		{ask("1.00", "XQX", "2027-01-15", ""), "/deposit"},
		{ask("1.00", "GBP", "2026-11-24", ""), "/agree_by"},
		{ask("1.00", "GBP", "2027-01-15", "2027-01-14"), "/slot_wanted_on"},
	} {
		p := w.exchange(t, bad.ask).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
		if len(p.Errors) != 1 || p.Errors[0].Field != bad.field {
			t.Errorf("%v: %+v", bad.ask.body, p.Errors)
		}
	}
	path := "/v1/reservations/" + r.Id
	w.put(t, us, path, 1, object{"agree_by": "2027-02-15", "state": "held"}).into(t, http.StatusOK, &r)
	w.put(t, us, path, 1, object{"agree_by": "2027-02-15", "state": "held"}).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	w.put(t, us, path, 2, object{"agree_by": "2027-02-15", "state": "taken up"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	q := w.createQuote(t, us)
	taken := object{"agree_by": "2027-02-15", "state": "taken up", "quote": q.Id}
	w.put(t, us, path, 2, taken).into(t, http.StatusOK, &r)
	if r.Quote != q.Id || r.State != openapi.ReservationStateTakenUp || r.Version != 3 {
		t.Errorf("taken up %+v", r)
	}
	// That is its end; only notes may follow.
	for _, state := range []string{"held", "released"} {
		w.put(t, us, path, 3, object{"agree_by": "2027-02-15", "state": state, "quote": q.Id}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	}
	w.put(t, us, path, 3, object{"agree_by": "2027-02-16", "state": "taken up", "quote": q.Id}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	taken["notes"] = "Paid in cash."
	w.put(t, us, path, 3, taken).into(t, http.StatusOK, &r)
	if list := seen[openapi.Reservations](t, w, us, "/v1/reservations?state=taken+up&customer="+c.Id); len(list.Reservations) != 1 || list.Reservations[0].Notes != "Paid in cash." {
		t.Errorf("listed %+v", list)
	}
}

// TestSixtyFourWritersOnOneCustomer: each change is made from the one before,
// and none is lost.
func TestSixtyFourWritersOnOneCustomer(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	c := made[openapi.Customer](t, w, us, "/v1/customers", private("Fairweather", ""))
	const writers = 64
	var wg sync.WaitGroup
	for i := range writers {
		wg.Go(func() {
			for {
				now := seen[openapi.Customer](t, w, us, "/v1/customers/"+c.Id)
				body := private("Fairweather", "")
				body["notes"] = now.Notes + fmt.Sprintf("%02d ", i)
				g := w.put(t, us, "/v1/customers/"+c.Id, now.Version, body)
				if g.status == http.StatusOK {
					return
				}
				g.want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
			}
		})
	}
	wg.Wait()
	now := seen[openapi.Customer](t, w, us, "/v1/customers/"+c.Id)
	said := strings.Fields(now.Notes)
	slices.Sort(said)
	if now.Version != writers+1 || len(slices.Compact(said)) != writers {
		t.Errorf("version %d, notes of %d: %s", now.Version, len(said), now.Notes)
	}
}

func TestSettings(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	now := seen[openapi.WorkshopSettings](t, w, us, "/v1/workshop")
	if now.Version != 1 || now.Country != "GB" || now.ValidDays != 30 || len(now.CancellationRights) != 1 || now.Letterhead.Name != "Withermere Camper Works" {
		t.Errorf("the demo's settings are %+v", now)
	}
	body := w.example(t, http.MethodPut, "/v1/workshop")
	body["name"], body["valid_days"] = "Withermere and Daughters", 14
	if now.Rework == nil || *now.Rework != (openapi.ReworkRule{RemovalPercent: 50, RefittingPercent: 25}) || now.WarrantyMonths != 12 {
		t.Errorf("a workshop begins with %+v and %d months", now.Rework, now.WarrantyMonths)
	}
	delete(body, "cancellation_rights")
	body["rework"], body["warranty_months"] = object{"removal_percent": 0, "refitting_percent": 0}, 24
	w.put(t, us, "/v1/workshop", 1, body).into(t, http.StatusOK, &now)
	if now.Version != 2 || now.Name != "Withermere and Daughters" || now.ValidDays != 14 || len(now.CancellationRights) != 1 || now.QuoteTerms == "" {
		t.Errorf("set %+v", now)
	}
	delete(body, "rework")
	delete(body, "warranty_months")
	now = openapi.WorkshopSettings{}
	w.put(t, us, "/v1/workshop", 2, body).into(t, http.StatusOK, &now)
	if now.Rework == nil || *now.Rework != (openapi.ReworkRule{}) || now.WarrantyMonths != 24 {
		t.Errorf("left out, they are %+v and %d months", now.Rework, now.WarrantyMonths)
	}
	w.put(t, us, "/v1/workshop", 1, body).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	if again := seen[openapi.WorkshopSettings](t, w, us, "/v1/workshop"); again.Name != now.Name || again.Version != 3 {
		t.Errorf("read %+v", again)
	}
	if theirs := seen[openapi.WorkshopSettings](t, w, w.Theirs, "/v1/workshop"); theirs.Name != "Quillfeather Vans" {
		t.Errorf("theirs: %+v", theirs)
	}
}
