package schedule

import (
	"slices"
	"strconv"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
)

// Plan is a floor with what is booked on it. It is not for several goroutines
// at once, not even to read: days are worked out when they are first looked at.
//
// A demand of hours by trade on a day fits when for every set of trades what is
// wanted of them is at most the hours of those who have any of them: the
// condition of P. Hall (1935) and D. Gale (1957) for flows of supply to demand.
// So somebody with two trades is counted for both and booked for once.
type Plan struct {
	floor  Floor
	places []Place
	trades []trade
	byName map[string]int
	pools  []pool
	crew   []crewMember

	origin int // number of days[0]
	days   []*day
	// wanted and taken are what is booked, by day.
	booked map[string]Slot
}

// trade is a trade and where its hours are counted.
type trade struct {
	name string
	pool int
	bit  int // within the pool
}

// pool is trades that people share. One that nobody has is a pool of its own.
type pool struct {
	trades  []int
	members []int // of the crew
	masks   []int // of each of them: which of the trades
}

// day is what there is on a day, and what of it is left.
type day struct {
	works  bool
	length int   // of the longest day of anybody, in hundredths
	pace   []int // of those present, by trade, in percent
	// most and left by pool and set of its trades.
	most, left [][]int
	wanted     []int // by trade
	vans       []int // by place
}

// New is an empty plan of a floor. Faults are those of the floor.
func New(f Floor) (*Plan, document.Faults) {
	if faults := f.Check(); faults != nil {
		return nil, faults
	}
	p := &Plan{floor: f, places: f.Places, byName: map[string]int{}, booked: map[string]Slot{}}
	for _, set := range f.tiedTrades() {
		n := len(p.pools)
		p.pools = append(p.pools, pool{})
		for i, name := range set {
			p.byName[name] = len(p.trades)
			p.pools[n].trades = append(p.pools[n].trades, len(p.trades))
			p.trades = append(p.trades, trade{name, n, i})
		}
	}
	for i := range f.Crew {
		m := ready(&f.Crew[i], p.trade)
		p.crew = append(p.crew, m)
		if len(m.trades) == 0 {
			continue
		}
		of := &p.pools[p.trades[m.trades[0]].pool]
		mask := 0
		for _, t := range m.trades {
			mask |= 1 << p.trades[t].bit
		}
		of.members, of.masks = append(of.members, i), append(of.masks, mask)
	}
	return p, nil
}

// Floor is what the plan is of.
func (p *Plan) Floor() Floor { return p.floor }

// trade is the number of a trade; one that nobody has gets one.
func (p *Plan) trade(name string) int {
	if t, ok := p.byName[name]; ok {
		return t
	}
	t := len(p.trades)
	p.byName[name] = t
	p.trades = append(p.trades, trade{name, len(p.pools), 0})
	p.pools = append(p.pools, pool{trades: []int{t}})
	for i, d := range p.days { // looked at before the trade was known
		if d != nil {
			p.days[i] = nil
			p.days[i] = p.worked(p.origin+i, d)
		}
	}
	return t
}

// Book puts a slot into the plan under a key, in place of what was there under
// it. It does not ask whether it fits: Fits does.
func (p *Plan) Book(key string, s Slot) {
	p.Take(key)
	p.booked[key] = s
	p.count(s, 1)
}

// Take takes a slot out of the plan, and says which it was; false for none.
func (p *Plan) Take(key string) (Slot, bool) {
	s, ok := p.booked[key]
	if ok {
		delete(p.booked, key)
		p.count(s, -1)
	}
	return s, ok
}

// Booked is the slot under a key, false for none.
func (p *Plan) Booked(key string) (Slot, bool) {
	s, ok := p.booked[key]
	return s, ok
}

// Keys are those of all slots booked, in their order.
func (p *Plan) Keys() []string {
	keys := make([]string, 0, len(p.booked))
	for key := range p.booked {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}

// count adds a slot to what is taken, or with -1 takes it off.
func (p *Plan) count(s Slot, sign int) {
	for _, h := range s.Hours {
		t := p.trade(h.Trade)
		d := p.day(number(h.Day))
		n := sign * hundredths(h.Hours)
		d.wanted[t] += n
		p.spend(d.left, t, n)
	}
	for _, stay := range s.Stays {
		place := slices.IndexFunc(p.places, func(o Place) bool { return o.Code == stay.Place })
		if place < 0 {
			continue // a place that is gone: Overbooked tells of it
		}
		for n := number(stay.From); n <= number(stay.Until); n++ {
			p.day(n).vans[place] += sign
		}
	}
}

// spend takes hours of a trade off what is left of every set it is in.
func (p *Plan) spend(left [][]int, t, n int) {
	of := p.trades[t]
	sets := left[of.pool]
	for set := range sets {
		if set&(1<<of.bit) != 0 {
			sets[set] -= n
		}
	}
}

// spare is how many hours of a trade are left: the least that any set of
// trades with it has, for what others of the set want of the same people is
// booked.
func (p *Plan) spare(left [][]int, t int) int {
	of := p.trades[t]
	sets := left[of.pool]
	least := sets[1<<of.bit]
	for set, n := range sets {
		if set&(1<<of.bit) != 0 && n < least {
			least = n
		}
	}
	return max(least, 0)
}

// day is the day of a number, worked out when first asked for.
func (p *Plan) day(n int) *day {
	if len(p.days) == 0 {
		p.origin = n
	}
	if n < p.origin {
		more := p.origin - n + 64
		p.days = append(make([]*day, more), p.days...)
		p.origin -= more
	}
	for n-p.origin >= len(p.days) {
		p.days = append(p.days, nil)
	}
	d := p.days[n-p.origin]
	if d == nil {
		d = p.worked(n, nil)
		p.days[n-p.origin] = d
	}
	return d
}

// worked works a day out, with what was booked on it before.
func (p *Plan) worked(n int, was *day) *day {
	d := &day{pace: make([]int, len(p.trades)), wanted: make([]int, len(p.trades)), vans: make([]int, len(p.places)),
		most: make([][]int, len(p.pools)), left: make([][]int, len(p.pools))}
	d.works, _ = p.floor.Calendar.Works(written(n))
	weekday := n % 7 // 1 January 1900 was a Monday
	present := make([]int, len(p.crew))
	for i := range p.crew {
		m := &p.crew[i]
		present[i] = m.hoursOn(n, weekday, d.works)
		if present[i] == 0 {
			continue
		}
		d.length = max(d.length, present[i])
		for _, t := range m.trades {
			d.pace[t] += m.pace
		}
	}
	for i := range p.pools {
		of := &p.pools[i]
		d.most[i] = make([]int, 1<<len(of.trades))
		for j, m := range of.members {
			done := present[m] * p.crew[m].pace / wholePace
			for set := range d.most[i] {
				if set&of.masks[j] != 0 {
					d.most[i][set] += done
				}
			}
		}
		d.left[i] = slices.Clone(d.most[i])
	}
	if was != nil {
		copy(d.vans, was.vans)
		for t, n := range was.wanted {
			d.wanted[t] = n
			p.spend(d.left, t, n)
		}
	}
	return d
}

// room says whether another van can stand in a place on a day.
func (p *Plan) room(place, n int) bool { return p.day(n).vans[place] < p.places[place].Vans }

// Overbooking is a day on which more is booked than there is, because the
// floor is another than when it was booked.
type Overbooking struct {
	Day string `json:"day"`
	// Place or Trades, whichever there is too little of. Trades are one, or
	// several that the same people have.
	Place  string   `json:"place,omitempty"`
	Trades []string `json:"trades,omitempty"`
	// Slots by their keys that want it on that day, in their order.
	Slots []string `json:"slots"`
	Says  string   `json:"says"`
}

// MaxOverbookings are told.
const MaxOverbookings = 200

// Overbooked tells from a day on what is booked beyond what there is, at most
// MaxOverbookings of it.
func (p *Plan) Overbooked(from string) []Overbooking {
	out := []Overbooking{}
	first := number(from)
	for i := 0; i < len(p.days) && len(out) < MaxOverbookings; i++ {
		if d := p.days[i]; d != nil && p.origin+i >= first {
			out = append(out, p.beyond(p.origin+i, d)...)
		}
	}
	for _, key := range p.Keys() {
		for _, stay := range p.booked[key].Stays {
			if stay.Until >= from && !slices.ContainsFunc(p.places, func(o Place) bool { return o.Code == stay.Place }) {
				out = append(out, Overbooking{Day: max(stay.From, from), Place: stay.Place, Slots: []string{key},
					Says: "A van stands from " + calendar.Said(stay.From) + " in " + stay.Place + ", which is no place any more."})
			}
		}
	}
	return out[:min(len(out), MaxOverbookings)]
}

// beyond is what is booked beyond what there is on a day.
func (p *Plan) beyond(n int, d *day) []Overbooking {
	var out []Overbooking
	for place, vans := range d.vans {
		if of := &p.places[place]; vans > of.Vans {
			out = append(out, Overbooking{Day: written(n), Place: of.Code, Slots: p.standing(of.Code, written(n)),
				Says: of.Name + " has room for " + strconv.Itoa(of.Vans) + " on " + calendar.Said(written(n)) + ", and " + strconv.Itoa(vans) + " are booked into it."})
		}
	}
	for i, sets := range d.left {
		worst := 0
		for set, n := range sets {
			if n < sets[worst] {
				worst = set
			}
		}
		if worst == 0 {
			continue
		}
		o := Overbooking{Day: written(n)}
		for bit, t := range p.pools[i].trades {
			if worst&(1<<bit) != 0 && d.wanted[t] > 0 {
				o.Trades = append(o.Trades, p.trades[t].name)
			}
		}
		o.Slots = p.wanting(o.Trades, o.Day)
		o.Says = "On " + calendar.Said(o.Day) + " there are " + hours(d.most[i][worst]).StringFixed(2) + " h of " + listed(o.Trades) +
			", and " + hours(d.most[i][worst]-sets[worst]).StringFixed(2) + " h are booked."
		out = append(out, o)
	}
	return out
}

// standing are the keys of the slots that stand in a place on a day.
func (p *Plan) standing(place, day string) []string {
	return p.keysOf(func(s *Slot) bool {
		return slices.ContainsFunc(s.Stays, func(o Stay) bool { return o.Place == place && o.From <= day && day <= o.Until })
	})
}

// wanting are the keys of the slots that want one of the trades on a day.
func (p *Plan) wanting(trades []string, day string) []string {
	return p.keysOf(func(s *Slot) bool {
		return slices.ContainsFunc(s.Hours, func(o DayHours) bool { return o.Day == day && slices.Contains(trades, o.Trade) })
	})
}

func (p *Plan) keysOf(holds func(*Slot) bool) []string {
	keys := []string{}
	for key, s := range p.booked {
		if holds(&s) {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	return keys
}

// listed is a list in a sentence.
func listed(names []string) string {
	switch len(names) {
	case 0:
		return "nobody"
	case 1:
		return names[0]
	}
	text := names[0]
	for _, n := range names[1 : len(names)-1] {
		text += ", " + n
	}
	return text + " and " + names[len(names)-1]
}
