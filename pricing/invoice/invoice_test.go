package invoice_test

import (
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/invoice"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

type failing interface{ Fatal(...any) }

func amount(tb failing, minor int64) money.Amount {
	a, err := money.FromMinor(minor, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func head(number int64, day string) invoice.Head {
	return invoice.Head{Number: number, IssuedOn: day, TaxPoint: day, Job: "job", Customer: "ada", Currency: "GBP", Basis: pricing.Gross,
		Letterhead: quote.Letterhead{Name: "Withermere Camper Works", VATNumber: "GB 000 0000 00"}}
}

// row is a thing that is charged: net and VAT in pence at a rate.
type row struct {
	treatment pricebook.Treatment
	percent   int64
	net, vat  int64
}

// agreed is a price of one line a row.
func agreed(tb failing, basis pricing.Basis, rows ...row) *pricing.Priced {
	p := &pricing.Priced{Currency: "GBP", Basis: basis}
	for _, r := range rows {
		sum := amount(tb, r.net+r.vat)
		if basis == pricing.Net {
			sum = amount(tb, r.net)
		}
		unit, err := money.NewUnitPrice(sum.Decimal(), "GBP")
		if err != nil {
			tb.Fatal(err)
		}
		percent := decimal.NewFromInt(r.percent)
		p.Lines = append(p.Lines, pricing.Line{Words: "Work", Quantity: 1, UnitPrice: unit, Amount: sum, Treatment: r.treatment, Percent: percent, Net: amount(tb, r.net), VAT: amount(tb, r.vat)})
		at := slices.IndexFunc(p.VAT, func(v pricing.VATRow) bool { return v.Treatment == r.treatment && v.Percent.Equal(percent) })
		if at < 0 {
			at = len(p.VAT)
			p.VAT = append(p.VAT, pricing.VATRow{Treatment: r.treatment, Percent: percent, Net: amount(tb, 0), VAT: amount(tb, 0), Gross: amount(tb, 0)})
		}
		v := &p.VAT[at]
		v.Net, v.VAT, v.Gross = amount(tb, v.Net.Minor()+r.net), amount(tb, v.VAT.Minor()+r.vat), amount(tb, v.Gross.Minor()+r.net+r.vat)
	}
	return p
}

// EN 16931's published examples (CEN's validation artefacts, UBL): of example 5
// 4,000.00 with 675.00 of VAT is 4,675.00, half of it paid before, 2,337.50 due;
// of example 2, 1,801.78 with 1,000.00 paid before, 801.78 due. How the parts of
// 5 come to it is ours; of 2 the VAT on 1,460.50 at 25 % is 365.125, half up
// 365.13; how the rest of it is parted is from memory.
func TestPublishedTotals(t *testing.T) {
	for name, c := range map[string]struct {
		rows            []row
		paid            int64
		net, gross, due string
	}{
		"example 5": {[]row{{pricebook.Standard, 25, 150000, 37500}, {pricebook.Reduced, 12, 250000, 30000}}, 233750, "4000.00", "4675.00", "2337.50"},
		"example 2": {[]row{{pricebook.Standard, 25, 146050, 36513}, {pricebook.Reduced, 15, 100, 15}, {pricebook.Exempt, 0, -2500, 0}}, 100000, "1436.50", "1801.78", "801.78"},
	} {
		p := agreed(t, pricing.Gross, c.rows...)
		shares := slices.DeleteFunc(invoice.Shares(p), func(s ledger.Share) bool { return s.Gross.Sign() < 0 })
		deposit, err := invoice.NewDeposit(head(1, "2026-03-10"), "Deposit", amount(t, c.paid), shares)
		if err != nil {
			t.Fatal(err)
		}
		final, err := invoice.NewFinal(head(2, "2026-04-20"), p, []*invoice.Invoice{deposit})
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range []*invoice.Invoice{deposit, final} {
			if faults := i.Check(); len(faults) > 0 {
				t.Errorf("%s: %v", name, faults)
			}
		}
		if final.Net.Fixed() != c.net || final.Gross.Fixed() != c.gross || final.Due.Fixed() != c.due {
			t.Errorf("%s: %s without VAT, %s with it, %s due; want %s, %s, %s", name, final.Net.Fixed(), final.Gross.Fixed(), final.Due.Fixed(), c.net, c.gross, c.due)
		}
		if deposit.Gross != amount(t, c.paid) || !deposit.Due.IsZero() {
			t.Errorf("%s: the deposit invoice is of %s, %s due", name, deposit.Gross, deposit.Due)
		}
		text, err := final.Encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := invoice.Decode(text)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := back.Encode(); err != nil || string(again) != string(text) {
			t.Errorf("%s: read and written it is %s, %v", name, again, err)
		}
	}
}

func TestCheck(t *testing.T) {
	whole := func() *invoice.Invoice {
		i, err := invoice.NewFinal(head(2, "2026-04-20"), agreed(t, pricing.Net, row{pricebook.Standard, 20, 10000, 2000}), nil)
		if err != nil {
			t.Fatal(err)
		}
		return i
	}
	if faults := whole().Check(); len(faults) > 0 {
		t.Fatal(faults)
	}
	for at, change := range map[string]func(*invoice.Invoice){
		"issued_on":             func(i *invoice.Invoice) { i.IssuedOn = "2026-04-31" },
		"tax_point":             func(i *invoice.Invoice) { i.TaxPoint = "2026-04-21" },
		"due_on":                func(i *invoice.Invoice) { i.DueOn = "2026-01-31" },
		"job":                   func(i *invoice.Invoice) { i.Job = "" },
		"letterhead/name":       func(i *invoice.Invoice) { i.Letterhead.Name = "" },
		"letterhead/vat_number": func(i *invoice.Invoice) { i.Letterhead.VATNumber = "" },
		"lines":                 func(i *invoice.Invoice) { i.Lines = nil },
		"gross":                 func(i *invoice.Invoice) { i.Gross = amount(t, 12001) },
		"due":                   func(i *invoice.Invoice) { i.Due = amount(t, 1) },
		"reason":                func(i *invoice.Invoice) { i.Kind = invoice.CreditNote },
	} {
		i := whole()
		change(i)
		if faults := i.Check(); !slices.ContainsFunc(faults, func(f document.Fault) bool { return f.At == at }) {
			t.Errorf("%s: %v", at, faults)
		}
	}
	for _, broken := range []string{"", "{}", `{"format":"wainscot-invoice/1","colour":"red"}`} {
		if _, err := invoice.Decode([]byte(broken)); err == nil {
			t.Errorf("%q is read as an invoice", broken)
		}
	}
}

func TestCreditNotes(t *testing.T) {
	of, err := invoice.NewFinal(head(2, "2026-04-20"), agreed(t, pricing.Gross, row{pricebook.Standard, 20, 10000, 2000}, row{pricebook.Zero, 0, 500, 0}), nil)
	if err != nil {
		t.Fatal(err)
	}
	back := func(net, vat int64) []ledger.VATSum {
		return []ledger.VATSum{{Treatment: pricebook.Standard, Percent: decimal.NewFromInt(20), Net: amount(t, net), VAT: amount(t, vat)}}
	}
	one, faults, err := invoice.NewCreditNote(head(1, "2026-05-01"), of, nil, back(2000, 400), "The hooks were not fitted.")
	if err != nil || len(faults) > 0 || len(one.Check()) > 0 {
		t.Fatal(faults, err, one.Check())
	}
	if one.Due.Fixed() != "24.00" || len(one.Becomes) != 1 || one.Becomes[0].VAT.Fixed() != "-4.00" || one.Credits != 2 || one.Lines[0].Words != "The hooks were not fitted." {
		t.Errorf("credited: %+v", one)
	}
	for name, c := range map[string][]ledger.VATSum{
		"more than is left": back(8001, 0), "more VAT than is left": back(0, 1601), "below nothing": back(-1, 0),
		"at another rate": {{Treatment: pricebook.Reduced, Percent: decimal.NewFromInt(5), Net: amount(t, 1), VAT: amount(t, 0)}},
	} {
		if _, faults, err := invoice.NewCreditNote(head(2, "2026-05-02"), of, []*invoice.Invoice{one}, c, "x"); len(faults) != 1 || err != nil {
			t.Errorf("%s: %v %v", name, faults, err)
		}
	}
	if _, faults, err := invoice.NewCreditNote(head(2, "2026-05-02"), of, []*invoice.Invoice{one}, back(8000, 1600), "The rest."); len(faults) > 0 || err != nil {
		t.Errorf("the rest: %v %v", faults, err)
	}
}

// TestPapersAndBooksAgree: whatever a job comes to and however it is paid before,
// its papers together charge its VAT to the penny, and what they say is due is
// what the books say is owed.
func TestPapersAndBooksAgree(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		basis := rapid.SampledFrom([]pricing.Basis{pricing.Gross, pricing.Net}).Draw(rt, "basis")
		var rows []row
		for range rapid.IntRange(1, 5).Draw(rt, "rows") {
			r := rapid.SampledFrom([]row{{treatment: pricebook.Standard, percent: 20}, {treatment: pricebook.Reduced, percent: 5}, {treatment: pricebook.Zero}}).Draw(rt, "rate")
			r.net = rapid.Int64Range(1, 1_000_000).Draw(rt, "net")
			r.vat = r.net * r.percent / 100
			rows = append(rows, r)
		}
		p := agreed(rt, basis, rows...)
		var book ledger.Book
		enter := func(kind ledger.Kind, lines []ledger.Line) {
			if _, faults := book.Post(ledger.Entry{Day: "2026-03-10", At: time.Unix(0, 0), By: "perran", Kind: kind, Document: ledger.Document{Noun: "paper", ID: "1"}, Lines: lines}); len(faults) > 0 {
				rt.Fatal(kind, faults)
			}
		}
		total := int64(0)
		for _, r := range rows {
			total += r.net + r.vat
		}
		left := total
		var deposits []*invoice.Invoice
		for n := rapid.IntRange(0, 4).Draw(rt, "deposits"); n > 0 && left > 0; n-- {
			sum := rapid.Int64Range(1, left).Draw(rt, "sum")
			left -= sum
			d, err := invoice.NewDeposit(head(int64(len(deposits)+1), "2026-03-10"), "Deposit", amount(rt, sum), invoice.Shares(p))
			if err != nil {
				rt.Fatal(err)
			}
			if faults := d.Check(); len(faults) > 0 || d.Gross != amount(rt, sum) {
				rt.Fatal(faults, d.Gross)
			}
			deposits = append(deposits, d)
			enter(ledger.Received, ledger.Receipt(ledger.Bank, amount(rt, sum), "ada"))
			enter(ledger.Placed, ledger.Place(amount(rt, sum), "job", "ada", d.Becomes, false))
		}
		if len(deposits) == 1 && rapid.Bool().Draw(rt, "some of it refunded") {
			back := rapid.Int64Range(1, deposits[0].Gross.Minor()).Draw(rt, "back")
			before := book.DepositVAT("job", "GBP")
			lines, faults, err := book.GiveBack("job", "ada", amount(rt, back), amount(rt, 0), ledger.Bank)
			if err != nil || len(faults) > 0 {
				rt.Fatal(faults, err)
			}
			enter(ledger.Refunded, lines)
			credit, faults, err := invoice.NewCreditNote(head(1, "2026-03-10"), deposits[0], nil, fewer(rt, before, book.DepositVAT("job", "GBP")), "Refunded.")
			if err != nil || len(faults) > 0 || len(credit.Check()) > 0 || credit.Gross.Minor() != back {
				rt.Fatal(faults, err, credit)
			}
			deposits, left = append(deposits, credit), left+back
		}
		final, err := invoice.NewFinal(head(9, "2026-03-11"), p, deposits)
		if err != nil {
			rt.Fatal(err)
		}
		if faults := final.Check(); len(faults) > 0 || final.Due.Minor() != left {
			rt.Fatal(faults, final.Due, left)
		}
		lines, err := book.Invoice("job", "ada", final.Rows(), "GBP")
		if err != nil {
			rt.Fatal(err)
		}
		enter(ledger.Invoiced, lines)
		if owed := book.OfJob(ledger.Debtors, "job", "GBP"); owed != final.Due {
			rt.Fatalf("%s is due, and %s owed", final.Due, owed)
		}
		papers := map[string]int64{}
		for _, i := range append(deposits, final) {
			for _, v := range i.Becomes {
				papers[string(v.Treatment)] += v.VAT.Minor()
			}
		}
		for _, v := range book.VATBetween("2026-01-01", "2026-12-31", "GBP") {
			if papers[string(v.Treatment)] != v.VAT.Minor() {
				rt.Fatalf("%s: the papers make %d due, the books %s", v.Treatment, papers[string(v.Treatment)], v.VAT)
			}
		}
		for _, r := range p.VAT {
			if papers[string(r.Treatment)] != r.VAT.Minor() {
				rt.Fatalf("%s: the papers make %d due of %s", r.Treatment, papers[string(r.Treatment)], r.VAT)
			}
		}
	})
}

// fewer is by how much VAT has become less.
func fewer(rt *rapid.T, before, after []ledger.VATSum) []ledger.VATSum {
	var list []ledger.VATSum
	for _, b := range before {
		for _, a := range after {
			if a.Treatment == b.Treatment {
				b.Net, b.VAT = amount(rt, b.Net.Minor()-a.Net.Minor()), amount(rt, b.VAT.Minor()-a.VAT.Minor())
			}
		}
		list = append(list, b)
	}
	return list
}

// TestDepositForTheTrade: on the net basis a line shows what it is without VAT.
func TestDepositForTheTrade(t *testing.T) {
	h := head(1, "2026-03-10")
	for basis, want := range map[pricing.Basis]string{pricing.Net: "100.00", pricing.Gross: "120.00"} {
		h.Basis = basis
		i, err := invoice.NewDeposit(h, "Deposit", amount(t, 12000), invoice.Shares(agreed(t, basis, row{pricebook.Standard, 20, 50000, 10000})))
		if err != nil || len(i.Lines) != 1 || i.Lines[0].Amount.Fixed() != want || i.Lines[0].UnitPrice.Fixed() != want || i.Gross.Fixed() != "120.00" {
			t.Errorf("%s: %+v, %v", basis, i, err)
		}
	}
}

// A deposit that was taken on has a number of another series than ours: a credit
// note of one is none of the other, and the invoice deducts both.
func TestDepositTakenOn(t *testing.T) {
	vat := []ledger.VATSum{{Treatment: pricebook.Standard, Percent: decimal.NewFromInt(20), Net: amount(t, 10000), VAT: amount(t, 2000)}}
	before, err := invoice.NewTakenOn(head(1, "2026-10-01"), "Deposit", vat)
	if err != nil {
		t.Fatal(err)
	}
	job := agreed(t, pricing.Gross, row{pricebook.Standard, 20, 100000, 20000})
	ours, err := invoice.NewDeposit(head(1, "2026-11-01"), "Deposit", amount(t, 6000), invoice.Shares(job))
	if err != nil {
		t.Fatal(err)
	}
	for of, other := range map[*invoice.Invoice]*invoice.Invoice{before: ours, ours: before} {
		note, faults, err := invoice.NewCreditNote(head(1, "2026-11-20"), of, nil, of.Rows(), "Dropped")
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		if !note.TakesBack(of) || note.TakesBack(other) || note.Gross != of.Gross {
			t.Errorf("the credit note of %s is of %s too", of.Kind, other.Kind)
		}
	}
	final, err := invoice.NewFinal(head(2, "2026-11-25"), job, []*invoice.Invoice{before, ours})
	if err != nil {
		t.Fatal(err)
	}
	if final.Due != amount(t, 120000-12000-6000) || final.Becomes[0].VAT != amount(t, 20000-2000-1000) || final.Deducted[0].Kind != invoice.TakenOn {
		t.Errorf("the invoice is %+v", final)
	}
}
