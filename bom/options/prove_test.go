package options

import (
	"errors"
	"math/rand"
	"slices"
	"testing"

	"wainscot/bom/formula"
)

// TestProveIsBruteForce holds every verdict of a proof against all
// specifications written down, over every van of the kind written down.
func TestProveIsBruteForce(t *testing.T) {
	models, broken, implied, hard := 0, 0, 0, 0
	for seed := int64(1); models < 400; seed++ {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 3+r.Intn(4))
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		models++
		asked := Proving{Kept: m.randomKept(r), Work: 1 << 40}
		for i := range m.Rules {
			asked.Rules = append(asked.Rules, i)
		}
		for range 4 {
			asked.Claims = append(asked.Claims, Claim{m.randomCondition(r, 1), m.randomCondition(r, 1)})
		}
		got, err := rules.Prove(asked)
		w := proofWitness{t: t, m: &m, rules: rules, asked: &asked, seed: seed}
		w.usual, w.any = m.allowedStates(asked.Kept), m.allowedStates(m.most())
		if len(w.usual) == 0 {
			if !errors.Is(err, ErrNothingAllowed) {
				t.Fatalf("model %d: nothing is allowed, but: %v", seed, err)
			}
			continue
		}
		if err != nil {
			t.Fatalf("model %d: %v", seed, err)
		}
		w.features(&got)
		w.groups(&got)
		w.rulesOf(&got)
		w.claims(&got)
		implied += len(got.Implied)
		for _, c := range got.Claims {
			if c.Holds == No {
				broken++
			}
		}
		for _, u := range got.Unsettleable {
			if u == Yes {
				hard++
			}
		}
	}
	t.Logf("%d models: %d claims broken, %d rules implied, %d groups that cannot be settled", models, broken, implied, hard)
	if broken < 100 || implied < 100 || hard < 3 {
		t.Error("too little of it happens to be a test")
	}
}

// proofWitness holds a proof against lists of specifications.
type proofWitness struct {
	t          *testing.T
	m          *Model
	rules      *Rules
	asked      *Proving
	seed       int64
	usual, any []state
}

func (w *proofWitness) is(what string, i int, got Verdict, want bool) {
	w.t.Helper()
	verdict := No
	if want {
		verdict = Yes
	}
	if got != verdict {
		w.t.Fatalf("model %d: %s %d: %v, by brute force %v\n%+v", w.seed, what, i, got, verdict, *w.m)
	}
}

func some(states []state, holds func(state) bool) bool { return slices.ContainsFunc(states, holds) }

func (w *proofWitness) features(got *Proved) {
	for i, f := range w.m.Features {
		w.is("feature", i, got.CanBeOn[i], some(w.usual, func(s state) bool { return s.counts[i] > 0 }))
		most := 0
		for _, s := range w.usual {
			most = max(most, s.counts[i])
		}
		if f.Most > 1 && got.Most[i] != most {
			w.t.Fatalf("model %d: feature %d: at most %d, by brute force %d", w.seed, i, got.Most[i], most)
		}
	}
	for i, set := range w.m.Settings {
		for k := range set.Values {
			w.is("value", k, got.Possible[i][k], some(w.usual, func(s state) bool { return s.settings[i] == k }))
		}
	}
}

func (w *proofWitness) groups(got *Proved) {
	for g, group := range w.m.Groups {
		offered := func(s state) bool { return w.m.holds(s, group.When) }
		w.is("group offered", g, got.Offered[g], some(w.usual, offered))
		w.is("group pickable", g, got.Pickable[g], some(w.usual, func(s state) bool {
			return offered(s) && slices.ContainsFunc(w.rules.members[g], func(f int) bool { return s.counts[f] > 0 })
		}))
		required := func(s state) bool { return w.m.holds(s, group.Required) }
		free := *w.m
		free.Groups = slices.Clone(free.Groups)
		free.Groups[g].Required = formula.False
		w.is("group unsettleable", g, got.Unsettleable[g],
			!some(w.usual, required) && some(free.allowedStates(w.asked.Kept), required))
	}
}

func (w *proofWitness) rulesOf(got *Proved) {
	for i, rule := range w.m.Rules {
		// The rule asks for nothing, but still lets its followers be there.
		without := w.statesBut(ByRule, i)
		w.is("rule bites", i, got.Bites[i], some(without, func(s state) bool { return w.m.holds(s, rule.If) }))
		supports := slices.ContainsFunc(rule.Brings, func(b Count) bool { return w.m.Features[b.Feature].Follower })
		implied := !supports && len(without) == len(w.any)
		if implied != slices.Contains(got.Implied, i) {
			w.t.Fatalf("model %d: rule %d: implied %v, by brute force %v\n%+v", w.seed, i, !implied, implied, *w.m)
		}
	}
}

// statesBut are the specifications that all but one constraint allow on some
// van, whatever it comes with.
func (w *proofWitness) statesBut(kind CauseKind, index int) []state {
	constraints := slices.DeleteFunc(w.m.constraints(), func(c constraint) bool { return c.kind == kind && c.index == index })
	var out []state
	for _, s := range w.m.states() {
		if w.m.someVanHas(constraints, s, w.m.most()) {
			out = append(out, s)
		}
	}
	return out
}

func (w *proofWitness) claims(got *Proved) {
	for i, c := range w.asked.Claims {
		p := &got.Claims[i]
		breaks := func(s state) bool { return w.m.holds(s, c.If) && !w.m.holds(s, c.Holds) }
		w.is("claim", i, p.Holds, !some(w.any, breaks))
		w.is("claim bites", i, p.Bites, some(w.any, func(s state) bool { return w.m.holds(s, c.If) }))
		if p.Holds == Yes {
			continue
		}
		if p.AsItComes != some(w.usual, breaks) {
			w.t.Fatalf("model %d: claim %d: as it comes %v", w.seed, i, p.AsItComes)
		}
		if !w.rules.shows(p.Against, c) {
			w.t.Fatalf("model %d: claim %d: %v does not show it\n%+v", w.seed, i, p.Against, *w.m)
		}
		for k, said := range p.Against {
			if said.Source != FromVan && w.rules.shows(slices.Delete(slices.Clone(p.Against), k, k+1), c) {
				w.t.Fatalf("model %d: claim %d: %+v can be left out of %v", w.seed, i, said, p.Against)
			}
		}
		w.shownByBruteForce(i, c, p.Against)
	}
}

// shownByBruteForce takes the choices at their word: with exactly what they
// name and what follows, the specification is allowed on the van they name and
// breaks the claim.
func (w *proofWitness) shownByBruteForce(i int, c Claim, against []Choice) {
	a, err := w.rules.Resolve(against)
	if err != nil {
		w.t.Fatal(err)
	}
	sp := w.rules.sofar(&a)
	s := state{counts: sp.Counts, settings: sp.Values, kept: make([]int, len(w.m.Features))}
	for _, said := range against {
		if said.Source == FromFitted {
			s.kept[w.rules.byCode[said.Feature]] = count(said)
		}
		if !w.m.agrees(s, said) {
			w.t.Fatalf("model %d: claim %d: %+v is not what %v says", w.seed, i, s, said)
		}
	}
	for f := range w.m.Features {
		if w.m.Features[f].NotSold && s.counts[f] > 0 && s.kept[f] == 0 {
			w.t.Fatalf("model %d: claim %d: %+v has what is not sold", w.seed, i, s)
		}
	}
	for _, k := range w.m.constraints() {
		if !k.holds(w.m, s) {
			w.t.Fatalf("model %d: claim %d: %+v is not allowed: %v %d", w.seed, i, s, k.kind, k.index)
		}
	}
	if !w.m.holds(s, c.If) || w.m.holds(s, c.Holds) {
		w.t.Fatalf("model %d: claim %d: %+v keeps it", w.seed, i, s)
	}
}

// A proof that runs out of work says what it did not decide, and never decides
// otherwise than one that has enough.
func TestProveRunsOut(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	for range 40 {
		m := randomModel(r, 8)
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		asked := Proving{Kept: m.randomKept(r), Work: 1 << 40}
		asked.Claims = []Claim{{m.randomCondition(r, 1), m.randomCondition(r, 1)}}
		whole, err := rules.Prove(asked)
		if err != nil {
			continue
		}
		for work := int64(10); work < 3_000; work += 200 {
			asked.Work = work
			got, err := rules.Prove(asked)
			if errors.Is(err, ErrBudget) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			for i, c := range got.CanBeOn {
				if c != Undecided && c != whole.CanBeOn[i] {
					t.Fatalf("feature %d: %v with little work, %v with enough", i, c, whole.CanBeOn[i])
				}
			}
			if c := got.Claims[0].Holds; c != Undecided && c != whole.Claims[0].Holds {
				t.Fatalf("the claim: %v with little work, %v with enough", c, whole.Claims[0].Holds)
			}
		}
	}
}

func TestProveStops(t *testing.T) {
	rules, err := Compile(randomModel(rand.New(rand.NewSource(5)), 6))
	if err != nil {
		t.Fatal(err)
	}
	last := 0
	_, err = rules.Prove(Proving{Work: 1 << 40, Progress: func(done, of int) bool {
		if done != last+1 || of < done {
			t.Errorf("%d of %d after %d", done, of, last)
		}
		last = done
		return done < 3
	}})
	if !errors.Is(err, ErrStopped) || last != 3 {
		t.Errorf("stopped at the third question: %v after %d", err, last)
	}
}
