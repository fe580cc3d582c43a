package formula

import "github.com/shopspring/decimal"

// Between gives bounds of what a number formula can come to where each number
// and truth it reads lies between the two values given for it; a text is the one
// in least, or any where it has none there. Values for which the formula cannot
// be worked out do not count. False where there is no telling.
func (f *Formula) Between(least, most *Values) (from, to decimal.Decimal, ok bool) {
	if f.root.op == constant {
		d := f.root.number.decimal()
		return d, d, true
	}
	r, ok := f.root.between(least, most)
	if !ok {
		return decimal.Decimal{}, decimal.Decimal{}, false
	}
	return r.from.decimal(), r.to.decimal(), true
}

// bounds are two numbers, the first not above the second.
type bounds struct{ from, to number }

var either = bounds{zero, one}

// between bounds n. A truth is always bounded: it may be either.
func (n *node) between(least, most *Values) (bounds, bool) {
	r, ok := n.bound(least, most)
	if !ok && n.kind == Truth {
		return either, true
	}
	return r, ok
}

func (n *node) bound(least, most *Values) (bounds, bool) {
	switch n.op {
	case constant:
		return bounds{n.number, n.number}, true
	case read:
		from, to := least.numbers[n.name.at], most.numbers[n.name.at]
		return bounds{from, to}, from != unset && to != unset
	case isText, isNotText:
		text := least.texts[n.name.at]
		is := truth((text == n.text) == (n.op == isText))
		return bounds{is, is}, text != unsetText
	case calculate:
		return n.worked.bound(n, least, most)
	}
	a, okA := n.a.between(least, most)
	if n.op == choose {
		switch {
		case a.from == one:
			return n.b.between(least, most)
		case a.to == zero:
			return n.c.between(least, most)
		}
		b, okB := n.b.between(least, most)
		c, okC := n.c.between(least, most)
		return bounds{smaller(b.from, c.from), larger(b.to, c.to)}, okB && okC
	}
	if n.b == nil {
		if !okA {
			return a, false
		}
		return n.unaryBetween(a)
	}
	b, okB := n.b.between(least, most)
	if !okA || !okB {
		return either, false
	}
	return n.binaryBetween(a, b)
}

func smaller(a, b number) number {
	if b.compare(a) < 0 {
		return b
	}
	return a
}

func larger(a, b number) number {
	if b.compare(a) > 0 {
		return b
	}
	return a
}

// unaryBetween: every operation rises or falls all the way, but the magnitude
// has its least at nothing.
func (n *node) unaryBetween(a bounds) (bounds, bool) {
	x, err1 := n.unary(a.from)
	y, err2 := n.unary(a.to)
	r := bounds{smaller(x, y), larger(x, y)}
	if n.op == absolute && a.from.negative() && !a.to.negative() {
		r.from = zero
	}
	return r, err1 == nil && err2 == nil
}

// binaryBetween: with one side held, every operation on numbers rises or falls
// all the way (dividing, on one side of nothing), so its bounds are at corners.
func (n *node) binaryBetween(a, b bounds) (bounds, bool) {
	switch n.op {
	case and:
		return bounds{smaller(a.from, b.from), smaller(a.to, b.to)}, true
	case or:
		return bounds{larger(a.from, b.from), larger(a.to, b.to)}, true
	case equal, notEqual:
		if a.from == a.to && b.from == b.to {
			x, err := n.binary(a.from, b.from)
			return bounds{x, x}, err == nil
		}
		if a.to.compare(b.from) < 0 || b.to.compare(a.from) < 0 {
			is := truth(n.op == notEqual)
			return bounds{is, is}, true
		}
		return either, true
	case divide, steps:
		if b.from.compare(zero) <= 0 && (n.op == steps || b.to.compare(zero) >= 0) {
			return either, false
		}
	}
	var r bounds
	for i, x := range [...]number{a.from, a.to} {
		for j, y := range [...]number{b.from, b.to} {
			v, err := n.binary(x, y)
			if err != nil {
				return either, false
			}
			if i+j == 0 {
				r = bounds{v, v}
			}
			r = bounds{smaller(r.from, v), larger(r.to, v)}
		}
	}
	return r, true
}

// Holds says of a truth formula whether it holds for all values between those
// given, and whether it may hold for any; as Between.
func (f *Formula) Holds(least, most *Values) (always, ever bool) {
	r, _ := f.root.between(least, most)
	return r.from == one, r.to == one
}

// CopyOf makes v what other is, of the same Scope.
func (v *Values) CopyOf(other *Values) {
	copy(v.numbers, other.numbers)
	copy(v.texts, other.texts)
}
