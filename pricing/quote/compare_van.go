package quote

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
)

// vanCompared is one van in two revisions.
type vanCompared struct {
	*comparing
	a, b           *Van
	askedA, askedB *AskedVan
	// worth of each code before and after, by what its lines are about.
	wasWorth, isWorth map[about]int64
	changes           []change
}

// about is what lines of a price are about.
type about struct {
	what lineClass
	code string
}

type lineClass uint8

const (
	ofPackage lineClass = iota + 1
	ofFeature           // with what stands in a package, is left out of it or swapped
	ofFinish
	ofRemoval
	ofAddition
	ofDiscount
	ofPromise
)

// classes says what the lines of each kind are about.
var classes = map[pricing.LineKind]lineClass{
	pricing.PackageLine: ofPackage, pricing.InPackageLine: ofFeature, pricing.LeftOutLine: ofFeature,
	pricing.SwapLine: ofFeature, pricing.FeatureLine: ofFeature, pricing.IncludedLine: ofFeature,
	pricing.FinishLine: ofFinish, pricing.RemovalLine: ofRemoval,
	pricing.OneOffLine: ofAddition, pricing.OwnPartLine: ofAddition,
	pricing.DiscountLine: ofDiscount, pricing.PromiseLine: ofPromise,
}

func (t *comparing) worths(v *Van) map[about]int64 {
	m := make(map[about]int64, len(v.Priced.Lines))
	for i := range v.Priced.Lines {
		l := &v.Priced.Lines[i]
		key := about{classes[l.Kind], l.Code}
		if key.what == ofFinish {
			key.code, _, _ = strings.Cut(l.Code, "/")
		}
		m[key] += t.worth(l)
	}
	return m
}

func (t *comparing) sameVan(k, i int) {
	v := &vanCompared{comparing: t, a: &t.a.Vans[k], b: &t.b.Vans[i], askedA: &t.a.Asked.Vans[k], askedB: &t.b.Asked.Vans[i]}
	v.wasWorth, v.isWorth = t.worths(v.a), t.worths(v.b)
	wasOff, isOff := v.worthOf(ofDiscount, "")
	t.offWas, t.offIs = t.offWas+wasOff, t.offIs+isOff
	before := len(t.out.Sentences)
	v.facts()
	v.pack()
	v.features()
	v.removals()
	v.finishes()
	v.additions()
	v.extras()
	v.promise()
	v.untouched()
	if len(t.b.Vans) > 1 && len(t.out.Sentences) > before {
		was, is := t.comesTo(&v.a.Priced.Totals), t.comesTo(&v.b.Priced.Totals)
		var s *Sentence
		if was == is {
			s = t.say(AboutTotal, "", "The van stays at %s %s.", said(t.amount(is)), t.with())
		} else {
			s = t.say(AboutTotal, "", "The van now comes to %s %s, %s than before.", said(t.amount(is)), t.with(), t.moreOrLess(is-was))
		}
		t.figures(s, was, is)
		t.mass(v.a, v.b)
	}
}

// worthOf is what code's lines came to and come to; it is told once.
func (v *vanCompared) worthOf(what lineClass, code string) (was, is int64) {
	key := about{what, code}
	was, is = v.wasWorth[key], v.isWorth[key]
	delete(v.wasWorth, key)
	delete(v.isWorth, key)
	return was, is
}

func (v *vanCompared) facts() {
	was, is := v.a.Specification.Van, v.b.Specification.Van
	if was.BaseVan != is.BaseVan {
		v.say(AboutVan, is.BaseVan, "It is now for a %s in place of a %s.", v.baseVan(v.b), v.baseVan(v.a))
	}
	for _, p := range is.Particulars {
		old := slices.IndexFunc(was.Particulars, func(q bom.ParticularValue) bool { return q.Name == p.Name })
		if old < 0 || was.Particulars[old].Value != p.Value {
			v.say(AboutVan, "", "The van's %s: %s.", spaced(p.Name), spaced(p.Value))
		}
	}
	v.ticket(&was, &is)
	v.plate(&was, &is)
}

// ticket tells of a weighbridge ticket that is new, or another.
func (v *vanCompared) ticket(was, is *bom.Van) {
	had, has := was.WeighedFrontKG != nil, is.WeighedFrontKG != nil
	switch {
	case has && !had:
		v.say(AboutVan, "", "The van has been weighed.")
	case had && !has:
		v.say(AboutVan, "", "What the van weighs is reckoned again, and not from a weighbridge ticket.")
	case has && !sameTicket(was, is):
		v.say(AboutVan, "", "The van has been weighed anew, or the ticket was read again.")
	}
}

func sameTicket(a, b *bom.Van) bool {
	return sameKG(a.WeighedFrontKG, b.WeighedFrontKG) && sameKG(a.WeighedRearKG, b.WeighedRearKG) && a.WeighedDay == b.WeighedDay &&
		a.WeighedPeopleCount == b.WeighedPeopleCount && fuelPercent(a) == fuelPercent(b)
}

// fuelPercent is how full the tank was: 90 where nobody said.
func fuelPercent(v *bom.Van) int {
	if v.WeighedFuelPercent == nil {
		return 90
	}
	return *v.WeighedFuelPercent
}

func sameKG(a, b *decimal.Decimal) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Equal(*b)
}

// plate tells of masses read off the van's plate.
func (v *vanCompared) plate(was, is *bom.Van) {
	for _, p := range []struct {
		what    string
		was, is *decimal.Decimal
	}{
		{"the whole van", was.PlatedKG, is.PlatedKG}, {"the front axle", was.PlatedFrontKG, is.PlatedFrontKG}, {"the rear axle", was.PlatedRearKG, is.PlatedRearKG},
	} {
		switch {
		case sameKG(p.was, p.is):
		case p.is == nil:
			v.say(AboutVan, "", "The plated mass of %s is taken from the base van again, not from this van's plate.", p.what)
		default:
			v.say(AboutVan, "", "By its plate, %s may weigh %s kg.", p.what, p.is)
		}
	}
}

func spaced(code string) string { return strings.ReplaceAll(code, "_", " ") }

func (v *vanCompared) pack() {
	old, code := v.a.Specification.Package, v.b.Specification.Package
	if old == code {
		return
	}
	was, _ := v.worthOf(ofPackage, old)
	_, is := v.worthOf(ofPackage, code)
	name := func(lines []pricing.Line) string {
		for i := range lines {
			if lines[i].Kind == pricing.PackageLine {
				return lines[i].Words
			}
		}
		return ""
	}
	var s *Sentence
	switch {
	case code == "":
		s = v.say(AboutPackage, old, "The package %s is given up, which was %s; what stays of it is charged singly.", name(v.a.Priced.Lines), said(v.amount(was)))
	case old == "":
		s = v.say(AboutPackage, code, "The package %s is taken, %s.", name(v.b.Priced.Lines), said(v.amount(is)))
	default:
		s = v.say(AboutPackage, code, "The package is now %s in place of %s, %s in place of %s.", name(v.b.Priced.Lines), name(v.a.Priced.Lines), said(v.amount(is)), said(v.amount(was)))
	}
	v.figures(s, was, is)
}

// change is one feature that is not as it was.
type change struct {
	was, is *bom.SpecifiedFeature // nil: not there
	instead *bom.SpecifiedFeature // taken out for is
	// follows: it was not chosen, and came or went with what was.
	follows bool
}

func (c *change) code() string {
	if c.is != nil {
		return c.is.Code
	}
	return c.was.Code
}

func (v *vanCompared) features() {
	v.collect()
	v.pairSwaps()
	v.inPackage()
	led := 0
	for _, c := range v.changes {
		if !c.follows {
			led++
		}
	}
	one := led == 1 && v.a.Specification.Package == v.b.Specification.Package
	order := func(c *change) int {
		switch {
		case c.follows:
			return 4
		case c.instead != nil:
			return 0
		case c.was == nil:
			return 1
		case c.is == nil:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(v.changes, func(a, b change) int { return cmp.Compare(order(&a), order(&b)) })
	for i := range v.changes {
		c := &v.changes[i]
		switch {
		case !c.follows:
			s, was, is := v.tell(c)
			if one {
				was, is = v.tellFollowers(s, was, is)
			}
			v.figures(s, was, is)
		case !one:
			s, was, is := v.tell(c)
			v.figures(s, was, is)
		}
	}
}

// collect finds the features that are not as they were.
func (v *vanCompared) collect() {
	chosen := func(f *bom.SpecifiedFeature) bool { return f.Standing != "comes with it" || f.Settled }
	was, is := v.a.Specification.Features, v.b.Specification.Features
	for _, p := range pairs(was, is, func(f *bom.SpecifiedFeature) string { return f.Code }) {
		switch {
		case p.is < 0:
			v.changes = append(v.changes, change{was: &was[p.was], follows: !chosen(&was[p.was])})
		case p.was < 0:
			v.changes = append(v.changes, change{is: &is[p.is], follows: !chosen(&is[p.is])})
		case was[p.was].Count != is[p.is].Count || was[p.was].Fit != is[p.is].Fit:
			v.changes = append(v.changes, change{was: &was[p.was], is: &is[p.is], follows: !chosen(&is[p.is])})
		}
	}
}

// pairSwaps puts what was taken out and what was added in its place, of a
// group of which only one can be had, into one change.
func (v *vanCompared) pairSwaps() {
	if v.catalogue == nil {
		return
	}
	one := make(map[string]bool, len(v.catalogue.Groups))
	for i := range v.catalogue.Groups {
		one[v.catalogue.Groups[i].Code] = v.catalogue.Groups[i].Pick != catalogue.AnyNumber
	}
	group := make(map[string]string, len(v.catalogue.Features))
	for i := range v.catalogue.Features {
		if f := &v.catalogue.Features[i]; one[f.Group] {
			group[f.Code] = f.Group
		}
	}
	for i := range v.changes {
		added := &v.changes[i]
		if added.was != nil || added.is == nil || group[added.is.Code] == "" {
			continue
		}
		k := slices.IndexFunc(v.changes, func(c change) bool {
			return c.is == nil && c.was != nil && c.instead == nil && group[c.was.Code] == group[added.is.Code]
		})
		if k >= 0 {
			added.instead = v.changes[k].was
			added.follows = added.follows && v.changes[k].follows
			v.changes[k].was = nil
		}
	}
	v.changes = slices.DeleteFunc(v.changes, func(c change) bool { return c.was == nil && c.is == nil })
}

// inPackage tells what a package that is new, or given up, does to the price of
// the single things.
func (v *vanCompared) inPackage() {
	if v.a.Specification.Package == v.b.Specification.Package {
		return
	}
	v.together("In it, and not there before: %s.", func(was, is *bom.SpecifiedFeature) bool { return was == nil && is.InPackage })
	v.together("In its price now, and charged singly before: %s.", func(was, is *bom.SpecifiedFeature) bool {
		return was != nil && was.Count == is.Count && !was.InPackage && is.InPackage
	})
	v.together("Charged singly now: %s.", func(was, is *bom.SpecifiedFeature) bool {
		return was != nil && was.Count == is.Count && was.InPackage && !is.InPackage
	})
}

// namedAtMost is how many things one sentence names before it counts the rest.
const namedAtMost = 8

// together tells in one sentence of all features that are there now and of
// which such holds.
func (v *vanCompared) together(format string, such func(was, is *bom.SpecifiedFeature) bool) {
	type named struct {
		name string
		by   int64
	}
	var list []named
	var was, is int64
	for i := range v.b.Specification.Features {
		f := &v.b.Specification.Features[i]
		swapped := slices.ContainsFunc(v.changes, func(c change) bool { return c.is == f && c.instead != nil })
		if swapped || !such(featureOf(&v.a.Specification, f.Code), f) {
			continue
		}
		before, after := v.worthOf(ofFeature, f.Code)
		list = append(list, named{lowered(numbered(f.Name, f.Count)), size(after - before)})
		was, is = was+before, is+after
		v.changes = slices.DeleteFunc(v.changes, func(c change) bool { return c.is == f })
	}
	if len(list) == 0 {
		return
	}
	slices.SortStableFunc(list, func(a, b named) int { return cmp.Compare(b.by, a.by) })
	names := make([]string, len(list))
	for i := range list {
		names[i] = list[i].name
	}
	if more := len(names) - namedAtMost; more > 1 {
		names = append(names[:namedAtMost:namedAtMost], fmt.Sprintf("%d more things", more))
	}
	if was != is {
		names[len(names)-1] += ", together " + v.moreOrLess(is-was)
	}
	s := v.say(AboutPackage, v.b.Specification.Package, format, listed(names))
	v.figures(s, was, is)
}

// tell says one change, and gives what it cost and costs.
func (v *vanCompared) tell(c *change) (s *Sentence, was, is int64) {
	switch {
	case c.instead != nil:
		was, is = v.worthOf(ofFeature, c.is.Code)
		was2, is2 := v.worthOf(ofFeature, c.instead.Code)
		was, is = was+was2, is+is2
		s = v.say(AboutSwapped, c.is.Code, "%s in place of %s, %s.", numbered(c.is.Name, c.is.Count), lowered(numbered(c.instead.Name, c.instead.Count)), v.change(is-was))
	case c.was == nil:
		was, is = v.worthOf(ofFeature, c.is.Code)
		if c.follows {
			s = v.say(AboutAdded, c.is.Code, "Also %s, %s. %s", lowered(numbered(c.is.Name, c.is.Count)), v.priceOf(is-was), c.is.Why)
		} else {
			s = v.say(AboutAdded, c.is.Code, "Added: %s, %s.", numbered(c.is.Name, c.is.Count), v.priceOf(is-was))
		}
	case c.is == nil:
		was, is = v.worthOf(ofFeature, c.was.Code)
		name := numbered(c.was.Name, c.was.Count)
		switch {
		case c.follows && was == is:
			s = v.say(AboutTakenOut, c.was.Code, "No longer needed: %s.", lowered(name))
		case c.follows:
			s = v.say(AboutTakenOut, c.was.Code, "No longer needed: %s, %s.", lowered(name), v.change(is-was))
		default:
			s = v.say(AboutTakenOut, c.was.Code, "Taken out: %s, %s.", name, v.change(is-was))
		}
	case c.was.Count == c.is.Count:
		was, is = v.worthOf(ofFeature, c.is.Code)
		switch {
		case c.was.Fit == 0 && c.is.Fit == c.is.Count:
			s = v.say(AboutNumber, c.is.Code, "%s: new, where the van's own was kept before; %s.", c.is.Name, v.change(is-was))
		case c.is.Fit == 0:
			s = v.say(AboutNumber, c.is.Code, "%s: the van's own is kept, where it was to be new before; %s.", c.is.Name, v.change(is-was))
		default:
			s = v.say(AboutNumber, c.is.Code, "%s: %d of %d new in place of %d; %s.", c.is.Name, c.is.Fit, c.is.Count, c.was.Fit, v.change(is-was))
		}
	default:
		was, is = v.worthOf(ofFeature, c.is.Code)
		s = v.say(AboutNumber, c.is.Code, "%s: %d in place of %d, %s.", c.is.Name, c.is.Count, c.was.Count, v.change(is-was))
	}
	return s, was, is
}

// tellFollowers adds to the one thing that was changed what comes and goes with
// it.
func (v *vanCompared) tellFollowers(s *Sentence, was, is int64) (int64, int64) {
	var come, leave []string
	for i := range v.changes {
		c := &v.changes[i]
		if !c.follows {
			continue
		}
		wasOne, isOne := v.worthOf(ofFeature, c.code())
		if c.instead != nil {
			w, n := v.worthOf(ofFeature, c.instead.Code)
			wasOne, isOne = wasOne+w, isOne+n
		}
		was, is = was+wasOne, is+isOne
		price := ""
		if isOne != wasOne {
			price = " (" + v.moreOrLess(isOne-wasOne) + ")"
		}
		switch {
		case c.instead != nil:
			come = append(come, lowered(numbered(c.is.Name, c.is.Count))+" in place of "+lowered(c.instead.Name)+price)
		case c.was == nil:
			come = append(come, lowered(numbered(c.is.Name, c.is.Count))+price)
		case c.is == nil:
			leave = append(leave, lowered(numbered(c.was.Name, c.was.Count))+price)
		default:
			come = append(come, fmt.Sprintf("%d in place of %d of %s%s", c.is.Count, c.was.Count, lowered(c.is.Name), price))
		}
	}
	if len(come) > 0 {
		s.Says += " With it " + comes(len(come)) + " " + listed(come) + "."
	}
	if len(leave) > 0 {
		s.Says += " No longer needed: " + listed(leave) + "."
	}
	return was, is
}

// removals tells what is taken out of the van as it is.
func (v *vanCompared) removals() {
	key := func(r *bom.RemovedFeature) string { return fmt.Sprint(r.Code, r.Replaced) }
	was, is := v.a.Specification.Removed, v.b.Specification.Removed
	for _, p := range pairs(was, is, key) {
		if p.was >= 0 && p.is >= 0 && was[p.was].Count == is[p.is].Count {
			continue
		}
		r, says := either(pair{p.is, p.was}, is, was), "Taken out of the van: %s, %s."
		if p.is < 0 {
			says = "No longer taken out of the van: %s, %s."
		}
		before, after := v.worthOf(ofRemoval, r.Code)
		s := v.say(AboutVan, r.Code, says, lowered(numbered(r.Name, r.Count)), v.change(after-before))
		v.figures(s, before, after)
	}
}

func (v *vanCompared) finishes() {
	was, is := v.a.Specification.Finishes, v.b.Specification.Finishes
	for _, p := range pairs(was, is, func(f *bom.SpecifiedFinish) string { return f.Finish }) {
		var old, now bom.SpecifiedFinish
		if p.was >= 0 {
			old = was[p.was]
		}
		if p.is >= 0 {
			now = is[p.is]
		}
		if old.Choice == now.Choice {
			continue // open, and perhaps only new: the features say why
		}
		code := cmp.Or(old.Finish, now.Finish)
		before, after := v.worthOf(ofFinish, code)
		name, oldChoice := finishWords(&v.a.Priced, old)
		nowName, nowChoice := finishWords(&v.b.Priced, now)
		name = cmp.Or(nowName, name, spaced(code))
		var s *Sentence
		switch {
		case old.Choice == "":
			s = v.say(AboutFinish, code, "%s is chosen: %s, %s.", name, lowered(nowChoice), v.priceOf(after-before))
		case now.Choice == "" && p.is >= 0:
			s = v.say(AboutFinish, code, "%s is open again; it was %s, %s.", name, lowered(oldChoice), v.change(after-before))
		case now.Choice == "":
			s = v.say(AboutFinish, code, "No %s is needed any more, %s.", lowered(name), v.change(after-before))
		default:
			s = v.say(AboutFinish, code, "%s: %s in place of %s, %s.", name, lowered(nowChoice), lowered(oldChoice), v.change(after-before))
		}
		v.figures(s, before, after)
	}
}

// finishWords are the names of a finish and of its choice as they are printed.
func finishWords(p *pricing.Priced, f bom.SpecifiedFinish) (name, choice string) {
	for i := range p.Lines {
		if l := &p.Lines[i]; l.Kind == pricing.FinishLine && l.Code == f.Finish+"/"+f.Choice {
			name, choice, _ = strings.Cut(l.Words, ": ")
			return name, choice
		}
	}
	return "", spaced(f.Choice)
}

func (v *vanCompared) additions() {
	was, is := v.askedA.Choices.Additions, v.askedB.Choices.Additions
	for _, p := range pairs(was, is, func(a *bom.Addition) string { return a.Code }) {
		switch {
		case p.is < 0:
			before, after := v.worthOf(ofAddition, was[p.was].Code)
			s := v.say(AboutAddition, was[p.was].Code, "Taken out: %s, %s.", unstopped(was[p.was].Words), v.change(after-before))
			v.figures(s, before, after)
		case p.was < 0:
			before, after := v.worthOf(ofAddition, is[p.is].Code)
			format := "Added: %s, %s."
			if is[p.is].Kind == bom.CustomersOwn {
				format = "Added, brought by the customer: %s, fitting %s."
			}
			s := v.say(AboutAddition, is[p.is].Code, format, unstopped(is[p.is].Words), v.priceOf(after-before))
			v.figures(s, before, after)
		default:
			v.addition(&was[p.was], &is[p.is])
		}
	}
}

func (v *vanCompared) addition(was, is *bom.Addition) {
	key := about{ofAddition, is.Code}
	words, price := was.Words != is.Words, v.wasWorth[key] != v.isWorth[key]
	work := max(was.Quantity, 1) != max(is.Quantity, 1) || !was.MassKG.Equal(is.MassKG) || was.Stage != is.Stage ||
		was.InPlaceOf != is.InPlaceOf || was.DueBy != is.DueBy || !slices.EqualFunc(was.Hours, is.Hours, func(a, b bom.AdditionHours) bool {
		return a.Trade == b.Trade && a.Hours.Equal(b.Hours)
	})
	if !words && !price && !work {
		if is.Approved && !was.Approved {
			v.say(AboutAddition, is.Code, "The foreman has said yes to: %s.", unstopped(is.Words))
		}
		return
	}
	before, after := v.worthOf(ofAddition, is.Code)
	var s *Sentence
	switch {
	case words:
		s = v.say(AboutAddition, is.Code, "“%s” is now “%s”, %s.", unstopped(was.Words), unstopped(is.Words), v.change(after-before))
	case price:
		s = v.say(AboutAddition, is.Code, "%s: %s in place of %s.", unstopped(is.Words), said(v.amount(after)), said(v.amount(before)))
	default:
		s = v.say(AboutAddition, is.Code, "%s is done otherwise, %s.", unstopped(is.Words), v.change(after-before))
	}
	v.figures(s, before, after)
}

// extras tells what is offered beside the total. It has no figures of its own:
// what is not ticked is in no total.
func (v *vanCompared) extras() {
	took := func(code string) bool {
		return slices.ContainsFunc(v.askedB.Ticked, func(x TickedExtra) bool { return x.Feature == code })
	}
	was, is := v.a.Extras, v.b.Extras
	for _, p := range pairs(was, is, func(e *Extra) string { return e.Code }) {
		switch {
		case p.was < 0:
			v.say(AboutExtra, is[p.is].Code, "Offered beside the price: %s, %s with VAT.", is[p.is].Words, said(is[p.is].Gross))
		case p.is < 0 && !took(was[p.was].Code):
			v.say(AboutExtra, was[p.was].Code, "No longer offered beside the price: %s.", lowered(was[p.was].Words))
		case p.is >= 0 && was[p.was].Gross != is[p.is].Gross:
			v.say(AboutExtra, is[p.is].Code, "The extra %s is now %s with VAT, in place of %s.", lowered(is[p.is].Words), said(is[p.is].Gross), said(was[p.was].Gross))
		}
	}
}

// promise tells what is taken off so that ticked extras cost what they were
// offered at.
func (v *vanCompared) promise() {
	was, is := v.worthOf(ofPromise, "")
	if was != is {
		s := v.say(AboutTerms, "promise", "So that extras cost what they were offered at, %s is taken off.", said(v.amount(-is)))
		v.figures(s, was, is)
	}
}
