package schedule_test

import (
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
)

// The earliest slot fits, and on no earlier first day the rule gives one: the
// rule written a second time, slowly, from floor and slots alone, with the
// people there are asked of the maximum flow.
func TestEarliestIsBruteForce(t *testing.T) {
	found, later := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		f := aFloor(t)
		p, _ := schedule.New(f)
		slots := map[string]schedule.Slot{}
		for i := range rapid.IntRange(0, 4).Draw(t, "booked") {
			if got, err := p.Earliest(aVan(t), aDayLater(rapid.IntRange(0, 6).Draw(t, "on")), nil); err == nil && got.Found {
				key := string(rune('a' + i))
				p.Book(key, got.Slot)
				slots[key] = got.Slot
			}
		}
		w := aVan(t)
		var ready []schedule.StageReady
		if rapid.Bool().Draw(t, "parts") {
			ready = append(ready, schedule.StageReady{Stage: "s1", Day: aDayLater(rapid.IntRange(0, 9).Draw(t, "ready"))})
		}
		got, err := p.Earliest(w, aDayLater(0), ready)
		if err != nil {
			return
		}
		for n := range 40 {
			b := brute{f: f, slots: slots, w: w, ready: ready}
			does := b.from(n)
			if does != (got.Found && got.Slot.From() == aDayLater(n)) {
				t.Fatalf("from %s: by the rule %t, and the earliest is %s\n%s", aDayLater(n), does, got.Slot.From(), said(got.Slot))
			}
			if does {
				found++
				if n > 0 {
					later++
				}
				if until := b.last; got.Slot.Until() != aDayLater(until) {
					t.Fatalf("it ends on %s, and by the rule on %s\n%s", got.Slot.Until(), aDayLater(until), said(got.Slot))
				}
				return
			}
		}
	})
	if found == 0 || later == 0 {
		t.Errorf("%d slots found, %d of them later than the first day: that shows nothing", found, later)
	}
}

type brute struct {
	f     schedule.Floor
	slots map[string]schedule.Slot
	w     schedule.Work
	ready []schedule.StageReady
	done  map[string]int // by the clock, in hundredths of an hour from the first Monday
	left  map[string]map[string]int
	place string
	last  int
}

func (b *brute) from(first int) bool {
	b.done, b.left = map[string]int{}, map[string]map[string]int{}
	for _, s := range b.w.Stages {
		b.left[s.Code] = map[string]int{}
		for _, h := range s.Hours {
			b.left[s.Code][h.Trade] = int(h.Hours.Shift(2).IntPart())
		}
	}
	idle := 0
	for n := first; n < first+60; n++ {
		worked := b.day(n)
		over := len(b.done) == len(b.w.Stages)
		cures := false
		for code, at := range b.done {
			over = over && at <= (n+1)*2400
			cures = cures || at > n*2400 && b.stage(code).StandingHours.IsPositive()
		}
		works, _ := b.f.Calendar.Works(aDayLater(n))
		if worked {
			idle = 0
		} else if works && !cures && !over {
			idle++
		}
		if n == first && !worked || idle > b.f.MostIdleDays || !worked && !b.stay(n) {
			return false
		}
		if over {
			b.last = n
			return true
		}
	}
	return false
}

func (b *brute) stage(code string) *schedule.Stage {
	return &b.w.Stages[slices.IndexFunc(b.w.Stages, func(s schedule.Stage) bool { return s.Code == code })]
}

// day works one day.
func (b *brute) day(n int) bool {
	length, paces := 0, map[string]int{}
	for i := range b.f.Crew { // of each alone: what the flow gives with nobody else
		m := b.f.Crew[i]
		pace := m.PacePercent
		if pace == 0 {
			pace = 100
		}
		m.PacePercent = 0
		m.Trades = []schedule.MemberTrade{{Trade: "fitter", Alone: true}}
		present := mostDone(schedule.Floor{Calendar: b.f.Calendar, Crew: []schedule.Member{m}}, aDayLater(n), map[string]int{"fitter": 9999})
		length = max(length, present)
		for _, t := range b.f.Crew[i].Trades {
			if t.Alone && present > 0 {
				paces[t.Trade] += pace
			}
		}
	}
	if length == 0 {
		return false
	}
	wanted := map[string]int{}
	for _, s := range b.slots {
		for _, h := range s.Hours {
			if h.Day == aDayLater(n) {
				wanted[h.Trade] += int(h.Hours.Shift(2).IntPart())
			}
		}
	}
	here, used, most := "", 0, 0
	for _, s := range b.w.Stages { // each comes after earlier ones only
		if _, over := b.done[s.Code]; over {
			continue
		}
		at, can := 0, true
		for _, r := range b.ready {
			if r.Stage == s.Code {
				for k := range 60 {
					if aDayLater(k) == r.Day {
						at = k * 2400
					}
				}
			}
		}
		for _, code := range s.After {
			done, over := b.done[code]
			can = can && over
			at = max(at, done)
		}
		if !can || at >= n*2400+length {
			continue
		}
		standing := int(s.StandingHours.Shift(2).IntPart())
		if len(s.Hours) == 0 {
			b.done[s.Code] = max(at, n*2400) + standing
			continue
		}
		offset := max(at-n*2400, 0)
		people := s.MostPeople
		if people == 0 {
			people = 2
		}
		budget := min(people*(length-offset), max(most, people)*length-used)
		share, sum, long := map[string]int{}, 0, 0
		trial := maps.Clone(wanted)
		for _, h := range s.Hours {
			left := b.left[s.Code][h.Trade]
			trial[h.Trade] += 99_999
			spare := mostDone(b.f, aDayLater(n), trial)
			trial[h.Trade] -= 99_999
			for _, v := range trial {
				spare -= v
			}
			get := max(min(left, budget-sum, paces[h.Trade]*(length-offset)/100, spare), 0)
			if get < left && get < 50 {
				get = 0
			}
			share[h.Trade] = get
			trial[h.Trade] += get
			sum += get
			if get > 0 {
				long = max(long, (get*100+paces[h.Trade]-1)/paces[h.Trade])
			}
		}
		if sum == 0 {
			continue
		}
		if here == "" {
			if here = b.choose(&s, n); here == "" {
				continue
			}
			b.place = here
		} else if !b.takes(b.placeOf(here), &s) {
			continue
		}
		most = max(most, people)
		used += sum
		wanted = trial
		rest := 0
		for trade, get := range share {
			b.left[s.Code][trade] -= get
		}
		for _, left := range b.left[s.Code] {
			rest += left
		}
		if rest == 0 {
			b.done[s.Code] = n*2400 + offset + max(long, (sum+people-1)/people) + standing
		}
	}
	return here != ""
}

func (b *brute) placeOf(code string) *schedule.Place {
	return &b.f.Places[slices.IndexFunc(b.f.Places, func(o schedule.Place) bool { return o.Code == code })]
}

func (b *brute) takes(o *schedule.Place, s *schedule.Stage) bool {
	kind := s.Where == catalogue.Anywhere || (s.Where == catalogue.InYard) == (o.Kind == schedule.Yard)
	return kind && b.holds(o) && (len(o.Stages) == 0 || slices.Contains(o.Stages, s.Code))
}

func (b *brute) holds(o *schedule.Place) bool {
	return o.MostLengthMM == 0 || b.w.LengthMM <= o.MostLengthMM
}

func (b *brute) free(o *schedule.Place, n int) int {
	for k := range 60 {
		vans := 0
		for _, s := range b.slots {
			for _, stay := range s.Stays {
				if stay.Place == o.Code && stay.From <= aDayLater(n+k) && aDayLater(n+k) <= stay.Until {
					vans++
				}
			}
		}
		if vans >= o.Vans {
			return k
		}
	}
	return 60
}

// choose is the best place by what can be done there, bays first, the longest
// free.
func (b *brute) choose(s *schedule.Stage, n int) string {
	if b.place != "" && b.takes(b.placeOf(b.place), s) && b.free(b.placeOf(b.place), n) > 0 {
		return b.place
	}
	best, score := "", -1
	for i := range b.f.Places {
		o := &b.f.Places[i]
		if !b.takes(o, s) || b.free(o, n) == 0 {
			continue
		}
		points := b.free(o, n)
		if o.Kind == schedule.Bay {
			points += 100
		}
		for j := range b.w.Stages {
			if _, over := b.done[b.w.Stages[j].Code]; !over && b.takes(o, &b.w.Stages[j]) {
				points += 1000
			}
		}
		if points > score {
			best, score = o.Code, points
		}
	}
	return best
}

func (b *brute) stay(n int) bool {
	if b.place != "" && b.free(b.placeOf(b.place), n) > 0 {
		return true
	}
	best, score := "", -1
	for i := range b.f.Places {
		o := &b.f.Places[i]
		if !b.holds(o) || b.free(o, n) == 0 {
			continue
		}
		points := b.free(o, n)
		if o.Kind == schedule.Yard {
			points += 100
		}
		if points > score {
			best, score = o.Code, points
		}
	}
	b.place = best
	return best != ""
}
