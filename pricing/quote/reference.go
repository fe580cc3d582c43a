package quote

import (
	"fmt"
	"strconv"

	"wainscot/pricing/money"
)

const (
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
// Error: money.ErrReference for a number below 1 or of more than 12 digits, or a
// place that no quote has.
func Reference(number int64, van int) (string, error) {
	if number < 1 || number > 999_999_999_999 || van < 0 || van > MaxVans {
		return "", fmt.Errorf("%w for quote %d, van %d", money.ErrReference, number, van)
	}
	body := fmt.Sprintf("%06d", number)
	if van > 0 {
		body = fmt.Sprintf("%0*d%0*d", numberDigits, number, vanDigits, van)
	}
	return money.NewReference(body), nil
}

// QuoteOfReference is the quote's number and the van's place (0: the whole
// quote) that a reference of ours was made from; false for one of somebody
// else.
func QuoteOfReference(reference string) (number int64, van int, ok bool) { //nolint:revive // a reservation has one too
	if !money.ValidReference(reference) {
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
