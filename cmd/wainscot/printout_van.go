package main

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// What a van can bear, and what has to be shown for it.

func (p *printout) mass() {
	m := p.Sheet.Mass
	p.title("Mass in kg")
	g := grid{columns: []column{{}, {right: true}, {wraps: true}}}
	source := "as the base van is built"
	if m.Weighed {
		source = "from the weighbridge"
		if day := p.Resolution.Specification.Van.WeighedDay; day != "" {
			source += " on " + day
		}
	}
	g.add("plated", m.PlatedKG.StringFixed(1))
	g.add("the van before the work", "-"+m.UnladenKG.StringFixed(1), source)
	g.add("put in", "-"+m.AddedKG.StringFixed(1))
	g.add("taken out", m.RemovedKG.StringFixed(1))
	g.add("left", m.LeftKG.StringFixed(1), "for people, water, gas and luggage; weigh the finished van")
	p.set(g)
	p.axles(&m)
}

// axles sets what rests on each axle in each case, where anything is known of
// what the van carries.
func (p *printout) axles(m *bom.Mass) {
	if len(m.Loads) == 0 {
		return
	}
	fmt.Fprintln(p.out)
	g := grid{columns: []column{{title: "on the axles"}, {title: "front", right: true}, {title: "rear", right: true}, {title: "together", right: true}, {wraps: true}}}
	add := func(name string, a bom.Axles, together, note string) {
		g.add(name, a.FrontKG.StringFixed(1), a.RearKG.StringFixed(1), together, note)
	}
	whole := func(a bom.Axles) string { return a.TotalKG().StringFixed(1) }
	add("before the work", m.Before, whole(m.Before), "")
	unplaced := ""
	if m.UnplacedKG.IsPositive() {
		unplaced = m.UnplacedKG.StringFixed(1) + " kg of it have no position and count in the middle"
	}
	add("after it, empty", m.After, whole(m.After), unplaced)
	add("in running order", m.InRunningOrder, whole(m.InRunningOrder), "payload "+m.PlatedKG.Sub(m.InRunningOrder.TotalKG()).StringFixed(1))
	carried := make([]string, len(m.Loads))
	for i, l := range m.Loads {
		carried[i] = l.Name + " " + l.MassKG.String()
	}
	add("laden", m.Laden, whole(m.Laden), strings.Join(carried, ", "))
	add("the most there may be", m.Most, "", "with every load that bears on it and none that takes off it")
	add("plated", m.Plated, m.PlatedKG.StringFixed(1), over(m))
	p.set(g)
}

// over names what is beyond the plate.
func over(m *bom.Mass) string {
	var says []string
	for _, o := range []struct {
		name      string
		is, plate decimal.Decimal
	}{
		{"the front axle", m.Most.FrontKG, m.Plated.FrontKG}, {"the rear axle", m.Most.RearKG, m.Plated.RearKG}, {"the whole van", m.Laden.TotalKG(), m.PlatedKG},
	} {
		if beyond := o.is.Sub(o.plate); beyond.IsPositive() {
			says = append(says, o.name+" by "+beyond.StringFixed(1))
		}
	}
	if len(says) == 0 {
		return ""
	}
	return "OVER: " + strings.Join(says, ", ")
}

func (p *printout) checks() {
	p.title("Checks")
	g := grid{columns: []column{{title: "check"}, {title: "grade"}, {title: "is", right: true}, {}, {title: "limit", right: true}, {}, {title: "answer", wraps: true}}}
	for i := range p.Sheet.Checks {
		c := &p.Sheet.Checks[i]
		g.add(c.Name, string(c.Grade), grouped(c.Figure.String()), string(c.Sense), grouped(c.Limit.String()), formula.UnitWords(c.Unit), verdict(c))
	}
	p.set(g)
	for _, b := range p.Sheet.Broken {
		p.say(fmt.Sprintf("Could not be worked out, %s: %s", b.At, b.Reason))
	}
}

// verdict is how a check stands, and whether what was said to it holds. What
// was said stays inside.
func verdict(c *bom.CheckResult) string {
	switch {
	case c.Near:
		return "met, near the limit"
	case c.Met:
		return "met"
	}
	says := strings.TrimSpace("NOT MET. " + c.Says + " " + c.Remedy)
	switch {
	case c.Answer == nil:
	case !c.Answered:
		says += " The answer holds up to " + grouped(c.Answer.Limit.String()) + " only."
	case c.Answer.Kind == bom.ByEvidence:
		says += " Answered by evidence."
	default:
		says += " The owner goes on."
	}
	return says
}

func (p *printout) evidence() {
	if len(p.Sheet.Evidence) == 0 {
		return
	}
	p.title("Papers that others have to give")
	for _, e := range p.Sheet.Evidence {
		p.say("- " + e.Name + ". " + paper.EvidenceWords(e))
	}
}

func (p *printout) class() {
	if len(p.Sheet.ClassFeatures) == 0 {
		return
	}
	p.title("What counts towards the van's class")
	for _, l := range []struct {
		list catalogue.ClassList
		name string
	}{{catalogue.InsideFeatures, "inside"}, {catalogue.OutsideAppearance, "outside"}} {
		g := grid{columns: []column{{title: l.name}, {}}}
		for _, f := range p.Sheet.ClassFeatures {
			if f.List != l.list {
				continue
			}
			met := "not met"
			if f.Met {
				met = "met"
			}
			g.add(f.Name, met)
		}
		if len(g.rows) > 0 {
			p.set(g)
		}
	}
	p.say("The authority that registers the van decides in which class. Nothing here promises it.")
}
