package pricing

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// AgreedLine is a line of a price that was agreed in words: no feature of a
// catalogue stands behind it.
type AgreedLine struct {
	Words    string
	Quantity int // 1 and more
	// UnitPrice × Quantity, half up, is the line's amount: with VAT on the gross
	// basis, without on the net one. Below nothing it is a credit.
	UnitPrice money.UnitPrice
	Treatment pricebook.Treatment
	Percent   decimal.Decimal // of VAT: nothing but for standard and reduced
	Evidence  string          // of zero
}

// AgreedPayment is by what such a price is paid.
type AgreedPayment struct {
	Code, Name string
	// Amount with VAT; nil is what is left, of the last one.
	Amount *money.Amount
	When   pricebook.PaymentWhen
	Days   int
}

// Bounds of a price that was agreed in words; more is refused.
const (
	MaxAgreedLines    = 200
	MaxAgreedPayments = 20
	maxAgreedQuantity = 10_000
	maxAgreedWords    = 400
	maxAgreedDays     = 365
)

// Agree works a price out that was agreed in words on a day: VAT by treatment
// and rate as on a quote of the same basis, and its payments, which add up to
// the total. Without any it is all paid on handover. What is wrong with lines
// and payments is in the faults.
func Agree(basis Basis, c money.Currency, day string, lines []AgreedLine, payments []AgreedPayment) (Priced, document.Faults) {
	a := agreeing{out: Priced{Format: PricedFormat, Currency: c, Basis: basis, Day: day, Lines: []Line{}, VAT: []VATRow{}}}
	if basis != Gross && basis != Net {
		a.fault("unknown_word", "basis", fmt.Sprintf("%q is no basis.", basis), "Use gross, with VAT in the prices, or net.")
	}
	if len(lines) == 0 || len(lines) > MaxAgreedLines {
		a.fault("number_of_lines", "lines", fmt.Sprintf("It has %d lines.", len(lines)), fmt.Sprintf("Give 1 to %d.", MaxAgreedLines))
	}
	lines = slices.Clone(lines)
	for i := range lines {
		a.check(document.Join("lines", i+1), &lines[i])
	}
	if len(a.faults) > 0 {
		return Priced{}, a.faults.Limit()
	}
	// Its currency is known and its rates are within bounds: what can fail is
	// only that a sum is too large.
	if err := a.work(lines, payments); err != nil {
		return Priced{}, tooLarge()
	}
	if len(a.faults) > 0 {
		return Priced{}, a.faults.Limit()
	}
	return a.out, nil
}

func (a *agreeing) work(lines []AgreedLine, payments []AgreedPayment) error {
	for _, l := range lines {
		if err := a.line(l); err != nil {
			return err
		}
	}
	if err := a.total(); err != nil || len(a.faults) > 0 {
		return err
	}
	return a.pay(payments)
}

type agreeing struct {
	out    Priced
	faults document.Faults
}

func (a *agreeing) fault(code, at, reason, remedy string) {
	a.faults = append(a.faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func (a *agreeing) check(at string, l *AgreedLine) {
	l.Words, l.Evidence = strings.TrimSpace(l.Words), strings.TrimSpace(l.Evidence)
	if l.Words == "" || document.TextFault(l.Words) != "" || utf8.RuneCountInString(l.Words) > maxAgreedWords {
		a.fault("bad_text", at+"/words", "It does not say in a line what it is for.", fmt.Sprintf("Say it in at most %d characters.", maxAgreedWords))
	}
	if l.Quantity < 1 || l.Quantity > maxAgreedQuantity {
		a.fault("out_of_range", at+"/quantity", fmt.Sprintf("%d of it cannot be charged.", l.Quantity), fmt.Sprintf("Give 1 to %d.", maxAgreedQuantity))
	}
	if l.UnitPrice.Currency() != a.out.Currency {
		a.fault("currency", at+"/unit_price", "It is in another currency.", "Write it in "+string(a.out.Currency)+".")
	}
	plain := l.Treatment == pricebook.Standard || l.Treatment == pricebook.Reduced
	switch {
	case !slices.Contains(l.Treatment.Words(), string(l.Treatment)):
		a.fault("unknown_word", at+"/treatment", fmt.Sprintf("%q is no treatment.", l.Treatment), document.Suggest(string(l.Treatment), l.Treatment.Words(), ""))
	case l.Treatment == pricebook.Zero && l.Evidence == "":
		a.fault("no_evidence", at+"/evidence", "It is to be zero rated, and no evidence for that is named.", "Name the evidence that is kept, or charge the standard rate.")
	case l.Treatment != pricebook.Zero && l.Evidence != "":
		a.fault("contradiction", at+"/evidence", "Only zero rates need evidence.", "Leave it out, or make the line zero rated.")
	}
	if l.Evidence != "" && (document.TextFault(l.Evidence) != "" || utf8.RuneCountInString(l.Evidence) > maxAgreedWords) {
		a.fault("bad_text", at+"/evidence", "It does not say in a line what is kept.", fmt.Sprintf("Say it in at most %d characters.", maxAgreedWords))
	}
	if !plain && !l.Percent.IsZero() || l.Percent.IsNegative() || l.Percent.GreaterThan(decimal.New(100, 0)) || l.Percent.Exponent() < -4 {
		a.fault("out_of_range", at+"/vat_percent", fmt.Sprintf("%s per cent of VAT cannot be.", l.Percent), "Give the rate in per cent; of anything but standard and reduced, 0.")
	}
}

// line adds one whose VAT is still to be worked.
func (a *agreeing) line(l AgreedLine) error {
	amount, err := money.Times(decimal.New(int64(l.Quantity), 0), l.UnitPrice.Decimal(), a.out.Currency, money.HalfUp)
	if err != nil {
		return err
	}
	a.out.Lines = append(a.out.Lines, Line{Kind: OneOffLine, Words: l.Words, Quantity: l.Quantity, UnitPrice: l.UnitPrice, Amount: amount,
		Treatment: l.Treatment, Percent: l.Percent})
	at := slices.IndexFunc(a.out.VAT, func(r VATRow) bool { return r.Treatment == l.Treatment && r.Percent.Equal(l.Percent) })
	if at < 0 {
		at = len(a.out.VAT)
		a.out.VAT = append(a.out.VAT, VATRow{Treatment: l.Treatment, Percent: l.Percent, Says: treatmentSays[treatmentAt(l.Treatment)]})
	}
	if r := &a.out.VAT[at]; l.Evidence != "" && !slices.Contains(r.Evidence, l.Evidence) {
		r.Evidence = append(r.Evidence, l.Evidence)
	}
	return nil
}

// total works the VAT of each row on its sum and spreads it over its lines.
func (a *agreeing) total() error {
	slices.SortStableFunc(a.out.VAT, func(x, y VATRow) int {
		if d := treatmentAt(x.Treatment) - treatmentAt(y.Treatment); d != 0 {
			return d
		}
		return y.Percent.Cmp(x.Percent)
	})
	c := a.out.Currency
	t := &a.out.Totals
	t.BeforeDiscount, t.Discount, t.Net, t.VAT, t.Gross = money.Zero(c), money.Zero(c), money.Zero(c), money.Zero(c), money.Zero(c)
	for i := range a.out.VAT {
		if err := a.row(&a.out.VAT[i]); err != nil {
			return err
		}
	}
	return nil
}

func (a *agreeing) row(r *VATRow) error {
	num, den, err := money.PercentFraction(r.Percent)
	if err != nil {
		return err
	}
	if a.out.Basis == Gross {
		den += num
	}
	printed := money.Zero(a.out.Currency)
	var of []*Line
	var values []int64
	for i := range a.out.Lines {
		if l := &a.out.Lines[i]; l.Treatment == r.Treatment && l.Percent.Equal(r.Percent) {
			of, values = append(of, l), append(values, l.Amount.Minor())
			if printed, err = printed.Add(l.Amount); err != nil {
				return err
			}
		}
	}
	if printed.Sign() < 0 {
		a.fault("below_nothing", "lines", fmt.Sprintf("What is at %s, %s per cent, comes to less than nothing.", r.Treatment, r.Percent), "Credit no more than is charged at the same VAT.")
		return nil
	}
	vat, err := money.PartMinor(printed.Minor(), num, den, money.HalfUp)
	if err != nil {
		return err
	}
	shares, err := money.SharesOf(nil, values, num, den, vat)
	if err != nil {
		return err
	}
	for i, l := range of {
		net := l.Amount.Minor()
		if a.out.Basis == Gross {
			net -= shares[i]
		}
		var err, err2 error
		l.VAT, err = l.Amount.WithMinor(shares[i])
		l.Net, err2 = l.Amount.WithMinor(net)
		if err := errors.Join(err, err2); err != nil {
			return err
		}
	}
	net := printed.Minor()
	if a.out.Basis == Gross {
		net -= vat
	}
	var errs [7]error
	r.VAT, errs[0] = printed.WithMinor(vat)
	r.Net, errs[1] = printed.WithMinor(net)
	r.Gross, errs[2] = r.Net.Add(r.VAT)
	t := &a.out.Totals
	t.BeforeDiscount, errs[3] = t.BeforeDiscount.Add(printed)
	t.Net, errs[4] = t.Net.Add(r.Net)
	t.VAT, errs[5] = t.VAT.Add(r.VAT)
	t.Gross, errs[6] = t.Gross.Add(r.Gross)
	return errors.Join(errs[:]...)
}

// pay divides the total over the payments.
func (a *agreeing) pay(list []AgreedPayment) error {
	if len(list) == 0 {
		list = []AgreedPayment{{Code: "balance", Name: "Balance", When: pricebook.OnHandover}}
	}
	if len(list) > MaxAgreedPayments {
		a.fault("too_many", "payments", fmt.Sprintf("It is paid in %d parts.", len(list)), fmt.Sprintf("Give at most %d.", MaxAgreedPayments))
		return nil
	}
	left := a.out.Totals.Gross
	for i, p := range list {
		at := document.Join("payments", i+1)
		a.payment(at, &p, list[:i])
		part := left
		switch {
		case p.Amount == nil && i+1 < len(list):
			a.fault("contradiction", at+"/amount", "What is left is paid last.", "Give its amount, or put it last.")
		case p.Amount != nil && (p.Amount.Currency() != a.out.Currency || p.Amount.Sign() < 0 || p.Amount.Minor() > left.Minor()):
			a.fault("does_not_add_up", at+"/amount", fmt.Sprintf("%s of the total is left to pay.", left), "Let all payments come to the total.")
			return nil
		case p.Amount != nil:
			part = *p.Amount
		}
		var err error
		if left, err = left.Sub(part); err != nil {
			return err
		}
		a.out.Payments = append(a.out.Payments, Payment{Code: p.Code, Name: p.Name, Amount: part, When: p.When, Days: p.Days})
	}
	if !left.IsZero() {
		a.fault("does_not_add_up", "payments", fmt.Sprintf("%s of the total is not in any payment.", left), "Let all payments come to the total, or leave the amount of the last one out.")
	}
	return nil
}

func (a *agreeing) payment(at string, p *AgreedPayment, before []AgreedPayment) {
	if p.Code == "" || slices.ContainsFunc(before, func(o AgreedPayment) bool { return o.Code == p.Code }) {
		a.fault("duplicate_code", at+"/code", fmt.Sprintf("A payment is called %q already, or has no code.", p.Code), "Give each a code of its own.")
	}
	if strings.TrimSpace(p.Name) == "" || document.TextFault(p.Name) != "" || utf8.RuneCountInString(p.Name) > maxAgreedWords {
		a.fault("bad_text", at+"/name", "It has no name that can be printed.", "Name it in a few words.")
	}
	if !slices.Contains(p.When.Words(), string(p.When)) {
		a.fault("unknown_word", at+"/when", fmt.Sprintf("%q is no time to pay.", p.When), document.Suggest(string(p.When), p.When.Words(), ""))
	}
	if p.Days < 0 || p.Days > maxAgreedDays || p.When == pricebook.OnAcceptance && p.Days != 0 {
		a.fault("out_of_range", at+"/days", fmt.Sprintf("%d days cannot be.", p.Days), fmt.Sprintf("Give 0 to %d; on acceptance, 0.", maxAgreedDays))
	}
}
