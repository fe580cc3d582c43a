package paper

import (
	"slices"
	"strings"
	"sync"

	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"
)

// A face is one cut of the typeface that papers are set in: Liberation Sans,
// under the SIL Open Font License 1.1, which allows embedding. It has Latin,
// Greek, Cyrillic and Hebrew; a character it lacks is shown as missing.
type face struct {
	ttf []byte
	// width of each character in thousandths of an em; 0 where there is none.
	width [1 << 16]uint16
	// kern is what is put between two ASCII characters, likewise.
	kern [128][128]int8
}

// missing stands for a character the face lacks.
const missing = '\u25a1'

// tightest is how near kerning brings two characters, in thousandths of an em.
// Readers of PDF take more than a tenth for the beginning of another word.
const tightest = -90

// Both faces are read once, when the first paper is set.
var (
	regular = sync.OnceValues(func() (*face, error) { return readFace(liberationsansregular.TTF) })
	bold    = sync.OnceValues(func() (*face, error) { return readFace(liberationsansbold.TTF) })
)

// readFace measures a typeface.
func readFace(ttf []byte) (*face, error) {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	const em = 1000
	out := &face{ttf: ttf}
	var b sfnt.Buffer
	glyph := func(r rune) sfnt.GlyphIndex {
		g, err := f.GlyphIndex(&b, r)
		if err != nil {
			return 0
		}
		return g
	}
	for r := range rune(len(out.width)) {
		if g := glyph(r); g != 0 {
			if w, err := f.GlyphAdvance(&b, g, fixed.I(em), font.HintingNone); err == nil {
				out.width[r] = uint16(w.Round())
			}
		}
	}
	for left := '!'; left < 127; left++ {
		for right := '!'; right < 127; right++ {
			if figure(left) && figure(right) {
				continue // figures stand in columns
			}
			if k, err := f.Kern(&b, glyph(left), glyph(right), fixed.I(em), font.HintingNone); err == nil {
				out.kern[left][right] = int8(max(tightest, min(0, k.Round())))
			}
		}
	}
	return out, nil
}

func figure(r rune) bool { return r >= '0' && r <= '9' || r == ',' || r == '.' }

// has says whether the face can show a character.
func (f *face) has(r rune) bool { return r >= 0 && int(r) < len(f.width) && f.width[r] > 0 }

// shown puts the sign for a missing character in place of those the face
// lacks, one for a run of them.
func (f *face) shown(s string) string {
	if strings.IndexFunc(s, func(r rune) bool { return !f.has(r) }) < 0 {
		return s
	}
	var b strings.Builder
	gone := false
	for _, r := range s {
		if f.has(r) {
			b.WriteRune(r)
			gone = false
			continue
		}
		if !gone {
			b.WriteRune(missing)
		}
		gone = true
	}
	return b.String()
}

// thousandths is how wide a text is, in thousandths of an em.
func (f *face) thousandths(s string) int {
	sum := 0
	before := rune(0)
	for _, r := range s {
		if int(r) < len(f.width) {
			sum += int(f.width[r])
		}
		sum += f.between(before, r)
		before = r
	}
	return sum
}

// between is the kerning of two characters.
func (f *face) between(left, right rune) int {
	if left <= 0 || left > 127 || right <= 0 || right > 127 {
		return 0
	}
	return int(f.kern[left][right])
}

// visual puts a line that has words written from right to left into the order
// in which it is set from left to right, by the Unicode bidirectional
// algorithm (UAX #9).
func visual(line string) string {
	if strings.IndexFunc(line, rightToLeft) < 0 {
		return line
	}
	var p bidi.Paragraph
	if _, err := p.SetString(line, bidi.DefaultDirection(bidi.LeftToRight)); err != nil {
		return line
	}
	order, err := p.Order()
	if err != nil {
		return line
	}
	var b strings.Builder
	for i := range order.NumRuns() {
		run := order.Run(i)
		if run.Direction() == bidi.RightToLeft {
			b.WriteString(bidi.ReverseString(run.String()))
		} else {
			b.WriteString(run.String())
		}
	}
	return b.String()
}

func rightToLeft(r rune) bool {
	p, _ := bidi.LookupRune(r)
	return slices.Contains([]bidi.Class{bidi.R, bidi.AL}, p.Class())
}
