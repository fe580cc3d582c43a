package paper

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
)

// Table is a list on paper: an order, what is wanted. Its words are in the
// workshop's terms and its numbers decimals as they are written.
type Table struct {
	// Name of its one sheet in a workbook, Title and Subject above it.
	Name, Title, Subject string
	// Day it is of (YYYY-MM-DD).
	Day     string
	Columns []Column
	// Rows have a value for every column.
	Rows [][]string
}

// Column of a table.
type Column struct {
	// Name in CSV, Head for people.
	Name, Head string
	Width      int // in characters
	Number     bool
}

// TableCSV writes a table as CSV (RFC 4180: UTF-8, lines end in CR LF), decimals
// with a point. A text that a spreadsheet would take for a formula has an
// apostrophe in front.
func TableCSV(w io.Writer, t Table) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	cells := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		cells[i] = c.Name
	}
	if err := out.Write(cells); err != nil {
		return err
	}
	for _, row := range t.Rows {
		for i, c := range t.Columns {
			if cells[i] = row[i]; !c.Number {
				cells[i] = harmless(row[i])
			}
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// TableXLSX writes a table as a workbook of one sheet, set up for printing. The
// same table gives the same bytes.
func TableXLSX(w io.Writer, t Table) (err error) {
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	book := workbook{f: f, heading: t.Title, subject: t.Subject}
	if err := book.styles(); err != nil {
		return err
	}
	if err := book.add(0, t.Name, func(g *grid) error { return book.table(g, t) }); err != nil {
		return fmt.Errorf("paper: sheet %q: %w", t.Name, err)
	}
	return book.finish(w, t.Name, t.Day)
}

func (k *workbook) table(g *grid, t Table) error {
	widths, heads := make([]float64, len(t.Columns)), make([]string, len(t.Columns))
	for i, c := range t.Columns {
		widths[i], heads[i] = float64(c.Width), c.Head
	}
	if err := g.start(widths, heads); err != nil {
		return err
	}
	for _, row := range t.Rows {
		cells := make([]any, len(t.Columns))
		for i, c := range t.Columns {
			cells[i] = g.wrap(row[i])
			if d, err := decimal.NewFromString(row[i]); c.Number && err == nil {
				cells[i] = g.number(k.quantity, d)
			}
		}
		if err := g.add(cells...); err != nil {
			return err
		}
	}
	return nil
}
