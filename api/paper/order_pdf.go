package paper

import (
	"fmt"
	"io"

	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// Order is what an order to a supplier is printed from. It tells nothing of what
// things are charged at, nor for whom they are; what they cost is the order's
// own, and left out for those who are not shown it.
type Order struct {
	Number     int64
	Letterhead quote.Letterhead // of the workshop; it is delivered to there
	// Supplier and Address to whom it goes.
	Supplier string
	Address  []string
	// Day it was placed, or of a draft is printed on (YYYY-MM-DD).
	Day string
	// Draft: not placed. Ended says how it ended, "" for one that stands.
	Draft bool
	Ended string
	Lines []OrderLine
	// Goods and Carriage, without VAT; nil where nobody is shown them or nothing
	// is fixed yet.
	Goods, Carriage *money.Amount
}

// OrderLine is one thing ordered.
type OrderLine struct {
	TheirNumber, Name string
	Quantity, Unit    string
	By                string // the day it is wanted on, YYYY-MM-DD
	Visit             bool   // somebody comes, on that day
	Certificate       string // the paper that comes with it
	UnitPrice, Amount string // "" for none
}

// OrderPDF writes an order as PDF, A4 upright: to whom, what, how many, by when,
// to where. The same order gives the same bytes.
func OrderPDF(w io.Writer, o Order) error {
	l := o.leaf()
	s, err := newSheet(l.Title, "Order to a supplier", l.Letterhead.Name, o.Day)
	if err != nil {
		return err
	}
	p := orderPDF{quotePDF{sheet: s, leaf: l}, o}
	p.letterhead()
	p.address()
	p.lines()
	p.section("Deliver to", 4*body.leading())
	for _, line := range append([]string{l.Letterhead.Name}, l.Letterhead.Lines...) {
		p.paragraph(body, line)
	}
	head := l.Letterhead.Name
	if head != "" {
		head += " · "
	}
	s.number(head+l.Title, l.Draft, l.Footer)
	return s.write(w)
}

// leaf is what stands above and below the lines.
func (o Order) leaf() *leaf {
	l := letter(o.Letterhead, Person{Name: o.Supplier, Lines: o.Address})
	l.Title = fmt.Sprintf("Order %d", o.Number)
	l.Facts = []pair{{"Order", fmt.Sprint(o.Number)}, {"Date", day(o.Day)}}
	l.Lead = "Please deliver, by the days named, with this number on the delivery note and on the invoice."
	switch {
	case o.Draft:
		l.Draft = "Draft, not an order"
		l.Lead = "Not placed yet: what is in it may still change."
	case o.Ended != "":
		l.Lead = "This order is " + clean(o.Ended) + "."
	}
	return l
}

// orderPDF is an order being set.
type orderPDF struct {
	quotePDF
	order Order
}

// Columns of an order, in mm from the right.
const (
	orderAmount = 0.0
	orderEach   = 24.0
	orderBy     = 48.0
	orderCount  = 82.0
)

// priced says whether any line has a price.
func (p *orderPDF) priced() bool {
	for i := range p.order.Lines {
		if p.order.Lines[i].Amount != "" {
			return true
		}
	}
	return false
}

// lines sets what is ordered.
func (p *orderPDF) lines() {
	priced := p.priced()
	shift := 0.0 // without prices the other columns stand further right
	if !priced {
		shift = orderBy
	}
	head := func() {
		y := p.y + label.ascent()
		p.at(label, left, y, "What")
		p.atRight(label, right-orderCount+shift, y, "How many")
		p.atRight(label, right-orderBy+shift, y, "By")
		if priced {
			p.atRight(label, right-orderEach, y, "Each")
			p.atRight(label, right-orderAmount, y, "Without VAT")
		}
		p.y += label.leading() + 0.6
		p.rule(p.y, 0.25, 0)
		p.y += 1.2
	}
	p.keep(30)
	head()
	p.head = head
	name := right - orderCount + shift - 24 - left
	for i := range p.order.Lines {
		l := &p.order.Lines[i]
		names := p.wrapped(body, clean(l.Name), name)
		details := l.details()
		height := float64(len(names)) * body.leading()
		for _, d := range details {
			height += float64(len(p.wrapped(small, d, name))) * small.leading()
		}
		p.keep(min(height, 60))
		y := p.y + body.ascent()
		p.atRight(body, right-orderCount+shift, y, grouped(l.Quantity)+noBreak+clean(l.Unit))
		p.atRight(body, right-orderBy+shift, y, shortDay(l.By))
		if priced {
			p.atRight(body, right-orderEach, y, grouped(l.UnitPrice))
			p.atRight(body, right-orderAmount, y, grouped(l.Amount))
		}
		p.quotePDF.lines(body, left, names)
		for _, d := range details {
			p.quotePDF.lines(small, left, p.wrapped(small, d, name))
		}
		p.y += 0.8
	}
	p.head = nil
	p.sums(p.order.sums())
}

func (l *OrderLine) details() []string {
	var list []string
	if l.TheirNumber != "" {
		list = append(list, "Your number "+exact(l.TheirNumber))
	}
	if l.Visit {
		list = append(list, "A visit, on that day")
	}
	if l.Certificate != "" {
		list = append(list, "With: "+clean(l.Certificate))
	}
	return list
}

func (o Order) sums() []sum {
	if o.Goods == nil {
		return nil
	}
	sums := []sum{{Name: "Goods, without VAT", Amount: priced(*o.Goods)}}
	if o.Carriage != nil {
		sums = append(sums, sum{Name: "Carriage, without VAT", Amount: priced(*o.Carriage)})
	}
	return sums
}
