package schedule_test

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
)

func h(text string) decimal.Decimal { return decimal.RequireFromString(text) }

// stages reads "a: fitter 4, electrician 2 | b after a: joiner 8 +24" into
// stages; +24 is standing time, @yard where it is done, *1 how many may.
func stages(text string) []schedule.Stage {
	var list []schedule.Stage
	for one := range strings.SplitSeq(text, "|") {
		head, rest, _ := strings.Cut(one, ":")
		name, after, _ := strings.Cut(strings.TrimSpace(head), " after ")
		s := schedule.Stage{Code: name, Name: strings.ToUpper(name[:1]) + name[1:]}
		if after != "" {
			s.After = strings.Split(after, " ")
		}
		for _, item := range strings.FieldsFunc(rest, func(r rune) bool { return r == ',' }) {
			words := strings.Fields(item)
			for len(words) > 0 {
				switch w := words[0]; w[0] {
				case '+':
					s.StandingHours = h(w[1:])
				case '@':
					s.Where = catalogue.Where(w[1:])
				case '*':
					s.MostPeople = int(h(w[1:]).IntPart())
				default:
					s.Hours = append(s.Hours, schedule.TradeHours{Trade: w, Hours: h(words[1])})
					words = words[1:]
				}
				words = words[1:]
			}
		}
		list = append(list, s)
	}
	return list
}

func work(text string) schedule.Work { return schedule.Work{Stages: stages(text)} }

func week(hours string) []schedule.WeekdayHours {
	var list []schedule.WeekdayHours
	for _, d := range calendar.Weekdays()[:5] {
		list = append(list, schedule.WeekdayHours{Weekday: d, Hours: h(hours)})
	}
	return list
}

// somebody works eight hours a day at these trades; "gas?" is not alone.
func somebody(id string, trades ...string) schedule.Member {
	m := schedule.Member{ID: id, Hours: week("8")}
	for _, t := range trades {
		name, learning := strings.CutSuffix(t, "?")
		m.Trades = append(m.Trades, schedule.MemberTrade{Trade: name, Alone: !learning})
	}
	return m
}

// small is a floor of two bays and a yard for two.
func small() schedule.Floor {
	return schedule.Floor{
		Calendar: calendar.Calendar{HolidaysUntil: "2027-12-31", Closed: []calendar.Closed{
			{From: "2026-12-25", Until: "2026-12-28", Name: "Christmas", Why: calendar.Holiday}}},
		Places: []schedule.Place{
			{Code: "bay_1", Name: "Bay 1", Kind: schedule.Bay, Vans: 1},
			{Code: "bay_2", Name: "Bay 2", Kind: schedule.Bay, Vans: 1, MostLengthMM: 5500},
			{Code: "yard", Name: "Yard", Kind: schedule.Yard, Vans: 2},
		},
		Crew:         []schedule.Member{somebody("ann", "fitter", "electrician"), somebody("ben", "joiner", "fitter"), somebody("cal", "gas?", "fitter?")},
		MostIdleDays: 2,
	}
}

func planned(t testing.TB, f schedule.Floor) *schedule.Plan {
	t.Helper()
	p, faults := schedule.New(f)
	if faults != nil {
		t.Fatal(faults)
	}
	return p
}

func said(s schedule.Slot) string {
	var lines []string
	for _, o := range s.Stays {
		lines = append(lines, "in "+o.Place+" "+o.From+" to "+o.Until)
	}
	for _, o := range s.Stages {
		lines = append(lines, o.Stage+" "+o.From+" to "+o.Until)
	}
	for _, o := range s.Hours {
		lines = append(lines, o.Day+" "+o.Stage+" "+o.Trade+" "+o.Hours.StringFixed(2))
	}
	return strings.Join(lines, "\n")
}

func TestEarliest(t *testing.T) {
	for _, c := range []struct {
		name    string
		floor   func(*schedule.Floor)
		booked  map[string]string // key: stays as "bay_1 2026-11-30 2026-12-04"
		work    string
		van     [2]int
		from    string
		ready   []schedule.StageReady
		want    string // of the slot, "" for none
		because []string
	}{
		{name: "two stages in a day", work: "strip: fitter 4 | wire after strip: electrician 6", from: "2026-11-30",
			// two do four hours in two, and six are left for her who is an electrician too, of whose eight the other has taken none
			want: "in bay_1 2026-11-30 to 2026-11-30\nstrip 2026-11-30 to 2026-11-30\nwire 2026-11-30 to 2026-11-30\n" +
				"2026-11-30 strip fitter 4.00\n2026-11-30 wire electrician 6.00"},
		{name: "not on Sunday", work: "strip: fitter 4 *1", from: "2026-11-29",
			want:    "in bay_1 2026-11-30 to 2026-11-30\nstrip 2026-11-30 to 2026-11-30\n2026-11-30 strip fitter 4.00",
			because: []string{"Nobody works on 29 November 2026."}},
		{name: "glue cures over the weekend", work: "glue: joiner 8 +40 | trim after glue: joiner 2", from: "2026-12-04",
			// Friday; the joiner is done after eight hours, and forty later it is Sunday: Monday from the start
			want: "in bay_1 2026-12-04 to 2026-12-07\nglue 2026-12-04 to 2026-12-04\ntrim 2026-12-07 to 2026-12-07\n" +
				"2026-12-04 glue joiner 8.00\n2026-12-07 trim joiner 2.00"},
		{name: "and cures at night to the hour", work: "glue: joiner 4 +20 | trim after glue: joiner 7", from: "2026-11-30",
			// done at four, cured at nought the next day
			want: "in bay_1 2026-11-30 to 2026-12-01\nglue 2026-11-30 to 2026-11-30\ntrim 2026-12-01 to 2026-12-01\n" +
				"2026-11-30 glue joiner 4.00\n2026-12-01 trim joiner 7.00"},
		{name: "a long van fits only the first bay", booked: map[string]string{"x": "bay_1 2026-11-30 2026-12-04"}, work: "strip: fitter 1", van: [2]int{6000, 2600}, from: "2026-11-30",
			want:    "in bay_1 2026-12-07 to 2026-12-07\nstrip 2026-12-07 to 2026-12-07\n2026-12-07 strip fitter 1.00",
			because: []string{"For Strip every place is taken until 4 December 2026: Bay 1."}},
		{name: "a van changes its bay", booked: map[string]string{"x": "bay_1 2026-12-01 2026-12-04", "y": "bay_2 2026-11-27 2026-11-30"}, work: "line: joiner 16 *1", from: "2026-11-30",
			want: "in bay_1 2026-11-30 to 2026-11-30\nin bay_2 2026-12-01 to 2026-12-01\nline 2026-11-30 to 2026-12-01\n" +
				"2026-11-30 line joiner 8.00\n2026-12-01 line joiner 8.00"},
		{name: "parts come late", work: "strip: fitter 2 | wire after strip: electrician 2", from: "2026-11-30",
			ready: []schedule.StageReady{{Stage: "wire", Day: "2026-12-09", Because: "The charger comes then."}},
			want: "in bay_1 2026-12-04 to 2026-12-09\nstrip 2026-12-04 to 2026-12-04\nwire 2026-12-09 to 2026-12-09\n" +
				"2026-12-04 strip fitter 2.00\n2026-12-09 wire electrician 2.00",
			because: []string{"A van that comes on 3 December 2026 would have to wait too long. Wire cannot begin before 9 December 2026. The charger comes then."}},
		{name: "the apprentice does no gas", work: "pipe: gas 2", from: "2026-11-30", want: "",
			because: []string{"Pipe wants the trade gas, at which nobody of the crew may work alone."}},
		{name: "somebody is on leave", floor: func(f *schedule.Floor) {
			f.Crew[0].Leave = []schedule.Period{{From: "2026-11-30", Until: "2026-12-02"}}
		}, work: "wire: electrician 2", from: "2026-11-30",
			want:    "in bay_1 2026-12-03 to 2026-12-03\nwire 2026-12-03 to 2026-12-03\n2026-12-03 wire electrician 2.00",
			because: []string{"Nobody of the trade electrician, which Wire wants, works on 2 December 2026."}},
		{name: "or works a Saturday", floor: func(f *schedule.Floor) {
			f.Crew[0].Overtime = []schedule.Overtime{{Day: "2026-11-28", Hours: h("5")}}
		}, work: "wire: electrician 6", from: "2026-11-28",
			want: "in bay_1 2026-11-28 to 2026-11-30\nwire 2026-11-28 to 2026-11-30\n2026-11-28 wire electrician 5.00\n2026-11-30 wire electrician 1.00"},
		{name: "nobody comes for a quarter of an hour", floor: func(f *schedule.Floor) {
			f.Crew[0].Hours[0].Hours = h("0.25")
		}, work: "wire: electrician 2", from: "2026-11-30",
			want:    "in bay_1 2026-12-01 to 2026-12-01\nwire 2026-12-01 to 2026-12-01\n2026-12-01 wire electrician 2.00",
			because: []string{"Wire wants the trade electrician, which has 0.25 h left of 0.25 h on 30 November 2026."}},
		{name: "unless that is all", floor: func(f *schedule.Floor) {
			f.Crew[0].Hours[0].Hours = h("0.25")
		}, work: "wire: electrician 0.25", from: "2026-11-30",
			want: "in bay_1 2026-11-30 to 2026-11-30\nwire 2026-11-30 to 2026-11-30\n2026-11-30 wire electrician 0.25"},
		{name: "in the yard", work: "rain: fitter 1 @yard", from: "2026-11-30",
			want: "in yard 2026-11-30 to 2026-11-30\nrain 2026-11-30 to 2026-11-30\n2026-11-30 rain fitter 1.00"},
		{name: "one at the van at a time", work: "box: joiner 6, electrician 6 *1", from: "2026-11-30",
			want: "in bay_1 2026-11-30 to 2026-12-01\nbox 2026-11-30 to 2026-12-01\n2026-11-30 box joiner 6.00\n2026-11-30 box electrician 2.00\n2026-12-01 box electrician 4.00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := small()
			if c.floor != nil {
				c.floor(&f)
			}
			p := planned(t, f)
			for key, stay := range c.booked {
				words := strings.Fields(stay)
				p.Book(key, schedule.Slot{Stays: []schedule.Stay{{Place: words[0], From: words[1], Until: words[2]}}})
			}
			w := work(c.work)
			w.LengthMM, w.HeightMM = c.van[0], c.van[1]
			got, err := p.Earliest(w, c.from, c.ready)
			if err != nil {
				t.Fatal(err)
			}
			if said(got.Slot) != c.want {
				t.Errorf("slot:\n%s\nwant:\n%s", said(got.Slot), c.want)
			}
			for _, r := range c.because {
				found := false
				for _, o := range got.WhyNot {
					found = found || o.Says == r
				}
				if !found {
					t.Errorf("not said: %s\nbut: %+v", r, got.WhyNot)
				}
			}
			if faults := p.Fits("new", w, got.Slot); got.Found && faults != nil {
				t.Errorf("it does not fit: %v", faults)
			}
		})
	}
}
