package quote_test

import (
	"testing"

	"wainscot/pricing/quote"
)

func TestWhatMayFollowWhat(t *testing.T) {
	states := []quote.State{"", quote.Draft, quote.Issued, quote.Accepted, quote.Declined, quote.Superseded}
	may := map[quote.State]map[quote.State]bool{
		"":             {quote.Draft: true, quote.Issued: true, quote.Accepted: true},
		quote.Draft:    {quote.Issued: true, quote.Declined: true},
		quote.Issued:   {quote.Accepted: true, quote.Declined: true, quote.Superseded: true},
		quote.Declined: {quote.Superseded: true},
	}
	for _, from := range states {
		for _, to := range states {
			if got := from.MayBecome(to); got != may[from][to] {
				t.Errorf("%q to %q: %t", from, to, got)
			}
		}
	}
	if quote.State("lapsed").MayBecome(quote.Accepted) {
		t.Error("lapsed is no state")
	}
}

func TestLapsed(t *testing.T) {
	for today, want := range map[string]bool{"2026-12-22": false, "2026-12-23": false, "2026-12-24": true, "2027-01-01": true} {
		if quote.Lapsed("2026-12-23", today) != want {
			t.Errorf("on %s", today)
		}
	}
}
