package paper

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
)

// PlannedVan is a van in its slot, as those read it who plan by it: no name of
// a person.
type PlannedVan struct {
	// UID is the same for as long as the slot is that job's, and nobody
	// else's; Version goes up with every change.
	UID       string
	Version   int64
	ChangedAt time.Time
	// Name is "Job 12: Short panel van".
	Name string
	// Short is the number of the job, where there is no room for more.
	Short string
	// Firm: the van is here, or confirmed to come.
	Firm bool
	Days schedule.Slot
}

// SlotFeed is the slots of a workshop as a calendar.
type SlotFeed struct {
	// UID of the workshop, for a feed without slots.
	UID   string
	Title string
	// Places by code, to be called by their names.
	Places map[string]string
	From   string // YYYY-MM-DD
	Until  string
	MadeAt time.Time
	Vans   []PlannedVan
}

// foldAt is how many octets a line has at most, its end aside (RFC 5545, 3.1).
const foldAt = 75

// SlotsICS writes the slots as iCalendar (RFC 5545): for each an event of whole
// days from the first of its stays to the last, firm ones confirmed and held
// ones tentative. An end is the day after, as a date's end is not part of it
// (3.8.2.2). A calendar holds one component at least (3.4): without slots it
// says that the days asked for are free.
//
// Errors: the writer's, and a day that is none.
func SlotsICS(w io.Writer, f SlotFeed) error {
	var b icsWriter
	b.line("BEGIN", "VCALENDAR")
	b.line("VERSION", "2.0")
	b.line("PRODID", "-//Wainscot//Slots//EN")
	b.line("X-WR-CALNAME", icsText(f.Title))
	for i := range f.Vans {
		b.event(&f, &f.Vans[i])
	}
	if len(f.Vans) == 0 {
		b.line("BEGIN", "VFREEBUSY")
		b.line("UID", icsText(f.UID))
		b.line("DTSTAMP", icsMoment(f.MadeAt))
		b.line("DTSTART", icsDay(f.From)+"T000000Z")
		b.line("DTEND", icsDay(b.after(f.Until))+"T000000Z")
		b.line("END", "VFREEBUSY")
	}
	b.line("END", "VCALENDAR")
	if b.err != nil {
		return b.err
	}
	_, err := io.WriteString(w, b.text.String())
	return err
}

type icsWriter struct {
	text strings.Builder
	err  error
}

func (b *icsWriter) event(f *SlotFeed, v *PlannedVan) {
	b.line("BEGIN", "VEVENT")
	b.line("UID", icsText(v.UID))
	b.line("DTSTAMP", icsMoment(v.ChangedAt))
	b.line("LAST-MODIFIED", icsMoment(v.ChangedAt))
	b.line("SEQUENCE", fmt.Sprint(v.Version-1))
	b.line("DTSTART;VALUE=DATE", icsDay(v.Days.From()))
	b.line("DTEND;VALUE=DATE", icsDay(b.after(v.Days.Until())))
	b.line("SUMMARY", icsText(v.Name))
	status, says := "TENTATIVE", []string{"A place is kept; the van is not confirmed to come."}
	if v.Firm {
		status, says = "CONFIRMED", []string{"The van is here, or confirmed to come."}
	}
	b.line("STATUS", status)
	var places []string
	for _, s := range v.Days.Stays {
		name := f.Places[s.Place]
		if name == "" {
			name = s.Place
		}
		if len(places) == 0 || places[len(places)-1] != name {
			places = append(places, name)
		}
		says = append(says, name+": "+calendar.Said(s.From)+" to "+calendar.Said(s.Until)+".")
	}
	b.line("LOCATION", icsText(strings.Join(places, ", then ")))
	b.line("DESCRIPTION", icsText(strings.Join(says, "\n")))
	b.line("END", "VEVENT")
}

// line writes a content line, folded.
func (b *icsWriter) line(name, value string) {
	rest := name + ":" + value
	room := foldAt
	for len(rest) > room {
		at := room
		for !utf8.RuneStart(rest[at]) { // no letter is cut in two
			at--
		}
		b.text.WriteString(rest[:at] + "\r\n ")
		rest, room = rest[at:], foldAt-1
	}
	b.text.WriteString(rest + "\r\n")
}

// after is the day after.
func (b *icsWriter) after(day string) string {
	next, err := calendar.Add(day, 1)
	if err != nil {
		b.err = err
	}
	return next
}

func icsDay(day string) string { return strings.ReplaceAll(day, "-", "") }

func icsMoment(at time.Time) string { return at.UTC().Format("20060102T150405Z") }

// icsText is text as a value has it (RFC 5545, 3.3.11); control characters but
// the end of a line are no part of any.
func icsText(s string) string {
	s = strings.Map(func(r rune) rune {
		if r != '\n' && (r < ' ' || r == 0x7f) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`).Replace(s)
}
