package job

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Rework is the workshop's rule on changing what is done already.
type Rework struct {
	// RemovalPercent of the hours it took is what taking something out again
	// takes that is dropped at a stage already done.
	RemovalPercent int `json:"removal_percent"`
	// RefittingPercent of the hours of something added at a stage already done
	// is what opening and closing again takes besides them.
	RefittingPercent int `json:"refitting_percent"`
}

// DefaultRework is what a workshop begins with: common practice, no source.
var DefaultRework = Rework{RemovalPercent: 50, RefittingPercent: 25}

// MaxReworkPercent bounds both: more than three times the work is no rework.
const MaxReworkPercent = 300

func (r *Rework) check(fault func(code, at, reason, remedy string)) {
	for _, p := range []struct {
		at string
		n  int
	}{{"rule/removal_percent", r.RemovalPercent}, {"rule/refitting_percent", r.RefittingPercent}} {
		if p.n < 0 || p.n > MaxReworkPercent {
			fault("out_of_range", p.at, fmt.Sprintf("%d %% is no rule for rework.", p.n), fmt.Sprintf("Give 0 to %d.", MaxReworkPercent))
		}
	}
}

// Says is the rule as it is printed.
func (r *Rework) Says() string {
	return fmt.Sprintf("Where a stage is done already, taking out what is dropped is reckoned at %d %% of the hours it took, and what is added at %d %% more hours, for opening and closing again.",
		r.RemovalPercent, r.RefittingPercent)
}

// ReworkLine is what one trade does anew at a stage that is done.
type ReworkLine struct {
	Stage string `json:"stage"`
	Trade string `json:"trade"`
	// Dropped hours were done and are for nothing, Added ones come to a stage
	// that is done; Hours is what the rule makes of them, half up to 0.01.
	Dropped decimal.Decimal `json:"dropped_hours"`
	Added   decimal.Decimal `json:"added_hours"`
	Hours   decimal.Decimal `json:"hours"`
}

// KeptLine is what is kept back from the credit for one thing that is dropped.
type KeptLine struct {
	// Code of the feature or addition; Removal: of taking it out, which was to
	// be done.
	Code    string `json:"code"`
	Removal bool   `json:"removal,omitempty"`
	Name    string `json:"name"`
	// Hours are done; Parts and visits cannot be undone for nothing.
	Hours  []bom.AdditionHours `json:"hours,omitempty"`
	Parts  []FindingPart       `json:"parts,omitempty"`
	Visits []Visit             `json:"visits,omitempty"`
	// Worth of all that, at the charges the job was priced with, in the terms of
	// the quote's basis. Credited is what dropping it takes off by itself, nil
	// where it has no price of its own. Kept is the less of the two.
	Worth    money.Amount        `json:"worth"`
	Credited *money.Amount       `json:"credited,omitempty"`
	Kept     money.Amount        `json:"kept"`
	Treats   pricebook.Treatment `json:"treatment"`
	cost     int64
	net      int64
}

// Visit is so much of an outside work.
type Visit struct {
	Outside  string          `json:"outside"`
	Quantity decimal.Decimal `json:"quantity"`
}

// charge works out what is charged besides: findings are there already.
func (w *varying) charge() {
	w.reworked()
	w.keepBack()
}

// reworked lays the hours of rework beside the choices, an addition a stage.
func (w *varying) reworked() {
	for i := range w.first.Lines {
		l := &w.first.Lines[i]
		done := w.progress.done(l.Stage)
		if l.Kind != bom.HoursLine || done == 0 {
			continue
		}
		r := ReworkLine{Stage: l.Stage, Trade: l.Code}
		for k := range l.Because {
			b := &l.Because[k]
			more := b.After.Sub(b.Before)
			switch {
			case more.Sign() < 0 && (b.Feature != "" || b.Addition != ""):
				r.Dropped = r.Dropped.Add(percent(more.Neg(), done))
			case more.Sign() > 0 && b.Feature != "" && done == 100:
				r.Added = r.Added.Add(more)
			}
		}
		r.Hours = percent(r.Dropped, int64(w.p.Rule.RemovalPercent)).Add(percent(r.Added, int64(w.p.Rule.RefittingPercent))).Round(2)
		if r.Hours.Sign() > 0 {
			w.rework = append(w.rework, r)
		}
	}
	for i := 0; i < len(w.rework); {
		stage := w.rework[i].Stage
		d := bom.Addition{Code: fmt.Sprintf("rework_%d_%s", w.in.Number, stage), Kind: bom.OneOff, Quantity: 1, Stage: stage, Approved: true}
		if len(d.Code) > 60 {
			d.Code = d.Code[:60]
		}
		d.Words = fmt.Sprintf("Rework at the stage “%s”, which is done", w.stageName(stage))
		net := int64(0)
		for ; i < len(w.rework) && w.rework[i].Stage == stage; i++ {
			r := &w.rework[i]
			d.Hours = append(d.Hours, bom.AdditionHours{Trade: r.Trade, Hours: r.Hours})
			net += w.labour(r.Trade, r.Hours).charge
		}
		w.add(d, pricing.AdditionPrice{Code: d.Code, Price: w.inBasis(net, pricebook.Standard), Treatment: pricebook.Standard})
	}
}

func (w *varying) stageName(code string) string {
	for _, s := range w.in.Offer.Release.Catalogue().Stages {
		if s.Code == code {
			return s.Name
		}
	}
	return code
}

// findingCharged lays a finding beside the choices. Its price, unless the
// proposal gives one, is built up: hours and parts at what they are charged at.
func (w *varying) findingCharged(f *Finding) {
	d := bom.Addition{Code: FindingCode(f.Number), Kind: bom.OneOff, Words: f.Words, Quantity: 1, Stage: f.Stage,
		Hours: f.Hours, Touches: f.Touches, Approved: f.Approved}
	price := pricing.AdditionPrice{Code: d.Code, Treatment: pricebook.Standard}
	net, cost := int64(0), int64(0)
	for _, h := range f.Hours {
		net += w.labour(h.Trade, h.Hours).charge
	}
	for _, p := range f.Parts {
		worth := w.part(p.Part, p.Quantity, w.in.Offer.Book, w.p.Day)
		net, cost = net+worth.charge, cost+worth.cost
		if part := partOf(w.in.Offer.Release.Catalogue(), p.Part); part != nil {
			d.MassKG = d.MassKG.Add(part.MassKG.Mul(p.Quantity)).Round(3)
		}
	}
	price.Price = w.inBasis(net, pricebook.Standard)
	material := w.amountOf(cost)
	price.Cost = &material
	if given := priceIn(w.p.Additions, d.Code); given != nil {
		price.Price, price.Treatment, price.Evidence = given.Price, given.Treatment, given.Evidence
	}
	w.add(d, price)
}

// worth is what something costs and is charged at, without VAT, in minor units.
type worth struct{ cost, charge int64 }

func (w *varying) labour(trade string, hours decimal.Decimal) worth {
	l, ok := w.in.Offer.Book.Labour(trade)
	if !ok {
		return worth{} // the hours on the sheet make it a gap
	}
	return w.times(l.Cost, l.Charge, hours)
}

func (w *varying) times(cost, charge money.Factor, n decimal.Decimal) worth {
	c, err := cost.Minor(n, w.was.Priced.Currency, money.HalfUp)
	h, err2 := charge.Minor(n, w.was.Priced.Currency, money.HalfUp)
	if err != nil || err2 != nil {
		w.fault("too_large", "totals", "An amount of this variation is too large to be money.", "Look for a quantity with digits too many.")
		return worth{}
	}
	return worth{c, h}
}

func (w *varying) part(code string, n decimal.Decimal, book *pricebook.Compiled, day string) worth {
	if p, ok := book.Cost(code, day); ok {
		return w.times(p.Cost, p.Charge, n)
	}
	if p, ok := w.in.Offer.Book.Cost(code, w.p.Day); ok {
		return w.times(p.Cost, p.Charge, n)
	}
	return worth{}
}

// inBasis is so much without VAT as the quote's basis has it under a treatment.
func (w *varying) inBasis(net int64, t pricebook.Treatment) decimal.Decimal {
	if w.asked.Terms.Basis == pricing.Gross {
		rate, ok := w.in.Offer.Book.Percent(t, w.p.Day)
		if num, den, err := money.PercentFraction(rate); ok && err == nil {
			if net, err = money.PartMinor(net, den+num, den, money.HalfUp); err != nil {
				net = 0
			}
		}
	}
	return w.amountOf(net)
}

func (w *varying) amountOf(minor int64) decimal.Decimal {
	return w.money(minor).Decimal()
}

func (w *varying) money(minor int64) money.Amount {
	a, err := money.FromMinor(minor, w.was.Priced.Currency)
	if err != nil {
		w.fault("too_large", "totals", "An amount of this variation is too large to be money.", "Look for a quantity with digits too many.")
	}
	return a
}

// keepBack lays beside the choices what of the credit is kept, an addition for
// each VAT treatment.
func (w *varying) keepBack() {
	w.lost()
	stage := w.keptStage()
	treatments := []pricebook.Treatment{}
	for i := range w.kept {
		w.worthOf(&w.kept[i])
		if t := w.kept[i].Treats; !slices.Contains(treatments, t) {
			treatments = append(treatments, t)
		}
	}
	w.kept = slices.DeleteFunc(w.kept, func(k KeptLine) bool { return k.Kept.IsZero() })
	for n, t := range treatments {
		d := bom.Addition{Code: fmt.Sprintf("kept_%d_%d", w.in.Number, n+1), Kind: bom.OneOff, Quantity: 1, Stage: stage, Approved: true}
		price := pricing.AdditionPrice{Code: d.Code, Treatment: t, Evidence: w.evidence(t)}
		var names []string
		kept, cost := int64(0), int64(0)
		for i := range w.kept {
			if k := &w.kept[i]; k.Treats == t {
				kept, cost = kept+k.Kept.Minor(), cost+k.cost
				names = append(names, k.Name)
			}
		}
		if kept == 0 {
			continue
		}
		d.Words = shortened("Done or ordered already, and not credited: "+strings.Join(names, ", "), bom.MaxAdditionWords)
		spent := w.amountOf(cost)
		price.Price, price.Cost = w.amountOf(kept), &spent
		w.add(d, price)
	}
}

func shortened(text string, most int) string {
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most-1]) + "…"
	}
	return text
}

// keptStage is where the charge stands, at no hours: a stage that is done, else
// one at which there is anything to do.
func (w *varying) keptStage() string {
	for i := range w.progress.Stages {
		if w.progress.Stages[i].DonePercent == 100 {
			return w.progress.Stages[i].Stage
		}
	}
	for i := range w.is.Vans[0].Sheet.Lines {
		return w.is.Vans[0].Sheet.Lines[i].Stage
	}
	return w.in.Offer.Release.Catalogue().Stages[0].Code
}

func (w *varying) evidence(t pricebook.Treatment) string {
	for i := range w.was.Priced.VAT {
		if r := &w.was.Priced.VAT[i]; r.Treatment == t && len(r.Evidence) > 0 {
			return r.Evidence[0]
		}
	}
	return ""
}

// lost gathers, thing by thing that is dropped, what of it is done or cannot go
// back.
func (w *varying) lost() {
	shares := w.lostParts()
	for i := range w.first.Lines {
		l := &w.first.Lines[i]
		done := w.progress.done(l.Stage)
		for k := range l.Because {
			b := &l.Because[k]
			fewer := b.Before.Sub(b.After)
			if fewer.Sign() <= 0 || b.Feature == "" && b.Addition == "" {
				continue
			}
			switch l.Kind {
			case bom.HoursLine:
				if hours := percent(fewer, done); hours.Sign() > 0 {
					k := w.keptOf(b)
					k.Hours = addHours(k.Hours, l.Code, hours)
				}
			case bom.PartLine:
				if share, ok := shares[l.Code]; ok && share.of.Sign() > 0 {
					if n := share.lost.Mul(fewer).DivRound(share.of, 12); n.Sign() > 0 {
						k := w.keptOf(b)
						k.Parts = addPart(k.Parts, l.Code, n)
					}
				}
			case bom.OutsideLine:
				if visits := percent(fewer, done); visits.Sign() > 0 {
					k := w.keptOf(b)
					k.Visits = append(k.Visits, Visit{l.Code, visits})
				}
			case bom.OneOffLine, bom.OwnPartLine:
				w.additionLost(b, done)
			case bom.KitLine, bom.StandingLine: // their parts and hours have lines of their own
			}
		}
	}
}

// additionLost keeps back the price of an addition as far as its stage is done.
func (w *varying) additionLost(b *bom.BecauseDifference, done int64) {
	price := priceIn(w.in.Agreed.Asked.Vans[0].Additions, b.Addition)
	if price == nil || price.Price.Sign() <= 0 || done == 0 || b.Before.IsZero() {
		return // a credit that is dropped is not credited: nothing of it can be kept
	}
	part := b.Before.Sub(b.After).DivRound(b.Before, 12)
	share := func(d decimal.Decimal) int64 {
		a, err := money.Round(percent(d.Mul(part), done), w.was.Priced.Currency, money.HalfUp)
		if err != nil {
			return 0
		}
		return a.Minor()
	}
	k := w.keptOf(b)
	if price.Cost != nil {
		k.cost += share(*price.Cost)
	}
	k.Worth = w.money(k.Worth.Minor() + share(price.Price))
}

// lostShare is how many of a part are lost, of so many that are dropped.
type lostShare struct{ lost, of decimal.Decimal }

// lostParts says, part by part, how many of those dropped cannot be undone for
// nothing: at a stage that is done all of them; of others as many as are neither
// still to be ordered nor can go back. What one thing drops and another takes
// is not lost.
func (w *varying) lostParts() map[string]lostShare {
	type sums struct{ doneBefore, before, doneFewer, fewer, asked decimal.Decimal }
	all := map[string]*sums{}
	of := func(code string) *sums {
		if all[code] == nil {
			all[code] = &sums{}
		}
		return all[code]
	}
	for i := range w.was.Sheet.Lines {
		l := &w.was.Sheet.Lines[i]
		if l.Kind == bom.PartLine && l.Code != "" {
			if s := of(l.Code); w.progress.done(l.Stage) == 100 {
				s.doneBefore = s.doneBefore.Add(l.Quantity)
			} else {
				s.before = s.before.Add(l.Quantity)
			}
		}
	}
	for i := range w.first.Lines {
		l := &w.first.Lines[i]
		if l.Kind != bom.PartLine || l.Code == "" {
			continue
		}
		s, fewer := of(l.Code), l.More().Neg()
		if w.progress.done(l.Stage) == 100 {
			s.doneFewer = s.doneFewer.Add(fewer)
		} else {
			s.fewer = s.fewer.Add(fewer)
		}
		for k := range l.Because {
			if b := &l.Because[k]; b.Feature != "" || b.Addition != "" {
				s.asked = s.asked.Add(decimal.Max(decimal.Zero, b.Before.Sub(b.After)))
			}
		}
	}
	shares := make(map[string]lostShare, len(all))
	for code, s := range all {
		p := w.progress.part(code)
		had := p.Ordered.Add(p.Here).Add(decimal.Max(decimal.Zero, p.Fitted.Sub(s.doneBefore)))
		free := decimal.Max(decimal.Zero, s.before.Sub(had))
		lost := decimal.Max(decimal.Zero, s.fewer.Sub(free).Sub(p.CanGoBack)).Add(decimal.Max(decimal.Zero, s.doneFewer))
		shares[code] = lostShare{lost: decimal.Min(lost, decimal.Max(decimal.Zero, s.fewer.Add(s.doneFewer))), of: s.asked}
	}
	return shares
}

func (w *varying) keptOf(b *bom.BecauseDifference) *KeptLine {
	code := b.Feature
	if b.Addition != "" {
		code = b.Addition
	}
	for i := range w.kept {
		if w.kept[i].Code == code && w.kept[i].Removal == b.Removal {
			return &w.kept[i]
		}
	}
	w.kept = append(w.kept, KeptLine{Code: code, Removal: b.Removal, Name: w.nameOf(code), Worth: w.money(0)})
	return &w.kept[len(w.kept)-1]
}

func (w *varying) nameOf(code string) string {
	if f, ok := w.in.Offer.Book.Feature(code); ok {
		return f.Feature.Name
	}
	if d := additionIn(w.in.Agreed.Asked.Vans[0].Choices.Additions, code); d != nil {
		return d.Words
	}
	return code
}

func addHours(list []bom.AdditionHours, trade string, hours decimal.Decimal) []bom.AdditionHours {
	for i := range list {
		if list[i].Trade == trade {
			list[i].Hours = list[i].Hours.Add(hours)
			return list
		}
	}
	return append(list, bom.AdditionHours{Trade: trade, Hours: hours})
}

func addPart(list []FindingPart, part string, n decimal.Decimal) []FindingPart {
	for i := range list {
		if list[i].Part == part {
			list[i].Quantity = list[i].Quantity.Add(n)
			return list
		}
	}
	return append(list, FindingPart{Part: part, Quantity: n})
}

// worthOf prices what is kept back of one thing, and holds it against what
// dropping that takes off: nobody pays more for what is dropped than it was.
func (w *varying) worthOf(k *KeptLine) {
	book, day := w.heldBook(), w.was.Priced.Day
	for i := range k.Hours {
		h := &k.Hours[i]
		h.Hours = h.Hours.Round(2)
		if l, ok := book.Labour(h.Trade); ok {
			k.add(w.times(l.Cost, l.Charge, h.Hours))
		}
	}
	for i := range k.Parts {
		p := &k.Parts[i]
		p.Quantity = p.Quantity.Round(6)
		k.add(w.part(p.Part, p.Quantity, book, day))
	}
	for _, v := range k.Visits {
		if o, ok := book.Outside(v.Outside); ok {
			k.add(w.times(o.Cost, o.Charge, v.Quantity))
		}
	}
	was, treats := w.linesOf(&w.was.Priced, k)
	is, _ := w.linesOf(&w.is.Vans[0].Priced, k)
	k.Treats = treats
	k.Worth = w.money(k.Worth.Minor() + w.minorOf(w.inBasis(k.net, treats)))
	k.Kept = k.Worth
	if off := was - is; off > 0 {
		credited := w.money(off)
		k.Credited = &credited
		k.Kept = w.money(min(off, k.Worth.Minor()))
	}
}

func (k *KeptLine) add(x worth) { k.cost, k.net = k.cost+x.cost, k.net+x.charge }

func (w *varying) minorOf(d decimal.Decimal) int64 {
	a, err := money.New(d, w.was.Priced.Currency)
	if err != nil {
		return 0
	}
	return a.Minor()
}

// heldBook is the edition the job was priced with, else today's.
func (w *varying) heldBook() *pricebook.Compiled {
	for _, b := range w.in.Offer.HeldBooks {
		if b.Edition().Code == w.was.Priced.Edition {
			return b
		}
	}
	return w.in.Offer.Book
}

// linesOf is what the lines of one thing come to, and their VAT treatment.
func (w *varying) linesOf(p *pricing.Priced, k *KeptLine) (minor int64, treats pricebook.Treatment) {
	treats = pricebook.Standard
	found := false
	for i := range p.Lines {
		l := &p.Lines[i]
		if l.Code != k.Code || (l.Kind == pricing.RemovalLine) != k.Removal {
			continue
		}
		switch l.Kind {
		case pricing.PackageLine, pricing.FinishLine, pricing.DiscountLine, pricing.PromiseLine:
			continue
		}
		minor += l.Amount.Minor()
		if !found {
			treats, found = l.Treatment, true
		}
	}
	return minor, treats
}
