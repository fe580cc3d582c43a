package formula

import (
	"fmt"
	"testing"
)

// ordinary is a formula as catalogues have them.
const ordinary = "steps(van.load_length_mm, 600) * 0.35 + sockets * 2.5"

const ordinaryTruth = "hob && (oven || sockets >= 2) && finish.fabric == 'wool'"

func BenchmarkNumber(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	for _, source := range []string{"2", "van.wall_area_m2", ordinary, "lining_m2 * 1.1 / 2.88"} {
		f, err := s.Compile(source, Number)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(source, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := f.Number(v); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkTruth(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	for _, source := range []string{"hob", ordinaryTruth} {
		f, err := s.Compile(source, Truth)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(source, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := f.Truth(v); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkPeerCEL works the ordinary formulas out with CEL's interpreter under
// a cost limit, as the other way to do it: the same kind of number, registered
// as a type of ours.
func BenchmarkPeerCEL(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	w := newWitness(b, s)
	vars := w.activation(v)
	for _, source := range []string{ordinary, ordinaryTruth} {
		program, _, err := w.program(source, 100_000)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(source, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := program.Eval(vars); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkCompile compiles 600 different formulas in a fresh scope, as a
// program does when it starts.
func BenchmarkCompile(b *testing.B) {
	sources := make([]string, 600)
	for i := range sources {
		sources[i] = fmt.Sprintf("%s + %d", ordinary, i)
	}
	c := testCatalogue()
	b.ReportAllocs()
	for b.Loop() {
		s, _ := NewScope(c)
		for _, source := range sources {
			if _, err := s.Compile(source, Number); err != nil {
				b.Fatal(err)
			}
		}
	}
}
