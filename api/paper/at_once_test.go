package paper_test

import (
	"bytes"
	"io"
	"sync"
	"testing"

	"wainscot/api/paper"
)

// Papers made side by side are the same; the race detector has the say.
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
	// One kind after another: of what was done long before, the race detector
	// has forgotten where.
	for name, write := range makers {
		var made [3]bytes.Buffer
		all := make(chan struct{}) // closed when all are there
		var wait sync.WaitGroup
		for i := range made {
			wait.Go(func() {
				<-all
				if err := write(&made[i]); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			})
		}
		close(all)
		wait.Wait()
		for i := range made {
			if made[i].Len() == 0 || !bytes.Equal(made[i].Bytes(), made[0].Bytes()) {
				t.Errorf("%s: made beside others it is another", name)
			}
		}
	}
}
