package formula

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"cel.dev/cel-go/common"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/parser"

	"wainscot/bom/catalogue"
)

// celParser reads CEL without its macros, so nothing a formula says expands
// into a loop.
var celParser = func() *parser.Parser {
	p, err := parser.NewParser(
		parser.EnablePrattParser(true),
		parser.EnableIdentEscapeSyntax(false),
		parser.MaxRecursionDepth(2*catalogue.MaxFormula),
		parser.ErrorReportingLimit(1),
		parser.ErrorRecoveryLimit(1),
		parser.ExpressionSizeCodePointLimit(catalogue.MaxFormula),
	)
	if err != nil {
		panic(err) // only a wrong option above can do this
	}
	return p
}()

// read turns source into checked nodes.
func (s *Scope) read(source string, where where) (*node, *Error) {
	scanned, err := scan(source)
	if err != nil {
		return nil, err
	}
	tree, errs := celParser.Parse(common.NewTextSource(source))
	if list := errs.GetErrors(); len(list) > 0 {
		return nil, unreadable(scanned.text, list[0].Location)
	}
	r := reader{scope: s, where: where, scanned: scanned, places: tree.SourceInfo()}
	return r.node(tree.Expr())
}

// unreadable says where CEL's grammar gave up.
func unreadable(text []rune, place common.Location) *Error {
	at := place.Column()
	for line, i := 1, 0; line < place.Line() && i < len(text); i++ {
		at++
		if text[i] == '\n' {
			line++
		}
	}
	// A column counts within its line; at now counts from the start.
	at = max(0, min(at, len(text)))
	rest := strings.TrimSpace(string(text[at:]))
	if rest == "" {
		return fault(at+1, "The formula stops before it is finished.", "Write what is missing at its end.")
	}
	shown := []rune(rest)
	if len(shown) > 12 {
		shown = append(shown[:12:12], '…')
	}
	return fault(at+1, fmt.Sprintf("The formula cannot be read from %q on.", string(shown)),
		"Look for a missing sign, bracket or comma just before it; a decimal has a point, not a comma.")
}

// reader turns CEL's tree into nodes, checking kinds, names and units as it
// goes up.
type reader struct {
	scope   *Scope
	where   where
	scanned *scanner
	places  *ast.SourceInfo
}

func (r *reader) offset(e ast.Expr) int {
	span, _ := r.places.GetOffsetRange(e.ID())
	return int(span.Start)
}

func (r *reader) column(e ast.Expr) int { return r.offset(e) + 1 }

// callColumn is where a call's name starts, which CEL places at its bracket;
// for an operator it is where that stands.
func (r *reader) callColumn(e ast.Expr) int {
	at := r.offset(e)
	if r.scanned.text[at] != '(' {
		return at + 1
	}
	for at > 0 && strings.ContainsRune(" \t\r\n", r.scanned.text[at-1]) {
		at--
	}
	for at > 0 && (isLetter(r.scanned.text[at-1]) || isDigit(r.scanned.text[at-1])) {
		at--
	}
	return at + 1
}

func (r *reader) node(e ast.Expr) (*node, *Error) {
	switch e.Kind() {
	case ast.LiteralKind:
		return r.literal(e)
	case ast.IdentKind:
		return r.name(e.AsIdent(), r.column(e))
	case ast.SelectKind:
		return r.member(e)
	case ast.CallKind:
		return r.call(e)
	}
	return nil, fault(r.column(e), "This part of CEL is left out of formulas: no lists, maps, loops or types.",
		"Use names, numbers, + - * /, comparisons, &&, ||, !, ?: and "+functionList()+".")
}

func (r *reader) literal(e ast.Expr) (*node, *Error) {
	n := &node{op: constant, at: r.column(e)}
	switch v := e.AsLiteral().(type) {
	case types.Bool:
		n.kind, n.number = Truth, truth(bool(v))
		return n, nil
	case types.String:
		n.kind, n.text = Text, string(v)
		return n, nil
	case types.Int, types.Double:
		x, ok := r.scanned.literal(r.offset(e))
		if !ok {
			break
		}
		if r.scanned.text[r.offset(e)] == '-' {
			x = x.negated()
		}
		n.kind, n.number = Number, x
		return n, nil
	}
	return nil, fault(n.at, "This is not a kind of value formulas know.", "Write a number, \"a text\", true or false.")
}

// member reads van.length_mm and its like.
func (r *reader) member(e ast.Expr) (*node, *Error) {
	selected := e.AsSelect()
	family := selected.Operand()
	if family.Kind() != ast.IdentKind || !slices.Contains(families, family.AsIdent()) {
		return nil, fault(r.column(e), "Only names of the families fit, van, finish and sheet have a point.",
			"Write the name alone, or one such as van.length_mm.")
	}
	return r.name(family.AsIdent()+"."+selected.FieldName(), r.column(family))
}

func (r *reader) name(text string, column int) (*node, *Error) {
	n := r.scope.find(text)
	if n == nil || !r.where.allows(n) {
		return nil, r.unknown(text, column, n)
	}
	return &node{op: read, kind: n.kind, unit: n.unit, at: column, name: n}, nil
}

func (w where) allows(n *name) bool {
	switch n.is {
	case sheetTotal:
		return w == inChecks
	case figure, fit:
		return w != inRules
	}
	return w != inRules || !n.weighed
}

// unknown says why a name cannot be read here.
func (r *reader) unknown(text string, column int, n *name) *Error {
	if n != nil {
		switch {
		case n.is == sheetTotal && r.where != inRules:
			return fault(column, text+" is a total of the finished build sheet, so only checks may read it.",
				"Move this into a check, or work with figures.")
		case n.is == sheetTotal || n.is == figure:
			return fault(column, "A rule reads no quantities, and "+text+" is one.",
				"Say it with features, finishes and facts of the van; a limit on a quantity is a check.")
		case n.is == fit:
			return fault(column, "A rule asks what is there, not what this job fits.",
				"Write "+strings.TrimPrefix(text, "fit.")+" instead.")
		}
		return fault(column, text+" differs from van to van with its weighbridge ticket, so no rule may rest on it.",
			"Make it a check.")
	}
	if slices.Contains(families, text) {
		return fault(column, text+" by itself is nothing; it starts a name.", "Write one such as "+r.example(text)+".")
	}
	remedy := "Write a feature, a figure, or one of fit., van. and finish. names."
	if near := r.scope.nearest(text, r.where); near != "" {
		remedy = "Did you mean " + near + "?"
	}
	return fault(column, fmt.Sprintf("Nothing is called %q.", text), remedy)
}

func (r *reader) example(family string) string {
	for _, n := range r.scope.sorted {
		if strings.HasPrefix(n.text, family+".") {
			return n.text
		}
	}
	return family + ".name"
}

var binaryOperators = map[string]operation{
	operators.Add: add, operators.Subtract: subtract, operators.Multiply: multiply, operators.Divide: divide,
	operators.LogicalAnd: and, operators.LogicalOr: or,
	operators.Equals: equal, operators.NotEquals: notEqual,
	operators.Less: less, operators.LessEquals: atMost, operators.Greater: more, operators.GreaterEquals: atLeast,
}

func (r *reader) call(e ast.Expr) (*node, *Error) {
	call, column := e.AsCall(), r.callColumn(e)
	if call.IsMemberFunction() {
		return nil, fault(column, fmt.Sprintf("Nothing has a .%s(…) in formulas.", call.FunctionName()),
			"The functions are "+functionList()+".")
	}
	var args []*node
	for _, a := range call.Args() {
		n, err := r.node(a)
		if err != nil {
			return nil, err
		}
		args = append(args, n)
	}
	switch op := binaryOperators[call.FunctionName()]; op {
	case 0:
	case and, or:
		return logical(op, column, args[0], args[1])
	case add, subtract, multiply, divide:
		return arithmetic(op, column, args[0], args[1])
	default:
		return comparison(op, column, args[0], args[1])
	}
	switch call.FunctionName() {
	case operators.LogicalNot:
		if args[0].kind != Truth {
			return nil, wrongKind(args[0], Truth)
		}
		return &node{op: not, kind: Truth, at: column, a: args[0]}, nil
	case operators.Negate:
		if args[0].kind != Number {
			return nil, wrongKind(args[0], Number)
		}
		return &node{op: negate, kind: Number, at: column, a: args[0], unit: args[0].unit}, nil
	case operators.Conditional:
		return choice(column, args)
	}
	if f := findFunction(call.FunctionName()); f != nil {
		return f.call(column, args)
	}
	if c := findCalculation(call.FunctionName()); c != nil {
		return c.call(column, args)
	}
	return nil, noFunction(column, call.FunctionName())
}

func logical(op operation, at int, a, b *node) (*node, *Error) {
	for _, n := range []*node{a, b} {
		if n.kind != Truth {
			return nil, wrongKind(n, Truth)
		}
	}
	return &node{op: op, kind: Truth, at: at, a: a, b: b}, nil
}

func arithmetic(op operation, at int, a, b *node) (*node, *Error) {
	for _, n := range []*node{a, b} {
		if n.kind != Number {
			return nil, wrongKind(n, Number)
		}
	}
	n := &node{op: op, kind: Number, at: at, a: a, b: b}
	var err *Error
	switch op {
	case add:
		n.unit, err = like(at, "This adds", a, b)
	case subtract:
		n.unit, err = like(at, "This subtracts", a, b)
	case multiply:
		if sameMeasure(a.unit, b.unit) {
			return nil, fault(at, "This multiplies "+a.unit+" by "+b.unit+".", conversion(a.unit, b.unit))
		}
		n.unit = timesUnit(a.unit, b.unit)
	case divide:
		if sameMeasure(a.unit, b.unit) {
			return nil, fault(at, "This divides "+a.unit+" by "+b.unit+".", conversion(a.unit, b.unit))
		}
		n.unit = overUnit(a.unit, b.unit)
	}
	return n, err
}

func comparison(op operation, at int, a, b *node) (*node, *Error) {
	n := &node{op: op, kind: Truth, at: at, a: a, b: b}
	switch {
	case a.kind == Text || b.kind == Text:
		return textComparison(op, at, a, b)
	case a.kind != b.kind:
		return nil, unlike(at, a, b)
	case a.kind == Truth && op != equal && op != notEqual:
		return nil, wrongKind(a, Number)
	case a.kind == Number:
		if _, err := like(at, "This compares", a, b); err != nil {
			return nil, err
		}
	}
	return n, nil
}

// unlike says why a number is not compared with a yes or no.
func unlike(at int, a, b *node) *Error {
	if a.kind == Truth {
		a, b = b, a
	}
	remedy := "Write one(…) around the yes or no to get 1 or 0."
	if b.op == read {
		remedy = "Write " + b.name.text + " alone, or !" + b.name.text + "."
	} else if b.op == constant && a.op == read {
		remedy = "Write " + a.name.text + " > 0, or " + a.name.text + " == 0."
	}
	return fault(at, "This compares a number with a yes or no.", remedy)
}

func textComparison(op operation, at int, a, b *node) (*node, *Error) {
	if a.op == constant {
		a, b = b, a
	}
	if a.kind != Text || b.kind != Text || a.op != read || b.op != constant {
		return nil, fault(at, "A text is compared with a text written out, nothing else.",
			"Write it as in finish.fabric == \"wool\".")
	}
	switch op {
	case equal:
		op = isText
	case notEqual:
		op = isNotText
	default:
		return nil, fault(at, "Texts have no order.", "Compare them with == or !=.")
	}
	n := a.name
	if !slices.Contains(n.values, b.text) && (n.is != finish || b.text != "") {
		return nil, fault(b.at, fmt.Sprintf("%s is never %q.", n.text, b.text), "Its values are "+quotedList(n.values)+".")
	}
	return &node{op: op, kind: Truth, at: at, name: n, text: b.text}, nil
}

// quotedList writes values out, the first twenty of them.
func quotedList(values []string) string {
	const most = 20
	quoted := make([]string, 0, most+1)
	for i, v := range values {
		if i == most {
			quoted = append(quoted, fmt.Sprintf("and %d more", len(values)-most))
			break
		}
		quoted = append(quoted, strconv.Quote(v))
	}
	return strings.Join(quoted, ", ")
}

func choice(at int, args []*node) (*node, *Error) {
	if args[0].kind != Truth {
		return nil, wrongKind(args[0], Truth)
	}
	b, c := args[1], args[2]
	n := &node{op: choose, kind: b.kind, at: at, a: args[0], b: b, c: c}
	switch {
	case b.kind == Text || c.kind == Text:
		return nil, fault(at, "A choice gives a number or a yes or no, not a text.", "Compare the text inside each branch.")
	case b.kind != c.kind:
		return nil, wrongKind(c, b.kind)
	case b.kind == Number:
		var err *Error
		if n.unit, err = like(at, "This chooses between", b, c); err != nil {
			return nil, err
		}
	}
	return n, nil
}
