package options

import (
	"fmt"
	"math/bits"
	"math/rand"
	"reflect"
	"slices"
	"testing"

	"wainscot/bom/formula"
)

// underBudget is a catalogue of features with prices and the feature "budget",
// which says that they may come to no more than so much: the budget written as
// rules, one for each set that is over it and would not be without any one of
// its features.
func underBudget(budget int, names []string, prices []int) Model {
	var m Model
	feature := func(code string) {
		m.Features = append(m.Features, Feature{Code: code, Name: code, Group: -1, Least: 1, Most: 1})
	}
	feature("budget")
	for _, name := range names {
		feature(name)
	}
	over := func(set uint) bool {
		sum := 0
		for i, p := range prices {
			sum += p * int(set>>i&1)
		}
		return sum > budget
	}
next:
	for set := range uint(1) << len(names) {
		if !over(set) {
			continue
		}
		all := []formula.Condition{}
		for i, name := range names {
			if set>>i&1 == 0 {
				continue
			}
			if over(set &^ (1 << i)) {
				continue next
			}
			all = append(all, formula.On(name, 1))
		}
		m.Rules = append(m.Rules, Rule{
			Code: fmt.Sprintf("over%d", set), Says: "That is over the budget.",
			If: formula.On("budget", 1), Then: formula.Not(formula.And(all...)),
		})
	}
	return m
}

// optionsOfACar is the example of B. O'Sullivan, A. Papadopoulos, B. Faltings
// and P. Pu, "Representative Explanations for Over-Constrained Problems", AAAI
// 2007: a budget of 3000; metal roof rack 500, convertible 500, CD player 500,
// leather 2600; no rack on a convertible.
func optionsOfACar(t *testing.T) (*Rules, []Choice) {
	t.Helper()
	m := underBudget(3000, []string{"rack", "convertible", "cd", "leather"}, []int{500, 500, 500, 2600})
	m.Rules = append(m.Rules, Rule{Code: "open_roof", Says: "A convertible has no roof to put a rack on.",
		If: formula.On("convertible", 1), Then: formula.Not(formula.On("rack", 1))})
	rules, err := Compile(m)
	if err != nil {
		t.Fatal(err)
	}
	return rules, wantsOf("budget", "rack", "convertible", "cd", "leather")
}

func wantsOf(codes ...string) []Choice {
	var out []Choice
	for _, code := range codes {
		out = append(out, Choice{Verb: Want, Feature: code, Source: FromCustomer})
	}
	return out
}

// The minimal conflicts of the published example: {c2,c3}, {c1,c2,c5},
// {c1,c3,c5}, {c1,c4,c5}, as printed there.
func TestConflictsArePublished(t *testing.T) {
	rules, choices := optionsOfACar(t)
	c, err := rules.Conflicts(choices, 0)
	if err != nil || c.More {
		t.Fatal(c.More, err)
	}
	var got [][]int
	for _, conflict := range c.List {
		got = append(got, conflict.Choices)
		if !slices.Equal(conflict.Why.Choices, conflict.Choices) || len(conflict.Why.Causes) != 1 {
			t.Errorf("%v: %+v", conflict.Choices, conflict.Why)
		}
	}
	if want := [][]int{{1, 2}, {0, 1, 4}, {0, 2, 4}, {0, 3, 4}}; !reflect.DeepEqual(got, want) {
		t.Errorf("conflicts %v, published %v", got, want)
	}
	for most := 1; most <= 4; most++ {
		c, err := rules.Conflicts(choices, most)
		if err != nil || len(c.List) != most || c.More != (most < 4) {
			t.Errorf("at most %d: %d, more %v, %v", most, len(c.List), c.More, err)
		}
	}
}

// facts are the specifications that what the van is and has leaves, of choices
// that do not fit among themselves the earlier ones.
func (w *written) facts(choices []Choice) set {
	kept := make([]int, len(w.m.Features))
	for _, c := range choices {
		if c.Source == FromFitted {
			f := w.place(c.Feature)
			kept[f] = max(kept[f], c.N)
		}
	}
	w.keep(kept)
	left := w.allowed
	for i, f := range w.m.Features {
		if f.NotSold && kept[i] == 0 {
			left = left.and(w.lack(i))
		}
	}
	for _, c := range choices {
		if c.Source == FromVan || c.Source == FromFitted {
			if next := left.and(w.agree(c)); !next.empty() {
				left = next
			}
		}
	}
	return left
}

// owns are the places of the customer's choices.
func owns(choices []Choice) []int {
	var own []int
	for i, c := range choices {
		if c.Source == FromCustomer {
			own = append(own, i)
		}
	}
	return own
}

// TestConflictsAreBruteForce finds every conflict by trying all subsets of the
// customer's choices against every specification written down.
func TestConflictsAreBruteForce(t *testing.T) {
	cases, several, capped := 0, 0, 0
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
		choices := m.randomChoices(r, 2+r.Intn(7))
		facts := w.facts(choices)
		if facts.empty() {
			continue
		}
		own := owns(choices)
		var want [][]int
		var bad []uint
		for size := 1; size <= len(own); size++ {
		subsets:
			for sub := range uint(1) << len(own) {
				if bits.OnesCount(sub) != size {
					continue
				}
				for _, b := range bad {
					if sub&b == b {
						continue subsets
					}
				}
				left := facts
				var list []int
				for k, i := range own {
					if sub>>k&1 != 0 {
						left = left.and(w.agree(choices[i]))
						list = append(list, i)
					}
				}
				if left.empty() {
					bad = append(bad, sub)
					want = append(want, list)
				}
			}
		}
		slices.SortFunc(want, func(a, b []int) int {
			if len(a) != len(b) {
				return len(a) - len(b)
			}
			return slices.Compare(a, b)
		})
		c, err := rules.Conflicts(choices, 1000)
		if err != nil || c.More {
			t.Fatalf("seed %d: %v, more %v", seed, err, c.More)
		}
		var got [][]int
		l := writeLoosely(&m, choices)
		for _, conflict := range c.List {
			if len(conflict.Choices) > 0 {
				got = append(got, conflict.Choices)
			}
			if err := l.checkMinimal(choices, conflict.Why, m.where(l.states, func(state) bool { return true })); err != nil {
				t.Fatalf("seed %d: conflict %v: %v", seed, conflict.Choices, err)
			}
			for _, i := range conflict.Why.Choices {
				if choices[i].Source == FromCustomer && !slices.Contains(conflict.Choices, i) {
					t.Fatalf("seed %d: conflict %v is told with choice %d", seed, conflict.Choices, i)
				}
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("seed %d: conflicts %v, brute force %v", seed, got, want)
		}
		cases++
		if len(want) > 1 {
			several++
			first, err := rules.Conflicts(choices, 1)
			if err != nil || !first.More {
				t.Fatalf("seed %d: at most one of %d: more %v, %v", seed, len(want), first.More, err)
			}
			capped++
		}
	}
	t.Logf("%d cases, %d with several conflicts", cases, several)
	if cases < 400 || several < 100 || capped == 0 {
		t.Error("the random catalogues do not reach what they are to reach")
	}
}
