package paper

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
)

// JobCard is what a job's card and pick list are made of: the sheet that is
// built, and what its plan says besides.
type JobCard struct {
	BuildSheet
	Plan *job.Plan
	// Issued says how much of a part was issued to a stage so far; nil for
	// nothing.
	Issued func(stage, part string) decimal.Decimal
}

// JobCardPDF writes the card that goes with a van, stage by stage: hours, what
// has to be tested first, parts to tick, and where to sign. There is no price on
// it.
func JobCardPDF(w io.Writer, c JobCard) error {
	s, err := newSheet(c.heading(), "Job card", "", c.Day)
	if err != nil {
		return err
	}
	p := jobCard{sheet: s, card: c}
	p.top()
	for i := range c.Plan.Stages {
		p.stage(&c.Plan.Stages[i])
	}
	p.atTheEnd()
	s.number(c.heading()+" · "+c.subject(), "", "Job card")
	return s.write(w)
}

// jobCard is a card being set.
type jobCard struct {
	*sheet
	card JobCard
}

const (
	tick   = 3.2 // side of a box, in mm
	beside = 6.0
)

// top sets which job and van it is, and what can hurt.
func (p *jobCard) top() {
	p.lines(title, left, p.wrapped(title, p.card.heading(), whole))
	p.paragraph(body, p.card.subject())
	p.space(2)
	for _, c := range p.card.Sheet.Cautions {
		p.paragraph(small, clean(c.Says))
		p.space(gap)
	}
}

// stage sets one stage; its head stays with what follows.
func (p *jobCard) stage(s *job.PlanStage) {
	p.space(5)
	p.keep(32)
	p.rule(p.y, 0.4, 0)
	p.y += 2
	total, k := bom.StageTotal{}, slices.IndexFunc(p.card.Sheet.Stages, func(t bom.StageTotal) bool { return t.Stage == s.Code })
	if k >= 0 {
		total = p.card.Sheet.Stages[k]
	}
	says := hours(total.Hours)
	if total.StandingHours.IsPositive() {
		says += ", then stands " + hours(total.StandingHours)
	}
	p.atRight(body, right, p.y+heading.ascent(), says)
	p.lines(heading, left, p.wrapped(heading, fmt.Sprintf("%d. %s", k+1, clean(s.Name)), whole-p.width(body, says)-5))
	p.trades(s)
	for i := range s.Holds {
		p.ticked(strong, holdWords(&s.Holds[i]))
	}
	for _, code := range s.Outside {
		p.ticked(body, "Comes to the van: "+p.outside(code))
	}
	for _, l := range p.card.picks() {
		if l.stageCode == s.Code {
			p.pick(l)
		}
	}
	p.sign()
}

func (p *jobCard) trades(s *job.PlanStage) {
	var list []string
	for _, h := range s.Hours {
		name := plain(h.Trade)
		for _, t := range p.card.Plan.Trades {
			if t.Code == h.Trade {
				name = clean(t.Name)
			}
		}
		list = append(list, name+" "+hours(h.Hours))
	}
	if len(list) > 0 {
		p.paragraph(small, strings.Join(list, " · "))
	}
	p.space(gap)
}

func (p *jobCard) outside(code string) string {
	if name, ok := outsideNames(p.card.Catalogue)[code]; ok {
		return name
	}
	return plain(code)
}

// holdWords tell what a stage waits for.
func holdWords(h *job.PlanHold) string {
	what := "tested"
	if h.Until == catalogue.UntilCertificate {
		what = "certified"
	}
	says := "Not before it is " + what + ": " + uncapital(clean(h.Says)) + "."
	if h.Caution != "" {
		says += " By who may sign for it; no word lifts it."
	}
	return says
}

// ticked sets a line with a box before it.
func (p *jobCard) ticked(t style, text string) {
	lines := p.wrapped(t, text, whole-beside)
	p.keep(float64(len(lines)) * t.leading())
	p.box(left, p.y+0.6, tick)
	p.lines(t, left+beside, lines)
	p.space(0.6)
}

// pick sets a part to take, its quantity at the right.
func (p *jobCard) pick(l pickLine) {
	says := l.quantity.String() + noBreak + l.unit
	lines := p.wrapped(body, l.name, whole-beside-40)
	p.keep(float64(len(lines)) * body.leading())
	p.box(left, p.y+0.6, tick)
	p.atRight(body, right, p.y+body.ascent(), says)
	p.lines(body, left+beside, lines)
	p.space(0.4)
}

// sign sets where a stage is signed.
func (p *jobCard) sign() {
	p.keep(11)
	p.y += 7
	x := left
	for _, f := range []struct {
		label string
		width float64
	}{{"Done on", 38}, {"by", 52}, {"looked at by", 46}} {
		p.at(label, x, p.y, f.label)
		x += p.width(label, f.label) + 2
		p.f.SetDrawColor(120, 120, 120)
		p.f.SetLineWidth(0.15)
		p.f.Line(x, p.y+0.8, min(x+f.width-8, right), p.y+0.8)
		x += f.width - 4
	}
	p.y += 3
}

// atTheEnd sets what the handover waits for.
func (p *jobCard) atTheEnd() {
	p.space(6)
	p.keep(30)
	p.rule(p.y, 0.4, 0)
	p.y += 2
	p.lines(heading, left, []string{"Before the handover"})
	for _, paper := range p.card.Plan.Papers {
		if paper.Due != catalogue.BeforeRegistration {
			p.ticked(body, clean(paper.Name))
		}
	}
	if p.card.Plan.Weigh {
		p.ticked(body, "Weighed, axle by axle, after the work")
	}
	for _, s := range p.card.Plan.Show {
		p.ticked(body, "Shown: "+uncapital(clean(s.Says)))
	}
	p.ticked(body, "Keys counted, papers given back, signed by both")
}
