package pricing_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"testing"
	"text/tabwriter"

	"wainscot/pricing"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestGolden(t *testing.T) {
	for _, basis := range []pricing.Basis{pricing.Gross, pricing.Net} {
		e := examples(t, "testdata/weekender.yaml")[0]
		e.Terms.Basis = basis
		got := table(e.price(t))
		path := "testdata/weekender-" + string(basis) + ".golden"
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what it comes to any more (-update writes it anew):\n%s", path, got)
		}
	}
}

// table writes a price for people to read.
func table(p pricing.Priced) []byte {
	var b bytes.Buffer
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	row := func(format string, a ...any) { fmt.Fprintf(w, format+"\t\n", a...) }
	fmt.Fprintf(&b, "%s, edition %s, %s, day %s\n\n", p.Basis, p.Edition, p.Currency, p.Day)
	row("kind\twords\tnumber\tunit price\tamount\ttreatment\t%%\tnet\tVAT\tcost\toverhead\tmargin")
	for i, l := range p.Lines {
		c := p.Inside.Lines[i]
		row("%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s", l.Kind, l.Words, l.Quantity, l.UnitPrice.Fixed(), l.Amount.Fixed(),
			l.Treatment, l.Percent, l.Net.Fixed(), l.VAT.Fixed(), c.Cost.Fixed(), c.Overhead.Fixed(), c.Margin.Fixed())
	}
	w.Flush()
	fmt.Fprintf(&b, "\nbefore discount %s, discount %s\nnet %s, VAT %s, gross %s\n", p.Totals.BeforeDiscount.Fixed(), p.Totals.Discount.Fixed(),
		p.Totals.Net.Fixed(), p.Totals.VAT.Fixed(), p.Totals.Gross.Fixed())
	fmt.Fprintf(&b, "cost %s of which overhead %s, margin %s, %s %%\n\n", p.Inside.Cost.Fixed(), p.Inside.Overhead.Fixed(), p.Inside.Margin.Fixed(), p.Inside.MarginPercent)
	for _, r := range p.VAT {
		fmt.Fprintf(&b, "VAT %s %s %%: net %s, VAT %s, gross %s", r.Treatment, r.Percent, r.Net.Fixed(), r.VAT.Fixed(), r.Gross.Fixed())
		for _, s := range append([]string{r.Says}, r.Evidence...) {
			if s != "" {
				fmt.Fprintf(&b, "\n    %s", s)
			}
		}
		fmt.Fprintln(&b)
	}
	fmt.Fprintln(&b)
	for _, s := range p.Payments {
		fmt.Fprintf(&b, "%s: %s %s, %d days\n", s.Name, s.Amount.Fixed(), s.When, s.Days)
	}
	for _, g := range p.Gaps {
		fmt.Fprintf(&b, "gap %s %s: %s %s\n", g.Code, g.At, g.Says, g.Remedy)
	}
	if p.Refusal != nil {
		fmt.Fprintf(&b, "refused, %s: %s Most: %s, %s %%\n", p.Refusal.Code, p.Refusal.Says, p.Refusal.Most, p.Refusal.MostPercent)
	}
	return b.Bytes()
}
