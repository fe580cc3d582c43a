package job

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// Signatory is who may sign certificates: somebody of the workshop or of a
// supplier who stands in a register. Name and register number are kept apart.
type Signatory struct {
	ID string
	// Signs are the outside work whose certificates they may sign, and which
	// they may test.
	Signs []string
	// ExpiresOn is the last day the register entry is good; "" where it has no
	// end.
	ExpiresOn string
}

// Paper is a certificate or another paper that was due and is there.
type Paper struct {
	Number int    `json:"number"`
	Code   string `json:"code"` // of the outside work or the evidence
	On     string `json:"on"`   // the day it was signed
	By     string `json:"by"`
	// Signatory of a certificate, and until when the register entry was good
	// when it was signed.
	Signatory  string `json:"signatory,omitempty"`
	ExpiresOn  string `json:"expires_on,omitempty"`
	Attachment int    `json:"attachment"`
	SHA256     string `json:"sha256"` // of the document
}

// Paper is the latest of a code; false for none.
func (j *Job) Paper(code string) (Paper, bool) {
	for _, p := range slices.Backward(j.Papers) {
		if p.Code == code {
			return p, true
		}
	}
	return Paper{}, false
}

// Has says whether a paper is there and still of what was built: a certificate
// is not, when a stage at which its work stands was taken up again after it.
func (j *Job) Has(due *PlanPaper) bool {
	kept, _ := j.Paper(due.Code)
	number := kept.Number
	if due.Weighing {
		number = j.weighing().Number
	}
	for _, stage := range due.Stages {
		if state := j.StageState(stage); number < j.again(stage) || state == UnderWay && j.again(stage) > 0 && !due.Weighing {
			return false
		}
	}
	return number > 0
}

// NewPaper is a paper to be recorded.
type NewPaper struct {
	Code string
	// Signatory of a certificate; nil for evidence.
	Signatory  *Signatory
	Attachment int
}

// Keep records a certificate or another paper that is due. a.On is the day it
// was signed.
func (j *Job) Keep(p *Plan, a Act, n NewPaper) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Papers), "code")
	due, ok := find(p.Papers, func(q *PlanPaper) bool { return q.Code == n.Code })
	paper := Paper{Number: w.number(), Code: n.Code, On: a.On, By: a.By, Attachment: n.Attachment}
	switch {
	case !ok:
		w.fault("not_due", "code", fmt.Sprintf("No paper %q is due of this job.", n.Code), "Name one of the papers on its board.")
	case due.Weighing:
		w.fault("not_due", "code", "The weighbridge ticket is recorded with its masses.", "Record the weighing.")
	case due.Certificate:
		w.signed(n.Signatory, due.Code)
		for _, stage := range due.Stages {
			if state := w.StageState(stage); state == ToDo || state == UnderWay && w.again(stage) > 0 {
				w.fault(NotInThisState, "code", fmt.Sprintf("%s is %s: what is not built cannot be certified.", p.Stage(stage).Name, state), "Do the work first.")
			}
		}
		if n.Signatory != nil {
			paper.Signatory, paper.ExpiresOn = n.Signatory.ID, n.Signatory.ExpiresOn
		}
	}
	w.attachment("attachment", n.Attachment, true)
	if a, ok := w.Attached(n.Attachment); ok {
		paper.SHA256 = a.SHA256
	}
	w.liftBy(p, n.Code)
	w.Papers = append(w.Papers, paper)
	return w.done()
}

// liftBy lifts the holds about gas or mains that a certificate answers.
func (w *writing) liftBy(p *Plan, outside string) {
	for i := range w.Holds {
		if h := w.Holds[i]; h.LiftedOn == "" && h.Caution != "" && p.touches(outside, h.Caution) {
			w.lift(i, 0)
		}
	}
}

// signed checks who signs outside work, on the day it was done.
func (w *writing) signed(s *Signatory, outside string) {
	if !w.inForce(s) {
		return
	}
	if !slices.Contains(s.Signs, outside) {
		w.fault("may_not_sign", "signatory", fmt.Sprintf("This signatory may not sign %q.", outside), "Name one who may.")
	}
}

// signedFor checks who signs for anything of a caution.
func (w *writing) signedFor(p *Plan, s *Signatory, caution catalogue.Caution) {
	if !w.inForce(s) {
		return
	}
	if !slices.ContainsFunc(s.Signs, func(o string) bool { return p.touches(o, caution) }) {
		w.fault("may_not_sign", "signatory", fmt.Sprintf("This signatory signs nothing about %s.", caution), "Name one who may.")
	}
}

// inForce says whether a signatory is named and in the register on the day.
func (w *writing) inForce(s *Signatory) bool {
	switch {
	case s == nil:
		w.fault("missing", "signatory", "Nothing says who signed.", "Name the signatory.")
		return false
	case s.ExpiresOn != "" && s.ExpiresOn < w.act.On:
		w.fault("expired", "signatory", fmt.Sprintf("Their register entry ended on %s, before %s.", calendar.Said(s.ExpiresOn), calendar.Said(w.act.On)),
			"Have it signed by somebody whose entry is good, or record the renewed entry.")
		return false
	}
	return true
}

// Snag is something found that is not right yet.
type Snag struct {
	Number int    `json:"number"`
	Stage  string `json:"stage,omitempty"`
	Says   Note   `json:"says,omitempty"`
	On     string `json:"on"`
	By     string `json:"by"`
	// Caution is gas or mains where it can hurt: then it is closed before the
	// van leaves, and no promise does.
	Caution catalogue.Caution `json:"caution,omitempty"`
	// PromisedBy is the day it will be put right by; "" for none.
	PromisedBy string `json:"promised_by,omitempty"`

	ClosedOn      string `json:"closed_on,omitempty"`
	ClosedBy      string `json:"closed_by,omitempty"`
	ClosedBecause Note   `json:"closed_because,omitempty"`
}

// NewSnag is a snag to be recorded.
type NewSnag struct {
	Stage, Says string
	Caution     catalogue.Caution
	PromisedBy  string
}

// AddSnag records a snag.
func (j *Job) AddSnag(p *Plan, a Act, n NewSnag) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Snags), "says")
	if n.Stage != "" {
		w.stage(p, "stage", n.Stage)
	}
	if n.Caution != "" && !slices.Contains(safetyCautions, n.Caution) {
		w.fault("unknown_word", "caution", fmt.Sprintf("%q is no caution that a snag has.", n.Caution), "Use gas or mains, or leave it out.")
	}
	s := Snag{Number: w.number(), Stage: n.Stage, On: a.On, By: a.By, Caution: n.Caution}
	w.promise(&s, n.PromisedBy)
	s.Says = w.note("says", n.Says, true)
	w.Snags = append(w.Snags, s)
	return w.done()
}

func (w *writing) promise(s *Snag, day string) {
	if day == "" {
		return
	}
	if s.Caution != "" {
		w.fault("no_promise", "promised_by", fmt.Sprintf("It is about %s: the van does not leave with it.", s.Caution), "Have it put right before the handover.")
	}
	w.dayFrom("promised_by", day, true)
	s.PromisedBy = day
}

// PromiseSnag gives a snag the day it will be put right by.
func (j *Job) PromiseSnag(a Act, number int, by string) (Job, document.Faults) {
	w := j.write(a)
	if s := w.openSnag(number); s != nil {
		if by == "" {
			w.fault("missing", "promised_by", "Nothing says by when.", "Give a day.")
		}
		w.promise(s, by)
	}
	return w.done()
}

// CloseSnag says that a snag is put right, and how.
func (j *Job) CloseSnag(a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	if s := w.openSnag(number); s != nil {
		s.ClosedOn, s.ClosedBy, s.ClosedBecause = a.On, a.By, w.note("because", because, false)
	}
	return w.done()
}

// openSnag gives a snag to be changed.
func (w *writing) openSnag(number int) *Snag {
	i := slices.IndexFunc(w.Snags, func(s Snag) bool { return s.Number == number })
	switch {
	case i < 0:
		w.fault("unknown_snag", "snag", fmt.Sprintf("The job has no snag %d.", number), "Name one of its list.")
		return nil
	case w.Snags[i].ClosedOn != "":
		w.fault(NotInThisState, "snag", "The snag is closed already.", "Record a new one if it came back.")
		return nil
	}
	w.Snags = slices.Clone(w.Snags)
	return &w.Snags[i]
}

// lower makes a name the middle of a sentence, unless it begins with capitals.
func lower(name string) string {
	if len(name) > 1 && name[1] >= 'A' && name[1] <= 'Z' {
		return name
	}
	return strings.ToLower(name[:min(1, len(name))]) + name[min(1, len(name)):]
}
