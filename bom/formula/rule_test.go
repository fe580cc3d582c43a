package formula

import (
	"fmt"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

func TestConditions(t *testing.T) {
	s := testScope(t)
	for _, c := range []struct{ source, want string }{
		{"", "true"},
		{"true || hob", "true"},
		{"hob", "hob"},
		{"hob && !(oven || heater)", "(hob && !((oven || heater)))"},
		{"hob && (oven && heater)", "(hob && oven && heater)"},
		{"!!hob", "hob"},
		{"sockets >= 1", "sockets"},
		{"sockets > 0", "sockets"},
		{"sockets == 0", "!(sockets)"},
		{"sockets != 0", "sockets"},
		{"sockets == 2", "(sockets >= 2 && !(sockets >= 3))"},
		{"2 == sockets", "(sockets >= 2 && !(sockets >= 3))"},
		{"sockets != 2", "(!(sockets >= 2) || sockets >= 3)"},
		{"sockets == 6", "sockets >= 6"},
		{"sockets <= 3.0", "!(sockets >= 4)"},
		{"3 > sockets", "!(sockets >= 3)"},
		// There are none of windows or 2 to 4.
		{"windows >= 1", "windows >= 2"},
		{"windows > 0", "windows >= 2"},
		{"windows < 2", "!(windows >= 2)"},
		{"windows <= 1", "!(windows >= 2)"},
		{"windows != 3", "(!(windows >= 3) || windows >= 4)"},
		{"van.steering == 'left'", `van.steering == "left"`},
		{"'left' != van.steering", `!(van.steering == "left")`},
		{"finish.fabric == 'wool'", `finish.fabric == "wool"`},
		{"finish.fabric == ''", `!((finish.fabric == "wool" || finish.fabric == "cord"))`},
		{"finish.fabric != ''", `(finish.fabric == "wool" || finish.fabric == "cord")`},
		{"van.load_length_mm >= 3000.50", "van.load_length_mm >= 3000.5"},
		{"3000 < van.load_length_mm", "van.load_length_mm > 3000"},
		{"van.rib_count == -1", "van.rib_count == -1"},
		{"van.body != 'minibus'", `!(van.body == "minibus")`},
		{"!van.bulkhead", "!(van.bulkhead)"},
	} {
		got, err := s.Condition(c.source)
		if err != nil {
			t.Errorf("%s: %v", c.source, err)
		} else if got.String() != c.want {
			t.Errorf("%s\n gives %s\n want  %s", c.source, got, c.want)
		}
	}
}

// conditions draws conditions of rules over the names of testCatalogue.
func conditions(r *rapid.T, depth int) string {
	op := func() string {
		return rapid.SampledFrom([]string{"==", "!=", "<", "<=", ">", ">="}).Draw(r, "op")
	}
	if depth == 0 {
		switch rapid.IntRange(0, 4).Draw(r, "atom") {
		case 0:
			return rapid.SampledFrom([]string{"hob", "oven", "heater", "true", "false", "van.bulkhead"}).Draw(r, "feature")
		case 1:
			name := rapid.SampledFrom([]string{"sockets", "windows"}).Draw(r, "counted")
			k := rapid.IntRange(-1, 8).Draw(r, "k")
			if rapid.Bool().Draw(r, "mirrored") {
				return fmt.Sprintf("%d %s %s", k, op(), name)
			}
			return fmt.Sprintf("%s %s %d", name, op(), k)
		case 2:
			return rapid.SampledFrom([]string{
				"van.steering == 'left'", "van.steering != 'right'", "finish.fabric == 'wool'", "finish.fabric != 'cord'",
				"finish.fabric == ''", "'' != finish.fabric", "van.body == 'minibus'", "van.body != 'panel van'",
			}).Draw(r, "text")
		}
		return fmt.Sprintf("van.rib_count %s %d", op(), rapid.IntRange(7, 11).Draw(r, "ribs"))
	}
	switch rapid.IntRange(0, 2).Draw(r, "join") {
	case 0:
		return "(" + conditions(r, depth-1) + " && " + conditions(r, depth-1) + ")"
	case 1:
		return "(" + conditions(r, depth-1) + " || " + conditions(r, depth-1) + ")"
	}
	return "!(" + conditions(r, depth-1) + ")"
}

// TestConditionsHoldAsFormulas folds and decides random conditions and holds
// them against the same text worked out as a formula, and against CEL.
func TestConditionsHoldAsFormulas(t *testing.T) {
	s := testScope(t)
	w := newWitness(t, s)
	slot := func(name string) Slot {
		at, _ := s.Slot(name)
		return at
	}
	counts := map[string][]int{"hob": {0, 1}, "oven": {0, 1}, "heater": {0, 1}, "sockets": {0, 1, 2, 3, 4, 5, 6}, "windows": {0, 2, 3, 4}}
	held := 0
	rapid.Check(t, func(r *rapid.T) {
		source := conditions(r, rapid.IntRange(0, 3).Draw(r, "depth"))
		c, err := s.Condition(source)
		if err != nil {
			// Only a count that holds always or never is refused; it must be so.
			if !strings.Contains(err.Error(), "always holds") && !strings.Contains(err.Error(), "never holds") {
				r.Fatalf("%s: %v", source, err)
			}
			return
		}
		v := testValues(t, s)
		van := testVan()
		ribs := rapid.IntRange(7, 11).Draw(r, "van ribs")
		for i := range van.Facts {
			switch van.Facts[i].Name {
			case "rib_count":
				van.Facts[i].Number = decimal.NewFromInt(int64(ribs))
			case "bulkhead":
				van.Facts[i].Yes = rapid.Bool().Draw(r, "bulkhead")
				v.SetTruth(slot("van.bulkhead"), van.Facts[i].Yes)
			case "body":
				van.Facts[i].Text = rapid.SampledFrom([]string{"panel van", "minibus"}).Draw(r, "body")
				v.SetText(slot("van.body"), van.Facts[i].Text)
			}
		}
		v.SetCount(slot("van.rib_count"), ribs)
		there := map[string]int{}
		for _, name := range []string{"hob", "oven", "heater", "sockets", "windows"} {
			there[name] = rapid.SampledFrom(counts[name]).Draw(r, name)
			if s.find(name).kind == Truth {
				v.SetTruth(slot(name), there[name] == 1)
			} else {
				v.SetCount(slot(name), there[name])
			}
		}
		texts := map[string]string{
			"van.steering":  rapid.SampledFrom([]string{"right", "left"}).Draw(r, "steering"),
			"finish.fabric": rapid.SampledFrom([]string{"", "wool", "cord"}).Draw(r, "fabric"),
		}
		for name, text := range texts {
			v.SetText(slot(name), text)
		}
		got := c.Fold(Decide(van.Facts)).Holds(func(a Atom) bool {
			if a.Value != "" {
				return texts[a.Name] == a.Value
			}
			if n := s.find(a.Name); n.most > 0 && (a.AtLeast < n.least || a.AtLeast > n.most) {
				r.Errorf("%s: threshold %d of %s", source, a.AtLeast, a.Name)
			}
			return there[a.Name] >= a.AtLeast
		})
		f, err := s.Compile(source, Truth)
		if err != nil {
			r.Fatalf("%s: %v", source, err)
		}
		want, err := f.Truth(v)
		if err != nil {
			r.Fatalf("%s: %v", source, err)
		}
		if got != want {
			r.Fatalf("%s holds %t as %s, %t as a formula", source, got, c, want)
		}
		if _, err := w.agree(f, v, w.activation(v)); err != nil {
			r.Fatalf("%s: %v", source, err)
		}
		if got {
			held++
		}
	})
	if held == 0 {
		t.Error("no condition ever held")
	}
}

// TestDecideWithoutTheFact: a fact that is missing or of another kind makes
// its comparison false.
func TestDecideWithoutTheFact(t *testing.T) {
	three := decimal.NewFromInt(3)
	facts := catalogue.Facts{
		{Name: "body", Kind: catalogue.TextFact, Text: "minibus"},
		{Name: "rib_count", Kind: catalogue.NumberFact, Number: three},
		{Name: "bulkhead", Kind: catalogue.YesNoFact, Yes: false},
	}
	decide := Decide(facts)
	for _, c := range []struct {
		comparison Comparison
		want       bool
	}{
		{Comparison{Fact: "rib_count", Op: "<=", Number: &three}, true},
		{Comparison{Fact: "rib_count", Op: "!=", Number: &three}, false},
		{Comparison{Fact: "body", Op: "!=", Text: "coach"}, true},
		{Comparison{Fact: "body", Op: "==", Text: "coach"}, false},
		{Comparison{Fact: "bulkhead"}, true},
		{Comparison{Fact: "bulkhead", Yes: true}, false},
		{Comparison{Fact: "body", Op: "==", Number: &three}, false},
		{Comparison{Fact: "rib_count", Op: "==", Text: "3"}, false},
		{Comparison{Fact: "rib_count", Yes: true}, false},
		{Comparison{Fact: "nothing", Op: "==", Number: &three}, false},
		{Comparison{Fact: "rib_count", Op: "=<", Number: &three}, false},
	} {
		if got := decide(c.comparison); got != c.want {
			t.Errorf("%s: %t", c.comparison, got)
		}
	}
}
