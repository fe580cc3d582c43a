// Package job is an accepted quote of one van on its way through the workshop.
//
// A Job is a value. What happens to it is a function that gives another Job and
// the faults that stand in the way; with any fault nothing has happened. It
// opens no file, asks no clock and knows nobody by name: days, ids and who did
// it come in as arguments.
package job

import (
	"encoding/json"
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
)

// Format names the shape of a Job.
const Format = "wainscot-job/1"

// Job is one van's work. It is kept as a document; lists are in the order of
// the workshop's stages, or in the order in which things happened.
type Job struct {
	Format   string `json:"format"`
	State    State  `json:"state"`
	BaseVan  string `json:"base_van"`
	AgreedOn string `json:"agreed_on"` // YYYY-MM-DD, the day of the customer's yes
	// Variation is the last accepted one, whose sheet is built; 0 is the sheet
	// of the accepted quote.
	Variation int64 `json:"variation,omitempty"`
	// Given are the customer's answers of yes to variations.
	Given []Given `json:"given,omitempty"`
	// AgreedPrice is the number of the last price agreed for a job without a
	// quote; 0 where it has a quote, or nothing is to be paid.
	AgreedPrice int64 `json:"agreed_price,omitempty"`
	// Stages are those of the sheet that have anything to do.
	Stages []Stage `json:"stages"`
	// Findings are what the work has shown and nobody could have quoted for.
	Findings []Finding `json:"findings,omitempty"`
	// Return is what a van comes back for; nil for one that is built.
	Return *Return `json:"return,omitempty"`
	// TakenOn is what a van was in build for before the workshop began here; nil
	// for any other.
	TakenOn *TakenOn `json:"taken_on,omitempty"`
	// Build is what has happened to the van so far.
	Build `json:"build,omitzero"`
}

// State of a job.
type State string

// The states; zero is invalid.
const (
	Agreed        State = "agreed" // the van has not come yet
	InTheWorkshop State = "in the workshop"
	HandedOver    State = "handed over"
	Cancelled     State = "cancelled"
)

// Words are the states there are.
func (State) Words() []string {
	return []string{string(Agreed), string(InTheWorkshop), string(HandedOver), string(Cancelled)}
}

// Stage of a job.
type Stage struct {
	Code string `json:"code"`
	Name string `json:"name"`
	// After are the stages of the job that come before it.
	After []string   `json:"after,omitempty"`
	State StageState `json:"state"`
	// Hours quoted, hands-on, all trades; StandingHours by the clock after them.
	Hours         decimal.Decimal `json:"hours"`
	StandingHours decimal.Decimal `json:"standing_hours,omitzero"`
}

// StageState is where a stage is.
type StageState string

// The states; zero is invalid.
const (
	ToDo     StageState = "to do"
	UnderWay StageState = "under way"
	Done     StageState = "done"
	LeftOut  StageState = "left out"
)

// Words are the states there are.
func (StageState) Words() []string {
	return []string{string(ToDo), string(UnderWay), string(Done), string(LeftOut)}
}

// New is the job of a van that was agreed on a day (YYYY-MM-DD): nothing of its
// build sheet is done. stages are those of the release the sheet was made with.
func New(sheet *bom.Sheet, stages []catalogue.Stage, on string) Job {
	j := Job{Format: Format, State: Agreed, BaseVan: sheet.BaseVan, AgreedOn: on}
	j.Stages = stagesOf(sheet, stages)
	return j
}

// stagesOf are the stages at which the sheet has anything to do. What comes
// before one that has nothing to do comes before what is after it.
func stagesOf(sheet *bom.Sheet, stages []catalogue.Stage) []Stage {
	works := map[string]bom.StageTotal{}
	for _, t := range sheet.Stages {
		if t.Lines > 0 {
			works[t.Stage] = t
		}
	}
	var list []Stage
	before := map[string][]string{} // what has to be done before a stage that is passed over
	for _, s := range stages {
		after := reach(s.After, works, before)
		t, ok := works[s.Code]
		if !ok {
			before[s.Code] = after
			continue
		}
		list = append(list, Stage{Code: s.Code, Name: s.Name, After: after, State: ToDo, Hours: t.Hours, StandingHours: t.StandingHours})
	}
	return list
}

// reach replaces stages that are passed over by what comes before them, each
// stage once.
func reach(after []string, works map[string]bom.StageTotal, before map[string][]string) []string {
	var list []string
	seen := map[string]bool{}
	add := func(code string) {
		if !seen[code] {
			seen[code] = true
			list = append(list, code)
		}
	}
	for _, code := range after {
		if _, ok := works[code]; ok {
			add(code)
			continue
		}
		for _, b := range before[code] {
			add(b)
		}
	}
	return list
}

// Encode writes a job as it is kept.
func (j *Job) Encode() ([]byte, error) { return json.Marshal(j) }

// Decode reads a job as it is kept.
func Decode(text []byte) (*Job, error) {
	var j Job
	if err := decodeStrictly(text, &j); err != nil {
		return nil, fmt.Errorf("job: %w", err)
	}
	if j.Format != Format {
		return nil, fmt.Errorf("job: the format %q is not %q", j.Format, Format)
	}
	return &j, nil
}
