package catalogue_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// A catalogue is no different from itself; whatever is changed in it is told,
// in one direction and in the other, and counted.
func TestCompareSeesEveryChange(t *testing.T) {
	was, is := sample(t), sample(t)
	if c := catalogue.Compare(was, is); len(c.Differences) > 0 || len(c.Counts) > 0 || c.Cut > 0 {
		t.Fatalf("of itself: %+v", c)
	}
	changes, passedOver := 0, 0
	mutate(reflect.ValueOf(is).Elem(), "", func(at string) {
		changes++
		for _, c := range []catalogue.Comparison{catalogue.Compare(was, is), catalogue.Compare(is, was)} {
			if len(c.Differences) == 0 || len(c.Counts) == 0 {
				if isAnother(is, was) {
					t.Errorf("a change of %s is passed over", at)
				}
				passedOver++
			}
			for _, d := range c.Differences {
				if d.Says == "" || d.At == "" || d.Section == "" || d.How == "" || d.Was == d.Is && d.Was != "" || strings.Contains(d.Says, "\x00") {
					t.Errorf("%s is told as %+v", at, d)
				}
			}
		}
	})
	if changes < 800 || passedOver > 2*150 {
		t.Errorf("%d changes; of twice as many comparisons %d say nothing, because no catalogue is so", changes, passedOver)
	}
}

// isAnother says whether a catalogue could be read at all, and is then another
// one: a text where a number is meant is neither written nor read.
func isAnother(c, was *catalogue.Catalogue) bool {
	text, err := c.MarshalJSON()
	if err != nil {
		return false
	}
	read, _, faults := catalogue.DecodeJSON(text)
	return len(faults) == 0 && catalogue.Hash(read) != catalogue.Hash(was)
}

// What people change most often, in the words it is told in.
func TestCompareTells(t *testing.T) {
	first := slices.IndexFunc(sample(t).Features, func(f catalogue.Feature) bool { return len(f.Lines) > 0 })
	last := len(sample(t).Features) - 1
	for _, c := range []struct {
		name   string
		change func(*catalogue.Catalogue)
		want   []string
	}{
		{"a new rule", func(c *catalogue.Catalogue) {
			c.Rules = append(c.Rules, catalogue.Rule{Code: "beds_need_light", If: "bed", Needs: "socket >= 1", Says: "A bed needs a light."})
		}, []string{`The rule beds_need_light is new: A bed needs a light.`}},
		{"a rule gone", func(c *catalogue.Catalogue) { c.Rules = c.Rules[1:] },
			[]string{`The rule ` + sample(t).Rules[0].Code + ` is gone: ` + sample(t).Rules[0].Says}},
		{"a name, told once", func(c *catalogue.Catalogue) { c.Parts[0].Name = "Another name" },
			[]string{`The part "Another name": its name was "` + sample(t).Parts[0].Name + `", and is "Another name".`}},
		{"a condition that is no more", func(c *catalogue.Catalogue) { c.Finishes[0].When = "" },
			[]string{`The finish "Worktop": the condition under which it has to be chosen is gone; it was worktop.`}},
		{"a quantity", func(c *catalogue.Catalogue) {
			c.Features[first].Lines[0].Quantity = "7"
		}, nil},
		{"a mass", func(c *catalogue.Catalogue) { c.Parts[0].MassKG = decimal.New(125, -1) }, nil},
		{"the order", func(c *catalogue.Catalogue) { c.Groups[0], c.Groups[1] = c.Groups[1], c.Groups[0] },
			[]string{"The groups stand in another order."}},
		{"a feature gone", func(c *catalogue.Catalogue) {
			c.Features = c.Features[:last]
		}, []string{`The feature "` + sample(t).Features[last].Name + `" is gone.`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			was, is := sample(t), sample(t)
			c.change(is)
			got := catalogue.Compare(was, is)
			var says []string
			for _, d := range got.Differences {
				says = append(says, d.Says)
			}
			if c.want == nil && len(says) == 1 {
				golden(t, "testdata/compare/"+strings.ReplaceAll(c.name, " ", "_")+".txt", says[0]+"\n")
				return
			}
			if !slices.Equal(says, c.want) {
				t.Errorf("told %q", says)
			}
		})
	}
}

// What is new one way is gone the other, and the counts are those of the things.
func TestCompareBothWays(t *testing.T) {
	was, is := sample(t), sample(t)
	is.Rules, is.Parts[0].Name, is.Title = is.Rules[2:], "Another", "Another title"
	there, back := catalogue.Compare(was, is), catalogue.Compare(is, was)
	want := []catalogue.Counted{{catalogue.OfCatalogue, 0, 0, 1}, {catalogue.OfRules, 0, 2, 0}, {catalogue.OfParts, 0, 0, 1}}
	if !slices.Equal(there.Counts, want) {
		t.Errorf("counted %+v", there.Counts)
	}
	want[1].Added, want[1].Gone = 2, 0
	if !slices.Equal(back.Counts, want) {
		t.Errorf("and back %+v", back.Counts)
	}
}

// At the limit all is told, one past it the rest is counted.
func TestCompareIsCut(t *testing.T) {
	was, is := sample(t), sample(t)
	for i := range catalogue.MaxDifferences + 1 {
		if i == catalogue.MaxDifferences {
			if c := catalogue.Compare(was, is); len(c.Differences) != catalogue.MaxDifferences || c.Cut != 0 {
				t.Fatalf("%d told, %d cut", len(c.Differences), c.Cut)
			}
		}
		is.Trades = append(is.Trades, catalogue.Trade{Code: "t" + strings.Repeat("x", i), Name: "T"})
	}
	if c := catalogue.Compare(was, is); len(c.Differences) != catalogue.MaxDifferences || c.Cut != 1 || c.Counts[0].Added != catalogue.MaxDifferences+1 {
		t.Errorf("%d told, %d cut, %+v", len(c.Differences), c.Cut, c.Counts)
	}
}
