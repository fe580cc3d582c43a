package quote_test

import (
	"bytes"
	"fmt"
	"slices"
	"testing"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// otherRelease is the demo's offer with another release of its catalogue.
func otherRelease(tb testing.TB, change func(*catalogue.Catalogue)) quote.Offer {
	tb.Helper()
	o := quotetest.Offer("2026-10")
	text, err := o.Release.Catalogue().MarshalJSON()
	if err != nil {
		tb.Fatal(err)
	}
	c, _, faults := catalogue.DecodeJSON(text)
	if err := faults.Err(); err != nil {
		tb.Fatal(err)
	}
	change(c)
	release, faults := bom.Compile(c)
	if err := faults.Err(); err != nil {
		tb.Fatal(err)
	}
	book, faults := pricebook.Compile(c, o.Book.Edition())
	if err := faults.Err(); err != nil {
		tb.Fatal(err)
	}
	return quote.Offer{Number: 2, Release: release, Book: book}
}

func featureOf(tb testing.TB, c *catalogue.Catalogue, code string) *catalogue.Feature {
	tb.Helper()
	k := slices.IndexFunc(c.Features, func(f catalogue.Feature) bool { return f.Code == code })
	if k < 0 {
		tb.Fatalf("the demo has no %s", code)
	}
	return &c.Features[k]
}

// TestEffect: what releases make of two quotes, of which one is told in full.
func TestEffect(t *testing.T) {
	a := asked(t, "windows-only", "roof-only")
	d := issue(t, quotetest.Offer("2026-10"), a, 1)
	before := encoded(t, d)
	var b bytes.Buffer
	for _, c := range []struct {
		name   string
		change func(*catalogue.Catalogue)
		same   bool
	}{
		{"the same catalogue", func(*catalogue.Catalogue) {}, true},
		{"other names of parts and stages", func(c *catalogue.Catalogue) {
			for i := range c.Parts {
				c.Parts[i].Name += " B"
			}
			c.Stages[0].Name = "Beginning"
		}, true},
		{"something nobody asked for", func(c *catalogue.Catalogue) { featureOf(t, c, "oven").Lines[0].Quantity = "9" }, true},
		{"a roof that takes longer", func(c *catalogue.Catalogue) {
			f := featureOf(t, c, "roof_elevating_view")
			f.Lines = append(f.Lines, catalogue.Line{Stage: f.Lines[0].Stage, Trade: "fitter", Quantity: "1.5"})
		}, false},
		{"a roof that brings an alarm", func(c *catalogue.Catalogue) {
			c.Rules = append(c.Rules, catalogue.Rule{Code: "roof_alarm", If: "roof_elevating_view", Brings: []catalogue.Fitted{{Feature: "co_alarm"}}, Says: "A roof has an alarm."})
		}, false},
		{"no elevating roof any more", func(c *catalogue.Catalogue) {
			c.Rules = append(c.Rules, catalogue.Rule{Code: "no_roof", If: "roof_elevating_view", Clashes: "roof_only", Says: "No roofs alone."})
		}, false},
	} {
		w := work(t, otherRelease(t, c.change), a)
		e := quote.EffectOf(d, d.Under(&w), w.Offer.Release.Catalogue())
		if e.Same != c.same || e.Same != (len(e.Sentences) == 0) || encoded(t, d) != before {
			t.Errorf("%s: same is %v, %+v", c.name, e.Same, e.Sentences)
		}
		if e.Was.Gross != d.Totals.Gross || e.Is.Gross != w.Totals.Gross {
			t.Errorf("%s: %+v", c.name, e)
		}
		back := quote.EffectOf(d.Under(&w), d, quotetest.Offer("2026-10").Release.Catalogue())
		if len(back.Gained) != len(e.Lost) || len(back.Lost) != len(e.Gained) || back.Same != e.Same || back.OtherSheet != e.OtherSheet {
			t.Errorf("%s: back it is %+v", c.name, back)
		}
		fmt.Fprintf(&b, "%s\n", c.name)
		for _, m := range e.Gained {
			fmt.Fprintf(&b, "    van %d gains %s, %d to %d\n", m.Van, m.Code, m.Was, m.Is)
		}
		for _, m := range e.Lost {
			fmt.Fprintf(&b, "    van %d loses %s, %d to %d\n", m.Van, m.Code, m.Was, m.Is)
		}
		if !e.Same {
			fmt.Fprintf(&b, "    %s to %s, %s h to %s h, %s kg to %s kg, ready %v to %v, other sheet %v\n", e.Was.Gross.Fixed(), e.Is.Gross.Fixed(),
				e.Was.Hours, e.Is.Hours, e.Was.MassKG, e.Is.MassKG, e.Was.Ready, e.Is.Ready, e.OtherSheet)
		}
		for _, s := range e.Sentences {
			fmt.Fprintf(&b, "    %d: %s\n", s.Van, s.Says)
		}
	}
	golden(t, "effects.txt", b.Bytes())
}

// A quote that holds prices keeps them under another release, where a revision
// would.
func TestEffectHoldsPrices(t *testing.T) {
	a := asked(t, "roof-only")
	a.Terms.Day = "2026-09-01"
	d := issue(t, quotetest.Offer("2026-07"), a, 1)
	a.Terms.Day = "2026-11-25" // the revision's: October's prices, but for what is held
	o := otherRelease(t, func(c *catalogue.Catalogue) { c.Parts[0].Name = "Another" })
	free := work(t, o, a)
	july, faults := pricebook.Compile(o.Release.Catalogue(), quotetest.Offer("2026-07").Book.Edition())
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	o.Held, o.HeldBooks = d, []*pricebook.Compiled{july}
	held := work(t, o, a)
	if e := quote.EffectOf(d, d.Under(&held), o.Release.Catalogue()); e.Is.Gross != e.Was.Gross {
		t.Errorf("held, it comes to %s and was %s", e.Is.Gross.Fixed(), e.Was.Gross.Fixed())
	}
	if e := quote.EffectOf(d, d.Under(&free), o.Release.Catalogue()); e.Is.Gross == e.Was.Gross || e.Same {
		t.Error("nothing held, it costs the same")
	}
}
