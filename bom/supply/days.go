package supply

import (
	"fmt"

	"wainscot/bom/calendar"
)

// days counts working days and remembers: the wants of a hundred jobs have few
// days between them.
type days struct {
	calendar calendar.Calendar
	counted  map[counting]string
}

type counting struct {
	day     string
	working int // below nothing: forward
}

func daysOf(c calendar.Calendar) *days {
	return &days{calendar: c, counted: map[counting]string{}}
}

// back is so many working days before the day; none is the day itself.
func (d *days) back(day string, working int) (string, error) {
	return d.count(counting{day, working})
}

// on is so many working days after the day; none is the day itself.
func (d *days) on(day string, working int) (string, error) {
	return d.count(counting{day, -working})
}

func (d *days) count(c counting) (string, error) {
	if c.working == 0 || c.day == "" {
		return c.day, nil
	}
	if day, known := d.counted[c]; known {
		return day, nil
	}
	day, err := d.walk(c)
	if err != nil {
		return "", fmt.Errorf("%w: %w", ErrDay, err)
	}
	d.counted[c] = day
	return day, nil
}

func (d *days) walk(c counting) (string, error) {
	if c.working > 0 {
		return d.calendar.Back(c.day, c.working)
	}
	return d.calendar.Forward(c.day, -c.working)
}
