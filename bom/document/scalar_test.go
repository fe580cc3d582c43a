package document

import (
	"regexp"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

var written = regexp.MustCompile(`^-?(0|[1-9][0-9]{0,14})(\.[0-9]{1,12})?$`)

// Decimals are read exactly, and only as they are said to be written.
func TestReadDecimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(
			rapid.StringMatching(`-?[0-9]{0,17}(\.[0-9]{0,14})?`),
			rapid.StringMatching(`[-+0-9.e_x,]{0,12}`),
			rapid.String(),
		).Draw(t, "s")
		got, ok := readDecimal(s)
		if ok != written.MatchString(s) {
			t.Fatalf("%q: %v", s, ok)
		}
		if !ok {
			return
		}
		want, err := decimal.NewFromString(s)
		if err != nil || !got.Equal(want) {
			t.Errorf("%q is read as %s: %v", s, got, err)
		}
	})
}

// The distance is a distance: nothing from itself, the same both ways.
func TestNearest(t *testing.T) {
	word := rapid.StringMatching(`[a-c]{0,8}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		there, back := distance(a, b, 100), distance(b, a, 100)
		if there != back || (there == 0) != (a == b) || there > max(len(a), len(b)) || there < abs(len(a)-len(b)) {
			t.Errorf("%q to %q is %d, back %d", a, b, there, back)
		}
	})
	for _, c := range []struct{ word, want string }{
		{"hbo", "hob"}, {"ovne", "oven"}, {"solar_pannel", "solar_panel"}, {"xyz", ""}, {"", ""},
	} {
		if got := Nearest(c.word, []string{"hob", "oven", "solar_panel"}); got != c.want {
			t.Errorf("%q is nearest to %q, not %q", c.word, got, c.want)
		}
	}
}
