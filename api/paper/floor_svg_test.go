package paper_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"wainscot/api/paper"
	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
)

func aFloorPlan() paper.FloorPlan {
	p := paper.FloorPlan{
		Title: "Withermere & Sons", From: "2026-11-30", Until: "2026-12-27",
		Calendar: calendar.Calendar{Closed: []calendar.Closed{{From: "2026-12-25", Until: "2026-12-25", Name: "Christmas Day", Why: calendar.Holiday}}},
		Places: []schedule.Place{
			{Code: "bay_1", Name: "Bay 1", Kind: schedule.Bay, Vans: 1}, {Code: "bay_2", Name: "Bay 2, with the long lift", Kind: schedule.Bay, Vans: 1},
			{Code: "yard", Name: "Yard", Kind: schedule.Yard, Vans: 4},
		},
	}
	van := func(name string, firm bool, stays ...schedule.Stay) {
		p.Vans = append(p.Vans, paper.PlannedVan{Name: name, Short: strings.TrimPrefix(name[:strings.Index(name, ":")], "Job "), Firm: firm, Days: schedule.Slot{Stays: stays}})
	}
	van("Job 9: Minibus", true, schedule.Stay{Place: "bay_1", From: "2026-11-16", Until: "2026-12-01"})
	van("Job 10: Short panel van", true, schedule.Stay{Place: "yard", From: "2026-11-30", Until: "2026-12-01"}, schedule.Stay{Place: "bay_1", From: "2026-12-02", Until: "2026-12-11"},
		schedule.Stay{Place: "bay_2", From: "2026-12-12", Until: "2026-12-15"})
	van("Job 11: Long panel van", false, schedule.Stay{Place: "bay_2", From: "2026-12-01", Until: "2026-12-09"}, schedule.Stay{Place: "yard", From: "2026-12-10", Until: "2027-01-12"})
	van("Job 12: Short panel van", false, schedule.Stay{Place: "yard", From: "2026-12-14", Until: "2026-12-14"}, schedule.Stay{Place: "shed", From: "2026-12-15", Until: "2026-12-17"})
	return p
}

func TestFloorSVG(t *testing.T) {
	var b bytes.Buffer
	if err := paper.FloorSVG(&b, aFloorPlan()); err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/floor.svg"
	if *update {
		if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil || !bytes.Equal(b.Bytes(), want) {
		t.Errorf("it is not %s (run with -update and look at it): %v", golden, err)
	}
	for d := xml.NewDecoder(&b); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, says := range []string{
		"Withermere &amp; Sons: 30 November 2026 to 27 December 2026",
		"Bay 1: Job 9: Minibus, 16 November 2026 to 1 December 2026, firm; Job 10: Short panel van, 2 December 2026 to 11 December 2026, firm.",
		"shed (gone): Job 12", "<title>Christmas Day, 25 December 2026</title>",
	} {
		if !strings.Contains(string(want), says) {
			t.Errorf("it does not tell %q", says)
		}
	}
	for _, days := range [][2]string{{"2026-11-30", "2026-11-29"}, {"", "2026-11-29"}, {"2026-11-30", "2027-03-31"}} {
		p := aFloorPlan()
		p.From, p.Until = days[0], days[1]
		if _, ok := errors.AsType[*paper.NotDrawable](paper.FloorSVG(io.Discard, p)); !ok {
			t.Errorf("%v is drawn", days)
		}
	}
	p := aFloorPlan()
	p.From, p.Until = "2199-12-01", "2199-12-31"
	if err := paper.FloorSVG(io.Discard, p); err != nil {
		t.Errorf("to the end of the calendar: %v", err)
	}
}
