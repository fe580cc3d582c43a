package bom

import (
	"fmt"
	"slices"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/options"
)

// Trial answers what would change, of one van and its choices: it resolves them
// once, and works out of each change of one choice only what that touches. What
// it says is what Resolve and Expand say of the changed choices.
//
// A Trial is one goroutine's, until End.
type Trial struct {
	// Resolution of the choices as they are.
	Resolution Resolution
	// First is what they come to.
	First Outcome

	r        *Release
	choices  *Choices
	asked    asked
	settle   Settle
	rules    *options.Rules
	engine   *options.Trial
	counting *counting
	standing []options.Option // before settling
	aside    []options.Choice // of the customer's as they are
	said     []askedChoice    // room for changed ones
	saidOf   []int
	finish   []int
	counts   []int
	spec     Specification
	// choicesSaid is room for the engine's choices.
	choicesSaid []options.Choice
}

// Outcome is what choices come to, as far as a change is about it.
type Outcome struct {
	// Specification without the words, standings and what goes by reasons.
	Specification *Specification
	// Tally of its sheet; of a change, what is other than in First.
	Tally Tally
	// Aside are choices of the customer that do not fit any more, as they are
	// told.
	Aside []string
}

// Try resolves a van and choices and readies a trial. Faults and errors as of
// Resolve.
func Try(r *Release, van Van, choices Choices, settle Settle) (*Trial, document.Faults, error) {
	a, faults := r.read(van, choices, settle)
	if len(faults) > 0 {
		return nil, faults, nil
	}
	rules, err := r.rules(a.base)
	if err != nil {
		return nil, nil, err
	}
	t := &Trial{r: r, choices: &choices, asked: a, settle: settle, rules: rules, counts: make([]int, len(r.featureCodes))}
	if t.Resolution, err = r.resolveAsked(&a, settle, (*options.Rules).Resolve); err != nil {
		return nil, nil, err
	}
	t.standing = t.Resolution.Answer.Options
	if settle != SettleNothing {
		open, err := rules.Resolve(r.say(&a).said)
		if err != nil {
			return nil, nil, fmt.Errorf("resolving before settling: %w", err)
		}
		t.standing = open.Options
	}
	t.engine = rules.Try()
	t.First.Specification = &t.Resolution.Specification
	for _, p := range t.Resolution.Answer.PutAside {
		t.aside = append(t.aside, t.Resolution.Said[p.Choice])
	}
	t.counting = r.counting(t.First.Specification)
	t.First.Tally = t.counting.first
	return t, nil, nil
}

// End gives back what the trial was made in.
func (t *Trial) End() {
	t.engine.End()
	t.counting.end()
}

// Places of the release; see Release.Places.
func (t *Trial) Places() []Place { return t.r.sheet.places }

// Choices are the choices with a change made.
func (t *Trial) Choices(c Change) Choices {
	out := *t.choices
	switch c.Kind {
	case PickFinish:
		out.Finishes = slices.Clone(out.Finishes)
		if i := find(out.Finishes, func(f FinishChoice) bool { return f.Finish == c.Finish.Finish }); i >= 0 {
			out.Finishes[i] = c.Finish
		} else {
			out.Finishes = append(out.Finishes, c.Finish)
		}
		return out
	case Drop:
		out.Features = t.instead(c, Choice{Refuse: c.Feature}, t.inPackage(c.Feature))
	default:
		out.Features = t.instead(c, Choice{Want: c.Feature, Count: c.Count}, true)
	}
	return out
}

// replaces says whether a change takes the place of a choice on a feature: of
// what was said of its own, of a swap of what is wanted from its group.
func (t *Trial) replaces(c *Change, feature int, refuse bool) bool {
	k := t.r.features[c.Feature]
	if c.Kind == Swap {
		return !refuse && t.r.groupOf[feature] == t.r.groupOf[k]
	}
	return feature == k
}

// instead puts a choice in place of those a change replaces, at the end where
// there are none; or only takes those out.
func (t *Trial) instead(change Change, choice Choice, put bool) []Choice {
	out := make([]Choice, 0, len(t.choices.Features)+1)
	for _, c := range t.choices.Features {
		if !t.replaces(&change, t.r.features[c.about()], c.Refuse != "") {
			out = append(out, c)
		} else if put {
			out, put = append(out, choice), false
		}
	}
	if put {
		out = append(out, choice)
	}
	return out
}

// inPackage says whether the chosen package holds a feature.
func (t *Trial) inPackage(code string) bool {
	return t.asked.pack >= 0 && slices.ContainsFunc(t.r.catalogue.Packages[t.asked.pack].Items, func(i catalogue.Fitted) bool { return i.Feature == code })
}

// With works a change out; false where it cannot be had. The outcome is good
// until the next. Errors: options.ErrBudget, of all changes together.
func (t *Trial) With(c Change) (Outcome, bool, error) {
	a := t.asked
	t.change(&a, c)
	saying := t.r.sayIn(t.choicesSaid, &a)
	t.choicesSaid = saying.said
	s := specifying{r: t.r, asked: &a, saying: &saying, byDefaults: t.settle == SettleByDefaults, counts: t.counts, features: t.spec.Features}
	var err error
	if s.said, err = t.take(saying.said); err != nil {
		return Outcome{}, false, fmt.Errorf("trying a change: %w", err)
	}
	s.aside, s.settled = t.engine.PutAside(), t.engine.Settled()
	out := Outcome{Specification: &t.spec}
	for _, i := range s.aside {
		said := s.said[i]
		if said.Source != options.FromCustomer {
			continue
		}
		if c.says(&said) {
			return out, false, nil
		}
		if !slices.Contains(t.aside, said) {
			tell := teller{t.r, s.said}
			out.Aside = append(out.Aside, tell.choice(&said))
		}
	}
	t.spec = s.specification()
	out.Tally = t.counting.change(&t.spec)
	return out, true, nil
}

// take asks the engine, after settling if that is wanted, as Release.answer
// does.
func (t *Trial) take(said []options.Choice) ([]options.Choice, error) {
	if err := t.engine.Take(said); err != nil {
		return nil, err
	}
	if t.settle == SettleByDefaults {
		settled, err := t.engine.Settle()
		if err != nil {
			return nil, err
		}
		said = settled
		if open := t.r.withoutGuesses(settled); len(open) < len(settled) {
			if err := t.engine.Take(open); err != nil {
				return nil, err
			}
			if err := t.engine.Counts(t.counts); err != nil {
				return nil, err
			}
			if t.engine.Settled() {
				return open, nil
			}
		}
		if err := t.engine.Take(said); err != nil {
			return nil, err
		}
	}
	return said, t.engine.Counts(t.counts)
}

// change makes a change in what was asked.
func (t *Trial) change(a *asked, c Change) {
	if c.Kind == PickFinish {
		t.finish = append(t.finish[:0], a.finish...)
		k := t.r.finishes[c.Finish.Finish]
		t.finish[k] = find(t.r.catalogue.Finishes[k].Choices, func(f catalogue.FinishChoice) bool { return f.Code == c.Finish.Choice })
		a.finish = t.finish
		return
	}
	k := t.r.features[c.Feature]
	put, is := true, askedChoice{feature: k, count: c.Count}
	if c.Kind == Drop {
		put, is = t.inPackage(c.Feature), askedChoice{feature: k, refuse: true}
	}
	t.said = t.said[:0]
	for _, s := range a.said {
		if !t.replaces(&c, s.feature, s.refuse) {
			t.said = append(t.said, s)
		} else if put {
			t.said, put = append(t.said, is), false
		}
	}
	if put {
		t.said = append(t.said, is)
	}
	t.saidOf = resized(t.saidOf, len(a.saidOf))
	for i, s := range t.said {
		t.saidOf[s.feature] = i + 1
	}
	a.said, a.saidOf = t.said, t.saidOf
}
