package bom

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/options"
)

// What a salesperson reads: all that is wrong, and the ways out.
func TestConflictsInWords(t *testing.T) {
	r := sample(t)
	choices := Choices{Features: append(wants("whole_conversion", "gas_hob", "spirit_stove"), Choice{Refuse: "leisure_battery"}, Choice{Want: "socket", Count: 2}),
		Finishes: []FinishChoice{{"worktop", "oak"}}}
	c, faults, err := FindConflicts(r, Van{BaseVan: "short"}, choices, 0)
	if err != nil || len(faults) > 0 || c.More {
		t.Fatal(faults, c.More, err)
	}
	var got []string
	for _, conflict := range c.List {
		got = append(got, strings.Join(conflict.At, " ")+": "+strings.Join(conflict.Why.Sentences, " "))
	}
	want := []string{
		"choices/features/2 choices/features/3: Chosen: the gas hob, the spirit stove. Only one can be had of: Cooking. So the gas hob and the spirit stove cannot be had together.",
		"choices/features/2 choices/finishes/1: Chosen: the gas hob, worktop oak. An oak worktop is not to stand next to a flame. So the gas hob and worktop oak cannot be had together.",
		"choices/features/4 choices/features/5: Chosen: no leisure battery, 2 of the USB socket. Sockets need a leisure battery. So no leisure battery and 2 of the USB socket cannot be had together.",
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestWaysOutInWords(t *testing.T) {
	r := sample(t)
	minibus := Van{BaseVan: "minibus", Fitted: []FittedItem{{Feature: "side_window", Action: Replace}}}
	for _, test := range []struct {
		name    string
		van     Van
		choices Choices
		wish    Wish
		want    []string // number undone, what is done, LEFT: what leaves the package
		blocked string
	}{
		{"another kind of work", Van{BaseVan: "short"}, Choices{Features: wants("windows_only")}, Wish{Feature: Choice{Want: "gas_hob"}},
			[]string{"1: Take the whole conversion in place of the windows only. Add the gas hob."}, ""},
		{"in place of a pick", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "spirit_stove")}, Wish{Feature: Choice{Want: "gas_hob"}},
			[]string{"1: Take the gas hob in place of the spirit stove."}, ""},
		{"fewer of them", Van{BaseVan: "short"}, Choices{Features: append(wants("whole_conversion"), Choice{Want: "side_window", Count: 4})}, Wish{Feature: Choice{Want: "lifting_roof"}},
			[]string{"1: Take 3 of the side window in place of 4 of the side window. Add the lifting roof."}, ""},
		{"another finish", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "gas_hob"), Finishes: []FinishChoice{{"worktop", "white"}}},
			Wish{Finish: FinishChoice{"worktop", "oak"}}, []string{"1: Take the spirit stove in place of the gas hob. Take worktop oak in place of worktop white."}, ""},
		{"without what comes with it", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "socket")}, Wish{Feature: Choice{Refuse: "leisure_battery"}},
			[]string{"1: Drop the USB socket. Leave out the leisure battery."}, ""},
		{"a refusal taken back", Van{BaseVan: "short"}, Choices{Features: []Choice{{Want: "whole_conversion"}, {Refuse: "galley"}}}, Wish{Feature: Choice{Want: "gas_hob"}},
			[]string{"1: Allow the galley after all. Add the gas hob."}, ""},
		{"what was chosen is not wanted any more", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "bed")}, Wish{Feature: Choice{Refuse: "bed"}},
			[]string{"0: Leave out the bed."}, ""},
		{"what was refused is wanted", Van{BaseVan: "short"}, Choices{Features: []Choice{{Want: "whole_conversion"}, {Refuse: "socket"}}}, Wish{Feature: Choice{Want: "socket", Count: 2}},
			[]string{"0: Have 2 of the USB socket after all."}, ""},
		{"the package gives way", Van{BaseVan: "short"}, Choices{Package: "weekender"}, Wish{Feature: Choice{Want: "gas_hob"}},
			[]string{"0: Add the gas hob. LEFT: spirit_stove"}, ""},
		{"out of a contradiction", Van{BaseVan: "short"}, Choices{Features: append(wants("whole_conversion", "socket"), Choice{Refuse: "leisure_battery"})}, Wish{},
			[]string{"1: Allow the leisure battery after all.", "1: Drop the USB socket."}, ""},
		{"nothing to do", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "bed")}, Wish{Feature: Choice{Want: "bed"}},
			[]string{"0: Nothing has to be changed."}, ""},
		{"a finish without rules", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "bed"), Finishes: []FinishChoice{{"fabric", "wool"}}}, Wish{Finish: FinishChoice{"fabric", "cord"}},
			[]string{"0: Take fabric cord in place of fabric wool."}, ""},
		{"no bench comes into a panel van", Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion")}, Wish{Feature: Choice{Want: "bench_seat"}}, nil, "van"},
		{"no lifting roof on a minibus", Van{BaseVan: "minibus"}, Choices{Features: wants("whole_conversion")}, Wish{Feature: Choice{Want: "lifting_roof"}}, nil, "rules"},
		{"what is replaced stays", minibus, Choices{Features: wants("windows_only")}, Wish{Feature: Choice{Refuse: "side_window"}}, nil, "van"},
	} {
		t.Run(test.name, func(t *testing.T) {
			out, faults, err := FindWaysOut(r, test.van, test.choices, test.wish, nil)
			if err != nil || len(faults) > 0 || !out.Exact {
				t.Fatal(faults, out.Exact, err)
			}
			var got []string
			for _, w := range out.Ways {
				s := fmt.Sprintf("%d: %s", w.Undone, w.Says)
				if len(w.LeftOut) > 0 {
					s += " LEFT: " + strings.Join(w.LeftOut, " ")
				}
				got = append(got, s)
				if after := resolved(t, r, test.van, w.Choices, SettleNothing); !after.Specification.Allowed {
					t.Errorf("%s: something is put aside: %+v", s, after.Answer.PutAside)
				}
			}
			if !slices.Equal(got, test.want) || out.Blocked != test.blocked || (out.Blocked != "") != (out.Why != nil) {
				t.Errorf("blocked %q, got\n%s\nwant\n%s", out.Blocked, strings.Join(got, "\n"), strings.Join(test.want, "\n"))
			}
		})
	}
}

// What is wished for is read as strictly as a choice.
func TestFaultsOfAWish(t *testing.T) {
	r := sample(t)
	for _, test := range []struct {
		wish Wish
		want string
	}{
		{Wish{Feature: Choice{Want: "gas_hop"}}, `unknown_code wish/want: Did you mean "gas_hob"?`},
		{Wish{Feature: Choice{Want: "socket", Count: 7}}, "out_of_range wish/count: Give a number from 1 to 6."},
		{Wish{Finish: FinishChoice{"fabric", "silk"}}, "unknown_code wish/choice: "},
		{Wish{Feature: Choice{Want: "bed"}, Finish: FinishChoice{"fabric", "wool"}}, "not_exactly_one wish: "},
	} {
		_, faults, err := FindWaysOut(r, Van{BaseVan: "short"}, Choices{}, test.wish, nil)
		if err != nil || len(faults) != 1 || !strings.HasPrefix(faults[0].Code+" "+faults[0].At+": "+faults[0].Remedy, test.want) {
			t.Errorf("%+v: %v, %v", test.wish, faults, err)
		}
	}
	if _, faults, _ := FindWaysOut(r, Van{BaseVan: "shrt"}, Choices{Features: wants("bad")}, Wish{Feature: Choice{Want: "bed"}}, nil); len(faults) != 2 {
		t.Errorf("faults of van and choices: %v", faults)
	}
	enough := errors.New("enough")
	if _, _, err := FindWaysOut(r, Van{BaseVan: "short"}, Choices{}, Wish{Feature: Choice{Want: "bed"}}, func(*Way) (int64, error) { return 0, enough }); !errors.Is(err, enough) {
		t.Errorf("an error of the price: %v", err)
	}
}

// Whatever is asked: each way resolves with nothing of the customer's put
// aside and has what was wished for; conflicts are there just when something is
// put aside; every reason ends in sentences.
func TestWaysOutResolveClean(t *testing.T) {
	r := sample(t)
	ways := 0
	rapid.Check(t, func(t *rapid.T) {
		van, choices := randomAsk(t, r)
		feature := anyOf(t, "feature", r.catalogue.Features)
		wish := Wish{Feature: Choice{Want: feature.Code}}
		switch rapid.IntRange(0, 3).Draw(t, "wish") {
		case 0:
			wish = Wish{Feature: Choice{Refuse: feature.Code}}
		case 1:
			wish = Wish{}
		}
		before, faults, err := Resolve(r, van, choices, SettleNothing)
		if err != nil || len(faults) > 0 {
			t.Fatal(faults, err)
		}
		asked := 0
		out, faults, err := FindWaysOut(r, van, choices, wish, func(w *Way) (int64, error) {
			asked++
			return int64(len(w.Choices.Features)), nil
		})
		if err != nil || len(faults) > 0 || asked > options.MostCandidates {
			t.Fatal(faults, asked, err)
		}
		for _, w := range out.Ways {
			after, faults, err := Resolve(r, van, w.Choices, SettleNothing)
			if err != nil || len(faults) > 0 {
				t.Fatal(faults, err)
			}
			for _, p := range after.Answer.PutAside {
				if c := after.Said[p.Choice]; c.Verb != options.Pick || c.Source != options.FromPackage {
					t.Fatalf("%s puts aside %+v", w.Says, c)
				}
			}
			if is := said(after.Specification, feature.Code) != nil; wish.Feature.Want != "" && !is || wish.Feature.Refuse != "" && is {
				t.Fatalf("%s does not give %+v", w.Says, wish)
			}
			ways++
		}
		if (out.Blocked == "") != (len(out.Ways) > 0 || wish == (Wish{}) && before.Specification.Allowed) {
			t.Fatalf("%d ways, blocked %q", len(out.Ways), out.Blocked)
		}
		conflicts, _, err := FindConflicts(r, van, choices, 0)
		if err != nil || (len(conflicts.List) == 0) != before.Specification.Allowed {
			t.Fatalf("allowed %v, %d conflicts, %v", before.Specification.Allowed, len(conflicts.List), err)
		}
		work := int64(ReasonWork)
		for _, o := range before.Answer.Options {
			e, faults, err := Explain(r, &before, About{Feature: r.featureCodes[o.Feature]}, &work)
			told := e.Told
			if err != nil || len(faults) > 0 || (told == nil) != (o.Standing == options.Open) || e.Standing != o.Standing.String() {
				t.Fatal(o, told, faults, err)
			}
			if told != nil && slices.ContainsFunc(told.Sentences, func(s string) bool { return !strings.HasSuffix(s, ".") }) {
				t.Fatalf("%q", told.Sentences)
			}
		}
	})
	if ways == 0 {
		t.Error("there was never a way")
	}
}

// A package that holds more of something than there can be gives way by so
// many as it must.
func TestPackageGivesWayByNumber(t *testing.T) {
	c := sampleCatalogue(t)
	for i := range c.Packages[0].Items {
		if item := &c.Packages[0].Items[i]; item.Feature == "side_window" {
			item.Count = 4
		}
	}
	r, van := compiled(t, c), Van{BaseVan: "short"}
	out, faults, err := FindWaysOut(r, van, Choices{Package: "weekender"}, Wish{Feature: Choice{Want: "lifting_roof"}}, nil)
	if err != nil || len(faults) > 0 || len(out.Ways) != 1 {
		t.Fatal(out.Ways, faults, err)
	}
	way := out.Ways[0]
	if want := "Add the lifting roof. Have only 3 of the side window."; way.Says != want || !slices.Contains(way.LeftOut, "side_window") {
		t.Errorf("%q, left out %v", way.Says, way.LeftOut)
	}
	after := resolved(t, r, van, way.Choices, SettleNothing)
	if n := said(after.Specification, "side_window"); len(after.Answer.PutAside) > 0 || n == nil || n.Count != 3 {
		t.Errorf("%+v, put aside %v", n, after.Answer.PutAside)
	}
}
