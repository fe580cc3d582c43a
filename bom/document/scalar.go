package document

import (
	"fmt"
	"strconv"
	"unicode"
	"unicode/utf8"

	"github.com/shopspring/decimal"
)

// scalarKind is what a scalar is by its looks.
type scalarKind uint8

const (
	text scalarKind = iota + 1
	number
	yesNo
	nothing
)

// scalar says what a plain scalar looks like, by the core schema of YAML 1.2
// (yaml.org/spec/1.2.2, 10.3.2); JSON's scalars are a part of it.
func (n *node) scalar() scalarKind {
	if n.quoted {
		return text
	}
	switch n.text {
	case "", "~", "null", "Null", "NULL":
		return nothing
	case "true", "True", "TRUE", "false", "False", "FALSE":
		return yesNo
	case ".nan", ".NaN", ".NAN":
		return number
	}
	if looksLikeNumber(n.text) {
		return number
	}
	return text
}

func looksLikeNumber(s string) bool {
	if s[0] == '-' || s[0] == '+' {
		s = s[1:]
	}
	switch {
	case s == "":
		return false
	case s == ".inf", s == ".Inf", s == ".INF":
		return true
	case len(s) > 2 && s[0] == '0' && (s[1] == 'x' || s[1] == 'o'):
		return all(s[2:], func(c byte) bool {
			return '0' <= c && c <= '9' || s[1] == 'x' && ('a' <= c && c <= 'f' || 'A' <= c && c <= 'F')
		})
	}
	digits := 0
	i := 0
	for ; i < len(s) && '0' <= s[i] && s[i] <= '9'; i++ {
		digits++
	}
	if i < len(s) && s[i] == '.' {
		for i++; i < len(s) && '0' <= s[i] && s[i] <= '9'; i++ {
			digits++
		}
	}
	if digits == 0 {
		return false
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		i++
		if i < len(s) && (s[i] == '-' || s[i] == '+') {
			i++
		}
		if i == len(s) {
			return false
		}
		for ; i < len(s) && '0' <= s[i] && s[i] <= '9'; i++ {
		}
	}
	return i == len(s)
}

func all(s string, is func(byte) bool) bool {
	for i := range len(s) {
		if !is(s[i]) {
			return false
		}
	}
	return true
}

// Digits a decimal may have.
const (
	MaxWholeDigits   = 15
	MaxDecimalPlaces = 12
)

const decimalRemedy = "Write digits with at most one point, like 12 or 0.75: at most 15 before the point and 12 after it, no exponent."

// readDecimal reads a decimal from its own digits, never by way of a float.
func readDecimal(s string) (decimal.Decimal, bool) {
	digits := s
	if len(digits) > 0 && digits[0] == '-' {
		digits = digits[1:]
	}
	whole := 0
	for whole < len(digits) && '0' <= digits[whole] && digits[whole] <= '9' {
		whole++
	}
	if whole == 0 || whole > MaxWholeDigits || whole > 1 && digits[0] == '0' {
		return decimal.Decimal{}, false
	}
	places := 0
	if whole < len(digits) {
		fraction := digits[whole+1:]
		places = len(fraction)
		if digits[whole] != '.' || places == 0 || places > MaxDecimalPlaces ||
			!all(fraction, func(c byte) bool { return '0' <= c && c <= '9' }) {
			return decimal.Decimal{}, false
		}
	}
	if whole+places <= 18 {
		// Small enough for one word: the common case, without big integers.
		var n int64
		for i := range len(digits) {
			if digits[i] != '.' {
				n = n*10 + int64(digits[i]-'0')
			}
		}
		if len(digits) != len(s) {
			n = -n
		}
		return decimal.New(n, int32(-places)), true
	}
	d, err := decimal.NewFromString(s)
	return d, err == nil
}

// readInt reads a whole number of at most nine digits.
func readInt(s string) (int64, bool) {
	digits := s
	if len(digits) > 0 && digits[0] == '-' {
		digits = digits[1:]
	}
	if digits == "" || len(digits) > 9 || len(digits) > 1 && digits[0] == '0' ||
		!all(digits, func(c byte) bool { return '0' <= c && c <= '9' }) {
		return 0, false
	}
	n, err := strconv.ParseInt(s, 10, 64)
	return n, err == nil
}

// TextFault says what is wrong with a text that people will read, or "":
// characters that cannot be seen, or too many.
func TextFault(s string) (reason string) {
	if len(s) > MaxText {
		return fmt.Sprintf("The text has %d bytes; at most %d are read.", len(s), MaxText)
	}
	plain := true
	for i := range len(s) {
		if c := s[i]; c < ' ' && c != '\n' || c >= 0x7f {
			plain = false
			break
		}
	}
	if plain {
		return ""
	}
	for _, r := range s {
		switch {
		case r >= ' ' && r < utf8.RuneSelf && r != 0x7f, r == '\n':
		case unicode.IsControl(r), r == 0xfeff, r == 0x2028, r == 0x2029, // breaks and marks
			r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069: // turns of direction
			return fmt.Sprintf("The text holds the character %U, which cannot be seen.", r)
		}
	}
	return ""
}
