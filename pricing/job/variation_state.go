package job

import (
	"fmt"
	"slices"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/quote"
)

// Stale says that a variation was worked out before another was accepted.
const Stale = "stale"

// VariationState is where a variation is.
type VariationState string

// The states; zero is invalid. One that was sent never changes any more; after
// it, another is made.
const (
	VariationDraft     VariationState = "draft"
	VariationSent      VariationState = "sent"
	VariationAccepted  VariationState = "accepted"
	VariationDeclined  VariationState = "declined"
	VariationWithdrawn VariationState = "withdrawn"
)

// Words are the states there are.
func (VariationState) Words() []string {
	return []string{string(VariationDraft), string(VariationSent), string(VariationAccepted), string(VariationDeclined), string(VariationWithdrawn)}
}

// next says which states a state may go over into.
var next = map[VariationState][]VariationState{
	VariationDraft: {VariationSent, VariationWithdrawn},
	VariationSent:  {VariationAccepted, VariationDeclined, VariationWithdrawn},
}

// Over says whether a variation may go over into another state.
func (s VariationState) Over(to VariationState) bool { return slices.Contains(next[s], to) }

// Stands says whether a sent variation still waits for an answer on a day.
func (v *Variation) Stands(s VariationState, today string) bool {
	return s == VariationSent && !quote.Lapsed(v.ValidUntil, today)
}

// Consent is the customer's yes to a variation, without what tells who they
// are: that is evidence, and kept apart.
type Consent struct {
	// On is the day of it (YYYY-MM-DD), in the workshop's time zone.
	On    string      `json:"on"`
	How   quote.How   `json:"how"`
	Place quote.Place `json:"place"`
	// Cancellation is the right to cancel that the change has by it.
	Cancellation quote.Cancellation `json:"cancellation,omitzero"`
}

// Given is a yes that was given to a variation of the job.
type Given struct {
	Variation int64 `json:"variation"`
	Consent
}

// GivenTo is the yes to a variation; nil for none, and for one from before it was
// kept with the job.
func (j *Job) GivenTo(variation int64) *Consent {
	for i := range j.Given {
		if j.Given[i].Variation == variation {
			return &j.Given[i].Consent
		}
	}
	return nil
}

// Check finds what stands against a consent to a variation.
func (c *Consent) Check(v *Variation) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	switch {
	case !calendar.Valid(c.On):
		fault("day", "on", fmt.Sprintf("%q is not a day.", c.On), "Write it as year, month and day: 2027-01-11.")
	case c.On < v.Day:
		fault("too_early", "on", fmt.Sprintf("It was only sent on %s.", calendar.Said(v.Day)), "Give the day of the customer's yes.")
	case quote.Lapsed(v.ValidUntil, c.On):
		fault("lapsed", "on", fmt.Sprintf("The offer ended on %s.", calendar.Said(v.ValidUntil)), "Make the variation anew and send it.")
	}
	if !slices.Contains(c.How.Words(), string(c.How)) {
		fault("unknown_word", "how", fmt.Sprintf("%q is no way to accept.", c.How), "Use one of counter, paper, link.")
	}
	switch {
	case !slices.Contains(c.Place.Words(), string(c.Place)):
		fault("unknown_word", "place", fmt.Sprintf("%q is no place of a sale.", c.Place), "Use one of on the premises, away from the premises, at a distance.")
	case c.How == quote.ByLink && c.Place != quote.AtDistance:
		fault("contradiction", "place", "Who accepts by a link is at a distance.", "Say at a distance, or record a yes at the counter.")
	}
	return faults
}

func (j *Job) atWork(at string) document.Faults {
	if j.State == Agreed || j.State == InTheWorkshop {
		return nil
	}
	return document.Faults{{Code: NotInThisState, At: at, Reason: fmt.Sprintf("The job is %s.", j.State), Remedy: "What comes after a handover is a return visit."}}
}

// stale says that something else was agreed since a variation was worked out.
func (j *Job) stale(v *Variation) document.Faults {
	if j.Variation == v.From.Variation {
		return nil
	}
	return document.Faults{{Code: Stale, At: "from", Reason: "Another variation was accepted since this one was worked out.", Remedy: "Work it out anew and send it."}}
}

// Send says that a variation is before the customer: its findings wait for the
// answer. Faults are all that stands in the way; nothing is sent that is not
// ready.
func (j *Job) Send(v *Varied) (Job, document.Faults) {
	out := *j
	faults := append(j.atWork("state"), j.stale(&v.Variation)...)
	for _, n := range v.NotReady {
		faults = append(faults, document.Fault{Code: string(n.Code), At: "not_ready", Reason: n.Says, Remedy: "Mend it, and work the variation out again."})
	}
	for _, n := range v.Findings {
		if i := slices.IndexFunc(j.Findings, func(f Finding) bool { return f.Number == n }); i < 0 || j.Findings[i].State != FindingOpen {
			faults = append(faults, document.Fault{Code: "settled_already", At: "findings", Reason: fmt.Sprintf("Finding %d is not open.", n), Remedy: "Leave it out."})
		}
	}
	if len(faults) > 0 {
		return out, faults.Limit()
	}
	out.Findings = answered(j.Findings, v.Findings, v.Number, FindingAsked)
	return out, nil
}

// NotTaken says that a variation that was sent is declined or withdrawn: its
// findings are open again, and stop what they stopped.
func (j *Job) NotTaken(v *Variation) Job {
	out := *j
	out.Findings = answered(j.Findings, v.Findings, v.Number, FindingOpen)
	return out
}

// Accept gives the job its new sheet, as With has it.
func (j *Job) Accept(v *Variation, c Consent, stages []catalogue.Stage) (Job, document.Faults) {
	faults := append(j.atWork("state"), j.stale(v)...)
	if faults = append(faults, c.Check(v)...); len(faults) > 0 {
		return *j, faults
	}
	out := j.With(v, c.On, stages)
	out.Given = append(slices.Clip(j.Given), Given{v.Number, c})
	return out, nil
}

func restaged(was, is []Stage, d *bom.Difference) []Stage {
	list := make([]Stage, 0, max(len(was), len(is)))
	kept := map[string]bool{}
	old := func(code string) *Stage {
		for i := range was {
			if was[i].Code == code {
				return &was[i]
			}
		}
		return nil
	}
	for _, s := range is {
		if before := old(s.Code); before != nil {
			after, hours, standing := s.After, s.Hours, s.StandingHours
			s = *before
			s.After, s.Hours, s.StandingHours = after, hours, standing
			if s.State == Done && moreWork(d, s.Code) {
				s.State = UnderWay
			}
		}
		kept[s.Code] = true
		list = append(list, s)
	}
	for i := range was {
		if s := was[i]; !kept[s.Code] && s.State != ToDo {
			at := slices.IndexFunc(list, func(l Stage) bool { return slices.Contains(l.After, s.Code) })
			if at < 0 {
				at = min(i, len(list))
			}
			list = slices.Insert(list, at, s)
		}
	}
	return list
}

// moreWork says whether anybody has to do anything at a stage that was not to
// be done before.
func moreWork(d *bom.Difference, stage string) bool {
	for i := range d.Lines {
		if l := &d.Lines[i]; l.Stage == stage && (l.Kind == bom.HoursLine || l.Kind == bom.OutsideLine) {
			for k := range l.Because {
				if b := &l.Because[k]; b.After.GreaterThan(b.Before) {
					return true
				}
			}
		}
	}
	return false
}
