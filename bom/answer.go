package bom

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// CheckAnswer is what the workshop says to a check that is not met. A must can
// only be answered by evidence, as of re-plating or an engineer's letter; on a
// should the owner may go on. Either holds up to a limit of its own and no
// further: what is added later may need another answer.
type CheckAnswer struct {
	Check string     `json:"check" yaml:"check"`
	Kind  AnswerKind `json:"kind" yaml:"kind"`
	// Limit takes the place of the check's, in its unit.
	Limit decimal.Decimal `json:"limit" yaml:"limit"`
	// Says is what the evidence is, or why the owner goes on. It is kept
	// inside: the customer reads the check's consequence.
	Says string `json:"says" yaml:"says"`
	// Day of the evidence (YYYY-MM-DD), and By whom it was taken in: an id, for
	// documents name nobody.
	Day string `json:"day,omitempty" yaml:"day"`
	By  string `json:"by,omitempty" yaml:"by"`
}

// AnswerKind says what an answer is.
type AnswerKind string

// The kinds; zero is invalid.
const (
	ByEvidence AnswerKind = "evidence"
	GoingOn    AnswerKind = "going on"
)

// Words are the kinds there are.
func (AnswerKind) Words() []string { return []string{string(ByEvidence), string(GoingOn)} }

// Limits of answers; more is refused.
const (
	MaxAnswers     = 50
	MaxAnswerWords = 400 // characters
)

// answers checks the answers of the choices.
func (q *asking) answers(list []CheckAnswer) {
	if q.tooMany("choices/answers", len(list), MaxAnswers) {
		return
	}
	checks := q.r.catalogue.Checks
	for i, a := range list {
		at := document.Join("choices/answers", i+1)
		k := find(checks, func(c catalogue.Check) bool { return c.Code == a.Check })
		if k < 0 {
			q.unknown(at+"/check", "check", a.Check, codes(checks, func(c catalogue.Check) string { return c.Code }))
			continue
		}
		if slices.ContainsFunc(list[:i], func(b CheckAnswer) bool { return b.Check == a.Check }) {
			q.fault("given_twice", at+"/check", fmt.Sprintf("“%s” is answered twice.", checks[k].Name), "Keep one of the two.")
		}
		switch {
		case a.Kind != ByEvidence && a.Kind != GoingOn:
			q.unknown(at+"/kind", "kind of answer", string(a.Kind), a.Kind.Words())
		case a.Kind == GoingOn && checks[k].Grade == catalogue.Must:
			q.fault("must_not_go_on", at+"/kind", fmt.Sprintf("“%s” must be met; nobody can go on without.", checks[k].Name),
				"Answer it with evidence, or change what is chosen.")
		}
		if _, ok := amountOf(a.Limit); !ok {
			q.fault("out_of_range", at+"/limit", "That is no limit.", "Give the figure up to which the answer holds.")
		}
		q.answerWords(at+"/says", a.Says)
		if a.Day != "" {
			q.aDay(at+"/day", a.Day)
		}
		q.a.answers = append(q.a.answers, a)
	}
}

func (q *asking) answerWords(at, says string) {
	if reason := document.TextFault(says); reason != "" {
		q.fault("bad_text", at, reason, "Write it as plain text.")
	} else if strings.TrimSpace(says) == "" {
		q.fault("no_words", at, "Nothing says what the answer is.", "Say what the evidence is, or why the owner goes on.")
	} else if n := utf8.RuneCountInString(says); n > MaxAnswerWords {
		q.fault("too_long", at, fmt.Sprintf("The words are %d characters long.", n), fmt.Sprintf("Give at most %d.", MaxAnswerWords))
	}
}

// answered finds the answer to a check and says whether it holds for a figure.
func (s *Specification) answered(c *catalogue.Check, figure decimal.Decimal) (*CheckAnswer, bool) {
	k := find(s.Answers, func(a CheckAnswer) bool { return a.Check == c.Code })
	if k < 0 {
		return nil, false
	}
	a := &s.Answers[k]
	if a.Kind == GoingOn && c.Grade == catalogue.Must {
		return a, false
	}
	return a, holds(c.Sense, figure.Cmp(a.Limit))
}
