package options

import (
	"fmt"
	"math/rand"
	"slices"
	"testing"
)

// piece is one cause as a reason may name it, with the specifications that
// keep it.
type piece struct {
	cause Cause
	in    set
}

// loose is a model written down piece by piece: also specifications in which a
// setting has all its values or none, so that one value at a time is a cause
// like another.
type loose struct {
	*written
	pieces []piece
	kept   []int
}

func writeLoosely(m *Model, choices []Choice) *loose {
	w := &written{m: m}
	features := Model{Features: m.Features}
	w.states = features.states()
	for _, s := range m.Settings {
		var next []state
		for _, st := range w.states {
			for v := -1; v <= len(s.Values); v++ {
				next = append(next, state{counts: st.counts, settings: append(st.settings[:len(st.settings):len(st.settings)], v)})
			}
		}
		w.states = next
	}
	l := &loose{written: w, kept: make([]int, len(m.Features))}
	for _, c := range choices {
		if c.Source == FromFitted {
			f := w.place(c.Feature)
			l.kept[f] = max(l.kept[f], c.N)
		}
	}
	for i := range w.states {
		w.states[i].kept = l.kept
	}
	add := func(kind CauseKind, index int, says string, holds func(s state) bool) {
		l.pieces = append(l.pieces, piece{Cause{kind, index, says}, m.where(w.states, holds)})
	}
	for _, c := range m.constraints() {
		switch c.kind {
		case ByGroup:
		case ByVan:
			add(ByVan, c.index, m.Features[c.index].Refused, func(s state) bool { return c.holds(m, s) })
		case ByRule:
			add(ByRule, c.index, m.Rules[c.index].Says, func(s state) bool { return c.holds(m, s) })
		case ByFollower:
			add(ByFollower, c.index, fmt.Sprintf("%s is only there with what needs it.", m.Features[c.index].Name),
				func(s state) bool { return c.holds(m, s) })
		default:
			panic("a kind of cause that the test does not know")
		}
	}
	for i, f := range m.Features {
		if f.NotSold && l.kept[i] == 0 {
			add(ByVan, i, f.Name+" can only be there when the van came with it.", func(s state) bool { return s.counts[i] == 0 })
		}
	}
	for i, s := range m.Settings {
		add(BySetting, i, fmt.Sprintf("There can be only one choice of %s.", s.Label), func(st state) bool {
			return st.settings[i] < len(s.Values) && (st.settings[i] >= 0 || !s.Exact)
		})
	}
	for g, group := range m.Groups {
		on := func(s state) (n int) {
			for i, f := range m.Features {
				if f.Group == g && s.counts[i] > 0 {
					n++
				}
			}
			return n
		}
		if group.AtMostOne {
			add(ByGroup, g, fmt.Sprintf("Only one can be had of: %s.", group.Name), func(s state) bool { return on(s) <= 1 })
		}
		add(ByGroup, g, fmt.Sprintf("%s is not offered with this kind of work.", group.Name), func(s state) bool {
			return m.keptOnly(s, g) || m.holds(s, group.When)
		})
		add(ByGroup, g, fmt.Sprintf("One is needed of: %s.", group.Name), func(s state) bool {
			return on(s) > 0 || !m.holds(s, group.Required)
		})
	}
	return l
}

// checkMinimal takes a reason at its word: what it is for cannot be, and
// leaving any one thing out it could.
func (l *loose) checkMinimal(choices []Choice, reason *Reason, bad set) error {
	var members []set
	for _, i := range reason.Choices {
		members = append(members, l.agree(choices[i]))
	}
	for _, c := range reason.Causes {
		at := slices.IndexFunc(l.pieces, func(p piece) bool { return p.cause == c })
		if at < 0 {
			return fmt.Errorf("a cause that is none: %+v", c)
		}
		members = append(members, l.pieces[at].in)
	}
	for skip := -1; skip < len(members); skip++ {
		left := bad
		for i, m := range members {
			if i != skip {
				left = left.and(m)
			}
		}
		if left.empty() != (skip < 0) {
			return fmt.Errorf("without member %d of %d what is left is empty: %v", skip, len(members), left.empty())
		}
	}
	if !slices.IsSorted(reason.Choices) {
		return fmt.Errorf("choices out of order: %v", reason.Choices)
	}
	return nil
}

// TestMinimalIsBruteForce holds every minimal reason against every
// specification written down: valid, and no member can be left out.
func TestMinimalIsBruteForce(t *testing.T) {
	reasons, shorter, values := 0, 0, 0
	for seed := range int64(900) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(9))
		if writeDown(&m, 4_000) == nil {
			continue
		}
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		choices := m.randomChoices(r, r.Intn(6))
		a, err := rules.Resolve(choices)
		if err != nil {
			continue
		}
		l := writeLoosely(&m, choices)
		check := func(what string, why, minimal *Reason, err error, bad func(s state) bool) {
			t.Helper()
			if err != nil {
				t.Fatalf("seed %d: %s: %v", seed, what, err)
			}
			if (why == nil) != (minimal == nil) {
				t.Fatalf("seed %d: %s has the reason %v and the minimal one %v", seed, what, why, minimal)
			}
			if why == nil {
				return
			}
			if err := l.checkMinimal(choices, minimal, m.where(l.states, bad)); err != nil {
				t.Fatalf("seed %d: %s: %v: %+v of %+v", seed, what, err, minimal, why)
			}
			reasons++
			if len(minimal.Choices)+len(minimal.Causes) < len(why.Choices)+len(why.Causes) {
				shorter++
			}
		}
		work := int64(ReasonWork)
		for f, o := range a.Options {
			why, err := a.WhyMinimal(f, &work)
			check(m.Features[f].Code, a.Why(f), why, err, func(s state) bool {
				return o.Standing == RuledOut && s.counts[f] > 0 || o.Standing != RuledOut && s.counts[f] < o.Least
			})
			most, err := a.WhyMostMinimal(f, &work)
			check(m.Features[f].Code+" at most", a.WhyMost(f), most, err, func(s state) bool { return s.counts[f] > o.Most })
		}
		for i, v := range a.Settings {
			setting := m.Settings[v.Setting]
			why, err := a.WhyValueMinimal(i, &work)
			check(setting.Name+" "+setting.Values[v.Value], a.WhyValue(i), why, err, func(s state) bool {
				is := s.settings[v.Setting] == v.Value || s.settings[v.Setting] == len(setting.Values)
				return is == (v.Standing == RuledOut)
			})
			if why != nil {
				values++
			}
		}
		for i, p := range a.PutAside {
			why, err := a.AsideMinimal(i, &work)
			check(fmt.Sprintf("choice %d", p.Choice), p.Why, why, err, func(s state) bool { return m.agrees(s, choices[p.Choice]) })
		}
	}
	t.Logf("%d reasons, %d of them shorter than the valid one, %d for a value", reasons, shorter, values)
	if reasons < 2500 || shorter < 200 || values < 200 {
		t.Error("the random catalogues do not reach what they are to reach")
	}
}
