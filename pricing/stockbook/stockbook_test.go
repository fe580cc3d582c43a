package stockbook_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/stockbook"
)

var twenty = decimal.NewFromInt(20)

func pence(minor int64) money.Amount {
	a, err := money.FromMinor(minor, "GBP")
	if err != nil {
		panic(err)
	}
	return a
}

func gbp(s string) money.Amount {
	a, err := money.Parse(s, "GBP")
	if err != nil {
		panic(err)
	}
	return a
}

// The tax is a sixth of the margin at 20 % and nothing on a loss (HMRC, Using
// the VAT margin scheme for second-hand vehicles; the sums are ours).
func TestMargin(t *testing.T) {
	for _, c := range []struct{ paid, price, percent, margin, vat string }{
		{"3000.00", "3600.00", "20", "600.00", "100.00"},
		{"17000.00", "18000.00", "20", "1000.00", "166.67"},
		{"17000.00", "17000.00", "20", "0.00", "0.00"},
		{"17000.00", "15500.00", "20", "-1500.00", "0.00"},
		{"100.00", "217.50", "17.5", "117.50", "17.50"},
		{"100.00", "100.02", "20", "0.02", "0.00"},
		{"100.00", "100.03", "20", "0.03", "0.01"}, // 0.005, half up
	} {
		margin, vat, err := stockbook.Margin(gbp(c.paid), gbp(c.price), decimal.RequireFromString(c.percent))
		if err != nil || margin.Fixed() != c.margin || vat.Fixed() != c.vat {
			t.Errorf("%s to %s: margin %s, VAT %s, %v; want %s, %s", c.paid, c.price, margin.Fixed(), vat.Fixed(), err, c.margin, c.vat)
		}
	}
	euro := money.Zero("EUR")
	if _, _, err := stockbook.Margin(gbp("1"), euro, twenty); err == nil {
		t.Error("a margin between two currencies")
	}
}

func van(how stockbook.How) stockbook.Van {
	return stockbook.Van{Number: 1, Van: "a-van", How: how, From: "ada", BoughtOn: "2027-01-11", Paid: gbp("17000.00"), MileageMiles: 61000}
}

func TestNewAndSell(t *testing.T) {
	for want, change := range map[string]func(*stockbook.Van) bool{
		"not_eligible vat_shown":     func(*stockbook.Van) bool { return true },
		"day bought_on":              func(v *stockbook.Van) bool { v.BoughtOn = "2027-13-01"; return false },
		"amount paid":                func(v *stockbook.Van) bool { v.Paid = gbp("0"); return false },
		"out_of_range mileage_miles": func(v *stockbook.Van) bool { v.MileageMiles = stockbook.MaxMileage + 1; return false },
		"":                           func(v *stockbook.Van) bool { v.MileageMiles = stockbook.MaxMileage; return false },
	} {
		v := van(stockbook.Bought)
		shown := change(&v)
		_, faults := stockbook.New(v, shown)
		got := ""
		for _, f := range faults {
			got += f.Code + " " + f.At
		}
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	v := van(stockbook.Bought)
	if _, err := v.Selling(false); err == nil {
		t.Error("what was not sold was entered as sold")
	}
	for want, c := range map[string]struct {
		on    string
		price money.Amount
	}{"day on": {"2027-01-10", gbp("18000")}, "amount price": {"2027-02-01", gbp("0")}, "": {"2027-01-11", gbp("18000")}} {
		sold, faults, err := v.Sell("bert", c.on, c.price, twenty)
		got := ""
		for _, f := range faults {
			got += f.Code + " " + f.At
		}
		if got != want || err != nil || (sold.Sale != nil) != (want == "") {
			t.Errorf("%q, want %q, %v", got, want, err)
		}
		if want == "" {
			if _, faults, _ := sold.Sell("bert", c.on, c.price, twenty); len(faults) != 1 || faults[0].Code != "state" {
				t.Errorf("sold twice: %v", faults)
			}
		}
	}
}

// Whatever was paid and got for a van, and whether it went straight or with a
// job: the books balance, nothing is left of it among what the workshop has,
// sales and VAT are its price, sales less purchases are the margin without its
// VAT, and the VAT report has its price once on either side.
func TestAVanThroughTheBooks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		paid, price := pence(rapid.Int64Range(1, 3_000_000).Draw(t, "paid")), pence(rapid.Int64Range(1, 3_000_000).Draw(t, "price"))
		how := rapid.SampledFrom([]stockbook.How{stockbook.PartExchange, stockbook.Bought}).Draw(t, "how")
		invoiced := rapid.Bool().Draw(t, "invoiced")
		v := van(how)
		v.Paid = paid
		var b ledger.Book
		post := func(day string, kind ledger.Kind, lines []ledger.Line) {
			if _, faults := b.Post(ledger.Entry{Day: day, At: time.Date(2027, 1, 11, 12, 0, 0, 0, time.UTC), By: "perran", Kind: kind, Document: ledger.Document{Noun: "van", ID: "1"}, Lines: lines}); len(faults) > 0 {
				t.Fatal(faults)
			}
		}
		if how == stockbook.PartExchange {
			post("2027-01-11", ledger.Received, v.TakingIn())
			if got := b.Balance(ledger.Unplaced, "GBP"); got != paid.Neg() {
				t.Fatalf("to be placed is %s of %s", got, paid)
			}
		} else {
			post("2027-01-11", ledger.Bought, v.Buying(ledger.Bank))
		}
		if got := b.Balance(how.Account(), "GBP"); got != paid {
			t.Fatalf("it stands at %s", got)
		}
		post("2027-03-01", ledger.Received, ledger.Receipt(ledger.Bank, price, "bert"))
		sold, faults, err := v.Sell("bert", "2027-03-02", price, twenty)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		if invoiced { // as an invoice with it as its one line does
			lines, err := b.Invoice("job", "bert", []ledger.VATSum{{Treatment: "margin", Net: price, VAT: pence(0)}}, "GBP")
			if err != nil {
				t.Fatal(err)
			}
			post("2027-03-02", ledger.Invoiced, lines)
		}
		lines, err := sold.Selling(invoiced)
		if err != nil {
			t.Fatal(err)
		}
		post("2027-03-02", ledger.Moved, lines)
		vat := max(0, (2*(price.Minor()-paid.Minor())+6)/12) // a sixth, half up
		if sold.Sale.VAT.Minor() != vat || b.Balance(ledger.VATDue, "GBP").Minor() != -vat || b.Balance(ledger.Sales, "GBP").Minor() != vat-price.Minor() ||
			b.Balance(ledger.Purchases, "GBP") != paid || !b.Balance(how.Account(), "GBP").IsZero() {
			t.Fatalf("VAT %s, want %d; due %s, sales %s, purchases %s", sold.Sale.VAT, vat, b.Balance(ledger.VATDue, "GBP"), b.Balance(ledger.Sales, "GBP"), b.Balance(ledger.Purchases, "GBP"))
		}
		r, faults, err := ledger.ReportVAT(b.Entries(), "2027-01-01", "2027-03-31", false, "", "GBP")
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		got := fmt.Sprint(r.OutputVAT.Minor(), r.Sales.Minor(), r.InputVAT.Minor(), r.Purchases.Minor(), len(r.Output), len(r.Input))
		if want := fmt.Sprint(vat, price.Minor()-vat, 0, paid.Minor(), 1, 1); got != want {
			t.Fatalf("the report has %s, want %s", got, want)
		}
	})
}

// TestGoBack: a van goes back once, and not after it was sold; gone, it is not
// sold.
func TestGoBack(t *testing.T) {
	v := van(stockbook.PartExchange)
	if !v.Standing() {
		t.Error("a van that came in does not stand here")
	}
	back, faults := v.GoBack("2026-11-24")
	if len(faults) > 0 || back.Standing() || back.BackOn != "2026-11-24" {
		t.Errorf("gone back %+v %v", back, faults)
	}
	if _, faults := back.GoBack("2026-11-25"); len(faults) != 1 || faults[0].Code != "taken_back" {
		t.Errorf("twice: %v", faults)
	}
	if _, faults, err := back.Sell("buyer", "2026-11-25", gbp("12000.00"), twenty); err != nil || len(faults) != 1 || faults[0].Code != "state" {
		t.Errorf("sold after that: %v %v", faults, err)
	}
	sold, faults, err := v.Sell("buyer", "2027-11-25", gbp("12000.00"), twenty)
	if err != nil || len(faults) > 0 {
		t.Fatal(faults, err)
	}
	if _, faults := sold.GoBack("2027-11-26"); len(faults) != 1 || faults[0].Code != "in_use" || sold.Standing() {
		t.Errorf("back after the sale: %v", faults)
	}
}
