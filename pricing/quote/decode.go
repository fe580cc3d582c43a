package quote

import (
	"bytes"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
)

// Decode reads what Encode wrote; another format, an unknown field, anything
// after the end, or other vans than were asked for is an error.
func Decode(text []byte) (*Document, error) {
	var d Document
	if err := decode(text, &d); err != nil {
		return nil, fmt.Errorf("quote document: %w", err)
	}
	if d.Format != Format {
		return nil, fmt.Errorf("quote document: format is %q, not %q", d.Format, Format)
	}
	if len(d.Vans) != len(d.Asked.Vans) || len(d.Vans) > MaxVans {
		return nil, fmt.Errorf("quote document: %d vans are asked for, and %d worked out", len(d.Asked.Vans), len(d.Vans))
	}
	return &d, nil
}

// DecodeAsked reads what Encode wrote, as strictly as Decode.
func DecodeAsked(text []byte) (*Asked, error) {
	var a Asked
	if err := decode(text, &a); err != nil {
		return nil, fmt.Errorf("what is asked for: %w", err)
	}
	if a.Format != AskedFormat {
		return nil, fmt.Errorf("what is asked for: format is %q, not %q", a.Format, AskedFormat)
	}
	return &a, nil
}

// decode reads bytes as we write them in one pass; whatever else there is, is
// read again by the library, strictly, and it says what is wrong. A frozen
// sheet has thousands of amounts, each of which the library reads three times.
func decode[T any](text []byte, into *T) error {
	r := reading{text: text}
	v := reflect.ValueOf(into).Elem()
	if readerOf(v.Type())(&r, v) && r.at == len(text) {
		return nil
	}
	var anew T
	err := strictly(text, &anew)
	*into = anew
	return err
}

func strictly(text []byte, into any) error {
	r := json.NewDecoder(bytes.NewReader(text))
	r.DisallowUnknownFields()
	if err := r.Decode(into); err != nil {
		return err
	}
	if _, err := r.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows its end")
	}
	return nil
}

// reading is how far a text has been read.
type reading struct {
	text []byte
	at   int
}

// skip takes a piece of text if it stands next.
func (r *reading) skip(s string) bool {
	if len(r.text)-r.at < len(s) || string(r.text[r.at:r.at+len(s)]) != s {
		return false
	}
	r.at += len(s)
	return true
}

// reader reads one value of its type as we write it; false for anything else.
type reader func(r *reading, v reflect.Value) bool

// readers are those of all types read so far, by reflect.Type.
var readers sync.Map

var (
	readsJSON = reflect.TypeFor[json.Unmarshaler]()
	readsText = reflect.TypeFor[encoding.TextUnmarshaler]()
)

func readerOf(t reflect.Type) reader {
	if r, ok := readers.Load(t); ok {
		return r.(reader) //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	r := newReader(t)
	readers.Store(t, r)
	return r
}

func newReader(t reflect.Type) reader {
	switch t {
	case decimalType:
		return readDecimal
	case amountType:
		return readAmount
	case unitPriceType:
		return readUnitPrice
	}
	pointer := reflect.PointerTo(t)
	if pointer.Implements(readsJSON) || pointer.Implements(readsText) {
		return notRead
	}
	switch t.Kind() {
	case reflect.String:
		return func(r *reading, v reflect.Value) bool {
			s, ok := r.str()
			v.SetString(s)
			return ok
		}
	case reflect.Bool:
		return func(r *reading, v reflect.Value) bool {
			if r.skip("true") {
				v.SetBool(true)
				return true
			}
			return r.skip("false")
		}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return func(r *reading, v reflect.Value) bool {
			n, ok := r.whole()
			if !ok || v.OverflowInt(n) {
				return false
			}
			v.SetInt(n)
			return true
		}
	case reflect.Pointer:
		to := readerOf(t.Elem())
		return func(r *reading, v reflect.Value) bool {
			if r.skip("null") {
				return true
			}
			v.Set(reflect.New(t.Elem()))
			return to(r, v.Elem())
		}
	case reflect.Slice:
		return listReader(t)
	case reflect.Struct:
		return objectReader(t)
	}
	return notRead
}

// notRead leaves a type to the library.
func notRead(*reading, reflect.Value) bool { return false }

func listReader(t reflect.Type) reader {
	if t.Elem().Kind() == reflect.Uint8 {
		return notRead
	}
	member := readerOf(t.Elem())
	return func(r *reading, v reflect.Value) bool {
		if r.skip("null") {
			return true
		}
		if !r.skip("[") {
			return false
		}
		if r.skip("]") {
			v.Set(reflect.MakeSlice(t, 0, 0))
			return true
		}
		for n := 0; ; n++ {
			v.Grow(1)
			v.SetLen(n + 1)
			if !member(r, v.Index(n)) {
				return false
			}
			if r.skip("]") {
				return true
			}
			if !r.skip(",") {
				return false
			}
		}
	}
}

func objectReader(t reflect.Type) reader {
	type member struct {
		at     int
		key    string // with quotes and colon
		read   reader
		absent bool // it may be
	}
	var members []member
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		if tag == "-" {
			continue
		}
		if !f.IsExported() || f.Anonymous || name == "" {
			return notRead
		}
		members = append(members, member{i, strconv.Quote(name) + ":", readerOf(f.Type), options != ""})
	}
	return func(r *reading, v reflect.Value) bool {
		if !r.skip("{") {
			return false
		}
		first := true
		for i := range members {
			m := &members[i]
			back := r.at
			if (first || r.skip(",")) && r.skip(m.key) {
				first = false
				if !m.read(r, v.Field(m.at)) {
					return false
				}
				continue
			}
			if r.at = back; !m.absent {
				return false
			}
		}
		return r.skip("}")
	}
}

// str reads a text.
func (r *reading) str() (string, bool) {
	if !r.skip(`"`) {
		return "", false
	}
	begin, plain := r.at, true
	for ; r.at < len(r.text); r.at++ {
		switch c := r.text[r.at]; {
		case c == '"':
			s := r.text[begin:r.at]
			r.at++
			if plain {
				return string(s), true
			}
			if !utf8.Valid(s) {
				return "", false
			}
			if bytes.IndexByte(s, '\\') < 0 {
				return string(s), true
			}
			var text string
			err := json.Unmarshal(r.text[begin-1:r.at], &text)
			return text, err == nil
		case c == '\\':
			plain = false
			r.at++
		case c < ' ':
			return "", false
		case c >= utf8.RuneSelf:
			plain = false
		}
	}
	return "", false
}

// whole reads a whole number.
func (r *reading) whole() (int64, bool) {
	begin := r.at
	r.skip("-")
	first := r.at
	for r.at < len(r.text) && r.text[r.at] >= '0' && r.text[r.at] <= '9' {
		r.at++
	}
	digits := r.at - first
	if digits == 0 || digits > 1 && r.text[first] == '0' {
		return 0, false
	}
	n, err := strconv.ParseInt(string(r.text[begin:r.at]), 10, 64)
	return n, err == nil
}

// fixed reads digits with a point perhaps, as n with so many of its digits
// behind the point.
func (r *reading) fixed() (n int64, places int, ok bool) {
	negative := r.skip("-")
	digits, point := 0, -1
	for ; r.at < len(r.text); r.at++ {
		c := r.text[r.at]
		switch {
		case c >= '0' && c <= '9':
			n = n*10 + int64(c-'0')
			digits++
			continue
		case c == '.' && point < 0 && digits > 0:
			point = digits
			continue
		}
		break
	}
	if digits == 0 || digits > smallDigits || point == digits {
		return 0, 0, false
	}
	if negative {
		n = -n
	}
	if point >= 0 {
		places = digits - point
	}
	return n, places, true
}

func readDecimal(r *reading, v reflect.Value) bool {
	if !r.skip(`"`) {
		return false
	}
	n, places, ok := r.fixed()
	if !ok || !r.skip(`"`) {
		return false
	}
	*decimalAt(v) = decimal.New(n, -int32(places))
	return true
}

// price reads what amounts and unit prices are both written as.
func (r *reading) price() (n int64, places int, c money.Currency, ok bool) {
	if !r.skip(`{"amount":"`) {
		return 0, 0, "", false
	}
	if n, places, ok = r.fixed(); !ok || !r.skip(`","currency":"`) || len(r.text)-r.at < 3 {
		return 0, 0, "", false
	}
	c = money.Currency(r.text[r.at : r.at+3])
	r.at += 3
	return n, places, c, r.skip(`"}`)
}

func readAmount(r *reading, v reflect.Value) bool {
	n, places, c, ok := r.price()
	if !ok {
		return false
	}
	if digits, known := c.MinorDigits(); !known || digits != places {
		return false
	}
	a, err := money.FromMinor(n, c)
	if err != nil {
		return false
	}
	*v.Addr().Interface().(*money.Amount) = a //nolint:errcheck,forcetypeassert // by its type
	return true
}

func readUnitPrice(r *reading, v reflect.Value) bool {
	n, places, c, ok := r.price()
	if !ok {
		return false
	}
	p, err := money.NewUnitPrice(decimal.New(n, -int32(places)), c)
	if err != nil {
		return false
	}
	*v.Addr().Interface().(*money.UnitPrice) = p //nolint:errcheck,forcetypeassert // by its type
	return true
}
