package paper_test

import (
	"bytes"
	"io"
	"sync"
	"testing"

	"wainscot/api/paper"
)

// Papers made side by side are those made one after the other; the race
// detector has the say.
func TestPapersAtOnce(t *testing.T) {
	q := quoted(t, "full-conversion-short-van")
	s, c, v := sheetOf(q), card(t, "full-conversion-short-van"), aVan()
	makers := map[string]func(io.Writer) error{
		"quote, PDF":       func(w io.Writer) error { return paper.QuotePDF(w, q) },
		"quote, page":      func(w io.Writer) error { return paper.QuoteHTML(w, q) },
		"sheet, workbook":  func(w io.Writer) error { return paper.SheetXLSX(w, s) },
		"sheet, CSV":       func(w io.Writer) error { return paper.SheetCSV(w, s) },
		"job's card, PDF":  func(w io.Writer) error { return paper.JobCardPDF(w, c) },
		"pick list, CSV":   func(w io.Writer) error { return paper.PickListCSV(w, c) },
		"van drawn, image": func(w io.Writer) error { return paper.VanSVG(w, v) },
	}
	const each = 2
	got := map[string]*[each]bytes.Buffer{}
	var wait sync.WaitGroup
	for name, write := range makers {
		made := &[each]bytes.Buffer{}
		got[name] = made
		for i := range made {
			wait.Go(func() {
				if err := write(&made[i]); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			})
		}
	}
	wait.Wait()
	for name, write := range makers {
		var alone bytes.Buffer
		if err := write(&alone); err != nil {
			t.Fatal(err)
		}
		for i := range got[name] {
			if !bytes.Equal(got[name][i].Bytes(), alone.Bytes()) {
				t.Errorf("%s: made beside others it is another", name)
			}
		}
	}
}
