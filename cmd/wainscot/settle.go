package main

import (
	"errors"
	"fmt"
	"strings"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing"
)

type settleVerb struct {
	File      string `arg:"" help:"File of choices (format: ${choices_format}). docs/choices.md describes it."`
	Cheaply   bool   `help:"At the lowest total with VAT, before any discount." xor:"how"`
	Lightly   bool   `help:"With the least mass added." xor:"how"`
	Ask       bool   `help:"Only ask what is open, in the order of work." xor:"how"`
	Day       string `help:"Day to price for, YYYY-MM-DD; decides the price-book edition and VAT. Default: what the file's terms say, else today."`
	Catalogue string `help:"Folder of catalogue files. Default: catalogue/ beside the file's own folder, else the demo built into the program." placeholder:"DIR"`
	Pricebook string `help:"Folder of price-book editions. Default as for the catalogue, pricebook/." placeholder:"DIR"`
	Width     int    `help:"Characters to a line." default:"${line_width}"`
}

// Help is shown by wainscot settle --help.
func (*settleVerb) Help() string {
	return `Finishes what the choices leave open: by the workshop's defaults, or as cheaply or as lightly as can be. What was chosen stays, and what need not be is not taken. It prints what that took and why, what it comes to before and after, and the choices to put into the file. Of cheaply and lightly it says whether it is proved that nothing comes to less, or is the best that was found.

Examples:

  wainscot settle --cheaply testdata/demo/choices/windows-only.yaml
  wainscot settle --ask mine.yaml`
}

// Validate is called by kong before Run.
func (v *settleVerb) Validate() error { return v.file().validate() }

func (v *settleVerb) file() *fileOfChoices {
	return &fileOfChoices{File: v.File, Day: v.Day, Catalogue: v.Catalogue, Pricebook: v.Pricebook, Width: v.Width}
}

// Run reads the file and settles what it leaves open.
func (v *settleVerb) Run(p *program) error {
	file := v.file()
	asked, positions, err := file.read(p)
	if err != nil {
		return err
	}
	o, err := file.offer(p)
	if err != nil {
		return err
	}
	edition, terms, err := o.terms(asked, file.day(p, asked))
	if err != nil {
		return err
	}
	var aim bom.Aim
	switch {
	case v.Cheaply:
		aim = pricing.Cheaply(edition, terms)
	case v.Lightly:
		aim = bom.Lightly()
	}
	found, faults, err := bom.SettleFor(o.release, asked.Van, asked.Choices, aim, bom.SettleSteps)
	if err := p.tell(positions.Locate(faults)); err != nil {
		return err
	}
	w := settleTeller{printout: printout{answer: answer{Release: o.release}, out: p.Out, width: v.Width}, found: &found}
	if err == nil && v.Ask {
		return w.questions()
	}
	var before, after pricing.Priced
	if err == nil {
		before, err = pricing.Price(found.Before.Sheet, found.Before.Resolution.Specification, edition, terms)
	}
	if err == nil {
		after, err = pricing.Price(found.After.Sheet, found.After.Resolution.Specification, edition, terms)
	}
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return p.tell(positions.Locate(underTerms(faults)))
	}
	if err != nil {
		return err
	}
	w.all(v, &before, &after)
	return nil
}

// settleTeller prints what settling came to.
type settleTeller struct {
	printout
	found *bom.Settled
}

func (w *settleTeller) all(v *settleVerb, before, after *pricing.Priced) {
	verdict := "the best found; the work ended before it was proved"
	if w.found.Proved {
		verdict = "proved, nothing comes to less"
	}
	switch {
	case v.Cheaply:
		w.title("Settled as cheaply as can be: %s", verdict)
	case v.Lightly:
		w.title("Settled as lightly as can be: %s", verdict)
	default:
		w.title("Settled by the workshop's defaults")
	}
	g := grid{columns: []column{{}, {title: "before", right: true}, {title: "after", right: true}}}
	g.add("With VAT", before.Totals.Gross.String(), after.Totals.Gross.String())
	g.add("Mass added, kg", w.found.Before.Sheet.Mass.AddedKG.String(), w.found.After.Sheet.Mass.AddedKG.String())
	w.set(g)
	w.added()
	if !w.found.After.Resolution.Specification.Allowed {
		w.say("Some choices do not fit and are put aside; wainscot why tells which.")
	}
	w.choices()
}

func (w *settleTeller) added() {
	if len(w.found.Added) == 0 {
		w.say("Nothing was left to settle.")
		return
	}
	w.title("Taken")
	g := grid{columns: []column{{}, {}, {wraps: true}}}
	for _, a := range w.found.Added {
		name := a.Name
		if a.Count > 1 {
			name = fmt.Sprintf("%d × %s", a.Count, name)
		}
		g.add(name, w.stage(a.Stage), a.Why)
	}
	w.set(g)
}

func (w *settleTeller) stage(code string) string {
	for _, s := range w.Release.Catalogue().Stages {
		if s.Code == code {
			return s.Name
		}
	}
	return ""
}

// choices prints them as a file of choices has them.
func (w *settleTeller) choices() {
	w.title("The choices, completed")
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	c := &w.found.Choices
	if c.Package != "" {
		add("package: %s", c.Package)
	}
	add("features:")
	for _, f := range c.Features {
		switch {
		case f.Refuse != "":
			add("  - {refuse: %s}", f.Refuse)
		case f.Count > 0:
			add("  - {want: %s, count: %d}", f.Want, f.Count)
		default:
			add("  - {want: %s}", f.Want)
		}
	}
	if len(c.Finishes) > 0 {
		add("finishes:")
	}
	for _, f := range c.Finishes {
		add("  - {finish: %s, choice: %s}", f.Finish, f.Choice)
	}
	_, _ = fmt.Fprintln(w.out, strings.Join(lines, "\n"))
}

// questions prints what is open as questions.
func (w *settleTeller) questions() error {
	list, err := bom.Questions(w.Release, &w.found.Before.Resolution)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		w.say("Nothing is open.")
		return nil
	}
	w.title("Still open, in the order of work")
	g := grid{columns: []column{{title: "stage"}, {title: "what"}, {title: "must"}, {title: "answers", wraps: true}}}
	for _, q := range list {
		var answers []string
		for _, a := range q.Answers {
			name := a.Name
			for _, d := range q.Default {
				if d == a.Code {
					name += " (unless said otherwise)"
				}
			}
			if a.Most > 1 {
				name += fmt.Sprintf(" (%d to %d)", a.Least, a.Most)
			}
			answers = append(answers, name)
		}
		must := ""
		if q.Must {
			must = "must"
		}
		g.add(w.stage(q.Stage), q.Name, must, strings.Join(answers, ", "))
	}
	w.set(g)
	return nil
}
