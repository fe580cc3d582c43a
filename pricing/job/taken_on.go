package job

import (
	"slices"

	"wainscot/bom"
	"wainscot/bom/catalogue"
)

// TakenOn is a van that was in build, or promised, before the workshop began
// here: a job without a quote. What is left to do stands in it.
type TakenOn struct {
	// On is the day at whose end it was taken on (YYYY-MM-DD).
	On string `json:"on"`
	// Key is what the old list called it, and Says what is built; both may name
	// somebody.
	Key  Note `json:"key"`
	Says Note `json:"says"`
	// PromisedOn is the day it was promised back; "" for none.
	PromisedOn string `json:"promised_on,omitempty"`
	// Release of the catalogue its stages and trades are of.
	Release int64 `json:"release"`
	// Hours left.
	Hours []ReturnHours `json:"hours,omitempty"`
	// Papers are the certificates of the catalogue that the van has or has still
	// to have; the others were said not to be needed.
	Papers []TakenOnPaper `json:"papers,omitempty"`
}

// TakenOnPaper is a certificate as it stood when the van was taken on. One that
// is to come is waited for at the handover.
type TakenOnPaper struct {
	Outside string     `json:"outside"` // the outside work that returns it
	State   PaperState `json:"state"`
	// Stage of the visit, of one that is to come; On the day it was signed
	// (YYYY-MM-DD), of one that is there.
	Stage string `json:"stage,omitempty"`
	On    string `json:"on,omitempty"`
}

// PaperState says whether a van that is taken on has a certificate.
type PaperState string

// The states; zero is invalid.
const (
	PaperToCome    PaperState = "to come"
	PaperThere     PaperState = "there"
	PaperNotNeeded PaperState = "not needed"
)

// Words are the states there are.
func (PaperState) Words() []string {
	return []string{string(PaperToCome), string(PaperThere), string(PaperNotNeeded)}
}

// NewTakenOn is a job to be taken on.
type NewTakenOn struct {
	BaseVan, AgreedOn  string
	Key, Says          string
	PromisedOn         string
	Hours              []ReturnHours
	Papers             []TakenOnPaper
	ArrivedOn, KeyHook string // "" for a van that is still to come
	Stage              string // under way; "" for none
	Release            int64
	Catalogue          *catalogue.Catalogue
}

// TakeOn makes the job of a van as it is at the end of a day, a.On. What of it
// could be wrong was found when it was read; faults are of the words.
func TakeOn(a Act, n NewTakenOn) (Job, error) {
	begun := Job{Format: Format, State: Agreed, BaseVan: n.BaseVan, AgreedOn: n.AgreedOn}
	w := begun.write(a)
	t := TakenOn{On: a.On, PromisedOn: n.PromisedOn, Release: n.Release, Hours: n.Hours, Papers: n.Papers}
	t.Key, t.Says = w.note("job", n.Key, true), w.note("words", n.Says, true)
	sheet := t.Sheet(n.BaseVan, n.Catalogue)
	w.Stages = stagesOf(&sheet, n.Catalogue.Stages)
	w.TakenOn = &t
	if n.ArrivedOn != "" {
		w.State = InTheWorkshop
		w.Arrived = &Condition{Number: w.number(), On: n.ArrivedOn, By: a.By, KeyHook: n.KeyHook, Photographs: []Photograph{}, Signatures: []Signature{}, TakenOn: true}
	}
	for i := range w.Stages {
		if w.Stages[i].Code == n.Stage {
			w.Stages[i].State = UnderWay
			w.Steps = append(w.Steps, Step{Number: w.number(), Stage: n.Stage, To: UnderWay, On: a.On, By: a.By})
		}
	}
	now, faults := w.done()
	return now, faults.Err()
}

// Sheet is what is left to do, as a build sheet. It has the cautions of all that
// the van has a certificate of or needs one: what is fitted in it is not known
// here, and that can hurt people.
func (t *TakenOn) Sheet(baseVan string, c *catalogue.Catalogue) bom.Sheet {
	left := Return{Hours: t.Hours}
	var cautions []catalogue.Caution
	for _, p := range t.Papers {
		work, _ := find(c.OutsideWork, func(w *catalogue.OutsideWork) bool { return w.Code == p.Outside })
		if p.State == PaperToCome {
			left.Outside = append(left.Outside, ReturnOutside{Stage: p.Stage, Outside: p.Outside})
		} else if slices.Contains(work.Caution, catalogue.CautionWeight) {
			continue // it was weighed, and is not weighed again
		}
		cautions = append(cautions, work.Caution...)
	}
	sheet := left.sheet("Left when it was taken on", baseVan, c)
	sheet.Cautions = bom.Cautions(cautions)
	return sheet
}

// OwnRelease is the release of the catalogue that a job without a quote is of;
// false for any other.
func (j *Job) OwnRelease() (int64, bool) {
	switch {
	case j.Return != nil:
		return j.Return.Release, true
	case j.TakenOn != nil:
		return j.TakenOn.Release, true
	}
	return 0, false
}

// OwnSheet is what a job without a quote has to do, by the catalogue of its own
// release.
func (j *Job) OwnSheet(c *catalogue.Catalogue) *bom.Sheet {
	sheet := bom.Sheet{BaseVan: j.BaseVan}
	switch {
	case j.Return != nil:
		sheet = j.Return.Sheet(j.BaseVan, c)
	case j.TakenOn != nil:
		sheet = j.TakenOn.Sheet(j.BaseVan, c)
	}
	return &sheet
}
