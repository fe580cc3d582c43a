package quote

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// MaxExtras is how many extras one van may be offered.
const MaxExtras = 50

// What stands in the way of issuing beside what bom.Ready says.
const (
	PriceGap        bom.NotReadyCode = "price_gap"        // a price or cost is missing
	DiscountRefused bom.NotReadyCode = "discount_refused" // so the price is not the one asked for
	ExtraNotReady   bom.NotReadyCode = "extra_not_ready"  // ticking it would stop the van
)

// Work works out what is asked for: every van is resolved, expanded and
// priced, and the sums are made.
//
// A discount in money is of the whole quote; it is divided over the vans in
// the proportion of their totals before it, so that the parts add up to it.
//
// Faults are all that is wrong with what is asked: unknown codes, terms that
// are not for this price-book, an extra that does not fit. What the choices
// themselves come to, however incomplete, is in the result, with all that
// stands in the way of issuing in NotReady. An error means that the offer is
// broken, or that deciding took more work than the engine's budget.
func Work(o Offer, a Asked) (Worked, document.Faults, error) {
	w := &working{offer: &o, asked: &a}
	if !w.check() {
		return Worked{}, w.faults.Limit(), nil
	}
	w.out = Worked{Offer: o, Asked: a, Vans: make([]WorkedVan, len(a.Vans))}
	w.reckoned = make([]*bom.Reckoned, len(a.Vans))
	defer w.end()
	for _, step := range []func() error{w.resolve, w.price, w.extras} {
		if err := step(); err != nil {
			return Worked{}, nil, err
		}
		if len(w.faults) > 0 {
			return Worked{}, w.faults.Limit(), nil
		}
	}
	w.openFinishes()
	w.notReady()
	if err := w.sum(); err != nil {
		return Worked{}, nil, err
	}
	return w.out, nil, nil
}

// working is one Work in progress.
type working struct {
	offer  *Offer
	asked  *Asked
	out    Worked
	faults document.Faults
	// terms of each van, with its additions and its share of a discount.
	terms []pricing.Terms
	// unready of the extras, by van.
	unready [][]bom.NotReady
	// reckoned are the vans of which the numbers alone were worked out.
	reckoned []*bom.Reckoned
}

func (w *working) end() {
	for _, x := range w.reckoned {
		if x != nil {
			x.End()
		}
	}
}

func (w *working) fault(code, at, reason, remedy string) {
	w.faults = append(w.faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

// check looks at what is asked apart from the catalogue.
func (w *working) check() bool {
	a := w.asked
	switch {
	case len(a.Vans) == 0:
		w.fault("no_van", "vans", "The quote is for no van.", "Ask for at least one.")
	case len(a.Vans) > MaxVans:
		w.fault("too_many", "vans", fmt.Sprintf("The quote is for %d vans.", len(a.Vans)), fmt.Sprintf("At most %d; make a second quote for the rest.", MaxVans))
		return false
	}
	if len(a.Terms.Additions) > 0 {
		w.fault("belongs_elsewhere", "terms/additions", "Prices of additions stand beside all vans.", "Put them with the van they are of.")
	}
	if s := a.Terms.SlotWanted; s != "" && s != a.SlotWanted {
		w.fault("contradiction", "terms/slot_wanted", "The slot wanted is said twice, and differently.", "Say it once, for the whole quote.")
	}
	if a.SlotWanted != "" && !calendar.Valid(a.SlotWanted) {
		w.fault("day", "slot_wanted", fmt.Sprintf("%q is not a day.", a.SlotWanted), "Write it as year, month and day: 2027-01-11.")
	}
	for i := range a.Vans {
		v := &a.Vans[i]
		if v.Facts.Registration != "" || v.Facts.VIN != "" {
			w.fault("belongs_elsewhere", at(i, "facts"), "A registration or vehicle identification number is no part of a quote that is frozen.",
				"Keep them with the van, and name it by its id.")
		}
		if v.Van != "" && slices.ContainsFunc(a.Vans[:i], func(o AskedVan) bool { return o.Van == v.Van }) {
			w.fault("given_twice", at(i, "van"), "The same van is in the quote twice.", "Ask for all that is to be done to it in one place.")
		}
		if len(v.Extras) > MaxExtras {
			w.fault("too_many", at(i, "extras"), fmt.Sprintf("There are %d extras.", len(v.Extras)), fmt.Sprintf("At most %d.", MaxExtras))
		}
	}
	w.termsFaults(a.Terms.Validate(w.offer.Book), 0)
	return len(w.faults) == 0
}

// at is the path of something of a van.
func at(van int, of string) string {
	return document.Join("vans", van+1) + "/" + of
}

// termsFaults takes in faults of the terms as one van has them: its own
// additions, everything else of the whole quote.
func (w *working) termsFaults(faults document.Faults, van int) {
	for _, f := range faults {
		if strings.HasPrefix(f.At, "additions") {
			f.At = at(van, f.At)
		} else {
			f.At = "terms/" + f.At
		}
		if !slices.Contains(w.faults, f) {
			w.faults = append(w.faults, f)
		}
	}
}

// choiceFaults takes in faults of a van and its choices.
func (w *working) choiceFaults(faults document.Faults, van int) {
	for _, f := range faults {
		if rest, ok := strings.CutPrefix(f.At, "van"); ok && (rest == "" || rest[0] == '/') {
			f.At = "facts" + rest
		}
		f.At = at(van, f.At)
		w.faults = append(w.faults, f)
	}
}

// alike says whether what is asked for two vans comes to the same: the vans of
// a hire fleet mostly differ in year and mileage, on which nothing depends.
func (v *AskedVan) alike(o *AskedVan) bool {
	a, b := v.Facts, o.Facts
	for _, f := range []*bom.Van{&a, &b} {
		f.Year, f.MileageMiles = 0, 0
	}
	return v.Settle == o.Settle && reflect.DeepEqual(a, b) && reflect.DeepEqual(v.Choices, o.Choices)
}

// resolve settles what each van is to have, and expands it. What is worked out
// is only read, so vans that are alike share it.
func (w *working) resolve() error {
	for i := range w.asked.Vans {
		v, into := &w.asked.Vans[i], &w.out.Vans[i]
		if i > 0 && len(w.faults) == 0 && v.alike(&w.asked.Vans[i-1]) && (w.reckoned[i-1] == nil || w.numbersAlone(v)) {
			before := &w.out.Vans[i-1]
			into.Resolution, into.Sheet = before.Resolution, before.Sheet
			into.Resolution.Specification.Van = v.Facts
			into.Specification = into.Resolution.Specification
			w.reckoned[i] = w.reckoned[i-1]
			continue
		}
		if w.numbersAlone(v) {
			x, faults, err := bom.Reckon(w.offer.Release, v.Facts, v.Choices, v.Settle)
			if err != nil {
				return fmt.Errorf("van %d: %w", i+1, err)
			}
			w.choiceFaults(faults, i)
			if len(faults) > 0 {
				continue
			}
			if x != nil {
				into.Specification, into.Sheet, w.reckoned[i] = x.Specification, x.Sheet, x
				into.Resolution.Specification = x.Specification
				continue
			}
		}
		resolution, faults, err := bom.Specify(w.offer.Release, v.Facts, v.Choices, v.Settle)
		if err != nil {
			return fmt.Errorf("van %d: %w", i+1, err)
		}
		w.choiceFaults(faults, i)
		if len(w.faults) > 0 {
			continue // for the other vans' faults
		}
		into.Resolution = resolution
		into.Specification = resolution.Specification
		into.Sheet = bom.ExpandIn(w.offer.Room, w.offer.Release, into.Specification)
	}
	return nil
}

// numbersAlone says whether nobody will look at more of a van than its numbers.
func (w *working) numbersAlone(v *AskedVan) bool {
	return w.offer.NumbersAlone && len(v.Extras) == 0 && len(v.Additions) == 0 && w.offer.Held == nil
}

// price prices each van under its terms.
func (w *working) price() error {
	w.terms = make([]pricing.Terms, len(w.asked.Vans))
	for i := range w.terms {
		w.terms[i] = w.asked.Terms
		w.terms[i].Additions = w.asked.Vans[i].Additions
		w.terms[i].SlotWanted = w.asked.SlotWanted
		if most := w.asked.Vans[i].AtMost; most != nil {
			w.terms[i].Promise = &pricing.Promise{GrossAtMost: *most}
		}
	}
	if off := w.asked.Terms.DiscountAmount; off != nil && w.asked.sharesKept() {
		for i := range w.terms {
			w.terms[i].DiscountAmount = w.asked.Vans[i].DiscountShare
		}
	} else if off != nil && len(w.terms) > 1 {
		if err := w.divide(*off); err != nil || len(w.faults) > 0 {
			return err
		}
	}
	for i := range w.out.Vans {
		v := &w.out.Vans[i]
		if i > 0 && w.pricedAlike(i) {
			v.Priced = w.out.Vans[i-1].Priced
			continue
		}
		var err error
		if v.Priced, err = w.priced(i, v.Sheet, v.Specification); err != nil {
			return err
		}
	}
	return nil
}

// sharesKept says whether it was fixed on acceptance how a discount is divided.
func (a *Asked) sharesKept() bool {
	for i := range a.Vans {
		if a.Vans[i].DiscountShare == nil {
			return false
		}
	}
	return true
}

// pricedAlike says whether van i comes to the same price as the one before it.
func (w *working) pricedAlike(i int) bool {
	return w.asked.Vans[i].alike(&w.asked.Vans[i-1]) && reflect.DeepEqual(w.terms[i], w.terms[i-1]) &&
		w.held(i) == nil && w.held(i-1) == nil
}

// divide gives each van its share of a discount on the whole quote, by what
// each comes to before it.
func (w *working) divide(off money.Amount) error {
	weights := make([]int64, len(w.terms))
	for i := range w.terms {
		w.terms[i].DiscountAmount = nil
		if i > 0 && w.pricedAlike(i) {
			weights[i] = weights[i-1]
			continue
		}
		v := &w.out.Vans[i]
		p, err := w.priced(i, v.Sheet, v.Specification)
		if err != nil || len(w.faults) > 0 {
			return err
		}
		weights[i] = max(0, p.Totals.BeforeDiscount.Minor())
	}
	shares, err := money.AllocateMinor(nil, off.Minor(), weights)
	if err != nil {
		return fmt.Errorf("dividing the discount: %w", err)
	}
	for i, s := range shares {
		share, err := off.WithMinor(s)
		if err != nil {
			return fmt.Errorf("dividing the discount: %w", err)
		}
		w.terms[i].DiscountAmount = &share
	}
	return nil
}

// priced prices a specification of van i; faults are taken in.
func (w *working) priced(i int, sheet bom.Sheet, spec bom.Specification) (pricing.Priced, error) {
	var p pricing.Priced
	var err error
	if x := w.reckoned[i]; x != nil {
		p, err = pricing.PriceReckoned(x, w.offer.Book, w.terms[i])
	} else {
		p, err = pricing.PriceHeld(sheet, spec, w.offer.Book, w.terms[i], w.held(i))
	}
	if faults, ok := errors.AsType[document.Faults](err); ok {
		w.termsFaults(faults, i)
		return p, nil
	}
	if err != nil {
		return p, fmt.Errorf("van %d: %w", i+1, err)
	}
	return p, nil
}

// held is what an earlier revision offered for van i, while it holds: the same
// van by its id, or one without an id at the same place.
func (w *working) held(i int) *pricing.Held {
	d := w.offer.Held
	if !w.offer.holds(w.asked) {
		return nil
	}
	k := i
	if id := w.asked.Vans[i].Van; id != "" {
		k = slices.IndexFunc(d.Asked.Vans, func(v AskedVan) bool { return v.Van == id })
	} else if i < len(d.Asked.Vans) && d.Asked.Vans[i].Van != "" {
		k = -1
	}
	if k < 0 || k >= len(d.Vans) {
		return nil
	}
	v := &d.Vans[k]
	return &pricing.Held{Specification: &v.Specification, Priced: &v.Priced, Editions: w.offer.HeldBooks}
}

// holds says whether an earlier revision's prices still hold.
func (o *Offer) holds(a *Asked) bool {
	return o.Held != nil && a.Terms.Day <= o.Held.ValidUntil
}

// notReady gathers what stands in the way of issuing each van.
func (w *working) notReady() {
	for i := range w.out.Vans {
		v := &w.out.Vans[i]
		v.NotReady = append(bom.Ready(w.offer.Release, v.Specification, v.Sheet), priceNotReady(&v.Priced)...)
		v.NotReady = append(v.NotReady, w.unready[i]...)
	}
}

// priceNotReady is what a price has against being issued. A finish still to
// choose is not: there is no surcharge for it so far, and it says so.
func priceNotReady(p *pricing.Priced) []bom.NotReady {
	var list []bom.NotReady
	for _, g := range p.Gaps {
		if g.Code != pricing.FinishOpen {
			list = append(list, bom.NotReady{Code: PriceGap, About: g.At, Says: g.Says})
		}
	}
	if p.Refusal != nil {
		// Why, and how much would be given, is in the price, for those who may
		// see it.
		list = append(list, bom.NotReady{Code: DiscountRefused, Says: "The discount asked for cannot be given."})
	}
	return list
}

// sum adds the vans up.
func (w *working) sum() error {
	first := &w.out.Vans[0].Priced
	w.out.Totals = first.Totals
	w.out.Payments = slices.Clone(first.Payments)
	for i := 1; i < len(w.out.Vans); i++ {
		p := &w.out.Vans[i].Priced
		t, u := &w.out.Totals, &p.Totals
		for _, s := range []struct {
			into *money.Amount
			more money.Amount
		}{{&t.BeforeDiscount, u.BeforeDiscount}, {&t.Discount, u.Discount}, {&t.Net, u.Net}, {&t.VAT, u.VAT}, {&t.Gross, u.Gross}} {
			sum, err := s.into.Add(s.more)
			if err != nil {
				return fmt.Errorf("adding the vans up: %w", err)
			}
			*s.into = sum
		}
		for k := range p.Payments {
			step := &w.out.Payments[k]
			sum, err := step.Amount.Add(p.Payments[k].Amount)
			if err != nil {
				return fmt.Errorf("adding the vans up: %w", err)
			}
			step.Amount, step.Cut = sum, step.Cut || p.Payments[k].Cut
		}
	}
	return nil
}
