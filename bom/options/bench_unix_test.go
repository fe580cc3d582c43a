//go:build unix

package options

import (
	"fmt"
	"syscall"
	"testing"
)

// processorTime is what this process has used of the processors so far, in ns:
// what else the machine does is not in it.
func processorTime(b *testing.B) int64 {
	b.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return used.Utime.Nano() + used.Stime.Nano()
}

// BenchmarkResolveToFloor asks Resolve and the floor by turns, twenty choice
// sets each, in processor time: the ratio that holds on a machine that others
// use too.
func BenchmarkResolveToFloor(b *testing.B) {
	const turn = 20
	for _, n := range benchmarkSizes {
		b.Run(fmt.Sprintf("features=%d", n), func(b *testing.B) {
			g := generate(n)
			rules, err := Compile(g.model)
			if err != nil {
				b.Fatal(err)
			}
			s := rules.start.Begin()
			var resolve, floor int64
			turns := 0
			for b.Loop() {
				sets := make([][]Choice, turn)
				for i := range sets {
					sets[i] = g.choices[(turns*turn+i)%len(g.choices)]
				}
				begin := processorTime(b)
				for _, choices := range sets {
					if _, err := rules.Resolve(choices); err != nil {
						b.Fatal(err)
					}
				}
				between := processorTime(b)
				for _, choices := range sets {
					rules.floor(s, choices, nil)
				}
				resolve, floor = resolve+between-begin, floor+processorTime(b)-between
				turns++
			}
			b.ReportMetric(float64(resolve)/float64(turns*turn), "resolve-ns")
			b.ReportMetric(float64(floor)/float64(turns*turn), "floor-ns")
			b.ReportMetric(float64(resolve)/float64(floor), "ratio")
		})
	}
}
