package job

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// Codes of faults that say that the state of the job does not allow it now;
// all others are of what was sent.
const (
	NotInThisState    = "state"
	ComesBefore       = "comes_before"
	Held              = "held"
	AwaitsTest        = "awaits_test"
	AwaitsCertificate = "awaits_certificate"
	AwaitsPaper       = "awaits_paper"
	NotHere           = "not_here"
	InTheWay          = "in_the_way"
	NoWordLifts       = "no_word_lifts"
	NotReturned       = "not_returned"
)

// OfState says whether a fault is of the state of the job: with the same
// request it may be done later.
func OfState(code string) bool {
	return slices.Contains([]string{NotInThisState, ComesBefore, Held, AwaitsTest, AwaitsCertificate, AwaitsPaper, NotHere, InTheWay, NoWordLifts}, code)
}

// Step is a stage going over into another state.
type Step struct {
	Number  int        `json:"number"`
	Stage   string     `json:"stage"`
	To      StageState `json:"to"`
	On      string     `json:"on"`
	By      string     `json:"by"`
	Because Note       `json:"because,omitempty"`
}

// Hold stops a stage: it neither begins nor is finished while the hold stands.
type Hold struct {
	Number int    `json:"number"`
	Code   string `json:"code"`
	Stage  string `json:"stage"`
	Says   Note   `json:"says,omitempty"`
	// Caution is gas or mains where the hold keeps people from harm: no word
	// lifts it, but a test that is passed or a certificate of that work.
	Caution catalogue.Caution `json:"caution,omitempty"`
	Since   string            `json:"since"`
	By      string            `json:"by"`

	LiftedOn      string `json:"lifted_on,omitempty"`
	LiftedBy      string `json:"lifted_by,omitempty"`
	LiftedBecause Note   `json:"lifted_because,omitempty"`
}

// Test is the outcome of a test that a hold waits for.
type Test struct {
	Number int `json:"number"`
	// Of is the code of a hold of the catalogue, or Hold the number of one that
	// somebody put on.
	Of   string `json:"of,omitempty"`
	Hold int    `json:"hold,omitempty"`
	On   string `json:"on"`
	By   string `json:"by"`
	// Signatory who tested, or member of the crew.
	Signatory  string `json:"signatory,omitempty"`
	ExpiresOn  string `json:"expires_on,omitempty"` // of the signatory's register entry, as it was
	Crew       string `json:"crew,omitempty"`
	Passed     bool   `json:"passed"`
	Says       Note   `json:"says,omitempty"`
	Attachment int    `json:"attachment,omitempty"`
}

// StageState is where a stage is; "" for one the job has nothing to do at.
func (j *Job) StageState(code string) StageState {
	s, _ := find(j.Stages, func(s *Stage) bool { return s.Code == code })
	return s.State
}

// planned is a stage of the job as the plan has it; nil for none. One that had
// begun before a variation took it off the sheet is still the job's.
func (j *Job) planned(p *Plan, code string) *PlanStage {
	own, ok := find(j.Stages, func(s *Stage) bool { return s.Code == code })
	if !ok {
		return nil
	}
	if s := p.Stage(code); s != nil {
		return s
	}
	return &PlanStage{Code: own.Code, Name: own.Name}
}

// reopened records which stages a variation took up again, so that tests and
// certificates of their work from before do not count any more.
func (j *Job) reopened(was []Stage, on string) {
	j.Steps = slices.Clip(j.Steps)
	for i := range j.Stages {
		s := &j.Stages[i]
		before, _ := find(was, func(b *Stage) bool { return b.Code == s.Code })
		if before.State == Done && s.State == UnderWay {
			j.Last++
			j.Steps = append(j.Steps, Step{Number: j.Last, Stage: s.Code, To: UnderWay, On: on})
		}
	}
}

// again is the number of the step by which a finished stage was last taken up
// again; 0 for none.
func (j *Job) again(stage string) int {
	done, number := false, 0
	for _, s := range j.Steps {
		if s.Stage != stage {
			continue
		}
		if done && s.To == UnderWay {
			number = s.Number
		}
		done = s.To == Done
	}
	return number
}

// Stops is something that keeps a stage from beginning or a van from being
// handed over.
type Stops struct {
	// Code as of a fault; About the stage, hold, paper or entry.
	Code, About string
	Says        string
	// Clears are the roles that can do something about it, and Remedy what.
	Clears []string
	Remedy string
}

// Stopped says everything that keeps a stage from beginning, besides its own
// state; nothing where it may begin.
func (j *Job) Stopped(p *Plan, stage string) []Stops {
	s := j.planned(p, stage)
	if s == nil {
		return nil
	}
	var list []Stops
	if !j.OnSite() {
		list = append(list, Stops{NotHere, stage, "The van is not here.", floorAndSales, "Take the van in first."})
	}
	for i := range p.Papers {
		if paper := &p.Papers[i]; paper.Due == catalogue.BeforeWork && !j.Has(paper) {
			list = append(list, Stops{AwaitsPaper, paper.Code, fmt.Sprintf("%s has to be there before work begins.", paper.Name), floor, "Record the paper."})
		}
	}
	own, _ := find(j.Stages, func(s *Stage) bool { return s.Code == stage })
	for _, before := range own.After {
		if b, _ := find(j.Stages, func(s *Stage) bool { return s.Code == before }); b.State != Done && b.State != LeftOut {
			list = append(list, Stops{ComesBefore, before, fmt.Sprintf("%s comes before, and is %s.", b.Name, b.State), floor, "Finish it first, or leave it out."})
		}
	}
	for i := range s.Holds {
		if !j.Lifted(p, &s.Holds[i]) {
			list = append(list, waiting(p, &s.Holds[i]))
		}
	}
	return append(list, j.holding(stage)...)
}

// StoppedNow says what keeps a stage from going into its next state: one that is
// to do from beginning, one under way from being finished.
func (j *Job) StoppedNow(p *Plan, stage string) []Stops {
	switch j.StageState(stage) {
	case ToDo:
		return j.Stopped(p, stage)
	case UnderWay:
		return j.holding(stage)
	}
	return nil
}

// waiting is a hold of the catalogue that stands.
func waiting(p *Plan, h *PlanHold) Stops {
	out := Stops{AwaitsTest, h.Code, h.Says, floor, "Record the test that was passed."}
	if h.Stage != "" {
		out.Remedy = fmt.Sprintf("Finish %s, and record the test that was passed.", strings.ToLower(p.Stage(h.Stage).Name))
	}
	if h.Until == catalogue.UntilCertificate {
		out.Code, out.Remedy = AwaitsCertificate, "Record the certificate."
	}
	return out
}

// holding are the holds somebody put on a stage that stand, and the findings
// that stop it.
func (j *Job) holding(stage string) []Stops {
	var list []Stops
	for i := range j.Holds {
		h := &j.Holds[i]
		if h.Stage != stage || !j.stands(h) {
			continue
		}
		says, remedy := j.Said(h.Says), "Lift the hold when its reason is gone."
		if says == "" {
			says = fmt.Sprintf("It is on hold since %s.", calendar.Said(h.Since))
		}
		if h.Caution != "" {
			remedy = fmt.Sprintf("Record a test of the %s that was passed, or its certificate: no word lifts this hold.", h.Caution)
		}
		list = append(list, Stops{Held, fmt.Sprint(h.Number), says, floor, remedy})
	}
	for _, f := range j.StoppedBy(stage) {
		list = append(list, Stops{Held, FindingCode(f.Number), f.Words, floorAndSales, "Settle the finding: by a variation the customer says yes to, or by a word that nothing is done about it."})
	}
	return list
}

// stands says whether a hold that somebody put on still stands.
func (j *Job) stands(h *Hold) bool { return h.LiftedOn == "" }

// Lifted says whether a hold of the catalogue is lifted.
func (j *Job) Lifted(p *Plan, h *PlanHold) bool {
	since := j.again(h.Stage)
	if h.Until == catalogue.UntilCertificate {
		paper, ok := find(p.Papers, func(q *PlanPaper) bool { return q.Certificate && q.Code == h.Outside })
		if !ok || !j.Has(&paper) {
			return false
		}
		kept, _ := j.Paper(h.Outside)
		return kept.Number > since
	}
	for i := range slices.Backward(j.Tests) {
		if j.Tests[i].Of == h.Code {
			return j.Tests[i].Passed && j.Tests[i].Number > since
		}
	}
	return false
}

// stage checks that a stage is of the plan.
func (w *writing) stage(p *Plan, at, code string) *PlanStage {
	s := w.planned(p, code)
	if s == nil {
		w.fault("unknown_stage", at, fmt.Sprintf("The job has nothing to do at stage %q.", code), "Name a stage of its board.")
	}
	return s
}

// stops makes faults of what stops something.
func (w *writing) stops(at string, list []Stops) {
	for _, s := range list {
		w.fault(s.Code, at, s.Says, s.Remedy)
	}
}

// in refuses a stage that is not in one of some states.
func (w *writing) in(s *PlanStage, states ...StageState) bool {
	state := w.StageState(s.Code)
	if slices.Contains(states, state) {
		return true
	}
	w.fault(NotInThisState, "stage", fmt.Sprintf("%s is %s.", s.Name, state), "Read the board again and see how it stands.")
	return false
}

func (w *writing) step(stage string, to StageState, because Note) {
	w.room(len(w.Steps), "stage")
	w.Steps = append(w.Steps, Step{Number: w.number(), Stage: stage, To: to, On: w.act.On, By: w.act.By, Because: because})
	for i := range w.Stages {
		if w.Stages[i].Code == stage {
			w.Stages[i].State = to
		}
	}
}

// Begin takes a stage up: everything before it is done or left out, what it
// waits for is tested and certified, and nothing holds it.
func (j *Job) Begin(p *Plan, a Act, stage string) (Job, document.Faults) {
	w := j.write(a)
	if s := w.stage(p, "stage", stage); s != nil && w.in(s, ToDo) {
		w.stops("stage", j.Stopped(p, stage))
		w.step(stage, UnderWay, 0)
	}
	return w.done()
}

// Finish says that a stage is done. What somebody put on hold is not finished.
func (j *Job) Finish(p *Plan, a Act, stage string) (Job, document.Faults) {
	w := j.write(a)
	if s := w.stage(p, "stage", stage); s != nil && w.in(s, UnderWay) {
		w.stops("stage", j.holding(stage))
		w.step(stage, Done, 0)
	}
	return w.done()
}

// LeaveOut says that nothing is done at a stage, and why. What the sheet wants
// in papers is wanted all the same.
func (j *Job) LeaveOut(p *Plan, a Act, stage, because string) (Job, document.Faults) {
	w := j.write(a)
	if s := w.stage(p, "stage", stage); s != nil && w.in(s, ToDo) {
		w.stops("stage", j.holding(stage))
		w.step(stage, LeftOut, w.note("because", because, true))
	}
	return w.done()
}

// TakeUpAgain opens a stage that is done or left out, and says why. One that
// was done is under way again: tests and certificates of its work from before
// do not count any more. One that was left out is to do.
func (j *Job) TakeUpAgain(p *Plan, a Act, stage, because string) (Job, document.Faults) {
	w := j.write(a)
	s := w.stage(p, "stage", stage)
	if s == nil || !w.in(s, Done, LeftOut) {
		return w.done()
	}
	to := ToDo
	if j.StageState(stage) == Done {
		if to = UnderWay; !j.OnSite() {
			w.fault(NotHere, "stage", "The van is not here.", "Take the van in first.")
		}
	}
	w.step(stage, to, w.note("because", because, true))
	return w.done()
}

// NewHold is a hold to be put on a stage.
type NewHold struct {
	// Code says what kind of reason it is, in the workshop's own words.
	Code, Stage, Says string
	// Caution is gas or mains where it keeps people from harm.
	Caution catalogue.Caution
}

// PutOnHold stops a stage.
func (j *Job) PutOnHold(p *Plan, a Act, n NewHold) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Holds), "stage")
	if s := w.stage(p, "stage", n.Stage); s != nil {
		w.in(s, ToDo, UnderWay)
	}
	w.code("code", n.Code)
	if n.Caution != "" && !slices.Contains(safetyCautions, n.Caution) {
		w.fault("unknown_word", "caution", fmt.Sprintf("%q is no caution that a hold is about.", n.Caution), "Use gas or mains, or leave it out.")
	}
	h := Hold{Number: w.number(), Code: n.Code, Stage: n.Stage, Caution: n.Caution, Since: a.On, By: a.By}
	h.Says = w.note("says", n.Says, true)
	w.Holds = append(w.Holds, h)
	return w.done()
}

// code checks a code that somebody makes up.
func (w *writing) code(at, code string) {
	if !validCode(code) {
		w.fault("bad_code", at, fmt.Sprintf("%q is not written as codes are here.", code), "Begin with a small letter and go on with small letters, digits, _ and -, 60 at most.")
	}
}

func validCode(code string) bool {
	for i, c := range []byte(code) {
		letter := c >= 'a' && c <= 'z'
		if !letter && (i == 0 || (c < '0' || c > '9') && c != '_' && c != '-') {
			return false
		}
	}
	return code != "" && len(code) <= 60
}

// Lift takes a hold off by a word. One that keeps people from harm by gas or
// mains is lifted by its test or certificate alone.
func (j *Job) Lift(a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	i := slices.IndexFunc(j.Holds, func(h Hold) bool { return h.Number == number })
	switch {
	case i < 0:
		w.fault("unknown_hold", "hold", fmt.Sprintf("The job has no hold %d.", number), "Name one of its board.")
		return w.done()
	case j.Holds[i].LiftedOn != "":
		w.fault(NotInThisState, "hold", "The hold is lifted already.", "Read the board again.")
	case j.Holds[i].Caution != "":
		w.fault(NoWordLifts, "hold", fmt.Sprintf("The hold is about %s: no word lifts it.", j.Holds[i].Caution),
			"Record the test that was passed, or the certificate.")
	}
	w.lift(i, w.note("because", because, true))
	return w.done()
}

func (w *writing) lift(i int, because Note) {
	w.Holds = slices.Clone(w.Holds)
	h := &w.Holds[i]
	h.LiftedOn, h.LiftedBy, h.LiftedBecause = w.act.On, w.act.By, because
}

// NewTest is a test to be recorded.
type NewTest struct {
	// Of is a hold of the catalogue, Hold one that somebody put on; one of the
	// two.
	Of   string
	Hold int
	// Signatory where outside work is tested, or gas or mains; else Crew.
	Signatory  *Signatory
	Crew       string
	Passed     bool
	Says       string
	Attachment int
}

// Record keeps the outcome of a test. One that is passed lifts its hold.
func (j *Job) Record(p *Plan, a Act, n NewTest) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Tests), "of")
	t := Test{Number: w.number(), Of: n.Of, Hold: n.Hold, On: a.On, By: a.By, Crew: n.Crew, Passed: n.Passed, Attachment: n.Attachment}
	switch {
	case (n.Of == "") == (n.Hold == 0):
		w.fault("not_exactly_one", "of", "A test is of one hold.", "Give the code of a hold of the catalogue, or the number of one that was put on.")
	case n.Of != "":
		w.testOf(p, &n)
	default:
		w.testFor(p, &n)
	}
	if n.Signatory != nil {
		t.Signatory, t.ExpiresOn, t.Crew = n.Signatory.ID, n.Signatory.ExpiresOn, ""
	}
	w.attachment("attachment", n.Attachment, false)
	t.Says = w.note("says", n.Says, !n.Passed)
	w.Tests = append(w.Tests, t)
	return w.done()
}

// testOf checks a test that a hold of the catalogue waits for.
func (w *writing) testOf(p *Plan, n *NewTest) {
	h, _, ok := p.Hold(n.Of)
	switch {
	case !ok:
		w.fault("unknown_hold", "of", fmt.Sprintf("No stage of the job waits for %q.", n.Of), "Name a hold of its board.")
		return
	case h.Until == catalogue.UntilCertificate:
		w.fault("no_test", "of", "The hold waits for a certificate.", "Record the certificate.")
		return
	}
	if h.Stage != "" {
		w.in(p.Stage(h.Stage), Done)
	}
	if h.Outside != "" {
		w.signed(n.Signatory, h.Outside)
		return
	}
	w.tester(n)
}

// testFor checks a test that a hold somebody put on waits for, and lifts it.
func (w *writing) testFor(p *Plan, n *NewTest) {
	i := slices.IndexFunc(w.Holds, func(h Hold) bool { return h.Number == n.Hold })
	switch {
	case i < 0:
		w.fault("unknown_hold", "hold", fmt.Sprintf("The job has no hold %d.", n.Hold), "Name one of its board.")
		return
	case w.Holds[i].LiftedOn != "":
		w.fault(NotInThisState, "hold", "The hold is lifted already.", "Read the board again.")
		return
	case w.Holds[i].Caution == "":
		w.tester(n)
	default:
		w.signedFor(p, n.Signatory, w.Holds[i].Caution)
	}
	if n.Passed {
		w.lift(i, 0)
	}
}

// tester is one of the crew.
func (w *writing) tester(n *NewTest) {
	if n.Crew == "" && n.Signatory == nil {
		w.fault("missing", "crew", "Nobody is said to have tested.", "Name who did.")
	}
}
