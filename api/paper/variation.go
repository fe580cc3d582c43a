package paper

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// Variation is what the paper of a change is made of: the change as it was
// sent, and beside it what is about people and what names the job.
type Variation struct {
	Variation *job.Variation
	// JobNumber is what people call the job by, QuoteNumber the quote it is of.
	JobNumber, QuoteNumber int64
	// SHA256 of the variation as it was sent; "" for a draft.
	SHA256 string
	// Reference to pay the job under.
	Reference string
	// Catalogue is the job's release; see Quote.
	Catalogue             *catalogue.Catalogue
	Customer, EndCustomer Person
	Van                   VanWords
	// Draft: not sent. It says "Draft, not an offer" and has nothing to sign.
	Draft bool
}

// VariationPDF writes a variation as PDF, A4 upright, as QuotePDF does a quote.
func VariationPDF(w io.Writer, v Variation) error {
	l, err := v.words()
	if err != nil {
		return err
	}
	return l.pdf(w, "Change of a van conversion", v.Variation.Day)
}

// VariationHTML writes a variation as one page, as QuoteHTML does a quote; its
// policy is QuotePolicy.
func VariationHTML(w io.Writer, v Variation) error {
	l, err := v.words()
	if err != nil {
		return err
	}
	return l.html(w)
}

// words puts a variation into words: the van as it is to be is told as a quote
// tells it, with the change in the place of its lines.
func (v Variation) words() (*leaf, error) {
	x := v.Variation
	if x == nil {
		return nil, errors.New("paper: there is no variation to print")
	}
	q := Quote{
		Document: &quote.Document{
			IssuedOn: x.Day, ValidUntil: x.ValidUntil, Asked: x.Asked, Vans: []quote.Van{x.Van},
			Totals: x.Is, Payments: x.Schedule, Paper: x.Paper,
		},
		Catalogue: v.Catalogue, Customer: v.Customer, EndCustomer: v.EndCustomer, Vans: []VanWords{v.Van}, Draft: v.Draft,
	}
	q.Document.Paper.Reference = v.Reference
	if right := x.Cancellation; right != nil && right.Applies {
		q.Cancellation = []string{right.Says, right.Cites}
	}
	l, err := q.words()
	if err != nil {
		return nil, err
	}
	l.Title = fmt.Sprintf("Variation %d to job %d", x.Number, v.JobNumber)
	l.Facts = []pair{{"Variation", fmt.Sprint(x.Number)}, {"Job", fmt.Sprint(v.JobNumber)}}
	if v.QuoteNumber > 0 {
		l.Facts = append(l.Facts, pair{"Of quote", fmt.Sprintf("%d, revision %d", v.QuoteNumber, x.From.Revision)})
	}
	l.Facts = append(l.Facts, pair{"Date", day(x.Day)}, pair{"Answer by", day(x.ValidUntil)})
	v.lead(l, q.net())
	v.change(&l.Vans[0], q.net())
	v.payments(l)
	l.NotIncluded = nil // the quote said so
	if !v.Draft {
		l.Accept = v.accept(l)
	}
	return l, nil
}

// lead says what it is, and what it comes to in one sentence.
func (v Variation) lead(l *leaf, net bool) {
	l.Lead = "What changes of the work on your van, at prices that include VAT."
	if net {
		l.Lead = "What changes of the work on your van, at prices without VAT."
	}
	if v.Draft {
		l.Lead += " Not sent yet: what is in it, and at what price, may still change."
	}
	l.Notes = nil
	for i := range v.Variation.Says {
		if s := &v.Variation.Says[i]; s.About == quote.AboutTotal {
			l.Notes = append(l.Notes, clean(s.Says))
		}
	}
}

// change puts the sentences of the change in the place of the van's lines, and
// what it comes to below them.
func (v Variation) change(out *vanLeaf, net bool) {
	x := v.Variation
	out.Plain, out.VAT = true, false
	out.Title = "What changes"
	var changed, besides part
	for i := range x.Says {
		s := &x.Says[i]
		switch {
		case s.About == quote.AboutTotal, s.About == quote.AboutDeposit:
			continue // the sums and the payments say so
		case s.Difference != nil:
			changed.Rows = append(changed.Rows, row{Name: clean(s.Says), Price: figures(*s.Difference)})
		default:
			besides.Lists = append(besides.Lists, pair{Says: clean(s.Says)})
		}
	}
	out.Parts = nil
	if len(changed.Rows) > 0 {
		changed.Heading = "The change, and what it adds or takes off"
		out.Parts = append(out.Parts, changed)
	}
	if len(besides.Lists) > 0 {
		besides.Heading = "What goes with it"
		out.Parts = append(out.Parts, besides)
	}
	out.Sums = changeSums(x, net)
	out.Remarks = append(v.reckoned(), out.Remarks...)
}

// changeSums are what was agreed, the change, its VAT, and what it comes to.
func changeSums(x *job.Variation, net bool) []sum {
	in := func(t pricing.Totals) money.Amount {
		if net {
			return t.Net
		}
		return t.Gross
	}
	change, with, vat := x.Change.Gross, "with VAT", "of which VAT %s on %s"
	if net {
		change, with, vat = x.Change.Net, "without VAT", "VAT %s on %s"
	}
	sums := []sum{{Name: "Agreed before, " + with, Amount: priced(in(x.Was))}, {Name: "This change, " + with, Amount: priced(change)}}
	for i := range x.VAT {
		r := &x.VAT[i]
		sums = append(sums, sum{Name: fmt.Sprintf(vat, vatWords(r.Treatment, r.Percent), figures(r.Net)), Amount: figures(r.VAT)})
	}
	if net {
		sums = append(sums, sum{Name: "This change, with VAT", Amount: priced(x.Change.Gross)})
	}
	return append(sums, sum{Name: "It all comes to, with VAT", Amount: priced(x.Is.Gross), Strong: true})
}

// Reckoned says by which rule work is done anew, and what of a credit is kept
// back, as on the paper.
func Reckoned(x *job.Variation) []Remark {
	var list []Remark
	for _, r := range (Variation{Variation: x}).reckoned() {
		list = append(list, Remark(r))
	}
	return list
}

// reckoned says by which rule work is done anew, and what is not credited.
func (v Variation) reckoned() []pair {
	x := v.Variation
	var says []pair
	if len(x.Rework) > 0 {
		says = append(says, pair{"Work that is done already", clean(x.Rule.Says())})
	}
	for i := range x.KeptBack {
		k := &x.KeptBack[i]
		var what []string
		if len(k.Hours) > 0 {
			what = append(what, "hours that are worked")
		}
		if len(k.Parts) > 0 {
			what = append(what, "parts that cannot go back")
		}
		if len(k.Visits) > 0 {
			what = append(what, "visits that were made")
		}
		if len(what) == 0 {
			what = []string{"work that is done"}
		}
		text := fmt.Sprintf("Not all of it is credited: %s come to %s", listed(what), priced(k.Worth))
		if k.Credited != nil {
			text += fmt.Sprintf(", and leaving it out takes %s off", priced(*k.Credited))
		}
		says = append(says, pair{clean(k.Name), text + fmt.Sprintf("; %s stays to be paid.", priced(k.Kept))})
	}
	return says
}

// payments are those of the change, and all of the job then.
func (v Variation) payments(l *leaf) {
	x := v.Variation
	l.ChangePayments = nil
	for _, p := range x.Payments {
		l.ChangePayments = append(l.ChangePayments, payment{clean(p.Name), due(p), priced(p.Amount)})
	}
	l.PaymentsTitle = "All payments then, what is paid already among them"
}

// accept is what a signature stands under.
func (v Variation) accept(l *leaf) string {
	says := "I accept this change of what was agreed"
	var by []string
	if digits := firstDigits(v.SHA256); digits != "" {
		by = append(by, "the change by its SHA-256, first digits: "+digits)
	}
	if l.TermsSHA256 != "" {
		says += ", under the terms of sale below"
		by = append(by, "the terms: "+l.TermsSHA256)
	}
	if len(by) > 0 {
		says += " (" + strings.Join(by, "; ") + ")"
	}
	return says + "."
}
