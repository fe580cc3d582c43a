package job

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
)

// AsBuilt is a van as it left the workshop: what is on board, parts with their
// serial numbers and batches and how long they are under warranty, who worked
// and who tested, and the checks that fall due. A job that is handed over does
// not change any more, so neither does this.
type AsBuilt struct {
	// HandedOverOn is "" while the van is still here; then nothing has a day.
	HandedOverOn string
	Features     []BuiltFeature
	Parts        []BuiltPart
	Stages       []BuiltStage
	Tests        []Test  // that were passed, and not of work taken up again
	Papers       []Paper // the latest of each
	Photographs  []int   // attachments that are pictures
	ChecksDue    []CheckDue
}

// BuiltFeature is one that is on board.
type BuiltFeature struct {
	Code  string
	Name  string
	Count int
	Fit   int // of which the job fitted
}

// BuiltPart is a part that went into the van at a stage.
type BuiltPart struct {
	Part     string
	Name     string
	Stage    string
	Unit     string
	Quantity decimal.Decimal // really used, where that is recorded
	// Serials that are fitted: those that were replaced are not among them.
	Serials []Serial
	// WarrantyMonths after the handover, and the last day of them; 0 for a
	// customer's own, on which there is none.
	WarrantyMonths int
	WarrantyUntil  string
}

// BuiltStage is who worked at a stage.
type BuiltStage struct {
	Stage string
	Name  string
	Crew  []string // ids, in the order they first worked at it
	Hours decimal.Decimal
}

// CheckDue is a check of the van that falls due.
type CheckDue struct {
	Name        string
	EveryMonths int
	Cites       string
	DueOn       string // the first time; "" while the van is still here
}

// DefaultWarrantyMonths hold where neither part nor feature says anything:
// common practice, no source.
const DefaultWarrantyMonths = 12

// AsBuilt works it out: of the specification and sheet that were agreed last, on
// the catalogue of their release. warrantyMonths are the workshop's rule today; what
// is handed over keeps that of its day.
func (j *Job) AsBuilt(spec *bom.Specification, sheet *bom.Sheet, c *catalogue.Catalogue, warrantyMonths int) (AsBuilt, error) {
	b := AsBuilt{HandedOverOn: j.HandedOverOn}
	switch {
	case j.WarrantyMonths > 0:
		warrantyMonths = j.WarrantyMonths
	case j.HandedOverOn != "":
		warrantyMonths = DefaultWarrantyMonths
	}
	for i := range spec.Features {
		if f := &spec.Features[i]; f.Count > 0 {
			b.Features = append(b.Features, BuiltFeature{f.Code, f.Name, f.Count, f.Fit})
		}
	}
	for i := range sheet.Lines {
		j.builtPart(&b, &sheet.Lines[i], c, warrantyMonths)
	}
	j.besidesTheSheet(&b, c, warrantyMonths)
	for i := range j.Stages {
		if s := j.workedBy(&j.Stages[i]); len(s.Crew) > 0 {
			b.Stages = append(b.Stages, s)
		}
	}
	for i := range j.Tests {
		if j.Tests[i].Passed {
			b.Tests = append(b.Tests, j.Tests[i])
		}
	}
	for i := range j.Papers {
		if latest, _ := j.Paper(j.Papers[i].Code); j.Papers[i].Number == latest.Number {
			b.Papers = append(b.Papers, latest)
		}
	}
	for i := range j.Attachments {
		if strings.HasPrefix(j.Attachments[i].MediaType, "image/") {
			b.Photographs = append(b.Photographs, j.Attachments[i].Number)
		}
	}
	b.ChecksDue = checksDue(spec, c)
	return b, b.days()
}

// days puts days to what counts from the handover.
func (b *AsBuilt) days() error {
	if b.HandedOverOn == "" {
		return nil
	}
	var err error
	for i := range b.Parts {
		if p := &b.Parts[i]; p.WarrantyMonths > 0 {
			if p.WarrantyUntil, err = calendar.AddMonths(b.HandedOverOn, p.WarrantyMonths); err != nil {
				return fmt.Errorf("the warranty on %s: %w", p.Part, err)
			}
		}
	}
	for i := range b.ChecksDue {
		k := &b.ChecksDue[i]
		if k.DueOn, err = calendar.AddMonths(b.HandedOverOn, k.EveryMonths); err != nil {
			return fmt.Errorf("the check %q: %w", k.Name, err)
		}
	}
	return nil
}

// builtPart adds a line of the sheet that is kept track of: parts ordered for
// the job, those with a number of their own, and the customer's own.
func (j *Job) builtPart(b *AsBuilt, l *bom.Line, c *catalogue.Catalogue, months int) {
	p := BuiltPart{Part: l.Code, Name: l.Name, Stage: l.Stage, Unit: l.Unit, Quantity: l.Quantity}
	switch l.Kind {
	case bom.PartLine:
		part := partOf(c, l.Code)
		p.Serials = j.fitted(l.Code, l.Stage)
		if part == nil || l.Provision != catalogue.ForTheJob && len(p.Serials) == 0 {
			return
		}
		if used := j.Used(l.Stage, l.Code); !used.IsZero() {
			p.Quantity = used
		}
		p.WarrantyMonths = warranty(part, l.Because, c, months)
	case bom.OwnPartLine:
	case bom.KitLine, bom.HoursLine, bom.OutsideLine, bom.StandingLine, bom.OneOffLine:
		return
	}
	b.Parts = append(b.Parts, p)
}

// besidesTheSheet adds what was used or numbered at a stage whose sheet has none
// of it.
func (j *Job) besidesTheSheet(b *AsBuilt, c *catalogue.Catalogue, months int) {
	there := func(part, stage string) bool {
		return slices.ContainsFunc(b.Parts, func(p BuiltPart) bool { return p.Part == part && p.Stage == stage })
	}
	add := func(code, stage string) {
		part := partOf(c, code)
		if part == nil || there(code, stage) {
			return
		}
		p := BuiltPart{Part: code, Name: part.Name, Stage: stage, Unit: string(part.Unit), Quantity: j.Used(stage, code), Serials: j.fitted(code, stage)}
		if p.Quantity.Sign() <= 0 && len(p.Serials) == 0 || part.Provision != catalogue.ForTheJob && len(p.Serials) == 0 {
			return
		}
		p.WarrantyMonths = warranty(part, nil, c, months)
		b.Parts = append(b.Parts, p)
	}
	for i := range j.Parts {
		add(j.Parts[i].Part, j.Parts[i].Stage)
	}
	for i := range j.Serials {
		add(j.Serials[i].Part, j.Serials[i].Stage)
	}
}

// fitted are the numbers of a part that are in the van at a stage.
func (j *Job) fitted(part, stage string) []Serial {
	var list []Serial
	for i := range j.Serials {
		if s := &j.Serials[i]; s.Part == part && s.Stage == stage && j.Fitted(s) {
			list = append(list, *s)
		}
	}
	return list
}

// warranty is what the part says, else the longest of what the features say that
// ask for it, else the workshop's rule.
func warranty(part *catalogue.Part, because []bom.Because, c *catalogue.Catalogue, months int) int {
	if part.WarrantyMonths > 0 {
		return part.WarrantyMonths
	}
	longest := 0
	for i := range because {
		for k := range c.Features {
			if f := &c.Features[k]; f.Code == because[i].Feature && because[i].Feature != "" && !because[i].Removal {
				longest = max(longest, f.WarrantyMonths)
			}
		}
	}
	if longest > 0 {
		return longest
	}
	return months
}

func (j *Job) workedBy(s *Stage) BuiltStage {
	b := BuiltStage{Stage: s.Code, Name: s.Name}
	for i := range j.Hours {
		h := &j.Hours[i]
		if h.Stage != s.Code {
			continue
		}
		b.Hours = b.Hours.Add(h.Hours)
		if !slices.Contains(b.Crew, h.Crew) {
			b.Crew = append(b.Crew, h.Crew)
		}
	}
	return b
}

// checksDue are those of all features on board, each once, at the shortest of
// its times.
func checksDue(spec *bom.Specification, c *catalogue.Catalogue) []CheckDue {
	var list []CheckDue
	for i := range spec.Features {
		s := &spec.Features[i]
		k := slices.IndexFunc(c.Features, func(f catalogue.Feature) bool { return f.Code == s.Code })
		if s.Count <= 0 || k < 0 {
			continue
		}
		for _, d := range c.Features[k].ChecksDue {
			at := slices.IndexFunc(list, func(o CheckDue) bool { return o.Name == d.Name })
			switch {
			case at < 0:
				list = append(list, CheckDue{Name: d.Name, EveryMonths: d.EveryMonths, Cites: d.Cites})
			case d.EveryMonths < list[at].EveryMonths:
				list[at].EveryMonths, list[at].Cites = d.EveryMonths, d.Cites
			}
		}
	}
	slices.SortFunc(list, func(a, b CheckDue) int { return cmp.Compare(a.Name, b.Name) })
	return list
}

// SerialKey is a serial number or batch as numbers are looked for: in capitals,
// without spaces, hyphens and the like but between digits, every run of digits as
// a number, so that a range finds what lies in it: GB-9 comes before GB-10, and
// gb 0010 is GB10.
func SerialKey(value string) string {
	var b strings.Builder
	digits, apart := "", false
	flush := func() {
		if digits != "" {
			plain := strings.TrimLeft(digits, "0")
			b.WriteString(strings.Repeat("0", max(0, maxSerial-len(plain))) + plain)
		}
		digits = ""
	}
	for _, r := range strings.ToUpper(value) {
		switch {
		case strings.ContainsRune(" -/._", r):
			apart = true
			continue
		case r < '0' || r > '9':
			flush()
			b.WriteRune(r)
		case apart && digits != "":
			flush()
			b.WriteByte(' ')
			digits = string(r)
		default:
			digits += string(r)
		}
		apart = false
	}
	flush()
	return b.String()
}
