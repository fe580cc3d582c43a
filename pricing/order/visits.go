package order

import (
	"cmp"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/supply"
)

// outside proposes visits: of one kind of work, on the fewest days that suit
// every van while it is at the stage, at most so many vans at each. A visit
// whose every van can still wait for a later one is proposed on the last day it
// can be, so that others may join.
func (p *proposing) outside() error {
	seen := map[string]bool{}
	for i := range p.ask.Plan.Buy {
		l := &p.ask.Plan.Buy[i]
		if l.Kind != supply.Outside || seen[l.Code] {
			continue
		}
		seen[l.Code] = true
		if err := p.visits(l.Code); err != nil {
			return err
		}
	}
	return nil
}

// call is one van that a visit is wanted for, on any day of its span.
type call struct {
	from, until string
	f           For
}

func (p *proposing) visits(code string) error {
	var calls []call
	for i := range p.ask.Plan.Buy {
		l := &p.ask.Plan.Buy[i]
		if l.Kind != supply.Outside || l.Code != code {
			continue
		}
		for _, f := range l.For {
			if f.Want < 0 {
				continue
			}
			w := &p.ask.Wants[f.Want]
			calls = append(calls, call{w.Day, max(w.Day, w.Until), p.forWant(f, w.Day)})
		}
	}
	offer, ok := p.ask.Book.OutsideOffer(code)
	for _, v := range together(calls, cmp.Or(p.ask.MostVans, DefaultMostVans)) {
		on, calls := v.on, v.calls
		known := p.names[supply.Outside][code]
		l := ProposedLine{Kind: supply.Outside, Code: code, Name: cmp.Or(known.name, code), Unit: known.unit, Certificate: known.certificate,
			Quantity: visitsOf(calls), WantedOn: on, Pack: decimal.New(1, 0), OrderBy: on}
		l.Wanted = l.Quantity
		for _, c := range calls {
			l.For = append(l.For, c.f)
		}
		if !ok {
			p.out.Unsourced = append(p.out.Unsourced, l)
			continue
		}
		var err error
		if l.OrderBy, err = p.ask.Calendar.Back(on, offer.LeadDays); err != nil {
			return err
		}
		if l.OrderBy > p.ask.OrderBy {
			continue
		}
		l.TooLate = l.OrderBy < p.ask.Today
		if err := p.price(&l, &offer); err != nil {
			return err
		}
		if l.TooLate {
			if l.Alternatives, err = Alternatives(p.ask.Book, p.ask.Calendar, p.ask.Today, &l); err != nil {
				return err
			}
		}
		p.add(offer.Supplier, l)
	}
	return nil
}

// visitsOf is how many visits the vans want together: as many as the one that
// wants most.
func visitsOf(calls []call) decimal.Decimal {
	most := decimal.New(1, 0)
	for _, c := range calls {
		most = decimal.Max(most, c.f.Quantity.Ceil())
	}
	return most
}

// visit is one day and the vans seen to on it.
type visit struct {
	on    string
	calls []call
}

// together puts calls on the fewest days: whoever has to be seen first decides
// the day, the last one that suits, and all who can be seen then are, those
// who can wait least first.
func together(calls []call, most int) []visit {
	left := slices.Clone(calls)
	slices.SortStableFunc(left, func(a, b call) int {
		return cmp.Or(strings.Compare(a.until, b.until), strings.Compare(a.from, b.from))
	})
	var list []visit
	for len(left) > 0 {
		v := visit{on: left[0].until}
		left = slices.DeleteFunc(left, func(c call) bool {
			joins := len(v.calls) < most && c.from <= v.on
			if joins {
				v.calls = append(v.calls, c)
			}
			return joins
		})
		list = append(list, v)
	}
	return list
}
