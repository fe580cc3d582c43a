package apitest

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/bom/calendar"
	"wainscot/openapi"
)

// TestFloorAtOnce: several people book, move and give up slots of the same few
// jobs at once, some of them by days that another job has. Each is done or
// refused; and at the end no place holds more vans than it has room for and no
// trade is asked for more hours than its people have, counted from the slots as
// they are listed.
func TestFloorAtOnce(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.floor(2)
	var jobs []openapi.Job
	for range 5 {
		jobs = append(jobs, s.job(nil))
	}
	const people, things = 5, 10
	done := make(chan map[string]int, people)
	for k := range people {
		go func(r *rand.Rand) {
			told := map[string]int{}
			for range things {
				what, status := s.anySlot(jobs, r)
				told[fmt.Sprint(what, " ", status)]++
			}
			done <- told
		}(rand.New(rand.NewPCG(uint64(k), 7)))
	}
	statuses := map[string]int{}
	for range people {
		for what, n := range <-done {
			statuses[what] += n
		}
	}
	for what := range statuses {
		status := what[strings.LastIndex(what, " ")+1:]
		if !slices.Contains([]string{"200", "201", "404", "409", "412", "422"}, status) {
			t.Errorf("answers are %v", statuses)
		}
	}
	if statuses["book 201"] == 0 || statuses["move 200"] == 0 || statuses["take 409"]+statuses["take 422"]+statuses["move 412"] == 0 {
		t.Errorf("too little has met: %v", statuses)
	}
	if told := seen[openapi.Overbooked](t, w, w.Ours, "/v1/floor/overbooked").Overbooked; len(told) != 0 {
		t.Errorf("overbooked: %+v", told)
	}
	list := seen[openapi.Slots](t, w, w.Ours, "/v1/slots?from=2026-11-26&until=2027-12-30").Slots
	if len(list) == 0 {
		t.Errorf("nobody has a slot in the end: %v", statuses)
	}
	s.withinTheFloor(list)
	w.verify(t, w.Ours)
}

// anySlot does something to the slot of one of some jobs.
func (s seller) anySlot(jobs []openapi.Job, r *rand.Rand) (what string, status int) {
	path := "/v1/jobs/" + jobs[r.IntN(len(jobs))].Id + "/slot"
	send := func(method, path, version string, body any) int {
		c := call{method: method, path: path, of: s.shop, role: auth.Sales, body: body, header: http.Header{}}
		if version != "" {
			c.header.Set("If-Match", version)
		}
		return s.exchange(s.t, c).status
	}
	version := s.exchange(s.t, call{method: http.MethodGet, path: path, of: s.shop, role: auth.Sales}).header.Get("Etag")
	from, _ := calendar.Add("2026-12-07", r.IntN(60))
	switch n := r.IntN(8); {
	case n == 0 && version != "":
		return "release", send(http.MethodPost, path+"/release", version, nil)
	case n < 3: // what another has, day for day
		g := s.exchange(s.t, call{method: http.MethodGet, path: "/v1/jobs/" + jobs[r.IntN(len(jobs))].Id + "/slot", of: s.shop, role: auth.Sales})
		if g.status != http.StatusOK {
			return "look", g.status
		}
		var other openapi.Slot
		g.into(s.t, http.StatusOK, &other)
		if version == "" {
			return "take", send(http.MethodPost, path, "", object{"days": other.Days})
		}
		return "take", send(http.MethodPut, path, version, object{"days": other.Days})
	case n < 6 && version != "":
		return "move", send(http.MethodPut, path, version, object{"from": from})
	default:
		return "book", send(http.MethodPost, path, "", object{"from": from})
	}
}

// withinTheFloor counts what slots ask for against what there is. Hours of
// several trades can be done by people who know some of them each if and only if
// no group of trades is asked for more than those who know any of them have
// (Hall 1935).
func (s seller) withinTheFloor(list []openapi.Slot) {
	s.t.Helper()
	var trades []string
	wanted, vans := map[string]map[string]decimal.Decimal{}, map[string]map[string]int{}
	for _, slot := range list {
		for _, h := range slot.Days.Hours {
			if wanted[h.Day] == nil {
				wanted[h.Day] = map[string]decimal.Decimal{}
			}
			if !slices.Contains(trades, h.Trade) {
				trades = append(trades, h.Trade)
			}
			wanted[h.Day][h.Trade] = wanted[h.Day][h.Trade].Add(decimal.RequireFromString(h.Hours))
		}
		for _, stay := range slot.Days.Stays {
			for day := stay.From; day <= stay.Until; day, _ = calendar.Add(day, 1) {
				if vans[day] == nil {
					vans[day] = map[string]int{}
				}
				vans[day][stay.Place]++
			}
		}
	}
	for day, places := range vans {
		for place, n := range places {
			if room := map[bool]int{true: 3, false: 1}[place == "yard"]; n > room {
				s.t.Errorf("%s: %d vans in %s", day, n, place)
			}
		}
	}
	crew := seen[openapi.Crew](s.t, s.world, s.shop, "/v1/crew").Crew
	for day, hours := range wanted {
		for group := range 1 << len(trades) {
			asked, have := decimal.Zero, decimal.Zero
			in := func(trade string) bool { return group>>slices.Index(trades, trade)&1 == 1 }
			for trade, h := range hours {
				if in(trade) {
					asked = asked.Add(h)
				}
			}
			for _, m := range crew {
				if slices.ContainsFunc(m.Trades, func(t openapi.CrewTrade) bool { return slices.Contains(trades, t.Trade) && in(t.Trade) }) {
					have = have.Add(decimal.New(8, 0))
				}
			}
			if asked.GreaterThan(have) {
				s.t.Errorf("%s: %s hours are asked for, and there are %s: %v", day, asked, have, hours)
			}
		}
	}
}
