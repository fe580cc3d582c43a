package apitest

import (
	"encoding/json"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

func pounds(amount string) object { return object{"amount": amount, "currency": "GBP"} }

// charged is a line of goods as a supplier charges it.
func charged(line int, quantity, price, amount string) object {
	l := object{"kind": "goods", "words": "Two-burner hob", "quantity": quantity, "unit_price": pounds(price), "amount": pounds(amount), "treatment": "standard", "vat_percent": "20"}
	if line > 0 {
		l["line"] = line
	}
	return l
}

// supplierPaper is a paper of a supplier with one row of VAT.
func supplierPaper(kind, number, order string, net, vat, gross string, lines ...object) object {
	p := object{"kind": kind, "number": number, "supplier_code": "brackwater", "issued_on": "2026-11-20", "due_on": "2026-11-24", "lines": lines,
		"vat": []object{{"treatment": "standard", "vat_percent": "20", "net": pounds(net), "vat": pounds(vat)}}, "gross": pounds(gross)}
	if order != "" {
		p["order"] = order
	}
	return p
}

// post is an exchange of owner or books that must come to a status.
func postAs[T any](s seller, path, version string, body any, status int) T {
	s.t.Helper()
	return askAs[T](s, auth.Books, http.MethodPost, path, version, body, status)
}

// TestPurchases goes with a supplier's invoice from the delivery to its payment
// and into the VAT of its period, with a credit note on the way; then a van
// through the stock book.
func TestPurchases(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	o := askAs[openapi.Order](s, auth.Workshop, http.MethodPost, "/v1/orders", "",
		object{"supplier_code": "brackwater", "lines": []object{{"kind": "part", "code": "hob_2", "quantity": "2", "wanted_on": "2026-12-18"}}}, http.StatusCreated)
	o = askAs[openapi.Order](s, auth.Owner, http.MethodPost, "/v1/orders/"+o.Id+"/place", `"1"`, object{"knowing": true}, http.StatusOK)
	askAs[openapi.Order](s, auth.Workshop, http.MethodPost, "/v1/orders/"+o.Id+"/deliveries", `"2"`, object{"lines": []object{{"line": 1, "quantity": "1"}}}, http.StatusOK)
	if o.Lines[0].UnitPrice != gbp("130.57") {
		t.Fatalf("a hob is %+v", o.Lines[0].UnitPrice)
	}

	// Two are charged and one is here, and one is what is owed.
	whole := supplierPaper("invoice", "BW 771", o.Id, "261.14", "52.23", "313.37", charged(1, "2", "130.57", "261.14"))
	i := postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices", "", whole, http.StatusCreated)
	if i.State != "entered" || i.TaxPoint != "2026-11-20" || i.SupplierName == "" || len(i.Credit) != 1 || i.Credit[0].Net != gbp("130.57") || i.Credit[0].Vat != gbp("26.12") ||
		i.Match[0].Differences[0].What != "not delivered" || i.Owed != gbp("0.00") {
		t.Fatalf("entered %+v", i)
	}
	path := "/v1/supplier-invoices/" + i.Id
	s.refusesPapers(whole, path)
	d := postAs[openapi.SupplierInvoice](s, path+"/decision", `"1"`, object{"decision": "accepted in part", "reason": "One hob is still to come."}, http.StatusOK)
	if d.Owed != gbp("156.68") || d.Disputed != gbp("156.69") || d.Left != d.Owed || d.Reason == "" || d.Entry == 0 || d.DecidedOn != "2026-11-25" {
		t.Fatalf("decided %+v", d)
	}
	if g := s.do(auth.Books, http.MethodPost, path+"/decision", `"2"`, object{"decision": "refused"}); g.status != http.StatusConflict {
		t.Errorf("decided twice: %d %s", g.status, g.body)
	}

	// Its credit note first takes what was never accepted, then 10.00 more.
	note := supplierPaper("credit note", "BW C12", "", "138.90", "27.78", "166.68", object{"kind": "other", "words": "Hob not sent, and our mistake", "quantity": "1", "unit_price": pounds("138.90"),
		"amount": pounds("138.90"), "treatment": "standard", "vat_percent": "20"})
	note["credits"] = i.Id
	n := postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices", "", note, http.StatusCreated)
	n = postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices/"+n.Id+"/decision", `"1"`, object{"decision": "accepted"}, http.StatusOK)
	after := askAs[openapi.SupplierInvoice](s, auth.Owner, http.MethodGet, path, "", nil, http.StatusOK)
	if n.Owed != gbp("-9.99") || after.Disputed != gbp("0.00") || after.Owed != gbp("156.68") {
		t.Fatalf("credited %+v, which leaves %+v disputed", n.Owed, after.Disputed)
	}
	s.paysSupplier(i.Id, n.Id)
	s.vatOfNovember()
	s.stockBook()
	w.verify(t, w.Ours)
}

// refusesPapers enters what cannot be entered.
func (s seller) refusesPapers(whole object, path string) {
	s.t.Helper()
	twice := with(whole, object{"number": " bw771"})
	if g := s.do(auth.Books, http.MethodPost, "/v1/supplier-invoices", "", twice); g.status != http.StatusConflict {
		s.t.Errorf("the same number twice: %d %s", g.status, g.body)
	}
	for want, change := range map[string]object{
		"/gross":               {"number": "X", "gross": pounds("313.38")},
		"/lines/0/line":        {"number": "X", "lines": []object{charged(2, "2", "130.57", "261.14")}},
		"/order":               {"number": "X", "order": "0190a6f0-0000-7000-8000-000000000001"},
		"/supplier_code":       {"number": "X", "supplier_code": "nobody_at_all"},
		"/lines/0/unit_price":  {"number": "X", "lines": []object{with(charged(1, "2", "130.57", "261.14"), object{"unit_price": object{"amount": "130.57", "currency": "EUR"}})}},
		"/lines/0/vat_percent": {"number": "X", "lines": []object{with(charged(1, "2", "130.57", "261.14"), object{"vat_percent": "0"})}},
		"/lines/0/quantity":    {"number": "X", "lines": []object{with(charged(1, "2", "130.57", "261.14"), object{"quantity": "-2"})}},
	} {
		g := s.do(auth.Books, http.MethodPost, "/v1/supplier-invoices", "", with(whole, change))
		if g.status != http.StatusUnprocessableEntity || !strings.Contains(string(g.body), `"field":"`+want+`"`) {
			s.t.Errorf("%s: %d %s", want, g.status, g.body)
		}
	}
	if g := s.do(auth.Books, http.MethodPut, path, `"7"`, whole); g.status != http.StatusPreconditionFailed {
		s.t.Errorf("changed at another version: %d %s", g.status, g.body)
	}
}

// with is a body with other values for some of its fields.
func with(body, other object) object {
	out := maps.Clone(body)
	maps.Copy(out, other)
	return out
}

// paysSupplier pays what is left, takes it back, and pays it again; what is open
// is what the books have throughout.
func (s seller) paysSupplier(invoice, note string) {
	t := s.t
	t.Helper()
	rent := postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices", "", s.example(t, http.MethodPost, "/v1/supplier-invoices"), http.StatusCreated)
	postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices/"+rent.Id+"/decision", `"1"`, object{"decision": "accepted"}, http.StatusOK)
	open := askAs[openapi.Creditors](s, auth.Owner, http.MethodGet, "/v1/creditors", "", nil, http.StatusOK)
	if len(open.Suppliers) != 2 || open.Left != gbp("1106.69") || open.InTheBooks != open.Left || open.Suppliers[0].Overdue != gbp("146.69") || open.Suppliers[1].Overdue != gbp("0.00") {
		t.Fatalf("open are %+v", open)
	}
	list := string(s.do(auth.Books, http.MethodGet, "/v1/creditors.csv", "", nil).body)
	if !strings.Contains(list, "brackwater") || !strings.Contains(list, "BW C12,credit note,2026-11-20,2026-11-24,GBP,-9.99,0.00,-9.99") {
		t.Errorf("on paper open are\n%s", list)
	}
	if g := s.do(auth.Books, http.MethodGet, "/v1/creditors.xlsx", "", nil); g.status != http.StatusOK {
		t.Errorf("as a workbook: %d", g.status)
	}
	pay := object{"supplier_code": "brackwater", "from": "bank", "on": "2026-11-24", "amount": pounds("146.69"),
		"invoices": []object{{"id": invoice, "amount": pounds("156.68")}, {"id": note, "amount": pounds("-9.99")}}}
	for want, change := range map[string]object{
		"/amount":            {"amount": pounds("146.70")},
		"/invoices/0/amount": {"amount": pounds("146.70"), "invoices": []object{{"id": invoice, "amount": pounds("156.69")}, {"id": note, "amount": pounds("-9.99")}}},
		"/invoices/1/amount": {"amount": pounds("166.67"), "invoices": []object{{"id": invoice, "amount": pounds("156.68")}, {"id": note, "amount": pounds("9.99")}}},
		"/invoices/1/id":     {"amount": pounds("313.36"), "invoices": []object{{"id": invoice, "amount": pounds("156.68")}, {"id": invoice, "amount": pounds("156.68")}}},
		"/invoices/0/id":     {"amount": pounds("960.00"), "invoices": []object{{"id": rent.Id, "amount": pounds("960.00")}}},
		"/on":                {"on": "2026-11-26"},
	} {
		g := s.do(auth.Books, http.MethodPost, "/v1/supplier-payments", "", with(pay, change))
		if g.status != http.StatusUnprocessableEntity || !strings.Contains(string(g.body), `"field":"`+want+`"`) {
			t.Errorf("%s: %d %s", want, g.status, g.body)
		}
	}
	first := postAs[openapi.SupplierPayment](s, "/v1/supplier-payments", "", pay, http.StatusCreated)
	if g := s.do(auth.Books, http.MethodPost, "/v1/supplier-payments", "", pay); g.status != http.StatusUnprocessableEntity {
		t.Errorf("paid twice: %d %s", g.status, g.body)
	}
	postAs[openapi.SupplierPayment](s, "/v1/supplier-payments/"+first.Id+"/take-back", `"1"`, nil, http.StatusOK)
	if g := s.do(auth.Books, http.MethodPost, "/v1/supplier-payments/"+first.Id+"/take-back", `"2"`, nil); g.status != http.StatusConflict {
		t.Errorf("taken back twice: %d %s", g.status, g.body)
	}
	postAs[openapi.SupplierPayment](s, "/v1/supplier-payments", "", pay, http.StatusCreated)
	open = askAs[openapi.Creditors](s, auth.Books, http.MethodGet, "/v1/creditors", "", nil, http.StatusOK)
	if len(open.Suppliers) != 1 || open.Left != gbp("960.00") || open.InTheBooks != open.Left {
		t.Errorf("paid, and open are %+v", open)
	}
	if list := askAs[openapi.SupplierPayments](s, auth.Books, http.MethodGet, "/v1/supplier-payments", "", nil, http.StatusOK); len(list.Payments) != 2 || !list.Payments[1].TakenBack {
		t.Errorf("payments are %+v", list)
	}
	unpaid := askAs[openapi.SupplierInvoices](s, auth.Books, http.MethodGet, "/v1/supplier-invoices?unpaid=true", "", nil, http.StatusOK)
	if len(unpaid.Invoices) != 1 || unpaid.Invoices[0].Id != rent.Id {
		t.Errorf("unpaid are %+v", unpaid)
	}
}

// vatOfNovember is a report before and after purchases are declared complete.
func (s seller) vatOfNovember() {
	t := s.t
	t.Helper()
	report := func() openapi.VatReport {
		return askAs[openapi.VatReport](s, auth.Books, http.MethodGet, "/v1/vat-report?from=2026-11-01&until=2026-11-25", "", nil, http.StatusOK)
	}
	// 26.11 of the hob, 160.00 of the rent, 1.66 back.
	r := report()
	if r.InputVat != gbp("184.45") || r.Purchases != gbp("922.24") || r.OutputVat != gbp("0.00") || r.Balance != gbp("-184.45") || r.Complete || !strings.Contains(r.Heading, "not the return") {
		t.Errorf("in November %+v", r)
	}
	set := askAs[openapi.Purchases](s, auth.Books, http.MethodGet, "/v1/purchases", "", nil, http.StatusOK)
	content := object{"complete_through": "2026-11-25", "tolerance_percent": "2.5", "tolerance_most": pounds("3.00")}
	if set.Version != 1 || set.CompleteThrough != "" {
		t.Errorf("set is %+v", set)
	}
	set = askAs[openapi.Purchases](s, auth.Books, http.MethodPut, "/v1/purchases", `"1"`, content, http.StatusOK)
	if set.Version != 2 || set.ToleranceMost != gbp("3.00") {
		t.Errorf("set is %+v", set)
	}
	if g := s.do(auth.Books, http.MethodPut, "/v1/purchases", `"1"`, content); g.status != http.StatusPreconditionFailed {
		t.Errorf("set at another version: %d %s", g.status, g.body)
	}
	if g := s.do(auth.Books, http.MethodPut, "/v1/purchases", `"2"`, with(content, object{"complete_through": "2026-11-26"})); g.status != http.StatusUnprocessableEntity {
		t.Errorf("complete through tomorrow: %d %s", g.status, g.body)
	}
	if r := report(); !r.Complete || r.Closed || r.Heading != "VAT return, 1 November 2026 to 25 November 2026 (draft: the books are open)" {
		t.Errorf("complete: %+v", r)
	}
	list := string(s.do(auth.Owner, http.MethodGet, "/v1/vat-report.csv?from=2026-11-01&until=2026-11-25", "", nil).body)
	if !strings.Contains(list, "paid,standard,20,922.24,184.45,GBP") || !strings.Contains(list, "VAT return") {
		t.Errorf("on paper\n%s", list)
	}
	if g := s.do(auth.Owner, http.MethodGet, "/v1/vat-report.xlsx?from=2026-11-01&until=2026-11-25", "", nil); g.status != http.StatusOK {
		t.Errorf("as a workbook: %d", g.status)
	}
	if g := s.do(auth.Owner, http.MethodGet, "/v1/vat-report?from=2026-11-25&until=2026-11-01", "", nil); g.status != http.StatusBadRequest {
		t.Errorf("a period that ends before it begins: %d %s", g.status, g.body)
	}

	// A service from abroad: its VAT is due and taken off at once.
	rent := charged(0, "1", "100.00", "100.00")
	rent["kind"] = "other"
	abroad := with(supplierPaper("invoice", "EX 1", "", "100.00", "0.00", "100.00", rent), object{"own_vat": "service from abroad"})
	i := postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices", "", abroad, http.StatusCreated)
	i = postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices/"+i.Id+"/decision", `"1"`, object{"decision": "accepted"}, http.StatusOK)
	if r := report(); i.OwnVat != "service from abroad" || i.Owed != gbp("100.00") || r.OutputVat != gbp("20.00") || r.Sales != gbp("100.00") ||
		r.InputVat != gbp("204.45") || r.Purchases != gbp("1022.24") || r.Balance != gbp("-184.45") {
		t.Errorf("with a service from abroad %+v of %+v", r, i)
	}
}

// stockBook buys a van and sells it, and takes another in part exchange.
func (s seller) stockBook() {
	t := s.t
	t.Helper()
	seller := s.customer()
	v := s.keptVan(seller, "WT12 ABC")
	body := object{"van": v.Id, "customer": seller, "how": "bought", "from": "bank", "paid": pounds("9500.00"), "mileage_miles": 84000, "on": "2026-11-02"}
	for want, change := range map[string]object{
		"/vat_shown": {"vat_shown": true}, "/from": {"how": "part exchange"}, "/van": {"van": seller}, "/customer": {"customer": v.Id}, "/paid": {"paid": pounds("0.00")},
	} {
		g := s.do(auth.Books, http.MethodPost, "/v1/stock-vans", "", with(body, change))
		if g.status != http.StatusUnprocessableEntity || !strings.Contains(string(g.body), `"field":"`+want+`"`) {
			t.Errorf("%s: %d %s", want, g.status, g.body)
		}
	}
	in := postAs[openapi.StockVan](s, "/v1/stock-vans", "", body, http.StatusCreated)
	if g := s.do(auth.Books, http.MethodPost, "/v1/stock-vans", "", body); g.status != http.StatusConflict {
		t.Errorf("bought twice: %d %s", g.status, g.body)
	}
	sale := object{"customer": seller, "price": pounds("12500.00"), "on": "2026-11-24"}
	g := s.do(auth.Books, http.MethodPost, "/v1/stock-vans/"+in.Id+"/sale", `"1"`, sale)
	if g.status != http.StatusUnprocessableEntity { // nobody has paid
		t.Errorf("sold for money that is not there: %d %s", g.status, g.body)
	}
	other := s.keptVan(seller, "WT13 ABC")
	kind := with(body, object{"van": other.Id, "how": "part exchange", "paid": pounds("12500.00")})
	delete(kind, "from")
	taken := postAs[openapi.StockVan](s, "/v1/stock-vans", "", kind, http.StatusCreated)
	if taken.Receipt == "" || taken.Number != 2 {
		t.Errorf("taken in %+v", taken)
	}
	sold := postAs[openapi.StockVan](s, "/v1/stock-vans/"+in.Id+"/sale", `"1"`, sale, http.StatusOK) // paid by the other van
	if sold.Sale.Margin != gbp("3000.00") || sold.Sale.Vat != gbp("500.00") || sold.Sale.VatPercent != "20" {
		t.Errorf("sold %+v", sold)
	}
	if g := s.do(auth.Books, http.MethodPost, "/v1/stock-vans/"+in.Id+"/sale", `"2"`, sale); g.status != http.StatusConflict {
		t.Errorf("sold twice: %d %s", g.status, g.body)
	}
	if g := s.do(auth.Books, http.MethodPost, "/v1/stock-vans/"+taken.Id+"/sale", `"1"`, with(sale, object{"job": seller})); g.status != http.StatusUnprocessableEntity {
		t.Errorf("sold with a job that is not there: %d %s", g.status, g.body)
	}
	book := askAs[openapi.StockVans](s, auth.Owner, http.MethodGet, "/v1/stock-vans", "", nil, http.StatusOK)
	if len(book.Vans) != 2 || book.Standing != gbp("12500.00") || book.Vat != gbp("500.00") || book.Margins != gbp("3000.00") {
		t.Errorf("the stock book is %+v", book)
	}
	s.goesBack(seller, kind)
	r := askAs[openapi.VatReport](s, auth.Books, http.MethodGet, "/v1/vat-report?from=2026-11-01&until=2026-11-25", "", nil, http.StatusOK)
	if at := slices.IndexFunc(r.Output, func(v openapi.VATSum) bool { return v.Treatment == "margin" }); at < 0 || r.Output[at].Vat != gbp("500.00") || r.Output[at].Net != gbp("12000.00") ||
		r.Purchases != gbp("23022.24") {
		out, _ := json.Marshal(r)
		t.Errorf("VAT with the vans %s", out)
	}
}

// goesBack takes a part exchange back: the van leaves the stock book, its
// placement the job and its price the books, and it may come in anew.
func (s seller) goesBack(from string, kind object) {
	t := s.t
	t.Helper()
	job := s.job(nil).Id
	kind = with(kind, object{"van": s.keptVan(from, "WT14 ABC").Id, "paid": pounds("400.00")})
	in := postAs[openapi.StockVan](s, "/v1/stock-vans", "", kind, http.StatusCreated)
	receipt := "/v1/receipts/" + in.Receipt
	postAs[openapi.Receipt](s, receipt+"/placements", `"1"`, object{"parts": []object{{"job": job, "amount": pounds("400.00")}}}, http.StatusOK)
	before := s.balances()
	p := s.do(auth.Books, http.MethodPost, receipt+"/loss", `"2"`, object{"how": "bounced", "reason": "He keeps it"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/how" {
		t.Errorf("a van that bounces: %+v", p.Errors)
	}
	postAs[openapi.Receipt](s, receipt+"/loss", `"2"`, object{"how": "by mistake", "reason": "The seller keeps it"}, http.StatusOK)
	var now openapi.StockVan
	s.do(auth.Books, http.MethodGet, "/v1/stock-vans/"+in.Id, "", nil).into(t, http.StatusOK, &now)
	book := askAs[openapi.StockVans](s, auth.Owner, http.MethodGet, "/v1/stock-vans", "", nil, http.StatusOK)
	after := s.balances()
	if now.BackOn != "2026-11-25" || now.BackEntry == 0 || now.Version != 2 || book.Standing != gbp("12500.00") || len(book.Vans) != 3 ||
		after["vans taken in part exchange"] != "12500.00" || before["vans taken in part exchange"] != "12900.00" || after["deposits not yet earned"] != "0.00" {
		t.Errorf("taken back %+v, the book %+v, the books %v", now, book.Standing, after)
	}
	if g := s.do(auth.Books, http.MethodPost, "/v1/stock-vans/"+in.Id+"/sale", `"2"`, object{"customer": from, "price": pounds("12500.00")}); g.status != http.StatusConflict {
		t.Errorf("sold, though it went back: %d %s", g.status, g.body)
	}
	again := postAs[openapi.StockVan](s, "/v1/stock-vans", "", kind, http.StatusCreated)
	postAs[openapi.Receipt](s, "/v1/receipts/"+again.Receipt+"/loss", `"1"`, object{"how": "by mistake", "reason": "He keeps it after all"}, http.StatusOK)
}

// customer adds one.
func (s seller) customer() string {
	s.t.Helper()
	body := s.example(s.t, http.MethodPost, "/v1/customers")
	return askAs[openapi.Customer](s, auth.Sales, http.MethodPost, "/v1/customers", "", body, http.StatusCreated).Id
}

// paidInvoice is the id of a payment of some invoice.
func (s seller) paidInvoice() string {
	s.t.Helper()
	i := s.enteredInvoice("paid")
	postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices/"+i.Id+"/decision", `"1"`, object{"decision": "accepted"}, http.StatusOK)
	return postAs[openapi.SupplierPayment](s, "/v1/supplier-payments", "", object{"supplier_code": i.SupplierCode, "from": "bank", "amount": i.Gross,
		"invoices": []object{{"id": i.Id, "amount": i.Gross}}}, http.StatusCreated).Id
}

// boughtVan is the id of a van in the stock book.
func (s seller) boughtVan() string {
	s.t.Helper()
	from := s.customer()
	return postAs[openapi.StockVan](s, "/v1/stock-vans", "", object{"van": s.keptVan(from, "WT19 STB").Id, "customer": from, "how": "bought", "from": "cash",
		"paid": pounds("9500.00"), "mileage_miles": 84000}, http.StatusCreated).Id
}

// enteredInvoice is the contract's example under another number.
func (s seller) enteredInvoice(number string) openapi.SupplierInvoice {
	s.t.Helper()
	body := s.example(s.t, http.MethodPost, "/v1/supplier-invoices")
	body["number"] = number
	return postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices", "", body, http.StatusCreated)
}
