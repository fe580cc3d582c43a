package job

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// Finding is what strip-out, or any later stage, shows and nobody could have
// quoted for: rust, water, bad earlier work. The stage it stops waits until it
// is settled: by a variation that the customer said yes to, or by a word that
// nothing is done about it.
type Finding struct {
	Number int    `json:"number"` // of the job, from 1
	On     string `json:"on"`     // YYYY-MM-DD
	By     string `json:"by"`     // id of the person who recorded it
	// FoundAt is the stage that showed it, Stage the one that cannot begin, or
	// go on, before it is settled.
	FoundAt string `json:"found_at"`
	Stage   string `json:"stage"`
	// Words are what the customer reads: of the van, never of a person.
	Words string              `json:"words"`
	Hours []bom.AdditionHours `json:"hours,omitempty"`
	Parts []FindingPart       `json:"parts,omitempty"`
	// Touches is what of it can hurt people; then it waits for the foreman's
	// yes, as every addition does.
	Touches  []catalogue.Caution `json:"touches,omitempty"`
	Approved bool                `json:"approved,omitempty"`
	// Photographs are numbers of attachments of the job.
	Photographs []int        `json:"photographs,omitempty"`
	State       FindingState `json:"state"`
	// Variation that answers it, once there is one; SettledOn and SettledBy,
	// with the reason, where nothing is done about it.
	Variation int64  `json:"variation,omitempty"`
	SettledOn string `json:"settled_on,omitempty"`
	SettledBy string `json:"settled_by,omitempty"`
	Because   Note   `json:"because,omitempty"`
}

// FindingPart is so many of a part of the catalogue, in its unit.
type FindingPart struct {
	Part     string          `json:"part"`
	Quantity decimal.Decimal `json:"quantity"`
}

// FindingState is where a finding is.
type FindingState string

// The states; zero is invalid.
const (
	FindingOpen    FindingState = "open"    // nobody has asked the customer
	FindingAsked   FindingState = "asked"   // in a variation that waits for a yes
	FindingSettled FindingState = "settled" // in an accepted variation
	FindingLeft    FindingState = "left so" // nothing is done about it
)

// Words are the states there are.
func (FindingState) Words() []string {
	return []string{string(FindingOpen), string(FindingAsked), string(FindingSettled), string(FindingLeft)}
}

// Stops says whether the stage of the finding waits for it.
func (f *Finding) Stops() bool { return f.State == FindingOpen || f.State == FindingAsked }

// Limits of findings.
const (
	MaxFindings           = 100 // of one job
	MaxFindingParts       = 50
	MaxFindingPhotographs = 50
)

// FindingCode is the code of the addition that a finding becomes in a
// variation.
func FindingCode(number int) string { return fmt.Sprintf("finding_%d", number) }

// Find adds a finding to the job's under the next number; the stage it stops
// waits for it. c is the catalogue of the job's release.
func (j *Job) Find(a Act, f Finding, c *catalogue.Catalogue) (Job, document.Faults) {
	w := j.write(a)
	if len(j.Findings) >= MaxFindings {
		w.fault("too_many", "findings", fmt.Sprintf("The job has %d findings.", len(j.Findings)), "Put more of the same into one of them.")
	}
	w.faults = append(w.faults, f.check(c)...)
	for i, n := range f.Photographs {
		w.attachment(document.Join("photographs", i+1), n, true)
	}
	f.Number, f.On, f.By, f.State, f.Variation, f.Approved = len(j.Findings)+1, a.On, a.By, FindingOpen, 0, false
	w.Findings = append(slices.Clip(j.Findings), f)
	return w.done()
}

func (f *Finding) check(c *catalogue.Catalogue) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	stages := codesOf(c.Stages, func(s catalogue.Stage) string { return s.Code })
	for _, s := range []struct{ at, code string }{{"found_at", f.FoundAt}, {"stage", f.Stage}} {
		if !slices.Contains(stages, s.code) {
			fault("unknown_code", s.at, fmt.Sprintf("The release has no stage %q.", s.code), document.Suggest(s.code, stages, ""))
		}
	}
	words(f.Words, "words", "Nothing says what was found.", bom.MaxAdditionWords, fault)
	trades := codesOf(c.Trades, func(t catalogue.Trade) string { return t.Code })
	for i, h := range f.Hours {
		at := document.Join("hours", i+1)
		switch {
		case !slices.Contains(trades, h.Trade):
			fault("unknown_code", at+"/trade", fmt.Sprintf("The release has no trade %q.", h.Trade), document.Suggest(h.Trade, trades, ""))
		case slices.ContainsFunc(f.Hours[:i], func(o bom.AdditionHours) bool { return o.Trade == h.Trade }):
			fault("given_twice", at+"/trade", fmt.Sprintf("The hours of %q are given twice.", h.Trade), "Add them up.")
		case h.Hours.Sign() <= 0 || h.Hours.GreaterThan(decimal.New(bom.MaxAdditionHours, 0)) || h.Hours.Exponent() < -2:
			fault("out_of_range", at+"/hours", "Nobody works so many hours on it.", fmt.Sprintf("Give more than 0 and at most %d, to a hundredth.", bom.MaxAdditionHours))
		}
	}
	f.checkParts(c, fault)
	var all catalogue.Caution
	for i, t := range f.Touches {
		if !slices.Contains(all.Words(), string(t)) || slices.Contains(f.Touches[:i], t) {
			fault("unknown_word", document.Join("touches", i+1), fmt.Sprintf("%q is no caution, or named twice.", t), document.Suggest(string(t), all.Words(), ""))
		}
	}
	if len(f.Photographs) > MaxFindingPhotographs {
		fault("too_many", "photographs", fmt.Sprintf("There are %d photographs.", len(f.Photographs)), fmt.Sprintf("At most %d.", MaxFindingPhotographs))
	}
	return faults.Limit()
}

func (f *Finding) checkParts(c *catalogue.Catalogue, fault func(code, at, reason, remedy string)) {
	if len(f.Parts) > MaxFindingParts {
		fault("too_many", "parts", fmt.Sprintf("There are %d parts.", len(f.Parts)), fmt.Sprintf("At most %d.", MaxFindingParts))
		return
	}
	for i, p := range f.Parts {
		at := document.Join("parts", i+1)
		part := partOf(c, p.Part)
		switch {
		case part == nil:
			fault("unknown_code", at+"/part", fmt.Sprintf("The release has no part %q.", p.Part),
				document.Suggest(p.Part, codesOf(c.Parts, func(p catalogue.Part) string { return p.Code }), ""))
		case slices.ContainsFunc(f.Parts[:i], func(o FindingPart) bool { return o.Part == p.Part }):
			fault("given_twice", at+"/part", fmt.Sprintf("The part %q is given twice.", p.Part), "Add them up.")
		case p.Quantity.Sign() <= 0 || p.Quantity.GreaterThan(decimal.New(10_000, 0)) || -p.Quantity.Exponent() > int32(part.Decimals):
			fault("out_of_range", at+"/quantity", "The part is not issued in such a quantity.",
				fmt.Sprintf("Give more than 0 and at most 10000, with at most %d decimals.", part.Decimals))
		}
	}
}

// words checks something a person has to write.
func words(text, at, missing string, most int, fault func(code, at, reason, remedy string)) {
	if reason := document.TextFault(text); reason != "" {
		fault("bad_text", at, reason, "Write it as plain text.")
	} else if strings.TrimSpace(text) == "" {
		fault("no_words", at, missing, "Write it in a sentence or two.")
	} else if n := utf8.RuneCountInString(text); n > most {
		fault("too_long", at, fmt.Sprintf("The words are %d characters long.", n), fmt.Sprintf("Give at most %d.", most))
	}
}

// LeaveSo settles a finding by a word: nothing is done about it. One that is
// asked in a variation is settled there.
func (j *Job) LeaveSo(a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	f := w.finding(number)
	switch {
	case f == nil:
	case f.State == FindingAsked:
		w.fault(NotInThisState, "number", "The finding is in a variation that waits for the customer's yes.", "Withdraw the variation first.")
	case f.State != FindingOpen:
		w.fault(NotInThisState, "number", "The finding is settled.", "Read the job again.")
	default:
		f.State, f.SettledOn, f.SettledBy = FindingLeft, a.On, a.By
		f.Because = w.note("because", because, true)
	}
	return w.done()
}

// Approve is the foreman's yes to a finding that touches what can hurt people.
func (j *Job) Approve(a Act, number int) (Job, document.Faults) {
	w := j.write(a)
	if f := w.finding(number); f != nil {
		f.Approved = true
	}
	return w.done()
}

// finding is one to be changed, in a list of the change's own; nil, with the
// fault, where there is none.
func (w *writing) finding(number int) *Finding {
	w.Findings = slices.Clone(w.Findings)
	for i := range w.Findings {
		if w.Findings[i].Number == number {
			return &w.Findings[i]
		}
	}
	w.fault("no_finding", "number", fmt.Sprintf("The job has no finding %d.", number), "Name one that it has.")
	return nil
}

// StoppedBy are the findings that a stage waits for.
func (j *Job) StoppedBy(stage string) []Finding {
	var list []Finding
	for i := range j.Findings {
		if f := &j.Findings[i]; f.Stage == stage && f.Stops() {
			list = append(list, *f)
		}
	}
	return list
}

// WithFindings is a sheet with the parts of the findings that an accepted
// variation answers. The variation has them as an addition in words, of which
// no catalogue says what it takes; the finding does. From the yes on they are
// wanted, picked and counted like any other.
func (j *Job) WithFindings(sheet *bom.Sheet, c *catalogue.Catalogue) *bom.Sheet {
	with := *sheet
	with.Lines = slices.Clone(sheet.Lines)
	for i := range j.Findings {
		if f := &j.Findings[i]; f.State == FindingSettled {
			for _, p := range f.Parts {
				addFound(&with, f, p, c)
			}
		}
	}
	return &with
}

func addFound(sheet *bom.Sheet, f *Finding, p FindingPart, c *catalogue.Catalogue) {
	part := partOf(c, p.Part)
	if part == nil {
		return
	}
	because := bom.Because{Addition: FindingCode(f.Number), Quantity: p.Quantity, Says: fmt.Sprintf("For what was found: finding %d", f.Number)}
	k := slices.IndexFunc(sheet.Lines, func(l bom.Line) bool { return l.Kind == bom.PartLine && l.Stage == f.Stage && l.Code == p.Part })
	if k < 0 {
		sheet.Lines = append(sheet.Lines, bom.Line{Stage: f.Stage, Kind: bom.PartLine, Code: part.Code, Name: part.Name, Unit: string(part.Unit),
			Provision: part.Provision, Quantity: p.Quantity, Because: []bom.Because{because}})
		return
	}
	l := &sheet.Lines[k]
	l.Quantity, l.Because = l.Quantity.Add(p.Quantity), append(slices.Clip(l.Because), because)
}

// InParts says whether an addition is a finding whose parts are known: it is
// nothing that is had by hand.
func (j *Job) InParts(addition string) bool {
	return slices.ContainsFunc(j.Findings, func(f Finding) bool {
		return f.State == FindingSettled && len(f.Parts) > 0 && FindingCode(f.Number) == addition
	})
}

// answered follows findings through a variation: asked when it is sent, settled
// when it is accepted, open again when it is declined or withdrawn.
func answered(list []Finding, numbers []int, variation int64, state FindingState) []Finding {
	list = slices.Clone(list)
	for i := range list {
		f := &list[i]
		switch {
		case !slices.Contains(numbers, f.Number):
		case state == FindingAsked && f.State == FindingOpen:
			f.State, f.Variation = state, variation
		case state == FindingSettled && f.State == FindingAsked && f.Variation == variation:
			f.State = state
		case state == FindingOpen && f.State == FindingAsked && f.Variation == variation:
			f.State, f.Variation = state, 0
		}
	}
	return list
}

func codesOf[T any](list []T, code func(T) string) []string {
	codes := make([]string, len(list))
	for i := range list {
		codes[i] = code(list[i])
	}
	return codes
}

func partOf(c *catalogue.Catalogue, code string) *catalogue.Part {
	for i := range c.Parts {
		if c.Parts[i].Code == code {
			return &c.Parts[i]
		}
	}
	return nil
}
