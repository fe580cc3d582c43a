package formula

import "fmt"

// operation is what a node does.
type operation uint8

const (
	constant operation = iota + 1
	read               // a name
	negate             // -a
	not                // !a
	add
	subtract
	multiply
	divide
	and
	or
	equal // numbers or truths
	notEqual
	less
	atMost
	more
	atLeast
	isText    // name == text
	isNotText // name != text
	choose    // a ? b : c
	minimum
	maximum
	roundUp
	roundDown
	roundTo
	absolute
	oneIf
	scaleBy // a conversion of units: times or over number
	steps
	calculate // a formula of bom/engineering
)

// node is one checked operation. Nodes never change once a formula is made.
type node struct {
	op      operation
	kind    Kind
	unit    string // of a number, "" when it is not certain
	at      int    // column
	name    *name  // of read, isText, isNotText
	number  number // of constant; yes is 1
	text    string // of a text constant, isText, isNotText
	places  int    // of roundTo
	a, b, c *node
	worked  *working // of calculate
}

// uses adds the names n reads.
func (n *node) uses(into []string) []string {
	if n == nil {
		return into
	}
	if n.name != nil {
		into = append(into, n.name.text)
	}
	if n.worked != nil {
		for _, a := range n.worked.args {
			into = a.uses(into)
		}
	}
	return n.c.uses(n.b.uses(n.a.uses(into)))
}

// fold works out what reads nothing. A constant part that cannot be worked out
// can never be, so it is refused.
func (n *node) fold() (*node, *Error) {
	if n.op == calculate {
		return n.worked.fold(n)
	}
	if n.op == constant || n.a == nil {
		return n, nil
	}
	folded := *n
	fixed := true
	for _, arg := range []**node{&folded.a, &folded.b, &folded.c} {
		if *arg == nil {
			continue
		}
		a, err := (*arg).fold()
		if err != nil {
			return nil, err
		}
		*arg = a
		fixed = fixed && a.op == constant
	}
	if !fixed {
		return &folded, nil
	}
	x, err := folded.value(nil)
	if err != nil {
		return nil, err
	}
	return &node{op: constant, kind: n.kind, unit: n.unit, at: n.at, number: x}, nil
}

// value works n out: a number, or 1 for yes and 0 for no. Its cost is bounded
// by the length of the formula: every node is worked at most once, and none of
// them loops.
func (n *node) value(v *Values) (number, *Error) {
	switch n.op {
	case constant:
		return n.number, nil
	case read:
		x := v.numbers[n.name.at]
		if x == unset {
			return zero, n.noValue()
		}
		return x, nil
	case isText, isNotText:
		text := v.texts[n.name.at]
		if text == unsetText {
			return zero, n.noValue()
		}
		return truth((text == n.text) == (n.op == isText)), nil
	case and, or:
		return n.both(v)
	case choose:
		a, err := n.a.value(v)
		if err != nil {
			return zero, err
		}
		if a != zero {
			return n.b.value(v)
		}
		return n.c.value(v)
	case calculate:
		return n.worked.value(n, v)
	}
	a, err := n.a.value(v)
	if err != nil {
		return zero, err
	}
	if n.b == nil {
		return n.unary(a)
	}
	b, err := n.b.value(v)
	if err != nil {
		return zero, err
	}
	return n.binary(a, b)
}

// both is && and ||. As CEL has it, one decisive side is enough even when the
// other cannot be worked out, so the order of writing does not matter.
func (n *node) both(v *Values) (number, *Error) {
	decisive := truth(n.op == or)
	a, errA := n.a.value(v)
	if errA == nil && a == decisive {
		return a, nil
	}
	b, errB := n.b.value(v)
	switch {
	case errB == nil && b == decisive:
		return b, nil
	case errA != nil:
		return zero, errA
	}
	return b, errB
}

func (n *node) unary(a number) (number, *Error) {
	switch n.op {
	case negate:
		return a.negated(), nil
	case not:
		return truth(a == zero), nil
	case roundUp:
		return n.checked(a.toMultiple(scale, up), true)
	case roundDown:
		return n.checked(a.toMultiple(scale, down), true)
	case roundTo:
		return n.checked(a.toMultiple(powersOfTen[Places-n.places], halfUp), true)
	case absolute:
		return a.magnitude(), nil
	case oneIf:
		return a, nil
	case scaleBy:
		return n.checked(a.times(n.number))
	}
	panic(fmt.Sprintf("formula: no operation %d with one argument", n.op))
}

func (n *node) binary(a, b number) (number, *Error) {
	switch n.op {
	case add:
		return n.checked(a.plus(b), true)
	case subtract:
		return n.checked(a.minus(b), true)
	case multiply:
		return n.checked(a.times(b))
	case divide:
		if b == zero {
			return zero, n.byZero("This divides by zero.")
		}
		return n.checked(a.over(b))
	case steps:
		if b.compare(zero) <= 0 {
			return zero, n.byZero("The step is not above zero.")
		}
		q, err := n.checked(a.over(b))
		if err != nil {
			return zero, err
		}
		return n.checked(q.toMultiple(scale, up), true)
	case minimum:
		if b.compare(a) < 0 {
			return b, nil
		}
		return a, nil
	case maximum:
		if b.compare(a) > 0 {
			return b, nil
		}
		return a, nil
	case equal:
		return truth(a == b), nil
	case notEqual:
		return truth(a != b), nil
	case less:
		return truth(a.compare(b) < 0), nil
	case atMost:
		return truth(a.compare(b) <= 0), nil
	case more:
		return truth(a.compare(b) > 0), nil
	case atLeast:
		return truth(a.compare(b) >= 0), nil
	}
	panic(fmt.Sprintf("formula: no operation %d with two arguments", n.op))
}

func truth(yes bool) number {
	if yes {
		return one
	}
	return zero
}

func (n *node) checked(x number, ok bool) (number, *Error) {
	if ok && x.within() {
		return x, nil
	}
	return zero, fault(n.at, "The result reaches 1,000,000,000,000,000, the limit of formulas.",
		"Look for a wrong unit or a divisor close to zero.")
}

func (n *node) byZero(reason string) *Error {
	return fault(n.at, reason, "Guard it, as in x > 0 ? y / x : 0.")
}

func (n *node) noValue() *Error {
	reason := n.name.text + " has no value here."
	if n.name.is == figure {
		reason = n.name.text + " could not be worked out."
	}
	return fault(n.at, reason, "Mend what it comes from first.")
}
