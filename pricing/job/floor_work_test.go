package job_test

import (
	"fmt"
	"testing"

	"wainscot/bom/schedule"
	"wainscot/pricing/job"
)

// What is left is by the board: the plan had more worked than was.
func TestRestIsByTheBoard(t *testing.T) {
	hours := func(trade, n string) []schedule.TradeHours { return []schedule.TradeHours{{Trade: trade, Hours: d(n)}} }
	w := schedule.Work{LengthMM: 6000, Stages: []schedule.Stage{
		{Code: "strip", Name: "Strip-out", Hours: hours("fitter", "4")}, {Code: "glue", Name: "Gluing", After: []string{"strip"}, Hours: hours("joiner", "8"), StandingHours: d("24")},
		{Code: "floor", Name: "Floor", After: []string{"glue"}, Hours: hours("fitter", "10")}, {Code: "wire", Name: "Wiring", After: []string{"strip"}, Hours: hours("electrician", "6")},
		{Code: "trim", Name: "Trim", Hours: hours("trimmer", "2")},
	}}
	kept := schedule.Slot{Stays: []schedule.Stay{{Place: "bay", From: "2027-02-01", Until: "2027-02-03"}}, Hours: []schedule.DayHours{
		{Day: "2027-02-01", Stage: "strip", Trade: "fitter", Hours: d("4")}, {Day: "2027-02-01", Stage: "glue", Trade: "joiner", Hours: d("8")},
		{Day: "2027-02-02", Stage: "wire", Trade: "electrician", Hours: d("3")}, {Day: "2027-02-03", Stage: "wire", Trade: "electrician", Hours: d("3")},
		{Day: "2027-02-03", Stage: "floor", Trade: "fitter", Hours: d("8")},
	}}
	j := job.Job{Stages: []job.Stage{{Code: "strip", State: job.Done}, {Code: "glue", State: job.Done}, {Code: "floor", State: job.ToDo}, {Code: "wire", State: job.UnderWay}, {Code: "trim", State: job.LeftOut}}}
	j.Steps = []job.Step{{Number: 1, Stage: "glue", To: job.UnderWay, On: "2027-02-01"}, {Number: 2, Stage: "glue", To: job.Done, On: "2027-02-02"}}
	j.Hours = []job.Worked{{Number: 3, Stage: "wire", Trade: "electrician", Hours: d("5")}, {Number: 4, Stage: "wire", Trade: "electrician", Hours: d("-1")}}
	rest, worked, ready, err := j.RestOf(w, kept)
	got := ""
	for _, s := range rest.Stages {
		got += fmt.Sprintf("%s %s after %v; ", s.Code, s.Hours[0].Hours, s.After)
	}
	if err != nil || rest.LengthMM != 6000 || got != "floor 10 after []; wire 2 after []; " {
		t.Errorf("left are %s %v", got, err)
	}
	got = ""
	for _, h := range worked.Hours {
		got += fmt.Sprintf("%s %s %s; ", h.Day, h.Stage, h.Hours)
	}
	if got != "2027-02-01 strip 4; 2027-02-01 glue 8; 2027-02-02 wire 3; 2027-02-03 wire 1; " || len(worked.Stays) != 1 || len(worked.Stages) != 3 {
		t.Errorf("worked were %s, %+v", got, worked.Stages)
	}
	if len(ready) != 1 || ready[0].Stage != "floor" || ready[0].Day != "2027-02-04" {
		t.Errorf("what cures: %+v", ready)
	}
}
