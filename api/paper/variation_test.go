package paper_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

const variationSHA = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"

// varied is a change of the couple's van while it is built: a finding, a window
// dropped after its stage was done, more sockets.
func varied(tb testing.TB, basis pricing.Basis) paper.Variation {
	tb.Helper()
	w := demo(tb)
	first := asked(tb, "full-conversion-short-van")
	first.Terms.Basis, first.Terms.Day, first.Terms.ValidUntil = basis, "2026-09-20", "2026-12-19"
	before := issued(tb, w.offers["2026-07"], first, 2)
	a, ok := job.AgreementIn(before.Document, 1)
	if !ok {
		tb.Fatal("the quote has no van")
	}
	o := w.offers["2026-10"]
	o.HeldBooks = []*pricebook.Compiled{o.Book, w.offers["2026-07"].Book}
	in := job.Varying{Job: "job-1", Number: 2, Offer: o, Agreed: a}
	for i := range a.Van.Sheet.Lines { // where the window's hours are
		for _, b := range a.Van.Sheet.Lines[i].Because {
			if b.Feature == "win_near_slide" && a.Van.Sheet.Lines[i].Kind == bom.HoursLine {
				in.Stages = []job.StageProgress{{Stage: a.Van.Sheet.Lines[i].Stage, DonePercent: 100}}
			}
		}
	}
	j, faults := (&job.Job{State: job.InTheWorkshop}).Find(job.Act{On: "2026-11-24", Today: "2026-11-25"}, job.Finding{
		FoundAt: "strip_out", Stage: "insulation", Words: "Rust behind the rear wheel arch; cut out, weld in new metal, seal.",
		Hours: []bom.AdditionHours{{Trade: o.Release.Catalogue().Trades[0].Code, Hours: decimal.New(6, 0)}},
	}, o.Release.Catalogue())
	if len(faults) > 0 {
		tb.Fatal(faults)
	}
	in.Findings = j.Findings
	c := a.Choices()
	c.Features = slices.DeleteFunc(slices.Clone(c.Features), func(f bom.Choice) bool { return f.Want == "win_near_slide" || f.Want == "sockets_usb" })
	c.Features = append(c.Features, bom.Choice{Want: "sockets_usb", Count: 4})
	v, faults, err := job.Vary(in, job.Proposal{Choices: c, Findings: []int{1}, Day: "2026-11-25", ValidUntil: "2026-12-09", Role: "owner", Rule: job.DefaultRework})
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	return paper.Variation{
		Variation: &v.Variation, JobNumber: 31, QuoteNumber: 1042, SHA256: variationSHA, Reference: "RF18539007547034",
		Catalogue: o.Release.Catalogue(), Customer: before.Customer, Van: before.Vans[0],
	}
}

// TestVariationOnPaper, to be read.
func TestVariationOnPaper(t *testing.T) {
	got := pdftotext(t, written(t, paper.VariationPDF, varied(t, pricing.Gross)), "-layout")
	got = strings.ReplaceAll(strings.ReplaceAll(got, "\f", "\n======== next page ========\n"), "\u00a0", " ")
	file := filepath.Join("testdata", "variation.golden")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := squeezed(got), squeezed(string(want)); a != b {
		t.Errorf("%s differs:\n%s", file, firstDifference(a, b))
	}
}

// TestVariationAddsUpOnPaper: the rows of the change add up to the change as it
// is printed, that to the difference of what was and is, and both forms show the
// same amounts beside the same words.
func TestVariationAddsUpOnPaper(t *testing.T) {
	for _, basis := range []pricing.Basis{pricing.Gross, pricing.Net} {
		v := varied(t, basis)
		x := v.Variation
		page := entriesOfHTML(t, written(t, paper.VariationHTML, v))
		with, change, was := "with VAT", x.Change.Gross, x.Was.Gross
		if basis == pricing.Net {
			with, change, was = "without VAT", x.Change.Net, x.Was.Net
		}
		sum, until := money.Zero("GBP"), slices.IndexFunc(page, func(e entry) bool { return strings.HasPrefix(e.Name, "Agreed before") })
		for _, e := range page[:max(until, 0)] {
			a, err := money.Parse(strings.NewReplacer(",", "", "−", "-").Replace(e.Amount), "GBP")
			if err == nil {
				sum, err = sum.Add(a)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if until < 4 || sum != change {
			t.Errorf("%s: %d rows add up to %s, the change is %s", basis, until, sum, change)
		}
		for _, want := range []entry{
			{"Agreed before, " + with, onPaper(was, "£")}, {"This change, " + with, onPaper(change, "£")}, {"It all comes to, with VAT", onPaper(x.Is.Gross, "£")},
		} {
			if !slices.Contains(page, want) {
				t.Errorf("%s: no %v", basis, want)
			}
		}
		var amounts [2][]string
		for i, list := range [][]entry{page, entriesOfPDF(t, written(t, paper.VariationPDF, v))} {
			for _, e := range list {
				amounts[i] = append(amounts[i], e.Amount)
			}
		}
		// A name of several lines has its amount on the first.
		if !slices.Equal(amounts[0], amounts[1]) {
			t.Errorf("%s: the page shows %v, the PDF %v", basis, amounts[0], amounts[1])
		}
	}
}

// TestVariationSaysWhatIsSignedFor: the rule, what is not credited, by when, and
// the hash of exactly this; a draft has nothing to sign. Nobody reads what it
// costs the workshop.
func TestVariationSaysWhatIsSignedFor(t *testing.T) {
	v := varied(t, pricing.Gross)
	said := func(v paper.Variation) string {
		return strings.Join(strings.Fields(strings.ReplaceAll(pdftotext(t, written(t, paper.VariationPDF, v)), "\u00a0", " ")), " ")
	}
	sent := said(v)
	for _, want := range []string{
		"Variation 2 to job 31", "1042, revision 2", "9 December 2026", "at 50 % of the hours", "stays to be paid", variationSHA[:16],
		"I accept this change of what was agreed", "RF18 5390 0754 7034", "WT24 DMO",
	} {
		if !strings.Contains(sent, want) {
			t.Errorf("it does not say %q:\n%s", want, sent)
		}
	}
	if v.Variation.Cost == nil || strings.Contains(sent, onPaper(*v.Variation.Cost, "")) || strings.Contains(sent, onPaper(*v.Variation.Margin, "")) {
		t.Error("it tells what it costs the workshop")
	}
	v.Draft, v.SHA256 = true, ""
	if draft := said(v); !strings.Contains(draft, "Draft, not an offer") || strings.Contains(draft, "I accept") {
		t.Error("a draft can be signed")
	}
	if !bytes.Equal(written(t, paper.VariationPDF, v), written(t, paper.VariationPDF, v)) {
		t.Error("it is another the second time")
	}
	if err := paper.VariationPDF(&bytes.Buffer{}, paper.Variation{}); err == nil {
		t.Error("a variation of nothing was printed")
	}
}
