package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
	"wainscot/bom/options"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// section is one part of a quote in plain text, by the name the command line
// and the README know it by.
type section string

// The sections, in the order in which they are printed.
const (
	sectionVan          section = "van"
	sectionFeatures     section = "features"
	sectionPutAside     section = "put-aside"
	sectionUnsettled    section = "unsettled"
	sectionOptions      section = "options"
	sectionNotReady     section = "not-ready"
	sectionPrice        section = "price"
	sectionInside       section = "inside"
	sectionPayments     section = "payments"
	sectionHours        section = "hours"
	sectionMass         section = "mass"
	sectionFigures      section = "figures"
	sectionChecks       section = "checks"
	sectionCautions     section = "cautions"
	sectionCertificates section = "certificates"
	sectionEvidence     section = "evidence"
	sectionClass        section = "class"
	sectionLeavesOut    section = "leaves-out"
	sectionSheet        section = "sheet"
)

// answer is what a van and choices came to: all that a printout shows.
type answer struct {
	Source     string // where the catalogue came from, for people
	Release    *bom.Release
	Edition    *pricebook.Edition
	Resolution bom.Resolution
	Sheet      bom.Sheet
	Priced     pricing.Priced
}

// printout sets an answer in plain text.
type printout struct {
	answer
	out   io.Writer
	width int
	begun bool
}

// sections are the parts of a printout and what sets each.
func (p *printout) sections() []struct {
	name section
	set  func()
} {
	return []struct {
		name section
		set  func()
	}{
		{sectionVan, p.van},
		{sectionFeatures, p.features},
		{sectionPutAside, p.putAside},
		{sectionUnsettled, p.unsettled},
		{sectionOptions, p.options},
		{sectionNotReady, p.notReady},
		{sectionPrice, p.price},
		{sectionInside, p.inside},
		{sectionPayments, p.payments},
		{sectionHours, p.hours},
		{sectionMass, p.mass},
		{sectionFigures, p.figures},
		{sectionChecks, p.checks},
		{sectionCautions, p.cautions},
		{sectionCertificates, p.certificates},
		{sectionEvidence, p.evidence},
		{sectionClass, p.class},
		{sectionLeavesOut, p.leavesOut},
		{sectionSheet, p.sheet},
	}
}

// print sets the sections asked for, in their own order.
func (p *printout) print(asked []section) {
	for _, s := range p.sections() {
		if slices.Contains(asked, s.name) {
			s.set()
		}
	}
}

// title starts a section: flush left, a blank line above all but the first.
func (p *printout) title(format string, args ...any) {
	if p.begun {
		fmt.Fprintln(p.out)
	}
	p.begun = true
	fmt.Fprintf(p.out, format+"\n", args...)
}

// set prints a grid below a title.
func (p *printout) set(g grid) { g.write(p.out, 2, p.width) }

// say prints a paragraph below a title.
func (p *printout) say(text string) {
	for _, line := range wrap(text, p.width-2) {
		fmt.Fprintf(p.out, "  %s\n", line)
	}
}

func (p *printout) van() {
	spec, c := p.Resolution.Specification, p.Release.Catalogue()
	p.title("The van")
	g := grid{columns: []column{{}, {wraps: true}}}
	g.add("base van", baseVanName(c, spec.Van.BaseVan))
	switch {
	case spec.Van.None:
		g.add("work", "supplied only, nothing is fitted")
	case spec.Van.New:
		g.add("registration", "new, not registered")
	case spec.Van.Registration != "":
		g.add("registration", spec.Van.Registration)
	}
	if spec.Van.VIN != "" {
		g.add("VIN", spec.Van.VIN)
	}
	if spec.Van.Year != 0 {
		g.add("year", fmt.Sprint(spec.Van.Year))
	}
	if spec.Van.MileageMiles != 0 {
		g.add("mileage", grouped(fmt.Sprint(spec.Van.MileageMiles))+" miles")
	}
	for _, v := range spec.Van.Particulars {
		g.add(plain(v.Name), plain(v.Value))
	}
	for _, f := range spec.Van.Fitted {
		name := featureName(c, f.Feature)
		if f.Count > 1 {
			name = fmt.Sprintf("%d × %s", f.Count, name)
		}
		g.add("already fitted", fmt.Sprintf("%s: %s", name, f.Action))
	}
	g.add("catalogue", fmt.Sprintf("%s (%s), content %.12s", c.Title, p.Source, p.Release.Hash()))
	list := ""
	if p.Priced.PriceList != "" {
		list = ", price list " + plain(p.Priced.PriceList)
	}
	g.add("price-book", fmt.Sprintf("edition %s, in force from %s%s", p.Edition.Code, p.Edition.InForceFrom, list))
	p.set(g)
}

func (p *printout) features() {
	spec := p.Resolution.Specification
	p.title("What it has")
	g := grid{columns: []column{{title: "feature"}, {title: "there", right: true}, {title: "to fit", right: true}, {title: "standing"}, {title: "why", wraps: true}}}
	for _, f := range spec.Features {
		standing := f.Standing
		switch {
		case f.Settled:
			standing = "by default"
		case f.InPackage:
			standing = "in the package"
		}
		why := f.Why
		if f.Standing == options.Chosen.String() && !f.Settled && !f.InPackage {
			why = "" // the standing says it
		}
		g.add(f.Name, fmt.Sprint(f.Count), fmt.Sprint(f.Fit), standing, why)
	}
	for _, r := range spec.Removed {
		why := "Taken out of the van."
		if r.Replaced {
			why = "Taken out because a new one goes in."
		}
		g.add(r.Name, fmt.Sprint(-r.Count), "", "taken out", why)
	}
	p.set(g)
	c := p.Release.Catalogue()
	finishes := grid{columns: []column{{}, {wraps: true}}}
	for _, f := range spec.Finishes {
		finish, choice := finishNames(c, f.Finish, f.Choice)
		switch {
		case f.Choice == "":
			choice = "still to choose"
		case f.InPackage:
			choice += ", in the package"
		case f.Settled:
			choice += ", by default"
		}
		finishes.add(finish, choice)
	}
	if len(finishes.rows) > 0 {
		fmt.Fprintln(p.out)
		p.set(finishes)
	}
	p.additions()
}

// additions sets what no feature stands for, and that nothing has proved it.
func (p *printout) additions() {
	list := p.Resolution.Specification.Additions
	if len(list) == 0 {
		return
	}
	fmt.Fprintln(p.out)
	g := grid{columns: []column{{title: "besides, unproved"}, {title: "number", right: true}, {title: "kind"}, {wraps: true}}}
	for _, a := range list {
		note := ""
		if a.DueBy != "" {
			note = "due by " + a.DueBy
		}
		g.add(a.Words, fmt.Sprint(a.Quantity), string(a.Kind), note)
	}
	p.set(g)
}

func (p *printout) putAside() {
	if len(p.Resolution.Answer.PutAside) == 0 {
		return
	}
	p.title("Put aside, because it does not fit with what was said before")
	g := grid{columns: []column{{}, {wraps: true}}}
	for _, a := range p.Resolution.Answer.PutAside {
		g.add(p.choice(a.Choice), p.reason(a.Why))
	}
	p.set(g)
}

func (p *printout) unsettled() {
	if len(p.Resolution.Answer.Unsettled) == 0 {
		return
	}
	p.title("Still to settle; the price is settled so far")
	c := p.Release.Catalogue()
	g := grid{columns: []column{{wraps: true}}}
	for _, u := range p.Resolution.Answer.Unsettled {
		var names []string
		for _, i := range u.Options {
			names = append(names, c.Features[i].Name)
		}
		text := u.Says
		if len(names) > 0 {
			text += " One of: " + strings.Join(names, ", ") + "."
		}
		g.add(text)
	}
	p.set(g)
}

func (p *printout) options() {
	p.title("Every option")
	c := p.Release.Catalogue()
	g := grid{columns: []column{{title: "feature"}, {title: "standing"}, {title: "least", right: true}, {title: "most", right: true}, {title: "why", wraps: true}}}
	for _, o := range p.Resolution.Answer.Options {
		why := ""
		if o.Standing != options.Open && o.Standing != options.Chosen {
			why = p.reason(p.Resolution.Answer.Why(o.Feature))
		}
		standing := o.Standing.String()
		if o.Swap {
			standing = "a swap"
		}
		g.add(c.Features[o.Feature].Name, standing, fmt.Sprint(o.Least), fmt.Sprint(o.Most), why)
	}
	p.set(g)
}

func (p *printout) notReady() {
	list := bom.Ready(p.Release, p.Resolution.Specification, p.Sheet)
	if len(list) == 0 {
		return
	}
	p.title("Not ready to issue")
	for _, n := range list {
		p.say("- " + n.Says)
	}
}

func (p *printout) price() {
	v := p.Priced
	basis := "prices include VAT"
	if v.Basis == pricing.Net {
		basis = "prices are without VAT"
	}
	p.title("Price in %s, %s, worked for %s", v.Currency, basis, v.Day)
	g := grid{columns: []column{{title: "line"}, {title: "number", right: true}, {title: "each", right: true}, {title: "amount", right: true}, {title: "VAT", right: true}, {wraps: true}}}
	for _, l := range v.Lines {
		number, each := "", ""
		if l.Quantity != 1 && l.Quantity != 0 {
			number, each = fmt.Sprint(l.Quantity), grouped(l.UnitPrice.Fixed())
		}
		switch l.Kind {
		case pricing.IncludedLine:
			g.add(l.Words, number, "", "", "", "comes with it")
		case pricing.InPackageLine:
			g.add(l.Words, number, "", "", "", "in the package")
		default:
			g.add(l.Words, number, each, grouped(l.Amount.Fixed()), vatOf(l.Treatment, l.Percent))
		}
	}
	if !v.Totals.Discount.IsZero() {
		g.add("before discount", "", "", grouped(v.Totals.BeforeDiscount.Fixed()))
	}
	g.add("")
	if v.Basis == pricing.Net {
		g.add("without VAT", "", "", grouped(v.Totals.Net.Fixed()))
	}
	if v.Basis == pricing.Gross {
		g.add("Total with VAT", "", "", grouped(v.Totals.Gross.Fixed()))
	}
	for _, r := range v.VAT {
		words := fmt.Sprintf("VAT on %s", grouped(r.Net.Fixed()))
		if v.Basis == pricing.Gross {
			words = fmt.Sprintf("of which VAT on %s net", grouped(r.Net.Fixed()))
		}
		g.add(words, "", "", grouped(r.VAT.Fixed()), vatOf(r.Treatment, r.Percent), r.Says)
	}
	if v.Basis == pricing.Net {
		g.add("Total with VAT", "", "", grouped(v.Totals.Gross.Fixed()))
	}
	p.set(g)
	if v.SettledSoFar {
		p.say("Settled so far: not everything is chosen yet.")
	}
	if v.Refusal != nil {
		p.say("No discount: " + v.Refusal.Says)
	}
	for _, gap := range v.Gaps {
		p.say(fmt.Sprintf("Not whole, %s: %s %s", gap.At, gap.Says, gap.Remedy))
	}
}

func (p *printout) inside() {
	in := p.Priced.Inside
	if in == nil {
		return
	}
	p.title("Inside: what it costs the workshop, in %s without VAT", p.Priced.Currency)
	g := grid{columns: []column{{title: "line"}, {title: "net", right: true}, {title: "cost", right: true}, {title: "its share of the rest", right: true}, {title: "margin", right: true}}}
	for i, l := range in.Lines {
		line := p.Priced.Lines[i]
		g.add(line.Words, grouped(line.Net.Fixed()), grouped(l.Cost.Fixed()), grouped(l.Overhead.Fixed()), grouped(l.Margin.Fixed()))
	}
	g.add("")
	g.add("together", grouped(p.Priced.Totals.Net.Fixed()), grouped(in.Cost.Fixed()), "", grouped(in.Margin.Fixed()))
	if in.MarginPercent != nil {
		g.add("margin of net", "", "", "", in.MarginPercent.StringFixed(1)+" %")
	}
	p.set(g)
	for _, w := range in.Warnings {
		p.say("Warning: " + w.Says)
	}
	p.answers()
}

// answers sets what was said to checks, which the customer does not read.
func (p *printout) answers() {
	list := p.Resolution.Specification.Answers
	if len(list) == 0 {
		return
	}
	fmt.Fprintln(p.out)
	g := grid{columns: []column{{title: "answered"}, {title: "by"}, {title: "up to", right: true}, {title: "on"}, {wraps: true}}}
	for _, a := range list {
		g.add(a.Check, string(a.Kind), grouped(a.Limit.String()), a.Day, a.Says)
	}
	p.set(g)
}

func (p *printout) payments() {
	p.title("Payments")
	g := grid{columns: []column{{}, {right: true}, {wraps: true}}}
	sum := money.Zero(p.Priced.Currency)
	for _, pay := range p.Priced.Payments {
		g.add(pay.Name, grouped(pay.Amount.Fixed()), due(pay))
		if next, err := sum.Add(pay.Amount); err == nil {
			sum = next
		}
	}
	g.add("together", grouped(sum.Fixed()))
	p.set(g)
}

func (p *printout) hours() {
	p.title("Hours")
	g := grid{columns: []column{{title: "stage"}, {title: "hands on", right: true}, {title: "standing", right: true}, {title: "lines", right: true}}}
	for _, s := range p.Sheet.Stages {
		g.add(s.Name, s.Hours.StringFixed(2), blankZero(s.StandingHours, 1), fmt.Sprint(s.Lines))
	}
	g.add("together", p.Sheet.Hours.StringFixed(2), "", fmt.Sprint(len(p.Sheet.Lines)))
	p.set(g)
	fmt.Fprintln(p.out)
	trades := grid{columns: []column{{title: "trade"}, {title: "hands on", right: true}}}
	for _, t := range p.Sheet.Trades {
		trades.add(t.Name, t.Hours.StringFixed(2))
	}
	p.set(trades)
}

func (p *printout) figures() {
	if len(p.Sheet.Figures) == 0 {
		return
	}
	p.title("Figures")
	g := grid{columns: []column{{}, {right: true}, {}}}
	nothing := 0
	for _, f := range p.Sheet.Figures {
		if f.Value.IsZero() {
			nothing++
			continue
		}
		g.add(f.Name, grouped(f.Value.String()), formula.UnitWords(f.Unit))
	}
	p.set(g)
	if nothing > 0 {
		p.say(fmt.Sprintf("%d more come to nothing here.", nothing))
	}
}

func (p *printout) cautions() {
	if len(p.Sheet.Cautions) == 0 {
		return
	}
	p.title("Cautions")
	g := grid{columns: []column{{}, {wraps: true}}}
	for _, c := range p.Sheet.Cautions {
		g.add(string(c.Caution), c.Says)
	}
	p.set(g)
}

func (p *printout) certificates() {
	if len(p.Sheet.Certificates) == 0 {
		return
	}
	p.title("Certificates before handover")
	g := grid{columns: []column{{}, {wraps: true}}}
	for _, c := range p.Sheet.Certificates {
		g.add(c.Name, "from: "+outsideName(p.Release.Catalogue(), c.Outside))
	}
	p.set(g)
}

func (p *printout) leavesOut() {
	if len(p.Sheet.LeavesOut) == 0 {
		return
	}
	p.title("Not included")
	for _, s := range p.Sheet.LeavesOut {
		p.say("- " + s)
	}
}

// sheet sets the build sheet, one grid for each stage so that a stage can be
// pinned up where it is worked.
func (p *printout) sheet() {
	p.title("Build sheet, %d lines, content %.12s", len(p.Sheet.Lines), bom.CanonicalHash(p.Sheet))
	c := p.Release.Catalogue()
	for i, s := range p.Sheet.Stages {
		if s.Lines == 0 {
			continue
		}
		fmt.Fprintf(p.out, "\n  %d. %s: %s h", i+1, s.Name, s.Hours.StringFixed(2))
		if s.StandingHours.IsPositive() {
			fmt.Fprintf(p.out, ", then stands %s h", s.StandingHours.StringFixed(1))
		}
		fmt.Fprintln(p.out)
		g := grid{columns: []column{{right: true}, {}, {}, {}, {wraps: true}}}
		for _, l := range p.Sheet.Lines {
			if l.Stage == s.Stage {
				g.add(grouped(l.Quantity.String()), formula.UnitWords(l.Unit), l.Name, l.Code, because(c, l))
			}
		}
		p.set(g)
	}
}

// because gives the reasons of a line, each once: who asked for it, and in
// brackets which kits it is a component of, the innermost only. The JSON form
// has every step.
func because(c *catalogue.Catalogue, l bom.Line) string {
	var heads []string
	kits := map[string][]string{}
	for _, b := range l.Because {
		head, _, _ := strings.Cut(b.Says, ", in: ")
		if !slices.Contains(heads, head) {
			heads = append(heads, head)
		}
		if len(b.Via) == 0 {
			continue
		}
		if kit := kitName(c, b.Via[len(b.Via)-1]); kit != head && !slices.Contains(kits[head], kit) {
			kits[head] = append(kits[head], kit)
		}
	}
	for i, head := range heads {
		if in := kits[head]; len(in) > 0 {
			heads[i] = head + " (" + strings.Join(in, "; ") + ")"
		}
	}
	return strings.Join(heads, "; ")
}

// choice says in words what was said.
func (p *printout) choice(i int) string {
	said, c := p.Resolution.Said[i], p.Release.Catalogue()
	name := featureName(c, said.Feature)
	switch said.Verb {
	case options.Want:
		return name
	case options.Refuse:
		return "no " + name
	case options.Number:
		return fmt.Sprintf("%d × %s", said.N, name)
	case options.AtLeast:
		return fmt.Sprintf("at least %d × %s", said.N, name)
	case options.Pick:
		return plain(said.Feature) + " " + plain(said.Value)
	}
	return name
}

// reason says in words why something is so.
func (p *printout) reason(r *options.Reason) string {
	if r == nil {
		return ""
	}
	var parts []string
	for _, c := range r.Causes {
		if c.Says != "" && !slices.Contains(parts, c.Says) {
			parts = append(parts, c.Says)
		}
	}
	var said []string
	for _, i := range r.Choices {
		said = append(said, p.choice(i))
	}
	if len(said) > 0 {
		parts = append(parts, "Said: "+strings.Join(said, ", ")+".")
	}
	return strings.Join(parts, " ")
}

func due(p pricing.Payment) string {
	switch {
	case p.When == pricebook.BeforeSlot && p.Days > 0:
		return fmt.Sprintf("%d days before the slot", p.Days)
	case p.When == pricebook.OnHandover && p.Days > 0:
		return fmt.Sprintf("%d days after handover", p.Days)
	}
	return string(p.When)
}

func vatOf(t pricebook.Treatment, percent decimal.Decimal) string {
	switch t {
	case pricebook.Standard, pricebook.Reduced, pricebook.Zero:
		return percent.String() + " %"
	}
	return string(t)
}

func blankZero(d decimal.Decimal, places int32) string {
	if d.IsZero() {
		return ""
	}
	return d.StringFixed(places)
}

// grouped puts a comma between thousands.
func grouped(number string) string {
	sign, digits := "", number
	if strings.HasPrefix(digits, "-") {
		sign, digits = "-", digits[1:]
	}
	whole, part, point := strings.Cut(digits, ".")
	var b strings.Builder
	for i, d := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(d)
	}
	if point {
		b.WriteString("." + part)
	}
	return sign + b.String()
}

// plain turns a code into words: "sliding_doors" into "sliding doors".
func plain(code string) string {
	code = strings.TrimPrefix(strings.TrimPrefix(code, "van."), "finish.")
	return strings.NewReplacer("_", " ", "-", " ").Replace(code)
}

func kitName(c *catalogue.Catalogue, code string) string {
	for i := range c.Kits {
		if c.Kits[i].Code == code {
			return c.Kits[i].Name
		}
	}
	return code
}

func featureName(c *catalogue.Catalogue, code string) string {
	for i := range c.Features {
		if c.Features[i].Code == code {
			return c.Features[i].Name
		}
	}
	return code
}

func baseVanName(c *catalogue.Catalogue, code string) string {
	for i := range c.BaseVans {
		if c.BaseVans[i].Code == code {
			return c.BaseVans[i].Name
		}
	}
	return code
}

func outsideName(c *catalogue.Catalogue, code string) string {
	for i := range c.OutsideWork {
		if c.OutsideWork[i].Code == code {
			return c.OutsideWork[i].Name
		}
	}
	return code
}

func finishNames(c *catalogue.Catalogue, finish, choice string) (string, string) {
	for _, f := range c.Finishes {
		if f.Code != finish {
			continue
		}
		for _, ch := range f.Choices {
			if ch.Code == choice {
				return f.Name, ch.Name
			}
		}
		return f.Name, choice
	}
	return finish, choice
}
