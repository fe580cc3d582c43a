// Package calendar is days without a clock: a day is text, YYYY-MM-DD, in the
// workshop's time zone, and which of them are worked is asked of a Calendar.
// What today is, is always told by whoever asks.
package calendar

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Errors; test for them with errors.Is.
var (
	ErrNotDay   = errors.New("not a day written as year-month-day")
	ErrTooFar   = errors.New("that many days lead out of the calendar")
	ErrNoWork   = errors.New("no day is worked as far as one can count")
	ErrCalendar = errors.New("not a calendar")
)

// MostDays is how many days may be counted at once, and the years a day may
// lie in.
const (
	MostDays  = 10_000
	firstYear = 1900
	lastYear  = 2199
)

// Calendar says which days are worked. The zero Calendar works Monday to
// Friday and knows neither holidays nor closures, so what is counted with it
// is an estimate.
type Calendar struct {
	// Week lists the days of the week that are worked; none means Monday to
	// Friday.
	Week []Weekday `json:"week,omitempty"`
	// Closed are days that are not worked though the week says so, in the
	// order of their first days.
	Closed []Closed `json:"closed,omitempty"`
	// HolidaysUntil is the last day up to which the public holidays are listed
	// among Closed; "" where none are.
	HolidaysUntil string `json:"holidays_until,omitempty"`
}

// Weekday is a day of the week, small and in English: "monday".
type Weekday string

// The days of the week.
const (
	Monday    Weekday = "monday"
	Tuesday   Weekday = "tuesday"
	Wednesday Weekday = "wednesday"
	Thursday  Weekday = "thursday"
	Friday    Weekday = "friday"
	Saturday  Weekday = "saturday"
	Sunday    Weekday = "sunday"
)

// Weekdays are all seven, from Monday on.
func Weekdays() []Weekday {
	return []Weekday{Monday, Tuesday, Wednesday, Thursday, Friday, Saturday, Sunday}
}

// Closed is a span of days on which nobody works, both ends included.
type Closed struct {
	From  string      `json:"from"`
	Until string      `json:"until"`
	Name  string      `json:"name"`
	Why   ClosureKind `json:"why"`
}

// ClosureKind says why a day is not worked.
type ClosureKind string

// The kinds of closure.
const (
	Holiday ClosureKind = "holiday" // a public one
	Closure ClosureKind = "closure" // the workshop's own
)

// Check holds a calendar against what it must be. Error: ErrCalendar, with
// what is wrong.
func (c Calendar) Check() error {
	for i, w := range c.Week {
		if !slices.Contains(Weekdays(), w) || slices.Index(c.Week, w) < i {
			return fmt.Errorf("week: %q: %w", w, ErrCalendar)
		}
	}
	for i, closed := range c.Closed {
		switch {
		case !Valid(closed.From) || !Valid(closed.Until):
			return fmt.Errorf("closed %d: no day: %w", i, ErrCalendar)
		case closed.Until < closed.From:
			return fmt.Errorf("closed %d: it ends on %s before it begins: %w", i, closed.Until, ErrCalendar)
		}
	}
	if c.HolidaysUntil != "" && !Valid(c.HolidaysUntil) {
		return fmt.Errorf("holidays_until: no day: %w", ErrCalendar)
	}
	return nil
}

// Estimate says whether days counted up to a day are an estimate only, because
// the calendar does not know the holidays that far.
func (c Calendar) Estimate(day string) bool {
	return c.HolidaysUntil == "" || day > c.HolidaysUntil
}

// Works says whether the day is worked. Error: ErrNotDay.
func (c Calendar) Works(day string) (bool, error) {
	at, err := read(day)
	return err == nil && c.works(at), err
}

func (c Calendar) works(at time.Time) bool {
	if len(c.Week) == 0 {
		if at.Weekday() == time.Saturday || at.Weekday() == time.Sunday {
			return false
		}
	} else if !slices.Contains(c.Week, weekday(at)) {
		return false
	}
	if len(c.Closed) == 0 {
		return true
	}
	_, shut := c.closed(at.Format(time.DateOnly))
	return !shut
}

// WhyNot is what closes a day of the week that is worked else; false where
// nothing does.
func (c Calendar) WhyNot(day string) (Closed, bool) { return c.closed(day) }

func (c Calendar) closed(day string) (Closed, bool) {
	for _, closed := range c.Closed {
		if closed.From <= day && day <= closed.Until {
			return closed, true
		}
	}
	return Closed{}, false
}

// Back is the day so many working days before the day given, which itself is
// not counted: one before a Monday is the Friday. None before it is the day
// itself, worked or not.
//
// Errors: ErrNotDay, ErrTooFar, ErrNoWork.
func (c Calendar) Back(day string, working int) (string, error) { return c.step(day, working, -1) }

// Forward is the day so many working days after the day given, which itself
// is not counted. None after it is the day itself, worked or not.
//
// Errors: ErrNotDay, ErrTooFar, ErrNoWork.
func (c Calendar) Forward(day string, working int) (string, error) { return c.step(day, working, 1) }

func (c Calendar) step(day string, working, way int) (string, error) {
	at, err := read(day)
	if err != nil {
		return "", err
	}
	if working < 0 || working > MostDays {
		return "", fmt.Errorf("%d days: %w", working, ErrTooFar)
	}
	for idle := 0; working > 0; {
		at = at.AddDate(0, 0, way)
		if at.Year() < firstYear || at.Year() > lastYear {
			return "", ErrTooFar
		}
		if c.works(at) {
			working--
			idle = 0
		} else if idle++; idle > MostDays {
			return "", ErrNoWork
		}
	}
	return write(at)
}

// Next is the first day that is worked, from the day given on, itself
// included.
//
// Errors: ErrNotDay, ErrTooFar, ErrNoWork.
func (c Calendar) Next(day string) (string, error) {
	if works, err := c.Works(day); err != nil || works {
		return day, err
	}
	return c.Forward(day, 1)
}

// Between counts the days worked after from up to until, until included: how
// many working days later until is. Below nothing where until is earlier.
//
// Errors: ErrNotDay, ErrTooFar where they are more than MostDays apart.
func (c Calendar) Between(from, until string) (int, error) {
	a, err := read(from)
	if err != nil {
		return 0, err
	}
	b, err := read(until)
	if err != nil {
		return 0, err
	}
	if b.Before(a) {
		n, err := c.Between(until, from)
		return -n, err
	}
	if b.Sub(a) > MostDays*24*time.Hour {
		return 0, ErrTooFar
	}
	n := 0
	for a.Before(b) {
		if a = a.AddDate(0, 0, 1); c.works(a) {
			n++
		}
	}
	return n, nil
}

// Add is the day so many days later, worked or not; earlier below nothing.
//
// Errors: ErrNotDay, ErrTooFar.
func Add(day string, days int) (string, error) {
	at, err := read(day)
	if err != nil {
		return "", err
	}
	if days < -MostDays || days > MostDays {
		return "", fmt.Errorf("%d days: %w", days, ErrTooFar)
	}
	return write(at.AddDate(0, 0, days))
}

// Days are the days from one day to another, worked or not; below nothing where
// the other is earlier.
//
// Errors: ErrNotDay.
func Days(from, until string) (int, error) {
	a, err := read(from)
	if err != nil {
		return 0, err
	}
	b, err := read(until)
	return int(b.Sub(a) / (24 * time.Hour)), err
}

// AddMonths is the same day so many months later, or the last of that month where
// it has no such day: a month after 31 January is 28 February, or 29.
//
// Errors: ErrNotDay, ErrTooFar.
func AddMonths(day string, months int) (string, error) {
	at, err := read(day)
	if err != nil {
		return "", err
	}
	if months < -MostDays || months > MostDays {
		return "", fmt.Errorf("%d months: %w", months, ErrTooFar)
	}
	first := time.Date(at.Year(), at.Month()+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return write(first.AddDate(0, 0, min(at.Day(), last)-1))
}

// Number is the day counted from 1 January 1900, which is 0. Error: ErrNotDay.
func Number(day string) (int, error) {
	at, err := read(day)
	if err != nil {
		return 0, err
	}
	return int(at.Sub(zero) / (24 * time.Hour)), nil
}

// Numbered is the day of a number. Error: ErrTooFar.
func Numbered(n int) (string, error) {
	if n < 0 || n > 300*366 {
		return "", ErrTooFar
	}
	return write(zero.AddDate(0, 0, n))
}

var zero = time.Date(firstYear, time.January, 1, 0, 0, 0, 0, time.UTC)

// WeekdayOf is the day of the week of a day. Error: ErrNotDay.
func WeekdayOf(day string) (Weekday, error) {
	at, err := read(day)
	if err != nil {
		return "", err
	}
	return weekday(at), nil
}

func weekday(at time.Time) Weekday { return Weekday(strings.ToLower(at.Weekday().String())) }

// Valid says whether a text is a day.
func Valid(day string) bool {
	_, err := read(day)
	return err == nil
}

// Said is the day as people say it: "4 January 2027". What is no day comes
// back as it is.
func Said(day string) string {
	at, err := read(day)
	if err != nil {
		return day
	}
	return at.Format("2 January 2006")
}

func read(day string) (time.Time, error) {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil || at.Year() < firstYear || at.Year() > lastYear {
		return time.Time{}, fmt.Errorf("%q: %w", day, ErrNotDay)
	}
	return at, nil
}

func write(at time.Time) (string, error) {
	if at.Year() < firstYear || at.Year() > lastYear {
		return "", ErrTooFar
	}
	return at.Format(time.DateOnly), nil
}
