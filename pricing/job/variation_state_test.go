package job_test

import (
	"fmt"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// A variation's way: a finding stops its stage until the customer has said yes,
// a no gives it back, and a yes gives the job its new sheet.
func TestAVariationsWay(t *testing.T) {
	in := varying(t, gross(), "full-conversion-short-van")
	c := in.Offer.Release.Catalogue()
	j := job.New(&in.Agreed.Van.Sheet, c.Stages, "2026-09-02")
	j.State = job.InTheWorkshop
	state(&j, "strip_out", job.Done)
	state(&j, "openings", job.Done)
	in.Stages = []job.StageProgress{{Stage: "strip_out", DonePercent: 100}, {Stage: "openings", DonePercent: 100}}

	act := job.Act{On: "2026-11-24", Today: "2026-11-25", By: "person-1"}
	j, faults := j.Find(act, job.Finding{FoundAt: "strip_out", Stage: "floor", Words: "Rust under the floor.",
		Hours: []bom.AdditionHours{{Trade: "fitter", Hours: number("2")}}}, c)
	ok(t, faults)
	if len(j.StoppedBy("floor")) != 1 || len(j.StoppedBy("lining")) != 0 {
		t.Fatal("the finding does not stop the floor alone")
	}
	in.Findings = j.Findings
	p := asks(&in)
	p.Findings = []int{1}
	p.Choices = without(p.Choices, "win_near_slide")
	v := varied(t, in, p)

	sent, faults := j.Send(&v)
	ok(t, faults)
	if sent.Findings[0].State != job.FindingAsked || len(sent.StoppedBy("floor")) != 1 {
		t.Errorf("sent: %+v", sent.Findings[0])
	}
	if _, faults := sent.Send(&v); !has(faults, "settled_already") {
		t.Errorf("its findings are asked twice: %+v", faults)
	}
	if _, faults := sent.LeaveSo(act, 1, "It is no rust."); !has(faults, job.NotInThisState) {
		t.Errorf("left so while asked: %+v", faults)
	}
	if back := sent.NotTaken(&v.Variation); back.Findings[0].State != job.FindingOpen || back.Findings[0].Variation != 0 {
		t.Errorf("declined: %+v", back.Findings[0])
	}

	yes := job.Consent{On: "2026-12-01", How: quote.AtCounter, Place: quote.OnPremises}
	for code, c := range map[string]job.Consent{
		"lapsed": {On: "2026-12-10", How: quote.AtCounter, Place: quote.OnPremises}, "too_early": {On: "2026-11-24", How: quote.AtCounter, Place: quote.OnPremises},
		"unknown_word": {On: "2026-12-01", How: "nod", Place: quote.OnPremises}, "contradiction": {On: "2026-12-01", How: quote.ByLink, Place: quote.OnPremises}, "day": {On: "soon", How: quote.AtCounter, Place: quote.OnPremises},
	} {
		if _, faults := sent.Accept(&v.Variation, c, in.Offer.Release.Catalogue().Stages); !has(faults, code) {
			t.Errorf("%s: %+v", code, faults)
		}
	}
	agreed, faults := sent.Accept(&v.Variation, yes, c.Stages)
	ok(t, faults)
	if agreed.Variation != 1 || agreed.Findings[0].State != job.FindingSettled || len(agreed.StoppedBy("floor")) != 0 {
		t.Errorf("accepted: %+v", agreed)
	}
	// The window that was dropped comes out again; nothing is new at strip-out.
	if stateOf(&agreed, "openings") != job.UnderWay || stateOf(&agreed, "strip_out") != job.Done || stateOf(&sent, "openings") != job.Done {
		t.Errorf("openings are %s, strip-out is %s", stateOf(&agreed, "openings"), stateOf(&agreed, "strip_out"))
	}
	if _, faults := agreed.Accept(&v.Variation, yes, c.Stages); !has(faults, "stale") {
		t.Errorf("accepted twice: %+v", faults)
	}
	if _, faults := agreed.Send(&v); !has(faults, "stale") {
		t.Errorf("sent again: %+v", faults)
	}

	over := agreed
	over.State = job.HandedOver
	if _, faults := over.Find(act, job.Finding{}, c); !has(faults, job.NotInThisState) {
		t.Errorf("found after handover: %+v", faults)
	}
	unready := v
	unready.NotReady = []bom.NotReady{{Code: bom.CheckNotMet, Says: "Too heavy."}}
	if _, faults := j.Send(&unready); !has(faults, string(bom.CheckNotMet)) {
		t.Errorf("sent too heavy: %+v", faults)
	}
}

// A stage that has nothing to do any more is gone, unless it has begun.
func TestAStageThatIsDropped(t *testing.T) {
	in := varying(t, gross(), "windows-only")
	c := in.Offer.Release.Catalogue()
	j := job.New(&in.Agreed.Van.Sheet, c.Stages, "2026-09-02")
	j.State = job.InTheWorkshop
	if len(j.Stages) < 2 {
		t.Fatalf("stages %+v", j.Stages)
	}
	v := varied(t, in, asks(&in))
	kept := v.Van.Sheet.Stages[:0:0]
	for _, s := range v.Van.Sheet.Stages {
		if s.Stage == j.Stages[0].Code || s.Stage == j.Stages[1].Code {
			s.Lines = 0
		}
		kept = append(kept, s)
	}
	v.Van.Sheet.Stages = kept
	state(&j, j.Stages[0].Code, job.UnderWay)
	now, faults := j.Accept(&v.Variation, job.Consent{On: "2026-12-01", How: quote.AtCounter, Place: quote.OnPremises}, c.Stages)
	ok(t, faults)
	if len(now.Stages) != len(j.Stages)-1 || stateOf(&now, j.Stages[0].Code) != job.UnderWay || stateOf(&now, j.Stages[1].Code) != "" {
		t.Errorf("stages %+v", now.Stages)
	}
}

// What is too heavy cannot be sent.
func TestNoVariationThatDoesNotPass(t *testing.T) {
	in := varying(t, gross(), "full-conversion-short-van")
	p := asks(&in)
	p.Choices.Additions = append(p.Choices.Additions, bom.Addition{Code: "anvil", Kind: bom.OneOff, Words: "An anvil", Stage: "furniture", MassKG: number("700")})
	p.Additions = append(p.Additions, addition("anvil", "100"))
	v := varied(t, in, p)
	j := job.New(&in.Agreed.Van.Sheet, in.Offer.Release.Catalogue().Stages, "2026-09-02")
	if _, faults := j.Send(&v); !has(faults, string(bom.CheckNotMet)) {
		t.Errorf("sent with %+v, faults %+v", v.NotReady, faults)
	}
}

func TestFaultsOfAProposal(t *testing.T) {
	for _, test := range []struct {
		name, at, code string
		change         func(*job.Varying, *job.Proposal)
	}{
		{"no day", "day", "day", func(_ *job.Varying, p *job.Proposal) { p.Day = "today" }},
		{"ends before it begins", "valid_until", "contradiction", func(_ *job.Varying, p *job.Proposal) { p.ValidUntil = "2026-11-24" }},
		{"no such finding", "findings/1", "no_finding", func(_ *job.Varying, p *job.Proposal) { p.Findings = []int{7} }},
		{"a charge among the choices", "choices/additions/1/code", "code_taken", func(_ *job.Varying, p *job.Proposal) {
			p.Choices.Additions = []bom.Addition{{Code: "rework_1_floor", Kind: bom.OneOff, Words: "x", Stage: "floor"}}
		}},
		{"a price of nothing", "additions/1/code", "unknown_code", func(_ *job.Varying, p *job.Proposal) { p.Additions = append(p.Additions, addition("ghost", "5")) }},
		{"a feature that is none", "choices/features/1/want", "unknown_code", func(_ *job.Varying, p *job.Proposal) { p.Choices.Features = []bom.Choice{{Want: "wings"}} }},
		{"more goes back than there is", "progress/parts/1", "out_of_range", func(_ *job.Varying, p *job.Proposal) {
			p.Parts = []job.PartProgress{{Part: "oven", CanGoBack: number("1")}}
		}},
		{"over and done with", "progress/stages/1/done_percent", "out_of_range", func(in *job.Varying, _ *job.Proposal) {
			in.Stages = []job.StageProgress{{Stage: "floor", DonePercent: 101}}
		}},
		{"a rule beyond reason", "rule/removal_percent", "out_of_range", func(_ *job.Varying, p *job.Proposal) { p.Rule.RemovalPercent = 301 }},
	} {
		in := varying(t, gross(), "windows-only")
		p := asks(&in)
		test.change(&in, &p)
		_, faults, err := job.Vary(in, p)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range faults {
			found = found || f.At == test.at && f.Code == test.code
		}
		if !found {
			t.Errorf("%s: %+v", test.name, faults)
		}
	}
	in := varying(t, gross(), "dealer-own-heater")
	p := asks(&in)
	for _, held := range in.Agreed.Asked.Vans[0].Additions {
		p.Additions = append(p.Additions, addition(held.Code, held.Price.Add(number("1")).String()))
	}
	if _, faults, err := job.Vary(in, p); err != nil || !has(faults, "price_holds") {
		t.Errorf("an agreed price was raised: %+v %v", faults, err)
	}
	other := in
	other.Agreed.Release.Hash = "another"
	if _, _, err := job.Vary(other, asks(&in)); err == nil {
		t.Error("worked out on another release")
	}
}

func TestFaultsOfAFinding(t *testing.T) {
	c := quotetest.Offer("2026-10").Release.Catalogue()
	act := job.Act{On: "2026-11-24", Today: "2026-11-25", By: "person-1"}
	j := job.Job{State: job.InTheWorkshop}
	good := job.Finding{FoundAt: "strip_out", Stage: "floor", Words: "Rust."}
	for at, change := range map[string]func(*job.Finding){
		"photographs/1":    func(f *job.Finding) { f.Photographs = []int{9} },
		"stage":            func(f *job.Finding) { f.Stage = "moon" },
		"found_at":         func(f *job.Finding) { f.FoundAt = "" },
		"words":            func(f *job.Finding) { f.Words = " " },
		"hours/1/trade":    func(f *job.Finding) { f.Hours = []bom.AdditionHours{{Trade: "wizard", Hours: number("1")}} },
		"hours/1/hours":    func(f *job.Finding) { f.Hours = []bom.AdditionHours{{Trade: "fitter", Hours: number("0.001")}} },
		"parts/1/part":     func(f *job.Finding) { f.Parts = []job.FindingPart{{Part: "moon", Quantity: number("1")}} },
		"parts/1/quantity": func(f *job.Finding) { f.Parts = []job.FindingPart{{Part: "glass_side_slide", Quantity: number("0.5")}} },
		"touches/1":        func(f *job.Finding) { f.Touches = append(f.Touches, "fire") },
	} {
		f := good
		change(&f)
		_, faults := j.Find(act, f, c)
		if len(faults) != 1 || faults[0].At != at {
			t.Errorf("%s: %+v", at, faults)
		}
	}
	found, faults := j.Find(act, good, c)
	ok(t, faults)
	left, faults := found.LeaveSo(act, 1, "Only dirt.")
	ok(t, faults)
	if left.Findings[0].Stops() || !found.Findings[0].Stops() || left.Said(left.Findings[0].Because) != "Only dirt." {
		t.Error("left so, it stops its stage, or changed what it was made of, or why is not kept")
	}
	if _, faults := left.LeaveSo(act, 1, "Again."); !has(faults, job.NotInThisState) {
		t.Errorf("settled twice: %+v", faults)
	}
	if _, faults := left.LeaveSo(act, 2, "Again."); !has(faults, "no_finding") {
		t.Errorf("settled what is not there: %+v", faults)
	}
	if yes, faults := found.Approve(act, 1); len(faults) > 0 || !yes.Findings[0].Approved || found.Findings[0].Approved {
		t.Errorf("approved: %+v %+v", yes.Findings, faults)
	}
}

func ok(tb testing.TB, faults document.Faults) {
	tb.Helper()
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
}

func has(faults document.Faults, code string) bool {
	for _, f := range faults {
		if f.Code == code {
			return true
		}
	}
	return false
}

func state(j *job.Job, stage string, to job.StageState) {
	for i := range j.Stages {
		if j.Stages[i].Code == stage {
			j.Stages[i].State = to
		}
	}
}

func stateOf(j *job.Job, stage string) job.StageState {
	for i := range j.Stages {
		if j.Stages[i].Code == stage {
			return j.Stages[i].State
		}
	}
	return ""
}

func TestFindingsPartsAreOnTheSheet(t *testing.T) {
	c := &catalogue.Catalogue{Parts: []catalogue.Part{
		{Code: "sheet", Name: "Steel sheet", Unit: "each", Provision: catalogue.ForTheJob}, {Code: "primer", Name: "Primer", Unit: "ml", Provision: catalogue.ToppedUp},
	}}
	sheet := &bom.Sheet{Lines: []bom.Line{{Stage: "floor", Kind: bom.PartLine, Code: "sheet", Quantity: d("1"), Because: []bom.Because{{Quantity: d("1")}}}}}
	j := job.Job{Findings: []job.Finding{
		{Number: 1, Stage: "floor", State: job.FindingSettled, Parts: []job.FindingPart{{Part: "sheet", Quantity: d("2")}, {Part: "primer", Quantity: d("40")}, {Part: "gone", Quantity: d("1")}}},
		{Number: 2, Stage: "floor", State: job.FindingAsked, Parts: []job.FindingPart{{Part: "sheet", Quantity: d("5")}}},
		{Number: 3, Stage: "roof", State: job.FindingSettled},
	}}
	got := ""
	for _, l := range j.WithFindings(sheet, c).Lines {
		var sum decimal.Decimal
		for _, b := range l.Because {
			sum = sum.Add(b.Quantity)
		}
		got += fmt.Sprintf("%s %s %s of %s, %s; ", l.Stage, l.Code, l.Quantity, sum, l.Provision)
	}
	if got != "floor sheet 3 of 3, ; floor primer 40 of 40, topped up; " {
		t.Errorf("the sheet has %s", got)
	}
	if len(sheet.Lines) != 1 || !sheet.Lines[0].Quantity.Equal(d("1")) || len(sheet.Lines[0].Because) != 1 {
		t.Errorf("the agreed sheet was changed: %+v", sheet.Lines)
	}
	if !j.InParts("finding_1") || j.InParts("finding_2") || j.InParts("finding_3") || j.InParts("") {
		t.Error("which of them are in parts")
	}
}
