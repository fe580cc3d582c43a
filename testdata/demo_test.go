package testdata_test

import (
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/testdata"
)

// demo is the demo workshop, read and compiled once for all tests.
type demo struct {
	catalogue *catalogue.Catalogue
	release   *bom.Release
	editions  []*pricebook.Edition
	book      *pricebook.Book
}

var theDemo = sync.OnceValues(func() (*demo, error) {
	c, at, faults := catalogue.Decode(folder("demo/catalogue"))
	if err := faults.Err(); err != nil {
		return nil, err
	}
	d := &demo{catalogue: c}
	d.release, faults = bom.Compile(c)
	if err := at.Locate(faults).Err(); err != nil {
		return nil, err
	}
	var compiled []*pricebook.Compiled
	for _, f := range folder("demo/pricebook") {
		e, at, faults := pricebook.Decode([]document.File{f})
		if err := faults.Err(); err != nil {
			return nil, err
		}
		k, faults := pricebook.Compile(c, e)
		if err := at.Locate(faults).Err(); err != nil {
			return nil, err
		}
		d.editions, compiled = append(d.editions, e), append(compiled, k)
	}
	d.book, faults = pricebook.NewBook(compiled...)
	return d, faults.Err()
})

func folder(name string) []document.File {
	entries, err := fs.ReadDir(testdata.Demo, name)
	if err != nil {
		panic(err)
	}
	var files []document.File
	for _, e := range entries {
		files = append(files, file(path.Join(name, e.Name())))
	}
	return files
}

func file(name string) document.File {
	data, err := fs.ReadFile(testdata.Demo, name)
	if err != nil {
		panic(err)
	}
	return document.File{Name: name, Data: data}
}

func workshop(t *testing.T) *demo {
	t.Helper()
	d, err := theDemo()
	if err != nil {
		t.Fatalf("the demo has faults:\n%v", err)
	}
	return d
}

// choices is a file of choices, as docs/choices.md describes it.
type choices struct {
	Van     bom.Van        `yaml:"van"`
	Choices bom.Choices    `yaml:"choices"`
	Terms   *pricing.Terms `yaml:"terms"`
}

// worked is what a file of choices comes to.
type worked struct {
	choices choices
	bom.Resolution
	sheet  bom.Sheet
	priced pricing.Priced
}

func (d *demo) quote(t *testing.T, name string) *worked {
	t.Helper()
	w := &worked{}
	_, faults := document.Decode(file("demo/choices/"+name+".yaml"), &w.choices, "wainscot-choices/1")
	if len(faults) > 0 {
		t.Fatalf("%s:\n%v", name, faults)
	}
	w.work(t, d)
	return w
}

// work resolves, expands and prices the choices.
func (w *worked) work(t *testing.T, d *demo) {
	t.Helper()
	var faults document.Faults
	var err error
	w.Resolution, faults, err = bom.Resolve(d.release, w.choices.Van, w.choices.Choices, bom.SettleByDefaults)
	if err != nil || len(faults) > 0 {
		t.Fatalf("resolve: %v\n%v", err, faults)
	}
	w.sheet = bom.Expand(d.release, w.Specification)
	terms := pricing.Terms{Basis: pricing.Gross, Day: "2026-11-25"}
	if w.choices.Terms != nil {
		terms = *w.choices.Terms
	}
	book, ok := d.book.InForce(terms.Day)
	if !ok {
		t.Fatalf("no edition is in force on %s", terms.Day)
	}
	if w.priced, err = pricing.Price(w.sheet, w.Specification, book, terms); err != nil {
		t.Fatalf("price: %v", err)
	}
}

// counts gives how many of each feature are there, and how many are fitted.
func (w *worked) counts() (there, fit map[string]int) {
	there, fit = map[string]int{}, map[string]int{}
	for _, f := range w.Specification.Features {
		there[f.Code], fit[f.Code] = f.Count, f.Fit
	}
	return there, fit
}

func (w *worked) figure(t *testing.T, code string) decimal.Decimal {
	t.Helper()
	for _, f := range w.sheet.Figures {
		if f.Code == code {
			return f.Value
		}
	}
	t.Fatalf("there is no figure %s", code)
	return decimal.Decimal{}
}

func (w *worked) stageHours(code string) decimal.Decimal {
	for _, s := range w.sheet.Stages {
		if s.Stage == code {
			return s.Hours
		}
	}
	return decimal.Decimal{}
}

// putAside names what was put aside: the feature, or setting and value.
func (w *worked) putAside() []string {
	var names []string
	for _, p := range w.Answer.PutAside {
		c := w.Said[p.Choice]
		names = append(names, strings.TrimRight(c.Feature+" "+c.Value, " "))
	}
	return names
}

func number(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func TestDemoIsAsBigAsAWorkshop(t *testing.T) {
	d := workshop(t)
	c := d.catalogue
	for _, x := range []struct {
		what      string
		got, want int
	}{
		{"base vans", len(c.BaseVans), 3},
		{"trades", len(c.Trades), 5},
		{"features", len(c.Features), 90},
		{"groups", len(c.Groups), 30},
		{"rules", len(c.Rules), 60},
		{"packages", len(c.Packages), 4},
		{"finishes", len(c.Finishes), 6},
		{"parts", len(c.Parts), 350},
		{"outside work", len(c.OutsideWork), 4},
		{"suppliers", len(d.editions[0].Suppliers), 6},
		{"editions", len(d.editions), 2},
	} {
		if x.got < x.want {
			t.Errorf("%d %s, want at least %d", x.got, x.what, x.want)
		}
	}
	if len(c.Stages) != 12 {
		t.Errorf("%d stages, want 12", len(c.Stages))
	}
	if deep := kitLevels(c); deep < 3 {
		t.Errorf("kits are %d deep, want 3", deep)
	}
	for _, f := range c.Finishes {
		if n := len(f.Choices); n < 4 || n > 8 {
			t.Errorf("finish %s has %d choices, want 4 to 8", f.Code, n)
		}
	}
	size := 0
	for _, name := range []string{"demo/catalogue", "demo/pricebook", "demo/choices"} {
		for _, f := range folder(name) {
			size += len(f.Data)
		}
	}
	if size > 600_000 {
		t.Errorf("the demo takes %d bytes, more than a person can keep", size)
	}
}

// kitLevels is how many kits stand in one another at most.
func kitLevels(c *catalogue.Catalogue) int {
	kits := map[string]*catalogue.Kit{}
	for i := range c.Kits {
		kits[c.Kits[i].Code] = &c.Kits[i]
	}
	var levels func(k *catalogue.Kit) int
	levels = func(k *catalogue.Kit) int {
		most := 0
		for _, i := range k.Items {
			if i.Kit != "" {
				most = max(most, levels(kits[i.Kit]))
			}
		}
		return most + 1
	}
	most := 0
	for _, k := range kits {
		most = max(most, levels(k))
	}
	return most
}

// TestEveryPartIsAskedFor finds parts and kits that nothing wants.
func TestEveryPartIsAskedFor(t *testing.T) {
	c := workshop(t).catalogue
	asked := map[string]bool{}
	lines := func(list []catalogue.Line) {
		for _, l := range list {
			asked["part "+l.Part], asked["kit "+l.Kit], asked["outside "+l.Outside], asked["trade "+l.Trade] = true, true, true, true
		}
	}
	for _, s := range c.Stages {
		lines(s.Lines)
	}
	for _, f := range c.Features {
		lines(f.Lines)
		if f.Removal != nil {
			lines(f.Removal.Lines)
		}
	}
	for _, k := range c.Kits {
		for _, i := range k.Items {
			asked["part "+i.Part], asked["kit "+i.Kit] = true, true
		}
	}
	for _, f := range c.Finishes {
		for _, choice := range f.Choices {
			asked["part "+choice.Part] = true
		}
	}
	for _, p := range c.Parts {
		if !asked["part "+p.Code] && len(p.Rates) == 0 {
			t.Errorf("nothing asks for the part %s", p.Code)
		}
		if (p.Provision == catalogue.Consumable) != (len(p.Rates) > 0) {
			t.Errorf("%s: a consumable has rates, and nothing else has", p.Code)
		}
	}
	for _, k := range c.Kits {
		if !asked["kit "+k.Code] {
			t.Errorf("nothing asks for the kit %s", k.Code)
		}
	}
	for _, o := range c.OutsideWork {
		if !asked["outside "+o.Code] {
			t.Errorf("nothing asks for the outside work %s", o.Code)
		}
	}
	for _, trade := range c.Trades {
		if !asked["trade "+trade.Code] {
			t.Errorf("nothing takes hours of the trade %s", trade.Code)
		}
	}
}

// TestNoFeatureIsDead looks at every base van without anything fitted, in
// every combination of its particulars: what is offered can be had in one.
func TestNoFeatureIsDead(t *testing.T) {
	d := workshop(t)
	for _, base := range d.catalogue.BaseVans {
		alive := map[string]bool{}
		for _, particulars := range combinations(base.Particulars) {
			van := bom.Van{BaseVan: base.Code, Particulars: particulars}
			for _, f := range base.Fitted {
				van.Fitted = append(van.Fitted, bom.FittedItem{Feature: f.Feature, Action: bom.Absent})
			}
			got, faults, err := bom.Resolve(d.release, van, bom.Choices{}, bom.SettleNothing)
			if err != nil || len(faults) > 0 {
				t.Fatalf("%s: %v\n%v", base.Code, err, faults)
			}
			for _, o := range got.Answer.Options {
				if o.Standing != options.RuledOut {
					alive[d.catalogue.Features[o.Feature].Code] = true
				}
			}
		}
		for _, f := range d.catalogue.Features {
			offered := !f.NotSold && (len(f.Vans) == 0 || slices.Contains(f.Vans, base.Code))
			if offered && !alive[f.Code] {
				t.Errorf("%s: %s can never be had", base.Code, f.Code)
			}
		}
	}
}

func combinations(particulars []catalogue.Particular) [][]bom.ParticularValue {
	all := [][]bom.ParticularValue{nil}
	for _, p := range particulars {
		var next [][]bom.ParticularValue
		for _, so := range all {
			for _, v := range p.Values {
				next = append(next, append(slices.Clone(so), bom.ParticularValue{Name: p.Name, Value: v}))
			}
		}
		all = next
	}
	return all
}

func TestEveryChoicesFileIsAQuote(t *testing.T) {
	d := workshop(t)
	for _, f := range folder("demo/choices") {
		name := strings.TrimSuffix(path.Base(f.Name), ".yaml")
		t.Run(name, func(t *testing.T) {
			w := d.quote(t, name)
			if len(w.sheet.Broken) > 0 {
				t.Errorf("broken formulas: %v", w.sheet.Broken)
			}
			if len(w.priced.Gaps) > 0 {
				t.Errorf("gaps in the price: %v", w.priced.Gaps)
			}
			for _, l := range w.sheet.Lines {
				for _, b := range l.Because {
					if b.Says == "" {
						t.Errorf("%s at %s has no reason", l.Name, l.Stage)
					}
				}
				if len(l.Because) == 0 {
					t.Errorf("%s at %s has no reason", l.Name, l.Stage)
				}
			}
			sum := decimal.Zero
			for _, p := range w.priced.Payments {
				sum = sum.Add(p.Amount.Decimal())
			}
			if gross := w.priced.Totals.Gross.Decimal(); !sum.Equal(gross) {
				t.Errorf("the payments come to %s, the total is %s", sum, gross)
			}
			not := bom.Ready(d.release, w.Specification, w.sheet)
			if name == "choices-that-clash" {
				if len(not) == 0 {
					t.Error("choices that clash must not be ready to issue")
				}
				return
			}
			if len(not) > 0 || len(w.Answer.PutAside) > 0 {
				t.Errorf("not ready to issue: %v, put aside: %v", not, w.putAside())
			}
		})
	}
}

func TestFullConversion(t *testing.T) {
	w := workshop(t).quote(t, "full-conversion-short-van")
	if n := len(w.sheet.Lines); n < 150 {
		t.Errorf("%d lines, want at least 150", n)
	}
	for _, s := range w.sheet.Stages {
		if s.Lines == 0 || !s.Hours.IsPositive() {
			t.Errorf("%s: %d lines, %s hours", s.Name, s.Lines, s.Hours)
		}
	}
	between(t, "hours", w.sheet.Hours, "50", "70")
	between(t, "total", w.priced.Totals.Gross.Decimal(), "14000", "28000")
	between(t, "margin", *w.priced.Inside.MarginPercent, "25", "45")
	for _, c := range w.sheet.Checks {
		if !c.Met {
			t.Errorf("%s is not met: %s, %s %s", c.Name, c.Figure, c.Sense, c.Limit)
		}
	}
	windows := 0
	for _, f := range w.Specification.Features {
		if strings.HasPrefix(f.Code, "win_") {
			windows += f.Fit
		}
	}
	if windows != 4 {
		t.Errorf("%d windows, want 4", windows)
	}
	if len(w.sheet.Certificates) != 4 {
		t.Errorf("certificates %v, want gas, mains, seats and the weighbridge's", w.sheet.Certificates)
	}
}

func between(t *testing.T, what string, got decimal.Decimal, least, most string) {
	t.Helper()
	if got.LessThan(number(least)) || got.GreaterThan(number(most)) {
		t.Errorf("%s: %s, want %s to %s", what, got, least, most)
	}
}

// Removing the oven removes what only the oven brought, nothing else, and
// lowers vents and gas input.
func TestWithoutOven(t *testing.T) {
	d := workshop(t)
	with, without := d.quote(t, "full-conversion-short-van"), d.quote(t, "full-conversion-without-oven")
	before, _ := with.counts()
	after, _ := without.counts()
	delete(before, "oven")
	delete(before, "oven_housing")
	if !maps.Equal(before, after) {
		t.Errorf("before, but for the oven:\n%v\nafter:\n%v", before, after)
	}
	for code, want := range map[string][2]string{
		"gas_input_kw":       {"4.8", "3.2"},
		"vents_by_input_mm2": {"13810", "10290"}, // 2200·U + 650·P for 5 people
		"floor_vent_count":   {"4", "3"},
	} {
		if b, a := with.figure(t, code), without.figure(t, code); !b.Equal(number(want[0])) || !a.Equal(number(want[1])) {
			t.Errorf("%s: %s with the oven, %s without; want %s and %s", code, b, a, want[0], want[1])
		}
	}
	if !with.priced.Totals.Gross.Decimal().GreaterThan(without.priced.Totals.Gross.Decimal()) {
		t.Error("leaving out the oven does not make it cheaper")
	}
}

// The same choices on a minibus with glass all round: no window is fitted, and
// there is more to strip out. So it is, too, where nothing is said about what
// the minibus has; then its seats stay and what stands in their place is put
// aside.
func TestTheSameChoicesOnAMinibus(t *testing.T) {
	d := workshop(t)
	short, mini := d.quote(t, "full-conversion-short-van"), d.quote(t, "full-conversion-minibus")
	if a, b := short.choices.Choices, mini.choices.Choices; !slices.Equal(a.Features, b.Features) || !slices.Equal(a.Finishes, b.Finishes) {
		t.Fatal("the two files do not make the same choices")
	}
	bare := &worked{choices: short.choices}
	bare.choices.Van = bom.Van{BaseVan: "minibus", Particulars: short.choices.Van.Particulars}
	bare.work(t, d)
	_, fitShort := short.counts()
	for name, w := range map[string]*worked{"seats out": mini, "as it comes": bare} {
		there, fit := w.counts()
		for code := range fitShort {
			if strings.HasPrefix(code, "win_") && (there[code] != 1 || fit[code] != 0) {
				t.Errorf("%s: %s: %d there, %d fitted", name, code, there[code], fit[code])
			}
		}
		if !w.stageHours("strip_out").GreaterThan(short.stageHours("strip_out")) {
			t.Errorf("%s: strip-out takes %s h, on the short van %s h", name, w.stageHours("strip_out"), short.stageHours("strip_out"))
		}
	}
	between(t, "hours", mini.sheet.Hours, "50", "75")
	if !mini.sheet.Mass.RemovedKG.Equal(number("151.2")) { // two seat rows, the heater
		t.Errorf("%s kg come out, want 151.2", mini.sheet.Mass.RemovedKG)
	}
	if slices.Contains(bare.putAside(), "whole_conversion") {
		t.Error("with its seats in, the whole conversion itself is put aside")
	}
}

func TestPartConversions(t *testing.T) {
	d := workshop(t)
	for _, name := range []string{"roof-only", "windows-only", "trim-only", "roof-kit-supplied"} {
		w := d.quote(t, name)
		if len(w.sheet.LeavesOut) == 0 {
			t.Errorf("%s does not say what it leaves out", name)
		}
		for _, code := range []string{"hob_two", "tank_inside_40", "kitchen_unit", "bed_slide", "mains_hookup"} {
			for _, o := range w.Answer.Options {
				if d.catalogue.Features[o.Feature].Code == code && o.Standing != options.RuledOut {
					t.Errorf("%s offers %s", name, code)
				}
			}
		}
		if name != "roof-kit-supplied" {
			between(t, name, w.sheet.Hours, "8", "20")
			continue
		}
		for _, l := range w.sheet.Lines {
			if l.Kind == bom.HoursLine || l.Kind == bom.OutsideLine || l.Kind == bom.StandingLine {
				t.Errorf("a kit that is only supplied asks for %s %s", l.Kind, l.Name)
			}
		}
	}
}

func TestChoicesThatClash(t *testing.T) {
	w := workshop(t).quote(t, "choices-that-clash")
	want := []string{"win_rear_off_slide", "sockets_mains", "sink_round", "rear_ladder", "finish.fabric hide"}
	if got := w.putAside(); !slices.Equal(got, want) {
		t.Errorf("put aside: %v, want %v", got, want)
	}
}

func TestWhatIsFittedAlready(t *testing.T) {
	w := workshop(t).quote(t, "second-owner-refit")
	there, fit := w.counts()
	for _, kept := range []string{"win_near_fixed", "win_off_fixed", "swivel_driver", "fuse_board", "charge_relay"} {
		if there[kept] != 1 || fit[kept] != 0 {
			t.Errorf("%s: %d there, %d fitted", kept, there[kept], fit[kept])
		}
	}
	if fit["battery_gel"] != 1 {
		t.Error("the battery that is replaced is not fitted anew")
	}
	if there["bulkhead"] != 0 || !w.sheet.Mass.RemovedKG.Equal(number("44.5")) { // bulkhead and old battery
		t.Errorf("bulkhead %d, %s kg come out", there["bulkhead"], w.sheet.Mass.RemovedKG)
	}
	if !w.sheet.Mass.Weighed || !w.sheet.Mass.UnladenKG.Equal(number("1970")) {
		t.Errorf("unladen %s kg, weighed: %v", w.sheet.Mass.UnladenKG, w.sheet.Mass.Weighed)
	}
}

// TestFourVansAWeek holds the demo's hours against a workshop of seven that
// turns out about four vans a week, part conversions included: some 56 hours a
// van. Common practice, no source. The mix is ten weeks' work.
func TestFourVansAWeek(t *testing.T) {
	d := workshop(t)
	mix := []struct {
		name string
		vans int64
	}{
		{"full-conversion-short-van", 12},
		{"full-conversion-without-oven", 2},
		{"full-conversion-minibus", 4},
		{"package-touring", 12},
		{"package-overnighter", 1},
		{"second-owner-refit", 1},
		{"roof-only", 4},
		{"windows-only", 2},
		{"trim-only", 2},
	}
	hours, vans := decimal.Zero, int64(0)
	for _, m := range mix {
		hours = hours.Add(d.quote(t, m.name).sheet.Hours.Mul(decimal.NewFromInt(m.vans)))
		vans += m.vans
	}
	if vans != 40 {
		t.Fatalf("the mix is of %d vans, not ten weeks of four", vans)
	}
	between(t, "hours a van", hours.Div(decimal.NewFromInt(vans)), "54", "58")
}

// Every package can be had as it is on every van it is offered for, complete,
// with a margin, and for less than its parts.
func TestPackages(t *testing.T) {
	d := workshop(t)
	for _, p := range d.catalogue.Packages {
		for _, base := range d.catalogue.BaseVans {
			if len(p.Vans) > 0 && !slices.Contains(p.Vans, base.Code) {
				continue
			}
			van := bom.Van{BaseVan: base.Code, Particulars: []bom.ParticularValue{{Name: "rear_doors", Value: "tailgate"}}}
			for _, f := range base.Fitted {
				van.Fitted = append(van.Fitted, bom.FittedItem{Feature: f.Feature, Action: bom.Absent})
			}
			w := &worked{choices: choices{Van: van, Choices: bom.Choices{Package: p.Code}}}
			w.work(t, d)
			if !w.Specification.Allowed || !w.Specification.Settled || len(w.Specification.PackageChanges) > 0 {
				t.Errorf("%s on %s: %v, put aside %v", p.Code, base.Code, w.Specification.PackageChanges, w.putAside())
			}
			for _, f := range w.Specification.Features {
				if f.Settled {
					t.Errorf("%s on %s does not say %s", p.Code, base.Code, f.Code)
				}
			}
			for _, c := range w.sheet.Checks {
				if !c.Met && c.Grade == catalogue.Must {
					t.Errorf("%s on %s: %s is not met: %s, %s %s", p.Code, base.Code, c.Name, c.Figure, c.Sense, c.Limit)
				}
			}
			between(t, p.Code+" margin", *w.priced.Inside.MarginPercent, "25", "45")
			singly := &worked{choices: choices{Van: van}}
			for _, f := range w.Specification.Features {
				if f.Standing == options.Chosen.String() || f.InPackage {
					c := bom.Choice{Want: f.Code}
					if f.Count > 1 {
						c.Count = f.Count
					}
					singly.choices.Choices.Features = append(singly.choices.Choices.Features, c)
				}
			}
			singly.work(t, d)
			if got, parts := w.priced.Totals.Gross.Decimal(), singly.priced.Totals.Gross.Decimal(); !got.LessThan(parts) {
				t.Errorf("%s on %s costs %s, its parts %s", p.Code, base.Code, got, parts)
			}
		}
	}
}

// What a package's items bring is in its price; what comes with the customer's
// own choices besides is not.
func TestWhatComesWithAPackage(t *testing.T) {
	w := workshop(t).quote(t, "package-touring")
	in := map[string]bool{}
	for _, f := range w.Specification.Features {
		in[f.Code] = f.InPackage
	}
	for code, want := range map[string]bool{
		"roof_elevating": true, "roof_frame": true, "consumer_unit": true,
		"oven": false, "oven_housing": false, "solar_rigid": false, "solar_controller": false,
	} {
		if got, there := in[code]; !there || got != want {
			t.Errorf("%s: there %v, in the package %v, want %v", code, there, got, want)
		}
	}
}

func TestPeople(t *testing.T) {
	var w struct {
		Code     string `yaml:"code"`
		Name     string `yaml:"name"`
		Country  string `yaml:"country"`
		Currency string `yaml:"currency"`
		TimeZone string `yaml:"time_zone"`
		People   []struct {
			Name     string `yaml:"name"`
			Email    string `yaml:"email"`
			Role     string `yaml:"role"`
			Password string `yaml:"password"`
		} `yaml:"people"`
		Letterhead         quote.Letterhead         `yaml:"letterhead"`
		QuoteTerms         string                   `yaml:"quote_terms"`
		NotIncluded        []string                 `yaml:"not_included"`
		ValidDays          int                      `yaml:"valid_days"`
		KeepYears          int                      `yaml:"keep_years"`
		EnquirySources     []string                 `yaml:"enquiry_sources"`
		CancellationRights []quote.CancellationRule `yaml:"cancellation_rights"`
	}
	if _, faults := document.Decode(file("demo/workshop.yaml"), &w, "wainscot-workshop/1"); len(faults) > 0 {
		t.Fatal(faults)
	}
	var roles []string
	for _, p := range w.People {
		roles = append(roles, p.Role)
		if !strings.HasSuffix(p.Email, ".example") || !strings.HasPrefix(p.Password, "demo-") {
			t.Errorf("%s: %s %s", p.Name, p.Email, p.Password)
		}
	}
	if want := []string{"owner", "sales", "workshop", "books"}; !slices.Equal(roles, want) {
		t.Errorf("roles %v, want %v", roles, want)
	}
}
