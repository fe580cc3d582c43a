package quote

import (
	"testing"

	"pgregory.net/rapid"
)

// The check digits by hand: R000001 and RF00 as digits are 27 000001 2715 00,
// whose remainder by 97 is taken from 98 (ISO 7064, MOD 97-10).
func TestReservationReference(t *testing.T) {
	t.Parallel()
	got, err := ReservationReference(1)
	if err != nil {
		t.Fatal(err)
	}
	const body = 27_000001_2715_00
	if want := 98 - body%97; got[2:4] != string([]byte{byte('0' + want/10), byte('0' + want%10)}) || got[4:] != "R000001" {
		t.Errorf("%s, and the check digits are %02d", got, want)
	}
	for _, number := range []int64{0, -1, 1_000_000_000_000} {
		if got, err := ReservationReference(number); err == nil {
			t.Errorf("reservation %d: %s", number, got)
		}
	}
}

// A reservation's reference leads back to it and to no quote, and a quote's to
// no reservation.
func TestReservationsAndQuotesAreNeverTakenForEachOther(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Int64Range(1, 999_999_999_999).Draw(t, "number")
		van := rapid.IntRange(0, MaxVans).Draw(t, "van")
		reserved, err := ReservationReference(number)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := ReservationOfReference(reserved); !ok || got != number {
			t.Errorf("%s leads to %d, %t", reserved, got, ok)
		}
		if _, _, ok := QuoteOfReference(reserved); ok {
			t.Errorf("%s is taken for a quote's", reserved)
		}
		quoted, err := Reference(number, van)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := ReservationOfReference(quoted); ok {
			t.Errorf("%s is taken for a reservation's", quoted)
		}
	})
}
