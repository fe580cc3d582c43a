package bom

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"wainscot/bom/options"
)

// reasonsShown is how many causes a sentence names before it only counts the
// rest; the whole chain is the engine's to give.
const reasonsShown = 3

// teller puts the engine's reasons into sentences.
type teller struct {
	r    *Release
	said []options.Choice
}

// comesWith says why a feature is on that nobody chose: what brings it, and by
// which rules. "Comes with the gas hob: every gas appliance needs an alarm."
func (t *teller) comesWith(why *options.Reason) string {
	if why == nil {
		return "Comes with the rest."
	}
	var with []string
	for _, i := range why.Choices {
		if i < 0 || i >= len(t.said) {
			continue
		}
		if name := t.choice(&t.said[i]); name != "" && find(with, func(s string) bool { return s == name }) < 0 {
			with = append(with, name)
		}
	}
	head := "Every van has it"
	if len(with) > 0 {
		head = "Comes with " + listed(with)
	}
	causes := t.causes(why)
	if causes == "" {
		return head + "."
	}
	return head + ": " + causes
}

// causes joins the sentences of a reason's rules.
func (t *teller) causes(why *options.Reason) string {
	var says []string
	for _, c := range why.Causes {
		s := strings.TrimRight(strings.TrimSpace(c.Says), ".;")
		if s != "" && find(says, func(have string) bool { return have == s }) < 0 {
			says = append(says, s)
		}
	}
	if len(says) == 0 {
		return ""
	}
	more := ""
	if cut := len(says) - reasonsShown; cut > 0 {
		says = says[:reasonsShown]
		more = fmt.Sprintf("; and %d more", cut)
		if cut == 1 {
			more += " reason"
		} else {
			more += " reasons"
		}
	}
	for i := range says {
		says[i] = Uncapped(says[i])
	}
	return strings.Join(says, "; ") + more + "."
}

// choice names what a choice is about, as part of a sentence.
func (t *teller) choice(c *options.Choice) string {
	switch c.Verb {
	case options.Pick:
		label := words(c.Feature[strings.IndexByte(c.Feature, '.')+1:])
		return fmt.Sprintf("%s %s", label, words(c.Value))
	case options.Refuse:
		return "no " + t.feature(c.Feature)
	case options.Want, options.Number, options.AtLeast:
		return "the " + t.feature(c.Feature)
	}
	return ""
}

func (t *teller) feature(code string) string {
	if k, ok := t.r.features[code]; ok {
		return Uncapped(t.r.catalogue.Features[k].Name)
	}
	return code
}

// the makes a name part of a sentence: "Gas hob" is "the gas hob".
func the(name string) string { return "the " + Uncapped(name) }

// Uncapped starts a text with a small letter, unless it starts with a word
// that is all capitals (LED) or a single letter other than the article.
func Uncapped(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	second, _ := utf8.DecodeRuneInString(s[size:])
	if !unicode.IsLower(second) && !strings.HasPrefix(s, "A ") {
		return s
	}
	return string(unicode.ToLower(first)) + s[size:]
}

// listed joins words: "a", "a and b", "a, b and c".
func listed(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}
