package paper

import (
	"fmt"
	"slices"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
)

// The headings of a van's table that are not the catalogue's stages, in the
// order in which they stand; the stages come before headRest.
const (
	headPackage   = "Package"
	headInPackage = "In the package"
	headChanges   = "Changes to the package"
	headWork      = "The work"
	headRest      = "What is done"
	headAlong     = "Also included"
	headFinishes  = "Colours and finishes"
	headRemovals  = "Taken out"
	headAgreed    = "Agreed besides"
)

// parts divides a van's lines under headings as a person would read them.
func (t *teller) parts(van int) []part {
	p := parting{teller: t, additions: map[string]*bom.Addition{}}
	d := t.q.Document
	if van < len(d.Asked.Vans) {
		list := d.Asked.Vans[van].Choices.Additions
		for i := range list {
			p.additions[list[i].Code] = &list[i]
		}
	}
	p.rates = rates(d) > 1
	for i := range d.Vans[van].Priced.Lines {
		p.line(&d.Vans[van].Priced.Lines[i])
	}
	p.gather()
	order := append([]string{headPackage, headInPackage, headChanges}, t.stages...)
	order = append(order, headRest, headAlong, headFinishes, headRemovals, headAgreed)
	at := func(heading string) int { return slices.Index(order, heading) }
	slices.SortStableFunc(p.parts, func(a, b part) int { return at(a.Heading) - at(b.Heading) })
	for i := range p.parts {
		slices.SortStableFunc(p.parts[i].Lists, func(a, b pair) int { return at(a.Name) - at(b.Name) })
	}
	return p.parts
}

// gather puts together what comes along where nothing is paid for, so that no
// heading stands over that alone.
func (p *parting) gather() {
	var kept []part
	var along part
	for _, one := range p.parts {
		if len(one.Rows) > 0 || one.Heading == headInPackage {
			kept = append(kept, one)
			continue
		}
		for _, l := range one.Lists {
			along.list("", l.Says)
		}
	}
	if len(along.Lists) > 0 {
		along.Heading = headAlong
		kept = append(kept, along)
	}
	p.parts = kept
}

// parting is the lines of one van being divided.
type parting struct {
	*teller
	additions map[string]*bom.Addition
	rates     bool
	parts     []part
}

// under is the part with a heading, made when it is first needed.
func (p *parting) under(heading string) *part {
	for i := range p.parts {
		if p.parts[i].Heading == heading {
			return &p.parts[i]
		}
	}
	p.parts = append(p.parts, part{Heading: heading})
	return &p.parts[len(p.parts)-1]
}

// line puts one line where it belongs.
func (p *parting) line(l *pricing.Line) {
	switch l.Kind {
	case pricing.DiscountLine, pricing.PromiseLine:
		return // below the table
	case pricing.InPackageLine:
		p.under(headInPackage).list(p.heading(l.Code), times(l.Quantity, clean(l.Words)))
	case pricing.IncludedLine:
		p.under(p.heading(l.Code)).list("Comes with it", times(l.Quantity, clean(l.Words)))
	case pricing.PackageLine:
		p.put(headPackage, l, p.says(l.Code))
	case pricing.LeftOutLine, pricing.SwapLine:
		p.put(headChanges, l)
	case pricing.FinishLine:
		p.put(headFinishes, l)
	case pricing.RemovalLine:
		p.put(headRemovals, l)
	case pricing.OneOffLine, pricing.OwnPartLine:
		p.put(headAgreed, l, p.addition(l)...)
	default:
		p.put(p.heading(l.Code), l, p.says(l.Code))
	}
}

// put makes a row of a line.
func (p *parting) put(heading string, l *pricing.Line, details ...string) {
	r := row{Name: clean(l.Words), Details: cleaned(details), Price: figures(l.Amount)}
	if l.Quantity != 1 && l.Quantity != 0 {
		r.Count, r.Each = fmt.Sprint(l.Quantity), grouped(l.UnitPrice.Fixed())
	}
	if p.rates {
		r.VAT = vatWords(l.Treatment, l.Percent)
	}
	switch {
	case l.Unpriced:
		r.Price, r.Each, r.VAT = "no price yet", "", ""
	case l.Kind == pricing.FinishLine && l.Amount.IsZero():
		r.Price, r.VAT = "included", ""
	}
	if l.Edition != "" {
		says := "Price held"
		if l.Today != nil {
			says += "; today it would be " + grouped(l.Today.Fixed())
			if l.Quantity > 1 {
				says += " each"
			}
		}
		if n := len(r.Details); n > 0 {
			r.Details[n-1] += " " + says + "."
		} else {
			r.Details = append(r.Details, says+".")
		}
	}
	part := p.under(heading)
	part.Rows = append(part.Rows, r)
}

// addition says what goes with a one-off line or a customer's own part; that
// such a part has no warranty is in its words already.
func (p *parting) addition(l *pricing.Line) []string {
	a, ok := p.additions[l.Code]
	if !ok {
		return nil
	}
	var says []string
	if a.DueBy != "" {
		says = append(says, "It must be here by "+day(a.DueBy)+".")
	}
	if p.q.Draft && a.NeedsForeman() {
		says = append(says, "The foreman has still to agree to it.")
	}
	return says
}

// list adds a name to one of a part's lists.
func (p *part) list(name, item string) {
	for i := range p.Lists {
		if p.Lists[i].Name == name {
			p.Lists[i].Says += "; " + item
			return
		}
	}
	p.Lists = append(p.Lists, pair{name, item})
}

// heading is where a feature stands: by the stage of its group. A group in
// which a feature says what it leaves out, or is only supplied, is the kind of
// work and stands first. What only comes along with something else stands by
// the stage where it is mostly made, since its group says when it is settled,
// not what it is.
func (x index) heading(code string) string {
	f, ok := x.features[code]
	if !ok {
		return headRest
	}
	if x.kindOfWork(f.Group) {
		return headWork
	}
	stage := ""
	if g, ok := x.groups[f.Group]; ok {
		stage = g.Stage
	}
	if f.Follower {
		stage = mostOf(f.Lines, stage)
	}
	for i := range x.Stages {
		if x.Stages[i].Code == stage {
			return clean(x.Stages[i].Name)
		}
	}
	return headRest
}

// kindOfWork says whether a group is the kinds of work.
func (x index) kindOfWork(group string) bool {
	for i := range x.Features {
		f := &x.Features[i]
		if f.Group == group && (len(f.LeavesOut) > 0 || f.SupplyOnly) {
			return true
		}
	}
	return false
}

// mostOf is the stage most lines are of, the first of equals.
func mostOf(lines []catalogue.Line, otherwise string) string {
	best, most := otherwise, 0
	for i := range lines {
		n := 0
		for j := range lines {
			if lines[j].Stage == lines[i].Stage {
				n++
			}
		}
		if n > most {
			best, most = lines[i].Stage, n
		}
	}
	return best
}
