package bom

import (
	"fmt"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// blank is a catalogue with a base van, a trade, a stage and a group, and
// nothing in it.
func blank() *catalogue.Catalogue {
	return &catalogue.Catalogue{
		Title:    "Test",
		Trades:   []catalogue.Trade{{Code: "fitter", Name: "Fitter"}},
		Stages:   []catalogue.Stage{{Code: "work", Name: "Work"}},
		BaseVans: []catalogue.BaseVan{baseVan("van", 0)},
		Groups:   []catalogue.Group{{Code: "all", Name: "All", Stage: "work", Pick: catalogue.AnyNumber}},
	}
}

// baseVan has every fact a base van must have, bigger by size.
func baseVan(code string, size int64) catalogue.BaseVan {
	v := catalogue.BaseVan{Code: code, Name: "Base van " + code}
	for _, name := range catalogue.RequiredFacts {
		f := catalogue.Fact{Name: name, Kind: catalogue.NumberFact, Number: decimal.NewFromInt(10 + size)}
		switch name {
		case "body":
			f = catalogue.Fact{Name: name, Kind: catalogue.TextFact, Text: code}
		case "plated_kg":
			f.Number = decimal.NewFromInt(3500)
		case "plated_front_kg", "plated_rear_kg":
			f.Number = decimal.NewFromInt(1800)
		case "unladen_front_kg", "unladen_rear_kg":
			f.Number = decimal.NewFromInt(1000 + size)
		}
		v.Facts = append(v.Facts, f)
	}
	v.Particulars = []catalogue.Particular{
		{Name: "steering", Values: []string{"right", "left"}},
		{Name: "sliding_doors", Values: []string{"nearside", "both"}},
		{Name: "rear_doors", Values: []string{"tailgate", "twin"}},
	}
	return v
}

func part(code, unit string) catalogue.Part {
	return catalogue.Part{Code: code, Name: "Part " + code, Unit: catalogue.Unit(unit), Provision: catalogue.ForTheJob}
}

func compiled(tb testing.TB, c *catalogue.Catalogue) *Release {
	tb.Helper()
	r, faults := Compile(c)
	if len(faults) > 0 {
		tb.Fatalf("does not compile:\n%v", faults)
	}
	return r
}

// specified makes a specification by hand: CODE, or CODE with how many there
// are and how many of those are fitted.
func specified(van string, features ...SpecifiedFeature) Specification {
	return Specification{Format: SpecificationFormat, Van: Van{BaseVan: van}, Features: features, Allowed: true, Settled: true}
}

func fitted(code string, n int) SpecifiedFeature {
	return SpecifiedFeature{Code: code, Name: code, Count: n, Fit: n}
}

// quantities gives what a sheet asks for by stage/kind/code.
func quantities(s Sheet) map[string]string {
	m := map[string]string{}
	for _, l := range s.Lines {
		m[fmt.Sprintf("%s/%s/%s%s", l.Stage, l.Kind, l.Code, l.Finish)] = l.Quantity.String()
	}
	return m
}
