package bom

import (
	"fmt"
	"testing"

	"wainscot/bom/catalogue"
)

// workshop is a made-up catalogue of the size of a real one: 12 stages, 5
// trades, 90 features with 5 lines each, 350 parts, 60 kits three deep, 20
// figures; one quantity in three is a formula.
func workshop() *catalogue.Catalogue {
	c := blank()
	c.Trades, c.Stages = nil, nil
	for i := range 5 {
		c.Trades = append(c.Trades, catalogue.Trade{Code: fmt.Sprintf("trade%d", i), Name: fmt.Sprintf("Trade %d", i)})
	}
	for i := range 12 {
		s := catalogue.Stage{Code: fmt.Sprintf("stage%02d", i), Name: fmt.Sprintf("Stage %d", i)}
		if i > 0 {
			s.After = []string{c.Stages[i-1].Code}
		}
		c.Stages = append(c.Stages, s)
	}
	c.Groups[0].Stage = c.Stages[0].Code
	units := []string{"each", "m", "m2", "ml"}
	for i := range 350 {
		p := part(fmt.Sprintf("part%03d", i), units[i%4])
		if i%4 != 0 {
			p.Decimals = i % 3
		}
		if i%5 == 0 {
			p.ScrapPercent = dec("7.5")
		}
		p.MassKG = dec("0.125")
		c.Parts = append(c.Parts, p)
	}
	for i, trade := range c.Trades {
		p := part(fmt.Sprintf("used%d", i), "each")
		p.Provision = catalogue.Consumable
		p.Rates = []catalogue.Rate{{Trade: trade.Code, PerHour: dec("0.3")}}
		c.Parts = append(c.Parts, p)
	}
	for i := range 20 {
		c.Figures = append(c.Figures, catalogue.Figure{Code: fmt.Sprintf("figure%d_m", i), Name: "Figure",
			Formula: fmt.Sprintf("mm_to_m(van.load_length_mm) * 1.%d + fit.feature%02d * 2", i, i)})
	}
	for i := range 60 {
		k := catalogue.Kit{Code: fmt.Sprintf("kit%02d", i), Name: fmt.Sprintf("Kit %d", i)}
		for j := range 3 {
			k.Items = append(k.Items, catalogue.KitItem{Part: c.Parts[(i*7+j*31)%350].Code, Quantity: fmt.Sprint(j + 1)})
		}
		if i >= 40 {
			k.Items = append(k.Items, catalogue.KitItem{Kit: c.Kits[i-20].Code, Quantity: "2"})
		} else if i >= 20 {
			k.Items = append(k.Items, catalogue.KitItem{Kit: c.Kits[i-20].Code})
		}
		c.Kits = append(c.Kits, k)
	}
	for i := range 90 {
		f := catalogue.Feature{Code: fmt.Sprintf("feature%02d", i), Name: fmt.Sprintf("Feature %d", i), Group: "all"}
		if i%10 == 0 {
			f.Count = &catalogue.Count{Least: 1, Most: 6}
		}
		stage := func(j int) string { return c.Stages[(i*2/15+j)%12].Code }
		f.Lines = []catalogue.Line{
			{Stage: stage(0), Part: c.Parts[(i*11)%350].Code, Quantity: "2.5"},
			{Stage: stage(0), Part: c.Parts[(i*11+1)%350].Code, Quantity: fmt.Sprintf("figure%d_m * 0.4", i%20)},
			{Stage: stage(0), Trade: c.Trades[i%5].Code, Quantity: "1.25"},
			{Stage: stage(1), Part: c.Parts[(i*11+2)%350].Code, Quantity: fmt.Sprintf("feature%02d ? 4 : 6", (i+1)%90)},
			{Stage: stage(1), Trade: c.Trades[(i+1)%5].Code, Quantity: "0.5"},
		}
		if (i+1)%10 == 0 {
			f.Lines[3].Quantity = fmt.Sprintf("feature%02d > 2 ? 4 : 6", (i+1)%90)
		}
		if i%3 == 0 {
			f.Lines = append(f.Lines, catalogue.Line{Stage: stage(0), Kit: c.Kits[i%60].Code})
		}
		c.Features = append(c.Features, f)
	}
	return c
}

// BenchmarkExpand expands a specification of 55 features to a sheet of about
// 300 lines.
func BenchmarkExpand(b *testing.B) {
	r := compiled(b, workshop())
	s := specified("van")
	for i := range 55 {
		s.Features = append(s.Features, fitted(r.featureCodes[i*90/55], 1))
	}
	sheet := Expand(r, s)
	reasons := 0
	for _, l := range sheet.Lines {
		reasons += len(l.Because)
	}
	if len(sheet.Broken) > 0 {
		b.Fatal(sheet.Broken)
	}
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		Expand(r, s)
	}
	b.ReportMetric(float64(len(sheet.Lines)), "lines")
	b.ReportMetric(float64(reasons), "reasons")
}

func BenchmarkCanonicalHash(b *testing.B) {
	r := compiled(b, workshop())
	s := specified("van")
	for i := range 55 {
		s.Features = append(s.Features, fitted(r.featureCodes[i*90/55], 1))
	}
	sheet := Expand(r, s)
	b.ResetTimer()
	for b.Loop() {
		CanonicalHash(sheet)
	}
}

func BenchmarkCompile(b *testing.B) {
	c := workshop()
	for b.Loop() {
		Compile(c)
	}
}

// BenchmarkResolve resolves the choices of a whole conversion on the sample
// catalogue, with every reason as a sentence.
func BenchmarkResolve(b *testing.B) {
	r := sample(b)
	choices := Choices{Features: append(wants("whole_conversion", "gas_hob", "bed", "lifting_roof"), Choice{Want: "socket", Count: 3})}
	for b.Loop() {
		if _, _, err := Resolve(r, Van{BaseVan: "short"}, choices, SettleNothing); err != nil {
			b.Fatal(err)
		}
	}
}
