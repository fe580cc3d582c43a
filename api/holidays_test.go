package api

import (
	"slices"
	"testing"
)

// Those of England and Wales as GOV.UK lists them (bank holidays).
func TestHolidaysAreAsPublished(t *testing.T) {
	for year, want := range map[int][]string{
		2026: {"2026-01-01", "2026-04-03", "2026-04-06", "2026-05-04", "2026-05-25", "2026-08-31", "2026-12-25", "2026-12-28"},
		2027: {"2027-01-01", "2027-03-26", "2027-03-29", "2027-05-03", "2027-05-31", "2027-08-30", "2027-12-27", "2027-12-28"},
	} {
		var got []string
		for _, h := range holidays(year) {
			got = append(got, h.From)
			if h.From != h.Until || h.Name == "" || h.Why != "holiday" {
				t.Errorf("%+v", h)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%d: %v; want %v", year, got, want)
		}
	}
}
