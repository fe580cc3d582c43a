package paper

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"wainscot/bom"
)

// The sheets of a build sheet's workbook.
const (
	byStage   = "By stage"
	partsList = "Parts"
	hoursList = "Hours"
	massList  = "Masses"
	papers    = "Certificates and cautions"
)

// SheetXLSX writes a build sheet as a workbook: the lines by stage, the parts
// summed, hours by trade and stage, masses and axle loads, certificates and
// cautions. There is no price in it.
func SheetXLSX(w io.Writer, b BuildSheet) (err error) {
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	book := workbook{f: f, sheet: b, heading: b.heading(), subject: b.subject()}
	if err := book.styles(); err != nil {
		return err
	}
	lines := b.lines()
	for i, s := range []struct {
		name string
		fill func(*grid) error
	}{
		{byStage, func(g *grid) error { return book.stages(g, lines) }},
		{partsList, func(g *grid) error { return book.parts(g, parts(lines)) }},
		{hoursList, func(g *grid) error { return book.hours(g) }},
		{massList, func(g *grid) error { return book.masses(g) }},
		{papers, func(g *grid) error { return book.papers(g) }},
	} {
		if err := book.add(i, s.name, s.fill); err != nil {
			return fmt.Errorf("paper: sheet %q: %w", s.name, err)
		}
	}
	return book.finish(w, "Build sheet", b.Day)
}

// finish writes the whole workbook; day is the one it is of, "" for none.
func (k *workbook) finish(w io.Writer, about, day string) error {
	if day == "" {
		day = "2000-01-01"
	}
	err := k.f.SetDocProps(&excelize.DocProperties{
		Title: k.heading, Subject: about, Creator: "Wainscot", LastModifiedBy: "Wainscot",
		Created: day + "T00:00:00Z", Modified: day + "T00:00:00Z", Language: "en-GB",
	})
	if err != nil {
		return err
	}
	k.f.SetActiveSheet(0)
	text, err := k.f.WriteToBuffer()
	if err != nil {
		return err
	}
	return ordered(w, text.Bytes())
}

// ordered writes an archive's files in the order of their names, so that the
// same workbook gives the same bytes; the library writes them as a map gives
// them out.
func ordered(w io.Writer, archive []byte) error {
	in, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		return err
	}
	slices.SortFunc(in.File, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	out := zip.NewWriter(w)
	for _, f := range in.File {
		if err := out.Copy(f); err != nil {
			return err
		}
	}
	return out.Close()
}

// workbook is one being written.
type workbook struct {
	f     *excelize.File
	sheet BuildSheet
	// Above the head of every sheet.
	heading, subject string
	// Styles by what they are for.
	title, head, text, wrapped, strong, strongNumber, quantity, hour int
}

func (k *workbook) styles() error {
	top := &excelize.Alignment{Vertical: "top"}
	wrap := &excelize.Alignment{Vertical: "top", WrapText: true}
	plainest, two := "#,##0.######", "#,##0.00"
	line := []excelize.Border{{Type: "bottom", Color: "000000", Style: 1}} //nolint:misspell // the library spells it so
	for _, s := range []struct {
		to    *int
		style excelize.Style
	}{
		{&k.title, excelize.Style{Font: &excelize.Font{Bold: true, Size: 14}}},
		{&k.head, excelize.Style{Font: &excelize.Font{Bold: true}, Border: line, Alignment: wrap}},
		{&k.text, excelize.Style{Alignment: top}},
		{&k.wrapped, excelize.Style{Alignment: wrap}},
		{&k.strong, excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: top}},
		{&k.strongNumber, excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: top, CustomNumFmt: &two}},
		{&k.quantity, excelize.Style{Alignment: top, CustomNumFmt: &plainest}},
		{&k.hour, excelize.Style{Alignment: top, CustomNumFmt: &two}},
	} {
		id, err := k.f.NewStyle(&s.style)
		if err != nil {
			return err
		}
		*s.to = id
	}
	return nil
}

// add writes one sheet and sets it up for printing.
func (k *workbook) add(i int, name string, fill func(*grid) error) error {
	if i == 0 {
		if err := k.f.SetSheetName(k.f.GetSheetName(0), name); err != nil {
			return err
		}
	} else if _, err := k.f.NewSheet(name); err != nil {
		return err
	}
	if err := k.print(name); err != nil { // before rows stream into it
		return err
	}
	out, err := k.f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	if err := fill(&grid{out: out, book: k}); err != nil {
		return err
	}
	return out.Flush()
}

// print sets a sheet up for paper: A4 across, as wide as the page, its head on
// each page, which page it is at the foot.
func (k *workbook) print(name string) error {
	across, a4, wide, high, fit := "landscape", 9, 1, 0, true
	if err := k.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := k.f.SetPageLayout(name, &excelize.PageLayoutOptions{Size: &a4, Orientation: &across, FitToWidth: &wide, FitToHeight: &high}); err != nil {
		return err
	}
	side, end := 0.5, 0.6
	if err := k.f.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &end, Bottom: &end}); err != nil {
		return err
	}
	if err := k.f.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddFooter: "&L&A&R&P of &N"}); err != nil {
		return err
	}
	return k.f.SetDefinedName(&excelize.DefinedName{
		Name: "_xlnm.Print_Titles", Scope: name, RefersTo: fmt.Sprintf("'%s'!$%d:$%d", name, headRow, headRow),
	})
}

// headRow is where a sheet's head stands: below its title, its subject and a
// gap.
const headRow = 4

// grid is one sheet being written, row by row.
type grid struct {
	out  *excelize.StreamWriter
	book *workbook
	row  int
}

// start sets widths, title and head, and freezes what is above the first row.
func (g *grid) start(widths []float64, head []string) error {
	first := fmt.Sprintf("A%d", headRow+1)
	panes := &excelize.Panes{Freeze: true, YSplit: headRow, TopLeftCell: first, ActivePane: "bottomLeft",
		Selection: []excelize.Selection{{SQRef: first, ActiveCell: first, Pane: "bottomLeft"}}}
	if err := g.out.SetPanes(panes); err != nil {
		return err
	}
	for i, w := range widths {
		if err := g.out.SetColWidth(i+1, i+1, w); err != nil {
			return err
		}
	}
	for _, c := range []excelize.Cell{g.styled(g.book.title, g.book.heading), g.styled(g.book.text, g.book.subject)} {
		if err := g.add(c); err != nil {
			return err
		}
	}
	g.row = headRow - 1
	cells := make([]any, len(head))
	for i, h := range head {
		cells[i] = g.styled(g.book.head, h)
	}
	return g.add(cells...)
}

// add writes the next row.
func (g *grid) add(cells ...any) error {
	g.row++
	return g.out.SetRow(fmt.Sprintf("A%d", g.row), cells)
}

func (g *grid) styled(style int, s string) excelize.Cell {
	return excelize.Cell{StyleID: style, Value: within(harmless(s))}
}

func (g *grid) text(s string) excelize.Cell { return g.styled(g.book.text, s) }
func (g *grid) wrap(s string) excelize.Cell { return g.styled(g.book.wrapped, s) }

// number is a cell that counts. A spreadsheet holds numbers as floating ones;
// what it is given is the nearest to the decimal, which it shows as written.
func (g *grid) number(style int, d decimal.Decimal) excelize.Cell {
	return excelize.Cell{StyleID: style, Value: d.InexactFloat64()}
}

// within keeps a text within what a cell may hold.
func within(s string) string {
	const most = 32000 // characters; the format allows 32,767
	if len(s) <= most {
		return s
	}
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// stages writes the lines under their stages.
func (k *workbook) stages(g *grid, lines []sheetLine) error {
	if err := g.start([]float64{28, 11, 26, 42, 11, 8, 11, 24, 70},
		[]string{"Stage", "Kind", "Code", "Name", "Quantity", "Unit", "Mass, kg", "Notes", "Why"}); err != nil {
		return err
	}
	at := 0
	for i, l := range lines {
		if i == 0 || l.number != at {
			at = l.number
			if err := g.add(k.stageRow(g, l)...); err != nil {
				return err
			}
		}
		amount := k.quantity
		if l.unit == "h" {
			amount = k.hour
		}
		if err := g.add(g.text(l.stage), g.text(l.kind), g.text(l.code), g.wrap(l.name), g.number(amount, l.quantity), g.text(l.unit),
			g.number(k.quantity, l.mass), g.wrap(l.notes), g.wrap(l.why)); err != nil {
			return err
		}
	}
	return nil
}

// stageRow is the row above the lines of a stage.
func (k *workbook) stageRow(g *grid, l sheetLine) []any {
	name := l.stage
	says := ""
	if l.number > 0 {
		s := k.sheet.Sheet.Stages[l.number-1]
		name = fmt.Sprintf("%d. %s", l.number, l.stage)
		says = hours(s.Hours) + " hands on"
		if s.StandingHours.IsPositive() {
			says += ", then stands " + hours(s.StandingHours)
		}
	}
	return []any{g.styled(k.strong, name), nil, nil, g.styled(k.strong, says)}
}

// parts writes what is needed of each part over all stages.
func (k *workbook) parts(g *grid, list []partSum) error {
	if err := g.start([]float64{26, 46, 11, 8, 11, 28, 60}, []string{"Code", "Name", "Quantity", "Unit", "Mass, kg", "Notes", "Stages"}); err != nil {
		return err
	}
	for _, p := range list {
		if err := g.add(g.text(p.code), g.wrap(p.name), g.number(k.quantity, p.quantity), g.text(p.unit), g.number(k.quantity, p.mass),
			g.wrap(p.notes), g.wrap(strings.Join(p.stages, ", "))); err != nil {
			return err
		}
	}
	return nil
}

// hours writes a row for each stage and a column for each trade.
func (k *workbook) hours(g *grid) error {
	sheet := k.sheet.Sheet
	widths, head := []float64{32}, []string{"Stage"}
	for _, t := range sheet.Trades {
		widths, head = append(widths, 14), append(head, clean(t.Name))
	}
	widths, head = append(widths, 14, 14), append(head, "All trades", "Standing")
	if err := g.start(widths, head); err != nil {
		return err
	}
	type place struct{ stage, trade string }
	worked := map[place]decimal.Decimal{}
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		if l.Unit == "h" && l.Code != "" {
			p := place{l.Stage, l.Code}
			worked[p] = worked[p].Add(l.Quantity)
		}
	}
	for _, s := range sheet.Stages {
		cells := []any{g.text(clean(s.Name))}
		for _, t := range sheet.Trades {
			cells = append(cells, g.number(k.hour, worked[place{s.Stage, t.Trade}]))
		}
		if err := g.add(append(cells, g.number(k.hour, s.Hours), g.number(k.hour, s.StandingHours))...); err != nil {
			return err
		}
	}
	cells := []any{g.styled(k.strong, "Together")}
	for _, t := range sheet.Trades {
		cells = append(cells, g.number(k.strongNumber, t.Hours))
	}
	return g.add(append(cells, g.number(k.strongNumber, sheet.Hours))...)
}

// papers writes certificates, evidence, cautions, and what is not met or near
// its limit. What was said to a check is not on it.
func (k *workbook) papers(g *grid) error {
	if err := g.start([]float64{26, 44, 100}, []string{"What", "Name", "Says"}); err != nil {
		return err
	}
	outside := outsideNames(k.sheet.Catalogue)
	for _, c := range k.sheet.Sheet.Certificates {
		from, ok := outside[c.Outside]
		if !ok {
			from = plain(c.Outside)
		}
		if err := g.add(g.text("Certificate"), g.wrap(clean(c.Name)), g.wrap("Before handover, from: "+from)); err != nil {
			return err
		}
	}
	for _, e := range k.sheet.Sheet.Evidence {
		if err := g.add(g.text("Evidence"), g.wrap(clean(e.Name)), g.wrap(clean(EvidenceWords(e)))); err != nil {
			return err
		}
	}
	for _, c := range k.sheet.Sheet.Cautions {
		if err := g.add(g.text("Caution"), g.wrap(capital(plain(string(c.Caution)))), g.wrap(clean(c.Says))); err != nil {
			return err
		}
	}
	for _, c := range k.sheet.Sheet.Checks {
		what, says := "Check not met", strings.TrimSpace(clean(c.Says)+" "+clean(c.Remedy))
		switch {
		case c.Near:
			what = "Near the limit"
			says = fmt.Sprintf("It is %s and may be %s %s.", measured(c.Figure, c.Unit), clean(string(c.Sense)), measured(c.Limit, c.Unit))
		case c.Met:
			continue
		case c.Answered && c.Answer.Kind == bom.ByEvidence:
			what = "Answered by evidence"
		case c.Answered:
			what = "The owner goes on"
		}
		if err := g.add(g.text(what), g.wrap(clean(c.Name)), g.wrap(says)); err != nil {
			return err
		}
	}
	return nil
}
