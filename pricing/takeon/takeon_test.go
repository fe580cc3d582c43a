package takeon_test

import (
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/quote/quotetest"
	"wainscot/pricing/takeon"
	"wainscot/testdata"
)

var update = flag.Bool("update", false, "write the golden files anew")

func known(t testing.TB) takeon.Known {
	t.Helper()
	return takeon.Known{On: "2026-11-20", Today: "2026-11-25", Currency: "GBP", Catalogue: quotetest.Catalogue(), Places: []string{"bay_1", "bay_2", "yard"}}
}

// folder is one of the examples.
func folder(t testing.TB, name string) []takeon.File {
	t.Helper()
	var list []takeon.File
	for _, c := range takeon.Files() {
		text, err := fs.ReadFile(testdata.TakeOn, "take_on/"+name+"/"+c.File+".csv")
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, takeon.File{Name: c.File, Text: string(text)})
	}
	return list
}

// told is a reading as a person reads it.
func told(t testing.TB, r takeon.TakeOn, faults document.Faults) string {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "Taken on at the end of %s: %d customers, %d vans, %d jobs, %d parts.\n", r.On, len(r.Customers), len(r.Vans), len(r.Jobs), len(r.Stock))
	for i := range r.Jobs {
		j := &r.Jobs[i]
		fmt.Fprintf(&b, "\n%s, van %s: %s, VAT %s, deposits %s\n", j.Key, r.Vans[j.Van].Key, j.Price.Totals.Gross, j.Price.Totals.VAT, decimal.New(j.Held(), -2).StringFixed(2))
		for _, p := range j.Price.Payments {
			fmt.Fprintf(&b, "  %s %s %s\n", p.Name, p.Amount, p.When)
		}
		for _, h := range j.Hours {
			fmt.Fprintf(&b, "  %s h of %s at %s\n", h.Hours, h.Trade, h.Stage)
		}
		for _, p := range j.Papers {
			fmt.Fprintf(&b, "  %s %s %s%s\n", p.Outside, p.State, p.Stage, p.On)
		}
		for _, s := range j.Stays {
			fmt.Fprintf(&b, "  in %s from %s to %s\n", s.Place, s.From, s.Until)
		}
	}
	b.WriteString("\nThe old list, and the files:\n")
	for _, p := range r.Proofs {
		fmt.Fprintf(&b, "  %s: %s, %s, difference %s\n", p.What, p.List, p.Files, p.Difference)
	}
	if len(faults) > 0 {
		fmt.Fprintf(&b, "\nNothing is taken on:\n%s\n", faults.Error())
		return b.String()
	}
	b.WriteString("\nThe books then have:\n")
	opening, err := r.Opening()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range opening {
		fmt.Fprintf(&b, "  %s: %s\n", a.Account, a.Balance)
	}
	return b.String()
}

func golden(t *testing.T, name, is string) {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "take_on", name)
	if *update {
		if err := os.WriteFile(path, []byte(is), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if is != string(want) {
		t.Errorf("%s is not what is told now:\n%s", path, is)
	}
}

func TestGood(t *testing.T) {
	r, faults := takeon.Read(folder(t, "good"), known(t))
	golden(t, "good.txt", told(t, r, faults))
	if len(faults) > 0 {
		t.Error(faults)
	}
}

// Every fault is told at its line, all of them at once.
func TestFaulty(t *testing.T) {
	r, faults := takeon.Read(folder(t, "faulty"), known(t))
	golden(t, "faulty.txt", told(t, r, faults))
	if len(r.Customers)+len(r.Vans)+len(r.Jobs)+len(r.Stock)+len(r.Balances) > 0 {
		t.Error("of a reading with faults something is given")
	}
}

// TestNothingIsSetUp: a floor without places is named as such.
func TestNothingIsSetUp(t *testing.T) {
	k := known(t)
	k.Places = nil
	_, faults := takeon.Read(folder(t, "good"), k)
	if len(faults) == 0 || faults[0].File != "slots.csv" || faults[0].Remedy != "There is none yet: set it up first." {
		t.Errorf("without a floor: %v", faults)
	}
}

// TestOneThingWrong: the good example with one thing changed has one fault.
func TestOneThingWrong(t *testing.T) {
	k := known(t)
	for name, c := range map[string]struct{ file, was, is, want string }{
		"a penny less at the bank":         {"balances", "18240.55,18240.55", "18240.55,18240.54", "balances.csv:2: statement: does_not_agree"},
		"a penny less in the old list":     {"totals", "deposits,10680.00", "deposits,10679.99", "totals.csv:7: figure: does_not_agree"},
		"a penny of VAT":                   {"totals", "1700.00", "1700.01", "totals.csv:8: figure: does_not_agree"},
		"a penny of stock":                 {"totals", "696.50", "696.51", "totals.csv:9: figure: does_not_agree"},
		"a job more":                       {"totals", "jobs,3", "jobs,4", "totals.csv:4: figure: does_not_agree"},
		"a deposit not in the list":        {"totals", "number of deposits,5", "number of deposits,6", "totals.csv:6: figure: does_not_agree"},
		"a certificate nobody thought of":  {"papers", "J-103,gas_test,not needed,,\n", "", "jobs.csv:4: job: no_paper"},
		"a certificate without its day":    {"papers", "there,,2026-11-12", "there,,", "papers.csv:4: on: missing_value"},
		"a certificate signed tomorrow":    {"papers", "there,,2026-11-12", "there,,2026-11-21", "papers.csv:4: on: day"},
		"no figure":                        {"totals", "stock,696.50\n", "", "totals.csv: stock: missing_value"},
		"VAT of a price":                   {"prices", "2400.00,standard", "2400.01,standard", "prices.csv:2: vat: does_not_agree"},
		"VAT of a deposit":                 {"deposits", "480.00", "480.02", "deposits.csv:2: vat: does_not_agree"},
		"less VAT of a deposit":            {"deposits", "480.00", "479.98", "deposits.csv:2: vat: does_not_agree"},
		"a penny of VAT of it is rounding": {"deposits", "833.33", "833.32", "totals.csv:8: figure: does_not_agree"},
		"a deposit of a later day":         {"deposits", "2026-10-05,400", "2026-11-21,400", "deposits.csv:6: day: day"},
		"a rate the price has not":         {"deposits", "66.67,standard,20", "19.05,reduced,5", "deposits.csv:6: vat_percent: no_such_rate"},
		"more paid than agreed":            {"prices", "1999.99,333.33", "399.99,66.67", "prices.csv:5: amount: more_than_due"},
		"zero without evidence":            {"prices", `"Declaration of 1 September 2026, kept with the job"`, "", "prices.csv:4: evidence: no_evidence"},
		"no price":                         {"prices", "J-103,Windows and floor,1999.99,333.33,standard,20,\n", "", "jobs.csv:4: job: no_price"},
		"a stay that is over":              {"slots", "2026-11-09,2026-12-04", "2026-11-09,2026-11-20", "slots.csv:2: until: day"},
		"a slot without work":              {"hours", "J-102,openings,fitter,14\nJ-102,floor,joiner,10\n", "", "slots.csv:3: job: nothing_to_do"},
		"a stage without work":             {"jobs", ",lining,", ",gas,", "jobs.csv:2: stage: nothing_to_do"},
		"an unknown column":                {"stock", "unit_cost", "unit_price", "stock.csv:1: unit_price: unknown_column"},
		"a quotation mark":                 {"stock", "gel_battery,rack 2", `gel_"battery,rack 2`, "stock.csv:2: : not_csv"},
		"two of a part in a place":         {"stock", "container", "rack 2", "stock.csv:3: place: twice"},
		"more than there can be":           {"balances", "bank,18240.55,18240.55\ncash,112.40,112.40", "bank,9999999999999.99,9999999999999.99\ncash,9999999999999.99,9999999999999.99", "balances.csv: : too_large"},
		"a trade that is a private":        {"customers", ",trade,", ",dealer,", "customers.csv:3: kind: unknown_word"},
	} {
		files := folder(t, "good")
		at := slices.IndexFunc(files, func(f takeon.File) bool { return f.Name == c.file })
		changed := strings.Replace(files[at].Text, c.was, c.is, 1)
		if changed == files[at].Text {
			t.Errorf("%s: nothing is changed", name)
		}
		files[at].Text = changed
		_, faults := takeon.Read(files, k)
		var codes []string
		for _, f := range faults {
			place := f.File
			if f.Line > 0 {
				place += fmt.Sprintf(":%d", f.Line)
			}
			codes = append(codes, fmt.Sprintf("%s: %s: %s", place, f.At, f.Code))
		}
		if !slices.Contains(codes, c.want) {
			t.Errorf("%s: %q, want %s", name, codes, c.want)
		}
	}
	k.CustomersMoneyApart = true
	if _, faults := takeon.Read(folder(t, "good"), k); len(faults) != 1 || faults[0].Code != "does_not_agree" || !strings.Contains(faults[0].Reason, "-10680.00 GBP") {
		t.Errorf("customers' money that is not there: %v", faults)
	}
	k = known(t)
	for _, on := range []string{"", "20 November", "2026-11-26"} {
		k.On = on
		if _, faults := takeon.Read(folder(t, "good"), k); len(faults) == 0 || faults[0].Code != "day" {
			t.Errorf("on %q: %v", on, faults)
		}
	}
	if _, faults := takeon.Read([]takeon.File{{Name: "notes", Text: "a"}}, known(t)); len(faults) != 1 || faults[0].Code != "unknown_file" {
		t.Errorf("a file of another name: %v", faults)
	}
	if r, faults := takeon.Read(nil, known(t)); len(faults) > 0 || len(r.Jobs) > 0 {
		t.Errorf("nothing at all: %v", faults)
	}
}

// TestWhatIsTakenOnIsTheList: of any list, the deposits by job, the bank and the
// VAT in the opening entries are those of the list; and with one figure of it
// changed by anything nothing is taken on.
func TestWhatIsTakenOnIsTheList(t *testing.T) {
	k := known(t)
	rapid.Check(t, func(t *rapid.T) {
		pence := func(n int64) string { return decimal.New(n, -2).StringFixed(2) }
		var jobs, vans, papers, prices, deposits strings.Builder
		papers.WriteString("job,paper,state,stage,on\n")
		jobs.WriteString("words,job,van,customer,agreed_on\n")
		vans.WriteString("base_van,van\n")
		prices.WriteString("job,words,amount,vat,vat_percent\n")
		deposits.WriteString("job,day,amount,vat,vat_percent\n")
		held := map[string]int64{}
		var sum, tax, agreed int64
		n, count := rapid.IntRange(1, 6).Draw(t, "jobs"), 0
		for i := range n {
			key := fmt.Sprintf("J%d", i)
			fmt.Fprintf(&jobs, "Work,%s,V%d,C,2026-08-01\n", key, i)
			fmt.Fprintf(&vans, "short_panel_van,V%d\n", i)
			for _, paper := range []string{"gas_test", "electrical_test", "anchorage_inspection", "weighbridge"} {
				fmt.Fprintf(&papers, "%s,%s,%s\n", key, paper, rapid.SampledFrom([]string{"not needed,,", "to come,handover,", "there,,2026-11-02"}).Draw(t, "state"))
			}
			price := rapid.Int64Range(1, 9_000_000).Draw(t, "price")
			left := price
			for range rapid.IntRange(0, 4).Draw(t, "deposits") {
				part := rapid.Int64Range(0, left).Draw(t, "deposit")
				if part == 0 {
					continue
				}
				vat := (part + 3) / 6 // a sixth, half up
				left, held[key], sum, tax, count = left-part, held[key]+part, sum+part, tax+vat, count+1
				fmt.Fprintf(&deposits, "%s,2026-09-01,%s,%s,20\n", key, pence(part), pence(vat))
			}
			fmt.Fprintf(&prices, "%s,Work,%s,%s,20\n", key, pence(price), pence((price+3)/6))
			agreed += price
		}
		bank := rapid.Int64Range(-1_000_000, 90_000_000).Draw(t, "bank")
		files := []takeon.File{{Name: "customers", Text: "name,customer\nSomebody,C\n"}, {Name: "vans", Text: vans.String()}, {Name: "jobs", Text: jobs.String()},
			{Name: "papers", Text: papers.String()}, {Name: "prices", Text: prices.String()}, {Name: "deposits", Text: deposits.String()},
			{Name: "balances", Text: fmt.Sprintf("account,books,statement\nbank,%s,%s\n", pence(bank), pence(bank))}}
		figures := []int64{agreed, sum, tax}
		wrong := rapid.IntRange(-1, 2).Draw(t, "wrong")
		if wrong >= 0 {
			figures[wrong] += rapid.SampledFrom([]int64{-100, -1, 1, 2, 1000}).Draw(t, "by")
		}
		files = append(files, takeon.File{Name: "totals", Text: fmt.Sprintf("what,figure\njobs,%d\nagreed prices,%s\ndeposits,%s\nVAT on deposits,%s\nnumber of deposits,%d\n",
			n, pence(figures[0]), pence(figures[1]), pence(figures[2]), count)})
		r, faults := takeon.Read(files, k)
		if wrong >= 0 {
			if len(faults) != 1 || faults[0].Code != "does_not_agree" || len(r.Jobs) > 0 {
				t.Fatalf("with a wrong figure: %v", faults)
			}
			return
		}
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		opens(t, &r, held, sum, tax, bank)
	})
}

// opens holds the opening entries, as a ledger takes them, against the list.
func opens(t *rapid.T, r *takeon.TakeOn, held map[string]int64, sum, tax, bank int64) {
	var b ledger.Book
	post := func(lines []ledger.Line) {
		if _, faults := b.Post(ledger.Entry{Day: r.On, Kind: ledger.TakenOn, By: "somebody", Document: ledger.Document{Noun: "take-on", ID: "1"}, Lines: lines}); len(faults) > 0 {
			t.Fatal(faults)
		}
	}
	for _, a := range r.Balances {
		if !a.Books.IsZero() {
			post(ledger.OpenBalance(a.Account, a.Books))
		}
	}
	for i := range r.Jobs {
		for _, d := range r.Jobs[i].Deposits {
			post(ledger.TakeOnDeposit(r.Jobs[i].Key, "C", d.Amount, []ledger.VATSum{d.VAT}))
		}
	}
	for key, minor := range held {
		if got := b.OfJob(ledger.DepositsNotEarned, key, "GBP"); got.Minor() != minor {
			t.Fatalf("%s of %s are held, and the list has %d", got, key, minor)
		}
	}
	if got := b.Balance(ledger.VATOnDeposits, "GBP"); got.Minor() != tax {
		t.Fatalf("VAT on deposits is %s, and the list has %d", got, tax)
	}
	if got := b.Balance(ledger.Bank, "GBP"); got.Minor() != bank {
		t.Fatalf("the bank has %s, and the list %d", got, bank)
	}
	if got := b.Balance(ledger.OpeningBalance, "GBP"); got.Minor() != sum-tax-bank {
		t.Fatalf("the opening balance is %s, not %d", got, sum-tax-bank)
	}
	if due := b.VATBetween("0000-01-01", "9999-12-31", "GBP"); len(due) > 0 {
		t.Fatalf("of what was declared before %+v is due again", due)
	}
	opening, err := r.Opening()
	if err != nil {
		t.Fatal(err)
	}
	zero := money.Zero("GBP")
	for _, a := range opening {
		if b.Balance(a.Account, "GBP") != a.Balance {
			t.Fatalf("%s is told as %s", a.Account, a.Balance)
		}
		if zero, err = zero.Add(a.Balance); err != nil {
			t.Fatal(err)
		}
	}
	if !zero.IsZero() {
		t.Fatalf("the accounts come to %s", zero)
	}
}

// FuzzRead: whatever is sent is read or refused, and what is taken on adds up.
func FuzzRead(f *testing.F) {
	k := known(f)
	for _, name := range []string{"good", "faulty"} {
		for n, file := range folder(f, name) {
			f.Add(n, file.Text)
		}
	}
	good := folder(f, "good")
	f.Fuzz(func(t *testing.T, n int, text string) {
		files := slices.Clone(good)
		if n < 0 || n >= len(files) {
			return
		}
		files[n].Text = text
		r, faults := takeon.Read(files, k)
		for _, p := range faults {
			if p.Code == "" || p.Reason == "" || p.Remedy == "" || len(p.At) > 400 {
				t.Errorf("the fault %+v", p)
			}
		}
		if len(faults) > 0 {
			return
		}
		opening, err := r.Opening()
		sum := int64(0)
		for _, a := range opening {
			sum += a.Balance.Minor()
		}
		if err != nil || sum != 0 {
			t.Errorf("%v, and the accounts come to %d", err, sum)
		}
	})
}
