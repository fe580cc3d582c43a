package paper

import "io"

// QuotePDF writes a quote as PDF, A4 upright. The same quote gives the same
// bytes; what the file says of itself names no customer.
func QuotePDF(w io.Writer, q Quote) error {
	l, err := q.words()
	if err != nil {
		return err
	}
	return l.pdf(w, "Quote for a van conversion", q.day())
}

func (l *leaf) pdf(w io.Writer, subject, on string) error {
	s, err := newSheet(l.Title, subject, l.Letterhead.Name, on)
	if err != nil {
		return err
	}
	p := quotePDF{sheet: s, leaf: l}
	p.letterhead()
	p.address()
	for i := range l.Vans {
		p.van(&l.Vans[i])
	}
	p.whole()
	p.payments("What the change does to the payments", l.ChangePayments)
	p.payments(l.PaymentsTitle, l.Payments)
	p.payTo()
	p.list("Not included in this quote", l.NotIncluded)
	p.list("Papers that come with the van at handover", l.Papers)
	p.prose("Please note", l.Cautions, small)
	p.prose("Your right to cancel", l.Cancellation, body)
	p.sign()
	p.terms()
	head := l.Letterhead.Name
	if head != "" {
		head += " · "
	}
	head += l.Title
	if l.Revision != "" {
		head += ", " + l.Revision
	}
	s.number(head, l.Draft, l.Footer)
	return s.write(w)
}

// quotePDF is a quote being set.
type quotePDF struct {
	*sheet
	leaf *leaf
}

// letterhead sets the workshop's name and where it is to be found.
func (p *quotePDF) letterhead() {
	h := p.leaf.Letterhead
	y := 17.0
	if p.leaf.Draft != "" {
		y = 19
	}
	nameWidth := whole * 0.58
	name := p.wrapped(firm, h.Name, nameWidth)
	for i, line := range name[:min(len(name), 4)] {
		p.at(firm, left, y+firm.ascent()+float64(i)*firm.leading(), line)
		p.y = y + float64(i+1)*firm.leading()
	}
	lines := append([]string{}, h.Lines...)
	for _, s := range []string{h.Telephone, h.Email, h.Web} {
		if s != "" {
			lines = append(lines, s)
		}
	}
	for _, text := range lines {
		for _, line := range p.wrapped(small, text, whole-nameWidth-6) {
			if y > 60 {
				break // a letterhead of a whole page is none
			}
			p.atRight(small, right, y+small.ascent(), line)
			y += small.leading()
		}
	}
	p.y = max(p.y, y) + 2.5
	p.rule(p.y, 0.4, 0)
	p.y += 7
}

// address sets to whom it goes, and beside it what it is.
func (p *quotePDF) address() {
	from := p.y
	column := whole * 0.56
	for i, text := range p.leaf.To {
		t := body
		if i == 0 {
			t = strong
		}
		p.lines(t, left, p.wrapped(t, text, column))
	}
	if len(p.leaf.EndTo) > 0 {
		p.y += 2
		p.lines(label, left, []string{"For"})
		for _, text := range p.leaf.EndTo {
			p.lines(body, left, p.wrapped(body, text, column))
		}
	}
	after := p.y
	p.y = from
	x := left + whole*0.62
	for _, f := range p.leaf.Facts {
		p.at(label, x, p.y+body.ascent(), f.Name)
		for _, line := range p.wrapped(body, f.Says, right-x-28) {
			p.keep(body.leading())
			p.atRight(body, right, p.y+body.ascent(), line)
			p.y += body.leading()
		}
		p.y += 0.3
	}
	p.y = max(p.y, after) + 9
	p.keep(30)
	p.at(title, left, p.y+title.ascent(), p.leaf.Title)
	if p.leaf.Draft != "" {
		p.stamp(p.leaf.Draft)
	}
	p.y += title.leading() + 0.5
	p.paragraph(body, p.leaf.Lead)
	for _, n := range p.leaf.Notes {
		p.paragraph(body, n)
	}
	p.y += 4
}

// stamp frames a few words at the right of a title.
func (p *quotePDF) stamp(words string) {
	t := style{points: 11, bold: true}
	w := p.width(t, words) + 6
	p.f.SetDrawColor(0, 0, 0)
	p.f.SetLineWidth(0.5)
	p.f.Rect(right-w, p.y, w, 8.5, "D")
	p.atRight(t, right-3, p.y+5.8, words)
}

// section sets a heading that stays with the next mm.
func (p *quotePDF) section(words string, with float64) {
	p.space(5)
	p.keep(heading.leading() + 2 + with)
	for _, line := range p.wrapped(heading, words, whole) {
		p.at(heading, left, p.y+heading.ascent(), line)
		p.y += heading.leading()
	}
	p.y += gap
}

// van sets one van: what it is, what is done, at what price.
func (p *quotePDF) van(v *vanLeaf) {
	p.section(v.Title, 20)
	p.pairs(v.Facts, 38)
	p.y += 2
	p.table(v)
	p.extras(v)
	if len(v.Open) > 0 {
		p.section("Still to choose", 10)
		p.pairs(v.Open, 48)
	}
	if len(v.Remarks) > 0 {
		p.section("What to know before you decide", 10)
		for _, r := range v.Remarks {
			p.keep(2 * body.leading())
			p.paragraph(strong, r.Name)
			p.paragraph(body, r.Says)
			p.y += gap
		}
	}
	p.list("Left out of this work", v.LeavesOut)
	if v.Weight != "" {
		p.section("Weight", 2*body.leading())
		p.paragraph(body, v.Weight)
		if len(v.Axles) > 0 {
			p.y += gap
			p.pairs(v.Axles, 48)
		}
	}
	p.classes(v)
	if len(v.Evidence) > 0 {
		p.section("Papers that others have to give", 10)
		p.pairs(v.Evidence, 64)
	}
}

// classes sets what counts towards the van's class, list by list.
func (p *quotePDF) classes(v *vanLeaf) {
	if len(v.Class) == 0 {
		return
	}
	p.section("What counts towards the van’s class", 3*body.leading())
	for _, c := range v.Class {
		p.keep(3 * body.leading())
		p.paragraph(strong, c.Heading)
		for _, row := range c.Rows() {
			p.dashed(row)
		}
		p.y += gap
	}
	p.paragraph(body, v.ClassNote)
}

// pairs sets names and what they are in two columns.
func (p *quotePDF) pairs(list []pair, column float64) {
	for _, f := range list {
		names := p.wrapped(label, f.Name, column-3)
		says := p.wrapped(body, f.Says, whole-column)
		if len(names) > 3 { // too long a name for a column
			p.paragraph(label, f.Name)
			p.lines(body, left+column, says)
			continue
		}
		p.keep(float64(min(max(len(names), len(says)), 4)) * body.leading())
		at := p.y
		for i, n := range names {
			p.at(label, left, at+body.ascent()+float64(i)*body.leading(), n)
		}
		after := at + float64(len(names))*body.leading()
		page := p.f.PageNo()
		p.lines(body, left+column, says)
		if p.f.PageNo() == page {
			p.y = max(p.y, after)
		}
	}
}

// Columns of the price table: where each ends, in mm from the left margin.
const (
	priceEnds = whole
	vatWidth  = 25.0
	eachWidth = 27.0
	indent    = 4.0
)

// columns of a table: a name that takes what is left, and figures.
type columns struct {
	vat   bool
	price string
}

func (c columns) each() float64 {
	if c.vat {
		return right - vatWidth - eachWidth
	}
	return right - eachWidth
}

func (c columns) count() float64 { return c.each() - 21 }

func (c columns) priceAt() float64 {
	if c.vat {
		return right - vatWidth
	}
	return right
}

// name is how wide a name may be: up to the figures its row has.
func (c columns) name(r *row) float64 {
	if r.Count != "" {
		return c.count() - 12 - left - indent
	}
	return c.priceAt() - 30 - left - indent
}

// table sets the priced lines of a van.
func (p *quotePDF) table(v *vanLeaf) {
	c := columns{vat: v.VAT, price: v.Price}
	head := func() {
		y := p.y + label.ascent()
		p.at(label, left, y, "What")
		if !v.Plain {
			p.atRight(label, c.count(), y, "Number")
			p.atRight(label, c.each(), y, "Each")
		}
		p.atRight(label, c.priceAt(), y, c.price)
		if c.vat {
			p.atRight(label, right, y, "VAT")
		}
		p.y += label.leading() + 0.6
		p.rule(p.y, 0.25, 0)
		p.y += 1.2
	}
	p.keep(30)
	head()
	p.head = head
	sums := p.sumsHeight(v.Sums)
	for i := range v.Parts {
		part := &v.Parts[i]
		for j := range part.Rows {
			below := 0.0
			if j == len(part.Rows)-1 {
				below = p.listsHeight(part.Lists)
				if i == len(v.Parts)-1 {
					below += sums
				}
			}
			if j == 0 {
				p.keep(part0.leading() + 2 + p.rowHeight(c, &part.Rows[j]) + below)
				p.partHeading(part.Heading)
			}
			p.row(c, &part.Rows[j], below)
		}
		for j, list := range part.Lists {
			lines := p.wrapped(small, list.Text(), listWidth)
			below := 0.0
			if i == len(v.Parts)-1 && j == len(part.Lists)-1 {
				below = sums
			}
			height := float64(len(lines)) * small.leading()
			if j == 0 && len(part.Rows) == 0 {
				p.keep(part0.leading() + 2 + min(height, 3*small.leading()) + below)
				p.partHeading(part.Heading)
			}
			if height+below < 60 {
				p.keep(height + below)
			}
			p.lines(small, left+indent, lines)
			p.y += 0.8
		}
	}
	p.head = nil
	p.sums(v.Sums)
}

// listWidth is how wide a list below a part's rows is.
const listWidth = whole - 40

// listsHeight is how high the lists of a part are, as far as they are kept
// with its last row.
func (p *quotePDF) listsHeight(lists []pair) float64 {
	h := 0.0
	for _, l := range lists {
		h += float64(len(p.wrapped(small, l.Text(), listWidth)))*small.leading() + 0.8
	}
	return min(h, 40)
}

func (p *quotePDF) partHeading(words string) {
	p.space(1.6)
	p.lines(part0, left, p.wrapped(part0, words, whole))
}

// rowHeight is how high a row is, in mm.
func (p *quotePDF) rowHeight(c columns, r *row) float64 {
	h := float64(len(p.wrapped(body, r.Name, c.name(r)))) * body.leading()
	for _, d := range r.Details {
		h += float64(len(p.wrapped(small, d, c.name(r)))) * small.leading()
	}
	return h + 0.8
}

// row sets one line of a table and keeps it on one page, with what stands
// below it where it is the last.
func (p *quotePDF) row(c columns, r *row, below float64) {
	if h := p.rowHeight(c, r) + below; h < (bottom-top)/2 {
		p.keep(h)
	}
	p.keep(body.leading())
	y := p.y + body.ascent()
	p.atRight(body, c.priceAt(), y, r.Price)
	if r.Count != "" {
		p.atRight(body, c.count(), y, r.Count)
		p.atRight(body, c.each(), y, r.Each)
	}
	if r.VAT != "" {
		p.atRight(small, right, y, r.VAT)
	}
	p.lines(body, left+indent, p.wrapped(body, r.Name, c.name(r)))
	for _, d := range r.Details {
		p.lines(small, left+indent, p.wrapped(small, d, c.name(r)))
	}
	p.y += 0.8
}

// sumAt is where the names of sums stand.
const sumAt = right - 92.0

func (p *quotePDF) sumsHeight(list []sum) float64 {
	h := 3.0
	for _, s := range list {
		h += float64(len(p.wrapped(sumStyle(s), s.Name, right-sumAt-32)))*sumStyle(s).leading() + 0.6
	}
	return h
}

func sumStyle(s sum) style {
	if s.Strong {
		return style{points: 10.5, bold: true}
	}
	return body
}

// sums sets what a table comes to, together on one page.
func (p *quotePDF) sums(list []sum) {
	if len(list) == 0 {
		return
	}
	p.keep(p.sumsHeight(list))
	p.y += 1.2
	p.f.SetDrawColor(0, 0, 0)
	p.f.SetLineWidth(0.25)
	p.f.Line(sumAt, p.y, right, p.y)
	p.y += 1.2
	for _, s := range list {
		t := sumStyle(s)
		p.keep(t.leading())
		p.atRight(t, right, p.y+t.ascent(), s.Amount)
		p.lines(t, sumAt, p.wrapped(t, s.Name, right-sumAt-32))
		p.y += 0.6
	}
}

// extras sets what may be ticked beside the total.
func (p *quotePDF) extras(v *vanLeaf) {
	if len(v.Extras) == 0 {
		return
	}
	p.section("If you like: extras, not in the total", 24)
	p.paragraph(small, "Tick what you want when you accept. Each price is what that one adds.")
	p.y += gap
	head := func() {
		p.atRight(label, right, p.y+label.ascent(), v.ExtrasPrice)
		p.y += label.leading() + 0.6
		p.rule(p.y, 0.25, 0)
		p.y += 1.5
	}
	head()
	p.head = head
	for i := range v.Extras {
		r := &v.Extras[i]
		name := whole - 36.0
		lines := p.wrapped(body, r.Name, name)
		h := float64(len(lines)) * body.leading()
		for _, d := range r.Details {
			h += float64(len(p.wrapped(small, d, name))) * small.leading()
		}
		p.keep(min(h, 60))
		p.box(left+0.3, p.y+0.5, 3)
		p.atRight(body, right, p.y+body.ascent(), r.Price)
		p.lines(body, left+6, lines)
		for _, d := range r.Details {
			p.lines(small, left+6, p.wrapped(small, d, name))
		}
		p.y += 1.4
	}
	p.head = nil
}

// whole sets the sums of all vans together.
func (p *quotePDF) whole() {
	if len(p.leaf.Sums) > 0 {
		p.section("All vans together", p.sumsHeight(p.leaf.Sums))
		p.sums(p.leaf.Sums)
	}
	for _, n := range p.leaf.VATNotes {
		p.y += gap
		p.paragraph(small, n)
	}
}

// payments sets steps of a schedule.
func (p *quotePDF) payments(words string, list []payment) {
	if len(list) == 0 {
		return
	}
	height := float64(len(list)+len(p.leaf.Bank)+3) * body.leading()
	p.section(words, min(height, 80))
	for _, pay := range list {
		names := p.wrapped(body, pay.Name, 58)
		whens := p.wrapped(body, pay.When, whole-62-34)
		p.keep(float64(max(len(names), len(whens))) * body.leading())
		at := p.y
		p.atRight(body, right, at+body.ascent(), pay.Amount)
		p.lines(body, left+62, whens)
		after := p.y
		p.y = at
		p.lines(body, left, names)
		p.y = max(p.y, after) + 0.6
	}
}

// payTo sets how to pay.
func (p *quotePDF) payTo() {
	l := p.leaf
	if len(l.Payments) == 0 || l.Reference == "" && len(l.Bank) == 0 {
		return
	}
	p.y += 1.5
	if l.Reference != "" {
		p.keep(body.leading())
		p.at(label, left, p.y+body.ascent(), "Reference to pay under")
		p.lines(strong, left+38, p.wrapped(strong, l.Reference, whole-38))
	}
	for i, b := range l.Bank {
		lines := p.wrapped(body, b, whole-38)
		p.keep(float64(min(len(lines), 3)) * body.leading())
		if i == 0 {
			p.at(label, left, p.y+body.ascent(), "Pay to")
		}
		p.lines(body, left+38, lines)
	}
}

// list sets sentences with a dash before each.
func (p *quotePDF) list(words string, list []string) {
	if len(list) == 0 {
		return
	}
	p.section(words, 2*body.leading())
	for _, text := range list {
		p.dashed(text)
	}
}

// dashed sets one of a list.
func (p *quotePDF) dashed(text string) {
	lines := p.wrapped(body, text, whole-indent)
	p.keep(float64(min(len(lines), 3)) * body.leading())
	p.at(body, left, p.y+body.ascent(), "–")
	p.lines(body, left+indent, lines)
	p.y += 0.5
}

// prose sets paragraphs under a heading.
func (p *quotePDF) prose(words string, list []string, t style) {
	if len(list) == 0 {
		return
	}
	p.section(words, 3*t.leading())
	for _, text := range list {
		p.paragraph(t, text)
		p.y += gap
	}
}

// sign sets the lines to sign on.
func (p *quotePDF) sign() {
	l := p.leaf
	if len(l.Sign) == 0 {
		return
	}
	p.section("Acceptance", 48)
	p.paragraph(body, l.Accept)
	p.y += 12
	column := whole/2 - 6
	for i, who := range l.Sign {
		x := left + float64(i)*(column+12)
		p.f.SetDrawColor(0, 0, 0)
		p.f.SetLineWidth(0.2)
		p.f.Line(x, p.y, x+column, p.y)
		p.at(small, x, p.y+1+small.ascent(), p.cut(small, who, column))
		p.f.Line(x, p.y+18, x+column*0.6-3, p.y+18)
		p.f.Line(x+column*0.6, p.y+18, x+column, p.y+18)
		p.at(small, x, p.y+19+small.ascent(), "Name")
		p.at(small, x+column*0.6, p.y+19+small.ascent(), "Day")
	}
	p.y += 25
}

// terms sets the terms of sale small, as they are accepted.
func (p *quotePDF) terms() {
	l := p.leaf
	if len(l.Terms) == 0 {
		return
	}
	p.section("Terms of sale", 4*tiny.leading())
	if l.TermsSHA256 != "" {
		p.paragraph(tiny, "This text by its SHA-256, first digits: "+l.TermsSHA256)
		p.y += gap
	}
	for _, text := range l.Terms {
		p.paragraph(tiny, text)
		p.y += 0.7
	}
}
