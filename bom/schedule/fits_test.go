package schedule_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
)

// slotOf reads "bay_1 2026-11-30 2026-12-04" and "2026-11-30 strip fitter 2".
func slotOf(stays, hours string) schedule.Slot {
	var s schedule.Slot
	for one := range strings.SplitSeq(stays, ",") {
		if w := strings.Fields(one); len(w) == 3 {
			s.Stays = append(s.Stays, schedule.Stay{Place: w[0], From: w[1], Until: w[2]})
		}
	}
	for one := range strings.SplitSeq(hours, ",") {
		if w := strings.Fields(one); len(w) == 4 {
			s.Hours = append(s.Hours, schedule.DayHours{Day: w[0], Stage: w[1], Trade: w[2], Hours: decimal.RequireFromString(w[3])})
		}
	}
	return s
}

func TestFits(t *testing.T) {
	const job = "glue: joiner 4 +24 | wire after glue: electrician 6"
	const good = "2026-11-30 glue joiner 4, 2026-12-01 wire electrician 4, 2026-12-02 wire electrician 2"
	for _, c := range []struct{ name, work, stays, hours, code string }{
		{"good", job, "bay_1 2026-11-30 2026-12-02", good, ""},
		{"good in two bays", job, "bay_1 2026-11-30 2026-11-30, bay_2 2026-12-01 2026-12-02", good, ""},
		{"away in between", job, "bay_1 2026-11-30 2026-11-30, bay_1 2026-12-02 2026-12-03", "2026-11-30 glue joiner 4, 2026-12-02 wire electrician 6", ""},
		{"no stay", job, "", "", "out_of_range"},
		{"two places at once", job, "bay_1 2026-11-30 2026-12-01, bay_2 2026-12-01 2026-12-02", good, "stays_overlap"},
		{"ends before it begins", job, "bay_1 2026-12-02 2026-11-30", good, "not_a_day"},
		{"not here that day", job, "bay_1 2026-11-30 2026-12-01", good, "outside_stays"},
		{"years", job, "bay_1 2026-11-30 2028-12-02", good, "out_of_range"},
		{"nothing worked", job, "bay_1 2026-11-30 2026-12-02", "2026-11-30 glue joiner 0", "out_of_range"},
		{"no such place", job, "hall 2026-11-30 2026-12-02", good, "unknown_place"},
		{"taken", job, "bay_1 2026-11-30 2026-12-09", good, "place_taken"},
		{"in the yard", job, "yard 2026-11-30 2026-12-02", good, "place_unsuitable"},
		{"no such stage", job, "bay_1 2026-11-30 2026-12-02", "2026-11-30 strip joiner 4", "unknown_stage"},
		{"no such trade in it", job, "bay_1 2026-11-30 2026-12-02", "2026-11-30 glue gas 4", "unknown_trade"},
		{"too few hours", job, "bay_1 2026-11-30 2026-12-02", "2026-11-30 glue joiner 4, 2026-12-01 wire electrician 4", "hours_differ"},
		{"too many hours", job, "bay_1 2026-11-30 2026-12-02", good + ", 2026-12-02 wire electrician 1", "hours_differ"},
		{"before what comes before", job, "bay_1 2026-11-30 2026-12-02", "2026-12-01 glue joiner 4, 2026-12-01 wire electrician 6", "stage_order"},
		{"before it has cured that day", job, "bay_1 2026-11-30 2026-12-02", "2026-11-30 glue joiner 4, 2026-12-01 wire electrician 6", "day_too_short"},
		{"gone before it has cured", "glue: joiner 4 +48", "bay_1 2026-11-30 2026-12-01", "2026-11-30 glue joiner 4", "standing_time"},
		{"cured", "glue: joiner 4 +44", "bay_1 2026-11-30 2026-12-01", "2026-11-30 glue joiner 4", ""},
		{"nobody there", "glue: joiner 4", "bay_1 2026-11-28 2026-12-02", "2026-11-28 glue joiner 4", "trade_booked"},
		{"booked", "line: joiner 6", "bay_1 2026-12-03 2026-12-03", "2026-12-03 line joiner 6", "trade_booked"},
		{"left", "line: joiner 5", "bay_1 2026-12-03 2026-12-03", "2026-12-03 line joiner 5", ""},
		{"side by side", "line: fitter 6 | wire: electrician 8", "bay_1 2026-12-04 2026-12-04", "2026-12-04 line fitter 6, 2026-12-04 wire electrician 8", ""},
		{"more than there are people", "line: fitter 9 | wire: electrician 8", "bay_1 2026-12-04 2026-12-04", "2026-12-04 line fitter 9, 2026-12-04 wire electrician 8", "trade_booked"},
		{"too many at the van", "line: fitter 7 *1 | wire: electrician 7 *1", "bay_1 2026-12-04 2026-12-04", "2026-12-04 line fitter 7, 2026-12-04 wire electrician 7", "too_many_people"},
		{"too many at the stage", "line: fitter 16 *1", "bay_1 2026-12-04 2026-12-04", "2026-12-04 line fitter 16", "day_too_short"},
	} {
		p := planned(t, small())
		p.Book("other", slotOf("bay_1 2026-12-07 2026-12-11, yard 2026-12-12 2026-12-12", "2026-12-07 x joiner 8"))
		p.Book("third", slotOf("bay_2 2026-12-03 2026-12-03", "2026-12-03 x joiner 3"))
		faults := p.Fits("new", work(c.work), slotOf(c.stays, c.hours))
		if c.code == "" && faults != nil || c.code != "" && !slices.ContainsFunc(faults, func(f document.Fault) bool { return f.Code == c.code }) {
			t.Errorf("%s: %v; want %q", c.name, faults, c.code)
		}
		if faults := p.Fits("other", work("x: joiner 8"), slotOf("bay_1 2026-12-08 2026-12-08", "2026-12-08 x joiner 8")); faults != nil {
			t.Errorf("it stands in its own way: %v", faults)
		}
		if s, _ := p.Booked("other"); len(s.Stays) != 2 {
			t.Error("what was asked about has been lost")
		}
	}
	p := planned(t, small())
	w := work("x: joiner 8")
	w.LengthMM = 5501
	if faults := p.Fits("new", w, slotOf("bay_2 2026-12-08 2026-12-08", "2026-12-08 x joiner 8")); len(faults) == 0 || faults[0].Code != "van_too_large" {
		t.Errorf("a long van in a short bay: %v", faults)
	}
}

func TestFloorIsChecked(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*schedule.Floor)
		at     string
	}{
		"calendar":    {func(f *schedule.Floor) { f.Calendar.HolidaysUntil = "x" }, "calendar"},
		"idle":        {func(f *schedule.Floor) { f.MostIdleDays = schedule.MaxIdleDays + 1 }, "most_idle_days"},
		"same code":   {func(f *schedule.Floor) { f.Places[1].Code = "bay_1" }, "places/2/code"},
		"kind":        {func(f *schedule.Floor) { f.Places[1].Kind = "shed" }, "places/2/kind"},
		"vans":        {func(f *schedule.Floor) { f.Places[1].Vans = 0 }, "places/2/vans"},
		"size":        {func(f *schedule.Floor) { f.Places[1].MostHeightMM = -1 }, "places/2"},
		"pace":        {func(f *schedule.Floor) { f.Crew[0].PacePercent = schedule.MaxPace + 1 }, "crew/1/pace_percent"},
		"trade twice": {func(f *schedule.Floor) { f.Crew[0].Trades[1].Trade = "fitter" }, "crew/1/trades/2"},
		"weekday":     {func(f *schedule.Floor) { f.Crew[0].Hours[1].Weekday = "monday" }, "crew/1/hours/2/weekday"},
		"day's hours": {func(f *schedule.Floor) { f.Crew[0].Hours[1].Hours = h("24.01") }, "crew/1/hours/2/hours"},
		"leave": {func(f *schedule.Floor) {
			f.Crew[0].Leave = []schedule.Period{{From: "2026-12-02", Until: "2026-12-01"}}
		}, "crew/1/leave/1"},
		"overtime": {func(f *schedule.Floor) { f.Crew[0].Overtime = []schedule.Overtime{{Day: "x"}} }, "crew/1/overtime/1/day"},
		"tied": {func(f *schedule.Floor) {
			for i := range schedule.MaxTied {
				f.Crew = append(f.Crew, somebody("m", "fitter", strings.Repeat("t", i+1)))
			}
		}, "crew"},
	} {
		f := small()
		c.change(&f)
		if faults := f.Check(); len(faults) == 0 || faults[0].At != c.at {
			t.Errorf("%s: %v; want something at %s", name, faults, c.at)
		}
	}
	if faults := small().Check(); faults != nil {
		t.Error(faults)
	}
}

// What is booked stays booked when the floor changes; it is told.
func TestOverbooked(t *testing.T) {
	slots := map[string]schedule.Slot{
		"one": slotOf("bay_1 2026-11-30 2026-12-01", "2026-11-30 a electrician 6, 2026-12-01 a fitter 2"),
		"two": slotOf("bay_2 2026-11-30 2026-12-01", "2026-11-30 b fitter 8"),
	}
	for _, c := range []struct {
		name   string
		change func(*schedule.Floor)
		want   []string
	}{
		{"nothing", func(*schedule.Floor) {}, nil},
		{"somebody falls ill", func(f *schedule.Floor) {
			f.Crew[0].Leave = []schedule.Period{{From: "2026-11-30", Until: "2026-11-30"}}
		}, []string{
			"On 30 November 2026 there are 0.00 h of electrician, and 6.00 h are booked. one"}},
		{"the other does", func(f *schedule.Floor) {
			f.Crew[1].Leave = []schedule.Period{{From: "2026-11-30", Until: "2026-12-01"}}
		}, []string{
			"On 30 November 2026 there are 8.00 h of fitter and electrician, and 14.00 h are booked. one two"}},
		{"a bay is gone", func(f *schedule.Floor) { f.Places = f.Places[1:] }, []string{
			"A van stands from 30 November 2026 in bay_1, which is no place any more. one"}},
		{"closed", func(f *schedule.Floor) {
			f.Calendar.Closed = append(f.Calendar.Closed, calendar.Closed{From: "2026-12-01", Until: "2026-12-01", Name: "Flood", Why: calendar.Closure})
		}, []string{"On 1 December 2026 there are 0.00 h of fitter, and 2.00 h are booked. one"}},
	} {
		f := small()
		c.change(&f)
		p := planned(t, f)
		for key, s := range slots {
			p.Book(key, s)
		}
		var got []string
		for _, o := range p.Overbooked("2026-11-30") {
			got = append(got, o.Says+" "+strings.Join(o.Slots, " "))
		}
		if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
			t.Errorf("%s: %q; want %q", c.name, got, c.want)
		}
	}
}

func TestMoved(t *testing.T) {
	before := slotOf("bay_1 2026-11-30 2026-12-01", "")
	before.Stages = []schedule.StageDays{{"a", "2026-11-30", "2026-11-30"}, {"b", "2026-12-01", "2026-12-01"}}
	after := slotOf("bay_1 2026-11-30 2026-12-01, yard 2026-12-02 2026-12-03", "")
	after.Stages = []schedule.StageDays{{"a", "2026-11-30", "2026-11-30"}, {"c", "2026-12-03", "2026-12-03"}}
	m := schedule.Moved(before, after)
	if m.ComesLater != 0 || m.LeavesLater != 2 || len(m.StaysGone) != 0 || len(m.StaysNew) != 1 || len(m.Stages) != 2 ||
		m.Stages[0].Stage != "c" || m.Stages[1].Stage != "b" || m.Stages[1].Is.From != "" {
		t.Errorf("%+v", m)
	}
	before.Stages[0].From, before.Stages[0].Until = "2026-11-28", "2026-11-29"
	if m := schedule.Moved(before, after); m.Stages[0].Later != 2 {
		t.Errorf("%+v", m)
	}
}
