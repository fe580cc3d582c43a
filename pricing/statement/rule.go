package statement

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Rule says which lines are not the books' to explain and are set aside: wages,
// rent, what the owner draws. Everything it says has to hold.
type Rule struct {
	// Words that stand in a row, whole, in the line's words or the other
	// side's name; capitals and marks do not count. "" for any.
	Words string `json:"words,omitempty"`
	// PartyAccount is the other side's, without spaces; "" for any.
	PartyAccount string `json:"party_account,omitempty"`
	// Side is what came in or what went out; "" for both.
	Side Side `json:"side,omitempty"`
	// Least and Most of the amount without its sign, both included; nil for
	// any.
	Least *money.Amount `json:"least,omitempty"`
	Most  *money.Amount `json:"most,omitempty"`
}

// Side of an account.
type Side string

// The sides; "" is both.
const (
	In  Side = "in"
	Out Side = "out"
)

// Limits of a rule, in characters.
const (
	maxRuleWords   = 100
	maxRuleAccount = 40
)

// Check finds what is wrong with a rule. One that says neither words nor an
// account would take what customers pay.
func (r Rule) Check() document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if reason := document.TextFault(r.Words); r.Words != "" && (reason != "" || utf8.RuneCountInString(r.Words) > maxRuleWords) {
		fault("bad_text", "words", "They are no words of a line.", fmt.Sprintf("Write them as they stand in the statement, in at most %d characters.", maxRuleWords))
	}
	if r.PartyAccount != account(r.PartyAccount) || len(r.PartyAccount) > maxRuleAccount {
		fault("bad_text", "party_account", "It is no account.", "Write it as it stands in the statement, without spaces.")
	}
	if len(wordsOf(r.Words)) == 0 && r.PartyAccount == "" {
		fault("missing", "words", "The rule would take everybody's lines.", "Name words or the other side's account.")
	}
	if r.Side != "" && r.Side != In && r.Side != Out {
		fault("unknown_word", "side", fmt.Sprintf("%q is no side.", r.Side), `Write "in", "out", or leave it out.`)
	}
	for at, a := range map[string]*money.Amount{"least": r.Least, "most": r.Most} {
		if a != nil && a.Sign() < 0 {
			fault("out_of_range", at, "The amount counts without its sign.", "Give nothing or more, and the side.")
		}
	}
	switch {
	case r.Least == nil || r.Most == nil:
	case r.Least.Currency() != r.Most.Currency():
		fault("currency", "most", "Least and most are in two currencies.", "Give both in the account's.")
	case r.Least.Minor() > r.Most.Minor():
		fault("contradiction", "most", "Most is less than least.", "Exchange them.")
	}
	return faults.Sort()
}

// Takes says whether a rule takes a line. It takes none that names a creditor
// reference that holds (ISO 11649): somebody was told to pay under it.
func (r Rule) Takes(l *Line) bool { return NewRules([]Rule{r}).Taking(l) == 0 }

// Rules are several, made ready for many lines.
type Rules struct {
	list  []Rule
	words [][]string // of each
}

// NewRules makes rules ready; of several that take a line the first does.
func NewRules(list []Rule) Rules {
	r := Rules{list: list, words: make([][]string, len(list))}
	for i := range list {
		r.words[i] = wordsOf(list[i].Words)
	}
	return r
}

// Taking is which of the rules takes a line; -1 for none.
func (r Rules) Taking(l *Line) int {
	if len(r.list) == 0 {
		return -1
	}
	said, party := wordsOf(l.Words), wordsOf(l.Party)
	for i := range r.list {
		if r.list[i].within(l) && (inARow(r.words[i], said) || inARow(r.words[i], party)) {
			if slices.ContainsFunc(l.References(), money.ValidReference) {
				return -1
			}
			return i
		}
	}
	return -1
}

// within says whether all holds that a rule says beside its words.
func (r Rule) within(l *Line) bool {
	in := l.Amount.Sign() >= 0
	switch {
	case r.Side == In && !in, r.Side == Out && in:
		return false
	case r.PartyAccount != "" && r.PartyAccount != l.PartyAccount:
		return false
	case r.Least != nil && (r.Least.Currency() != l.Amount.Currency() || abs(l.Amount.Minor()) < r.Least.Minor()):
		return false
	case r.Most != nil && (r.Most.Currency() != l.Amount.Currency() || abs(l.Amount.Minor()) > r.Most.Minor()):
		return false
	}
	return true
}

// wordsOf are letters and digits in capitals, by word.
func wordsOf(s string) []string {
	return strings.FieldsFunc(strings.ToUpper(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

// inARow says whether words stand one after another among others; no words do.
func inARow(asked, among []string) bool {
	for i := 0; i+len(asked) <= len(among); i++ {
		if slices.Equal(asked, among[i:i+len(asked)]) {
			return true
		}
	}
	return len(asked) == 0
}

func abs(n int64) int64 { return max(n, -n) }
