package schedule_test

import (
	"fmt"
	"testing"

	"wainscot/bom/schedule"
)

// large is a floor that takes 200 vans a year times n, and a plan with a year
// of them booked; what comes next finds its slot after all of them.
func large(tb testing.TB, n int) *schedule.Plan {
	tb.Helper()
	f := schedule.Floor{MostIdleDays: 3}
	for i := range 8 * n {
		f.Places = append(f.Places, schedule.Place{Code: fmt.Sprintf("bay_%d", i), Name: fmt.Sprintf("Bay %d", i), Kind: schedule.Bay, Vans: 1})
	}
	f.Places = append(f.Places, schedule.Place{Code: "yard", Name: "Yard", Kind: schedule.Yard, Vans: 6 * n})
	for i := range n {
		for j, of := range [][]string{{"fitter", "joiner"}, {"fitter", "trimmer"}, {"joiner"}, {"joiner", "trimmer"}, {"electrician", "gas"}, {"electrician", "plumber"}, {"fitter", "plumber"}, {"fitter"}} {
			f.Crew = append(f.Crew, somebody(fmt.Sprint(i, "-", j), of...))
		}
	}
	p := planned(tb, f)
	for i := range 200 * n {
		got, err := p.Earliest(conversion(i), "2026-11-30", nil)
		if err != nil || !got.Found {
			tb.Fatalf("van %d: %v, %v", i, err, got.WhyNot)
		}
		p.Book(fmt.Sprint(i), got.Slot)
	}
	return p
}

// conversion is some 55 to 75 hours of work in twelve stages.
func conversion(i int) schedule.Work {
	w := work(fmt.Sprintf("strip: fitter %d | frame after strip: fitter 4 | openings after frame: fitter 6 | pack after openings: fitter 3, trimmer 2 +12 |"+
		"floor after pack: joiner 5 +16 | line after floor: trimmer %d | wire after line: electrician %d | gas after line: gas 4 *1 |"+
		"water after line: plumber 5 *1 | furniture after wire gas water: joiner %d | beds after furniture: joiner 4, trimmer 3 | handover after beds: fitter 1", 2+i%3, 6+i%4, 6+i%3, 10+i%9))
	return w
}

// The floor of the measure: one look at each day of the search with nothing
// booked, that is a van that comes at once.
func BenchmarkEarliest(b *testing.B) {
	for _, n := range []int{0, 1, 10} {
		b.Run(fmt.Sprintf("%d vans booked", 200*n), func(b *testing.B) {
			p := large(b, max(n, 1))
			if n == 0 {
				p = planned(b, p.Floor())
			}
			w := conversion(4)
			var got schedule.Earliest
			for b.Loop() {
				got, _ = p.Earliest(w, "2026-11-30", nil)
			}
			days, _ := p.Floor().Calendar.Between("2026-11-30", got.Slot.From())
			b.ReportMetric(float64(days), "days-on")
		})
	}
}

// A plan is made from the rows of a year.
func BenchmarkBook(b *testing.B) {
	full := large(b, 1)
	for b.Loop() {
		p := planned(b, full.Floor())
		for _, key := range full.Keys() {
			s, _ := full.Booked(key)
			p.Book(key, s)
		}
	}
}
