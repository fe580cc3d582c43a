package pricing

import (
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// ownPartWords say what the workshop does not answer for.
const ownPartWords = "%s (your own part: we fit it, and give no warranty on it)"

// addition is one of the specification's with its price, nil where it has
// none, and what the sheet asks for because of it.
type addition struct {
	*bom.Addition
	price *AdditionPrice
	ask   ask
}

// findAdditions puts prices beside the additions they are for. A price for
// what is not there is a fault: it would be left out in silence.
func (w *work) findAdditions() document.Faults {
	w.additions = make([]addition, len(w.spec.Additions))
	for i := range w.additions {
		w.additions[i].Addition = &w.spec.Additions[i]
	}
	var faults document.Faults
	for i := range w.terms.Additions {
		p := &w.terms.Additions[i]
		at := document.Join("additions", i+1)
		a := w.addition(p.Code)
		switch {
		case a == nil:
			var known []string
			for i := range w.additions {
				known = append(known, w.additions[i].Code)
			}
			faults = append(faults, document.Fault{Code: "unknown_code", At: at + "/code",
				Reason: fmt.Sprintf("The choices have no addition %q.", p.Code),
				Remedy: document.Suggest(p.Code, known, "Take the price out, or add what it is for.")})
		case a.Kind == bom.CustomersOwn && p.Cost != nil && !p.Cost.IsZero():
			faults = append(faults, document.Fault{Code: "own_part_cost", At: at + "/cost",
				Reason: "A part the customer brings costs the workshop nothing.", Remedy: "Take the cost out; its hours are costed by their trade."})
		default:
			a.price = p
		}
	}
	return faults
}

func (w *work) addition(code string) *addition {
	for i := range w.additions {
		if w.additions[i].Code == code {
			return &w.additions[i]
		}
	}
	return nil
}

// costAddition costs the material of a one-off line; what a customer brings
// costs nothing.
func (w *work) costAddition(i int, l *bom.Line) (Costed, bool) {
	a := w.addition(l.Code)
	if a == nil || a.price == nil || a.price.Cost == nil || a.price.Cost.IsZero() {
		return Costed{}, false
	}
	cost := w.wholeMinor(*a.price.Cost)
	a.ask.cost = w.add(a.ask.cost, cost)
	unit, err := money.NewUnitPrice(a.price.Cost.DivRound(decimal.Max(l.Quantity, decimal.New(1, 0)), money.UnitDecimals), w.currency)
	if err != nil {
		w.tooLarge = true
	}
	w.cost = w.add(w.cost, cost)
	return Costed{Line: i, UnitCost: unit, Cost: w.amount(cost)}, true
}

// wholeMinor is an amount that Terms.Validate has found to be one.
func (w *work) wholeMinor(d decimal.Decimal) int64 {
	a, err := money.New(d, w.currency)
	if err != nil {
		w.tooLarge = true
	}
	return a.Minor()
}

// writeAdditions writes the additions, in the order they were asked for. Their
// price is of all of it, so a unit price is that divided by the number, kept
// to a hundredth of the minor unit: with at most fifty, number × unit price
// still rounds to the price.
func (w *work) writeAdditions() {
	for i := range w.additions {
		a := &w.additions[i]
		l := line{kind: OneOffLine, code: a.Code, words: a.Words, quantity: int64(max(a.Quantity, 1)), cost: a.ask.cost}
		if a.Kind == bom.CustomersOwn {
			l.kind, l.words = OwnPartLine, fmt.Sprintf(ownPartWords, a.Words)
		}
		if a.price == nil {
			w.gap(Gap{Code: NoPrice, At: a.Code, Says: "“" + a.Words + "” has no price.", Remedy: "Say what it sells for."})
			l.treatment, l.unpriced = w.treatment(a.Code, pricebook.Standard), true
			w.write(l)
			continue
		}
		own := a.price.Treatment
		if own == "" {
			own = pricebook.Standard
		}
		l.treatment = w.treatment(a.Code, own)
		whole := w.given(w.wholeMinor(a.price.Price), own, l.treatment)
		l.unit = w.part(whole*fine, 1, l.quantity)
		w.write(l)
	}
}

// given is a price said for this very quote under its own treatment, in minor
// units, once another one applies. No price list takes anything off it.
func (w *work) given(minor int64, own pricebook.Treatment, final int) int64 {
	from, to := w.rates[treatmentAt(own)], w.rates[final]
	num, den := int64(1), int64(1)
	if w.terms.Basis == Gross {
		num, den = from.den, from.den+from.num
	}
	if w.terms.Basis == Gross || final == atMargin {
		if final == atMargin {
			to = from
		}
		num, den = w.times2(num, den, to.den+to.num, to.den)
	}
	return w.part(minor, num, den)
}

// validateAdditions checks the prices of additions as far as they can be
// without the specification.
func (t *Terms) validateAdditions(book *pricebook.Compiled, fault func(code, at, reason, remedy string)) {
	if len(t.Additions) > bom.MaxAdditions {
		fault("too_many", "additions", fmt.Sprintf("There are %d prices of additions.", len(t.Additions)), fmt.Sprintf("At most %d.", bom.MaxAdditions))
		return
	}
	seen := make(map[string]bool, len(t.Additions))
	for i, p := range t.Additions {
		at := document.Join("additions", i+1)
		if seen[p.Code] {
			fault("duplicate", at+"/code", fmt.Sprintf("The price of the addition %q is given twice.", p.Code), "Keep one of the two.")
		}
		seen[p.Code] = true
		if _, err := money.New(p.Price, book.Currency()); err != nil {
			fault("price", at+"/price", "The price is no amount of "+string(book.Currency())+".", "Write digits with at most the currency's decimals.")
		}
		if p.Cost != nil {
			if _, err := money.New(*p.Cost, book.Currency()); err != nil || p.Cost.Sign() < 0 {
				fault("cost", at+"/cost", "The cost is no amount of "+string(book.Currency())+", or below nothing.", "Write digits with at most the currency's decimals.")
			}
		}
		if reason := document.TextFault(p.Evidence); reason != "" {
			fault("bad_text", at+"/evidence", reason, "Write it as plain text.")
		}
		if p.Treatment != "" && !knownTreatment(p.Treatment) {
			fault("treatment", at+"/treatment", fmt.Sprintf("%q is no VAT treatment.", p.Treatment), treatmentRemedy(p.Treatment))
		}
	}
}
