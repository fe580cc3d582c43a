package quote_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// numbers are all of a worked quote that is kept of a draft, and shown of it.
func numbers(w *quote.Worked) string {
	text := fmt.Sprintln(w.Totals, w.Payments, len(w.Vans))
	for i := range w.Vans {
		v := &w.Vans[i]
		p := &v.Priced
		checks, err := json.Marshal(v.Sheet.Checks)
		mass, err2 := json.Marshal(v.Sheet.Mass)
		text += fmt.Sprintln(v.NotReady, v.OpenFinishes, v.Extras, v.Sheet.Hours, string(mass), string(checks), err, err2, v.Sheet.Broken)
		text += fmt.Sprintln(len(v.Resolution.Answer.PutAside), v.Specification.Allowed, v.Specification.Settled, v.Specification.PackageChanges)
		text += fmt.Sprintf("%v %v %v %+v", p.Totals, p.Payments, p.Gaps, p.Refusal)
		if p.Inside != nil {
			text += fmt.Sprintln(p.Inside.Cost, p.Inside.Overhead, p.Inside.Margin, p.Inside.MarginPercent)
		}
		for _, f := range v.Specification.Features {
			text += fmt.Sprint(" ", f.Code, f.Count, f.Fit)
		}
		text += fmt.Sprintln(v.Specification.Finishes, v.Specification.Removed)
	}
	return text
}

// TestNumbersAloneAreTheNumbers: a draft worked out in numbers alone comes to
// what the whole comes to.
func TestNumbersAloneAreTheNumbers(t *testing.T) {
	o, all := quotetest.Offer("2026-10"), allVans(t)
	most := pounds(t, "1234.56")
	alone, whole := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		a := drawAsked(t, o, all)
		o := o
		if rapid.IntRange(0, 3).Draw(t, "held") == 0 {
			if w, faults, err := quote.Work(o, a); err == nil && len(faults) == 0 && w.Ready() {
				if o.Held, err = quote.Issue(w, head(1)); err != nil {
					t.Fatal(err)
				}
				o.Held.Vans[0].Priced.Lines[0].UnitPrice = o.Held.Vans[0].Priced.Lines[len(o.Held.Vans[0].Priced.Lines)-1].UnitPrice
				o.HeldBooks = append(o.HeldBooks, o.Book)
			}
		}
		for i := range a.Vans {
			if rapid.IntRange(0, 4).Draw(t, "extra") == 0 {
				a.Vans[i].Extras = []quote.AskedExtra{{Feature: rapid.SampledFrom([]string{"awning_rail", "sill_boards", "lesson"}).Draw(t, "which extra")}}
			}
			if rapid.IntRange(0, 4).Draw(t, "at most") == 0 {
				a.Vans[i].AtMost = &most
			}
			a.Vans[i].Settle = rapid.SampledFrom([]bom.Settle{bom.SettleNothing, bom.SettleByDefaults}).Draw(t, "settle")
		}
		a.Terms.Role = rapid.SampledFrom([]string{"owner", "sales"}).Draw(t, "role")
		want, faults, err := quote.Work(o, a)
		n := o
		n.NumbersAlone = true
		got, gotFaults, gotErr := quote.Work(n, a)
		if fmt.Sprint(faults, err) != fmt.Sprint(gotFaults, gotErr) {
			t.Fatalf("%v %v, the whole says %v %v", gotFaults, gotErr, faults, err)
		}
		if err != nil || len(faults) > 0 {
			return
		}
		if numbers(&got) != numbers(&want) {
			t.Fatalf("%s\nthe whole:\n%s", numbers(&got), numbers(&want))
		}
		for i := range got.Vans {
			if len(got.Vans[i].Sheet.Lines) == 0 {
				alone++
			} else {
				whole++
			}
		}
	})
	t.Logf("%d vans in numbers alone, %d whole", alone, whole)
	if alone < whole/3 {
		t.Error("too few in numbers alone to say anything")
	}
}

// TestAnExtraOfAVanAlikeTheOneBefore: of two vans that are alike only the
// second has an extra, which is worth the same as when it stands alone.
func TestAnExtraOfAVanAlikeTheOneBefore(t *testing.T) {
	o, all := quotetest.Offer("2026-10"), allVans(t)
	o.NumbersAlone = true
	v := all["full-conversion-short-van"]
	with := v
	with.Extras = []quote.AskedExtra{{Feature: "awning_rail"}}
	price := func(vans ...quote.AskedVan) quote.Extra {
		t.Helper()
		w, faults, err := quote.Work(o, quote.Asked{Vans: vans, Terms: pricing.Terms{Day: "2026-11-02", Basis: pricing.Gross, Role: "owner", ValidUntil: "2026-11-30"}})
		if err != nil || len(faults) > 0 {
			t.Fatal(faults, err)
		}
		return w.Vans[len(vans)-1].Extras[0]
	}
	if alone, second := price(with), price(v, with); alone.Gross != second.Gross || alone.Gross.Sign() <= 0 {
		t.Errorf("alone %v, after a van like it %v", alone, second)
	}
}
