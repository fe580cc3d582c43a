package paper

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
	"wainscot/pricing/quote"
)

// Remark is something the customer must know of one figure.
type Remark struct{ Name, Says string }

// Remarks are what the customer must know of the figures of a van that was
// offered, as on its paper.
func Remarks(v *quote.Van) []Remark {
	var list []Remark
	for _, r := range remarks(v, false) {
		list = append(list, Remark(r))
	}
	return list
}

// remarks are what the customer must know of the figures that are not met or
// near their limits, and of a draft what is not decided. What the workshop says
// to a check stays inside; that there is evidence does not.
func remarks(v *quote.Van, draft bool) []pair {
	var list []pair
	for _, c := range v.Sheet.Checks {
		switch {
		case c.Near:
			list = append(list, pair{clean(c.Name), fmt.Sprintf("Near the limit: %s, and it may be %s %s.", measured(c.Figure, c.Unit), clean(string(c.Sense)), measured(c.Limit, c.Unit))})
		case c.Met:
		case c.Answered && c.Answer.Kind == bom.ByEvidence:
			says := "The workshop has evidence that it may be so"
			if c.Answer.Day != "" {
				says += ", of " + day(c.Answer.Day)
			}
			list = append(list, pair{clean(c.Name), clean(c.Says) + " " + says + "; ask to see it."})
		default:
			list = append(list, pair{clean(c.Name), strings.TrimSpace(clean(c.Says) + " " + clean(c.Remedy))})
		}
	}
	if !draft {
		return list
	}
	for _, n := range v.NotReady {
		switch n.Code {
		case bom.NotAllowed, bom.NotSettled, bom.NoVan:
			list = append(list, pair{"Not decided", clean(n.Says)})
		}
	}
	for _, g := range v.Priced.Gaps {
		if !g.Inside {
			list = append(list, pair{"No whole price yet", clean(g.Says)})
		}
	}
	return list
}

// measured is a figure with its unit.
func measured(d decimal.Decimal, unit string) string {
	words := grouped(d.String())
	if u := clean(formula.UnitWords(unit)); u != "" {
		words += noBreak + u
	}
	return words
}

// weight says what the van may still carry.
func weight(v *quote.Van) string {
	if v.Specification.Van.None {
		return ""
	}
	m := v.Sheet.Mass
	before := "as the base van is built"
	if m.Weighed {
		before = "from the weighbridge"
		if d := v.Specification.Van.WeighedDay; d != "" {
			before += " on " + day(d)
		}
	}
	left := fmt.Sprintf("%s kg are then left for people, water, gas and luggage", m.LeftKG.StringFixed(0))
	if m.LeftKG.Sign() < 0 {
		left = fmt.Sprintf("that is %s kg more than it may weigh", m.LeftKG.Neg().StringFixed(0))
	}
	off := ""
	if m.RemovedKG.IsPositive() {
		off = fmt.Sprintf(" and takes off %s kg", grouped(m.RemovedKG.StringFixed(0)))
	}
	return fmt.Sprintf("The van may weigh %s kg. It weighs %s kg before the work (%s); the work adds %s kg%s; %s.",
		grouped(m.PlatedKG.StringFixed(0)), grouped(m.UnladenKG.StringFixed(0)), before, grouped(m.AddedKG.StringFixed(0)), off, left)
}

// axleWords say what rests on each axle, case by case, and what is left of the
// plated mass in running order. Nothing where no loads are known: then the
// cases are one, and the weight has been told.
func axleWords(v *quote.Van) []pair {
	m := &v.Sheet.Mass
	if v.Specification.Van.None || len(m.Loads) == 0 || !m.Plated.FrontKG.IsPositive() {
		return nil
	}
	list := []pair{
		{"Front axle", axleSays(m, func(a bom.Axles) decimal.Decimal { return a.FrontKG })},
		{"Rear axle", axleSays(m, func(a bom.Axles) decimal.Decimal { return a.RearKG })},
	}
	running := m.InRunningOrder.TotalKG()
	list = append(list, pair{"In running order", kg(running) + "; " + upTo(m.PlatedKG.Sub(running), "of payload are left", "more than the van may weigh")})
	carried := make([]string, 0, len(m.Loads))
	for i := range m.Loads {
		carried = append(carried, uncapital(clean(m.Loads[i].Name))+" "+kg(m.Loads[i].MassKG))
	}
	laden := m.Laden.TotalKG()
	return append(list,
		pair{"Laden", kg(laden) + " with " + listed(carried) + "; " + upTo(m.PlatedKG.Sub(laden), "are left", "more than the van may weigh")},
		pair{"How sure", vanCaution})
}

// axleSays is what one axle may bear and bears.
func axleSays(m *bom.Mass, of func(bom.Axles) decimal.Decimal) string {
	plated, most := of(m.Plated), of(m.Most)
	return fmt.Sprintf("may bear %s; bears %s empty, %s in running order, %s laden, and %s at the worst; %s",
		kg(plated), kg(of(m.After)), kg(of(m.InRunningOrder)), kg(of(m.Laden)), kg(most), upTo(plated.Sub(most), "are left", "more than it may bear"))
}

// upTo says how much is left, or how much is too much.
func upTo(left decimal.Decimal, says, over string) string {
	if left.IsNegative() {
		return "that is " + kg(left.Neg()) + " " + over
	}
	return kg(left) + " " + says
}

// evidence is what others have to give, by whom and when.
func evidence(v *quote.Van) []pair {
	var list []pair
	for i := range v.Sheet.Evidence {
		e := &v.Sheet.Evidence[i]
		list = append(list, pair{clean(e.Name), clean(EvidenceWords(*e))})
	}
	return list
}

// EvidenceWords say who gives a paper, when it must be there, and why.
func EvidenceWords(e bom.EvidenceDue) string {
	by := strings.TrimRight(uncapital(e.By), ". ")
	return strings.TrimSpace("From " + by + ", " + dueBefore(e.Due) + ". " + e.Says)
}

// dueBefore says when a paper must be there.
func dueBefore(d catalogue.Due) string {
	switch d {
	case catalogue.BeforeWork:
		return "before the work begins"
	case catalogue.BeforeHandover:
		return "before handover"
	case catalogue.BeforeRegistration:
		return "before the van is registered as converted"
	}
	return "before " + plain(string(d))
}

// classNote goes with every list of class features.
const classNote = "The authority that registers the van decides in which class, by its own judgement of these and other features. Nothing here promises it."

// classLists are what counts towards the van's class, each published list by
// itself.
func classLists(v *quote.Van) []classList {
	var lists []classList
	for _, l := range []struct {
		list    catalogue.ClassList
		heading string
	}{{catalogue.InsideFeatures, "Inside the van"}, {catalogue.OutsideAppearance, "Its outside appearance"}} {
		one := classList{Heading: l.heading}
		for i := range v.Sheet.ClassFeatures {
			f := &v.Sheet.ClassFeatures[i]
			switch {
			case f.List != l.list:
			case f.Met:
				one.Met = append(one.Met, clean(f.Name))
			default:
				one.NotMet = append(one.NotMet, clean(f.Name))
			}
		}
		if len(one.Met)+len(one.NotMet) > 0 {
			lists = append(lists, one)
		}
	}
	return lists
}

// Rows are a list's features, each with whether the van has it.
func (c classList) Rows() []string {
	rows := make([]string, 0, len(c.Met)+len(c.NotMet))
	for _, name := range c.Met {
		rows = append(rows, name+": met")
	}
	for _, name := range c.NotMet {
		rows = append(rows, name+": not met")
	}
	return rows
}
