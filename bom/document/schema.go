package document

import (
	"bytes"
	"encoding/json"
	"go/ast"
	goparser "go/parser"
	"go/token"
	"reflect"
	"slices"
	"strings"
)

// Schema says what the JSON Schema of a document needs beside its Go type.
type Schema struct {
	ID, Title, Format string
	// Says describes a type (field "") or a field, by their Go names.
	Says func(typ, field string) string
	// Narrow adds keywords to a field, by the Go names of its type and itself.
	Narrow func(typ, field string) Keywords
	// Own gives the whole schema of types that read themselves, by Go name.
	Own map[string]Keywords
}

// Keywords are members of a JSON object, in order.
type Keywords []Keyword

// Keyword is one keyword of a JSON Schema with its value.
type Keyword struct {
	Name  string
	Value any
}

// MarshalJSON writes the keywords as an object, in order.
func (ks Keywords) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, k := range ks {
		if i > 0 {
			b.WriteByte(',')
		}
		for j, v := range []any{k.Name, k.Value} {
			if j > 0 {
				b.WriteByte(':')
			}
			e := json.NewEncoder(&b)
			e.SetEscapeHTML(false)
			if err := e.Encode(v); err != nil {
				return nil, err
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// SchemaOf writes the JSON Schema (draft 2020-12) of the documents that Decode
// reads into a T: the same keys, kinds and words, required and closed as they
// are there. What a schema cannot say, references and bounds between fields,
// is left to whoever validates the value.
func SchemaOf[T any](s Schema) ([]byte, error) {
	w := schemaWriter{Schema: s, seen: map[reflect.Type]bool{}}
	t := reflect.TypeFor[T]()
	root := w.object(t, s.Format)
	slices.SortFunc(w.defs, func(a, b Keyword) int { return bytes.Compare([]byte(a.Name), []byte(b.Name)) })
	whole := append(Keywords{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"},
		{"$id", s.ID},
		{"title", s.Title},
	}, root...)
	whole = append(whole, Keyword{"$defs", w.defs})
	flat, err := json.Marshal(whole)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, flat, "", "  "); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

type schemaWriter struct {
	Schema
	defs Keywords
	seen map[reflect.Type]bool
}

// object is the schema of a struct; that of a whole document says its format.
func (w *schemaWriter) object(t reflect.Type, format string) Keywords {
	var ks, properties Keywords
	if says := w.say(t, ""); says != "" {
		ks = append(ks, Keyword{"description", says})
	}
	required := []string{}
	if format != "" {
		properties = append(properties, Keyword{formatKey, Keywords{{"type", "string"}, {"enum", []string{format}}}})
		required = append(required, formatKey)
	}
	for _, f := range newPlan(t).fields {
		goField := t.FieldByIndex(f.index)
		schema := w.field(goField.Type, f.formula)
		if w.Narrow != nil {
			schema = append(schema, w.Narrow(t.Name(), goField.Name)...)
		}
		if says := w.say(t, goField.Name); says != "" {
			schema = append(Keywords{{"description", says}}, schema...)
		}
		properties = append(properties, Keyword{f.key, schema})
		if f.required {
			required = append(required, f.key)
		}
	}
	return append(ks, Keyword{"type", "object"}, Keyword{"additionalProperties", false},
		Keyword{"required", required}, Keyword{"properties", properties})
}

func (w *schemaWriter) say(t reflect.Type, field string) string {
	if w.Says == nil {
		return ""
	}
	return w.Says(t.Name(), field)
}

// field is the schema of a value of type t.
func (w *schemaWriter) field(t reflect.Type, formula bool) Keywords {
	switch {
	case t == decimalType:
		w.define(t, "decimal", func() Keywords {
			return Keywords{
				{"description", "A decimal of at most 15 digits before the point and 12 after it; as a string its digits are safe from programs that read numbers as floats."},
				{"anyOf", []Keywords{
					{{"type", "number"}, {"exclusiveMinimum", -1_000_000_000_000_000}, {"exclusiveMaximum", 1_000_000_000_000_000}},
					{{"type", "string"}, {"pattern", `^-?(0|[1-9][0-9]{0,14})(\.[0-9]{1,12})?$`}},
				}},
			}
		})
		return Keywords{{"$ref", "#/$defs/decimal"}}
	case w.Own[t.Name()] != nil:
		return w.define(t, t.Name(), func() Keywords { return w.Own[t.Name()] })
	case formula:
		return Keywords{{"type", []string{"string", "number", "boolean"}}}
	case t.Implements(closedType):
		return w.define(t, t.Name(), func() Keywords {
			closed, _ := reflect.TypeAssert[Closed](reflect.Zero(t))
			words := closed.Words()
			var ks Keywords
			if says := w.say(t, ""); says != "" {
				ks = append(ks, Keyword{"description", says})
			}
			return append(ks, Keyword{"type", "string"}, Keyword{"enum", words})
		})
	}
	switch t.Kind() {
	case reflect.Pointer:
		return w.field(t.Elem(), false)
	case reflect.Struct:
		return w.define(t, t.Name(), func() Keywords { return w.object(t, "") })
	case reflect.Slice:
		return Keywords{{"type", "array"}, {"items", w.field(t.Elem(), false)}}
	case reflect.String:
		return Keywords{{"type", "string"}}
	case reflect.Bool:
		return Keywords{{"type", "boolean"}}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return Keywords{{"type", "integer"}}
	}
	panic("document: no schema for " + t.String())
}

// define puts a type among the definitions and refers to it.
func (w *schemaWriter) define(t reflect.Type, name string, schema func() Keywords) Keywords {
	if !w.seen[t] {
		w.seen[t] = true
		w.defs = append(w.defs, Keyword{name, schema()})
	}
	return Keywords{{"$ref", "#/$defs/" + name}}
}

// CommentsIn reads what Go source says about its types and their fields, for
// Schema.Says: one text serves those who read the types and those who write
// the documents.
func CommentsIn(source []byte) func(typ, field string) string {
	says := map[string]string{}
	file, err := goparser.ParseFile(token.NewFileSet(), "", source, goparser.ParseComments)
	if err != nil {
		return func(string, string) string { return "" }
	}
	for _, d := range file.Decls {
		gen, ok := d.(*ast.GenDecl)
		if !ok || gen.Tok != token.TYPE {
			continue
		}
		for _, spec := range gen.Specs {
			typ, ok := spec.(*ast.TypeSpec)
			if !ok {
				continue
			}
			says[typ.Name.Name+"."] = oneLine(gen.Doc)
			fields, ok := typ.Type.(*ast.StructType)
			if !ok {
				continue
			}
			for _, f := range fields.Fields.List {
				for _, name := range f.Names {
					text := oneLine(f.Doc)
					if text == "" {
						text = oneLine(f.Comment)
					}
					says[typ.Name.Name+"."+name.Name] = text
				}
			}
		}
	}
	return func(typ, field string) string { return says[typ+"."+field] }
}

func oneLine(c *ast.CommentGroup) string { return strings.Join(strings.Fields(c.Text()), " ") }
