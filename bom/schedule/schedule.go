// Package schedule plans the floor of a workshop: which stages a van goes
// through and in what order, which places and people there are, what is booked,
// and the first days on which another van can come.
//
// It knows neither catalogue nor build sheet: a van's Work is given to it, and
// what it gives back, a Slot, is a value. It asks no clock: what day it is, is
// told by whoever asks.
//
// The plan is to the day. A stage has hours by trade on each of its days; a
// van stands in one place on a day. Within a day the stages of one van follow
// each other by elapsed hours, but nothing says who works where at which
// hour: that is the foreman's. Days are YYYY-MM-DD and spans of days include
// both ends. Hours are decimals in what is given and hundredths of an hour
// inside; finer ones are rounded up.
package schedule

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
)

// Work is what has to be done on one van, stage by stage, in the order in which
// stages are listed and worked where nothing else decides.
type Work struct {
	Stages []Stage `json:"stages"`
	// LengthMM and HeightMM of the van, 0 where not known: a place that is too
	// small for it is not offered. What is not known is not held against any.
	LengthMM int `json:"length_mm,omitempty"`
	HeightMM int `json:"height_mm,omitempty"`
}

// Stage is one step of a van's work.
type Stage struct {
	Code string `json:"code"`
	Name string `json:"name"`
	// After names stages of the same Work that must be finished, standing time
	// included, before this one begins.
	After []string `json:"after,omitempty"`
	// Hours of hands-on work, one entry a trade. A stage without any takes no
	// time: it is had on the day on which it could begin.
	Hours []TradeHours `json:"hours,omitempty"`
	// StandingHours by the clock after the work, nights and weekends too, in
	// which nothing that comes after may begin: glue cures.
	StandingHours decimal.Decimal `json:"standing_hours,omitzero"`
	// MostPeople who may work at it on one van at once; 0 means
	// DefaultMostPeople.
	MostPeople int `json:"most_people,omitempty"`
	// Where it can be done; "" means in a bay.
	Where catalogue.Where `json:"where,omitempty"`
}

// DefaultMostPeople are on one van at once where a stage says nothing.
const DefaultMostPeople = 2

// TradeHours are hours of one trade.
type TradeHours struct {
	Trade string          `json:"trade"`
	Hours decimal.Decimal `json:"hours"`
}

// Slot is when a van is on the floor: its stays in places one after another,
// the days of its stages, and the hours wanted of each trade on each day. It
// is kept as it is.
type Slot struct {
	// Stays in the order of their days; no two of one van share a day.
	Stays []Stay `json:"stays"`
	// Stages in the order of the work, each from the first to the last day
	// worked at it. Standing time after it is not in its days.
	Stages []StageDays `json:"stages"`
	// Hours in the order of days, then of stages, then of trades.
	Hours []DayHours `json:"hours"`
}

// Stay is a van in one place.
type Stay struct {
	Place string `json:"place"`
	From  string `json:"from"`
	Until string `json:"until"`
}

// StageDays are the first and the last day worked at a stage.
type StageDays struct {
	Stage string `json:"stage"`
	From  string `json:"from"`
	Until string `json:"until"`
}

// DayHours are the hours that one trade works at one stage of the van on one
// day.
type DayHours struct {
	Day   string          `json:"day"`
	Stage string          `json:"stage"`
	Trade string          `json:"trade"`
	Hours decimal.Decimal `json:"hours"`
}

// From is the first day of the slot, "" for an empty one.
func (s Slot) From() string {
	if len(s.Stays) == 0 {
		return ""
	}
	return s.Stays[0].From
}

// Until is the last day of the slot, "" for an empty one.
func (s Slot) Until() string {
	if len(s.Stays) == 0 {
		return ""
	}
	return s.Stays[len(s.Stays)-1].Until
}

// State says how sure a slot is.
type State string

// The states of a slot. A job without a slot waits for one.
const (
	// Held is a place kept.
	Held State = "held"
	// Firm is a place kept for a van that is confirmed to come.
	Firm State = "firm"
)

// Floor is what there is to work with.
type Floor struct {
	Calendar calendar.Calendar `json:"calendar"`
	Places   []Place           `json:"places"`
	Crew     []Member          `json:"crew,omitempty"`
	// MostIdleDays in a row that a van may stand on days that are worked with
	// nobody working at it and nothing curing, before its slot counts as no
	// slot.
	MostIdleDays int `json:"most_idle_days"`
}

// Place is where vans stand: a bay, where they are worked on, or a piece of
// the yard, where they wait.
type Place struct {
	Code string    `json:"code"`
	Name string    `json:"name"`
	Kind PlaceKind `json:"kind"`
	// Vans that stand in it at once.
	Vans int `json:"vans"`
	// MostLengthMM and MostHeightMM of a van; 0 for no limit.
	MostLengthMM int `json:"most_length_mm,omitempty"`
	MostHeightMM int `json:"most_height_mm,omitempty"`
	// Stages that can be done in it; none means any.
	Stages []string `json:"stages,omitempty"`
}

// PlaceKind is bay or yard.
type PlaceKind string

// The kinds of place.
const (
	Bay  PlaceKind = "bay"
	Yard PlaceKind = "yard"
)

// Member is one of the crew, as far as the plan needs to know: no name.
type Member struct {
	ID     string        `json:"id"`
	Trades []MemberTrade `json:"trades"`
	// PacePercent of the hours of the build sheet that they get done in an
	// hour; 0 means 100. An apprentice at 50 takes two hours for one.
	PacePercent int `json:"pace_percent,omitempty"`
	// Hours on the days of the week; none on a day that is not listed.
	Hours []WeekdayHours `json:"hours"`
	// Leave in which they do not work.
	Leave []Period `json:"leave,omitempty"`
	// Overtime beside the hours of the week, also on days that are not worked.
	Overtime []Overtime `json:"overtime,omitempty"`
	// LeftOn is the first day they are not of the crew any more, "" for nobody
	// who leaves. Whoever keeps them keeps it beside this; a plan of what is to
	// come has leave from then on.
	LeftOn string `json:"-"`
}

// MemberTrade is a trade somebody works at.
type MemberTrade struct {
	Trade string `json:"trade"`
	// Alone: they may work at it with nobody beside them. An apprentice never
	// may on gas or mains; then their hours do not count for that trade, as
	// whoever may work alone does them.
	Alone bool `json:"alone"`
}

// WeekdayHours are the hours worked on one day of the week.
type WeekdayHours struct {
	Weekday calendar.Weekday `json:"weekday"`
	Hours   decimal.Decimal  `json:"hours"`
}

// Period is a span of days.
type Period struct {
	From  string `json:"from"`
	Until string `json:"until"`
}

// Overtime are hours somebody works on a day beside those of the week.
type Overtime struct {
	Day   string          `json:"day"`
	Hours decimal.Decimal `json:"hours"`
}

// StageReady says that a stage cannot begin before a day, and why: its parts
// come then.
type StageReady struct {
	Stage   string `json:"stage"`
	Day     string `json:"day"`
	Because string `json:"because"` // a whole sentence
}
