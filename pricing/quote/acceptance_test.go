package quote_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"wainscot/bom"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

func yes(d *quote.Document, ticks ...quote.Tick) quote.Acceptance {
	return quote.Acceptance{Revision: d.Revision, On: "2026-11-30", At: time.Date(2026, 11, 30, 10, 5, 0, 0, time.UTC),
		How: quote.AtCounter, Place: quote.OnPremises, TermsSHA256: d.Paper.TermsSHA256, Ticked: ticks}
}

func TestAcceptanceIsChecked(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "tow_bar"}}
	d := issue(t, o, a, 2)
	for name, c := range map[string]struct {
		change func(*quote.Acceptance)
		kind   quote.CustomerKind
		want   string
	}{
		"good":                   {func(*quote.Acceptance) {}, quote.Private, ""},
		"on the last day":        {func(a *quote.Acceptance) { a.On = "2026-12-23" }, quote.Trade, ""},
		"on the first day":       {func(a *quote.Acceptance) { a.On = "2026-11-25" }, quote.Trade, ""},
		"a day late":             {func(a *quote.Acceptance) { a.On = "2026-12-24" }, quote.Private, "lapsed on"},
		"a day early":            {func(a *quote.Acceptance) { a.On = "2026-11-24" }, quote.Private, "too_early on"},
		"no day":                 {func(a *quote.Acceptance) { a.On = "" }, quote.Private, "day on"},
		"other revision":         {func(a *quote.Acceptance) { a.Revision = 1 }, quote.Private, "other_revision revision"},
		"other terms":            {func(a *quote.Acceptance) { a.TermsSHA256 = quote.SHA256(nil) }, quote.Private, "other_terms terms_sha256"},
		"no way":                 {func(a *quote.Acceptance) { a.How = "shout" }, quote.Private, "unknown_word how"},
		"no place":               {func(a *quote.Acceptance) { a.Place = "" }, quote.Private, "unknown_word place"},
		"link at the counter":    {func(a *quote.Acceptance) { a.How = quote.ByLink }, quote.Private, "contradiction place"},
		"no kind":                {func(*quote.Acceptance) {}, "", "unknown_word customer"},
		"tick of no van":         {func(a *quote.Acceptance) { a.Ticked = []quote.Tick{{Van: 2, Feature: "tow_bar"}} }, quote.Private, "no_van extras/1/van"},
		"tick of van 0":          {func(a *quote.Acceptance) { a.Ticked = []quote.Tick{{Feature: "tow_bar"}} }, quote.Private, "no_van extras/1/van"},
		"tick not offered":       {func(a *quote.Acceptance) { a.Ticked = []quote.Tick{{Van: 1, Feature: "alarm"}} }, quote.Private, "not_offered extras/1/feature"},
		"tick twice":             {func(a *quote.Acceptance) { a.Ticked = []quote.Tick{{1, "tow_bar"}, {1, "tow_bar"}} }, quote.Private, "given_twice extras/2"},
		"request too long":       {func(a *quote.Acceptance) { a.ExpressRequest = strings.Repeat("é", 401) }, quote.Private, "too_long express_request"},
		"request at its longest": {func(a *quote.Acceptance) { a.ExpressRequest = strings.Repeat("é", 400) }, quote.Private, ""},
		"request not text":       {func(a *quote.Acceptance) { a.ExpressRequest = "begin\x00now" }, quote.Private, "bad_text express_request"},
	} {
		t.Run(name, func(t *testing.T) {
			given := yes(d)
			c.change(&given)
			faults := given.Check(d, c.kind)
			got := ""
			for _, f := range faults {
				got += f.Code + " " + f.At
			}
			if got != c.want {
				t.Errorf("%q: %v", got, faults)
			}
			if _, refused, err := quote.Accept(o, d, given, c.kind); err != nil || len(refused) != len(faults) {
				t.Errorf("accepting says %v, %v", refused, err)
			}
		})
	}
}

// With nothing ticked the document agreed is the one issued, to the byte.
func TestAcceptingWithoutTicksChangesNothing(t *testing.T) {
	o := quotetest.Offer("2026-10")
	d := issue(t, o, asked(t, "full-conversion-short-van"), 1)
	before := encoded(t, d)
	agreed, faults, err := quote.Accept(o, d, yes(d), quote.Private)
	if err != nil || len(faults) > 0 || encoded(t, agreed) != before {
		t.Error(err, faults)
	}
}

func TestTickedExtrasCostWhatTheyWereOfferedAt(t *testing.T) {
	o := quotetest.Offer("2026-10")
	a := asked(t, "full-conversion-short-van", "windows-only")
	off := pounds(t, "250.00")
	a.Terms.DiscountAmount = &off
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "tow_electrics"}, {Feature: "cycle_carrier"}, {Feature: "alarm"}}
	d := issue(t, o, a, 1)
	if len(d.Vans[0].Extras) != 3 || len(d.Vans[0].Extras[0].Brings) == 0 {
		t.Fatalf("offered: %+v", d.Vans[0].Extras)
	}
	for _, ticks := range [][]quote.Tick{{{1, "alarm"}}, {{1, "tow_electrics"}, {1, "alarm"}}, {{1, "tow_electrics"}, {1, "cycle_carrier"}, {1, "alarm"}}} {
		agreed, faults, err := quote.Accept(o, d, yes(d, ticks...), quote.Private)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		most := d.Totals.Gross
		for _, tick := range ticks {
			for _, e := range d.Vans[0].Extras {
				if e.Code == tick.Feature {
					if most, err = most.Add(e.Gross); err != nil {
						t.Fatal(err)
					}
				}
			}
			found := false
			for _, f := range agreed.Vans[0].Specification.Features {
				found = found || f.Code == tick.Feature
			}
			if !found {
				t.Errorf("%s was ticked and is not there", tick.Feature)
			}
		}
		if agreed.Totals.Gross.Minor() > most.Minor() {
			t.Errorf("%v come to %s, offered at %s", ticks, agreed.Totals.Gross, most)
		}
		if len(ticks) == 1 && agreed.Totals.Gross != most {
			t.Errorf("one extra comes to %s, offered at %s", agreed.Totals.Gross, most)
		}
		if agreed.Revision != 2 || agreed.IssuedOn != "2026-11-30" || agreed.Vans[1].Priced.Totals != d.Vans[1].Priced.Totals ||
			len(agreed.Vans[0].Extras) > 0 || len(agreed.Asked.Vans[0].Ticked) != len(ticks) {
			t.Errorf("revision %d of %s, other van %+v", agreed.Revision, agreed.IssuedOn, agreed.Vans[1].Priced.Totals)
		}
		r, err := quote.Recompute(o, agreed)
		if err != nil || !r.Same {
			t.Errorf("what is agreed is not worked out again the same: %v %+v", err, r)
		}
	}
}

// An extra that both vans were offered is taken for the one it is ticked for,
// in the number it was offered in.
func TestTickIsOfOneVan(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van", "full-conversion-short-van")
	for i := range a.Vans {
		a.Vans[i].Van = []string{"one", "two"}[i]
		a.Vans[i].Extras = []quote.AskedExtra{{Feature: "lights_ceiling", Count: 8}}
	}
	d := issue(t, o, a, 1)
	counts := func(d *quote.Document) (list []int) {
		for _, v := range d.Vans {
			for _, f := range v.Specification.Features {
				if f.Code == "lights_ceiling" {
					list = append(list, f.Count)
				}
			}
		}
		return list
	}
	before := counts(d)
	if len(before) != 2 || slices.Contains(before, 8) {
		t.Fatalf("the vans have %v lights", before)
	}
	for i := range d.Vans {
		agreed, faults, err := quote.Accept(o, d, yes(d, quote.Tick{Van: i + 1, Feature: "lights_ceiling"}), quote.Private)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		want := slices.Clone(before)
		want[i] = 8
		if after := counts(agreed); !slices.Equal(after, want) || agreed.Vans[1-i].Priced.Totals != d.Vans[1-i].Priced.Totals {
			t.Errorf("ticked for van %d, the vans had %v lights and have %v", i+1, before, after)
		}
	}
}

// What is ticked is worked out with the very release, edition and held prices
// of the offer, or not at all.
func TestTickedWithWhatItWasOfferedWith(t *testing.T) {
	old, o := quotetest.Offer("2026-07"), quotetest.Offer("2026-10")
	a := asked(t, "full-conversion-short-van")
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "alarm"}}
	b := copied(a)
	b.Terms.Day, b.Terms.ValidUntil = "2026-09-01", "2026-11-25"
	first := issue(t, old, b, 1)
	plain := issue(t, o, a, 2)
	holding := o
	holding.Held, holding.HeldBooks = first, append(slices.Clone(o.HeldBooks), old.Book)
	held := issue(t, holding, a, 2)
	if plain.HeldRevision != 0 || held.HeldRevision != 1 {
		t.Fatalf("held are revisions %d and %d", plain.HeldRevision, held.HeldRevision)
	}
	with := func(o quote.Offer, change func(*quote.Offer)) quote.Offer {
		change(&o)
		return o
	}
	otherHeld := func(change func(*quote.Document)) quote.Offer {
		d := *first
		change(&d)
		return with(holding, func(o *quote.Offer) { o.Held = &d })
	}
	for name, c := range map[string]struct {
		offer quote.Offer
		d     *quote.Document
		want  error
	}{
		"as it was":               {o, plain, nil},
		"as it was, with held":    {holding, held, nil},
		"another edition":         {old, plain, quote.ErrOtherOffer},
		"another release":         {with(o, func(o *quote.Offer) { o.Release = retitled(t, o.Release) }), plain, quote.ErrOtherOffer},
		"without what it holds":   {o, held, quote.ErrOtherOffer},
		"another revision's":      {otherHeld(func(d *quote.Document) { d.Revision = 3 }), held, quote.ErrOtherOffer},
		"another quote's":         {otherHeld(func(d *quote.Document) { d.Quote = "quote-2" }), held, quote.ErrOtherOffer},
		"nothing ticked, another": {old, held, nil},
	} {
		given := yes(c.d, quote.Tick{Van: 1, Feature: "alarm"})
		given.On = "2026-11-25"
		if strings.HasPrefix(name, "nothing ticked") {
			given.Ticked = nil
		}
		if _, faults, err := quote.Accept(c.offer, c.d, given, quote.Private); !errors.Is(err, c.want) || len(faults) > 0 {
			t.Errorf("%s: %v %v", name, err, faults)
		}
	}
}

// retitled is a release of the same under another title.
func retitled(t *testing.T, r *bom.Release) *bom.Release {
	t.Helper()
	c := *r.Catalogue()
	c.Title = "Another catalogue"
	again, faults := bom.Compile(&c)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return again
}

func TestExtrasThatDoNotGoTogether(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "awning_rail"}, {Feature: "awning_wind_out"}}
	d := issue(t, o, a, 1)
	_, faults, err := quote.Accept(o, d, yes(d, quote.Tick{Van: 1, Feature: "awning_rail"}, quote.Tick{Van: 1, Feature: "awning_wind_out"}), quote.Private)
	if err != nil || len(faults) != 1 || faults[0].Code != "do_not_go_together" || faults[0].At != "extras/1" {
		t.Error(err, faults)
	}
}

// S.I. 2013/3134: the day itself is not counted; services, 14 days. Advisers'
// worked examples say the same: made on 1 June, until the end of 15 June.
func TestCancellationRight(t *testing.T) {
	rules := append(quote.DefaultCancellationRules(), quote.CancellationRule{Country: "XX", From: "2020-01-01", Cites: "that there is none"},
		quote.CancellationRule{Country: "GB", From: "2030-01-01", Days: 30, Cites: "a setting of the future"})
	backwards := slices.Clone(rules)
	slices.Reverse(backwards)
	sale := quote.Sale{Country: "GB", Kind: quote.Private, Place: quote.AwayFromPremises, On: "2026-06-01"}
	for name, c := range map[string]struct {
		change func(*quote.Sale)
		want   quote.Cancellation // but its words
	}{
		"away":     {func(*quote.Sale) {}, quote.Cancellation{Applies: true, LastDay: "2026-06-15", WorkFrom: "2026-06-16"}},
		"distance": {func(s *quote.Sale) { s.Place = quote.AtDistance }, quote.Cancellation{Applies: true, LastDay: "2026-06-15", WorkFrom: "2026-06-16"}},
		"asked expressly": {func(s *quote.Sale) { s.ExpressRequest = true },
			quote.Cancellation{Applies: true, LastDay: "2026-06-15", WorkFrom: "2026-06-01", WorkBeforeLastDay: true}},
		"over the year's end":      {func(s *quote.Sale) { s.On = "2026-12-20" }, quote.Cancellation{Applies: true, LastDay: "2027-01-03", WorkFrom: "2027-01-04"}},
		"only offered":             {func(s *quote.Sale) { s.Offered = true }, quote.Cancellation{Applies: true}},
		"asked while only offered": {func(s *quote.Sale) { s.Offered, s.ExpressRequest = true, true }, quote.Cancellation{Applies: true, WorkBeforeLastDay: true}},
		"on the premises":          {func(s *quote.Sale) { s.Place = quote.OnPremises }, quote.Cancellation{WorkFrom: "2026-06-01"}},
		"trade":                    {func(s *quote.Sale) { s.Kind = quote.Trade }, quote.Cancellation{WorkFrom: "2026-06-01"}},
		"before the rule":          {func(s *quote.Sale) { s.On = "2014-06-12" }, quote.Cancellation{WorkFrom: "2014-06-12"}},
		"on its first day":         {func(s *quote.Sale) { s.On = "2014-06-13" }, quote.Cancellation{Applies: true, LastDay: "2014-06-27", WorkFrom: "2014-06-28"}},
		"under a later rule":       {func(s *quote.Sale) { s.On = "2030-01-01" }, quote.Cancellation{Applies: true, LastDay: "2030-01-31", WorkFrom: "2030-02-01"}},
		"no rule":                  {func(s *quote.Sale) { s.Country = "ZZ" }, quote.Cancellation{WorkFrom: "2026-06-01"}},
		"rule without right":       {func(s *quote.Sale) { s.Country = "xx" }, quote.Cancellation{WorkFrom: "2026-06-01"}},
	} {
		s := sale
		c.change(&s)
		got := quote.CancellationRight(rules, s)
		if cited := got.Applies || name == "rule without right"; !strings.Contains(got.Says, "take legal advice") || cited != (got.Cites != "") {
			t.Errorf("%s: %+v", name, got)
		}
		if other := quote.CancellationRight(backwards, s); other != got {
			t.Errorf("%s: with the rules in another order %+v", name, other)
		}
		if strings.Contains(got.Says, "expressly asked") != got.WorkBeforeLastDay {
			t.Errorf("%s: %s", name, got.Says)
		}
		got.Says, got.Cites = "", ""
		if got != c.want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestReservation(t *testing.T) {
	reference, err := quote.Reference(17, 0)
	if err != nil {
		t.Fatal(err)
	}
	good := quote.Reservation{Deposit: pounds(t, "250.00"), AgreeBy: "2026-12-31", SlotWanted: "2027-02-01", State: quote.Held, Reference: reference}
	for name, c := range map[string]struct {
		change func(*quote.Reservation)
		want   string
	}{
		"good":              {func(*quote.Reservation) {}, ""},
		"no slot":           {func(r *quote.Reservation) { r.SlotWanted = "" }, ""},
		"agreed today":      {func(r *quote.Reservation) { r.AgreeBy = "2026-11-25" }, ""},
		"agreed yesterday":  {func(r *quote.Reservation) { r.AgreeBy = "2026-11-24" }, "contradiction agree_by"},
		"no day":            {func(r *quote.Reservation) { r.AgreeBy = "x" }, "day agree_by"},
		"slot before":       {func(r *quote.Reservation) { r.SlotWanted = "2026-12-30" }, "contradiction slot_wanted"},
		"nothing":           {func(r *quote.Reservation) { r.Deposit = pounds(t, "0") }, "amount deposit/amount"},
		"no money":          {func(r *quote.Reservation) { r.Deposit = quote.Reservation{}.Deposit }, "currency deposit/currency"},
		"no state":          {func(r *quote.Reservation) { r.State = "" }, "unknown_word state"},
		"reference of none": {func(r *quote.Reservation) { r.Reference = "RF17539007547034" }, "does_not_hold reference"},
	} {
		r := good
		c.change(&r)
		got := ""
		for _, f := range r.Check("2026-11-25", "GBP") {
			got += f.Code + " " + f.At
		}
		if got != c.want {
			t.Errorf("%s: %q", name, got)
		}
	}
	if good.Overdue("2026-12-31") || !good.Overdue("2027-01-01") {
		t.Error("it is overdue from the day after")
	}
	taken := good
	taken.State = quote.TakenUp
	if taken.Overdue("2027-01-01") || !quote.Held.MayBecome(quote.Released) || !quote.Held.MayBecome(quote.TakenUp) ||
		quote.TakenUp.MayBecome(quote.Released) || quote.Released.MayBecome(quote.Held) || quote.Held.MayBecome(quote.Held) {
		t.Error("what may follow what")
	}
}

func TestLapsed(t *testing.T) {
	for today, want := range map[string]bool{"2026-12-22": false, "2026-12-23": false, "2026-12-24": true, "2027-01-01": true} {
		if quote.Lapsed("2026-12-23", today) != want {
			t.Errorf("on %s", today)
		}
	}
}
