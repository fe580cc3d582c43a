package api

import (
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"pgregory.net/rapid"

	"wainscot/openapi"
)

// The largest answers, filled at random, are written as the library writes
// them: in them is every kind of field the contract has.
func TestEncodingAgreesWithTheLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for _, value := range []any{&openapi.Resolution{}, &openapi.Quote{}, &openapi.Quotes{}, &openapi.Problem{}, &oddities{}} {
			fill(random, reflect.ValueOf(value).Elem(), 0)
			for _, v := range []any{value, reflect.ValueOf(value).Elem().Interface()} {
				got, err := encode(v)
				want, wanted := json.Marshal(v)
				if (err == nil) != (wanted == nil) || err == nil && string(got) != string(want) {
					t.Fatalf("%T: %v, %v\n%s\nis not\n%s", v, err, wanted, got, want)
				}
			}
		}
	})
	if got, err := encode(nil); err != nil || string(got) != "null" {
		t.Errorf("nothing is written %s, %v", got, err)
	}
}

// oddities are what the contract may come to have.
type oddities struct {
	Nobody  *string            `json:"nobody"`
	Someone *oddities          `json:"someone,omitempty"`
	At      time.Time          `json:"at,omitempty,omitzero"` //nolint:modernize // as the generator writes it
	When    *time.Time         `json:"when,omitzero"`
	Share   float64            `json:"share"`
	Shares  map[string]float64 `json:"shares,omitempty"`
	Bytes   []byte             `json:"bytes"`
	Any     any                `json:"any,omitempty"`
	Empty   struct{}           `json:"empty,omitempty"` //nolint:modernize // the library leaves it out
	None    []string           `json:"none"`
	Plain   int64
	Left    string `json:"-"`
	Dash    string `json:"-,"` //nolint:staticcheck // a name the library takes
	Quoted  int    `json:"quoted,string"`
}

// fill puts anything into a value: often nothing, sometimes what has to be
// escaped, now and then what cannot be written at all.
func fill(r *rand.Rand, v reflect.Value, depth int) {
	if v.Type() == reflect.TypeFor[time.Time]() {
		v.Set(reflect.ValueOf(time.Unix(r.Int64N(2_000_000_000), r.Int64N(3)*1000).UTC()))
		return
	}
	if r.IntN(4) == 0 {
		return
	}
	switch v.Kind() {
	case reflect.String:
		texts := []string{"", "hob_two", "“Hob”, 2 × 1.5 kW", "a \"b\" \\ c", "one\nline\t\x01", "<&>\u2028"}
		if r.IntN(500) == 0 {
			texts = []string{"not UTF-8: \xff"}
		}
		v.SetString(texts[r.IntN(len(texts))])
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(int64(int32(r.Uint32())) >> r.IntN(32))
	case reflect.Float64:
		v.SetFloat(r.Float64())
	case reflect.Pointer:
		if depth < 4 {
			v.Set(reflect.New(v.Type().Elem()))
			fill(r, v.Elem(), depth+1)
		}
	case reflect.Slice:
		list := reflect.MakeSlice(v.Type(), r.IntN(4), 4)
		for i := range list.Len() {
			fill(r, list.Index(i), depth+1)
		}
		v.Set(list)
	case reflect.Struct:
		for _, field := range v.Fields() {
			if field.CanSet() {
				fill(r, field, depth+1)
			}
		}
	}
}
