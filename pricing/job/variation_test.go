package job_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// varying is a first variation of a demo van agreed at the prices of July, on a
// day on which those of October are in force.
func varying(tb testing.TB, terms pricing.Terms, name string) job.Varying {
	tb.Helper()
	a, ok := job.AgreementIn(issued(tb, "2026-07", terms, name), 1)
	if !ok {
		tb.Fatal("the quote has no van")
	}
	o := quotetest.Offer("2026-10")
	o.HeldBooks = []*pricebook.Compiled{o.Book, quotetest.Offer("2026-07").Book}
	return job.Varying{Job: "job-1", Number: 1, Offer: o, Agreed: a}
}

// asks is a proposal of the agreed choices.
func asks(in *job.Varying) job.Proposal {
	return job.Proposal{Choices: in.Agreed.Choices(), Day: "2026-11-25", ValidUntil: "2026-12-09", Role: "owner", Rule: job.DefaultRework}
}

func varied(tb testing.TB, in job.Varying, p job.Proposal) job.Varied {
	tb.Helper()
	v, faults, err := job.Vary(in, p)
	if err != nil || len(faults) > 0 {
		tb.Fatal(err, faults)
	}
	return v
}

func without(c bom.Choices, feature string) bom.Choices {
	c.Features = slices.DeleteFunc(slices.Clone(c.Features), func(f bom.Choice) bool { return f.Want == feature })
	return c
}

func with(c bom.Choices, choices ...bom.Choice) bom.Choices {
	c.Features = append(slices.Clone(c.Features), choices...)
	return c
}

// told writes a variation for reading.
func told(v *job.Varied) string {
	var b strings.Builder
	for _, s := range v.Says {
		b.WriteString(s.Says + "\n")
	}
	for _, r := range v.Rework {
		fmt.Fprintf(&b, "rework at %s: %s h of %s (dropped %s, added %s)\n", r.Stage, r.Hours, r.Trade, r.Dropped, r.Added)
	}
	for _, k := range v.KeptBack {
		fmt.Fprintf(&b, "kept back of %s: worth %s, credited %v, kept %s\n", k.Name, k.Worth, k.Credited, k.Kept)
		for _, h := range k.Hours {
			fmt.Fprintf(&b, "  %s h of %s\n", h.Hours, h.Trade)
		}
		for _, p := range k.Parts {
			fmt.Fprintf(&b, "  %s of %s\n", p.Quantity, p.Part)
		}
	}
	fmt.Fprintf(&b, "%s + %s = %s\n", v.Was.Gross, v.Change.Gross, v.Is.Gross)
	for _, r := range v.VAT {
		fmt.Fprintf(&b, "VAT %s %s %%: net %s, VAT %s\n", r.Treatment, r.Percent, r.Net, r.VAT)
	}
	for _, p := range v.Payments {
		fmt.Fprintf(&b, "%s: %s\n", p.Name, p.Amount)
	}
	for _, n := range v.NotReady {
		fmt.Fprintf(&b, "not ready: %s %s\n", n.Code, n.Says)
	}
	return b.String()
}

func golden(tb testing.TB, name, got string) {
	tb.Helper()
	name = "testdata/" + name
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			tb.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(name)
	if err != nil {
		tb.Fatal(err)
	}
	if got != string(want) {
		tb.Errorf("not as in %s (run with -update to accept):\n%s", name, got)
	}
}

// What a mid-build change comes to, to be read: a finding under the floor, a
// window dropped after the body was done, more sockets.
func TestVariationOfTheDemo(t *testing.T) {
	in := varying(t, gross(), "full-conversion-short-van")
	in.Stages = []job.StageProgress{{Stage: stageOf(t, &in, "win_near_slide"), DonePercent: 100}}
	var faults any
	in.Findings, faults = find(t, &in, job.Finding{FoundAt: "strip_out", Stage: "insulation",
		Words: "Rust through the floor behind the rear wheel arch; cut out, weld in new metal, seal.",
		Hours: []bom.AdditionHours{{Trade: in.Offer.Release.Catalogue().Trades[0].Code, Hours: number("6")}},
		Parts: []job.FindingPart{{Part: in.Agreed.Van.Sheet.Lines[0].Code, Quantity: number("1")}}, Touches: []catalogue.Caution{catalogue.CautionStructure}})
	if faults != nil {
		t.Fatal(faults)
	}
	p := asks(&in)
	p.Choices = with(without(without(p.Choices, "win_near_slide"), "sockets_usb"), bom.Choice{Want: "sockets_usb", Count: 4})
	p.Findings = []int{1}
	v := varied(t, in, p)
	golden(t, "variation.txt", told(&v))
}

func find(tb testing.TB, in *job.Varying, f job.Finding) ([]job.Finding, any) {
	tb.Helper()
	j := job.Job{State: job.InTheWorkshop, Findings: in.Findings}
	j, faults := j.Find(job.Act{On: "2026-11-24", Today: "2026-11-25"}, f, in.Offer.Release.Catalogue())
	if len(faults) > 0 {
		return nil, faults
	}
	return j.Findings, nil
}

// stageOf is the stage of the first hours that a feature asks for.
func stageOf(tb testing.TB, in *job.Varying, feature string) string {
	tb.Helper()
	for _, l := range in.Agreed.Van.Sheet.Lines {
		for _, b := range l.Because {
			if b.Feature == feature && l.Kind == bom.HoursLine {
				return l.Stage
			}
		}
	}
	tb.Fatal("no hours because of " + feature)
	return ""
}

// What is kept back of a window that is dropped: hand-worked, its glass alone.
func TestWhatIsKeptBackOfPartsThatAreDropped(t *testing.T) {
	const glass = "glass_side_slide"
	for _, test := range []struct {
		name string
		part job.PartProgress
		done bool
		kept string // of the glass; "" for none
	}{
		{"never ordered", job.PartProgress{Part: glass}, false, ""},
		{"ordered, and can go back", job.PartProgress{Part: glass, Ordered: number("1"), CanGoBack: number("1")}, false, ""},
		{"ordered, and cannot", job.PartProgress{Part: glass, Ordered: number("1")}, false, "1"},
		{"here, and cannot go back", job.PartProgress{Part: glass, Here: number("1")}, false, "1"},
		{"fitted before its stage is done", job.PartProgress{Part: glass, Fitted: number("1")}, false, "1"},
		{"half of it ordered", job.PartProgress{Part: glass, Ordered: number("0.5")}, false, "0.5"},
		{"its stage is done, whatever is said of the part", job.PartProgress{Part: glass}, true, "1"},
		{"its stage is done, and the part is known as fitted", job.PartProgress{Part: glass, Fitted: number("1")}, true, "1"},
	} {
		t.Run(test.name, func(t *testing.T) {
			in := varying(t, gross(), "full-conversion-short-van")
			if test.done {
				in.Stages = []job.StageProgress{{Stage: "openings", DonePercent: 100}}
			}
			p := asks(&in)
			p.Parts = []job.PartProgress{test.part}
			p.Choices = without(p.Choices, "win_near_slide")
			v := varied(t, in, p)
			got := ""
			for _, k := range v.KeptBack {
				for _, part := range k.Parts {
					if part.Part == glass {
						got = part.Quantity.String()
					}
				}
			}
			if got != test.kept {
				t.Errorf("%q is kept back of the glass, want %q\n%s", got, test.kept, told(&v))
			}
			if !test.done && len(v.Rework) > 0 {
				t.Errorf("rework where nothing is done: %+v", v.Rework)
			}
		})
	}
}

// The rule, by hand: 1.5 h of a fitter dropped at a stage done are 0.75 h more,
// of a stage half done 0.38; 1.25 h added at a stage done are a quarter more, at
// one half done nothing more.
func TestReworkByTheRule(t *testing.T) {
	for _, test := range []struct {
		name   string
		done   int
		change func(bom.Choices) bom.Choices
		want   string
	}{
		{"dropped, done", 100, func(c bom.Choices) bom.Choices { return without(c, "win_near_slide") }, "[0.75 fitter]"},
		{"dropped, half done", 50, func(c bom.Choices) bom.Choices { return without(c, "win_near_slide") }, "[0.38 fitter]"},
		{"dropped, not begun", 0, func(c bom.Choices) bom.Choices { return without(c, "win_near_slide") }, "[]"},
		{"added, half done", 50, func(c bom.Choices) bom.Choices { return with(c, bom.Choice{Want: "win_rear_near_fixed"}) }, "[]"},
		{"added, done", 100, func(c bom.Choices) bom.Choices { return with(c, bom.Choice{Want: "win_rear_near_fixed"}) }, "[0.31 fitter]"},
	} {
		in := varying(t, gross(), "full-conversion-short-van")
		in.Stages = []job.StageProgress{{Stage: "openings", DonePercent: test.done}}
		p := asks(&in)
		p.Choices = test.change(p.Choices)
		v := varied(t, in, p)
		var got []string
		for _, r := range v.Rework {
			got = append(got, r.Hours.String()+" "+r.Trade)
		}
		if fmt.Sprint(got) != test.want {
			t.Errorf("%s: rework %v, want %s\n%s", test.name, got, test.want, told(&v))
		}
	}
}

// The rule is the proposal's: taking out as long as it took, nothing for closing.
func TestAnotherRule(t *testing.T) {
	in := varying(t, gross(), "full-conversion-short-van")
	in.Stages = []job.StageProgress{{Stage: "openings", DonePercent: 100}}
	p := asks(&in)
	p.Rule = job.Rework{RemovalPercent: 100}
	p.Choices = with(without(p.Choices, "win_near_slide"), bom.Choice{Want: "win_rear_near_fixed"})
	if v := varied(t, in, p); len(v.Rework) != 1 || v.Rework[0].Hours.String() != "1.5" {
		t.Errorf("rework %+v", v.Rework)
	}
}

// What is bought for a finding costs what the edition says, and its margin is
// what is left of what it is charged at.
func TestWhatAFindingCosts(t *testing.T) {
	in := varying(t, gross(), "full-conversion-short-van")
	var faults any
	in.Findings, faults = find(t, &in, job.Finding{FoundAt: "strip_out", Stage: "openings", Words: "The pane is cracked.", Parts: []job.FindingPart{{Part: "glass_side_slide", Quantity: number("1")}}})
	if faults != nil {
		t.Fatal(faults)
	}
	p := asks(&in)
	same := varied(t, in, p) // costs inside are today's in any case
	p.Findings = []int{1}
	v := varied(t, in, p)
	cost, ok := in.Offer.Book.Cost("glass_side_slide", p.Day)
	more, err := v.Cost.Sub(*same.Cost)
	if !ok || err != nil || !more.Decimal().Equal(cost.Cost.Decimal()) {
		t.Errorf("it costs %s more, not %s", more, cost.Cost.Decimal())
	}
	if left, err := v.Change.Net.Sub(*v.Cost); err != nil || left != *v.Margin {
		t.Errorf("net %s less cost %s is not the margin %s", v.Change.Net, v.Cost, v.Margin)
	}
}

// Nothing proposed is nothing changed, though every price has risen since, and
// such a variation is not sent.
func TestNothingProposedChangesNothing(t *testing.T) {
	for _, name := range []string{"full-conversion-short-van", "package-touring", "dealer-own-heater", "second-owner-refit", "windows-only"} {
		for _, terms := range []pricing.Terms{gross(), net()} {
			in := varying(t, terms, name)
			v := varied(t, in, asks(&in))
			if !v.Change.Gross.IsZero() || !v.Change.VAT.IsZero() || len(v.Difference.Lines) > 0 || len(v.Payments) > 0 {
				t.Errorf("%s %s: it changes\n%s", name, terms.Basis, told(&v))
			}
			if len(v.NotReady) != 1 || v.NotReady[0].Code != job.NothingChanges {
				t.Errorf("%s: not ready %+v", name, v.NotReady)
			}
		}
	}
}

func net() pricing.Terms {
	t := gross()
	t.Basis = pricing.Net
	return t
}

// TestAnotherDiscount: a variation may change it, as far as the role may give it;
// what was agreed stays, whoever proposes the change.
func TestAnotherDiscount(t *testing.T) {
	percent := func(text string) *decimal.Decimal { d := number(text); return &d }
	amount := func(text string) *money.Amount { a := pounds(t, text); return &a }
	for _, test := range []struct {
		name, role       string
		agreed, now      job.Discount
		changes, refused bool
		off              string // of the whole, now
	}{
		{"none, and none", "sales", job.Discount{}, job.Discount{}, false, false, "0.00"},
		{"agreed by the owner, and kept", "sales", job.Discount{Percent: percent("12")}, job.Discount{}, false, false, "308.50"},
		{"agreed in money, and kept", "sales", job.Discount{Amount: amount("150.00")}, job.Discount{}, false, false, "150.00"},
		{"given now", "sales", job.Discount{}, job.Discount{Percent: percent("5")}, true, false, "128.54"},
		{"more than sales may give", "sales", job.Discount{}, job.Discount{Percent: percent("5.01")}, true, true, "0.00"},
		{"as much as the owner may give", "owner", job.Discount{}, job.Discount{Percent: percent("12")}, true, false, "308.50"},
		{"in money", "owner", job.Discount{Percent: percent("1")}, job.Discount{Amount: amount("33.33")}, true, false, "33.33"},
		{"taken back", "sales", job.Discount{Percent: percent("1")}, job.Discount{Percent: percent("0")}, true, false, "0.00"},
		{"taken back, of money", "sales", job.Discount{Amount: amount("33.33")}, job.Discount{Percent: percent("0")}, true, false, "0.00"},
	} {
		terms := gross()
		terms.DiscountPercent, terms.DiscountAmount = test.agreed.Percent, test.agreed.Amount
		in := varying(t, terms, "windows-only")
		p := asks(&in)
		p.Role = test.role
		if test.changes {
			p.Discount = &test.now
		}
		v := varied(t, in, p)
		refused := slices.ContainsFunc(v.NotReady, func(n bom.NotReady) bool { return n.Code == quote.DiscountRefused })
		if got := v.Is.Discount.Fixed(); got != test.off || refused != test.refused {
			t.Errorf("%s: %s off %s, refused is %v: %+v", test.name, got, v.Is.BeforeDiscount, refused, v.NotReady)
		}
		next := v.Agreement()
		if got := next.Asked.Terms.DiscountAmount != nil; got != (next.Asked.Vans[0].DiscountShare != nil) {
			t.Errorf("%s: of a discount in money the share is kept: %v", test.name, got)
		}
	}
	in := varying(t, gross(), "windows-only")
	p := asks(&in)
	p.Discount = &job.Discount{Percent: percent("1"), Amount: amount("1.00")}
	if _, faults, err := job.Vary(in, p); err != nil || len(faults) == 0 {
		t.Errorf("two discounts: %+v %v", faults, err)
	}
}

// What was ticked on acceptance stays as cheap as it was offered.
func TestAPromiseIsKept(t *testing.T) {
	o := quotetest.Offer("2026-07")
	a := quote.Asked{Terms: gross(), Vans: []quote.AskedVan{quotetest.Van("full-conversion-short-van")}}
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "alarm"}}
	w, faults, err := quote.Work(o, a)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	d, err := quote.Issue(w, quote.Head{Quote: "quote-1", Number: 1042, Revision: 1, IssuedOn: a.Terms.Day, Paper: quote.Paper{Terms: "We do what we say."}})
	if err != nil {
		t.Fatal(err)
	}
	cheaper, err := d.Vans[0].Extras[0].Gross.Sub(pounds(t, "50.00"))
	if err != nil {
		t.Fatal(err)
	}
	d.Vans[0].Extras[0].Gross = cheaper
	agreed, faults, err := quote.Accept(o, d, quote.Acceptance{Revision: 1, On: "2026-09-02", How: quote.AtCounter, Place: quote.OnPremises,
		TermsSHA256: d.Paper.TermsSHA256, Ticked: []quote.Tick{{Van: 1, Feature: "alarm"}}}, quote.Private)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	in := varying(t, gross(), "full-conversion-short-van")
	in.Agreed, _ = job.AgreementIn(agreed, 1)
	p := asks(&in)
	if v := varied(t, in, p); !v.Change.Gross.IsZero() {
		t.Errorf("nothing proposed, and it changes:\n%s", told(&v))
	}
	p.Choices = with(without(p.Choices, "sockets_usb"), bom.Choice{Want: "sockets_usb", Count: 3})
	if v := varied(t, in, p); v.Change.Gross != pounds(t, "47.00") {
		t.Errorf("a socket more, at 47.00:\n%s", told(&v))
	}
}

func pounds(tb testing.TB, text string) money.Amount {
	tb.Helper()
	a, err := money.Parse(text, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// Whatever is added, dropped and found, in whatever state the job is: the
// accepted quote and all changes are what the job comes to, with VAT and
// payments, nothing is kept back beyond what is credited, and what is written is
// read back the same.
func TestQuoteAndVariationsAreTheJob(t *testing.T) {
	bases := []string{"full-conversion-short-van", "windows-only", "roof-only", "second-owner-refit", "package-touring", "dealer-own-heater"}
	stages := quotetest.Offer("2026-10").Release.Catalogue().Stages
	docs := map[string]*quote.Document{}
	rapid.Check(t, func(r *rapid.T) {
		terms := rapid.SampledFrom([]pricing.Terms{gross(), gross(), net()}).Draw(r, "terms")
		if rapid.IntRange(0, 2).Draw(r, "discount") == 0 {
			if rapid.Bool().Draw(r, "percent") {
				off := number("1.5")
				terms.DiscountPercent = &off
			} else {
				off := pounds(t, "33.33")
				terms.DiscountAmount = &off
			}
		}
		name := rapid.SampledFrom(bases).Draw(r, "van")
		in := varying(t, gross(), "windows-only")
		key := fmt.Sprint(name, terms.Basis, terms.DiscountPercent != nil, terms.DiscountAmount != nil)
		if docs[key] == nil {
			docs[key] = issued(t, "2026-07", terms, name)
		}
		in.Agreed, _ = job.AgreementIn(docs[key], 1)
		sum := in.Agreed.Van.Priced.Totals.Gross.Minor()
		for n := range rapid.IntRange(1, 3).Draw(r, "variations") {
			in.Number = int64(n + 1)
			progress := drawProgress(r, stages, &in.Agreed)
			in.Stages = progress.Stages
			p := drawProposal(r, &in)
			p.Parts = progress.Parts
			v, faults, err := job.Vary(in, p)
			if err != nil {
				r.Fatal(err)
			}
			if len(faults) > 0 {
				r.Fatalf("%+v", faults)
			}
			holds(r, &in, &v)
			if ready := slices.DeleteFunc(slices.Clone(v.NotReady), func(n bom.NotReady) bool { return n.Code == job.NothingChanges }); len(ready) > 0 {
				continue
			}
			in.Findings = slices.Clone(in.Findings)
			for i := range in.Findings {
				in.Findings[i].State = job.FindingSettled
			}
			sum += v.Change.Gross.Minor()
			in.Agreed = v.Agreement()
		}
		if got := in.Agreed.Van.Priced.Totals.Gross.Minor(); got != sum {
			r.Fatalf("quote and variations are %d, the job comes to %d", sum, got)
		}
	})
}

func holds(r *rapid.T, in *job.Varying, v *job.Varied) {
	add := func(list ...money.Amount) money.Amount {
		sum, err := money.Sum("GBP", list...)
		if err != nil {
			r.Fatal(err)
		}
		return sum
	}
	if add(v.Was.Gross, v.Change.Gross) != v.Is.Gross || add(v.Was.Net, v.Change.Net) != v.Is.Net || add(v.Was.VAT, v.Change.VAT) != v.Is.VAT ||
		add(v.Change.Net, v.Change.VAT) != v.Change.Gross || v.Was != in.Agreed.Van.Priced.Totals || v.Is != v.Van.Priced.Totals {
		r.Fatalf("the change does not add up\n%s", told(v))
	}
	var nets, vats, paid, scheduled, said []money.Amount
	for _, x := range v.VAT {
		nets, vats = append(nets, x.Net), append(vats, x.VAT)
	}
	for _, p := range v.Payments {
		paid = append(paid, p.Amount)
	}
	for _, p := range v.Schedule {
		scheduled = append(scheduled, p.Amount)
	}
	for _, s := range v.Says {
		if s.Difference != nil && s.About != quote.AboutTotal && s.About != quote.AboutDeposit {
			said = append(said, *s.Difference)
		}
	}
	if add(nets...) != v.Change.Net || add(vats...) != v.Change.VAT {
		r.Fatalf("the VAT does not add up\n%s", told(v))
	}
	if add(paid...) != v.Change.Gross || add(scheduled...) != v.Is.Gross {
		r.Fatalf("the payments do not add up\n%s", told(v))
	}
	want := v.Change.Gross
	if v.Asked.Terms.Basis == pricing.Net {
		want = v.Change.Net
	}
	if add(said...) != want {
		r.Fatalf("the sentences add up to %s, not %s\n%s", add(said...), want, told(v))
	}
	for _, k := range v.KeptBack {
		if k.Kept.Sign() <= 0 || k.Kept.Minor() > k.Worth.Minor() || k.Credited != nil && k.Kept.Minor() > k.Credited.Minor() {
			r.Fatalf("kept back %+v", k)
		}
	}
	if len(v.Progress.Stages) == 0 && len(v.Progress.Parts) == 0 && (len(v.Rework) > 0 || len(v.KeptBack) > 0) {
		r.Fatalf("nothing is done, and it is charged\n%s", told(v))
	}
	text, err := v.Encode()
	if err != nil {
		r.Fatal(err)
	}
	back, err := job.DecodeVariation(text)
	if err != nil {
		r.Fatal(err)
	}
	if again, err := back.Encode(); err != nil || !bytes.Equal(text, again) {
		r.Fatalf("read and written it is another: %v", err)
	}
}

func drawProgress(r *rapid.T, stages []catalogue.Stage, a *job.Agreement) job.Progress {
	var p job.Progress
	if rapid.IntRange(0, 3).Draw(r, "nothing done") == 0 {
		return p
	}
	for i := range rapid.IntRange(0, len(stages)).Draw(r, "stages done") {
		p.Stages = append(p.Stages, job.StageProgress{Stage: stages[i].Code, DonePercent: rapid.SampledFrom([]int{100, 100, 40}).Draw(r, "percent")})
	}
	seen := map[string]bool{}
	for _, l := range a.Van.Sheet.Lines {
		if l.Kind != bom.PartLine || l.Code == "" || seen[l.Code] || rapid.IntRange(0, 3).Draw(r, "known") > 0 {
			continue
		}
		seen[l.Code] = true
		s := job.PartProgress{Part: l.Code, Ordered: l.Quantity}
		if rapid.Bool().Draw(r, "back") {
			s.CanGoBack = l.Quantity
		}
		p.Parts = append(p.Parts, s)
	}
	return p
}

func drawProposal(r *rapid.T, in *job.Varying) job.Proposal {
	p := asks(in)
	features := in.Offer.Release.Catalogue().Features
	for range rapid.IntRange(0, 4).Draw(r, "changes") {
		if n := len(p.Choices.Features); n > 2 && rapid.Bool().Draw(r, "leave out") {
			i := rapid.IntRange(1, n-1).Draw(r, "which")
			p.Choices.Features = slices.Delete(slices.Clone(p.Choices.Features), i, i+1)
			continue
		}
		f := features[rapid.IntRange(0, len(features)-1).Draw(r, "feature")]
		if f.Follower || f.NotSold || slices.ContainsFunc(p.Choices.Features, func(c bom.Choice) bool { return c.Want == f.Code || c.Refuse == f.Code }) {
			continue
		}
		c := bom.Choice{Want: f.Code}
		if f.Count != nil {
			c.Count = rapid.IntRange(f.Count.Least, f.Count.Most).Draw(r, "count")
		}
		p.Choices = with(p.Choices, c)
	}
	if len(p.Choices.Additions) > 0 && rapid.Bool().Draw(r, "drop an addition") {
		p.Choices.Additions = p.Choices.Additions[1:]
	}
	switch rapid.IntRange(0, 8).Draw(r, "another discount") {
	case 0:
		off := rapid.SampledFrom([]decimal.Decimal{number("0"), number("2.5"), number("40")}).Draw(r, "per cent")
		p.Discount = &job.Discount{Percent: &off}
	case 1:
		off, err := money.FromMinor(int64(rapid.IntRange(0, 20_000).Draw(r, "off")), "GBP")
		if err != nil {
			r.Fatal(err)
		}
		p.Discount = &job.Discount{Amount: &off}
	}
	if rapid.IntRange(0, 2).Draw(r, "found") == 0 {
		j := job.Job{State: job.InTheWorkshop, Findings: in.Findings}
		j, faults := j.Find(job.Act{On: "2026-11-24", Today: "2026-11-25"}, job.Finding{FoundAt: "strip_out", Stage: "floor", Words: "Rust.",
			Hours: []bom.AdditionHours{{Trade: "fitter", Hours: number("2.25")}}, Parts: []job.FindingPart{{Part: "rust_primer", Quantity: number("40")}}}, in.Offer.Release.Catalogue())
		if len(faults) > 0 {
			r.Fatal(faults)
		}
		in.Findings = j.Findings
		p.Findings = []int{len(j.Findings)}
	}
	return p
}
