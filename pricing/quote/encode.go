package quote

import (
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
)

// encodedSize is what a document of one van mostly stays below, in bytes.
const encodedSize = 256 << 10

// Encode writes the document: JSON, the fields in the order of their types,
// without spaces. The same document gives the same bytes, and what Decode
// reads of them is written as the same again.
func (d *Document) Encode() ([]byte, error) {
	return d.EncodeInto(make([]byte, 0, encodedSize*max(1, len(d.Vans))))
}

// EncodeInto is Encode behind what stands in room, in the same memory as far as
// it goes.
func (d *Document) EncodeInto(room []byte) ([]byte, error) {
	d.Format = Format
	d.Asked.Format = AskedFormat
	return encode(room, d)
}

// Encode writes what was asked as JSON, in the way of a document.
func (a *Asked) Encode() ([]byte, error) {
	a.Format = AskedFormat
	return encode(nil, a)
}

// encode appends what encoding/json would write of what to points at. A frozen
// sheet has thousands of decimals and amounts, and the library's way of asking
// each for its text and checking it again took four times as long as working
// the sheet out.
func encode(b []byte, to any) ([]byte, error) {
	v := reflect.ValueOf(to).Elem()
	return writerOf(v.Type())(b, v)
}

// writer appends one value of one type, which must be addressable.
type writer func(b []byte, v reflect.Value) ([]byte, error)

// writers are those of all types written so far, by reflect.Type.
var writers sync.Map

var (
	decimalType   = reflect.TypeFor[decimal.Decimal]()
	amountType    = reflect.TypeFor[money.Amount]()
	unitPriceType = reflect.TypeFor[money.UnitPrice]()
	jsonType      = reflect.TypeFor[json.Marshaler]()
	textType      = reflect.TypeFor[encoding.TextMarshaler]()
)

func writerOf(t reflect.Type) writer {
	if w, ok := writers.Load(t); ok {
		return w.(writer) //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	w := newWriter(t)
	writers.Store(t, w)
	return w
}

func newWriter(t reflect.Type) writer {
	switch t {
	case decimalType:
		return writeDecimal
	case amountType:
		return writeAmount
	case unitPriceType:
		return writeUnitPrice
	}
	if w := writtenOut(t); w != nil {
		return w
	}
	pointer := reflect.PointerTo(t)
	if pointer.Implements(jsonType) || pointer.Implements(textType) {
		return writeByLibrary
	}
	switch t.Kind() {
	case reflect.String:
		return func(b []byte, v reflect.Value) ([]byte, error) { return appendText(b, v.String()), nil }
	case reflect.Bool:
		return func(b []byte, v reflect.Value) ([]byte, error) { return strconv.AppendBool(b, v.Bool()), nil }
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return func(b []byte, v reflect.Value) ([]byte, error) { return strconv.AppendInt(b, v.Int(), 10), nil }
	case reflect.Pointer:
		to := writerOf(t.Elem())
		return func(b []byte, v reflect.Value) ([]byte, error) {
			if v.IsNil() {
				return append(b, "null"...), nil
			}
			return to(b, v.Elem())
		}
	case reflect.Slice:
		return listWriter(t)
	case reflect.Struct:
		return objectWriter(t)
	}
	return writeByLibrary
}

func writeByLibrary(b []byte, v reflect.Value) ([]byte, error) {
	return appendByLibrary(b, v.Addr().Interface())
}

func appendByLibrary(b []byte, to any) ([]byte, error) {
	text, err := json.Marshal(to)
	return append(b, text...), err
}

func listWriter(t reflect.Type) writer {
	if t.Elem().Kind() == reflect.Uint8 {
		return writeByLibrary
	}
	member := writerOf(t.Elem())
	return func(b []byte, v reflect.Value) ([]byte, error) {
		if v.IsNil() {
			return append(b, "null"...), nil
		}
		b = append(b, '[')
		for i := range v.Len() {
			if i > 0 {
				b = append(b, ',')
			}
			var err error
			if b, err = member(b, v.Index(i)); err != nil {
				return b, err
			}
		}
		return append(b, ']'), nil
	}
}

// field is one field of an object that is written.
type field struct {
	at     int
	key    []byte // with its colon
	write  writer
	absent func(reflect.Value) bool
}

func objectWriter(t reflect.Type) writer {
	var fields []field
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		switch {
		case tag == "-":
			continue
		case !f.IsExported(), f.Anonymous, name == "", options != "" && options != "omitempty" && options != "omitzero":
			return writeByLibrary // none of ours; it knows what that means
		}
		fields = append(fields, field{at: i, key: append(appendText(nil, name), ':'), write: writerOf(f.Type), absent: absence(f.Type, options)})
	}
	return func(b []byte, v reflect.Value) ([]byte, error) {
		b = append(b, '{')
		first := true
		for i := range fields {
			f := &fields[i]
			value := v.Field(f.at)
			if f.absent != nil && f.absent(value) {
				continue
			}
			if !first {
				b = append(b, ',')
			}
			first = false
			var err error
			if b, err = f.write(append(b, f.key...), value); err != nil {
				return b, fmt.Errorf("%s%w", f.key, err)
			}
		}
		return append(b, '}'), nil
	}
}

// absence says when a field is left out; nil: never.
func absence(t reflect.Type, option string) func(reflect.Value) bool {
	switch {
	case option == "omitzero":
		return func(v reflect.Value) bool {
			if z, ok := reflect.TypeAssert[interface{ IsZero() bool }](v.Addr()); ok {
				return z.IsZero()
			}
			return v.IsZero()
		}
	case option == "omitempty" && t.Kind() == reflect.Slice:
		return func(v reflect.Value) bool { return v.Len() == 0 }
	case option == "omitempty" && t.Kind() == reflect.Struct:
		return nil // as the library has it
	case option == "omitempty":
		return reflect.Value.IsZero
	}
	return nil
}

// ErrTooLong says that a number has digits without end: a few bytes such as
// 1e999999999 would be written as a thousand million.
var ErrTooLong = errors.New("a number with too many digits to write")

// mostShift bounds the exponent of a decimal that is written.
const mostShift = 100

func decimalAt(v reflect.Value) *decimal.Decimal {
	return v.Addr().Interface().(*decimal.Decimal) //nolint:errcheck,forcetypeassert // by its type
}

func writeDecimal(b []byte, v reflect.Value) ([]byte, error) {
	return appendQuoted(b, decimalAt(v))
}

func appendQuoted(b []byte, d *decimal.Decimal) ([]byte, error) {
	if e := d.Exponent(); e > mostShift || e < -mostShift {
		return b, ErrTooLong
	}
	return append(appendDecimal(append(b, '"'), d), '"'), nil
}

// smallDigits is how many digits always fit 64 bits.
const smallDigits = 18

// appendDecimal appends what d.String() gives: no needless zeros.
func appendDecimal(b []byte, d *decimal.Decimal) []byte {
	places := int(-d.Exponent())
	if places < 0 || places > smallDigits || d.NumDigits() > smallDigits {
		return append(b, d.String()...)
	}
	n := d.CoefficientInt64()
	for places > 0 && n%10 == 0 {
		n /= 10
		places--
	}
	return appendFixed(b, n, places)
}

// appendFixed appends n with so many of its digits behind the point.
func appendFixed(b []byte, n int64, places int) []byte {
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	var digits [24]byte
	text := strconv.AppendInt(digits[:0], n, 10)
	if places == 0 {
		return append(b, text...)
	}
	if whole := len(text) - places; whole > 0 {
		b = append(b, text[:whole]...)
		text = text[whole:]
	} else {
		b = append(b, '0')
	}
	b = append(b, '.')
	for range places - len(text) {
		b = append(b, '0')
	}
	return append(b, text...)
}

func writeAmount(b []byte, v reflect.Value) ([]byte, error) {
	return appendAmount(b, v.Addr().Interface().(*money.Amount)) //nolint:errcheck,forcetypeassert // by its type
}

func appendAmount(b []byte, a *money.Amount) ([]byte, error) {
	c := a.Currency()
	digits, known := c.MinorDigits()
	if !known {
		return appendByLibrary(b, a) // it says why not
	}
	return appendCurrency(appendFixed(append(b, `{"amount":"`...), a.Minor(), digits), c), nil
}

func writeUnitPrice(b []byte, v reflect.Value) ([]byte, error) {
	return appendUnitPrice(b, v.Addr().Interface().(*money.UnitPrice)) //nolint:errcheck,forcetypeassert // by its type
}

func appendUnitPrice(b []byte, u *money.UnitPrice) ([]byte, error) {
	d, c := u.Decimal(), u.Currency()
	digits, known := c.MinorDigits()
	places := int(-d.Exponent())
	if !known || places < 0 || places > money.UnitDecimals || d.NumDigits() > smallDigits/2 {
		return appendByLibrary(b, u)
	}
	n := d.CoefficientInt64()
	for places > digits && n%10 == 0 {
		n /= 10
		places--
	}
	for places < digits {
		n *= 10
		places++
	}
	return appendCurrency(appendFixed(append(b, `{"amount":"`...), n, places), c), nil
}

func appendCurrency(b []byte, c money.Currency) []byte {
	b = append(b, `","currency":"`...)
	b = append(b, c...)
	return append(b, `"}`...)
}

// appendText appends a text as a JSON string. What has nothing to be escaped is
// copied; the rest, rare in our words, is the library's.
func appendText(b []byte, s string) []byte {
	all := byte(0)
	for i := range len(s) {
		all |= signs[s[i]]
	}
	if all&escapedSign != 0 {
		return appendEscaped(b, s)
	}
	if all&beyondASCII != 0 && (!utf8.ValidString(s) || strings.Contains(s, "\u2028") || strings.Contains(s, "\u2029")) {
		return appendEscaped(b, s)
	}
	return append(append(append(b, '"'), s...), '"')
}

// What a byte is to a JSON string, nothing for most.
const (
	beyondASCII byte = 1 << iota
	escapedSign
)

var signs = func() (signs [256]byte) {
	for c := range signs {
		switch {
		case c >= utf8.RuneSelf:
			signs[c] = beyondASCII
		case c < ' ', c == '"', c == '\\', c == '<', c == '>', c == '&':
			signs[c] = escapedSign
		}
	}
	return signs
}()

// appendEscaped has the library escape a text. A broken character becomes the
// one that stands for it, as it is read again; the library would escape that.
func appendEscaped(b []byte, s string) []byte {
	text, _ := json.Marshal(string([]rune(s))) // there is no text it cannot write
	return append(b, text...)
}
