package paper_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"wainscot/api/paper"
	"wainscot/bom"
)

// written is what one of the package's functions writes.
func written[T any](tb testing.TB, write func(io.Writer, T) error, value T) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := write(&b, value); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// opened is a workbook read back by the library it was written with.
func opened(tb testing.TB, text []byte) *excelize.File {
	tb.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(text))
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { f.Close() })
	return f
}

// TestSheetXLSXHasEveryLine: each line of the build sheet stands in the
// workbook once, under its stage, with its quantity as a number and its reason.
func TestSheetXLSXHasEveryLine(t *testing.T) {
	b := sheetOf(quoted(t, "full-conversion-short-van"))
	f := opened(t, written(t, paper.SheetXLSX, b))
	if got, want := f.GetSheetList(), []string{"By stage", "Parts", "Hours", "Masses", "Certificates and cautions"}; !slices.Equal(got, want) {
		t.Fatalf("sheets %q, want %q", got, want)
	}
	rows, err := f.GetRows("By stage", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	for i, row := range rows[4:] {
		if len(row) < 9 {
			continue // the row above a stage's lines
		}
		l := b.Sheet.Lines[at]
		at++
		quantity, err := decimal.NewFromString(row[4])
		if err != nil || !quantity.Equal(l.Quantity) || row[3] != strings.ReplaceAll(l.Name, "'", "’") || row[2] != l.Code || row[8] == "" {
			t.Errorf("row %d is %q, the line %s %s %s", i+5, row, l.Quantity, l.Code, l.Name)
		}
		kind, err := f.GetCellType("By stage", fmt.Sprintf("E%d", i+5))
		if err != nil || kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
			t.Errorf("row %d: the quantity is no number: %v, %v", i+5, kind, err)
		}
	}
	if at != len(b.Sheet.Lines) || at < 150 {
		t.Errorf("%d lines of %d", at, len(b.Sheet.Lines))
	}
}

// TestSheetXLSXAddsUp: the hours of every stage and trade are the sheet's own,
// and the parts are the sums of the lines.
func TestSheetXLSXAddsUp(t *testing.T) {
	b := sheetOf(quoted(t, "full-conversion-short-van"))
	f := opened(t, written(t, paper.SheetXLSX, b))
	rows, err := f.GetRows("Hours", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	rows = rows[4:]
	if len(rows) != len(b.Sheet.Stages)+1 {
		t.Fatalf("%d rows for %d stages", len(rows), len(b.Sheet.Stages))
	}
	trades := make([]decimal.Decimal, len(b.Sheet.Trades))
	for i, s := range b.Sheet.Stages {
		sum := decimal.Zero
		for j := range trades {
			h := decimal.RequireFromString(rows[i][j+1])
			sum, trades[j] = sum.Add(h), trades[j].Add(h)
		}
		if !sum.Equal(s.Hours) || rows[i][len(trades)+1] != s.Hours.String() {
			t.Errorf("%s: trades come to %s, the row says %s, the sheet %s", s.Name, sum, rows[i][len(trades)+1], s.Hours)
		}
	}
	for j, tr := range b.Sheet.Trades {
		if !trades[j].Equal(tr.Hours) {
			t.Errorf("%s: %s, the sheet says %s", tr.Name, trades[j], tr.Hours)
		}
	}
	want := map[string]decimal.Decimal{}
	for _, l := range b.Sheet.Lines {
		if l.Kind == bom.PartLine {
			want[l.Code+"|"+l.Unit] = want[l.Code+"|"+l.Unit].Add(l.Quantity)
		}
	}
	rows, err = f.GetRows("Parts", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[4:] {
		unit := map[string]string{"m²": "m2", "mm²": "mm2"}[row[3]]
		if unit == "" {
			unit = row[3]
		}
		k := row[0] + "|" + unit
		if w, ok := want[k]; !ok || !w.Equal(decimal.RequireFromString(row[2])) {
			t.Errorf("%s: %s, the lines come to %s", k, row[2], w)
		}
		delete(want, k)
	}
	if len(want) > 0 {
		t.Errorf("not in the list of parts: %v", want)
	}
}

// TestSheetXLSXPrints: head rows frozen and repeated, A4 across, fitted to the
// width.
func TestSheetXLSXPrints(t *testing.T) {
	f := opened(t, written(t, paper.SheetXLSX, sheetOf(quoted(t, "windows-only"))))
	for _, name := range f.GetSheetList() {
		panes, err := f.GetPanes(name)
		if err != nil || !panes.Freeze || panes.YSplit != 4 {
			t.Errorf("%s: panes %+v, %v", name, panes, err)
		}
		layout, err := f.GetPageLayout(name)
		if err != nil || *layout.Size != 9 || *layout.Orientation != "landscape" || *layout.FitToWidth != 1 || *layout.FitToHeight != 0 {
			t.Errorf("%s: layout %+v, %v", name, layout, err)
		}
		if props, err := f.GetSheetProps(name); err != nil || props.FitToPage == nil || !*props.FitToPage {
			t.Errorf("%s: is not fitted to the page: %v", name, err)
		}
	}
	titles := 0
	for _, n := range f.GetDefinedName() {
		if n.Name == "_xlnm.Print_Titles" && strings.HasSuffix(n.RefersTo, "!$4:$4") {
			titles++
		}
	}
	if titles != 5 {
		t.Errorf("%d sheets repeat their head", titles)
	}
}

// TestSheetCSV: RFC 4180, a record for each line, the same as in the workbook.
func TestSheetCSV(t *testing.T) {
	b := sheetOf(quoted(t, "full-conversion-short-van"))
	text := written(t, paper.SheetCSV, b)
	if n := bytes.Count(text, []byte("\n")); n != bytes.Count(text, []byte("\r\n")) || n != len(b.Sheet.Lines)+1 {
		t.Errorf("%d lines end in a line feed, and there are %d records", n, len(b.Sheet.Lines)+1)
	}
	records, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows, err := opened(t, written(t, paper.SheetXLSX, b)).GetRows("By stage", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	rows = slices.DeleteFunc(rows[4:], func(row []string) bool { return len(row) < 9 })
	if len(records)-1 != len(rows) {
		t.Fatalf("%d records, %d rows", len(records)-1, len(rows))
	}
	for i, r := range records[1:] {
		if got, want := r[1:], rows[i]; !slices.Equal(got, want) {
			t.Errorf("record %d: %q, the workbook has %q", i+1, got, want)
		}
	}
}

// TestSheetsSayNoPrice: the workshop's papers hold no money.
func TestSheetsSayNoPrice(t *testing.T) {
	b := sheetOf(quoted(t, "full-conversion-short-van"))
	text := string(written(t, paper.SheetCSV, b))
	f := opened(t, written(t, paper.SheetXLSX, b))
	for _, name := range f.GetSheetList() {
		rows, err := f.GetRows(name)
		if err != nil {
			t.Fatal(err)
		}
		text += fmt.Sprint(rows)
	}
	for _, word := range []string{"£", "€", "GBP", "price", "Price", "cost", "supplier", "VAT", "margin"} {
		if strings.Contains(text, word) {
			t.Errorf("%q is in a build sheet", word)
		}
	}
}

// TestSheetsAreTheSameEachTime: the same value, the same bytes.
func TestSheetsAreTheSameEachTime(t *testing.T) {
	b := sheetOf(quoted(t, "full-conversion-short-van"))
	x, c := written(t, paper.SheetXLSX, b), written(t, paper.SheetCSV, b)
	for range 8 {
		if !bytes.Equal(written(t, paper.SheetXLSX, b), x) || !bytes.Equal(written(t, paper.SheetCSV, b), c) {
			t.Fatal("the bytes differ from one time to the next")
		}
	}
}

// dangerous are beginnings that a spreadsheet takes for a formula.
// Source: OWASP, CSV Injection.
var dangerous = []string{"=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "=HYPERLINK(\"x\")"}

// TestSheetsRunNothing: no text cell begins like a formula, and none is one.
func TestSheetsRunNothing(t *testing.T) {
	for _, bad := range dangerous {
		b := sheetOf(quoted(t, "windows-only"))
		b.Sheet.Lines = slices.Clone(b.Sheet.Lines)
		l := &b.Sheet.Lines[0]
		l.Name, l.Code, l.Unit, l.Because = bad, bad, bad, []bom.Because{{Says: bad}}
		b.Title, b.Van.Registration = bad, bad
		records, err := csv.NewReader(bytes.NewReader(written(t, paper.SheetCSV, b))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		f := opened(t, written(t, paper.SheetXLSX, b))
		rows, err := f.GetRows("By stage", excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, cell := range slices.Concat(slices.Concat(records...), slices.Concat(rows...)) {
			if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
				t.Errorf("%q: a cell is %q", bad, cell)
			}
		}
		for i := range rows {
			for j := range rows[i] {
				name, _ := excelize.CoordinatesToCellName(j+1, i+1)
				if formula, _ := f.GetCellFormula("By stage", name); formula != "" {
					t.Errorf("%q: %s is the formula %q", bad, name, formula)
				}
			}
		}
	}
}
