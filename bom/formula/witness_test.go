package formula

import (
	"errors"
	"fmt"
	"math/big"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
)

// witness works formulas out with CEL's own ANTLR grammar, type checker and
// interpreter, and with fractions of any length for numbers. It shares no code
// with what it bears witness to: not the grammar, not the checker, not the
// arithmetic, not the reading of literals.
type witness struct {
	scope *Scope
	env   *cel.Env
}

// fraction is a number of the witness.
type fraction struct{ *big.Rat }

var fractionType = types.NewOpaqueType("fraction")

func (f fraction) ConvertToNative(reflect.Type) (any, error) { return nil, errors.New("not wanted") }
func (f fraction) ConvertToType(ref.Type) ref.Val            { return types.NewErr("not wanted") }
func (f fraction) Equal(other ref.Val) ref.Val               { return types.Bool(f.Cmp(other.(fraction).Rat) == 0) }
func (f fraction) Type() ref.Type                            { return fractionType }
func (f fraction) Value() any                                { return f.Rat }

var largestFraction = new(big.Rat).SetInt64(Largest)

// kept rounds to Places, half away from zero, and keeps the limit.
func kept(r *big.Rat) ref.Val {
	r = roundedFraction(r, Places)
	if new(big.Rat).Abs(r).Cmp(largestFraction) >= 0 {
		return types.NewErr("too large")
	}
	return fraction{r}
}

func roundedFraction(r *big.Rat, places int64) *big.Rat {
	ten := new(big.Int).Exp(big.NewInt(10), big.NewInt(places), nil)
	n := new(big.Int).Mul(new(big.Int).Abs(r.Num()), ten)
	q, rest := new(big.Int).QuoRem(n, r.Denom(), new(big.Int))
	if rest.Lsh(rest, 1).Cmp(r.Denom()) >= 0 {
		q.Add(q, big.NewInt(1))
	}
	if r.Sign() < 0 {
		q.Neg(q)
	}
	return new(big.Rat).SetFrac(q, ten)
}

// whole rounds down (-1) or up (+1) to a whole number.
func wholeFraction(r *big.Rat, direction int) *big.Rat {
	q := new(big.Int).Div(r.Num(), r.Denom()) // Euclidean: down, the divisor being positive
	if direction > 0 && !r.IsInt() {
		q.Add(q, big.NewInt(1))
	}
	return new(big.Rat).SetInt(q)
}

func newWitness(tb testing.TB, s *Scope) *witness {
	tb.Helper()
	num, boolean, text := fractionType, cel.BoolType, cel.StringType
	two := func(id string, result *cel.Type, f func(a, b *big.Rat) ref.Val) cel.FunctionOpt {
		return cel.Overload(id, []*cel.Type{num, num}, result, cel.BinaryBinding(func(a, b ref.Val) ref.Val {
			return f(a.(fraction).Rat, b.(fraction).Rat)
		}))
	}
	single := func(id string, f func(a *big.Rat) ref.Val) cel.FunctionOpt {
		return cel.Overload(id, []*cel.Type{num}, num, cel.UnaryBinding(func(a ref.Val) ref.Val { return f(a.(fraction).Rat) }))
	}
	compare := func(operator string, holds func(int) bool) cel.EnvOption {
		return cel.Function(operator, two(operator, boolean, func(a, b *big.Rat) ref.Val { return types.Bool(holds(a.Cmp(b))) }))
	}
	same := func(operator string) cel.EnvOption {
		return cel.Function(operator,
			cel.Overload(operator+"n", []*cel.Type{num, num}, boolean),
			cel.Overload(operator+"b", []*cel.Type{boolean, boolean}, boolean),
			cel.Overload(operator+"t", []*cel.Type{text, text}, boolean))
	}
	divided := func(a, b *big.Rat) ref.Val {
		if b.Sign() == 0 {
			return types.NewErr("by zero")
		}
		return kept(new(big.Rat).Quo(a, b))
	}
	factor := func(name string, by *big.Rat) cel.EnvOption {
		return cel.Function(name, single(name, func(a *big.Rat) ref.Val { return kept(new(big.Rat).Mul(a, by)) }))
	}
	p := types.NewTypeParamType("T")
	options := []cel.EnvOption{
		cel.Function(operators.Add, two("add", num, func(a, b *big.Rat) ref.Val { return kept(new(big.Rat).Add(a, b)) })),
		cel.Function(operators.Subtract, two("subtract", num, func(a, b *big.Rat) ref.Val { return kept(new(big.Rat).Sub(a, b)) })),
		cel.Function(operators.Multiply, two("multiply", num, func(a, b *big.Rat) ref.Val { return kept(new(big.Rat).Mul(a, b)) })),
		cel.Function(operators.Divide, two("divide", num, divided)),
		cel.Function(operators.Negate, single("negate", func(a *big.Rat) ref.Val { return fraction{new(big.Rat).Neg(a)} })),
		compare(operators.Less, func(c int) bool { return c < 0 }),
		compare(operators.LessEquals, func(c int) bool { return c <= 0 }),
		compare(operators.Greater, func(c int) bool { return c > 0 }),
		compare(operators.GreaterEquals, func(c int) bool { return c >= 0 }),
		same(operators.Equals), same(operators.NotEquals),
		cel.Function(operators.LogicalAnd, cel.Overload("and", []*cel.Type{boolean, boolean}, boolean)),
		cel.Function(operators.LogicalOr, cel.Overload("or", []*cel.Type{boolean, boolean}, boolean)),
		cel.Function(operators.LogicalNot, cel.Overload("not", []*cel.Type{boolean}, boolean,
			cel.UnaryBinding(func(a ref.Val) ref.Val { return !a.(types.Bool) }))),
		cel.Function(operators.Conditional, cel.Overload("choose", []*cel.Type{boolean, p, p}, p)),
		cel.Function("min", two("min", num, func(a, b *big.Rat) ref.Val {
			if a.Cmp(b) <= 0 {
				return fraction{a}
			}
			return fraction{b}
		})),
		cel.Function("max", two("max", num, func(a, b *big.Rat) ref.Val {
			if a.Cmp(b) >= 0 {
				return fraction{a}
			}
			return fraction{b}
		})),
		cel.Function("ceil", single("ceil", func(a *big.Rat) ref.Val { return kept(wholeFraction(a, 1)) })),
		cel.Function("floor", single("floor", func(a *big.Rat) ref.Val { return kept(wholeFraction(a, -1)) })),
		cel.Function("round", two("round", num, func(a, b *big.Rat) ref.Val { return kept(roundedFraction(a, b.Num().Int64())) })),
		cel.Function("abs", single("abs", func(a *big.Rat) ref.Val { return fraction{new(big.Rat).Abs(a)} })),
		cel.Function("one", cel.Overload("one", []*cel.Type{boolean}, num, cel.UnaryBinding(func(a ref.Val) ref.Val {
			if a.(types.Bool) {
				return fraction{big.NewRat(1, 1)}
			}
			return fraction{new(big.Rat)}
		}))),
		cel.Function("steps", two("steps", num, func(a, b *big.Rat) ref.Val {
			if b.Sign() <= 0 {
				return types.NewErr("no step")
			}
			q, ok := divided(a, b).(fraction)
			if !ok {
				return types.NewErr("too large")
			}
			return kept(wholeFraction(q.Rat, 1))
		})),
		factor("mm_to_m", big.NewRat(1, 1000)), factor("m_to_mm", big.NewRat(1000, 1)),
		factor("mm2_to_m2", big.NewRat(1, 1_000_000)), factor("m2_to_mm2", big.NewRat(1_000_000, 1)),
		// A literal, rewritten into a call below.
		cel.Function("literal", cel.Overload("literal", []*cel.Type{text}, num, cel.UnaryBinding(func(a ref.Val) ref.Val {
			r, _ := new(big.Rat).SetString(string(a.(types.String)))
			return fraction{r}
		}))),
	}
	options = append(options, calculationsOfWitness()...)
	for _, n := range s.sorted {
		kind := map[Kind]*cel.Type{Number: num, Truth: boolean, Text: text}[n.kind]
		options = append(options, cel.Variable(n.text, kind))
	}
	env, err := cel.NewCustomEnv(options...)
	if err != nil {
		tb.Fatal(err)
	}
	return &witness{s, env}
}

// program checks a formula and readies it; cost limits how long it may run.
func (w *witness) program(source string, cost uint64) (cel.Program, *cel.Type, error) {
	parsed, issues := w.env.Parse(source)
	if issues.Err() != nil {
		return nil, nil, issues.Err()
	}
	factory, next := ast.NewExprFactory(), int64(1_000_000)
	ast.PostOrderVisit(parsed.NativeRep().Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if e.Kind() != ast.LiteralKind {
			return
		}
		var written string
		switch v := e.AsLiteral().(type) {
		case types.Int:
			written = strconv.FormatInt(int64(v), 10)
		case types.Double: // the shortest text that reads as this float
			written = strconv.FormatFloat(float64(v), 'f', -1, 64)
		default:
			return
		}
		next++
		e.SetKindCase(factory.NewCall(e.ID(), "literal", factory.NewLiteral(next, types.String(written))))
	}))
	checked, issues := w.env.Check(parsed)
	if issues.Err() != nil {
		return nil, nil, issues.Err()
	}
	program, err := w.env.Program(checked, cel.CostLimit(cost))
	return program, checked.OutputType(), err
}

// activation gives the witness the same values.
func (w *witness) activation(v *Values) map[string]any {
	vars := map[string]any{}
	for _, n := range w.scope.sorted {
		switch n.kind {
		case Text:
			if v.texts[n.at] != unsetText {
				vars[n.text] = v.texts[n.at]
			}
		case Number, Truth:
			x := v.numbers[n.at]
			switch {
			case x == unset:
			case n.kind == Truth:
				vars[n.text] = x != zero
			default:
				r := new(big.Rat).SetFrac(x.big(), big.NewInt(scale))
				vars[n.text] = ref.Val(fraction{r})
			}
		}
	}
	return vars
}

// agree holds one formula against the witness and says how it came out.
func (w *witness) agree(f *Formula, v *Values, vars map[string]any) (string, error) {
	program, result, err := w.program(f.source, 100_000)
	if err != nil {
		return "", fmt.Errorf("accepted here, refused by CEL: %w", err)
	}
	want := fractionType
	if f.root.kind == Truth {
		want = cel.BoolType
	}
	if !result.IsExactType(want) {
		return "", fmt.Errorf("gives %v in CEL", result)
	}
	out, _, celErr := program.Eval(vars)
	x, ourErr := f.root.value(v)
	if (celErr != nil) != (ourErr != nil) {
		return "", fmt.Errorf("here %v and %q, in CEL %v and %q", x, fmt.Sprint(ourErr), out, fmt.Sprint(celErr))
	}
	if ourErr != nil {
		return "error", nil //nolint:nilerr // both fail, so they agree
	}
	ours := new(big.Rat).SetFrac(x.big(), big.NewInt(scale))
	switch o := out.(type) {
	case fraction:
		if ours.Cmp(o.Rat) != 0 {
			return "", fmt.Errorf("%s here, %s in CEL", ours.FloatString(Places), o.FloatString(Places))
		}
	case types.Bool:
		if (ours.Sign() != 0) != bool(o) {
			return "", fmt.Errorf("%v here, %v in CEL", x, o)
		}
	default:
		return "", fmt.Errorf("CEL gives %T", out)
	}
	return "value", nil
}

// TestWitnessReadsTheSame tries the sources of the tables here.
func TestWitnessReadsTheSame(t *testing.T) {
	s := testScope(t)
	v := testValues(t, s)
	w := newWitness(t, s)
	vars := w.activation(v)
	for source := range strings.SplitSeq(strings.TrimSpace(`
0.1 * 3 / 0.1
sockets * 1.5 + van.rib_count - -2
hob && (oven || sockets > 2) ? mm_to_m(van.load_length_mm) : 0.0
steps(van.load_length_mm, 600) * round(2.675, 2) - ceil(-0.5)
van.body == "panel van" && finish.fabric != '' ? 1 : 2
water_l > 0 || hob ? 1 : 2
water_l > 0 && hob ? 1 : 2
1 / one(oven)
sockets * 999999999999999
one(hob == !oven) + max(min(1, 2), abs(-3)) + floor(-0.5)
`), "\n") {
		f, err := s.Compile(source, Number)
		if err != nil {
			t.Errorf("%s: %v", source, err)
			continue
		}
		if _, err := w.agree(f, v, vars); err != nil {
			t.Errorf("%s: %v", source, err)
		}
	}
}
