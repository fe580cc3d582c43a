package catalogue

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"wainscot/bom/document"
)

// This file checks what is offered: groups, features, finishes, packages,
// rules, safety rules, figures, checks.

func (v *checker) groups() {
	for i := range v.c.Groups {
		g := &v.c.Groups[i]
		at := v.member("groups", v.group, i, g.Code, identifier)
		v.readable(at+"/code", g.Code)
		v.name(at+"/name", g.Name)
		v.refers(at+"/stage", g.Stage, "stage", v.stage)
		v.word(at+"/pick", g.Pick, string(g.Pick))
		v.formula(at+"/when", g.When, false)
		v.formula(at+"/required", g.Required, false)
		v.sentence(at+"/says", g.Says, g.When != "")
		v.placed(at+"/position", g.Position)
		for j, f := range v.picks(at+"/default", g.Default) {
			at := document.Join(at, "default", j+1, "feature")
			switch {
			case f == nil:
			case f.Group != g.Code:
				v.fault("not_in_group", at, fmt.Sprintf("%q is not in this group but in %q.", f.Code, short(f.Group)),
					"Name a feature of the group.")
			case f.NotSold || f.Follower:
				v.fault("not_pickable", at, fmt.Sprintf("%q cannot be picked: it only comes with the van or another feature.", f.Code),
					"Name a feature that can be picked.")
			}
		}
	}
}

// picks checks features with their counts and gives the features, nil for
// those that are not there.
func (v *checker) picks(at string, picks []Fitted) []*Feature {
	v.listed(at, len(picks), false, MaxListed)
	list := make([]*Feature, len(picks))
	seen := make(map[string]bool, len(picks))
	for i, p := range picks {
		at := document.Join(at, i+1)
		if !v.refers(at+"/feature", p.Feature, "feature", v.feature) {
			continue
		}
		f := &v.c.Features[v.feature.first[p.Feature]]
		list[i] = f
		if seen[p.Feature] {
			v.fault("duplicate_code", at+"/feature", fmt.Sprintf("%q is listed twice.", p.Feature), "List each once, with its count.")
		}
		seen[p.Feature] = true
		v.howMany(at+"/count", p.Count, f)
	}
	return list
}

// howMany checks a count of a feature; 0 means 1.
func (v *checker) howMany(at string, n int, f *Feature) {
	switch {
	case f.Count == nil && (n < 0 || n > 1):
		v.fault("out_of_range", at, fmt.Sprintf("There cannot be %d of %q.", n, f.Code), "Leave the count out: the feature is there or not.")
	case f.Count != nil && (n < 0 || n > f.Count.Most || max(n, 1) < f.Count.Least):
		v.fault("out_of_range", at, fmt.Sprintf("There cannot be %d of %q.", cmp.Or(n, 1), f.Code),
			fmt.Sprintf("Give %d to %d.", f.Count.Least, f.Count.Most))
	}
}

func (v *checker) features() {
	brought := v.brought()
	for i := range v.c.Features {
		f := &v.c.Features[i]
		at := v.member("features", v.feature, i, f.Code, identifier)
		v.readable(at+"/code", f.Code)
		v.name(at+"/name", f.Name)
		v.refers(at+"/group", f.Group, "group", v.group)
		v.sentence(at+"/says", f.Says, false)
		if f.Count != nil {
			v.bounds(at+"/count", *f.Count)
		}
		v.vansOf(at+"/vans", f.Vans)
		v.cautions(at+"/caution", f.Caution)
		v.placed(at+"/position", f.Position)
		v.months(at+"/warranty_months", f.WarrantyMonths, 0)
		v.checksDue(at+"/checks_due", f.ChecksDue)
		v.sentence(at+"/shows", f.Shows, false)
		for j, s := range f.LeavesOut {
			v.sentence(document.Join(at, "leaves_out", j+1), s, true)
		}
		v.lines(at+"/lines", f.Lines, v.staged)
		if f.Removal != nil {
			v.notNegative(at+"/removal/mass_kg", f.Removal.MassKG)
			v.lines(at+"/removal/lines", f.Removal.Lines, v.staged)
		}
		if f.Follower && !brought[f.Code] {
			v.fault("never_brought", at+"/follower", fmt.Sprintf("No rule brings %q, so it could never be there.", f.Code),
				"Add a rule that brings it, or let it be sold by itself.")
		}
		if f.Follower && f.NotSold {
			v.fault("not_exactly_one", at, "A follower is fitted, what is not sold never is.", "Give only one of follower and not_sold.")
		}
	}
}

// months checks a number of months; least is 0 where none means something.
func (v *checker) months(at string, n, least int) {
	if n < least || n > MaxMonths {
		v.fault("out_of_range", at, fmt.Sprintf("%d months make no sense.", n), fmt.Sprintf("Give %d to %d.", max(least, 1), MaxMonths))
	}
}

func (v *checker) checksDue(at string, list []CheckDue) {
	if len(list) > MaxChecksDue {
		v.fault("too_many", at, fmt.Sprintf("There are %d checks.", len(list)), fmt.Sprintf("At most %d.", MaxChecksDue))
		return
	}
	for i, c := range list {
		at := document.Join(at, i+1)
		v.name(at+"/name", c.Name)
		v.months(at+"/every_months", c.EveryMonths, 1)
		v.sentence(at+"/cites", c.Cites, false)
		if slices.ContainsFunc(list[:i], func(o CheckDue) bool { return o.Name == c.Name }) {
			v.fault("duplicate_code", at+"/name", fmt.Sprintf("%q is listed twice.", short(c.Name)), "List each once.")
		}
	}
}

func (v *checker) bounds(at string, c Count) {
	if c.Least < 1 {
		v.fault("out_of_range", at+"/least", fmt.Sprintf("The least count is %d.", c.Least), "Give 1 or more: having none is always possible.")
	}
	if c.Most < c.Least || c.Most > MaxCount {
		v.fault("out_of_range", at+"/most", fmt.Sprintf("The most is %d, the least %d.", c.Most, c.Least),
			fmt.Sprintf("Give the least or more, and at most %d.", MaxCount))
	}
}

// brought are the features that some rule brings.
func (v *checker) brought() map[string]bool {
	all := map[string]bool{}
	for i := range v.c.Rules {
		for _, b := range v.c.Rules[i].Brings {
			all[b.Feature] = true
		}
	}
	return all
}

func (v *checker) finishes() {
	for i := range v.c.Finishes {
		f := &v.c.Finishes[i]
		at := v.member("finishes", v.finish, i, f.Code, identifier)
		v.readable(at+"/code", f.Code)
		v.name(at+"/name", f.Name)
		v.formula(at+"/when", f.When, false)
		v.listed(at+"/choices", len(f.Choices), true, MaxListed)
		ix := indexed(f.Choices, func(c *FinishChoice) string { return c.Code })
		var unit Unit
		for j := range f.Choices {
			c := &f.Choices[j]
			at := v.member(at+"/choices", ix, j, c.Code, value)
			v.name(at+"/name", c.Name)
			v.counted(at+"/part", c.Part)
			p, known := v.part.first[c.Part]
			if !known {
				continue
			}
			switch u := v.c.Parts[p].Unit; {
			case unit == "":
				unit = u
			case u != unit:
				v.fault("unit_mismatch", at+"/part", fmt.Sprintf("%q is counted in %s, the choices before it in %s.", c.Part, u, unit),
					"Let all choices of a finish pick parts in one unit: one quantity serves them all.")
			}
		}
		if f.Default != "" {
			v.refers(at+"/default", f.Default, "choice", ix)
		}
	}
}

func (v *checker) packages() {
	ix := indexed(v.c.Packages, func(p *Package) string { return p.Code })
	for i := range v.c.Packages {
		p := &v.c.Packages[i]
		at := v.member("packages", ix, i, p.Code, label)
		v.name(at+"/name", p.Name)
		v.sentence(at+"/says", p.Says, false)
		v.vansOf(at+"/vans", p.Vans)
		v.listed(at+"/items", len(p.Items), true, MaxListed)
		items := v.picks(at+"/items", p.Items)
		v.onePerGroup(at+"/items", items)
		for j, f := range items {
			if f == nil {
				continue
			}
			at := document.Join(at, "items", j+1, "feature")
			if f.NotSold || f.Follower {
				v.fault("not_pickable", at, fmt.Sprintf("%q is not sold by itself.", f.Code),
					"Leave it out; what brings it brings it here too.")
			}
			if van, ok := v.missingVan(p.Vans, f); ok {
				v.fault("not_offered", at, fmt.Sprintf("%q is not offered for base van %q, for which the package is.", f.Code, van),
					"Limit the package to base vans that can have all of it.")
			}
		}
		seen := map[string]bool{}
		for j, pf := range p.Finishes {
			at := document.Join(at, "finishes", j+1)
			if !v.refers(at+"/finish", pf.Finish, "finish", v.finish) {
				continue
			}
			if seen[pf.Finish] {
				v.fault("duplicate_code", at+"/finish", fmt.Sprintf("%q is listed twice.", pf.Finish), "List each once.")
			}
			seen[pf.Finish] = true
			f := &v.c.Finishes[v.finish.first[pf.Finish]]
			v.refers(at+"/choice", pf.Choice, "choice of "+f.Code, indexed(f.Choices, func(c *FinishChoice) string { return c.Code }))
		}
	}
}

// onePerGroup checks that no two features come from a group of which at most
// one may be picked.
func (v *checker) onePerGroup(at string, features []*Feature) {
	first := map[string]*Feature{}
	for i, f := range features {
		if f == nil {
			continue
		}
		g, ok := v.group.first[f.Group]
		if !ok || v.c.Groups[g].Pick == AnyNumber {
			continue
		}
		if had := first[f.Group]; had != nil && had != f {
			v.fault("two_of_group", document.Join(at, i+1, "feature"),
				fmt.Sprintf("%q and %q are both of group %q, of which %s may be picked.", had.Code, f.Code, f.Group, v.c.Groups[g].Pick),
				"Keep one of the two.")
			continue
		}
		first[f.Group] = f
	}
}

// missingVan is a base van among vans (all, if none) the feature is not
// offered for.
func (v *checker) missingVan(vans []string, f *Feature) (string, bool) {
	if len(f.Vans) == 0 {
		return "", false
	}
	if len(vans) == 0 {
		for i := range v.c.BaseVans {
			if code := v.c.BaseVans[i].Code; !slices.Contains(f.Vans, code) {
				return code, true
			}
		}
		return "", false
	}
	for _, code := range vans {
		if v.van.has(code) && !slices.Contains(f.Vans, code) {
			return code, true
		}
	}
	return "", false
}

func (v *checker) rules() {
	ix := indexed(v.c.Rules, func(r *Rule) string { return r.Code })
	for i := range v.c.Rules {
		r := &v.c.Rules[i]
		at := v.member("rules", ix, i, r.Code, label)
		v.one(at, given{"needs", r.Needs != ""}, given{"brings", len(r.Brings) > 0}, given{"clashes", r.Clashes != ""})
		v.formula(at+"/if", r.If, false)
		v.formula(at+"/needs", r.Needs, false)
		v.formula(at+"/clashes", r.Clashes, false)
		v.sentence(at+"/says", r.Says, true)
		v.sentence(at+"/cites", r.Cites, false)
		for j, f := range v.picks(at+"/brings", r.Brings) {
			if f != nil && f.NotSold {
				v.fault("not_pickable", document.Join(at, "brings", j+1, "feature"),
					fmt.Sprintf("%q is not sold, so nothing can bring it.", f.Code), "Use needs: the van has it or has not.")
			}
		}
	}
	arrows := v.bringing()
	v.cycles("features", "brings_cycle", len(v.c.Features), func(i int) []int { return arrows[i] },
		func(i int) string { return v.c.Features[i].Code },
		"Each of these features brings the next", "Let one of the rules need instead of bring.")
}

func (v *checker) safetyRules() {
	ix := indexed(v.c.SafetyRules, func(s *SafetyRule) string { return s.Code })
	for i := range v.c.SafetyRules {
		s := &v.c.SafetyRules[i]
		at := v.member("safety_rules", ix, i, s.Code, label)
		v.formula(at+"/if", s.If, false)
		v.formula(at+"/holds", s.Holds, true)
		v.sentence(at+"/says", s.Says, true)
		v.sentence(at+"/cites", s.Cites, false)
	}
}

// bringing are the features each feature brings by itself. Only conditions
// made of names with || are read here, where each name alone is enough; what
// other conditions come to is for Compile, which understands them.
func (v *checker) bringing() map[int][]int {
	arrows := map[int][]int{}
	for i := range v.c.Rules {
		r := &v.c.Rules[i]
		if len(r.Brings) == 0 {
			continue
		}
		for name := range strings.SplitSeq(r.If, "||") {
			from, ok := v.feature.first[strings.TrimFunc(name, func(c rune) bool { return unicode.IsSpace(c) || c == '(' || c == ')' })]
			if !ok {
				continue
			}
			for _, b := range r.Brings {
				if to, ok := v.feature.first[b.Feature]; ok {
					arrows[from] = append(arrows[from], to)
				}
			}
		}
	}
	return arrows
}

func (v *checker) figures() {
	ix := indexed(v.c.Figures, func(f *Figure) string { return f.Code })
	for i := range v.c.Figures {
		f := &v.c.Figures[i]
		at := v.member("figures", ix, i, f.Code, identifier)
		v.readable(at+"/code", f.Code)
		if v.feature.has(f.Code) && f.Code != "" {
			v.fault("duplicate_code", at+"/code", fmt.Sprintf("There is a feature %q.", short(f.Code)),
				"Formulas read features and figures by their bare codes: give one of the two another.")
		}
		if identifier.fits(f.Code) && !endsInUnit(f.Code) {
			v.fault("no_unit", at+"/code", fmt.Sprintf("%q does not end in a unit.", f.Code), unitRemedy)
		}
		v.name(at+"/name", f.Name)
		v.formula(at+"/formula", f.Formula, true)
		v.sentence(at+"/cites", f.Cites, false)
	}
}

func (v *checker) checks() {
	ix := indexed(v.c.Checks, func(c *Check) string { return c.Code })
	for i := range v.c.Checks {
		c := &v.c.Checks[i]
		at := v.member("checks", ix, i, c.Code, label)
		v.name(at+"/name", c.Name)
		v.word(at+"/grade", c.Grade, string(c.Grade))
		v.word(at+"/sense", c.Sense, string(c.Sense))
		v.formula(at+"/when", c.When, false)
		v.formula(at+"/figure", c.Figure, true)
		v.formula(at+"/limit", c.Limit, true)
		v.name(at+"/unit", c.Unit)
		v.upTo(at+"/near_percent", c.NearPercent, MaxNearPercent)
		v.sentence(at+"/says", c.Says, true)
		v.sentence(at+"/remedy", c.Remedy, true)
		v.sentence(at+"/cites", c.Cites, false)
	}
}
