// Package margin is what a job earned and what it really cost: what was invoiced
// of it without VAT, and what was kept of its deposits; less the hours worked at
// what they cost, what was ordered for it or taken from stock, outside work, and
// a van that was sold with it.
package margin

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/purchase"
	"wainscot/pricing/settlement"
)

// Earned is what a job earned, without VAT.
type Earned struct {
	Sales money.Amount // invoiced, less what was credited
	Kept  money.Amount // of its deposits, once it was cancelled
}

// EarnedIn is what entries of the books come to, by job. Those without a job, as
// vans that were sold by themselves, are nobody's.
func EarnedIn(entries []ledger.Entry, c money.Currency) (map[string]Earned, error) {
	by := map[string]Earned{}
	for i := range entries {
		for j := range entries[i].Lines {
			l := &entries[i].Lines[j]
			if l.Job == "" || l.Amount.Currency() != c || l.Account != ledger.Sales && l.Account != ledger.DepositsKept {
				continue
			}
			e, ok := by[l.Job]
			if !ok {
				e = Earned{money.Zero(c), money.Zero(c)}
			}
			into := &e.Sales
			if l.Account == ledger.DepositsKept {
				into = &e.Kept
			}
			var err error
			if *into, err = into.Sub(l.Amount); err != nil { // what is earned stands on the right
				return nil, fmt.Errorf("job %s: %w", l.Job, err)
			}
			by[l.Job] = e
		}
	}
	return by, nil
}

// Margin of one job.
type Margin struct {
	Earned
	Hours   money.Amount
	Parts   money.Amount // ordered for it, or taken from stock
	Outside money.Amount // its share of visits
	Vans    money.Amount // what was paid for a van that was sold with it, and the VAT on its margin
	Cost    money.Amount // all of that
	Margin  money.Amount // below nothing where it cost more
	// Percent of what was earned, to a hundredth; nil where that is nothing or
	// less.
	Percent *decimal.Decimal
	// Unknown is how many of the costs nobody knows: they count as nothing.
	Unknown int
}

// Of is the margin of a job. vans is what a van cost that was sold with it.
func Of(e Earned, costs []settlement.Cost, charged Charged, vans money.Amount) (Margin, error) {
	c := vans.Currency()
	m := Margin{Earned: e, Hours: money.Zero(c), Parts: money.Zero(c), Outside: money.Zero(c), Vans: vans}
	for i := range costs {
		cost := &costs[i]
		into := &m.Parts
		switch cost.What {
		case settlement.Hours:
			into = &m.Hours
		case settlement.Agreed:
			into = &m.Outside
		case settlement.Ordered, settlement.Used:
		}
		amount, known, err := charged.amount(cost)
		if err == nil {
			*into, err = into.Add(amount)
		}
		if err != nil {
			return m, fmt.Errorf("%s %s: %w", cost.What, cost.Code, err)
		}
		if !known {
			m.Unknown++
		}
	}
	var err error
	if m.Cost, err = money.Sum(c, m.Hours, m.Parts, m.Outside, m.Vans); err != nil {
		return m, err
	}
	all, err := e.Sales.Add(e.Kept)
	if err != nil {
		return m, err
	}
	if m.Margin, err = all.Sub(m.Cost); err != nil {
		return m, err
	}
	if all.Sign() > 0 {
		percent := m.Margin.Decimal().Mul(decimal.NewFromInt(100)).DivRound(all.Decimal(), 2)
		m.Percent = &percent
	}
	return m, nil
}

// place is a line of an order.
type place struct {
	order string
	line  int
}

// Charged is what suppliers charged for lines of orders, and was accepted.
type Charged map[place]piece

type piece struct {
	quantity, delivered decimal.Decimal
	amount, credited    decimal.Decimal
	inPart              bool
}

// Add takes in a paper for an order, if it was decided on. Of one that was
// accepted in part what is owed counts: so many as were here, at no more than
// the order's price unless the difference was let pass. A credit note takes off
// what was accepted whole before; of the rest it only says that it was right.
func (c Charged) Add(i *purchase.Invoice, o *order.Order) {
	if i.Order == "" || i.State != purchase.Accepted && i.State != purchase.AcceptedInPart {
		return
	}
	for k := range i.Lines {
		l := &i.Lines[k]
		if l.Kind != purchase.Goods || l.Line < 1 || l.Line > len(o.Lines) {
			continue
		}
		of := &o.Lines[l.Line-1]
		p := c[place{i.Order, l.Line}]
		p.delivered = of.Delivered
		switch {
		case i.Kind == purchase.CreditNote:
			p.credited = p.credited.Add(l.Amount.Decimal())
		case i.State == purchase.Accepted:
			p.amount, p.quantity = p.amount.Add(l.Amount.Decimal()), p.quantity.Add(l.Quantity)
		case i.Match != nil && k < len(i.Match.Lines):
			m, each := &i.Match.Lines[k], l.UnitPrice.Decimal()
			if of.UnitPrice != nil && !slices.ContainsFunc(m.Differences, func(d purchase.Difference) bool { return d.What == purchase.Price && d.LetPass }) {
				each = decimal.Min(each, of.UnitPrice.Decimal())
			}
			p.inPart = true
			p.amount, p.quantity = p.amount.Add(m.Owed.Mul(each)), p.quantity.Add(m.Owed)
		}
		c[place{i.Order, l.Line}] = p
	}
}

// each is what one costs of so many; false where nothing that is here was
// charged.
func (p *piece) each() (each, of decimal.Decimal, ok bool) {
	of, amount := decimal.Min(p.quantity, p.delivered), p.amount
	if of.Sign() <= 0 {
		return each, of, false
	}
	if !p.inPart {
		amount = decimal.Max(decimal.Zero, amount.Sub(p.credited))
	}
	return amount.DivRound(of, 12), of, true
}

// amount of a cost: what was charged for as much of it as was, and the order's
// price for the rest. known is whether anybody knows it.
func (c Charged) amount(cost *settlement.Cost) (amount money.Amount, known bool, err error) {
	p := c[place{cost.Order, cost.Line}]
	each, of, ok := p.each()
	if cost.Order == "" || !ok {
		return cost.Amount, cost.UnitCost != nil, nil
	}
	covered := decimal.Min(cost.Quantity, of)
	sum := covered.Mul(each)
	known = true
	if rest := cost.Quantity.Sub(covered); rest.Sign() > 0 {
		if known = cost.UnitCost != nil; known {
			sum = sum.Add(rest.Mul(cost.UnitCost.Decimal()))
		}
	}
	amount, err = money.Round(sum, cost.Amount.Currency(), money.HalfUp)
	return amount, known, err
}
