package settlement_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/supply"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote/quotetest"
	"wainscot/pricing/settlement"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func pence(minor int64) money.Amount {
	a, err := money.FromMinor(minor, "GBP")
	if err != nil {
		panic(err)
	}
	return a
}

func unit(s string) *money.UnitPrice {
	u, err := money.NewUnitPrice(dec(s), "GBP")
	if err != nil {
		panic(err)
	}
	return &u
}

func TestCosts(t *testing.T) {
	k := quotetest.Book("2026-10")
	trade := k.Edition().Labour[0].Trade
	hour, _ := k.Labour(trade)
	hob, ok := k.Cost("hob_2", "2027-01-20")
	if !ok {
		t.Fatal("nobody has a hob")
	}
	j := job.Job{}
	j.Hours = []job.Worked{{Trade: trade, Hours: dec("6.5")}, {Trade: trade, Hours: dec("2")}, {Trade: trade, Hours: dec("-2"), Corrects: 2},
		{Trade: "thatcher", Hours: dec("1")}, {Trade: "nobody", Hours: dec("1")}, {Trade: "nobody", Hours: dec("-1")}}
	j.Parts = []job.PartUsed{{Part: "hob_2", Quantity: dec("3")}, {Part: "hob_2", Quantity: dec("-1")}, {Part: "bought_for_it", Quantity: dec("2")}, {Part: "made_up", Quantity: dec("1")}}
	line := func(kind supply.Kind, code, of, quantity, delivered, price string) order.Line {
		return order.Line{Kind: kind, Code: code, Job: of, Quantity: dec(quantity), Delivered: dec(delivered), UnitPrice: unit(price)}
	}
	visit := line(supply.Outside, "gas_test", "", "1", "0", "90.00")
	visit.For = []order.For{{Job: "it", Quantity: dec("1")}, {Job: "another", Quantity: dec("2")}}
	orders := []settlement.Order{
		{ID: "o1", Order: &order.Order{State: order.PartDelivered, Lines: []order.Line{
			line(supply.Part, "bought_for_it", "it", "4", "2", "10.00"), line(supply.Part, "hob_2", "", "5", "5", "1.00"), line(supply.Part, "hob_2", "another", "5", "5", "1.00"), visit}}},
		{ID: "o2", Order: &order.Order{State: order.Closed, Lines: []order.Line{line(supply.Part, "hob_2", "it", "4", "1", "100.00"), line(supply.Outside, "paint", "it", "1", "1", "450.00")}}},
		{ID: "o3", Order: &order.Order{State: order.Cancelled, Lines: []order.Line{line(supply.Part, "hob_2", "it", "4", "0", "100.00")}}},
		{ID: "o4", Order: &order.Order{State: order.Draft, Lines: []order.Line{line(supply.Part, "hob_2", "it", "4", "0", "100.00")}}},
	}
	costs, err := settlement.Costs("it", &j, orders, k, "2027-01-20")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, c := range costs {
		s := fmt.Sprintf("%d %s %s %s%d %s", c.Number, c.What, c.Code, c.Order, c.Line, c.Quantity)
		if c.UnitCost != nil {
			s += " " + c.Amount.Fixed()
		}
		got = append(got, s)
	}
	times := func(q string, u money.UnitPrice) string {
		a, err := money.Times(dec(q), u.Decimal(), "GBP", money.HalfUp)
		if err != nil {
			t.Fatal(err)
		}
		return a.Fixed()
	}
	want := []string{
		"1 hours " + trade + " 0 6.5 " + times("6.5", hour.Unit),
		"2 hours thatcher 0 1", // nobody knows what an hour of one costs
		"3 order bought_for_it o11 4 40.00",
		"4 outside work gas_test o14 0.333333 30.00",
		"5 order hob_2 o21 1 100.00", // the rest is not coming
		"6 outside work paint o22 1 450.00",
		"7 part hob_2 0 1 " + times("1", hob.Unit), // two are used, one of them is on order o2
		"8 part made_up 0 1",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("costs\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func cost(number int, minor int64) settlement.Cost {
	return settlement.Cost{Number: number, What: settlement.Hours, Code: "joiner", Quantity: dec("1"), UnitCost: unit(pence(minor).Fixed()), Amount: pence(minor)}
}

func standard(net, vat int64) []ledger.VATSum {
	return []ledger.VATSum{{Treatment: pricebook.Standard, Percent: dec("20"), Net: pence(net), VAT: pence(vat)}}
}

// A deposit of 60.00 that is kept leaves 50.00: the 10.00 of VAT stay due
// (Revenue and Customs Brief 13/2018). So to cover a cost of 50.00, 60.00 are
// kept.
func TestPropose(t *testing.T) {
	ada, bert := settlement.Payer{Party: "ada", Paid: pence(4000)}, settlement.Payer{Party: "bert", Paid: pence(2000)}
	unknown := cost(2, 0)
	unknown.UnitCost = nil
	for name, c := range map[string]struct {
		held, tax int64
		costs     []settlement.Cost
		leftOut   []int
		want      string
	}{
		"all of it":        {6000, 1000, []settlement.Cost{cost(1, 5000)}, nil, "cost 50.00 kept 60.00 VAT 10.00 short 0.00 unknown []"},
		"more than all":    {6000, 1000, []settlement.Cost{cost(1, 5001)}, nil, "cost 50.01 kept 60.00 VAT 10.00 short 0.01 unknown []"},
		"part":             {6000, 1000, []settlement.Cost{cost(1, 2500)}, nil, "cost 25.00 kept 30.00 VAT 5.00 short 0.00 unknown [] ada 20.00 bert 10.00"},
		"no VAT":           {6000, 0, []settlement.Cost{cost(1, 2500)}, nil, "cost 25.00 kept 25.00 VAT 0.00 short 0.00 unknown [] ada 23.33 bert 11.67"},
		"nothing":          {6000, 1000, nil, nil, "cost 0.00 kept 0.00 VAT 0.00 short 0.00 unknown [] ada 40.00 bert 20.00"},
		"it can go back":   {6000, 1000, []settlement.Cost{cost(1, 2500), cost(2, 2500)}, []int{2}, "cost 25.00 kept 30.00 VAT 5.00 short 0.00 unknown [] ada 20.00 bert 10.00"},
		"nobody knows":     {6000, 1000, []settlement.Cost{cost(1, 2500), unknown}, nil, "cost 25.00 kept 30.00 VAT 5.00 short 0.00 unknown [2] ada 20.00 bert 10.00"},
		"nothing was paid": {0, 0, []settlement.Cost{cost(1, 2500)}, nil, "cost 25.00 kept 0.00 VAT 0.00 short 25.00 unknown []"},
	} {
		s, faults, err := settlement.Propose(pence(c.held), standard(c.held-c.tax, c.tax), c.costs, c.leftOut, []settlement.Payer{ada, bert})
		if err != nil || len(faults) > 0 {
			t.Errorf("%s: %v %v", name, err, faults)
			continue
		}
		got := fmt.Sprintf("cost %s kept %s VAT %s short %s unknown %v", s.Cost.Fixed(), s.Kept.Fixed(), s.KeptVAT.Fixed(), s.Short.Fixed(), s.Unknown)
		for _, r := range s.Refunds {
			got += " " + r.Party + " " + r.Paid.Fixed()
		}
		if got != c.want {
			t.Errorf("%s: %s\nwant %s", name, got, c.want)
		}
	}
	if _, faults, _ := settlement.Propose(pence(6000), nil, []settlement.Cost{cost(1, 1)}, []int{0, 2}, nil); len(faults) != 2 {
		t.Errorf("costs that are not there are left out: %v", faults)
	}
}

func TestCheck(t *testing.T) {
	payers := []settlement.Payer{{Party: "ada", Paid: pence(4000)}, {Party: "bert", Paid: pence(2000)}}
	for want, c := range map[string]struct {
		kept    money.Amount
		refunds []settlement.Payer
	}{
		"":                                    {pence(3000), []settlement.Payer{{Party: "ada", Paid: pence(3000)}}},
		"does_not_add_up refunds":             {pence(3000), []settlement.Payer{{Party: "ada", Paid: pence(2999)}}},
		"more_than_there_is kept":             {pence(6001), nil},
		"more_than_there_is refunds/2/amount": {pence(0), []settlement.Payer{{Party: "ada", Paid: pence(4000)}, {Party: "bert", Paid: pence(2001)}}},
		"more_than_there_is refunds/1/amount": {pence(0), []settlement.Payer{{Party: "cleo", Paid: pence(6000)}}},
		"amount refunds/1/amount":             {pence(6000), []settlement.Payer{{Party: "ada", Paid: pence(0)}}},
	} {
		got := ""
		for _, f := range settlement.Check(pence(6000), c.kept, c.refunds, payers) {
			got += f.Code + " " + f.At
		}
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Whatever it cost and whoever paid: what is proposed is within what is held,
// comes to it, covers the cost or keeps all, and no penny more than covers it;
// and the books take it, with nothing held and no VAT on deposits left.
func TestProposedComesToWhatIsHeld(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b ledger.Book
		post := func(kind ledger.Kind, lines []ledger.Line) {
			if _, faults := b.Post(ledger.Entry{Day: "2027-01-11", At: time.Date(2027, 1, 11, 12, 0, 0, 0, time.UTC), By: "perran", Kind: kind, Document: ledger.Document{Noun: "receipt", ID: "1"}, Lines: lines}); len(faults) > 0 {
				t.Fatal(faults)
			}
		}
		shares := []ledger.Share{{Treatment: pricebook.Standard, Percent: dec("20"), Gross: pence(rapid.Int64Range(1, 900_000).Draw(t, "standard"))}, {Treatment: pricebook.Zero, Gross: pence(rapid.Int64Range(0, 900_000).Draw(t, "zero"))}}
		var payers []settlement.Payer
		for n := range rapid.IntRange(1, 4).Draw(t, "payers") {
			p := settlement.Payer{Party: fmt.Sprint("payer ", n), Paid: pence(rapid.Int64Range(1, 200_000).Draw(t, "paid"))}
			payers = append(payers, p)
			vat, err := ledger.VATIn(p.Paid, shares)
			if err != nil {
				t.Fatal(err)
			}
			post(ledger.Received, ledger.Receipt(ledger.Bank, p.Paid, p.Party))
			post(ledger.Placed, ledger.Place(p.Paid, "job", p.Party, vat, false))
		}
		held := b.OfJob(ledger.DepositsNotEarned, "job", "GBP")
		spent := rapid.Int64Range(0, 900_000).Draw(t, "cost")
		s, faults, err := settlement.Propose(held, b.DepositVAT("job", "GBP"), []settlement.Cost{cost(1, spent)}, nil, payers)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		if faults := settlement.Check(held, s.Kept, s.Refunds, payers); len(faults) > 0 {
			t.Fatal(faults)
		}
		for n, r := range s.Refunds {
			kept := pence(0)
			if n == len(s.Refunds)-1 {
				kept = s.Kept
			}
			lines, faults, err := b.GiveBack("job", r.Party, r.Paid, kept, ledger.Bank)
			if err != nil || len(faults) > 0 {
				t.Fatal(err, faults)
			}
			post(ledger.Refunded, lines)
		}
		if len(s.Refunds) == 0 {
			lines, faults, err := b.GiveBack("job", payers[0].Party, pence(0), s.Kept, ledger.Bank)
			if err != nil || len(faults) > 0 {
				t.Fatal(err, faults)
			}
			post(ledger.Kept, lines)
		}
		if left := b.OfJob(ledger.DepositsNotEarned, "job", "GBP"); !left.IsZero() || len(b.DepositVAT("job", "GBP")) != 0 {
			t.Fatal("left", left, b.DepositVAT("job", "GBP"))
		}
		income := -b.Balance(ledger.DepositsKept, "GBP").Minor()
		if off := income - (s.Kept.Minor() - s.KeptVAT.Minor()); off < -4 || off > 4 { // a penny of VAT a payer and rate
			t.Fatalf("earned %d, proposed %s less %s", income, s.Kept, s.KeptVAT)
		}
		net := s.Kept.Minor() - s.KeptVAT.Minor()
		if s.Kept != held && (net < spent || net > spent+1) {
			t.Fatalf("%d covers %d", net, spent)
		}
		if short := s.Short.Minor(); short != max(0, spent-net) {
			t.Fatalf("short by %d", short)
		}
	})
}
