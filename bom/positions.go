package bom

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// farthestMM is as far from anywhere as a place in a van can be.
const farthestMM = 20_000

// positions works out where everything sits in each base van, and readies the
// loads.
func (b *compiler) positions() {
	p := &b.r.sheet
	made := make([][3]*formula.Formula, len(b.c.Positions))
	for i := range b.c.Positions {
		c := &b.c.Positions[i]
		at := "positions/" + c.Code
		for k, f := range []struct{ field, source string }{
			{"from_front_axle_mm", c.FromFrontAxleMM}, {"right_of_centre_mm", c.RightOfCentreMM}, {"above_ground_mm", c.AboveGroundMM},
		} {
			if f.source != "" {
				made[i][k] = b.ofVan(at+"/"+f.field, f.source)
			}
		}
	}
	for i := range b.c.Loads {
		c := &b.c.Loads[i]
		at := "loads/" + c.Code + "/mass_kg"
		running, _ := amountOf(c.RunningOrderPercent.Shift(-2))
		p.loads = append(p.loads, load{index: i, at: at, mass: b.number(at, c.MassKG, "kg"), position: b.r.positionOf(c.Position), running: running})
	}
	for i := range b.c.Features {
		p.sits = append(p.sits, b.r.positionOf(b.sits(i)))
	}
	if len(b.faults) > 0 {
		return
	}
	for i := range b.c.BaseVans {
		p.vans[i].positions = b.positionsIn(&b.c.BaseVans[i], &p.vans[i], made)
	}
}

// sits is the position of a feature: its own, or its group's.
func (b *compiler) sits(feature int) string {
	own := b.c.Features[feature].Position
	if own == "" && b.r.groupOf[feature] >= 0 {
		return b.c.Groups[b.r.groupOf[feature]].Position
	}
	return own
}

// ofVan readies a formula that may read facts of the base van and nothing else.
func (b *compiler) ofVan(at, source string) *formula.Formula {
	f := b.number(at, source, "mm")
	if f == nil {
		return nil
	}
	facts := b.c.BaseVans[0].Facts // all base vans have the same
	for _, name := range f.Uses() {
		fact, ok := strings.CutPrefix(name, "van.")
		if _, known := facts.Get(fact); !ok || !known {
			b.fault("not_a_fact", at, fmt.Sprintf("A position reads facts of the base van and nothing else, and %s is none.", name),
				"Let it depend on lengths of the base van.")
			return nil
		}
	}
	return f
}

func (b *compiler) positionsIn(base *catalogue.BaseVan, v *vanProgram, made [][3]*formula.Formula) []position {
	values := b.r.scope.NewValues()
	for i := range v.facts {
		if f := &v.facts[i]; f.kind == catalogue.NumberFact {
			_ = values.SetNumber(f.slot, f.number) // the facts' own checks have told of what is too large
		} else if f.kind == catalogue.YesNoFact {
			values.SetTruth(f.slot, f.yes)
		} else {
			values.SetText(f.slot, f.text)
		}
	}
	wheelbase := base.Facts.Number("wheelbase_mm")
	list := []position{b.position("base_vans/"+base.Code+"/facts/"+catalogue.LoadFromFrontAxleMM, Where{FromFrontAxleMM: base.Facts.UnplacedMM()}, wheelbase)}
	for i := range made {
		at := "positions/" + b.c.Positions[i].Code
		var w Where
		var above decimal.Decimal
		for k, into := range []*decimal.Decimal{&w.FromFrontAxleMM, &w.RightOfCentreMM, &above} {
			if made[i][k] == nil {
				continue
			}
			mm, err := made[i][k].Number(values)
			if err != nil {
				b.fault("no_position", at, fmt.Sprintf("In base van %s it cannot be worked out: %v", base.Code, err), "Mend the formula, or the facts it reads.")
			}
			*into = mm.Round(figurePlaces)
			if k == 2 {
				w.AboveGroundMM = into
			}
		}
		list = append(list, b.position(at, w, wheelbase))
	}
	return list
}

func (b *compiler) position(at string, w Where, wheelbase decimal.Decimal) position {
	for _, mm := range []decimal.Decimal{w.FromFrontAxleMM, w.RightOfCentreMM} {
		if mm.Abs().GreaterThan(decimal.NewFromInt(farthestMM)) {
			b.fault("out_of_range", at, fmt.Sprintf("%s mm away is not in the van.", mm), fmt.Sprintf("Give a place within %d mm.", farthestMM))
		}
	}
	rear, ok := amountOf(w.FromFrontAxleMM.DivRound(wheelbase, amountPlaces))
	if !ok {
		b.fault("out_of_range", at, "It is too far from the front axle for the wheelbase.", "Look at both again.")
	}
	return position{rear: rear, where: w}
}

// listed readies what counts towards the class, and the papers.
func (b *compiler) listed() {
	p := &b.r.sheet
	for i := range b.c.ClassFeatures {
		c := &b.c.ClassFeatures[i]
		at := "class_features/" + c.Code
		p.classFeatures = append(p.classFeatures, conditional{at: at, when: b.when(at, c.When), holds: b.truth(at+"/holds", c.Holds)})
	}
	for i := range b.c.Evidence {
		c := &b.c.Evidence[i]
		at := "evidence/" + c.Code
		p.evidence = append(p.evidence, conditional{at: at, when: b.when(at, c.When)})
	}
}

func (b *compiler) when(at, source string) *formula.Formula {
	if source == "" {
		return nil
	}
	return b.truth(at+"/when", source)
}

// conditional is something that is looked at while when is true.
type conditional struct {
	at          string
	when, holds *formula.Formula
}

// applies says whether a condition is looked at.
func (e *expansion) applies(c *conditional) bool {
	return c.when == nil || e.truth(c.at+"/when", c.when)
}

func (e *expansion) truth(at string, f *formula.Formula) bool {
	yes, err := f.Truth(e.values)
	if err != nil {
		e.breaksBy(at, err)
	}
	return yes && err == nil
}

// classFeatures are those looked at, met or not.
func (e *expansion) classFeatures() []ClassFeature {
	var list []ClassFeature
	for i := range e.p.classFeatures {
		k := &e.p.classFeatures[i]
		if !e.applies(k) {
			continue
		}
		c := &e.r.catalogue.ClassFeatures[i]
		list = append(list, ClassFeature{Code: c.Code, Name: c.Name, List: c.List, Met: e.truth(k.at+"/holds", k.holds), Cites: c.Cites})
	}
	return list
}

// evidence are the papers that are due.
func (e *expansion) evidence() []EvidenceDue {
	var list []EvidenceDue
	for i := range e.p.evidence {
		if e.applies(&e.p.evidence[i]) {
			c := &e.r.catalogue.Evidence[i]
			list = append(list, EvidenceDue{Code: c.Code, Name: c.Name, By: c.By, Due: c.Due, Says: c.Says, Cites: c.Cites})
		}
	}
	return list
}
