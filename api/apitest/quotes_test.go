package apitest

import (
	"net/http"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

func TestQuoteFromChoicesToList(t *testing.T) {
	w := newWorld(t)
	sales := call{of: w.ours, role: auth.Sales}

	resolve := sales
	resolve.method, resolve.path, resolve.body = http.MethodPost, "/v1/resolve", w.example(t, http.MethodPost, "/v1/resolve")
	var r openapi.Resolution
	w.exchange(t, resolve).into(t, http.StatusOK, &r)
	if !r.Allowed || !r.Settled || len(r.Options) == 0 || len(r.Sheet.Lines) == 0 || len(r.Price.Lines) == 0 {
		t.Errorf("not whole: allowed %v settled %v options %d sheet %d price %d", r.Allowed, r.Settled, len(r.Options), len(r.Sheet.Lines), len(r.Price.Lines))
	}

	create := sales
	create.method, create.path, create.body = http.MethodPost, "/v1/quotes", w.example(t, http.MethodPost, "/v1/quotes")
	made := w.exchange(t, create)
	var q openapi.Quote
	made.into(t, http.StatusCreated, &q)
	if q.Totals != r.Totals {
		t.Errorf("quote %+v and resolve %+v differ", q.Totals, r.Totals)
	}

	get := sales
	get.method, get.path = http.MethodGet, made.header.Get("Location")
	again := w.exchange(t, get)
	if string(again.body) != string(made.body) {
		t.Error("a quote reads otherwise than it was created")
	}

	list := sales
	list.method, list.path = http.MethodGet, "/v1/quotes?registration=wt24dmo"
	var page openapi.Quotes
	w.exchange(t, list).into(t, http.StatusOK, &page)
	if len(page.Quotes) != 1 || page.Quotes[0].Id != q.Id || page.Quotes[0].Gross != q.Totals.Gross || page.Next != "" {
		t.Errorf("list: %+v", page)
	}
}

// example is the contract's own example of a body.
func (w *world) example(t testing.TB, method, path string) map[string]any {
	t.Helper()
	item := w.model.Paths.PathItems.GetOrZero(path)
	if item == nil {
		t.Fatalf("no %s in the contract", path)
	}
	for name, op := range item.GetOperations().FromOldest() {
		if !strings.EqualFold(name, method) || op.RequestBody == nil {
			continue
		}
		media := op.RequestBody.Content.GetOrZero("application/json")
		if media == nil || media.Example == nil {
			t.Fatalf("%s %s has no example in the contract; give it one", method, path)
		}
		var body map[string]any
		if err := media.Example.Decode(&body); err != nil {
			t.Fatal(err)
		}
		return body
	}
	return nil
}
