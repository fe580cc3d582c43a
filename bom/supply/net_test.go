package supply

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/calendar"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// period is a working day by its number: 1 is Monday 5 January 2026.
func period(n int) string {
	d := daysOf(calendar.Calendar{})
	var day string
	var err error
	if n >= 1 {
		day, err = d.on("2026-01-05", n-1)
	} else {
		day, err = d.back("2026-01-05", 1-n)
	}
	if err != nil {
		panic(err)
	}
	return day
}

// takes reads a recipe: "2A 4B".
func takes(text string) (list []Component) {
	for word := range strings.FieldsSeq(text) {
		list = append(list, Component{Code: word[len(word)-1:], Each: dec(word[:len(word)-1])})
	}
	return list
}

// releases writes a plan by item, as what is begun in which period.
func releases(t *testing.T, p Plan) string {
	t.Helper()
	var b strings.Builder
	last := ""
	all := append(slices.Clone(p.Buy), p.Make...)
	slices.SortStableFunc(all, func(a, b Planned) int { return strings.Compare(a.Code, b.Code) })
	for _, l := range all {
		if l.Code != last {
			fmt.Fprintf(&b, "%s%s", map[bool]string{true: "; "}[last != ""], l.Code)
			last = l.Code
		}
		n := 0
		for n < 20 && period(n) != l.StartBy {
			n++
		}
		fmt.Fprintf(&b, " %s@%d", l.Quantity, n)
	}
	return b.String()
}

// An operations-management exercise on explosion and lead times
// (check-values: "Floor and supply").
func TestExplosionAsInTheExercise(t *testing.T) {
	p := Position{Today: period(1), Items: []Item{
		{Code: "Z", Kind: Kit, LeadDays: 2, Recipe: takes("2A 4B")}, {Code: "A", Kind: Kit, LeadDays: 1, Recipe: takes("3C 4D")},
		{Code: "B", Kind: Part, LeadDays: 1}, {Code: "C", Kind: Part, LeadDays: 1},
		{Code: "D", Kind: Kit, LeadDays: 1, Recipe: takes("2E")}, {Code: "E", Kind: Part, LeadDays: 3},
	}}
	plan, err := p.Net([]Want{{Kind: Kit, Code: "Z", Quantity: dec("50"), Day: period(10)}})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := releases(t, plan), "A 100@7; B 200@7; C 300@6; D 400@6; E 800@3; Z 50@8"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	for _, l := range append(plan.Buy, plan.Make...) {
		if l.TooLate {
			t.Errorf("%s is too late in period 1", l.Code)
		}
	}
	p.Today = period(4)
	if plan, err = p.Net([]Want{{Kind: Kit, Code: "Z", Quantity: dec("50"), Day: period(10)}}); err != nil {
		t.Fatal(err)
	}
	for _, l := range append(plan.Buy, plan.Make...) {
		if l.TooLate != (l.Code == "E") {
			t.Errorf("in period 4 %s is too late: %v", l.Code, l.TooLate)
		}
	}
}

// The same source on stock, a receipt and multiples.
func TestPacksAndReceiptsAsInTheExercise(t *testing.T) {
	p := Position{Today: period(1), Items: []Item{
		{Code: "A", Kind: Kit, LeadDays: 1, Recipe: takes("2B 3C")}, {Code: "B", Kind: Kit, LeadDays: 1, Recipe: takes("1F")},
		{Code: "C", Kind: Kit, LeadDays: 2, Recipe: takes("1D 1E 2F")},
		{Code: "D", Kind: Part, LeadDays: 1, Multiple: dec("50")}, {Code: "E", Kind: Part, LeadDays: 2, Multiple: dec("100")},
		{Code: "F", Kind: Part, LeadDays: 2, Multiple: dec("100")},
	}, Held: []Holding{
		{Kind: Kit, Code: "A", Quantity: dec("20")}, {Kind: Kit, Code: "B", Quantity: dec("50")},
		{Kind: Kit, Code: "C", Quantity: dec("60")}, {Kind: Part, Code: "D", Quantity: dec("25")},
	}, Due: []Due{{Kind: Kit, Code: "B", Day: period(1), Quantity: dec("30")}}}
	var wants []Want
	for _, w := range []struct{ q, day int }{{20, 1}, {20, 2}, {60, 6}, {50, 8}} {
		wants = append(wants, Want{Kind: Kit, Code: "A", Quantity: decimal.New(int64(w.q), 0), Day: period(w.day)})
	}
	plan, err := p.Net(wants)
	if err != nil {
		t.Fatal(err)
	}
	const want = "A 20@1 60@5 50@7; B 80@4 100@6; C 180@3 150@5; D 200@2 150@4; E 200@1 200@3; F 400@1 100@2 300@3 100@4"
	if got := releases(t, plan); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestKeptForAJob(t *testing.T) {
	p := Position{Today: period(1),
		Items: []Item{{Code: "hob", Kind: Part, LeadDays: 3}, {Code: "frame", Kind: Kit, LeadDays: 2, Measured: true}},
		Held:  []Holding{{Part, "hob", "second", dec("1")}, {Kit, "frame", "", dec("1")}, {Kit, "frame", "first", dec("1")}},
	}
	plan, err := p.Net([]Want{
		{Job: "first", Kind: Part, Code: "hob", Quantity: dec("1"), Day: period(5)},
		{Job: "second", Kind: Part, Code: "hob", Quantity: dec("1"), Day: period(6)},
		{Job: "first", Kind: Kit, Code: "frame", Quantity: dec("1"), Day: period(5)},
		{Job: "second", Kind: Kit, Code: "frame", Quantity: dec("1"), Day: period(6)},
		{Job: "third", Kind: Part, Code: "hob", Quantity: dec("1")},
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := releases(t, plan); got != "frame 1@4; hob 1@2" {
		t.Errorf("planned %s", got)
	}
	if plan.Buy[0].For[0].Want != 0 || plan.Make[0].For[0].Want != 3 || len(plan.SpareStock) != 1 || !slices.Equal(plan.Undated, []int{4}) {
		t.Errorf("%+v", plan)
	}
}

// A late delivery is not ordered a second time; one that a later want needs is
// not taken from it.
func TestLateDeliveries(t *testing.T) {
	want := func(day int) Want {
		return Want{Job: fmt.Sprint("job ", day), Kind: Part, Code: "hob", Quantity: dec("1"), Day: period(day)}
	}
	p := Position{Today: period(1), Items: []Item{{Code: "hob", Kind: Part, LeadDays: 3}},
		Due: []Due{{Kind: Part, Code: "hob", Day: period(8), Quantity: dec("1"), Order: "7"}}}
	plan, err := p.Net([]Want{want(6)})
	if err != nil || len(plan.Buy) != 0 || len(plan.Late) != 1 || plan.Late[0].There != period(8) || plan.Late[0].Order != "7" {
		t.Errorf("%+v %v", plan, err)
	}
	plan, err = p.Net([]Want{want(6), want(9)})
	if err != nil || len(plan.Late) != 0 || releases(t, plan) != "hob 1@3" || plan.Buy[0].For[0].Want != 0 {
		t.Errorf("%+v %v", plan, err)
	}

	in := Position{Today: period(1), Items: p.Items, Due: []Due{{Kind: Part, Code: "hob", Day: period(5), Quantity: dec("1"), Order: "7"}}}
	hits, err := in.Hits([]Want{want(6)}, p.Due)
	if err != nil || len(hits) != 1 || hits[0].There != period(8) || hits[0].Wanted != period(6) || hits[0].Order != "7" {
		t.Errorf("%+v %v", hits, err)
	}
	hits, err = in.Hits([]Want{want(6), want(9)}, p.Due)
	if err != nil || len(hits) != 1 || hits[0].Order != "" || hits[0].There != period(6) || hits[0].StartBy != period(3) {
		t.Errorf("%+v %v", hits, err)
	}
	in.Today = period(4)
	hits, err = in.Hits([]Want{want(6), want(9)}, p.Due)
	if err != nil || len(hits) != 1 || hits[0].There != period(7) {
		t.Errorf("%+v %v", hits, err)
	}
}

func TestReadyBy(t *testing.T) {
	p := Position{Today: period(1), Items: []Item{
		{Code: "roof", Kind: Kit, LeadDays: 2}, {Code: "shell", Kind: Part, LeadDays: 10}, {Code: "frame", Kind: Part, LeadDays: 4},
		{Code: "hob", Kind: Part, LeadDays: 3}, {Code: "test", Kind: Outside, LeadDays: 5}, {Code: "odd", Kind: Part, Unsourced: true},
	}, Held: []Holding{{Part, "frame", "", dec("1")}, {Part, "hob", "other", dec("1")}},
		Due: []Due{{Part, "shell", "", period(4), dec("1"), "3"}}}
	wants := []Want{
		{Job: "this", Stage: "roof", Kind: Kit, Code: "roof", Quantity: dec("1")},
		{Job: "this", Stage: "roof", Kind: Part, Code: "shell", Name: "The shell", Quantity: dec("1"), Via: []string{"roof"}},
		{Job: "this", Stage: "roof", Kind: Part, Code: "frame", Quantity: dec("1"), Via: []string{"roof"}},
		{Stage: "gas", Kind: Part, Code: "hob", Quantity: dec("1")},
		{Stage: "gas", Kind: Outside, Code: "test", Quantity: dec("1")},
		{Stage: "bed", Kind: Part, Code: "odd", Quantity: dec("1")},
	}
	booked, err := p.Net(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		plan func(*Plan)
		want string
	}{
		{"what is due, and two days at the bench", func(*Plan) {}, "roof 6 The shell; gas 6 test"},
		{"what is due is another's", func(b *Plan) { b.Spare = nil }, "roof 13 The shell; gas 6 test"},
		{"all of the kit is there", func(b *Plan) {
			b.SpareStock = append(b.SpareStock, Holding{Kit, "roof", "", dec("1")})
		}, "gas 6 test"},
		{"one is kept for the job", func(b *Plan) { b.Spare = nil; p.Held = append(p.Held, Holding{Part, "shell", "this", dec("1")}) }, "roof 3 roof; gas 6 test"},
		{"a delivery that should have been here", func(b *Plan) { b.Spare = []Due{{Part, "shell", "", period(0), dec("1"), "3"}} },
			"roof 3 roof; gas 6 test"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booked
			b.SpareStock = slices.Clone(booked.SpareStock)
			c.plan(&b)
			ready, err := p.ReadyBy(&b, wants)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, s := range ready {
				n := 0
				for period(n) != s.Day {
					n++
				}
				_, waits, _ := strings.Cut(s.Because, ": ")
				got = append(got, fmt.Sprintf("%s %d %v", s.Stage, n, strings.TrimSuffix(waits, ".")))
			}
			if got := strings.Join(got, "; "); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestNetRefuses(t *testing.T) {
	hob := Want{Kind: Part, Code: "hob", Quantity: dec("1"), Day: period(3)}
	for _, c := range []struct {
		name string
		p    Position
		want Want
		err  error
	}{
		{"today", Position{Today: "tomorrow"}, hob, ErrDay},
		{"a want's day", Position{}, Want{Kind: Part, Code: "hob", Quantity: dec("1"), Day: "2026-02-30"}, ErrDay},
		{"a due day", Position{Due: []Due{{Kind: Part, Code: "hob", Quantity: dec("1")}}}, hob, ErrDay},
		{"below nothing", Position{}, Want{Kind: Part, Code: "hob", Quantity: dec("-1"), Day: period(3)}, ErrQuantity},
		{"too fine", Position{}, Want{Kind: Part, Code: "hob", Quantity: dec("0.0000001"), Day: period(3)}, ErrQuantity},
		{"a million is good", Position{}, Want{Kind: Part, Code: "hob", Quantity: dec("1000000"), Day: period(3)}, nil},
		{"and one more is not", Position{}, Want{Kind: Part, Code: "hob", Quantity: dec("1000001"), Day: period(3)}, ErrQuantity},
		{"an exponent", Position{Held: []Holding{{Part, "hob", "", dec("1e900")}}}, hob, ErrQuantity},
		{"a circle", Position{Items: []Item{{Code: "hob", Kind: Part, Recipe: takes("1b")}, {Code: "b", Kind: Kit, Recipe: takes("1c")}, {Code: "c", Kind: Part, Recipe: []Component{{"hob", dec("1")}}}}}, hob, ErrCircle},
		{"a kit nobody wants", Position{}, Want{Kind: Part, Code: "hob", Quantity: dec("1"), Day: period(3), Via: []string{"set"}}, ErrWant},
		{"an item twice", Position{Items: []Item{{Code: "hob", Kind: Part}, {Code: "hob", Kind: Part}}}, hob, ErrItem},
		{"a lead time", Position{Items: []Item{{Code: "hob", Kind: Part, LeadDays: -1}}}, hob, ErrItem},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.p.Today == "" {
				c.p.Today = period(1)
			}
			if _, err := c.p.Net([]Want{c.want}); !errors.Is(err, c.err) {
				t.Errorf("got %v, want %v", err, c.err)
			}
		})
	}
}

// TestNetIsAWitnessPieceByPiece holds Net against a walk that gives every
// single piece a place: from the shelf, from a delivery, from a lot.
func TestNetIsAWitnessPieceByPiece(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const most = 5
		names := []string{"A", "B", "C", "D", "E"}
		p := Position{Today: period(1)}
		lead, least, multiple, stock := [most]int{}, [most]int{}, [most]int{}, [most]int{}
		recipe := [most][most]int{} // of the item on the left, only later ones
		dues := [most][]int{}       // a day a piece
		for i, name := range names {
			lead[i], stock[i] = rapid.IntRange(0, 2).Draw(t, "lead"), rapid.IntRange(0, 6).Draw(t, "stock")
			least[i], multiple[i] = rapid.IntRange(0, 4).Draw(t, "least"), rapid.IntRange(0, 4).Draw(t, "multiple")
			it := Item{Code: name, Kind: Part, LeadDays: lead[i], Least: decimal.New(int64(least[i]), 0), Multiple: decimal.New(int64(multiple[i]), 0)}
			for j := i + 1; j < most; j++ {
				if recipe[i][j] = rapid.IntRange(-2, 2).Draw(t, "each"); recipe[i][j] > 0 {
					it.Recipe = append(it.Recipe, Component{names[j], decimal.New(int64(recipe[i][j]), 0)})
				}
			}
			p.Items = append(p.Items, it)
			p.Held = append(p.Held, Holding{Kind: Part, Code: name, Quantity: decimal.New(int64(stock[i]), 0)})
			for range rapid.IntRange(0, 3).Draw(t, "deliveries") {
				day, q := rapid.IntRange(-2, 12).Draw(t, "due"), rapid.IntRange(1, 4).Draw(t, "of it")
				p.Due = append(p.Due, Due{Kind: Part, Code: name, Day: period(day), Quantity: decimal.New(int64(q), 0)})
				for range q {
					dues[i] = append(dues[i], max(day, 1)) // overdue: today at the earliest
				}
			}
			slices.Sort(dues[i])
		}
		var wants []Want
		pieces := [most][]int{} // days
		for range rapid.IntRange(1, 6).Draw(t, "wants") {
			i, day, q := rapid.IntRange(0, most-1).Draw(t, "item"), rapid.IntRange(4, 12).Draw(t, "day"), rapid.IntRange(1, 4).Draw(t, "quantity")
			wants = append(wants, Want{Kind: Part, Code: names[i], Day: period(day), Quantity: decimal.New(int64(q), 0)})
			for range q {
				pieces[i] = append(pieces[i], day)
			}
		}
		plan, err := p.Net(wants)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]int{}
		for _, l := range append(plan.Buy, plan.Make...) {
			got[l.Code+" "+l.Day] += int(l.Quantity.IntPart())
		}
		want := map[string]int{}
		for i := range most { // the later items are made of nothing earlier
			slices.Sort(pieces[i])
			var short []int
			shelf, used := stock[i], make([]bool, len(dues[i]))
			find := func(by int) bool {
				for k := range dues[i] {
					if !used[k] && dues[i][k] <= by {
						used[k] = true
						return true
					}
				}
				return false
			}
			for _, day := range pieces[i] {
				if shelf > 0 {
					shelf--
				} else if !find(day) {
					short = append(short, day)
				}
			}
			var toPlan []int
			for _, day := range short {
				if !find(1_000) {
					toPlan = append(toPlan, day)
				}
			}
			over := 0
			for len(toPlan) > 0 {
				day, n := toPlan[0], 0
				for n < len(toPlan) && toPlan[n] == day {
					n++
				}
				toPlan = toPlan[n:]
				if n <= over {
					over -= n
					continue
				}
				q := max(n-over, least[i])
				for multiple[i] > 0 && q%multiple[i] > 0 {
					q++
				}
				over += q - n
				want[names[i]+" "+period(day)] += q
				for j, each := range recipe[i] {
					for range max(0, each) * q {
						pieces[j] = append(pieces[j], day-lead[i])
					}
				}
			}
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("planned %v\nwitness %v", got, want)
		}
	})
}
