package apitest

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestChangesAreWhatTheyComeTo sends the choices of every change to
// /v1/resolve: price, hours, mass, features and parts differ from those of the
// choices as they are by just what was said.
func TestChangesAreWhatTheyComeTo(t *testing.T) {
	w := newWorld(t)
	number := func(text string) decimal.Decimal { return decimal.RequireFromString(cmp.Or(text, "0")) }
	for _, settle := range []openapi.Settle{"", openapi.SettleByDefaults} {
		asked := openapi.ChangesRequest{Van: shortVan, Settle: settle, Choices: openapi.Choices{
			Package: "touring", Features: []openapi.Choice{{Want: "whole_conversion"}, {Want: "sockets_usb", Count: 3}, {Want: "win_near_slide"}},
			Finishes: []openapi.FinishChoice{{Finish: "fabric", Choice: "harbour"}},
		}}
		resolve := func(choices openapi.Choices) openapi.Resolution {
			return post[openapi.Resolution](t, w, auth.Owner, "/v1/resolve", openapi.ResolveRequest{Van: shortVan, Choices: choices, Settle: settle})
		}
		now := resolve(asked.Choices)
		said := post[openapi.Changes](t, w, auth.Owner, "/v1/changes", asked)
		if said.Gross != now.Totals.Gross || said.Hours != now.Totals.Hours || said.LeftKg != now.Totals.Mass.LeftKg || said.Settled != now.Settled {
			t.Errorf("said %+v %s %s, resolved %+v", said.Gross, said.Hours, said.LeftKg, now.Totals)
		}
		kinds := map[openapi.ChangeKind]int{}
		for i, c := range said.Changes {
			if kinds[c.Kind]++; kinds[c.Kind] > 1 && i%8 > 0 {
				continue // the whole takes long, with every answer held against the contract
			}
			then := resolve(c.Choices)
			what := fmt.Sprintf("%s %s%s %s", c.Kind, c.Feature, c.Finish, c.Choice)
			gross := number(then.Totals.Gross.Amount).Sub(number(now.Totals.Gross.Amount))
			cost := number(then.Costing.Cost.Amount).Sub(number(now.Costing.Cost.Amount))
			hours := number(then.Totals.Hours).Sub(number(now.Totals.Hours))
			net := func(m openapi.Mass) decimal.Decimal { return number(m.AddedKg).Sub(number(m.RemovedKg)) }
			if !number(c.Gross.Amount).Equal(gross) || !number(c.Cost.Amount).Equal(cost) || !number(c.Hours).Equal(hours) ||
				!number(c.NetKg).Equal(net(then.Totals.Mass).Sub(net(now.Totals.Mass))) || c.Settled != then.Settled {
				t.Errorf("%s: %+v; resolved it is %s, cost %s, %s h", what, c, gross, cost, hours)
			}
			if got, want := featuresOf(c.Features, c.Feature, c.InsteadOf), featureDifference(&now, &then, c.Feature, c.InsteadOf); got != want {
				t.Errorf("%s: features %s, resolved %s", what, got, want)
			}
			if got, want := partsOf(c.Parts), partDifference(&now, &then); got != want {
				t.Errorf("%s: parts\n%s\nresolved\n%s", what, got, want)
			}
		}
		t.Logf("%d changes: %v", len(said.Changes), kinds)
		if len(said.Changes) < 100 || len(kinds) < 6 {
			t.Errorf("only %d changes of %v", len(said.Changes), kinds)
		}
	}
}

func featuresOf(list []openapi.FeatureChange, but ...string) string {
	var out []string
	for _, f := range list {
		if slices.Contains(but, f.Feature) {
			out = append(out, "itself")
		}
		out = append(out, fmt.Sprintf("%s %+d", f.Feature, f.More))
	}
	slices.Sort(out)
	return strings.Join(out, ", ")
}

func featureDifference(now, then *openapi.Resolution, but ...string) string {
	more := map[string]int32{}
	for _, f := range then.Specification.Features {
		more[f.Feature] += f.Count
	}
	for _, f := range now.Specification.Features {
		more[f.Feature] -= f.Count
	}
	var list []openapi.FeatureChange
	for code, n := range more {
		if n != 0 && !slices.Contains(but, code) {
			list = append(list, openapi.FeatureChange{Feature: code, More: n})
		}
	}
	return featuresOf(list)
}

func partsOf(list []openapi.PartChange) string {
	var out []string
	for _, p := range list {
		out = append(out, fmt.Sprintf("%s %s%s %s", p.Kind, p.Code, p.Finish, p.More))
	}
	slices.Sort(out)
	return strings.Join(out, "\n")
}

func partDifference(now, then *openapi.Resolution) string {
	type key struct{ kind, code, finish string }
	more := map[key]decimal.Decimal{}
	add := func(r *openapi.Resolution, sign int64) {
		for _, l := range r.Sheet.Lines {
			if l.Kind == "part" || l.Kind == "outside" {
				k := key{string(l.Kind), l.Code, l.Finish}
				more[k] = more[k].Add(decimal.RequireFromString(l.Quantity).Mul(decimal.New(sign, 0)))
			}
		}
	}
	add(then, 1)
	add(now, -1)
	var list []openapi.PartChange
	for k, n := range more {
		if !n.IsZero() {
			list = append(list, openapi.PartChange{Kind: openapi.PartChangeKind(k.kind), Code: k.code, Finish: k.finish, More: n.String()})
		}
	}
	return partsOf(list)
}

// TestChangesByRole: nobody sees of a change what they do not see of a price.
func TestChangesByRole(t *testing.T) {
	w := newWorld(t)
	asked := openapi.ChangesRequest{Van: shortVan, Choices: clashing(), Include: []openapi.ChangesRequestInclude{openapi.ChangesRequestIncludeFeatures}}
	for role, sees := range map[auth.Role][2]bool{auth.Owner: {true, true}, auth.Books: {true, true}, auth.Sales: {true, false}, auth.Workshop: {false, false}} {
		said := post[openapi.Changes](t, w, role, "/v1/changes", asked)
		var prices, costs, parts bool
		for _, c := range said.Changes {
			prices = prices || c.Gross.Amount != "" || len(c.Gaps) > 0
			costs = costs || c.Cost.Amount != "" || c.Margin.Amount != ""
			parts = parts || len(c.Parts) > 0 || len(c.Choices.Features) > 0
		}
		if prices != sees[0] || costs != sees[1] || parts || (said.Gross.Amount != "") != sees[0] {
			t.Errorf("%s: prices %v, costs %v, parts %v", role, prices, costs, parts)
		}
	}
}
