package bom

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/formula"
	"wainscot/bom/options"
)

var errNoBaseVan = errors.New("bom: the release has no such base van")

// logic is what a catalogue says about which features go together, before the
// facts of a base van are put in.
type logic struct {
	when, required []formula.Condition // by group
	rules          []logicRule
	safety         []safetyRule
	finishWhen     []formula.Condition // by finish
	settings       []int               // finishes that conditions name
}

type logicRule struct {
	ifs, then formula.Condition
	brings    []options.Count
}

// safetyRule is a claim: whenever ifs, then holds.
type safetyRule struct{ ifs, holds formula.Condition }

// vanRules are the option rules of one base van, made when first needed.
type vanRules struct {
	made  bool
	rules *options.Rules
	err   error
	// finishWhen is, by finish, when it applies, facts folded away.
	finishWhen []formula.Condition
}

// rules gives the compiled rules of a base van; r.vans[van] may be read after
// that. Compiling takes milliseconds
// and its result is kept, so waiting callers lose nothing by waiting in line.
func (r *Release) rules(van int) (*options.Rules, error) {
	r.compiling.Lock()
	defer r.compiling.Unlock()
	v := &r.vans[van]
	if !v.made {
		v.rules, v.err = options.Compile(r.model(van))
		if v.err != nil {
			v.err = fmt.Errorf("base van %s: %w", r.catalogue.BaseVans[van].Code, v.err)
		}
		for _, when := range r.logic.finishWhen {
			v.finishWhen = append(v.finishWhen, r.fold(van, when))
		}
		v.made = true
	}
	return v.rules, v.err
}

// logic reads the conditions of groups, rules, safety rules and finishes.
func (b *compiler) logic() {
	l := &b.r.logic
	named := map[string]bool{} // finishes in conditions of groups, rules and safety rules
	read := func(at, source string) formula.Condition {
		c := b.condition(at, source)
		c.Atoms(func(a formula.Atom) {
			if code, ok := strings.CutPrefix(a.Name, "finish."); ok {
				named[code] = true
			}
		})
		return c
	}
	for _, g := range b.c.Groups {
		at := "groups/" + g.Code
		when := read(at+"/when", g.When)
		required := formula.False
		switch {
		case g.Required != "":
			required = formula.And(when, read(at+"/required", g.Required))
		case g.Pick == catalogue.ExactlyOne:
			required = when
		}
		l.when, l.required = append(l.when, when), append(l.required, required)
	}
	for _, rule := range b.c.Rules {
		l.rules = append(l.rules, b.rule(rule, read))
	}
	for _, s := range b.c.SafetyRules {
		at := "safety_rules/" + s.Code
		l.safety = append(l.safety, safetyRule{read(at+"/if", s.If), read(at+"/holds", s.Holds)})
	}
	for i, f := range b.c.Finishes {
		l.finishWhen = append(l.finishWhen, b.condition("finishes/"+f.Code+"/when", f.When))
		if named[f.Code] {
			l.settings = append(l.settings, i)
		}
	}
	if len(b.faults) == 0 { // what could not be read cannot be judged
		b.idle()
	}
}

func (b *compiler) rule(rule catalogue.Rule, read func(at, source string) formula.Condition) logicRule {
	at := "rules/" + rule.Code
	n := logicRule{ifs: read(at+"/if", rule.If)}
	switch {
	case rule.Needs != "":
		n.then = read(at+"/needs", rule.Needs)
	case rule.Clashes != "":
		n.then = formula.Not(read(at+"/clashes", rule.Clashes))
	}
	for _, f := range rule.Brings {
		if k, ok := b.r.features[f.Feature]; ok {
			n.brings = append(n.brings, options.Count{Feature: k, N: max(f.Count, leastOf(&b.c.Features[k]))})
		}
	}
	return n
}

// condition reads one condition; a fault makes it True, so that reading goes on.
func (b *compiler) condition(at, source string) formula.Condition {
	c, err := b.r.scope.Condition(source)
	if err != nil {
		b.formulaFault(at, source, err)
		return formula.True
	}
	return c
}

func (b *compiler) formulaFault(at, source string, err error) {
	f := document.Fault{Code: "bad_formula", At: at, Reason: err.Error()}
	if e, ok := errors.AsType[*formula.Error](err); ok {
		f.Reason = fmt.Sprintf("In %s, column %d: %s", quoted(source), e.Column, e.Reason)
		f.Remedy = e.Remedy
	}
	b.faults = append(b.faults, f)
}

// idle finds what can do nothing on any base van: it was meant to do
// something, so it is a mistake. Only what the facts, particulars and offered
// features of each van settle by themselves is looked at here; the rest is for
// the proof before publishing.
func (b *compiler) idle() {
	ever := func(c formula.Condition) bool {
		for v := range b.c.BaseVans {
			if b.r.possible(v, c).Op != formula.IsFalse {
				return true
			}
		}
		return len(b.c.BaseVans) == 0
	}
	for i, rule := range b.c.Rules {
		l := &b.r.logic.rules[i]
		if !ever(l.ifs) {
			b.fault("idle_rule", "rules/"+rule.Code+"/if", "The condition holds on no base van, so the rule never does anything.",
				"Mend the condition, or take the rule out.")
		} else if rule.Clashes != "" && !ever(formula.Not(l.then)) {
			b.fault("idle_rule", "rules/"+rule.Code+"/clashes", "What it clashes with can be on no base van, so the rule never does anything.",
				"Mend the condition, or take the rule out.")
		} else if rule.Needs != "" && !ever(formula.And(l.ifs, l.then)) {
			b.fault("never_met", "rules/"+rule.Code+"/needs", "What it needs can be on no base van where the rule does anything, so what it is about can never be had.",
				"Mend the condition, or take out what can never be had.")
		}
	}
	for i, g := range b.c.Groups {
		if !ever(b.r.logic.when[i]) {
			b.fault("idle_group", "groups/"+g.Code+"/when", "The condition holds on no base van, so the group is never offered.",
				"Mend the condition, or take the group out.")
		}
	}
	b.emptyGroups()
}

// emptyGroups finds groups that must have a pick on a base van that is offered
// none of their features.
func (b *compiler) emptyGroups() {
	for v, van := range b.c.BaseVans {
		for i, g := range b.c.Groups {
			if b.r.fold(v, b.r.logic.required[i]).Op != formula.IsTrue {
				continue
			}
			open := slices.ContainsFunc(b.r.members[i], func(f int) bool {
				return offered(b.c.Features[f].Vans, van.Code)
			})
			if !open {
				b.fault("empty_group", "groups/"+g.Code, fmt.Sprintf("One must be picked, but %s is offered none.", van.Name),
					"Offer one of its features for that base van, or limit the group with when.")
			}
		}
	}
}

// fold puts the facts of a base van into a condition. What its particulars and
// counts can never be is false.
func (r *Release) fold(van int, c formula.Condition) formula.Condition {
	if c.Op == 0 {
		return formula.True
	}
	base := &r.catalogue.BaseVans[van]
	return replace(c.Fold(formula.Decide(base.Facts)), func(a formula.Atom) (formula.Condition, bool) {
		if a.Value == "" {
			k, ok := r.features[a.Name]
			return formula.False, !ok || a.AtLeast > mostOf(&r.catalogue.Features[k])
		}
		name, ok := strings.CutPrefix(a.Name, "van.")
		if !ok {
			return formula.Condition{}, false
		}
		p := slices.IndexFunc(base.Particulars, func(p catalogue.Particular) bool { return p.Name == name })
		return formula.False, p < 0 || !slices.Contains(base.Particulars[p].Values, a.Value)
	})
}

// possible is fold, and features not offered for the base van are off.
func (r *Release) possible(van int, c formula.Condition) formula.Condition {
	base := &r.catalogue.BaseVans[van]
	return replace(r.fold(van, c), func(a formula.Atom) (formula.Condition, bool) {
		k, ok := r.features[a.Name]
		return formula.False, a.Value == "" && ok && !offered(r.catalogue.Features[k].Vans, base.Code)
	})
}

// replace puts other conditions in place of some atoms and simplifies.
func replace(c formula.Condition, with func(formula.Atom) (formula.Condition, bool)) formula.Condition {
	switch c.Op {
	case formula.IsAtom:
		if other, ok := with(c.Atom); ok {
			return other
		}
	case formula.IsNot:
		return formula.Not(replace(c.Args[0], with))
	case formula.IsAnd, formula.IsOr:
		args := make([]formula.Condition, len(c.Args))
		for i, a := range c.Args {
			args[i] = replace(a, with)
		}
		if c.Op == formula.IsAnd {
			return formula.And(args...)
		}
		return formula.Or(args...)
	}
	return c
}

// model is the logic of the catalogue for one base van. Features, groups and
// rules keep their numbers, so that reasons point into the catalogue.
func (r *Release) model(van int) options.Model {
	c := r.catalogue
	base := &c.BaseVans[van]
	m := options.Model{
		Features: make([]options.Feature, len(c.Features)),
		Groups:   make([]options.Group, len(c.Groups)),
		Rules:    make([]options.Rule, len(c.Rules)),
	}
	for i, f := range c.Features {
		m.Features[i] = options.Feature{Code: f.Code, Name: f.Name, Group: r.groupOf[i],
			Least: leastOf(&f), Most: mostOf(&f), Follower: f.Follower, NotSold: f.NotSold}
		if !offered(f.Vans, base.Code) {
			m.Features[i].Refused = fmt.Sprintf("%s is not offered for %s.", f.Name, base.Name)
		}
	}
	for i, g := range c.Groups {
		m.Groups[i] = options.Group{Code: g.Code, Name: g.Name, AtMostOne: g.Pick != catalogue.AnyNumber,
			When: r.fold(van, r.logic.when[i]), Required: r.fold(van, r.logic.required[i]), WhenSays: g.Says}
		for _, d := range g.Default {
			if k, ok := r.features[d.Feature]; ok {
				m.Groups[i].Default = append(m.Groups[i].Default, options.Count{Feature: k, N: max(d.Count, leastOf(&c.Features[k]))})
			}
		}
	}
	for i, rule := range c.Rules {
		l := &r.logic.rules[i]
		m.Rules[i] = options.Rule{Code: rule.Code, Says: rule.Says, If: r.fold(van, l.ifs), Brings: l.brings}
		if l.then.Op != 0 {
			m.Rules[i].Then = r.fold(van, l.then)
		}
	}
	for _, p := range base.Particulars {
		m.Settings = append(m.Settings, options.Setting{Name: "van." + p.Name, Label: words(p.Name),
			Values: p.Values, Exact: true, Default: p.Values[0]})
	}
	for _, f := range r.logic.settings {
		finish := &c.Finishes[f]
		m.Settings = append(m.Settings, options.Setting{Name: "finish." + finish.Code, Label: finish.Name,
			Values: codes(finish.Choices, func(f catalogue.FinishChoice) string { return f.Code }), Default: finish.Default})
	}
	stages := index(c.Stages, func(s *catalogue.Stage) string { return s.Code })
	order := make([]int, len(c.Stages)) // where each stage comes
	for at, i := range r.stages {
		order[i] = at
	}
	m.SettleOrder = sortedBy(len(c.Groups), func(i int) int { return order[stages[c.Groups[i].Stage]] })
	return m
}
