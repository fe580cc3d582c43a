package apitest

import (
	"net/http"
	"slices"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

func TestQuoteFromChoicesToList(t *testing.T) {
	w := newWorld(t)
	sales := call{of: w.Ours, role: auth.Sales}

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
	var q openapi.QuoteKept
	made.into(t, http.StatusCreated, &q)
	if q.Totals.Gross != r.Totals.Gross || q.Totals.Hours != r.Totals.Hours || !q.ReadyToIssue || q.State != openapi.QuoteStateDraft {
		t.Errorf("quote %+v and resolve %+v differ", q.Totals, r.Totals)
	}

	get := sales
	get.method, get.path = http.MethodGet, made.header.Get("Location")
	var again openapi.Quote
	w.exchange(t, get).into(t, http.StatusOK, &again)
	if again.Id != q.Id || again.Version != q.Version || again.Totals != q.Totals || len(again.Vans[0].Sheet.Lines) != len(r.Sheet.Lines) {
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

// TestListGoesOn: pages follow each other without a gap or a repeat while new
// quotes come in, and a cursor is good for its own list only.
func TestListGoesOn(t *testing.T) {
	w := newWorld(t)
	var made []string
	for range 5 {
		made = append(made, w.createQuote(t, w.Ours).Id)
	}
	list := func(query string) openapi.Quotes {
		t.Helper()
		var page openapi.Quotes
		w.exchange(t, call{method: http.MethodGet, path: "/v1/quotes" + query, of: w.Ours, role: auth.Books}).into(t, http.StatusOK, &page)
		return page
	}
	var seen []string
	query := "?limit=2"
	for range 5 {
		page := list(query)
		for _, q := range page.Quotes {
			seen = append(seen, q.Id)
		}
		if page.Next == "" {
			break
		}
		query = "?limit=2&cursor=" + page.Next
		w.createQuote(t, w.Ours) // comes in before the first page
	}
	slices.Reverse(seen)
	if !slices.Equal(seen, made) {
		t.Errorf("seen %v, made %v", seen, made)
	}
	first := list("?limit=2")
	for name, c := range map[string]call{
		"another list":     {path: "/v1/quotes?registration=AB12CDE&cursor=" + first.Next, of: w.Ours},
		"another workshop": {path: "/v1/quotes?cursor=" + first.Next, of: w.Theirs},
	} {
		c.method, c.role = http.MethodGet, auth.Owner
		p := w.exchange(t, c).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
		if len(p.Errors) != 1 || p.Errors[0].Field != "query/cursor" {
			t.Errorf("%s: %+v", name, p)
		}
	}
}

// TestIncludeLeavesOut: standing and totals are always there, the rest is as
// asked for.
func TestIncludeLeavesOut(t *testing.T) {
	w := newWorld(t)
	ask := func(include ...string) openapi.Resolution {
		t.Helper()
		body := w.example(t, http.MethodPost, "/v1/resolve")
		if include != nil {
			body["include"] = include
		}
		var r openapi.Resolution
		w.exchange(t, call{method: http.MethodPost, path: "/v1/resolve", of: w.Ours, role: auth.Owner, body: body}).into(t, http.StatusOK, &r)
		return r
	}
	whole, bare := ask(), ask([]string{}...)
	if whole.Totals != bare.Totals || len(whole.Options) != len(bare.Options) {
		t.Error("what is included changes what it comes to")
	}
	if bare.Sheet.Lines != nil || bare.Price.Lines != nil || bare.Costing.Lines != nil || bare.Specification.Features != nil {
		t.Error("left out and there")
	}
	reasons := func(r openapi.Resolution) (n int) {
		for _, o := range r.Options {
			if o.Why.Says != "" {
				n++
			}
			if o.Standing != openapi.StandingOpen && len(r.Sheet.Lines) > 0 && o.Why.Says == "" {
				t.Errorf("%s is %s for no reason", o.Feature, o.Standing)
			}
		}
		return n
	}
	if reasons(whole) == 0 || reasons(bare) != 0 {
		t.Errorf("%d reasons and %d", reasons(whole), reasons(bare))
	}
	if sheet := ask("sheet"); len(sheet.Sheet.Lines) == 0 || sheet.Price.Lines != nil {
		t.Error("not the sheet alone")
	}
}

// TestSwapSaysWhatWasGivenUp: a line that swaps one item of a package for
// another of its group names both.
func TestSwapSaysWhatWasGivenUp(t *testing.T) {
	w := newWorld(t)
	var r openapi.Resolution
	w.exchange(t, call{method: http.MethodPost, path: "/v1/resolve", of: w.Ours, role: auth.Sales, body: object{
		"van":     object{"base_van": "short_panel_van"},
		"choices": object{"package": "overnighter", "features": []any{object{"want": "whole_conversion"}, object{"want": "insulation_foam"}}},
		"settle":  "by defaults", "include": []any{"price"},
	}}).into(t, http.StatusOK, &r)
	var swaps []string
	for _, l := range r.Price.Lines {
		if l.Kind == openapi.PriceLineKindSwap {
			swaps = append(swaps, l.InsteadOf+" to "+l.Code)
		} else if l.InsteadOf != "" {
			t.Errorf("%s is instead of %s and no swap", l.Code, l.InsteadOf)
		}
	}
	if !slices.Equal(swaps, []string{"insulation_wool to insulation_foam"}) {
		t.Errorf("swaps are %v", swaps)
	}
}
