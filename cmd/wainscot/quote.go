package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// choicesFormat is the first line of a file of choices.
const choicesFormat = "wainscot-choices/1"

// lineWidth is how wide a printout is where nobody says otherwise.
const lineWidth = 110

// choicesFile is what a customer picked, on one van, under some terms.
type choicesFile struct {
	Van     bom.Van        `yaml:"van" json:"van"`
	Choices bom.Choices    `yaml:"choices" json:"choices"`
	Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
}

type quoteVerb struct {
	File      string    `arg:"" help:"File of choices (format: ${choices_format}). docs/choices.md describes it."`
	Settle    bool      `help:"Finish what the choices leave open, each group's default first." default:"true" negatable:""`
	Day       string    `help:"Day to price for, YYYY-MM-DD; decides the price-book edition and VAT. Default: what the file's terms say, else today."`
	Catalogue string    `help:"Folder of catalogue files. Default: catalogue/ beside the file's own folder, else the demo built into the program." placeholder:"DIR"`
	Pricebook string    `help:"Folder of price-book editions. Default as for the catalogue, pricebook/." placeholder:"DIR"`
	Only      []section `help:"Print only these sections: ${section_names}." placeholder:"SECTION,..."`
	Brief     bool      `help:"Leave out the build sheet."`
	Options   bool      `help:"Also print the standing of every option, with its reason."`
	Inside    bool      `help:"Also print what it costs the workshop. Not for the customer's eyes."`
	JSON      bool      `name:"json" help:"Print everything as JSON instead."`
	Out       string    `help:"Write a file instead: the quote as .pdf or .html (a draft, on the letterhead of the workshop.yaml beside the catalogue), the build sheet as .xlsx or .csv." placeholder:"FILE"`
	Force     bool      `help:"With --out: replace a file that is there."`
	Width     int       `help:"Characters to a line." default:"${line_width}"`
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
	if v.Day != "" && !pricebook.ValidDay(v.Day) {
		return fmt.Errorf("--day %q: write it as year, month and day, 2026-12-01", v.Day)
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
	if v.Width < 40 || v.Width > 1000 {
		return fmt.Errorf("--width %d: give 40 to 1000", v.Width)
	}
	return nil
}

// Run reads the file, works it out and prints it.
func (v *quoteVerb) Run(p *program) error {
	asked, positions, faults, err := readChoices(v.File)
	if err != nil {
		return err
	}
	if err := p.tell(faults); err != nil {
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

func (v *quoteVerb) settle() bom.Settle {
	if v.Settle {
		return bom.SettleByDefaults
	}
	return bom.SettleNothing
}

func (v *quoteVerb) day(p *program, asked *choicesFile) string {
	switch {
	case v.Day != "":
		return v.Day
	case asked.Terms != nil && asked.Terms.Day != "":
		return asked.Terms.Day
	}
	return p.Now().Format("2006-01-02")
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

// readChoices reads a file of choices strictly.
func readChoices(name string) (*choicesFile, document.Positions, document.Faults, error) {
	dir, base := filepath.Split(name)
	f, err := place{files: os.DirFS(filepath.Clean(dir)), name: filepath.ToSlash(dir)}.document(base)
	if err != nil {
		return nil, document.Positions{}, nil, err
	}
	var asked choicesFile
	positions, faults := document.Decode(f, &asked, choicesFormat)
	return &asked, positions, faults, nil
}

// offer reads the catalogue and price-book the flags name, or those beside the
// file, or the built-in ones.
func (v *quoteVerb) offer(p *program) (*offer, error) {
	catalogueFolder, err := v.folder(v.Catalogue, "catalogue")
	if err != nil {
		return nil, err
	}
	bookFolder, err := v.folder(v.Pricebook, "pricebook")
	if err != nil {
		return nil, err
	}
	o, faults, err := readOffer(catalogueFolder, bookFolder)
	if err != nil {
		return nil, err
	}
	return o, p.tell(faults)
}

func (v *quoteVerb) folder(named, usual string) (place, error) {
	if named != "" {
		return onDisk(named), nil
	}
	beside := filepath.Join(filepath.Dir(v.File), "..", usual)
	if info, err := os.Stat(beside); err == nil && info.IsDir() {
		return onDisk(beside), nil
	}
	return builtIn(usual)
}

// answer works out what choices on a van come to. Faults are in what was
// asked; an error is anything else.
func (o *offer) answer(asked *choicesFile, settle bom.Settle, day string) (*answer, document.Faults, error) {
	edition, ok := o.book.InForce(day)
	if !ok {
		first := o.book.Editions()[0].Edition()
		return nil, nil, fmt.Errorf("no price-book edition is in force on %s; the first one, %s, is from %s: choose a later --day", day, first.Code, first.InForceFrom)
	}
	resolution, faults, err := bom.Resolve(o.release, asked.Van, asked.Choices, settle)
	if err != nil || len(faults) > 0 {
		return nil, faults, err
	}
	terms := pricing.Terms{Basis: pricing.Gross}
	if asked.Terms != nil {
		terms = *asked.Terms
	}
	terms.Day = day
	sheet := bom.Expand(o.release, resolution.Specification)
	priced, err := pricing.Price(sheet, resolution.Specification, edition, terms)
	if faults, ok := errors.AsType[document.Faults](err); ok {
		for i := range faults {
			faults[i].At = document.Join("terms", faults[i].At)
		}
		return nil, faults, nil
	}
	if err != nil {
		return nil, nil, err
	}
	return &answer{
		Source: o.source, Release: o.release, Edition: edition.Edition(),
		Resolution: resolution, Sheet: sheet, Priced: priced,
	}, nil, nil
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
	if !inside {
		priced = priced.ForCustomer()
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
		Specification: a.Resolution.Specification, Sheet: a.Sheet, Priced: priced,
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
