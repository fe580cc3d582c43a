package paper

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"
)

// Measures of a page, in mm: A4 upright.
const (
	pageWidth  = 210.0
	pageHeight = 297.0
	marginLeft = 22.0
	// What is set stands between left and right, top and bottom; head and
	// foot of the page are outside.
	left   = marginLeft
	right  = pageWidth - 20.0
	top    = 26.0
	bottom = pageHeight - 24.0
	footAt = pageHeight - 13.0
	headAt = 15.0
	whole  = right - left
	gap    = 1.0 // between paragraphs
)

// mmOfPoint is how many mm a point is.
const mmOfPoint = 25.4 / 72

// style is how a piece of text looks.
type style struct {
	bold   bool
	points float64
	grey   int // 0 is black
}

// The styles of a paper; few, so that it stays quiet.
var (
	body    = style{points: 9.5}
	strong  = style{points: 9.5, bold: true}
	small   = style{points: 8, grey: 80}
	tiny    = style{points: 7.5, grey: 60}
	label   = style{points: 8, grey: 80}
	heading = style{points: 12, bold: true}
	part0   = style{points: 9.5, bold: true}
	title   = style{points: 20, bold: true}
	firm    = style{points: 15, bold: true}
)

// leading is from one baseline to the next, in mm.
func (s style) leading() float64 { return s.points * 1.32 * mmOfPoint }

// ascent is from the top of a line to its baseline.
func (s style) ascent() float64 { return s.points * 1.0 * mmOfPoint }

// sheet is a PDF being set, top to bottom.
type sheet struct {
	f             *fpdf.Fpdf
	regular, bold *face
	y             float64
	// head is set again at the top of each page while a table goes on.
	head func()
}

// typeface is what the faces are called inside the PDF.
const typeface = "liberation"

// newSheet starts a PDF. Nothing in it depends on when or where it is made.
func newSheet(name, subject, author, on string) (*sheet, error) {
	r, err := regular()
	if err != nil {
		return nil, fmt.Errorf("paper: typeface: %w", err)
	}
	b, err := bold()
	if err != nil {
		return nil, fmt.Errorf("paper: typeface: %w", err)
	}
	f := fpdf.New("P", "mm", "A4", "")
	f.SetCompression(true)
	f.SetCatalogSort(true)
	f.SetProducer("Wainscot", true)
	f.SetCreator("Wainscot", true)
	f.SetTitle(name, true)
	f.SetSubject(subject, true)
	f.SetAuthor(author, true)
	f.SetLang("en-GB")
	made, err := time.Parse(time.DateOnly, on)
	if err != nil {
		made = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	f.SetCreationDate(made)
	f.SetModificationDate(made)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(left, top, pageWidth-right)
	f.AddUTF8FontFromBytes(typeface, "", r.ttf)
	f.AddUTF8FontFromBytes(typeface, "B", b.ttf)
	s := &sheet{f: f, regular: r, bold: b}
	f.AddPage()
	s.y = top
	return s, f.Error()
}

// face of a style.
func (s *sheet) face(t style) *face {
	if t.bold {
		return s.bold
	}
	return s.regular
}

// width of a text in mm, as it is set: what stands next to what, and so its
// kerning, is another where words are written from right to left.
func (s *sheet) width(t style, text string) float64 {
	return float64(s.face(t).thousandths(visual(text))) / 1000 * t.points * mmOfPoint
}

// at sets one line with its baseline at y.
func (s *sheet) at(t style, x, y float64, text string) {
	f := s.face(t)
	text = visual(f.shown(text))
	weight := ""
	if t.bold {
		weight = "B"
	}
	s.f.SetFont(typeface, weight, t.points)
	s.f.SetTextColor(t.grey, t.grey, t.grey)
	// Kerning: the line is set in pieces, each as near to the last as the
	// face asks for.
	from, before := 0, rune(0)
	sum := 0
	start := 0
	for i, r := range text {
		if k := f.between(before, r); k != 0 && i > from {
			s.f.Text(x+float64(start)/1000*t.points*mmOfPoint, y, text[from:i])
			from = i
			sum += k
			start = sum
		}
		sum += int(f.width[r&0xffff])
		before = r
	}
	if from < len(text) {
		s.f.Text(x+float64(start)/1000*t.points*mmOfPoint, y, text[from:])
	}
}

// atRight sets one line that ends at x.
func (s *sheet) atRight(t style, x, y float64, text string) {
	text = s.face(t).shown(text)
	s.at(t, x-s.width(t, text), y, text)
}

// wrapped breaks a text into lines of at most width mm: at spaces, and inside
// a word only where the word alone is wider than the line.
func (s *sheet) wrapped(t style, text string, width float64) []string {
	text = s.face(t).shown(text)
	var lines []string
	line := ""
	for word := range strings.SplitSeq(text, " ") {
		longer := word
		if line != "" {
			longer = line + " " + word
		}
		if s.width(t, longer) <= width {
			line = longer
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for s.width(t, word) > width {
			cut := s.fits(t, word, width)
			lines = append(lines, word[:cut])
			word = word[cut:]
		}
		line = word
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// fits is how many bytes of a word stand in width mm, at least one character.
func (s *sheet) fits(t style, word string, width float64) int {
	f, most := s.face(t), width*1000/t.points/mmOfPoint
	sum, before, cut := 0, rune(0), len(word)
	for i, r := range word {
		sum += int(f.width[r&0xffff]) + f.between(before, r)
		before = r
		if float64(sum) > most && i > 0 {
			cut = i
			break
		}
	}
	_, first := utf8.DecodeRuneInString(word)
	for cut > first && s.width(t, word[:cut]) > width {
		_, last := utf8.DecodeLastRuneInString(word[:cut])
		cut -= last
	}
	return cut
}

// newPage goes on at the top of the next page.
func (s *sheet) newPage() {
	s.f.AddPage()
	s.y = top
	if s.head != nil {
		s.head()
	}
}

// keep goes to the next page unless so many mm are left on this one.
func (s *sheet) keep(mm float64) {
	if s.y+mm > bottom && s.y > top {
		s.newPage()
	}
}

// space leaves some mm free, not at the top of a page.
func (s *sheet) space(mm float64) {
	if s.y > top {
		s.y = min(s.y+mm, bottom)
	}
}

// lines sets lines below each other from x, breaking pages between them but
// not after the first or before the last.
func (s *sheet) lines(t style, x float64, lines []string) {
	for i, line := range lines {
		need := 1.0
		if i == 0 && len(lines) > 1 || i == len(lines)-2 {
			need = 2
		}
		s.keep(need * t.leading())
		s.at(t, x, s.y+t.ascent(), line)
		s.y += t.leading()
	}
}

// paragraph sets a text over the whole width.
func (s *sheet) paragraph(t style, text string) {
	s.lines(t, left, s.wrapped(t, text, whole))
}

// rule draws a thin line over the whole width at y.
func (s *sheet) rule(y, thick float64, grey int) {
	s.f.SetDrawColor(grey, grey, grey)
	s.f.SetLineWidth(thick)
	s.f.Line(left, y, right, y)
}

// box draws a box to tick.
func (s *sheet) box(x, y, side float64) {
	s.f.SetDrawColor(0, 0, 0)
	s.f.SetLineWidth(0.25)
	s.f.Rect(x, y, side, side, "D")
}

// number writes on every page which it is and of how many, and what stands
// on each at head and foot.
func (s *sheet) number(head, mark, foot string) {
	s.head = nil
	pages := s.f.PageCount()
	for page := 1; page <= pages; page++ {
		s.f.SetPage(page)
		if page > 1 {
			s.at(small, left, headAt, s.cut(small, head, whole*2/3))
			s.rule(headAt+2, 0.15, 160)
		}
		if mark != "" {
			s.atRight(style{points: 8, bold: true}, right, headAt, mark)
		}
		of := fmt.Sprintf("%d of %d", page, pages)
		s.atRight(tiny, right, footAt, of)
		s.at(tiny, left, footAt, s.cut(tiny, foot, whole-s.width(tiny, of)-5))
	}
}

// cut shortens a line to a width.
func (s *sheet) cut(t style, text string, width float64) string {
	if s.width(t, s.face(t).shown(text)) <= width {
		return text
	}
	lines := s.wrapped(t, text, width-s.width(t, "…"))
	return lines[0] + "…"
}

// write gives the finished PDF.
func (s *sheet) write(w io.Writer) error { return s.f.Output(w) }
