package paper

import (
	"encoding/csv"
	"fmt"
	"io"
)

// sheetColumns are the columns of a build sheet's CSV.
var sheetColumns = []string{"stage_number", "stage", "kind", "code", "name", "quantity", "unit", "mass_kg", "notes", "why"}

// SheetCSV writes a build sheet's lines as CSV (RFC 4180: UTF-8, lines end in
// CR LF), a line each, in the sheet's order, decimals with a point. A text
// that a spreadsheet would take for a formula has an apostrophe in front.
func SheetCSV(w io.Writer, b BuildSheet) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(sheetColumns); err != nil {
		return err
	}
	for _, l := range b.lines() {
		err := out.Write([]string{
			fmt.Sprint(l.number), harmless(l.stage), harmless(l.kind), harmless(l.code), harmless(l.name),
			l.quantity.String(), harmless(l.unit), l.mass.String(), harmless(l.notes), harmless(l.why),
		})
		if err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
