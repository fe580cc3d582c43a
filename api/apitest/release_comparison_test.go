package apitest

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// changed is the demo's catalogue with one of its features changed.
func changed(t testing.TB, code string, change func(object)) object {
	t.Helper()
	catalogue := documentExample(t, "/v1/releases")
	for _, one := range catalogue["features"].([]any) {
		if f := one.(object); f["code"] == code {
			change(f)
			return catalogue
		}
	}
	t.Fatalf("the demo has no %s", code)
	return nil
}

// slower makes a feature take an hour and a half longer.
func slower(f object) {
	lines := f["lines"].([]any)
	f["lines"] = append(lines, object{"stage": lines[0].(object)["stage"], "trade": "fitter", "quantity": "1.5"})
}

// ruled is the demo's catalogue with a rule more.
func ruled(t testing.TB, rule object) object {
	t.Helper()
	catalogue := documentExample(t, "/v1/releases")
	catalogue["rules"] = append(catalogue["rules"].([]any), rule)
	return catalogue
}

func (s seller) compared(path string, role auth.Role) openapi.ReleaseComparison {
	s.t.Helper()
	var c openapi.ReleaseComparison
	s.do(role, http.MethodGet, path, "", nil).into(s.t, http.StatusOK, &c)
	return c
}

func (s seller) comparedDraft(body object) openapi.ReleaseComparison {
	s.t.Helper()
	var c openapi.ReleaseComparison
	s.post(s.t, "/v1/releases/comparison", body).into(s.t, http.StatusOK, &c)
	return c
}

// effectOn is what is told of one quote.
func effectOn(t testing.TB, c openapi.ReleaseComparison, id string) openapi.QuoteEffect {
	t.Helper()
	k := slices.IndexFunc(c.Quotes, func(q openapi.QuoteEffect) bool { return q.Id == id })
	if k < 0 {
		t.Fatalf("quote %s is not among %+v", id, c.Quotes)
	}
	return c.Quotes[k]
}

// TestReleasesAreCompared: what is different, and for every open quote what it
// would come to, is what it then comes to. Nothing is kept.
func TestReleasesAreCompared(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	draft, _ := s.create(nil)
	issued, version := s.create(nil)
	_, version = s.issue(issued.Id, version)
	without, _ := s.create(func(body map[string]any) {
		choices := body["vans"].([]any)[0].(object)["choices"].(object)
		choices["features"] = []any{object{"want": "windows_only"}, object{"want": "win_near_fixed"}}
		delete(choices, "finishes")
		delete(body["vans"].([]any)[0].(object), "extras")
	})
	gone, v := s.create(nil) // no open quote any more
	_, v = s.issue(gone.Id, v)
	s.do(auth.Sales, http.MethodPost, "/v1/quotes/"+gone.Id+"/decline", v, object{"because": "no"}).into(t, http.StatusOK, new(openapi.QuoteKept))
	lines := len(w.journal(t))

	catalogue := changed(t, "roof_elevating", slower)
	before := s.comparedDraft(catalogue)
	if before.OpenQuotes != 3 || len(before.Quotes) != 3 || before.To.Number != 0 || before.From.Number != 1 || before.Next != "" {
		t.Errorf("before it is published: %+v", before)
	}
	// The tests' own JSON puts the facts of base vans in the order of their names.
	told, counts := before.Differences, before.Counts
	told = slices.DeleteFunc(slices.Clone(told), func(d openapi.CatalogueDifference) bool { return d.Section == "base van" })
	if len(told) != 1 || told[0].Code != "roof_elevating" || told[0].How != "changed" || !strings.Contains(told[0].Says, "it now takes 1.5 h of Fitter (fitter) at ") ||
		!slices.Contains(counts, openapi.CountedDifferences{Section: "feature", Changed: 1}) || len(counts) != 2 {
		t.Errorf("differences: %+v, %+v", counts, told)
	}
	for _, id := range []string{draft.Id, issued.Id} {
		e := effectOn(t, before, id)
		if e.Same || !e.Possible || !e.PossibleBefore || !e.OtherSheet || len(e.Gained)+len(e.Lost)+len(e.PutAside)+len(e.InTheWay) != 0 || e.Difference != gbp("0.00") ||
			!money(t, openapi.Money{Amount: e.After.Hours}).Sub(money(t, openapi.Money{Amount: e.Before.Hours})).Equal(money(t, openapi.Money{Amount: "1.5"})) {
			t.Errorf("quote %d: %+v", e.Number, e)
		}
		if !slices.ContainsFunc(e.Sentences, func(s openapi.ComparisonSentence) bool {
			return s.About == "hours" && strings.Contains(s.Says, "1.5 h more")
		}) {
			t.Errorf("quote %d is told %+v", e.Number, e.Sentences)
		}
	}
	if e := effectOn(t, before, without.Id); !e.Same || len(e.Sentences) != 0 || e.After != e.Before {
		t.Errorf("the one without a roof: %+v", e)
	}
	if total := before.Totals; total.Quotes != 3 || total.Changed != 2 || total.Impossible != 0 || total.Difference != gbp("0.00") {
		t.Errorf("totals: %+v", total)
	}
	if n := len(w.journal(t)); n != lines || s.quote(draft.Id).Version != draft.Version {
		t.Errorf("comparing wrote %d lines", n-lines)
	}

	// It comes so: of the draft at once, of what is issued with its revision.
	s.post(t, "/v1/releases", catalogue).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	after := s.compared("/v1/releases/2/comparison?with=1", auth.Sales)
	if after.To.Number != 2 || !slices.Equal(after.Differences, before.Differences) || after.Totals != before.Totals {
		t.Errorf("published it is %+v", after)
	}
	for i := range after.Quotes {
		if a, b := after.Quotes[i], before.Quotes[i]; a.Before != b.Before || a.After != b.After || a.Id != b.Id {
			t.Errorf("published: %+v\nbefore: %+v", a, b)
		}
	}
	if now := s.quote(draft.Id); now.Totals.Gross != effectOn(t, after, draft.Id).After.Gross || now.Totals.Hours != effectOn(t, after, draft.Id).After.Hours {
		t.Errorf("the draft is %+v and was told %+v", now.Totals, effectOn(t, after, draft.Id).After)
	}
	if now := s.quote(issued.Id); now.Totals.Hours != effectOn(t, after, issued.Id).Before.Hours {
		t.Errorf("what was issued has changed: %+v", now.Totals)
	}
	revised, _ := s.revise(issued.Id, version)
	if e := effectOn(t, after, issued.Id); revised.Totals.Hours != e.After.Hours || revised.Totals.Gross != e.After.Gross {
		t.Errorf("revised it is %+v and was told %+v", revised.Totals, e.After)
	}
	// The other way round, and with itself.
	back := s.compared("/v1/releases/1/comparison?with=2", auth.Books)
	if e := effectOn(t, back, draft.Id); e.Before != effectOn(t, after, draft.Id).After || e.After != effectOn(t, after, draft.Id).Before {
		t.Errorf("back: %+v", e)
	}
	if same := s.compared("/v1/releases/2/comparison?with=2", auth.Owner); len(same.Differences)+len(same.Counts) != 0 || same.Totals.Changed != 0 || same.Totals.Quotes != 3 {
		t.Errorf("with itself: %+v", same)
	}
	s.do(auth.Owner, http.MethodGet, "/v1/releases/2/comparison?with=7", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	s.do(auth.Owner, http.MethodGet, "/v1/releases/7/comparison?with=2", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	w.exchange(t, call{method: http.MethodGet, path: "/v1/releases/2/comparison?with=1", of: w.Theirs, role: auth.Owner}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	w.verify(t, w.Ours)
}

// TestReleaseTakesAndGives: features that a release brings or rules out, with
// what it costs; choices that would have to be put aside; what cannot be had.
func TestReleaseTakesAndGives(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	back := s.withStage("sail_loft")
	q, _ := s.create(func(body map[string]any) { delete(body["vans"].([]any)[0].(object), "extras") })
	loft, _ := s.create(func(body map[string]any) {
		body["vans"].([]any)[0].(object)["additions"] = []any{awning("sail_loft")}
	})

	brings := s.comparedDraft(ruled(t, object{"code": "roof_lesson", "if": "roof_elevating", "brings": []any{object{"feature": "awning_rail"}}, "says": "A roof has a rail."}))
	e := effectOn(t, brings, q.Id)
	price := money(t, e.Difference)
	if e.Same || len(e.Gained) != 1 || e.Gained[0].Feature != "awning_rail" || e.Gained[0].Was != 0 || e.Gained[0].Is != 1 || len(e.Lost) != 0 || price.Sign() <= 0 ||
		!money(t, e.After.Gross).Sub(money(t, e.Before.Gross)).Equal(price) {
		t.Errorf("it brings a rail: %+v", e)
	}
	if !slices.ContainsFunc(brings.Differences, func(d openapi.CatalogueDifference) bool {
		return d.Section == "rule" && d.How == "added" && strings.HasSuffix(d.Says, "is new: A roof has a rail.")
	}) {
		t.Errorf("differences: %+v", brings.Differences)
	}
	if brings.Totals.Difference != e.Difference || brings.Totals.Impossible != 1 || brings.Totals.Quotes != 2 {
		t.Errorf("totals: %+v", brings.Totals)
	}

	clashes := s.comparedDraft(ruled(t, object{"code": "no_roof", "if": "roof_elevating", "clashes": "hob_two", "says": "No flame under canvas."}))
	e = effectOn(t, clashes, q.Id)
	if len(e.PutAside) != 1 || e.PutAside[0].Field != "/vans/0/choices/features/2" || !strings.Contains(e.PutAside[0].Reason, "No flame under canvas.") || len(e.Lost) == 0 || e.Same || !e.Possible {
		t.Errorf("it rules the hob out: %+v", e)
	}

	// What stands in a stage that is no more cannot be worked out at all.
	e = effectOn(t, clashes, loft.Id)
	if e.Same || e.Possible || !e.PossibleBefore || len(e.InTheWay) != 1 || e.InTheWay[0].Field != "/vans/0/additions/0/stage" || e.Difference != (openapi.Money{}) {
		t.Errorf("the one in the sail loft: %+v", e)
	}
	back()
	now := s.compared("/v1/releases/3/comparison?with=1", auth.Sales)
	if e := effectOn(t, now, loft.Id); !e.Same || e.Possible || e.PossibleBefore || now.Totals.Impossible != 1 {
		t.Errorf("impossible before and after: %+v", e)
	}
	w.verify(t, w.Ours)
}

// TestComparisonGoesOn: the open quotes come page by page, what is different in
// the catalogue with the first; a cursor is good for its own comparison.
func TestComparisonGoesOn(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	var want []string
	for range 3 {
		q, _ := s.create(nil)
		want = append([]string{q.Id}, want...)
	}
	catalogue := changed(t, "roof_elevating", slower)
	s.post(t, "/v1/releases", catalogue).into(t, http.StatusCreated, new(openapi.ReleaseEntry))
	const path = "/v1/releases/2/comparison?with=1&limit=2"
	first := s.compared(path, auth.Sales)
	if len(first.Quotes) != 2 || first.OpenQuotes != 3 || first.Next == "" || len(first.Differences) == 0 || first.Totals.Quotes != 2 {
		t.Fatalf("the first page: %+v", first)
	}
	second := s.compared(path+"&cursor="+first.Next, auth.Sales)
	if len(second.Quotes) != 1 || second.OpenQuotes != 3 || second.Next != "" || len(second.Differences)+len(second.Counts) != 0 {
		t.Errorf("the second page: %+v", second)
	}
	var got []string
	for _, e := range append(first.Quotes, second.Quotes...) {
		got = append(got, e.Id)
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q and should be %q", got, want)
	}
	s.do(auth.Sales, http.MethodGet, "/v1/releases/1/comparison?with=2&limit=2&cursor="+first.Next, "", nil).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	again := s.compared("/v1/releases/2/comparison?with=1&limit=2&cursor="+first.Next, auth.Books)
	if len(again.Quotes) != 1 {
		t.Errorf("to somebody else of the workshop: %+v", again)
	}
}

// TestComparisonOfFleetsIsCut: a page ends before it has worked out too many
// vans, and goes on with the quote it has not told of.
func TestComparisonOfFleetsIsCut(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	const fleets, vans = 6, 40 // a page is of 200 vans at most
	for range fleets {
		s.create(func(body map[string]any) {
			one := body["vans"].([]any)[0].(object)
			delete(one, "extras")
			delete(one["van"].(object), "registration")
			list := make([]any, vans)
			for i := range list {
				list[i] = one
			}
			body["vans"] = list
		})
	}
	const path = "/v1/releases/1/comparison?with=1&limit=100"
	first := s.compared(path, auth.Sales)
	if len(first.Quotes) != 5 || first.Next == "" || first.OpenQuotes != fleets {
		t.Fatalf("the first page has %d quotes of %d, and goes on at %q", len(first.Quotes), first.OpenQuotes, first.Next)
	}
	second := s.compared(path+"&cursor="+first.Next, auth.Sales)
	if len(second.Quotes) != 1 || second.Next != "" || slices.ContainsFunc(first.Quotes, func(q openapi.QuoteEffect) bool { return q.Id == second.Quotes[0].Id }) {
		t.Errorf("the second has %d quotes and goes on at %q", len(second.Quotes), second.Next)
	}
}

// TestComparisonHoldsPrices: what was offered keeps its price in the effect on
// a draft that revises it, as it does in the draft.
func TestComparisonHoldsPrices(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	q, version := s.create(nil)
	issued, version := s.issue(q.Id, version)
	s.dearer()
	s.on("2026-12-02")
	draft, _ := s.revise(q.Id, version)
	fresh, _ := s.create(nil)
	if draft.Totals.Gross != issued.Totals.Gross || fresh.Totals.Gross == issued.Totals.Gross {
		t.Fatalf("held is %v of %v, and new is %v", draft.Totals.Gross, issued.Totals.Gross, fresh.Totals.Gross)
	}
	c := s.comparedDraft(changed(t, "roof_elevating", slower))
	for _, now := range []openapi.QuoteKept{draft, fresh} {
		if e := effectOn(t, c, now.Id); e.Before.Gross != now.Totals.Gross || e.After.Gross != now.Totals.Gross || e.Before.Hours != now.Totals.Hours || e.Same {
			t.Errorf("quote %d comes to %+v and is told as %+v and %+v", now.Number, now.Totals, e.Before, e.After)
		}
	}
}
