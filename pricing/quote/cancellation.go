package quote

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/calendar"
)

// CancellationRule is a country's right to cancel a sale that was not made on
// the premises, from a day on. It is a setting of the workshop, never the law
// itself: where it matters, a lawyer is asked.
type CancellationRule struct {
	// Country (ISO 3166, two letters) and the first day the rule is for.
	Country string `json:"country" yaml:"country"`
	From    string `json:"from" yaml:"from"`
	// Days after the day of the contract, which itself is not counted, until
	// the end of which the customer may cancel. 0: there is no such right.
	Days int `json:"days" yaml:"days"`
	// Cites is where that stands.
	Cites string `json:"cites,omitempty" yaml:"cites"`
}

// defaultCancellationRules by country.
//
// United Kingdom: the Consumer Contracts (Information, Cancellation and
// Additional Charges) Regulations 2013, S.I. 2013/3134, for contracts made on or
// after 13 June 2014 (regulation 1): a consumer may cancel a distance or
// off-premises contract without giving a reason (27, 29); for services until the
// end of 14 days after the day the contract is made (30); longer if not told of
// it (31); work inside the period only on the consumer's express request, who
// then pays for what was done (36); goods made to the consumer's specification
// are excepted (28(1)(b)). Regulations 1 and 27 as on legislation.gov.uk; 28, 29,
// 30, 31 and 36 by what advisers say of them.
var defaultCancellationRules = [...]CancellationRule{{
	Country: "GB", From: "2014-06-13", Days: 14,
	Cites: "Consumer Contracts (Information, Cancellation and Additional Charges) Regulations 2013, regulations 27 to 38",
}}

// DefaultCancellationRules are what a workshop begins with, until it sets its
// own.
func DefaultCancellationRules() []CancellationRule { return slices.Clone(defaultCancellationRules[:]) }

// CustomerKind is whether a customer buys privately or for a business.
type CustomerKind string

// The kinds; zero is invalid.
const (
	Private CustomerKind = "private"
	Trade   CustomerKind = "trade"
)

// Place is where a contract is made.
type Place string

// The places; zero is invalid.
const (
	OnPremises       Place = "on the premises"
	AwayFromPremises Place = "away from the premises"
	AtDistance       Place = "at a distance"
)

// Words are the places there are.
func (Place) Words() []string {
	return []string{string(OnPremises), string(AwayFromPremises), string(AtDistance)}
}

// Sale is what the right to cancel depends on.
type Sale struct {
	Country string // of the workshop, ISO 3166
	Kind    CustomerKind
	Place   Place
	// On is the day the contract was made; while it is only offered, Offered is
	// true and On any day of the offer.
	On      string
	Offered bool
	// ExpressRequest: the customer has expressly asked for work to begin inside
	// the period.
	ExpressRequest bool
}

// Cancellation is whether and until when the customer may cancel.
type Cancellation struct {
	Applies bool `json:"applies"`
	// LastDay is the last day to cancel; "" while the sale is only offered.
	LastDay string `json:"last_day,omitempty"`
	// WorkFrom is the first day on which work may begin: the day of the
	// contract, or the day after the last day to cancel.
	WorkFrom string `json:"work_from,omitempty"`
	// WorkBeforeLastDay: the customer has expressly asked for it.
	WorkBeforeLastDay bool   `json:"work_before_last_day,omitempty"`
	Cites             string `json:"cites,omitempty"`
	Says              string `json:"says"`
}

// takeAdvice ends every sentence on this: we are no lawyers.
const takeAdvice = "This follows the workshop's settings and is not legal advice; take legal advice where it matters."

// CancellationRight works out whether and until when a sale may be cancelled.
func CancellationRight(rules []CancellationRule, s Sale) Cancellation {
	c := Cancellation{}
	if !s.Offered {
		c.WorkFrom = s.On
	}
	rule := ruleFor(rules, s)
	switch {
	case s.Kind != Private:
		c.Says = "The right to cancel is for private customers only. " + takeAdvice
		return c
	case s.Place == OnPremises:
		c.Says = "Made on the workshop's premises, the contract has no right to cancel by itself. " + takeAdvice
		return c
	case rule == nil:
		c.Says = fmt.Sprintf("The workshop keeps no rule on the right to cancel in %s on %s. %s", s.Country, calendar.Said(s.On), takeAdvice)
		return c
	case rule.Days == 0:
		c.Cites = rule.Cites
		c.Says = "There is no right to cancel. " + takeAdvice
		return c
	}
	c.Applies, c.Cites = true, rule.Cites
	var says []string
	if s.Offered {
		says = append(says, fmt.Sprintf("The customer may cancel without giving a reason until the end of the %d days after the day of acceptance.", rule.Days))
	} else if last, err := calendar.Add(s.On, rule.Days); err == nil {
		c.LastDay = last
		c.WorkFrom, _ = calendar.Add(last, 1)
		says = append(says, fmt.Sprintf("The customer may cancel without giving a reason until the end of %s, %d days after the day of the contract.", calendar.Said(last), rule.Days))
	}
	switch {
	case s.ExpressRequest:
		c.WorkBeforeLastDay = true
		if !s.Offered {
			c.WorkFrom = s.On
		}
		says = append(says, "The customer has expressly asked for work to begin before that, and pays for what has been done if it is cancelled.")
	default:
		says = append(says, "No work begins before that, unless the customer expressly asks for it.")
	}
	says = append(says, "Parts made to the customer's own specification may be excepted, and the time is longer if the customer was not told of it.", takeAdvice)
	c.Says = strings.Join(says, " ")
	return c
}

// ruleFor is the country's rule with the latest first day that has come.
func ruleFor(rules []CancellationRule, s Sale) *CancellationRule {
	var found *CancellationRule
	for i := range rules {
		r := &rules[i]
		if strings.EqualFold(r.Country, s.Country) && r.From <= s.On && (found == nil || r.From > found.From) {
			found = r
		}
	}
	return found
}
