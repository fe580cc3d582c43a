package bom

import (
	"cmp"
	"errors"
	"slices"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/options"
)

// Aim is what settling makes as small as can be.
type Aim interface {
	// Begin is told first what the choices come to as they are.
	Begin(*Settling) error
	// Cost of a settled specification with its sheet, in a unit of its own, and
	// how many things stop that from being known whole: one that is not known
	// counts as more than any that is.
	Cost(*Specification, *Sheet) (cost int64, unknown int, err error)
	// Floor is what no specification costs less than that has all that is known.
	Floor(*Known) int64
	// Adds is by how much more at least Floor would be right where a feature is
	// there too that is not known to be, in that Known's number, together with
	// whatever else is there. Of several features the sum holds.
	Adds(feature int, with *Known) int64
	// Lines says whether what a feature (or taking it out; -1 a stage by itself)
	// asks for bears on the cost.
	Lines(feature int, removal bool) bool
	// Divided says whether a feature (or taking it out) costs a share of the lines
	// it asks for, so that it costs less where others ask for them too.
	Divided(feature int, removal bool) bool
}

// Settled is what settling came to.
type Settled struct {
	// Choices completed: they resolve settled, where anything does.
	Choices       Choices
	Before, After Settling
	Added         []Added
	// Proved: nothing allowed costs less, and what costs as much adds as much at
	// least. Otherwise it is the best found. By defaults nothing is compared.
	Proved bool
	// Steps are how many places were looked at.
	Steps int
}

// Settling is what choices come to before or after.
type Settling struct {
	Resolution Resolution
	Sheet      Sheet
}

// Added is something that settling took.
type Added struct {
	Feature string // or
	Finish  FinishChoice
	Name    string // of the feature, or of finish and choice
	Count   int    // how many more of the feature there are
	Group   string // code of the feature's
	Stage   string // code of the group's
	// ComesWith: it was not picked, it is there because of what was.
	ComesWith bool
	Why       string
}

// SettleSteps is the work budget of one settling: how many places on the way to
// a settled specification are looked at.
const SettleSteps = 1_000

// SettleFor finishes what choices leave open: by the defaults where aim is nil,
// else so that it costs as little as aim says, of equals with the fewest
// features. It keeps every choice that can be taken, and takes no more than has
// to be. Of equals the defaults win, then what was tried first: the answers to
// a question in the order of what they add, then defaults first, then as the
// catalogue has them. The same question has the same answer every time.
//
// Faults and errors as of Resolve; errors of the aim too.
func SettleFor(r *Release, van Van, choices Choices, aim Aim, steps int) (Settled, document.Faults, error) {
	a, faults := r.read(van, choices, SettleNothing)
	if len(faults) > 0 {
		return Settled{}, faults, nil
	}
	rules, err := r.rules(a.base)
	if err != nil {
		return Settled{}, nil, err
	}
	s := seeking{r: r, van: van, asked: &a, choices: &choices, aim: aim, left: steps, rules: rules, room: &Room{}}
	if err := s.run(); err != nil {
		return Settled{}, nil, err
	}
	return s.out, nil, nil
}

// seeking is one settling in progress.
type seeking struct {
	r       *Release
	van     Van
	asked   *asked
	choices *Choices
	aim     Aim
	left    int // steps
	rules   *options.Rules
	room    *Room
	out     Settled

	walk, writer *options.Completion
	readings     *readings
	root         []int   // by feature: how many are there by the choices
	pick         []int   // by finish: the choice, -1 while open
	settingOf    []int   // by finish: its setting in the engine's model, -1 for none
	rank         []int   // by feature: its place among its group's defaults, else behind them
	adds         []int64 // by feature, where it is not there yet
	// By feature: something that bears on the cost reads how many there are; it
	// shares a line with what costs a share of it. More of any other lowers
	// nothing.
	read, shared []bool
	known        Known // of the place it stands at
	spec         Specification

	taken []options.Choice // on the way to where it stands
	best  worth
	found bool
	kept  Choices // of the best
	ended bool    // the work did
	lost  bool    // something allowed could not be looked at
}

// worth orders what is found.
type worth struct {
	unknown int
	cost    int64
	count   int // of features, all that are there
}

func (w worth) less(o worth) bool {
	return cmp.Or(cmp.Compare(w.unknown, o.unknown), cmp.Compare(w.cost, o.cost), cmp.Compare(w.count, o.count)) < 0
}

// better says whether something would be worth having found.
func (s *seeking) better(w worth) bool { return !s.found || w.less(s.best) }

func (s *seeking) run() error {
	if err := s.begin(); err != nil {
		return err
	}
	defer s.walk.End()
	defer s.writer.End()
	byDefaults, err := s.r.resolveAsked(s.asked, SettleByDefaults, (*options.Rules).ResolveWithoutSwaps)
	if err != nil {
		return err
	}
	if s.aim == nil {
		if err := s.take(&byDefaults.Specification); err != nil {
			return err
		}
		if s.kept, err = s.write(); err != nil {
			return err
		}
		return s.finish()
	}
	if err := s.aim.Begin(&s.out.Before); err != nil {
		return err
	}
	s.ready()
	if err := s.take(&byDefaults.Specification); err != nil {
		return err
	}
	err = s.finishing()
	if err == nil {
		s.walk.Start()
		s.taken = s.taken[:0]
		s.pick = s.picked()
		err = s.place()
	}
	if errors.Is(err, options.ErrBudget) && s.found {
		s.ended, err = true, nil
	}
	if err != nil {
		return err
	}
	if !s.found {
		s.kept, s.lost = *s.choices, true
	}
	s.out.Proved = !s.ended && !s.lost
	return s.finish()
}

// begin resolves the choices as they are and stands there.
func (s *seeking) begin() error {
	var err error
	if s.out.Before.Resolution, err = s.r.resolveAsked(s.asked, SettleNothing, (*options.Rules).ResolveWithoutSwaps); err != nil {
		return err
	}
	s.out.Before.Sheet = Expand(s.r, s.out.Before.Resolution.Specification)
	if s.walk, err = s.rules.Complete(s.out.Before.Resolution.Said); err != nil {
		return err
	}
	if s.writer, err = s.rules.Complete(s.out.Before.Resolution.Said); err != nil {
		s.walk.End()
		return err
	}
	c := s.r.catalogue
	s.root = make([]int, len(c.Features))
	for i := range s.root {
		s.root[i], _ = s.walk.Bounds(i)
	}
	s.settingOf = make([]int, len(c.Finishes))
	for i := range s.settingOf {
		s.settingOf[i] = find(s.rules.Model().Settings, func(set options.Setting) bool { return set.Name == "finish."+c.Finishes[i].Code })
	}
	s.rank = make([]int, len(c.Features))
	for i, g := range s.r.groupOf {
		if s.rank[i] = len(c.Features) + i; g < 0 {
			continue
		}
		for k, d := range c.Groups[g].Default {
			if d.Feature == c.Features[i].Code {
				s.rank[i] = k
			}
		}
	}
	s.pick = s.picked()
	return nil
}

// picked are the finishes chosen by the choices as they are.
func (s *seeking) picked() []int {
	saying := s.r.say(s.asked)
	for i := range saying.finish {
		if set := s.settingOf[i]; set >= 0 && saying.finish[i] >= 0 && s.out.Before.valueOf(set) != saying.finish[i] {
			saying.finish[i] = -1 // put aside
		}
	}
	return saying.finish
}

// valueOf is which value of a setting is taken, -1 for none.
func (s *Settling) valueOf(setting int) int {
	for _, v := range s.Resolution.Answer.Settings {
		if v.Setting == setting && v.Standing == options.Chosen {
			return v.Value
		}
	}
	return -1
}

// ready works out what the aim says of single features.
func (s *seeking) ready() {
	s.readings = s.r.readings()
	n := len(s.r.featureCodes)
	s.adds, s.shared = make([]int64, n), make([]bool, n)
	s.read = s.readings.read(s.r, s.aim.Lines)
	// What anything reads changes what that asks for, and so how lines are shared.
	anything := s.readings.read(s.r, func(int, bool) bool { return true })
	divided := s.divided()
	for i := range n {
		least, most := s.walk.Bounds(i)
		if least == most {
			continue
		}
		s.shared[i] = anything[i] || s.r.catalogue.Features[i].Count != nil && s.aim.Divided(i, false)
		for _, cell := range s.r.cellsOf(s.r.sheet.fit[i]) {
			s.shared[i] = s.shared[i] || divided[cell] != 0 && divided[cell] != 1+int32(i)
		}
		if least == 0 {
			s.know(i)
			s.adds[i] = max(0, s.aim.Adds(i, &s.known))
		}
	}
}

// divided is, by cell, whose cost has a share of its line: 1 + the feature, -1
// for several or what is taken out, 0 for nobody's.
func (s *seeking) divided() []int32 {
	by := make([]int32, len(s.r.sheet.cells))
	for i := range s.r.featureCodes {
		if _, most := s.walk.Bounds(i); most > 0 && s.aim.Divided(i, false) {
			for _, cell := range s.r.cellsOf(s.r.sheet.fit[i]) {
				if by[cell] != 0 && by[cell] != 1+int32(i) {
					by[cell] = -1
				} else {
					by[cell] = 1 + int32(i)
				}
			}
		}
	}
	for _, f := range s.out.Before.Resolution.Specification.Removed {
		if k := s.r.features[f.Code]; s.aim.Divided(k, true) {
			for _, cell := range s.r.cellsOf(s.r.sheet.removal[k]) {
				by[cell] = -1
			}
		}
	}
	return by
}

// cellsOf are the cells that wants may end in.
func (r *Release) cellsOf(list []want) []int32 {
	var cells []int32
	for i := range list {
		for k := range list[i].asks {
			a := &list[i].asks[k]
			if a.finish < 0 {
				cells = append(cells, a.cell)
			}
			for _, p := range a.byPick {
				cells = append(cells, p.cell)
			}
		}
	}
	return cells
}

// take takes what a specification has besides.
func (s *seeking) take(spec *Specification) error {
	for _, picked := range []bool{true, false} {
		for i := range spec.Features {
			f := &spec.Features[i]
			k := s.r.features[f.Code]
			if f.Count <= s.root[k] || picked != (f.Standing == options.Chosen.String()) {
				continue
			}
			if err := s.takeOne(s.choice(k, f.Count)); err != nil {
				return err
			}
		}
	}
	for _, f := range spec.Finishes {
		k := s.r.finishes[f.Finish]
		if f.Choice == "" || s.pick[k] >= 0 {
			continue
		}
		s.pick[k] = s.choiceOf(k, f.Choice)
		if s.settingOf[k] >= 0 {
			if err := s.takeOne(s.pickOf(k, s.pick[k])); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *seeking) takeOne(c options.Choice) error {
	ok, err := s.walk.Take(c)
	if ok && c.Verb != options.Pick {
		s.taken = append(s.taken, c)
	}
	return err
}

func (s *seeking) choice(feature, n int) options.Choice {
	return s.r.atLeast(feature, n, options.FromSettling)
}

func (s *seeking) choiceOf(finish int, code string) int {
	return slices.Index(codes(s.r.catalogue.Finishes[finish].Choices, func(c catalogue.FinishChoice) string { return c.Code }), code)
}

func (s *seeking) pickOf(finish, choice int) options.Choice {
	set := &s.rules.Model().Settings[s.settingOf[finish]]
	return options.Choice{Verb: options.Pick, Feature: set.Name, Value: set.Values[choice], Source: options.FromSettling}
}
