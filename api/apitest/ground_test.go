package apitest

import (
	"net/http"
	"testing"
	"time"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestWhatIsPublishedIsSeen: by the server that published at once, by another
// on the same database within two seconds, however often it was asked before.
func TestWhatIsPublishedIsSeen(t *testing.T) {
	w := newWorld(t)
	other := w.another(t)
	release := func(of *world) int32 {
		t.Helper()
		resolve := call{of: w.Ours, role: auth.Sales, method: http.MethodPost, path: "/v1/resolve"}
		resolve.body = of.example(t, http.MethodPost, "/v1/resolve")
		var r openapi.Resolution
		of.exchange(t, resolve).into(t, http.StatusOK, &r)
		return r.Release.Number
	}
	before := release(w)
	if n := release(other); n != before {
		t.Fatalf("two servers on one database stand on releases %d and %d", before, n)
	}
	offer, err := demoOffer()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := api.PublishRelease(t.Context(), w.Store.As(w.Ours.Principal[auth.Owner]), offer.release); err != nil {
		t.Fatal(err)
	}
	if n := release(w); n != before+1 {
		t.Errorf("after publishing release %d the server that did stands on %d", before+1, n)
	}
	w.Clock.Advance(2 * time.Second)
	if n := release(other); n != before+1 {
		t.Errorf("two seconds after release %d was published the other server stands on %d", before+1, n)
	}
}

// TestIssuedAsOfTheMoment: what has been published since a draft was worked out
// is not passed over when it is frozen, though this server has not seen it yet.
func TestIssuedAsOfTheMoment(t *testing.T) {
	edition := func(code, day string) func(*testing.T, seller) {
		return func(t *testing.T, s seller) {
			t.Helper()
			body := documentExample(t, "/v1/editions")
			body["edition"], body["in_force_from"] = code, day
			s.do(auth.Owner, http.MethodPost, "/v1/editions", "", body).into(t, http.StatusCreated, new(openapi.EditionEntry))
		}
	}
	for name, c := range map[string]struct {
		day     string // of the prices; "" for today, which is 25 November
		publish func(*testing.T, seller)
		release int32
		edition string // that and the release are what it is issued with in the end
		first   int    // answer to the first request
	}{
		"nothing": {"", func(*testing.T, seller) {}, 1, "2026-10", http.StatusOK},
		"a release": {"", func(t *testing.T, s seller) {
			t.Helper()
			catalogue := documentExample(t, "/v1/releases")
			catalogue["title"] = "Late November"
			s.do(auth.Owner, http.MethodPost, "/v1/releases", "", catalogue).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
		}, 2, "2026-10", http.StatusConflict},
		"an edition in force":           {"", edition("2026-11", "2026-11-20"), 1, "2026-11", http.StatusConflict},
		"one to come":                   {"", edition("2026-12", "2026-12-01"), 1, "2026-10", http.StatusOK},
		"in force on the day asked for": {"2026-12-02", edition("2026-12", "2026-12-01"), 1, "2026-12", http.StatusConflict},
		"another day's than asked for":  {"2026-09-30", edition("2026-11", "2026-11-20"), 1, "2026-07", http.StatusOK},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			s := seller{w, t, w.Ours}
			body := w.example(t, http.MethodPost, "/v1/quotes")
			body["terms"] = object{"day": c.day}
			var q openapi.QuoteKept
			if c.day == "" {
				delete(body, "terms")
			}
			g := s.do(auth.Owner, http.MethodPost, "/v1/quotes", "", body)
			g.into(t, http.StatusCreated, &q)
			path, version := "/v1/quotes/"+q.Id, g.header.Get("Etag")
			before := s.quote(q.Id) // and this server knows its ground
			c.publish(t, seller{w.another(t), t, w.Ours})
			g = s.do(auth.Owner, http.MethodPost, path+"/issue", version, object{})
			if g.status != c.first {
				t.Fatalf("%d %s", g.status, g.body)
			}
			if g.status == http.StatusConflict {
				if p := g.problem(t); p.Code != openapi.ProblemCodeStateConflict {
					t.Errorf("%+v", p)
				}
				if now := s.quote(q.Id); now.State != openapi.QuoteStateDraft || now.Version != before.Version {
					t.Errorf("refused, it is %s at version %d", now.State, now.Version)
				}
				w.Clock.Advance(2 * time.Second)
				g = s.do(auth.Owner, http.MethodPost, path+"/issue", version, object{})
			}
			g.into(t, http.StatusOK, &q)
			if q.Release.Number != c.release || q.Edition != c.edition || q.State != openapi.QuoteStateIssued {
				t.Errorf("issued with release %d and edition %s", q.Release.Number, q.Edition)
			}
			w.verify(t, w.Ours)
		})
	}
}

// TestGroundIsOfItsWorkshopAndDay: what one workshop's day stands on is not
// what another's does a moment later, nor what the next day's does.
func TestGroundIsOfItsWorkshopAndDay(t *testing.T) {
	w := newWorld(t)
	body := w.example(t, http.MethodPost, "/v1/resolve")
	seen := map[string]string{}
	for range 2 {
		for _, shop := range []*Workshop{w.Ours, w.Theirs} {
			var r openapi.Resolution
			w.exchange(t, call{of: shop, role: auth.Sales, method: http.MethodPost, path: "/v1/resolve", body: body}).into(t, http.StatusOK, &r)
			if before := seen[r.Release.Hash]; before != "" && before != shop.Code {
				t.Errorf("%s is answered from the release of %s", shop.Code, before)
			}
			seen[r.Release.Hash] = shop.Code
		}
	}
	if len(seen) != 2 {
		t.Errorf("two workshops stand on %d releases", len(seen))
	}

	s := seller{w, t, w.Ours}
	s.dearer() // from 1 December
	midnight := time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		at            time.Duration
		edition, next string
	}{
		{-time.Second, "2026-10", "2026-12-30"},
		{0, "2026-12", "2026-12-31"},
	} {
		w.Clock.Set(midnight.Add(c.at))
		w.renewTokens(t)
		q, version := s.create(nil)
		issued, _ := s.issue(q.Id, version)
		if q.Edition != c.edition || issued.Edition != c.edition || issued.ValidUntil != c.next {
			t.Errorf("%s from midnight: edition %s, issued on %s with %s until %s", c.at, q.Edition, issued.IssuedOn, issued.Edition, issued.ValidUntil)
		}
	}
}
