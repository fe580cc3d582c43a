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

// Public holidays as GOV.UK publishes them (bank holidays, England and Wales,
// Scotland), with how many days are worked between two days that lie around
// them.
func TestHolidaysAreNotWorked(t *testing.T) {
	england := []string{"2026-01-01", "2026-04-03", "2026-04-06", "2026-05-04", "2026-05-25", "2026-08-31", "2026-12-25", "2026-12-28",
		"2027-01-01", "2027-12-27", "2027-12-28"}
	scotland := []string{"2026-01-01", "2026-01-02", "2026-04-03", "2026-05-04", "2026-05-25", "2026-08-03", "2026-11-30", "2026-12-25", "2026-12-28"}
	of := func(days []string) calendar.Calendar {
		c := calendar.Calendar{HolidaysUntil: "2027-12-31"}
		for _, day := range days {
			c.Closed = append(c.Closed, calendar.Closed{From: day, Until: day, Name: "Holiday", Why: calendar.Holiday})
		}
		return c
	}
	for _, c := range []struct {
		name        string
		days        calendar.Calendar
		from, until string
		want        int
	}{
		{"no holidays, 261 weekdays in 2026", calendar.Calendar{}, "2025-12-31", "2026-12-31", 261},
		{"England 2026, eight fewer", of(england), "2025-12-31", "2026-12-31", 253},
		{"Scotland 2026, nine fewer", of(scotland), "2025-12-31", "2026-12-31", 252},
		{"England, over Easter", of(england), "2026-04-02", "2026-04-07", 1},
		{"Scotland, over Easter", of(scotland), "2026-04-02", "2026-04-07", 2},
		{"backwards", of(england), "2026-04-07", "2026-04-02", -1},
		{"Saint Andrew's", of(scotland), "2026-11-27", "2026-12-01", 1},
	} {
		if got, err := c.days.Between(c.from, c.until); got != c.want || err != nil {
			t.Errorf("%s: %d, %v; want %d", c.name, got, err, c.want)
		}
	}
	// Christmas 2027 falls on a weekend: the days in place of it are the 27th and 28th.
	e := of(england)
	if got, err := e.Forward("2027-12-24", 1); got != "2027-12-29" || err != nil {
		t.Errorf("after Christmas 2027: %s, %v", got, err)
	}
	if got, err := e.Back("2026-12-29", 1); got != "2026-12-24" || err != nil {
		t.Errorf("before Christmas 2026: %s, %v", got, err)
	}
	if got, err := e.Next("2026-12-25"); got != "2026-12-29" || err != nil {
		t.Errorf("from Christmas Day on: %s, %v", got, err)
	}
	if closed, shut := e.WhyNot("2026-12-25"); !shut || closed.Why != calendar.Holiday {
		t.Errorf("Christmas Day is not told to be a holiday: %v", closed)
	}
	if e.Estimate("2027-12-31") || !e.Estimate("2028-01-01") || !(calendar.Calendar{}).Estimate("2026-01-01") {
		t.Error("what is counted is an estimate beyond the holidays known, and only there")
	}
}

func TestWorkingWeek(t *testing.T) {
	c := calendar.Calendar{Week: []calendar.Weekday{calendar.Tuesday, calendar.Saturday},
		Closed: []calendar.Closed{{From: "2026-12-01", Until: "2026-12-11", Name: "Stocktaking", Why: calendar.Closure}}}
	if got, err := c.Forward("2026-11-24", 3); got != "2026-12-15" || err != nil {
		t.Errorf("three days of a week of two: %s, %v", got, err)
	}
	never := calendar.Calendar{Closed: []calendar.Closed{{From: "1900-01-01", Until: "2199-12-31", Name: "For good", Why: calendar.Closure}}}
	if _, err := never.Forward("2026-11-24", 1); !errors.Is(err, calendar.ErrNoWork) {
		t.Errorf("no day is ever worked: %v", err)
	}
	for name, c := range map[string]calendar.Calendar{
		"no weekday":    {Week: []calendar.Weekday{"mon"}},
		"twice":         {Week: []calendar.Weekday{calendar.Monday, calendar.Monday}},
		"no day":        {Closed: []calendar.Closed{{From: "2026-02-30", Until: "2026-03-01"}}},
		"backwards":     {Closed: []calendar.Closed{{From: "2026-03-02", Until: "2026-03-01"}}},
		"holidays till": {HolidaysUntil: "2026"},
	} {
		if err := c.Check(); !errors.Is(err, calendar.ErrCalendar) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := c.Check(); err != nil {
		t.Error(err)
	}
}

func TestNumbersOfDays(t *testing.T) {
	for day, want := range map[string]int{"1900-01-01": 0, "1900-03-01": 59, "2000-01-01": 36_524, "2026-11-27": 46_351} {
		got, err := calendar.Number(day)
		if got != want || err != nil {
			t.Errorf("%s: %d, %v", day, got, err)
		}
		if back, err := calendar.Numbered(got); back != day || err != nil {
			t.Errorf("%d: %s, %v", got, back, err)
		}
	}
	if _, err := calendar.Numbered(-1); !errors.Is(err, calendar.ErrTooFar) {
		t.Error("a day before the calendar")
	}
	if w, err := calendar.WeekdayOf("2026-11-27"); w != calendar.Friday || err != nil {
		t.Errorf("%s, %v", w, err)
	}
}

func TestAddMonths(t *testing.T) {
	for _, test := range []struct {
		day    string
		months int
		want   string
	}{
		{"2027-01-31", 1, "2027-02-28"},
		{"2028-01-31", 1, "2028-02-29"},
		{"2027-01-31", 2, "2027-03-31"},
		{"2027-03-31", -1, "2027-02-28"},
		{"2027-11-30", 3, "2028-02-29"},
		{"2027-05-15", 0, "2027-05-15"},
		{"2027-05-15", 12, "2028-05-15"},
		{"2028-02-29", 12, "2029-02-28"},
	} {
		if got, err := calendar.AddMonths(test.day, test.months); err != nil || got != test.want {
			t.Errorf("%d months after %s: %s %v, want %s", test.months, test.day, got, err, test.want)
		}
	}
	for _, bad := range []struct {
		day    string
		months int
	}{{"soon", 1}, {"2027-01-31", calendar.MostDays + 1}, {"2199-12-31", 1}} {
		if got, err := calendar.AddMonths(bad.day, bad.months); err == nil {
			t.Errorf("%d months after %s are %s", bad.months, bad.day, got)
		}
	}
}

func TestDaysBetween(t *testing.T) {
	for _, c := range []struct {
		from, until string
		want        int
	}{{"2026-02-28", "2026-03-01", 1}, {"2028-02-28", "2028-03-01", 2}, {"2026-03-01", "2026-02-28", -1}, {"2026-12-31", "2026-12-31", 0}, {"2026-03-28", "2026-03-30", 2}} {
		if got, err := calendar.Days(c.from, c.until); err != nil || got != c.want {
			t.Errorf("from %s to %s are %d days, %v", c.from, c.until, got, err)
		}
	}
	for _, bad := range [][2]string{{"", "2026-01-01"}, {"2026-01-01", "2026-02-30"}} {
		if _, err := calendar.Days(bad[0], bad[1]); !errors.Is(err, calendar.ErrNotDay) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}
