package bom

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/formula"
	"wainscot/bom/options"
)

// Resolve says what a van and the customer's choices come to: the standing of
// every feature of the catalogue, and the specification so far. With
// SettleByDefaults what is still open is finished first.
//
// Choices are taken in this order, each put aside when it does not fit with
// those before it: the particulars of the van, what the van keeps, the
// customer's choices as given (a new one in place of a fitted one after the
// first of them, which is the kind of work), finishes that rules name, what is
// in the package.
//
// Faults are all that is wrong with van and choices themselves: unknown codes,
// numbers out of range, one thing said twice differently. An error says that
// the rules of the base van allow nothing at all, or took more work than the
// engine's budget.
func Resolve(r *Release, van Van, choices Choices, settle Settle) (Resolution, document.Faults, error) {
	return r.resolve(van, choices, settle, (*options.Rules).Resolve)
}

// Specify is Resolve for those who want the specification and what was put
// aside, and show nobody what else could be picked: no option of the answer is
// marked as a swap.
func Specify(r *Release, van Van, choices Choices, settle Settle) (Resolution, document.Faults, error) {
	return r.resolve(van, choices, settle, (*options.Rules).ResolveWithoutSwaps)
}

// engineAsked is how the engine is asked.
type engineAsked func(*options.Rules, []options.Choice) (options.Answer, error)

func (r *Release) resolve(van Van, choices Choices, settle Settle, ask engineAsked) (Resolution, document.Faults, error) {
	asked, faults := r.read(van, choices, settle)
	if len(faults) > 0 {
		return Resolution{}, faults, nil
	}
	resolution, err := r.resolveAsked(&asked, settle, ask)
	return resolution, nil, err
}

func (r *Release) resolveAsked(asked *asked, settle Settle, ask engineAsked) (Resolution, error) {
	rules, err := r.rules(asked.base)
	if err != nil {
		return Resolution{}, err
	}
	saying := r.say(asked)
	said, answer, err := r.answer(rules, saying.said, settle, ask)
	if err != nil {
		return Resolution{}, err
	}
	s := specifying{r: r, asked: asked, saying: &saying, said: said, answer: &answer,
		byDefaults: settle == SettleByDefaults, settled: len(answer.Unsettled) == 0}
	s.counts = make([]int, len(r.featureCodes))
	for i := range answer.Options {
		if o := &answer.Options[i]; on(o) {
			s.counts[o.Feature] = o.Least
		}
	}
	for _, p := range answer.PutAside {
		s.aside = append(s.aside, p.Choice)
	}
	return Resolution{Said: said, Answer: answer, Specification: s.specification()}, nil
}

// answer asks the engine, after settling if that is wanted. A finish without
// a default stays the customer's to choose, unless a rule cannot do without.
func (r *Release) answer(rules *options.Rules, said []options.Choice, settle Settle, ask engineAsked) ([]options.Choice, options.Answer, error) {
	if settle == SettleByDefaults {
		settled, err := rules.Settle(said)
		if err != nil {
			return nil, options.Answer{}, fmt.Errorf("settling: %w", err)
		}
		said = settled
		if open := r.withoutGuesses(settled); len(open) < len(settled) {
			answer, err := ask(rules, open)
			if err == nil && len(answer.Unsettled) == 0 {
				return open, answer, nil
			}
		}
	}
	answer, err := ask(rules, said)
	if err != nil {
		return nil, options.Answer{}, fmt.Errorf("resolving: %w", err)
	}
	return said, answer, nil
}

// withoutGuesses leaves out what settling picked for finishes that have no
// default.
func (r *Release) withoutGuesses(said []options.Choice) []options.Choice {
	guess := func(c options.Choice) bool {
		if c.Source != options.FromSettling || c.Verb != options.Pick {
			return false
		}
		code, finish := strings.CutPrefix(c.Feature, "finish.")
		k, ok := r.finishes[code]
		return finish && ok && r.catalogue.Finishes[k].Default == ""
	}
	if !slices.ContainsFunc(said, guess) {
		return said
	}
	return slices.DeleteFunc(slices.Clone(said), guess)
}

// saying is what is laid before the engine, and what was decided on the way.
type saying struct {
	said    []options.Choice
	changes []PackageChange
	// inPackage is, by feature, how many of it the package gives.
	inPackage map[int]int
	// finish is, by finish, the choice made: the customer's, else the
	// package's, else -1.
	finish          []int
	packageFinishes []int // by finish, the package's choice, else -1
	// replacing are places in said: what follows from what is done with the
	// van's fittings and not from the choices.
	replacing []int
}

// say turns what was asked into the engine's choices, in order.
func (r *Release) say(a *asked) saying { return r.sayIn(nil, a) }

// sayIn is say in the memory of choices that nobody needs any more.
func (r *Release) sayIn(said []options.Choice, a *asked) saying {
	if said == nil {
		said = make([]options.Choice, 0, 16+len(a.fittings)+2*len(a.said))
	}
	s := saying{said: said[:0], inPackage: map[int]int{}}
	base := &r.catalogue.BaseVans[a.base]
	for i, p := range base.Particulars {
		s.add(options.Choice{Verb: options.Pick, Feature: "van." + p.Name, Value: a.particulars[i], Source: options.FromVan})
	}
	for i := range a.fittings {
		if f := &a.fittings[i]; f.kept > 0 {
			s.add(r.atLeast(f.feature, f.kept, options.FromFitted))
		}
	}
	for i, c := range a.said {
		s.add(r.said(c))
		if i == 0 {
			s.replacements(r, a)
		}
	}
	if len(a.said) == 0 {
		s.replacements(r, a)
	}
	s.finishes(r, a)
	if a.pack >= 0 {
		s.items(r, a)
	}
	return s
}

func (s *saying) add(c options.Choice) { s.said = append(s.said, c) }

func (r *Release) said(c askedChoice) options.Choice {
	code := r.featureCodes[c.feature]
	switch {
	case c.refuse:
		return options.Choice{Verb: options.Refuse, Feature: code, Source: options.FromCustomer}
	case c.count > 0:
		return options.Choice{Verb: options.Number, Feature: code, N: c.count, Source: options.FromCustomer}
	}
	return options.Choice{Verb: options.Want, Feature: code, Source: options.FromCustomer}
}

func (r *Release) atLeast(feature, n int, source options.Source) options.Choice {
	f := &r.catalogue.Features[feature]
	if f.Count == nil {
		return options.Choice{Verb: options.Want, Feature: f.Code, Source: source}
	}
	return options.Choice{Verb: options.AtLeast, Feature: f.Code, N: n, Source: source}
}

// replacements wants new ones of what is taken out to be replaced, unless the
// customer has said how many there shall be.
func (s *saying) replacements(r *Release, a *asked) {
	for _, f := range a.fittings {
		if f.replaced == 0 {
			continue
		}
		if k, ok := a.mention(f.feature); ok && (a.said[k].count > 0 || r.catalogue.Features[f.feature].Count == nil) {
			continue
		}
		n := min(f.kept+f.replaced, mostOf(&r.catalogue.Features[f.feature]))
		s.replacing = append(s.replacing, len(s.said))
		s.add(r.atLeast(f.feature, n, options.FromCustomer))
	}
}

// finishes picks those that rules name; the others stay out of the logic.
func (s *saying) finishes(r *Release, a *asked) {
	s.finish = append([]int(nil), a.finish...)
	s.packageFinishes = make([]int, len(a.finish))
	for i := range s.packageFinishes {
		s.packageFinishes[i] = -1
	}
	if a.pack >= 0 {
		for _, p := range r.catalogue.Packages[a.pack].Finishes {
			k, ok := r.finishes[p.Finish]
			if !ok {
				continue
			}
			c := find(r.catalogue.Finishes[k].Choices, func(c catalogue.FinishChoice) bool { return c.Code == p.Choice })
			s.packageFinishes[k] = c
			if s.finish[k] < 0 {
				s.finish[k] = c
			}
		}
	}
	for _, k := range r.logic.settings {
		if s.finish[k] < 0 {
			continue
		}
		source := options.FromCustomer
		if a.finish[k] < 0 {
			source = options.FromPackage
		}
		f := &r.catalogue.Finishes[k]
		s.add(options.Choice{Verb: options.Pick, Feature: "finish." + f.Code, Value: f.Choices[s.finish[k]].Code, Source: source})
	}
}

// items takes from the package what the customer has not decided otherwise.
func (s *saying) items(r *Release, a *asked) {
	for _, item := range r.catalogue.Packages[a.pack].Items {
		k, ok := r.features[item.Feature]
		if !ok {
			continue
		}
		n := max(item.Count, leastOf(&r.catalogue.Features[k]))
		last, mentioned := a.mention(k)
		swap := r.picked(a, k)
		switch {
		case mentioned && a.said[last].refuse:
			s.changes = append(s.changes, PackageChange{Item: item.Feature, Count: n})
			continue
		case !mentioned && swap >= 0:
			s.changes = append(s.changes, PackageChange{Item: item.Feature, Count: n, SwapFor: r.featureCodes[swap]})
			continue
		case mentioned && a.said[last].count > 0:
			if fewer := n - a.said[last].count; fewer > 0 {
				s.changes = append(s.changes, PackageChange{Item: item.Feature, Count: fewer})
				n -= fewer
			}
		default:
			s.add(r.atLeast(k, n, options.FromPackage))
		}
		if f, ok := a.fittingOf[k]; ok {
			if there := min(n, a.fittings[f].kept); there > 0 {
				s.changes = append(s.changes, PackageChange{Item: item.Feature, Count: there, AlreadyThere: true})
				n -= there
			}
		}
		s.inPackage[k] = n
	}
}

// picked gives the feature the customer picked from the same group in place of
// feature, -1 for none.
func (r *Release) picked(a *asked, feature int) int {
	g := r.groupOf[feature]
	if g < 0 || r.catalogue.Groups[g].Pick == catalogue.AnyNumber {
		return -1
	}
	for _, c := range a.said {
		if !c.refuse && c.feature != feature && r.groupOf[c.feature] == g {
			return c.feature
		}
	}
	return -1
}

// specifying makes the specification of an answer.
type specifying struct {
	r          *Release
	asked      *asked
	saying     *saying
	said       []options.Choice
	byDefaults bool
	settled    bool
	counts     []int              // by feature, how many are there
	aside      []int              // places in said of what was put aside
	features   []SpecifiedFeature // memory for those of the specification
	// answer has the words; nil leaves them out, and what goes by reasons.
	answer *options.Answer
}

func (s *specifying) specification() Specification {
	spec := Specification{Format: SpecificationFormat, Van: s.asked.van, Allowed: true, Settled: s.settled}
	if s.asked.pack >= 0 {
		spec.Package = s.r.catalogue.Packages[s.asked.pack].Code
	}
	there := 0
	for i, n := range s.counts {
		if n > 0 {
			there++
			s.counts[i] = max(n, leastOf(&s.r.catalogue.Features[i]))
		}
	}
	spec.PackageChanges = s.saying.changes
	for _, i := range s.aside {
		if c := &s.said[i]; c.Source == options.FromPackage {
			s.leftOut(&spec, c)
		} else {
			spec.Allowed = false
		}
	}
	spec.Features = slices.Grow(s.features[:0], there)
	tell := teller{s.r, s.said}
	for i, n := range s.counts {
		if n > 0 {
			spec.Features = append(spec.Features, s.feature(i, &tell))
		}
	}
	spec.Removed = s.removed()
	spec.Finishes = s.finishes()
	spec.Additions, spec.Answers = s.asked.additions, s.asked.answers
	return spec
}

func on(o *options.Option) bool {
	return o.Standing == options.Chosen || o.Standing == options.ComesWith || o.Standing == options.AlreadyThere
}

// leftOut records a package item that does not fit with what was chosen, and
// what is there in its place.
func (s *specifying) leftOut(spec *Specification, c *options.Choice) {
	k, ok := s.r.features[c.Feature]
	if !ok {
		return // a finish of the package: it stays open
	}
	change := PackageChange{Item: c.Feature, Count: max(c.N, 1)}
	if g := s.r.groupOf[k]; g >= 0 && s.r.catalogue.Groups[g].Pick != catalogue.AnyNumber {
		for _, other := range s.r.members[g] {
			if other != k && s.counts[other] > 0 {
				change.SwapFor = s.r.featureCodes[other]
			}
		}
	}
	spec.PackageChanges = append(spec.PackageChanges, change)
	delete(s.saying.inPackage, k)
}

func (s *specifying) feature(i int, tell *teller) SpecifiedFeature {
	f := &s.r.catalogue.Features[i]
	n := SpecifiedFeature{Code: f.Code, Name: f.Name, Count: s.counts[i], InPackage: s.saying.inPackage[i] > 0}
	kept, replaced := 0, 0
	if k, ok := s.asked.fittingOf[i]; ok {
		kept, replaced = s.asked.fittings[k].kept, s.asked.fittings[k].replaced
	}
	n.Fit = max(n.Count-kept, 0)
	if s.answer == nil {
		return n
	}
	o := &s.answer.Options[i]
	n.Standing = o.Standing.String()
	var why *options.Reason
	source := options.Source(0)
	if o.ByChoice >= 0 && o.ByChoice < len(s.said) {
		source = s.said[o.ByChoice].Source
	} else {
		why = s.answer.Why(o.Feature)
	}
	// What comes along with the package's items alone is in its price.
	n.InPackage = n.InPackage || why != nil && o.Standing == options.ComesWith && len(why.Choices) > 0 &&
		find(why.Choices, func(i int) bool { return s.said[i].Source != options.FromPackage }) < 0
	n.Settled = source == options.FromSettling || why != nil && find(why.Choices, func(i int) bool {
		return s.said[i].Source == options.FromSettling
	}) >= 0
	switch {
	case kept > 0 && n.Fit == 0:
		n.Why = "The van has it already."
	case kept > 0:
		n.Why = fmt.Sprintf("The van has %d of them already; %d more %s fitted.", kept, n.Fit, isAre(n.Fit))
	case replaced > 0:
		n.Why = "A new one in place of the old."
	case source == options.FromPackage:
		n.Why = fmt.Sprintf("In the package %s.", s.r.catalogue.Packages[s.asked.pack].Name)
	case source == options.FromSettling:
		n.Why = "Settled so, because nothing else was chosen."
	case source != 0:
		n.Why = "Chosen."
	default:
		n.Why = tell.comesWith(why)
	}
	return n
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func (s *specifying) removed() []RemovedFeature {
	var list []RemovedFeature
	order := sortedBy(len(s.asked.fittings), func(i int) int { return s.asked.fittings[i].feature })
	for _, i := range order {
		f := &s.asked.fittings[i]
		named := &s.r.catalogue.Features[f.feature]
		if f.removed > 0 {
			list = append(list, RemovedFeature{Code: named.Code, Name: named.Name, Count: f.removed})
		}
		if f.replaced > 0 {
			list = append(list, RemovedFeature{Code: named.Code, Name: named.Name, Count: f.replaced, Replaced: true})
		}
	}
	return list
}

// finishes gives those that apply, chosen or open.
func (s *specifying) finishes() []SpecifiedFinish {
	var list []SpecifiedFinish
	picked := make(map[string]string, len(s.saying.finish))
	for i := range s.r.catalogue.Finishes {
		f := &s.r.catalogue.Finishes[i]
		n := SpecifiedFinish{Finish: f.Code}
		if c := s.saying.finish[i]; c >= 0 {
			n.Choice = f.Choices[c].Code
			n.InPackage = c == s.saying.packageFinishes[i]
		}
		if s.setting(i) {
			s.byEngine(&n)
		}
		if n.Choice == "" && s.byDefaults && !s.setting(i) && f.Default != "" {
			n.Choice, n.Settled = f.Default, true
		}
		if !s.holds(s.r.vans[s.asked.base].finishWhen[i], picked) {
			continue
		}
		picked["finish."+f.Code] = n.Choice
		list = append(list, n)
	}
	return list
}

func (s *specifying) setting(finish int) bool {
	return find(s.r.logic.settings, func(k int) bool { return k == finish }) >= 0
}

// byEngine corrects a finish by what the engine made of it: put aside, or
// settled.
func (s *specifying) byEngine(n *SpecifiedFinish) {
	name := "finish." + n.Finish
	for i := range s.said {
		c := &s.said[i]
		if c.Verb != options.Pick || c.Feature != name {
			continue
		}
		aside := slices.Contains(s.aside, i)
		switch {
		case aside && n.Choice == c.Value:
			n.Choice, n.InPackage = "", false
		case !aside && c.Source == options.FromSettling:
			n.Choice, n.Settled = c.Value, true
		}
	}
}

// holds says whether a condition, the base van's facts folded away, holds on
// the specification.
func (s *specifying) holds(c formula.Condition, picked map[string]string) bool {
	base := &s.r.catalogue.BaseVans[s.asked.base]
	return c.Holds(func(a formula.Atom) bool {
		if a.Value == "" {
			k, ok := s.r.features[a.Name]
			return ok && s.counts[k] >= a.AtLeast
		}
		for i := range base.Particulars {
			if "van."+base.Particulars[i].Name == a.Name {
				return s.asked.particulars[i] == a.Value
			}
		}
		return picked[a.Name] == a.Value
	})
}
