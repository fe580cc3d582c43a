package bom

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/document"
	"wainscot/bom/options"
)

// Conflicts are all that is wrong with a list of choices.
type Conflicts struct {
	// Said are the choices as the engine took them; Told.Said points here.
	Said []options.Choice
	List []Conflict
	// More: there may be others; as many as are told at most were found, or
	// the work allowed for it ended.
	More bool
}

// Conflict is a set of the customer's choices that cannot be had together,
// while without any one of them the rest of it could.
type Conflict struct {
	// At are the places of the choices: choices/features/3. Empty where what
	// the van is and has contradicts itself.
	At  []string
	Why *Told
}

// FindConflicts gives every conflict among the choices, at most so many (0 for
// the engine's own number), those of the fewest choices first. Faults and
// errors as of Resolve; an error options.ErrBudget only where not one was found.
func FindConflicts(r *Release, van Van, choices Choices, most int) (Conflicts, document.Faults, error) {
	asked, faults := r.read(van, choices, SettleNothing)
	if len(faults) > 0 {
		return Conflicts{}, faults, nil
	}
	rules, err := r.rules(asked.base)
	if err != nil {
		return Conflicts{}, nil, err
	}
	saying := r.say(&asked)
	found, err := rules.Conflicts(saying.said, most)
	if err != nil {
		return Conflicts{}, nil, fmt.Errorf("looking for conflicts: %w", err)
	}
	out := Conflicts{Said: saying.said, More: found.More}
	t := reasoner{teller{r, saying.said}, rules.Model().Settings}
	for _, c := range found.List {
		n := Conflict{Why: t.told(c.Why, t.conflict(c.Choices))}
		for _, i := range c.Choices {
			n.At = append(n.At, saying.at(i, choices))
		}
		out.List = append(out.List, n)
	}
	return out, nil, nil
}

// at is the place of a choice of the customer in what was asked.
func (s *saying) at(i int, choices Choices) string {
	c := &s.said[i]
	if slices.Contains(s.replacing, i) {
		return "van/fitted"
	}
	if code, ok := strings.CutPrefix(c.Feature, "finish."); ok && c.Verb == options.Pick {
		return document.Join("choices/finishes", find(choices.Finishes, func(f FinishChoice) bool { return f.Finish == code })+1)
	}
	return document.Join("choices/features", find(choices.Features, func(f Choice) bool { return f.about() == c.Feature })+1)
}

// about is the feature a choice is on.
func (c Choice) about() string {
	if c.Want != "" {
		return c.Want
	}
	return c.Refuse
}

// conflict is the conclusion about choices that cannot be had together.
func (t *reasoner) conflict(choices []int) string {
	var names []string
	for _, i := range choices {
		names = append(names, t.asked(&t.said[i]))
	}
	switch len(names) {
	case 0:
		return "So what the van is and has contradicts itself."
	case 1:
		return fmt.Sprintf("So %s cannot be had.", names[0])
	case 2:
		return fmt.Sprintf("So %s cannot be had together.", listed(names))
	}
	return fmt.Sprintf("So %s cannot all be had together.", listed(names))
}
