package job

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// NothingChanges stops a variation that changes neither sheet nor price.
const NothingChanges bom.NotReadyCode = "nothing_changes"

// ErrOtherRelease says that a variation was to be worked out on another release
// than the job's.
var ErrOtherRelease = errors.New("the job is built on another release")

// Varying is what a variation is worked out from besides its proposal.
type Varying struct {
	Job    string // id
	Number int64  // of the variation
	// Offer has the job's release, the edition of the day made ready against
	// it, and in HeldBooks those that the job's lines are from.
	Offer    quote.Offer
	Agreed   Agreement
	Findings []Finding // of the job, all of them
	// Stages are how far the job is.
	Stages []StageProgress
}

// Varied is a variation worked out.
type Varied struct {
	Variation
	// NotReady is what stands between it and sending it; nothing when it is
	// ready. A variation is held to all that a quote is held to.
	NotReady []bom.NotReady
	// Worked is how it was come by: what had to be put aside, and why.
	Worked quote.Worked
}

// Vary works a variation out: the new choices on the job's own release, the
// difference of the sheets, what of it falls on what is done, and the price.
// What is unchanged keeps its price, however long ago it was agreed; what is
// new has that of the edition of the day. What is dropped is credited as it was
// charged, less what is done, or ordered and cannot go back.
//
// Faults are all that is wrong with the proposal. The error is ErrOtherRelease,
// or one of quote.Work.
func Vary(in Varying, p Proposal) (Varied, document.Faults, error) {
	if in.Offer.Release.Hash() != in.Agreed.Release.Hash {
		return Varied{}, nil, ErrOtherRelease
	}
	w := &varying{in: &in, p: &p, was: &in.Agreed.Van, progress: Progress{Stages: in.Stages, Parts: p.Parts}}
	w.check()
	if len(w.faults) > 0 {
		return Varied{}, w.faults.Limit(), nil
	}
	w.ask()
	if len(w.faults) > 0 {
		return Varied{}, w.faults.Limit(), nil
	}
	if err := w.work(); err != nil || len(w.faults) > 0 {
		return Varied{}, w.faults.Limit(), err
	}
	w.charge()
	if err := w.again(); err != nil || len(w.faults) > 0 {
		return Varied{}, w.faults.Limit(), err
	}
	if err := w.keepPromise(); err != nil {
		return Varied{}, nil, err
	}
	return w.write()
}

// varying is one Vary in progress.
type varying struct {
	in       *Varying
	progress Progress
	p        *Proposal
	was      *quote.Van
	asked    quote.Asked
	charges  []string
	is       quote.Worked
	first    bom.Difference // of what was chosen, without what it charges
	rework   []ReworkLine
	kept     []KeptLine
	faults   document.Faults
}

func (w *varying) fault(code, at, reason, remedy string) {
	w.faults = append(w.faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func (w *varying) check() {
	p := w.p
	for _, d := range []struct{ at, day string }{{"day", p.Day}, {"valid_until", p.ValidUntil}} {
		if !calendar.Valid(d.day) {
			w.fault("day", d.at, fmt.Sprintf("%q is not a day.", d.day), "Write it as year, month and day: 2027-01-11.")
		}
	}
	if len(w.faults) == 0 && p.ValidUntil < p.Day {
		w.fault("contradiction", "valid_until", fmt.Sprintf("The offer would end on %s, before it is made on %s.", p.ValidUntil, p.Day), "Name a later last day.")
	}
	w.progress.check(w.fault)
	p.Rule.check(w.fault)
	for i, n := range p.Findings {
		at := document.Join("findings", i+1)
		f := w.finding(n)
		switch {
		case f == nil:
			w.fault("no_finding", at, fmt.Sprintf("The job has no finding %d.", n), "Name findings that it has.")
		case slices.Contains(p.Findings[:i], n):
			w.fault("given_twice", at, fmt.Sprintf("Finding %d is named twice.", n), "Name it once.")
		case f.State != FindingOpen && (f.State != FindingAsked || f.Variation != w.in.Number):
			w.fault("settled_already", at, fmt.Sprintf("Finding %d is %s.", n, f.State), "Leave it out.")
		}
	}
}

func (w *varying) finding(number int) *Finding {
	for i := range w.in.Findings {
		if w.in.Findings[i].Number == number {
			return &w.in.Findings[i]
		}
	}
	return nil
}

// ask makes what is asked of the proposal: the customer's choices, what earlier
// variations have charged, the findings.
func (w *varying) ask() {
	a := &w.in.Agreed
	w.asked = a.Asked
	t := &w.asked.Terms
	t.Day, t.ValidUntil, t.Role = w.p.Day, w.p.ValidUntil, w.p.Role
	v := a.Asked.Vans[0]
	before := &a.Asked.Vans[0]
	v.AtMost, v.Extras = nil, nil
	if d := w.p.Discount; d != nil {
		t.DiscountPercent, t.DiscountAmount, v.DiscountShare = d.Percent, d.Amount, d.Amount
	}
	v.Choices = w.p.Choices
	v.Choices.Additions, v.Additions = nil, nil
	named := map[string]bool{}
	for i := range w.p.Choices.Additions {
		d := w.p.Choices.Additions[i]
		if slices.Contains(a.Charges, d.Code) || reserved(d.Code) {
			w.fault("code_taken", document.Join("choices/additions", i+1)+"/code", fmt.Sprintf("%q is the code of what a variation charges.", d.Code),
				"Leave it out; what was charged is carried along by itself.")
			continue
		}
		named[d.Code] = true
		v.Choices.Additions = append(v.Choices.Additions, d)
		w.price(&v, before, &d)
	}
	for _, code := range a.Charges {
		if d := additionIn(before.Choices.Additions, code); d != nil {
			v.Choices.Additions = append(v.Choices.Additions, *d)
			if price := priceIn(before.Additions, code); price != nil {
				v.Additions = append(v.Additions, *price)
			}
		}
	}
	w.charges = slices.Clone(a.Charges)
	w.asked.Vans = []quote.AskedVan{v}
	for _, n := range w.p.Findings {
		named[FindingCode(n)] = true
		w.findingCharged(w.finding(n))
	}
	for i, price := range w.p.Additions {
		if !named[price.Code] {
			w.fault("unknown_code", document.Join("additions", i+1)+"/code", fmt.Sprintf("The choices have no addition %q.", price.Code),
				"Take the price out, or add what it is for.")
		}
	}
}

// reserved says whether a code is of the form of those that variations give.
func reserved(code string) bool {
	for _, prefix := range []string{"finding_", "rework_", "kept_"} {
		if rest, ok := strings.CutPrefix(code, prefix); ok && rest != "" && rest[0] >= '0' && rest[0] <= '9' {
			return true
		}
	}
	return false
}

// price puts the price to an addition: of one that is as it was what it was, of
// any other the proposal's.
func (w *varying) price(v, before *quote.AskedVan, d *bom.Addition) {
	given := priceIn(w.p.Additions, d.Code)
	if old := additionIn(before.Choices.Additions, d.Code); old != nil && sameAddition(*old, *d) {
		if held := priceIn(before.Additions, d.Code); held != nil {
			if given != nil && !given.Price.Equal(held.Price) {
				w.fault("price_holds", "additions/"+d.Code+"/price", fmt.Sprintf("“%s” is as it was agreed, at %s.", d.Words, held.Price),
					"Leave its price out, or change what it is.")
			}
			v.Additions = append(v.Additions, *held)
			return
		}
	}
	if given != nil {
		v.Additions = append(v.Additions, *given)
	}
}

// sameAddition says whether two additions are the same work: the foreman's yes
// and the number 0 for 1 aside.
func sameAddition(a, b bom.Addition) bool {
	a.Approved, b.Approved = false, false
	a.Quantity, b.Quantity = max(a.Quantity, 1), max(b.Quantity, 1)
	return reflect.DeepEqual(a, b)
}

func additionIn(list []bom.Addition, code string) *bom.Addition {
	for i := range list {
		if list[i].Code == code {
			return &list[i]
		}
	}
	return nil
}

func priceIn(list []pricing.AdditionPrice, code string) *pricing.AdditionPrice {
	for i := range list {
		if list[i].Code == code {
			return &list[i]
		}
	}
	return nil
}

// add lays a charge of this variation beside the choices.
func (w *varying) add(d bom.Addition, price pricing.AdditionPrice) {
	v := &w.asked.Vans[0]
	v.Choices.Additions = append(v.Choices.Additions, d)
	v.Additions = append(v.Additions, price)
	w.charges = append(w.charges, d.Code)
}

// work works out what is asked so far; faults are taken in with their paths as
// the proposal has them.
func (w *varying) work() error {
	o := w.in.Offer
	o.Held = &quote.Document{Quote: w.in.Agreed.From.Quote, Revision: w.in.Agreed.From.Revision, ValidUntil: "9999-12-31",
		Edition: quote.Edition{Code: w.was.Priced.Edition}, Asked: w.in.Agreed.Asked, Vans: []quote.Van{*w.was}}
	asked := w.asked
	asked.Vans = slices.Clone(asked.Vans) // more is charged yet
	is, faults, err := quote.Work(o, asked)
	if err != nil {
		return fmt.Errorf("working out the variation: %w", err)
	}
	for _, f := range faults {
		f.At = strings.TrimPrefix(f.At, "vans/1/")
		w.faults = append(w.faults, f)
	}
	if len(faults) == 0 {
		w.is = is
		if w.first.Lines == nil {
			w.first = bom.Differ(&w.was.Sheet, &is.Vans[0].Sheet)
		}
	}
	return nil
}

// again works it out anew where something was charged besides.
func (w *varying) again() error {
	if len(w.asked.Vans[0].Choices.Additions) == len(w.is.Asked.Vans[0].Choices.Additions) {
		return nil
	}
	return w.work()
}

// keepPromise takes off what the agreed price took off because so much was
// offered: what was ticked when the quote was accepted stays as cheap.
func (w *varying) keepPromise() error {
	off := money.Zero(w.was.Priced.Currency)
	for i := range w.was.Priced.Lines {
		if l := &w.was.Priced.Lines[i]; l.Kind == pricing.PromiseLine {
			var err error
			if off, err = money.Sum(off.Currency(), off, l.Net, l.VAT); err != nil {
				return fmt.Errorf("what was promised: %w", err)
			}
		}
	}
	if off.IsZero() {
		return nil
	}
	most, err := w.is.Totals.Gross.Add(off) // off is below nothing
	if err != nil {
		return fmt.Errorf("what was promised: %w", err)
	}
	if most.Sign() < 0 {
		most = money.Zero(most.Currency())
	}
	w.asked.Vans[0].AtMost = &most
	return w.work()
}

// write puts it all together.
func (w *varying) write() (Varied, document.Faults, error) {
	a, o := &w.in.Agreed, &w.in.Offer
	van := w.is.Vans[0].Van
	v := Variation{
		Format: VariationFormat, Job: w.in.Job, Number: w.in.Number, From: a.From, Release: a.Release,
		Edition: quote.Edition{Code: o.Book.Edition().Code, Hash: o.Book.Hash()}, Editions: []string{o.Book.Edition().Code}, Engine: options.Engine,
		Day: w.p.Day, ValidUntil: w.p.ValidUntil, Findings: w.p.Findings, Rule: w.p.Rule, Progress: w.progress,
		Asked: w.asked, Van: van, Charges: w.charges, Difference: bom.Differ(&w.was.Sheet, &van.Sheet),
		Rework: w.rework, KeptBack: w.kept, Was: w.was.Priced.Totals, Is: van.Priced.Totals, Paper: a.Paper,
	}
	out := Varied{NotReady: van.NotReady, Worked: w.is}
	v.Van.NotReady = nil
	after := Agreement{Editions: v.Editions, Van: v.Van}
	after.linesEditions()
	v.Editions = after.Editions
	var err error
	if v.Change, v.VAT, err = changed(&w.was.Priced, &van.Priced); err != nil {
		return Varied{}, nil, err
	}
	if v.Payments, v.Schedule, err = addTo(a.Schedule, van.Priced.Payments, v.Change.Gross); err != nil {
		return Varied{}, nil, err
	}
	v.Says = w.says(&v)
	if was, is := w.was.Priced.Inside, van.Priced.Inside; was != nil && is != nil {
		cost, err := is.Cost.Sub(was.Cost)
		margin, err2 := is.Margin.Sub(was.Margin)
		if err := errors.Join(err, err2); err != nil {
			return Varied{}, nil, fmt.Errorf("the difference of two costs: %w", err)
		}
		v.Cost, v.Margin = &cost, &margin
	}
	if len(v.Difference.Lines) == 0 && v.Change.Gross.IsZero() && len(v.VAT) == 0 && len(v.Says) == 1 && v.Says[0].About == quote.AboutNothing {
		out.NotReady = append(out.NotReady, bom.NotReady{Code: NothingChanges, Says: "Nothing is different from what was agreed."})
	}
	out.Variation = v
	return out, nil, nil
}

// says compares what was agreed with what is to be, as two revisions.
func (w *varying) says(v *Variation) []Told {
	from := &w.in.Agreed
	was := &quote.Document{Revision: 1, Asked: from.Asked, Vans: []quote.Van{*w.was}, Totals: v.Was, Payments: from.Schedule}
	is := &quote.Document{Revision: 2, Asked: v.Asked, Vans: []quote.Van{v.Van}, Totals: v.Is, Payments: v.Schedule}
	// The days of the offer are another's, and are on the paper.
	is.Asked.Terms.Day, is.Asked.Terms.ValidUntil = was.Asked.Terms.Day, was.Asked.Terms.ValidUntil
	c := quote.Compare(was, is, w.in.Offer.Release.Catalogue())
	list := make([]Told, 0, len(c.Sentences))
	for _, s := range c.Sentences {
		list = append(list, Told{About: s.About, Code: s.Code, Says: s.Says, Before: s.Before, After: s.After, Difference: s.Difference})
	}
	return list
}

// changed is the difference of two prices of a van, and of their VAT.
func changed(was, is *pricing.Priced) (Sum, []VATChange, error) {
	var sum Sum
	var err error
	for _, d := range []struct {
		into    *money.Amount
		is, was money.Amount
	}{{&sum.Net, is.Totals.Net, was.Totals.Net}, {&sum.VAT, is.Totals.VAT, was.Totals.VAT}, {&sum.Gross, is.Totals.Gross, was.Totals.Gross}} {
		if *d.into, err = d.is.Sub(d.was); err != nil {
			return sum, nil, fmt.Errorf("the difference of two prices: %w", err)
		}
	}
	nothing := money.Zero(is.Currency)
	rows := []VATChange{}
	add := func(r *pricing.VATRow, sign int) error {
		i := slices.IndexFunc(rows, func(c VATChange) bool { return c.Treatment == r.Treatment && c.Percent.Equal(r.Percent) })
		if i < 0 {
			i = len(rows)
			rows = append(rows, VATChange{Treatment: r.Treatment, Percent: r.Percent, Sum: Sum{nothing, nothing, nothing}})
		}
		c := &rows[i]
		for _, d := range []struct {
			into *money.Amount
			more money.Amount
		}{{&c.Net, r.Net}, {&c.VAT, r.VAT}, {&c.Gross, r.Gross}} {
			more := d.more
			if sign < 0 {
				more = more.Neg()
			}
			if *d.into, err = d.into.Add(more); err != nil {
				return err
			}
		}
		return nil
	}
	for i := range is.VAT {
		if err := add(&is.VAT[i], 1); err != nil {
			return sum, nil, fmt.Errorf("the difference of VAT: %w", err)
		}
	}
	for i := range was.VAT {
		if err := add(&was.VAT[i], -1); err != nil {
			return sum, nil, fmt.Errorf("the difference of VAT: %w", err)
		}
	}
	rows = slices.DeleteFunc(rows, func(c VATChange) bool { return c.Net.IsZero() && c.VAT.IsZero() })
	return sum, rows, nil
}

// addTo divides a change of the total over the payments of a job, and gives the
// schedule that comes of it. More is asked for step by step as the price-book
// divides the new total, what is due on acceptance on that of the variation;
// where the steps are not the same ones, or it is less, the last steps bear it,
// so that what was paid already stays paid as long as there is anything to come.
func addTo(schedule, wanted []pricing.Payment, change money.Amount) (payments, after []pricing.Payment, err error) {
	after = slices.Clone(schedule)
	payments = []pricing.Payment{}
	shares, ok := stepByStep(schedule, wanted, change)
	if !ok {
		shares = fromTheLast(schedule, change)
	}
	for i := range after {
		if shares[i].IsZero() {
			continue
		}
		p := after[i]
		p.Amount, p.Cut = shares[i], false
		payments = append(payments, p)
		if after[i].Amount, err = after[i].Amount.Add(shares[i]); err != nil {
			return nil, nil, fmt.Errorf("the payments: %w", err)
		}
	}
	return payments, after, nil
}

func stepByStep(schedule, wanted []pricing.Payment, change money.Amount) ([]money.Amount, bool) {
	if change.Sign() <= 0 || len(schedule) != len(wanted) {
		return nil, false
	}
	shares := make([]money.Amount, len(schedule))
	sum := money.Zero(change.Currency())
	for i := range schedule {
		var err error
		if schedule[i].Code != wanted[i].Code {
			return nil, false
		}
		if shares[i], err = wanted[i].Amount.Sub(schedule[i].Amount); err != nil || shares[i].Sign() < 0 {
			return nil, false
		}
		if sum, err = sum.Add(shares[i]); err != nil {
			return nil, false
		}
	}
	return shares, sum == change
}

// fromTheLast takes less off the last steps, and puts more on the last.
func fromTheLast(schedule []pricing.Payment, change money.Amount) []money.Amount {
	shares := make([]money.Amount, len(schedule))
	left := change.Minor()
	for i := range shares {
		shares[i] = money.Zero(change.Currency())
	}
	for i := len(schedule) - 1; i >= 0 && left != 0; i-- {
		take := left
		if left < 0 && i > 0 {
			take = max(left, -max(0, schedule[i].Amount.Minor()))
		}
		shares[i], _ = change.WithMinor(take) // no larger than change
		left -= take
	}
	return shares
}

// percent is so many hundredths of a number.
func percent(of decimal.Decimal, n int64) decimal.Decimal {
	return of.Mul(decimal.New(n, 0)).Shift(-2)
}
