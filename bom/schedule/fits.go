package schedule

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
)

// Limits of a slot: more is refused.
const (
	MaxStays    = 200
	MaxDayHours = 5_000
)

// Fits says what is wrong with a slot for the work on the floor as it is
// booked: nothing where it can be booked. What is under the key, if anything,
// counts as not booked: that is how a slot is held against the rest when it is
// moved.
//
// A slot fits that has all hours of the work and no others, each stage after
// those it comes after and what stands after them, in places that take it, with
// people, places and days that are free. Whether the van stands idle is not
// asked: who wants that, may.
func (p *Plan) Fits(key string, w Work, s Slot) document.Faults {
	if faults := w.Check(); faults != nil {
		return faults
	}
	was, had := p.Take(key)
	if had {
		defer p.Book(key, was)
	}
	f := fitting{p: p, w: w, s: s}
	if f.days(); f.Faults() != nil {
		return f.Faults()
	}
	f.tasks = p.tasks(w)
	f.places()
	if f.hours(); f.Faults() != nil {
		return f.Faults()
	}
	f.people()
	f.order()
	return f.Faults()
}

type fitting struct {
	floorChecker
	p     *Plan
	w     Work
	s     Slot
	tasks []task
	// worked are the hours by stage, day and need.
	worked []map[int][]int
}

// days holds the form of the slot: days that are days, in order, hours on days
// of their stages and stays.
func (f *fitting) days() {
	if len(f.s.Stays) == 0 || len(f.s.Stays) > MaxStays || len(f.s.Hours) > MaxDayHours || len(f.s.Stages) > MaxStages {
		f.add("out_of_range", "stays", "The slot has no stay, or more stays, stages or hours than can be planned.",
			fmt.Sprintf("Give 1 to %d stays and at most %d entries of hours.", MaxStays, MaxDayHours))
		return
	}
	for i, o := range f.s.Stays {
		at := document.Join("stays", i+1)
		switch {
		case !calendar.Valid(o.From) || !calendar.Valid(o.Until) || o.Until < o.From:
			f.add("not_a_day", at, "The stay does not go from one day to the same or a later one.", "Write both days as year-month-day.")
		case i > 0 && o.From <= f.s.Stays[i-1].Until:
			f.add("stays_overlap", at+"/from", fmt.Sprintf("On %s the van is still in %s.", calendar.Said(o.From), f.s.Stays[i-1].Place),
				"Let a stay begin after the one before it has ended.")
		}
	}
	if f.Faults() != nil {
		return
	}
	if first, last := number(f.s.From()), number(f.s.Until()); last-first >= MaxSlotDays {
		f.add("out_of_range", "stays", fmt.Sprintf("The slot is %d days long.", last-first+1), fmt.Sprintf("At most %d can be planned.", MaxSlotDays))
	}
	for i, o := range f.s.Hours {
		at := document.Join("hours", i+1)
		if !calendar.Valid(o.Day) || f.stay(o.Day) == nil {
			f.add("outside_stays", at+"/day", fmt.Sprintf("On %s the van is in no place.", calendar.Said(o.Day)), "Give it a stay, or another day to the hours.")
		}
		if !o.Hours.IsPositive() || o.Hours.GreaterThan(decimal.New(MaxStageHours, 0)) {
			f.add("out_of_range", at+"/hours", fmt.Sprintf("%s hours cannot be booked.", o.Hours), "Give what is worked on the day.")
		}
	}
}

// stay is where the van is on a day; nil for nowhere.
func (f *fitting) stay(day string) *Stay {
	for i := range f.s.Stays {
		if o := &f.s.Stays[i]; o.From <= day && day <= o.Until {
			return o
		}
	}
	return nil
}

func (f *fitting) placeOf(code string) int {
	return slices.IndexFunc(f.p.places, func(o Place) bool { return o.Code == code })
}

// places holds the stays against the places and what stands in them.
func (f *fitting) places() {
	for i, o := range f.s.Stays {
		at := document.Join("stays", i+1)
		place := f.placeOf(o.Place)
		if place < 0 {
			f.add("unknown_place", at+"/place", fmt.Sprintf("There is no place %q on the floor.", o.Place), "Name one there is.")
			continue
		}
		of := &f.p.places[place]
		if !of.holds(f.w) {
			f.add("van_too_large", at+"/place", fmt.Sprintf("%s is too small for a van %d mm long and %d mm high.",
				of.Name, f.w.LengthMM, f.w.HeightMM), "Choose another place.")
		}
		for n := number(o.From); n <= number(o.Until); n++ {
			if !f.p.room(place, n) {
				f.add("place_taken", at, fmt.Sprintf("%s is taken on %s by %s.", of.Name, calendar.Said(written(n)), listed(f.p.standing(o.Place, written(n)))),
					"Choose other days or another place.")
				break
			}
		}
	}
}

// hours sorts the hours by stage, day and need, and holds their sums against
// the work.
func (f *fitting) hours() {
	before := len(f.Faults())
	f.worked = make([]map[int][]int, len(f.tasks))
	for i := range f.tasks {
		f.worked[i] = map[int][]int{}
	}
	for i, o := range f.s.Hours {
		at := document.Join("hours", i+1)
		task := slices.IndexFunc(f.tasks, func(t task) bool { return t.code == o.Stage })
		if task < 0 {
			f.add("unknown_stage", at+"/stage", fmt.Sprintf("The work has no stage %q.", o.Stage), "Name one it has.")
			continue
		}
		t := &f.tasks[task]
		need := slices.IndexFunc(t.needs, func(n need) bool { return f.p.trades[n.trade].name == o.Trade })
		if need < 0 {
			f.add("unknown_trade", at+"/trade", fmt.Sprintf("%s wants no hours of %q.", t.name, o.Trade), "Name a trade it wants.")
			continue
		}
		if place := f.placeOf(f.stay(o.Day).Place); place >= 0 && t.holds[place] && !t.takes[place] {
			f.add("place_unsuitable", at+"/day", fmt.Sprintf("%s cannot be done in %s.", t.name, f.p.places[place].Name), "Let the van stand where it can.")
		}
		n := number(o.Day)
		if f.worked[task][n] == nil {
			f.worked[task][n] = make([]int, len(t.needs))
		}
		f.worked[task][n][need] += hundredths(o.Hours)
	}
	if len(f.Faults()) > before {
		return
	}
	for i := range f.tasks {
		t := &f.tasks[i]
		for j, need := range t.needs {
			sum := 0
			for _, share := range f.worked[i] {
				sum += share[j]
			}
			if sum != need.hours {
				f.add("hours_differ", "hours", fmt.Sprintf("%s wants %s h of %s, and %s h are given.", t.name, hours(need.hours),
					f.p.trades[need.trade].name, hours(sum)), "Give all hours of the work and no others.")
			}
		}
	}
}

// people holds the hours against the people there are on each day.
func (f *fitting) people() {
	wanted := map[int]map[int]int{} // by day and trade
	for i := range f.tasks {
		for n, share := range f.worked[i] {
			if wanted[n] == nil {
				wanted[n] = map[int]int{}
			}
			for j, h := range share {
				wanted[n][f.tasks[i].needs[j].trade] += h
			}
		}
	}
	for _, n := range ordered(wanted) {
		d := f.p.day(n)
		left := make([][]int, len(d.left))
		for i := range left {
			left[i] = slices.Clone(d.left[i])
		}
		for _, t := range ordered(wanted[n]) {
			h := wanted[n][t]
			if spare := f.p.spare(left, t); h > spare {
				f.add("trade_booked", "hours", fmt.Sprintf("On %s the trade %s has %s h left, and %s h are wanted.", calendar.Said(written(n)),
					f.p.trades[t].name, hours(spare), hours(h)), "Choose other days, or let somebody work longer.")
				continue
			}
			f.p.spend(left, t, h)
		}
	}
}

// order holds the hours of each day against its length and the stages against
// each other.
func (f *fitting) order() {
	done := make([]int, len(f.tasks))
	used, most := map[int]int{}, map[int]int{}
	for i := range f.tasks {
		t := &f.tasks[i]
		begin := 0
		for _, j := range t.after {
			begin = max(begin, done[j])
		}
		done[i] = begin + t.standing
		for _, n := range ordered(f.worked[i]) {
			share, d := f.worked[i][n], f.p.day(n)
			offset := max(begin-n*aDay, 0)
			if offset >= d.length || d.length == 0 {
				f.add("stage_order", "hours", fmt.Sprintf("%s cannot be worked on %s: what comes before is not done, or cures, or nobody works.", t.name, calendar.Said(written(n))),
					"Choose a later day.")
				return
			}
			long := took(t, share, d)
			if offset+long > d.length {
				f.add("day_too_short", "hours", fmt.Sprintf("%s takes %s h on %s, and %s h of the day are left for it.", t.name, hours(long),
					calendar.Said(written(n)), hours(d.length-offset)), "Give some of it to another day.")
			}
			used[n] += sum(share)
			most[n] = max(most[n], t.people)
			done[i] = n*aDay + offset + long + t.standing
		}
	}
	for _, n := range ordered(used) {
		if d := f.p.day(n); used[n] > most[n]*d.length {
			f.add("too_many_people", "hours", fmt.Sprintf("On %s there are %s h at the van, more than %d people work.", calendar.Said(written(n)), hours(used[n]), most[n]),
				"Give some of it to another day.")
		}
	}
	if last := f.s.Until(); slices.ContainsFunc(done, func(at int) bool { return at > (number(last)+1)*aDay }) {
		f.add("standing_time", "stays", fmt.Sprintf("The van leaves on %s, and something still cures.", calendar.Said(last)), "Let it stay longer.")
	}
}

// ordered are the keys of a map in their order.
func ordered[V any](m map[int]V) []int {
	keys := make([]int, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
