package quote_test

import (
	"errors"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// bases are demo choices to begin with.
var bases = []string{"full-conversion-short-van", "full-conversion-without-oven", "windows-only", "roof-only", "trim-only", "second-owner-refit", "package-touring", "roof-kit-supplied"}

// drawVan draws a van of the demo with some choices left out, some added, and
// some numbers changed.
func drawVan(t *rapid.T, o quote.Offer, all map[string]quote.AskedVan) quote.AskedVan {
	v := all[rapid.SampledFrom(bases).Draw(t, "base")]
	features := o.Release.Catalogue().Features
	v.Choices.Features = slices.Clone(v.Choices.Features)
	for range rapid.IntRange(0, 4).Draw(t, "changes") {
		if n := len(v.Choices.Features); n > 2 && rapid.Bool().Draw(t, "leave out") {
			i := rapid.IntRange(1, n-1).Draw(t, "which")
			v.Choices.Features = slices.Delete(v.Choices.Features, i, i+1)
			continue
		}
		f := features[rapid.IntRange(0, len(features)-1).Draw(t, "feature")]
		known := slices.ContainsFunc(v.Choices.Features, func(c bom.Choice) bool { return c.Want == f.Code || c.Refuse == f.Code })
		if known || f.Follower || f.NotSold {
			continue
		}
		c := bom.Choice{Want: f.Code}
		if f.Count != nil {
			c.Count = rapid.IntRange(f.Count.Least, f.Count.Most).Draw(t, "count")
		}
		v.Choices.Features = append(v.Choices.Features, c)
	}
	return v
}

// drawAsked draws a quote for some such vans.
func drawAsked(t *rapid.T, o quote.Offer, all map[string]quote.AskedVan) quote.Asked {
	a := quote.Asked{Terms: pricing.Terms{Basis: rapid.SampledFrom([]pricing.Basis{pricing.Gross, pricing.Gross, pricing.Net}).Draw(t, "basis"),
		Day: "2026-11-25", Role: "owner", ValidUntil: "2026-12-23"}}
	for range rapid.IntRange(1, 3).Draw(t, "vans") {
		a.Vans = append(a.Vans, drawVan(t, o, all))
	}
	switch rapid.IntRange(0, 3).Draw(t, "discount") {
	case 0:
		off, err := money.FromMinor(rapid.Int64Range(0, 40_000).Draw(t, "off"), "GBP")
		if err != nil {
			t.Fatal(err)
		}
		a.Terms.DiscountAmount = &off
	case 1:
		percent := number("0.5").Mul(number(rapid.SampledFrom([]string{"1", "2", "7"}).Draw(t, "percent")))
		a.Terms.DiscountPercent = &percent
	}
	if rapid.Bool().Draw(t, "slot") {
		a.SlotWanted = "2027-02-15"
	}
	return a
}

func allVans(tb testing.TB) map[string]quote.AskedVan {
	tb.Helper()
	all := map[string]quote.AskedVan{}
	for _, name := range bases {
		v := quotetest.Van(name)
		v.Van = "" // told apart by their place
		all[name] = v
	}
	return all
}

// drawn draws until something can be issued.
func drawn(t *rapid.T, o quote.Offer, all map[string]quote.AskedVan, revision int) (quote.Worked, *quote.Document) {
	a := drawAsked(t, o, all)
	w, faults, err := quote.Work(o, a)
	if err != nil {
		t.Fatal(err)
	}
	if len(faults) > 0 || !w.Ready() {
		t.Skip("not to be issued")
	}
	d, err := quote.Issue(w, head(revision))
	if err != nil {
		t.Fatal(err)
	}
	return w, d
}

// What is issued is the same bytes whenever it is worked out, adds up, and
// differs from nothing but what is different.
func TestIssuedHolds(t *testing.T) {
	o, all := quotetest.Offer("2026-10"), allVans(t)
	rapid.Check(t, func(t *rapid.T) {
		w, d := drawn(t, o, all, 1)
		text, err := d.Encode()
		if err != nil {
			t.Fatal(err)
		}
		read, err := quote.Decode(text)
		if err != nil {
			t.Fatal(err)
		}
		r, err := quote.Recompute(o, read)
		if err != nil || !r.Same {
			t.Fatalf("worked out again it differs: %v %+v", err, r.Differences)
		}
		totals(t, &w)
		if c := quote.Compare(d, read, o.Release.Catalogue()); len(c.Sentences) != 1 || c.Sentences[0].About != quote.AboutNothing {
			t.Fatalf("compared with itself: %s", c.Text())
		}
	})
}

// totals: the sums are of the vans, net and VAT make gross, the payments too,
// and a discount in money is taken off whole.
func totals(t *rapid.T, w *quote.Worked) {
	var before, off, net, vat, gross, paid int64
	for i := range w.Vans {
		u := &w.Vans[i].Priced.Totals
		before, off, net = before+u.BeforeDiscount.Minor(), off+u.Discount.Minor(), net+u.Net.Minor()
		vat, gross = vat+u.VAT.Minor(), gross+u.Gross.Minor()
	}
	for _, p := range w.Payments {
		paid += p.Amount.Minor()
	}
	u := &w.Totals
	if u.BeforeDiscount.Minor() != before || u.Discount.Minor() != off || u.Net.Minor() != net || u.VAT.Minor() != vat ||
		u.Gross.Minor() != gross || net+vat != gross || paid != gross {
		t.Fatalf("the sums do not add up: %+v, paid %d", u, paid)
	}
	if a := w.Asked.Terms.DiscountAmount; a != nil && a.Minor() != off {
		t.Fatalf("%s were to be taken off, and %d are", a, off)
	}
}

// Vans in another order are the same vans: on the gross basis the whole is the
// same to the penny. (On the net one each van's VAT is rounded by itself, and
// the odd penny of a discount may meet another van.)
func TestOrderOfVansIsNoMatter(t *testing.T) {
	o, all := quotetest.Offer("2026-10"), allVans(t)
	rapid.Check(t, func(t *rapid.T) {
		w, _ := drawn(t, o, all, 1)
		a := w.Asked
		if a.Terms.Basis != pricing.Gross {
			t.Skip()
		}
		a.Vans = slices.Clone(a.Vans)
		slices.Reverse(a.Vans)
		again, faults, err := quote.Work(o, a)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		if again.Totals.Gross != w.Totals.Gross || again.Totals.BeforeDiscount != w.Totals.BeforeDiscount {
			t.Fatalf("in another order it comes to %s, not %s", again.Totals.Gross, w.Totals.Gross)
		}
	})
}

// Between any two quotes, what is told adds up to what the price changes by.
func TestWhatIsToldAddsUp(t *testing.T) {
	o, all := quotetest.Offer("2026-10"), allVans(t)
	rapid.Check(t, func(t *rapid.T) {
		_, earlier := drawn(t, o, all, 1)
		_, later := drawn(t, o, all, 2)
		addsUp(t, earlier, later, quote.Compare(earlier, later, o.Release.Catalogue()))
	})
}

// Whatever extras are ticked, no van costs more than it was offered at and they
// together, the other vans cost what they did, and what is agreed is worked out
// again the same.
func TestTickedNeverCostMore(t *testing.T) {
	o, all := quotetest.Offer("2026-10"), allVans(t)
	features := o.Release.Catalogue().Features
	rapid.Check(t, func(t *rapid.T) {
		a := drawAsked(t, o, all)
		for range rapid.IntRange(1, 5).Draw(t, "extras") {
			i := rapid.IntRange(0, len(a.Vans)-1).Draw(t, "of van")
			f := features[rapid.IntRange(0, len(features)-1).Draw(t, "extra")]
			e := quote.AskedExtra{Feature: f.Code}
			if f.Count != nil {
				e.Count = f.Count.Most
			}
			with := a
			with.Vans = slices.Clone(a.Vans)
			with.Vans[i].Extras = append(slices.Clone(a.Vans[i].Extras), e)
			if w, faults, err := quote.Work(o, with); err == nil && len(faults) == 0 && w.Ready() {
				a = with
			}
		}
		w, faults, err := quote.Work(o, a)
		if err != nil {
			t.Fatal(err)
		}
		if len(faults) > 0 || !w.Ready() {
			t.Skip("not to be issued")
		}
		d, err := quote.Issue(w, head(1))
		if err != nil {
			t.Fatal(err)
		}
		var ticks []quote.Tick
		most := make([]int64, len(d.Vans))
		for i := range d.Vans {
			most[i] = d.Vans[i].Priced.Totals.Gross.Minor()
			for _, e := range d.Vans[i].Extras {
				if rapid.Bool().Draw(t, "ticked") {
					ticks = append(ticks, quote.Tick{Van: i + 1, Feature: e.Code})
					most[i] += e.Gross.Minor()
				}
			}
		}
		agreed, faults, err := quote.Accept(o, d, yes(d, ticks...), quote.Private)
		var unready *quote.Unready
		if len(faults) > 0 || errors.As(err, &unready) {
			return // they do not go together, or weigh too much
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := range agreed.Vans {
			got := agreed.Vans[i].Priced.Totals.Gross.Minor()
			ticked := slices.ContainsFunc(ticks, func(x quote.Tick) bool { return x.Van == i+1 })
			if got > most[i] || !ticked && got != most[i] {
				t.Fatalf("van %d comes to %d, offered at %d; ticked %v", i+1, got, most[i], ticks)
			}
		}
		if r, err := quote.Recompute(o, agreed); err != nil || !r.Same {
			t.Fatalf("worked out again it differs: %v %+v", err, r.Differences)
		}
		addsUp(t, d, agreed, quote.Compare(d, agreed, o.Release.Catalogue()))
	})
}
