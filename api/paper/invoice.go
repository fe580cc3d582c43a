package paper

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"wainscot/pricing"
	"wainscot/pricing/invoice"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// Invoice is what the paper of an invoice is made of: the invoice as it was
// numbered, and beside it to whom it goes.
type Invoice struct {
	Invoice *invoice.Invoice
	Job     int64 // what people call it by
	// Registration of the van; "" where nobody knows it.
	Registration string
	To           Person
}

// InvoicePDF writes a deposit invoice, an invoice or a credit note as PDF, A4
// upright. The same invoice gives the same bytes.
func InvoicePDF(w io.Writer, p Invoice) error {
	i := p.Invoice
	if i == nil {
		return errors.New("paper: there is no invoice to print")
	}
	l := letter(i.Letterhead, p.To)
	l.Title = fmt.Sprintf("%s %d", capital(string(i.Kind)), i.Number)
	l.Facts = []pair{{"Number", fmt.Sprint(i.Number)}, {"Date", day(i.IssuedOn)}, {"Tax point", day(i.TaxPoint)}, {"Job", fmt.Sprint(p.Job)}}
	l.Facts = append(l.Facts, about(p.Registration, i.Quote)...)
	if i.DueOn != "" {
		l.Facts = append(l.Facts, pair{"To be paid by", day(i.DueOn)})
	}
	l.Lead = p.lead()
	v := vanLeaf{Title: "What is charged", Price: "Amount", VAT: true}
	if i.Kind == invoice.CreditNote {
		v.Title = "What is credited"
	}
	v.Parts = p.parts()
	v.Sums = p.sums()
	l.Vans = []vanLeaf{v}
	for _, r := range i.VAT {
		if r.Says != "" {
			l.VATNotes = append(l.VATNotes, clean(r.Says))
		}
	}
	if i.Kind == invoice.Final && i.Due.Sign() > 0 {
		l.PaymentsTitle = "To be paid"
		l.Payments = []payment{{Name: "What is due", When: "now", Amount: priced(i.Due)}}
		if i.DueOn != "" {
			l.Payments[0].When = "by " + day(i.DueOn)
		}
		l.Reference = money.PrintReference(i.Reference)
	}
	return l.pdf(w, capital(string(i.Kind)), i.IssuedOn)
}

// lead says what the paper is for.
func (p Invoice) lead() string {
	i := p.Invoice
	switch i.Kind {
	case invoice.Deposit:
		return fmt.Sprintf("For what came in on job %d. It is paid; the invoice at the end of the work deducts it.", p.Job)
	case invoice.CreditNote:
		if i.CreditsKind == invoice.TakenOn {
			return fmt.Sprintf("Takes back of deposit %d taken on. %s", i.Credits, clean(i.Reason))
		}
		return fmt.Sprintf("Takes back of invoice %d. %s", i.Credits, clean(i.Reason))
	}
	return fmt.Sprintf("For the work on job %d.", p.Job)
}

func inVATWords(b pricing.Basis) string {
	if b == pricing.Net {
		return "Amounts are without VAT"
	}
	return "Amounts include VAT"
}

// about names the van and the quote, where there are.
func about(registration string, quote int64) (facts []pair) {
	if registration != "" {
		facts = append(facts, pair{"Van", exact(registration)})
	}
	if quote > 0 {
		facts = append(facts, pair{"Quote", fmt.Sprint(quote)})
	}
	return facts
}

// parts are what is charged, and what is in the price of another line.
func (p Invoice) parts() []part {
	charged, along := part{Heading: inVATWords(p.Invoice.Basis)}, part{Heading: headAlong}
	for _, l := range p.Invoice.Lines {
		if l.Amount.IsZero() {
			along.list("", times(l.Quantity, clean(l.Words)))
			continue
		}
		r := row{Name: clean(l.Words), Price: figures(l.Amount), VAT: vatWords(l.Treatment, l.Percent)}
		if l.Quantity != 1 {
			r.Count, r.Each = fmt.Sprint(l.Quantity), grouped(l.UnitPrice.Fixed())
		}
		if l.Treatment == pricebook.Margin {
			r.VAT = "" // none is shown (VAT Notice 718)
		}
		charged.Rows = append(charged.Rows, r)
	}
	if len(along.Lists) == 0 {
		return []part{charged}
	}
	return []part{charged, along}
}

func (p Invoice) sums() []sum {
	i := p.Invoice
	list := []sum{{Name: "Total without VAT", Amount: figures(i.Net)}}
	for _, r := range i.VAT {
		if r.Treatment != pricebook.Margin {
			list = append(list, sum{Name: fmt.Sprintf("VAT %s on %s", vatWords(r.Treatment, r.Percent), figures(r.Net)), Amount: figures(r.VAT)})
		}
	}
	list = append(list, sum{Name: "Total with VAT", Amount: priced(i.Gross), Strong: len(i.Deducted) == 0})
	for _, d := range i.Deducted {
		list = append(list, sum{Name: fmt.Sprintf("Less %s %d of %s", d.Kind, d.Number, day(d.TaxPoint)), Amount: figures(d.Gross.Neg())})
	}
	if len(i.Deducted) == 0 {
		return list
	}
	for _, b := range i.Becomes {
		if !b.VAT.IsZero() {
			list = append(list, sum{Name: fmt.Sprintf("VAT %s due with this invoice, on %s", vatWords(b.Treatment, b.Percent), figures(b.Net)), Amount: figures(b.VAT)})
		}
	}
	return append(list, sum{Name: "Still to be paid", Amount: priced(i.Due), Strong: true})
}

// PaymentRequest is what a letter that asks for payments is made of.
type PaymentRequest struct {
	Letterhead quote.Letterhead
	To         Person
	Day        string
	Job, Quote int64 // what people call them by; 0 for no quote
	// Registration of the van; "" where nobody knows it.
	Registration string
	Reference    string // to pay under
	Dues         []job.Due
}

// PaymentRequestPDF writes a letter that asks for payments as PDF, A4 upright.
func PaymentRequestPDF(w io.Writer, p PaymentRequest) error {
	l := letter(p.Letterhead, p.To)
	l.Title = "Request for payment"
	l.Facts = []pair{{"Date", day(p.Day)}, {"Job", fmt.Sprint(p.Job)}}
	l.Facts = append(l.Facts, about(p.Registration, p.Quote)...)
	l.Lead = "For the work that was agreed on your van. This is no invoice: one is written when the money has come."
	l.PaymentsTitle = "What we ask for"
	for _, d := range p.Dues {
		one := payment{Name: clean(d.Name), When: "on a day that is not known yet", Amount: priced(d.Open)}
		switch {
		case d.On != "" && d.On <= p.Day:
			one.When = "due since " + day(d.On)
		case d.On != "":
			one.When = "by " + day(d.On)
		}
		if !d.Paid.IsZero() {
			one.When += fmt.Sprintf(" (%s of %s is paid)", figures(d.Paid), figures(d.Amount))
		}
		l.Payments = append(l.Payments, one)
	}
	if len(p.Dues) == 0 {
		l.Lead = "Of what was agreed for the work on your van nothing is to be paid now."
	}
	l.Reference = money.PrintReference(p.Reference)
	return l.pdf(w, "Request for payment", p.Day)
}

// letter is a leaf with a letterhead and to whom it goes.
func letter(h quote.Letterhead, to Person) *leaf {
	l := &leaf{Letterhead: h, To: address(to)}
	n := &l.Letterhead
	n.Name, n.Lines, n.Bank = clean(n.Name), cleaned(n.Lines), cleaned(n.Bank)
	for _, s := range []*string{&n.Telephone, &n.Email, &n.Web, &n.CompanyNumber, &n.VATNumber} {
		*s = exact(*s)
	}
	l.Bank = l.Letterhead.Bank
	parts := cleaned([]string{n.Name})
	if n.CompanyNumber != "" {
		parts = append(parts, "Company number "+n.CompanyNumber)
	}
	if n.VATNumber != "" {
		parts = append(parts, "VAT number "+n.VATNumber)
	}
	l.Footer = strings.Join(parts, " · ")
	return l
}
