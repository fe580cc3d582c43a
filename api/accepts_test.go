package api

import (
	stdjson "encoding/json"
	"math/rand/v2"
	"testing"

	"github.com/pb33f/jsonschema/v6"
)

// Whatever the short way accepts, the library does not refuse: for every body
// the contract has, on values that mostly look like one.
func TestAcceptedIsNeverRefused(t *testing.T) {
	k, err := readContract()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(3, 14))
	for name, o := range k.operations {
		if o.body == nil {
			continue
		}
		short := acceptsOf(o.body)
		for range 2_000 {
			v := imagine(r, o.body, 0)
			if !short(v) {
				continue
			}
			if err := o.body.Validate(v); err != nil {
				text, _ := stdjson.Marshal(v) //nolint:errchkjson // for the message only
				t.Fatalf("%s: accepted and refused: %s\n%v", name, text, err)
			}
		}
	}
}

// What a front-end sends at every click is not too hard for it.
func TestOrdinaryBodiesAreAcceptedShortly(t *testing.T) {
	k, err := readContract()
	if err != nil {
		t.Fatal(err)
	}
	short := acceptsOf(k.operations["POST /v1/resolve"].body)
	for text, want := range map[string]bool{
		`{"van":{"base_van":"short_panel_van","registration":"WT24 DMO","year":2024},"choices":{"features":[{"want":"whole_conversion"},` +
			`{"want":"lights_ceiling","count":6},{"refuse":"oven"}],"finishes":[{"finish":"fabric","choice":"harbour"}]},` +
			`"terms":{"basis":"gross","day":"2026-11-25"},"settle":"by defaults","include":[]}`: true,
		`{"van":{"base_van":"short_panel_van"},"choices":{"features":[]},"include":[],"more":1}`:                        false,
		`{"van":{"base_van":"short_panel_van"},"choices":{"features":[{"want":"hob_two","count":"two"}]},"include":[]}`: false,
		`{"van":{"base_van":"short_panel_van"},"choices":{"features":[]},"terms":{"day":"2026-02-30"}}`:                 false,
		`{"choices":{"features":[]}}`: false,
	} {
		tree, err := strictJSON([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if short(tree) != want {
			t.Errorf("accepted is %t: %s", !want, text)
		}
	}
}

// imagine makes a value that mostly keeps a schema.
func imagine(r *rand.Rand, s *jsonschema.Schema, depth int) any {
	for s.Ref != nil {
		s = s.Ref
	}
	odd := []any{nil, true, "", "x", stdjson.Number("1.5"), stdjson.Number("-1"), stdjson.Number("99999999999"), []any{}, map[string]any{}}
	if r.IntN(60) == 0 || depth > 12 {
		return odd[r.IntN(len(odd))]
	}
	types := []string{}
	if s.Types != nil {
		types = s.Types.ToStrings()
	}
	if len(types) == 0 {
		return odd[r.IntN(len(odd))]
	}
	switch types[r.IntN(len(types))] {
	case "object":
		object := map[string]any{}
		for name, field := range s.Properties {
			if r.IntN(3) > 0 {
				object[name] = imagine(r, field, depth+1)
			}
		}
		for _, name := range s.Required {
			if field, ok := s.Properties[name]; ok && r.IntN(50) > 0 {
				object[name] = imagine(r, field, depth+1)
			}
		}
		if r.IntN(50) == 0 {
			object["unheard_of"] = true
		}
		return object
	case "array":
		list := make([]any, r.IntN(3))
		for i := range list {
			list[i] = odd[r.IntN(len(odd))]
			if s.Items2020 != nil {
				list[i] = imagine(r, s.Items2020, depth+1)
			}
		}
		return list
	case "string":
		if s.Enum != nil && r.IntN(20) > 0 {
			return s.Enum.Values[r.IntN(len(s.Enum.Values))]
		}
		texts := []string{"hob_two", "GBP", "12.50", "3", "2026-11-25", "2026-02-30", "a@b.example", "0199f0a0-0000-7000-8000-000000000001", "Ämter & Söhne", "a\nb", "WT24 DMO"}
		return texts[r.IntN(len(texts))]
	case "integer", "number":
		return stdjson.Number([]string{"1", "2", "12", "0", "2024", "1.0", "1e2"}[r.IntN(7)])
	case "boolean":
		return r.IntN(2) == 0
	}
	return nil
}
