package job

import (
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
)

// Plan is what a job has to do and to have by its build sheet and the release
// it was quoted with. A variation gives the job another sheet and so another
// plan; what has been done stays in the Build.
type Plan struct {
	// Stages the sheet has anything at, in the order of the catalogue.
	Stages []PlanStage
	// Papers that are due: certificates of outside work, then evidence.
	Papers []PlanPaper
	// Parts wanted, by stage; consumables by rate are not counted.
	Parts []PlanPart
	// Removed is what is taken out of the van.
	Removed []bom.RemovedFeature
	// Show is what the customer is shown at the handover.
	Show []PlanShow
	// Trades by code.
	Trades []catalogue.Trade
	// Outside work of the catalogue, for who may sign.
	Outside []catalogue.OutsideWork
	// Weigh says that the van goes over a weighbridge after the work; Mass is
	// what the sheet reckons, to hold the ticket against.
	Weigh bool
	Mass  bom.Mass
	// Facts of the base van, to bring the ticket to an empty van.
	Facts catalogue.Facts
}

// PlanStage is one stage of the plan.
type PlanStage struct {
	Code, Name    string
	Hours         []TradeHours
	StandingHours decimal.Decimal
	// Outside work that comes to the van at this stage.
	Outside []string
	Holds   []PlanHold
}

// TradeHours are hours planned of one trade.
type TradeHours struct {
	Trade string
	Hours decimal.Decimal
}

// PlanHold is a hold of the catalogue that applies to this job.
type PlanHold struct {
	Code  string
	Until catalogue.HoldUntil
	// Outside is the work whose certificate lifts it, or whose signatories may
	// test; "" where the workshop's own people do.
	Outside string
	// Stage whose work is tested; "" for none.
	Stage string
	Says  string
	// Caution is gas or mains where the hold keeps people from harm.
	Caution catalogue.Caution
}

// PlanPaper is a certificate or another paper that is due.
type PlanPaper struct {
	// Code of the outside work that returns it, or of the evidence.
	Code, Name string
	// Certificate: it has to be signed by a signatory.
	Certificate bool
	// Weighing: the weighbridge ticket, which is recorded with its masses.
	Weighing bool
	Due      catalogue.Due
	// By says who gives it, of evidence.
	By string
	// Stages at which the outside work stands: when one of them is taken up
	// again, the certificate is of what is not there any more.
	Stages []string
}

// PlanPart is a part wanted at a stage.
type PlanPart struct {
	Stage, Part, Name, Unit string
	Quantity                decimal.Decimal
	// Serial: the serial number of each one is kept. Batch: that of what is used
	// at the stage.
	Serial, Batch bool
}

// PlanShow is one thing the customer is shown.
type PlanShow struct{ Code, Says string }

// cautionsShown are what every customer is shown where they apply.
var cautionsShown = []struct {
	caution catalogue.Caution
	says    string
}{
	{catalogue.CautionGas, "Where the gas is shut off, which vents must stay free, and what to do when an alarm sounds."},
	{catalogue.CautionMains, "Where the mains is switched off, and how the residual-current device is tested."},
	{catalogue.CautionWeight, "What the van may still carry, and on which axle."},
}

// PlanOf works the plan out of a specification and its sheet.
func PlanOf(spec *bom.Specification, sheet *bom.Sheet, c *catalogue.Catalogue) Plan {
	p := Plan{Removed: spec.Removed, Trades: c.Trades, Outside: c.OutsideWork, Mass: sheet.Mass}
	if v, ok := find(c.BaseVans, func(v *catalogue.BaseVan) bool { return v.Code == sheet.BaseVan }); ok {
		p.Facts = v.Facts
	}
	cautions := make([]catalogue.Caution, 0, len(sheet.Cautions))
	for _, n := range sheet.Cautions {
		cautions = append(cautions, n.Caution)
	}
	p.Weigh = slices.Contains(cautions, catalogue.CautionWeight)
	p.stages(sheet, c)
	p.parts(sheet, c)
	p.papers(sheet)
	p.holds(c)
	for _, shown := range cautionsShown {
		if slices.Contains(cautions, shown.caution) {
			p.Show = append(p.Show, PlanShow{string(shown.caution), shown.says})
		}
	}
	for _, f := range c.Features {
		on := slices.ContainsFunc(spec.Features, func(s bom.SpecifiedFeature) bool { return s.Code == f.Code && s.Count > 0 })
		if on && f.Shows != "" {
			p.Show = append(p.Show, PlanShow{f.Code, f.Shows})
		}
	}
	return p
}

func (p *Plan) stages(sheet *bom.Sheet, c *catalogue.Catalogue) {
	has := func(code string) bool {
		return slices.ContainsFunc(sheet.Stages, func(t bom.StageTotal) bool { return t.Stage == code && t.Lines > 0 })
	}
	for i := range c.Stages {
		s := &c.Stages[i]
		if !has(s.Code) {
			continue
		}
		one := PlanStage{Code: s.Code, Name: s.Name}
		for k := range sheet.Lines {
			switch l := &sheet.Lines[k]; {
			case l.Stage != s.Code:
			case l.Kind == bom.HoursLine:
				one.Hours = append(one.Hours, TradeHours{l.Code, l.Quantity})
			case l.Kind == bom.StandingLine:
				one.StandingHours = decimal.Max(one.StandingHours, l.Quantity)
			case l.Kind == bom.OutsideLine:
				one.Outside = append(one.Outside, l.Code)
			}
		}
		p.Stages = append(p.Stages, one)
	}
}

func (p *Plan) parts(sheet *bom.Sheet, c *catalogue.Catalogue) {
	parts := map[string]*catalogue.Part{}
	for i := range c.Parts {
		parts[c.Parts[i].Code] = &c.Parts[i]
	}
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		if l.Kind != bom.PartLine || l.Code == "" || l.Provision == catalogue.Consumable {
			continue
		}
		one := PlanPart{Stage: l.Stage, Part: l.Code, Name: l.Name, Unit: l.Unit, Quantity: l.Quantity}
		if of := parts[l.Code]; of != nil {
			one.Serial, one.Batch = of.Serial, of.Batch
		}
		p.Parts = append(p.Parts, one)
	}
}

func (p *Plan) papers(sheet *bom.Sheet) {
	for _, one := range sheet.Certificates {
		paper := PlanPaper{Code: one.Outside, Name: one.Name, Certificate: true, Due: catalogue.BeforeHandover}
		for i := range p.Stages {
			if slices.Contains(p.Stages[i].Outside, one.Outside) {
				paper.Stages = append(paper.Stages, p.Stages[i].Code)
			}
		}
		if p.touches(one.Outside, catalogue.CautionWeight) {
			paper.Weighing, p.Weigh = true, true
		}
		p.Papers = append(p.Papers, paper)
	}
	for _, e := range sheet.Evidence {
		p.Papers = append(p.Papers, PlanPaper{Code: e.Code, Name: e.Name, Due: e.Due, By: e.By})
	}
}

// holds are those of the catalogue whose work is on the sheet.
func (p *Plan) holds(c *catalogue.Catalogue) {
	for i := range p.Stages {
		s, _ := find(c.Stages, func(s *catalogue.Stage) bool { return s.Code == p.Stages[i].Code })
		for _, h := range s.Holds {
			due := slices.ContainsFunc(p.Stages, func(s PlanStage) bool { return slices.Contains(s.Outside, h.Outside) })
			if h.Outside != "" && !due || h.Stage != "" && p.Stage(h.Stage) == nil {
				continue
			}
			one := PlanHold{Code: h.Code, Until: h.Until, Outside: h.Outside, Stage: h.Stage, Says: h.Says}
			for _, caution := range safetyCautions {
				if h.Outside != "" && p.touches(h.Outside, caution) {
					one.Caution = caution
				}
			}
			p.Stages[i].Holds = append(p.Stages[i].Holds, one)
		}
	}
}

// safetyCautions are those whose holds no word lifts.
var safetyCautions = []catalogue.Caution{catalogue.CautionGas, catalogue.CautionMains}

// touches says whether outside work has a caution.
func (p *Plan) touches(outside string, caution catalogue.Caution) bool {
	w, _ := find(p.Outside, func(w *catalogue.OutsideWork) bool { return w.Code == outside })
	return slices.Contains(w.Caution, caution)
}

// Stage gives a stage of the plan; nil when it has none with that code.
func (p *Plan) Stage(code string) *PlanStage {
	for i := range p.Stages {
		if p.Stages[i].Code == code {
			return &p.Stages[i]
		}
	}
	return nil
}

// Hold gives a hold of the plan and the stage it is of.
func (p *Plan) Hold(code string) (PlanHold, string, bool) {
	for i := range p.Stages {
		for _, h := range p.Stages[i].Holds {
			if h.Code == code {
				return h, p.Stages[i].Code, true
			}
		}
	}
	return PlanHold{}, "", false
}
