// Package purchase is what suppliers charge: an invoice held against the order
// it is for and what was delivered of it, accepted whole, in part or refused,
// and the credit note that puts right what was charged too much.
//
// It stands between the order, which knows no VAT and no books, and the ledger,
// which knows no orders. An Invoice is a value and says what stands on the
// paper; what becomes of it is a function that gives another. Suppliers are
// known by their codes.
package purchase

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Format names the shape of an Invoice.
const Format = "wainscot-supplier-invoice/1"

// Invoice is a paper of a supplier. Amounts of a credit note are above nothing,
// as they stand on it.
type Invoice struct {
	Format string `json:"format"`
	Kind   Kind   `json:"kind"`
	// Number is the supplier's own.
	Number   string `json:"number"`
	Supplier string `json:"supplier"` // code
	Name     string `json:"name"`     // of the supplier
	IssuedOn string `json:"issued_on"`
	// TaxPoint is the day on which its VAT can be taken off.
	TaxPoint string         `json:"tax_point"`
	DueOn    string         `json:"due_on"`
	Currency money.Currency `json:"currency"`
	// Order it is for; "" for what is not ordered here, as rent.
	Order string `json:"order,omitempty"` // id
	// Credits is the invoice that a credit note takes back, or part of it.
	Credits string          `json:"credits,omitempty"` // id
	Lines   []Line          `json:"lines"`
	VAT     []ledger.VATSum `json:"vat"`   // as printed, by treatment and rate
	Gross   money.Amount    `json:"gross"` // as printed, to be paid
	// OwnVAT says that the workshop accounts for the VAT itself: the paper shows
	// none, and its rows have the rate there would be here. "" where the supplier
	// charges it.
	OwnVAT OwnVAT `json:"own_vat,omitempty"`

	State State `json:"state"`
	// Match is what was found when it was decided on.
	Match *Match `json:"match,omitempty"`
	// Accepted is what of it is owed, Disputed what is not.
	Accepted  []ledger.VATSum `json:"accepted,omitempty"`
	Disputed  []ledger.VATSum `json:"disputed,omitempty"`
	DecidedOn string          `json:"decided_on,omitempty"`
}

// OwnVAT is why a workshop accounts for VAT itself.
type OwnVAT string

// The reasons.
const (
	ServiceFromAbroad OwnVAT = "service from abroad" // reverse charge
	Import            OwnVAT = "import"              // postponed to the return
)

// Words are the reasons there are.
func (OwnVAT) Words() []string { return []string{string(ServiceFromAbroad), string(Import)} }

// Kind of a paper.
type Kind string

// The kinds; zero is invalid.
const (
	Charge     Kind = "invoice"
	CreditNote Kind = "credit note"
)

// Words are the kinds there are.
func (Kind) Words() []string { return []string{string(Charge), string(CreditNote)} }

// State of a paper.
type State string

// The states; zero is invalid.
const (
	Entered        State = "entered" // and not decided on
	Accepted       State = "accepted"
	AcceptedInPart State = "accepted in part"
	Refused        State = "refused"
)

// Words are the states there are.
func (State) Words() []string {
	return []string{string(Entered), string(Accepted), string(AcceptedInPart), string(Refused)}
}

// Line is one thing charged, without VAT.
type Line struct {
	Kind LineKind `json:"kind"`
	// Line of the order, from 1; 0 for none. On a credit note it is of what is
	// taken back.
	Line      int                 `json:"line,omitempty"`
	Words     string              `json:"words"`
	Quantity  decimal.Decimal     `json:"quantity"`
	UnitPrice money.UnitPrice     `json:"unit_price"`
	Amount    money.Amount        `json:"amount"` // as printed
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
}

// LineKind says what a line is for.
type LineKind string

// The kinds; zero is invalid.
const (
	Goods    LineKind = "goods" // parts or outside work
	Carriage LineKind = "carriage"
	Other    LineKind = "other" // a surcharge, rent, a price put right
)

// Words are the kinds there are.
func (LineKind) Words() []string { return []string{string(Goods), string(Carriage), string(Other)} }

// Limits of an invoice; more is refused.
const (
	MaxLines = 500
	MaxRows  = 20 // of VAT
	// MaxQuantity of one line is less than this.
	MaxQuantity = 1_000_000
)

// New takes in a paper as it is printed, or says what is wrong with how it was
// read: whether it is right is for Hold to say.
func New(i Invoice) (Invoice, document.Faults) {
	i.Format, i.State, i.Match, i.Accepted, i.Disputed, i.DecidedOn = Format, Entered, nil, nil, nil, ""
	i.Number = strings.TrimSpace(i.Number)
	r := reading{i: &i}
	r.head()
	r.lines()
	if len(r.faults.Faults()) == 0 {
		r.sums()
	}
	return i, r.faults.Faults()
}

type reading struct {
	i      *Invoice
	faults document.Collector
}

func (r *reading) fault(code, at, reason, remedy string) {
	r.faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func (r *reading) head() {
	i := r.i
	if i.Number == "" || i.Supplier == "" {
		r.fault("missing", "number", "An invoice says whose it is and has a number.", "Write the supplier and the number as printed.")
	}
	for _, d := range []struct{ at, day string }{{"issued_on", i.IssuedOn}, {"tax_point", i.TaxPoint}, {"due_on", i.DueOn}} {
		if !calendar.Valid(d.day) {
			r.fault("day", d.at, fmt.Sprintf("%q is not a day.", d.day), "Write it as year, month and day: 2027-01-11.")
		}
	}
	if !slices.Contains(Charge.Words(), string(i.Kind)) {
		r.fault("unknown_word", "kind", fmt.Sprintf("%q is no kind of paper.", i.Kind), "Use one of those there are.")
	}
	if i.OwnVAT != "" && !slices.Contains(i.OwnVAT.Words(), string(i.OwnVAT)) {
		r.fault("unknown_word", "own_vat", fmt.Sprintf("%q is no reason to account for VAT.", i.OwnVAT), "Use one of those there are, or leave it out.")
	}
	if i.Kind != CreditNote && i.Credits != "" {
		r.fault("contradiction", "credits", "Only a credit note takes an invoice back.", "Leave it out.")
	}
	if n := len(i.Lines); n == 0 || n > MaxLines || len(i.VAT) == 0 || len(i.VAT) > MaxRows {
		r.fault("number_of_lines", "lines", fmt.Sprintf("%d lines and %d rows of VAT.", n, len(i.VAT)), fmt.Sprintf("Give 1 to %d lines, 1 to %d rows.", MaxLines, MaxRows))
	}
}

func (r *reading) lines() {
	for n := range r.i.Lines[:min(len(r.i.Lines), MaxLines)] {
		l, at := &r.i.Lines[n], document.Join("lines", n+1)
		switch {
		case !slices.Contains(Goods.Words(), string(l.Kind)):
			r.fault("unknown_word", at+"/kind", fmt.Sprintf("%q is no kind of line.", l.Kind), "Use one of those there are.")
		case l.Line < 0 || l.Line > 0 && (l.Kind != Goods || r.i.Order == ""):
			r.fault("contradiction", at+"/line", "Only goods of an order are of one of its lines.", "Name the order, or leave the line out.")
		}
		if !usable(l.Quantity) {
			r.fault("quantity", at+"/quantity", "It is not so much of anything.", fmt.Sprintf("Write more than 0 and less than %d, with at most six decimals.", MaxQuantity))
		}
		if l.Amount.Currency() != r.i.Currency || l.UnitPrice.Currency() != r.i.Currency {
			r.fault("currency", at+"/amount", "It is in another currency than the invoice.", "Write it in the invoice's.")
		}
		r.vat(at, l.Treatment, l.Percent)
	}
	for n := range r.i.VAT[:min(len(r.i.VAT), MaxRows)] {
		v, at := &r.i.VAT[n], document.Join("vat", n+1)
		if v.Net.Currency() != r.i.Currency || v.VAT.Currency() != r.i.Currency {
			r.fault("currency", at+"/net", "It is in another currency than the invoice.", "Write it in the invoice's.")
		}
		r.vat(at, v.Treatment, v.Percent)
		if v.Percent.IsZero() && !v.VAT.IsZero() {
			r.fault("vat", at+"/vat", "There is no VAT at no rate.", "Write the rate it is at.")
		}
		if r.i.OwnVAT != "" && !v.VAT.IsZero() {
			r.fault("vat", at+"/vat", "Where the workshop accounts for the VAT, the supplier charges none.", "Write 0, or leave own_vat out.")
		}
		if slices.ContainsFunc(r.i.VAT[:n], func(o ledger.VATSum) bool { return same(o, *v) }) {
			r.fault("twice", at, "There are two rows of one treatment and rate.", "Make one of them.")
		}
	}
	if r.i.Gross.Currency() != r.i.Currency || r.i.Gross.Sign() <= 0 {
		r.fault("amount", "gross", "It comes to nothing, or is in another currency.", "Write what is to be paid in the invoice's currency.")
	}
}

func (r *reading) vat(at string, t pricebook.Treatment, percent decimal.Decimal) {
	if !slices.Contains(t.Words(), string(t)) {
		r.fault("unknown_word", at+"/treatment", fmt.Sprintf("%q is no treatment.", t), "Use one of those there are.")
	}
	taxed := t == pricebook.Standard || t == pricebook.Reduced
	if percent.Sign() < 0 || percent.Exponent() < -6 || percent.Exponent() > 3 || percent.GreaterThanOrEqual(decimal.New(100, 0)) || taxed != (percent.Sign() > 0) {
		r.fault("vat", at+"/vat_percent", fmt.Sprintf("%s is no rate of %s VAT.", percent, t), "Standard and reduced have a rate from above 0 to below 100, the others none.")
	}
}

// sums holds the lines against the rows, and those against what is to be paid.
func (r *reading) sums() {
	left := map[string]int64{}
	key := func(t pricebook.Treatment, p decimal.Decimal) string { return string(t) + " " + p.String() }
	paid := int64(0)
	for _, v := range r.i.VAT {
		left[key(v.Treatment, v.Percent)] += v.Net.Minor()
		paid += v.Net.Minor() + v.VAT.Minor()
	}
	for _, l := range r.i.Lines {
		left[key(l.Treatment, l.Percent)] -= l.Amount.Minor()
	}
	for n := range r.i.VAT {
		v := &r.i.VAT[n]
		if left[key(v.Treatment, v.Percent)] != 0 {
			r.fault("does_not_add_up", document.Join("vat", n+1)+"/net", "The lines of this treatment and rate do not come to it.", "Write both as they are printed; a paper that does not add up is sent back.")
		}
		delete(left, key(v.Treatment, v.Percent))
	}
	for n := range r.i.Lines {
		if l := &r.i.Lines[n]; left[key(l.Treatment, l.Percent)] != 0 {
			r.fault("does_not_add_up", document.Join("lines", n+1)+"/vat_percent", "No row of VAT is of this treatment and rate.", "Write a row for it, as it is printed.")
		}
	}
	if paid != r.i.Gross.Minor() {
		r.fault("does_not_add_up", "gross", "The rows of VAT do not come to what is to be paid.", "Write both as they are printed; a paper that does not add up is sent back.")
	}
}

// usable says whether a quantity is one: above nothing, no finer than a
// millionth, and of a size that means anything.
func usable(q decimal.Decimal) bool {
	return q.Exponent() >= -1000 && q.Exponent() <= 6 && q.Sign() > 0 && q.LessThan(decimal.New(MaxQuantity, 0)) && q.Equal(q.Truncate(6))
}

// same says whether two sums are of one treatment and rate.
func same(a, b ledger.VATSum) bool { return a.Treatment == b.Treatment && a.Percent.Equal(b.Percent) }

// Encode writes an invoice as it is kept: the same gives the same bytes.
func (i *Invoice) Encode() ([]byte, error) { return json.Marshal(i) }

// Decode reads an invoice as it is kept.
func Decode(text []byte) (*Invoice, error) {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	var i Invoice
	if err := in.Decode(&i); err != nil {
		return nil, fmt.Errorf("supplier's invoice: %w", err)
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) || i.Format != Format {
		return nil, fmt.Errorf("supplier's invoice: the format %q is not %q, or more follows", i.Format, Format)
	}
	return &i, nil
}
