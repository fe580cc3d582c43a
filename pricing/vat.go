package pricing

import (
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// treatmentOrder is the order of the VAT summary.
var treatmentOrder = [...]pricebook.Treatment{
	pricebook.Standard, pricebook.Reduced, pricebook.Zero,
	pricebook.Margin, pricebook.Exempt, pricebook.Outside,
}

const (
	atStandard = 0
	atZero     = 2
	atMargin   = 3
)

// treatmentSays are the sentences that go with treatments that are not plain
// rates. Own words; they claim no more than the treatment's name does.
var treatmentSays = [len(treatmentOrder)]string{
	2: "Zero rated on the evidence named; the evidence is kept with the job.",
	3: "Sold under a margin scheme: the price includes any tax on the margin, and no VAT is shown.",
	4: "Exempt from VAT.",
	5: "Outside the scope of VAT.",
}

// rate of a treatment on the day: num/den is percent/100.
type rate struct {
	percent  decimal.Decimal
	num, den int64
}

// row is the VAT of one treatment.
type row struct {
	lines    int
	amount   int64 // printed, before discount
	net, vat int64
	evidence []string
}

func (w *work) findRates() {
	for i, t := range treatmentOrder {
		w.rates[i].den = 1
		percent, ok := w.book.Percent(t, w.terms.Day)
		if !ok {
			continue // only a gap when a line needs it
		}
		num, den, err := money.PercentFraction(percent)
		if err != nil {
			continue
		}
		w.rates[i] = rate{percent, num, den}
	}
}

func treatmentAt(t pricebook.Treatment) int {
	for i := range treatmentOrder {
		if treatmentOrder[i] == t {
			return i
		}
	}
	return atStandard
}

// treatment settles how VAT applies to the thing of that code: what the terms
// say of it, else what they say of everything, else its own (an addition's with
// the evidence given with its price). Zero without
// evidence is a gap, and charged at standard.
func (w *work) treatment(code string, own pricebook.Treatment) int {
	at, evidence, lacking := w.settle(code, own)
	if lacking {
		w.gap(Gap{Code: NoEvidence, At: code, Says: "It is to be zero rated, but no evidence for that is named; it is charged at the standard rate.",
			Remedy: "Name the evidence that is kept, or drop the zero rate."})
	}
	if _, ok := w.book.Percent(treatmentOrder[at], w.terms.Day); !ok {
		w.gap(Gap{Code: NoVATRate, At: string(treatmentOrder[at]), Says: "There is no " + string(treatmentOrder[at]) + " rate of VAT on " + w.terms.Day + ".",
			Remedy: "Add the rate to the price-book, or quote for another day."})
	}
	if evidence != "" && !slices.Contains(w.rows[at].evidence, evidence) {
		w.rows[at].evidence = append(w.rows[at].evidence, evidence)
	}
	return at
}

// settle is treatment without recording anything; lacking says that there is
// no evidence for zero.
func (w *work) settle(code string, own pricebook.Treatment) (at int, evidence string, lacking bool) {
	final := own
	if a := w.addition(code); a != nil && a.price != nil {
		evidence = a.price.Evidence
	}
	for _, pass := range [2]string{code, ""} {
		if c := w.change(pass); c != nil {
			final, evidence = c.Treatment, c.Evidence
			break
		}
	}
	evidence = strings.TrimSpace(evidence)
	if at = treatmentAt(final); at == atZero && evidence == "" {
		return atStandard, "", true
	}
	return at, evidence, false
}

func (w *work) change(code string) *TreatmentChange {
	for i := range w.terms.Treatments {
		if w.terms.Treatments[i].Code == code {
			return &w.terms.Treatments[i]
		}
	}
	return nil
}

// listed turns a price of the edition, listed under its own treatment, into
// the unit price under the final one and on the terms' basis, in hundredths of
// a minor unit:
//
//	gross: price ÷ (1 + own rate) × (1 + final rate), to the minor unit
//	net:   price ÷ (1 + own rate), to a hundredth of it
//
// where ÷ (1 + own rate) is left out for editions without VAT. A price that
// needs no conversion is not touched. One under a margin scheme stays as it is
// with VAT, whatever the basis: the scheme's tax is inside it.
//
// What a price list of the trade does not price itself (whole) is less the
// list's percentage before it is rounded.
func (w *work) listed(minor int64, own pricebook.Treatment, final int, whole bool) int64 {
	return w.listedBy(w.listing, minor, own, final, whole)
}

func (w *work) listedBy(listing *pricebook.Listing, minor int64, own pricebook.Treatment, final int, whole bool) int64 {
	from := w.rates[treatmentAt(own)]
	to := w.rates[final]
	if final == atMargin {
		to = from
	}
	num, den := int64(1), int64(1)
	if listing.IncludesVAT() {
		num, den = from.den, from.den+from.num
	}
	if left, of := listing.Left(); !whole && left != of {
		num, den = w.times2(num, den, left, of)
	}
	if w.terms.Basis == Gross || final == atMargin {
		num, den = w.times2(num, den, to.den+to.num, to.den)
		if num == den {
			return minor * fine
		}
		return w.part(minor, num, den) * fine
	}
	return w.fine(minor, num, den)
}

// fine is minor × num/den to a hundredth of a minor unit, half up.
func (w *work) fine(minor, num, den int64) int64 {
	if num == den {
		return minor * fine
	}
	p, err := money.PartMinor(minor*fine, num, den, money.HalfUp)
	if err != nil {
		w.tooLarge = true
		return 0
	}
	return p
}

// builtUp is the unit price, to the minor unit, of n that are charged at so
// much together without VAT, less what the price list takes off.
func (w *work) builtUp(charge, n int64, own pricebook.Treatment, final int, whole bool) int64 {
	to := rate{den: 1}
	switch {
	case final == atMargin:
		to = w.rates[treatmentAt(own)]
	case w.terms.Basis == Gross:
		to = w.rates[final]
	}
	num, den := w.times2(to.den+to.num, to.den, 1, n)
	if left, of := w.listing.Left(); !whole && left != of {
		num, den = w.times2(num, den, left, of)
	}
	return w.part(charge, num, den) * fine
}

// vatOf is the VAT in (gross) or on (net) a row's printed amount.
func (w *work) vatOf(treatment int, amount int64) int64 {
	r := w.rates[treatment]
	if w.terms.Basis == Gross {
		return w.part(amount, r.num, r.den+r.num)
	}
	return w.part(amount, r.num, r.den)
}

// sumVAT works the VAT of every row, and spreads it over the lines so that
// theirs add up to it.
func (w *work) sumVAT() {
	lines := make([]Line, len(w.lines))
	costs := make([]LineCost, len(w.lines))
	values := make([]int64, 0, len(w.lines))
	shares := make([]int64, 0, len(w.lines))
	w.sumRows()
	for t := range w.rows {
		r := &w.rows[t]
		if r.lines == 0 {
			continue
		}
		values = values[:0]
		for i := range w.lines {
			if w.lines[i].treatment == t {
				values = append(values, w.lines[i].amount)
			}
		}
		num, den := w.rates[t].num, w.rates[t].den
		if w.terms.Basis == Gross {
			den += num
		}
		var err error
		if shares, err = money.SharesOf(shares[:0], values, num, den, r.vat); err != nil {
			w.tooLarge = true
			return
		}
		k := 0
		for i := range w.lines {
			if w.lines[i].treatment == t {
				w.finishLine(&lines[i], &costs[i], &w.lines[i], shares[k])
				k++
			}
		}
		w.out.VAT = append(w.out.VAT, VATRow{
			Treatment: treatmentOrder[t], Percent: w.rates[t].percent,
			Net: w.amount(r.net), VAT: w.amount(r.vat), Gross: w.amount(w.add(r.net, r.vat)),
			Says: treatmentSays[t], Evidence: r.evidence,
		})
	}
	w.out.Lines, w.out.Inside.Lines = lines, costs
}

// sumRows works the VAT of every row on its sum, and the totals.
func (w *work) sumRows() {
	for t := range w.rows {
		w.rows[t].amount = 0
	}
	for i := range w.lines {
		r := &w.rows[w.lines[i].treatment]
		r.amount = w.add(r.amount, w.lines[i].amount)
	}
	var net, vat int64
	for t := range w.rows {
		r := &w.rows[t]
		if r.lines == 0 {
			continue
		}
		r.vat, r.net = w.vatOf(t, r.amount), r.amount
		if w.terms.Basis == Gross {
			r.net = w.add(r.amount, -r.vat)
		}
		net, vat = w.add(net, r.net), w.add(vat, r.vat)
	}
	w.out.Totals.Net, w.out.Totals.VAT = w.amount(net), w.amount(vat)
	w.out.Totals.Gross = w.amount(w.add(net, vat))
}

func (w *work) finishLine(to *Line, cost *LineCost, l *line, vat int64) {
	net := l.amount
	if w.terms.Basis == Gross {
		net = w.add(net, -vat)
	}
	*to = Line{
		Kind: l.kind, Code: l.code, InsteadOf: l.insteadOf, Words: l.words, Quantity: int(l.quantity),
		UnitPrice: w.nothing.Fine(l.unit), Amount: w.amount(l.amount),
		Treatment: treatmentOrder[l.treatment], Percent: w.rates[l.treatment].percent,
		Net: w.amount(net), VAT: w.amount(vat), Unpriced: l.unpriced,
	}
	if l.edition != w.out.Edition {
		to.Edition = l.edition
	}
	if l.differs {
		today := w.nothing.Fine(l.today)
		to.Today = &today
	}
	*cost = LineCost{
		Cost: w.amount(l.cost), Overhead: w.amount(l.overhead),
		Margin: w.amount(w.add(net, -w.add(l.cost, l.overhead))),
	}
}
