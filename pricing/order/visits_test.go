package order

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// Visits: every van once, on a day that suits it, no more at once than can be,
// and on no more days than any choice of days would take.
func TestVisitsAreTheFewest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := func(n int) string { return fmt.Sprintf("2027-01-%02d", n+1) }
		most := rapid.IntRange(1, 4).Draw(t, "most")
		type span struct{ from, until int }
		var spans []span
		var calls []call
		for i := range rapid.IntRange(0, 7).Draw(t, "vans") {
			from := rapid.IntRange(0, 8).Draw(t, "from")
			until := from + rapid.IntRange(0, 3).Draw(t, "days")
			spans = append(spans, span{from, until})
			calls = append(calls, call{day(from), day(until), For{Job: fmt.Sprint(i)}})
		}
		seen := map[string]bool{}
		visits := together(calls, most)
		for _, v := range visits {
			if len(v.calls) > most || len(v.calls) == 0 {
				t.Fatalf("%d vans at once", len(v.calls))
			}
			for _, c := range v.calls {
				if seen[c.f.Job] || v.on < c.from || v.on > c.until {
					t.Fatalf("%s is seen on %s, and wants %s to %s", c.f.Job, v.on, c.from, c.until)
				}
				seen[c.f.Job] = true
			}
		}
		if len(seen) != len(calls) {
			t.Fatalf("%d of %d vans are seen", len(seen), len(calls))
		}
		// The fewest there can be: by trying every number of visits on each day,
		// cut off at what was found.
		fewest := len(visits)
		var try func(day int, left []span, used int)
		try = func(day int, left []span, used int) {
			if len(left) == 0 {
				fewest = min(fewest, used)
				return
			}
			if day > 12 || used >= fewest {
				return
			}
			for _, s := range left {
				if s.until < day {
					return
				}
			}
			for n := 0; used+n <= fewest; n++ {
				room := n * most
				var rest []span
				// Of those who could be seen, the ones that can wait least: no
				// other choice leaves more open.
				for until := day; until <= 12; until++ {
					for _, s := range left {
						if s.until != until {
							continue
						}
						if s.from <= day && room > 0 {
							room--
						} else {
							rest = append(rest, s)
						}
					}
				}
				try(day+1, rest, used+n)
				if room > 0 {
					break
				}
			}
		}
		try(0, spans, 0)
		if fewest < len(visits) {
			t.Fatalf("%d visits, and %d would do: %v at most %d", len(visits), fewest, spans, most)
		}
	})
}
