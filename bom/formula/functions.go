package formula

import (
	"sort"
	"strconv"
	"strings"
)

// function is one a formula may call.
type function struct {
	name string
	op   operation
	args int
	use  string // how it is written, for remedies
	// takes and gives are the units of a conversion, factor what it
	// multiplies by (a power of ten).
	takes, gives string
	factor       number
}

// functions are all there are.
var functions = []function{
	{name: "min", op: minimum, args: 2, use: "min(a, b)"},
	{name: "max", op: maximum, args: 2, use: "max(a, b)"},
	{name: "ceil", op: roundUp, args: 1, use: "ceil(x)"},
	{name: "floor", op: roundDown, args: 1, use: "floor(x)"},
	{name: "round", op: roundTo, args: 2, use: "round(x, places)"},
	{name: "abs", op: absolute, args: 1, use: "abs(x)"},
	{name: "one", op: oneIf, args: 1, use: "one(yes or no)"},
	{name: "steps", op: steps, args: 2, use: "steps(x, step)"},
	{name: "mm_to_m", op: scaleBy, args: 1, use: "mm_to_m(x)", takes: "mm", gives: "m", factor: number{lo: scale / 1000}},
	{name: "m_to_mm", op: scaleBy, args: 1, use: "m_to_mm(x)", takes: "m", gives: "mm", factor: number{lo: scale * 1000}},
	{name: "mm2_to_m2", op: scaleBy, args: 1, use: "mm2_to_m2(x)", takes: "mm2", gives: "m2", factor: number{lo: 1_000_000}},
	{name: "m2_to_mm2", op: scaleBy, args: 1, use: "m2_to_mm2(x)", takes: "m2", gives: "mm2", factor: number{lo: scale * 1_000_000}},
}

func findFunction(name string) *function {
	for i := range functions {
		if functions[i].name == name {
			return &functions[i]
		}
	}
	return nil
}

func functionList() string {
	uses := make([]string, len(functions))
	for i, f := range functions {
		uses[i] = f.use
	}
	sort.Strings(uses)
	return strings.Join(uses, ", ")
}

// call checks a call of f with its arguments, already checked themselves.
func (f *function) call(at int, args []*node) (*node, *Error) {
	if len(args) != f.args {
		return nil, fault(at, f.name+" takes "+valuesWord(f.args)+" and is given "+strconv.Itoa(len(args))+".",
			"Write "+f.use+".")
	}
	want := Number
	if f.op == oneIf {
		want = Truth
	}
	for _, a := range args {
		if a.kind != want {
			return nil, wrongKind(a, want)
		}
	}
	n := &node{op: f.op, kind: Number, at: at, a: args[0], unit: args[0].unit}
	switch f.op {
	case minimum, maximum, steps:
		n.b = args[1]
		unit, err := like(at, f.name+" is given", n.a, n.b)
		if err != nil {
			return nil, err
		}
		n.unit = unit
		if f.op == steps {
			n.unit = Count
		}
	case roundTo:
		places := args[1]
		if places.op != constant || places.number.negative() || places.number.compare(whole(Places)) > 0 ||
			places.number != places.number.toMultiple(scale, down) {
			return nil, fault(places.at, "round takes its places as a plain whole number from 0 to "+strconv.Itoa(Places)+".",
				"Write the number itself, as in round(x, 2).")
		}
		n.places = int(places.number.lo / scale)
	case oneIf:
		n.unit = Count
	case scaleBy:
		n.number, n.unit = f.factor, f.gives
		if have := n.a.unit; have != "" && have != f.takes {
			return nil, fault(n.a.at, f.name+" takes "+f.takes+" and is given "+have+".",
				"Leave it out, or convert something in "+f.takes+".")
		}
	}
	return n, nil
}

func valuesWord(n int) string {
	if n == 1 {
		return "one value"
	}
	return strconv.Itoa(n) + " values"
}

// like gives the common unit of two numbers that meet as equals.
func like(at int, doing string, a, b *node) (string, *Error) {
	switch {
	case a.unit == "":
		return b.unit, nil
	case b.unit == "" || a.unit == b.unit:
		return a.unit, nil
	}
	return "", fault(at, doing+" "+unitWords(a.unit)+" and "+unitWords(b.unit)+".", conversion(a.unit, b.unit))
}

func unitWords(unit string) string {
	if unit == Count {
		return "a plain number"
	}
	return strings.ReplaceAll(unit, "_per_", " per ")
}
