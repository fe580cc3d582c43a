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
	second, err := w.again(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	other := &world{World: second, model: w.model, contract: w.contract}
	t.Cleanup(func() {
		if err := second.Close(); err != nil {
			t.Error(err)
		}
	})
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
