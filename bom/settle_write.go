package bom

import (
	"slices"

	"wainscot/bom/options"
)

// write gives the choices with what was taken on the way to where it stands,
// and no more than is needed for the rest to come with it.
func (s *seeking) write() (Choices, error) {
	w := s.writer
	w.Start()
	var picked []int
	pick := func(k, n int) error {
		if least, _ := w.Bounds(k); least >= n {
			return nil
		}
		_, err := w.Take(s.choice(k, n))
		if !slices.Contains(picked, k) {
			picked = append(picked, k)
		}
		return err
	}
	for _, c := range s.taken {
		if err := pick(s.featureOf(c), max(c.N, 1)); err != nil {
			return Choices{}, err
		}
	}
	out := *s.choices
	out.Finishes = slices.Clone(out.Finishes)
	chosen := s.picked()
	for k, c := range s.pick {
		if c < 0 || chosen[k] == c {
			continue
		}
		f := &s.r.catalogue.Finishes[k]
		choice := FinishChoice{Finish: f.Code, Choice: f.Choices[c].Code}
		if i := slices.IndexFunc(out.Finishes, func(o FinishChoice) bool { return o.Finish == f.Code }); i >= 0 {
			out.Finishes[i] = choice // what was said could not be had
		} else {
			out.Finishes = append(out.Finishes, choice)
		}
		if s.settingOf[k] >= 0 {
			if _, err := w.Take(s.pickOf(k, c)); err != nil {
				return Choices{}, err
			}
		}
	}
	// What only a refusal on the way has brought.
	for _, follower := range []bool{false, true} {
		for k := range s.r.featureCodes {
			if n, _ := s.walk.Bounds(k); n > 0 && s.r.catalogue.Features[k].Follower == follower {
				if err := pick(k, n); err != nil {
					return Choices{}, err
				}
			}
		}
	}
	out.Features = slices.Clone(out.Features)
	for _, k := range picked {
		c := Choice{Want: s.r.featureCodes[k]}
		if s.r.catalogue.Features[k].Count != nil {
			c.Count, _ = s.walk.Bounds(k)
		}
		out.Features = append(out.Features, c)
	}
	return out, nil
}

// finish tells what was found.
func (s *seeking) finish() error {
	s.out.Choices = s.kept
	resolution, faults, err := Specify(s.r, s.van, s.kept, SettleNothing)
	if err == nil && len(faults) > 0 {
		// More is there than is sold, or more than may be said at once: the
		// choices stay as they are.
		s.out.Choices, s.out.Proved = *s.choices, false
		s.out.After = s.out.Before
		return nil
	}
	if err != nil {
		return err
	}
	s.out.After = Settling{resolution, Expand(s.r, resolution.Specification)}
	return s.added()
}

// added tells what is there now and was not before, picks in the order they
// were made, then what comes with them, then finishes.
func (s *seeking) added() error {
	before := map[string]int{}
	for _, f := range s.out.Before.Resolution.Specification.Features {
		before[f.Code] = f.Count
	}
	now := map[string]*SpecifiedFeature{}
	spec := &s.out.After.Resolution.Specification
	for i := range spec.Features {
		now[spec.Features[i].Code] = &spec.Features[i]
	}
	s.writer.Start()
	for _, c := range s.kept.Features[len(s.choices.Features):] {
		k := s.r.features[c.Want]
		n := s.feature(k, c.Want, now[c.Want], before[c.Want])
		choice := s.choice(k, max(c.Count, 1))
		n.Why = s.why(choice)
		if _, err := s.writer.Take(choice); err != nil {
			return err
		}
		delete(now, c.Want)
		s.out.Added = append(s.out.Added, n)
	}
	for i := range spec.Features {
		f := &spec.Features[i]
		if now[f.Code] == nil || f.Count <= before[f.Code] {
			continue
		}
		n := s.feature(s.r.features[f.Code], f.Code, f, before[f.Code])
		n.ComesWith, n.Why = true, f.Why
		s.out.Added = append(s.out.Added, n)
	}
	chosen := map[string]string{}
	for _, f := range s.out.Before.Resolution.Specification.Finishes {
		chosen[f.Finish] = f.Choice
	}
	for _, f := range spec.Finishes {
		if f.Choice == "" || chosen[f.Finish] == f.Choice {
			continue
		}
		k := s.r.finishes[f.Finish]
		finish := &s.r.catalogue.Finishes[k]
		s.out.Added = append(s.out.Added, Added{Finish: FinishChoice{Finish: f.Finish, Choice: f.Choice},
			Name: finish.Name + ": " + finish.Choices[s.choiceOf(k, f.Choice)].Name, Why: "It was still to choose."})
	}
	return nil
}

func (s *seeking) feature(k int, code string, f *SpecifiedFeature, before int) Added {
	n := Added{Feature: code, Name: s.r.catalogue.Features[k].Name}
	if f != nil {
		n.Count = f.Count - before
	}
	if g := s.r.groupOf[k]; g >= 0 {
		n.Group, n.Stage = s.r.catalogue.Groups[g].Code, s.r.catalogue.Groups[g].Stage
	}
	return n
}

// why says what asks for a pick at the place where it is made.
func (s *seeking) why(c options.Choice) string {
	for _, m := range s.writer.Missing() {
		if m.Cause.Says != "" && slices.ContainsFunc(m.Any, func(a options.Choice) bool { return a.Feature == c.Feature }) {
			return m.Cause.Says
		}
	}
	if s.aim == nil {
		return "It is taken where nothing else is said."
	}
	return "With it the whole comes to less."
}
