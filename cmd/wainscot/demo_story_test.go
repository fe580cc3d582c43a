package main

import (
	"strings"
	"testing"
	"time"
)

func TestStoryIsLaidOverChoices(t *testing.T) {
	for _, c := range []struct{ below, above, want string }{
		{`{"a":1}`, ``, `{"a":1}`},
		{`{"a":1,"b":{"c":2,"d":3}}`, `{"b":{"c":4},"e":5}`, `{"a":1,"b":{"c":4,"d":3},"e":5}`},
		{`{"vans":[{"van":{"x":1},"y":2}]}`, `{"vans":[{"van":null,"van_id":"7"},{"z":1}]}`, `{"vans":[{"van_id":"7","y":2},{"z":1}]}`},
		{`{"a":[1,2]}`, `{"a":"text"}`, `{"a":"text"}`},
	} {
		got, err := laidOver([]byte(c.below), []byte(c.above))
		if err != nil || string(got) != c.want {
			t.Errorf("%s over %s is %s, %v; want %s", c.above, c.below, got, err, c.want)
		}
	}
}

func TestStoryNamesDaysAndAnswers(t *testing.T) {
	told := teller{today: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), kept: map[string]any{
		"job": map[string]any{"id": "9", "stages": []any{map[string]any{"code": "frame"}}},
	}}
	for text, want := range map[string]string{
		"<day>":                      "2026-11-25",
		"<day-3> to <day+3>":         "2026-11-20 to 2026-11-30",
		"/v1/jobs/<job.id>":          "/v1/jobs/9",
		"at <job.stages.0.code> now": "at frame now",
		"5 < 6 and 7 > 6":            "5 < 6 and 7 > 6",
	} {
		if got, err := told.fill(text); err != nil || got != want {
			t.Errorf("%q is %q, %v; want %q", text, got, err, want)
		}
	}
	for _, text := range []string{"<nobody.id>", "<job.name>", "<job.stages.1.code>", "<job.stages.x.code>"} {
		if got, err := told.fill(text); err == nil {
			t.Errorf("%q is %q", text, got)
		}
	}
}

// TestStoryIsSaid: every step says what happens, and none lies ahead.
func TestStoryIsSaid(t *testing.T) {
	steps, err := readStory()
	if err != nil || len(steps) == 0 {
		t.Fatal(len(steps), err)
	}
	for i, s := range steps {
		if s.On > 0 || strings.TrimSpace(s.Says) == "" {
			t.Errorf("step %d, %q, is on day %d", i+1, s.Says, s.On)
		}
	}
}
