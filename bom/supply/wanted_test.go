package supply_test

import (
	"fmt"
	"io/fs"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/bom/supply"
	"wainscot/testdata"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// demo is the demo workshop's release, with kits that take days at the bench.
var demo = sync.OnceValue(func() *bom.Release {
	names, err := fs.Glob(testdata.Demo, "demo/catalogue/*.yaml")
	if err != nil {
		panic(err)
	}
	files := make([]document.File, len(names))
	for i, name := range names {
		data, err := testdata.Demo.ReadFile(name)
		if err != nil {
			panic(err)
		}
		files[i] = document.File{Name: name, Data: data}
	}
	c, _, faults := catalogue.Decode(files)
	if len(faults) > 0 {
		panic(faults.Error())
	}
	for i := range c.Kits {
		c.Kits[i].BenchDays = i % 4
	}
	r, faults := bom.Compile(c)
	if len(faults) > 0 {
		panic(faults.Error())
	}
	return r
})

// sheets are build sheets of unlike vans of the demo workshop.
var sheets = sync.OnceValue(func() []bom.Sheet {
	var list []bom.Sheet
	for _, wish := range []struct{ van, features string }{
		{"short_panel_van", "whole_conversion roof_elevating win_near_slide win_off_fixed hob_two kitchen_unit bed_slide"},
		{"long_panel_van", "whole_conversion roof_elevating win_rear_off_fixed sink_round furniture_bench"},
		{"minibus", "whole_conversion roof_elevating swivel_single"},
		{"short_panel_van", "windows_only win_near_slide"},
		{"short_panel_van", "roof_only roof_elevating"},
	} {
		var c bom.Choices
		for code := range strings.FieldsSeq(wish.features) {
			c.Features = append(c.Features, bom.Choice{Want: code})
		}
		if len(list) == 0 {
			c.Additions = []bom.Addition{
				{Code: "shelf", Kind: bom.OneOff, Words: "A shelf for the dog", Stage: "furniture"},
				{Code: "own_hob", Kind: bom.CustomersOwn, Words: "Own hob", Stage: "furniture", InPlaceOf: "strut_standard", Quantity: 1, DueBy: "2027-03-01"},
			}
		}
		r, faults, err := bom.Resolve(demo(), bom.Van{BaseVan: wish.van}, c, bom.SettleByDefaults)
		if err != nil || len(faults) > 0 {
			panic(fmt.Sprint(wish, err, faults))
		}
		list = append(list, bom.Expand(demo(), r.Specification))
	}
	return list
})

// slot gives every stage of the demo a day of its own, in order, from a Monday.
func slot(from string) (stages []schedule.StageDays) {
	day := from
	for _, s := range demo().Catalogue().Stages {
		stages = append(stages, schedule.StageDays{Stage: s.Code, From: day, Until: day})
		for next := true; next; {
			day, _ = calendar.Add(day, 1)
			works, _ := calendar.Calendar{}.Works(day)
			next = !works
		}
	}
	return stages
}

// What is wanted of a van is what its build sheet says, line by line: nothing
// lost, nothing twice.
func TestWantedIsTheBuildSheet(t *testing.T) {
	kits := map[string]int{}
	for _, k := range demo().Catalogue().Kits {
		kits[k.Code] = k.BenchDays
	}
	for i, sheet := range sheets() {
		stages := slot("2027-03-01")
		needs, err := supply.Wanted("job", demo().Catalogue(), &sheet, stages, calendar.Calendar{})
		if err != nil {
			t.Fatal(err)
		}
		type line struct{ stage, code string }
		sums := map[line]decimal.Decimal{}
		for _, w := range slices.Concat(needs.Wants, needs.ToppedUp, needs.OneOffs) {
			sums[line{w.Stage, w.Code}] = sums[line{w.Stage, w.Code}].Add(w.Quantity)
			at := slices.IndexFunc(stages, func(s schedule.StageDays) bool { return s.Stage == w.Stage })
			back := 0
			for _, k := range w.Via {
				back += kits[k]
			}
			if day, _ := (calendar.Calendar{}).Back(stages[at].From, back); w.Day != day {
				t.Errorf("sheet %d: %s by way of %v is wanted on %s, not %s", i, w.Code, w.Via, w.Day, day)
			}
			if w.Quantity.Sign() <= 0 {
				t.Errorf("sheet %d: %s of %s", i, w.Quantity, w.Code)
			}
		}
		for _, o := range needs.Open {
			sums[line{o.Stage, ""}] = sums[line{o.Stage, ""}].Add(o.Quantity)
		}
		for _, l := range sheet.Lines {
			switch {
			case l.Kind == bom.HoursLine || l.Kind == bom.StandingLine || l.Kind == bom.OwnPartLine || l.Provision == catalogue.Consumable:
				continue
			case l.Code == "":
				continue // several finishes may be open at one stage
			}
			if !sums[line{l.Stage, l.Code}].Equal(l.Quantity) {
				t.Errorf("sheet %d: %s of %s at %s, and %s wanted", i, l.Quantity, l.Code, l.Stage, sums[line{l.Stage, l.Code}])
			}
			delete(sums, line{l.Stage, l.Code})
		}
		for l := range sums {
			if l.code != "" {
				t.Errorf("sheet %d: %v is wanted, and on no line", i, l)
			}
		}
		if i == 0 && len(needs.OneOffs) != 1 {
			t.Errorf("one-offs %v", needs.OneOffs)
		}
		undated, err := supply.Wanted("job", demo().Catalogue(), &sheet, nil, calendar.Calendar{})
		if err != nil || len(undated.Wants) != len(needs.Wants) || slices.ContainsFunc(undated.Wants, func(w supply.Want) bool { return w.Day != "" }) {
			t.Errorf("sheet %d without a slot: %v", i, err)
		}
		if dated, err := undated.On(demo().Catalogue(), stages, calendar.Calendar{}); err != nil || !reflect.DeepEqual(dated, needs) {
			t.Errorf("sheet %d given its slot later has other needs: %v", i, err)
		}
	}
}

// A finish nobody has chosen, a kit with fractions, a customer's own part, and
// rounding that belongs to nobody.
func TestWantedOfLines(t *testing.T) {
	c := &catalogue.Catalogue{Kits: []catalogue.Kit{{Code: "door", BenchDays: 1}, {Code: "galley", BenchDays: 2}}}
	why := func(quantity string, via ...string) bom.Because {
		return bom.Because{Via: via, Quantity: dec(quantity)}
	}
	sheet := bom.Sheet{Lines: []bom.Line{
		{Stage: "build", Kind: bom.KitLine, Code: "galley", Quantity: dec("1"), Because: []bom.Because{why("1")}},
		{Stage: "build", Kind: bom.KitLine, Code: "door", Quantity: dec("3"), Because: []bom.Because{why("3", "galley")}},
		{Stage: "build", Kind: bom.PartLine, Code: "ply", Quantity: dec("6"), Provision: catalogue.ForTheJob,
			Because: []bom.Because{why("1.25", "galley", "door"), why("4.4", "galley"), why("0.1"), why("-0.05")}},
		{Stage: "build", Kind: bom.PartLine, Code: "glue", Quantity: dec("2"), Provision: catalogue.ToppedUp, Because: []bom.Because{why("0.666666666667", "galley"), why("0.666666666667", "galley", "door")}},
		{Stage: "build", Kind: bom.PartLine, Finish: "worktop", Name: "Worktop", Quantity: dec("1.5"), Provision: catalogue.ForTheJob, Because: []bom.Because{why("1.5")}},
		{Stage: "build", Kind: bom.PartLine, Code: "tape", Quantity: dec("4"), Provision: catalogue.Consumable, Because: []bom.Because{why("4")}},
		{Stage: "build", Kind: bom.OwnPartLine, Code: "own", Quantity: dec("1"), Because: []bom.Because{why("1")}},
		{Stage: "test", Kind: bom.OutsideLine, Code: "gas_test", Quantity: dec("1"), Because: []bom.Because{why("1")}},
	}}
	needs, err := supply.Wanted("7", c, &sheet, []schedule.StageDays{
		{Stage: "build", From: "2027-03-10", Until: "2027-03-12"}, {Stage: "test", From: "2027-03-15", Until: "2027-03-17"},
	}, calendar.Calendar{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	say := func(what string, w supply.Want) {
		got = append(got, fmt.Sprintf("%s %s %s %v %s", what, w.Quantity, w.Code, w.Via, w.Day))
	}
	for _, w := range needs.Wants {
		say("want", w)
	}
	for _, w := range needs.ToppedUp {
		say("bin", w)
	}
	for _, o := range needs.Open {
		got = append(got, fmt.Sprintf("open %s %s %s", o.Quantity, o.Finish, o.Day))
	}
	want := []string{
		"want 1 galley [] 2027-03-10", "want 3 door [galley] 2027-03-08",
		"want 1.25 ply [galley door] 2027-03-05", "want 4.4 ply [galley] 2027-03-08", "want 0.35 ply [] 2027-03-10",
		"want 1 gas_test [] 2027-03-15",
		"bin 0.666666 glue [galley door] 2027-03-05", "bin 1.333334 glue [galley] 2027-03-08",
		"open 1.5 worktop 2027-03-10",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
}

func TestMadeToMeasure(t *testing.T) {
	for _, i := range supply.Items(demo().Catalogue()) {
		switch i.Code {
		case "roof_elevating_short", "lifting_gear", "latch_set":
			if i.Measured {
				t.Errorf("%s is the same for every van", i.Code)
			}
		case "bonding_side":
			if !i.Measured {
				t.Errorf("%s depends on the window", i.Code)
			}
		}
	}
}

// A kit in stock covers what it is made of: held against a walk that makes or
// takes every single kit.
func TestKitsInStockCoverTheirComponents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := func(n int) string {
			d, _ := calendar.Add("2027-03-01", n)
			return d
		}
		whole := func(n int) decimal.Decimal { return decimal.New(int64(n), 0) }
		outers, inners, pieces := rapid.IntRange(0, 8).Draw(t, "outer kits"), rapid.IntRange(0, 12).Draw(t, "inner kits"), rapid.IntRange(0, 20).Draw(t, "pieces")
		p := supply.Position{Today: day(0), Items: []supply.Item{{Code: "outer", Kind: supply.Kit}, {Code: "inner", Kind: supply.Kit}, {Code: "piece", Kind: supply.Part}},
			Held: []supply.Holding{{Kind: supply.Kit, Code: "outer", Quantity: whole(outers)}, {Kind: supply.Kit, Code: "inner", Quantity: whole(inners)}, {Kind: supply.Part, Code: "piece", Quantity: whole(pieces)}}}
		var wants []supply.Want
		type asked struct{ day, n int }
		var outer, inner, piece []asked
		jobs := rapid.IntRange(1, 6).Draw(t, "jobs")
		for j := range jobs {
			job, on := fmt.Sprint(j), 2*rapid.IntRange(1, 20).Draw(t, "day")
			a, b, c := rapid.IntRange(1, 4).Draw(t, "outer"), rapid.IntRange(1, 4).Draw(t, "inner"), rapid.IntRange(1, 4).Draw(t, "piece")
			add := func(kind supply.Kind, code, stage string, n int, via ...string) {
				wants = append(wants, supply.Want{Job: job, Stage: stage, Kind: kind, Code: code, Quantity: whole(n), Day: day(on), Via: via})
			}
			add(supply.Part, "piece", "one", 8*a, "outer", "inner") // before what it goes into
			add(supply.Kit, "outer", "one", a)
			add(supply.Kit, "inner", "one", 2*a, "outer")
			add(supply.Part, "piece", "one", 3*a, "outer")
			add(supply.Kit, "inner", "two", b)
			add(supply.Part, "piece", "two", 4*b, "inner")
			add(supply.Part, "piece", "two", c)
			outer, inner, piece = append(outer, asked{on, a}), append(inner, asked{on, b}), append(piece, asked{on, c})
		}
		plan, err := p.Net(wants)
		if err != nil {
			t.Fatal(err)
		}
		// Piece by piece, each level from the earliest day on.
		byDay := func(list []asked, held int) (made []asked) {
			slices.SortStableFunc(list, func(a, b asked) int { return a.day - b.day })
			for _, k := range list {
				for range k.n {
					if held > 0 {
						held--
						continue
					}
					made = append(made, asked{k.day, 1})
				}
			}
			return made
		}
		for _, k := range byDay(outer, outers) {
			inner, piece = append(inner, asked{k.day, 2}), append(piece, asked{k.day, 3})
		}
		for _, k := range byDay(inner, inners) {
			piece = append(piece, asked{k.day, 4})
		}
		bought := map[string]int{}
		for _, k := range byDay(piece, pieces) {
			bought[day(k.day)]++
		}
		got := map[string]int{}
		for _, l := range plan.Buy {
			got[l.Day] += int(l.Quantity.IntPart())
		}
		if fmt.Sprint(got) != fmt.Sprint(bought) {
			t.Fatalf("bought %v\nwitness %v", got, bought)
		}
	})
}

// Whatever happens in which order: once what is proposed is ordered, what is in
// stock and due is at least what the jobs booked want, part by part, and
// proposing again proposes nothing.
func TestOrderedAndStockCoverWhatIsWanted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := supply.Items(demo().Catalogue())
		for i := range items {
			items[i].LeadDays = i % 7
			if items[i].Kind == supply.Part && i%3 == 0 {
				items[i].Multiple, items[i].Least = decimal.New(int64(1+i%5), 0), decimal.New(int64(i%4), 0)
			}
		}
		today := "2027-03-01"
		type shelf struct{ code, job string }
		held := map[shelf]decimal.Decimal{}
		var due []supply.Due
		jobs := map[int][]supply.Want{}
		next := 0
		position := func() (supply.Position, []supply.Want) {
			p := supply.Position{Today: today, Items: items, Due: due}
			for _, i := range items { // in an order of its own
				for _, job := range []string{"", "0", "1", "2", "3", "4"} {
					if q := held[shelf{i.Code, job}]; !q.IsZero() {
						p.Held = append(p.Held, supply.Holding{Kind: i.Kind, Code: i.Code, Job: job, Quantity: q})
					}
				}
			}
			var wants []supply.Want
			for n := range next {
				wants = append(wants, jobs[n]...)
			}
			return p, wants
		}
		net := func() (supply.Plan, []supply.Want) {
			p, wants := position()
			plan, err := p.Net(wants)
			if err != nil {
				t.Fatal(err)
			}
			return plan, wants
		}
		order := func() {
			plan, _ := net()
			for _, l := range slices.Concat(plan.Buy, plan.Make) {
				due = append(due, supply.Due{Kind: l.Kind, Code: l.Code, Job: l.Job, Day: l.Day, Quantity: l.Quantity})
			}
		}
		t.Repeat(map[string]func(*rapid.T){
			"book": func(t *rapid.T) {
				if next == 5 {
					t.Skip("enough")
				}
				s := sheets()[rapid.IntRange(0, len(sheets())-1).Draw(t, "van")]
				from, _ := calendar.Add("2027-03-29", 7*rapid.IntRange(0, 8).Draw(t, "week"))
				needs, err := supply.Wanted(fmt.Sprint(next), demo().Catalogue(), &s, slot(from), calendar.Calendar{})
				if err != nil {
					t.Fatal(err)
				}
				jobs[next] = needs.Wants
				next++
			},
			"cancel": func(t *rapid.T) {
				if next > 0 {
					delete(jobs, rapid.IntRange(0, next-1).Draw(t, "job"))
				}
			},
			"deliver late or soon": func(t *rapid.T) {
				if len(due) > 0 {
					due[rapid.IntRange(0, len(due)-1).Draw(t, "which")].Day, _ = calendar.Add("2027-03-01", rapid.IntRange(0, 90).Draw(t, "day"))
				}
			},
			"deliver": func(t *rapid.T) {
				if len(due) > 0 {
					i := rapid.IntRange(0, len(due)-1).Draw(t, "which")
					on := shelf{due[i].Code, due[i].Job}
					held[on] = held[on].Add(due[i].Quantity)
					due = slices.Delete(due, i, i+1)
				}
			},
			"order": func(*rapid.T) { order() },
			"": func(t *rapid.T) {
				keep := slices.Clone(due)
				order()
				plan, wants := net()
				if len(plan.Buy)+len(plan.Make) > 0 {
					t.Fatalf("all that was proposed is ordered, and more is proposed: %+v", plan.Buy)
				}
				sum := map[string]decimal.Decimal{}
				for on, q := range held {
					sum[on.code] = sum[on.code].Add(q)
				}
				for _, d := range due {
					sum[d.Code] = sum[d.Code].Add(d.Quantity)
				}
				// Of components, what the kits in stock or due leave to want.
				for i, w := range wants {
					m := plan.Met[i]
					if len(w.Via) == 0 && !m.Stock.Add(m.Due).Equal(w.Quantity) {
						t.Fatalf("%s of %s is wanted, %s in stock and %s due", w.Quantity, w.Code, m.Stock, m.Due)
					}
					sum[w.Code] = sum[w.Code].Sub(m.Stock).Sub(m.Due)
				}
				for code, left := range sum {
					if left.Sign() < 0 {
						t.Fatalf("%s: %s more is given than there is", code, left.Neg())
					}
				}
				due = keep
			},
		})
	})
}
