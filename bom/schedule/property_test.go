package schedule_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
)

var trades = []string{"fitter", "joiner", "electrician", "gas"}

// aFloor draws a small floor.
func aFloor(t *rapid.T) schedule.Floor {
	f := schedule.Floor{MostIdleDays: rapid.IntRange(0, 3).Draw(t, "most idle"), Calendar: calendar.Calendar{HolidaysUntil: "2027-12-31"}}
	if rapid.Bool().Draw(t, "holiday") {
		f.Calendar.Closed = []calendar.Closed{{From: "2026-12-01", Until: "2026-12-02", Name: "Holiday", Why: calendar.Holiday}}
	}
	for i := range rapid.IntRange(1, 3).Draw(t, "bays") {
		b := schedule.Place{Code: fmt.Sprintf("bay_%d", i+1), Name: fmt.Sprintf("Bay %d", i+1), Kind: schedule.Bay, Vans: rapid.IntRange(1, 2).Draw(t, "vans")}
		if rapid.IntRange(0, 3).Draw(t, "limit") == 0 {
			b.MostLengthMM = 5500
		}
		if rapid.IntRange(0, 3).Draw(t, "only") == 0 {
			b.Stages = []string{"s1", "s2"}
		}
		f.Places = append(f.Places, b)
	}
	if rapid.Bool().Draw(t, "yard") {
		f.Places = append(f.Places, schedule.Place{Code: "yard", Name: "Yard", Kind: schedule.Yard, Vans: rapid.IntRange(1, 2).Draw(t, "vans")})
	}
	for i := range rapid.IntRange(1, 4).Draw(t, "crew") {
		m := somebody(fmt.Sprint("m", i))
		for _, trade := range trades {
			if rapid.IntRange(0, 2).Draw(t, trade) == 0 {
				m.Trades = append(m.Trades, schedule.MemberTrade{Trade: trade, Alone: rapid.IntRange(0, 3).Draw(t, "alone") > 0})
			}
		}
		m.PacePercent = rapid.SampledFrom([]int{0, 50, 120}).Draw(t, "pace")
		if rapid.IntRange(0, 3).Draw(t, "short Friday") == 0 {
			m.Hours[4].Hours = h("4")
		}
		if rapid.IntRange(0, 3).Draw(t, "leave") == 0 {
			from := rapid.IntRange(0, 10).Draw(t, "from")
			m.Leave = []schedule.Period{{From: aDayLater(from), Until: aDayLater(from + rapid.IntRange(0, 5).Draw(t, "days"))}}
		}
		if rapid.IntRange(0, 3).Draw(t, "overtime") == 0 {
			m.Overtime = []schedule.Overtime{{Day: aDayLater(rapid.IntRange(0, 12).Draw(t, "day")), Hours: h("3.5")}}
		}
		f.Crew = append(f.Crew, m)
	}
	return f
}

func aDayLater(n int) string {
	day, _ := calendar.Add("2026-11-30", n)
	return day
}

// aVan draws some work.
func aVan(t *rapid.T) schedule.Work {
	w := schedule.Work{LengthMM: rapid.SampledFrom([]int{0, 5400, 6000}).Draw(t, "length")}
	for i := range rapid.IntRange(1, 4).Draw(t, "stages") {
		s := schedule.Stage{Code: fmt.Sprint("s", i), Name: fmt.Sprint("S", i), MostPeople: rapid.IntRange(0, 2).Draw(t, "people")}
		for j := range i {
			if rapid.Bool().Draw(t, "after") {
				s.After = append(s.After, fmt.Sprint("s", j))
			}
		}
		for _, trade := range trades {
			if rapid.IntRange(0, 2).Draw(t, trade) == 0 {
				s.Hours = append(s.Hours, schedule.TradeHours{Trade: trade, Hours: decimal.New(rapid.Int64Range(1, 1500).Draw(t, "hours"), -2)})
			}
		}
		s.StandingHours = h(rapid.SampledFrom([]string{"0", "0", "0", "6", "24", "50"}).Draw(t, "standing"))
		s.Where = rapid.SampledFrom([]catalogue.Where{"", catalogue.InBay, catalogue.Anywhere, catalogue.InYard}).Draw(t, "where")
		w.Stages = append(w.Stages, s)
	}
	return w
}

// No bay and no trade above what there is, in any sequence of bookings, moves
// and cancellations, as counted from the slots alone: what stands where is
// counted, and whether the hours can be done by the people is asked of a
// maximum flow from people to trades.
func TestNothingIsOverbooked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := aFloor(t)
		p, faults := schedule.New(f)
		if faults != nil {
			t.Fatal(faults)
		}
		slots, works := map[string]schedule.Slot{}, map[string]schedule.Work{}
		key := rapid.Custom(func(t *rapid.T) string { return fmt.Sprint("job ", rapid.IntRange(0, 6).Draw(t, "job")) })
		put := func(key string, w schedule.Work, s schedule.Slot) {
			if faults := p.Fits(key, w, s); faults != nil {
				return // refused, and nothing changes
			}
			p.Book(key, s)
			slots[key], works[key] = s, w
		}
		t.Repeat(map[string]func(*rapid.T){
			"book the earliest": func(t *rapid.T) {
				key, w := key.Draw(t, "key"), aVan(t)
				got, err := p.Earliest(w, aDayLater(rapid.IntRange(0, 10).Draw(t, "from")), nil)
				if err != nil || !got.Found {
					return
				}
				if faults := p.Fits("none", w, got.Slot); faults != nil {
					t.Fatalf("the earliest does not fit: %v\n%s", faults, said(got.Slot))
				}
				put(key, w, got.Slot)
			},
			"move by days": func(t *rapid.T) {
				key := key.Draw(t, "key")
				by := rapid.IntRange(-3, 7).Draw(t, "by")
				put(key, works[key], later(slots[key], by))
			},
			"another bay": func(t *rapid.T) {
				key := key.Draw(t, "key")
				s := later(slots[key], 0)
				for i := range s.Stays {
					s.Stays[i].Place = rapid.SampledFrom(f.Places).Draw(t, "place").Code
				}
				put(key, works[key], s)
			},
			"cancel": func(t *rapid.T) {
				key := key.Draw(t, "key")
				p.Take(key)
				delete(slots, key)
			},
			"": func(t *rapid.T) {
				if over := overbooked(f, slots); over != "" {
					t.Fatal(over)
				}
				if told := p.Overbooked("2026-01-01"); len(told) > 0 {
					t.Fatalf("told to be overbooked: %+v", told)
				}
			},
		})
	})
}

// later is a slot some days later, its own lists apart from the other's.
func later(s schedule.Slot, days int) schedule.Slot {
	s.Stays, s.Hours, s.Stages = slices.Clone(s.Stays), slices.Clone(s.Hours), slices.Clone(s.Stages)
	add := func(day *string) { *day, _ = calendar.Add(*day, days) }
	for i := range s.Stays {
		add(&s.Stays[i].From)
		add(&s.Stays[i].Until)
	}
	for i := range s.Stages {
		add(&s.Stages[i].From)
		add(&s.Stages[i].Until)
	}
	for i := range s.Hours {
		add(&s.Hours[i].Day)
	}
	return s
}

// overbooked counts from nothing but floor and slots; it says what is beyond.
func overbooked(f schedule.Floor, slots map[string]schedule.Slot) string {
	for n := range 80 {
		day := aDayLater(n - 10)
		vans, wanted := map[string]int{}, map[string]int{}
		for _, s := range slots {
			for _, stay := range s.Stays {
				if stay.From <= day && day <= stay.Until {
					vans[stay.Place]++
				}
			}
			for _, h := range s.Hours {
				if h.Day == day {
					wanted[h.Trade] += int(h.Hours.Shift(2).IntPart())
				}
			}
		}
		for _, place := range f.Places {
			if vans[place.Code] > place.Vans {
				return fmt.Sprintf("%s: %d vans in %s", day, vans[place.Code], place.Code)
			}
		}
		all := 0
		for _, h := range wanted {
			all += h
		}
		if done := mostDone(f, day, wanted); done < all {
			return fmt.Sprintf("%s: of %v only %d hundredths can be done", day, wanted, done)
		}
	}
	return ""
}

// mostDone is the maximum flow from people through trades to what is wanted
// (augmenting paths, Ford and Fulkerson 1956).
func mostDone(f schedule.Floor, day string, wanted map[string]int) int {
	works, _ := f.Calendar.Works(day)
	weekday, _ := calendar.WeekdayOf(day)
	var have []int
	for _, m := range f.Crew {
		hours := decimal.Zero
		for _, w := range m.Hours {
			if w.Weekday == weekday && works {
				hours = hours.Add(w.Hours)
			}
		}
		for _, o := range m.Overtime {
			if o.Day == day {
				hours = hours.Add(o.Hours)
			}
		}
		for _, l := range m.Leave {
			if l.From <= day && day <= l.Until {
				hours = decimal.Zero
			}
		}
		pace := m.PacePercent
		if pace == 0 {
			pace = 100
		}
		have = append(have, int(hours.Shift(2).IntPart())*pace/100)
	}
	given := make([]map[string]int, len(have)) // by member and trade
	for i := range given {
		given[i] = map[string]int{}
	}
	can := func(m int, trade string) bool {
		return slices.Contains(f.Crew[m].Trades, schedule.MemberTrade{Trade: trade, Alone: true})
	}
	done := 0
	for _, trade := range trades {
		for open := wanted[trade]; open > 0; {
			n := augment(trade, open, have, given, can, map[string]bool{})
			if n == 0 {
				break
			}
			open -= n
			done += n
		}
	}
	return done
}

// augment finds more hours for a trade, if need be by letting somebody give
// theirs to it while others do what they did.
func augment(trade string, most int, have []int, given []map[string]int, can func(int, string) bool, seen map[string]bool) int {
	seen[trade] = true
	for m := range have {
		if can(m, trade) && have[m] > 0 {
			n := min(have[m], most)
			have[m] -= n
			given[m][trade] += n
			return n
		}
	}
	for m := range have {
		if !can(m, trade) {
			continue
		}
		for _, other := range trades {
			if seen[other] || given[m][other] == 0 {
				continue
			}
			if n := augment(other, min(most, given[m][other]), have, given, can, seen); n > 0 {
				given[m][other] -= n
				given[m][trade] += n
				return n
			}
		}
	}
	return 0
}
