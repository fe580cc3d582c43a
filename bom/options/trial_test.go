package options

import (
	"errors"
	"math/rand"
	"slices"
	"testing"
)

// TestTrialIsResolve asks one trial about lists that differ a little from one
// another, and Resolve about each anew.
func TestTrialIsResolve(t *testing.T) {
	lists, asides, settled := 0, 0, 0
	for seed := range int64(1500) {
		r := rand.New(rand.NewSource(seed))
		m := randomModel(r, 4+r.Intn(11))
		rules, err := Compile(m)
		if err != nil {
			continue
		}
		trial := rules.Try()
		choices := m.randomChoices(r, r.Intn(6))
		for range 8 {
			a, err := rules.Resolve(choices)
			took := trial.Take(choices)
			if errors.Is(err, ErrNothingAllowed) || err != nil {
				if !errors.Is(took, err) {
					t.Fatalf("seed %d: Resolve says %v, Take %v", seed, err, took)
				}
				trial.End()
				trial = rules.Try()
			} else {
				if took != nil {
					t.Fatalf("seed %d: %v", seed, took)
				}
				lists++
				asides += len(a.PutAside)
				checkTrial(t, seed, trial, choices, a)
				if len(a.Unsettled) == 0 {
					settled++
				}
			}
			choices = varied(r, choices, m.randomChoices(r, 3))
		}
		trial.End()
	}
	t.Logf("%d lists, %d choices put aside, %d settled", lists, asides, settled)
	if lists < 2000 || asides < 500 || settled < 300 {
		t.Error("too few of some kind to say anything")
	}
}

// checkTrial holds what a trial says of the choices it took against an answer.
func checkTrial(t *testing.T, seed int64, trial *Trial, choices []Choice, a Answer) {
	t.Helper()
	counts := make([]int, len(a.Options))
	if err := trial.Counts(counts); err != nil {
		t.Fatal(err)
	}
	for i, o := range a.Options {
		if counts[i] != o.Least {
			t.Fatalf("seed %d: feature %d: %d, Resolve says %d\n%v", seed, i, counts[i], o.Least, choices)
		}
	}
	var aside []int
	for _, p := range a.PutAside {
		aside = append(aside, p.Choice)
	}
	if !slices.Equal(aside, trial.PutAside()) {
		t.Fatalf("seed %d: put aside %v, Resolve says %v", seed, trial.PutAside(), aside)
	}
	if got := trial.Settled(); got != (len(a.Unsettled) == 0) {
		t.Fatalf("seed %d: settled %v, Resolve says %v", seed, got, a.Unsettled)
	}
	got, err := trial.Settle()
	if err != nil {
		t.Fatal(err)
	}
	want, err := trial.q.r.Settle(choices)
	if err != nil {
		t.Fatal(err)
	}
	// What is refused already, as the trial knows, need not be refused again.
	x, err := trial.q.r.Resolve(got)
	if err != nil {
		t.Fatal(err)
	}
	y, err := trial.q.r.Resolve(want)
	if err != nil {
		t.Fatal(err)
	}
	for i := range x.Options {
		if x.Options[i].Least != y.Options[i].Least || x.Options[i].Most != y.Options[i].Most {
			t.Fatalf("seed %d: settles %v, Settle says %v", seed, got, want)
		}
	}
	if len(x.PutAside) != len(y.PutAside) || len(x.Unsettled) != 0 {
		t.Fatalf("seed %d: settles %v, Settle says %v", seed, got, want)
	}
	if err := trial.Counts(counts); err != nil || counts[0] != a.Options[0].Least {
		t.Fatalf("seed %d: settling left something behind", seed)
	}
}

// varied changes a list in one place: one dropped, put in, or turned.
func varied(r *rand.Rand, choices, others []Choice) []Choice {
	out := slices.Clone(choices)
	switch at := r.Intn(len(out) + 1); {
	case at < len(out) && r.Intn(2) == 0:
		return slices.Delete(out, at, at+1)
	case at < len(out) && len(others) > 0 && r.Intn(2) == 0:
		out[at] = others[r.Intn(len(others))]
		return out
	case len(others) > 0:
		return slices.Insert(out, at, others[r.Intn(len(others))])
	default:
		return out
	}
}
