package quote

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// ErrReference says that a creditor reference cannot be made or does not hold.
var ErrReference = errors.New("no creditor reference")

const (
	// referenceLength is the most characters a creditor reference has, RF and
	// check digits among them (ISO 11649).
	referenceLength = 25
	// Digits of the quote's number and of the van's place in the body. Fixed
	// lengths, so that quote 1 van 12 and quote 11 van 2 never meet.
	numberDigits = 12
	vanDigits    = 2
)

// Reference is the creditor reference (ISO 11649) to pay a quote under, with
// its check digits and without spaces: "RF", two check digits, the quote's
// number, and two digits for the van's place in it, counted from 1; place 0
// means the whole quote, and adds nothing.
//
// Error: ErrReference for a number below 1 or of more than 12 digits, or a
// place that no quote has.
func Reference(number int64, van int) (string, error) {
	if number < 1 || number > 999_999_999_999 || van < 0 || van > MaxVans {
		return "", fmt.Errorf("%w for quote %d, van %d", ErrReference, number, van)
	}
	body := fmt.Sprintf("%06d", number)
	if van > 0 {
		body = fmt.Sprintf("%0*d%0*d", numberDigits, number, vanDigits, van)
	}
	return withCheck(body), nil
}

// withCheck puts RF and the check digits before a body of capitals and digits:
// 98 less the remainder of the body followed by RF00, letters counted from A =
// 10, divided by 97 (ISO 7064, MOD 97-10).
func withCheck(body string) string {
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
	if len(text) < 5 || len(text) > referenceLength || text[:2] != "RF" {
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

// QuoteOfReference is the quote's number and the van's place (0: the whole
// quote) that a reference of ours was made from; false for one of somebody
// else.
func QuoteOfReference(reference string) (number int64, van int, ok bool) { //nolint:revive // a reservation has one too
	if !ValidReference(reference) {
		return 0, 0, false
	}
	body := reference[4:]
	if len(body) == numberDigits+vanDigits {
		place, err := strconv.Atoi(body[numberDigits:])
		if err != nil {
			return 0, 0, false
		}
		van, body = place, body[:numberDigits]
	}
	number, err := strconv.ParseInt(body, 10, 64)
	if err != nil {
		return 0, 0, false
	}
	again, err := Reference(number, van)
	return number, van, err == nil && again == reference
}
