// Package calendar is days without a clock: a day is text, YYYY-MM-DD, in the
// workshop's time zone, and which of them are worked is asked of a Calendar.
// What today is, is always told by whoever asks.
package calendar

import (
	"errors"
	"fmt"
	"time"
)

// Errors; test for them with errors.Is.
var (
	ErrNotDay = errors.New("not a day written as year-month-day")
	ErrTooFar = errors.New("that many days lead out of the calendar")
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
type Calendar struct{}

// Estimate says whether days counted with the calendar are an estimate only,
// because it knows of no holidays.
func (Calendar) Estimate() bool { return true }

// Works says whether the day is worked. Error: ErrNotDay.
func (c Calendar) Works(day string) (bool, error) {
	at, err := read(day)
	return err == nil && c.works(at), err
}

func (Calendar) works(at time.Time) bool {
	return at.Weekday() != time.Saturday && at.Weekday() != time.Sunday
}

// Back is the day so many working days before the day given, which itself is
// not counted: one before a Monday is the Friday. None before it is the day
// itself, worked or not.
//
// Errors: ErrNotDay, ErrTooFar.
func (c Calendar) Back(day string, working int) (string, error) {
	at, err := read(day)
	if err != nil {
		return "", err
	}
	if working < 0 || working > MostDays {
		return "", fmt.Errorf("%d days: %w", working, ErrTooFar)
	}
	for working > 0 {
		at = at.AddDate(0, 0, -1)
		if c.works(at) {
			working--
		}
	}
	return write(at)
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
