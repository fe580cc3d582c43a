package apitest

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"wainscot/api/auth"
)

// FuzzEveryBody: whatever is sent to whichever operation, the answer is of the
// contract or a problem, and never a fault of ours.
func FuzzEveryBody(f *testing.F) {
	w := newWorld(f)
	var list []operation
	for _, o := range w.operations(f) {
		if o.body != nil && !w.takesDocument(call{method: o.method, path: o.template}) {
			list = append(list, o)
		}
	}
	for i, o := range list {
		text, err := json.Marshal(o.body)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(uint16(i), text)
		if o.id == "resolve" {
			for _, body := range bodiesToResolve() {
				f.Add(uint16(i), body)
			}
		}
	}
	steps := strings.NewReplacer("{id}", "018f0000-0000-7000-8000-000000000000", "{number}", "1", "{revision}", "1", "{place}", "1", "{code}", "none", "{part}", "hob_2", "{link}", "none")
	f.Fuzz(func(t *testing.T, which uint16, body []byte) {
		w.Clock.Set(Noon) // the token must not run out
		o := list[int(which)%len(list)]
		c := call{method: o.method, path: steps.Replace(o.template) + o.query, of: w.Ours, role: auth.Owner, body: body, broken: true}
		if o.conditional {
			c.header = http.Header{"If-Match": {`"1"`}}
		}
		if g := w.exchange(t, c); g.status >= http.StatusInternalServerError {
			t.Errorf("answers %d: %s", g.status, g.body)
		}
	})
}

// bodiesToResolve are bad ones that were thought of, and three good ones.
func bodiesToResolve() (list [][]byte) {
	for _, in := range badInputs() {
		if (in.method == "" || in.method == http.MethodPost) && len(in.body) < 10_000 {
			list = append(list, []byte(in.body))
		}
	}
	return append(list, []byte(choosing(`{"want":"whole_conversion"},{"want":"hob_two"},{"refuse":"oven"}`)),
		[]byte(withVan(`"fitted":[{"feature":"bulkhead","action":"remove"}],"weighed_front_kg":"1105","weighed_rear_kg":"870"`)),
		[]byte(underTerms(`{"basis":"net","discount_percent":"2.5","treatments":[{"treatment":"zero","evidence":"on file"}]}`)))
}
