package apitest

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// deposited is money of a payer that came in and was placed on a job.
func (s seller) deposited(job, amount string) openapi.Receipt {
	s.t.Helper()
	var r openapi.Receipt
	s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-20", "into": "bank", "amount": gbp(amount),
		"parts": []any{object{"job": job, "amount": gbp(amount)}}}).into(s.t, http.StatusCreated, &r)
	return r
}

func (s seller) account(job string) openapi.JobAccount {
	s.t.Helper()
	var a openapi.JobAccount
	s.do(auth.Books, http.MethodGet, "/v1/jobs/"+job+"/account", "", nil).into(s.t, http.StatusOK, &a)
	return a
}

// balance of an account of the books.
func (s seller) balance(account string) string {
	s.t.Helper()
	var b openapi.Books
	s.do(auth.Books, http.MethodGet, "/v1/books", "", nil).into(s.t, http.StatusOK, &b)
	for _, a := range b.Accounts {
		if string(a.Account) == account {
			return a.Balance.Amount
		}
	}
	s.t.Fatalf("there is no account %q", account)
	return ""
}

// TestMoneyOfAJob: a deposit comes in with too much, is placed, taken back,
// placed again and refunded in part; the job is invoiced less its deposits, paid,
// and credited; at every step the books and the papers tell the same.
func TestMoneyOfAJob(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)
	a := s.account(j.Id)
	if a.Paid.Amount != "0.00" || a.Open != a.Total || len(a.Payments) == 0 || a.Payments[0].State != "due" && a.Payments[0].State != "overdue" || !strings.HasPrefix(a.Reference, "RF") {
		t.Fatalf("the account is %+v", a)
	}
	deposit := a.Payments[0].Amount.Amount
	s.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+j.Id+"/account", "", nil).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)

	// The slot waits for its deposit where the owner has it so.
	var set openapi.Books
	g := s.do(auth.Books, http.MethodGet, "/v1/books", "", nil)
	s.do(auth.Books, http.MethodPut, "/v1/books", g.header.Get("Etag"), object{}).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	s.do(auth.Owner, http.MethodPut, "/v1/books", g.header.Get("Etag"), object{"slot_waits_for_deposit": true}).into(t, http.StatusOK, &set)
	if a = s.account(j.Id); !set.Settings.SlotWaitsForDeposit || !strings.Contains(a.WaitsFor, deposit) {
		t.Errorf("it waits for %q", a.WaitsFor)
	}

	r := s.deposited(j.Id, deposit)
	if r.Left.Amount != "0.00" || len(r.Placements) != 1 || r.Placements[0].DepositInvoice != 1 {
		t.Errorf("the receipt is %+v", r)
	}
	a = s.account(j.Id)
	if a.WaitsFor != "" || a.DepositsHeld.Amount != deposit || a.Payments[0].State != "paid" || len(a.Invoices) != 1 || a.Invoices[0].Kind != "deposit invoice" || a.Invoices[0].TaxPoint != "2026-11-20" || len(a.VatOnDeposits) == 0 {
		t.Errorf("with the deposit the account is %+v", a)
	}
	if got := s.balance("deposits not yet earned"); got != "-"+deposit {
		t.Errorf("%s of deposits in the books, want %s", got, deposit)
	}

	// Nothing is placed that is not due, or on a job that is not there, and then
	// nothing is entered at all.
	books := s.balance("bank")
	p := s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-20", "into": "cash", "amount": gbp("900000.00"),
		"parts": []any{object{"job": j.Id, "amount": gbp("900000.00")}}}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/parts/0/amount" || p.Errors[0].Code != "more_than_due" {
		t.Errorf("too much: %+v", p.Errors)
	}
	for field, bad := range map[string]object{
		"/parts/0/job": {"day": "2026-11-20", "into": "cash", "amount": gbp("1.00"), "parts": []any{object{"job": "0197c1de-0000-7000-8000-000000000001", "amount": gbp("1.00")}}},
		"/day":         {"day": "2026-12-24", "into": "cash", "amount": gbp("1.00")},
		"/amount":      {"day": "2026-11-20", "into": "cash", "amount": object{"amount": "1.00", "currency": "EUR"}},
		"/payer":       {"day": "2026-11-20", "into": "cash", "amount": gbp("1.00"), "payer": "0197c1de-0000-7000-8000-000000000001"},
	} {
		g := s.do(auth.Books, http.MethodPost, "/v1/receipts", "", bad)
		if g.status != http.StatusUnprocessableEntity || !strings.Contains(string(g.body), `"`+field+`"`) {
			t.Errorf("%s: %d %s", field, g.status, g.body)
		}
	}
	if got := s.balance("bank"); got != books || s.balance("cash") != "0.00" {
		t.Errorf("the bank is %s, was %s", got, books)
	}

	// Taken back, the job owes it again, and the credit note takes the VAT back.
	path := "/v1/receipts/" + r.Id
	s.do(auth.Books, http.MethodPost, path+"/placements/1/take-back", `"1"`, object{"reason": "Another job's"}).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	s.do(auth.Books, http.MethodPost, path+"/placements/1/take-back", `"2"`, object{"reason": "Another job's"}).into(t, http.StatusOK, &r)
	a = s.account(j.Id)
	if r.Left.Amount != deposit || r.Placements[0].Back.CreditNote != 1 || a.Open != a.Total || a.DepositsHeld.Amount != "0.00" || len(a.VatOnDeposits) != 0 || s.balance("VAT due") != "0.00" {
		t.Errorf("taken back: %+v, %+v", r, a)
	}
	s.do(auth.Books, http.MethodPost, path+"/placements/1/take-back", `"3"`, object{"reason": "Again"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.do(auth.Books, http.MethodPost, path+"/placements", `"3"`, object{"parts": []any{object{"job": j.Id, "amount": gbp(deposit)}}}).into(t, http.StatusOK, &r)

	// Part of it is given back: a credit note with its VAT.
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/refunds", "", object{"amount": gbp("60.00"), "from": "bank", "reason": "Paid too much"}).into(t, http.StatusOK, &a)
	if a.Invoices[len(a.Invoices)-1].Kind != "credit note" || a.Invoices[len(a.Invoices)-1].Gross.Amount != "60.00" || a.Invoices[len(a.Invoices)-1].VatTotal.Amount != "10.00" {
		t.Errorf("refunded: %+v", a.Invoices)
	}

	// A move to the customers' own account, a cheque that bounces, a card payout.
	s.do(auth.Books, http.MethodPost, "/v1/books/moves", "", object{"from": "bank", "into": "customers' money", "amount": gbp("100.00")}).into(t, http.StatusCreated, &openapi.LedgerEntry{})
	var cheque openapi.Receipt
	s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-21", "into": "bank", "amount": gbp("50.00"),
		"parts": []any{object{"job": j.Id, "amount": gbp("30.00")}}}).into(t, http.StatusCreated, &cheque)
	s.do(auth.Books, http.MethodPost, "/v1/receipts/"+cheque.Id+"/refunds", `"2"`, object{"amount": gbp("20.01"), "from": "bank"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	open := s.account(j.Id).Open
	s.do(auth.Books, http.MethodPost, "/v1/receipts/"+cheque.Id+"/loss", `"2"`, object{"how": "bounced", "fee": gbp("7.50"), "reason": "Not paid"}).into(t, http.StatusOK, &cheque)
	if after := s.account(j.Id).Open; after.Amount == open.Amount || cheque.Left.Amount != "0.00" || cheque.Lost.How != "bounced" || s.balance("receipts not yet placed") != "0.00" || s.balance("fees") != "7.50" {
		t.Errorf("bounced: %+v; open %s, was %s", cheque, after.Amount, open.Amount)
	}

	s.reports(j.Id)

	// Invoiced before the work has begun: no.
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/invoice", "", object{}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.at(auth.Workshop, http.MethodPost, "/v1/jobs/"+j.Id+"/attachments", object{"media_type": "image/png", "content": "cGhvdG8="}).into(t, http.StatusCreated, &openapi.JobAttachment{})
	s.at(auth.Sales, http.MethodPost, "/v1/jobs/"+j.Id+"/arrival", conditionOf()).into(t, http.StatusOK, &openapi.JobBoard{})
	var final, note openapi.Invoice
	unpaid := s.at(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/balance", object{"how": "paid"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(unpaid.Errors) != 1 || unpaid.Errors[0].Code != "not_paid" {
		t.Errorf("a balance that is not paid: %+v", unpaid.Errors)
	}
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/invoice", "", object{"due_on": "2026-11-01"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	g = s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/invoice", "", object{"due_on": "2026-12-09"})
	g.into(t, http.StatusCreated, &final)
	a = s.account(j.Id)
	if final.Gross != a.Total || final.Due != a.Open || len(final.Deducted) != 6 || !a.Invoiced || a.DepositsHeld.Amount != "0.00" || s.balance("debtors") != final.Due.Amount {
		t.Errorf("invoiced %+v, the account is %+v", final, a)
	}
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/invoice", "", object{}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	pdf := s.do(auth.Sales, http.MethodGet, g.header.Get("Location")+"/invoice.pdf", "", nil)
	request := s.do(auth.Sales, http.MethodGet, "/v1/jobs/"+j.Id+"/request.pdf?payment="+a.Payments[len(a.Payments)-1].Code, "", nil)
	for name, file := range map[string]got{"invoice": pdf, "request": request} {
		if file.status != http.StatusOK || !bytes.HasPrefix(file.body, []byte("%PDF")) {
			t.Errorf("%s on paper: %d", name, file.status)
		}
	}

	// Paid to the penny; nothing more is placed.
	last := s.deposited(j.Id, a.Open.Amount)
	if a = s.account(j.Id); a.Open.Amount != "0.00" || a.Paid != a.Total || s.balance("debtors") != "0.00" || last.Placements[0].DepositInvoice != 0 {
		t.Errorf("paid: %+v", a)
	}
	s.at(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/balance", object{"how": "paid"}).into(t, http.StatusOK, &openapi.JobBoard{})
	s.do(auth.Books, http.MethodPost, "/v1/invoices/"+final.Id+"/credit-notes", "", object{"reason": "A scratch", "back": []any{
		object{"treatment": "standard", "vat_percent": "20", "net": gbp("100.00"), "vat": gbp("20.00")}}}).into(t, http.StatusCreated, &note)
	if note.Credits != final.Number || s.balance("debtors") != "-120.00" {
		t.Errorf("credited: %+v, debtors %s", note, s.balance("debtors"))
	}
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/refunds", "", object{"amount": gbp("120.01"), "from": "bank", "reason": "x"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+j.Id+"/refunds", "", object{"amount": gbp("120.00"), "from": "bank", "reason": "A scratch"}).into(t, http.StatusOK, &a)

	// The month is closed, and nothing more is entered on it.
	var b openapi.Books
	s.do(auth.Books, http.MethodPost, "/v1/books/close", "", object{"through": "2026-11-24"}).into(t, http.StatusOK, &b)
	s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-24", "into": "bank", "amount": gbp("1.00")}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	sum := 0
	var entries openapi.LedgerEntries
	s.do(auth.Books, http.MethodGet, "/v1/books/entries?limit=100", "", nil).into(t, http.StatusOK, &entries)
	for _, e := range entries.Entries {
		sum += len(e.Lines)
	}
	if b.ClosedThrough != "2026-11-24" || int64(len(entries.Entries)) != b.Entries || entries.Entries[len(entries.Entries)-1].Hash != b.Head || sum == 0 {
		t.Errorf("the books are %+v", b)
	}
	var dues openapi.Dues
	s.do(auth.Sales, http.MethodGet, "/v1/dues", "", nil).into(t, http.StatusOK, &dues)
	for _, d := range dues.Dues {
		if d.Job == j.Id {
			t.Errorf("of a job that is paid %+v is due", d)
		}
	}
	text, _ := json.Marshal(entries)
	if bytes.Contains(text, []byte("Pellow")) {
		t.Error("the entries name a customer")
	}
}

// reports: what is held stands by job in each form, the journal balances, and the
// customer's statement ends with what the job has.
func (s seller) reports(job string) {
	t := s.t
	a := s.account(job)
	var d openapi.DepositsNotEarned
	s.do(auth.Books, http.MethodGet, "/v1/books/deposits", "", nil).into(t, http.StatusOK, &d)
	if len(d.Deposits) != 1 || d.Deposits[0].Job != job || d.Total != a.DepositsHeld || d.NotPlaced.Amount != "0.00" {
		t.Errorf("the deposits are %+v, the job has %s", d, a.DepositsHeld.Amount)
	}
	s.do(auth.Books, http.MethodGet, "/v1/books/deposits?on=2026-11-19", "", nil).into(t, http.StatusOK, &d)
	if len(d.Deposits) != 0 || d.Total.Amount != "0.00" {
		t.Errorf("on a day before they were %+v", d)
	}
	for _, path := range []string{"/v1/books/deposits", "/v1/books/journal", "/v1/dues"} {
		if g := s.do(auth.Books, http.MethodGet, path+".csv", "", nil); g.status != http.StatusOK || !bytes.Contains(g.body, []byte("\r\n")) {
			t.Errorf("%s as CSV: %d %s", path, g.status, g.body)
		}
		if g := s.do(auth.Owner, http.MethodGet, path+".xlsx", "", nil); g.status != http.StatusOK || !bytes.HasPrefix(g.body, []byte("PK")) {
			t.Errorf("%s as a workbook: %d", path, g.status)
		}
	}
}
