package bom

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/options"
)

// Van is the van in question: one real vehicle, or the kind of van something
// is supplied for.
type Van struct {
	BaseVan string `json:"base_van" yaml:"base_van"`
	// None: nothing is fitted to a real van; parts are supplied for BaseVan.
	None bool `json:"none,omitempty" yaml:"none"`
	// New: not registered yet.
	New          bool   `json:"new,omitempty" yaml:"new"`
	Registration string `json:"registration,omitempty" yaml:"registration"`
	VIN          string `json:"vin,omitempty" yaml:"vin"`
	Year         int    `json:"year,omitempty" yaml:"year"`
	MileageMiles int    `json:"mileage_miles,omitempty" yaml:"mileage_miles"`
	// Particulars that differ from the base van's standard ones.
	Particulars []ParticularValue `json:"particulars,omitempty" yaml:"particulars"`
	// Weighed masses from a weighbridge ticket, in kg; both or neither. With them
	// the day of the ticket (YYYY-MM-DD), how full the fuel tank was (90 where
	// that is not said) and how many people were in the cab.
	WeighedFrontKG     *decimal.Decimal `json:"weighed_front_kg,omitempty" yaml:"weighed_front_kg"`
	WeighedRearKG      *decimal.Decimal `json:"weighed_rear_kg,omitempty" yaml:"weighed_rear_kg"`
	WeighedDay         string           `json:"weighed_day,omitempty" yaml:"weighed_day"`
	WeighedFuelPercent *int             `json:"weighed_fuel_percent,omitempty" yaml:"weighed_fuel_percent"`
	WeighedPeopleCount int              `json:"weighed_people_count,omitempty" yaml:"weighed_people_count"`
	// Plated masses as read off the plate of this van, in kg, each in place of
	// its base van's.
	PlatedKG      *decimal.Decimal `json:"plated_kg,omitempty" yaml:"plated_kg"`
	PlatedFrontKG *decimal.Decimal `json:"plated_front_kg,omitempty" yaml:"plated_front_kg"`
	PlatedRearKG  *decimal.Decimal `json:"plated_rear_kg,omitempty" yaml:"plated_rear_kg"`
	// Fitted is what is done with what the van has. What the base van comes
	// with is kept unless named here.
	Fitted []FittedItem `json:"fitted,omitempty" yaml:"fitted"`
}

// ParticularValue is one particular of the van in question.
type ParticularValue struct {
	Name  string `json:"name" yaml:"name"`
	Value string `json:"value" yaml:"value"`
}

// FittedItem is a feature the van in question has before any work.
type FittedItem struct {
	Feature string `json:"feature" yaml:"feature"`
	Count   int    `json:"count,omitempty" yaml:"count"` // 0 means 1 (or the base van's count)
	Action  Action `json:"action" yaml:"action"`
}

// Action is what is done with a fitted feature.
type Action string

// The actions. Absent says that this van does not have what its base van
// usually comes with.
const (
	Keep    Action = "keep"
	Remove  Action = "remove"
	Replace Action = "replace"
	Absent  Action = "absent"
)

// Choices are what the customer picked, in order: the kind of work first.
type Choices struct {
	Package  string         `json:"package,omitempty" yaml:"package"`
	Features []Choice       `json:"features" yaml:"features"`
	Finishes []FinishChoice `json:"finishes,omitempty" yaml:"finishes"`
	// Additions are work and parts that no feature stands for.
	Additions []Addition `json:"additions,omitempty" yaml:"additions"`
	// Answers are what was said to checks that are not met.
	Answers []CheckAnswer `json:"answers,omitempty" yaml:"answers"`
}

// Choice on one feature: exactly one of Want, Refuse, and with Want of a
// counted feature, Count.
type Choice struct {
	Want   string `json:"want,omitempty" yaml:"want"`
	Refuse string `json:"refuse,omitempty" yaml:"refuse"`
	Count  int    `json:"count,omitempty" yaml:"count"` // with Want: exactly so many
}

// FinishChoice is what was picked for one finish.
type FinishChoice struct {
	Finish string `json:"finish" yaml:"finish"`
	Choice string `json:"choice" yaml:"choice"`
}

// Resolution is what a van and choices come to: the standing of every
// feature, and the specification so far.
type Resolution struct {
	// Said are the choices as the engine took them, in order: particulars of
	// the van, what is fitted, the customer's, the package's, settling's. Indices in
	// Answer's reasons point here.
	Said          []options.Choice
	Answer        options.Answer
	Specification Specification
}

// Specification is the set of features a sheet is made for, with every reason.
type Specification struct {
	Format  string `json:"format"` // SpecificationFormat
	Van     Van    `json:"van"`
	Package string `json:"package,omitempty"`
	// Features that are there, in catalogue order.
	Features []SpecifiedFeature `json:"features"`
	// Removed are fitted features that are taken out.
	Removed []RemovedFeature `json:"removed,omitempty"`
	// Finishes that apply: chosen, or open with Choice empty.
	Finishes []SpecifiedFinish `json:"finishes,omitempty"`
	// PackageChanges are the package's items not taken as they are.
	PackageChanges []PackageChange `json:"package_changes,omitempty"`
	// Additions are work and parts that no feature stands for, as asked.
	Additions []Addition `json:"additions,omitempty"`
	// Answers are what was said to checks that are not met, as asked.
	Answers []CheckAnswer `json:"answers,omitempty"`
	// Allowed: every choice could be taken. Settled: nothing is left to
	// settle, so that the specification as it stands keeps every rule.
	Allowed bool `json:"allowed"`
	Settled bool `json:"settled"`
}

// SpecificationFormat names the shape of a Specification.
const SpecificationFormat = "wainscot-specification/1"

// SpecifiedFeature is one feature that is there.
type SpecifiedFeature struct {
	Code     string `json:"code"`
	Name     string `json:"name"`
	Standing string `json:"standing"`          // chosen, comes with it, already there
	Settled  bool   `json:"settled,omitempty"` // added by settling
	// InPackage: an item of the package, or brought by its items alone.
	InPackage bool   `json:"in_package,omitempty"`
	Count     int    `json:"count"` // all that are there
	Fit       int    `json:"fit"`   // of which this job fits
	Why       string `json:"why"`   // one sentence or two
}

// RemovedFeature is a fitted feature that is taken out.
type RemovedFeature struct {
	Code  string `json:"code"`
	Name  string `json:"name"`
	Count int    `json:"count"`
	// Replaced: taken out because a new one goes in.
	Replaced bool `json:"replaced,omitempty"`
}

// SpecifiedFinish is a finish that applies.
type SpecifiedFinish struct {
	Finish    string `json:"finish"`
	Choice    string `json:"choice,omitempty"`
	InPackage bool   `json:"in_package,omitempty"`
	Settled   bool   `json:"settled,omitempty"`
}

// PackageChange is a package item left out, swapped for another of its group,
// or not needed because the van has it and keeps it.
type PackageChange struct {
	Item         string `json:"item"`
	Count        int    `json:"count"`              // how many of it are left out
	SwapFor      string `json:"swap_for,omitempty"` // feature taken in its place
	AlreadyThere bool   `json:"already_there,omitempty"`
}

// Settle says whether Resolve finishes what is open.
type Settle string

// The ways of settling.
const (
	SettleNothing    Settle = ""
	SettleByDefaults Settle = "by defaults"
)
