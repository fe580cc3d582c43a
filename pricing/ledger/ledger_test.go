package ledger_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

func gbp(tb testing.TB, s string) money.Amount {
	tb.Helper()
	a, err := money.Parse(s, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

var twenty = decimal.NewFromInt(20)

// of is a job all at the standard rate.
func of(tb testing.TB, gross string) []ledger.Share {
	tb.Helper()
	return []ledger.Share{{Treatment: pricebook.Standard, Percent: twenty, Gross: gbp(tb, gross)}}
}

func post(tb testing.TB, b *ledger.Book, day string, kind ledger.Kind, lines []ledger.Line) ledger.Entry {
	tb.Helper()
	e, faults := b.Post(entry(day, kind, lines))
	if len(faults) > 0 {
		tb.Fatalf("%s on %s: %v", kind, day, faults)
	}
	return e
}

func entry(day string, kind ledger.Kind, lines []ledger.Line) ledger.Entry {
	return ledger.Entry{Day: day, At: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), By: "perran", Kind: kind,
		Document: ledger.Document{Noun: "receipt", ID: "1"}, Lines: lines}
}

// deposit receives an amount and places it on a job.
func deposit(tb testing.TB, b *ledger.Book, day, amount, job string, shares []ledger.Share) {
	tb.Helper()
	sum := gbp(tb, amount)
	post(tb, b, day, ledger.Received, ledger.Receipt(ledger.Bank, sum, "ada"))
	vat, err := ledger.VATIn(sum, shares)
	if err != nil {
		tb.Fatal(err)
	}
	post(tb, b, day, ledger.Placed, ledger.Place(sum, job, "ada", vat, false))
}

func vat(b *ledger.Book, from, until string) (due string) {
	for _, v := range b.VATBetween(from, until, "GBP") {
		due += fmt.Sprintf("%s %s %% %s on %s; ", v.Treatment, v.Percent, v.VAT.Fixed(), v.Net.Fixed())
	}
	return due
}

// A deposit of 20 % on work of 10,000 without VAT, paid in March; fitted and
// invoiced in April: VAT on 2,000 in March, on 8,000 in April (HMRC VATTOS5105
// and VATTOS3600).
func TestTaxPoints(t *testing.T) {
	var b ledger.Book
	deposit(t, &b, "2026-03-10", "2400.00", "job", of(t, "12000.00"))
	lines, err := b.Invoice("job", "ada", []ledger.VATSum{{Treatment: pricebook.Standard, Percent: twenty, Net: gbp(t, "10000.00"), VAT: gbp(t, "2000.00")}}, "GBP")
	if err != nil {
		t.Fatal(err)
	}
	post(t, &b, "2026-04-20", ledger.Invoiced, lines)
	if got, want := vat(&b, "2026-03-01", "2026-03-31"), "standard 20 % 400.00 on 2000.00; "; got != want {
		t.Errorf("in March %s, want %s", got, want)
	}
	if got, want := vat(&b, "2026-04-01", "2026-04-30"), "standard 20 % 1600.00 on 8000.00; "; got != want {
		t.Errorf("in April %s, want %s", got, want)
	}
	if owed := b.OfJob(ledger.Debtors, "job", "GBP"); owed != gbp(t, "9600.00") {
		t.Errorf("owed is %s", owed)
	}
	if held := b.OfJob(ledger.DepositsNotEarned, "job", "GBP"); !held.IsZero() || len(b.DepositVAT("job", "GBP")) != 0 {
		t.Errorf("%s is not yet earned, VAT %v", held, b.DepositVAT("job", "GBP"))
	}
	if list, sum := b.DepositsOn("2026-03-31", "GBP"); sum != gbp(t, "2400.00") || len(list) != 1 || list[0].Amount != sum {
		t.Errorf("at the end of March %v, together %s", list, sum)
	}
	for day, want := range map[string]string{"2026-03-09": "0.00", "2026-03-10": "2400.00", "2026-04-19": "2400.00", "2026-04-20": "0.00"} {
		if _, sum := b.DepositsOn(day, "GBP"); sum != gbp(t, want) {
			t.Errorf("on %s %s is not yet earned, want %s", day, sum, want)
		}
	}
	// The rest comes in after the invoice and pays it: no VAT is due with it.
	post(t, &b, "2026-05-02", ledger.Received, ledger.Receipt(ledger.Bank, gbp(t, "9600.00"), "ada"))
	post(t, &b, "2026-05-02", ledger.Placed, ledger.Place(gbp(t, "9600.00"), "job", "ada", nil, true))
	if got := vat(&b, "2026-05-01", "2026-05-31"); got != "" || !b.OfJob(ledger.Debtors, "job", "GBP").IsZero() {
		t.Errorf("in May %s, owed %s", got, b.OfJob(ledger.Debtors, "job", "GBP"))
	}
	if bank := b.Balance(ledger.Bank, "GBP"); bank != gbp(t, "12000.00") {
		t.Errorf("in the bank is %s", bank)
	}
}

// VAT worked out on each of 333.33 and 1,333.34 is 55.56 and 222.22, together
// 277.78; on their sum of 1,666.67 it is 277.78. Five of 333.33 and one of 0.02
// make 277.80: the invoice carries the odd pence (arithmetic on the rule above).
func TestTheInvoiceCarriesTheOddPenny(t *testing.T) {
	var b ledger.Book
	for range 5 {
		deposit(t, &b, "2026-03-10", "333.33", "job", of(t, "1666.67"))
	}
	deposit(t, &b, "2026-03-10", "0.02", "job", of(t, "1666.67"))
	if got := vat(&b, "2026-03-01", "2026-03-31"); got != "standard 20 % 277.80 on 1388.87; " {
		t.Errorf("of the deposits %s", got)
	}
	lines, err := b.Invoice("job", "ada", []ledger.VATSum{{Treatment: pricebook.Standard, Percent: twenty, Net: gbp(t, "1388.89"), VAT: gbp(t, "277.78")}}, "GBP")
	if err != nil {
		t.Fatal(err)
	}
	post(t, &b, "2026-04-20", ledger.Invoiced, lines)
	if got := vat(&b, "2026-04-01", "2026-04-30"); got != "standard 20 % -0.02 on 0.02; " {
		t.Errorf("of the invoice %s", got)
	}
	if got := vat(&b, "2026-01-01", "2026-12-31"); got != "standard 20 % 277.78 on 1388.89; " {
		t.Errorf("of both %s", got)
	}
}

// Of a deposit of 60.00 that is kept, the 10.00 of VAT stays due (Revenue and
// Customs Brief 13/2018: 50 + 10 → the 10 stays); with 24.00 refunded 4.00 of
// VAT is taken back.
func TestKeptAndRefunded(t *testing.T) {
	for name, c := range map[string]struct{ paid, refunded, kept, due, earned, left string }{
		"kept":           {"60.00", "0.00", "60.00", "standard 20 % 10.00 on 50.00; ", "-50.00", "0.00"},
		"refunded":       {"24.00", "24.00", "0.00", "", "0.00", "0.00"},
		"some of each":   {"84.00", "24.00", "60.00", "standard 20 % 10.00 on 50.00; ", "-50.00", "0.00"},
		"some left":      {"120.00", "24.00", "36.00", "standard 20 % 16.00 on 80.00; ", "-30.00", "60.00"},
		"not in thirds":  {"100.00", "33.33", "66.67", "standard 20 % 11.11 on 55.56; ", "-55.56", "0.00"},
		"a penny of two": {"0.02", "0.01", "0.01", "standard 20 % 0.00 on 0.01; ", "-0.01", "0.00"},
	} {
		var b ledger.Book
		deposit(t, &b, "2026-03-10", c.paid, "job", of(t, "1000.00"))
		lines, faults, err := b.GiveBack("job", "ada", gbp(t, c.refunded), gbp(t, c.kept), ledger.Bank)
		if err != nil || len(faults) > 0 {
			t.Fatal(name, faults, err)
		}
		post(t, &b, "2026-03-20", ledger.Refunded, lines)
		if got := vat(&b, "2026-01-01", "2026-12-31"); got != c.due {
			t.Errorf("%s: due is %s, want %s", name, got, c.due)
		}
		if got := b.OfJob(ledger.DepositsKept, "job", "GBP"); got.Fixed() != c.earned {
			t.Errorf("%s: kept is %s, want %s", name, got.Fixed(), c.earned)
		}
		if got := b.OfJob(ledger.DepositsNotEarned, "job", "GBP"); got.Fixed() != c.left {
			t.Errorf("%s: left is %s, want %s", name, got.Fixed(), c.left)
		}
		if b.OfJob(ledger.DepositsNotEarned, "job", "GBP").IsZero() && len(b.DepositVAT("job", "GBP")) > 0 {
			t.Errorf("%s: VAT on no deposit: %v", name, b.DepositVAT("job", "GBP"))
		}
	}
	var b ledger.Book
	deposit(t, &b, "2026-03-10", "60.00", "job", of(t, "1000.00"))
	for _, c := range [][2]string{{"60.00", "0.01"}, {"-1.00", "2.00"}, {"2.00", "-1.00"}, {"0.00", "0.00"}} {
		if _, faults, err := b.GiveBack("job", "ada", gbp(t, c[0]), gbp(t, c[1]), ledger.Bank); len(faults) == 0 || err != nil {
			t.Errorf("refunding %s and keeping %s: %v %v", c[0], c[1], faults, err)
		}
	}
}

// An invoice of 4,000.00 with 675.00 of VAT, half of the 4,675.00 paid before:
// 2,337.50 is due (EN 16931 example 5; its parts here come to its totals).
func TestHalfIsPaidBefore(t *testing.T) {
	var b ledger.Book
	high, low := decimal.NewFromInt(25), decimal.NewFromInt(12)
	shares := []ledger.Share{{Treatment: pricebook.Standard, Percent: high, Gross: gbp(t, "1875.00")}, {Treatment: pricebook.Reduced, Percent: low, Gross: gbp(t, "2800.00")}}
	deposit(t, &b, "2026-03-10", "2337.50", "job", shares)
	lines, err := b.Invoice("job", "ada", []ledger.VATSum{
		{Treatment: pricebook.Standard, Percent: high, Net: gbp(t, "1500.00"), VAT: gbp(t, "375.00")},
		{Treatment: pricebook.Reduced, Percent: low, Net: gbp(t, "2500.00"), VAT: gbp(t, "300.00")},
	}, "GBP")
	if err != nil {
		t.Fatal(err)
	}
	post(t, &b, "2026-04-20", ledger.Invoiced, lines)
	if owed := b.OfJob(ledger.Debtors, "job", "GBP"); owed != gbp(t, "2337.50") {
		t.Errorf("due is %s", owed)
	}
	if got := vat(&b, "2026-03-10", "2026-03-10"); got != "standard 25 % 187.50 on 750.00; reduced 12 % 150.00 on 1250.00; " {
		t.Errorf("with the deposit %s", got)
	}
}

func TestWhatIsRefused(t *testing.T) {
	one, two := gbp(t, "1.00"), gbp(t, "2.00")
	mark := &ledger.VAT{Treatment: pricebook.Standard, Percent: twenty, Net: one}
	in := func(e ledger.Entry) func(*ledger.Book) document.Faults {
		return func(b *ledger.Book) document.Faults { _, faults := b.Post(e); return faults }
	}
	lines := ledger.Receipt(ledger.Bank, one, "ada")
	nobody := entry("2026-03-11", ledger.Received, lines)
	nobody.By = ""
	for name, c := range map[string]struct {
		do   func(*ledger.Book) document.Faults
		code string
	}{
		"not balanced":     {in(entry("2026-03-11", ledger.Received, []ledger.Line{{Account: ledger.Bank, Amount: two}, {Account: ledger.Unplaced, Amount: one.Neg()}})), "not_balanced"},
		"one line":         {in(entry("2026-03-11", ledger.Received, lines[:1])), "number_of_lines"},
		"no account":       {in(entry("2026-03-11", ledger.Received, []ledger.Line{{Account: "shoebox", Amount: one}, {Account: ledger.Bank, Amount: one.Neg()}})), "unknown_word"},
		"no kind":          {in(entry("2026-03-11", "found", lines)), "unknown_word"},
		"no day":           {in(entry("2026-02-30", ledger.Received, lines)), "day"},
		"nobody":           {in(nobody), "missing"},
		"no job":           {in(entry("2026-03-11", ledger.Placed, []ledger.Line{{Account: ledger.Unplaced, Amount: one}, {Account: ledger.Debtors, Amount: one.Neg()}})), "no_job"},
		"VAT without mark": {in(entry("2026-03-11", ledger.Bought, []ledger.Line{{Account: ledger.Bank, Amount: one}, {Account: ledger.VATDue, Amount: one.Neg()}})), "vat"},
		"a mark elsewhere": {in(entry("2026-03-11", ledger.Bought, []ledger.Line{{Account: ledger.Bank, Amount: one, VAT: mark}, {Account: ledger.Sales, Amount: one.Neg()}})), "vat"},
		"closed":           {in(entry("2026-03-01", ledger.Received, lines)), "closed"},
		"nothing":          {in(entry("2026-03-11", ledger.Moved, []ledger.Line{{Account: ledger.Bank, Amount: money.Zero("GBP")}, {Account: ledger.Cash, Amount: money.Zero("GBP")}})), "amount"},
		"more than came":   {in(entry("2026-03-11", ledger.Placed, ledger.Place(two, "job", "ada", nil, true))), "more_than_there_is"},
		"more than held":   {in(entry("2026-03-11", ledger.Refunded, []ledger.Line{{Account: ledger.DepositsNotEarned, Amount: gbp(t, "0.01"), Job: "job"}, {Account: ledger.Bank, Amount: gbp(t, "-0.01")}})), "more_than_there_is"},
		"no such entry": {func(b *ledger.Book) document.Faults {
			_, f := b.Reverse(9, "2026-03-11", "perran", time.Time{}, ledger.Document{Noun: "note", ID: "1"})
			return f
		}, "no_entry"},
		"twice reversed": {func(b *ledger.Book) document.Faults {
			for range 2 {
				if _, f := b.Reverse(1, "2026-03-11", "perran", time.Time{}, ledger.Document{Noun: "note", ID: "1"}); len(f) > 0 {
					return f
				}
			}
			return nil
		}, "reversed"},
		"a reversal reversed": {func(b *ledger.Book) document.Faults {
			e, f := b.Reverse(1, "2026-03-11", "perran", time.Time{}, ledger.Document{Noun: "note", ID: "1"})
			if len(f) > 0 {
				return f
			}
			_, f = b.Reverse(e.Number, "2026-03-11", "perran", time.Time{}, ledger.Document{Noun: "note", ID: "1"})
			return f
		}, "reversed"},
		"a reversal of nothing": {in(entry("2026-03-11", ledger.Reversed, lines)), "contradiction"},
		"closed again":          {func(b *ledger.Book) document.Faults { return b.Close("2026-03-01") }, "closed"},
	} {
		var b ledger.Book
		post(t, &b, "2026-03-02", ledger.Received, lines)
		if faults := b.Close("2026-03-01"); len(faults) > 0 {
			t.Fatal(faults)
		}
		before := len(b.Entries())
		faults := c.do(&b)
		if len(faults) == 0 || faults[0].Code != c.code {
			t.Errorf("%s: %v, want %s", name, faults, c.code)
		}
		if name != "twice reversed" && name != "a reversal reversed" && len(b.Entries()) != before {
			t.Errorf("%s: refused, and entered", name)
		}
	}
}

// TestReversed: what was entered by mistake is as if it had not been, VAT and all.
func TestReversed(t *testing.T) {
	var b ledger.Book
	deposit(t, &b, "2026-03-10", "60.00", "job", of(t, "1000.00"))
	note := ledger.Document{Noun: "note", ID: "7"}
	e, faults := b.Reverse(2, "2026-03-12", "perran", time.Time{}, note)
	if len(faults) > 0 || e.Kind != ledger.Reversed || e.Reverses != 2 || b.ReversedBy(2) != e.Number || b.ReversedBy(1) != 0 {
		t.Fatal(e, faults)
	}
	if got := vat(&b, "2026-01-01", "2026-12-31"); got != "" || len(b.DepositVAT("job", "GBP")) > 0 || !b.OfJob(ledger.DepositsNotEarned, "job", "GBP").IsZero() {
		t.Errorf("due is %s", got)
	}
	if got := b.Balance(ledger.Unplaced, "GBP"); got != gbp(t, "-60.00") {
		t.Errorf("not yet placed is %s", got)
	}
}

// TestTheChainHolds: what was kept reads back, and whatever is changed in it is
// seen.
func TestTheChainHolds(t *testing.T) {
	var b ledger.Book
	deposit(t, &b, "2026-03-10", "60.00", "job", of(t, "1000.00"))
	deposit(t, &b, "2026-03-11", "70.00", "job", of(t, "1000.00"))
	again, err := ledger.Read(b.Entries(), "2026-03-01")
	if err != nil || again.ClosedThrough() != "2026-03-01" || again.OfJob(ledger.DepositsNotEarned, "job", "GBP") != gbp(t, "130.00") {
		t.Fatal(err, again)
	}
	var other ledger.Book
	deposit(t, &other, "2026-03-10", "61.00", "job", of(t, "1000.00"))
	for name, change := range map[string]func([]ledger.Entry) []ledger.Entry{
		"another's":  func(list []ledger.Entry) []ledger.Entry { list[1] = other.Entries()[1]; return list },
		"the first":  func(list []ledger.Entry) []ledger.Entry { list[0] = other.Entries()[0]; return list },
		"an amount":  func(list []ledger.Entry) []ledger.Entry { list[0].Lines[0].Amount = gbp(t, "61.00"); return list },
		"a day":      func(list []ledger.Entry) []ledger.Entry { list[1].Day = "2026-03-09"; return list },
		"who":        func(list []ledger.Entry) []ledger.Entry { list[1].By = "mallory"; return list },
		"when":       func(list []ledger.Entry) []ledger.Entry { list[1].At = list[1].At.Add(time.Second); return list },
		"a job":      func(list []ledger.Entry) []ledger.Entry { list[1].Lines[1].Job = "other"; return list },
		"one gone":   func(list []ledger.Entry) []ledger.Entry { return list[1:] },
		"one less":   func(list []ledger.Entry) []ledger.Entry { return slices.Delete(list, 1, 2) },
		"two turned": func(list []ledger.Entry) []ledger.Entry { list[1], list[2] = list[2], list[1]; return list },
	} {
		list := slices.Clone(b.Entries())
		for i := range list {
			list[i].Lines = slices.Clone(list[i].Lines)
		}
		if _, err := ledger.Read(change(list), ""); err == nil {
			t.Errorf("%s was changed, and nobody sees it", name)
		}
	}
}

// TestDepositsAreWhatCameInLessWhatWent: whatever happens in whatever order, for
// every job and over all: deposits not yet earned = placed before the invoice −
// applied − refunded − kept, and never below nothing; all accounts come to
// nothing; and VAT on deposits is there only where a deposit is.
func TestDepositsAreWhatCameInLessWhatWent(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var b ledger.Book
		jobs := []string{"one", "two", "three"}
		held, invoiced := map[string]int64{}, map[string]bool{}
		unplaced := int64(0)
		total := map[string]int64{}
		for _, j := range jobs {
			total[j] = rapid.Int64Range(100, 200_000).Draw(rt, "total")
		}
		shares := func(job string) []ledger.Share {
			part := total[job] / 3
			return []ledger.Share{
				{Treatment: pricebook.Standard, Percent: twenty, Gross: minor(rt, total[job]-part)},
				{Treatment: pricebook.Zero, Percent: decimal.Zero, Gross: minor(rt, part)},
			}
		}
		do := func(kind ledger.Kind, lines []ledger.Line) {
			if len(lines) < 2 {
				return
			}
			day := fmt.Sprintf("2026-03-%02d", rapid.IntRange(8, 12).Draw(rt, "day"))
			if _, faults := b.Post(entry(day, kind, lines)); len(faults) > 0 {
				rt.Fatalf("%s: %v", kind, faults)
			}
		}
		rt.Repeat(map[string]func(*rapid.T){
			"receive": func(rt *rapid.T) {
				sum := rapid.Int64Range(1, 100_000).Draw(rt, "sum")
				into := rapid.SampledFrom([]ledger.Account{ledger.Bank, ledger.Cash, ledger.Card}).Draw(rt, "into")
				do(ledger.Received, ledger.Receipt(into, minor(rt, sum), "ada"))
				unplaced += sum
			},
			"place": func(rt *rapid.T) {
				if unplaced == 0 {
					rt.Skip("nothing to place")
				}
				job, sum := rapid.SampledFrom(jobs).Draw(rt, "job"), rapid.Int64Range(1, unplaced).Draw(rt, "sum")
				vat, err := ledger.VATIn(minor(rt, sum), shares(job))
				if err != nil {
					rt.Fatal(err)
				}
				do(ledger.Placed, ledger.Place(minor(rt, sum), job, "ada", vat, invoiced[job]))
				unplaced -= sum
				if !invoiced[job] {
					held[job] += sum
				}
			},
			"invoice": func(rt *rapid.T) {
				job := rapid.SampledFrom(jobs).Draw(rt, "job")
				if invoiced[job] {
					rt.Skip("it is invoiced")
				}
				rows, err := ledger.VATIn(minor(rt, total[job]), shares(job))
				if err != nil {
					rt.Fatal(err)
				}
				lines, err := b.Invoice(job, "ada", rows, "GBP")
				if err != nil {
					rt.Fatal(err)
				}
				do(ledger.Invoiced, lines)
				invoiced[job], held[job] = true, 0
			},
			"give back": func(rt *rapid.T) {
				job := rapid.SampledFrom(jobs).Draw(rt, "job")
				if held[job] == 0 {
					rt.Skip("nothing is held")
				}
				back := rapid.Int64Range(0, held[job]).Draw(rt, "refunded")
				keep := rapid.Int64Range(0, held[job]-back).Draw(rt, "kept")
				if back+keep == 0 {
					rt.Skip("nothing is given")
				}
				lines, faults, err := b.GiveBack(job, "ada", minor(rt, back), minor(rt, keep), ledger.Bank)
				if err != nil || len(faults) > 0 {
					rt.Fatal(faults, err)
				}
				do(ledger.Refunded, lines)
				held[job] -= back + keep
			},
			"": func(rt *rapid.T) {
				sum := int64(0)
				for _, a := range ledger.Accounts() {
					sum += b.Balance(a, "GBP").Minor()
				}
				if sum != 0 {
					rt.Fatalf("all accounts come to %d", sum)
				}
				list, all := b.DepositsOn("2026-12-31", "GBP")
				if now, sum := b.DepositsNow("GBP"); !slices.Equal(now, list) || sum != all {
					rt.Fatalf("now they are %v, by the entries %v", now, list)
				}
				later := slices.DeleteFunc(slices.Clone(b.Entries()), func(e ledger.Entry) bool { return e.Day <= "2026-03-10" })
				then, was := b.Without(later).DepositsNow("GBP")
				if list, sum := b.DepositsOn("2026-03-10", "GBP"); !slices.Equal(then, list) || sum != was {
					rt.Fatalf("without later entries they are %v, by the entries %v", then, list)
				}
				for _, job := range jobs {
					if got := b.OfJob(ledger.DepositsNotEarned, job, "GBP").Minor(); got != held[job] {
						rt.Fatalf("of %s %d is held, the ledger says %d", job, held[job], got)
					}
					all = minor(rt, all.Minor()-held[job])
					if held[job] == 0 && len(b.DepositVAT(job, "GBP")) > 0 {
						rt.Fatalf("of %s nothing is held, and there is VAT on it: %v", job, b.DepositVAT(job, "GBP"))
					}
				}
				if !all.IsZero() || len(list) > len(jobs) {
					rt.Fatalf("deposits are %v, %s more than held", list, all)
				}
			},
		})
		if _, err := ledger.Read(b.Entries(), ""); err != nil {
			rt.Fatal(err)
		}
	})
}

func minor(rt interface{ Fatal(...any) }, n int64) money.Amount {
	a, err := money.FromMinor(n, "GBP")
	if err != nil {
		rt.Fatal(err)
	}
	return a
}

// TestTooMuchAtOnce: what nobody has is a slip of the hand, at the limit and not
// one penny below it.
func TestTooMuchAtOnce(t *testing.T) {
	var b ledger.Book
	for amount, want := range map[string]string{"999999999.99": "", "1000000000.00": "out_of_range"} {
		_, faults := b.Post(entry("2026-11-20", ledger.Received, ledger.Receipt(ledger.Bank, gbp(t, amount), "ada")))
		if (want == "") != (len(faults) == 0) || want != "" && faults[0].Code != want {
			t.Errorf("%s: %v", amount, faults)
		}
	}
}
