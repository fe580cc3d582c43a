package bom

import (
	"fmt"
	"slices"

	"wainscot/bom/catalogue"
	"wainscot/bom/options"
)

// mostOfAVan is more of a unit than any van takes: a line that comes to it has
// a formula with a slip in it. Our own reckoning, generous by a factor of ten
// or more.
var mostOfAVan = []struct {
	unit string
	most int64
}{
	{string(catalogue.Each), 1_000},
	{string(catalogue.Metre), 1_000},
	{string(catalogue.SquareM), 500},
	{string(catalogue.Litre), 500},
	{string(catalogue.Millilitre), 50_000},
	{string(catalogue.Kilogram), 1_000},
	{"h", 400}, // of one trade at one stage, or of waiting: ten weeks of work
	{"visit", 20},
}

// sheets expands a covering set and looks at every sheet.
func (v *prover) sheets(out *VanProof) error {
	covered, err := v.rules.Cover(options.Covering{Kept: v.kept, Work: v.p.Work,
		Progress: func(done, of int) bool { return v.step(CoveringPairs, done, of) }})
	if err != nil {
		return err
	}
	out.Specimens, out.Pairs, out.Never = len(covered.Specimens), covered.Pairs, covered.Impossible
	if covered.Undecided > 0 {
		v.notProved("base_vans/"+out.BaseVan, fmt.Sprintf("whether %d pairs of features can be together", covered.Undecided))
	}
	s := &specimens{v: v, out: out, finishes: v.freeFinishes()}
	for i, sp := range covered.Specimens {
		if !v.step(ExpandingThem, i, len(covered.Specimens)) {
			return options.ErrStopped
		}
		s.look(v.example(v.rules.Choices(sp)), sp.Counts)
	}
	s.rest()
	s.packages()
	s.checked()
	return nil
}

// freeFinishes are those that no rule names; their choices are taken in turn.
func (v *prover) freeFinishes() []freeFinish {
	var list []freeFinish
	for i := range v.r.catalogue.Finishes {
		if !slices.Contains(v.r.logic.settings, i) {
			list = append(list, freeFinish{finish: i})
		}
	}
	return list
}

// freeFinish is a finish whose choices are taken in turn.
type freeFinish struct {
	finish int
	next   int // how often it has applied, and so which choice is next
	on     *Example
	counts []int
}

// specimens looks at the sheets of one base van.
type specimens struct {
	v        *prover
	out      *VanProof
	finishes []freeFinish
	checks   []specimenCheck // by check of the catalogue
	cut      int             // examples cut down
}

type specimenCheck struct {
	met, not int
	example  *Example
}

// look expands one specification. What it comes to must be what the search
// said, feature for feature.
func (s *specimens) look(e *Example, counts []int) {
	r := s.v.r
	for i := range s.finishes {
		f := &s.finishes[i]
		named := &r.catalogue.Finishes[f.finish]
		e.Choices.Finishes = append(e.Choices.Finishes, FinishChoice{Finish: named.Code, Choice: named.Choices[f.next%len(named.Choices)].Code})
	}
	res, faults, err := Specify(r, e.Van, e.Choices, SettleNothing)
	if err != nil || len(faults) > 0 || !s.same(&res, counts) {
		s.add(e, Seen{Code: NotReproduced, At: "base_vans/" + s.out.BaseVan,
			Says:   "A specification that the rules allow does not come out of the choices for it.",
			Remedy: "This is a fault of the program: keep the catalogue and report it."})
		return
	}
	spec := res.Specification
	for i := range s.finishes {
		f := &s.finishes[i]
		code := r.catalogue.Finishes[f.finish].Code
		if find(spec.Finishes, func(a SpecifiedFinish) bool { return a.Finish == code }) >= 0 {
			f.next++
			f.on, f.counts = e, counts
		}
	}
	s.check(e, s.inspect(e, spec))
}

// inspect expands a specification and looks at its sheet, and whoever else
// looks on.
func (s *specimens) inspect(e *Example, spec Specification) *Sheet {
	sheet := Expand(s.v.r, spec)
	for _, seen := range s.sane(&spec, &sheet) {
		s.add(e, seen)
	}
	if s.v.p.Look != nil {
		for _, seen := range s.v.p.Look(spec, sheet) {
			s.add(e, seen)
		}
	}
	return &sheet
}

// packages looks at every package whole, settled by defaults, and with each of
// its items refused in turn.
func (s *specimens) packages() {
	van := s.out.BaseVan
	for i := range s.v.r.catalogue.Packages {
		p := &s.v.r.catalogue.Packages[i]
		if !offered(p.Vans, van) {
			continue
		}
		asked := []Choices{{Package: p.Code}}
		for _, item := range p.Items {
			asked = append(asked, Choices{Package: p.Code, Features: []Choice{{Refuse: item.Feature}}})
		}
		for _, choices := range asked {
			e := &Example{Van: Van{BaseVan: van}, Choices: choices}
			res, faults, err := Specify(s.v.r, e.Van, e.Choices, SettleByDefaults)
			if err == nil && len(faults) == 0 && res.Specification.Allowed {
				e.Settle = SettleByDefaults
				s.inspect(e, res.Specification)
			}
		}
	}
}

func (s *specimens) same(res *Resolution, counts []int) bool {
	spec := &res.Specification
	if !spec.Allowed || !spec.Settled {
		return false
	}
	there := 0
	for _, n := range counts {
		if n > 0 {
			there++
		}
	}
	for i := range spec.Features {
		f := &spec.Features[i]
		if counts[s.v.r.features[f.Code]] != f.Count {
			return false
		}
	}
	return there == len(spec.Features)
}

// rest takes the choices of finishes that had no turn.
func (s *specimens) rest() {
	for i := range s.finishes {
		f := &s.finishes[i]
		for f.on != nil && f.next < len(s.v.r.catalogue.Finishes[f.finish].Choices) {
			again := Example{Van: f.on.Van, Choices: f.on.Choices}
			again.Choices.Finishes = slices.DeleteFunc(slices.Clone(again.Choices.Finishes), func(c FinishChoice) bool {
				return find(s.finishes, func(o freeFinish) bool { return s.v.r.catalogue.Finishes[o.finish].Code == c.Finish }) >= 0
			})
			before := f.next
			s.look(&again, f.counts)
			if f.next == before {
				break
			}
		}
	}
}

// add records what was seen on a sheet, the first time with an example cut down
// to what shows it.
func (s *specimens) add(e *Example, seen Seen) {
	f := s.v.find(Finding{Grade: FindingFault, Code: seen.Code, At: seen.At, Says: seen.Says, Remedy: seen.Remedy})
	f.Times++
	if f.Example != nil {
		return
	}
	f.Example = e
	if s.cut++; s.cut <= mostCutDown && e.Settle == SettleNothing && seen.Code != NotReproduced {
		f.Example = s.cutDown(e, &seen)
	}
}

// mostCutDown is of how many findings of a base van the examples are cut down:
// each is expanded some hundred times for it.
const mostCutDown = 25

// cutDown leaves choices and finishes out of an example, the last first, as
// long as the rest is allowed, settled, and shows the same.
func (s *specimens) cutDown(e *Example, seen *Seen) *Example {
	small := *e
	shows := func(e *Example) bool {
		res, faults, err := Specify(s.v.r, e.Van, e.Choices, SettleNothing)
		if err != nil || len(faults) > 0 || !res.Specification.Allowed || !res.Specification.Settled {
			return false
		}
		sheet := Expand(s.v.r, res.Specification)
		found := s.sane(&res.Specification, &sheet)
		if s.v.p.Look != nil {
			found = append(found, s.v.p.Look(res.Specification, sheet)...)
		}
		return find(found, func(o Seen) bool { return o.Code == seen.Code && o.At == seen.At }) >= 0
	}
	for without(&small, shows, func(e *Example) *[]Choice { return &e.Choices.Features }) {
		continue
	}
	without(&small, shows, func(e *Example) *[]FinishChoice { return &e.Choices.Finishes })
	without(&small, shows, func(e *Example) *[]FittedItem { return &e.Van.Fitted })
	without(&small, shows, func(e *Example) *[]ParticularValue { return &e.Van.Particulars })
	return &small
}

// without takes out of one list of an example what it does not need to show
// what it does.
func without[T any](small *Example, shows func(*Example) bool, list func(*Example) *[]T) (shorter bool) {
	for i := range slices.Backward(*list(small)) {
		less := *small
		*list(&less) = slices.Delete(slices.Clone(*list(small)), i, i+1)
		if shows(&less) {
			*small, shorter = less, true
		}
	}
	return shorter
}

// sane looks at what a sheet has: formulas that give a number, quantities a
// van can take, hours where something is fitted.
func (s *specimens) sane(spec *Specification, sheet *Sheet) []Seen {
	var list []Seen
	for _, b := range sheet.Broken {
		list = append(list, Seen{Code: BrokenInProof, At: b.At,
			Says: "The formula gives no usable number: " + b.Reason, Remedy: "Mend the formula so that it does for every allowed specification."})
	}
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		if l.Quantity.Sign() > 0 && !overMost(l) {
			continue
		}
		list = append(list, Seen{Code: BadQuantity, At: s.place(l),
			Says:   fmt.Sprintf("%s at %s comes to %s %s, which no van takes.", lineName(l), s.stage(l.Stage), l.Quantity, l.Unit),
			Remedy: "Look for a slip in a quantity or a unit of what asks for it: " + askedBy(l) + "."})
	}
	if s.v.r.suppliesOnly(*spec) {
		return list
	}
	for _, t := range sheet.Stages {
		if t.Hours.Sign() > 0 {
			continue
		}
		fitted := find(sheet.Lines, func(l Line) bool {
			return l.Stage == t.Stage && (l.Kind == PartLine || l.Kind == KitLine || l.Kind == StandingLine)
		})
		if fitted >= 0 {
			l := &sheet.Lines[fitted]
			list = append(list, Seen{Code: StageWithoutHours, At: "stages/" + t.Stage,
				Says:   fmt.Sprintf("%s is fitted at %s, and nobody works there.", lineName(l), t.Name),
				Remedy: "Give the hours of a trade to what asks for it (" + askedBy(l) + "), or to the stage."})
		}
	}
	return list
}

func overMost(l *Line) bool {
	for _, m := range mostOfAVan {
		if m.unit == l.Unit {
			return l.Quantity.IntPart() > m.most
		}
	}
	return false
}

// place is the path of what a line is of.
func (s *specimens) place(l *Line) string {
	switch l.Kind {
	case KitLine:
		return "kits/" + l.Code
	case PartLine:
		if l.Code == "" {
			return "finishes/" + l.Finish
		}
		return "parts/" + l.Code
	case HoursLine:
		return "trades/" + l.Code
	case OutsideLine:
		return "outside_work/" + l.Code
	case StandingLine, OneOffLine, OwnPartLine:
	}
	return "stages/" + l.Stage
}

func (s *specimens) stage(code string) string {
	if k := find(s.v.r.catalogue.Stages, func(g catalogue.Stage) bool { return g.Code == code }); k >= 0 {
		return s.v.r.catalogue.Stages[k].Name
	}
	return code
}

func lineName(l *Line) string {
	if l.Kind == StandingLine {
		return "Standing time"
	}
	return l.Name
}

// askedBy names what asks for a line.
func askedBy(l *Line) string {
	var names []string
	for _, b := range l.Because {
		name := b.Feature
		if name == "" {
			name = "the stage itself"
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) > reasonsShown {
		names = append(names[:reasonsShown], "others")
	}
	return listed(names)
}

func (s *specimens) check(e *Example, sheet *Sheet) {
	if s.checks == nil {
		s.checks = make([]specimenCheck, len(s.v.r.catalogue.Checks))
	}
	for i := range sheet.Checks {
		c := &sheet.Checks[i]
		k := find(s.v.r.catalogue.Checks, func(k catalogue.Check) bool { return k.Code == c.Code })
		if c.Met {
			s.checks[k].met++
			continue
		}
		s.checks[k].not++
		if s.checks[k].example == nil {
			s.checks[k].example = e
		}
	}
}

// checked writes down how the checks stood. That a must is sometimes not met is
// what it is for; that it never is on any sheet leaves nothing to sell.
func (s *specimens) checked() {
	for i, k := range s.checks {
		c := &s.v.r.catalogue.Checks[i]
		if k.met+k.not == 0 {
			continue
		}
		s.out.Checks = append(s.out.Checks, CheckProof{Code: c.Code, Met: k.met, NotMet: k.not})
		if k.met > 0 || c.Grade != catalogue.Must {
			continue
		}
		f := s.v.find(Finding{Grade: FindingWarning, Code: CheckNeverMet, At: "checks/" + c.Code,
			Says:   fmt.Sprintf("%s is not met on any of the %d build sheets for %s on which it is made.", c.Name, k.not, thoseVans),
			Remedy: "Mend figure or limit, or say with when where the check is made."})
		f.Times += k.not
		if f.Example == nil {
			f.Example = k.example
		}
	}
}
