package catalogue

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// A catalogue put into words, for Compare: every value of every thing is in one
// of its fields or lists, so that no change goes by unseen (a test changes each).

// inWords is a catalogue with the names of what its codes stand for.
type inWords struct {
	c     *Catalogue
	names map[string]string // by section and code
}

// inWordsOf makes two catalogues ready. Both say the later one's names, so that
// what has another name is told once and not at every line that asks for it.
func inWordsOf(was, is *Catalogue) (a, b *inWords) {
	names := map[string]string{}
	for _, c := range []*Catalogue{was, is} {
		for i := range c.Trades {
			names["trade/"+c.Trades[i].Code] = c.Trades[i].Name
		}
		for i := range c.Stages {
			names["stage/"+c.Stages[i].Code] = c.Stages[i].Name
		}
		for i := range c.BaseVans {
			names["van/"+c.BaseVans[i].Code] = c.BaseVans[i].Name
		}
		for i := range c.Groups {
			names["group/"+c.Groups[i].Code] = c.Groups[i].Name
		}
		for i := range c.Features {
			names["feature/"+c.Features[i].Code] = c.Features[i].Name
		}
		for i := range c.Finishes {
			names["finish/"+c.Finishes[i].Code] = c.Finishes[i].Name
		}
		for i := range c.Parts {
			names["part/"+c.Parts[i].Code] = c.Parts[i].Name
		}
		for i := range c.Kits {
			names["kit/"+c.Kits[i].Code] = c.Kits[i].Name
		}
		for i := range c.Positions {
			names["position/"+c.Positions[i].Code] = c.Positions[i].Name
		}
		for i := range c.OutsideWork {
			names["outside/"+c.OutsideWork[i].Code] = c.OutsideWork[i].Name
		}
	}
	return &inWords{was, names}, &inWords{is, names}
}

// named is a thing by its name and code: two may have the same name.
func (w *inWords) named(section, code string) string {
	name := w.names[section+"/"+code]
	if name == "" || code == "" {
		return code
	}
	return name + " (" + code + ")"
}

// sectionsInWords are the sections in their order.
var sectionsInWords = []struct {
	section Section
	key     string
	of      func(*inWords) []item
}{
	{OfTrades, "trades", (*inWords).trades},
	{OfStages, "stages", (*inWords).stages},
	{OfBaseVans, "base_vans", (*inWords).baseVans},
	{OfGroups, "groups", (*inWords).groups},
	{OfFeatures, "features", (*inWords).features},
	{OfFinishes, "finishes", (*inWords).finishes},
	{OfPackages, "packages", (*inWords).packages},
	{OfRules, "rules", (*inWords).rules},
	{OfSafetyRules, "safety_rules", (*inWords).safetyRules},
	{OfFigures, "figures", (*inWords).figures},
	{OfChecks, "checks", (*inWords).checks},
	{OfParts, "parts", (*inWords).parts},
	{OfKits, "kits", (*inWords).kits},
	{OfOutsideWork, "outside_work", (*inWords).outsideWork},
	{OfPositions, "positions", (*inWords).positions},
	{OfLoads, "loads", (*inWords).loads},
	{OfClassFeatures, "class_features", (*inWords).classFeatures},
	{OfEvidence, "evidence", (*inWords).evidence},
}

var plurals = map[Section]string{
	OfTrades: "trades", OfStages: "stages", OfBaseVans: "base vans", OfGroups: "groups", OfFeatures: "features", OfFinishes: "finishes",
	OfPackages: "packages", OfRules: "rules", OfSafetyRules: "safety rules", OfFigures: "figures", OfChecks: "checks", OfParts: "parts",
	OfKits: "kits", OfOutsideWork: "kinds of outside work",
	OfPositions: "positions", OfLoads: "loads", OfClassFeatures: "class features", OfEvidence: "papers",
}

// inOrder puts a list into items.
func inOrder[T any](list []T, one func(*T) item) []item {
	items := make([]item, len(list))
	for i := range list {
		items[i] = one(&list[i])
	}
	return items
}

func entries[T any](list []T, one func(*T) entry) []entry {
	out := make([]entry, len(list))
	for i := range list {
		out[i] = one(&list[i])
	}
	return out
}

// inQuotes is a text as a sentence has it; "" stays so.
func inQuotes(text string) string {
	if text == "" {
		return ""
	}
	return strconv.Quote(text)
}

func yesOrNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// number is a count; 0 is none.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func (w *inWords) trades() []item {
	return inOrder(w.c.Trades, func(t *Trade) item {
		return item{code: t.Code, name: t.Name, fields: []field{{"name", "its name", inQuotes(t.Name)}}}
	})
}

func (w *inWords) stages() []item {
	return inOrder(w.c.Stages, func(s *Stage) item {
		people := ""
		if s.MostPeople > 0 {
			people = strconv.Itoa(s.MostPeople)
		}
		return item{code: s.Code, name: s.Name,
			fields: []field{
				{"name", "its name", inQuotes(s.Name)},
				{"most_people", "how many may work at it at once", people},
				{"where", "where it is done", string(s.Where)},
			},
			lists: []list{
				{"after", "comes after", entries(s.After, func(code *string) entry { return entry{*code, w.named("stage", *code)} })},
				{"lines", "takes", entries(s.Lines, w.line)},
				{"holds", "waits for", entries(s.Holds, w.hold)},
			}}
	})
}

// hold is told from others by its code.
func (w *inWords) hold(h *StageHold) entry {
	text := fmt.Sprintf("%s (a %s", h.Code, h.Until)
	if h.Outside != "" {
		text += " of " + w.named("outside", h.Outside)
	}
	if h.Stage != "" {
		text += ", after " + w.named("stage", h.Stage)
	}
	return entry{h.Code, text + "): " + strconv.Quote(h.Says)}
}

func (w *inWords) baseVans() []item {
	return inOrder(w.c.BaseVans, func(v *BaseVan) item {
		return item{code: v.Code, name: v.Name, fields: []field{{"name", "its name", inQuotes(v.Name)}},
			lists: []list{
				{"facts", "has", entries(v.Facts, func(f *Fact) entry { return entry{f.Name, f.Name + " = " + f.inWords()} })},
				{"particulars", "may differ in", entries(v.Particulars, func(p *Particular) entry {
					return entry{p.Name, p.Name + ": " + strings.Join(quotedAll(p.Values), ", ")}
				})},
				{"fitted", "comes with", w.fitted(v.Fitted)},
			}}
	})
}

func quotedAll(list []string) []string {
	out := make([]string, len(list))
	for i, text := range list {
		out[i] = strconv.Quote(text)
	}
	return out
}

func (f *Fact) inWords() string {
	switch f.Kind {
	case NumberFact:
		return f.Number.String()
	case TextFact:
		return strconv.Quote(f.Text)
	case YesNoFact:
		return yesOrNo(f.Yes)
	}
	return ""
}

// fitted are features with their numbers. A number left out is no other than 1
// to whoever reads it, and another to the hash.
func (w *inWords) fitted(list []Fitted) []entry {
	return entries(list, func(f *Fitted) entry {
		text := w.named("feature", f.Feature)
		if f.Count > 0 {
			text = strconv.Itoa(f.Count) + " × " + text
		}
		return entry{f.Feature, text}
	})
}

func (w *inWords) groups() []item {
	return inOrder(w.c.Groups, func(g *Group) item {
		return item{code: g.Code, name: g.Name, fields: []field{
			{"name", "its name", inQuotes(g.Name)},
			{"stage", "the stage by which it is asked", w.named("stage", g.Stage)},
			{"pick", "how many may be picked", string(g.Pick)},
			{"when", "the condition under which it is offered", g.When},
			{"required", "the condition under which one must be picked", g.Required},
			{"says", "what it says", inQuotes(g.Says)},
			{"position", "where its features sit", w.named("position", g.Position)},
		}, lists: []list{{"default", "has the default", w.fitted(g.Default)}}}
	})
}

func (w *inWords) features() []item {
	return inOrder(w.c.Features, func(f *Feature) item {
		count, removal := "", ""
		var removed []Line
		if f.Count != nil {
			count = fmt.Sprintf("%d to %d", f.Count.Least, f.Count.Most)
		}
		if f.Removal != nil {
			removal, removed = f.Removal.MassKG.String()+" kg", f.Removal.Lines
		}
		return item{code: f.Code, name: f.Name, fields: []field{
			{"name", "its name", inQuotes(f.Name)},
			{"group", "its group", w.named("group", f.Group)},
			{"says", "what it says", inQuotes(f.Says)},
			{"shows", "what is shown of it at the handover", inQuotes(f.Shows)},
			{"count", "how many there may be", count},
			{"follower", "that it only comes with others", yesOrNo(f.Follower)},
			{"not_sold", "that it is not sold", yesOrNo(f.NotSold)},
			{"supply_only", "that parts are supplied only", yesOrNo(f.SupplyOnly)},
			{"position", "where it sits", w.named("position", f.Position)},
			{"warranty_months", "the months of warranty", number(f.WarrantyMonths)},
			{"removal/mass_kg", "what is taken off the van when it is removed", removal},
		}, lists: []list{
			{"vans", "is for", w.vans(f.Vans)},
			{"caution", "has the caution", cautions(f.Caution)},
			{"checks_due", "is checked again:", entries(f.ChecksDue, func(c *CheckDue) entry {
				says := fmt.Sprintf("%s every %d months", strconv.Quote(c.Name), c.EveryMonths)
				if c.Cites != "" {
					says += " (" + c.Cites + ")"
				}
				return entry{c.Name, says}
			})},
			{"leaves_out", "leaves out:", entries(f.LeavesOut, func(s *string) entry { return entry{*s, strconv.Quote(*s)} })},
			{"lines", "takes", entries(f.Lines, w.line)},
			{"removal/lines", "takes, to be removed,", entries(removed, w.line)},
		}}
	})
}

func (w *inWords) vans(list []string) []entry {
	return entries(list, func(code *string) entry { return entry{*code, w.named("van", *code)} })
}

func cautions(list []Caution) []entry {
	return entries(list, func(c *Caution) entry { return entry{string(*c), string(*c)} })
}

// line is told from others by what it asks for and where.
func (w *inWords) line(l *Line) entry {
	var what, unit string
	switch {
	case l.Part != "":
		what = "of " + w.named("part", l.Part)
	case l.Kit != "":
		what = "of the kit " + w.named("kit", l.Kit)
	case l.Finish != "":
		what = "of the finish " + w.named("finish", l.Finish)
	case l.Trade != "":
		what, unit = "of "+w.named("trade", l.Trade), " h"
	case l.Outside != "":
		what = "of the outside work " + w.named("outside", l.Outside)
	case l.Standing:
		what, unit = "standing", " h"
	}
	quantity := l.Quantity
	if quantity == "" {
		quantity = "one" // not written, which is another thing to the hash than 1
	}
	text := quantity + unit + " " + what + " at " + w.named("stage", l.Stage)
	if l.Once {
		text += ", once for all of them"
	}
	if l.When != "" {
		text += ", when " + l.When
	}
	if l.Position != "" {
		text += ", sitting at " + w.named("position", l.Position)
	}
	if l.Says != "" {
		text += ", " + strconv.Quote(l.Says)
	}
	return entry{what + "\x00" + l.Stage, text}
}

func (w *inWords) finishes() []item {
	return inOrder(w.c.Finishes, func(f *Finish) item {
		return item{code: f.Code, name: f.Name, fields: []field{
			{"name", "its name", inQuotes(f.Name)},
			{"when", "the condition under which it has to be chosen", f.When},
			{"default", "its default", f.Default},
		}, lists: []list{{"choices", "has the choice", entries(f.Choices, func(c *FinishChoice) entry {
			return entry{c.Code, fmt.Sprintf("%s (%s), which is %s", c.Name, c.Code, w.named("part", c.Part))}
		})}}}
	})
}

func (w *inWords) packages() []item {
	return inOrder(w.c.Packages, func(p *Package) item {
		return item{code: p.Code, name: p.Name, fields: []field{
			{"name", "its name", inQuotes(p.Name)},
			{"says", "what it says", inQuotes(p.Says)},
		}, lists: []list{
			{"vans", "is for", w.vans(p.Vans)},
			{"items", "has", w.fitted(p.Items)},
			{"finishes", "includes", entries(p.Finishes, func(f *PackageFinish) entry {
				return entry{f.Finish, w.named("finish", f.Finish) + ": " + f.Choice}
			})},
		}}
	})
}

func (w *inWords) rules() []item {
	return inOrder(w.c.Rules, func(r *Rule) item {
		return item{code: r.Code, says: r.Says, fields: []field{
			{"if", "the condition", r.If},
			{"needs", "what it needs", r.Needs},
			{"clashes", "what it clashes with", r.Clashes},
			{"says", "what it says", inQuotes(r.Says)},
			{"cites", "what it cites", inQuotes(r.Cites)},
		}, lists: []list{{"brings", "brings", w.fitted(r.Brings)}}}
	})
}

func (w *inWords) safetyRules() []item {
	return inOrder(w.c.SafetyRules, func(r *SafetyRule) item {
		return item{code: r.Code, says: r.Says, fields: []field{
			{"if", "the condition", r.If},
			{"holds", "what is sworn to hold", r.Holds},
			{"says", "what it says", inQuotes(r.Says)},
			{"cites", "what it cites", inQuotes(r.Cites)},
		}}
	})
}

func (w *inWords) figures() []item {
	return inOrder(w.c.Figures, func(f *Figure) item {
		return item{code: f.Code, name: f.Name, fields: []field{
			{"name", "its name", inQuotes(f.Name)},
			{"formula", "the formula", f.Formula},
			{"cites", "what it cites", inQuotes(f.Cites)},
		}}
	})
}

func (w *inWords) checks() []item {
	return inOrder(w.c.Checks, func(k *Check) item {
		return item{code: k.Code, name: k.Name, fields: []field{
			{"name", "its name", inQuotes(k.Name)},
			{"grade", "its grade", string(k.Grade)},
			{"when", "the condition under which it is made", k.When},
			{"figure", "the figure", k.Figure},
			{"sense", "how the figure must stand to the limit", string(k.Sense)},
			{"limit", "the limit", k.Limit},
			{"unit", "the unit", k.Unit},
			{"near_percent", "how near is near the limit, in per cent", percent(k.NearPercent)},
			{"says", "what it says", inQuotes(k.Says)},
			{"remedy", "the remedy", inQuotes(k.Remedy)},
			{"cites", "what it cites", inQuotes(k.Cites)},
		}}
	})
}

func (w *inWords) parts() []item {
	return inOrder(w.c.Parts, func(p *Part) item {
		scrap := ""
		if !p.ScrapPercent.IsZero() {
			scrap = p.ScrapPercent.String() + " %"
		}
		return item{code: p.Code, name: p.Name, fields: []field{
			{"name", "its name", inQuotes(p.Name)},
			{"unit", "the unit", string(p.Unit)},
			{"decimals", "to how many places it is counted", number(p.Decimals)},
			{"mass_kg", "the mass of one", p.MassKG.String() + " kg"},
			{"provision", "how it is had", string(p.Provision)},
			{"scrap_percent", "the scrap", scrap},
			{"serial", "that serial numbers are kept", yesOrNo(p.Serial)},
			{"batch", "that batches are kept", yesOrNo(p.Batch)},
			{"warranty_months", "the months of warranty", number(p.WarrantyMonths)},
		}, lists: []list{{"rates", "is used up at", entries(p.Rates, func(r *Rate) entry {
			return entry{r.Trade, r.PerHour.String() + " an hour of " + w.named("trade", r.Trade)}
		})}}}
	})
}

func (w *inWords) kits() []item {
	return inOrder(w.c.Kits, func(k *Kit) item {
		return item{code: k.Code, name: k.Name, fields: []field{
			{"name", "its name", inQuotes(k.Name)},
			{"bench_days", "the days at the bench", number(k.BenchDays)},
		},
			lists: []list{
				{"items", "has", entries(k.Items, w.kitItem)},
				{"hours", "takes", entries(k.Hours, func(h *KitHours) entry {
					return entry{h.Trade, h.Hours + " h of " + w.named("trade", h.Trade)}
				})},
			}}
	})
}

func (w *inWords) kitItem(i *KitItem) entry {
	var what string
	switch {
	case i.Part != "":
		what = w.named("part", i.Part)
	case i.Kit != "":
		what = "the kit " + w.named("kit", i.Kit)
	case i.Finish != "":
		what = "the finish " + w.named("finish", i.Finish)
	}
	quantity := i.Quantity
	if quantity == "" {
		quantity = "one"
	}
	text := quantity + " of " + what
	if i.ScrapPercent != nil {
		text += ", with " + i.ScrapPercent.String() + " % scrap"
	}
	return entry{what, text}
}

func (w *inWords) outsideWork() []item {
	return inOrder(w.c.OutsideWork, func(o *OutsideWork) item {
		return item{code: o.Code, name: o.Name, fields: []field{
			{"name", "its name", inQuotes(o.Name)},
			{"certificate", "the paper it returns", inQuotes(o.Certificate)},
		}, lists: []list{{"caution", "has the caution", cautions(o.Caution)}}}
	})
}

func percent(d decimal.Decimal) string {
	if d.IsZero() {
		return ""
	}
	return d.String()
}

func (w *inWords) positions() []item {
	return inOrder(w.c.Positions, func(p *Position) item {
		return item{code: p.Code, name: p.Name, fields: []field{
			{"name", "its name", inQuotes(p.Name)},
			{"from_front_axle_mm", "how far it is behind the front axle", p.FromFrontAxleMM},
			{"right_of_centre_mm", "how far it is right of the middle", p.RightOfCentreMM},
			{"above_ground_mm", "how high it is", p.AboveGroundMM},
		}}
	})
}

func (w *inWords) loads() []item {
	return inOrder(w.c.Loads, func(l *Load) item {
		return item{code: l.Code, name: l.Name, fields: []field{
			{"name", "its name", inQuotes(l.Name)},
			{"kind", "its kind", string(l.Kind)},
			{"mass_kg", "its mass", l.MassKG},
			{"position", "where it sits", w.named("position", l.Position)},
			{"running_order_percent", "how much of it counts in running order, in per cent", percent(l.RunningOrderPercent)},
			{"cites", "what it cites", inQuotes(l.Cites)},
		}}
	})
}

func (w *inWords) classFeatures() []item {
	return inOrder(w.c.ClassFeatures, func(f *ClassFeature) item {
		return item{code: f.Code, name: f.Name, fields: []field{
			{"name", "its name", inQuotes(f.Name)},
			{"list", "its list", string(f.List)},
			{"when", "the condition under which it is looked at", f.When},
			{"holds", "the condition that must hold", f.Holds},
			{"cites", "what it cites", inQuotes(f.Cites)},
		}}
	})
}

func (w *inWords) evidence() []item {
	return inOrder(w.c.Evidence, func(e *Evidence) item {
		return item{code: e.Code, name: e.Name, fields: []field{
			{"name", "its name", inQuotes(e.Name)},
			{"by", "who gives it", inQuotes(e.By)},
			{"due", "what it is due before", string(e.Due)},
			{"when", "the condition under which it is due", e.When},
			{"says", "what it says", inQuotes(e.Says)},
			{"cites", "what it cites", inQuotes(e.Cites)},
		}}
	})
}
