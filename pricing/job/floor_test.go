package job_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// shop is a small workshop: furniture waits for tested wiring and tight gas.
func shop() (*catalogue.Catalogue, *bom.Sheet, *bom.Specification) {
	c := &catalogue.Catalogue{
		Trades: []catalogue.Trade{{Code: "joiner", Name: "Joiner"}, {Code: "gas_fitter", Name: "Gas fitter"}},
		Stages: []catalogue.Stage{
			{Code: "strip", Name: "Strip-out"},
			{Code: "roof", Name: "Roof", After: []string{"strip"}},
			{Code: "wiring", Name: "Wiring", After: []string{"roof"}},
			{Code: "gas", Name: "Gas", After: []string{"strip"}},
			{Code: "bench", Name: "Bench work"},
			{Code: "furniture", Name: "Furniture", After: []string{"wiring", "gas", "bench"}, Holds: []catalogue.StageHold{
				{Code: "wired", Until: catalogue.UntilTest, Stage: "wiring", Says: "Every circuit is tried"},
				{Code: "tight", Until: catalogue.UntilTest, Outside: "gas_test", Stage: "gas", Says: "The pipes hold their pressure"},
				{Code: "roofed", Until: catalogue.UntilTest, Stage: "roof", Says: "There is no roof on this van"},
				{Code: "sprayed", Until: catalogue.UntilTest, Outside: "spray", Says: "Nothing is sprayed"},
			}},
			{Code: "finish", Name: "Handover", After: []string{"furniture"}, Holds: []catalogue.StageHold{
				{Code: "signed", Until: catalogue.UntilCertificate, Outside: "gas_test", Stage: "furniture", Says: "The engineer signs"},
			}},
		},
		BaseVans: []catalogue.BaseVan{{Code: "long", Facts: catalogue.Facts{
			{Name: "wheelbase_mm", Kind: catalogue.NumberFact, Number: d("3000")},
			{Name: catalogue.CabSeatsFromFrontAxleMM, Kind: catalogue.NumberFact, Number: d("1000")},
			{Name: catalogue.FuelTankFromFrontAxleMM, Kind: catalogue.NumberFact, Number: d("1500")},
			{Name: catalogue.FuelTankL, Kind: catalogue.NumberFact, Number: d("100")},
		}}},
		Features: []catalogue.Feature{{Code: "bed", Shows: "How the bed is made."}, {Code: "awning", Shows: "How it is wound out."}},
		Parts:    []catalogue.Part{{Code: "hob", Name: "Hob", Serial: true}, {Code: "pipe", Name: "Pipe", Batch: true}},
		OutsideWork: []catalogue.OutsideWork{
			{Code: "gas_test", Certificate: "Gas certificate", Caution: []catalogue.Caution{catalogue.CautionGas}},
			{Code: "weighbridge", Certificate: "Ticket", Caution: []catalogue.Caution{catalogue.CautionWeight}},
			{Code: "spray"},
		},
	}
	line := func(stage string, kind bom.LineKind, code, quantity string) bom.Line {
		return bom.Line{Stage: stage, Kind: kind, Code: code, Name: strings.ToUpper(code[:1]) + code[1:], Quantity: d(quantity)}
	}
	kg := func(front, rear string) bom.Axles { return bom.Axles{FrontKG: d(front), RearKG: d(rear)} }
	sheet := &bom.Sheet{
		BaseVan: "long",
		Stages: []bom.StageTotal{{Stage: "strip", Lines: 1}, {Stage: "roof"}, {Stage: "wiring", Lines: 2}, {Stage: "gas", Lines: 4},
			{Stage: "bench", Lines: 1}, {Stage: "furniture", Lines: 1}, {Stage: "finish", Lines: 1}},
		Lines: []bom.Line{
			line("strip", bom.HoursLine, "joiner", "2"), line("wiring", bom.HoursLine, "joiner", "3"),
			line("gas", bom.PartLine, "hob", "1"), line("gas", bom.PartLine, "pipe", "2.5"),
			line("gas", bom.HoursLine, "gas_fitter", "3"), line("gas", bom.OutsideLine, "gas_test", "1"),
			line("finish", bom.OutsideLine, "weighbridge", "1"),
		},
		Certificates: []bom.Certificate{{Name: "Gas certificate", Outside: "gas_test"}, {Name: "Ticket", Outside: "weighbridge"}},
		Evidence: []bom.EvidenceDue{{Code: "letter", Name: "Letter of the maker", Due: catalogue.BeforeWork},
			{Code: "approval", Name: "Approval", Due: catalogue.BeforeRegistration}},
		Cautions: []bom.CautionNote{{Caution: catalogue.CautionGas}},
		Mass: bom.Mass{PlatedKG: d("3000"), Plated: kg("1650", "1700"), Before: kg("1200", "800"), After: kg("1300", "1100"),
			InRunningOrder: kg("1350", "1160")},
	}
	spec := &bom.Specification{
		Features: []bom.SpecifiedFeature{{Code: "bed", Count: 1, Fit: 1}},
		Removed:  []bom.RemovedFeature{{Code: "seats", Name: "Rear seats", Count: 1}},
	}
	return c, sheet, spec
}

// plan and job of the small workshop.
func begun() (*job.Plan, job.Job) {
	c, sheet, spec := shop()
	p := job.PlanOf(spec, sheet, c)
	return &p, job.New(sheet, c.Stages, "2027-01-04")
}

// crew: master may do everything alone, prentice nothing of gas, joiner no gas.
var crew = []schedule.Member{
	{ID: "master", Trades: []schedule.MemberTrade{{Trade: "gas_fitter", Alone: true}, {Trade: "joiner", Alone: true}}},
	{ID: "prentice", Trades: []schedule.MemberTrade{{Trade: "gas_fitter"}, {Trade: "joiner", Alone: true}}},
	{ID: "joiner", Trades: []schedule.MemberTrade{{Trade: "joiner", Alone: true}}},
}

func known(part string) bool { return part == "hob" || part == "pipe" || part == "glue" }

var (
	engineer = &job.Signatory{ID: "engineer", Signs: []string{"gas_test"}, ExpiresOn: "2027-02-10"}
	sparks   = &job.Signatory{ID: "sparks", Signs: []string{"spray"}}
)

func on(day string) job.Act { return job.Act{On: day, Today: "2027-03-01", By: "nora"} }

const sum = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"

// at is a change that must succeed.
func at(t *testing.T) func(j job.Job, faults document.Faults) job.Job {
	t.Helper()
	return func(j job.Job, faults document.Faults) job.Job {
		t.Helper()
		if len(faults) > 0 {
			t.Fatalf("refused: %v", faults)
		}
		return j
	}
}

// refused holds the codes of faults against those expected.
func refused(t *testing.T, what string, faults document.Faults, codes ...string) {
	t.Helper()
	var got []string
	for _, f := range faults {
		got = append(got, f.Code)
		if f.Reason == "" || f.Remedy == "" {
			t.Errorf("%s: the fault %q says too little: %v", what, f.Code, f)
		}
	}
	slices.Sort(got)
	slices.Sort(codes)
	if !slices.Equal(slices.Compact(got), codes) {
		t.Errorf("%s: %v, want %v: %v", what, got, codes, faults)
	}
}

// list both sign.
func signed(attachment int) job.NewCondition {
	n := job.NewCondition{
		MileageMiles: 41_000, FuelPercent: 50, KeyCount: 2, KeyHook: "7", Belongings: []string{"a blue blanket"}, Papers: []job.VanPaper{job.Registration},
		Signatures: []job.NewSignature{{For: job.ForTheCustomer, Name: "Ada Fairweather"}, {For: job.ForTheWorkshop, Name: "Nora"}},
	}
	for _, side := range []job.Side{job.Front, job.Rear, job.Nearside, job.Offside} {
		n.Photographs = append(n.Photographs, job.Photograph{Side: side, Attachment: attachment})
	}
	return n
}

// in is a job whose van is here, with one attachment, and the letter that work
// waits for.
func in(t *testing.T) (*job.Plan, job.Job, int) {
	t.Helper()
	p, j := begun()
	must := at(t)
	j = must(j.Attach(p, on("2027-02-01"), job.Attachment{MediaType: "image/jpeg", SHA256: sum, Bytes: 3}, "the front"))
	photo := j.Attachments[0].Number
	j = must(j.Arrive(on("2027-02-01"), signed(photo)))
	return p, must(j.Keep(p, on("2027-02-01"), job.NewPaper{Code: "letter", Attachment: photo})), photo
}

func TestPlanIsOfWhatTheSheetHas(t *testing.T) {
	p, j := begun()
	var stages []string
	for _, s := range p.Stages {
		stages = append(stages, s.Code)
	}
	if want := []string{"strip", "wiring", "gas", "bench", "furniture", "finish"}; !slices.Equal(stages, want) || len(j.Stages) != len(want) {
		t.Errorf("stages %v, and %d of the job, want %v", stages, len(j.Stages), want)
	}
	var holds []string
	for _, h := range p.Stage("furniture").Holds {
		holds = append(holds, h.Code+" "+string(h.Caution))
	}
	if want := []string{"wired ", "tight gas"}; !slices.Equal(holds, want) {
		t.Errorf("furniture waits for %v, want %v", holds, want)
	}
	var show []string
	for _, s := range p.Show {
		show = append(show, s.Code)
	}
	if want := []string{"gas", "bed"}; !slices.Equal(show, want) {
		t.Errorf("the customer is shown %v, want %v", show, want)
	}
	if !p.Weigh {
		t.Error("a van with a weighbridge ticket on its sheet is not weighed")
	}
	if got := p.Wanted("gas", "pipe"); !got.Equal(d("2.5")) {
		t.Errorf("%s of pipe wanted", got)
	}
}

func TestStagesBeginInTheirOrder(t *testing.T) {
	p, j := begun()
	must := at(t)
	_, faults := j.Begin(p, on("2027-02-01"), "strip")
	refused(t, "without van and letter", faults, job.NotHere, job.AwaitsPaper)
	p, j, photo := in(t)
	_, faults = j.Begin(p, on("2027-02-01"), "roof")
	refused(t, "a stage without work", faults, "unknown_stage")
	_, faults = j.Begin(p, on("2027-03-02"), "strip")
	refused(t, "tomorrow", faults, "too_late")
	_, faults = j.Begin(p, on("2027-02-01"), "wiring")
	refused(t, "before the strip-out", faults, job.ComesBefore)
	_, faults = j.Finish(p, on("2027-02-01"), "strip")
	refused(t, "finishing what has not begun", faults, job.NotInThisState)
	_, faults = j.LeaveOut(p, on("2027-02-01"), "strip", "")
	refused(t, "leaving out without a reason", faults, "missing")
	j = must(j.LeaveOut(p, on("2027-02-01"), "strip", "It came empty."))
	j = must(j.Begin(p, on("2027-02-01"), "wiring"))
	j = must(j.Finish(p, on("2027-02-02"), "wiring"))
	j = must(j.Begin(p, on("2027-02-02"), "bench"))
	j = must(j.Finish(p, on("2027-02-02"), "bench"))
	_, faults = j.Begin(p, on("2027-02-03"), "furniture")
	refused(t, "before gas and tests", faults, job.ComesBefore, job.AwaitsTest)
	if len(faults) != 3 {
		t.Errorf("not everything was told at once: %v", faults)
	}
	_, faults = j.Record(p, on("2027-02-03"), job.NewTest{Of: "tight", Signatory: engineer, Passed: true})
	refused(t, "testing gas that is not there", faults, job.NotInThisState)
	j = must(j.Begin(p, on("2027-02-03"), "gas"))
	j = must(j.Finish(p, on("2027-02-04"), "gas"))
	for what, n := range map[string]struct {
		job.NewTest
		codes []string
	}{
		"nobody":                 {job.NewTest{Of: "tight", Passed: true}, []string{"missing"}},
		"one of the crew":        {job.NewTest{Of: "tight", Crew: "master", Passed: true}, []string{"missing"}},
		"one who may not":        {job.NewTest{Of: "tight", Signatory: sparks, Passed: true}, []string{"may_not_sign"}},
		"a hold nobody knows":    {job.NewTest{Of: "loose", Signatory: engineer, Passed: true}, []string{"unknown_hold"}},
		"a hold that was not on": {job.NewTest{Hold: 99, Signatory: engineer, Passed: true}, []string{"unknown_hold"}},
		"both":                   {job.NewTest{Of: "tight", Hold: 1, Signatory: engineer, Passed: true}, []string{"not_exactly_one"}},
		"a certificate's":        {job.NewTest{Of: "signed", Signatory: engineer, Passed: true}, []string{"no_test"}},
		"failed without words":   {job.NewTest{Of: "tight", Signatory: engineer}, []string{"missing"}},
		"no such photograph":     {job.NewTest{Of: "tight", Signatory: engineer, Passed: true, Attachment: 99}, []string{"unknown_attachment"}},
	} {
		_, faults = j.Record(p, on("2027-02-04"), n.NewTest)
		refused(t, what, faults, n.codes...)
	}
	_, faults = j.Record(p, on("2027-02-11"), job.NewTest{Of: "tight", Signatory: engineer, Passed: true})
	refused(t, "the day after the register entry ended", faults, "expired")
	j = must(j.Record(p, on("2027-02-10"), job.NewTest{Of: "tight", Signatory: engineer, Passed: true}))
	j = must(j.Record(p, on("2027-02-10"), job.NewTest{Of: "wired", Crew: "joiner", Passed: true}))
	again := must(j.TakeUpAgain(p, on("2027-02-10"), "gas", "A pipe was moved."))
	again = must(again.Finish(p, on("2027-02-10"), "gas"))
	_, faults = again.Begin(p, on("2027-02-10"), "furniture")
	refused(t, "after the gas was moved", faults, job.AwaitsTest)
	failed := must(j.Record(p, on("2027-02-10"), job.NewTest{Of: "wired", Crew: "joiner", Says: "The pump's fuse blows."}))
	_, faults = failed.Begin(p, on("2027-02-10"), "furniture")
	refused(t, "after a test that was failed later", faults, job.AwaitsTest)
	j = must(j.Begin(p, on("2027-02-10"), "furniture"))
	j = must(j.Finish(p, on("2027-02-10"), "furniture"))
	_, faults = j.Begin(p, on("2027-02-10"), "finish")
	refused(t, "without the certificate", faults, job.AwaitsCertificate)
	j = must(j.Keep(p, on("2027-02-10"), job.NewPaper{Code: "gas_test", Signatory: engineer, Attachment: photo}))
	must(j.Begin(p, on("2027-02-10"), "finish"))
}

func TestNoWordLiftsAHoldAboutGas(t *testing.T) {
	p, j, photo := in(t)
	must := at(t)
	_, faults := j.PutOnHold(p, on("2027-02-01"), job.NewHold{Code: "Rust", Stage: "roof", Caution: catalogue.CautionSeats})
	refused(t, "a hold", faults, "bad_code", "unknown_stage", "unknown_word", "missing")
	j = must(j.PutOnHold(p, on("2027-02-01"), job.NewHold{Code: "rust", Stage: "strip", Says: "The sill is rusted through."}))
	rust := j.Holds[0].Number
	_, faults = j.Begin(p, on("2027-02-01"), "strip")
	refused(t, "on hold", faults, job.Held)
	_, faults = j.Lift(on("2027-02-01"), rust, "")
	refused(t, "without a reason", faults, "missing")
	_, faults = j.Lift(on("2027-02-01"), 99, "So.")
	refused(t, "no such hold", faults, "unknown_hold")
	j = must(j.Lift(on("2027-02-02"), rust, "It was welded."))
	_, faults = j.Lift(on("2027-02-02"), rust, "It was welded.")
	refused(t, "twice", faults, job.NotInThisState)
	j = must(j.Begin(p, on("2027-02-02"), "strip"))
	j = must(j.PutOnHold(p, on("2027-02-02"), job.NewHold{Code: "smell", Stage: "strip", Says: "It smells of gas.", Caution: catalogue.CautionGas}))
	smell := j.Holds[1].Number
	_, faults = j.Finish(p, on("2027-02-02"), "strip")
	refused(t, "finishing what is on hold", faults, job.Held)
	_, faults = j.Lift(on("2027-02-02"), smell, "It is gone.")
	refused(t, "by a word", faults, job.NoWordLifts)
	_, faults = j.Record(p, on("2027-02-02"), job.NewTest{Hold: smell, Crew: "master", Passed: true})
	refused(t, "by one of the crew", faults, "missing")
	_, faults = j.Record(p, on("2027-02-02"), job.NewTest{Hold: smell, Signatory: sparks, Passed: true})
	refused(t, "by one who signs other work", faults, "may_not_sign")
	still := must(j.Record(p, on("2027-02-02"), job.NewTest{Hold: smell, Signatory: engineer, Says: "It leaks."}))
	_, faults = still.Finish(p, on("2027-02-02"), "strip")
	refused(t, "after a test that was failed", faults, job.Held)
	tested := must(j.Record(p, on("2027-02-02"), job.NewTest{Hold: smell, Signatory: engineer, Passed: true}))
	tested = must(tested.Finish(p, on("2027-02-02"), "strip"))
	tested = must(tested.PutOnHold(p, on("2027-02-02"), job.NewHold{Code: "smell", Stage: "furniture", Says: "Again.", Caution: catalogue.CautionGas}))
	tested = must(tested.Begin(p, on("2027-02-02"), "gas"))
	tested = must(tested.Finish(p, on("2027-02-02"), "gas"))
	tested = must(tested.Keep(p, on("2027-02-02"), job.NewPaper{Code: "gas_test", Signatory: engineer, Attachment: photo}))
	if h := tested.Holds[2]; h.LiftedOn != "2027-02-02" {
		t.Errorf("the certificate left the hold as it was: %+v", h)
	}
}

func TestHoursAreWorkedByWhoMay(t *testing.T) {
	p, j, _ := in(t)
	must := at(t)
	work := func(list ...job.NewHours) (job.Job, document.Faults) { return j.Work(p, crew, on("2027-02-02"), list) }
	_, faults := work(job.NewHours{Crew: "master", Stage: "strip", Trade: "joiner", Hours: d("2")})
	refused(t, "before it began", faults, job.NotInThisState)
	j = must(j.Begin(p, on("2027-02-01"), "strip"))
	_, faults = work()
	refused(t, "none", faults, "missing")
	for what, n := range map[string]struct {
		job.NewHours
		code string
	}{
		"nobody":           {job.NewHours{Crew: "ghost", Stage: "strip", Trade: "joiner", Hours: d("2")}, "unknown_crew"},
		"no trade":         {job.NewHours{Crew: "master", Stage: "strip", Trade: "baker", Hours: d("2")}, "unknown_trade"},
		"not theirs":       {job.NewHours{Crew: "joiner", Stage: "strip", Trade: "gas_fitter", Hours: d("2")}, "not_their_trade"},
		"nothing":          {job.NewHours{Crew: "master", Stage: "strip", Trade: "joiner"}, "out_of_range"},
		"too fine":         {job.NewHours{Crew: "master", Stage: "strip", Trade: "joiner", Hours: d("0.001")}, "out_of_range"},
		"more than a day":  {job.NewHours{Crew: "master", Stage: "strip", Trade: "joiner", Hours: d("24.01")}, "out_of_range"},
		"an apprentice":    {job.NewHours{Crew: "prentice", Stage: "strip", Trade: "gas_fitter", Hours: d("2")}, "alone"},
		"no stage of ours": {job.NewHours{Crew: "master", Stage: "roof", Trade: "joiner", Hours: d("2")}, "unknown_stage"},
	} {
		_, faults = work(n.NewHours)
		refused(t, what, faults, n.code)
	}
	left := slices.Clone(crew)
	for i := range left {
		left[i].LeftOn = "2027-02-02"
	}
	n := job.NewHours{Crew: "master", Stage: "strip", Trade: "joiner", Hours: d("2")}
	_, faults = j.Work(p, left, on("2027-02-02"), []job.NewHours{n})
	refused(t, "who has left", faults, "has_left")
	must(j.Work(p, left, on("2027-02-01"), []job.NewHours{n}))
	prentice := job.NewHours{Crew: "prentice", Stage: "strip", Trade: "gas_fitter", Hours: d("2")}
	master := job.NewHours{Crew: "master", Stage: "strip", Trade: "gas_fitter", Hours: d("20")}
	_, faults = work(prentice, job.NewHours{Crew: "master", Stage: "strip", Trade: "joiner", Hours: d("2")})
	refused(t, "beside somebody at another trade", faults, "alone")
	j = must(work(prentice, master))
	_, faults = work(master)
	refused(t, "two days in one", faults, "out_of_range")
	_, faults = j.Work(p, crew, on("2027-02-03"), []job.NewHours{prentice})
	refused(t, "alone on another day", faults, "alone")
	first, second := j.Hours[0].Number, j.Hours[1].Number
	_, faults = j.TakeBack(crew, on("2027-02-03"), second, "It was another van.")
	refused(t, "leaving the apprentice alone", faults, "alone")
	_, faults = j.TakeBack(crew, on("2027-02-03"), first, "")
	refused(t, "without a reason", faults, "missing")
	_, faults = j.TakeBack(crew, on("2027-02-03"), 99, "So.")
	refused(t, "no such entry", faults, "unknown_entry")
	j = must(j.TakeBack(crew, on("2027-02-03"), first, "It was another van."))
	back := j.Hours[2]
	if !back.Hours.Equal(d("-2")) || back.On != "2027-02-02" || back.Crew != "prentice" || j.Said(back.Because) != "It was another van." {
		t.Errorf("the counter-entry is %+v", back)
	}
	_, faults = j.TakeBack(crew, on("2027-02-03"), first, "Again.")
	refused(t, "twice", faults, job.NotInThisState)
	_, faults = j.TakeBack(crew, on("2027-02-03"), back.Number, "Not so.")
	refused(t, "a counter-entry", faults, "is_correction")
	must(j.TakeBack(crew, on("2027-02-03"), second, "It was another van."))
}

func TestPartsAndTheirNumbers(t *testing.T) {
	p, j, _ := in(t)
	must := at(t)
	use := func(n job.NewPart) (job.Job, document.Faults) { return j.Use(p, on("2027-02-02"), n, known) }
	_, faults := use(job.NewPart{Part: "nail", Stage: "gas", Quantity: d("1")})
	refused(t, "no such part", faults, "unknown_part", "missing")
	_, faults = use(job.NewPart{Part: "pipe", Stage: "gas"})
	refused(t, "nothing", faults, "out_of_range")
	_, faults = use(job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("-1"), Because: "Left over."})
	refused(t, "more back than out", faults, "more_than_issued")
	_, faults = use(job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("2.6")})
	refused(t, "more than the sheet has, without a reason", faults, "missing")
	j = must(use(job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("2.5")}))
	_, faults = use(job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("-0.5")})
	refused(t, "back without a reason", faults, "missing")
	j = must(use(job.NewPart{Part: "pipe", Stage: "gas", Quantity: d("-0.5"), Because: "Left over."}))
	if got := j.Used("gas", "pipe"); !got.Equal(d("2")) {
		t.Errorf("%s of pipe used", got)
	}
	fit := func(n job.NewSerial) (job.Job, document.Faults) { return j.Fit(p, on("2027-02-02"), n, known) }
	_, faults = fit(job.NewSerial{Part: "hob", Stage: "gas", Kind: "lot", Value: ""})
	refused(t, "no number", faults, "unknown_word", "bad_text")
	j = must(fit(job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: "A 17", Crew: "master"}))
	_, faults = fit(job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: "A 17"})
	refused(t, "twice", faults, "given_twice")
	j = must(fit(job.NewSerial{Part: "glue", Stage: "strip", Kind: job.OfBatch, Value: "L3"}))
	j = must(fit(job.NewSerial{Part: "glue", Stage: "wiring", Kind: job.OfBatch, Value: "L3"}))
	_, faults = fit(job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: "A 18", InPlaceOf: j.Serials[1].Number})
	refused(t, "in place of glue", faults, "unknown_entry")
	first := j.Serials[0].Number
	j = must(fit(job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: "A 18", InPlaceOf: first}))
	if j.Serials[0].ReplacedBy != j.Serials[3].Number {
		t.Errorf("the first hob is still there: %+v", j.Serials)
	}
}

func TestVanInAndOut(t *testing.T) {
	p, j := begun()
	must := at(t)
	if _, ok := j.Confirmed(); ok {
		t.Error("a van nobody expects is confirmed")
	}
	_, faults := j.Expect(on("2027-03-01"), "2027-02-28", "", true, "")
	refused(t, "expected yesterday from nobody", faults, "too_early", "missing")
	j = must(j.Expect(on("2027-03-01"), "2027-03-04", "the dealer", false, ""))
	if _, ok := j.Confirmed(); ok {
		t.Error("not confirmed is confirmed")
	}
	_, faults = j.Expect(on("2027-03-01"), "2027-03-11", "the dealer", true, "")
	refused(t, "later without a reason", faults, "missing")
	j = must(j.Expect(on("2027-03-01"), "2027-03-11", "the dealer", true, "It is still on the ship."))
	if day, ok := j.Confirmed(); !ok || day != "2027-03-11" || len(j.Expected) != 2 {
		t.Errorf("confirmed for %s, %v, %d days", day, ok, len(j.Expected))
	}
	_, faults = j.Arrive(on("2027-03-01"), job.NewCondition{
		FuelPercent: 101, Marks: []job.NewMark{{Side: "under", Says: "rust", Attachment: 4}}, Papers: []job.VanPaper{"cheque"},
		Signatures: []job.NewSignature{{For: job.ForTheCustomer, Name: "Ada"}},
	})
	refused(t, "an empty list", faults, "missing", "out_of_range", "unknown_word", "unknown_attachment", "not_signed")
	j = must(j.Attach(p, on("2027-03-01"), job.Attachment{SHA256: sum}, ""))
	photo := j.Attachments[0].Number
	j = must(j.Arrive(on("2027-03-01"), signed(photo)))
	if day, ok := j.Confirmed(); !ok || day != "2027-03-01" || j.State != job.InTheWorkshop || !j.OnSite() {
		t.Errorf("it came: %s %v %s", day, ok, j.State)
	}
	_, faults = j.Arrive(on("2027-03-01"), signed(photo))
	refused(t, "twice", faults, job.NotInThisState)
	_, faults = j.ComeBack(on("2027-03-01"))
	refused(t, "back from nowhere", faults, job.NotInThisState)
	j = must(j.GoOut(on("2027-03-01"), "Weighbridge."))
	if j.OnSite() {
		t.Error("it is on the road and here tonight")
	}
	_, faults = j.GoOut(on("2027-03-01"), "Weighbridge.")
	refused(t, "twice away", faults, job.NotHere)
	_, faults = j.ComeBack(on("2027-02-28"))
	refused(t, "back before it left", faults, "too_early")
	j = must(j.ComeBack(on("2027-03-01")))
	if !j.OnSite() {
		t.Error("it is back and not here")
	}
	left := must(j.Attach(p, on("2027-03-01"), job.Attachment{SHA256: sum}, "")) // its words give the lists theirs
	left.Words = append(slices.Clone(left.Words), "a new dent")
	out := &job.Condition{MileageMiles: 41_061, FuelPercent: 44, KeyCount: 1, Marks: []job.Mark{{Side: job.Rear, Says: job.Note(len(left.Words))}}}
	var codes []string
	for _, d := range left.Differences(out) {
		codes = append(codes, d.Code)
	}
	if want := []string{"mileage", "fuel", "keys", "mark", "belonging", "paper"}; !slices.Equal(codes, want) {
		t.Errorf("different are %v, want %v", codes, want)
	}
	same := *left.Arrived
	same.MileageMiles, same.FuelPercent = 41_060, 45
	if list := left.Differences(&same); len(list) > 0 {
		t.Errorf("different are %v", list)
	}
}

// The readings are worked out by hand: 90 kg of fuel lack to nothing at 100 l
// and 90 %; one person of 75 kg sits a third of the wheelbase behind the axle.
func TestTicketIsHeldAgainstSheetAndPlate(t *testing.T) {
	p, j, photo := in(t)
	must := at(t)
	for name, c := range map[string]struct {
		ticket       job.Ticket
		front, rear  string
		beyond, over int
	}{
		"as reckoned":                 {job.Ticket{FrontKG: d("1300"), RearKG: d("1100"), FuelPercent: 90}, "1300", "1100", 0, 0},
		"with one aboard":             {job.Ticket{FrontKG: d("1350"), RearKG: d("1125"), FuelPercent: 90, PeopleCount: 1}, "1300", "1100", 0, 0},
		"with half a tank":            {job.Ticket{FrontKG: d("1283.2"), RearKG: d("1083.2"), FuelPercent: 50}, "1300", "1100", 0, 0},
		"just tolerated":              {job.Ticket{FrontKG: d("1330"), RearKG: d("1100"), FuelPercent: 90}, "1330", "1100", 0, 0},
		"beyond on one axle":          {job.Ticket{FrontKG: d("1330.1"), RearKG: d("1070"), FuelPercent: 90}, "1330.1", "1070", 1, 0},
		"beyond altogether":           {job.Ticket{FrontKG: d("1328"), RearKG: d("1129"), FuelPercent: 90}, "1328", "1129", 1, 0},
		"over the plate":              {job.Ticket{FrontKG: d("1500"), RearKG: d("1501"), FuelPercent: 90}, "1500", "1501", 3, 1},
		"over in running order alone": {job.Ticket{FrontKG: d("1601"), RearKG: d("1100"), FuelPercent: 90}, "1601", "1100", 2, 1},
		"as much as may be":           {job.Ticket{FrontKG: d("1600"), RearKG: d("1100"), FuelPercent: 90}, "1600", "1100", 2, 0},
	} {
		weighed := must(j.Weigh(p, on("2027-02-02"), c.ticket, photo))
		told, ok := weighed.Masses(p)
		if !ok || !told.Weighed.FrontKG.Equal(d(c.front)) || !told.Weighed.RearKG.Equal(d(c.rear)) {
			t.Errorf("%s: empty %v", name, told.Weighed)
		}
		if len(told.Beyond) != c.beyond || len(told.Over) != c.over {
			t.Errorf("%s: beyond %q, over %q", name, told.Beyond, told.Over)
		}
	}
	_, faults := j.Weigh(p, on("2027-02-02"), job.Ticket{FrontKG: d("0"), RearKG: d("10001"), FuelPercent: 101, PeopleCount: 10}, 0)
	refused(t, "no ticket", faults, "out_of_range", "unknown_attachment")
	p.Facts = p.Facts[:1]
	_, faults = j.Weigh(p, on("2027-02-02"), job.Ticket{FrontKG: d("1300"), RearKG: d("1100"), FuelPercent: 50, PeopleCount: 1}, photo)
	refused(t, "with a base van nobody measured", faults, "not_known")
	must(j.Weigh(p, on("2027-02-02"), job.Ticket{FrontKG: d("1300"), RearKG: d("1100"), FuelPercent: 90}, photo))
}

func codesOf(list []job.Stops) []string {
	var codes []string
	for _, s := range list {
		code := s.Code
		if s.About != "" {
			code += " " + s.About
		}
		codes = append(codes, code)
		if len(s.Clears) == 0 || s.Says == "" || s.Remedy == "" {
			codes = append(codes, "says too little")
		}
	}
	return codes
}

func TestGateTellsEverythingAtOnce(t *testing.T) {
	p, j := begun()
	must := at(t)
	want := []string{
		"not_here", "stage strip", "stage wiring", "stage gas", "stage bench", "stage furniture", "stage finish",
		"awaits_test wired", "awaits_test tight", "awaits_certificate signed", "paper gas_test", "paper letter", "weighing", "serial hob", "batch pipe",
		"removed seats", "not_shown gas", "not_shown bed", "balance",
	}
	if got := codesOf(j.Gate(p, "2027-03-01")); !slices.Equal(got, want) {
		t.Errorf("in the way: %q\nwant %q", got, want)
	}
	p, j, photo := in(t)
	price, _ := money.Parse("120.00", "GBP")
	_, faults := j.TakeOut(p, on("2027-02-01"), job.NewRemoved{Feature: "roof", To: "attic"}, "GBP", &catalogue.Catalogue{})
	refused(t, "taken nowhere", faults, "not_removed", "unknown_word")
	_, faults = j.TakeOut(p, on("2027-02-01"), job.NewRemoved{Feature: "seats", To: job.WorkshopBuys}, "GBP", &catalogue.Catalogue{})
	refused(t, "bought for nothing", faults, "missing")
	_, faults = j.TakeOut(p, on("2027-02-01"), job.NewRemoved{Feature: "seats", To: job.Waste, Price: &price}, "GBP", &catalogue.Catalogue{})
	refused(t, "waste at a price", faults, "contradiction")
	_, faults = j.TakeOut(p, on("2027-02-01"), job.NewRemoved{Feature: "seats", To: job.WorkshopBuys, Price: &price}, "EUR", &catalogue.Catalogue{})
	refused(t, "other money", faults, "amount")
	j = must(j.TakeOut(p, on("2027-02-01"), job.NewRemoved{Feature: "seats", To: job.WorkshopBuys, Price: &price}, "GBP", &catalogue.Catalogue{}))
	j = must(j.AddSnag(p, on("2027-02-01"), job.NewSnag{Says: "A scratch inside the door."}))
	j = must(j.AddSnag(p, on("2027-02-01"), job.NewSnag{Says: "The hob's flame is yellow.", Caution: catalogue.CautionGas}))
	_, faults = j.AddSnag(p, on("2027-03-01"), job.NewSnag{Says: "Gas.", Caution: catalogue.CautionGas, PromisedBy: "2027-03-20"})
	refused(t, "gas that is promised", faults, "no_promise")
	_, faults = j.PromiseSnag(on("2027-03-01"), j.Snags[0].Number, "2027-02-28")
	refused(t, "promised by yesterday", faults, "too_early")
	_, faults = j.CloseSnag(on("2027-03-01"), 99, "")
	refused(t, "no such snag", faults, "unknown_snag")
	promised := must(j.PromiseSnag(on("2027-03-01"), j.Snags[0].Number, "2027-03-20"))
	if got := codesOf(promised.Gate(p, "2027-03-20")); slices.Contains(got, "snag 5") || !slices.Contains(codesOf(promised.Gate(p, "2027-03-21")), "snag 5") {
		t.Errorf("a promise: %q", got)
	}
	for _, snag := range j.Snags {
		j = must(j.CloseSnag(on("2027-03-01"), snag.Number, "Put right."))
	}
	for _, stage := range []string{"strip", "wiring", "gas", "bench"} {
		j = must(j.Begin(p, on("2027-02-02"), stage))
		j = must(j.Finish(p, on("2027-02-02"), stage))
	}
	early := must(j.Weigh(p, on("2027-02-02"), job.Ticket{FrontKG: d("1300"), RearKG: d("1100"), FuelPercent: 90}, photo))
	for _, do := range []func(job.Job) (job.Job, document.Faults){
		func(j job.Job) (job.Job, document.Faults) {
			return j.Record(p, on("2027-02-03"), job.NewTest{Of: "wired", Crew: "joiner", Passed: true})
		},
		func(j job.Job) (job.Job, document.Faults) {
			return j.Record(p, on("2027-02-03"), job.NewTest{Of: "tight", Signatory: engineer, Passed: true})
		},
		func(j job.Job) (job.Job, document.Faults) {
			return j.Keep(p, on("2027-02-03"), job.NewPaper{Code: "gas_test", Signatory: engineer, Attachment: photo})
		},
		func(j job.Job) (job.Job, document.Faults) { return j.Begin(p, on("2027-02-03"), "furniture") },
		func(j job.Job) (job.Job, document.Faults) { return j.Finish(p, on("2027-02-04"), "furniture") },
		func(j job.Job) (job.Job, document.Faults) { return j.Begin(p, on("2027-02-04"), "finish") },
		func(j job.Job) (job.Job, document.Faults) { return j.Finish(p, on("2027-02-04"), "finish") },
		func(j job.Job) (job.Job, document.Faults) {
			return j.Fit(p, on("2027-02-04"), job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: "A 17"}, known)
		},
		func(j job.Job) (job.Job, document.Faults) { // of another stage, and no batch
			return j.Fit(p, on("2027-02-04"), job.NewSerial{Part: "pipe", Stage: "wiring", Kind: job.OfBatch, Value: "P 1"}, known)
		},
		func(j job.Job) (job.Job, document.Faults) {
			return j.Fit(p, on("2027-02-04"), job.NewSerial{Part: "pipe", Stage: "gas", Kind: job.OfOne, Value: "P 1"}, known)
		},
		func(j job.Job) (job.Job, document.Faults) {
			if got := codesOf(j.Gate(p, "2027-03-01")); !slices.Contains(got, "batch pipe") {
				t.Errorf("with the batch of another stage: %q", got)
			}
			return j.Fit(p, on("2027-02-04"), job.NewSerial{Part: "pipe", Stage: "gas", Kind: job.OfBatch, Value: "P 1"}, known)
		},
		func(j job.Job) (job.Job, document.Faults) {
			return j.Showed(p, on("2027-02-04"), []string{"gas", "bed"})
		},
		func(j job.Job) (job.Job, document.Faults) {
			return j.Clear(on("2027-02-04"), job.OwnersWord, "They pay on Friday.")
		},
	} {
		j, early = must(do(j)), must(do(early))
	}
	if got, want := codesOf(early.Gate(p, "2027-03-01")), []string{"weighing"}; !slices.Equal(got, want) {
		t.Errorf("weighed before the furniture: %q, want %q", got, want)
	}
	heavy := must(j.Weigh(p, on("2027-02-05"), job.Ticket{FrontKG: d("1700"), RearKG: d("1100"), FuelPercent: 90}, photo))
	if got, want := codesOf(heavy.Gate(p, "2027-03-01")), []string{"overweight"}; !slices.Equal(got, want) {
		t.Errorf("too heavy: %q, want %q", got, want)
	}
	_, faults = heavy.HandOver(p, on("2027-02-05"), signed(photo), 12)
	refused(t, "too heavy", faults, job.InTheWay)
	j = must(j.Weigh(p, on("2027-02-05"), job.Ticket{FrontKG: d("1300"), RearKG: d("1100"), FuelPercent: 90}, photo))
	varied := j
	varied.Variation = 1
	if got, want := codesOf(varied.Gate(p, "2027-03-01")), []string{"balance"}; !slices.Equal(got, want) {
		t.Errorf("with another variation: %q, want %q", got, want)
	}
	again := must(j.TakeUpAgain(p, on("2027-02-05"), "gas", "A pipe was moved."))
	if got, want := codesOf(again.Gate(p, "2027-03-01")), []string{"stage gas", "awaits_test tight", "awaits_certificate signed", "paper gas_test", "weighing"}; !slices.Equal(got, want) {
		t.Errorf("with the gas taken up again: %q, want %q", got, want)
	}
	if got := codesOf(j.Gate(p, "2027-03-01")); len(got) > 0 {
		t.Fatalf("in the way: %q", got)
	}
	unsigned := signed(photo)
	unsigned.KeyCount, unsigned.Signatures = 0, unsigned.Signatures[1:]
	_, faults = j.HandOver(p, on("2027-02-06"), unsigned, 12)
	refused(t, "without keys and the customer's name", faults, "missing", "not_signed")
	j = must(j.HandOver(p, on("2027-02-06"), signed(photo), 24))
	if j.State != job.HandedOver || j.HandedOverOn != "2027-02-06" || j.WarrantyMonths != 24 || j.OnSite() {
		t.Errorf("handed over: %s on %q", j.State, j.HandedOverOn)
	}
	_, faults = j.AddSnag(p, on("2027-02-07"), job.NewSnag{Says: "A drawer sticks."})
	refused(t, "after the handover", faults, job.NotInThisState)
}

func TestCancelledVanLeavesUnfinished(t *testing.T) {
	_, j, photo := in(t)
	_, faults := j.LeaveUnfinished(on("2027-02-02"), signed(photo))
	refused(t, "one that is not cancelled", faults, job.NotInThisState)
	_, faults = j.Cancel(on("2027-02-02"), "")
	refused(t, "without a reason", faults, "missing")
	j = at(t)(j.Cancel(on("2027-02-02"), "They bought a boat."))
	_, faults = j.Cancel(on("2027-02-02"), "They bought a boat.")
	refused(t, "twice", faults, job.NotInThisState)
	j = at(t)(j.LeaveUnfinished(on("2027-02-02"), signed(photo)))
	if j.OnSite() || j.State != job.Cancelled {
		t.Errorf("it is here, or %s", j.State)
	}
}

// Words are kept beside the document, and a job without them is still one.
func TestWordsStandBesideTheDocument(t *testing.T) {
	_, j, _ := in(t)
	text, err := j.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, said := range j.Words {
		if strings.Contains(string(text), said) {
			t.Errorf("%q is in the document", said)
		}
	}
	back, err := job.Decode(text)
	if err != nil {
		t.Fatal(err)
	}
	back.Words = j.Words
	if n := back.Arrived.Belongings[0]; back.Said(n) != "a blue blanket" {
		t.Errorf("the belonging is %q", back.Said(n))
	}
	back.Words = make([]string, len(j.Words))
	if n := back.Arrived.Belongings[0]; back.Said(n) != "" {
		t.Errorf("emptied, the belonging is %q", back.Said(n))
	}
	for range 6 { // whatever room there is behind the last of them
		one, other := at(t)(j.GoOut(on("2027-03-01"), "one")), at(t)(j.GoOut(on("2027-03-01"), "other"))
		if got := one.Said(one.Trips[len(one.Trips)-1].Why); got != "one" {
			t.Errorf("it went out for %q", got)
		}
		j = at(t)(other.ComeBack(on("2027-03-01")))
	}
}

// What a variation takes up again is tested again, and what it takes off the
// sheet while it is under way can still be finished.
func TestVariationTakesStagesUpAgain(t *testing.T) {
	p, j, _ := in(t)
	must := at(t)
	for _, stage := range []string{"strip", "gas"} {
		j = must(j.Begin(p, on("2027-02-01"), stage))
		j = must(j.Finish(p, on("2027-02-01"), stage))
	}
	j = must(j.Record(p, on("2027-02-01"), job.NewTest{Of: "tight", Signatory: engineer, Passed: true}))
	j = must(j.Begin(p, on("2027-02-01"), "wiring"))
	c, sheet, spec := shop()
	v := &job.Variation{Day: "2027-02-01", ValidUntil: "2027-03-01", Number: 1}
	v.Van.Sheet = *sheet
	v.Van.Sheet.Stages = slices.DeleteFunc(slices.Clone(sheet.Stages), func(s bom.StageTotal) bool { return s.Stage == "wiring" })
	v.Difference.Lines = []bom.LineDifference{{Stage: "gas", Kind: bom.HoursLine, Because: []bom.BecauseDifference{{After: d("1")}}}}
	j = must(j.Accept(v, job.Consent{On: "2027-02-02", How: quote.AtCounter, Place: quote.OnPremises}, c.Stages))
	now := job.PlanOf(spec, &v.Van.Sheet, c)
	if got := codesOf(j.Gate(&now, "2027-03-01")); !slices.Contains(got, "awaits_test tight") || !slices.Contains(got, "stage gas") {
		t.Errorf("in the way: %q", got)
	}
	j = must(j.Finish(&now, on("2027-02-02"), "wiring"))
	j = must(j.Finish(&now, on("2027-02-02"), "gas"))
	if got := codesOf(j.Gate(&now, "2027-03-01")); !slices.Contains(got, "awaits_test tight") {
		t.Errorf("in the way: %q", got)
	}
}

func TestFindingHoldsItsStage(t *testing.T) {
	p, j, _ := in(t)
	c, _, _ := shop()
	j = at(t)(j.Find(on("2027-02-01"), job.Finding{FoundAt: "strip", Stage: "wiring", Words: "The sill is rusted through.",
		Hours: []bom.AdditionHours{{Trade: "joiner", Hours: d("2")}}}, c))
	j = at(t)(j.LeaveOut(p, on("2027-02-01"), "strip", "It came empty."))
	_, faults := j.Begin(p, on("2027-02-01"), "wiring")
	refused(t, "with a finding open", faults, job.Held)
	if got := codesOf(j.Gate(p, "2027-03-01")); !slices.Contains(got, "held finding_1") {
		t.Errorf("in the way: %q", got)
	}
	j = at(t)(j.LeaveSo(on("2027-02-02"), 1, "It is only the paint."))
	at(t)(j.Begin(p, on("2027-02-02"), "wiring"))
}

// The foreman's list knows what a job's board waits for: the van before it is
// here, its findings, tests of what is done, and at the end papers and money.
func TestAheadIsWhatTheBoardWaitsFor(t *testing.T) {
	p, j, _ := in(t)
	c, sheet, _ := shop()
	told := func(a job.Ahead) (list []string) {
		for _, m := range a.Missing {
			list = append(list, strings.TrimSpace(string(m.What)+" "+m.Stage+" "+m.Code))
		}
		return list
	}
	fresh := job.New(sheet, c.Stages, "2027-01-04")
	for _, m := range fresh.Ahead(p, "job", 1, nil).Missing {
		if m.Stage != "" && m.What != job.MissingVan && m.What != job.MissingCertificate {
			t.Errorf("before the van is here: %+v", m)
		}
	}
	must := at(t)
	j = must(j.Find(on("2027-02-01"), job.Finding{FoundAt: "strip", Stage: "wiring", Words: "Rust."}, c))
	got := told(j.Ahead(p, "job", 1, nil))
	if !slices.Contains(got, "yes wiring 1") || !slices.Contains(got, "payment") {
		t.Errorf("missing are %q", got)
	}
	j = must(j.LeaveSo(on("2027-02-01"), 1, "It is paint."))
	for _, stage := range []string{"strip", "gas", "wiring", "bench"} {
		j = must(j.Begin(p, on("2027-02-01"), stage))
		j = must(j.Finish(p, on("2027-02-01"), stage))
	}
	if got := told(j.Ahead(p, "job", 1, nil)); !slices.ContainsFunc(got, func(m string) bool { return strings.HasPrefix(m, "test ") }) {
		t.Errorf("after gas and wiring are done, missing are %q", got)
	}
	if got := fmt.Sprint(j.Progress()); got != "[{strip 100} {wiring 100} {gas 100} {bench 100}]" {
		t.Errorf("progress %s", got)
	}
}
