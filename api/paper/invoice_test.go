package paper_test

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/paper"
	"wainscot/pricing"
	"wainscot/pricing/invoice"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

func pounds(tb testing.TB, s string) money.Amount {
	tb.Helper()
	a, err := money.Parse(s, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func onOneLine(tb testing.TB, pdf []byte) string {
	tb.Helper()
	return strings.Join(strings.Fields(strings.ReplaceAll(pdftotext(tb, pdf, "-layout"), "\u00a0", " ")), " ")
}

// TestInvoiceOnPaper: what has a price stands in the table, what is in the price
// of another below it; what was deducted, what is left, by when and under which
// reference.
func TestInvoiceOnPaper(t *testing.T) {
	twenty := decimal.New(20, 0)
	line := func(words string, n int, gross, net, vat string) invoice.Line {
		each, err := money.NewUnitPrice(decimal.RequireFromString(gross).Div(decimal.New(int64(n), 0)), "GBP")
		if err != nil {
			t.Fatal(err)
		}
		return invoice.Line{Words: words, Quantity: n, UnitPrice: each, Amount: pounds(t, gross), Treatment: pricebook.Standard, Percent: twenty, Net: pounds(t, net), VAT: pounds(t, vat)}
	}
	i := invoice.Invoice{
		Format: invoice.Format, Kind: invoice.Final,
		Head: invoice.Head{Number: 14, IssuedOn: "2026-11-27", TaxPoint: "2026-11-24", DueOn: "2026-12-11", Quote: 1042, Currency: "GBP", Basis: pricing.Gross,
			Letterhead: demo(t).paper.Letterhead, Reference: "RF18539007547034"},
		Lines: []invoice.Line{line("Overnighter", 1, "8400.00", "7000.00", "1400.00"), line("Ceiling light", 4, "0", "0", "0"), line("Slide bed", 1, "0", "0", "0"),
			line("Mains socket", 2, "120.00", "100.00", "20.00")},
		VAT: []pricing.VATRow{{Treatment: pricebook.Standard, Percent: twenty, Net: pounds(t, "7100.00"), VAT: pounds(t, "1420.00")}},
		Net: pounds(t, "7100.00"), VATTotal: pounds(t, "1420.00"), Gross: pounds(t, "8520.00"),
		Deducted: []invoice.Deduction{{Kind: invoice.Deposit, Number: 9, TaxPoint: "2026-10-27", Gross: pounds(t, "1704.00")}},
		Becomes:  []ledger.VATSum{{Treatment: pricebook.Standard, Percent: twenty, Net: pounds(t, "5680.00"), VAT: pounds(t, "1136.00")}},
		Due:      pounds(t, "6816.00"),
	}
	p := paper.Invoice{Invoice: &i, Job: 31, Registration: "WT24 DMO", To: paper.Person{Name: "Ottoline Fairweather"}}
	pdf := written(t, paper.InvoicePDF, p)
	got := onOneLine(t, pdf)
	for _, want := range []string{
		"Invoice 14", "Ottoline Fairweather", "Tax point 24 November 2026", "Van WT24 DMO", "Quote 1042", "To be paid by 11 December 2026",
		"Overnighter 8,400.00 20 %", "Mains socket 2 60.00 120.00 20 %", "Also included 4 × Ceiling light; Slide bed", "Total with VAT £8,520.00",
		"Less deposit invoice 9 of −1,704.00 27 October 2026", "due with this invoice, on 1,136.00 5,680.00", "Still to be paid £6,816.00", "RF18 5390 0754 7034",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("it does not say %q:\n%s", want, got)
		}
	}
	if strings.Contains(got, " 0.00") {
		t.Errorf("it charges nothing for something:\n%s", got)
	}
	// Who is abroad is told where, with their VAT number there.
	p.To.Country, p.To.VATNumber = "IE", "IE 1234567 WA"
	if got := onOneLine(t, written(t, paper.InvoicePDF, p)); !strings.Contains(got, "Ireland") || !strings.Contains(got, "VAT number IE 1234567 WA") {
		t.Errorf("to somebody abroad:\n%s", got)
	}
	p.To.Country = "XX" // no country
	if got := onOneLine(t, written(t, paper.InvoicePDF, p)); !strings.Contains(got, " XX ") {
		t.Errorf("to nowhere:\n%s", got)
	}
	i.Lines, p.Registration = i.Lines[3:], ""
	if got := onOneLine(t, written(t, paper.InvoicePDF, p)); strings.Contains(got, "Also included") || strings.Contains(got, "Van ") {
		t.Errorf("nothing is in the price of another, and nobody knows the van:\n%s", got)
	}
}

// TestPaymentRequestOnPaper: what is asked for, by when, of which van, and how
// much of it is paid; of nothing it says that nothing is asked for.
func TestPaymentRequestOnPaper(t *testing.T) {
	p := paper.PaymentRequest{Letterhead: demo(t).paper.Letterhead, Day: "2026-11-27", Job: 31, Quote: 1042, Registration: "WT24 DMO", Reference: "RF18539007547034",
		Dues: []job.Due{
			{Payment: pricing.Payment{Name: "Before work starts", Amount: pounds(t, "1000.00")}, On: "2026-11-25", Paid: pounds(t, "400.00"), Open: pounds(t, "600.00")},
			{Payment: pricing.Payment{Name: "Rest", Amount: pounds(t, "500.00")}, On: "2026-12-10", Paid: pounds(t, "0"), Open: pounds(t, "500.00")},
		}}
	got := onOneLine(t, written(t, paper.PaymentRequestPDF, p))
	for _, want := range []string{"Request for payment", "Van WT24 DMO", "This is no invoice", "due since 25 November 2026", "(400.00 of £600.00 1,000.00 is paid)", "by 10 December 2026", "£500.00", "RF18 5390 0754 7034"} {
		if !strings.Contains(got, want) {
			t.Errorf("it does not say %q:\n%s", want, got)
		}
	}
	p.Dues = nil
	if got := onOneLine(t, written(t, paper.PaymentRequestPDF, p)); !strings.Contains(got, "nothing is to be paid now") || strings.Contains(got, "What we ask for") {
		t.Errorf("of nothing it asks for something:\n%s", got)
	}
}
