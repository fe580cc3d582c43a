package statement

import (
	"slices"
	"strings"
	"unicode"

	"wainscot/pricing/money"
)

// Lengths of what may be a creditor reference with one sign left out, or one too
// many.
const (
	minReference = 4
	maxReference = money.MostReference + 1
)

// References are what stands in a line like a creditor reference: RF, two
// digits and up to 21 signs more, with a slip in it or without. People set
// spaces and dashes in it, so runs of words are tried together.
func (l *Line) References() []string {
	var found []string
	add := func(s string) {
		if len(s) >= minReference && len(s) <= maxReference && !slices.Contains(found, s) {
			found = append(found, s)
		}
	}
	if strings.HasPrefix(l.Reference, "RF") {
		add(l.Reference)
	}
	words := strings.FieldsFunc(strings.ToUpper(l.Words+" "+l.EndToEnd), func(r rune) bool { return !unicode.IsDigit(r) && (r < 'A' || r > 'Z') })
	for i, w := range words {
		at := strings.Index(w, "RF")
		if at < 0 {
			continue
		}
		joined := w[at:]
		add(joined)
		for _, next := range words[i+1:] {
			if joined += next; len(joined) > maxReference {
				break
			}
			add(joined)
		}
	}
	return found
}
