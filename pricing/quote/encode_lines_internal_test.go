package quote

import (
	"encoding/json"
	"reflect"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// Every field of what is written out by hand is written, in its place, and left
// out when it is empty, as the library does.
func TestWrittenOutAsTheLibraryWould(t *testing.T) {
	for _, kind := range []reflect.Type{
		reflect.TypeFor[bom.Line](), reflect.TypeFor[bom.Because](), reflect.TypeFor[pricing.Line](),
		reflect.TypeFor[pricing.LineCost](), reflect.TypeFor[pricing.Costed](),
	} {
		write := writtenOut(kind)
		if write == nil {
			t.Fatalf("%s is not written out", kind)
		}
		t.Run(kind.String(), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				v := reflect.New(kind).Elem()
				fill(t, v)
				got, err := write([]byte("before:"), v)
				want, wrong := json.Marshal(v.Addr().Interface())
				if err != nil || wrong != nil {
					t.Fatal(err, wrong)
				}
				if string(got) != "before:"+string(want) {
					t.Fatalf("the library would write otherwise:\n%s\n%s", got, want)
				}
			})
		})
	}
}

// fill gives every field of a value something or nothing.
func fill(t *rapid.T, v reflect.Value) {
	some := rapid.Bool().Draw(t, "something")
	switch v.Type() {
	case decimalType:
		v.Set(reflect.ValueOf(decimal.New(rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, "number"), rapid.Int32Range(-12, 2).Draw(t, "exponent"))))
		return
	case amountType, unitPriceType: // there is none without a currency
		minor := rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, "minor")
		a, err := money.FromMinor(minor, "GBP")
		if err != nil {
			t.Fatal(err)
		}
		if v.Type() == amountType {
			v.Set(reflect.ValueOf(a))
			return
		}
		u, err := money.NewUnitPrice(decimal.New(minor, -rapid.Int32Range(0, money.UnitDecimals).Draw(t, "places")), "GBP")
		if err != nil {
			t.Fatal(err)
		}
		v.Set(reflect.ValueOf(u))
		return
	}
	switch v.Kind() {
	case reflect.String:
		if some {
			v.SetString(rapid.StringN(1, 20, -1).Draw(t, "text"))
		}
	case reflect.Int:
		v.SetInt(int64(rapid.IntRange(-3, 400).Draw(t, "whole")))
	case reflect.Bool:
		v.SetBool(some)
	case reflect.Pointer:
		if some {
			v.Set(reflect.New(v.Type().Elem()))
			fill(t, v.Elem())
		}
	case reflect.Slice:
		if some {
			n := rapid.IntRange(0, 3).Draw(t, "members")
			v.Set(reflect.MakeSlice(v.Type(), n, n))
			for i := range n {
				fill(t, v.Index(i))
			}
		}
	case reflect.Struct:
		for _, field := range v.Fields() {
			fill(t, field)
		}
	default:
		t.Fatalf("nobody knows how to fill a %s", v.Type())
	}
}
