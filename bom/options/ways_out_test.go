package options

import (
	"cmp"
	"errors"
	"fmt"
	"math/bits"
	"math/rand"
	"reflect"
	"slices"
	"testing"

	"github.com/crillab/gophersat/solver"

	"wainscot/bom/formula"
)

// correctionsOf gives every set of places in own of which to leave out all, and
// no smaller part of it, makes the rest fit: smallest first.
func correctionsOf(own []int, fits func(in []int) bool) [][]int {
	var out [][]int
	var masks []uint
	for size := 0; size <= len(own); size++ {
	subsets:
		for sub := range uint(1) << len(own) {
			if bits.OnesCount(sub) != size {
				continue
			}
			for _, m := range masks {
				if sub&m == m {
					continue subsets
				}
			}
			var in []int
			undone := []int{}
			for k, i := range own {
				if sub>>k&1 == 0 {
					in = append(in, i)
				} else {
					undone = append(undone, i)
				}
			}
			if fits(in) {
				masks = append(masks, sub)
				out = append(out, undone)
			}
		}
	}
	return out
}

func undoneOf(ways []Way) [][]int {
	var out [][]int
	for _, w := range ways {
		undone := append([]int{}, w.Undone...)
		if !slices.ContainsFunc(out, func(u []int) bool { return slices.Equal(u, undone) }) {
			out = append(out, undone)
		}
	}
	return out
}

func sortSets(sets [][]int) {
	slices.SortFunc(sets, func(a, b []int) int {
		return cmp.Or(cmp.Compare(len(a), len(b)), slices.Compare(a, b))
	})
}

// checkWay holds one way to its promise: the list with the changes resolves
// with nothing put aside but what the van contradicts itself in, what was
// wanted is chosen, and everything not undone is still said.
func checkWay(t *testing.T, seed int64, rules *Rules, choices []Choice, wanted *Choice, way Way) {
	t.Helper()
	a, err := rules.Resolve(way.Choices)
	if err != nil {
		t.Fatalf("seed %d: %v", seed, err)
	}
	for _, p := range a.PutAside {
		if way.Choices[p.Choice].Source >= FromCustomer {
			t.Fatalf("seed %d: %+v puts %+v aside", seed, way, way.Choices[p.Choice])
		}
	}
	if wanted != nil {
		if !slices.ContainsFunc(way.Choices, func(c Choice) bool {
			return c.Source == FromCustomer && (c == *wanted || wanted.Verb == Want && c.Feature == wanted.Feature && c.Verb != Refuse)
		}) {
			t.Fatalf("seed %d: %+v does not ask for %+v", seed, way, *wanted)
		}
	}
	for i, c := range choices {
		gone := slices.Contains(way.Undone, i) || slices.Contains(way.LeftOut, i) || c.Source == FromSettling ||
			wanted != nil && c.Source == FromCustomer && c.Feature == wanted.Feature
		if !gone && !slices.Contains(way.Choices, c) {
			t.Fatalf("seed %d: %+v has lost choice %d", seed, way, i)
		}
	}
	// The changes made one by one give the list.
	var made []Choice
	rest := slices.Clone(way.Changes)
	take := func(is func(Change) bool) *Change {
		if i := slices.IndexFunc(rest, is); i >= 0 {
			c := rest[i]
			rest = slices.Delete(rest, i, i+1)
			return &c
		}
		return nil
	}
	for i, c := range choices {
		change := take(func(ch Change) bool { return ch.Choice == i })
		switch {
		case change != nil && change.Kind == SwapChoice:
			made = append(made, change.With)
		case change != nil:
		case c.Source != FromSettling && !slices.Contains(way.LeftOut, i):
			made = append(made, c)
		}
	}
	if add := take(func(ch Change) bool { return ch.Kind == AddChoice }); add != nil {
		made = append(made, add.With)
	}
	if len(rest) > 0 || len(made) != len(way.Choices) {
		t.Fatalf("seed %d: %+v is not the list with its changes made, %+v", seed, way, made)
	}
	for _, c := range made {
		if !slices.Contains(way.Choices, c) {
			t.Fatalf("seed %d: %+v is not the list with its changes made, %+v", seed, way, made)
		}
	}
}

// TestWaysOutAreBruteForce finds every set of choices whose undoing helps by
// trying all of them against every specification written down.
func TestWaysOutAreBruteForce(t *testing.T) {
	wishes, contradictions, blocked, never, several, swapped := 0, 0, 0, 0, 0, 0
	for seed := range int64(900) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(8))
		w := writeDown(&m, 4_000)
		if w == nil {
			continue
		}
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		choices := m.randomChoices(r, 1+r.Intn(7))
		for i := range choices {
			if choices[i].Source == FromCustomer && r.Intn(5) == 0 {
				choices[i].Source = FromPackage
			}
		}
		facts := w.facts(choices)
		if facts.empty() {
			continue
		}
		for range 3 {
			var wanted *Choice
			if r.Intn(4) > 0 {
				c := m.randomChoices(r, 1)
				wanted = &c[len(c)-1]
				wanted.Source = FromCustomer
			}
			left, own := facts, owns(choices)
			if wanted != nil {
				left = left.and(w.agree(w.met(facts, choices, *wanted)))
				own = slices.DeleteFunc(own, func(i int) bool { return choices[i].Feature == wanted.Feature })
			}
			want := correctionsOf(own, func(in []int) bool {
				left := left
				for _, i := range in {
					left = left.and(w.agree(choices[i]))
				}
				return !left.empty()
			})
			all, err := rules.WaysOut(choices, WayOutAsk{Wanted: wanted, MostWays: 10_000, MostCandidates: 10_000})
			if err != nil || !all.Exact {
				t.Fatalf("seed %d: %v, exact %v", seed, err, all.Exact)
			}
			if (len(want) == 0) != (all.Blocked != 0) {
				t.Fatalf("seed %d: %d ways, blocked %d", seed, len(want), all.Blocked)
			}
			if all.Blocked != 0 {
				blocked++
				w.checkBlocked(t, seed, choices, *wanted, all)
				if all.Blocked == ByTheRules {
					never++
				}
				continue
			}
			if wanted == nil && len(want[0]) == 0 {
				want = nil // they fit as they are
			} else if wanted == nil {
				contradictions++
			}
			got := undoneOf(all.Ways)
			sortSets(got)
			sortSets(want)
			if len(got)+len(want) > 0 && !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d: undone %v, brute force %v", seed, got, want)
			}
			for _, way := range all.Ways {
				checkWay(t, seed, rules, choices, wanted, way)
				for _, c := range way.Changes {
					if c.Kind == SwapChoice {
						swapped++
					}
				}
			}
			if wanted != nil {
				wishes++
			}
			if len(want) > 1 {
				several++
			}
			checkRanked(t, seed, rules, choices, wanted, all.Ways)
		}
	}
	t.Logf("%d wishes, %d contradictions, %d times several sets, %d swaps, %d blocked, %d of them by the rules",
		wishes, contradictions, several, swapped, blocked, never)
	if wishes < 400 || contradictions < 50 || several < 100 || swapped < 200 || blocked < 50 || never < 5 || never == blocked {
		t.Error("the random catalogues do not reach what they are to reach")
	}
}

// met is the choice that says already what is wanted, in its own number, where
// that can be; else what is wanted.
func (w *written) met(facts set, choices []Choice, wanted Choice) Choice {
	if wanted.Verb == Want {
		for _, c := range choices {
			if c.Source == FromCustomer && c.Feature == wanted.Feature && c.Verb != Refuse && count(c) > 0 &&
				!facts.and(w.agree(c)).empty() {
				return c
			}
		}
	}
	return wanted
}

// checkRanked asks for three by a made-up price and holds them against all.
func checkRanked(t *testing.T, seed int64, rules *Rules, choices []Choice, wanted *Choice, all []Way) {
	t.Helper()
	price := func(list []Choice) int64 {
		sum := int64(0)
		for _, c := range list {
			sum += int64(len(c.Feature)+int(c.Feature[len(c.Feature)-1]))*int64(1+c.N) - int64(c.Verb)*70
		}
		return sum
	}
	asked := 0
	three, err := rules.WaysOut(choices, WayOutAsk{Wanted: wanted, MostCandidates: 10_000, Price: func(way *Way) (int64, error) {
		asked++
		return price(way.Choices), nil
	}})
	if err != nil || !three.Exact || len(three.Ways) != min(3, len(all)) {
		t.Fatalf("seed %d: %d ways of %d, exact %v, %v", seed, len(three.Ways), len(all), three.Exact, err)
	}
	if asked > len(all) {
		t.Fatalf("seed %d: %d prices asked for %d ways", seed, asked, len(all))
	}
	rank := func(w Way) [2]int64 {
		p := price(w.Choices)
		return [2]int64{int64(len(w.Undone)), max(p, -p)}
	}
	var best [][2]int64
	for _, w := range all {
		best = append(best, rank(w))
	}
	slices.SortFunc(best, func(a, b [2]int64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	for i, w := range three.Ways {
		if rank(w) != best[i] || w.Price != price(w.Choices) {
			t.Fatalf("seed %d: way %d ranks %v, the best there is %v", seed, i, rank(w), best[i])
		}
	}
	if len(all) > 4 {
		few, err := rules.WaysOut(choices, WayOutAsk{Wanted: wanted, MostWays: 2, MostCandidates: 2, Price: func(way *Way) (int64, error) {
			return price(way.Choices), nil
		}})
		if err != nil || len(few.Ways) != 2 || few.Exact && len(all[0].Undone) == len(all[2].Undone) {
			t.Fatalf("seed %d: two candidates of %d: %d ways, exact %v, %v", seed, len(all), len(few.Ways), few.Exact, err)
		}
	}
}

// checkBlocked holds that nothing helps, why, and what would.
func (w *written) checkBlocked(t *testing.T, seed int64, choices []Choice, wanted Choice, out WaysOut) {
	t.Helper()
	l := writeLoosely(w.m, choices)
	if err := l.checkMinimal(choices, out.Why, l.agree(wanted)); err != nil {
		t.Fatalf("seed %d: blocked: %v: %+v", seed, err, out.Why)
	}
	w.keep(w.m.most())
	ever := !w.allowed.and(w.agree(wanted)).empty()
	if ever != (out.Blocked == ByWhatVanIs) {
		t.Fatalf("seed %d: on some van %v, blocked %d", seed, ever, out.Blocked)
	}
	w.facts(choices)
}

// TestWaysOutArePeerSolver holds the fewest choices undone against an
// independent solver, github.com/crillab/gophersat v1.4.0, asked for every set
// of them.
func TestWaysOutArePeerSolver(t *testing.T) {
	wishes := 0
	for _, n := range []int{100, 101, 102} {
		g := generate(n)
		rules, err := Compile(g.model)
		if err != nil {
			t.Fatal(err)
		}
		peer := g.peer()
		for _, choices := range g.choices[:6] {
			a, err := rules.Resolve(choices)
			if err != nil {
				t.Fatal(err)
			}
			said := g.peerChoices(choices)
			for f, o := range a.Options {
				if o.Standing != RuledOut || f%3 != 0 {
					continue
				}
				wanted := &Choice{Verb: Want, Feature: g.model.Features[f].Code, Source: FromCustomer}
				want := correctionsOf(owns(choices), func(in []int) bool {
					lits := []solver.Lit{solver.IntToLit(int32(f + 1))}
					for _, i := range in {
						lits = append(lits, said[i])
					}
					return peer.Assume(lits) != solver.Unsat && peer.Solve() == solver.Sat
				})
				out, err := rules.WaysOut(choices, WayOutAsk{Wanted: wanted, MostWays: 10_000, MostCandidates: 10_000})
				if err != nil || !out.Exact || (len(want) == 0) != (out.Blocked == ByTheRules) {
					t.Fatalf("%s: %d ways, blocked %d, exact %v, %v", wanted.Feature, len(want), out.Blocked, out.Exact, err)
				}
				got := undoneOf(out.Ways)
				sortSets(got)
				sortSets(want)
				if len(got)+len(want) > 0 && !reflect.DeepEqual(got, want) {
					t.Fatalf("%s: undone %v, the other solver %v", wanted.Feature, got, want)
				}
				for _, way := range out.Ways[:min(5, len(out.Ways))] {
					checkWay(t, int64(n), rules, choices, wanted, way)
				}
				wishes++
			}
		}
	}
	t.Logf("%d wishes", wishes)
	if wishes < 50 {
		t.Error("too few options are ruled out to show anything")
	}
}

// The ways out a person would expect: swap in the group, a smaller number, the
// dearer way last, and what the van is stays.
func TestWaysOutAsAPersonWould(t *testing.T) {
	one := func(code string, group int) Feature {
		return Feature{Code: code, Name: code, Group: group, Least: 1, Most: 1}
	}
	m := Model{
		Features: []Feature{
			one("small_locker", 0), one("large_locker", 0), one("huge_locker", 0), one("oven", -1), one("roof_rails", -1),
			{Code: "sockets", Name: "Sockets", Group: -1, Least: 1, Most: 6},
			{Code: "bench", Name: "Bench", Group: -1, Least: 1, Most: 1, NotSold: true}, one("belts", -1),
		},
		Groups: []Group{{Code: "locker", Name: "Locker", AtMostOne: true, When: formula.True, Required: formula.True}},
		Rules: []Rule{
			{Code: "oven_locker", Says: "An oven needs a locker for a large bottle.",
				If: formula.On("oven", 1), Then: formula.Or(formula.On("large_locker", 1), formula.On("huge_locker", 1))},
			{Code: "oven_sockets", Says: "Beside the oven there is room for four sockets.",
				If: formula.On("oven", 1), Then: formula.Not(formula.On("sockets", 5))},
			{Code: "belts_bench", Says: "Belts need a bench.", If: formula.On("belts", 1), Then: formula.On("bench", 1)},
		},
	}
	rules, err := Compile(m)
	if err != nil {
		t.Fatal(err)
	}
	choices := append(wantsOf("small_locker", "roof_rails"), Choice{Verb: Number, Feature: "sockets", N: 6, Source: FromCustomer})
	prices := map[string]int64{"small_locker": 100, "large_locker": 180, "huge_locker": 150, "oven": 700, "roof_rails": 300}
	price := func(way *Way) (int64, error) {
		sum := int64(-400)
		for _, c := range way.Choices {
			sum += prices[c.Feature]
		}
		return sum, nil
	}
	out, err := rules.WaysOut(choices, WayOutAsk{Wanted: &Choice{Verb: Want, Feature: "oven"}, Price: price})
	if err != nil || !out.Exact {
		t.Fatal(out.Exact, err)
	}
	oven := Change{AddChoice, -1, Choice{Verb: Want, Feature: "oven", Source: FromCustomer}}
	four := Change{SwapChoice, 2, Choice{Verb: Number, Feature: "sockets", N: 4, Source: FromCustomer}}
	want := [][]Change{
		{{SwapChoice, 0, wantsOf("huge_locker")[0]}, four, oven},
		{{SwapChoice, 0, wantsOf("large_locker")[0]}, four, oven},
	}
	for i, w := range out.Ways {
		if i >= len(want) || !reflect.DeepEqual(w.Changes, want[i]) {
			t.Errorf("way %d: %+v", i, w.Changes)
		}
	}
	if len(out.Ways) != len(want) || out.Ways[0].Price != 750 || out.Ways[1].Price != 780 {
		t.Errorf("%d ways: %+v", len(out.Ways), out.Ways)
	}

	out, err = rules.WaysOut(choices, WayOutAsk{Wanted: &Choice{Verb: Want, Feature: "huge_locker"}})
	if err != nil || len(out.Ways) != 1 || len(out.Ways[0].Changes) != 1 || out.Ways[0].Changes[0].Kind != SwapChoice {
		t.Errorf("another locker: %+v, %v", out, err)
	}
	out, err = rules.WaysOut(choices, WayOutAsk{Wanted: &Choice{Verb: Want, Feature: "belts"}})
	if err != nil || out.Blocked != ByWhatVanIs || len(out.Why.Causes) != 2 {
		t.Errorf("belts without a bench: %+v, %v", out, err)
	}
}

// Many contradictions at once, and rules made to take for ever, end.
func TestHostileWaysOutEnd(t *testing.T) {
	rules, err := Compile(pigeonholes(14, 13, true))
	if err != nil {
		t.Fatal(err)
	}
	gate := wantsOf("gate")
	if _, err := rules.Conflicts(gate, 0); !errors.Is(err, ErrBudget) {
		t.Errorf("conflicts of the gate to fourteen pigeons: %v", err)
	}
	if _, err := rules.WaysOut(nil, WayOutAsk{Wanted: &gate[0]}); !errors.Is(err, ErrBudget) {
		t.Errorf("ways to fourteen pigeons: %v", err)
	}

	// Nine pigeons in eight holes can be decided, and no more: the reason is
	// told as it was found.
	if rules, err = Compile(pigeonholes(9, 8, true)); err != nil {
		t.Fatal(err)
	}
	found, err := rules.Conflicts(gate, 0)
	if err != nil || len(found.List) != 1 || !found.List[0].Why.Loose || !slices.Equal(found.List[0].Why.Choices, []int{0}) || len(found.List[0].Why.Causes) < 9 {
		t.Errorf("conflicts of the gate to nine pigeons: %+v, %v", found, err)
	}
	blocked, err := rules.WaysOut(nil, WayOutAsk{Wanted: &gate[0]})
	if err != nil || blocked.Blocked != ByTheRules || !blocked.Why.Loose || len(blocked.Why.Causes) < 9 {
		t.Errorf("ways to nine pigeons: %+v, %v", blocked, err)
	}

	const pairs = 60
	var m Model
	var choices []Choice
	for i := range pairs {
		a, b := fmt.Sprintf("a%d", i), fmt.Sprintf("b%d", i)
		for _, code := range []string{a, b} {
			m.Features = append(m.Features, Feature{Code: code, Name: code, Group: -1, Least: 1, Most: 1})
		}
		m.Rules = append(m.Rules, Rule{Code: a, Says: "Not together.", If: formula.On(a, 1), Then: formula.Not(formula.On(b, 1))})
		choices = append(choices, wantsOf(a, b)...)
	}
	if rules, err = Compile(m); err != nil {
		t.Fatal(err)
	}
	c, err := rules.Conflicts(choices, 0)
	if err != nil || len(c.List) != MostConflicts || !c.More {
		t.Errorf("%d conflicts, more %v, %v", len(c.List), c.More, err)
	}
	// All are found; that there is no other is too much to show.
	if c, err = rules.Conflicts(choices, 100); err != nil || len(c.List) != pairs || !c.More {
		t.Errorf("%d conflicts, more %v, %v", len(c.List), c.More, err)
	}
	priced := 0
	out, err := rules.WaysOut(choices, WayOutAsk{Price: func(*Way) (int64, error) { priced++; return 0, nil }})
	if err != nil || out.Exact || len(out.Ways) != MostWays || priced != MostCandidates || len(out.Ways[0].Undone) != pairs {
		t.Errorf("%d ways, exact %v, %d priced, %v", len(out.Ways), out.Exact, priced, err)
	}
}
