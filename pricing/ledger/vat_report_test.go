package ledger_test

import (
	"strings"
	"testing"

	"wainscot/pricing/ledger"
	"wainscot/pricing/pricebook"
)

// A report of a period has what became due and what was paid in it, and is
// called a return only when somebody said that purchases are complete.
func TestReportVAT(t *testing.T) {
	var b ledger.Book
	deposit(t, &b, "2027-03-31", "2400.00", "job", of(t, "12000.00"))
	deposit(t, &b, "2027-04-01", "1200.00", "job", of(t, "12000.00"))
	for day, net := range map[string][2]string{"2026-12-31": {"50.00", "10.00"}, "2027-01-01": {"100.00", "20.00"}, "2027-03-31": {"200.00", "40.00"}} {
		lines, err := ledger.Buy("brackwater", []ledger.VATSum{
			{Treatment: pricebook.Standard, Percent: twenty, Net: gbp(t, net[0]), VAT: gbp(t, net[1])},
			{Treatment: pricebook.Zero, Net: gbp(t, "7.00"), VAT: gbp(t, "0.00")},
		}, "GBP")
		if err != nil {
			t.Fatal(err)
		}
		post(t, &b, day, ledger.Bought, lines)
	}
	// Paying is no purchase.
	post(t, &b, "2027-02-01", ledger.Paid, ledger.PayCreditor(ledger.Bank, gbp(t, "117.00"), "brackwater"))
	for _, c := range []struct {
		complete bool
		closed   string
		heading  string
	}{
		{false, "2027-03-31", "VAT in the books, 1 January 2027 to 31 March 2027 (not the return: purchases are not complete)"},
		{true, "2027-03-30", "VAT return, 1 January 2027 to 31 March 2027 (draft: the books are open)"},
		{true, "2027-03-31", "VAT return, 1 January 2027 to 31 March 2027"},
	} {
		r, faults, err := ledger.ReportVAT(b.Entries(), "2027-01-01", "2027-03-31", c.complete, c.closed, "GBP")
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		if r.Heading != c.heading || strings.Contains(strings.Join(r.Covers, " "), "Nobody has declared") == c.complete {
			t.Errorf("%s: %s", r.Heading, r.Covers)
		}
		if got := r.OutputVAT.Fixed() + " " + r.Sales.Fixed() + " " + r.InputVAT.Fixed() + " " + r.Purchases.Fixed() + " " + r.Balance.Fixed(); got != "400.00 2000.00 60.00 314.00 340.00" {
			t.Errorf("it has %s", got)
		}
	}
	for _, days := range [][2]string{{"2027-04-01", "2027-03-31"}, {"2027-01-00", "2027-03-31"}, {"2027-01-01", ""}} {
		if _, faults, _ := ledger.ReportVAT(b.Entries(), days[0], days[1], true, "", "GBP"); len(faults) == 0 {
			t.Errorf("%v is a period", days)
		}
	}
}
