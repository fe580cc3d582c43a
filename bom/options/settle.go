package options

import (
	"errors"
	"slices"

	"wainscot/bom/options/internal/sat"
)

// Settle finishes what the choices leave open, by group in settling order: the
// group's defaults first (all of them where any number may be picked, else the
// first that can be), then everything else of the group off, the last written
// first, each step only if it still leaves something allowed. A counted
// feature that has to be there is taken as few as can be. It never goes back.
//
// It returns the choices with its own appended, as FromSettling; choices that
// do not fit are left in place and put aside again by Resolve. Errors as of
// Resolve.
func (r *Rules) Settle(choices []Choice) ([]Choice, error) {
	q, err := r.begin(choices)
	defer q.end()
	if err != nil {
		return nil, err
	}
	s := settling{q: q, out: slices.Clone(choices)}
	if err := s.all(); err != nil {
		return nil, err
	}
	return s.out, nil
}

// all settles everything there is, on top of the choices taken.
func (s *settling) all() error {
	r := s.q.r
	for _, g := range r.settleOrder() {
		if err := s.group(g); err != nil {
			return err
		}
	}
	for i, f := range r.model.Features {
		if f.Group < 0 && !f.Follower {
			if err := s.feature(i); err != nil {
				return err
			}
		}
	}
	// Followers last: turned off early one would rule out what brings it.
	for i, f := range r.model.Features {
		if f.Follower {
			if err := s.feature(i); err != nil {
				return err
			}
		}
	}
	for i := range r.model.Settings {
		if err := s.setting(i); err != nil {
			return err
		}
	}
	return nil
}

func (r *Rules) settleOrder() []int {
	order := slices.Clone(r.model.SettleOrder)
	for g := range r.model.Groups {
		if !slices.Contains(r.model.SettleOrder, g) {
			order = append(order, g)
		}
	}
	return order
}

type settling struct {
	q   *question
	out []Choice
}

// try takes a choice if it can be.
func (s *settling) try(c Choice) (bool, error) {
	c.Source = FromSettling
	if err := s.q.literals(c); err != nil {
		return false, err
	}
	depth := s.q.s.Depth()
	for _, l := range s.q.lits {
		err := s.q.assume(l, -1, -1)
		if errors.Is(err, errNo) {
			s.q.s.Back(depth)
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	s.out = append(s.out, c)
	return true, nil
}

func (s *settling) group(g int) error {
	r := s.q.r
	group := &r.model.Groups[g]
	on := func(f int) bool { return s.q.s.Value(r.on(f, 1)) > 0 }
	if !group.AtMostOne || !slices.ContainsFunc(r.members[g], on) {
		for _, d := range group.Default {
			if s.q.s.Value(r.on(d.Feature, 1)) != 0 {
				continue
			}
			f := &r.model.Features[d.Feature]
			c := Choice{Verb: Want, Feature: f.Code}
			if f.Most > 1 {
				c.Verb, c.N = Number, max(d.N, f.Least)
			}
			took, err := s.try(c)
			if err != nil {
				return err
			}
			if took && group.AtMostOne {
				break
			}
		}
	}
	for _, f := range slices.Backward(r.members[g]) {
		if r.model.Features[f].Follower {
			continue
		}
		if err := s.feature(f); err != nil {
			return err
		}
	}
	return nil
}

// feature turns a feature off, or down to as few as can be.
func (s *settling) feature(i int) error {
	r := s.q.r
	f := &r.model.Features[i]
	if s.q.s.Value(r.on(i, 1)) == 0 {
		took, err := s.try(Choice{Verb: Refuse, Feature: f.Code})
		if took || err != nil {
			return err
		}
	}
	if f.Most == f.Least || s.q.s.Value(r.on(i, 1)) < 0 {
		return nil
	}
	for n := f.Least; n < f.Most; n++ {
		if s.q.s.Value(r.on(i, n+1)) != 0 {
			if s.q.s.Value(r.on(i, n+1)) < 0 {
				return nil
			}
			continue
		}
		took, err := s.try(Choice{Verb: Number, Feature: f.Code, N: n})
		if took || err != nil {
			return err
		}
	}
	return nil
}

// setting picks the default of a setting that is open, else its first value
// that can be.
func (s *settling) setting(i int) error {
	r := s.q.r
	set := &r.model.Settings[i]
	for _, v := range r.value[i] {
		if s.q.s.Value(sat.Pos(v)) > 0 {
			return nil
		}
	}
	values := set.Values
	if set.Default != "" {
		values = append([]string{set.Default}, values...)
	}
	for _, v := range values {
		took, err := s.try(Choice{Verb: Pick, Feature: set.Name, Value: v})
		if took || err != nil {
			return err
		}
	}
	return nil
}
