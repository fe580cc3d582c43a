package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/pricing/money"
)

type whyVerb struct {
	fileOfChoices
	About []string `arg:"" optional:"" help:"What is asked about: FEATURE, FEATURE=NUMBER, or FINISH=CHOICE. FEATURE=0 is to be without it. Default: what contradicts among the choices."`
}

// Help is shown by wainscot why --help.
func (*whyVerb) Help() string {
	return `Tells why something stands as it does, in the order in which a person would reason and with nothing that could be left out; and where it cannot be had, the ways to it that undo the fewest of the customer's choices, each with what it does to the price. With nothing asked about: every set of choices that cannot be had together, and the ways out.

Examples:

  wainscot why testdata/demo/choices/choices-that-clash.yaml
  wainscot why testdata/demo/choices/windows-only.yaml hob_two
  wainscot why mine.yaml sockets_mains=4 fabric=hide oven=0`
}

// Validate is called by kong before Run.
func (v *whyVerb) Validate() error { return v.validate() }

// Run reads the file and tells what is asked.
func (v *whyVerb) Run(p *program) error {
	asked, positions, err := v.read(p)
	if err != nil {
		return err
	}
	o, err := v.offer(p)
	if err != nil {
		return err
	}
	now, faults, err := o.answer(asked, v.settle(), v.day(p, asked))
	if err != nil {
		return err
	}
	if err := p.tell(positions.Locate(faults)); err != nil {
		return err
	}
	open, _, err := bom.Resolve(o.release, asked.Van, asked.Choices, bom.SettleNothing) // read without faults before
	if err != nil {
		return err
	}
	w := whyTeller{
		printout: printout{answer: *now, out: p.Out, width: v.Width}, offer: o, asked: asked, positions: positions, open: &open,
		price: func(way *bom.Way) (int64, error) {
			then := *asked
			then.Choices = way.Choices
			a, faults, err := o.answer(&then, v.settle(), v.day(p, asked))
			if err == nil {
				err = faults.Err()
			}
			if err != nil {
				return 0, err
			}
			return a.Priced.Totals.Gross.Minor() - now.Priced.Totals.Gross.Minor(), nil
		},
	}
	if len(v.About) == 0 {
		return w.contradictions()
	}
	wishes := make([]wish, len(v.About))
	for i, text := range v.About {
		one, wrong := w.read(text)
		wishes[i], faults = one, append(faults, wrong...)
	}
	if err := p.tell(faults); err != nil {
		return err
	}
	for _, one := range wishes {
		if err := w.about(one); err != nil {
			return err
		}
	}
	return nil
}

// whyTeller prints reasons and ways out.
type whyTeller struct {
	printout
	offer     *offer
	asked     *choicesFile
	positions document.Positions
	open      *bom.Resolution // what the choices come to with nothing settled
	price     func(*bom.Way) (int64, error)
}

// wish is one thing asked about.
type wish struct {
	bom.Wish
	feature *catalogue.Feature // nil for a finish
	option  *options.Option
}

// read reads what is asked about as it stands on the command line.
func (w *whyTeller) read(text string) (wish, document.Faults) {
	var one wish
	name, value, given := strings.Cut(text, "=")
	n, err := strconv.Atoi(value)
	switch {
	case given && err != nil:
		one.Finish = bom.FinishChoice{Finish: name, Choice: value}
	case given && n == 0:
		one.Feature = bom.Choice{Refuse: name}
	default:
		one.Feature = bom.Choice{Want: name, Count: n}
	}
	// Whether it can be asked about is the domain's to say.
	choices := bom.Choices{Features: []bom.Choice{one.Feature}}
	if one.Feature == (bom.Choice{}) {
		choices = bom.Choices{Finishes: []bom.FinishChoice{one.Finish}}
	}
	_, faults, err := bom.Specify(w.Release, bom.Van{BaseVan: w.asked.Van.BaseVan}, choices, bom.SettleNothing)
	if err != nil && !errors.Is(err, options.ErrNothingAllowed) {
		return one, document.Faults{{Code: "undecided", At: text, Reason: err.Error(), Remedy: "Have the catalogue's rules looked at."}}
	}
	for i := range faults {
		faults[i].At = text
	}
	c := w.Release.Catalogue()
	if at := slices.IndexFunc(c.Features, func(f catalogue.Feature) bool { return f.Code == name }); at >= 0 {
		one.feature, one.option = &c.Features[at], &w.open.Answer.Options[at]
	}
	return one, faults
}

// about tells why one thing stands as it does, and the ways to it.
func (w *whyTeller) about(one wish) error {
	about := bom.About{Setting: "finish." + one.Finish.Finish, Value: one.Finish.Choice}
	var to string
	switch {
	case one.feature == nil:
		finish, choice := finishNames(w.Release.Catalogue(), one.Finish.Finish, one.Finish.Choice)
		to = finish + " " + choice
		if !w.named(about.Setting) {
			w.title("%s: open", to)
			w.say("No rule speaks of it: it can always be had.")
			return nil
		}
	case one.Feature.Count > one.option.Most && one.option.Most > 0:
		about, to = bom.About{MostOf: one.feature.Code}, fmt.Sprintf("%d × %s", one.Feature.Count, one.feature.Name)
	default:
		about, to = bom.About{Feature: one.feature.Code}, one.feature.Name
	}
	work := int64(bom.ReasonWork)
	e, faults, err := bom.Explain(w.Release, w.open, about, &work)
	if err == nil {
		err = faults.Err() // there are none: it was read before
	}
	if err != nil {
		return err
	}
	if e.Standing == "" {
		e.Standing = fmt.Sprintf("at most %d", one.option.Most)
	}
	w.title("%s: %s", to, e.Standing)
	if e.Told == nil {
		w.say("Nothing that was chosen decides it" + w.byDefault(one) + ".")
	} else {
		w.told(e.Told)
	}
	if w.had(one, e.Standing) {
		return nil
	}
	return w.waysOut(one.Wish)
}

// named says whether a rule on this base van asks about a setting.
func (w *whyTeller) named(setting string) bool {
	rules, err := w.Release.Rules(w.asked.Van.BaseVan)
	return err == nil && slices.ContainsFunc(rules.Model().Settings, func(s options.Setting) bool { return s.Name == setting })
}

// byDefault says what settling makes of an open feature.
func (w *whyTeller) byDefault(one wish) string {
	if one.feature == nil {
		return ""
	}
	settled := w.Resolution.Answer.Options[one.option.Feature]
	switch {
	case settled.Standing == options.Open:
		return ""
	case settled.Least > 0:
		return "; by default it is there"
	}
	return "; by default it is not there"
}

// had says whether a wish needs no way out: it is so, or nothing stands against
// it.
func (w *whyTeller) had(one wish, standing string) bool {
	switch {
	case one.feature == nil, one.Feature.Want != "" && one.Feature.Count == 0:
		return standing != options.RuledOut.String()
	case one.Feature.Refuse != "":
		return one.option.Least == 0
	}
	return one.option.Least <= one.Feature.Count && one.Feature.Count <= one.option.Most
}

// told prints a reason, a sentence a line.
func (w *whyTeller) told(told *bom.Told) {
	for _, s := range told.Sentences {
		w.say(s)
	}
	if !told.Minimal {
		w.say("Not all of this may be needed; finding out took too much work.")
	}
}

// contradictions prints every conflict among the choices, and the ways out.
func (w *whyTeller) contradictions() error {
	found, faults, err := bom.FindConflicts(w.Release, w.asked.Van, w.asked.Choices, 0)
	if err == nil {
		err = faults.Err()
	}
	if err != nil {
		return err
	}
	if len(found.List) == 0 {
		w.title("Nothing contradicts")
		w.say("All choices can be had together.")
		return nil
	}
	w.title("What contradicts")
	g := grid{columns: []column{{}, {wraps: true}}}
	for _, k := range found.List {
		g.add(w.lines(k.At), strings.Join(k.Why.Sentences, " "))
	}
	w.set(g)
	if found.More {
		w.say("There may be more.")
	}
	return w.waysOut(bom.Wish{})
}

// lines says where choices stand in the file.
func (w *whyTeller) lines(at []string) string {
	var lines []string
	for _, path := range at {
		if place, ok := w.positions.At(path); ok {
			lines = append(lines, strconv.Itoa(place.Line))
		}
	}
	switch len(lines) {
	case 0:
		return ""
	case 1:
		return "line " + lines[0]
	}
	return "lines " + strings.Join(lines, ", ")
}

// waysOut prints the ways to a wish.
func (w *whyTeller) waysOut(to bom.Wish) error {
	out, faults, err := bom.FindWaysOut(w.Release, w.asked.Van, w.asked.Choices, to, w.price)
	if err == nil {
		err = faults.Err() // both were read before
	}
	if err != nil {
		return err
	}
	if out.Blocked != "" {
		w.title("No way out")
		switch out.Blocked {
		case "van":
			w.say("What the van is or has stands in the way, whatever is chosen.")
		default:
			w.say("It can never be had on this base van.")
		}
		w.told(out.Why)
		return nil
	}
	w.title("Ways out, with the change of price in %s with VAT", w.Priced.Currency)
	g := grid{columns: []column{{title: "undone", right: true}, {title: "price", right: true}, {title: "what is done", wraps: true}}}
	for _, way := range out.Ways {
		says := way.Says
		if len(way.LeftOut) > 0 {
			var names []string
			for _, code := range way.LeftOut {
				names = append(names, featureName(w.Release.Catalogue(), code))
			}
			says += " Out of the package: " + strings.Join(names, ", ") + "."
		}
		g.add(strconv.Itoa(way.Undone), signed(way.PriceChange, w.Priced.Totals.Gross), says)
	}
	w.set(g)
	if w.Priced.SettledSoFar {
		w.say("Settled so far: not everything is chosen yet.")
	}
	if !out.Exact {
		w.say("The best that were found: there are too many to compare them all.")
	}
	return nil
}

// signed is a change of price, in minor units of the currency of an amount.
func signed(minor int64, of money.Amount) string {
	change, err := of.WithMinor(minor)
	if err != nil {
		return ""
	}
	text := grouped(change.Fixed())
	if minor > 0 {
		text = "+" + text
	}
	return text
}
