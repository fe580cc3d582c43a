package options

import (
	"math/bits"

	"wainscot/bom/options/internal/sat"
)

// Covering says for what vans a covering set is wanted, and with how much
// work.
type Covering struct {
	// Kept is how many of each feature a van may come with, as in Proving.
	Kept []int
	Work int64
	// Progress is told how many pairs are done of how many; false ends it with
	// ErrStopped. It may be nil.
	Progress func(done, of int) bool
}

// Covered is a covering set.
type Covered struct {
	// Specimens are allowed specifications in which every pair of "this
	// feature is there", "that one is not", "this setting has that value" that
	// can be together at all, is; and every number of a counted feature that
	// can be.
	Specimens []Specimen
	// Pairs there are in the specimens, and such as no allowed specification
	// has.
	Pairs, Impossible int
	// Undecided are pairs that the work did not suffice for; they are in none
	// of the specimens.
	Undecided int
}

// Cover finds a covering set. Most faults of lines and prices show where two
// things meet (and are counted so in the literature on testing by pairs), so
// what holds over such a set is looked at in every pairing without looking at
// every specification.
//
// It is greedy: from a pair not yet covered, one feature after another is set
// to what covers the most pairs with those set before, each time only if it
// can be. It is not the smallest set. The same question gives the same set.
// Errors as of Prove.
func (r *Rules) Cover(c Covering) (Covered, error) {
	left := c.Work
	sc := r.model.newScope(r.asItComes(c.Kept), &left)
	for i := range r.model.Rules {
		sc.rule(i)
	}
	if err := sc.begin(); err != nil {
		return Covered{}, err
	}
	v := newCovering(sc)
	for a := range v.items {
		if err := v.row(a, &c); err != nil {
			return Covered{}, err
		}
	}
	v.counts()
	return v.out, nil
}

// covering works on one Cover. An item is a literal: a feature there or not, a
// setting's value.
type covering struct {
	sc    *scope
	items []sat.Lit
	// choices are the items of which a specification has one: a feature's two,
	// a setting's values.
	choices [][]int
	open    []bitset // by item: those it has not been seen with, itself not
	number  [][]bool // by counted feature: counts not seen yet
	total   int      // pairs there were
	left    int      // pairs still open
	out     Covered
}

func newCovering(sc *scope) *covering {
	v := &covering{sc: sc}
	r := sc.rules
	add := func(lits ...sat.Lit) {
		var choice []int
		for _, l := range lits {
			if sc.can(l) == can { // what can never be is told by Prove
				choice = append(choice, len(v.items))
				v.items = append(v.items, l)
			}
		}
		v.choices = append(v.choices, choice)
	}
	for i, f := range r.model.Features {
		on := r.on(i, f.Least)
		add(on, on.Not())
		var counts []bool
		if f.Most > 1 {
			counts = make([]bool, f.Most+1)
			for k := f.Least; k <= f.Most; k++ {
				counts[k] = true
			}
		}
		v.number = append(v.number, counts)
	}
	for i := range r.model.Settings {
		var lits []sat.Lit
		for _, value := range r.value[i] {
			lits = append(lits, sat.Pos(value))
		}
		add(lits...)
	}
	v.open = make([]bitset, len(v.items))
	for a := range v.open {
		v.open[a] = newBitset(len(v.items))
		for b := range v.items {
			v.open[a].set(b)
		}
	}
	for _, choice := range v.choices { // one of them at a time is no pair
		for _, a := range choice {
			for _, b := range choice {
				v.open[a].clear(b)
			}
		}
	}
	for a := range v.open {
		v.total += v.open[a].len()
	}
	v.total /= 2
	v.left = v.total
	return v
}

// row covers every pair that item a is in.
func (v *covering) row(a int, c *Covering) error {
	defer v.sc.s.Back(0)
	for b := v.open[a].first(); b >= 0; b = v.open[a].first() {
		if c.Progress != nil && !c.Progress(v.total-v.left, v.total) {
			return ErrStopped
		}
		if v.sc.s.Depth() == 0 && v.sc.assume(v.items[a]) == undecided {
			v.out.Undecided += v.strike(a, b)
			continue
		}
		switch v.sc.assume(v.items[b]) {
		case can:
			v.specimen(a, b)
			v.sc.s.Back(0)
		case cannot:
			v.out.Impossible += v.strike(a, b)
		case undecided:
			v.out.Undecided += v.strike(a, b)
		}
	}
	return nil
}

// strike takes a pair out.
func (v *covering) strike(a, b int) int {
	v.open[a].clear(b)
	v.open[b].clear(a)
	v.left--
	return 1
}

// specimen finishes what is assumed to a specification that covers much.
func (v *covering) specimen(seeds ...int) {
	chosen := newBitset(len(v.items))
	for _, a := range seeds {
		chosen.set(a)
	}
	for i, choice := range v.choices {
		v.choose(choice, chosen)
		if i < len(v.number) && v.number[i] != nil {
			v.count(i)
		}
	}
	sp := v.sc.specimen()
	for i, n := range sp.Counts {
		if v.number[i] != nil {
			v.number[i][n] = false
		}
	}
	v.out.Specimens = append(v.out.Specimens, sp)
	var has []int
	for a, l := range v.items {
		if v.sc.s.Has(l) {
			has = append(has, a)
		}
	}
	for _, a := range has {
		for _, b := range has {
			if v.open[a].has(b) {
				v.strike(a, b)
				v.out.Pairs++
			}
		}
	}
}

// choose takes of one choice the item that covers the most with what is chosen.
func (v *covering) choose(choice []int, chosen bitset) {
	tried := 0
	for range choice {
		best, most := -1, -1
		for k, a := range choice {
			if tried&(1<<min(k, 62)) != 0 {
				continue
			}
			gain := 2 * v.open[a].common(chosen)
			if v.sc.s.Has(v.items[a]) {
				gain++ // what the model has needs no search
			}
			if gain > most {
				best, most = k, gain
			}
		}
		if best < 0 {
			return
		}
		tried |= 1 << min(best, 62)
		if v.sc.assume(v.items[choice[best]]) == can {
			chosen.set(choice[best])
			return
		}
	}
}

// count takes a number of a counted feature that has not been seen, the
// largest first.
func (v *covering) count(i int) {
	r := v.sc.rules
	f := &r.model.Features[i]
	for n := f.Most; n >= f.Least; n-- {
		if v.number[i][n] && v.exactly(i, n) {
			return
		}
	}
}

// exactly assumes that there are n of a feature.
func (v *covering) exactly(i, n int) bool {
	r := v.sc.rules
	depth := v.sc.s.Depth()
	if v.sc.assume(r.on(i, n)) == can && (n == r.model.Features[i].Most || v.sc.assume(r.on(i, n+1).Not()) == can) {
		return true
	}
	v.sc.s.Back(depth)
	return false
}

// counts covers the numbers of counted features not yet seen.
func (v *covering) counts() {
	for i, numbers := range v.number {
		for n := range numbers {
			if numbers[n] && v.exactly(i, n) {
				v.specimen()
			}
			v.sc.s.Back(0)
		}
	}
}

// bitset is a set of small numbers.
type bitset []uint64

func newBitset(n int) bitset    { return make(bitset, (n+63)/64) }
func (b bitset) set(i int)      { b[i/64] |= 1 << (i % 64) }
func (b bitset) clear(i int)    { b[i/64] &^= 1 << (i % 64) }
func (b bitset) has(i int) bool { return b[i/64]&(1<<(i%64)) != 0 }
func (b bitset) common(o bitset) (n int) {
	for i, w := range b {
		n += bits.OnesCount64(w & o[i])
	}
	return n
}

func (b bitset) len() (n int) {
	for _, w := range b {
		n += bits.OnesCount64(w)
	}
	return n
}

// first is the least number of the set, -1 for none.
func (b bitset) first() int {
	for i, w := range b {
		if w != 0 {
			return i*64 + bits.TrailingZeros64(w)
		}
	}
	return -1
}
