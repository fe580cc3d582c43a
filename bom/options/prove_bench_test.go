package options

import (
	"fmt"
	"testing"
)

// BenchmarkProve is what a proof asks of the rules of one kind of van, on the
// pinned generator: every verdict, the covering set, and the count as far as
// the work for it goes.
func BenchmarkProve(b *testing.B) {
	for _, n := range []int{150, 500} {
		g := generate(n)
		rules, err := Compile(g.model)
		if err != nil {
			b.Fatal(err)
		}
		asked := Proving{Work: 1 << 40}
		for i := range g.model.Rules {
			asked.Rules = append(asked.Rules, i)
		}
		b.Run(fmt.Sprintf("verdicts/features=%d", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := rules.Prove(asked); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("pairs/features=%d", n), func(b *testing.B) {
			for b.Loop() {
				got, err := rules.Cover(Covering{Work: 1 << 40})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(got.Specimens)), "specimens")
			}
		})
		b.Run(fmt.Sprintf("count/features=%d", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := rules.Count(nil, 60_000_000); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
