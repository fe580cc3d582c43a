package quote_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// written is a comparison for reading, and under it its figures.
func written(c quote.Comparison) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "Revision %d, compared with revision %d\n\n%s\n", c.To, c.From, c.Text())
	for _, s := range c.Sentences {
		fmt.Fprintf(&b, "van %d, %s %s", s.Van, s.About, s.Code)
		if s.Before != nil {
			fmt.Fprintf(&b, ": %s, %s, %s", s.Before.Fixed(), s.After.Fixed(), s.Difference.Fixed())
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// want adds or changes wanted features.
func want(v *quote.AskedVan, codes ...string) {
	for _, c := range codes {
		v.Choices.Features = append(v.Choices.Features, bom.Choice{Want: c})
	}
}

func drop(v *quote.AskedVan, codes ...string) {
	v.Choices.Features = slices.DeleteFunc(v.Choices.Features, func(c bom.Choice) bool { return slices.Contains(codes, c.Want) })
}

func number2(v *quote.AskedVan, code string, n int) {
	for i := range v.Choices.Features {
		if v.Choices.Features[i].Want == code {
			v.Choices.Features[i].Count = n
		}
	}
}

// Stories that happen, each as it is told.
func TestCompare(t *testing.T) {
	o := quotetest.Offer("2026-10")
	base := asked(t, "full-conversion-short-van")
	for name, change := range map[string]func(*quote.Asked){
		"one-thing-added":     func(a *quote.Asked) { want(&a.Vans[0], "tow_electrics") },
		"one-thing-taken-out": func(a *quote.Asked) { drop(&a.Vans[0], "oven") },
		"two-things-changed": func(a *quote.Asked) {
			want(&a.Vans[0], "alarm", "tow_electrics")
			number2(&a.Vans[0], "lights_ceiling", 4)
			a.Vans[0].Choices.Finishes[0].Choice = "oatmeal"
		},
		"one-thing-for-another": func(a *quote.Asked) {
			drop(&a.Vans[0], "heater_diesel", "step_insert")
			want(&a.Vans[0], "step_sliding")
		},
		"terms": func(a *quote.Asked) {
			percent := number("2.5")
			a.Terms.DiscountPercent, a.Terms.ValidUntil = &percent, "2027-01-15"
			a.SlotWanted = "2027-03-01"
		},
		"without-vat": func(a *quote.Asked) { a.Terms.Basis = pricing.Net },
		"two-more-vans": func(a *quote.Asked) {
			a.Vans = append(a.Vans, quotetest.Van("windows-only"), quotetest.Van("roof-only"))
			number2(&a.Vans[0], "sockets_usb", 4)
		},
		"extras-offered": func(a *quote.Asked) {
			a.Vans[0].Extras = []quote.AskedExtra{{Feature: "tow_electrics"}, {Feature: "alarm"}}
		},
		"additions": func(a *quote.Asked) {
			a.Vans[0].Choices.Additions = []bom.Addition{
				{Code: "bike_hooks", Kind: bom.OneOff, Words: "Two hooks for bicycles, behind the bench", Stage: "furniture", MassKG: number("1.2"),
					Hours: []bom.AdditionHours{{Trade: "joiner", Hours: number("0.5")}}},
				{Code: "own_awning", Kind: bom.CustomersOwn, Words: "Awning light the customer brings", Stage: "furniture", MassKG: number("0.8"), DueBy: "2027-01-08"},
			}
			cost := number("18")
			a.Vans[0].Additions = []pricing.AdditionPrice{{Code: "bike_hooks", Price: number("65"), Cost: &cost}, {Code: "own_awning", Price: number("40")}}
		},
	} {
		t.Run(name, func(t *testing.T) {
			a := copied(base)
			change(&a)
			earlier, later := issue(t, o, base, 1), issue(t, o, a, 2)
			c := quote.Compare(earlier, later, o.Release.Catalogue())
			golden(t, "compare-"+name+".txt", written(c))
			addsUp(t, earlier, later, c)
			back := quote.Compare(later, earlier, o.Release.Catalogue())
			addsUp(t, later, earlier, back)
			addsUp(t, earlier, later, quote.Compare(earlier, later, nil))
		})
	}
}

// Other prices for what nobody touched, and prices that hold.
func TestCompareEditions(t *testing.T) {
	old, now := quotetest.Offer("2026-07"), quotetest.Offer("2026-10")
	a := asked(t, "full-conversion-short-van")
	a.Terms.Day = "2026-09-01"
	earlier := issue(t, old, a, 1)
	b := copied(a)
	b.Terms.Day = "2026-11-25"
	want(&b.Vans[0], "alarm")
	later := issue(t, now, b, 2)
	c := quote.Compare(earlier, later, now.Release.Catalogue())
	golden(t, "compare-another-edition.txt", written(c))
	addsUp(t, earlier, later, c)

	now.Held, now.HeldBooks = earlier, append(now.HeldBooks, old.Book)
	held := issue(t, now, b, 2)
	c = quote.Compare(earlier, held, now.Release.Catalogue())
	golden(t, "compare-prices-held.txt", written(c))
	addsUp(t, earlier, held, c)
	if r, err := quote.Recompute(now, held); err != nil || !r.Same {
		t.Errorf("what is held is not worked out again the same: %v %+v", err, r.Differences)
	}
}

func TestComparePackages(t *testing.T) {
	o := quotetest.Offer("2026-10")
	single, touring, overnighter := asked(t, "full-conversion-short-van"), asked(t, "package-touring"), asked(t, "package-overnighter")
	touring.Vans[0].Van, overnighter.Vans[0].Van = single.Vans[0].Van, single.Vans[0].Van
	for name, pair := range map[string][2]quote.Asked{
		"package-taken": {single, touring}, "package-given-up": {touring, single}, "package-for-another": {overnighter, touring},
	} {
		earlier, later := issue(t, o, pair[0], 1), issue(t, o, pair[1], 2)
		c := quote.Compare(earlier, later, o.Release.Catalogue())
		golden(t, "compare-"+name+".txt", written(c))
		addsUp(t, earlier, later, c)
	}
}

// Where there are several vans it is said of which something is told.
func TestCompareOneOfTwoVans(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "windows-only", "roof-only")
	earlier := issue(t, o, a, 1)
	b := copied(a)
	drop(&b.Vans[0], "privacy_film")
	later := issue(t, o, b, 2)
	c := quote.Compare(earlier, later, o.Release.Catalogue())
	golden(t, "compare-one-of-two-vans.txt", written(c))
	addsUp(t, earlier, later, c)
	gone := issue(t, o, quote.Asked{Terms: b.Terms, Vans: b.Vans[1:]}, 3)
	c = quote.Compare(later, gone, o.Release.Catalogue())
	golden(t, "compare-van-gone.txt", written(c))
	addsUp(t, later, gone, c)
}

// Three prices that changed by themselves are told one by one, four as one.
func TestManyPricesAreToldAsOne(t *testing.T) {
	o := quotetest.Offer("2026-10")
	for n, sentences := range map[int]int{1: 1, 3: 3, 4: 1, 7: 1} {
		earlier := issue(t, o, asked(t, "windows-only"), 1)
		later := issue(t, o, asked(t, "windows-only"), 2)
		dearer := int64(0)
		for i := range later.Vans[0].Priced.Lines {
			l := &later.Vans[0].Priced.Lines[i]
			if dearer == int64(n) || l.Kind != pricing.FeatureLine {
				continue
			}
			dearer++
			var err error
			if l.Amount, err = l.Amount.WithMinor(l.Amount.Minor() + 100); err != nil {
				t.Fatal(err)
			}
		}
		var err error
		if later.Totals.Gross, err = earlier.Totals.Gross.WithMinor(earlier.Totals.Gross.Minor() + 100*dearer); err != nil || dearer != int64(n) {
			t.Fatal(err, dearer)
		}
		c := quote.Compare(earlier, later, nil)
		addsUp(t, earlier, later, c)
		got := 0
		for _, s := range c.Sentences {
			if s.About == quote.AboutPrice {
				got++
			}
		}
		if got != sentences {
			t.Errorf("%d prices are told in %d sentences:\n%s", n, got, c.Text())
		}
	}
}

// What the van has is kept, taken out or replaced otherwise than before.
func TestCompareFitted(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "second-owner-refit")
	earlier := issue(t, o, a, 1)
	b := copied(a)
	v := &b.Vans[0]
	v.Facts.Fitted = slices.Clone(v.Facts.Fitted)
	for i := range v.Facts.Fitted {
		switch f := &v.Facts.Fitted[i]; f.Feature {
		case "battery_gel":
			f.Action = bom.Keep
		case "win_near_fixed":
			f.Action = bom.Replace
		}
	}
	later := issue(t, o, b, 2)
	c := quote.Compare(earlier, later, o.Release.Catalogue())
	golden(t, "compare-fitted.txt", written(c))
	addsUp(t, earlier, later, c)
}

// An extra that was ticked is told as added.
func TestCompareTicked(t *testing.T) {
	o, a := quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van")
	a.Vans[0].Extras = []quote.AskedExtra{{Feature: "tow_electrics"}, {Feature: "cycle_carrier"}}
	d := issue(t, o, a, 1)
	agreed, faults, err := quote.Accept(o, d, yes(d, quote.Tick{Van: 1, Feature: "tow_electrics"}), quote.Private)
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	c := quote.Compare(d, agreed, o.Release.Catalogue())
	golden(t, "compare-extra-ticked.txt", written(c))
	addsUp(t, d, agreed, c)
}

// addsUp: the differences told make up the difference of the whole.
func addsUp(tb fatal, earlier, later *quote.Document, c quote.Comparison) {
	tb.Helper()
	sum := int64(0)
	for _, s := range c.Sentences {
		if s.Says == "" || (s.Before == nil) != (s.Difference == nil) {
			tb.Fatalf("half a sentence: %+v", s)
		}
		if s.Difference != nil && s.About != quote.AboutTotal && s.About != quote.AboutDeposit {
			sum += s.Difference.Minor()
		}
	}
	whole := later.Totals.Gross.Minor() - earlier.Totals.Gross.Minor()
	if later.Asked.Terms.Basis == pricing.Net && earlier.Asked.Terms.Basis == pricing.Net {
		whole = later.Totals.Net.Minor() - earlier.Totals.Net.Minor()
	}
	if sum != whole {
		tb.Fatalf("what is told adds up to %d, the price changes by %d:\n%s", sum, whole, written(c))
	}
}

func TestTwoCurrenciesAreNotCompared(t *testing.T) {
	earlier := issue(t, quotetest.Offer("2026-10"), asked(t, "windows-only"), 1)
	later, err := quote.Decode([]byte(strings.ReplaceAll(encoded(t, earlier), `"GBP"`, `"EUR"`)))
	if err != nil {
		t.Fatal(err)
	}
	c := quote.Compare(earlier, later, nil)
	if len(c.Sentences) != 1 || c.Text() != "It now comes to €2,675.04; before it was £2,675.04. Two currencies are not compared.\n" {
		t.Error(c.Text())
	}
}

func TestNothingHasChanged(t *testing.T) {
	d := issue(t, quotetest.Offer("2026-10"), asked(t, "full-conversion-short-van", "windows-only"), 1)
	c := quote.Compare(d, d, nil)
	if len(c.Sentences) != 1 || c.Sentences[0].About != quote.AboutNothing || c.Text() != "Nothing has changed.\n" {
		t.Errorf("%+v", c.Sentences)
	}
}

// TestCompareTicketAndPlate: what a van weighs and may weigh by its papers is
// told where it is other.
func TestCompareTicketAndPlate(t *testing.T) {
	ninety, half := 90, 50
	ticket := func(v *bom.Van) {
		front, rear := number("1105"), number("870")
		v.WeighedFrontKG, v.WeighedRearKG = &front, &rear
	}
	plate := func(kg string) func(*bom.Van) {
		return func(v *bom.Van) {
			d := number(kg)
			v.PlatedRearKG = &d
		}
	}
	for name, c := range map[string]struct {
		was, is func(*bom.Van)
		says    string
	}{
		"weighed":         {func(*bom.Van) {}, ticket, "The van has been weighed."},
		"not any more":    {ticket, func(*bom.Van) {}, "What the van weighs is reckoned again, and not from a weighbridge ticket."},
		"the same ticket": {ticket, func(v *bom.Van) { ticket(v); v.WeighedFuelPercent = &ninety }, ""},
		"less fuel":       {ticket, func(v *bom.Van) { ticket(v); v.WeighedFuelPercent = &half }, "The van has been weighed anew, or the ticket was read again."},
		"somebody aboard": {ticket, func(v *bom.Van) { ticket(v); v.WeighedPeopleCount = 1 }, "The van has been weighed anew, or the ticket was read again."},
		"a plate":         {func(*bom.Van) {}, plate("1750"), "By its plate, the rear axle may weigh 1750 kg."},
		"another plate":   {plate("1750"), plate("1800"), "By its plate, the rear axle may weigh 1800 kg."},
		"the same plate":  {plate("1750"), plate("1750.0"), ""},
		"no plate":        {plate("1750"), func(*bom.Van) {}, "The plated mass of the rear axle is taken from the base van again, not from this van's plate."},
	} {
		t.Run(name, func(t *testing.T) {
			with := func(say func(*bom.Van)) *quote.Document {
				d := &quote.Document{Vans: make([]quote.Van, 1), Asked: quote.Asked{Vans: make([]quote.AskedVan, 1)}}
				d.Vans[0].Priced.Currency = "GBP"
				say(&d.Vans[0].Specification.Van)
				return d
			}
			var told []string
			for _, s := range quote.Compare(with(c.was), with(c.is), nil).Sentences {
				if s.About == quote.AboutVan {
					told = append(told, s.Says)
				}
			}
			if got := strings.Join(told, " "); got != c.says {
				t.Errorf("told %q, want %q", got, c.says)
			}
		})
	}
}
