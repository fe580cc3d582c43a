package api

import (
	"bytes"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/openapi"
)

// TestAnsweredBeforeOrNotKnown: whatever a repetition is refused for, it is
// answered as it was the first time; where that cannot be looked up, nobody is
// told that nothing was done.
func TestAnsweredBeforeOrNotKnown(t *testing.T) {
	var log bytes.Buffer
	s := emptyServer(t, &log)
	p := newOwner(t, s)
	ask := func(key string, handle func(*gin.Context) error) (*httptest.ResponseRecorder, error) {
		recorder := httptest.NewRecorder()
		c, _ := gin.CreateTestContext(recorder)
		c.Request = httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/v1/things", nil)
		c.Request.Header.Set("Idempotency-Key", key)
		c.Set(principalKey, p)
		return recorder, s.once(c, func() error { return handle(c) })
	}
	const body = `{"secret":"1234"}`
	storing := func(c *gin.Context) error {
		return s.keep(c, func(store.WriteTx) (reply, error) {
			return reply{status: http.StatusCreated, sealed: true, body: map[string]string{"secret": "1234"}}, nil
		})
	}
	refusal := nothingOffered()
	refuse := func(err error) func(*gin.Context) error { return func(*gin.Context) error { return err } }

	first, err := ask("the-first", storing)
	if err != nil || first.Code != http.StatusCreated || strings.TrimSpace(first.Body.String()) != body {
		t.Fatalf("%d %s, %v", first.Code, first.Body, err)
	}
	for name, handle := range map[string]func(*gin.Context) error{"stored again": storing, "refused": refuse(refusal), "not known": refuse(store.ErrUnknown)} {
		again, err := ask("the-first", handle)
		if err != nil || again.Code != first.Code || again.Body.String() != first.Body.String() || again.Header().Get(answeredBefore) != "?1" {
			t.Errorf("%s: %d %s, %v", name, again.Code, again.Body, err)
		}
	}
	if _, err := ask("the-other", refuse(refusal)); !errors.Is(err, refusal) {
		t.Errorf("what was never done is refused for %v", err)
	}
	if _, err := ask("the-first", refuse(store.ErrShutOut)); !errors.Is(err, store.ErrShutOut) {
		t.Errorf("who is shut out is told %v", err)
	}

	// With all the server's keys changed, what they sealed cannot be read.
	seals, prints := s.sealKeys, s.fingerprintKeys
	s.sealKeys, s.fingerprintKeys = [][]byte{bytes.Repeat([]byte("n"), 32)}, [][]byte{bytes.Repeat([]byte("n"), 32)}
	var reused *problem
	if _, err := ask("the-first", storing); !errors.As(err, &reused) || reused.code != openapi.ProblemCodeKeyReused {
		t.Errorf("kept under keys that are gone: %v", err)
	}
	s.sealKeys, s.fingerprintKeys = append(s.sealKeys, seals...), append(s.fingerprintKeys, prints...)
	if again, err := ask("the-first", storing); err != nil || again.Body.String() != first.Body.String() {
		t.Errorf("kept under a key that is going out: %s, %v", again.Body, err)
	}

	if err := s.store.Close(); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ refused, want error }{
		"refused":   {refusal, store.ErrClosed},
		"not known": {store.ErrUnknown, store.ErrUnknown},
		"shut out":  {store.ErrShutOut, store.ErrShutOut},
	} {
		recorder, err := ask("the-first", refuse(c.refused))
		if !errors.Is(err, c.want) {
			t.Errorf("%s, with nothing to look it up in: %v and not %v", name, err, c.want)
			continue
		}
		g, _ := gin.CreateTestContext(recorder)
		g.Request = httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/", nil)
		s.refuse(g, err)
		if want := map[bool]int{true: http.StatusUnauthorized, false: http.StatusServiceUnavailable}[name == "shut out"]; recorder.Code != want {
			t.Errorf("%s is answered %d", name, recorder.Code)
		}
	}
	if !strings.Contains(log.String(), "kept answer not looked up") {
		t.Error("the log does not say that it could not be looked up")
	}
}
