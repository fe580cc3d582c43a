package options

import (
	"errors"
	"math/rand"
	"testing"
)

// randomKept draws what vans of a kind may come with: so many of each feature such a van
// may have. What is not sold may be there in any case.
func (m *Model) randomKept(r *rand.Rand) []int {
	kept := make([]int, len(m.Features))
	for i, f := range m.Features {
		switch {
		case f.NotSold:
			kept[i] = f.Most
		case r.Intn(4) == 0:
			kept[i] = f.Least + r.Intn(f.Most-f.Least+1)
		}
	}
	return kept
}

// someVanHas says whether a state is allowed on some van that came with at
// most kept of each feature: every such van is looked at, one after another.
func (m *Model) someVanHas(constraints []constraint, s state, kept []int) bool {
	s.kept = make([]int, len(kept))
	var try func(i int) bool
	try = func(i int) bool {
		if i == len(kept) {
			for f := range m.Features {
				if m.Features[f].NotSold && s.counts[f] > 0 && s.kept[f] == 0 {
					return false
				}
			}
			for _, c := range constraints {
				if !c.holds(m, s) {
					return false
				}
			}
			return true
		}
		for n := 0; n <= min(kept[i], s.counts[i]); n++ {
			if n > 0 && n < m.Features[i].Least {
				continue
			}
			s.kept[i] = n
			if try(i + 1) {
				return true
			}
		}
		return false
	}
	return try(0)
}

// allowedStates are the specifications allowed on some van of the scope.
func (m *Model) allowedStates(kept []int) []state {
	constraints := m.constraints()
	var out []state
	for _, s := range m.states() {
		if m.someVanHas(constraints, s, kept) {
			out = append(out, s)
		}
	}
	return out
}

func TestCountIsBruteForce(t *testing.T) {
	models := 0
	for seed := int64(1); models < 300; seed++ {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 3+r.Intn(6))
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		models++
		kept := m.randomKept(r)
		want := int64(len(m.allowedStates(kept)))
		got, err := rules.Count(kept, 10_000_000)
		if want == 0 {
			if !errors.Is(err, ErrNothingAllowed) {
				t.Fatalf("model %d: nothing allowed, but %v, %v", seed, got, err)
			}
			continue
		}
		if err != nil {
			t.Fatalf("model %d: %v", seed, err)
		}
		if !got.Exact || got.Number.Int64() != want {
			t.Fatalf("model %d: %d specifications, counted %s (exact %v)\n%+v", seed, want, got.Number, got.Exact, m)
		}
		// With hardly any work it says so, and never more than there are.
		short, err := rules.Count(kept, 0)
		if err != nil {
			t.Fatal(err)
		}
		if n := short.Number.Int64(); n < 1 || n > want || short.Exact && n != want {
			t.Fatalf("model %d: of %d, without work at least %d (exact %v)", seed, want, n, short.Exact)
		}
	}
}
