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
	pack, ok := w.book.Package(w.spec.Package, w.spec.Van.BaseVan)
	if !ok {
		w.gap(Gap{Code: NoPackage, At: w.spec.Package, Says: "The package “" + name + "” has no price on this van.",
			Remedy: "Add one to the price-book, or take its features singly."})
		treatment := w.treatment(w.spec.Package, pricebook.Standard)
		w.write(line{kind: PackageLine, code: w.spec.Package, words: name, quantity: 1, treatment: treatment, unpriced: true})
		return
	}
	w.pack = pack
	own := pack.Price.Treatment
	treatment := w.treatment(w.spec.Package, own)
	w.write(line{kind: PackageLine, code: w.spec.Package, words: name, quantity: 1,
		unit: w.listed(pack.Minor, own, treatment), treatment: treatment})
	w.findSwaps(treatment)
	for i, s := range w.known {
		if s == nil || s.Fit <= 0 {
			continue
		}
		if covered := w.covered(s); covered > 0 {
			w.write(line{kind: InPackageLine, code: s.Code, words: s.Name, quantity: covered, treatment: treatment,
				cost: w.costShare(i, 0, covered)})
		}
	}
	for _, item := range pack.Package.Items {
		w.writeLeftOut(item.Feature, own, treatment)
	}
	for _, s := range w.swaps {
		w.writeSwap(s, own, treatment)
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
// treatment. Others count as one left out and one more taken.
func (w *work) findSwaps(treatment int) {
	for _, c := range w.spec.PackageChanges {
		if c.SwapFor == "" || c.Count <= 0 || w.pack.Count(c.Item) == 0 {
			continue
		}
		f, ok := w.book.Feature(c.SwapFor)
		if !ok || w.known[f.Index] == nil || w.prices[f.Index] == nil {
			continue
		}
		p := w.prices[f.Index]
		free := int64(w.known[f.Index].Fit) - w.covered(w.known[f.Index]) - w.swappedFor(c.SwapFor)
		count := min(int64(c.Count), free, w.short(c.Item))
		if count > 0 && p.How != pricebook.Included && w.treatment(c.SwapFor, p.Treatment) == treatment {
			w.addSwap(swap{item: c.Item, other: c.SwapFor, count: count})
		}
	}
}

func (w *work) addSwap(s swap) {
	for i := range w.swaps {
		if have := &w.swaps[i]; have.item == s.item && have.other == s.other {
			have.count += s.count
			return
		}
	}
	w.swaps = append(w.swaps, s)
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

func (w *work) writeLeftOut(item string, own pricebook.Treatment, treatment int) {
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
	allowance, ok := w.pack.Allowance(item)
	if !ok && !f.Feature.Follower {
		w.gap(Gap{Code: NoAllowance, At: item, Says: "Leaving “" + f.Feature.Name + "” out of the package has no allowance.",
			Remedy: "Add one to the price-book."})
	}
	if ok || !f.Feature.Follower {
		w.write(line{kind: LeftOutLine, code: item, words: words, quantity: n, treatment: treatment,
			unit: -w.listed(allowance, own, treatment), unpriced: !ok})
	}
}

// writeSwap charges price(other) − price(item), but never takes off more than
// leaving the item out would. An item without a list price counts at its
// allowance.
func (w *work) writeSwap(s swap, own pricebook.Treatment, treatment int) {
	item, _ := w.book.Feature(s.item)
	other, _ := w.book.Feature(s.other)
	allowance, _ := w.pack.Allowance(s.item)
	least := -w.listed(allowance, own, treatment)
	old := -least
	if p, ok := item.Price(w.spec.Van.BaseVan, w.supplyOnly); ok && p.How == pricebook.List {
		old = w.listed(p.Minor, p.Treatment, treatment)
	}
	covered := w.covered(w.known[other.Index])
	w.write(line{kind: SwapLine, code: s.other, words: other.Feature.Name + " instead of " + item.Feature.Name,
		quantity: s.count, treatment: treatment,
		unit: max(w.unitPrice(other.Index, treatment)-old, least),
		cost: w.costShare(other.Index, covered+w.swappedBefore(s), s.count)})
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
		l := line{kind: FeatureLine, code: s.Code, words: s.Name, quantity: n, cost: w.costShare(i, taken, n)}
		p := w.prices[i]
		switch {
		case p == nil:
			l.treatment, l.unpriced = w.treatment(s.Code, pricebook.Standard), true
		case p.How == pricebook.Included:
			l.kind, l.treatment = IncludedLine, w.treatment(s.Code, p.Treatment)
		default:
			l.treatment = w.treatment(s.Code, p.Treatment)
			l.unit = w.unitPrice(i, l.treatment)
		}
		if p != nil && p.How == pricebook.BuiltUp && l.unit == 0 && w.asks[i] == (ask{}) {
			continue // a kind of work that asks for nothing itself
		}
		w.write(l)
	}
}

// unitPrice of one of a feature that is listed or built up, in hundredths of a
// minor unit and in the terms' basis.
func (w *work) unitPrice(i int, treatment int) int64 {
	p := w.prices[i]
	if p.How == pricebook.List {
		return w.listed(p.Minor, p.Treatment, treatment)
	}
	return w.builtUp(w.asks[i].charge, int64(w.known[i].Fit), p.Treatment, treatment)
}

// costShare is the cost of n of a feature, after so many stand on earlier
// lines. Cutting the whole at both ends makes the parts sum to it.
func (w *work) costShare(i int, after, n int64) int64 {
	fit := int64(w.known[i].Fit)
	upTo := func(k int64) int64 { return w.part(w.asks[i].cost, k, fit) }
	return upTo(after+n) - upTo(after)
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
		treatment := w.treatment(f.Finish.Code, pricebook.Standard)
		w.write(line{kind: FinishLine, code: c.code, words: f.Finish.Name + ": " + f.Choice.Name, quantity: 1,
			treatment: treatment, unit: w.listed(surcharge, pricebook.Standard, treatment)})
	}
}

// writeRemovals writes what taking out fitted things comes to, built up.
func (w *work) writeRemovals() {
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
		treatment := w.treatment(f.Code, pricebook.Standard)
		w.write(line{kind: RemovalLine, code: f.Code, words: words, quantity: int64(n), treatment: treatment,
			cost: a.cost, unit: w.builtUp(a.charge, int64(n), pricebook.Standard, treatment)})
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
