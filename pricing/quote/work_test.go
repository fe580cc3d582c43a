package quote_test

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// Everything the demo's choices come to can be issued, unless they clash, and
// says the same as resolving, expanding and pricing by hand.
func TestDemoIsIssued(t *testing.T) {
	names, _ := filepath.Glob("../../testdata/demo/choices/*.yaml")
	if len(names) < 10 {
		t.Fatal("where are the demo's choices?")
	}
	for _, path := range names {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		t.Run(name, func(t *testing.T) {
			o, a := quotetest.Offer("2026-10"), asked(t, name)
			w := work(t, o, a)
			v := a.Vans[0]
			r, _, err := bom.Resolve(o.Release, v.Facts, v.Choices, v.Settle)
			if err != nil {
				t.Fatal(err)
			}
			terms := a.Terms
			terms.Additions = v.Additions
			p, err := pricing.Price(bom.Expand(o.Release, r.Specification), r.Specification, o.Book, terms)
			if err != nil || w.Totals != p.Totals || !slices.Equal(w.Payments, p.Payments) {
				t.Errorf("%v: it comes to %+v, by hand to %+v", err, w.Totals, p.Totals)
			}
			d, err := quote.Issue(w, head(1))
			var unready *quote.Unready
			if name == "choices-that-clash" {
				if !errors.As(err, &unready) || d != nil || len(unready.Vans[0]) == 0 || !strings.Contains(err.Error(), "van 1: ") {
					t.Errorf("choices that clash are issued: %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			text := encoded(t, d)
			read, err := quote.Decode([]byte(text))
			if err != nil || encoded(t, read) != text {
				t.Errorf("read and written again it is not the same: %v", err)
			}
			if d.ValidUntil != "2026-12-23" || d.Paper.Reference != "RF59001042" && !money.ValidReference(d.Paper.Reference) {
				t.Errorf("valid until %s, reference %s", d.ValidUntil, d.Paper.Reference)
			}
		})
	}
}

func TestDiscountIsDividedOverTheVans(t *testing.T) {
	o := quotetest.Offer("2026-10")
	a := asked(t, "full-conversion-short-van", "windows-only", "roof-only")
	off := pounds(t, "100.01")
	a.Terms.DiscountAmount = &off
	w := work(t, o, a)
	if w.Totals.Discount != off {
		t.Errorf("taken off are %s", w.Totals.Discount)
	}
	var shares []string
	for i := range w.Vans {
		shares = append(shares, w.Vans[i].Priced.Totals.Discount.Fixed())
	}
	without := asked(t, "full-conversion-short-van", "windows-only", "roof-only")
	before := work(t, o, without)
	less, err := before.Totals.Gross.Sub(off)
	if err != nil || less != w.Totals.Gross {
		t.Errorf("%s less %s is not %s (shares %v)", before.Totals.Gross, off, w.Totals.Gross, shares)
	}
	weights := make([]int64, len(w.Vans))
	for i := range w.Vans {
		weights[i] = before.Vans[i].Priced.Totals.Gross.Minor()
	}
	parts, err := money.AllocateMinor(nil, off.Minor(), weights)
	for i, p := range parts {
		if err != nil || w.Vans[i].Priced.Totals.Discount.Minor() != p {
			t.Errorf("van %d has %s off, not %d", i+1, shares[i], p)
		}
	}
	paid := money.Zero("GBP")
	for _, p := range w.Payments {
		if paid, err = paid.Add(p.Amount); err != nil {
			t.Fatal(err)
		}
	}
	if paid != w.Totals.Gross {
		t.Errorf("the payments are %s, the total %s", paid, w.Totals.Gross)
	}
	off = pounds(t, "999999.00")
	if w = work(t, o, a); w.Ready() || w.Vans[1].NotReady[0].Code != quote.DiscountRefused {
		t.Error("a discount of more than there is can be issued")
	}
}

// many makes it a quote for n vans that are alike.
func many(a *quote.Asked, n int) {
	for len(a.Vans) < n {
		a.Vans = append(a.Vans, a.Vans[0])
		a.Vans[len(a.Vans)-1].Van = ""
	}
}

// Every fault names its field and says what to do.
func TestFaults(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*quote.Asked)
		want   string // code and field
	}{
		"no van":                 {func(a *quote.Asked) { a.Vans = nil }, "no_van vans"},
		"41 vans":                {func(a *quote.Asked) { many(a, quote.MaxVans+1) }, "too_many vans"},
		"the same van twice":     {func(a *quote.Asked) { a.Vans = append(a.Vans, a.Vans[0]) }, "given_twice vans/2/van"},
		"day":                    {func(a *quote.Asked) { a.Terms.Day = "tomorrow" }, "day terms/day"},
		"slot":                   {func(a *quote.Asked) { a.SlotWanted = "soon" }, "day slot_wanted"},
		"two slots":              {func(a *quote.Asked) { a.Terms.SlotWanted = "2027-01-11" }, "contradiction terms/slot_wanted"},
		"base van":               {func(a *quote.Asked) { a.Vans[0].Facts.BaseVan = "short_pannel_van" }, "unknown_code vans/1/facts/base_van"},
		"registration":           {func(a *quote.Asked) { a.Vans[0].Facts.Registration = "WT24 DMO" }, "belongs_elsewhere vans/1/facts"},
		"one axle weighed":       {func(a *quote.Asked) { n := number("900"); a.Vans[0].Facts.WeighedRearKG = &n }, "contradiction vans/1/facts"},
		"choice":                 {func(a *quote.Asked) { a.Vans[0].Choices.Features[3].Want = "winn" }, "unknown_code vans/1/choices/features/4/want"},
		"additions of the quote": {func(a *quote.Asked) { a.Terms.Additions = make([]pricing.AdditionPrice, 1) }, "belongs_elsewhere terms/additions"},
		"extra unknown":          {func(a *quote.Asked) { a.Vans[0].Extras = []quote.AskedExtra{{Feature: "jacuzzi"}} }, "unknown_code vans/1/extras/1/feature"},
		"extra there already":    {func(a *quote.Asked) { a.Vans[0].Extras = []quote.AskedExtra{{Feature: "hob_two"}} }, "already_there vans/1/extras/1"},
		"extra twice": {func(a *quote.Asked) {
			a.Vans[0].Extras = []quote.AskedExtra{{Feature: "tow_bar"}, {Feature: "tow_bar"}}
		}, "given_twice vans/1/extras/2"},
		"51 extras": {func(a *quote.Asked) { a.Vans[0].Extras = make([]quote.AskedExtra, quote.MaxExtras+1) }, "too_many vans/1/extras"},
	} {
		t.Run(name, func(t *testing.T) {
			a := asked(t, "full-conversion-short-van")
			c.change(&a)
			_, faults, err := quote.Work(quotetest.Offer("2026-10"), a)
			if err != nil || len(faults) != 1 {
				t.Fatal(err, faults)
			}
			if f := faults[0]; f.Code+" "+f.At != c.want || f.Reason == "" || f.Remedy == "" {
				t.Errorf("%+v", f)
			}
		})
	}
	a := asked(t, "windows-only")
	many(&a, quote.MaxVans)
	if w := work(t, quotetest.Offer("2026-10"), a); !w.Ready() {
		t.Error("40 vans cannot be quoted for")
	}
}

func TestHeadIsWhole(t *testing.T) {
	w := work(t, quotetest.Offer("2026-10"), asked(t, "windows-only"))
	for name, change := range map[string]func(*quote.Worked, *quote.Head){
		"no id":                   func(_ *quote.Worked, h *quote.Head) { h.Quote = "" },
		"revision 0":              func(_ *quote.Worked, h *quote.Head) { h.Revision = 0 },
		"no day":                  func(_ *quote.Worked, h *quote.Head) { h.IssuedOn = "" },
		"ends before it begins":   func(_ *quote.Worked, h *quote.Head) { h.IssuedOn = "2026-12-24" },
		"valid until no day":      func(w *quote.Worked, _ *quote.Head) { w.Asked.Terms.ValidUntil = "Christmas" },
		"hash of other terms":     func(_ *quote.Worked, h *quote.Head) { h.Paper.TermsSHA256 = quote.SHA256(nil) },
		"reference does not hold": func(_ *quote.Worked, h *quote.Head) { h.Paper.Reference = "RF17539007547034" },
		"nothing worked out":      func(w *quote.Worked, _ *quote.Head) { *w = quote.Worked{} },
		"more asked than worked":  func(w *quote.Worked, _ *quote.Head) { w.Vans = nil },
	} {
		w, h := w, head(1)
		change(&w, &h)
		d, err := quote.Issue(w, h)
		var faults document.Faults
		if d != nil || !errors.As(err, &faults) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Vans of a hire fleet, worked out once for all that are alike, come to what
// each comes to by itself.
func TestFleet(t *testing.T) {
	o := quotetest.Offer("2026-10")
	fleet := asked(t, "dealer-own-heater", "dealer-own-heater", "dealer-own-heater", "dealer-own-heater", "windows-only", "dealer-own-heater")
	for i := range fleet.Vans {
		v := &fleet.Vans[i]
		v.Van = ""
		v.Facts.New, v.Facts.Year, v.Facts.MileageMiles = i%2 == 0, 2020+i, 1000*i
	}
	fleet.Vans[1].Choices.Features = append(slices.Clone(fleet.Vans[1].Choices.Features), bom.Choice{Want: "alarm"})
	fleet.Vans[3].Additions = slices.Clone(fleet.Vans[3].Additions)
	fleet.Vans[3].Additions[0].Price = number("90")
	fleet.Vans[4].Additions = nil
	kg := number("1100")
	fleet.Vans[5].Facts.WeighedFrontKG, fleet.Vans[5].Facts.WeighedRearKG = &kg, &kg
	fleet.Vans[5].Choices.Answers = append(slices.Clone(fleet.Vans[5].Choices.Answers),
		bom.CheckAnswer{Check: "payload_for_luggage", Kind: bom.GoingOn, Limit: number("40"), Says: "The dealer knows."},
		bom.CheckAnswer{Check: "rear_axle_with_luggage", Kind: bom.GoingOn, Limit: number("1780"), Says: "The dealer knows."})
	together := issue(t, o, fleet, 1)
	for i := range fleet.Vans {
		single := fleet
		single.Vans = fleet.Vans[i : i+1]
		want := issue(t, o, single, 1)
		got := *want
		got.Vans = together.Vans[i : i+1]
		if encoded(t, &got) != encoded(t, want) {
			t.Errorf("van %d comes to something else in the fleet", i+1)
		}
	}
	alike := asked(t, "windows-only")
	many(&alike, 3)
	off := pounds(t, "0.05")
	alike.Terms.DiscountAmount = &off
	w := work(t, o, alike)
	if w.Totals.Discount != off || w.Vans[0].Priced.Totals.Discount == w.Vans[2].Priced.Totals.Discount {
		t.Errorf("a discount that cannot be divided equally: %s", w.Totals.Discount)
	}
}
