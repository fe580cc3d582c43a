package bom

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// flat is a sheet as numbers by name: each line's quantity and mass, each
// reason's unrounded quantity, each stage's hours. The witness for a
// difference: it knows nothing of how one is made.
func flat(s *Sheet) map[string]decimal.Decimal {
	m := map[string]decimal.Decimal{}
	add := func(key string, d decimal.Decimal) {
		if sum := m[key].Add(d); sum.IsZero() {
			delete(m, key)
		} else {
			m[key] = sum
		}
	}
	for _, l := range s.Lines {
		line := fmt.Sprintf("%s/%s/%s/%s", l.Stage, l.Kind, l.Code, l.Finish)
		add(line, l.Quantity)
		add(line+" kg", l.MassKG)
		if l.Kind == StandingLine {
			continue // the longest counts
		}
		for _, b := range l.Because {
			add(fmt.Sprintf("%s because %s/%s/%t/%s", line, b.Feature, b.Addition, b.Removal, strings.Join(b.Via, ",")), b.Quantity)
		}
	}
	for _, t := range s.Stages {
		add("hours "+t.Stage, t.Hours)
		add("standing "+t.Stage, t.StandingHours)
	}
	add("hours", s.Hours)
	add("kg", s.Mass.AddedKG.Sub(s.Mass.RemovedKG))
	return m
}

// plus adds a difference to a flat sheet.
func plus(m map[string]decimal.Decimal, d *Difference) map[string]decimal.Decimal {
	m = maps.Clone(m)
	add := func(key string, more decimal.Decimal) {
		if sum := m[key].Add(more); sum.IsZero() {
			delete(m, key)
		} else {
			m[key] = sum
		}
	}
	for _, l := range d.Lines {
		line := fmt.Sprintf("%s/%s/%s/%s", l.Stage, l.Kind, l.Code, l.Finish)
		add(line, l.More())
		add(line+" kg", l.MassAfterKG.Sub(l.MassBeforeKG))
		if l.Kind == StandingLine {
			continue
		}
		for _, b := range l.Because {
			add(fmt.Sprintf("%s because %s/%s/%t/%s", line, b.Feature, b.Addition, b.Removal, strings.Join(b.Via, ",")), b.After.Sub(b.Before))
		}
	}
	for _, t := range d.Stages {
		add("hours "+t.Stage, t.HoursAfter.Sub(t.HoursBefore))
		add("standing "+t.Stage, t.StandingAfter.Sub(t.StandingBefore))
	}
	add("hours", d.Hours)
	add("kg", d.AddedKG)
	return m
}

func holdsBetween(t interface {
	Fatalf(format string, args ...any)
}, before, after *Sheet,
) {
	d := Differ(before, after)
	want, got := flat(after), plus(flat(before), &d)
	if !maps.EqualFunc(want, got, decimal.Decimal.Equal) {
		t.Fatalf("before and difference are not after:\n%v\nwant\n%v\ndifference %s", got, want, jsonText(d))
	}
	for _, l := range d.Lines {
		if want := map[SheetChange]bool{LineAdded: l.Before.IsZero(), LineDropped: l.After.IsZero(), LineChanged: true}; !want[l.Change] {
			t.Fatalf("%s of %s is said to be %s", l.Name, l.Stage, l.Change)
		}
	}
	if same := Differ(after, after); len(same.Lines) > 0 || len(same.Stages) > 0 || !same.Hours.IsZero() || !same.AddedKG.IsZero() {
		t.Fatalf("a sheet differs from itself: %s", jsonText(same))
	}
}

// An earlier sheet and the difference are the later sheet, whatever is added,
// dropped or taken more or fewer times.
func TestBeforeAndDifferenceIsAfter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		before, after := Expand(r, randomSpecification(t, c)), Expand(r, randomSpecification(t, c))
		holdsBetween(t, &before, &after)
	})
}

// The sample has what the random ones have not: finishes, removals, additions
// and customers' own parts.
func TestDifferencesOfTheSample(t *testing.T) {
	r := sample(t)
	var sheets []Sheet
	files, err := filepath.Glob("testdata/sheets/*.yaml")
	if err != nil || len(files) < 3 {
		t.Fatal("no testdata/sheets/*.yaml", err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var ask struct {
			Van     Van     `yaml:"van"`
			Choices Choices `yaml:"choices" json:",omitzero"`
			Settle  Settle  `yaml:"settle" json:",omitempty"`
		}
		if _, faults := document.Decode(document.File{Name: name, Data: data}, &ask, ""); len(faults) > 0 {
			t.Fatal(faults)
		}
		sheets = append(sheets, Expand(r, resolved(t, r, ask.Van, ask.Choices, ask.Settle).Specification))
	}
	for i := range sheets {
		for k := range sheets {
			holdsBetween(t, &sheets[i], &sheets[k])
		}
	}
}

func TestADifferenceTellsReasons(t *testing.T) {
	c := blank()
	sheet, screw := part("sheet", "each"), part("screw", "each")
	sheet.MassKG = dec("4")
	c.Parts = []catalogue.Part{sheet, screw}
	line := func(part, quantity string) catalogue.Line {
		return catalogue.Line{Stage: "work", Part: part, Quantity: quantity}
	}
	c.Features = []catalogue.Feature{
		{Code: "shelf", Name: "Shelf", Group: "all", Lines: []catalogue.Line{line("sheet", "0.4"), line("screw", "8"), {Stage: "work", Trade: "fitter", Quantity: "1.5"}}},
		{Code: "door", Name: "Door", Group: "all", Lines: []catalogue.Line{line("sheet", "0.5")}},
		{Code: "hook", Name: "Hook", Group: "all", Lines: []catalogue.Line{line("screw", "2")}},
	}
	r := compiled(t, c)
	before, after := Expand(r, specified("van", fitted("shelf", 1), fitted("hook", 1))), Expand(r, specified("van", fitted("door", 1)))
	d := Differ(&before, &after)
	got := ""
	for _, l := range d.Lines {
		got += fmt.Sprintf("%s %s: %s → %s\n", l.Change, l.Code, l.Before, l.After)
		for _, b := range l.Because {
			got += fmt.Sprintf("  %s: %s → %s\n", b.Feature, b.Before, b.After)
		}
	}
	want := `dropped screw: 10 → 0
  shelf: 8 → 0
  hook: 2 → 0
changed sheet: 1 → 1
  shelf: 0.4 → 0
  door: 0 → 0.5
dropped fitter: 1.5 → 0
  shelf: 1.5 → 0
`
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	if len(d.Stages) != 1 || !d.Stages[0].HoursBefore.Equal(dec("1.5")) || !d.Hours.Equal(dec("-1.5")) || !d.AddedKG.Equal(dec("0.4")) {
		t.Errorf("hours and mass: %s", jsonText(d))
	}
}
