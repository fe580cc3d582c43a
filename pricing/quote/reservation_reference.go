package quote

import (
	"fmt"
	"strconv"
	"strings"

	"wainscot/pricing/money"
)

// reservationMark begins the body of a reservation's reference, so that it
// never is a quote's: those have digits alone.
const reservationMark = "R"

// ReservationReference is the creditor reference (ISO 11649) to pay the
// deposit of a reservation under: as Reference, with the reservation's number
// after a mark of its own.
//
// Error: money.ErrReference for a number below 1 or of more than 12 digits.
func ReservationReference(number int64) (string, error) {
	if number < 1 || number > 999_999_999_999 {
		return "", fmt.Errorf("%w for reservation %d", money.ErrReference, number)
	}
	return money.NewReference(fmt.Sprintf("%s%06d", reservationMark, number)), nil
}

// ReservationOfReference is the reservation's number that a reference of ours
// was made from; false for any other.
func ReservationOfReference(reference string) (number int64, ok bool) {
	if !money.ValidReference(reference) {
		return 0, false
	}
	digits, ours := strings.CutPrefix(reference[4:], reservationMark)
	number, err := strconv.ParseInt(digits, 10, 64)
	if err != nil || !ours {
		return 0, false
	}
	again, err := ReservationReference(number)
	return number, err == nil && again == reference
}
