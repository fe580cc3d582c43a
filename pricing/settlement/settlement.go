// Package settlement is the end of a job that is cancelled: what it has really
// cost so far, what of its deposits is kept for that, and what goes back to whom
// it came from. It proposes; the owner decides, within what is held.
package settlement

import (
	"errors"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
)

// Cost is one thing the job has cost, without VAT.
type Cost struct {
	// Number in the list, from 1.
	Number int    `json:"number"`
	What   What   `json:"what"`
	Code   string `json:"code"` // trade, part or outside work
	// Order it is on, and its line; "" and 0 for none.
	Order    string           `json:"order,omitempty"` // id
	Line     int              `json:"line,omitempty"`
	Quantity decimal.Decimal  `json:"quantity"`
	UnitCost *money.UnitPrice `json:"unit_cost,omitempty"` // nil where nobody knows it
	Amount   money.Amount     `json:"amount"`
	// LeftOut is not counted: it can go back, or on another van.
	LeftOut bool `json:"left_out,omitempty"`
}

// What something cost.
type What string

// What can cost; zero is invalid.
const (
	Hours   What = "hours"        // worked
	Ordered What = "order"        // for this job alone, delivered or still to come
	Used    What = "part"         // taken from stock and not put back
	Agreed  What = "outside work" // a visit, its share of it
)

// Words are all there are.
func (What) Words() []string {
	return []string{string(Hours), string(Ordered), string(Used), string(Agreed)}
}

// Order is an order with its id.
type Order struct {
	ID string
	*order.Order
}

// Costs are what a job has cost to a day: its hours at what an hour of the trade
// costs, what was ordered for it alone, its share of visits, and parts it was
// given from stock beyond those. What is on order for whoever comes first is
// not among them: it goes on another van. book is the edition of the day.
func Costs(id string, j *job.Job, orders []Order, book *pricebook.Compiled, day string) ([]Cost, error) {
	g := gathering{id: id, book: book, here: map[string]decimal.Decimal{}}
	g.hours(j)
	for i := range orders {
		g.order(&orders[i])
	}
	g.parts(j, day)
	for i := range g.list {
		g.list[i].Number = i + 1
	}
	return g.list, g.err
}

type gathering struct {
	id   string
	book *pricebook.Compiled
	here map[string]decimal.Decimal // of parts that were ordered for it alone
	list []Cost
	err  error
}

func (g *gathering) add(c Cost) {
	c.Amount = money.Zero(g.book.Currency())
	if c.UnitCost != nil {
		var err error
		if c.Amount, err = money.Times(c.Quantity, c.UnitCost.Decimal(), g.book.Currency(), money.HalfUp); err != nil {
			g.err = errors.Join(g.err, fmt.Errorf("%s: %w", c.Code, err))
		}
	}
	g.list = append(g.list, c)
}

func (g *gathering) hours(j *job.Job) {
	var trades []string
	sums := map[string]decimal.Decimal{}
	for i := range j.Hours {
		h := &j.Hours[i]
		if !slices.Contains(trades, h.Trade) {
			trades = append(trades, h.Trade)
		}
		sums[h.Trade] = sums[h.Trade].Add(h.Hours)
	}
	slices.Sort(trades)
	for _, t := range trades {
		if sums[t].Sign() <= 0 {
			continue
		}
		c := Cost{What: Hours, Code: t, Quantity: sums[t]}
		if l, ok := g.book.Labour(t); ok {
			c.UnitCost = &l.Unit
		}
		g.add(c)
	}
}

func (g *gathering) order(o *Order) {
	if o.State != order.Placed && o.State != order.PartDelivered && o.State != order.Closed {
		return
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		c := Cost{What: Ordered, Code: l.Code, Order: o.ID, Line: i + 1, Quantity: l.Quantity, UnitCost: l.UnitPrice}
		if o.State == order.Closed { // what has not come is not coming
			c.Quantity = l.Delivered
		}
		switch {
		case l.Kind == supply.Outside && len(l.For) > 0:
			all, own := decimal.Zero, decimal.Zero
			for _, f := range l.For {
				all = all.Add(f.Quantity)
				if f.Job == g.id {
					own = own.Add(f.Quantity)
				}
			}
			if all.Sign() <= 0 {
				continue
			}
			c.What, c.Quantity = Agreed, c.Quantity.Mul(own).DivRound(all, 6)
		case l.Job != g.id:
			continue
		case l.Kind == supply.Outside:
			c.What = Agreed
		default:
			g.here[l.Code] = g.here[l.Code].Add(decimal.Min(l.Delivered, l.Quantity))
		}
		if c.Quantity.Sign() > 0 {
			g.add(c)
		}
	}
}

func (g *gathering) parts(j *job.Job, day string) {
	var codes []string
	sums := map[string]decimal.Decimal{}
	for i := range j.Parts {
		p := &j.Parts[i]
		if !slices.Contains(codes, p.Part) {
			codes = append(codes, p.Part)
		}
		sums[p.Part] = sums[p.Part].Add(p.Quantity)
	}
	slices.Sort(codes)
	for _, code := range codes {
		c := Cost{What: Used, Code: code, Quantity: sums[code].Sub(g.here[code])}
		if c.Quantity.Sign() <= 0 {
			continue
		}
		if known, ok := g.book.Cost(code, day); ok {
			c.UnitCost = &known.Unit
		}
		g.add(c)
	}
}

// Payer is somebody whose money is held for the job.
type Payer struct {
	Party string       `json:"party"` // id
	Paid  money.Amount `json:"paid"`
}

// Settlement is what is proposed for a cancelled job.
type Settlement struct {
	Held  money.Amount `json:"held"`
	Costs []Cost       `json:"costs"`
	// Cost is what of them counts, without VAT.
	Cost money.Amount `json:"cost"`
	// Kept covers the cost once the VAT in it is paid, which stays due (Revenue
	// and Customs Brief 13/2018); no more than is held.
	Kept    money.Amount `json:"kept"`
	KeptVAT money.Amount `json:"kept_vat"`
	// Refunds are the rest, to who paid, in the proportion of what they paid.
	Refunds []Payer `json:"refunds"`
	// Short is what of the cost is not covered, without VAT.
	Short money.Amount `json:"short"`
	// Unknown are the numbers of costs that nobody knows.
	Unknown []int `json:"unknown,omitempty"`
}

// Propose works out what to keep of what is held. vat is what of it is VAT, by
// treatment and rate; leftOut are numbers of costs that do not count.
func Propose(held money.Amount, vat []ledger.VATSum, costs []Cost, leftOut []int, payers []Payer) (Settlement, document.Faults, error) {
	zero := money.Zero(held.Currency())
	s := Settlement{Held: held, Costs: slices.Clone(costs), Cost: zero, Short: zero}
	var faults document.Faults
	for i, n := range leftOut {
		if n < 1 || n > len(s.Costs) {
			faults = append(faults, document.Fault{Code: "unknown_line", At: document.Join("left_out", i+1), Reason: fmt.Sprintf("There is no cost %d.", n), Remedy: fmt.Sprintf("Name one from 1 to %d.", len(s.Costs))})
			continue
		}
		s.Costs[n-1].LeftOut = true
	}
	if len(faults) > 0 {
		return s, faults, nil
	}
	for i := range s.Costs {
		c := &s.Costs[i]
		if c.LeftOut {
			continue
		}
		if c.UnitCost == nil {
			s.Unknown = append(s.Unknown, c.Number)
		}
		var err error
		if s.Cost, err = s.Cost.Add(c.Amount); err != nil {
			return s, nil, err
		}
	}
	tax := int64(0)
	for _, v := range vat {
		tax += v.VAT.Minor()
	}
	return s, nil, s.part(tax, payers)
}

// part says what is kept, what of that is VAT, and who gets the rest.
func (s *Settlement) part(tax int64, payers []Payer) error {
	kept, held := int64(0), s.Held.Minor()
	if net := held - tax; held > 0 && net > 0 {
		up, err := money.PartMinor(min(s.Cost.Minor(), net), held, net, money.Up)
		if err != nil {
			return err
		}
		kept = min(up, held)
	}
	inKept := int64(0)
	if held > 0 {
		var err error
		if inKept, err = money.PartMinor(kept, max(tax, 0), held, money.HalfUp); err != nil {
			return err
		}
	}
	var err, err2, err3, err4 error
	s.Kept, err = s.Held.WithMinor(kept)
	s.KeptVAT, err2 = s.Held.WithMinor(inKept)
	s.Short, err3 = s.Held.WithMinor(max(s.Cost.Minor()-(kept-inKept), 0))
	s.Refunds, err4 = Share(s.Held.Minor()-kept, payers)
	return errors.Join(err, err2, err3, err4)
}

// Share parts so many minor units among who paid, in the proportion of what they
// paid, to the penny; who gets nothing is left out.
func Share(minor int64, payers []Payer) ([]Payer, error) {
	list := []Payer{}
	if minor == 0 || len(payers) == 0 {
		return list, nil
	}
	sum, err := payers[0].Paid.WithMinor(minor)
	if err != nil {
		return nil, err
	}
	weights := make([]decimal.Decimal, len(payers))
	for i, p := range payers {
		weights[i] = p.Paid.Decimal()
	}
	parts, err := money.Allocate(sum, weights)
	if err != nil {
		return nil, err
	}
	for i, p := range payers {
		if !parts[i].IsZero() {
			list = append(list, Payer{p.Party, parts[i]})
		}
	}
	return list, nil
}

// Check holds a decision against what is held: what is kept and what goes back
// have to come to it, and nobody gets back more than they paid.
func Check(held, kept money.Amount, refunds, payers []Payer) document.Faults {
	var faults document.Collector
	fault := func(code, at, reason, remedy string) {
		faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	c := held.Currency()
	if kept.Currency() != c || kept.Sign() < 0 || kept.Minor() > held.Minor() {
		fault("more_than_there_is", "kept", fmt.Sprintf("%s is not between nothing and %s, which is held.", kept, held), "Keep no more than is held.")
	}
	out := kept.Minor()
	got := map[string]int64{}
	for i, r := range refunds {
		at := document.Join("refunds", i+1)
		if r.Paid.Currency() != c || r.Paid.Sign() <= 0 {
			fault("amount", at+"/amount", "It is nothing, or in another currency.", "Leave it out, or write it in the currency that is held.")
			continue
		}
		out += r.Paid.Minor()
		got[r.Party] += r.Paid.Minor()
		paid := int64(0)
		for _, p := range payers {
			if p.Party == r.Party {
				paid += p.Paid.Minor()
			}
		}
		if got[r.Party] > paid {
			fault("more_than_there_is", at+"/amount", "They did not pay so much for this job.", "Refund to who paid, no more than they did.")
		}
	}
	if sum, err := held.WithMinor(out); len(faults.Faults()) == 0 && (err != nil || sum != held) {
		fault("does_not_add_up", "refunds", fmt.Sprintf("Kept and refunded come to %s, and %s is held.", sum, held), "Let both come to what is held.")
	}
	return faults.Faults()
}
