// Package apitest asks the API as a program outside would: an in-process
// server on the demo workshop and a second one, over a real database. Every
// exchange is held against the contract, request and answer, and every answer
// is searched for words that belong to the other workshop.
package apitest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/config"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
	"wainscot/testdata"
)

// The day it is in these tests: the demo's second edition is in force.
var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// world is a server with two workshops.
type world struct {
	store    *store.Store
	server   *api.Server
	contract validator.Validator
	model    *v3.Document
	ours     *workshop // the demo workshop
	theirs   *workshop
	log      *lockedBuffer
	clock    *clock
}

// workshop is one of them, with a token for each role.
type workshop struct {
	code      string
	principal map[auth.Role]auth.Principal
	email     map[auth.Role]string
	password  map[auth.Role]string
	token     map[auth.Role]string
	// words are in its data and in nobody else's.
	words []string
	other *workshop
}

var signingKey = auth.Key{ID: "test", Secret: []byte("0123456789abcdef0123456789abcdef")}

// newWorld opens both workshops and signs everybody in.
func newWorld(t testing.TB) *world {
	t.Helper()
	w := &world{log: &lockedBuffer{}, clock: &clock{now: noon}}
	path := filepath.Join(t.TempDir(), "test.db")
	if _, err := store.Migrate(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	var err error
	if w.store, err = store.Open(t.Context(), path, store.Options{Now: w.clock.Now}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := w.store.Close(); err != nil {
			t.Error(err)
		}
	})
	w.server, err = api.New(api.Config{
		Store: w.store, Keys: []auth.Key{signingKey}, Now: w.clock.Now,
		Logger: slog.New(slog.NewJSONHandler(w.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	})
	if err != nil {
		t.Fatal(err)
	}
	w.readContract(t)
	w.ours = w.open(t, "withermere", "Withermere Camper Works", demoOffer(t))
	w.theirs = w.open(t, "quillfeather", "Quillfeather Vans", otherOffer(t))
	w.ours.other, w.theirs.other = w.theirs, w.ours
	for _, of := range []*workshop{w.ours, w.theirs} {
		for role := range maps.Keys(of.email) {
			of.token[role] = w.signIn(t, of, role)
		}
	}
	return w
}

func (w *world) readContract(t testing.TB) {
	t.Helper()
	document, err := libopenapi.NewDocument(openapi.Contract)
	if err != nil {
		t.Fatal(err)
	}
	model, err := document.BuildV3Model()
	if err != nil {
		t.Fatal(err)
	}
	w.model = &model.Model
	w.contract = validator.NewValidatorFromV3Model(w.model, config.WithFormatAssertions(), config.WithRejectUndeclaredRequestBody())
}

// open makes a workshop with one person in every role.
func (w *world) open(t testing.TB, code, name string, o shopOffer) *workshop {
	t.Helper()
	shop := &workshop{
		code: code, principal: map[auth.Role]auth.Principal{}, email: map[auth.Role]string{},
		password: map[auth.Role]string{}, token: map[auth.Role]string{}, words: o.words,
	}
	passwords, err := auth.NewPasswords(2)
	if err != nil {
		t.Fatal(err)
	}
	people := map[auth.Role]store.NewPerson{}
	for _, role := range auth.Roles() {
		shop.email[role] = string(role) + "@" + code + ".example"
		shop.password[role] = "the " + string(role) + " of " + code
		hash, err := passwords.Hash(t.Context(), shop.password[role])
		if err != nil {
			t.Fatal(err)
		}
		people[role] = store.NewPerson{Name: "Person " + string(role) + " " + code, Email: shop.email[role], Role: role, PasswordHash: hash}
	}
	made, owner, err := w.store.CreateWorkshop(t.Context(), store.NewWorkshop{Code: code, Name: name, Currency: "GBP", TimeZone: "Europe/London"}, people[auth.Owner])
	if err != nil {
		t.Fatal(err)
	}
	shop.principal[auth.Owner] = auth.Principal{Workshop: made.ID, Person: owner.ID, Role: auth.Owner}
	as := w.store.As(shop.principal[auth.Owner])
	err = as.Write(t.Context(), func(tx store.WriteTx) error {
		for role, n := range people {
			if role == auth.Owner {
				continue
			}
			p, err := tx.AddPerson(n)
			if err != nil {
				return err
			}
			shop.principal[role] = auth.Principal{Workshop: made.ID, Person: p.ID, Role: role}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if o.release == nil {
		return shop
	}
	if _, err := api.PublishRelease(t.Context(), as, o.release); err != nil {
		t.Fatal(err)
	}
	for _, k := range o.editions {
		if _, err := api.AddEdition(t.Context(), as, k); err != nil {
			t.Fatal(err)
		}
	}
	return shop
}

// shopOffer is what a workshop sells, and words only it uses.
type shopOffer struct {
	release  *bom.Release
	editions []*pricebook.Compiled
	words    []string
}

// demoOffer reads the demo workshop's once for all tests.
var demoOffer = offerOnce(func(text []byte) []byte { return text }, "withermere")

// otherOffer is the demo's with every name replaced, so that any word of it in
// an answer to the demo workshop has come over the fence, and the other way.
var otherOffer = offerOnce(func(text []byte) []byte {
	n := 0
	return nameLine.ReplaceAllFunc(text, func(line []byte) []byte {
		n++
		return fmt.Appendf(nil, "%sQuillfeather %d", nameLine.FindSubmatch(line)[1], n)
	})
}, "quillfeather")

var nameLine = regexp.MustCompile(`(?m)^(\s+(?:- )?(?:name|title): |title: ).*$`)

func offerOnce(change func([]byte) []byte, words ...string) func(testing.TB) shopOffer {
	var once sync.Once
	var o shopOffer
	return func(t testing.TB) shopOffer {
		t.Helper()
		once.Do(func() { o = readOffer(t, change, words) })
		if o.release == nil {
			t.Fatal("the demo workshop's documents could not be read")
		}
		return o
	}
}

func readOffer(t testing.TB, change func([]byte) []byte, words []string) shopOffer {
	t.Helper()
	read := func(folder string) (files []document.File) {
		err := fs.WalkDir(testdata.Demo, folder, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := fs.ReadFile(testdata.Demo, path)
			files = append(files, document.File{Name: path, Data: text})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return files
	}
	files := read("demo/catalogue")
	for i := range files {
		files[i].Data = change(files[i].Data)
	}
	c, _, faults := catalogue.Decode(files)
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	o := shopOffer{words: words}
	if o.release, faults = bom.Compile(c); len(faults) > 0 {
		t.Fatal(faults)
	}
	for _, f := range read("demo/pricebook") {
		e, _, faults := pricebook.Decode([]document.File{f})
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		k, faults := pricebook.Compile(c, e)
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		o.editions = append(o.editions, k)
	}
	return o
}

func (w *world) signIn(t testing.TB, of *workshop, role auth.Role) string {
	t.Helper()
	got := w.exchange(t, call{
		method: http.MethodPost, path: "/v1/sign-in", of: of,
		body: map[string]any{"workshop": of.code, "email": of.email[role], "password": of.password[role]},
	})
	var in openapi.SignedIn
	got.into(t, http.StatusOK, &in)
	return in.Token
}

// call is one request.
type call struct {
	method, path string
	of           *workshop // whose answers it is; nil: nobody's
	role         auth.Role // "" sends no token
	token        string    // in place of the role's
	body         any       // []byte goes as it is, all else as JSON
	header       http.Header
	// broken: the request is meant to break the contract.
	broken bool
}

// got is an answer.
type got struct {
	call   call
	status int
	header http.Header
	body   []byte
}

// exchange sends a request and holds it and its answer against the contract
// and against the other workshop's words.
func (w *world) exchange(t testing.TB, c call) got {
	t.Helper()
	request := w.request(t, c)
	sent, err := io.ReadAll(request.Body)
	if err != nil {
		t.Fatal(err)
	}
	request.Body = io.NopCloser(bytes.NewReader(sent))
	recorder := httptest.NewRecorder()
	w.server.Handler().ServeHTTP(recorder, request)
	g := got{call: c, status: recorder.Code, header: recorder.Header(), body: recorder.Body.Bytes()}
	w.hold(t, c, sent, g)
	return g
}

func (w *world) request(t testing.TB, c call) *http.Request {
	t.Helper()
	var body io.Reader = http.NoBody
	switch b := c.body.(type) {
	case nil:
	case []byte:
		body = bytes.NewReader(b)
	default:
		text, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		body = bytes.NewReader(text)
	}
	request := httptest.NewRequestWithContext(context.Background(), c.method, c.path, body)
	if c.body != nil {
		request.Header.Set("Content-Type", "application/json")
	}
	token := c.token
	if token == "" && c.role != "" {
		token = c.of.token[c.role]
	}
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	for name, values := range c.header {
		request.Header[name] = values
	}
	return request
}

// hold is what every exchange must keep to.
func (w *world) hold(t testing.TB, c call, sent []byte, g got) {
	t.Helper()
	again := func() *http.Request {
		r := w.request(t, c)
		r.Body = io.NopCloser(bytes.NewReader(sent))
		return r
	}
	if g.status >= http.StatusInternalServerError && g.status != http.StatusServiceUnavailable {
		t.Errorf("%s %s answers %d: %s\nlog: %s", c.method, c.path, g.status, g.body, w.log.tail())
	}
	if g.status >= http.StatusBadRequest {
		w.holdProblem(t, g)
	}
	if w.inContract(c) {
		if ok, faults := w.contract.ValidateHttpRequest(again()); !ok && !c.broken && g.status < http.StatusBadRequest {
			t.Errorf("%s %s: the request breaks the contract: %v", c.method, c.path, faults)
		}
		response := &http.Response{StatusCode: g.status, Header: g.header, Body: io.NopCloser(bytes.NewReader(g.body))}
		if ok, faults := w.contract.ValidateHttpResponse(again(), response); !ok {
			for _, f := range faults {
				t.Errorf("%s %s: the answer %d breaks the contract: %v", c.method, c.path, g.status, f)
			}
		}
	}
	if c.of == nil || c.of.other == nil {
		return
	}
	lower := strings.ToLower(string(g.body))
	for _, word := range c.of.other.words {
		if strings.Contains(lower, word) {
			t.Errorf("%s %s as %s of %s: the answer holds the other workshop's %q", c.method, c.path, c.role, c.of.code, word)
		}
	}
}

// holdProblem: whatever went wrong is said as a problem, and says what to do.
func (w *world) holdProblem(t testing.TB, g got) {
	t.Helper()
	p := g.problem(t)
	if int(p.Status) != g.status || p.Detail == "" || p.Remedy == "" || p.RequestId != g.header.Get("X-Request-Id") {
		t.Errorf("%s %s: not a whole problem: %s", g.call.method, g.call.path, g.body)
	}
	for _, e := range p.Errors {
		if e.Field == "" || e.Code == "" || e.Reason == "" || e.Remedy == "" {
			t.Errorf("%s %s: not a whole field error: %+v", g.call.method, g.call.path, e)
		}
	}
}

// inContract says whether the contract knows the address and the method.
func (w *world) inContract(c call) bool {
	path, _, _ := strings.Cut(c.path, "?")
	for template, item := range w.model.Paths.PathItems.FromOldest() {
		pattern := "^" + regexp.MustCompile(`\{[^}]+\}`).ReplaceAllString(template, "[^/]+") + "$"
		if !regexp.MustCompile(pattern).MatchString(path) {
			continue
		}
		for method := range item.GetOperations().FromOldest() {
			if strings.EqualFold(method, c.method) {
				return true
			}
		}
	}
	return false
}

func (g got) problem(t testing.TB) openapi.Problem {
	t.Helper()
	var p openapi.Problem
	if kind := g.header.Get("Content-Type"); kind != "application/problem+json" {
		t.Errorf("%s %s: %d as %q: %s", g.call.method, g.call.path, g.status, kind, g.body)
	}
	d := json.NewDecoder(bytes.NewReader(g.body))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		t.Errorf("%s %s: %d is no problem document (%v): %s", g.call.method, g.call.path, g.status, err, g.body)
	}
	return p
}

// into reads an answer that must have the status.
func (g got) into(t testing.TB, status int, into any) {
	t.Helper()
	if g.status != status {
		t.Fatalf("%s %s: %d and not %d: %s", g.call.method, g.call.path, g.status, status, g.body)
	}
	if err := json.Unmarshal(g.body, into); err != nil {
		t.Fatal(err)
	}
}

// want checks status and code of a problem.
func (g got) want(t testing.TB, status int, code openapi.ProblemCode) openapi.Problem {
	t.Helper()
	p := g.problem(t)
	if g.status != status || p.Code != code {
		t.Errorf("%s %s: %d %s and not %d %s: %s", g.call.method, g.call.path, g.status, p.Code, status, code, g.body)
	}
	return p
}

// clock is set by hand.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

// Now ticks a microsecond at each look, so that things come one after another.
func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(time.Microsecond)
	return c.now
}

func (c *clock) advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// lockedBuffer is a log that can be read while it is written.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func (l *lockedBuffer) tail() string {
	text := l.String()
	return text[max(0, len(text)-2000):]
}
