package order_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote/quotetest"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func pounds(s string) money.Amount {
	a, err := money.Parse(s, "GBP")
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

// book is the demo's edition of October 2026 with terms of suppliers.
var book = sync.OnceValue(func() *pricebook.Compiled {
	e := quotetest.Edition("2026-10")
	for i := range e.Suppliers {
		if s := &e.Suppliers[i]; s.Code == "brackwater" {
			s.LeastOrder, s.Carriage, s.CarriageFreeFrom = new(dec("100")), new(dec("12.50")), new(dec("500"))
		}
	}
	for i := range e.Costs {
		if c := &e.Costs[i]; c.Part == "hob_2" {
			c.Breaks = []pricebook.Break{{From: dec("5"), Cost: dec("120")}, {From: dec("12"), Cost: dec("100")}}
		}
	}
	e.Costs = slices.DeleteFunc(e.Costs, func(c pricebook.Cost) bool { return c.Part == "hob_1" })
	e.Costs = append(e.Costs, pricebook.Cost{Part: "hob_1", Supplier: "brackwater", Unit: catalogue.Each, Cost: dec("89.35"), Pack: dec("2"), LeadTimeDays: 20},
		pricebook.Cost{Part: "hob_1", Supplier: "quillmere", Unit: catalogue.Each, Cost: dec("95"), LeadTimeDays: 2})
	k, faults := pricebook.Compile(quotetest.Release().Catalogue(), e)
	if len(faults) > 0 {
		panic(faults)
	}
	return k
})

func part(code, quantity string) order.Line {
	return order.Line{Kind: supply.Part, Code: code, Name: code, Unit: "each", Quantity: dec(quantity), WantedOn: "2027-01-15"}
}

func placed(t *testing.T, lines ...order.Line) order.Order {
	t.Helper()
	o, faults := order.New("brackwater", "Brackwater", lines)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	o, faults, err := o.Place(book(), calendar.Calendar{}, "2027-01-04", false)
	if err != nil || len(faults) > 0 {
		t.Fatal(faults, err)
	}
	return o
}

// Prices are those of the edition on the day, with breaks; days are those of
// the lead time.
func TestPlace(t *testing.T) {
	soon := part("hob_sink_top", "1")
	soon.WantedOn = "2027-01-08"
	agreed := part("hob_1", "2")
	agreed.Agreed, agreed.UnitPrice = true, unit("80.005")
	o := placed(t, part("hob_2", "5"), soon, agreed)
	if o.State != order.Placed || o.Edition != "2026-10" || o.Goods.Fixed() != "983.00" || o.Carriage.Fixed() != "0.00" {
		t.Errorf("placed %+v: goods %s, carriage %s", o, o.Goods, o.Carriage)
	}
	for i, want := range []string{"120.00 600.00 2027-01-15", "222.99 222.99 2027-01-18", "80.005 160.01 2027-02-01"} {
		l := o.Lines[i]
		if got := l.UnitPrice.Fixed() + " " + l.Amount.Fixed() + " " + l.DueOn; got != want {
			t.Errorf("line %d: %s, want %s", i+1, got, want)
		}
	}
	if o := placed(t, part("hob_2", "2")); o.Carriage.Fixed() != "12.50" || o.Goods.Fixed() != "261.14" {
		t.Errorf("two: goods %s and carriage %s", o.Goods, o.Carriage)
	}

	for _, c := range []struct {
		name, supplier string
		line           order.Line
		want           string
	}{
		{"nobody", "nobody", part("hob_2", "1"), "unknown_supplier supplier"},
		{"not theirs", "tarnbeck", part("hob_2", "1"), "no_cost lines/1/code"},
		{"no whole packs", "brackwater", part("hob_1", "3"), "pack lines/1/quantity"},
		{"too small an order", "brackwater", part(cheap(t), cheapPack(t)), "least_order lines"},
		{"money", "brackwater", func() order.Line {
			l := part("hob_2", "1")
			u, _ := money.NewUnitPrice(dec("1"), "EUR")
			l.Agreed, l.UnitPrice = true, &u
			return l
		}(), "currency lines/1/unit_price"},
	} {
		t.Run(c.name, func(t *testing.T) {
			o, faults := order.New(c.supplier, "", []order.Line{c.line})
			if len(faults) > 0 {
				t.Fatal(faults)
			}
			o, faults, err := o.Place(book(), calendar.Calendar{}, "2027-01-04", false)
			if err != nil || len(faults) == 0 || faults[0].Code+" "+faults[0].At != c.want || o.State != order.Draft {
				t.Errorf("%v %v, want %s", faults, err, c.want)
			}
			if c.want == "pack lines/1/quantity" || c.want == "least_order lines" {
				if o, faults, err = o.Place(book(), calendar.Calendar{}, "2027-01-04", true); err != nil || len(faults) > 0 || o.State != order.Placed {
					t.Errorf("knowing: %v %v", faults, err)
				}
			}
		})
	}
}

// cheap is a part of Brackwater's whose pack costs less than their least order.
func cheap(t *testing.T) string {
	t.Helper()
	for _, c := range book().Edition().Costs {
		if c.Supplier == "brackwater" && c.Pack.Mul(c.Cost).LessThan(dec("50")) && c.Pack.Sign() > 0 {
			if o := book().Offers(c.Part, "2027-01-04"); o[0].Supplier.Code == "brackwater" {
				return c.Part
			}
		}
	}
	t.Fatal("nothing is cheap")
	return ""
}

func cheapPack(t *testing.T) string {
	t.Helper()
	return book().Offers(cheap(t), "2027-01-04")[0].Pack.String()
}

func TestDeliveriesTellDifferences(t *testing.T) {
	o := placed(t, part("hob_2", "5"), part("hob_1", "2"))
	if due := o.Due("7"); len(due) != 2 || due[0].Quantity.String() != "5" || due[1].Day != "2027-02-01" || due[0].Order != "7" {
		t.Errorf("due %+v", due)
	}
	o, faults := o.Deliver(order.Delivery{On: "2027-01-14", Note: "4711", By: "x", Lines: []order.DeliveredLine{
		{Line: 1, Code: "hob_2", Quantity: dec("3"), Noted: new(dec("4")), UnitPrice: unit("121.50")},
	}, Carriage: new(pounds("9.00"))})
	if len(faults) > 0 || o.State != order.PartDelivered {
		t.Fatal(faults, o.State)
	}
	if got, want := fmt.Sprint(o.Deliveries[0].Lines[0].Differences, o.Deliveries[0].Differences),
		"[{quantity noted 4 3 false} {price 120.00 121.50 true}] [{carriage 0.00 9.00 true}]"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	o, faults = o.Expect(2, "2027-02-10")
	if due := o.Due("7"); len(faults) > 0 || len(due) != 2 || due[0].Quantity.String() != "2" || due[1].Day != "2027-02-10" {
		t.Errorf("due %+v %v", due, faults)
	}
	o, faults = o.Deliver(order.Delivery{On: "2027-02-11", By: "x", Lines: []order.DeliveredLine{
		{Line: 1, Code: "hob_3", Quantity: dec("2.5")}, {Line: 2, Code: "hob_1", Quantity: dec("2")},
	}})
	if len(faults) > 0 || o.State != order.Closed || o.EndedOn != "2027-02-11" || len(o.Due("7")) != 0 {
		t.Fatal(faults, o.State)
	}
	if got, want := fmt.Sprint(o.Deliveries[1].Lines[0].Differences),
		"[{part hob_2 hob_3 false} {quantity 2 2.5 false} {late 2027-01-15 2027-02-11 false}]"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	text, err := o.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := order.Decode(text)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := back.Encode(); err != nil || !bytes.Equal(again, text) {
		t.Errorf("read and written again:\n%s\n%s", text, again)
	}
}

// What may follow what, and nothing else.
func TestStates(t *testing.T) {
	come := order.Delivery{On: "2027-01-14", By: "x", Lines: []order.DeliveredLine{{Line: 1, Code: "hob_2", Quantity: dec("1")}}}
	draft, _ := order.New("brackwater", "", []order.Line{part("hob_2", "2")})
	of := map[order.State]order.Order{order.Draft: draft, order.Placed: placed(t, part("hob_2", "2"))}
	of[order.PartDelivered], _ = of[order.Placed].Deliver(come)
	of[order.Closed], _ = of[order.PartDelivered].Close("2027-01-15")
	of[order.Cancelled], _ = of[order.Placed].Cancel("2027-01-15")
	steps := map[string]func(order.Order) (order.Order, document.Faults){
		"change": func(o order.Order) (order.Order, document.Faults) { return o.Change(o.Lines) },
		"place": func(o order.Order) (order.Order, document.Faults) {
			o, faults, err := o.Place(book(), calendar.Calendar{}, "2027-01-04", false)
			if err != nil {
				t.Fatal(err)
			}
			return o, faults
		},
		"deliver": func(o order.Order) (order.Order, document.Faults) { return o.Deliver(come) },
		"expect":  func(o order.Order) (order.Order, document.Faults) { return o.Expect(1, "2027-01-20") },
		"cancel":  func(o order.Order) (order.Order, document.Faults) { return o.Cancel("2027-01-15") },
		"close":   func(o order.Order) (order.Order, document.Faults) { return o.Close("2027-01-15") },
	}
	may := map[string]order.State{
		"draft change": order.Draft, "draft place": order.Placed, "draft cancel": order.Cancelled,
		"placed deliver": order.PartDelivered, "placed expect": order.Placed, "placed cancel": order.Cancelled, "placed close": order.Closed,
		"part delivered deliver": order.Closed, "part delivered expect": order.PartDelivered, "part delivered close": order.Closed,
	}
	for _, state := range order.State("").Words() {
		for name, step := range steps {
			was := of[order.State(state)]
			if was.State != order.State(state) {
				t.Fatalf("no order that is %s", state)
			}
			now, faults := step(was)
			want, ok := may[state+" "+name]
			switch {
			case ok && (len(faults) > 0 || now.State != want):
				t.Errorf("%s of one that is %s gives %s: %v", name, state, now.State, faults)
			case !ok && (len(faults) != 1 || faults[0].Code != "state" || now.State != was.State):
				t.Errorf("%s of one that is %s gives %s: %v", name, state, now.State, faults)
			}
		}
	}
}

func TestFaultsOfLines(t *testing.T) {
	for _, c := range []struct {
		want   string
		change func(*order.Line)
	}{
		{"kind lines/1/kind", func(l *order.Line) { l.Kind = supply.Kit }},
		{"quantity lines/1/quantity", func(l *order.Line) { l.Quantity = dec("0") }},
		{"quantity lines/1/quantity", func(l *order.Line) { l.Quantity = dec("-1") }},
		{"quantity lines/1/quantity", func(l *order.Line) { l.Quantity = dec("1e900") }},
		{"quantity lines/1/quantity", func(l *order.Line) { l.Quantity = dec("0.0000001") }},
		{"", func(l *order.Line) { l.Quantity = dec("999999.999999") }},
		{"quantity lines/1/quantity", func(l *order.Line) { l.Quantity = dec("1000000") }},
		{"day lines/1/wanted_on", func(l *order.Line) { l.WantedOn = "soon" }},
		{"no_price lines/1/unit_price", func(l *order.Line) { l.Agreed = true }},
	} {
		l := part("hob_2", "1")
		c.change(&l)
		_, faults := order.New("brackwater", "", []order.Line{l})
		var got []string
		for _, f := range faults {
			got = append(got, f.Code+" "+f.At)
		}
		if strings.Join(got, ",") != c.want {
			t.Errorf("%v, want %q", got, c.want)
		}
	}
	if _, faults := order.New("brackwater", "", nil); len(faults) != 1 {
		t.Errorf("no lines: %v", faults)
	}
	o := placed(t, part("hob_2", "2"))
	for want, d := range map[string]order.Delivery{
		"day on":                    {On: "2027-01-03", Lines: []order.DeliveredLine{{Line: 1, Code: "hob_2", Quantity: dec("1")}}},
		"lines lines":               {On: "2027-01-05"}, //nolint:dupword // code and place
		"unknown_line lines/1/line": {On: "2027-01-05", Lines: []order.DeliveredLine{{Line: 2, Code: "hob_2", Quantity: dec("1")}}},
		"quantity lines/1/quantity": {On: "2027-01-05", Lines: []order.DeliveredLine{{Line: 1, Code: "hob_2"}}},
		"no_code lines/1/code":      {On: "2027-01-05", Lines: []order.DeliveredLine{{Line: 1, Quantity: dec("1")}}},
	} {
		if _, faults := o.Deliver(d); len(faults) != 1 || faults[0].Code+" "+faults[0].At != want {
			t.Errorf("%v, want %s", faults, want)
		}
	}
}

// Whatever comes in whichever order: what is due and what was delivered are
// what was ordered, until more than that has come.
func TestDueIsWhatHasNotCome(t *testing.T) {
	whole := placed(t, part("hob_2", "5"), part("hob_1", "4"), part("hob_sink_top", "3"))
	rapid.Check(t, func(t *rapid.T) {
		o := whole
		came := []decimal.Decimal{{}, {}, {}}
		for range rapid.IntRange(1, 8).Draw(t, "deliveries") {
			var d order.Delivery
			d.On = "2027-01-20"
			for range rapid.IntRange(1, 3).Draw(t, "lines") {
				line, q := rapid.IntRange(1, 3).Draw(t, "line"), decimal.New(int64(rapid.IntRange(1, 30).Draw(t, "tenths")), -1)
				d.Lines = append(d.Lines, order.DeliveredLine{Line: line, Code: o.Lines[line-1].Code, Quantity: q})
			}
			next, faults := o.Deliver(d)
			if (len(faults) > 0) != (o.State == order.Closed) {
				t.Fatalf("%s: %v", o.State, faults)
			}
			if len(faults) == 0 {
				for _, l := range d.Lines {
					came[l.Line-1] = came[l.Line-1].Add(l.Quantity)
				}
			}
			o = next
		}
		due := map[string]decimal.Decimal{}
		for _, d := range o.Due("1") {
			due[d.Code] = d.Quantity
		}
		for i, l := range o.Lines {
			want := decimal.Max(decimal.Zero, l.Quantity.Sub(came[i]))
			if !due[l.Code].Equal(want) || !l.Delivered.Equal(came[i]) {
				t.Fatalf("%s of %s ordered, %s came, %s due", l.Quantity, l.Code, came[i], due[l.Code])
			}
		}
		if (len(due) == 0) != (o.State == order.Closed) {
			t.Fatalf("%s with %v due", o.State, due)
		}
	})
}
