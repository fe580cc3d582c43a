package quote

import (
	"fmt"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// Comparison is what is different between two revisions, told in the order in
// which one would tell a customer: van by van what was added, taken out,
// swapped, changed in number, the finishes, what costs otherwise although
// nobody touched it; then the terms; at the end what it all comes to.
type Comparison struct {
	// From and To are the numbers of the revisions.
	From, To int
	// Vans is how many there are in the revision that has more.
	Vans      int
	Sentences []Sentence
}

// Sentence is one thing that is different, with its figures.
type Sentence struct {
	// Van counts from 1, in the later revision (in the earlier one for a van
	// that is gone); 0 is the whole quote.
	Van   int
	About About
	// Code of the feature, package, finish or addition.
	Code string
	Says string
	// Before, After and their Difference, nil where there is no such sum. On
	// the basis of both revisions; with VAT where the two have not the same.
	Before, After, Difference *money.Amount
}

// About says what a sentence tells of. The differences of all sentences on
// parts of the price add up to the difference of the whole; those on a total or
// a deposit say it again.
type About string

// What a sentence may be about.
const (
	AboutAdded    About = "added"
	AboutTakenOut About = "taken out"
	AboutSwapped  About = "swapped"
	AboutNumber   About = "number"
	AboutPackage  About = "package"
	AboutFinish   About = "finish"
	AboutAddition About = "addition"
	AboutExtra    About = "extra"
	AboutPrice    About = "price"
	AboutVan      About = "van"
	AboutTerms    About = "terms"
	AboutTotal    About = "total"
	AboutHours    About = "hours"
	AboutMass     About = "mass"
	AboutCheck    About = "check"
	AboutDeposit  About = "deposit"
	AboutNothing  About = "nothing"
)

// Compare tells what is different in a later revision. The catalogue, of the
// later one's release, says which features are picked one in place of another
// and how vans are called; without one (nil) a swap is told as one thing taken
// out and another added.
func Compare(earlier, later *Document, c *catalogue.Catalogue) Comparison {
	t := &comparing{a: earlier, b: later, catalogue: c, sameBasis: earlier.Asked.Terms.Basis == later.Asked.Terms.Basis,
		out: Comparison{From: earlier.Revision, To: later.Revision, Vans: max(len(earlier.Vans), len(later.Vans))}}
	if was, is := earlier.Totals.Gross, later.Totals.Gross; was.Currency() != is.Currency() {
		t.say(AboutTotal, "", "It now comes to %s; before it was %s. Two currencies are not compared.", said(is), said(was))
		return t.out
	}
	t.vans()
	t.van = 0
	t.terms()
	if len(t.out.Sentences) == 0 {
		t.say(AboutNothing, "", "Nothing has changed.")
		return t.out
	}
	t.whole()
	return t.out
}

// Text is the comparison for reading: a sentence a line, each van under its
// name where there are several.
func (c Comparison) Text() string {
	var b strings.Builder
	several, van := c.Vans > 1 && c.Sentences[0].About != AboutNothing, 0
	for _, s := range c.Sentences {
		if several && s.Van != van {
			if van = s.Van; van > 0 {
				fmt.Fprintf(&b, "Van %d\n", van)
			} else {
				b.WriteString("Together\n")
			}
		}
		if several {
			b.WriteString("  ")
		}
		b.WriteString(s.Says)
		b.WriteByte('\n')
	}
	return b.String()
}

// comparing is one Compare in progress.
type comparing struct {
	a, b      *Document
	catalogue *catalogue.Catalogue
	sameBasis bool
	van       int
	// offWas and offIs are the lines of discounts and promises, of the vans in
	// both.
	offWas, offIs int64
	// roundedWas and roundedIs are what is only rounded otherwise, because the
	// basis is another.
	roundedWas, roundedIs int64
	out                   Comparison
}

// say adds a sentence without figures.
func (t *comparing) say(about About, code, format string, args ...any) *Sentence {
	t.out.Sentences = append(t.out.Sentences, Sentence{Van: t.van, About: about, Code: code, Says: fmt.Sprintf(format, args...)})
	return &t.out.Sentences[len(t.out.Sentences)-1]
}

// figures puts sums to a sentence, in minor units.
func (t *comparing) figures(s *Sentence, before, after int64) {
	b, a, d := t.amount(before), t.amount(after), t.amount(after-before)
	s.Before, s.After, s.Difference = &b, &a, &d
}

// amount is so much in the quote's currency. What is compared was money before,
// and the sums of 40 vans are far from the end of it.
func (t *comparing) amount(minor int64) money.Amount {
	nothing := t.b.Totals.Gross
	a, err := nothing.WithMinor(minor)
	if err != nil {
		return nothing
	}
	return a
}

// worth is what a line comes to: as printed, and with VAT where the revisions
// have not the same basis.
func (t *comparing) worth(l *pricing.Line) int64 {
	if t.sameBasis {
		return l.Amount.Minor()
	}
	return l.Net.Minor() + l.VAT.Minor()
}

// comesTo is what a whole comes to, in the same way.
func (t *comparing) comesTo(u *pricing.Totals) int64 {
	if t.sameBasis && t.b.Asked.Terms.Basis == pricing.Net {
		return u.Net.Minor()
	}
	return u.Gross.Minor()
}

// with says whether comesTo includes VAT.
func (t *comparing) with() string {
	if t.sameBasis && t.b.Asked.Terms.Basis == pricing.Net {
		return "without VAT"
	}
	return "with VAT"
}

// vans tells of each van, those that are in both first.
func (t *comparing) vans() {
	place := func(i int, v *AskedVan, in []AskedVan) int {
		if v.Van == "" {
			if i < len(in) && in[i].Van == "" {
				return i
			}
			return -1
		}
		for k := range in {
			if in[k].Van == v.Van {
				return k
			}
		}
		return -1
	}
	known := make([]bool, len(t.a.Vans))
	for i := range t.b.Vans {
		t.van = i + 1
		k := place(i, &t.b.Asked.Vans[i], t.a.Asked.Vans)
		if k < 0 || known[k] {
			s := t.say(AboutVan, "", "This van is new in the quote: %s, %s %s.", t.baseVan(&t.b.Vans[i]), said(t.amount(t.comesTo(&t.b.Vans[i].Priced.Totals))), t.with())
			t.figures(s, 0, t.comesTo(&t.b.Vans[i].Priced.Totals))
			continue
		}
		known[k] = true
		t.sameVan(k, i)
	}
	for k := range t.a.Vans {
		if !known[k] {
			t.van = k + 1
			was := t.comesTo(&t.a.Vans[k].Priced.Totals)
			s := t.say(AboutVan, "", "%s is no longer in the quote; it was %s %s.", capital(t.baseVan(&t.a.Vans[k])), said(t.amount(was)), t.with())
			t.figures(s, was, 0)
		}
	}
}

func (t *comparing) baseVan(v *Van) string {
	code := v.Specification.Van.BaseVan
	if t.catalogue != nil {
		for i := range t.catalogue.BaseVans {
			if t.catalogue.BaseVans[i].Code == code {
				return lowered(t.catalogue.BaseVans[i].Name)
			}
		}
	}
	return strings.ReplaceAll(code, "_", " ")
}

// whole tells what it comes to before and after.
func (t *comparing) whole() {
	was, is := t.comesTo(&t.a.Totals), t.comesTo(&t.b.Totals)
	var s *Sentence
	if was == is {
		s = t.say(AboutTotal, "", "The price stays at %s %s.", said(t.amount(is)), t.with())
	} else {
		s = t.say(AboutTotal, "", "It now comes to %s %s, %s than the %s before.", said(t.amount(is)), t.with(), t.moreOrLess(is-was), said(t.amount(was)))
	}
	t.figures(s, was, is)
	t.hours()
	if len(t.b.Vans) == 1 && len(t.a.Vans) == 1 {
		t.van = 1
		t.mass(&t.a.Vans[0], &t.b.Vans[0])
		t.van = 0
	}
	t.deposit()
}

func (t *comparing) deposit() {
	find := func(d *Document) (string, int64) {
		for _, p := range d.Payments {
			if onAcceptance(p) {
				return p.Name, p.Amount.Minor()
			}
		}
		return "", 0
	}
	wasName, was := find(t.a)
	name, is := find(t.b)
	if was == is {
		return
	}
	if name == "" {
		name = wasName
	}
	var s *Sentence
	switch {
	case is == 0:
		s = t.say(AboutDeposit, "", "Nothing is due on acceptance any more; it was %s.", said(t.amount(was)))
	case was == 0:
		s = t.say(AboutDeposit, "", "The %s due on acceptance is %s; nothing was before.", lowered(name), said(t.amount(is)))
	default:
		s = t.say(AboutDeposit, "", "The %s on acceptance is %s, %s than the %s before.", lowered(name), said(t.amount(is)), t.moreOrLess(is-was), said(t.amount(was)))
	}
	t.figures(s, was, is)
}
