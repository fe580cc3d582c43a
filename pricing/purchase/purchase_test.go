package purchase_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/purchase"
)

var twenty = decimal.NewFromInt(20)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

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

func unit(s string) money.UnitPrice {
	u, err := money.NewUnitPrice(dec(s), "GBP")
	if err != nil {
		panic(err)
	}
	return u
}

// ordered is an order that was placed: ordered, delivered, price of each line.
func ordered(carriage string, lines ...[3]string) *order.Order {
	goods, freight := gbp("0"), gbp(carriage)
	o := order.Order{Format: order.Format, State: order.PartDelivered, Supplier: "brackwater", Name: "Brackwater", PlacedOn: "2027-01-04", Goods: &goods, Carriage: &freight}
	for i, l := range lines {
		u := unit(l[2])
		o.Lines = append(o.Lines, order.Line{Kind: supply.Part, Code: fmt.Sprintf("part_%d", i+1), Unit: "each", Quantity: dec(l[0]), Delivered: dec(l[1]), UnitPrice: &u, WantedOn: "2027-01-15"})
	}
	return &o
}

// goods is a line of an invoice for so many of a line at a price, and carriage
// one that is just that.
func goods(line int, quantity, price string) purchase.Line {
	u := unit(price)
	amount, err := money.Times(dec(quantity), u.Decimal(), "GBP", money.HalfUp)
	if err != nil {
		panic(err)
	}
	return purchase.Line{Kind: purchase.Goods, Line: line, Words: "part", Quantity: dec(quantity), UnitPrice: u, Amount: amount, Treatment: pricebook.Standard, Percent: twenty}
}

func carriage(amount string) purchase.Line {
	l := goods(0, "1", amount)
	l.Kind, l.Words = purchase.Carriage, "Carriage"
	return l
}

func of(l purchase.Line, change func(*purchase.Line)) purchase.Line {
	change(&l)
	return l
}

// paper is an invoice of lines that adds up.
func paper(lines ...purchase.Line) purchase.Invoice {
	i := purchase.Invoice{Kind: purchase.Charge, Number: "B-771", Supplier: "brackwater", Name: "Brackwater", IssuedOn: "2027-01-20", TaxPoint: "2027-01-18", DueOn: "2027-02-19",
		Currency: "GBP", Order: "an-order", Lines: lines, Gross: pence(0)}
	for _, l := range lines {
		at := slices.IndexFunc(i.VAT, func(v ledger.VATSum) bool { return v.Treatment == l.Treatment && v.Percent.Equal(l.Percent) })
		if at < 0 {
			at = len(i.VAT)
			i.VAT = append(i.VAT, ledger.VATSum{Treatment: l.Treatment, Percent: l.Percent, Net: pence(0), VAT: pence(0)})
		}
		i.VAT[at].Net = pence(i.VAT[at].Net.Minor() + l.Amount.Minor())
	}
	return summed(i)
}

func summed(i purchase.Invoice) purchase.Invoice {
	i.VAT, i.Gross = slices.Clone(i.VAT), pence(0)
	for n := range i.VAT {
		v := &i.VAT[n]
		vat, err := money.OnNet(v.Net, v.Percent, money.HalfUp)
		if err != nil {
			panic(err)
		}
		v.VAT = vat
		i.Gross = pence(i.Gross.Minor() + v.Net.Minor() + vat.Minor())
	}
	return i
}

func entered(tb interface{ Fatal(...any) }, i purchase.Invoice) *purchase.Invoice {
	read, faults := purchase.New(i)
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	return &read
}

func decided(tb interface{ Fatal(...any) }, i *purchase.Invoice, s purchase.State, m purchase.Match) *purchase.Invoice {
	d, faults := i.Decide(s, m, "2027-01-25")
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	return &d
}

func told(m purchase.Match) string {
	var list []string
	say := func(d purchase.Difference) {
		s := fmt.Sprintf("%s %s for %s: %s", d.What, d.Charged, d.Expected, d.Credit.Fixed())
		if d.LetPass {
			s += " let pass"
		}
		list = append(list, s)
	}
	for _, l := range m.Lines {
		for _, d := range l.Differences {
			say(d)
		}
	}
	for _, d := range m.Differences {
		say(d)
	}
	for _, v := range m.Credit {
		list = append(list, fmt.Sprintf("credit %s + %s %s %s", v.Net.Fixed(), v.VAT.Fixed(), v.Treatment, v.Percent))
	}
	return strings.Join(list, "; ")
}

// Holding an invoice against its order, by hand: quantity against what is here
// and was not invoiced before, price and carriage against the order's, VAT
// against its rate (the three-way match of purchasing; common practice).
func TestHold(t *testing.T) {
	o := ordered("12.50", [3]string{"10", "8", "4.25"}, [3]string{"2", "3", "130.00"}, [3]string{"5", "0", "1.999"})
	whole := entered(t, paper(goods(1, "6", "4.25"), carriage("12.50")))
	m, _, err := purchase.Hold(whole, o, nil, purchase.Tolerance{})
	if err != nil {
		t.Fatal(err)
	}
	before := decided(t, whole, purchase.Accepted, m)
	returned := paper(goods(1, "2", "4.25"))
	returned.Kind, returned.Number = purchase.CreditNote, "C-1"
	note := decided(t, entered(t, returned), purchase.Accepted, purchase.Match{})

	dear := entered(t, paper(goods(1, "6", "4.25"), carriage("15.00")))
	if m, _, err = purchase.Hold(dear, o, nil, purchase.Tolerance{}); err != nil {
		t.Fatal(err)
	}
	inPart, wholly, not := decided(t, dear, purchase.AcceptedInPart, m), decided(t, dear, purchase.Accepted, m), decided(t, dear, purchase.Refused, m)

	most := gbp("1.00")
	for name, c := range map[string]struct {
		i      purchase.Invoice
		before []*purchase.Invoice
		t      purchase.Tolerance
		want   string
	}{
		"as it came":                             {i: paper(goods(1, "8", "4.25"), goods(2, "2", "130.00"), carriage("12.50"))},
		"less than came":                         {i: paper(goods(1, "3", "4.25"))},
		"delivered short":                        {i: paper(goods(1, "10", "4.25")), want: "not delivered 10 for 8: 8.50; credit 8.50 + 1.70 standard 20"},
		"nothing came":                           {i: paper(goods(3, "5", "1.999")), want: "not delivered 5 for 0: 10.00; credit 10.00 + 2.00 standard 20"},
		"more came than ordered":                 {i: paper(goods(2, "3", "130.00")), want: "more than ordered 3 for 2: 0.00"},
		"invoiced before":                        {i: paper(goods(1, "3", "4.25")), before: []*purchase.Invoice{before}, want: "not delivered 3 for 2: 4.25; credit 4.25 + 0.85 standard 20"},
		"invoiced before and taken back":         {i: paper(goods(1, "3", "4.25")), before: []*purchase.Invoice{before, note}},
		"one line twice":                         {i: paper(goods(1, "5", "4.25"), goods(1, "5", "4.25")), want: "not delivered 5 for 3: 8.50; credit 8.50 + 1.70 standard 20"},
		"dearer":                                 {i: paper(goods(1, "8", "4.40")), want: "price 4.40 for 4.25: 1.20; credit 1.20 + 0.24 standard 20"},
		"dearer and short":                       {i: paper(goods(1, "10", "4.40")), want: "not delivered 10 for 8: 8.80; price 4.40 for 4.25: 1.20; credit 10.00 + 2.00 standard 20"},
		"dearer, let pass":                       {i: paper(goods(1, "8", "4.29")), t: purchase.Tolerance{Percent: dec("1")}, want: "price 4.29 for 4.25: 0.00 let pass"},
		"dearer by more than is let pass":        {i: paper(goods(1, "8", "4.30")), t: purchase.Tolerance{Percent: dec("1")}, want: "price 4.30 for 4.25: 0.40; credit 0.40 + 0.08 standard 20"},
		"dearer in all by more than is let pass": {i: paper(goods(2, "2", "131.00")), t: purchase.Tolerance{Percent: dec("5"), Most: &most}, want: "price 131.00 for 130.00: 2.00; credit 2.00 + 0.40 standard 20"},
		"cheaper":                                {i: paper(goods(1, "8", "4.20")), want: "price 4.20 for 4.25: 0.00"},
		"carriage":                               {i: paper(goods(1, "8", "4.25"), carriage("15.00")), want: "carriage 15.00 for 12.50: 2.50; credit 2.50 + 0.50 standard 20"},
		"carriage again":                         {i: paper(goods(1, "2", "4.25"), carriage("12.50")), before: []*purchase.Invoice{before}, want: "carriage 12.50 for 0.00: 12.50; credit 12.50 + 2.50 standard 20"},
		"carriage again, the first in part":      {i: paper(carriage("1.00")), before: []*purchase.Invoice{inPart}, want: "carriage 1.00 for 0.00: 1.00; credit 1.00 + 0.20 standard 20"},
		"carriage again, the first too dear":     {i: paper(carriage("1.00")), before: []*purchase.Invoice{wholly}, want: "carriage 1.00 for 0.00: 1.00; credit 1.00 + 0.20 standard 20"},
		"what was refused does not count":        {i: paper(goods(1, "8", "4.25"), carriage("12.50")), before: []*purchase.Invoice{not}},
		"dearer by just what is let pass":        {i: paper(goods(1, "8", "4.2925")), t: purchase.Tolerance{Percent: dec("1")}, want: "price 4.2925 for 4.25: 0.00 let pass"},
		"dearer in all by just that":             {i: paper(goods(2, "2", "130.50")), t: purchase.Tolerance{Percent: dec("5"), Most: &most}, want: "price 130.50 for 130.00: 0.00 let pass"},
		"a penny of rounding":                    {i: paper(of(goods(1, "8", "4.25"), func(l *purchase.Line) { l.Amount = gbp("34.01") }))},
		"two pennies":                            {i: paper(of(goods(1, "8", "4.25"), func(l *purchase.Line) { l.Amount = gbp("34.02") })), want: "sum 34.02 for 34.00: 0.02; credit 0.02 + 0.00 standard 20"},
		"not ordered":                            {i: paper(goods(1, "8", "4.25"), goods(0, "1", "9.99")), want: "not ordered 1 for 0: 9.99; credit 9.99 + 2.00 standard 20"},
		"a discount":                             {i: paper(goods(1, "8", "4.25"), of(goods(0, "1", "-3.00"), func(l *purchase.Line) { l.Kind = purchase.Other }))},
		"a wrong sum":                            {i: paper(of(goods(1, "8", "4.25"), func(l *purchase.Line) { l.Amount = gbp("43.00") })), want: "sum 43.00 for 34.00: 9.00; credit 9.00 + 1.80 standard 20"},
		"a sum in our favour":                    {i: paper(of(goods(1, "8", "4.25"), func(l *purchase.Line) { l.Amount = gbp("30.00") })), want: "sum 30.00 for 34.00: 0.00"},
		"a sum for what came":                    {i: paper(of(goods(1, "10", "4.25"), func(l *purchase.Line) { l.Amount = gbp("34.00") })), want: "not delivered 10 for 8: 8.50; sum 34.00 for 34.00: 0.00"},
		"too much VAT": {i: func() purchase.Invoice {
			i := paper(goods(1, "8", "4.25"))
			i.VAT[0].VAT, i.Gross = gbp("7.80"), gbp("41.80")
			return i
		}(), want: "VAT 7.80 for 6.80: 1.00; credit 0.00 + 1.00 standard 20"},
		"VAT by lines": {i: func() purchase.Invoice { // two lines, each rounded down
			i := paper(goods(1, "8", "4.25"), goods(2, "2", "130.00"))
			i.VAT[0].VAT, i.Gross = gbp("58.78"), gbp("352.78")
			return i
		}()},
		"too little VAT": {i: func() purchase.Invoice {
			i := paper(goods(1, "10", "4.25"))
			i.VAT[0].VAT, i.Gross = gbp("4.25"), gbp("46.75")
			return i
		}(), want: "not delivered 10 for 8: 8.50; VAT 4.25 for 8.50: 0.00; credit 8.50 + 0.85 standard 20"},
	} {
		m, faults, err := purchase.Hold(entered(t, c.i), o, c.before, c.t)
		if err != nil || len(faults) > 0 {
			t.Errorf("%s: %v %v", name, err, faults)
			continue
		}
		if got := told(m); got != c.want {
			t.Errorf("%s: %s\nwant %s", name, got, c.want)
		}
	}
}

func TestHeldAgainstTheWrongOrder(t *testing.T) {
	i := entered(t, paper(goods(2, "1", "4.25")))
	other, euro, draft := ordered("0", [3]string{"1", "1", "4.25"}), ordered("0", [3]string{"1", "1", "4.25"}, [3]string{"1", "1", "4.25"}), ordered("0", [3]string{"1", "1", "4.25"}, [3]string{"1", "1", "4.25"})
	other.Supplier, draft.Goods = "quillmere", nil
	in := money.Zero("EUR")
	euro.Goods = &in
	const inCurrency = "currency" + " " + "currency" // code and field have one name
	for want, o := range map[string]*order.Order{"unknown_line lines/1/line contradiction order": other, inCurrency: euro, "state order": draft} {
		_, faults, err := purchase.Hold(i, o, nil, purchase.Tolerance{})
		got := ""
		for _, f := range faults {
			got += " " + f.Code + " " + f.At
		}
		if err != nil || strings.TrimSpace(got) != want {
			t.Errorf("%s, want %s; %v", got, want, err)
		}
	}
	rent := paper(of(goods(0, "1", "800.00"), func(l *purchase.Line) { l.Kind = purchase.Other }))
	rent.Order = ""
	if m, faults, err := purchase.Hold(entered(t, rent), nil, nil, purchase.Tolerance{}); err != nil || len(faults) > 0 || !m.Clean() {
		t.Errorf("rent: %v %v %v", m, faults, err)
	}
}

func TestNew(t *testing.T) {
	for want, change := range map[string]func(*purchase.Invoice){
		"missing number":                      func(i *purchase.Invoice) { i.Number = " " },
		"day tax_point":                       func(i *purchase.Invoice) { i.TaxPoint = "2027-02-30" },
		"unknown_word kind":                   func(i *purchase.Invoice) { i.Kind = "bill" },
		"contradiction credits":               func(i *purchase.Invoice) { i.Credits = "another" },
		"number_of_lines lines":               func(i *purchase.Invoice) { i.Lines = nil },
		"contradiction lines/1/line":          func(i *purchase.Invoice) { i.Order = "" },
		"quantity lines/1/quantity":           func(i *purchase.Invoice) { i.Lines[0].Quantity = dec("1000000") },
		"unknown_word lines/1/kind":           func(i *purchase.Invoice) { i.Lines[0].Kind = "fee" },
		"unknown_word lines/1/treatment":      func(i *purchase.Invoice) { i.Lines[0].Treatment = "none" },
		"vat lines/1/vat_percent":             func(i *purchase.Invoice) { i.Lines[0].Percent = dec("0") },
		"currency lines/1/amount":             func(i *purchase.Invoice) { i.Lines[0].Amount = money.Zero("EUR") },
		"does_not_add_up vat/1/net":           func(i *purchase.Invoice) { i.Lines[0].Amount = gbp("4.24") },
		"does_not_add_up lines/1/vat_percent": func(i *purchase.Invoice) { i.VAT[0].Percent = dec("5"); i.VAT[0].Net = gbp("0"); i.Gross = gbp("0.85") },
		"does_not_add_up gross":               func(i *purchase.Invoice) { i.Gross = gbp("5.11") },
		"amount gross":                        func(i *purchase.Invoice) { i.Gross = gbp("0") },
		"twice vat/2":                         func(i *purchase.Invoice) { i.VAT = append(i.VAT, i.VAT[0]) },
		"vat vat/2/vat": func(i *purchase.Invoice) {
			i.VAT = append(i.VAT, ledger.VATSum{Treatment: pricebook.Zero, Net: gbp("0"), VAT: gbp("1")})
		},
	} {
		i := paper(goods(1, "1", "4.25"))
		change(&i)
		_, faults := purchase.New(i)
		if len(faults) == 0 || !strings.Contains(want, faults[0].Code) || !slices.ContainsFunc(faults, func(f document.Fault) bool { return f.Code+" "+f.At == want }) {
			t.Errorf("want %s, got %v", want, faults)
		}
	}
	i := entered(t, paper(goods(1, "1", "4.25")))
	text, err := i.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := purchase.Decode(text)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := back.Encode(); err != nil || string(again) != string(text) {
		t.Errorf("read and written it is %s, %v", again, err)
	}
	if _, err := purchase.Decode([]byte(`{"format":"wainscot-order/1"}`)); err == nil {
		t.Error("an order was read as an invoice")
	}
}

func TestDecide(t *testing.T) {
	o := ordered("0", [3]string{"10", "8", "4.25"})
	i := entered(t, paper(goods(1, "10", "4.25")))
	m, _, err := purchase.Hold(i, o, nil, purchase.Tolerance{})
	if err != nil {
		t.Fatal(err)
	}
	for s, want := range map[purchase.State]string{purchase.Accepted: "51.00 owed, 0.00 not", purchase.AcceptedInPart: "40.80 owed, 10.20 not", purchase.Refused: "0.00 owed, 51.00 not"} {
		d := decided(t, i, s, m)
		owed, err := purchase.Sum(d.Accepted, "GBP")
		not, err2 := purchase.Sum(d.Disputed, "GBP")
		if got := owed.Fixed() + " owed, " + not.Fixed() + " not"; got != want || err != nil || err2 != nil {
			t.Errorf("%s: %s, want %s", s, got, want)
		}
		if _, faults := d.Decide(purchase.Accepted, m, "2027-01-26"); len(faults) == 0 {
			t.Errorf("%s: decided twice", s)
		}
	}
	if _, faults := i.Decide(purchase.AcceptedInPart, purchase.Match{}, "2027-01-26"); len(faults) == 0 {
		t.Error("accepted in part, and all of it")
	}
	if _, faults := i.Decide(purchase.Entered, m, "2027-01-26"); len(faults) == 0 {
		t.Error("decided to be entered")
	}
	if _, faults := i.Decide(purchase.Accepted, m, "soon"); len(faults) == 0 {
		t.Error("decided soon")
	}
}

// What was never accepted of an invoice is credited first and changes nothing;
// what is credited beyond that is owed back.
// TestOwnVAT: what the supplier does not charge becomes due and is taken off at
// once, by the net that is accepted; of a service it counts among sales too. A
// credit note takes the same back.
func TestOwnVAT(t *testing.T) {
	for _, c := range []struct {
		own  purchase.OwnVAT
		sold string
	}{{purchase.ServiceFromAbroad, "34.00"}, {purchase.Import, "0.00"}} {
		free := func(i purchase.Invoice) purchase.Invoice {
			i.OwnVAT, i.VAT[0].VAT, i.Gross = c.own, gbp("0.00"), i.VAT[0].Net
			return i
		}
		i := entered(t, free(paper(goods(1, "8", "4.25"))))
		m, faults, err := purchase.Hold(i, ordered("0.00", [3]string{"8", "8", "4.25"}), nil, purchase.Tolerance{})
		if err != nil || len(faults) > 0 || !m.Clean() {
			t.Fatalf("%s is held to be %s: %v %v", c.own, told(m), faults, err)
		}
		i = decided(t, i, purchase.Accepted, m)
		bought, err := purchase.Posting(i, nil)
		if err != nil {
			t.Fatal(err)
		}
		var b ledger.Book
		post := func(lines []ledger.Line) {
			t.Helper()
			if _, faults := b.Post(ledger.Entry{Day: "2027-01-11", By: "p", Kind: ledger.Bought, Document: ledger.Document{Noun: "x", ID: "1"}, Lines: lines}); len(faults) > 0 {
				t.Fatal(faults)
			}
		}
		vat := func(want string) {
			t.Helper()
			r, _, err := ledger.ReportVAT(b.Entries(), "2027-01-01", "2027-03-31", true, "", "GBP")
			if got := strings.Join([]string{r.Sales.Fixed(), r.OutputVAT.Fixed(), r.Purchases.Fixed(), r.InputVAT.Fixed(), r.Balance.Fixed(), b.Balance(ledger.Creditors, "GBP").Fixed()}, " "); got != want || err != nil {
				t.Errorf("%s: %s, want %s; %v", c.own, got, want, err)
			}
		}
		post(bought)
		vat(c.sold + " 6.80 34.00 6.80 0.00 -34.00")
		note := free(paper(goods(1, "8", "4.25")))
		note.Kind, note.Number = purchase.CreditNote, "note"
		back, _, faults := purchase.Credit(entered(t, note), i, nil)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		taken, err := purchase.Posting(entered(t, note), back)
		if err != nil {
			t.Fatal(err)
		}
		post(taken)
		vat("0.00 0.00 0.00 0.00 0.00 0.00")
		note.OwnVAT = ""
		if _, _, faults := purchase.Credit(&note, i, nil); len(faults) == 0 || faults[0].Code != "contradiction" {
			t.Errorf("a note of another kind: %v", faults)
		}
	}
	charged := paper(goods(1, "8", "4.25"))
	charged.OwnVAT = purchase.Import
	if _, faults := purchase.New(charged); len(faults) != 1 || faults[0].At != "vat/1/vat" {
		t.Errorf("with VAT on it: %v", faults)
	}
	charged.OwnVAT = "abroad"
	if _, faults := purchase.New(charged); len(faults) == 0 || faults[0].At != "own_vat" {
		t.Errorf("of no reason: %v", faults)
	}
}

func TestCredit(t *testing.T) {
	o := ordered("0", [3]string{"10", "8", "4.25"})
	i := entered(t, paper(goods(1, "10", "4.25")))
	m, _, err := purchase.Hold(i, o, nil, purchase.Tolerance{})
	if err != nil {
		t.Fatal(err)
	}
	d := decided(t, i, purchase.AcceptedInPart, m) // 8.50 and 1.70 are disputed
	note := func(net string, change func(*purchase.Invoice)) *purchase.Invoice {
		n := paper(of(goods(0, "1", net), func(l *purchase.Line) { l.Kind = purchase.Other }))
		n.Kind, n.Credits = purchase.CreditNote, "the-invoice"
		change(&n)
		return entered(t, n)
	}
	as := func(*purchase.Invoice) {}
	for n, c := range []struct {
		note    *purchase.Invoice
		earlier []*purchase.Invoice
		want    string
	}{
		{note("5.00", as), nil, "back 0.00, left 4.20, faults 0"},
		{note("8.50", as), nil, "back 0.00, left 0.00, faults 0"},
		{note("5.00", as), []*purchase.Invoice{note("5.00", as)}, "back 1.80, left 0.00, faults 0"},
		{note("5.00", as), []*purchase.Invoice{note("5.00", as), note("10.00", as)}, "back 6.00, left 0.00, faults 0"},
		{note("42.50", as), nil, "back 40.80, left 0.00, faults 0"},
		{note("42.51", as), nil, "back 0.00, left 0.00, faults 1"},
		{note("30.00", as), []*purchase.Invoice{note("12.51", as)}, "back 0.00, left 0.00, faults 1"},
		{note("40.00", func(n *purchase.Invoice) { n.VAT[0].VAT, n.Gross = gbp("8.52"), gbp("48.52") }), nil, "back 0.00, left 0.00, faults 1"},
		{note("40.00", func(n *purchase.Invoice) {
			n.Lines[0].Treatment, n.Lines[0].Percent, n.VAT[0].Treatment, n.VAT[0].Percent = pricebook.Reduced, dec("5"), pricebook.Reduced, dec("5")
		}), nil, "back 0.00, left 0.00, faults 1"},
	} {
		back, left, faults := purchase.Credit(c.note, d, c.earlier)
		owed, err := purchase.Sum(back, "GBP")
		open, err2 := purchase.Sum(left, "GBP")
		if got := fmt.Sprintf("back %s, left %s, faults %d", owed.Fixed(), open.Fixed(), len(faults)); got != c.want || err != nil || err2 != nil {
			t.Errorf("%d: %s, want %s", n+1, got, c.want)
		}
	}
	// Where all of it is too much, it is refused and not accepted in part.
	all := entered(t, paper(goods(1, "3", "4.25")))
	m, _, err = purchase.Hold(all, ordered("0", [3]string{"10", "0", "4.25"}), nil, purchase.Tolerance{})
	if err != nil {
		t.Fatal(err)
	}
	if _, faults := all.Decide(purchase.AcceptedInPart, m, "2027-01-25"); len(faults) == 0 {
		t.Error("nothing of it is owed, and it was accepted in part")
	}
}

// What of an invoice is owed is, piece by piece: a piece that is here and was
// not invoiced before, at the lower of the two prices. Whatever comes and is
// charged in whatever order.
func TestOwedPieceByPiece(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.IntRange(1, 3).Draw(t, "lines")
		o := ordered("0")
		here, price := make([]int64, lines), make([]int64, lines)
		for n := range lines {
			price[n] = rapid.Int64Range(1, 500).Draw(t, "price")
			u := unit(pence(price[n]).Fixed())
			o.Lines = append(o.Lines, order.Line{Kind: supply.Part, Quantity: decimal.NewFromInt(rapid.Int64Range(1, 12).Draw(t, "ordered")), UnitPrice: &u})
		}
		var before []*purchase.Invoice
		for step := range rapid.IntRange(1, 6).Draw(t, "steps") {
			n := rapid.IntRange(0, lines-1).Draw(t, "line")
			came := rapid.Int64Range(0, 6).Draw(t, "came")
			here[n] += came
			o.Lines[n].Delivered = o.Lines[n].Delivered.Add(decimal.NewFromInt(came))
			var charged []purchase.Line
			want := int64(0)
			for range rapid.IntRange(1, 3).Draw(t, "charged") {
				k, many, at := rapid.IntRange(0, lines-1).Draw(t, "of"), rapid.Int64Range(1, 8).Draw(t, "many"), rapid.Int64Range(1, 500).Draw(t, "at")
				charged = append(charged, goods(k+1, fmt.Sprint(many), pence(at).Fixed()))
				for range many { // the witness
					if here[k] > 0 {
						here[k]--
						want += min(at, price[k])
					}
				}
			}
			p := paper(charged...)
			p.Number = fmt.Sprint(step)
			i := entered(t, p)
			m, faults, err := purchase.Hold(i, o, before, purchase.Tolerance{})
			if err != nil || len(faults) > 0 {
				t.Fatal(err, faults)
			}
			s := purchase.AcceptedInPart
			if m.Clean() {
				s = purchase.Accepted
			} else if want == 0 {
				s = purchase.Refused
			}
			d := decided(t, i, s, m)
			got := int64(0)
			for _, v := range d.Accepted {
				got += v.Net.Minor()
			}
			if got != want {
				t.Fatalf("owed %d, want %d: %s", got, want, told(m))
			}
			before = append(before, d)
		}
	})
}

// An invoice accepted in part, with the credit note for the rest, leaves in the
// books what one accepted whole does with the same credit note, and the supplier
// is owed what was right.
func TestCreditNotePutsItRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := ordered("5.00", [3]string{"10", rapid.SampledFrom([]string{"0", "4", "9", "10"}).Draw(t, "came"), "4.25"})
		i := entered(t, paper(goods(1, rapid.SampledFrom([]string{"4", "10", "11"}).Draw(t, "charged"), rapid.SampledFrom([]string{"4.00", "4.25", "4.33"}).Draw(t, "price")), carriage(rapid.SampledFrom([]string{"5.00", "7.77"}).Draw(t, "carriage"))))
		m, faults, err := purchase.Hold(i, o, nil, purchase.Tolerance{})
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		if m.Clean() {
			return
		}
		left := func(s purchase.State) (sums string) {
			var b ledger.Book
			d := decided(t, i, s, m)
			lines, err := purchase.Posting(d, nil)
			if err != nil {
				t.Fatal(err)
			}
			post(t, &b, lines)
			credit, err := purchase.Sum(m.Credit, "GBP")
			if err != nil {
				t.Fatal(err)
			}
			note := purchase.Invoice{Kind: purchase.CreditNote, Number: "C-1", Supplier: "brackwater", IssuedOn: "2027-02-01", TaxPoint: "2027-02-01", DueOn: "2027-02-01", Currency: "GBP",
				Credits: "the-invoice", VAT: m.Credit, Gross: credit}
			for _, v := range m.Credit {
				note.Lines = append(note.Lines, of(goods(0, "1", v.Net.Fixed()), func(l *purchase.Line) { l.Kind = purchase.Other }))
			}
			n := entered(t, note)
			back, rest, faults := purchase.Credit(n, d, nil)
			if len(faults) > 0 || len(rest) > 0 {
				t.Fatal(faults, rest)
			}
			if _, _, faults := purchase.Credit(n, d, []*purchase.Invoice{n, i}); len(faults) == 0 {
				t.Fatal("credited more than was charged")
			}
			lines, err = purchase.Posting(decided(t, n, purchase.Accepted, purchase.Match{}), back)
			if err != nil {
				t.Fatal(err)
			}
			post(t, &b, lines)
			for _, a := range []ledger.Account{ledger.Purchases, ledger.VATPaid, ledger.Creditors} {
				sums += b.Balance(a, "GBP").Fixed() + " "
			}
			owed, err := purchase.Sum(i.VAT, "GBP")
			if err != nil || b.Balance(ledger.Creditors, "GBP").Minor() != credit.Minor()-owed.Minor() {
				t.Fatal(b.Balance(ledger.Creditors, "GBP"), credit, owed, err)
			}
			for _, v := range b.InputVATBetween("2027-01-01", "2027-12-31", "GBP") {
				sums += fmt.Sprintf("%s on %s ", v.VAT.Fixed(), v.Net.Fixed())
			}
			return sums
		}
		if part, whole := left(purchase.AcceptedInPart), left(purchase.Accepted); part != whole {
			t.Fatalf("in part %s, whole %s", part, whole)
		}
	})
}

func post(tb interface{ Fatal(...any) }, b *ledger.Book, lines []ledger.Line) {
	if lines == nil {
		return
	}
	_, faults := b.Post(ledger.Entry{Day: "2027-01-18", At: time.Date(2027, 1, 25, 12, 0, 0, 0, time.UTC), By: "perran", Kind: ledger.Bought,
		Document: ledger.Document{Noun: "supplier's invoice", ID: "1"}, Lines: lines})
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
}

// Input VAT stands by treatment and rate in the period of its day, with what is
// bought without any.
func TestInputVAT(t *testing.T) {
	var b ledger.Book
	i := entered(t, paper(goods(1, "8", "4.25"), of(goods(0, "1", "100.00"), func(l *purchase.Line) { l.Treatment, l.Percent = pricebook.Zero, decimal.Zero })))
	lines, err := purchase.Posting(decided(t, i, purchase.Accepted, purchase.Match{}), nil)
	if err != nil {
		t.Fatal(err)
	}
	post(t, &b, lines)
	got := ""
	for _, v := range b.InputVATBetween("2027-01-01", "2027-01-31", "GBP") {
		got += fmt.Sprintf("%s %s: %s on %s; ", v.Treatment, v.Percent, v.VAT.Fixed(), v.Net.Fixed())
	}
	if want := "standard 20: 6.80 on 34.00; zero 0: 0.00 on 100.00; "; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if list := b.InputVATBetween("2027-02-01", "2027-02-28", "GBP"); len(list) != 0 || len(b.VATBetween("2027-01-01", "2027-12-31", "GBP")) != 0 {
		t.Errorf("in another period, or due: %v", list)
	}
}
