package apitest

import (
	"net/http"
	"testing"

	"wainscot/api/auth"
)

// FuzzResolveBody: whatever the body is, the answer is a resolution or a
// problem that keeps the contract, and never a fault of ours.
func FuzzResolveBody(f *testing.F) {
	for _, in := range badInputs() {
		if (in.method == "" || in.method == http.MethodPost) && len(in.body) < 10_000 {
			f.Add([]byte(in.body))
		}
	}
	f.Add([]byte(choosing(`{"want":"whole_conversion"},{"want":"hob_two"},{"refuse":"oven"}`)))
	f.Add([]byte(withVan(`"fitted":[{"feature":"bulkhead","action":"remove"}],"weighed_front_kg":"1105","weighed_rear_kg":"870"`)))
	f.Add([]byte(underTerms(`{"basis":"net","discount_percent":"2.5","treatments":[{"treatment":"zero","evidence":"on file"}]}`)))
	w := newWorld(f)
	f.Fuzz(func(t *testing.T, body []byte) {
		w.Clock.Set(Noon) // the token must not run out
		g := w.exchange(t, call{method: http.MethodPost, path: "/v1/resolve", of: w.Ours, role: auth.Owner, body: body, broken: true})
		if g.status != http.StatusOK && (g.status < 400 || g.status >= 500) {
			t.Errorf("answers %d: %s", g.status, g.body)
		}
	})
}
