package bom

import (
	"fmt"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// checked has one must and one should, on a figure that counts features.
func checked(c *catalogue.Catalogue) {
	c.Features[0].Count = &catalogue.Count{Least: 1, Most: 9}
	check := func(code string, grade catalogue.Grade) catalogue.Check {
		return catalogue.Check{Code: code, Name: "Weight of " + code, Grade: grade, Figure: "aa * 10", Sense: catalogue.AtMost,
			Limit: "30", Unit: "kg", Says: "It is too heavy.", Remedy: "Take fewer."}
	}
	c.Checks = []catalogue.Check{check("plate", catalogue.Must), check("comfort", catalogue.Should)}
}

// TestAnswers: what is not met is answered up to a limit and no further, a must
// by evidence alone.
func TestAnswers(t *testing.T) {
	r := massed(t, checked)
	limit := func(check string, kind AnswerKind, n string) CheckAnswer {
		return CheckAnswer{Check: check, Kind: kind, Limit: dec(n), Says: "A letter."}
	}
	for _, test := range []struct {
		name    string
		count   int
		answers []CheckAnswer
		waits   string
	}{
		{"met", 3, nil, ""},
		{"met, answered for nothing", 3, []CheckAnswer{limit("plate", ByEvidence, "10")}, ""},
		{"not met", 4, nil, "check_not_met plate, check_waits_for_owner comfort"},
		{"the owner goes on with the should", 4, []CheckAnswer{limit("comfort", GoingOn, "40")}, "check_not_met plate"},
		{"evidence for the must", 4, []CheckAnswer{limit("plate", ByEvidence, "40")}, "check_waits_for_owner comfort"},
		{"evidence for both", 4, []CheckAnswer{limit("plate", ByEvidence, "40"), limit("comfort", ByEvidence, "50")}, ""},
		{"nobody goes on with a must", 4, []CheckAnswer{limit("plate", GoingOn, "40"), limit("comfort", GoingOn, "40")}, "check_not_met plate"},
		{"further than was answered", 5, []CheckAnswer{limit("plate", ByEvidence, "40"), limit("comfort", GoingOn, "49.999")}, "check_not_met plate, check_waits_for_owner comfort"},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := specified("van", fitted("aa", test.count))
			s.Allowed, s.Settled, s.Answers = true, true, test.answers
			sheet := Expand(r, s)
			var waits []string
			for _, n := range Ready(r, s, sheet) {
				waits = append(waits, fmt.Sprint(n.Code, " ", n.About))
			}
			if got := strings.Join(waits, ", "); got != test.waits {
				t.Errorf("%q, want %q", got, test.waits)
			}
			for _, c := range sheet.Checks {
				if c.Met && (c.Answer != nil || c.Answered || c.Says != "") {
					t.Errorf("it is met, and says %+v", c)
				}
			}
		})
	}
}

// TestFaultsOfAnswers: each has its code, its place and what to do.
func TestFaultsOfAnswers(t *testing.T) {
	r := massed(t, checked)
	good := CheckAnswer{Check: "plate", Kind: ByEvidence, Limit: dec("40"), Says: "A letter.", Day: "2026-11-03"}
	for _, test := range []struct {
		name   string
		change func(*CheckAnswer)
		want   string
	}{
		{"good", func(*CheckAnswer) {}, ""},
		{"no check", func(a *CheckAnswer) { a.Check = "" }, "missing_code choices/answers/1/check"},
		{"unknown check", func(a *CheckAnswer) { a.Check = "plates" }, "unknown_code choices/answers/1/check"},
		{"no kind", func(a *CheckAnswer) { a.Kind = "" }, "missing_code choices/answers/1/kind"},
		{"going on with a must", func(a *CheckAnswer) { a.Kind = GoingOn }, "must_not_go_on choices/answers/1/kind"},
		{"no such limit", func(a *CheckAnswer) { a.Limit = dec("1e9") }, "out_of_range choices/answers/1/limit"},
		{"no words", func(a *CheckAnswer) { a.Says = " " }, "no_words choices/answers/1/says"},
		{"longest words", func(a *CheckAnswer) { a.Says = strings.Repeat("ü", MaxAnswerWords) }, ""},
		{"too many words", func(a *CheckAnswer) { a.Says = strings.Repeat("ü", MaxAnswerWords+1) }, "too_long choices/answers/1/says"},
		{"bad text", func(a *CheckAnswer) { a.Says = "\x00" }, "bad_text choices/answers/1/says"},
		{"no day", func(a *CheckAnswer) { a.Day = "2026-02-30" }, "day choices/answers/1/day"},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := good
			test.change(&a)
			_, faults := r.read(Van{BaseVan: "van"}, Choices{Answers: []CheckAnswer{a}}, SettleNothing)
			if got := told(faults); got != test.want {
				t.Errorf("%q, want %q", got, test.want)
			}
		})
	}
	_, faults := r.read(Van{BaseVan: "van"}, Choices{Answers: []CheckAnswer{good, good}}, SettleNothing)
	if got := told(faults); got != "given_twice choices/answers/2/check" {
		t.Errorf("%q", got)
	}
	_, faults = r.read(Van{BaseVan: "van"}, Choices{Answers: make([]CheckAnswer, MaxAnswers+1)}, SettleNothing)
	if got := told(faults); got != "too_many choices/answers" {
		t.Errorf("%q", got)
	}
}

// TestFaultsOfTicketAndPlate: what a weighbridge and a plate cannot say.
func TestFaultsOfTicketAndPlate(t *testing.T) {
	ten, hundred := 10, 101
	weighed := func(v *Van) {
		front, rear := dec("1000"), dec("900")
		v.WeighedFrontKG, v.WeighedRearKG = &front, &rear
	}
	none := func(*catalogue.Catalogue) {}
	for _, test := range []struct {
		name   string
		facts  func(*catalogue.Catalogue)
		change func(*Van)
		want   string
	}{
		{"a day without a weight", none, func(v *Van) { v.WeighedDay = "2026-11-03" }, "contradiction van"},
		{"people without a weight", none, func(v *Van) { v.WeighedPeopleCount = 1 }, "contradiction van, missing_fact van/weighed_people_count"},
		{"no day", none, func(v *Van) { weighed(v); v.WeighedDay = "yesterday" }, "day van/weighed_day"},
		{"more than a tank", none, func(v *Van) { weighed(v); v.WeighedFuelPercent = &hundred }, "out_of_range van/weighed_fuel_percent, missing_fact van/weighed_fuel_percent, missing_fact van/weighed_fuel_percent"},
		{"a tank nobody measured", none, func(v *Van) { weighed(v); v.WeighedFuelPercent = &ten }, "missing_fact van/weighed_fuel_percent, missing_fact van/weighed_fuel_percent"},
		{"a crowd", none, func(v *Van) { weighed(v); v.WeighedPeopleCount = 4 }, "out_of_range van/weighed_people_count, missing_fact van/weighed_people_count"},
		{"nobody's plate", none, func(v *Van) { d := dec("0"); v.PlatedKG = &d }, "out_of_range van/plated_kg"},
		{"a heavy plate", none, func(v *Van) { d := dec("100001"); v.PlatedRearKG = &d }, "out_of_range van/plated_rear_kg"},
		{"the plate of no van", none, func(v *Van) { d := dec("1600"); v.None, v.PlatedFrontKG = true, &d }, "contradiction van/none"},
	} {
		t.Run(test.name, func(t *testing.T) {
			v := Van{BaseVan: "van"}
			test.change(&v)
			_, faults := massed(t, test.facts).read(v, Choices{}, SettleNothing)
			if got := told(faults); got != test.want {
				t.Errorf("%q, want %q", got, test.want)
			}
		})
	}
}

// TestClassAndEvidence: what is looked at, and when; nothing of it where parts
// are supplied only.
func TestClassAndEvidence(t *testing.T) {
	r := massed(t, func(c *catalogue.Catalogue) {
		c.Features = append(c.Features, catalogue.Feature{Code: "bb", Name: "B", Group: "all"}, catalogue.Feature{Code: "kit", Name: "Kit", Group: "all", SupplyOnly: true})
		c.ClassFeatures = []catalogue.ClassFeature{
			{Code: "inside_a", Name: "A", List: catalogue.InsideFeatures, Holds: "aa"},
			{Code: "outside_b", Name: "B", List: catalogue.OutsideAppearance, When: "aa", Holds: "bb", Cites: "A list"},
		}
		c.Evidence = []catalogue.Evidence{
			{Code: "always", Name: "Always", By: "Anybody.", Due: catalogue.BeforeHandover, Says: "It is so."},
			{Code: "approval", Name: "Approval", By: "The authority.", Due: catalogue.BeforeRegistration, When: "van.new && aa", Says: "It is new."},
		}
	})
	told := func(s Specification) string {
		sheet := Expand(r, s)
		var list []string
		for _, c := range sheet.ClassFeatures {
			list = append(list, fmt.Sprint(c.Code, " ", c.Met))
		}
		for _, e := range sheet.Evidence {
			list = append(list, e.Code)
		}
		return strings.Join(append(list, fmt.Sprint(len(sheet.Broken))), ", ")
	}
	for _, test := range []struct {
		name  string
		spec  Specification
		isNew bool
		want  string
	}{
		{"nothing", specified("van"), false, "inside_a false, always, 0"},
		{"a", specified("van", fitted("aa", 1)), false, "inside_a true, outside_b false, always, 0"},
		{"both, new", specified("van", fitted("aa", 1), fitted("bb", 1)), true, "inside_a true, outside_b true, always, approval, 0"},
		{"supplied only", specified("van", fitted("aa", 1), fitted("kit", 1)), true, "0"},
	} {
		test.spec.Van.New = test.isNew
		if got := told(test.spec); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

// TestPositionsThatCannotBe: a position is of the base van, and in it.
func TestPositionsThatCannotBe(t *testing.T) {
	for source, want := range map[string]string{
		"van.unladen_rear_kg": "unit_mismatch", "van.width_mm / 0": "no_position", "20001": "out_of_range", "-20001": "out_of_range",
		"aa ? 100 : 200": "not_a_fact", `van.steering == "right" ? 100 : 200`: "not_a_fact", "some_mm": "not_a_fact", "nothing_mm": "",
	} {
		c := blank()
		c.Features = []catalogue.Feature{{Code: "aa", Name: "A", Group: "all"}}
		c.Parts = []catalogue.Part{part("ballast", "each")}
		c.Figures = []catalogue.Figure{{Code: "some_mm", Name: "Some", Formula: "100"}}
		c.Positions = []catalogue.Position{{Code: "there", Name: "There", FromFrontAxleMM: source}}
		_, faults := Compile(c)
		if len(faults) == 0 || want != "" && faults[0].Code != want || !strings.HasPrefix(faults[0].At, "positions/there") || faults[0].Remedy == "" {
			t.Errorf("%s: %v, want %s", source, faults, want)
		}
	}
}

// told is the codes and places of faults.
func told(faults document.Faults) string {
	var list []string
	for _, f := range faults {
		if f.Reason == "" || f.Remedy == "" {
			return "no reason or remedy: " + f.Code
		}
		list = append(list, f.Code+" "+f.At)
	}
	return strings.Join(list, ", ")
}
