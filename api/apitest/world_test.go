package apitest

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/config"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// world is a World with its contract, for one test.
type world struct {
	*World
	model    *v3.Document
	contract validator.Validator
}

func newWorld(t testing.TB) *world {
	t.Helper()
	opened, err := Open(t.Context(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := opened.Close(); err != nil {
			t.Error(err)
		}
	})
	read, err := contractOnce()
	if err != nil {
		t.Fatal(err)
	}
	return &world{World: opened, model: read.model, contract: read.validator}
}

// another is the same world with a server of its own on the same database, as
// another process has it.
func (w *world) another(t testing.TB) *world {
	t.Helper()
	opened, err := w.again(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := opened.Close(); err != nil {
			t.Error(err)
		}
	})
	return &world{World: opened, model: w.model, contract: w.contract}
}

type readOnce struct {
	model     *v3.Document
	validator validator.Validator
}

// contractOnce reads the contract and compiles its validator, once for all
// tests.
var contractOnce = sync.OnceValues(func() (readOnce, error) {
	document, err := libopenapi.NewDocument(openapi.Contract)
	if err != nil {
		return readOnce{}, err
	}
	model, err := document.BuildV3Model()
	if err != nil {
		return readOnce{}, err
	}
	return readOnce{&model.Model, validator.NewValidatorFromV3Model(&model.Model,
		config.WithFormatAssertions(), config.WithRejectUndeclaredRequestBody())}, nil
})

// issue is Issue in a test.
func (w *world) issue(t testing.TB, p auth.Principal, key auth.Key) string {
	t.Helper()
	token, err := w.Issue(p, key)
	if err != nil {
		t.Fatal(err)
	}
	return token
}

// call is one request.
type call struct {
	method, path string
	of           *Workshop // whose answers it is; nil: nobody's
	role         auth.Role // "" sends no token
	token        string    // in place of the role's
	body         any       // []byte goes as it is, all else as JSON
	// header is what is sent besides; with no values, what is not sent. An
	// Idempotency-Key is made up where one is needed.
	header http.Header
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
	w.Server.Handler().ServeHTTP(recorder, request)
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
		token = c.of.Token[c.role]
	}
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	if takes(w.operation(c), "Idempotency-Key") {
		request.Header.Set("Idempotency-Key", uuid.NewString())
	}
	maps.Copy(request.Header, c.header)
	for name, values := range c.header {
		if values == nil { // asked to go without
			request.Header.Del(name)
		}
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
		t.Errorf("%s %s answers %d: %s\nlog: %s", c.method, c.path, g.status, g.body, w.logTail())
	}
	if g.status >= http.StatusBadRequest {
		w.holdProblem(t, g)
	}
	if w.operation(c) != nil {
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
	if c.of == nil || c.of.Other == nil {
		return
	}
	lower := strings.ToLower(string(g.body))
	var known string // of a document that was sent, words may come back
	if w.takesDocument(c) {
		known = strings.ToLower(string(sent))
	}
	for _, word := range c.of.Other.Words {
		if strings.Contains(lower, word) && !strings.Contains(known, word) {
			t.Errorf("%s %s as %s of %s: the answer holds the other workshop's %q", c.method, c.path, c.role, c.of.Code, word)
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

// operation the contract has at the address of a call; nil for none.
func (w *world) operation(c call) *v3.Operation {
	path, _, _ := strings.Cut(c.path, "?")
	steps := strings.Split(path, "/")
	for template, item := range w.model.Paths.PathItems.FromOldest() {
		if !fits(strings.Split(template, "/"), steps) {
			continue
		}
		for method, op := range item.GetOperations().FromOldest() {
			if strings.EqualFold(method, c.method) {
				return op
			}
		}
	}
	return nil
}

func fits(template, path []string) bool {
	return slices.EqualFunc(template, path, func(want, got string) bool {
		return want == got || strings.HasPrefix(want, "{") && got != ""
	})
}

// takes says whether an operation has a header among its parameters.
func takes(op *v3.Operation, header string) bool {
	return op != nil && slices.ContainsFunc(op.Parameters, func(p *v3.Parameter) bool {
		return p.In == "header" && strings.EqualFold(p.Name, header)
	})
}

// takesDocument says whether an operation takes a whole document.
func (w *world) takesDocument(c call) bool {
	op := w.operation(c)
	if op == nil || op.RequestBody == nil {
		return false
	}
	media := op.RequestBody.Content.GetOrZero("application/json")
	return media != nil && media.Schema.GetReference() == "#/components/schemas/AnyDocument"
}

// example is the contract's own example of a body.
func (w *world) example(t testing.TB, method, path string) map[string]any {
	t.Helper()
	op := w.operation(call{method: method, path: path})
	if op == nil {
		t.Fatalf("no %s %s in the contract", method, path)
	}
	if op.RequestBody == nil {
		return nil
	}
	if w.takesDocument(call{method: method, path: path}) {
		return documentExample(t, path)
	}
	media := op.RequestBody.Content.GetOrZero("application/json")
	if media == nil || media.Example == nil {
		t.Errorf("%s %s has no example in the contract; give it one", method, path)
		return nil
	}
	var body map[string]any
	if err := media.Example.Decode(&body); err != nil {
		t.Fatal(err)
	}
	return body
}

// documentExample is a whole document, which is too long for the contract: the
// demo's catalogue, and its latest edition as another one.
func documentExample(t testing.TB, path string) map[string]any {
	t.Helper()
	offer, err := demoOffer()
	if err != nil {
		t.Fatal(err)
	}
	var text []byte
	if strings.HasPrefix(path, "/v1/releases") {
		text, err = offer.release.Catalogue().MarshalJSON()
	} else {
		text, err = offer.editions[len(offer.editions)-1].Edition().MarshalJSON()
	}
	if err != nil {
		t.Fatal(err)
	}
	var body map[string]any
	if err := json.Unmarshal(text, &body); err != nil {
		t.Fatal(err)
	}
	if path == "/v1/editions" {
		body["edition"], body["in_force_from"] = "2026-12", "2026-12-01"
	}
	return body
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

// logTail is the end of the log, where the cause of a fault stands.
func (w *world) logTail() string {
	text := w.Log.String()
	return text[max(0, len(text)-2000):]
}
