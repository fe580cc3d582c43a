package document

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/shopspring/decimal"
)

// Reader is a type that reads itself from a value of a document, where
// reflection over its fields would not do.
type Reader interface {
	ReadDocument(v Value)
}

// Closed is a text type with a closed list of words; any other is refused.
type Closed interface {
	Words() []string
}

// The option a field's document tag may carry: "formula" also takes a number
// or true and false as text, so that "quantity: 2" needs no quotes.
const formulaTag = "formula"

var (
	closedType  = reflect.TypeFor[Closed]()
	decimalType = reflect.TypeFor[decimal.Decimal]()
)

// binder puts a tree into Go values.
type binder struct {
	positions Positions
	path      path
	faults    Collector
	plans     map[reflect.Type]*plan
	partial   bool // a file is missing: missing top keys are not faults
}

// plan is how a struct type is filled.
type plan struct {
	fields []field
	keys   []string
	byKey  map[string]int
}

type field struct {
	key      string
	index    []int
	required bool
	formula  bool
}

func (b *binder) plan(t reflect.Type) *plan {
	if p := b.plans[t]; p != nil {
		return p
	}
	p := newPlan(t)
	b.plans[t] = p
	return p
}

func newPlan(t reflect.Type) *plan {
	p := &plan{byKey: map[string]int{}}
	p.add(t, nil)
	for i, f := range p.fields {
		p.byKey[f.key] = i
		p.keys = append(p.keys, f.key)
	}
	return p
}

func (p *plan) add(t reflect.Type, index []int) {
	for i := range t.NumField() {
		f := t.Field(i)
		at := append(append([]int(nil), index...), i)
		key, options, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		if options == "inline" {
			p.add(f.Type, at)
			continue
		}
		if key == "" || key == "-" || !f.IsExported() {
			continue
		}
		_, jsonOptions, _ := strings.Cut(f.Tag.Get("json"), ",")
		p.fields = append(p.fields, field{
			key:      key,
			index:    at,
			required: !strings.Contains(jsonOptions, "omitempty") && !strings.Contains(jsonOptions, "omitzero"),
			formula:  f.Tag.Get("document") == formulaTag,
		})
	}
}

func (b *binder) fault(n *node, line int32, code, reason, remedy string) {
	b.faults.Add(Fault{Code: code, At: b.path.String(), File: b.positions.file(n), Line: int(line),
		Reason: reason, Remedy: remedy})
}

func (b *binder) wrongKind(n *node, wanted, remedy string) {
	b.fault(n, n.line, "wrong_kind", fmt.Sprintf("There should be %s here, not %s.", wanted, n.describe()), remedy)
}

func (b *binder) enter(s step) { b.path = append(b.path, s) }
func (b *binder) leave()       { b.path = b.path[:len(b.path)-1] }

func (b *binder) value(n *node, v reflect.Value) {
	if n.kind == 0 {
		return // it could not be read and has its fault
	}
	t := v.Type()
	if r, ok := reflect.TypeAssert[Reader](v.Addr()); ok {
		r.ReadDocument(Value{b, n})
		return
	}
	if t == decimalType {
		if d, ok := b.decimal(n); ok {
			v.Set(reflect.ValueOf(d))
		}
		return
	}
	switch t.Kind() {
	case reflect.Pointer:
		p := reflect.New(t.Elem())
		b.value(n, p.Elem())
		v.Set(p)
	case reflect.Struct:
		b.object(n, v)
	case reflect.Slice:
		b.list(n, v)
	case reflect.String:
		if s, ok := b.text(n, false); ok {
			v.SetString(s)
			b.closed(n, v)
		}
	case reflect.Bool:
		if yes, ok := b.yes(n); ok {
			v.SetBool(yes)
		}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		if i, ok := b.int(n); ok {
			v.SetInt(i)
		}
	default:
		panic("document: no rule for " + t.String())
	}
}

// object fills a struct.
func (b *binder) object(n *node, v reflect.Value) {
	p := b.plan(v.Type())
	if n.kind != objectNode {
		b.wrongKind(n, "an object", "Write keys with values: "+strings.Join(p.keys, ", ")+".")
		return
	}
	given := make([]*entry, len(p.fields))
	misspelt := make([]bool, len(p.fields))
	var unknown map[string]bool
	for i := range n.entries {
		e := &n.entries[i]
		b.enter(step{key: e.key})
		at, known := p.byKey[e.key]
		switch {
		case !known && unknown[e.key], known && given[at] != nil:
			b.duplicateKey(n, e)
		case !known:
			if unknown == nil {
				unknown = map[string]bool{}
			}
			unknown[e.key] = true
			b.fault(&e.value, e.line, "unknown_key", fmt.Sprintf("There is no key %q here.", shorten(e.key)),
				Suggest(e.key, p.keys, "Use one of "+strings.Join(p.keys, ", ")+"."))
			if meant := Nearest(e.key, p.keys); meant != "" {
				misspelt[p.byKey[meant]] = true // so it is not missing too
			}
		default:
			given[at] = e
			f := &p.fields[at]
			to := v.FieldByIndex(f.index)
			if f.formula {
				if s, ok := b.text(&e.value, true); ok {
					to.SetString(s)
				}
			} else {
				b.value(&e.value, to)
			}
		}
		b.leave()
	}
	if b.partial && len(b.path) == 0 {
		return
	}
	for i, e := range given {
		if f := &p.fields[i]; e == nil && f.required && !misspelt[i] {
			b.enter(step{key: f.key})
			b.fault(n, n.line, "missing_key", fmt.Sprintf("The key %q is missing.", f.key), "Give it a value.")
			b.leave()
		}
	}
}

func (b *binder) duplicateKey(n *node, e *entry) {
	first := e
	for i := range n.entries {
		if n.entries[i].key == e.key {
			first = &n.entries[i]
			break
		}
	}
	b.fault(&e.value, e.line, "duplicate_key",
		fmt.Sprintf("The key %q is given twice, first in line %d.", shorten(e.key), first.line),
		"Keep one of the two.")
}

func (b *binder) list(n *node, v reflect.Value) {
	if n.kind != listNode {
		b.wrongKind(n, "a list", "Write its members as lines that begin with \"- \", or [] for none.")
		return
	}
	if len(n.items) == 0 {
		return
	}
	list := reflect.MakeSlice(v.Type(), len(n.items), len(n.items))
	for i := range n.items {
		b.enter(step{list: n, i: i})
		b.value(&n.items[i], list.Index(i))
		b.leave()
	}
	v.Set(list)
}

func (b *binder) text(n *node, formula bool) (string, bool) {
	if n.kind == 0 {
		return "", false
	}
	if n.kind != scalarNode {
		b.wrongKind(n, "a text", "Write it in one line, or in quotes.")
		return "", false
	}
	switch kind := n.scalar(); {
	case kind == text, formula && kind != nothing:
	case kind == nothing:
		b.wrongKind(n, "a text", "Write it out, or leave the key out.")
		return "", false
	default:
		b.wrongKind(n, "a text", fmt.Sprintf("Put it in quotes if it is meant as text: %q.", shorten(n.text)))
		return "", false
	}
	if reason := TextFault(n.text); reason != "" {
		b.fault(n, n.line, "bad_text", reason, "Take it out, or shorten the text.")
		return "", false
	}
	return n.text, true
}

func (b *binder) closed(n *node, v reflect.Value) {
	c, ok := reflect.TypeAssert[Closed](v)
	if !ok {
		return
	}
	words := c.Words()
	for _, w := range words {
		if w == v.String() {
			return
		}
	}
	b.fault(n, n.line, "unknown_word", fmt.Sprintf("%q is none of the words that can stand here.", shorten(n.text)),
		Suggest(n.text, words, "Use one of "+strings.Join(words, ", ")+"."))
}

func (b *binder) decimal(n *node) (decimal.Decimal, bool) {
	if n.kind != scalarNode {
		b.wrongKind(n, "a number", decimalRemedy)
		return decimal.Decimal{}, false
	}
	d, ok := readDecimal(n.text)
	if ok {
		return d, true
	}
	if n.scalar() == number {
		b.fault(n, n.line, "bad_number", fmt.Sprintf("%s is not written as a decimal, or is too large or too fine.", shorten(n.text)), decimalRemedy)
	} else {
		b.wrongKind(n, "a number", decimalRemedy)
	}
	return decimal.Decimal{}, false
}

func (b *binder) int(n *node) (int64, bool) {
	const remedy = "Write a whole number of at most nine digits, like 3."
	if n.kind == scalarNode && !n.quoted {
		if i, ok := readInt(n.text); ok {
			return i, true
		}
		if n.scalar() == number {
			b.fault(n, n.line, "bad_number", fmt.Sprintf("%s is not a whole number, or too large.", shorten(n.text)), remedy)
			return 0, false
		}
	}
	b.wrongKind(n, "a whole number", remedy)
	return 0, false
}

func (b *binder) yes(n *node) (yes, ok bool) {
	if n.kind == scalarNode && !n.quoted && (n.text == "true" || n.text == "false") {
		return n.text == "true", true
	}
	b.wrongKind(n, "true or false", "Write true or false, without quotes.")
	return false, false
}

// Value is one value of a document, for types that read themselves. What its
// methods refuse is recorded as a fault at the value's place.
type Value struct {
	b *binder
	n *node
}

// Kind is what a value looks like.
type Kind uint8

// The kinds of value; zero is invalid.
const (
	TextKind Kind = iota + 1
	NumberKind
	YesNoKind
	NothingKind
	ListKind
	ObjectKind
)

// Kind says what the value looks like.
func (v Value) Kind() Kind {
	switch v.n.kind {
	case listNode:
		return ListKind
	case objectNode:
		return ObjectKind
	}
	switch v.n.scalar() {
	case number:
		return NumberKind
	case yesNo:
		return YesNoKind
	case nothing:
		return NothingKind
	}
	return TextKind
}

// Text reads a text; ok is false, and a fault recorded, where it is none.
func (v Value) Text() (s string, ok bool) { return v.b.text(v.n, false) }

// Decimal reads a number; ok is false, and a fault recorded, where it is none.
func (v Value) Decimal() (d decimal.Decimal, ok bool) { return v.b.decimal(v.n) }

// Yes reads true or false; ok is false, and a fault recorded, where it is
// neither.
func (v Value) Yes() (yes, ok bool) { return v.b.yes(v.n) }

// Entries calls yield for each key of an object, in order; a key given twice
// is refused and not yielded again.
func (v Value) Entries(yield func(key string, value Value)) {
	if v.n.kind != objectNode {
		v.b.wrongKind(v.n, "an object", "Write keys with values.")
		return
	}
	seen := make(map[string]bool, len(v.n.entries))
	for i := range v.n.entries {
		e := &v.n.entries[i]
		v.b.enter(step{key: e.key})
		if seen[e.key] {
			v.b.duplicateKey(v.n, e)
		} else {
			seen[e.key] = true
			yield(e.key, Value{v.b, &e.value})
		}
		v.b.leave()
	}
}

// Refuse records a fault at the value.
func (v Value) Refuse(code, reason, remedy string) { v.b.fault(v.n, v.n.line, code, reason, remedy) }

// Into reads the value into what to points to, by the same rules as Decode.
func (v Value) Into(to any) { v.b.value(v.n, reflect.ValueOf(to).Elem()) }

// Describe says what the value is, for a reason.
func (v Value) Describe() string { return v.n.describe() }
