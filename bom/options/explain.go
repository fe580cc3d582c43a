package options

import (
	"slices"
	"sort"

	"wainscot/bom/options/internal/sat"
)

// explanation keeps why everything that is decided is so. Reasons are linked
// data; telling them is a walk, done only for what somebody asks about.
type explanation struct {
	r       *Rules
	choices []Choice
	assumed []assumption
	trace   *sat.Trace
}

// Why gives the reason for the standing of a feature that is not open; for a
// counted feature the reason for its Least, or for being ruled out. It is nil
// for an open feature.
func (a *Answer) Why(feature int) *Reason {
	reason, l := a.direct(feature)
	if reason == nil && l >= 0 {
		reason = a.why.why(l, -1)
	}
	return reason
}

// direct gives the reason for a feature that a choice itself says all about;
// else the literal that its reason is for, -1 where there is nothing to explain.
func (a *Answer) direct(feature int) (*Reason, sat.Lit) {
	o := a.Options[feature]
	e := a.why
	switch {
	case o.Standing == Open || e == nil:
		return nil, -1
	case o.Standing == RuledOut:
		if o.ByChoice >= 0 {
			return &Reason{Choices: []int{o.ByChoice}}, -1
		}
		return nil, e.r.on(feature, 1).Not()
	case o.ByChoice >= 0 && count(e.choices[o.ByChoice]) >= o.Least:
		return &Reason{Choices: []int{o.ByChoice}}, -1
	}
	return nil, e.r.on(feature, o.Least)
}

// WhyMost gives the reason for a Most below the feature's own; nil where there
// is nothing to explain.
func (a *Answer) WhyMost(feature int) *Reason {
	if !a.bounded(feature) {
		return nil
	}
	return a.why.why(a.why.r.on(feature, a.Options[feature].Most+1).Not(), -1)
}

// bounded says whether there can be fewer of a feature than it allows itself.
func (a *Answer) bounded(feature int) bool {
	o := a.Options[feature]
	return a.why != nil && o.Most != 0 && o.Most != a.why.r.model.Features[feature].Most
}

// WhyValue gives the reason why a value of a setting, Settings[i], is ruled out
// or must be; nil for an open one.
func (a *Answer) WhyValue(i int) *Reason {
	l := a.decided(i)
	if l < 0 {
		return nil
	}
	return a.why.why(l, -1)
}

// decided is the literal that says how a value of a setting stands, -1 for an
// open one.
func (a *Answer) decided(i int) sat.Lit {
	v := a.Settings[i]
	if a.why == nil || v.Standing == Open {
		return -1
	}
	l := sat.Pos(a.why.r.value[v.Setting][v.Value])
	if v.Standing == RuledOut {
		l = l.Not()
	}
	return l
}

// why gives what a literal on the trail rests on. The choice except is what
// the reason is for and not part of it.
func (e *explanation) why(l sat.Lit, except int) *Reason {
	reason := &Reason{}
	e.members(l, except, func(m member) {
		if m.choice < 0 {
			reason.Causes = append(reason.Causes, e.r.causeOf(m))
		} else {
			reason.Choices = append(reason.Choices, int(m.choice))
		}
	})
	return reason
}

// members calls yield for each thing that a literal on the trail rests on and
// that a reason tells, in the order of the trail.
func (e *explanation) members(l sat.Lit, except int, yield func(member)) {
	var chosen []int32
	for _, step := range e.trace.Why(l) {
		if step.Assumed < 0 {
			if e.r.causes[step.Cause].Kind != ByCounting {
				yield(member{choice: -1, notSold: -1, cause: step.Cause})
			}
			continue
		}
		as := e.assumption(step.Assumed)
		switch {
		case as.choice < 0 && as.not < 0:
			// That something offered is not fitted needs no telling.
		case as.choice < 0:
			yield(member{choice: -1, notSold: as.not, cause: -1})
		case int(as.choice) != except && !slices.Contains(chosen, as.choice):
			chosen = append(chosen, as.choice)
			yield(member{choice: as.choice, notSold: -1, cause: -1})
		}
	}
}

// assumption finds the one of a literal. They were taken in the order of the
// trail.
func (e *explanation) assumption(l sat.Lit) assumption {
	at := e.trace.Place(l)
	i := sort.Search(len(e.assumed), func(i int) bool { return e.trace.Place(e.assumed[i].lit) >= at })
	return e.assumed[i]
}
