package apitest

import (
	"net/http"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestSettlement cancels a job for which a hob was ordered and two people paid:
// what is kept is worked from what it cost, the rest goes back to both with
// credit notes, the VAT on what is kept stays due, and it is decided once.
func TestSettlement(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)
	ada, bert := s.customer(), s.customer()
	for payer, amount := range map[string]string{ada: "300.00", bert: "100.00"} {
		s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-20", "into": "bank", "amount": gbp(amount), "payer": payer,
			"parts": []any{object{"job": j.Id, "amount": gbp(amount)}}}).into(t, http.StatusCreated, &openapi.Receipt{})
	}
	o := askAs[openapi.Order](s, auth.Workshop, http.MethodPost, "/v1/orders", "",
		object{"supplier_code": "brackwater", "lines": []object{{"kind": "part", "code": "hob_2", "quantity": "1", "wanted_on": "2026-12-18", "job": j.Id}}}, http.StatusCreated)
	askAs[openapi.Order](s, auth.Owner, http.MethodPost, "/v1/orders/"+o.Id+"/place", `"1"`, object{"knowing": true}, http.StatusOK)

	path := "/v1/jobs/" + j.Id + "/settlement"
	is := askAs[openapi.Settlement](s, auth.Books, http.MethodGet, path, "", nil, http.StatusOK)
	// The hob is 130.57; to have that after its VAT 156.69 are kept.
	if is.Held != gbp("400.00") || is.Cost != gbp("130.57") || is.Kept != gbp("156.69") || is.Decided || len(is.Costs) != 1 || len(is.Refunds) != 2 || len(is.Payers) != 2 {
		t.Fatalf("proposed is %+v", is)
	}
	if back := askAs[openapi.Settlement](s, auth.Books, http.MethodGet, path+"?left_out=1", "", nil, http.StatusOK); back.Kept != gbp("0.00") || back.Cost != gbp("0.00") {
		t.Errorf("where the hob can go back %+v", back)
	}
	yes := object{"kept": pounds("150.00"), "from": "bank", "reason": "They bought a boat, and we like them.",
		"refunds": []object{{"customer": ada, "amount": pounds("187.50")}, {"customer": bert, "amount": pounds("62.50")}}}
	s.do(auth.Owner, http.MethodPost, path, "", yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict) // it goes on
	now := s.do(auth.Owner, http.MethodGet, "/v1/jobs/"+j.Id, "", nil)
	if g := s.do(auth.Owner, http.MethodPost, "/v1/jobs/"+j.Id+"/cancellation", now.header.Get("Etag"), object{"because": "They bought a boat."}); g.status != http.StatusOK {
		t.Fatalf("not cancelled: %d %s", g.status, g.body)
	}
	for want, change := range map[string]object{
		"/refunds":          {"kept": pounds("150.01")},
		"/kept":             {"kept": pounds("400.01")},
		"/refunds/1/amount": {"refunds": []object{{"customer": ada, "amount": pounds("140.00")}, {"customer": bert, "amount": pounds("110.00")}}},
	} {
		if g := s.do(auth.Owner, http.MethodPost, path, "", with(yes, change)); g.status != http.StatusUnprocessableEntity || !strings.Contains(string(g.body), `"field":"`+want+`"`) {
			t.Errorf("%s: %d %s", want, g.status, g.body)
		}
	}
	done := askAs[openapi.Settlement](s, auth.Owner, http.MethodPost, path, "", yes, http.StatusCreated)
	if !done.Decided || done.Kept != gbp("150.00") || done.KeptVat != gbp("25.00") || len(done.CreditNotes) == 0 || done.DecidedOn != "2026-11-25" {
		t.Fatalf("decided is %+v", done)
	}
	s.do(auth.Owner, http.MethodPost, path, "", yes).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if again := askAs[openapi.Settlement](s, auth.Books, http.MethodGet, path, "", nil, http.StatusOK); again.Kept != done.Kept || again.Reason == "" {
		t.Errorf("read again it is %+v", again)
	}
	for account, want := range map[string]string{"deposits not yet earned": "0.00", "VAT on deposits": "0.00", "deposits kept": "-125.00", "VAT due": "-25.00", "bank": "150.00"} {
		if got := s.balance(account); got != want {
			t.Errorf("%s stands at %s, want %s", account, got, want)
		}
	}
	// What was kept less the hob, which is what the job comes to.
	m := askAs[openapi.JobMargins](s, auth.Books, http.MethodGet, "/v1/books/margins?from=2026-11-25", "", nil, http.StatusOK)
	if len(m.Jobs) != 1 || m.Jobs[0].Job != j.Id || m.Jobs[0].Margin.DepositsKept != gbp("125.00") || m.Jobs[0].Margin.Parts != gbp("130.57") || m.Total.Margin != gbp("-5.57") || m.Total.MarginPercent != "-4.46" {
		t.Errorf("the margins are %+v", m)
	}
	if month := askAs[openapi.JobMargins](s, auth.Books, http.MethodGet, "/v1/books/margins?from=2026-11-01&until=2026-11-30", "", nil, http.StatusOK); month.Total != m.Total {
		t.Errorf("of a month that is not over: %+v, not %+v", month.Total, m.Total)
	}
	p := s.do(auth.Books, http.MethodGet, "/v1/books/deposits?on=2026-11-26", "", nil).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	if len(p.Errors) != 1 || p.Errors[0].Field != "query/on" {
		t.Errorf("of tomorrow: %+v", p.Errors)
	}
	if past := askAs[openapi.JobMargins](s, auth.Owner, http.MethodGet, "/v1/books/margins?until=2026-11-24", "", nil, http.StatusOK); len(past.Jobs) != 0 || past.Total.Cost != gbp("0.00") {
		t.Errorf("before that they are %+v", past)
	}
	if csv := s.do(auth.Books, http.MethodGet, "/v1/books/margins.csv", "", nil); !strings.Contains(string(csv.body), "1,cancelled,0.00,125.00,0.00,130.57,0.00,0.00,130.57,-5.57,-4.46,0") {
		t.Errorf("as CSV %s", csv.body)
	}
	s.do(auth.Sales, http.MethodGet, "/v1/books/margins", "", nil).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	w.verify(t, w.Ours)
}
