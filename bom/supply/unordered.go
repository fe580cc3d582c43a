package supply

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// Unordered is what of one stage of a job nobody has ordered.
type Unordered struct {
	Job, Stage string
	// Wanted is the first day on which any of it is wanted, OrderBy the last on
	// which all of it can be ordered in time.
	Wanted, OrderBy string
	// There is when the last of it is there if it is ordered today, and has gone
	// through the bench where it goes into a kit; "" where nobody has said of
	// any how long it takes.
	There string
	// TooLate: OrderBy has passed.
	TooLate bool
	Parts   []UnorderedPart
}

// UnorderedPart is so much of a part, in its unit.
type UnorderedPart struct {
	Code, Name, Unit string
	Quantity         decimal.Decimal
}

// Unordered tells the parts that the plan would have to order, by job and
// stage, what is to be ordered first first. kept says of which parts it can be
// told: where a workshop neither counts nor orders a part, that nobody has
// ordered it says nothing.
//
// Error: ErrDay.
func (p *Position) Unordered(plan *Plan, wants []Want, kept func(part string) bool) ([]Unordered, error) {
	u := unordered{p: p, days: daysOf(p.Calendar), items: make(map[itemKey]*Item, len(p.Items)), at: map[[2]string]int{}}
	for i := range p.Items {
		u.items[keyOf(p.Items[i].Kind, p.Items[i].Code)] = &p.Items[i]
	}
	for i := range plan.Buy {
		lot := &plan.Buy[i]
		if lot.Kind != Part || !kept(lot.Code) {
			continue
		}
		for _, f := range lot.For {
			if f.Want < 0 {
				continue
			}
			if err := u.add(lot, &wants[f.Want], f.Quantity); err != nil {
				return nil, err
			}
		}
	}
	slices.SortStableFunc(u.list, func(a, b Unordered) int {
		return cmp.Or(strings.Compare(a.OrderBy, b.OrderBy), strings.Compare(a.Wanted, b.Wanted), strings.Compare(a.Job, b.Job), strings.Compare(a.Stage, b.Stage))
	})
	return u.list, nil
}

type unordered struct {
	p     *Position
	days  *days
	items map[itemKey]*Item
	list  []Unordered
	at    map[[2]string]int // job and stage
}

func (u *unordered) add(lot *Planned, w *Want, quantity decimal.Decimal) error {
	key := [2]string{w.Job, w.Stage}
	k, known := u.at[key]
	if !known {
		k = len(u.list)
		u.at[key] = k
		u.list = append(u.list, Unordered{Job: w.Job, Stage: w.Stage, Wanted: lot.Day, OrderBy: lot.StartBy})
	}
	s := &u.list[k]
	s.Wanted, s.OrderBy, s.TooLate = min(s.Wanted, lot.Day), min(s.OrderBy, lot.StartBy), s.TooLate || lot.TooLate
	there, err := u.there(lot, w)
	if err != nil {
		return err
	}
	s.There = max(s.There, there)
	part := UnorderedPart{Code: lot.Code, Name: lot.Code, Quantity: quantity}
	if w.Code == lot.Code {
		part.Name, part.Unit = w.Name, w.Unit
	}
	i := slices.IndexFunc(s.Parts, func(o UnorderedPart) bool { return o.Code == part.Code })
	if i < 0 {
		s.Parts = append(s.Parts, part)
		return nil
	}
	s.Parts[i].Quantity = s.Parts[i].Quantity.Add(quantity)
	return nil
}

// there is when a lot that is ordered today is in the van, by way of its kits.
func (u *unordered) there(lot *Planned, w *Want) (string, error) {
	item := u.items[keyOf(lot.Kind, lot.Code)]
	if item == nil || item.Unsourced {
		return "", nil
	}
	working := item.LeadDays
	for _, kit := range w.Via {
		if made := u.items[keyOf(Kit, kit)]; made != nil {
			working += made.LeadDays
		}
	}
	return u.days.on(u.p.Today, working)
}

// Says it in a sentence, with the names of the first few.
func (u *Unordered) Says() string {
	named := make([]string, min(len(u.Parts), MostNamed))
	for i := range named {
		named[i] = u.Parts[i].Name
	}
	says := "Nobody has ordered " + strings.Join(named, ", ")
	if more := len(u.Parts) - len(named); more > 0 {
		says += fmt.Sprintf(" and %d more", more)
	}
	return says + "."
}
