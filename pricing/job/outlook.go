package job

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
)

// Ahead is a van as the foreman's list looks at it: what is left to do, when it
// is planned, and what is known to be missing.
type Ahead struct {
	Job    string
	Number int64
	// Stages of the job, in their order.
	Stages []StageAhead
	// Slot is nil for a van that waits for one.
	Slot *schedule.Slot
	// HandoverOn is the day promised; "" is the slot's last.
	HandoverOn string
	Missing    []Missing
}

// StageAhead is a stage as far as it is.
type StageAhead struct {
	Code  string
	Name  string
	After []string
	State StageState
	// Hours quoted, and of them Left; StandingHours by the clock after them.
	Hours, Left   decimal.Decimal
	StandingHours decimal.Decimal
}

// Missing is one thing that a stage, or the handover, waits for.
type Missing struct {
	What MissingWhat `json:"what"`
	// Stage it stops; "" is the handover.
	Stage string `json:"stage,omitempty"`
	// Code of the part, trade, place, finish or paper, the number of the
	// variation or the finding.
	Code string `json:"code,omitempty"`
	// By is the day it will be there; "" when nobody knows.
	By   string `json:"by,omitempty"`
	Says string `json:"says"` // a whole sentence
}

// MissingWhat says what kind of thing is missing.
type MissingWhat string

// What may be missing; zero is invalid.
const (
	MissingVan         MissingWhat = "van"
	MissingPart        MissingWhat = "part"
	MissingPerson      MissingWhat = "person"
	MissingBay         MissingWhat = "bay"
	MissingFinish      MissingWhat = "finish"
	MissingYes         MissingWhat = "yes" // the customer's, to a variation; or the foreman's
	MissingPayment     MissingWhat = "payment"
	MissingTest        MissingWhat = "test"
	MissingCertificate MissingWhat = "certificate"
	MissingWord        MissingWhat = "word" // a hold that somebody has to lift
	MissingSlot        MissingWhat = "slot" // days for what is left, to be planned again
)

// Words are all there are.
func (MissingWhat) Words() []string {
	return []string{string(MissingVan), string(MissingPart), string(MissingPerson), string(MissingBay), string(MissingFinish),
		string(MissingYes), string(MissingPayment), string(MissingTest), string(MissingCertificate), string(MissingWord), string(MissingSlot)}
}

// Outlook is what stops one van, today and on the days looked at.
type Outlook struct {
	Job    string
	Number int64
	// Stages the van is at: under way, else those that are planned for today or
	// should have begun; "" names the next one where there are none.
	Stages []string
	Next   string
	// Stops is what is not there on the day it is wanted, those wanted first
	// first.
	Stops []Stop
	// StandsToday: every stage that is due is stopped today.
	StandsToday bool
	// Instead are stages that could go ahead in place of those that are stopped.
	Instead []string
	// HandoverOn is the day promised, Earliest the first on which everything can
	// be done that is left, "" when nobody can say because something wanted on
	// the days looked at has no day. LateDays are working days between the two.
	HandoverOn string
	Earliest   string
	LateDays   int
	AtRisk     bool
	// Because is what the handover waits for longest.
	Because string
}

// Stop is something missing, and when it is wanted.
type Stop struct {
	Missing
	WantedOn string
}

// MaxDaysAhead is how far the list looks at most, in working days.
const MaxDaysAhead = 60

// Look says what stops each van, today and so many working days on: what is
// missing on the day it is wanted, what could be done instead, and which
// handovers are at risk. Vans come in the order of what hurts most: handovers
// that nobody can name a day for or that are latest, then vans that stand today,
// then the nearest handover.
//
// A stage that is not begun begins no earlier than it is planned, when what
// comes before it is done and has stood, and what it misses is there; it takes
// as many working days as it is planned for, one that is under way the part of
// them that its hours left are. That is the earliest; with bays and people on
// other vans it may be later.
//
// Errors: a day that is none, or days too far apart.
func Look(today string, ahead int, c calendar.Calendar, vans []Ahead) ([]Outlook, error) {
	if ahead < 0 || ahead > MaxDaysAhead {
		return nil, fmt.Errorf("%d days: %w", ahead, calendar.ErrTooFar)
	}
	until, err := c.Forward(today, ahead)
	if err != nil {
		return nil, fmt.Errorf("looking ahead: %w", err)
	}
	list := make([]Outlook, 0, len(vans))
	for i := range vans {
		l := looking{today: today, until: until, c: c, v: &vans[i]}
		o, err := l.look()
		if err != nil {
			return nil, fmt.Errorf("job %d: %w", vans[i].Number, err)
		}
		list = append(list, o)
	}
	slices.SortStableFunc(list, worse)
	return list, nil
}

func worse(a, b Outlook) int {
	rank := func(o *Outlook) int {
		switch {
		case o.AtRisk && o.Earliest == "":
			return 0
		case o.AtRisk:
			return 1
		case o.StandsToday:
			return 2
		case len(o.Stops) > 0:
			return 3
		}
		return 4
	}
	return cmp.Or(cmp.Compare(rank(&a), rank(&b)), cmp.Compare(b.LateDays, a.LateDays),
		cmp.Compare(latest(a.HandoverOn), latest(b.HandoverOn)), cmp.Compare(a.Number, b.Number))
}

// latest puts no day at the end.
func latest(day string) string {
	if day == "" {
		return "9999"
	}
	return day
}

// looking is the outlook of one van in progress.
type looking struct {
	today, until string
	c            calendar.Calendar
	v            *Ahead
	out          Outlook
}

func (l *looking) look() (Outlook, error) {
	v := l.v
	l.out = Outlook{Job: v.Job, Number: v.Number, Stages: []string{}, Stops: []Stop{}, Instead: []string{}, HandoverOn: v.HandoverOn}
	if l.out.HandoverOn == "" && v.Slot != nil {
		l.out.HandoverOn = v.Slot.Until()
	}
	l.at()
	l.stops()
	l.instead()
	return l.out, l.risk()
}

func (l *looking) planned(stage string) (from, until string, ok bool) {
	if l.v.Slot == nil {
		return "", "", false
	}
	for _, s := range l.v.Slot.Stages {
		if s.Stage == stage {
			return s.From, s.Until, true
		}
	}
	return "", "", false
}

func (s *StageAhead) over() bool { return s.State == Done || s.State == LeftOut }

// at finds the stages the van is at.
func (l *looking) at() {
	for i := range l.v.Stages {
		s := &l.v.Stages[i]
		from, _, planned := l.planned(s.Code)
		switch {
		case s.over():
		case s.State == UnderWay || planned && from <= l.today:
			l.out.Stages = append(l.out.Stages, s.Code)
		case l.out.Next == "":
			l.out.Next = s.Code
		}
	}
}

// wantedOn is when something missing is wanted: as its stage is planned, today
// where that has begun or should have. "" where nothing is planned.
func (l *looking) wantedOn(m *Missing) string {
	if m.What == MissingSlot {
		return l.today // whenever that stage is, its day is wrong
	}
	if m.Stage == "" {
		return l.out.HandoverOn
	}
	from, _, planned := l.planned(m.Stage)
	i := slices.IndexFunc(l.v.Stages, func(s StageAhead) bool { return s.Code == m.Stage })
	switch {
	case i < 0 || l.v.Stages[i].over():
		return ""
	case l.v.Stages[i].State == UnderWay:
		return l.today
	case planned:
		return max(from, l.today)
	}
	return ""
}

func (l *looking) stops() {
	for i := range l.v.Missing {
		m := l.v.Missing[i]
		on := l.wantedOn(&m)
		if on != "" && on <= l.until && (m.By == "" || m.By > on) {
			l.out.Stops = append(l.out.Stops, Stop{Missing: m, WantedOn: on})
		}
	}
	slices.SortStableFunc(l.out.Stops, func(a, b Stop) int {
		return cmp.Or(cmp.Compare(a.WantedOn, b.WantedOn), cmp.Compare(latest(b.By), latest(a.By)))
	})
	// A paper that the work waits for stops every stage: it is told once, where it
	// stops first.
	told := map[[3]string]bool{}
	l.out.Stops = slices.DeleteFunc(l.out.Stops, func(s Stop) bool {
		key := [3]string{string(s.What), s.Code, s.Says}
		again := told[key]
		told[key] = true
		return again
	})
	l.out.StandsToday = len(l.out.Stages) > 0
	for _, s := range l.out.Stages {
		if !l.stopped(s) {
			l.out.StandsToday = false
		}
	}
}

// stopped says whether a stage cannot be worked at today.
func (l *looking) stopped(stage string) bool {
	return slices.ContainsFunc(l.v.Missing, func(m Missing) bool { return m.Stage == stage && (m.By == "" || m.By > l.today) }) ||
		!l.mayBegin(stage)
}

func (l *looking) stage(code string) *StageAhead {
	for i := range l.v.Stages {
		if l.v.Stages[i].Code == code {
			return &l.v.Stages[i]
		}
	}
	return nil
}

// mayBegin says whether all that comes before a stage is done.
func (l *looking) mayBegin(code string) bool {
	s := l.stage(code)
	return s != nil && !slices.ContainsFunc(s.After, func(before string) bool {
		b := l.stage(before)
		return b != nil && !b.over()
	})
}

// instead finds what could be worked at, where something that is due is stopped.
func (l *looking) instead() {
	if !slices.ContainsFunc(l.out.Stages, l.stopped) {
		return
	}
	for i := range l.v.Stages {
		if s := &l.v.Stages[i]; !s.over() && !slices.Contains(l.out.Stages, s.Code) && !l.stopped(s.Code) {
			l.out.Instead = append(l.out.Instead, s.Code)
		}
	}
}

// ends is when a stage can be done; day "" when nobody can say.
type ends struct {
	day     string
	unknown bool
	because string
}

// risk works out the earliest day on which everything left can be done.
func (l *looking) risk() error {
	if l.out.HandoverOn == "" || l.v.Slot == nil {
		return nil
	}
	done := map[string]ends{}
	last := ends{day: l.today}
	for range l.v.Stages { // as often as the longest chain could need
		for i := range l.v.Stages {
			s := &l.v.Stages[i]
			e, err := l.end(s, done)
			if err != nil {
				return err
			}
			done[s.Code] = e
		}
	}
	for i := range l.v.Stages {
		if s := &l.v.Stages[i]; !s.over() {
			last = later(last, done[s.Code])
		}
	}
	for i := range l.v.Missing {
		if m := &l.v.Missing[i]; m.Stage == "" && l.counts(m) {
			last = later(last, ends{day: m.By, unknown: m.By == "", because: m.Says})
		}
	}
	l.out.Because = last.because
	if last.unknown {
		l.out.AtRisk = true
		return nil
	}
	l.out.Earliest = last.day
	if last.day <= l.out.HandoverOn {
		l.out.Because = ""
		return nil
	}
	var err error
	l.out.AtRisk = true
	l.out.LateDays, err = l.c.Between(l.out.HandoverOn, last.day)
	if l.out.Because == "" {
		l.out.Because = "What is left takes longer than is planned."
	}
	return err
}

// counts says whether something missing bears on when the van is done: it has a
// day, or is wanted on the days looked at. What is not wanted yet and has no day
// comes in the course of things: a certificate, the balance.
func (l *looking) counts(m *Missing) bool {
	if m.By != "" {
		return true
	}
	on := l.wantedOn(m)
	return on != "" && on <= l.until
}

// later is the later of two ends; one that nobody can name is later than any.
func later(a, b ends) ends {
	switch {
	case a.unknown:
		return a
	case b.unknown || b.day > a.day:
		return b
	}
	return a
}

// end works out when a stage can be done, by what is known of those before it.
func (l *looking) end(s *StageAhead, done map[string]ends) (ends, error) {
	if s.over() {
		return ends{day: l.today}, nil
	}
	from, until, planned := l.planned(s.Code)
	start := ends{day: l.today}
	if planned && s.State != UnderWay {
		start.day = max(from, l.today)
	}
	for _, before := range s.After {
		b := l.stage(before)
		if b == nil || b.over() {
			continue
		}
		e := done[before]
		if e.day != "" {
			var err error
			if e.day, err = calendar.Add(e.day, l.after(b, from)); err != nil {
				return e, err
			}
		}
		start = later(start, e)
	}
	for i := range l.v.Missing {
		if m := &l.v.Missing[i]; m.Stage == s.Code && l.counts(m) {
			start = later(start, ends{day: m.By, unknown: m.By == "", because: m.Says})
		}
	}
	if start.unknown {
		return start, nil
	}
	if !planned || s.Hours.IsZero() {
		return start, nil
	}
	days, err := l.c.Between(from, until)
	if err != nil {
		return start, err
	}
	days++ // the first counts
	if s.State == UnderWay && s.Hours.Sign() > 0 {
		share := decimal.Max(decimal.Zero, s.Left).Div(s.Hours).Mul(decimal.New(int64(days), 0))
		days = int(share.Ceil().IntPart())
	}
	if start.day, err = l.c.Next(start.day); err != nil {
		return start, err
	}
	start.day, err = l.c.Forward(start.day, max(0, days-1))
	return start, err
}

// after is how many days after the last of a stage one that follows it and is
// planned from a day on can begin: on the same where the plan has it so, and
// when it has stood. Work ends at five in the afternoon and begins at eight.
func (l *looking) after(before *StageAhead, from string) int {
	days := 0
	if _, until, planned := l.planned(before.Code); planned && until < from {
		days = 1
	}
	if stands := before.StandingHours; stands.Sign() > 0 {
		stood := stands.Add(decimal.New(9, 0)).DivRound(decimal.New(24, 0), 4).Ceil().IntPart()
		days = int(max(1, stood))
	}
	return days
}

// Text is the list for reading, a van after the other.
func (o *Outlook) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Job %d", o.Number)
	if len(o.Stages) > 0 {
		fmt.Fprintf(&b, ", at %s", strings.Join(o.Stages, ", "))
	} else if o.Next != "" {
		fmt.Fprintf(&b, ", next %s", o.Next)
	}
	switch {
	case o.AtRisk && o.Earliest == "":
		fmt.Fprintf(&b, ": handover on %s, nobody can say", calendar.Said(o.HandoverOn))
	case o.AtRisk:
		fmt.Fprintf(&b, ": handover on %s, not before %s", calendar.Said(o.HandoverOn), calendar.Said(o.Earliest))
	}
	b.WriteByte('\n')
	for _, s := range o.Stops {
		fmt.Fprintf(&b, "  %s, wanted on %s: %s\n", s.What, calendar.Said(s.WantedOn), s.Says)
	}
	if len(o.Instead) > 0 {
		fmt.Fprintf(&b, "  instead: %s\n", strings.Join(o.Instead, ", "))
	}
	return b.String()
}
