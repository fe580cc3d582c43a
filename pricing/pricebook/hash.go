package pricebook

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// hashDomain keeps an edition's bytes apart from every other kind of document.
const hashDomain = "wainscot pricebook 1\n"

// Hash identifies an edition by its content: SHA-256 over Canonical, in
// hexadecimal. How it was written (files, quotes, trailing zeros) is no part
// of it; the order of lists is, since it decides what comes first.
func Hash(e *Edition) string {
	sum := sha256.Sum256(e.Canonical())
	return hex.EncodeToString(sum[:])
}

// Canonical is the one form of an edition that is hashed: after the domain
// the fields in the order of the type, each as
//
//	name=LENGTH:VALUE;   a text, a number, true
//	name[COUNT]          a list, followed by its members
//	{...}                an object, field by field
//
// Empty texts, lists and fields that are not there are left out; numbers are
// always written, without exponent or trailing zeros. Every value carries its
// length, so that no text can pass for structure.
func (e Edition) Canonical() []byte {
	b := make([]byte, 0, 4096+160*len(e.Costs))
	b = append(b, hashDomain...)
	return appendCanonical(b, "", reflect.ValueOf(e))
}

func appendCanonical(b []byte, name string, v reflect.Value) []byte {
	if d, ok := reflect.TypeAssert[decimal.Decimal](v); ok {
		return appendText(b, name, d.String())
	}
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return b
		}
		return appendCanonical(b, name, v.Elem())
	case reflect.Struct:
		b = append(b, name...)
		b = append(b, '{')
		for i := range v.NumField() {
			key, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("yaml"), ",")
			b = appendCanonical(b, key, v.Field(i))
		}
		return append(b, '}')
	case reflect.Slice:
		if v.Len() == 0 {
			return b
		}
		b = append(b, name...)
		b = append(b, '[')
		b = strconv.AppendInt(b, int64(v.Len()), 10)
		b = append(b, ']')
		for i := range v.Len() {
			b = appendCanonical(b, "", v.Index(i))
		}
		return b
	case reflect.String:
		if v.Len() == 0 {
			return b
		}
		return appendText(b, name, v.String())
	case reflect.Int:
		return appendText(b, name, strconv.FormatInt(v.Int(), 10))
	case reflect.Bool:
		if !v.Bool() {
			return b
		}
		return appendText(b, name, "true")
	}
	panic("pricebook: no canonical form for " + v.Type().String())
}

func appendText(b []byte, name, value string) []byte {
	b = append(b, name...)
	b = append(b, '=')
	b = strconv.AppendInt(b, int64(len(value)), 10)
	b = append(b, ':')
	b = append(b, value...)
	return append(b, ';')
}
