package formula

import (
	"errors"
	"fmt"
	"reflect"
	"testing"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"github.com/shopspring/decimal"
)

// ordinary is a formula as catalogues have them.
const ordinary = "steps(van.load_length_mm, 600) * 0.35 + sockets * 2.5"

// cableRun calls one of the published formulas, which remembers what it came to.
const cableRun = "drop_v(sockets * 2.5, mm_to_m(van.load_length_mm), 2.5, 30)"

const ordinaryTruth = "hob && (oven || sockets >= 2) && finish.fabric == 'wool'"

func BenchmarkNumber(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	for _, source := range []string{"2", "van.wall_area_m2", ordinary, "lining_m2 * 1.1 / 2.88", cableRun} {
		f, err := s.Compile(source, Number)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(source, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := f.Number(v); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkTruth(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	for _, source := range []string{"hob", ordinaryTruth} {
		f, err := s.Compile(source, Truth)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(source, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := f.Truth(v); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkPeerCEL works the ordinary formula out with CEL's own interpreter,
// the other way to do it: the same number registered as a type, literals made
// once, under a cost limit and without one.
func BenchmarkPeerCEL(b *testing.B) {
	s := testScope(b)
	v := testValues(b, s)
	vars := map[string]any{}
	for _, name := range []string{"van.load_length_mm", "sockets"} {
		vars[name] = ref.Val(peer{v.numbers[s.find(name).at]})
	}
	for _, c := range []struct {
		name    string
		options []cel.ProgramOption
	}{
		{"cost limit", []cel.ProgramOption{cel.CostLimit(100_000)}}, {"no limit", nil},
	} {
		program := peerProgram(b, ordinary, c.options...)
		out, _, err := program.Eval(vars)
		if err != nil || out.(peer).number != mustNumber(b, s, v, ordinary) {
			b.Fatal(out, err)
		}
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := program.Eval(vars); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func mustNumber(b *testing.B, s *Scope, v *Values, source string) number {
	b.Helper()
	f, err := s.Compile(source, Number)
	if err != nil {
		b.Fatal(err)
	}
	x, fault := f.root.value(v)
	if fault != nil {
		b.Fatal(fault)
	}
	return x
}

// peer is a number as CEL takes one.
type peer struct{ number }

func (p peer) ConvertToNative(reflect.Type) (any, error) { return nil, errors.New("not wanted") }
func (p peer) ConvertToType(ref.Type) ref.Val            { return types.NewErr("not wanted") }
func (p peer) Equal(other ref.Val) ref.Val               { return types.Bool(p == other) }
func (p peer) Type() ref.Type                            { return fractionType }
func (p peer) Value() any                                { return p.number }

func peerProgram(b *testing.B, source string, options ...cel.ProgramOption) cel.Program {
	b.Helper()
	binary := func(name string, op operation) cel.EnvOption {
		return cel.Function(name, cel.Overload(name, []*cel.Type{fractionType, fractionType}, fractionType,
			cel.BinaryBinding(func(x, y ref.Val) ref.Val {
				z, err := (&node{op: op}).binary(x.(peer).number, y.(peer).number)
				if err != nil {
					return types.WrapErr(err)
				}
				return peer{z}
			})))
	}
	env, err := cel.NewCustomEnv(binary(operators.Add, add), binary(operators.Multiply, multiply), binary("steps", steps),
		cel.Variable("van.load_length_mm", fractionType), cel.Variable("sockets", fractionType),
		cel.Function("literal", cel.Overload("literal", []*cel.Type{cel.StringType}, fractionType)))
	if err != nil {
		b.Fatal(err)
	}
	parsed, issues := env.Parse(source)
	if issues.Err() != nil {
		b.Fatal(issues)
	}
	factory, values := ast.NewExprFactory(), map[int64]ref.Val{}
	ast.PostOrderVisit(parsed.NativeRep().Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if e.Kind() == ast.LiteralKind {
			x, _ := fromDecimal(decimal.RequireFromString(fmt.Sprint(e.AsLiteral().Value())))
			values[e.ID()] = peer{x}
			e.SetKindCase(factory.NewCall(e.ID(), "literal", factory.NewLiteral(e.ID()+1000, types.String(""))))
		}
	}))
	checked, issues := env.Check(parsed)
	if issues.Err() != nil {
		b.Fatal(issues)
	}
	ast.PostOrderVisit(checked.NativeRep().Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if x := values[e.ID()]; x != nil {
			e.SetKindCase(factory.NewLiteral(e.ID(), x))
		}
	}))
	program, err := env.Program(checked, options...)
	if err != nil {
		b.Fatal(err)
	}
	return program
}

// BenchmarkCompile compiles 600 different formulas in a fresh scope, as a
// program does when it starts.
func BenchmarkCompile(b *testing.B) {
	sources := make([]string, 600)
	for i := range sources {
		sources[i] = fmt.Sprintf("%s + %d", ordinary, i)
	}
	c := testCatalogue()
	b.ReportAllocs()
	for b.Loop() {
		s, _ := NewScope(c)
		for _, source := range sources {
			if _, err := s.Compile(source, Number); err != nil {
				b.Fatal(err)
			}
		}
	}
}
