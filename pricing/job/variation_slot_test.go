package job_test

import (
	"strings"
	"testing"

	"wainscot/bom/schedule"
	"wainscot/pricing/job"
)

// What becomes of the days is told to the customer, and is held with the yes
// where it is no worse than was told.
func TestVariationHasDays(t *testing.T) {
	days := func(from, until string) schedule.Slot {
		return schedule.Slot{Stays: []schedule.Stay{{Place: "bay", From: from, Until: until}}}
	}
	found := func(from, until string) schedule.Earliest {
		return schedule.Earliest{Found: true, Slot: days(from, until)}
	}
	none := schedule.Earliest{WhyNot: []schedule.Reason{{Says: "Nobody works."}}}
	was := days("2027-01-11", "2027-01-20")
	for _, c := range []struct {
		name  string
		told  *schedule.Earliest // nil: there was no slot when it was sent
		laid  schedule.Earliest
		says  string
		keeps bool
		then  string // what is told where it is not kept
	}{
		{"as told", &schedule.Earliest{Found: true, Slot: days("2027-01-11", "2027-01-21")}, found("2027-01-11", "2027-01-21"), "ready on 21 January 2027, 1 day later than planned so far. ", true, ""},
		{"earlier than told", &schedule.Earliest{Found: true, Slot: days("2027-01-11", "2027-01-22")}, found("2027-01-11", "2027-01-20"), "2 days later", true, ""},
		{"later than told", &schedule.Earliest{Found: true, Slot: days("2027-01-11", "2027-01-18")}, found("2027-01-11", "2027-01-19"), "ready on 18 January 2027, 2 days earlier", false, "would be ready on 19 January 2027, and was to be on 18 January 2027"},
		{"comes in later, as told", &schedule.Earliest{Found: true, Slot: days("2027-01-18", "2027-01-27")}, found("2027-01-18", "2027-01-27"), "7 days later than planned so far, and comes in on 18 January 2027 instead of 11 January 2027", true, ""},
		{"comes in later than told", &schedule.Earliest{Found: true, Slot: days("2027-01-11", "2027-01-27")}, found("2027-01-18", "2027-01-27"), "7 days later than planned so far. ", false, "would come in on 18 January 2027, and was to on 11 January 2027"},
		{"the same days", &schedule.Earliest{Found: true, Slot: was}, found("2027-01-11", "2027-01-20"), "ready on 20 January 2027, as planned so far. ", true, ""},
		{"none told", nil, found("2027-01-11", "2027-01-20"), "", true, ""},
		{"none told, and later", nil, found("2027-01-11", "2027-01-21"), "", false, "was to be on 20 January 2027"},
		{"no days when it was sent", &none, found("2027-01-11", "2027-01-20"), "has to be planned anew: it was to be on 20 January 2027.", true, ""},
		{"no days any more", &schedule.Earliest{Found: true, Slot: was}, none, "as planned so far", false, "has no days. Nobody works."},
	} {
		v := job.Variation{Number: 2, Day: "2027-01-05"}
		if c.told != nil {
			v.OnFloor(job.SlotChangeOf(was, *c.told))
			if n := len(v.Says); n != 1 || v.Says[0].About != job.AboutSlot || !strings.Contains(v.Says[0].Says, c.says) {
				t.Errorf("%s: it says %+v", c.name, v.Says)
			}
		}
		if got := v.Keeps(was, c.laid); got != c.keeps {
			t.Errorf("%s: kept %v", c.name, got)
		}
		if !c.keeps && !strings.Contains(v.Broken(was, c.laid), c.then) {
			t.Errorf("%s: %s", c.name, v.Broken(was, c.laid))
		}
	}
}
