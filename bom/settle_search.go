package bom

import (
	"cmp"
	"slices"

	"wainscot/bom/options"
)

// place looks at everything that can be reached from where it stands.
func (s *seeking) place() error {
	if s.spent() {
		return nil
	}
	missing := s.walk.Missing()
	floor := s.floor(missing)
	if !s.better(floor) {
		return nil
	}
	if len(missing) > 0 {
		return s.branch(s.question(missing).Any)
	}
	if err := s.finishing(); err != nil {
		return err
	}
	return s.more(floor)
}

func (s *seeking) spent() bool {
	if s.left <= 0 {
		s.ended = true
	}
	if s.ended {
		return true
	}
	s.left--
	s.out.Steps++
	return false
}

// question is the one of what is missing to answer next: what leaves the least
// choice, then what comes first in the order of settling.
func (s *seeking) question(missing []options.Missing) *options.Missing {
	best := &missing[0]
	for i := range missing {
		if len(missing[i].Any) < len(best.Any) {
			best = &missing[i]
		}
	}
	return best
}

// branch looks at each answer to a question, the ones before it left out.
func (s *seeking) branch(answers []options.Choice) error {
	s.sort(answers)
	here, taken := s.walk.Here(), len(s.taken)
	defer func() { s.taken = s.taken[:taken] }()
	for _, c := range answers {
		at := s.walk.Here()
		ok, err := s.walk.Take(c)
		if err != nil {
			return err
		}
		if ok {
			if c.Verb != options.Pick {
				s.taken = append(s.taken, c)
			}
			if err := s.place(); err != nil || s.ended {
				return err
			}
			s.walk.Back(at)
			s.taken = s.taken[:taken]
		}
		if ok, err = s.walk.Without(c); err != nil {
			return err
		}
		if !ok {
			break
		}
	}
	s.walk.Back(here)
	return nil
}

func (s *seeking) sort(answers []options.Choice) {
	slices.SortStableFunc(answers, func(a, b options.Choice) int {
		i, j := s.featureOf(a), s.featureOf(b)
		if i < 0 || j < 0 {
			return cmp.Compare(j, i) // what a finish would mend comes last
		}
		return cmp.Or(cmp.Compare(s.adds[i], s.adds[j]), cmp.Compare(s.rank[i], s.rank[j]))
	})
}

// featureOf is the feature a choice is on, -1 for a setting.
func (s *seeking) featureOf(c options.Choice) int {
	if k, ok := s.r.features[c.Feature]; ok && c.Verb != options.Pick {
		return k
	}
	return -1
}

// floor is what nothing that can be reached is worth less than.
func (s *seeking) floor(missing []options.Missing) worth {
	s.know(-1)
	w := worth{cost: s.aim.Floor(&s.known)}
	for _, n := range s.known.Counts {
		w.count += n
	}
	// Of what is missing, as much as has no answer in common.
	least := func(m *options.Missing) int64 {
		adds := int64(-1)
		for _, c := range m.Any {
			n := int64(0)
			if f := s.featureOf(c); f >= 0 && s.known.Counts[f] == 0 {
				n = s.adds[f]
			}
			if adds < 0 || n < adds {
				adds = n
			}
		}
		return max(adds, 0)
	}
	slices.SortStableFunc(missing, func(a, b options.Missing) int { return cmp.Compare(least(&b), least(&a)) })
	used := map[string]bool{}
	for i := range missing {
		m := &missing[i]
		if slices.ContainsFunc(m.Any, func(c options.Choice) bool { return used[c.Feature] }) {
			continue
		}
		picks := false
		for _, c := range m.Any {
			used[c.Feature] = true
			picks = picks || c.Verb == options.Pick
		}
		if w.cost += least(m); !picks {
			w.count++
		}
	}
	return w
}

// finishing chooses the finishes that apply to what is there, nothing else
// added, and looks at what that comes to.
func (s *seeking) finishing() error {
	k := s.openFinish()
	if k < 0 {
		return s.look()
	}
	type answer struct {
		choice int
		floor  worth
	}
	var answers []answer
	here := s.walk.Here()
	defer func() { s.pick[k] = -1 }()
	for i := range s.r.catalogue.Finishes[k].Choices {
		s.pick[k] = i
		ok, err := s.takeFinish(k, i)
		if err != nil {
			return err
		}
		if ok {
			answers = append(answers, answer{i, s.floor(s.walk.Missing())})
		}
		s.walk.Back(here)
	}
	if len(answers) == 0 { // none can be had: it stays open
		s.pick[k] = stays
		return s.finishing()
	}
	byDefault := s.choiceOf(k, s.r.catalogue.Finishes[k].Default)
	slices.SortStableFunc(answers, func(a, b answer) int {
		switch {
		case a.floor.less(b.floor):
			return -1
		case b.floor.less(a.floor):
			return 1
		case a.choice == byDefault:
			return -1
		case b.choice == byDefault:
			return 1
		}
		return 0
	})
	for _, a := range answers {
		if !s.better(a.floor) {
			continue
		}
		if s.spent() {
			return nil
		}
		s.pick[k] = a.choice
		if _, err := s.takeFinish(k, a.choice); err != nil {
			return err
		}
		next := s.finishing
		if len(s.walk.Missing()) > 0 {
			next = s.place
		}
		if err := next(); err != nil || s.ended {
			return err
		}
		s.walk.Back(here)
	}
	return nil
}

// stays stands for a finish that has no choice that can be had.
const stays = -2

func (s *seeking) takeFinish(k, choice int) (bool, error) {
	if s.settingOf[k] < 0 {
		return true, nil
	}
	return s.walk.Take(s.pickOf(k, choice))
}

// openFinish is the first finish that applies to what is there and has no
// choice yet, -1 for none.
func (s *seeking) openFinish() int {
	for k := range s.pick {
		if s.pick[k] == -1 && s.applies(k, false) == yes {
			return k
		}
	}
	return -1
}

// look works out what is there now, exactly.
func (s *seeking) look() error {
	choices, err := s.write()
	if err != nil {
		return err
	}
	resolution, faults, err := Specify(s.r, s.van, choices, SettleNothing)
	if err != nil {
		return err
	}
	spec := &resolution.Specification
	if len(faults) > 0 || !spec.Settled || len(resolution.Answer.PutAside) > len(s.out.Before.Resolution.Answer.PutAside) {
		s.lost = true // as where more is there than is sold
		return nil
	}
	defer s.room.Clear()
	sheet := ExpandIn(s.room, s.r, *spec)
	var w worth
	if w.cost, w.unknown, err = s.aim.Cost(spec, &sheet); err != nil {
		return err
	}
	for i := range spec.Features {
		w.count += spec.Features[i].Count
	}
	if s.better(w) {
		s.best, s.kept, s.found = w, choices, true
	}
	return nil
}

// more looks at what has more than it must, where nothing is missing: as far as
// that may cost less all the same. What nothing reads and what shares nothing
// never takes anything off, so of all that has more something has to be useful.
// What is read comes first: with all of that left out, nothing is uncertain any
// more, and what sharing can save is little.
func (s *seeking) more(floor worth) error {
	here := s.walk.Here()
	defer s.walk.Back(here)
	for _, useful := range [][]bool{s.read, s.shared} {
		if s.ended || !s.better(floor) {
			return nil
		}
		var rest []options.Choice
		if err := s.branch(s.promising(useful, floor, &rest)); err != nil || s.ended {
			return err
		}
		// None of them can be there in anything better.
		for _, c := range rest {
			if ok, err := s.walk.Without(c); err != nil || !ok {
				return err
			}
		}
		floor = s.floor(s.walk.Missing())
	}
	return nil
}

// promising is one more of each useful feature that may be worth having; all
// there could be one more of goes to rest.
func (s *seeking) promising(useful []bool, floor worth, rest *[]options.Choice) []options.Choice {
	var answers []options.Choice
	for i, useful := range useful {
		least, most := s.walk.Bounds(i)
		if !useful || least == most {
			continue
		}
		with := worth{cost: floor.cost, count: floor.count + 1}
		if least == 0 {
			with.cost += s.adds[i]
		}
		c := s.choice(i, max(least+1, leastOf(&s.r.catalogue.Features[i])))
		if *rest = append(*rest, c); s.better(with) {
			answers = append(answers, c)
		}
	}
	return answers
}
