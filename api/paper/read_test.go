package paper_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// pdftotext reads a PDF back as text, by Poppler's program of that name: a
// reader that knows nothing of how the PDF was made.
func pdftotext(tb testing.TB, pdf []byte, args ...string) string {
	tb.Helper()
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("WAINSCOT_CI") != "" {
			tb.Fatal("pdftotext is not installed (Debian: poppler-utils)")
		}
		tb.Skip("pdftotext is not installed (Debian: poppler-utils); nothing reads the PDF back")
	}
	name := filepath.Join(tb.TempDir(), "quote.pdf")
	if err := os.WriteFile(name, pdf, 0o600); err != nil {
		tb.Fatal(err)
	}
	var out, errs bytes.Buffer
	cmd := exec.CommandContext(tb.Context(), program, append(args, name, "-")...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		tb.Fatalf("pdftotext: %v: %s", err, errs.String())
	}
	if errs.Len() > 0 {
		tb.Fatalf("pdftotext finds fault with the PDF: %s", errs.String())
	}
	return out.String()
}

// entry is one line that has an amount: what stands left of it, joined, and
// the amount as the paper writes it.
type entry struct{ Name, Amount string }

// amountText is how a paper writes an amount.
var amountText = regexp.MustCompile(`^−?[£€]?\d{1,3}(,\d{3})*\.\d\d$|^included$`)

// entriesOfPDF are the lines with an amount at their end, in order. Columns
// are two spaces or more apart.
func entriesOfPDF(tb testing.TB, pdf []byte) []entry {
	tb.Helper()
	var list []entry
	for line := range strings.Lines(pdftotext(tb, pdf, "-layout")) {
		columns := regexp.MustCompile(`\s{2,}`).Split(strings.TrimSpace(strings.ReplaceAll(line, "\u00a0", " ")), -1)
		last := len(columns) - 1
		if last > 0 && amountText.MatchString(columns[last]) {
			list = append(list, entry{strings.Join(columns[:last], " | "), columns[last]})
		}
	}
	return list
}

// entriesOfHTML are the rows of the page's tables that end in an amount.
func entriesOfHTML(tb testing.TB, page []byte) []entry {
	tb.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		tb.Fatal(err)
	}
	var list []entry
	for row := range root.Descendants() {
		if row.Type != html.ElementNode || row.Data != "tr" {
			continue
		}
		var names []string
		amount := ""
		for cell := range row.ChildNodes() {
			text := strings.TrimSpace(strings.ReplaceAll(textOf(cell, "small"), "\u00a0", " "))
			switch {
			case text == "" || cell.Type != html.ElementNode:
			case attribute(cell, "class") == "price":
				amount = text
			default:
				names = append(names, text)
			}
		}
		if amountText.MatchString(amount) {
			list = append(list, entry{strings.Join(names, " | "), amount})
		}
	}
	return list
}

// textOf is the text in a node, without elements of one kind.
func textOf(n *html.Node, without string) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	if n.Type == html.ElementNode && n.Data == without {
		return ""
	}
	var b strings.Builder
	for c := range n.ChildNodes() {
		b.WriteString(textOf(c, without))
	}
	return b.String()
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}
