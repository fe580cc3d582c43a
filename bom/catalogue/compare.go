package catalogue

import (
	"fmt"
	"slices"
	"strings"
)

// Comparison is what is different in a later catalogue, told section by section
// in the order in which a catalogue is read. Two with the same hash have no
// differences, and two with another have at least one.
type Comparison struct {
	// Counts has one entry for each section in which something is different.
	Counts []Counted `json:"counts"`
	// Differences, at most MaxDifferences of them; Cut is how many more.
	Differences []Difference `json:"differences"`
	Cut         int          `json:"cut,omitempty"`
}

// MaxDifferences is how many differences are told.
const MaxDifferences = 2_000

// Counted says how many things of a section are new, gone and changed.
type Counted struct {
	Section Section `json:"section"`
	Added   int     `json:"added"`
	Gone    int     `json:"gone"`
	Changed int     `json:"changed"`
}

// Difference is one thing that is different.
type Difference struct {
	Section Section `json:"section"`
	// Code and Name of the thing, Name as it is called now; both "" for what
	// is of a section as a whole, Code "" for the catalogue's title.
	Code string `json:"code,omitempty"`
	Name string `json:"name,omitempty"`
	How  How    `json:"how"`
	// At is its place: "features/hob_two/lines", in the catalogue that has it.
	At   string `json:"at"`
	Says string `json:"says"`
	// Was and Is are the two sides as text; "" where there is none.
	Was string `json:"was,omitempty"`
	Is  string `json:"is,omitempty"`
}

// Section is a section of a catalogue, as one of its things is called.
type Section string

// The sections, in their order.
const (
	OfCatalogue   Section = "catalogue"
	OfTrades      Section = "trade"
	OfStages      Section = "stage"
	OfBaseVans    Section = "base van"
	OfGroups      Section = "group"
	OfFeatures    Section = "feature"
	OfFinishes    Section = "finish"
	OfPackages    Section = "package"
	OfRules       Section = "rule"
	OfSafetyRules Section = "safety rule"
	OfFigures     Section = "figure"
	OfChecks      Section = "check"
	OfParts       Section = "part"
	OfKits        Section = "kit"
	OfOutsideWork Section = "outside work"

	OfPositions     Section = "position"
	OfLoads         Section = "load"
	OfClassFeatures Section = "class feature"
	OfEvidence      Section = "evidence"
)

// How says in which way a thing is different.
type How string

// The ways.
const (
	Added   How = "added"
	Gone    How = "gone"
	Changed How = "changed"
	Moved   How = "moved" // the order of a section, in which people see it
)

// item is a thing of a catalogue put into words.
type item struct {
	code, name string
	// says is what it is, where its name does not say it: a rule's sentence.
	says   string
	fields []field
	lists  []list
}

// field is one value of a thing.
type field struct {
	key   string // in the path
	label string // in a sentence
	text  string // "" for none
}

// list is something a thing has several of.
type list struct {
	key string
	// takes says in a sentence how a thing has them: "takes", "has the choice".
	takes   string
	entries []entry
}

// entry of a list: what it is told from others by, and all of it.
type entry struct{ key, text string }

// Compare tells what is different in a later catalogue.
func Compare(was, is *Catalogue) Comparison {
	t := &comparing{}
	a, b := inWordsOf(was, is)
	if was.Title != is.Title {
		t.section = OfCatalogue
		t.count().Changed++
		t.tell(Difference{How: Changed, At: "title", Was: was.Title, Is: is.Title,
			Says: fmt.Sprintf("The catalogue was called %q and is called %q.", was.Title, is.Title)})
	}
	for _, s := range sectionsInWords {
		t.section = s.section
		t.items(s.key, s.of(a), s.of(b))
	}
	return t.out
}

// comparing is one Compare in progress.
type comparing struct {
	section Section
	out     Comparison
}

func (t *comparing) count() *Counted {
	n := len(t.out.Counts)
	if n == 0 || t.out.Counts[n-1].Section != t.section {
		t.out.Counts = append(t.out.Counts, Counted{Section: t.section})
		n++
	}
	return &t.out.Counts[n-1]
}

func (t *comparing) tell(d Difference) {
	if len(t.out.Differences) >= MaxDifferences {
		t.out.Cut++
		return
	}
	d.Section = t.section
	t.out.Differences = append(t.out.Differences, d)
}

// items compares a section: what is new and what is changed in the later order,
// then what is gone.
func (t *comparing) items(key string, was, is []item) {
	before, after := placesOf(was), placesOf(is)
	for i := range is {
		b := &is[i]
		k, known := before[b.code]
		if !known {
			t.count().Added++
			t.tell(Difference{Code: b.code, Name: b.name, How: Added, At: key + "/" + b.code, Is: b.whole(), Says: t.isNew(b)})
			continue
		}
		told := len(t.out.Differences) + t.out.Cut
		t.same(key+"/"+b.code, &was[k], b)
		if len(t.out.Differences)+t.out.Cut > told {
			t.count().Changed++
		}
	}
	for i := range was {
		if a := &was[i]; !has(after, a.code) {
			t.count().Gone++
			t.tell(Difference{Code: a.code, Name: a.name, How: Gone, At: key + "/" + a.code, Was: a.whole(), Says: t.isGone(a)})
		}
	}
	if !slices.Equal(common(was, after), common(is, before)) {
		t.count().Changed++
		t.tell(Difference{How: Moved, At: key, Says: fmt.Sprintf("The %s stand in another order.", plurals[t.section])})
	}
}

func placesOf(list []item) map[string]int {
	m := make(map[string]int, len(list))
	for i := range list {
		m[list[i].code] = i
	}
	return m
}

func has(m map[string]int, code string) bool { _, ok := m[code]; return ok }

// common are the codes of a list that are in the other as well.
func common(list []item, other map[string]int) []string {
	var codes []string
	for i := range list {
		if has(other, list[i].code) {
			codes = append(codes, list[i].code)
		}
	}
	return codes
}

func (t *comparing) isNew(b *item) string {
	if b.says != "" {
		return fmt.Sprintf("The %s %s is new: %s", t.section, b.called(), b.says)
	}
	return fmt.Sprintf("The %s %s is new.", t.section, b.called())
}

func (t *comparing) isGone(a *item) string {
	if a.says != "" {
		return fmt.Sprintf("The %s %s is gone: %s", t.section, a.called(), a.says)
	}
	return fmt.Sprintf("The %s %s is gone.", t.section, a.called())
}

// called is a thing as a sentence names it: by its name, or by its code where
// it has none.
func (b *item) called() string {
	if b.name == "" {
		return b.code
	}
	return fmt.Sprintf("%q", b.name)
}

// whole is all of a thing as text.
func (b *item) whole() string {
	var parts []string
	for _, f := range b.fields {
		if f.text != "" {
			parts = append(parts, f.label+": "+f.text)
		}
	}
	for _, l := range b.lists {
		for _, e := range l.entries {
			parts = append(parts, l.takes+" "+e.text)
		}
	}
	return strings.Join(parts, "; ")
}

// same compares a thing that is in both.
func (t *comparing) same(at string, a, b *item) {
	tell := func(key, was, is, format string, args ...any) {
		t.tell(Difference{Code: b.code, Name: b.name, How: Changed, At: at + "/" + key, Was: was, Is: is,
			Says: fmt.Sprintf("The %s %s: ", t.section, b.called()) + fmt.Sprintf(format, args...)})
	}
	for i := range b.fields {
		switch was, is := a.fields[i].text, b.fields[i].text; {
		case was == is:
		case was == "":
			tell(b.fields[i].key, "", is, "%s is new, and is %s.", b.fields[i].label, is)
		case is == "":
			tell(b.fields[i].key, was, "", "%s is gone; it was %s.", b.fields[i].label, was)
		default:
			tell(b.fields[i].key, was, is, "%s was %s, and is %s.", b.fields[i].label, was, is)
		}
	}
	for i := range b.lists {
		before := len(t.out.Differences) + t.out.Cut
		l := &b.lists[i]
		was, textWas := keyed(a.lists[i].entries)
		is, textIs := keyed(l.entries)
		for _, e := range is {
			switch text, known := textWas[e.key]; {
			case !known:
				tell(l.key, "", e.text, "it now %s %s.", l.takes, e.text)
			case text != e.text:
				tell(l.key, text, e.text, "it %s %s; before, %s.", l.takes, e.text, text)
			}
		}
		for _, e := range was {
			if _, still := textIs[e.key]; !still {
				tell(l.key, e.text, "", "it no longer %s %s.", l.takes, e.text)
			}
		}
		if len(t.out.Differences)+t.out.Cut == before && !slices.Equal(was, is) {
			tell(l.key, "", "", "what it %s stands in another order.", l.takes)
		}
	}
}

// keyed makes the keys of a list unlike (the second of a kind has a number),
// and gives the texts by them.
func keyed(list []entry) ([]entry, map[string]string) {
	out, texts := slices.Clone(list), make(map[string]string, len(list))
	seen := make(map[string]int, len(list))
	for i := range out {
		key := out[i].key
		seen[key]++
		if n := seen[key]; n > 1 {
			out[i].key = fmt.Sprintf("%s\x00%d", key, n)
		}
		texts[out[i].key] = out[i].text
	}
	return out, texts
}
