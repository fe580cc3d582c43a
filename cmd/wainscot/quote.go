package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

type quoteVerb struct {
	fileOfChoices
	Only    []section `help:"Print only these sections: ${section_names}." placeholder:"SECTION,..."`
	Brief   bool      `help:"Leave out the build sheet."`
	Options bool      `help:"Also print the standing of every option, with its reason."`
	Inside  bool      `help:"Also print what it costs the workshop. Not for the customer's eyes."`
	JSON    bool      `name:"json" help:"Print everything as JSON instead."`
	Out     string    `help:"Write a file instead: the quote as .pdf or .html (a draft, on the letterhead of the workshop.yaml beside the catalogue), the build sheet as .xlsx or .csv, the van with its masses as .svg." placeholder:"FILE"`
	Force   bool      `help:"With --out: replace a file that is there."`
}

// Help is shown by wainscot quote --help.
func (*quoteVerb) Help() string {
	return `Needs no server and no database. What cannot be taken among the choices is put aside and named with its reason; that is an answer, not an error. A file with faults is refused, all its faults at once.

Examples:

  wainscot quote testdata/demo/choices/full-conversion-short-van.yaml
  wainscot quote --brief --options mine.yaml
  wainscot quote --only price,payments --day 2026-12-01 mine.yaml
  wainscot quote --json mine.yaml > mine.json
  wainscot quote mine.yaml --out mine.pdf`
}

// Validate is called by kong before Run.
func (v *quoteVerb) Validate() error {
	for _, s := range v.Only {
		if !known(s) {
			return fmt.Errorf("--only: there is no section %q; there are %s", s, sectionNames())
		}
	}
	if _, ok := ending(v.Out); v.Out != "" && !ok {
		return fmt.Errorf("--out %q: end the name in one of %s", v.Out, strings.Join(endings, ", "))
	}
	if v.Out != "" && (v.JSON || v.Inside) {
		return errors.New("--out writes what a customer or the workshop floor may see: leave out --json and --inside")
	}
	if v.Force && v.Out == "" {
		return errors.New("--force: it goes with --out")
	}
	return v.validate()
}

// Run reads the file, works it out and prints it.
func (v *quoteVerb) Run(p *program) error {
	asked, positions, err := v.read(p)
	if err != nil {
		return err
	}
	o, err := v.offer(p)
	if err != nil {
		return err
	}
	a, faults, err := o.answer(asked, v.settle(), v.day(p, asked))
	if err != nil {
		return err
	}
	if err := p.tell(positions.Locate(faults)); err != nil {
		return err
	}
	if v.Out != "" {
		return v.writePaper(p, a)
	}
	if v.JSON {
		return a.writeJSON(p, v.Inside)
	}
	out := printout{answer: *a, out: p.Out, width: v.Width}
	out.print(v.sections())
	return nil
}

func (v *quoteVerb) sections() []section {
	if len(v.Only) > 0 {
		return v.Only
	}
	var asked []section
	for _, s := range (&printout{}).sections() {
		switch s.name {
		case sectionSheet:
			if v.Brief {
				continue
			}
		case sectionOptions:
			if !v.Options {
				continue
			}
		case sectionInside:
			if !v.Inside {
				continue
			}
		}
		asked = append(asked, s.name)
	}
	return asked
}

// answer works out what choices on a van come to. Faults are in what was
// asked; an error is anything else.
func (o *offer) answer(asked *choicesFile, settle bom.Settle, day string) (*answer, document.Faults, error) {
	edition, terms, err := o.terms(asked, day)
	if err != nil {
		return nil, nil, err
	}
	resolution, faults, err := bom.Resolve(o.release, asked.Van, asked.Choices, settle)
	if err != nil || len(faults) > 0 {
		return nil, faults, err
	}
	sheet := bom.Expand(o.release, resolution.Specification)
	priced, err := pricing.Price(sheet, resolution.Specification, edition, terms)
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return nil, underTerms(faults), nil
	}
	if err != nil {
		return nil, nil, err
	}
	return &answer{
		Source: o.source, Release: o.release, Edition: edition.Edition(),
		Resolution: resolution, Sheet: sheet, Priced: priced,
	}, nil, nil
}

// terms are those of a file of choices on a day, with the edition in force.
func (o *offer) terms(asked *choicesFile, day string) (*pricebook.Compiled, pricing.Terms, error) {
	terms := pricing.Terms{Basis: pricing.Gross}
	if asked.Terms != nil {
		terms = *asked.Terms
	}
	terms.Day = day
	edition, ok := o.book.InForce(day)
	if !ok {
		first := o.book.Editions()[0].Edition()
		return nil, terms, fmt.Errorf("no price-book edition is in force on %s; the first one, %s, is from %s: choose a later --day", day, first.Code, first.InForceFrom)
	}
	return edition, terms, nil
}

// underTerms puts faults of terms where the file has them.
func underTerms(faults document.Faults) document.Faults {
	for i := range faults {
		faults[i].At = document.Join("terms", faults[i].At)
	}
	return faults
}

// answerFormat names the shape of what --json prints.
const answerFormat = "wainscot-answer/1"

// writeJSON prints the answer for programs: the domain's own documents, and
// what was put aside in words.
func (a *answer) writeJSON(p *program, inside bool) error {
	type putAside struct {
		Choice string `json:"choice"`
		Why    string `json:"why"`
	}
	priced := a.Priced
	spec, sheet := a.Resolution.Specification, a.Sheet
	if !inside {
		priced = priced.ForCustomer()
		spec, sheet = withoutReasons(spec, sheet)
	}
	whole := struct {
		Format        string            `json:"format"`
		Catalogue     string            `json:"catalogue"`
		PutAside      []putAside        `json:"put_aside,omitempty"`
		NotReady      []bom.NotReady    `json:"not_ready,omitempty"`
		Specification bom.Specification `json:"specification"`
		Sheet         bom.Sheet         `json:"sheet"`
		Priced        pricing.Priced    `json:"priced"`
	}{
		Format: answerFormat, Catalogue: a.Release.Hash(),
		NotReady:      bom.Ready(a.Release, a.Resolution.Specification, a.Sheet),
		Specification: spec, Sheet: sheet, Priced: priced,
	}
	words := printout{answer: *a}
	for _, s := range a.Resolution.Answer.PutAside {
		whole.PutAside = append(whole.PutAside, putAside{words.choice(s.Choice), words.reason(s.Why)})
	}
	out := json.NewEncoder(p.Out)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	return out.Encode(whole)
}

// withoutReasons leaves out why the owner goes on with checks that are not met.
func withoutReasons(spec bom.Specification, sheet bom.Sheet) (bom.Specification, bom.Sheet) {
	without := func(a bom.CheckAnswer) bom.CheckAnswer {
		if a.Kind == bom.GoingOn {
			a.Says = ""
		}
		return a
	}
	spec.Answers = slices.Clone(spec.Answers)
	for i := range spec.Answers {
		spec.Answers[i] = without(spec.Answers[i])
	}
	sheet.Checks = slices.Clone(sheet.Checks)
	for i := range sheet.Checks {
		if c := &sheet.Checks[i]; c.Answer != nil {
			a := without(*c.Answer)
			c.Answer = &a
		}
	}
	return spec, sheet
}

// known says whether there is a section of that name.
func known(name section) bool {
	for _, s := range (&printout{}).sections() {
		if s.name == name {
			return true
		}
	}
	return false
}

// sectionNames lists them for help and errors.
func sectionNames() string {
	var names []string
	for _, s := range (&printout{}).sections() {
		names = append(names, string(s.name))
	}
	return strings.Join(names, ", ")
}
