package bom

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/document"
	"wainscot/bom/options"
)

// Told is a reason put into words: what was said, then cause by cause what
// follows from it, and the conclusion.
type Told struct {
	// Sentences are the whole reason in the order in which a person would
	// reason.
	Sentences []string
	// Said are the choices it rests on, places in Resolution.Said.
	Said   []int
	Causes []ToldCause
	// Minimal: nothing of it can be left out. Otherwise finding out what can
	// took more work than it may; it is so for these reasons all the same.
	Minimal bool
}

// ToldCause is a rule, a group bound, or what else a reason names.
type ToldCause struct {
	Kind string // rule, group, follower, van, setting
	Code string // of the rule, group, feature or setting
	Says string // the sentence
}

// About is what a reason is asked for: one of these.
type About struct {
	Feature string // why it stands as it does
	MostOf  string // why there can be no more of this feature
	// Setting and its Value, why it can not be or must be: van.steering, left.
	Setting, Value string
	PutAside       *int // why this choice, a place in Resolution.Said, was put aside
}

// Explained is the reason for one thing.
type Explained struct {
	// Standing of the feature or value; empty for MostOf and PutAside.
	Standing string
	// Told is nil where there is nothing to explain: something open, a feature
	// of which there can be as many as it says.
	Told *Told
}

// ReasonWork is the work that all reasons of one resolution may take together.
const ReasonWork = options.ReasonWork

// Explain gives the minimal reason for one thing, and where that takes more
// than what is left of work, the valid one. Faults are in about, their places
// those of its fields: feature, most_of, setting, value, put_aside. An error
// says that the resolution is of another release.
func Explain(r *Release, res *Resolution, about About, work *int64) (Explained, document.Faults, error) {
	rules, err := r.Rules(res.Specification.Van.BaseVan)
	if err != nil {
		return Explained{}, nil, err
	}
	e := explaining{r: r, res: res, about: about, work: work, reasoner: reasoner{teller{r, res.Said}, rules.Model().Settings}}
	var named int
	for _, given := range []bool{about.Feature != "", about.MostOf != "", about.Setting != "" || about.Value != "", about.PutAside != nil} {
		if given {
			named++
		}
	}
	switch {
	case named != 1:
		return Explained{}, document.Faults{{Code: "not_exactly_one", Reason: "A reason is asked for one thing at a time.",
			Remedy: "Give one of feature, most_of, put_aside, and setting with its value."}}, nil
	case about.PutAside != nil:
		return e.putAside()
	case about.Setting != "" || about.Value != "":
		return e.value()
	case about.MostOf != "":
		return e.most()
	}
	return e.feature()
}

// explaining is one reason on its way.
type explaining struct {
	reasoner
	r     *Release
	res   *Resolution
	about About
	work  *int64
}

// tell puts a minimal reason into words, or the valid one where the work ended.
func (e *explaining) tell(standing string, minimal *options.Reason, err error, valid func() *options.Reason,
	conclusion func(*options.Reason) string,
) (Explained, document.Faults, error) {
	out := Explained{Standing: standing}
	why := minimal
	if errors.Is(err, options.ErrBudget) {
		why, err = valid(), nil
	}
	if err != nil || why == nil {
		return out, nil, err
	}
	out.Told = e.told(why, conclusion(why))
	out.Told.Minimal = minimal != nil
	return out, nil, nil
}

func (e *explaining) feature() (Explained, document.Faults, error) {
	k, faults := e.named("feature", e.about.Feature)
	if len(faults) > 0 {
		return Explained{}, faults, nil
	}
	a := &e.res.Answer
	why, err := a.WhyMinimal(k, e.work)
	return e.tell(a.Options[k].Standing.String(), why, err, func() *options.Reason { return a.Why(k) },
		func(why *options.Reason) string { return e.stands(&a.Options[k], why) })
}

func (e *explaining) most() (Explained, document.Faults, error) {
	k, faults := e.named("most_of", e.about.MostOf)
	if len(faults) > 0 {
		return Explained{}, faults, nil
	}
	a := &e.res.Answer
	why, err := a.WhyMostMinimal(k, e.work)
	return e.tell("", why, err, func() *options.Reason { return a.WhyMost(k) }, func(*options.Reason) string {
		return fmt.Sprintf("So there can be at most %d of %s.", a.Options[k].Most, the(e.name(k)))
	})
}

// named finds a feature, and faults where there is none.
func (e *explaining) named(at, code string) (int, document.Faults) {
	if k, ok := e.r.features[code]; ok {
		return k, nil
	}
	return -1, document.Faults{{Code: "unknown_code", At: at, Reason: fmt.Sprintf("The catalogue has no feature %s.", quoted(code)),
		Remedy: document.Suggest(code, e.r.featureCodes, "Use the code of a feature in the catalogue.")}}
}

func (e *explaining) value() (Explained, document.Faults, error) {
	a := &e.res.Answer
	s := find(e.settings, func(s options.Setting) bool { return s.Name == e.about.Setting })
	if s < 0 {
		return Explained{}, document.Faults{{Code: "unknown_code", At: "setting",
			Reason: fmt.Sprintf("No rule on this base van asks about %s.", quoted(e.about.Setting)),
			Remedy: document.Suggest(e.about.Setting, codes(e.settings, func(s options.Setting) string { return s.Name }),
				"Use the name of a setting that has standings.")}}, nil
	}
	at := find(a.Settings, func(v options.SettingValue) bool {
		return v.Setting == s && e.settings[s].Values[v.Value] == e.about.Value
	})
	if at < 0 {
		return Explained{}, document.Faults{{Code: "unknown_value", At: "value",
			Reason: fmt.Sprintf("The %s is never %s.", e.settings[s].Label, quoted(e.about.Value)),
			Remedy: document.Suggest(e.about.Value, e.settings[s].Values, "Use one of its values.")}}, nil
	}
	why, err := a.WhyValueMinimal(at, e.work)
	return e.tell(a.Settings[at].Standing.String(), why, err, func() *options.Reason { return a.WhyValue(at) }, func(why *options.Reason) string {
		what := e.choice(&options.Choice{Verb: options.Pick, Feature: e.about.Setting, Value: e.about.Value})
		switch {
		case a.Settings[at].Standing == options.RuledOut:
			return fmt.Sprintf("So %s cannot be had.", what)
		case len(why.Causes) == 0:
			return "" // what was said is all there is to it
		}
		return fmt.Sprintf("So %s comes with it.", what)
	})
}

func (e *explaining) putAside() (Explained, document.Faults, error) {
	a := &e.res.Answer
	i := find(a.PutAside, func(p options.PutAside) bool { return p.Choice == *e.about.PutAside })
	if i < 0 {
		return Explained{}, document.Faults{{Code: "not_put_aside", At: "put_aside", Reason: "That choice was not put aside.",
			Remedy: "Use the place of a choice that was put aside, with the same van, choices and settling."}}, nil
	}
	why, err := a.AsideMinimal(i, e.work)
	return e.tell("", why, err, func() *options.Reason { return a.PutAside[i].Why }, func(*options.Reason) string {
		return fmt.Sprintf("So %s cannot be had with it.", e.asked(&e.res.Said[*e.about.PutAside]))
	})
}

// reasoner tells whole reasons, with nothing cut short.
type reasoner struct {
	teller
	settings []options.Setting // of the base van in question
}

// asked names what a choice is about, with its number.
func (t *reasoner) asked(c *options.Choice) string {
	switch {
	case c.Verb == options.Number && c.N > 0:
		return fmt.Sprintf("%d of the %s", c.N, t.feature(c.Feature))
	case c.Verb == options.AtLeast && c.N > 1:
		return fmt.Sprintf("at least %d of the %s", c.N, t.feature(c.Feature))
	}
	return t.choice(c)
}

// told puts a reason into words.
func (t *reasoner) told(why *options.Reason, conclusion string) *Told {
	out := &Told{Said: why.Choices, Minimal: !why.Loose}
	for source := options.FromVan; source <= options.FromSettling; source++ {
		var said []string
		for _, i := range why.Choices {
			if i < len(t.said) && t.said[i].Source == source {
				said = append(said, t.asked(&t.said[i]))
			}
		}
		if len(said) > 0 {
			out.Sentences = append(out.Sentences, saidBy[source]+": "+strings.Join(said, ", ")+".")
		}
	}
	for _, c := range why.Causes {
		cause := ToldCause{Kind: causeKinds[c.Kind], Code: t.causeCode(c), Says: sentence(c.Says)}
		out.Causes = append(out.Causes, cause)
		if !slices.Contains(out.Sentences, cause.Says) {
			out.Sentences = append(out.Sentences, cause.Says)
		}
	}
	if conclusion != "" {
		out.Sentences = append(out.Sentences, conclusion)
	}
	return out
}

var saidBy = [...]string{
	options.FromVan:      "The van",
	options.FromFitted:   "Already there",
	options.FromCustomer: "Chosen",
	options.FromPackage:  "In the package",
	options.FromSettling: "Settled",
}

var causeKinds = [...]string{
	options.ByRule:     "rule",
	options.ByGroup:    "group",
	options.ByFollower: "follower",
	options.ByVan:      "van",
	options.BySetting:  "setting",
	options.ByCounting: "counting", // never told
}

// causeCode names what a cause is about.
func (t *reasoner) causeCode(c options.Cause) string {
	switch c.Kind {
	case options.ByRule:
		return t.r.catalogue.Rules[c.Index].Code
	case options.ByGroup:
		return t.r.catalogue.Groups[c.Index].Code
	case options.BySetting:
		return t.settings[c.Index].Name
	default:
		return t.r.featureCodes[c.Index]
	}
}

// sentence ends a text with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".!?") {
		return s
	}
	return strings.TrimRight(s, ";:,") + "."
}

func (t *reasoner) name(feature int) string { return t.r.catalogue.Features[feature].Name }

// stands is the conclusion about a feature.
func (t *reasoner) stands(o *options.Option, why *options.Reason) string {
	name := Uncapped(t.name(o.Feature))
	switch {
	case o.ByChoice >= 0 && len(why.Causes) == 0:
		return "" // what was said is all there is to it
	case o.Standing == options.RuledOut:
		return fmt.Sprintf("So %s cannot be had.", the(t.name(o.Feature)))
	case o.Least > 1:
		return fmt.Sprintf("So there must be at least %d of the %s.", o.Least, name)
	}
	return fmt.Sprintf("So %s comes with it.", the(t.name(o.Feature)))
}
