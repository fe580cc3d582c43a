package job_test

import (
	"testing"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/pricing/job"
)

// A change of a whole conversion, worked out: resolved, expanded and priced
// twice, since it is charged for what is done.
func BenchmarkVary(b *testing.B) {
	in := varying(b, gross(), "full-conversion-short-van")
	in.Stages = []job.StageProgress{{Stage: "openings", DonePercent: 100}}
	p := asks(&in)
	p.Choices = with(without(p.Choices, "win_near_slide"), bom.Choice{Want: "win_rear_near_fixed"})
	for b.Loop() {
		if _, faults, err := job.Vary(in, p); err != nil || len(faults) > 0 {
			b.Fatal(err, faults)
		}
	}
}

// The foreman's list of two hundred vans, each with something missing.
func BenchmarkLook(b *testing.B) {
	var vans []job.Ahead
	for i := range 200 {
		a := ahead(int64(i + 1))
		a.Missing = []job.Missing{{What: job.MissingPart, Stage: "lining", By: "2027-01-08"}, {What: job.MissingYes, Stage: "beds"}}
		vans = append(vans, a)
	}
	for b.Loop() {
		if _, err := job.Look("2027-01-05", 5, calendar.Calendar{}, vans); err != nil {
			b.Fatal(err)
		}
	}
}
