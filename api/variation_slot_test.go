package api

import (
	"slices"
	"testing"

	"wainscot/bom/schedule"
)

func TestOnlyWhatAChangeMakesLaterWaits(t *testing.T) {
	at := func(stage, day string) schedule.StageReady { return schedule.StageReady{Stage: stage, Day: day} }
	agreed := []schedule.StageReady{at("floor", "2027-01-12"), at("wiring", "2027-01-14")}
	got := laterReady([]schedule.StageReady{at("floor", "2027-01-12"), at("wiring", "2027-01-18"), at("gas", "2027-01-13")}, agreed)
	if !slices.Equal(got, []schedule.StageReady{at("wiring", "2027-01-18"), at("gas", "2027-01-13")}) {
		t.Errorf("what waits: %+v", got)
	}
	if got := laterReady([]schedule.StageReady{at("wiring", "2027-01-13")}, agreed); len(got) != 0 {
		t.Errorf("earlier than agreed: %+v", got)
	}
}
