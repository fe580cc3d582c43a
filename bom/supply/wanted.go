package supply

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
)

// Wanted is what a job wants by its build sheet and the days of its stages.
// With no days it has wants without a day. A stage the slot leaves out leaves
// its wants without one too.
//
// Parts that several kits and the stage itself ask for stand together on the
// sheet, rounded up once; here each has its own share to the millionth, and
// what the rounding added goes to the van itself, or, where nothing goes there,
// to the last kit. So the wants of a line add up to the line. A customer's own
// part is no want of ours, consumables are never counted, hours are not here.
//
// Error: ErrDay.
func Wanted(job string, c *catalogue.Catalogue, sheet *bom.Sheet, stages []schedule.StageDays, working calendar.Calendar) (Needs, error) {
	w, err := wantingOn(job, c, stages, working)
	if err != nil {
		return Needs{}, err
	}
	for i := range sheet.Lines {
		if err := w.line(&sheet.Lines[i]); err != nil {
			return Needs{}, err
		}
	}
	return w.needs, nil
}

// On are the same needs on the days of other stages: what Wanted would give of
// the same sheet with them.
//
// Error: ErrDay.
func (n *Needs) On(c *catalogue.Catalogue, stages []schedule.StageDays, working calendar.Calendar) (Needs, error) {
	w, err := wantingOn("", c, stages, working)
	if err != nil {
		return Needs{}, err
	}
	dated := Needs{Wants: slices.Clone(n.Wants), ToppedUp: slices.Clone(n.ToppedUp), Open: slices.Clone(n.Open), OneOffs: slices.Clone(n.OneOffs)}
	for _, list := range [][]Want{dated.Wants, dated.ToppedUp, dated.OneOffs} {
		for i := range list {
			l := &list[i]
			if l.Day, err = w.day(l.Stage, l.Via); err != nil {
				return Needs{}, err
			}
			l.Until = w.on[l.Stage].Until
		}
	}
	for i := range dated.Open {
		if dated.Open[i].Day, err = w.day(dated.Open[i].Stage, dated.Open[i].Via); err != nil {
			return Needs{}, err
		}
	}
	return dated, nil
}

func wantingOn(job string, c *catalogue.Catalogue, stages []schedule.StageDays, working calendar.Calendar) (*wanting, error) {
	w := &wanting{job: job, days: daysOf(working), bench: make(map[string]int), on: make(map[string]schedule.StageDays, len(stages))}
	for i := range c.Kits {
		if k := &c.Kits[i]; k.BenchDays > 0 {
			w.bench[k.Code] = k.BenchDays
		}
	}
	for _, s := range stages {
		if !calendar.Valid(s.From) || !calendar.Valid(s.Until) {
			return nil, fmt.Errorf("stage %s from %q until %q: %w", s.Stage, s.From, s.Until, ErrDay)
		}
		w.on[s.Stage] = s
	}
	return w, nil
}

type wanting struct {
	job   string
	days  *days
	bench map[string]int
	on    map[string]schedule.StageDays
	needs Needs
}

func (w *wanting) line(l *bom.Line) error {
	want := Want{Job: w.job, Stage: l.Stage, Code: l.Code, Name: l.Name, Unit: l.Unit, Provision: l.Provision, Quantity: l.Quantity}
	switch l.Kind {
	case bom.OutsideLine:
		want.Kind, want.Day, want.Until = Outside, w.on[l.Stage].From, w.on[l.Stage].Until
		w.needs.Wants = append(w.needs.Wants, want)
	case bom.OneOffLine:
		want.Kind, want.Day, want.Until = Part, w.on[l.Stage].From, w.on[l.Stage].Until
		w.needs.OneOffs = append(w.needs.OneOffs, want)
	case bom.KitLine:
		want.Kind = Kit
		return w.shares(l, want)
	case bom.PartLine:
		if l.Provision == catalogue.Consumable {
			return nil
		}
		want.Kind = Part
		return w.shares(l, want)
	case bom.HoursLine, bom.StandingLine, bom.OwnPartLine:
	}
	return nil
}

// shares gives what each way into the van takes of a line.
func (w *wanting) shares(l *bom.Line, want Want) error {
	var ways []way
	for i := range l.Because {
		b := &l.Because[i]
		at := slices.IndexFunc(ways, func(y way) bool { return slices.Equal(y.via, b.Via) })
		if at < 0 {
			at, ways = len(ways), append(ways, way{via: b.Via})
		}
		ways[at].quantity = ways[at].quantity.Add(b.Quantity)
	}
	for _, y := range settled(l.Quantity, ways) {
		day, err := w.day(l.Stage, y.via)
		if err != nil {
			return err
		}
		want.Quantity, want.Via, want.Day, want.Until = y.quantity, y.via, day, w.on[l.Stage].Until
		switch {
		case l.Code == "":
			w.needs.Open = append(w.needs.Open, Open{w.job, l.Stage, l.Finish, l.Name, l.Unit, y.quantity, day, y.via})
		case l.Kind == bom.PartLine && l.Provision == catalogue.ToppedUp:
			w.needs.ToppedUp = append(w.needs.ToppedUp, want)
		default:
			w.needs.Wants = append(w.needs.Wants, want)
		}
	}
	return nil
}

// way is one way of a part into the van.
type way struct {
	via      []string
	quantity decimal.Decimal
}

// settled cuts what each way takes to millionths so that they add up to the
// line: what is over or short is the van's own, then the last kit's.
func settled(line decimal.Decimal, ways []way) []way {
	slices.SortStableFunc(ways, func(a, b way) int { return slices.Compare(b.via, a.via) }) // the van itself last
	left := line
	for i := range ways {
		ways[i].quantity = decimal.Max(decimal.Zero, decimal.Min(ways[i].quantity.Truncate(places), left))
		if i == len(ways)-1 {
			ways[i].quantity = left
		}
		left = left.Sub(ways[i].quantity)
	}
	return slices.DeleteFunc(ways, func(y way) bool { return y.quantity.IsZero() })
}

// day on which something is wanted that goes into the van by way of kits.
func (w *wanting) day(stage string, via []string) (string, error) {
	working := 0
	for _, kit := range via {
		working += w.bench[kit]
	}
	return w.days.back(w.on[stage].From, working)
}

// Items are how the parts, kits and outside work of a catalogue are had, as
// far as the catalogue says: kits with their bench days, and whether they are
// made to measure. Of parts and outside work whoever knows suppliers says the
// rest; until then they are Unsourced.
func Items(c *catalogue.Catalogue) []Item {
	items := make([]Item, 0, len(c.Parts)+len(c.Kits)+len(c.OutsideWork))
	for i := range c.Parts {
		items = append(items, Item{Code: c.Parts[i].Code, Kind: Part, Unsourced: true, Multiple: decimal.New(1, -int32(c.Parts[i].Decimals))})
	}
	measured := madeToMeasure(c)
	for i := range c.Kits {
		k := &c.Kits[i]
		items = append(items, Item{Code: k.Code, Kind: Kit, LeadDays: k.BenchDays, Measured: measured[k.Code]})
	}
	for i := range c.OutsideWork {
		items = append(items, Item{Code: c.OutsideWork[i].Code, Kind: Outside, Unsourced: true, Multiple: decimal.New(1, 0)})
	}
	return items
}

// madeToMeasure are the kits whose quantities or finishes depend on the van,
// or those of a kit inside them do.
func madeToMeasure(c *catalogue.Catalogue) map[string]bool {
	kits := make(map[string]*catalogue.Kit, len(c.Kits))
	for i := range c.Kits {
		kits[c.Kits[i].Code] = &c.Kits[i]
	}
	known := make(map[string]bool, len(kits))
	var measured func(code string) bool
	measured = func(code string) bool {
		is, done := known[code]
		if k := kits[code]; !done && k != nil {
			known[code] = false // a circle, which a catalogue has not, ends here
			is = slices.ContainsFunc(k.Items, func(i catalogue.KitItem) bool {
				return i.Finish != "" || !plainNumber(i.Quantity) || i.Kit != "" && measured(i.Kit)
			})
			known[code] = is
		}
		return is
	}
	for code := range kits {
		measured(code)
	}
	return known
}

// plainNumber says whether a formula is a number as written; none is one.
func plainNumber(formula string) bool {
	return strings.Trim(strings.TrimSpace(formula), "0123456789.") == ""
}
