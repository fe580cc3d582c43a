package main

import (
	"fmt"
	"path/filepath"

	"wainscot/bom/catalogue"
)

type checkVerb struct {
	Dir string `arg:"" help:"Folder that holds catalogue/ and pricebook/."`
}

// Help is shown by wainscot check --help.
func (checkVerb) Help() string {
	return `Reads every file strictly, compiles every rule and formula, and holds each price-book edition against the catalogue. All faults are named at once, each with file, line, field, what is wrong and what would mend it.

Example:

  wainscot check testdata/demo`
}

// Run tells all faults, or what there is when there are none.
func (v checkVerb) Run(p *program) error {
	o, faults, err := readOffer(onDisk(filepath.Join(v.Dir, "catalogue")), onDisk(filepath.Join(v.Dir, "pricebook")))
	if err != nil {
		return err
	}
	if err := p.tell(faults); err != nil {
		fmt.Fprintf(p.Err, "%s.\n", counted(len(faults), "fault", "faults"))
		return err
	}
	c := o.release.Catalogue()
	fmt.Fprintf(p.Out, "No faults. %s: %s.\n", c.Title, contents(c))
	for _, k := range o.book.Editions() {
		e := k.Edition()
		fmt.Fprintf(p.Out, "Price-book edition %s, in force from %s: %s, %s, %s.\n", e.Code, e.InForceFrom,
			counted(len(e.Suppliers), "supplier", "suppliers"), counted(len(e.Costs), "cost", "costs"), counted(len(e.Prices), "price", "prices"))
	}
	return nil
}

func contents(c *catalogue.Catalogue) string {
	return fmt.Sprintf("%s, %s in %s, %s, %s, %s, %s, %s",
		counted(len(c.BaseVans), "base van", "base vans"), counted(len(c.Features), "feature", "features"),
		counted(len(c.Groups), "group", "groups"), counted(len(c.Rules), "rule", "rules"),
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
