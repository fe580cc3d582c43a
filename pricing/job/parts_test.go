package job_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/pricing/job"
)

// Where a part is, worked by hand from what stock, orders and the board say.
func TestWhereAPartIs(t *testing.T) {
	at := func(stage, n string) job.IssuedAt { return job.IssuedAt{Stage: stage, Quantity: d(n)} }
	used := func(stage, n string) job.PartUsed { return job.PartUsed{Part: "hob", Stage: stage, Quantity: d(n)} }
	for _, test := range []struct {
		name                        string
		at                          job.PartAt
		board                       []job.PartUsed
		ordered, here, fitted, back string
	}{
		{"nobody has ordered it", job.PartAt{}, nil, "0", "0", "0", "0"},
		{"ordered for it alone", job.PartAt{Ordered: d("2")}, nil, "2", "0", "0", "0"},
		{"ordered, and another job wants one", job.PartAt{Ordered: d("2"), Wanted: d("1")}, nil, "2", "0", "0", "1"},
		{"ordered, and others want more than that", job.PartAt{Ordered: d("2"), Wanted: d("5")}, nil, "2", "0", "0", "2"},
		{"the supplier takes one back", job.PartAt{Ordered: d("1"), Kept: d("1"), Returns: d("1")}, nil, "1", "1", "0", "1"},
		{"from the bins", job.PartAt{Kept: d("3"), ToppedUp: true}, nil, "0", "3", "0", "3"},
		{"issued to a stage that is done", job.PartAt{Issued: []job.IssuedAt{at("first", "2")}}, nil, "0", "0", "2", "0"},
		{"issued to one that is under way, and to one to come", job.PartAt{Issued: []job.IssuedAt{at("second", "2"), at("third", "3")}}, nil, "0", "3", "2", "0"},
		{"issued to no stage by name", job.PartAt{Issued: []job.IssuedAt{at("", "2")}}, nil, "0", "2", "0", "0"},
		{"the board says that it was used", job.PartAt{Issued: []job.IssuedAt{at("third", "3")}}, []job.PartUsed{used("second", "2"), used("second", "-1")}, "0", "2", "1", "0"},
		{"both say it of the same", job.PartAt{Issued: []job.IssuedAt{at("first", "2")}}, []job.PartUsed{used("first", "2")}, "0", "0", "2", "0"},
		{"another part's use", job.PartAt{}, []job.PartUsed{{Part: "sink", Stage: "first", Quantity: d("4")}}, "0", "0", "0", "0"},
		{"more was put back than issued", job.PartAt{Issued: []job.IssuedAt{at("first", "-1")}, Kept: d("1")}, nil, "0", "1", "0", "0"},
	} {
		j := job.Job{Stages: []job.Stage{{Code: "first", State: job.Done}, {Code: "second", State: job.UnderWay}, {Code: "third", State: job.ToDo}}}
		for i := range test.board {
			test.board[i].Number = i + 1
		}
		j.Parts = test.board
		test.at.Part = "hob"
		got := j.PartProgress(&test.at)
		if got.Part != "hob" || !got.Ordered.Equal(d(test.ordered)) || !got.Here.Equal(d(test.here)) || !got.Fitted.Equal(d(test.fitted)) || !got.CanGoBack.Equal(d(test.back)) {
			t.Errorf("%s: ordered %s, here %s, fitted %s, back %s", test.name, got.Ordered, got.Here, got.Fitted, got.CanGoBack)
		}
	}
}

// Whatever is said, it is a progress that a variation can be worked out with.
func TestWhereAPartIsMakesSense(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := func(label string) decimal.Decimal { return decimal.New(int64(rapid.IntRange(-4, 9).Draw(r, label)), 0) }
		j := job.Job{Stages: []job.Stage{{Code: "first", State: job.Done}, {Code: "second", State: job.ToDo}}}
		at := job.PartAt{Part: "hob", Kept: n("kept"), Ordered: n("ordered"), Wanted: n("wanted"), Returns: n("returns"), ToppedUp: rapid.Bool().Draw(r, "topped up"),
			Issued: []job.IssuedAt{{Stage: "first", Quantity: n("issued")}, {Stage: "second", Quantity: n("ahead")}}}
		j.Parts = []job.PartUsed{{Number: 1, Part: "hob", Stage: "first", Quantity: n("used")}}
		p := j.PartProgress(&at)
		if p.Ordered.Sign() < 0 || p.Here.Sign() < 0 || p.Fitted.Sign() < 0 || p.CanGoBack.Sign() < 0 || p.CanGoBack.GreaterThan(p.Ordered.Add(p.Here)) {
			r.Fatalf("%+v of %+v", p, at)
		}
	})
}
