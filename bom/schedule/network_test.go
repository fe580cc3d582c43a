package schedule_test

import (
	"fmt"
	"strings"
	"testing"

	"wainscot/bom/schedule"
)

// Two worked examples of the critical path method: a textbook's (as given with
// the check values: 16 by A-B-D-E-G, C and F one of float), and an exercise
// printed with its whole table of earliest and latest times (20 by A-D-G,
// homeworksource.com, "A project is showed as follows").
func TestNetworkIsPublished(t *testing.T) {
	for _, c := range []struct{ work, hours, critical, float string }{
		{"a: x 6 | b after a: x 2 | c after a: x 2 | d after b: x 3 | f after c: x 2 | e after d f: x 4 | g after e: x 1",
			"16", "a b d e g", "a 0, b 0, c 1, d 0, f 1, e 0, g 0"},
		{"a: x 8 | b: x 4 | c: x 3 | d after a: x 5 | e after a: x 1 | f after c: x 2 | g after d: x 7 | h after c: x 6 | i after b e f: x 9 | j after h: x 6",
			"20", "a d g", "a 0, b 7, c 5, d 0, e 2, f 6, g 0, h 5, i 2, j 5"},
	} {
		w := work(c.work)
		for i := range w.Stages {
			w.Stages[i].MostPeople = 1
		}
		n, faults := schedule.Floor{}.Network(w)
		if faults != nil {
			t.Fatal(faults)
		}
		var float []string
		for _, s := range n.Stages {
			float = append(float, fmt.Sprintf("%s %s", s.Stage, s.Float))
			if !s.LatestFinish.Sub(s.EarliestFinish).Equal(s.Float) || !s.LatestStart.Sub(s.EarliestStart).Equal(s.Float) {
				t.Errorf("%s: its float is not what lies between its times: %+v", s.Stage, s)
			}
		}
		if n.Hours.String() != c.hours || strings.Join(n.Critical, " ") != c.critical || strings.Join(float, ", ") != c.float {
			t.Errorf("got %s by %v, %s; want %s by %s, %s", n.Hours, n.Critical, strings.Join(float, ", "), c.hours, c.critical, c.float)
		}
	}
	// The table of the second in full.
	w := work("a: x 8 *1 | d after a: x 5 *1 | b: x 4 *1 | e after a: x 1 *1 | i after b e: x 9 *1 | g after d: x 7 *1")
	n, _ := schedule.Floor{}.Network(w)
	for _, s := range n.Stages {
		if want := map[string]string{"a": "0 8 0 8", "b": "0 4 7 11", "d": "8 13 8 13", "e": "8 9 10 11", "g": "13 20 13 20", "i": "9 18 11 20"}[s.Stage]; want !=
			fmt.Sprintf("%s %s %s %s", s.EarliestStart, s.EarliestFinish, s.LatestStart, s.LatestFinish) {
			t.Errorf("%s: %+v; want %s", s.Stage, s, want)
		}
	}
}

func TestNetworkKnowsPeople(t *testing.T) {
	f := small()
	f.Crew[1].PacePercent = 50
	for _, c := range []struct{ work, hours string }{
		{"a: fitter 6", "4"},                            // two of them, one at half pace
		{"a: fitter 6 *1", "6"},                         // only one at the van
		{"a: electrician 3, joiner 3", "6"},             // side by side, the joiner at half pace
		{"a: electrician 4, fitter 4", "4"},             // two people, eight hours
		{"a: gas 2", "2"},                               // nobody may alone: one is reckoned with
		{"a: electrician 1 +24 | b after a:", "9"},      // a day and a night cost a day of work
		{"a: electrician 1 +6 | b after a: gas 1", "4"}, // a quarter of it, two hours
		{"a: | b after a: electrician 2 | c after b:", "2"},
	} {
		n, faults := f.Network(work(c.work))
		if faults != nil || n.Hours.String() != c.hours {
			t.Errorf("%s: %s, %v; want %s", c.work, n.Hours, faults, c.hours)
		}
	}
	if n, _ := f.Network(work("a: electrician 1 +24 | b after a: gas 1")); n.Stages[0].LatestStart.String() != "0" || n.Stages[0].LatestFinish.String() != "9" {
		t.Errorf("standing time is left out of what comes latest: %+v", n.Stages[0])
	}
	if n, _ := f.Network(work("a: | b after a: electrician 2 | c after b:")); strings.Join(n.Critical, " ") != "a b c" {
		t.Errorf("what takes no time is left out of the chain: %v", n.Critical)
	}
}

func TestWorkIsChecked(t *testing.T) {
	for text, code := range map[string]string{
		"a: | a:":                          "duplicate_code",
		"a after b:":                       "unknown_stage",
		"a after b: | b after a:":          "stage_cycle",
		"a: fitter 10000.01":               "out_of_range",
		"a: +10000.01":                     "out_of_range",
		strings.Repeat("a: |", 200) + "a:": "too_many",
	} {
		if faults := work(text).Check(); len(faults) == 0 || faults[0].Code != code {
			t.Errorf("%.40s: %v; want %s", text, faults, code)
		}
	}
	if faults := work("a: fitter 10000 +10000").Check(); faults != nil {
		t.Error(faults)
	}
}
