package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
)

type compareVerb struct {
	Was   string `arg:"" help:"Folder that holds catalogue/: how it was."`
	Is    string `arg:"" help:"Folder that holds catalogue/: how it is."`
	JSON  bool   `name:"json" help:"Print the comparison as JSON instead."`
	Width int    `help:"Characters to a line." default:"${line_width}"`
}

// Help is shown by wainscot compare --help.
func (compareVerb) Help() string {
	return `Tells what is different between two catalogues: what is new, gone and changed in features, groups, rules, safety rules, figures, formulas, lines, parts, kits, finishes, packages and base vans. A release that is published is written into a folder by wainscot export; what a new one does to the open quotes is told by the API (/v1/releases/{number}/comparison).

Example:

  wainscot export --workshop fenland published
  wainscot compare published our-catalogue-and-prices`
}

// Validate is called by kong before Run.
func (v compareVerb) Validate() error {
	if v.Width < 40 || v.Width > 1000 {
		return fmt.Errorf("--width %d: give 40 to 1000", v.Width)
	}
	return nil
}

// Run tells all faults of the writing of both, or else what is different.
func (v compareVerb) Run(p *program) error {
	var two [2]*catalogue.Catalogue
	var told error
	for i, dir := range []string{v.Was, v.Is} {
		files, err := onDisk(filepath.Join(dir, "catalogue")).documents(".")
		if err != nil {
			return fmt.Errorf("catalogue: %w", err)
		}
		if len(files) == 0 {
			return fmt.Errorf("catalogue: there is no .yaml or .json file in %s", filepath.ToSlash(filepath.Join(dir, "catalogue")))
		}
		read, _, faults := catalogue.Decode(files)
		if err := p.tell(faults); err != nil {
			told = err
		}
		two[i] = read
	}
	if told != nil {
		return told
	}
	different := catalogue.Compare(two[0], two[1])
	if v.JSON {
		different.Counts, different.Differences = orNone(different.Counts), orNone(different.Differences)
		out := json.NewEncoder(p.Out)
		out.SetEscapeHTML(false)
		out.SetIndent("", "  ")
		return out.Encode(different)
	}
	v.print(p, &different)
	return nil
}

// orNone is a list that is never null in JSON.
func orNone[T any](list []T) []T { return append([]T{}, list...) }

func (v compareVerb) print(p *program, c *catalogue.Comparison) {
	if len(c.Counts) == 0 {
		fmt.Fprintln(p.Out, "There is no difference.")
		return
	}
	counts := grid{columns: []column{{title: "section"}, {title: "new", right: true}, {title: "gone", right: true}, {title: "changed", right: true}}}
	for _, n := range c.Counts {
		counts.add(string(n.Section), grouped(fmt.Sprint(n.Added)), grouped(fmt.Sprint(n.Gone)), grouped(fmt.Sprint(n.Changed)))
	}
	counts.write(p.Out, 2, v.Width)
	for list := c.Differences; len(list) > 0; {
		n := slices.IndexFunc(list, func(d catalogue.Difference) bool { return d.Section != list[0].Section })
		if n < 0 {
			n = len(list)
		}
		section := string(list[0].Section)
		fmt.Fprintf(p.Out, "\n%s%s\n", strings.ToUpper(section[:1]), section[1:])
		g := grid{columns: []column{{title: "code"}, {title: "how"}, {title: "what is different", wraps: true}}}
		for _, d := range list[:n] {
			g.add(d.Code, string(d.How), d.Says)
		}
		g.write(p.Out, 2, v.Width)
		list = list[n:]
	}
	if c.Cut > 0 {
		fmt.Fprintf(p.Out, "\n%s more.\n", counted(c.Cut, "difference", "differences"))
	}
}
