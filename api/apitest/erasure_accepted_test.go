package apitest

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// tag is the ETag of a thing as it is now.
func (s seller) tag(path string) string {
	s.t.Helper()
	return s.do(auth.Owner, http.MethodGet, path, "", nil).header.Get("Etag")
}

// TestErasureAfterAcceptance: who has bought is kept for as many years as are
// set. Then they can be erased, with how they said yes and what shows it, and
// what was agreed still verifies.
func TestErasureAfterAcceptance(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	s := seller{w, t, us}
	c := made[openapi.Customer](t, w, us, "/v1/customers", object{"kind": "private", "name": "Zephyrweather", "given_names": "Ottilinde", "email": "ottilinde@zephyr.example", "telephone": "01632 960 115"})
	v := made[openapi.KeptVan](t, w, us, "/v1/vans", object{"customer": c.Id, "van": object{"base_van": "short_panel_van", "registration": "ZE22 PHR"}, "words": "her grey van"})
	body := w.example(t, http.MethodPost, "/v1/quotes")
	one := body["vans"].([]any)[0].(map[string]any)
	delete(one, "van")
	one["van_id"], body["customer"], body["note"] = v.Id, c.Id, "quote note"
	var q openapi.QuoteKept
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", body)
	g.into(t, http.StatusCreated, &q)
	path := "/v1/quotes/" + q.Id
	_, version := s.issue(q.Id, g.header.Get("Etag"))
	paper := "signed by Ottilinde Zephyrweather of 7 Vanishing Row"
	inBase64 := base64.StdEncoding.EncodeToString([]byte(paper))
	var accepted openapi.Acceptance
	s.do(auth.Sales, http.MethodPost, path+"/acceptance", version, object{
		"by": "Ottilinde Zephyrweather", "how": "paper", "place": "away from the premises", "terms_sha256": s.quote(q.Id).TermsSha256,
		"extras":          []any{object{"van": 1, "feature": "awning_rail"}},
		"express_request": "Begin at once, says Zephyrweather.",
		"evidence":        []any{object{"says": "The page Ottilinde signed.", "media_type": "text/plain", "content": inBase64}},
	}).into(t, http.StatusCreated, &accepted)

	// What is written of her on the floor, and a photograph.
	onFloor := "/v1/jobs/" + s.jobs("?quote=" + q.Id)[0].Id
	photo := "a photograph of Zephyrweather beside her van"
	if g := s.do(auth.Workshop, http.MethodPost, onFloor+"/attachments", s.tag(onFloor), object{
		"media_type": "text/plain", "content": base64.StdEncoding.EncodeToString([]byte(photo)), "says": "Ottilinde waves.",
	}); g.status != http.StatusCreated {
		t.Fatalf("attaching: %d %s", g.status, g.body)
	}
	if g := s.do(auth.Sales, http.MethodPost, onFloor+"/expected", s.tag(onFloor), object{"day": "2026-12-01", "from": "her aunt Zephyrweather"}); g.status != http.StatusOK {
		t.Fatalf("expecting: %d %s", g.status, g.body)
	}

	// And a change that she said yes to.
	var agreed openapi.Agreement
	s.do(auth.Sales, http.MethodGet, onFloor+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
	change := onFloor + "/variations/1"
	yesAgain := "Ottilinde Zephyrweather signs once more"
	for _, step := range []struct {
		path string
		body any
	}{
		{onFloor + "/variations", object{"choices": without(agreed.Choices, "awning_rail"), "additions": agreed.Additions}}, {change + "/sending", nil},
		{change + "/acceptance", object{"by": "Ottilinde Zephyrweather", "how": "counter", "evidence": []any{
			object{"says": "Ottilinde waves again.", "media_type": "text/plain", "content": base64.StdEncoding.EncodeToString([]byte(yesAgain))}}}},
	} {
		if g := s.at(auth.Sales, http.MethodPost, step.path, step.body); g.status/100 != 2 {
			t.Fatalf("%s: %d %s", step.path, g.status, g.body)
		}
	}

	// Their money: a line of the bank, cash with a word about it, a van in part
	// exchange, and what became of all that once they had cancelled.
	s.moneyOf(c.Id, onFloor[len("/v1/jobs/"):])

	export := seen[openapi.CustomerExport](t, w, us, "/v1/customers/"+c.Id+"/export")
	if len(export.Acceptances) != 1 {
		t.Fatalf("the export has %d acceptances", len(export.Acceptances))
	}
	if len(export.Jobs) != 1 || !slices.Contains(export.Jobs[0].Written, "her aunt Zephyrweather") || len(export.Jobs[0].Attachments) != 1 {
		t.Errorf("the export tells of the job %+v", export.Jobs)
	}
	if v := export.Jobs[0].Variations; len(v) != 1 || v[0].By != "Ottilinde Zephyrweather" || len(v[0].Evidence) != 1 || v[0].Evidence[0].Content == "" {
		t.Errorf("the export tells of the change %+v", v)
	}
	told := export.Acceptances[0]
	if told.Quote != q.Id || told.By != accepted.By || told.Revision != 2 || told.OfferedRevision != 1 || told.ExpressRequest != "Begin at once, says Zephyrweather." ||
		len(told.Extras) != 1 || len(told.Evidence) != 1 || told.Evidence[0].Content != inBase64 || told.Evidence[0].Says != "The page Ottilinde signed." ||
		!told.Cancellation.Applies || told.TermsSha256 != accepted.TermsSha256 {
		t.Errorf("the export tells of the acceptance %+v", told)
	}
	if export.Customer.KeepUntil != "2032-11-25" {
		t.Errorf("kept until %s", export.Customer.KeepUntil)
	}

	if m := export.Money; len(m.Receipts) != 3 || len(m.Lines) != 2 || m.Lines[0].Party != "O Zephyrweather" || len(m.Invoices) < 3 || len(m.Settlements) != 1 || m.Settlements[0].Reason == "" ||
		len(m.Vans) != 1 || m.Vans[0].Amount != gbp("300.00") {
		text, _ := json.Marshal(m)
		t.Errorf("the export tells of their money %s", text)
	}

	erase := func() got {
		version := s.do(auth.Owner, http.MethodGet, "/v1/customers/"+c.Id, "", nil).header.Get("Etag")
		return s.do(auth.Owner, http.MethodPost, "/v1/customers/"+c.Id+"/erasure", version, nil)
	}
	for _, revision := range []string{"1", "2"} {
		if said := s.onPaper(path, revision); !strings.Contains(said, "Ottilinde Zephyrweather") || !strings.Contains(said, "ZE22 PHR") {
			t.Errorf("before erasing, the papers of revision %s do not name whom they are for", revision)
		}
	}
	s.on("2032-11-25")
	p := erase().want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var named []string
	for _, f := range p.Errors {
		named = append(named, f.Field+" "+f.Code)
	}
	if slices.Sort(named); !slices.Equal(named, []string{"keep_until kept", "quotes/" + q.Id + " accepted"}) {
		t.Errorf("in the way are %q", named)
	}
	s.on("2032-11-26")
	if left := w.leftInFiles(t, paper, photo, yesAgain); !slices.Contains(left, paper) || !slices.Contains(left, yesAgain) || !slices.Contains(left, photo) || !slices.Contains(left, "Zephyrweather") {
		t.Errorf("before erasing, only %q can be found in the files: the search is blind", left)
	}
	erase().into(t, http.StatusOK, new(openapi.Customer))
	w.holdGone(t, us, c.Id, v.Id, nil, "", []string{q.Id})
	if left := w.leftInFiles(t, paper, inBase64, photo, yesAgain, "waves", "her aunt", "Begin at once", "purse", "kind to us", "GB82ZEPHYR77"); len(left) > 0 {
		t.Errorf("the database's files still hold %q", left)
	}
	for _, rest := range []string{"/acceptance", "/revisions/1", "/revisions/2", "/revisions/1/quote.html", "/revisions/2/quote.html", "/comparison?from=1&to=2", "/revisions/2/vans/1/sheet.csv"} {
		g := s.do(auth.Owner, http.MethodGet, path+rest, "", nil)
		if g.status != http.StatusOK {
			t.Errorf("%s: %d %s", rest, g.status, g.body)
		}
		for _, word := range append(slices.Clone(personal), inBase64, "Begin at once") {
			if strings.Contains(strings.ReplaceAll(string(g.body), "\u00a0", " "), word) {
				t.Errorf("%s still says %q", rest, word)
			}
		}
	}
	for _, revision := range []string{"1", "2"} {
		said := s.onPaper(path, revision)
		for _, word := range append(slices.Clone(personal), "Begin at once") {
			if strings.Contains(said, word) {
				t.Errorf("the papers of revision %s still say %q", revision, word)
			}
		}
	}
	for _, rest := range []string{"", "/board", "/attachments/1", "/card.pdf", "/variations/1", "/variations/1/variation.html"} {
		g := s.do(auth.Owner, http.MethodGet, onFloor+rest, "", nil)
		if g.status != http.StatusOK || strings.Contains(string(g.body), "Zephyrweather") || strings.Contains(string(g.body), "waves") {
			t.Errorf("the job%s: %d %s", rest, g.status, g.body)
		}
	}
	for _, rest := range []string{"/v1/receipts", "/v1/statement-lines", "/v1/stock-vans", "/v1/invoices", onFloor + "/account", onFloor + "/settlement", "/v1/books/entries?limit=100", "/v1/creditors"} {
		g := s.do(auth.Owner, http.MethodGet, rest, "", nil)
		if g.status != http.StatusOK || strings.Contains(string(g.body), "Zephyrweather") || strings.Contains(string(g.body), "Ottilinde") {
			t.Errorf("%s: %d %s", rest, g.status, g.body)
		}
	}
	// The money stands as it did.
	if b := s.balances(); b["bank"] != "-340.00" || b["cash"] != "100.00" || b["vans taken in part exchange"] != "300.00" || b["deposits not yet earned"] != "0.00" || b["deposits kept"] != "-50.00" {
		t.Errorf("the books are %v", b)
	}
	// What was agreed stands, to the byte, and so does what happened.
	var kept openapi.Acceptance
	s.do(auth.Books, http.MethodGet, path+"/acceptance", "", nil).into(t, http.StatusOK, &kept)
	if kept.On != "2026-11-25" || kept.Totals.Gross != accepted.Totals.Gross || kept.TermsSha256 != accepted.TermsSha256 || kept.Reference != accepted.Reference {
		t.Errorf("of the acceptance is left %+v", kept)
	}
	for _, revision := range []string{"1", "2"} {
		var again openapi.Recomputed
		s.do(auth.Books, http.MethodGet, path+"/revisions/"+revision+"/recomputed", "", nil).into(t, http.StatusOK, &again)
		if !again.Same {
			t.Errorf("revision %s worked out again: %+v", revision, again.Differences)
		}
	}
	w.verify(t, us)
	// Nothing new is for one who is not there any more.
	body["vans"] = w.example(t, http.MethodPost, "/v1/quotes")["vans"]
	p = s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", body).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/customer" || p.Errors[0].Code != "erased" {
		t.Errorf("%+v", p.Errors)
	}
}

// moneyOf is everything in which somebody writes of a customer where there is
// money: 200.00 through the bank, 100.00 in cash, a van for 300.00; the job is
// cancelled, 60.00 are kept, and the bank shows what went back.
func (s seller) moneyOf(customer, job string) {
	t := s.t
	t.Helper()
	account := s.bank()
	s.bring(account, bankCSV("23/11/2026,for Ottilinde's van,O Zephyrweather,GB82ZEPHYR77,200.00,200.00"), http.StatusCreated)
	s.reconcile(s.lines("").Lines[0].Id, object{"parts": []object{{"job": job, "amount": gbp("200.00")}}}, http.StatusCreated)
	postAs[openapi.Receipt](s, "/v1/receipts", "", object{"day": "2026-11-23", "into": "cash", "amount": gbp("100.00"), "payer": customer, "words": "from Ottilinde's purse",
		"parts": []object{{"job": job, "amount": gbp("100.00")}}}, http.StatusCreated)
	other := made[openapi.KeptVan](t, s.world, s.shop, "/v1/vans", object{"customer": customer, "van": object{"base_van": "short_panel_van", "registration": "YX11 ZEP"}})
	taken := postAs[openapi.StockVan](s, "/v1/stock-vans", "", object{"van": other.Id, "customer": customer, "how": "part exchange", "paid": gbp("300.00"), "mileage_miles": 84000, "on": "2026-11-23"}, http.StatusCreated)
	s.do(auth.Books, http.MethodPost, "/v1/receipts/"+taken.Receipt+"/placements", `"1"`, object{"parts": []object{{"job": job, "amount": gbp("300.00")}}}).into(t, http.StatusOK, &openapi.Receipt{})
	if g := s.at(auth.Owner, http.MethodPost, "/v1/jobs/"+job+"/cancellation", object{"because": "Zephyrweather bought a boat."}); g.status != http.StatusOK {
		t.Fatalf("not cancelled: %d %s", g.status, g.body)
	}
	askAs[openapi.Settlement](s, auth.Owner, http.MethodPost, "/v1/jobs/"+job+"/settlement", "", object{"kept": gbp("60.00"), "from": "bank", "reason": "Ottilinde was kind to us.",
		"refunds": []object{{"customer": customer, "amount": gbp("540.00")}}}, http.StatusCreated)
	s.bring(account, bankCSV("25/11/2026,back to Ottilinde,O Zephyrweather,GB82ZEPHYR77,-540.00,-340.00"), http.StatusCreated)
	for _, l := range s.lines("?state=open").Lines {
		_, by := s.toReconcile(account)
		if is := by[l.Words]; len(is.Proposals) == 0 || len(is.Proposals[0].Entries) == 0 {
			t.Fatalf("what went back shows in no entry: %+v", is)
		}
		s.reconcile(l.Id, object{"entries": by[l.Words].Proposals[0].Entries}, http.StatusCreated)
	}
}

// onPaper is what the papers of a revision say: the page, the PDF read back by
// Poppler's pdftotext, and what the PDF says of itself.
func (s seller) onPaper(path, revision string) string {
	s.t.Helper()
	get := func(name string) []byte {
		g := s.do(auth.Owner, http.MethodGet, path+"/revisions/"+revision+"/"+name, "", nil)
		if g.status != http.StatusOK {
			s.t.Fatalf("%s: %d %s", name, g.status, g.body)
		}
		return g.body
	}
	said := string(get("quote.html"))
	program, err := exec.LookPath("pdftotext")
	switch {
	case err == nil:
		pdf := exec.CommandContext(s.t.Context(), program, "-layout", "-", "-")
		pdf.Stdin = bytes.NewReader(get("quote.pdf"))
		text, err := pdf.Output()
		if err != nil {
			s.t.Fatalf("pdftotext: %v", err)
		}
		if !strings.Contains(string(text), "Quote") {
			s.t.Errorf("the PDF reads %.200q", text)
		}
		said += string(text)
	case os.Getenv("WAINSCOT_CI") != "":
		s.t.Fatal("pdftotext is not installed (Debian: poppler-utils)")
	default:
		s.t.Log("pdftotext is not installed (Debian: poppler-utils): only the page is read, not the PDF")
	}
	return strings.ReplaceAll(said, "\u00a0", " ") // a plate is not broken across lines
}
