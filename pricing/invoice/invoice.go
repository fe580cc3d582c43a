// Package invoice is the papers by which VAT becomes due and money is owed: the
// deposit invoice for a sum that came in before the work is done, the invoice
// at its end, from which the deposits are deducted, and the credit note that
// takes one back. An invoice is a value and, once numbered, never changes. It
// names people by ids only.
//
// It is a document, not the books: what it does to them is the ledger's.
package invoice

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// Format names the shape of an Invoice.
const Format = "wainscot-invoice/1"

// Invoice is one paper.
type Invoice struct {
	Format string `json:"format"` // Format
	Kind   Kind   `json:"kind"`
	Head
	// Credits is the number of the invoice a credit note takes back, and Reason
	// why, for the customer to read.
	Credits int64  `json:"credits,omitempty"`
	Reason  string `json:"reason,omitempty"`
	// CreditsKind is TakenOn of a credit note on a deposit that was taken on,
	// whose numbers are another series; "" of all others.
	CreditsKind Kind   `json:"credits_kind,omitempty"`
	Lines       []Line `json:"lines"`
	// VAT has one row for every treatment and rate of the lines.
	VAT []pricing.VATRow `json:"vat"`
	// Net + VAT = Gross of the lines.
	Net      money.Amount `json:"net"`
	VATTotal money.Amount `json:"vat_total"`
	Gross    money.Amount `json:"gross"`
	// Deducted are the deposit invoices of the job, and Becomes the VAT that
	// becomes due with this paper: that of the lines less that of those.
	Deducted []Deduction     `json:"deducted,omitempty"`
	Becomes  []ledger.VATSum `json:"becomes_due"`
	// Due is what is still to be paid: Gross less what was deducted; nothing on
	// a deposit invoice, which is for money that is here. Of a credit note it is
	// what the customer is owed.
	Due money.Amount `json:"due"`
}

// Kind of an invoice.
type Kind string

// The kinds; zero is invalid.
const (
	Deposit    Kind = "deposit invoice"
	Final      Kind = "invoice"
	CreditNote Kind = "credit note"
	// TakenOn is a deposit invoice of the books before these: it is deducted and
	// credited like one of ours, and has a number of its own here.
	TakenOn Kind = "deposit taken on"
)

// Words are the kinds there are.
func (Kind) Words() []string {
	return []string{string(Deposit), string(Final), string(CreditNote), string(TakenOn)}
}

// Head is what stands above the lines.
type Head struct {
	// Number of its series, without gaps: deposit invoices and invoices share
	// one, credit notes have one of their own.
	Number   int64  `json:"number"`
	IssuedOn string `json:"issued_on"`
	// TaxPoint is the day on which its VAT becomes due: of a deposit the day it
	// came in (HMRC VATTOS5105); of the work the day of the invoice where that is
	// within 14 days of delivery, else the day of delivery (VATTOS3600).
	TaxPoint string `json:"tax_point"`
	DueOn    string `json:"due_on,omitempty"`
	Job      string `json:"job"` // id
	Quote    int64  `json:"quote,omitempty"`
	// Customer is the id of who is billed; "" where nobody was written down: a
	// retailer writes a full invoice for who asks for one (VAT Notice 700,
	// section 16, from memory).
	Customer string         `json:"customer"`
	Currency money.Currency `json:"currency"`
	Basis    pricing.Basis  `json:"basis"`
	// Letterhead of the workshop as it was that day.
	Letterhead quote.Letterhead `json:"letterhead"`
	Reference  string           `json:"reference,omitempty"` // to pay under
}

// Line is one thing that is charged, or taken back.
type Line struct {
	Words     string              `json:"words"`
	Quantity  int                 `json:"quantity"`
	UnitPrice money.UnitPrice     `json:"unit_price"` // on the basis
	Amount    money.Amount        `json:"amount"`     // likewise
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	Net       money.Amount        `json:"net"`
	VAT       money.Amount        `json:"vat"`
}

// Deduction is a deposit invoice that is deducted, or a credit note of one.
type Deduction struct {
	Kind     Kind            `json:"kind"`
	Number   int64           `json:"number"`
	TaxPoint string          `json:"tax_point"`
	Gross    money.Amount    `json:"gross"`
	VAT      []ledger.VATSum `json:"vat"`
}

// NewDeposit is the invoice for a sum that came in for a job. It is parted among
// the treatments and rates of the job in their proportion.
func NewDeposit(h Head, words string, sum money.Amount, shares []ledger.Share) (*Invoice, error) {
	vat, err := ledger.VATIn(sum, shares)
	if err != nil {
		return nil, err
	}
	i := &Invoice{Format: Format, Kind: Deposit, Head: h, Becomes: vat, Due: money.Zero(h.Currency)}
	for _, v := range vat {
		if err := i.line(words, v); err != nil {
			return nil, err
		}
	}
	return i, i.total(nil)
}

// NewTakenOn is a deposit invoice of the books before these: a sum that came in
// for a job on the day of its tax point, and the VAT that was declared on it.
func NewTakenOn(h Head, words string, vat []ledger.VATSum) (*Invoice, error) {
	i := &Invoice{Format: Format, Kind: TakenOn, Head: h, Becomes: vat, Due: money.Zero(h.Currency)}
	for _, v := range vat {
		if err := i.line(words, v); err != nil {
			return nil, err
		}
	}
	return i, i.total(nil)
}

// TakesBack says whether it is a credit note of an invoice.
func (i *Invoice) TakesBack(of *Invoice) bool {
	return i.Kind == CreditNote && i.Credits == of.Number && (i.CreditsKind == TakenOn) == (of.Kind == TakenOn)
}

// line adds a line of one thing that comes to a VATSum.
func (i *Invoice) line(words string, v ledger.VATSum) error {
	amount, err := v.Net.Add(v.VAT)
	if err != nil {
		return err
	}
	if i.Basis == pricing.Net {
		amount = v.Net
	}
	unit, err := money.NewUnitPrice(amount.Decimal(), i.Currency)
	if err != nil {
		return err
	}
	i.Lines = append(i.Lines, Line{Words: words, Quantity: 1, UnitPrice: unit, Amount: amount, Treatment: v.Treatment, Percent: v.Percent, Net: v.Net, VAT: v.VAT})
	return nil
}

// NewFinal is the invoice at the end of a job: all of what was agreed, less its
// deposit invoices, and credit notes of those the other way.
func NewFinal(h Head, agreed *pricing.Priced, deposits []*Invoice) (*Invoice, error) {
	i := &Invoice{Format: Format, Kind: Final, Head: h}
	i.Basis, i.Currency = agreed.Basis, agreed.Currency
	for _, l := range agreed.Lines {
		i.Lines = append(i.Lines, Line{Words: l.Words, Quantity: l.Quantity, UnitPrice: l.UnitPrice, Amount: l.Amount,
			Treatment: l.Treatment, Percent: l.Percent, Net: l.Net, VAT: l.VAT})
	}
	if err := i.total(agreed.VAT); err != nil {
		return nil, err
	}
	paid := money.Zero(i.Currency)
	left := sums(i.VAT)
	for _, d := range deposits {
		gross := d.Gross
		if d.Kind == CreditNote {
			gross = gross.Neg()
		}
		var err error
		if paid, err = paid.Add(gross); err != nil {
			return nil, err
		}
		i.Deducted = append(i.Deducted, Deduction{Kind: d.Kind, Number: d.Number, TaxPoint: d.TaxPoint, Gross: gross, VAT: d.Becomes})
		if left, err = without(left, d.Becomes); err != nil {
			return nil, err
		}
	}
	var err error
	i.Becomes = left
	i.Due, err = i.Gross.Sub(paid)
	return i, err
}

// NewCreditNote takes an invoice back, or sums of it. Faults are what of it was
// never charged, or was taken back before.
func NewCreditNote(h Head, of *Invoice, earlier []*Invoice, back []ledger.VATSum, reason string) (*Invoice, document.Faults, error) {
	left, err := without(sums(of.VAT), nil)
	if err != nil {
		return nil, nil, err
	}
	for _, e := range earlier {
		if left, err = without(left, sums(e.VAT)); err != nil {
			return nil, nil, err
		}
	}
	i := &Invoice{Format: Format, Kind: CreditNote, Head: h, Credits: of.Number, Reason: reason}
	i.Basis, i.Currency = of.Basis, of.Currency
	if of.Kind == TakenOn {
		i.CreditsKind = TakenOn
	}
	var faults document.Faults
	for k, b := range back {
		at := slices.IndexFunc(left, func(s ledger.VATSum) bool { return sameVAT(s, b) })
		if b.Net.Sign() < 0 || b.VAT.Sign() < 0 || at < 0 || b.Net.Minor() > left[at].Net.Minor() || b.VAT.Minor() > left[at].VAT.Minor() {
			faults = append(faults, document.Fault{Code: "more_than_there_is", At: document.Join("back", k+1), Reason: "So much was not charged on that invoice, or was taken back before.", Remedy: "Take back what is left of it."})
			continue
		}
		if err := i.line(reason, b); err != nil {
			return nil, nil, err
		}
		if left, err = without(left, []ledger.VATSum{b}); err != nil {
			return nil, nil, err
		}
	}
	if len(faults) > 0 {
		return nil, faults, nil
	}
	if err := i.total(nil); err != nil {
		return nil, nil, err
	}
	i.Due = i.Gross
	none := []ledger.VATSum{}
	i.Becomes, err = without(none, sums(i.VAT))
	return i, nil, err
}

// total works the rows and totals out from the lines. rows say in which order
// treatments stand, and what goes with them; nil takes that of the lines.
func (i *Invoice) total(rows []pricing.VATRow) error {
	i.VAT = []pricing.VATRow{}
	for _, r := range rows {
		i.VAT = append(i.VAT, pricing.VATRow{Treatment: r.Treatment, Percent: r.Percent, Net: money.Zero(i.Currency), VAT: money.Zero(i.Currency), Gross: money.Zero(i.Currency), Says: r.Says, Evidence: r.Evidence})
	}
	for _, l := range i.Lines {
		at := slices.IndexFunc(i.VAT, func(r pricing.VATRow) bool { return r.Treatment == l.Treatment && r.Percent.Equal(l.Percent) })
		if at < 0 {
			at = len(i.VAT)
			i.VAT = append(i.VAT, pricing.VATRow{Treatment: l.Treatment, Percent: l.Percent, Net: money.Zero(i.Currency), VAT: money.Zero(i.Currency), Gross: money.Zero(i.Currency)})
		}
		r := &i.VAT[at]
		var err, err2, err3 error
		r.Net, err = r.Net.Add(l.Net)
		r.VAT, err2 = r.VAT.Add(l.VAT)
		r.Gross, err3 = money.Sum(i.Currency, r.Gross, l.Net, l.VAT)
		if err := errors.Join(err, err2, err3); err != nil {
			return err
		}
	}
	i.Net, i.VATTotal, i.Gross = money.Zero(i.Currency), money.Zero(i.Currency), money.Zero(i.Currency)
	for _, r := range i.VAT {
		var err, err2, err3 error
		i.Net, err = i.Net.Add(r.Net)
		i.VATTotal, err2 = i.VATTotal.Add(r.VAT)
		i.Gross, err3 = i.Gross.Add(r.Gross)
		if err := errors.Join(err, err2, err3); err != nil {
			return err
		}
	}
	return nil
}

func sums(rows []pricing.VATRow) []ledger.VATSum {
	list := make([]ledger.VATSum, len(rows))
	for i, r := range rows {
		list[i] = ledger.VATSum{Treatment: r.Treatment, Percent: r.Percent, Net: r.Net, VAT: r.VAT}
	}
	return list
}

func sameVAT(a, b ledger.VATSum) bool {
	return a.Treatment == b.Treatment && a.Percent.Equal(b.Percent)
}

// without takes sums off others; what is taken off nothing is left below it.
func without(from, take []ledger.VATSum) ([]ledger.VATSum, error) {
	list := slices.Clone(from)
	for _, t := range take {
		at := slices.IndexFunc(list, func(s ledger.VATSum) bool { return sameVAT(s, t) })
		if at < 0 {
			list = append(list, ledger.VATSum{Treatment: t.Treatment, Percent: t.Percent, Net: t.Net.Neg(), VAT: t.VAT.Neg()})
			continue
		}
		var err, err2 error
		list[at].Net, err = list[at].Net.Sub(t.Net)
		list[at].VAT, err2 = list[at].VAT.Sub(t.VAT)
		if err := errors.Join(err, err2); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// Check finds what an invoice lacks before it may be numbered: what has to stand
// on one (VAT Regulations 1995, regulation 14), and that it adds up (EN 16931,
// BR-CO-10 and BR-CO-13 to BR-CO-16).
func (i *Invoice) Check() document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	for _, d := range []struct{ at, day string }{{"issued_on", i.IssuedOn}, {"tax_point", i.TaxPoint}} {
		if !calendar.Valid(d.day) {
			fault("day", d.at, fmt.Sprintf("%q is not a day.", d.day), "Write it as year, month and day: 2027-01-11.")
		}
	}
	if i.TaxPoint > i.IssuedOn {
		fault("day", "tax_point", "The VAT would become due after the invoice.", "Give the day of the invoice or one before it.")
	}
	if i.DueOn != "" && (!calendar.Valid(i.DueOn) || i.DueOn < i.IssuedOn) {
		fault("day", "due_on", "It would be due before it is written.", "Give the day of the invoice or a later one.")
	}
	for _, f := range []struct{ at, is, what string }{
		{"job", i.Job, "for which job it is"},
		{"letterhead/name", i.Letterhead.Name, "whose it is"},
	} {
		if f.is == "" {
			fault("missing", f.at, "Nothing says "+f.what+".", "Name it.")
		}
	}
	if !i.VATTotal.IsZero() && i.Letterhead.VATNumber == "" {
		fault("missing", "letterhead/vat_number", "An invoice that charges VAT shows the workshop's VAT number.", "Set it in the letterhead.")
	}
	if len(i.Lines) == 0 {
		fault("missing", "lines", "Nothing is charged.", "Leave the invoice.")
	}
	if i.Kind == CreditNote && (i.Credits < 1 || i.Reason == "") {
		fault("missing", "reason", "A credit note says of which invoice it is, and why.", "Name both.")
	}
	again := *i
	if err := again.total(i.VAT); err != nil || again.Net != i.Net || again.VATTotal != i.VATTotal || again.Gross != i.Gross ||
		i.Net.Minor()+i.VATTotal.Minor() != i.Gross.Minor() {
		fault("does_not_add_up", "gross", "The lines do not come to the totals.", "Make it anew.")
	}
	paid := int64(0)
	for _, d := range i.Deducted {
		paid += d.Gross.Minor()
	}
	if i.Kind == Final && i.Due.Minor() != i.Gross.Minor()-paid {
		fault("does_not_add_up", "due", "What is due is not the total less what was deducted.", "Make it anew.")
	}
	return faults.Limit()
}

// Shares are what a job is parted into by treatment and rate, for its deposits.
func Shares(agreed *pricing.Priced) []ledger.Share {
	list := make([]ledger.Share, len(agreed.VAT))
	for i, r := range agreed.VAT {
		list[i] = ledger.Share{Treatment: r.Treatment, Percent: r.Percent, Gross: r.Gross}
	}
	return list
}

// Rows are the invoice's VAT by treatment and rate, all of its lines.
func (i *Invoice) Rows() []ledger.VATSum { return sums(i.VAT) }

// Encode writes an invoice as it is kept: the same gives the same bytes.
func (i *Invoice) Encode() ([]byte, error) { return json.Marshal(i) }

// Decode reads an invoice as it is kept.
func Decode(text []byte) (*Invoice, error) {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	var i Invoice
	if err := in.Decode(&i); err != nil {
		return nil, fmt.Errorf("invoice: %w", err)
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) || i.Format != Format {
		return nil, fmt.Errorf("invoice: the format %q is not %q, or more follows", i.Format, Format)
	}
	return &i, nil
}
