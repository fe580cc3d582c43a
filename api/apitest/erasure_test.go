package apitest

import (
	"bytes"
	"fmt"
	"maps"
	"net/http"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// personal is what must be gone, each in a field of its own.
var personal = []string{
	"Zephyrweather", "Ottilinde", "Contactina", "1632960115", "01632 960 115", "07700900987", "ottilinde@zephyr.example", "7 Vanishing Row", "ZQ4 1ZZ",
	"GB 987 6543 21", "notes on her", "ZE22 PHR", "ZE22PHR", "WDBZEPHYR00000001", "her grey van", "dented by her", "wants of hers", "notes of the enquiry",
	"closed by her", "recommended by her aunt", "reservation note", "quote note", "declined by her", "YX11 ZEP", "YX11ZEP", "zephyrweather", "ottilinde",
}

// TestErasure fills every field that holds something personal, erases the
// customer, and looks for every word of it in all that is left: answers, the
// log, and the bytes of the database's files. Everything still verifies.
func TestErasure(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	long := strings.Repeat("notes on her ", 700) // longer than a page of the database
	c := made[openapi.Customer](t, w, us, "/v1/customers", object{
		"kind": "trade", "name": "Zephyrweather", "given_names": "Ottilinde", "contact": "Contactina", "telephone": "01632 960 115",
		"other_telephone": "07700900987", "email": "ottilinde@zephyr.example", "address": object{"lines": []string{"7 Vanishing Row"}, "postcode": "ZQ4 1ZZ", "country": "GB"},
		"vat_number": "GB 987 6543 21", "notes": long,
	})
	v := made[openapi.KeptVan](t, w, us, "/v1/vans", object{
		"customer": c.Id, "van": object{"base_van": "short_panel_van", "registration": "ZE22 PHR", "vin": "WDBZEPHYR00000001"[:17]}, "words": "her grey van", "notes": "dented by her",
	})
	e := made[openapi.Enquiry](t, w, us, "/v1/enquiries", object{"customer": c.Id, "van": v.Id, "source": "recommended by her aunt", "wants": "wants of hers", "notes": "notes of the enquiry"})
	e2 := made[openapi.Enquiry](t, w, us, "/v1/enquiries", object{"customer": c.Id, "source": "Fair", "wants": "wants of hers"})
	r := made[openapi.Reservation](t, w, us, "/v1/reservations", object{"customer": c.Id, "van": v.Id, "deposit": object{"amount": "100.00", "currency": "GBP"}, "agree_by": "2027-01-15", "notes": "reservation note"})
	quoteBody := func(van object) object {
		body := w.example(t, http.MethodPost, "/v1/quotes")
		one := body["vans"].([]any)[0].(map[string]any)
		delete(one, "van")
		delete(one, "van_id")
		maps.Copy(one, van)
		delete(body, "end_customer")
		delete(body, "enquiry")
		body["customer"], body["note"] = c.Id, "quote note"
		body["vans"] = []any{one}
		return body
	}
	kept := made[openapi.Quote](t, w, us, "/v1/quotes", quoteBody(object{"van_id": v.Id}))
	other := made[openapi.Quote](t, w, us, "/v1/quotes", quoteBody(object{"van": object{"base_van": "short_panel_van", "registration": "YX11 ZEP"}}))

	erase := func(version string) got {
		return w.exchange(t, call{method: http.MethodPost, path: "/v1/customers/" + c.Id + "/erasure", of: us, role: auth.Owner, header: http.Header{"If-Match": {version}}})
	}
	// Everything that stands in the way is named, and until when.
	p := erase(`"1"`).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var named []string
	for _, f := range p.Errors {
		named = append(named, f.Field+" "+f.Code)
	}
	slices.Sort(named)
	want := []string{"enquiries/" + e.Id + " open", "enquiries/" + e2.Id + " open", "keep_until kept", "quotes/" + kept.Id + " draft", "quotes/" + other.Id + " draft", "reservations/" + r.Id + " held"}
	slices.Sort(want)
	if !slices.Equal(named, want) {
		t.Errorf("in the way are %q\nand should be %q", named, want)
	}
	// The customer may have it all first.
	export := seen[openapi.CustomerExport](t, w, us, "/v1/customers/"+c.Id+"/export")
	if len(export.Vans) != 1 || len(export.Enquiries) != 2 || len(export.Quotes) != 2 || len(export.Reservations) != 1 || export.Customer.Notes != long {
		t.Errorf("the export has %d vans, %d enquiries, %d quotes, %d reservations", len(export.Vans), len(export.Enquiries), len(export.Quotes), len(export.Reservations))
	}
	// Business comes to an end, one way or another.
	for _, one := range []openapi.Enquiry{e, e2} {
		w.put(t, us, "/v1/enquiries/"+one.Id, 1, object{"customer": c.Id, "source": one.Source, "wants": one.Wants, "notes": "notes of the enquiry", "state": "closed", "closed_because": "closed by her"}).into(t, http.StatusOK, new(openapi.Enquiry))
	}
	w.put(t, us, "/v1/reservations/"+r.Id, 1, object{"van": v.Id, "agree_by": "2027-01-15", "state": "released", "notes": "reservation note"}).into(t, http.StatusOK, &r)
	for i, act := range []struct {
		path string
		body object
	}{{"issue", object{}}, {"decline", object{"because": "declined by her"}}} {
		g := w.exchange(t, call{method: http.MethodPost, path: "/v1/quotes/" + other.Id + "/" + act.path, of: us, role: auth.Owner, body: act.body,
			header: http.Header{"If-Match": {fmt.Sprintf(`"%d"`, i+1)}}})
		if g.status >= http.StatusBadRequest {
			t.Fatalf("%s: %d %s", act.path, g.status, g.body)
		}
	}
	erase(`"1"`).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict) // still to be kept
	all := object{
		"kind": "trade", "name": "Zephyrweather", "given_names": "Ottilinde", "contact": "Contactina", "telephone": "01632 960 115",
		"other_telephone": "07700900987", "email": "ottilinde@zephyr.example", "address": object{"lines": []string{"7 Vanishing Row"}, "postcode": "ZQ4 1ZZ", "country": "GB"},
		"vat_number": "GB 987 6543 21", "notes": long, "keep_until": "2026-11-24",
	}
	w.put(t, us, "/v1/customers/"+c.Id, 1, all).into(t, http.StatusOK, &c)
	// A draft is business for as long as an offer would stand.
	p = erase(`"2"`).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != 1 || p.Errors[0].Field != "quotes/"+kept.Id {
		t.Errorf("in the way are still %+v", p.Errors)
	}
	w.Clock.Advance(31 * 24 * time.Hour)
	for role, who := range us.Principal {
		us.Token[role] = w.issue(t, who, SigningKey)
	}
	if left := w.leftInFiles(t); len(left) < len(personal)-1 {
		t.Errorf("before erasing, only %q can be found in the files: the search is blind", left)
	}
	erase(`"1"`).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	var gone openapi.Customer
	erase(`"2"`).into(t, http.StatusOK, &gone)
	if gone.ErasedAt.IsZero() || gone.Version != 3 || gone.Id != c.Id || gone.Name != "" || !slices.Equal(gone.Vans, []string{v.Id}) {
		t.Errorf("erased %+v", gone)
	}
	erase(`"3"`).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)

	w.holdGone(t, us, c.Id, v.Id, []string{e.Id, e2.Id}, r.Id, []string{kept.Id, other.Id})
	if left := w.leftInFiles(t); len(left) > 0 {
		t.Errorf("the database's files still hold %q", left)
	}
	if source := seen[openapi.Enquiry](t, w, us, "/v1/enquiries/"+e2.Id).Source; source != "Fair" {
		t.Errorf("a source the workshop offers became %q", source)
	}
	// Nothing new for one who is not there any more.
	w.put(t, us, "/v1/customers/"+c.Id, 3, private("Back", "")).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	w.exchange(t, call{method: http.MethodPost, path: "/v1/vans", of: us, role: auth.Sales, body: object{"customer": c.Id, "van": object{"base_van": "short_panel_van"}}}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	err := w.Store.As(us.Principal[auth.Owner]).Read(t.Context(), func(tx store.ReadTx) error {
		_, err := tx.VerifyJournal()
		return err
	})
	if err != nil {
		t.Errorf("after the erasure: %v", err)
	}
}

// holdGone asks for everything about the customer and searches the answers and
// the log.
func (w *world) holdGone(t *testing.T, us *Workshop, customer, van string, enquiries []string, reservation string, quotes []string) {
	t.Helper()
	paths := []string{"/v1/customers", "/v1/customers/" + customer, "/v1/customers/" + customer + "/export", "/v1/vans", "/v1/vans/" + van,
		"/v1/enquiries", "/v1/reservations", "/v1/quotes", "/v1/quotes?customer=" + customer, "/v1/journal?limit=100", "/v1/to-chase?day=2030-01-01"}
	if reservation != "" {
		paths = append(paths, "/v1/reservations/"+reservation)
	}
	for _, id := range enquiries {
		paths = append(paths, "/v1/enquiries/"+id)
	}
	for _, id := range quotes {
		paths = append(paths, "/v1/quotes/"+id, "/v1/quotes/"+id+"/revisions")
	}
	for _, path := range paths {
		g := w.exchange(t, call{method: http.MethodGet, path: path, of: us, role: auth.Owner})
		if g.status != http.StatusOK {
			t.Errorf("%s: %d %s", path, g.status, g.body)
		}
		for _, word := range personal {
			if strings.Contains(string(g.body), word) {
				t.Errorf("%s still says %q", path, word)
			}
		}
	}
	for _, find := range []string{"zephyr", "ottilinde", "ZE22PHR", "01632960115", "zephyr.example"} {
		if list := seen[openapi.Customers](t, w, us, "/v1/customers?find="+find); len(list.Customers) != 0 {
			t.Errorf("%s finds %+v", find, list.Customers)
		}
	}
	for _, word := range personal {
		if strings.Contains(w.Log.String(), word) {
			t.Errorf("the log holds %q", word)
		}
	}
}

// leftInFiles are the personal words, and those of more, that the files of the
// database hold. The
// files are read by another program: one that opens and closes the database
// itself drops SQLite's locks on it.
func (w *world) leftInFiles(t *testing.T, more ...string) (left []string) {
	t.Helper()
	path, file := store.AtFile(w.Address)
	if !file {
		t.Skip("the server keeps its own files")
	}
	names, err := filepath.Glob(path + "*")
	if err != nil || len(names) == 0 {
		t.Fatalf("no files: %v", err)
	}
	held, err := exec.CommandContext(t.Context(), "cat", names...).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, word := range slices.Concat(personal, more) {
		if bytes.Contains(held, []byte(word)) {
			left = append(left, word)
		}
	}
	return left
}
