package formula

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// Kind is what a formula or a name gives.
type Kind uint8

// The kinds; zero is invalid.
const (
	Number Kind = iota + 1
	Truth
	Text
)

// String names the kind for people.
func (k Kind) String() string {
	switch k {
	case Number:
		return "a number"
	case Truth:
		return "a yes or no"
	case Text:
		return "a text"
	}
	return "invalid"
}

// Scope is the set of names the formulas of one catalogue may read, and the
// formulas compiled from it so far. It serves all base vans of the catalogue
// and is safe for use by several goroutines.
type Scope struct {
	names  map[string]*name
	sorted []*name // by name
	blank  Values  // what NewValues starts from

	mu       sync.Mutex
	compiled map[formulaKey]compiled
	cost     int // of the calls of all of them
}

// name is one thing formulas may read.
type name struct {
	text string
	is   role
	kind Kind
	unit string // of a number
	at   int32  // index among the numbers or the texts of Values
	// values a text can have; a finish can also be open, "".
	values []string
	// least and most of a counted feature, 0 for anything else.
	least, most int
	weighed     bool // a fact that differs from van to van
}

// role is where a name comes from.
type role uint8

const (
	feature role = iota + 1
	fit
	fact
	particular
	finish
	figure
	sheetTotal
)

// Names of the totals of a build sheet, for checks.
const (
	SheetMassKG = "sheet.mass_kg"
	SheetHours  = "sheet.hours"
	SheetLeftKG = "sheet.left_kg"
	// The van as it leaves, empty, and by axle.
	SheetUnladenKG      = "sheet.unladen_kg"
	SheetUnladenFrontKG = "sheet.unladen_front_kg"
	SheetUnladenRearKG  = "sheet.unladen_rear_kg"
	// In running order, and what is then left of the plated mass.
	SheetRunningOrderKG = "sheet.running_order_kg"
	SheetPayloadKG      = "sheet.payload_kg"
	// With everything aboard, and the most that may ever rest on an axle.
	SheetLadenKG     = "sheet.laden_kg"
	SheetFrontMostKG = "sheet.front_most_kg"
	SheetRearMostKG  = "sheet.rear_most_kg"
)

var sheetTotals = []string{SheetMassKG, SheetHours, SheetLeftKG, SheetUnladenKG, SheetUnladenFrontKG, SheetUnladenRearKG,
	SheetRunningOrderKG, SheetPayloadKG, SheetLadenKG, SheetFrontMostKG, SheetRearMostKG}

// VanNew says whether the van in question is not registered yet.
const VanNew = "van." + catalogue.NewVan

// NewScope gathers the names of a catalogue. The faults are codes that cannot
// be written in a formula (a word CEL keeps for itself) or that two things
// share; the scope is usable all the same, the first of two winning.
func NewScope(c *catalogue.Catalogue) (*Scope, document.Faults) {
	b := builder{scope: &Scope{names: map[string]*name{}, compiled: map[formulaKey]compiled{}}}
	for _, f := range c.Features {
		at := "features/" + f.Code
		n := name{text: f.Code, is: feature, kind: Truth}
		if f.Count != nil {
			n.kind, n.unit, n.least, n.most = Number, Count, f.Count.Least, f.Count.Most
		}
		if b.add(at, n) {
			b.add(at, name{text: "fit." + f.Code, is: fit, kind: Number, unit: Count})
		}
	}
	for _, f := range c.Figures {
		b.add("figures/"+f.Code, name{text: f.Code, is: figure, kind: Number, unit: UnitOf(f.Code)})
	}
	b.vans(c.BaseVans)
	b.add("", name{text: VanNew, is: fact, kind: Truth, weighed: true})
	for _, f := range c.Finishes {
		n := name{text: "finish." + f.Code, is: finish, kind: Text}
		for _, choice := range f.Choices {
			n.values = append(n.values, choice.Code)
		}
		b.add("finishes/"+f.Code, n)
	}
	for _, t := range sheetTotals {
		b.add("", name{text: t, is: sheetTotal, kind: Number, unit: UnitOf(t)})
	}
	s := b.scope
	slices.SortFunc(s.sorted, func(a, b *name) int { return strings.Compare(a.text, b.text) })
	s.blank.scope = s
	return s, b.faults
}

type builder struct {
	scope  *Scope
	faults document.Faults
}

// vans adds facts and particulars: the same names on every base van, the
// values of texts from all of them together.
func (b *builder) vans(vans []catalogue.BaseVan) {
	for i, van := range vans {
		at := "base_vans/" + van.Code
		for _, f := range van.Facts {
			n := name{text: "van." + f.Name, is: fact}
			switch f.Kind {
			case catalogue.NumberFact:
				n.kind, n.unit = Number, UnitOf(f.Name)
				n.weighed = slices.Contains(catalogue.WeighedFacts, f.Name)
			case catalogue.TextFact:
				n.kind, n.values = Text, []string{f.Text}
			case catalogue.YesNoFact:
				n.kind = Truth
			default:
				continue
			}
			b.merge(i, at+"/facts/"+f.Name, n)
		}
		for _, p := range van.Particulars {
			n := name{text: "van." + p.Name, is: particular, kind: Text, values: slices.Clone(p.Values)}
			b.merge(i, at+"/particulars/"+p.Name, n)
		}
	}
}

// merge adds a name of a van, or its values to those of the vans before it.
func (b *builder) merge(van int, at string, n name) {
	old := b.scope.names[n.text]
	if van == 0 || old == nil || old.is != n.is || old.kind != n.kind {
		b.add(at, n)
		return
	}
	for _, v := range n.values {
		if !slices.Contains(old.values, v) {
			old.values = append(old.values, v)
		}
	}
}

func (b *builder) add(at string, n name) bool {
	code := n.text[strings.LastIndexByte(n.text, '.')+1:]
	if reason := unwritable(code); reason != "" {
		b.faults = append(b.faults, document.Fault{
			Code: "unwritable_name", At: at,
			Reason: fmt.Sprintf("%q cannot be written in a formula: %s.", code, reason),
			Remedy: "Give it another code, of small letters, digits and _.",
		})
		return false
	}
	if !strings.Contains(n.text, ".") && slices.Contains(families, n.text) {
		b.faults = append(b.faults, document.Fault{
			Code: "unwritable_name", At: at,
			Reason: fmt.Sprintf("%q is what formulas call a family of names (%s.something).", code, code),
			Remedy: "Give it another code.",
		})
		return false
	}
	if _, taken := b.scope.names[n.text]; taken {
		b.faults = append(b.faults, document.Fault{
			Code: "name_taken", At: at,
			Reason: fmt.Sprintf("Formulas already read something else as %q.", n.text),
			Remedy: "Give one of the two another code.",
		})
		return false
	}
	v := &b.scope.blank
	if n.kind == Text {
		n.at = int32(len(v.texts))
		start := unsetText
		if n.is == finish {
			start = "" // open
		}
		v.texts = append(v.texts, start)
	} else {
		n.at = int32(len(v.numbers))
		start := unset
		if n.is == feature || n.is == fit {
			start = zero // not there
		}
		v.numbers = append(v.numbers, start)
	}
	b.scope.names[n.text] = &n
	b.scope.sorted = append(b.scope.sorted, &n)
	return true
}

// families are the words before the point of a name.
var families = []string{"fit", "van", "finish", "sheet"}

// unwritable says why a code cannot stand in a formula, "" when it can.
func unwritable(code string) string {
	for i, r := range code {
		if !isLetter(r) && (i == 0 || !isDigit(r)) {
			return fmt.Sprintf("names hold no %q there", r)
		}
	}
	switch {
	case code == "":
		return "it is empty"
	case reserved[code] != "":
		return "the formula language keeps that word for itself"
	}
	return ""
}

// find gives a name, nil when there is none.
func (s *Scope) find(text string) *name { return s.names[text] }

// A Slot is the place of one name in Values.
type Slot struct {
	kind Kind
	at   int32
}

// Slot finds the place of a name as formulas write it: "hob", "fit.hob",
// "van.length_mm", "finish.fabric", "gas_input_kw", "sheet.hours".
func (s *Scope) Slot(name string) (Slot, bool) {
	n := s.find(name)
	if n == nil {
		return Slot{}, false
	}
	return Slot{n.kind, n.at}, true
}

// Values are what the names of a Scope stand for in one evaluation. At first
// no feature is there, no finish is chosen, and everything else has no value
// yet; reading it then is an error of the formula that does.
//
// Values belong to one goroutine at a time.
type Values struct {
	scope   *Scope
	numbers []number // yes is 1, no is 0
	texts   []string
}

// unsetText marks a text without a value; no catalogue can hold it.
const unsetText = "\x00"

// NewValues gives fresh values.
func (s *Scope) NewValues() *Values {
	return &Values{scope: s, numbers: slices.Clone(s.blank.numbers), texts: slices.Clone(s.blank.texts)}
}

// Reset makes v as NewValues gave it.
func (v *Values) Reset() {
	copy(v.numbers, v.scope.blank.numbers)
	copy(v.texts, v.scope.blank.texts)
}

// SetNumber gives a number to a name, rounded half up to Places. One that
// reaches Largest is refused, and the name then has no value.
func (v *Values) SetNumber(slot Slot, d decimal.Decimal) error {
	x, ok := fromDecimal(d)
	if !ok {
		v.numbers[slot.number(Number)] = unset
		return fmt.Errorf("the value is beyond what formulas work with (%d)", int64(Largest))
	}
	v.numbers[slot.number(Number)] = x
	return nil
}

// SetCount gives a whole number to a name: how many of a counted feature.
func (v *Values) SetCount(slot Slot, n int) { v.numbers[slot.number(Number)] = whole(n) }

// SetTruth gives yes or no to a name.
func (v *Values) SetTruth(slot Slot, yes bool) {
	x := zero
	if yes {
		x = one
	}
	v.numbers[slot.number(Truth)] = x
}

// SetText gives a text to a name.
func (v *Values) SetText(slot Slot, text string) {
	if slot.kind != Text {
		panic("formula: a text set where a name holds " + slot.kind.String())
	}
	v.texts[slot.at] = text
}

// Clear takes a name's value away, as when a figure could not be worked out:
// formulas that read it fail in turn.
func (v *Values) Clear(slot Slot) {
	if slot.kind == Text {
		v.texts[slot.at] = unsetText
		return
	}
	v.numbers[slot.at] = unset
}

func (s Slot) number(want Kind) int32 {
	if s.kind != want {
		panic("formula: " + want.String() + " set where a name holds " + s.kind.String())
	}
	return s.at
}
