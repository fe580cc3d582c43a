package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
)

type changesVerb struct {
	fileOfChoices
	Parts bool `help:"Show what more and what less there is to buy, too."`
}

// Help is shown by wainscot changes --help.
func (*changesVerb) Help() string {
	return `Shows for everything that could be changed at one click what that would do: the difference in price with VAT, in hours and in mass, and what else comes along or falls away. Every option that is open is shown added, every other pick of a group in place of the present one, one more and one fewer of what is counted, everything chosen left out, and every other choice of the finishes. What cannot be had is not shown: wainscot why tells the ways to it.

Examples:

  wainscot changes testdata/demo/choices/full-conversion-short-van.yaml
  wainscot changes --parts --no-settle mine.yaml`
}

// Validate is called by kong before Run.
func (v *changesVerb) Validate() error { return v.validate() }

// Run reads the file and shows what every change would do.
func (v *changesVerb) Run(p *program) error {
	asked, positions, err := v.read(p)
	if err != nil {
		return err
	}
	o, err := v.offer(p)
	if err != nil {
		return err
	}
	edition, terms, err := o.terms(asked, v.day(p, asked))
	if err != nil {
		return err
	}
	trial, faults, err := bom.Try(o.release, asked.Van, asked.Choices, v.settle())
	if err != nil {
		return err
	}
	if err := p.tell(positions.Locate(faults)); err != nil {
		return err
	}
	defer trial.End()
	priced, err := pricing.Try(trial, edition, terms, nil)
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return p.tell(positions.Locate(underTerms(faults)))
	}
	if err != nil {
		return err
	}
	defer priced.End()
	w := changeTeller{printout: printout{answer: answer{Release: o.release}, out: p.Out, width: v.Width}, trial: trial, parts: v.Parts}
	first := &priced.First
	w.title("As chosen: %s with VAT, %s h, %s kg to spare", first.Totals.Gross, trial.First.Tally.Hours(), trial.First.Tally.LeftKG())
	if !trial.First.Specification.Settled {
		w.say("Something is still to settle; prices are of what stands so far.")
	}
	var all []*pricing.Effect
	err = priced.Effects(func(e *pricing.Effect) error {
		kept := *e
		all = append(all, &kept)
		return nil
	})
	if err != nil {
		return err
	}
	for _, s := range []struct {
		title string
		kinds []bom.ChangeKind
	}{
		{"Added", []bom.ChangeKind{bom.Add}},
		{"In place of what is picked", []bom.ChangeKind{bom.Swap}},
		{"One more, one fewer", []bom.ChangeKind{bom.OneMore, bom.OneFewer}},
		{"Left out", []bom.ChangeKind{bom.Drop}},
		{"Other finishes", []bom.ChangeKind{bom.PickFinish}},
	} {
		w.section(s.title, slices.DeleteFunc(slices.Clone(all), func(e *pricing.Effect) bool { return !slices.Contains(s.kinds, e.Change.Kind) }))
	}
	return nil
}

// changeTeller prints effects.
type changeTeller struct {
	printout
	trial *bom.Trial
	parts bool
}

func (w *changeTeller) section(title string, list []*pricing.Effect) {
	if len(list) == 0 {
		return
	}
	w.title("%s", title)
	g := grid{columns: []column{{}, {title: "price", right: true}, {title: "h", right: true}, {title: "kg", right: true}, {wraps: true}}}
	for _, e := range list {
		price := signed(e.Gross.Minor(), e.Gross)
		if !e.Whole {
			price = "?"
		}
		g.add(w.name(&e.Change), price, withSign(e.Hours), withSign(e.NetKG), w.also(e))
	}
	w.set(g)
}

// name is what a change is called in its section.
func (w *changeTeller) name(c *bom.Change) string {
	name := w.trial.Name(*c)
	if c.Count > 0 {
		return fmt.Sprintf("%d × %s", c.Count, name)
	}
	return name
}

// also is what else a change does.
func (w *changeTeller) also(e *pricing.Effect) string {
	var with, without, says []string
	for _, f := range e.Features {
		switch {
		case f.More == 1:
			with = append(with, bom.Uncapped(f.Name))
		case f.More > 1:
			with = append(with, fmt.Sprintf("%d × %s", f.More, bom.Uncapped(f.Name)))
		case f.More == -1:
			without = append(without, bom.Uncapped(f.Name))
		default:
			without = append(without, fmt.Sprintf("%d × %s", -f.More, bom.Uncapped(f.Name)))
		}
	}
	add := func(head string, list []string) {
		if len(list) > 0 {
			says = append(says, head+strings.Join(list, ", ")+".")
		}
	}
	if e.Change.Kind == bom.Swap {
		add("Instead of ", []string{bom.Uncapped(w.trial.Name(bom.Change{Kind: bom.Drop, Feature: e.Change.InsteadOf}))})
	}
	add("With ", with)
	add("Without ", without)
	add("Does not fit any more: ", e.Aside)
	checks := func(list []*catalogue.Check) (names []string) {
		for _, k := range list {
			names = append(names, bom.Uncapped(k.Name))
		}
		return names
	}
	add("Not met any more: ", checks(e.NotMet))
	add("Met: ", checks(e.Met))
	for _, g := range e.Gaps {
		says = append(says, g.Says)
	}
	if e.Refused {
		says = append(says, "The discount would not be given.")
	}
	if w.parts {
		var parts []string
		for _, p := range e.Parts {
			parts = append(parts, fmt.Sprintf("%s %s %s", withSign(p.More.Decimal()), p.Unit, bom.Uncapped(p.Name)))
		}
		add("To buy: ", parts)
	}
	return strings.Join(says, " ")
}

// withSign puts the sign before what is above nothing, too.
func withSign(d decimal.Decimal) string {
	if d.Sign() > 0 {
		return "+" + d.String()
	}
	return d.String()
}
