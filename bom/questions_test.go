package bom

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/options"
)

// Every answer can be given; all there is to answer is asked; a group must be
// answered just where refusing all of it cannot be; and what is not settled has
// a question that must be answered.
func TestQuestionsCanBeAnswered(t *testing.T) {
	asked, must, byRule := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := smallCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			return
		}
		van := Van{BaseVan: anyOf(t, "van", []string{"long", "short"})}
		var choices Choices
		for _, f := range c.Features {
			switch rapid.IntRange(0, 5).Draw(t, "says") {
			case 0:
				choices.Features = append(choices.Features, Choice{Want: f.Code})
			case 1:
				choices.Features = append(choices.Features, Choice{Refuse: f.Code})
			}
		}
		resolve := func(more ...Choice) *Resolution {
			with := choices
			with.Features = append(slices.Clone(choices.Features), more...)
			res, faults, err := Resolve(r, van, with, SettleNothing)
			if err != nil || len(faults) > 0 {
				return nil
			}
			return &res
		}
		res := resolve()
		if res == nil || !res.Specification.Allowed {
			return
		}
		questions, err := Questions(r, res)
		if err != nil {
			t.Fatal(err)
		}
		open := map[string]bool{}
		for i, o := range res.Answer.Options {
			if o.Standing == options.Open && !c.Features[i].Follower {
				open[c.Features[i].Code] = true
			}
		}
		mustSome := false
		for _, q := range questions {
			asked++
			mustSome = mustSome || q.Must
			var none []Choice
			picks := false
			for _, a := range q.Answers {
				if picks = picks || a.Finish != ""; q.Finish != "" || a.Finish != "" {
					continue
				}
				given := resolve(Choice{Want: a.Code, Count: a.Least})
				if given == nil || !given.Specification.Allowed {
					t.Fatalf("%+v: %s cannot be had", q, a.Code)
				}
				none = append(none, Choice{Refuse: a.Code})
				if q.Group != "" {
					delete(open, a.Code)
				}
			}
			if q.Must {
				must++
			}
			without := resolve(none...) // nil where more of what is wanted is needed
			if can := without != nil && without.Specification.Allowed; q.Finish == "" && !picks && can == q.Must {
				t.Fatalf("%+v: %v that it is allowed with none of it", q, can)
			}
			if q.Rule != "" {
				byRule++
			}
		}
		if len(open) > 0 {
			t.Fatalf("open and not asked for: %v", open)
		}
		if !res.Specification.Settled && !mustSome {
			t.Fatalf("%+v is not settled, and nothing must be answered: %+v", res.Answer.Unsettled, questions)
		}
	})
	t.Logf("%d questions, %d must be answered, %d of rules", asked, must, byRule) // of rules there may be none in a hundred draws
	if asked == 0 || must == 0 {
		t.Error("too few to say anything")
	}
}

// The order of the sample's questions.
func TestQuestionsOfTheSample(t *testing.T) {
	r := sample(t)
	res := resolved(t, r, Van{BaseVan: r.catalogue.BaseVans[0].Code}, Choices{}, SettleNothing)
	questions, err := Questions(r, &res)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, q := range questions {
		var answers []string
		for _, a := range q.Answers {
			answers = append(answers, a.Code)
		}
		line := q.Stage + " " + q.Group + q.Finish + q.Rule + ": " + strings.Join(answers, " ")
		if q.Must {
			line += "; must"
		}
		if len(q.Default) > 0 {
			line += "; else " + strings.Join(q.Default, " ")
		}
		lines = append(lines, line)
	}
	want := []string{
		"strip_out work: whole_conversion windows_only parts_only; must",
		"windows windows: side_window",
		"windows roof: roof_vent lifting_roof; else roof_vent",
		"wiring electrics: leisure_battery socket",
		"gas cooking: gas_hob spirit_stove; else spirit_stove",
		"gas safety: gas_alarm",
		"furniture furniture: galley bed",
	}
	if !slices.Equal(lines, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
}
