package catalogue

import (
	"slices"
	"strings"
)

// units are what the name of a number may end in, in small letters as names
// are: load_length_mm, gas_input_kw, draw_w_per_m2. They are those formulas
// can work with.
var units = []string{"mm", "m", "mm2", "m2", "ml", "l", "m3", "g", "kg", "w", "kw", "wh", "kwh",
	"a", "ma", "ah", "v", "ohm", "c", "k", "m2k", "deg", "mbar", "h", "hours", "years", "percent", "count"}

// unitRemedy says what a name that ends in no unit could end in.
var unitRemedy = "Let it end in its unit, one of _" + strings.Join(units, ", _") +
	", or in one per another, like _kg_per_m2; a plain number ends in _count."

// endsInUnit says whether a name ends in its unit and is more than that.
func endsInUnit(name string) bool {
	words := strings.Split(name, "_")
	n := len(words)
	if n >= 4 && words[n-2] == "per" {
		return words[n-3] != "hours" && slices.Contains(units, words[n-3])
	}
	return n >= 2 && words[n-2] != "per" && slices.Contains(units, words[n-1])
}

// reserved are words that formulas keep for themselves: CEL's own (the CEL
// language definition, "Syntax": reserved words), the logical words people
// write instead of && || !, and our families of names.
var reserved = map[string]bool{
	"as": true, "break": true, "const": true, "continue": true, "else": true, "false": true,
	"for": true, "function": true, "if": true, "import": true, "in": true, "let": true,
	"loop": true, "package": true, "namespace": true, "null": true, "return": true,
	"true": true, "var": true, "void": true, "while": true,
	"and": true, "or": true, "not": true,
	"van": true, "fit": true, "finish": true, "sheet": true,
}

// MaxCode is the length of the longest code.
const MaxCode = 60

// shape of a code: which bytes it begins with and goes on with.
type shape struct {
	first, rest func(byte) bool
	least, most int
	remedy      string
}

var (
	// identifiers stand in formulas.
	identifier = shape{isSmall, func(b byte) bool { return isSmall(b) || isDigit(b) || b == '_' }, 1, MaxCode,
		"Begin with a small letter and go on with small letters, digits and _, 60 at most."}
	// labels name what no formula reads.
	label = shape{isSmall, func(b byte) bool { return isSmall(b) || isDigit(b) || b == '_' || b == '-' }, 1, MaxCode,
		"Begin with a small letter and go on with small letters, digits, _ and -, 60 at most."}
	// stock codes name parts and kits.
	stock = shape{isLetterOrDigit, func(b byte) bool { return isLetterOrDigit(b) || b == '_' || b == '-' }, 2, MaxCode,
		"Use letters, digits, _ and -, 2 to 60 of them, beginning with a letter or digit."}
	// values are of particulars and finishes: formulas compare texts with them.
	value = shape{isLetterOrDigit, func(b byte) bool { return isLetterOrDigit(b) || b == '_' || b == '-' || b == ' ' }, 1, MaxCode,
		"Use letters, digits, spaces, _ and -, 60 at most, beginning with a letter or digit."}
)

func isSmall(b byte) bool         { return 'a' <= b && b <= 'z' }
func isDigit(b byte) bool         { return '0' <= b && b <= '9' }
func isLetterOrDigit(b byte) bool { return isSmall(b) || 'A' <= b && b <= 'Z' || isDigit(b) }

func (s shape) fits(code string) bool {
	if len(code) < s.least || len(code) > s.most || !s.first(code[0]) {
		return false
	}
	for i := 1; i < len(code); i++ {
		if !s.rest(code[i]) {
			return false
		}
	}
	return true
}
