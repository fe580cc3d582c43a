package options

import (
	"slices"
	"testing"

	"github.com/crillab/gophersat/solver"

	"wainscot/bom/formula"
)

const requiredAlways = formula.IsTrue

// TestGeneratedIsHardEnough holds the pinned generator to what the figures
// rest on: enough left open, enough that propagation alone gets wrong.
func TestGeneratedIsHardEnough(t *testing.T) {
	for _, n := range []int{150, 500} {
		g := generate(n)
		rules, err := Compile(g.model)
		if err != nil {
			t.Fatal(err)
		}
		s := rules.start.Begin()
		var features, open, search int
		for _, choices := range g.choices[:100] {
			a, err := rules.Resolve(choices)
			if err != nil {
				t.Fatal(err)
			}
			if len(a.PutAside) > 0 {
				t.Fatal("planted choices were put aside")
			}
			for _, o := range a.Options {
				features++
				if o.Standing == Open {
					open++
				}
			}
			rules.floor(s, choices, func(f int, can bool) {
				if can && a.Options[f].Standing == RuledOut {
					search++
				}
			})
		}
		t.Logf("%d features: %.1f %% open, %.1f %% ruled out only by search", n,
			100*float64(open)/float64(features), 100*float64(search)/float64(features))
		if open*100 < 40*features || search*100 < 3*features {
			t.Errorf("%d features: too easy to measure on", n)
		}
	}
}

// TestResolveIsPeerSolver holds the engine against an independent general
// solver, github.com/crillab/gophersat v1.4.0, on catalogues of 100 features
// and more: what one calls open the other can solve, and the other way round.
func TestResolveIsPeerSolver(t *testing.T) {
	for _, n := range []int{100, 101, 102, 103, 250} {
		g := generate(n)
		rules, err := Compile(g.model)
		if err != nil {
			t.Fatal(err)
		}
		peer := g.peer()
		sets := 40
		if n > 200 {
			sets = 8
		}
		for _, choices := range g.choices[:sets] {
			a, err := rules.Resolve(choices)
			if err != nil {
				t.Fatal(err)
			}
			assume := g.peerChoices(choices)
			can := func(l int32) bool {
				lit := solver.IntToLit(l)
				if slices.Contains(assume, lit.Negation()) {
					return false // it does not look for opposite assumptions
				}
				return peer.Assume(append(assume[:len(assume):len(assume)], lit)) != solver.Unsat &&
					peer.Solve() == solver.Sat
			}
			for f, o := range a.Options {
				on, off := can(int32(f+1)), can(-int32(f+1))
				if on != (o.Most > 0) || off != (o.Least == 0) {
					t.Fatalf("%d features, %v: %s is %s; the other solver: can be on %v, off %v",
						n, choices, g.model.Features[f].Code, o.Standing, on, off)
				}
			}
		}
	}
}
