package pricing

import (
	"slices"

	"wainscot/bom"
	"wainscot/pricing/pricebook"
)

// swap is a package item given up for another feature.
type swap struct {
	item, other string
	count       int64
}

// write adds a line of quantity × unit, and gives it its part of what its
// feature asked for.
func (w *work) write(l line) {
	l.amount = w.part(l.unit, l.quantity, fine)
	w.lines = append(w.lines, l)
}

// writePackage writes the package, what is in it, what was left out of it and
// what was swapped in it.
func (w *work) writePackage() {
	if w.spec.Package == "" {
		return
	}
	name := w.book.PackageName(w.spec.Package)
	pack, ok := w.listing.Package(w.spec.Package, w.spec.Van.BaseVan)
	if !ok {
		w.gap(Gap{Code: NoPackage, At: w.spec.Package, Says: "The package “" + name + "” has no price on this van.",
			Remedy: "Add one to the price-book, or take its features singly."})
		treatment := w.treatment(w.spec.Package, pricebook.Standard)
		w.write(line{kind: PackageLine, code: w.spec.Package, words: name, quantity: 1, treatment: treatment, unpriced: true})
		return
	}
	w.pack = pack
	own := pack.Price.Treatment
	if w.packHeld != nil {
		own = w.packHeld.Price.Treatment
	}
	treatment := w.treatment(w.spec.Package, own)
	w.sell(sale{
		line: line{kind: PackageLine, code: w.spec.Package, words: name, quantity: 1, treatment: treatment}, own: own,
		price: price{how: atList, minor: pack.Minor, own: pack.Price.Treatment, whole: pack.Own},
	})
	w.findSwaps(treatment)
	for i, s := range w.known {
		if s == nil || s.Fit <= 0 {
			continue
		}
		if covered := w.covered(s); covered > 0 {
			w.write(line{kind: InPackageLine, code: s.Code, words: s.Name, quantity: covered, treatment: treatment,
				cost: w.share(&costOf{w.asks[i].cost, 0, int64(s.Fit)}, covered)})
		}
	}
	for _, item := range pack.Package.Items {
		w.writeLeftOut(item.Feature, treatment)
	}
	for _, s := range w.swaps {
		w.writeSwap(s, treatment)
	}
}

// covered is how many of a feature the package's price holds.
func (w *work) covered(s *bom.SpecifiedFeature) int64 {
	if w.pack == nil {
		return 0
	}
	return min(int64(w.pack.Count(s.Code)), int64(s.Fit))
}

// swappedFor is how many of a feature stand on swap lines.
func (w *work) swappedFor(feature string) int64 {
	n := int64(0)
	for _, s := range w.swaps {
		if s.other == feature {
			n += s.count
		}
	}
	return n
}

// findSwaps takes those of the specification's swaps that can be charged as a
// difference: the other feature has a price of its own and the package's VAT
// treatment. Others count as one left out and one more taken. What an earlier
// revision that holds had one way or the other stays so.
func (w *work) findSwaps(treatment int) {
	var asked []swap
	for _, c := range w.spec.PackageChanges {
		if c.SwapFor == "" || c.Count <= 0 || w.pack.Count(c.Item) == 0 {
			continue
		}
		i := slices.IndexFunc(asked, func(s swap) bool { return s.item == c.Item && s.other == c.SwapFor })
		if i < 0 {
			i = len(asked)
			asked = append(asked, swap{item: c.Item, other: c.SwapFor})
		}
		asked[i].count += int64(c.Count)
	}
	for _, s := range asked {
		f, ok := w.book.Feature(s.other)
		if !ok || w.known[f.Index] == nil {
			continue
		}
		free := int64(w.known[f.Index].Fit) - w.covered(w.known[f.Index]) - w.swappedFor(s.other)
		s.count = min(s.count, free, w.short(s.item))
		was := min(s.count, w.heldCount(SwapLine, s.other, s.item))
		if w.swappable(f.Index, treatment) {
			s.count = max(was, s.count-w.heldCount(FeatureLine, s.other, ""))
		} else {
			s.count = was
		}
		if s.count > 0 {
			w.swaps = append(w.swaps, s)
		}
	}
}

// swappable says whether a feature can be charged as a difference today.
func (w *work) swappable(i, treatment int) bool {
	p := w.prices[i]
	if p == nil || p.How == pricebook.Included {
		return false
	}
	final, _, _ := w.settle(w.known[i].Code, p.Treatment)
	return final == treatment
}

// allowance is the unit price of leaving an item out, below nothing: of the
// package as it was offered where its price holds.
func (w *work) allowance(item string, treatment int) (unit int64, ok bool) {
	if w.packHeld != nil {
		if minor, ok := w.packHeld.Allowance(item); ok {
			return -w.listedBy(w.packFrom, minor, w.packHeld.Price.Treatment, treatment, w.packHeld.Own), true
		}
	}
	minor, ok := w.pack.Allowance(item)
	return -w.listed(minor, w.pack.Price.Treatment, treatment, w.pack.Own), ok
}

// short is how many of a package's item are not fitted and not swapped.
func (w *work) short(item string) int64 {
	n := int64(w.pack.Count(item))
	if f, ok := w.book.Feature(item); ok && w.known[f.Index] != nil {
		n -= min(n, int64(w.known[f.Index].Fit))
	}
	for _, s := range w.swaps {
		if s.item == item {
			n -= s.count
		}
	}
	return max(0, n)
}

func (w *work) writeLeftOut(item string, treatment int) {
	n := w.short(item)
	if n == 0 {
		return
	}
	f, ok := w.book.Feature(item)
	if !ok {
		return
	}
	words := "Left out: " + f.Feature.Name
	if s := w.known[f.Index]; s != nil && s.Count > s.Fit {
		words = "Already there: " + f.Feature.Name
	}
	allowance, ok := w.allowance(item, treatment)
	if !ok && f.Feature.Follower {
		return
	}
	s := sale{line: line{kind: LeftOutLine, code: item, words: words, quantity: n, treatment: treatment}}
	if ok {
		s.price = price{how: atUnit, minor: allowance}
	}
	if w.sell(s) > 0 {
		w.gap(Gap{Code: NoAllowance, At: item, Says: "Leaving “" + f.Feature.Name + "” out of the package has no allowance.",
			Remedy: "Add one to the price-book."})
	}
}

// writeSwap charges price(other) − price(item), but never takes off more than
// leaving the item out would. An item without a list price counts at its
// allowance.
func (w *work) writeSwap(s swap, treatment int) {
	item, _ := w.book.Feature(s.item)
	other, _ := w.book.Feature(s.other)
	before := w.covered(w.known[other.Index]) + w.swappedBefore(s)
	sold := sale{
		line: line{kind: SwapLine, code: s.other, insteadOf: s.item, words: other.Feature.Name + " instead of " + item.Feature.Name,
			quantity: s.count, treatment: treatment},
		cost: costOf{w.asks[other.Index].cost, before, int64(w.known[other.Index].Fit)},
	}
	if p := w.prices[other.Index]; w.swappable(other.Index, treatment) {
		w.treatment(s.other, p.Treatment) // for its evidence
		least, _ := w.allowance(s.item, treatment)
		old := -least
		if p, ok := w.listing.Price(item, w.spec.Van.BaseVan, w.supplyOnly); ok && p.How == pricebook.List {
			old = w.listed(p.Minor, p.Treatment, treatment, p.Own)
		}
		sold.price = price{how: atUnit, minor: max(w.today(w.priceOf(other.Index), treatment)-old, least)}
	}
	w.sell(sold)
}

// swappedBefore is how many of the same feature stand on earlier swap lines.
func (w *work) swappedBefore(s swap) int64 {
	n := int64(0)
	for _, before := range w.swaps {
		if before == s {
			break
		}
		if before.other == s.other {
			n += before.count
		}
	}
	return n
}

// writeFeatures writes what is beyond the package.
func (w *work) writeFeatures() {
	for i, s := range w.known {
		if s == nil || s.Fit <= 0 {
			continue
		}
		taken := w.covered(s) + w.swappedFor(s.Code)
		n := int64(s.Fit) - taken
		if n <= 0 {
			continue
		}
		l := sale{
			line: line{kind: FeatureLine, code: s.Code, words: s.Name, quantity: n}, taxed: s.Code, own: pricebook.Standard,
			cost: costOf{w.asks[i].cost, taken, int64(s.Fit)},
		}
		if p := w.prices[i]; p != nil {
			l.own, l.price = p.Treatment, w.priceOf(i)
			if p.How == pricebook.Included {
				l.kind = IncludedLine
			}
			l.silent = p.How == pricebook.BuiltUp && w.asks[i] == (ask{}) // a kind of work that asks for nothing itself
		}
		w.sell(l)
	}
}

// priceOf a feature that has one.
func (w *work) priceOf(i int) price {
	switch p := w.prices[i]; p.How {
	case pricebook.List:
		return price{how: atList, minor: p.Minor, own: p.Treatment, whole: p.Own}
	case pricebook.BuiltUp:
		return price{how: atCharge, minor: w.asks[i].charge, n: int64(w.known[i].Fit), own: p.Treatment, whole: p.Own}
	default: // included
		return price{how: atUnit}
	}
}

// writeFinishes writes the surcharges of finishes, in catalogue order. One in
// the package costs nothing more, another in its place the difference, if
// that is more.
func (w *work) writeFinishes() {
	type chosen struct {
		code   string
		finish *pricebook.Finish
	}
	var all []chosen
	for _, s := range w.spec.Finishes {
		f, ok := w.book.Finish(s.Finish, s.Choice)
		switch {
		case !ok:
			w.gap(Gap{Code: NoPrice, At: s.Finish + "/" + s.Choice, Says: "This choice of finish is not in the catalogue this price-book is for.",
				Remedy: "Price it with the price-book of its own release."})
		case s.Choice == "":
			w.gap(finishOpen(s.Finish, f.Finish.Name))
		default:
			all = append(all, chosen{s.Finish + "/" + s.Choice, f})
		}
	}
	slices.SortStableFunc(all, func(a, b chosen) int { return a.finish.Index - b.finish.Index })
	for _, c := range all {
		f := c.finish
		surcharge := f.Minor
		if w.pack != nil {
			if with, ok := w.book.Finish(f.Finish.Code, w.pack.Finish(f.Finish.Code)); ok {
				surcharge = max(0, surcharge-with.Minor)
			}
		}
		w.sell(sale{
			line:  line{kind: FinishLine, code: c.code, words: f.Finish.Name + ": " + f.Choice.Name, quantity: 1},
			taxed: f.Finish.Code, own: pricebook.Standard,
			price: price{how: atList, minor: surcharge, own: pricebook.Standard},
		})
	}
}

// writeRemovals writes what taking out fitted things comes to, built up.
func (w *work) writeRemovals() {
	if len(w.spec.Removed) == 0 && !slices.ContainsFunc(w.removed, func(a ask) bool { return a != ask{} }) {
		return
	}
	counts := make([]int, len(w.removed))
	replaced := make([]bool, len(w.removed))
	for _, r := range w.spec.Removed {
		if f, ok := w.book.Feature(r.Code); ok && r.Count > 0 {
			counts[f.Index] += r.Count
			replaced[f.Index] = replaced[f.Index] || r.Replaced
		}
	}
	for i, n := range counts {
		a := w.removed[i]
		if n == 0 { // asked for by a removal the specification does not have
			w.overhead = w.add(w.overhead, a.cost)
			continue
		}
		f := &w.book.Catalogue().Features[i]
		words := "Taking out: " + f.Name
		if replaced[i] {
			words = "Taking out, for a new one: " + f.Name
		}
		all := int64(n)
		w.sell(sale{
			line: line{kind: RemovalLine, code: f.Code, words: words, quantity: all}, taxed: f.Code, own: pricebook.Standard,
			price: price{how: atCharge, minor: a.charge, n: all, own: pricebook.Standard},
			cost:  costOf{a.cost, 0, all},
		})
	}
}

// spreadOverhead divides what no line asked for over the lines, by what they
// cost themselves.
func (w *work) spreadOverhead() {
	if len(w.lines) == 0 || w.overhead == 0 {
		return
	}
	weights := make([]int64, len(w.lines))
	for i := range w.lines {
		weights[i] = w.lines[i].cost
	}
	for i, part := range w.allocate(w.overhead, weights) {
		w.lines[i].overhead = part
	}
}
