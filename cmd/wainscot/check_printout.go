package main

import (
	"fmt"
	"io"
	"strings"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// proofPrintout sets a proof in plain text: tables on the output stream, faults
// on the error stream as other faults are.
type proofPrintout struct {
	p         *program
	proof     *bom.Proof
	catalogue *catalogue.Catalogue
	positions document.Positions
	width     int
}

func (o *proofPrintout) print() {
	o.vans()
	o.safety()
	o.checks()
	for _, f := range o.proof.Faults() {
		o.finding(o.p.Err, &f, "")
	}
	if n := len(o.proof.Faults()); n > 0 {
		fmt.Fprintf(o.p.Err, "%s.\n", counted(n, "fault", "faults"))
	}
	o.rest("Warnings", bom.FindingWarning)
	o.rest("Notes", bom.FindingNote)
}

func (o *proofPrintout) vans() {
	fmt.Fprintln(o.p.Out, "\nBase vans")
	g := grid{columns: []column{{title: "base van"}, {title: "allowed specifications", right: true}, {title: "features", right: true},
		{title: "expanded", right: true}, {title: "pairs", right: true}, {title: "faults", right: true}, {title: "warnings", right: true}}}
	number := func(n int) string { return grouped(fmt.Sprint(n)) }
	for _, v := range o.proof.Vans {
		specifications := inDigits(v.Specifications)
		if v.AtLeast {
			specifications = "at least " + specifications
		}
		g.add(v.BaseVan, specifications, number(v.Features), number(v.Specimens), number(v.Pairs), number(v.Faults), number(v.Warnings))
	}
	g.write(o.p.Out, 2, o.width)
}

// mostDigits is how long a number may be to be printed whole.
const mostDigits = 45

// inDigits sets a whole number; a very long one by its first digits and its
// power of ten (the JSON has it whole).
func inDigits(n string) string {
	if len(n) <= mostDigits {
		return grouped(n)
	}
	return fmt.Sprintf("%s.%s × 10^%d", n[:1], n[1:4], len(n)-1)
}

func (o *proofPrintout) safety() {
	if len(o.proof.Safety) == 0 {
		return
	}
	fmt.Fprintln(o.p.Out, "\nSafety rules, over all allowed specifications, whatever is fitted to the van")
	g := grid{columns: []column{{title: "safety rule"}, {title: "holds on", right: true}, {title: "that", wraps: true}}}
	for _, s := range o.proof.Safety {
		g.add(s.Code, fmt.Sprintf("%d of %d", len(s.Holds), len(o.proof.Vans)), s.Says)
	}
	g.write(o.p.Out, 2, o.width)
}

// checks says how they stood over all specimens, base vans together.
func (o *proofPrintout) checks() {
	g := grid{columns: []column{{title: "check"}, {title: "grade"}, {title: "met", right: true}, {title: "not met", right: true}}}
	for _, c := range o.catalogue.Checks {
		met, not := 0, 0
		for _, v := range o.proof.Vans {
			for _, k := range v.Checks {
				if k.Code == c.Code {
					met, not = met+k.Met, not+k.NotMet
				}
			}
		}
		if met+not > 0 {
			g.add(c.Code, string(c.Grade), grouped(fmt.Sprint(met)), grouped(fmt.Sprint(not)))
		}
	}
	if len(g.rows) > 0 {
		fmt.Fprintln(o.p.Out, "\nChecks, on the build sheets of what was expanded")
		g.write(o.p.Out, 2, o.width)
	}
}

// rest tells warnings and notes, which do not end the command.
func (o *proofPrintout) rest(title string, grade bom.FindingGrade) {
	begun := false
	for i := range o.proof.Findings {
		f := &o.proof.Findings[i]
		if f.Grade != grade {
			continue
		}
		if !begun {
			fmt.Fprintln(o.p.Out, "\n"+title)
			begun = true
		}
		o.finding(o.p.Out, f, "  ")
		if grade != bom.FindingWarning {
			continue
		}
		said := "to acknowledge: " + f.Key
		for _, a := range o.proof.Acknowledged {
			if a.Warning == f.Key {
				said = "acknowledged: " + a.Reason
			}
		}
		fmt.Fprintf(o.p.Out, "    %s\n", said)
	}
}

// finding tells one as other faults are told, with the choices that show it.
func (o *proofPrintout) finding(w io.Writer, f *bom.Finding, indent string) {
	located := o.positions.Locate(document.Faults{{Code: string(f.Code), At: f.At, Reason: f.Says, Remedy: f.Remedy}})
	line := located[0].Error()
	if len(f.BaseVans) > 0 {
		line += " (" + strings.Join(f.BaseVans, ", ") + ")"
	}
	fmt.Fprintf(w, "%s%s\n", indent, line)
	if f.Example == nil {
		return
	}
	fmt.Fprintf(w, "%s  shown by%s:\n", indent, times(f.Times))
	for text := range strings.SplitSeq(strings.TrimSuffix(asChoices(f.Example), "\n"), "\n") {
		fmt.Fprintf(w, "%s    %s\n", indent, text)
	}
}

func times(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return " (once)"
	}
	return fmt.Sprintf(" (the first of %s times)", grouped(fmt.Sprint(n)))
}

// asChoices writes an example as a file of choices, for wainscot quote.
func asChoices(e *bom.Example) string {
	var b strings.Builder
	fmt.Fprintf(&b, "format: %s\nvan:\n  base_van: %s\n", choicesFormat, e.Van.BaseVan)
	if len(e.Van.Particulars) > 0 {
		b.WriteString("  particulars:\n")
		for _, p := range e.Van.Particulars {
			fmt.Fprintf(&b, "    - {name: %s, value: %q}\n", p.Name, p.Value)
		}
	}
	if len(e.Van.Fitted) > 0 {
		b.WriteString("  fitted:\n")
		for _, f := range e.Van.Fitted {
			fmt.Fprintf(&b, "    - {feature: %s%s, action: %s}\n", f.Feature, howMany(f.Count), f.Action)
		}
	}
	b.WriteString("choices:\n")
	if e.Choices.Package != "" {
		fmt.Fprintf(&b, "  package: %s\n", e.Choices.Package)
	}
	b.WriteString("  features:")
	if len(e.Choices.Features) == 0 {
		b.WriteString(" []")
	}
	b.WriteString("\n")
	for _, c := range e.Choices.Features {
		if c.Refuse != "" {
			fmt.Fprintf(&b, "    - {refuse: %s}\n", c.Refuse)
			continue
		}
		fmt.Fprintf(&b, "    - {want: %s%s}\n", c.Want, howMany(c.Count))
	}
	if len(e.Choices.Finishes) > 0 {
		b.WriteString("  finishes:\n")
		for _, c := range e.Choices.Finishes {
			fmt.Fprintf(&b, "    - {finish: %s, choice: %q}\n", c.Finish, c.Choice)
		}
	}
	return b.String()
}

func howMany(n int) string {
	if n < 1 {
		return ""
	}
	return fmt.Sprintf(", count: %d", n)
}
