package quote

import (
	"bytes"
	"fmt"
	"strconv"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/options"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// Recomputed is a document beside what the same questions come to now.
type Recomputed struct {
	// Same bytes. With the document's own release, editions and engine number
	// they always are.
	Same      bool
	SHA256    string // of the document
	SHA256Now string // of what it comes to now; "" where that cannot be issued
	Engine    int    // the document's
	EngineNow int
	// Differences, first what it was worked from, then van by van what is on
	// the sheet and in the price, then the sums. At most MaxDifferences; Cut is
	// how many more there were.
	Differences []Difference
	Cut         int
}

// MaxDifferences is how many differences are told.
const MaxDifferences = 1000

// Difference is one thing that comes out otherwise.
type Difference struct {
	At   string // its place in the document
	Says string // the whole sentence
	// Before and After as text; "" where there was, or is, nothing.
	Before, After string
}

// Recompute works a document's questions out again with an offer, and says
// whether the bytes are the same and where not. It rewrites nothing.
//
// The error means that they cannot be worked out at all: the release does not
// know a code any more, or the offer is broken.
func Recompute(o Offer, d *Document) (Recomputed, error) {
	was, err := d.Encode()
	if err != nil {
		return Recomputed{}, fmt.Errorf("the document: %w", err)
	}
	r := Recomputed{SHA256: SHA256(was), Engine: d.Engine, EngineNow: options.Engine}
	w, faults, err := Work(o, d.Asked)
	if err == nil {
		err = faults.Err()
	}
	if err != nil {
		return r, fmt.Errorf("working it out again: %w", err)
	}
	w.chosenBy(d)
	now, err := freeze(&w, d.head())
	if err != nil {
		return r, err
	}
	is, err := now.Encode()
	if err != nil {
		return r, fmt.Errorf("what it comes to now: %w", err)
	}
	r.SHA256Now = SHA256(is)
	if r.Same = bytes.Equal(was, is); !r.Same {
		t := telling{r: &r}
		t.documents(d, now)
	}
	return r, nil
}

// chosenBy puts the days by which finishes are to be chosen as the document has
// them: they were counted by the days the workshop worked then, which nobody
// keeps.
func (w *Worked) chosenBy(d *Document) {
	for i := range min(len(w.Vans), len(d.Vans)) {
		for k := range w.Vans[i].OpenFinishes {
			open := &w.Vans[i].OpenFinishes[k]
			for _, was := range d.Vans[i].OpenFinishes {
				if was.Finish == open.Finish && was.LeadDays == open.LeadDays && (was.ChooseBy == "") == (open.ChooseBy == "") {
					open.ChooseBy, open.Says = was.ChooseBy, was.Says
				}
			}
		}
	}
}

// telling gathers differences.
type telling struct {
	r *Recomputed
	// van puts "Van 2: " before what is told of it, where there are several.
	van string
	at  string
}

func (t *telling) add(at, before, after, format string, args ...any) {
	if len(t.r.Differences) >= MaxDifferences {
		t.r.Cut++
		return
	}
	t.r.Differences = append(t.r.Differences, Difference{At: t.at + at, Says: t.van + fmt.Sprintf(format, args...), Before: before, After: after})
}

// differ tells two texts that are not the same.
func (t *telling) differ(at, what, before, after string) {
	if before != after {
		t.add(at, before, after, "%s was %s, and is %s.", what, orNothing(before), orNothing(after))
	}
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

func (t *telling) documents(was, is *Document) {
	t.differ("engine", "The engine's number", strconv.Itoa(was.Engine), strconv.Itoa(is.Engine))
	t.differ("release/number", "The release", strconv.FormatInt(was.Release.Number, 10), strconv.FormatInt(is.Release.Number, 10))
	t.differ("release/hash", "The release's content", short(was.Release.Hash), short(is.Release.Hash))
	t.differ("release/title", "The catalogue's title", was.Release.Title, is.Release.Title)
	t.differ("edition/code", "The price-book's edition", was.Edition.Code, is.Edition.Code)
	t.differ("edition/hash", "The edition's content", short(was.Edition.Hash), short(is.Edition.Hash))
	t.differ("held_revision", "The revision whose prices hold", revisionOf(was), revisionOf(is))
	for i := range was.Vans {
		t.at = place("vans", i)
		if len(was.Vans) > 1 {
			t.van = fmt.Sprintf("Van %d: ", i+1)
		}
		t.vans(&was.Vans[i], &is.Vans[i])
	}
	t.at, t.van = "", ""
	t.totals("totals", was.Totals, is.Totals)
	t.payments(was.Payments, is.Payments)
	if len(t.r.Differences) == 0 {
		t.add("", "", "", "Quantities and amounts are the same; the documents differ in a name, a reason, or what a single line costs.")
	}
}

func place(list string, i int) string { return list + "/" + strconv.Itoa(i+1) + "/" }

// short is as much of a hash as people compare.
func short(hash string) string { return hash[:min(len(hash), 12)] }

func revisionOf(d *Document) string {
	if d.HeldRevision == 0 {
		return "none"
	}
	return strconv.Itoa(d.HeldRevision)
}

func (t *telling) vans(was, is *Van) {
	t.sheet(&was.Sheet, &is.Sheet)
	t.differ("sheet/hours", "The hours", was.Sheet.Hours.String(), is.Sheet.Hours.String())
	t.differ("sheet/mass/left_kg", "The mass left, in kg,", was.Sheet.Mass.LeftKG.String(), is.Sheet.Mass.LeftKG.String())
	t.checks(was.Sheet.Checks, is.Sheet.Checks)
	t.price(was.Priced.Lines, is.Priced.Lines)
	t.totals("priced/totals", was.Priced.Totals, is.Priced.Totals)
	if a, b := was.Priced.Inside, is.Priced.Inside; a != nil && b != nil {
		t.differ("priced/inside/cost", "What it costs the workshop", a.Cost.String(), b.Cost.String())
	}
	t.extras(was.Extras, is.Extras)
	for _, n := range is.NotReady {
		t.add("not_ready", "", n.Says, "It could not be issued now: %s", n.Says)
	}
}

// pair is what stands in a list then and now, by its place or -1.
type pair struct{ was, is int }

// pairs finds members of two lists by their keys: those that were, in order,
// then the new ones. Equal keys go together in order.
func pairs[T any, K comparable](was, is []T, key func(*T) K) []pair {
	now := make(map[K][]int, len(is))
	for i := range is {
		k := key(&is[i])
		now[k] = append(now[k], i)
	}
	list := make([]pair, 0, len(was))
	taken := make([]bool, len(is))
	for i := range was {
		p := pair{i, -1}
		if left := now[key(&was[i])]; len(left) > 0 {
			p.is, now[key(&was[i])] = left[0], left[1:]
			taken[p.is] = true
		}
		list = append(list, p)
	}
	for i := range is {
		if !taken[i] {
			list = append(list, pair{-1, i})
		}
	}
	return list
}

// either is the member that was, or else the one that is.
func either[T any](p pair, was, is []T) *T {
	if p.was >= 0 {
		return &was[p.was]
	}
	return &is[p.is]
}

type sheetKey struct {
	stage, code, finish string
	kind                bom.LineKind
	provision           catalogue.Provision
}

func (t *telling) sheet(before, after *bom.Sheet) {
	was, is := before.Lines, after.Lines
	key := func(l *bom.Line) sheetKey { return sheetKey{l.Stage, l.Code, l.Finish, l.Kind, l.Provision} }
	says := func(l *bom.Line) string { return l.Quantity.String() + " " + l.Unit }
	for _, p := range pairs(was, is, key) {
		at := "sheet/lines/"
		switch {
		case p.is < 0:
			l := &was[p.was]
			t.add(at+strconv.Itoa(p.was+1), says(l), "", "%s at %s is gone; it was %s.", l.Name, stageName(before, l.Stage), says(l))
		case p.was < 0:
			l := &is[p.is]
			t.add(at+strconv.Itoa(p.is+1), "", says(l), "%s at %s is new: %s.", l.Name, stageName(after, l.Stage), says(l))
		default:
			a, b := &was[p.was], &is[p.is]
			if !a.Quantity.Equal(b.Quantity) || a.Unit != b.Unit {
				t.add(at+strconv.Itoa(p.was+1), says(a), says(b), "%s at %s was %s, and is %s.", a.Name, stageName(before, a.Stage), says(a), says(b))
			} else if !a.MassKG.Equal(b.MassKG) {
				t.add(at+strconv.Itoa(p.was+1), a.MassKG.String()+" kg", b.MassKG.String()+" kg", "%s at %s weighed %s kg, and weighs %s kg.", a.Name, stageName(before, a.Stage), a.MassKG, b.MassKG)
			}
		}
	}
}

// stageName is a stage as people say it.
func stageName(s *bom.Sheet, code string) string {
	for i := range s.Stages {
		if s.Stages[i].Stage == code {
			return "“" + s.Stages[i].Name + "”"
		}
	}
	return code
}

func (t *telling) checks(was, is []bom.CheckResult) {
	for _, p := range pairs(was, is, func(c *bom.CheckResult) string { return c.Code }) {
		said := func(list []bom.CheckResult, i int) string {
			switch {
			case i < 0:
				return "not made"
			case list[i].Met:
				return "met"
			}
			return "not met"
		}
		c := either(p, was, is)
		t.differ("sheet/checks/"+c.Code, "The check “"+c.Name+"”", said(was, p.was), said(is, p.is))
	}
}

type priceKey struct {
	kind      pricing.LineKind
	code      string
	insteadOf string
	treatment pricebook.Treatment
}

func (t *telling) price(was, is []pricing.Line) {
	key := func(l *pricing.Line) priceKey { return priceKey{l.Kind, l.Code, l.InsteadOf, l.Treatment} }
	for _, p := range pairs(was, is, key) {
		at := "priced/lines/"
		switch {
		case p.is < 0:
			l := &was[p.was]
			t.add(at+strconv.Itoa(p.was+1), l.Amount.String(), "", "“%s” is gone; it was %s.", l.Words, l.Amount)
		case p.was < 0:
			l := &is[p.is]
			t.add(at+strconv.Itoa(p.is+1), "", l.Amount.String(), "“%s” is new: %s.", l.Words, l.Amount)
		default:
			a, b := &was[p.was], &is[p.is]
			if a.Quantity != b.Quantity {
				t.add(at+strconv.Itoa(p.was+1), strconv.Itoa(a.Quantity), strconv.Itoa(b.Quantity), "“%s” was %d at %s, and is %d at %s.", a.Words, a.Quantity, a.Amount, b.Quantity, b.Amount)
			} else {
				t.differ(at+strconv.Itoa(p.was+1), "“"+a.Words+"”", a.Amount.String(), b.Amount.String())
			}
		}
	}
}

func (t *telling) extras(was, is []Extra) {
	for _, p := range pairs(was, is, func(e *Extra) string { return e.Code }) {
		if p.was >= 0 && p.is >= 0 {
			a, b := &was[p.was], &is[p.is]
			t.differ("extras/"+a.Code, "The extra “"+a.Words+"”", a.Gross.String(), b.Gross.String())
		}
	}
}

func (t *telling) totals(at string, was, is pricing.Totals) {
	t.differ(at+"/before_discount", "The total before discount", was.BeforeDiscount.String(), is.BeforeDiscount.String())
	t.differ(at+"/discount", "The discount", was.Discount.String(), is.Discount.String())
	t.differ(at+"/net", "The total without VAT", was.Net.String(), is.Net.String())
	t.differ(at+"/vat", "The VAT", was.VAT.String(), is.VAT.String())
	t.differ(at+"/gross", "The total with VAT", was.Gross.String(), is.Gross.String())
}

func (t *telling) payments(was, is []pricing.Payment) {
	for _, p := range pairs(was, is, func(p *pricing.Payment) string { return p.Code }) {
		said := func(list []pricing.Payment, i int) string {
			if i < 0 {
				return ""
			}
			return list[i].Amount.String()
		}
		step := either(p, was, is)
		t.differ("payments/"+step.Code, "The payment “"+step.Name+"”", said(was, p.was), said(is, p.is))
	}
}
