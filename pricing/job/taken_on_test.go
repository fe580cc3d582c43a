package job_test

import (
	"slices"
	"testing"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
	"wainscot/pricing/quote/quotetest"
)

// TestTakenOnVanIsNoLessSafe: a van that was in build before is not handed over
// without the certificates it needs, weighed where it has to be, and its customer
// is shown what can hurt; whatever is there already is not asked for again.
func TestTakenOnVanIsNoLessSafe(t *testing.T) {
	c := quotetest.Release().Catalogue()
	act := job.Act{On: "2026-11-20", Today: "2026-11-25", By: "person-1"}
	take := func(papers ...job.TakenOnPaper) (job.Job, job.Plan, bom.Sheet) {
		j, err := job.TakeOn(act, job.NewTakenOn{BaseVan: "short_panel_van", AgreedOn: "2026-08-14", Key: "J-1", Says: "A roof", ArrivedOn: "2026-11-09", Stage: "lining",
			Hours: []job.ReturnHours{{Stage: "lining", Trade: "joiner", Hours: number("12")}}, Papers: papers, Release: 1, Catalogue: c})
		if err != nil {
			t.Fatal(err)
		}
		sheet := *j.OwnSheet(c)
		return j, job.PlanOf(noSpec(), &sheet, c), sheet
	}
	stops := func(j job.Job, p job.Plan) (list []string) {
		for _, s := range j.Gate(&p, "2026-11-25") {
			list = append(list, s.Code+" "+s.About)
		}
		return list
	}
	cautions := func(s bom.Sheet) (list []catalogue.Caution) {
		for _, n := range s.Cautions {
			if n.Says == "" {
				t.Error("a caution that says nothing")
			}
			list = append(list, n.Caution)
		}
		return list
	}

	j, p, sheet := take(job.TakenOnPaper{Outside: "weighbridge", State: job.PaperToCome, Stage: "handover"}, job.TakenOnPaper{Outside: "gas_test", State: job.PaperToCome, Stage: "gas"},
		job.TakenOnPaper{Outside: "electrical_test", State: job.PaperThere, On: "2026-11-12"})
	got := stops(j, p)
	for _, want := range []string{"paper gas_test", "weighing ", "not_shown gas", "not_shown mains", "not_shown weight"} {
		if !slices.Contains(got, want) {
			t.Errorf("nothing says %q: %q", want, got)
		}
	}
	if slices.Contains(got, "paper electrical_test") {
		t.Errorf("what is there is asked for again: %q", got)
	}
	if got := cautions(sheet); !slices.Equal(got, []catalogue.Caution{catalogue.CautionGas, catalogue.CautionMains, catalogue.CautionWeight}) {
		t.Errorf("its cautions are %q", got)
	}
	if text, err := j.Encode(); err != nil {
		t.Error(err)
	} else if back, err := job.Decode(text); err != nil || !slices.Equal(back.TakenOn.Papers, j.TakenOn.Papers) {
		t.Errorf("read back: %v %+v", err, back.TakenOn)
	}

	j, p, sheet = take(job.TakenOnPaper{Outside: "weighbridge", State: job.PaperThere, On: "2026-11-12"})
	for _, s := range stops(j, p) {
		if s == "weighing " || s == "not_shown weight" {
			t.Errorf("it was weighed: %q", s)
		}
	}
	if len(sheet.Cautions) != 0 {
		t.Errorf("its cautions are %q", cautions(sheet))
	}
}
