package paper_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
)

// card is of the first van of a demo quote, with everything of one stage issued.
func card(tb testing.TB, names ...string) paper.JobCard {
	tb.Helper()
	q := quoted(tb, names...)
	v := &q.Document.Vans[0]
	plan := job.PlanOf(&v.Specification, &v.Sheet, q.Catalogue)
	return paper.JobCard{
		BuildSheet: paper.BuildSheet{Sheet: v.Sheet, Catalogue: q.Catalogue, Title: "Job 12", Day: "2026-11-27", Van: paper.VanWords{Registration: "WT24 DMO"}},
		Plan:       &plan,
		Issued: func(stage, _ string) decimal.Decimal {
			if stage == v.Sheet.Stages[0].Stage {
				return decimal.New(15, -1)
			}
			return decimal.Decimal{}
		},
	}
}

// The card has every stage with its hours, every part that is taken from the
// rack, what is tested first and what the handover waits for, and no price.
func TestJobCardSaysWhatIsToDo(t *testing.T) {
	c := card(t, "full-conversion-short-van")
	said := strings.Join(strings.Fields(pdftotext(t, written(t, paper.JobCardPDF, c))), " ")
	has := func(what, text string) {
		if text = strings.ReplaceAll(strings.Join(strings.Fields(text), " "), "'", "’"); !strings.Contains(said, text) {
			t.Errorf("the card does not say %s: %q", what, text)
		}
	}
	has("which job", "Job 12")
	has("which van", "WT24 DMO")
	for _, s := range c.Plan.Stages {
		has("stage", s.Name)
		for _, h := range s.Holds {
			first, _, _ := strings.Cut(h.Says, " ")
			has("hold", "tested: "+strings.ToLower(first))
		}
	}
	for i := range c.Sheet.Lines {
		if l := &c.Sheet.Lines[i]; l.Kind == bom.PartLine && l.Provision != catalogue.Consumable {
			word, _, _ := strings.Cut(l.Name, " ")
			has("part "+l.Code, strings.Trim(word, `",`))
		}
	}
	for _, p := range c.Plan.Papers {
		if p.Due != catalogue.BeforeRegistration {
			has("paper", p.Name)
		}
	}
	for _, s := range c.Plan.Show {
		has("what is shown", "Shown: "+strings.ToLower(s.Says[:1]))
	}
	for _, sign := range []string{"£", "GBP"} {
		if strings.Contains(said, sign) {
			t.Errorf("the card says %q", sign)
		}
	}
}

func TestPickListIsThePartsOfTheSheet(t *testing.T) {
	c := card(t, "full-conversion-short-van")
	rows, err := csv.NewReader(bytes.NewReader(written(t, paper.PickListCSV, c))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for i := range c.Sheet.Lines {
		l := &c.Sheet.Lines[i]
		if (l.Kind == bom.PartLine || l.Kind == bom.OwnPartLine || l.Kind == bom.OneOffLine) && l.Provision != catalogue.Consumable {
			want = append(want, fmt.Sprint(l.Code, " ", l.Quantity))
		}
	}
	var got []string
	for _, r := range rows[1:] {
		got = append(got, r[2]+" "+r[4])
	}
	if !slices.Equal(got, want) {
		t.Errorf("to take:\n%q\nwant\n%q", got, want)
	}
	if rows[1][6] != "1.5" || rows[len(rows)-1][6] != "0" {
		t.Errorf("issued %s and %s", rows[1][6], rows[len(rows)-1][6])
	}
	f := opened(t, written(t, paper.PickListXLSX, c))
	lines, err := f.GetRows("Pick list")
	if err != nil || len(lines) != len(rows)-1+4 {
		t.Errorf("the workbook has %d rows, %v", len(lines), err)
	}
}

func TestJobPapersAreTheSameEachTime(t *testing.T) {
	c := card(t, "full-conversion-short-van")
	if !bytes.Equal(written(t, paper.JobCardPDF, c), written(t, paper.JobCardPDF, c)) {
		t.Error("the card is another the second time")
	}
	if !bytes.Equal(written(t, paper.PickListXLSX, c), written(t, paper.PickListXLSX, c)) {
		t.Error("the pick list is another the second time")
	}
}
