package job_test

import (
	"fmt"
	"maps"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
)

func movesText(list []job.Move) string {
	text := ""
	for _, m := range list {
		text += fmt.Sprintf("%s %s %s; ", m.Part, m.Stage, m.Quantity)
	}
	return text
}

func TestEntriesAreTakenBack(t *testing.T) {
	p, j, _ := in(t)
	must := at(t)
	day, later := on("2027-02-02"), on("2027-02-03")
	issued := must(j.Use(p, day, job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("2.5")}, known))
	if got := movesText(j.MovesTo(&issued)); got != "pipe gas 2.5; " {
		t.Errorf("issued, and moved %s", got)
	}
	came := must(issued.Use(p, day, job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("-2"), Because: "Left over."}, known))
	out, back := came.Parts[0].Number, came.Parts[1].Number
	_, faults := came.TakeBackPart(later, out, "Another van.")
	refused(t, "issued, and some of it came back", faults, "more_than_issued")
	_, faults = came.TakeBackPart(later, out, "")
	refused(t, "without a reason", faults, "missing", "more_than_issued")
	_, faults = came.TakeBackPart(later, 99, "So.")
	refused(t, "no such entry", faults, "unknown_entry")
	right := must(came.TakeBackPart(later, back, "Another van."))
	if got := movesText(came.MovesTo(&right)); got != "pipe gas 2; " || !right.Used("gas", "pipe").Equal(d("2.5")) {
		t.Errorf("it never came back, and moved %s", got)
	}
	if word, ok := right.TookBack(back); !ok || right.Said(word.Because) != "Another van." || word.On != "2027-02-03" || len(right.Parts) != 2 {
		t.Errorf("taken back as %+v", word)
	}
	_, faults = right.TakeBackPart(later, back, "Again.")
	refused(t, "twice", faults, job.NotInThisState)
	none := must(right.TakeBackPart(later, out, "Another van."))
	if got := movesText(j.MovesTo(&none)); got != "" || len(none.UsedParts()) != 0 {
		t.Errorf("both are taken back, and moved %s of %v", got, none.UsedParts())
	}

	// Numbers: what a number took the place of is in the van again.
	fit := func(value string, inPlaceOf int) (job.Job, document.Faults) {
		return j.Fit(p, day, job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: value, InPlaceOf: inPlaceOf}, known)
	}
	j = must(fit("A1", 0))
	a := j.Serials[0].Number
	j = must(fit("A2", a))
	b := j.Serials[1].Number
	_, faults = j.TakeBackSerial(later, a, "Misread.")
	refused(t, "what has been replaced", faults, job.NotInThisState)
	twice := must(fit("A1", 0))
	_, faults = twice.TakeBackSerial(later, b, "Misread.")
	refused(t, "and the old one is recorded anew", faults, "given_twice")
	j = must(j.TakeBackSerial(later, b, "Misread."))
	if !j.Fitted(&j.Serials[0]) || j.Fitted(&j.Serials[1]) {
		t.Errorf("in the van are %+v", j.Serials)
	}
	_, faults = fit("A1", 0)
	refused(t, "it is there again", faults, "given_twice")
	j = must(fit("A3", a))
	if j.Serials[0].ReplacedBy != j.Serials[2].Number {
		t.Errorf("replaced again: %+v", j.Serials)
	}
}

func TestWhatIsKeptGoesOnTheShelf(t *testing.T) {
	p, j, _ := in(t)
	must := at(t)
	day := on("2027-02-02")
	c := &catalogue.Catalogue{Parts: []catalogue.Part{
		{Code: "bench", Name: "Bench", Provision: catalogue.ForTheJob}, {Code: "glue", Name: "Glue", Provision: catalogue.Consumable},
	}}
	price, _ := money.Parse("120.00", "GBP")
	bought := job.NewRemoved{Feature: "seats", To: job.WorkshopBuys, Price: &price, Shelved: []job.Shelved{{Part: "bench", Quantity: d("2")}}}
	for what, bad := range map[string]struct {
		n     job.NewRemoved
		codes []string
	}{
		"waste on the shelf":    {job.NewRemoved{Feature: "seats", To: job.Waste, Shelved: bought.Shelved}, []string{"contradiction"}},
		"no such part":          {job.NewRemoved{Feature: "seats", To: job.WorkshopBuys, Price: &price, Shelved: []job.Shelved{{Part: "nail", Quantity: d("1")}}}, []string{"unknown_part"}},
		"what is never counted": {job.NewRemoved{Feature: "seats", To: job.WorkshopBuys, Price: &price, Shelved: []job.Shelved{{Part: "glue", Quantity: d("1")}}}, []string{"never_counted"}},
		"half a bench, twice": {job.NewRemoved{Feature: "seats", To: job.WorkshopBuys, Price: &price,
			Shelved: []job.Shelved{{Part: "bench", Quantity: d("0.5")}, {Part: "bench", Quantity: d("1")}}}, []string{"out_of_range", "given_twice"}},
	} {
		_, faults := j.TakeOut(p, day, bad.n, "GBP", c)
		refused(t, what, faults, bad.codes...)
	}
	kept := must(j.TakeOut(p, day, bought, "GBP", c))
	if got := movesText(j.MovesTo(&kept)); got != "bench  -2; " {
		t.Errorf("kept, and moved %s", got)
	}
	gone := must(kept.TakeOut(p, day, job.NewRemoved{Feature: "seats", To: job.Waste}, "GBP", c))
	if got := movesText(kept.MovesTo(&gone)); got != "bench  2; " {
		t.Errorf("waste after all, and moved %s", got)
	}
	again := must(gone.TakeBackRemoved(day, gone.Removed[1].Number, "It was the other van's."))
	if went, ok := again.WentTo("seats"); !ok || went.To != job.WorkshopBuys || movesText(gone.MovesTo(&again)) != "bench  -2; " {
		t.Errorf("the word before holds: %+v, moved %s", went, movesText(gone.MovesTo(&again)))
	}
}

// TestMovesAreWhatCounts: whatever is recorded and taken back in whatever
// order, what has moved adds up to the entries that count, written down by
// hand, and no number is in the van twice.
func TestMovesAreWhatCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, j := begun()
		day := on("2027-02-02")
		moved, counts := map[string]decimal.Decimal{}, map[int]decimal.Decimal{}
		stages := map[int]string{}
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			next, faults := job.Job{}, document.Faults(nil)
			stage := rapid.SampledFrom([]string{"gas", "furniture"}).Draw(t, "stage")
			quantity := decimal.NewFromInt(rapid.Int64Range(-3, 5).Draw(t, "quantity"))
			number := rapid.IntRange(0, j.Last).Draw(t, "entry")
			switch rapid.IntRange(0, 4).Draw(t, "what") {
			case 0, 1:
				next, faults = j.Use(p, day, job.NewPart{Part: "pipe", Stage: stage, Quantity: quantity, Counted: true}, known)
				if len(faults) == 0 {
					counts[next.Last], stages[next.Last] = quantity, stage
				}
			case 2:
				next, faults = j.TakeBackPart(day, number, "So.")
				if len(faults) == 0 {
					delete(counts, number)
				}
			case 3:
				value := rapid.SampledFrom([]string{"A1", "A2"}).Draw(t, "value")
				next, faults = j.Fit(p, day, job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: value, InPlaceOf: number}, known)
			case 4:
				next, faults = j.TakeBackSerial(day, number, "So.")
			}
			if len(faults) > 0 {
				continue
			}
			for _, m := range j.MovesTo(&next) {
				moved[m.Stage] = moved[m.Stage].Add(m.Quantity)
			}
			j = next
			there := map[string]bool{}
			for i := range j.Serials {
				if s := &j.Serials[i]; j.Fitted(s) {
					if there[s.Value] {
						t.Fatalf("%s is in the van twice", s.Value)
					}
					there[s.Value] = true
				}
			}
		}
		want := map[string]decimal.Decimal{}
		for n, q := range counts {
			want[stages[n]] = want[stages[n]].Add(q)
		}
		for _, stage := range []string{"gas", "furniture"} {
			if !moved[stage].Equal(want[stage]) || !j.Used(stage, "pipe").Equal(want[stage]) || want[stage].IsNegative() {
				t.Fatalf("%s: moved %s, used %s, by hand %s of %v", stage, moved[stage], j.Used(stage, "pipe"), want[stage], maps.Values(counts))
			}
		}
	})
}
