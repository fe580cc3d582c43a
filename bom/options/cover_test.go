package options

import (
	"math/rand"
	"slices"
	"testing"
)

// TestCoverIsBruteForce holds covering sets against all specifications written
// down: what any of them has together, a specimen has; every specimen is one
// of them, and its choices come to it.
func TestCoverIsBruteForce(t *testing.T) {
	models, specimens, impossible := 0, 0, 0
	for seed := int64(1); models < 300; seed++ {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 3+r.Intn(5))
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		kept := m.randomKept(r)
		usual := m.allowedStates(kept)
		if len(usual) == 0 {
			continue
		}
		models++
		got, err := rules.Cover(Covering{Kept: kept, Work: 1 << 40})
		if err != nil {
			t.Fatal(err)
		}
		var shown []state
		for _, sp := range got.Specimens {
			s := state{counts: sp.Counts, settings: sp.Values}
			if !slices.ContainsFunc(usual, func(o state) bool {
				return slices.Equal(o.counts, s.counts) && slices.Equal(o.settings, s.settings)
			}) {
				t.Fatalf("model %d: %+v is not allowed\n%+v", seed, sp, m)
			}
			shown = append(shown, s)
			a, err := rules.Resolve(rules.Choices(sp))
			if err != nil || len(a.PutAside) > 0 || len(a.Unsettled) > 0 || !slices.Equal(rules.sofar(&a).Counts, sp.Counts) {
				t.Fatalf("model %d: %v does not come to %+v: %+v, %v\n%+v", seed, rules.Choices(sp), sp, a, err, m)
			}
			for i, n := range sp.Kept {
				if n > sp.Counts[i] || n > 0 && n < m.Features[i].Least || n > kept[i] {
					t.Fatalf("model %d: %d of feature %d are kept", seed, n, i)
				}
			}
		}
		pairs, never := m.pairs(usual, shown, func(what string) { t.Fatalf("model %d: no specimen has %s\n%+v", seed, what, m) })
		if got.Pairs != pairs || got.Impossible != never || got.Undecided != 0 {
			t.Fatalf("model %d: %d pairs, %d impossible, %d undecided; by brute force %d and %d",
				seed, got.Pairs, got.Impossible, got.Undecided, pairs, never)
		}
		specimens += len(got.Specimens)
		impossible += never
	}
	t.Logf("%d models, %d specimens, %d pairs that cannot be", models, specimens, impossible)
}

// pairs counts the pairs of items that some specification has, and those of
// possible items that none has; missing is told what shown lacks.
func (m *Model) pairs(all, shown []state, missing func(what string)) (pairs, never int) {
	type item struct {
		what  int // feature, or setting after the features
		value int // off 0, on 1, or the value
	}
	has := func(s state, it item) bool {
		if it.what < len(m.Features) {
			return s.counts[it.what] > 0 == (it.value == 1)
		}
		return s.settings[it.what-len(m.Features)] == it.value
	}
	var items []item
	add := func(it item) {
		if some(all, func(s state) bool { return has(s, it) }) {
			items = append(items, it)
		}
	}
	for i, f := range m.Features {
		add(item{i, 0})
		add(item{i, 1})
		for n := range f.Most + 1 {
			in := func(s state) bool { return s.counts[i] == n }
			if f.Most > 1 && some(all, in) && !some(shown, in) {
				missing("a number")
			}
		}
	}
	for i, s := range m.Settings {
		for v := range s.Values {
			add(item{len(m.Features) + i, v})
		}
	}
	for k, a := range items {
		for _, b := range items[k+1:] {
			both := func(s state) bool { return has(s, a) && has(s, b) }
			switch {
			case a.what == b.what:
			case !some(all, both):
				never++
			case !some(shown, both):
				missing("a pair")
			default:
				pairs++
			}
		}
	}
	return pairs, never
}
