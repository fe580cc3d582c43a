package job

import (
	"slices"
	"strconv"

	"github.com/shopspring/decimal"

	"wainscot/bom/schedule"
)

// Progress is how far the stages of a job are: of one under way, the part of
// its quoted hours that was worked, which is less than all of it until it is
// done.
func (j *Job) Progress() []StageProgress {
	var list []StageProgress
	for i := range j.Stages {
		s := &j.Stages[i]
		switch s.State {
		case Done:
			list = append(list, StageProgress{s.Code, 100})
		case UnderWay:
			percent := int64(0)
			if s.Hours.Sign() > 0 {
				percent = j.workedAt(s.Code).Shift(2).Div(s.Hours).IntPart()
			}
			list = append(list, StageProgress{s.Code, int(min(max(percent, 0), 99))})
		case ToDo, LeftOut:
		}
	}
	return list
}

func (j *Job) workedAt(stage string) decimal.Decimal {
	sum := decimal.Zero
	for i := range j.Hours {
		if j.Hours[i].Stage == stage {
			sum = sum.Add(j.Hours[i].Hours)
		}
	}
	return sum
}

// Worked are the hours worked, by stage and trade.
func (j *Job) Worked() []WorkedHours {
	var list []WorkedHours
	for i := range j.Hours {
		h := &j.Hours[i]
		k := 0
		for k < len(list) && (list[k].Stage != h.Stage || list[k].Trade != h.Trade) {
			k++
		}
		if k == len(list) {
			list = append(list, WorkedHours{Stage: h.Stage, Trade: h.Trade})
		}
		list[k].Hours = list[k].Hours.Add(h.Hours)
	}
	return list
}

// OverStages are those that are done or left out: they want nothing any more.
func (j *Job) OverStages() []string {
	var list []string
	for i := range j.Stages {
		if s := &j.Stages[i]; s.State == Done || s.State == LeftOut {
			list = append(list, s.Code)
		}
	}
	return list
}

// UsedParts are the parts issued less those that came back, by part and stage.
func (j *Job) UsedParts() []PastPart {
	var list []PastPart
	for i := range j.Parts {
		p := &j.Parts[i]
		if !j.counts(p.Number) {
			continue
		}
		k := 0
		for k < len(list) && (list[k].Part != p.Part || list[k].Stage != p.Stage) {
			k++
		}
		if k == len(list) {
			list = append(list, PastPart{Part: p.Part, Stage: p.Stage})
		}
		list[k].Used = list[k].Used.Add(p.Quantity)
	}
	return list
}

// Ahead is the job as the foreman's list looks at it: what its board waits for.
// What is missing besides (parts, people, bays, finishes) is added by whoever
// knows it. id and number are the job's, slot nil where it waits for one.
func (j *Job) Ahead(p *Plan, id string, number int64, slot *schedule.Slot) Ahead {
	a := Ahead{Job: id, Number: number, Slot: slot}
	for i := range j.Stages {
		s := &j.Stages[i]
		ahead := StageAhead{Code: s.Code, Name: s.Name, After: s.After, State: s.State, Hours: s.Hours, StandingHours: s.StandingHours}
		ahead.Left = s.Hours.Sub(j.workedAt(s.Code))
		a.Stages = append(a.Stages, ahead)
		if s.State == Done || s.State == LeftOut {
			continue
		}
		stops := j.Stopped(p, s.Code)
		waits := slices.ContainsFunc(stops, func(s Stops) bool { return s.Code == ComesBefore })
		for _, stop := range stops {
			if waits && (stop.Code == AwaitsTest || stop.Code == AwaitsCertificate) {
				continue // of work that comes before
			}
			if m, ok := j.missing(&stop); ok {
				m.Stage = s.Code
				a.Missing = append(a.Missing, m)
			}
		}
	}
	for _, stop := range j.Gate(p, "") {
		switch stop.Code { // what the stages and the last day bring is no news
		case "paper":
			if !ofStage(a.Missing, stop.About) {
				a.Missing = append(a.Missing, Missing{What: MissingCertificate, Code: stop.About, Says: stop.Says})
			}
		case "balance":
			a.Missing = append(a.Missing, Missing{What: MissingPayment, Says: stop.Says})
		}
	}
	return a
}

func ofStage(list []Missing, code string) bool {
	for i := range list {
		if list[i].Code == code {
			return true
		}
	}
	return false
}

// missing is what a stage that is stopped waits for; false for what is only a
// matter of order.
func (j *Job) missing(s *Stops) (Missing, bool) {
	m := Missing{Code: s.About, Says: s.Says}
	switch s.Code {
	case NotHere:
		m.What, m.Code = MissingVan, ""
		if n := len(j.Expected); n > 0 && j.Arrived == nil {
			m.By = j.Expected[n-1].Day
		}
	case AwaitsTest:
		m.What = MissingTest
	case AwaitsCertificate, AwaitsPaper:
		m.What = MissingCertificate
	case Held:
		m.What = MissingWord
		for i := range j.Findings {
			if f := &j.Findings[i]; s.About == FindingCode(f.Number) {
				m.What, m.Code = MissingYes, strconv.Itoa(f.Number)
			}
		}
	default:
		return m, false
	}
	return m, true
}
