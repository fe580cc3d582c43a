package options

import (
	"errors"
	"math/rand"
	"reflect"
	"slices"
	"testing"
)

// TestResolveIsBruteForce holds every answer against the plainest reading of
// the model: all specifications written down. Source: the definitions of
// docs/engine.md, checked exhaustively.
func TestResolveIsBruteForce(t *testing.T) {
	const catalogues = 2500
	var resolved, aside, swaps, search int
	for seed := range int64(catalogues) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(11))
		all := m.states()
		if len(all) > 100_000 {
			continue
		}
		cs := m.constraints()
		allowed := keep(&m, all, cs)
		rules, err := Compile(m)
		if (len(allowed) == 0) != errors.Is(err, ErrNothingAllowed) {
			t.Fatalf("seed %d: %d allowed, Compile says %v", seed, len(allowed), err)
		}
		if err != nil {
			continue
		}
		for range 3 {
			choices := m.randomChoices(r, r.Intn(5))
			a, err := rules.Resolve(choices)
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			b := bruteAnswer(&m, allowed, choices)
			b.compare(t, seed, &m, a)
			b.checkReasons(t, seed, &m, all, cs, a)
			resolved++
			aside += len(a.PutAside)
			for _, o := range a.Options {
				if o.Swap {
					swaps++
				}
				if o.Standing == RuledOut && !floorRulesOut(rules, choices, b, o.Feature) {
					search++
				}
			}
			again, _ := rules.Resolve(choices)
			a.why, again.why = nil, nil
			if !reflect.DeepEqual(a, again) {
				t.Fatalf("seed %d: the same choices gave two answers", seed)
			}
		}
	}
	t.Logf("%d answers, %d choices put aside, %d swaps, %d ruled out only by search", resolved, aside, swaps, search)
	if resolved < 2000 || aside < 100 || swaps < 50 || search < 20 {
		t.Error("the random catalogues do not reach what they are to reach")
	}
}

// floorRulesOut says whether unit propagation alone rules a feature out.
func floorRulesOut(r *Rules, choices []Choice, b *brute, f int) bool {
	s := r.start.Begin()
	q := &question{r: r, s: s}
	for i, c := range choices {
		if slices.Contains(b.asides, i) {
			continue
		}
		if err := q.literals(c); err != nil {
			panic(err)
		}
		for _, l := range q.lits {
			s.Take(l)
		}
	}
	for i, feature := range r.model.Features {
		if feature.NotSold && !b.fitted[i] {
			s.Take(r.on(i, 1).Not())
		}
	}
	return s.Value(r.on(f, 1)) < 0 || !s.Take(r.on(f, 1))
}

// brute is the answer by writing everything down.
type brute struct {
	choices []Choice
	asides  []int
	fitted  []bool
	left    []state
	before  [][]state // by put-aside choice: the states it was tried on
	swap    []bool
	unsound bool // the features left off break something
	m       *Model
}

func bruteAnswer(m *Model, allowed []state, choices []Choice) *brute {
	b := &brute{m: m, choices: choices, left: allowed, fitted: make([]bool, len(m.Features)), swap: make([]bool, len(m.Features))}
	filter := func(states []state, c Choice) []state {
		var out []state
		for _, s := range states {
			if m.agrees(s, c) {
				out = append(out, s)
			}
		}
		return out
	}
	without := func(skip string) []state {
		left := allowed
		lacking := false
		lack := func() {
			if lacking {
				return
			}
			lacking = true
			for i, f := range m.Features {
				if f.NotSold && !b.fitted[i] {
					if next := filter(left, Choice{Verb: Refuse, Feature: f.Code}); len(next) > 0 {
						left = next
					}
				}
			}
		}
		for i, c := range choices {
			if c.Source > FromFitted {
				lack()
			}
			if skip != "" && (c.Feature == skip && c.Source > FromFitted || slices.Contains(b.asides, i)) {
				continue
			}
			next := filter(left, c)
			if len(next) == 0 {
				b.asides = append(b.asides, i)
				b.before = append(b.before, left)
				continue
			}
			if c.Source == FromFitted {
				for f := range m.Features {
					if m.Features[f].Code == c.Feature {
						b.fitted[f] = true
					}
				}
			}
			left = next
		}
		lack()
		return left
	}
	b.left = without("")
	for f, feature := range m.Features {
		if feature.Group < 0 || !m.Groups[feature.Group].AtMostOne || b.can(b.left, f) {
			continue
		}
		for i, c := range choices {
			if c.Source != FromCustomer || c.Verb == Refuse || c.Verb == Pick || slices.Contains(b.asides, i) {
				continue
			}
			if g := slices.IndexFunc(m.Features, func(o Feature) bool { return o.Code == c.Feature }); m.Features[g].Group == feature.Group {
				b.swap[f] = b.swap[f] || b.can(without(c.Feature), f)
			}
		}
	}
	return b
}

func (b *brute) can(states []state, f int) bool {
	return slices.ContainsFunc(states, func(s state) bool { return s.counts[f] > 0 })
}

func (b *brute) compare(t *testing.T, seed int64, m *Model, a Answer) {
	t.Helper()
	var asides []int
	for _, p := range a.PutAside {
		asides = append(asides, p.Choice)
	}
	if !slices.Equal(asides, b.asides) {
		t.Fatalf("seed %d: put aside %v, brute force %v", seed, asides, b.asides)
	}
	for f, o := range a.Options {
		least, most := m.Features[f].Most, 0
		for _, s := range b.left {
			least, most = min(least, s.counts[f]), max(most, s.counts[f])
		}
		if o.Least != least || o.Most != most {
			t.Fatalf("seed %d: %s from %d to %d, brute force %d to %d", seed, m.Features[f].Code, o.Least, o.Most, least, most)
		}
		want := ComesWith
		switch by := b.chosen(f); {
		case most == 0:
			want = RuledOut
		case least == 0:
			want = Open
		case by != 0:
			want = by
		}
		if o.Standing != want {
			t.Fatalf("seed %d: %s is %s, brute force says %s", seed, m.Features[f].Code, o.Standing, want)
		}
		refused := o.ByChoice >= 0
		if o.Standing == RuledOut && !refused && o.Swap != b.swap[f] {
			t.Fatalf("seed %d: %s swap %v, brute force %v", seed, m.Features[f].Code, o.Swap, b.swap[f])
		}
	}
	// Leaving everything open off is allowed just when nothing is unsettled.
	settled := slices.ContainsFunc(b.left, func(s state) bool {
		for f, o := range a.Options {
			if s.counts[f] != o.Least {
				return false
			}
		}
		for _, v := range a.Settings {
			if v.Standing == Open && s.settings[v.Setting] == v.Value {
				return false
			}
		}
		return true
	})
	if settled != (len(a.Unsettled) == 0) {
		t.Fatalf("seed %d: unsettled %v, brute force settled %v", seed, a.Unsettled, settled)
	}
}

// chosen says who asked for a feature, by the choices not put aside.
func (b *brute) chosen(f int) Standing {
	var by Standing
	kept := 0
	for i, c := range b.choices {
		if c.Feature != b.m.Features[f].Code || slices.Contains(b.asides, i) || c.Verb == Refuse {
			continue
		}
		if c.Source == FromFitted {
			by, kept = AlreadyThere, c.N
		} else if count(c) > kept {
			return Chosen
		}
	}
	return by
}

// checkReasons takes each reason at its word: only its choices, only its
// rules, and the standing must follow.
func (b *brute) checkReasons(t *testing.T, seed int64, m *Model, all []state, cs []constraint, a Answer) {
	t.Helper()
	follow := func(reason *Reason, also []Choice, bad func(state) bool) bool {
		var use []constraint
		lacks := map[int]bool{}
		for _, c := range reason.Causes {
			for _, k := range cs {
				if k.kind == c.Kind && k.index == c.Index {
					use = append(use, k)
				}
			}
			if c.Kind == ByVan && m.Features[c.Index].NotSold {
				lacks[c.Index] = true
			}
		}
	next:
		for _, s := range all {
			if !bad(s) {
				continue
			}
			for _, i := range reason.Choices {
				if !m.agrees(s, b.choices[i]) {
					continue next
				}
			}
			for _, c := range also {
				if !m.agrees(s, c) {
					continue next
				}
			}
			for f := range lacks {
				if s.counts[f] > 0 {
					continue next
				}
			}
			for _, k := range use {
				if !k.holds(m, s) {
					continue next
				}
			}
			return false
		}
		return true
	}
	for f, o := range a.Options {
		why := a.Why(f)
		if (why == nil) != (o.Standing == Open) {
			t.Fatalf("seed %d: %s is %s with reason %v", seed, m.Features[f].Code, o.Standing, why)
		}
		if why != nil && !follow(why, nil, func(s state) bool {
			return o.Standing == RuledOut && s.counts[f] > 0 || o.Standing != RuledOut && s.counts[f] < o.Least
		}) {
			t.Fatalf("seed %d: %s %s does not follow from %+v", seed, m.Features[f].Code, o.Standing, why)
		}
		if most := a.WhyMost(f); most != nil && !follow(most, nil, func(s state) bool { return s.counts[f] > o.Most }) {
			t.Fatalf("seed %d: %s at most %d does not follow from %+v", seed, m.Features[f].Code, o.Most, most)
		}
	}
	for _, p := range a.PutAside {
		if slices.Contains(p.Why.Choices, p.Choice) {
			t.Fatalf("seed %d: choice %d conflicts with itself", seed, p.Choice)
		}
		if !follow(p.Why, []Choice{b.choices[p.Choice]}, func(state) bool { return true }) {
			t.Fatalf("seed %d: choice %d fits with %+v", seed, p.Choice, p.Why)
		}
	}
}

// TestSettleFinishes holds settling against its promise: everything decided,
// every rule kept, nothing the customer said undone.
func TestSettleFinishes(t *testing.T) {
	for seed := range int64(600) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(9))
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		choices := m.randomChoices(r, r.Intn(4))
		before, err := rules.Resolve(choices)
		if err != nil {
			t.Fatal(err)
		}
		settled, err := rules.Settle(choices)
		if err != nil {
			t.Fatal(err)
		}
		after, err := rules.Resolve(settled)
		if err != nil {
			t.Fatal(err)
		}
		if len(after.PutAside) != len(before.PutAside) {
			t.Fatalf("seed %d: settling added choices that do not fit: %v", seed, after.PutAside)
		}
		if len(after.Unsettled) != 0 {
			t.Fatalf("seed %d: still to settle: %v", seed, after.Unsettled)
		}
		for f, o := range after.Options {
			if o.Least != o.Most {
				t.Fatalf("seed %d: %s still from %d to %d", seed, m.Features[f].Code, o.Least, o.Most)
			}
			if b := before.Options[f]; o.Least < b.Least || o.Most > b.Most {
				t.Fatalf("seed %d: settling left what was possible", seed)
			}
		}
	}
}
