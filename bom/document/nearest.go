package document

import (
	"fmt"
	"strings"
)

// Nearest is the candidate most like word, or "" if none is like enough to be
// what was meant.
func Nearest(word string, candidates []string) string {
	best, bestDistance := "", 1+max(1, len(word)/3)
	for _, c := range candidates {
		if c == word || abs(len(c)-len(word)) >= bestDistance {
			continue
		}
		if d := distance(word, c, bestDistance); d < bestDistance {
			best, bestDistance = c, d
		}
	}
	return best
}

// Suggest is a remedy that offers the nearest candidate, or lists them when
// they are few; else it is the other one, which may be left out.
func Suggest(word string, candidates []string, otherwise string) string {
	if near := Nearest(word, candidates); near != "" {
		return fmt.Sprintf("Did you mean %q?", near)
	}
	if n := len(candidates); n > 0 && n <= 12 {
		return "Use one of " + strings.Join(candidates, ", ") + "."
	}
	if otherwise == "" {
		return "Use one of those there are."
	}
	return otherwise
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// distance counts the letters to put in, take out, change or swap with their
// neighbour to get from a to b (optimal string alignment), giving up at most.
func distance(a, b string, most int) int {
	if len(a) > 64 || len(b) > 64 {
		return most
	}
	var rows [3][65]int
	before, last, now := &rows[0], &rows[1], &rows[2]
	for j := range len(b) + 1 {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		now[0] = i
		least := i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			d := min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d = min(d, before[j-2]+1)
			}
			now[j] = d
			least = min(least, d)
		}
		if least >= most {
			return most
		}
		before, last, now = last, now, before
	}
	return last[len(b)]
}
