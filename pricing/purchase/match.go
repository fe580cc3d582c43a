package purchase

import (
	"errors"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
)

// Tolerance is what a price, or carriage, may be more than agreed before a
// credit is asked for: no more than Percent of what it should come to, and no
// more than Most. The zero Tolerance lets nothing pass. A quantity that is not
// here is never let pass.
type Tolerance struct {
	Percent decimal.Decimal
	// Most without VAT, in the invoice's currency; nil is no bound besides.
	Most *money.Amount
}

func (t Tolerance) lets(over, should money.Amount) bool {
	most := should.Decimal().Mul(t.Percent).Shift(-2)
	return over.Decimal().LessThanOrEqual(most) && (t.Most == nil || over.Minor() <= t.Most.Minor())
}

// Match is an invoice held against its order.
type Match struct {
	Lines []LineMatch `json:"lines"`
	// Differences of the paper as a whole: carriage, VAT.
	Differences []Difference `json:"differences,omitempty"`
	// Credit is what was charged too much, by treatment and rate.
	Credit []ledger.VATSum `json:"credit,omitempty"`
}

// LineMatch is one line of an invoice held against the order.
type LineMatch struct {
	Line int `json:"line,omitempty"` // of the order
	// Ordered, Delivered and invoiced Before of that line; of a line that is of
	// none they are nothing.
	Ordered   decimal.Decimal `json:"ordered"`
	Delivered decimal.Decimal `json:"delivered"`
	Before    decimal.Decimal `json:"before"`
	Invoiced  decimal.Decimal `json:"invoiced"`
	// Owed is what of the quantity is here and was not invoiced before.
	Owed        decimal.Decimal `json:"owed"`
	Differences []Difference    `json:"differences,omitempty"`
	// Credit that is due of it, without VAT.
	Credit money.Amount `json:"credit"`
}

// Difference is something that was charged otherwise than it was agreed.
type Difference struct {
	What     What   `json:"what"`
	Expected string `json:"expected"`
	Charged  string `json:"charged"`
	// Credit that is due because of it, without VAT, of VAT the VAT. Nothing
	// where it is in the workshop's favour, or let pass.
	Credit money.Amount `json:"credit"`
	// LetPass by the tolerance.
	LetPass bool   `json:"let_pass,omitempty"`
	Reason  string `json:"reason"`
}

// What is different.
type What string

// What can be; zero is invalid.
const (
	NotOrdered    What = "not ordered"
	NotHere       What = "not delivered"
	MoreThan      What = "more than ordered" // and it is here
	Price         What = "price"
	OtherSum      What = "sum" // quantity × price is another
	OtherCarriage What = "carriage"
	OtherVAT      What = "VAT"
)

// Words are all there are.
func (What) Words() []string {
	return []string{string(NotOrdered), string(NotHere), string(MoreThan), string(Price), string(OtherSum), string(OtherCarriage), string(OtherVAT)}
}

// Clean says whether there is nothing to be credited.
func (m *Match) Clean() bool { return len(m.Credit) == 0 }

// Hold holds an invoice against its order and what was delivered of it, with
// the papers of the order that were decided on before. o is nil for one that is
// for no order. A credit note is held against nothing but its own VAT. Faults
// are why it cannot be held against it at all.
func Hold(i *Invoice, o *order.Order, before []*Invoice, t Tolerance) (Match, document.Faults, error) {
	h := holding{i: i, o: o, t: t, credit: make([]int64, len(i.VAT)), carriage: money.Zero(i.Currency)}
	if faults := h.fits(); len(faults) > 0 {
		return Match{}, faults, nil
	}
	if o != nil {
		h.invoiced = make([]decimal.Decimal, len(o.Lines))
		if err := h.earlier(before); err != nil {
			return Match{}, nil, err
		}
	}
	for n := range i.Lines {
		if err := h.line(&i.Lines[n]); err != nil {
			return Match{}, nil, err
		}
	}
	if o != nil && i.Kind == Charge {
		if err := h.freight(); err != nil {
			return Match{}, nil, err
		}
	}
	return h.m, nil, h.sums()
}

type holding struct {
	i        *Invoice
	o        *order.Order
	t        Tolerance
	invoiced []decimal.Decimal // of each line of the order so far
	carriage money.Amount      // charged before
	credit   []int64           // without VAT, of each row
	m        Match
}

func (h *holding) fits() document.Faults {
	if h.o == nil {
		return nil
	}
	var faults document.Collector
	fault := func(code, at, reason, remedy string) {
		faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if h.o.Supplier != h.i.Supplier {
		fault("contradiction", "order", fmt.Sprintf("The order is to %q, the invoice of %q.", h.o.Supplier, h.i.Supplier), "Name the order it is for.")
	}
	if h.o.Goods == nil {
		fault("state", "order", fmt.Sprintf("The order is %s: no price was agreed.", h.o.State), "Place it first, or enter the invoice for no order.")
	} else if h.o.Goods.Currency() != h.i.Currency {
		fault("currency", "currency", fmt.Sprintf("The order is in %s.", h.o.Goods.Currency()), "Enter an invoice in the order's currency.")
	}
	for n := range h.i.Lines {
		if l := h.i.Lines[n].Line; l > len(h.o.Lines) {
			fault("unknown_line", document.Join("lines", n+1)+"/line", fmt.Sprintf("The order has no line %d.", l), fmt.Sprintf("Name one from 1 to %d.", len(h.o.Lines)))
		}
	}
	return faults.Faults()
}

// earlier sums up what was accepted of the order before. Of a paper accepted in
// part what was owed counts; a credit note takes back.
func (h *holding) earlier(before []*Invoice) error {
	for _, b := range before {
		if b.State != Accepted && b.State != AcceptedInPart {
			continue
		}
		for n := range b.Lines {
			l := &b.Lines[n]
			quantity := l.Quantity
			if b.Kind == CreditNote {
				quantity = quantity.Neg()
			} else if b.State == AcceptedInPart && b.Match != nil && n < len(b.Match.Lines) {
				quantity = b.Match.Lines[n].Owed
			}
			if l.Line > 0 && l.Line <= len(h.invoiced) {
				h.invoiced[l.Line-1] = decimal.Max(decimal.Zero, h.invoiced[l.Line-1].Add(quantity))
			}
			if l.Kind != Carriage {
				continue
			}
			amount := l.Amount
			if b.Kind == CreditNote {
				amount = amount.Neg()
			}
			var err error
			if h.carriage, err = h.carriage.Add(amount); err != nil {
				return err
			}
		}
		if b.State == AcceptedInPart && b.Match != nil {
			for _, d := range b.Match.Differences {
				if d.What != OtherCarriage {
					continue
				}
				var err error
				if h.carriage, err = h.carriage.Sub(d.Credit); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (h *holding) line(l *Line) error {
	zero := money.Zero(h.i.Currency)
	m := LineMatch{Line: l.Line, Invoiced: l.Quantity, Owed: l.Quantity, Credit: zero}
	should, err := money.Times(l.Quantity, l.UnitPrice.Decimal(), h.i.Currency, money.HalfUp)
	if err != nil {
		return err
	}
	switch {
	case h.i.Kind == CreditNote || l.Kind == Carriage || h.o == nil || l.Line == 0 && l.Amount.Sign() <= 0: // by nothing but its own arithmetic
	case l.Line == 0:
		m.Owed, should = decimal.Zero, zero
		m.Differences = append(m.Differences, Difference{What: NotOrdered, Expected: "0", Charged: l.Quantity.String(), Credit: l.Amount,
			Reason: fmt.Sprintf("%q is not on the order.", l.Words)})
	default:
		if should, err = h.ordered(l, &m); err != nil {
			return err
		}
	}
	over, err := l.Amount.Sub(should)
	if err != nil {
		return err
	}
	told := int64(0)
	for _, d := range m.Differences {
		told += d.Credit.Minor()
	}
	// A penny either way is rounding; what is more than that, and no quantity or
	// price explains, is arithmetic.
	if rest := over.Minor() - told; rest > 1 || rest < -1 {
		credit, err := zero.WithMinor(max(rest, 0))
		if err != nil {
			return err
		}
		m.Differences = append(m.Differences, Difference{What: OtherSum, Expected: should.Fixed(), Charged: l.Amount.Fixed(), Credit: credit,
			Reason: "Quantity times price does not come to the amount."})
		told += credit.Minor()
	}
	// No penny of rounding by itself, and no more than was charged.
	if told > 0 {
		if m.Credit, err = zero.WithMinor(min(max(over.Minor(), 0), max(l.Amount.Minor(), 0))); err != nil {
			return err
		}
	}
	if at := h.row(l); at >= 0 {
		h.credit[at] += m.Credit.Minor()
	}
	h.m.Lines = append(h.m.Lines, m)
	return nil
}

// ordered holds a line against the order's, and gives what it should come to.
func (h *holding) ordered(l *Line, m *LineMatch) (money.Amount, error) {
	o, before := &h.o.Lines[l.Line-1], h.invoiced[l.Line-1]
	m.Ordered, m.Delivered, m.Before = o.Quantity, o.Delivered, before
	m.Owed = decimal.Min(l.Quantity, decimal.Max(decimal.Zero, o.Delivered.Sub(before)))
	h.invoiced[l.Line-1] = before.Add(l.Quantity)
	c := h.i.Currency
	charged, err := money.Times(m.Owed, l.UnitPrice.Decimal(), c, money.HalfUp)
	agreed, err2 := money.Times(m.Owed, o.UnitPrice.Decimal(), c, money.HalfUp)
	if err := errors.Join(err, err2); err != nil {
		return charged, err
	}
	if missing := l.Quantity.Sub(m.Owed); missing.Sign() > 0 {
		credit, err := money.Times(missing, l.UnitPrice.Decimal(), c, money.HalfUp)
		if err != nil {
			return charged, err
		}
		m.Differences = append(m.Differences, Difference{What: NotHere, Expected: m.Owed.String(), Charged: l.Quantity.String(), Credit: credit,
			Reason: fmt.Sprintf("%s were delivered of %s ordered, and %s were invoiced before.", o.Delivered, o.Quantity, before)})
	}
	if before.Add(m.Owed).GreaterThan(o.Quantity) {
		m.Differences = append(m.Differences, Difference{What: MoreThan, Expected: o.Quantity.String(), Charged: before.Add(m.Owed).String(), Credit: money.Zero(c),
			Reason: "More came than was ordered: keep it and pay, or send it back for a credit."})
	}
	if l.UnitPrice.Equal(*o.UnitPrice) {
		return charged, nil
	}
	d := Difference{What: Price, Expected: o.UnitPrice.Fixed(), Charged: l.UnitPrice.Fixed(), Credit: money.Zero(c), Reason: "The price is another than the order's."}
	over, err := charged.Sub(agreed)
	if err != nil {
		return charged, err
	}
	should := charged
	switch {
	case over.Sign() <= 0:
	case h.t.lets(over, agreed):
		d.LetPass = true
	default:
		d.Credit, should = over, agreed
	}
	m.Differences = append(m.Differences, d)
	return should, nil
}

// freight holds carriage against the order's, over all its invoices.
func (h *holding) freight() error {
	expected, charged := money.Zero(h.i.Currency), money.Zero(h.i.Currency)
	if h.o.Carriage != nil {
		expected = *h.o.Carriage
	}
	first := -1
	for n := range h.i.Lines {
		l := &h.i.Lines[n]
		if l.Kind != Carriage {
			continue
		}
		if first < 0 {
			first = n
		}
		var err error
		if charged, err = charged.Add(l.Amount); err != nil {
			return err
		}
	}
	left, err := expected.Sub(h.carriage)
	if err != nil {
		return err
	}
	left, err = left.WithMinor(max(left.Minor(), 0))
	if err != nil || first < 0 || charged.Minor() <= left.Minor() {
		return err
	}
	over, err := charged.Sub(left)
	if err != nil {
		return err
	}
	d := Difference{What: OtherCarriage, Expected: left.Fixed(), Charged: charged.Fixed(), Credit: over, LetPass: h.t.lets(over, left),
		Reason: fmt.Sprintf("The order was placed with carriage of %s, and %s was charged before.", expected.Fixed(), h.carriage.Fixed())}
	if d.LetPass {
		d.Credit = money.Zero(h.i.Currency)
	}
	if at := h.row(&h.i.Lines[first]); at >= 0 {
		h.credit[at] += d.Credit.Minor()
	}
	h.m.Differences = append(h.m.Differences, d)
	return nil
}

// row is the row of VAT a line is in.
func (h *holding) row(l *Line) int {
	return slices.IndexFunc(h.i.VAT, func(v ledger.VATSum) bool { return v.Treatment == l.Treatment && v.Percent.Equal(l.Percent) })
}

// sums works the VAT out, of the paper and of what is to be credited.
func (h *holding) sums() error {
	for n := range h.i.VAT {
		v := &h.i.VAT[n]
		right, err := money.OnNet(v.Net, v.Percent, money.HalfUp)
		if err != nil {
			return err
		}
		if h.i.OwnVAT != "" {
			right = money.Zero(h.i.Currency)
		}
		lines := int64(0) // each of them may have been rounded by itself
		for k := range h.i.Lines {
			if h.row(&h.i.Lines[k]) == n {
				lines++
			}
		}
		tax := v.VAT.Minor()
		if over := tax - right.Minor(); over > lines || over < -lines {
			credit, err := right.WithMinor(max(over, 0))
			if err != nil {
				return err
			}
			h.m.Differences = append(h.m.Differences, Difference{What: OtherVAT, Expected: right.Fixed(), Charged: v.VAT.Fixed(), Credit: credit,
				Reason: fmt.Sprintf("%s %% of %s is %s.", v.Percent, v.Net.Fixed(), right.Fixed())})
			if over > 0 {
				tax = right.Minor()
			}
		}
		if err := h.back(v, h.credit[n], tax); err != nil {
			return err
		}
	}
	return nil
}

// back adds what is to be credited of a row: net, and with it its part of the
// VAT, and all VAT beyond what is right.
func (h *holding) back(v *ledger.VATSum, net, tax int64) error {
	net = min(net, max(v.Net.Minor(), 0))
	part := int64(0)
	if net > 0 {
		var err error
		if part, err = money.PartMinor(max(tax, 0), net, v.Net.Minor(), money.HalfUp); err != nil {
			return err
		}
	}
	part += v.VAT.Minor() - tax
	if net == 0 && part == 0 {
		return nil
	}
	back := *v
	var err, err2 error
	back.Net, err = v.Net.WithMinor(net)
	back.VAT, err2 = v.VAT.WithMinor(part)
	h.m.Credit = append(h.m.Credit, back)
	return errors.Join(err, err2)
}
