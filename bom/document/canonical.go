package document

import (
	"crypto/sha256"
	"encoding/hex"
	"math/bits"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/shopspring/decimal"
)

// Hash identifies a value by its content: SHA-256, in hexadecimal, of domain
// and the value's canonical form. The domain ends in a line break and says
// what is hashed and in which version of the form, so that no two kinds of
// thing can share a hash.
//
// The canonical form is our own and needs no parser: every value is a letter
// for its kind, its length or number of members, a colon, its content.
//
//	s5:hello   text, by its bytes
//	d3:0.5     decimal, without needless zeros: 0.50 and 0.5 are one value
//	i2:12      whole number
//	b4:true    true or false
//	l2:...     list: its members in order
//	o2:...     object: for each field its key, as a text, then its value,
//	           in the order of the keys' bytes
//
// A field that is absent, empty or zero is left out, so that adding an
// optional field to a type changes no hash. A pointer stands for its value,
// even a zero one. A field's key is the one in its yaml tag, else in its json
// tag, else its name in small letters. There are no floats, no maps and no
// hidden fields: a type that holds one cannot be hashed and panics.
func Hash(domain string, value any) string {
	b, _ := buffers.Get().(*[]byte)
	if b == nil {
		b = new([]byte)
	}
	v := reflect.ValueOf(value)
	*b = codeOf(v.Type()).add(append((*b)[:0], domain...), v)
	sum := sha256.Sum256(*b)
	if cap(*b) <= maxKeptBuffer {
		buffers.Put(b)
	}
	return hex.EncodeToString(sum[:])
}

// buffers are written into again: a build sheet's canonical form has some
// 100 kB. Larger than maxKeptBuffer they are let go.
var buffers sync.Pool

const maxKeptBuffer = 4 << 20

// code writes the values of one type. What a type is like is found out once:
// looking at it anew for every value was most of the time a hash took.
type code struct {
	// add appends the canonical form of v.
	add func(b []byte, v reflect.Value) []byte
	// absent says whether v is left out of its object.
	absent func(v reflect.Value) bool
}

// codes are those of all types hashed so far, by reflect.Type.
var codes sync.Map

// codeOf finds or makes the code of a type. One that is still being made,
// which a type that holds itself comes to, is looked up when it is used.
func codeOf(t reflect.Type) code {
	if c, ok := codes.Load(t); ok {
		return c.(code) //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	c := newCode(t, nil)
	codes.Store(t, c)
	return c
}

// newCode makes the code of a type; within are the types it is being made in.
func newCode(t reflect.Type, within []reflect.Type) code {
	if slices.Contains(within, t) {
		return code{
			add:    func(b []byte, v reflect.Value) []byte { return codeOf(t).add(b, v) },
			absent: func(v reflect.Value) bool { return codeOf(t).absent(v) },
		}
	}
	if t == decimalType {
		return code{add: addDecimal, absent: noDecimal}
	}
	zero := func(v reflect.Value) bool { return v.IsZero() }
	switch t.Kind() {
	case reflect.Pointer:
		to := newCode(t.Elem(), append(within, t))
		return code{absent: zero, add: func(b []byte, v reflect.Value) []byte { return to.add(b, v.Elem()) }}
	case reflect.String:
		return code{
			absent: func(v reflect.Value) bool { return v.Len() == 0 },
			add:    func(b []byte, v reflect.Value) []byte { return appendText(b, v.String()) },
		}
	case reflect.Bool:
		return code{absent: zero, add: func(b []byte, v reflect.Value) []byte {
			return appendScalar(b, 'b', strconv.FormatBool(v.Bool()))
		}}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return code{absent: zero, add: func(b []byte, v reflect.Value) []byte {
			return appendScalar(b, 'i', strconv.FormatInt(v.Int(), 10))
		}}
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return code{absent: zero, add: func(b []byte, v reflect.Value) []byte {
			return appendScalar(b, 'i', strconv.FormatUint(v.Uint(), 10))
		}}
	case reflect.Slice:
		return listCode(newCode(t.Elem(), append(within, t)))
	case reflect.Struct:
		return objectCode(t, within)
	}
	panic("document: " + t.String() + " has no canonical form")
}

func listCode(member code) code {
	return code{
		absent: func(v reflect.Value) bool { return v.Len() == 0 },
		add: func(b []byte, v reflect.Value) []byte {
			b = appendHead(b, 'l', v.Len())
			for i := range v.Len() {
				b = member.add(b, v.Index(i))
			}
			return b
		},
	}
}

// member is one field of an object.
type member struct {
	code
	key   []byte // in canonical form
	index []int
}

func (m *member) of(v reflect.Value) reflect.Value {
	if len(m.index) == 1 { // all but those of embedded types
		return v.Field(m.index[0])
	}
	return v.FieldByIndex(m.index)
}

func objectCode(t reflect.Type, within []reflect.Type) code {
	fields := hashed(t, nil, nil)
	slices.SortFunc(fields, func(a, b field) int { return strings.Compare(a.key, b.key) })
	members := make([]member, len(fields))
	for i, f := range fields {
		members[i] = member{
			key: appendText(nil, f.key), index: f.index,
			code: newCode(t.FieldByIndex(f.index).Type, append(within, t)),
		}
	}
	absent := func(v reflect.Value) bool {
		for i := range members {
			if !members[i].absent(members[i].of(v)) {
				return false
			}
		}
		return true
	}
	const most = 64 // bits of a mask; no type of ours has as many fields
	if len(members) > most {
		panic("document: " + t.String() + " has too many fields and no canonical form")
	}
	return code{absent: absent, add: func(b []byte, v reflect.Value) []byte {
		var present uint64
		for i := range members {
			if !members[i].absent(members[i].of(v)) {
				present |= 1 << i
			}
		}
		b = appendHead(b, 'o', bits.OnesCount64(present))
		for ; present != 0; present &= present - 1 {
			m := &members[bits.TrailingZeros64(present)]
			b = append(b, m.key...)
			b = m.add(b, m.of(v))
		}
		return b
	}}
}

// hashed are the fields of a type: all of them, or it cannot be hashed. A key
// is the one in the yaml tag, else in the json tag, else the field's name.
func hashed(t reflect.Type, fields []field, index []int) []field {
	for i := range t.NumField() {
		f := t.Field(i)
		at := append(slices.Clone(index), i)
		key, options, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		if key == "" {
			key, _, _ = strings.Cut(f.Tag.Get("json"), ",")
		}
		switch {
		case !f.IsExported():
			panic("document: " + t.String() + " has the hidden field " + f.Name + " and no canonical form")
		case options == "inline":
			fields = hashed(f.Type, fields, at)
			continue
		case key == "-":
			continue
		case key == "":
			key = strings.ToLower(f.Name)
		}
		fields = append(fields, field{key: key, index: at})
	}
	return fields
}

func appendHead(b []byte, kind byte, n int) []byte {
	b = strconv.AppendInt(append(b, kind), int64(n), 10)
	return append(b, ':')
}

func appendText(b []byte, s string) []byte { return appendScalar(b, 's', s) }

func appendScalar(b []byte, kind byte, s string) []byte {
	return append(appendHead(b, kind, len(s)), s...)
}

func noDecimal(v reflect.Value) bool {
	d, _ := reflect.TypeAssert[decimal.Decimal](v)
	return d.IsZero()
}

func addDecimal(b []byte, v reflect.Value) []byte {
	d, _ := reflect.TypeAssert[decimal.Decimal](v)
	var room [maxShortDecimal]byte
	if short, ok := appendShort(room[:0], d); ok {
		b = appendHead(b, 'd', len(short))
		return append(b, short...)
	}
	return appendScalar(b, 'd', d.String())
}

// maxShortDecimal is the longest that appendShort writes: a sign, eighteen
// digits and a point, or as many noughts before them.
const maxShortDecimal = 24

// appendShort writes a decimal as its String does, without going over big
// numbers; false for those of more than eighteen digits or places, which are
// left to String.
func appendShort(b []byte, d decimal.Decimal) ([]byte, bool) {
	places := -int(d.Exponent())
	if places < 0 || places > 18 || d.NumDigits() > 18 {
		return b, false
	}
	n := d.CoefficientInt64()
	for places > 0 && n%10 == 0 {
		n, places = n/10, places-1
	}
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	var room [maxShortDecimal]byte
	digits := strconv.AppendInt(room[:0], n, 10)
	whole := len(digits) - places
	if places == 0 {
		return append(b, digits...), true
	}
	if whole <= 0 {
		b = append(b, "0."...)
		for ; whole < 0; whole++ {
			b = append(b, '0')
		}
		return append(b, digits...), true
	}
	b = append(b, digits[:whole]...)
	b = append(b, '.')
	return append(b, digits[whole:]...), true
}
