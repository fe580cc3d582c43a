package paper

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"wainscot/bom"
	"wainscot/bom/catalogue"
)

// pickLine is a part to take from the rack for one stage.
type pickLine struct {
	number    int // of the stage, from 1
	stageCode string
	stage     string
	code      string
	name      string
	quantity  decimal.Decimal
	unit      string
	issued    decimal.Decimal
	notes     string
}

// picks are what is taken from the rack, in the order of the sheet: parts, what
// the customer brings, and what was added; consumables by rate are not.
func (c JobCard) picks() []pickLine {
	var list []pickLine
	words := c.lines()
	for i := range c.Sheet.Lines {
		l := &c.Sheet.Lines[i]
		switch l.Kind {
		case bom.PartLine, bom.OwnPartLine, bom.OneOffLine:
		default:
			continue
		}
		if l.Provision == catalogue.Consumable {
			continue
		}
		w := words[i]
		one := pickLine{number: w.number, stageCode: l.Stage, stage: w.stage, code: w.code, name: w.name, quantity: w.quantity, unit: w.unit, notes: w.notes}
		if c.Issued != nil {
			one.issued = c.Issued(l.Stage, l.Code)
		}
		list = append(list, one)
	}
	return list
}

var pickColumns = []string{"stage_number", "stage", "code", "name", "quantity", "unit", "issued", "notes"}

// PickListCSV writes what to take from the rack, by stage, as CSV (RFC 4180).
func PickListCSV(w io.Writer, c JobCard) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(pickColumns); err != nil {
		return err
	}
	for _, l := range c.picks() {
		err := out.Write([]string{fmt.Sprint(l.number), harmless(l.stage), harmless(l.code), harmless(l.name), l.quantity.String(), harmless(l.unit),
			l.issued.String(), harmless(l.notes)})
		if err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// PickListXLSX writes the same as a workbook.
func PickListXLSX(w io.Writer, c JobCard) (err error) {
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	book := workbook{f: f, sheet: c.BuildSheet, heading: c.heading(), subject: c.subject()}
	if err := book.styles(); err != nil {
		return err
	}
	if err := book.add(0, "Pick list", func(g *grid) error { return book.picks(g, c.picks()) }); err != nil {
		return fmt.Errorf("paper: pick list: %w", err)
	}
	return book.finish(w, "Pick list", c.Day)
}

func (k *workbook) picks(g *grid, list []pickLine) error {
	if err := g.start([]float64{30, 26, 46, 11, 8, 11, 28}, []string{"Stage", "Code", "Name", "Quantity", "Unit", "Issued", "Notes"}); err != nil {
		return err
	}
	for _, l := range list {
		if err := g.add(g.text(l.stage), g.text(l.code), g.wrap(l.name), g.number(k.quantity, l.quantity), g.text(l.unit),
			g.number(k.quantity, l.issued), g.wrap(l.notes)); err != nil {
			return err
		}
	}
	return nil
}
