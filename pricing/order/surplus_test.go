package order_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/supply"
	"wainscot/pricing/order"
)

// onOrder reads orders as "state: part quantity for job[=quantity] ...; ...",
// where a job in brackets has the line alone.
func onOrder(text string) (list []order.Order) {
	for one := range strings.SplitSeq(text, "|") {
		state, lines, _ := strings.Cut(strings.TrimSpace(one), ": ")
		o := order.Order{State: order.State(state), Supplier: "brackwater"}
		for line := range strings.SplitSeq(lines, ";") {
			words := strings.Fields(line)
			l := order.Line{Kind: supply.Part, Code: words[0], Quantity: dec(words[1]), WantedOn: "2027-02-01", UnitPrice: unit("10")}
			for _, w := range words[2:] {
				switch job, quantity, alone := strings.Cut(strings.Trim(w, "()"), "="); {
				case strings.HasPrefix(w, "+"):
					l.Delivered = dec(w)
				case strings.HasPrefix(w, "@"):
					l.DueOn = w[1:]
				case alone:
					l.For = append(l.For, order.For{Job: job, Quantity: dec(quantity)})
				default:
					l.Job = job
				}
			}
			if o.State != order.Draft {
				amount := pounds(l.Quantity.Mul(dec("10")).StringFixed(2))
				l.Amount = &amount
			}
			o.Lines = append(o.Lines, l)
		}
		list = append(list, o)
	}
	return list
}

func orderSaid(list []order.Order) string {
	var all []string
	for _, o := range list {
		var lines []string
		for i := range o.Lines {
			l := &o.Lines[i]
			text := l.Code + " " + l.Quantity.String()
			for _, f := range l.For {
				text += " " + f.Job + "=" + f.Quantity.String()
			}
			for _, s := range l.Surplus {
				text += fmt.Sprintf(" less %s %s", s.Quantity, s.Dealt)
			}
			lines = append(lines, strings.TrimSpace(text))
		}
		all = append(all, string(o.State)+": "+strings.Join(lines, "; "))
	}
	return strings.Join(all, " | ")
}

// What a job sheds comes off drafts first, then off what comes last. hob_1 comes
// in packs of two.
func TestShed(t *testing.T) {
	for _, c := range []struct{ name, on, shed, then string }{
		{"a draft's line leaves", "draft: oven 2 (J); sink 1", "oven 2", "draft: sink 1"},
		{"a draft's line shrinks", "draft: oven 3 J=3", "oven 1", "draft: oven 2 J=2"},
		{"in whole packs", "draft: hob_1 6 J=3 J=2", "hob_1 2", "draft: hob_1 4 J=3"},
		{"no more than it was", "draft: hob_1 3 J=3", "hob_1 0.5", "draft: hob_1 3 J=2.5"},
		{"a draft of which nothing is left", "draft: oven 1 (J)", "oven 1", "cancelled: oven 1"},
		{"a draft's line that others share", "draft: oven 3 J=1 K=2", "oven 1", "draft: oven 3 J=1 K=2 less 1"},
		{"a placed one", "placed: oven 3 (J)", "oven 2", "placed: oven 3 less 2"},
		{"drafts first", "placed: oven 1 (J) | draft: oven 1 (J)", "oven 1", "placed: oven 1 | cancelled: oven 1"},
		{"what comes last first", "placed: oven 1 (J) @2027-02-01 | placed: oven 1 (J) @2027-03-01", "oven 1", "placed: oven 1 | placed: oven 1 less 1"},
		{"only what is still to come", "part delivered: oven 3 (J) +2", "oven 2", "part delivered: oven 3 less 1"},
		{"not what is others'", "placed: oven 3 (K) | closed: oven 3 (J)", "oven 2", "placed: oven 3 | closed: oven 3"},
		{"all there is", "draft: oven 1 J=1 | placed: oven 1 (J)", "oven 5", "cancelled: oven 1 J=1 | placed: oven 1 less 1"},
	} {
		part, quantity, _ := strings.Cut(c.shed, " ")
		before := onOrder(c.on)
		s := order.Shed{Job: "J", Variation: 2, On: "2027-01-12", Parts: []order.Shedding{{Kind: supply.Part, Code: part, Quantity: dec(quantity)}}}
		after, became := s.From(before, book())
		if got := orderSaid(after); got != c.then {
			t.Errorf("%s: %s; want %s", c.name, got, c.then)
		}
		if orderSaid(before) != orderSaid(onOrder(c.on)) {
			t.Errorf("%s: those given are %s", c.name, orderSaid(before))
		}
		for _, b := range became {
			if b.Changed != (before[b.Order].State == order.Draft && !strings.Contains(c.name, "share")) {
				t.Errorf("%s: %+v", c.name, b)
			}
		}
	}
}

// A visit to several vans goes on for the others; one that is for the job alone
// is left over.
func TestShedVisits(t *testing.T) {
	visit := func(jobs ...string) order.Order {
		l := order.Line{Kind: supply.Outside, Code: "gas_test", Quantity: dec("1"), WantedOn: "2027-02-01"}
		for _, j := range jobs {
			l.For = append(l.For, order.For{Job: j, Quantity: dec("1")})
		}
		return order.Order{State: order.Placed, Lines: []order.Line{l}}
	}
	s := order.Shed{Job: "J", Parts: []order.Shedding{{Kind: supply.Outside, Code: "gas_test", Quantity: dec("1")}}}
	if after, became := s.From([]order.Order{visit("J", "K")}, book()); len(became) != 0 || len(after[0].Lines[0].Surplus) != 0 {
		t.Errorf("a visit that others share: %+v", became)
	}
	if _, became := s.From([]order.Order{visit("J")}, book()); len(became) != 1 {
		t.Errorf("a visit for it alone: %+v", became)
	}
}

// What is left over is dealt with line by line: taken back it makes line and
// goods less, to stock it stays; either way nobody is asked again.
func TestDealWith(t *testing.T) {
	left := func(on, quantity string) order.Order {
		s := order.Shed{Job: "J", Variation: 2, On: "2027-01-12", Parts: []order.Shedding{{Kind: supply.Part, Code: "oven", Quantity: dec(quantity)}}}
		after, _ := s.From(onOrder(on), book())
		return after[0]
	}
	for _, c := range []struct {
		name, on, shed string
		how            order.Dealt
		then, goods    string
	}{
		{"some is taken back", "placed: oven 3 (J); sink 1", "2", order.TakenBack, "placed: oven 1 less 2 taken back; sink 1", "20.00"},
		{"all is taken back", "placed: oven 2 (J)", "2", order.TakenBack, "cancelled: oven 0 less 2 taken back", "0.00"},
		{"the rest is taken back", "part delivered: oven 3 (J) +2", "1", order.TakenBack, "part delivered: oven 2 less 1 taken back", "20.00"},
		{"shared, and taken back", "placed: oven 3 J=1 K=2", "1", order.TakenBack, "placed: oven 2 K=2 less 1 taken back", "20.00"},
		{"to stock", "placed: oven 3 (J)", "2", order.ToStock, "placed: oven 3 less 2 to stock", ""},
	} {
		o := left(c.on, c.shed)
		if strings.HasPrefix(c.name, "the rest") {
			o.Deliveries = []order.Delivery{{Number: 1}}
			c.then = "closed" + strings.TrimPrefix(c.then, "part delivered")
		}
		now, faults, err := o.DealWith(1, c.how, "2027-01-13")
		if err != nil || len(faults) > 0 || orderSaid([]order.Order{now}) != c.then || c.goods != "" && now.Goods.Fixed() != c.goods {
			t.Errorf("%s: %s %v %v; want %s", c.name, orderSaid([]order.Order{now}), now.Goods, faults, c.then)
		}
		if now.Lines[0].Undealt("").Sign() != 0 || now.Lines[0].LeftFor("J").Sign() > 0 && c.name == "all is taken back" {
			t.Errorf("%s: somebody is asked again", c.name)
		}
	}
	o := left("placed: oven 3 (J)", "2")
	for _, bad := range []struct {
		line int
		how  order.Dealt
		code string
	}{{2, order.ToStock, "unknown_line"}, {0, order.ToStock, "unknown_line"}, {1, "away", "unknown_word"}} {
		if _, faults, err := o.DealWith(bad.line, bad.how, "2027-01-13"); err != nil || len(faults) != 1 || faults[0].Code != bad.code {
			t.Errorf("line %d, %s: %v %v", bad.line, bad.how, faults, err)
		}
	}
	if _, faults, _ := onOrder("placed: oven 3 (J)")[0].DealWith(1, order.ToStock, "2027-01-13"); len(faults) != 1 || faults[0].Code != "no_surplus" {
		t.Errorf("nothing is left over: %v", faults)
	}
	if _, faults, _ := onOrder("draft: oven 3 (J)")[0].DealWith(1, order.ToStock, "2027-01-13"); len(faults) != 1 || faults[0].Code != "state" {
		t.Errorf("a draft: %v", faults)
	}
}

// Whatever is shed, taken on again, delivered and dealt with: a job has as much
// less on order as it shed of what there was, nobody else has any less, what is
// due in all is what is still to come, and no line has more left over than that.
func TestShedTakesNothingFromOthers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		orders := onOrder(rapid.SampledFrom([]string{
			"draft: oven 5 (J); sink 3 J=1 K=1 | placed: oven 4 (J) @2027-02-03; oven 2 (K) | placed: sink 8 J=3 K=4",
			"placed: oven 3 (J); sink 2 (J) | draft: hob_1 8 J=3 J=2; oven 1 K=1 | part delivered: hob_1 6 J=2 K=3 +2",
			"part delivered: oven 6 (J) +2; sink 1 (K) | draft: oven 2 J=2 | draft: sink 4 K=1 J=2",
		}).Draw(t, "orders"))
		parts := []string{"oven", "sink", "hob_1"}
		on := func(job, part string) (sum decimal.Decimal) {
			for i := range orders {
				for k := range orders[i].Lines {
					if l := &orders[i].Lines[k]; job == "K" && l.Delivered.Sign() > 0 {
						continue // who gets what is on the shelf nobody can say
					} else if l.Code == part && (orders[i].State == order.Draft || orders[i].State.Open()) {
						sum = sum.Add(l.LeftFor(job))
					}
				}
			}
			return sum
		}
		for range rapid.IntRange(1, 12).Draw(t, "steps") {
			part := rapid.SampledFrom(parts).Draw(t, "part")
			quantity := decimal.New(rapid.Int64Range(1, 12).Draw(t, "quantity"), -1).Mul(dec("5"))
			n := rapid.IntRange(0, len(orders)-1).Draw(t, "order")
			line := rapid.IntRange(1, max(1, len(orders[n].Lines))).Draw(t, "line")
			before, others := on("J", part), on("K", part)
			switch rapid.SampledFrom([]string{"shed", "again", "deal", "deliver"}).Draw(t, "step") {
			case "shed":
				s := order.Shed{Job: "J", Variation: 1, On: "2027-01-12", Parts: []order.Shedding{{Kind: supply.Part, Code: part, Quantity: quantity}}}
				after, became := s.From(orders, book())
				told := decimal.Zero
				for _, b := range became {
					told = told.Add(b.Quantity)
				}
				orders = after
				if want := decimal.Min(before, quantity); !told.Equal(want) || on("J", part).GreaterThan(before.Sub(want)) && part != "hob_1" {
					t.Fatalf("of %s %s are shed, told are %s: %s", before, want, told, orderSaid(orders))
				}
			case "again":
				s := order.Shed{Job: "J", Variation: 1, On: "2027-01-12", Parts: []order.Shedding{{Kind: supply.Part, Code: part, Quantity: quantity.Neg()}}}
				orders, _ = s.From(orders, book())
				if more := on("J", part).Sub(before); more.Sign() < 0 || more.GreaterThan(quantity) {
					t.Fatalf("%s are wanted again, %s more are on order: %s", quantity, more, orderSaid(orders))
				}
			case "deal":
				how := rapid.SampledFrom([]order.Dealt{order.TakenBack, order.ToStock}).Draw(t, "how")
				if now, faults, err := orders[n].DealWith(line, how, "2027-01-13"); err != nil {
					t.Fatal(err)
				} else if len(faults) == 0 {
					orders[n] = now
				}
				if !on("J", part).Equal(before) {
					t.Fatalf("dealing with it takes from the job: %s, %s", before, orderSaid(orders))
				}
			case "deliver":
				l := order.DeliveredLine{Line: line, Quantity: quantity}
				if line <= len(orders[n].Lines) {
					l.Code = orders[n].Lines[line-1].Code
				}
				if now, faults := orders[n].Deliver(order.Delivery{On: "2027-01-13", Lines: []order.DeliveredLine{l}}); len(faults) == 0 {
					orders[n] = now
				}
				others = on("K", part)
			}
			if on("K", part).LessThan(others) {
				t.Fatalf("somebody else has less: %s", orderSaid(orders))
			}
			for _, o := range orders {
				due, left := decimal.Zero, decimal.Zero
				for _, d := range o.Due("") {
					due = due.Add(d.Quantity)
				}
				for i := range o.Lines {
					l := &o.Lines[i]
					if o.State == order.Draft || o.State.Open() {
						left = left.Add(l.Left())
					}
					if l.Quantity.Sign() < 0 || l.Undealt("").GreaterThan(l.Left()) {
						t.Fatalf("a line: %s", orderSaid(orders))
					}
				}
				if !due.Equal(left) {
					t.Fatalf("%s are due and %s are to come: %s", due, left, orderSaid(orders))
				}
			}
		}
	})
}
