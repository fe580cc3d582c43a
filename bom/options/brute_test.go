package options

import (
	"fmt"
	"math/bits"
	"math/rand"

	"wainscot/bom/formula"
)

// This file says what the engine means in the plainest way there is: every
// specification is written down and looked at. It shares nothing with the
// compiler and the search but the model.

// state is one specification: how many of each feature, which value of each
// setting (-1 none, one past the last for all at once, which only states have
// that break the rule of one value).
type state struct {
	counts   []int
	settings []int
	kept     []int // of each feature how many are fitted; nil for none
}

func (m *Model) holds(s state, c formula.Condition) bool {
	return c.Holds(func(a formula.Atom) bool {
		if a.Value != "" {
			for i := range m.Settings {
				if set := &m.Settings[i]; set.Name == a.Name {
					at := s.settings[i]
					return at == len(set.Values) || at >= 0 && set.Values[at] == a.Value
				}
			}
			panic("no setting " + a.Name)
		}
		for i := range m.Features {
			if m.Features[i].Code == a.Name {
				return s.counts[i] >= a.AtLeast
			}
		}
		panic("no feature " + a.Name)
	})
}

// constraint is one cause with what it asks of a state.
type constraint struct {
	kind  CauseKind
	index int
	holds func(m *Model, s state) bool
	in    set // the specifications that do
}

// constraints lists everything the model asks, one by one.
func (m *Model) constraints() []constraint {
	var out []constraint
	add := func(kind CauseKind, index int, holds func(m *Model, s state) bool) {
		out = append(out, constraint{kind: kind, index: index, holds: holds})
	}
	for i, f := range m.Features {
		if f.Refused != "" {
			add(ByVan, i, func(_ *Model, s state) bool { return s.counts[i] == 0 })
		}
		if f.Follower {
			add(ByFollower, i, func(m *Model, s state) bool {
				brought := 0
				for _, r := range m.Rules {
					for _, b := range r.Brings {
						if b.Feature == i && m.holds(s, r.If) {
							brought = max(brought, b.N, f.Least)
						}
					}
				}
				return s.counts[i] <= brought
			})
		}
	}
	for g, group := range m.Groups {
		on := func(m *Model, s state) (n int) {
			for i, f := range m.Features {
				if f.Group == g && s.counts[i] > 0 {
					n++
				}
			}
			return n
		}
		add(ByGroup, g, func(m *Model, s state) bool {
			return (!group.AtMostOne || on(m, s) <= 1) &&
				(m.keptOnly(s, g) || m.holds(s, group.When)) &&
				(on(m, s) > 0 || !m.holds(s, group.Required))
		})
	}
	for i, r := range m.Rules {
		add(ByRule, i, func(m *Model, s state) bool {
			if !m.holds(s, r.If) {
				return true
			}
			if r.Then.Op != 0 && !m.holds(s, r.Then) {
				return false
			}
			for _, b := range r.Brings {
				if s.counts[b.Feature] < max(b.N, m.Features[b.Feature].Least) {
					return false
				}
			}
			return true
		})
	}
	return out
}

// most is the van that has as many of everything as there can be.
func (m *Model) most() []int {
	out := make([]int, len(m.Features))
	for i, f := range m.Features {
		out[i] = f.Most
	}
	return out
}

// keptOnly says whether a state has nothing of a group but what is fitted.
func (m *Model) keptOnly(s state, g int) bool {
	for i, f := range m.Features {
		kept := 0
		if s.kept != nil {
			kept = s.kept[i]
		}
		if f.Group == g && s.counts[i] > kept {
			return false
		}
	}
	return true
}

// states lists every specification, allowed or not.
func (m *Model) states() []state {
	all := []state{{}}
	for _, f := range m.Features {
		var next []state
		for _, s := range all {
			for n := 0; n <= f.Most; n++ {
				if n > 0 && n < f.Least {
					continue
				}
				next = append(next, state{counts: append(s.counts[:len(s.counts):len(s.counts)], n)})
			}
		}
		all = next
	}
	for _, set := range m.Settings {
		var next []state
		for _, s := range all {
			from := -1
			if set.Exact {
				from = 0
			}
			for v := from; v < len(set.Values); v++ {
				next = append(next, state{counts: s.counts, settings: append(s.settings[:len(s.settings):len(s.settings)], v)})
			}
		}
		all = next
	}
	return all
}

// set is a set of specifications, by their place in the list of all.
type set []uint64

func (m *Model) where(states []state, holds func(state) bool) set {
	out := make(set, (len(states)+63)/64)
	for i, s := range states {
		if holds(s) {
			out[i/64] |= 1 << (i % 64)
		}
	}
	return out
}

func (s set) and(o set) set {
	out := make(set, len(s))
	for i := range s {
		out[i] = s[i] & o[i]
	}
	return out
}

func (s set) empty() bool {
	for _, w := range s {
		if w != 0 {
			return false
		}
	}
	return true
}

func (s set) each(yield func(i int)) {
	for at, w := range s {
		for ; w != 0; w &= w - 1 {
			yield(at*64 + bits.TrailingZeros64(w))
		}
	}
}

// agrees says whether a state does what a choice says.
func (m *Model) agrees(s state, c Choice) bool {
	if c.Verb == Pick {
		return m.holds(s, formula.Is(c.Feature, c.Value))
	}
	for i, f := range m.Features {
		if f.Code != c.Feature {
			continue
		}
		switch c.Verb {
		case Want:
			return s.counts[i] > 0
		case Refuse:
			return s.counts[i] == 0
		case Number:
			return s.counts[i] == c.N
		case AtLeast:
			return s.counts[i] >= c.N
		}
	}
	panic("bad choice")
}

// randomModel draws a small model, hard enough that propagation alone is not
// complete on it. Its rules may contradict each other.
func randomModel(r *rand.Rand, features int) Model {
	var m Model
	for i := range features {
		f := Feature{Code: fmt.Sprintf("f%d", i), Name: fmt.Sprintf("F%d", i), Group: -1, Least: 1, Most: 1}
		switch r.Intn(12) {
		case 0:
			f.Most = 3
		case 1:
			f.Least, f.Most = 2, 3
		case 2:
			f.NotSold = true
		case 3:
			if r.Intn(4) == 0 {
				f.Refused = "Not made for this van."
			}
		}
		m.Features = append(m.Features, f)
	}
	if r.Intn(2) == 0 {
		m.Settings = append(m.Settings, Setting{Name: "van.steering", Label: "steering", Values: []string{"left", "right"}, Exact: true})
	}
	if r.Intn(3) == 0 {
		m.Settings = append(m.Settings, Setting{Name: "finish.cloth", Label: "cloth", Values: []string{"plain", "hide"}})
	}
	for at, g := 0, 0; at < features-2 && r.Intn(5) > 0; g++ {
		size := 2 + r.Intn(3)
		group := Group{Code: fmt.Sprintf("g%d", g), Name: fmt.Sprintf("G%d", g), AtMostOne: r.Intn(3) > 0,
			When: formula.True, Required: formula.False}
		for k := at; k < at+size && k < features; k++ {
			m.Features[k].Group = g
		}
		if r.Intn(3) == 0 {
			group.When = m.randomCondition(r, 1)
		}
		if r.Intn(3) == 0 {
			group.Required = m.randomCondition(r, 1)
		} else if r.Intn(3) == 0 {
			group.Required = formula.True
		}
		group.Default = []Count{{Feature: min(at+r.Intn(size), features-1), N: 1}}
		if m.Features[group.Default[0].Feature].Group != g {
			group.Default = nil
		}
		m.Groups = append(m.Groups, group)
		at += size
	}
	for i := range features + r.Intn(features) {
		rule := Rule{Code: fmt.Sprintf("r%d", i), Says: fmt.Sprintf("Rule %d.", i), If: m.randomCondition(r, 1)}
		switch r.Intn(4) {
		case 0:
			b := r.Intn(features)
			f := &m.Features[b]
			n := 0
			if f.Most > 1 {
				n = f.Least + r.Intn(f.Most-f.Least+1)
			}
			rule.Brings = []Count{{b, n}}
			rule.If = formula.On(m.Features[r.Intn(features)].Code, 1)
			if !f.NotSold && f.Refused == "" && r.Intn(2) == 0 {
				f.Follower = true
			}
		case 1:
			rule.Then = formula.Not(m.randomCondition(r, 1))
		default:
			rule.Then = m.randomCondition(r, 2)
		}
		m.Rules = append(m.Rules, rule)
	}
	return m
}

func (m *Model) randomAtom(r *rand.Rand) formula.Condition {
	if len(m.Settings) > 0 && r.Intn(6) == 0 {
		s := m.Settings[r.Intn(len(m.Settings))]
		return formula.Is(s.Name, s.Values[r.Intn(len(s.Values))])
	}
	f := m.Features[r.Intn(len(m.Features))]
	return formula.On(f.Code, f.Least+r.Intn(f.Most-f.Least+1))
}

func (m *Model) randomCondition(r *rand.Rand, depth int) formula.Condition {
	if depth == 0 || r.Intn(3) == 0 {
		return m.randomAtom(r)
	}
	a, b := m.randomCondition(r, depth-1), m.randomCondition(r, depth-1)
	switch r.Intn(5) {
	case 0:
		return formula.Not(a)
	case 1:
		return formula.And(a, b)
	case 2:
		return formula.Or(formula.And(a, b), m.randomCondition(r, depth-1))
	default:
		return formula.Or(a, b)
	}
}

func (m *Model) randomChoices(r *rand.Rand, n int) []Choice {
	var out []Choice
	for _, s := range m.Settings {
		if s.Exact {
			out = append(out, Choice{Verb: Pick, Feature: s.Name, Value: s.Values[r.Intn(len(s.Values))], Source: FromVan})
		}
	}
	for range r.Intn(3) {
		f := m.Features[r.Intn(len(m.Features))]
		out = append(out, Choice{Verb: AtLeast, Feature: f.Code, N: f.Least + r.Intn(f.Most-f.Least+1), Source: FromFitted})
	}
	for range n {
		f := m.Features[r.Intn(len(m.Features))]
		c := Choice{Verb: Want, Feature: f.Code, Source: FromCustomer}
		switch r.Intn(5) {
		case 0:
			c.Verb = Refuse
		case 1:
			c.Verb, c.N = Number, f.Least+r.Intn(f.Most-f.Least+1)
		case 2:
			if len(m.Settings) > 0 {
				s := m.Settings[r.Intn(len(m.Settings))]
				c = Choice{Verb: Pick, Feature: s.Name, Value: s.Values[r.Intn(len(s.Values))], Source: FromCustomer}
			}
		}
		out = append(out, c)
	}
	return out
}
