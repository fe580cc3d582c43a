package api

import (
	"encoding"
	stdjson "encoding/json"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// encode writes a contract type as JSON, byte for byte as json.Marshal of
// github.com/go-json-experiment/json does and three to five times as fast: a
// third of a resolve's time went into that, most of it into finding out again
// for every option what an option is like. Whatever is not plain (maps,
// floats, moments, types that write themselves) is left to the library.
// TestEncodingAgreesWithTheLibrary holds the two against each other.
func encode(value any) ([]byte, error) {
	b, _ := encodeBuffers.Get().(*[]byte)
	if b == nil {
		b = new([]byte)
	}
	defer func() {
		if cap(*b) <= maxKeptBuffer {
			encodeBuffers.Put(b)
		}
	}()
	v := reflect.ValueOf(value)
	if !v.IsValid() {
		return []byte("null"), nil
	}
	var err error
	if *b, err = encoderOf(v.Type())((*b)[:0], v); err != nil {
		return nil, err
	}
	return append(make([]byte, 0, len(*b)), *b...), nil
}

// encodeBuffers are written into again; larger than maxKeptBuffer they are
// let go.
var encodeBuffers sync.Pool

const maxKeptBuffer = 1 << 20

// encoder appends the JSON of a value of its type.
type encoder func(b []byte, v reflect.Value) ([]byte, error)

// encoders are those of all types written so far, by reflect.Type.
var encoders sync.Map

func encoderOf(t reflect.Type) encoder {
	if e, ok := encoders.Load(t); ok {
		return e.(encoder) //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	e := newEncoder(t, nil)
	encoders.Store(t, e)
	return e
}

// newEncoder makes the encoder of a type; within are those it is being made
// in, which it may hold again.
func newEncoder(t reflect.Type, within []reflect.Type) encoder {
	if slices.Contains(within, t) {
		return func(b []byte, v reflect.Value) ([]byte, error) { return encoderOf(t)(b, v) }
	}
	if writesItself(t) {
		return byLibrary
	}
	switch t.Kind() {
	case reflect.String:
		return func(b []byte, v reflect.Value) ([]byte, error) { return appendString(b, v.String()) }
	case reflect.Bool:
		return func(b []byte, v reflect.Value) ([]byte, error) { return strconv.AppendBool(b, v.Bool()), nil }
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return func(b []byte, v reflect.Value) ([]byte, error) { return strconv.AppendInt(b, v.Int(), 10), nil }
	case reflect.Pointer:
		to := newEncoder(t.Elem(), append(within, t))
		return func(b []byte, v reflect.Value) ([]byte, error) {
			if v.IsNil() {
				return append(b, "null"...), nil
			}
			return to(b, v.Elem())
		}
	case reflect.Slice:
		if t.Elem().Kind() == reflect.Uint8 {
			return byLibrary
		}
		return listEncoder(newEncoder(t.Elem(), append(within, t)))
	case reflect.Struct:
		return objectEncoder(t, within)
	}
	return byLibrary
}

func listEncoder(member encoder) encoder {
	return func(b []byte, v reflect.Value) (_ []byte, err error) {
		b = append(b, '[')
		for i := range v.Len() {
			if i > 0 {
				b = append(b, ',')
			}
			if b, err = member(b, v.Index(i)); err != nil {
				return b, err
			}
		}
		return append(b, ']'), nil
	}
}

// encodedField is one field of an object.
type encodedField struct {
	encoder
	name      []byte // with its quotes and colon
	index     int
	omitZero  bool
	omitEmpty bool
	zero      func(reflect.Value) bool
}

func objectEncoder(t reflect.Type, within []reflect.Type) encoder {
	fields := make([]encodedField, 0, t.NumField())
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous:
			return byLibrary
		case !f.IsExported() || name == "-" && options == "":
			continue
		case name == "":
			name = f.Name
		}
		written := encodedField{index: i, zero: zeroOf(f.Type)}
		for option := range strings.SplitSeq(options, ",") {
			switch option {
			case "omitzero":
				written.omitZero = true
			case "omitempty":
				written.omitEmpty = true
			case "":
			default:
				return byLibrary // we know no others
			}
		}
		quoted, err := jsontext.AppendQuote(nil, name)
		if err != nil || strings.ContainsAny(name, `'"\`) {
			return byLibrary // which says what is wrong with it
		}
		written.name = append(quoted, ':')
		written.encoder = newEncoder(f.Type, append(within, t))
		fields = append(fields, written)
	}
	return func(b []byte, v reflect.Value) (_ []byte, err error) {
		b = append(b, '{')
		empty := len(b)
		for i := range fields {
			f := &fields[i]
			value := v.Field(f.index)
			if f.omitZero && f.zero(value) {
				continue
			}
			before := len(b)
			if before > empty {
				b = append(b, ',')
			}
			b = append(b, f.name...)
			at := len(b)
			if b, err = f.encoder(b, value); err != nil {
				return b, err
			}
			if f.omitEmpty && saysNothing(b[at:]) {
				b = b[:before]
			}
		}
		return append(b, '}'), nil
	}
}

// saysNothing is what omitempty leaves out.
func saysNothing(encoded []byte) bool {
	switch string(encoded) {
	case "null", `""`, "{}", "[]":
		return true
	}
	return false
}

// zeroOf gives what omitzero asks of a type: its own IsZero, if it has one.
func zeroOf(t reflect.Type) func(reflect.Value) bool {
	if t.Implements(zeroerType) {
		return func(v reflect.Value) bool {
			if v.Kind() == reflect.Pointer && v.IsNil() {
				return true
			}
			z, _ := reflect.TypeAssert[interface{ IsZero() bool }](v)
			return z.IsZero()
		}
	}
	return allZero(t)
}

// allZero is reflect's own IsZero, with the fields of objects known beforehand.
func allZero(t reflect.Type) func(reflect.Value) bool {
	switch t.Kind() {
	case reflect.String:
		return func(v reflect.Value) bool { return v.Len() == 0 }
	case reflect.Slice:
		return reflect.Value.IsNil
	case reflect.Struct:
		fields := make([]func(reflect.Value) bool, t.NumField())
		for i := range fields {
			fields[i] = allZero(t.Field(i).Type)
		}
		return func(v reflect.Value) bool {
			for i, zero := range fields {
				if !zero(v.Field(i)) {
					return false
				}
			}
			return true
		}
	}
	return reflect.Value.IsZero
}

var (
	zeroerType = reflect.TypeFor[interface{ IsZero() bool }]()
	selfTypes  = []reflect.Type{
		reflect.TypeFor[json.MarshalerTo](), reflect.TypeFor[stdjson.Marshaler](),
		reflect.TypeFor[encoding.TextAppender](), reflect.TypeFor[encoding.TextMarshaler](),
	}
)

// writesItself says whether a type has its own way into JSON.
func writesItself(t reflect.Type) bool {
	for _, self := range selfTypes {
		if t.Implements(self) || reflect.PointerTo(t).Implements(self) {
			return true
		}
	}
	return false
}

func byLibrary(b []byte, v reflect.Value) ([]byte, error) {
	encoded, err := json.Marshal(v.Interface())
	return append(b, encoded...), err
}

// appendString writes a text. Most have nothing in them to escape.
func appendString(b []byte, s string) ([]byte, error) {
	ascii := true
	for i := range len(s) {
		switch c := s[i]; {
		case c < ' ' || c == '"' || c == '\\':
			return jsontext.AppendQuote(b, s)
		case c >= utf8.RuneSelf:
			ascii = false
		}
	}
	if !ascii && !utf8.ValidString(s) {
		return jsontext.AppendQuote(b, s) // gives the error
	}
	b = append(b, '"')
	b = append(b, s...)
	return append(b, '"'), nil
}
