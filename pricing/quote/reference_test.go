package quote_test

import (
	"testing"

	"pgregory.net/rapid"

	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

func TestReferenceBounds(t *testing.T) {
	for _, c := range []struct {
		number int64
		van    int
	}{{0, 0}, {-1, 0}, {1_000_000_000_000, 0}, {1, -1}, {1, quote.MaxVans + 1}} {
		if r, err := quote.Reference(c.number, c.van); err == nil {
			t.Errorf("quote %d, van %d: %s", c.number, c.van, r)
		}
	}
	longest, err := quote.Reference(999_999_999_999, quote.MaxVans)
	if err != nil || len(longest) > 25 {
		t.Error(longest, err)
	}
}

// A reference holds, comes back to its quote and van, and no slip of one
// character or of two neighbours goes unseen.
func TestReferencesHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Int64Range(1, 999_999_999_999).Draw(t, "number")
		van := rapid.IntRange(0, quote.MaxVans).Draw(t, "van")
		r, err := quote.Reference(number, van)
		if err != nil || !money.ValidReference(r) {
			t.Fatal(r, err)
		}
		if n, v, ok := quote.QuoteOfReference(r); !ok || n != number || v != van {
			t.Fatalf("%s comes back as quote %d, van %d", r, n, v)
		}
		if read, err := money.ReadReference(money.PrintReference(r)); err != nil || read != r {
			t.Fatal(read, err)
		}
		at := rapid.IntRange(2, len(r)-1).Draw(t, "at")
		slip := []byte(r)
		slip[at] = "0123456789"[rapid.IntRange(0, 9).Draw(t, "digit")]
		if string(slip) != r && money.ValidReference(string(slip)) {
			t.Fatalf("%s passes for %s", slip, r)
		}
		swapped := []byte(r)
		if at+1 < len(r) {
			swapped[at], swapped[at+1] = swapped[at+1], swapped[at]
		}
		if string(swapped) != r && money.ValidReference(string(swapped)) {
			t.Fatalf("%s passes for %s", swapped, r)
		}
	})
}
