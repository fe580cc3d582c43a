package apitest

import (
	"encoding/json"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pb33f/libopenapi/datamodel/high/base"
)

// spoiled is a body with one place in it made hostile, or a query.
type spoiled struct {
	place string // JSON pointer, or the query parameter
	what  string
	body  any
	query string
	path  string // in place of the operation's own
	// against the contract: it has to be refused as that.
	against bool
}

// hostileText is long enough for most bounds once it is cut: letters that are
// many bytes, written right to left, joined, invisible, or no characters at all
// to some programs.
const hostileText = "Ǻ\u202eمرحبا\u202c 👩🏽\u200d🔧 e\u0301 \ufeff\u200b\u2028 \ufffd 漢字 ''; -- <b>&amp;%s{{.}} =1+1 "

// spoil gives every way in which the value of a schema is made hostile. What is
// against the contract the contract itself has to refuse; what keeps it has to
// be answered somehow, and not by a fault of ours.
func spoil(s *base.Schema, other string) (against, within []any) {
	switch kindOf(s) {
	case "string":
		return spoilText(s, other)
	case "integer", "number":
		against = []any{"7", true, json.Number("1e400"), json.Number("0.5")}
		for _, bound := range []*float64{s.Minimum, s.Maximum} {
			if bound != nil {
				within = append(within, json.Number(strconv.FormatFloat(*bound, 'f', -1, 64)))
			}
		}
		if s.Minimum == nil || s.Maximum == nil {
			within = append(within, json.Number("9223372036854775807"), json.Number("-9223372036854775808"))
		}
	case "boolean":
		return []any{"true", 1, nil}, []any{true, false}
	case "array":
		return []any{"none", map[string]any{}, nil}, []any{[]any{}}
	case "object":
		return []any{"none", []any{}, nil, map[string]any{"nothing_of_the_kind": 1}}, nil
	}
	return against, within
}

// texts are what reaches furthest of the kinds of text the contract has.
var texts = []string{
	"9999-12-31", "0001-01-01", "2026-02-28", "1900-01-01", // days
	"0", "0.00", "-1", "-0.01", "0.000001", "999999999999999999", "-999999999999999999.999999", "9999999999999.99", "1.005", "100", "99999999.9999", // amounts
	"EUR", "JPY", "XQZ", "KWD", // currencies
	"nothing_of_the_kind", "a", "-", "..", "QUJD", "=", // codes, base64
	"018f0000-0000-7000-8000-000000000000", "00000000-0000-0000-0000-000000000000",
	"RF18539007547034", "GB29NWBK60161331926819", "+44 0", "a@b", "9999-12-31T23:59:59.999999Z", "GB",
	strings.Repeat("0", 64), strings.Repeat("9", 30), "00:00", "23:59",
}

func spoilText(s *base.Schema, other string) (against, within []any) {
	against = []any{7, nil, []any{}, "a\u0000b"}
	if s.MaxLength != nil && *s.MaxLength < 10_000 {
		against = append(against, strings.Repeat("x", int(*s.MaxLength)+1))
	}
	if len(s.Enum) > 0 {
		for _, node := range s.Enum {
			within = append(within, node.Value)
		}
		return append(against, "nothing_of_the_kind"), within
	}
	for _, text := range append(slices.Clone(texts), other, longest(s)) {
		if text != "" && keeps(s, text) {
			within = append(within, text)
		}
	}
	if keeps(s, "") {
		within = append(within, "")
	}
	return against, within
}

// longest is hostile text up to the bound.
func longest(s *base.Schema) string {
	if s.MaxLength == nil {
		return hostileText
	}
	n := int(min(*s.MaxLength, 20_000))
	letters := []rune(strings.Repeat(hostileText, n/len([]rune(hostileText))+1))
	text := string(letters[:n])
	if !keeps(s, text) { // a line, without what breaks one
		text = strings.Map(func(r rune) rune { return map[bool]rune{true: 'Ǻ', false: r}[r == '\u2028'] }, text)
	}
	return text
}

func keeps(s *base.Schema, text string) bool {
	n := int64(len([]rune(text)))
	if s.MaxLength != nil && n > *s.MaxLength || s.MinLength != nil && n < *s.MinLength {
		return false
	}
	return s.Pattern == "" || regexp.MustCompile(s.Pattern).MatchString(text)
}

func kindOf(s *base.Schema) string {
	if len(s.Type) > 0 {
		return s.Type[0]
	}
	if s.Properties != nil {
		return "object"
	}
	return ""
}

// whole of a schema is a value that keeps it, with everything in it that there
// may be; nil where none is known.
func whole(s *base.Schema, deep int) any {
	if s == nil || deep > 6 {
		return nil
	}
	if s.Example != nil {
		var value any
		if s.Example.Decode(&value) == nil {
			return value
		}
	}
	switch kindOf(s) {
	case "object":
		made := map[string]any{}
		if s.Properties == nil {
			return made
		}
		for name, p := range s.Properties.FromOldest() {
			if value := whole(p.Schema(), deep+1); value != nil {
				made[name] = value
			}
		}
		return made
	case "array":
		if s.Items == nil || s.Items.A == nil {
			return []any{}
		}
		if value := whole(s.Items.A.Schema(), deep+1); value != nil {
			return []any{value}
		}
		return []any{}
	case "integer", "number":
		if s.Minimum != nil {
			return json.Number(strconv.FormatFloat(*s.Minimum, 'f', -1, 64))
		}
		return 1
	case "boolean":
		return true
	case "string":
		_, within := spoilText(s, "")
		if len(within) > 0 {
			return within[0]
		}
	}
	return nil
}

// spoils a value in every place its schema knows, one at a time. put gives the
// whole body with a value in this place.
func spoils(s *base.Schema, value any, place, other string, deep int, put func(any) any) (list []spoiled) {
	if s == nil || deep > 6 {
		return nil
	}
	if len(s.OneOf)+len(s.AnyOf)+len(s.AllOf) > 0 && s.Properties == nil {
		return nil // which of them is meant is said by the value
	}
	against, within := spoil(s, other)
	for i, bad := range slices.Concat(against, within) {
		text, _ := json.Marshal(bad) //nolint:errchkjson // what is not JSON is no reason
		one := spoiled{place: place, what: string(text[:min(len(text), 60)]), body: put(bad), against: i < len(against)}
		if one.body == nil {
			one.body = []byte("null")
		}
		list = append(list, one)
	}
	switch kindOf(s) {
	case "array":
		items, _ := value.([]any)
		if s.Items == nil || s.Items.A == nil {
			return list
		}
		item := s.Items.A.Schema()
		if len(items) == 0 {
			one := whole(item, deep)
			if one == nil {
				return list
			}
			items = []any{one}
		}
		if most := s.MaxItems; most != nil && *most <= 10_000 {
			full := make([]any, *most)
			for i := range full {
				full[i] = items[0]
			}
			list = append(list, spoiled{place: place, what: "as many as there may be", body: put(full)},
				spoiled{place: place, what: "one too many", body: put(append(slices.Clone(full), items[0])), against: true})
		}
		return append(list, spoils(item, items[0], place+"/0", other, deep+1, func(v any) any {
			changed := slices.Clone(items)
			changed[0] = v
			return put(changed)
		})...)
	case "object":
		members, _ := value.(map[string]any)
		if s.Properties == nil {
			return list
		}
		for name, p := range s.Properties.FromOldest() {
			at := p.Schema()
			was, there := members[name]
			if !there {
				was = whole(at, deep+1)
			}
			with := func(v any, out bool) any {
				changed := map[string]any{}
				maps.Copy(changed, members)
				if delete(changed, name); !out {
					changed[name] = v
				}
				return put(changed)
			}
			if there {
				list = append(list, spoiled{place: place + "/" + name, what: "left out", body: with(nil, true), against: slices.Contains(s.Required, name)})
			}
			list = append(list, spoils(at, was, place+"/"+name, other, deep+1, func(v any) any { return with(v, false) })...)
		}
	}
	return list
}
