package formula

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"wainscot/bom/catalogue"
)

// Limits of one formula, beside catalogue.MaxFormula bytes.
const (
	maxNesting = 40 // brackets within brackets
	maxDigits  = 15 // of a number, leading zeros aside
)

// reserved are the words no name may be, with what to write instead, if
// anything.
var reserved = map[string]string{
	"true": "true", "false": "false",
	"and": "Write && for and.", "or": "Write || for or.", "not": "Write ! for not.",
	"in":   "Compare with each value: x == \"a\" || x == \"b\".",
	"null": "Nothing is ever null here; leave it out.",
	"if":   "Write condition ? a : b.", "else": "Write condition ? a : b.",
	"as": word, "break": word, "const": word, "continue": word, "for": word,
	"function": word, "import": word, "let": word, "loop": word, "package": word,
	"namespace": word, "return": word, "var": word, "void": word, "while": word,
}

const word = "Use another name."

// numeral is a number as written, with its place.
type numeral struct {
	at    int // offset in characters from 0
	value number
}

// scanner goes over a formula before CEL parses it: it refuses what our subset
// of CEL leaves out where that can be said more plainly here, and keeps the
// text of each number, for CEL itself reads 0.1 as a float.
type scanner struct {
	text     []rune
	at       int
	numerals []numeral
	open     []int // places of brackets not yet closed
	err      *Error
}

func scan(source string) (*scanner, *Error) {
	if len(source) > catalogue.MaxFormula {
		return nil, fault(1, fmt.Sprintf("The formula is %d bytes long, and %d are allowed.", len(source), catalogue.MaxFormula),
			"Split it: give a part of it a name of its own as a figure.")
	}
	if !utf8.ValidString(source) {
		return nil, fault(1, "The formula is not UTF-8 text.", "Type it again.")
	}
	s := &scanner{text: []rune(source)}
	for s.err == nil && s.at < len(s.text) {
		s.next()
	}
	if s.err == nil && len(s.open) > 0 {
		s.refuse(s.open[len(s.open)-1], "This bracket is never closed.", "Add the missing ).")
	}
	if s.err == nil && strings.TrimSpace(source) == "" {
		s.refuse(0, "The formula is blank.", "Write it, or leave the field out.")
	}
	return s, s.err
}

func (s *scanner) refuse(at int, reason, remedy string) {
	if s.err == nil {
		s.err = fault(at+1, reason, remedy)
	}
}

// peek gives the character n further on, 0 past the end.
func (s *scanner) peek(n int) rune {
	if s.at+n < len(s.text) {
		return s.text[s.at+n]
	}
	return 0
}

func isDigit(r rune) bool { return '0' <= r && r <= '9' }
func isLetter(r rune) bool {
	return r == '_' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z'
}

func (s *scanner) next() {
	r := s.text[s.at]
	switch {
	case r == ' ' || r == '\t' || r == '\n' || r == '\r':
		s.at++
	case isDigit(r):
		s.numeral()
	case isLetter(r):
		s.name()
	case r == '"' || r == '\'':
		s.quoted(r)
	default:
		s.symbol(r)
	}
}

// numeral reads a number: digits, with a point among them or not.
func (s *scanner) numeral() {
	start := s.at
	digits, places, point := 0, 0, false
	coefficient := uint64(0)
	for ; ; s.at++ {
		r := s.peek(0)
		switch {
		case isDigit(r):
			if digits > 0 || r != '0' {
				digits++
			}
			if point {
				places++
			}
			if digits > maxDigits || places > Places {
				s.refuse(start, fmt.Sprintf("A number has at most %d digits, %d of them after the point.", maxDigits, Places),
					"Write fewer digits.")
				return
			}
			coefficient = coefficient*10 + uint64(r-'0')
			continue
		case r == '.' && !point && isDigit(s.peek(1)):
			point = true
			continue
		case r == '.':
			s.refuse(s.at, "A point in a number has digits on both sides, and there is only one.", "Write 5 or 5.0.")
			return
		case isLetter(r):
			s.refuse(start, "A number is plain digits with or without a point: no letters, no units, no exponent.",
				"Write it out, as in 1500 or 0.0015; the unit is in the names.")
			return
		}
		break
	}
	x, _ := numberOf(coefficient, places)
	s.numerals = append(s.numerals, numeral{start, x})
}

func (s *scanner) name() {
	start := s.at
	for isLetter(s.peek(0)) || isDigit(s.peek(0)) {
		s.at++
	}
	text := string(s.text[start:s.at])
	if r := s.peek(0); r == '"' || r == '\'' {
		s.refuse(start, "A text stands in plain quotes, with nothing before them.", "Write \"…\".")
		return
	}
	if remedy := reserved[text]; remedy != "" && remedy != text {
		s.refuse(start, fmt.Sprintf("%q is no name.", text), remedy)
	}
}

// quoted reads a text constant.
func (s *scanner) quoted(quote rune) {
	start := s.at
	for s.at++; s.at < len(s.text); s.at++ {
		switch r := s.text[s.at]; {
		case r == quote:
			s.at++
			if s.at == start+2 && s.peek(0) == quote {
				s.refuse(start, "A text stands in single or double quotes, not three.", "Write \"…\".")
			}
			return
		case r == '\\' || r < ' ' || r == 0x7f:
			s.refuse(s.at, "A text here holds no backslash and no control character.", "Write the text as it is in the catalogue.")
			return
		}
	}
	s.refuse(start, "This text is never closed.", "Add the missing quote.")
}

// strangers are characters people write that mean something here.
var strangers = map[rune]string{
	'×': "Write * to multiply.", '÷': "Write / to divide.", '−': "Write - for minus.", '–': "Write - for minus.",
	'≤': "Write <=.", '≥': "Write >=.", '≠': "Write !=.",
	'“': "Write plain quotes: \".", '”': "Write plain quotes: \".", '‘': "Write plain quotes: '.", '’': "Write plain quotes: '.",
	'%': "There is no remainder; for a percentage divide by 100.",
	'^': "There are no powers; multiply it out.",
	'[': "There are no lists.", ']': "There are no lists.", '{': "There are no maps.", '}': "There are no maps.",
	'\u00a0': "Write a plain space.",
	';':      "One formula is one expression.", '`': "Names are written plainly.", '\\': "Names are written plainly.",
}

func (s *scanner) symbol(r rune) {
	two := string(r) + string(s.peek(1))
	switch {
	case two == "&&" || two == "||" || two == "==" || two == "!=" || two == "<=" || two == ">=":
		s.at += 2
	case two == "//":
		s.refuse(s.at, "Two slashes would start a remark and hide the rest of the formula.", "Write one / to divide; floor(a / b) for whole times.")
	case two == "**":
		s.refuse(s.at, "** means nothing in a formula.", "There are no powers; multiply it out.")
	case r == '=':
		s.refuse(s.at, "A single = means nothing in a formula.", "Write == to compare.")
	case r == '&':
		s.refuse(s.at, "A single & means nothing in a formula.", "Write && for and.")
	case r == '|':
		s.refuse(s.at, "A single | means nothing in a formula.", "Write || for or.")
	case r == '(':
		s.open = append(s.open, s.at)
		if len(s.open) > maxNesting {
			s.refuse(s.at, fmt.Sprintf("Brackets stand more than %d deep.", maxNesting), "Give a part of the formula a name of its own as a figure.")
		}
		s.at++
	case r == ')':
		if len(s.open) == 0 {
			s.refuse(s.at, "This bracket closes nothing.", "Take it out, or open one before it.")
			return
		}
		s.open = s.open[:len(s.open)-1]
		s.at++
	case r == '.' && isDigit(s.peek(1)):
		s.refuse(s.at, "A point in a number has digits on both sides.", "Write 0.5 for .5.")
	case strings.ContainsRune("+-*/,?:.<>!", r):
		s.at++
	default:
		s.stranger(r)
	}
}

func (s *scanner) stranger(r rune) {
	remedy := strangers[r]
	if remedy == "" {
		remedy = "Take it out."
	}
	s.refuse(s.at, fmt.Sprintf("%q means nothing in a formula.", r), remedy)
}

// literal gives the number written at a place or, when a minus stands there,
// after it.
func (s *scanner) literal(at int) (number, bool) {
	for _, n := range s.numerals {
		if n.at >= at {
			return n.value, true
		}
	}
	return zero, false
}
