package order

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Surplus is what of a line a change of a job has left nobody wanting. It stays
// on the line when somebody has dealt with it.
type Surplus struct {
	Job       string          `json:"job"`
	Variation int64           `json:"variation"` // of the job
	Since     string          `json:"since"`     // YYYY-MM-DD
	Quantity  decimal.Decimal `json:"quantity"`
	// Dealt is what was done about it, DealtOn when; "" while nobody has.
	Dealt   Dealt  `json:"dealt,omitempty"`
	DealtOn string `json:"dealt_on,omitempty"`
}

// Dealt is what becomes of a surplus.
type Dealt string

// The ways; zero says that nobody has dealt with it.
const (
	// TakenBack: the supplier agrees to deliver so much less.
	TakenBack Dealt = "taken back"
	// ToStock: it comes, and is for whoever wants it.
	ToStock Dealt = "to stock"
)

// Words are the ways there are.
func (Dealt) Words() []string { return []string{string(TakenBack), string(ToStock)} }

// MaxSurplus is how many of a line are kept apart; what is more is added to the
// last of them.
const MaxSurplus = 100

// LeftFor is what of a line is still to come for a job, without what that has
// left over. What comes of a line for one job alone is for that first.
func (l *Line) LeftFor(job string) decimal.Decimal {
	mine := l.Left()
	if l.Job != job {
		mine = decimal.Min(mine, l.orderedFor(job))
	}
	for i := range l.Surplus {
		if s := &l.Surplus[i]; s.Job == job && s.Dealt != TakenBack { // of what was taken back there is that much less
			mine = mine.Sub(s.Quantity)
		}
	}
	return decimal.Max(decimal.Zero, mine)
}

// orderedFor is the sum of what a line was ordered for, of a job.
func (l *Line) orderedFor(job string) (sum decimal.Decimal) {
	for _, f := range l.For {
		if f.Job == job {
			sum = sum.Add(f.Quantity)
		}
	}
	return sum
}

// CameFor is what of a quantity that has just come of a line is for the job it
// was ordered for alone: all of it, unless that has left some over.
func (l *Line) CameFor(came decimal.Decimal) decimal.Decimal {
	over := decimal.Zero
	for i := range l.Surplus {
		if s := &l.Surplus[i]; s.Dealt != TakenBack {
			over = over.Add(s.Quantity)
		}
	}
	if over.IsZero() {
		return came
	}
	still := l.Quantity.Sub(over).Sub(l.Delivered.Sub(came))
	return decimal.Max(decimal.Zero, decimal.Min(came, still))
}

// Undealt is what of a line is left over that nobody has dealt with, of one job
// or, with "", of all; what has come is on the shelf and asks nobody any more.
func (l *Line) Undealt(job string) decimal.Decimal {
	sum := decimal.Zero
	for i := range l.Surplus {
		if s := &l.Surplus[i]; s.Dealt == "" && (job == "" || s.Job == job) {
			sum = sum.Add(s.Quantity)
		}
	}
	return decimal.Min(sum, l.Left())
}

// wants is the code of what a line was ordered for.
func (l *Line) wants() string { return cmp.Or(l.InPlaceOf, l.Code) }

// onlyFor says whether nobody but a job has anything of a line.
func (l *Line) onlyFor(job string) bool {
	return l.Job == job || l.Job == "" && len(l.For) > 0 && !slices.ContainsFunc(l.For, func(f For) bool { return f.Job != job })
}

// Shed is what a job does not want any more of what is on order for it, since a
// variation.
type Shed struct {
	Job       string
	Variation int64
	On        string // YYYY-MM-DD
	Parts     []Shedding
}

// Shedding is so much of a thing that is not wanted any more; below nothing, so
// much of what was left over is wanted again.
type Shedding struct {
	Kind     supply.Kind
	Code     string
	Quantity decimal.Decimal
}

// ShedLine is what becomes of one line.
type ShedLine struct {
	// Order by its place among those given, Line as it was, from 1.
	Order, Line int
	Quantity    decimal.Decimal
	// Changed: a draft's line for nobody else has so much less, or is gone. Else
	// it is a surplus of the line.
	Changed bool
}

// From takes what is shed off the orders it is on: from drafts first, then from
// what comes last. A line of a draft that is for the job alone becomes less, in
// whole lots of its supplier, or leaves; a draft of which nothing is left is
// cancelled. Of any other line it is the surplus. A visit to several vans goes
// on for the others and sheds nothing. It gives all orders as they are then;
// those given stay as they are.
func (s Shed) From(orders []Order, k *pricebook.Compiled) (after []Order, became []ShedLine) {
	after = slices.Clone(orders)
	for i := range after {
		after[i].Lines = slices.Clone(after[i].Lines)
	}
	for _, p := range s.Parts {
		if p.Quantity.Sign() < 0 {
			s.again(after, p)
			continue
		}
		left := p.Quantity
		for _, at := range s.lines(after, p) {
			l := &after[at.Order].Lines[at.Line-1]
			if at.Quantity = decimal.Min(left, l.LeftFor(s.Job)); at.Quantity.Sign() <= 0 {
				continue
			}
			left = left.Sub(at.Quantity)
			if at.Changed = after[at.Order].State == Draft && l.onlyFor(s.Job); at.Changed {
				l.less(s.Job, at.Quantity, after[at.Order].Supplier, k, s.On)
			} else {
				l.leave(s, at.Quantity)
			}
			became = append(became, at)
		}
	}
	for i := range after {
		o := &after[i]
		gone := func(l Line) bool { return o.State == Draft && l.Quantity.IsZero() }
		switch {
		case !slices.ContainsFunc(o.Lines, gone):
		case slices.ContainsFunc(o.Lines, func(l Line) bool { return !gone(l) }):
			o.Lines = slices.DeleteFunc(o.Lines, gone)
		default:
			o.Lines, o.State, o.EndedOn = orders[i].Lines, Cancelled, s.On
		}
	}
	return after, became
}

// lines that have anything of it for the job, in the order in which they shed.
func (s Shed) lines(orders []Order, p Shedding) (list []ShedLine) {
	for i := range orders {
		o := &orders[i]
		for k := range o.Lines {
			l := &o.Lines[k]
			if (o.State == Draft || o.State.Open()) && l.Kind == p.Kind && l.wants() == p.Code && l.LeftFor(s.Job).Sign() > 0 && (p.Kind == supply.Part || l.onlyFor(s.Job)) {
				list = append(list, ShedLine{Order: i, Line: k + 1})
			}
		}
	}
	rank := func(at ShedLine) (int, string) {
		o := &orders[at.Order]
		l := &o.Lines[at.Line-1]
		switch {
		case o.State == Draft && l.onlyFor(s.Job):
			return 0, l.WantedOn
		case o.State == Draft:
			return 1, l.WantedOn
		}
		return 2, cmp.Or(l.DueOn, l.WantedOn)
	}
	slices.SortStableFunc(list, func(a, b ShedLine) int {
		x, on := rank(a)
		y, day := rank(b)
		return cmp.Or(cmp.Compare(x, y), strings.Compare(day, on))
	})
	return list
}

// less of a line of a draft that is for a job alone.
func (l *Line) less(job string, quantity decimal.Decimal, supplier string, k *pricebook.Compiled, day string) {
	still := l.LeftFor(job).Sub(quantity)
	l.forLess(job, quantity)
	if still.Sign() > 0 {
		if offer, ok := offerOf(k, supplier, l.Kind, l.Code, day); ok && !l.Agreed {
			still = lot(still, &offer)
		}
		still = decimal.Min(still, l.Quantity)
	}
	l.Quantity = still
}

// forLess takes a quantity off what a line was ordered for, the last first.
func (l *Line) forLess(job string, quantity decimal.Decimal) {
	list := slices.Clone(l.For)
	for i := range slices.Backward(list) {
		if f := &list[i]; f.Job == job {
			take := decimal.Min(f.Quantity, quantity)
			f.Quantity, quantity = f.Quantity.Sub(take), quantity.Sub(take)
		}
	}
	l.For = slices.DeleteFunc(list, func(f For) bool { return f.Quantity.Sign() <= 0 })
}

// leave makes a quantity the surplus of a line.
func (l *Line) leave(s Shed, quantity decimal.Decimal) {
	l.Surplus = slices.Clone(l.Surplus)
	at := slices.IndexFunc(l.Surplus, func(o Surplus) bool { return o.Job == s.Job && o.Variation == s.Variation && o.Dealt == "" })
	if at < 0 && len(l.Surplus) == MaxSurplus {
		at = MaxSurplus - 1
	}
	if at < 0 {
		l.Surplus = append(l.Surplus, Surplus{Job: s.Job, Variation: s.Variation, Since: s.On, Quantity: quantity})
		return
	}
	l.Surplus[at].Quantity = l.Surplus[at].Quantity.Add(quantity)
}

// again takes off what is left over as much as is wanted again.
func (s Shed) again(orders []Order, p Shedding) {
	wanted := p.Quantity.Neg()
	for i := range orders {
		for k := range orders[i].Lines {
			l := &orders[i].Lines[k]
			if l.Kind != p.Kind || l.wants() != p.Code || l.Undealt(s.Job).Sign() <= 0 {
				continue
			}
			l.Surplus = slices.Clone(l.Surplus)
			for n := range slices.Backward(l.Surplus) {
				if o := &l.Surplus[n]; o.Job == s.Job && o.Dealt == "" {
					take := decimal.Min(o.Quantity, wanted)
					o.Quantity, wanted = o.Quantity.Sub(take), wanted.Sub(take)
				}
			}
			l.Surplus = slices.DeleteFunc(l.Surplus, func(o Surplus) bool { return o.Quantity.Sign() <= 0 })
		}
	}
}

// DealWith says what becomes on a day of all that a line has left over. What the
// supplier takes back makes the line, and what the goods come to, so much less;
// an order of which nothing is to come any more is then closed, or cancelled
// where nothing ever came.
func (o Order) DealWith(line int, how Dealt, on string) (Order, document.Faults, error) {
	if !o.State.Open() {
		return o, o.not("dealt with", "Of a draft, change the lines."), nil
	}
	if line < 1 || line > len(o.Lines) {
		return o, document.Faults{{Code: "unknown_line", At: "line", Reason: fmt.Sprintf("The order has no line %d.", line), Remedy: fmt.Sprintf("Name one from 1 to %d.", len(o.Lines))}}, nil
	}
	if !slices.Contains(how.Words(), string(how)) || !calendar.Valid(on) {
		return o, document.Faults{{Code: "unknown_word", At: "how", Reason: fmt.Sprintf("Nothing becomes of it %q on %q.", how, on), Remedy: "Say taken back or to stock, and a day."}}, nil
	}
	o.Lines = slices.Clone(o.Lines)
	l := &o.Lines[line-1]
	left := l.Undealt("")
	if left.Sign() <= 0 {
		return o, document.Faults{{Code: "no_surplus", At: "line", Reason: "The line has nothing left over that is still to come.", Remedy: "Name a line that has."}}, nil
	}
	l.Surplus = slices.Clone(l.Surplus)
	for i := range l.Surplus {
		s := &l.Surplus[i]
		if s.Dealt != "" {
			continue
		}
		s.Dealt, s.DealtOn = how, on
		if how == TakenBack {
			take := decimal.Min(s.Quantity, left) // the rest has come
			l.Quantity, left, s.Quantity = l.Quantity.Sub(take), left.Sub(take), take
			l.forLess(s.Job, take)
		}
	}
	if how == TakenBack {
		if err := taken(&o, l); err != nil {
			return o, nil, err
		}
		over(&o, on)
	}
	return o, nil, nil
}

// taken works out what a line and the goods come to with less of it.
func taken(o *Order, l *Line) error {
	if l.UnitPrice == nil || l.Amount == nil {
		return nil
	}
	amount, err := money.Times(l.Quantity, l.UnitPrice.Decimal(), l.Amount.Currency(), money.HalfUp)
	if err != nil {
		return fmt.Errorf("%s: %w", l.Code, err)
	}
	l.Amount = &amount
	goods := money.Zero(amount.Currency())
	for i := range o.Lines {
		if a := o.Lines[i].Amount; a != nil {
			if goods, err = goods.Add(*a); err != nil {
				return fmt.Errorf("goods: %w", err)
			}
		}
	}
	o.Goods = &goods
	return nil
}

// over ends an order of which nothing is to come any more.
func over(o *Order, on string) {
	if slices.ContainsFunc(o.Lines, func(l Line) bool { return l.Left().Sign() > 0 }) {
		return
	}
	if o.State, o.EndedOn = Closed, on; len(o.Deliveries) == 0 {
		o.State = Cancelled
	}
}
