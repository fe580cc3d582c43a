package money

import (
	"errors"
	"fmt"
	"strings"
)

// ErrReference says that a creditor reference cannot be made or does not hold.
var ErrReference = errors.New("no creditor reference")

// MostReference is the most characters a creditor reference has, RF and check
// digits among them (ISO 11649).
const MostReference = 25

// NewReference is the creditor reference (ISO 11649) with a body of at most 21
// capitals and digits: RF and the check digits stand before it,
// 98 less the remainder of the body followed by RF00, letters counted from A =
// 10, divided by 97 (ISO 7064, MOD 97-10).
func NewReference(body string) string {
	return fmt.Sprintf("RF%02d%s", 98-remainder97(body+"RF00"), body)
}

// remainder97 is the remainder of the number that the text writes, letters as
// two digits from A = 10.
func remainder97(text string) int {
	r := 0
	for _, c := range []byte(text) {
		if c >= 'A' {
			r = (r*100 + int(c-'A') + 10) % 97
		} else {
			r = (r*10 + int(c-'0')) % 97
		}
	}
	return r
}

// ReadReference takes a reference as people write it, spaces and small letters
// too, and gives it as Reference does. Error: ErrReference when it does not
// hold.
func ReadReference(text string) (string, error) {
	plain := strings.ToUpper(strings.Join(strings.Fields(text), ""))
	if !ValidReference(plain) {
		return "", fmt.Errorf("%q: %w: the check digits do not hold", text, ErrReference)
	}
	return plain, nil
}

// ValidReference says whether a text without spaces is a creditor reference
// whose check digits hold.
func ValidReference(text string) bool {
	if len(text) < 5 || len(text) > MostReference || text[:2] != "RF" {
		return false
	}
	for i, c := range []byte(text) {
		digit, capital := c >= '0' && c <= '9', c >= 'A' && c <= 'Z'
		if !digit && (!capital || i == 2 || i == 3) {
			return false
		}
	}
	return remainder97(text[4:]+text[:4]) == 1
}

// PrintReference is a reference in blocks of four, as it is printed.
func PrintReference(reference string) string {
	var b strings.Builder
	for i, c := range []byte(reference) {
		if i > 0 && i%4 == 0 {
			b.WriteByte(' ')
		}
		b.WriteByte(c)
	}
	return b.String()
}
