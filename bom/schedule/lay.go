package schedule

import (
	"cmp"
	"slices"
)

// How far slots are looked for, and what is too little to plan.
const (
	// MaxSearchDays after the first day asked for on which a slot may begin.
	MaxSearchDays = 730
	// MaxSlotDays from the first to the last day of a slot.
	MaxSlotDays = 400
	// leastHours that somebody comes to a van for, in hundredths, unless less
	// finishes what is theirs at the stage.
	leastHours = 50
	// runDays ahead a place is looked at for how long it stays free.
	runDays = 60
)

// laying is one van laid out from one first day on.
//
// The rule, day by day: of the stages that can be worked, in their order, each
// gets the hours that people, place and day leave it. The first of them decides
// where the van stands: it stays where it is where that will do, else it goes
// where most of what is still to do can be done, a bay rather than the yard,
// and of those where there is room longest. A day on which the floor works,
// nobody works at the van and nothing cures is an idle one. On the first day
// something must be done.
type laying struct {
	p     *Plan
	tasks []task
	left  [][]int // hours left of each need
	done  []int   // when a task was finished, standing included, by the clock; below 0 while it is not
	from  []int   // first and last days worked at it
	until []int
	hours []booking
	stays []stay
	place int // below 0 before the first
	idle  int
}

type booking struct{ day, task, trade, hours int }

type stay struct{ place, from, until int }

// lay lays the work out from a first day on. Where it cannot be, what is in the
// way comes back.
func (p *Plan) lay(tasks []task, first int) (*laying, *miss) {
	l := &laying{p: p, tasks: tasks, left: make([][]int, len(tasks)), done: make([]int, len(tasks)),
		from: make([]int, len(tasks)), until: make([]int, len(tasks)), place: -1}
	for i := range tasks {
		l.done[i], l.from[i], l.until[i] = -1, -1, -1
		for _, n := range tasks[i].needs {
			l.left[i] = append(l.left[i], n.hours)
		}
	}
	for n := first; n < first+MaxSlotDays; n++ {
		worked, why := l.workOn(n)
		if worked {
			l.idle = 0
		} else if p.day(n).works && !l.curing(n) && !l.finished(n) {
			l.idle++
		}
		switch {
		case n == first && !worked, l.idle > p.floor.MostIdleDays:
			return nil, &miss{why, n, first}
		case !worked && !l.keep(n):
			return nil, &miss{obstacle{kind: NoPlace, task: -1}, n, first}
		case l.finished(n):
			return l, nil
		}
	}
	return nil, &miss{obstacle{kind: TooLong, task: -1}, first + MaxSlotDays, first}
}

// obstacle is the first thing that kept a day from being worked; its kind is
// "" where nothing did but the order of the work.
type obstacle struct {
	kind  ReasonKind
	task  int
	trade int
	until int
}

// miss is why a first day is none, and the day on which that shows.
type miss struct {
	obstacle
	day, first int
}

// workOn works at the van on a day, as much as can be.
func (l *laying) workOn(n int) (worked bool, why obstacle) {
	d := l.p.day(n)
	note := func(o obstacle) {
		if why.kind == "" {
			why = o
		}
	}
	if d.length == 0 {
		note(obstacle{kind: NotWorked, task: -1})
		return false, why
	}
	spare := make([][]int, len(d.left)) // what is left beside what this van takes today, of the pools it touches
	place, used, most := -1, 0, 0
	for i := range l.tasks {
		t := &l.tasks[i]
		at, can := l.canBegin(i, n, d.length, note)
		if !can {
			continue
		}
		if len(t.needs) == 0 {
			l.had(i, n, at)
			continue
		}
		offset := max(at-n*aDay, 0)
		room := d.length - offset
		least := max(most, t.people)
		share := l.share(i, d, spare, room, least*d.length-used)
		if sum(share) == 0 {
			note(obstacle{kind: NoHours, task: i, trade: l.scarce(i, d, spare)})
			continue
		}
		if place < 0 {
			if place = l.choose(i, n); place < 0 {
				note(obstacle{kind: NoBay, task: i})
				continue
			}
			l.stand(place, n)
		} else if !t.takes[place] {
			continue
		}
		l.book(i, n, offset, share, d, spare)
		worked = true
		used += sum(share)
		most = least
	}
	return worked, why
}

// canBegin says when a task can begin, by the clock, and whether that is on a
// day, or could be gone on with.
func (l *laying) canBegin(i, n, length int, note func(obstacle)) (at int, can bool) {
	t := &l.tasks[i]
	if l.done[i] >= 0 {
		return 0, false
	}
	at = t.ready * aDay
	cures := false
	for _, j := range t.after {
		if l.done[j] < 0 {
			return 0, false
		}
		if l.done[j] > at {
			at, cures = l.done[j], l.tasks[j].standing > 0
		}
	}
	if at < n*aDay+length {
		return at, true
	}
	if !cures && t.ready > n {
		note(obstacle{kind: NoParts, task: i, until: t.ready})
	}
	return 0, false
}

// had finishes a task that takes no time.
func (l *laying) had(i, n, at int) {
	l.done[i] = max(at, n*aDay) + l.tasks[i].standing
	l.from[i], l.until[i] = n, n
}

// share is how many hours each need of a task gets on a day.
func (l *laying) share(i int, d *day, spare [][]int, room, van int) []int {
	t := &l.tasks[i]
	share := make([]int, len(t.needs))
	people := min(t.people*room, van)
	for j, n := range t.needs {
		left := l.left[i][j]
		if left == 0 {
			continue
		}
		h := min(left, people, d.pace[n.trade]*room/wholePace)
		if h > 0 {
			h = min(h, l.p.spare(l.of(d, spare, n.trade), n.trade))
		}
		if h < left && h < leastHours {
			continue
		}
		share[j] = h
		people -= h
		l.p.spend(spare, n.trade, h)
	}
	for j, h := range share { // taken back: it is booked once there is a place
		if h == 0 {
			continue
		}
		l.p.spend(l.of(d, spare, t.needs[j].trade), t.needs[j].trade, -h)
	}
	return share
}

// of is what is left of a trade's pool on a day, beside what this van takes of
// it.
func (l *laying) of(d *day, spare [][]int, trade int) [][]int {
	pool := l.p.trades[trade].pool
	if spare[pool] == nil {
		spare[pool] = slices.Clone(d.left[pool])
	}
	return spare
}

// scarce is the trade of a task of which the least is left.
func (l *laying) scarce(i int, d *day, spare [][]int) int {
	best, least := l.tasks[i].needs[0].trade, -1
	for j, n := range l.tasks[i].needs {
		if l.left[i][j] == 0 {
			continue
		}
		if h := l.p.spare(l.of(d, spare, n.trade), n.trade); least < 0 || h < least {
			best, least = n.trade, h
		}
	}
	return best
}

// book takes a share for a task, and finishes it where nothing is left.
func (l *laying) book(i, n, offset int, share []int, d *day, spare [][]int) {
	t := &l.tasks[i]
	left := 0
	for j, h := range share {
		l.left[i][j] -= h
		left += l.left[i][j]
		if h > 0 {
			l.p.spend(l.of(d, spare, t.needs[j].trade), t.needs[j].trade, h)
			l.hours = append(l.hours, booking{n, i, t.needs[j].trade, h})
		}
	}
	if l.from[i] < 0 {
		l.from[i] = n
	}
	l.until[i] = n
	if left == 0 {
		l.done[i] = n*aDay + offset + took(t, share, d) + t.standing
	}
}

// took is how long the shares of a task take on a day, by the clock.
func took(t *task, share []int, d *day) int {
	longest := ceil(sum(share), t.people)
	for j, h := range share {
		if h > 0 {
			longest = max(longest, ceil(h*wholePace, max(d.pace[t.needs[j].trade], 1)))
		}
	}
	return longest
}

// choose is the place for a task on a day, below 0 for none.
func (l *laying) choose(i, n int) int {
	t := &l.tasks[i]
	if l.place >= 0 && t.takes[l.place] && l.p.room(l.place, n) {
		return l.place
	}
	best, bestKey := -1, [3]int{}
	for place := range l.p.places {
		if !t.takes[place] || !l.p.room(place, n) {
			continue
		}
		key := [3]int{l.suits(place), 0, l.run(place, n)}
		if l.p.places[place].Kind == Bay {
			key[1] = 1
		}
		if best < 0 || slices.Compare(key[:], bestKey[:]) > 0 {
			best, bestKey = place, key
		}
	}
	return best
}

// suits counts what is still to do that can be done in a place.
func (l *laying) suits(place int) int {
	n := 0
	for i := range l.tasks {
		if l.done[i] < 0 && l.tasks[i].takes[place] {
			n++
		}
	}
	return n
}

// run is for how many days a place has room, at most runDays.
func (l *laying) run(place, n int) int {
	for i := range runDays {
		if !l.p.room(place, n+i) {
			return i
		}
	}
	return runDays
}

// keep lets the van stand on a day on which nobody works at it: where it is,
// else in the yard, else in any place.
func (l *laying) keep(n int) bool {
	if l.place >= 0 && l.p.room(l.place, n) {
		l.stand(l.place, n)
		return true
	}
	best, bestKey := -1, [2]int{}
	for place := range l.p.places {
		if !l.p.room(place, n) || !l.holds(place) {
			continue
		}
		key := [2]int{0, l.run(place, n)}
		if l.p.places[place].Kind == Yard {
			key[0] = 1
		}
		if best < 0 || cmp.Or(cmp.Compare(key[0], bestKey[0]), cmp.Compare(key[1], bestKey[1])) > 0 {
			best, bestKey = place, key
		}
	}
	if best >= 0 {
		l.stand(best, n)
	}
	return best >= 0
}

// holds says whether the van is small enough for a place.
func (l *laying) holds(place int) bool { return l.tasks[0].holds[place] }

func (l *laying) stand(place, n int) {
	l.place = place
	if k := len(l.stays) - 1; k >= 0 && l.stays[k].place == place && l.stays[k].until == n-1 {
		l.stays[k].until = n
		return
	}
	l.stays = append(l.stays, stay{place, n, n})
}

// curing says whether something stands at the beginning of a day.
func (l *laying) curing(n int) bool {
	for i, at := range l.done {
		if l.tasks[i].standing > 0 && at > n*aDay {
			return true
		}
	}
	return false
}

// finished says whether all is done and nothing stands after a day.
func (l *laying) finished(n int) bool {
	for _, at := range l.done {
		if at < 0 || at > (n+1)*aDay {
			return false
		}
	}
	return true
}

// slot is what was laid out, as a value.
func (l *laying) slot() Slot {
	s := Slot{Stays: l.slotOfStays(), Stages: make([]StageDays, len(l.tasks)), Hours: make([]DayHours, len(l.hours))}
	for i := range l.tasks {
		s.Stages[i] = StageDays{l.tasks[i].code, written(l.from[i]), written(l.until[i])}
	}
	for i, h := range l.hours {
		s.Hours[i] = DayHours{written(h.day), l.tasks[h.task].code, l.p.trades[h.trade].name, hours(h.hours)}
	}
	return s
}

func (l *laying) slotOfStays() []Stay {
	stays := make([]Stay, len(l.stays))
	for i, o := range l.stays {
		stays[i] = Stay{l.p.places[o.place].Code, written(o.from), written(o.until)}
	}
	return stays
}

func sum(list []int) int {
	n := 0
	for _, v := range list {
		n += v
	}
	return n
}
