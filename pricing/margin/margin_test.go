package margin_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/margin"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/purchase"
	"wainscot/pricing/settlement"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

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

// TestMargin by hand: 20,000.00 invoiced, 500.00 credited, and each kind of cost.
func TestMargin(t *testing.T) {
	sold := func(job, amount string) ledger.Line {
		return ledger.Line{Account: ledger.Sales, Job: job, Amount: gbp(amount)}
	}
	earned, err := margin.EarnedIn([]ledger.Entry{
		{Lines: []ledger.Line{sold("it", "-20000.00"), sold("other", "-7.00"), {Account: ledger.Debtors, Job: "it", Amount: gbp("24000.00")}}},
		{Lines: []ledger.Line{sold("it", "500.00"), sold("", "-12000.00")}}, // a van by itself is nobody's
		{Lines: []ledger.Line{{Account: ledger.DepositsKept, Job: "it", Amount: gbp("-50.00")}}},
	}, "GBP")
	if err != nil || len(earned) != 2 || earned["it"].Sales != gbp("19500.00") || earned["it"].Kept != gbp("50.00") {
		t.Fatalf("earned %v %v", earned, err)
	}
	hour, hob, test := unit("24"), unit("130.57"), unit("90")
	cost := func(what settlement.What, order string, line int, quantity string, u *money.UnitPrice, amount string) settlement.Cost {
		return settlement.Cost{What: what, Order: order, Line: line, Quantity: dec(quantity), UnitCost: u, Amount: gbp(amount)}
	}
	costs := []settlement.Cost{
		cost(settlement.Hours, "", 0, "60", &hour, "1440.00"),
		cost(settlement.Ordered, "o1", 1, "3", &hob, "391.71"),
		cost(settlement.Used, "", 0, "1", nil, "0.00"), // nobody knows
		cost(settlement.Agreed, "o2", 1, "0.333333", &test, "30.00"),
	}
	// Of the three hobs two were charged, at 140.00.
	charged := margin.Charged{}
	charged.Add(&purchase.Invoice{Kind: purchase.Charge, State: purchase.Accepted, Order: "o1", Lines: []purchase.Line{
		{Kind: purchase.Goods, Line: 1, Quantity: dec("2"), UnitPrice: unit("140"), Amount: gbp("280.00")},
		{Kind: purchase.Carriage, Amount: gbp("9.00")}, // the workshop's, and no job's
	}}, &order.Order{Lines: []order.Line{{Quantity: dec("3"), Delivered: dec("3"), UnitPrice: &hob}}})
	m, err := margin.Of(earned["it"], costs, charged, gbp("1000.00"))
	if err != nil {
		t.Fatal(err)
	}
	if m.Hours != gbp("1440.00") || m.Parts != gbp("410.57") || m.Outside != gbp("30.00") || m.Vans != gbp("1000.00") || m.Cost != gbp("2880.57") ||
		m.Margin != gbp("16669.43") || m.Percent.String() != "85.27" || m.Unknown != 1 {
		t.Errorf("%+v", m)
	}
	if none, err := margin.Of(margin.Earned{Sales: gbp("0.00"), Kept: gbp("0.00")}, costs[:1], nil, gbp("0.00")); err != nil || none.Percent != nil || none.Margin != gbp("-1440.00") {
		t.Errorf("of nothing %+v %v", none, err)
	}
}

// TestWhatASupplierWasOwed is the same whichever way a dear invoice is put right:
// accepted in part, or whole and then credited.
func TestWhatASupplierWasOwed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		agreed, dearer := rapid.IntRange(1, 500).Draw(t, "agreed"), rapid.IntRange(0, 50).Draw(t, "dearer")
		ordered := rapid.IntRange(1, 9).Draw(t, "ordered")
		here := rapid.IntRange(1, ordered).Draw(t, "here")
		whole := func(n int) decimal.Decimal { return decimal.NewFromInt(int64(n)) }
		price := unit(whole(agreed).String())
		o := &order.Order{Lines: []order.Line{{Quantity: whole(ordered), Delivered: whole(here), UnitPrice: &price}}}
		goods := func(quantity, each int) purchase.Line {
			return purchase.Line{Kind: purchase.Goods, Line: 1, Quantity: whole(quantity), UnitPrice: unit(whole(each).String()), Amount: gbp(whole(quantity * each).StringFixed(2))}
		}
		paper := func(kind purchase.Kind, state purchase.State, lines ...purchase.Line) *purchase.Invoice {
			return &purchase.Invoice{Kind: kind, State: state, Order: "o", Lines: lines,
				Match: &purchase.Match{Lines: []purchase.LineMatch{{Owed: whole(here), Differences: []purchase.Difference{{What: purchase.Price}}}}}}
		}
		inPart, credited := margin.Charged{}, margin.Charged{}
		inPart.Add(paper(purchase.Charge, purchase.AcceptedInPart, goods(ordered, agreed+dearer)), o)
		inPart.Add(paper(purchase.CreditNote, purchase.Accepted, goods(1, 1)), o) // of what was never owed
		credited.Add(paper(purchase.Charge, purchase.Accepted, goods(ordered, agreed+dearer)), o)
		credited.Add(paper(purchase.CreditNote, purchase.Accepted, goods(ordered-here, agreed+dearer), goods(here, dearer)), o)
		cost := []settlement.Cost{{What: settlement.Ordered, Order: "o", Line: 1, Quantity: whole(ordered), UnitCost: &price, Amount: gbp(whole(ordered * agreed).StringFixed(2))}}
		nothing := margin.Earned{Sales: gbp("0.00"), Kept: gbp("0.00")}
		for name, charged := range map[string]margin.Charged{"in part": inPart, "credited": credited} {
			m, err := margin.Of(nothing, cost, charged, gbp("0.00"))
			if err != nil || m.Parts != cost[0].Amount {
				t.Errorf("%s: %v %v, want %v", name, m.Parts, err, cost[0].Amount)
			}
		}
	})
}
