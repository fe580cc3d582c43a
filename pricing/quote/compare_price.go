package quote

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/formula"
	"wainscot/pricing"
)

// toldSingly is how many prices that changed by themselves are told one by one;
// more are told as one, with the largest of them named.
const toldSingly = 3

// onlyRounded is by how much, in minor units, a price may differ between two
// bases and still be the same price.
const onlyRounded = 2

// shift is the price of something nobody touched that is not what it was.
type shift struct {
	about
	words   string
	was, is int64
}

// untouched tells what costs otherwise although nothing was changed about it:
// all that no sentence has taken yet.
func (v *vanCompared) untouched() {
	var list []shift
	seen := map[about]bool{}
	for _, lines := range [][]pricing.Line{v.b.Priced.Lines, v.a.Priced.Lines} {
		for i := range lines {
			l := &lines[i]
			key := about{classes[l.Kind], l.Code}
			if key.what == ofFinish {
				key.code, _, _ = strings.Cut(l.Code, "/")
			}
			was, is := v.wasWorth[key], v.isWorth[key]
			if seen[key] || was == is {
				continue
			}
			seen[key] = true
			if !v.sameBasis && size(is-was) <= onlyRounded {
				v.roundedWas, v.roundedIs = v.roundedWas+was, v.roundedIs+is
				continue
			}
			list = append(list, shift{key, l.Words, was, is})
		}
	}
	if len(list) == 0 {
		return
	}
	because := v.because()
	if len(list) <= toldSingly {
		for _, x := range list {
			var s *Sentence
			if x.is <= 0 {
				s = v.say(AboutPrice, x.code, "%s: %s than before%s.", x.words, v.moreOrLess(x.is-x.was), because)
			} else {
				s = v.say(AboutPrice, x.code, "%s costs %s, %s than before%s.", x.words, said(v.amount(x.is)), v.moreOrLess(x.is-x.was), because)
			}
			v.figures(s, x.was, x.is)
		}
		return
	}
	var was, is int64
	for _, x := range list {
		was, is = was+x.was, is+x.is
	}
	slices.SortStableFunc(list, func(a, b shift) int { return cmp.Compare(size(b.is-b.was), size(a.is-a.was)) })
	most := make([]string, 0, toldSingly)
	for _, x := range list[:toldSingly] {
		most = append(most, fmt.Sprintf("%s (%s)", lowered(x.words), v.moreOrLess(x.is-x.was)))
	}
	together := "the same together as before"
	if was != is {
		together = v.moreOrLess(is-was) + " together than before"
	}
	s := v.say(AboutPrice, "", "%s %s%s: most of all %s.", things(len(list)), together, because, listed(most))
	v.figures(s, was, is)
}

func size(n int64) int64 { return max(n, -n) }

// because is why prices may be others, as the end of a sentence.
func (v *vanCompared) because() string {
	was, is := v.comparing.a, v.comparing.b
	switch {
	case was.Edition.Hash != is.Edition.Hash && was.Edition.Code != is.Edition.Code:
		return fmt.Sprintf(", because prices are from edition %s in place of %s", is.Edition.Code, was.Edition.Code)
	case was.Edition.Hash != is.Edition.Hash:
		return ", because the price-book was changed"
	case was.Asked.Terms.PriceList != is.Asked.Terms.PriceList:
		return ", because of another price list"
	case was.Release.Hash != is.Release.Hash:
		return ", because the catalogue was changed"
	case len(v.out.Sentences) > 0:
		return ", because of what else was changed"
	}
	return ""
}

// terms tells what is different for the whole quote.
func (t *comparing) terms() {
	was, is := &t.a.Asked.Terms, &t.b.Asked.Terms
	if t.b.HeldRevision > 0 && t.a.HeldRevision != t.b.HeldRevision && t.a.Edition.Hash != t.b.Edition.Hash {
		t.say(AboutTerms, "", "What was offered in revision %d keeps its price; what is new is at edition %s of the price-book.", t.b.HeldRevision, t.b.Edition.Code)
	}
	if was.Basis != is.Basis {
		words := map[pricing.Basis]string{pricing.Gross: "with VAT", pricing.Net: "without VAT"}
		s := t.say(AboutTerms, "basis", "Prices are now %s; before they were %s.", words[is.Basis], words[was.Basis])
		if d := t.roundedIs - t.roundedWas; d != 0 {
			s.Says += fmt.Sprintf(" Rounded so, it is %s.", t.moreOrLess(d))
			t.figures(s, t.roundedWas, t.roundedIs)
		}
	}
	if was.PriceList != is.PriceList {
		t.say(AboutTerms, "price_list", "Prices are from %s in place of %s.", priceList(is.PriceList), priceList(was.PriceList))
	}
	t.vat()
	t.discount()
	switch {
	case was.CreditDays == nil && is.CreditDays != nil:
		t.say(AboutTerms, "credit_days", "It is on account, due %d days after handover.", *is.CreditDays)
	case was.CreditDays != nil && is.CreditDays == nil:
		t.say(AboutTerms, "credit_days", "It is no longer on account.")
	case is.CreditDays != nil && *was.CreditDays != *is.CreditDays:
		t.say(AboutTerms, "credit_days", "It is due %d days after handover in place of %d.", *is.CreditDays, *was.CreditDays)
	}
	if t.a.Asked.SlotWanted != t.b.Asked.SlotWanted {
		t.say(AboutTerms, "slot_wanted", "Work is wanted to begin on %s; before it was %s.", dayOr(t.b.Asked.SlotWanted, "no set day"), dayOr(t.a.Asked.SlotWanted, "no set day"))
	}
	if t.a.ValidUntil != t.b.ValidUntil {
		t.say(AboutTerms, "valid_until", "The offer stands until %s in place of %s.", calendar.Said(t.b.ValidUntil), calendar.Said(t.a.ValidUntil))
	}
	if t.a.Paper.TermsSHA256 != t.b.Paper.TermsSHA256 {
		t.say(AboutTerms, "terms_sha256", "The terms of sale have changed.")
	}
	if t.a.Customer != t.b.Customer || t.a.EndCustomer != t.b.EndCustomer {
		t.say(AboutTerms, "customer", "It is for another customer.")
	}
}

func dayOr(day, none string) string {
	if day == "" {
		return none
	}
	return calendar.Said(day)
}

func priceList(code string) string {
	if code == "" {
		return "the list everybody pays"
	}
	return "the list " + spaced(code)
}

// vat tells of treatments and rates that are not what they were.
func (t *comparing) vat() {
	was, is := t.a.Asked.Terms.Treatments, t.b.Asked.Terms.Treatments
	for _, p := range pairs(was, is, func(c *pricing.TreatmentChange) string { return c.Code }) {
		switch {
		case p.is < 0:
			t.say(AboutTerms, was[p.was].Code, "VAT on %s is no longer %s.", treated(was[p.was].Code), was[p.was].Treatment)
		case p.was < 0 || was[p.was].Treatment != is[p.is].Treatment:
			t.say(AboutTerms, is[p.is].Code, "VAT on %s is %s.", treated(is[p.is].Code), is[p.is].Treatment)
		}
	}
	rates := map[string]string{}
	for i := range t.a.Vans {
		for _, r := range t.a.Vans[i].Priced.VAT {
			rates[string(r.Treatment)] = r.Percent.String()
		}
	}
	for i := range t.b.Vans {
		for _, r := range t.b.Vans[i].Priced.VAT {
			if old, ok := rates[string(r.Treatment)]; ok && old != r.Percent.String() {
				t.say(AboutTerms, string(r.Treatment), "The %s rate of VAT is %s %% in place of %s %%.", r.Treatment, r.Percent, old)
				delete(rates, string(r.Treatment))
			}
		}
	}
}

func treated(code string) string {
	if code == "" {
		return "everything"
	}
	return spaced(code)
}

// discount tells what is taken off the vans that are in both revisions, by a
// discount or to keep a promise; a van that is new or gone was told with its
// own in it.
func (t *comparing) discount() {
	was, is := t.offWas, t.offIs
	if was == is {
		return
	}
	percent := ""
	if p := t.b.Asked.Terms.DiscountPercent; p != nil && is != 0 {
		percent = " of " + p.String() + " %"
	}
	var s *Sentence
	switch {
	case is == 0:
		s = t.say(AboutTerms, "discount", "The discount of %s is no longer given.", said(t.amount(-was)))
	case was == 0:
		s = t.say(AboutTerms, "discount", "A discount%s is given: %s.", percent, said(t.amount(-is)))
	default:
		s = t.say(AboutTerms, "discount", "The discount%s is %s in place of %s.", percent, said(t.amount(-is)), said(t.amount(-was)))
	}
	t.figures(s, was, is)
}

// hours tells what work all vans take.
func (t *comparing) hours() {
	sum := func(d *Document) decimal.Decimal {
		hours := decimal.Zero
		for i := range d.Vans {
			hours = hours.Add(d.Vans[i].Sheet.Hours)
		}
		return hours
	}
	was, is := sum(t.a), sum(t.b)
	if !was.Equal(is) {
		t.say(AboutHours, "", "It takes %s hours of work, %s.", is, moreOrLess(is.Sub(was), "h"))
	}
}

// mass tells what is left to load a van with.
func (t *comparing) mass(a, b *Van) {
	was, is := a.Sheet.Mass.LeftKG, b.Sheet.Mass.LeftKG
	places := int32(0)
	if is.Sub(was).Abs().LessThan(decimal.NewFromInt(1)) {
		places = 1
	}
	if by := is.Sub(was).Round(places); !by.IsZero() {
		t.say(AboutMass, "", "%s kg are left for people, water, gas and luggage, %s.", is.Round(places), moreOrLess(by, "kg"))
	}
	t.axles(a.Sheet.Mass.Laden, b.Sheet.Mass.Laden)
	t.checks(a.Sheet.Checks, b.Sheet.Checks)
}

// axleKG is by how much what rests on an axle has to change to be worth a
// sentence.
const axleKG = 5

// axles tells what rests on them with all the van is meant to carry.
func (t *comparing) axles(was, is bom.Axles) {
	if was.TotalKG().IsZero() || is.TotalKG().IsZero() {
		return // one of the two knows nothing of axles
	}
	front, rear := is.FrontKG.Sub(was.FrontKG).Round(0), is.RearKG.Sub(was.RearKG).Round(0)
	if worth := decimal.NewFromInt(axleKG); front.Abs().LessThan(worth) && rear.Abs().LessThan(worth) {
		return
	}
	side := func(name string, kg, by decimal.Decimal) string {
		if by.IsZero() {
			return fmt.Sprintf("%s kg on the %s axle as before", kg.Round(0), name)
		}
		return fmt.Sprintf("%s kg on the %s axle, %s", kg.Round(0), name, moreOrLess(by, "kg"))
	}
	t.say(AboutMass, "axles", "Laden, %s; %s.", side("front", is.FrontKG, front), side("rear", is.RearKG, rear))
}

// checks tells where a check stands otherwise than before: whether it is met,
// near its limit, answered. What the workshop says to it stays inside.
func (t *comparing) checks(was, is []bom.CheckResult) {
	for i := range is {
		c := &is[i]
		before := checkStanding("")
		if k := slices.IndexFunc(was, func(w bom.CheckResult) bool { return w.Code == c.Code }); k >= 0 {
			before = standingOf(&was[k])
		}
		now := standingOf(c)
		if now == before || before == "" && now == checkMet {
			continue
		}
		words := map[checkStanding]string{
			checkMet: "is met now", checkNear: "is near its limit now", checkNotMet: "is not met now",
			checkEvidence: "is not met, and the workshop has evidence that it may be so", checkGoingOn: "is not met, and the owner goes on with it",
		}[now]
		unit := strings.TrimSuffix(" "+formula.UnitWords(c.Unit), " ")
		t.say(AboutCheck, c.Code, "%s %s: %s%s, and it may be %s %s%s.", c.Name, words, c.Figure, unit, c.Sense, c.Limit, unit)
	}
	for i := range was {
		c := &was[i]
		if standingOf(c) != checkMet && !slices.ContainsFunc(is, func(n bom.CheckResult) bool { return n.Code == c.Code }) {
			t.say(AboutCheck, c.Code, "%s no longer matters.", c.Name)
		}
	}
}

// checkStanding is where a check stands.
type checkStanding string

const (
	checkMet      checkStanding = "met"
	checkNear     checkStanding = "near"
	checkNotMet   checkStanding = "not met"
	checkEvidence checkStanding = "answered by evidence"
	checkGoingOn  checkStanding = "gone on with"
)

func standingOf(c *bom.CheckResult) checkStanding {
	switch {
	case c.Near:
		return checkNear
	case c.Met:
		return checkMet
	case c.Answered && c.Answer.Kind == bom.ByEvidence:
		return checkEvidence
	case c.Answered:
		return checkGoingOn
	}
	return checkNotMet
}
