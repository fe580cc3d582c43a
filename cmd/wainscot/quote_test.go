package main

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/formula"
	"wainscot/pricing"
)

const fullConversion = "testdata/demo/choices/full-conversion-short-van.yaml"

// inJSON is what --json prints, as a program would read it.
type inJSON struct {
	Format        string            `json:"format"`
	Catalogue     string            `json:"catalogue"`
	Specification bom.Specification `json:"specification"`
	Sheet         bom.Sheet         `json:"sheet"`
	Priced        pricing.Priced    `json:"priced"`
}

func quoteJSON(t *testing.T, args ...string) inJSON {
	t.Helper()
	out, errs, code := run(t, append([]string{"quote", "--json"}, args...)...)
	if code != endWell {
		t.Fatalf("ends with %d: %s", code, errs)
	}
	var whole inJSON
	if err := json.Unmarshal([]byte(out), &whole); err != nil {
		t.Fatal(err)
	}
	return whole
}

// TestEveryLineIsPrintedWithItsReason: each line of the build sheet stands in
// the text once, under its stage, and its last column is not empty.
func TestEveryLineIsPrintedWithItsReason(t *testing.T) {
	t.Chdir(repository)
	whole := quoteJSON(t, fullConversion)
	// So wide that nothing wraps: one line of text for one of the sheet.
	out, _, code := run(t, "quote", "--only", "sheet", "--width", "1000", fullConversion)
	if code != endWell {
		t.Fatalf("ends with %d", code)
	}
	stage := regexp.MustCompile(`^  (\d+)\. ([^:]+): `)
	row := regexp.MustCompile(`^ +([\d.,]+)  (\S+) +(.+)$`)
	printed := map[string]int{}
	var at string
	for line := range strings.Lines(out) {
		line = strings.TrimRight(line, "\n")
		if m := stage.FindStringSubmatch(line); m != nil {
			at = m[2]
			continue
		}
		m := row.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		printed[at]++
		// Name, code and reason; only standing time has no code.
		columns, least := regexp.MustCompile(`  +`).Split(m[3], -1), 3
		if columns[0] == "Standing time" {
			least = 2
		}
		if len(columns) < least {
			t.Errorf("%s: no reason in %q", at, line)
		}
	}
	total := 0
	for _, s := range whole.Sheet.Stages {
		if printed[s.Name] != s.Lines || s.Lines == 0 {
			t.Errorf("%s: %d lines are printed of %d", s.Name, printed[s.Name], s.Lines)
		}
		total += printed[s.Name]
	}
	if len(whole.Sheet.Stages) != 12 || total < 150 {
		t.Errorf("%d lines over %d stages are printed; a full conversion is at least 150 over 12", total, len(whole.Sheet.Stages))
	}
}

// TestTextAndJSONAgree: what a person and what a program is told is the same.
func TestTextAndJSONAgree(t *testing.T) {
	t.Chdir(repository)
	whole := quoteJSON(t, fullConversion)
	out, _, _ := run(t, "quote", fullConversion)
	for what, text := range map[string]string{
		"total":     "Total with VAT",
		"hours":     "together",
		"catalogue": whole.Catalogue[:12],
		"sheet":     bom.CanonicalHash(whole.Sheet)[:12],
		"gross":     grouped(whole.Priced.Totals.Gross.Fixed()),
		"VAT":       grouped(whole.Priced.Totals.VAT.Fixed()),
		"hands on":  whole.Sheet.Hours.StringFixed(2),
		"mass left": whole.Sheet.Mass.LeftKG.StringFixed(1),
	} {
		if !strings.Contains(out, text) {
			t.Errorf("%s: %q is not printed", what, text)
		}
	}
	for _, f := range whole.Specification.Features {
		if !strings.Contains(out, f.Name) {
			t.Errorf("the feature %q is not printed", f.Name)
		}
	}
}

// TestCustomersSeeNoCost: without --inside neither form says what anything
// costs the workshop.
func TestCustomersSeeNoCost(t *testing.T) {
	t.Chdir(repository)
	inside := quoteJSON(t, "--inside", fullConversion)
	if inside.Priced.Inside == nil {
		t.Fatal("--inside gives no cost")
	}
	if outside := quoteJSON(t, fullConversion); outside.Priced.Inside != nil {
		t.Error("cost is in the JSON without --inside")
	}
	secret := grouped(inside.Priced.Inside.Cost.Fixed())
	with, _, _ := run(t, "quote", "--inside", fullConversion)
	without, _, _ := run(t, "quote", fullConversion)
	if !strings.Contains(with, secret) || strings.Contains(without, secret) {
		t.Errorf("the cost %s should be printed with --inside and only then", secret)
	}
}

func TestSigningKeys(t *testing.T) {
	const good, other = "AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=", "HxAODQwLCgkIBwYFBAMCAQAfHh0cGxoZGBcWFRQTEhE="
	keys, err := signingKeys(good + ", " + other)
	if err != nil || len(keys) != 2 || keys[0].ID == keys[1].ID {
		t.Fatalf("two keys: %v, %v", keys, err)
	}
	turned, err := signingKeys(other + "," + good)
	if err != nil || turned[1].ID != keys[0].ID {
		t.Errorf("a key's name should not depend on its place: %v, %v", turned, err)
	}
	for text, want := range map[string]string{
		"":                 "no signing key",
		" ":                "no signing key",
		"not base64!":      "key 1 is not base64",
		good + ",AAAA":     "key 2 has 3 bytes",
		good + ",":         "key 2 has 0 bytes",
		good[:40] + "HQ==": "key 1 has 31 bytes", // one less than is wanted
	} {
		_, err := signingKeys(text)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %q", text, err, want)
		}
	}
}

func TestNumbersInWords(t *testing.T) {
	for number, want := range map[string]string{
		"0": "0", "999": "999", "1000": "1,000", "-1234567.50": "-1,234,567.50", "0.001": "0.001", "12345": "12,345",
	} {
		if got := grouped(number); got != want {
			t.Errorf("grouped(%s) = %s, want %s", number, got, want)
		}
	}
	for unit, want := range map[string]string{"m2": "m²", "kw": "kW", "wh": "Wh", "ah": "Ah", "each": "each", "count": "", "ml": "ml",
		"c": "°C", "m2k_per_w": "m²·K/W", "w_per_m2k": "W/(m²·K)", "kwh_per_kg": "kWh/kg", "m3": "m³"} {
		if got := formula.UnitWords(unit); got != want {
			t.Errorf("UnitWords(%s) = %s, want %s", unit, got, want)
		}
	}
}

// TestVanInWords: axle loads, checks near their limit or answered, papers due
// and class features are told, and what was said to a check is not.
func TestVanInWords(t *testing.T) {
	kg := decimal.RequireFromString
	axles := func(front, rear string) bom.Axles { return bom.Axles{FrontKG: kg(front), RearKG: kg(rear)} }
	goOn := &bom.CheckAnswer{Check: "berths", Kind: bom.GoingOn, Limit: kg("2"), Says: "A quillwort."}
	letter := &bom.CheckAnswer{Check: "laden", Kind: bom.ByEvidence, Limit: kg("3100"), Says: "A quillwort's letter."}
	a := answer{Sheet: bom.Sheet{
		Mass: bom.Mass{
			PlatedKG: kg("3000"), UnladenKG: kg("1900"), Weighed: true, AddedKG: kg("400"), LeftKG: kg("700"),
			Before: axles("1050", "850"), After: axles("1150", "1150"), InRunningOrder: axles("1210", "1165"), Laden: axles("1300", "1750.5"),
			Most: axles("1340", "1750.5"), Plated: axles("1600", "1700"), UnplacedKG: kg("12.5"),
			Loads: []bom.LoadMass{{Name: "Driver", MassKG: kg("75")}, {Name: "Luggage", MassKG: kg("200")}},
		},
		Checks: []bom.CheckResult{
			{Name: "Payload", Grade: "must", Met: true, Near: true, Figure: kg("310"), Sense: "at least", Limit: kg("300"), Unit: "kg"},
			{Name: "Berths", Grade: "should", Figure: kg("2"), Sense: "at least", Limit: kg("3"), Says: "Too few.", Remedy: "Add one.", Answer: goOn, Answered: true},
			{Name: "Laden", Grade: "must", Figure: kg("3050.5"), Sense: "at most", Limit: kg("3000"), Unit: "kg", Says: "Too heavy.", Answer: letter, Answered: true},
			{Name: "Laden again", Grade: "must", Figure: kg("3150"), Sense: "at most", Limit: kg("3000"), Unit: "kg", Says: "Too heavy.", Answer: letter},
		},
		Evidence: []bom.EvidenceDue{{Name: "Belt report", By: "A technical service.", Due: "registration", Says: "Seats are added."}},
		ClassFeatures: []bom.ClassFeature{
			{Name: "A bed", List: "inside", Met: true}, {Name: "A high roof", List: "outside"},
		},
	}}
	a.Resolution.Specification.Van.WeighedDay = "2026-11-02"
	var b strings.Builder
	out := printout{answer: a, out: &b, width: 110}
	out.print([]section{sectionMass, sectionChecks, sectionEvidence, sectionClass})
	for _, w := range []string{
		"-1900.0  from the weighbridge on 2026-11-02", "after it, empty        1150.0  1150.0    2300.0  12.5 kg of it have no position and count in the middle",
		"in running order       1210.0  1165.0    2375.0  payload 625.0", "Driver 75, Luggage 200",
		"OVER: the rear axle by 50.5, the whole van by 50.5",
		"met, near the limit", "NOT MET. Too few. Add one. The owner goes on.", "NOT MET. Too heavy. Answered by evidence.",
		"NOT MET. Too heavy. The answer holds up to 3,100 only.",
		"- Belt report. From a technical service, before the van is registered as converted. Seats are added.",
		"A bed   met", "A high roof  not met", "The authority that registers the van decides",
	} {
		if !strings.Contains(b.String(), w) {
			t.Errorf("%q is missing:\n%s", w, b.String())
		}
	}
	if strings.Contains(b.String(), "quillwort") {
		t.Error("what was said inside is printed")
	}
}

// TestReasonsStayInside: why the owner goes on is in what is printed inside
// alone.
func TestReasonsStayInside(t *testing.T) {
	t.Chdir(repository)
	const file = "testdata/demo/choices/package-touring.yaml"
	for _, c := range []struct {
		args []string
		has  bool
	}{
		{[]string{"quote", file}, false}, {[]string{"quote", "--json", file}, false},
		{[]string{"quote", "--inside", file}, true}, {[]string{"quote", "--json", "--inside", file}, true},
	} {
		out, errs, code := run(t, c.args...)
		if has := strings.Contains(out, "grandchild"); code != endWell || has != c.has {
			t.Errorf("%v ends with %d %s and tells why: %v", c.args, code, errs, has)
		}
	}
}
