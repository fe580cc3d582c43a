package schedule_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
)

// rest is what is left of the work when all was worked that was kept of its
// slot, and from when on what comes after something that still cures can begin.
func rest(w schedule.Work, kept schedule.Slot) (schedule.Work, []schedule.StageReady) {
	undone := schedule.Work{LengthMM: w.LengthMM, HeightMM: w.HeightMM}
	var ready []schedule.StageReady
	over := map[string]string{} // stages that are done, by the day they were
	for _, s := range w.Stages {
		var hours []schedule.TradeHours
		for _, h := range s.Hours {
			for _, d := range kept.Hours {
				if d.Stage == s.Code && d.Trade == h.Trade {
					h.Hours = h.Hours.Sub(d.Hours)
				}
			}
			if h.Hours.IsPositive() {
				hours = append(hours, h)
			}
		}
		s.Hours = hours
		if at := slices.IndexFunc(kept.Stages, func(d schedule.StageDays) bool { return d.Stage == s.Code }); at >= 0 && len(hours) == 0 {
			over[s.Code] = kept.Stages[at].Until
		} else {
			undone.Stages = append(undone.Stages, s)
		}
	}
	for i := range undone.Stages {
		s := &undone.Stages[i]
		for _, before := range w.Stages {
			if over[before.Code] != "" && slices.Contains(s.After, before.Code) && before.StandingHours.IsPositive() { // from the end of the day on
				day, _ := calendar.Add(over[before.Code], 1+int(before.StandingHours.Div(decimal.New(24, 0)).Ceil().IntPart()))
				ready = append(ready, schedule.StageReady{Stage: s.Code, Day: day})
			}
		}
		s.After = slices.DeleteFunc(slices.Clone(s.After), func(code string) bool { return over[code] != "" })
	}
	return undone, ready
}

func TestRest(t *testing.T) {
	p := planned(t, small())
	w := work("glue: joiner 12 *1 +24 | wire after glue: electrician 4 | trim: joiner 2")
	slot := slotOf("bay_1 2026-11-30 2026-12-04", "2026-11-30 glue joiner 8, 2026-12-01 glue joiner 4, 2026-12-02 trim joiner 2, 2026-12-03 wire electrician 4")
	slot.Stages = w.StagesOf(slot.Hours)
	kept := slot.Before("2026-12-01")
	undone, ready := rest(w, kept)
	if len(ready) != 0 || len(undone.Stages) != 3 || !undone.Stages[0].Hours[0].Hours.Equal(h("4")) {
		t.Errorf("after a day of gluing: %+v, %v", undone, ready)
	}
	kept = slot.Before("2026-12-02")
	undone, ready = rest(w, kept)
	if len(undone.Stages) != 2 || len(undone.Stages[0].After) != 0 || len(ready) != 1 || ready[0].Stage != "wire" || ready[0].Day != "2026-12-03" {
		t.Fatalf("after it is glued: %+v, %v", undone, ready)
	}
	p.Book("other", slotOf("bay_1 2026-12-03 2026-12-11", ""))
	got, err := p.Earliest(undone, "2026-12-07", ready)
	if err != nil || !got.Found {
		t.Fatal(err, got.WhyNot)
	}
	joined := p.Joined(w, kept, got.Slot)
	if want := "in bay_1 2026-11-30 to 2026-12-02\nin yard 2026-12-03 to 2026-12-06\nin bay_2 2026-12-07 to 2026-12-07\n" +
		"glue 2026-11-30 to 2026-12-01\nwire 2026-12-07 to 2026-12-07\ntrim 2026-12-07 to 2026-12-07\n" +
		"2026-11-30 glue joiner 8.00\n2026-12-01 glue joiner 4.00\n2026-12-07 wire electrician 4.00\n2026-12-07 trim joiner 2.00"; said(joined) != want {
		t.Errorf("joined:\n%s\nwant:\n%s", said(joined), want)
	}
	if faults := p.Fits("this", w, joined); faults != nil {
		t.Error(faults)
	}

	// Waiting for something it leaves its bay at once, though that is free; where
	// the yard is full it is away.
	parted := p.Parted(w, kept, got.Slot)
	if want := "in bay_1 2026-11-30 to 2026-12-01\nin yard 2026-12-02 to 2026-12-06\nin bay_2 2026-12-07 to 2026-12-07\n"; !strings.HasPrefix(said(parted), want) {
		t.Errorf("parted:\n%s\nwant:\n%s", said(parted), want)
	}
	for i := range 9 {
		p.Book(fmt.Sprint("full", i), slotOf("yard 2026-12-02 2026-12-04", ""))
	}
	parted = p.Parted(w, kept, got.Slot)
	if want := "in bay_1 2026-11-30 to 2026-12-01\nin yard 2026-12-05 to 2026-12-06\nin bay_2 2026-12-07 to 2026-12-07\n"; !strings.HasPrefix(said(parted), want) {
		t.Errorf("where the yard is full:\n%s\nwant:\n%s", said(parted), want)
	}
}

// What is moved on from any day on still has all hours and fits.
func TestRestFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := aFloor(t)
		p, _ := schedule.New(f)
		w := aVan(t)
		first, err := p.Earliest(w, aDayLater(0), nil)
		if err != nil || !first.Found {
			return
		}
		day := aDayLater(rapid.IntRange(0, 12).Draw(t, "day"))
		kept := first.Slot.Before(day)
		undone, ready := rest(w, kept)
		then, err := p.Earliest(undone, day, ready)
		if err != nil || !then.Found {
			return // nothing is left, or nothing is found
		}
		for _, slot := range []schedule.Slot{p.Joined(w, kept, then.Slot), p.Parted(w, kept, then.Slot)} {
			if faults := p.Fits("this", w, slot); faults != nil {
				t.Fatalf("%v\n%s", faults, said(slot))
			}
		}
	})
}
