package job_test

import (
	"reflect"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
)

func TestStagesThatHaveNothingToDoAreReachedThrough(t *testing.T) {
	stages := []catalogue.Stage{
		{Code: "strip", Name: "Strip-out"},
		{Code: "frame", Name: "Frame", After: []string{"strip"}},
		{Code: "roof", Name: "Roof", After: []string{"frame"}},
		{Code: "floor", Name: "Floor", After: []string{"roof", "strip"}},
		{Code: "beds", Name: "Beds", After: []string{"floor", "roof"}},
	}
	sheet := &bom.Sheet{BaseVan: "long", Stages: []bom.StageTotal{
		{Stage: "strip", Lines: 1, Hours: decimal.New(25, -1)},
		{Stage: "frame"}, {Stage: "roof"},
		{Stage: "floor", Lines: 3, StandingHours: decimal.New(12, 0)},
		{Stage: "beds", Lines: 1},
	}}
	j := job.New(sheet, stages, "2027-01-04")
	type stage struct {
		code  string
		after []string
	}
	var got []stage
	for _, s := range j.Stages {
		if s.State != job.ToDo {
			t.Errorf("%s is %q", s.Code, s.State)
		}
		got = append(got, stage{s.Code, s.After})
	}
	want := []stage{{"strip", nil}, {"floor", []string{"strip"}}, {"beds", []string{"floor", "strip"}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("stages %v, want %v", got, want)
	}
	text, err := j.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := job.Decode(text)
	if err != nil {
		t.Fatal(err)
	}
	again, err := back.Encode()
	if err != nil || string(again) != string(text) {
		t.Errorf("%s read and written is %s, %v", text, again, err)
	}
	for _, broken := range []string{``, `{}`, string(text) + "x", `{"format":"wainscot-job/1","colour":"red"}`, `{"format":"wainscot-job/2"}`} {
		if _, err := job.Decode([]byte(broken)); err == nil {
			t.Errorf("%q was read as a job", broken)
		}
	}
}
