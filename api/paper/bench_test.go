package paper_test

import (
	"io"
	"testing"

	"wainscot/api/paper"
)

// What each paper takes, for docs/performance.md.

func BenchmarkQuotePDF(b *testing.B) {
	q := quoted(b, "full-conversion-short-van")
	b.ReportAllocs()
	for b.Loop() {
		if err := paper.QuotePDF(io.Discard, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkQuotePDFFleet(b *testing.B) {
	q := fleet(b, 12)
	b.ReportAllocs()
	for b.Loop() {
		if err := paper.QuotePDF(io.Discard, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkQuoteHTML(b *testing.B) {
	q := quoted(b, "full-conversion-short-van")
	b.ReportAllocs()
	for b.Loop() {
		if err := paper.QuoteHTML(io.Discard, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSheetXLSX(b *testing.B) {
	s := sheetOf(quoted(b, "full-conversion-short-van"))
	b.ReportAllocs()
	for b.Loop() {
		if err := paper.SheetXLSX(io.Discard, s); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSheetCSV(b *testing.B) {
	s := sheetOf(quoted(b, "full-conversion-short-van"))
	b.ReportAllocs()
	for b.Loop() {
		if err := paper.SheetCSV(io.Discard, s); err != nil {
			b.Fatal(err)
		}
	}
}

// sheetOf is the build sheet of a quote's first van.
func sheetOf(q paper.Quote) paper.BuildSheet {
	b := paper.BuildSheet{Sheet: q.Document.Vans[0].Sheet, Catalogue: q.Catalogue, Title: "Quote 1042, revision 2", Day: "2026-11-25"}
	if len(q.Vans) > 0 {
		b.Van = q.Vans[0]
	}
	return b
}
