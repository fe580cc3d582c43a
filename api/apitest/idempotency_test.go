package apitest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// let asks to let somebody in, under a key.
func let(w *world, email, key string) call {
	c := call{
		method: http.MethodPost, path: "/v1/people", of: w.Ours, role: auth.Owner,
		body: map[string]any{"name": "Robin Fold", "email": email, "role": "sales", "password": "a-long-enough-password"},
	}
	if key != "" {
		c.header = http.Header{"Idempotency-Key": {key}}
	}
	return c
}

// people counts those whose address has the word in it.
func (w *world) people(t testing.TB, word string) int {
	t.Helper()
	var list openapi.People
	w.exchange(t, call{method: http.MethodGet, path: "/v1/people", of: w.Ours, role: auth.Owner}).into(t, http.StatusOK, &list)
	n := 0
	for _, p := range list.People {
		if strings.Contains(p.Email, word) {
			n++
		}
	}
	return n
}

// same holds two answers to one request together: everything but when and
// under which request id.
func same(t testing.TB, first, again got, replayed bool) {
	t.Helper()
	if first.status != again.status || !bytes.Equal(first.body, again.body) ||
		first.header.Get("Location") != again.header.Get("Location") || first.header.Get("Etag") != again.header.Get("Etag") {
		t.Errorf("first %d %v %s\nagain %d %v %s", first.status, first.header, first.body, again.status, again.header, again.body)
	}
	if got := again.header.Get("Answered-Before") == "?1"; got != replayed {
		t.Errorf("Answered-Before is %q", again.header.Get("Answered-Before"))
	}
}

func TestTheSameRequestIsDoneOnce(t *testing.T) {
	w := newWorld(t)
	ask := let(w, "robin@withermere.example", "0199c0de-one")
	first := w.exchange(t, ask)
	if first.status != http.StatusCreated || first.header.Get("Location") == "" || first.header.Get("Etag") != `"1"` || first.header.Get("Answered-Before") != "" {
		t.Fatalf("%d %v: %s", first.status, first.header, first.body)
	}
	same(t, first, w.exchange(t, ask), true)
	quoted := ask
	quoted.header = http.Header{"Idempotency-Key": {`"0199c0de-one"`}}
	same(t, first, w.exchange(t, quoted), true)
	// After days it still is; the token has been renewed meanwhile.
	w.Clock.Advance(7*24*time.Hour - time.Hour)
	later := ask
	later.token = w.issue(t, w.Ours.Principal[auth.Owner], SigningKey)
	same(t, first, w.exchange(t, later), true)
	w.Clock.Set(Noon)

	other := let(w, "other@withermere.example", "0199c0de-one")
	w.exchange(t, other).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeKeyReused)
	spaced := ask
	text, err := json.Marshal(ask.body)
	if err != nil {
		t.Fatal(err)
	}
	spaced.body = append(text, ' ')
	w.exchange(t, spaced).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeKeyReused)
	if n := w.people(t, "robin@"); n != 1 {
		t.Errorf("%d Robins", n)
	}
	if n := w.people(t, "other@"); n != 0 {
		t.Errorf("the other request was done")
	}
}

// A key is a person's own: the same one elsewhere is another request.
func TestKeysArePrivate(t *testing.T) {
	w := newWorld(t)
	ask := let(w, "robin@both.example", "0199c0de-shared")
	first := w.exchange(t, ask)
	ask.of = w.Theirs
	theirs := w.exchange(t, ask)
	if theirs.status != http.StatusCreated || theirs.header.Get("Answered-Before") != "" || bytes.Equal(first.body, theirs.body) {
		t.Errorf("%d %v %s", theirs.status, theirs.header, theirs.body)
	}
	// A second owner of ours is another person.
	var second openapi.Person
	owner := let(w, "second@withermere.example", "")
	owner.body.(map[string]any)["role"] = "owner"
	w.exchange(t, owner).into(t, http.StatusCreated, &second)
	var in openapi.SignedIn
	w.exchange(t, call{method: http.MethodPost, path: "/v1/sign-in", of: w.Ours, body: map[string]any{
		"workshop": w.Ours.Code, "email": second.Email, "password": "a-long-enough-password",
	}}).into(t, http.StatusOK, &in)
	ask = let(w, "robin@both.example", "0199c0de-shared")
	ask.token = in.Token
	// It is not answered with the first owner's answer: it is done, and refused.
	w.exchange(t, ask).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
}

// An answer was made for somebody in a role. In another one they are not given
// it: it may show what that role is not shown.
func TestKeysAreOfARole(t *testing.T) {
	w := newWorld(t)
	in := w.comeIn(t, w.Ours, auth.Sales)
	ask := call{
		method: http.MethodPost, path: "/v1/customers", of: w.Ours, token: in.Token, body: w.example(t, http.MethodPost, "/v1/customers"),
		header: http.Header{"Idempotency-Key": {"0199c0de-role"}},
	}
	first := w.exchange(t, ask)
	if first.status != http.StatusCreated {
		t.Fatalf("%d %s", first.status, first.body)
	}
	path := "/v1/people/" + in.Person.Id
	g := w.exchange(t, call{method: http.MethodGet, path: path, of: w.Ours, role: auth.Owner})
	w.exchange(t, call{
		method: http.MethodPut, path: path, of: w.Ours, role: auth.Owner, body: map[string]any{"name": in.Person.Name, "role": "owner"},
		header: http.Header{"If-Match": {g.header.Get("Etag")}},
	}).into(t, http.StatusOK, &openapi.Person{})
	w.renew(t, w.Ours, in.RenewalToken).into(t, http.StatusOK, &in)
	ask.token = in.Token
	w.exchange(t, ask).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeKeyReused)
}

// What was refused has stored nothing, and may be mended under its key.
func TestRefusedRequestsAreNotKept(t *testing.T) {
	w := newWorld(t)
	w.exchange(t, let(w, "robin@withermere.example", "")).into(t, http.StatusCreated, &openapi.Person{})
	ask := let(w, "robin@withermere.example", "0199c0de-mend")
	w.exchange(t, ask).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	w.exchange(t, ask).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	mended := let(w, "robin2@withermere.example", "0199c0de-mend")
	first := w.exchange(t, mended)
	if first.status != http.StatusCreated {
		t.Fatalf("%d %s", first.status, first.body)
	}
	same(t, first, w.exchange(t, mended), true)
}

// TestTwentyAtOnce: twenty equal requests at the same moment have one effect
// and twenty equal answers.
func TestTwentyAtOnce(t *testing.T) {
	w := newWorld(t)
	for round := range 5 {
		ask := let(w, fmt.Sprintf("twenty%d@withermere.example", round), fmt.Sprintf("0199c0de-twenty-%d", round))
		answers := w.atOnce(t, slices.Repeat([]call{ask}, 20))
		firsts := 0
		for _, g := range answers {
			if g.header.Get("Answered-Before") == "" {
				firsts++
			}
			if g.status != http.StatusCreated {
				t.Errorf("%d: %s", g.status, g.body)
			}
			same(t, answers[0], g, g.header.Get("Answered-Before") != "")
		}
		if firsts != 1 {
			t.Errorf("%d were the first", firsts)
		}
		if n := w.people(t, fmt.Sprintf("twenty%d@", round)); n != 1 {
			t.Errorf("%d effects", n)
		}
	}
}

// atOnce sends calls at the same moment and holds their answers afterwards.
func (w *world) atOnce(t *testing.T, calls []call) []got {
	t.Helper()
	answers := make([]got, len(calls))
	var all sync.WaitGroup
	for i, c := range calls {
		all.Go(func() { answers[i] = w.exchange(t, c) })
	}
	all.Wait()
	return answers
}

// TestTwoServersOnOneDatabase: each knows nothing of what the other is doing,
// and still there is one effect and one answer.
func TestTwoServersOnOneDatabase(t *testing.T) {
	w := newWorld(t)
	other := w.another(t)
	for round := range 10 {
		ask := let(w, fmt.Sprintf("both%d@withermere.example", round), fmt.Sprintf("0199c0de-both-%d", round))
		var all sync.WaitGroup
		answers := make([]got, 8)
		for i := range answers {
			all.Go(func() {
				if i%2 == 0 {
					answers[i] = w.exchange(t, ask)
				} else {
					answers[i] = other.exchange(t, ask)
				}
			})
		}
		all.Wait()
		for _, g := range answers {
			if g.status != http.StatusCreated {
				t.Errorf("%d: %s", g.status, g.body)
			}
			same(t, answers[0], g, g.header.Get("Answered-Before") != "")
		}
		if n := w.people(t, fmt.Sprintf("both%d@", round)); n != 1 {
			t.Errorf("%d effects", n)
		}
	}
}

// TestNoLostUpdateHTTP: 64 writers on one person, each from the version they
// read: as many changes as were acknowledged, one version after another.
func TestNoLostUpdateHTTP(t *testing.T) {
	w := newWorld(t)
	var p openapi.Person
	w.exchange(t, let(w, "many@withermere.example", "")).into(t, http.StatusCreated, &p)
	path := "/v1/people/" + p.Id
	const writers = 64
	var all sync.WaitGroup
	var mu sync.Mutex
	seen := map[string]string{} // name acknowledged by ETag
	stale := 0
	for i := range writers {
		all.Go(func() {
			read := call{method: http.MethodGet, path: path, of: w.Ours, role: auth.Owner}
			for {
				g := w.exchange(t, read)
				name := fmt.Sprintf("Writer %d", i)
				c := call{
					method: http.MethodPut, path: path, of: w.Ours, role: auth.Owner, body: map[string]any{"name": name, "role": "sales"},
					header: http.Header{"If-Match": {g.header.Get("Etag")}},
				}
				changed := w.exchange(t, c)
				mu.Lock()
				switch changed.status {
				case http.StatusOK:
					if before, twice := seen[changed.header.Get("Etag")]; twice {
						t.Errorf("version %s was written by %q and %q", changed.header.Get("Etag"), before, name)
					}
					seen[changed.header.Get("Etag")] = name
				case http.StatusPreconditionFailed:
					stale++
				default:
					t.Errorf("%d %s", changed.status, changed.body)
				}
				mu.Unlock()
				if changed.status != http.StatusPreconditionFailed {
					return
				}
			}
		})
	}
	all.Wait()
	for v := range writers {
		if _, ok := seen[fmt.Sprintf(`"%d"`, v+2)]; !ok {
			t.Errorf("version %d is missing", v+2)
		}
	}
	g := w.exchange(t, call{method: http.MethodGet, path: path, of: w.Ours, role: auth.Owner})
	if last := seen[g.header.Get("Etag")]; !strings.Contains(string(g.body), `"`+last+`"`) {
		t.Errorf("the last acknowledged is %q and there is %s", last, g.body)
	}
	t.Logf("%d were told to read again", stale)
}

// A thing that has not changed is not sent again.
func TestNotModified(t *testing.T) {
	w := newWorld(t)
	var p openapi.Person
	w.exchange(t, let(w, "still@withermere.example", "")).into(t, http.StatusCreated, &p)
	read := call{method: http.MethodGet, path: "/v1/people/" + p.Id, of: w.Ours, role: auth.Owner}
	for tag, want := range map[string]int{
		`"1"`: http.StatusNotModified, `W/"1"`: http.StatusNotModified, `"7", "1"`: http.StatusNotModified, `*`: http.StatusNotModified,
		`"2"`: http.StatusOK, `1`: http.StatusOK, `"11"`: http.StatusOK,
	} {
		read.header = http.Header{"If-None-Match": {tag}}
		g := w.exchange(t, read)
		if g.status != want || g.header.Get("Etag") != `"1"` || (len(g.body) == 0) != (want == http.StatusNotModified) {
			t.Errorf("%s: %d with ETag %s and %d bytes", tag, g.status, g.header.Get("Etag"), len(g.body))
		}
	}
}

// TestErasedAnswersAreGone: what is kept about a thing goes when it is
// forgotten, and the request under its key is then a new one.
func TestErasedAnswersAreGone(t *testing.T) {
	w := newWorld(t)
	ask := let(w, "gone@withermere.example", "0199c0de-gone")
	first := w.exchange(t, ask)
	err := w.Store.As(w.Ours.Principal[auth.Owner]).Write(t.Context(), func(tx store.WriteTx) error {
		return tx.ForgetAnswers(first.header.Get("Location"))
	})
	if err != nil {
		t.Fatal(err)
	}
	w.exchange(t, ask).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
}
