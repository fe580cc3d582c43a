package paper

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// What a spreadsheet would run is told as text, numbers count, and the same
// table gives the same bytes.
func TestTable(t *testing.T) {
	list := Table{Name: "Order", Title: "Order 7", Subject: "To =Chandler", Day: "2026-11-27",
		Columns: []Column{{"code", "Code", 12, false}, {"name", "Name", 30, false}, {"quantity", "Quantity", 10, true}},
		Rows:    [][]string{{"hob_2", "=cmd|' /C calc'!A0", "-1.50"}, {"nut", "Nut, \"brass\"", "12"}},
	}
	var b bytes.Buffer
	if err := TableCSV(&b, list); err != nil {
		t.Fatal(err)
	}
	if got, want := b.String(), "code,name,quantity\r\nhob_2,'=cmd|' /C calc'!A0,-1.50\r\nnut,\"Nut, \"\"brass\"\"\",12\r\n"; got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	var first, again bytes.Buffer
	for _, to := range []*bytes.Buffer{&first, &again} {
		if err := TableXLSX(to, list); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(first.Bytes(), again.Bytes()) {
		t.Error("the same table has other bytes")
	}
	f, err := excelize.OpenReader(bytes.NewReader(first.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := f.GetRows("Order")
	if err != nil || len(rows) != 6 {
		t.Fatal(rows, err)
	}
	if got := strings.Join(rows[4], "; "); got != "hob_2; '=cmd|' /C calc'!A0; -1.5" {
		t.Errorf("the first line is %s", got)
	}
	if kind, err := f.GetCellType("Order", "C5"); err != nil || kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
		t.Errorf("a quantity is a cell of type %v: %v", kind, err)
	}
	if formula, err := f.GetCellFormula("Order", "B5"); err != nil || formula != "" {
		t.Errorf("a formula %q: %v", formula, err)
	}
}
