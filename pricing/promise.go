package pricing

import (
	"fmt"

	"wainscot/pricing/money"
)

// Promise is what a whole price may come to at most, because so much was
// offered: extras ticked on acceptance never cost more than they were printed
// at. Where they come to less, the customer pays less.
type Promise struct {
	// GrossAtMost is with VAT, on either basis.
	GrossAtMost money.Amount
	// Words of the line that keeps it; "" is PromiseWords.
	Words string
}

// PromiseWords is what the line of a promise says.
const PromiseWords = "Extras at the price offered"

// promise takes off what the total is more than was promised, as one line for
// each VAT treatment. It is no discount: role and margin do not limit it.
func (w *work) promise() {
	p := w.terms.Promise
	if p == nil || w.tooLarge {
		return
	}
	off := w.overPromise(p.GrossAtMost.Minor())
	if off <= 0 {
		return
	}
	words := p.Words
	if words == "" {
		words = PromiseWords
	}
	w.takeOff(PromiseLine, words, off)
}

// overPromise is the least that has to be taken off, in the basis's terms, so
// that the total with VAT is not more than most. On the gross basis that is
// the difference; on the net one it is searched for, since VAT is rounded for
// each rate.
func (w *work) overPromise(most int64) int64 {
	grossAfter := func(off int64) int64 {
		gross := int64(0)
		for t, share := range w.shares(off) {
			amount := w.rows[t].amount - share
			gross = w.add(gross, amount)
			if w.terms.Basis == Net {
				gross = w.add(gross, w.vatOf(t, amount))
			}
		}
		return gross
	}
	over := grossAfter(0) - most
	if over <= 0 || w.terms.Basis == Gross {
		return over
	}
	// Whatever high is keeps the promise: at first because VAT never rises when
	// its amount falls.
	low, high := int64(0), over
	for low < high {
		middle := low + (high-low)/2
		if grossAfter(middle) <= most {
			high = middle
		} else {
			low = middle + 1
		}
	}
	return low
}

// takeOff writes a negative line for each treatment, together so much.
func (w *work) takeOff(kind LineKind, words string, off int64) {
	several := 0
	shares := w.shares(off)
	for _, s := range shares {
		if s > 0 {
			several++
		}
	}
	for t, s := range shares {
		if s <= 0 {
			continue
		}
		l := line{kind: kind, words: words, quantity: 1, treatment: t, unit: -s * fine}
		if several > 1 {
			l.words += fmt.Sprintf(" (%s)", treatmentOrder[t])
		}
		w.write(l)
		w.rows[t].lines++
		w.rows[t].amount = w.add(w.rows[t].amount, -s)
	}
	w.out.Totals.Discount = w.amount(w.add(w.out.Totals.Discount.Minor(), off))
}
