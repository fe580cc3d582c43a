package formula

import (
	"fmt"

	"wainscot/bom/catalogue"
)

// Condition checks the condition of a rule, a group or a finish and gives its
// Boolean shape. It may say, joined by &&, || and !:
//
//   - a feature that is not counted, by itself;
//   - a counted feature compared with a whole number;
//   - a particular of the van or a finish == or != one of its values
//     (finish.x == "" says that none is chosen yet);
//   - a fact of the base van: a yes or no by itself, a number or text compared
//     with a constant. Fold with Decide settles these.
//
// An empty source is True. The error is an *Error; anything else a formula may
// say is refused with what to write instead, and so is a comparison of a count
// that holds always or never.
//
// Thresholds of a counted feature come out between its least and its most: to
// be there at all is On(code, least).
func (s *Scope) Condition(source string) (Condition, error) {
	if source == "" {
		return True, nil
	}
	root, err := s.read(source, inRules)
	if err != nil {
		return Condition{}, err
	}
	if root.kind != Truth {
		return Condition{}, wrongKind(root, Truth)
	}
	c, err := root.condition()
	if err != nil {
		return Condition{}, err
	}
	return c, nil
}

func (n *node) condition() (Condition, *Error) {
	switch n.op {
	case constant:
		if n.number != zero {
			return True, nil
		}
		return False, nil
	case read:
		if n.name.is == fact {
			return Condition{Op: IsFact, Fact: Comparison{Fact: bare(n.name), Yes: true}}, nil
		}
		return On(n.name.text, 1), nil
	case isText, isNotText:
		c := n.textCondition()
		return c, nil
	case not:
		c, err := n.a.condition()
		if err != nil {
			return Condition{}, err
		}
		return Not(c), nil
	case and, or:
		a, err := n.a.condition()
		if err != nil {
			return Condition{}, err
		}
		b, err := n.b.condition()
		if err != nil {
			return Condition{}, err
		}
		if n.op == and {
			return And(a, b), nil
		}
		return Or(a, b), nil
	case choose:
		return Condition{}, fault(n.at, "A rule has no ?: choice.",
			"Write (condition && a) || (!condition && b).")
	case equal, notEqual, less, atMost, more, atLeast:
		return n.comparisonCondition()
	}
	return Condition{}, fault(n.at, "A rule works nothing out.", "Compare a count or a fact with a plain number.")
}

// bare is a name without its family.
func bare(n *name) string { return n.text[len("van."):] }

func (n *node) textCondition() Condition {
	var c Condition
	switch {
	case n.name.is == fact:
		c = Condition{Op: IsFact, Fact: Comparison{Fact: bare(n.name), Op: "==", Text: n.text}}
	case n.text == "": // an open finish: none of its values
		var chosen []Condition
		for _, v := range n.name.values {
			chosen = append(chosen, Is(n.name.text, v))
		}
		c = Not(Or(chosen...))
	default:
		c = Is(n.name.text, n.text)
	}
	if n.op == isNotText {
		return Not(c)
	}
	return c
}

// mirrored is each comparison read from its other side.
var mirrored = map[operation]operation{
	equal: equal, notEqual: notEqual, less: more, more: less, atMost: atLeast, atLeast: atMost,
}

var written = map[operation]string{
	equal: "==", notEqual: "!=", less: "<", atMost: "<=", more: ">", atLeast: ">=",
}

func (n *node) comparisonCondition() (Condition, *Error) {
	op, a, b := n.op, n.a, n.b
	if a.kind == Truth {
		return Condition{}, fault(n.at, "A rule does not compare a yes or no.",
			"Write a for a == true, !a for a == false, and (a && b) || (!a && !b) for a == b.")
	}
	if a.op == constant {
		op, a, b = mirrored[op], b, a
	}
	if a.op != read || b.op != constant {
		return Condition{}, n.notPlain(a, b)
	}
	if a.name.is == fact {
		limit := b.number.decimal()
		return Condition{Op: IsFact, Fact: Comparison{Fact: bare(a.name), Op: written[op], Number: &limit}}, nil
	}
	return n.count(a.name, op, b.number)
}

// notPlain says why a comparison is not one of a name with a constant.
func (n *node) notPlain(a, b *node) *Error {
	for _, side := range []*node{a, b} {
		if side.op != constant && side.op != read {
			return fault(side.at, "A rule works nothing out.",
				"Compare a count or a fact with a plain number; what has to be worked out goes into a figure and a check.")
		}
	}
	if a.op == constant {
		return fault(n.at, "This compares two constants.", "Write true or false, or take it out.")
	}
	return fault(n.at, "A rule compares a count or a fact with a plain number, not with another one.",
		"Write the number, or several rules.")
}

// count turns a comparison of a counted feature into thresholds. It can be
// absent or anything from its least to its most.
func (n *node) count(name *name, op operation, limit number) (Condition, *Error) {
	if limit != limit.toMultiple(scale, down) {
		return Condition{}, fault(n.at, name.text+" is counted in whole ones.", "Compare it with a whole number.")
	}
	holds := func(k int) bool {
		c := whole(k).compare(limit)
		switch op {
		case equal:
			return c == 0
		case notEqual:
			return c != 0
		case less:
			return c < 0
		case atMost:
			return c <= 0
		case more:
			return c > 0
		}
		return c >= 0
	}
	// The counts that hold form one or two runs; each run from k to m is "at
	// least k and not at least m+1".
	var runs []Condition
	start, always := -1, true
	step := func(k int) int { // the next possible count
		if k == 0 {
			return name.least
		}
		return k + 1
	}
	for k := 0; k <= name.most; k = step(k) {
		switch h := holds(k); {
		case h && start < 0:
			start = k
		case !h && start >= 0:
			runs = append(runs, run(name.text, start, k))
			start = -1
		}
		always = always && holds(k)
	}
	if start >= 0 {
		runs = append(runs, run(name.text, start, 0))
	}
	switch {
	case always:
		return Condition{}, fault(n.at, "This always holds: "+counts(name), "Take it out, or compare within that.")
	case len(runs) == 0:
		return Condition{}, fault(n.at, "This never holds: "+counts(name), "Take it out, or compare within that.")
	}
	return Or(runs...), nil
}

// run says that there are at least from and fewer than until; from 0 and until
// 0 are no bounds.
func run(code string, from, until int) Condition {
	least, below := True, True
	if from > 0 {
		least = On(code, from)
	}
	if until > 0 {
		below = Not(On(code, until))
	}
	return And(least, below)
}

func counts(n *name) string {
	return fmt.Sprintf("there are none of %s or %d to %d.", n.text, n.least, n.most)
}

// Decide settles comparisons by the facts of a base van, for Condition.Fold. A
// fact the van does not state, or of another kind, makes its comparison false.
func Decide(facts catalogue.Facts) func(Comparison) bool {
	return func(c Comparison) bool {
		for i := range facts {
			if facts[i].Name == c.Fact {
				return c.holds(&facts[i])
			}
		}
		return false
	}
}

func (c Comparison) holds(f *catalogue.Fact) bool {
	switch {
	case c.Number != nil:
		if f.Kind != catalogue.NumberFact {
			return false
		}
		d := f.Number.Cmp(*c.Number)
		switch c.Op {
		case "==":
			return d == 0
		case "!=":
			return d != 0
		case "<":
			return d < 0
		case "<=":
			return d <= 0
		case ">":
			return d > 0
		case ">=":
			return d >= 0
		}
		return false
	case c.Op == "":
		return f.Kind == catalogue.YesNoFact && f.Yes == c.Yes
	case f.Kind != catalogue.TextFact:
		return false
	case c.Op == "!=":
		return f.Text != c.Text
	}
	return c.Op == "==" && f.Text == c.Text
}
