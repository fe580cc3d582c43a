package bom

import (
	"cmp"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// Difference is what one build sheet has more, fewer or other than an earlier
// one of the same van on the same release. The earlier sheet and the difference
// together are the later sheet: line by line, reason by reason.
type Difference struct {
	// Lines that are not the same, in the order of a sheet.
	Lines []LineDifference `json:"lines"`
	// Stages whose hours or standing time are not the same, in order.
	Stages []StageDifference `json:"stages"`
	// Hours is how many more there are hands-on, AddedKG how much more mass;
	// below nothing for fewer and less.
	Hours   decimal.Decimal `json:"hours"`
	AddedKG decimal.Decimal `json:"added_kg"`
}

// SheetChange says what became of a line.
type SheetChange string

// The changes.
const (
	LineAdded   SheetChange = "added"
	LineDropped SheetChange = "dropped"
	LineChanged SheetChange = "changed"
)

// Words are the changes there are.
func (SheetChange) Words() []string {
	return []string{string(LineAdded), string(LineDropped), string(LineChanged)}
}

// LineDifference is one line that is not as it was.
type LineDifference struct {
	Change SheetChange `json:"change"`
	Stage  string      `json:"stage"`
	Kind   LineKind    `json:"kind"`
	Code   string      `json:"code,omitempty"`
	Finish string      `json:"finish,omitempty"`
	Name   string      `json:"name"`
	Unit   string      `json:"unit"`
	// Before and After are the quantities as they stand on the two sheets,
	// nothing where there is no such line.
	Before       decimal.Decimal `json:"before"`
	After        decimal.Decimal `json:"after"`
	MassBeforeKG decimal.Decimal `json:"mass_before_kg"`
	MassAfterKG  decimal.Decimal `json:"mass_after_kg"`
	// Because are the reasons that ask for more or fewer than they did, with
	// their unrounded quantities. A line may differ by them alone, where
	// rounding or another reason makes up for it.
	Because []BecauseDifference `json:"because"`
}

// More is how many more there are of it; below nothing for fewer.
func (l *LineDifference) More() decimal.Decimal { return l.After.Sub(l.Before) }

// BecauseDifference is one reason that asks for another quantity. What one
// asker asks for several times on one line is added up; of standing time the
// longest counts.
type BecauseDifference struct {
	Feature  string          `json:"feature,omitempty"`
	Addition string          `json:"addition,omitempty"`
	Removal  bool            `json:"removal,omitempty"`
	Via      []string        `json:"via,omitempty"`
	Before   decimal.Decimal `json:"before"`
	After    decimal.Decimal `json:"after"`
	Says     string          `json:"says"` // as the later sheet says it, else the earlier
}

// StageDifference is what one stage takes otherwise.
type StageDifference struct {
	Stage          string          `json:"stage"`
	Name           string          `json:"name"`
	HoursBefore    decimal.Decimal `json:"hours_before"`
	HoursAfter     decimal.Decimal `json:"hours_after"`
	StandingBefore decimal.Decimal `json:"standing_hours_before"`
	StandingAfter  decimal.Decimal `json:"standing_hours_after"`
}

// Differ tells two build sheets apart. What a quote's comparison tells a
// customer in words is worked out from prices; this is what the floor and the
// stores have to do otherwise.
func Differ(before, after *Sheet) Difference {
	d := Difference{Lines: []LineDifference{}, Stages: []StageDifference{},
		Hours: after.Hours.Sub(before.Hours), AddedKG: addedKG(after).Sub(addedKG(before))}
	was := linesByKey(before)
	is := linesByKey(after)
	for i := range after.Lines {
		l := &after.Lines[i]
		if old, ok := was[keyOf(l)]; !ok {
			d.Lines = append(d.Lines, lineDifference(LineAdded, nil, l))
		} else if same := lineDifference(LineChanged, old, l); same.differs() {
			d.Lines = append(d.Lines, same)
		}
	}
	for i := range before.Lines {
		l := &before.Lines[i]
		if _, ok := is[keyOf(l)]; !ok {
			d.Lines = append(d.Lines, lineDifference(LineDropped, l, nil))
		}
	}
	d.sort(before, after)
	d.stages(before, after)
	return d
}

func addedKG(s *Sheet) decimal.Decimal { return s.Mass.AddedKG.Sub(s.Mass.RemovedKG) }

// lineKey is what makes two lines the same line.
type lineKey struct {
	stage        string
	kind         LineKind
	code, finish string
}

func keyOf(l *Line) lineKey { return lineKey{l.Stage, l.Kind, l.Code, l.Finish} }

func linesByKey(s *Sheet) map[lineKey]*Line {
	m := make(map[lineKey]*Line, len(s.Lines))
	for i := range s.Lines {
		m[keyOf(&s.Lines[i])] = &s.Lines[i]
	}
	return m
}

// lineDifference is a line before and after, one of them nil where there is
// none.
func lineDifference(change SheetChange, before, after *Line) LineDifference {
	shown := after
	if shown == nil {
		shown = before
	}
	d := LineDifference{Change: change, Stage: shown.Stage, Kind: shown.Kind, Code: shown.Code, Finish: shown.Finish,
		Name: shown.Name, Unit: shown.Unit, Because: []BecauseDifference{}}
	var asked []BecauseDifference
	if before != nil {
		d.Before, d.MassBeforeKG = before.Quantity, before.MassKG
		for i := range before.Because {
			b := &before.Because[i]
			r := reasonOf(&asked, b)
			r.Before = together(shown.Kind, r.Before, b.Quantity)
		}
	}
	if after != nil {
		d.After, d.MassAfterKG = after.Quantity, after.MassKG
		for i := range after.Because {
			b := &after.Because[i]
			r := reasonOf(&asked, b)
			r.After, r.Says = together(shown.Kind, r.After, b.Quantity), b.Says
		}
	}
	for i := range asked {
		if !asked[i].Before.Equal(asked[i].After) {
			d.Because = append(d.Because, asked[i])
		}
	}
	return d
}

func together(kind LineKind, a, b decimal.Decimal) decimal.Decimal {
	if kind == StandingLine {
		return decimal.Max(a, b)
	}
	return a.Add(b)
}

func reasonOf(list *[]BecauseDifference, b *Because) *BecauseDifference {
	for i := range *list {
		r := &(*list)[i]
		if r.Feature == b.Feature && r.Addition == b.Addition && r.Removal == b.Removal && slices.Equal(r.Via, b.Via) {
			return r
		}
	}
	*list = append(*list, BecauseDifference{Feature: b.Feature, Addition: b.Addition, Removal: b.Removal, Via: b.Via, Says: b.Says})
	return &(*list)[len(*list)-1]
}

func (l *LineDifference) differs() bool {
	return len(l.Because) > 0 || !l.Before.Equal(l.After) || !l.MassBeforeKG.Equal(l.MassAfterKG)
}

// lineOrder is the order of kinds within a stage.
var lineOrder = []LineKind{KitLine, PartLine, HoursLine, OutsideLine, StandingLine, OneOffLine, OwnPartLine}

func (d *Difference) sort(before, after *Sheet) {
	at := stageOrder(before, after)
	slices.SortStableFunc(d.Lines, func(a, b LineDifference) int {
		return cmp.Or(cmp.Compare(at[a.Stage], at[b.Stage]),
			cmp.Compare(slices.Index(lineOrder, a.Kind), slices.Index(lineOrder, b.Kind)),
			strings.Compare(a.Code, b.Code), strings.Compare(a.Finish, b.Finish))
	})
}

// stageOrder is the later sheet's; what only the earlier one has comes last.
func stageOrder(before, after *Sheet) map[string]int {
	at := map[string]int{}
	for _, s := range []*Sheet{after, before} {
		for i := range s.Stages {
			if _, ok := at[s.Stages[i].Stage]; !ok {
				at[s.Stages[i].Stage] = len(at)
			}
		}
	}
	return at
}

func (d *Difference) stages(before, after *Sheet) {
	at := stageOrder(before, after)
	list := make([]StageDifference, len(at))
	for i := range before.Stages {
		t := &before.Stages[i]
		s := &list[at[t.Stage]]
		s.Stage, s.Name, s.HoursBefore, s.StandingBefore = t.Stage, t.Name, t.Hours, t.StandingHours
	}
	for i := range after.Stages {
		t := &after.Stages[i]
		s := &list[at[t.Stage]]
		s.Stage, s.Name, s.HoursAfter, s.StandingAfter = t.Stage, t.Name, t.Hours, t.StandingHours
	}
	for _, s := range list {
		if !s.HoursBefore.Equal(s.HoursAfter) || !s.StandingBefore.Equal(s.StandingAfter) {
			d.Stages = append(d.Stages, s)
		}
	}
}
