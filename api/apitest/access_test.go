package apitest

import (
	"crypto/hmac"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/base64"
	"fmt"
	"hash"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// operation of the contract, with what it takes to ask for it.
type operation struct {
	id, method, template string
	roles                []auth.Role // none: open to anybody
	statuses             []int
	success              int
	body                 any
	keyed, conditional   bool
	query                string // what must be in it
}

// onTheirOwn are operations that the general test cannot ask for, each with
// the test that does.
var onTheirOwn = map[string]string{
	"signIn":         "TestSignIn",
	"renewSignIn":    "TestRenewal",
	"signOut":        "TestSignOut: it ends the token it is asked with",
	"setPassword":    "TestPasswords: who may depends on whose",
	"getOffered":     "a link, not a token",
	"getOfferedHTML": "a link, not a token",
	"getOfferedPDF":  "a link, not a token",
	"acceptOffered":  "a link, not a token",
	"getCalendar":    "a link, not a token: TestSlots",

	"getOfferedVariation": "a link, not a token", "getOfferedVariationHTML": "a link, not a token", "getOfferedVariationPDF": "a link, not a token",
	"acceptOfferedVariation": "a link, not a token", "declineOfferedVariation": "a link, not a token",
	"addSupplierPayment": "TestPurchases: what is paid has to be owed",
	"takeOn":             "TestTakenOn: once, before the books have anything of that day",
	"getTakeOn":          "TestTakenOn: there is none before",
}

// operations reads the contract, so that a new one is covered without anybody
// remembering.
func (w *world) operations(t testing.TB) []operation {
	t.Helper()
	var list []operation
	for template, item := range w.model.Paths.PathItems.FromOldest() {
		for method, op := range item.GetOperations().FromOldest() {
			o := operation{
				id: op.OperationId, method: strings.ToUpper(method), template: template, roles: rolesOf(t, template, op),
				keyed: takes(op, "Idempotency-Key"), conditional: takes(op, "If-Match"),
			}
			for _, p := range op.Parameters {
				if p.In == "query" && p.Required != nil && *p.Required {
					value := "1"
					if p.Schema != nil && p.Schema.Schema().Format == "date" {
						value = "2026-11-01"
					}
					o.query += map[bool]string{true: "?", false: "&"}[o.query == ""] + p.Name + "=" + value
				}
			}
			for code := range op.Responses.Codes.FromOldest() {
				status, err := strconv.Atoi(code)
				if err != nil {
					t.Fatal(err)
				}
				o.statuses = append(o.statuses, status)
				if status < 300 && o.success == 0 {
					o.success = status
				}
			}
			if op.RequestBody != nil && onTheirOwn[o.id] == "" {
				body := w.example(t, o.method, template)
				if body == nil {
					continue // said already
				}
				o.body = body
			}
			list = append(list, o)
		}
	}
	return list
}

// rolesOf reads the security requirements: each names one role, any one is
// enough.
func rolesOf(t testing.TB, path string, op *v3.Operation) []auth.Role {
	t.Helper()
	if op.Security == nil {
		t.Fatalf("%s says nothing about who may ask", path)
	}
	var roles []auth.Role
	for _, requirement := range op.Security {
		for scheme, names := range requirement.Requirements.FromOldest() {
			if scheme != "token" || len(names) != 1 {
				t.Fatalf("%s: a requirement must be the token with one role", path)
			}
			role, err := auth.ParseRole(names[0])
			if err != nil {
				t.Fatal(err)
			}
			roles = append(roles, role)
		}
	}
	return roles
}

// TestEveryOperationForEverybody asks for each operation of the contract with
// no token, with every kind of bad one, in every role, and from the other
// workshop.
func TestEveryOperationForEverybody(t *testing.T) {
	w := newWorld(t)
	operations := w.operations(t)
	things := w.things(t, operations)
	for _, o := range operations {
		if onTheirOwn[o.id] != "" {
			continue
		}
		t.Run(o.method+" "+o.template, func(t *testing.T) {
			ask := call{method: o.method, path: things.fill(t, o.template) + o.query, of: w.Ours, body: things.refer(o.body), header: http.Header{}}
			if o.conditional {
				ask.header.Set("If-Match", `"1"`)
			}
			if len(o.roles) == 0 {
				if g := w.exchange(t, ask); g.status != o.success {
					t.Errorf("open to anybody, and answers %d: %s", g.status, g.body)
				}
				return
			}
			if g := w.exchange(t, ask); g.problem(t).Code == openapi.ProblemCodeNoSuchPath {
				t.Fatal("it has no route")
			}
			w.askWithBadTokens(t, ask)
			w.askInEveryRole(t, o, ask)
			w.askWithoutHeaders(t, o, ask)
		})
	}
}

func (w *world) askWithBadTokens(t *testing.T, ask call) {
	t.Helper()
	for name, token := range w.badTokens(t) {
		bad := ask
		bad.token = token
		g := w.exchange(t, bad)
		g.want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
		if !strings.HasPrefix(g.header.Get("WWW-Authenticate"), "Bearer ") {
			t.Errorf("%s: no WWW-Authenticate", name)
		}
	}
}

// askInEveryRole: the roles that may are answered as the contract says, the
// first of them with success unless the state of the example forbids it; for
// the other workshop the thing is as if it were not.
func (w *world) askInEveryRole(t *testing.T, o operation, ask call) {
	t.Helper()
	answered := false
	// What stores something of their own there would put our words into theirs.
	theirOwn := !strings.Contains(o.template, "{id}") && (o.keyed || o.conditional)
	for _, role := range auth.Roles() {
		from := ask
		from.role, from.of = role, w.Theirs
		if !theirOwn { // first, while the thing is as it was made
			g := w.exchange(t, from)
			if strings.Contains(o.template, "{id}") && slices.Contains(o.roles, role) {
				g.want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
			}
		}
		in := ask
		in.role = role
		if o.conditional {
			in.header = http.Header{"If-Match": {w.tagOf(t, o, ask.path)}}
		}
		g := w.exchange(t, in)
		w.holdMoney(t, g, role)
		switch {
		case !slices.Contains(o.roles, role):
			g.want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
			continue
		case g.status == http.StatusUnauthorized, g.status == http.StatusForbidden, !slices.Contains(o.statuses, g.status):
			t.Errorf("%s may, and gets %d: %s", role, g.status, g.body)
		case g.status >= http.StatusBadRequest && !answered && !stateMayForbid(o, g.status):
			t.Errorf("%s is the first to ask, and gets %d: %s", role, g.status, g.body)
		}
		answered = true
	}
}

// tagOf is the ETag of the thing an operation changes.
func (w *world) tagOf(t *testing.T, o operation, path string) string {
	t.Helper()
	if collection, rest, ok := strings.Cut(o.template, "/{id}"); ok && rest != "" {
		id, _, _ := strings.Cut(strings.TrimPrefix(path, collection+"/"), "/")
		path = collection + "/" + id
	}
	tag := w.exchange(t, call{method: http.MethodGet, path: path, of: w.Ours, role: auth.Owner}).header.Get("Etag")
	if tag == "" {
		t.Errorf("%s has no ETag", path)
	}
	return tag
}

// stateMayForbid says whether an answer can come from the state of the example
// rather than from who asks: acting on a thing, and looking for a part of it
// that is not there yet.
func stateMayForbid(o operation, status int) bool {
	acts := strings.Count(o.template, "/") > 3
	return acts && (status == http.StatusConflict || status == http.StatusUnprocessableEntity || status == http.StatusNotFound)
}

// askWithoutHeaders: what stores something cannot be asked for without a key,
// and what changes something not without the version that was seen.
func (w *world) askWithoutHeaders(t *testing.T, o operation, ask call) {
	t.Helper()
	in := ask
	in.role = o.roles[0]
	without := func(name string, values ...string) got {
		c := in
		c.header = in.header.Clone()
		c.header[name] = values
		c.broken = true
		return w.exchange(t, c)
	}
	if o.keyed {
		without("Idempotency-Key").want(t, http.StatusBadRequest, openapi.ProblemCodeKeyMissing)
		for _, bad := range [][]string{{""}, {"short"}, {strings.Repeat("a", 101)}, {`"half-quoted`}, {"with spaces in it"}, {"a-key-and-one-more", "another-key"}} {
			without("Idempotency-Key", bad...).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
		}
	}
	if o.conditional {
		without("If-Match").want(t, http.StatusPreconditionRequired, openapi.ProblemCodeIfMatchMissing)
		for _, bad := range [][]string{{""}, {"1"}, {"*"}, {`W/"1"`}, {`"1", "2"`}, {`"1"`, `"2"`}, {`"01"`}, {`"0"`}, {`"-1"`}, {`"99999999999999999999"`}} {
			without("If-Match", bad...).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
		}
	}
}

// things are examples of everything that has an id, made as the contract's own
// example says.
type things map[string]string // by collection, as in "/v1/quotes"

func (w *world) things(t *testing.T, operations []operation) things {
	t.Helper()
	made := things{}
	for _, o := range operations {
		collection, _, ok := strings.Cut(o.template, "/{id}")
		if !ok || made[collection] != "" {
			continue
		}
		if id := w.thing(t, made, collection); id != "" {
			made[collection] = id
		}
	}
	return made
}

// thing makes one of a collection; "" where that failed, which is said.
func (w *world) thing(t *testing.T, known things, collection string) string {
	t.Helper()
	if begin := otherwise[collection]; begin != nil {
		return begin(seller{w, t, w.Ours})
	}
	body := w.example(t, http.MethodPost, collection)
	if _, ok := body["email"].(string); ok {
		body["email"] = "first@withermere.example" // the example itself comes later
	}
	g := w.exchange(t, call{method: http.MethodPost, path: collection, of: w.Ours, role: auth.Owner, body: known.refer(body)})
	if g.status != http.StatusCreated {
		t.Errorf("an example of %s: %d %s", collection, g.status, g.body)
		return ""
	}
	return strings.TrimPrefix(g.header.Get("Location"), collection+"/")
}

// otherwise are the collections that nothing is posted to, and how one of them
// comes to be.
var otherwise = map[string]func(seller) string{
	"/v1/jobs": func(s seller) string { return s.job(nil).Id },
	"/v1/invoices": func(s seller) string {
		job := s.job(nil).Id
		s.deposited(job, "100.00")
		return s.account(job).Invoices[0].Id
	},
	"/v1/bank-accounts":   func(s seller) string { return s.bank() },
	"/v1/column-maps":     func(s seller) string { return s.columnMaps()[0].Id },
	"/v1/statements":      func(s seller) string { return s.statement().Id },
	"/v1/statement-lines": func(s seller) string { return s.lines("").Lines[0].Id },
	// a number is entered once, what is paid has to be owed, and a van has to be
	// kept before it is bought
	"/v1/supplier-invoices": func(s seller) string { return s.enteredInvoice("entered").Id },
	"/v1/supplier-payments": func(s seller) string { return s.paidInvoice() },
	"/v1/stock-vans":        func(s seller) string { return s.boughtVan() },
	"/v1/reconciliations": func(s seller) string {
		account := s.lines("").Lines[0].Account
		s.bring(account, bankCSV("04/11/2026,somebody,,,1.00,171.00"), http.StatusCreated)
		return s.reconcile(s.lines("?from=2026-11-04").Lines[0].Id, object{"unplaced": true}, http.StatusCreated).Id
	},
}

// refer puts what there is in the place of an example's references.
func (k things) refer(example any) any {
	body, ok := example.(map[string]any)
	if !ok {
		return example
	}
	for field, collection := range map[string]string{"customer": "/v1/customers", "van": "/v1/vans", "quote": "/v1/quotes", "enquiry": "/v1/enquiries"} {
		if _, ok := body[field].(string); ok && k[collection] != "" {
			body[field] = k[collection]
		}
	}
	return body
}

// fill puts what there is in the place of a template's parameters.
func (k things) fill(t *testing.T, template string) string {
	t.Helper()
	path := template
	if collection, _, ok := strings.Cut(template, "/{id}"); ok {
		path = strings.Replace(path, "{id}", k[collection], 1)
	}
	path = strings.NewReplacer("{revision}", "1", "{number}", "1", "{code}", "2026-10", "{place}", "1", "{part}", "hob_2").Replace(path)
	if strings.Contains(path, "{") {
		t.Fatalf("%s has a parameter this test does not know", template)
	}
	return path
}

// holdMoney: the workshop sees no money, and nobody but owner and books sees
// what things cost.
func (w *world) holdMoney(t testing.TB, g got, role auth.Role) {
	t.Helper()
	if g.status >= 300 {
		return
	}
	text := string(g.body)
	if !role.SeesCost() {
		for _, word := range []string{`"costing"`, `"cost"`, `"margin"`, `"margin_percent"`, `"unit_cost"`, `"supplier"`, `"overhead"`} {
			if strings.Contains(text, word) {
				t.Errorf("%s %s shows %s to %s", g.call.method, g.call.path, word, role)
			}
		}
	} else if strings.HasSuffix(g.call.path, "/v1/resolve") && !strings.Contains(text, `"margin_percent"`) {
		t.Errorf("%s %s does not show %s the margin", g.call.method, g.call.path, role)
	}
	if role == auth.Workshop && strings.Contains(text, `"amount"`) {
		t.Errorf("%s %s shows money to the workshop", g.call.method, g.call.path)
	}
}

// badTokens are all the ways a token can be no good.
func (w *world) badTokens(t testing.TB) map[string]string {
	t.Helper()
	p := w.Ours.Principal[auth.Owner]
	good := w.issue(t, p, SigningKey)
	head, payload, seal := split(t, good)
	old := &world{World: &World{Clock: &Clock{now: Noon.Add(-2 * time.Hour)}}}
	claims := decoded(t, payload)
	return map[string]string{
		"none":            "",
		"expired":         old.issue(t, p, SigningKey),
		"another key":     w.issue(t, p, auth.Key{ID: SigningKey.ID, Secret: []byte("another secret, and just as long")}),
		"algorithm none":  encoded(`{"alg":"none","typ":"at+jwt","kid":"test"}`) + "." + payload + ".",
		"HS512":           signed(sha512.New, `{"alg":"HS512","typ":"at+jwt","kid":"test"}`, claims),
		"another type":    signed(sha256.New, `{"alg":"HS256","typ":"JWT","kid":"test"}`, claims),
		"no expiry":       signed(sha256.New, `{"alg":"HS256","typ":"at+jwt","kid":"test"}`, strings.Replace(claims, `"exp"`, `"expires"`, 1)),
		"for another":     signed(sha256.New, `{"alg":"HS256","typ":"at+jwt","kid":"test"}`, strings.Replace(claims, `"aud":["wainscot"]`, `"aud":["other"]`, 1)),
		"of another":      signed(sha256.New, `{"alg":"HS256","typ":"at+jwt","kid":"test"}`, strings.Replace(claims, `"iss":"wainscot"`, `"iss":"other"`, 1)),
		"changed":         head + "." + encoded(strings.Replace(claims, "owner", "books", 1)) + "." + seal,
		"no seal":         head + "." + payload,
		"not a token":     "abc",
		"far too long":    strings.Repeat("a", 5000),
		"unknown role":    signed(sha256.New, `{"alg":"HS256","typ":"at+jwt","kid":"test"}`, strings.Replace(claims, `"role":"owner"`, `"role":"chief"`, 1)),
		"nobody's person": signed(sha256.New, `{"alg":"HS256","typ":"at+jwt","kid":"test"}`, strings.Replace(claims, p.Person.String(), "00000000-0000-0000-0000-000000000000", 1)),
	}
}

func split(t testing.TB, token string) (head, payload, seal string) {
	t.Helper()
	parts := strings.Split(token, ".")
	if len(parts) != 3 {
		t.Fatalf("not a token: %s", token)
	}
	return parts[0], parts[1], parts[2]
}

func encoded(text string) string { return base64.RawURLEncoding.EncodeToString([]byte(text)) }

func decoded(t testing.TB, text string) string {
	t.Helper()
	plain, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return string(plain)
}

func signed(with func() hash.Hash, head, claims string) string {
	text := encoded(head) + "." + encoded(claims)
	mac := hmac.New(with, SigningKey.Secret)
	fmt.Fprint(mac, text)
	return text + "." + base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

func (w *world) createQuote(t testing.TB, of *Workshop) openapi.Quote {
	t.Helper()
	var q openapi.Quote
	w.exchange(t, call{
		method: http.MethodPost, path: "/v1/quotes", of: of, role: auth.Sales, body: w.example(t, http.MethodPost, "/v1/quotes"),
	}).into(t, http.StatusCreated, &q)
	return q
}

// TestBadTokensAreBad: the good one that the bad ones are made from is good,
// so that what makes them bad is what they are called after.
func TestBadTokensAreBad(t *testing.T) {
	w := newWorld(t)
	claims := func() string {
		_, payload, _ := split(t, w.issue(t, w.Ours.Principal[auth.Owner], SigningKey))
		return decoded(t, payload)
	}()
	g := w.exchange(t, call{
		method: http.MethodGet, path: "/v1/base-vans", of: w.Ours,
		token: signed(sha256.New, `{"alg":"HS256","typ":"at+jwt","kid":"test"}`, claims),
	})
	if g.status != http.StatusOK {
		t.Errorf("a token signed here by hand gets %d: %s", g.status, g.body)
	}
	for _, word := range []string{`"exp"`, `"aud":["wainscot"]`, `"iss":"wainscot"`, `"role":"owner"`} {
		if !strings.Contains(claims, word) {
			t.Errorf("claims %s have no %s to change", claims, word)
		}
	}
}

// TestSignIn: one answer for everything that can be wrong.
func TestSignIn(t *testing.T) {
	w := newWorld(t)
	body := func(workshop, email, password string) map[string]any {
		return map[string]any{"workshop": workshop, "email": email, "password": password}
	}
	us, them := w.Ours, w.Theirs
	ask := call{method: http.MethodPost, path: "/v1/sign-in", of: us}
	for _, role := range auth.Roles() {
		ask.body = body(us.Code, strings.ToUpper(us.Email[role]), us.Password[role])
		var in openapi.SignedIn
		w.exchange(t, ask).into(t, http.StatusOK, &in)
		if string(in.Person.Role) != string(role) || in.Workshop.Code != us.Code || !in.ExpiresAt.After(Noon) {
			t.Errorf("%s: %+v", role, in)
		}
		g := w.exchange(t, call{method: http.MethodGet, path: "/v1/base-vans", of: us, token: in.Token})
		if g.status != http.StatusOK {
			t.Errorf("%s: the token gets %d", role, g.status)
		}
	}
	var first openapi.Problem
	for name, wrong := range map[string]map[string]any{
		"password":         body(us.Code, us.Email[auth.Owner], "Demo-owner-nora"),
		"person":           body(us.Code, "nobody@withermere.example", us.Password[auth.Owner]),
		"workshop":         body("no-such", us.Email[auth.Owner], us.Password[auth.Owner]),
		"other's workshop": body(them.Code, us.Email[auth.Owner], us.Password[auth.Owner]),
		"other's person":   body(us.Code, them.Email[auth.Owner], them.Password[auth.Owner]),
		"long password":    body(us.Code, us.Email[auth.Owner], strings.Repeat("ü", 200)),
	} {
		ask.body = wrong
		p := w.exchange(t, ask).want(t, http.StatusUnauthorized, openapi.ProblemCodeSignInRefused)
		p.RequestId = ""
		if first.Code == "" {
			first = p
		}
		if p.Detail != first.Detail || p.Remedy != first.Remedy {
			t.Errorf("wrong %s can be told apart: %+v", name, p)
		}
	}
}

// TestNothingSecretInTheLog: neither passwords nor tokens nor what is asked.
func TestNothingSecretInTheLog(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	w.exchange(t, call{method: http.MethodPost, path: "/v1/sign-in", of: us,
		body: map[string]any{"workshop": us.Code, "email": us.Email[auth.Owner], "password": us.Password[auth.Owner]}})
	w.createQuote(t, us)
	w.exchange(t, call{method: http.MethodGet, path: "/v1/quotes?registration=WT24DMO", of: us, role: auth.Owner})
	w.exchange(t, call{method: http.MethodGet, path: "/nowhere/secret-path", of: us, token: "secret-token"})
	w.exchange(t, call{method: http.MethodGet, path: "/v1/base-vans", of: us, token: us.Token[auth.Owner] + "x"})
	log := w.Log.String()
	for _, secret := range []string{
		us.Password[auth.Owner], us.Email[auth.Owner], us.Token[auth.Owner], us.Token[auth.Sales], "WT24DMO", "WT24 DMO", "hob_two", "secret-path", "secret-token",
	} {
		if strings.Contains(log, secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
	for _, wanted := range []string{`"route":"/v1/quotes"`, `"role":"sales"`, `"problem":"not_signed_in"`, `"request_id":"`} {
		if !strings.Contains(log, wanted) {
			t.Errorf("the log lacks %s", wanted)
		}
	}
}
