package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/options"
	"wainscot/openapi"
)

// emptyServer is a server on a database without any workshop.
func emptyServer(t testing.TB, log io.Writer) *Server {
	t.Helper()
	path := filepath.Join(t.TempDir(), "test.db")
	if _, err := store.Migrate(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	kept, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	s, err := New(Config{
		Store: kept, Keys: []auth.Key{{ID: "a", Secret: bytes.Repeat([]byte("a"), 32)}},
		Logger: slog.New(slog.NewTextHandler(log, nil)),
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestContractHasNoDirections: bodies are compiled as if there were none.
func TestContractHasNoDirections(t *testing.T) {
	for _, word := range []string{"readOnly:", "writeOnly:"} {
		if bytes.Contains(openapi.Contract, []byte(word)) {
			t.Errorf("the contract says %s; see bodySchema", word)
		}
	}
}

// TestRoutesAreTheContract: every operation has a route with the same roles,
// and there is no route beside.
func TestRoutesAreTheContract(t *testing.T) {
	k, err := readContract()
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]string{}
	for name, o := range k.operations {
		method, _, _ := strings.Cut(name, " ")
		op := o.item.GetOperations().GetOrZero(strings.ToLower(method))
		for _, requirement := range op.Security {
			for _, roles := range requirement.Requirements.FromOldest() {
				said[name] += fmt.Sprint(roles)
			}
		}
		said[name] += "."
	}
	done := map[string]string{}
	for _, r := range routes() {
		name := r.method + " " + contractPath(r.path)
		for _, role := range r.roles {
			done[name] += fmt.Sprint([]auth.Role{role})
		}
		done[name] += "."
	}
	for name, roles := range said {
		if done[name] != roles {
			t.Errorf("%s: the contract says %q, the routes %q", name, roles, done[name])
		}
	}
	if len(said) != len(done) {
		t.Errorf("%d operations and %d routes", len(said), len(done))
	}
}

// TestEveryProblemCodeHasAStatus, so that none is answered with 0.
func TestEveryProblemCodeHasAStatus(t *testing.T) {
	for code, status := range statuses {
		if !code.Valid() || status < 400 || http.StatusText(status) == "" {
			t.Errorf("%s: %d", code, status)
		}
	}
	listed := 0
	for line := range bytes.Lines(openapi.Contract) {
		code := openapi.ProblemCode(strings.TrimPrefix(strings.TrimSpace(string(line)), "- "))
		if strings.HasPrefix(strings.TrimSpace(string(line)), "- ") && code.Valid() {
			listed++
			if _, ok := statuses[code]; !ok {
				t.Errorf("%s has no status", code)
			}
		}
	}
	if listed != len(statuses) {
		t.Errorf("the contract lists %d codes, and %d have a status", listed, len(statuses))
	}
}

// TestPanicIsAProblem: the caller gets a request id, the log the cause.
func TestPanicIsAProblem(t *testing.T) {
	var log bytes.Buffer
	s := emptyServer(t, &log)
	s.engine.GET("/panic", func(*gin.Context) { panic("the secret of the house") })
	s.engine.GET("/fault", func(c *gin.Context) { s.refuse(c, errors.New("the secret of the cellar")) })
	for _, path := range []string{"/panic", "/fault"} {
		recorder := httptest.NewRecorder()
		s.engine.ServeHTTP(recorder, httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil))
		body := recorder.Body.String()
		if recorder.Code != http.StatusInternalServerError || !strings.Contains(body, `"fault_of_ours"`) || strings.Contains(body, "secret") ||
			!strings.Contains(body, recorder.Header().Get("X-Request-Id")) {
			t.Errorf("%s: %d %s", path, recorder.Code, body)
		}
	}
	for _, secret := range []string{"the secret of the house", "the secret of the cellar"} {
		if !strings.Contains(log.String(), secret) {
			t.Errorf("the log does not have %q", secret)
		}
	}
}

// TestTraps: gin's defaults that have bitten, closed.
func TestTraps(t *testing.T) {
	s := emptyServer(t, io.Discard)
	var client string
	var carried any
	type key struct{}
	s.engine.GET("/who", func(c *gin.Context) { client, carried = c.ClientIP(), c.Value(key{}) })
	r := httptest.NewRequestWithContext(context.WithValue(t.Context(), key{}, "carried"), http.MethodGet, "/who", nil)
	r.RemoteAddr = "192.0.2.1:999"
	r.Header.Set("X-Forwarded-For", "203.0.113.7")
	r.Header.Set("X-Real-Ip", "203.0.113.7")
	s.engine.ServeHTTP(httptest.NewRecorder(), r)
	if client != "192.0.2.1" {
		t.Errorf("a proxy nobody trusts names the client: %s", client)
	}
	if carried != "carried" {
		t.Error("the request's context does not reach through gin's")
	}
	for path, status := range map[string]int{"/livez/": http.StatusNotFound, "/LIVEZ": http.StatusNotFound, "//livez": http.StatusNotFound, "/livez": http.StatusOK} {
		recorder := httptest.NewRecorder()
		s.engine.ServeHTTP(recorder, httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil))
		if recorder.Code != status {
			t.Errorf("%s: %d", path, recorder.Code)
		}
	}
	recorder := httptest.NewRecorder()
	s.engine.ServeHTTP(recorder, httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/v1/quotes/x", nil))
	if recorder.Code != http.StatusMethodNotAllowed || recorder.Header().Get("Allow") != "GET, HEAD, PUT" {
		t.Errorf("%d, Allow %q", recorder.Code, recorder.Header().Get("Allow"))
	}
	h := s.server()
	if h.ReadHeaderTimeout == 0 || h.ReadTimeout == 0 || h.WriteTimeout == 0 || h.IdleTimeout == 0 || h.MaxHeaderBytes == 0 {
		t.Errorf("a connection may dawdle: %+v", h)
	}
}

// TestRunStopsGracefully: a request under way is answered, a new connection is
// refused, and readiness goes first.
func TestRunStopsGracefully(t *testing.T) {
	s := emptyServer(t, io.Discard)
	entered, leave := make(chan struct{}), make(chan struct{})
	s.engine.GET("/slow", func(c *gin.Context) {
		close(entered)
		<-leave
		c.String(http.StatusOK, "done")
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := "http://" + listener.Addr().String()
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx, listener) }()
	answered := make(chan string, 1)
	go func() { answered <- fetch(t, address+"/slow") }()
	<-entered
	stop()
	for !s.stopping.Load() {
		runtime.Gosched() // until Run has seen it
	}
	recorder := httptest.NewRecorder()
	s.engine.ServeHTTP(recorder, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/readyz", nil))
	if recorder.Code != http.StatusServiceUnavailable || recorder.Header().Get("Retry-After") == "" {
		t.Errorf("ready while stopping: %d", recorder.Code)
	}
	close(leave)
	if text := <-answered; text != "done" {
		t.Errorf("the request under way got %q", text)
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if text := fetch(t, address+"/livez"); !strings.Contains(text, "refused") {
		t.Errorf("after the stop: %q", text)
	}
}

func fetch(t *testing.T, address string) string {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		return err.Error()
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return err.Error()
	}
	text, err := io.ReadAll(response.Body)
	if err := errors.Join(err, response.Body.Close()); err != nil {
		return err.Error()
	}
	return string(text)
}

// TestCompiledHoldsByWeight: the longest unused goes, the newest stays however
// heavy, and nothing is made twice.
func TestCompiledHoldsByWeight(t *testing.T) {
	made := map[string]int{}
	k := newCompiled[string](10)
	get := func(hash string, weight int) {
		t.Helper()
		thing, err := k.get(t.Context(), hash, func() (string, int, error) {
			made[hash]++
			return "thing " + hash, weight, nil
		})
		if err != nil || thing != "thing "+hash {
			t.Errorf("%s: %q, %v", hash, thing, err)
		}
	}
	get("a", 4)
	get("b", 4)
	get("a", 4) // now b is the longest unused
	get("c", 4) // 12: b goes
	get("a", 4)
	get("c", 4)
	get("b", 4) // made again, a goes
	get("d", 99)
	if made["a"] != 1 || made["b"] != 2 || made["c"] != 1 || k.used.Len() != 1 || k.weight != 99 {
		t.Errorf("made %v, %d held weighing %d", made, k.used.Len(), k.weight)
	}
	if _, err := k.get(t.Context(), "e", func() (string, int, error) { return "", 0, errors.New("broken") }); err == nil {
		t.Error("a failure was kept")
	}
	get("e", 1) // and is tried again
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	k.making <- struct{}{} // somebody else is making something
	if _, err := k.get(ended, "f", nil); !errors.Is(err, context.Canceled) {
		t.Errorf("waiting did not end with its context: %v", err)
	}
	<-k.making
}

// TestCursor: good for its workshop and question only, and not to be changed.
func TestCursor(t *testing.T) {
	s := emptyServer(t, io.Discard)
	us := auth.Principal{Workshop: uuid.UUID{1}, Person: uuid.UUID{2}, Role: auth.Sales}
	them := auth.Principal{Workshop: uuid.UUID{3}, Person: uuid.UUID{2}, Role: auth.Sales}
	cursor := s.writeCursor(us, "quotes", "17 b")
	if position, ok := s.readCursor(us, "quotes", cursor); !ok || position != "17 b" {
		t.Errorf("%q %v", position, ok)
	}
	for name, bad := range map[string]func() (string, bool){
		"another workshop": func() (string, bool) { return s.readCursor(them, "quotes", cursor) },
		"another question": func() (string, bool) { return s.readCursor(us, "quotes of AB12", cursor) },
		"another split":    func() (string, bool) { return s.readCursor(us, "quotes17", s.writeCursor(us, "quotes", "17 b")) },
		"changed":          func() (string, bool) { return s.readCursor(us, "quotes", "A"+cursor[1:]) },
		"no seal":          func() (string, bool) { return s.readCursor(us, "quotes", strings.Split(cursor, ".")[0]+".") },
		"nothing":          func() (string, bool) { return s.readCursor(us, "quotes", "") },
	} {
		if position, ok := bad(); ok {
			t.Errorf("%s: reads %q", name, position)
		}
	}
	// A key that is going out still reads, a new one signs.
	s.cursorKeys = append([][]byte{bytes.Repeat([]byte("n"), 32)}, s.cursorKeys...)
	if _, ok := s.readCursor(us, "quotes", cursor); !ok {
		t.Error("a cursor dies with the change of keys")
	}
}

// TestNewRefuses what a server cannot run on.
func TestNewRefuses(t *testing.T) {
	s := emptyServer(t, io.Discard)
	for name, config := range map[string]Config{
		"no store":    {Keys: []auth.Key{{ID: "a", Secret: bytes.Repeat([]byte("a"), 32)}}},
		"no key":      {Store: s.store},
		"a short key": {Store: s.store, Keys: []auth.Key{{ID: "a", Secret: []byte("short")}}},
	} {
		if _, err := New(config); err == nil {
			t.Errorf("%s: made", name)
		}
	}
}

// TestNarrowDoor: when too many sign in at once the rest are told to wait.
func TestNarrowDoor(t *testing.T) {
	s := emptyServer(t, io.Discard)
	for range cap(s.signIns) {
		s.signIns <- struct{}{}
	}
	ask := func() *httptest.ResponseRecorder {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/v1/sign-in",
			strings.NewReader(`{"workshop":"a","email":"b@c.example","password":"d"}`))
		r.Header.Set("Content-Type", "application/json")
		recorder := httptest.NewRecorder()
		s.engine.ServeHTTP(recorder, r)
		return recorder
	}
	if got := ask(); got.Code != http.StatusTooManyRequests || got.Header().Get("Retry-After") != "1" {
		t.Errorf("%d, Retry-After %q", got.Code, got.Header().Get("Retry-After"))
	}
	<-s.signIns
	if got := ask(); got.Code != http.StatusUnauthorized {
		t.Errorf("with a place free: %d", got.Code)
	}
}

// signedInToken is a token resting on a sign-in begun for it.
func signedInToken(t testing.TB, s *Server, p auth.Principal, passwordHash string) string {
	t.Helper()
	token, _, err := s.tokens.Issue(signedIn(t, s, p, passwordHash))
	if err != nil {
		t.Fatal(err)
	}
	return token
}

// signedIn begins a sign-in for a principal.
func signedIn(t testing.TB, s *Server, p auth.Principal, passwordHash string) auth.Principal {
	t.Helper()
	first, err := auth.NewRenewal(p.Workshop, uuid.Must(uuid.NewV7()))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.store.As(p).Write(t.Context(), func(tx store.WriteTx) error { return tx.SignIn(first, passwordHash) }); err != nil {
		t.Fatal(err)
	}
	p.SignIn = first.SignIn
	return p
}

// newOwner opens a workshop and signs its owner in.
func newOwner(t testing.TB, s *Server) auth.Principal {
	t.Helper()
	workshop, owner, err := s.store.CreateWorkshop(t.Context(),
		store.NewWorkshop{Code: "new", Name: "New", Currency: "GBP", TimeZone: "Europe/London"},
		store.NewPerson{Name: "First", Email: "first@new.example", Role: auth.Owner, PasswordHash: "none"})
	if err != nil {
		t.Fatal(err)
	}
	return signedIn(t, s, auth.Principal{Workshop: workshop.ID, Person: owner.ID, Role: auth.Owner}, "none")
}

// TestNothingPublished: a new workshop is told what it lacks.
func TestNothingPublished(t *testing.T) {
	s := emptyServer(t, io.Discard)
	token, _, err := s.tokens.Issue(newOwner(t, s))
	if err != nil {
		t.Fatal(err)
	}
	const body = `{"van":{"base_van":"any"},"choices":{"features":[]}}`
	for path, text := range map[string]string{"/v1/base-vans": "", "/v1/features": "", "/v1/resolve": body} {
		method := http.MethodGet
		if text != "" {
			method = http.MethodPost
		}
		r := httptest.NewRequestWithContext(t.Context(), method, path, strings.NewReader(text))
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Authorization", "Bearer "+token)
		recorder := httptest.NewRecorder()
		s.engine.ServeHTTP(recorder, r)
		if recorder.Code != http.StatusConflict || !strings.Contains(recorder.Body.String(), `"nothing_published"`) {
			t.Errorf("%s: %d %s", path, recorder.Code, recorder.Body)
		}
	}
}

// TestErrorsBecomeProblems: what the store and the engine can come to, and
// that what is not known here is a fault of ours and told to nobody.
func TestErrorsBecomeProblems(t *testing.T) {
	s := emptyServer(t, io.Discard)
	for _, c := range []struct {
		err    error
		status int
		code   openapi.ProblemCode
	}{
		{store.ErrNotFound, http.StatusNotFound, openapi.ProblemCodeNotFound},
		{store.ErrStale, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile},
		{store.ErrTaken, http.StatusConflict, openapi.ProblemCodeStateConflict},
		{store.ErrBusy, http.StatusServiceUnavailable, openapi.ProblemCodeNotNow},
		{store.ErrNotStarted, http.StatusServiceUnavailable, openapi.ProblemCodeNotNow},
		{store.ErrNotStored, http.StatusServiceUnavailable, openapi.ProblemCodeNotNow},
		{store.ErrUnknown, http.StatusServiceUnavailable, openapi.ProblemCodeNotNow},
		{store.ErrClosed, http.StatusServiceUnavailable, openapi.ProblemCodeNotNow},
		{store.ErrShutOut, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn},
		{store.ErrUsedAgain, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn},
		{store.ErrNobody, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn},
		{store.ErrDocument, http.StatusInternalServerError, openapi.ProblemCodeFaultOfOurs},
		{context.DeadlineExceeded, http.StatusServiceUnavailable, openapi.ProblemCodeNotNow},
		{engineProblem(options.ErrBudget), http.StatusUnprocessableEntity, openapi.ProblemCodeTooHard},
		{engineProblem(options.ErrNothingAllowed), http.StatusUnprocessableEntity, openapi.ProblemCodeChoicesRefused},
		{errors.New("anything"), http.StatusInternalServerError, openapi.ProblemCodeFaultOfOurs},
	} {
		recorder := httptest.NewRecorder()
		g, _ := gin.CreateTestContext(recorder)
		g.Request = httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
		s.refuse(g, fmt.Errorf("deep inside: %w", c.err))
		body := recorder.Body.String()
		if recorder.Code != c.status || !strings.Contains(body, `"`+string(c.code)+`"`) || strings.Contains(body, "deep inside") {
			t.Errorf("%v: %d %s", c.err, recorder.Code, body)
		}
		if c.status == http.StatusServiceUnavailable && recorder.Header().Get("Retry-After") == "" {
			t.Errorf("%v: no Retry-After", c.err)
		}
	}
}

// TestPatternsAreTheContracts: what is said of a pattern is of one there is.
func TestPatternsAreTheContracts(t *testing.T) {
	t.Parallel()
	for pattern, words := range patterns {
		if !strings.Contains(string(openapi.Contract), "pattern: '"+pattern+"'") || words == "" {
			t.Errorf("no pattern of the contract is %s, which is %q", pattern, words)
		}
	}
}
