package catalogue_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// Each limit at the limit and one past it.
func TestLimits(t *testing.T) {
	features := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) {
			for i := len(c.Features); i < n; i++ {
				c.Features = append(c.Features, catalogue.Feature{Code: fmt.Sprintf("f%d", i), Name: "F", Group: "seating"})
			}
		}
	}
	parts := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) {
			for i := len(c.Parts); i < n; i++ {
				c.Parts = append(c.Parts, catalogue.Part{Code: fmt.Sprintf("P-%d", i), Name: "P", Unit: catalogue.Each, Provision: catalogue.ToppedUp})
			}
		}
	}
	lines := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) {
			c.Features[0].Lines = make([]catalogue.Line, n)
			for i := range n {
				c.Features[0].Lines[i] = catalogue.Line{Stage: "roof", Part: "HOB-2"}
			}
		}
	}
	formula := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) { c.Figures[0].Formula = strings.Repeat("1", n) }
	}
	name := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) { c.Parts[0].Name = strings.Repeat("n", n) }
	}
	says := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) { c.Rules[0].Says = strings.Repeat("n", n) }
	}
	code := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) {
			c.Stages = append(c.Stages, catalogue.Stage{Code: strings.Repeat("s", n), Name: "S"})
		}
	}
	people := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) { c.Stages[0].MostPeople = n }
	}
	months := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) { c.Parts[0].WarrantyMonths = n }
	}
	again := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) {
			c.Features[0].ChecksDue = []catalogue.CheckDue{{Name: "Gas", EveryMonths: n}}
		}
	}
	// A line with this kit comes to a thousand: itself and 999 components.
	components := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) {
			kit := catalogue.Kit{Code: "K-1", Name: "K"}
			for range 999 {
				kit.Items = append(kit.Items, catalogue.KitItem{Part: "HOB-2"})
			}
			c.Kits = append(c.Kits, kit)
			for i := range c.Features {
				c.Features[i].Lines, c.Features[i].Removal = nil, nil
			}
			for i := range c.Stages {
				c.Stages[i].Lines = nil
			}
			for range n {
				c.Features[0].Lines = append(c.Features[0].Lines, catalogue.Line{Stage: "roof", Kit: "K-1"})
			}
		}
	}
	bench := func(n int) func(*catalogue.Catalogue) {
		return func(c *catalogue.Catalogue) { c.Kits[0].BenchDays = n }
	}
	for _, l := range []struct {
		name string
		set  func(int) func(*catalogue.Catalogue)
		most int
		at   string
	}{
		{"features", features, catalogue.MaxFeatures, "features"},
		{"parts", parts, catalogue.MaxParts, "parts"},
		{"lines", lines, catalogue.MaxLines, "features/whole_conversion/lines"},
		{"formula", formula, catalogue.MaxFormula, "figures/gas_input_kw/formula"},
		{"name", name, catalogue.MaxName, "parts/ROOF-SHELL/name"},
		{"sentence", says, catalogue.MaxSentence, "rules/hob_brings_vents/says"},
		{"code", code, catalogue.MaxCode, "stages/4/code"},
		{"people", people, catalogue.MaxMostPeople, "stages/strip_out/most_people"},
		{"bench days", bench, catalogue.MaxBenchDays, "kits/ROOF-KIT/bench_days"},
		{"warranty", months, catalogue.MaxMonths, "parts/ROOF-SHELL/warranty_months"},
		{"checked again", again, catalogue.MaxMonths, "features/whole_conversion/checks_due/1/every_months"},
		{"components", components, catalogue.MaxComponents / 1000, "features"},
	} {
		t.Run(l.name, func(t *testing.T) {
			c := sample(t)
			l.set(l.most)(c)
			if faults := c.Validate(); len(faults) > 0 {
				t.Errorf("at the limit: %v", faults)
			}
			c = sample(t)
			l.set(l.most + 1)(c)
			if faults := c.Validate(); len(faults) != 1 || faults[0].At != l.at {
				t.Errorf("past the limit: %v", faults)
			}
		})
	}
}

// What Go makes may hold what no file can: it is found all the same.
func TestValidateNeedsNoDocument(t *testing.T) {
	var c catalogue.Catalogue
	got := map[string]bool{}
	for _, f := range c.Validate() {
		got[f.At] = true
	}
	for _, at := range []string{"title", "trades", "stages", "base_vans", "groups", "features", "parts"} {
		if !got[at] {
			t.Errorf("nothing is said about %s", at)
		}
	}
	full := sample(t)
	full.BaseVans[0].Facts[0].Kind = 0
	full.Parts[0].MassKG = decimal.New(-1, 0)
	full.Parts[1].Unit = "stone"
	if faults := full.Validate(); len(faults) < 3 {
		t.Errorf("got %v", faults)
	}
}

// A stage's own lines are given their stage when they are read.
func TestStageLinesKnowTheirStage(t *testing.T) {
	if got := sample(t).Stages[0].Lines[0].Stage; got != "strip_out" {
		t.Errorf("got %q", got)
	}
}

// Units that names may end in are those formulas can work with.
func TestUnitsAreThoseOfFormulas(t *testing.T) {
	for _, unit := range []string{"mm", "m", "mm2", "m2", "ml", "l", "g", "kg", "w", "kw", "wh", "kwh", "a", "ah", "v",
		"h", "hours", "percent", "count", "w_per_m2", "kg_per_h", "stone", "per_m2", "count_per_m2", "hours_per_m2", "h_per_m2", ""} {
		c := sample(t)
		c.Figures[0].Code = "amount_" + unit
		accepted := true
		for _, f := range c.Validate() {
			accepted = accepted && f.Code != "no_unit"
		}
		if known := formula.UnitOf("amount_"+unit) != ""; accepted != known {
			t.Errorf("amount_%s: the catalogue accepts it: %v; formulas know it: %v", unit, accepted, known)
		}
	}
}
