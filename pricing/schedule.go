package pricing

import (
	"cmp"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// schedule divides the total with VAT over the payments of the price-book. In
// their order each takes its percentage of the whole total (half up) or its
// fixed amount, but never more than is left; the last takes what is left. So
// they always add up. A total of nothing or less is all in the last.
// With credit days it is one payment, on account.
func (w *work) schedule() {
	left := w.out.Totals.Gross.Minor()
	if days := w.terms.CreditDays; days != nil {
		w.out.Payments = []Payment{{Code: "on_account", Name: "On account", Amount: w.amount(left), When: pricebook.OnHandover, Days: *days}}
		return
	}
	total := left
	steps := w.book.Edition().Deposits
	w.out.Payments = make([]Payment, len(steps))
	for i := range steps {
		s := &steps[i]
		var wanted int64
		switch {
		case s.Rest:
			wanted = left
		case s.Percent != nil:
			wanted = w.percentOf(max(0, total), *s.Percent)
		case s.Amount != nil:
			fixed, err := money.Round(*s.Amount, w.currency, money.HalfUp)
			if err != nil {
				w.tooLarge = true
			}
			wanted = fixed.Minor()
		}
		paid := wanted
		if !s.Rest {
			paid = min(wanted, max(0, left))
		}
		left -= paid
		w.out.Payments[i] = Payment{Code: s.Code, Name: s.Name, Amount: w.amount(paid), When: s.When, Days: s.Days, Cut: paid < wanted}
	}
}

// finish fills in what is left to say.
func (w *work) finish() {
	for _, b := range w.sheet.Broken {
		w.gap(Gap{Code: BrokenSheet, At: b.At, Says: "A formula of the catalogue gave no number: " + b.Reason,
			Remedy: "Mend the formula in the catalogue."})
	}
	w.sortGaps()
	inside := w.out.Inside
	inside.Cost, inside.Overhead = w.amount(w.cost), w.amount(w.overhead)
	net := w.out.Totals.Net.Minor()
	margin := w.add(net, -w.cost)
	inside.Margin = w.amount(margin)
	if net > 0 {
		percent := decimal.New(margin, 2).DivRound(decimal.New(net, 0), 2)
		inside.MarginPercent = &percent
	}
}

func (w *work) sortGaps() {
	slices.SortStableFunc(w.out.Gaps, func(a, b Gap) int {
		return cmp.Or(slices.Index(gapOrder, a.Code)-slices.Index(gapOrder, b.Code), cmp.Compare(a.At, b.At))
	})
}
