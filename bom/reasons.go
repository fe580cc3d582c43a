package bom

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/options"
)

// Told is a reason put into words: what was said, then cause by cause what
// follows from it, and the conclusion.
type Told struct {
	// Sentences are the whole reason in the order in which a person would
	// reason. None of them can be left out.
	Sentences []string
	// Said are the choices it rests on, places in Resolution.Said.
	Said   []int
	Causes []ToldCause
}

// ToldCause is a rule, a group bound, or what else a reason names.
type ToldCause struct {
	Kind string // rule, group, follower, van, setting
	Code string // of the rule, group, feature or setting
	Says string // the sentence
}

// WhyMinimal tells why a feature stands as it does, and nothing that could be
// left out of it; nil for one that is open or that the release does not have.
// Error: options.ErrBudget.
func WhyMinimal(r *Release, res *Resolution, feature string) (*Told, error) {
	k, ok := r.features[feature]
	if !ok || k >= len(res.Answer.Options) {
		return nil, nil //nolint:nilnil // nothing to explain is no error
	}
	why, err := res.Answer.WhyMinimal(k)
	if err != nil || why == nil {
		return nil, err
	}
	t, err := r.reasoner(res)
	if err != nil {
		return nil, err
	}
	return t.told(why, t.stands(&res.Answer.Options[k], why)), nil
}

// WhyMostMinimal tells why there can be no more of a counted feature; nil where
// there is nothing to explain. Error: options.ErrBudget.
func WhyMostMinimal(r *Release, res *Resolution, feature string) (*Told, error) {
	k, ok := r.features[feature]
	if !ok || k >= len(res.Answer.Options) {
		return nil, nil //nolint:nilnil // nothing to explain is no error
	}
	why, err := res.Answer.WhyMostMinimal(k)
	if err != nil || why == nil {
		return nil, err
	}
	t, err := r.reasoner(res)
	if err != nil {
		return nil, err
	}
	return t.told(why, fmt.Sprintf("So there can be at most %d of %s.", res.Answer.Options[k].Most, the(t.name(k)))), nil
}

// AsideMinimal tells why choice Answer.PutAside[i] does not fit with those
// before it. Error: options.ErrBudget.
func AsideMinimal(r *Release, res *Resolution, i int) (*Told, error) {
	why, err := res.Answer.AsideMinimal(i)
	if err != nil || why == nil {
		return nil, err
	}
	t, err := r.reasoner(res)
	if err != nil {
		return nil, err
	}
	return t.told(why, fmt.Sprintf("So %s cannot be had with it.", t.asked(&res.Said[res.Answer.PutAside[i].Choice]))), nil
}

// reasoner tells whole reasons, with nothing cut short.
type reasoner struct {
	teller
	settings []options.Setting // of the base van in question
}

func (r *Release) reasoner(res *Resolution) (*reasoner, error) {
	rules, err := r.Rules(res.Specification.Van.BaseVan)
	if err != nil {
		return nil, err
	}
	return &reasoner{teller{r, res.Said}, rules.Model().Settings}, nil
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
	out := &Told{Said: why.Choices}
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
	name := uncapped(t.name(o.Feature))
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
