package job_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
)

func TestAsBuilt(t *testing.T) {
	c := &catalogue.Catalogue{
		Features: []catalogue.Feature{
			{Code: "roof", Name: "Roof", WarrantyMonths: 36},
			{Code: "hob", Name: "Hob", ChecksDue: []catalogue.CheckDue{{Name: "Gas check", EveryMonths: 12}}},
			{Code: "heater", Name: "Heater", ChecksDue: []catalogue.CheckDue{{Name: "Gas check", EveryMonths: 6, Cites: "Maker"}, {Name: "Flue", EveryMonths: 24}}},
			{Code: "tank", Name: "Tank", ChecksDue: []catalogue.CheckDue{{Name: "Tank check", EveryMonths: 1}}},
		},
		Parts: []catalogue.Part{
			{Code: "shell", Name: "Shell", Unit: "each", Provision: catalogue.ForTheJob}, {Code: "battery", Name: "Battery", Unit: "each", Provision: catalogue.ForTheJob, WarrantyMonths: 60},
			{Code: "glue", Name: "Glue", Unit: "ml", Provision: catalogue.ToppedUp}, {Code: "screw", Name: "Screw", Unit: "each", Provision: catalogue.ToppedUp},
			{Code: "pump", Name: "Pump", Unit: "each", Provision: catalogue.ForTheJob},
		},
	}
	spec := &bom.Specification{Features: []bom.SpecifiedFeature{{Code: "roof", Name: "Roof", Count: 1, Fit: 1}, {Code: "hob", Name: "Hob", Count: 1}, {Code: "heater", Name: "Heater", Count: 1, Fit: 1}, {Code: "tank", Name: "Tank"}}}
	line := func(kind bom.LineKind, code, quantity, feature string, provision catalogue.Provision) bom.Line {
		return bom.Line{Stage: "work", Kind: kind, Code: code, Name: code, Unit: "each", Quantity: d(quantity), Provision: provision, Because: []bom.Because{{Feature: feature, Quantity: d(quantity)}}}
	}
	sheet := &bom.Sheet{Lines: []bom.Line{
		line(bom.PartLine, "shell", "1", "roof", catalogue.ForTheJob), line(bom.PartLine, "battery", "2", "roof", catalogue.ForTheJob),
		line(bom.PartLine, "glue", "20", "roof", catalogue.ToppedUp), line(bom.PartLine, "screw", "8", "roof", catalogue.ToppedUp),
		line(bom.OwnPartLine, "awning", "1", "", ""), line(bom.HoursLine, "fitter", "3", "roof", ""),
	}}
	j := job.Job{State: job.HandedOver, Stages: []job.Stage{{Code: "work", Name: "Work"}}}
	j.HandedOverOn = "2027-01-31"
	j.Serials = []job.Serial{
		{Number: 1, Part: "battery", Stage: "work", Kind: job.OfOne, Value: "B1", ReplacedBy: 3}, {Number: 2, Part: "battery", Stage: "work", Kind: job.OfOne, Value: "B2"},
		{Number: 3, Part: "battery", Stage: "work", Kind: job.OfOne, Value: "B3"}, {Number: 4, Part: "glue", Stage: "work", Kind: job.OfBatch, Value: "L7"},
	}
	j.Parts = []job.PartUsed{{Number: 5, Part: "battery", Stage: "work", Quantity: d("3")}, {Number: 6, Part: "battery", Stage: "work", Quantity: d("-1")}, {Number: 7, Part: "pump", Stage: "work", Quantity: d("1")}}
	j.Hours = []job.Worked{{Number: 8, Crew: "ada", Stage: "work", Hours: d("2")}, {Number: 9, Crew: "bob", Stage: "work", Hours: d("1.5")}, {Number: 10, Crew: "ada", Stage: "work", Hours: d("-0.5")}}
	j.Attachments = []job.Attachment{{Number: 11, MediaType: "image/jpeg"}, {Number: 12, MediaType: "application/pdf"}}
	b, err := j.AsBuilt(spec, sheet, c, job.DefaultWarrantyMonths)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range b.Parts {
		var numbers []string
		for _, s := range p.Serials {
			numbers = append(numbers, s.Value)
		}
		got = append(got, fmt.Sprint(p.Part, " ", p.Quantity, " [", strings.Join(numbers, " "), "] ", p.WarrantyMonths, " ", p.WarrantyUntil))
	}
	want := []string{"shell 1 [] 36 2030-01-31", "battery 2 [B2 B3] 60 2032-01-31", "glue 20 [L7] 36 2030-01-31", "awning 1 [] 0 ", "pump 1 [] 12 2028-01-31"}
	if !slices.Equal(got, want) {
		t.Errorf("parts\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := fmt.Sprint(b.ChecksDue); got != "[{Flue 24  2029-01-31} {Gas check 6 Maker 2027-07-31}]" {
		t.Errorf("checks %s", got)
	}
	if got := fmt.Sprint(b.Stages, b.Photographs, len(b.Features)); got != "[{work Work [ada bob] 3}] [11] 3" {
		t.Errorf("stages, photographs, features: %s", got)
	}
	j.HandedOverOn = ""
	if b, err = j.AsBuilt(spec, sheet, c, 12); err != nil || b.ChecksDue[0].DueOn != "" || b.Parts[0].WarrantyUntil != "" {
		t.Errorf("while it is here: %+v %v", b, err)
	}
}

// The rule of warranty is the workshop's of the handover: a van that left keeps
// it, whatever is set later.
func TestWarrantyIsThatOfTheHandover(t *testing.T) {
	c := &catalogue.Catalogue{Parts: []catalogue.Part{{Code: "pump", Name: "Pump", Unit: "each", Provision: catalogue.ForTheJob}}}
	sheet := &bom.Sheet{Lines: []bom.Line{{Stage: "work", Kind: bom.PartLine, Code: "pump", Unit: "each", Quantity: d("1"), Provision: catalogue.ForTheJob}}}
	for _, test := range []struct {
		name, handedOver string
		kept, now, want  int
	}{
		{"still here", "", 0, 36, 36},
		{"handed over under another rule", "2027-01-31", 24, 36, 24},
		{"handed over before the rule was kept", "2027-01-31", 0, 36, job.DefaultWarrantyMonths},
	} {
		j := job.Job{}
		j.HandedOverOn, j.WarrantyMonths = test.handedOver, test.kept
		b, err := j.AsBuilt(&bom.Specification{}, sheet, c, test.now)
		if err != nil || len(b.Parts) != 1 || b.Parts[0].WarrantyMonths != test.want {
			t.Errorf("%s: %+v %v, want %d months", test.name, b.Parts, err, test.want)
		}
	}
}

func TestSerialKey(t *testing.T) {
	same := [][]string{{"GB-0010", "gb 10", "GB.10", " gb-10 ", "GB10"}, {"1-2", "01 / 2"}, {"A1B2", "a01b002"}, {"L7", "l007"}}
	for _, list := range same {
		for _, v := range list {
			if job.SerialKey(v) != job.SerialKey(list[0]) {
				t.Errorf("%q and %q are looked for as %q and %q", v, list[0], job.SerialKey(v), job.SerialKey(list[0]))
			}
		}
	}
	if job.SerialKey("1-2") == job.SerialKey("12") {
		t.Error("1-2 is looked for as 12")
	}
	order := []string{"GB-9", "GB-10", "GB-11", "GB-100", "GC-1"}
	for i := 1; i < len(order); i++ {
		if job.SerialKey(order[i-1]) >= job.SerialKey(order[i]) {
			t.Errorf("%s does not come before %s", order[i-1], order[i])
		}
	}
	// In a range by number, whatever the numbers.
	rapid.Check(t, func(r *rapid.T) {
		a, b, v := rapid.Uint32().Draw(r, "a"), rapid.Uint32().Draw(r, "b"), rapid.Uint32().Draw(r, "v")
		key := func(n uint32) string { return job.SerialKey(fmt.Sprintf("LOT-%d", n)) }
		if (key(a) <= key(v) && key(v) <= key(b)) != (a <= v && v <= b) {
			r.Fatalf("%d between %d and %d", v, a, b)
		}
	})
}
