package apitest

import (
	"net/http"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

func gbp(amount string) openapi.Money { return openapi.Money{Amount: amount, Currency: "GBP"} }

// money adds amounts up.
func money(t *testing.T, list ...openapi.Money) decimal.Decimal {
	t.Helper()
	sum := decimal.Zero
	for _, m := range list {
		d, err := decimal.NewFromString(m.Amount)
		if err != nil {
			t.Fatalf("%q: %v", m.Amount, err)
		}
		sum = sum.Add(d)
	}
	return sum
}

// lineOf finds the line of a feature.
func lineOf(t *testing.T, p openapi.Price, code string) openapi.PriceLine {
	t.Helper()
	for _, l := range p.Lines {
		if l.Code == code {
			return l
		}
	}
	t.Fatalf("no line of %s", code)
	return openapi.PriceLine{}
}

// TestTradeCustomer: a dealer buys for a customer of theirs, without VAT on the
// lines, by the dealer's list and on account; a salesperson gives them neither
// another list nor longer credit.
func TestTradeCustomer(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	dealer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", object{"kind": "trade", "name": "Marrick Motors", "price_list": "trade", "credit_days": 30})
	buyer := made[openapi.Customer](t, w, w.Ours, "/v1/customers", private("Sallow", "Bede"))
	features := []any{object{"want": "whole_conversion"}, object{"want": "roof_elevating"}, object{"want": "hob_two"}}
	content := func(terms object) object {
		return object{"customer": dealer.Id, "end_customer": buyer.Id, "terms": terms, "vans": []any{object{
			"van": object{"base_van": "short_panel_van", "new": true}, "choices": object{"features": features}, "settle": "by defaults",
		}}}
	}
	var q openapi.QuoteKept
	g := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", content(object{}))
	g.into(t, http.StatusCreated, &q)
	s.issue(q.Id, g.header.Get("Etag"))
	read := s.quote(q.Id)
	p := read.Vans[0].Price
	if read.Customer != dealer.Id || read.EndCustomer != buyer.Id || p.Basis != openapi.BasisNet || read.Terms.PriceList != "trade" || read.Terms.CreditDays == nil || *read.Terms.CreditDays != 30 {
		t.Errorf("for %s behind %s on %+v", read.EndCustomer, read.Customer, read.Terms)
	}
	// By hand from the price-book: the dealer's own 3,450.00 is 2,875.00
	// without VAT; 12 % off 1,545.00 is 1,359.60, and 1,133.00 without VAT.
	for code, net := range map[string]string{"roof_elevating": "2875.00", "whole_conversion": "1133.00"} {
		if l := lineOf(t, p, code); l.Amount != gbp(net) || l.Net != gbp(net) {
			t.Errorf("%s: %+v", code, l)
		}
	}
	var nets []openapi.Money
	for _, l := range p.Lines {
		nets = append(nets, l.Net)
	}
	net := money(t, nets...)
	vat := net.Mul(decimal.New(2, -1)).Round(2)
	if got := read.Totals; !money(t, got.Net).Equal(net) || !money(t, got.Vat).Equal(vat) || !money(t, got.Gross).Equal(net.Add(vat)) {
		t.Errorf("totals %+v of lines that come to %s net", got, net)
	}
	if len(read.Payments) != 1 || read.Payments[0].Amount != read.Totals.Gross || read.Payments[0].When != "on handover" || read.Payments[0].Days != 30 ||
		!strings.EqualFold(read.Payments[0].Name, "on account") || read.Totals.DueOnAcceptance != (openapi.Money{}) {
		t.Errorf("payments %+v, due on acceptance %v", read.Payments, read.Totals.DueOnAcceptance)
	}
	// The end customer is found as somebody the quote is about, and kept.
	export := seen[openapi.CustomerExport](t, w, w.Ours, "/v1/customers/"+dealer.Id+"/export")
	if len(export.Quotes) != 1 || export.Quotes[0].EndCustomer != buyer.Id {
		t.Errorf("the dealer's quotes: %+v", export.Quotes)
	}

	// A private customer pays the list, VAT in it.
	body := content(object{})
	body["customer"] = buyer.Id
	delete(body, "end_customer")
	s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", body).into(t, http.StatusCreated, &q)
	if l := lineOf(t, s.quote(q.Id).Vans[0].Price, "roof_elevating"); l.Amount != gbp("4070.00") {
		t.Errorf("a private customer pays %+v", l)
	}
	// The owner may give what a salesperson may not.
	for name, c := range map[string]struct {
		customer string
		terms    object
		fields   string
	}{
		"longer credit":                 {dealer.Id, object{"credit_days": 60}, "/terms/credit_days"},
		"the trade's list":              {buyer.Id, object{"price_list": "trade"}, "/terms/price_list"},
		"credit to who has none":        {buyer.Id, object{"credit_days": 1}, "/terms/credit_days"},
		"the trade's list and a credit": {buyer.Id, object{"price_list": "trade", "credit_days": 30}, "/terms/price_list /terms/credit_days"},
	} {
		body := content(c.terms)
		body["customer"] = c.customer
		problem := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", body).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
		var fields []string
		for _, e := range problem.Errors {
			fields = append(fields, e.Field)
		}
		if strings.Join(fields, " ") != c.fields {
			t.Errorf("%s: %+v", name, problem.Errors)
		}
		s.do(auth.Owner, http.MethodPost, "/v1/quotes", "", body).into(t, http.StatusCreated, &q)
	}
	// Less credit, and prices with VAT, are a salesperson's to give.
	s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", content(object{"credit_days": 14, "basis": "gross"})).into(t, http.StatusCreated, &q)
	if terms := s.quote(q.Id).Terms; *terms.CreditDays != 14 || terms.Basis != openapi.BasisGross {
		t.Errorf("asked for less, and given %+v", terms)
	}
}

// TestPriceListOfACustomer: a price list that the price-book has not is found
// out when it is given to a customer and not at their next quote.
func TestPriceListOfACustomer(t *testing.T) {
	w := newWorld(t)
	body := object{"kind": "trade", "name": "Marrick Motors", "price_list": "trad"}
	refused := func(g got, remedy string) {
		t.Helper()
		p := g.want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
		if len(p.Errors) != 1 || p.Errors[0].Field != "/price_list" || p.Errors[0].Remedy != remedy {
			t.Errorf("%+v", p.Errors)
		}
	}
	post := func() got {
		return w.exchange(t, call{method: http.MethodPost, path: "/v1/customers", of: w.Ours, role: auth.Sales, body: body})
	}
	refused(post(), "The price-book in force, 2026-10, has: trade.")
	body["price_list"] = "trade"
	c := made[openapi.Customer](t, w, w.Ours, "/v1/customers", body)
	body["price_list"] = "trade_two"
	refused(w.put(t, w.Ours, "/v1/customers/"+c.Id, 1, body), "The price-book in force, 2026-10, has: trade.")
	// The edition before it has no lists at all.
	w.Clock.Set(Noon.AddDate(0, -3, 0))
	w.renewTokens(t)
	body["price_list"] = "trade"
	refused(post(), "Leave it out; the price-book in force, 2026-07, has no price lists.")
}

// TestDayThatIsOver: an older edition's prices are the owner's to give, however
// a salesperson comes by the day.
func TestDayThatIsOver(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	on := func(day string) object {
		body := w.example(t, http.MethodPost, "/v1/quotes")
		body["terms"] = object{"day": day}
		return body
	}
	refused := func(g got) {
		t.Helper()
		p := g.want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
		if len(p.Errors) != 1 || p.Errors[0].Field != "/terms/day" || p.Errors[0].Code != "day_over" {
			t.Errorf("%+v", p.Errors)
		}
	}
	refused(s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", on("2026-11-24")))
	var q openapi.QuoteKept
	s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", on("2026-11-25")).into(t, http.StatusCreated, &q)
	refused(s.do(auth.Sales, http.MethodPut, "/v1/quotes/"+q.Id, `"1"`, on("2026-09-30")))

	var older openapi.QuoteKept
	s.do(auth.Owner, http.MethodPost, "/v1/quotes", "", on("2026-09-30")).into(t, http.StatusCreated, &older)
	if older.Edition != "2026-07" {
		t.Errorf("the owner's is priced by %s", older.Edition)
	}
	refused(s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+older.Id+"/issue", `"1"`, object{}))
	var issued openapi.QuoteKept
	s.do(auth.Owner, http.MethodPost, "/v1/quotes/"+older.Id+"/issue", `"1"`, object{}).into(t, http.StatusOK, &issued)
	if issued.Edition != "2026-07" || issued.Totals.Gross != older.Totals.Gross {
		t.Errorf("issued %+v", issued)
	}
	// A day that was today when it was given goes by.
	w.Clock.Set(Noon.AddDate(0, 0, 1))
	w.renewTokens(t)
	refused(s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+q.Id+"/issue", `"1"`, object{}))
	// A revision holds what was offered, and takes all else from today's.
	var draft openapi.QuoteKept
	s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+older.Id+"/revise", `"2"`, nil).into(t, http.StatusCreated, &draft)
	if draft.Edition != "2026-10" || draft.HeldEdition != "2026-07" || draft.Totals.Gross != issued.Totals.Gross {
		t.Errorf("revised %+v", draft)
	}
}

// TestQuoteNamesWhatIsNotThere: all of it is told at once, as the rest of the
// API tells it.
func TestQuoteNamesWhatIsNotThere(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	theirs := made[openapi.Customer](t, w, w.Theirs, "/v1/customers", private("Moss", ""))
	nobody := "0192f3a4-0000-7000-8000-000000000001"
	p := s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", object{
		"customer": theirs.Id, "end_customer": nobody, "enquiry": nobody,
		"vans": []any{object{"van_id": nobody, "choices": object{"features": []any{object{"want": "roof_only"}}}}},
	}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeUnknownReference)
	var named []string
	for _, e := range p.Errors {
		named = append(named, e.Field+" "+e.Code)
	}
	if got := strings.Join(named, ", "); got != "/customer unknown, /end_customer unknown, /enquiry unknown, /vans/0/van_id unknown" {
		t.Errorf("named are %s", got)
	}
}
