package job_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
	"wainscot/pricing/job"
)

// ahead is a van of five stages: strip Monday, wiring Tuesday and Wednesday,
// water beside it, lining Thursday and Friday after both, beds the Monday after
// lining has stood a night. 2027-01-04 is a Monday.
func ahead(number int64) job.Ahead {
	h := func(code, hours, standing string, state job.StageState, after ...string) job.StageAhead {
		return job.StageAhead{Code: code, Name: code, After: after, State: state, Hours: hoursOf(hours), Left: hoursOf(hours), StandingHours: hoursOf(standing)}
	}
	return job.Ahead{Job: "job", Number: number,
		Stages: []job.StageAhead{
			h("strip", "8", "0", job.Done), h("wiring", "16", "0", job.ToDo, "strip"), h("water", "8", "0", job.ToDo, "strip"),
			h("lining", "16", "12", job.ToDo, "wiring", "water"), h("beds", "8", "0", job.ToDo, "lining"),
		},
		Slot: &schedule.Slot{
			Stays: []schedule.Stay{{Place: "bay", From: "2027-01-04", Until: "2027-01-11"}},
			Stages: []schedule.StageDays{
				{Stage: "strip", From: "2027-01-04", Until: "2027-01-04"}, {Stage: "wiring", From: "2027-01-05", Until: "2027-01-06"},
				{Stage: "water", From: "2027-01-06", Until: "2027-01-06"}, {Stage: "lining", From: "2027-01-07", Until: "2027-01-08"},
				{Stage: "beds", From: "2027-01-11", Until: "2027-01-11"},
			},
		},
	}
}

func hoursOf(text string) decimal.Decimal { return number(text) }

func TestWhatStopsAVan(t *testing.T) {
	missing := func(what job.MissingWhat, stage, by string) job.Missing {
		return job.Missing{What: what, Stage: stage, Code: "x", By: by, Says: string(what) + " missing."}
	}
	for _, test := range []struct {
		name    string
		today   string
		change  func(*job.Ahead)
		missing []job.Missing
		want    string
	}{
		{"nothing", "2027-01-05", nil, nil, "Job 1, at wiring\n"},
		{"a part that comes in time", "2027-01-05", nil, []job.Missing{missing("part", "lining", "2027-01-07")}, "Job 1, at wiring\n"},
		{
			"a part that comes a day late: lining ends on Monday, beds on Tuesday", "2027-01-05", nil,
			[]job.Missing{missing("part", "lining", "2027-01-08")},
			"Job 1, at wiring: handover on 11 January 2027, not before 12 January 2027\n  part, wanted on 7 January 2027: part missing.\n",
		},
		{
			"the same stops two stages: it is told where it does first", "2027-01-05", nil,
			[]job.Missing{missing("certificate", "lining", "2027-01-12"), missing("certificate", "beds", "2027-01-12")},
			"Job 1, at wiring: handover on 11 January 2027, not before 14 January 2027\n  certificate, wanted on 7 January 2027: certificate missing.\n",
		},
		{
			"nobody knows when: the van stands, and water could be done", "2027-01-05", nil,
			[]job.Missing{missing("person", "wiring", "")},
			"Job 1, at wiring: handover on 11 January 2027, nobody can say\n  person, wanted on 5 January 2027: person missing.\n  instead: water\n",
		},
		{
			"water is stopped as well", "2027-01-05", nil,
			[]job.Missing{missing("yes", "wiring", "2027-01-06"), missing("part", "water", "2027-01-06")},
			"Job 1, at wiring: handover on 11 January 2027, not before 12 January 2027\n  yes, wanted on 5 January 2027: yes missing.\n",
		},
		{
			"half of wiring is done: one day more, all in time", "2027-01-06",
			func(a *job.Ahead) {
				a.Stages[1].State, a.Stages[1].Left = job.UnderWay, number("8")
				a.Stages[2].State = job.Done
			}, nil, "Job 1, at wiring\n",
		},
		{
			"it has taken longer than quoted: nothing is left of its hours, and it is not done", "2027-01-06",
			func(a *job.Ahead) {
				a.Stages[1].State, a.Stages[1].Left = job.UnderWay, number("-2")
				a.Stages[2].State = job.Done
			}, nil, "Job 1, at wiring\n",
		},
		{
			"two days behind", "2027-01-07", nil, nil,
			"Job 1, at wiring, water, lining: handover on 11 January 2027, not before 13 January 2027\n",
		},
		{
			"a payment before the handover, beyond five days", "2027-01-01", nil, []job.Missing{missing("payment", "", "")},
			"Job 1, next wiring\n",
		},
		{
			"within them and without a day", "2027-01-05", nil, []job.Missing{missing("payment", "", "")},
			"Job 1, at wiring: handover on 11 January 2027, nobody can say\n  payment, wanted on 11 January 2027: payment missing.\n",
		},
		{
			"within them", "2027-01-05", nil, []job.Missing{missing("certificate", "", "2027-01-12")},
			"Job 1, at wiring: handover on 11 January 2027, not before 12 January 2027\n  certificate, wanted on 11 January 2027: certificate missing.\n",
		},
		{
			"sixteen hours of standing are two nights: lining on Friday, beds on Monday all the same", "2027-01-05",
			func(a *job.Ahead) { a.Stages[3].StandingHours = number("16") }, nil, "Job 1, at wiring\n",
		},
		{
			"lining until Monday and two nights: beds on Wednesday", "2027-01-05",
			func(a *job.Ahead) { a.Stages[3].StandingHours = number("16") },
			[]job.Missing{missing("part", "lining", "2027-01-08")},
			"Job 1, at wiring: handover on 11 January 2027, not before 13 January 2027\n  part, wanted on 7 January 2027: part missing.\n",
		},
		{"no slot", "2027-01-05", func(a *job.Ahead) { a.Slot = nil }, []job.Missing{missing("part", "wiring", "")}, "Job 1, next wiring\n"},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := ahead(1)
			if test.change != nil {
				test.change(&a)
			}
			a.Missing = test.missing
			list, err := job.Look(test.today, 5, calendar.Calendar{}, []job.Ahead{a})
			if err != nil {
				t.Fatal(err)
			}
			if got := list[0].Text(); got != test.want {
				t.Errorf("got\n%swant\n%s", got, test.want)
			}
		})
	}
	if _, err := job.Look("today", 5, calendar.Calendar{}, nil); err == nil {
		t.Error("looked from no day")
	}
}

func TestWhatHurtsMostComesFirst(t *testing.T) {
	late, later, unknown, stands, well := ahead(1), ahead(2), ahead(3), ahead(4), ahead(5)
	late.Missing = []job.Missing{{What: job.MissingPart, Stage: "lining", By: "2027-01-08"}}
	later.Missing = []job.Missing{{What: job.MissingPart, Stage: "lining", By: "2027-01-15"}}
	unknown.Missing = []job.Missing{{What: job.MissingYes, Stage: "beds"}}
	stands.Missing = []job.Missing{{What: job.MissingPerson, Stage: "wiring", By: "2027-01-06"}}
	stands.HandoverOn = "2027-01-29"
	list, err := job.Look("2027-01-05", 5, calendar.Calendar{}, []job.Ahead{well, stands, late, later, unknown})
	if err != nil {
		t.Fatal(err)
	}
	var order []int64
	for _, o := range list {
		order = append(order, o.Number)
	}
	if !slices.Equal(order, []int64{3, 2, 1, 4, 5}) {
		t.Errorf("the order is %v", order)
	}
	if list[1].LateDays != 6 || !list[3].StandsToday || list[2].StandsToday {
		t.Errorf("%+v", list)
	}
}

// Whatever is missing: nothing is earlier for it, a stage named instead has all
// before it done and misses nothing, and what is there in time stops nobody.
func TestMissingMoreIsNeverEarlier(t *testing.T) {
	stages := []string{"strip", "wiring", "water", "lining", "beds", ""}
	days := []string{"", "2027-01-04", "2027-01-06", "2027-01-08", "2027-01-13"}
	rapid.Check(t, func(r *rapid.T) {
		a := ahead(1)
		for i := range a.Stages {
			a.Stages[i].State = rapid.SampledFrom([]job.StageState{job.Done, job.ToDo, job.UnderWay, job.LeftOut}).Draw(r, "state")
		}
		for range rapid.IntRange(0, 3).Draw(r, "missing") {
			a.Missing = append(a.Missing, job.Missing{What: job.MissingPart, Stage: rapid.SampledFrom(stages).Draw(r, "stage"), By: rapid.SampledFrom(days).Draw(r, "by"), Says: "x"})
		}
		more := a
		more.Missing = append(slices.Clone(a.Missing), job.Missing{What: job.MissingBay, Stage: rapid.SampledFrom(stages).Draw(r, "stage"), By: rapid.SampledFrom(days).Draw(r, "by"), Says: "y"})
		look := func(a job.Ahead) job.Outlook {
			list, err := job.Look("2027-01-05", 5, calendar.Calendar{}, []job.Ahead{a})
			if err != nil {
				r.Fatal(err)
			}
			return list[0]
		}
		with, without := look(more), look(a)
		if with.Earliest != "" && (without.Earliest == "" || with.Earliest < without.Earliest) || with.Earliest == "" && !with.AtRisk {
			r.Fatalf("with more missing it is done on %q, else on %q", with.Earliest, without.Earliest)
		}
		if with.AtRisk != (with.Earliest == "" || with.Earliest > with.HandoverOn) || (with.LateDays > 0) != (with.AtRisk && with.Earliest != "") {
			r.Fatalf("at risk %+v", with)
		}
		for _, code := range with.Instead {
			for _, m := range more.Missing {
				if m.Stage == code && (m.By == "" || m.By > "2027-01-05") {
					r.Fatalf("%s is named instead and misses something", code)
				}
			}
			for _, s := range more.Stages {
				for _, before := range s.After {
					k := slices.IndexFunc(more.Stages, func(o job.StageAhead) bool { return o.Code == before })
					if s.Code == code && more.Stages[k].State != job.Done && more.Stages[k].State != job.LeftOut {
						r.Fatalf("%s is named instead, before %s is done", code, before)
					}
				}
			}
		}
		for _, s := range with.Stops {
			if s.By != "" && s.By <= s.WantedOn {
				r.Fatalf("%+v stops nobody", s)
			}
		}
		if strings.Contains(with.Text(), "%!") {
			r.Fatal(with.Text())
		}
	})
}
