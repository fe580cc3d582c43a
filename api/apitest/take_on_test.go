package apitest

import (
	"bytes"
	"io/fs"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/testdata"
)

// broughtAlong is one of the examples of what a workshop brings along.
func broughtAlong(t *testing.T, folder string, without ...string) object {
	t.Helper()
	var files []any
	all, err := fs.Glob(testdata.TakeOn, "take_on/"+folder+"/*.csv")
	if err != nil || len(all) == 0 {
		t.Fatal(err, "no files")
	}
	for _, path := range all {
		text, err := fs.ReadFile(testdata.TakeOn, path)
		if err != nil {
			t.Fatal(err)
		}
		if name := strings.TrimSuffix(filepath.Base(path), ".csv"); len(without) == 0 || name != without[0] {
			files = append(files, object{"name": name, "text": string(text)})
		}
	}
	return object{"on": "2026-11-20", "files": files}
}

// TestTakenOn: a workshop brings along vans in build, deposits whose VAT was
// declared, slots and stock; tries it, takes it on once, and from there on its
// jobs are worked, paid, invoiced and handed over like any other: of the VAT only
// that of the balance becomes due here.
func TestTakenOn(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.floor(2)
	s.refusesToTakeOn()

	body := broughtAlong(t, "good")
	var report openapi.TakeOnReport
	s.do(auth.Books, http.MethodPost, "/v1/take-on/trial", "", body).into(t, http.StatusOK, &report)
	if !report.Agrees || report.Jobs != 3 || report.Deposits != 5 || report.Slots != 2 || report.Parts != 3 || len(report.Proofs) != 10 || len(report.Accounts) != 5 || len(report.Faults) != 0 {
		t.Fatalf("tried: %+v", report)
	}
	s.do(auth.Owner, http.MethodGet, "/v1/take-on", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	s.do(auth.Books, http.MethodPost, "/v1/take-on", "", body).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	var done, again openapi.TakeOn
	s.do(auth.Owner, http.MethodPost, "/v1/take-on", "", body).into(t, http.StatusCreated, &done)
	if len(done.Jobs) != 3 || done.FirstEntry != 1 || done.LastEntry != 6 || len(done.Proofs) != len(report.Proofs) {
		t.Fatalf("taken on: %+v", done)
	}
	s.do(auth.Owner, http.MethodPost, "/v1/take-on", "", body).into(t, http.StatusOK, &again)
	if again.LastEntry != done.LastEntry || again.FilesSha256 != done.FilesSha256 || again.Jobs[0] != done.Jobs[0] {
		t.Errorf("sent again: %+v", again)
	}
	s.do(auth.Owner, http.MethodPost, "/v1/take-on", "", broughtAlong(t, "good", "stock")).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.do(auth.Books, http.MethodGet, "/v1/take-on", "", nil).into(t, http.StatusOK, &again)
	for _, role := range []auth.Role{auth.Sales, auth.Workshop} {
		s.do(role, http.MethodGet, "/v1/take-on", "", nil).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
		s.do(role, http.MethodPost, "/v1/take-on", "", body).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	}
	s.exchange(t, call{method: http.MethodGet, path: "/v1/take-on", of: s.Theirs, role: auth.Owner}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)

	// The books are the list.
	for account, want := range map[string]string{"bank": "18240.55", "cash": "112.40", "deposits not yet earned": "-10680.00", "VAT on deposits": "1700.00", "opening balance": "-9372.95", "VAT due": "0.00"} {
		if got := s.balance(account); got != want {
			t.Errorf("%s has %s, want %s", account, got, want)
		}
	}
	for _, on := range []string{"", "?on=2026-11-20"} {
		var held openapi.DepositsNotEarned
		s.do(auth.Books, http.MethodGet, "/v1/books/deposits"+on, "", nil).into(t, http.StatusOK, &held)
		if held.Total.Amount != "10680.00" || len(held.Deposits) != 3 {
			t.Errorf("held%s: %+v", on, held)
		}
	}
	if got := askAs[openapi.Stock](s, auth.Books, http.MethodGet, "/v1/stock/gel_battery", "", nil, http.StatusOK); got.OnHand != "5" {
		t.Errorf("of batteries there are %s", got.OnHand)
	}
	s.buildsWhatWasTakenOn(done.Jobs[0])
	s.cancelsWhatWasTakenOn(done.Jobs[2])
	s.paysWhatWasTakenOn(done.Jobs[1])
	s.forgetsWhatWasTakenOn(done.Jobs[2])
	s.restoresWhatWasTakenOn()
}

// refusesToTakeOn: with anything wrong nothing is there at all.
func (s seller) refusesToTakeOn() {
	t := s.t
	var report openapi.TakeOnReport
	s.do(auth.Owner, http.MethodPost, "/v1/take-on/trial", "", broughtAlong(t, "faulty")).into(t, http.StatusOK, &report)
	if report.Agrees || len(report.Faults) != 48 || report.Faults[0].File != "balances.csv" || report.Faults[0].Line != 2 || report.Faults[0].Column != "statement" {
		t.Errorf("the faults are %d: %+v", len(report.Faults), report.Faults[:1])
	}
	p := s.do(auth.Owner, http.MethodPost, "/v1/take-on", "", broughtAlong(t, "faulty")).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
	if len(p.Errors) != 48 || !strings.HasPrefix(p.Errors[0].Reason, "balances.csv, line 2, statement: ") || p.Errors[0].Field != "/files/0/text" {
		t.Errorf("refused with %+v", p.Errors[:1])
	}
	// A slot in which the work does not fit is refused with the rest.
	tight := broughtAlong(t, "good")
	for _, f := range tight["files"].([]any) {
		if file := f.(object); file["name"] == "slots" {
			file["text"] = strings.ReplaceAll(strings.ReplaceAll(file["text"].(string), "bay_2", "bay_1"), "2026-12-07", "2026-12-04")
		}
	}
	s.do(auth.Owner, http.MethodPost, "/v1/take-on/trial", "", tight).into(t, http.StatusOK, &report)
	if len(report.Faults) == 0 || report.Faults[0].File != "slots.csv" || report.Faults[0].Line != 3 || !strings.Contains(report.Faults[0].Reason, "job J-101") {
		t.Errorf("in one bay: %+v", report.Faults)
	}
	s.do(auth.Owner, http.MethodPost, "/v1/take-on", "", tight).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)
	late := broughtAlong(t, "good")
	late["on"] = "2026-11-26"
	s.do(auth.Owner, http.MethodPost, "/v1/take-on", "", late).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeDocumentRefused)

	// Nothing of it is there.
	var books openapi.Books
	s.do(auth.Books, http.MethodGet, "/v1/books", "", nil).into(t, http.StatusOK, &books)
	var customers openapi.Customers
	s.do(auth.Sales, http.MethodGet, "/v1/customers?find=Winterbourne", "", nil).into(t, http.StatusOK, &customers)
	if books.Entries != 0 || len(customers.Customers) != 0 || len(s.jobs("")) != 0 {
		t.Errorf("refused, and there are %d entries, %d customers, %d jobs", books.Entries, len(customers.Customers), len(s.jobs("")))
	}
	theirs := s.exchange(t, call{method: http.MethodPost, path: "/v1/take-on/trial", of: s.Theirs, role: auth.Owner, body: broughtAlong(t, "good")})
	if theirs.into(t, http.StatusOK, &report); report.Agrees {
		t.Error("the other workshop has no such vans, and it agrees")
	}
}

// buildsWhatWasTakenOn: the van stands on the board at its stage, has its slot,
// is paid, and is invoiced less what came before.
func (s seller) buildsWhatWasTakenOn(job string) {
	t := s.t
	var board openapi.JobBoard
	s.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+job+"/board", "", nil).into(t, http.StatusOK, &board)
	if !slices.ContainsFunc(board.InTheWay, func(w openapi.Stops) bool { return w.Code == "paper" && w.About == "electrical_test" }) ||
		!slices.ContainsFunc(board.InTheWay, func(w openapi.Stops) bool { return w.Code == "weighing" }) || len(board.Show) != 2 {
		t.Errorf("what it needs before it is handed over: %+v, %+v", board.InTheWay, board.Show)
	}
	if len(board.Stages) != 4 || board.Stages[0].Code != "lining" || board.Stages[0].State != "under way" || !board.OnSite || board.State != "in the workshop" {
		t.Errorf("the board is %+v", board.Stages)
	}
	var was openapi.TakenOnJob
	s.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+job+"/taken-on", "", nil).into(t, http.StatusOK, &was)
	if was.Key != "J-101" || was.PromisedOn != "2026-12-18" || len(was.Hours) != 3 {
		t.Errorf("it was %+v", was)
	}
	var slot openapi.Slot
	s.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+job+"/slot", "", nil).into(t, http.StatusOK, &slot)
	if slot.State != "firm" || len(slot.Days.Stays) != 1 || slot.Days.Stays[0].Place != "bay_1" || slot.Days.Stays[0].From != "2026-11-09" {
		t.Errorf("its slot is %+v", slot)
	}
	var ahead openapi.OutlookList
	s.do(auth.Workshop, http.MethodGet, "/v1/outlook", "", nil).into(t, http.StatusOK, &ahead)
	if !slices.ContainsFunc(ahead.Vans, func(v openapi.Outlook) bool { return v.Job == job }) {
		t.Errorf("what stops each van: %+v", ahead.Vans)
	}
	s.at(auth.Workshop, http.MethodPost, "/v1/jobs/"+job+"/stages", object{"stage": "lining", "do": "finish"}).into(t, http.StatusOK, &board)
	s.do(auth.Sales, http.MethodGet, "/v1/jobs/"+job+"/agreement", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)

	a := s.account(job)
	if a.Total.Amount != "14400.00" || a.DepositsHeld.Amount != "7880.00" || a.Open.Amount != "6520.00" || len(a.TakenOn) != 2 || a.TakenOn[1].Vat[0].Vat.Amount != "833.33" || a.Payments[0].State != "paid" {
		t.Errorf("its account is %+v", a)
	}
	s.deposited(job, "1000.00")
	// Part of what came before goes back: our credit note, with its VAT.
	s.do(auth.Books, http.MethodPost, "/v1/jobs/"+job+"/refunds", "", object{"amount": gbp("1600.00"), "from": "bank", "reason": "Dropped the awning"}).into(t, http.StatusOK, &a)
	if a.DepositsHeld.Amount != "7280.00" || len(a.Invoices) != 3 || s.balance("VAT due") != "100.00" {
		t.Errorf("refunded: %+v; VAT due %s", a, s.balance("VAT due"))
	}
	var final openapi.Invoice
	g := s.do(auth.Books, http.MethodPost, "/v1/jobs/"+job+"/invoice", "", object{})
	g.into(t, http.StatusCreated, &final)
	// 14400 less 7880 that came before and 1000 that came here, and 1600 back.
	if final.Gross.Amount != "14400.00" || final.Due.Amount != "7120.00" || len(final.Deducted) != 5 || final.Deducted[0].Kind != "deposit taken on" || s.balance("VAT on deposits") != "386.67" {
		t.Errorf("invoiced %+v; VAT on deposits %s", final, s.balance("VAT on deposits"))
	}
	if pdf := s.do(auth.Sales, http.MethodGet, g.header.Get("Location")+"/invoice.pdf", "", nil); pdf.status != http.StatusOK {
		t.Errorf("on paper: %d", pdf.status)
	}
	var vat openapi.VatReport
	s.do(auth.Books, http.MethodGet, "/v1/vat-report?from=2026-11-01&until=2026-11-30", "", nil).into(t, http.StatusOK, &vat)
	// All of the job is 2400.00, of which 480.00 and 833.33 were declared before.
	if vat.OutputVat.Amount != "1086.67" {
		t.Errorf("%s of VAT is due in the first period", vat.OutputVat.Amount)
	}
	s.deposited(job, "7120.00")
	if a = s.account(job); a.Open.Amount != "0.00" || s.balance("debtors") != "0.00" {
		t.Errorf("paid: %+v", a)
	}
	s.at(auth.Books, http.MethodPost, "/v1/jobs/"+job+"/balance", object{"how": "paid"}).into(t, http.StatusOK, &board)
}

// cancelsWhatWasTakenOn: of a cancelled job the deposits that came before are kept
// or go back, with their VAT.
func (s seller) cancelsWhatWasTakenOn(job string) {
	t := s.t
	s.at(auth.Owner, http.MethodPost, "/v1/jobs/"+job+"/cancellation", object{"because": "Bought another"}).into(t, http.StatusOK, &openapi.JobBoard{})
	var proposed openapi.Settlement
	s.do(auth.Owner, http.MethodGet, "/v1/jobs/"+job+"/settlement", "", nil).into(t, http.StatusOK, &proposed)
	if proposed.Held.Amount != "400.00" || len(proposed.Payers) != 1 || proposed.Payers[0].Amount.Amount != "400.00" {
		t.Fatalf("proposed %+v", proposed)
	}
	before := s.balance("VAT due")
	s.do(auth.Owner, http.MethodPost, "/v1/jobs/"+job+"/settlement", "", object{"kept": gbp("100.00"), "refunds": []any{object{"customer": proposed.Payers[0].Customer, "amount": gbp("300.00")}},
		"from": "bank", "reason": "The glass was cut"}).into(t, http.StatusCreated, &openapi.Settlement{})
	a := s.account(job)
	if a.DepositsHeld.Amount != "0.00" || len(a.VatOnDeposits) != 0 || s.balance("deposits kept") != "-83.33" {
		t.Errorf("settled: %+v; kept %s, VAT due %s before and %s after", a, s.balance("deposits kept"), before, s.balance("VAT due"))
	}
}

// paysWhatWasTakenOn: one at two rates, of which one is zero.
func (s seller) paysWhatWasTakenOn(job string) {
	t := s.t
	a := s.account(job)
	if a.Total.Amount != "12000.00" || a.DepositsHeld.Amount != "2400.00" || len(a.VatOnDeposits) != 2 {
		t.Errorf("its account is %+v", a)
	}
	s.deposited(job, "600.00")
	var price openapi.AgreedPrice
	s.at(auth.Sales, http.MethodPut, "/v1/jobs/"+job+"/agreed-price", object{"lines": []any{object{"words": "Hire fit", "unit_price": gbp("9900.00"), "treatment": "standard"},
		object{"words": "Wheelchair lift", "unit_price": gbp("2400.00"), "treatment": "zero", "evidence": "Declaration of 1 September 2026"}}}).into(t, http.StatusOK, &price)
	if a = s.account(job); price.Number != 2 || a.Total.Amount != "12300.00" || a.Open.Amount != "9300.00" {
		t.Errorf("agreed anew: %+v, %+v", price, a)
	}
}

// forgetsWhatWasTakenOn: what names the customer goes with them.
func (s seller) forgetsWhatWasTakenOn(job string) {
	t := s.t
	entry := s.jobAt(job)
	customer := entry.Customer
	var was openapi.TakenOnJob
	s.do(auth.Owner, http.MethodGet, "/v1/jobs/"+job+"/taken-on", "", nil).into(t, http.StatusOK, &was)
	theirs := []string{"Merrow Camper Hire", "yard@merrow.example", "WT23 MRW", "J-103", "Windows and a floor", "bank, Merrow", "SK4 9QA"}
	if _, file := store.AtFile(s.Address); file {
		if there := s.leftInFiles(t, theirs...); len(there) != len(theirs) {
			t.Errorf("before, only %q can be found in the files: the search is blind", there)
		}
	}
	err := s.Store.As(s.Ours.Principal[auth.Owner]).Write(t.Context(), func(tx store.WriteTx) error {
		c, err := tx.Customer(uuid.MustParse(customer))
		if err == nil {
			_, err = tx.EraseCustomer(c.ID, c.Version, nil)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Store.Sweep(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, file := store.AtFile(s.Address); file {
		if left := s.leftInFiles(t, theirs...); len(left) > 0 {
			t.Errorf("erased, and the files still hold %q", left)
		}
	}
	s.do(auth.Owner, http.MethodGet, "/v1/jobs/"+job+"/taken-on", "", nil).into(t, http.StatusOK, &was)
	if a := s.account(job); was.Key != "" || was.Says != "" || len(a.TakenOn) != 1 || a.TakenOn[0].Words != "" {
		t.Errorf("erased, and there is %+v, %+v", was, a.TakenOn)
	}
}

// restoresWhatWasTakenOn: the journal holds, and a backup brings all of it back.
func (s seller) restoresWhatWasTakenOn() {
	t := s.t
	s.verify(t, s.Ours)
	var backup bytes.Buffer
	made, err := store.WriteBackup(t.Context(), s.Address, &backup, Noon)
	if err != nil {
		t.Fatal(err)
	}
	// Restoring works the books out again, entry by entry.
	path := filepath.Join(t.TempDir(), "restored.db")
	if _, err := store.Migrate(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	restored, err := store.Restore(t.Context(), path, &backup)
	if err != nil || restored.SHA256 != made.SHA256 {
		t.Errorf("restored: %+v, %v", restored, err)
	}
}
