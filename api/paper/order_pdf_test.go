package paper_test

import (
	"bytes"
	"strings"
	"testing"

	"wainscot/api/paper"
	"wainscot/pricing/money"
)

// ordered is an order of a part and of a visit.
func ordered(tb testing.TB) paper.Order {
	tb.Helper()
	goods, err := money.Parse("412.50", "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	carriage, err := money.Parse("9.00", "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return paper.Order{
		Number: 7, Letterhead: demo(tb).paper.Letterhead, Supplier: "Brackwater Gas and Water", Address: []string{"9 Sluice Lane", "Aldmoor", "AM2 8RX"},
		Day: "2026-11-27", Goods: &goods, Carriage: &carriage,
		Lines: []paper.OrderLine{
			{TheirNumber: "BW-2231", Name: "Hob, two burners", Quantity: "2", Unit: "each", By: "2026-12-18", UnitPrice: "131.2500", Amount: "262.50"},
			{Name: "Gas test and certificate", Quantity: "1", Unit: "visit", By: "2027-01-11", Visit: true, Certificate: "Gas safety certificate", UnitPrice: "150.0000", Amount: "150.00"},
		},
	}
}

// TestOrderOnPaper: to whom, what, how many, by when, to where, and what the
// order itself comes to; nobody who is not shown costs prints any.
func TestOrderOnPaper(t *testing.T) {
	said := func(o paper.Order) string {
		return strings.Join(strings.Fields(strings.ReplaceAll(pdftotext(t, written(t, paper.OrderPDF, o)), "\u00a0", " ")), " ")
	}
	o := ordered(t)
	got := said(o)
	for _, want := range []string{
		"Order 7", "27 November 2026", "Brackwater Gas and Water", "9 Sluice Lane", "AM2 8RX", "Hob, two burners", "Your number BW-2231", "2 each", "18 Dec 2026",
		"A visit, on that day", "With: Gas safety certificate", "11 Jan 2027", "131.2500", "262.50", "£412.50", "£9.00", "Deliver to Withermere Camper Works Unit 4, Tannery Yard",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("it does not say %q:\n%s", want, got)
		}
	}
	o.Goods, o.Carriage = nil, nil
	for i := range o.Lines {
		o.Lines[i].UnitPrice, o.Lines[i].Amount = "", ""
	}
	got = said(o)
	for _, secret := range []string{"£", "262.50", "131.25", "VAT 20", "Each", "Without VAT"} {
		if strings.Contains(got, secret) {
			t.Errorf("without prices it says %q", secret)
		}
	}
	o.Draft = true
	if !strings.Contains(said(o), "Draft, not an order") {
		t.Error("a draft does not say so")
	}
	o.Draft, o.Ended = false, "cancelled"
	if !strings.Contains(said(o), "This order is cancelled.") {
		t.Error("a cancelled order does not say so")
	}
	for range 80 { // over the page
		o.Lines = append(o.Lines, o.Lines[0])
	}
	if strings.Count(said(o), "Hob, two burners") != 81 {
		t.Error("a long order does not have all its lines")
	}
	if !bytes.Equal(written(t, paper.OrderPDF, o), written(t, paper.OrderPDF, o)) {
		t.Error("it is another the second time")
	}
}
