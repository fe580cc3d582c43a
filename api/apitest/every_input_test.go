package apitest

import (
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// everyInput is how many spoiled requests of an operation are asked, spread over
// all there are; WAINSCOT_EVERY_INPUT=all asks them all.
const everyInput = 7

// spread picks some of a list, evenly.
func spread(list []spoiled, most int) []spoiled {
	if os.Getenv("WAINSCOT_EVERY_INPUT") == "all" || len(list) <= most {
		return list
	}
	some := make([]spoiled, most)
	for i := range some {
		some[i] = list[i*len(list)/most]
	}
	return some
}

// afresh are the collections of which another thing is taken once something was
// done to one: what is refused for its state alone is not looked at closely.
var afresh = map[string]bool{"/v1/jobs": true, "/v1/quotes": true, "/v1/receipts": true, "/v1/orders": true, "/v1/customers": true, "/v1/reservations": true}

var pathParameter = regexp.MustCompile(`\{[a-z_]+\}`)

// badSteps stand in the place of a path's parameter.
var badSteps = []string{"0", "-1", "1e3", "99999999999999999999", "2147483648", "9999-12-31", "nothing", "..%2f", "%00", "%ff", "%F0%9F%9A%90", strings.Repeat("9", 300)}

// readied are operations that need a thing in some state: its collection, and
// how it gets there.
var readied = map[string]struct {
	collection string
	begin      func(seller) string
}{
	"placeReceipt":            {"/v1/receipts", seller.receiptToPlace},
	"takeBackPlacement":       {"/v1/receipts", func(s seller) string { return s.deposited(s.job(nil).Id, "100.00").Id }},
	"refundReceipt":           {"/v1/receipts", seller.receiptToPlace},
	"refundJob":               {"/v1/jobs", seller.jobWithDeposit},
	"invoiceJob":              {"/v1/jobs", seller.jobInTheWorkshop},
	"takeVanOut":              {"/v1/jobs", seller.jobInTheWorkshop},
	"takeVanIn":               {"/v1/jobs", seller.jobWithDeposit},
	"clearBalance":            {"/v1/jobs", seller.jobInTheWorkshop},
	"recordPaper":             {"/v1/jobs", seller.jobInTheWorkshop},
	"recordWeighing":          {"/v1/jobs", seller.jobInTheWorkshop},
	"moveStage":               {"/v1/jobs", seller.jobInTheWorkshop},
	"planStandstill":          {"/v1/jobs", seller.jobInTheWorkshop},
	"creditInvoice":           {"/v1/invoices", seller.finalInvoice},
	"decideSettlement":        {"/v1/jobs", seller.jobCancelled},
	"letVanGo":                {"/v1/jobs", seller.jobCancelled},
	"takeBackSupplierPayment": {"/v1/supplier-payments", seller.anotherPaid},
	"sellStockVan":            {"/v1/stock-vans", seller.anotherStockVan},
	"deliverOrder":            {"/v1/orders", seller.placedOrder},
	"expectOrder":             {"/v1/orders", seller.placedOrder},
	"cancelOrder":             {"/v1/orders", seller.placedOrder},
	"acceptQuote":             {"/v1/quotes", seller.issuedQuote},
	"createLink":              {"/v1/quotes", seller.issuedQuote},
	"declineQuote":            {"/v1/quotes", seller.issuedQuote},
	"changeVariation":         {"/v1/jobs", seller.jobWithVariation},
	"sendVariation":           {"/v1/jobs", seller.jobWithVariation},
	"acceptVariation":         {"/v1/jobs", seller.jobWithVariationSent},
	"declineVariation":        {"/v1/jobs", seller.jobWithVariationSent},
}

func (s seller) receiptToPlace() string {
	s.t.Helper()
	return postAs[openapi.Receipt](s, "/v1/receipts", "", object{"day": "2026-11-20", "into": "bank", "amount": pounds("20000.00"), "payer": s.customer()}, http.StatusCreated).Id
}

func (s seller) jobWithDeposit() string {
	s.t.Helper()
	id := s.job(nil).Id
	s.deposited(id, "1000.00")
	for range 3 {
		s.at(auth.Workshop, http.MethodPost, "/v1/jobs/"+id+"/attachments", object{"media_type": "image/png", "content": "cGhvdG8="}).into(s.t, http.StatusCreated, &openapi.JobAttachment{})
	}
	return id
}

func (s seller) jobInTheWorkshop() string {
	s.t.Helper()
	id := s.jobWithDeposit()
	s.at(auth.Sales, http.MethodPost, "/v1/jobs/"+id+"/arrival", conditionOf()).into(s.t, http.StatusOK, &openapi.JobBoard{})
	return id
}

func (s seller) jobCancelled() string {
	s.t.Helper()
	id := s.jobWithDeposit()
	s.at(auth.Owner, http.MethodPost, "/v1/jobs/"+id+"/cancellation", object{"because": "They bought a boat."}).into(s.t, http.StatusOK, &openapi.Job{})
	return id
}

func (s seller) finalInvoice() string {
	s.t.Helper()
	return postAs[openapi.Invoice](s, "/v1/jobs/"+s.jobInTheWorkshop()+"/invoice", "", object{}, http.StatusCreated).Id
}

func (s seller) jobWithVariation() string {
	s.t.Helper()
	id := s.job(func(body object) {
		body["vans"].([]any)[0].(object)["choices"] = object{"features": []any{object{"want": "whole_conversion"}, object{"want": "hob_two"}}} //nolint:forcetypeassert // the contract's example
	}).Id
	var agreed openapi.Agreement
	s.do(auth.Sales, http.MethodGet, "/v1/jobs/"+id+"/agreement", "", nil).into(s.t, http.StatusOK, &agreed)
	s.at(auth.Sales, http.MethodPost, "/v1/jobs/"+id+"/variations", object{"choices": without(agreed.Choices, "hob_two"), "additions": agreed.Additions}).into(s.t, http.StatusCreated, &openapi.Variation{})
	return id
}

func (s seller) jobWithVariationSent() string {
	s.t.Helper()
	id := s.jobWithVariation()
	s.at(auth.Sales, http.MethodPost, "/v1/jobs/"+id+"/variations/1/sending", nil).into(s.t, http.StatusOK, &openapi.Variation{})
	return id
}

func (s seller) anotherPaid() string {
	s.t.Helper()
	i := s.enteredInvoice("another that is paid")
	postAs[openapi.SupplierInvoice](s, "/v1/supplier-invoices/"+i.Id+"/decision", `"1"`, object{"decision": "accepted"}, http.StatusOK)
	return postAs[openapi.SupplierPayment](s, "/v1/supplier-payments", "", object{"supplier_code": i.SupplierCode, "from": "bank", "amount": i.Gross,
		"invoices": []object{{"id": i.Id, "amount": i.Gross}}}, http.StatusCreated).Id
}

func (s seller) anotherStockVan() string {
	s.t.Helper()
	s.receiptToPlace() // what a sale is paid from
	from := s.customer()
	return postAs[openapi.StockVan](s, "/v1/stock-vans", "", object{"van": s.keptVan(from, "WT20 STB").Id, "customer": from, "how": "bought", "from": "cash",
		"paid": pounds("950.00"), "mileage_miles": 84000}, http.StatusCreated).Id
}

func (s seller) placedOrder() string {
	s.t.Helper()
	o := askAs[openapi.Order](s, auth.Workshop, http.MethodPost, "/v1/orders", "",
		object{"supplier_code": "brackwater", "lines": []object{{"kind": "part", "code": "hob_2", "quantity": "2", "wanted_on": "2026-12-18"}}}, http.StatusCreated)
	askAs[openapi.Order](s, auth.Owner, http.MethodPost, "/v1/orders/"+o.Id+"/place", `"1"`, object{"knowing": true}, http.StatusOK)
	return o.Id
}

func (s seller) issuedQuote() string {
	s.t.Helper()
	path, _, _ := s.offered(nil)
	return strings.TrimPrefix(path, "/v1/quotes/")
}

// referAll puts what there is in the place of an example's references, however
// deep they stand.
func (k things) referAll(value any) any {
	switch v := value.(type) {
	case map[string]any:
		filled := map[string]any{}
		for name, member := range v {
			collection := map[string]string{"customer": "/v1/customers", "payer": "/v1/customers", "van": "/v1/vans", "quote": "/v1/quotes", "enquiry": "/v1/enquiries",
				"job": "/v1/jobs", "order": "/v1/orders", "receipt": "/v1/receipts"}[name]
			if _, isText := member.(string); isText && k[collection] != "" {
				filled[name] = k[collection]
				continue
			}
			filled[name] = k.referAll(member)
		}
		return filled
	case []any:
		filled := make([]any, len(v))
		for i := range v {
			filled[i] = k.referAll(v[i])
		}
		return filled
	}
	return value
}

// spoiledOf is everything an operation is asked, and what its body is when it is
// whole.
func (w *world) spoiledOf(t *testing.T, o operation, known things, template, other string) (list []spoiled, sent any) {
	t.Helper()
	c := call{method: o.method, path: known.fill(t, template)}
	op := w.operation(c)
	switch {
	case w.takesDocument(c):
		sent = o.body // its own reader has fuzz targets of its own
	case op.RequestBody != nil:
		schema := op.RequestBody.Content.GetOrZero("application/json").Schema.Schema()
		if sent = known.referAll(o.body); sent == nil {
			sent = whole(schema, 0)
		}
		list = spoils(schema, sent, "", other, 0, func(v any) any { return v })
	}
	for _, p := range op.Parameters {
		if p.In != "query" {
			continue
		}
		against, within := spoil(p.Schema.Schema(), other)
		for i, value := range slices.Concat(against, within) {
			if text, isText := value.(string); isText { // all is text in a query
				list = append(list, spoiled{place: "query/" + p.Name, what: text, query: p.Name + "=" + queryEscaped(text), body: sent,
					against: i < len(against) && !keeps(p.Schema.Schema(), text)})
			}
		}
	}
	for _, parameter := range pathParameter.FindAllString(o.template, -1) {
		for _, bad := range badSteps {
			list = append(list, spoiled{place: parameter, what: bad, body: sent, path: known.fill(t, strings.Replace(template, parameter, bad, 1))})
		}
	}
	return list, sent
}

// TestEveryOperationOnBadInput reads the contract and makes hostile what every
// operation takes, place by place: what breaks the contract is refused as that,
// naming the field; what keeps it is done, or refused with a problem, and then
// nothing of it is kept. So a new operation is asked badly without anybody
// remembering.
func TestEveryOperationOnBadInput(t *testing.T) {
	w := newWorld(t)
	operations := w.operations(t)
	things := w.things(t, operations)
	s := seller{w, t, w.Ours}
	settles := func(o operation) int { // what holds for all that is asked after it comes last
		if o.method == http.MethodPut && !strings.Contains(o.template, "{id}") || o.id == "closeBooks" {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(operations, func(a, b operation) int { return settles(a) - settles(b) })
	theirs := made[openapi.Customer](t, w, w.Theirs, "/v1/customers", w.example(t, http.MethodPost, "/v1/customers"))
	asked, refused := 0, 0
	for _, o := range operations {
		known := things
		if r, ok := readied[o.id]; ok {
			known = maps.Clone(things)
			known[r.collection] = r.begin(s)
		}
		template := strings.Replace(o.template, "{link}", "nothing", 1)
		list, sent := w.spoiledOf(t, o, known, template, theirs.Id)
		if sent != nil { // as it is, in the end: whether it goes at all
			list = append(spread(list, everyInput), spoiled{place: "nothing", body: sent})
		}
		before := w.rows(t)
		for _, in := range spread(list, everyInput+1) {
			asked++
			g := w.askSpoiled(t, o, known.fill(t, template), in)
			if g.status < http.StatusBadRequest {
				before = w.rows(t)
				if r, ok := readied[o.id]; ok {
					known[r.collection] = r.begin(s)
					before = w.rows(t)
				}
				continue
			}
			refused++
			if in.place == "nothing" && testing.Verbose() {
				t.Logf("%s is refused as it is: %.300s", o.id, g.body)
			}
		}
		for table, n := range w.rows(t) {
			if before[table] != n {
				t.Errorf("%s: what was refused left table %s with %d rows instead of %d", o.id, table, n, before[table])
			}
		}
		if collection, _, of := strings.Cut(o.template, "/{id}"); of && o.method != http.MethodGet && afresh[collection] {
			things[collection] = w.thing(t, things, collection)
		}
	}
	t.Logf("%d asked, %d refused", asked, refused)
	if asked < 1_000 || refused < asked/2 {
		t.Errorf("only %d were asked, and %d refused", asked, refused)
	}
}

func queryEscaped(text string) string {
	var b strings.Builder
	for _, c := range []byte(text) {
		b.WriteString("%" + strings.ToUpper(strconv.FormatInt(int64(c)+256, 16)[1:]))
	}
	return b.String()
}

// askSpoiled asks once, without holding the answer against the whole contract
// where it is a problem: that takes longer than the asking.
func (w *world) askSpoiled(t *testing.T, o operation, path string, in spoiled) got {
	t.Helper()
	c := call{method: o.method, path: path, of: w.Ours, role: auth.Owner, body: in.body, header: http.Header{}, broken: true}
	if len(o.roles) > 0 && !slices.Contains(o.roles, auth.Owner) {
		c.role = o.roles[0]
	}
	switch {
	case in.query != "" && o.query != "" && !strings.Contains(o.query, strings.SplitN(in.query, "=", 2)[0]):
		c.path += o.query + "&" + in.query
	case in.query != "":
		c.path += "?" + in.query
	default:
		c.path += o.query
	}
	if o.conditional {
		c.header.Set("If-Match", w.tagNow(path))
	}
	if in.path != "" {
		c.path = in.path + o.query
	}
	request := w.request(t, c)
	recorder := httptest.NewRecorder()
	w.Server.Handler().ServeHTTP(recorder, request)
	g := got{call: c, status: recorder.Code, header: recorder.Header(), body: recorder.Body.Bytes()}
	said := func(format string) {
		t.Helper()
		t.Errorf("%s %s with %s %s: "+format+": %d %.600s", o.method, path, in.place, in.what, g.status, g.body)
	}
	switch {
	case g.status >= http.StatusInternalServerError:
		said("a fault of ours")
		t.Logf("log: %s", w.logTail())
	case g.status >= http.StatusBadRequest:
		w.holdProblem(t, g)
		p := g.problem(t)
		known := !strings.Contains(o.template, "{link}") // a link that is none is no more than that
		if in.against && known && p.Code != openapi.ProblemCodeMalformed && (g.status != http.StatusBadRequest || len(p.Errors) == 0) && g.status != http.StatusRequestEntityTooLarge {
			said("not refused as breaking the contract, with the field")
		}
		if g.status == http.StatusUnprocessableEntity && len(p.Errors) == 0 {
			said("no field is named")
		}
	case in.against:
		said("done, though it breaks the contract")
	case in.path != "" && in.place != "{link}":
		said("done, with a path of nothing")
	default:
		sent, err := io.ReadAll(w.request(t, c).Body)
		if err != nil {
			t.Fatal(err)
		}
		c.broken = false
		w.hold(t, c, sent, g)
	}
	return g
}

// tagNow is the ETag of what an operation changes, `"1"` where it has none yet.
func (w *world) tagNow(path string) string {
	at := path
	for at != "" {
		if op := w.operation(call{method: http.MethodGet, path: at}); op != nil {
			request := httptest.NewRequest(http.MethodGet, at, http.NoBody)
			request.Header.Set("Authorization", "Bearer "+w.Ours.Token[auth.Owner])
			recorder := httptest.NewRecorder()
			w.Server.Handler().ServeHTTP(recorder, request)
			if tag := recorder.Header().Get("Etag"); tag != "" {
				return tag
			}
		}
		at = at[:strings.LastIndex(at, "/")]
	}
	return `"1"`
}
