package options

import (
	"math/rand"
	"testing"

	"wainscot/bom/formula"
)

// TestCompletionIsBruteForce walks at random and holds every place against all
// specifications written down: something is taken just where something allowed
// has it; nothing is missing just where what is there is allowed by itself; and
// of each list of what is missing every allowed specification has one.
func TestCompletionIsBruteForce(t *testing.T) {
	places, lists, nested := 0, 0, 0
	for seed := range int64(3000) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(7))
		if r.Intn(2) == 0 { // too much to be distributed
			m.Rules = append(m.Rules, Rule{Code: "wide", Says: "Wide.", If: formula.True, Then: m.wide(r)})
		}
		w := writeDown(&m, 3_000)
		rules, err := Compile(m)
		if w == nil || err != nil {
			continue
		}
		choices := m.randomChoices(r, r.Intn(3))
		c, err := rules.Complete(choices)
		if err != nil {
			continue
		}
		left := w.answer(choices).left
		for range 6 {
			places++
			missing := c.Missing()
			if alone := w.alone(c); (len(missing) == 0) != !left.and(alone).empty() {
				t.Fatalf("seed %d: missing %v, and by itself it is %v that it is allowed", seed, missing, !left.and(alone).empty())
			}
			for _, m := range missing {
				list := m.Any
				lists++
				if len(list) > 4 {
					nested++
				}
				none := left
				for _, one := range list {
					if least, _ := c.Bounds(max(0, w.place(one.Feature))); one.Verb != Pick && least >= count(one) {
						t.Fatalf("seed %d: %v is missing, and is there", seed, one)
					}
					none = none.and(w.other(one))
				}
				if !none.empty() {
					t.Fatalf("seed %d: %v are missing, and something allowed has none of them", seed, list)
				}
			}
			choice := m.randomChoices(r, 1)
			next := choice[len(choice)-1]
			next.Source = FromSettling
			agreed, take := w.agree(next), c.Take
			if next.Verb != Refuse && next.Verb != Number && r.Intn(2) == 0 {
				agreed, take = w.other(next), c.Without
			}
			here := c.Here()
			ok, err := take(next)
			if err != nil {
				t.Fatal(err)
			}
			if ok == left.and(agreed).empty() {
				t.Fatalf("seed %d: %v could be taken: %v", seed, next, ok)
			}
			if !ok {
				continue
			}
			if r.Intn(4) == 0 {
				c.Back(here)
				continue
			}
			left = left.and(agreed)
		}
		c.End()
	}
	if places < 5000 || lists < 500 || nested == 0 {
		t.Fatalf("%d places, %d lists, %d long ones", places, lists, nested)
	}
}

// wide is a condition that needs helper variables.
func (m *Model) wide(r *rand.Rand) formula.Condition {
	some := make([]formula.Condition, 4)
	for i := range some {
		some[i] = formula.And(formula.Or(m.randomAtom(r), formula.And(m.randomAtom(r), m.randomAtom(r))), m.randomCondition(r, 1), m.randomAtom(r))
	}
	return formula.Or(some...)
}

// alone is the specification with what is plainly there and nothing else.
func (w *written) alone(c *Completion) set {
	return w.m.where(w.states, func(s state) bool {
		for i := range w.m.Features {
			if least, _ := c.Bounds(i); s.counts[i] != least {
				return false
			}
		}
		for i := range w.m.Settings {
			if s.settings[i] != c.Value(i) {
				return false
			}
		}
		return true
	})
}

// other are the specifications that do not do what a choice says.
func (w *written) other(c Choice) set {
	return w.m.where(w.states, func(s state) bool { return !w.m.agrees(s, c) })
}
