package options

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/crillab/gophersat/solver"

	"wainscot/bom/options/internal/sat"
)

var benchmarkSizes = []int{150, 500, 5000}

// BenchmarkResolve answers for every feature, with a valid reason kept for
// each answer that is not open.
func BenchmarkResolve(b *testing.B) {
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			for i := 0; b.Loop(); i++ {
				if _, err := rules.Resolve(g.choices[i%len(g.choices)]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkFloorPropagation is the bound: the same clauses, unit propagation
// only, each feature that the choices leave open tried once. It is not
// complete: an option that only search rules out looks open to it.
func BenchmarkFloorPropagation(b *testing.B) {
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			s := rules.start.Begin()
			for i := 0; b.Loop(); i++ {
				rules.floor(s, g.choices[i%len(g.choices)], nil)
			}
		})
	}
}

// floor tries every open feature once by propagation alone and says which are
// not ruled out.
func (r *Rules) floor(s *sat.Solver, choices []Choice, open func(f int, can bool)) {
	s.Back(0)
	for _, c := range choices {
		s.Take(r.on(r.byCode[c.Feature], 1))
	}
	base := s.Depth()
	for f := range r.model.Features {
		l := r.on(f, 1)
		if s.Value(l) != 0 {
			continue
		}
		can := s.Take(l)
		s.Back(base)
		if open != nil {
			open(f, can)
		}
	}
}

// BenchmarkPeerSolver asks an independent general solver the same questions:
// the choices and one feature assumed, for each feature, one solver kept.
func BenchmarkPeerSolver(b *testing.B) {
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			s := g.peer()
			for i := 0; b.Loop(); i++ {
				assume := g.peerChoices(g.choices[i%len(g.choices)])
				for f := range g.model.Features {
					if s.Assume(append(assume[:len(assume):len(assume)], solver.IntToLit(int32(f+1)))) != solver.Unsat {
						s.Solve()
					}
				}
			}
		})
	}
}

// peer writes the generated catalogue for the independent solver, from what
// was generated and not from our clauses.
func (g *generated) peer() *solver.Solver {
	return solver.New(solver.ParseSliceNb(g.peerClauses(), len(g.model.Features)))
}

func (g *generated) peerClauses() [][]int {
	cnf := append([][]int(nil), g.clauses...)
	for i, group := range g.model.Groups {
		var members []int
		for f, feature := range g.model.Features {
			if feature.Group == i {
				members = append(members, f+1)
			}
		}
		for a := range members {
			for _, b := range members[a+1:] {
				cnf = append(cnf, []int{-members[a], -b})
			}
		}
		if group.Required.Op == requiredAlways {
			cnf = append(cnf, members)
		}
	}
	return cnf
}

func (g *generated) peerChoices(choices []Choice) []solver.Lit {
	out := make([]solver.Lit, 0, len(choices)+1)
	for _, c := range choices {
		var f int
		if _, err := fmt.Sscanf(c.Feature, "f%d", &f); err != nil {
			panic(err)
		}
		out = append(out, solver.IntToLit(int32(f+1)))
	}
	return out
}

// BenchmarkMinimal makes the reason of every feature that is not open minimal:
// all of one answer a round. Beside it stands the time of the slowest single
// one of fifty answers, each the best of five.
func BenchmarkMinimal(b *testing.B) {
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			answers := make([]Answer, 50)
			for i := range answers {
				if answers[i], err = rules.Resolve(g.choices[i]); err != nil {
					b.Fatal(err)
				}
			}
			reasons := 0
			minimal := func(a *Answer, f int) {
				work := int64(ReasonWork)
				why, err := a.WhyMinimal(f, &work)
				if err != nil {
					b.Fatal(err)
				}
				if why != nil {
					reasons++
				}
			}
			for i := 0; b.Loop(); i++ {
				for f := range answers[i%len(answers)].Options {
					minimal(&answers[i%len(answers)], f)
				}
			}
			b.ReportMetric(float64(reasons)/float64(b.N), "reasons/op")
			if n > 500 {
				return
			}
			took, slowest := b.Elapsed(), time.Duration(0)
			for i := range answers {
				for f := range answers[i].Options {
					slowest = max(slowest, best(b, func() { minimal(&answers[i], f) }))
				}
			}
			b.ReportMetric(float64(took.Nanoseconds())/float64(b.N), "ns/op")
			b.ReportMetric(float64(slowest.Nanoseconds()), "slowest-ns")
		})
	}
}

// BenchmarkWaysOut looks for the ways out of one ruled-out feature, priced by a
// price that costs nothing to work out.
func BenchmarkWaysOut(b *testing.B) {
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			type wish struct {
				choices []Choice
				wanted  Choice
			}
			var wishes []wish
			for _, choices := range g.choices[:20] {
				a, err := rules.Resolve(choices)
				if err != nil {
					b.Fatal(err)
				}
				for f, o := range a.Options {
					if o.Standing == RuledOut {
						wishes = append(wishes, wish{choices, Choice{Verb: Want, Feature: g.model.Features[f].Code}})
					}
				}
			}
			ways := 0
			for i := 0; b.Loop(); i++ {
				w := &wishes[i%len(wishes)]
				out, err := rules.WaysOut(w.choices, WayOutAsk{Wanted: &w.wanted, Price: func(way *Way) (int64, error) {
					return int64(len(way.Choices)), nil
				}})
				if err != nil {
					b.Fatal(err)
				}
				ways += len(out.Ways)
			}
			b.ReportMetric(float64(ways)/float64(b.N), "ways/op")
		})
	}
}

// BenchmarkConflicts looks for all conflicts among sixteen wants of two planted
// specifications.
func BenchmarkConflicts(b *testing.B) {
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			found := 0
			for i := 0; b.Loop(); i++ {
				k := i % (len(g.choices) - 1)
				c, err := rules.Conflicts(slices.Concat(g.choices[k], g.choices[k+1]), 0)
				if err != nil {
					b.Fatal(err)
				}
				found += len(c.List)
			}
			b.ReportMetric(float64(found)/float64(b.N), "conflicts/op")
		})
	}
}

// best is the shortest of five times that something takes, so that what else
// the machine did is left out.
func best(b *testing.B, do func()) time.Duration {
	b.Helper()
	shortest := time.Hour
	for range 5 {
		b.StartTimer()
		begin := b.Elapsed()
		do()
		shortest = min(shortest, b.Elapsed()-begin)
		b.StopTimer()
	}
	return shortest
}

// BenchmarkResolveWorst is the slowest of a thousand random choice sets beside
// the middle one, each the best of five.
func BenchmarkResolveWorst(b *testing.B) {
	for _, n := range []int{150, 500} {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			times := make([]time.Duration, len(g.choices))
			b.StopTimer()
			for range b.N {
				for i, choices := range g.choices {
					times[i] = best(b, func() {
						if _, err := rules.Resolve(choices); err != nil {
							b.Fatal(err)
						}
					})
				}
			}
			slices.Sort(times)
			b.ReportMetric(float64(times[len(times)/2].Nanoseconds()), "median-ns")
			b.ReportMetric(float64(times[len(times)-1])/float64(times[len(times)/2]), "worst/median")
		})
	}
}
