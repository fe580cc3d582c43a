package pricing

import (
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Cheaply is the aim to settle at the lowest total with VAT, in minor units.
//
// A discount is left out of it: it is a person's act on a finished price, and
// whether it is refused goes by the margin, so that taking more could get it
// given. So is a promise.
func Cheaply(book *pricebook.Compiled, terms Terms) bom.Aim {
	terms.DiscountPercent, terms.DiscountAmount, terms.Promise = nil, nil, nil
	return &cheaply{book: book, terms: terms}
}

type cheaply struct {
	book  *pricebook.Compiled
	terms Terms
	// w has the specification as it was before.
	w *work
	// given are amounts that every specification has, by treatment.
	given [len(treatmentOrder)]int64
	gaps  []Gap
	// swapped: it may take the place of an item of the package, and then does
	// not stand at its own price.
	swapped []bool
}

// Begin prices what there is, for what stays so.
func (c *cheaply) Begin(before *bom.Settling) error {
	spec := &before.Resolution.Specification
	p, err := Price(before.Sheet, *spec, c.book, c.terms)
	if err != nil {
		return err
	}
	c.gaps, c.given = p.Gaps, [len(treatmentOrder)]int64{}
	c.w = newWork(&before.Sheet, spec, c.book, &c.terms)
	if err := c.w.findAdditions().Err(); err != nil {
		return err
	}
	c.w.pack, _ = c.w.listing.Package(spec.Package, spec.Van.BaseVan)
	for i := range p.Lines {
		l := &p.Lines[i]
		at, amount := treatmentAt(l.Treatment), l.Amount.Minor()
		switch l.Kind {
		case PackageLine, LeftOutLine, OneOffLine, OwnPartLine:
			// More of a package's items can only be there later, so that less is
			// left out.
		case SwapLine:
			if !c.always(l.Code) || !c.always(l.InsteadOf) {
				unit, _ := c.w.allowance(l.InsteadOf, at) // it takes off no more than leaving out does
				amount = c.w.part(unit, int64(l.Quantity), fine)
			}
		default:
			continue
		}
		c.given[at] += amount
	}
	features := c.book.Catalogue().Features
	c.swapped = make([]bool, len(features))
	if c.w.pack == nil {
		return nil
	}
	for i := range features {
		for _, item := range c.w.pack.Package.Items {
			f, ok := c.book.Feature(item.Feature)
			c.swapped[i] = c.swapped[i] || ok && f.Feature.Group == features[i].Group
		}
	}
	return nil
}

// Cost is the total with VAT. What is not priced whole is not known.
func (c *cheaply) Cost(spec *bom.Specification, sheet *bom.Sheet) (cost int64, unknown int, err error) {
	p, err := Price(*sheet, *spec, c.book, c.terms)
	if err != nil {
		return 0, 0, err
	}
	for _, g := range p.Gaps {
		if g.Code == FinishOpen || !slices.ContainsFunc(c.gaps, func(o Gap) bool { return o.Code == g.Code && o.At == g.At }) {
			unknown++
		}
	}
	return p.Totals.Gross.Minor(), unknown, nil
}

// Lines of what is built up bear on the price, as it costs a share of them.
func (c *cheaply) Lines(feature int, removal bool) bool {
	return (removal || feature >= 0) && c.Divided(feature, removal)
}

// Divided is what is built up.
func (c *cheaply) Divided(feature int, removal bool) bool {
	if removal {
		return true
	}
	for _, supplyOnly := range [...]bool{false, true} {
		if p, ok := c.price(feature, supplyOnly); ok && p.How == pricebook.BuiltUp {
			return true
		}
	}
	return false
}

func (c *cheaply) feature(i int) *pricebook.Feature {
	f, _ := c.book.Feature(c.book.Catalogue().Features[i].Code)
	return f
}

func (c *cheaply) price(feature int, supplyOnly bool) (*pricebook.FeaturePrice, bool) {
	return c.w.listing.Price(c.feature(feature), c.w.spec.Van.BaseVan, supplyOnly)
}

// always says whether a feature has one price, whatever else is chosen.
func (c *cheaply) always(code string) bool {
	f, ok := c.book.Feature(code)
	if !ok {
		return false
	}
	fitted, _ := c.price(f.Index, false)
	supplied, _ := c.price(f.Index, true)
	return fitted == supplied && (fitted == nil || fitted.How != pricebook.BuiltUp)
}

// certain is the price of a feature whatever else is chosen, false where it
// depends on that.
func (c *cheaply) certain(feature int, k *bom.Known) (*pricebook.FeaturePrice, bool) {
	supplyOnly := k.SupplyOnly || c.w.spec.Van.None
	p, ok := c.price(feature, supplyOnly)
	if other, _ := c.price(feature, true); !supplyOnly && k.MaybeSupplyOnly && other != p {
		return nil, false
	}
	return p, ok && !c.swapped[feature]
}

// Floor is the sum of what every line that there will be comes to at least, for
// each treatment by itself, with its VAT.
func (c *cheaply) Floor(k *bom.Known) int64 {
	rows := c.given
	charges := c.charges(k)
	for i, n := range k.Fit {
		if n > 0 {
			at, amount := c.line(i, k, charges.features[i])
			rows[at] += amount
		}
	}
	counts := map[string]int64{}
	for _, r := range c.w.spec.Removed {
		counts[r.Code] += int64(r.Count)
	}
	for i, charge := range charges.removals {
		if n := counts[c.book.Catalogue().Features[i].Code]; charge > 0 && n > 0 {
			at, _, _ := c.w.settle(c.book.Catalogue().Features[i].Code, pricebook.Standard)
			rows[at] += c.w.part(c.w.builtUp(charge, n, pricebook.Standard, at, false), n, fine)
		}
	}
	for _, f := range k.Finishes {
		at, amount := c.finish(f)
		rows[at] += amount
	}
	total := int64(0)
	for t, amount := range rows {
		total += amount
		if c.terms.Basis != Gross {
			total += c.w.vatOf(t, amount)
		}
	}
	return total
}

// Adds is likewise of one feature. Without VAT each treatment's is rounded by
// itself, once: a minor unit less for every feature keeps the sum below that.
func (c *cheaply) Adds(feature int, with *bom.Known) int64 {
	if with.Fit[feature] <= 0 {
		return 0
	}
	at, amount := c.line(feature, with, c.charges(with).features[feature])
	if c.terms.Basis != Gross {
		amount += c.w.vatOf(at, amount) - 2
	}
	return max(0, amount)
}

// line is what a feature's line comes to at least.
func (c *cheaply) line(i int, k *bom.Known, charge int64) (treatment int, amount int64) {
	p, ok := c.certain(i, k)
	if !ok {
		return atStandard, 0
	}
	f := &c.book.Catalogue().Features[i]
	at, _, _ := c.w.settle(f.Code, p.Treatment)
	n, covered := int64(k.Fit[i]), int64(0)
	if c.w.pack != nil {
		covered = int64(c.w.pack.Count(f.Code))
	}
	switch {
	case n <= covered, p.How == pricebook.Included:
		return at, 0
	case p.How == pricebook.List:
		return at, c.w.part(c.w.listed(p.Minor, p.Treatment, at, p.Own), n-covered, fine)
	case covered > 0 || charge <= 0:
		return at, 0
	}
	amount = c.w.builtUp(charge, 1, p.Treatment, at, p.Own) / fine
	if f.Count != nil { // divided by their number, and rounded for each
		amount = max(0, amount-int64(f.Count.Most))
	}
	return at, amount
}

// finish is what a finish's line comes to at least.
func (c *cheaply) finish(k bom.KnownFinish) (treatment int, amount int64) {
	f := &c.book.Catalogue().Finishes[k.Finish]
	at, _, _ := c.w.settle(f.Code, pricebook.Standard)
	least := int64(-1)
	for i := range f.Choices {
		if k.Choice >= 0 && k.Choice != i {
			continue
		}
		priced, ok := c.book.Finish(f.Code, f.Choices[i].Code)
		if !ok {
			return at, 0
		}
		surcharge := priced.Minor
		if c.w.pack != nil {
			if with, ok := c.book.Finish(f.Code, c.w.pack.Finish(f.Code)); ok {
				surcharge = max(0, surcharge-with.Minor)
			}
		}
		if least < 0 || surcharge < least {
			least = surcharge
		}
	}
	return at, c.w.part(c.w.listed(max(0, least), pricebook.Standard, at, false), 1, fine)
}

// charges are what built-up prices and removals are charged at least, without
// VAT, by feature.
type charges struct{ features, removals []int64 }

func (c *cheaply) charges(k *bom.Known) charges {
	n := len(c.book.Catalogue().Features)
	out := charges{make([]int64, n), make([]int64, n)}
	of := func(feature int, removal bool) bool {
		if removal {
			return true
		}
		p, ok := c.certain(feature, k)
		return ok && p.How == pricebook.BuiltUp
	}
	k.Asks(of, func(a bom.KnownAsk) {
		least := int64(-1)
		for _, code := range a.Codes {
			if charge := c.charge(a.Kind, code, a.Quantity); least < 0 || charge < least {
				least = charge
			}
		}
		to := out.features
		if a.Removal {
			to = out.removals
		}
		to[a.Feature] += max(0, least)
	})
	return out
}

// Lines are rounded: parts up, but for what lies beyond the sixth place, hours
// to the nearest hundredth. So a line is of no less than all its reasons
// together less this.
var (
	hoursOff = decimal.New(5, -3)
	partsOff = decimal.New(1, -6)
)

// charge is what one reason of a line is charged at least: a line's charge is
// rounded to the minor unit and divided by the quantities, which takes less
// than two off any.
func (c *cheaply) charge(kind bom.LineKind, code string, quantity decimal.Decimal) int64 {
	off := partsOff
	if kind == bom.HoursLine {
		off = hoursOff
	}
	rated := c.w.rate(kind, code, "", "")
	quantity = quantity.Sub(off)
	if rated.charge == nil || quantity.Sign() <= 0 {
		return 0
	}
	minor, err := rated.charge.Minor(quantity, c.w.currency, money.Floor)
	if err != nil {
		return 0
	}
	return max(0, minor-2)
}
