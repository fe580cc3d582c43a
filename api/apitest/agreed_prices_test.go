package apitest

import (
	"net/http"
	"slices"
	"strings"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// paysForVisit: a van comes back and its customer pays for it, by a price that
// was agreed without a quote: it is agreed anew, part of it is paid before, it is
// invoiced less that, and paid.
func (f *floor) paysForVisit() {
	t := f.t
	body := object{"of": f.job, "why": "paid", "says": "The awning tore.", "hours": []any{object{"stage": "openings", "trade": "fitter", "hours": "1.5"}}, "price": gbp("120.00")}
	var visit openapi.ReturnVisit
	f.do(auth.Sales, http.MethodPost, "/v1/return-visits", "", body).into(t, http.StatusCreated, &visit)
	first := *f
	defer func() { *f = first }()
	f.job = visit.Job
	path := "/v1/jobs/" + f.job + "/agreed-price"
	var price openapi.AgreedPrice
	f.do(auth.Books, http.MethodGet, path, "", nil).into(t, http.StatusOK, &price)
	if a := f.account(f.job); price.Number != 1 || price.Gross.Amount != "120.00" || price.VatTotal.Amount != "20.00" || a.Total.Amount != "120.00" || a.Open != a.Total ||
		len(a.Payments) != 1 || a.Payments[0].When != "on handover" || !strings.HasPrefix(a.Reference, "RF") {
		t.Errorf("the price is %+v, the account %+v", price, a)
	}

	// Agreed anew, with what is paid before; a quoted job is not priced so.
	f.do(auth.Workshop, http.MethodGet, path, "", nil).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	line := func(words, unit, treatment string) object {
		return object{"words": words, "quantity": 2, "unit_price": gbp(unit), "treatment": treatment}
	}
	now := object{"lines": []any{line("A new awning", "149.99", "standard"), line("An extinguisher", "21.00", "reduced")},
		"payments": []any{object{"code": "deposit", "name": "Deposit", "amount": gbp("100.00"), "when": "on acceptance"}, object{"code": "balance", "name": "Balance", "when": "on handover", "days": 7}}}
	f.do(auth.Sales, http.MethodPut, path, `"7"`, now).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	for field, bad := range map[string]object{
		"/lines/0/evidence":      {"lines": []any{line("A ramp", "1.00", "zero")}},
		"/lines/0/unit_price":    {"lines": []any{object{"words": "Work", "unit_price": object{"amount": "1.00", "currency": "EUR"}, "treatment": "standard"}}},
		"/payments/0/amount":     {"lines": []any{line("Work", "1.00", "standard")}, "payments": []any{object{"code": "all", "name": "All", "amount": gbp("2.01"), "when": "on handover"}}},
		"/lines/0/unit_price/am": {"lines": []any{object{"words": "Work", "unit_price": gbp("99999999999999999999"), "treatment": "standard"}}},
	} {
		if g := f.at(auth.Sales, http.MethodPut, path, bad); g.status/100 != 4 || !strings.Contains(string(g.body), `"`+strings.TrimSuffix(field, "/am")) {
			t.Errorf("%s: %d %s", field, g.status, g.body)
		}
	}
	f.at(auth.Sales, http.MethodPut, path, now).into(t, http.StatusOK, &price)
	if price.Number != 2 || price.Gross.Amount != "341.98" || price.VatTotal.Amount != "52.00" || len(price.Vat) != 2 || price.Payments[1].Amount.Amount != "241.98" {
		t.Errorf("agreed anew: %+v", price)
	}
	f.do(auth.Sales, http.MethodGet, path+"?number=1", "", nil).into(t, http.StatusOK, &price)
	f.do(auth.Sales, http.MethodGet, path+"?number=3", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	if price.Gross.Amount != "120.00" {
		t.Errorf("the first is now %+v", price)
	}
	f.do(auth.Sales, http.MethodGet, "/v1/jobs/"+f.job+"/return-visit", "", nil).into(t, http.StatusOK, &visit)
	if visit.Price.Amount != "341.98" {
		t.Errorf("the visit is at %s", visit.Price.Amount)
	}
	f.at(auth.Sales, http.MethodPut, "/v1/jobs/"+first.job+"/agreed-price", now).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)

	// A deposit has its VAT at both rates; below it the price does not go.
	f.deposited(f.job, "100.00")
	cheap := object{"lines": []any{line("A patch", "20.00", "standard")}}
	f.at(auth.Sales, http.MethodPut, path, cheap).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	a := f.account(f.job)
	if a.DepositsHeld.Amount != "100.00" || a.Payments[0].State != "paid" || len(a.VatOnDeposits) != 2 || a.Open.Amount != "241.98" {
		t.Errorf("with a deposit the account is %+v", a)
	}
	var dues openapi.Dues
	f.do(auth.Sales, http.MethodGet, "/v1/dues", "", nil).into(t, http.StatusOK, &dues)
	there := false
	for _, d := range dues.Dues {
		there = there || d.Job == f.job && d.Payment.Open.Amount == "241.98" && d.Reference == a.Reference
	}
	if !there {
		t.Errorf("what is due: %+v", dues.Dues)
	}
	if g := f.do(auth.Sales, http.MethodGet, "/v1/jobs/"+f.job+"/request.pdf?payment=balance", "", nil); g.status != http.StatusOK {
		t.Errorf("the request: %d %s", g.status, g.body)
	}

	f.at(auth.Workshop, http.MethodPost, "/v1/jobs/"+f.job+"/attachments", object{"media_type": "image/png", "content": "cGhvdG8="}).into(t, http.StatusCreated, &openapi.JobAttachment{})
	f.at(auth.Sales, http.MethodPost, "/v1/jobs/"+f.job+"/arrival", conditionOf()).into(t, http.StatusOK, &openapi.JobBoard{})
	f.at(auth.Books, http.MethodPost, "/v1/jobs/"+f.job+"/balance", object{"how": "paid"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	var final openapi.Invoice
	g := f.do(auth.Books, http.MethodPost, "/v1/jobs/"+f.job+"/invoice", "", object{})
	g.into(t, http.StatusCreated, &final)
	if len(final.Lines) != 2 || final.Gross.Amount != "341.98" || final.Due.Amount != "241.98" || len(final.Deducted) != 1 {
		t.Errorf("invoiced %+v", final)
	}
	if pdf := f.do(auth.Sales, http.MethodGet, g.header.Get("Location")+"/invoice.pdf", "", nil); pdf.status != http.StatusOK {
		t.Errorf("the invoice on paper: %d %s", pdf.status, pdf.body)
	}
	f.at(auth.Sales, http.MethodPut, path, now).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	f.deposited(f.job, "241.98")
	if a = f.account(f.job); a.Open.Amount != "0.00" || !a.Invoiced {
		t.Errorf("paid: %+v", a)
	}
	f.at(auth.Books, http.MethodPost, "/v1/jobs/"+f.job+"/balance", object{"how": "paid"}).into(t, http.StatusOK, &openapi.JobBoard{})

	// Handed over, it is learned from like any other: 1.5 h were meant, 2 worked.
	for _, step := range []struct {
		what string
		body object
	}{{"stages", object{"stage": "openings", "do": "begin"}}, {"hours", object{"hours": []any{object{"crew": f.crew["Bo"], "stage": "openings", "trade": "fitter", "hours": "2"}}}}, {"stages", object{"stage": "openings", "do": "finish"}}} {
		if g := f.at(auth.Workshop, http.MethodPost, "/v1/jobs/"+f.job+"/"+step.what, step.body); g.status >= http.StatusBadRequest {
			t.Fatalf("%s: %d %s", step.what, g.status, g.body)
		}
	}
	f.at(auth.Sales, http.MethodPost, "/v1/jobs/"+f.job+"/handover", conditionOf()).into(t, http.StatusOK, &openapi.JobBoard{})
	var back openapi.LookingBack
	f.do(auth.Owner, http.MethodGet, "/v1/looking-back?least_jobs=1&from=2026-11-25", "", nil).into(t, http.StatusOK, &back)
	at := slices.IndexFunc(back.Jobs, func(j openapi.JobLookedBack) bool { return j.Job == f.job })
	if at < 0 || back.Jobs[at].QuotedHours != "1.5" || back.Jobs[at].WorkedHours != "2" || back.Jobs[at].Net.Amount != "289.98" || back.Jobs[at].QuotedCost.Amount == "0.00" || back.Jobs[at].RealCost.Amount == back.Jobs[at].QuotedCost.Amount {
		t.Errorf("looking back: %+v", back.Jobs)
	}

	// What the workshop bears has no price.
	body["why"] = "goodwill"
	delete(body, "price")
	body["of"] = first.job
	f.do(auth.Sales, http.MethodPost, "/v1/return-visits", "", body).into(t, http.StatusCreated, &visit)
	f.do(auth.Sales, http.MethodGet, "/v1/jobs/"+visit.Job+"/agreed-price", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	f.at(auth.Sales, http.MethodPut, "/v1/jobs/"+visit.Job+"/agreed-price", now).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
}
