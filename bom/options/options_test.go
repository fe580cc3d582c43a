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
	const catalogues = 4000
	var compiled, resolved, nothing, aside, swaps, search int
	for seed := range int64(catalogues) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(11))
		most := 9_000
		if seed%4 == 0 {
			most = 1 << 14
		}
		w := writeDown(&m, most)
		if w == nil {
			continue
		}
		w.keep(m.most()) // of some van at least
		rules, err := Compile(m)
		if w.allowed.empty() != errors.Is(err, ErrNothingAllowed) {
			t.Fatalf("seed %d: Compile says %v", seed, err)
		}
		if err != nil {
			continue
		}
		compiled++
		for range 3 {
			choices := m.randomChoices(r, r.Intn(5))
			a, err := rules.Resolve(choices)
			b := w.answer(choices)
			if b.left.empty() {
				if !errors.Is(err, ErrNothingAllowed) {
					t.Fatalf("seed %d: nothing is allowed, Resolve says %v", seed, err)
				}
				nothing++
				continue
			}
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			b.compare(t, seed, a)
			b.checkReasons(t, seed, a)
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
			for f := range a.Options {
				if !reflect.DeepEqual(a.Why(f), again.Why(f)) {
					t.Fatalf("seed %d: the same choices gave two reasons", seed)
				}
			}
			a.why, again.why = nil, nil
			if !reflect.DeepEqual(a, again) {
				t.Fatalf("seed %d: the same choices gave two answers", seed)
			}
		}
	}
	t.Logf("%d catalogues, %d answers, %d times nothing, %d choices put aside, %d swaps, %d ruled out only by search", compiled, resolved, nothing, aside, swaps, search)
	if compiled < 2000 || nothing < 50 || aside < 100 || swaps < 50 || search < 30 {
		t.Error("the random catalogues do not reach what they are to reach")
	}
}

// floorRulesOut says whether unit propagation alone rules a feature out.
func floorRulesOut(r *Rules, choices []Choice, b *brute, f int) bool {
	s := r.start.Begin()
	s.SetBudget(resolveBudget)
	q := &question{r: r, s: s, choices: choices, kept: make([]int32, len(r.model.Features))}
	if q.lack() != nil {
		panic("nothing allowed")
	}
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
	return s.Value(r.on(f, 1)) < 0 || !s.Take(r.on(f, 1))
}

// written is a model with all its specifications written down.
type written struct {
	m           *Model
	states      []state
	constraints []constraint
	allowed     set
}

// writeDown gives nil for a model with more than most specifications.
func writeDown(m *Model, most int) *written {
	size := 1
	for _, f := range m.Features {
		size *= 2 + f.Most - f.Least
	}
	for _, s := range m.Settings {
		size *= len(s.Values) + 1
	}
	if size > most {
		return nil
	}
	w := &written{m: m, states: m.states(), constraints: m.constraints()}
	w.keep(nil)
	return w
}

// keep works the constraints out anew for a van with so many of each fitted.
func (w *written) keep(kept []int) {
	m := w.m
	for i := range w.states {
		w.states[i].kept = kept
	}
	w.allowed = m.where(w.states, func(state) bool { return true })
	for i := range w.constraints {
		c := &w.constraints[i]
		if c.in != nil && (c.kind != ByGroup || !offeredSometimes(m.Groups[c.index])) {
			w.allowed = w.allowed.and(c.in)
			continue // the same on every van
		}
		c.in = m.where(w.states, func(s state) bool { return c.holds(m, s) })
		w.allowed = w.allowed.and(c.in)
	}
}

func (w *written) place(code string) int {
	return slices.IndexFunc(w.m.Features, func(f Feature) bool { return f.Code == code })
}

func (w *written) agree(c Choice) set {
	return w.m.where(w.states, func(s state) bool { return w.m.agrees(s, c) })
}

func (w *written) lack(f int) set {
	return w.m.where(w.states, func(s state) bool { return s.counts[f] == 0 })
}

// brute is the answer by writing everything down.
type brute struct {
	*written
	choices []Choice
	agreed  []set // by choice
	asides  []int
	fitted  []bool
	left    set
	swap    []bool
}

func (w *written) answer(choices []Choice) *brute {
	n := len(w.m.Features)
	b := &brute{written: w, choices: choices, fitted: make([]bool, n), swap: make([]bool, n)}
	for _, c := range choices {
		b.agreed = append(b.agreed, w.agree(c))
	}
	kept := make([]int, n)
	for _, c := range choices {
		if c.Source == FromFitted {
			f := w.place(c.Feature)
			kept[f] = max(kept[f], c.N)
			b.fitted[f] = true
		}
	}
	w.keep(kept)
	b.left = b.without("")
	for f, feature := range w.m.Features {
		if feature.Group < 0 || !w.m.Groups[feature.Group].AtMostOne || b.can(b.left, f) {
			continue
		}
		for i, c := range choices {
			if c.Source != FromCustomer || c.Verb == Refuse || c.Verb == Pick || slices.Contains(b.asides, i) {
				continue
			}
			if w.m.Features[w.place(c.Feature)].Group == feature.Group {
				b.swap[f] = b.swap[f] || b.can(b.without(c.Feature), f)
			}
		}
	}
	return b
}

// without takes the choices in order, those the customer made on one feature
// left out; with none left out it notes what has to be put aside.
func (b *brute) without(skip string) set {
	left := b.allowed
	for i, f := range b.m.Features {
		if f.NotSold && !b.fitted[i] {
			left = left.and(b.lack(i))
		}
	}
	if left.empty() {
		return left
	}
	for i, c := range b.choices {
		if skip != "" && (c.Feature == skip && c.Source > FromFitted || slices.Contains(b.asides, i)) {
			continue
		}
		next := left.and(b.agreed[i])
		if next.empty() {
			b.asides = append(b.asides, i)
			continue
		}
		left = next
	}
	return left
}

func (b *brute) can(in set, f int) bool {
	can := false
	in.each(func(i int) { can = can || b.states[i].counts[f] > 0 })
	return can
}

func (b *brute) compare(t *testing.T, seed int64, a Answer) {
	t.Helper()
	var asides []int
	for _, p := range a.PutAside {
		asides = append(asides, p.Choice)
	}
	if !slices.Equal(asides, b.asides) {
		t.Fatalf("seed %d: put aside %v, brute force %v", seed, asides, b.asides)
	}
	for f, o := range a.Options {
		code := b.m.Features[f].Code
		least, most := b.m.Features[f].Most, 0
		b.left.each(func(i int) {
			least, most = min(least, b.states[i].counts[f]), max(most, b.states[i].counts[f])
		})
		if o.Least != least || o.Most != most {
			t.Fatalf("seed %d: %s from %d to %d, brute force %d to %d", seed, code, o.Least, o.Most, least, most)
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
			t.Fatalf("seed %d: %s is %s, brute force says %s", seed, code, o.Standing, want)
		}
		if o.Standing == RuledOut && o.ByChoice < 0 && o.Swap != b.swap[f] {
			t.Fatalf("seed %d: %s swap %v, brute force %v", seed, code, o.Swap, b.swap[f])
		}
	}
	// Leaving everything open off is allowed just when nothing is unsettled.
	settled := false
	b.left.each(func(i int) {
		s := b.states[i]
		for f, o := range a.Options {
			if s.counts[f] != o.Least {
				return
			}
		}
		for _, v := range a.Settings {
			if v.Standing == Open && s.settings[v.Setting] == v.Value {
				return
			}
		}
		settled = true
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
func (b *brute) checkReasons(t *testing.T, seed int64, a Answer) {
	t.Helper()
	// left are the specifications a reason leaves of those in bad.
	left := func(reason *Reason, bad set) set {
		for _, i := range reason.Choices {
			bad = bad.and(b.agreed[i])
		}
		for _, c := range reason.Causes {
			if c.Kind == ByVan && b.m.Features[c.Index].NotSold {
				bad = bad.and(b.lack(c.Index))
			}
			for _, k := range b.constraints {
				if k.kind == c.Kind && k.index == c.Index {
					bad = bad.and(k.in)
				}
			}
		}
		return bad
	}
	for f, o := range a.Options {
		code := b.m.Features[f].Code
		why := a.Why(f)
		if (why == nil) != (o.Standing == Open) {
			t.Fatalf("seed %d: %s is %s with reason %v", seed, code, o.Standing, why)
		}
		if why != nil && !left(why, b.m.where(b.states, func(s state) bool {
			return o.Standing == RuledOut && s.counts[f] > 0 || o.Standing != RuledOut && s.counts[f] < o.Least
		})).empty() {
			t.Fatalf("seed %d: %s %s does not follow from %+v", seed, code, o.Standing, why)
		}
		if most := a.WhyMost(f); most != nil && !left(most, b.m.where(b.states, func(s state) bool {
			return s.counts[f] > o.Most
		})).empty() {
			t.Fatalf("seed %d: %s at most %d does not follow from %+v", seed, code, o.Most, most)
		}
	}
	for _, p := range a.PutAside {
		if slices.Contains(p.Why.Choices, p.Choice) {
			t.Fatalf("seed %d: choice %d conflicts with itself", seed, p.Choice)
		}
		if !left(p.Why, b.agreed[p.Choice]).empty() {
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
		if errors.Is(err, ErrNothingAllowed) {
			continue
		}
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
