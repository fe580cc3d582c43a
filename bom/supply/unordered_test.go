package supply

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

func unorderedText(t *testing.T, list []Unordered) string {
	t.Helper()
	number := func(day string) string {
		for n := range 40 {
			if period(n) == day {
				return fmt.Sprint(n)
			}
		}
		return day
	}
	var all []string
	for i := range list {
		u := &list[i]
		text := fmt.Sprintf("%s %s wanted %s by %s there %s", u.Job, u.Stage, number(u.Wanted), number(u.OrderBy), number(u.There))
		if u.TooLate {
			text += " late"
		}
		for _, p := range u.Parts {
			text += fmt.Sprintf(" %s×%s", p.Name, p.Quantity)
		}
		all = append(all, text)
	}
	return strings.Join(all, "; ")
}

func TestUnordered(t *testing.T) {
	p := Position{Today: period(3), Items: []Item{
		{Code: "roof", Kind: Kit, LeadDays: 2}, {Code: "shell", Kind: Part, LeadDays: 5}, {Code: "hob", Kind: Part, LeadDays: 1},
		{Code: "odd", Kind: Part, Unsourced: true}, {Code: "test", Kind: Outside, LeadDays: 1}, {Code: "pipe", Kind: Part, LeadDays: 2},
	}, Held: []Holding{{Part, "hob", "", dec("1")}}, Due: []Due{{Part, "pipe", "", period(9), dec("1"), "3"}}}
	wants := []Want{
		{Job: "a", Stage: "roof", Kind: Kit, Code: "roof", Quantity: dec("1"), Day: period(8)},
		{Job: "a", Stage: "roof", Kind: Part, Code: "shell", Name: "Shell", Quantity: dec("1"), Day: period(6), Via: []string{"roof"}},
		{Job: "a", Stage: "roof", Kind: Part, Code: "hob", Name: "Hob", Quantity: dec("1"), Day: period(8)},  // in stock
		{Job: "a", Stage: "gas", Kind: Part, Code: "hob", Name: "Hob", Quantity: dec("2"), Day: period(9)},   // to order
		{Job: "a", Stage: "gas", Kind: Part, Code: "pipe", Name: "Pipe", Quantity: dec("1"), Day: period(8)}, // late, not unordered
		{Job: "a", Stage: "gas", Kind: Outside, Code: "test", Name: "Test", Quantity: dec("1"), Day: period(9)},
		{Job: "b", Stage: "gas", Kind: Part, Code: "hob", Name: "Hob", Quantity: dec("1"), Day: period(12)},
		{Job: "b", Stage: "bed", Kind: Part, Code: "odd", Name: "Odd", Quantity: dec("1"), Day: period(5)},
	}
	plan, err := p.Net(wants)
	if err != nil {
		t.Fatal(err)
	}
	all := func(string) bool { return true }
	got, err := p.Unordered(&plan, wants, all)
	// The shell comes on the 8th and is two days at the bench.
	if want := "a roof wanted 6 by 1 there 10 late Shell×1; b bed wanted 5 by 5 there  Odd×1; a gas wanted 9 by 8 there 4 Hob×2; b gas wanted 12 by 11 there 4 Hob×1"; err != nil || unorderedText(t, got) != want {
		t.Errorf("got  %s %v\nwant %s", unorderedText(t, got), err, want)
	}
	if says := got[0].Says(); says != "Nobody has ordered Shell." {
		t.Error(says)
	}
	got, err = p.Unordered(&plan, wants, func(part string) bool { return part == "odd" })
	if want := "b bed wanted 5 by 5 there  Odd×1"; err != nil || unorderedText(t, got) != want {
		t.Errorf("of what is kept: %s %v", unorderedText(t, got), err)
	}
	many := Unordered{Parts: []UnorderedPart{{Name: "A"}, {Name: "B"}, {Name: "C"}, {Name: "D"}, {Name: "E"}}}
	if says := many.Says(); says != "Nobody has ordered A, B, C and 2 more." {
		t.Error(says)
	}
}

// TestUnorderedIsWhatIsPlanned: part for part what nobody has ordered is what
// the netting found neither in stock nor due, and it is told once.
func TestUnorderedIsWhatIsPlanned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := []string{"A", "B", "C"}
		p := Position{Today: period(3)}
		for _, name := range names {
			p.Items = append(p.Items, Item{Code: name, Kind: Part, LeadDays: rapid.IntRange(0, 4).Draw(t, "lead"), Least: decimal.New(rapid.Int64Range(0, 4).Draw(t, "least"), 0)})
			p.Held = append(p.Held, Holding{Kind: Part, Code: name, Quantity: decimal.New(rapid.Int64Range(0, 4).Draw(t, "stock"), 0)})
			p.Due = append(p.Due, Due{Kind: Part, Code: name, Day: period(rapid.IntRange(0, 12).Draw(t, "due")), Quantity: decimal.New(rapid.Int64Range(0, 3).Draw(t, "of it"), 0)})
		}
		var wants []Want
		for range rapid.IntRange(1, 10).Draw(t, "wants") {
			w := Want{Job: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "job"), Stage: rapid.SampledFrom([]string{"gas", "bed"}).Draw(t, "stage"),
				Kind: Part, Code: rapid.SampledFrom(names).Draw(t, "part"), Quantity: decimal.New(rapid.Int64Range(1, 4).Draw(t, "quantity"), 0), Day: period(rapid.IntRange(3, 12).Draw(t, "day"))}
			wants = append(wants, w)
		}
		plan, err := p.Net(wants)
		if err != nil {
			t.Fatal(err)
		}
		kept := names[:rapid.IntRange(0, 3).Draw(t, "kept")]
		list, err := p.Unordered(&plan, wants, func(part string) bool { return slices.Contains(kept, part) })
		if err != nil {
			t.Fatal(err)
		}
		want := map[[3]string]decimal.Decimal{}
		for i, w := range wants {
			if q := plan.Met[i].Planned; slices.Contains(kept, w.Code) && q.Sign() > 0 {
				want[[3]string{w.Job, w.Stage, w.Code}] = want[[3]string{w.Job, w.Stage, w.Code}].Add(q)
			}
		}
		for i := range list {
			u := &list[i]
			if u.TooLate != (u.OrderBy < p.Today) || u.TooLate && u.There <= u.Wanted {
				t.Fatalf("%+v", u)
			}
			for _, part := range u.Parts {
				key := [3]string{u.Job, u.Stage, part.Code}
				if !want[key].Equal(part.Quantity) {
					t.Fatalf("%v: %s told, %s planned", key, part.Quantity, want[key])
				}
				delete(want, key)
			}
		}
		if len(want) > 0 {
			t.Fatalf("not told: %v", want)
		}
	})
}
