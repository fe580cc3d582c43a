package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

type checkVerb struct {
	Dir          string `arg:"" help:"Folder that holds catalogue/ and pricebook/."`
	Day          string `help:"Day to be published on, YYYY-MM-DD: prices are looked up in the edition in force then and in those to come. Default: today."`
	Acknowledged string `help:"File of warnings that are acknowledged, each with its reason (format: ${acknowledged_format})." placeholder:"FILE"`
	Work         int64  `help:"How much work the proof of one base van may take, in millions of steps." default:"${proof_work}"`
	JSON         bool   `name:"json" help:"Print the proof as JSON instead."`
	Quiet        bool   `help:"Do not say how far it has come."`
	Width        int    `help:"Characters to a line." default:"${line_width}"`
}

// acknowledgedFormat is the first line of a file of acknowledgements.
const acknowledgedFormat = "wainscot-acknowledged/1"

// million turns steps of work as people give them into the engine's.
const million = 1_000_000

// Help is shown by wainscot check --help.
func (checkVerb) Help() string {
	return `Reads every file strictly, compiles every rule and formula, and holds each price-book edition against the catalogue. All faults are named at once, each with file, line, field, what is wrong and what would mend it.

Then it proves, for every base van and over all allowed specifications: nothing on offer can never be had, every group can be settled, every rule does something, every safety rule holds. It expands and prices specifications in which every pair of features meets, and counts how many specifications there are. What breaks it is shown as choices that can be run again. It says how far it has come on the error stream.

Examples:

  wainscot check testdata/demo
  wainscot check --acknowledged known.yaml --json mine > proof.json`
}

// Validate is called by kong before Run.
func (v checkVerb) Validate() error {
	switch {
	case v.Day != "" && !pricebook.ValidDay(v.Day):
		return fmt.Errorf("--day %q: write it as year, month and day, 2026-12-01", v.Day)
	case v.Work < 1 || v.Work > 1_000_000:
		return fmt.Errorf("--work %d: give 1 to 1000000", v.Work)
	case v.Width < 40 || v.Width > 1000:
		return fmt.Errorf("--width %d: give 40 to 1000", v.Width)
	}
	return nil
}

// Run tells all faults of the writing, or else proves what is written.
func (v checkVerb) Run(p *program) error {
	o, faults, err := readOffer(onDisk(filepath.Join(v.Dir, "catalogue")), onDisk(filepath.Join(v.Dir, "pricebook")))
	if err != nil {
		return err
	}
	if err := p.tell(faults); err != nil {
		fmt.Fprintf(p.Err, "%s.\n", counted(len(faults), "fault", "faults"))
		return err
	}
	day := v.Day
	if day == "" {
		day = p.Now().Format("2006-01-02")
	}
	proof, err := pricing.Prove(o.release, pricing.InForceFrom(o.book, day), v.proving(p))
	if err != nil {
		return err
	}
	said, err := p.acknowledged(v.Acknowledged)
	if err == nil {
		err = said.to(p, &proof)
	}
	if err != nil {
		return err
	}
	if v.JSON {
		return errors.Join(writeProof(p, &proof), v.end(&proof))
	}
	c := o.release.Catalogue()
	verdict := "No faults"
	if n := len(proof.Faults()); n > 0 {
		verdict = strings.ToUpper(counted(n, "fault", "faults")[:1]) + counted(n, "fault", "faults")[1:]
	}
	fmt.Fprintf(p.Out, "%s. %s: %s.\n", verdict, c.Title, contents(c))
	for _, k := range o.book.Editions() {
		e := k.Edition()
		fmt.Fprintf(p.Out, "Price-book edition %s, in force from %s: %s, %s, %s.\n", e.Code, e.InForceFrom,
			counted(len(e.Suppliers), "supplier", "suppliers"), counted(len(e.Costs), "cost", "costs"), counted(len(e.Prices), "price", "prices"))
	}
	out := proofPrintout{p: p, proof: &proof, catalogue: c, positions: o.positions, width: v.Width}
	out.print()
	return v.end(&proof)
}

// end is how the verb ends: faults are told by now.
func (v checkVerb) end(proof *bom.Proof) error {
	if len(proof.Faults()) > 0 {
		return errTold
	}
	return nil
}

func writeProof(p *program, proof *bom.Proof) error {
	out := json.NewEncoder(p.Out)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	return out.Encode(proof)
}

// proving gives the proof its work, and says on the error stream how far it
// has come: each part when it begins, and once a second while it lasts.
func (v checkVerb) proving(p *program) bom.Proving {
	asked := bom.Proving{Work: v.Work * million}
	if v.Quiet {
		return asked
	}
	var last bom.ProofStep
	var told time.Time
	asked.Progress = func(s bom.ProofStep) bool {
		begun := s.BaseVan != last.BaseVan || s.Doing != last.Doing
		if now := p.Now(); begun || now.Sub(told) >= time.Second {
			told, last = now, s
			if begun {
				fmt.Fprintf(p.Err, "%s: %s\n", s.BaseVan, s.Doing)
			} else {
				fmt.Fprintf(p.Err, "%s: %s, %s of %s\n", s.BaseVan, s.Doing, grouped(fmt.Sprint(s.Done)), grouped(fmt.Sprint(s.Of)))
			}
		}
		return true
	}
	return asked
}

// acknowledged is a file of acknowledgements.
type acknowledged struct {
	list      []bom.Acknowledgement
	positions document.Positions
}

// acknowledged reads a file of acknowledgements, if one is named.
func (p *program) acknowledged(file string) (a acknowledged, err error) {
	if file == "" {
		return a, nil
	}
	dir, base := filepath.Split(file)
	f, err := onDisk(filepath.Clean(dir)).document(base)
	if err != nil {
		return a, err
	}
	f.Name = filepath.ToSlash(file)
	var asked struct {
		Acknowledged []bom.Acknowledgement `yaml:"acknowledged" json:"acknowledged"`
	}
	positions, faults := document.Decode(f, &asked, acknowledgedFormat)
	return acknowledged{asked.Acknowledged, positions}, p.tell(faults)
}

// to takes the acknowledgements into a proof, or tells why they cannot be.
func (a acknowledged) to(p *program, proof *bom.Proof) error {
	return p.tell(a.positions.Locate(proof.Acknowledge(a.list)))
}

func contents(c *catalogue.Catalogue) string {
	return fmt.Sprintf("%s, %s in %s, %s, %s, %s, %s, %s, %s",
		counted(len(c.BaseVans), "base van", "base vans"), counted(len(c.Features), "feature", "features"),
		counted(len(c.Groups), "group", "groups"), counted(len(c.Rules), "rule", "rules"),
		counted(len(c.SafetyRules), "safety rule", "safety rules"),
		counted(len(c.Parts), "part", "parts"), counted(len(c.Kits), "kit", "kits"),
		counted(len(c.Stages), "stage", "stages"), counted(len(c.Trades), "trade", "trades"))
}

// counted puts a number before a word.
func counted(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %s", grouped(fmt.Sprint(n)), more)
}
