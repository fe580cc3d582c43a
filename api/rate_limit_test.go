package api

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
)

func TestBuckets(t *testing.T) {
	t.Parallel()
	b := newBuckets[string]("person", 6, 0)
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	for want := 5; want >= 0; want-- {
		if got := b.take("a", now); !got.ok || got.left != want {
			t.Fatalf("%+v, want %d left", got, want)
		}
	}
	got := b.take("a", now)
	if got.ok || got.left != 0 || got.full.Round(time.Millisecond) != time.Minute || got.next.Round(time.Millisecond) != 10*time.Second {
		t.Errorf("empty: %+v", got)
	}
	if got := b.take("b", now); !got.ok {
		t.Error("another's bucket is empty too")
	}
	if got := b.take("a", now.Add(10*time.Second)); !got.ok {
		t.Errorf("after a sixth of a minute: %+v", got)
	}
	if got := b.take("a", now.Add(10*time.Second)); got.ok {
		t.Error("and one more")
	}
	if newBuckets[string]("off", -1, 5) != nil {
		t.Error("negative is not off")
	}
	if b := newBuckets[string]("default", 0, 5); b.perMinute != 5 || b.policy != `"default";q=5;w=60` {
		t.Errorf("%+v", b)
	}
}

// What is remembered is bounded.
func TestRecentIsBounded(t *testing.T) {
	t.Parallel()
	r := newRecent[int, int](3)
	for i := range 5 {
		r.put(i, i)
	}
	r.get(2) // now 3 is the longest unused
	r.put(2, 22)
	r.put(9, 9)
	if _, there := r.get(3); there || len(r.held) != 3 || r.used.Len() != 3 {
		t.Errorf("%d held", len(r.held))
	}
	if v, there := r.get(2); !there || v != 22 {
		t.Errorf("2 is %d, %v", v, there)
	}
	r.clear()
	if _, there := r.get(2); there || r.used.Len() != 0 {
		t.Error("not cleared")
	}
}

func TestAddresses(t *testing.T) {
	t.Parallel()
	for remote, want := range map[string]string{
		"192.0.2.7:1234": "192.0.2.7/32", "[::ffff:192.0.2.7]:1": "192.0.2.7/32",
		"[2001:db8:1:2:3:4:5:6]:80": "2001:db8:1:2::/64", "[fe80::1%eth0]:80": "fe80::/64",
		"": "invalid Prefix", "@": "invalid Prefix",
	} {
		r := &http.Request{RemoteAddr: remote, Header: http.Header{"X-Forwarded-For": {"192.0.2.99"}, "Forwarded": {"for=192.0.2.99"}}}
		if got := household(Proxies{}.asks(r)).String(); got != want {
			t.Errorf("%q is %s, want %s", remote, got, want)
		}
	}
}

// limitedServer has a clock set by hand and few requests a minute.
func limitedServer(t *testing.T, l Limits) (*Server, *atomic.Int64) {
	t.Helper()
	s := emptyServer(t, io.Discard)
	var us atomic.Int64
	us.Store(time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC).UnixMicro())
	s.now = func() time.Time { return time.UnixMicro(us.Load()) }
	s.limits = newLimits(l)
	return s, &us
}

// TestLimitsOverHTTP: the headers of the draft, a problem with Retry-After, and
// as many more as have come in when that is over.
func TestLimitsOverHTTP(t *testing.T) {
	s, us := limitedServer(t, Limits{AddressPerMinute: 3})
	ask := func(from string) *httptest.ResponseRecorder {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/v1/sign-in/renew", strings.NewReader(`{"renewal_token":"not-a-renewal-token-at-all"}`))
		r.Header.Set("Content-Type", "application/json")
		r.RemoteAddr = from
		recorder := httptest.NewRecorder()
		s.engine.ServeHTTP(recorder, r)
		return recorder
	}
	for i, left := range []string{`"address";r=2;t=20`, `"address";r=1;t=40`, `"address";r=0;t=60`} {
		got := ask("192.0.2.1:5")
		if got.Code != http.StatusUnauthorized || got.Header().Get("RateLimit") != left || got.Header().Get("RateLimit-Policy") != `"address";q=3;w=60` {
			t.Errorf("request %d: %d, %v", i, got.Code, got.Header())
		}
	}
	got := ask("192.0.2.1:6") // another port is no other address
	if got.Code != http.StatusTooManyRequests || got.Header().Get("Retry-After") != "20" || !strings.Contains(got.Body.String(), `"too_many_requests"`) {
		t.Errorf("%d, Retry-After %q: %s", got.Code, got.Header().Get("Retry-After"), got.Body)
	}
	if got := ask("192.0.2.2:5"); got.Code != http.StatusUnauthorized {
		t.Errorf("another address gets %d", got.Code)
	}
	us.Add((20 * time.Second).Microseconds())
	if got := ask("192.0.2.1:5"); got.Code != http.StatusUnauthorized {
		t.Errorf("after Retry-After: %d", got.Code)
	}
}

// TestLimitsOfPeople: one person's and the workshop's, whichever is empty
// first.
func TestLimitsOfPeople(t *testing.T) {
	s, _ := limitedServer(t, Limits{PersonPerMinute: 3, WorkshopPerMinute: 4})
	workshop, owner, err := s.store.CreateWorkshop(t.Context(),
		store.NewWorkshop{Code: "new", Name: "New", Currency: "GBP", TimeZone: "Europe/London"},
		store.NewPerson{Name: "First", Email: "first@new.example", Role: auth.Owner, PasswordHash: "none"})
	if err != nil {
		t.Fatal(err)
	}
	first := auth.Principal{Workshop: workshop.ID, Person: owner.ID, Role: auth.Owner}
	var second auth.Principal
	if err := s.store.As(first).Write(t.Context(), func(tx store.WriteTx) error {
		p, err := tx.AddPerson(store.NewPerson{Name: "Second", Email: "second@new.example", Role: auth.Owner, PasswordHash: "none"})
		second = auth.Principal{Workshop: workshop.ID, Person: p.ID, Role: auth.Owner}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	tokens := []string{signedInToken(t, s, first, "none"), signedInToken(t, s, second, "none")}
	ask := func(who int) (int, string) {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/v1/people", nil)
		r.Header.Set("Authorization", "Bearer "+tokens[who])
		recorder := httptest.NewRecorder()
		s.engine.ServeHTTP(recorder, r)
		return recorder.Code, recorder.Header().Get("RateLimit")
	}
	for i, step := range []struct {
		who, want int
		left      string
	}{
		{0, 200, `"person";r=2;t=20, "workshop";r=3;t=15`},
		{0, 200, `"person";r=1;t=40, "workshop";r=2;t=30`},
		{0, 200, `"person";r=0;t=60, "workshop";r=1;t=45`},
		{0, 429, `"person";r=0;t=60, "workshop";r=0;t=60`},
		{1, 429, `"person";r=2;t=20, "workshop";r=0;t=60`},
	} {
		if code, left := ask(step.who); code != step.want || left != step.left {
			t.Errorf("step %d: %d %s, want %d %s", i, code, left, step.want, step.left)
		}
	}
}

// TestStandings: what was good is believed for a moment and no longer, for
// that principal only, and not at all once something has been forgotten.
func TestStandings(t *testing.T) {
	t.Parallel()
	k := newStandings()
	p := auth.Principal{Workshop: uuid.UUID{1}, Person: uuid.UUID{2}, Role: auth.Sales, SignIn: uuid.UUID{3}}
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	good := func(p auth.Principal, at time.Time) bool { _, ok := k.look(p, at); return ok }
	round, ok := k.look(p, now)
	if ok {
		t.Error("good before anybody looked")
	}
	k.remember(p, now, round)
	if !good(p, now.Add(standingHolds-1)) || good(p, now.Add(standingHolds)) {
		t.Errorf("does not hold for %v", standingHolds)
	}
	other := p
	other.Role = auth.Owner
	if good(other, now) {
		t.Error("good for another role")
	}
	k.forget()
	if good(p, now) {
		t.Error("good after forgetting")
	}
	k.remember(p, now, round) // an answer that was on its way
	if good(p, now) {
		t.Error("an answer from before the forgetting is believed")
	}
}

// BenchmarkGate is what looking whether the sign-in holds and counting the
// request add to each request of somebody signed in.
func BenchmarkGate(b *testing.B) {
	s := emptyServer(b, io.Discard)
	p := auth.Principal{Workshop: uuid.UUID{1}, Person: uuid.UUID{2}, Role: auth.Sales, SignIn: uuid.UUID{3}}
	c, _ := gin.CreateTestContext(httptest.NewRecorder())
	c.Request = httptest.NewRequestWithContext(b.Context(), http.MethodGet, "/", nil)
	s.limits = newLimits(Limits{PersonPerMinute: 1 << 40, WorkshopPerMinute: 1 << 40})
	b.ReportAllocs()
	for b.Loop() {
		s.standings.remember(p, s.now(), s.standings.round) // the look that is missing here is one in two seconds
		if err := s.stands(b.Context(), p); err != nil {
			b.Fatal(err)
		}
		if err := s.limitPrincipal(c, p); err != nil {
			b.Fatal(err)
		}
	}
}
