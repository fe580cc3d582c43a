package apitest

import (
	"bytes"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestFleet: three vans in one quote, two of them alike. Each is its own job
// with its own sheet, the quote is their sum, and what is ticked on one of the
// two that are alike is on that one only.
func TestFleet(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	van := func(base, plate string, want ...string) object {
		var features []any
		for _, f := range want {
			features = append(features, object{"want": f})
		}
		return object{
			"van": object{"base_van": base, "registration": plate}, "choices": object{"features": features},
			"settle": "by defaults", "extras": []any{object{"feature": "awning_rail"}},
		}
	}
	var q openapi.QuoteKept
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", object{"vans": []any{
		van("short_panel_van", "HF21 ONE", "whole_conversion", "roof_elevating", "hob_two"),
		van("short_panel_van", "HF21 TWO", "whole_conversion", "roof_elevating", "hob_two"),
		van("long_panel_van", "HF21 SIX", "roof_only", "roof_elevating"),
	}})
	g.into(t, http.StatusCreated, &q)
	path := "/v1/quotes/" + q.Id
	_, version := s.issue(q.Id, g.header.Get("Etag"))
	read := s.quote(q.Id)
	sums(t, &read)
	if one, two := read.Vans[0].Totals, read.Vans[1].Totals; one.Gross != two.Gross || one.Hours != two.Hours || read.Vans[2].Totals.Gross == one.Gross {
		t.Errorf("two alike come to %v and %v, the third to %v", one.Gross, two.Gross, read.Vans[2].Totals.Gross)
	}
	for i, plate := range []string{"HF21 ONE", "HF21 TWO", "HF21 SIX"} {
		if read.Vans[i].Van.Registration != plate {
			t.Errorf("van %d is %s", i+1, read.Vans[i].Van.Registration)
		}
	}
	for _, plate := range []string{"hf21one", "hf21six"} {
		var page openapi.Quotes
		s.do(auth.Sales, http.MethodGet, "/v1/quotes?registration="+plate, "", nil).into(t, http.StatusOK, &page)
		if len(page.Quotes) != 1 || page.Quotes[0].Id != q.Id || len(page.Quotes[0].Vans) != 3 {
			t.Errorf("%s finds %+v", plate, page)
		}
	}
	if pdf := s.do(auth.Sales, http.MethodGet, path+"/revisions/1/quote.pdf", "", nil); !bytes.HasPrefix(pdf.body, []byte("%PDF-")) {
		t.Errorf("the paper begins %.20q", pdf.body)
	}
	html := string(s.do(auth.Sales, http.MethodGet, path+"/revisions/1/quote.html", "", nil).body)
	html = strings.ReplaceAll(html, "\u00a0", " ") // a plate is not broken across lines
	for _, says := range []string{"HF21 ONE", "HF21 TWO", "HF21 SIX", thousands(read.Totals.Gross.Amount), thousands(read.Vans[2].Totals.Gross.Amount)} {
		if !strings.Contains(html, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	sheet := func(revision, place int) string {
		return string(s.do(auth.Workshop, http.MethodGet, path+"/revisions/"+strconv.Itoa(revision)+"/vans/"+strconv.Itoa(place)+"/sheet.csv", "", nil).body)
	}
	if sheet(1, 1) == sheet(1, 3) {
		t.Error("a roof's sheet is a whole conversion's")
	}

	var accepted openapi.Acceptance
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, object{
		"by": "Wren Aldous", "how": "paper", "place": "on the premises", "terms_sha256": read.TermsSha256,
		"extras": []any{object{"van": 2, "feature": "awning_rail"}},
	}).into(t, http.StatusCreated, &accepted)
	now := s.quote(q.Id)
	sums(t, &now)
	rail := money(t, read.Vans[1].Extras[0].Gross)
	if more := money(t, now.Totals.Gross).Sub(money(t, read.Totals.Gross)); !more.Equal(rail) || accepted.Totals.Gross != now.Totals.Gross {
		t.Errorf("with a rail of %s it is %s dearer", rail, more)
	}
	for i := range now.Vans {
		if same := now.Vans[i].Totals.Gross == read.Vans[i].Totals.Gross; same == (i == 1) {
			t.Errorf("van %d: %v, and was %v", i+1, now.Vans[i].Totals.Gross, read.Vans[i].Totals.Gross)
		}
		has := strings.Contains(strings.ToLower(sheet(int(accepted.Revision), i+1)), "awning rail")
		if has != (i == 1) {
			t.Errorf("van %d: a rail on the sheet: %v", i+1, has)
		}
	}
	references := append([]string{accepted.Reference}, accepted.JobReferences...)
	if slices.Sort(references); len(slices.Compact(references)) != 4 {
		t.Errorf("three jobs and the whole are paid under %v", references)
	}
	for _, r := range references {
		if !creditorReference(r) {
			t.Errorf("%s is no creditor reference", r)
		}
	}
	var again openapi.Recomputed
	s.do(auth.Books, http.MethodGet, path+"/revisions/2/recomputed", "", nil).into(t, http.StatusOK, &again)
	if !again.Same {
		t.Errorf("worked out again: %+v", again.Differences)
	}
}

// sums holds a quote's totals against those of its vans, and payments against
// the total.
func sums(t *testing.T, q *openapi.Quote) {
	t.Helper()
	var net, vat, gross, paid, hours []openapi.Money
	for _, v := range q.Vans {
		p := v.Price.Totals
		net, vat, gross = append(net, p.Net), append(vat, p.Vat), append(gross, p.Gross)
		hours = append(hours, openapi.Money{Amount: v.Totals.Hours})
	}
	for _, p := range q.Payments {
		paid = append(paid, p.Amount)
	}
	for what, pair := range map[string][2][]openapi.Money{
		"net": {net, {q.Totals.Net}}, "VAT": {vat, {q.Totals.Vat}}, "gross": {gross, {q.Totals.Gross}},
		"paid": {paid, {q.Totals.Gross}}, "hours": {hours, {{Amount: q.Totals.Hours}}},
	} {
		if one, all := money(t, pair[0]...), money(t, pair[1]...); !one.Equal(all) {
			t.Errorf("%s: the parts come to %s, the whole is %s", what, one, all)
		}
	}
	if int(q.Totals.Vans) != len(q.Vans) {
		t.Errorf("%d vans, and %d are said", len(q.Vans), q.Totals.Vans)
	}
}

// creditorReference checks the digits of ISO 11649: the four first signs put
// last and letters written as 10 to 35, the number leaves 1 divided by 97.
func creditorReference(text string) bool {
	text = strings.ReplaceAll(text, " ", "")
	if len(text) < 5 || text[:2] != "RF" {
		return false
	}
	left := 0
	for _, sign := range text[4:] + text[:4] {
		digit, err := strconv.ParseInt(string(sign), 36, 8)
		if err != nil {
			return false
		}
		if digit > 9 {
			left *= 10
		}
		left = (left*10 + int(digit)) % 97
	}
	return left == 1
}
