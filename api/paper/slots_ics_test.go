package paper_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	"pgregory.net/rapid"

	"wainscot/api/paper"
	"wainscot/bom/schedule"
)

func aFeed() paper.SlotFeed {
	return paper.SlotFeed{
		UID: "0193a000-0000-7000-8000-000000000001", Title: "Withermere Camper Works", From: "2026-11-30", Until: "2026-12-27",
		MadeAt: time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC), Places: map[string]string{"bay_1": "Bay 1; by the door", "yard": "Yard"},
		Vans: []paper.PlannedVan{
			{UID: "0193a000-0000-7000-8000-000000000002", Version: 3, ChangedAt: time.Date(2026, 11, 26, 8, 30, 5, 0, time.UTC), Name: "Job 12: Short panel van, high roof", Firm: true,
				Days: schedule.Slot{Stays: []schedule.Stay{{Place: "bay_1", From: "2026-11-30", Until: "2026-12-04"}, {Place: "yard", From: "2026-12-05", Until: "2026-12-07"}, {Place: "bay_1", From: "2026-12-08", Until: "2026-12-31"}}}},
			{UID: "0193a000-0000-7000-8000-000000000003", Version: 1, ChangedAt: time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC), Name: "Job 13: Minibus",
				Days: schedule.Slot{Stays: []schedule.Stay{{Place: "hall", From: "2026-12-08", Until: "2026-12-08"}}}},
		},
	}
}

func feedText(tb rapidTB, f paper.SlotFeed) string {
	var b bytes.Buffer
	if err := paper.SlotsICS(&b, f); err != nil {
		tb.Fatalf("%v", err)
	}
	return b.String()
}

// What RFC 5545 asks of lines, dates, texts and components, word for word.
func TestSlotsICSIsByTheRFC(t *testing.T) {
	text := feedText(t, aFeed())
	for _, want := range []string{
		"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Wainscot//Slots//EN\r\n", // 3.6, 3.7.3, 3.7.4
		"BEGIN:VEVENT\r\nUID:0193a000-0000-7000-8000-000000000002\r\nDTSTAMP:20261126T083005Z\r\n",
		"SEQUENCE:2\r\nDTSTART;VALUE=DATE:20261130\r\nDTEND;VALUE=DATE:20270101\r\n", // the end is not part of it, 3.6.1
		`SUMMARY:Job 12: Short panel van\, high roof` + "\r\n",
		"STATUS:CONFIRMED\r\n", "STATUS:TENTATIVE\r\n",
		`LOCATION:Bay 1\; by the door\, then Yard\, then Bay 1\; by the door` + "\r\n",
		"LOCATION:hall\r\n",
		`\nYard: 5 December 2026 to 7 December 2026.`,
		"END:VCALENDAR\r\n",
	} {
		if !strings.Contains(unfolded(text), want) {
			t.Errorf("it lacks %q:\n%s", want, text)
		}
	}
	if strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
		t.Error("a line does not end as lines do (3.1)")
	}
	empty := aFeed()
	empty.Vans = nil
	if text := feedText(t, empty); !strings.Contains(text, "BEGIN:VFREEBUSY\r\n") || !strings.Contains(text, "DTEND:20261228T000000Z\r\n") {
		t.Errorf("a calendar has one component at least (3.4):\n%s", text)
	}
}

// A reader of general use reads it, whatever stands in names; no line is longer
// than 75 octets, and no letter is cut.
func TestSlotsICSIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := aFeed()
		name := rapid.StringOf(rapid.RuneFrom([]rune{'a', ',', ';', '\\', '\n', ':', '"', 'é', '漢', '🚐', ' ', '\t'})).Draw(t, "name")
		f.Vans[0].Name = "Van " + name
		text := feedText(t, f)
		for line := range strings.SplitSeq(text, "\r\n") {
			if len(line) > 75 || !utf8.ValidString(line) {
				t.Fatalf("a line of %d octets, or with half a letter: %q", len(line), line)
			}
		}
		read, err := ics.ParseCalendar(strings.NewReader(text))
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		events := read.Events()
		if len(events) != 2 || events[0].Id() != f.Vans[0].UID {
			t.Fatalf("read as %+v", events)
		}
		if got := events[0].GetProperty(ics.ComponentPropertySummary).Value; got != strings.ReplaceAll(f.Vans[0].Name, "\t", "") {
			t.Fatalf("the name %q is read as %q", f.Vans[0].Name, got)
		}
		from, err := events[0].GetAllDayStartAt()
		if err != nil || from.Format(time.DateOnly) != "2026-11-30" {
			t.Fatalf("it begins on %s, %v", from, err)
		}
	})
}

func unfolded(text string) string { return strings.ReplaceAll(text, "\r\n ", "") }
