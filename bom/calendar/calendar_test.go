package calendar_test

import (
	"errors"
	"testing"

	"wainscot/bom/calendar"
)

func TestBack(t *testing.T) {
	for _, c := range []struct {
		day     string
		working int
		want    string
		err     error
	}{
		{"2026-11-25", 0, "2026-11-25", nil}, // a Wednesday
		{"2026-11-25", 1, "2026-11-24", nil},
		{"2026-11-25", 3, "2026-11-20", nil},
		{"2026-11-23", 1, "2026-11-20", nil}, // a Monday
		{"2026-11-22", 1, "2026-11-20", nil}, // a Sunday
		{"2026-11-22", 0, "2026-11-22", nil},
		{"2024-03-01", 1, "2024-02-29", nil},
		{"2027-01-04", 10, "2026-12-21", nil}, // across Christmas, which it does not know
		{"2026-02-30", 1, "", calendar.ErrNotDay},
		{"26-11-2", 1, "", calendar.ErrNotDay},
		{"2026-11-25", -1, "", calendar.ErrTooFar},
		{"2026-11-25", calendar.MostDays + 1, "", calendar.ErrTooFar},
		{"1900-01-02", 5, "", calendar.ErrTooFar},
	} {
		got, err := calendar.Calendar{}.Back(c.day, c.working)
		if got != c.want || !errors.Is(err, c.err) {
			t.Errorf("%d working days before %s: %q, %v", c.working, c.day, got, err)
		}
	}
}

func TestAdd(t *testing.T) {
	for _, c := range []struct {
		day  string
		days int
		want string
		err  error
	}{
		{"2026-11-25", 14, "2026-12-09", nil},
		{"2026-12-25", 14, "2027-01-08", nil},
		{"2028-02-28", 1, "2028-02-29", nil},
		{"2026-11-25", -25, "2026-10-31", nil},
		{"tomorrow", 1, "", calendar.ErrNotDay},
		{"2199-12-31", 1, "", calendar.ErrTooFar},
		{"2026-11-25", calendar.MostDays + 1, "", calendar.ErrTooFar},
	} {
		got, err := calendar.Add(c.day, c.days)
		if got != c.want || !errors.Is(err, c.err) {
			t.Errorf("%s and %d days: %q, %v", c.day, c.days, got, err)
		}
	}
}

func TestDays(t *testing.T) {
	for day, works := range map[string]bool{"2026-11-27": true, "2026-11-28": false, "2026-11-29": false, "2026-11-30": true} {
		if got, err := (calendar.Calendar{}).Works(day); got != works || err != nil {
			t.Errorf("%s: %t, %v", day, got, err)
		}
	}
	if _, err := (calendar.Calendar{}).Works(""); !errors.Is(err, calendar.ErrNotDay) {
		t.Errorf("no day: %v", err)
	}
	if got := calendar.Said("2027-01-04"); got != "4 January 2027" {
		t.Error(got)
	}
	if calendar.Valid("1899-12-31") || !calendar.Valid("1900-01-01") || calendar.Valid("2026-11-25 ") {
		t.Error("a day outside the calendar, or none, is taken for one")
	}
}
