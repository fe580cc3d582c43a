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

// Addition is a piece of work that no feature of the catalogue stands for: a
// one-off line, or a part the customer brings. Nothing has proved it, so what
// touches what can hurt people waits for the foreman's yes.
type Addition struct {
	// Code is the addition's own within the choices, as a catalogue code is
	// written.
	Code string       `json:"code" yaml:"code"`
	Kind AdditionKind `json:"kind" yaml:"kind"`
	// Words are what the customer reads.
	Words    string `json:"words" yaml:"words"`
	Quantity int    `json:"quantity,omitempty" yaml:"quantity"` // 0 means 1
	// Stage it is done at.
	Stage string `json:"stage" yaml:"stage"`
	// Hours by trade and MassKG are of all of it together. A one-off line
	// that takes something off the van has a mass below nothing.
	Hours  []AdditionHours `json:"hours,omitempty" yaml:"hours"`
	MassKG decimal.Decimal `json:"mass_kg" yaml:"mass_kg"`
	// Position of the catalogue where the mass sits; "" where nobody said.
	Position string `json:"position,omitempty" yaml:"position"`
	// Touches are the cautions it brings.
	Touches []catalogue.Caution `json:"touches,omitempty" yaml:"touches"`
	// InPlaceOf is, for a customer's own part, the part of the build sheet it
	// stands in for: that many fewer are bought, and their mass is not
	// counted.
	InPlaceOf string `json:"in_place_of,omitempty" yaml:"in_place_of"`
	// DueBy is the day (YYYY-MM-DD) a customer's own part must be here.
	DueBy string `json:"due_by,omitempty" yaml:"due_by"`
	// Approved says that the foreman has said yes to the addition as it
	// stands; whoever changes it takes this out.
	Approved bool `json:"approved,omitempty" yaml:"approved"`
}

// AdditionHours are hands-on hours of one trade.
type AdditionHours struct {
	Trade string          `json:"trade" yaml:"trade"`
	Hours decimal.Decimal `json:"hours" yaml:"hours"`
}

// AdditionKind says what an addition is.
type AdditionKind string

// The kinds; zero is invalid.
const (
	OneOff       AdditionKind = "one-off"
	CustomersOwn AdditionKind = "customer's own"
)

// Words are the kinds there are.
func (AdditionKind) Words() []string { return []string{string(OneOff), string(CustomersOwn)} }

// Limits of additions; more is refused.
const (
	MaxAdditions        = 100
	MaxAdditionQuantity = catalogue.MaxCount
	MaxAdditionHours    = 1_000 // of one trade for one addition
	MaxAdditionKG       = 5_000 // so that a hundred of them are still a mass
	MaxAdditionWords    = 400   // characters
)

// NeedsForeman says whether an addition waits for the foreman's yes: it
// touches gas, mains, seats or structure.
func (a Addition) NeedsForeman() bool {
	for _, c := range a.Touches {
		if c != catalogue.CautionWeight {
			return !a.Approved
		}
	}
	return false
}

// touches lists what it touches of what can hurt people, masses left out.
func (a Addition) touches() string {
	var list []string
	for _, c := range a.Touches {
		if c != catalogue.CautionWeight {
			list = append(list, string(c))
		}
	}
	return listed(list)
}

// additions checks the additions of the choices.
func (q *asking) additions(list []Addition) {
	if q.tooMany("choices/additions", len(list), MaxAdditions) {
		return
	}
	seen := make(map[string]bool, len(list))
	for i := range list {
		at := document.Join("choices/additions", i+1)
		a := list[i]
		q.additionCode(at+"/code", a.Code, seen)
		q.additionKind(at, &a)
		if reason := document.TextFault(a.Words); reason != "" {
			q.fault("bad_text", at+"/words", reason, "Write it as plain text.")
		} else if strings.TrimSpace(a.Words) == "" {
			q.fault("no_words", at+"/words", "Nothing says what it is.", "Write what the customer shall read.")
		} else if n := utf8.RuneCountInString(a.Words); n > MaxAdditionWords {
			q.fault("too_long", at+"/words", fmt.Sprintf("The words are %d characters long.", n), fmt.Sprintf("Give at most %d.", MaxAdditionWords))
		}
		if a.Quantity < 0 || a.Quantity > MaxAdditionQuantity {
			q.fault("out_of_range", at+"/quantity", fmt.Sprintf("There cannot be %d of it.", a.Quantity),
				fmt.Sprintf("Give a number from 1 to %d, or leave it out for one.", MaxAdditionQuantity))
		}
		a.Quantity = max(a.Quantity, 1)
		if r := q.r.catalogue; find(r.Stages, func(s catalogue.Stage) bool { return s.Code == a.Stage }) < 0 {
			q.unknown(at+"/stage", "stage", a.Stage, codes(r.Stages, func(s catalogue.Stage) string { return s.Code }))
		}
		q.additionHours(at+"/hours", a.Hours)
		q.additionMass(at+"/mass_kg", &a)
		if r := q.r.catalogue; a.Position != "" && find(r.Positions, func(p catalogue.Position) bool { return p.Code == a.Position }) < 0 {
			q.unknown(at+"/position", "position", a.Position, codes(r.Positions, func(p catalogue.Position) string { return p.Code }))
		}
		q.additionTouches(at+"/touches", a.Touches)
		q.a.additions = append(q.a.additions, a)
	}
}

// additionCode: a code of its own, so that a price or a treatment that names
// it can mean nothing else.
func (q *asking) additionCode(at, code string, seen map[string]bool) {
	r := q.r
	taken := ""
	switch {
	case !document.Nameable(code):
		q.fault("bad_code", at, fmt.Sprintf("%s cannot be a code.", quoted(code)), "Begin with a letter; use letters, digits, - and _, at most 60 of them.")
		return
	case seen[code]:
		q.fault("duplicate_code", at, fmt.Sprintf("Two additions have the code %s.", quoted(code)), "Give each its own.")
	case has(r.features, code):
		taken = "feature"
	case has(r.packages, code):
		taken = "package"
	case has(r.finishes, code):
		taken = "finish"
	}
	seen[code] = true
	if taken != "" {
		q.fault("code_taken", at, fmt.Sprintf("The catalogue has a %s %s.", taken, quoted(code)),
			"Give the addition another code, or choose what the catalogue has.")
	}
}

func has(codes map[string]int, code string) bool {
	_, ok := codes[code]
	return ok
}

// additionKind: what only a customer's own part has, and what it must have.
func (q *asking) additionKind(at string, a *Addition) {
	switch a.Kind {
	case OneOff:
		if a.InPlaceOf != "" {
			q.fault("contradiction", at+"/in_place_of", "Only a customer's own part stands in for one of the catalogue's.",
				"Leave it out, or refuse the feature that asks for the part.")
		}
		if a.DueBy != "" {
			q.fault("contradiction", at+"/due_by", "Only a customer's own part is due from the customer.", "Leave it out.")
		}
	case CustomersOwn:
		switch {
		case a.DueBy == "":
			q.fault("no_day", at+"/due_by", "Nothing says when the customer's own part must be here.", "Give the day, like 2026-04-01.")
		case !document.ValidDay(a.DueBy):
			q.aDay(at+"/due_by", a.DueBy)
		}
		if parts := q.r.catalogue.Parts; a.InPlaceOf != "" && find(parts, func(p catalogue.Part) bool { return p.Code == a.InPlaceOf }) < 0 {
			q.unknown(at+"/in_place_of", "part", a.InPlaceOf, codes(parts, func(p catalogue.Part) string { return p.Code }))
		}
	default:
		q.fault("unknown_word", at+"/kind", fmt.Sprintf("There is no kind of addition %s.", quoted(string(a.Kind))),
			document.Suggest(string(a.Kind), a.Kind.Words(), ""))
	}
}

func (q *asking) additionHours(at string, list []AdditionHours) {
	trades := q.r.catalogue.Trades
	if q.tooMany(at, len(list), max(len(trades), 1)) {
		return
	}
	for i, h := range list {
		at := document.Join(at, i+1)
		if find(trades, func(t catalogue.Trade) bool { return t.Code == h.Trade }) < 0 {
			q.unknown(at+"/trade", "trade", h.Trade, codes(trades, func(t catalogue.Trade) string { return t.Code }))
		} else if find(list[:i], func(before AdditionHours) bool { return before.Trade == h.Trade }) >= 0 {
			q.fault("given_twice", at+"/trade", fmt.Sprintf("The hours of %s are given twice.", quoted(h.Trade)), "Add them up.")
		}
		if n, ok := amountOf(h.Hours); !ok || n < 0 || n > MaxAdditionHours*oneUnit {
			q.fault("out_of_range", at+"/hours", "Nobody works so many hours on it.", fmt.Sprintf("Give 0 to %d hours.", MaxAdditionHours))
		}
	}
}

func (q *asking) additionMass(at string, a *Addition) {
	kg, ok := amountOf(a.MassKG)
	switch {
	case !ok || max(kg, -kg) > MaxAdditionKG*oneUnit:
		q.fault("out_of_range", at, "Nothing in a van has such a mass.", fmt.Sprintf("Give kilograms, at most %d.", MaxAdditionKG))
	case kg < 0 && a.Kind == CustomersOwn:
		q.fault("out_of_range", at, "A part that is fitted weighs no less than nothing.",
			"Give its mass; what it stands in for is taken off by itself.")
	}
}

func (q *asking) additionTouches(at string, list []catalogue.Caution) {
	var all catalogue.Caution
	for i, c := range list {
		at := document.Join(at, i+1)
		if !slices.Contains(all.Words(), string(c)) {
			q.fault("unknown_word", at, fmt.Sprintf("There is no caution %s.", quoted(string(c))), document.Suggest(string(c), all.Words(), ""))
		}
		if slices.Contains(list[:i], c) {
			q.fault("given_twice", at, fmt.Sprintf("It touches %s twice.", quoted(string(c))), "Say it once.")
			return // a list of any length has at most one such fault
		}
	}
}
