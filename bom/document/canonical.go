package document

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"slices"
	"strconv"
	"strings"

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
	c := canonical{plans: map[reflect.Type]*layout{}}
	c.b = append(c.b, domain...)
	c.value(reflect.ValueOf(value))
	sum := sha256.Sum256(c.b)
	return hex.EncodeToString(sum[:])
}

type canonical struct {
	b     []byte
	plans map[reflect.Type]*layout
}

type layout struct {
	keys  []string
	index [][]int
}

func (c *canonical) layout(t reflect.Type) *layout {
	if l := c.plans[t]; l != nil {
		return l
	}
	l := &layout{}
	p := hashed(t, nil, nil)
	slices.SortFunc(p, func(a, b field) int { return strings.Compare(a.key, b.key) })
	for _, f := range p {
		l.keys = append(l.keys, f.key)
		l.index = append(l.index, f.index)
	}
	c.plans[t] = l
	return l
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

func (c *canonical) head(kind byte, n int) {
	c.b = append(c.b, kind)
	c.b = strconv.AppendInt(c.b, int64(n), 10)
	c.b = append(c.b, ':')
}

func (c *canonical) scalar(kind byte, s string) {
	c.head(kind, len(s))
	c.b = append(c.b, s...)
}

func (c *canonical) value(v reflect.Value) {
	if v.Type() == decimalType {
		d, _ := reflect.TypeAssert[decimal.Decimal](v)
		c.scalar('d', d.String())
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		c.value(v.Elem())
	case reflect.String:
		c.scalar('s', v.String())
	case reflect.Bool:
		c.scalar('b', strconv.FormatBool(v.Bool()))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		c.scalar('i', strconv.FormatInt(v.Int(), 10))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		c.scalar('i', strconv.FormatUint(v.Uint(), 10))
	case reflect.Slice:
		c.head('l', v.Len())
		for i := range v.Len() {
			c.value(v.Index(i))
		}
	case reflect.Struct:
		c.object(v)
	default:
		panic("document: " + v.Type().String() + " has no canonical form")
	}
}

func (c *canonical) object(v reflect.Value) {
	l := c.layout(v.Type())
	present := 0
	for _, index := range l.index {
		if !c.absent(v.FieldByIndex(index)) {
			present++
		}
	}
	c.head('o', present)
	for i, index := range l.index {
		if f := v.FieldByIndex(index); !c.absent(f) {
			c.scalar('s', l.keys[i])
			c.value(f)
		}
	}
}

func (c *canonical) absent(v reflect.Value) bool {
	switch {
	case v.Type() == decimalType:
		d, _ := reflect.TypeAssert[decimal.Decimal](v)
		return d.IsZero()
	case v.Kind() == reflect.Slice:
		return v.Len() == 0
	case v.Kind() == reflect.Struct:
		for _, index := range c.layout(v.Type()).index {
			if !c.absent(v.FieldByIndex(index)) {
				return false
			}
		}
		return true
	}
	return v.IsZero()
}
