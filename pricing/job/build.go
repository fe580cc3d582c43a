package job

import (
	"fmt"
	"slices"
	"unicode/utf8"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
)

// Build is what has happened to one van on the workshop floor: the van in and
// out, steps of its stages, holds, hours, parts, papers and snags. Every method
// of Job that changes something gives a new Job and leaves the old one as it is,
// or gives the faults that stand against it and changes nothing.
//
// All entries share one series of numbers in the order in which they were
// made, so what came after what can be told without a clock.
type Build struct {
	// Last is the number of the latest entry.
	Last int `json:"last,omitempty"`

	Expected []Expected `json:"expected,omitempty"`
	Arrived  *Condition `json:"arrived,omitempty"`
	Trips    []Trip     `json:"trips,omitempty"`
	Left     *Condition `json:"left,omitempty"`
	Steps    []Step     `json:"steps,omitempty"`
	Holds    []Hold     `json:"holds,omitempty"`
	Tests    []Test     `json:"tests,omitempty"`
	Hours    []Worked   `json:"hours,omitempty"`
	Parts    []PartUsed `json:"parts,omitempty"`
	Serials  []Serial   `json:"serials,omitempty"`
	Papers   []Paper    `json:"papers,omitempty"`
	Weighed  []Weighing `json:"weighed,omitempty"`
	Snags    []Snag     `json:"snags,omitempty"`
	Shown    []Shown    `json:"shown,omitempty"`
	Removed  []Removed  `json:"removed,omitempty"`
	// TakenBack are the words that took back one of Parts, Serials or Removed.
	TakenBack []TakenBack `json:"taken_back,omitempty"`
	Balance   []Clearance `json:"balance,omitempty"`
	// Attachments are photographs and documents; what they show and say is
	// kept apart.
	Attachments []Attachment `json:"attachments,omitempty"`
	// HandedOverOn is the day of the handover; "" before.
	HandedOverOn string `json:"handed_over_on,omitempty"`
	// WarrantyMonths were the workshop's rule at the handover; 0 before, and of
	// vans handed over before it was kept, when it was DefaultWarrantyMonths.
	WarrantyMonths int `json:"warranty_months,omitempty"`
	// CancelledOn is the day the job was cancelled, and why.
	CancelledOn      string `json:"cancelled_on,omitempty"`
	CancelledBecause Note   `json:"cancelled_because,omitempty"`

	// Words are what people wrote, which may name somebody: they are no part of
	// the document but kept beside it, where they can be emptied. Note n is the
	// n-th of them.
	Words []string `json:"-"`
}

// Note points to words of a Build: the n-th, counted from 1; 0 for none.
type Note int

// Said gives the words of a note; "" for none, or for words that were emptied.
func (j *Job) Said(n Note) string {
	if n < 1 || int(n) > len(j.Words) {
		return ""
	}
	return j.Words[n-1]
}

// Limits of one job.
const (
	MaxEntries = 5_000 // of each list
	MaxWords   = 1_000 // characters of one note
	MaxListed  = 200   // of one list of a condition
)

// Act is when something was done and by whom it is recorded.
type Act struct {
	// On is the day it was done, Today the day it is where the workshop is,
	// both YYYY-MM-DD. Nothing is recorded ahead.
	On, Today string
	// By is the id of the person who records it.
	By string
}

// writing is a Build being changed: a copy whose lists may be added to.
type writing struct {
	Job
	act    Act
	faults document.Faults
}

// write begins a change. The lists of j are clipped, so that adding to the copy
// never writes into j's.
func (j *Job) write(a Act) *writing {
	w := &writing{Job: *j, act: a}
	w.Expected, w.Trips, w.Steps, w.Holds = slices.Clip(j.Expected), slices.Clip(j.Trips), slices.Clip(j.Steps), slices.Clip(j.Holds)
	w.Tests, w.Hours, w.Parts, w.Serials = slices.Clip(j.Tests), slices.Clip(j.Hours), slices.Clip(j.Parts), slices.Clip(j.Serials)
	w.Papers, w.Weighed, w.Snags, w.Shown = slices.Clip(j.Papers), slices.Clip(j.Weighed), slices.Clip(j.Snags), slices.Clip(j.Shown)
	w.Removed, w.Balance, w.Attachments = slices.Clip(j.Removed), slices.Clip(j.Balance), slices.Clip(j.Attachments)
	w.TakenBack, w.Words, w.Stages = slices.Clip(j.TakenBack), slices.Clip(j.Words), slices.Clone(j.Stages)
	switch {
	case !calendar.Valid(a.On):
		w.fault("day", "on", fmt.Sprintf("%q is not a day.", a.On), "Write it as year, month and day: 2027-01-11.")
	case a.On > a.Today:
		w.fault("too_late", "on", fmt.Sprintf("%s has not come yet.", calendar.Said(a.On)), "Give the day on which it was done.")
	}
	switch j.State {
	case HandedOver:
		w.fault(NotInThisState, "", fmt.Sprintf("The van was handed over on %s.", calendar.Said(j.HandedOverOn)), "Open a return visit for what comes after.")
	case Cancelled:
		w.fault(NotInThisState, "", "The job is cancelled.", "Nothing more is done of it.")
	}
	return w
}

func (w *writing) fault(code, at, reason, remedy string) {
	w.faults = append(w.faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

// done gives what was written, or the faults and nothing.
func (w *writing) done() (Job, document.Faults) {
	if len(w.faults) > 0 {
		return Job{}, w.faults.Limit()
	}
	return w.Job, nil
}

// number is the next one.
func (w *writing) number() int {
	w.Last++
	return w.Last
}

// room says that one more entry fits in a list of n.
func (w *writing) room(n int, at string) {
	if n >= MaxEntries {
		w.fault("too_many", at, fmt.Sprintf("There are %d of these already.", n), "No job takes as many: see whether something sends them again and again.")
	}
}

// note keeps words; needed says that there must be some.
func (w *writing) note(at, says string, needed bool) Note {
	if says == "" {
		if needed {
			w.fault("missing", at, "Nothing is said here.", "Say it in a sentence.")
		}
		return 0
	}
	if reason := document.TextFault(says); reason != "" {
		w.fault("bad_text", at, reason, "Write it as plain text.")
		return 0
	}
	if utf8.RuneCountInString(says) > MaxWords {
		w.fault("too_long", at, "That is too long.", fmt.Sprintf("Say it in at most %d characters.", MaxWords))
		return 0
	}
	w.Words = append(w.Words, says)
	return Note(len(w.Words))
}

// dayAfter checks a day that is promised or expected.
func (w *writing) dayFrom(at, day string, needed bool) {
	switch {
	case day == "" && !needed:
	case !calendar.Valid(day):
		w.fault("day", at, fmt.Sprintf("%q is not a day.", day), "Write it as year, month and day: 2027-01-11.")
	case day < w.act.Today:
		w.fault("too_early", at, fmt.Sprintf("%s is over.", calendar.Said(day)), "Give a day that is still to come.")
	}
}

// Attachment is a photograph or document of a job. Its content, and what was
// said of it, are kept beside the job.
type Attachment struct {
	Number    int    `json:"number"`
	On        string `json:"on"`
	By        string `json:"by"`
	MediaType string `json:"media_type"`
	// SHA256 of the content, in hexadecimal; it stays when that is emptied.
	SHA256 string `json:"sha256"`
	// Bytes of the content; 0 for a paper that is filed elsewhere.
	Bytes int `json:"bytes,omitempty"`
	// Stage it belongs to; "" for none.
	Stage string `json:"stage,omitempty"`
	Says  Note   `json:"says,omitempty"`
}

// Attach keeps what is known of an attachment; number, day and person are
// filled in.
func (j *Job) Attach(p *Plan, a Act, one Attachment, says string) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Attachments), "attachments")
	if len(one.SHA256) != 64 {
		w.fault("missing", "sha256", "Nothing says which content it is.", "Send the content, or its SHA-256 in hexadecimal.")
	}
	if one.Stage != "" {
		w.stage(p, "stage", one.Stage)
	}
	one.Number, one.On, one.By = w.number(), a.On, a.By
	one.Says = w.note("says", says, false)
	w.Attachments = append(w.Attachments, one)
	return w.done()
}

// Attached gives an attachment by its number.
func (j *Job) Attached(number int) (Attachment, bool) {
	return find(j.Attachments, func(a *Attachment) bool { return a.Number == number })
}

// attachment checks a reference to an attachment; 0 is none.
func (w *writing) attachment(at string, number int, needed bool) {
	if number == 0 && !needed {
		return
	}
	if _, ok := w.Attached(number); !ok {
		w.fault("unknown_attachment", at, fmt.Sprintf("The job has no attachment %d.", number), "Attach it first, and give its number.")
	}
}

func find[T any](list []T, is func(*T) bool) (T, bool) {
	for i := range list {
		if is(&list[i]) {
			return list[i], true
		}
	}
	var none T
	return none, false
}
