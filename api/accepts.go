package api

import (
	stdjson "encoding/json"
	"errors"
	"math/big"
	"slices"
	"strconv"
	"unicode/utf8"

	"github.com/pb33f/jsonschema/v6"
)

// accepts says of a value that it surely keeps a schema; where it says no, the
// value breaks the schema or the question was too hard, and the library is
// asked, which also says why. Nearly all bodies are as they should be, and the
// library, which gathers faults and what was looked at along the way, takes
// ten times as long to find nothing.
// TestAcceptedIsNeverRefused holds the two against each other.
type accepts func(v any) bool

// bodyFaults are what the contract has against a body; nil for nothing.
func (o *operation) bodyFaults(tree any) *jsonschema.ValidationError {
	if o.accepts(tree) {
		return nil
	}
	found, _ := errors.AsType[*jsonschema.ValidationError](o.body.Validate(tree))
	return found
}

// acceptsOf makes the short way of a schema.
func acceptsOf(s *jsonschema.Schema) accepts {
	return acceptsWithin(s, map[*jsonschema.Schema]*accepts{})
}

func tooHard(any) bool { return false }

// acceptsWithin is acceptsOf; known are the schemas that are being made or are
// made already, of which one may hold another in a ring.
func acceptsWithin(s *jsonschema.Schema, known map[*jsonschema.Schema]*accepts) accepts {
	if before, ok := known[s]; ok {
		return func(v any) bool { return (*before)(v) }
	}
	made := new(accepts)
	known[s] = made
	*made = newAccepts(s, known)
	return *made
}

func newAccepts(s *jsonschema.Schema, known map[*jsonschema.Schema]*accepts) accepts {
	if s.Bool != nil {
		yes := *s.Bool
		return func(any) bool { return yes }
	}
	if hard(s) {
		return tooHard
	}
	var all []accepts
	if s.Ref != nil {
		all = append(all, acceptsWithin(s.Ref, known))
	}
	for _, part := range s.AllOf {
		all = append(all, acceptsWithin(part, known))
	}
	if s.Types != nil && !s.Types.IsEmpty() {
		all = append(all, ofType(s.Types.ToStrings()))
	}
	if s.Enum != nil {
		all = append(all, oneOfWords(s.Enum.Values))
	}
	if s.Format != nil {
		all = append(all, func(v any) bool { return s.Format.Validate(v) == nil })
	}
	object, list := acceptsObject(s, known), acceptsList(s, known)
	return func(v any) bool {
		for _, part := range all {
			if !part(v) {
				return false
			}
		}
		switch v := v.(type) {
		case map[string]any:
			return object(v)
		case []any:
			return list(v)
		case string:
			return acceptsText(s, v)
		case stdjson.Number:
			return acceptsNumber(s, v)
		}
		return true
	}
}

// hard says whether a schema has keywords that are left to the library. Those
// that only say something to people are passed over, as the library does.
func hard(s *jsonschema.Schema) bool {
	return s.RecursiveRef != nil || s.DynamicRef != nil || s.Const != nil || s.Not != nil || s.AnyOf != nil || s.OneOf != nil ||
		s.If != nil || s.PropertyNames != nil || s.PatternProperties != nil || s.Dependencies != nil || s.DependentRequired != nil ||
		s.DependentSchemas != nil || s.UnevaluatedProperties != nil || s.Contains != nil || s.Items != nil || s.PrefixItems != nil ||
		s.UnevaluatedItems != nil || s.ContentEncoding != nil || s.ContentMediaType != nil || s.ContentSchema != nil ||
		s.ExclusiveMaximum != nil || s.ExclusiveMinimum != nil || s.MultipleOf != nil || len(s.Extensions) > 0
}

func ofType(types []string) accepts {
	return func(v any) bool {
		switch v := v.(type) {
		case map[string]any:
			return slices.Contains(types, "object")
		case []any:
			return slices.Contains(types, "array")
		case string:
			return slices.Contains(types, "string")
		case bool:
			return slices.Contains(types, "boolean")
		case stdjson.Number:
			if slices.Contains(types, "number") {
				return true
			}
			_, err := strconv.ParseInt(string(v), 10, 64)
			return err == nil && slices.Contains(types, "integer")
		}
		return false
	}
}

func oneOfWords(values []any) accepts {
	words := make([]string, 0, len(values))
	for _, v := range values {
		word, ok := v.(string)
		if !ok {
			return tooHard
		}
		words = append(words, word)
	}
	return func(v any) bool {
		word, ok := v.(string)
		return ok && slices.Contains(words, word)
	}
}

func acceptsObject(s *jsonschema.Schema, known map[*jsonschema.Schema]*accepts) func(map[string]any) bool {
	fields := make(map[string]accepts, len(s.Properties))
	for name, field := range s.Properties {
		fields[name] = acceptsWithin(field, known)
	}
	others := accepts(func(any) bool { return true })
	switch more := s.AdditionalProperties.(type) {
	case bool:
		if !more {
			others = tooHard
		}
	case *jsonschema.Schema:
		others = acceptsWithin(more, known)
	}
	return func(object map[string]any) bool {
		if s.MinProperties != nil && len(object) < *s.MinProperties || s.MaxProperties != nil && len(object) > *s.MaxProperties {
			return false
		}
		for _, name := range s.Required {
			if _, there := object[name]; !there {
				return false
			}
		}
		for name, v := range object {
			field, named := fields[name]
			if !named {
				field = others
			}
			if !field(v) {
				return false
			}
		}
		return true
	}
}

func acceptsList(s *jsonschema.Schema, known map[*jsonschema.Schema]*accepts) func([]any) bool {
	member := accepts(func(any) bool { return true })
	if s.Items2020 != nil {
		member = acceptsWithin(s.Items2020, known)
	}
	return func(list []any) bool {
		if s.MinItems != nil && len(list) < *s.MinItems || s.MaxItems != nil && len(list) > *s.MaxItems ||
			s.UniqueItems && len(list) > 1 {
			return false
		}
		for _, v := range list {
			if !member(v) {
				return false
			}
		}
		return true
	}
}

func acceptsText(s *jsonschema.Schema, text string) bool {
	if s.MinLength != nil || s.MaxLength != nil {
		n := utf8.RuneCountInString(text)
		if s.MinLength != nil && n < *s.MinLength || s.MaxLength != nil && n > *s.MaxLength {
			return false
		}
	}
	return s.Pattern == nil || s.Pattern.MatchString(text)
}

// acceptsNumber takes whole numbers; others are rare here and left to the
// library.
func acceptsNumber(s *jsonschema.Schema, number stdjson.Number) bool {
	if s.Minimum == nil && s.Maximum == nil {
		return true
	}
	n, err := strconv.ParseInt(string(number), 10, 64)
	if err != nil {
		return false
	}
	return (s.Minimum == nil || compareWhole(s.Minimum, n) <= 0) && (s.Maximum == nil || compareWhole(s.Maximum, n) >= 0)
}

// compareWhole compares a bound with a whole number.
func compareWhole(bound *big.Rat, n int64) int {
	if bound.IsInt() && bound.Num().IsInt64() {
		b := bound.Num().Int64()
		switch {
		case b < n:
			return -1
		case b > n:
			return 1
		}
		return 0
	}
	return bound.Cmp(new(big.Rat).SetInt64(n))
}
