package order

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/supply"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Ask is what proposals are made from.
type Ask struct {
	Today    string
	Calendar calendar.Calendar
	Book     *pricebook.Compiled
	// Wants and the Plan that Net made of them.
	Wants []supply.Want
	Plan  *supply.Plan
	// OrderBy is the last day to order whatever is proposed; what may wait
	// longer is only looked at where a break or free carriage makes it worth
	// ordering now.
	OrderBy string
	Bins    []Bin
	// MostVans are seen to at one visit of outside work; 0 means
	// DefaultMostVans.
	MostVans int
}

// DefaultMostVans at one visit.
const DefaultMostVans = 4

// Bin is a part that is topped up: two bins, one in use.
type Bin struct {
	Part string
	// Least on the shelf: with that or less, TopUp is ordered.
	Least, TopUp decimal.Decimal
	// OnHand and Due, of drafts and orders.
	OnHand, Due decimal.Decimal
}

// Low says whether it is time to top up.
func (b *Bin) Low() bool { return b.OnHand.Add(b.Due).LessThanOrEqual(b.Least) }

// Proposals are what to order now.
type Proposals struct {
	// Orders by supplier: what should be ordered first stands first, what is
	// too late before all.
	Orders []Proposal
	// Unsourced are wanted, and nobody on the day holds a price for them.
	Unsourced []ProposedLine
}

// Proposal is one order that could be made.
type Proposal struct {
	Supplier, Name string
	// OrderBy is the last day to order it, if all of it is to be there in time.
	OrderBy string
	TooLate bool
	Lines   []ProposedLine
	// Goods, Carriage and Total without VAT.
	Goods, Carriage, Total money.Amount
	// BelowLeast is what is missing to the least the supplier takes.
	BelowLeast money.Amount
	// FreeCarriageMore is how much more goods would save the carriage; nothing
	// where there is none to save. Later is what is planned to be ordered from
	// this supplier after the proposal's last day.
	FreeCarriageMore money.Amount
	Later            money.Amount
}

// ProposedLine is one thing to order.
type ProposedLine struct {
	Kind             supply.Kind
	Code, Name, Unit string
	SupplierPart     string
	// Quantity to order, of which Wanted is wanted.
	Quantity, Wanted decimal.Decimal
	Pack             decimal.Decimal
	// WantedOn is the first day it is wanted on, OrderBy the last day to order
	// it for that.
	WantedOn, OrderBy string
	TooLate           bool
	// TopUp: a bin is low.
	TopUp bool
	For   []For
	// Job it is for alone.
	Job       string
	UnitPrice money.UnitPrice
	Amount    money.Amount
	// Certificate outside work returns.
	Certificate string
	// Break worth a thought.
	Break *BreakWorth
	// Alternatives where it is too late: all who have it, the usual one first.
	Alternatives []Alternative
}

// BreakWorth is what ordering up to the next break would do.
type BreakWorth struct {
	From      decimal.Decimal
	UnitPrice money.UnitPrice
	More      decimal.Decimal // to order
	// Saving is against ordering what is wanted later at today's price; below
	// nothing it costs more.
	Saving money.Amount
	// UsedOn is the day by which what is more will be used, "" if some of it
	// will not: then Left is how much.
	UsedOn string
	Left   decimal.Decimal
	Worth  bool
}

// Alternative is how soon somebody could have it here.
type Alternative struct {
	Supplier, Name string
	LeadDays       int
	// There is the day, if it is ordered today.
	There     string
	InTime    bool
	Quantity  decimal.Decimal // in the supplier's packs
	UnitPrice money.UnitPrice
	Amount    money.Amount
	// Dearer than the usual one, below nothing: cheaper.
	Dearer money.Amount
}

// Propose groups what is to buy by supplier. Each part comes from who usually
// has it, in whole packs; outside work in visits on days that suit as many vans
// as can be; topped-up parts where their bin is low.
//
// Errors are those of money that is too large, and of days that are none.
func Propose(a Ask) (Proposals, error) {
	p := proposing{ask: &a, at: map[string]int{}, names: namesIn(a.Book)}
	if err := p.parts(); err != nil {
		return Proposals{}, err
	}
	if err := p.outside(); err != nil {
		return Proposals{}, err
	}
	if err := p.bins(); err != nil {
		return Proposals{}, err
	}
	if err := p.totals(); err != nil {
		return Proposals{}, err
	}
	slices.SortStableFunc(p.out.Orders, func(x, y Proposal) int {
		return cmp.Or(strings.Compare(x.OrderBy, y.OrderBy), strings.Compare(x.Supplier, y.Supplier))
	})
	return p.out, nil
}

type proposing struct {
	ask   *Ask
	out   Proposals
	at    map[string]int // proposal by supplier
	names map[supply.Kind]map[string]named
	later map[string]money.Amount // by supplier
}

type named struct{ name, unit, certificate string }

func namesIn(k *pricebook.Compiled) map[supply.Kind]map[string]named {
	c := k.Catalogue()
	all := map[supply.Kind]map[string]named{supply.Part: make(map[string]named, len(c.Parts)), supply.Outside: {}}
	for i := range c.Parts {
		all[supply.Part][c.Parts[i].Code] = named{name: c.Parts[i].Name, unit: string(c.Parts[i].Unit)}
	}
	for i := range c.OutsideWork {
		all[supply.Outside][c.OutsideWork[i].Code] = named{c.OutsideWork[i].Name, "visit", c.OutsideWork[i].Certificate}
	}
	return all
}

// parts proposes the lots of each part that are to be ordered by the last day.
func (p *proposing) parts() error {
	buy := p.ask.Plan.Buy
	for len(buy) > 0 {
		n := 1
		for n < len(buy) && buy[n].Kind == buy[0].Kind && buy[n].Code == buy[0].Code {
			n++
		}
		if buy[0].Kind == supply.Part {
			if err := p.part(buy[:n]); err != nil {
				return err
			}
		}
		buy = buy[n:]
	}
	return nil
}

// part proposes one part from its lots, in the order of their days.
func (p *proposing) part(lots []supply.Planned) error {
	now := 0
	for now < len(lots) && lots[now].StartBy <= p.ask.OrderBy {
		now++
	}
	offers := p.ask.Book.Offers(lots[0].Code, p.ask.Today)
	if len(offers) == 0 {
		if now > 0 {
			p.out.Unsourced = append(p.out.Unsourced, p.line(lots[:now]))
		}
		return nil
	}
	usual := &offers[0]
	if err := p.isLater(usual, lots[now:]); err != nil || now == 0 {
		return err
	}
	l := p.line(lots[:now])
	l.SupplierPart, l.Pack = usual.SupplierPart, usual.Pack
	if err := p.price(&l, usual); err != nil {
		return err
	}
	if err := p.breaks(&l, usual, lots[now:]); err != nil {
		return err
	}
	if l.TooLate {
		var err error
		if l.Alternatives, err = Alternatives(p.ask.Book, p.ask.Calendar, p.ask.Today, &l); err != nil {
			return err
		}
	}
	p.add(usual.Supplier, l)
	return nil
}

// line sums lots up.
func (p *proposing) line(lots []supply.Planned) ProposedLine {
	first := &lots[0]
	known := p.names[first.Kind][first.Code]
	l := ProposedLine{Kind: first.Kind, Code: first.Code, Name: cmp.Or(known.name, first.Code), Unit: known.unit, Certificate: known.certificate,
		WantedOn: first.Day, OrderBy: first.StartBy, TooLate: first.TooLate, Job: first.Job}
	for i := range lots {
		l.Quantity, l.Wanted = l.Quantity.Add(lots[i].Quantity), l.Wanted.Add(lots[i].Wanted)
		for _, f := range lots[i].For {
			l.For = append(l.For, p.forWant(f, lots[i].Day))
		}
	}
	return l
}

func (p *proposing) forWant(f supply.For, day string) For {
	if f.Want < 0 {
		return For{WantedOn: day, Quantity: f.Quantity}
	}
	w := &p.ask.Wants[f.Want]
	return For{Job: w.Job, Stage: w.Stage, WantedOn: day, Quantity: f.Quantity}
}

func (p *proposing) price(l *ProposedLine, o *pricebook.Offer) (err error) {
	l.UnitPrice = o.UnitFor(l.Quantity)
	if l.Amount, err = p.times(l.Quantity, l.UnitPrice); err != nil {
		return fmt.Errorf("%s of %s: %w", l.Quantity, l.Code, err)
	}
	return nil
}

func (p *proposing) times(q decimal.Decimal, unit money.UnitPrice) (money.Amount, error) {
	return money.Times(q, unit.Decimal(), p.ask.Book.Currency(), money.HalfUp)
}

// isLater counts what is planned for after the proposal.
func (p *proposing) isLater(o *pricebook.Offer, lots []supply.Planned) error {
	for i := range lots {
		amount, err := p.times(lots[i].Quantity, o.Unit)
		if err != nil {
			return err
		}
		if p.later == nil {
			p.later = map[string]money.Amount{}
		}
		was, ok := p.later[o.Supplier.Code]
		if !ok {
			was = money.Zero(p.ask.Book.Currency())
		}
		if p.later[o.Supplier.Code], err = was.Add(amount); err != nil {
			return err
		}
	}
	return nil
}

// breaks looks at the next break above what is ordered: what it costs in all,
// against ordering now and, for what is wanted later, once more at the price
// of so much.
func (p *proposing) breaks(l *ProposedLine, o *pricebook.Offer, later []supply.Planned) error {
	at := slices.IndexFunc(o.Breaks, func(b pricebook.UnitBreak) bool { return b.From.GreaterThan(l.Quantity) })
	if at < 0 {
		return nil
	}
	up := lot(o.Breaks[at].From, o)
	b := BreakWorth{From: o.Breaks[at].From, UnitPrice: o.UnitFor(up), More: up.Sub(l.Quantity)}
	b.Left = b.More
	for i := range later {
		if b.Left.Sign() == 0 {
			break
		}
		b.Left, b.UsedOn = decimal.Max(decimal.Zero, b.Left.Sub(later[i].Quantity)), later[i].Day
	}
	spent, err := p.times(up, b.UnitPrice)
	if err != nil {
		return err
	}
	used, err := p.times(b.More.Sub(b.Left), l.UnitPrice)
	if err != nil {
		return err
	}
	if b.Saving, err = money.Sum(p.ask.Book.Currency(), l.Amount, used, spent.Neg()); err != nil {
		return err
	}
	if b.Left.Sign() > 0 {
		b.UsedOn = ""
	}
	b.Worth = b.Saving.Sign() > 0
	if b.Worth || b.Left.Sign() == 0 {
		l.Break = &b
	}
	return nil
}

// bins proposes to top up what is low.
func (p *proposing) bins() error {
	for i := range p.ask.Bins {
		b := &p.ask.Bins[i]
		if !b.Low() || b.TopUp.Sign() <= 0 {
			continue
		}
		known := p.names[supply.Part][b.Part]
		l := ProposedLine{Kind: supply.Part, Code: b.Part, Name: cmp.Or(known.name, b.Part), Unit: known.unit, Quantity: b.TopUp, Wanted: b.TopUp,
			WantedOn: p.ask.Today, OrderBy: p.ask.Today, TopUp: true}
		offers := p.ask.Book.Offers(b.Part, p.ask.Today)
		if len(offers) == 0 {
			p.out.Unsourced = append(p.out.Unsourced, l)
			continue
		}
		usual := &offers[0]
		l.Quantity, l.Pack, l.SupplierPart = lot(b.TopUp, usual), usual.Pack, usual.SupplierPart
		var err error
		if l.WantedOn, err = p.ask.Calendar.Forward(p.ask.Today, usual.LeadDays); err != nil {
			return err
		}
		if err := p.price(&l, usual); err != nil {
			return err
		}
		if err := p.breaks(&l, usual, nil); err != nil {
			return err
		}
		p.add(usual.Supplier, l)
	}
	return nil
}

func (p *proposing) add(s *pricebook.Supplier, l ProposedLine) {
	at, ok := p.at[s.Code]
	if !ok {
		at = len(p.out.Orders)
		p.at[s.Code] = at
		p.out.Orders = append(p.out.Orders, Proposal{Supplier: s.Code, Name: s.Name, OrderBy: l.OrderBy})
	}
	o := &p.out.Orders[at]
	o.Lines = append(o.Lines, l)
	o.OrderBy = min(o.OrderBy, l.OrderBy)
	o.TooLate = o.TooLate || l.TooLate
}

// totals sums each proposal up and holds it against what its supplier asks.
func (p *proposing) totals() error {
	none := money.Zero(p.ask.Book.Currency())
	for i := range p.out.Orders {
		o := &p.out.Orders[i]
		s, _ := p.ask.Book.Supplier(o.Supplier)
		o.Goods, o.BelowLeast, o.FreeCarriageMore, o.Later = none, none, none, none
		if later, ok := p.later[o.Supplier]; ok {
			o.Later = later
		}
		var err error
		for k := range o.Lines {
			if o.Goods, err = o.Goods.Add(o.Lines[k].Amount); err != nil {
				return err
			}
		}
		if o.Carriage, err = carriageOf(s, o.Goods); err != nil {
			return err
		}
		if o.Total, err = o.Goods.Add(o.Carriage); err != nil {
			return err
		}
		if s.LeastOrder != nil {
			if o.BelowLeast, err = short(o.Goods, *s.LeastOrder); err != nil {
				return err
			}
		}
		if s.CarriageFreeFrom != nil && !o.Carriage.IsZero() {
			if o.FreeCarriageMore, err = short(o.Goods, *s.CarriageFreeFrom); err != nil {
				return err
			}
		}
		slices.SortStableFunc(o.Lines, func(x, y ProposedLine) int {
			return cmp.Or(strings.Compare(x.OrderBy, y.OrderBy), strings.Compare(x.Code, y.Code), strings.Compare(x.WantedOn, y.WantedOn))
		})
	}
	return nil
}

// short is what is missing to a sum.
func short(has money.Amount, to decimal.Decimal) (money.Amount, error) {
	return money.New(decimal.Max(decimal.Zero, to.Sub(has.Decimal())), has.Currency())
}

// Alternatives are all who have something on a day, the usual one first, with
// the day it could be here and what that costs.
func Alternatives(k *pricebook.Compiled, working calendar.Calendar, today string, l *ProposedLine) ([]Alternative, error) {
	offers := offersOf(k, l.Kind, l.Code, today)
	list := make([]Alternative, 0, len(offers))
	for i := range offers {
		o := &offers[i]
		a := Alternative{Supplier: o.Supplier.Code, Name: o.Supplier.Name, LeadDays: o.LeadDays, Quantity: lot(l.Wanted, o)}
		a.UnitPrice = o.UnitFor(a.Quantity)
		var err error
		if a.There, err = working.Forward(today, o.LeadDays); err != nil {
			return nil, err
		}
		a.InTime = a.There <= l.WantedOn
		if a.Amount, err = money.Times(a.Quantity, a.UnitPrice.Decimal(), k.Currency(), money.HalfUp); err != nil {
			return nil, err
		}
		usual := a.Amount
		if i > 0 {
			usual = list[0].Amount
		}
		if a.Dearer, err = a.Amount.Sub(usual); err != nil {
			return nil, err
		}
		list = append(list, a)
	}
	return list, nil
}
