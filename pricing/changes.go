package pricing

import (
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/money"
)

// Effect is what one change of the choices would do. Differences are of what
// it would be less what it is: below nothing for less.
type Effect struct {
	Change bom.Change
	// Gross is the difference of the price with VAT, Cost and Margin of what it
	// costs the workshop and what that leaves of the net.
	Gross, Cost, Margin money.Amount
	// Whole: neither price has a gap but finishes still to choose, and the
	// discount asked for is given or refused on both.
	Whole bool
	// Gaps are those of the new price that the present one has not.
	Gaps []Gap
	// Refused: the discount would not be given any more; GivenAgain: it would.
	Refused, GivenAgain bool
	Hours, NetKG        decimal.Decimal
	Features            []bom.FeatureChange
	Parts               []bom.PartChange
	// NotMet are checks that would not be met and are now, or are not made
	// now; Met the other way about.
	NotMet, Met []*catalogue.Check
	// Aside are choices that would not fit any more, as they are told.
	Aside []string
	// Settled: nothing would be left to settle.
	Settled bool
}

// Effects gives what every change that can be had would do, in the order of
// bom.Trial.Changes. It ends with the first error, of each or as of With. An
// effect is good for the call.
func (t *Trial) Effects(each func(*Effect) error) error {
	for _, c := range t.trial.Changes() {
		out, ok, err := t.trial.With(c)
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		e, err := t.effect(c, &out)
		if err == nil {
			err = each(e)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (t *Trial) effect(c bom.Change, out *bom.Outcome) (*Effect, error) {
	now, err := t.With(out)
	if err != nil {
		return nil, err
	}
	before := &t.First
	difference := func(a, b money.Amount) money.Amount {
		return t.w.amount(a.Minor() - b.Minor())
	}
	was, is := &t.trial.First.Tally, &out.Tally
	e := &Effect{
		Change: c, Gross: difference(now.Totals.Gross, before.Totals.Gross),
		Cost: difference(now.Cost, before.Cost), Margin: difference(now.Margin, before.Margin),
		Whole: wholePrice(before.Gaps) && wholePrice(now.Gaps) && (before.Refusal == nil) == (now.Refusal == nil),
		Hours: is.Hours().Sub(was.Hours()), NetKG: is.NetKG().Sub(was.NetKG()),
		Refused: before.Refusal == nil && now.Refusal != nil, GivenAgain: before.Refusal != nil && now.Refusal == nil,
		Features: t.trial.FeatureChanges(c, out), Parts: t.trial.PartChanges(out),
		NotMet: t.trial.ChecksNotMet(out), Met: t.trial.ChecksMet(out),
		Aside: out.Aside, Settled: out.Specification.Settled,
	}
	for _, g := range now.Gaps {
		if !slices.ContainsFunc(before.Gaps, func(o Gap) bool { return o.Code == g.Code && o.At == g.At }) {
			e.Gaps = append(e.Gaps, g)
		}
	}
	if t.w.tooLarge {
		return nil, tooLarge()
	}
	return e, nil
}

func wholePrice(gaps []Gap) bool {
	return !slices.ContainsFunc(gaps, func(g Gap) bool { return g.Code != FinishOpen && !g.Inside })
}
