package schedule

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
)

// Limits of a floor: more is refused.
const (
	MaxPlaces       = 200
	MaxVansInPlace  = 1_000
	MaxCrew         = 500
	MaxMemberTrades = 20
	MaxPeriods      = 500 // of leave or of overtime of one member
	MaxPace         = 300 // percent
	MaxIdleDays     = 60
	MaxVanMM        = 30_000
	// MaxTied trades that people share, each with the next, so that who has
	// which must be weighed together.
	MaxTied = 10
)

// Check holds a floor against what it must be. Paths are those of its fields.
func (f Floor) Check() document.Faults {
	c := floorChecker{}
	if err := f.Calendar.Check(); err != nil {
		c.add("not_a_calendar", "calendar", fmt.Sprintf("The calendar cannot be used: %v.", err), "Mend what is named.")
	}
	if f.MostIdleDays < 0 || f.MostIdleDays > MaxIdleDays {
		c.add("out_of_range", "most_idle_days", fmt.Sprintf("A van cannot stand idle for %d days.", f.MostIdleDays), fmt.Sprintf("Give 0 to %d.", MaxIdleDays))
	}
	if len(f.Places) > MaxPlaces || len(f.Crew) > MaxCrew {
		c.add("too_many", "places", "There are more places or people than can be planned.", fmt.Sprintf("At most %d places and %d people.", MaxPlaces, MaxCrew))
		return c.Faults()
	}
	for i := range f.Places {
		c.place(document.Join("places", i+1), &f.Places[i], slices.IndexFunc(f.Places, func(p Place) bool { return p.Code == f.Places[i].Code }) < i)
	}
	for i := range f.Crew {
		c.member(document.Join("crew", i+1), &f.Crew[i])
	}
	if tied := f.tied(); len(tied) > MaxTied {
		c.add("trades_tied", "crew", fmt.Sprintf("People share %d trades, each with the next: %v.", len(tied), tied[:MaxTied]),
			fmt.Sprintf("At most %d can be weighed together: give some people fewer trades.", MaxTied))
	}
	return c.Faults()
}

type floorChecker struct{ document.Collector }

func (c *floorChecker) add(code, at, reason, remedy string) {
	c.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func (c *floorChecker) place(at string, p *Place, twice bool) {
	if p.Code == "" || twice {
		c.add("duplicate_code", at+"/code", fmt.Sprintf("The place %q has no code of its own.", p.Code), "Give each place one.")
	}
	if p.Kind != Bay && p.Kind != Yard {
		c.add("unknown_word", at+"/kind", fmt.Sprintf("%q is no kind of place.", p.Kind), "Use bay or yard.")
	}
	if p.Vans < 1 || p.Vans > MaxVansInPlace {
		c.add("out_of_range", at+"/vans", fmt.Sprintf("%d vans cannot stand in it.", p.Vans), fmt.Sprintf("Give 1 to %d.", MaxVansInPlace))
	}
	if p.MostLengthMM < 0 || p.MostLengthMM > MaxVanMM || p.MostHeightMM < 0 || p.MostHeightMM > MaxVanMM {
		c.add("out_of_range", at, "Its limits are no size of a van.", fmt.Sprintf("Give 0, for no limit, to %d mm.", MaxVanMM))
	}
}

func (c *floorChecker) member(at string, m *Member) {
	if m.PacePercent < 0 || m.PacePercent > MaxPace {
		c.add("out_of_range", at+"/pace_percent", fmt.Sprintf("Nobody works at %d %%.", m.PacePercent), fmt.Sprintf("Give 1 to %d, or leave it out for 100.", MaxPace))
	}
	if len(m.Trades) > MaxMemberTrades || len(m.Leave) > MaxPeriods || len(m.Overtime) > MaxPeriods {
		c.add("too_many", at, "There are more trades, leaves or overtimes than can be planned.",
			fmt.Sprintf("At most %d trades, and %d each of the others.", MaxMemberTrades, MaxPeriods))
	}
	for i, t := range m.Trades {
		if slices.IndexFunc(m.Trades, func(o MemberTrade) bool { return o.Trade == t.Trade }) < i {
			c.add("duplicate_code", document.Join(at, "trades", i+1), fmt.Sprintf("The trade %q is there twice.", t.Trade), "Give it once.")
		}
	}
	for i, h := range m.Hours {
		at := document.Join(at, "hours", i+1)
		if !slices.Contains(calendar.Weekdays(), h.Weekday) || slices.IndexFunc(m.Hours, func(o WeekdayHours) bool { return o.Weekday == h.Weekday }) < i {
			c.add("unknown_word", at+"/weekday", fmt.Sprintf("%q is no day of the week, or is there twice.", h.Weekday), "Give each day once, as in monday.")
		}
		c.dayHours(at+"/hours", h.Hours)
	}
	for i, l := range m.Leave {
		if !calendar.Valid(l.From) || !calendar.Valid(l.Until) || l.Until < l.From {
			c.add("not_a_day", document.Join(at, "leave", i+1), "The leave does not go from one day to the same or a later one.", "Write both days as year-month-day.")
		}
	}
	for i, o := range m.Overtime {
		at := document.Join(at, "overtime", i+1)
		if !calendar.Valid(o.Day) {
			c.add("not_a_day", at+"/day", fmt.Sprintf("%q is no day.", o.Day), "Write it as year-month-day.")
		}
		c.dayHours(at+"/hours", o.Hours)
	}
}

func (c *floorChecker) dayHours(at string, h decimal.Decimal) {
	if h.IsNegative() || h.GreaterThan(decimal.New(24, 0)) {
		c.add("out_of_range", at, fmt.Sprintf("A day has not %s hours.", h), "Give 0 to 24.")
	}
}

// tied is the largest set of trades that people share, each with the next.
func (f Floor) tied() []string {
	var most []string
	for _, set := range f.tiedTrades() {
		if len(set) > len(most) {
			most = set
		}
	}
	return most
}

// tiedTrades are the trades that somebody may work at alone, in sets: two are
// in one set where somebody has both, or somebody ties each to a third.
func (f Floor) tiedTrades() [][]string {
	var sets [][]string
	for i := range f.Crew {
		var of []string
		for _, t := range f.Crew[i].Trades {
			if t.Alone {
				of = append(of, t.Trade)
			}
		}
		if len(of) == 0 {
			continue
		}
		merged := of
		kept := sets[:0]
		for _, set := range sets {
			if slices.ContainsFunc(set, func(t string) bool { return slices.Contains(of, t) }) {
				merged = append(slices.Clone(set), merged...)
			} else {
				kept = append(kept, set)
			}
		}
		unique := make([]string, 0, len(merged))
		for _, t := range merged {
			if !slices.Contains(unique, t) {
				unique = append(unique, t)
			}
		}
		sets = append(kept, unique)
	}
	return sets
}

// hoursOn is how long somebody works on a day, in hundredths; n is its number,
// works says whether the calendar has it worked.
func (m *crewMember) hoursOn(n int, weekday int, works bool) int {
	for _, l := range m.leave {
		if l[0] <= n && n <= l[1] {
			return 0
		}
	}
	h := m.overtime[n]
	if works {
		h += m.week[weekday]
	}
	return min(h, aDay)
}

// crewMember is a Member made ready.
type crewMember struct {
	week     [7]int // from Monday on
	leave    [][2]int
	overtime map[int]int
	pace     int
	trades   []int // that they may work at alone
}

func ready(m *Member, trade func(string) int) crewMember {
	c := crewMember{pace: m.pace(), overtime: map[int]int{}}
	for _, h := range m.Hours {
		c.week[slices.Index(calendar.Weekdays(), h.Weekday)] = hundredths(h.Hours)
	}
	for _, l := range m.Leave {
		c.leave = append(c.leave, [2]int{number(l.From), number(l.Until)})
	}
	for _, o := range m.Overtime {
		c.overtime[number(o.Day)] += hundredths(o.Hours)
	}
	for _, t := range m.Trades {
		if t.Alone {
			c.trades = append(c.trades, trade(t.Trade))
		}
	}
	return c
}

// number is that of a day known to be one.
func number(day string) int {
	n, _ := calendar.Number(day)
	return n
}

// written is the day of a number known to be one.
func written(n int) string {
	day, _ := calendar.Numbered(n)
	return day
}
