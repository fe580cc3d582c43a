package ledger

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Share is the part of a job's total that is of one VAT treatment at one rate;
// Gross of them is the job's total. By it a deposit is parted among them.
type Share struct {
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	Gross     money.Amount        `json:"gross"`
}

// VATIn parts an amount with VAT among the shares in their proportion, and
// works out the VAT in each part: its fraction r/(100 + r), half up. The parts
// come to the amount, to the penny.
//
// Source: a deposit makes a tax point for its sum (HMRC VATTOS5105); the
// fraction is of VAT Notice 700. That a deposit for goods at several rates is
// parted in their proportion is common practice, no source.
//
// Errors: money.ErrWeights when the shares come to nothing and the amount does
// not, or one is below nothing.
func VATIn(amount money.Amount, shares []Share) ([]VATSum, error) {
	weights := make([]decimal.Decimal, len(shares))
	for i, s := range shares {
		weights[i] = s.Gross.Decimal()
	}
	parts, err := money.Allocate(amount, weights)
	if err != nil {
		return nil, err
	}
	var list []VATSum
	for i, part := range parts {
		if part.IsZero() {
			continue
		}
		vat, err := money.FractionOfGross(part, shares[i].Percent, money.HalfUp)
		if err != nil {
			return nil, err
		}
		net, err := part.Sub(vat)
		if err != nil {
			return nil, err
		}
		list = append(list, VATSum{shares[i].Treatment, shares[i].Percent, net, vat})
	}
	return list, nil
}

// Receipt is money that came in, into an account that holds money; or a van
// taken in part exchange, which is a purchase without VAT besides (under the
// margin scheme, VAT Notice 718/1).
func Receipt(into Account, amount money.Amount, party string) []Line {
	lines := []Line{{Account: into, Amount: amount, Party: party}, {Account: Unplaced, Amount: amount.Neg(), Party: party}}
	if into == TakenIn {
		lines = append(lines, Line{Account: VATPaid, Amount: money.Zero(amount.Currency()), Party: party, VAT: &VAT{Treatment: pricebook.Margin, Net: amount}})
	}
	return lines
}

// Place puts part of what was received to a job. Before the job is invoiced it
// is a deposit: it is owed, and the VAT in it is due now; afterwards it pays
// the invoice.
func Place(amount money.Amount, job, party string, vat []VATSum, invoiced bool) []Line {
	lines := []Line{{Account: Unplaced, Amount: amount, Party: party}}
	if invoiced {
		return append(lines, Line{Account: Debtors, Amount: amount.Neg(), Job: job, Party: party})
	}
	lines = append(lines, Line{Account: DepositsNotEarned, Amount: amount.Neg(), Job: job, Party: party})
	return append(lines, becomesDue(job, vat, false)...)
}

// TakeAway takes money from a job that is invoiced: it was placed wrongly, or the
// bank took it back. It is owed again. What was placed before the invoice is
// taken back by reversing its entry.
func TakeAway(amount money.Amount, job, party string) []Line {
	return []Line{{Account: Debtors, Amount: amount, Job: job, Party: party}, {Account: Unplaced, Amount: amount.Neg(), Party: party}}
}

// Return gives back what came in and is not placed, from an account that holds
// money.
func Return(amount money.Amount, from Account, party string) []Line {
	return []Line{{Account: Unplaced, Amount: amount, Party: party}, {Account: from, Amount: amount.Neg(), Party: party}}
}

// RefundDeposit is a part of a job's deposits that is refunded; back is the VAT
// of the deposit invoices that is credited with it.
func RefundDeposit(amount money.Amount, job, party string, back []VATSum, from Account) []Line {
	lines := []Line{{Account: DepositsNotEarned, Amount: amount, Job: job, Party: party}, {Account: from, Amount: amount.Neg(), Party: party}}
	return append(lines, becomesDue(job, back, true)...)
}

// Fee is what a bank or card company takes.
func Fee(amount money.Amount, from Account) []Line {
	return []Line{{Account: Fees, Amount: amount}, {Account: from, Amount: amount.Neg()}}
}

// Move is money from one account that holds money to another.
func Move(amount money.Amount, from, into Account) []Line {
	return []Line{{Account: into, Amount: amount}, {Account: from, Amount: amount.Neg()}}
}

// Credit takes back what an invoice charged, with its VAT: the customer owes so
// much less, or is owed it.
func Credit(job, party string, rows []VATSum, c money.Currency) ([]Line, error) {
	var lines []Line
	gross := money.Zero(c)
	for _, r := range rows {
		var err error
		if gross, err = money.Sum(c, gross, r.Net, r.VAT); err != nil {
			return nil, err
		}
		if !r.Net.IsZero() {
			lines = append(lines, Line{Account: Sales, Amount: r.Net, Job: job, Party: party})
		}
		if !r.VAT.IsZero() || !r.Net.IsZero() {
			lines = append(lines, Line{Account: VATDue, Amount: r.VAT, Job: job, VAT: &VAT{r.Treatment, r.Percent, r.Net.Neg()}})
		}
	}
	if !gross.IsZero() {
		lines = append(lines, Line{Account: Debtors, Amount: gross.Neg(), Job: job, Party: party})
	}
	return lines, nil
}

// PayBack gives a customer what a job's invoice and its credits leave them owed,
// from an account that holds money.
func PayBack(amount money.Amount, job, party string, from Account) []Line {
	return []Line{{Account: Debtors, Amount: amount, Job: job, Party: party}, {Account: from, Amount: amount.Neg(), Party: party}}
}

// OpenBalance is what an account that holds money has on the day the books
// begin here.
func OpenBalance(a Account, amount money.Amount) []Line {
	return []Line{{Account: a, Amount: amount}, {Account: OpeningBalance, Amount: amount.Neg()}}
}

// TakeOnDeposit is a deposit that came in before the books began here. It is
// owed; the VAT in it was declared in the old books, so it is part of what is
// held and does not become due again, and the job's invoice takes it off. What
// the workshop had of it otherwise is in the opening balance, like the money.
func TakeOnDeposit(job, party string, amount money.Amount, vat []VATSum) []Line {
	lines := []Line{{Account: DepositsNotEarned, Amount: amount.Neg(), Job: job, Party: party}}
	left := amount.Minor()
	for _, v := range vat {
		if v.VAT.IsZero() && v.Net.IsZero() {
			continue
		}
		left -= v.VAT.Minor()
		lines = append(lines, Line{Account: VATOnDeposits, Amount: v.VAT, Job: job, VAT: &VAT{v.Treatment, v.Percent, v.Net}})
	}
	if net := amountOf(left, amount.Currency()); !net.IsZero() {
		lines = append(lines, Line{Account: OpeningBalance, Amount: net})
	}
	return lines
}

// becomesDue makes the VAT of deposits due, or takes that back.
func becomesDue(job string, vat []VATSum, back bool) []Line {
	var lines []Line
	for _, v := range vat {
		sum, net := v.VAT, v.Net
		if back {
			sum, net = sum.Neg(), net.Neg()
		}
		if sum.IsZero() && net.IsZero() {
			continue
		}
		lines = append(lines,
			Line{Account: VATOnDeposits, Amount: sum, Job: job, VAT: &VAT{v.Treatment, v.Percent, net}},
			Line{Account: VATDue, Amount: sum.Neg(), Job: job, VAT: &VAT{v.Treatment, v.Percent, net}})
	}
	return lines
}

// Invoice is the end of a job's work: what it comes to is owed, all its
// deposits are applied, and the VAT that they had made due is taken off what
// the invoice makes due. rows are the invoice's, VAT by treatment and rate.
func (b *Book) Invoice(job, party string, rows []VATSum, c money.Currency) ([]Line, error) {
	var lines []Line
	gross := money.Zero(c)
	for _, r := range rows {
		var err error
		if gross, err = money.Sum(c, gross, r.Net, r.VAT); err != nil {
			return nil, err
		}
		if !r.Net.IsZero() {
			lines = append(lines, Line{Account: Sales, Amount: r.Net.Neg(), Job: job, Party: party})
		}
		if !r.VAT.IsZero() || !r.Net.IsZero() {
			lines = append(lines, Line{Account: VATDue, Amount: r.VAT.Neg(), Job: job, VAT: &VAT{r.Treatment, r.Percent, r.Net}})
		}
	}
	if !gross.IsZero() {
		lines = append(lines, Line{Account: Debtors, Amount: gross, Job: job, Party: party})
	}
	if held := b.OfJob(DepositsNotEarned, job, c); !held.IsZero() {
		lines = append(lines, Line{Account: DepositsNotEarned, Amount: held, Job: job, Party: party},
			Line{Account: Debtors, Amount: held.Neg(), Job: job, Party: party})
	}
	return append(lines, becomesDue(job, b.DepositVAT(job, c), true)...), nil
}

// GiveBack is the part of a job's deposits that is refunded from an account that
// holds money, and the part that is kept; either may be nothing. With what is
// refunded its VAT is taken back, in the proportion in which it became due; of
// what is kept it stays due (Revenue and Customs Brief 13/2018, from 1 March
// 2019). Where nothing of the deposits is left afterwards, all VAT on them that
// is left goes with what was kept, or else with what was refunded.
func (b *Book) GiveBack(job, party string, refunded, kept money.Amount, from Account) ([]Line, document.Faults, error) {
	c := refunded.Currency()
	held := b.OfJob(DepositsNotEarned, job, c)
	out, err := refunded.Add(kept)
	if err != nil {
		return nil, nil, err
	}
	if out.Minor() > held.Minor() || refunded.Sign() < 0 || kept.Sign() < 0 || out.IsZero() {
		return nil, document.Faults{{Code: "more_than_there_is", At: "refunded", Reason: fmt.Sprintf("%s of deposits are held for the job.", held), Remedy: "Refund and keep no more than that together, and not nothing."}}, nil
	}
	lines := []Line{{Account: DepositsNotEarned, Amount: out, Job: job, Party: party}}
	left := b.DepositVAT(job, c)
	takeBack, err := PartOf(left, refunded)
	if err != nil {
		return nil, nil, err
	}
	stays, err := PartOf(less(left, takeBack), kept)
	if err != nil {
		return nil, nil, err
	}
	if !refunded.IsZero() {
		lines = append(lines, Line{Account: from, Amount: refunded.Neg(), Party: party})
		lines = append(lines, becomesDue(job, takeBack, true)...)
	}
	if kept.IsZero() {
		return lines, nil, nil
	}
	income := kept
	for _, v := range stays {
		if income, err = income.Sub(v.VAT); err != nil {
			return nil, nil, err
		}
		if !v.VAT.IsZero() || !v.Net.IsZero() {
			lines = append(lines, Line{Account: VATOnDeposits, Amount: v.VAT.Neg(), Job: job, VAT: &VAT{v.Treatment, v.Percent, v.Net.Neg()}})
		}
	}
	if !income.IsZero() {
		lines = append(lines, Line{Account: DepositsKept, Amount: income.Neg(), Job: job, Party: party})
	}
	return lines, nil, nil
}

// PartOf is the share of sums that a part of what they come to has: parted in
// their proportion, to the penny, and of each the VAT in its proportion.
func PartOf(sums []VATSum, part money.Amount) ([]VATSum, error) {
	list := slices.Clone(sums)
	if len(list) == 0 {
		return list, nil
	}
	weights := make([]decimal.Decimal, len(list))
	for i, v := range list {
		weights[i] = v.Net.Decimal().Add(v.VAT.Decimal())
	}
	parts, err := money.Allocate(part, weights)
	if err != nil {
		return nil, err
	}
	for i := range list {
		v := &list[i]
		minor, err := money.PartMinor(v.VAT.Minor(), parts[i].Minor(), max(v.Net.Minor()+v.VAT.Minor(), 1), money.HalfUp)
		if err == nil {
			v.VAT, err = v.VAT.WithMinor(minor)
		}
		if err == nil {
			v.Net, err = parts[i].Sub(v.VAT)
		}
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}

// less takes sums off others of the same order.
func less(from, take []VATSum) []VATSum {
	list := slices.Clone(from)
	for i := range list {
		list[i].Net, list[i].VAT = amountOf(from[i].Net.Minor()-take[i].Net.Minor(), from[i].Net.Currency()), amountOf(from[i].VAT.Minor()-take[i].VAT.Minor(), from[i].VAT.Currency())
	}
	return list
}

// CardPayout is what the card company pays to the bank of what was taken by
// card, less its fee.
func CardPayout(taken, fee money.Amount) ([]Line, error) {
	net, err := taken.Sub(fee)
	if err != nil {
		return nil, err
	}
	lines := []Line{{Account: Card, Amount: taken.Neg()}}
	for _, l := range []Line{{Account: Bank, Amount: net}, {Account: Fees, Amount: fee}} {
		if !l.Amount.IsZero() {
			lines = append(lines, l)
		}
	}
	return lines, nil
}
