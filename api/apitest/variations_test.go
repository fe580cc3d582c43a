package apitest

import (
	"encoding/base64"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// at asks something of a job at its version as it is now.
func (s seller) at(role auth.Role, method, path string, body any) got {
	s.t.Helper()
	job, _, _ := strings.Cut(strings.TrimPrefix(path, "/v1/jobs/"), "/")
	version := s.do(auth.Owner, http.MethodGet, "/v1/jobs/"+job, "", nil).header.Get("Etag")
	return s.do(role, method, path, version, body)
}

// without leaves a feature out of choices.
func without(c openapi.Choices, feature string) openapi.Choices {
	c.Features = slices.DeleteFunc(slices.Clone(c.Features), func(f openapi.Choice) bool { return f.Want == feature })
	return c
}

// TestVariationFromFindingToYes: rust is found, the customer drops something,
// and both become a paper the customer says yes to; then the job comes to the
// new total, and a second one begins where the first ended.
func TestVariationFromFindingToYes(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)
	path := "/v1/jobs/" + j.Id
	var agreed openapi.Agreement
	s.do(auth.Sales, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
	if agreed.Variation != 0 || len(agreed.Charges) != 0 || agreed.Total.Gross.Amount == "" || len(agreed.Schedule) == 0 {
		t.Fatalf("agreed is %+v", agreed)
	}

	// Found by the workshop; sales may not.
	finding := object{"found_at": "strip_out", "stage": "floor", "words": "Rust through the floor behind the wheel arch.",
		"hours": []any{object{"trade": "fitter", "hours": "6"}}, "parts": []any{object{"part": "rust_primer", "quantity": "40"}, object{"part": "sill_guard", "quantity": "7"}}, "touches": []any{"structure"}}
	s.at(auth.Sales, http.MethodPost, path+"/findings", finding).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	for field, value := range map[string]any{"stage": "moon", "on": "2027-01-01", "photographs": []any{3}} {
		bad := clone(t, finding)
		bad[field] = value
		p := s.at(auth.Workshop, http.MethodPost, path+"/findings", bad).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
		if len(p.Errors) != 1 || !strings.HasPrefix(p.Errors[0].Field, "/"+field) {
			t.Errorf("%s: %+v", field, p.Errors)
		}
	}
	var found openapi.Finding
	s.at(auth.Workshop, http.MethodPost, path+"/findings", finding).into(t, http.StatusCreated, &found)
	if found.Number != 1 || found.State != "open" || found.On != "2026-11-25" {
		t.Errorf("found %+v", found)
	}

	// Proposed: it waits for the foreman.
	dropped := agreed.Choices.Features[len(agreed.Choices.Features)-1].Want
	proposal := object{"choices": without(agreed.Choices, dropped), "additions": agreed.Additions, "findings": []any{1}, "valid_until": "2026-12-20"}
	var v openapi.Variation
	g := s.at(auth.Sales, http.MethodPost, path+"/variations", proposal)
	g.into(t, http.StatusCreated, &v)
	if g.header.Get("Location") != path+"/variations/1" || v.State != "draft" || v.ReadyToSend || len(v.NotReady) != 1 || v.NotReady[0].Code != "waits_for_foreman" {
		t.Errorf("proposed %+v", v.NotReady)
	}
	if len(v.Says) == 0 || v.Change.Gross.Amount == "" || v.Was.Gross != agreed.Total.Gross || len(v.Difference.Lines) == 0 {
		t.Errorf("it tells %d sentences, change %+v, was %+v", len(v.Says), v.Change, v.Was)
	}
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/sending", nil).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeNotReady)
	s.at(auth.Workshop, http.MethodPost, path+"/findings/1/approval", nil).into(t, http.StatusOK, &found)
	v = openapi.Variation{}
	s.do(auth.Workshop, http.MethodGet, path+"/variations/1", "", nil).into(t, http.StatusOK, &v)
	if !v.ReadyToSend || len(v.Says) != 0 || v.Change.Gross.Amount != "" || len(v.Additions) == 0 {
		t.Errorf("the workshop sees %+v of %+v", v.Says, v.NotReady)
	}
	s.do(auth.Owner, http.MethodGet, path+"/variations/1", "", nil).into(t, http.StatusOK, &v)
	if v.Cost.Amount == "" || v.Margin.Amount == "" {
		t.Error("the owner is not shown what it costs")
	}

	s.slotFrom(j, "2027-01-11")
	if n := s.foundWanted(j); n != 0 {
		t.Errorf("%d wants of what nobody has said yes to", n)
	}

	// Sent, and no other answer than the customer's counts.
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/sending", nil).into(t, http.StatusOK, &v)
	sum := v.Sha256
	if v.State != "sent" || v.SentOn != "2026-11-25" || sum == "" {
		t.Errorf("sent %+v", v.State)
	}
	s.at(auth.Sales, http.MethodPut, path+"/variations/1", proposal).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.at(auth.Workshop, http.MethodPost, path+"/findings/1/left-so", object{"because": "It is dirt."}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	yes := object{"by": "Wren Aldous", "how": "counter", "evidence": []any{
		object{"says": "The signed page.", "media_type": "text/plain", "content": base64.StdEncoding.EncodeToString([]byte("signed"))}, object{"says": "Her e-mail of the day before, filed."}}}
	late := clone(t, yes)
	late["on"] = "2026-11-26"
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/acceptance", late).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/acceptance", yes).into(t, http.StatusOK, &v)
	if v.State != "accepted" || v.By != "Wren Aldous" || len(v.Evidence) != 2 || v.Evidence[0].Content != "" || v.Sha256 != sum {
		t.Errorf("accepted %+v %+v", v.State, v.Evidence)
	}
	var now openapi.Agreement
	s.do(auth.Books, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &now)
	if now.Variation != 1 || now.Total.Gross != v.Is.Gross || len(now.Charges) == 0 {
		t.Errorf("now agreed is %+v, sent was %+v", now.Total, v.Is)
	}
	var findings openapi.Findings
	s.do(auth.Sales, http.MethodGet, path+"/findings", "", nil).into(t, http.StatusOK, &findings)
	if len(findings.Findings) != 1 || findings.Findings[0].State != "settled" || findings.Findings[0].Variation != 1 {
		t.Errorf("the findings are %+v", findings.Findings)
	}

	s.foundParts(j)

	// A second one, declined; the list has both.
	proposal = object{"choices": without(now.Choices, now.Choices.Features[len(now.Choices.Features)-1].Want), "additions": now.Additions}
	s.at(auth.Sales, http.MethodPost, path+"/variations", proposal).into(t, http.StatusCreated, &v)
	if v.FromVariation != 1 || v.Was.Gross != now.Total.Gross {
		t.Errorf("the second begins at %d, %+v", v.FromVariation, v.Was)
	}
	s.at(auth.Owner, http.MethodPost, path+"/variations/2/sending", nil).into(t, http.StatusOK, &v)
	s.at(auth.Sales, http.MethodPost, path+"/variations/2/decline", nil).into(t, http.StatusOK, &v)
	s.at(auth.Sales, http.MethodPost, path+"/variations/2/acceptance", yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var list openapi.Variations
	s.do(auth.Workshop, http.MethodGet, path+"/variations", "", nil).into(t, http.StatusOK, &list)
	if len(list.Variations) != 2 || list.Variations[0].State != "accepted" || list.Variations[1].State != "declined" || list.Variations[0].Change.Amount != "" {
		t.Errorf("listed %+v", list.Variations)
	}
	s.partsAreLookedUp(path, &now)
	theirs := w.exchange(t, call{method: http.MethodGet, path: path + "/variations/1", of: w.Theirs, role: auth.Owner})
	theirs.want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	s.do(auth.Owner, http.MethodGet, path+"/variations/9", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	w.verify(t, w.Ours)
}

// foundWanted counts what the finding's part is wanted for at its stage.
func (s seller) foundWanted(j openapi.Job) int {
	s.t.Helper()
	n := 0
	for _, l := range s.wanted("?until=2027-03-31&job=" + j.Id).Lines {
		if l.Code == "sill_guard" && l.Stage == "floor" && l.Quantity == "7" && l.ToOrder == "7" && l.Day != "" {
			n++
		}
	}
	return n
}

// foundParts: from the yes on the parts of a finding are wanted, by the bin or by
// order, proposed, and picked.
func (s seller) foundParts(j openapi.Job) {
	t := s.t
	list := s.wanted("?until=2027-03-31&job=" + j.Id)
	primer := slices.ContainsFunc(list.ToppedUp, func(l openapi.WantedLine) bool {
		return l.Code == "rust_primer" && l.Stage == "floor" && l.Quantity == "40"
	})
	byHand := slices.ContainsFunc(list.OneOffs, func(l openapi.WantedLine) bool { return l.Code == "finding_1" })
	if n := s.foundWanted(j); n != 1 || !primer || byHand {
		t.Errorf("wanted %d trays; primer from the bin: %v; by hand: %v", n, primer, byHand)
	}
	ordered := false
	for _, o := range s.proposals(auth.Workshop, "?order_by=2027-02-28").Orders {
		for _, l := range o.Lines {
			ordered = ordered || l.Code == "sill_guard" && decimal.RequireFromString(l.Wanted).GreaterThanOrEqual(decimal.NewFromInt(7))
		}
	}
	if !ordered {
		t.Error("what was found is not proposed")
	}
	if g := s.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+j.Id+"/picking.csv", "", nil); !strings.Contains(string(g.body), "sill_guard") {
		t.Error("what was found is not picked")
	}
}

// partsAreLookedUp: that a hob is ordered for the job is read from the order, and
// it is not credited when it is dropped, unless the supplier takes it back.
func (s seller) partsAreLookedUp(path string, now *openapi.Agreement) {
	t := s.t
	t.Helper()
	kept := func(number string, returns ...any) (hob openapi.PartWhere, of openapi.Decimal) {
		t.Helper()
		var v openapi.Variation
		proposal := object{"choices": without(now.Choices, "hob_two"), "additions": now.Additions, "returns": append([]any{}, returns...)}
		if number == "" {
			s.at(auth.Sales, http.MethodPost, path+"/variations", proposal).into(t, http.StatusCreated, &v)
		} else {
			s.at(auth.Sales, http.MethodPut, path+"/variations/"+number, proposal).into(t, http.StatusOK, &v)
		}
		for _, p := range v.Parts {
			if p.Part == "hob_2" {
				hob = p
			}
		}
		for _, k := range v.KeptBack {
			for _, p := range k.Parts {
				if p.Part == "hob_2" {
					of = p.Quantity
				}
			}
		}
		return hob, of
	}
	if hob, of := kept(""); hob.Part != "" || of != "" {
		t.Errorf("before it was ordered: %+v, kept %s", hob, of)
	}
	var o openapi.Order
	g := s.do(auth.Workshop, http.MethodPost, "/v1/orders", "", object{"supplier_code": "brackwater", "lines": []any{
		object{"kind": "part", "code": "hob_2", "quantity": "1", "wanted_on": "2026-12-18", "job": strings.TrimPrefix(path, "/v1/jobs/")}}})
	g.into(t, http.StatusCreated, &o)
	if hob, of := kept("3"); hob.Part != "" || of != "" {
		t.Errorf("of a draft: %+v, kept %s", hob, of)
	}
	if g := s.do(auth.Workshop, http.MethodPost, "/v1/orders/"+o.Id+"/place", g.header.Get("Etag"), object{"knowing": true}); g.status != http.StatusOK {
		t.Fatalf("placing: %d %s", g.status, g.body)
	}
	if hob, of := kept("3"); hob.Ordered != "1" || hob.Here != "0" || hob.CanGoBack != "0" || of != "1" {
		t.Errorf("ordered: %+v, kept %s", hob, of)
	}
	if hob, of := kept("3", object{"part": "hob_2", "quantity": "1"}); hob.CanGoBack != "1" || of != "" {
		t.Errorf("the supplier takes it back: %+v, kept %s", hob, of)
	}
	s.at(auth.Sales, http.MethodPost, path+"/variations/3/withdrawal", nil).into(t, http.StatusOK, new(openapi.Variation))
}

// TestVariationIsRefused where the choices do not fit, where another was
// accepted meanwhile, and once the offer has ended.
func TestVariationIsRefused(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)
	path := "/v1/jobs/" + j.Id
	var agreed openapi.Agreement
	s.do(auth.Sales, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
	propose := func(features ...object) got {
		var choices object
		text, err := json.Marshal(agreed.Choices)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(text, &choices); err != nil {
			t.Fatal(err)
		}
		for _, f := range features {
			choices["features"] = append(choices["features"].([]any), f)
		}
		return s.at(auth.Sales, http.MethodPost, path+"/variations", object{"choices": choices, "additions": agreed.Additions, "valid_until": "2026-12-01"})
	}
	propose(object{"want": "wings"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
	p := propose(object{"want": "windows_only"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
	if len(p.Errors) == 0 || !strings.HasPrefix(p.Errors[0].Field, "/choices/features/") {
		t.Errorf("a second kind of work: %+v", p.Errors)
	}
	propose().into(t, http.StatusCreated, new(openapi.Variation))
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/sending", nil).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeNotReady) // nothing changes
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/withdrawal", nil).into(t, http.StatusOK, new(openapi.Variation))
	for range 2 {
		propose(object{"want": "awning_rail"}).into(t, http.StatusCreated, new(openapi.Variation))
	}
	for _, n := range []string{"2", "3"} {
		s.at(auth.Sales, http.MethodPost, path+"/variations/"+n+"/sending", nil).into(t, http.StatusOK, new(openapi.Variation))
	}
	yes := object{"by": "Wren Aldous", "how": "paper"}
	s.at(auth.Sales, http.MethodPost, path+"/variations/2/acceptance", yes).into(t, http.StatusOK, new(openapi.Variation))
	p = s.at(auth.Sales, http.MethodPost, path+"/variations/3/acceptance", yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != 1 || p.Errors[0].Code != "stale" {
		t.Errorf("the other one: %+v", p.Errors)
	}
	propose().into(t, http.StatusCreated, new(openapi.Variation)) // without the rail again
	s.at(auth.Sales, http.MethodPost, path+"/variations/4/sending", nil).into(t, http.StatusOK, new(openapi.Variation))
	s.on("2026-12-02")
	p = s.at(auth.Sales, http.MethodPost, path+"/variations/4/acceptance", yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != 1 || p.Errors[0].Code != "lapsed" {
		t.Errorf("after its last day: %+v", p.Errors)
	}
	w.verify(t, w.Ours)
}

// writtenAlike says whether two parts of answers are written alike.
func writtenAlike(t *testing.T, a, b any) bool {
	t.Helper()
	x, err := json.Marshal(a)
	y, err2 := json.Marshal(b)
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	return string(x) == string(y)
}

// TestVariationByLink: the customer reads what changes under a link, and says
// yes once, or no. The discount is another, and a check that is newly not met is
// answered with evidence.
func TestVariationByLink(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	customer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	j := s.job(func(body object) { body["customer"] = customer.Id })
	path := "/v1/jobs/" + j.Id
	var agreed openapi.Agreement
	s.do(auth.Sales, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
	anvil := object{"code": "anvil", "kind": "one-off", "words": "An anvil on the floor", "stage": "furniture", "mass_kg": "700", "price": object{"amount": "100.00", "currency": "GBP"}}
	additions := []any{}
	for _, a := range agreed.Additions {
		additions = append(additions, a)
	}
	proposal := object{"choices": agreed.Choices, "additions": append(additions, anvil), "valid_until": "2026-12-20", "discount_percent": "40"}
	var v openapi.Variation
	s.at(auth.Sales, http.MethodPost, path+"/variations", proposal).into(t, http.StatusCreated, &v)
	one := path + "/variations/1"
	codes := func() (list []string) {
		for _, n := range v.NotReady {
			list = append(list, n.Code+" "+n.About)
		}
		slices.Sort(list)
		return list
	}
	if got := strings.Join(codes(), ", "); !strings.Contains(got, "discount_refused") || !strings.Contains(got, "check_not_met payload_for_people") {
		t.Errorf("in the way: %s", got)
	}
	proposal["discount_amount"] = object{"amount": "1.00", "currency": "GBP"}
	p := s.at(auth.Sales, http.MethodPut, one, proposal).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(p.Errors) != 1 || !strings.HasPrefix(p.Errors[0].Field, "/discount_") {
		t.Errorf("two discounts: %+v", p.Errors)
	}
	delete(proposal, "discount_amount")
	proposal["discount_percent"] = "2"
	s.at(auth.Sales, http.MethodPut, one, proposal).into(t, http.StatusOK, &v)
	if v.DiscountPercent != "2" {
		t.Errorf("the discount is %q", v.DiscountPercent)
	}

	// The check is answered up to a limit, and by evidence alone.
	answer := object{"check": "payload_for_people", "kind": "evidence", "limit": "200", "says": "Plate of 3 November, filed.", "day": "2026-11-03"}
	s.at(auth.Sales, http.MethodPost, one+"/answers", answer).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	s.at(auth.Workshop, http.MethodPost, one+"/answers", answer).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused)
	answer["check"] = "wings"
	s.at(auth.Workshop, http.MethodPost, one+"/answers", answer).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
	for _, n := range slices.Clone(v.NotReady) {
		if n.Code == "check_not_met" || n.Code == "check_waits_for_owner" {
			k := slices.IndexFunc(v.Checks, func(c openapi.Check) bool { return c.Code == n.About })
			answer["check"], answer["limit"] = n.About, map[bool]string{true: "2000", false: "-2000"}[v.Checks[k].Sense == "at most"]
			s.at(auth.Workshop, http.MethodPost, one+"/answers", answer).into(t, http.StatusOK, new(openapi.Variation))
		}
	}
	s.do(auth.Owner, http.MethodGet, one, "", nil).into(t, http.StatusOK, &v)
	if !v.ReadyToSend {
		t.Fatalf("answered, in the way: %v", codes())
	}
	// It goes with the draft when that is changed, and can be taken back.
	s.at(auth.Sales, http.MethodPut, one, proposal).into(t, http.StatusOK, &v)
	if !v.ReadyToSend {
		t.Fatalf("proposed again, in the way: %v", codes())
	}
	answer["check"], answer["limit"] = "payload_for_people", "-2000"
	s.at(auth.Owner, http.MethodPost, one+"/answers/withdrawal", object{"check": "payload_for_people"}).into(t, http.StatusOK, &v)
	if v.ReadyToSend {
		t.Error("without its answer it is ready")
	}
	s.at(auth.Owner, http.MethodPost, one+"/answers/withdrawal", object{"check": "payload_for_people"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
	s.at(auth.Owner, http.MethodPost, one+"/answers", answer).into(t, http.StatusOK, &v)

	// No link to a draft, whose page says what it is.
	link := func() string {
		t.Helper()
		var l openapi.VariationLink
		s.do(auth.Sales, http.MethodPost, one+"/links", "", nil).into(t, http.StatusCreated, &l)
		if l.Path != "/v1/offered-variations/"+l.Link+"/variation.html" || l.ValidUntil != "2026-12-20" {
			t.Errorf("the link is %+v", l)
		}
		return l.Link
	}
	s.do(auth.Sales, http.MethodPost, one+"/links", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if g := s.do(auth.Books, http.MethodGet, one+"/variation.html", "", nil); g.status != http.StatusOK || !strings.Contains(string(g.body), "Draft, not an offer") {
		t.Errorf("the draft's page: %d", g.status)
	}
	v = openapi.Variation{}
	s.at(auth.Sales, http.MethodPost, one+"/sending", nil).into(t, http.StatusOK, &v)
	secret, second := link(), link()
	public := func(method, rest string, body any) got {
		t.Helper()
		return w.exchange(t, call{of: w.Ours, method: method, path: "/v1/offered-variations/" + rest, body: body})
	}
	var seen openapi.OfferedVariation
	public(http.MethodGet, secret, nil).into(t, http.StatusOK, &seen)
	if seen.Sha256 != v.Sha256 || seen.Change != v.Change || seen.Is != v.Is || !writtenAlike(t, seen.Says, v.Says) || !writtenAlike(t, seen.Payments, v.Payments) || !writtenAlike(t, seen.Vat, v.Vat) || seen.Registration != "WT24 DMO" {
		t.Errorf("the link shows %+v and not %+v", seen.Says, v.Says)
	}
	if right := seen.Cancellation; !right.Applies || right.LastDay != "" || right != v.Cancellation {
		t.Errorf("told of the right to cancel: %+v", right)
	}
	for _, r := range seen.Remarks {
		if strings.Contains(r.Says, "Plate of 3 November") {
			t.Errorf("the customer reads what the workshop says to itself: %+v", r)
		}
	}
	page := public(http.MethodGet, secret+"/variation.html", nil)
	for _, s := range seen.Says {
		if text := strings.NewReplacer("\u00a0", " ", "&#43;", "+", "’", "'", "&#39;", "'").Replace(string(page.body)); !strings.Contains(text, strings.ReplaceAll(s.Says, "’", "'")) && s.About != "deposit" {
			t.Errorf("the page does not say %q", s.Says)
		}
	}
	if !strings.Contains(string(page.body), "Your right to cancel") || !strings.Contains(string(page.body), "Bede Sallow") || page.header.Get("Content-Security-Policy") == "" || page.header.Get("Referrer-Policy") != "no-referrer" {
		t.Error("the page names nobody, or may load what it likes")
	}
	if g := public(http.MethodGet, secret+"/variation.pdf", nil); g.status != http.StatusOK || !strings.HasPrefix(string(g.body), "%PDF") {
		t.Errorf("the PDF: %d", g.status)
	}
	for _, wrong := range []string{misspelt(secret), strings.Repeat("A", 64)} {
		public(http.MethodGet, wrong, nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	}
	// A link to a quote is none to a variation, nor the other way.
	w.exchange(t, call{of: w.Ours, method: http.MethodGet, path: "/v1/offered/" + secret}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)

	yes := object{"by": "Bede Sallow", "agree": false, "sha256": v.Sha256}
	public(http.MethodPost, secret+"/acceptance", yes).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	yes["agree"], yes["sha256"] = true, strings.Repeat("0", 64)
	public(http.MethodPost, secret+"/acceptance", yes).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	yes["sha256"], yes["express_request"] = v.Sha256, "Please begin tomorrow, Bede."
	var told openapi.OfferedVariationAnswer
	public(http.MethodPost, secret+"/acceptance", yes).into(t, http.StatusCreated, &told)
	if told.State != "accepted" || told.Total != v.Is || told.DecidedOn != "2026-11-25" || told.Cancellation.LastDay != "2026-12-09" || !told.Cancellation.WorkBeforeLastDay {
		t.Errorf("told %+v", told)
	}
	for _, rest := range []string{"/acceptance", "/decline"} {
		body := yes
		if rest == "/decline" {
			body = object{"by": "Bede Sallow"}
		}
		public(http.MethodPost, second+rest, body).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	}
	public(http.MethodGet, second, nil).into(t, http.StatusOK, &seen)
	s.do(auth.Owner, http.MethodGet, one, "", nil).into(t, http.StatusOK, &v)
	s.do(auth.Owner, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
	if v.SalePlace != "at a distance" || v.Cancellation != told.Cancellation || seen.Cancellation != told.Cancellation || len(v.Evidence) != 1 || !strings.HasSuffix(v.Evidence[0].Says, "Please begin tomorrow, Bede.") {
		t.Errorf("kept of the right to cancel: %s %+v, %+v", v.SalePlace, v.Cancellation, v.Evidence)
	}
	if seen.State != "accepted" || v.How != "link" || v.By != "Bede Sallow" || agreed.Variation != 1 || agreed.Total.Gross != v.Is.Gross {
		t.Errorf("kept %s by %q, agreed is %+v", v.How, v.By, agreed.Total)
	}

	// The next is declined by the link, which shows nothing then; of one more the
	// links are withdrawn, and the last comes to its end.
	delete(proposal, "discount_percent")
	proposal["additions"] = additions
	for _, n := range []string{"2", "3", "4"} {
		proposal["choices"] = without(agreed.Choices, agreed.Choices.Features[len(agreed.Choices.Features)-1].Want)
		v = openapi.Variation{}
		s.at(auth.Sales, http.MethodPost, path+"/variations", proposal).into(t, http.StatusCreated, &v)
		if v.DiscountPercent != "2" {
			t.Errorf("the agreed discount is %q in variation %s", v.DiscountPercent, n)
		}
		one = path + "/variations/" + n
		s.at(auth.Sales, http.MethodPost, one+"/sending", nil).into(t, http.StatusOK, &v)
		secret = link()
		switch n {
		case "2":
			public(http.MethodPost, secret+"/decline", object{"by": "Bede Sallow"}).into(t, http.StatusCreated, &told)
			if told.State != "declined" || told.Total != agreed.Total {
				t.Errorf("told %+v", told)
			}
			s.do(auth.Sales, http.MethodPost, one+"/links", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
		case "3":
			s.do(auth.Sales, http.MethodPost, one+"/links/withdraw", "", nil)
		case "4":
			s.on("2026-12-21")
			public(http.MethodPost, secret+"/acceptance", object{"by": "Bede Sallow", "agree": true, "sha256": v.Sha256}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
		}
		public(http.MethodGet, secret, nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	}
	export := w.exchange(t, call{of: w.Ours, role: auth.Owner, method: http.MethodGet, path: "/v1/customers/" + customer.Id + "/export"})
	var x openapi.CustomerExport
	export.into(t, http.StatusOK, &x)
	if len(x.Jobs) != 1 || len(x.Jobs[0].Variations) != 4 || x.Jobs[0].Variations[0].By != "Bede Sallow" || x.Jobs[0].Variations[1].By != "Bede Sallow" || x.Jobs[0].Variations[1].How != "link" {
		t.Errorf("the export tells of %+v", x.Jobs)
	}
	w.verify(t, w.Ours)
}
