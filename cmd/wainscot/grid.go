package main

import (
	"io"
	"strings"
	"unicode/utf8"
)

// column of a grid.
type column struct {
	title string
	// right sets the column flush right: money, quantities.
	right bool
	// wraps lets long text of the last column run on below itself.
	wraps bool
}

// grid is a table in plain text: columns as wide as their widest cell, two
// blanks between them, no rules, nothing a screen reader stumbles over.
type grid struct {
	columns []column
	rows    [][]string
}

// add puts one row below the others; missing cells are empty.
func (g *grid) add(cells ...string) { g.rows = append(g.rows, cells) }

// gap between two columns, and the least width left to a column that wraps.
const (
	gap        = 2
	leastWraps = 24
)

// write sets the grid indented by indent, no wider than width where the last
// column can wrap. A grid without titles has no heading line.
func (g *grid) write(w io.Writer, indent, width int) {
	widths := make([]int, len(g.columns))
	titled := false
	for i, c := range g.columns {
		widths[i] = utf8.RuneCountInString(c.title)
		titled = titled || c.title != ""
	}
	for _, row := range g.rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	last := len(g.columns) - 1
	if g.columns[last].wraps {
		taken := indent
		for _, n := range widths[:last] {
			taken += n + gap
		}
		widths[last] = min(widths[last], max(width-taken, leastWraps))
	}
	if titled {
		titles := make([]string, len(g.columns))
		for i, c := range g.columns {
			titles[i] = c.title
		}
		g.writeRow(w, indent, widths, titles)
	}
	for _, row := range g.rows {
		g.writeRow(w, indent, widths, row)
	}
}

// writeRow sets one row, on more than one line where its last cell wraps.
func (g *grid) writeRow(w io.Writer, indent int, widths []int, row []string) {
	last := len(g.columns) - 1
	rest := []string{""}
	if len(row) > last {
		rest = []string{row[last]}
		if g.columns[last].wraps {
			rest = wrap(row[last], widths[last])
		}
	}
	for n, text := range rest {
		var line strings.Builder
		line.WriteString(strings.Repeat(" ", indent))
		for i := range g.columns {
			cell := ""
			switch {
			case i == last:
				cell = text
			case n == 0 && i < len(row):
				cell = row[i]
			}
			pad := strings.Repeat(" ", max(widths[i]-utf8.RuneCountInString(cell), 0))
			if i > 0 {
				line.WriteString(strings.Repeat(" ", gap))
			}
			if g.columns[i].right {
				line.WriteString(pad + cell)
			} else {
				line.WriteString(cell + pad)
			}
		}
		_, _ = io.WriteString(w, strings.TrimRight(line.String(), " ")+"\n")
	}
}

// wrap breaks text at blanks into lines of at most width; a word longer than
// that stands on a line of its own.
func wrap(text string, width int) []string {
	var lines []string
	var line strings.Builder
	length := 0
	for word := range strings.FieldsSeq(text) {
		n := utf8.RuneCountInString(word)
		if length > 0 && length+1+n > width {
			lines = append(lines, line.String())
			line.Reset()
			length = 0
		}
		if length > 0 {
			line.WriteByte(' ')
			length++
		}
		line.WriteString(word)
		length += n
	}
	if length > 0 || len(lines) == 0 {
		lines = append(lines, line.String())
	}
	return lines
}
