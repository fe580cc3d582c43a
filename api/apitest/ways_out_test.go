package apitest

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestConflictsAreTold finds all that is wrong, not the first thing, with
// places in the request.
func TestConflictsAreTold(t *testing.T) {
	w := newWorld(t)
	asked := openapi.ConflictsRequest{Van: shortVan, Choices: clashing()}
	found := post[openapi.Conflicts](t, w, auth.Workshop, "/v1/conflicts", asked)
	var got []string
	for _, k := range found.Conflicts {
		got = append(got, strings.Join(k.Choices, " ")+": "+k.Why.Sentences[len(k.Why.Sentences)-1])
	}
	if want := []string{
		"/choices/features/9: So the rear ladder cannot be had.",
		"/choices/features/2 /choices/features/3: So the wardrobe and the sliding window, offside rear quarter cannot be had together.",
		"/choices/features/4 /choices/finishes/0: So the slide bed and fabric hide cannot be had together.",
		"/choices/features/5 /choices/features/6: So no mains hook-up and 2 of the mains socket cannot be had together.",
		"/choices/features/7 /choices/features/8: So the gas hob and sink in one and the round steel sink cannot be had together.",
	}; !slices.Equal(got, want) || found.More {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	asked.Choices.Features, asked.Choices.Finishes = asked.Choices.Features[:3], nil
	if found = post[openapi.Conflicts](t, w, auth.Sales, "/v1/conflicts", asked); len(found.Conflicts) > 0 || found.More {
		t.Errorf("choices that fit together: %+v", found)
	}
}

// TestWaysOutLeadOut sends each way as it stands to /v1/resolve and into a
// quote: nothing is put aside, what was wished for is chosen, and the price
// changes by what was said.
func TestWaysOutLeadOut(t *testing.T) {
	w := newWorld(t)
	features := func(codes ...string) (c openapi.Choices) {
		for _, code := range codes {
			c.Features = append(c.Features, openapi.Choice{Want: code})
		}
		return c
	}
	net := openapi.Terms{Basis: openapi.BasisNet, PriceList: "trade", DiscountPercent: "1"}
	for _, test := range []struct {
		name    string
		choices openapi.Choices
		wish    openapi.OneChoice
		terms   openapi.Terms
		settle  openapi.Settle
		want    []string // undone and what is done; "" for anything
	}{
		{"another kind of work", features("windows_only"), openapi.OneChoice{Want: "hob_two"}, openapi.Terms{}, openapi.SettleByDefaults,
			[]string{"1: Take the whole conversion in place of the windows only. Add the two-burner gas hob."}},
		{"at the trade's prices", features("windows_only"), openapi.OneChoice{Want: "hob_two"}, net, openapi.SettleByDefaults, []string{""}},
		{"a count", openapi.Choices{Features: []openapi.Choice{{Want: "whole_conversion"}, {Refuse: "mains_hookup"}}},
			openapi.OneChoice{Want: "sockets_mains", Count: 3}, openapi.Terms{}, openapi.SettleNothing,
			[]string{"1: Allow the mains hook-up after all. Add 3 of the mains socket."}},
		{"to be without", features("whole_conversion", "hob_two", "co_alarm"), openapi.OneChoice{Refuse: "co_alarm"}, openapi.Terms{}, "", nil},
		{"a finish", openapi.Choices{Features: features("whole_conversion", "bed_slide").Features, Finishes: []openapi.FinishChoice{{Finish: "fabric", Choice: "harbour"}}},
			openapi.OneChoice{Finish: "fabric", Choice: "hide"}, openapi.Terms{}, openapi.SettleByDefaults, nil},
		{"out of a contradiction", clashing(), openapi.OneChoice{}, openapi.Terms{}, openapi.SettleByDefaults, nil},
		{"a wish and a contradiction", clashing(), openapi.OneChoice{Want: "sink_round"}, openapi.Terms{}, openapi.SettleByDefaults, nil},
		{"the package gives way", openapi.Choices{Package: "touring", Features: []openapi.Choice{}}, openapi.OneChoice{Want: "hob_sink"}, openapi.Terms{},
			openapi.SettleByDefaults, []string{"0: Add the gas hob and sink in one. Leave out the square sink with glass lid."}},
		{"it can be had", features("whole_conversion"), openapi.OneChoice{Want: "hob_two"}, openapi.Terms{}, "", []string{"0: Add the two-burner gas hob."}},
		{"nothing to do", features("whole_conversion", "hob_two"), openapi.OneChoice{Want: "hob_two"}, openapi.Terms{}, "", []string{"0: Nothing has to be changed."}},
	} {
		t.Run(test.name, func(t *testing.T) {
			asked := openapi.WaysOutRequest{Van: shortVan, Choices: test.choices, Wish: test.wish, Terms: test.terms, Settle: test.settle}
			out := post[openapi.WaysOut](t, w, auth.Owner, "/v1/ways-out", asked)
			now := w.resolveWay(t, asked, test.choices)
			var got []string
			for i, way := range out.Ways {
				got = append(got, fmt.Sprintf("%d: %s", way.Undone, way.Says))
				if test.want != nil && i < len(test.want) && test.want[i] == "" {
					got[i] = ""
				}
				w.holdWay(t, asked, now, &way)
			}
			if test.want != nil && !slices.Equal(got, test.want) || len(got) == 0 || out.Blocked != "" {
				t.Errorf("blocked %q, got\n%s", out.Blocked, strings.Join(got, "\n"))
			}
			if !slices.IsSortedFunc(out.Ways, func(a, b openapi.WayOut) int {
				return cmp.Or(cmp.Compare(a.Undone, b.Undone), change(t, &a).Abs().Cmp(change(t, &b).Abs()))
			}) {
				t.Errorf("not in order: %+v", out.Ways)
			}
			// The ways are the same for those who are not shown prices.
			unpriced := post[openapi.WaysOut](t, w, auth.Workshop, "/v1/ways-out", asked)
			for i, way := range unpriced.Ways {
				if way.Says != out.Ways[i].Says || way.PriceChange != (openapi.Money{}) {
					t.Errorf("to the workshop: %+v", way)
				}
			}
		})
	}
}

// change is a way's change of price.
func change(t *testing.T, way *openapi.WayOut) decimal.Decimal {
	t.Helper()
	d, err := decimal.NewFromString(way.PriceChange.Amount)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// resolveWay is what choices come to, all else as in a request for ways out.
func (w *world) resolveWay(t *testing.T, asked openapi.WaysOutRequest, choices openapi.Choices) openapi.Resolution {
	t.Helper()
	return post[openapi.Resolution](t, w, auth.Owner, "/v1/resolve",
		openapi.ResolveRequest{Van: asked.Van, Choices: choices, Terms: asked.Terms, Settle: asked.Settle})
}

func (w *world) holdWay(t *testing.T, asked openapi.WaysOutRequest, now openapi.Resolution, way *openapi.WayOut) {
	t.Helper()
	then := w.resolveWay(t, asked, way.Choices)
	if !then.Allowed || len(then.PutAside) > 0 {
		t.Errorf("%s: something is put aside: %+v", way.Says, then.PutAside)
	}
	gross := func(r *openapi.Resolution) decimal.Decimal { return decimal.RequireFromString(r.Totals.Gross.Amount) }
	if got, want := change(t, way), gross(&then).Sub(gross(&now)); !got.Equal(want) || way.PriceChange.Currency != "GBP" {
		t.Errorf("%s: the price changes by %s and was to change by %s", way.Says, want, got)
	}
	for _, k := range way.Changes {
		if (k.At == "") != (k.Kind == openapi.WayChangeKindAdd) || (k.From == openapi.OneChoice{}) != (k.Kind == openapi.WayChangeKindAdd) ||
			(k.To == openapi.OneChoice{}) != (k.Kind == openapi.WayChangeKindDrop) {
			t.Errorf("%s: %+v", way.Says, k)
		}
	}
	at := func(feature string) openapi.Option {
		return then.Options[slices.IndexFunc(then.Options, func(o openapi.Option) bool { return o.Feature == feature })]
	}
	switch wish := asked.Wish; {
	case wish.Want != "":
		if o := at(wish.Want); o.Standing != openapi.StandingChosen || o.Least < wish.Count {
			t.Errorf("%s: %s is %s", way.Says, wish.Want, o.Standing)
		}
	case wish.Refuse != "":
		if o := at(wish.Refuse); o.Standing != openapi.StandingRuledOut {
			t.Errorf("%s: %s is %s", way.Says, wish.Refuse, o.Standing)
		}
	case wish.Finish != "":
		if !slices.Contains(way.Choices.Finishes, openapi.FinishChoice{Finish: wish.Finish, Choice: wish.Choice}) {
			t.Errorf("%s: %v", way.Says, way.Choices.Finishes)
		}
	}
	content := openapi.QuoteContent{Vans: []openapi.QuoteVanContent{{Van: asked.Van, Choices: way.Choices, Settle: asked.Settle}}}
	if g := w.exchange(t, call{method: http.MethodPost, path: "/v1/quotes", of: w.Ours, role: auth.Sales, body: content}); g.status != http.StatusCreated {
		t.Errorf("%s: no quote comes of it: %d %s", way.Says, g.status, g.body)
	}
}

// TestBlockedWaysOut: where nothing helps, it says what stands in the way.
func TestBlockedWaysOut(t *testing.T) {
	w := newWorld(t)
	asked := openapi.WaysOutRequest{Van: shortVan, Choices: clashing(), Wish: openapi.OneChoice{Want: "rear_ladder"}}
	out := post[openapi.WaysOut](t, w, auth.Sales, "/v1/ways-out", asked)
	if out.Blocked != openapi.WaysOutBlockedVan || len(out.Ways) > 0 || !out.Exact || len(out.Why.Causes) == 0 ||
		out.Why.Sentences[len(out.Why.Sentences)-1] != "So the rear ladder cannot be had, whatever else is changed." {
		t.Errorf("%+v", out)
	}
}
