package apitest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// toReconcile are the open lines of an account with what they may be, by words.
func (s seller) toReconcile(account string) (openapi.LinesToReconcile, map[string]openapi.LineToReconcile) {
	s.t.Helper()
	all := askAs[openapi.LinesToReconcile](s, auth.Books, http.MethodGet, "/v1/bank-accounts/"+account+"/reconciliation?limit=100", "", nil, http.StatusOK)
	by := map[string]openapi.LineToReconcile{}
	for _, l := range all.Lines {
		by[l.Line.Words] = l
	}
	return all, by
}

// balances of every account of the books.
func (s seller) balances() map[string]string {
	s.t.Helper()
	b := askAs[openapi.Books](s, auth.Books, http.MethodGet, "/v1/books", "", nil, http.StatusOK)
	all := map[string]string{}
	for _, a := range b.Accounts {
		all[string(a.Account)] = a.Balance.Amount
	}
	return all
}

func (s seller) reconcile(line string, body object, status int) openapi.Reconciliation {
	s.t.Helper()
	return askAs[openapi.Reconciliation](s, auth.Books, http.MethodPost, "/v1/statement-lines/"+line+"/reconcile", "", body, status)
}

// TestReconciliation: what is certain is applied when the workshop allows it, the
// rest confirmed or left; entries by hand are shown by lines; card takings are
// paid out; undone, every balance is as it was; nothing is reconciled twice.
func TestReconciliation(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)
	a := s.account(j.Id)
	account := s.bank()
	deposit := a.Payments[0].Amount.Amount
	s.deposited(j.Id, "40.00") // a cheque that was entered by hand
	s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-20", "into": "card takings", "amount": gbp("100.00"),
		"parts": []any{object{"job": j.Id, "amount": gbp("100.00")}}}).into(t, http.StatusCreated, &openapi.Receipt{})
	before := s.balances()
	s.bring(account, bankCSV(balancedRows(deposit, a.Reference)...), http.StatusCreated)

	all, by := s.toReconcile(account)
	if all.Open != 4 || all.Certain != 1 || len(all.Waiting) != 1 || all.Waiting[0].Amount.Amount != "40.00" {
		t.Fatalf("%+v", all)
	}
	told := func(words string) string {
		l := by[words]
		if len(l.Proposals) == 0 {
			return ""
		}
		p := l.Proposals[0]
		return fmt.Sprintf("%s %d %t %d parts, entries %v, card %s", p.Kind, p.Score, p.Certain, len(p.Parts), len(p.Entries), p.CardTaken.Amount)
	}
	for words, want := range map[string]string{
		a.Reference:    "reference 98 true 2 parts, entries 0, card ",
		"cheques":      "entered before 90 false 0 parts, entries 1, card ",
		"card company": "payout of card takings 50 false 0 parts, entries 0, card 100.00",
		"nobody knows": "",
	} {
		if got := told(words); got != want {
			t.Errorf("%s: %q, want %q", words, got, want)
		}
	}
	if b := all.Books; b.Books.Amount != "40.00" || b.Waiting.Amount != "40.00" || b.Difference.Amount != "100.00" {
		t.Errorf("the books: %+v", b) // the hundred that the bank held before
	}

	// What is certain, once the owner allows it; undone, all is as it was.
	certain := func(status int) (done openapi.CertainApplied) {
		t.Helper()
		return askAs[openapi.CertainApplied](s, auth.Books, http.MethodPost, "/v1/bank-accounts/"+account+"/reconciliation/certain", "", nil, status)
	}
	certain(http.StatusConflict)
	tag := s.do(auth.Owner, http.MethodGet, "/v1/books", "", nil).header.Get("ETag")
	if g := s.do(auth.Owner, http.MethodPut, "/v1/books", tag, object{"apply_certain": true}); g.status != http.StatusOK {
		t.Fatalf("%d %s", g.status, g.body)
	}
	done := certain(http.StatusOK)
	if len(done.Applied) != 1 || done.Left != 0 || !done.Applied[0].Certain || done.Applied[0].Receipt == "" {
		t.Fatalf("%+v", done)
	}
	if now := s.account(j.Id); now.Paid == a.Paid {
		t.Errorf("the job: %+v", now)
	}
	undone := askAs[openapi.Reconciliation](s, auth.Books, http.MethodPost, "/v1/reconciliations/"+done.Applied[0].Id+"/undo", `"1"`, object{"reason": "To look"}, http.StatusOK)
	if after := s.balances(); undone.UndoneBy == "" || !maps.Equal(before, after) {
		t.Errorf("undone, the books are %v, were %v", after, before)
	}
	s.do(auth.Books, http.MethodPost, "/v1/reconciliations/"+undone.Id+"/undo", `"2"`, object{"reason": "Again"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)

	// Two at once: one wins.
	line := by[a.Reference].Line.Id
	var wait sync.WaitGroup
	statuses := make([]int, 2)
	for i := range statuses {
		wait.Go(func() {
			statuses[i] = s.do(auth.Books, http.MethodPost, "/v1/statement-lines/"+line+"/reconcile", "", object{"parts": []any{object{"job": j.Id, "amount": gbp(deposit)}}}).status
		})
	}
	wait.Wait()
	slices.Sort(statuses)
	if !slices.Equal(statuses, []int{http.StatusCreated, http.StatusConflict}) {
		t.Errorf("two at once get %v", statuses)
	}

	// The cheque shows its entry, and no other line may; the payout has its fee;
	// what nobody knows stays unplaced.
	shown := by["cheques"].Proposals[0].Entries
	if g := s.do(auth.Books, http.MethodPost, "/v1/statement-lines/"+by["nobody knows"].Line.Id+"/reconcile", "", object{"entries": shown}); g.status != http.StatusUnprocessableEntity {
		t.Errorf("another amount: %d %s", g.status, g.body)
	}
	s.reconcile(by["cheques"].Line.Id, object{"entries": shown}, http.StatusCreated)
	payout := s.reconcile(by["card company"].Line.Id, object{"card_taken": gbp("100.00")}, http.StatusCreated)
	if s.balance("card takings") != "0.00" || s.balance("fees") != "2.00" || payout.Entry == 0 {
		t.Errorf("paid out: %+v", s.balances())
	}
	for _, bad := range []object{{}, {"unplaced": true, "entries": shown}} {
		if g := s.do(auth.Books, http.MethodPost, "/v1/statement-lines/"+by["nobody knows"].Line.Id+"/reconcile", "", bad); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d", bad, g.status)
		}
	}
	s.reconcile(by["nobody knows"].Line.Id, object{"unplaced": true}, http.StatusCreated)
	if s.balance("receipts not yet placed") != "-12.34" {
		t.Errorf("unplaced: %s", s.balance("receipts not yet placed"))
	}

	// A cheque bounces: the job owes it again, and the bank's line shows it.
	cheque := openapi.Receipt{}
	for _, r := range askAs[openapi.Receipts](s, auth.Books, http.MethodGet, "/v1/receipts", "", nil, http.StatusOK).Receipts {
		if r.Amount.Amount == "40.00" {
			cheque = askAs[openapi.Receipt](s, auth.Books, http.MethodGet, "/v1/receipts/"+r.Id, "", nil, http.StatusOK)
		}
	}
	if g := s.do(auth.Books, http.MethodPost, "/v1/receipts/"+cheque.Id+"/loss", fmt.Sprintf(`"%d"`, cheque.Version), object{"how": "bounced", "reason": "Not paid"}); g.status != http.StatusOK {
		t.Fatalf("%d %s", g.status, g.body)
	}
	closing := s.proof(account, "").Closing.Amount
	brought := s.bring(account, bankCSV("24/11/2026,unpaid cheque,,,-40.00,"+plus(t, closing, "-40.00")), http.StatusCreated)
	if brought.Certain.Applied != 1 { // it is the only entry of that amount about that day
		t.Fatalf("%+v", brought)
	}
	all, _ = s.toReconcile(account)
	if all.Open != 0 || len(all.Waiting) != 0 || all.Books.Difference.Amount != "100.00" || all.Books.Waiting.Amount != "0.00" {
		t.Errorf("at the end: %+v", all)
	}
	if list := askAs[openapi.Reconciliations](s, auth.Books, http.MethodGet, "/v1/reconciliations", "", nil, http.StatusOK); len(list.Reconciliations) != 6 || !list.Reconciliations[0].Certain {
		t.Errorf("%d reconciliations", len(list.Reconciliations))
	}
	w.verify(t, w.Ours)
}

// balancedRows are four lines with their balances, from a hundred on.
func balancedRows(deposit, reference string) []string {
	sum := decimal.RequireFromString("100.00")
	var rows []string
	for i, r := range [][2]string{{reference + ",A PAYER,GB9", deposit}, {"cheques,,", "40.00"}, {"card company,,", "98.00"}, {"nobody knows,,", "12.34"}} {
		sum = sum.Add(decimal.RequireFromString(r[1]))
		rows = append(rows, fmt.Sprintf("%d/11/2026,%s,%s,%s", 20+i, r[0], r[1], sum.StringFixed(2)))
	}
	return rows
}

func plus(t *testing.T, a, b string) string {
	t.Helper()
	return decimal.RequireFromString(a).Add(decimal.RequireFromString(b)).StringFixed(2)
}

// sequence reads a sequence of JSON texts (RFC 7464) strictly.
func sequence[T any](t *testing.T, body []byte) (list []T) {
	t.Helper()
	records := bytes.Split(body, []byte{0x1e})
	if len(records[0]) > 0 {
		t.Fatalf("before the first record: %q", records[0])
	}
	for _, r := range records[1:] {
		in := json.NewDecoder(bytes.NewReader(r))
		in.DisallowUnknownFields()
		var one T
		if err := in.Decode(&one); err != nil || !bytes.HasSuffix(r, []byte("\n")) {
			t.Fatalf("%q: %v", r, err)
		}
		list = append(list, one)
	}
	return list
}

// TestCertainBehindImport: where the workshop allows it, what is certain is
// applied right behind the file that brings it, told, and undone like any other;
// who asks is told how far it has come.
func TestCertainBehindImport(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	a := s.account(s.job(nil).Id)
	account := s.bank()
	tag := s.do(auth.Owner, http.MethodGet, "/v1/books", "", nil).header.Get("ETag")
	s.do(auth.Owner, http.MethodPut, "/v1/books", tag, object{"apply_certain": true})
	s.do(auth.Books, http.MethodPost, "/v1/books/close", "", object{"through": "2026-11-20"}).into(t, http.StatusOK, new(openapi.Books))
	before := s.balances()
	file := bankCSV("20/11/2026,"+a.Reference+",A PAYER,GB9,40.00,140.00", "21/11/2026,"+a.Reference+",A PAYER,GB9,50.00,190.00", "22/11/2026,nobody knows,,,12.34,202.34")
	asking := call{method: http.MethodPost, path: "/v1/statements", of: w.Ours, role: auth.Books, body: object{"account": account, "content": sentFile(file)},
		header: http.Header{"Accept": {"text/html, application/json-seq;q=0.9"}, "Idempotency-Key": {"the-file-of-november"}}}
	raw := func() *httptest.ResponseRecorder {
		recorder := httptest.NewRecorder()
		w.Server.Handler().ServeHTTP(recorder, w.request(t, asking))
		return recorder
	}
	told := raw()
	if told.Code != http.StatusOK || told.Header().Get("Content-Type") != "application/json-seq" {
		t.Fatalf("%d %s: %s", told.Code, told.Header().Get("Content-Type"), told.Body)
	}
	records := sequence[openapi.ImportRecord](t, told.Body.Bytes())
	last := records[len(records)-1].Answer
	if last.Status != http.StatusCreated || last.Location == "" || len(last.Body.Statements) != 1 || last.Body.Certain != (openapi.CertainBehind{Applied: 2}) {
		t.Errorf("the end is %+v", last)
	}
	var steps []string
	for _, r := range records[:len(records)-1] {
		steps = append(steps, fmt.Sprintf("%s %d/%d", r.Progress.Step, r.Progress.Done, r.Progress.Of))
	}
	if got, want := strings.Join(steps, ", "), "lines kept 0/3, lines kept 3/3, jobs read 0/1, lines compared 0/3, certain ones applied 0/2, certain ones applied 2/2"; got != want {
		t.Errorf("told %s, want %s", got, want)
	}
	if again := raw(); again.Header().Get("Content-Type") != "application/json" || again.Code != http.StatusCreated || !strings.Contains(again.Body.String(), `"applied":2`) {
		t.Errorf("again: %d %s", again.Code, again.Body)
	}
	if now := s.account(a.Job); now.Paid.Amount != plus(t, a.Paid.Amount, "90.00") {
		t.Errorf("paid is %s", now.Paid.Amount)
	}
	// The first came on a day that is closed: it is entered on the first that is
	// open, and its deposit invoice keeps the day as tax point.
	days := map[string]string{} // entered, by day
	for _, r := range askAs[openapi.Reconciliations](s, auth.Books, http.MethodGet, "/v1/reconciliations", "", nil, http.StatusOK).Reconciliations {
		if !r.Certain {
			t.Errorf("%+v", r)
		}
		receipt := askAs[openapi.Receipt](s, auth.Books, http.MethodGet, "/v1/receipts/"+r.Receipt, "", nil, http.StatusOK)
		entered := askAs[openapi.LedgerEntries](s, auth.Books, http.MethodGet, fmt.Sprintf("/v1/books/entries?limit=2&after=%d", receipt.Entry-1), "", nil, http.StatusOK).Entries
		for _, paper := range s.account(a.Job).Invoices {
			if paper.Kind == "deposit invoice" && paper.Number == receipt.Placements[0].DepositInvoice {
				days[receipt.Day] = fmt.Sprintf("%s, %s, tax point %s", entered[0].Day, entered[1].Day, paper.TaxPoint)
			}
		}
		askAs[openapi.Reconciliation](s, auth.Books, http.MethodPost, "/v1/reconciliations/"+r.Id+"/undo", `"1"`, object{"reason": "To look"}, http.StatusOK)
	}
	if days["2026-11-20"] != "2026-11-21, 2026-11-21, tax point 2026-11-20" || days["2026-11-21"] != "2026-11-21, 2026-11-21, tax point 2026-11-21" {
		t.Errorf("entered on %v", days)
	}
	if after := s.balances(); !maps.Equal(before, after) {
		t.Errorf("undone, the books are %v, were %v", after, before)
	}

	// The list tells how far it is, too, once for all its pages; what goes wrong
	// before anything was told is told as ever.
	asking = call{method: http.MethodGet, path: "/v1/bank-accounts/" + account + "/reconciliation", of: w.Ours, role: auth.Books, header: http.Header{"Accept": {"application/json-seq"}}}
	list := sequence[openapi.ReconcileRecord](t, raw().Body.Bytes())
	if len(list) != 3 || list[2].Answer.Body.Open != 3 || list[2].Answer.Body.Certain != 2 {
		t.Errorf("%+v", list)
	}
	if again := raw(); again.Header().Get("Content-Type") != "application/json" {
		t.Errorf("worked out before, it is %s", again.Body)
	}
	asking.path = "/v1/bank-accounts/" + w.Ours.Principal[auth.Owner].Person.String() + "/reconciliation"
	if none := raw(); none.Code != http.StatusNotFound || none.Header().Get("Content-Type") != "application/problem+json" {
		t.Errorf("%d %s", none.Code, none.Body)
	}
	w.verify(t, w.Ours)
}

// TestChargedBack: one payout is what was taken, less what was charged back, less
// fees; what was charged back is owed again, and where that is more than was taken
// since the bank shows money going out.
func TestChargedBack(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	a := s.account(s.job(nil).Id)
	account := s.bank()
	taken := func(amount string) (r openapi.Receipt) {
		t.Helper()
		s.do(auth.Books, http.MethodPost, "/v1/receipts", "", object{"day": "2026-11-20", "into": "card takings", "amount": gbp(amount),
			"parts": []any{object{"job": a.Job, "amount": gbp(amount)}}}).into(t, http.StatusCreated, &r)
		return r
	}
	lose := func(r openapi.Receipt, fee string) {
		t.Helper()
		body := object{"how": "charged back", "reason": "The card company took it back", "fee": gbp(fee)}
		if g := s.do(auth.Books, http.MethodPost, "/v1/receipts/"+r.Id+"/loss", fmt.Sprintf(`"%d"`, r.Version), body); g.status != http.StatusOK {
			t.Fatalf("%d %s", g.status, g.body)
		}
	}
	paidOut := func(row, card, fees string) {
		t.Helper()
		s.bring(account, bankCSV(row), http.StatusCreated)
		all, _ := s.toReconcile(account)
		if len(all.Lines) != 1 || len(all.Lines[0].Proposals) != 1 || all.Lines[0].Proposals[0].CardTaken.Amount != card {
			t.Fatalf("%s may be %+v", row, all.Lines)
		}
		s.reconcile(all.Lines[0].Line.Id, object{"card_taken": gbp(card)}, http.StatusCreated)
		if s.balance("card takings") != "0.00" || s.balance("fees") != fees {
			t.Errorf("after %s: %+v", row, s.balances())
		}
	}
	first := taken("100.00")
	paidOut("21/11/2026,card company,,,98.00,98.00", "100.00", "2.00")
	lose(first, "15.00")
	second := taken("300.00")
	if now := s.account(a.Job); now.Open.Amount != plus(t, a.Total.Amount, "-300.00") {
		t.Errorf("charged back, and %s of %s is open", now.Open.Amount, a.Total.Amount)
	}
	paidOut("22/11/2026,card company,,,181.00,279.00", "185.00", "21.00") // 300 less 100 and 15
	lose(second, "15.00")
	paidOut("23/11/2026,card company,,,-316.00,-37.00", "-315.00", "37.00")
	if now := s.account(a.Job); now.Open.Amount != a.Total.Amount || now.DepositsHeld.Amount != "0.00" {
		t.Errorf("all charged back, and %s of %s is open", now.Open.Amount, a.Total.Amount)
	}
	w.verify(t, w.Ours)
}
