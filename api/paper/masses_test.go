package paper_test

import (
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// theMeasured is the demo with positions, loads, class features and evidence of
// this test's own, so that what the papers say of them can be reckoned by hand.
var theMeasured = sync.OnceValues(func() (quote.Offer, error) {
	var none quote.Offer
	c := quotetest.Catalogue()
	for i := range c.BaseVans {
		facts := &c.BaseVans[i].Facts
		*facts = slices.DeleteFunc(*facts, func(f catalogue.Fact) bool {
			return f.Name == catalogue.FrontOverhangMM || f.Name == catalogue.LoadFromFrontAxleMM
		})
		*facts = append(*facts, catalogue.Fact{Name: catalogue.FrontOverhangMM, Kind: catalogue.NumberFact, Number: decimal.NewFromInt(900)})
	}
	for i := range c.Groups {
		c.Groups[i].Position = ""
	}
	for i := range c.Features {
		f := &c.Features[i]
		if f.Position = ""; f.Code == "wardrobe" || f.Code == "bed_folding_bench" {
			f.Position = "stern"
		}
		for k := range f.Lines {
			f.Lines[k].Position = ""
		}
	}
	for i := range c.Stages {
		for k := range c.Stages[i].Lines {
			c.Stages[i].Lines[k].Position = ""
		}
	}
	c.Positions = []catalogue.Position{
		{Code: "prow", Name: "Front seats", FromFrontAxleMM: "0 - 100", RightOfCentreMM: "400", AboveGroundMM: "900"},
		{Code: "stern", Name: "The tail", FromFrontAxleMM: "van.wheelbase_mm + 600"},
	}
	c.Loads = []catalogue.Load{
		{Code: "driver", Name: "Driver", Kind: catalogue.DriverLoad, MassKG: "75", Position: "prow", RunningOrderPercent: decimal.NewFromInt(100)},
		{Code: "luggage", Name: "Luggage", Kind: catalogue.LuggageLoad, MassKG: "200", Position: "stern"},
	}
	c.ClassFeatures = []catalogue.ClassFeature{
		{Code: "berths", Name: "Somewhere to sleep", List: catalogue.InsideFeatures, Holds: "bed_folding_bench"},
		{Code: "stove", Name: "Somewhere to cook", List: catalogue.InsideFeatures, Holds: "hob_two"},
		{Code: "glass", Name: "Windows on both sides", List: catalogue.OutsideAppearance, Holds: "win_near_slide && win_off_slide"},
	}
	c.Evidence = []catalogue.Evidence{
		{Code: "belts", Name: "Report on the seat belts' anchorages", By: "a technical service", Due: catalogue.BeforeRegistration, When: "bed_folding_bench", Says: "Seats are added."},
	}
	c.Checks = []catalogue.Check{
		{Code: "people", Name: "Payload for people", Grade: catalogue.Must, Figure: "sheet.left_kg", Sense: catalogue.AtLeast, Limit: "300", Unit: "kg",
			Says: "With everyone aboard the van would be over its plated mass.", Remedy: "Leave out something heavy."},
		{Code: "berths", Name: "A berth for everyone", Grade: catalogue.Should, When: "bed_folding_bench", Figure: "2", Sense: catalogue.AtLeast, Limit: "3", Unit: "count",
			Says: "More people can travel than can sleep.", Remedy: "Add a roof bed."},
	}
	release, faults := bom.Compile(c)
	if err := faults.Err(); err != nil {
		return none, err
	}
	book, faults := pricebook.Compile(c, quotetest.Edition("2026-10"))
	return quote.Offer{Number: 3, Release: release, Book: book}, faults.Err()
})

func measured(tb testing.TB) quote.Offer {
	tb.Helper()
	o, err := theMeasured()
	if err != nil {
		tb.Fatal(err)
	}
	return o
}

// measuredSheet is the build sheet of one of the demo's files of choices.
func measuredSheet(tb testing.TB, o quote.Offer, name string) paper.BuildSheet {
	tb.Helper()
	a := asked(tb, name)
	a.Vans[0].Choices.Answers = nil // to checks of the demo
	v := work(tb, o, a).Vans[0]
	return paper.BuildSheet{Sheet: v.Sheet, Catalogue: o.Release.Catalogue(), Title: "Quote 1042, revision 2", Van: paper.VanWords{Registration: "WT24 DMO"}}
}

// TestSheetSVG: what is drawn is the sheet's ledger, each mass at its position.
func TestSheetSVG(t *testing.T) {
	b := measuredSheet(t, measured(t), "package-touring")
	d := readDrawing(t, written(t, paper.SheetSVG, b))
	plain := func(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }
	m := b.Sheet.Mass
	for _, want := range []string{
		"Quote 1042, revision 2 · Long panel van, WT24 DMO",
		"Luggage · 200 kg", "Driver · 75 kg", "The most it may ever bear",
		"Rear axle, plated " + grouped(m.Plated.RearKG) + " kg", "Whole van, plated " + grouped(m.PlatedKG) + " kg",
	} {
		if !slices.ContainsFunc(d.texts, func(s string) bool { return plain(s) == want }) {
			t.Errorf("%q is not on the drawing: %q", want, d.texts)
		}
	}
	for _, kg := range []decimal.Decimal{m.After.FrontKG, m.After.RearKG, m.After.TotalKG(), m.InRunningOrder.RearKG, m.Laden.TotalKG(), m.Most.FrontKG, m.Most.RearKG} {
		if !slices.ContainsFunc(d.texts, func(s string) bool { return strings.HasPrefix(plain(s), grouped(kg)+" kg, ") }) {
			t.Errorf("%s kg is on no bar", kg)
		}
	}
	// 600 mm behind the rear axle and 100 mm before the front one, where 870
	// units are the whole length.
	length, wheelbase := 5305.0, 3400.0
	unit := 870 / length
	driver, tail := d.find(t, 1, "Driver"), d.find(t, 1, "The tail, fitted")
	if got, want := float64(tail.cx-driver.cx), (wheelbase+700)*unit; got < want-1 || got > want+1 {
		t.Errorf("the tail is %v units behind the driver, want %v", got, want)
	}
	if got := d.find(t, 0, "without a position"); !strings.Contains(got.name, "fitted") {
		t.Errorf("%+v", got)
	}
	b.LeftHandDrive = true
	if d := readDrawing(t, written(t, paper.SheetSVG, b)); !slices.Contains(d.texts, "front to the left, left-hand drive") {
		t.Error("left-hand drive is not drawn")
	}
}

// grouped is a mass as the drawing should write it; this is not the package's
// own way of doing it.
func grouped(d decimal.Decimal) string {
	s := d.Round(0).String()
	if len(s) > 3 {
		s = s[:len(s)-3] + "," + s[len(s)-3:]
	}
	return s
}

func TestSheetSVGRefuses(t *testing.T) {
	good := measuredSheet(t, measured(t), "package-touring")
	for name, change := range map[string]func(*paper.BuildSheet){
		"no such base van": func(b *paper.BuildSheet) { b.Sheet.BaseVan = "barge" },
		"no catalogue":     func(b *paper.BuildSheet) { b.Catalogue = nil },
		"an old sheet":     func(b *paper.BuildSheet) { b.Sheet.Mass.Plated = bom.Axles{} },
		"no overhang": func(b *paper.BuildSheet) {
			c := *b.Catalogue
			c.BaseVans = slices.Clone(c.BaseVans)
			for i := range c.BaseVans {
				c.BaseVans[i].Facts = slices.DeleteFunc(slices.Clone(c.BaseVans[i].Facts), func(f catalogue.Fact) bool { return f.Name == catalogue.FrontOverhangMM })
			}
			b.Catalogue = &c
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := good
			change(&b)
			var out strings.Builder
			if no, ok := errors.AsType[*paper.NotDrawable](paper.SheetSVG(&out, b)); !ok || no.Remedy == "" || out.Len() > 0 {
				t.Errorf("%v, %d bytes", no, out.Len())
			}
		})
	}
}

func TestLeftHandDrive(t *testing.T) {
	c := measured(t).Release.Catalogue()
	for want, v := range map[bool]bom.Van{
		false: {BaseVan: "short_panel_van"},
		true:  {BaseVan: "short_panel_van", Particulars: []bom.ParticularValue{{Name: "steering", Value: "left"}}},
	} {
		if paper.LeftHandDrive(v, c) != want {
			t.Errorf("%+v", v)
		}
	}
	if paper.LeftHandDrive(bom.Van{BaseVan: "barge"}, c) {
		t.Error("a barge")
	}
}

// heavy is a quote that has everything to be said of masses: over the plate of
// an axle, near another limit, a must answered by evidence and a should the
// owner goes on with, papers due and both lists of class features.
func heavy(tb testing.TB) paper.Quote {
	tb.Helper()
	o := measured(tb)
	a := asked(tb, "package-touring")
	front, rear := decimal.NewFromInt(1500), decimal.NewFromInt(1350)
	v := &a.Vans[0]
	v.Facts.WeighedFrontKG, v.Facts.WeighedRearKG, v.Facts.WeighedDay = &front, &rear, "2026-11-02"
	plated := decimal.NewFromInt(3100)
	v.Facts.PlatedKG = &plated
	v.Choices.Answers = []bom.CheckAnswer{
		{Check: "berths", Kind: bom.GoingOn, Limit: decimal.NewFromInt(2), Says: "A quillwort never sleeps on board.", Day: "2026-11-20", By: "person-1"},
		{Check: "people", Kind: bom.ByEvidence, Limit: decimal.NewFromInt(-500), Says: "Quillwort's letter.", Day: "2026-11-20", By: "person-1"},
	}
	return issued(tb, o, a, 1)
}

// TestMassesOnPaper: PDF and page say what rests on the axles, what is near or
// over, which papers are due and what counts towards the class, with who
// decides; and nothing of what was said inside.
func TestMassesOnPaper(t *testing.T) {
	q := heavy(t)
	m := q.Document.Vans[0].Sheet.Mass
	if !m.Most.RearKG.GreaterThan(m.Plated.RearKG) || m.Laden.TotalKG().LessThan(m.PlatedKG) {
		t.Fatalf("it is not heavy: %+v", m)
	}
	page := strings.Join(strings.Fields(strings.ReplaceAll(string(written(t, paper.QuoteHTML, q)), "\u00a0", " ")), " ")
	for _, r := range []struct{ tag, with string }{{"<br>", " "}, {"</dt><dd>", " "}, {"</li><li>", " "}} {
		page = strings.ReplaceAll(page, r.tag, r.with)
	}
	printed := strings.Join(strings.Fields(strings.ReplaceAll(pdftotext(t, written(t, paper.QuotePDF, q)), "\u00a0", " ")), " ")
	for form, text := range map[string]string{"HTML": page, "PDF": printed} {
		for _, want := range []string{
			"The van may weigh 3,100 kg. It weighs 2,850 kg before the work (from the weighbridge on 2 November 2026)",
			"Front axle", "may bear " + grouped(m.Plated.FrontKG) + " kg; bears " + grouped(m.After.FrontKG) + " kg empty",
			"and " + grouped(m.Most.RearKG) + " kg at the worst; that is " + grouped(m.Most.RearKG.Sub(m.Plated.RearKG)) + " kg more than it may bear",
			"with driver 75 kg and luggage 200 kg; that is " + grouped(m.Laden.TotalKG().Sub(m.PlatedKG)) + " kg more than the van may weigh",
			"only a weighbridge tells",
			"The workshop has evidence that it may be so, of 20 November 2026; ask to see it.",
			"More people can travel than can sleep.",
			"Inside the van", "Somewhere to sleep: met", "Somewhere to cook: met", "Its outside appearance", "Windows on both sides: met",
			"The authority that registers the van decides in which class", "Nothing here promises it.",
			"From a technical service, before the van is registered as converted. Seats are added.",
		} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is missing", form, want)
			}
		}
		if strings.Contains(strings.ToLower(text), "quillwort") || strings.Contains(text, "person-1") {
			t.Errorf("%s tells what was said inside", form)
		}
	}
	// A class feature that is not there is said to be not met, in its own list.
	without := asked(t, "windows-only")
	page = string(written(t, paper.QuoteHTML, issued(t, measured(t), without, 1)))
	if !strings.Contains(page, "<li>Somewhere to sleep: not met</li>") || strings.Contains(page, "belts") {
		t.Error("what is not there is not told as not met, or a paper is due for it")
	}
	b := paper.BuildSheet{Sheet: q.Document.Vans[0].Sheet, Catalogue: q.Catalogue}
	book := opened(t, written(t, paper.SheetXLSX, b))
	massesInBook(t, book, &m)
	rows, err := book.GetRows("Certificates and cautions")
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]string{}
	for _, r := range rows {
		if len(r) == 3 {
			told[r[0]+" "+r[1]] = r[2]
		}
		if strings.Contains(strings.ToLower(strings.Join(r, " ")), "quillwort") {
			t.Errorf("the workshop floor reads %q", r)
		}
	}
	for _, want := range []string{"Evidence Report on the seat belts’ anchorages", "Answered by evidence Payload for people", "The owner goes on A berth for everyone"} {
		if told[want] == "" {
			t.Errorf("%q is not on the build sheet: %v", want, told)
		}
	}
}

// TestNearIsSaid: what is met with little to spare is said, with figure and
// limit.
func TestNearIsSaid(t *testing.T) {
	q := quoted(t, "package-touring")
	d := *q.Document
	d.Vans = slices.Clone(d.Vans)
	sheet := &d.Vans[0].Sheet
	sheet.Checks = []bom.CheckResult{{Code: "laden", Name: "Mass when laden", Met: true, Near: true, Unit: "kg",
		Figure: decimal.NewFromInt(2990), Sense: catalogue.AtMost, Limit: decimal.NewFromInt(3000)}}
	q.Document = &d
	page := strings.ReplaceAll(string(written(t, paper.QuoteHTML, q)), "\u00a0", " ")
	if !strings.Contains(page, "<strong>Mass when laden</strong><br>Near the limit: 2,990 kg, and it may be at most 3,000 kg.") {
		t.Errorf("it is not said: %s", page)
	}
}

// massesInBook holds the workbook's masses against the sheet's: all that is put
// in, taken out and carried, and each case's front and rear.
func massesInBook(t *testing.T, book *excelize.File, m *bom.Mass) {
	t.Helper()
	rows, err := book.GetRows("Masses", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	sums := map[string]decimal.Decimal{}
	cases := map[string][]string{}
	for _, r := range rows {
		switch {
		case len(r) >= 5 && r[0] == "On the axles":
			cases[r[1]] = r[2:5]
		case len(r) >= 3 && (r[0] == "Put in" || r[0] == "Taken out" || r[0] == "Carried"):
			sums[r[0]] = sums[r[0]].Add(decimal.RequireFromString(r[2]))
		}
	}
	carried := decimal.Zero
	for _, l := range m.Loads {
		carried = carried.Add(l.MassKG)
	}
	for what, want := range map[string]decimal.Decimal{"Put in": m.AddedKG, "Taken out": m.RemovedKG, "Carried": carried} {
		if !sums[what].Equal(want) {
			t.Errorf("%s: %s kg, want %s", what, sums[what], want)
		}
	}
	for name, want := range map[string]bom.Axles{"Plated": m.Plated, "Before the work": m.Before, "After the work, empty": m.After,
		"In running order": m.InRunningOrder, "Laden": m.Laden, "The most there may be": m.Most} {
		got := cases[name]
		if len(got) != 3 || !decimal.RequireFromString(got[1]).Equal(want.FrontKG) || !decimal.RequireFromString(got[2]).Equal(want.RearKG) {
			t.Errorf("%s: %q, want %v", name, got, want)
		}
	}
	if cases["The most there may be"][0] != "" || cases["Plated"][0] != m.PlatedKG.String() {
		t.Errorf("together: %v", cases)
	}
}

// TestSheetSVGTellsKinds: what is taken out is not what is put in, what takes
// something off is taken out, and a load that a check finds near is near.
func TestSheetSVGTellsKinds(t *testing.T) {
	b := measuredSheet(t, measured(t), "package-touring")
	where := bom.Where{FromFrontAxleMM: decimal.NewFromInt(1000)}
	m := &b.Sheet.Mass
	m.Positions = []bom.PositionMass{
		{Name: "Seats", AddedKG: decimal.NewFromInt(31), RemovedKG: decimal.NewFromInt(48), Where: where},
		{Name: "Roof", AddedKG: decimal.NewFromInt(-7), Where: where},
	}
	m.Most.RearKG, m.Plated.RearKG = decimal.NewFromInt(1700), decimal.NewFromInt(1720)
	near := bom.CheckResult{Met: true, Near: true, Sense: catalogue.AtMost, Figure: m.Most.RearKG, Limit: m.Plated.RearKG}
	for said, checks := range map[bool][]bom.CheckResult{true: {near}, false: {{Met: true, Sense: near.Sense, Figure: near.Figure, Limit: near.Limit}}} {
		b.Sheet.Checks = checks
		d := readDrawing(t, written(t, paper.SheetSVG, b))
		for _, want := range []string{"Seats, fitted, 31", "Seats, taken out, −48", "Roof, taken out, −7"} {
			d.find(t, 0, want)
		}
		if got := strings.Contains(strings.Join(d.texts, " "), "near the limit"); got != said {
			t.Errorf("near the limit is told: %v", got)
		}
	}
}
