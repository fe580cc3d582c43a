package bom

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/document"
	"wainscot/bom/options"
)

// Wish is what somebody would like and cannot have: a feature wanted (or so
// many of it), a feature they would be without, or a choice for a finish. The
// zero Wish is that the choices fit together.
type Wish struct {
	Feature Choice
	Finish  FinishChoice
}

// WaysOut are the cheapest ways to a wish, or out of a contradiction.
type WaysOut struct {
	// Said are the choices as the engine took them; Why.Said points here.
	Said []options.Choice
	// Ways in order: the fewest of the customer's choices undone first, of equal
	// ones the smallest change of price. At most three.
	Ways []Way
	// Exact: there are no better ones. Otherwise there were too many sets of
	// changes to compare them all.
	Exact bool
	// Blocked, where no change of the choices helps: "van", what the van is or
	// has stands in the way; "rules", it can never be on this base van. Why
	// says how.
	Blocked string
	Why     *Told
}

// Way is one way out. Resolving its Choices puts nothing of the customer's
// aside, and what was wished for is chosen.
type Way struct {
	Changes []WayChange
	// Undone is how many of the customer's choices no longer hold.
	Undone int
	// LeftOut are features of the package that do not fit with it.
	LeftOut []string
	Choices Choices
	// PriceChange is what the caller's price said, in its unit.
	PriceChange int64
	Says        string // the changes as sentences
}

// WayChange is one thing done to the choices.
type WayChange struct {
	Kind string // drop, add, swap
	// At is the place of the choice dropped or swapped: choices/features/3.
	// Empty for one that is added.
	At string
	// From is what was chosen there, To what is in its place or added; of each
	// either the feature or the finish is filled in.
	From, To WayChoice
	Says     string
}

// WayChoice is a choice on a feature or on a finish; zero is none.
type WayChoice struct {
	Feature Choice
	Finish  FinishChoice
}

// FindWaysOut gives the cheapest ways to a wish, at most three. Price gives by how
// much the choices of a way cost more (below 0: less) than those made, in a
// unit of its own; it is asked for some tens of ways at most, and nil leaves
// price out of the ranking.
//
// Faults as of Resolve; one of the wish stands at wish. An error is one of
// Price, or as of Resolve; options.ErrBudget where not one way was found before
// the work budget ended.
func FindWaysOut(r *Release, van Van, choices Choices, wish Wish, price func(*Way) (int64, error)) (WaysOut, document.Faults, error) {
	asked, faults := r.read(van, choices, SettleNothing)
	wanted, wishFaults := r.wish(van, wish)
	if faults = append(faults, wishFaults...); len(faults) > 0 {
		return WaysOut{}, faults.Limit(), nil
	}
	rules, err := r.rules(asked.base)
	if err != nil {
		return WaysOut{}, nil, err
	}
	saying := r.say(&asked)
	w := wayWriter{r: r, rules: rules, van: van, choices: &choices, saying: &saying, wanted: wanted}
	w.reasoner = reasoner{teller{r, saying.said}, rules.Model().Settings}
	if wanted != nil && !w.known(wanted) {
		return w.alone(wish), nil, nil
	}
	ask := options.WayOutAsk{
		Wanted: wanted,
		Fixed:  func(i int) bool { return slices.Contains(saying.replacing, i) },
	}
	if price != nil {
		ask.Price = func(way *options.Way) (int64, error) {
			written := w.way(way)
			return price(&written)
		}
	}
	found, err := rules.WaysOut(saying.said, ask)
	if err != nil {
		return WaysOut{}, nil, fmt.Errorf("looking for ways out: %w", err)
	}
	out := WaysOut{Said: saying.said, Exact: found.Exact, Blocked: blockedWords[found.Blocked]}
	if found.Why != nil {
		out.Why = w.told(found.Why, fmt.Sprintf("So %s cannot be had, whatever else is changed.", w.asked(wanted)))
	}
	for i := range found.Ways {
		out.Ways = append(out.Ways, w.way(&found.Ways[i]))
	}
	return out, nil, nil
}

var blockedWords = [...]string{0: "", options.ByWhatVanIs: "van", options.ByTheRules: "rules"}

// wish reads what is wished for; nil for nothing.
func (r *Release) wish(van Van, wish Wish) (*options.Choice, document.Faults) {
	var asking Choices
	if wish.Feature != (Choice{}) {
		asking.Features = []Choice{wish.Feature}
	}
	if wish.Finish != (FinishChoice{}) {
		asking.Finishes = []FinishChoice{wish.Finish}
	}
	if len(asking.Features)+len(asking.Finishes) > 1 {
		return nil, document.Faults{{Code: "not_exactly_one", At: "wish", Reason: "A wish is about a feature or a finish.",
			Remedy: "Give one of feature and finish, or neither for a way out of a contradiction."}}
	}
	asked, faults := r.read(van, asking, SettleNothing)
	var own document.Faults
	for _, f := range faults { // those of the van are told with the choices
		for _, at := range []string{"choices/features/1", "choices/finishes/1"} {
			if rest, ok := strings.CutPrefix(f.At, at); ok {
				f.At = "wish" + rest
				own = append(own, f)
			}
		}
	}
	switch {
	case len(own) > 0:
		return nil, own
	case len(asked.said) > 0:
		c := r.said(asked.said[0])
		return &c, nil
	case wish.Finish != (FinishChoice{}):
		return &options.Choice{Verb: options.Pick, Feature: "finish." + wish.Finish.Finish, Value: wish.Finish.Choice,
			Source: options.FromCustomer}, nil
	}
	return nil, nil
}

// wayWriter turns the engine's ways into choices as they are asked.
type wayWriter struct {
	reasoner
	r       *Release
	rules   *options.Rules
	van     Van
	choices *Choices
	saying  *saying
	wanted  *options.Choice
}

// known says whether the engine knows what a choice is about. A finish that no
// rule names it does not.
func (w *wayWriter) known(c *options.Choice) bool {
	return c.Verb != options.Pick || find(w.settings, func(s options.Setting) bool { return s.Name == c.Feature }) >= 0
}

// alone is the way to a finish that no rule names: it can always be had.
func (w *wayWriter) alone(wish Wish) WaysOut {
	change := options.Change{Kind: options.AddChoice, Choice: -1, With: *w.wanted}
	way := w.way(&options.Way{Changes: []options.Change{change}})
	if at := find(w.choices.Finishes, func(f FinishChoice) bool { return f.Finish == wish.Finish.Finish }); at >= 0 {
		way.Changes[0].Kind, way.Changes[0].At = "swap", document.Join("choices/finishes", at+1)
		was := w.choices.Finishes[at]
		way.Changes[0].From.Finish = was
		way.Changes[0].Says = fmt.Sprintf("Take %s in place of %s.", w.asked(w.wanted),
			w.asked(&options.Choice{Verb: options.Pick, Feature: "finish." + was.Finish, Value: was.Choice}))
		way.Says = way.Changes[0].Says
	}
	return WaysOut{Said: w.said, Ways: []Way{way}, Exact: true}
}

// way writes one way.
func (w *wayWriter) way(way *options.Way) Way {
	out := Way{Undone: len(way.Undone), PriceChange: way.Price}
	out.Choices = *w.choices
	out.Choices.Features = slices.Clone(w.choices.Features)
	out.Choices.Finishes = slices.Clone(w.choices.Finishes)
	var says []string
	for _, c := range way.Changes {
		n := w.change(c)
		w.make(&out.Choices, c)
		out.Changes = append(out.Changes, n)
		says = append(says, n.Says)
	}
	for _, i := range way.LeftOut {
		if c := &w.said[i]; c.Verb != options.Pick {
			out.LeftOut = append(out.LeftOut, c.Feature)
		}
	}
	for _, n := range w.givesWay(&out) {
		says = append(says, n.Says)
	}
	out.Says = strings.Join(says, " ")
	if len(says) == 0 {
		out.Says = "Nothing has to be changed."
	}
	return out
}

// mostPasses bounds how often a way is looked at again for what gives way in
// it: once, and once more for each counted feature of the package of which
// there can be fewer.
const mostPasses = 20

// givesWay says of what the package holds and cannot be had that it is not
// wanted, or how many of it there can be, so that nothing has to be put aside.
func (w *wayWriter) givesWay(way *Way) []WayChange {
	var changes []WayChange
	for range mostPasses {
		aside := w.aside(way.Choices)
		if len(aside) == 0 {
			break
		}
		for _, c := range aside {
			n := WayChange{Kind: "add", To: wayChoice(&c), Says: fmt.Sprintf("Have only %s.", w.asked(&c))}
			if c.Verb == options.Refuse {
				n.Says = fmt.Sprintf("Leave out %s.", "the "+w.feature(c.Feature))
			}
			if !slices.Contains(way.LeftOut, c.Feature) {
				way.LeftOut = append(way.LeftOut, c.Feature)
			}
			way.Choices.Features = append(way.Choices.Features, n.To.Feature)
			changes = append(changes, n)
		}
	}
	way.Changes = append(way.Changes, changes...)
	return changes
}

// aside gives what can be said in place of the package's features that would
// have to be put aside: all that cannot be had at all, and one of those of
// which there can be fewer, since that may be in the way of the next.
func (w *wayWriter) aside(choices Choices) []options.Choice {
	if choices.Package == "" {
		return nil
	}
	asked, faults := w.r.read(w.van, choices, SettleNothing)
	if len(faults) > 0 {
		return nil // it was made of choices without faults
	}
	said := w.r.say(&asked).said
	answer, err := w.rules.ResolveWithoutSwaps(said)
	if err != nil {
		return nil // too hard to say; whoever takes the way is told then
	}
	var out []options.Choice
	counted := false
	for _, p := range answer.PutAside {
		c := said[p.Choice]
		if c.Source != options.FromPackage || c.Verb == options.Pick {
			continue
		}
		most := answer.Options[w.r.features[c.Feature]].Most
		c.Verb, c.N, c.Source = options.Refuse, 0, options.FromCustomer
		if most > 0 {
			if counted {
				continue
			}
			c.Verb, c.N, counted = options.Number, most, true
		}
		out = append(out, c)
	}
	return out
}

// change tells one change.
func (w *wayWriter) change(c options.Change) WayChange {
	n := WayChange{}
	var from *options.Choice
	if c.Choice >= 0 {
		from = &w.said[c.Choice]
		n.At, n.From = w.saying.at(c.Choice, *w.choices), wayChoice(from)
	}
	switch c.Kind {
	case options.AddChoice:
		n.Kind, n.To = "add", wayChoice(&c.With)
		n.Says = fmt.Sprintf("Add %s.", w.asked(&c.With))
		if c.With.Verb == options.Refuse {
			n.Says = fmt.Sprintf("Leave out %s.", "the "+w.feature(c.With.Feature))
		}
	case options.SwapChoice:
		n.Kind, n.To = "swap", wayChoice(&c.With)
		switch {
		case c.With.Verb == options.Refuse:
			n.Says = fmt.Sprintf("Leave out %s.", "the "+w.feature(c.With.Feature))
		case from.Verb == options.Refuse:
			n.Says = fmt.Sprintf("Have %s after all.", w.asked(&c.With))
		default:
			n.Says = fmt.Sprintf("Take %s in place of %s.", w.asked(&c.With), w.asked(from))
		}
	case options.DropChoice:
		n.Kind = "drop"
		n.Says = fmt.Sprintf("Drop %s.", w.asked(from))
		if from.Verb == options.Refuse {
			n.Says = fmt.Sprintf("Allow the %s after all.", w.feature(from.Feature))
		}
	}
	return n
}

func wayChoice(c *options.Choice) WayChoice {
	switch c.Verb {
	case options.Pick:
		return WayChoice{Finish: FinishChoice{Finish: strings.TrimPrefix(c.Feature, "finish."), Choice: c.Value}}
	case options.Refuse:
		return WayChoice{Feature: Choice{Refuse: c.Feature}}
	}
	return WayChoice{Feature: Choice{Want: c.Feature, Count: c.N}}
}

// make does a change to choices. The choice on a feature is made once, where
// it was mentioned first.
func (w *wayWriter) make(choices *Choices, c options.Change) {
	to := wayChoice(&c.With)
	if c.Kind == options.DropChoice {
		to = WayChoice{}
	}
	about := c.With.Feature
	if c.Choice >= 0 {
		about = w.said[c.Choice].Feature
	}
	if code, ok := strings.CutPrefix(about, "finish."); ok {
		put(&choices.Finishes, to.Finish, func(f FinishChoice) bool { return f.Finish == code })
		return
	}
	put(&choices.Features, to.Feature, func(f Choice) bool { return f.about() == about })
}

// put puts a choice in place of the first that is meant, or at the end where
// there is none, and takes the others that are meant out; a zero choice takes
// all of them out.
func put[T comparable](list *[]T, to T, meant func(T) bool) {
	var none T
	placed := to == none
	out := make([]T, 0, len(*list)+1)
	for _, c := range *list {
		if !meant(c) {
			out = append(out, c)
		} else if !placed {
			out = append(out, to)
			placed = true
		}
	}
	if !placed {
		out = append(out, to)
	}
	*list = out
}
