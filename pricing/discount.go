package pricing

import (
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// discount takes off what was asked for, as one line for each VAT treatment,
// or refuses it and says how much would be given.
func (w *work) discount() {
	for i := range w.lines {
		l := &w.lines[i]
		w.rows[l.treatment].lines++
		w.rows[l.treatment].amount = w.add(w.rows[l.treatment].amount, l.amount)
	}
	total := int64(0)
	for t := range w.rows {
		total = w.add(total, w.rows[t].amount)
	}
	w.out.Totals.BeforeDiscount = w.amount(total)
	w.out.Totals.Discount = w.amount(0)
	words, asked := "Discount", int64(0)
	switch {
	case w.terms.DiscountPercent != nil:
		words = "Discount of " + w.terms.DiscountPercent.String() + " %"
		asked = w.percentOf(total, *w.terms.DiscountPercent)
	case w.terms.DiscountAmount != nil:
		asked = w.terms.DiscountAmount.Minor()
	}
	nothing := w.terms.DiscountPercent == nil || w.terms.DiscountPercent.IsZero()
	if asked == 0 && (nothing || total > 0) || w.tooLarge {
		return
	}
	if refusal := w.refuse(asked, total); refusal != nil {
		w.out.Refusal = refusal
		return
	}
	w.takeOff(DiscountLine, words, asked)
}

// shares divides a discount over the treatments by their printed amounts.
func (w *work) shares(discount int64) []int64 {
	var weights [len(treatmentOrder)]int64
	for t := range w.rows {
		weights[t] = max(0, w.rows[t].amount)
	}
	return w.allocate(discount, weights[:])
}

func (w *work) allocate(total int64, weights []int64) []int64 {
	parts, err := money.AllocateMinor(make([]int64, 0, len(weights)), total, weights)
	if err != nil {
		w.tooLarge = true
		return make([]int64, len(weights))
	}
	return parts
}

// percentOf is a percentage of an amount, half up.
func (w *work) percentOf(total int64, percent decimal.Decimal) int64 {
	num, den, err := money.PercentFraction(percent)
	if err != nil {
		w.tooLarge = true
		return 0
	}
	return w.part(total, num, den)
}

// refuse says why a discount may not be given; nil: it may.
func (w *work) refuse(asked, total int64) *Refusal {
	no := func(code RefusalCode, says string, most int64) *Refusal {
		return &Refusal{Code: code, Says: says, Most: w.amount(most), MostPercent: w.mostPercent(most, total)}
	}
	if total <= 0 {
		return no(NothingToTake, "There is nothing to take a discount off.", 0)
	}
	if w.discountHeld(asked, total) {
		return nil
	}
	limit, ok := w.book.Limit(w.terms.Role)
	if !ok || limit.MostPercent.IsZero() {
		return no(RoleMayNot, fmt.Sprintf("The role %q may not give a discount.", w.terms.Role), 0)
	}
	if w.missing {
		return no(CostNotKnown, "Some costs are not known, so that it cannot be said what margin a discount would leave.", 0)
	}
	most := min(total, w.percentOf(total, limit.MostPercent))
	over := asked > most || w.terms.DiscountPercent != nil && w.terms.DiscountPercent.GreaterThan(limit.MostPercent)
	under := !w.keepsFloor(asked, limit)
	if !over && !under {
		return nil
	}
	given := w.mostKeeping(most, limit)
	switch {
	case asked > total:
		return no(OverTotal, "The discount is more than the whole price.", given)
	case over:
		return no(OverPercent, fmt.Sprintf("The role %q may give at most %s %%.", w.terms.Role, limit.MostPercent), given)
	}
	return no(UnderFloor, fmt.Sprintf("The margin would fall below %s %%.", limit.FloorMarginPercent), given)
}

// netAfter is the total net once a discount is taken off.
func (w *work) netAfter(discount int64) int64 {
	net := int64(0)
	for t, share := range w.shares(discount) {
		amount := w.rows[t].amount - share
		net += amount
		if w.terms.Basis == Gross {
			net -= w.vatOf(t, amount)
		}
	}
	return net
}

// keepsFloor: (net − cost)/net is at least the floor.
func (w *work) keepsFloor(discount int64, limit pricebook.DiscountLimit) bool {
	if discount > w.out.Totals.BeforeDiscount.Minor() {
		return false
	}
	net := decimal.New(w.netAfter(discount), 0)
	margin := net.Sub(decimal.New(w.cost, 0))
	return net.Sign() > 0 && margin.Shift(2).GreaterThanOrEqual(limit.FloorMarginPercent.Mul(net))
}

// mostKeeping is the largest discount up to most that keeps the floor, give or
// take the odd minor unit: net falls with the discount but for what allocating
// and rounding move about. Whatever it gives does keep the floor, or is 0.
func (w *work) mostKeeping(most int64, limit pricebook.DiscountLimit) int64 {
	low, high := int64(0), most // the answer is in between
	for low < high {
		middle := low + (high-low+1)/2
		if w.keepsFloor(middle, limit) {
			low = middle
		} else {
			high = middle - 1
		}
	}
	return low
}

// mostPercent is an amount as a percentage of the total with two decimals, one
// that may be given: cut off, it stands for a little less than the amount, and
// a little less may for once leave less net.
func (w *work) mostPercent(most, total int64) decimal.Decimal {
	if most <= 0 || total <= 0 {
		return decimal.Zero
	}
	limit, _ := w.book.Limit(w.terms.Role)
	percent := decimal.Min(decimal.New(most, 2).DivRound(decimal.New(total, 0), 6), limit.MostPercent).Truncate(2)
	for percent.Sign() > 0 && !w.keepsFloor(w.percentOf(total, percent), limit) {
		percent = percent.Sub(decimal.New(1, -2))
	}
	return percent
}
