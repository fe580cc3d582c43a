package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"wainscot/bom/catalogue"
	"wainscot/bom/options"
	"wainscot/pricing/pricebook"
)

type versionVerb struct{}

// Help is shown by wainscot version --help.
func (versionVerb) Help() string {
	return "Example:\n\n  wainscot version"
}

// Run prints the revision the program was built from, where that is known,
// and the formats it reads, which say more about what fits together.
func (versionVerb) Run(p *program) error { //nolint:unparam // every verb has this shape
	revision := "not known"
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				revision = s.Value
			}
		}
	}
	g := grid{columns: []column{{}, {}}}
	g.add("revision", revision)
	g.add("engine", fmt.Sprint(options.Engine))
	g.add("catalogue", catalogue.Format)
	g.add("price-book", pricebook.Format)
	g.add("choices", choicesFormat)
	g.add("built with", runtime.Version())
	g.write(p.Out, 0, lineWidth)
	return nil
}
