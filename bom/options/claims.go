package options

import (
	"cmp"
	"errors"
	"slices"

	"wainscot/bom/formula"
	"wainscot/bom/options/internal/sat"
)

// claims proves what is sworn by, over every van of the kind whatever it comes
// with. Where one does not hold, a van as it comes is the better example.
func (v *prover) claims() error {
	if len(v.p.Claims) == 0 {
		return nil
	}
	conditions := make([]formula.Condition, 0, 2*len(v.p.Claims))
	for _, c := range v.p.Claims {
		conditions = append(conditions, c.broken(), c.condition())
	}
	sc, lits, err := v.scope(&v.r.model, v.r.anything(), conditions...)
	if err != nil {
		return err
	}
	var usual *scope
	var usually []sat.Lit
	for i, c := range v.p.Claims {
		p := ClaimProof{Bites: verdictOf(sc.can(lits[2*i+1]))}
		switch sc.can(lits[2*i]) {
		case can:
			p.Holds = No
			if usual == nil {
				if usual, usually, err = v.scope(&v.r.model, v.r.asItComes(v.p.Kept), conditions...); err != nil {
					return err
				}
			}
			if usual.can(usually[2*i]) == can {
				p.AsItComes = true
				p.Against = v.against(usual, usually[2*i], c)
			} else {
				p.Against = v.against(sc, lits[2*i], c)
			}
		case cannot:
			p.Holds = Yes
		case undecided:
			p.Holds = Undecided
		}
		v.out.Claims = append(v.out.Claims, p)
		v.done++
		if err := v.step(); err != nil {
			return err
		}
	}
	return nil
}

func (c Claim) condition() formula.Condition {
	if c.If.Op == 0 {
		return formula.True
	}
	return c.If
}

// broken is where the claim does not hold.
func (c Claim) broken() formula.Condition {
	if c.Holds.Op == 0 {
		return formula.False
	}
	return formula.And(c.condition(), formula.Not(c.Holds))
}

// against finds choices that show that a claim does not hold.
func (v *prover) against(sc *scope, broken sat.Lit, c Claim) []Choice {
	depth := sc.s.Depth()
	defer func() { sc.s.Back(depth) }()
	if sc.assume(broken) != can {
		return nil
	}
	sc.plain()
	sp := sc.specimen()
	// Better a van that has only what is not sold, and the rest new.
	fewer := sp
	fewer.Kept = slices.Clone(sp.Kept)
	for i, f := range v.r.model.Features {
		if !f.NotSold {
			fewer.Kept[i] = 0
		}
	}
	if choices := v.r.choices(fewer, true); v.r.shows(choices, c) {
		return v.r.fewest(choices, c)
	}
	// Whatever is there may be wanted, or kept, or both: what is kept comes
	// last, so that it is left out first.
	choices := v.r.choices(fewer, true)
	for i, f := range v.r.model.Features {
		if n := sp.Kept[i]; n > 0 && !f.NotSold {
			choices = append(choices, keeping(f, n))
		}
	}
	choices = v.r.fewest(choices, c)
	slices.SortStableFunc(choices, func(a, b Choice) int { return cmp.Compare(a.Source, b.Source) })
	return choices
}

// plain takes from what is still open the plainest: the van as most are, no
// feature that need not be, none more of it than must be.
func (sc *scope) plain() {
	m := &sc.rules.model
	for i, s := range m.Settings {
		vars := sc.rules.value[i]
		if s.Exact {
			for _, v := range vars {
				if sc.assume(sat.Pos(v)) == can {
					break
				}
			}
			continue
		}
		for _, v := range vars {
			sc.assume(sat.Pos(v).Not())
		}
	}
	for i, f := range slices.Backward(m.Features) {
		for k := f.Least; k <= f.Most; k++ {
			if sc.assume(sc.rules.on(i, k).Not()) == can {
				break
			}
		}
	}
}

// shows says whether choices resolve clean, with nothing to settle, and break
// the claim.
func (r *Rules) shows(choices []Choice, c Claim) bool {
	a, err := r.ResolveWithoutSwaps(choices)
	if err != nil || len(a.PutAside) > 0 || len(a.Unsettled) > 0 {
		return false
	}
	return r.Holds(r.sofar(&a), c.broken())
}

// sofar is what an answer comes to with everything open left off.
func (r *Rules) sofar(a *Answer) Specimen {
	sp := Specimen{Counts: make([]int, len(r.model.Features)), Values: make([]int, len(r.model.Settings))}
	for _, o := range a.Options {
		if o.Least > 0 {
			sp.Counts[o.Feature] = max(o.Least, r.model.Features[o.Feature].Least)
		}
	}
	for i := range sp.Values {
		sp.Values[i] = -1
	}
	for _, v := range a.Settings {
		if v.Standing == Chosen {
			sp.Values[v.Setting] = v.Value
		}
	}
	return sp
}

// fewest leaves out choices, the last first, until none can be left out: what
// is left still shows that the claim does not hold. What the single van is
// stays: it is not chosen.
func (r *Rules) fewest(choices []Choice, c Claim) []Choice {
	for shorter := true; shorter; {
		shorter = false
		for i, said := range slices.Backward(choices) {
			if said.Source == FromVan {
				continue
			}
			if less := slices.Delete(slices.Clone(choices), i, i+1); r.shows(less, c) {
				choices, shorter = less, true
			}
		}
	}
	return choices
}

// Shows says whether choices resolve clean, with nothing to settle, to a
// specification on which a claim does not hold.
func (r *Rules) Shows(choices []Choice, c Claim) (bool, error) {
	_, err := r.ResolveWithoutSwaps(choices)
	if err != nil && !errors.Is(err, ErrNothingAllowed) {
		return false, err
	}
	return r.shows(choices, c), nil
}
