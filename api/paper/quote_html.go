package paper

import (
	"crypto/sha256"
	_ "embed" // the page and how it looks
	"encoding/base64"
	"html/template"
	"io"
)

//go:embed quote.html
var quotePage string

//go:embed quote.css
var quoteStyle string

// page is the template of a quote's page.
var page = template.Must(template.New("quote").Parse(quotePage))

// QuotePolicy is the Content-Security-Policy of a quote's page: it loads
// nothing, runs nothing, and has the one style it comes with. The page says so
// itself; who serves it sends the same.
func QuotePolicy() string {
	sum := sha256.Sum256([]byte(quoteStyle))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'"
}

// QuoteHTML writes a quote as one page that needs nothing else: no script, no
// font, no picture. It has the same words and amounts as the PDF.
func QuoteHTML(w io.Writer, q Quote) error {
	l, err := q.words()
	if err != nil {
		return err
	}
	return l.html(w)
}

func (l *leaf) html(w io.Writer) error {
	return page.Execute(w, struct {
		*leaf
		Style  template.CSS
		Policy string
	}{l, template.CSS(quoteStyle), QuotePolicy()}) //nolint:gosec // the style is a file of this program
}

// sumsWide are sums below a table of so many columns.
type sumsWide struct {
	Sums    []sum
	Columns int // before the amount
	VAT     bool
}

// Columns is how many columns a van's table has.
func (v vanLeaf) Columns() int {
	n := 4
	if v.Plain {
		n = 2
	}
	if v.VAT {
		n++
	}
	return n
}

// SumsWide are a van's sums as its table is wide.
func (v vanLeaf) SumsWide() sumsWide {
	if v.Plain {
		return sumsWide{v.Sums, 1, v.VAT}
	}
	return sumsWide{v.Sums, 3, v.VAT}
}

// SumsWide are the sums of the whole.
func (l *leaf) SumsWide() sumsWide { return sumsWide{l.Sums, 1, false} }
