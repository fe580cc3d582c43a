package catalogue

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// Limits of texts, in bytes.
const (
	MaxName     = 200
	MaxSentence = 2_000
)

// Validate says all that is wrong with the structure of a catalogue: codes,
// references, counts, bounds, cycles. What formulas mean is for bom.Compile.
func (c *Catalogue) Validate() document.Faults {
	faults := c.validate()
	return faults.Faults()
}

func (c *Catalogue) validate() document.Collector {
	v := newChecker(c)
	v.sections()
	v.trades()
	v.stages()
	v.baseVans()
	v.groups()
	v.features()
	v.finishes()
	v.packages()
	v.rules()
	v.safetyRules()
	v.figures()
	v.checks()
	v.parts()
	v.kits()
	v.outsideWork()
	v.positions()
	v.loads()
	v.classFeatures()
	v.evidence()
	return v.faults
}

// checker gathers the faults of one catalogue.
type checker struct {
	c      *Catalogue
	faults document.Collector
	// comparisons left for suggestions: each one looks through many codes.
	comparisons int

	trade, stage, van, group, feature, finish, outside index
	part, kit, position                                index
}

// index finds the first member of a section that has a code.
type index struct {
	first map[string]int
	codes []string // in the order of the section
}

func (ix index) has(code string) bool {
	_, ok := ix.first[code]
	return ok
}

func newChecker(c *Catalogue) *checker {
	return &checker{
		c: c, comparisons: 1_000_000,
		trade:   indexed(c.Trades, func(m *Trade) string { return m.Code }),
		stage:   indexed(c.Stages, func(m *Stage) string { return m.Code }),
		van:     indexed(c.BaseVans, func(m *BaseVan) string { return m.Code }),
		group:   indexed(c.Groups, func(m *Group) string { return m.Code }),
		feature: indexed(c.Features, func(m *Feature) string { return m.Code }),
		finish:  indexed(c.Finishes, func(m *Finish) string { return m.Code }),
		outside: indexed(c.OutsideWork, func(m *OutsideWork) string { return m.Code }),
		part:    indexed(c.Parts, func(m *Part) string { return m.Code }),
		kit:     indexed(c.Kits, func(m *Kit) string { return m.Code }),

		position: indexed(c.Positions, func(m *Position) string { return m.Code }),
	}
}

func indexed[T any](list []T, code func(*T) string) index {
	ix := index{make(map[string]int, len(list)), make([]string, 0, len(list))}
	for i := range list {
		c := code(&list[i])
		if !ix.has(c) {
			ix.first[c] = i
			ix.codes = append(ix.codes, c)
		}
	}
	return ix
}

func (v *checker) fault(code, at, reason, remedy string) {
	v.faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

// sections checks what is wanted at all and how much of it there may be.
func (v *checker) sections() {
	c := v.c
	v.name("title", c.Title)
	for _, s := range []struct {
		key    string
		n      int
		wanted bool
		most   int
	}{
		{"trades", len(c.Trades), true, MaxListed},
		{"stages", len(c.Stages), true, MaxListed},
		{"base_vans", len(c.BaseVans), true, MaxListed},
		{"groups", len(c.Groups), true, MaxListed},
		{"features", len(c.Features), true, MaxFeatures},
		{"finishes", len(c.Finishes), false, MaxListed},
		{"packages", len(c.Packages), false, MaxListed},
		{"rules", len(c.Rules), false, MaxRules},
		{"safety_rules", len(c.SafetyRules), false, MaxListed},
		{"figures", len(c.Figures), false, MaxListed},
		{"checks", len(c.Checks), false, MaxListed},
		{"parts", len(c.Parts), true, MaxParts},
		{"kits", len(c.Kits), false, MaxParts},
		{"outside_work", len(c.OutsideWork), false, MaxListed},
		{"positions", len(c.Positions), false, MaxPositions},
		{"loads", len(c.Loads), false, MaxLoads},
		{"class_features", len(c.ClassFeatures), false, MaxListed},
		{"evidence", len(c.Evidence), false, MaxListed},
	} {
		v.listed(s.key, s.n, s.wanted, s.most)
	}
}

func (v *checker) listed(at string, n int, wanted bool, most int) {
	if wanted && n == 0 {
		v.fault("empty_list", at, "There is nothing in this list.", "Give at least one.")
	}
	if n > most {
		v.fault("too_many", at, fmt.Sprintf("There are %d in this list.", n),
			fmt.Sprintf("At most %d are allowed.", most))
	}
}

// member checks a code and gives the path of its member: by its code if it is
// the first of the section to have it, else by its number.
func (v *checker) member(section string, ix index, i int, code string, s shape) string {
	again := ix.first[code] != i
	at := section + "/" + code
	if again || !document.Nameable(code) {
		at = document.Join(section, i+1)
	}
	v.code(at+"/code", code, s)
	if again && code != "" {
		v.fault("duplicate_code", at+"/code", fmt.Sprintf("There is another %q in %s.", code, section),
			"Give each its own code.")
	}
	return at
}

func (v *checker) code(at, code string, s shape) {
	switch {
	case code == "":
		v.fault("missing_value", at, "There is no code.", s.remedy)
	case !s.fits(code):
		v.fault("bad_code", at, fmt.Sprintf("%q is not written as codes are here.", short(code)), s.remedy)
	}
}

// readable checks that formulas can read the code as a name.
func (v *checker) readable(at, code string) {
	if reserved[code] {
		v.fault("reserved_code", at, fmt.Sprintf("Formulas keep the word %q for themselves.", code),
			"Use another word.")
	}
}

func short(s string) string {
	const most = 40
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// name checks a name, which is wanted and in one line.
func (v *checker) name(at, s string) {
	if s == "" {
		v.fault("missing_value", at, "There is no text.", "Write it in a few words.")
		return
	}
	if strings.Contains(s, "\n") {
		v.fault("bad_text", at, "The text goes over several lines.", "Write it in one line.")
	}
	v.words(at, s, MaxName)
}

// sentence checks a longer text; wanted says that it may not be empty.
func (v *checker) sentence(at, s string, wanted bool) {
	if s == "" {
		if wanted {
			v.fault("missing_value", at, "There is no text.", "Write it as a plain sentence.")
		}
		return
	}
	v.words(at, s, MaxSentence)
}

func (v *checker) words(at, s string, most int) {
	if len(s) > most {
		v.fault("too_long", at, fmt.Sprintf("The text has %d bytes.", len(s)), fmt.Sprintf("At most %d are allowed.", most))
	}
	if strings.TrimSpace(s) != s {
		v.fault("bad_text", at, "The text begins or ends with a space or a line break.", "Take it out.")
	}
	if reason := document.TextFault(s); reason != "" {
		v.fault("bad_text", at, reason, "Take it out, or shorten the text.")
	}
}

// formula checks the length of a formula; Compile checks what it means.
func (v *checker) formula(at, s string, wanted bool) {
	switch {
	case s == "" && wanted:
		v.fault("missing_value", at, "There is no formula.", "Write one; a plain number is one too.")
	case len(s) > MaxFormula:
		v.fault("too_long", at, fmt.Sprintf("The formula has %d bytes; at most %d are allowed.", len(s), MaxFormula),
			"Split it: give a part of it a name of its own as a figure.")
	case s != "" && document.TextFault(s) != "":
		v.fault("bad_text", at, document.TextFault(s), "Take it out.")
	}
}

// refers checks that a code is there, and says whether it is.
func (v *checker) refers(at, code, what string, ix index) bool {
	if code == "" {
		v.fault("missing_value", at, fmt.Sprintf("There is no %s.", what), "Name one by its code.")
		return false
	}
	if ix.has(code) {
		return true
	}
	v.fault("unknown_code", at, fmt.Sprintf("There is no %s %q.", what, short(code)), v.suggest(code, ix,
		"Name one that is in the catalogue, or add it."))
	return false
}

// suggest looks for what was meant, as long as that is affordable.
func (v *checker) suggest(code string, ix index, otherwise string) string {
	if v.comparisons < len(ix.codes) {
		return otherwise
	}
	v.comparisons -= len(ix.codes)
	return document.Suggest(code, ix.codes, otherwise)
}

// word checks a text with a closed list of words.
func (v *checker) word(at string, w document.Closed, got string) {
	if got == "" {
		v.fault("missing_value", at, "There is no value.", "Use one of "+strings.Join(w.Words(), ", ")+".")
		return
	}
	if !slices.Contains(w.Words(), got) {
		v.fault("unknown_word", at, fmt.Sprintf("%q is none of the words that can stand here.", short(got)),
			document.Suggest(got, w.Words(), "Use one of "+strings.Join(w.Words(), ", ")+"."))
	}
}

// one checks that exactly one of several fields is given.
func (v *checker) one(at string, fields ...given) {
	n := 0
	for _, f := range fields {
		if f.is {
			n++
		}
	}
	if n == 1 {
		return
	}
	var names, set []string
	for _, f := range fields {
		names = append(names, f.key)
		if f.is {
			set = append(set, f.key)
		}
	}
	all := strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
	if n == 0 {
		v.fault("not_exactly_one", at, "None of "+all+" is given.", "Give exactly one of them.")
		return
	}
	v.fault("not_exactly_one", at, "Given are "+strings.Join(set, " and ")+".", "Give only one of "+all+".")
}

type given struct {
	key string
	is  bool
}

// vansOf checks a list that limits something to base vans.
func (v *checker) vansOf(at string, vans []string) {
	for i, code := range vans {
		at := document.Join(at, i+1)
		if v.refers(at, code, "base van", v.van) && slices.Index(vans, code) < i {
			v.fault("duplicate_code", at, fmt.Sprintf("%q is listed twice.", code), "List each once.")
		}
	}
}

func (v *checker) cautions(at string, cautions []Caution) {
	for i, c := range cautions {
		at := document.Join(at, i+1)
		v.word(at, c, string(c))
		if slices.Index(cautions, c) < i {
			v.fault("duplicate_code", at, fmt.Sprintf("%q is listed twice.", c), "List each once.")
		}
	}
}

// notNegative checks a number that may not be below zero.
func (v *checker) notNegative(at string, d decimal.Decimal) {
	if d.IsNegative() {
		v.fault("out_of_range", at, fmt.Sprintf("%s is below zero.", d), "Give zero or more.")
	}
}

func (v *checker) percent(at string, d decimal.Decimal) {
	if d.IsNegative() || d.GreaterThanOrEqual(decimal.New(100, 0)) {
		v.fault("out_of_range", at, fmt.Sprintf("%s is not from 0 to below 100.", d),
			"Give the percentage of what is issued that is lost; all of it cannot be.")
	}
}
