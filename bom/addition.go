package bom

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
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

// MaxAdditions is how many additions choices may have.
const MaxAdditions = 100

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
