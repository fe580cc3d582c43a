package job

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// Past is a job that is over: what was quoted, and what it really took.
type Past struct {
	Job          string
	Number       int64
	HandedOverOn string
	Quoted       []QuotedHours
	Worked       []WorkedHours
	Labour       []TradeCost
	Parts        []PastPart
	// Net is what the job came to without VAT, QuotedCost what it was reckoned
	// to cost, by its sheet and the edition it was priced with.
	Net        money.Amount
	QuotedCost money.Amount
	Lines      []PastLine
}

// QuotedHours are hours of one trade at one stage that one thing asked for.
type QuotedHours struct {
	Stage string
	Trade string
	// Feature or Addition that asked; neither for a stage's own.
	Feature  string
	Addition string
	// Fit is how many of the feature were fitted.
	Fit   int
	Hours decimal.Decimal // unrounded
}

// WorkedHours are hours of one trade at one stage that were worked.
type WorkedHours struct {
	Stage string
	Trade string
	Hours decimal.Decimal
}

// TradeCost is what an hour of a trade costs, without VAT.
type TradeCost struct {
	Trade   string
	PerHour decimal.Decimal
}

// PastPart is so much of a part quoted and really used.
type PastPart struct {
	Part         string
	Stage        string
	Quoted, Used decimal.Decimal
	UnitCost     decimal.Decimal
}

// PastLine is what one thing was sold for, and what that was reckoned to cost,
// overhead included.
type PastLine struct {
	Feature string
	Net     money.Amount
	Cost    money.Amount
}

// Retrospect is what can be learned of jobs that are over.
type Retrospect struct {
	Jobs     []PastJob
	Stages   []PastStage
	Features []PastFeature
	// Suggestions are the catalogue's hours that are wrong, those that cost or
	// gave most first.
	Suggestions []Suggestion
}

// PastHours are hours quoted and worked.
type PastHours struct {
	Quoted decimal.Decimal
	Worked decimal.Decimal
}

// PastJob is one job.
type PastJob struct {
	Job    string
	Number int64
	PastHours
	Net        money.Amount
	QuotedCost money.Amount
	// RealCost is the quoted one with the hours worked and the parts used in
	// place of those quoted, at the costs they were quoted at.
	RealCost     money.Amount
	QuotedMargin money.Amount
	RealMargin   money.Amount
}

// PastStage is one stage over all jobs that had it.
type PastStage struct {
	Stage string
	Jobs  int
	PastHours
}

// PastFeature is one feature over all jobs that had it; "" is what the stages
// take by themselves, additions, and what nobody had quoted. Worked is its share of what
// was worked at its stages, in the proportion of what was quoted.
type PastFeature struct {
	Feature string
	Jobs    int
	PastHours
	// Net, and margins, of the lines it had of its own; what is in a package has
	// none.
	Net          money.Amount
	QuotedMargin money.Amount
	RealMargin   money.Amount
}

// Suggestion is an hour of the catalogue that has proved wrong.
type Suggestion struct {
	Feature string // "" for a stage's own
	Stage   string
	Trade   string
	Jobs    int
	// Factor is the weighted median of worked to quoted, to 0.01; Least and Most
	// the ends of what there was.
	Factor decimal.Decimal
	Least  decimal.Decimal
	Most   decimal.Decimal
	// Quoted hours for one, on average, and Suggested: those times Factor, to
	// 0.01.
	Quoted    decimal.Decimal
	Suggested decimal.Decimal
	// Hours that following it would have been nearer by, over all jobs.
	Hours decimal.Decimal
}

// PastRule says when hours count as wrong.
type PastRule struct {
	// LeastJobs that must have had something before its hours are judged.
	LeastJobs int
	// LeastPercent that worked must differ from quoted.
	LeastPercent int
}

// DefaultPastRule is common practice, no source.
var DefaultPastRule = PastRule{LeastJobs: 5, LeastPercent: 10}

// PastOf makes a past of a van as it was agreed in the end, the hours worked and
// the parts used. Of a part of which nothing is recorded, what was quoted counts
// as used. book is the edition that the van was priced with; what it has no cost
// for differs at no cost.
func PastOf(van *quote.Van, worked []WorkedHours, used []PastPart, book *pricebook.Compiled) Past {
	p := Past{Worked: worked, Net: van.Priced.Totals.Net, QuotedCost: money.Zero(van.Priced.Currency)}
	inside := van.Priced.Inside
	if inside != nil {
		p.QuotedCost = inside.Cost
	}
	for i := range van.Sheet.Lines {
		l := &van.Sheet.Lines[i]
		switch l.Kind {
		case bom.HoursLine:
			for k := range l.Because {
				b := &l.Because[k]
				p.Quoted = append(p.Quoted, QuotedHours{Stage: l.Stage, Trade: l.Code, Feature: b.Feature, Addition: b.Addition,
					Fit: fitOf(&van.Specification, b), Hours: b.Quantity})
			}
			p.labour(l.Code, book)
		case bom.PartLine:
			if l.Code != "" && l.Provision == catalogue.ForTheJob {
				p.part(l, used, book, van.Priced.Day)
			}
		case bom.KitLine, bom.OutsideLine, bom.StandingLine, bom.OneOffLine, bom.OwnPartLine:
		}
	}
	for _, w := range worked {
		p.labour(w.Trade, book)
	}
	for i := range used { // of what the sheet has not
		u := used[i]
		if !slices.ContainsFunc(p.Parts, func(o PastPart) bool { return o.Part == u.Part && o.Stage == u.Stage }) {
			u.UnitCost = unitCost(u.Part, book, van.Priced.Day)
			p.Parts = append(p.Parts, u)
		}
	}
	if inside != nil {
		for i := range van.Priced.Lines {
			l := &van.Priced.Lines[i]
			switch l.Kind {
			case pricing.FeatureLine, pricing.IncludedLine, pricing.SwapLine:
				cost, _ := inside.Lines[i].Cost.Add(inside.Lines[i].Overhead) // no more than the whole, which is money
				p.Lines = append(p.Lines, PastLine{Feature: l.Code, Net: l.Net, Cost: cost})
			}
		}
	}
	return p
}

// PastOfVisit is a visit that the customer paid, and what it really took. Nobody
// reckoned its cost when its price was agreed, so it is reckoned by what was to be
// done: hours and parts at the costs of the edition.
func PastOfVisit(sheet *bom.Sheet, priced *pricing.Priced, worked []WorkedHours, used []PastPart, book *pricebook.Compiled) (Past, error) {
	p := PastOf(&quote.Van{Sheet: *sheet, Priced: *priced}, worked, used, book)
	add := func(quantity, unit decimal.Decimal) error {
		cost, err := money.Times(quantity, unit, priced.Currency, money.HalfUp)
		if err == nil {
			p.QuotedCost, err = p.QuotedCost.Add(cost)
		}
		return err
	}
	for i := range sheet.Lines {
		l := &sheet.Lines[i]
		var err error
		switch l.Kind {
		case bom.HoursLine:
			if rate, ok := book.Labour(l.Code); ok {
				err = add(l.Quantity, rate.Cost.Decimal())
			}
		case bom.PartLine:
			err = add(l.Quantity, unitCost(l.Code, book, priced.Day))
		case bom.KitLine, bom.OutsideLine, bom.StandingLine, bom.OneOffLine, bom.OwnPartLine:
		}
		if err != nil {
			return Past{}, err
		}
	}
	return p, nil
}

func fitOf(s *bom.Specification, b *bom.Because) int {
	if b.Removal {
		return 0
	}
	for i := range s.Features {
		if s.Features[i].Code == b.Feature {
			return s.Features[i].Fit
		}
	}
	return 0
}

func (p *Past) labour(trade string, book *pricebook.Compiled) {
	if l, ok := book.Labour(trade); ok && !slices.ContainsFunc(p.Labour, func(c TradeCost) bool { return c.Trade == trade }) {
		p.Labour = append(p.Labour, TradeCost{trade, l.Cost.Decimal()})
	}
}

func (p *Past) part(l *bom.Line, used []PastPart, book *pricebook.Compiled, day string) {
	part := PastPart{Part: l.Code, Stage: l.Stage, Quoted: l.Quantity, Used: l.Quantity, UnitCost: unitCost(l.Code, book, day)}
	for i := range used {
		if u := &used[i]; u.Part == part.Part && u.Stage == part.Stage {
			part.Used = u.Used
		}
	}
	p.Parts = append(p.Parts, part)
}

func unitCost(part string, book *pricebook.Compiled, day string) decimal.Decimal {
	if c, ok := book.Cost(part, day); ok {
		return c.Cost.Decimal()
	}
	return decimal.Zero
}

// LookBack learns what there is to learn of jobs that are over, all in one
// currency.
//
// What was worked is known by stage and trade, what was quoted by what asked for
// it. So worked hours are shared over those that asked at the stage, in the
// proportion of what was quoted for each. A job then says of every hour at a
// stage and trade that it took so many times what was quoted; of the jobs in
// which something was there the weighted median of that is suggested, the
// weight being its part of the hours quoted at the stage and trade: a job in
// which it was nearly all of the stage says more of it than one in which it was
// a tenth. The lower weighted median is the least value with at most half of the
// weight above it (Cormen, Leiserson, Rivest, Stein, Introduction to
// Algorithms, problem 9-2; from memory). It does not move for one job on which
// everything went wrong. Where two things always come together it cannot tell
// which of them is wrong; a person has to.
func LookBack(past []Past, rule PastRule) (Retrospect, error) {
	l := &lookingBack{rule: rule, stages: map[string]*PastStage{}, features: map[string]*PastFeature{}, hours: map[hoursKey]*proved{}}
	for i := range past {
		if err := l.job(&past[i]); err != nil {
			return Retrospect{}, fmt.Errorf("job %d: %w", past[i].Number, err)
		}
	}
	return l.done(), nil
}

// lookingBack is one LookBack in progress.
type lookingBack struct {
	rule     PastRule
	out      Retrospect
	stages   map[string]*PastStage
	features map[string]*PastFeature
	hours    map[hoursKey]*proved
}

type hoursKey struct{ stage, trade, feature string }

// proved is what jobs have shown of one of the catalogue's hours.
type proved struct {
	ratios []weighted
	quoted decimal.Decimal // over all jobs
	fit    int64
}

// weighted is worked to quoted in one job, and how much of the stage it was.
type weighted struct{ ratio, weight, quoted decimal.Decimal }

type stageTrade struct{ stage, trade string }

func (l *lookingBack) job(p *Past) error {
	worked, quoted := map[stageTrade]decimal.Decimal{}, map[stageTrade]decimal.Decimal{}
	var order []stageTrade
	seen := func(k stageTrade) {
		if _, ok := quoted[k]; !ok {
			quoted[k] = decimal.Zero
			order = append(order, k)
		}
	}
	for i := range p.Quoted {
		k := stageTrade{p.Quoted[i].Stage, p.Quoted[i].Trade}
		seen(k)
		quoted[k] = quoted[k].Add(p.Quoted[i].Hours)
	}
	for i := range p.Worked {
		k := stageTrade{p.Worked[i].Stage, p.Worked[i].Trade}
		seen(k)
		worked[k] = worked[k].Add(p.Worked[i].Hours)
	}
	features, stages := map[string]*PastHours{}, map[string]*PastHours{}
	extra := map[string]decimal.Decimal{} // by feature, what its hours cost more than quoted
	job := PastJob{Job: p.Job, Number: p.Number, Net: p.Net, QuotedCost: p.QuotedCost}
	more := decimal.Zero
	for _, k := range order {
		q, w := quoted[k], worked[k]
		job.Quoted, job.Worked = job.Quoted.Add(q), job.Worked.Add(w)
		add(stages, k.stage, q, w)
		perHour := p.perHour(k.trade)
		more = more.Add(w.Sub(q).Mul(perHour))
		l.shared(p, k, q, w, func(feature string, quoted, worked decimal.Decimal) {
			add(features, feature, quoted, worked)
			extra[feature] = extra[feature].Add(worked.Sub(quoted).Mul(perHour))
		})
	}
	for i := range p.Parts {
		more = more.Add(p.Parts[i].Used.Sub(p.Parts[i].Quoted).Mul(p.Parts[i].UnitCost))
	}
	var err error
	if job.RealCost, err = plusCost(p.QuotedCost, more); err != nil {
		return err
	}
	if job.QuotedMargin, err = p.Net.Sub(p.QuotedCost); err != nil {
		return err
	}
	if job.RealMargin, err = p.Net.Sub(job.RealCost); err != nil {
		return err
	}
	l.out.Jobs = append(l.out.Jobs, job)
	for stage, h := range stages {
		s := l.stages[stage]
		if s == nil {
			s = &PastStage{Stage: stage}
			l.stages[stage] = s
		}
		s.Jobs, s.Quoted, s.Worked = s.Jobs+1, s.Quoted.Add(h.Quoted), s.Worked.Add(h.Worked)
	}
	return l.featuresOf(p, features, extra)
}

func add(m map[string]*PastHours, key string, quoted, worked decimal.Decimal) {
	if m[key] == nil {
		m[key] = &PastHours{}
	}
	m[key].Quoted, m[key].Worked = m[key].Quoted.Add(quoted), m[key].Worked.Add(worked)
}

func (p *Past) perHour(trade string) decimal.Decimal {
	for _, c := range p.Labour {
		if c.Trade == trade {
			return c.PerHour
		}
	}
	return decimal.Zero
}

func plusCost(cost money.Amount, more decimal.Decimal) (money.Amount, error) {
	m, err := money.Round(more, cost.Currency(), money.HalfUp)
	if err != nil {
		return cost, err
	}
	return cost.Add(m)
}

// shared gives what was worked at a stage and trade to those that asked, and
// remembers what that says of the catalogue's hours. The last one takes what
// dividing leaves, so that the shares are the whole.
func (l *lookingBack) shared(p *Past, k stageTrade, quoted, worked decimal.Decimal, give func(feature string, quoted, worked decimal.Decimal)) {
	if quoted.Sign() <= 0 {
		give("", quoted, worked)
		return
	}
	left, last := worked, -1
	for i := range p.Quoted {
		if q := &p.Quoted[i]; q.Stage == k.stage && q.Trade == k.trade {
			last = i
		}
	}
	ratio := worked.DivRound(quoted, 12)
	of := map[hoursKey]decimal.Decimal{}
	fit := map[hoursKey]int{}
	for i := range p.Quoted {
		q := &p.Quoted[i]
		if q.Stage != k.stage || q.Trade != k.trade {
			continue
		}
		share := left
		if i != last {
			share = q.Hours.Mul(worked).DivRound(quoted, 12)
		}
		left = left.Sub(share)
		give(q.Feature, q.Hours, share)
		if q.Addition == "" {
			key := hoursKey{k.stage, k.trade, q.Feature}
			of[key] = of[key].Add(q.Hours)
			fit[key] = max(fit[key], q.Fit)
		}
	}
	for key, hours := range of {
		if hours.Sign() <= 0 {
			continue
		}
		h := l.hours[key]
		if h == nil {
			h = &proved{}
			l.hours[key] = h
		}
		h.ratios = append(h.ratios, weighted{ratio: ratio, weight: hours.DivRound(quoted, 12), quoted: hours})
		h.quoted, h.fit = h.quoted.Add(hours), h.fit+int64(max(1, fit[key]))
	}
}

func (l *lookingBack) featuresOf(p *Past, hours map[string]*PastHours, extra map[string]decimal.Decimal) error {
	nothing := money.Zero(p.Net.Currency())
	for code, h := range hours {
		f := l.features[code]
		if f == nil {
			f = &PastFeature{Feature: code, Net: nothing, QuotedMargin: nothing, RealMargin: nothing}
			l.features[code] = f
		}
		f.Jobs, f.Quoted, f.Worked = f.Jobs+1, f.Quoted.Add(h.Quoted), f.Worked.Add(h.Worked)
		sold := false
		for i := range p.Lines {
			line := &p.Lines[i]
			if line.Feature != code || code == "" {
				continue
			}
			margin, err := line.Net.Sub(line.Cost)
			if err != nil {
				return err
			}
			if f.Net, err = f.Net.Add(line.Net); err != nil {
				return err
			}
			if f.QuotedMargin, err = f.QuotedMargin.Add(margin); err != nil {
				return err
			}
			if f.RealMargin, err = f.RealMargin.Add(margin); err != nil {
				return err
			}
			sold = true
		}
		if sold {
			var err error
			if f.RealMargin, err = plusCost(f.RealMargin, extra[code].Neg()); err != nil {
				return err
			}
		}
	}
	return nil
}

func (l *lookingBack) done() Retrospect {
	out := l.out
	for _, s := range l.stages {
		out.Stages = append(out.Stages, *s)
	}
	slices.SortFunc(out.Stages, func(a, b PastStage) int {
		return cmp.Or(b.off().Cmp(a.off()), cmp.Compare(a.Stage, b.Stage))
	})
	for _, f := range l.features {
		out.Features = append(out.Features, *f)
	}
	slices.SortFunc(out.Features, func(a, b PastFeature) int {
		return cmp.Or(b.off().Cmp(a.off()), cmp.Compare(a.Feature, b.Feature))
	})
	slices.SortFunc(out.Jobs, func(a, b PastJob) int {
		return cmp.Or(b.off().Cmp(a.off()), cmp.Compare(a.Number, b.Number))
	})
	for key, h := range l.hours {
		if s, ok := l.rule.suggest(key, h); ok {
			out.Suggestions = append(out.Suggestions, s)
		}
	}
	slices.SortFunc(out.Suggestions, func(a, b Suggestion) int {
		return cmp.Or(b.Hours.Cmp(a.Hours), cmp.Compare(a.Stage, b.Stage), cmp.Compare(a.Trade, b.Trade), cmp.Compare(a.Feature, b.Feature))
	})
	return out
}

// off is by how many hours it was wrong, either way.
func (h *PastHours) off() decimal.Decimal { return h.Worked.Sub(h.Quoted).Abs() }

func (r PastRule) suggest(key hoursKey, h *proved) (Suggestion, bool) {
	if len(h.ratios) < max(1, r.LeastJobs) {
		return Suggestion{}, false
	}
	factor := weightedMedian(h.ratios)
	if factor.Sub(decimal.New(1, 0)).Abs().LessThan(decimal.New(int64(r.LeastPercent), -2)) {
		return Suggestion{}, false
	}
	s := Suggestion{Feature: key.feature, Stage: key.stage, Trade: key.trade, Jobs: len(h.ratios), Factor: factor.Round(2),
		Least: h.ratios[0].ratio, Most: h.ratios[0].ratio}
	for _, w := range h.ratios {
		s.Least, s.Most = decimal.Min(s.Least, w.ratio), decimal.Max(s.Most, w.ratio)
		was, is := w.ratio.Sub(decimal.New(1, 0)).Abs(), w.ratio.Sub(factor).Abs()
		s.Hours = s.Hours.Add(was.Sub(is).Mul(w.quoted))
	}
	s.Least, s.Most, s.Hours = s.Least.Round(2), s.Most.Round(2), s.Hours.Round(2)
	s.Quoted = h.quoted.DivRound(decimal.New(h.fit, 0), 2)
	s.Suggested = h.quoted.Mul(factor).DivRound(decimal.New(h.fit, 0), 2)
	return s, s.Hours.Sign() > 0
}

// weightedMedian is the least ratio with at most half of the weight above it.
func weightedMedian(list []weighted) decimal.Decimal {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b weighted) int { return a.ratio.Cmp(b.ratio) })
	var all, below decimal.Decimal
	for _, w := range list {
		all = all.Add(w.weight)
	}
	for _, w := range list {
		below = below.Add(w.weight)
		if below.Add(below).GreaterThanOrEqual(all) {
			return w.ratio
		}
	}
	return decimal.New(1, 0)
}
