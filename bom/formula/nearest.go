package formula

import "strings"

// nearest finds the name most like text among those readable there, "" when
// none is near: at most a third of the letters differ.
func (s *Scope) nearest(text string, where where) string {
	best, least := "", len(text)/3+1
	bare := text[strings.LastIndexByte(text, '.')+1:]
	for _, n := range s.sorted {
		if !where.allows(n) {
			continue
		}
		d := distance(text, n.text, least)
		if _, rest, ok := strings.Cut(n.text, "."); ok && rest == bare {
			d = min(d, 1) // right but for the family
		} else if n.text == bare {
			d = min(d, 1)
		}
		if d < least {
			best, least = n.text, d
		}
	}
	return best
}

// distance counts the letters to insert, drop or change from a to b; it gives
// limit as soon as it cannot be less.
func distance(a, b string, limit int) int {
	if d := len(a) - len(b); d >= limit || -d >= limit {
		return limit
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal, lowest := row[0], i+1
		row[0] = i + 1
		for j := range len(b) {
			d := diagonal
			if a[i] != b[j] {
				d = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], d
			lowest = min(lowest, d)
		}
		if lowest >= limit {
			return limit
		}
	}
	return row[len(b)]
}
