package formula

import (
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// Formula is a checked expression that gives a number or a yes or no. It never
// changes and may be used by several goroutines at once, each with its own
// Values.
type Formula struct {
	source   string
	root     *node
	uses     []string
	constant decimal.Decimal // of a number formula that reads nothing
}

// where says what a formula is for, and so what it may read.
type where uint8

const (
	inQuantities where = iota + 1 // everything but the totals of the build sheet
	inChecks                      // the totals too
	inRules                       // no quantities, and nothing that is weighed
)

type formulaKey struct {
	source string
	want   Kind
	where  where
}

type compiled struct {
	formula *Formula
	err     *Error
}

// Compile checks a formula of a figure or a line and readies it. An empty
// source means 1 for a number and yes for a truth. The error is an *Error.
// The same source is compiled once.
func (s *Scope) Compile(source string, want Kind) (*Formula, error) {
	return s.compile(formulaKey{source, want, inQuantities})
}

// CompileCheck is Compile for a check, which may read the build sheet's totals
// (sheet.mass_kg, sheet.hours, sheet.left_kg) too.
func (s *Scope) CompileCheck(source string, want Kind) (*Formula, error) {
	return s.compile(formulaKey{source, want, inChecks})
}

func (s *Scope) compile(key formulaKey) (*Formula, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c, ok := s.compiled[key]
	if !ok {
		c.formula, c.err = s.compileNew(key)
		s.compiled[key] = c
	}
	if c.err != nil {
		return nil, c.err
	}
	return c.formula, nil
}

func (s *Scope) compileNew(key formulaKey) (*Formula, *Error) {
	f := &Formula{source: key.source}
	if key.source == "" {
		f.root = &node{op: constant, kind: key.want, at: 1, number: one}
		f.constant = one.decimal()
		return f, nil
	}
	root, err := s.read(key.source, key.where)
	if err != nil {
		return nil, err
	}
	if root.kind != key.want {
		return nil, wrongKind(root, key.want)
	}
	cost := root.cost()
	if s.cost += cost; cost > 0 && s.cost > MaxCost {
		return nil, fault(root.at, "The formulas of this catalogue ask for more engineering than can be worked out while somebody waits.",
			"Work a thing out once, as a figure, and let the other formulas read it.")
	}
	f.uses = root.uses(nil)
	slices.Sort(f.uses)
	f.uses = slices.Compact(f.uses)
	f.root, err = root.fold()
	if err != nil {
		return nil, err
	}
	if f.root.op == constant {
		f.constant = f.root.number.decimal()
	}
	return f, nil
}

// Source gives the formula as written.
func (f *Formula) Source() string { return f.source }

// Uses gives the names the formula reads, sorted, each once.
func (f *Formula) Uses() []string { return slices.Clone(f.uses) }

// Unit gives the unit of a number formula as far as it is certain: a unit as
// names end in it, Count for a plain number, "" when it is not known, which
// fits anything.
func (f *Formula) Unit() string { return f.root.unit }

// Fits says whether the formula may give a quantity in a unit: "m", "kg", "h",
// or "each" and "visit", which are counted. One whose unit is not certain fits
// anything, and so does a plain number (sockets, for one metre a socket). The
// error is an *Error.
func (f *Formula) Fits(unit string) error {
	have := f.root.unit
	if have == "" || have == Count || have == unit {
		return nil
	}
	if dimensions[unit] == "" && !strings.Contains(unit, "_per_") {
		return fault(f.root.at, "This gives "+unitWords(have)+" where a number of things is wanted.",
			"Divide it by what one of them covers, as in steps(x, 600).")
	}
	return fault(f.root.at, "This gives "+unitWords(have)+" where "+unitWords(unit)+" is wanted.", conversion(have, unit))
}

// Number works the formula out. The error is an *Error: a division by zero, a
// result that reaches Largest, a name without a value.
func (f *Formula) Number(v *Values) (decimal.Decimal, error) {
	if f.root.kind != Number {
		panic("formula: Number of a formula that gives a truth")
	}
	if f.root.op == constant {
		return f.constant, nil
	}
	x, err := f.root.value(v)
	if err != nil {
		return decimal.Decimal{}, err
	}
	return x.decimal(), nil
}

// Truth works the formula out, with the errors of Number.
func (f *Formula) Truth(v *Values) (bool, error) {
	if f.root.kind != Truth {
		panic("formula: Truth of a formula that gives a number")
	}
	x, err := f.root.value(v)
	if err != nil {
		return false, err
	}
	return x != zero, nil
}

// ConstantNumber gives the value of a number formula that reads nothing.
func (f *Formula) ConstantNumber() (decimal.Decimal, bool) {
	if f.root.op != constant || f.root.kind != Number {
		return decimal.Decimal{}, false
	}
	return f.constant, true
}

// ConstantTruth gives the value of a truth formula that reads nothing.
func (f *Formula) ConstantTruth() (yes, ok bool) {
	if f.root.op != constant || f.root.kind != Truth {
		return false, false
	}
	return f.root.number != zero, true
}

func wrongKind(n *node, want Kind) *Error {
	got := n.kind
	switch {
	case want == Number && got == Truth && n.op == read && n.name.is == feature:
		return fault(n.at, "A number is wanted here, but "+n.name.text+" is there or not.",
			"Write one("+n.name.text+") for 1 when it is there and 0 when it is not.")
	case want == Number && got == Truth:
		return fault(n.at, "A number is wanted here, but this gives a yes or no.",
			"Write one(…) around it for 1 or 0, or … ? a : b for two numbers.")
	case want == Truth && got == Number && n.op == read && n.name.is == feature:
		return fault(n.at, "A yes or no is wanted here, but "+n.name.text+" is how many there are.",
			"Write "+n.name.text+" >= 1.")
	case want == Truth && got == Number:
		return fault(n.at, "A yes or no is wanted here, but this gives a number.",
			"Compare it with something, as in … > 0.")
	case got == Text && n.op == read:
		return fault(n.at, want.articled()+" is wanted here, but "+n.name.text+" is a text.",
			"Compare it with one of its values, as in "+n.name.text+` == "`+firstOr(n.name.values, "value")+`".`)
	}
	return fault(n.at, want.articled()+" is wanted here, but this is "+got.String()+".",
		"Texts can only be compared, as in finish.fabric == \"wool\".")
}

func (k Kind) articled() string {
	s := k.String()
	return "A" + s[1:]
}

func firstOr(list []string, otherwise string) string {
	if len(list) > 0 {
		return list[0]
	}
	return otherwise
}
