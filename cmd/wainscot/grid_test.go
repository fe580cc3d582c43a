package main

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestGridAlignsAndWraps(t *testing.T) {
	g := grid{columns: []column{{title: "part"}, {title: "price", right: true}, {title: "why", wraps: true}}}
	g.add("Ply 9 mm, m²", "1,204.50", "asked by the lining")
	g.add("Öl", "3.00", "a reason so long that it has to run on below itself, in its own column")
	g.add("bare")
	var b strings.Builder
	g.write(&b, 2, 52)
	want := `
  part             price  why
  Ply 9 mm, m²  1,204.50  asked by the lining
  Öl                3.00  a reason so long that it
                          has to run on below
                          itself, in its own column
  bare
`
	if got := "\n" + b.String(); got != want {
		t.Errorf("got:%s\nwant:%s", got, want)
	}
}

func TestGridWithoutTitlesHasNoHeading(t *testing.T) {
	g := grid{columns: []column{{}, {right: true}}}
	g.add("a", "1")
	var b strings.Builder
	g.write(&b, 0, 80)
	if b.String() != "a  1\n" {
		t.Errorf("got %q", b.String())
	}
}

// TestWrapKeepsEveryWord: no word is lost, broken or set twice, and no line is
// longer than asked unless it is a single word.
func TestWrapKeepsEveryWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-zäé€]{1,12}`)).Draw(t, "words")
		width := rapid.IntRange(1, 30).Draw(t, "width")
		lines := wrap(strings.Join(words, " "), width)
		for _, line := range lines {
			if utf8.RuneCountInString(line) > width && strings.Contains(line, " ") {
				t.Fatalf("line %q is longer than %d", line, width)
			}
		}
		if got, want := strings.Join(strings.Fields(strings.Join(lines, " ")), " "), strings.Join(words, " "); got != want {
			t.Fatalf("got %q, want %q", got, want)
		}
	})
}
